//! What is told when a scoop is filed: alarms first, then where it went.

use jiff::civil::{Date, DateTime};

use super::{ago, hold, moment};
use crate::book::scoops::animal_count;
use crate::book::{Holds, ScoopEntry, WhenFrom};
use crate::doubt::Note;
use crate::report::text::{Page, TextLine, Tone, error_lines};
use crate::report::words;

/// A scoop that was filed.
#[derive(Debug, Clone, PartialEq)]
pub struct Filed {
    /// File name of its photo.
    pub photo: String,
    /// Its number.
    pub number: i64,
    /// Code of its tank.
    pub tank: String,
    /// The moment it was filed under, and where that is from.
    pub at: (DateTime, WhenFrom),
    /// Why that moment is doubted.
    pub when_doubt: Option<Note>,
    /// Animals in it.
    pub animals: usize,
    /// The scoop of which it is another photo.
    pub second_of: Option<i64>,
    /// Numbers of off-type animals.
    pub off_type: Vec<u32>,
    /// The last scoop before it in which an animal of this tank was off-type.
    pub last_off_type: Option<ScoopEntry>,
    /// The last scoop before it.
    pub last_scoop: Option<ScoopEntry>,
    /// What holds the tank back.
    pub holds: Holds,
}

impl Filed {
    /// The alarms as notes with code and cure, the most pressing first.
    pub fn alarms(&self, today: Date) -> Vec<Note> {
        let mut alarms = Vec::new();
        if !self.off_type.is_empty() {
            alarms.push(self.off_type_alarm(today));
        }
        for entry in &self.holds.0 {
            let code = if entry.stops_selling() {
                "hold"
            } else {
                "watch"
            };
            let message = format!("tank {}: {}", self.tank, hold(entry));
            let hint = "see its notes: catchcup note list ".to_string() + &self.tank;
            alarms.push(Note::new(code, message, hint));
        }
        alarms.extend(self.when_doubt.clone());
        alarms
    }

    fn off_type_alarm(&self, today: Date) -> Note {
        let seen = match &self.last_off_type {
            Some(last) => format!(
                "last seen in tank {} {} (scoop {})",
                self.tank,
                ago(last.at.date(), today),
                last.number
            ),
            None => format!("never seen in tank {} before", self.tank),
        };
        let code = if self.last_off_type.is_some() {
            "off_type"
        } else {
            "first_off_type"
        };
        let hint = match &self.last_scoop {
            Some(last) => {
                let by = match last.who.as_str() {
                    "unknown" | "" => String::new(),
                    who => format!(" by {who}"),
                };
                format!(
                    "keep the animal apart and look at it; the scoop before it here was netted {}{by}",
                    ago(last.at.date(), today)
                )
            }
            None => "keep the animal apart and look at it".to_string(),
        };
        Note::new(
            code,
            format!("off-type: {}; {seen}", words::animals(&self.off_type)),
            hint,
        )
    }
}

/// The answer about a filed scoop.
pub fn filed(filed: &Filed, today: Date) -> Vec<TextLine> {
    let mut out = Page::default();
    for alarm in filed.alarms(today) {
        let (tone, word) = match alarm.code {
            "watch" => (Tone::Plain, "ALARM"),
            "in_the_future" | "before_the_tank" => (Tone::Alarm, "Doubt"),
            "filed_late" => (Tone::Plain, "Doubt"),
            _ => (Tone::Alarm, "ALARM"),
        };
        out.wrapped(tone, "  ", &format!("{word}: {}", alarm.message));
        out.wrapped(Tone::Plain, "  ", &format!("  {}", alarm.hint));
    }
    let again = filed.second_of.map_or(String::new(), |first| {
        format!(", another photo of scoop {first}")
    });
    out.wrapped(
        Tone::Heading,
        "  ",
        &format!(
            "{}: filed as scoop {} of tank {} ({}), {}{again}",
            filed.photo,
            filed.number,
            filed.tank,
            animal_count(filed.animals),
            when_words(filed.at)
        ),
    );
    out.lines
}

/// `taken 2026-01-01 08:30 by the photo's own clock`.
pub fn when_words((at, from): (DateTime, WhenFrom)) -> String {
    let clock = match from {
        WhenFrom::Photo => " by the photo's own clock",
        WhenFrom::Person => "",
    };
    format!("taken {}{clock}", moment(at))
}

/// The answer about a photo that was not filed.
pub fn not_filed(photo: &str, why: &Note) -> Vec<TextLine> {
    let mut lines = error_lines(photo, why);
    for line in &mut lines {
        line.text = line.text.replacen("not graded", "not filed", 1);
    }
    lines
}

/// Photos of an evening that were left for the keeper, by file name.
pub fn left_over(photos: &[String]) -> Vec<TextLine> {
    let mut out = Page::default();
    if photos.is_empty() {
        return out.lines;
    }
    out.blank();
    let count = photos.len();
    let plural = if count == 1 { "" } else { "s" };
    out.line(
        Tone::Heading,
        format!("{count} photo{plural} without a tank's tag:"),
    );
    for photo in photos {
        out.wrapped(Tone::Plain, "  ", &format!("  {photo}"));
    }
    out.wrapped(
        Tone::Plain,
        "  ",
        "file each by hand: catchcup scoop add TANK PHOTO",
    );
    out.lines
}
