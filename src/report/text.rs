//! The answer for a terminal, 80 columns wide, the most pressing first.

use super::{table, words};
use crate::doubt::shown;
use crate::ladder::{Ladder, OffLadder, Rung};
use crate::scoop::check::Answer;
use crate::scoop::{Advice, GradedAnimal, Scoop, advise};

pub use super::page::{Page, TextLine, Tone, WIDTH, wrap, wrap_uncut};

/// What the user wants to see.
#[derive(Debug, Clone, Copy)]
pub struct TextOptions {
    /// The rung from which the house sells.
    pub sale_rung: Rung,
    /// All doubts and a sentence for each animal.
    pub all: bool,
}

/// Doubts shown without `--all`.
const DOUBTS_SHOWN: usize = 2;

/// The answer for one photo.
pub fn render(scoop: &Scoop, options: &TextOptions) -> Vec<TextLine> {
    let mut out = Page {
        lines: put_back(scoop),
    };
    title(scoop, &mut out);
    photo(scoop, &mut out);
    off_types(scoop, &mut out);
    if let Some(ladder) = scoop.ladder.as_ref().filter(|_| !scoop.animals.is_empty()) {
        out.blank();
        standings(scoop, ladder, &mut out);
    }
    if scoop.mix.judged() > 0 {
        out.blank();
        out.wrapped(Tone::Heading, "  ", &share_words(scoop, options.sale_rung));
    }
    next_action(scoop, options.sale_rung, &mut out);
    if !scoop.animals.is_empty() {
        out.blank();
        table::animals(scoop, &mut out);
    }
    if options.all {
        explanations(scoop, &mut out);
    }
    turned_away(scoop, &mut out);
    doubts(scoop, options.all, &mut out);
    out.lines
}

/// What comes before everything else: back with animals that were in the cup longer than the house ever allows.
pub fn put_back(scoop: &Scoop) -> Vec<TextLine> {
    let mut out = Page::default();
    if let Some(words) = put_back_words(scoop) {
        out.wrapped(Tone::Alarm, "  ", &words);
    }
    out.lines
}

/// The same as a sentence; `None` within the limit, and where the minutes are unknown.
pub fn put_back_words(scoop: &Scoop) -> Option<String> {
    let note = scoop.past_the_stop()?;
    Some(format!(
        "PUT THE ANIMALS BACK NOW: {}. Net again another day and photograph at once.",
        note.message
    ))
}

/// What comes before the orders of a sorted cup: animals too long in the cup, and the photo's verdict.
pub fn before_orders(scoop: &Scoop) -> Vec<TextLine> {
    let mut out = Page {
        lines: put_back(scoop),
    };
    photo(scoop, &mut out);
    out.lines
}

/// Cautions that belong under every answer, once a run; with `minutes_unknown` also how to say the minutes in the cup.
pub fn closing(minutes_unknown: bool) -> Vec<TextLine> {
    let mut out = Page::default();
    if minutes_unknown {
        out.wrapped(
            Tone::Faint,
            "",
            "Minutes in the cup: not known. Say when you netted: --netted 14:05, or --netted 1m40s.",
        );
    }
    out.wrapped(
        Tone::Faint,
        "",
        "Put the shrimp back within minutes. A colour grade is no health certificate.",
    );
    out.lines
}

/// An error about a photo, with its cure.
pub fn error_lines(file: &str, note: &crate::doubt::Note) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(
        Tone::Alarm,
        "",
        &format!("{}: not graded: {}", shorten(file, 40), note.message),
    );
    out.wrapped(Tone::Plain, "  ", &format!("  Cure: {}", note.hint));
    out.lines
}

/// `name` with its middle left out where it is longer than `longest` characters; control characters become `?`.
pub fn shorten(name: &str, longest: usize) -> String {
    let letters: Vec<char> = name
        .chars()
        .map(|c| if c.is_control() { '?' } else { c })
        .collect();
    if letters.len() <= longest {
        return letters.into_iter().collect();
    }
    let (front, back) = ((longest - 2).div_ceil(2), (longest - 2) / 2);
    let start: String = letters[..front].iter().collect();
    let end: String = letters[letters.len() - back..].iter().collect();
    format!("{start}..{end}")
}

fn title(scoop: &Scoop, out: &mut Page) {
    let mut parts = vec![shorten(&shown(scoop.photo.file.clone()), 36)];
    if let Some(ladder) = &scoop.ladder {
        let guessed = if scoop.line_guessed { " (guessed)" } else { "" };
        parts.push(format!("line: {}{guessed}", ladder.title));
    }
    if let Some(seconds) = scoop.in_cup.seconds {
        parts.push(format!(
            "{}:{:02} min in the cup",
            seconds / 60,
            seconds % 60
        ));
    }
    out.wrapped(Tone::Heading, "  ", &parts.join(", "));
}

fn photo(scoop: &Scoop, out: &mut Page) {
    for note in &scoop.withheld {
        out.wrapped(
            Tone::Alarm,
            "  ",
            &format!("Photo: shoot again: {}", note.message),
        );
        out.wrapped(Tone::Plain, "  ", &format!("  Cure: {}", note.hint));
    }
    if !scoop.withheld.is_empty() {
        return;
    }
    let check = &scoop.check;
    let Some(first) = check.reasons.first() else {
        out.line(Tone::Plain, "Photo: good");
        return;
    };
    let (tone, answer) = match check.answer {
        Answer::ShootAgain => (Tone::Alarm, "shoot again, these numbers can't be trusted"),
        Answer::Usable | Answer::Good => (Tone::Plain, "usable"),
    };
    out.wrapped(
        tone,
        "  ",
        &format!("Photo: {answer}: {}", first.note.message),
    );
    out.wrapped(Tone::Plain, "  ", &format!("  Cure: {}", first.note.hint));
    let rest: Vec<String> = check.reasons[1..]
        .iter()
        .map(|r| words::reason(r.note.code))
        .collect();
    if !rest.is_empty() {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!("  Also: {}", words::join(&rest)),
        );
    }
}

fn off_types(scoop: &Scoop, out: &mut Page) {
    for animal in &scoop.animals {
        if let Some(OffLadder::OffType(reasons)) = &animal.placing.off {
            let why = words::off_type_sentence(reasons);
            out.wrapped(
                Tone::Alarm,
                "  ",
                &format!("OFF-TYPE: animal {}: {why}", animal.measures.no),
            );
        }
    }
}

fn standings(scoop: &Scoop, ladder: &Ladder, out: &mut Page) {
    out.line(Tone::Heading, format!("{:<36}animals", "Ladder"));
    for rung in Rung::all().rev() {
        let sure = pick(scoop, |a| {
            a.placing.rung == Some(rung) && a.placing.between.is_none()
        });
        step(&words::rung(rung), ladder.label(rung), &sure, out);
        for low in Rung::all().rev().filter(|low| *low < rung) {
            let open = pick(scoop, |a| a.placing.between == Some((low, rung)));
            if !open.is_empty() {
                step(&format!("  {low}/{rung}"), "too close to call", &open, out);
            }
        }
    }
    for (reason, label) in OFF_LADDER {
        let off = pick(scoop, |a| {
            a.placing.off.as_ref().is_some_and(|o| o.word() == reason)
        });
        if !off.is_empty() {
            step("off", label, &off, out);
        }
    }
}

/// Reasons to stand off the ladder, in the order shown, with their words.
const OFF_LADDER: [(&str, &str); 5] = [
    ("off_type", "off-type"),
    ("milky", "milky: look at it"),
    ("withheld", "can't be read"),
    ("juvenile", "juvenile"),
    ("cut", "cut off"),
];

fn step(rung: &str, label: &str, numbers: &[u32], out: &mut Page) {
    let numbers: Vec<String> = numbers.iter().map(u32::to_string).collect();
    let text = format!("  {rung:<9} {label:<24}{}", numbers.join(" "));
    out.wrapped_verbatim(&text, 36);
}

impl Page {
    /// Adds `text`, whose first `column` characters are kept as they are; what follows is broken at spaces below them.
    fn wrapped_verbatim(&mut self, text: &str, column: usize) {
        let head: String = text.chars().take(column).collect();
        let rest: String = text.chars().skip(column).collect();
        let mut line = head;
        for word in rest.split_whitespace() {
            if line.chars().count() + word.chars().count() > WIDTH {
                self.line(
                    Tone::Plain,
                    std::mem::replace(&mut line, " ".repeat(column)),
                );
            }
            line.push_str(word);
            line.push(' ');
        }
        self.line(Tone::Plain, line);
    }
}

fn pick(scoop: &Scoop, which: impl Fn(&GradedAnimal) -> bool) -> Vec<u32> {
    scoop
        .animals
        .iter()
        .filter(|animal| which(animal))
        .map(|animal| animal.measures.no)
        .collect()
}

/// How many animals stand at `rung` or better, and the range for the whole tank.
pub fn share_words(scoop: &Scoop, rung: Rung) -> String {
    let seen = scoop.mix.at_or_above(rung);
    let undecided = if seen.undecided > 0 {
        format!(", {} undecided", seen.undecided)
    } else {
        String::new()
    };
    format!(
        "{rung} or better: {} sure{undecided}, of {}; whole tank {:.0} to {:.0} % (95 % range)",
        seen.sure,
        scoop.mix.judged(),
        100.0 * seen.low,
        100.0 * seen.high
    )
}

fn next_action(scoop: &Scoop, sale_rung: Rung, out: &mut Page) {
    let text = next_action_words(scoop, sale_rung);
    out.wrapped(Tone::Heading, "  ", &format!("Next: {text}"));
}

/// The one thing to do next, without its full stop.
pub fn next_action_words(scoop: &Scoop, sale_rung: Rung) -> String {
    match advise(scoop, sale_rung) {
        Advice::Retake(note) => format!("shoot again: {}", note.hint),
        Advice::PutBack => "put the animals back into their tank now".to_string(),
        Advice::NoAnimals => "no animal was found: nothing to grade".to_string(),
        Advice::LookAtOffTypes(numbers) => {
            format!(
                "look at {} before this tank is sold or bred from",
                words::animals(&numbers)
            )
        }
        Advice::CheckLine { off_type, judged } => {
            format!(
                "{off_type} of {judged} animals are off-type: is the line right? else look at each"
            )
        }
        Advice::NothingPlaced => {
            "no animal could be placed: see the reasons in the table".to_string()
        }
        Advice::NetMore { more, rung } => {
            format!(
                "net {more} more from this tank to know its share at {rung} or better within 15 points"
            )
        }
        Advice::LookAtUndecided(numbers) => {
            format!(
                "decide {} by eye: more netting won't narrow the range",
                words::animals(&numbers)
            )
        }
        Advice::Enough { rung } => {
            format!("nothing more to net: the share at {rung} or better is known well enough")
        }
    }
}

fn explanations(scoop: &Scoop, out: &mut Page) {
    out.blank();
    for animal in &scoop.animals {
        if let Some(text) = explanation(animal) {
            out.wrapped(
                Tone::Plain,
                "     ",
                &format!("{:>3}: {text}", animal.measures.no),
            );
        }
    }
}

/// Why the animal stands where it stands, in a sentence without its full stop.
pub fn explanation(animal: &GradedAnimal) -> Option<String> {
    let placing = &animal.placing;
    match (&placing.off, placing.rung) {
        (Some(OffLadder::OffType(reasons)), _) => {
            Some(format!("off-type: {}", words::off_type_sentence(reasons)))
        }
        (Some(OffLadder::Withheld { measure, code }), _) => Some(format!(
            "no rung: {} can't be told, {}",
            words::noun(*measure),
            words::reason(code)
        )),
        (Some(off), _) => Some(format!("no rung: {}", off.word())),
        (None, Some(rung)) => {
            let open = placing.between.map_or(String::new(), |(low, high)| {
                format!(", too close to call between {low} and {high}")
            });
            let next = match &placing.next {
                Some(next) => format!("; {}", words::next_sentence(next)),
                None => ", the best rung".to_string(),
            };
            Some(format!("{rung}{open}{next}"))
        }
        (None, None) => None,
    }
}

fn turned_away(scoop: &Scoop, out: &mut Page) {
    if scoop.turned_away.is_empty() {
        return;
    }
    let mut counts = std::collections::BTreeMap::new();
    for thing in &scoop.turned_away {
        *counts.entry(thing.reason).or_insert(0u32) += 1;
    }
    let parts: Vec<String> = counts
        .iter()
        .map(|(reason, count)| words::turned_away(reason, *count))
        .collect();
    out.blank();
    out.wrapped(
        Tone::Faint,
        "  ",
        &format!("Turned away, not graded: {}", parts.join(", ")),
    );
}

fn doubts(scoop: &Scoop, all: bool, out: &mut Page) {
    let first = scoop.past_the_stop().map(|note| note.code);
    let told = |code: &str| {
        first == Some(code)
            || scoop
                .check
                .reasons
                .iter()
                .any(|r| same_matter(r.note.code, code))
    };
    let doubts: Vec<_> = scoop.doubts.iter().filter(|d| !told(d.code)).collect();
    let shown = if all {
        doubts.len()
    } else {
        DOUBTS_SHOWN.min(doubts.len())
    };
    if shown == 0 {
        return;
    }
    out.blank();
    for note in &doubts[..shown] {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!("Doubt: {}. Cure: {}.", note.message, note.hint),
        );
    }
    let rest = doubts.len() - shown;
    if rest > 0 {
        out.line(
            Tone::Faint,
            format!(
                "{rest} more doubt{} with --all",
                if rest == 1 { "" } else { "s" }
            ),
        );
    }
}

/// True where a doubt says what the photo's verdict has said already.
fn same_matter(reason: &str, doubt: &str) -> bool {
    reason == doubt
        || matches!(
            (reason, doubt),
            ("too_far", "small")
                | ("glare_on_animals" | "clipped" | "too_bright", "glare")
                | ("too_bright", "clipped")
                | ("shaken", "out_of_focus")
        )
}
