//! What a lot is worth by the house's own price list.

use super::money::Money;
use crate::ladder::Rung;
use crate::ladder::toml_text::{RulesError, Section, TomlText};
use crate::scoop::KeptAnimal;

/// Prices of a size class.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeClass {
    /// Its name.
    pub name: String,
    /// From this length on, millimetres.
    pub from_mm: f64,
    /// Price of an animal on each rung, G0 first; `None` = not sold.
    pub rungs: [Option<Money>; 6],
}

/// The house's price list.
#[derive(Debug, Clone, PartialEq)]
pub struct Prices {
    /// Currency, in the house's words.
    pub currency: String,
    /// Size classes, smallest first.
    pub sizes: Vec<SizeClass>,
    /// Class of animals whose length is not known, by its place in `sizes`.
    pub unknown_size: usize,
}

/// The price list in a text file.
///
/// # Errors
/// Where it is no price list, with place and cure.
pub fn load(file: &str, text: &str) -> Result<Prices, RulesError> {
    let source = TomlText { file, text };
    let table = source.parse()?;
    let keys = ["schema", "currency", "unknown_size", "size"];
    let top = Section::new(source, table.get_ref(), 0..0, "the price list", &keys)?;
    if top.need_text("schema")? != "catchcup.prices/1" {
        return Err(top.error(
            "schema",
            "this is no price list",
            "write schema = \"catchcup.prices/1\"",
        ));
    }
    let known = ["name", "from_mm", "G0", "G1", "G2", "G3", "G4", "G5"];
    let mut sizes = Vec::new();
    for section in top.sections("size", &known)? {
        sizes.push(size(&section)?);
    }
    let rising = sizes
        .windows(2)
        .all(|w: &[SizeClass]| w[0].from_mm < w[1].from_mm);
    if sizes.is_empty() || !rising {
        return Err(top.error(
            "size",
            "the sizes do not rise, or there is none",
            "write [[size]] parts with name and from_mm, smallest first",
        ));
    }
    let unknown = top.text("unknown_size")?;
    let at = match unknown {
        None => 0,
        Some(name) => sizes.iter().position(|s| s.name == name).ok_or_else(|| {
            top.error(
                "unknown_size",
                format!("`{name}` is no size of the list"),
                "name one of its sizes",
            )
        })?,
    };
    // All amounts get the same digits, so that sums and single prices look alike.
    let prices = sizes.iter().flat_map(|s| s.rungs.into_iter().flatten());
    let digits = prices.map(Money::digits).max().unwrap_or(0);
    for size in &mut sizes {
        size.rungs = size.rungs.map(|p| p.map(|money| money.with_digits(digits)));
    }
    Ok(Prices {
        currency: top.need_text("currency")?.to_string(),
        sizes,
        unknown_size: at,
    })
}

fn size(section: &Section<'_, '_>) -> Result<SizeClass, RulesError> {
    let mut rungs = [None; 6];
    for (slot, rung) in rungs.iter_mut().zip(Rung::all()) {
        let key = rung.to_string();
        *slot = match section.text(&key)? {
            None => None,
            Some(text) => Some(Money::read(text).ok_or_else(|| {
                section.error(
                    &key,
                    format!("`{text}` is no amount"),
                    "write it between quotes with a point: G4 = \"3.50\"",
                )
            })?),
        };
    }
    Ok(SizeClass {
        name: section.need_text("name")?.to_string(),
        from_mm: section.need_number("from_mm", 0.0, 100.0)?,
        rungs,
    })
}

impl Prices {
    /// Price of an animal of this length on this rung; `None` where it is not sold.
    pub fn price(&self, rung: Rung, length_mm: Option<f64>) -> Option<Money> {
        let at = match length_mm {
            None => Some(self.unknown_size),
            Some(mm) => self.sizes.iter().rposition(|size| mm >= size.from_mm),
        };
        self.sizes[at?].rungs[rung.index()]
    }
}

/// What animals are worth together.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Value {
    /// Animals with a price at their rung.
    pub priced: u32,
    /// Animals without: off the ladder, or not sold at their rung and size.
    pub unpriced: u32,
    /// Each at the rung of its point values.
    pub at_rung: Option<Money>,
    /// The undecided ones at their lower rung.
    pub low: Option<Money>,
    /// The undecided ones at their upper rung.
    pub high: Option<Money>,
}

/// Value of these animals, each by its rung and length.
pub fn value(prices: &Prices, animals: &[KeptAnimal]) -> Value {
    let of = |rung: Option<Rung>, animal: &KeptAnimal| -> Option<Money> {
        prices.price(rung?, animal.length_mm.map(|l| l.value))
    };
    let mut found = Value::default();
    let (mut at, mut low, mut high) = (Money::ZERO, Money::ZERO, Money::ZERO);
    for animal in animals {
        let own = of(animal.rung, animal).filter(|_| !animal.is_off_type());
        match own {
            Some(_) => found.priced += 1,
            None => found.unpriced += 1,
        }
        let own = own.unwrap_or(Money::ZERO);
        let ends = animal.between.filter(|_| !animal.is_off_type());
        let end = |rung| of(Some(rung), animal).unwrap_or(Money::ZERO);
        let (a, b) = ends.map_or((own, own), |(l, h)| (end(l), end(h)));
        at = at + own;
        low = low + least(own, a);
        high = high + most(own, b);
    }
    if found.priced > 0 {
        (found.at_rung, found.low, found.high) = (Some(at), Some(low), Some(high));
    }
    found
}

fn least(a: Money, b: Money) -> Money {
    if b < a { b } else { a }
}

fn most(a: Money, b: Money) -> Money {
    if b > a { b } else { a }
}

/// Value of a whole tank from scoops of it, with its range.
#[derive(Debug, Clone, PartialEq)]
pub struct TankValue {
    /// Animals in the tank, as counted or said.
    pub animals: u32,
    /// The mean price of the netted ones times that.
    pub value: Money,
    /// Lower and upper end, 95 %: scoops as drawn, animals of a scoop alike by the house's correlation.
    pub range: (Money, Money),
}

/// A tank's value from its netted animals; `None` below two of them or where none has a price.
///
/// Animals without a price count as nothing. The range is the mean's, with Student's t and the scoops' design effect
/// 1 + (m - 1) icc for scoops of mean size m.
///
/// # Source
/// [Kish1965] for the design effect.
pub fn tank_value(
    prices: &Prices,
    scoops: &[&[KeptAnimal]],
    icc: f64,
    animals: u32,
) -> Option<TankValue> {
    use statrs::distribution::{ContinuousCDF, StudentsT};
    let all: Vec<Money> = scoops
        .iter()
        .flat_map(|scoop| scoop.iter())
        .map(|a| {
            let own = a.rung.filter(|_| !a.is_off_type());
            own.and_then(|rung| prices.price(rung, a.length_mm.map(|l| l.value)))
                .unwrap_or(Money::ZERO)
        })
        .collect();
    let n = all.len();
    let sum: Money = all.iter().copied().sum();
    if n < 2 || sum <= Money::ZERO {
        return None;
    }
    let units: Vec<f64> = all
        .iter()
        .map(|m| m.with_digits(sum.digits()).units() as f64)
        .collect();
    let sd = crate::stats::standard_deviation(&units)?;
    let mean_size = n as f64 / scoops.len() as f64;
    let effect = 1.0 + (mean_size - 1.0).max(0.0) * icc;
    let t = StudentsT::new(0.0, 1.0, (n - 1) as f64)
        .ok()?
        .inverse_cdf(0.975);
    let half = t * sd * (effect / n as f64).sqrt() * f64::from(animals);
    let value = sum.part(u64::from(animals), n as u64);
    let half = Money::of_units(half.ceil() as i128, sum.digits());
    let low = value - half;
    Some(TankValue {
        animals,
        value,
        range: (
            if low.is_negative() {
                Money::of_units(0, sum.digits())
            } else {
                low
            },
            value + half,
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Measured;

    const LIST: &str = "schema = \"catchcup.prices/1\"\ncurrency = \"coins\"\nunknown_size = \"small\"\n\
        [[size]]\nname = \"small\"\nfrom_mm = 15\nG3 = \"1\"\nG4 = \"1.80\"\nG5 = \"3.20\"\n\
        [[size]]\nname = \"large\"\nfrom_mm = 22\nG4 = \"2.50\"\n";

    fn on(rung: usize, between: Option<(usize, usize)>, mm: Option<f64>) -> KeptAnimal {
        let at = |i| Rung::from_index(i).expect("a rung");
        KeptAnimal {
            rung: Some(at(rung)),
            between: between.map(|(a, b)| (at(a), at(b))),
            length_mm: mm.map(|value| Measured {
                value,
                uncertainty: 0.3,
            }),
            ..KeptAnimal::blank(1)
        }
    }

    /// By hand: 1.80 + 2.50 + (3.20, or 1.80 where undecided) and one that is not sold.
    #[test]
    fn a_lot_by_hand() {
        let prices = load("prices.toml", LIST).expect("a price list");
        let lot = [
            on(4, None, None),
            on(4, None, Some(23.0)),
            on(5, Some((4, 5)), Some(16.0)),
            on(3, None, Some(24.0)),
        ];
        let found = value(&prices, &lot);
        assert_eq!((found.priced, found.unpriced), (3, 1));
        let said =
            [found.at_rung, found.low, found.high].map(|m| m.expect("an amount").to_string());
        assert_eq!(said, ["7.50", "6.10", "7.50"]);
        assert_eq!(value(&prices, &[]).at_rung, None);
    }

    #[test]
    fn a_tank_from_scoops() {
        let prices = load("prices.toml", LIST).expect("a price list");
        let scoop: Vec<KeptAnimal> = (0..20).map(|i| on(3 + i % 2, None, Some(16.0))).collect();
        let found = tank_value(&prices, &[&scoop, &scoop], 0.05, 100).expect("a value");
        assert_eq!(found.value.to_string(), "140.00");
        let (low, high) = (found.range.0.to_string(), found.range.1.to_string());
        // sd 0.4051, design effect 1.95, t(39) 2.0227: half width 100 * 2.0227 * 0.4051 * sqrt(1.95 / 40) = 18.09.
        assert_eq!((low.as_str(), high.as_str()), ("121.90", "158.10"));
    }

    #[test]
    fn mistakes_are_told_with_their_place() {
        for (from, to) in [
            ("1.80", "1,80"),
            ("from_mm = 22", "from_mm = 15"),
            ("\"small\"\n[[", "\"tiny\"\n[["),
            ("prices/1", "ladder/1"),
        ] {
            let error = load("prices.toml", &LIST.replacen(from, to, 1)).expect_err(to);
            assert!(error.line > 0 && !error.hint.is_empty(), "{to}: {error}");
        }
    }
}
