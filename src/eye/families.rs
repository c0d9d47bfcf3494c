//! Families of colour that live in the room, and hue gates that would keep lines apart.
//!
//! k-means on CIELAB a*, b* and half of L* (paleness is no family of its own), begun from the farthest points, so that
//! nothing is drawn by chance: the same animals in any order give the same families.

use crate::colour::hue_deg as hue;
use crate::measures::HueGate;

/// Most families that are looked for (house rule: more lines than that are rarely kept in one room).
const MOST: usize = 12;
/// Least distance of two families, in CIELAB units, below which no eye would part them across a room (house rule).
const LEAST_APART: f64 = 14.0;
/// A family holds two in a thousand of the animals at least, and five: a new line is small beside old ones.
const LEAST_SHARE: f64 = 0.002;
const LEAST_ANIMALS: usize = 5;
/// An animal fits no family beyond so many of its family's spreads, and so many units.
const STRANGE_SPREADS: f64 = 4.0;
const STRANGE_UNITS: f64 = 12.0;
/// Share of a line's animals that its proposed gate holds, and what is added on either side (house rules).
const GATE_SHARE: f64 = 0.96;
const GATE_ROOM_DEG: f64 = 4.0;
/// Share of a line inside another's gate from which it is told.
const LEAST_SHARED: f64 = 0.01;
/// Fewest animals from which a gate is proposed.
const FEWEST_FOR_GATE: usize = 20;
/// Rounds after which the search ends; a dozen are usual.
const MOST_ROUNDS: usize = 200;

/// An animal's colour.
#[derive(Debug, Clone, PartialEq)]
pub struct Coloured {
    /// Scoop and number.
    pub animal: (i64, u32),
    /// Code of its line.
    pub line: String,
    /// CIELAB relative to the cup's floor.
    pub lab: [f64; 3],
    /// True where it is pale enough that its hue is not judged.
    pub is_pale: bool,
}

/// A family.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Mean CIELAB.
    pub lab: [f64; 3],
    /// Hue of the mean, degrees.
    pub hue_deg: f64,
    /// Spread about the mean, CIELAB units.
    pub spread: f64,
    /// Animals in it.
    pub animals: usize,
    /// The same by line.
    pub lines: Vec<(String, usize)>,
}

/// The hues of a line.
#[derive(Debug, Clone, PartialEq)]
pub struct LineHues {
    /// Code of the line.
    pub line: String,
    /// Animals whose hue can be judged.
    pub animals: usize,
    /// The gate that would hold nearly all of them; `None` with too few.
    pub gate: Option<HueGate>,
}

/// Two lines that share hues.
#[derive(Debug, Clone, PartialEq)]
pub struct Overlap {
    /// The one line.
    pub first: String,
    /// The other.
    pub second: String,
    /// Share of the first line's animals inside the second's gate.
    pub first_in_second: f64,
    /// Share of the second line's animals inside the first's gate.
    pub second_in_first: f64,
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Families {
    /// Families, most animals first.
    pub families: Vec<Family>,
    /// Hues line by line.
    pub lines: Vec<LineHues>,
    /// Lines that share hues.
    pub overlaps: Vec<Overlap>,
    /// Animals that fit no family.
    pub strange: Vec<(i64, u32)>,
}

/// Families among `animals`; none below twenty animals.
pub fn families(animals: &[Coloured]) -> Families {
    let mut animals: Vec<&Coloured> = animals.iter().collect();
    animals.sort_by(|a, b| (a.animal, &a.line).cmp(&(b.animal, &b.line)));
    let points: Vec<[f64; 3]> = animals.iter().map(|a| point(a.lab)).collect();
    let clusters = if animals.len() < FEWEST_FOR_GATE {
        Vec::new()
    } else {
        clusters(&points)
    };
    let lines = line_hues(&animals);
    let mut found: Vec<Family> = clusters
        .iter()
        .map(|members| family(members, &animals, &points))
        .collect();
    found.sort_by_key(|family| std::cmp::Reverse(family.animals));
    Families {
        strange: strange(&clusters, &animals, &points),
        overlaps: overlaps(&animals, &lines),
        families: found,
        lines,
    }
}

fn point(lab: [f64; 3]) -> [f64; 3] {
    [0.5 * lab[0], lab[1], lab[2]]
}

fn squared(a: [f64; 3], b: [f64; 3]) -> f64 {
    (0..3).map(|i| (a[i] - b[i]) * (a[i] - b[i])).sum()
}

fn mean(points: &[[f64; 3]], members: &[usize]) -> [f64; 3] {
    let n = members.len().max(1) as f64;
    std::array::from_fn(|i| members.iter().map(|m| points[*m][i]).sum::<f64>() / n)
}

/// Root mean square distance to the mean.
fn spread(points: &[[f64; 3]], members: &[usize]) -> f64 {
    let centre = mean(points, members);
    let sum: f64 = members.iter().map(|m| squared(points[*m], centre)).sum();
    (sum / members.len().max(1) as f64).sqrt()
}

/// The most clusters that all lie apart and are all large enough; members in rising order.
fn clusters(points: &[[f64; 3]]) -> Vec<Vec<usize>> {
    let mut best = vec![(0..points.len()).collect::<Vec<usize>>()];
    let least = LEAST_ANIMALS.max((LEAST_SHARE * points.len() as f64).ceil() as usize);
    for k in 2..=MOST {
        let tried: Vec<Vec<usize>> = k_means(points, k)
            .into_iter()
            .filter(|members| members.len() >= least)
            .collect();
        let centres: Vec<[f64; 3]> = tried.iter().map(|members| mean(points, members)).collect();
        let spreads: Vec<f64> = tried
            .iter()
            .map(|members| spread(points, members))
            .collect();
        let apart = (0..tried.len()).all(|i| {
            (0..i).all(|j| {
                // Halves of one round family lie 1.6 spreads of the halves apart at most along their own axis; families
                // proper lie farther.
                let far = LEAST_APART.max(1.8 * (spreads[i] + spreads[j]));
                squared(centres[i], centres[j]) >= far * far
            })
        });
        if apart && tried.len() > best.len() {
            best = tried;
        }
    }
    best
}

/// Lloyd's rounds from the farthest points [Lloyd1982]; the first is the one farthest from the mean of all.
fn k_means(points: &[[f64; 3]], k: usize) -> Vec<Vec<usize>> {
    let all: Vec<usize> = (0..points.len()).collect();
    let mut centres: Vec<[f64; 3]> = Vec::new();
    let middle = [mean(points, &all)];
    while centres.len() < k {
        let from: &[[f64; 3]] = if centres.is_empty() {
            &middle
        } else {
            &centres
        };
        let away = |p: &[f64; 3]| {
            from.iter()
                .map(|c| squared(*p, *c))
                .fold(f64::INFINITY, f64::min)
        };
        let farthest = points
            .iter()
            .copied()
            .reduce(|a, b| if away(&b) > away(&a) { b } else { a });
        centres.extend(farthest);
        if farthest.is_none() {
            return Vec::new();
        }
    }
    let mut members = assign(points, &centres);
    for _ in 0..MOST_ROUNDS {
        for (centre, members) in centres.iter_mut().zip(&members) {
            if !members.is_empty() {
                *centre = mean(points, members);
            }
        }
        let next = assign(points, &centres);
        if next == members {
            break;
        }
        members = next;
    }
    members
}

fn assign(points: &[[f64; 3]], centres: &[[f64; 3]]) -> Vec<Vec<usize>> {
    let mut members = vec![Vec::new(); centres.len()];
    for (i, p) in points.iter().enumerate() {
        let nearest = (0..centres.len()).reduce(|a, b| {
            if squared(*p, centres[b]) < squared(*p, centres[a]) {
                b
            } else {
                a
            }
        });
        if let Some(nearest) = nearest {
            members[nearest].push(i);
        }
    }
    members
}

fn family(members: &[usize], animals: &[&Coloured], points: &[[f64; 3]]) -> Family {
    let n = members.len().max(1) as f64;
    let lab: [f64; 3] =
        std::array::from_fn(|i| members.iter().map(|m| animals[*m].lab[i]).sum::<f64>() / n);
    let mut lines = std::collections::BTreeMap::new();
    members
        .iter()
        .for_each(|m| *lines.entry(animals[*m].line.clone()).or_insert(0) += 1);
    Family {
        lab,
        hue_deg: hue(lab),
        spread: spread(points, members),
        animals: members.len(),
        lines: lines.into_iter().collect(),
    }
}

fn strange(clusters: &[Vec<usize>], animals: &[&Coloured], points: &[[f64; 3]]) -> Vec<(i64, u32)> {
    if clusters.is_empty() {
        return Vec::new();
    }
    let known: Vec<([f64; 3], f64)> = clusters
        .iter()
        .map(|m| (mean(points, m), spread(points, m)))
        .collect();
    let fits = |p: &[f64; 3]| {
        known.iter().any(|(centre, spread)| {
            squared(*p, *centre).sqrt() <= STRANGE_UNITS.max(STRANGE_SPREADS * spread)
        })
    };
    (0..points.len())
        .filter(|i| !fits(&points[*i]))
        .map(|i| animals[i].animal)
        .collect()
}

fn line_hues(animals: &[&Coloured]) -> Vec<LineHues> {
    let mut lines: std::collections::BTreeMap<&str, Vec<f64>> = std::collections::BTreeMap::new();
    for animal in animals {
        let hues = lines.entry(&animal.line).or_default();
        hues.extend((!animal.is_pale).then(|| hue(animal.lab)));
    }
    lines
        .into_iter()
        .map(|(line, hues)| LineHues {
            line: line.to_string(),
            animals: hues.len(),
            gate: gate(&hues),
        })
        .collect()
}

/// The shortest arc that holds nearly all hues, with some room; `None` with too few or where they go round the circle.
fn gate(hues: &[f64]) -> Option<HueGate> {
    if hues.len() < FEWEST_FOR_GATE {
        return None;
    }
    let mut sorted = hues.to_vec();
    sorted.sort_by(f64::total_cmp);
    let (n, inside) = (
        sorted.len(),
        (GATE_SHARE * sorted.len() as f64).ceil() as usize,
    );
    let arc = |from: usize| {
        let to = from + inside - 1;
        sorted[to % n] + if to >= n { 360.0 } else { 0.0 } - sorted[from]
    };
    let shortest = (0..n).reduce(|a, b| if arc(b) < arc(a) { b } else { a })?;
    let length = arc(shortest) + 2.0 * GATE_ROOM_DEG;
    (length < 180.0).then(|| {
        let from = (sorted[shortest] - GATE_ROOM_DEG).rem_euclid(360.0).floor();
        HueGate {
            from_deg: from,
            to_deg: (from + length + 1.0).rem_euclid(360.0).floor(),
        }
    })
}

fn overlaps(animals: &[&Coloured], lines: &[LineHues]) -> Vec<Overlap> {
    let share = |line: &LineHues, gate: HueGate| {
        let judged = animals.iter().filter(|a| a.line == line.line && !a.is_pale);
        let (mut inside, mut all) = (0.0, 0.0);
        judged.for_each(|a| {
            all += 1.0;
            inside += f64::from(u8::from(gate.contains(hue(a.lab))));
        });
        if all > 0.0 { inside / all } else { 0.0 }
    };
    let mut found = Vec::new();
    for (i, a) in lines.iter().enumerate() {
        for b in &lines[i + 1..] {
            let (Some(gate_a), Some(gate_b)) = (a.gate, b.gate) else {
                continue;
            };
            let (first, second) = (share(a, gate_b), share(b, gate_a));
            if first.max(second) >= LEAST_SHARED {
                found.push(Overlap {
                    first: a.line.clone(),
                    second: b.line.clone(),
                    first_in_second: first,
                    second_in_first: second,
                });
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::eye::dice::Dice;

    /// Three lines round known middles, one of them at the seam of the hue circle.
    fn room(count: u32) -> Vec<Coloured> {
        let middles = [
            ("red", [42.0, 52.0, 2.0]),
            ("yellow", [80.0, 6.0, 60.0]),
            ("blue", [38.0, 0.0, -32.0]),
        ];
        let mut dice = Dice::new(3);
        let mut bell = || {
            (0..12)
                .map(|_| dice.below(1000) as f64 / 1000.0)
                .sum::<f64>()
                - 6.0
        };
        let mut all = Vec::new();
        for no in 0..count {
            let (line, lab) = middles[no as usize % 3];
            all.push(Coloured {
                animal: (1, no),
                line: line.into(),
                lab: lab.map(|v| v + 3.0 * bell()),
                is_pale: false,
            });
        }
        all
    }

    #[test]
    fn known_families_are_found_and_strangers_named() {
        let mut animals = room(150);
        animals.push(Coloured {
            animal: (9, 1),
            line: "red".into(),
            lab: [50.0, -45.0, 40.0],
            is_pale: false,
        });
        let found = families(&animals);
        assert_eq!(found.families.len(), 3, "{:?}", found.families);
        assert!(
            found
                .families
                .iter()
                .all(|f| f.lines.len() <= 2 && f.animals >= 50)
        );
        assert_eq!(found.strange, [(9, 1)]);
        let red = found
            .lines
            .iter()
            .find(|l| l.line == "red")
            .and_then(|l| l.gate)
            .expect("a gate");
        assert!(
            red.contains(359.0) && red.contains(3.0) && !red.contains(90.0),
            "{red:?}"
        );
        assert!(found.overlaps.is_empty(), "{:?}", found.overlaps);
    }

    #[test]
    fn one_round_family_stays_one() {
        let one: Vec<Coloured> = room(300).into_iter().filter(|a| a.line == "red").collect();
        assert_eq!(families(&one).families.len(), 1);
        assert!(families(&one[..10]).families.is_empty());
    }

    #[test]
    fn the_order_does_not_matter() {
        let animals = room(90);
        let mut turned = animals.clone();
        turned.reverse();
        assert_eq!(families(&animals), families(&turned));
    }

    #[test]
    fn lines_that_share_hues_are_told() {
        let mut animals = room(120);
        for animal in animals.iter_mut().filter(|a| a.line == "yellow") {
            animal.lab = [60.0, 50.0, 6.0];
        }
        let found = families(&animals);
        let told = found
            .overlaps
            .iter()
            .find(|o| o.first == "red" && o.second == "yellow");
        assert!(told.is_some_and(|o| o.first_in_second > 0.2), "{found:?}");
    }
}
