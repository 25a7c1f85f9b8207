//! The radio link in flight: mean budget from place and attitude, fading and packets from the flight's luck, and what
//! the receiver makes of them.
//!
//! The mean link is looked at every 0.2 s. All packets until the next look meet it as it was then: place, attitude, shadows,
//! the sources' strengths, the power step. What tells them apart is the fade on the way travelled, their hop, who else is on
//! the air when they are due, and their own byte of luck. Telemetry's packets since the last look are judged together at
//! the look, by the fade that the uplink's last packet met; of the picture one draw a look, half a look later, says whether
//! a frame came through.
//!
//! Three time scales, kept apart: what geometry fixes (free space, obstruction, ground bounce, antennas, body), what is
//! frozen in space (shadowing), and what changes with every packet (fading by the way travelled, hops, bursts, other
//! users). All draws are keyed by (purpose, flight, look or packet), never by policy: branches cloned from one trunk meet
//! the same luck.

mod bounce;
mod cause;
mod downlinks;
mod hands;
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
