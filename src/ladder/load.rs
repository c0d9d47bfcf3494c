//! Rules text to [`Ladder`], with complaints that name line, column and cure.

use std::ops::Range;

use sha2::{Digest, Sha256};

use super::toml_text::{RulesError, Section, TomlText};
use super::{Bounds, Condition, Ladder, Measure, OffTypeLimits, Rung, Wish};
use crate::measures::{HueGate, LineColour, SolidityModel};

/// First word of every rules file.
pub const SCHEMA: &str = "catchcup.ladder/1";

const TOP_KEYS: [&str; 8] = [
    "schema",
    "line",
    "title",
    "colour",
    "off_type",
    "between_from",
    "rung",
    "selection",
];
const COLOUR_KEYS: [&str; 7] = [
    "carried_in",
    "hue",
    "chroma_floor",
    "without_hue",
    "brown_is_its_own",
    "full",
    "clear",
];
const CONDITION_KEYS: [&str; 4] = ["at_least", "at_most", "uncertainty", "unseen_passes"];
const HUE_KEYS: [&str; 4] = ["from_deg", "to_deg", "uncertainty", "unseen_passes"];

/// The ladder written in `text`; `file` is the name shown in complaints.
///
/// # Errors
/// Where the text is no TOML, has an unknown or missing key, a value of the wrong kind or out of range, lacks a rung, or
/// where a higher rung asks less than a lower one.
pub fn load(file: &str, text: &str) -> Result<Ladder, RulesError> {
    let source = TomlText { file, text };
    let table = source.parse()?;
    let top = Section::new(source, table.get_ref(), 0..0, "the file", &TOP_KEYS)?;
    check_schema(&top)?;
    let line = read_line(&top)?;
    let rungs = read_rungs(&top)?;
    let [conditions, male_conditions] =
        [stack(source, &rungs, false)?, stack(source, &rungs, true)?];
    let wish = Wish::read(&top)?.unwrap_or_else(|| Wish::of_best_rung(&conditions[4]));
    Ok(Ladder {
        wish,
        title: top.need_text("title")?.to_string(),
        colour: read_colour(&top, line)?,
        off_type: read_off_type(&top)?,
        between_from: top
            .number("between_from", 0.01, 0.5)?
            .map_or(BETWEEN_FROM, |n| n.value),
        labels: std::array::from_fn(|i| {
            rungs[i]
                .as_ref()
                .map_or_else(String::new, |r| r.label.clone())
        }),
        conditions,
        male_conditions,
        sha256: hex(&Sha256::digest(text.as_bytes())),
        line: line.to_string(),
    })
}

/// House rule: "too close to call" from this chance of the second-likeliest rung on.
const BETWEEN_FROM: f64 = 0.25;

/// One `[[rung]]` part as written.
struct RungText {
    label: String,
    span: Range<usize>,
    conditions: Vec<(Condition, Range<usize>)>,
    male: Vec<(Condition, Range<usize>)>,
}

fn check_schema(top: &Section<'_, '_>) -> Result<(), RulesError> {
    if !top.has("schema") {
        return Err(top.error(
            "schema",
            "this is no rules file: it does not begin with its kind",
            format!(
                "begin with a built-in one and change it: catchcup rules start red > my-red.toml (its first line is schema = \"{SCHEMA}\")"
            ),
        ));
    }
    let schema = top.need_text("schema")?;
    if schema == SCHEMA {
        return Ok(());
    }
    Err(top.error(
        "schema",
        format!("the file is of kind \"{schema}\", expected \"{SCHEMA}\""),
        format!("write schema = \"{SCHEMA}\""),
    ))
}

fn read_line<'t>(top: &Section<'t, '_>) -> Result<&'t str, RulesError> {
    let line = top.need_text("line")?;
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if !line.is_empty() && line.len() <= 24 && line.chars().all(plain) {
        return Ok(line);
    }
    Err(top.error(
        "line",
        format!(
            "`{line}` is no id of a line, expected small letters, digits and hyphens, 24 at most"
        ),
        "write it like \"rili-red\"; the name for people goes into `title`",
    ))
}

fn read_colour(top: &Section<'_, '_>, line: &str) -> Result<LineColour, RulesError> {
    let colour = top.need_section("colour", &COLOUR_KEYS)?;
    let model = match colour.need_text("carried_in")? {
        "shell" => SolidityModel::Shell,
        "tissue" => SolidityModel::Tissue,
        "white" => SolidityModel::White,
        other => {
            let message =
                format!("`carried_in` is \"{other}\", expected \"shell\", \"tissue\" or \"white\"");
            return Err(colour.error("carried_in", message, "write one of the three words"));
        }
    };
    Ok(LineColour {
        line: line.to_string(),
        model,
        hue: colour
            .section("hue", &["from_deg", "to_deg"])?
            .map(|hue| read_gate(&hue))
            .transpose()?,
        chroma_floor: colour.need_number("chroma_floor", 0.0, 100.0)?,
        achromatic: colour.flag("without_hue")?.unwrap_or(false),
        brown_allowed: colour.flag("brown_is_its_own")?.unwrap_or(false),
        full: colour.need_colours("full")?,
        clear: colour.need_colour("clear")?,
    })
}

fn read_gate(hue: &Section<'_, '_>) -> Result<HueGate, RulesError> {
    let from_deg = hue.need_number("from_deg", 0.0, 360.0)?;
    let to_deg = hue.need_number("to_deg", 0.0, 360.0)?;
    if from_deg == to_deg {
        return Err(hue.error(
            "to_deg",
            "the range of hues is empty",
            "let it run from one hue to another, for example 340 to 50",
        ));
    }
    Ok(HueGate { from_deg, to_deg })
}

fn read_off_type(top: &Section<'_, '_>) -> Result<OffTypeLimits, RulesError> {
    let Some(part) = top.section("off_type", &["wrong_hue_share", "brown_share"])? else {
        return Ok(OffTypeLimits {
            wrong_hue_share: None,
            brown_share: None,
        });
    };
    let limit = |key: &str| -> Result<Option<f64>, RulesError> {
        let Some(share) = part.section(key, &["at_most"])? else {
            return Ok(None);
        };
        share.need_number("at_most", 0.0, 1.0).map(Some)
    };
    Ok(OffTypeLimits {
        wrong_hue_share: limit("wrong_hue_share")?,
        brown_share: limit("brown_share")?,
    })
}

/// The rungs by height; G0 may be absent, the others not.
fn read_rungs(top: &Section<'_, '_>) -> Result<[Option<RungText>; 6], RulesError> {
    let mut known = vec!["rung", "label", "male"];
    known.extend(Measure::all().map(Measure::word));
    let mut rungs: [Option<RungText>; 6] = std::array::from_fn(|_| None);
    for part in top.sections("rung", &known)? {
        let rung = rung_of(&part)?;
        if rungs[rung.index()].is_some() {
            return Err(part.error(
                "rung",
                format!("{rung} stands twice in the file"),
                "keep one of the two [[rung]] parts",
            ));
        }
        rungs[rung.index()] = Some(read_rung(&part, rung)?);
    }
    match Rung::all()
        .skip(1)
        .find(|rung| rungs[rung.index()].is_none())
    {
        None => Ok(rungs),
        Some(rung) => {
            let hint = format!("add a [[rung]] part with rung = \"{rung}\" and its conditions");
            Err(top.error(
                "rung",
                format!("the ladder has no {rung}, expected G1 to G5"),
                hint,
            ))
        }
    }
}

fn rung_of(part: &Section<'_, '_>) -> Result<Rung, RulesError> {
    let word = part.need_text("rung")?;
    Rung::from_word(word).ok_or_else(|| {
        part.error(
            "rung",
            format!("`{word}` is no rung, expected G0 to G5"),
            "write rung = \"G5\" for the best; own names go into `label`",
        )
    })
}

fn read_rung(part: &Section<'_, '_>, rung: Rung) -> Result<RungText, RulesError> {
    let label = part.text("label")?.unwrap_or("");
    if label.chars().count() > 24 || label.chars().any(char::is_control) {
        return Err(part.error(
            "label",
            "the label is longer than 24 letters or has control characters",
            "shorten it",
        ));
    }
    let words: Vec<&str> = Measure::all().map(Measure::word).collect();
    let male = part.section("male", &words)?;
    let text = RungText {
        label: label.to_string(),
        span: part.span(),
        conditions: read_conditions(part)?,
        male: male.map_or(Ok(Vec::new()), |section| read_conditions(&section))?,
    };
    let none = text.conditions.is_empty();
    match (rung == Rung::G0, none && text.male.is_empty()) {
        (true, false) => Err(part.error(
            "rung",
            "G0 has conditions, expected none",
            "G0 is everything below G1: leave only its label",
        )),
        (false, true) => Err(part.error(
            "rung",
            format!("{rung} has no condition"),
            "add one, for example coverage = { at_least = 0.5 }",
        )),
        _ => Ok(text),
    }
}

fn read_conditions(part: &Section<'_, '_>) -> Result<Vec<(Condition, Range<usize>)>, RulesError> {
    let mut found = Vec::new();
    for measure in Measure::all().filter(|m| part.has(m.word())) {
        found.push((read_condition(part, measure)?, part.span_of(measure.word())));
    }
    Ok(found)
}

fn read_condition(part: &Section<'_, '_>, measure: Measure) -> Result<Condition, RulesError> {
    let word = measure.word();
    let keys: &[&str] = if measure == Measure::Hue {
        &HUE_KEYS
    } else {
        &CONDITION_KEYS
    };
    let section = part.section(word, keys)?.ok_or_else(|| {
        part.error(
            word,
            format!("`{word}` is empty"),
            "give it at_least or at_most",
        )
    })?;
    let bounds = if measure == Measure::Hue {
        Bounds::Hue(read_gate(&section)?)
    } else {
        read_range(&section, measure)?
    };
    Ok(Condition {
        measure,
        bounds,
        uncertainty: read_uncertainty(&section, measure)?,
        unseen_passes: section
            .flag("unseen_passes")?
            .unwrap_or(measure.often_unseen()),
    })
}

fn read_range(section: &Section<'_, '_>, measure: Measure) -> Result<Bounds, RulesError> {
    let (low, high) = measure.range();
    let at_least = section.number("at_least", low, high)?.map(|n| n.value);
    let at_most = section.number("at_most", low, high)?.map(|n| n.value);
    match (at_least, at_most) {
        (None, None) => Err(section.error(
            "at_least",
            format!("`{}` has no limit", measure.word()),
            "give it at_least or at_most",
        )),
        (Some(l), Some(h)) if l > h => Err(section.error(
            "at_least",
            format!("at_least {l} is above at_most {h}"),
            "swap the two or drop one",
        )),
        _ => Ok(Bounds::Range { at_least, at_most }),
    }
}

fn read_uncertainty(section: &Section<'_, '_>, measure: Measure) -> Result<f64, RulesError> {
    let stated = section.number("uncertainty", 0.0, 100.0)?.map(|n| n.value);
    match (stated, measure.needs_stated_uncertainty()) {
        (Some(u), true) => Ok(u),
        (None, false) => Ok(0.0),
        (None, true) => {
            let message = format!(
                "`{}` has no uncertainty of its own from the photo",
                measure.word()
            );
            Err(section.error(
                "uncertainty",
                message,
                "add one standard deviation, for example uncertainty = 2.0",
            ))
        }
        (Some(_), false) => {
            let message = format!("`{}` brings its uncertainty from the photo", measure.word());
            Err(section.error("uncertainty", message, "leave `uncertainty` out here"))
        }
    }
}

/// What each rung asks once the limits of the rungs below are taken over.
fn stack(
    source: TomlText<'_>,
    rungs: &[Option<RungText>; 6],
    male: bool,
) -> Result<[Vec<Condition>; 5], RulesError> {
    let mut stacked: [Vec<Condition>; 5] = Default::default();
    let mut asked: Vec<Condition> = Vec::new();
    for (index, rung) in rungs.iter().enumerate().skip(1) {
        let Some(rung) = rung else { continue };
        let own = own_conditions(rung, male);
        for (condition, span) in own {
            replace(
                source,
                &mut asked,
                condition,
                if span.is_empty() {
                    rung.span.clone()
                } else {
                    span
                },
                index,
            )?;
        }
        stacked[index - 1] = asked.clone();
    }
    Ok(stacked)
}

/// The rung's own conditions; a male's own limit takes the place of the general one.
fn own_conditions(rung: &RungText, male: bool) -> Vec<(Condition, Range<usize>)> {
    let mut own = rung.conditions.clone();
    if male {
        own.retain(|(general, _)| {
            rung.male
                .iter()
                .all(|(special, _)| special.measure != general.measure)
        });
        own.extend(rung.male.iter().cloned());
    }
    own.sort_by_key(|(condition, _)| condition.measure);
    own
}

/// Puts `condition` in the place of the same measure's from below, which must not ask more.
fn replace(
    source: TomlText<'_>,
    asked: &mut Vec<Condition>,
    condition: Condition,
    span: Range<usize>,
    index: usize,
) -> Result<(), RulesError> {
    if let Some(below) = asked
        .iter()
        .find(|below| below.measure == condition.measure)
        && let Some(complaint) = asks_less(below, &condition)
    {
        let message = format!(
            "G{index} asks less than the rung below: {} {complaint}",
            condition.measure.word()
        );
        return Err(source.error(
            span,
            message,
            "let limits rise from G1 to G5, or leave out the line to keep the limit from below",
        ));
    }
    asked.retain(|below| below.measure != condition.measure);
    asked.push(condition);
    Ok(())
}

/// What makes `above` weaker than `below`, `None` where it is as strict in every way.
fn asks_less(below: &Condition, above: &Condition) -> Option<String> {
    match (below.bounds, above.bounds) {
        (
            Bounds::Range {
                at_least: l0,
                at_most: h0,
            },
            Bounds::Range {
                at_least: l1,
                at_most: h1,
            },
        ) => {
            let low = l0
                .filter(|l0| l1.is_none_or(|l1| l1 < *l0))
                .map(|l0| falls("at_least", l0, l1));
            low.or_else(|| {
                h0.filter(|h0| h1.is_none_or(|h1| h1 > *h0))
                    .map(|h0| falls("at_most", h0, h1))
            })
        }
        (Bounds::Hue(outer), Bounds::Hue(inner)) => {
            let inside = outer.contains(inner.from_deg)
                && outer.contains(inner.to_deg)
                && width(inner) <= width(outer);
            (!inside).then(|| "lets in hues that the rung below does not".to_string())
        }
        _ => Some("is of another kind".to_string()),
    }
}

fn width(gate: HueGate) -> f64 {
    (gate.to_deg - gate.from_deg).rem_euclid(360.0)
}

fn falls(key: &str, below: f64, above: Option<f64>) -> String {
    match above {
        Some(above) => format!("{key} goes from {below} to {above}"),
        None => format!("has no {key}, the rung below has {below}"),
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
