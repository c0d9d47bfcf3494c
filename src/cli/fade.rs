//! `catchcup fade`: how fast a scoop pales in the cup.

use anyhow::Result;
use catchcup::error::Error;
use catchcup::report::fade::fade_lines;
use catchcup::report::fade_json;
use catchcup::report::text::closing;
use catchcup::scoop::minutes::{in_cup, minutes_apart};
use catchcup::scoop::{Netted, Scoop};
use catchcup::trends::{Timed, fade, sightings};

use super::args::FadeArgs;
use super::output::Out;
use super::steady::scoops_of;

/// Fits the fading; true where all photos could be read.
///
/// # Errors
/// Where the photos' times are not known, fewer than two photos could be read, options, house or rules are wrong, or the
/// output can't be written.
pub fn run(args: &FadeArgs, out: &mut Out) -> Result<bool> {
    let (scoops, all_read) = scoops_of(&args.shot, args.json, out)?;
    if args.minutes.is_some() && !all_read {
        return Err(wrong_times(
            "some photo could not be read, so --minutes can't be matched with the rest",
            "leave that photo and its minutes out",
        )
        .into());
    }
    let minutes = times(args, &scoops)?;
    let files: Vec<&str> = scoops.iter().map(|s| s.photo.file.as_str()).collect();
    let photos: Vec<Timed> = scoops
        .iter()
        .zip(minutes)
        .map(|(scoop, minutes)| Timed {
            minutes,
            animals: sightings(scoop),
        })
        .collect();
    let since_netting = args.minutes.is_some() || args.netted.is_some();
    let found = fade(&photos, args.loss / 100.0);
    if args.json {
        out.line(&fade_json(&files, &photos, since_netting, &found))?;
    } else {
        out.lines(&fade_lines(&files, &photos, since_netting, &found))?;
        out.lines(&closing(false))?;
    }
    Ok(all_read)
}

/// Minutes of each photo: as said, by the clock since the netting, or since the first photo.
fn times(args: &FadeArgs, scoops: &[Scoop]) -> Result<Vec<f64>> {
    if let Some(minutes) = &args.minutes {
        if minutes.len() != scoops.len() {
            let what = format!(
                "{} times were given for {} photos",
                minutes.len(),
                scoops.len()
            );
            return Err(wrong_times(
                &what,
                "give one time for each photo, in the order of the photos",
            )
            .into());
        }
        return Ok(minutes.clone());
    }
    let netted = args.netted.map_or(Netted::Unknown, Netted::At);
    scoops
        .iter()
        .map(|scoop| time(scoop, netted, &scoops[0]))
        .collect()
}

fn time(scoop: &Scoop, netted: Netted, first: &Scoop) -> Result<f64> {
    let file = &scoop.photo.file;
    let cure = "give the minutes yourself: --minutes 1,3,5, one for each photo";
    if netted == Netted::Unknown {
        return minutes_apart(&first.photo.capture, &scoop.photo.capture).ok_or_else(|| {
            wrong_times(&format!("{file} does not say when it was taken, or was taken long before or after the first"), cure).into()
        });
    }
    let found = in_cup(netted, &scoop.photo.capture);
    found.seconds.map(|s| f64::from(s) / 60.0).ok_or_else(|| {
        let why = found.doubt.map_or_else(String::new, |d| d.message);
        wrong_times(&format!("{file}: {why}"), cure).into()
    })
}

fn wrong_times(what: &str, cure: &str) -> Error {
    Error::photo("times_unknown", what, cure)
}
