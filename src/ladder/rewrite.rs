//! A rules file with other limits: everything else, comments too, stays as the house wrote it.

use super::toml_text::RulesError;
use super::{Ladder, Measure, Rung, load};
use crate::error::Error;

/// Stated uncertainty of a new condition on a measure that carries none, where the file states none for it yet (the value
/// of the built-in files).
const USUAL_UNCERTAINTY: f64 = 0.06;

/// A limit to be written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewLimit {
    /// Its rung.
    pub rung: Rung,
    /// Its measure.
    pub measure: Measure,
    /// True for "at most", false for "at least".
    pub is_at_most: bool,
    /// The limit.
    pub value: f64,
}

/// The rules file `text` with `limits` in place of its own and without those in `dropped`; `remark` is written on top as a
/// comment. The text is read again before it is given back.
///
/// # Errors
/// Where the file is written in a way that can't be changed line by line: then by hand.
pub fn with_limits(
    name: &str,
    text: &str,
    limits: &[NewLimit],
    dropped: &[(Rung, Measure)],
    remark: &str,
) -> Result<(String, Ladder), Error> {
    let mut lines: Vec<String> = text.lines().map(str::to_string).collect();
    for limit in limits {
        set(&mut lines, limit).ok_or_else(|| by_hand(name, "a rung is not written as [[rung]]"))?;
    }
    for (rung, measure) in dropped {
        let part = part(&lines, *rung)
            .ok_or_else(|| by_hand(name, "a rung is not written as [[rung]]"))?;
        if let Some(at) = part.clone().find(|at| is_of(&lines[*at], *measure)) {
            lines[at] = format!(
                "# {}   # left out: the eye of the house does not follow it",
                lines[at].trim()
            );
        }
    }
    let new = format!("# {remark}\n{}\n", lines.join("\n"));
    let ladder = load(name, &new).map_err(|e: RulesError| by_hand(name, &e.to_string()))?;
    let written = limits.iter().all(|limit| {
        let k = limit.rung.index() - 1;
        ladder.conditions[k].iter().any(|c| {
            c.measure == limit.measure && c.passes(limit.value) && !c.passes(beyond(limit))
        })
    });
    if written {
        Ok((new, ladder))
    } else {
        Err(by_hand(name, "the limits did not come out as wanted"))
    }
}

/// A value that just misses the limit.
fn beyond(limit: &NewLimit) -> f64 {
    limit.value + if limit.is_at_most { 1.0e-6 } else { -1.0e-6 }
}

fn by_hand(name: &str, why: &str) -> Error {
    Error::rules(
        "by_hand",
        format!("{name} can't be changed by the program: {why}"),
        "write the limits shown into the file by hand, then: catchcup rules check FILE.toml",
    )
}

/// Lines of the `[[rung]]` part of `rung`, its heading left out.
fn part(lines: &[String], rung: Rung) -> Option<std::ops::Range<usize>> {
    let is_heading = |line: &String| line.trim_start().starts_with('[');
    let mut at = 0;
    while let Some(found) = lines[at..]
        .iter()
        .position(|line| line.trim_start().starts_with("[[rung]]"))
    {
        let start = at + found + 1;
        let end = lines[start..]
            .iter()
            .position(is_heading)
            .map_or(lines.len(), |n| start + n);
        let named = |line: &String| {
            let value = line
                .trim()
                .strip_prefix("rung")?
                .trim_start()
                .strip_prefix('=')?;
            Rung::from_word(value.split('#').next()?.trim().trim_matches(['"', '\'']))
        };
        if lines[start..end].iter().find_map(named) == Some(rung) {
            return Some(start..end);
        }
        at = end;
        if at >= lines.len() {
            break;
        }
    }
    None
}

/// True for the line that sets the condition of `measure`.
fn is_of(line: &str, measure: Measure) -> bool {
    line.trim_start()
        .strip_prefix(measure.word())
        .is_some_and(|rest| rest.trim_start().starts_with('='))
}

fn set(lines: &mut Vec<String>, limit: &NewLimit) -> Option<()> {
    let part = part(lines, limit.rung)?;
    let key = if limit.is_at_most {
        "at_most"
    } else {
        "at_least"
    };
    let value = format!("{:.2}", limit.value);
    match part.clone().find(|at| is_of(&lines[*at], limit.measure)) {
        Some(at) => {
            let line = &lines[at];
            let start = line.find(key)? + key.len();
            let digits = |c: char| c.is_ascii_digit() || c == '.';
            let number = start + line[start..].find(digits)?;
            let end = number
                + line[number..]
                    .find(|c| !digits(c))
                    .unwrap_or(line.len() - number);
            lines[at] = format!("{}{value}{}", &line[..number], &line[end..]);
        }
        None => {
            let stated = if limit.measure.needs_stated_uncertainty() {
                format!(", uncertainty = {USUAL_UNCERTAINTY}")
            } else {
                String::new()
            };
            let word = limit.measure.word();
            let new = format!("{word} = {{ {key} = {value}{stated} }}");
            let is_filled = |at: &usize| {
                let line = lines[*at].trim();
                !line.is_empty() && !line.starts_with('#')
            };
            let after = part
                .clone()
                .rev()
                .find(is_filled)
                .map_or(part.start, |at| at + 1);
            lines.insert(after, new);
        }
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ladder::shelf::built_in_text;

    fn limit(rung: usize, measure: Measure, value: f64) -> NewLimit {
        let rung = Rung::from_index(rung).expect("a rung");
        NewLimit {
            rung,
            measure,
            is_at_most: false,
            value,
        }
    }

    #[test]
    fn limits_change_and_all_else_stays() {
        let text = built_in_text("red").expect("built in");
        let rung = |i| Rung::from_index(i).expect("a rung");
        let limits = [
            limit(4, Measure::Coverage, 0.81),
            limit(2, Measure::Evenness, 0.4),
        ];
        let dropped = [(rung(3), Measure::Opacity)];
        let (new, ladder) =
            with_limits("red.toml", text, &limits, &dropped, "a remark").expect("written");
        assert!(new.starts_with("# a remark\n") && new.contains("coverage = { at_least = 0.81 }"));
        assert!(new.contains("# opacity = { at_least = 0.55 }   # left out"));
        assert!(new.contains("label = \"nearly solid\"") && new.contains("# legs ="));
        let asks = |k: usize, m| ladder.conditions[k].iter().any(|c| c.measure == m);
        assert!(
            asks(1, Measure::Evenness) && asks(4, Measure::Evenness) && !asks(0, Measure::Evenness)
        );
        assert!(!asks(2, Measure::Opacity) && asks(3, Measure::Opacity));
    }

    #[test]
    fn every_built_in_file_can_be_rewritten() {
        for line in crate::ladder::Shelf::default().lines() {
            let text = built_in_text(&line).expect("built in");
            let ladder = load(&line, text).expect("it loads");
            let top = &ladder.conditions[4];
            // A share of 0.99 is more than any built-in file asks; other measures have other units.
            for condition in top.iter().filter(|c| c.measure.is_share()).filter(|c| {
                matches!(
                    c.bounds,
                    crate::ladder::Bounds::Range {
                        at_least: Some(_),
                        ..
                    }
                )
            }) {
                let new = limit(5, condition.measure, 0.99);
                with_limits(&line, text, &[new], &[], "x")
                    .unwrap_or_else(|e| panic!("{line}: {e}"));
            }
        }
    }

    #[test]
    fn a_file_that_can_not_be_changed_is_left_to_the_house() {
        let text = built_in_text("red").expect("built in");
        let lower = [limit(5, Measure::Coverage, 0.10)];
        let error = with_limits("red.toml", text, &lower, &[], "x").expect_err("G5 below G4");
        assert_eq!(error.code(), "by_hand");
    }
}
