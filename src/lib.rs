//! `lostlink` simulates what a small remotely piloted multirotor does when its
//! radio link goes, and compares failsafe policies over a site.
//!
//! One way through, each stage using only earlier ones:
//!
//! | stage | turns | into |
//! |---|---|---|
//! | [`scenario`] | a TOML file | a checked, typed [`scenario::Scenario`] |
//! | [`world`] | a scenario | everything that is the same for all flights |
//! | [`flight`] | the world and a flight number | a trunk, then one branch per policy, each with an ending |
//! | [`risk`] | endings | rates, paired differences, a verdict, with intervals |
//! | [`report`] | a summary | terminal text, JSON, CSV, GeoJSON, figures, a page |
//! | [`cli`] | arguments | calls of the above and an exit code |
//!
//! Below them stand [`units`], [`chance`], [`stats`] and the models, which know
//! nothing of flights: [`geometry`], [`site`], [`air`], [`radio`], [`sky`], [`craft`], and
//! [`failsafe`], which sees an observation and answers with a demand.
#![warn(missing_docs)]

// The formulas that judge stand with the tests; the unit tests in here hold flying code against them.
#[cfg(test)]
extern crate self as lostlink;
#[cfg(test)]
#[path = "../tests/reference/mod.rs"]
mod reference;

pub mod chance;
pub mod geometry;
pub mod stats;
pub mod units;

pub mod air;
pub mod craft;
pub mod radio;
pub mod site;
pub mod sky;

pub mod cli;
pub mod failsafe;
pub mod flight;
pub mod report;
pub mod risk;
pub mod scenario;
pub mod world;
