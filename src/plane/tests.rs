use super::*;

fn spot() -> Plane {
    let mut p = Plane::filled(7, 5, 0.0);
    p.values[2 * 7 + 3] = 1.0;
    p
}

#[test]
fn box_max_is_a_square_and_disc_max_a_disc() {
    let square: usize = spot()
        .box_max(2)
        .values
        .iter()
        .filter(|&&v| v > 0.5)
        .count();
    assert_eq!(square, 25);
    let disc: usize = spot()
        .disc_max(2)
        .values
        .iter()
        .filter(|&&v| v > 0.5)
        .count();
    assert_eq!(disc, 21); // 5 x 5 without its corners
}

#[test]
fn reach_looks_one_way_only() {
    let p = spot().reach_max(1, 0, 2);
    let row: Vec<f32> = p.values[14..21].to_vec();
    assert_eq!(row, [0.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0]);
}

#[test]
fn means_keep_a_constant_and_the_total_inside() {
    let p = Plane::filled(130, 90, 3.5).box_mean(4);
    assert!(p.values.iter().all(|v| (v - 3.5).abs() < 1e-5));
    let s = spot().box_mean(1);
    assert!((s.values.iter().sum::<f32>() - 1.0).abs() < 1e-5);
}

#[test]
fn enlarging_a_ramp_gives_the_ramp_back_inside() {
    let mut p = Plane::filled(40, 12, 0.0);
    for (i, v) in p.values.iter_mut().enumerate() {
        *v = (i % 40) as f32;
    }
    let back = p.reduced(4).enlarged(4, 40, 12);
    for x in 2..38 {
        assert!((back.values[5 * 40 + x] - x as f32).abs() < 1e-4);
    }
}

#[test]
fn opening_removes_thin_lines_and_keeps_blocks() {
    let mut p = Plane::filled(20, 20, 0.0);
    for i in 0..20 {
        p.values[10 * 20 + i] = 1.0;
    }
    for y in 2..7 {
        for x in 2..7 {
            p.values[y * 20 + x] = 1.0;
        }
    }
    let o = p.open(1);
    assert_eq!(o.values.iter().filter(|&&v| v > 0.5).count(), 25);
}
