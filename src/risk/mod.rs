//! Runs the flights, gathers endings, compares policies.

pub mod summary;

pub use summary::Summary;
