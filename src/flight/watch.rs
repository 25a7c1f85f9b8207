//! Watching a flight while it is flown: nothing in a mass run, a trace in a replay.

use super::Doing;
use super::state::State;
use crate::world::World;

/// Hears of every step and of what happens.
pub trait Watch {
    /// One step is about to be flown.
    fn step(&mut self, world: &World, state: &State, doing: Doing);
    /// Something worth telling happened at this time after take-off; the words are made only if somebody listens.
    fn event(&mut self, time_s: f64, what: impl FnOnce() -> String);
}

/// Watches nothing and costs nothing.
pub struct Unwatched;

impl Watch for Unwatched {
    #[inline]
    fn step(&mut self, _: &World, _: &State, _: Doing) {}
    #[inline]
    fn event(&mut self, _: f64, _: impl FnOnce() -> String) {}
}
