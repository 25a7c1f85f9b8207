//! Laws of the models and simulations against closed forms; the reference formulas against each other and against what flies.

#[path = "../field/mod.rs"]
mod field;
#[path = "../reference/mod.rs"]
mod reference;

mod craft;
mod judges;
mod link;
mod radio;
mod silence;
mod sky;
mod stats;
