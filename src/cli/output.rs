//! Printing: colour where the terminal takes it, plain text into pipes, a closed pipe as success.

use std::io::{self, Write};

use anstyle::{AnsiColor, Style};
use catchcup::doubt::Note;
use catchcup::ladder::RulesError;
use catchcup::report::text::wrap_uncut;
use catchcup::report::{TextLine, Tone};

/// Standard output.
pub struct Out {
    stream: anstream::AutoStream<io::StdoutLock<'static>>,
}

impl Out {
    /// Standard output; colour only on a terminal that takes it and without NO_COLOR.
    pub fn new() -> Self {
        Self {
            stream: anstream::AutoStream::auto(io::stdout().lock()),
        }
    }

    /// Prints `text` as it is.
    pub fn raw(&mut self, text: &str) -> io::Result<()> {
        self.stream.write_all(text.as_bytes())?;
        self.stream.flush()
    }

    /// Prints one line.
    pub fn line(&mut self, text: &str) -> io::Result<()> {
        writeln!(self.stream, "{text}")?;
        self.stream.flush()
    }

    /// Prints lines in their tones.
    pub fn lines(&mut self, lines: &[TextLine]) -> io::Result<()> {
        for line in lines {
            let style = style(line.tone);
            writeln!(self.stream, "{style}{}{style:#}", line.text)?;
        }
        self.stream.flush()
    }
}

fn style(tone: Tone) -> Style {
    match tone {
        Tone::Plain => Style::new(),
        Tone::Heading => Style::new().bold(),
        Tone::Alarm => Style::new().bold().fg_color(Some(AnsiColor::Red.into())),
        Tone::Faint => Style::new().dimmed(),
    }
}

/// True where the reader of our output closed it.
pub fn is_closed_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        cause
            .downcast_ref::<io::Error>()
            .is_some_and(|io| io.kind() == io::ErrorKind::BrokenPipe)
    })
}

/// Says on standard error what stopped the run, with the cure. Nothing can be done where that is closed too.
pub fn complain(error: &anyhow::Error) {
    let hint = error
        .downcast_ref::<RulesError>()
        .map(|rules| rules.hint.as_str())
        .or_else(|| {
            error
                .downcast_ref::<catchcup::error::Error>()
                .map(|e| e.hint())
        });
    tell(&format!("error: {error}"), hint);
}

/// The same of a finding with its cure.
pub fn complain_in_words(note: &Note) {
    tell(&format!("error: {}", note.message), Some(&note.hint));
}

/// Says on standard error what is wrong with one photo, with the cure.
pub fn complain_of(name: &str, error: &catchcup::error::Error) {
    tell(&format!("{name}: {error}"), Some(error.hint()));
}

/// Finding and cure, wrapped as all text is; names are not cut, for somebody may have to copy them.
fn tell(finding: &str, hint: Option<&str>) {
    let mut stream = anstream::stderr();
    let cure = hint.map(|hint| format!("cure: {hint}"));
    for text in [Some(finding), cure.as_deref()].into_iter().flatten() {
        for line in wrap_uncut(text, "  ") {
            let _ = writeln!(stream, "{line}");
        }
    }
}
