//! One flight: a trunk flown once, then one branch per policy from the same snapshot with the same luck.
//!
//! [`fly`] does it. The trunk is flown by the pilot until the receiver calls the link lost; there the state is
//! cloned once per policy. Draws are keyed by (seed, purpose, flight, time), so every policy meets the same
//! gusts, shadows and fixes.

pub mod air;
mod branch;
mod draws;
mod ending;
mod fix;
mod fly;
mod judge;
mod kept;
pub mod link;
mod luck;
mod pilot;
mod presence;
mod record;
mod running;
mod state;
mod touch;
mod trace;
mod track;
mod trunk;
mod watch;

pub use air::{AirSetup, AirState, AirWhen};
pub use branch::{MOST_S, fly_branch};
pub use draws::{Drawn, FlightDraws, Streams, input_columns, input_values};
pub use ending::{Ending, Flags, FlightOutcome, Ground, Headline, LossCause, LossMoment, Manner, Tier};
pub use fix::{FixMoment, FixNow, FixState, TakeOff};
pub use fly::{Part, fly, fly_in_parts};
pub use judge::{Facts, Here, Order, here_at};
pub use kept::{FixDraws, WindDraws};
pub use link::{LinkLuck, LinkNow, LinkState, Off, cause as link_cause};
pub use luck::{Cut, Luck, Workshop, home_energy};
pub use presence::Presence;
pub use record::{TOLD_EVERY_S, record};
pub use state::State;
pub use trace::{Doing, Event, Happened, Trace, TraceRow};
pub use track::tracks;
pub use trunk::{TrunkEnd, fly_trunk};
pub use watch::{StepCount, Unwatched, Watch};

pub use crate::radio::receiver::Declared;
pub use crate::world::radio::LossBudget;
