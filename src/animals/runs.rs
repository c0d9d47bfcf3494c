//! Binary pictures as stretches of set pixels, and the connected groups of such stretches.

/// Set pixels side by side in one row: columns `from..to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    /// Row.
    pub y: usize,
    /// First column.
    pub from: usize,
    /// Column after the last.
    pub to: usize,
}

impl Run {
    /// Count of pixels.
    pub fn count(&self) -> usize {
        self.to - self.from
    }
}

/// The runs of the values for which `set` holds, in reading order; rows are `width` long.
pub fn runs<T: Copy>(values: &[T], width: usize, set: impl Fn(T) -> bool) -> Vec<Run> {
    let mut out = Vec::new();
    for (y, row) in values.chunks_exact(width.max(1)).enumerate() {
        let mut at = next(row, 0, &set);
        while at < width {
            let to = next(row, at, |v| !set(v));
            out.push(Run { y, from: at, to });
            at = next(row, to, &set);
        }
    }
    out
}

/// Values looked at together: most of a picture is alike.
const STRIDE: usize = 32;

/// Column of the first value from `at` on for which `is` holds, the row's length where there is none.
fn next<T: Copy>(row: &[T], mut at: usize, is: impl Fn(T) -> bool) -> usize {
    while let Some(chunk) = row.get(at..at + STRIDE) {
        if chunk.iter().fold(false, |any, v| any | is(*v)) {
            break;
        }
        at += STRIDE;
    }
    row[at..]
        .iter()
        .position(|v| is(*v))
        .map_or(row.len(), |k| at + k)
}

/// Connected groups of runs, in reading order of their first run, the runs of each in reading order.
/// `diagonal` = pixels that touch at a corner are connected too.
pub fn groups(runs: &[Run], diagonal: bool) -> Vec<Vec<Run>> {
    let reach = usize::from(diagonal);
    let mut parent: Vec<usize> = (0..runs.len()).collect();
    let mut above = 0;
    for (i, run) in runs.iter().enumerate() {
        while above < i
            && (runs[above].y + 1 < run.y
                || (runs[above].y < run.y && runs[above].to + reach <= run.from))
        {
            above += 1;
        }
        let touching =
            (above..i).take_while(|&k| runs[k].y + 1 == run.y && runs[k].from < run.to + reach);
        for k in touching {
            let (p, q) = (root(&mut parent, k), root(&mut parent, i));
            parent[p.max(q)] = p.min(q);
        }
    }
    let mut number = vec![usize::MAX; runs.len()];
    let mut out: Vec<Vec<Run>> = Vec::new();
    for (i, run) in runs.iter().enumerate() {
        let first = root(&mut parent, i);
        if number[first] == usize::MAX {
            number[first] = out.len();
            out.push(Vec::new());
        }
        out[number[first]].push(*run);
    }
    out
}

fn root(parent: &mut [usize], mut i: usize) -> usize {
    while parent[i] != i {
        parent[i] = parent[parent[i]];
        i = parent[i];
    }
    i
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(rows: &[&str], diagonal: bool) -> Vec<usize> {
        let bits: Vec<u8> = rows.iter().flat_map(|r| r.bytes()).collect();
        let found = groups(&runs(&bits, rows[0].len(), |b| b == b'#'), diagonal);
        found
            .iter()
            .map(|g| g.iter().map(Run::count).sum())
            .collect()
    }

    #[test]
    fn corners_connect_only_where_asked() {
        let rows = ["##..#", "..#..", "#...#", "#.#.#"];
        assert_eq!(parts(&rows, true), [3, 1, 2, 2, 1]);
        assert_eq!(parts(&rows, false), [2, 1, 1, 2, 2, 1]);
    }

    #[test]
    fn arms_that_meet_below_are_one_group() {
        assert_eq!(parts(&["#.#.#", "#.###", "###.."], false), [10]);
    }

    #[test]
    fn long_rows_are_cut_at_every_change() {
        let mut row = vec![0u8; 100];
        row[40..75].fill(1);
        row[99] = 1;
        let found = runs(&row, 100, |b| b > 0);
        assert_eq!(
            found,
            [
                Run {
                    y: 0,
                    from: 40,
                    to: 75
                },
                Run {
                    y: 0,
                    from: 99,
                    to: 100
                }
            ]
        );
    }
}
