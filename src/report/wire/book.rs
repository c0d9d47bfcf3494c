//! The book's objects, one line of JSON each.

use std::collections::BTreeMap;

use serde::Serialize;

use super::NoteObject;
pub use super::kept::scoop;
use crate::book::care::Checked;
use crate::book::import::Imported;
use crate::book::{
    Condition, Generation, Hold, Holds, Line, Note, ScoopEntry, TankState, TrailEntry, WhenFrom,
};
use crate::doubt;
use crate::report::book::filing::Filed;
use crate::report::book::hold_word;

pub(super) fn json<T: Serialize>(object: &T) -> String {
    serde_json::to_string(object).expect("the objects have text keys and finite numbers only")
}

#[derive(Serialize)]
struct TankObject<'a> {
    schema: &'static str,
    tank: &'a str,
    line: Option<&'a str>,
    ladder: Option<&'a str>,
    place: &'a str,
    litres: Option<f64>,
    since: String,
    retired: Option<String>,
    generation: Option<GenerationObject<'a>>,
    conditions: BTreeMap<&'static str, &'a str>,
    stop_selling: bool,
    holds: Vec<HoldObject>,
    scoops: u32,
    last_scoop: Option<EntryObject<'a>>,
    last_off_type: Option<EntryObject<'a>>,
}

#[derive(Serialize)]
struct HoldObject {
    hold: &'static str,
    until: Option<String>,
    count: Option<u32>,
    days: Option<u32>,
}

#[derive(Serialize)]
struct EntryObject<'a> {
    scoop: i64,
    tank: &'a str,
    at: String,
    who: &'a str,
    animals: u32,
}

#[derive(Serialize)]
struct GenerationObject<'a> {
    schema: &'static str,
    tank: &'a str,
    line: &'a str,
    number: u32,
    since: String,
    females: Option<u32>,
    males: Option<u32>,
    origin: &'a str,
    parents: &'a [String],
}

#[derive(Serialize)]
struct LineObject<'a> {
    schema: &'static str,
    line: &'a str,
    title: &'a str,
    ladder: &'a str,
    since: String,
    ended: Option<String>,
    generations: Vec<GenerationObject<'a>>,
}

#[derive(Serialize)]
struct ConditionObject<'a> {
    schema: &'static str,
    tank: Option<&'a str>,
    condition: &'static str,
    value: &'a str,
    since: String,
}

#[derive(Serialize)]
struct KeeperNoteObject<'a> {
    schema: &'static str,
    tank: &'a str,
    note: &'static str,
    date: String,
    count: Option<u32>,
    until: Option<String>,
    other: &'a str,
    text: &'a str,
}

#[derive(Serialize)]
struct ChangeObject<'a> {
    schema: &'static str,
    entry: i64,
    at: String,
    who: &'a str,
    what: &'a str,
    taken_back: bool,
}

#[derive(Serialize)]
struct FiledObject<'a> {
    schema: &'static str,
    photo: &'a str,
    filed: bool,
    scoop: Option<i64>,
    tank: Option<&'a str>,
    animals: Option<usize>,
    taken: Option<String>,
    taken_from: Option<&'static str>,
    second_of: Option<i64>,
    stop_selling: Option<bool>,
    alarms: Vec<NoteObject<'a>>,
    not_filed: Option<NoteObject<'a>>,
}

#[derive(Serialize)]
struct CheckObject<'a> {
    schema: &'static str,
    in_order: bool,
    tanks: u32,
    lines: u32,
    scoops: u32,
    animals: u32,
    photos: u32,
    bytes: u64,
    faults: &'a [String],
}

#[derive(Serialize)]
struct ImportObject<'a> {
    schema: &'static str,
    scoops: usize,
    animals: usize,
    new_tanks: &'a [String],
    new_lines: &'a [String],
    left_out_columns: &'a [String],
}

#[derive(Serialize)]
struct DoneObject<'a> {
    schema: &'static str,
    done: &'a str,
}

/// A tank as it stands.
pub fn tank(state: &TankState) -> String {
    let t = &state.tank;
    json(&TankObject {
        schema: "catchcup.tank/1",
        tank: &t.code,
        line: t.line.as_deref(),
        ladder: t.ladder.as_deref(),
        place: &t.place,
        litres: t.litres,
        since: t.since.to_string(),
        retired: t.retired.map(|day| day.to_string()),
        generation: state.generation.as_ref().map(generation_object),
        conditions: state
            .conditions
            .iter()
            .map(|(kind, value)| (kind.word(), value.as_str()))
            .collect(),
        stop_selling: state.holds.stop_selling(),
        holds: holds(&state.holds),
        scoops: state.scoops,
        last_scoop: state.last_scoop.as_ref().map(entry),
        last_off_type: state.last_off_type.as_ref().map(entry),
    })
}

fn holds(holds: &Holds) -> Vec<HoldObject> {
    let object = |hold: &Hold| {
        let (until, count, days) = match *hold {
            Hold::Quarantine { until } => (Some(until.to_string()), None, None),
            Hold::Losses { count, days } | Hold::Watch { count, days } => {
                (None, Some(count), Some(days))
            }
        };
        HoldObject {
            hold: hold_word(hold),
            until,
            count,
            days,
        }
    };
    holds.0.iter().map(object).collect()
}

fn entry(entry: &ScoopEntry) -> EntryObject<'_> {
    EntryObject {
        scoop: entry.number,
        tank: &entry.tank,
        at: entry.at.to_string(),
        who: &entry.who,
        animals: entry.animals,
    }
}

fn generation_object(g: &Generation) -> GenerationObject<'_> {
    GenerationObject {
        schema: "catchcup.generation/1",
        tank: &g.tank,
        line: &g.line,
        number: g.number,
        since: g.since.to_string(),
        females: g.females,
        males: g.males,
        origin: &g.origin,
        parents: &g.parents,
    }
}

/// A generation.
pub fn generation(g: &Generation) -> String {
    json(&generation_object(g))
}

/// A line with its generations.
pub fn line(line: &Line, generations: &[Generation]) -> String {
    json(&LineObject {
        schema: "catchcup.line/1",
        line: &line.code,
        title: &line.title,
        ladder: &line.ladder,
        since: line.since.to_string(),
        ended: line.ended.map(|day| day.to_string()),
        generations: generations
            .iter()
            .filter(|g| g.line == line.code)
            .map(generation_object)
            .collect(),
    })
}

/// A condition.
pub fn condition(condition: &Condition) -> String {
    json(&ConditionObject {
        schema: "catchcup.condition/1",
        tank: condition.tank.as_deref(),
        condition: condition.kind.word(),
        value: &condition.value,
        since: condition.since.to_string(),
    })
}

/// A note.
pub fn note(note: &Note) -> String {
    json(&KeeperNoteObject {
        schema: "catchcup.note/1",
        tank: &note.tank,
        note: note.kind.word(),
        date: note.day.to_string(),
        count: note.count,
        until: note.until.map(|day| day.to_string()),
        other: &note.other,
        text: &note.text,
    })
}

/// An entry of the trail.
pub fn change(entry: &TrailEntry) -> String {
    json(&ChangeObject {
        schema: "catchcup.change/1",
        entry: entry.number,
        at: entry.at.to_string(),
        who: &entry.who,
        what: &entry.what,
        taken_back: entry.taken_back,
    })
}

/// A scoop that was filed, with its alarms.
pub fn filed(filed: &Filed, today: jiff::civil::Date) -> String {
    let alarms = filed.alarms(today);
    json(&FiledObject {
        schema: "catchcup.filed/1",
        photo: &filed.photo,
        filed: true,
        scoop: Some(filed.number),
        tank: Some(&filed.tank),
        animals: Some(filed.animals),
        taken: Some(filed.at.0.to_string()),
        taken_from: Some(match filed.at.1 {
            WhenFrom::Photo => "photo",
            WhenFrom::Person => "person",
        }),
        second_of: filed.second_of,
        stop_selling: Some(filed.holds.stop_selling()),
        alarms: alarms.iter().map(NoteObject::of).collect(),
        not_filed: None,
    })
}

/// A photo that was not filed, and why.
pub fn not_filed(photo: &str, why: &doubt::Note) -> String {
    json(&FiledObject {
        schema: "catchcup.filed/1",
        photo,
        filed: false,
        scoop: None,
        tank: None,
        animals: None,
        taken: None,
        taken_from: None,
        second_of: None,
        stop_selling: None,
        alarms: Vec::new(),
        not_filed: Some(NoteObject::of(why)),
    })
}

/// What a check found.
pub fn checked(found: &Checked) -> String {
    json(&CheckObject {
        schema: "catchcup.check/1",
        in_order: found.faults.is_empty(),
        tanks: found.tanks,
        lines: found.lines,
        scoops: found.scoops,
        animals: found.animals,
        photos: found.photos,
        bytes: found.bytes,
        faults: &found.faults,
    })
}

/// What an import did.
pub fn imported(done: &Imported, left_out: &[String]) -> String {
    json(&ImportObject {
        schema: "catchcup.import/1",
        scoops: done.scoops,
        animals: done.animals,
        new_tanks: &done.new_tanks,
        new_lines: &done.new_lines,
        left_out_columns: left_out,
    })
}

/// Something was done that has no object of its own.
pub fn done(what: &str) -> String {
    json(&DoneObject {
        schema: "catchcup.done/1",
        done: what,
    })
}
