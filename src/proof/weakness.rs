//! What weakens a statement, or forbids it: each named, with the cure.

use std::collections::BTreeSet;

use jiff::civil::{Date, DateTime};

use crate::scoop::{ConditionKind, PastScoop};

/// Something that speaks against a statement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Weakness {
    /// Stable lower-case code.
    pub code: &'static str,
    /// What was found.
    pub message: String,
    /// What to do next.
    pub hint: String,
    /// True where nothing may be stated.
    pub blocks: bool,
}

impl Weakness {
    /// One that is to be said beside the statement.
    pub fn new(code: &'static str, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            code,
            message: message.into(),
            hint: hint.into(),
            blocks: false,
        }
    }

    /// One that forbids it.
    pub fn blocking(
        code: &'static str,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self {
            blocks: true,
            ..Self::new(code, message, hint)
        }
    }
}

/// The house's limits (house rules; no figure for this trade was found).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Older scoops weaken, days: pigment moves within weeks of another floor or feed.
    pub stale_days: i64,
    /// Older scoops block, days.
    pub too_old_days: i64,
    /// Longer in the cup weakens, seconds.
    pub long_seconds: u32,
    /// Longer in the cup blocks, seconds.
    pub too_long_seconds: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            stale_days: 28,
            too_old_days: 56,
            long_seconds: 300,
            too_long_seconds: 600,
        }
    }
}

/// Doubts of a photo after which its rungs are not to be built on.
const BLOCKING_DOUBTS: [&str; 3] = ["photo_processed", "line_guessed", "damaged"];

/// Words of a remark that say from where in the tank a scoop was netted: `place=left`.
const PLACE: &str = "place=";

/// From where in the tank the scoop was netted, where its remark says so (`place=front`).
pub fn place_of(remark: &str) -> Option<String> {
    let at = remark.find(PLACE)? + PLACE.len();
    let word: String = remark[at..]
        .chars()
        .take_while(|c| !c.is_whitespace() && *c != ',' && *c != ';')
        .collect();
    (!word.is_empty()).then(|| word.to_lowercase())
}

/// True where the scoops were netted from two places at least: bold and feeding animals come first, so one scoop, or several
/// from one place, speak for themselves only.
pub fn from_two_places(scoops: &[PastScoop]) -> bool {
    let places: BTreeSet<String> = scoops.iter().filter_map(|s| place_of(&s.remark)).collect();
    places.len() >= 2
}

/// What speaks against a statement from these scoops at `now`.
pub fn weaknesses(scoops: &[PastScoop], now: DateTime, limits: &Limits) -> Vec<Weakness> {
    let mut found = Vec::new();
    found.extend(age(scoops, now.date(), limits));
    found.extend(minutes(scoops, limits));
    found.extend(conditions(scoops));
    found.extend(ladders(scoops));
    found.extend(doubts(scoops));
    if !from_two_places(scoops) {
        found.push(Weakness::new(
            "one_place",
            "the scoops are not known to come from two places of the tank: this speaks for the netted animals only",
            "net from two places, and say them when filing: --remark place=front, --remark place=back",
        ));
    }
    if scoops.iter().any(|s| !s.kept_apart) && scoops.len() > 1 {
        found.push(Weakness::new(
            "put_back",
            "animals were put back between scoops, so some may have been counted twice",
            "keep each scoop apart until the last is netted",
        ));
    }
    found
}

fn age(scoops: &[PastScoop], today: Date, limits: &Limits) -> Option<Weakness> {
    let oldest = scoops.iter().map(|s| s.at.date()).min()?;
    let days = i64::from((today - oldest).get_days());
    let message = format!("the oldest scoop is {days} days old");
    let hint = "net and file new scoops: colour moves within weeks";
    if days > limits.too_old_days {
        Some(Weakness::blocking("too_old", message, hint))
    } else {
        (days > limits.stale_days).then(|| Weakness::new("stale", message, hint))
    }
}

fn minutes(scoops: &[PastScoop], limits: &Limits) -> Option<Weakness> {
    let longest = scoops.iter().filter_map(|s| s.origin.netted_seconds).max();
    let unknown = scoops
        .iter()
        .filter(|s| s.origin.netted_seconds.is_none())
        .count();
    let hint = "photograph within minutes of netting, and say when you netted: --netted 1m40s";
    if let Some(seconds) = longest.filter(|s| *s > limits.long_seconds) {
        let message = format!(
            "animals were {} minutes in the cup, they pale there",
            seconds.div_ceil(60)
        );
        return Some(if seconds > limits.too_long_seconds {
            Weakness::blocking("too_long_in_cup", message, hint)
        } else {
            Weakness::new("long_in_cup", message, hint)
        });
    }
    (unknown > 0).then(|| {
        let of = match (unknown, scoops.len()) {
            (1, 1) => String::new(),
            (n, all) => format!(" of {n} of {all} scoops"),
        };
        let message = format!("the minutes in the cup are unknown{of}");
        Weakness::new("minutes_unknown", message, hint)
    })
}

fn conditions(scoops: &[PastScoop]) -> Option<Weakness> {
    let unlike: Vec<&str> = ConditionKind::ALL
        .into_iter()
        .filter(|kind| {
            let values: BTreeSet<_> = scoops.iter().map(|s| s.conditions.get(kind)).collect();
            values.len() > 1
        })
        .map(ConditionKind::word)
        .collect();
    (!unlike.is_empty()).then(|| {
        Weakness::new(
            "unlike_conditions",
            format!(
                "the scoops were taken under different conditions: {}",
                unlike.join(", ")
            ),
            "net all scoops of a statement with the same floor, lamp, cup and camera",
        )
    })
}

fn ladders(scoops: &[PastScoop]) -> Option<Weakness> {
    let rules: BTreeSet<_> = scoops.iter().map(|s| &s.origin.ladder_sha256).collect();
    (rules.len() > 1).then(|| {
        Weakness::blocking(
            "two_ladders",
            "the scoops were graded with different rules",
            "grade all photos with the present rules again",
        )
    })
}

fn doubts(scoops: &[PastScoop]) -> Option<Weakness> {
    let all: BTreeSet<&str> = scoops
        .iter()
        .flat_map(|s| s.origin.doubts.iter().map(String::as_str))
        // What is too long in the cup has a weakness of its own.
        .filter(|code| !TOO_LONG.contains(code))
        .collect();
    if all.is_empty() {
        return None;
    }
    let list: Vec<String> = all.iter().map(|code| in_words(code)).collect();
    let message = format!("the photos are doubted: {}", list.join(", "));
    let hint = "see what catchcup grade says of these photos, and take them again";
    Some(if BLOCKING_DOUBTS.iter().any(|code| all.contains(code)) {
        Weakness::blocking("doubted", message, hint)
    } else {
        Weakness::new("doubted", message, hint)
    })
}

/// Doubts of minutes in the cup that [`minutes`] tells.
const TOO_LONG: [&str; 2] = ["too_long_in_cup", "far_too_long_in_cup"];

/// Doubts whose code alone is no sentence for people.
const WORDS: [(&str, &str); 17] = [
    ("chart_cut", "the colour chart is cut off"),
    ("chart_hidden", "the colour chart is partly hidden"),
    (
        "chart_higher",
        "the colour chart lies higher than the animals",
    ),
    ("chart_small", "the colour chart is too small"),
    ("chart_strange", "the colour chart is not as it should be"),
    ("clock_wrong", "a clock is wrong"),
    ("cup_edge_unsure", "the cup's edge is unsure"),
    ("ground_dark", "the ground is dark"),
    ("ground_not_dark", "the ground is not dark"),
    (
        "light_age_unknown",
        "the age of the remembered light is unknown",
    ),
    (
        "light_changed",
        "the light has changed since it was measured",
    ),
    ("light_old", "the light was measured long ago"),
    ("line_guessed", "the line was guessed, not said"),
    ("long_in_cup", "a little long in the cup"),
    (
        "no_capture_time",
        "the photo does not say when it was taken",
    ),
    (
        "photo_processed",
        "the camera or an app worked the photo over",
    ),
    ("scale_unknown", "the scale is unknown"),
];

fn in_words(code: &str) -> String {
    let known = WORDS.iter().find(|(known, _)| *known == code);
    known.map_or_else(|| code.replace('_', " "), |(_, words)| (*words).to_string())
}

/// What the age of a single photo says, by the camera's clock, which may be wrong.
///
/// `taken_on` is its day, `None` where the camera noted none.
pub fn of_day(taken_on: Option<Date>, today: Date, limits: &Limits) -> Option<Weakness> {
    let days = i64::from((today - taken_on?).get_days());
    let clock = "where the camera's clock is wrong, set it and photograph again";
    // A day ahead may be another time zone.
    if days < -1 {
        let message = format!(
            "by the camera's clock the photo was taken {} days after today",
            -days
        );
        return Some(Weakness::blocking("day_ahead", message, clock));
    }
    let message = format!("by the camera's clock the photo is {days} days old");
    let hint = format!("net and photograph the lot anew: colour moves within weeks; {clock}");
    if days > limits.too_old_days {
        Some(Weakness::blocking("too_old", message, hint))
    } else {
        (days > limits.stale_days).then(|| Weakness::new("stale", message, hint))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use std::collections::BTreeMap;

    fn scoop(day: i8, remark: &str) -> PastScoop {
        PastScoop {
            number: 1,
            tank: "A1".into(),
            line: None,
            generation: None,
            at: date(2026, 5, day).at(9, 0, 0, 0),
            who: "tester".into(),
            kept_apart: true,
            second_of: None,
            conditions: BTreeMap::new(),
            origin: crate::scoop::kept::Origin {
                netted_seconds: Some(90),
                ..Default::default()
            },
            remark: remark.into(),
            animals: Vec::new(),
        }
    }

    fn codes(scoops: &[PastScoop], day: Date) -> Vec<&'static str> {
        let found = weaknesses(scoops, day.at(12, 0, 0, 0), &Limits::default());
        found.iter().map(|w| w.code).collect()
    }

    #[test]
    fn each_weakness_is_named() {
        let two = [scoop(1, "place=front"), scoop(2, "quiet, place=Back")];
        assert_eq!(codes(&two, date(2026, 5, 3)), [""; 0]);
        assert_eq!(codes(&two, date(2026, 6, 2)), ["stale"]);
        assert_eq!(codes(&two, date(2026, 7, 2)), ["too_old"]);
        assert_eq!(codes(&two[..1], date(2026, 5, 3)), ["one_place"]);
        let mut other = two.clone();
        other[1].origin.netted_seconds = Some(420);
        other[1]
            .conditions
            .insert(ConditionKind::Lamp, "old".into());
        other[1].kept_apart = false;
        let expected = ["long_in_cup", "unlike_conditions", "put_back"];
        assert_eq!(codes(&other, date(2026, 5, 3)), expected);
        other[1].origin.netted_seconds = None;
        other[1].origin.ladder_sha256 = Some("other".into());
        other[1].origin.doubts = vec!["line_guessed".into()];
        let found = weaknesses(&other, date(2026, 5, 3).at(12, 0, 0, 0), &Limits::default());
        let blocks: Vec<&str> = found.iter().filter(|w| w.blocks).map(|w| w.code).collect();
        assert_eq!(blocks, ["two_ladders", "doubted"]);
        assert!(found.iter().any(|w| w.code == "minutes_unknown"));
    }

    #[test]
    fn places() {
        assert_eq!(place_of("place=front"), Some("front".into()));
        assert_eq!(place_of("calm; place=Left; fed"), Some("left".into()));
        assert_eq!(place_of("no place"), None);
        assert_eq!(place_of("place="), None);
    }
}
