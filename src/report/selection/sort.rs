//! A sorting, cup by cup, in words.

use super::super::text::{Page, TextLine, Tone};
use super::again::{elsewhere, two_photos};
use super::shift::shifted;
use super::{aside_words, both, cautions, sexes, yardstick};
use crate::measures::Sex;
use crate::selection::sorting::again::TwoPhotos;
use crate::selection::sorting::find::{Find, Mark, Third};
use crate::selection::sorting::wells::shared;
use crate::selection::sorting::{Cup, Decision, Sorting, TankNumber, Verdict, side};
use crate::selection::worth::Yardstick;

/// Below so many earlier animals of a sex the first cups are judged by little (house rule; with 40 the simulated sortings in
/// the tests hold what they promise).
const FEW: usize = 40;

/// A cup that was decided, with what is needed to tell it.
#[derive(Debug)]
pub struct ToldCup<'a> {
    /// Code of the tank.
    pub tank: &'a str,
    /// Number of the cup.
    pub no: usize,
    /// The cup.
    pub cup: &'a Cup,
    /// What was decided.
    pub decision: &'a Decision,
    /// How each animal is found again.
    pub finds: &'a [Find],
    /// Wells by animal, where a tray is used.
    pub wells: &'a [Option<String>],
    /// The sorting after the cup.
    pub after: &'a Sorting,
    /// For another photo of the same animals: how it goes together with the one before.
    pub photos: Option<&'a TwoPhotos>,
}

/// Word of a verdict.
pub fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Keep => "keep",
        Verdict::Hold(_) => "hold",
        Verdict::MoveOut => "move_out",
        Verdict::Back => "back",
    }
}

/// What to do, as it stands in the table and on the picture.
pub fn order(verdict: Verdict, sex: Sex, look_twice: bool) -> String {
    let place = |place: u32| format!("TUB {}{place}", if sex == Sex::Male { "M" } else { "F" });
    let text = match verdict {
        Verdict::Keep => "KEEP".to_string(),
        Verdict::Hold(at) => place(at),
        Verdict::MoveOut => "MOVE OUT".into(),
        Verdict::Back => "BACK".into(),
    };
    if look_twice {
        format!("{text} ?")
    } else {
        text
    }
}

/// What a sorting begins with.
pub fn begun(tank: &str, sorting: &Sorting, stick: &Yardstick) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(
        Tone::Heading,
        "",
        &format!(
            "Sorting of tank {tank}: {} are wanted",
            both(sorting.setup.wanted)
        ),
    );
    yardstick(stick, &mut out);
    let learned = [0, 1].map(|sex| sorting.setup.earlier[sex].len());
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "Learned from {} of earlier scoops of this generation.",
            both(learned)
        ),
    );
    for (sex, count) in learned
        .into_iter()
        .enumerate()
        .filter(|(_, count)| *count < FEW)
    {
        out.wrapped(
            Tone::Alarm,
            "  ",
            &format!(
                "Few earlier {}: {count}, {FEW} or more are better. The line follows the cups; use a tub (--tub 10), or \
                 file scoops first.",
                sexes(sex)
            ),
        );
    }
    out.wrapped(Tone::Plain, "  ", &number(sorting));
    tub_words(sorting, &mut out);
    out.blank();
    out.wrapped(
        Tone::Plain,
        "",
        &format!("Next: net about six animals, or a tray with one to a well, and photograph at once: catchcup sort cup {tank} PHOTO"),
    );
    out.wrapped(
        Tone::Plain,
        "",
        "Minutes in the cup: 3 are fine, 10 are too many. Own tank water in cup and tub, a lid or net over both, lamps and cables \
         away from the water.",
    );
    cautions(&mut out);
    out.lines
}

fn tub_words(sorting: &Sorting, out: &mut Page) {
    let text = match sorting.setup.places {
        0 => "No holding tub: what is moved out is out. With --tub 10 late cups compete with early ones.".to_string(),
        places => format!(
            "Holding tub: up to {places} of each sex, each in a place of its own (a divided box or a tray with wells), marked \
             F1 to F{places} and M1 to M{places}."
        ),
    };
    out.wrapped(Tone::Plain, "  ", &text);
}

fn number(sorting: &Sorting) -> String {
    match sorting.setup.number {
        TankNumber::Counted(number) => format!("{number} animals in the tank, counted."),
        TankNumber::About(number) => format!(
            "About {number} animals in the tank, a guess: it is estimated anew from each cup. It helps to say the sweeps of the \
             net a cup took (--sweeps 3) and how many you think are left (--left 60)."
        ),
    }
}

/// The answer to a cup.
pub fn cup(told: &ToldCup<'_>) -> Vec<TextLine> {
    let mut out = Page::default();
    let again = if told.photos.is_some() {
        ", photographed again"
    } else {
        ""
    };
    let counts = |of: &dyn Fn(Verdict) -> bool| {
        told.decision
            .animals
            .iter()
            .filter(|judged| of(judged.verdict))
            .count()
    };
    out.line(
        Tone::Heading,
        format!(
            "Tank {}, cup {}{again}: keep {}, tub {}, move out {}, back {}",
            told.tank,
            told.no,
            counts(&|v| v == Verdict::Keep),
            counts(&|v| matches!(v, Verdict::Hold(_))),
            counts(&|v| v == Verdict::MoveOut),
            counts(&|v| v == Verdict::Back)
        ),
    );
    if let Some(photos) = told.photos {
        two_photos(photos, &mut out);
    }
    shifted(told.after, &mut out);
    from_tub(told.decision, &mut out);
    out.blank();
    let wells = told.wells.iter().any(Option::is_some);
    out.line(
        Tone::Faint,
        format!(
            "  no  {:<12} {}which one",
            "do",
            if wells { "well  " } else { "" }
        ),
    );
    for at in by_verdict(told) {
        animal(told, at, wells, &mut out);
    }
    for well in shared(told.wells) {
        out.wrapped(
            Tone::Alarm,
            "  ",
            &format!("Well {well} holds more than one animal: part them, then photograph again with --again."),
        );
    }
    if told.decision.animals.iter().any(|judged| judged.look_twice) {
        out.wrapped(
            Tone::Plain,
            "  ",
            "? = look twice: the reading leaves it open. Photograph the same cup again with --again, or trust your eye.",
        );
    }
    out.blank();
    for words in too_few_words(told.decision, told.after) {
        out.wrapped(Tone::Plain, "  ", &words);
    }
    tally(told.after, &mut out);
    what_next(told, &mut out);
    out.lines
}

/// Those to keep first, then the tub, those to move out, the rest.
fn by_verdict(told: &ToldCup<'_>) -> Vec<usize> {
    let rank = |verdict: Verdict| match verdict {
        Verdict::Keep => 0,
        Verdict::Hold(place) => place,
        Verdict::MoveOut => 100,
        Verdict::Back => 101,
    };
    let mut order: Vec<usize> = (0..told.decision.animals.len()).collect();
    order.sort_by_key(|at| (rank(told.decision.animals[*at].verdict), *at));
    order
}

fn animal(told: &ToldCup<'_>, at: usize, wells: bool, out: &mut Page) {
    let judged = &told.decision.animals[at];
    let well = match told.wells.get(at).and_then(Option::as_ref) {
        Some(well) => format!("{well:<5} "),
        None if wells => "      ".into(),
        None => String::new(),
    };
    let mut which = told
        .finds
        .iter()
        .find(|find| find.no == judged.no)
        .map_or(String::new(), |find| find_words(find, judged.sex));
    if let Some(before) = told.cup.animals.get(at).and_then(|a| a.before) {
        which = elsewhere(before, judged.done, &which);
    }
    if let Some(Err(why)) = told.cup.animals.get(at).map(|a| &a.worth) {
        which += &format!("; {}", aside_words(why));
    } else if judged.sex == Sex::Unsure {
        which += "; sex not seen, held back";
    }
    let order = order(judged.verdict, judged.sex, judged.look_twice);
    let fixed = format!("{:>4}  {order:<12} {well}", judged.no);
    let tone = match judged.verdict {
        Verdict::Keep | Verdict::Hold(_) => Tone::Heading,
        _ => Tone::Plain,
    };
    out.row(tone, &fixed, &which);
}

/// How an animal is found again: `largest, female, clear tail, upper left`.
pub fn find_words(find: &Find, sex: Sex) -> String {
    let (rank, of) = find.size;
    let mut words = vec![size_words(rank, of)];
    words.extend(match sex {
        Sex::Female => Some("female".to_string()),
        Sex::Male => Some("male".to_string()),
        Sex::Unsure => None,
    });
    words.extend(find.mark.map(|mark| mark_words(mark).to_string()));
    words.extend(
        find.place
            .map(|place| place_words(place.down, place.right).to_string()),
    );
    words.extend(find.beside.map(|other| format!("close to no. {other}")));
    words.join(", ")
}

fn size_words(rank: usize, of: usize) -> String {
    let from_top = |rank: usize| match rank {
        1 => "largest".to_string(),
        2 => "second largest".into(),
        3 => "third largest".into(),
        n => format!("{n}th largest"),
    };
    match (rank, of + 1 - rank) {
        (1, _) if of == 1 => "the only one".into(),
        (_, 1) => "smallest".into(),
        (rank, 2) if rank > 2 => "second smallest".into(),
        (rank, _) => from_top(rank),
    }
}

fn mark_words(mark: Mark) -> &'static str {
    match mark {
        Mark::Eggs => "with eggs",
        Mark::Saddle => "saddle",
        Mark::Clear(Third::Head) => "clear head",
        Mark::Clear(Third::Middle) => "clear middle",
        Mark::Clear(Third::Tail) => "clear tail",
        Mark::Palest => "palest",
        Mark::MostColoured => "most coloured",
    }
}

fn place_words(down: i8, right: i8) -> &'static str {
    match (down, right) {
        (-1, -1) => "upper left",
        (-1, 0) => "top",
        (-1, _) => "upper right",
        (0, -1) => "left",
        (0, 0) => "in the middle",
        (0, _) => "right",
        (_, -1) => "lower left",
        (_, 0) => "bottom",
        _ => "lower right",
    }
}

pub(super) fn from_tub(decision: &Decision, out: &mut Page) {
    let list = |keep: bool| -> Vec<String> {
        let those = decision.from_tub.iter().filter(|left| left.keep == keep);
        those
            .map(|left| format!("{}{}", ["F", "M"][left.sex], left.place))
            .collect()
    };
    for (places, what) in [
        (list(true), "into the breeding group"),
        (list(false), "out of the breeding group"),
    ] {
        if !places.is_empty() {
            out.wrapped(
                Tone::Heading,
                "  ",
                &format!("From the tub {what} first: {}", places.join(", ")),
            );
        }
    }
}

pub(super) fn tally(sorting: &Sorting, out: &mut Page) {
    let one = |sex: usize| {
        let tub = sorting.tub[sex].len();
        let held = if tub > 0 {
            format!(" + {tub} in the tub")
        } else {
            String::new()
        };
        format!(
            "{} {} of {} kept{held}",
            sexes(sex),
            sorting.counts[sex].kept,
            sorting.setup.wanted[sex]
        )
    };
    let moved = sorting.counts[0].moved_out + sorting.counts[1].moved_out;
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "So far: {}; {}; {moved} moved out, {} to go back.",
            one(0),
            one(1),
            sorting.back
        ),
    );
    let left = sorting.left();
    if left.expected >= 1.0 {
        let about = match sorting.setup.number {
            TankNumber::Counted(_) => format!("{:.0} left in the tank.", left.expected),
            TankNumber::About(_) => format!(
                "About {:.0} left in the tank ({:.0} to {:.0}).",
                left.expected,
                (left.expected - 2.0 * left.uncertainty).max(0.0),
                left.expected + 2.0 * left.uncertainty
            ),
        };
        out.wrapped(Tone::Plain, "  ", &about);
    }
}

/// That of one sex too few are known to lay a line, where the cup holds one that was kept or held for that.
pub fn too_few_words(decision: &Decision, after: &Sorting) -> Vec<String> {
    let spreads = after.spreads();
    let is_here = |sex: usize| {
        let decided = |v: Verdict| matches!(v, Verdict::Keep | Verdict::Hold(_));
        let mut all = decision.animals.iter();
        all.any(|judged| side(judged.sex) == Some(sex) && decided(judged.verdict))
    };
    let words = |sex: usize| {
        let end = match after.setup.places {
            0 => "so this cup's part of those wanted is kept; a tub (--tub 10) would let them wait",
            _ => "so they wait in the tub while it has room",
        };
        format!(
            "Too few {} are known yet for a line (three are needed), {end}.",
            sexes(sex)
        )
    };
    let open =
        |sex: &usize| spreads[*sex].is_none() && is_here(*sex) && after.left().expected >= 1.0;
    (0..2).filter(open).map(words).collect()
}

fn what_next(told: &ToldCup<'_>, out: &mut Page) {
    let after = told.after;
    let left = after.left().expected;
    for sex in 0..2 {
        let here = after.tub[sex].len();
        let wanted = after.wanted(sex);
        let expected = after.left_of(sex).expected;
        if left >= 1.0 && wanted > here && ((wanted - here) as f64) > expected {
            out.wrapped(
                Tone::Alarm,
                "  ",
                &format!(
                    "Fewer {} are expected to come than are still wanted: all of them are kept.",
                    sexes(sex)
                ),
            );
        }
    }
    let next = if left < 1.0 {
        format!(
            "Next: the tank is empty. End the sorting: catchcup sort finish {}",
            told.tank
        )
    } else {
        format!(
            "Next: catchcup sort cup {0} PHOTO; when the tank is empty: catchcup sort finish {0}",
            told.tank
        )
    };
    out.wrapped(Tone::Plain, "  ", &next);
}

/// Where a sorting stands.
pub fn standing(tank: &str, sorting: &Sorting, stick: &Yardstick) -> Vec<TextLine> {
    let mut out = Page::default();
    out.line(
        Tone::Heading,
        format!("Sorting of tank {tank} after {} cups", sorting.cups),
    );
    yardstick(stick, &mut out);
    tally(sorting, &mut out);
    for sex in 0..2 {
        let mut places: Vec<String> = sorting.tub[sex]
            .iter()
            .map(|held| {
                format!(
                    "{}{} (cup {}, no. {})",
                    ["F", "M"][sex],
                    held.place,
                    held.cup,
                    held.no
                )
            })
            .collect();
        places.sort();
        if !places.is_empty() {
            out.wrapped(
                Tone::Plain,
                "    ",
                &format!("  In the tub: {}", places.join(", ")),
            );
        }
    }
    shifted(sorting, &mut out);
    out.lines
}
