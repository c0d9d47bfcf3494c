//! Repeated photos and fading, on made sightings with known truth.

use catchcup::ladder::Rung;
use catchcup::report::steady::steady_lines;
use catchcup::report::{fade_json, steady_json};
use catchcup::trends::fading::{Course, TooFew, fading};
use catchcup::trends::{MatchedBy, Proposal, Sighting, Timed, fade, match_photos, steady};

/// Eight animals of different looks on a floor of 800 by 800 pixels.
fn scoop() -> Vec<Sighting> {
    let places = [
        [100.0, 120.0],
        [300.0, 90.0],
        [520.0, 160.0],
        [700.0, 300.0],
        [640.0, 520.0],
        [420.0, 640.0],
        [200.0, 560.0],
        [330.0, 330.0],
    ];
    let one = |(i, at): (usize, [f64; 2])| Sighting {
        no: i as u32 + 1,
        centre: at,
        length_px: 180.0 + 9.0 * i as f64,
        length_mm: Some(20.0 + i as f64),
        coverage: Some(0.15 + 0.1 * i as f64),
        opacity: Some(0.6 + 0.03 * i as f64),
        lab: Some([60.0 - 3.0 * i as f64, 30.0 + 2.0 * i as f64, 20.0]),
        rung: Rung::from_word(&format!("G{}", (i / 2).min(5))).map(|rung| (rung, None)),
    };
    places.into_iter().enumerate().map(one).collect()
}

/// The scoop turned, nearer, and its animals numbered the other way.
fn moved(photo: &[Sighting]) -> Vec<Sighting> {
    let (s, c) = 70.0f64.to_radians().sin_cos();
    let mut out: Vec<Sighting> = photo
        .iter()
        .map(|a| {
            let [x, y] = a.centre;
            Sighting {
                centre: [1.4 * (c * x - s * y) + 900.0, 1.4 * (s * x + c * y)],
                length_px: 1.4 * a.length_px,
                ..a.clone()
            }
        })
        .collect();
    out.reverse();
    (1..).zip(&mut out).for_each(|(no, a)| a.no = no);
    out
}

#[test]
fn a_moved_cup_is_known_again_by_place() {
    let (a, mut b) = (scoop(), moved(&scoop()));
    b.remove(2);
    let matching = match_photos(&[a.clone(), b.clone()]);
    assert_eq!(matching.by, [MatchedBy::Reference, MatchedBy::Place]);
    for (i, row) in matching.animals.iter().enumerate() {
        let other = row[1].map(|k| b[k].length_mm);
        assert_eq!(
            other,
            (i != 5).then_some(a[i].length_mm),
            "animal {}",
            i + 1
        );
    }
    assert_eq!(matching.unmatched, [vec![6], vec![]]);
}

#[test]
fn swum_animals_are_known_by_looks_or_not_at_all() {
    let a = scoop();
    let mut b = scoop();
    let places: Vec<[f64; 2]> = [3, 7, 0, 5, 1, 6, 2, 4]
        .iter()
        .map(|i| [a[*i].centre[1], a[*i].centre[0]])
        .collect();
    b.iter_mut().zip(places).for_each(|(s, at)| s.centre = at);
    // Twins can't be told apart.
    b[1] = Sighting {
        no: 2,
        centre: b[1].centre,
        ..a[0].clone()
    };
    let matching = match_photos(&[a, b]);
    assert_eq!(matching.by[1], MatchedBy::Looks);
    assert_eq!(matching.animals[0][1], None, "a twin");
    assert!(
        (2..8).all(|i| matching.animals[i][1] == Some(i)),
        "{matching:?}"
    );
    assert_eq!(matching.unmatched[1], [1, 2]);
}

/// Known spread in, the same out: each animal's coverage is read 0.02 too low and too high in turn, and the third photo 0.03
/// too high.
#[test]
fn spread_and_shift_are_found() {
    let a = scoop();
    let change = |by: &dyn Fn(usize) -> f64| -> Vec<Sighting> {
        a.iter()
            .enumerate()
            .map(|(i, s)| Sighting {
                coverage: s.coverage.map(|c| c + by(i)),
                ..s.clone()
            })
            .collect()
    };
    let wave = |i: usize| if i.is_multiple_of(2) { 0.02 } else { -0.02 };
    let photos = [a.clone(), change(&wave), change(&|_| 0.03)];
    let found = steady(&photos);
    let coverage = found
        .measures
        .iter()
        .find(|m| m.measure == "coverage")
        .expect("measured");
    // By hand: around their mean the three readings 0, +-0.02, 0.03 have squares 0.000 467 and 0.001 267 on two degrees.
    let expected = ((0.000_466_667 + 0.001_266_667) / 4.0f64).sqrt();
    assert!((coverage.within_sd - expected).abs() < 1e-6, "{coverage:?}");
    assert!((coverage.mean_sd.expect("eight animals") - 0.03 / 3f64.sqrt()).abs() < 1e-9);
    let (first, second, worst) = coverage.worst_pair.expect("pairs");
    assert_eq!((first, second), (1, 2));
    assert!((worst.shift - 0.03).abs() < 1e-9);
    assert!(coverage.icc.expect("eight animals").value > 0.98);
    assert_eq!(found.colour.expect("coloured").median, 0.0);
    assert_eq!(found.rungs, (24, 24));
}

#[test]
fn an_answer_for_people_fits_the_width_and_one_for_programs_the_schema() {
    let photos = [scoop(), moved(&scoop()), scoop()[..2].to_vec()];
    let found = steady(&photos);
    let files = [
        "first.jpg",
        "a photo with quite a long name, as phones write them.jpg",
        "c.jpg",
    ];
    for detail in [false, true] {
        let lines = steady_lines(&files, &photos, &found, detail);
        for line in &lines {
            assert!(line.text.chars().count() <= 80, "{}", line.text);
        }
        let text: String = lines.iter().map(|l| format!("{}\n", l.text)).collect();
        for term in ["ICC", "SD", "CIELAB", "CIEDE2000", "95 %"] {
            assert_eq!(text.contains(term), detail, "{term}: {text}");
        }
    }
    let json = steady_json(&files, &photos, &found);
    crate::record::holds_to(catchcup::report::STEADY_SCHEMA, &json);
    let empty = steady(&[Vec::new(), Vec::new()]);
    crate::record::holds_to(
        catchcup::report::STEADY_SCHEMA,
        &steady_json(&files[..2], &[Vec::new(), Vec::new()], &empty),
    );
}

/// A scoop that pales by the curve given, photographed at these minutes.
fn paling(minutes: &[f64], lost: &dyn Fn(f64) -> f64) -> Vec<Timed> {
    let at = |t: &f64| Timed {
        minutes: *t,
        animals: scoop()
            .into_iter()
            .map(|s| Sighting {
                coverage: s.coverage.map(|c| c - lost(*t)),
                ..s
            })
            .collect(),
    };
    minutes.iter().map(at).collect()
}

#[test]
fn a_curve_is_found_and_a_limit_proposed() {
    let photos = paling(&[0.5, 1.0, 2.0, 4.0, 7.0, 10.0], &|t| {
        0.08 * (1.0 - (-0.3 * t).exp())
    });
    let found = fade(&photos, 0.03);
    let coverage = found.measures[0].1.as_ref().expect("enough");
    assert!(
        matches!(coverage.course, Course::Levelling(c) if (c.rate - 0.3).abs() < 1e-6),
        "{:?}",
        coverage.course
    );
    // 0.08 (1 - exp(-0.3 t)) = 0.03 at t = 1.567 minutes.
    let Proposal::Limits(rule) = found.proposal else {
        panic!("{:?}", found.proposal)
    };
    assert_eq!((rule.warn, rule.stop), (1.5, 1.5));
    let files = ["a", "b", "c", "d", "e", "f"];
    crate::record::holds_to(
        catchcup::report::FADE_SCHEMA,
        &fade_json(&files, &photos, true, &found),
    );
}

#[test]
fn a_line_where_the_photos_bear_no_curve_and_nothing_where_they_are_too_few() {
    let found = fade(&paling(&[1.0, 3.0, 5.0, 9.0], &|t| 0.005 * t), 0.03);
    let coverage = found.measures[0].1.as_ref().expect("enough");
    assert!(matches!(coverage.course, Course::Steady(l) if (l.slope + 0.005).abs() < 1e-9));
    let Proposal::Limits(rule) = found.proposal else {
        panic!("{:?}", found.proposal)
    };
    assert_eq!(rule.stop, 6.0);
    let still = fade(&paling(&[1.0, 3.0, 5.0], &|_| 0.0), 0.03);
    assert_eq!(still.proposal, Proposal::NoneNeeded(5.0));
    let twice = paling(&[1.0, 1.0], &|_| 0.0);
    assert_eq!(fade(&twice, 0.03).measures[0].1, Err(TooFew::Times(1)));
    assert_eq!(
        fading(&[1.0, 2.0, 3.0], &[vec![0.5; 3], vec![0.4; 3]]),
        Err(TooFew::Animals(2))
    );
}
