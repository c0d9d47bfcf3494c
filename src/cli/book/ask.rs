//! Questions to the person at the terminal; nobody is kept waiting where there is none.

use std::io::{BufRead, IsTerminal, Write, stderr, stdin};

/// What the person says to `question`: `Some(true)` for yes, `Some(false)` for no, `None` where nobody can be asked or
/// nobody answers.
pub fn yes(question: &str) -> Option<bool> {
    if !stdin().is_terminal() || !stderr().is_terminal() {
        return None;
    }
    yes_of(question, &mut stdin().lock(), &mut stderr())
}

/// Asks until the answer is clear; an end of input is no answer.
fn yes_of(question: &str, input: &mut impl BufRead, screen: &mut impl Write) -> Option<bool> {
    loop {
        write!(screen, "{question} [y/n] ").ok()?;
        screen.flush().ok()?;
        let mut line = String::new();
        if input.read_line(&mut line).ok()? == 0 {
            return None;
        }
        match line.trim().to_lowercase().as_str() {
            "y" | "yes" => return Some(true),
            "n" | "no" => return Some(false),
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::yes_of;

    #[test]
    fn answers() {
        let said = |text: &str| yes_of("sure?", &mut text.as_bytes(), &mut Vec::new());
        assert_eq!(said("y\n"), Some(true));
        assert_eq!(said("what?\n\nNo\n"), Some(false));
        assert_eq!(said("maybe\n"), None, "the input ends without an answer");
        assert_eq!(said(""), None);
    }
}
