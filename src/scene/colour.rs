//! What colours in a photo are measured against: a chart, a remembered light, the cup's own record, or a white in view.

use super::chart::published::ChartSet;
use super::correction::Correction;
use crate::doubt::Note;

/// Where absolute colour comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColourFrom {
    /// A chart in this photo.
    Chart,
    /// A chart photographed before in the same light.
    RememberedLight,
    /// The cup's floor, whose colour was measured once.
    CupRecord,
}

/// A white thing in view of a dark cup.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhiteFrom {
    /// A white card beside or in the cup.
    Card,
    /// The cup's white rim.
    Rim,
}

/// The colour of the setting: linear light as the photo has it, sRGB primaries.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct SceneColour {
    /// Typical light of the ground; all zero where nothing is searched.
    pub floor: [f64; 3],
    /// From the photo's light to absolute colour, and where it comes from.
    pub correction: Option<(Correction, ColourFrom)>,
    /// Light of a white in view, looked for on dark ground only.
    pub white: Option<([f64; 3], WhiteFrom)>,
}

/// A correction measured before, with what is needed to use it in another photo of the same light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RememberedLight {
    /// The correction for the photo it was measured in.
    pub correction: Correction,
    /// Typical light of the ground in that photo: tells exposure and white balance of the two photos apart.
    pub floor: [f64; 3],
    /// Day it was measured, counted from 1 January 1970; `None` = not known.
    pub day: Option<i64>,
}

/// What the house knows of colours.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct ColourSpec {
    /// Light that the cup's floor gives back, red, green, blue, perfect white = 1.
    pub cup_floor: Option<[f64; 3]>,
    /// Distance of the chart's patches, millimetres from middle to middle.
    pub chart_pitch_mm: Option<f64>,
    /// Published values the chart was printed to; `None` = those that fit better.
    pub chart_set: Option<ChartSet>,
    /// The light remembered by the house.
    pub light: Option<RememberedLight>,
}

/// A remembered light whose white differs so much between channels was another light (house rule; the same lamp through
/// another automatic white balance stays within it).
const SAME_LIGHT: f64 = 1.6;
/// Days after which a remembered light is doubted (house rule: lamps age and get moved).
const LIGHT_DAYS: i64 = 60;

impl RememberedLight {
    /// The correction for a photo whose ground shows the light `floor`.
    pub fn correction_for(&self, floor: [f64; 3]) -> Option<Correction> {
        let seen = |v: &[f64; 3]| v.iter().all(|v| *v > 1e-4);
        (seen(&self.floor) && seen(&floor)).then(|| self.correction.after(self.factor(floor)))
    }

    fn factor(&self, floor: [f64; 3]) -> [f64; 3] {
        std::array::from_fn(|c| floor[c] / self.floor[c])
    }

    /// Why the correction may not hold for a photo of this ground, taken on `day`.
    pub fn doubts(&self, floor: [f64; 3], day: Option<i64>) -> Vec<Note> {
        let mut out = Vec::new();
        let factor = self.factor(floor);
        let most = factor.iter().copied().fold(0.0, f64::max);
        let least = factor.iter().copied().fold(f64::INFINITY, f64::min);
        if most > SAME_LIGHT * least {
            out.push(Note::new(
                "light_changed",
                format!(
                    "the ground is {:.0} % more coloured than when this light was measured",
                    100.0 * (most / least - 1.0)
                ),
                "measure the light again with the chart: catchcup light add",
            ));
        }
        match (self.day, day) {
            (Some(then), Some(now)) if now < then => out.push(Note::new(
                "light_age_unknown",
                "by the camera's clock the photo is older than the measuring of its light",
                "set the camera's clock, or measure the light again: catchcup light add",
            )),
            (Some(then), Some(now)) if now - then > LIGHT_DAYS => out.push(Note::new(
                "light_old",
                format!(
                    "the light was measured {} days before, {LIGHT_DAYS} at most are trusted",
                    now - then
                ),
                "photograph the chart again in this light: catchcup light add",
            )),
            (Some(_), Some(_)) => {}
            _ => out.push(Note::new(
                "light_age_unknown",
                "it is not known how long ago this light was measured",
                "give photos as the camera saved them, with their time",
            )),
        }
        out
    }
}

/// The correction that gives a ground of known colour that colour: a gain for each channel, as a camera's own white balance.
/// `None` where the ground has no light.
///
/// # Source
/// [vonKries1902], in the channels of the photo.
pub(super) fn white_of(known: [f64; 3], seen: [f64; 3]) -> Option<Correction> {
    let lit = seen.iter().chain(&known).all(|v| *v > 1e-4);
    let gain = |c: usize| known[c] / seen[c];
    lit.then(|| {
        Correction::Linear([
            [gain(0), 0.0, 0.0],
            [0.0, gain(1), 0.0],
            [0.0, 0.0, gain(2)],
        ])
    })
}

/// Day of a time such as `2026-01-01T08:30:39`, counted from 1 January 1970; `None` where it is no such time.
///
/// # Source
/// Gregorian calendar [ISO8601]: years counted from March, so that the leap day comes last.
pub fn day_number(time: &str) -> Option<i64> {
    let mut parts = time.get(..10)?.split('-').map(str::parse::<i64>);
    let (year, month, day) = (
        parts.next()?.ok()?,
        parts.next()?.ok()?,
        parts.next()?.ok()?,
    );
    if !(1..=12).contains(&month) || !(1..=31).contains(&day) {
        return None;
    }
    let from_march = (month + 9) % 12;
    let year = year - i64::from(month <= 2);
    let leaps = year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    Some(365 * year + leaps + (153 * from_march + 2) / 5 + day - 1 - 719_468)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Known days: the count's own start, a leap day, and the two days about it.
    #[test]
    fn days_are_counted() {
        assert_eq!(day_number("1970-01-01T00:00:00"), Some(0));
        assert_eq!(day_number("2000-03-01"), Some(11_017));
        let days = ["2024-02-28", "2024-02-29", "2024-03-01"].map(day_number);
        assert_eq!(days[2].zip(days[0]).map(|(a, b)| a - b), Some(2));
        assert_eq!(days[1].zip(days[0]).map(|(a, b)| a - b), Some(1));
        for wrong in ["", "2024", "2024-13-01", "xxxx-01-01", "2024-02-2"] {
            assert_eq!(day_number(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn an_old_or_another_light_is_doubted() {
        let light = RememberedLight {
            correction: Correction::Linear(crate::colour::IDENTITY),
            floor: [0.5, 0.5, 0.5],
            day: Some(100),
        };
        let codes =
            |floor, day| -> Vec<&str> { light.doubts(floor, day).iter().map(|n| n.code).collect() };
        assert!(codes([0.3, 0.3, 0.32], Some(130)).is_empty());
        assert_eq!(codes([0.3, 0.3, 0.3], Some(161)), ["light_old"]);
        assert_eq!(codes([0.6, 0.4, 0.3], Some(101)), ["light_changed"]);
        assert_eq!(codes([0.5; 3], None), ["light_age_unknown"]);
        assert_eq!(codes([0.5; 3], Some(99)), ["light_age_unknown"]);
        let half = light.correction_for([0.25; 3]).expect("both are lit");
        assert_eq!(half.apply([0.25; 3]), [0.5; 3]);
    }
}
