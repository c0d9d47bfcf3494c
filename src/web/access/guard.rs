//! What is checked of every request before a page sees it: the name it was sent to, where it comes from, and the device.

use std::net::SocketAddr;

use axum::extract::connect_info::Connected;
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use axum::serve::IncomingStream;
use catchcup::book::photo_store::digest;

use super::devices::{Device, Role};
use crate::web::listener::Patient;
use crate::web::trouble::Trouble;
use crate::web::{Shared, api};

/// Name of the cookie that holds a device's token.
const COOKIE: &str = "catchcup_room";

/// The cookie that a device gets: out of reach of scripts and of pages elsewhere, for a year.
pub fn cookie(token: &str) -> String {
    format!("{COOKIE}={token}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000")
}

/// Both ends of a connection.
#[derive(Debug, Clone, Copy)]
pub struct Peer {
    pub local: Option<SocketAddr>,
    pub remote: SocketAddr,
}

impl Connected<IncomingStream<'_, Patient>> for Peer {
    fn connect_info(stream: IncomingStream<'_, Patient>) -> Self {
        Self {
            local: stream.io().local_addr().ok(),
            remote: *stream.remote_addr(),
        }
    }
}

/// The paired device that asks.
#[derive(Debug, Clone)]
pub struct Visitor {
    pub device: Device,
    /// What every form of this device must bring along: made from its token, which can't be worked out from it.
    pub form_key: String,
}

impl Visitor {
    /// # Errors
    /// Where a form did not come from a page of ours.
    pub fn check_form(&self, key: Option<&str>) -> Result<(), Trouble> {
        if key == Some(self.form_key.as_str()) {
            return Ok(());
        }
        Err(Trouble::new(
            StatusCode::FORBIDDEN,
            "foreign_form",
            "this form did not come from a page of this room",
            "open the page again and do it there",
        ))
    }

    /// # Errors
    /// Where the device is a helper's.
    pub fn must_be_owner(&self) -> Result<(), Trouble> {
        if self.device.role == Role::Owner {
            return Ok(());
        }
        Err(Trouble::new(
            StatusCode::FORBIDDEN,
            "owner_only",
            "only the owner's device may do this",
            "do it on the owner's device",
        ))
    }
}

/// The checks; with them every answer gets the headers that keep a browser from being led astray.
pub async fn guard(
    State(room): State<Shared>,
    ConnectInfo(peer): ConnectInfo<Peer>,
    mut request: Request,
    next: Next,
) -> Response {
    if request.uri().path().starts_with("/api/") {
        let mut response = for_programs(&room, &peer, request, next).await;
        protect(response.headers_mut());
        return response;
    }
    let mut response = match admitted(&room, &peer, &request) {
        Err(trouble) => trouble.into_response(),
        Ok(Some(visitor)) => {
            request.extensions_mut().insert(visitor);
            next.run(request).await
        }
        Ok(None) if open_to_all(request.uri().path()) => next.run(request).await,
        Ok(None) if request.method() == Method::GET => Redirect::to("/pair").into_response(),
        Ok(None) => Trouble::new(
            StatusCode::UNAUTHORIZED,
            "not_paired",
            "this device is not paired with the room",
            "pair it: open the page /pair",
        )
        .into_response(),
    };
    protect(response.headers_mut());
    response
}

/// The same for programs: their token instead of a cookie; a browser's page elsewhere gets nothing.
async fn for_programs(room: &Shared, peer: &Peer, mut request: Request, next: Next) -> Response {
    let headers = request.headers();
    let admitted = own_name(room, peer, headers).and_then(|host| {
        if headers.contains_key(header::ORIGIN) && !from_here(headers, &host) {
            return Err(foreign_origin());
        }
        api::admitted(room, headers, peer.remote.ip())
    });
    match admitted {
        Ok(program) => {
            request.extensions_mut().insert(program);
            next.run(request).await
        }
        Err(trouble) => {
            let is_unknown = trouble.status == StatusCode::UNAUTHORIZED;
            let mut response = api::Refused(trouble).into_response();
            if is_unknown {
                let bearer = HeaderValue::from_static("Bearer");
                response
                    .headers_mut()
                    .insert(header::WWW_AUTHENTICATE, bearer);
            }
            response
        }
    }
}

/// The name under which the page was asked for, where it is its own.
fn own_name(room: &Shared, peer: &Peer, headers: &HeaderMap) -> Result<String, Trouble> {
    let host = text(headers, header::HOST).unwrap_or_default();
    if allowed(&host, peer, &room.settings.names) {
        return Ok(host);
    }
    Err(Trouble::new(
        StatusCode::MISDIRECTED_REQUEST,
        "wrong_host",
        "the room page was asked for under a name that is not its own",
        "use the address that catchcup serve shows, or add the name: --name NAME",
    ))
}

fn foreign_origin() -> Trouble {
    Trouble::new(
        StatusCode::FORBIDDEN,
        "foreign_origin",
        "this was sent from a page of another place; nothing was done",
        "open the room page itself and do it there",
    )
}

/// What a device sees that is not paired.
fn open_to_all(path: &str) -> bool {
    matches!(path, "/pair" | "/room.css" | "/room.js" | "/room.svg")
}

fn admitted(room: &Shared, peer: &Peer, request: &Request) -> Result<Option<Visitor>, Trouble> {
    let headers = request.headers();
    let host = own_name(room, peer, headers)?;
    if !request.method().is_safe() && !from_here(headers, &host) {
        return Err(foreign_origin());
    }
    let Some(token) = token(headers) else {
        return Ok(None);
    };
    let devices = room.devices.lock().map_err(|_| broken())?;
    let device = devices.of(&token).filter(|device| device.role.is_person());
    Ok(device.map(|device| Visitor {
        device: device.clone(),
        form_key: digest(format!("form {token}").as_bytes()),
    }))
}

/// The list is whole even where a thread failed while holding it, but better none gets in.
pub fn broken() -> Trouble {
    Trouble::new(
        StatusCode::INTERNAL_SERVER_ERROR,
        "bug",
        "the room page is in disorder",
        "start catchcup serve again",
    )
}

/// The address that the connection came to, the names of the loopback, and the names given. A page elsewhere that makes
/// its own name point here (DNS rebinding) sends that name, and is refused.
fn allowed(host: &str, peer: &Peer, names: &[String]) -> bool {
    let Some(local) = peer.local else {
        return false;
    };
    let port = local.port();
    let bare = host
        .strip_suffix(&format!(":{port}"))
        .or((port == 80).then_some(host));
    let own = local.ip().to_canonical();
    let own = match own {
        std::net::IpAddr::V4(ip) => ip.to_string(),
        std::net::IpAddr::V6(ip) => format!("[{ip}]"),
    };
    let local_name = local.ip().is_loopback() && bare == Some("localhost");
    bare == Some(own.as_str())
        || local_name
        // A name given may stand for a proxy with a port of its own.
        || names.iter().any(|name| host == name || bare == Some(name.as_str()))
}

/// True where the browser says that a page of this very address sent the request.
fn from_here(headers: &HeaderMap, host: &str) -> bool {
    let origin = text(headers, header::ORIGIN).unwrap_or_default();
    let origin = origin
        .strip_prefix("http://")
        .or(origin.strip_prefix("https://"));
    let site = headers.get("sec-fetch-site").map(HeaderValue::as_bytes);
    origin == Some(host) && site.is_none_or(|site| site == b"same-origin")
}

fn text(headers: &HeaderMap, name: header::HeaderName) -> Option<String> {
    Some(headers.get(name)?.to_str().ok()?.to_ascii_lowercase())
}

fn token(headers: &HeaderMap) -> Option<String> {
    let cookies = headers.get_all(header::COOKIE).iter();
    cookies
        .filter_map(|line| line.to_str().ok())
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == COOKIE)
        .map(|(_, value)| value.to_string())
}

/// Nothing from elsewhere is loaded, nothing of ours shows in a frame, no answer is kept by a shared cache.
fn protect(headers: &mut HeaderMap) {
    let all = [
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; \
             form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
        ),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "same-origin"),
    ];
    for (name, value) in all {
        // Plots and proofs bring a stricter policy of their own.
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    }
    headers
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_own_names_are_answered() {
        let peer = |local: &str| Peer {
            local: local.parse().ok(),
            remote: SocketAddr::from(([192, 0, 2, 7], 50000)),
        };
        let (lan, here) = (peer("192.0.2.1:8017"), peer("127.0.0.1:8017"));
        let names = ["room.example".to_string()];
        assert!(allowed("192.0.2.1:8017", &lan, &[]));
        assert!(allowed("localhost:8017", &here, &[]) && allowed("127.0.0.1:8017", &here, &[]));
        assert!(
            allowed("room.example:8017", &lan, &names) && allowed("room.example", &lan, &names)
        );
        for host in [
            "",
            "192.0.2.1",
            "192.0.2.1:80",
            "evil.example:8017",
            "room.example:8017",
        ] {
            assert!(!allowed(host, &lan, &[]), "{host}");
        }
        assert!(!allowed("localhost:8017", &lan, &[]));
    }
}
