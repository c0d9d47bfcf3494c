//! A link as a square code that a phone's camera reads [ISO18004].

use maud::{Markup, PreEscaped, html};
use qrcode::{Color, QrCode};

/// A link as a QR code with its quiet zone, always dark on light.
pub fn square(link: &str, name: &str) -> Markup {
    let Ok(code) = QrCode::new(link) else {
        return html! {};
    };
    let side = code.width();
    let mut path = String::new();
    for (at, colour) in code.to_colors().into_iter().enumerate() {
        if colour == Color::Dark {
            path += &format!("M{} {}h1v1h-1z", at % side + 4, at / side + 4);
        }
    }
    let box_side = side + 8;
    html! {
        svg.qr viewBox={ "0 0 " (box_side) " " (box_side) } role="img" aria-label=(name) {
            rect width=(box_side) height=(box_side) fill="#fff" {}
            (PreEscaped(format!("<path fill=\"#000\" d=\"{path}\"/>")))
        }
    }
}
