//! Whether two photos show things in the same arrangement: moved, turned and nearer or farther, but not mirrored.

/// A place with the size of what lies there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// x, y.
    pub at: [f64; 2],
    /// Its size, in the same unit.
    pub size: f64,
}

/// A turn with scaling and a shift: (x, y) goes to (a x - b y + u, b x + a y + v).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Similarity {
    a: f64,
    b: f64,
    u: f64,
    v: f64,
}

impl Similarity {
    /// The one that takes `p` to `q` in both places.
    fn through(p: [[f64; 2]; 2], q: [[f64; 2]; 2]) -> Option<Self> {
        let (dx, dy) = (p[1][0] - p[0][0], p[1][1] - p[0][1]);
        let (ex, ey) = (q[1][0] - q[0][0], q[1][1] - q[0][1]);
        let square = dx * dx + dy * dy;
        (square > 0.0).then(|| {
            let (a, b) = ((ex * dx + ey * dy) / square, (ey * dx - ex * dy) / square);
            Self {
                a,
                b,
                u: q[0][0] - a * p[0][0] + b * p[0][1],
                v: q[0][1] - b * p[0][0] - a * p[0][1],
            }
        })
    }

    fn of(&self, p: [f64; 2]) -> [f64; 2] {
        [
            self.a * p[0] - self.b * p[1] + self.u,
            self.b * p[0] + self.a * p[1] + self.v,
        ]
    }

    fn scale(&self) -> f64 {
        self.a.hypot(self.b)
    }
}

/// How far from its expected place a thing may lie, in its own size.
const NEAR: f64 = 0.35;
/// Photos of one cup differ in scale by this factor at most.
const MOST_SCALE: f64 = 3.0;
/// A scale must fit the sizes of the things to this factor.
const SIZE_FITS: f64 = 1.3;
/// Pairs of the first photo from which arrangements are tried, farthest apart first.
const PAIRS_TRIED: usize = 60;
/// Fewest things, and least share of the photo with fewer of them, that must fit.
const FEWEST: usize = 3;
const LEAST_SHARE: f64 = 0.75;

/// Pairs of indices into two lists.
pub type Pairs = Vec<(usize, usize)>;

/// Pairs (index in `first`, index in `second`) of things in the same place of the arrangement; `None` where no one
/// arrangement fits most of them.
pub fn same_arrangement(first: &[Place], second: &[Place]) -> Option<Pairs> {
    let fewer = first.len().min(second.len());
    let needed = FEWEST.max((LEAST_SHARE * fewer as f64).ceil() as usize);
    if fewer < needed {
        return None;
    }
    let mut best: Option<(usize, f64, Pairs)> = None;
    for (i, j) in far_pairs(first) {
        for k in 0..second.len() {
            for l in (0..second.len()).filter(|l| *l != k) {
                let ends = [[first[i].at, first[j].at], [second[k].at, second[l].at]];
                let Some(way) = Similarity::through(ends[0], ends[1]) else {
                    continue;
                };
                let fits = |p: &Place, q: &Place| {
                    (1.0 / SIZE_FITS..SIZE_FITS).contains(&(q.size / (p.size * way.scale())))
                };
                if !fits(&first[i], &second[k]) || !fits(&first[j], &second[l]) || !sensible(&way) {
                    continue;
                }
                let (pairs, away) = inliers(&way, first, second);
                let better = best.as_ref().is_none_or(|(n, least, _)| {
                    pairs.len() > *n || (pairs.len() == *n && away < *least)
                });
                if better {
                    best = Some((pairs.len(), away, pairs));
                }
            }
        }
    }
    best.filter(|(n, ..)| *n >= needed).map(|(.., pairs)| pairs)
}

fn sensible(way: &Similarity) -> bool {
    (1.0 / MOST_SCALE..MOST_SCALE).contains(&way.scale())
}

/// Pairs of things, those farthest apart first.
fn far_pairs(places: &[Place]) -> Vec<(usize, usize)> {
    let apart = |&(i, j): &(usize, usize)| {
        (places[i].at[0] - places[j].at[0]).hypot(places[i].at[1] - places[j].at[1])
    };
    let mut pairs: Vec<_> = (0..places.len())
        .flat_map(|i| (i + 1..places.len()).map(move |j| (i, j)))
        .collect();
    pairs.sort_by(|p, q| apart(q).total_cmp(&apart(p)));
    pairs.truncate(PAIRS_TRIED);
    pairs
}

/// Things that lie where they are expected, each used once, nearest first; and how far off they lie in all.
fn inliers(way: &Similarity, first: &[Place], second: &[Place]) -> (Vec<(usize, usize)>, f64) {
    let mut near: Vec<(f64, usize, usize)> = Vec::new();
    for (i, p) in first.iter().enumerate() {
        let expected = way.of(p.at);
        for (k, q) in second.iter().enumerate() {
            let away = (q.at[0] - expected[0]).hypot(q.at[1] - expected[1]) / q.size.max(1e-9);
            if away < NEAR {
                near.push((away, i, k));
            }
        }
    }
    near.sort_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal));
    let (mut pairs, mut sum) = (Vec::new(), 0.0);
    for (away, i, k) in near {
        if pairs.iter().all(|&(a, b)| a != i && b != k) {
            pairs.push((i, k));
            sum += away;
        }
    }
    pairs.sort_unstable();
    (pairs, sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(points: &[[f64; 2]], size: f64) -> Vec<Place> {
        points.iter().map(|at| Place { at: *at, size }).collect()
    }

    const POINTS: [[f64; 2]; 5] = [
        [0.0, 0.0],
        [10.0, 1.0],
        [4.0, 8.0],
        [-3.0, 5.0],
        [7.0, -6.0],
    ];

    #[test]
    fn a_turned_nearer_cup_is_known_again() {
        let (s, c) = 40.0f64.to_radians().sin_cos();
        let moved: Vec<[f64; 2]> = POINTS
            .iter()
            .rev()
            .map(|[x, y]| [2.0 * (c * x - s * y) + 30.0, 2.0 * (s * x + c * y) - 5.0])
            .collect();
        let pairs =
            same_arrangement(&places(&POINTS, 2.0), &places(&moved, 4.0)).expect("the same");
        assert_eq!(pairs, [(0, 4), (1, 3), (2, 2), (3, 1), (4, 0)]);
    }

    #[test]
    fn a_mirrored_or_shuffled_cup_is_not() {
        let mirrored: Vec<[f64; 2]> = POINTS.iter().map(|[x, y]| [-x, *y]).collect();
        assert_eq!(
            same_arrangement(&places(&POINTS, 1.0), &places(&mirrored, 1.0)),
            None
        );
        assert_eq!(
            same_arrangement(&places(&POINTS[..2], 1.0), &places(&POINTS[..2], 1.0)),
            None
        );
    }
}
