//! Photos from a phone into the book, over the same calls as the command line.

use std::sync::Arc;

use axum::http::StatusCode;
use catchcup::book::photo_store::digest;
use catchcup::book::{Book, Intake, PhotoStore, Taken, Tank, Which};
use catchcup::error::Error;
use catchcup::ladder::Ladder;
use catchcup::measures::Sex;
use catchcup::scoop::kept::Origin;
use catchcup::scoop::{Graded, KeptAnimal, Netted, Order, PastScoop};

use super::Shared;
use super::grader::{Shown, Task};
use super::trouble::Trouble;

/// Photos that wait longer than this are forgotten when the program starts, seconds.
const WAIT: u64 = 24 * 3600;
/// Longer ago than this nobody netted what is in the cup, seconds (as the clock rule of the library).
const LONGEST_NETTED: i64 = 2 * 3600;

/// What is said with a photo.
#[derive(Debug, Clone)]
pub struct Said {
    pub tank: String,
    pub name: String,
    /// When the animals were netted, seconds since 1970 by this computer's clock.
    pub netted: Option<i64>,
    /// Seconds from the netting to the photo's arrival.
    pub seconds: Option<u32>,
    pub tank_sure: bool,
    pub which: Which,
}

/// What became of a photo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    Filed(i64),
    /// It was in the book before.
    Known(i64),
    /// It waits under its digest for the answer to a question, or can't be filed at all.
    Waits(String, Option<Question>),
}

/// A question that stands before filing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Question {
    Tank,
    Same { near: i64, alike: bool },
}

/// Grades and files a photo.
///
/// # Errors
/// Where it can't be read as a photo, the tank is unknown or retired, or book or photo can't be written.
pub async fn file(
    room: &Shared,
    who: &str,
    said: &Said,
    bytes: Vec<u8>,
) -> Result<Outcome, Trouble> {
    let sha256 = digest(&bytes);
    let (code, looked_for) = (said.tank.clone(), sha256.clone());
    let (tank, known) = room
        .book(move |book| {
            let known = book.scoop_of_photo(&looked_for)?;
            Ok((in_use(book.tank(&code)?)?, known))
        })
        .await?;
    if let Some(known) = known {
        return Ok(Outcome::Known(known.number));
    }
    let bytes = Arc::new(bytes);
    let ladder = ladder_of(room, &tank)?;
    let shown = shown(room, &said.name, &bytes, ladder, netted(said.seconds)).await?;
    if shown.scoop.withheld.is_empty() && !shown.scoop.animals.is_empty() {
        let taken = take_in(room, who, said, &tank, &shown, &bytes).await?;
        let question = match taken {
            Taken::Filed { number, .. } => return Ok(Outcome::Filed(number)),
            Taken::AskTank(_) => Question::Tank,
            Taken::AskSame { near, alike } => Question::Same {
                near: near.number,
                alike,
            },
        };
        room.waiting.keep(&sha256, WAITING_NAME, &bytes)?;
        return Ok(Outcome::Waits(sha256, Some(question)));
    }
    room.waiting.keep(&sha256, WAITING_NAME, &bytes)?;
    Ok(Outcome::Waits(sha256, None))
}

/// Waiting photos are found by their digest alone, so all end alike.
const WAITING_NAME: &str = "waiting.photo";

/// Keeps a photo until a question is answered; its digest.
///
/// # Errors
/// Where it can't be written.
pub fn wait(room: &Shared, bytes: &[u8]) -> Result<String, Trouble> {
    let sha256 = digest(bytes);
    room.waiting.keep(&sha256, WAITING_NAME, bytes)?;
    Ok(sha256)
}

/// A photo that waits.
///
/// # Errors
/// Where there is none of that digest.
pub fn waiting(room: &Shared, sha256: &str) -> Result<Vec<u8>, Trouble> {
    let whole = sha256.len() == 64 && sha256.bytes().all(|b| b.is_ascii_hexdigit());
    let bytes = whole.then(|| room.waiting.read(sha256, WAITING_NAME));
    bytes.transpose()?.flatten().ok_or_else(|| {
        Trouble::new(
            StatusCode::NOT_FOUND,
            "no_photo",
            "this photo waits no more",
            "photos that were not filed are kept for a day; take it again",
        )
    })
}

async fn take_in(
    room: &Shared,
    who: &str,
    said: &Said,
    tank: &Tank,
    shown: &Arc<Shown>,
    bytes: &Arc<Vec<u8>>,
) -> Result<Taken, Trouble> {
    let (stamp, photos) = (room.stamp(who), room.settings.photos.clone());
    let (said, tank, shown, bytes) = (said.clone(), tank.clone(), shown.clone(), bytes.clone());
    room.book(move |book: &mut Book| {
        let intake = Intake {
            tank: &tank,
            origin: Origin::of(&shown.scoop, env!("CARGO_PKG_VERSION")),
            animals: shown.scoop.animals.iter().map(KeptAnimal::of).collect(),
            // Under the name in the record, by which it is found again.
            photo: Some((&shown.scoop.photo.file, &bytes)),
            at: None,
            kept_apart: false,
            remark: String::new(),
            tank_sure: said.tank_sure,
            which: said.which,
        };
        book.take_in(intake, &photos, &stamp)
    })
    .await
}

/// A photo graded or remembered.
///
/// # Errors
/// Where it can't be read as a photo.
pub async fn shown(
    room: &Shared,
    name: &str,
    bytes: &Arc<Vec<u8>>,
    ladder: Option<Ladder>,
    netted: Netted,
) -> Result<Arc<Shown>, Trouble> {
    let order = Order {
        ladder,
        netted,
        ..room.settings.order.clone()
    };
    as_ordered(room, name, bytes, order).await
}

/// A cup of a sorting, graded; `sex` where all its animals are of one.
///
/// # Errors
/// Where it can't be read as a photo.
pub async fn cup(
    room: &Shared,
    name: &str,
    bytes: &Arc<Vec<u8>>,
    ladder: Ladder,
    sex: Option<Sex>,
) -> Result<Arc<Shown>, Trouble> {
    let order = Order {
        ladder: Some(ladder),
        sex,
        ..room.settings.order.clone()
    };
    as_ordered(room, name, bytes, order).await
}

/// A photo graded as ordered.
async fn as_ordered(
    room: &Shared,
    name: &str,
    bytes: &Arc<Vec<u8>>,
    order: Order,
) -> Result<Arc<Shown>, Trouble> {
    let task = Task {
        name: name.to_string(),
        bytes: bytes.clone(),
        order,
        shelf: room.settings.shelf.clone(),
    };
    room.grader.shown(task).await
}

/// A picture drawn from a filed scoop's photo.
///
/// # Errors
/// Where no photo of it was kept, or it can't be read.
pub async fn drawn(
    room: &Shared,
    past: &PastScoop,
    draw: impl FnOnce(&Graded) -> Result<Vec<u8>, Error> + Send + 'static,
) -> Result<Vec<u8>, Trouble> {
    let (name, bytes) = photo_of(room, past)?.ok_or_else(no_photo_kept)?;
    let ladder = past.origin.ladder.as_deref();
    let task = Task {
        name,
        bytes: Arc::new(bytes),
        order: Order {
            ladder: ladder.and_then(|id| room.settings.shelf.ladder(id)),
            ..room.settings.order.clone()
        },
        shelf: room.settings.shelf.clone(),
    };
    room.grader.drawn(task, draw).await
}

/// Name and bytes of a filed scoop's photo; `None` where it was not kept.
///
/// # Errors
/// Where it can't be read.
pub fn photo_of(room: &Shared, past: &PastScoop) -> Result<Option<(String, Vec<u8>)>, Trouble> {
    let (Some(sha256), Some(name)) = (&past.origin.photo_sha256, &past.origin.photo_file) else {
        return Ok(None);
    };
    let bytes = room.settings.photos.read(sha256, name)?;
    Ok(bytes.map(|bytes| (name.clone(), bytes)))
}

pub fn no_photo_kept() -> Trouble {
    Trouble::new(
        StatusCode::NOT_FOUND,
        "no_picture",
        "the photo of this scoop was not kept",
        "photograph the animals again",
    )
}

/// A filed scoop graded again from its photo; `None` where no photo of it was kept.
///
/// # Errors
/// Where the photo can't be read.
pub async fn shown_again(room: &Shared, past: &PastScoop) -> Result<Option<Arc<Shown>>, Trouble> {
    let Some((name, bytes)) = photo_of(room, past)? else {
        return Ok(None);
    };
    let ladder = past.origin.ladder.as_deref();
    let ladder = ladder.and_then(|id| room.settings.shelf.ladder(id));
    let netted = netted(past.origin.netted_seconds);
    shown(room, &name, &Arc::new(bytes), ladder, netted)
        .await
        .map(Some)
}

/// The ladder of the tank's line; `None` where no line is known.
///
/// # Errors
/// Where the line's ladder is not at hand.
pub fn ladder_of(room: &Shared, tank: &Tank) -> Result<Option<Ladder>, Trouble> {
    let Some(id) = tank.ladder.as_deref() else {
        return Ok(None);
    };
    let ladder = room.settings.shelf.ladder(id);
    ladder.map(Some).ok_or_else(|| {
        Trouble::from(Error::book(
            "no_ladder",
            format!("the line of tank {} has the ladder `{id}`, which is not at hand", tank.code),
            "name its rules file in house.toml: rules = [\"FILE.toml\"], or change the line's ladder",
        ))
    })
}

fn in_use(tank: Tank) -> Result<Tank, Error> {
    match tank.retired {
        None => Ok(tank),
        Some(on) => Err(Error::book(
            "tank_retired",
            format!("tank {} was retired on {on}", tank.code),
            "is it the right tank?",
        )),
    }
}

/// Seconds since 1970 by this computer's clock.
pub fn now_epoch() -> i64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    since.map_or(0, |since| since.as_secs() as i64)
}

/// Seconds since the netting; `None` where that is not known, or too long ago to be true.
pub fn seconds_in_cup(netted: Option<i64>) -> Option<u32> {
    let seconds = now_epoch() - netted?;
    (0..=LONGEST_NETTED)
        .contains(&seconds)
        .then_some(seconds as u32)
}

pub fn netted(seconds: Option<u32>) -> Netted {
    seconds.map_or(Netted::Unknown, Netted::Ago)
}

/// Removes waiting photos that nobody asked for within a day.
pub fn forget_old(waiting: &PhotoStore) {
    for path in waiting.files().unwrap_or_default() {
        let age = path.metadata().and_then(|m| m.modified()).ok();
        let age = age.and_then(|at| at.elapsed().ok());
        if age.is_some_and(|age| age.as_secs() > WAIT) {
            // A photo that can't be removed now is tried again at the next start.
            let _ = std::fs::remove_file(path);
        }
    }
}
