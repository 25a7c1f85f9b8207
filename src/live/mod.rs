//! A scenario under a few controls: which can be set and how far, what a setting makes of the scenario's text, and what then
//! becomes of its flights. What is flown is read from the text that can be saved, so both are one.
//!
//! [`Live`] holds the scenario and the worlds of the states met last; [`At`] is one state, with the flights counted so far.

mod at;
mod control;
mod edit;
mod model;
mod state;

pub use at::{Answer, At, FIRST, PolicyStanding, STAGE_FLIGHTS, Standing, TierShare};
pub use control::{Choice, Control, Kind};
pub use edit::{Context, edited};
pub use model::Live;
pub use state::{Key, Refusal, Setting, State};
