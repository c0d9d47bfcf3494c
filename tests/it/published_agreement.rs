//! Agreement and curves against published worked examples.

use catchcup::trends::agreement::{
    Icc, icc_agreement, icc_consistency, icc_one_way, limits_of_agreement, mean_squares,
    smallest_believable, within_sd,
};
use catchcup::trends::curve::{Approach, Start, exponential, line};

use crate::support::table::{close, read};

/// Shrout and Fleiss 1979, table 2: six targets, four judges.
fn judged() -> Vec<Vec<f64>> {
    read("e_shrout_fleiss")
        .rows()
        .map(|r| ["j1", "j2", "j3", "j4"].map(|j| r.number(j)).to_vec())
        .collect()
}

/// Published to two decimals (mean squares 11.24, 6.26, 32.49, 1.02; ICC .17 .29 .71); more digits recomputed, in line 1 of
/// the table. The interval of ICC(2,1), .019 to .761, is from memory of a statistics package's manual.
#[test]
fn intraclass_correlations() {
    let m = mean_squares(&judged()).expect("a complete table");
    for (found, published) in [
        (m.between, 11.24),
        (m.within, 6.26),
        (m.occasions, 32.49),
        (m.residual, 1.02),
    ] {
        close(found, published, 5.0e-3, "mean square");
    }
    let check = |icc: Option<Icc>, value: f64, low: f64, high: f64, digits: f64| {
        let icc = icc.expect("things differ");
        close(icc.value, value, 1.0e-6, "ICC");
        close(icc.interval.low, low, digits, "low");
        close(icc.interval.high, high, digits, "high");
    };
    check(
        icc_one_way(&m, 0.95),
        0.165_742,
        -0.132_932,
        0.722_560,
        1.0e-6,
    );
    check(icc_agreement(&m, 0.95), 0.289_764, 0.019, 0.761, 6.0e-4);
    check(
        icc_consistency(&m, 0.95),
        0.714_841,
        0.342_465,
        0.945_858,
        1.0e-6,
    );
}

#[test]
fn tables_that_carry_no_correlation() {
    assert_eq!(mean_squares(&[vec![1.0, 2.0]]), None);
    assert_eq!(mean_squares(&[vec![1.0, 2.0], vec![1.0]]), None);
    let flat = mean_squares(&[vec![1.0, 1.0], vec![1.0, 1.0]]).expect("complete");
    assert_eq!(icc_agreement(&flat, 0.95), None);
    let same = mean_squares(&[vec![1.0, 1.0], vec![2.0, 2.0], vec![4.0, 4.0]]).expect("complete");
    assert_eq!(
        icc_consistency(&same, 0.95).map(|i| (i.value, i.interval.high)),
        Some((1.0, 1.0))
    );
}

/// Bland and Altman 1986: peak flow by two meters; published mean difference -2.1, SD 38.8, limits -79.7 and 75.5 (from the
/// rounded values), recomputed -2.117647, 38.765130, -79.647907, 75.412613 with 2 standard deviations.
#[test]
fn limits_of_two_meters() {
    let table = read("e_bland_altman_pefr");
    let pairs: Vec<(f64, f64)> = table
        .rows()
        .map(|r| (r.number("mini1"), r.number("wright1")))
        .collect();
    let l = limits_of_agreement(&pairs).expect("17 pairs");
    assert_eq!(l.n, 17);
    close(l.shift, -2.117_647, 1.0e-6, "mean difference");
    close(l.sd, 38.765_130, 1.0e-6, "SD");
    // The paper takes 2 standard deviations, we take 1.96.
    let two = |sign: f64| l.shift + sign * (l.high - l.shift) * 2.0 / 1.959_964;
    close(two(-1.0), -79.7, 0.15, "lower limit");
    close(two(1.0), 75.5, 0.15, "upper limit");
}

/// The same paper's repeatability: within-subject SD 15.31 and 19.91; coefficients 43.2 and 56.4 with 2 SD of differences.
#[test]
fn repeatability_of_each_meter() {
    let table = read("e_bland_altman_pefr");
    for (columns, sd, coefficient) in [
        (["wright1", "wright2"], 15.306_670, 43.2),
        (["mini1", "mini2"], 19.910_831, 56.4),
    ] {
        let rows: Vec<Vec<f64>> = table
            .rows()
            .map(|r| columns.map(|c| r.number(c)).to_vec())
            .collect();
        let within = within_sd(&rows).expect("pairs");
        close(within, sd, 1.0e-6, columns[0]);
        close(
            smallest_believable(within) * 2.0 / 1.959_964,
            coefficient,
            0.15,
            columns[0],
        );
    }
}

/// NIST StRD, nonlinear regression, Misra1a (lower difficulty): y = b1 (1 - exp(-b2 x)). Data and certified values from
/// memory; that they belong together is shown by the fit meeting ten certified digits.
#[test]
fn exponential_approach_misra1a() {
    let x = [
        77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1,
        760.0,
    ];
    let y = [
        10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47,
        81.78,
    ];
    certified(
        &x,
        &y,
        [2.389_421_291_8e2, 5.501_564_318_1e-4],
        [2.707_007_524_1, 7.266_868_843_6e-6],
        1.245_513_889_4e-1,
    );
}

/// NIST StRD, nonlinear regression, BoxBOD (higher difficulty), the same model; data and certified values from memory as
/// above.
#[test]
fn exponential_approach_boxbod() {
    certified(
        &[1.0, 2.0, 3.0, 5.0, 7.0, 10.0],
        &[109.0, 149.0, 149.0, 191.0, 213.0, 224.0],
        [2.138_094_088_9e2, 5.472_374_854_2e-1],
        [1.235_451_517_6e1, 1.045_599_323_7e-1],
        1.168_008_876_6e3,
    );
}

fn certified(x: &[f64], y: &[f64], values: [f64; 2], errors: [f64; 2], squares: f64) {
    let points: Vec<(f64, f64)> = x.iter().copied().zip(y.iter().copied()).collect();
    let fit: Approach = exponential(&points, Start::At(0.0)).expect("a curve");
    let near = |found: f64, certified: f64, digits: f64, what: &str| {
        close(found / certified, 1.0, digits, what)
    };
    near(fit.change, values[0], 1.0e-9, "b1");
    near(fit.rate, values[1], 1.0e-9, "b2");
    near(fit.errors[1], errors[0], 1.0e-7, "standard error of b1");
    near(fit.errors[2], errors[1], 1.0e-7, "standard error of b2");
    near(fit.squares, squares, 1.0e-9, "residual sum of squares");
}

/// NIST StRD, linear regression, Norris: certified values in line 1 of the table.
#[test]
fn straight_line_norris() {
    let points: Vec<(f64, f64)> = read("d_nist_norris")
        .rows()
        .map(|r| (r.number("x"), r.number("y")))
        .collect();
    assert_eq!(points.len(), 36);
    let fit = line(&points).expect("a line");
    close(fit.start, -0.262_323_073_774_029, 1.0e-10, "B0");
    close(fit.slope, 1.002_116_818_020_45, 1.0e-12, "B1");
    close(
        fit.errors[0],
        0.232_818_234_301_152,
        1.0e-9,
        "its standard error",
    );
    close(
        fit.errors[1],
        0.429_796_848_199_937e-3,
        1.0e-12,
        "its standard error",
    );
}

/// With a free start too, and no curve where there is none.
#[test]
fn curves_and_none() {
    let minutes = [0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0];
    let truth = |t: f64| 0.8 - 0.2 * (1.0 - (-0.4 * t).exp());
    let points: Vec<(f64, f64)> = minutes.iter().map(|t| (*t, truth(*t))).collect();
    let fit = exponential(&points, Start::Free).expect("a curve");
    close(fit.start, 0.8, 1.0e-9, "start");
    close(fit.change, -0.2, 1.0e-9, "change");
    close(fit.rate, 0.4, 1.0e-8, "rate");
    let straight: Vec<(f64, f64)> = minutes.iter().map(|t| (*t, 0.8 - 0.01 * t)).collect();
    assert_eq!(exponential(&straight, Start::Free), None);
    assert_eq!(exponential(&points[..2], Start::Free), None);
    assert_eq!(line(&[(1.0, 2.0), (1.0, 3.0)]), None);
}
