//! A table of own rungs: one row a rung, read without a fault or refused with every fault named.

use super::own_rungs::NewOwnRung;
use super::table::{faulty_rows, read_moment, unguarded};
use crate::error::Error;
use crate::ladder::Rung;

/// Columns that are understood; `scoop`, `animal` and `rung` must be there.
pub const RUNG_COLUMNS: [&str; 6] = ["scoop", "animal", "rung", "who", "date", "blind"];

/// The rungs in `text`; `name` is the file's name in complaints.
///
/// # Errors
/// Where a needed column is missing, an unknown one stands there, or rows are faulty: all of them are named.
pub fn read_rung_table(name: &str, text: &str) -> Result<Vec<NewOwnRung>, Error> {
    let text = text.trim_start_matches('\u{feff}');
    let first = text.lines().next().unwrap_or("");
    let delimiter = if first.contains(';') && !first.contains(',') {
        b';'
    } else {
        b','
    };
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .from_reader(text.as_bytes());
    let wrong = |why: String| {
        Error::book(
            "not_a_table",
            format!("{name} can't be read as a table of rungs: {why}"),
            format!(
                "the first row names the columns: {}",
                RUNG_COLUMNS.join(",")
            ),
        )
    };
    let headings = reader.headers().map_err(|e| wrong(e.to_string()))?;
    let headings: Vec<String> = headings.iter().map(|h| h.trim().to_lowercase()).collect();
    if let Some(needed) = RUNG_COLUMNS[..3]
        .iter()
        .find(|c| !headings.iter().any(|h| h == **c))
    {
        return Err(wrong(format!("it has no column `{needed}`")));
    }
    if let Some(unknown) = headings
        .iter()
        .find(|h| !RUNG_COLUMNS.contains(&h.as_str()))
    {
        return Err(wrong(format!("the column `{unknown}` is not understood")));
    }
    let (mut rungs, mut faults) = (Vec::new(), Vec::new());
    for (index, record) in reader.records().enumerate() {
        let read = record.map_err(|e| e.to_string()).and_then(|record| {
            let cell = |column: &str| {
                let at = headings.iter().position(|h| h == column);
                unguarded(at.and_then(|at| record.get(at)).unwrap_or(""))
                    .trim()
                    .to_string()
            };
            read_row(&cell)
        });
        match read {
            Ok(rung) => rungs.push(rung),
            Err(fault) => faults.push(format!("row {}: {fault}", index + 2)),
        }
    }
    if faults.is_empty() {
        Ok(rungs)
    } else {
        Err(faulty_rows(name, &faults))
    }
}

fn read_row(cell: &dyn Fn(&str) -> String) -> Result<NewOwnRung, String> {
    let (scoop, animal, rung) = (cell("scoop"), cell("animal"), cell("rung"));
    let date = cell("date");
    let filled = |text: String| (!text.is_empty()).then_some(text);
    Ok(NewOwnRung {
        scoop: scoop
            .parse()
            .map_err(|_| format!("scoop is `{scoop}`, expected its number in the book"))?,
        no: animal
            .parse()
            .map_err(|_| format!("animal is `{animal}`, expected its number in the scoop"))?,
        rung: Rung::from_word(&rung)
            .ok_or_else(|| format!("rung is `{rung}`, expected G0 to G5"))?,
        who: filled(cell("who")),
        at: match filled(date) {
            None => None,
            Some(date) => Some(read_moment(&date).ok_or_else(|| {
                format!("date is `{date}`, expected YYYY-MM-DD or YYYY-MM-DD HH:MM")
            })?),
        },
        is_blind: match cell("blind").to_lowercase().as_str() {
            "yes" | "1" | "true" | "y" => true,
            "" | "no" | "0" | "false" | "n" => false,
            other => return Err(format!("blind is `{other}`, expected yes or no")),
        },
        sitting: None,
    })
}

#[cfg(test)]
mod tests {
    use super::read_rung_table;

    #[test]
    fn rows_and_faults() {
        let good = "scoop;animal;rung;who;date;blind\n3;1;g4;Ann;2026-05-01;yes\n3;2;G0;;;\n";
        let rungs = read_rung_table("r.csv", good).expect("it is right");
        assert_eq!(
            (rungs.len(), rungs[0].is_blind, rungs[1].is_blind),
            (2, true, false)
        );
        assert_eq!(
            (rungs[0].who.as_deref(), rungs[1].who.as_deref()),
            (Some("Ann"), None)
        );
        let bad = "scoop,animal,rung,blind\nx,1,G4,no\n3,1,G6,no\n3,1,G1,perhaps\n";
        let error = read_rung_table("r.csv", bad)
            .expect_err("three faults")
            .to_string();
        for row in ["row 2", "row 3", "row 4"] {
            assert!(error.contains(row), "{error}");
        }
        assert!(read_rung_table("r.csv", "scoop,rung\n").is_err());
        assert!(read_rung_table("r.csv", "scoop,animal,rung,mood\n").is_err());
    }
}
