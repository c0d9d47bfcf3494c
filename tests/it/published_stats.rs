//! Statistics against published worked examples.

use catchcup::stats::{self, Interval};

use crate::support::table::{close, read};

/// Newcombe 1998, Table I; Brown, Cai and DasGupta 2001 for Jeffreys; further cases recomputed.
#[test]
fn intervals_for_a_share() {
    let table = read("c_binomial_intervals");
    let mut checked = [0; 3];
    for row in table.rows() {
        type Method = fn(u64, u64, f64) -> Interval;
        let (which, method): (usize, Method) = match row.text("method") {
            "wilson" => (0, stats::wilson),
            "cp" | "beta" => (1, stats::clopper_pearson),
            "jeffreys" => (2, stats::jeffreys),
            _ => continue,
        };
        let (x, n) = (row.number("x") as u64, row.number("n") as u64);
        let what = format!("{} {x}/{n}", row.text("method"));
        let found = method(x, n, 0.95);
        checked[which] += 1;
        // One row of the table holds the raw quantile where the convention (and the others) say 0.
        let raw = which == 2 && (x, n) == (0, 20);
        close(
            found.low,
            if raw { 0.0 } else { row.number("lo") },
            1.0e-8,
            &what,
        );
        close(found.high, row.number("hi"), 1.0e-8, &what);
        if let (Some(low), Some(high)) = (row.maybe("pub_lo"), row.maybe("pub_hi")) {
            close(found.low, low, 5.0e-5, &what);
            close(found.high, high, 5.0e-5, &what);
        }
    }
    assert!(checked.iter().all(|&n| n >= 10), "{checked:?}");
}

/// Goodman 1965 by way of Sison and Glaz 1995, example 1 (published limits to three decimals), and recomputed cases.
#[test]
fn simultaneous_intervals() {
    let table = read("c_multinomial_intervals");
    for case in ["SG1", "grade5", "small4", "withzero"] {
        let rows: Vec<_> = table.rows().filter(|r| r.text("case") == case).collect();
        let counts: Vec<u64> = rows.iter().map(|r| r.number("count") as u64).collect();
        assert_eq!(
            counts.iter().sum::<u64>() as f64,
            rows[0].number("n"),
            "{case} is whole"
        );
        for (row, found) in rows.iter().zip(stats::goodman(&counts, 0.95)) {
            close(found.low, row.number("goodman_lo"), 1.0e-6, case);
            close(found.high, row.number("goodman_hi"), 1.0e-6, case);
        }
    }
    let published = [
        (0.085, 0.166),
        (0.115, 0.204),
        (0.116, 0.207),
        (0.091, 0.173),
        (0.096, 0.181),
        (0.143, 0.239),
        (0.089, 0.171),
    ];
    let found = stats::goodman(&[56, 72, 73, 59, 62, 87, 58], 0.95);
    for (found, (low, high)) in found.iter().zip(published) {
        close(found.low, low, 5.0e-4, "Goodman low");
        close(found.high, high, 5.0e-4, "Goodman high");
    }
}

/// Worked example of Otsu's method with 36 pixels on six levels; the best parting is behind level 2.
#[test]
fn otsu_of_the_36_pixels() {
    let table = read("g_otsu_6x6");
    let best = table
        .rows()
        .max_by(|a, b| a.number("between").total_cmp(&b.number("between")))
        .expect("rows");
    assert_eq!(
        stats::otsu(&[8, 7, 2, 6, 9, 4]),
        Some(best.number("t_last_bg") as usize)
    );
}

/// Gander, Golub and Strebel 1994, six points (published geometric fit to four decimals), and arcs.
#[test]
fn circle_fits() {
    let mut checked = 0;
    for row in read("g_circle_fits").rows() {
        let fit = match row.text("method") {
            "kasa" => stats::circle_algebraic,
            "geometric" => stats::circle_geometric,
            _ => continue,
        };
        let points: Vec<[f64; 2]> = row.text("points").split(' ').map(point).collect();
        let found = fit(&points).expect("a circle");
        let what = format!("{} {}", row.text("set"), row.text("method"));
        // Points of the made sets are written with six to nine digits.
        close(found.centre[0], row.number("cx"), 2.0e-6, &what);
        close(found.centre[1], row.number("cy"), 2.0e-6, &what);
        close(found.radius, row.number("R"), 2.0e-6, &what);
        if what == "gander_golub_strebel_1994 geometric" {
            close(found.centre[0], 4.7398, 5.0e-5, &what);
            close(found.centre[1], 2.9835, 5.0e-5, &what);
            close(found.radius, 4.7142, 5.0e-5, &what);
        }
        checked += 1;
    }
    assert_eq!(checked, 8);
}

fn point(pair: &str) -> [f64; 2] {
    let (x, y) = pair.split_once(',').expect("x,y");
    [x.parse().expect("x"), y.parse().expect("y")]
}
