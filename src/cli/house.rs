//! `house.toml`: what a house says once instead of on every command line.

use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::book::HoldRules;
use catchcup::error::Error;
use catchcup::ladder::toml_text::{Section, TomlText};
use catchcup::ladder::{RulesError, Rung};
use catchcup::scene::ChartSet;
use catchcup::scoop::MinutesRule;
use catchcup::trends::trial::USUAL_WEEKS;

/// Animals shorter than this are juveniles unless the house says otherwise, millimetres (common practice, no source:
/// about two months old, before the sexes can be told apart).
const JUVENILE_MM: f64 = 15.0;

/// The house's usual settings.
#[derive(Debug, Clone, PartialEq)]
pub struct House {
    /// Inner diameter of the usual cup's floor, millimetres.
    pub cup_mm: Option<f64>,
    /// Usual line.
    pub line: Option<String>,
    /// Rung from which the house sells.
    pub sale_rung: Option<Rung>,
    /// Juvenile length, millimetres.
    pub juvenile_mm: f64,
    /// Limits for the minutes in the cup.
    pub minutes: MinutesRule,
    /// The house's own rules files.
    pub rules: Vec<PathBuf>,
    /// The book's file.
    pub book: Option<PathBuf>,
    /// Who works here, where nobody is named.
    pub who: Option<String>,
    /// When a tank is held back for its losses.
    pub holds: HoldRules,
    /// Name of the usual cup, of those that were measured.
    pub cup: Option<String>,
    /// Name of the usual light, of those that were measured.
    pub light: Option<String>,
    /// Distance of the patches of the house's chart, middle to middle, millimetres.
    pub chart_pitch_mm: Option<f64>,
    /// Published values the house's chart was printed to.
    pub chart_values: Option<ChartSet>,
    /// Weeks that a trial must run.
    pub trial_weeks: f64,
    /// Folder of the house file: measured cups and lights are kept beside it.
    pub folder: PathBuf,
}

impl Default for House {
    fn default() -> Self {
        Self {
            cup_mm: None,
            line: None,
            sale_rung: None,
            juvenile_mm: JUVENILE_MM,
            minutes: MinutesRule::default(),
            rules: Vec::new(),
            book: None,
            who: None,
            holds: HoldRules::default(),
            cup: None,
            light: None,
            chart_pitch_mm: None,
            chart_values: None,
            trial_weeks: USUAL_WEEKS,
            folder: PathBuf::new(),
        }
    }
}

/// The house file named, else `house.toml` in this folder, else the one in the user's settings folder, else none.
pub fn read(named: Option<&Path>) -> Result<House> {
    let found = match named {
        Some(path) => Some(path.to_path_buf()),
        None => usual_places().into_iter().find(|path| path.is_file()),
    };
    let Some(path) = found else {
        return Ok(House::default());
    };
    let text = read_text(&path)?;
    let name = path
        .file_name()
        .map_or_else(|| "house.toml".into(), |n| n.to_string_lossy().into_owned());
    let mut house = parse(&name, &text)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    house.rules = house.rules.iter().map(|rules| folder.join(rules)).collect();
    house.book = house.book.map(|book| folder.join(book));
    house.folder = folder.to_path_buf();
    Ok(house)
}

/// The text of a house or rules file.
pub fn read_text(path: &Path) -> Result<String> {
    let bytes = std::fs::read(path).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    let not_text = |_| {
        let what = format!("{} is no text file", path.display());
        Error::rules("not_text", what, "save it as plain UTF-8 text")
    };
    Ok(String::from_utf8(bytes).map_err(not_text)?)
}

/// The folder of the user's settings for this program; `None` where the system names none.
pub fn settings_folder() -> Option<PathBuf> {
    let settings = std::env::var_os("XDG_CONFIG_HOME")
        .filter(|folder| !folder.is_empty())
        .map(PathBuf::from)
        .or_else(|| std::env::var_os("HOME").map(|home| Path::new(&home).join(".config")))
        .or_else(|| std::env::var_os("APPDATA").map(PathBuf::from));
    settings.map(|folder| folder.join("catchcup"))
}

fn usual_places() -> Vec<PathBuf> {
    let mut places = vec![PathBuf::from("house.toml")];
    places.extend(settings_folder().map(|folder| folder.join("house.toml")));
    places
}

fn parse(name: &str, text: &str) -> std::result::Result<House, RulesError> {
    let source = TomlText { file: name, text };
    let table = source.parse()?;
    let known = [
        "cup_mm",
        "line",
        "sale_rung",
        "juvenile_mm",
        "minutes_aim",
        "minutes_warn",
        "minutes_stop",
        "rules",
        "book",
        "who",
        "loss_days",
        "loss_warns",
        "loss_stops",
        "cup",
        "light",
        "chart_pitch_mm",
        "chart_values",
        "trial_weeks",
    ];
    let top = Section::new(source, table.get_ref(), 0..0, "the house file", &known)?;
    Ok(House {
        cup_mm: top.number("cup_mm", 10.0, 1000.0)?.map(|n| n.value),
        line: top.text("line")?.map(str::to_string),
        sale_rung: sale_rung(&top)?,
        juvenile_mm: top
            .number("juvenile_mm", 0.0, 40.0)?
            .map_or(JUVENILE_MM, |n| n.value),
        minutes: minutes(&top)?,
        rules: top.texts("rules")?.into_iter().map(PathBuf::from).collect(),
        book: top.text("book")?.map(PathBuf::from),
        who: top.text("who")?.map(str::to_string),
        holds: hold_rules(&top)?,
        cup: top.text("cup")?.map(str::to_string),
        light: top.text("light")?.map(str::to_string),
        chart_pitch_mm: top.number("chart_pitch_mm", 2.0, 100.0)?.map(|n| n.value),
        chart_values: chart_values(&top)?,
        trial_weeks: top
            .number("trial_weeks", 1.0, 104.0)?
            .map_or(USUAL_WEEKS, |n| n.value),
        folder: PathBuf::new(),
    })
}

fn hold_rules(top: &Section<'_, '_>) -> std::result::Result<HoldRules, RulesError> {
    let usual = HoldRules::default();
    let number = |key: &str, usual: u32| -> std::result::Result<u32, RulesError> {
        Ok(top
            .number(key, 1.0, 1000.0)?
            .map_or(usual, |n| n.value.round() as u32))
    };
    Ok(HoldRules {
        loss_days: number("loss_days", usual.loss_days)?,
        loss_warns: number("loss_warns", usual.loss_warns)?,
        loss_stops: number("loss_stops", usual.loss_stops)?,
    })
}

fn chart_values(top: &Section<'_, '_>) -> std::result::Result<Option<ChartSet>, RulesError> {
    let Some(word) = top.text("chart_values")? else {
        return Ok(None);
    };
    let known: Vec<&str> = ChartSet::ALL.into_iter().map(ChartSet::word).collect();
    ChartSet::from_word(word).map(Some).ok_or_else(|| {
        top.error(
            "chart_values",
            format!("`{word}` names no published values of the chart"),
            format!("write one of {}", known.join(", ")),
        )
    })
}

/// The limits for the minutes in the cup, which must rise.
fn minutes(top: &Section<'_, '_>) -> std::result::Result<MinutesRule, RulesError> {
    let usual = MinutesRule::default();
    let limit = |key, usual| Ok(top.number(key, 0.5, 60.0)?.map_or(usual, |n| n.value));
    let rule = MinutesRule {
        aim: limit("minutes_aim", usual.aim)?,
        warn: limit("minutes_warn", usual.warn)?,
        stop: limit("minutes_stop", usual.stop)?,
    };
    if rule.aim <= rule.warn && rule.warn <= rule.stop {
        return Ok(rule);
    }
    let said = ["minutes_stop", "minutes_warn", "minutes_aim"]
        .into_iter()
        .find(|key| matches!(top.number(key, 0.5, 60.0), Ok(Some(_))));
    Err(top.error(
        said.unwrap_or("minutes_aim"),
        format!("aim {}, warn {}, stop {} minutes do not rise", rule.aim, rule.warn, rule.stop),
        "write all three so that they rise, for example minutes_aim = 3, minutes_warn = 5, minutes_stop = 10",
    ))
}

fn sale_rung(top: &Section<'_, '_>) -> std::result::Result<Option<Rung>, RulesError> {
    let Some(word) = top.text("sale_rung")? else {
        return Ok(None);
    };
    match Rung::from_word(word).filter(|rung| *rung > Rung::G0) {
        Some(rung) => Ok(Some(rung)),
        None => Err(top.error(
            "sale_rung",
            format!("`{word}` is no rung, expected G1 to G5"),
            "write sale_rung = \"G4\"",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_house_file_is_read() {
        let house = parse(
            "house.toml",
            "cup_mm = 60\nline = \"red\"\nsale_rung = \"G4\"\n",
        )
        .expect("it is right");
        assert_eq!(
            (house.cup_mm, house.line.as_deref(), house.juvenile_mm),
            (Some(60.0), Some("red"), JUVENILE_MM)
        );
        assert_eq!(house.sale_rung, Rung::from_word("G4"));
    }

    #[test]
    fn mistakes_are_told_with_place_and_cure() {
        let cases = [
            ("cup_m = 60", 1, 1, "cup_mm"),
            ("\ncup_mm = \"sixty\"", 2, 10, "a number"),
            ("cup_mm = 6", 1, 10, "from 10 to 1000"),
            ("line = 3", 1, 8, "quotes"),
            ("sale_rung = \"G6\"", 1, 13, "G4"),
            ("minutes_aim = 6", 1, 15, "rise"),
            ("cup_mm = 60\ncup_mm = 61", 2, 1, ""),
        ];
        for (text, line, column, hint) in cases {
            let error = parse("house.toml", text).expect_err(text);
            assert_eq!(
                (error.line, error.column),
                (line, column),
                "{text}: {error}"
            );
            assert!(error.hint.contains(hint), "{text}: {}", error.hint);
        }
    }
}
