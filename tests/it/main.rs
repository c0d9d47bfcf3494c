//! One integration binary: each file checks one thing.

mod broken;
mod cli;
mod golden;
mod invariance;
mod ladder;
mod ladder_animals;
mod ladder_place;
mod layering;
mod many_photos;
mod measures;
mod overlay;
mod photo;
mod published_colour;
mod published_stats;
mod record;
mod record_scoop;
mod record_text;
mod rules_command;
mod same_bytes;
mod samples;
mod scene_cups;
mod sources;
mod support;
mod tidy;
mod uncertainty;
