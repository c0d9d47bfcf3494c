//! `catchcup cup` and `catchcup light`: measured once, used afterwards.

use crate::support::chart::{PaintedChart, Patches};
use crate::support::picture::{Extras, png};
use crate::support::room::{Room, err, out};
use crate::support::table::read;

/// A photo of a white table with a chart on it, as PNG.
fn chart_photo(room: &Room, name: &str) {
    let mut chart = PaintedChart::plain();
    chart.pitch = 40.0;
    chart.size = [800, 600];
    chart.centre = [400.0, 300.0];
    let table = read("a_chart24_after_nov2014");
    let rows: Vec<[f64; 3]> = table
        .rows()
        .map(|r| {
            r.three(["sR", "sG", "sB"])
                .map(catchcup::colour::srgb_decode)
        })
        .collect();
    let patches: Patches = rows.try_into().expect("24 patches");
    let linear = chart.paint(&patches);
    let rgb: Vec<u8> = (0..800 * 600)
        .flat_map(|i| {
            linear
                .planes
                .each_ref()
                .map(|p| (catchcup::colour::srgb_encode(f64::from(p[i])) * 255.0).round() as u8)
        })
        .collect();
    room.file(name, png(800, 600, &rgb, &Extras::default()));
}

fn json(room: &Room, args: &[&str]) -> serde_json::Value {
    let output = room.run(args);
    assert!(output.status.success(), "{}", err(&output));
    serde_json::from_str(out(&output).lines().next().expect("a record")).expect("JSON")
}

#[test]
fn a_cup_measured_with_the_chart_is_used_afterwards() {
    let room = Room::new("cup-add");
    chart_photo(&room, "chart.png");
    room.white_photo("later.png");
    let added = room.run(&["cup", "add", "grey-table", "chart.png", "--cup-mm", "60"]);
    assert!(added.status.success(), "{}", err(&added));
    // The painted ground gives back 0.70, 0.70, 0.68 of the light: by hand L* 86.9, a little yellow.
    let told = out(&added);
    assert!(
        told.contains("87 of 100 light") && !told.contains("L*"),
        "{told}"
    );
    let listed = room.run(&["cup", "list"]);
    let detail = out(&room.run(&["cup", "list", "--detail"]));
    assert!(detail.contains("L* 8"), "{detail}");
    assert!(out(&listed).contains("grey-table") && out(&listed).contains("60 mm"));
    let record = json(
        &room,
        &[
            "grade",
            "--json",
            "--line",
            "red",
            "--cup",
            "grey-table",
            "later.png",
        ],
    );
    assert_eq!(record["scene"]["colour_from"], "cup_record");
    let missing = room.run(&["grade", "--cup", "blue-bowl", "later.png"]);
    assert_eq!(missing.status.code(), Some(2));
    assert!(err(&missing).contains("grey-table"), "{}", err(&missing));
}

#[test]
fn a_light_measured_with_the_chart_is_used_afterwards_with_a_doubt_about_its_age() {
    let room = Room::new("light-add");
    chart_photo(&room, "chart.png");
    room.white_photo("later.png");
    room.file("house.toml", "light = \"shelf\"\n");
    let added = room.run(&["light", "add", "shelf", "chart.png"]);
    assert!(added.status.success(), "{}", err(&added));
    let record = json(&room, &["grade", "--json", "--line", "red", "later.png"]);
    assert_eq!(record["scene"]["colour_from"], "remembered_light");
    let codes: Vec<&str> = record["doubts"]
        .as_array()
        .expect("doubts")
        .iter()
        .filter_map(|d| d["code"].as_str())
        .collect();
    assert!(codes.contains(&"light_age_unknown"), "{codes:?}");
    let no_chart = room.run(&["light", "add", "dusk", "later.png"]);
    assert_eq!(no_chart.status.code(), Some(2));
    assert!(err(&no_chart).contains("chart"), "{}", err(&no_chart));
}

#[test]
fn a_cup_measured_with_a_grey_card_and_patches_on_request() {
    let room = Room::new("card");
    chart_photo(&room, "chart.png");
    // The white patch (0.88 of the light) lies about (300, 360).
    let added = room.run(&[
        "cup",
        "add",
        "c",
        "chart.png",
        "--card",
        "290,350,20,20",
        "--card-reflects",
        "0.88",
    ]);
    assert!(added.status.success(), "{}", err(&added));
    assert!(
        out(&added).contains("of 100 light") && out(&added).contains("card"),
        "{}",
        out(&added)
    );
    let record = json(
        &room,
        &["grade", "--json", "--patches", "--line", "red", "chart.png"],
    );
    let patches = record["scene"]["chart"]["patches"]
        .as_array()
        .expect("patches");
    assert_eq!(patches.len(), 24);
    assert!(
        patches
            .iter()
            .all(|p| p["de00_after"].as_f64().is_some_and(|v| v < 3.0))
    );
    let text = room.run(&["grade", "--patches", "--line", "red", "chart.png"]);
    assert!(out(&text).contains("bluish green"), "{}", out(&text));
    let plain = json(&room, &["grade", "--json", "--line", "red", "chart.png"]);
    assert!(plain["scene"]["chart"].get("patches").is_none());
}
