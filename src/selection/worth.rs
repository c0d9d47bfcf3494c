//! What an animal is worth as a breeder: one number from the measures that the house weighs.

use crate::ladder::{Measure, Wish};
use crate::measures::Sex;
use crate::scoop::KeptAnimal;
use crate::stats::symmetric;
use crate::units::Measured;

use super::sorting::side;

/// Why an animal is not judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SetAside {
    /// Too young to say.
    Juvenile,
    /// Cut by the frame or the cup's edge.
    Cut,
    /// Off the line's ladder.
    OffType,
    /// Milky or stiff body: to be looked at, no diagnosis.
    Milky,
    /// A measure that the house weighs could not be read.
    Unread(Measure),
}

impl SetAside {
    /// Its word in files.
    pub fn word(&self) -> &'static str {
        match self {
            SetAside::Juvenile => "juvenile",
            SetAside::Cut => "cut",
            SetAside::OffType => "off_type",
            SetAside::Milky => "milky",
            SetAside::Unread(_) => "unread",
        }
    }

    /// True where another photo of the same animal may give it a number.
    pub fn may_turn(&self) -> bool {
        !matches!(self, SetAside::Juvenile)
    }
}

/// Fewest animals of a sex from which its mean and spread are taken (house rule).
pub const FEWEST: usize = 8;
/// Spread of a measure where too few animals are known: that of a share between the animals of an ordinary tank (measured on
/// the sample photos, rounded), and the same part of the range of any other measure.
const USUAL_SD: f64 = 0.12;

/// Mean and spread of each weighed measure within the sexes, and the weights: what makes a worth out of an animal.
#[derive(Debug, Clone, PartialEq)]
pub struct Yardstick {
    /// The measures with the weight of one standard deviation each.
    pub weights: Vec<(Measure, f64)>,
    /// How the weights came about.
    pub from: WeightsFrom,
    /// Mean and standard deviation of each measure, females and males.
    pub scales: [Vec<(f64, f64)>; 2],
    /// Judged animals from which the scales were taken, females and males.
    pub counts: [usize; 2],
}

/// How the weights came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WeightsFrom {
    /// Said in the rules.
    Rules,
    /// Nothing is said: what the best rung asks for, all alike.
    BestRung,
    /// Said in the rules and turned into an index by heritabilities and correlations.
    SmithHazel,
}

/// Value of a measure, `None` where it is withheld. Measures without an uncertainty of their own have 0.
pub fn value_of(animal: &KeptAnimal, measure: Measure) -> Option<Measured> {
    let plain = |value: Option<f64>| value.map(|value| Measured::new(value, 0.0));
    let colour = animal.colour.as_ref();
    match measure {
        Measure::CoverageHead => plain(animal.coverage_thirds[0]),
        Measure::CoverageMiddle => plain(animal.coverage_thirds[1]),
        Measure::CoverageTail => plain(animal.coverage_thirds[2]),
        Measure::Lightness => plain(colour.and_then(|c| c.lab).map(|lab| lab[0])),
        Measure::Chroma => plain(colour.and_then(|c| c.chroma)),
        Measure::Hue => plain(colour.and_then(|c| c.hue_deg)),
        other => animal.reading(other),
    }
}

/// Why an animal is set aside before any measure is looked at.
pub fn set_aside(animal: &KeptAnimal) -> Option<SetAside> {
    let has = |word: &str| {
        animal.off_ladder.as_deref() == Some(word) || animal.flags.iter().any(|flag| flag == word)
    };
    if animal.is_off_type() {
        Some(SetAside::OffType)
    } else if has("juvenile") {
        Some(SetAside::Juvenile)
    } else if has("cut") {
        Some(SetAside::Cut)
    } else if has("milky") {
        Some(SetAside::Milky)
    } else {
        None
    }
}

impl Yardstick {
    /// From what the house wishes and the animals known so far.
    pub fn new(wish: &Wish, animals: &[&KeptAnimal]) -> Self {
        let measures: Vec<Measure> = wish.weights.iter().map(|w| w.0).collect();
        let judged: Vec<&KeptAnimal> = animals
            .iter()
            .copied()
            .filter(|animal| set_aside(animal).is_none())
            .collect();
        let of_sex = |sex: usize| -> Vec<&KeptAnimal> {
            let ours = |animal: &&KeptAnimal| side(animal.sex) == Some(sex);
            judged.iter().copied().filter(ours).collect()
        };
        let both = [of_sex(0), of_sex(1)];
        let scales = std::array::from_fn(|sex| {
            let enough = both[sex].len() >= FEWEST;
            let from = if enough { &both[sex] } else { &judged };
            measures.iter().map(|m| scale(from, *m)).collect()
        });
        let mut stick = Self {
            weights: wish.weights.clone(),
            from: if wish.is_said {
                WeightsFrom::Rules
            } else {
                WeightsFrom::BestRung
            },
            scales,
            counts: [both[0].len(), both[1].len()],
        };
        if let Some(index) = stick.smith_hazel(wish, &both) {
            stick.weights = measures.into_iter().zip(index).collect();
            stick.from = WeightsFrom::SmithHazel;
        }
        stick
    }

    /// The worth of an animal: how many weighted standard deviations it stands above the mean of its sex. An animal whose sex
    /// is not told is held against both.
    ///
    /// # Errors
    /// Why it is set aside.
    pub fn worth(&self, animal: &KeptAnimal) -> Result<Measured, SetAside> {
        if let Some(why) = set_aside(animal) {
            return Err(why);
        }
        let (mut sum, mut squares) = (0.0, 0.0);
        for (at, (measure, weight)) in self.weights.iter().enumerate() {
            let read = value_of(animal, *measure).ok_or(SetAside::Unread(*measure))?;
            let (mean, sd) = self.scale_for(animal.sex, at);
            sum += weight * (read.value - mean) / sd;
            squares += (weight * read.uncertainty / sd).powi(2);
        }
        Ok(Measured::new(sum, squares.sqrt()))
    }

    fn scale_for(&self, sex: Sex, at: usize) -> (f64, f64) {
        match side(sex) {
            Some(sex) => self.scales[sex][at],
            None => {
                let (f, m) = (self.scales[0][at], self.scales[1][at]);
                ((f.0 + m.0) / 2.0, (f.1 + m.1) / 2.0)
            }
        }
    }

    /// Index weights from heritabilities, `None` where they are not given or the animals can't carry the correlations.
    fn smith_hazel(&self, wish: &Wish, both: &[Vec<&KeptAnimal>; 2]) -> Option<Vec<f64>> {
        let h2: Option<Vec<f64>> = self
            .weights
            .iter()
            .map(|(m, _)| wish.heritability_of(*m))
            .collect();
        let h2 = h2?;
        let n = h2.len();
        let seen = self.correlations(both)?;
        let genetic = |i: usize, j: usize| {
            let given = wish.genetic_correlation(self.weights[i].0, self.weights[j].0);
            // Where none is given, that between the animals stands in for it, which is usually near.
            given.unwrap_or(seen[i][j])
        };
        let g: Vec<Vec<f64>> = (0..n)
            .map(|i| {
                (0..n)
                    .map(|j| {
                        if i == j {
                            h2[i]
                        } else {
                            genetic(i, j) * (h2[i] * h2[j]).sqrt()
                        }
                    })
                    .collect()
            })
            .collect();
        let wanted: Vec<f64> = self.weights.iter().map(|(_, weight)| *weight).collect();
        index_weights(&seen, &g, &wanted)
    }

    /// Correlations of the measures between animals, within sexes.
    fn correlations(&self, both: &[Vec<&KeptAnimal>; 2]) -> Option<Vec<Vec<f64>>> {
        let n = self.weights.len();
        let mut rows: Vec<Vec<f64>> = Vec::new();
        for (sex, animals) in both.iter().enumerate() {
            for animal in animals {
                let row: Option<Vec<f64>> = (0..n)
                    .map(|at| {
                        let (mean, sd) = self.scales[sex][at];
                        Some((value_of(animal, self.weights[at].0)?.value - mean) / sd)
                    })
                    .collect();
                rows.extend(row);
            }
        }
        if rows.len() < 3 * n.max(FEWEST) {
            return None;
        }
        let product = |i: usize, j: usize| rows.iter().map(|row| row[i] * row[j]).sum::<f64>();
        let one = |i: usize, j: usize| product(i, j) / (product(i, i) * product(j, j)).sqrt();
        let table: Vec<Vec<f64>> = (0..n)
            .map(|i| (0..n).map(|j| one(i, j)).collect())
            .collect();
        table
            .iter()
            .flatten()
            .all(|r| r.is_finite())
            .then_some(table)
    }
}

/// Mean and standard deviation of a measure.
fn scale(animals: &[&KeptAnimal], measure: Measure) -> (f64, f64) {
    let values: Vec<f64> = animals
        .iter()
        .filter_map(|animal| Some(value_of(animal, measure)?.value))
        .collect();
    let (low, high) = measure.range();
    let usual = USUAL_SD * (high - low);
    let mean = crate::stats::mean(&values).unwrap_or((low + high) / 2.0);
    let sd = crate::stats::standard_deviation(&values).filter(|_| values.len() >= FEWEST);
    (mean, sd.filter(|sd| *sd > 1e-6 * usual).unwrap_or(usual))
}

/// Weights b of the measures such that the sum follows the wanted genetic gain best: P b = G a; `None` where P is no matrix of
/// variances and covariances.
///
/// # Source
/// [Smith1936] [Hazel1943]; example in [Mrode2014] 1.6.
pub fn index_weights(p: &[Vec<f64>], g: &[Vec<f64>], a: &[f64]) -> Option<Vec<f64>> {
    symmetric::solve(p, &symmetric::times(g, a))
}

/// Correlation of an index with what is wanted, and the standard deviation of the index; `None` where one of the two does not
/// vary.
///
/// # Source
/// sqrt(b'Pb / a'Ga) [Hazel1943].
pub fn index_accuracy(p: &[Vec<f64>], g: &[Vec<f64>], a: &[f64], b: &[f64]) -> Option<(f64, f64)> {
    let index = symmetric::dot(b, &symmetric::times(p, b));
    let wanted = symmetric::dot(a, &symmetric::times(g, a));
    (index > 0.0 && wanted > 0.0).then(|| ((index / wanted).sqrt(), index.sqrt()))
}
