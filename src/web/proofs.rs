//! Proofs of filed scoops: made by the owner, read and passed on by all.

use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use catchcup::book::Stamp;
use catchcup::error::Error;
use catchcup::proof::lot::{Lot, manifest, of_photo};
use catchcup::proof::make::{Draft, Published, assemble, publish};
use catchcup::proof::manifest::{PAGE, PDF, PHOTO, PHOTO_PNG, Statement};
use catchcup::proof::state::of_whole;
use catchcup::proof::weakness::Weakness;
use catchcup::report::proof::FORMATS;
use catchcup::report::proof::answers::holds;
use catchcup::scoop::{Order, PastScoop};

use super::access::Visitor;
use super::own_form::OwnForm;
use super::prices::of_file;
use super::routes::{Answer, Fields, number};
use super::trouble::Trouble;
use super::{Shared, filing, pages};

/// Confidence of a statement in a thousand, as the command line has it.
const CONFIDENCE: u32 = 950;

/// All proofs.
pub async fn proofs(State(room): State<Shared>, Extension(visitor): Extension<Visitor>) -> Answer {
    let mut names = room.proofs.names()?;
    names.reverse();
    let with_files = |name: String| {
        let files = room.proofs.files(&name);
        (name, files)
    };
    let all: Vec<_> = names.into_iter().map(with_files).collect();
    Ok(pages::proofs(&visitor, &all).into_response())
}

/// What a proof of this scoop shall say.
pub async fn ask(
    State(room): State<Shared>,
    Extension(visitor): Extension<Visitor>,
    Path(scoop): Path<i64>,
) -> Answer {
    visitor.must_be_owner()?;
    let past = room.book(move |book| book.scoop(scoop)).await?;
    Ok(pages::ask_proof(&visitor, &past, room.settings.sale_rung).into_response())
}

/// Makes a proof of a filed scoop; nothing is written where its statement may not be made.
pub async fn make(
    State(room): State<Shared>,
    Path(scoop): Path<i64>,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    visitor.must_be_owner()?;
    let past = room.book(move |book| book.scoop(scoop)).await?;
    let (name, bytes) = filing::photo_of(&room, &past)?.ok_or_else(filing::no_photo_kept)?;
    let weak = held(&room, past.tank.clone()).await?;
    let at_least = number::<u32>(&form, "at_least").filter(|n| (1..=1000).contains(n));
    let lot = form
        .get("lot")
        .map_or("", String::as_str)
        .trim()
        .to_string();
    let task = Task {
        at_least,
        lot: if lot.is_empty() {
            past.tank.clone()
        } else {
            lot
        },
        stamp: room.stamp(&visitor.device.name),
        name,
        bytes,
        past,
        weak,
    };
    let shared = room.clone();
    let done = room.grader.in_turn(move || made(&shared, &task)).await?;
    match done? {
        Made::Kept(name) => Ok(Redirect::to(&format!("/proofs?new={name}")).into_response()),
        Made::Refused(statement, weak) => {
            Ok(pages::refused(&visitor, scoop, &statement, &weak).into_response())
        }
    }
}

async fn held(room: &Shared, tank: String) -> Result<Vec<Weakness>, Trouble> {
    let (today, rules) = ((room.settings.clock)().date(), room.settings.holds);
    let state = room.book(move |book| book.tank_state(&tank, today, &rules));
    Ok(holds(&state.await?))
}

/// A proof to be made.
struct Task {
    name: String,
    bytes: Vec<u8>,
    past: PastScoop,
    lot: String,
    stamp: Stamp,
    at_least: Option<u32>,
    weak: Vec<Weakness>,
}

/// What became of it.
enum Made {
    Kept(String),
    Refused(Box<Statement>, Vec<Weakness>),
}

fn made(room: &Shared, task: &Task) -> Result<Made, Trouble> {
    let line = task.past.origin.ladder.as_deref().ok_or_else(|| {
        Error::rules(
            "no_line",
            "this scoop was filed without a ladder",
            "say which line lives in the tank, and photograph it again",
        )
    })?;
    let (ladder, rules) = (room.settings.files.ladder)(line).map_err(of_file)?;
    let order = Order {
        ladder: Some(ladder),
        netted: filing::netted(task.past.origin.netted_seconds),
        ..room.settings.proof_order.clone()
    };
    let published = publish(&task.name, &task.bytes, &order, FORMATS)?;
    let lot = Lot {
        name: &task.lot,
        tank: Some(&task.past.tank),
        who: &task.stamp.who,
        at: task.stamp.at,
        own_repeat_e4: None,
    };
    let mut weak = task.weak.clone();
    weak.extend(of_photo(&published, &lot));
    let statement = statement(room, task.at_least, &published, &weak);
    if let Some(refused) = statement.as_ref().filter(|s| !s.supported) {
        return Ok(Made::Refused(Box::new(refused.clone()), weak));
    }
    let key = (room.settings.files.key)().map_err(of_file)?;
    let draft = Draft {
        manifest: manifest(&published, &lot, statement, &weak, key.public()),
        photo: published.photo,
        record: published.record,
        rules,
        with_pdf: false,
    };
    let files = assemble(draft, &key, FORMATS)?;
    Ok(Made::Kept(room.proofs.keep(&task.lot, &files)?))
}

fn statement(
    room: &Shared,
    at_least: Option<u32>,
    published: &Published,
    weak: &[Weakness],
) -> Option<Statement> {
    let rung = room.settings.sale_rung;
    at_least.map(|permille| of_whole(&published.animals, rung, permille, CONFIDENCE, weak))
}

/// A file of a proof: the page locked into itself, everything else, and the page on request, as a download.
pub async fn file(
    State(room): State<Shared>,
    Path((proof, file)): Path<(String, String)>,
    Query(query): Query<Fields>,
) -> Answer {
    let bytes = room.proofs.read(&proof, &file)?.ok_or_else(|| {
        Trouble::new(
            StatusCode::NOT_FOUND,
            "no_proof",
            "there is no such proof",
            "see all proofs",
        )
    })?;
    let kind = match file.as_str() {
        PAGE => "text/html; charset=utf-8",
        PDF => "application/pdf",
        PHOTO => "image/jpeg",
        PHOTO_PNG => "image/png",
        _ => "application/octet-stream",
    };
    let headers = [
        (header::CONTENT_TYPE, kind),
        (
            header::CONTENT_SECURITY_POLICY,
            "sandbox; default-src 'none'; img-src data:; style-src 'unsafe-inline'; frame-ancestors 'none'; \
             form-action 'none'; base-uri 'none'",
        ),
    ];
    let mut response: Response = (headers, bytes).into_response();
    if file != PAGE || query.contains_key("save") {
        // Both are plain names: letters, digits, hyphens and one point.
        let value = HeaderValue::from_str(&format!("attachment; filename=\"{proof}-{file}\""));
        if let Ok(value) = value {
            response
                .headers_mut()
                .insert(header::CONTENT_DISPOSITION, value);
        }
    }
    Ok(response)
}
