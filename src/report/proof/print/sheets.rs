//! Sheets of paper with a cursor: what is drawn where, in points from the lower left corner.

use pdf_writer::{Content, Name, Str};

use super::face::Face;
use crate::error::Error;

/// A4 in points [ISO216].
pub(super) const PAPER: [f32; 2] = [595.276, 841.89];
/// Margin at left and right: 14 mm, as the page has in print.
const SIDE: f32 = 39.685;
/// Above and below what is written: Letter is 50 points lower than A4 and cuts 25 at each end where it is not shrunk to fit.
const TOP: f32 = 50.0;
const BOTTOM: f32 = 66.0;
/// Base line of the foot.
const FOOT: f32 = 46.0;
/// Left edge and width of what is written.
pub(super) const LEFT: f32 = SIDE;
pub(super) const WIDTH: f32 = PAPER[0] - 2.0 * SIDE;
/// Height of a sheet for what is written.
pub(super) const HEIGHT: f32 = PAPER[1] - TOP - BOTTOM;
/// Height of a line in sizes of its letters.
pub(super) const LEADING: f32 = 1.38;
/// Names of the fonts and of the see-through plate in the file.
pub(super) const FONTS: [&[u8]; 2] = [b"R", b"B"];
pub(super) const SEE_THROUGH: &[u8] = b"T";

/// How letters look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub size: f32,
    pub bold: bool,
    /// 0 = black, 1 = white.
    pub grey: f32,
}

/// A stretch of letters of one look.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Span {
    pub text: String,
    pub style: Style,
}

/// A line: its spans, each with its distance from the left.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Line {
    pub spans: Vec<(f32, Span)>,
    pub width: f32,
    /// Size of its largest letters.
    pub size: f32,
}

/// The sheets so far.
pub(super) struct Sheets {
    pub faces: [Face; 2],
    pub done: Vec<Content>,
    pub now: Content,
    /// Where the next thing begins, from the bottom of the paper.
    pub y: f32,
}

impl Sheets {
    /// An empty sheet.
    ///
    /// # Errors
    /// Where the fonts can't be read, which points to a fault of the program.
    pub(super) fn new() -> Result<Self, Error> {
        Ok(Self {
            faces: [
                Face::new("NotoSans-Regular", notosans::REGULAR_TTF)?,
                Face::new("NotoSans-Bold", notosans::BOLD_TTF)?,
            ],
            done: Vec::new(),
            now: Content::new(),
            y: PAPER[1] - TOP,
        })
    }

    /// Begins another sheet where less than `height` is left on this one.
    pub(super) fn need(&mut self, height: f32) {
        if self.y - height < BOTTOM && self.y < PAPER[1] - TOP {
            self.next();
        }
    }

    fn next(&mut self) {
        self.done
            .push(std::mem::replace(&mut self.now, Content::new()));
        self.y = PAPER[1] - TOP;
    }

    /// Leaves room.
    pub(super) fn down(&mut self, height: f32) {
        self.y -= height;
    }

    /// Width of a text.
    pub(super) fn width(&self, text: &str, style: Style) -> f32 {
        self.faces[usize::from(style.bold)].width(text, style.size)
    }

    /// Letters with their base line at `at`.
    ///
    /// # Errors
    /// Where the font lacks a letter.
    pub(super) fn letters(&mut self, at: [f32; 2], text: &str, style: Style) -> Result<(), Error> {
        self.inked(at, text, style, [style.grey; 3])
    }

    /// The same in a colour.
    ///
    /// # Errors
    /// Where the font lacks a letter.
    pub(super) fn inked(
        &mut self,
        at: [f32; 2],
        text: &str,
        style: Style,
        [r, g, b]: [f32; 3],
    ) -> Result<(), Error> {
        let face = usize::from(style.bold);
        let letters = self.faces[face].encoded(text)?;
        self.now
            .begin_text()
            .set_font(Name(FONTS[face]), style.size)
            .set_fill_rgb(r, g, b)
            .set_text_matrix([1.0, 0.0, 0.0, 1.0, at[0], at[1]])
            .show(Str(&letters))
            .end_text();
        Ok(())
    }

    /// A line with its base line at `y`.
    ///
    /// # Errors
    /// Where the font lacks a letter.
    pub(super) fn line(&mut self, x: f32, y: f32, line: &Line) -> Result<(), Error> {
        for (from, span) in &line.spans {
            self.letters([x + from, y], &span.text, span.style)?;
        }
        Ok(())
    }

    /// A straight line of that grey.
    pub(super) fn rule(&mut self, from: [f32; 2], to: [f32; 2], width: f32, grey: f32) {
        self.now
            .set_line_width(width)
            .set_stroke_gray(grey)
            .move_to(from[0], from[1])
            .line_to(to[0], to[1])
            .stroke();
    }

    /// A frame: left, bottom, width, height.
    pub(super) fn frame(&mut self, [x, y, w, h]: [f32; 4], width: f32, grey: f32) {
        self.now
            .set_line_width(width)
            .set_stroke_gray(grey)
            .rect(x, y, w, h)
            .stroke();
    }

    /// All sheets, each with its foot.
    ///
    /// # Errors
    /// Where the font lacks a letter of the foot.
    pub(super) fn finished(mut self, foot: &str) -> Result<(Vec<Vec<u8>>, [Face; 2]), Error> {
        self.next();
        let mut pages = Vec::new();
        let style = Style {
            size: 8.0,
            bold: false,
            grey: 0.27,
        };
        let count = self.done.len();
        for (at, content) in std::mem::take(&mut self.done).into_iter().enumerate() {
            self.now = content;
            let page = format!("Page {} of {count}", at + 1);
            let right = LEFT + WIDTH - self.width(&page, style);
            self.letters([LEFT, FOOT], foot, style)?;
            self.letters([right, FOOT], &page, style)?;
            pages.push(
                std::mem::replace(&mut self.now, Content::new())
                    .finish()
                    .into_vec(),
            );
        }
        Ok((pages, self.faces))
    }

    /// `spans` broken into lines of that width, between words; a word that is wider is broken between letters.
    pub(super) fn broken(&self, spans: &[Span], width: f32) -> Vec<Line> {
        let mut lines = vec![Line::default()];
        for word in words(spans) {
            let wide: f32 = word.iter().map(|s| self.width(&s.text, s.style)).sum();
            let last = lines.last().map_or(0.0, |line| line.width);
            if last > 0.0 && last + wide - self.blank_behind(&word) > width {
                lines.push(Line::default());
            }
            let is_first = lines.last().is_none_or(|line| line.spans.is_empty());
            let word = if is_first { trimmed(&word) } else { word };
            self.put(&mut lines, &word, width);
        }
        lines
    }

    /// Width of the blanks at the end of a word: they may stand over the edge.
    fn blank_behind(&self, word: &[Span]) -> f32 {
        word.last().map_or(0.0, |span| {
            let kept = span.text.trim_end();
            self.width(&span.text, span.style) - self.width(kept, span.style)
        })
    }

    fn put(&self, lines: &mut Vec<Line>, word: &[Span], width: f32) {
        for span in word {
            let mut rest = span.text.as_str();
            while !rest.is_empty() {
                let Some(line) = lines.last_mut() else { return };
                let fits = self.fitting(rest, span.style, width - line.width);
                if fits == 0 && !line.spans.is_empty() {
                    lines.push(Line::default());
                    continue;
                }
                let (head, tail) = rest.split_at(fits.max(first_letter(rest)));
                let piece = Span {
                    text: head.to_string(),
                    style: span.style,
                };
                let from = line.width;
                line.width += self.width(head, span.style);
                line.size = line.size.max(span.style.size);
                match line.spans.last_mut() {
                    Some((_, last)) if last.style == span.style => last.text += head,
                    _ => line.spans.push((from, piece)),
                }
                rest = tail;
            }
        }
    }

    /// Bytes of `text` that fit into that width; blanks at the end need no room.
    fn fitting(&self, text: &str, style: Style, width: f32) -> usize {
        if self.width(text.trim_end(), style) <= width {
            return text.len();
        }
        let ends = text.char_indices().map(|(at, c)| at + c.len_utf8());
        ends.take_while(|end| self.width(&text[..*end], style) <= width)
            .last()
            .unwrap_or(0)
    }
}

fn first_letter(text: &str) -> usize {
    text.chars().next().map_or(0, char::len_utf8)
}

/// A word at the start of a line has no blank ahead of it.
fn trimmed(word: &[Span]) -> Vec<Span> {
    let mut word = word.to_vec();
    if let Some(first) = word.first_mut() {
        first.text = first.text.trim_start().to_string();
    }
    word
}

/// The words of a text, each with the blanks behind it; one may go over several spans.
fn words(spans: &[Span]) -> Vec<Vec<Span>> {
    let mut all: Vec<Vec<Span>> = Vec::new();
    let mut is_open = false;
    for span in spans {
        for piece in span.text.split_inclusive(' ') {
            let part = Span {
                text: piece.to_string(),
                style: span.style,
            };
            match all.last_mut() {
                Some(word) if is_open => word.push(part),
                _ => all.push(vec![part]),
            }
            is_open = !piece.ends_with(' ');
        }
    }
    all
}
