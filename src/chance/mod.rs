//! Random numbers that repeat: counter-based streams keyed by (seed, purpose, flight, count).
//!
//! The count is of things that come at fixed times (fifths of a second, solutions of the fix, packets, news of the picture), so that
//! neither the time step, as far as it divides these times, nor the order of calls changes what a flight meets.
//!
//! Never keyed by policy nor by the order of calls: two policies meet the same gusts, shadows
//! and fixes in the same flight, whatever they do and whatever else draws.

mod normal;
mod philox;
mod source;
mod uncertain;

pub use normal::{standard_normal_cdf, standard_normal_quantile, standard_normal_quick};
pub use philox::{philox4x32, unit_from_word};
pub(crate) use source::open_unit;
pub use source::{Purpose, Sequence, Source};
pub use uncertain::{Range, Uncertain};
