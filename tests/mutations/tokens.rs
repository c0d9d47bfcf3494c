//! Changes to text that know its words: TOML and JSON.

use std::borrow::Cow;

use super::bytes;
use super::draw::Draw;

/// A word of a text, or one in its place.
type Word<'t> = Cow<'t, [u8]>;

/// Words that make trouble in either language.
const WORDS: [&str; 34] = [
    "{",
    "}",
    "[",
    "]",
    "[[",
    "]]",
    "\"",
    "'",
    "\"\"\"",
    "=",
    ":",
    ",",
    ".",
    "\n",
    "\r\n",
    "#",
    "null",
    "true",
    "nan",
    "-inf",
    "1e999",
    "-0.0",
    "1e-400",
    "18446744073709551616",
    "-1",
    "0x7fffffff",
    "1979-05-27T07:32:00Z",
    "\\u0000",
    "\\u001b[31m",
    "\\ud800",
    "\u{1b}[2J",
    "\u{feff}",
    "\u{202e}",
    "é\u{301}😀",
];

/// `text` with a word of it changed in one place; bytes change too, now and then.
pub fn change(draw: &mut Draw, text: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    let mut words = words(text);
    if words.is_empty() || draw.once_in(6) {
        let mut changed = text.to_vec();
        bytes::change(draw, &mut changed, others);
        return changed;
    }
    let at = draw.below(words.len());
    let end = (at + draw.length(words.len())).min(words.len());
    match draw.below(9) {
        0 => words[at] = draw.pick(&WORDS).as_bytes().into(),
        1 => words.insert(at, draw.pick(&WORDS).as_bytes().into()),
        2 => {
            words.drain(at..end);
        }
        3 => {
            let run = words[at..end].to_vec();
            let to = draw.below(words.len());
            words.splice(to..to, run);
        }
        4 => {
            let to = draw.below(words.len());
            words.swap(at, to);
        }
        5 => {
            let other: &Vec<u8> = draw.pick(others);
            let theirs = self::words(other);
            if !theirs.is_empty() {
                words[at] = draw.pick(&theirs).clone();
            }
        }
        6 => words[at] = number(draw).into(),
        7 => {
            let numbers: Vec<usize> = (0..words.len()).filter(|i| is_number(&words[*i])).collect();
            if !numbers.is_empty() {
                let at = *draw.pick(&numbers);
                words[at] = number(draw).into();
            }
        }
        _ if draw.once_in(40) => nest(draw, &mut words, at),
        _ => words[at] = draw.pick(&words).clone(),
    }
    let mut text = words.concat();
    text.truncate(bytes::MOST_BYTES);
    text
}

/// Thousands of open brackets: readers that call themselves for each run out of stack.
fn nest(draw: &mut Draw, words: &mut Vec<Word<'_>>, at: usize) {
    let open = *draw.pick(&["[", "{\"a\":", "{a=", "[[", "a.", "("]);
    let deep = open.repeat(draw.below(3000));
    words.insert(at, deep.into_bytes().into());
}

fn number(draw: &mut Draw) -> Vec<u8> {
    let text = match draw.below(4) {
        0 => format!("{}", draw.below(400)),
        1 => format!("{}", draw.below(1000) as f64 / 1000.0),
        2 => format!("{}", draw.next() as i64),
        _ => format!("{:e}", f64::from_bits(draw.next())),
    };
    text.into_bytes()
}

fn is_number(word: &[u8]) -> bool {
    word.first().is_some_and(u8::is_ascii_digit)
}

/// Runs of letters and digits, and every other sign alone.
fn words(text: &[u8]) -> Vec<Word<'_>> {
    let inside = |b: u8| b.is_ascii_alphanumeric() || b"_-+.".contains(&b) || b >= 0x80;
    let runs = text.chunk_by(|a, b| inside(*a) && inside(*b));
    runs.map(Cow::Borrowed).collect()
}
