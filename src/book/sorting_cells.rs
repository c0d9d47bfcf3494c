//! Sortings in a cell: what was learned, and what was decided of a cup, as JSON.

use serde_json::{Value, json};

use super::rows::{sex, sex_word};
use crate::ladder::Measure;
use crate::selection::sorting::{
    Before, Cup, CupAnimal, Decision, FromTub, Judged, Setup, Verdict,
};
use crate::selection::worth::{SetAside, WeightsFrom, Yardstick};
use crate::units::Measured;

/// Words of where the weights came from.
const FROM: [(WeightsFrom, &str); 3] = [
    (WeightsFrom::Rules, "rules"),
    (WeightsFrom::BestRung, "best_rung"),
    (WeightsFrom::SmithHazel, "smith_hazel"),
];

/// What was known before the first cup.
pub(super) fn learned(stick: &Yardstick, setup: &Setup) -> String {
    let weights: Vec<Value> = stick
        .weights
        .iter()
        .map(|(measure, weight)| json!([measure.word(), weight]))
        .collect();
    let from = FROM
        .iter()
        .find(|(from, _)| *from == stick.from)
        .map_or("", |(_, word)| word);
    json!({
        "weights": weights,
        "from": from,
        "scales": stick.scales,
        "counts": stick.counts,
        "earlier": setup.earlier,
        "earlier_others": setup.earlier_others,
    })
    .to_string()
}

/// The yardstick, the earlier worths and the count of other earlier animals of a cell; `None` where it can't be read.
pub(super) fn read_learned(cell: &str) -> Option<(Yardstick, [Vec<f64>; 2], usize)> {
    let all: Value = serde_json::from_str(cell).ok()?;
    let numbers = |value: &Value| -> Option<Vec<f64>> {
        value.as_array()?.iter().map(Value::as_f64).collect()
    };
    let pairs = |value: &Value| -> Option<Vec<(f64, f64)>> {
        let pair = |pair: &Value| Some((pair.get(0)?.as_f64()?, pair.get(1)?.as_f64()?));
        value.as_array()?.iter().map(pair).collect()
    };
    let weight = |pair: &Value| {
        let word = pair.get(0)?.as_str()?;
        let measure = Measure::all().find(|m| m.word() == word)?;
        Some((measure, pair.get(1)?.as_f64()?))
    };
    let weights: Option<Vec<(Measure, f64)>> =
        all["weights"].as_array()?.iter().map(weight).collect();
    let word = all["from"].as_str()?;
    let count = |at: usize| all["counts"][at].as_u64().map(|n| n as usize);
    let stick = Yardstick {
        weights: weights?,
        from: FROM.iter().find(|(_, known)| *known == word)?.0,
        scales: [pairs(&all["scales"][0])?, pairs(&all["scales"][1])?],
        counts: [count(0)?, count(1)?],
    };
    let earlier = [numbers(&all["earlier"][0])?, numbers(&all["earlier"][1])?];
    Some((stick, earlier, all["earlier_others"].as_u64()? as usize))
}

/// The animals of a cup with their verdicts.
pub(super) fn animals(cup: &Cup, decision: &Decision) -> String {
    let of = |animal: &CupAnimal| {
        let judged = decision
            .animals
            .iter()
            .find(|judged| judged.no == animal.no);
        let (place, verdict) = match judged.map(|judged| judged.verdict) {
            Some(Verdict::Keep) => (None, "keep"),
            Some(Verdict::Hold(place)) => (Some(place), "hold"),
            Some(Verdict::MoveOut) => (None, "move_out"),
            Some(Verdict::Back) | None => (None, "back"),
        };
        let (worth, aside) = match &animal.worth {
            Ok(worth) => (Some([worth.value, worth.uncertainty]), None),
            Err(SetAside::Unread(measure)) => (None, Some(format!("unread {}", measure.word()))),
            Err(why) => (None, Some(why.word().to_string())),
        };
        json!({
            "no": animal.no,
            "sex": sex_word(animal.sex),
            "worth": worth,
            "aside": aside,
            "verdict": verdict,
            "place": place,
            "look_twice": judged.is_some_and(|judged| judged.look_twice),
            "done": judged.is_some_and(|judged| judged.done),
            "before": animal.before.map(|before| json!([before.scoop, before.no])),
        })
    };
    Value::from_iter(cup.animals.iter().map(of)).to_string()
}

/// Animals and verdicts of a cell; `None` where it can't be read.
pub(super) fn read_animals(cell: &str) -> Option<(Vec<CupAnimal>, Vec<Judged>)> {
    let all: Value = serde_json::from_str(cell).ok()?;
    let mut read = (Vec::new(), Vec::new());
    for animal in all.as_array()? {
        let no = u32::try_from(animal["no"].as_u64()?).ok()?;
        let sex = sex(animal["sex"].as_str()?);
        let worth = match animal["aside"].as_str() {
            Some(word) => Err(aside(word)?),
            None => {
                let number = |at: usize| animal["worth"][at].as_f64();
                Ok(Measured::new(number(0)?, number(1)?))
            }
        };
        let verdict = match animal["verdict"].as_str()? {
            "keep" => Verdict::Keep,
            "hold" => Verdict::Hold(u32::try_from(animal["place"].as_u64()?).ok()?),
            "move_out" => Verdict::MoveOut,
            _ => Verdict::Back,
        };
        // Cups filed before a second photo could differ from the first have neither `done` nor `before`.
        let before = match &animal["before"] {
            Value::Null => None,
            pair => Some(Before {
                scoop: pair.get(0)?.as_i64()?,
                no: u32::try_from(pair.get(1)?.as_u64()?).ok()?,
            }),
        };
        read.0.push(CupAnimal {
            no,
            sex,
            worth,
            before,
        });
        read.1.push(Judged {
            no,
            sex,
            verdict,
            look_twice: animal["look_twice"].as_bool()?,
            done: animal["done"].as_bool().unwrap_or(false),
        });
    }
    Some(read)
}

fn aside(word: &str) -> Option<SetAside> {
    Some(match word {
        "juvenile" => SetAside::Juvenile,
        "cut" => SetAside::Cut,
        "off_type" => SetAside::OffType,
        "milky" => SetAside::Milky,
        other => {
            let measure = other.strip_prefix("unread ")?;
            SetAside::Unread(Measure::all().find(|m| m.word() == measure)?)
        }
    })
}

/// What left the tub.
pub(super) fn from_tub(all: &[FromTub]) -> String {
    let one = |left: &FromTub| json!([left.sex, left.place, left.keep]);
    Value::from_iter(all.iter().map(one)).to_string()
}

/// What left the tub, of a cell.
pub(super) fn read_from_tub(cell: &str) -> Option<Vec<FromTub>> {
    let all: Value = serde_json::from_str(cell).ok()?;
    let one = |left: &Value| {
        Some(FromTub {
            sex: left.get(0)?.as_u64().filter(|sex| *sex < 2)? as usize,
            place: u32::try_from(left.get(1)?.as_u64()?).ok()?,
            keep: left.get(2)?.as_bool()?,
        })
    };
    all.as_array()?.iter().map(one).collect()
}

/// Where the line lay.
pub(super) fn line(line: &[Option<f64>; 2]) -> String {
    json!(line).to_string()
}

/// Where the line lay, of a cell.
pub(super) fn read_line(cell: &str) -> Option<[Option<f64>; 2]> {
    let all: Value = serde_json::from_str(cell).ok()?;
    Some([all.get(0)?.as_f64(), all.get(1)?.as_f64()])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::Sex;

    #[test]
    fn what_is_written_is_read_again() {
        let worths = [
            (Sex::Female, Ok(Measured::new(0.731, 0.2)), Verdict::Keep),
            (Sex::Male, Ok(Measured::new(-1.5, 0.0)), Verdict::Hold(3)),
            (
                Sex::Male,
                Err(SetAside::Unread(Measure::Opacity)),
                Verdict::Back,
            ),
            (Sex::Unsure, Err(SetAside::OffType), Verdict::MoveOut),
        ];
        let (mut cup, mut decision) = (Cup::default(), Decision::default());
        for (at, (sex, worth, verdict)) in worths.into_iter().enumerate() {
            let no = at as u32 + 1;
            let before = (at == 1).then_some(Before { scoop: 7, no: 4 });
            cup.animals.push(CupAnimal {
                no,
                sex,
                worth,
                before,
            });
            decision.animals.push(Judged {
                no,
                sex,
                verdict,
                look_twice: at == 2,
                done: at == 1,
            });
        }
        decision.line = [Some(0.25), None];
        decision.from_tub = vec![FromTub {
            sex: 1,
            place: 7,
            keep: true,
        }];
        let read = read_animals(&animals(&cup, &decision));
        assert_eq!(read, Some((cup.animals, decision.animals)));
        assert_eq!(
            read_from_tub(&from_tub(&decision.from_tub)),
            Some(decision.from_tub)
        );
        assert_eq!(read_line(&line(&decision.line)), Some(decision.line));
        assert_eq!(read_animals("[{}]"), None);
    }
}
