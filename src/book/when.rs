//! The moment that a scoop is filed under: where it is from, and when to doubt it.

use jiff::ToSpan;
use jiff::civil::DateTime;

use super::Tank;
use crate::doubt::Note;

/// Where the moment of a scoop is from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhenFrom {
    /// The photo's own clock.
    Photo,
    /// Said by a person, or the moment of filing.
    Person,
}

/// A photo that is filed so many days after it was taken may have a wrong clock (house rule: scoops are filed within the
/// week, and a trend by months is not moved by less).
const LATE_DAYS: i32 = 30;
/// Clocks differ by minutes; one that is ahead by more than this is wrong (house rule).
const AHEAD_MINUTES: i64 = 60;

/// Where the moment of a scoop is from, whose photo was taken at `taken` by its own clock.
pub fn when_from(at: DateTime, taken: Option<&str>) -> WhenFrom {
    let own: Option<DateTime> = taken.and_then(|text| text.parse().ok());
    if own == Some(at) {
        WhenFrom::Photo
    } else {
        WhenFrom::Person
    }
}

/// Why the moment of a scoop is doubted, with the cure; `None` where it is likely. `now` is when it was filed.
pub fn when_doubt(
    (at, from): (DateTime, WhenFrom),
    tank: &Tank,
    scoop: i64,
    now: DateTime,
) -> Option<Note> {
    let clock = match from {
        WhenFrom::Photo => " by the photo's own clock",
        WhenFrom::Person => "",
    };
    let told = |what: String| format!("scoop {scoop} stands at {}{clock}, {what}", at.date());
    let correct = format!("is that wrong? catchcup scoop edit {scoop} --at \"YYYY-MM-DD HH:MM\"");
    let latest = now.saturating_add(AHEAD_MINUTES.minutes());
    if at > latest {
        let message = told(format!("which is after now, {}", now.date()));
        return Some(Note::new("in_the_future", message, correct));
    }
    if at.date() < tank.since {
        let message = told(format!(
            "before tank {} was in use ({})",
            tank.code, tank.since
        ));
        let hint = format!(
            "{correct}; was the tank in use by then? catchcup tank edit {} --since {}",
            tank.code,
            at.date()
        );
        return Some(Note::new("before_the_tank", message, hint));
    }
    let days = (now.date() - at.date()).get_days();
    let is_late = from == WhenFrom::Photo && days > LATE_DAYS;
    is_late.then(|| {
        let message = told(format!("{days} days before it was filed"));
        Note::new("filed_late", message, correct)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_that_can_t_be_are_doubted() {
        let tank = Tank {
            id: 1,
            code: "A3".into(),
            line: None,
            ladder: None,
            place: String::new(),
            litres: None,
            since: "2026-02-01".parse().expect("a day"),
            retired: None,
        };
        let now: DateTime = "2026-05-08T20:00".parse().expect("a moment");
        let code = |at: &str, from| {
            let at: DateTime = at.parse().expect("a moment");
            when_doubt((at, from), &tank, 7, now).map(|note| note.code)
        };
        let cases = [
            ("2026-05-08T19:58", WhenFrom::Photo, None),
            ("2026-05-08T20:40", WhenFrom::Photo, None),
            ("2026-05-08T21:02", WhenFrom::Photo, Some("in_the_future")),
            ("2031-01-01T00:00", WhenFrom::Person, Some("in_the_future")),
            (
                "2026-01-31T23:59",
                WhenFrom::Person,
                Some("before_the_tank"),
            ),
            ("2026-02-01T00:00", WhenFrom::Photo, Some("filed_late")),
            ("2026-02-01T00:00", WhenFrom::Person, None),
            ("2026-04-08T12:00", WhenFrom::Photo, None),
            ("2026-04-07T12:00", WhenFrom::Photo, Some("filed_late")),
        ];
        for (at, from, expected) in cases {
            assert_eq!(code(at, from), expected, "{at} {from:?}");
        }
        let at: DateTime = "2026-04-07T12:00".parse().expect("a moment");
        assert_eq!(when_from(at, Some("2026-04-07T12:00:00")), WhenFrom::Photo);
        assert_eq!(when_from(at, Some("2026-04-07T12:01:00")), WhenFrom::Person);
        assert_eq!(when_from(at, None), WhenFrom::Person);
    }
}
