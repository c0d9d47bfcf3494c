//! From which value on a measure makes the photo worse, and by how much: measured on photos made worse step by step.
//!
//! `benches/degrade` makes them and holds the program's answers against their truth. "Usable" begins where rungs start to
//! move beyond what turning or mirroring the same photo does, "shoot again" where about a quarter of the animals is lost or
//! stands elsewhere.

use super::measures::CheckMeasures;

/// What a measure of this size does to the answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The measure.
    pub at: f64,
    /// Mean error of coverage, 0..=1.
    pub coverage_error: f64,
    /// Share of the animals that are lost.
    pub lost: f64,
}

const fn step(at: f64, coverage_error: f64, lost: f64) -> Step {
    Step {
        at,
        coverage_error,
        lost,
    }
}

/// Mean error of coverage on the photos before they were made worse.
pub const GOOD_ERROR: f64 = 0.046;

/// One cause of a worse photo.
#[derive(Debug)]
pub struct Cause {
    /// Its code.
    pub code: &'static str,
    /// The measure it is seen by, where it is known.
    pub measure: fn(&CheckMeasures) -> Option<f64>,
    /// From here on the photo is no longer good, and from here on to be taken again. Falling where the second is smaller.
    pub limits: [f64; 2],
    /// What was measured, by rising or falling measure; empty where nothing of the kind was.
    pub steps: &'static [Step],
}

impl Cause {
    /// How far the measure has gone: below 1 good, from 1 on usable, from 2 on to be taken again.
    pub fn degree(&self, value: f64) -> f64 {
        let [usable, again] = self.limits;
        let way = |limit: f64| {
            if again >= usable {
                value >= limit
            } else {
                value <= limit
            }
        };
        if way(again) {
            2.0
        } else if way(usable) {
            1.0
        } else {
            0.0
        }
    }

    /// Error and loss to be expected at this value, between the steps that were measured; `None` where none were.
    pub fn expected(&self, value: f64) -> Option<Step> {
        let (first, last) = (self.steps.first()?, self.steps.last()?);
        let rising = last.at >= first.at;
        let before = |step: &Step| {
            if rising {
                step.at <= value
            } else {
                step.at >= value
            }
        };
        let next = self.steps.iter().position(|s| !before(s));
        Some(match next {
            Some(0) => *first,
            None => *last,
            Some(k) => between(&self.steps[k - 1], &self.steps[k], value),
        })
    }
}

fn between(a: &Step, b: &Step, value: f64) -> Step {
    let share = (value - a.at) / (b.at - a.at);
    let mix = |x: f64, y: f64| x + share * (y - x);
    step(
        value,
        mix(a.coverage_error, b.coverage_error),
        mix(a.lost, b.lost),
    )
}

/// Edges blurred evenly, along the animals' outlines.
pub const BLUR: Cause = Cause {
    code: "out_of_focus",
    measure: |m| m.blur,
    limits: [0.19, 0.30],
    steps: &[
        step(0.105, 0.046, 0.0),
        step(0.162, 0.047, 0.03),
        step(0.255, 0.06, 0.08),
        step(0.383, 0.095, 0.39),
        step(0.55, 0.168, 0.98),
    ],
};

/// The same where few or no animals were found.
pub const SOFT: Cause = Cause {
    code: "out_of_focus",
    measure: |m| m.soft,
    limits: [0.34, 0.40],
    steps: &[
        step(0.22, 0.046, 0.0),
        step(0.308, 0.06, 0.08),
        step(0.414, 0.095, 0.39),
        step(0.581, 0.168, 0.98),
    ],
};

/// Least blur at which its direction means anything.
const SHAKEN_BLUR: f64 = 0.13;
const SHAKEN_SOFT: f64 = 0.28;

/// Edges wider one way than the other: the phone was moved.
pub const SHAKE: Cause = Cause {
    code: "shaken",
    measure: |m| {
        let near = m.shake.filter(|_| m.blur.is_some_and(|b| b >= SHAKEN_BLUR));
        let far = m
            .soft_shake
            .filter(|_| m.soft.is_some_and(|s| s >= SHAKEN_SOFT));
        // The floor's own edges are fewer and looser: they count where they speak plainly.
        let far = far.filter(|ratio| *ratio >= 1.9);
        near.into_iter().chain(far).reduce(f64::max)
    },
    limits: [1.8, 2.7],
    steps: &[
        step(1.2, 0.046, 0.0),
        step(1.77, 0.052, 0.0),
        step(2.69, 0.074, 0.06),
        step(3.2, 0.109, 0.16),
        step(3.6, 0.165, 0.64),
    ],
};

/// Too little light for the sensor, on a photo of ordinary brightness.
pub const GRAIN: Cause = Cause {
    code: "grainy",
    measure: |m| m.grain,
    limits: [0.0175, 0.040],
    steps: &[
        step(0.012, 0.046, 0.0),
        step(0.025, 0.101, 0.0),
        step(0.034, 0.17, 0.02),
        step(0.05, 0.237, 0.02),
    ],
};

/// Too dark as a whole.
pub const DARK: Cause = Cause {
    code: "too_dark",
    measure: |m| m.ground_light,
    limits: [0.14, 0.08],
    steps: &[
        step(0.43, 0.046, 0.0),
        step(0.127, 0.101, 0.0),
        step(0.063, 0.188, 0.03),
        step(0.01, 0.235, 0.79),
    ],
};

/// Burnt out in part.
pub const CLIPPED: Cause = Cause {
    code: "clipped",
    measure: |m| Some(m.clipped),
    limits: [0.05, 0.70],
    steps: &[
        step(0.0, 0.046, 0.0),
        step(0.26, 0.046, 0.03),
        step(0.515, 0.056, 0.1),
        step(0.723, 0.069, 0.2),
    ],
};

/// Too bright as a whole.
pub const BRIGHT: Cause = Cause {
    code: "too_bright",
    measure: |m| m.ground_light,
    limits: [0.93, 0.965],
    steps: &[
        step(0.82, 0.046, 0.03),
        step(0.941, 0.056, 0.1),
        step(0.997, 0.069, 0.2),
    ],
};

/// Saved too coarsely.
pub const JPEG: Cause = Cause {
    code: "recompressed",
    measure: |m| m.jpeg_step,
    limits: [16.0, 36.0],
    steps: &[
        step(4.0, 0.046, 0.0),
        step(17.0, 0.046, 0.02),
        step(26.8, 0.061, 0.09),
        step(44.7, 0.092, 0.13),
    ],
};

/// Too few pixels to an animal.
pub const FAR: Cause = Cause {
    code: "too_far",
    measure: |m| m.body_px,
    limits: [85.0, 55.0],
    steps: &[
        step(132.0, 0.048, 0.0),
        step(94.0, 0.052, 0.01),
        step(69.5, 0.053, 0.05),
        step(56.0, 0.055, 0.07),
    ],
};

/// Glare on animals.
pub const GLARE: Cause = Cause {
    code: "glare_on_animals",
    // On a floor that is burnt out itself, burnt-out light beside an animal is no reflection.
    measure: |m| m.glare_on.filter(|_| m.clipped < CLIPPED.limits[0]),
    limits: [0.05, 0.45],
    steps: &[
        step(0.0, 0.046, 0.0),
        step(0.204, 0.049, 0.09),
        step(0.367, 0.049, 0.18),
        step(0.66, 0.05, 0.39),
    ],
};

/// Animals over one another.
pub const CROWD: Cause = Cause {
    code: "crowded",
    measure: |m| m.crowding,
    limits: [0.36, 0.58],
    steps: &[
        step(0.1, 0.046, 0.0),
        step(0.39, 0.059, 0.13),
        step(0.61, 0.063, 0.30),
        step(0.89, 0.067, 0.48),
    ],
};

/// Taken from the side.
pub const SLANT: Cause = Cause {
    code: "slanted",
    measure: |m| m.slant,
    limits: [0.90, 0.0],
    steps: &[],
};

/// Hand, net, sleeve.
pub const OBSTACLE: Cause = Cause {
    code: "in_the_way",
    measure: |m| Some(m.obstacle),
    limits: [0.03, 0.10],
    steps: &[step(0.0, 0.046, 0.0), step(0.11, 0.05, 0.2)],
};

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [&Cause; 13] = [
        &BLUR, &SOFT, &SHAKE, &GRAIN, &DARK, &CLIPPED, &BRIGHT, &JPEG, &FAR, &GLARE, &CROWD,
        &SLANT, &OBSTACLE,
    ];

    #[test]
    fn steps_run_one_way_and_get_worse() {
        for cause in ALL {
            let [usable, again] = cause.limits;
            for pair in cause.steps.windows(2) {
                assert_eq!(pair[1].at > pair[0].at, again > usable, "{}", cause.code);
                assert!(
                    pair[1].coverage_error >= pair[0].coverage_error - 1e-9,
                    "{}",
                    cause.code
                );
                assert!(pair[1].lost >= pair[0].lost, "{}", cause.code);
            }
        }
    }

    #[test]
    fn errors_are_read_between_the_steps() {
        let at = |value| FAR.expected(value).expect("measured");
        assert_eq!(at(500.0).coverage_error, 0.048);
        assert!((at(81.75).lost - 0.03).abs() < 1e-9);
        assert_eq!(at(10.0).lost, 0.07);
        assert_eq!(
            (FAR.degree(86.0), FAR.degree(85.0), FAR.degree(20.0)),
            (0.0, 1.0, 2.0)
        );
    }
}
