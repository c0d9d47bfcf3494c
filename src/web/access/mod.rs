//! Who gets in: pairing codes, paired devices, and what is checked of every request.

mod codes;
mod devices;
mod guard;

pub use codes::{Codes, Fresh};
pub use devices::{Device, Devices, Role};
pub use guard::{Peer, Visitor, broken, cookie, guard};

use axum::http::StatusCode;

use super::trouble::Trouble;

/// What is said wherever a device is paired.
pub const OVERHEARD: &str = "Plain http can be overheard by whoever is in this network: use a network \
                             of your own, or put a TLS proxy before it (--name NAME).";

/// `N` random bytes as hexadecimal.
///
/// # Errors
/// Where the system has none.
pub fn random_hex<const N: usize>() -> Result<String, Trouble> {
    let mut bytes = [0; N];
    fill(&mut bytes)?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

fn fill(bytes: &mut [u8]) -> Result<(), Trouble> {
    getrandom::fill(bytes).map_err(|e| {
        Trouble::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "no_random",
            format!("the system gives no random numbers: {e}"),
            "restart the computer",
        )
    })
}

/// A link as a QR code of half blocks, dark on light, for a terminal; nothing where it is too long.
pub fn qr_lines(link: &str) -> Vec<String> {
    let Ok(code) = qrcode::QrCode::new(link) else {
        return Vec::new();
    };
    let side = code.width();
    let colours = code.to_colors();
    // Two modules of quiet zone: a terminal is light around it or the reader copes (most do).
    let dark = |x: usize, y: usize| {
        (2..side + 2).contains(&x)
            && (2..side + 2).contains(&y)
            && colours[(y - 2) * side + x - 2] == qrcode::Color::Dark
    };
    let mut lines = Vec::new();
    for y in (0..side + 4).step_by(2) {
        let row = (0..side + 4).map(|x| match (dark(x, y), dark(x, y + 1)) {
            (true, true) => ' ',
            (true, false) => '\u{2584}',
            (false, true) => '\u{2580}',
            (false, false) => '\u{2588}',
        });
        lines.push(row.collect());
    }
    lines
}
