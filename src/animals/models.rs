//! The fitted models: weights in readable text files beside this source, fitted by `fit-evidence`.

use super::additive::{Additive, Curve};
use super::{edge, ends, features, orient, worth};

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
}

impl Models {
    /// The models built into the program.
    pub fn built_in() -> Self {
        Self::parse(
            include_str!("weights/evidence.txt"),
            include_str!("weights/edge.txt"),
            include_str!("weights/ends.txt"),
            include_str!("weights/orient.txt"),
            include_str!("weights/scale.txt"),
            include_str!("weights/worth.txt"),
            include_str!("weights/rank.txt"),
        )
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
        }
    }

    /// Models from the texts of the weight files; `None` when one is malformed.
    pub fn parse(
        evidence: &str,
        edge: &str,
        ends: &str,
        orient: &str,
        scale: &str,
        worth: &str,
        rank: &str,
    ) -> Option<Self> {
        Some(Self {
            evidence: Additive::parse(evidence, &features::FIRST_STAGE)?,
            edge: Additive::parse(edge, &edge::NAMES)?,
            ends: Additive::parse(ends, &ends::NAMES)?,
            orient: Additive::parse(orient, &orient::NAMES)?,
            scale: Additive::parse(scale, &worth::NAMES)?,
            worth: Additive::parse(worth, &worth::NAMES)?,
            rank: Additive::parse(rank, &worth::NAMES)?,
        })
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
