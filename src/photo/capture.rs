//! What the camera noted: time, camera and exposure, all optional. Places, owners and serial numbers are never read.

use exif::{Exif, In, Reader, Tag, Value};

use super::capture_size;
use super::orientation::Orientation;

/// Longest camera name that is kept, in characters (house rule: a line of the report).
const NAME_LIMIT: usize = 64;

/// What the camera noted about the shot. `None` where the file does not say or says nonsense.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CaptureInfo {
    /// Time of the shot by the camera's clock, ISO 8601 without zone, for example `2026-01-01T08:30:39`.
    pub taken_at: Option<String>,
    /// Maker and model.
    pub camera: Option<String>,
    /// Exposure time in seconds, above 0.
    pub exposure_s: Option<f64>,
    /// Focal length over aperture, above 0.
    pub f_number: Option<f64>,
    /// Sensitivity, ISO.
    pub iso: Option<u32>,
    /// True when the flash fired.
    pub flash: Option<bool>,
    /// True when the white balance was set by hand, false when automatic.
    pub white_balance_by_hand: Option<bool>,
    /// What the camera says it did to the picture beyond the usual.
    pub processing: Option<Processing>,
}

/// Processing that can change colours from place to place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Processing {
    /// Several exposures merged.
    Hdr,
    /// Background blurred (portrait mode).
    Blurred,
    /// Several photos stitched.
    Panorama,
    /// Night scene mode.
    Night,
    /// Said without saying what.
    Custom,
}

/// Capture data and orientation from the TIFF block of an EXIF segment; nothing and upright when it can't be read.
///
/// Malformed blocks give what could be read before the fault, blocks larger than any camera writes nothing.
pub fn read(tiff: Option<&[u8]>) -> (CaptureInfo, Orientation) {
    let Some(exif) = tiff.filter(|t| capture_size::is_small(t)).and_then(parse) else {
        return (CaptureInfo::default(), Orientation::default());
    };
    let orientation = uint(&exif, Tag::Orientation).unwrap_or(1);
    (capture_info(&exif), Orientation::from_exif(orientation))
}

/// The orientation's value in that block, as it stands there; `None` where there is none.
pub(super) fn orientation_value(tiff: &[u8]) -> Option<u16> {
    let value = uint(&parse(tiff)?, Tag::Orientation)?;
    u16::try_from(value).ok()
}

fn parse(tiff: &[u8]) -> Option<Exif> {
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    match reader.read_raw(tiff.to_vec()) {
        Ok(exif) => Some(exif),
        Err(exif::Error::PartialResult(partial)) => Some(partial.into_inner().0),
        Err(_) => None,
    }
}

fn capture_info(exif: &Exif) -> CaptureInfo {
    CaptureInfo {
        taken_at: text(exif, Tag::DateTimeOriginal)
            .and_then(|s| iso_time(&s))
            .or_else(|| text(exif, Tag::DateTime).and_then(|s| iso_time(&s))),
        camera: camera_name(text(exif, Tag::Make), text(exif, Tag::Model)),
        exposure_s: positive(exif, Tag::ExposureTime),
        f_number: positive(exif, Tag::FNumber),
        iso: uint(exif, Tag::PhotographicSensitivity).filter(|&iso| iso > 0),
        flash: uint(exif, Tag::Flash).map(|bits| bits & 1 == 1),
        white_balance_by_hand: uint(exif, Tag::WhiteBalance).map(|value| value == 1),
        processing: processing(
            uint(exif, Tag::CustomRendered),
            uint(exif, Tag::SceneCaptureType),
        ),
    }
}

/// CustomRendered: 1 is the standard's "custom process" [EXIF]; 2, 3, 6, 7 and 8 are what phones write beyond the
/// standard (published in a phone system's developer reference as FigExifCustomRenderedValue; 4 and 9 mark the untouched
/// original beside a processed picture). SceneCaptureType 3 is the standard's night scene.
fn processing(rendered: Option<u32>, scene: Option<u32>) -> Option<Processing> {
    match (rendered, scene) {
        (Some(1), _) => Some(Processing::Custom),
        (Some(2 | 3), _) => Some(Processing::Hdr),
        (Some(6), _) => Some(Processing::Panorama),
        (Some(7 | 8), _) => Some(Processing::Blurred),
        (_, Some(3)) => Some(Processing::Night),
        _ => None,
    }
}

fn uint(exif: &Exif, tag: Tag) -> Option<u32> {
    exif.get_field(tag, In::PRIMARY)?.value.get_uint(0)
}

fn positive(exif: &Exif, tag: Tag) -> Option<f64> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(v) => v
            .first()
            .map(|r| r.to_f64())
            .filter(|x| x.is_finite() && *x > 0.0),
        _ => None,
    }
}

fn text(exif: &Exif, tag: Tag) -> Option<String> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Ascii(parts) => {
            let clean = clean_text(&String::from_utf8_lossy(parts.first()?));
            (!clean.is_empty()).then_some(clean)
        }
        _ => None,
    }
}

/// One line without control characters, outer blanks or runs of blanks, at most [`NAME_LIMIT`] characters.
pub(super) fn clean_text(raw: &str) -> String {
    let printable: String = raw
        .chars()
        .map(|c| {
            if c.is_control() || c == char::REPLACEMENT_CHARACTER {
                ' '
            } else {
                c
            }
        })
        .collect();
    let joined = printable.split_whitespace().collect::<Vec<_>>().join(" ");
    joined.chars().take(NAME_LIMIT).collect()
}

fn camera_name(make: Option<String>, model: Option<String>) -> Option<String> {
    match (make, model) {
        (Some(make), Some(model)) if model.to_lowercase().starts_with(&make.to_lowercase()) => {
            Some(model)
        }
        (Some(make), Some(model)) => Some(format!("{make} {model}")),
        (make, model) => model.or(make),
    }
}

/// `2026:01:01 08:30:39` to `2026-01-01T08:30:39`; `None` for anything that is no time of the calendar.
fn iso_time(exif_time: &str) -> Option<String> {
    let t = exif::DateTime::from_ascii(exif_time.as_bytes()).ok()?;
    let leap = t.year % 4 == 0 && (t.year % 100 != 0 || t.year % 400 == 0);
    let days = match t.month {
        4 | 6 | 9 | 11 => 30,
        2 => 28 + u8::from(leap),
        1..=12 => 31,
        _ => return None,
    };
    let valid =
        t.year > 0 && (1..=days).contains(&t.day) && t.hour < 24 && t.minute < 60 && t.second <= 60;
    valid.then(|| {
        format!(
            "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}",
            t.year, t.month, t.day, t.hour, t.minute, t.second
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_the_calendar_only() {
        assert_eq!(
            iso_time("2026:02:28 08:30:39").as_deref(),
            Some("2026-02-28T08:30:39")
        );
        for bad in [
            "2026:02:29 08:30:39",
            "0000:00:00 00:00:00",
            "2026:13:01 00:00:00",
            "    :  :     :  :  ",
            "",
        ] {
            assert_eq!(iso_time(bad), None, "{bad}");
        }
    }

    #[test]
    fn maker_is_not_said_twice() {
        let name = |a: &str, b: &str| camera_name(Some(a.into()), Some(b.into()));
        assert_eq!(name("Acme", "ACME One").as_deref(), Some("ACME One"));
        assert_eq!(name("Acme", "One").as_deref(), Some("Acme One"));
    }

    #[test]
    fn processing_that_the_camera_admits() {
        assert_eq!(processing(Some(2), None), Some(Processing::Hdr));
        assert_eq!(processing(Some(8), Some(2)), Some(Processing::Blurred));
        assert_eq!(processing(None, Some(3)), Some(Processing::Night));
        for untouched in [None, Some(0), Some(4), Some(9), Some(77)] {
            assert_eq!(processing(untouched, Some(0)), None, "{untouched:?}");
        }
    }
}
