//! Reading a TOML file that a person wrote by hand: every complaint names line, column and cure.
//!
//! Used for the ladders (`grading-rules/*.toml`) and for `house.toml`.

use std::fmt;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::decimal::comma_before;
use crate::doubt::{shown, steers};

/// What is wrong in a hand-written file, where, and what to do about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RulesError {
    /// Name of the file as the user knows it, without folders.
    pub file: String,
    /// 1-based line.
    pub line: usize,
    /// 1-based column, counted in characters.
    pub column: usize,
    /// What was found and what was expected; lower case, no full stop.
    pub message: String,
    /// What to do next; lower case, no full stop.
    pub hint: String,
}

impl fmt::Display for RulesError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}:{}:{}: {}",
            self.file, self.line, self.column, self.message
        )
    }
}

impl std::error::Error for RulesError {}

/// The text of a hand-written file with its name.
#[derive(Debug, Clone, Copy)]
pub struct TomlText<'a> {
    /// Name of the file as the user knows it, without folders.
    pub file: &'a str,
    /// The whole text.
    pub text: &'a str,
}

/// A number and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberAt {
    /// The number.
    pub value: f64,
    /// Bytes of the text that hold it.
    pub span: Range<usize>,
}

impl<'a> TomlText<'a> {
    /// The parsed top table.
    ///
    /// # Errors
    /// Where the text is not TOML, with the place.
    pub fn parse(&self) -> Result<Spanned<DeTable<'a>>, RulesError> {
        DeTable::parse(self.text).map_err(|error| {
            let span = error.span().unwrap_or(0..0);
            if let Some(found) = comma_before(self, span.start) {
                return found;
            }
            let message = error
                .message()
                .lines()
                .next()
                .unwrap_or("the text can't be read")
                .to_string();
            self.error(
                span,
                message,
                "put this place right; lines look like `name = value`",
            )
        })
    }

    /// A complaint about the bytes `span`.
    pub fn error(
        &self,
        span: Range<usize>,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> RulesError {
        let before = self.text.get(..span.start).unwrap_or(self.text);
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        RulesError {
            file: self.file.to_string(),
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
            message: shown(message.into()),
            hint: shown(hint.into()),
        }
    }
}

/// A table of the file, read with care.
#[derive(Debug, Clone)]
pub struct Section<'t, 'a> {
    source: TomlText<'a>,
    table: &'t DeTable<'a>,
    span: Range<usize>,
    name: String,
}

impl<'t, 'a> Section<'t, 'a> {
    /// A section after the check that it holds none but the `known` keys.
    ///
    /// # Errors
    /// At the first unknown key, with the known key that looks most like it.
    pub fn new(
        source: TomlText<'a>,
        table: &'t DeTable<'a>,
        span: Range<usize>,
        name: impl Into<String>,
        known: &[&str],
    ) -> Result<Self, RulesError> {
        let name = name.into();
        let unknown = table
            .keys()
            .filter(|key| !known.contains(&key.get_ref().as_ref()))
            .min_by_key(|key| key.span().start);
        if let Some(key) = unknown {
            let word = key.get_ref().as_ref();
            return Err(source.error(
                key.span(),
                format!("unknown key `{word}` in {name}"),
                cure_for_unknown(word, known),
            ));
        }
        Ok(Self {
            source,
            table,
            span,
            name,
        })
    }

    /// Where the section stands.
    pub fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// Where `key` 's value stands, or the section where the key is absent.
    pub fn span_of(&self, key: &str) -> Range<usize> {
        self.table
            .get(key)
            .map_or_else(|| self.span(), Spanned::span)
    }

    /// A complaint about `key`.
    pub fn error(
        &self,
        key: &str,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> RulesError {
        self.source.error(self.span_of(key), message, hint)
    }

    /// True where the key is there.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// The text under `key`, which can be shown as it is.
    ///
    /// # Errors
    /// Where the value is no text, or holds signs that steer a terminal.
    pub fn text(&self, key: &str) -> Result<Option<&'t str>, RulesError> {
        let Some(value) = self.value(key) else {
            return Ok(None);
        };
        let text = value
            .as_str()
            .ok_or_else(|| self.wrong_type(key, value, "a text in \"quotes\""))?;
        if text.chars().any(steers) {
            return Err(self.error(
                key,
                format!(
                    "`{key}` holds a sign that can't be shown, expected one line of plain text"
                ),
                "write it anew by hand",
            ));
        }
        Ok(Some(text))
    }

    /// The text under `key`, which must be there.
    ///
    /// # Errors
    /// Where it is absent or no text.
    pub fn need_text(&self, key: &str) -> Result<&'t str, RulesError> {
        self.text(key)?.ok_or_else(|| self.missing(key, "\"...\""))
    }

    /// The true or false under `key`.
    ///
    /// # Errors
    /// Where the value is neither.
    pub fn flag(&self, key: &str) -> Result<Option<bool>, RulesError> {
        self.value(key)
            .map(|value| {
                value
                    .as_bool()
                    .ok_or_else(|| self.wrong_type(key, value, "true or false"))
            })
            .transpose()
    }

    /// The number under `key` with its place.
    ///
    /// # Errors
    /// Where the value is no number or outside `low..=high`.
    pub fn number(&self, key: &str, low: f64, high: f64) -> Result<Option<NumberAt>, RulesError> {
        let Some(value) = self.value(key) else {
            return Ok(None);
        };
        let number = number_of(value).ok_or_else(|| self.wrong_type(key, value, "a number"))?;
        if !(low..=high).contains(&number) {
            let message = format!("`{key}` is {number}, expected {low} to {high}");
            return Err(self.error(key, message, format!("write a number from {low} to {high}")));
        }
        Ok(Some(NumberAt {
            value: number,
            span: self.span_of(key),
        }))
    }

    /// The number under `key`, which must be there.
    ///
    /// # Errors
    /// As [`Section::number`], and where it is absent.
    pub fn need_number(&self, key: &str, low: f64, high: f64) -> Result<f64, RulesError> {
        self.number(key, low, high)?
            .map(|n| n.value)
            .ok_or_else(|| self.missing(key, &format!("{low}")))
    }

    /// The table under `key`, with the keys it may hold.
    ///
    /// # Errors
    /// Where the value is no table or holds an unknown key.
    pub fn section(
        &self,
        key: &str,
        known: &[&str],
    ) -> Result<Option<Section<'t, 'a>>, RulesError> {
        let Some(value) = self.value(key) else {
            return Ok(None);
        };
        let table = value
            .as_table()
            .ok_or_else(|| self.wrong_type(key, value, "a table such as { at_least = 0.5 }"))?;
        Section::new(
            self.source,
            table,
            self.span_of(key),
            format!("`{key}`"),
            known,
        )
        .map(Some)
    }

    /// The table under `key`, which must be there.
    ///
    /// # Errors
    /// As [`Section::section`], and where it is absent.
    pub fn need_section(&self, key: &str, known: &[&str]) -> Result<Section<'t, 'a>, RulesError> {
        self.section(key, known)?.ok_or_else(|| {
            self.source.error(
                self.span(),
                format!("{} has no [{key}]", self.name),
                format!("add a [{key}] part"),
            )
        })
    }

    /// The tables of the list `[[key]]`, each with the keys it may hold.
    ///
    /// # Errors
    /// Where the value is no list of tables or one holds an unknown key.
    pub fn sections(&self, key: &str, known: &[&str]) -> Result<Vec<Section<'t, 'a>>, RulesError> {
        let Some(value) = self.value(key) else {
            return Ok(Vec::new());
        };
        let list = value.as_array().ok_or_else(|| {
            self.wrong_type(key, value, &format!("parts that begin with [[{key}]]"))
        })?;
        list.iter()
            .map(|item| {
                let table = item
                    .get_ref()
                    .as_table()
                    .ok_or_else(|| self.wrong_type(key, item.get_ref(), "a table"))?;
                Section::new(self.source, table, item.span(), format!("[[{key}]]"), known)
            })
            .collect()
    }

    /// The texts of the list under `key`; empty where it is absent.
    ///
    /// # Errors
    /// Where the value is no list of texts.
    pub fn texts(&self, key: &str) -> Result<Vec<&'t str>, RulesError> {
        let Some(value) = self.value(key) else {
            return Ok(Vec::new());
        };
        let wrong = || self.wrong_type(key, value, "a list of texts such as [\"a\", \"b\"]");
        value
            .as_array()
            .ok_or_else(wrong)?
            .iter()
            .map(|item| item.get_ref().as_str().ok_or_else(wrong))
            .collect()
    }

    /// The colour under `key`: three numbers from 0 to 4, linear-light R, G, B of the floor.
    ///
    /// # Errors
    /// Where it is absent or no such list.
    pub fn need_colour(&self, key: &str) -> Result<[f64; 3], RulesError> {
        let value = self
            .value(key)
            .ok_or_else(|| self.missing(key, "[0.72, 0.69, 0.66]"))?;
        self.colour(value, self.span_of(key))
    }

    /// The colours of the list under `key`, one at least.
    ///
    /// # Errors
    /// Where it is absent, empty or no list of colours.
    pub fn need_colours(&self, key: &str) -> Result<Vec<[f64; 3]>, RulesError> {
        let value = self
            .value(key)
            .ok_or_else(|| self.missing(key, "[[0.38, 0.08, 0.08]]"))?;
        let list = value.as_array().ok_or_else(|| {
            self.wrong_type(key, value, "a list of colours such as [[0.4, 0.1, 0.1]]")
        })?;
        if list.is_empty() {
            return Err(self.error(
                key,
                format!("`{key}` is an empty list"),
                "give one colour at least: [[red, green, blue]]",
            ));
        }
        list.iter()
            .map(|item| self.colour(item.get_ref(), item.span()))
            .collect()
    }

    /// The numbers of the list under `key`: of one of these `lengths`.
    ///
    /// # Errors
    /// Where it is absent, no list of numbers, or of another length.
    pub fn need_numbers(&self, key: &str, lengths: &[usize]) -> Result<Vec<f64>, RulesError> {
        let value = self
            .value(key)
            .ok_or_else(|| self.missing(key, "[1.0, 0.0, 0.0]"))?;
        let numbers: Option<Vec<f64>> = value
            .as_array()
            .and_then(|list| list.iter().map(|item| number_of(item.get_ref())).collect());
        let right = |list: &Vec<f64>| {
            lengths.contains(&list.len()) && list.iter().all(|number| number.is_finite())
        };
        numbers.filter(right).ok_or_else(|| {
            let lengths: Vec<String> = lengths.iter().map(usize::to_string).collect();
            let expected = format!("a list of {} numbers", lengths.join(" or "));
            self.error(
                key,
                format!("`{key}` is not {expected}"),
                format!("write {expected}"),
            )
        })
    }

    fn colour(&self, value: &DeValue<'a>, span: Range<usize>) -> Result<[f64; 3], RulesError> {
        let numbers: Option<Vec<f64>> = value
            .as_array()
            .and_then(|list| list.iter().map(|item| number_of(item.get_ref())).collect());
        // 4 allows for white pigment on a dark cup, which is brighter than the floor.
        match numbers.as_deref() {
            Some([r, g, b]) if [r, g, b].iter().all(|c| (0.0..=4.0).contains(*c)) => Ok([*r, *g, *b]),
            _ => Err(self.source.error(
                span,
                "a colour is three numbers from 0 to 4: red, green, blue in linear light, floor = 1",
                "write it like [0.38, 0.08, 0.08]",
            )),
        }
    }

    fn value(&self, key: &str) -> Option<&'t DeValue<'a>> {
        self.table.get(key).map(|value| value.get_ref())
    }

    fn wrong_type(&self, key: &str, value: &DeValue<'_>, expected: &str) -> RulesError {
        self.error(
            key,
            format!("`{key}` is {}, expected {expected}", kind_of(value)),
            format!("write {expected}"),
        )
    }

    fn missing(&self, key: &str, example: &str) -> RulesError {
        self.source.error(
            self.span(),
            format!("{} has no `{key}`", self.name),
            format!("add a line such as `{key} = {example}`"),
        )
    }
}

fn kind_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// Finite numbers only: `inf` and `nan` are TOML but no limit.
fn number_of(value: &DeValue<'_>) -> Option<f64> {
    let number: f64 = match value {
        DeValue::Float(number) => number.as_str().replace('_', "").parse().ok()?,
        DeValue::Integer(number) => {
            i64::from_str_radix(number.as_str(), number.radix()).ok()? as f64
        }
        _ => return None,
    };
    number.is_finite().then_some(number)
}

fn cure_for_unknown(word: &str, known: &[&str]) -> String {
    let nearest = known
        .iter()
        .map(|k| (edits(word, k), k))
        .min_by_key(|(distance, _)| *distance);
    match nearest {
        Some((distance, name)) if distance <= 2 => format!("did you mean `{name}`?"),
        _ => format!("known here: {}", known.join(", ")),
    }
}

/// Levenshtein distance in characters.
fn edits(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, cb) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(ca != *cb);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_counted_in_lines_and_characters() {
        let source = TomlText {
            file: "x.toml",
            text: "a = 1\nü = 2\n",
        };
        let error = source.error(
            source.text.find("= 2").map_or(0..0, |at| at..at + 3),
            "m",
            "h",
        );
        assert_eq!((error.line, error.column), (2, 3));
    }

    #[test]
    fn distance_of_words() {
        assert_eq!(edits("kitten", "sitting"), 3);
        assert_eq!(edits("", "abc"), 3);
        assert_eq!(edits("legs", "legs"), 0);
    }
}
