//! Colour correction: from the light a camera gives to the light a perfect camera would give of the same surface under D65.

use crate::colour;

/// A map from a photo's linear light (sRGB primaries) to absolute colour: linear light under D65, perfect white = (1, 1, 1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Correction {
    /// Three by three.
    Linear([[f64; 3]; 3]),
    /// Root polynomial of second degree in R, G, B, sqrt(RG), sqrt(GB), sqrt(RB): as the linear one, twice the light
    /// gives twice the result.
    ///
    /// # Source
    /// [Finlayson2015].
    RootPolynomial([[f64; 6]; 3]),
}

impl Correction {
    /// Absolute linear colour of a photo's linear light; not clipped.
    ///
    /// ```
    /// use catchcup::scene::Correction;
    /// let half = Correction::Linear([[2.0, 0.0, 0.0], [0.0, 2.0, 0.0], [0.0, 0.0, 2.0]]);
    /// assert_eq!(half.apply([0.1, 0.2, 0.3]), [0.2, 0.4, 0.6]);
    /// ```
    pub fn apply(&self, rgb: [f64; 3]) -> [f64; 3] {
        match self {
            Self::Linear(m) => colour::apply(m, rgb),
            Self::RootPolynomial(m) => {
                let terms = root_terms(rgb);
                m.map(|row| row.iter().zip(terms).map(|(a, t)| a * t).sum())
            }
        }
    }

    /// The correction of a photo in which every colour is `factor` times as strong, channel by channel, as in the one it was
    /// made for: another exposure or white balance of the same light.
    pub fn after(&self, factor: [f64; 3]) -> Self {
        let weigh = |terms: [f64; 3]| terms.map(|f| 1.0 / f.max(1e-6));
        match self {
            Self::Linear(m) => {
                let f = weigh(factor);
                Self::Linear(m.map(|row| [row[0] * f[0], row[1] * f[1], row[2] * f[2]]))
            }
            Self::RootPolynomial(m) => {
                let f = root_terms(weigh(factor));
                Self::RootPolynomial(m.map(|row| std::array::from_fn(|k| row[k] * f[k])))
            }
        }
    }

    /// What a colour looks like beside a surface of this light: both corrected, then their ratio.
    ///
    /// `ratio` is the photo's linear light over that of the surface.
    pub fn ratio(&self, ratio: [f64; 3], surface: [f64; 3]) -> [f64; 3] {
        let white = self.apply(surface);
        let seen = self.apply(std::array::from_fn(|c| ratio[c] * surface[c]));
        std::array::from_fn(|c| seen[c] / white[c].max(1e-4))
    }
}

/// The terms of the root polynomial.
pub(super) fn root_terms([r, g, b]: [f64; 3]) -> [f64; 6] {
    let root = |p: f64, q: f64| (p.max(0.0) * q.max(0.0)).sqrt();
    [r, g, b, root(r, g), root(g, b), root(r, b)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twice_the_light_is_twice_the_colour() {
        let m = Correction::RootPolynomial([
            [1.1, -0.2, 0.1, 0.3, -0.1, 0.05],
            [0.0, 0.9, 0.1, 0.1, 0.2, 0.0],
            [0.1, 0.1, 0.7, 0.0, 0.1, 0.1],
        ]);
        let (one, two) = (m.apply([0.1, 0.2, 0.3]), m.apply([0.2, 0.4, 0.6]));
        let halved = m.after([2.0; 3]).apply([0.2, 0.4, 0.6]);
        for c in 0..3 {
            assert!((two[c] - 2.0 * one[c]).abs() < 1e-12);
            assert!((halved[c] - one[c]).abs() < 1e-12);
        }
        assert_eq!(m.ratio([1.0; 3], [0.3, 0.4, 0.5]), [1.0; 3]);
    }
}
