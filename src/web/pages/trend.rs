//! Does a tank's line hold? In words first, then as plots.

use catchcup::ladder::Rung;
use catchcup::report::trend::{TrendTold, name, sentence as verdict, trend_lines};
use catchcup::trends::tank_trend::{MeasureTrend, TankTrend};
use maud::{Markup, html};

use super::frame::{Page, page, sentence};
use super::tank_path;
use crate::web::access::Visitor;

/// The page of a tank's trend.
pub fn trend(
    visitor: &Visitor,
    tank: &str,
    title: &str,
    found: Option<&TankTrend>,
    sale: Rung,
) -> Page {
    let heading = format!(
        "Does the line hold? {}",
        sentence(title).trim_end_matches('.')
    );
    let content = html! {
        h1 { (heading) }
        p { a.button href=(tank_path(tank)) { "Back to " (tank) } }
        @match found {
            None => p { "Nothing was netted yet." },
            Some(found) => (told(tank, title, found, sale)),
        }
    };
    page(&heading, Some(visitor), &content)
}

fn told(tank: &str, title: &str, found: &TankTrend, sale: Rung) -> Markup {
    let path = tank_path(tank);
    let (loud, quiet): (Vec<&MeasureTrend>, Vec<&MeasureTrend>) = found
        .measures
        .iter()
        .partition(|m| m.judged.verdict.change().is_some());
    let told = TrendTold {
        title,
        sale_rung: sale,
        detail: true,
    };
    html! {
        @if loud.is_empty() { p.big { "No measure changes by more than chance." } }
        @for trend in &loud {
            @let class = if trend.judged.verdict.is_alarm(trend.series.measure) { "box alarm" } else { "box next" };
            div class=(class) { p.big { (sentence(&verdict(trend, sale))) } }
            (plot(&path, trend, sale))
        }
        @if loud.is_empty() { @if let Some(first) = quiet.first() { (plot(&path, first, sale)) } }
        h2 { "Grades from scoop to scoop" }
        figure { img.plot src={ (path) "/mix.svg" } alt="Shares of the rungs from scoop to scoop; the numbers stand under Details"; }
        h2 { "All measures" }
        ul { @for trend in &quiet { li { (sentence(&verdict(trend, sale))) } } }
        details {
            summary { "Details and methods" }
            pre tabindex="0" aria-label="Trend with methods" { @for line in trend_lines(found, &told) { (line.text) "\n" } }
        }
        details {
            summary { "Plots of the other measures" }
            @for trend in found.measures.iter().filter(|m| m.judged.verdict.change().is_none()) { (plot(&path, trend, sale)) }
        }
    }
}

fn plot(path: &str, trend: &MeasureTrend, sale: Rung) -> Markup {
    let measure = trend.series.measure;
    html! {
        figure {
            img.plot src={ (path) "/trend/" (measure.word()) ".svg" } loading="lazy"
                alt={ "Plot of " (name(measure, sale)) ": " (verdict(trend, sale)) };
        }
    }
}
