//! Trays with wells: which animal sits in which well.

use crate::scoop::KeptAnimal;

use super::find::middle;

/// A tray that fills the photo: so many rows from the top and columns from the left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tray {
    /// Rows, A at the top.
    pub rows: u32,
    /// Columns, 1 at the left.
    pub columns: u32,
}

/// The well of each animal, `A1` at the top left, within a tray whose outer edges are left, top, right and bottom in pixels;
/// `None` for an animal without a place or outside the tray.
pub fn wells(
    animals: &[KeptAnimal],
    tray: Tray,
    [left, top, right, bottom]: [f64; 4],
) -> Vec<Option<String>> {
    let step = |v: f64, low: f64, high: f64, count: u32| {
        let share = (v - low) / (high - low).max(1.0);
        (0.0..1.0)
            .contains(&share)
            .then(|| (share * f64::from(count)).floor() as u32)
    };
    animals
        .iter()
        .map(|animal| {
            let [x, y] = middle(animal)?;
            let row = step(y, top, bottom, tray.rows)?;
            let column = step(x, left, right, tray.columns)?;
            let letter = char::from(b'A' + u8::try_from(row.min(25)).ok()?);
            Some(format!("{letter}{}", column + 1))
        })
        .collect()
}

/// Wells that hold more than one animal, each once: nobody could say which of them is meant.
pub fn shared(wells: &[Option<String>]) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for (at, well) in wells.iter().enumerate() {
        if let Some(well) = well
            && wells[..at].contains(&Some(well.clone()))
            && !found.contains(well)
        {
            found.push(well.clone());
        }
    }
    found
}
