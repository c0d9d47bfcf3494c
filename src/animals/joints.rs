//! Pieces of one animal put together: in line with each other, or a tail fan ahead of a body.

use super::blobs::Blob;
use super::candidates::{Path, USUAL_LENGTH};
use super::field::Field;
use super::ribbon::{distance, resampled};
use super::thinning::path_length;

/// Collinear pieces that may be one body (a clear middle may show no evidence), joined: pairs, and triples through them.
pub(super) fn joints(pieces: &[Path], u: f32) -> Vec<Path> {
    let mut out: Vec<Path> = Vec::new();
    for i in 0..pieces.len() {
        for j in i + 1..pieces.len() {
            let Some((_, path)) = joint(&pieces[i], &pieces[j], u) else {
                continue;
            };
            for third in &pieces[j + 1..] {
                if let Some((_, longer)) = joint(&path, third, u) {
                    out.push(longer);
                }
            }
            out.push(path);
        }
    }
    out
}

/// A blob too short for an axis of its own: a tail fan behind a clear stalk, or what is no animal at all.
pub(super) struct Dot {
    /// Its centre, fine pixels.
    centre: [f32; 2],
    /// Radius of the disc of its area, fine pixels.
    radius: f32,
}

impl Dot {
    /// The dot that a blob is.
    pub(super) fn of(blob: &Blob, field: &Field) -> Self {
        let w = blob.mask.width;
        let (mut sums, mut count) = ([0.0f64; 2], 0u32);
        for (i, _) in blob
            .mask
            .bits
            .iter()
            .enumerate()
            .filter(|(_, bit)| **bit > 0)
        {
            sums[0] += (i % w) as f64;
            sums[1] += (i / w) as f64;
            count += 1;
        }
        let coarse =
            [0, 1].map(|c| (sums[c] / f64::from(count.max(1))) as f32 + blob.origin[c] as f32);
        Self {
            centre: field.fine_of_coarse(coarse),
            radius: (blob.area as f32 / std::f32::consts::PI).sqrt() * field.coarse_step as f32,
        }
    }
}

/// Farthest that a tail fan's edge lies from the end of the evidence of its body, body units.
const STALK: f32 = 2.0;
/// Radius of a tail fan, at most, body units.
const LARGEST_FAN: f32 = 1.0;
/// A fan makes an animal whole: with it, it is a fifth longer than usual at most. Up to the length of joined pieces real heaps
/// lose animals (0.81 instead of 0.84 found), as dots ahead are mostly something else there; up to 9 some fans stay off.
const LONGEST_LED_ON: f32 = 1.2 * USUAL_LENGTH;

/// Pieces led on to the far side of a dot that lies ahead of one of their ends.
pub(super) fn tipped(pieces: &[Path], dots: &[Dot], u: f32) -> Vec<Path> {
    let fans = dots.iter().filter(|dot| dot.radius <= LARGEST_FAN * u);
    let ends = pieces
        .iter()
        .flat_map(|p| [false, true].map(|reverse| turned(p, reverse)));
    let ends: Vec<Path> = ends.collect();
    fans.flat_map(|dot| ends.iter().filter_map(|end| led_on(end, dot, u)))
        .collect()
}

/// The path and the dot's far side, where it lies ahead within reach and both are no longer than an animal.
fn led_on(path: &[[f32; 2]], dot: &Dot, u: f32) -> Option<Path> {
    let end = path[path.len() - 1];
    let far = distance(end, dot.centre);
    let ahead = heading(path, true, u);
    let to = [0, 1].map(|c| (dot.centre[c] - end[c]) / far.max(1e-6));
    let in_line = ahead[0] * to[0] + ahead[1] * to[1] >= MOST_TURN.to_radians().cos();
    let near = far - dot.radius <= STALK * u;
    let whole = path_length(path) + far + dot.radius;
    (in_line && near && far > dot.radius && whole <= LONGEST_LED_ON * u).then(|| {
        let tip = [0, 1].map(|c| dot.centre[c] + dot.radius * to[c]);
        path.iter().copied().chain([dot.centre, tip]).collect()
    })
}

/// Turn from piece to piece of one animal, at most, degrees.
const MOST_TURN: f32 = 42.0;
/// Longest animal that is put together of pieces, body units.
const LONGEST_JOINED: f32 = 10.5;

/// The cost and the joined path of two pieces that may be one animal: near, in line, not too long together.
fn joint(a: &[[f32; 2]], b: &[[f32; 2]], u: f32) -> Option<(f32, Vec<[f32; 2]>)> {
    let (la, lb) = (path_length(a), path_length(b));
    if la.min(lb) > 5.0 * u || la.max(lb) > 8.0 * u {
        return None;
    }
    let mut best: Option<(f32, Vec<[f32; 2]>)> = None;
    for (ra, rb) in [(false, false), (false, true), (true, false), (true, true)] {
        let (first, second) = (turned(a, ra), turned(b, rb));
        let (end, start) = (first[first.len() - 1], second[0]);
        let gap = distance(end, start);
        if gap > 3.4 * u || la + lb + gap > LONGEST_JOINED * u {
            continue;
        }
        let (da, db) = (heading(&first, true, u), heading(&second, false, u));
        let across = if gap > 0.5 * u {
            [(start[0] - end[0]) / gap, (start[1] - end[1]) / gap]
        } else {
            da
        };
        let angle = |p: [f32; 2], q: [f32; 2]| {
            (p[0] * q[0] + p[1] * q[1])
                .clamp(-1.0, 1.0)
                .acos()
                .to_degrees()
        };
        let worst = angle(da, across).max(angle(across, db)).max(angle(da, db));
        if worst > MOST_TURN {
            continue;
        }
        let cost = gap / u + worst / 20.0;
        if best.as_ref().is_none_or(|b| cost < b.0) {
            best = Some((cost, first.iter().chain(second.iter()).copied().collect()));
        }
    }
    best
}

fn turned(path: &[[f32; 2]], reverse: bool) -> Vec<[f32; 2]> {
    if reverse {
        path.iter().rev().copied().collect()
    } else {
        path.to_vec()
    }
}

/// Direction of travel at the end (or start) of a path over its last (first) body unit and a half.
fn heading(path: &[[f32; 2]], at_end: bool, u: f32) -> [f32; 2] {
    let even = resampled(path, u / 4.0);
    let k = 6.min(even.len() - 1);
    let (p, q) = if at_end {
        (even[even.len() - 1 - k], even[even.len() - 1])
    } else {
        (even[0], even[k])
    };
    let d = distance(p, q).max(1e-6);
    [(q[0] - p[0]) / d, (q[1] - p[1]) / d]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A straight piece of seven units, and a dot of half a unit's radius at that place.
    fn led_on_by(centre: [f32; 2]) -> Option<Path> {
        let u = 20.0;
        let piece: Path = (0..=70).map(|k| [k as f32 * 0.1 * u, 0.0]).collect();
        let dot = Dot {
            centre: centre.map(|v| v * u),
            radius: 0.5 * u,
        };
        led_on(&piece, &dot, u)
    }

    #[test]
    fn a_dot_ahead_of_a_piece_is_taken_for_its_fan() {
        let whole = led_on_by([8.2, 0.3]).expect("ahead, near");
        assert!((path_length(&whole) / 20.0 - 8.73).abs() < 0.1);
        assert!(led_on_by([8.0, 1.5]).is_none(), "aside");
        assert!(
            led_on_by([6.2, 0.0]).is_none(),
            "beside the piece, not ahead"
        );
        assert!(led_on_by([9.8, 0.0]).is_none(), "too far and too long");
    }

    #[test]
    fn large_dots_are_no_fans() {
        let piece: Path = vec![[0.0, 0.0], [100.0, 0.0]];
        let dot = |radius| Dot {
            centre: [120.0, 0.0],
            radius,
        };
        assert_eq!(
            tipped(std::slice::from_ref(&piece), &[dot(12.0)], 20.0).len(),
            1
        );
        assert!(tipped(&[piece], &[dot(30.0)], 20.0).is_empty());
    }
}
