//! Measured, explained, repeatable colour grades for dwarf shrimp from a phone photo of a scoop.
//!
//! The flow is one-way; a module may use only those above it in this list:
//! `units colour stats doubt error lanes plane` → `photo` → `scene` → `animals` → `measures` → `ladder` → `scoop` → `trends` `selection` `eye` → `book` → `report`.
//! Start reading at [`scoop::grade_photo`].

pub mod colour;
pub mod doubt;
pub mod error;
pub mod lanes;
pub mod plane;
pub mod stats;
pub mod units;

pub mod photo;

pub mod scene;

pub mod animals;

pub mod measures;

pub mod ladder;

pub mod scoop;

pub mod trends;

pub mod eye;
pub mod proof;
pub mod selection;

pub mod book;

pub mod report;
