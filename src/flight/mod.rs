//! One flight: a trunk flown once, then one branch per policy from the same snapshot with the same luck.

pub mod air;
mod draws;
mod ending;
mod fix;
pub mod link;
mod trace;

pub use air::{AirSetup, AirState};
pub use draws::{Drawn, FlightDraws, Streams};
pub use ending::{Ending, Flags, FlightOutcome, Ground, Group, Headline, LossCause, LossMoment, Manner};
pub use fix::{
    FAST_DISTANCE_M, FAST_MEMORY_S, FixMoment, FixNow, FixSetup, FixSetupError, FixState, SLOW_MEMORY_S, SOLUTION_S,
    TakeOff, VARIANCE_SHARES,
};
pub use link::{FlatGround, LinkDraws, LinkError, LinkEvent, LinkLuck, LinkNow, LinkSetup, LinkState, MeanLink};
pub use trace::{Doing, LossBudget, Trace, TraceRow};
