//! A tank sorted cup by cup on the phone, over the same calls as the command `sort`.

use axum::Extension;
use axum::extract::{Multipart, Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect};
use catchcup::book::cups::CupShot;
use catchcup::book::{NewSorting, SortingEntry};
use catchcup::error::Error;
use catchcup::ladder::Ladder;
use catchcup::report::selection::overlay::orders_jpeg;
use catchcup::scoop::PastScoop;
use catchcup::selection::sorting::again::Said;
use catchcup::selection::sorting::begin::begin;
use catchcup::selection::sorting::find::Find;
use catchcup::selection::sorting::{MOST_PLACES, Sorting, TankNumber};

use super::access::Visitor;
use super::grader::Shown;
use super::own_form::OwnForm;
use super::routes::{Answer, Fields, is_true, jpeg, number};
use super::sorting_again::{beside, sex_of};
use super::trouble::Trouble;
use super::{Shared, filing, pages, upload};

/// Where the sorting of a tank stands.
pub async fn sorting(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path(code): Path<String>,
    Query(query): Query<Fields>,
) -> Answer {
    let (tank, entry) = room
        .book(move |book| {
            let tank = book.tank(&code)?;
            let entry = book.last_sorting(&tank.code)?;
            Ok((tank, entry))
        })
        .await?;
    Ok(pages::sorting(&visitor, &tank, entry.as_ref(), is_true(&query, "again")).into_response())
}

/// Begins a sorting.
pub async fn start(
    State(room): State<Shared>,
    Path(code): Path<String>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    let asked = |name: &str| number::<u32>(&form, name);
    let (Some(females), Some(males), Some(animals)) =
        (asked("females"), asked("males"), asked("animals"))
    else {
        return Err(not_numbers());
    };
    let places = asked("tub").unwrap_or(0) as usize;
    if females + males == 0
        || animals == 0
        || females.max(males) > 10_000
        || animals > 100_000
        || places > MOST_PLACES
    {
        return Err(not_numbers());
    }
    let number = if is_true(&form, "counted") {
        TankNumber::Counted(animals)
    } else {
        TankNumber::About(animals)
    };
    let ladder = ladder(&room, code.clone()).await?;
    let stamp = room.stamp(&visitor.device.name);
    let tank = room
        .book(move |book| {
            let tank = book.tank(&code)?;
            let past = book.history_of_tank(&tank.code)?;
            let wanted = [females as usize, males as usize];
            let (stick, setup) = begin(&ladder.wish, &past, wanted, places, number);
            let new = NewSorting {
                tank: tank.code.clone(),
                setup,
                stick,
            };
            book.begin_sorting(&new, &stamp)?;
            Ok(tank.code)
        })
        .await?;
    Ok(Redirect::to(&pages::sort_path(&tank)).into_response())
}

fn not_numbers() -> Trouble {
    Trouble::new(
        StatusCode::UNPROCESSABLE_ENTITY,
        "no_number",
        "these numbers make no sorting; nothing was begun",
        "say how many females and males you want to keep and how many animals are in the tank",
    )
}

/// The ladder by which a tank is sorted.
///
/// # Errors
/// Where none is known.
pub async fn ladder(room: &Shared, code: String) -> Result<Ladder, Trouble> {
    let tank = room.book(move |book| book.tank(&code)).await?;
    filing::ladder_of(room, &tank)?.ok_or_else(|| {
        Trouble::from(Error::book(
            "no_ladder",
            format!("no ladder is known for tank {}", tank.code),
            format!(
                "say which line lives in it: catchcup tank edit {} --line LINE",
                tank.code
            ),
        ))
    })
}

/// A cup photographed: what to do with each animal.
pub async fn cup(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path(code): Path<String>,
    headers: HeaderMap,
    form: Multipart,
) -> Answer {
    let mut form = upload::read(form, &headers, &visitor).await?;
    if form.photos.len() != 1 {
        return Err(Trouble::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "one_photo",
            "a cup is sorted by one photo; nothing was decided",
            "send one, and another one of the same cup with Photograph it again",
        ));
    }
    let photo = form.photos.remove(0);
    let ladder = ladder(&room, code.clone()).await?;
    let sent = Sent {
        bytes: std::sync::Arc::new(photo.bytes),
        name: photo.name,
        is_last: is_true(&form.fields, "last"),
        tank_sure: false,
    };
    let sex = sex_of(&form.fields);
    let shown = filing::cup(&room, &sent.name, &sent.bytes, ladder, sex).await?;
    if let Some(why) = shown.scoop.withheld.first() {
        return Err(Trouble {
            status: StatusCode::UNPROCESSABLE_ENTITY,
            note: why.clone(),
        });
    }
    let mut said = None;
    if is_true(&form.fields, "again") {
        let beside = beside(&room, code.clone(), shown.clone()).await?;
        if !beside.found.is_clear() {
            let sha256 = filing::wait(&room, &sent.bytes)?;
            let to = pages::question_path(
                pages::Question::Again,
                &code,
                &sha256,
                &sent.name,
                sex,
                sent.is_last,
            );
            return Ok(Redirect::to(&to).into_response());
        }
        said = Some(Said::default());
    } else if super::sorting_sure::is_asked(&room, code.clone(), &sent, shown.clone()).await? {
        let sha256 = filing::wait(&room, &sent.bytes)?;
        let to = pages::question_path(
            pages::Question::Sure,
            &code,
            &sha256,
            &sent.name,
            sex,
            sent.is_last,
        );
        return Ok(Redirect::to(&to).into_response());
    }
    let to = file(&room, &visitor, code, sent, shown, said).await?;
    Ok(Redirect::to(&to).into_response())
}

/// A cup's photo as it was sent.
pub struct Sent {
    pub name: String,
    pub bytes: std::sync::Arc<Vec<u8>>,
    pub is_last: bool,
    /// True where the keeper says that tank, lamp, cup and minutes are right.
    pub tank_sure: bool,
}

/// Decides of a cup and files it; the address of its page. `said` for another photo of the last cup.
///
/// # Errors
/// Where nothing is being sorted, it may be another cup, or photo or book can't be written.
pub async fn file(
    room: &Shared,
    visitor: &Visitor,
    code: String,
    sent: Sent,
    shown: std::sync::Arc<Shown>,
    said: Option<Said>,
) -> Result<String, Trouble> {
    let (stamp, photos) = (
        room.stamp(&visitor.device.name),
        room.settings.photos.clone(),
    );
    room.book(move |book| {
        let entry = book.sorting_under_way(&code)?;
        let shot = CupShot {
            scoop: &shown.scoop,
            photo: (&shown.scoop.photo.file, &sent.bytes),
            sexes: &[],
            sweeps: None,
            left_told: None,
            last: sent.is_last,
            tank_sure: sent.tank_sure,
            again: said.as_ref(),
        };
        let sorted = book.sort_cup(&entry, &shot, &photos, &stamp)?;
        Ok(pages::cup_path(&entry.tank, sorted.after.cups))
    })
    .await
}

/// A cup of the latest sorting as the book holds it.
struct Kept {
    entry: SortingEntry,
    scoop: PastScoop,
    finds: Vec<Find>,
    after: Sorting,
}

async fn kept(room: &Shared, code: String, no: usize) -> Result<Kept, Trouble> {
    room.book(move |book| {
        let entry = book.latest_sorting(&code)?;
        let cup = no.checked_sub(1).and_then(|at| entry.cups.get(at));
        let number = cup.and_then(|cup| cup.scoop).ok_or_else(|| {
            Error::book(
                "no_scoop",
                format!("the sorting of tank {} has no cup {no}", entry.tank),
                "look where the sorting stands",
            )
        })?;
        let scoop = book.scoop(number)?;
        let finds = cup.map_or(Ok(Vec::new()), |cup| book.finds_of_cup(cup))?;
        let decided = entry.decided();
        let after = Sorting::resumed(entry.setup.clone(), &decided[..no]);
        Ok(Kept {
            entry,
            scoop,
            finds,
            after,
        })
    })
    .await
}

/// What to do with the animals of a cup.
pub async fn cup_page(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path((code, no)): Path<(String, usize)>,
) -> Answer {
    let kept = kept(&room, code, no).await?;
    Ok(pages::cup(&visitor, &kept.entry, no, &kept.finds, &kept.after).into_response())
}

/// The cup's photo with what to do written on each animal.
pub async fn orders(State(room): State<Shared>, Path((code, no)): Path<(String, usize)>) -> Answer {
    let kept = kept(&room, code, no).await?;
    let decision = kept.entry.cups[no - 1].decided.decision.clone();
    let title = format!("Tank {}, cup {no}", kept.entry.tank);
    let picture = filing::drawn(&room, &kept.scoop, move |graded| {
        orders_jpeg(graded, &decision, &title)
    });
    Ok(jpeg(picture.await?))
}

/// Ends the sorting: the tub is emptied.
pub async fn finish(
    State(room): State<Shared>,
    Path(code): Path<String>,
    OwnForm { visitor, .. }: OwnForm,
) -> Answer {
    let stamp = room.stamp(&visitor.device.name);
    let (tank, ended) = room
        .book(move |book| {
            let entry = book.sorting_under_way(&code)?;
            let ended = book.finish_sorting(&entry, &stamp)?;
            Ok((entry.tank, ended))
        })
        .await?;
    Ok(pages::ended(&visitor, &tank, &ended).into_response())
}
