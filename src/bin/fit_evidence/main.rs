//! Fits the models of the finding to rendered scenes with truth and writes their weight files.
//!
//! fit-evidence OUT_DIR TRUTH_DIR... [--leave-out STEM,STEM...] [--keep-shapes] [--keep-scale] [--lamp-only]

mod logistic;
mod rows;
mod shade;
mod truth;

use catchcup::animals::models::{self, Models};
use catchcup::animals::{edge, ends, features, lamp, orient, worth};
use logistic::fit;

fn main() {
    let mut args: Vec<String> = std::env::args().skip(1).collect();
    let mut leave_out = Vec::new();
    if let Some(k) = args.iter().position(|a| a == "--leave-out") {
        leave_out = args[k + 1].split(',').map(str::to_string).collect();
        args.drain(k..=k + 1);
    }
    let mut flag = |name: &str| {
        let place = args.iter().position(|a| a == name);
        place.map(|k| args.remove(k)).is_some()
    };
    let keep_shapes = flag("--keep-shapes");
    let keep_scale = flag("--keep-scale");
    let lamp_only = flag("--lamp-only");
    let out = args.remove(0);
    let truths = truth::load(&args, &leave_out);
    println!("{} photos", truths.len());
    let mut models = Models::built_in();
    if !lamp_only {
        fit_finding(&truths, keep_shapes, keep_scale, &mut models);
    }
    fit_lamp(&truths, &mut models);
    std::fs::create_dir_all(&out).expect("the output folder can be made");
    for (name, model) in models::NAMES.iter().zip(models.all()) {
        std::fs::write(format!("{out}/{name}.txt"), model.to_text())
            .expect("the weight file can be written");
    }
}

/// What finds animals in light from all sides.
fn fit_finding(truths: &[truth::Truth], keep_shapes: bool, keep_scale: bool, models: &mut Models) {
    if !keep_shapes {
        fit_shapes(truths, models);
    }
    let settled = rows::bodies(truths, models, &rows::SETTLED_FACTORS);
    models.worth = fit(&rows::labelled(&settled, 0.5), &worth::NAMES, 10.0);
    models.rank = fit(&rows::labelled(&settled, 0.78), &worth::NAMES, 10.0);
    if !keep_scale {
        let scale = rows::bodies(truths, models, &rows::SCALE_FACTORS);
        models.scale = fit(&rows::labelled(&scale, 0.6), &worth::NAMES, 3.0);
    }
}

/// Lamps put into each scene.
const LAMPS: u64 = 3;

/// What tells on which side the shade of a lone lamp lies, and where flanks end in it.
fn fit_lamp(truths: &[truth::Truth], models: &mut Models) {
    let drawn = truths.iter().enumerate().flat_map(|(k, truth)| {
        (0..LAMPS).filter_map(move |j| shade::shaded(truth, 1000 + LAMPS * k as u64 + j))
    });
    let scenes: Vec<shade::Shaded> = drawn.collect();
    let found = rows::lamps(&scenes, models);
    println!(
        "{} scenes with a lamp: {} edges, {} sides",
        scenes.len(),
        found.shaded.labels.len(),
        found.lamp.labels.len()
    );
    models.shaded = fit(&found.shaded, &edge::NAMES, 3.0);
    models.lamp = fit(&found.lamp, &lamp::NAMES, 3.0);
}

/// Evidence, edges, ends and directions, in two rounds: the second sees bodies as the first shapes them.
fn fit_shapes(truths: &[truth::Truth], models: &mut Models) {
    *models = Models::untrained();
    models.evidence = fit(&rows::evidence(truths, models), &features::FIRST_STAGE, 3.0);
    for round in 0..2 {
        let found = rows::shapes(truths, models, round > 0);
        println!(
            "round {round}: {} edges, {} ends, {} directions",
            found.edge.labels.len(),
            found.ends.labels.len(),
            found.orient.labels.len()
        );
        models.edge = fit(&found.edge, &edge::NAMES, 3.0);
        models.ends = fit(&found.ends, &ends::NAMES, 3.0);
        if round > 0 {
            models.orient = fit(&found.orient, &orient::NAMES, 1.0);
        }
    }
}
