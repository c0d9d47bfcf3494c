//! When a tank must not be sold from: quarantine, or losses that pile up.

use jiff::ToSpan;
use jiff::civil::Date;

use super::notes::{Note, NoteKind};

/// The house's numbers (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HoldRules {
    /// Losses of so many days are added up.
    pub loss_days: u32,
    /// From so many on the tank is to be watched.
    pub loss_warns: u32,
    /// From so many on nothing is sold from it.
    pub loss_stops: u32,
}

impl Default for HoldRules {
    fn default() -> Self {
        Self {
            loss_days: 7,
            loss_warns: 1,
            loss_stops: 3,
        }
    }
}

/// Why a tank is held back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hold {
    /// In quarantine; free from that day on.
    Quarantine {
        /// The day.
        until: Date,
    },
    /// Too many losses: nothing is sold from it.
    Losses {
        /// Animals lost.
        count: u32,
        /// Within so many days.
        days: u32,
    },
    /// Losses to be watched; selling goes on.
    Watch {
        /// Animals lost.
        count: u32,
        /// Within so many days.
        days: u32,
    },
}

impl Hold {
    /// True where nothing must be sold.
    pub fn stops_selling(&self) -> bool {
        !matches!(self, Hold::Watch { .. })
    }
}

/// All holds of a tank, the gravest first; empty for a free tank.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Holds(pub Vec<Hold>);

impl Holds {
    /// True where nothing must be sold.
    pub fn stop_selling(&self) -> bool {
        self.0.iter().any(Hold::stops_selling)
    }
}

/// What holds a tank back on `today`, from its notes in any order.
pub fn holds(notes: &[Note], today: Date, rules: &HoldRules) -> Holds {
    let mut found = Vec::new();
    found.extend(quarantine(notes, today).map(|until| Hold::Quarantine { until }));
    let days = rules.loss_days;
    let from = today.saturating_sub(i64::from(days).days());
    let count: u32 = notes
        .iter()
        .filter(|note| note.kind == NoteKind::Loss && note.day > from && note.day <= today)
        .map(|note| note.count.unwrap_or(1))
        .fold(0, u32::saturating_add);
    if count >= rules.loss_stops {
        found.push(Hold::Losses { count, days });
    } else if count >= rules.loss_warns {
        found.push(Hold::Watch { count, days });
    }
    Holds(found)
}

/// Last day of the quarantine that is in force: the latest of those begun and not ended by a release on the same day or
/// later.
fn quarantine(notes: &[Note], today: Date) -> Option<Date> {
    let released = notes
        .iter()
        .filter(|note| note.kind == NoteKind::Release && note.day <= today)
        .map(|note| note.day)
        .max();
    notes
        .iter()
        .filter(|note| note.kind == NoteKind::Quarantine && note.day <= today)
        .filter(|note| released.is_none_or(|day| note.day > day))
        .filter_map(|note| note.until)
        .filter(|until| *until > today)
        .max()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn note(kind: NoteKind, day: Date, count: Option<u32>, until: Option<Date>) -> Note {
        Note {
            tank: "A1".into(),
            kind,
            day,
            count,
            until,
            other: String::new(),
            text: String::new(),
        }
    }

    /// One loss in a week warns, three or more stop selling (common practice, no source).
    #[test]
    fn losses_of_a_week() {
        let rules = HoldRules::default();
        let today = date(2026, 5, 8);
        let lost = |day, count| note(NoteKind::Loss, day, Some(count), None);
        let of = |notes: &[Note]| holds(notes, today, &rules).0;
        assert_eq!(of(&[]), []);
        assert_eq!(of(&[lost(date(2026, 5, 1), 9)]), [], "eight days ago");
        let one = [lost(date(2026, 5, 2), 1)];
        assert_eq!(of(&one), [Hold::Watch { count: 1, days: 7 }]);
        let three = [lost(date(2026, 5, 2), 1), lost(date(2026, 5, 8), 2)];
        assert_eq!(of(&three), [Hold::Losses { count: 3, days: 7 }]);
        assert_eq!(of(&[lost(date(2026, 5, 9), 3)]), [], "tomorrow");
    }

    #[test]
    fn quarantine_ends_on_its_day_or_by_release() {
        let begun = note(
            NoteKind::Quarantine,
            date(2026, 5, 1),
            None,
            Some(date(2026, 5, 20)),
        );
        let at = |notes: &[Note], day| quarantine(notes, day);
        let only = [begun.clone()];
        assert_eq!(at(&only, date(2026, 4, 30)), None);
        assert_eq!(at(&only, date(2026, 5, 19)), Some(date(2026, 5, 20)));
        assert_eq!(at(&only, date(2026, 5, 20)), None);
        let released = [
            begun,
            note(NoteKind::Release, date(2026, 5, 10), None, None),
        ];
        assert_eq!(at(&released, date(2026, 5, 9)), Some(date(2026, 5, 20)));
        assert_eq!(at(&released, date(2026, 5, 10)), None);
    }
}
