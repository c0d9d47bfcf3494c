//! Tanks: the list and the page of one.

use jiff::civil::Date;

use super::{ago, generation, hold, moment, note, row};
use crate::book::lines::generation_name;
use crate::book::{Note, TankState};
use crate::report::text::{Page, TextLine, Tone};
use crate::report::words;
use crate::scoop::PastScoop;

/// Notes and scoops shown on a tank's page.
const SHOWN: usize = 5;

/// All tanks, one line each, with what holds them back.
pub fn list(tanks: &[TankState], today: Date) -> Vec<TextLine> {
    let mut out = Page::default();
    if tanks.is_empty() {
        out.line(
            Tone::Faint,
            "no tanks yet; add one: catchcup tank add A1 --line red",
        );
        return out.lines;
    }
    let width = tanks
        .iter()
        .map(|t| t.tank.code.chars().count())
        .max()
        .unwrap_or(0)
        .max(4);
    out.line(
        Tone::Heading,
        format!(
            "{:<width$}  {:<12}  {:<8}  {:>6}  last scoop",
            "tank", "line", "gen.", "scoops"
        ),
    );
    for state in tanks {
        out.line(
            Tone::Plain,
            format!(
                "{:<width$}  {:<12}  {:<8}  {:>6}  {}",
                state.tank.code,
                state.tank.line.as_deref().unwrap_or("-"),
                state
                    .generation
                    .as_ref()
                    .map_or("-".into(), |g| generation_name(g.number)),
                state.scoops,
                state
                    .last_scoop
                    .as_ref()
                    .map_or("never".into(), |s| ago(s.at.date(), today)),
            ),
        );
        holds(state, &mut out);
    }
    out.lines
}

/// Whatever is to be told wherever a tank is shown.
pub fn holds(state: &TankState, out: &mut Page) {
    let indent = "    ";
    if let Some(on) = state.tank.retired {
        out.wrapped(Tone::Faint, indent, &format!("{indent}retired on {on}"));
    }
    for entry in &state.holds.0 {
        let tone = if entry.stops_selling() {
            Tone::Alarm
        } else {
            Tone::Plain
        };
        let sign = if entry.stops_selling() {
            "HOLD"
        } else {
            "warning"
        };
        out.wrapped(tone, indent, &format!("{indent}{sign}: {}", hold(entry)));
    }
}

/// The page of one tank; `scoops` earliest first, `notes` latest first.
pub fn page(state: &TankState, scoops: &[PastScoop], notes: &[Note], today: Date) -> Vec<TextLine> {
    let mut out = Page::default();
    let tank = &state.tank;
    let line = tank.line.as_deref().map_or("no line".into(), |line| {
        format!(
            "line {line}, ladder {}",
            tank.ladder.as_deref().unwrap_or("none")
        )
    });
    out.wrapped(Tone::Heading, "", &format!("Tank {}: {line}", tank.code));
    holds(state, &mut out);
    let mut facts = vec![format!("in use since {}", tank.since)];
    facts.extend((!tank.place.is_empty()).then(|| tank.place.clone()));
    facts.extend(tank.litres.map(|litres| format!("{litres} litres")));
    out.wrapped(Tone::Plain, "  ", &facts.join(", "));
    if let Some(present) = &state.generation {
        out.wrapped(Tone::Plain, "  ", &generation(present));
    }
    if !state.conditions.is_empty() {
        let all = state
            .conditions
            .iter()
            .map(|(kind, value)| format!("{} {value}", kind.word()));
        out.wrapped(Tone::Plain, "  ", &all.collect::<Vec<_>>().join(", "));
    }
    match &state.last_off_type {
        Some(last) => out.wrapped(
            Tone::Plain,
            "  ",
            &format!(
                "off-type last seen {} (scoop {}, {})",
                ago(last.at.date(), today),
                last.number,
                last.at.date()
            ),
        ),
        None if state.scoops > 0 => out.line(Tone::Plain, "off-type never seen"),
        None => {}
    }
    last_scoops(state, scoops, &mut out);
    if !notes.is_empty() {
        out.blank();
        out.line(Tone::Heading, "Notes, latest first");
        for entry in notes.iter().take(SHOWN) {
            row(&mut out, Tone::Plain, &entry.day.to_string(), &note(entry));
        }
    }
    out.lines
}

fn last_scoops(state: &TankState, scoops: &[PastScoop], out: &mut Page) {
    out.blank();
    if scoops.is_empty() {
        let code = &state.tank.code;
        out.line(
            Tone::Faint,
            format!("no scoops yet: catchcup scoop add {code} PHOTO"),
        );
        return;
    }
    out.line(Tone::Heading, format!("Last scoops of {}", state.scoops));
    out.lines
        .extend(scoop_table(&scoops[scoops.len().saturating_sub(SHOWN)..]));
}

/// Scoops, a line each, latest first.
pub fn scoop_table(scoops: &[PastScoop]) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Heading,
        "   no  tank    date and time     gen.      n  cover %  rungs",
    );
    for scoop in scoops.iter().rev() {
        scoop_line(scoop, &mut out);
    }
    out.lines
}

fn scoop_line(scoop: &PastScoop, out: &mut Page) {
    let fixed = format!(
        "{:>5}  {:<6}  {}  {:<8} {:>2}  {:>7} ",
        scoop.number,
        scoop.tank,
        moment(scoop.at),
        scoop.generation.map_or("-".into(), generation_name),
        scoop.animals.len(),
        scoop
            .mean_coverage()
            .map_or("-".into(), |mean| format!("{:.0}", 100.0 * mean)),
    );
    let mut rest = rungs(scoop);
    if let Some(first) = scoop.second_of {
        rest += &format!(" (again of {first})");
    }
    if scoop.kept_apart {
        rest += " (kept apart)";
    }
    row(out, Tone::Plain, &fixed, &rest);
}

/// `G5 3, G4 2, off-type 1`.
fn rungs(scoop: &PastScoop) -> String {
    let counts = scoop.rung_counts().into_iter();
    let mut parts: Vec<String> = counts.map(|(rung, n)| format!("{rung} {n}")).collect();
    let off = scoop.off_types();
    if off > 0 {
        parts.push(format!("off-type {off}"));
    }
    parts.join(", ")
}

/// One scoop with its animals.
pub fn scoop_page(scoop: &PastScoop) -> Vec<TextLine> {
    let mut out = Page::default();
    let line = scoop.line.as_deref().unwrap_or("no line");
    let generation = scoop
        .generation
        .map_or(String::new(), |n| format!(", {}", generation_name(n)));
    out.wrapped(
        Tone::Heading,
        "",
        &format!(
            "Scoop {}: tank {}, {line}{generation}, {} by {}",
            scoop.number,
            scoop.tank,
            moment(scoop.at),
            scoop.who
        ),
    );
    out.wrapped(Tone::Plain, "  ", &standing(scoop));
    if !scoop.conditions.is_empty() {
        let all = scoop
            .conditions
            .iter()
            .map(|(kind, value)| format!("{} {value}", kind.word()));
        out.wrapped(Tone::Plain, "  ", &all.collect::<Vec<_>>().join(", "));
    }
    if !scoop.remark.is_empty() {
        out.wrapped(Tone::Plain, "  ", &scoop.remark);
    }
    out.blank();
    out.line(
        Tone::Heading,
        " no  rung      cover %     opaque %    mm    sex     remarks",
    );
    for animal in &scoop.animals {
        animal_line(animal, &mut out);
    }
    out.lines
}

fn standing(scoop: &PastScoop) -> String {
    let mut parts = vec![match scoop.second_of {
        Some(first) => format!("another photo of scoop {first}: not counted"),
        None if scoop.kept_apart => "animals kept apart".into(),
        None => "animals put back".into(),
    }];
    parts.extend(
        scoop
            .origin
            .photo_file
            .as_ref()
            .map(|file| format!("photo {file}")),
    );
    parts.extend(
        scoop
            .origin
            .netted_seconds
            .map(|s| format!("{} min {:02} s in the cup", s / 60, s % 60)),
    );
    parts.extend(scoop.origin.doubts.iter().map(|code| words::reason(code)));
    parts.join("; ")
}

fn animal_line(animal: &crate::scoop::KeptAnimal, out: &mut Page) {
    let share = |m: Option<crate::units::Measured>| {
        m.map_or("-".into(), |m| {
            format!(
                "{:.0} +-{:.0}",
                100.0 * m.value,
                (100.0 * m.uncertainty).ceil()
            )
        })
    };
    let rung = match (animal.between, animal.rung) {
        (Some((low, high)), _) => format!("{low}/{high}"),
        (None, Some(rung)) => rung.to_string(),
        (None, None) => animal
            .off_ladder
            .as_deref()
            .unwrap_or("-")
            .replace('_', "-"),
    };
    let sex = match animal.sex {
        crate::measures::Sex::Female => "f",
        crate::measures::Sex::Male => "m",
        crate::measures::Sex::Unsure => "",
    };
    let mut remarks: Vec<String> = animal
        .withheld
        .iter()
        .map(|(m, code)| format!("{m}: {}", words::reason(code)))
        .collect();
    remarks.retain(|remark| !remark.starts_with("legs") && !remark.starts_with("stripe"));
    remarks.extend(animal.flags.iter().map(|flag| flag.replace('_', "-")));
    let fixed = format!(
        "{:>3}  {rung:<8}  {:<10}  {:<10}  {:<4}  {sex:<6} ",
        animal.no,
        share(animal.coverage),
        share(animal.opacity),
        animal
            .length_mm
            .map_or("-".into(), |l| format!("{:.0}", l.value)),
    );
    row(out, Tone::Plain, &fixed, &remarks.join("; "));
}
