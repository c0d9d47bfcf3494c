//! A cup photographed again where one of the photos does not show an animal: nobody is lost, the keeper says what became of
//! it, and one step back takes everything back.

use catchcup::measures::Sex;
use catchcup::selection::sorting::{Decided, Decision, Sorting, Verdict};
use image::RgbImage;
use serde_json::Value;

use crate::record::faults;
use crate::room_work::{Phone, red};
use crate::selection::{cup, setup};
use crate::selection_commands::keeper as sorting_keeper;
use crate::support::keeper::Keeper;
use crate::support::picture::{Extras, jpeg};

/// The animal of the sample photo that is painted over, by its number.
const MISSED: u32 = 5;

/// A keeper with the whole cup `cup.jpg`, the same without one animal `less.jpg`, and a third photo `turned.jpg` of all.
fn keeper(name: &str) -> Keeper {
    let keeper = sorting_keeper(name);
    let bbox = record_bbox(&keeper);
    let bytes = std::fs::read(keeper.0.0.join("cup.jpg")).expect("the photo");
    let photo = catchcup::photo::Photo::from_bytes("cup.jpg", &bytes).expect("a photo");
    let mut picture = photo.rgb8_upright();
    paint_over(&mut picture, bbox);
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let less = jpeg(
        width,
        height,
        picture.as_raw(),
        image::ExtendedColorType::Rgb8,
        &Extras::default(),
    );
    keeper.0.file("less.jpg", less);
    keeper.ok("sort start A1 --keep 3F 2M --tub 2 --about 60");
    keeper
}

fn record_bbox(keeper: &Keeper) -> [u32; 4] {
    let graded = keeper
        .0
        .run(&["grade", "cup.jpg", "--json", "--cup-mm", "97"]);
    let record: Value = serde_json::from_slice(&graded.stdout).expect("a record");
    let animals = record["animals"].as_array().expect("animals");
    let animal = animals.iter().find(|a| a["no"] == MISSED).expect("it");
    std::array::from_fn(|at| animal["bbox"][at].as_u64().expect("a number") as u32)
}

/// Fills the box, a little wider, with what lies left and right of it, row by row.
fn paint_over(picture: &mut RgbImage, [x, y, w, h]: [u32; 4]) {
    let (left, right) = (x - 12, x + w + 12);
    for row in y - 12..y + h + 12 {
        let ends = [left, right].map(|column| picture.get_pixel(column, row).0);
        for column in left + 1..right {
            let share = f64::from(column - left) / f64::from(right - left);
            let mixed = std::array::from_fn(|c| {
                let [a, b] = ends.map(|end| f64::from(end[c]));
                (a + share * (b - a)).round() as u8
            });
            picture.put_pixel(column, row, image::Rgb(mixed));
        }
    }
}

fn animals(answer: &Value) -> &Vec<Value> {
    answer["animals"].as_array().expect("animals")
}

const FIRST: &str = "sort cup A1 cup.jpg --cup-mm 97 --sexes 1=female 2=female 3=female 4=female 5=male 6=male 7=male 8=male";

#[test]
fn an_animal_that_one_photo_misses_stays_in_the_cup() {
    let keeper = keeper("again-missed");
    let first = keeper.json(FIRST);
    assert_eq!(animals(&first[0]).len(), 8);
    let again = &keeper.json("sort cup A1 less.jpg --cup-mm 97 --again")[0];
    let schema: Value = serde_json::from_str(catchcup::report::SELECTION_SCHEMA).expect("JSON");
    assert_eq!(faults(again, &schema, &schema, ""), Vec::<String>::new());
    assert_eq!(again["photos"]["known"], 7, "{again}");
    let gone = &again["photos"]["gone"][0];
    assert_eq!(
        (&gone["no_before"], &gone["is"], &gone["said"]),
        (&MISSED.into(), &"in_cup".into(), &false.into())
    );
    let all = animals(again);
    assert_eq!(all.len(), 8, "nobody is lost");
    let kept = all.iter().find(|a| a["no"] == gone["no"]).expect("it");
    assert_eq!(
        (&kept["not_shown"], &kept["look_twice"], &kept["sex"]),
        (&true.into(), &true.into(), &"male".into())
    );
    let before = animals(&first[0]).iter().find(|a| a["no"] == MISSED);
    assert_eq!(
        kept["worth"],
        before.expect("it")["worth"],
        "its first reading"
    );

    // A third photo that shows it again finds it, and nothing is open any more.
    let third = &keeper.json("sort cup A1 turned.jpg --cup-mm 97 --again")[0];
    assert_eq!(
        (&third["photos"]["known"], animals(third).len()),
        (&8.into(), 8)
    );
    assert_eq!(third["photos"]["gone"], Value::Array(Vec::new()));
    assert_eq!(keeper.json("sort show A1")[0]["tally"]["cups"], 1);
    keeper.ok("book undo");
    keeper.ok("book undo");
    assert_eq!(keeper.json("book check")[0]["in_order"], true);

    let told = keeper.ok("sort cup A1 less.jpg --cup-mm 97 --again --overlay orders");
    for words in [
        "7 animals are known again",
        "No. 5 of the photo before is not found",
        "--gone NO=cup",
    ] {
        assert!(told.replace("\n  ", " ").contains(words), "{words}: {told}");
    }
    assert!(told.lines().all(|line| line.chars().count() <= 80));
}

#[test]
fn the_keeper_says_what_became_of_it() {
    let keeper = keeper("again-said");
    let first = keeper.json(FIRST);
    let told = animals(&first[0]).iter().find(|a| a["no"] == MISSED);
    let told = told.expect("it").clone();
    let with = |words: &str| format!("sort cup A1 less.jpg --cup-mm 97 --again {words}");

    // Moved already: what was told then stands.
    let moved = &keeper.json(&with("--gone 5=moved"))[0];
    let now = animals(moved).iter().find(|a| a["moved_before"] == true);
    let now = now.expect("it is still told");
    for key in ["do", "tub_place", "sex", "worth"] {
        assert_eq!(now[key], told[key], "{key}");
    }
    assert_eq!(animals(moved).len(), 8);
    assert!(
        keeper
            .ok("sort cup A1 turned.jpg --cup-mm 97 --again")
            .contains("moved already")
    );
    keeper.ok("book undo");
    keeper.ok("book undo");

    // No animal: it counts no more, and that is a correction of the first photo, taken back in the same step.
    let none = &keeper.json(&with("--gone 5=none"))[0];
    assert_eq!(animals(none).len(), 7);
    let first_scoop = keeper.json("scoop list A1");
    let numbers: Vec<i64> = first_scoop
        .iter()
        .filter_map(|s| s["scoop"].as_i64().or(s["number"].as_i64()))
        .collect();
    let corrected = |keeper: &Keeper| -> usize {
        let of = |n: &i64| keeper.json(&format!("scoop correct {n}")).len();
        numbers.iter().map(of).sum()
    };
    assert_eq!(corrected(&keeper), 1);
    keeper.ok("book undo");
    assert_eq!(corrected(&keeper), 0);

    // What needs no word is refused, and nothing is changed.
    let before = keeper.json("sort show A1");
    for (words, why) in [
        ("--gone 2=cup", "is found"),
        ("--gone 5=3", "another's"),
        ("--new 1=none", "known from the photo before"),
    ] {
        assert!(keeper.refused(&with(words)).contains(why), "{words}");
    }
    assert!(keeper.refused(&with("--gone 5=away")).contains("7=moved"));
    assert_eq!(keeper.json("sort show A1"), before);
}

#[test]
fn what_only_the_second_photo_shows_counts_unless_it_is_no_animal() {
    let keeper = keeper("again-new");
    let first = keeper.json("sort cup A1 less.jpg --cup-mm 97 --sex female");
    assert_eq!(animals(&first[0]).len(), 7);
    let again = &keeper.json("sort cup A1 cup.jpg --cup-mm 97 --again")[0];
    let new = &again["photos"]["new"][0];
    assert_eq!(
        (&new["no"], &new["is"], &new["said"]),
        (&MISSED.into(), &"animal".into(), &false.into())
    );
    assert_eq!(animals(again).len(), 8);
    keeper.ok("book undo");
    let none = &keeper.json("sort cup A1 cup.jpg --cup-mm 97 --again --new 5=none")[0];
    assert!(
        animals(none).iter().all(|a| a["no"] != MISSED),
        "it counts not"
    );
    // A third photo shows it once more: it stays no animal.
    let third = &keeper.json("sort cup A1 turned.jpg --cup-mm 97 --again")[0];
    assert_eq!(
        (animals(third).len(), &third["photos"]["known"]),
        (7, &7.into())
    );
}

#[test]
fn another_cup_is_no_second_photo_unless_the_keeper_says_so() {
    let keeper = keeper("again-other");
    keeper.ok(FIRST);
    let other = std::fs::read(crate::support::root().join("sample-images").join(OTHER));
    keeper.0.file("other.jpg", other.expect("a sample image"));
    let said = keeper.refused("sort cup A1 other.jpg --again");
    assert!(
        said.contains("surely known again") && said.contains("--same-cup"),
        "{said}"
    );
    let taken = &keeper.json("sort cup A1 other.jpg --again --same-cup")[0];
    let photos = &taken["photos"];
    let count = |list: &str| photos[list].as_array().map_or(0, Vec::len) as u64;
    let paired = photos["known"].as_u64().expect("a number") + photos["likely"].as_u64().expect("");
    assert_eq!(paired + count("gone"), 8, "nobody of the first is lost");
    assert_eq!(
        animals(taken).len() as u64,
        paired + count("gone") + count("new")
    );
}

const OTHER: &str = "red-mostly-clear-and-plant_9-animals.jpg";

#[test]
fn the_phone_asks_before_anything_is_decided() {
    let keeper = keeper("again-page");
    let phone = Phone::new(&keeper);
    let path = "/tank/A1/sort/cup";
    phone.send(path, &[("sex", "female")], &red());
    let less = std::fs::read(keeper.0.0.join("less.jpg")).expect("the photo");
    let to = phone.send(path, &[("sex", "female"), ("again", "true")], &less);
    assert!(to.starts_with("/tank/A1/sort/again/"), "{to}");
    let asked = phone.page(&to);
    for words in [
        "Nothing is decided yet",
        "animals are known again",
        "Still in the cup",
        "Moved already",
    ] {
        assert!(asked.contains(words), "{words}: {asked}");
    }
    let rings = asked.split("<figure><img class=\"straight\" src=\"").nth(1);
    let rings = rings
        .expect("a picture")
        .split('"')
        .next()
        .expect("it ends");
    let rings = phone.reply(&rings.replace("&amp;", "&"));
    assert_eq!((rings.status, &rings.body[..2]), (200, &[0xff, 0xd8][..]));
    assert_eq!(
        keeper.json("scoop list A1").len(),
        4,
        "three of before and one cup"
    );
    let (path, query) = to.split_once('?').expect("a query");
    let (gone, new) = (asked_after(&asked, "gone-"), asked_after(&asked, "new-"));
    assert!(!gone.is_empty(), "{asked}");
    let mut form = query.to_string();
    gone.iter()
        .for_each(|no| form += &format!("&gone-{no}=moved"));
    new.iter().for_each(|no| form += &format!("&new-{no}=none"));
    let page = phone.post(path, &form);
    assert_eq!(page, "/tank/A1/sort/cup/1");
    let told = phone.page(&page);
    for no in gone {
        let words = format!("moved already: no. {no} of an earlier one");
        assert!(told.contains(&words), "{words}: {told}");
    }
    phone.undo();
    assert!(!phone.page(&page).contains("moved already"));
    assert!(
        phone
            .page("/tank/A1/sort?again=true")
            .contains("Cup 1 again")
    );
}

/// Numbers that a page asks after, each once.
fn asked_after(page: &str, kind: &str) -> std::collections::BTreeSet<u32> {
    let name = format!("name=\"{kind}");
    page.split(&name)
        .skip(1)
        .map(|rest| rest.split('"').next().expect("it ends"))
        .map(|no| no.parse().expect("a number"))
        .collect()
}

/// Animals that were moved after the first photo stay where they are; the rest is decided with them counted, and the tub
/// never holds more than it has places.
#[test]
fn what_was_moved_stands_and_the_rest_is_decided_with_it() {
    let all = cup(&[
        (Sex::Female, 2.5),
        (Sex::Female, 1.4),
        (Sex::Female, 1.3),
        (Sex::Female, 1.2),
        (Sex::Female, -2.0),
        (Sex::Male, 1.9),
    ]);
    for places in 0..4 {
        let sorting = Sorting::new(setup(places));
        let first = sorting.decide(&all);
        for moved in 0u32..1 << 6 {
            let done = Decision {
                animals: first
                    .animals
                    .iter()
                    .filter(|judged| moved >> (judged.no - 1) & 1 == 1)
                    .map(|judged| catchcup::selection::sorting::Judged {
                        done: true,
                        ..*judged
                    })
                    .collect(),
                ..Decision::default()
            };
            let decision = sorting.decide_rest(&all, &done);
            for judged in &done.animals {
                assert!(decision.animals.contains(judged), "{judged:?}");
            }
            let mut held: Vec<u32> = decision
                .animals
                .iter()
                .filter_map(|judged| match judged.verdict {
                    Verdict::Hold(place) if judged.sex == Sex::Female => Some(place),
                    _ => None,
                })
                .collect();
            held.sort_unstable();
            held.dedup();
            let in_tub = decision
                .animals
                .iter()
                .filter(|j| j.sex == Sex::Female && matches!(j.verdict, Verdict::Hold(_)))
                .count();
            assert_eq!(held.len(), in_tub, "a place twice");
            assert!(in_tub <= places, "{in_tub} in {places} places");
            if moved == 0 || moved == (1 << 6) - 1 {
                assert_eq!(
                    decision
                        .animals
                        .iter()
                        .map(|j| j.verdict)
                        .collect::<Vec<_>>(),
                    first.animals.iter().map(|j| j.verdict).collect::<Vec<_>>(),
                    "none moved or all moved: as it was"
                );
            }
            let mut after = sorting.clone();
            after.enter(&all, &decision);
            let past = [Decided {
                cup: all.clone(),
                decision,
            }];
            assert_eq!(Sorting::resumed(setup(places), &past), after);
            let females = after.counts[0].kept + after.counts[0].moved_out + after.tub[0].len();
            assert_eq!(females, 5, "everybody has a place");
        }
    }
}
