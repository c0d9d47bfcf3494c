//! Nodes and weights for integrals over a range.

/// Rounds of Newton's method for a node; it settles within five.
const ROUNDS: usize = 50;

/// `n` nodes and weights of Gauss and Legendre on -1..1, ascending: the integral of f is the sum of weight times f(node), exact
/// for polynomials up to degree 2 n - 1.
///
/// # Source
/// Any handbook of numerical analysis; the starting guess of each node is Tricomi's.
pub fn gauss_legendre(n: usize) -> Vec<(f64, f64)> {
    let mut nodes: Vec<(f64, f64)> = (0..n).map(|i| node(i, n)).collect();
    nodes.reverse();
    nodes
}

fn node(i: usize, n: usize) -> (f64, f64) {
    let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
    let mut slope = 1.0;
    for _ in 0..ROUNDS {
        let (value, derivative) = legendre(x, n);
        slope = derivative;
        let step = value / derivative;
        x -= step;
        if step.abs() < 1.0e-15 {
            break;
        }
    }
    (x, 2.0 / ((1.0 - x * x) * slope * slope))
}

/// Legendre's polynomial of degree `n` and its derivative.
fn legendre(x: f64, n: usize) -> (f64, f64) {
    let (mut before, mut here) = (1.0, x);
    if n == 0 {
        return (1.0, 0.0);
    }
    for k in 2..=n {
        let k = k as f64;
        let next = ((2.0 * k - 1.0) * x * here - (k - 1.0) * before) / k;
        (before, here) = (here, next);
    }
    (here, n as f64 * (x * here - before) / (x * x - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_and_three_nodes_as_printed_in_any_handbook() {
        let two = gauss_legendre(2);
        assert!((two[1].0 - 1.0 / 3.0f64.sqrt()).abs() < 1e-14 && (two[0].1 - 1.0).abs() < 1e-14);
        let three = gauss_legendre(3);
        assert!((three[2].0 - 0.6f64.sqrt()).abs() < 1e-14);
        assert!((three[1].1 - 8.0 / 9.0).abs() < 1e-14 && (three[0].1 - 5.0 / 9.0).abs() < 1e-14);
    }

    #[test]
    fn polynomials_are_exact() {
        let sum: f64 = gauss_legendre(20).iter().map(|(x, w)| w * x.powi(38)).sum();
        assert!((sum - 2.0 / 39.0).abs() < 1e-13);
    }
}
