//! A picture in the making.

use std::fmt::Write;

/// Colours and type. Blue, orange and green are those of Okabe and Ito's palette for colour-blind readers (values from memory); the
/// ramp of the rungs runs from light to dark and back on dark ground.
const STYLE: &str = "\
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

/// An SVG in the making.
#[derive(Debug)]
pub struct Svg {
    body: String,
    width: f64,
    height: f64,
    title: String,
}

impl Svg {
    /// An empty picture of that size, with a title for those who hear it read.
    pub fn new(width: f64, height: f64, title: &str) -> Self {
        Self {
            body: String::new(),
            width,
            height,
            title: escaped(title),
        }
    }

    /// Text in a class.
    pub fn text(&mut self, x: f64, y: f64, anchor: Anchor, class: &str, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let text = escaped(text);
        self.put(format_args!(
            "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" class=\"{class}\">{text}</text>"
        ));
    }

    /// Text turned upwards, its middle at the point.
    pub fn upright(&mut self, x: f64, y: f64, class: &str, text: &str) {
        let text = escaped(text);
        self.put(format_args!(
            "<text transform=\"translate({x:.1} {y:.1}) rotate(-90)\" text-anchor=\"middle\" class=\"{class}\">{text}</text>"
        ));
    }

    /// A straight line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), class: &str) {
        let ((a, b), (c, d)) = (from, to);
        self.put(format_args!(
            "<line x1=\"{a:.1}\" y1=\"{b:.1}\" x2=\"{c:.1}\" y2=\"{d:.1}\" class=\"{class}\"/>"
        ));
    }

    /// A rectangle with an optional description that shows under the pointer.
    pub fn rect(&mut self, at: (f64, f64), size: (f64, f64), class: &str, told: &str) {
        let ((x, y), (w, h)) = (at, (size.0.max(0.0), size.1.max(0.0)));
        let told = if told.is_empty() {
            String::new()
        } else {
            format!("<title>{}</title>", escaped(told))
        };
        self.put(format_args!(
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"{w:.1}\" height=\"{h:.1}\" class=\"{class}\">{told}</rect>"
        ));
    }

    /// A circle with an optional description.
    pub fn circle(&mut self, at: (f64, f64), radius: f64, class: &str, told: &str) {
        let ((x, y), told) = (at, escaped(told));
        self.put(format_args!(
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" class=\"{class}\"><title>{told}</title></circle>"
        ));
    }

    /// A circle in a colour of its own, written as CSS does.
    pub fn coloured_circle(&mut self, at: (f64, f64), radius: f64, colour: &str, told: &str) {
        let ((x, y), told) = (at, escaped(told));
        self.put(format_args!(
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" fill=\"{colour}\" class=\"edge\"><title>{told}</title></circle>"
        ));
    }

    /// A chain of straight lines; closed where asked.
    pub fn path(&mut self, points: &[(f64, f64)], closed: bool, class: &str) {
        let mut d = String::new();
        for (i, (x, y)) in points.iter().enumerate() {
            let _ = write!(d, "{}{x:.1} {y:.1}", if i == 0 { "M" } else { "L" });
        }
        if closed {
            d.push('Z');
        }
        self.put(format_args!("<path d=\"{d}\" class=\"{class}\"/>"));
    }

    fn put(&mut self, element: std::fmt::Arguments<'_>) {
        // Writing into a string can't fail.
        let _ = writeln!(self.body, "{element}");
    }

    /// The whole file.
    pub fn finish(self) -> String {
        let (w, h, title, body) = (self.width, self.height, self.title, self.body);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w:.0} {h:.0}\" width=\"{w:.0}\" height=\"{h:.0}\" role=\"img\">\n\
             <title>{title}</title>\n<style>{STYLE}</style>\n\
             <defs><pattern id=\"hatch\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
             <rect width=\"6\" height=\"6\" fill=\"#bdbdbd\"/><rect width=\"3\" height=\"6\" fill=\"#6b6b6b\"/></pattern></defs>\n\
             <rect width=\"{w:.0}\" height=\"{h:.0}\" class=\"ground\"/>\n{body}</svg>\n"
        )
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
