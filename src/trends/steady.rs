//! Repeated photos of one scoop: how far each measure agrees, and the smallest change worth believing.

use super::agreement::{
    Icc, LimitsOfAgreement, icc_agreement, limits_of_agreement, mean_squares, smallest_believable,
    within_sd,
};
use super::matching::{Matching, match_photos};
use super::sighting::Sighting;
use crate::colour::ciede2000;
use crate::stats::{mean, median, quantile, standard_deviation};

/// Confidence level of every interval.
pub const LEVEL: f64 = 0.95;
/// Fewest animals seen in every photo for an intraclass correlation.
pub const FEWEST_ANIMALS: usize = 3;

/// One measure in all photos.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasureAgreement {
    /// Its name: coverage, opacity, length_mm, length_share, lightness or chroma.
    pub measure: &'static str,
    /// Animals with the measure in two photos or more.
    pub animals: usize,
    /// Animals with the measure in every photo.
    pub in_all: usize,
    /// Intraclass correlation ICC(2,1) over the animals with the measure in every photo; `None` where they are too few.
    pub icc: Option<Icc>,
    /// Standard deviation between photos of one animal.
    pub within_sd: f64,
    /// Smallest difference of one animal between two photos that is worth believing.
    pub believable: f64,
    /// Standard deviation between photos of the scoop's mean, over the animals seen in every photo.
    pub mean_sd: Option<f64>,
    /// Smallest difference of the scoop's mean between two photos that is worth believing.
    pub mean_believable: Option<f64>,
    /// Limits of agreement of the two photos that agree least: their indices (second minus first) and the limits.
    pub worst_pair: Option<(usize, usize, LimitsOfAgreement)>,
}

/// Differences of colour between the photos of one animal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColourAgreement {
    /// Pairs of photos of one animal.
    pub pairs: usize,
    /// Median CIEDE2000.
    pub median: f64,
    /// CIEDE2000 that nine in ten pairs stay below.
    pub nine_in_ten: f64,
}

/// What repeated photos of one scoop say.
#[derive(Debug, Clone, PartialEq)]
pub struct Steady {
    /// Who is who.
    pub matching: Matching,
    /// By measure, those that could be compared.
    pub measures: Vec<MeasureAgreement>,
    /// Colour differences, where colour was measured.
    pub colour: Option<ColourAgreement>,
    /// Pairs of photos of one animal with a rung in both, and those among them whose rungs agree: the same rung, or one
    /// too close to call that includes the other's.
    pub rungs: (usize, usize),
}

/// How far the photos agree; animals are those of each photo's [`super::sightings`].
pub fn steady(photos: &[Vec<Sighting>]) -> Steady {
    let matching = match_photos(photos);
    let seen: Vec<Vec<Option<&Sighting>>> = matching
        .animals
        .iter()
        .map(|row| {
            row.iter()
                .zip(photos)
                .map(|(at, photo)| at.map(|i| &photo[i]))
                .collect()
        })
        .collect();
    let measures = measures_of(photos)
        .iter()
        .filter_map(|(name, read)| agreement(name, &seen, read))
        .collect();
    Steady {
        measures,
        colour: colour(&seen),
        rungs: rungs(&seen),
        matching,
    }
}

/// A measure of a sighting; the photo's index tells its typical length.
type Read = Box<dyn Fn(usize, &Sighting) -> Option<f64>>;

/// Length is in millimetres where every photo has a scale, else in the photo's own median length.
fn measures_of(photos: &[Vec<Sighting>]) -> Vec<(&'static str, Read)> {
    let scaled = photos.iter().flatten().all(|s| s.length_mm.is_some());
    let units: Vec<f64> = photos
        .iter()
        .map(|photo| {
            median(&photo.iter().map(|s| s.length_px).collect::<Vec<_>>())
                .unwrap_or(1.0)
                .max(1.0)
        })
        .collect();
    let length: (&'static str, Read) = if scaled {
        ("length_mm", Box::new(|_, s| s.length_mm))
    } else {
        (
            "length_share",
            Box::new(move |photo, s| Some(s.length_px / units[photo])),
        )
    };
    vec![
        ("coverage", Box::new(|_, s| s.coverage)),
        ("opacity", Box::new(|_, s| s.opacity)),
        length,
        ("lightness", Box::new(|_, s| s.lab.map(|lab| lab[0]))),
        (
            "chroma",
            Box::new(|_, s| s.lab.map(|lab| lab[1].hypot(lab[2]))),
        ),
    ]
}

fn agreement(
    name: &'static str,
    seen: &[Vec<Option<&Sighting>>],
    read: &Read,
) -> Option<MeasureAgreement> {
    let table: Vec<Vec<Option<f64>>> = seen
        .iter()
        .map(|row| {
            row.iter()
                .enumerate()
                .map(|(photo, s)| s.and_then(|s| read(photo, s)))
                .collect()
        })
        .collect();
    let rows: Vec<Vec<f64>> = table
        .iter()
        .map(|row| row.iter().flatten().copied().collect())
        .collect();
    let within = within_sd(&rows)?;
    let complete: Vec<Vec<f64>> = table
        .iter()
        .filter_map(|row| row.iter().copied().collect())
        .collect();
    let enough = complete.len() >= FEWEST_ANIMALS;
    let icc = mean_squares(&complete)
        .filter(|_| enough)
        .and_then(|m| icc_agreement(&m, LEVEL));
    let mean_sd = if enough {
        spread_of_means(&complete)
    } else {
        None
    };
    Some(MeasureAgreement {
        measure: name,
        animals: rows.iter().filter(|row| row.len() > 1).count(),
        in_all: complete.len(),
        icc,
        within_sd: within,
        believable: smallest_believable(within),
        mean_sd,
        mean_believable: mean_sd.map(smallest_believable),
        worst_pair: worst_pair(&table),
    })
}

/// Standard deviation between photos of the mean over animals seen in all of them.
fn spread_of_means(complete: &[Vec<f64>]) -> Option<f64> {
    let photos = complete.first()?.len();
    let of_photo = |j: usize| mean(&complete.iter().map(|row| row[j]).collect::<Vec<_>>());
    standard_deviation(&(0..photos).filter_map(of_photo).collect::<Vec<_>>())
}

/// The two photos whose limits of agreement reach farthest from zero.
fn worst_pair(table: &[Vec<Option<f64>>]) -> Option<(usize, usize, LimitsOfAgreement)> {
    let photos = table.first()?.len();
    let pairs = (0..photos).flat_map(|i| (i + 1..photos).map(move |j| (i, j)));
    let limits = pairs.filter_map(|(i, j)| {
        let both: Vec<(f64, f64)> = table.iter().filter_map(|row| row[i].zip(row[j])).collect();
        Some((i, j, limits_of_agreement(&both)?))
    });
    let reach = |l: &LimitsOfAgreement| l.low.abs().max(l.high.abs());
    limits.max_by(|a, b| reach(&a.2).total_cmp(&reach(&b.2)))
}

/// Every pair of photos of one animal.
fn pairs<'a>(
    seen: &'a [Vec<Option<&'a Sighting>>],
) -> impl Iterator<Item = (&'a Sighting, &'a Sighting)> {
    seen.iter().flat_map(|row| {
        let here: Vec<&Sighting> = row.iter().flatten().copied().collect();
        (0..here.len())
            .flat_map(|i| {
                (i + 1..here.len())
                    .map(|j| (here[i], here[j]))
                    .collect::<Vec<_>>()
            })
            .collect::<Vec<_>>()
    })
}

fn colour(seen: &[Vec<Option<&Sighting>>]) -> Option<ColourAgreement> {
    let differences: Vec<f64> = pairs(seen)
        .filter_map(|(a, b)| a.lab.zip(b.lab))
        .map(|(a, b)| ciede2000(a, b))
        .collect();
    Some(ColourAgreement {
        pairs: differences.len(),
        median: median(&differences)?,
        nine_in_ten: quantile(&differences, 0.9)?,
    })
}

fn rungs(seen: &[Vec<Option<&Sighting>>]) -> (usize, usize) {
    let both: Vec<_> = pairs(seen)
        .filter_map(|(a, b)| a.rung.zip(b.rung))
        .collect();
    let agree = |((a, open_a), (b, open_b)): &(_, _)| {
        let holds = |open: &Option<(crate::ladder::Rung, crate::ladder::Rung)>, rung| {
            open.is_some_and(|(low, high)| (low..=high).contains(rung))
        };
        a == b || holds(open_a, b) || holds(open_b, a)
    };
    (both.len(), both.iter().filter(|pair| agree(pair)).count())
}
