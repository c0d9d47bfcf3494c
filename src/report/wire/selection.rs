//! Sorting, ranking, forecast and plan as JSON, one object a line.

use serde_json::{Value, json};

use super::animal::sex_word;
use super::round;
use crate::book::SortingEntry;
use crate::book::cups::Ended;
use crate::report::selection::forecast::{Forecast, PlanTold, Planned};
use crate::report::selection::rank::first_pass_word;
use crate::report::selection::sort::{ToldCup, find_words, verdict_word};
use crate::selection::plan::{Coming, Range};
use crate::selection::ranking::{FirstPass, Ranked, Ranking};
use crate::selection::realised::TooLittle;
use crate::selection::sorting::again::{Gone, TwoPhotos};
use crate::selection::sorting::{FromTub, Sorting, TankNumber, Verdict};
use crate::selection::worth::{WeightsFrom, Yardstick};

/// Kinds and versions of the objects.
pub const SORT_KIND: &str = "catchcup.sort/1";
const CUP_KIND: &str = "catchcup.sort_cup/1";
const RANK_KIND: &str = "catchcup.rank/1";
const YOUNG_KIND: &str = "catchcup.first_pass/1";
const FORECAST_KIND: &str = "catchcup.forecast/1";
const PLAN_KIND: &str = "catchcup.plan/1";

fn num(value: f64) -> Value {
    json!(round(value, 4))
}

fn weights(stick: &Yardstick) -> Value {
    let from = match stick.from {
        WeightsFrom::Rules => "rules",
        WeightsFrom::BestRung => "best_rung",
        WeightsFrom::SmithHazel => "smith_hazel",
    };
    let each: serde_json::Map<String, Value> = stick
        .weights
        .iter()
        .map(|(measure, weight)| (measure.word().to_string(), num(*weight)))
        .collect();
    json!({ "from": from, "measures": each })
}

fn tally(sorting: &Sorting) -> Value {
    let one = |sex: usize| {
        json!({
            "wanted": sorting.setup.wanted[sex],
            "kept": sorting.counts[sex].kept,
            "in_tub": sorting.tub[sex].len(),
            "moved_out": sorting.counts[sex].moved_out,
        })
    };
    let left = sorting.left();
    let shift = sorting.shift();
    json!({
        "cups": sorting.cups,
        "females": one(0),
        "males": one(1),
        "back": sorting.back,
        "left": { "expected": round(left.expected, 1), "uncertainty": round(left.uncertainty, 1) },
        "shift": shift.map(|s| json!({ "sd": num(s.by_sd), "uncertainty": num(s.uncertainty), "noticed": s.is_noticed() })),
    })
}

fn state(what: &str, tank: &str, sorting: &Sorting, stick: Option<&Yardstick>) -> Value {
    let (animals, counted) = match sorting.setup.number {
        TankNumber::Counted(number) => (number, true),
        TankNumber::About(number) => (number, false),
    };
    let tub: Vec<Value> = (0..2)
        .flat_map(|sex| sorting.tub[sex].iter().map(move |held| (sex, held)))
        .map(|(sex, held)| {
            json!({
                "place": format!("{}{}", ["F", "M"][sex], held.place),
                "cup": held.cup,
                "no": held.no,
                "worth": num(held.worth),
            })
        })
        .collect();
    json!({
        "schema": SORT_KIND,
        "state": what,
        "tank": tank,
        "animals": animals,
        "counted": counted,
        "tub_places": sorting.setup.places,
        "learned": { "females": sorting.setup.earlier[0].len(), "males": sorting.setup.earlier[1].len() },
        "weights": stick.map(weights),
        "tally": tally(sorting),
        "tub": tub,
    })
}

/// A sorting that begins.
pub fn begun(tank: &str, sorting: &Sorting, stick: &Yardstick) -> String {
    state("begun", tank, sorting, Some(stick)).to_string()
}

/// Where a sorting stands.
pub fn standing(entry: &SortingEntry, sorting: &Sorting) -> String {
    let what = if entry.ended.is_some() {
        "ended"
    } else {
        "under_way"
    };
    state(what, &entry.tank, sorting, Some(&entry.stick)).to_string()
}

fn from_tub(all: &[FromTub]) -> Vec<Value> {
    all.iter()
        .map(|left| {
            json!({ "place": format!("{}{}", ["F", "M"][left.sex], left.place), "keep": left.keep })
        })
        .collect()
}

/// A sorting that has ended.
pub fn ended(tank: &str, ended: &Ended) -> String {
    let mut object = state("ended", tank, &ended.after, None);
    object["from_tub"] = json!(from_tub(&ended.decision.from_tub));
    object["effective_size"] = num(ended.effective_size);
    object["netted"] = json!(ended.after.netted());
    object["left_at_end"] = json!({ "expected": round(ended.left.expected, 1), "uncertainty": round(ended.left.uncertainty, 1) });
    object.to_string()
}

/// How two photos of a cup go together.
fn photos(photos: &TwoPhotos) -> Value {
    let gone = photos.gone.iter().map(|gone| {
        let is = match gone.what {
            Gone::InCup => "in_cup",
            Gone::Moved => "moved",
            Gone::NoAnimal => "no_animal",
            Gone::Here(_) => "here",
        };
        json!({ "no_before": gone.no_before, "no": gone.no, "is": is, "said": gone.is_said })
    });
    let new = photos.new.iter().map(|new| {
        let is = if new.is_animal { "animal" } else { "no_animal" };
        json!({ "no": new.no, "is": is, "said": new.is_said })
    });
    json!({
        "known": photos.known,
        "likely": photos.likely,
        "renumbered": photos.renumbered.iter().map(|(then, now)| json!({ "no_before": then, "no": now })).collect::<Vec<_>>(),
        "gone": Value::from_iter(gone),
        "new": Value::from_iter(new),
    })
}

/// The answer to a cup.
pub fn cup(told: &ToldCup<'_>) -> String {
    let animals: Vec<Value> = told
        .decision
        .animals
        .iter()
        .enumerate()
        .map(|(at, judged)| {
            let find = told.finds.iter().find(|find| find.no == judged.no);
            let worth = told.cup.animals.get(at).map(|animal| &animal.worth);
            let place = match judged.verdict {
                Verdict::Hold(place) => Some(format!("{}{place}", if sex_word(judged.sex) == "male" { "M" } else { "F" })),
                _ => None,
            };
            json!({
                "no": judged.no,
                "sex": sex_word(judged.sex),
                "do": verdict_word(judged.verdict),
                "tub_place": place,
                "look_twice": judged.look_twice,
                "moved_before": judged.done,
                "not_shown": told.cup.animals.get(at).is_some_and(|a| a.before.is_some()),
                "worth": worth.and_then(|w| w.as_ref().ok()).map(|w| json!({ "value": num(w.value), "uncertainty": num(w.uncertainty) })),
                "set_aside": worth.and_then(|w| w.as_ref().err()).map(|why| why.word()),
                "which": find.map(|find| find_words(find, judged.sex)),
                "well": told.wells.get(at).and_then(Option::as_ref),
            })
        })
        .collect();
    json!({
        "schema": CUP_KIND,
        "tank": told.tank,
        "cup": told.no,
        "again": told.photos.is_some(),
        "photos": told.photos.map(photos),
        "animals": animals,
        "from_tub": from_tub(&told.decision.from_tub),
        "line": { "females": told.decision.line[0].map(num), "males": told.decision.line[1].map(num) },
        "tally": tally(told.after),
    })
    .to_string()
}

/// A ranking.
pub fn ranking(tank: &str, found: &Ranking, stick: &Yardstick, wanted: [usize; 2]) -> String {
    let one = |ranked: &Ranked| {
        json!({
            "scoop": ranked.scoop,
            "no": ranked.no,
            "worth": num(ranked.worth.value),
            "uncertainty": num(ranked.worth.uncertainty),
            "group": ranked.group,
            "keep": ranked.keep,
        })
    };
    let sex = |at: usize| {
        json!({
            "wanted": wanted[at],
            "by_length": found.by_length[at].map(num),
            "animals": found.sexes[at].iter().map(one).collect::<Vec<_>>(),
        })
    };
    let males: Vec<Value> = found
        .further_males
        .iter()
        .map(|cost| {
            json!({
                "males": cost.males,
                "effective_size": num(cost.effective_size),
                "inbreeding": num(cost.rate),
                "worth_lost": num(cost.worth_lost),
            })
        })
        .collect();
    let place = |(scoop, no): &(i64, u32)| json!({ "scoop": scoop, "no": no });
    let aside = found
        .aside
        .iter()
        .map(|(scoop, no, why)| json!({ "scoop": scoop, "no": no, "reason": why.word() }));
    json!({
        "schema": RANK_KIND,
        "tank": tank,
        "weights": weights(stick),
        "females": sex(0),
        "males": sex(1),
        "unsexed": found.unsexed.iter().map(place).collect::<Vec<_>>(),
        "set_aside": aside.collect::<Vec<_>>(),
        "further_males": males,
    })
    .to_string()
}

/// The first pass over a young cohort.
pub fn young(tank: &str, calls: &[(i64, u32, FirstPass)]) -> String {
    let animals: Vec<Value> = calls
        .iter()
        .map(
            |(scoop, no, call)| json!({ "scoop": scoop, "no": no, "call": first_pass_word(*call) }),
        )
        .collect();
    json!({ "schema": YOUNG_KIND, "tank": tank, "animals": animals }).to_string()
}

/// A forecast.
pub fn forecast(f: &Forecast) -> String {
    let realised = match &f.realised {
        Ok(found) => json!({
            "value": num(found.value),
            "low": num(found.interval.low),
            "high": num(found.interval.high),
            "generations": found.generations,
            "told_from_zero": found.is_told_from_zero(),
        }),
        Err(why) => json!({
            "withheld": match why {
                TooLittle::Generations(_) => "too_few_generations",
                TooLittle::Selection => "hardly_selected",
                TooLittle::Animals => "no_animals",
            }
        }),
    };
    let gains = f.gains.iter().map(|gain| {
        json!({ "heritability": num(gain.h2), "gain_sd": num(gain.sd), "better": num(gain.better) })
    });
    json!({
        "schema": FORECAST_KIND,
        "tank": f.tank,
        "keep": { "females": f.keep[0], "males": f.keep[1] },
        "there": { "females": f.there[0], "males": f.there[1] },
        "intensity": { "females": num(f.intensity[0]), "males": num(f.intensity[1]) },
        "coverage_sd": f.coverage_sd.map(num),
        "gains": gains.collect::<Vec<_>>(),
        "size_gain_sd": { "low": num(f.size.0), "high": num(f.size.1) },
        "longer": { "low": num(f.longer.0), "high": num(f.longer.1) },
        "realised_heritability": realised,
        "effective_size": num(f.effective_size),
        "inbreeding": num(f.rate),
        "one_more_male": { "effective_size": num(f.one_more_male.0), "inbreeding": num(f.one_more_male.1) },
        "past": {
            "effective_sizes": f.past.iter().map(|ne| num(*ne)).collect::<Vec<_>>(),
            "harmonic_mean": f.harmonic.map(num),
            "inbreeding": num(f.accumulated),
        },
        "outcross": { "limit": num(f.limit), "generations": f.outcross_in.map(num), "sources": f.sources },
    })
    .to_string()
}

fn range(of: &Range) -> Value {
    json!({ "mean": num(of.mean), "low": num(of.low), "high": num(of.high) })
}

/// A plan.
pub fn plan(told: &PlanTold) -> String {
    let coming = |one: &Coming| {
        json!({
            "generation": one.generation,
            "years": round(one.generation as f64 * told.generation_days / 365.25, 2),
            "gain_sd": range(&one.worth),
            "rungs": one.rungs.iter().map(range).collect::<Vec<_>>(),
            "at_or_above": one.at_or_above.iter().map(range).collect::<Vec<_>>(),
            "inbreeding": range(&one.inbreeding),
            "diversity": range(&one.diversity),
        })
    };
    let policy = |one: &Planned| {
        json!({
            "keep": { "females": one.keep[0], "males": one.keep[1] },
            "heritability": num(one.heritability),
            "generations": one.coming.iter().map(coming).collect::<Vec<_>>(),
        })
    };
    json!({
        "schema": PLAN_KIND,
        "line": told.line,
        "times": told.times,
        "animals": told.animals,
        "judged": told.judged,
        "reading_error": num(told.reading_error),
        "generation_days": round(told.generation_days, 1),
        "sale_rung": told.sale_rung.to_string(),
        "policies": told.policies.iter().map(policy).collect::<Vec<_>>(),
    })
    .to_string()
}
