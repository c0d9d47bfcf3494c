//! Selection genetics against published tables and worked examples.

use catchcup::selection::forecast::{above_middle, response};
use catchcup::selection::inbreeding::{accumulated, effective_size, harmonic_mean, rate};
use catchcup::selection::intensity::{expected_order_statistic, intensity, intensity_of_group};
use catchcup::selection::realised::through_origin;
use catchcup::selection::worth::{index_accuracy, index_weights};

use crate::support::table::{Table, close, read};

/// Falconer and Mackay 1996, appendix table A (published values to three decimals, from memory; recomputed with scipy). The
/// published 3.960 for 0.01 % differs from the exact 3.958.
#[test]
fn intensity_of_a_large_group() {
    let table = read("f_selection_intensity_infinite");
    let mut checked = 0;
    for row in table.rows() {
        let (p, found) = (
            row.number("p"),
            intensity(row.number("p")).expect("a share"),
        );
        close(found, row.number("i"), 1.0e-6, &format!("{p}"));
        // The truncation point of p: a share 1 - p of a normal lies below it.
        close(
            above_middle(row.number("x")),
            1.0 - p,
            1.0e-6,
            &format!("{p}"),
        );
        if row.text("check") == "ok" {
            close(
                found,
                row.number("i_published_3dp"),
                5.0e-4 + 1e-9,
                &format!("{p} published"),
            );
            checked += 1;
        }
    }
    assert_eq!(checked, 23);
    assert_eq!(
        (intensity(0.0), intensity(1.0), intensity(1.5)),
        (None, Some(0.0), None)
    );
}

/// Mean of expected order statistics, recomputed; Burrows 1972 is within 0.027 of it.
#[test]
fn intensity_of_a_finite_group() {
    let table = read("f_selection_intensity_finite");
    let mut count = 0;
    for row in table.rows() {
        let (n, k) = (row.number("n") as usize, row.number("k") as usize);
        let found = intensity_of_group(k, n).expect("a group");
        close(found, row.number("i_exact"), 1.0e-6, &format!("{k} of {n}"));
        close(
            found,
            row.number("i_burrows"),
            0.028,
            &format!("{k} of {n}, Burrows"),
        );
        count += 1;
    }
    assert!(count > 70, "{count}");
    assert_eq!(
        (intensity_of_group(0, 5), intensity_of_group(6, 5)),
        (None, None)
    );
    assert_eq!(intensity_of_group(5, 5), Some(0.0));
}

/// Harter 1961, Biometrika 48:151-165 (five decimals), recomputed by integration.
#[test]
fn expected_normal_order_statistics() {
    let table = read("f_normal_order_statistics");
    for row in table.rows() {
        let (n, rank) = (
            row.number("n") as usize,
            row.number("rank_from_top") as usize,
        );
        let found = expected_order_statistic(n, rank).expect("a rank");
        close(found, row.number("E"), 1.0e-7, &format!("{rank} of {n}"));
    }
    for (n, rank, printed) in [
        (2, 1, 0.56419),
        (3, 1, 0.84628),
        (5, 2, 0.49502),
        (10, 5, 0.12267),
    ] {
        close(
            expected_order_statistic(n, rank).expect("a rank"),
            printed,
            5.0e-6,
            "printed",
        );
    }
    assert_eq!(expected_order_statistic(4, 5), None);
}

/// Wright 1931 and 1938; Falconer and Mackay equation 3.12.
#[test]
fn effective_size_and_inbreeding() {
    for row in read("f_effective_size").rows() {
        let ne = effective_size(row.number("Nm"), row.number("Nf"));
        close(ne, row.number("Ne"), 1.0e-6, "Ne");
        close(rate(ne), row.number("dF"), 1.0e-8, "dF");
    }
    close(
        effective_size(10.0, 100.0),
        36.363_636,
        1.0e-6,
        "10 and 100",
    );
    for row in read("f_inbreeding_cumulative").rows() {
        let sizes = vec![row.number("Ne"); row.number("t") as usize];
        close(accumulated(&sizes), row.number("F"), 1.0e-8, "F");
    }
    for row in read("f_harmonic_ne").rows() {
        let sizes: Vec<f64> = row
            .text("sizes")
            .split(' ')
            .map(|n| n.parse().expect("a size"))
            .collect();
        close(
            harmonic_mean(&sizes).expect("sizes"),
            row.number("Ne"),
            1.0e-6,
            "harmonic",
        );
    }
    assert_eq!(harmonic_mean(&[10.0, 0.0]), None);
}

/// Course note's seed example: mean 404, selected 804, S 400, h2 0.71, R 284 (there of one differential for both sexes).
#[test]
fn the_breeders_equation() {
    close(response(0.71, 400.0, 400.0), 284.0, 1.0e-9, "R");
    close(response(0.5, 2.0, 1.0), 0.75, 1.0e-12, "half of each sex");
}

fn values(table: &Table, item: &str) -> Vec<f64> {
    let row = table
        .rows()
        .find(|row| row.text("item") == item)
        .expect("the item");
    ["v1", "v2", "v3"].iter().map(|v| row.number(v)).collect()
}

/// Mrode 2014, examples 1.6 and 1.7: published weights 0.674 and 2.695, sub-indices 0.445 1.692 and 0.0125 0.314.
#[test]
fn selection_index() {
    let (p, g) = (
        [vec![6400.0, -57.6], vec![-57.6, 51.84]],
        [vec![2752.0, 62.064], vec![62.064, 15.552]],
    );
    let a = [1.5, 0.5];
    let b = index_weights(&p, &g, &a).expect("a positive matrix");
    close(b[0], 0.674, 5.0e-4, "growth");
    close(b[1], 2.695, 5.0e-4, "lean");
    close(b[0], 0.674_102, 1.0e-6, "growth recomputed");
    let (accuracy, sd) = index_accuracy(&p, &g, &a, &b).expect("it varies");
    close(accuracy, 0.699_300, 1.0e-6, "accuracy");
    close(sd, 55.456_707, 1.0e-6, "sd");
    for (wanted, published) in [([1.0, 0.0], [0.445, 1.692]), ([0.0, 1.0], [0.0125, 0.314])] {
        let b = index_weights(&p, &g, &wanted).expect("a positive matrix");
        close(b[0], published[0], 5.0e-4, "sub-index");
        close(b[1], published[1], 5.0e-4, "sub-index");
    }
}

/// Constructed case of three measures, recomputed with numpy.
#[test]
fn selection_index_of_three() {
    let table = read("f_selection_index_constructed3");
    let matrix = |letter: &str| {
        (1..=3)
            .map(|i| values(&table, &format!("{letter}{i}")))
            .collect::<Vec<_>>()
    };
    let b = index_weights(&matrix("P"), &matrix("G"), &values(&table, "a")).expect("positive");
    for (found, expected) in b.iter().zip(values(&table, "b")) {
        close(*found, expected, 1.0e-9, "b");
    }
}

/// Constructed example: slope through the origin 0.316386885.
#[test]
fn realised_heritability_through_the_origin() {
    let table = read("f_realised_h2_constructed");
    let column = |name: &str| {
        table
            .rows()
            .map(|row| row.number(name))
            .collect::<Vec<f64>>()
    };
    let found = through_origin(&column("S_cum"), &column("R_cum")).expect("selection");
    close(found, 0.316_386_885, 1.0e-8, "slope");
}
