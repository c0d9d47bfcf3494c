//! What becomes of animals that only one of two photos of a cup shows. The keeper says; unless they do, nothing is lost.

/// What became of an animal of the photo before that this one does not show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gone {
    /// It is still in the cup; its first reading counts.
    InCup,
    /// It was moved already, as it was told then: that stands.
    Moved,
    /// It was no animal, or is not this cup's: it counts no more.
    NoAnimal,
    /// It is the animal of this number here: both readings count.
    Here(u32),
}

/// What the keeper says of two photos of a cup.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Said {
    /// By number in the photo before.
    pub gone: Vec<(u32, Gone)>,
    /// By number in this photo; true for an animal.
    pub new: Vec<(u32, bool)>,
    /// True where it is the same cup, though most animals are not known again.
    pub same_cup: bool,
}

impl Said {
    /// What is said of an animal of the photo before.
    pub fn of_gone(&self, no: u32) -> Option<Gone> {
        let said = self.gone.iter().rev().find(|(said, _)| *said == no);
        said.map(|(_, what)| *what)
    }

    /// What is said of an animal of this photo: true for an animal, false for none. One that is told to be an animal of the
    /// photo before is one.
    pub fn of_new(&self, no: u32) -> Option<bool> {
        let here = self.gone.iter().any(|(_, what)| *what == Gone::Here(no));
        let said = self.new.iter().rev().find(|(said, _)| *said == no);
        said.map(|(_, is_animal)| *is_animal)
            .or(here.then_some(true))
    }
}

/// An animal of the photo before that this one does not show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Vanished {
    /// Its number in the photo before.
    pub no_before: u32,
    /// Its number in the cup now; `None` where it counts no more.
    pub no: Option<u32>,
    /// What became of it.
    pub what: Gone,
    /// True where the keeper said so; false where it is kept in the cup so that nothing is lost.
    pub is_said: bool,
}

/// An animal of this photo that the one before does not show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Appeared {
    /// Its number.
    pub no: u32,
    /// True where it counts as an animal.
    pub is_animal: bool,
    /// True where the keeper said so.
    pub is_said: bool,
}

/// How two photos of a cup go together.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TwoPhotos {
    /// Animals known again: the mean of both readings counts.
    pub known: usize,
    /// Animals that are likely known again: this photo's reading counts.
    pub likely: usize,
    /// Numbers in the cup before and in this photo of each animal known or likely known again, by the new ones.
    pub renumbered: Vec<(u32, u32)>,
    /// Animals of the photo before that this one does not show.
    pub gone: Vec<Vanished>,
    /// Animals of this photo that the one before does not show.
    pub new: Vec<Appeared>,
}
