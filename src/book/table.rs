//! A table of past records: one row an animal, read without a fault or refused with every fault named.

use std::collections::BTreeMap;

use jiff::civil::{Date, DateTime};

use super::lines::generation_number;
use super::names;
use crate::error::Error;
use crate::ladder::{Measure, Rung};
use crate::measures::{Sex, SexFrom};
use crate::scoop::KeptAnimal;
use crate::scoop::kept::KeptColour;
use crate::units::Measured;

/// Columns that are understood; `tank` and `date` must be there.
pub const COLUMNS: [&str; 14] = [
    "tank",
    "line",
    "generation",
    "date",
    "scoop",
    "no",
    "sex",
    "length_mm",
    "coverage",
    "opacity",
    "evenness",
    "hue_deg",
    "chroma",
    "rung",
];

/// Most faults that are listed.
const FAULTS_SHOWN: usize = 20;

/// A table that was read without a fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Scoops in the order of their first row.
    pub scoops: Vec<TableScoop>,
    /// Columns that are not understood, left out.
    pub unknown: Vec<String>,
}

/// One scoop of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct TableScoop {
    /// Number of its first row in the file, headings = 1.
    pub row: u64,
    /// Code of its tank.
    pub tank: String,
    /// Code of its line.
    pub line: Option<String>,
    /// Its generation.
    pub generation: Option<u32>,
    /// When it was taken.
    pub at: DateTime,
    /// Its name in the table.
    pub label: String,
    /// Its animals.
    pub animals: Vec<KeptAnimal>,
}

/// A table as it stands in `text`: commas, or semicolons with decimal commas as some spreadsheets write them. `name` is the
/// file's name in complaints.
///
/// # Errors
/// Where a needed column is missing, unknown columns stand there and `leave_out_unknown` is false, or rows are faulty: all
/// of them are named.
pub fn read_table(name: &str, text: &str, leave_out_unknown: bool) -> Result<Table, Error> {
    let text = text.trim_start_matches('\u{feff}');
    let semicolons = text
        .lines()
        .next()
        .is_some_and(|line| line.contains(';') && !line.contains(','));
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(if semicolons { b';' } else { b',' })
        .from_reader(text.as_bytes());
    let headings = reader
        .headers()
        .map_err(|e| no_table(name, &e.to_string()))?
        .clone();
    let headings: Vec<String> = headings.iter().map(|h| h.trim().to_lowercase()).collect();
    let unknown = check_headings(name, &headings, leave_out_unknown)?;
    let (mut scoops, mut faults) = (Vec::new(), Vec::new());
    let mut known: BTreeMap<(String, DateTime, String), usize> = BTreeMap::new();
    for (index, record) in reader.records().enumerate() {
        let number = index as u64 + 2;
        let row = record.map_err(|e| e.to_string()).and_then(|record| {
            let cell = |column: &str| {
                let at = headings.iter().position(|h| h == column);
                unguarded(at.and_then(|at| record.get(at)).unwrap_or(""))
                    .trim()
                    .to_string()
            };
            read_row(
                number,
                &Cells {
                    cell: &cell,
                    decimal_comma: semicolons,
                },
            )
        });
        match row {
            Ok(row) => add_row(row, &mut scoops, &mut known, &mut faults),
            Err(fault) => faults.push(format!("row {number}: {fault}")),
        }
    }
    if !faults.is_empty() {
        return Err(faulty_rows(name, &faults));
    }
    Ok(Table { scoops, unknown })
}

/// A cell without the apostrophe that keeps spreadsheets from taking it for a formula.
///
/// ```
/// use catchcup::book::table::unguarded;
/// assert_eq!(unguarded("'=A1"), "=A1");
/// assert_eq!(unguarded("'tis"), "'tis");
/// ```
pub fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if rest.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\'']) => rest,
        _ => cell,
    }
}

fn check_headings(
    name: &str,
    headings: &[String],
    leave_out_unknown: bool,
) -> Result<Vec<String>, Error> {
    for needed in ["tank", "date"] {
        if !headings.iter().any(|h| h == needed) {
            return Err(no_table(name, &format!("it has no column `{needed}`")));
        }
    }
    let twice = headings
        .iter()
        .enumerate()
        .find(|(i, h)| headings[..*i].contains(h));
    if let Some((_, twice)) = twice {
        return Err(no_table(
            name,
            &format!("the column `{twice}` stands there twice"),
        ));
    }
    let unknown: Vec<String> = headings
        .iter()
        .filter(|h| !COLUMNS.contains(&h.as_str()))
        .cloned()
        .collect();
    if !unknown.is_empty() && !leave_out_unknown {
        return Err(Error::book(
            "unknown_columns",
            format!("{name}: unknown columns: {}", unknown.join(", ")),
            format!(
                "columns are: {}; rename them, or leave the unknown ones out: --leave-out-unknown",
                COLUMNS.join(", ")
            ),
        ));
    }
    Ok(unknown)
}

fn no_table(name: &str, why: &str) -> Error {
    Error::book(
        "not_a_table",
        format!("{name} can't be read as a table: {why}"),
        format!(
            "the first row names the columns, for example: {}",
            COLUMNS.join(",")
        ),
    )
}

pub(super) fn faulty_rows(name: &str, faults: &[String]) -> Error {
    let shown: Vec<&str> = faults
        .iter()
        .take(FAULTS_SHOWN)
        .map(String::as_str)
        .collect();
    let more = match faults.len().saturating_sub(FAULTS_SHOWN) {
        0 => String::new(),
        more => format!("\n  and {more} more"),
    };
    Error::book(
        "bad_rows",
        format!(
            "{name}: {} faulty row{}, nothing was imported:\n  {}{more}",
            faults.len(),
            if faults.len() == 1 { "" } else { "s" },
            shown.join("\n  ")
        ),
        "correct these rows (row 1 holds the headings), then import the file again",
    )
}

/// Cells of a row by column.
struct Cells<'a> {
    cell: &'a dyn Fn(&str) -> String,
    decimal_comma: bool,
}

impl Cells<'_> {
    fn text(&self, column: &str) -> String {
        (self.cell)(column)
    }

    /// A number from `low` to `high`; `None` for an empty cell.
    fn number(&self, column: &str, low: f64, high: f64) -> Result<Option<f64>, String> {
        let text = self.text(column);
        if text.is_empty() {
            return Ok(None);
        }
        let plain = if self.decimal_comma {
            text.replace(',', ".")
        } else {
            text.clone()
        };
        let number: f64 = plain
            .parse()
            .map_err(|_| format!("{column} is `{text}`, expected a number"))?;
        if number >= low && number <= high {
            return Ok(Some(number));
        }
        let cure = if high == 1.0 && number > 1.0 && number <= 100.0 {
            format!(" (shares are 0 to 1: write {})", number / 100.0)
        } else {
            String::new()
        };
        Err(format!(
            "{column} is {text}, expected {low} to {high}{cure}"
        ))
    }
}

fn read_row(number: u64, cells: &Cells<'_>) -> Result<TableScoop, String> {
    let tank = names::code("tank", &cells.text("tank")).map_err(|e| e.to_string())?;
    let line = match cells.text("line") {
        empty if empty.is_empty() => None,
        line => Some(names::code("line", &line).map_err(|e| e.to_string())?),
    };
    let generation = match cells.text("generation") {
        empty if empty.is_empty() => None,
        word => Some(generation_number(&word).ok_or_else(|| {
            format!("generation is `{word}`, expected founders, F1, F2 and so on")
        })?),
    };
    let date = cells.text("date");
    let at = read_moment(&date)
        .ok_or_else(|| format!("date is `{date}`, expected YYYY-MM-DD or YYYY-MM-DD HH:MM"))?;
    Ok(TableScoop {
        row: number,
        tank,
        line,
        generation,
        at,
        label: cells.text("scoop"),
        animals: vec![read_animal(cells)?],
    })
}

/// `2026-05-01`, `2026-05-01 18:30` or `2026-05-01T18:30:00`; noon where no time is given.
pub fn read_moment(text: &str) -> Option<DateTime> {
    if let Ok(date) = text.parse::<Date>()
        && text.len() == 10
    {
        return Some(date.at(12, 0, 0, 0));
    }
    let joined = text.replacen(' ', "T", 1);
    let full = if joined.len() == 16 {
        format!("{joined}:00")
    } else {
        joined
    };
    (full.len() == 19).then(|| full.parse().ok()).flatten()
}

fn read_animal(cells: &Cells<'_>) -> Result<KeptAnimal, String> {
    let no = cells.number("no", 1.0, 100_000.0)?.unwrap_or(0.0);
    if no.fract() != 0.0 {
        return Err(format!("no is {no}, expected a whole number"));
    }
    let mut animal = KeptAnimal::blank(no as u32);
    animal.sex = match cells.text("sex").to_lowercase().as_str() {
        "f" | "female" => Sex::Female,
        "m" | "male" => Sex::Male,
        "" | "unsure" | "?" => Sex::Unsure,
        other => return Err(format!("sex is `{other}`, expected female, male or unsure")),
    };
    if animal.sex != Sex::Unsure {
        animal.sex_from = SexFrom::Given;
    }
    let measures = [
        (Measure::LengthMm, 100.0),
        (Measure::Coverage, 1.0),
        (Measure::Opacity, 1.0),
        (Measure::Evenness, 1.0),
    ];
    for (measure, high) in measures {
        let value = cells.number(measure.word(), 0.0, high)?;
        if let Some(slot) = animal.slot(measure) {
            // A table says no uncertainty: 0 stands for "not stated".
            *slot = value.map(|value| Measured::new(value, 0.0));
        }
    }
    let hue_deg = cells.number("hue_deg", 0.0, 360.0)?.map(|hue| hue % 360.0);
    let chroma = cells.number("chroma", 0.0, 200.0)?;
    if hue_deg.is_some() || chroma.is_some() {
        animal.colour = Some(KeptColour {
            lab: None,
            lab_abs: None,
            chroma,
            hue_deg,
        });
    }
    match cells.text("rung").as_str() {
        "" => {}
        "off-type" | "off_type" => animal.off_ladder = Some("off_type".into()),
        word => {
            let rung = Rung::from_word(word)
                .ok_or_else(|| format!("rung is `{word}`, expected G0 to G5 or off-type"))?;
            animal.rung = Some(rung);
        }
    }
    Ok(animal)
}

fn add_row(
    row: TableScoop,
    scoops: &mut Vec<TableScoop>,
    known: &mut BTreeMap<(String, DateTime, String), usize>,
    faults: &mut Vec<String>,
) {
    let key = (row.tank.to_lowercase(), row.at, row.label.clone());
    let Some(&index) = known.get(&key) else {
        known.insert(key, scoops.len());
        let mut row = row;
        number_blank(&mut row.animals, 0);
        scoops.push(row);
        return;
    };
    let scoop = &mut scoops[index];
    if (&scoop.line, scoop.generation) != (&row.line, row.generation) {
        faults.push(format!(
            "row {}: line or generation differ from row {} of the same scoop",
            row.row, scoop.row
        ));
    }
    let mut animals = row.animals;
    number_blank(&mut animals, scoop.animals.len());
    for animal in animals {
        if scoop.animals.iter().any(|other| other.no == animal.no) {
            faults.push(format!(
                "row {}: animal {} stands there twice in the scoop of row {}",
                row.row, animal.no, scoop.row
            ));
        }
        scoop.animals.push(animal);
    }
}

/// Animals without a number get the next one.
fn number_blank(animals: &mut [KeptAnimal], before: usize) {
    for (index, animal) in animals.iter_mut().enumerate() {
        if animal.no == 0 {
            animal.no = (before + index + 1) as u32;
        }
    }
}
