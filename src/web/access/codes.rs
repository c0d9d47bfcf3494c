//! Pairing codes: one-time, five minutes, few guesses.

use std::net::IpAddr;
use std::time::{Duration, Instant};

use axum::http::StatusCode;

use super::devices::Role;
use super::{fill, random_hex};
use crate::web::trouble::Trouble;

/// How long a code works.
const LIFE: Duration = Duration::from_secs(300);
/// Wrong guesses allowed within [`LIFE`], from one address and from all together: eight digits are guessed with a chance
/// below one in a million.
const GUESSES: (usize, usize) = (5, 20);
/// Codes alive at once.
const MOST_ALIVE: usize = 4;

/// A code as it is told.
#[derive(Debug, Clone)]
pub struct Fresh {
    /// Eight digits, to be typed.
    pub digits: String,
    /// 128 bits, to be scanned.
    pub key: String,
    role: Role,
    made: Instant,
}

/// The codes alive, and the wrong guesses of late.
#[derive(Debug, Default)]
pub struct Codes {
    alive: Vec<Fresh>,
    wrong: Vec<(IpAddr, Instant)>,
}

impl Codes {
    /// A new code for a device of that role.
    ///
    /// # Errors
    /// Where the system gives no random numbers.
    pub fn fresh(&mut self, role: Role) -> Result<Fresh, Trouble> {
        let mut bytes = [0; 8];
        fill(&mut bytes)?;
        let code = Fresh {
            // 2^64 is no multiple of 10^8; the unevenness is below 10^-11.
            digits: format!("{:08}", u64::from_le_bytes(bytes) % 100_000_000),
            key: random_hex::<16>()?,
            role,
            made: Instant::now(),
        };
        self.alive.retain(|code| code.made.elapsed() < LIFE);
        self.alive.push(code.clone());
        let surplus = self.alive.len().saturating_sub(MOST_ALIVE);
        self.alive.drain(..surplus);
        Ok(code)
    }

    /// The role that a code gives; it works no more afterwards.
    ///
    /// # Errors
    /// Where it is wrong or too old, or too many were wrong of late.
    pub fn redeem(&mut self, said: &str, from: IpAddr) -> Result<Role, Trouble> {
        self.alive.retain(|code| code.made.elapsed() < LIFE);
        self.wrong.retain(|(_, at)| at.elapsed() < LIFE);
        let own = self.wrong.iter().filter(|(who, _)| *who == from).count();
        if own >= GUESSES.0 || self.wrong.len() >= GUESSES.1 {
            return Err(Trouble::new(
                StatusCode::TOO_MANY_REQUESTS,
                "too_many_guesses",
                "too many wrong pairing codes",
                "wait five minutes, then use a new code",
            ));
        }
        let said: String = said.chars().filter(|c| c.is_ascii_alphanumeric()).collect();
        let found = self
            .alive
            .iter()
            .position(|code| code.digits == said || code.key == said);
        match found {
            Some(at) => Ok(self.alive.remove(at).role),
            None => {
                self.wrong.push((from, Instant::now()));
                Err(Trouble::new(
                    StatusCode::UNAUTHORIZED,
                    "wrong_code",
                    "this pairing code is wrong, used or older than five minutes",
                    "get a new one: press Enter where catchcup serve runs, or ask on a paired owner's device",
                ))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PHONE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 7));
    const OTHER: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 8));

    #[test]
    fn a_code_works_once() {
        let mut codes = Codes::default();
        let code = codes.fresh(Role::Helper).expect("random numbers");
        let spaced = format!("{} {}", &code.digits[..4], &code.digits[4..]);
        assert_eq!(codes.redeem(&spaced, PHONE).ok(), Some(Role::Helper));
        assert!(codes.redeem(&code.digits, PHONE).is_err());
        assert!(codes.redeem(&code.key, PHONE).is_err());
    }

    #[test]
    fn guesses_run_out_for_one_address_and_for_all() {
        let mut codes = Codes::default();
        let code = codes.fresh(Role::Owner).expect("random numbers");
        for _ in 0..GUESSES.0 {
            let wrong = codes.redeem("no", PHONE).expect_err("it is wrong");
            assert_eq!(wrong.status, StatusCode::UNAUTHORIZED);
        }
        let stopped = codes.redeem(&code.digits, PHONE).expect_err("stopped");
        assert_eq!(stopped.status, StatusCode::TOO_MANY_REQUESTS);
        for last in 0..GUESSES.1 - GUESSES.0 {
            let from = IpAddr::V4(std::net::Ipv4Addr::new(198, 51, 100, last as u8));
            assert!(codes.redeem("no", from).is_err());
        }
        let stopped = codes.redeem(&code.digits, OTHER).expect_err("all stopped");
        assert_eq!(stopped.status, StatusCode::TOO_MANY_REQUESTS);
    }
}
