//! Pairing, and the owner's list of devices.

use axum::extract::{ConnectInfo, State};
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::{Extension, Form};

use super::access::{Peer, Role, Visitor, broken, cookie};
use super::own_form::OwnForm;
use super::routes::{Answer, Fields};
use super::trouble::Trouble;
use super::{Shared, pages};

pub async fn pair_page() -> Response {
    pages::pair(None).into_response()
}

pub async fn pair(
    State(room): State<Shared>,
    ConnectInfo(peer): ConnectInfo<Peer>,
    Form(form): Form<Fields>,
) -> Answer {
    let said = form.get("code").map_or("", String::as_str);
    let from = peer.remote.ip();
    let role = lock(&room.codes)?.redeem(said, from);
    let role: Role = match role {
        Ok(role) => role,
        Err(trouble) => {
            return Ok((trouble.status, pages::pair(Some(&trouble.note))).into_response());
        }
    };
    let name = form.get("name").map_or("", String::as_str);
    let token = lock(&room.devices)?.pair(name, role, (room.settings.clock)())?;
    Ok(([(header::SET_COOKIE, cookie(&token))], Redirect::to("/")).into_response())
}

fn lock<T>(it: &std::sync::Mutex<T>) -> Result<std::sync::MutexGuard<'_, T>, Trouble> {
    it.lock().map_err(|_| broken())
}

pub async fn devices(State(room): State<Shared>, Extension(visitor): Extension<Visitor>) -> Answer {
    visitor.must_be_owner()?;
    let all = lock(&room.devices)?.all().to_vec();
    Ok(pages::devices(&visitor, &all, pages::Fresh::Nothing).into_response())
}

pub async fn new_code(
    State(room): State<Shared>,
    headers: HeaderMap,
    OwnForm { visitor, form }: OwnForm,
) -> Answer {
    visitor.must_be_owner()?;
    let role = match form.get("role").map(String::as_str) {
        Some("owner") => Role::Owner,
        _ => Role::Helper,
    };
    let code = lock(&room.codes)?.fresh(role)?;
    let host = headers
        .get(header::HOST)
        .and_then(|host| host.to_str().ok());
    let link = format!("http://{}/pair#{}", host.unwrap_or_default(), code.key);
    let all = lock(&room.devices)?.all().to_vec();
    Ok(pages::devices(&visitor, &all, pages::Fresh::Code(&code, &link)).into_response())
}

/// A token for a program, told once.
pub async fn new_token(State(room): State<Shared>, OwnForm { visitor, form }: OwnForm) -> Answer {
    visitor.must_be_owner()?;
    let role = match form.get("role").map(String::as_str) {
        Some("files") => Role::Files,
        _ => Role::Reads,
    };
    let token = lock(&room.devices)?.pair("program", role, (room.settings.clock)())?;
    let all = lock(&room.devices)?.all().to_vec();
    Ok(pages::devices(&visitor, &all, pages::Fresh::Token(&token)).into_response())
}

pub async fn revoke(State(room): State<Shared>, OwnForm { visitor, form }: OwnForm) -> Answer {
    visitor.must_be_owner()?;
    lock(&room.devices)?.revoke(form.get("device").map_or("", String::as_str))?;
    Ok(Redirect::to("/devices").into_response())
}
