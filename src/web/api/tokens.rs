//! Programs that ask: a token of their own, never a cookie.

use std::net::IpAddr;
use std::time::{Duration, Instant};

use axum::http::{HeaderMap, StatusCode, header};

use crate::web::Shared;
use crate::web::access::{Role, broken};
use crate::web::trouble::Trouble;

/// Wrong tokens allowed from one address within [`SPAN`]; 256 bits are not guessed, so this only stops noise.
const GUESSES: usize = 20;
const SPAN: Duration = Duration::from_secs(300);

/// A program with a token.
#[derive(Debug, Clone)]
pub struct Program {
    /// Its name in the book's trail.
    pub name: String,
    may_write: bool,
}

impl Program {
    /// # Errors
    /// Where its token only reads.
    pub fn must_write(&self) -> Result<(), Trouble> {
        if self.may_write {
            return Ok(());
        }
        Err(Trouble::new(
            StatusCode::FORBIDDEN,
            "reads_only",
            "this token only reads",
            "make one that files photos on the owner's page Devices",
        ))
    }
}

/// Wrong tokens of late.
#[derive(Debug, Default)]
pub struct Guesses(Vec<(IpAddr, Instant)>);

/// The program that asks.
///
/// # Errors
/// Where there is no token, it is wrong or locked out, or too many were wrong of late.
pub fn admitted(room: &Shared, headers: &HeaderMap, from: IpAddr) -> Result<Program, Trouble> {
    let mut guesses = room.guesses.lock().map_err(|_| broken())?;
    guesses.0.retain(|(_, at)| at.elapsed() < SPAN);
    if guesses.0.iter().filter(|(who, _)| *who == from).count() >= GUESSES {
        return Err(Trouble::new(
            StatusCode::TOO_MANY_REQUESTS,
            "too_many_guesses",
            "too many wrong tokens",
            "wait five minutes",
        ));
    }
    let said = headers.get(header::AUTHORIZATION);
    let said = said.and_then(|said| said.to_str().ok());
    let token = said.and_then(|said| said.strip_prefix("Bearer "));
    let devices = room.devices.lock().map_err(|_| broken())?;
    let device = token.and_then(|token| devices.of(token.trim()));
    match device.map(|device| (device.role, device.name.clone())) {
        Some((role @ (Role::Reads | Role::Files), name)) => Ok(Program {
            name,
            may_write: role == Role::Files,
        }),
        _ => {
            if token.is_some() {
                guesses.0.push((from, Instant::now()));
            }
            Err(Trouble::new(
                StatusCode::UNAUTHORIZED,
                "no_token",
                "no token was brought along, or one that is wrong or locked out",
                "send Authorization: Bearer TOKEN; tokens are made on the owner's page Devices",
            ))
        }
    }
}
