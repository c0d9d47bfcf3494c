//! What must be told the moment a scoop is filed, before any trend.

use super::kept::KeptAnimal;

/// From this share of off-type animals on, the scoop does not look like the tank's line: rather the wrong tank than so many
/// strangers at once (house rule).
const WRONG_TANK_SHARE: f64 = 0.5;

/// Off-type animals below this number say nothing about the tank (house rule: one stray animal is an off-type alarm).
const WRONG_TANK_LEAST: usize = 2;

/// How a scoop's colours stand to the line it was graded as.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColourCheck {
    /// Animals on the ladder or off-type.
    pub judged: usize,
    /// Numbers of the off-type ones.
    pub off_type: Vec<u32>,
}

impl ColourCheck {
    /// Looks at the animals of a scoop that was graded as the line of its tank.
    pub fn of(animals: &[KeptAnimal]) -> Self {
        let off = animals.iter().filter(|animal| animal.is_off_type());
        Self {
            judged: animals.iter().filter(|animal| animal.is_judged()).count(),
            off_type: off.map(|animal| animal.no).collect(),
        }
    }

    /// True where so many are off-type that the scoop may belong to another tank.
    pub fn may_be_the_wrong_tank(&self) -> bool {
        let off = self.off_type.len();
        off >= WRONG_TANK_LEAST.min(self.judged.max(1))
            && off as f64 >= WRONG_TANK_SHARE * self.judged as f64
    }
}

/// True where two scoops could be the same animals photographed twice: as many, one more or one less, and the sorted
/// lengths agree within three standard uncertainties for most of them.
pub fn could_be_the_same(a: &[KeptAnimal], b: &[KeptAnimal]) -> bool {
    if a.len().abs_diff(b.len()) > 1 {
        return false;
    }
    let sizes = |animals: &[KeptAnimal]| {
        let mut sizes: Vec<(f64, f64)> = animals
            .iter()
            .filter_map(|animal| animal.length_mm.map(|l| (l.value, l.uncertainty)))
            .collect();
        sizes.sort_by(|x, y| x.0.total_cmp(&y.0));
        sizes
    };
    let (a, b) = (sizes(a), sizes(b));
    if a.is_empty() || a.len() != b.len() {
        return true;
    }
    let agree = a
        .iter()
        .zip(&b)
        .filter(|((x, ux), (y, uy))| (x - y).abs() <= 3.0 * (ux * ux + uy * uy).sqrt().max(0.3));
    3 * agree.count() >= 2 * a.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ladder::Rung;
    use crate::units::Measured;

    fn animals(on: u32, off: u32) -> Vec<KeptAnimal> {
        (1..=on + off)
            .map(|no| KeptAnimal {
                rung: (no <= on).then_some(Rung::G0),
                off_ladder: (no > on).then(|| "off_type".into()),
                length_mm: Some(Measured::new(15.0 + f64::from(no), 0.3)),
                ..KeptAnimal::blank(no)
            })
            .collect()
    }

    #[test]
    fn half_of_them_off_type_may_be_the_wrong_tank() {
        let check = |on, off| ColourCheck::of(&animals(on, off)).may_be_the_wrong_tank();
        assert!(check(0, 1) && check(0, 8) && check(4, 4) && check(2, 2));
        assert!(!check(8, 0) && !check(1, 1) && !check(5, 4) && !check(0, 0));
    }

    #[test]
    fn the_same_animals_have_the_same_sizes() {
        assert!(could_be_the_same(&animals(7, 0), &animals(7, 0)));
        assert!(could_be_the_same(&animals(7, 0), &animals(6, 0)));
        assert!(!could_be_the_same(&animals(7, 0), &animals(4, 0)));
        let mut larger = animals(7, 0);
        larger
            .iter_mut()
            .for_each(|a| a.length_mm = Some(Measured::new(30.0 + f64::from(a.no), 0.3)));
        assert!(!could_be_the_same(&animals(7, 0), &larger));
    }
}
