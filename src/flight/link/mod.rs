//! The radio link in flight: what a flight's luck makes of the radio over the site ([`crate::world::radio`]), and what the
//! receiver makes of that.
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

mod cause;
mod downlinks;
mod hands;
mod luck;
mod off;
mod others;
mod power;
mod restarts;
mod state;
mod uplink;

pub use cause::cause;
pub use luck::LinkLuck;
pub use off::Off;
pub use state::{LinkNow, LinkState};
