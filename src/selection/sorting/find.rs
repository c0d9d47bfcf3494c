//! How a person finds an animal again in the cup: by size, by its plainest mark and by where it lies.

use crate::scoop::KeptAnimal;

/// What tells an animal from the others of its cup.
#[derive(Debug, Clone, PartialEq)]
pub struct Find {
    /// Its number in the photo.
    pub no: u32,
    /// Rank by length, 1 = the largest, and of how many.
    pub size: (usize, usize),
    /// Its plainest mark.
    pub mark: Option<Mark>,
    /// Where it lies, seen from the middle of the animals; `None` where the photo has no places.
    pub place: Option<Place>,
    /// Number of its nearest neighbour, with whom it might be mixed up.
    pub beside: Option<u32>,
}

/// A mark that can be seen without a lens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Carries eggs.
    Eggs,
    /// A saddle shows.
    Saddle,
    /// Clear head, middle or tail.
    Clear(Third),
    /// Clearly the palest of the cup.
    Palest,
    /// Clearly the most coloured of the cup.
    MostColoured,
}

/// A third of the body.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Third {
    /// The head's.
    Head,
    /// The middle one.
    Middle,
    /// The tail's.
    Tail,
}

/// A place in the photo as it is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// -1 upper, 0 middle, 1 lower third.
    pub down: i8,
    /// -1 left, 0 middle, 1 right third.
    pub right: i8,
}

/// A third this much clearer than the rest of the body shows at a glance, and so does an animal this much paler or fuller
/// than the next one (house rule).
const PLAIN: f64 = 0.25;
const STANDS_OUT: f64 = 0.12;

/// How to find each animal of a cup, in the order given.
pub fn finds(animals: &[KeptAnimal]) -> Vec<Find> {
    let ranks = ranks(animals);
    let frame = frame(animals);
    animals
        .iter()
        .enumerate()
        .map(|(at, animal)| Find {
            no: animal.no,
            size: (ranks[at], animals.len()),
            mark: mark(animal, animals),
            place: frame.and_then(|frame| place(animal, frame)),
            beside: nearest(animal, animals),
        })
        .collect()
}

/// Length in millimetres, else in pixels.
fn length(animal: &KeptAnimal) -> f64 {
    let px = animal.place.map(|place| {
        let [dx, dy] = [0, 1].map(|axis| place.head[axis] - place.tail[axis]);
        f64::from(dx.hypot(dy))
    });
    animal.length_mm.map(|l| l.value).or(px).unwrap_or(0.0)
}

fn ranks(animals: &[KeptAnimal]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..animals.len()).collect();
    order.sort_by(|a, b| length(&animals[*b]).total_cmp(&length(&animals[*a])));
    let mut ranks = vec![0; animals.len()];
    for (rank, at) in order.into_iter().enumerate() {
        ranks[at] = rank + 1;
    }
    ranks
}

fn mark(animal: &KeptAnimal, all: &[KeptAnimal]) -> Option<Mark> {
    let flagged = |word: &str| animal.flags.iter().any(|flag| flag == word);
    if flagged("berried") {
        return Some(Mark::Eggs);
    }
    clear_third(animal)
        .or_else(|| flagged("saddle").then_some(Mark::Saddle))
        .or_else(|| stands_out(animal, all))
}

fn clear_third(animal: &KeptAnimal) -> Option<Mark> {
    let thirds = animal.coverage_thirds;
    let [head, middle, tail] = [thirds[0]?, thirds[1]?, thirds[2]?];
    let lowest = head.min(middle).min(tail);
    let rest = (head + middle + tail - lowest) / 2.0;
    let third = match lowest {
        l if l == head => Third::Head,
        l if l == tail => Third::Tail,
        _ => Third::Middle,
    };
    (rest - lowest >= PLAIN).then_some(Mark::Clear(third))
}

fn stands_out(animal: &KeptAnimal, all: &[KeptAnimal]) -> Option<Mark> {
    let own = animal.coverage?.value;
    let others: Vec<f64> = all
        .iter()
        .filter(|other| other.no != animal.no)
        .filter_map(|other| Some(other.coverage?.value))
        .collect();
    let low = others.iter().copied().fold(f64::INFINITY, f64::min);
    let high = others.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    match own {
        _ if others.is_empty() => None,
        own if own < low - STANDS_OUT => Some(Mark::Palest),
        own if own > high + STANDS_OUT => Some(Mark::MostColoured),
        _ => None,
    }
}

/// Middle of an animal in pixels.
pub fn middle(animal: &KeptAnimal) -> Option<[f64; 2]> {
    let [x, y, w, h] = animal.place?.bbox.map(f64::from);
    Some([x + w / 2.0, y + h / 2.0])
}

/// Least and greatest x and y of the animals' middles; `None` where fewer than three have a place.
fn frame(animals: &[KeptAnimal]) -> Option<[f64; 4]> {
    let places: Vec<[f64; 2]> = animals.iter().filter_map(middle).collect();
    let fold = |axis: usize, of: fn(f64, f64) -> f64, from: f64| {
        places.iter().map(|p| p[axis]).fold(from, of)
    };
    (places.len() >= 3).then(|| {
        [
            fold(0, f64::min, f64::INFINITY),
            fold(1, f64::min, f64::INFINITY),
            fold(0, f64::max, f64::NEG_INFINITY),
            fold(1, f64::max, f64::NEG_INFINITY),
        ]
    })
}

fn place(animal: &KeptAnimal, [left, top, right, bottom]: [f64; 4]) -> Option<Place> {
    let [x, y] = middle(animal)?;
    let third = |v: f64, low: f64, high: f64| match (v - low) / (high - low).max(1.0) {
        share if share < 1.0 / 3.0 => -1,
        share if share > 2.0 / 3.0 => 1,
        _ => 0,
    };
    Some(Place {
        down: third(y, top, bottom),
        right: third(x, left, right),
    })
}

fn nearest(animal: &KeptAnimal, all: &[KeptAnimal]) -> Option<u32> {
    let own = middle(animal)?;
    let apart = |other: &&KeptAnimal| {
        middle(other).map_or(f64::INFINITY, |p| (p[0] - own[0]).hypot(p[1] - own[1]))
    };
    let others = all.iter().filter(|other| other.no != animal.no);
    let near = others.min_by(|a, b| apart(a).total_cmp(&apart(b)))?;
    (apart(&near)
        < 1.5
            * animal
                .place
                .map_or(0.0, |p| f64::from(p.bbox[2].max(p.bbox[3]))))
    .then_some(near.no)
}
