//! The reference formulas against each other, against closed forms and against the code that flies.

#[path = "../reference/mod.rs"]
mod reference;

mod air;
mod craft;
mod radio;
mod risk;
mod sky;
mod stats;
