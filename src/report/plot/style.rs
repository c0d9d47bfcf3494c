//! What the classes of [`STYLE`](super::svg::STYLE) look like on light ground, for pictures that no browser draws.

use super::svg::STYLE;
use crate::colour::{linear_from_lab_d50, srgb_encode};

/// How a mark is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Look {
    /// Colour of areas and text; none = not filled.
    pub fill: Option<Fill>,
    /// Colour of lines; none = no line.
    pub stroke: Option<[u8; 3]>,
    pub stroke_width: f64,
    /// Lengths of dash and gap.
    pub dash: Option<(f64, f64)>,
    pub opacity: f64,
    pub font_size: f64,
    pub bold: bool,
}

/// What fills an area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fill {
    Plain([u8; 3]),
    /// Slanting stripes.
    Hatch,
}

impl Look {
    /// Before any rule: as CSS begins.
    const START: Self = Self {
        fill: Some(Fill::Plain([0, 0, 0])),
        stroke: None,
        stroke_width: 1.0,
        dash: None,
        opacity: 1.0,
        font_size: 16.0,
        bold: false,
    };

    /// The look of an element with classes (apart by spaces); later rules win, as all have one class or none.
    pub(super) fn of(element: &str, classes: &str) -> Self {
        let mut look = Self::START;
        for (selector, body) in rules() {
            let meant = selector
                .split(',')
                .any(|one| match one.trim().strip_prefix('.') {
                    Some(class) => classes.split(' ').any(|c| c == class),
                    None => one.trim() == element,
                });
            if meant {
                body.split(';').for_each(|part| look.apply(part));
            }
        }
        look
    }

    fn apply(&mut self, declaration: &str) {
        let Some((name, value)) = declaration.split_once(':') else {
            return;
        };
        let value = value.trim();
        let number = || value.trim_end_matches("px").parse::<f64>().ok();
        match name.trim() {
            "fill" => {
                self.fill = match value {
                    "none" => None,
                    "url(#hatch)" => Some(Fill::Hatch),
                    other => colour(other).map(Fill::Plain),
                }
            }
            "stroke" => self.stroke = colour(value),
            "stroke-width" => self.stroke_width = number().unwrap_or(self.stroke_width),
            "stroke-dasharray" => {
                self.dash = value
                    .split_once(' ')
                    .and_then(|(on, off)| Some((on.parse().ok()?, off.parse().ok()?)));
            }
            "opacity" => self.opacity = number().unwrap_or(self.opacity),
            "font-size" => self.font_size = number().unwrap_or(self.font_size),
            "font-weight" => self.bold = number().is_some_and(|w| w >= 600.0),
            _ => {}
        }
    }
}

/// Selectors and bodies of the rules outside the part for dark ground.
fn rules() -> impl Iterator<Item = (&'static str, &'static str)> {
    let light = STYLE.split("@media").next().unwrap_or(STYLE);
    light.split('}').filter_map(|rule| rule.split_once('{'))
}

/// Numbers between brackets, parted by commas or spaces.
fn numbers<const N: usize>(text: &str) -> Option<[f64; N]> {
    let values = text.split([',', ' ']).filter(|p| !p.is_empty());
    let values: Vec<f64> = values.map(|p| p.parse().ok()).collect::<Option<_>>()?;
    values.try_into().ok()
}

/// The nearest that a screen shows of a colour in CIELAB (D50) by lightness, chroma and hue angle [CssColor4].
fn of_lch([lightness, chroma, hue]: [f64; 3]) -> [u8; 3] {
    let (sine, cosine) = hue.to_radians().sin_cos();
    let linear = linear_from_lab_d50([lightness, chroma * cosine, chroma * sine]);
    linear.map(|v| (255.0 * srgb_encode(v.clamp(0.0, 1.0))).round() as u8)
}

/// A colour written as `#rgb`, `#rrggbb`, `rgb(r g b)`, `lch(l c h)` or as a variable of the style; none for other words.
pub(super) fn colour(text: &str) -> Option<[u8; 3]> {
    let text = text.trim();
    if let Some(name) = text.strip_prefix("var(").and_then(|t| t.strip_suffix(')')) {
        let (_, body) = rules().find(|(selector, _)| *selector == "svg")?;
        let (_, value) = body
            .split(';')
            .filter_map(|part| part.split_once(':'))
            .find(|(n, _)| *n == name)?;
        return colour(value);
    }
    let within = |name: &str| {
        text.strip_prefix(name)?
            .strip_prefix('(')?
            .strip_suffix(')')
    };
    if let Some(parts) = within("rgb") {
        return Some(numbers(parts)?.map(|v: f64| v.round().clamp(0.0, 255.0) as u8));
    }
    if let Some(parts) = within("lch") {
        return numbers(parts).map(of_lch);
    }
    let hex = text.strip_prefix('#')?;
    let digit = |k: usize| {
        hex.get(k..k + 1)
            .and_then(|d| u8::from_str_radix(d, 16).ok())
    };
    match hex.len() {
        3 => Some([digit(0)? * 17, digit(1)? * 17, digit(2)? * 17]),
        6 => Some([
            digit(0)? * 16 + digit(1)?,
            digit(2)? * 16 + digit(3)?,
            digit(4)? * 16 + digit(5)?,
        ]),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_are_read_as_css_writes_them() {
        assert_eq!(colour("#fff"), Some([255; 3]));
        assert_eq!(colour("#0072b2"), Some([0, 0x72, 0xb2]));
        assert_eq!(colour("rgb(1, 2, 250)"), Some([1, 2, 250]));
        assert_eq!(colour("rgb(1 2 250)"), Some([1, 2, 250]));
        // [CssColor4] tests of lch(): the colour "green".
        assert_eq!(colour("lch(46.2775 67.9892 134.3912)"), Some([0, 0x80, 0]));
        assert_eq!(colour("var(--a)"), Some([0, 0x72, 0xb2]));
        assert_eq!(colour("none"), None);
    }

    #[test]
    fn later_rules_win_and_classes_add_up() {
        let small = Look::of("text", "small bold");
        assert_eq!((small.font_size, small.bold), (11.5, true));
        assert_eq!(small.fill, Some(Fill::Plain([0x5a; 3])));
        let frame = Look::of("rect", "frame");
        assert_eq!((frame.fill, frame.stroke), (None, Some([0x5a; 3])));
        assert_eq!(Look::of("path", "mark").dash, Some((5.0, 4.0)));
        assert_eq!(Look::of("rect", "rx").fill, Some(Fill::Hatch));
    }

    #[test]
    fn every_rule_of_the_style_means_something_here() {
        for (selector, body) in rules().filter(|(s, _)| *s != "svg") {
            for part in body.split(';').filter(|p| !p.starts_with("font-family")) {
                let mut look = Look {
                    fill: None,
                    stroke: None,
                    stroke_width: -1.0,
                    dash: None,
                    opacity: -1.0,
                    font_size: -1.0,
                    bold: false,
                };
                let before = look.clone();
                look.apply(part);
                assert!(
                    look != before || part.ends_with("none"),
                    "{selector} {{{part}}}"
                );
            }
        }
    }
}
