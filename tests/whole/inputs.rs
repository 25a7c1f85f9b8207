//! Estimates are drawn for each flight unless the file states a number.

use super::bench::{self, drawn};
use lostlink::chance::Uncertain;
use lostlink::scenario::{Inputs, Scenario, UncertainInput};
use lostlink::world::World;

/// A flight on which everything that is drawn has something to act on: outages, jumps, restarts, a gust, a lost picture, a pilot
/// who comes back, a landing on a slope.
const RICH: &str = r#"
title = "all that is drawn"
seed = 3
[site]
extent_m = [-700, -700, 700, 700]
cell_m = 5
[weather]
wind_mps = 6
gust_mps = 5
[craft]
mass_kg = 1
[radio]
neighbours = 30
[radio.control]
power_dbm = -12
[radio.control.receiver]
restarts_per_h = 60
[radio.telemetry]
[radio.video]
power_dbm = -4
[sky]
multipath = "walled"
[pilot]
turn_back_below_pct = 60
[path]
waypoints_m = [[0, 150, 30], [250, 420, 40], [0, 60, 30]]
[[policy]]
name = "home"
action = [{ hold = { for_s = 3 } }, { return = { height = { up_m = 40 } } }]
[[policy]]
name = "land"
action = [{ land = {} }]
[[policy]]
name = "drop"
action = [{ drop = {} }]
"#;

/// Estimates newly drawn: what else is uncertain has laws of its own.
fn estimates(scenario: &Scenario) -> Vec<UncertainInput> {
    scenario.uncertain().into_iter().filter(|input| input.block >= 1100).collect()
}

/// The scenario with every one of them changed.
fn changed(scenario: &Scenario, change: impl Fn(&Uncertain) -> Uncertain) -> Scenario {
    let inputs = scenario.inputs_with(|_, block, number| if block >= 1100 { change(number) } else { number.clone() });
    let Inputs { weather, craft, radio, sky, pilot, loss } = inputs;
    Scenario { weather, craft, radio, sky, pilot, loss, ..scenario.clone() }
}

/// Everything that flights came to, and one of them second by second.
fn flown(scenario: &Scenario, flights: u32) -> String {
    let world = World::new(scenario.clone()).expect("a world");
    let outcomes = bench::outcomes(&world, flights);
    let trace = lostlink::flight::record(&world, 0, &world.scenario.policies[0], 1.0);
    format!("{outcomes:?} {:?} {:?}", trace.rows, trace.events)
}

/// A number stated is that number: without a spread, or as it stands in the middle, nothing else is drawn.
#[test]
fn a_spread_of_nothing_is_a_stated_number() {
    let scenario = drawn(RICH);
    let stated = flown(&changed(&scenario, |number| Uncertain::Exact(number.central())), 12);
    let no_spread = |number: &Uncertain| Uncertain::Normal(number.central(), 0.0);
    assert!(stated == flown(&changed(&scenario, no_spread), 12), "no spread flies unlike a stated number");
    assert!(stated == flown(&bench::read(RICH), 12), "the middle values stated fly unlike what is settled");
    assert!(stated != flown(&scenario, 12), "nothing is drawn");
}

/// The same through the file: a distribution without spread and its number read into the same flights.
#[test]
fn the_file_takes_a_distribution_for_a_number() {
    let with =
        |text: &str| flown(&bench::read(&RICH.replace("[radio.telemetry]", &format!("{text}\n[radio.telemetry]"))), 6);
    assert!(with("patience_s = 1.3") == with("patience_s = { normal = [1.3, 0] }"));
    assert!(with("patience_s = 1.3") != with("patience_s = { normal = [1.3, 0.4] }"));
}

/// Every estimate moves something, each by itself.
#[test]
fn every_estimate_moves_something() {
    let scenario = drawn(RICH);
    let base = changed(&scenario, |number| Uncertain::Exact(number.central()));
    let before = flown(&base, 12);
    let inputs = estimates(&scenario);
    assert!(inputs.len() >= 30, "{} estimates", inputs.len());
    let idle: Vec<String> = inputs
        .into_iter()
        .filter(|input| {
            let far = [0.02, 0.98].map(|p| input.number.quantile(p));
            far.iter().all(|value| flown(&base.with_input(input.block, *value), 12) == before)
        })
        .map(|input| input.key)
        .collect();
    assert!(idle.is_empty(), "these move nothing: {}", idle.join(", "));
}

/// One that is stated, or known better, moves no other: what the others draw stays.
#[test]
fn stating_one_leaves_the_draws_of_the_others() {
    let scenario = drawn(RICH);
    let draws = |scenario: &Scenario| {
        let world = World::new(scenario.clone()).expect("a world");
        lostlink::flight::input_values(&world, 7)
    };
    let all = draws(&scenario);
    for (index, input) in scenario.uncertain().into_iter().enumerate() {
        let known = draws(&scenario.with_input(input.block, input.number.central()));
        for (other, (value, before)) in known.iter().zip(&all).enumerate() {
            assert!(other == index || value == before, "{} moves another", input.key);
        }
    }
}
