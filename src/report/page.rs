//! Lines of an answer for a terminal, 80 columns wide.

/// Widest line, in characters.
pub const WIDTH: usize = 80;

/// How a line is meant; words say the same, so that nothing hangs on colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Ordinary text.
    Plain,
    /// A heading.
    Heading,
    /// Needs looking at now.
    Alarm,
    /// Less important.
    Faint,
}

/// One line of the answer, at most [`WIDTH`] characters, no line end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TextLine {
    /// How it is meant.
    pub tone: Tone,
    /// The text.
    pub text: String,
    /// True where it goes on with the line before, which was full.
    pub continues: bool,
}

/// Lines being gathered.
#[derive(Debug, Default)]
pub struct Page {
    /// The lines so far.
    pub lines: Vec<TextLine>,
}

impl Page {
    /// Adds a line that is known to be short enough.
    pub fn line(&mut self, tone: Tone, text: impl Into<String>) {
        self.lines.push(TextLine {
            tone,
            text: text.into().trim_end().to_string(),
            continues: false,
        });
    }

    /// Adds lines of which all but the first go on with the one before.
    fn joined(&mut self, tone: Tone, lines: impl IntoIterator<Item = String>) {
        for (at, line) in lines.into_iter().enumerate() {
            self.line(tone, line);
            if let Some(last) = self.lines.last_mut() {
                last.continues = at > 0;
            }
        }
    }

    /// Adds a row of a table: `fixed` as it is, then `rest`, broken below itself where the line is full.
    pub fn row(&mut self, tone: Tone, fixed: &str, rest: &str) {
        // Blanks of the fixed part are kept together while the line is broken, by a sign that no text holds.
        const GLUE: &str = "\u{e000}";
        let indent = " ".repeat(fixed.chars().count());
        let text = format!("{}{rest}", fixed.replace(' ', GLUE));
        let lines = wrap(&text, &indent);
        self.joined(tone, lines.iter().map(|line| line.replace(GLUE, " ")));
    }

    /// Adds an empty line.
    pub fn blank(&mut self) {
        self.line(Tone::Plain, "");
    }

    /// Adds `text` broken at spaces; lines after the first begin with `indent`.
    pub fn wrapped(&mut self, tone: Tone, indent: &str, text: &str) {
        self.joined(tone, wrap(text, indent));
    }
}

/// `text` in lines of at most [`WIDTH`] characters, broken at spaces; words longer than a line are cut.
pub fn wrap(text: &str, indent: &str) -> Vec<String> {
    let words = glued(text);
    fill(
        text,
        words.iter().flat_map(|word| pieces(word, WIDTH - 12)),
        indent,
    )
}

/// The same with long words whole, on a line of their own that may be longer: paths and commands.
pub fn wrap_uncut(text: &str, indent: &str) -> Vec<String> {
    fill(text, glued(text).into_iter(), indent)
}

/// `words` in lines, the first begun with the blanks that `text` begins with.
fn fill(text: &str, words: impl Iterator<Item = String>, indent: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let leading: String = text.chars().take_while(|c| *c == ' ').collect();
    let mut line = leading;
    let mut fresh = true;
    for word in words {
        let gap = usize::from(!fresh);
        if !fresh && line.chars().count() + gap + word.chars().count() > WIDTH {
            lines.push(std::mem::replace(&mut line, indent.to_string()));
            fresh = true;
        }
        if !fresh {
            line.push(' ');
        }
        line.push_str(&word);
        fresh = false;
    }
    lines.push(line);
    lines
}

/// Words of `text`; a unit stays with its number.
pub(super) fn glued(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let unit = ["%", "mm"]
            .iter()
            .any(|unit| word.trim_end_matches([',', ';', ')', '.']) == *unit);
        match words.last_mut().filter(|_| unit) {
            Some(number) => {
                number.push(' ');
                number.push_str(word);
            }
            None => words.push(word.to_string()),
        }
    }
    words
}

fn pieces(word: &str, longest: usize) -> Vec<String> {
    let letters: Vec<char> = word.chars().collect();
    letters
        .chunks(longest)
        .map(|chunk| chunk.iter().collect())
        .collect()
}
