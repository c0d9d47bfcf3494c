//! Another photo of a sorting's last cup: what only one of both photos shows is asked before anything is decided. The photo
//! waits under its digest, and everything that the question needs stands in its address.

use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Redirect};
use catchcup::book::SortingEntry;
use catchcup::book::cup_again::CupAgain;
use catchcup::book::cups::animals_of;
use catchcup::measures::Sex;
use catchcup::scoop::KeptAnimal;
use catchcup::selection::sorting::again::{Gone, Said};

use super::access::Visitor;
use super::grader::Shown;
use super::own_form::OwnForm;
use super::routes::{Answer, Fields, is_true, jpeg};
use super::sorting::{Sent, file, ladder};
use super::trouble::Trouble;
use super::{Shared, filing, pages, upload};

/// A photo of the last cup beside the photo before.
pub struct Beside {
    pub entry: SortingEntry,
    pub animals: Vec<KeptAnimal>,
    pub found: CupAgain,
}

/// How a graded photo goes together with the last cup's.
///
/// # Errors
/// Where nothing is being sorted or there is no cup yet.
pub async fn beside(room: &Shared, code: String, shown: Arc<Shown>) -> Result<Beside, Trouble> {
    room.book(move |book| {
        let entry = book.sorting_under_way(&code)?;
        let animals = animals_of(&shown.scoop, &[]);
        let found = book.cup_again(&entry, &animals)?;
        Ok(Beside {
            entry,
            animals,
            found,
        })
    })
    .await
}

/// The sex that all animals of a cup are said to be of.
pub fn sex_of(fields: &Fields) -> Option<Sex> {
    match fields.get("sex").map(String::as_str) {
        Some("female") => Some(Sex::Female),
        Some("male") => Some(Sex::Male),
        _ => None,
    }
}

/// A waiting photo of a cup with what was said of it.
///
/// # Errors
/// Where it waits no more or can't be read as a photo.
pub async fn sent(
    room: &Shared,
    code: &str,
    photo: &str,
    fields: &Fields,
) -> Result<(Sent, Arc<Shown>), Trouble> {
    let bytes = Arc::new(filing::waiting(room, photo)?);
    let name = upload::plain_name(fields.get("name").map_or("", String::as_str));
    let ladder = ladder(room, code.to_string()).await?;
    let shown = filing::cup(room, &name, &bytes, ladder, sex_of(fields)).await?;
    let sent = Sent {
        name,
        bytes,
        is_last: is_true(fields, "last"),
        tank_sure: false,
    };
    Ok((sent, shown))
}

/// Asks after what only one photo shows.
pub async fn question(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path((code, photo)): Path<(String, String)>,
    Query(query): Query<Fields>,
) -> Answer {
    let (_, shown) = sent(&room, &code, &photo, &query).await?;
    let beside = beside(&room, code, shown.clone()).await?;
    let waits = waits(&photo, &query);
    let earlier = earlier(&room, &beside).await?;
    Ok(pages::cup_again(&visitor, &beside, &waits, &shown, &earlier).into_response())
}

/// What was said of a waiting cup when it was sent.
pub fn waits<'a>(photo: &'a str, query: &'a Fields) -> pages::WaitingCup<'a> {
    let said = |name: &str| query.get(name).map_or("", String::as_str);
    pages::WaitingCup {
        photo,
        name: said("name"),
        sex: said("sex"),
        is_last: is_true(query, "last"),
    }
}

/// The photos before, by scoop: the last cup's, and those of animals that are asked after.
async fn earlier(room: &Shared, beside: &Beside) -> Result<Vec<(i64, Arc<Shown>)>, Trouble> {
    let last = beside.entry.cups.last().and_then(|cup| cup.scoop);
    let asked = beside.found.missed();
    let mut numbers: Vec<i64> = asked.iter().map(|missed| missed.before.scoop).collect();
    numbers.extend(last);
    numbers.sort_unstable();
    numbers.dedup();
    let mut all = Vec::new();
    for number in numbers {
        let past = room.book(move |book| book.scoop(number)).await?;
        if let Some(shown) = filing::shown_again(room, &past).await? {
            all.push((number, shown));
        }
    }
    Ok(all)
}

/// The waiting photo with its animals' numbers.
pub async fn rings(
    State(room): State<Shared>,
    Path((code, photo)): Path<(String, String)>,
    Query(query): Query<Fields>,
) -> Answer {
    let (_, shown) = sent(&room, &code, &photo, &query).await?;
    Ok(jpeg(shown.overlay.clone()))
}

/// Decides of the cup with what was said.
pub async fn answered(
    State(room): State<Shared>,
    Path((code, photo)): Path<(String, String)>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    let (sent, shown) = sent(&room, &code, &photo, &form).await?;
    let said = said(&form);
    let to = file(&room, &visitor, code, sent, shown, Some(said)).await?;
    Ok(Redirect::to(&to).into_response())
}

/// What a form says: `gone-7=moved`, `new-9=none`, `same=true`.
fn said(form: &Fields) -> Said {
    let of = |prefix: &'static str| {
        form.iter().filter_map(move |(name, value)| {
            let no: u32 = name.strip_prefix(prefix)?.parse().ok()?;
            Some((no, value.as_str()))
        })
    };
    let mut said = Said {
        gone: of("gone-")
            .filter_map(|(no, value)| Some((no, gone_word(value)?)))
            .collect(),
        new: of("new-")
            .filter_map(|(no, value)| match value {
                "animal" => Some((no, true)),
                "none" => Some((no, false)),
                _ => None,
            })
            .collect(),
        same_cup: is_true(form, "same"),
    };
    said.gone.sort_by_key(|(no, _)| *no);
    said.new.sort_unstable();
    said
}

fn gone_word(value: &str) -> Option<Gone> {
    Some(match value {
        "cup" => Gone::InCup,
        "moved" => Gone::Moved,
        "none" => Gone::NoAnimal,
        number => Gone::Here(number.parse().ok()?),
    })
}
