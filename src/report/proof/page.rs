//! The page of a proof: one HTML file that opens offline, reads on a phone and prints. It follows from what was signed and
//! from nothing else, so it can be made again and compared.

use base64::Engine;
use qrcode::{Color, EcLevel, QrCode};
use sha2::{Digest, Sha256};

use super::figure;
use super::record::{self, Shown};
use super::sentences;
use super::style::STYLE;
use crate::error::Error;
use crate::ladder::{self, Ladder};
use crate::measures::Sex;
use crate::proof::key::hex;
use crate::proof::manifest::{Listed, Manifest, PHOTO, RECORD, RULES, Said};
use crate::proof::verify::Files;
use crate::report::card::ladder_card;
use crate::report::wire::stored::StoredAnimal;
use crate::report::words;
use crate::units::{Measured, Reading};

/// The page that follows from the manifest and its files.
///
/// # Errors
/// Where record or rules can't be read.
pub fn page(manifest: &Manifest, files: &Files) -> Result<String, Error> {
    let missing = |name: &str| {
        Error::photo(
            "missing_file",
            format!("{name} is missing"),
            "give the whole folder",
        )
    };
    let bytes = |name: &str| files.get(name).ok_or_else(|| missing(name));
    let text = |name: &str| Ok::<_, Error>(String::from_utf8_lossy(bytes(name)?).into_owned());
    let shown = record::read(&text(RECORD)?)?;
    let ladder = ladder::load(RULES, &text(RULES)?)
        .map_err(|e| Error::rules("rules", e.to_string(), e.hint))?;
    let photo = base64::engine::general_purpose::STANDARD.encode(bytes(PHOTO)?);
    let title = format!("Lot {}, {}", manifest.lot, ladder.title);
    let mut out = head(&title, &photo);
    out += &format!(
        "<header><h1>{}</h1>{}</header>\n<main>\n",
        escaped(&title),
        facts(manifest)
    );
    out += &statement(manifest);
    out += &pictures(&shown);
    out += &table(&shown);
    out += &taking(manifest, &shown);
    out += &the_ladder(&ladder);
    out += &making(manifest);
    out += &limits(manifest);
    out += &seal(manifest)?;
    out += "</main>\n</body>\n</html>\n";
    Ok(out)
}

fn head(title: &str, photo: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n\
         <title>{}</title>\n<style>\n{STYLE}.photo{{background-image:url(data:image/jpeg;base64,{photo})}}\n</style>\n</head>\n<body>\n",
        escaped(title)
    )
}

fn facts(m: &Manifest) -> String {
    let mut parts = Vec::new();
    parts.extend(m.tank.as_ref().map(|tank| format!("tank {tank}")));
    parts.extend(
        m.taken_on
            .as_ref()
            .map(|day| format!("photo of {day} by the camera's clock")),
    );
    parts.push(format!(
        "page signed on {} by the seller's clock",
        m.signed_on
    ));
    format!("<p class=\"note\">{}</p>", escaped(&parts.join(", ")))
}

fn statement(m: &Manifest) -> String {
    let Some(s) = &m.statement else {
        return "<div class=\"say\"><p>No share is claimed.</p><p>The page shows the animals and their measures.</p></div>\n".into();
    };
    let mut out = format!(
        "<div class=\"say\"><p>{}</p><p>{}</p><p>Counted: {}.</p>",
        escaped(&sentences::headline(s)),
        escaped(&sentences::ground(s)),
        escaped(&sentences::counted(s))
    );
    if m.weaknesses.iter().any(|w| w.code == "one_place") {
        out += "<p>This speaks for the netted animals only: they were not netted from two places of the tank.</p>";
    }
    out + "</div>\n"
}

fn pictures(shown: &Shown) -> String {
    let size = ["/photo/width", "/photo/height"].map(|p| shown.number(p).unwrap_or(1.0).max(1.0));
    let animals = &shown.scoop.animals;
    let scale = shown.number("/scene/px_per_mm");
    let mut out = format!(
        "<h2>The whole scoop</h2>\n<figure>{}<figcaption>All {} animals that were found, none left out. A dashed outline means too close to call between two rungs.</figcaption></figure>\n",
        figure::whole(size, animals, scale),
        animals.len()
    );
    let mut order: Vec<&StoredAnimal> = animals
        .iter()
        .filter(|a| a.rung.is_some() || a.off_ladder.as_deref() == Some("off_type"))
        .collect();
    order.sort_by(|a, b| {
        height(a)
            .total_cmp(&height(b))
            .then(a.measures.no.cmp(&b.measures.no))
    });
    if let (Some(worst), Some(best)) = (order.first(), order.last()) {
        out += "<h2>Typical, best and worst animal</h2>\n<div class=\"three\">";
        for (what, animal) in [
            ("Typical", order[(order.len() - 1) / 2]),
            ("Best", best),
            ("Worst", worst),
        ] {
            out += &format!(
                "<figure>{}<figcaption>{what}: animal {}, {}</figcaption></figure>",
                figure::cut_out(size, animal, what),
                animal.measures.no,
                escaped(&stands(animal))
            );
        }
        out += "</div>\n<p class=\"note\">Typical is the middle animal by rung, then by coverage. All three are cut from the photo above, at their own scales.</p>\n";
    }
    out
}

/// Rung first, coverage within it; off-type below all.
fn height(animal: &StoredAnimal) -> f64 {
    let rung = animal.rung.map_or(-1.0, |rung| rung.index() as f64);
    let coverage = animal.measures.coverage.measured().map_or(0.0, |c| c.value);
    rung * 2.0 + coverage
}

fn stands(animal: &StoredAnimal) -> String {
    match (animal.rung, animal.between, animal.off_ladder.as_deref()) {
        (Some(_), Some((low, high)), _) => format!("{low} or {high}, too close to call"),
        (Some(rung), None, _) => rung.to_string(),
        (None, _, Some("off_type")) => "off-type".into(),
        (None, _, why) => format!("not graded: {}", words::reason(why.unwrap_or("withheld"))),
    }
}

/// A column of the table of animals: its head, whether it holds numbers, what stands in it; `None` where it is not known.
type Column<'a> = (&'a str, bool, fn(&StoredAnimal) -> Option<String>);

const COLUMNS: [Column; 5] = [
    ("Rung", false, |a| Some(escaped(&stands(a)))),
    ("Coverage, %", true, |a| Some(share(&a.measures.coverage))),
    ("Opacity, %", true, |a| Some(share(&a.measures.opacity))),
    ("Length, mm", true, |a| {
        a.measures.length_mm.map(|l| with_doubt(l, 1.0, 1))
    }),
    ("Sex", false, |a| match a.measures.sex {
        Sex::Female => Some("female".into()),
        Sex::Male => Some("male".into()),
        Sex::Unsure => None,
    }),
];

/// Every animal, columns of which nothing is known left out: on a phone each costs room.
fn table(shown: &Shown) -> String {
    let animals = &shown.scoop.animals;
    let columns: Vec<&Column> = COLUMNS
        .iter()
        .filter(|(_, _, cell)| animals.iter().any(|a| cell(a).is_some()))
        .collect();
    let class = |is_number: bool| if is_number { " class=\"n\"" } else { "" };
    let mut out = "<h2>Every animal</h2>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Table of every animal\"><table>\n<thead><tr><th class=\"n\" scope=\"col\">No.</th>".to_string();
    for (head, is_number, _) in &columns {
        out += &format!("<th{} scope=\"col\">{head}</th>", class(*is_number));
    }
    out += "</tr></thead>\n<tbody>\n";
    for a in animals {
        out += &format!("<tr><th class=\"n\" scope=\"row\">{}</th>", a.measures.no);
        for (_, is_number, cell) in &columns {
            let text = cell(a).unwrap_or_else(|| "-".into());
            out += &format!("<td{}>{text}</td>", class(*is_number));
        }
        out += "</tr>\n";
    }
    out + "</tbody></table></div>\n<p class=\"note\">Behind \u{b1} stands the standard uncertainty of the single reading. Coverage is the share of the body, clear parts included, that carries the line's colour; opacity is how far the colour hides what lies under it.</p>\n"
}

fn share(reading: &Reading) -> String {
    match reading {
        Reading::Value(measured) => with_doubt(*measured, 100.0, 0),
        Reading::Withheld(_) => "not read".into(),
    }
}

fn with_doubt(m: Measured, factor: f64, digits: usize) -> String {
    format!(
        "{:.digits$} \u{b1} {:.digits$}",
        m.value * factor,
        m.uncertainty * factor
    )
}

fn taking(m: &Manifest, shown: &Shown) -> String {
    let mut rows: Vec<(&str, String)> = Vec::new();
    rows.push(("Ground", format!("{} cup", m.graded.ground)));
    let chart = shown.number("/scene/chart/de00_after");
    rows.push((
        "Colour chart",
        chart.map_or("none in the photo: colours are told relative to the cup's floor".into(), |d| {
            format!("in the photo; after correction its patches differ by {d:.1} from their published values (mean CIEDE2000)")
        }),
    ));
    rows.push((
        "Minutes in the cup",
        m.graded
            .netted_seconds
            .map_or("not said: animals pale in a white cup".into(), |s| {
                format!(
                    "{}:{:02} from netting to photo, as the seller says",
                    s / 60,
                    s % 60
                )
            }),
    ));
    let from = match shown.text("/scene/scale_from") {
        Some("cup") => "from the cup's floor",
        Some("chart") => "from the colour chart",
        Some("given") => "as the seller says",
        _ => "",
    };
    rows.push((
        "Scale",
        shown.number("/scene/px_per_mm").map_or("unknown, so juveniles were not told from adults".into(), |s| {
            format!("{s:.1} pixels to the millimetre, {from}; the bar in the photo is 10 mm at the cup's floor")
        }),
    ));
    rows.push((
        "Card in the photo",
        match &m.card {
            Some([lot, on]) => format!("a card with lot {lot} and the day {on} was read in it"),
            None => "no card with lot and day was read in it: nothing in the picture ties it to this lot or day".into(),
        },
    ));
    let verdict = match shown.text("/photo/check/answer") {
        Some("good") => "good",
        Some("usable") => "usable",
        Some(_) => "should be taken again",
        None => "not judged",
    };
    rows.push(("Photo", format!("{verdict} by the program's own check")));
    let mut out = "<h2>How the photo was taken</h2>\n<dl>".to_string();
    for (name, text) in rows {
        out += &format!("<dt>{name}</dt><dd>{}</dd>", escaped(&text));
    }
    out += "</dl>\n";
    let doubts: Vec<String> = shown
        .doubts()
        .into_iter()
        .chain(m.camera_said.iter().map(|s| s.message.clone()))
        .collect();
    out + &list("Doubts about the photo:", &doubts)
}

fn list(intro: &str, items: &[String]) -> String {
    if items.is_empty() {
        return String::new();
    }
    let items: String = items
        .iter()
        .map(|item| format!("<li>{}</li>", escaped(item)))
        .collect();
    format!("<p>{intro}</p>\n<ul>{items}</ul>\n")
}

fn the_ladder(ladder: &Ladder) -> String {
    let lines: Vec<String> = ladder_card(ladder)
        .iter()
        .map(|line| escaped(&line.text))
        .collect();
    format!(
        "<h2>The house's ladder</h2>\n<p>There is no agreed ladder in the trade; this is the seller's own.</p>\n<pre>{}</pre>\n",
        lines.join("\n")
    )
}

fn making(m: &Manifest) -> String {
    let Some(s) = m.statement.as_ref().filter(|s| !s.scoops.is_empty()) else {
        return weaknesses(&m.weaknesses);
    };
    let mut out = "<h2>Scoops behind the statement</h2>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Table of scoops\"><table>\n<thead><tr><th scope=\"col\">Day</th><th class=\"n\" scope=\"col\">Judged</th>\
                   <th class=\"n\" scope=\"col\">Plainly at the rung</th><th class=\"n\" scope=\"col\">Misgrading allowed for</th></tr></thead>\n<tbody>\n".to_string();
    for scoop in &s.scoops {
        out += &format!(
            "<tr><th scope=\"row\">{}</th><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{:.1}</td></tr>\n",
            scoop.on,
            scoop.judged,
            scoop.plain,
            f64::from(scoop.by_chance_milli) / 1000.0
        );
    }
    if let Some([looks, each]) = s.plan {
        out += &format!(
            "</tbody></table></div>\n<p class=\"note\">Declared beforehand: {looks} looks, about {each} animals each. Animals of one scoop are taken to be alike by an intraclass correlation of {:.2}.</p>\n",
            f64::from(s.icc_e4) / 10_000.0
        );
    }
    out + &weaknesses(&m.weaknesses)
}

fn weaknesses(all: &[Said]) -> String {
    let all: Vec<String> = all.iter().map(|w| w.message.clone()).collect();
    list("What speaks against the statement:", &all)
}

fn limits(m: &Manifest) -> String {
    let repeat = match m.own_repeat_e4 {
        Some(e4) => format!(
            "How far a single reading errs on animals like these is known from the seller's own repeats: coverage moves by up to {:.1} points from photo to photo.",
            f64::from(e4) / 100.0
        ),
        None => "How far the method errs on this house's animals: the seller has no repeated photos of them yet, the uncertainties come from rendered scenes.".into(),
    };
    let items = [
        "Which animals were sent: a buyer gets animals, not this photo.".to_string(),
        "When the photo was taken: days here are by the seller's clock and card.".into(),
        "Health: a colour grade is no health certificate.".into(),
        "What the animals look like in another tank: floor, feed, light and the journey move colour for days to weeks.".into(),
        repeat,
    ];
    format!(
        "<h2>What this page does not prove</h2>\n{}",
        list("", &items).replacen("<p></p>\n", "", 1)
    )
}

fn seal(m: &Manifest) -> Result<String, Error> {
    let digest = hex(&Sha256::digest(m.write()));
    let print = m.key.fingerprint();
    let code = format!(
        "CATCHCUP:PROOF:{}:{}",
        digest.to_uppercase(),
        print.replace('-', "").to_uppercase()
    );
    let files: String = m
        .files
        .iter()
        .map(|f: &Listed| {
            format!(
                "<dt>{}</dt><dd><code>{}</code></dd>",
                escaped(&f.name),
                f.sha256
            )
        })
        .collect();
    Ok(format!(
        "<h2>Unchanged since signed on {}</h2>\n<div class=\"seal\">{}<div>\
         <p>To check: get the whole folder from the seller, and the fingerprint of the seller's key by another way than this page. Then: <code>catchcup proof check FOLDER --key FINGERPRINT</code>. It measures the photo again and compares every number.</p>\
         <p>A signature says that nothing was changed since, and by whose key. It does not say that what was signed is true.</p></div></div>\n\
         <dl><dt>Fingerprint of the key</dt><dd><code>{print}</code></dd><dt>SHA-256 of the manifest</dt><dd><code>{digest}</code></dd>{files}\
         <dt>The camera's own file</dt><dd><code>{}</code> (the seller alone has it)</dd><dt>Program</dt><dd>catchcup {}</dd></dl>\n",
        m.signed_on,
        qr(&code)?,
        m.original_sha256,
        escaped(&m.program)
    ))
}

/// The code as an SVG with its quiet zone of four modules [ISO18004].
fn qr(text: &str) -> Result<String, Error> {
    let qr = QrCode::with_error_correction_level(text, EcLevel::M)
        .map_err(|e| Error::bug(format!("no QR code for the page: {e}")))?;
    let side = qr.width();
    let mut path = String::new();
    for (at, colour) in qr.to_colors().into_iter().enumerate() {
        if colour == Color::Dark {
            path += &format!("M{} {}h1v1h-1z", at % side + 4, at / side + 4);
        }
    }
    let whole = side + 8;
    Ok(format!(
        "<svg viewBox=\"0 0 {whole} {whole}\" role=\"img\" aria-label=\"QR code with the digest of the manifest and the fingerprint of the key\"><rect width=\"{whole}\" height=\"{whole}\" fill=\"#fff\"/><path d=\"{path}\"/></svg>"
    ))
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
        .replace('\'', "&#39;")
}
