//! The one-way flow of the library: a module may use only those above it in the list.

use std::path::Path;

use crate::support::{root, rust_files};

/// Modules of the library from the ground up. A module that is not in the list fails the test.
const ORDER: [&str; 21] = [
    "units",
    "colour",
    "stats",
    "doubt",
    "error",
    "lanes",
    "plane",
    "photo",
    "scene",
    "animals",
    "measures",
    "ladder",
    "scoop",
    "trends",
    "selection",
    "proof",
    "eye",
    "book",
    "report",
    "web",
    "cli",
];

/// Words of the shells; none may stand in the library.
const SHELL_WORDS: [&str; 8] = [
    "clap::",
    "anyhow::",
    "anstream::",
    "crate::cli",
    "axum::",
    "tokio::",
    "maud::",
    "crate::web",
];

#[test]
fn modules_use_only_those_above() {
    let src = root().join("src");
    let mut faults = Vec::new();
    for file in rust_files(&src) {
        let inside = file.strip_prefix(&src).expect("inside src");
        let text = std::fs::read_to_string(&file).expect("a source file");
        faults.extend(faults_of(inside, &text));
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_module_is_declared_in_the_library_file() {
    let text = std::fs::read_to_string(root().join("src/lib.rs")).expect("lib.rs");
    let declared: Vec<&str> = code_lines(&text)
        .filter_map(|l| l.trim().strip_prefix("pub mod ")?.strip_suffix(';'))
        .collect();
    let places: Vec<Option<usize>> = declared
        .iter()
        .map(|m| ORDER.iter().position(|o| o == m))
        .collect();
    assert!(
        declared.len() > 5 && places.iter().all(Option::is_some),
        "{declared:?}"
    );
    assert!(
        !declared.contains(&"cli") && !declared.contains(&"web"),
        "the shells belong to the binary"
    );
}

/// What is wrong with one file, given its path inside `src` and its text.
fn faults_of(file: &Path, text: &str) -> Vec<String> {
    let path = module_path(file);
    let Some(module) = path.first() else {
        return Vec::new();
    };
    if matches!(module.as_str(), "lib" | "main" | "bin") {
        return Vec::new();
    }
    let name = file.display();
    let Some(own) = rank(module) else {
        return vec![format!(
            "{name}: module {module} is not in the list of layers"
        )];
    };
    let code: String = code_lines(text).collect::<Vec<_>>().join("\n");
    let mut faults = Vec::new();
    for used in used_modules(&code, &path) {
        match rank(&used) {
            None => faults.push(format!(
                "{name}: uses {used}, which is not in the list of layers"
            )),
            Some(rank) if rank > own => {
                faults.push(format!("{name}: {module} uses {used}, which lies below it"))
            }
            Some(_) => {}
        }
    }
    if !matches!(module.as_str(), "cli" | "web") {
        let words = SHELL_WORDS.iter().filter(|w| code.contains(**w));
        faults.extend(words.map(|w| format!("{name}: {w} belongs to the shell")));
        if code.contains("Serialize") && !inside_wire(&path) && code.contains("serde::Serialize") {
            faults.push(format!(
                "{name}: only report::wire turns values into text formats"
            ));
        }
    }
    faults
}

fn inside_wire(path: &[String]) -> bool {
    path.len() > 1 && path[0] == "report" && path[1].starts_with("wire")
}

fn rank(module: &str) -> Option<usize> {
    ORDER.iter().position(|m| *m == module)
}

/// `photo/reduce.rs` is photo, reduce; `photo/mod.rs` is photo.
fn module_path(file: &Path) -> Vec<String> {
    let mut path: Vec<String> = file
        .with_extension("")
        .iter()
        .map(|p| p.to_string_lossy().into_owned())
        .collect();
    if path.last().is_some_and(|p| p == "mod") {
        path.pop();
    }
    path
}

/// Lines without comments, up to the unit tests at the foot of the file.
fn code_lines(text: &str) -> impl Iterator<Item = &str> {
    text.lines()
        .take_while(|l| l.trim() != "#[cfg(test)]")
        .map(|l| l.split("//").next().unwrap_or(""))
}

/// Top modules named by `crate::` and by climbing `super::` paths, also inside groups.
fn used_modules(code: &str, path: &[String]) -> Vec<String> {
    let mut used = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        used.extend(heads(&code[at + "crate::".len()..]));
    }
    let mut rest = code;
    while let Some(at) = rest.find("super::") {
        let mut tail = &rest[at..];
        let mut climbs = 0;
        while let Some(after) = tail.strip_prefix("super::") {
            tail = after;
            climbs += 1;
        }
        if climbs >= path.len() {
            used.extend(heads(tail));
        }
        rest = tail;
    }
    used
}

/// First names of what follows a path: one name, or each name of a group `{a, b::{c, d}}`.
fn heads(tail: &str) -> Vec<String> {
    let Some(group) = tail.strip_prefix('{') else {
        let name: String = tail
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect();
        return if name.is_empty() {
            Vec::new()
        } else {
            vec![name]
        };
    };
    let (mut depth, mut name, mut names) = (0, String::new(), Vec::new());
    let mut in_head = true;
    for c in group.chars() {
        match c {
            '}' if depth == 0 => break,
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                names.push(std::mem::take(&mut name));
                in_head = true;
            }
            ':' if depth == 0 => in_head = false,
            c if depth == 0 && in_head && !c.is_whitespace() => name.push(c),
            _ => {}
        }
    }
    names.push(name);
    names
        .into_iter()
        .filter(|n| !n.is_empty() && n != "self")
        .collect()
}

/// The checker itself sees every way down.
#[test]
fn ways_down_are_seen() {
    let down = [
        ("photo/reduce.rs", "use crate::scene::Scene;"),
        (
            "photo/reduce.rs",
            "use crate::{colour, scoop::{self, Scoop}};",
        ),
        (
            "photo/reduce.rs",
            "use crate::{\n    colour,\n    animals::Animal,\n};",
        ),
        ("photo/reduce.rs", "fn f() { super::super::report::x() }"),
        ("photo/mod.rs", "use super::ladder::Ladder;"),
        ("stats.rs", "use super::photo::Photo;"),
        ("photo/decode.rs", "fn f() -> anyhow::Result<()> {}"),
        ("measures/mod.rs", "use serde::Serialize;"),
        ("helpers.rs", "fn f() {}"),
    ];
    for (file, code) in down {
        assert_eq!(faults_of(Path::new(file), code).len(), 1, "{file}: {code}");
    }
    let up = [
        (
            "photo/reduce.rs",
            "use super::linear::LinearImage; use crate::{colour::{self, lab}, error::Error};",
        ),
        (
            "scoop/grade_photo.rs",
            "use crate::photo::Photo; // then crate::report",
        ),
        ("report/wire.rs", "use serde::Serialize;"),
        ("stats.rs", "#[cfg(test)]\nmod tests { use super::*; }"),
    ];
    for (file, code) in up {
        assert_eq!(
            faults_of(Path::new(file), code),
            Vec::<String>::new(),
            "{file}: {code}"
        );
    }
}
