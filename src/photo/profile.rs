//! The embedded colour profile as three curves and a matrix to linear light of sRGB primaries, never clipped.
//!
//! Wide-gamut reds leave 0..=1 on purpose: a transform that clips them would pale the reds that matter most.

use moxcms::{ColorProfile, DataColorSpace, ProfileText, ToneReprCurve, Xyzd};

use super::capture::clean_text;
use crate::colour::{self, Matrix3};
use crate::doubt::Note;

/// Largest profile that is read, in bytes (house rule: camera profiles have a few kilobytes).
const MAX_PROFILE_BYTES: usize = 4 << 20;
/// Two curves are the same when they differ by less than this in linear light (a quarter of an 8-bit level of white).
const SAME_CURVE: f64 = 1.0e-3;
/// Two matrices are the same when no coefficient differs by more (rounding of colorants in profiles is 1e-4 to 1e-3).
const SAME_MATRIX: f64 = 5.0e-3;

/// From stored bytes to linear light.
#[derive(Debug, Clone)]
pub struct ToLinear {
    /// Name for people: `sRGB`, `Display P3`, `Adobe RGB`, or the profile's own description.
    pub name: String,
    /// Linear light 0..=1 of each byte, by channel.
    pub curves: Box<[[f32; 256]; 3]>,
    /// Linear light of the profile's primaries to that of sRGB's; `None` when they are the same.
    pub matrix: Option<[[f32; 3]; 3]>,
    /// Set when the file's profile could not be used and sRGB was assumed.
    pub doubt: Option<Note>,
}

impl ToLinear {
    /// The sRGB curve and no matrix.
    ///
    /// # Source
    /// [IEC61966-2-1].
    pub fn srgb() -> Self {
        let curve = srgb_curve().map(|v| v as f32);
        Self {
            name: "sRGB".into(),
            curves: Box::new([curve; 3]),
            matrix: None,
            doubt: None,
        }
    }

    /// The transform for an embedded profile; sRGB when there is none, sRGB with a doubt when it can't be used.
    pub fn from_icc(icc: Option<&[u8]>) -> Self {
        let Some(icc) = icc else { return Self::srgb() };
        match from_profile(icc) {
            Ok(to_linear) => to_linear,
            Err(why) => Self {
                doubt: Some(unusable(why)),
                ..Self::srgb()
            },
        }
    }
}

fn unusable(why: &str) -> Note {
    Note::new(
        "profile_not_used",
        format!("the colour profile in the photo {why}; sRGB was assumed"),
        "colours may be off: set the camera to its standard colour mode, or export the photo as sRGB",
    )
}

fn from_profile(icc: &[u8]) -> Result<ToLinear, &'static str> {
    if icc.len() > MAX_PROFILE_BYTES {
        return Err("is too large");
    }
    let profile = ColorProfile::new_from_slice(icc).map_err(|_| "is damaged")?;
    if profile.color_space != DataColorSpace::Rgb {
        return Err("is not for red, green and blue");
    }
    let curves = [
        curve_of(profile.red_trc.as_ref())?,
        curve_of(profile.green_trc.as_ref())?,
        curve_of(profile.blue_trc.as_ref())?,
    ];
    let matrix = matrix_of(&profile)?;
    Ok(simplest(&profile, curves, matrix))
}

/// Known spaces get their plain name and exact curve; others keep their own description.
fn simplest(profile: &ColorProfile, curves: [[f64; 256]; 3], matrix: Matrix3) -> ToLinear {
    let srgb = srgb_curve();
    let srgb_curved = curves.iter().all(|c| close_curve(c, &srgb));
    let gamma_curved = curves
        .iter()
        .all(|c| close_curve(c, &gamma_curve(563.0 / 256.0)));
    let known = if srgb_curved && close_matrix(&matrix, &colour::IDENTITY) {
        return ToLinear::srgb();
    } else if srgb_curved && close_matrix(&matrix, &colour::DISPLAY_P3_TO_SRGB) {
        Some("Display P3")
    } else if gamma_curved && close_matrix(&matrix, &colour::ADOBE_RGB_TO_SRGB) {
        Some("Adobe RGB")
    } else {
        None
    };
    ToLinear {
        name: known.map_or_else(|| description(profile), str::to_string),
        curves: Box::new(curves.map(|c| c.map(|v| v as f32))),
        matrix: Some(matrix.map(|row| row.map(|v| v as f32))),
        doubt: None,
    }
}

fn srgb_curve() -> [f64; 256] {
    std::array::from_fn(|i| colour::srgb_decode(i as f64 / 255.0))
}

fn gamma_curve(gamma: f64) -> [f64; 256] {
    std::array::from_fn(|i| (i as f64 / 255.0).powf(gamma))
}

fn close_curve(a: &[f64; 256], b: &[f64; 256]) -> bool {
    a.iter().zip(b).all(|(x, y)| (x - y).abs() < SAME_CURVE)
}

fn close_matrix(a: &Matrix3, b: &Matrix3) -> bool {
    a.iter()
        .flatten()
        .zip(b.iter().flatten())
        .all(|(x, y)| (x - y).abs() < SAME_MATRIX)
}

fn curve_of(trc: Option<&ToneReprCurve>) -> Result<[f64; 256], &'static str> {
    let trc = trc.ok_or("has no curve for each channel")?;
    if matches!(trc, ToneReprCurve::Parametric(p) if p.is_empty()) {
        return Err("has an empty curve");
    }
    let evaluator = trc
        .make_linear_evaluator()
        .map_err(|_| "has a curve of an unknown kind")?;
    let curve: [f64; 256] =
        std::array::from_fn(|i| f64::from(evaluator.evaluate_value(i as f32 / 255.0)));
    // A curve that falls or does not span black to white would turn the picture's lightness over.
    let rising = curve.windows(2).all(|w| w[1] >= w[0] - 1.0e-6);
    if !rising || curve[255] < 0.5 || !curve.iter().all(|v| v.is_finite()) {
        return Err("has a curve that does not rise from black to white");
    }
    Ok(curve.map(|v| v.clamp(0.0, 1.0)))
}

/// Colorants (relative to D50 as the format has them) to linear sRGB, scaled so that white stays white.
///
/// # Source
/// [ICC.1] for the D50 connection space; Bradford adaptation as in [Lam1985].
fn matrix_of(profile: &ColorProfile) -> Result<Matrix3, &'static str> {
    let (r, g, b) = (
        profile.red_colorant,
        profile.green_colorant,
        profile.blue_colorant,
    );
    let row = |pick: fn(&Xyzd) -> f64| [pick(&r), pick(&g), pick(&b)];
    let colorants: Matrix3 = [row(|c| c.x), row(|c| c.y), row(|c| c.z)];
    let adapt = colour::bradford(colour::WHITE_D50_ICC, colour::WHITE_D65);
    let mut matrix = colour::multiply(&colour::XYZ_TO_SRGB, &colour::multiply(&adapt, &colorants));
    for row in &mut matrix {
        let white: f64 = row.iter().sum();
        if !white.is_finite() || white < 0.2 {
            return Err("has no primaries that add up to white");
        }
        row.iter_mut().for_each(|v| *v /= white);
    }
    if colour::determinant(&matrix).abs() < 1.0e-3 {
        return Err("has primaries that coincide");
    }
    Ok(matrix)
}

fn description(profile: &ColorProfile) -> String {
    let text = match &profile.description {
        Some(ProfileText::PlainString(s)) => s.clone(),
        Some(ProfileText::Localizable(list)) => {
            list.first().map(|l| l.value.clone()).unwrap_or_default()
        }
        Some(ProfileText::Description(d)) if !d.ascii_string.is_empty() => d.ascii_string.clone(),
        Some(ProfileText::Description(d)) => d.unicode_string.clone(),
        None => String::new(),
    };
    let clean = clean_text(&text);
    if clean.is_empty() {
        "unnamed profile".into()
    } else {
        clean
    }
}
