//! Questions to the person at the terminal; nobody is kept waiting where there is none.

use std::io::{BufRead, IsTerminal, Write, stderr, stdin};

/// What the person says to `question`: `Some(true)` for yes, `Some(false)` for no, `None` where nobody can be asked or
/// nobody answers.
pub fn yes(question: &str) -> Option<bool> {
    one_of(&format!("{question} [y/n]"), yes_or_no)
}

fn yes_or_no(said: &str) -> Option<bool> {
    match said {
        "y" | "yes" => Some(true),
        "n" | "no" => Some(false),
        _ => None,
    }
}

/// What the person says to `question`, once it is an answer to it in small letters; `None` where nobody can be asked or nobody
/// answers.
pub fn one_of<T>(question: &str, read: impl Fn(&str) -> Option<T>) -> Option<T> {
    if !stdin().is_terminal() || !stderr().is_terminal() {
        return None;
    }
    answer(question, read, &mut stdin().lock(), &mut stderr())
}

/// Asks until the answer is clear; an end of input is no answer.
fn answer<T>(
    question: &str,
    read: impl Fn(&str) -> Option<T>,
    input: &mut impl BufRead,
    screen: &mut impl Write,
) -> Option<T> {
    loop {
        write!(screen, "{question} ").ok()?;
        screen.flush().ok()?;
        let mut line = String::new();
        if input.read_line(&mut line).ok()? == 0 {
            return None;
        }
        let said = read(&line.trim().to_lowercase());
        if said.is_some() {
            return said;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{answer, yes_or_no};

    #[test]
    fn answers() {
        let said = |text: &str| {
            answer(
                "sure? [y/n]",
                yes_or_no,
                &mut text.as_bytes(),
                &mut Vec::new(),
            )
        };
        assert_eq!(said("y\n"), Some(true));
        assert_eq!(said("what?\n\nNo\n"), Some(false));
        assert_eq!(said("maybe\n"), None, "the input ends without an answer");
        assert_eq!(said(""), None);
    }
}
