//! The pages, as typed templates: all text from elsewhere is escaped where it is put in.

mod animal;
mod answer;
mod corrections;
mod devices;
mod frame;
mod labels;
mod prices;
mod proofs;
mod sorting;
mod sorting_again;
mod sorting_sure;
mod square;
mod tank;
mod trail;
mod trend;
mod waiting_cup;
mod wall;

pub use animal::animal;
pub use answer::{Filed, Waits, scoop, waiting};
pub use corrections::{Said as SaidOf, errors};
pub use devices::{Fresh, devices, pair};
pub use frame::trouble;
pub use labels::labels;
pub use prices::prices;
pub use proofs::{ask as ask_proof, proofs, refused};
pub use sorting::{cup, cup_path, ended, sort_path, sorting};
pub use sorting_again::cup_again;
pub use sorting_sure::cup_sure;
pub use tank::{NOTES_BY_PHONE, Shot, tank};
pub use trail::trail;
pub use trend::trend;
pub use waiting_cup::{Question, WaitingCup, question_path};
pub use wall::wall;

/// Address of a tank's page.
pub fn tank_path(code: &str) -> String {
    format!("/tank/{}", encoded(code))
}

/// `text` as it may stand in an address [RFC3986].
pub fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                out.push(char::from(byte));
            }
            _ => out += &format!("%{byte:02X}"),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::encoded;

    #[test]
    fn addresses_hold_no_signs_of_their_own() {
        assert_eq!(encoded("a b/../c&d\u{e4}"), "a%20b%2F..%2Fc%26d%C3%A4");
    }
}
