//! A policy under way: the one asked about, or what is set for a low pack.

use super::state::{Asks, State};
use crate::failsafe::{Demand, Engine, Observation, Policy};
use crate::world::World;

/// A policy under way.
pub(super) struct Running<'p> {
    policy: &'p Policy,
    pub(super) engine: Engine,
    asks: Asks,
}

impl<'p> Running<'p> {
    /// From its first action on.
    pub(super) fn start(world: &World, state: &State, policy: &'p Policy) -> Running<'p> {
        let asks = Asks::of(world, policy);
        let time_s = state.nearest_step_s(world.scenario.step_s);
        let engine = Engine::start(policy, &Observation { time_s, ..state.observe(world, &asks, 0.0) });
        Running { policy, engine, asks }
    }

    /// Whether it is this very policy.
    pub(super) fn is(&self, policy: &Policy) -> bool {
        std::ptr::eq(self.policy, policy)
    }

    /// What it demands over a step: by what is seen in the middle of it.
    #[inline(always)]
    pub(super) fn demand(&mut self, world: &World, state: &State) -> Demand {
        self.engine.step(self.policy, &world.limits, &state.observe(world, &self.asks, 0.5 * world.scenario.step_s))
    }
}
