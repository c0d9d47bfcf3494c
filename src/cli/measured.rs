//! `catchcup cup` and `catchcup light`: what a house measures once with a chart or a grey card.

use std::path::Path;

use anyhow::Result;
use catchcup::colour;
use catchcup::error::Error;
use catchcup::photo::Photo;
use catchcup::report::text::closing;
use catchcup::report::words::floor_words;
use catchcup::scene::{ChartFit, CupSpec, Ground, RememberedLight, Scene, day_number, read_scene};

use super::colours;
use super::house::{self, House};
use super::kept::{self, KeptCup, KeptLight};
use super::measured_args::{CupAdd, CupCommand, LightAdd, LightCommand};
use super::output::Out;
use super::photos::{self, file_name};

/// `catchcup cup`.
pub fn cup(command: &CupCommand, out: &mut Out) -> Result<bool> {
    match command {
        CupCommand::Add(args) => add_cup(args, out)?,
        CupCommand::List { house, detail } => {
            let all = kept::cups(&house::read(house.as_deref())?.folder)?;
            for (name, cup) in &all {
                out.line(&cup_line(name, cup, *detail))?;
            }
            if all.is_empty() {
                out.line("no cups yet: catchcup cup add NAME PHOTO, with a chart or grey card in the photo")?;
            }
        }
    }
    Ok(true)
}

/// `catchcup light`.
pub fn light(command: &LightCommand, out: &mut Out) -> Result<bool> {
    match command {
        LightCommand::Add(args) => add_light(args, out)?,
        LightCommand::List { house } => {
            let all = kept::lights(&house::read(house.as_deref())?.folder)?;
            for (name, light) in &all {
                out.line(&light_line(name, light))?;
            }
            if all.is_empty() {
                out.line(
                    "no lights yet: catchcup light add NAME PHOTO, with a chart in the photo",
                )?;
            }
        }
    }
    Ok(true)
}

fn cup_line(name: &str, cup: &KeptCup, detail: bool) -> String {
    let mm = cup
        .floor_mm
        .map_or(String::new(), |mm| format!(", {mm} mm"));
    let floor = floor_words(colour::lab(cup.floor), detail);
    format!("{name}: floor {floor}, by {}{mm}", cup.from)
}

fn light_line(name: &str, light: &KeptLight) -> String {
    let day = light.measured.as_deref().unwrap_or("day not known");
    format!(
        "{name}: {day}, chart colours {:.1} off after correction (1 is hardly seen, 5 plainly)",
        light.de00_after
    )
}

fn add_cup(args: &CupAdd, out: &mut Out) -> Result<()> {
    let house = house::read(args.house.as_deref())?;
    let (photo, scene) = setting(&args.photo, args.cup_mm, &house)?;
    let (floor, from) = match args.card {
        Some(card) => (
            floor_by_card(&photo, &scene, card, args.card_reflects)?,
            "card",
        ),
        None => {
            let fit = chart_of(&scene)?;
            (fit.correction.apply(scene.colour.floor), "chart")
        }
    };
    let cup = KeptCup {
        floor_mm: args.cup_mm,
        floor: floor.map(|v| v.clamp(0.0, 4.0)),
        from: from.to_string(),
    };
    kept::keep_cup(&house.folder, &args.name, cup.clone())?;
    out.line(&cup_line(&args.name, &cup, args.detail))?;
    out.line(&format!(
        "say it with --cup {0}, or cup = \"{0}\" in house.toml",
        args.name
    ))?;
    Ok(())
}

fn add_light(args: &LightAdd, out: &mut Out) -> Result<()> {
    let house = house::read(args.house.as_deref())?;
    let (photo, scene) = setting(&args.photo, None, &house)?;
    let fit = chart_of(&scene)?;
    let measured = photo
        .capture
        .taken_at
        .as_ref()
        .and_then(|time| time.get(..10))
        .map(str::to_string);
    let light = KeptLight {
        de00_after: fit.de00_after,
        light: RememberedLight {
            correction: fit.correction,
            floor: scene.colour.floor,
            day: measured.as_deref().and_then(day_number),
        },
        measured,
    };
    kept::keep_light(&house.folder, &args.name, light.clone())?;
    out.line(&light_line(&args.name, &light))?;
    out.line(&format!(
        "say it with --light {0}, or light = \"{0}\" in house.toml",
        args.name
    ))?;
    out.lines(&closing(false))?;
    Ok(())
}

/// The photo with its setting; its white ground must have been found.
fn setting(path: &Path, floor_mm: Option<f64>, house: &House) -> Result<(Photo, Scene)> {
    let photo = Photo::from_bytes(&file_name(path), &photos::read(path)?)?;
    let spec = CupSpec {
        floor_mm,
        colour: colours::chart(house),
        ..CupSpec::default()
    };
    let scene = read_scene(&photo, &spec);
    if let Some(why) = scene.withheld.first() {
        return Err(Error::Photo(why.clone()).into());
    }
    debug_assert_eq!(scene.ground, Ground::White);
    Ok((photo, scene))
}

fn chart_of(scene: &Scene) -> Result<&ChartFit> {
    let fit = scene.chart.as_ref().and_then(|chart| chart.fit.as_ref());
    let why = scene
        .doubts
        .iter()
        .find(|note| note.code.starts_with("chart_"));
    fit.ok_or_else(|| match why {
        Some(note) => Error::Photo(note.clone()).into(),
        None => Error::photo(
            "no_chart",
            "no colour chart was seen in the photo, the classic one of 24 patches was expected",
            "photograph the empty cup with the whole chart beside it",
        )
        .into(),
    })
}

/// Colour of the floor beside a card of known, neutral reflectance in this box of the photo.
fn floor_by_card(
    photo: &Photo,
    scene: &Scene,
    [x, y, w, h]: [usize; 4],
    reflects: f64,
) -> Result<[f64; 3]> {
    let card = photo.crop(x, y, w, h);
    let n = card.width * card.height;
    let mean =
        |c: usize| card.planes[c].iter().map(|v| f64::from(*v)).sum::<f64>() / n.max(1) as f64;
    let light = [mean(0), mean(1), mean(2)];
    if n == 0 || light.iter().any(|v| !(0.005..0.98).contains(v)) {
        return Err(Error::photo(
            "no_card",
            format!("in the box {x},{y},{w},{h} no evenly lit card is seen"),
            "give the box of the card in pixels of the upright photo: --card X,Y,WIDTH,HEIGHT",
        )
        .into());
    }
    Ok(std::array::from_fn(|c| {
        reflects * scene.colour.floor[c] / light[c]
    }))
}
