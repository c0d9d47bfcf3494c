//! Plans declared before netting: `plans.toml` beside the book.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::error::Error;
use catchcup::ladder::toml_text::{Section, TomlText};
use catchcup::ladder::{RulesError, Rung};
use catchcup::proof::Plan;

use super::house::read_text;

const FILE: &str = "plans.toml";

fn path(book: &Path) -> PathBuf {
    book.with_file_name(FILE)
}

/// The plans declared, by tank in small letters.
pub fn plans(book: &Path) -> Result<BTreeMap<String, Plan>> {
    let path = path(book);
    if !path.exists() {
        return Ok(BTreeMap::new());
    }
    let text = read_text(&path)?;
    let source = TomlText {
        file: FILE,
        text: &text,
    };
    let table = source.parse()?;
    let keys = [
        "tank",
        "rung",
        "permille",
        "confidence_permille",
        "looks",
        "per_look",
        "icc",
        "lot",
        "declared",
    ];
    let top = Section::new(source, table.get_ref(), 0..0, FILE, &["plan"])?;
    let mut all = BTreeMap::new();
    for section in top.sections("plan", &keys)? {
        let plan = one(&section)?;
        let tank = plan.tank.clone().unwrap_or_default();
        all.insert(tank.to_lowercase(), plan);
    }
    Ok(all)
}

fn one(section: &Section<'_, '_>) -> Result<Plan, RulesError> {
    let whole = |key: &str, low: f64, high: f64| -> Result<u32, RulesError> {
        Ok(section.need_number(key, low, high)?.round() as u32)
    };
    let rung = section.need_text("rung")?;
    let declared = section.need_text("declared")?;
    Ok(Plan {
        rung: Rung::from_word(rung).ok_or_else(|| {
            section.error(
                "rung",
                format!("`{rung}` is no rung"),
                "write rung = \"G4\"",
            )
        })?,
        permille: whole("permille", 1.0, 999.0)?,
        confidence_permille: whole("confidence_permille", 500.0, 999.0)?,
        looks: whole("looks", 1.0, 50.0)?,
        per_look: whole("per_look", 1.0, 200.0)?,
        icc: section.need_number("icc", 0.0, 0.5)?,
        lot: section
            .number("lot", 2.0, 100_000.0)?
            .map(|n| n.value.round() as u32),
        tank: Some(section.need_text("tank")?.to_string()),
        declared: Some(declared.parse().map_err(|_| {
            section.error(
                "declared",
                format!("`{declared}` is no moment"),
                "declare the plan again",
            )
        })?),
    })
}

/// Declares a plan; one of the same tank before is replaced.
pub fn declare(book: &Path, plan: &Plan) -> Result<()> {
    let mut all = plans(book)?;
    let tank = plan.tank.clone().unwrap_or_default();
    all.insert(tank.to_lowercase(), plan.clone());
    let mut text = String::from(
        "# Plans declared by `catchcup howmany --declare`. To change one after scoops were seen makes its confidence worthless.\n",
    );
    for plan in all.values() {
        let _ = write!(
            text,
            "\n[[plan]]\ntank = \"{}\"\nrung = \"{}\"\npermille = {}\nconfidence_permille = {}\nlooks = {}\nper_look = {}\nicc = {}\n",
            plan.tank.as_deref().unwrap_or_default(),
            plan.rung,
            plan.permille,
            plan.confidence_permille,
            plan.looks,
            plan.per_look,
            plan.icc
        );
        if let Some(lot) = plan.lot {
            let _ = writeln!(text, "lot = {lot}");
        }
        if let Some(at) = plan.declared {
            let _ = writeln!(text, "declared = \"{at}\"");
        }
    }
    let path = path(book);
    std::fs::write(&path, text).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    Ok(())
}
