//! Watching a flight while it is flown: nothing in a mass run, a trace in a replay.

use super::state::State;
use super::{Doing, Event};
use crate::world::World;

/// Hears of every step and of what happens.
pub trait Watch {
    /// One step is about to be flown.
    fn step(&mut self, world: &World, state: &State, doing: Doing);
    /// Something worth telling happened at this time after take-off; it is put together only if somebody listens.
    fn event(&mut self, time_s: f64, what: impl FnOnce() -> Event);
}

/// Watches nothing and costs nothing.
pub struct Unwatched;

impl Watch for Unwatched {
    #[inline]
    fn step(&mut self, _: &World, _: &State, _: Doing) {}
    #[inline]
    fn event(&mut self, _: f64, _: impl FnOnce() -> Event) {}
}

/// Counts the steps flown, for telling how much time was simulated.
#[derive(Debug, Default)]
pub struct StepCount(pub u64);

impl Watch for StepCount {
    #[inline]
    fn step(&mut self, _: &World, _: &State, _: Doing) {
        self.0 += 1;
    }
    #[inline]
    fn event(&mut self, _: f64, _: impl FnOnce() -> Event) {}
}
