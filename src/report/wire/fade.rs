//! Fading in the cup as JSON.

use serde::Serialize;

use super::round;
use super::steady::{PhotoObject, numbers, photo_objects};
use crate::trends::Sighting;
use crate::trends::fade::{Fade, Proposal, Timed};
use crate::trends::fading::{Course, Fading, TooFew};

/// Kind and version of the object.
pub const FADE_KIND: &str = "catchcup.fade/1";

#[derive(Serialize)]
struct FadeObject<'a> {
    schema: &'static str,
    minutes_since: &'static str,
    photos: Vec<PhotoObject<'a>>,
    minutes: Vec<f64>,
    animals: Vec<Vec<Option<u32>>>,
    measures: Vec<MeasureObject>,
    tolerated_loss: f64,
    proposal: ProposalObject,
}

#[derive(Serialize)]
struct MeasureObject {
    measure: &'static str,
    too_few: Option<TooFewObject>,
    fading: Option<FadingObject>,
}

#[derive(Serialize)]
struct TooFewObject {
    what: &'static str,
    found: usize,
}

#[derive(Serialize)]
struct FadingObject {
    course: &'static str,
    animals: usize,
    means: Vec<f64>,
    start: f64,
    per_minute: Option<f64>,
    change: Option<f64>,
    rate_per_minute: Option<f64>,
    losses: Vec<LossObject>,
}

#[derive(Serialize)]
struct LossObject {
    minutes: f64,
    loss: f64,
    uncertainty: f64,
    low: f64,
    high: f64,
}

#[derive(Serialize)]
struct ProposalObject {
    verdict: &'static str,
    minutes_aim: Option<f64>,
    minutes_warn: Option<f64>,
    minutes_stop: Option<f64>,
    until: Option<f64>,
}

/// Fading as one line of JSON: `files` and `photos` in the same order; `since_netting` as for the text.
pub fn fade_json(files: &[&str], photos: &[Timed], since_netting: bool, found: &Fade) -> String {
    let seen: Vec<Vec<Sighting>> = photos.iter().map(|p| p.animals.clone()).collect();
    let object = FadeObject {
        schema: FADE_KIND,
        minutes_since: if since_netting {
            "netting"
        } else {
            "first_photo"
        },
        photos: photo_objects(files, &seen, &found.matching),
        minutes: photos.iter().map(|p| round(p.minutes, 3)).collect(),
        animals: numbers(&seen, &found.matching),
        measures: found
            .measures
            .iter()
            .map(|(name, fading)| measure(name, fading))
            .collect(),
        tolerated_loss: round(found.tolerated, 4),
        proposal: proposal(&found.proposal),
    };
    serde_json::to_string(&object).expect("the object has text keys and finite numbers only")
}

fn measure(name: &'static str, found: &Result<Fading, TooFew>) -> MeasureObject {
    let too_few = found.as_ref().err().map(|few| match few {
        TooFew::Animals(found) => TooFewObject {
            what: "animals",
            found: *found,
        },
        TooFew::Times(found) => TooFewObject {
            what: "times",
            found: *found,
        },
    });
    MeasureObject {
        measure: name,
        too_few,
        fading: found.as_ref().ok().map(fading),
    }
}

fn fading(f: &Fading) -> FadingObject {
    let (course, start, per_minute, change, rate) = match f.course {
        Course::Steady(l) => ("line", l.start, Some(l.slope), None, None),
        Course::Levelling(c) => ("levelling", c.start, None, Some(c.change), Some(c.rate)),
    };
    FadingObject {
        course,
        animals: f.animals,
        means: f.means.iter().map(|m| round(*m, 4)).collect(),
        start: round(start, 4),
        per_minute: per_minute.map(|v| round(v, 5)),
        change: change.map(|v| round(v, 4)),
        rate_per_minute: rate.map(|v| round(v, 4)),
        losses: f.minutes.iter().map(|t| loss(f, *t)).collect(),
    }
}

fn loss(f: &Fading, minutes: f64) -> LossObject {
    let (loss, half) = f.loss(minutes);
    LossObject {
        minutes: round(minutes, 3),
        loss: round(loss.value, 4),
        uncertainty: round(loss.uncertainty, 4),
        low: round(loss.value - half, 4),
        high: round(loss.value + half, 4),
    }
}

fn proposal(proposal: &Proposal) -> ProposalObject {
    let plain = |verdict, until| ProposalObject {
        verdict,
        minutes_aim: None,
        minutes_warn: None,
        minutes_stop: None,
        until,
    };
    match proposal {
        Proposal::Unknown => plain("unknown", None),
        Proposal::NoneNeeded(until) => plain("none_needed", Some(round(*until, 2))),
        Proposal::Unsure(from) => plain("unsure", Some(round(*from, 2))),
        Proposal::Limits(rule) => ProposalObject {
            verdict: "limits",
            minutes_aim: Some(rule.aim),
            minutes_warn: Some(rule.warn),
            minutes_stop: Some(rule.stop),
            until: None,
        },
    }
}
