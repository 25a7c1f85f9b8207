//! What would change the answer: what it costs to ask, held against nested simulation and a direct sweep, and in which words it is told.

use crate::bench::{drawn, read, shipped};
use crate::nested_example::{Nested, choose, nested};
use crate::plain::{self, CRAFT, PILOT, SKY, STRONG, policy};
use lostlink::risk::end_log::EndLog;
use lostlink::risk::information::{FlownAgain, Found, Information, information, work};
use lostlink::risk::outcome::Concern;
use lostlink::site::Whose;
use lostlink::world::World;
use lostlink::{Options, Scenario, Summary, assess};

/// Away with the wind, and the question whether the craft gets back against it: it does up to a wind that it can outfly, and leaves
/// the area from there on, where to come down at once loses the craft and nothing else.
fn downwind(wind: &str) -> Scenario {
    let lake = "[site.fence]\npolygon_m = [[-40, -80], [220, -80], [220, 80], [-40, 80]]\n\
                [[site.zone]]\nname = \"lake\"\nkind = \"water\"\npolygon_m = [[20, -300], [300, -300], [300, 300], [20, 300]]\n";
    read(&plain::text(&[
        &plain::site(300.0, 2.0, lake),
        &plain::steady_wind(6.0, 270.0).replace("wind_mps = 6.0", &format!("wind_mps = {wind}")),
        &CRAFT.replace("capacity_ah = 2.2", "capacity_ah = 0.8"),
        STRONG,
        SKY,
        &plain::path("[[0, 0, 30], [160, 0, 30]]", 10.0, 0.0),
        PILOT,
        plain::ANY_TIME,
        &policy("down", &["land = {}"]),
        &policy("home", &["return = { height = { up_m = 30 } }"]),
    ]))
}

fn asked(world: &World, flights: u32) -> (Found, usize) {
    let log = EndLog::of(world, 0..flights, &|_| {});
    let policies = world.scenario.policies.len();
    let lost = log.flights().len() as f64;
    let shares: Vec<_> = log.endings(policies).iter().map(|by| by.map(|count| count as f64 / lost)).collect();
    let chosen = choose(&shares, &world.scenario.judge.matters, None);
    (information(world, &log, chosen, 0..flights, &|_| {}).expect("worlds"), chosen)
}

fn again<'f>(found: &'f Information, key: &str) -> &'f FlownAgain {
    found.again.iter().find(|again| again.key == key).unwrap_or_else(|| panic!("{key} in {:?}", found.again))
}

/// The estimate from a run's flights against flights of their own at each value, on a question in which one input decides nearly
/// everything. Shipped scenarios are held against it by `examples/nested.rs`; `DEVELOPERS.md` has what that gave.
#[test]
fn the_value_of_knowing_agrees_with_nested_simulation() {
    let world = World::new(downwind("{ uniform = [6, 18] }")).expect("a world");
    let (found, chosen) = asked(&world, 750);
    let wind =
        found.information.inputs.iter().find(|input| input.keys == ["weather.wind_mps"]).expect("the wind matters");
    let Nested { same, other_half, error, stands } =
        nested(&world, "weather.wind_mps", chosen, 10_000, 12, 20).expect("worlds");
    let on = wind.concern.index();
    // Two values of twelve on the wrong side of the step that a curve rounds off.
    let off = 3.0 * error[on].hypot(wind.error) + 0.08 * same[on];
    println!("{wind:?} {same:?} {other_half:?} {error:?} {stands} {:?}", found.information);
    assert!(same[on] > 0.1, "the law asks for nothing: {same:?}");
    assert!((other_half[on] - off..=same[on] + off).contains(&wind.saved), "{wind:?} against {same:?} {other_half:?}");
    let told = found.information.stands.expect("a share");
    assert!((told - stands).abs() < 0.1, "{told} {stands}");
}

/// Value by value the choice turns where a direct sweep turns, within the step of either.
#[test]
fn a_break_even_is_where_a_direct_sweep_turns() {
    let scenario = downwind("{ uniform = [6, 18] }");
    let world = World::new(scenario.clone()).expect("a world");
    let (found, chosen) = asked(&world, 750);
    let turn = again(&found.information, "weather.wind_mps").turns[0];
    let wind = world.scenario.uncertain().into_iter().find(|input| input.key == "weather.wind_mps").expect("one");
    let leads = |wind_mps: f64| {
        let world = World::like(&world, scenario.with_input(wind.block, wind_mps)).expect("a world");
        let log = EndLog::of(&world, 5_000..5_040, &|_| {});
        let lost = log.flights().len() as f64;
        let shares: Vec<_> = log.endings(2).iter().map(|by| by.map(|count| count as f64 / lost)).collect();
        choose(&shares, &world.scenario.judge.matters, Some(chosen))
    };
    let step_mps = 0.75;
    let swept: Vec<(f64, usize)> = (0..16).map(|k| 6.5 + step_mps * f64::from(k)).map(|x| (x, leads(x))).collect();
    let turns: Vec<_> = swept.windows(2).filter(|two| two[0].1 != two[1].1).collect();
    assert_eq!(turns.len(), 1, "{swept:?}");
    let (low, high) = (turns[0][0], turns[0][1]);
    assert_eq!((turn.below, turn.from_there), (low.1, high.1), "{turn:?} {swept:?}");
    assert!(turn.above <= high.0 + step_mps && turn.under >= low.0 - step_mps, "{turn:?} against {low:?} {high:?}");
    assert!(turn.under - turn.above < 2.0, "{turn:?}");
}

/// At the club nobody is endangered as long as the crew alone sits on its bench. With others there the margin decides, and so does the
/// take-off spot: both are asked about, and told.
#[test]
fn the_club_is_told_its_margin_and_where_to_take_off() {
    let mut scenario = shipped("club-field");
    scenario.policies.retain(|policy| ["hold 3 s, then land", "home at 25 m"].contains(&policy.name.as_str()));
    scenario.conditions.clear();
    scenario.flights = 1_400;
    let world = World::new(scenario.clone()).expect("a world");
    let summary = assess(&scenario, &Options::default()).expect("flies");
    let chosen = summary.verdict.choice.ranking[0];
    assert_eq!(scenario.policies[chosen].name, "home at 25 m");
    let found = summary.information.as_ref().expect("asked");
    let bench = scenario.site.zones.iter().position(|zone| zone.name == "pilots' bench").expect("a bench");
    let margin = again(found, &format!("site.zone[{bench}].margin_m"));
    assert_eq!(margin.others_in, Some(bench));
    let [turn] = margin.turns[..] else { panic!("{margin:?}") };
    assert_eq!((turn.below, turn.from_there), (chosen, 1 - chosen));

    // A direct sweep by half metres on flights of its own.
    let step_m = 0.5;
    let danger = |margin_m: f64| {
        let mut there = scenario.clone();
        there.site.zones[bench].whose = Whose::Others;
        let margin = there.uncertain().into_iter().find(|input| input.key == margin.key).expect("it");
        let world = World::like(&world, there.with_input(margin.block, margin_m)).expect("a world");
        let log = EndLog::of(&world, 5_000..5_100, &|_| {});
        let [land, home] = log.endings(2)[..] else { panic!("two policies") };
        (home[Concern::Danger.index()] as f64 - land[Concern::Danger.index()] as f64) / 100.0
    };
    let matters = scenario.judge.matters.danger_points / 100.0;
    let mut low = 4.5;
    assert!(danger(low) <= matters);
    while danger(low + step_m) <= matters {
        low += step_m;
    }
    let high = low + step_m;
    assert!(turn.above <= high + step_m && turn.under >= low - step_m, "{turn:?} against {low} to {high}");
    assert!(turn.under - turn.above < 1.0, "{turn:?}");

    let north = again(found, "site.home_north_m");
    let [turn] = north.turns[..] else { panic!("{north:?}") };
    assert!((1.0..=4.0).contains(&turn.under) && turn.from_there == chosen, "{turn:?}");

    let text = said(&summary);
    println!("{text}");
    for part in [
        "With people other than the crew at pilots' bench: the margin around pilots' bench is stated as 7 m; up to ",
        " \"home at 25 m\" comes first, from ",
        " m on \"hold 3 s, then land\".\nIn that case take off ",
        " m further north, and \"home at 25 m\" comes first instead of \"hold 3 s, then land\".",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
}

fn said(summary: &Summary) -> String {
    let (first, rest) = lostlink::report::information::lines(summary);
    first.into_iter().chain(rest).collect::<Vec<_>>().join("\n")
}

/// The sentences as they come out.
#[test]
fn what_would_change_the_answer_in_words() {
    let mut wind = downwind("{ uniform = [6, 18] }");
    wind.flights = 750;
    let text = said(&assess(&wind, &Options::default()).expect("flies"));
    println!("{text}");
    assert!(text.contains("Mean wind at the reference height is assumed to be around 12 m/s; up to "), "{text}");
    assert!(text.contains("m/s \"home\" comes first, from "), "{text}");
    assert!(text.contains("m/s on \"down\"."), "{text}");
    assert!(
        text.contains("Worth measuring first, with what choosing by it would save: mean wind at the reference height (choosing by it would keep "),
        "{text}"
    );
}

/// What is asked beside a run is bounded by its flights: at most a fifth of them are flown again, and none where that would be too
/// few to tell.
#[test]
fn what_is_flown_again_is_a_fifth_of_the_run_at_most() {
    let scenario = drawn(include_str!("../../scenarios/club-field.toml"));
    let world = World::new(scenario).expect("a world");
    for flights in [100, 770] {
        let (found, _) = asked(&world, flights);
        assert!(found.flown <= work(flights) && work(flights) * 5 <= u64::from(flights), "{flights}: {}", found.flown);
        assert_eq!(found.information.again.is_empty(), found.flown == 0);
        assert!(found.information.flights == 0 || found.information.flights >= 30);
    }
}
