//! What a house measured once: `cups.toml` and `lights.toml` beside the house file.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;

use anyhow::Result;
use catchcup::doubt::quoted;
use catchcup::error::Error;
use catchcup::ladder::RulesError;
use catchcup::ladder::toml_text::{Section, TomlText};
use catchcup::scene::{Correction, RememberedLight, day_number};

use super::house::read_text;

const CUPS: &str = "cups.toml";
const LIGHTS: &str = "lights.toml";

/// A measured cup.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptCup {
    /// Inner diameter of its floor, millimetres.
    pub floor_mm: Option<f64>,
    /// Light its floor gives back, red, green, blue, perfect white = 1.
    pub floor: [f64; 3],
    /// `chart` or `card`.
    pub from: String,
}

/// A measured light.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptLight {
    /// Day of the photo, for example `2026-01-01`, where the camera said it.
    pub measured: Option<String>,
    /// Mean CIEDE2000 of the chart after correction.
    pub de00_after: f64,
    /// The correction and the ground it was measured on.
    pub light: RememberedLight,
}

/// The cups kept in this folder, by name.
pub fn cups(folder: &Path) -> Result<BTreeMap<String, KeptCup>> {
    kept(folder, CUPS, &["floor_mm", "floor", "from"], |section| {
        Ok(KeptCup {
            floor_mm: section.number("floor_mm", 10.0, 1000.0)?.map(|n| n.value),
            floor: section.need_colour("floor")?,
            from: section.need_text("from")?.to_string(),
        })
    })
}

/// The lights kept in this folder, by name.
pub fn lights(folder: &Path) -> Result<BTreeMap<String, KeptLight>> {
    let keys = ["measured", "de00_after", "ground", "red", "green", "blue"];
    kept(folder, LIGHTS, &keys, |section| {
        let measured = section.text("measured")?.map(str::to_string);
        Ok(KeptLight {
            de00_after: section.need_number("de00_after", 0.0, 100.0)?,
            light: RememberedLight {
                correction: correction(section)?,
                floor: section.need_colour("ground")?,
                day: measured.as_deref().and_then(day_number),
            },
            measured,
        })
    })
}

/// Three rows of three numbers, or three of six.
fn correction(section: &Section<'_, '_>) -> Result<Correction, RulesError> {
    let red = section.need_numbers("red", &[3, 6])?;
    let same = [red.len()];
    let rows = [
        section.need_numbers("green", &same)?,
        section.need_numbers("blue", &same)?,
    ];
    let row = |k: usize, n: usize| if k == 0 { red[n] } else { rows[k - 1][n] };
    Ok(if red.len() == 3 {
        Correction::Linear(std::array::from_fn(|k| std::array::from_fn(|n| row(k, n))))
    } else {
        Correction::RootPolynomial(std::array::from_fn(|k| std::array::from_fn(|n| row(k, n))))
    })
}

/// What a file of the folder keeps; nothing where there is no such file.
fn kept<T>(
    folder: &Path,
    file: &str,
    keys: &[&str],
    read: impl Fn(&Section<'_, '_>) -> Result<T, RulesError>,
) -> Result<BTreeMap<String, T>> {
    let path = folder.join(file);
    if !path.exists() {
        return Ok(BTreeMap::new());
    }
    let text = read_text(&path)?;
    let source = TomlText { file, text: &text };
    let table = source.parse()?;
    let names: Vec<&str> = table
        .get_ref()
        .keys()
        .map(|k| k.get_ref().as_ref())
        .collect();
    let top = Section::new(source, table.get_ref(), 0..0, file, &names)?;
    let one = |name: &&str| Ok((name.to_string(), read(&top.need_section(name, keys)?)?));
    names.iter().map(one).collect()
}

/// Keeps a cup under a name; one of that name before is replaced.
pub fn keep_cup(folder: &Path, name: &str, cup: KeptCup) -> Result<()> {
    let mut all = cups(folder)?;
    all.insert(name.to_string(), cup);
    let mut text = String::from(
        "# Cups measured by `catchcup cup add`. floor: light that the floor gives back, red, green, blue, perfect white = 1.\n",
    );
    for (name, cup) in &all {
        let _ = write!(text, "\n[{name}]\n");
        if let Some(mm) = cup.floor_mm {
            let _ = writeln!(text, "floor_mm = {mm}");
        }
        let _ = write!(
            text,
            "floor = {}\nfrom = \"{}\"\n",
            list(&cup.floor),
            cup.from
        );
    }
    write_file(folder, CUPS, &text)
}

/// Keeps a light under a name; one of that name before is replaced.
pub fn keep_light(folder: &Path, name: &str, light: KeptLight) -> Result<()> {
    let mut all = lights(folder)?;
    all.insert(name.to_string(), light);
    let mut text = String::from(
        "# Lights measured by `catchcup light add`. ground: the photo's light on the cup's floor; red, green, blue: the correction,\n\
         # from the photo's R, G, B (and the roots of RG, GB, RB) in linear light.\n",
    );
    for (name, kept) in &all {
        let _ = write!(text, "\n[{name}]\n");
        if let Some(day) = &kept.measured {
            let _ = writeln!(text, "measured = \"{day}\"");
        }
        let _ = writeln!(text, "de00_after = {:.2}", kept.de00_after);
        let _ = writeln!(text, "ground = {}", list(&kept.light.floor));
        let rows: [Vec<f64>; 3] = match kept.light.correction {
            Correction::Linear(m) => m.map(|row| row.to_vec()),
            Correction::RootPolynomial(m) => m.map(|row| row.to_vec()),
        };
        for (key, row) in ["red", "green", "blue"].iter().zip(&rows) {
            let _ = writeln!(text, "{key} = {}", list(row));
        }
    }
    write_file(folder, LIGHTS, &text)
}

fn list(numbers: &[f64]) -> String {
    let all: Vec<String> = numbers.iter().map(|n| format!("{n:.6}")).collect();
    format!("[{}]", all.join(", "))
}

fn write_file(folder: &Path, file: &str, text: &str) -> Result<()> {
    let path = folder.join(file);
    std::fs::write(&path, text).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    Ok(())
}

/// A name that needs no quotes in a file.
///
/// # Errors
/// For clap: what is wrong with it.
pub fn name(text: &str) -> Result<String, String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if !text.is_empty() && text.chars().all(plain) {
        Ok(text.to_string())
    } else {
        Err("expected a name of letters, digits, - and _, for example round-60".to_string())
    }
}

/// The record of this name, or the complaint with the names there are.
pub fn named<T>(all: BTreeMap<String, T>, what: &str, name: &str) -> Result<T> {
    let known: Vec<String> = all.keys().cloned().collect();
    let hint = if known.is_empty() {
        format!(
            "measure it once: catchcup {what} add {} PHOTO",
            quoted(name)
        )
    } else {
        format!("take one of: {}", known.join(", "))
    };
    let mut all = all;
    all.remove(name).ok_or_else(|| {
        Error::rules("unknown_name", format!("there is no {what} `{name}`"), hint).into()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_read_again() {
        let folder = std::env::temp_dir().join(format!("catchcup-kept-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        let cup = KeptCup {
            floor_mm: Some(60.5),
            floor: [0.8, 0.79, 0.75],
            from: "chart".into(),
        };
        keep_cup(&folder, "round-60", cup.clone()).expect("it is written");
        keep_cup(
            &folder,
            "oval",
            KeptCup {
                floor_mm: None,
                ..cup.clone()
            },
        )
        .expect("it is written");
        let all = cups(&folder).expect("it is read");
        assert_eq!((all.len(), &all["round-60"]), (2, &cup));
        let light = KeptLight {
            measured: Some("2026-01-02".into()),
            de00_after: 1.25,
            light: RememberedLight {
                correction: Correction::RootPolynomial([[1.0, -0.5, 0.25, 0.0, 0.5, 2.0]; 3]),
                floor: [0.5, 0.4, 0.3],
                day: day_number("2026-01-02"),
            },
        };
        keep_light(&folder, "shelf", light.clone()).expect("it is written");
        assert_eq!(lights(&folder).expect("it is read")["shelf"], light);
        std::fs::write(folder.join("cups.toml"), "[a]\nfloor = [1, 2]\n").expect("a file");
        let error = cups(&folder).expect_err("two numbers are no colour");
        assert!(error.to_string().contains("2:9"), "{error}");
        let _ = std::fs::remove_dir_all(&folder);
    }
}
