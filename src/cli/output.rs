//! Printing: colour where the terminal takes it, plain text into pipes, a closed pipe as success.

use std::io::{self, Write};

use anstyle::{AnsiColor, Style};
use catchcup::ladder::RulesError;
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
    let mut stream = anstream::stderr();
    let _ = writeln!(stream, "error: {error}");
    let hint = error
        .downcast_ref::<RulesError>()
        .map(|rules| rules.hint.as_str())
        .or_else(|| {
            error
                .downcast_ref::<catchcup::error::Error>()
                .map(|e| e.hint())
        });
    if let Some(hint) = hint {
        let _ = writeln!(stream, "cure: {hint}");
    }
}

/// Says on standard error what is wrong with one photo, with the cure.
pub fn complain_of(name: &str, error: &catchcup::error::Error) {
    let mut stream = anstream::stderr();
    let _ = writeln!(stream, "{name}: {error}");
    let _ = writeln!(stream, "cure: {}", error.hint());
}
