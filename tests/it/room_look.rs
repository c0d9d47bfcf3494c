//! Colours and targets of the room page, from its style sheet: contrast by the formula published in the Web Content
//! Accessibility Guidelines 2.2 (relative luminance, contrast ratio).

use std::collections::BTreeMap;

use crate::support::root;

fn sheet() -> String {
    std::fs::read_to_string(root().join("src/web/look/room.css")).expect("the style sheet")
}

/// Relative luminance of `#rrggbb` [WCAG22].
fn luminance(colour: &str) -> f64 {
    let part = |at: usize| {
        let value =
            f64::from(u8::from_str_radix(&colour[at..at + 2], 16).expect("a colour")) / 255.0;
        if value <= 0.04045 {
            value / 12.92
        } else {
            ((value + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
}

fn contrast(a: &str, b: &str) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// The colours of the light and of the dark set.
fn sets() -> [BTreeMap<String, String>; 2] {
    let sheet = sheet();
    let mut blocks = sheet.split(":root {").skip(1).map(|rest| {
        let block = rest.split('}').next().unwrap_or_default();
        let pairs = block
            .split(';')
            .filter_map(|pair| pair.trim().split_once(": "));
        pairs
            .map(|(name, value)| (name.trim_start_matches("--").to_string(), value.to_string()))
            .collect()
    });
    [blocks.next().expect("light"), blocks.next().expect("dark")]
}

/// Common knowledge of the formula: black on white is 21, equal colours are 1.
#[test]
fn the_formula_gives_its_known_ends() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!(
        (contrast("#767676", "#ffffff") - 4.54).abs() < 0.01,
        "the lightest grey that reaches 4.5"
    );
    assert!((contrast("#336699", "#336699") - 1.0).abs() < 1e-9);
}

#[test]
fn text_reaches_enhanced_contrast_in_both_sets() {
    for set in sets() {
        assert!(set.len() >= 15, "{set:?}");
        let of = |name: &str| {
            set.get(name)
                .unwrap_or_else(|| panic!("no colour {name}"))
                .as_str()
        };
        let text = ["text", "faint", "link"].map(|text| (text, "ground"));
        let boxes = ["good", "warn", "alarm", "next"];
        let on_boxes = boxes.iter().flat_map(|b| [("text", *b), ("faint", *b)]);
        for (ink, ground) in text
            .into_iter()
            .chain(on_boxes)
            .chain([("on-button", "button")])
        {
            let found = contrast(of(ink), of(ground));
            assert!(
                found >= 7.0,
                "{ink} on {ground}: {found:.2}, success criterion 1.4.6 asks 7"
            );
        }
        let edges = [
            "edge",
            "good-edge",
            "warn-edge",
            "alarm-edge",
            "next-edge",
            "button",
            "share",
        ];
        for edge in edges {
            let found = contrast(of(edge), of("ground"));
            assert!(
                found >= 3.0,
                "{edge}: {found:.2}, success criterion 1.4.11 asks 3"
            );
        }
        assert!(
            contrast(of("share"), of("track")) >= 3.0 && contrast(of("text"), of("share")) >= 3.0
        );
    }
}

#[test]
fn targets_are_large_enough_for_a_thumb() {
    let sheet = sheet();
    let heights: Vec<f64> = sheet
        .split("min-height: ")
        .skip(1)
        .filter_map(|rest| rest.split("px").next()?.parse().ok())
        .collect();
    assert!(
        heights.len() >= 6 && heights.iter().all(|h| *h >= 48.0),
        "{heights:?}"
    );
    for target in [
        ".button, button",
        ".tile, .row",
        ".card",
        "summary",
        ".inline",
        "input:not",
    ] {
        let at = sheet
            .find(&format!("\n{target}"))
            .unwrap_or_else(|| panic!("{target}"));
        let rule = sheet[at..].split('}').next().unwrap_or_default();
        assert!(rule.contains("min-height"), "{target}");
    }
    for asset in ["http:", "https:", "url(", "@import"] {
        assert!(!sheet.contains(asset), "nothing from elsewhere: {asset}");
    }
}
