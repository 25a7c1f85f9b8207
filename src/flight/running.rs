//! A policy under way: the one asked about, or what is set for a low pack.

use super::state::{Asks, State};
use crate::failsafe::{Demand, Engine, Policy};
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
        let engine = Engine::start(policy, &state.observe(world, &asks));
        Running { policy, engine, asks }
    }

    /// Whether it is this very policy.
    pub(super) fn is(&self, policy: &Policy) -> bool {
        std::ptr::eq(self.policy, policy)
    }

    /// When what it does now has lasted for as long as it shall: then it must be asked again.
    #[inline(always)]
    pub(super) fn ends_s(&self) -> f64 {
        self.engine.ends_s(self.policy)
    }

    /// What it demands now.
    #[inline(always)]
    pub(super) fn demand(&mut self, world: &World, state: &State) -> Demand {
        self.engine.step(self.policy, &world.limits, &state.observe(world, &self.asks))
    }
}
