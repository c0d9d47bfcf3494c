//! One integration binary: each file checks one thing.

mod book;
mod book_demo;
mod book_history;
mod book_json;
mod book_safety;
mod book_sense;
mod book_tables;
mod book_tags;
mod broken;
mod cli;
mod cup_again;
mod dark_ground;
mod eye;
mod filing_care;
mod formats;
mod golden;
mod house_colours;
mod invariance;
mod ladder;
mod ladder_animals;
mod ladder_place;
mod layering;
mod lone_lamp;
mod many_photos;
mod measures;
mod only_some_lines;
mod overlay;
mod photo;
mod photo_check;
mod proof_commands;
mod proof_dispute;
mod proof_png;
mod proof_tamper;
mod published_agreement;
mod published_colour;
mod published_eye;
mod published_lots;
mod published_selection;
mod published_signed;
mod published_stats;
mod published_trends;
mod record;
mod record_scoop;
mod record_text;
#[cfg(feature = "web")]
mod room_api;
#[cfg(feature = "web")]
mod room_browser;
#[cfg(feature = "web")]
mod room_look;
#[cfg(feature = "web")]
mod room_page;
#[cfg(feature = "web")]
mod room_refused;
#[cfg(feature = "web")]
mod room_work;
mod rules_command;
mod same_bytes;
mod samples;
mod scene_charts;
mod scene_colour;
mod scene_cups;
mod selection;
mod selection_commands;
mod several_photos;
mod sorting_care;
mod sources;
mod support;
mod tidy;
mod trend_answers;
mod trend_commands;
mod trends;
mod uncertainty;
mod wrong_use;
