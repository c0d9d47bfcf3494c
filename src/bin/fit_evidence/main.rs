//! Fits the models of the finding to rendered scenes with truth and writes their weight files.
//!
//! fit-evidence OUT_DIR TRUTH_DIR... [--leave-out STEM,STEM...] [--keep-shapes] [--keep-scale]

mod logistic;
mod rows;
mod truth;

use catchcup::animals::{edge, ends, features, models::Models, orient, worth};
use logistic::fit;

fn main() {
    let mut args: Vec<String> = std::env::args().skip(1).collect();
    let mut leave_out = Vec::new();
    if let Some(k) = args.iter().position(|a| a == "--leave-out") {
        leave_out = args[k + 1].split(',').map(str::to_string).collect();
        args.drain(k..=k + 1);
    }
    let keep_shapes = args
        .iter()
        .position(|a| a == "--keep-shapes")
        .map(|k| args.remove(k))
        .is_some();
    let keep_scale = args
        .iter()
        .position(|a| a == "--keep-scale")
        .map(|k| args.remove(k))
        .is_some();
    let out = args.remove(0);
    let truths = truth::load(&args, &leave_out);
    println!("{} photos", truths.len());
    let mut models = Models::built_in();
    if !keep_shapes {
        fit_shapes(&truths, &mut models);
    }
    let settled = rows::bodies(&truths, &models, &rows::SETTLED_FACTORS);
    models.worth = fit(&rows::labelled(&settled, 0.5), &worth::NAMES, 10.0);
    models.rank = fit(&rows::labelled(&settled, 0.78), &worth::NAMES, 10.0);
    if !keep_scale {
        let scale = rows::bodies(&truths, &models, &rows::SCALE_FACTORS);
        models.scale = fit(&rows::labelled(&scale, 0.6), &worth::NAMES, 3.0);
    }
    std::fs::create_dir_all(&out).expect("the output folder can be made");
    for (name, model) in [
        ("evidence", &models.evidence),
        ("edge", &models.edge),
        ("ends", &models.ends),
        ("orient", &models.orient),
        ("scale", &models.scale),
        ("worth", &models.worth),
        ("rank", &models.rank),
    ] {
        std::fs::write(format!("{out}/{name}.txt"), model.to_text())
            .expect("the weight file can be written");
    }
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
