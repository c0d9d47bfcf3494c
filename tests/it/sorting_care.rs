//! What a sorting must not do to animals: move out the only male it knows, give orders for what may be another tank, or say
//! that there were no more where nobody looked.

use std::fmt::Write;

use catchcup::measures::Sex;
use catchcup::selection::sorting::{Setup, Sorting, TankNumber, Verdict};

use crate::room_work::{Phone, red};
use crate::selection::{cup, setup};
use crate::selection_commands::keeper as sorting_keeper;
use crate::support::keeper::Keeper;

/// A keeper with the photo `cup.jpg`, and no earlier scoop.
fn bare(name: &str) -> Keeper {
    let keeper = Keeper::new(name);
    keeper.0.file("cup.jpg", red());
    keeper
}

/// A keeper whose earlier scoops hold far better animals than the photo `cup.jpg`: coverage 0.93 to 0.97.
fn spoilt(name: &str) -> Keeper {
    let keeper = bare(name);
    let mut table = String::from("tank,date,scoop,sex,coverage,opacity,length_mm\n");
    for i in 0..60 {
        let sex = if i % 2 == 0 { "female" } else { "male" };
        let coverage = 0.93 + 0.002 * f64::from((7 * i) % 20);
        let opacity = 0.9 + 0.002 * f64::from((3 * i) % 20);
        let _ = writeln!(
            table,
            "A1,2026-04-01,{},{sex},{coverage:.3},{opacity:.3},22",
            i / 20
        );
    }
    keeper.0.file("past.csv", table);
    keeper.ok("book import past.csv");
    keeper
}

#[test]
fn a_sex_is_said_so_that_it_can_t_be_taken_for_a_count() {
    let keeper = sorting_keeper("care-sexes");
    keeper.ok("sort start A1 --keep 3F 2M --tub 2 --about 60");
    let said = keeper.refused("sort cup A1 cup.jpg --cup-mm 97 --sexes 3F 5M");
    assert!(
        said.contains("3=female") && said.contains("count"),
        "{said}"
    );
    let said = keeper.refused("sort cup A1 cup.jpg --cup-mm 97 --sexes 30=male");
    assert!(
        said.contains("no. 30") && said.contains("8 animals"),
        "{said}"
    );
    assert_eq!(keeper.json("sort show A1")[0]["tally"]["cups"], 0);
    let taken = &keeper.json("sort cup A1 cup.jpg --cup-mm 97 --sexes 3=female 5=male")[0];
    let sexes: Vec<&str> = taken["animals"]
        .as_array()
        .expect("animals")
        .iter()
        .filter_map(|a| a["sex"].as_str())
        .filter(|sex| *sex != "unsure")
        .collect();
    assert_eq!(sexes.len(), 2, "{taken}");
}

#[test]
fn the_only_male_known_is_not_moved_out() {
    let verdict = |wanted: usize, places: usize| {
        let sorting = Sorting::new(Setup {
            wanted: [4, wanted],
            earlier: [Vec::new(), Vec::new()],
            number: TankNumber::About(60),
            ..setup(places)
        });
        sorting.decide(&cup(&[(Sex::Male, -1.0)])).animals[0].verdict
    };
    assert_eq!(verdict(2, 2), Verdict::Hold(1));
    assert_eq!(verdict(2, 0), Verdict::Keep);
    assert_eq!(verdict(0, 2), Verdict::MoveOut, "none is wanted");
    // Two of a cup that nobody has seen the like of: the better one first, and never more than are wanted.
    let sorting = Sorting::new(Setup {
        wanted: [0, 1],
        earlier: [Vec::new(), Vec::new()],
        ..setup(5)
    });
    let both = sorting.decide(&cup(&[(Sex::Male, -1.0), (Sex::Male, 1.0)]));
    assert_eq!(
        [both.animals[0].verdict, both.animals[1].verdict],
        [Verdict::MoveOut, Verdict::Hold(1)]
    );

    let keeper = bare("care-male");
    keeper.ok("sort start A1 --keep 4F 2M --tub 2 --about 60");
    let said = keeper.ok("sort cup A1 cup.jpg --cup-mm 97 --sexes 3=female 5=male");
    assert!(said.contains("TUB M1") && said.contains("TUB F1"), "{said}");
    assert!(
        said.contains("Too few males are known yet") && !said.contains("MOVE OUT"),
        "{said}"
    );
    assert!(said.contains("no health certificate"), "{said}");
    assert!(said.lines().all(|line| line.chars().count() <= 80));
}

#[test]
fn no_orders_for_what_may_be_another_tank() {
    let keeper = spoilt("care-other");
    keeper.ok("sort start A1 --keep 3F 2M --about 60");
    let ask = "sort cup A1 cup.jpg --cup-mm 97 --sex female";
    let said = keeper.refused(ask);
    for words in ["poorer", "move nobody", "--tank-sure"] {
        assert!(said.replace("\n  ", " ").contains(words), "{words}: {said}");
    }
    assert!(!said.contains("MOVE OUT"), "{said}");
    assert_eq!(keeper.json("sort show A1")[0]["tally"]["cups"], 0);
    let told = keeper.ok(&format!("{ask} --tank-sure"));
    let (warned, ordered) = (told.find("That is no drift"), told.find("MOVE OUT"));
    assert!(warned.is_some() && warned < ordered, "{told}");
    // Once answered, the next cup of the sorting is not asked about again.
    keeper
        .0
        .file("next.jpg", [red().as_slice(), b"next"].concat());
    keeper.ok("sort cup A1 next.jpg --cup-mm 97 --sex female");
    assert_eq!(keeper.json("sort show A1")[0]["tally"]["cups"], 2);
}

#[test]
fn the_phone_holds_orders_back_and_warns_above_them() {
    let keeper = spoilt("care-page");
    keeper.ok("sort start A1 --keep 3F 2M --tub 2 --about 60");
    let phone = Phone::new(&keeper);
    let to = phone.send("/tank/A1/sort/cup", &[("sex", "female")], &red());
    assert!(to.starts_with("/tank/A1/sort/sure/"), "{to}");
    let asked = phone.page(&to);
    assert!(
        asked.contains("move nobody") && !asked.contains("MOVE OUT"),
        "{asked}"
    );
    assert_eq!(keeper.json("sort show A1")[0]["tally"]["cups"], 0);
    let (path, query) = to.split_once('?').expect("a query");
    assert_eq!(phone.post(path, query), "/tank/A1/sort/cup/1");
    let page = phone.page("/tank/A1/sort/cup/1");
    let (warned, ordered) = (page.find("That is no drift"), page.find("MOVE OUT"));
    assert!(warned.is_some() && warned < ordered, "{page}");
    // Each order of the fold stands in a paragraph of its own.
    let fold = page.split("All that was said").nth(1).expect("the fold");
    let orders = |text: &str| {
        ["KEEP", "TUB F", "MOVE OUT", "BACK"]
            .iter()
            .map(|order| text.matches(order).count())
            .sum::<usize>()
    };
    assert!(fold.split("<p>").all(|one| orders(one) <= 1), "{fold}");
    assert!(orders(fold) >= 8, "{fold}");
}

#[test]
fn an_end_before_the_tank_is_empty_is_told_as_it_is() {
    let keeper = bare("care-end");
    keeper.ok("sort start A1 --keep 15F 10M --tub 10 --about 40");
    let end = keeper.ok("sort finish A1").replace("\n  ", " ");
    assert!(
        end.contains("15 females fewer than wanted: ended before the first cup, with about"),
        "{end}"
    );
    assert!(
        end.contains("book undo") && !end.contains("there were no more"),
        "{end}"
    );
    keeper.ok("book undo");
    keeper.ok("sort cup A1 cup.jpg --cup-mm 97 --sex female");
    let end = keeper.ok("sort finish A1").replace("\n  ", " ");
    assert!(
        end.contains("10 males fewer than wanted: ended after 8 of about"),
        "{end}"
    );
    keeper.ok("book undo");
    keeper
        .0
        .file("last.jpg", [red().as_slice(), b"last"].concat());
    keeper.ok("sort cup A1 last.jpg --cup-mm 97 --sex female --last");
    let end = keeper.ok("sort finish A1").replace("\n  ", " ");
    assert!(
        end.contains("10 males fewer than wanted: there were no more"),
        "{end}"
    );
}
