//! A picture in the making, and its SVG.

use std::fmt::Write;

/// Colours and type. Blue, orange and green are those of Okabe and Ito's palette for colour-blind readers (values from memory); the
/// ramp of the rungs runs from light to dark and back on dark ground.
pub(super) const STYLE: &str = "\
text{font-family:system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans',sans-serif;font-size:13px;fill:var(--ink)}\
.title{font-size:15px;font-weight:600}.small{font-size:11.5px;fill:var(--soft)}.bold{font-weight:600}\
.grey{fill:var(--faint)}.on{fill:var(--on)}.off{fill:var(--off)}\
.ground{fill:var(--ground)}.frame{fill:none;stroke:var(--soft)}.grid{stroke:var(--grid)}.axis{stroke:var(--soft)}\
.mark{stroke:var(--alarm);stroke-dasharray:5 4}.line{fill:none;stroke:var(--a);stroke-width:2}\
.bar{stroke:var(--a);stroke-width:1.5}.dot{fill:var(--a);stroke:var(--ground)}.band{fill:var(--a);opacity:.16}\
.faintbar{stroke:var(--faint)}.fainthole{fill:var(--ground);stroke:var(--faint);stroke-width:1.5}\
.alarm{fill:var(--alarm)}.alarmline{stroke:var(--alarm);stroke-width:2;fill:none}\
.r0{fill:#fff1cf}.r1{fill:#fdd49e}.r2{fill:#fdae6b}.r3{fill:#e6701a}.r4{fill:#a63603}.r5{fill:#5c1a02}.rx{fill:url(#hatch)}\
.edge{stroke:var(--ground);stroke-width:1}\
.second{stroke:var(--alarm);stroke-dasharray:9 5}.third{stroke:var(--soft);stroke-dasharray:2 4}.two{fill:var(--alarm)}.three{fill:var(--soft)}\
svg{--ground:#fff;--ink:#1b1b1b;--soft:#5a5a5a;--faint:#8a8a8a;--grid:#e3e3e3;--a:#0072b2;--alarm:#b34700;--on:#fff;--off:#1b1b1b}\
@media (prefers-color-scheme:dark){svg{--ground:#161616;--ink:#ececec;--soft:#b0b0b0;--faint:#8c8c8c;--grid:#333;--a:#56b4e9;--alarm:#ff9a4d}}";

/// Where a text stands against its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Begins there.
    Start,
    /// Its middle is there.
    Middle,
    /// Ends there.
    End,
}

/// One mark of a picture. Points and lengths are in picture units, y downwards; classes are those of [`STYLE`].
#[derive(Debug, Clone)]
pub(super) enum Mark {
    /// Text against a point of its baseline.
    Text {
        at: (f64, f64),
        anchor: Anchor,
        /// Turned upwards.
        upright: bool,
        class: String,
        text: String,
    },
    Line {
        from: (f64, f64),
        to: (f64, f64),
        class: String,
    },
    Rect {
        at: (f64, f64),
        size: (f64, f64),
        class: String,
        told: String,
    },
    Circle {
        at: (f64, f64),
        radius: f64,
        class: String,
        /// A colour of its own, written as CSS does.
        colour: Option<String>,
        told: String,
    },
    Path {
        points: Vec<(f64, f64)>,
        closed: bool,
        class: String,
    },
}

/// A picture made of marks, to be written as SVG ([`Svg::finish`]) or as PNG ([`Svg::png`]).
#[derive(Debug)]
pub struct Svg {
    pub(super) marks: Vec<Mark>,
    pub(super) width: f64,
    pub(super) height: f64,
    title: String,
}

impl Svg {
    /// An empty picture of that size, with a title for those who hear it read.
    pub fn new(width: f64, height: f64, title: &str) -> Self {
        Self {
            marks: Vec::new(),
            width,
            height,
            title: title.to_string(),
        }
    }

    /// Text in a class.
    pub fn text(&mut self, x: f64, y: f64, anchor: Anchor, class: &str, text: &str) {
        self.marks.push(Mark::Text {
            at: (x, y),
            anchor,
            upright: false,
            class: class.into(),
            text: text.into(),
        });
    }

    /// Text turned upwards, its middle at the point.
    pub fn upright(&mut self, x: f64, y: f64, class: &str, text: &str) {
        self.marks.push(Mark::Text {
            at: (x, y),
            anchor: Anchor::Middle,
            upright: true,
            class: class.into(),
            text: text.into(),
        });
    }

    /// A straight line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), class: &str) {
        let class = class.into();
        self.marks.push(Mark::Line { from, to, class });
    }

    /// A rectangle with an optional description that shows under the pointer.
    pub fn rect(&mut self, at: (f64, f64), size: (f64, f64), class: &str, told: &str) {
        self.marks.push(Mark::Rect {
            at,
            size: (size.0.max(0.0), size.1.max(0.0)),
            class: class.into(),
            told: told.into(),
        });
    }

    /// A circle with an optional description.
    pub fn circle(&mut self, at: (f64, f64), radius: f64, class: &str, told: &str) {
        self.marks.push(Mark::Circle {
            at,
            radius,
            class: class.into(),
            colour: None,
            told: told.into(),
        });
    }

    /// A circle in a colour of its own, written as CSS does.
    pub fn coloured_circle(&mut self, at: (f64, f64), radius: f64, colour: &str, told: &str) {
        self.marks.push(Mark::Circle {
            at,
            radius,
            class: "edge".into(),
            colour: Some(colour.into()),
            told: told.into(),
        });
    }

    /// A chain of straight lines; closed where asked.
    pub fn path(&mut self, points: &[(f64, f64)], closed: bool, class: &str) {
        self.marks.push(Mark::Path {
            points: points.to_vec(),
            closed,
            class: class.into(),
        });
    }

    /// The whole SVG file.
    pub fn finish(&self) -> String {
        let (w, h, title) = (self.width, self.height, escaped(&self.title));
        let body: String = self.marks.iter().map(|m| element(m) + "\n").collect();
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w:.0} {h:.0}\" width=\"{w:.0}\" height=\"{h:.0}\" role=\"img\">\n\
             <title>{title}</title>\n<style>{STYLE}</style>\n\
             <defs><pattern id=\"hatch\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
             <rect width=\"6\" height=\"6\" fill=\"#bdbdbd\"/><rect width=\"3\" height=\"6\" fill=\"#6b6b6b\"/></pattern></defs>\n\
             <rect width=\"{w:.0}\" height=\"{h:.0}\" class=\"ground\"/>\n{body}</svg>\n"
        )
    }
}

/// A mark as an element of SVG.
fn element(mark: &Mark) -> String {
    match mark {
        Mark::Text {
            at: (x, y),
            anchor,
            upright,
            class,
            text,
        } => {
            let text = escaped(text);
            let anchor = match anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let place = if *upright {
                format!("transform=\"translate({x:.1} {y:.1}) rotate(-90)\"")
            } else {
                format!("x=\"{x:.1}\" y=\"{y:.1}\"")
            };
            format!("<text {place} text-anchor=\"{anchor}\" class=\"{class}\">{text}</text>")
        }
        Mark::Line { from, to, class } => {
            let ((a, b), (c, d)) = (from, to);
            format!(
                "<line x1=\"{a:.1}\" y1=\"{b:.1}\" x2=\"{c:.1}\" y2=\"{d:.1}\" class=\"{class}\"/>"
            )
        }
        Mark::Rect {
            at: (x, y),
            size: (w, h),
            class,
            told,
        } => {
            let told = described(told);
            format!(
                "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h:.1}\" class=\"{class}\">{told}</rect>"
            )
        }
        Mark::Circle {
            at: (x, y),
            radius,
            class,
            colour,
            told,
        } => {
            let fill = colour
                .as_ref()
                .map_or_else(String::new, |c| format!("fill=\"{}\" ", escaped(c)));
            let told = described(told);
            format!(
                "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" {fill}class=\"{class}\">{told}</circle>"
            )
        }
        Mark::Path {
            points,
            closed,
            class,
        } => {
            let mut d = String::new();
            for (i, (x, y)) in points.iter().enumerate() {
                // Writing into a string can't fail.
                let _ = write!(d, "{}{x:.1} {y:.1}", if i == 0 { "M" } else { "L" });
            }
            if *closed {
                d.push('Z');
            }
            format!("<path d=\"{d}\" class=\"{class}\"/>")
        }
    }
}

/// The description that shows under the pointer.
fn described(told: &str) -> String {
    if told.is_empty() {
        String::new()
    } else {
        format!("<title>{}</title>", escaped(told))
    }
}

/// Text that means nothing to XML.
fn escaped(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_control())
        .map(|c| match c {
            '&' => "&amp;".to_string(),
            '<' => "&lt;".to_string(),
            '>' => "&gt;".to_string(),
            '"' => "&quot;".to_string(),
            c => c.to_string(),
        })
        .collect()
}

/// `text` in lines of at most `most` characters, broken at spaces.
pub fn broken(text: &str, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.last_mut().expect("there is always a line");
        if !last.is_empty() && last.chars().count() + 1 + word.chars().count() > most {
            lines.push(word.to_string());
        } else {
            if !last.is_empty() {
                last.push(' ');
            }
            last.push_str(word);
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_from_the_book_are_text_and_nothing_else() {
        let mut svg = Svg::new(10.0, 10.0, "a<b");
        svg.text(0.0, 0.0, Anchor::Start, "small", "<script>&\"\u{7}");
        let text = svg.finish();
        assert!(text.contains("&lt;script&gt;&amp;&quot;</text>") && text.contains("a&lt;b"));
    }
}
