//! One flight: a trunk flown once, then one branch per policy from the same snapshot with the same luck.

pub mod air;
mod draws;
mod ending;
mod trace;

pub use air::{AirSetup, AirState};
pub use draws::{Drawn, FlightDraws, Streams};
pub use ending::{Ending, Flags, FlightOutcome, Ground, Group, Headline, LossCause, LossMoment, Manner};
pub use trace::{Doing, LossBudget, Trace, TraceRow};
