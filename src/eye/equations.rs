//! Equations with a symmetric positive matrix.

/// x with `matrix` x = `right`, by Cholesky's triangle; `None` where the matrix is not positive.
pub(super) fn solve(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let n = right.len();
    for i in 0..n {
        for j in 0..=i {
            let done: f64 = (0..j).map(|k| matrix[i][k] * matrix[j][k]).sum();
            let rest = matrix[i][j] - done;
            if i == j {
                if rest.is_nan() || rest <= 0.0 {
                    return None;
                }
                matrix[i][i] = rest.sqrt();
            } else {
                matrix[i][j] = rest / matrix[j][j];
            }
        }
        let done: f64 = (0..i).map(|k| matrix[i][k] * right[k]).sum();
        right[i] = (right[i] - done) / matrix[i][i];
    }
    for i in (0..n).rev() {
        let done: f64 = (i + 1..n).map(|k| matrix[k][i] * right[k]).sum();
        right[i] = (right[i] - done) / matrix[i][i];
    }
    Some(right)
}

#[cfg(test)]
mod tests {
    use super::solve;

    #[test]
    fn two_equations() {
        // By hand: 4x + 2y = 2, 2x + 3y = -1 has x = 1, y = -1.
        let x = solve(vec![vec![4.0, 2.0], vec![2.0, 3.0]], vec![2.0, -1.0]).expect("positive");
        assert!((x[0] - 1.0).abs() < 1e-12 && (x[1] + 1.0).abs() < 1e-12);
        assert_eq!(
            solve(vec![vec![1.0, 2.0], vec![2.0, 1.0]], vec![0.0, 0.0]),
            None
        );
    }
}
