//! The radio link in flight: what a flight's luck makes of the radio over the site ([`crate::world::radio`]), and what the
//! receiver makes of that.
//!
//! The mean link is looked at every 0.2 s, and a quarter as often where uplink, telemetry and picture each have so much margin, or lack so
//! much, that nothing hangs on a few metres. A look is taken half-way along the way that the craft comes until the next one, and all packets
//! until then meet it as it is there: place, shadows, the sources' strengths, the power step; the craft's attitude is that of the moment
//! at which the look is taken. What tells packets apart is the fade on the way travelled, their hop, who else is on the air when they are
//! due, and their own byte of luck. Every 0.2 s there is news of the ways back, with the look that held meanwhile: telemetry's packets are
//! judged together, by the fade that the uplink's last packet met, and one draw says whether a frame of the picture came through.
//!
//! Three time scales, kept apart: what geometry fixes (free space, obstruction, ground bounce, antennas, body), what is
//! frozen in space (shadowing), and what changes with every packet (fading by the way travelled, hops, bursts, other
//! users). All draws are keyed by (purpose, flight, and where there are many, packet or news), never by policy: branches cloned from one trunk meet
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
