//! Figures: one function each, a summary in, a [`Figure`] out.

pub mod axis;
mod bars;
pub mod canvas;
pub mod font;
mod map;
mod pairs;
pub mod theme;

pub use bars::{bars, icons};
pub use canvas::{Figure, Layout, Look};
pub use map::map;
pub use pairs::{pairs, verdict_words};
