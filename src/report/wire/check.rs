//! The photo's verdict in the record.

use serde::Serialize;

use super::round;
use crate::scoop::check::{Answer, PhotoCheck, Reason};

#[derive(Serialize)]
pub(super) struct CheckObject<'a> {
    answer: &'static str,
    reasons: Vec<ReasonObject<'a>>,
    measures: MeasuresObject,
}

#[derive(Serialize)]
struct ReasonObject<'a> {
    answer: &'static str,
    code: &'a str,
    message: &'a str,
    hint: &'a str,
    coverage_error: Option<f64>,
}

#[derive(Serialize)]
struct MeasuresObject {
    blur: Option<f64>,
    shake: Option<f64>,
    soft: Option<f64>,
    soft_shake: Option<f64>,
    body_px: Option<f64>,
    noise: f64,
    grain: Option<f64>,
    ground_light: Option<f64>,
    neutrality: Option<f64>,
    clipped: f64,
    unevenness: f64,
    glare: f64,
    glare_on: Option<f64>,
    touching: Option<f64>,
    crowding: Option<f64>,
    filled: Option<f64>,
    slant: Option<f64>,
    jpeg_step: Option<f64>,
    second_cup: bool,
    obstacle: f64,
}

pub(super) fn check(check: &PhotoCheck) -> CheckObject<'_> {
    let m = &check.measures;
    let to = |value: Option<f64>, digits| value.map(|v| round(v, digits));
    CheckObject {
        answer: word(check.answer),
        reasons: check.reasons.iter().map(reason).collect(),
        measures: MeasuresObject {
            blur: to(m.blur, 4),
            shake: to(m.shake, 3),
            soft: to(m.soft, 4),
            soft_shake: to(m.soft_shake, 3),
            body_px: to(m.body_px, 1),
            noise: round(m.noise, 5),
            grain: to(m.grain, 5),
            ground_light: to(m.ground_light, 4),
            neutrality: to(m.neutrality, 4),
            clipped: round(m.clipped, 4),
            unevenness: round(m.unevenness, 3),
            glare: round(m.glare, 4),
            glare_on: to(m.glare_on, 4),
            touching: to(m.touching, 4),
            crowding: to(m.crowding, 4),
            filled: to(m.filled, 4),
            slant: to(m.slant, 4),
            jpeg_step: to(m.jpeg_step, 2),
            second_cup: m.second_cup,
            obstacle: round(m.obstacle, 4),
        },
    }
}

fn reason(reason: &Reason) -> ReasonObject<'_> {
    ReasonObject {
        answer: word(reason.answer),
        code: reason.note.code,
        message: &reason.note.message,
        hint: &reason.note.hint,
        coverage_error: reason.coverage_error.map(|e| round(e, 3)),
    }
}

fn word(answer: Answer) -> &'static str {
    match answer {
        Answer::Good => "good",
        Answer::Usable => "usable",
        Answer::ShootAgain => "shoot_again",
    }
}
