//! Lines: the list, and one as a family tree of tanks.

use super::{generation, row};
use crate::book::lines::generation_name;
use crate::book::{Generation, Line, Tank};
use crate::report::text::{Page, TextLine, Tone};

/// All lines, one line each.
pub fn list(lines: &[Line], tanks: &[Tank]) -> Vec<TextLine> {
    let mut out = Page::default();
    if lines.is_empty() {
        out.line(
            Tone::Faint,
            "no lines yet; add one: catchcup line add R1 --ladder red",
        );
    }
    for line in lines {
        let ended = line
            .ended
            .map_or(String::new(), |on| format!("; given up on {on}"));
        let title = if line.title.is_empty() {
            String::new()
        } else {
            format!(", {}", line.title)
        };
        let text = format!(
            "ladder {}{title}; {}{ended}",
            line.ladder,
            lives_in(line, tanks)
        );
        row(&mut out, Tone::Plain, &format!("{:<8}", line.code), &text);
    }
    out.lines
}

fn lives_in(line: &Line, tanks: &[Tank]) -> String {
    let here: Vec<&str> = tanks
        .iter()
        .filter(|tank| tank.retired.is_none() && tank.line.as_deref() == Some(&line.code))
        .map(|tank| tank.code.as_str())
        .collect();
    match here.len() {
        0 => "in no tank".into(),
        1 => format!("in tank {}", here[0]),
        _ => format!("in tanks {}", here.join(", ")),
    }
}

/// One line: its facts, and its generations below those they came from.
pub fn page(line: &Line, tanks: &[Tank], generations: &[Generation]) -> Vec<TextLine> {
    let mut out = Page::default();
    out.lines.extend(list(std::slice::from_ref(line), tanks));
    let own: Vec<&Generation> = generations.iter().filter(|g| g.line == line.code).collect();
    if own.is_empty() {
        out.line(
            Tone::Faint,
            "no generations noted: catchcup generation begin TANK founders",
        );
        return out.lines;
    }
    out.blank();
    out.line(Tone::Heading, "Family tree");
    let mut told = vec![false; own.len()];
    for index in roots(&own) {
        branch(&own, index, 1, &mut told, &mut out);
    }
    out.lines
}

/// Generations whose parents are in no tank of the line, earliest first; all that remain where none is.
fn roots(own: &[&Generation]) -> Vec<usize> {
    let mut roots: Vec<usize> = (0..own.len())
        .filter(|i| parent(own, *i).is_none())
        .collect();
    roots.sort_by_key(|i| (own[*i].since, own[*i].number));
    roots
}

/// The generation that lived in the first parent tank when generation `index` was begun: its latest one with a lower number.
fn parent(own: &[&Generation], index: usize) -> Option<usize> {
    let child = own[index];
    child.parents.iter().find_map(|tank| {
        (0..own.len())
            .filter(|i| {
                let g = own[*i];
                *i != index && g.tank == *tank && g.since <= child.since && g.number < child.number
            })
            .max_by_key(|i| (own[*i].since, own[*i].number))
    })
}

fn branch(own: &[&Generation], index: usize, depth: usize, told: &mut [bool], out: &mut Page) {
    if std::mem::replace(&mut told[index], true) {
        return;
    }
    let indent = "  ".repeat(depth.min(20));
    out.wrapped(
        Tone::Plain,
        &format!("{indent}  "),
        &format!("{indent}{}", generation(own[index])),
    );
    let mut children: Vec<usize> = (0..own.len())
        .filter(|i| parent(own, *i) == Some(index))
        .collect();
    children.sort_by_key(|i| (own[*i].since, own[*i].tank.clone()));
    for child in children {
        branch(own, child, depth + 1, told, out);
    }
}

/// Generations, a line each.
pub fn generations(all: &[Generation]) -> Vec<TextLine> {
    let mut out = Page::default();
    for entry in all {
        out.wrapped(Tone::Plain, "  ", &generation(entry));
    }
    if all.is_empty() {
        let first = generation_name(0);
        out.line(
            Tone::Faint,
            format!("none noted: catchcup generation begin TANK {first}"),
        );
    }
    out.lines
}
