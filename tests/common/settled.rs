//! Scenarios in which what this program guesses stands still.

use lostlink::chance::Uncertain;
use lostlink::scenario::{Inputs, Scenario};

/// Blocks of the draws of estimates that only widen what a law is about.
const ESTIMATES: std::ops::Range<u32> = 1100..2000;

/// The same scenario with those estimates at their middle values that its text does not state, for laws that know them.
pub fn settled(scenario: Scenario) -> Scenario {
    let stated = |key: &str| scenario.inputs.iter().any(|row| row.key == key && row.line.is_some());
    let still = |place: &lostlink::scenario::Place, block: u32, number: &Uncertain| {
        let guessed = ESTIMATES.contains(&block) && !stated(&place.to_string());
        if guessed { Uncertain::Exact(number.central()) } else { number.clone() }
    };
    let Inputs { weather, craft, radio, sky, pilot, loss } = scenario.inputs_with(still);
    Scenario { weather, craft, radio, sky, pilot, loss, ..scenario }
}
