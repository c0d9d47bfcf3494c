//! Small systems of linear equations and least squares.

/// Solves `a x = b` in place by elimination with row exchange; `None` where the system has no single solution.
pub(super) fn solve<const N: usize>(mut a: [[f64; N]; N], mut b: [f64; N]) -> Option<[f64; N]> {
    for k in 0..N {
        let best = (k..N).max_by(|p, q| a[*p][k].abs().total_cmp(&a[*q][k].abs()))?;
        if a[best][k].abs() < 1e-14 || !a[best][k].is_finite() {
            return None;
        }
        a.swap(k, best);
        b.swap(k, best);
        for i in k + 1..N {
            let share = a[i][k] / a[k][k];
            let pivot = a[k];
            a[i].iter_mut()
                .zip(pivot)
                .skip(k)
                .for_each(|(v, p)| *v -= share * p);
            b[i] -= share * b[k];
        }
    }
    for k in (0..N).rev() {
        let known: f64 = (k + 1..N).map(|j| a[k][j] * b[j]).sum();
        b[k] = (b[k] - known) / a[k][k];
    }
    Some(b)
}

/// Normal equations of a weighted least-squares fit of `N` unknowns.
#[derive(Debug, Clone)]
pub(super) struct Normal<const N: usize> {
    a: [[f64; N]; N],
    b: [f64; N],
}

impl<const N: usize> Normal<N> {
    /// No equations yet.
    pub fn new() -> Self {
        Self {
            a: [[0.0; N]; N],
            b: [0.0; N],
        }
    }

    /// Adds the equation `row . x = value` with this weight.
    pub fn add(&mut self, row: &[f64; N], value: f64, weight: f64) {
        for i in 0..N {
            let w = weight * row[i];
            self.b[i] += w * value;
            self.a[i].iter_mut().zip(row).for_each(|(a, r)| *a += w * r);
        }
    }

    /// The unknowns; `None` where the equations don't settle them.
    pub fn solved(mut self) -> Option<[f64; N]> {
        let most = (0..N).map(|i| self.a[i][i]).fold(0.0, f64::max);
        (0..N).for_each(|i| self.a[i][i] += 1e-9 * most);
        solve(self.a, self.b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_equations() {
        // By hand: x = 1, y = -2, z = 3.
        let a = [[0.0, 1.0, 1.0], [2.0, 1.0, 0.0], [1.0, 1.0, 1.0]];
        let x = solve(a, [1.0, 0.0, 2.0]).expect("one solution");
        for (got, expected) in x.iter().zip([1.0, -2.0, 3.0]) {
            assert!((got - expected).abs() < 1e-12, "{x:?}");
        }
        assert!(solve([[1.0, 2.0], [2.0, 4.0]], [1.0, 2.0]).is_none());
    }

    #[test]
    fn a_line_through_points() {
        let mut fit = Normal::<2>::new();
        for (x, y) in [(0.0, 1.0), (1.0, 3.0), (2.0, 5.0)] {
            fit.add(&[1.0, x], y, 0.5);
        }
        let [start, slope] = fit.solved().expect("two points are enough");
        assert!((start - 1.0).abs() < 1e-6 && (slope - 2.0).abs() < 1e-6);
    }
}
