//! Fits the models of the finding to rendered scenes with truth and writes their weight files.
//!
//! fit-evidence OUT_DIR TRUTH_DIR... [--leave-out STEM,STEM...]

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
    let out = args.remove(0);
    let truths = truth::load(&args, &leave_out);
    println!("{} photos", truths.len());
    let mut models = Models::untrained();
    models.evidence = fit(&rows::evidence(&truths, &models), &features::FIRST_STAGE, 3.0);
    println!("evidence fitted");
    for round in 0..2 {
        let found = rows::shapes(&truths, &models, round > 0);
        println!("round {round}: {} edges, {} ends, {} directions", found.edge.labels.len(), found.ends.labels.len(), found.orient.labels.len());
        models.edge = fit(&found.edge, &edge::NAMES, 3.0);
        models.ends = fit(&found.ends, &ends::NAMES, 3.0);
        if round > 0 {
            models.orient = fit(&found.orient, &orient::NAMES, 1.0);
        }
    }
    let rows = rows::worth(&truths, &models);
    println!("{} shapes, {} animals", rows.labels.len(), rows.labels.iter().filter(|l| **l).count());
    models.worth = fit(&rows, &worth::NAMES, 3.0);
    std::fs::create_dir_all(&out).expect("the output folder can be made");
    for (name, model) in
        [("evidence", &models.evidence), ("edge", &models.edge), ("ends", &models.ends), ("orient", &models.orient), ("worth", &models.worth)]
    {
        std::fs::write(format!("{out}/{name}.txt"), model.to_text()).expect("the weight file can be written");
    }
}
