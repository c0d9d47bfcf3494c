//! What stands behind the sentence: methods, numbers, descriptions.

use super::{TrendTold, amount, capital, difference, name, sentence};
use crate::report::text::{Page, Tone};
use crate::trends::series::Axis;
use crate::trends::tank_trend::{MeasureTrend, TankTrend};
use crate::trends::verdict::{BASELINE, FALSE_ALARM, HORIZON};

/// All measures with their numbers.
pub fn lines(found: &TankTrend, told: &TrendTold<'_>, out: &mut Page) {
    out.blank();
    out.line(Tone::Heading, "How it was decided");
    let own = if found.generation_is_own {
        "of this line"
    } else {
        "usual"
    };
    let axis = match found.axis {
        Axis::Generation => "by generation".to_string(),
        Axis::Date => format!(
            "by date, months together; a generation is {:.0} days ({own})",
            found.generation_days
        ),
    };
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "{}. Limits allow for looking again after every point, over {HORIZON:.0} generations, in all seven measures and three views \
             each: together {:.0} % of steady tanks are called changing at most.",
            capital(&axis),
            100.0 * FALSE_ALARM
        ),
    );
    for trend in &found.measures {
        out.blank();
        measure(trend, told, out);
    }
}

fn measure(trend: &MeasureTrend, told: &TrendTold<'_>, out: &mut Page) {
    let (series, judged) = (&trend.series, &trend.judged);
    let of = series.measure;
    out.wrapped(Tone::Heading, "  ", &capital(&name(of, told.sale_rung)));
    let mut say = |text: String| out.wrapped(Tone::Plain, "    ", &format!("  {text}"));
    say(sentence(trend, told.sale_rung));
    if let Some(sd) = series.within_sd {
        say(format!(
            "{} points, {} states; within scoops animals scatter by {}",
            series.points.len(),
            series.groups.len(),
            amount(of, sd)
        ));
    }
    let per = |slope: f64| difference(of, slope * judged.generation, 0.0);
    for (slope, what) in [
        (
            &judged.slope,
            "weighted slope, one for all states, a level for each",
        ),
        (&judged.recent, "the same since the last change"),
    ] {
        if let Some(s) = slope {
            say(format!(
                "{what}: {} a generation, standard error {}, {:.2} standard errors, believed from {:.2}; chi-squared {:.1} on {} degrees of freedom",
                per(s.slope),
                per(s.error),
                s.z(),
                judged.limit,
                s.chi_squared,
                s.freedom
            ));
        }
    }
    if let Some(share) = judged.share {
        say(format!(
            "trend in proportions (Cochran and Armitage): z {:.2}, chance of such a rise {:.4}, of such a fall {:.4}",
            share.z, share.p_rise, share.p_fall
        ));
    }
    if let Some(s) = judged.strayed {
        say(format!(
            "exponentially weighted mean against the first {BASELINE} points: {} ({:.2} of its standard deviations, believed from {:.2})",
            difference(of, s.distance, 0.0),
            s.distance / s.sd,
            s.limit
        ));
    }
    described(trend, out);
}

/// Descriptions, which decide nothing.
fn described(trend: &MeasureTrend, out: &mut Page) {
    let of = trend.series.measure;
    let d = &trend.described;
    let per = |slope: f64| difference(of, slope * trend.judged.generation, 0.0);
    let mut say = |text: String| out.wrapped(Tone::Faint, "    ", &format!("  {text}"));
    if let (Some(mk), Some(ts)) = (&d.mann_kendall, &d.theil_sen) {
        say(format!(
            "ranks: Mann-Kendall S {}, p {:.3}; Theil-Sen {} a generation ({} to {})",
            mk.s,
            mk.exact_p.unwrap_or(mk.p),
            per(ts.slope),
            per(ts.low),
            per(ts.high)
        ));
    }
    if let (Some(parting), Some((_, at, p))) = (&d.parting, d.pettitt) {
        let day = |before: usize| {
            let latest = trend.series.points.last().map(|p| p.group);
            let own = trend
                .series
                .points
                .iter()
                .filter(|p| Some(p.group) == latest);
            own.clone()
                .nth(before)
                .map_or(String::new(), |p| p.days.0.to_string())
        };
        say(format!(
            "parts best before {} (least squares) or {} (Pettitt, p {p:.3})",
            day(parting.before),
            day(at)
        ));
    }
    if let Some((at, up)) = d.cusum.as_ref().and_then(|c| c.first_beyond(4.0)) {
        say(format!(
            "cumulative sums go beyond four standard errors {} at point {}",
            if up { "upwards" } else { "downwards" },
            at + 1
        ));
    }
    if let Some(chance) = trend.chance {
        say(format!(
            "chance drift: effective size {:.0}, inherited share of the variance {:.2}, standard deviation of the slope {}",
            chance.effective_size,
            chance.heritability,
            difference(of, chance.slope_sd, 0.0)
        ));
    }
}
