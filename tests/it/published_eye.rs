//! Agreement of raters against published worked examples.

use catchcup::eye::kappa::{Weights, kappa};
use catchcup::eye::rank::{kendall, spearman};

use crate::support::table::{close, read};

/// `[[75,1,4],[5,4,1],[0,0,10]]` as rows of counts.
fn matrix(text: &str) -> Vec<Vec<f64>> {
    serde_json::from_str(text).expect("a matrix")
}

/// Published (from memory, see line 1 of the table): Fleiss, Levin and Paik 2003 chapter 18, kappa .676; Boyd's X-ray
/// readings of 1982 as in a statistics package's manual, .4728 (standard error .0694, z 6.81) and with linear weights .5684
/// (.0788, 7.22); the textbook 2x2 tables .40, .1304, .2593. All rows were recomputed with two other programs.
#[test]
fn kappa_and_weighted_kappa() {
    let mut rows = 0;
    for row in read("e_kappa").rows() {
        let weights = match row.text("weights") {
            "none" => Weights::Exact,
            "linear" => Weights::Linear,
            _ => Weights::Quadratic,
        };
        let found = kappa(&matrix(row.text("matrix_rows")), weights).expect("a table");
        for (value, column) in [
            (found.observed, "po"),
            (found.expected, "pe"),
            (found.value, "kappa"),
            (found.error, "se_nonnull"),
            (found.error_of_chance, "se_null"),
        ] {
            close(value, row.number(column), 1.0e-9, column);
        }
        close(
            found.value / found.error_of_chance,
            row.number("z"),
            1.0e-6,
            "z",
        );
        rows += 1;
    }
    assert_eq!(rows, 15);
    let published = |text: &str, weights| kappa(&matrix(text), weights).expect("a table").value;
    let xray = "[[21,12,0,0],[4,17,1,0],[3,9,15,2],[0,0,0,1]]";
    close(
        published("[[75,1,4],[5,4,1],[0,0,10]]", Weights::Exact),
        0.676,
        5.0e-4,
        "Fleiss",
    );
    close(published(xray, Weights::Exact), 0.4728, 5.0e-5, "Boyd");
    close(
        published(xray, Weights::Linear),
        0.5684,
        5.0e-5,
        "Boyd, linear",
    );
}

#[test]
fn tables_without_a_kappa() {
    assert_eq!(kappa(&[], Weights::Exact), None);
    assert_eq!(kappa(&matrix("[[0,0],[0,0]]"), Weights::Linear), None);
    assert_eq!(kappa(&matrix("[[5,0],[0,0]]"), Weights::Quadratic), None);
    assert_eq!(kappa(&matrix("[[5,0,1],[0,0,2]]"), Weights::Exact), None);
}

/// Siegel 1956 (published rho .82, tau .67, from memory), hours of television and IQ (rho -29/165, tau -1/9), and a
/// constructed set with ties.
#[test]
fn rank_correlations() {
    let numbers = |text: &str| -> Vec<f64> {
        text.split(' ')
            .map(|word| word.parse().expect("a number"))
            .collect()
    };
    for row in read("e_rank_correlation").rows() {
        let (a, b) = (numbers(row.text("a")), numbers(row.text("b")));
        let pairs: Vec<(f64, f64)> = a.into_iter().zip(b).collect();
        close(
            spearman(&pairs).expect("rho"),
            row.number("spearman"),
            1.0e-9,
            "rho",
        );
        close(
            kendall(&pairs).expect("tau"),
            row.number("kendall_tau_b"),
            1.0e-9,
            "tau-b",
        );
    }
    assert_eq!(spearman(&[(1.0, 2.0), (1.0, 3.0)]), None);
    assert_eq!(kendall(&[(1.0, 2.0)]), None);
}
