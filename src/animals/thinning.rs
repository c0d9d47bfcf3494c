//! The skeleton of a blob as a graph of lines, and the paths through it.

use super::blobs::Mask;

/// The skeleton graph: nodes are line ends and junctions, links are the pixel chains between them.
#[derive(Debug, Clone, Default)]
pub struct Skeleton {
    /// Node positions.
    pub nodes: Vec<[f32; 2]>,
    /// Links between nodes.
    pub links: Vec<Link>,
}

/// A pixel chain between two nodes.
#[derive(Debug, Clone)]
pub struct Link {
    /// Node at the start of `points`.
    pub from: usize,
    /// Node at the end of `points`.
    pub to: usize,
    /// Pixel chain, both nodes included.
    pub points: Vec<[f32; 2]>,
    /// Length along the chain in pixels.
    pub length: f32,
}

const AROUND: [(i32, i32); 8] = [
    (0, -1),
    (1, -1),
    (1, 0),
    (1, 1),
    (0, 1),
    (-1, 1),
    (-1, 0),
    (-1, -1),
];

/// The mask thinned to lines of one pixel (two-subiteration parallel thinning, [ZhangSuen1984]).
pub fn thin(mask: &Mask) -> Mask {
    // With a border of empty pixels, so that every pixel has all its neighbours.
    let wide = mask.width + 2;
    let mut bits = vec![0u8; wide * (mask.height + 2)];
    let rows = bits.chunks_exact_mut(wide).skip(1);
    for (row, own) in rows.zip(mask.bits.chunks_exact(mask.width)) {
        row[1..=mask.width].copy_from_slice(own);
    }
    let removable = [0, 1].map(removable);
    let mut live: Vec<usize> = (0..bits.len()).filter(|&i| bits[i] > 0).collect();
    let mut gone: Vec<usize> = Vec::new();
    loop {
        let before = live.len();
        for removable in &removable {
            gone.clear();
            let around = |i: &usize| usize::from(surroundings(&bits, wide, *i));
            gone.extend(live.iter().filter(|i| removable[around(i)]));
            for &i in &gone {
                bits[i] = 0;
            }
            live.retain(|&i| bits[i] > 0);
        }
        if live.len() == before {
            break;
        }
    }
    let rows = bits.chunks_exact(wide).skip(1).take(mask.height);
    Mask {
        bits: rows.flat_map(|row| &row[1..=mask.width]).copied().collect(),
        ..*mask
    }
}

/// Which of the eight neighbours of place `i` are set, bit by bit in the order of [`AROUND`].
fn surroundings(bits: &[u8], wide: usize, i: usize) -> u8 {
    let [above, here, below] = [i - wide, i, i + wide].map(|at| &bits[at - 1..=at + 1]);
    above[1]
        | above[2] << 1
        | here[2] << 2
        | below[2] << 3
        | below[1] << 4
        | below[0] << 5
        | here[0] << 6
        | above[0] << 7
}

/// For each of the [`surroundings`] whether a pass takes the pixel away.
fn removable(pass: usize) -> [bool; 256] {
    std::array::from_fn(|around| {
        let p: [bool; 8] = std::array::from_fn(|k| around >> k & 1 > 0);
        let count = p.iter().filter(|b| **b).count();
        let turns = (0..8).filter(|&k| !p[k] && p[(k + 1) % 8]).count();
        let (north, east, south, west) = (p[0], p[2], p[4], p[6]);
        let sides = if pass == 0 {
            !(east && south && (north || west))
        } else {
            !(north && west && (east || south))
        };
        (2..=6).contains(&count) && turns == 1 && sides
    })
}

fn ring(mask: &Mask, i: usize) -> [bool; 8] {
    let (x, y) = ((i % mask.width) as i32, (i / mask.width) as i32);
    AROUND.map(|(dx, dy)| mask.get(x + dx, y + dy))
}

/// The graph of a thinned mask.
pub fn skeleton(thinned: &Mask) -> Skeleton {
    let w = thinned.width;
    let set: Vec<usize> = (0..thinned.bits.len())
        .filter(|&i| thinned.bits[i] > 0)
        .collect();
    let branches = |i: usize| {
        let p = ring(thinned, i);
        (0..8).filter(|&k| !p[k] && p[(k + 1) % 8]).count()
    };
    let mut node_of = vec![usize::MAX; thinned.bits.len()];
    let mut out = Skeleton::default();
    for &i in &set {
        if branches(i) != 2 {
            group_node(thinned, i, &mut node_of, &mut out, &branches);
        }
    }
    if out.nodes.is_empty() && !set.is_empty() {
        node_of[set[0]] = 0; // a closed ring has no ends: cut it anywhere
        out.nodes.push([(set[0] % w) as f32, (set[0] / w) as f32]);
    }
    trace_links(thinned, &node_of, &mut out);
    out
}

/// Neighbouring junction pixels become one node.
fn group_node(
    thinned: &Mask,
    start: usize,
    node_of: &mut [usize],
    out: &mut Skeleton,
    branches: &dyn Fn(usize) -> usize,
) {
    if node_of[start] != usize::MAX {
        return;
    }
    let w = thinned.width;
    let (id, mut pixels) = (out.nodes.len(), vec![start]);
    node_of[start] = id;
    let mut next = 0;
    while next < pixels.len() {
        let i = pixels[next];
        next += 1;
        for j in neighbours(thinned, i) {
            if node_of[j] == usize::MAX && branches(j) > 2 && branches(start) > 2 {
                node_of[j] = id;
                pixels.push(j);
            }
        }
    }
    let n = pixels.len() as f32;
    let sum = pixels.iter().fold([0.0, 0.0], |s, &i| {
        [s[0] + (i % w) as f32, s[1] + (i / w) as f32]
    });
    out.nodes.push([sum[0] / n, sum[1] / n]);
}

fn neighbours(mask: &Mask, i: usize) -> impl Iterator<Item = usize> + '_ {
    let (x, y) = ((i % mask.width) as i32, (i / mask.width) as i32);
    // Straight neighbours first, so that chains do not jump over corners.
    [0usize, 2, 4, 6, 1, 3, 5, 7]
        .into_iter()
        .filter_map(move |k| {
            let (dx, dy) = AROUND[k];
            mask.get(x + dx, y + dy)
                .then(|| (y + dy) as usize * mask.width + (x + dx) as usize)
        })
}

fn trace_links(thinned: &Mask, node_of: &[usize], out: &mut Skeleton) {
    let mut used = vec![false; thinned.bits.len()];
    let starts: Vec<usize> = (0..node_of.len())
        .filter(|&i| node_of[i] != usize::MAX)
        .collect();
    for &start in &starts {
        for first in neighbours(thinned, start).collect::<Vec<_>>() {
            if node_of[first] != usize::MAX || used[first] {
                continue;
            }
            let (mut chain, mut here) = (vec![first], first);
            used[first] = true;
            let mut end = None;
            while end.is_none() {
                let step = neighbours(thinned, here).find(|&j| {
                    if node_of[j] != usize::MAX {
                        j != start || chain.len() > 2
                    } else {
                        !used[j]
                    }
                });
                match step {
                    Some(j) if node_of[j] != usize::MAX => end = Some(node_of[j]),
                    Some(j) => {
                        used[j] = true;
                        chain.push(j);
                        here = j;
                    }
                    None => break,
                }
            }
            push_link(thinned.width, node_of[start], end, &chain, out);
        }
    }
}

fn push_link(width: usize, from: usize, to: Option<usize>, chain: &[usize], out: &mut Skeleton) {
    let mut points = vec![out.nodes[from]];
    points.extend(
        chain
            .iter()
            .map(|&i| [(i % width) as f32, (i / width) as f32]),
    );
    let to = match to {
        Some(t) => t,
        None => {
            out.nodes.push(*points.last().unwrap_or(&out.nodes[from]));
            out.nodes.len() - 1
        }
    };
    points.push(out.nodes[to]);
    let length = path_length(&points);
    out.links.push(Link {
        from,
        to,
        points,
        length,
    });
}

/// Length of a chain of points.
pub fn path_length(points: &[[f32; 2]]) -> f32 {
    points
        .windows(2)
        .map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1]))
        .sum()
}

impl Skeleton {
    /// Count of links at each node.
    pub fn degrees(&self) -> Vec<usize> {
        let mut d = vec![0; self.nodes.len()];
        for l in &self.links {
            d[l.from] += 1;
            d[l.to] += 1;
        }
        d
    }

    /// The graph without dead-end links shorter than `least`, shortest first, joined through where a junction dissolves.
    pub fn pruned(mut self, least: f32) -> Skeleton {
        loop {
            let degrees = self.degrees();
            let spur = (0..self.links.len())
                .filter(|&k| {
                    let l = &self.links[k];
                    let (a, b) = (degrees[l.from], degrees[l.to]);
                    l.length < least && ((a == 1) != (b == 1)) && a.max(b) > 2
                })
                .min_by(|&a, &b| self.links[a].length.total_cmp(&self.links[b].length));
            match spur {
                Some(k) => {
                    self.links.remove(k);
                    self.dissolve();
                }
                None => return self,
            }
        }
    }

    /// Two links that meet alone at a node become one.
    fn dissolve(&mut self) {
        while let Some(node) = {
            let degrees = self.degrees();
            (0..self.nodes.len()).find(|&n| {
                degrees[n] == 2 && self.links.iter().all(|l| !(l.from == n && l.to == n))
            })
        } {
            let at: Vec<usize> = (0..self.links.len())
                .filter(|&k| self.links[k].from == node || self.links[k].to == node)
                .collect();
            let second = self.links.remove(at[1]).facing_from(node);
            let mut first = self.links.remove(at[0]).facing_to(node);
            first.points.extend_from_slice(&second.points[1..]);
            first.to = second.to;
            first.length += second.length;
            self.links.push(first);
        }
    }

    /// Simple paths between two nodes as chains of points, at most `most` from each node, none longer than `longest` pixels.
    pub fn paths(&self, longest: f32, most: usize) -> Vec<Vec<[f32; 2]>> {
        let mut out = Vec::new();
        for start in 0..self.nodes.len() {
            let mut found = Vec::new();
            self.extend_paths(
                start,
                start,
                &mut vec![start],
                Vec::new(),
                0.0,
                longest,
                most,
                &mut found,
            );
            out.extend(found);
        }
        out
    }

    #[allow(clippy::too_many_arguments)]
    fn extend_paths(
        &self,
        start: usize,
        here: usize,
        visited: &mut Vec<usize>,
        points: Vec<[f32; 2]>,
        length: f32,
        longest: f32,
        most: usize,
        out: &mut Vec<Vec<[f32; 2]>>,
    ) {
        for link in &self.links {
            if out.len() >= most
                || (link.from != here && link.to != here)
                || length + link.length > longest
            {
                continue;
            }
            let forward = link.clone().facing_from(here);
            let next = forward.to;
            if visited.contains(&next) {
                continue;
            }
            let mut longer = points.clone();
            longer.extend_from_slice(&forward.points[usize::from(!points.is_empty())..]);
            if start < next {
                out.push(longer.clone());
            }
            visited.push(next);
            self.extend_paths(
                start,
                next,
                visited,
                longer,
                length + link.length,
                longest,
                most,
                out,
            );
            visited.pop();
        }
    }
}

impl Link {
    fn reversed(mut self) -> Link {
        std::mem::swap(&mut self.from, &mut self.to);
        self.points.reverse();
        self
    }

    fn facing_from(self, node: usize) -> Link {
        if self.from == node {
            self
        } else {
            self.reversed()
        }
    }

    fn facing_to(self, node: usize) -> Link {
        if self.to == node {
            self
        } else {
            self.reversed()
        }
    }
}
