//! What the house knows of colours, as the library takes it.

use anyhow::Result;
use catchcup::scene::ColourSpec;

use super::house::House;
use super::kept::{self, KeptCup};

/// The cup named on the command line or in the house file, as measured.
pub fn cup(said: Option<&str>, house: &House) -> Result<Option<KeptCup>> {
    let Some(name) = said.or(house.cup.as_deref()) else {
        return Ok(None);
    };
    kept::named(kept::cups(&house.folder)?, "cup", name).map(Some)
}

/// Cup, chart, and the light named on the command line or in the house file.
pub fn spec(said: Option<&str>, house: &House, cup: Option<&KeptCup>) -> Result<ColourSpec> {
    let light = said.or(house.light.as_deref());
    let light = light
        .map(|name| kept::named(kept::lights(&house.folder)?, "light", name))
        .transpose()?;
    Ok(ColourSpec {
        cup_floor: cup.map(|cup| cup.floor),
        light: light.map(|kept| kept.light),
        ..chart(house)
    })
}

/// The house's chart alone.
pub fn chart(house: &House) -> ColourSpec {
    ColourSpec {
        chart_pitch_mm: house.chart_pitch_mm,
        chart_set: house.chart_values,
        ..ColourSpec::default()
    }
}
