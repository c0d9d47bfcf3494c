//! Border following in binary pictures.

use crate::animals::runs::Run;

/// Which side of the set pixels a border is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Around set pixels.
    Outer,
    /// Around a hole in them.
    Hole,
}

/// A closed chain of set pixels that touch unset ones.
#[derive(Debug, Clone, PartialEq)]
pub struct Border {
    /// Outer edge or hole.
    pub side: Side,
    /// The pixels (x, y) in order around; a pixel that is passed twice stands twice.
    pub points: Vec<[i32; 2]>,
}

/// Steps to the eight neighbours, clockwise (y down) from the left one.
const AROUND: [(i32, i32); 8] = [
    (-1, 0),
    (-1, -1),
    (0, -1),
    (1, -1),
    (1, 0),
    (1, 1),
    (0, 1),
    (-1, 1),
];
const LEFT: usize = 0;
const RIGHT: usize = 4;

/// All borders of a `width` x `height` picture given by its runs in reading order, in reading order of where they are met first.
///
/// # Source
/// [SuzukiAbe1985] algorithm 1, without its tree of borders.
pub fn borders(width: usize, height: usize, runs: &[Run]) -> Vec<Border> {
    let mut sheet = Sheet::new(width, height, runs);
    let mut out = Vec::new();
    for run in runs {
        let first = sheet.place(run.from, run.y);
        let last = sheet.place(run.to - 1, run.y);
        // A border can be met first only where a run begins or ends.
        if sheet.marks[first] == NEW {
            out.push(Border {
                side: Side::Outer,
                points: sheet.follow(first, LEFT),
            });
            if first == last {
                continue;
            }
        }
        if sheet.marks[last] > 0 {
            out.push(Border {
                side: Side::Hole,
                points: sheet.follow(last, RIGHT),
            });
        }
    }
    out
}

/// Marks of set pixels: not yet on a border, on one, on one whose right neighbour lies beyond it.
const NEW: i8 = 1;
const PASSED: i8 = 2;
const PASSED_RIGHT: i8 = -1;

/// The picture with a margin of one unset pixel.
struct Sheet {
    stride: usize,
    marks: Vec<i8>,
}

impl Sheet {
    fn new(width: usize, height: usize, runs: &[Run]) -> Self {
        let mut sheet = Self {
            stride: width + 2,
            marks: vec![0; (width + 2) * (height + 2)],
        };
        for run in runs {
            let first = sheet.place(run.from, run.y);
            sheet.marks[first..first + run.count()].fill(NEW);
        }
        sheet
    }

    fn place(&self, x: usize, y: usize) -> usize {
        (y + 1) * self.stride + x + 1
    }

    fn point(&self, place: usize) -> [i32; 2] {
        [
            (place % self.stride) as i32 - 1,
            (place / self.stride) as i32 - 1,
        ]
    }

    /// The neighbour in direction `k` of [`AROUND`].
    fn neighbour(&self, place: usize, k: usize) -> usize {
        let (dx, dy) = AROUND[k % 8];
        (place as isize + dy as isize * self.stride as isize + dx as isize) as usize
    }

    fn is_set(&self, place: usize) -> bool {
        self.marks[place] != 0
    }

    /// Follows the border that the unset pixel in direction `outside` of `start` belongs to.
    fn follow(&mut self, start: usize, outside: usize) -> Vec<[i32; 2]> {
        let first = (outside..outside + 8).find(|&k| self.is_set(self.neighbour(start, k)));
        let Some(first) = first else {
            self.marks[start] = PASSED_RIGHT;
            return vec![self.point(start)];
        };
        let end = self.neighbour(start, first);
        let (mut here, mut from) = (start, first % 8);
        let mut points = Vec::new();
        loop {
            points.push(self.point(here));
            // Counter-clockwise from the pixel come from; that one itself is the last resort.
            let turn = (1..=8)
                .find(|t| self.is_set(self.neighbour(here, from + 8 - t)))
                .unwrap_or(8);
            let right_is_beyond = (1..turn).any(|t| (from + 8 - t) % 8 == RIGHT);
            if right_is_beyond {
                self.marks[here] = PASSED_RIGHT;
            } else if self.marks[here] == NEW {
                self.marks[here] = PASSED;
            }
            let to = (from + 8 - turn) % 8;
            let next = self.neighbour(here, to);
            if next == start && here == end {
                return points;
            }
            (here, from) = (next, (to + 4) % 8);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::animals::runs::runs;

    fn of(rows: &[&str]) -> Vec<Border> {
        let bits: Vec<u8> = rows.iter().flat_map(|r| r.bytes()).collect();
        borders(
            rows[0].len(),
            rows.len(),
            &runs(&bits, rows[0].len(), |b| b == b'#'),
        )
    }

    #[test]
    fn a_ring_has_an_outer_border_and_a_hole() {
        let found = of(&["###", "#.#", "###"]);
        let sides: Vec<(Side, usize)> = found.iter().map(|b| (b.side, b.points.len())).collect();
        assert_eq!(sides, [(Side::Outer, 8), (Side::Hole, 4)]);
        assert_eq!(found[0].points[0], [0, 0]);
        assert!(!found[1].points.contains(&[0, 0]));
    }

    #[test]
    fn lone_pixels_and_lines_are_closed_chains() {
        assert_eq!(
            of(&["...", ".#.", "..."]),
            [Border {
                side: Side::Outer,
                points: vec![[1, 1]]
            }]
        );
        let line = of(&["###"]);
        assert_eq!(line.len(), 1);
        assert_eq!(line[0].points, [[0, 0], [1, 0], [2, 0], [1, 0]]);
    }

    #[test]
    fn two_parts_have_a_border_each() {
        let found = of(&["##..", "##..", "...#"]);
        assert_eq!(
            found.iter().map(|b| b.points.len()).collect::<Vec<_>>(),
            [4, 1]
        );
    }
}
