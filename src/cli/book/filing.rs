//! `catchcup scoop add`: photos graded and filed, by the tank named or by the tag lying in each.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::book::{Book, Intake, ScoopEntry, Taken, Tank, Which, when_doubt, when_from};
use catchcup::error::Error;
use catchcup::ladder::{Rung, Shelf};
use catchcup::report::TextLine;
use catchcup::report::book::filing::{Filed, filed, left_over, not_filed};
use catchcup::report::text::{TextOptions, closing, put_back, render};
use catchcup::report::wire::book as wire;
use catchcup::report::wire::stored::stored_scoops;
use catchcup::scoop::alarms::ColourCheck;
use catchcup::scoop::{Scoop, grade_photo};

use super::grading::{Grading, Known, NO_TAG, Ready, order, retired};
use super::rooms::house_shelf;
use super::{Desk, ask};
use crate::cli::house::read_text;
use crate::cli::in_order::in_order;
use crate::cli::output::Out;
use crate::cli::photos::{self, file_name};
use crate::cli::progress::Progress;
use crate::cli::scoop_args::AddArgs;

/// Grades and files; false where something was not filed.
///
/// # Errors
/// Where the book can't be opened, the tank is unknown, or the output can't be written.
pub fn run(desk: &Desk, args: &AddArgs, out: &mut Out) -> Result<bool> {
    let folder = Path::new(&args.tank);
    let by_tag = args.photos.is_empty() && args.record.is_empty() && folder.is_dir();
    let book = desk.open()?;
    let mut evening = Evening {
        tanks: tanks(&book, desk, args, by_tag)?,
        known: book.photo_digests()?,
        shelf: house_shelf(&desk.house)?,
        book,
        desk,
        args,
        by_tag,
        minutes_unknown: false,
    };
    if !args.record.is_empty() {
        return evening.file_records(out);
    }
    let named = if by_tag {
        vec![folder.to_path_buf()]
    } else {
        args.photos.clone()
    };
    if named.is_empty() {
        return Err(Error::book(
            "no_photo",
            "no photo was named",
            format!("name one or more: catchcup scoop add {} PHOTO", args.tank),
        )
        .into());
    }
    evening.file_photos(&photos::listed(&named), out)
}

/// The tanks that photos may be filed under, by their code in small letters.
fn tanks(
    book: &Book,
    desk: &Desk,
    args: &AddArgs,
    by_tag: bool,
) -> Result<BTreeMap<String, Known>> {
    let shelf = house_shelf(&desk.house)?;
    let all = if by_tag {
        book.tanks()?
    } else {
        vec![book.tank(&args.tank)?]
    };
    let mut tanks = BTreeMap::new();
    for tank in all {
        if let Some(on) = tank.retired.filter(|_| !by_tag) {
            return Err(retired(&tank, on).into());
        }
        let ladder = match tank.ladder.as_deref() {
            None => None,
            Some(id) => Some(shelf.ladder(id).ok_or_else(|| no_ladder(&tank, id))?),
        };
        tanks.insert(tank.code.to_lowercase(), (tank, ladder));
    }
    Ok(tanks)
}

fn no_ladder(tank: &Tank, id: &str) -> Error {
    Error::book(
        "no_ladder",
        format!(
            "the line of tank {} has the ladder `{id}`, which is not at hand",
            tank.code
        ),
        "name its rules file in house.toml: rules = [\"FILE.toml\"], or change the line's ladder",
    )
}

/// One run of filing.
struct Evening<'a> {
    book: Book,
    desk: &'a Desk,
    args: &'a AddArgs,
    tanks: BTreeMap<String, Known>,
    known: BTreeSet<String>,
    shelf: Shelf,
    by_tag: bool,
    /// True where a photo was graded of which nobody said how long the animals had been in the cup.
    minutes_unknown: bool,
}

impl Evening<'_> {
    fn file_photos(&mut self, photos: &[PathBuf], out: &mut Out) -> Result<bool> {
        let progress = Progress::new(photos.len());
        let grading = Grading {
            tanks: &self.tanks.clone(),
            known: &self.known.clone(),
            shelf: &self.shelf.clone(),
            args: self.args,
            by_tag: self.by_tag,
            house: &self.desk.house,
        };
        let (mut all_filed, mut untagged) = (true, Vec::new());
        in_order(
            photos.len(),
            |index| grading.one(&photos[index]),
            |index, ready| {
                progress.clear();
                let name = file_name(&photos[index]);
                let done = ready.and_then(|ready| self.file(&name, ready));
                match &done {
                    Err(error) if error.code() == NO_TAG => untagged.push(name.clone()),
                    // An evening's folder may be given again: what is filed already is no failure there.
                    Err(error) if self.by_tag && error.code() == "photo_known" => {}
                    Err(_) => all_filed = false,
                    Ok(_) => {}
                }
                self.tell(&name, done, out)?;
                progress.say(index + 1);
                Ok(())
            },
        )?;
        if !self.desk.json() {
            out.lines(&left_over(&untagged))?;
            out.lines(&closing(self.minutes_unknown && self.args.netted.is_none()))?;
        }
        Ok(all_filed && untagged.is_empty())
    }

    fn file_records(&mut self, out: &mut Out) -> Result<bool> {
        let Some((tank, _)) = self.tanks.values().next().cloned() else {
            return Ok(false);
        };
        let mut all_filed = true;
        for path in &self.args.record {
            for record in stored_scoops(&file_name(path), &read_text(path)?)? {
                let name = record.file.clone();
                let ready = Ready {
                    tank: tank.clone(),
                    animals: record.kept_animals(),
                    origin: record.origin,
                    bytes: None,
                    scoop: None,
                };
                let done = self.file(&name, ready);
                all_filed &= done.is_ok();
                self.tell(&name, done, out)?;
            }
        }
        Ok(all_filed)
    }

    /// Files one scoop after its questions are answered.
    fn file(&mut self, name: &str, ready: Ready) -> Result<(Filed, Option<Scoop>), Error> {
        let (mut tank_sure, mut which) = (self.args.tank_sure, self.which());
        let (number, second_of) = loop {
            let intake = Intake {
                tank: &ready.tank,
                origin: ready.origin.clone(),
                animals: ready.animals.clone(),
                photo: ready.bytes.as_deref().map(|bytes| (name, bytes)),
                at: self.args.at,
                kept_apart: self.args.apart,
                remark: self.args.remark.clone(),
                tank_sure,
                which,
            };
            match self
                .book
                .take_in(intake, &self.desk.photos, &self.desk.stamp)?
            {
                Taken::Filed { number, second_of } => break (number, second_of),
                Taken::AskTank(check) => {
                    self.tank_is_right(name, &ready, &check)?;
                    tank_sure = true;
                }
                Taken::AskSame { near, alike } => {
                    which = same_scoop(name, &ready, &near, alike)?;
                }
            }
        };
        let filed = self.told(name, &ready, number, second_of)?;
        Ok((filed, ready.scoop))
    }

    fn which(&self) -> Which {
        match (self.args.new, self.args.same) {
            (true, _) => Which::Own,
            (_, true) => Which::Near,
            _ => Which::Ask,
        }
    }

    /// What is told of a scoop just filed.
    fn told(
        &self,
        name: &str,
        ready: &Ready,
        number: i64,
        second_of: Option<i64>,
    ) -> Result<Filed, Error> {
        let code = ready.tank.code.clone();
        let at = self.book.scoop_entry(number)?.at;
        let today = self.desk.stamp.at.date();
        let from = when_from(at, ready.origin.taken_at.as_deref());
        let now = self.desk.stamp.at;
        let state = self.book.tank_state(&code, today, &self.desk.house.holds)?;
        Ok(Filed {
            photo: name.to_string(),
            number,
            holds: state.holds,
            at: (at, from),
            when_doubt: when_doubt((at, from), &state.tank, number, now),
            animals: ready.animals.len(),
            second_of,
            off_type: ColourCheck::of(&ready.animals).off_type,
            last_off_type: self.book.last_off_type(&code, at)?,
            last_scoop: self.book.last_scoop(&code, at)?,
            tank: code,
        })
    }

    /// Asks where the colours do not fit the tank's line.
    fn tank_is_right(&self, name: &str, ready: &Ready, check: &ColourCheck) -> Result<(), Error> {
        let line = ready.tank.line.as_deref().unwrap_or_default();
        let seen = format!(
            "{} of {} animals are off-type for {line}, the line of tank {}",
            check.off_type.len(),
            check.judged,
            ready.tank.code
        );
        let likely = self.likely_tanks(ready);
        let question = format!(
            "{name}: {seen}; {likely}is this tank {} all the same?",
            ready.tank.code
        );
        if ask::yes(&question) == Some(true) {
            return Ok(());
        }
        Err(Error::book(
            "wrong_tank",
            format!("{seen}: is it another tank?"),
            format!(
                "{likely}nothing was filed: name the right tank, or, where {} is right, add --tank-sure",
                ready.tank.code
            ),
        ))
    }

    /// The line that the photo looks like, and the tanks it lives in.
    fn likely_tanks(&self, ready: &Ready) -> String {
        let Some(bytes) = &ready.bytes else {
            return String::new();
        };
        let Ok(order) = order(self.args, None, &self.desk.house) else {
            return String::new();
        };
        let Some(ladder) = grade_photo("", bytes, &order, &self.shelf)
            .ok()
            .and_then(|graded| graded.scoop.ladder)
        else {
            return String::new();
        };
        let all = self.book.tanks().unwrap_or_default();
        let here: Vec<String> = all
            .into_iter()
            .filter(|tank| tank.retired.is_none() && tank.ladder.as_deref() == Some(&ladder.line))
            .map(|tank| tank.code)
            .collect();
        match here.len() {
            0 => format!("they look like {}; ", ladder.title),
            _ => format!(
                "they look like {}, which lives in {}; ",
                ladder.title,
                here.join(", ")
            ),
        }
    }

    fn tell(
        &mut self,
        name: &str,
        done: Result<(Filed, Option<Scoop>), Error>,
        out: &mut Out,
    ) -> Result<()> {
        let today = self.desk.stamp.at.date();
        match done {
            Ok((entry, scoop)) => {
                let seconds = scoop.as_ref().map(|scoop| scoop.in_cup.seconds);
                self.minutes_unknown |= seconds == Some(None);
                let object = wire::filed(&entry, today);
                self.desk.answer(out, [object], || {
                    let mut lines = scoop.as_ref().map_or_else(Vec::new, put_back);
                    lines.extend(filed(&entry, today));
                    lines.extend(self.grades(scoop.as_ref()));
                    lines
                })
            }
            Err(error) => {
                let object = wire::not_filed(name, error.note());
                self.desk.answer(out, [object], || {
                    if error.code() == NO_TAG {
                        Vec::new()
                    } else {
                        not_filed(name, error.note())
                    }
                })
            }
        }
    }

    /// The grades of a single photo; a whole evening is told in short.
    fn grades(&self, scoop: Option<&Scoop>) -> Vec<TextLine> {
        let usual = Rung::from_index(4).unwrap_or(Rung::BEST);
        let sale = self.desk.house.sale_rung.unwrap_or(usual);
        let options = TextOptions {
            sale_rung: sale,
            all: false,
        };
        match scoop {
            Some(scoop) if !self.by_tag => {
                let said = put_back(scoop).len();
                render(scoop, &options).split_off(said)
            }
            _ => Vec::new(),
        }
    }
}

/// Asks whether the photo shows the scoop `near` again.
fn same_scoop(name: &str, ready: &Ready, near: &ScoopEntry, alike: bool) -> Result<Which, Error> {
    let alike = if alike {
        "number and sizes agree"
    } else {
        "number or sizes differ"
    };
    let seen = format!(
        "tank {} has scoop {} of {} already ({} animals, here {}; {alike})",
        near.tank,
        near.number,
        near.at.strftime("%H:%M"),
        near.animals,
        ready.animals.len()
    );
    match ask::yes(&format!(
        "{name}: {seen}; is this the same scoop photographed again?"
    )) {
        Some(true) => Ok(Which::AgainOf(near.number)),
        Some(false) => Ok(Which::Own),
        None => Err(Error::book(
            "same_scoop",
            format!("{seen}: the same scoop again?"),
            "say it: --same for another photo of it (not counted twice), --new for a scoop of its own",
        )),
    }
}
