//! From the parts of a page to sheets.

use super::picture;
use super::sheets::{HEIGHT, LEADING, LEFT, Line, Sheets, Span, Style, WIDTH};
use crate::error::Error;
use crate::photo::embed::Embedded;
use crate::report::proof::blocks::{Block, Column, Content, Run};
use crate::report::proof::figure::{CutOut, Whole};
use crate::report::proof::square::Square;

const BODY: Style = plain(10.0);
const NOTE: Style = Style {
    grey: 0.27,
    ..plain(9.5)
};
const CAPTION: Style = Style {
    grey: 0.2,
    ..plain(9.5)
};
const CODE: Style = plain(8.5);
const TABLE: Style = plain(9.5);
const TITLE: Style = bold(17.0);
const HEADING: Style = bold(12.5);
const CLAIM: Style = bold(13.0);
const TERM: Style = bold(10.0);

/// Room between parts.
const GAP: f32 = 6.0;
/// Room above a heading, and what must follow it on the same sheet.
const ABOVE: f32 = 12.0;
const FOLLOWS: f32 = 60.0;
/// Room within the frame of the statement.
const INSIDE: f32 = 9.0;
/// Highest photo: with heading and caption it fits on a sheet.
const HIGHEST: f32 = 520.0;
/// Between cut-outs, and between columns.
const BETWEEN: f32 = 12.0;
/// Widest column of terms.
const WIDEST_TERM: f32 = 150.0;
/// Side of the square code: 40 mm, so that a phone reads it from paper.
const SQUARE: f32 = 113.4;
/// Distance of columns of lines, in sizes of the letters: the mean width of letters in running text of this font, measured,
/// rounded up.
const PITCH: f32 = 0.56;

const fn plain(size: f32) -> Style {
    Style {
        size,
        bold: false,
        grey: 0.1,
    }
}

const fn bold(size: f32) -> Style {
    Style {
        size,
        bold: true,
        grey: 0.1,
    }
}

/// The sheets of a page.
///
/// # Errors
/// Where the page holds a sign that the font lacks.
pub(super) fn laid_out(content: &Content, photo: &Embedded) -> Result<Sheets, Error> {
    let mut sheets = Sheets::new()?;
    text(&mut sheets, &[span(&content.title, TITLE)])?;
    text(&mut sheets, &[span(&content.facts, NOTE)])?;
    for (at, block) in content.blocks.iter().enumerate() {
        if let Block::Heading(heading) = block {
            let follows = following(&sheets, &content.blocks[at + 1..]);
            head(&mut sheets, heading, follows)?;
        } else {
            put(&mut sheets, block, photo)?;
        }
    }
    Ok(sheets)
}

fn span(text: &str, style: Style) -> Span {
    Span {
        text: text.to_string(),
        style,
    }
}

fn spans(runs: &[Run], style: Style) -> Vec<Span> {
    let one = |run: &Run| match run {
        Run::Own(text) => span(text, style),
        Run::Text(text) => span(text, style),
        Run::Code(text) => span(text, CODE),
    };
    runs.iter().map(one).collect()
}

fn height(lines: &[Line]) -> f32 {
    lines.iter().map(|line| line.size * LEADING).sum()
}

/// Lines below each other, from the cursor on; the cursor is left below them.
fn lines(sheets: &mut Sheets, x: f32, all: &[Line]) -> Result<(), Error> {
    for line in all {
        let high = line.size * LEADING;
        sheets.need(high);
        // The base line stands so that what is above and below the letters is shared evenly.
        let base = sheets.y - high * 0.76;
        sheets.line(x, base, line)?;
        sheets.down(high);
    }
    Ok(())
}

fn text(sheets: &mut Sheets, spans: &[Span]) -> Result<(), Error> {
    let broken = sheets.broken(spans, WIDTH);
    // One line alone at the foot of a sheet, or at the head of the next, is hard to read.
    sheets.need(height(&broken).min(3.0 * BODY.size * LEADING));
    lines(sheets, LEFT, &broken)?;
    sheets.down(GAP);
    Ok(())
}

/// What must stay on one sheet with the heading above these parts: the first, and where that only leads to another, both.
fn following(sheets: &Sheets, blocks: &[Block]) -> f32 {
    match blocks {
        [Block::Paragraph(runs), next, ..] if !matches!(next, Block::Heading(_)) => {
            height(&sheets.broken(&spans(runs, BODY), WIDTH)) + GAP + together(sheets, next)
        }
        [first, ..] => together(sheets, first),
        [] => 0.0,
    }
}

/// How much of a part must stay on one sheet with what stands above it.
fn together(sheets: &Sheets, block: &Block) -> f32 {
    match block {
        Block::Whole(whole, said) => {
            shown(whole)[1] + 2.0 * GAP + height(&sheets.broken(&[span(said, CAPTION)], WIDTH))
        }
        Block::CutOuts(all) => cut_height(sheets, all),
        Block::Seal { .. } => SQUARE,
        Block::Lines(all) => all.len() as f32 * CODE.size * LEADING,
        Block::Table { rows, columns, .. } => rows
            .iter()
            .map(|row| row_height(sheets, row, columns))
            .sum::<f32>()
            .max(FOLLOWS),
        _ => FOLLOWS,
    }
    .min(HEIGHT * 0.8)
}

fn head(sheets: &mut Sheets, heading: &str, follows: f32) -> Result<(), Error> {
    let broken = sheets.broken(&[span(heading, HEADING)], WIDTH);
    sheets.need(ABOVE + height(&broken) + GAP + follows);
    sheets.down(ABOVE);
    lines(sheets, LEFT, &broken)?;
    sheets.rule([LEFT, sheets.y], [LEFT + WIDTH, sheets.y], 0.75, 0.73);
    sheets.down(GAP);
    Ok(())
}

fn put(sheets: &mut Sheets, block: &Block, photo: &Embedded) -> Result<(), Error> {
    match block {
        Block::Heading(text) => head(sheets, text, FOLLOWS),
        Block::Paragraph(runs) => text(sheets, &spans(runs, BODY)),
        Block::Note(run) => text(sheets, &spans(std::slice::from_ref(run), NOTE)),
        Block::Statement(said) => statement(sheets, said),
        Block::Whole(whole, said) => scoop(sheets, photo, whole, said),
        Block::CutOuts(all) => cut_outs(sheets, photo, all),
        Block::Table { columns, rows, .. } => table(sheets, columns, rows),
        Block::Terms(terms) => these_terms(sheets, terms),
        Block::List(intro, items) => list(sheets, *intro, items),
        Block::Lines(all) => in_columns(sheets, all),
        Block::Seal { code, words } => seal(sheets, code, words),
    }
}

fn statement(sheets: &mut Sheets, said: &[Run]) -> Result<(), Error> {
    let width = WIDTH - 2.0 * INSIDE;
    let mut all = Vec::new();
    for (at, run) in said.iter().enumerate() {
        let style = if at == 0 { CLAIM } else { BODY };
        all.push(sheets.broken(&spans(std::slice::from_ref(run), style), width));
    }
    let inner: f32 = all.iter().map(|part| height(part) + GAP).sum::<f32>() - GAP;
    let high = inner + 2.0 * INSIDE;
    sheets.need(high);
    sheets.frame([LEFT, sheets.y - high, WIDTH, high], 1.2, 0.1);
    sheets.down(INSIDE);
    for part in &all {
        lines(sheets, LEFT + INSIDE, part)?;
        sheets.down(GAP);
    }
    sheets.down(INSIDE);
    Ok(())
}

/// Width and height of the photo on the sheet.
fn shown(whole: &Whole) -> [f32; 2] {
    let [w, h] = whole.size.map(|v| v as f32);
    let scale = (WIDTH / w).min(HIGHEST / h);
    [w * scale, h * scale]
}

fn scoop(sheets: &mut Sheets, photo: &Embedded, whole: &Whole, said: &str) -> Result<(), Error> {
    let [width, high] = shown(whole);
    let caption = sheets.broken(&[span(said, CAPTION)], WIDTH);
    sheets.need(high + GAP + height(&caption));
    picture::whole(sheets, photo, whole, [LEFT, sheets.y], width)?;
    sheets.down(high + GAP / 2.0);
    lines(sheets, LEFT, &caption)?;
    sheets.down(GAP);
    Ok(())
}

/// Side of a cut-out where three stand side by side.
const CUT: f32 = (WIDTH - 2.0 * BETWEEN) / 3.0;

fn captions(sheets: &Sheets, all: &[(CutOut, String)]) -> Vec<Vec<Line>> {
    all.iter()
        .map(|(_, said)| sheets.broken(&[span(said, CAPTION)], CUT))
        .collect()
}

fn cut_height(sheets: &Sheets, all: &[(CutOut, String)]) -> f32 {
    let highest = captions(sheets, all)
        .iter()
        .map(|lines| height(lines))
        .fold(0.0, f32::max);
    CUT + GAP + highest
}

fn cut_outs(sheets: &mut Sheets, photo: &Embedded, all: &[(CutOut, String)]) -> Result<(), Error> {
    let high = cut_height(sheets, all);
    sheets.need(high);
    let top = sheets.y;
    for (at, ((cut, _), caption)) in all.iter().zip(captions(sheets, all)).enumerate() {
        let x = LEFT + at as f32 * (CUT + BETWEEN);
        picture::square(sheets, photo, cut, [x, top], CUT)?;
        sheets.y = top - CUT - GAP / 2.0;
        lines(sheets, x, &caption)?;
    }
    sheets.y = top - high - GAP;
    Ok(())
}

/// Width of each column: what its widest cell takes, brought to the width of the sheet; long words go on several lines.
fn widths(sheets: &Sheets, columns: &[Column], rows: &[Vec<String>]) -> Vec<f32> {
    let natural = |at: usize, column: &Column| {
        let cells = rows.iter().filter_map(|row| row.get(at));
        let cell = cells.map(|cell| sheets.width(cell, TABLE));
        let head = sheets.width(
            column.head,
            Style {
                bold: true,
                ..TABLE
            },
        );
        cell.fold(head, f32::max) + BETWEEN
    };
    let all: Vec<f32> = columns
        .iter()
        .enumerate()
        .map(|(at, column)| natural(at, column))
        .collect();
    let sum: f32 = all.iter().sum();
    all.iter().map(|width| width * WIDTH / sum).collect()
}

fn cell(sheets: &Sheets, text: &str, is_head: bool, width: f32) -> Vec<Line> {
    let style = Style {
        bold: is_head,
        ..TABLE
    };
    sheets.broken(&[span(text, style)], width - BETWEEN)
}

fn row_height(sheets: &Sheets, row: &[String], columns: &[Column]) -> f32 {
    let width = WIDTH / columns.len().max(1) as f32;
    let highest = row
        .iter()
        .map(|text| height(&cell(sheets, text, false, width)))
        .fold(0.0, f32::max);
    highest + GAP
}

fn table(sheets: &mut Sheets, columns: &[Column], rows: &[Vec<String>]) -> Result<(), Error> {
    let widths = widths(sheets, columns, rows);
    let heads: Vec<String> = columns.iter().map(|c| c.head.to_string()).collect();
    table_row(sheets, &heads, true, columns, &widths)?;
    for row in rows {
        table_row(sheets, row, false, columns, &widths)?;
    }
    sheets.down(GAP);
    Ok(())
}

fn table_row(
    sheets: &mut Sheets,
    row: &[String],
    is_head: bool,
    columns: &[Column],
    widths: &[f32],
) -> Result<(), Error> {
    let cells: Vec<Vec<Line>> = row
        .iter()
        .zip(widths)
        .enumerate()
        .map(|(at, (text, width))| cell(sheets, text, is_head || at == 0, *width))
        .collect();
    let high = cells.iter().map(|c| height(c)).fold(0.0, f32::max) + GAP / 2.0;
    sheets.need(high);
    let (top, mut x) = (sheets.y - GAP / 4.0, LEFT);
    for ((cell, column), width) in cells.iter().zip(columns).zip(widths) {
        sheets.y = top;
        for line in cell {
            let blank = if column.is_number {
                width - BETWEEN - line.width
            } else {
                0.0
            };
            lines(sheets, x + blank, std::slice::from_ref(line))?;
        }
        x += width;
    }
    sheets.y = top + GAP / 4.0 - high;
    let grey = if is_head { 0.4 } else { 0.8 };
    sheets.rule([LEFT, sheets.y], [LEFT + WIDTH, sheets.y], 0.5, grey);
    Ok(())
}

fn these_terms(sheets: &mut Sheets, terms: &[(Run, Vec<Run>)]) -> Result<(), Error> {
    let name = |run: &Run| spans(std::slice::from_ref(run), TERM);
    let widest = terms
        .iter()
        .flat_map(|(run, _)| name(run))
        .map(|span| sheets.width(&span.text, span.style))
        .fold(0.0, f32::max)
        .min(WIDEST_TERM);
    let indent = widest + BETWEEN;
    for (run, said) in terms {
        let name = sheets.broken(&name(run), widest);
        let mut said = sheets.broken(&spans(said, BODY), WIDTH - indent);
        // Smaller letters stand on the same base line as the term.
        said.iter_mut().for_each(|line| line.size = BODY.size);
        sheets.need(height(&name).max(height(&said)));
        let top = sheets.y;
        lines(sheets, LEFT, &name)?;
        let below = sheets.y;
        sheets.y = top;
        lines(sheets, LEFT + indent, &said)?;
        sheets.y = sheets.y.min(below) - GAP / 3.0;
    }
    sheets.down(GAP);
    Ok(())
}

/// Room that a point takes.
const POINT: f32 = 12.0;

fn list(sheets: &mut Sheets, intro: Option<&str>, items: &[String]) -> Result<(), Error> {
    if let Some(intro) = intro {
        sheets.need(3.0 * BODY.size * LEADING);
        text(sheets, &[span(intro, BODY)])?;
    }
    for item in items {
        let broken = sheets.broken(&[span(item, BODY)], WIDTH - POINT);
        sheets.need(height(&broken));
        let base = sheets.y - BODY.size * LEADING * 0.76;
        sheets.letters([LEFT + 2.0, base], "\u{2022}", BODY)?;
        lines(sheets, LEFT + POINT, &broken)?;
        sheets.down(GAP / 3.0);
    }
    sheets.down(GAP);
    Ok(())
}

/// Lines whose columns stand apart by two blanks or more: each piece begins where its column would in letters of one width.
fn in_columns(sheets: &mut Sheets, all: &[String]) -> Result<(), Error> {
    let high = CODE.size * LEADING;
    sheets.need(all.len() as f32 * high);
    for line in all {
        sheets.need(high);
        let base = sheets.y - high * 0.76;
        for (column, piece) in pieces(line) {
            let x = LEFT + column as f32 * CODE.size * PITCH;
            sheets.letters([x, base], piece, CODE)?;
        }
        sheets.down(high);
    }
    sheets.down(GAP);
    Ok(())
}

/// The pieces of a line between runs of two blanks or more, each with its column.
fn pieces(line: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut at = 0;
    for piece in line.split("  ") {
        let text = piece.trim_start();
        if !text.is_empty() {
            let start = at + piece.len() - text.len();
            found.push((line[..start].chars().count(), text));
        }
        at += piece.len() + 2;
    }
    found
}

fn seal(sheets: &mut Sheets, code: &str, words: &[Vec<Run>]) -> Result<(), Error> {
    sheets.need(SQUARE);
    let top = sheets.y;
    let square = Square::new(code)?;
    let module = SQUARE / square.side as f32;
    sheets.now.set_fill_gray(0.0);
    for [x, y] in &square.dark {
        let [x, y] = [*x as f32, (*y + 1) as f32];
        sheets
            .now
            .rect(LEFT + x * module, top - y * module, module, module);
    }
    sheets.now.fill_nonzero();
    for runs in words {
        let indent = SQUARE + BETWEEN;
        let broken = sheets.broken(&spans(runs, BODY), WIDTH - indent);
        lines(sheets, LEFT + indent, &broken)?;
        sheets.down(GAP);
    }
    sheets.y = sheets.y.min(top - SQUARE) - GAP;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::pieces;

    #[test]
    fn pieces_stand_at_their_columns() {
        assert_eq!(
            pieces("G5 best    solid all over"),
            [(0, "G5 best"), (11, "solid all over")]
        );
        assert_eq!(pieces("  more than 15 %"), [(2, "more than 15 %")]);
        assert_eq!(pieces("a   b"), [(0, "a"), (4, "b")]);
        assert_eq!(pieces(""), []);
    }
}
