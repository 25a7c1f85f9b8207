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

use crate::risk::summary::{Heights, Summary};

/// All figures of a summary, in the order of the page.
pub fn all(summary: &Summary, look: Look) -> Vec<Figure> {
    vec![bars(summary, look), icons(summary, look), map(summary, look), pairs(summary, look)]
}

/// All figures of a height sweep.
pub fn of_heights(_heights: &Heights, _look: Look) -> Vec<Figure> {
    vec![]
}
