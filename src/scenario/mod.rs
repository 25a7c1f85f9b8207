//! From a TOML file to a checked, typed [`Scenario`]: every number in SI units, every uncertainty a distribution.

mod types;

pub use types::*;
