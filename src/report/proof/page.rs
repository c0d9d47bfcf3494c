//! The page of a proof: one HTML file that opens offline, reads on a phone and prints.

use base64::Engine;

use super::blocks::{Block, Column, Content, Run};
use super::content::{content, file};
use super::figure::{CutOut, Whole};
use super::square::Square;
use super::style::STYLE;
use crate::error::Error;
use crate::proof::manifest::{Manifest, PHOTO_PNG};
use crate::proof::verify::Files;

/// The page that follows from the manifest and its files.
///
/// # Errors
/// Where record or rules can't be read.
pub fn page(manifest: &Manifest, files: &Files) -> Result<String, Error> {
    let content = content(manifest, files)?;
    let kind = if manifest.photo() == PHOTO_PNG {
        "png"
    } else {
        "jpeg"
    };
    let photo = file(files, manifest.photo())?;
    let photo = base64::engine::general_purpose::STANDARD.encode(photo);
    let mut out = head(&content, &format!("data:image/{kind};base64,{photo}"));
    for block in &content.blocks {
        out += &written(block)?;
    }
    out += "</main>\n</body>\n</html>\n";
    Ok(out)
}

fn head(content: &Content, photo: &str) -> String {
    let title = escaped(&content.title);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n\
         <title>{title}</title>\n<style>\n{STYLE}.photo{{background-image:url({photo})}}\n</style>\n</head>\n<body>\n\
         <header><h1>{title}</h1><p class=\"note\">{}</p></header>\n<main>\n",
        escaped(&content.facts)
    )
}

fn written(block: &Block) -> Result<String, Error> {
    Ok(match block {
        Block::Heading(text) => format!("<h2>{text}</h2>\n"),
        Block::Paragraph(runs) => format!("<p>{}</p>\n", runs_of(runs)),
        Block::Note(run) => format!("<p class=\"note\">{}</p>\n", run_of(run)),
        Block::Statement(said) => {
            let said: String = said
                .iter()
                .map(|run| format!("<p>{}</p>", run_of(run)))
                .collect();
            format!("<div class=\"say\">{said}</div>\n")
        }
        Block::Whole(whole, said) => format!(
            "<figure>{}<figcaption>{}</figcaption></figure>\n",
            view(whole),
            escaped(said)
        ),
        Block::CutOuts(all) => cut_outs(all),
        Block::Table {
            label,
            columns,
            rows,
        } => table(label, columns, rows),
        Block::Terms(terms) => {
            let terms: String = terms
                .iter()
                .map(|(name, text)| format!("<dt>{}</dt><dd>{}</dd>", run_of(name), runs_of(text)))
                .collect();
            format!("<dl>{terms}</dl>\n")
        }
        Block::List(intro, items) => {
            let intro = intro.map_or(String::new(), |intro| format!("<p>{intro}</p>\n"));
            let items: String = items
                .iter()
                .map(|item| format!("<li>{}</li>", escaped(item)))
                .collect();
            format!("{intro}<ul>{items}</ul>\n")
        }
        Block::Lines(lines) => {
            let lines: Vec<String> = lines.iter().map(|line| escaped(line)).collect();
            format!("<pre>{}</pre>\n", lines.join("\n"))
        }
        Block::Seal { code, words } => {
            let words: String = words
                .iter()
                .map(|runs| format!("<p>{}</p>", runs_of(runs)))
                .collect();
            format!(
                "<div class=\"seal\">{}<div>{words}</div></div>\n",
                square(&Square::new(code)?)
            )
        }
    })
}

fn runs_of(runs: &[Run]) -> String {
    runs.iter().map(run_of).collect()
}

fn run_of(run: &Run) -> String {
    match run {
        Run::Own(text) => (*text).to_string(),
        Run::Text(text) => escaped(text),
        Run::Code(text) => format!("<code>{}</code>", escaped(text)),
    }
}

fn view(whole: &Whole) -> String {
    let [width, height] = whole.size;
    format!(
        "<div class=\"view photo\" role=\"img\" aria-label=\"The whole photo with {} numbered animals\" style=\"aspect-ratio:{width}/{height}\">{}</div>",
        whole.animals,
        whole.svg()
    )
}

fn cut_outs(all: &[(CutOut, String)]) -> String {
    let one = |(cut, said): &(CutOut, String)| {
        let [width, height] = cut.size;
        // A background that is as large as the photo lies so that the cut-out begins at left, top.
        let share = |at: f64, whole: f64| {
            if whole > cut.side {
                100.0 * at / (whole - cut.side)
            } else {
                0.0
            }
        };
        format!(
            "<figure><div class=\"view photo\" role=\"img\" aria-label=\"{}: animal {}\" style=\"aspect-ratio:1;background-size:{:.3}% {:.3}%;background-position:{:.3}% {:.3}%\"></div><figcaption>{}</figcaption></figure>",
            cut.what,
            cut.no,
            100.0 * width / cut.side,
            100.0 * height / cut.side,
            share(cut.at[0], width),
            share(cut.at[1], height),
            escaped(said)
        )
    };
    let all: String = all.iter().map(one).collect();
    format!("<div class=\"three\">{all}</div>\n")
}

fn table(label: &str, columns: &[Column], rows: &[Vec<String>]) -> String {
    let class = |column: &Column| {
        if column.is_number { " class=\"n\"" } else { "" }
    };
    let mut out = format!(
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"{label}\"><table>\n<thead><tr>"
    );
    for column in columns {
        out += &format!("<th{} scope=\"col\">{}</th>", class(column), column.head);
    }
    out += "</tr></thead>\n<tbody>\n";
    for row in rows {
        out += "<tr>";
        for (at, (cell, column)) in row.iter().zip(columns).enumerate() {
            let (class, cell) = (class(column), escaped(cell));
            out += &match at {
                0 => format!("<th{class} scope=\"row\">{cell}</th>"),
                _ => format!("<td{class}>{cell}</td>"),
            };
        }
        out += "</tr>\n";
    }
    out + "</tbody></table></div>\n"
}

/// The code as an SVG.
fn square(code: &Square) -> String {
    let mut path = String::new();
    for [x, y] in &code.dark {
        path += &format!("M{x} {y}h1v1h-1z");
    }
    let whole = code.side;
    format!(
        "<svg viewBox=\"0 0 {whole} {whole}\" role=\"img\" aria-label=\"QR code with the digest of the manifest and the fingerprint of the key\"><rect width=\"{whole}\" height=\"{whole}\" fill=\"#fff\"/><path d=\"{path}\"/></svg>"
    )
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
        .replace('\'', "&#39;")
}
