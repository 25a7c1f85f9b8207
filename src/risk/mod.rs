//! Runs the flights, gathers endings, compares policies.

pub mod harm;
pub mod outcome;
pub mod summary;
pub mod tally;
pub mod verdict;
pub mod words;

pub use summary::Summary;
pub use tally::{Tally, TallyResult};
