//! Tracks of a few flights, for the map.

use super::branch::fly_branch;
use super::luck::{Luck, Workshop};
use super::state::State;
use super::trunk::{TrunkEnd, fly_trunk};
use super::watch::{Unwatched, Watch};
use super::{Doing, Event};
use crate::world::World;

/// Time between points of a track.
const EVERY_S: f64 = 0.5;

struct Tracker {
    every_steps: u32,
    points_m: Vec<[f32; 2]>,
}

impl Watch for Tracker {
    fn step(&mut self, _: &World, state: &State, _: Doing) {
        if state.step.is_multiple_of(self.every_steps) {
            self.points_m.push([state.motion.place_m[0] as f32, state.motion.place_m[1] as f32]);
        }
    }

    fn event(&mut self, _: f64, _: impl FnOnce() -> Event) {}
}

/// The way of one flight from the loss to the end under each policy; empty when the link was not lost.
pub fn tracks(world: &World, workshop: &mut Workshop, flight: u32) -> Vec<Vec<[f32; 2]>> {
    let world = world.of_flight(flight);
    let luck = Luck::new(world, workshop, flight);
    let TrunkEnd::Lost(state, moment) = fly_trunk(world, &luck, &mut Unwatched) else { return Vec::new() };
    let every_steps = ((EVERY_S / world.scenario.step_s).round() as u32).max(1);
    let one = |policy| {
        let mut tracker = Tracker { every_steps, points_m: Vec::new() };
        let ending = fly_branch(world, &luck, &state, &moment, policy, &mut tracker);
        tracker.points_m.push([ending.end_m[0], ending.end_m[1]]);
        tracker.points_m
    };
    world.scenario.policies.iter().map(one).collect()
}
