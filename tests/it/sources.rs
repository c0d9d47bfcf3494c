//! Keys of sources in comments, such as the one for CIEDE2000, and the list in DEVELOPERS.md agree both ways.

use std::collections::BTreeSet;

use crate::support::{root, rust_files};

#[test]
fn keys_and_list_agree() {
    let listed =
        listed_keys(&std::fs::read_to_string(root().join("DEVELOPERS.md")).expect("DEVELOPERS.md"));
    let mut used = BTreeSet::new();
    for file in rust_files(&root().join("src")) {
        let text = std::fs::read_to_string(&file).expect("a source file");
        used.extend(
            text.lines()
                .filter_map(|l| l.split_once("//"))
                .flat_map(|(_, comment)| keys(comment)),
        );
    }
    let unlisted: Vec<_> = used.difference(&listed).collect();
    let unused: Vec<_> = listed.difference(&used).collect();
    assert!(
        unlisted.is_empty(),
        "not in the list Sources of DEVELOPERS.md: {unlisted:?}"
    );
    assert!(
        unused.is_empty(),
        "in the list Sources of DEVELOPERS.md but named nowhere in src: {unused:?}"
    );
    assert!(used.len() > 5);
}

/// Keys of the lines `- [Key] ...` below the heading `## Sources`.
fn listed_keys(markdown: &str) -> BTreeSet<String> {
    let section = markdown
        .split("## Sources")
        .nth(1)
        .expect("a section Sources");
    let section = section.split("\n## ").next().unwrap_or(section);
    section
        .lines()
        .filter(|l| l.starts_with("- ["))
        .flat_map(|l| keys(l).into_iter().take(1))
        .collect()
}

/// Words in square brackets that begin with a capital and hold a digit; links to code stand in backticks.
fn keys(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for part in text.split('[').skip(1) {
        let Some((word, _)) = part.split_once(']') else {
            continue;
        };
        let plain = word
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || "-._".contains(c));
        let capital = word.starts_with(|c: char| c.is_ascii_uppercase());
        if plain && capital && word.contains(|c: char| c.is_ascii_digit()) {
            found.push(word.to_string());
        }
    }
    found
}

#[test]
fn keys_are_told_from_links() {
    assert_eq!(
        keys("see [Sharma2005], [`Photo2`], [a1], [Error] and [ICC.1] 7.2"),
        ["Sharma2005", "ICC.1"]
    );
}
