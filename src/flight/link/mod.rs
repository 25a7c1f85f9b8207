//! The radio link in flight: mean budget from place and attitude, fading and packets from the flight's luck, and what
//! the receiver makes of them.
//!
//! Three time scales, kept apart: what geometry fixes (free space, obstruction, ground bounce, antennas, body), what is
//! frozen in space (shadowing), and what changes with every packet (fading by the way travelled, hops, bursts, other
//! users). All draws are keyed by (purpose, flight, look or packet), never by policy: branches cloned from one trunk meet
//! the same luck.

mod bounce;
mod cause;
mod downlinks;
mod luck;
mod mean;
mod packets;
mod setup;
mod sources;
mod state;

pub use bounce::FlatGround;
pub use cause::cause;
pub use luck::{LinkDraws, LinkLuck};
pub use mean::MeanLink;
pub use setup::{LinkError, LinkSetup};
pub use sources::Strength;
pub use state::{LinkEvent, LinkNow, LinkState};

/// Entries of the tables over the sine of an angle.
const SINE_POINTS: usize = 256;
/// Nominal failing share that margins refer to.
pub(in crate::flight) const MARGIN_ERROR_RATE: f64 = 0.1;
