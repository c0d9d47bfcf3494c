//! Rules of the repository, as plain tests.

use std::path::{Path, PathBuf};

use catchcup::ladder::Shelf;

use crate::support::{root, rust_files};

/// Longest file in `src`.
const MOST_LINES: usize = 500;

fn read(name: &str) -> String {
    std::fs::read_to_string(root().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// Files of the repository with the given endings, build folders left out.
fn files(endings: &[&str]) -> Vec<PathBuf> {
    let (mut found, mut open) = (Vec::new(), vec![root()]);
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(&folder).expect("a readable folder") {
            let path = entry.expect("a readable folder").path();
            let name = path
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned();
            let built = ["target", ".git", "graded"].contains(&name.as_str());
            if path.is_dir() && !built {
                open.push(path);
            } else if endings.iter().any(|e| name.ends_with(e)) {
                found.push(path);
            }
        }
    }
    found
}

#[test]
fn files_stay_short() {
    for file in rust_files(&root().join("src")) {
        let lines = std::fs::read_to_string(&file)
            .expect("a source file")
            .lines()
            .count();
        assert!(lines <= MOST_LINES, "{}: {lines} lines", file.display());
    }
}

#[test]
fn no_file_for_odds_and_ends() {
    for file in rust_files(&root()) {
        let stem = file
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let vague = ["util", "utils", "helper", "helpers", "common", "misc"];
        let built = file.components().any(|part| part.as_os_str() == "target");
        assert!(
            built || !vague.contains(&stem.as_str()),
            "{}",
            file.display()
        );
    }
}

#[test]
fn no_unwrap_outside_tests() {
    for file in rust_files(&root().join("src")) {
        let text = std::fs::read_to_string(&file).expect("a source file");
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        let call = code.lines().position(|line| line.contains(".unwrap()"));
        assert!(
            call.is_none(),
            "{}:{}",
            file.display(),
            call.unwrap_or(0) + 1
        );
    }
}

/// Commands of the first block of the README after its opening paragraph.
fn readme_commands() -> Vec<String> {
    let readme = read("README.md");
    let block = readme.split("```").nth(1).expect("a block with commands");
    let lines = block.lines().skip(1).map(str::trim);
    lines
        .filter(|l| !l.is_empty() && !l.starts_with('#'))
        .map(str::to_string)
        .collect()
}

#[test]
fn the_readme_opens_with_the_job_and_two_commands() {
    let readme = read("README.md");
    let opening = readme.split("```").next().expect("an opening");
    let mut blocks = opening
        .split("\n\n")
        .map(str::trim)
        .filter(|b| !b.is_empty());
    assert_eq!(blocks.next(), Some("# catchcup"));
    let job = blocks.next().expect("a paragraph that states the job");
    assert!(!job.starts_with(['#', '-', '|', '`']), "{job}");
    assert!(job.split_whitespace().count() >= 40, "{job}");
    let commands = readme_commands();
    assert_eq!(commands.len(), 2, "{commands:?}");
    assert!(commands[0].contains(" grade ") && commands[0].contains("sample-images/"));
    let photo = commands[0].split_whitespace().last().expect("a photo");
    assert!(root().join(photo).is_file(), "{photo} is missing");
}

#[test]
fn the_check_script_runs_the_readmes_test_command() {
    let test = &readme_commands()[1];
    assert!(test.starts_with("cargo test"), "{test}");
    let script = read(".ci/run");
    let runs = |command: &str| script.lines().filter(|l| l.trim() == command).count();
    assert_eq!(runs(test), 1, "{test}");
    assert_eq!(runs("cargo fmt --check"), 1);
    assert_eq!(
        runs("cargo clippy --all-targets --all-features -- -D warnings"),
        1
    );
}

#[test]
fn every_line_has_its_rules_file_and_is_listed() {
    let readme = read("README.md");
    let mut lines = Shelf::default().lines();
    let mut rules: Vec<String> = files(&[".toml"])
        .iter()
        .filter(|f| f.parent() == Some(Path::new(&root().join("grading-rules"))))
        .filter_map(|f| Some(f.file_stem()?.to_string_lossy().into_owned()))
        .collect();
    for line in &lines {
        assert!(
            readme.contains(&format!("`{line}`")),
            "the README does not name {line}"
        );
    }
    lines.sort();
    rules.sort();
    assert_eq!(lines, rules);
}

#[test]
fn every_sample_is_in_the_manifest() {
    let manifest = read("sample-images/MANIFEST.csv");
    let mut listed: Vec<&str> = manifest
        .lines()
        .skip(1)
        .filter_map(|l| l.split(',').next())
        .collect();
    let mut present: Vec<String> = files(&[".jpg"])
        .iter()
        .filter(|f| f.parent() == Some(Path::new(&root().join("sample-images"))))
        .map(|f| {
            f.file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    listed.sort_unstable();
    present.sort();
    assert_eq!(listed, present);
}

/// Places on one machine say nothing to a reader elsewhere.
#[test]
fn no_paths_of_one_machine() {
    let places = ["home", "root", "tmp", "work", "Users"].map(|folder| format!("/{folder}/"));
    let mut faults = Vec::new();
    for file in files(&[".rs", ".toml", ".md", ".csv", ".json", ".sh", ".txt", "run"]) {
        let text = std::fs::read_to_string(&file).unwrap_or_default();
        for (at, line) in text.lines().enumerate() {
            if places.iter().any(|place| line.contains(place.as_str())) {
                faults.push(format!("{}:{}: {line}", file.display(), at + 1));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}
