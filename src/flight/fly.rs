//! One flight: its trunk, then one branch per policy.

use super::FlightOutcome;
use super::branch::fly_branch;
use super::luck::{Luck, Workshop};
use super::trunk::{TrunkEnd, fly_trunk};
use super::watch::Unwatched;
use crate::world::World;

/// Flies one flight under every policy of the world.
///
/// The outcome depends on scenario, seed, flight number and policy alone: not on threads, on other flights, nor on
/// the other policies.
pub fn fly(world: &World, workshop: &mut Workshop, flight: u32) -> FlightOutcome {
    let world = world.of_flight(flight);
    let luck = Luck::new(world, workshop, flight);
    let outcome = |loss, endings, without_loss, not_taken_off| FlightOutcome {
        flight,
        loss,
        endings,
        without_loss,
        not_taken_off,
    };
    let done = match fly_trunk(world, &luck, &mut Unwatched) {
        TrunkEnd::Refused(_) => outcome(None, Vec::new(), None, true),
        TrunkEnd::Down(headline) => outcome(None, Vec::new(), Some(headline), false),
        TrunkEnd::Lost(state, moment) => {
            let endings = world
                .scenario
                .policies
                .iter()
                .map(|policy| fly_branch(world, &luck, &state, &moment, policy, &mut Unwatched))
                .collect();
            outcome(Some(moment), endings, None, false)
        }
    };
    luck.retire(workshop);
    done
}
