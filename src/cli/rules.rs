//! `catchcup rules`: the ladders at hand, in plain words, checked, tried on stored records, started anew.

use std::path::{Path, PathBuf};

use anstyle::{Color, RgbColor, Style};
use anyhow::Result;
use catchcup::doubt::quoted;
use catchcup::error::Error;
use catchcup::ladder::{self, Ladder, Shelf, shelf};
use catchcup::report::TextLine;
use catchcup::report::book::sentences;
use catchcup::report::card::{ladder_card, swatches};
use catchcup::report::trial::trial_lines;
use catchcup::report::wire::stored::{StoredScoop, stored_scoops};
use catchcup::scoop::replay::compare;

use super::args::{RulesArgs, RulesCommand};
use super::house::{self, read_text};
use super::output::Out;
use super::photos::file_name;

/// Runs the part of `rules` that was asked for.
///
/// # Errors
/// Where a line is unknown, a file is wrong or can't be read or written.
pub fn run(args: &RulesArgs, out: &mut Out) -> Result<bool> {
    match &args.command {
        RulesCommand::List => list(out)?,
        RulesCommand::Show { ladder } => show(ladder, out)?,
        RulesCommand::Check { files } => check(files, out)?,
        RulesCommand::Try {
            file,
            records,
            against,
        } => try_on(file, records, against.as_deref(), out)?,
        RulesCommand::Start { line, file } => start(line, file.as_deref(), out)?,
    }
    Ok(true)
}

/// The complaint about a line that is not on the shelf.
pub fn unknown(line: &str, shelf: &Shelf) -> Error {
    let known = shelf.lines().join(", ");
    Error::rules(
        "unknown_line",
        format!("there is no line `{line}`"),
        format!("take one of: {known}"),
    )
}

/// The ladders of the house and the built-in ones.
fn house_shelf() -> Result<Shelf> {
    let house = house::read(None)?;
    let own = house.rules.iter().map(|path| load(path));
    Ok(Shelf::with_own(own.collect::<Result<Vec<Ladder>>>()?))
}

fn load(path: &Path) -> Result<Ladder> {
    Ok(ladder::load(&file_name(path), &read_text(path)?)?)
}

/// A rules file, or the ladder of a line.
fn file_or_line(named: &str) -> Result<Ladder> {
    let path = Path::new(named);
    if path.extension().is_some_and(|ending| ending == "toml") {
        return load(path);
    }
    let shelf = house_shelf()?;
    Ok(shelf.ladder(named).ok_or_else(|| unknown(named, &shelf))?)
}

fn list(out: &mut Out) -> Result<()> {
    for ladder in house_shelf()?.ladders() {
        let own = shelf::load_built_in(&ladder.line)
            .and_then(Result::ok)
            .is_none_or(|built_in| built_in.sha256 != ladder.sha256);
        let whose = if own { "  (your own)" } else { "" };
        out.line(&format!("{:<12} {}{whose}", ladder.line, ladder.title))?;
    }
    Ok(())
}

fn show(named: &str, out: &mut Out) -> Result<()> {
    let ladder = file_or_line(named)?;
    out.lines(&ladder_card(&ladder))?;
    let strip: Vec<String> = swatches(&ladder).into_iter().map(swatch).collect();
    out.line("On a white cup, clear body first:")?;
    for row in strip.chunks(SWATCHES) {
        out.line(&format!("  {}", row.join(" ")))?;
    }
    Ok(())
}

/// Colours on a line: six of eleven columns and a blank.
const SWATCHES: usize = 6;

/// A block of the colour where the terminal shows colours, and its sRGB value for everyone.
fn swatch([r, g, b]: [u8; 3]) -> String {
    let style = Style::new().bg_color(Some(Color::Rgb(RgbColor(r, g, b))));
    format!("{style}    {style:#}#{r:02x}{g:02x}{b:02x}")
}

fn check(files: &[PathBuf], out: &mut Out) -> Result<()> {
    for path in files {
        let ladder = load(path)?;
        out.line(&format!(
            "{}: in order; line {}, {}",
            file_name(path),
            ladder.line,
            ladder.title
        ))?;
        if shelf::built_in_text(&ladder.line).is_none() {
            out.lines(&own_line(&ladder))?;
        }
    }
    Ok(())
}

/// What is to be known of a file whose line has no built-in ladder: it may be meant so, or be a slip.
fn own_line(ladder: &Ladder) -> Vec<TextLine> {
    let built_in = Shelf::default().lines().join(", ");
    sentences(
        &[format!(
            "No built-in line is called {}: this is a line of its own, beside the others. Where it is meant to take the place of one of them, write that one: {built_in}.",
            ladder.line
        )],
        "  ",
    )
}

fn try_on(file: &Path, records: &[PathBuf], against: Option<&str>, out: &mut Out) -> Result<()> {
    let new = load(file)?;
    let old = file_or_line(against.unwrap_or(&new.line))?;
    let mut scoops: Vec<StoredScoop> = Vec::new();
    for path in records {
        scoops.extend(stored_scoops(&file_name(path), &read_text(path)?)?);
    }
    let (fitting, others): (Vec<StoredScoop>, Vec<StoredScoop>) = scoops
        .into_iter()
        .partition(|scoop| scoop.line.as_deref() == Some(new.line.as_str()));
    let animals = fitting.iter().flat_map(|scoop| &scoop.animals);
    let comparison = compare(animals.map(|animal| &animal.measures), &old, &new);
    let left_out = others
        .iter()
        .filter(|scoop| !scoop.animals.is_empty())
        .count();
    out.lines(&trial_lines(&comparison, &new, left_out))?;
    Ok(())
}

fn start(line: &str, file: Option<&Path>, out: &mut Out) -> Result<()> {
    let built_in = Shelf::default();
    let text = built_in
        .ladder(line)
        .and_then(|ladder| shelf::built_in_text(&ladder.line))
        .ok_or_else(|| unknown(line, &built_in))?;
    let Some(path) = file else {
        return Ok(out.raw(text)?);
    };
    let name = path.display().to_string();
    let mut new = std::fs::OpenOptions::new();
    let mut file = new
        .write(true)
        .create_new(true)
        .open(path)
        .map_err(|e| match e.kind() {
            std::io::ErrorKind::AlreadyExists => Error::rules(
                "file_exists",
                format!("{name} is there already and was left as it is"),
                "choose another name, or move the old file away first",
            ),
            _ => Error::io(&name, &e),
        })?;
    std::io::Write::write_all(&mut file, text.as_bytes()).map_err(|e| Error::io(&name, &e))?;
    out.line(&format!(
        "wrote {name}; change its numbers and labels, then: catchcup rules check {}",
        quoted(&name)
    ))?;
    Ok(())
}
