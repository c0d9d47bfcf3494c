//! A ranking in words: tie groups instead of a false order, the reasons of those set aside, what each male costs.

use super::super::text::{Page, TextLine, Tone};
use super::{aside_words, both, cautions, percent, sexes, yardstick};
use crate::selection::ranking::{FirstPass, MaleCost, Ranked, Ranking};
use crate::selection::worth::Yardstick;

/// A ranking.
pub fn ranking(
    tank: &str,
    found: &Ranking,
    stick: &Yardstick,
    wanted: [usize; 2],
) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Heading,
        format!("Tank {tank}: {} are wanted", both(wanted)),
    );
    yardstick(stick, &mut out);
    for (sex, wanted) in wanted.into_iter().enumerate() {
        out.blank();
        one_sex(sex, found, wanted, &mut out);
    }
    males(&found.further_males, &mut out);
    aside(found, &mut out);
    cautions(&mut out);
    out.lines
}

fn one_sex(sex: usize, found: &Ranking, wanted: usize, out: &mut Page) {
    let all = &found.sexes[sex];
    let kept = all.iter().filter(|one| one.keep).count();
    let mut title = sexes(sex).to_string();
    if let Some(first) = title.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    out.line(
        Tone::Heading,
        format!("{title}: keep {kept} of {}", all.len()),
    );
    if kept < wanted {
        let less = wanted - kept;
        out.wrapped(
            Tone::Alarm,
            "  ",
            &format!("  {less} fewer than wanted: all are kept."),
        );
    }
    if let Some(slope) = found.by_length[sex] {
        out.wrapped(
            Tone::Faint,
            "  ",
            &format!("  Corrected for length: {slope:+.2} for each mm is size, not colour."),
        );
    }
    let last = all.last().map_or(0, |one| one.group);
    for group in 1..=last {
        let members: Vec<&Ranked> = all.iter().filter(|one| one.group == group).collect();
        let keep = members.iter().filter(|one| one.keep).count();
        let what = match (keep, members.len()) {
            (0, _) => "move out".to_string(),
            (keep, all) if keep == all => "keep".into(),
            (keep, all) => {
                format!("keep any {keep} of these {all}, they can't be told apart: choose by eye")
            }
        };
        let tone = if keep > 0 { Tone::Plain } else { Tone::Faint };
        out.wrapped(
            tone,
            "     ",
            &format!("  {group}. {what}: {}", names(&members)),
        );
    }
}

/// `scoop 210: no. 3 (+1.2), 5 (+1.0)`.
fn names(members: &[&Ranked]) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut scoop = None;
    for one in members {
        let prefix = if scoop == Some(one.scoop) {
            String::new()
        } else {
            format!("scoop {} no. ", one.scoop)
        };
        scoop = Some(one.scoop);
        words.push(format!("{prefix}{} ({:+.1})", one.no, one.worth.value));
    }
    words.join(", ")
}

fn males(costs: &[MaleCost], out: &mut Page) {
    if costs.is_empty() {
        return;
    }
    out.blank();
    out.line(Tone::Heading, "What each male moved out would have brought");
    for cost in costs {
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!(
                "  with {} males: inbreeding rises by {} a generation (like {:.0} breeders of equal share), the kept males are \
                 {:.2} poorer on average",
                cost.males,
                percent(cost.rate),
                cost.effective_size,
                cost.worth_lost
            ),
        );
    }
}

fn aside(found: &Ranking, out: &mut Page) {
    if !found.unsexed.is_empty() {
        out.blank();
        let list: Vec<String> = found
            .unsexed
            .iter()
            .map(|(scoop, no)| format!("scoop {scoop} no. {no}"))
            .collect();
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!(
                "Sex not seen, held back, not moved out: {}",
                list.join(", ")
            ),
        );
    }
    for (scoop, no, why) in &found.aside {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!("Set aside: scoop {scoop} no. {no}: {}", aside_words(why)),
        );
    }
}

/// Word of a first pass.
pub fn first_pass_word(pass: FirstPass) -> &'static str {
    match pass {
        FirstPass::Off => "off",
        FirstPass::Keep => "keep",
        FirstPass::TooYoungToSay => "too_young_to_say",
    }
}

/// The first pass over a young cohort: scoop, number, call.
pub fn young(tank: &str, calls: &[(i64, u32, FirstPass)]) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Heading,
        format!("Tank {tank}, first pass over {} young animals", calls.len()),
    );
    for (pass, what) in [
        (
            FirstPass::Off,
            "OFF, not the line's colour: out of the line, look twice before",
        ),
        (FirstPass::Keep, "KEEP, grows on"),
        (
            FirstPass::TooYoungToSay,
            "TOO YOUNG TO SAY: back, look again in two weeks",
        ),
    ] {
        let these: Vec<&(i64, u32, FirstPass)> =
            calls.iter().filter(|call| call.2 == pass).collect();
        if these.is_empty() {
            continue;
        }
        let mut words: Vec<String> = Vec::new();
        let mut scoop = None;
        for (number, no, _) in &these {
            let prefix = if scoop == Some(number) {
                String::new()
            } else {
                format!("scoop {number} no. ")
            };
            scoop = Some(number);
            words.push(format!("{prefix}{no}"));
        }
        let tone = if pass == FirstPass::Off {
            Tone::Alarm
        } else {
            Tone::Plain
        };
        out.wrapped(
            tone,
            "    ",
            &format!("  {} {what}: {}", these.len(), words.join(", ")),
        );
    }
    out.wrapped(
        Tone::Faint,
        "",
        "Paleness never counts against a young animal: colour fills in with the moults. No rung before they are grown.",
    );
    cautions(&mut out);
    out.lines
}
