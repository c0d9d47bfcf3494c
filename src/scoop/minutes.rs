//! Minutes in the cup: from netting to photo. Animals pale on a white floor within minutes.

use crate::doubt::Note;
use crate::photo::CaptureInfo;

/// What the user said about the netting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Netted {
    /// Nothing.
    #[default]
    Unknown,
    /// Seconds from netting to photo.
    Ago(u32),
    /// Clock time of the netting, seconds of the day.
    At(u32),
}

/// The house's limits, minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinutesRule {
    /// To be aimed at.
    pub aim: f64,
    /// From here on the numbers are doubted.
    pub warn: f64,
    /// From here on the animals should be back in their tank.
    pub stop: f64,
}

impl Default for MinutesRule {
    /// House rule: aim at 3, warn at 5, stop at 10 (common practice, no source; no paper on minutes in this genus is known,
    /// prawns on white were seen to pale within 15 minutes).
    fn default() -> Self {
        Self {
            aim: 3.0,
            warn: 5.0,
            stop: 10.0,
        }
    }
}

/// Where the minutes in the cup came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MinutesFrom {
    /// Said by the user.
    Given,
    /// Clock time of the netting, and the camera's clock.
    Clock,
    /// Not known.
    Unknown,
}

/// Time in the cup when the photo was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct InCup {
    /// Seconds from netting to photo; `None` where unknown.
    pub seconds: Option<u32>,
    /// Where that is from.
    pub from: MinutesFrom,
    /// Why it is unknown although something was said.
    pub doubt: Option<Note>,
}

const DAY: i64 = 86_400;
/// Longer than this between netting and photo, a clock is wrong sooner than that somebody waited (house rule).
const LONGEST_SECONDS: i64 = 2 * 3600;

/// Time in the cup of a photo with that capture data.
pub fn in_cup(netted: Netted, capture: &CaptureInfo) -> InCup {
    match netted {
        Netted::Unknown => InCup {
            seconds: None,
            from: MinutesFrom::Unknown,
            doubt: None,
        },
        Netted::Ago(seconds) => InCup {
            seconds: Some(seconds),
            from: MinutesFrom::Given,
            doubt: None,
        },
        Netted::At(clock) => by_clock(clock, capture),
    }
}

fn by_clock(clock: u32, capture: &CaptureInfo) -> InCup {
    let unknown = |doubt| InCup {
        seconds: None,
        from: MinutesFrom::Unknown,
        doubt: Some(doubt),
    };
    let Some(taken) = capture.taken_at.as_deref().and_then(second_of_day) else {
        return unknown(no_capture_time());
    };
    let away = around(i64::from(taken) - i64::from(clock));
    match u32::try_from(away) {
        Ok(seconds) if away <= LONGEST_SECONDS => InCup {
            seconds: Some(seconds),
            from: MinutesFrom::Clock,
            doubt: None,
        },
        _ => unknown(clock_wrong(away)),
    }
}

/// Minutes from one photo to another by their clocks, negative where the other was taken before; `None` where one has no
/// time, or they lie more than two hours apart.
pub fn minutes_apart(first: &CaptureInfo, other: &CaptureInfo) -> Option<f64> {
    let clock = |capture: &CaptureInfo| {
        capture
            .taken_at
            .as_deref()
            .and_then(second_of_day)
            .map(i64::from)
    };
    let away = around(clock(other)? - clock(first)?);
    (away.abs() <= LONGEST_SECONDS).then(|| away as f64 / 60.0)
}

/// The nearer of the two ways round the clock: over midnight the day is not said.
fn around(seconds: i64) -> i64 {
    (seconds + DAY / 2).rem_euclid(DAY) - DAY / 2
}

/// Second of the day of an ISO time such as `2026-01-01T08:30:39`.
pub fn second_of_day(iso: &str) -> Option<u32> {
    let (_, time) = iso.split_once('T')?;
    let mut parts = time.split(':').map(|part| part.parse::<u32>().ok());
    let (hours, minutes, seconds) = (parts.next()??, parts.next()??, parts.next()??);
    (hours < 24 && minutes < 60 && seconds <= 60).then_some(hours * 3600 + minutes * 60 + seconds)
}

fn no_capture_time() -> Note {
    Note::new(
        "no_capture_time",
        "the photo does not say when it was taken, so the minutes in the cup are unknown",
        "say how long it was: --netted 1m40s",
    )
}

fn clock_wrong(away: i64) -> Note {
    let minutes = away.abs() / 60;
    let span = if minutes < 120 {
        format!("{minutes} min")
    } else {
        format!("{} h {:02} min", minutes / 60, minutes % 60)
    };
    let when = if away < 0 { "before" } else { "after" };
    Note::new(
        "clock_wrong",
        format!(
            "by its clock the photo was taken {span} {when} the netting; the minutes in the cup are unknown"
        ),
        "set the phone's clock, or say how long it was: --netted 1m40s",
    )
}

/// Code of the doubt about a scoop that was in the cup beyond the house's last limit.
pub const PAST_THE_STOP: &str = "far_too_long_in_cup";

/// The doubt about a scoop that was long in the cup; `None` within the house's aim.
pub fn long_in_cup(seconds: u32, rule: &MinutesRule) -> Option<Note> {
    let minutes = f64::from(seconds) / 60.0;
    let said = format!("{}:{:02} min in the cup", seconds / 60, seconds % 60);
    let note = |code, text: String, hint: &str| Some(Note::new(code, text, hint));
    if minutes > rule.stop {
        return note(
            PAST_THE_STOP,
            format!(
                "{said}, the house stops at {}: colour has paled, these grades are too low",
                plain(rule.stop)
            ),
            "put the animals back now; net again another day and photograph at once",
        );
    }
    if minutes > rule.warn {
        return note(
            "too_long_in_cup",
            format!(
                "{said}, the house warns at {}: colour may have paled, grades may be too low",
                plain(rule.warn)
            ),
            "put the animals back; net again and photograph at once",
        );
    }
    (minutes > rule.aim).then(|| {
        Note::new(
            "long_in_cup",
            format!(
                "{said}, the house aims at {}: colour may have begun to pale",
                plain(rule.aim)
            ),
            "photograph sooner after netting, and put these animals back",
        )
    })
}

/// Minutes without needless digits.
fn plain(minutes: f64) -> String {
    let text = format!("{minutes:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_string)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(at: &str) -> CaptureInfo {
        CaptureInfo {
            taken_at: Some(at.into()),
            ..CaptureInfo::default()
        }
    }

    fn clock(hours: u32, minutes: u32) -> Netted {
        Netted::At(hours * 3600 + minutes * 60)
    }

    #[test]
    fn minutes_by_the_clock() {
        let cases = [
            (clock(14, 5), "2026-01-01T14:07:30", Some(150)),
            (clock(23, 59), "2026-01-02T00:01:00", Some(120)),
            (clock(14, 5), "2026-01-01T14:05:00", Some(0)),
            (clock(14, 5), "2026-01-01T14:04:00", None),
            (clock(14, 5), "2026-01-01T16:06:00", None),
            (clock(14, 5), "2026-01-01T02:06:00", None),
        ];
        for (netted, at, expected) in cases {
            let found = in_cup(netted, &taken(at));
            assert_eq!(found.seconds, expected, "{at}");
            let code = found.doubt.map(|d| d.code);
            assert_eq!(code, expected.is_none().then_some("clock_wrong"), "{at}");
        }
    }

    #[test]
    fn unknown_stays_unknown() {
        assert_eq!(
            in_cup(Netted::Unknown, &taken("2026-01-01T14:04:00")).doubt,
            None
        );
        let blind = in_cup(clock(14, 5), &CaptureInfo::default());
        assert_eq!((blind.seconds, blind.from), (None, MinutesFrom::Unknown));
        assert_eq!(blind.doubt.map(|d| d.code), Some("no_capture_time"));
    }

    #[test]
    fn three_steps_of_warning() {
        let rule = MinutesRule::default();
        let code = |seconds| long_in_cup(seconds, &rule).map(|d| d.code);
        assert_eq!(
            [180, 181, 301, 601].map(code),
            [
                None,
                Some("long_in_cup"),
                Some("too_long_in_cup"),
                Some("far_too_long_in_cup")
            ]
        );
    }
}
