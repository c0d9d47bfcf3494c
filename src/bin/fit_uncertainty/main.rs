//! Fits the weights of the uncertainties to the errors on rendered scenes with truth.
//!
//! fit-uncertainty rows ROWS.csv TRUTH_DIR... [--models DIR] [--only STEM,STEM...]
//!     adds a line for each reading: its error and the parts of its uncertainty; `--models`: weights of the finding that were
//!     fitted without these photos
//! fit-uncertainty weights ROWS.csv WEIGHTS.txt
//!     writes the weights

mod readings;

use catchcup::animals::models::{self, Models};
use catchcup::measures::calibration::{Rows, weights};

fn main() {
    let mut args: Vec<String> = std::env::args().skip(1).collect();
    let mut option = |name: &str| {
        let k = args.iter().position(|a| a == name)?;
        let value = args[k + 1].clone();
        args.drain(k..=k + 1);
        Some(value)
    };
    let models = option("--models").map_or_else(Models::built_in, |dir| models_in(&dir));
    let only = option("--only");
    match args[0].as_str() {
        "rows" => {
            let wanted = |stem: &str| {
                only.as_ref()
                    .is_none_or(|o| o.split(',').any(|s| stem.starts_with(s)))
            };
            let before = std::fs::read_to_string(&args[1]).unwrap_or_default();
            let added = readings::readings(&args[2..], &wanted, &models);
            write(&args[1], &(before + &added));
        }
        "weights" => {
            let text = std::fs::read_to_string(&args[1]).expect("the rows can be read");
            let rows = Rows::parse(&text).expect("rows as this program writes them");
            write(
                &args[2],
                &weights(&rows).expect("rows of every measure").to_text(),
            );
        }
        other => panic!("{other}: rows or weights was expected"),
    }
}

fn write(path: &str, text: &str) {
    std::fs::write(path, text).expect("the file can be written");
}

fn models_in(dir: &str) -> Models {
    let texts = models::NAMES
        .map(|name| std::fs::read_to_string(format!("{dir}/{name}.txt")).expect("a weight file"));
    Models::parse(texts.each_ref().map(String::as_str))
        .expect("weight files as fit-evidence writes them")
}
