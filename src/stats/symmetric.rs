//! Equations with a symmetric positive matrix, as variances and covariances make them.

/// The lower triangle L with L L' = `matrix`; `None` where the matrix is not square or not positive (a set of variances and
/// covariances that no measures can have).
pub fn cholesky(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = matrix.len();
    let mut lower = vec![vec![0.0; n]; n];
    for i in 0..n {
        if matrix[i].len() != n {
            return None;
        }
        for j in 0..=i {
            let so_far: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let rest = matrix[i][j] - so_far;
            if i == j {
                // Below this share of its own variance a measure is the others over again.
                if rest.is_nan() || rest <= 1e-12 * matrix[i][i].abs() {
                    return None;
                }
                lower[i][i] = rest.sqrt();
            } else {
                lower[i][j] = rest / lower[j][j];
            }
        }
    }
    Some(lower)
}

/// x with `matrix` x = `right`; `None` as for [`cholesky`].
pub fn solve(matrix: &[Vec<f64>], right: &[f64]) -> Option<Vec<f64>> {
    let lower = cholesky(matrix)?;
    let n = lower.len();
    if right.len() != n {
        return None;
    }
    let mut x = right.to_vec();
    for i in 0..n {
        let done: f64 = (0..i).map(|k| lower[i][k] * x[k]).sum();
        x[i] = (x[i] - done) / lower[i][i];
    }
    for i in (0..n).rev() {
        let done: f64 = (i + 1..n).map(|k| lower[k][i] * x[k]).sum();
        x[i] = (x[i] - done) / lower[i][i];
    }
    Some(x)
}

/// `matrix` times `vector`.
pub fn times(matrix: &[Vec<f64>], vector: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| dot(row, vector)).collect()
}

/// Sum of the products.
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equations_by_hand() {
        let matrix = vec![vec![4.0, 2.0], vec![2.0, 3.0]];
        let x = solve(&matrix, &[10.0, 8.0]).expect("it is positive");
        assert!(
            (x[0] - 1.75).abs() < 1e-12 && (x[1] - 1.5).abs() < 1e-12,
            "{x:?}"
        );
        assert_eq!(times(&matrix, &[1.0, 1.0]), [6.0, 5.0]);
        assert_eq!(solve(&[vec![1.0, 2.0], vec![2.0, 1.0]], &[1.0, 1.0]), None);
        assert_eq!(solve(&[vec![1.0, 1.0], vec![1.0, 1.0]], &[1.0, 1.0]), None);
    }
}
