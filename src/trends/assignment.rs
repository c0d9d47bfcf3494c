//! Pairs things of two lists so that the cost of all pairs together is least.

/// For each row the column it is paired with, so that the sum of costs is least; a row of a taller table may stay alone.
///
/// `costs` has a row for each thing of the first list, all of one length; costs are finite.
///
/// # Source
/// [Kuhn1955] by way of shortest augmenting paths with potentials [JonkerVolgenant1987].
pub fn cheapest_pairs(costs: &[Vec<f64>]) -> Vec<Option<usize>> {
    let (n, m) = (costs.len(), costs.first().map_or(0, Vec::len));
    if n > m {
        let turned: Vec<Vec<f64>> = (0..m)
            .map(|j| costs.iter().map(|row| row[j]).collect())
            .collect();
        let mut out = vec![None; n];
        for (j, i) in cheapest_pairs(&turned).into_iter().enumerate() {
            if let Some(i) = i {
                out[i] = Some(j);
            }
        }
        return out;
    }
    // Row 0 and column 0 stand for nothing, so that a column's owner 0 means that it is free.
    let mut owner = vec![0usize; m + 1];
    let (mut of_row, mut of_column) = (vec![0.0; n + 1], vec![0.0; m + 1]);
    for row in 1..=n {
        owner[0] = row;
        let path = shortest_path(costs, &owner, &mut of_row, &mut of_column);
        let mut column = path.end;
        while column != 0 {
            let before = path.before[column];
            owner[column] = owner[before];
            column = before;
        }
    }
    let mut out = vec![None; n];
    for column in 1..=m {
        if owner[column] > 0 {
            out[owner[column] - 1] = Some(column - 1);
        }
    }
    out
}

struct Path {
    end: usize,
    before: Vec<usize>,
}

/// The cheapest way from the new row to a free column; potentials are brought along.
fn shortest_path(
    costs: &[Vec<f64>],
    owner: &[usize],
    of_row: &mut [f64],
    of_column: &mut [f64],
) -> Path {
    let m = owner.len() - 1;
    let (mut least, mut before, mut done) = (
        vec![f64::INFINITY; m + 1],
        vec![0; m + 1],
        vec![false; m + 1],
    );
    let mut column = 0;
    loop {
        done[column] = true;
        let row = owner[column];
        let (mut step, mut next) = (f64::INFINITY, 0);
        for j in (1..=m).filter(|j| !done[*j]) {
            let reduced = costs[row - 1][j - 1] - of_row[row] - of_column[j];
            if reduced < least[j] {
                (least[j], before[j]) = (reduced, column);
            }
            if least[j] < step {
                (step, next) = (least[j], j);
            }
        }
        for j in 0..=m {
            if done[j] {
                of_row[owner[j]] += step;
                of_column[j] -= step;
            } else {
                least[j] -= step;
            }
        }
        column = next;
        if owner[column] == 0 {
            return Path {
                end: column,
                before,
            };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All ways of pairing, tried one by one, for tables up to 5 by 6.
    fn by_trial(costs: &[Vec<f64>], used: &mut Vec<usize>) -> f64 {
        let row = used.len();
        if row == costs.len() {
            return 0.0;
        }
        let mut best = f64::INFINITY;
        for j in 0..costs[0].len() {
            if !used.contains(&j) {
                used.push(j);
                best = best.min(costs[row][j] + by_trial(costs, used));
                used.pop();
            }
        }
        best
    }

    #[test]
    fn as_cheap_as_trying_all() {
        let mut state = 7u64;
        for case in 0..200 {
            let (n, m) = (1 + case % 5, 1 + case % 5 + case % 2);
            let costs: Vec<Vec<f64>> = (0..n)
                .map(|_| {
                    (0..m)
                        .map(|_| {
                            state = state
                                .wrapping_mul(6_364_136_223_846_793_005)
                                .wrapping_add(1);
                            (state >> 40) as f64 % 50.0
                        })
                        .collect()
                })
                .collect();
            let pairs = cheapest_pairs(&costs);
            let sum: f64 = pairs
                .iter()
                .enumerate()
                .map(|(i, j)| costs[i][j.expect("paired")])
                .sum();
            assert_eq!(sum, by_trial(&costs, &mut Vec::new()), "{costs:?}");
        }
    }

    #[test]
    fn rows_left_over_stay_alone() {
        assert_eq!(
            cheapest_pairs(&[vec![5.0], vec![1.0], vec![3.0]]),
            [None, Some(0), None]
        );
        assert!(cheapest_pairs(&[]).is_empty());
    }
}
