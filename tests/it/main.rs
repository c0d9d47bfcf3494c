//! One integration binary: each file checks one thing.

mod broken;
mod ladder;
mod layering;
mod photo;
mod published_colour;
mod published_stats;
mod sources;
mod support;
