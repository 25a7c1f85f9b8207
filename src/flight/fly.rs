//! One flight: its trunk, then one branch per policy.

use super::FlightOutcome;
use super::branch::fly_branch;
use super::luck::{Luck, Workshop};
use super::trunk::{TrunkEnd, fly_trunk};
use super::watch::{Unwatched, Watch};
use crate::world::World;

/// The parts of a flight, for telling where its time goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What is drawn once.
    Luck,
    /// The flight up to the loss.
    Trunk,
    /// What one policy makes of the loss.
    Branch,
}

impl Part {
    /// In their order.
    pub const ALL: [Part; 3] = [Part::Luck, Part::Trunk, Part::Branch];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Part::Luck => "luck",
            Part::Trunk => "trunks",
            Part::Branch => "branches",
        }
    }
}

/// Flies one flight under every policy of the world.
///
/// The outcome depends on scenario, seed, flight number and policy alone: not on threads, on other flights, nor on
/// the other policies.
pub fn fly(world: &World, workshop: &mut Workshop, flight: u32) -> FlightOutcome {
    fly_in_parts(world, workshop, flight, &mut Unwatched, &mut |_, _| {})
}

/// As [`fly`], with somebody who watches; `after` hears of each part when it has been flown.
pub fn fly_in_parts<W: Watch>(
    world: &World,
    workshop: &mut Workshop,
    flight: u32,
    watch: &mut W,
    after: &mut impl FnMut(Part, &mut W),
) -> FlightOutcome {
    let world = world.of_flight(flight);
    let luck = Luck::new(world, workshop, flight);
    after(Part::Luck, watch);
    let outcome = |loss, endings, without_loss, not_taken_off| FlightOutcome {
        flight,
        loss,
        endings,
        without_loss,
        not_taken_off,
    };
    let trunk = fly_trunk(world, &luck, watch);
    after(Part::Trunk, watch);
    let done = match trunk {
        TrunkEnd::Refused(_) => outcome(None, Vec::new(), None, true),
        TrunkEnd::Down(headline) => outcome(None, Vec::new(), Some(headline), false),
        TrunkEnd::Lost(state, moment) => {
            let branch = |policy| {
                let ending = fly_branch(world, &luck, &state, &moment, policy, watch);
                after(Part::Branch, watch);
                ending
            };
            let endings = world.scenario.policies.iter().map(branch).collect();
            outcome(Some(moment), endings, None, false)
        }
    };
    luck.retire(workshop);
    done
}
