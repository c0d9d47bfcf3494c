//! How many animals are left in the tank: counted, or guessed by the keeper and estimated anew from the cups.

/// What the keeper says of the tank before the first cup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TankNumber {
    /// Counted: believed as it is.
    Counted(u32),
    /// A guess: wrong by a fifth as often as not.
    About(u32),
}

/// What a cup tells about the number.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Catch {
    /// Animals in the cup.
    pub animals: u32,
    /// Sweeps of the net it took.
    pub sweeps: Option<u32>,
    /// How many the keeper thinks are left after it.
    pub left_told: Option<u32>,
}

/// Animals left in the tank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// Expected number, 0 or more.
    pub expected: f64,
    /// Its standard uncertainty.
    pub uncertainty: f64,
}

/// Standard deviation of the logarithm of a keeper's guess: half of all guesses are within a seventh, one in three is off
/// by more than a fifth (house rule; common practice, no source).
const GUESS: f64 = 0.2;
/// Shrimp are caught in clusters, so that catches scatter more than chance alone would have it: their message counts by
/// this share (house rule).
const CLUSTERED: f64 = 0.5;

/// Animals left after these catches.
///
/// Sweeps tell: where a cup takes more and more of them, the tank empties. With the same chance for every animal in every
/// sweep the number is the one that makes the catches likeliest.
///
/// # Source
/// Catch and effort, [LeslieDavis1939], by Bayes' rule on the numbers there may be.
pub fn left(told: TankNumber, catches: &[Catch]) -> Left {
    let seen: u32 = catches.iter().map(|c| c.animals).sum();
    let guess = match told {
        TankNumber::Counted(number) => {
            return Left {
                expected: f64::from(number.saturating_sub(seen)),
                uncertainty: 0.0,
            };
        }
        TankNumber::About(number) => f64::from(number.max(1)),
    };
    let most = (4.0 * guess).max(2.0 * f64::from(seen) + 20.0) as u32;
    let logs: Vec<f64> = (seen..=most)
        .map(|number| log_chance(f64::from(number), guess, catches))
        .collect();
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|log| (log - top).exp()).collect();
    let all: f64 = weights.iter().sum();
    let mean_of = |of: &dyn Fn(f64) -> f64| {
        let sum: f64 = weights
            .iter()
            .enumerate()
            .map(|(left, weight)| weight * of(left as f64))
            .sum();
        sum / all
    };
    let expected = mean_of(&|left| left);
    Left {
        expected,
        uncertainty: mean_of(&|left| (left - expected).powi(2)).sqrt(),
    }
}

/// Logarithm of how likely the catches and guesses are where the tank held `number` animals, but for a constant.
fn log_chance(number: f64, guess: f64, catches: &[Catch]) -> f64 {
    let off = |told: f64, truth: f64| -0.5 * ((told / truth).ln() / GUESS).powi(2);
    // A guess half and one twice as large are equally wrong: even on the logarithm.
    let mut log = off(guess, number.max(0.5)) - number.max(0.5).ln();
    let (mut gone, mut caught, mut effort, mut parts) = (0.0, 0.0, 0.0, 0.0);
    for catch in catches {
        let animals = f64::from(catch.animals);
        // While a cup is filled, half of it is on average still in the tank.
        let there = (number - gone - animals / 2.0).max(0.25);
        if let Some(sweeps) = catch.sweeps.filter(|sweeps| *sweeps > 0) {
            caught += animals;
            effort += there * f64::from(sweeps);
            parts += animals * there.ln();
        }
        gone += animals;
        if let Some(told) = catch.left_told {
            log += off(f64::from(told) + 0.5, (number - gone).max(0.0) + 0.5);
        }
    }
    if caught > 0.0 {
        log += CLUSTERED * (parts - caught * effort.ln());
    }
    log
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_is_believed_and_never_negative() {
        let catch = |animals| Catch {
            animals,
            ..Catch::default()
        };
        assert_eq!(left(TankNumber::Counted(50), &[catch(20)]).expected, 30.0);
        assert_eq!(left(TankNumber::Counted(15), &[catch(20)]).expected, 0.0);
    }

    #[test]
    fn more_sweeps_a_cup_mean_that_the_tank_empties() {
        let cups = |sweeps: [u32; 4]| {
            sweeps.map(|sweeps| Catch {
                animals: 20,
                sweeps: Some(sweeps),
                left_told: None,
            })
        };
        let told = TankNumber::About(160);
        let even = left(told, &cups([3, 3, 3, 3]));
        let harder = left(told, &cups([3, 4, 6, 9]));
        let blind = left(
            told,
            &[Catch {
                animals: 80,
                ..Catch::default()
            }],
        );
        assert!(
            harder.expected < blind.expected - 8.0,
            "{harder:?} {blind:?}"
        );
        assert!(even.expected > blind.expected + 4.0, "{even:?} {blind:?}");
        assert!(harder.uncertainty < blind.uncertainty);
    }

    #[test]
    fn a_new_guess_counts() {
        let catch = Catch {
            animals: 80,
            sweeps: None,
            left_told: Some(30),
        };
        let now = left(TankNumber::About(160), &[catch]);
        assert!((25.0..45.0).contains(&now.expected), "{now:?}");
    }
}
