//! The reference formulas against each other, against closed forms and against the code that flies.

mod air;
mod craft;
mod radio;
mod risk;
mod sky;
mod stats;
