//! A page of a proof as what it says, in order, before it is written as HTML or PDF: one source for the words of both.

use super::figure::{CutOut, Whole};

/// A stretch of text.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Run {
    /// Words of our own, without signs that HTML gives a meaning to.
    Own(&'static str),
    /// Words with something from elsewhere in them.
    Text(String),
    /// Something to be typed or compared letter by letter.
    Code(String),
}

/// A table's column.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Column {
    /// Its head.
    pub head: &'static str,
    /// True where it holds numbers: they stand at the right.
    pub is_number: bool,
}

/// A part of the page.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Block {
    /// A heading.
    Heading(String),
    /// A paragraph.
    Paragraph(Vec<Run>),
    /// A paragraph of less weight.
    Note(Run),
    /// The statement, framed; the first sentence is the largest of the page.
    Statement(Vec<Run>),
    /// The photo with its animals, and what is said under it.
    Whole(Whole, String),
    /// Single animals side by side, each with what is said under it.
    CutOuts(Vec<(CutOut, String)>),
    /// A table by rows; the first cell of each heads its row.
    Table {
        /// What it is a table of.
        label: &'static str,
        columns: Vec<Column>,
        rows: Vec<Vec<String>>,
    },
    /// Terms, each with what belongs to it.
    Terms(Vec<(Run, Vec<Run>)>),
    /// Points, with what leads to them.
    List(Option<&'static str>, Vec<String>),
    /// Lines in columns, as they are.
    Lines(Vec<String>),
    /// A square code with the paragraphs beside it.
    Seal {
        /// What the code says.
        code: String,
        /// The paragraphs.
        words: Vec<Vec<Run>>,
    },
}

/// A page.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Content {
    pub title: String,
    /// What is known of the lot, under the title.
    pub facts: String,
    pub blocks: Vec<Block>,
}
