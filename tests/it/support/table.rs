//! Published tables in `tests/data/published`: a line `#` with the source, a line of column names, then rows.

/// One table; rows keep their cells as text.
#[derive(Debug)]
pub struct Table {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row of a table.
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    table: &'a Table,
    cells: &'a [String],
}

/// Reads a table by its name without ending.
pub fn read(name: &str) -> Table {
    let path = super::root()
        .join("tests/data/published")
        .join(format!("{name}.csv"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    assert!(
        text.starts_with('#'),
        "{name} does not name its source in line 1"
    );
    let mut lines = text
        .lines()
        .filter(|l| !l.starts_with('#') && !l.is_empty());
    let columns = split(lines.next().expect("a line of column names"));
    let rows: Vec<_> = lines.map(split).collect();
    assert!(
        !rows.is_empty() && rows.iter().all(|r| r.len() == columns.len()),
        "{name} has ragged rows"
    );
    Table { columns, rows }
}

/// Cells of a line; commas between double quotes do not separate.
fn split(line: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            c => cells.last_mut().expect("one cell at least").push(c),
        }
    }
    cells
}

impl Table {
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|cells| Row { table: self, cells })
    }
}

impl<'a> Row<'a> {
    pub fn text(&self, column: &str) -> &'a str {
        let at = self.table.columns.iter().position(|c| c == column);
        &self.cells[at.unwrap_or_else(|| panic!("no column {column}"))]
    }

    pub fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse()
            .unwrap_or_else(|_| panic!("{column} is {text}, not a number"))
    }

    /// A number, or `None` where the cell is empty.
    pub fn maybe(&self, column: &str) -> Option<f64> {
        (!self.text(column).is_empty()).then(|| self.number(column))
    }

    pub fn three(&self, columns: [&str; 3]) -> [f64; 3] {
        columns.map(|c| self.number(c))
    }
}

/// Fails unless the two agree within `tolerance`.
#[track_caller]
pub fn close(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{what}: found {found}, expected {expected} within {tolerance}"
    );
}

/// The same for three numbers.
#[track_caller]
pub fn close3(found: [f64; 3], expected: [f64; 3], tolerance: f64, what: &str) {
    for i in 0..3 {
        close(found[i], expected[i], tolerance, &format!("{what}[{i}]"));
    }
}
