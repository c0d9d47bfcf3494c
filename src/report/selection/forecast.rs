//! Forecasts and plans in words.

use super::super::text::{Page, TextLine, Tone};
use super::{both, percent, rounded};
use crate::ladder::Rung;
use crate::selection::plan::{Coming, Range};
use crate::selection::realised::{Realised, TooLittle};

/// What a generation should gain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// Heritability it is told for.
    pub h2: f64,
    /// In standard deviations of worth.
    pub sd: f64,
    /// Share of the young that is better than the middle of today's animals, 0..=1.
    pub better: f64,
}

/// Everything that is told of a forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Code of the tank.
    pub tank: String,
    /// Females and males to keep.
    pub keep: [usize; 2],
    /// Females and males there, as far as the share of the scoops tells.
    pub there: [usize; 2],
    /// Intensity of the chosen of each sex, in standard deviations.
    pub intensity: [f64; 2],
    /// What one standard deviation of worth is in coverage, where coverage is measured.
    pub coverage_sd: Option<f64>,
    /// Expected gains by heritability, lowest first.
    pub gains: Vec<Gain>,
    /// The same for body length: least and most, in standard deviations of length.
    pub size: (f64, f64),
    /// Shares of the young longer than the middle of today's animals, 0..=1: least and most.
    pub longer: (f64, f64),
    /// Heritability that the house's own generations show.
    pub realised: Result<Realised, TooLittle>,
    /// Effective size of the next parents.
    pub effective_size: f64,
    /// Rise of inbreeding by them, 0..=1.
    pub rate: f64,
    /// The same with one more male.
    pub one_more_male: (f64, f64),
    /// Effective sizes of the generations of the line so far.
    pub past: Vec<f64>,
    /// Their harmonic mean.
    pub harmonic: Option<f64>,
    /// Inbreeding accumulated over them.
    pub accumulated: f64,
    /// Generations until fresh blood is due at this rate; `None` where it never is.
    pub outcross_in: Option<f64>,
    /// Inbreeding from which fresh blood is advised.
    pub limit: f64,
    /// Tanks of the line from which it could come, with what speaks for them.
    pub sources: Vec<String>,
}

/// What a finished sorting costs and what comes next.
pub fn after_sorting(
    tank: &str,
    after: &crate::selection::sorting::Sorting,
    effective_size: f64,
    next_generation: Option<&str>,
) -> Vec<String> {
    let mut costs = Vec::new();
    if effective_size > 0.0 {
        let rate = crate::selection::inbreeding::rate(effective_size);
        costs.push(cost_words(effective_size, rate));
    }
    if let Some(next) = next_generation {
        let [females, males] = after.counts.map(|count| count.kept);
        costs.push(format!(
            "Begin the next generation with them: catchcup generation begin TANK {next} --females {females} --males {males} --from {tank}"
        ));
    }
    costs
}

/// What a group of breeders costs, in one sentence.
pub fn cost_words(effective_size: f64, rate: f64) -> String {
    format!(
        "Inbreeding rises by {} a generation (like {effective_size:.0} breeders of equal share), more where a few have most of \
         the young.",
        percent(rate)
    )
}

/// A forecast; with `detail` in the terms of breeding too.
pub fn forecast(f: &Forecast, detail: bool) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(
        Tone::Heading,
        "",
        &format!(
            "Tank {}: keep {} of {}",
            f.tank,
            both(f.keep),
            both(f.there)
        ),
    );
    gains(f, detail, &mut out);
    own(f, &mut out);
    out.blank();
    costs(f, &mut out);
    out.wrapped(
        Tone::Faint,
        "",
        "No ratios of colours among the young are foretold: none are known for this species.",
    );
    out.lines
}

fn gains(f: &Forecast, detail: bool, out: &mut Page) {
    let whole = |share: f64| format!("{:.0}", 100.0 * share);
    out.line(
        Tone::Plain,
        "Of 100 young, so many should be better than the middle of today's animals:",
    );
    for gain in &f.gains {
        let coverage = f.coverage_sd.map_or(String::new(), |sd| {
            format!(
                ", about {:+.1} points of coverage where nothing is at its end yet",
                100.0 * gain.sd * sd
            )
        });
        let terms = if detail {
            format!(" ({:+.2} standard deviations)", gain.sd)
        } else {
            String::new()
        };
        out.wrapped(
            Tone::Plain,
            "    ",
            &format!(
                "  {} if {} of the differences is inherited{terms}{coverage}",
                whole(gain.better),
                percent(gain.h2)
            ),
        );
    }
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "Without choosing it would be 50. Size comes along: {} to {} of 100 young longer than the middle of today's, were size tied to colour as in a farmed shrimp.",
            whole(f.longer.0), whole(f.longer.1)
        ),
    );
    if detail {
        out.wrapped(
            Tone::Faint,
            "  ",
            &format!(
                "Selection intensity {:.2} of the females, {:.2} of the males, in standard deviations between animals; size {:+.2} to {:+.2} of its own. Response by the breeder's equation, a normal spread that stays.",
                f.intensity[0], f.intensity[1], f.size.0, f.size.1
            ),
        );
    }
}

fn own(f: &Forecast, out: &mut Page) {
    let text = match &f.realised {
        Ok(found) if found.is_told_from_zero() => format!(
            "Your own {} generations show {} inherited, 95 % range {} to {}: the forecast uses it.",
            found.generations,
            rounded(found.value),
            rounded(found.interval.low),
            rounded(found.interval.high)
        ),
        Ok(found) => format!(
            "Your own {} generations show {} inherited, 95 % range {} to {}: the data can't tell it from zero.",
            found.generations,
            rounded(found.value),
            rounded(found.interval.low),
            rounded(found.interval.high)
        ),
        Err(TooLittle::Generations(count)) => format!(
            "Your own generations: {count} with what was selected on record, 3 are needed. Sortings record it."
        ),
        Err(TooLittle::Selection) => {
            "Your own generations: hardly anything was selected, so nothing can be told.".into()
        }
        Err(TooLittle::Animals) => {
            "Your own generations: one of them has no animals or no parents on record.".into()
        }
    };
    out.wrapped(Tone::Plain, "  ", &text);
}

fn costs(f: &Forecast, out: &mut Page) {
    out.wrapped(Tone::Plain, "  ", &cost_words(f.effective_size, f.rate));
    let (ne, rate) = f.one_more_male;
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "One more male: {} a generation (like {ne:.0} breeders).",
            percent(rate)
        ),
    );
    if let Some(harmonic) = f.harmonic {
        out.wrapped(
            Tone::Plain,
            "  ",
            &format!(
                "So far {} generations on record, like {harmonic:.0} breeders in each: inbreeding {} above the founders'.",
                f.past.len(),
                percent(f.accumulated)
            ),
        );
    }
    let due = match f.outcross_in {
        Some(n) if n < 1.0 => "Fresh blood is due now".to_string(),
        Some(n) if n < 200.0 => format!("Fresh blood is due in about {n:.0} generations"),
        _ => "Fresh blood is not due".into(),
    };
    let from = if f.sources.is_empty() {
        "no other tank of the line is in the book".to_string()
    } else {
        format!("it could come from {}", f.sources.join("; "))
    };
    out.wrapped(
        Tone::Plain,
        "  ",
        &format!(
            "{due} ({} is where we would look for it); {from}. A hint, no order: small broods, dropped eggs, small or misshapen \
             young speak louder, and poor water looks the same. Try it in a side tank for one generation.",
            percent(f.limit)
        ),
    );
}

/// One policy with what it brings.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// Females and males kept.
    pub keep: [usize; 2],
    /// Heritability it was played through with.
    pub heritability: f64,
    /// The present and the coming generations.
    pub coming: Vec<Coming>,
}

/// A plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanTold {
    /// Code of the line.
    pub line: String,
    /// Policies; each with one or more heritabilities.
    pub policies: Vec<Planned>,
    /// Rung from which the house sells.
    pub sale_rung: Rung,
    /// Days from one generation to the next.
    pub generation_days: f64,
    /// Replicates.
    pub times: u32,
    /// Animals a generation.
    pub animals: u32,
    /// Animals that the present shares were taken from.
    pub judged: usize,
    /// Share of the differences between readings that is error of the single reading.
    pub reading_error: f64,
}

fn range_words(range: &Range) -> String {
    format!(
        "{:>3.0} ({:.0}-{:.0})",
        100.0 * range.mean,
        100.0 * range.low,
        100.0 * range.high
    )
}

/// A plan in words: a table for each policy.
pub fn plan(told: &PlanTold) -> Vec<TextLine> {
    let mut out = Page::default();
    out.wrapped(
        Tone::Heading,
        "",
        &format!(
            "Line {}: {} coming generations, played through {} times with {} animals each",
            told.line,
            told.policies
                .first()
                .map_or(0, |p| p.coming.len().saturating_sub(1)),
            told.times,
            told.animals
        ),
    );
    let error = if told.reading_error > 0.0 {
        format!(
            "; {} of the differences between readings is error of the single reading",
            percent(told.reading_error)
        )
    } else {
        String::new()
    };
    let from = format!("From the rungs of {} animals{error}.", told.judged);
    out.wrapped(Tone::Plain, "  ", &from);
    for policy in &told.policies {
        out.blank();
        one_policy(told, policy, &mut out);
    }
    out.blank();
    out.wrapped(
        Tone::Faint,
        "",
        "In brackets what nine of ten runs lie between. It supposes many small genes, all kept animals breeding alike, and no fresh \
         blood; no ratios of colours are foretold.",
    );
    out.lines
}

fn one_policy(told: &PlanTold, policy: &Planned, out: &mut Page) {
    let sale = told.sale_rung;
    out.line(
        Tone::Heading,
        format!(
            "Keep {}, {} inherited",
            both(policy.keep),
            percent(policy.heritability)
        ),
    );
    out.line(
        Tone::Faint,
        format!(
            "  years  generation  {sale} or better %  best rung %    inbreeding %  diversity %"
        ),
    );
    for coming in policy
        .coming
        .iter()
        .filter(|c| shown(c.generation, policy.coming.len()))
    {
        let years = coming.generation as f64 * told.generation_days / 365.25;
        out.line(
            Tone::Plain,
            format!(
                "  {years:>5.1}  {:>10}  {:<15} {:<14} {:<13} {}",
                coming.generation,
                range_words(&coming.at_or_above[sale.index()]),
                range_words(&coming.rungs[5]),
                range_words(&coming.inbreeding),
                range_words(&coming.diversity),
            ),
        );
    }
}

/// All of the first five generations, then every fifth and the last.
fn shown(generation: usize, count: usize) -> bool {
    generation <= 5 || generation.is_multiple_of(5) || generation + 1 == count
}
