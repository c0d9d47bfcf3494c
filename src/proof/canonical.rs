//! Signed text: JSON in its one canonical form, with integers and words only.
//!
//! # Source
//! [RFC8785]. Numbers other than integers are refused, as their digits would depend on the program that wrote them;
//! decimals are written as words.

use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, Error as _, MapAccess, SeqAccess, Visitor};

/// The largest integer that every JSON program reads exactly [RFC8785]: 2^53 - 1.
pub const LARGEST: i64 = (1 << 53) - 1;

/// A value of signed text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Canon {
    /// `null`
    Null,
    /// `true` or `false`
    Flag(bool),
    /// An integer, at most [`LARGEST`] either side of 0.
    Whole(i64),
    /// Words.
    Text(String),
    /// A list.
    List(Vec<Canon>),
    /// Members, each name once, in any order.
    Object(Vec<(String, Canon)>),
}

impl Canon {
    /// Words.
    pub fn text(text: impl Into<String>) -> Self {
        Canon::Text(text.into())
    }

    /// Words, or `null`.
    pub fn maybe(text: Option<impl Into<String>>) -> Self {
        text.map_or(Canon::Null, Canon::text)
    }

    /// Members.
    pub fn object<const N: usize>(members: [(&str, Canon); N]) -> Self {
        let members = members.into_iter();
        Canon::Object(members.map(|(name, value)| (name.into(), value)).collect())
    }

    /// The canonical form: members by the UTF-16 units of their names, no blanks.
    pub fn write(&self) -> String {
        let mut out = String::new();
        self.put(&mut out);
        out
    }

    fn put(&self, out: &mut String) {
        match self {
            Canon::Null => out.push_str("null"),
            Canon::Flag(flag) => out.push_str(if *flag { "true" } else { "false" }),
            Canon::Whole(number) => out.push_str(&number.to_string()),
            Canon::Text(text) => quote(text, out),
            Canon::List(items) => {
                out.push('[');
                for (i, item) in items.iter().enumerate() {
                    out.push_str(if i > 0 { "," } else { "" });
                    item.put(out);
                }
                out.push(']');
            }
            Canon::Object(members) => {
                let mut sorted: Vec<&(String, Canon)> = members.iter().collect();
                sorted.sort_by(|a, b| a.0.encode_utf16().cmp(b.0.encode_utf16()));
                out.push('{');
                for (i, (name, value)) in sorted.into_iter().enumerate() {
                    out.push_str(if i > 0 { "," } else { "" });
                    quote(name, out);
                    out.push(':');
                    value.put(out);
                }
                out.push('}');
            }
        }
    }
}

/// Escapes what must be and nothing else.
fn quote(text: &str, out: &mut String) {
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\u{8}' => out.push_str("\\b"),
            '\t' => out.push_str("\\t"),
            '\n' => out.push_str("\\n"),
            '\u{c}' => out.push_str("\\f"),
            '\r' => out.push_str("\\r"),
            c if c < ' ' => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
}

/// The value written in `bytes`, in any form of JSON.
///
/// # Errors
/// What is wrong, for people: no UTF-8, no JSON, a name twice in one object, a number that is no integer or too large.
pub fn read(bytes: &[u8]) -> Result<Canon, String> {
    let text = std::str::from_utf8(bytes).map_err(|_| "it is no UTF-8 text".to_string())?;
    serde_json::from_str(text).map_err(|e| e.to_string())
}

/// The value written in `bytes`, which must be its canonical form to the last byte.
///
/// # Errors
/// As [`read`], and where another form is used.
pub fn read_canonical(bytes: &[u8]) -> Result<Canon, String> {
    let value = read(bytes)?;
    if value.write().as_bytes() == bytes {
        Ok(value)
    } else {
        Err("it is not in canonical form".into())
    }
}

impl<'de> Deserialize<'de> for Canon {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Reader)
    }
}

struct Reader;

impl<'de> Visitor<'de> for Reader {
    type Value = Canon;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("words, integers, lists and objects")
    }

    fn visit_unit<E>(self) -> Result<Canon, E> {
        Ok(Canon::Null)
    }

    fn visit_bool<E>(self, flag: bool) -> Result<Canon, E> {
        Ok(Canon::Flag(flag))
    }

    fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<Canon, E> {
        if number.abs() <= LARGEST {
            Ok(Canon::Whole(number))
        } else {
            Err(E::custom("the integer is too large"))
        }
    }

    fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<Canon, E> {
        let number = i64::try_from(number).map_err(|_| E::custom("the integer is too large"))?;
        self.visit_i64(number)
    }

    fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<Canon, E> {
        Err(E::custom(format!(
            "{number} is no integer; decimals are written as words"
        )))
    }

    fn visit_str<E>(self, text: &str) -> Result<Canon, E> {
        Ok(Canon::text(text))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Canon, A::Error> {
        let mut list = Vec::new();
        while let Some(item) = items.next_element()? {
            list.push(item);
        }
        Ok(Canon::List(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut items: A) -> Result<Canon, A::Error> {
        let mut members: Vec<(String, Canon)> = Vec::new();
        while let Some((name, value)) = items.next_entry::<String, Canon>()? {
            if members.iter().any(|(known, _)| *known == name) {
                return Err(A::Error::custom(format!("the name {name} stands twice")));
            }
            members.push((name, value));
        }
        Ok(Canon::Object(members))
    }
}

/// Members of an object, taken out one by one; what is left over at the end is refused.
#[derive(Debug)]
pub struct Members {
    what: &'static str,
    left: Vec<(String, Canon)>,
}

impl Members {
    /// Of a value that must be an object; `what` names it in complaints.
    ///
    /// # Errors
    /// Where it is none.
    pub fn of(what: &'static str, value: Canon) -> Result<Self, String> {
        match value {
            Canon::Object(left) => Ok(Self { what, left }),
            _ => Err(format!("{what} is no object")),
        }
    }

    /// The member of that name.
    ///
    /// # Errors
    /// Where it is missing.
    pub fn take(&mut self, name: &str) -> Result<Canon, String> {
        let at = self.left.iter().position(|(n, _)| n == name);
        let at = at.ok_or_else(|| format!("{} has no {name}", self.what))?;
        Ok(self.left.swap_remove(at).1)
    }

    /// Words.
    ///
    /// # Errors
    /// Where it is missing or of another kind.
    pub fn text(&mut self, name: &str) -> Result<String, String> {
        match self.take(name)? {
            Canon::Text(text) => Ok(text),
            _ => Err(self.wrong(name, "no words")),
        }
    }

    /// Words or `null`.
    ///
    /// # Errors
    /// Where it is missing or of another kind.
    pub fn maybe_text(&mut self, name: &str) -> Result<Option<String>, String> {
        match self.take(name)? {
            Canon::Text(text) => Ok(Some(text)),
            Canon::Null => Ok(None),
            _ => Err(self.wrong(name, "neither words nor null")),
        }
    }

    /// An integer from 0 to 4294967295.
    ///
    /// # Errors
    /// Where it is missing or of another kind.
    pub fn whole(&mut self, name: &str) -> Result<u32, String> {
        match self.take(name)? {
            Canon::Whole(number) => {
                u32::try_from(number).map_err(|_| self.wrong(name, "out of range"))
            }
            _ => Err(self.wrong(name, "no integer")),
        }
    }

    /// The same or `null`.
    ///
    /// # Errors
    /// Where it is missing or of another kind.
    pub fn maybe_whole(&mut self, name: &str) -> Result<Option<u32>, String> {
        match self.take(name)? {
            Canon::Null => Ok(None),
            Canon::Whole(number) => u32::try_from(number)
                .map(Some)
                .map_err(|_| self.wrong(name, "out of range")),
            _ => Err(self.wrong(name, "neither an integer nor null")),
        }
    }

    /// A finite decimal number written as words in its shortest form, or `null`.
    ///
    /// # Errors
    /// Where it is missing, of another kind, or written otherwise.
    pub fn maybe_decimal(&mut self, name: &str) -> Result<Option<f64>, String> {
        let Some(text) = self.maybe_text(name)? else {
            return Ok(None);
        };
        let number: Option<f64> = text.parse().ok().filter(|n: &f64| n.is_finite());
        number
            .filter(|n| n.to_string() == text)
            .map(Some)
            .ok_or_else(|| self.wrong(name, "no decimal number"))
    }

    /// The same, which must be there.
    ///
    /// # Errors
    /// As above.
    pub fn decimal(&mut self, name: &str) -> Result<f64, String> {
        self.maybe_decimal(name)?
            .ok_or_else(|| self.wrong(name, "no decimal number"))
    }

    /// A list.
    ///
    /// # Errors
    /// Where it is missing or of another kind.
    pub fn list(&mut self, name: &str) -> Result<Vec<Canon>, String> {
        match self.take(name)? {
            Canon::List(items) => Ok(items),
            _ => Err(self.wrong(name, "no list")),
        }
    }

    /// Nothing must be left.
    ///
    /// # Errors
    /// Where something is.
    pub fn done(self) -> Result<(), String> {
        match self.left.first() {
            Some((name, _)) => Err(format!(
                "{} has a member {name} that is not known",
                self.what
            )),
            None => Ok(()),
        }
    }

    fn wrong(&self, name: &str, how: &str) -> String {
        format!("{name} of {} is {how}", self.what)
    }
}
