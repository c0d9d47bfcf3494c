//! The fitted models: weights in readable text files beside this source, fitted by `fit-evidence`.

use super::additive::{Additive, Curve};
use super::{edge, ends, features, lamp, orient, worth};

/// All models the finding uses.
#[derive(Debug, Clone)]
pub struct Models {
    /// Pixel evidence of bodies.
    pub evidence: Additive,
    /// Flank edges in the unwrapped body.
    pub edge: Additive,
    /// Front and rear end along the body axis.
    pub ends: Additive,
    /// Which end is the head.
    pub orient: Additive,
    /// Is it a whole animal, when the body unit itself is in question.
    pub scale: Additive,
    /// Is it an animal, once the unit is settled.
    pub worth: Additive,
    /// Does it lie well on an animal: chooses among proposals for the same one.
    pub rank: Additive,
    /// Flank edges where a flank lies in the shade of a lone lamp.
    pub shaded: Additive,
    /// On which side a body has its shade.
    pub lamp: Additive,
}

/// Names of the weight files, in the order that [`Models::parse`] takes them.
pub const NAMES: [&str; 9] = [
    "evidence", "edge", "ends", "orient", "scale", "worth", "rank", "shaded", "lamp",
];

impl Models {
    /// The models built into the program.
    pub fn built_in() -> Self {
        Self::parse([
            include_str!("weights/evidence.txt"),
            include_str!("weights/edge.txt"),
            include_str!("weights/ends.txt"),
            include_str!("weights/orient.txt"),
            include_str!("weights/scale.txt"),
            include_str!("weights/worth.txt"),
            include_str!("weights/rank.txt"),
            include_str!("weights/shaded.txt"),
            include_str!("weights/lamp.txt"),
        ])
        .expect("the built-in weight files are checked by a test")
    }

    /// Models that know nothing (log-odds 0 everywhere): the start of the fitting.
    pub fn untrained() -> Self {
        let flat = |names: &[&str]| Additive {
            bias: 0.0,
            curves: names
                .iter()
                .map(|n| Curve {
                    name: n.to_string(),
                    knots: vec![],
                    slopes: vec![0.0],
                })
                .collect(),
        };
        Self {
            evidence: flat(&features::FIRST_STAGE),
            edge: flat(&edge::NAMES),
            ends: flat(&ends::NAMES),
            orient: flat(&orient::NAMES),
            scale: flat(&worth::NAMES),
            worth: flat(&worth::NAMES),
            rank: flat(&worth::NAMES),
            shaded: flat(&edge::NAMES),
            lamp: flat(&lamp::NAMES),
        }
    }

    /// Models from the texts of the weight files in the order of [`NAMES`]; `None` when one is malformed.
    pub fn parse(texts: [&str; 9]) -> Option<Self> {
        let [
            evidence,
            edge,
            ends,
            orient,
            scale,
            worth,
            rank,
            shaded,
            lamp,
        ] = texts;
        Some(Self {
            evidence: Additive::parse(evidence, &features::FIRST_STAGE)?,
            edge: Additive::parse(edge, &edge::NAMES)?,
            ends: Additive::parse(ends, &ends::NAMES)?,
            orient: Additive::parse(orient, &orient::NAMES)?,
            scale: Additive::parse(scale, &worth::NAMES)?,
            worth: Additive::parse(worth, &worth::NAMES)?,
            rank: Additive::parse(rank, &worth::NAMES)?,
            shaded: Additive::parse(shaded, &edge::NAMES)?,
            lamp: Additive::parse(lamp, &lamp::NAMES)?,
        })
    }

    /// The models in the order of [`NAMES`].
    pub fn all(&self) -> [&Additive; 9] {
        [
            &self.evidence,
            &self.edge,
            &self.ends,
            &self.orient,
            &self.scale,
            &self.worth,
            &self.rank,
            &self.shaded,
            &self.lamp,
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_weights_are_read_and_written_alike() {
        let models = Models::built_in();
        assert_eq!(
            Additive::parse(&models.edge.to_text(), &edge::NAMES),
            Some(models.edge.clone())
        );
        assert!(
            models
                .evidence
                .curves
                .iter()
                .any(|c| c.slopes.iter().any(|s| *s != 0.0))
        );
    }
}
