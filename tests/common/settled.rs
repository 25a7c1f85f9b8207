//! Scenarios in which what this program guesses stands still.

use lostlink::chance::Uncertain;
use lostlink::scenario::{Condition, Scenario};

/// Whether a block is that of an estimate that only widens what a law is about: 14 is the noise of the craft's electronics.
pub fn is_estimate(block: u32) -> bool {
    block == 14 || (1100..2000).contains(&block)
}

/// The same scenario with those estimates at their middle values that its text does not state, for laws that know them.
pub fn settled(mut scenario: Scenario) -> Scenario {
    let conditions = std::mem::take(&mut scenario.conditions);
    let stated = |key: &str| scenario.inputs.iter().any(|row| row.key == key && row.line.is_some());
    let still = |place: &lostlink::scenario::Place, block: u32, number: &Uncertain| {
        let guessed = is_estimate(block) && !stated(&place.to_string());
        if guessed { Uncertain::Exact(number.central()) } else { number.clone() }
    };
    let still = scenario.with_inputs(scenario.inputs_with(still));
    let conditions = conditions.into_iter().map(|condition| {
        let scenario = Box::new(settled(*condition.scenario));
        Condition { scenario, ..condition }
    });
    Scenario { conditions: conditions.collect(), ..still }
}
