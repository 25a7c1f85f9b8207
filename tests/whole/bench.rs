//! From a scenario's text to flown flights, for every law of this folder.
#![allow(dead_code)]

use lostlink::chance::Uncertain;
use lostlink::cli::Folder;
use lostlink::flight::{Ending, FlightOutcome};
use lostlink::risk::run::fly_all;
use lostlink::scenario::Scenario;
use lostlink::world::World;
use std::path::Path;

#[path = "../common/settled.rs"]
mod settled;
pub use settled::{is_estimate, settled};

/// A scenario from its text, with what is neither stated nor known at its middle; files that it names lie in `scenarios/`.
pub fn read(text: &str) -> Scenario {
    settled(drawn(text))
}

/// A scenario from its text as it is.
pub fn drawn(text: &str) -> Scenario {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    lostlink::scenario::read("law", text, &Folder(folder)).unwrap_or_else(|faults| panic!("{faults:?}\n{text}"))
}

/// A shipped scenario on the middle of the sites that it may be: one world to build instead of a family.
pub fn shipped(name: &str) -> Scenario {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let text = std::fs::read_to_string(folder.join(format!("{name}.toml"))).expect("a shipped scenario");
    let scenario = read(&text);
    let on_one_site = scenario.inputs_with(|_, block, number| {
        if (1140..2000).contains(&block) { Uncertain::Exact(number.central()) } else { number.clone() }
    });
    scenario.with_inputs(on_one_site)
}

/// The first flights of a scenario under its own policies.
pub fn fly(scenario: &Scenario, flights: u32) -> Vec<FlightOutcome> {
    let world = World::new(scenario.clone()).expect("a world");
    outcomes(&world, flights)
}

/// The first flights of a setup.
pub fn outcomes(world: &World, flights: u32) -> Vec<FlightOutcome> {
    let mut all = Vec::new();
    let flown: Result<(), std::convert::Infallible> = fly_all(world, 0..flights, &|_| {}, &mut |outcome| {
        all.push(outcome);
        Ok(())
    });
    flown.expect("cannot fail");
    all
}

/// The endings of one policy, of the flights whose link was lost.
pub fn endings(outcomes: &[FlightOutcome], policy: usize) -> Vec<Ending> {
    outcomes.iter().filter_map(|outcome| outcome.endings.get(policy).copied()).collect()
}
