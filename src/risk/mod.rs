//! Runs the flights, gathers endings, compares policies.

pub mod answer;
pub mod assess;
pub mod cautions;
pub mod choice;
pub mod compare;
pub mod conditions;
pub mod end_log;
pub mod faults;
pub mod field_sheet;
pub mod follow;
pub mod harm;
pub mod heights;
pub mod information;
pub mod outcome;
pub mod picks;
pub mod run;
pub mod stages;
pub mod summary;
pub mod sweep;
pub mod tally;
pub mod verdict;
pub mod what_if;
pub mod words;

pub use summary::Summary;
pub use tally::{Tally, TallyResult};
