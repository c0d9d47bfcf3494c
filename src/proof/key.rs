//! The house's key: signs what is published, so that a buyer can tell that nothing was changed since.

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use jiff::civil::Date;
use sha2::{Digest, Sha256};

use super::canonical::{Canon, Members, read_canonical};

/// A key that signs. Never printed.
pub struct HouseKey(SigningKey);

impl std::fmt::Debug for HouseKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "HouseKey({})", self.public().fingerprint())
    }
}

impl HouseKey {
    /// The key of this secret, which must come from the system's source of randomness.
    pub fn from_secret(secret: &[u8; 32]) -> Self {
        Self(SigningKey::from_bytes(secret))
    }

    /// What may be known by everybody.
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.verifying_key().to_bytes())
    }

    /// Signature of `bytes`.
    ///
    /// # Source
    /// [RFC8032] 5.1.6.
    pub fn sign(&self, bytes: &[u8]) -> [u8; 64] {
        self.0.sign(bytes).to_bytes()
    }
}

/// The public part of a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PublicKey(pub [u8; 32]);

/// Hexadecimal digits of a fingerprint: 128 bits, too many to find another key for.
const FINGERPRINT_DIGITS: usize = 32;

impl PublicKey {
    /// The key written as 64 hexadecimal digits.
    pub fn from_hex(text: &str) -> Option<Self> {
        bytes_of(text).map(Self)
    }

    /// 64 lower-case hexadecimal digits.
    pub fn hex(&self) -> String {
        hex(&self.0)
    }

    /// First half of the SHA-256 of the key, in groups of four digits: what a buyer is told by another way than the page.
    pub fn fingerprint(&self) -> String {
        let digest = hex(&Sha256::digest(self.0));
        let groups: Vec<&str> = (0..FINGERPRINT_DIGITS / 4)
            .map(|i| &digest[4 * i..4 * i + 4])
            .collect();
        groups.join("-")
    }

    /// True where `signature` of `bytes` was made with this key. Weak keys and signatures that could be bent are refused.
    ///
    /// # Source
    /// [RFC8032] 5.1.7, without cofactor, points of small order refused.
    pub fn signed(&self, bytes: &[u8], signature: &[u8; 64]) -> bool {
        let signature = Signature::from_bytes(signature);
        VerifyingKey::from_bytes(&self.0)
            .is_ok_and(|key| key.verify_strict(bytes, &signature).is_ok())
    }
}

/// A fingerprint as a person types it, brought into its form; `None` where it is none.
///
/// Blanks and hyphens are passed over; capitals are taken; every digit must be there.
pub fn fingerprint_of(text: &str) -> Option<String> {
    let digits: String = text
        .chars()
        .filter(|c| !matches!(c, ' ' | '-' | ':'))
        .collect::<String>()
        .to_lowercase();
    let right = digits.len() == FINGERPRINT_DIGITS && digits.bytes().all(|b| b.is_ascii_hexdigit());
    right.then(|| {
        let groups: Vec<&str> = (0..FINGERPRINT_DIGITS / 4)
            .map(|i| &digits[4 * i..4 * i + 4])
            .collect();
        groups.join("-")
    })
}

/// Lower-case hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// The bytes of lower-case hexadecimal digits; `None` where there are others, or not as many as needed.
pub fn bytes_of<const N: usize>(text: &str) -> Option<[u8; N]> {
    let lower = text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    if text.len() != 2 * N || !lower {
        return None;
    }
    let mut out = [0; N];
    for (byte, digits) in out.iter_mut().zip(text.as_bytes().chunks_exact(2)) {
        let digits = std::str::from_utf8(digits).ok()?;
        *byte = u8::from_str_radix(digits, 16).ok()?;
    }
    Some(out)
}

/// A signature beside the signed file: `signature.json`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signed {
    /// Who signed.
    pub key: PublicKey,
    /// The signature.
    pub signature: [u8; 64],
}

/// Kind and version of the signature's file.
const SIGNATURE: &str = "catchcup.signature/1";

impl Signed {
    /// The file.
    pub fn write(&self) -> String {
        Canon::object([
            ("schema", Canon::text(SIGNATURE)),
            ("key", Canon::text(self.key.hex())),
            ("signature", Canon::text(hex(&self.signature))),
        ])
        .write()
    }

    /// The file read again.
    ///
    /// # Errors
    /// What is wrong with it, for people.
    pub fn read(bytes: &[u8]) -> Result<Self, String> {
        let mut members = Members::of("the signature", read_canonical(bytes)?)?;
        expect(&mut members, SIGNATURE)?;
        let key = key_of(&mut members, "key")?;
        let signature = members.text("signature")?;
        let signature = bytes_of(&signature).ok_or("the signature is no signature")?;
        members.done()?;
        Ok(Self { key, signature })
    }
}

fn expect(members: &mut Members, kind: &str) -> Result<(), String> {
    let found = members.text("schema")?;
    if found == kind {
        Ok(())
    } else {
        Err(format!("it is of kind {found}, expected {kind}"))
    }
}

fn key_of(members: &mut Members, name: &str) -> Result<PublicKey, String> {
    let text = members.text(name)?;
    PublicKey::from_hex(&text).ok_or_else(|| format!("{name} is no key"))
}

/// Why a key was replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// In good order: what the old key signed stays as good as it was.
    Order,
    /// Somebody else may have the old key: what it signs from that day on is not the house's.
    Leaked,
}

impl Why {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Why::Order => "in_order",
            Why::Leaked => "leaked",
        }
    }
}

/// "From that day on the new key signs for us": signed by the old key and by the new one. A house that lost its key can't make
/// one; it tells its buyers the new fingerprint as it told the old.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Handover {
    /// The key that signed until then.
    pub old: PublicKey,
    /// The key that signs from then on.
    pub new: PublicKey,
    /// The day.
    pub on: Date,
    /// Why.
    pub why: Why,
}

/// Kind and version of the handover's file.
const HANDOVER: &str = "catchcup.handover/1";

impl Handover {
    /// The file, signed by both.
    pub fn write(&self, old: &HouseKey, new: &HouseKey) -> String {
        let body = self.body();
        let signature = |key: &HouseKey| Canon::text(hex(&key.sign(body.write().as_bytes())));
        Canon::object([
            ("handover", body.clone()),
            ("by_old", signature(old)),
            ("by_new", signature(new)),
        ])
        .write()
    }

    fn body(&self) -> Canon {
        Canon::object([
            ("schema", Canon::text(HANDOVER)),
            ("old", Canon::text(self.old.hex())),
            ("new", Canon::text(self.new.hex())),
            ("on", Canon::text(self.on.to_string())),
            ("why", Canon::text(self.why.word())),
        ])
    }

    /// The file read again; both signatures must hold.
    ///
    /// # Errors
    /// What is wrong with it, for people.
    pub fn read(bytes: &[u8]) -> Result<Self, String> {
        let mut members = Members::of("the handover", read_canonical(bytes)?)?;
        let body = members.take("handover")?;
        let mut signature = |name: &str| -> Result<[u8; 64], String> {
            bytes_of(&members.text(name)?).ok_or_else(|| format!("{name} is no signature"))
        };
        let (by_old, by_new) = (signature("by_old")?, signature("by_new")?);
        members.done()?;
        let signed = body.write();
        let found = Self::of_body(body)?;
        for (key, signature) in [(found.old, by_old), (found.new, by_new)] {
            if !key.signed(signed.as_bytes(), &signature) {
                return Err(format!(
                    "the signature of {} does not hold",
                    key.fingerprint()
                ));
            }
        }
        Ok(found)
    }

    fn of_body(body: Canon) -> Result<Self, String> {
        let mut members = Members::of("the handover", body)?;
        expect(&mut members, HANDOVER)?;
        let found = Self {
            old: key_of(&mut members, "old")?,
            new: key_of(&mut members, "new")?,
            on: members.text("on")?.parse().map_err(|_| "on is no day")?,
            why: match members.text("why")?.as_str() {
                "in_order" => Why::Order,
                "leaked" => Why::Leaked,
                other => return Err(format!("why is {other}")),
            },
        };
        members.done()?;
        Ok(found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_handover_needs_both() {
        let [old, new] = [[1; 32], [2; 32]].map(|s| HouseKey::from_secret(&s));
        let handover = Handover {
            old: old.public(),
            new: new.public(),
            on: date(2026, 5, 8),
            why: Why::Leaked,
        };
        let file = handover.write(&old, &new);
        assert_eq!(Handover::read(file.as_bytes()), Ok(handover.clone()));
        let forged = handover.write(&new, &new);
        assert!(Handover::read(forged.as_bytes()).is_err());
        let later = file.replace("2026-05-08", "2026-05-09");
        assert!(Handover::read(later.as_bytes()).is_err());
    }

    #[test]
    fn fingerprints_are_read_as_typed() {
        let key = HouseKey::from_secret(&[7; 32]).public();
        let print = key.fingerprint();
        assert_eq!(print.len(), 39);
        assert_eq!(fingerprint_of(&print), Some(print.clone()));
        assert_eq!(
            fingerprint_of(&print.replace('-', " ").to_uppercase()),
            Some(print.clone())
        );
        assert_eq!(fingerprint_of(&print[..30]), None);
        assert_eq!(fingerprint_of(&print.replacen(&print[..1], "x", 1)), None);
    }

    /// A key of small order signs anything for anybody where checking is not strict.
    #[test]
    fn weak_keys_are_refused() {
        let mut neutral = [0; 32];
        neutral[0] = 1;
        let mut signature = [0; 64];
        signature[0] = 1;
        assert!(!PublicKey(neutral).signed(b"anything", &signature));
    }
}
