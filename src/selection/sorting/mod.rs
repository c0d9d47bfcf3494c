//! Sorting a tank cup by cup: which animals to keep, to hold and to move out while they are in the cup.
//!
//! Nobody can tag a shrimp, and it swims away: so the decision falls at once, with the rest of the tank unseen. What the
//! rest holds is learned from earlier scoops ([`spread`]), how many they are is counted or estimated ([`left`]), and the
//! line is laid where cup, tub and rest together give the wanted numbers ([`choose`]).

pub mod again;
pub mod begin;
pub mod choose;
pub mod find;
pub mod left;
pub mod outcome;
pub mod spread;
pub mod wells;

pub use choose::Choice;
pub use left::{Catch, Left, TankNumber};
pub use spread::{Seen, Shift, Spread};

use crate::measures::Sex;
use crate::selection::worth::SetAside;
use crate::units::Measured;

/// What a sorting begins with.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// Wanted females and males.
    pub wanted: [usize; 2],
    /// Places in the holding tub for each sex; 0 without a tub.
    pub places: usize,
    /// Animals in the tank.
    pub number: TankNumber,
    /// Worth of the animals of earlier scoops, females and males.
    pub earlier: [Vec<f64>; 2],
    /// Animals of earlier scoops whose sex was not told, or that were set aside.
    pub earlier_others: usize,
}

/// Most places in the tub for each sex.
pub const MOST_PLACES: usize = 10;

/// One animal of a cup.
#[derive(Debug, Clone, PartialEq)]
pub struct CupAnimal {
    /// Its number in the photo.
    pub no: u32,
    /// Its sex.
    pub sex: Sex,
    /// Its worth, or why it is set aside.
    pub worth: Result<Measured, SetAside>,
    /// Where it stands in an earlier photo of the cup, where the last one does not show it.
    pub before: Option<Before>,
}

/// An animal in an earlier photo of its cup.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Before {
    /// Scoop of that photo.
    pub scoop: i64,
    /// Its number there.
    pub no: u32,
}

/// One cup.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cup {
    /// Its animals by number.
    pub animals: Vec<CupAnimal>,
    /// Sweeps of the net it took.
    pub sweeps: Option<u32>,
    /// How many the keeper thinks are left after it.
    pub left_told: Option<u32>,
    /// True where the tank is empty after it.
    pub last: bool,
}

/// What is to be done with an animal of the cup.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Into the breeding group.
    Keep,
    /// Into that place of the holding tub, 1 and up.
    Hold(u32),
    /// Out of the breeding group.
    MoveOut,
    /// Neither: back to the tank when the sorting is over.
    Back,
}

/// A verdict with how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// Number of the animal in the photo.
    pub no: u32,
    /// Its sex.
    pub sex: Sex,
    /// What to do.
    pub verdict: Verdict,
    /// True where the reading leaves it open: a second look may turn it.
    pub look_twice: bool,
    /// True where it was moved so before the last photo of its cup was taken.
    pub done: bool,
}

/// What becomes of an animal in the tub.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FromTub {
    /// Its sex: 0 female, 1 male.
    pub sex: usize,
    /// Its place.
    pub place: u32,
    /// True: into the breeding group; false: out of it.
    pub keep: bool,
}

/// The answer to a cup.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Decision {
    /// A verdict for each animal, by number.
    pub animals: Vec<Judged>,
    /// Animals that leave the tub.
    pub from_tub: Vec<FromTub>,
    /// Where the line lay for females and males; `None` where it could not be laid.
    pub line: [Option<f64>; 2],
}

/// An animal in the tub.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InTub {
    /// Its place, 1 and up.
    pub place: u32,
    /// Cup it came from, 1 = the first.
    pub cup: usize,
    /// Its number in that cup's photo.
    pub no: u32,
    /// Its worth.
    pub worth: f64,
}

/// A cup with what was decided of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Decided {
    /// The cup.
    pub cup: Cup,
    /// What was decided.
    pub decision: Decision,
}

/// Animals of one sex so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Count {
    /// In the breeding group.
    pub kept: usize,
    /// Out of it.
    pub moved_out: usize,
}

/// A sorting under way.
#[derive(Debug, Clone, PartialEq)]
pub struct Sorting {
    /// What it began with.
    pub setup: Setup,
    /// Females and males so far.
    pub counts: [Count; 2],
    /// Females and males in the tub.
    pub tub: [Vec<InTub>; 2],
    /// Animals that go back to the tank.
    pub back: usize,
    /// Cups so far.
    pub cups: usize,
    seen: [Seen; 2],
    others: usize,
    catches: Vec<Catch>,
    empty: bool,
}

/// From this chance that the reading lies on the wrong side of the line a second look is asked for (house rule, as for "too
/// close to call" between rungs).
const LOOK_TWICE_FROM: f64 = 0.25;

/// 0 for females, 1 for males, `None` where the sex is not told.
pub fn side(sex: Sex) -> Option<usize> {
    match sex {
        Sex::Female => Some(0),
        Sex::Male => Some(1),
        Sex::Unsure => None,
    }
}

impl Sorting {
    /// Before the first cup. More places than [`MOST_PLACES`] are not used.
    pub fn new(setup: Setup) -> Self {
        let seen = std::array::from_fn(|sex| Seen {
            earlier: setup.earlier[sex].clone(),
            today: Vec::new(),
        });
        Self {
            setup: Setup {
                places: setup.places.min(MOST_PLACES),
                ..setup
            },
            counts: [Count::default(); 2],
            tub: [Vec::new(), Vec::new()],
            back: 0,
            cups: 0,
            seen,
            others: 0,
            catches: Vec::new(),
            empty: false,
        }
    }

    /// As it stands after these cups.
    pub fn resumed(setup: Setup, cups: &[Decided]) -> Self {
        let mut sorting = Self::new(setup);
        cups.iter()
            .for_each(|past| sorting.enter(&past.cup, &past.decision));
        sorting
    }

    /// Animals of one sex that are still wanted; those in the tub are not counted as kept.
    pub fn wanted(&self, sex: usize) -> usize {
        self.setup.wanted[sex].saturating_sub(self.counts[sex].kept)
    }

    /// Animals in all cups so far.
    pub fn netted(&self) -> u32 {
        self.catches.iter().map(|catch| catch.animals).sum()
    }

    /// Animals left in the tank.
    pub fn left(&self) -> Left {
        if self.empty {
            return Left {
                expected: 0.0,
                uncertainty: 0.0,
            };
        }
        left::left(self.setup.number, &self.catches)
    }

    /// Animals of one sex left in the tank that will be judged.
    pub fn left_of(&self, sex: usize) -> Left {
        let all = self.left();
        let count = |sex: usize| (self.seen[sex].earlier.len() + self.seen[sex].today.len()) as f64;
        let others = (self.setup.earlier_others + self.others) as f64;
        // Half an animal more of each kind: a share learned from few is never quite 0 or 1 [BrownCaiDasGupta2001].
        let share = (count(sex) + 0.5) / (count(0) + count(1) + others + 1.5);
        let by_share = all.expected * share * (1.0 - share);
        Left {
            expected: all.expected * share,
            uncertainty: (all.uncertainty * share).hypot(by_share.sqrt()),
        }
    }

    /// How today's animals still to come are spread, females and males.
    pub fn spreads(&self) -> [Option<Spread>; 2] {
        spread::spreads(&self.seen)
    }

    /// How far today's animals stand from those of earlier scoops.
    pub fn shift(&self) -> Option<Shift> {
        spread::shift(&self.seen)
    }

    /// The same with the animals of the next cup, before anything is decided of them.
    pub fn shift_with(&self, cup: &Cup) -> Option<Shift> {
        let mut after = self.clone();
        after.notice(cup);
        after.shift()
    }

    /// True where nothing more is wanted, or nothing more comes.
    pub fn is_over(&self) -> bool {
        self.empty && self.tub.iter().all(Vec::is_empty)
    }

    /// What to do with the animals of the next cup. The cup itself counts in what is known of the tank.
    pub fn decide(&self, cup: &Cup) -> Decision {
        self.decide_rest(cup, &Decision::default())
    }

    /// The same where some of the cup's animals have been moved already: what `done` says of them stands, and so does what
    /// left the tub then. One that went into the tub stays there until the next cup.
    pub fn decide_rest(&self, cup: &Cup, done: &Decision) -> Decision {
        let mut after = self.clone();
        after.notice(cup);
        after.move_animals(cup, done);
        let spreads = after.spreads();
        let moved = |no: u32| done.animals.iter().find(|judged| judged.no == no);
        let judged = |animal: &CupAnimal| match moved(animal.no) {
            Some(judged) => *judged,
            None => set_aside(animal),
        };
        let mut decision = Decision {
            animals: cup.animals.iter().map(judged).collect(),
            from_tub: done.from_tub.clone(),
            ..Decision::default()
        };
        for (sex, spread) in spreads.iter().enumerate() {
            let to_come = after.left_of(sex);
            after.decide_sex(sex, cup, to_come, spread.as_ref(), &mut decision);
        }
        decision
    }

    /// What the cup tells of the tank, whatever is decided of its animals.
    fn notice(&mut self, cup: &Cup) {
        for animal in &cup.animals {
            match (side(animal.sex), &animal.worth) {
                (Some(sex), Ok(worth)) => self.seen[sex].today.push(worth.value),
                _ => self.others += 1,
            }
        }
        self.catches.push(Catch {
            animals: cup.animals.len() as u32,
            sweeps: cup.sweeps,
            left_told: cup.left_told,
        });
        self.empty |= cup.last;
        self.cups += 1;
    }

    fn decide_sex(
        &self,
        sex: usize,
        cup: &Cup,
        to_come: Left,
        spread: Option<&Spread>,
        decision: &mut Decision,
    ) {
        let mut pool = self.pool(sex, cup, decision);
        pool.sort_by(|a, b| b.worth.value.total_cmp(&a.worth.value));
        let values: Vec<f64> = pool.iter().map(|one| one.worth.value).collect();
        let stay = pool
            .iter()
            .filter(|one| matches!(one.whence, Whence::Stays(_)));
        let need = choose::Need {
            wanted: self.wanted(sex),
            places: self.setup.places.saturating_sub(stay.count()),
            to_come,
            spread,
        };
        let choices = choose::choose(&values, &need);
        decision.line[sex] = line_value(&values, &need);
        let mut free = self.free_places(&pool, &choices);
        for (one, choice) in pool.iter().zip(&choices) {
            match (one.whence, choice) {
                (Whence::Tub(_), Choice::Hold) | (Whence::Stays(_), _) => {}
                (Whence::Tub(place), choice) => decision.from_tub.push(FromTub {
                    sex,
                    place,
                    keep: *choice == Choice::Keep,
                }),
                (Whence::Cup(at), choice) => {
                    let judged = &mut decision.animals[at];
                    judged.verdict = match choice {
                        Choice::Keep => Verdict::Keep,
                        Choice::Hold => Verdict::Hold(free.remove(0)),
                        Choice::MoveOut => Verdict::MoveOut,
                    };
                    judged.look_twice = *choice != Choice::Hold
                        && decision.line[sex].is_some_and(|line| is_open(one.worth, line));
                }
            }
        }
    }

    fn pool(&self, sex: usize, cup: &Cup, decision: &Decision) -> Vec<Candidate> {
        let in_tub = self.tub[sex].iter().map(|held| Candidate {
            worth: Measured::new(held.worth, 0.0),
            whence: if held.cup == self.cups {
                Whence::Stays(held.place)
            } else {
                Whence::Tub(held.place)
            },
        });
        let in_cup = cup.animals.iter().enumerate().filter_map(|(at, animal)| {
            let worth = *animal.worth.as_ref().ok()?;
            let open = side(animal.sex) == Some(sex) && !decision.animals[at].done;
            open.then_some(Candidate {
                worth,
                whence: Whence::Cup(at),
            })
        });
        in_tub.chain(in_cup).collect()
    }

    /// Places of the tub that are free once those have left it that leave it now, lowest first.
    fn free_places(&self, pool: &[Candidate], choices: &[Choice]) -> Vec<u32> {
        let stays = |place: u32| {
            pool.iter()
                .zip(choices)
                .any(|(one, choice)| match one.whence {
                    Whence::Tub(at) => at == place && *choice == Choice::Hold,
                    Whence::Stays(at) => at == place,
                    Whence::Cup(_) => false,
                })
        };
        (1..=self.setup.places as u32)
            .filter(|place| !stays(*place))
            .collect()
    }

    /// Enters a cup as it was decided. Decisions are kept, never made again: the animals have been moved by then.
    pub fn enter(&mut self, cup: &Cup, decision: &Decision) {
        self.notice(cup);
        self.move_animals(cup, decision);
    }

    fn move_animals(&mut self, cup: &Cup, decision: &Decision) {
        for left in &decision.from_tub {
            self.tub[left.sex].retain(|held| held.place != left.place);
            let count = &mut self.counts[left.sex];
            *if left.keep {
                &mut count.kept
            } else {
                &mut count.moved_out
            } += 1;
        }
        for judged in &decision.animals {
            let worth = cup
                .animals
                .iter()
                .find(|a| a.no == judged.no)
                .map(|a| &a.worth);
            match (judged.verdict, side(judged.sex), worth) {
                (Verdict::Keep, Some(sex), _) => self.counts[sex].kept += 1,
                (Verdict::Hold(place), Some(sex), Some(Ok(worth))) => self.tub[sex].push(InTub {
                    place,
                    cup: self.cups,
                    no: judged.no,
                    worth: worth.value,
                }),
                (Verdict::MoveOut, Some(sex), _) => self.counts[sex].moved_out += 1,
                _ => self.back += 1,
            }
        }
    }

    /// The tank is empty, or the keeper stops: who of the tub is kept. Entered as a cup without animals.
    pub fn finish(&self) -> Decision {
        self.decide(&Cup {
            last: true,
            ..Cup::default()
        })
    }
}

/// One of those among whom is chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Candidate {
    worth: Measured,
    whence: Whence,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Whence {
    Tub(u32),
    /// In the tub from this very cup, until the next one.
    Stays(u32),
    Cup(usize),
}

/// The verdict before any line is laid: back to the tank, but an off-type animal leaves the breeding group.
fn set_aside(animal: &CupAnimal) -> Judged {
    let off_type = animal.worth == Err(SetAside::OffType);
    Judged {
        no: animal.no,
        sex: animal.sex,
        verdict: if off_type {
            Verdict::MoveOut
        } else {
            Verdict::Back
        },
        look_twice: animal.worth.as_ref().err().is_some_and(SetAside::may_turn),
        done: false,
    }
}

/// The worth at which an animal is as good kept as moved out.
fn line_value(pool: &[f64], need: &choose::Need<'_>) -> Option<f64> {
    let spread = need.spread.filter(|_| need.to_come.expected > 0.0);
    let Some(spread) = spread else {
        let (last, next) = (need.wanted.checked_sub(1)?, need.wanted);
        return Some((pool.get(last)? + pool.get(next)?) / 2.0);
    };
    let line = choose::rank_of_line(pool, need.wanted, need.to_come.expected, spread);
    let share = (need.wanted as f64 - line as f64) / need.to_come.expected;
    (share < 1.0).then(|| spread.value_above_which(share))
}

/// True where the reading leaves open on which side of the line the animal stands.
fn is_open(worth: Measured, line: f64) -> bool {
    use statrs::distribution::{ContinuousCDF, Normal};
    let away = (worth.value - line).abs();
    worth.uncertainty > 0.0 && Normal::standard().sf(away / worth.uncertainty) >= LOOK_TWICE_FROM
}
