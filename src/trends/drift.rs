//! Chance alone moves the mean of a small line: how large a slope it makes.

/// Share of the variance between animals that is inherited, where the house has not measured it: the middle of what is published for
/// the colour of farmed shrimp of other kinds (0.03 to 0.55); for this kind nothing is.
pub const USUAL_HERITABILITY: f64 = 0.3;

/// Founders of a generation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Founders {
    /// The generation that they begin.
    pub generation: u32,
    /// Females.
    pub females: u32,
    /// Males.
    pub males: u32,
}

/// What chance does to a line of a certain size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChanceDrift {
    /// Effective size: animals of an ideal line that would stray as much.
    pub effective_size: f64,
    /// Share of the variance that was taken as inherited.
    pub heritability: f64,
    /// Standard deviation of the slope that chance alone makes, in the measure's unit for a generation.
    pub slope_sd: f64,
}

/// Effective size of a line whose generations were begun by `founders`: 4 f m / (f + m) for each, their harmonic mean. `None` where no
/// generation has both counts above 0.
///
/// # Source
/// [Wright1931].
pub fn effective_size(founders: &[Founders]) -> Option<f64> {
    let inverse: Vec<f64> = founders
        .iter()
        .filter(|f| f.females > 0 && f.males > 0)
        .map(|f| 0.25 / f64::from(f.females) + 0.25 / f64::from(f.males))
        .collect();
    (!inverse.is_empty()).then(|| inverse.len() as f64 / inverse.iter().sum::<f64>())
}

/// The slope that chance makes: the mean walks at random with a variance of (heritability times `animal_sd` squared) / effective size
/// in each generation; `places` are the generations of the points and `weights` what the slope takes of each.
///
/// # Source
/// [Lande1976].
pub fn chance_drift(
    places: &[f64],
    weights: &[f64],
    animal_sd: f64,
    effective_size: f64,
    heritability: f64,
) -> ChanceDrift {
    let start = places.iter().copied().fold(f64::INFINITY, f64::min);
    let mut variance = 0.0;
    for (a, wa) in places.iter().zip(weights) {
        for (b, wb) in places.iter().zip(weights) {
            variance += wa * wb * (a.min(*b) - start);
        }
    }
    let step = heritability * animal_sd * animal_sd / effective_size;
    ChanceDrift {
        effective_size,
        heritability,
        slope_sd: (variance.max(0.0) * step).sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wright's 4 m f / (m + f) and the harmonic mean of 1000, 10 and 1000, 29.4, as printed in handbooks.
    #[test]
    fn effective_sizes_of_the_handbooks() {
        let of = |females, males| Founders {
            generation: 0,
            females,
            males,
        };
        let one = |f, m| effective_size(&[of(f, m)]).expect("a size");
        assert!((one(100, 10) - 36.363636).abs() < 1e-6);
        assert!((one(9, 1) - 3.6).abs() < 1e-12);
        let three = effective_size(&[of(500, 500), of(5, 5), of(500, 500)]).expect("a size");
        assert!((three - 29.411765).abs() < 1e-6);
        assert_eq!(effective_size(&[of(0, 3)]), None);
    }

    #[test]
    fn between_two_points_it_is_the_walk_itself() {
        // Slope through generations 0 and 4 takes -1/4 and +1/4: variance 4 steps / 16.
        let drift = chance_drift(&[0.0, 4.0], &[-0.25, 0.25], 0.2, 10.0, 0.5);
        let step: f64 = 0.5 * 0.04 / 10.0;
        assert!((drift.slope_sd - (step * 4.0).sqrt() / 4.0).abs() < 1e-12);
    }
}
