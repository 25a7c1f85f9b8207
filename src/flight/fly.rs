//! One flight: its trunk, then one branch per policy.

use super::FlightOutcome;
use super::branch::fly_branch;
use super::luck::Luck;
use super::setup::{Setup, Workshop};
use super::trunk::{TrunkEnd, fly_trunk};
use super::watch::Unwatched;

/// Flies one flight under every policy of the setup.
///
/// The outcome depends on scenario, seed, flight number and policy alone: not on threads, on other flights, nor on
/// the other policies.
pub fn fly(setup: &Setup, workshop: &mut Workshop, flight: u32) -> FlightOutcome {
    let luck = Luck::new(setup, workshop, flight);
    let outcome = |loss, endings, without_loss, not_taken_off| FlightOutcome {
        flight,
        loss,
        endings,
        without_loss,
        not_taken_off,
    };
    let done = match fly_trunk(setup, &luck, &mut Unwatched) {
        TrunkEnd::Refused(_) => outcome(None, Vec::new(), None, true),
        TrunkEnd::Down(headline) => outcome(None, Vec::new(), Some(headline), false),
        TrunkEnd::Lost(state, moment) => {
            let endings = setup
                .policies
                .iter()
                .map(|policy| fly_branch(setup, &luck, &state, &moment, policy, &mut Unwatched))
                .collect();
            outcome(Some(moment), endings, None, false)
        }
    };
    luck.retire(workshop);
    done
}
