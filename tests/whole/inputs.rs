//! Estimates are drawn for each flight unless the file states a number.

use super::bench::{self, drawn, is_estimate};
use lostlink::chance::Uncertain;
use lostlink::scenario::{Scenario, UncertainInput};
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
power_dbm = 14
craft_antenna = { damaged_db = 50 }
[radio.control.receiver]
restarts_per_h = 60
[radio.telemetry]
[radio.video]
power_dbm = -2
[[radio.interferer]]
place_m = [200, 300, 10]
[sky]
multipath = "walled"
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
    scenario.uncertain().into_iter().filter(|input| is_estimate(input.block) && !input.number.is_exact()).collect()
}

/// The scenario with every one of them changed.
fn changed(scenario: &Scenario, change: impl Fn(&Uncertain) -> Uncertain) -> Scenario {
    let inputs =
        scenario.inputs_with(|_, block, number| if is_estimate(block) { change(number) } else { number.clone() });
    scenario.with_inputs(inputs)
}

/// Everything that flights came to, and one of them second by second.
fn flown(scenario: &Scenario, flights: u32) -> String {
    flown_in(&World::new(scenario.clone()).expect("a world"), flights)
}

fn flown_in(world: &World, flights: u32) -> String {
    let outcomes = bench::outcomes(world, flights);
    let trace = lostlink::flight::record(world, 0, &world.scenario.policies[0], 1.0);
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
    // A few flights show most of them; what is seldom called for is looked for in more.
    let world = World::new(base.clone()).expect("a world");
    let with = |block, value| World::like(&world, base.with_input(block, value)).expect("a world");
    let before = [12, 36].map(|flights| (flights, flown_in(&world, flights)));
    let inputs = estimates(&scenario);
    assert!(inputs.len() >= 30, "{} estimates", inputs.len());
    let idle: Vec<String> = inputs
        .into_iter()
        .filter(|input| {
            let far = [0.02, 0.98].map(|p| input.number.quantile(p));
            // Slopes are for the law below: this field is level.
            input.key != "craft.tip_slope_deg"
                && before.iter().all(|(flights, before)| {
                    far.iter().all(|value| flown_in(&with(input.block, *value), *flights) == *before)
                })
        })
        .map(|input| input.key)
        .collect();
    assert!(idle.is_empty(), "these move nothing: {}", idle.join(", "));
}

/// One that is stated, or known better, moves no other: what the others draw stays.
#[test]
fn stating_one_leaves_the_draws_of_the_others() {
    let scenario = drawn(RICH);
    let draws = |world: &World| -> Vec<f64> {
        lostlink::flight::input_columns(world, &[7]).into_iter().map(|(_, values)| values[0]).collect()
    };
    let world = World::new(scenario.clone()).expect("a world");
    let all = draws(&world);
    for (index, input) in scenario.uncertain().into_iter().enumerate() {
        let known = scenario.with_input(input.block, input.number.central());
        let known = draws(&World::like(&world, known).expect("a world"));
        for (other, (value, before)) in known.iter().zip(&all).enumerate() {
            assert!(other == index || value == before, "{} moves another", input.key);
        }
    }
}

/// On ground that slopes by 20° a craft that forgives 15° tips over, and one that forgives 25° stands.
#[test]
fn the_slope_that_tips_it_over_is_drawn() {
    let text = RICH.replace("[site]", "[site]\nterrain_file = \"ground.asc\"\nheight_amsl_m = 0\nterrain_error_m = 0");
    let slope = 20.0_f64.to_radians().tan();
    let hill = super::plain::over_ground(&text, 700.0, 20.0, |_, y| -slope * y);
    let tip_slope = hill.uncertain().into_iter().find(|input| input.key == "craft.tip_slope_deg").expect("an input");
    let [tips, stands] = [15.0, 25.0].map(|deg| flown(&hill.with_input(tip_slope.block, deg), 12));
    assert!(tips != stands);
}

/// A field with a wood beside the way home, people beyond it, and what is not known about them.
fn wood(height: &str, margin: &str, site: &str) -> Scenario {
    let text = RICH.replace(
        "[weather]",
        &format!(
            "{site}\n[[site.zone]]\nkind = \"people\"\npeople = 50\ncircle_m = [150, 250, 40]\n{margin}\n\
             [[site.obstacle]]\nkind = \"trees\"\npolygon_m = [[40, 150], [120, 150], [120, 220], [40, 220]]\n{height}\n[weather]"
        ),
    );
    bench::read(&text)
}

/// What shapes the site is a small family of worlds: each height has a share of the distribution to itself, a flight is flown in
/// the one that its number names, and a spread of nothing makes no family.
#[test]
fn heights_that_are_not_known_make_a_family_of_worlds() {
    let known = wood("height_m = 14", "", "");
    let no_spread = wood("height_m = { normal = [14, 0] }", "", "");
    let world = |scenario: &Scenario| World::new(scenario.clone()).expect("a world");
    assert!(world(&known).family.is_empty() && world(&no_spread).family.is_empty());
    assert!(flown(&known, 8) == flown(&no_spread, 8));
    let unsure = world(&wood("height_m = { uniform = [8, 24] }", "", ""));
    let mut heights: Vec<f64> = unsure.family.iter().map(|one| one.scenario.site.obstacles[0].height_m).collect();
    heights.sort_by(f64::total_cmp);
    assert_eq!(heights.len(), 4);
    for (stratum, height_m) in heights.iter().enumerate() {
        let low = 8.0 + 4.0 * stratum as f64;
        assert!((low..=low + 4.0).contains(height_m), "{heights:?}");
    }
    let flown = bench::outcomes(&unsure, 8);
    for (flight, outcome) in flown.iter().enumerate() {
        let alone = world(&unsure.family[flight % 4].scenario);
        assert!(alone.family.is_empty());
        assert_eq!(*outcome, bench::outcomes(&alone, 8)[flight], "flight {flight}");
        let told = World::for_flight(unsure.scenario.clone(), flight as u32).expect("a world");
        assert_eq!(told.scenario.site, alone.scenario.site);
    }
    let columns = lostlink::flight::input_columns(&unsure, &[6]);
    let place =
        unsure.scenario.uncertain().iter().position(|input| input.key == "site.obstacle[0].height_m").expect("one");
    assert_eq!(columns[place].1[0], unsure.family[2].scenario.site.obstacles[0].height_m);
}

/// A recommended height clears the tallest that may stand there, not what stands there in the middle.
#[test]
fn a_height_clears_the_tallest_that_may_stand_there() {
    let tallest_m = |height: &str| {
        let world = World::new(wood(height, "", "")).expect("a world");
        let heights_m: Vec<f64> = (2..12).map(|k| 5.0 * f64::from(k)).collect();
        let found = lostlink::risk::sweep::sweep(&world, &world.scenario.policies[0], &heights_m, &[], 12, &|_| {});
        let found = found.expect("flies");
        let tallest_m = std::iter::once(&world).chain(&world.family).map(|one| one.scenario.site.obstacles[0].height_m);
        assert!((found.tallest_m - tallest_m.fold(0.0, f64::max)).abs() < 0.1, "{}", found.tallest_m);
        let low_m = found.interval_m.expect("a height")[0];
        assert!(low_m >= found.tallest_m + found.clearance_m, "{low_m}: {}", found.sentence);
        found.tallest_m
    };
    let (known, unsure) = (tallest_m("height_m = 14"), tallest_m("height_m = { uniform = [8, 24] }"));
    assert!(unsure > known + 5.0, "{known} {unsure}");
}

/// Each of them moves what it says, and nothing else of the site.
#[test]
fn what_shapes_the_site_follows_its_numbers() {
    let base = wood("height_m = 14", "", "");
    let tall = wood("height_m = { normal = [14, 3] }", "", "").with_input(1200, 19.0);
    assert_eq!(tall.site.obstacles, wood("height_m = 19", "", "").site.obstacles);
    let wide = wood("height_m = 14", "margin_m = { uniform = [5, 30] }", "").with_input(1600, 25.0);
    assert_eq!(wide.site.zones, wood("height_m = 14", "margin_m = 25", "").site.zones);
    assert!(flown(&base, 12) != flown(&tall, 12) && base.site != wide.site);
    // The take-off spot takes the pilot along, the path stays.
    let moved = wood("height_m = 14", "", "home_east_m = { normal = [0, 2] }").with_input(1141, 3.0);
    assert_eq!((moved.site.home_m, moved.pilot.place_m), ([3.0, 0.0], [3.0, 0.0]));
    assert_eq!(moved.path, base.path);
    assert!(flown(&base, 4) != flown(&moved, 4));
    // An error of the ground is nothing at the take-off spot and nearly all of it far away.
    let text = RICH.replace("[site]", "[site]\nterrain_file = \"ground.asc\"\nheight_amsl_m = 0");
    let flat = super::plain::over_ground(&text, 700.0, 20.0, |_, _| 0.0);
    let raised = flat.with_input(1140, 5.0).site.terrain.expect("terrain");
    assert!(raised.ground_m(0.0, 0.0).abs() < 1e-6);
    assert!((raised.ground_m(150.0, 0.0) - 2.5).abs() < 0.1, "{}", raised.ground_m(150.0, 0.0));
    assert!((4.5..5.0).contains(&raised.ground_m(600.0, 300.0)));
}
