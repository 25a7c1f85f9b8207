//! The position fix: closed forms of its errors, whole days of satellites, laws of heading, published figures.
#![allow(unused_imports)]

mod almanac;
mod barometer;
mod cn0;
mod day;
mod dop;
mod error_budget;
mod first_fix;
mod gauss_markov;
mod heading;
mod kepler;
mod outage;
mod service;
mod skyline;
mod time;

pub use almanac::*;
pub use barometer::*;
pub use cn0::*;
pub use day::*;
pub use dop::*;
pub use error_budget::*;
pub use first_fix::*;
pub use gauss_markov::*;
pub use heading::*;
pub use kepler::*;
pub use outage::*;
pub use service::*;
pub use skyline::*;
pub use time::*;
