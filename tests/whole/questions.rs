//! The shipped scenarios put different questions and get different answers, for the reasons that their files give.
//!
//! Few flights each: the differences asked for are many times their spread.

use lostlink::cli::Folder;
use lostlink::flight::{FlightOutcome, Headline, LossCause, Tier};
use lostlink::scenario::{self, Scenario};
use lostlink::site::Whose;
use lostlink::world::World;
use std::path::Path;

fn shipped(name: &str) -> Scenario {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let text = std::fs::read_to_string(folder.join(name)).expect("readable");
    match scenario::read(name, &text, &Folder(folder)) {
        Ok(scenario) => scenario,
        Err(found) => panic!("{}", lostlink::cli::diagnostics::render(&found, false)),
    }
}

fn condition(scenario: &Scenario, name: &str) -> Scenario {
    let found = scenario.conditions.iter().find(|condition| condition.name == name);
    *found.unwrap_or_else(|| panic!("no condition {name}")).scenario.clone()
}

/// Flights of a scenario, and the shares of their losses by policy name.
struct Flown {
    names: Vec<String>,
    outcomes: Vec<FlightOutcome>,
}

impl Flown {
    fn of(scenario: Scenario, flights: u32) -> Flown {
        let names = scenario.policies.iter().map(|policy| policy.name.clone()).collect();
        let world = World::new(scenario).expect("a world");
        let mut outcomes = Vec::new();
        lostlink::risk::run::fly_all::<()>(&world, 0..flights, &|_| {}, &mut |outcome| {
            outcomes.push(outcome);
            Ok(())
        })
        .expect("nothing fails");
        Flown { names, outcomes }
    }

    /// Per cent of a policy's endings for which `is` holds.
    fn share(&self, policy: &str, is: impl Fn(Headline) -> bool) -> f64 {
        let index = self.names.iter().position(|name| name == policy).unwrap_or_else(|| panic!("no policy {policy}"));
        let endings: Vec<Headline> =
            self.outcomes.iter().filter_map(|o| o.endings.get(index)).map(|e| e.headline).collect();
        assert!(!endings.is_empty(), "no loss");
        100.0 * endings.iter().filter(|headline| is(**headline)).count() as f64 / endings.len() as f64
    }

    /// Flights that end so under the first policy and not under the second, and the other way round.
    fn apart(&self, first: &str, second: &str, is: impl Fn(Headline) -> bool) -> [usize; 2] {
        let index = |policy| self.names.iter().position(|name| name == policy).expect("a policy");
        let ends = |outcome: &FlightOutcome, policy| outcome.endings.get(index(policy)).map(|end| is(end.headline));
        let count = |so: [bool; 2]| {
            self.outcomes.iter().filter(|one| [ends(one, first), ends(one, second)] == so.map(Some)).count()
        };
        [count([true, false]), count([false, true])]
    }

    fn in_tier(&self, policy: &str, tier: Tier) -> f64 {
        self.share(policy, |headline| headline.tier() == tier)
    }
}

#[test]
fn at_the_club_a_gentle_landing_beside_the_own_bench_endangers_nobody() {
    let mut scenario = shipped("club-field.toml");
    let danger = |flown: &Flown, policy| flown.share(policy, |headline| headline.tier() <= Tier::Danger);
    let flown = Flown::of(scenario.clone(), 200);
    for policy in ["drop", "hold 3 s, then land", "home at 25 m", "home at 60 m"] {
        assert!(danger(&flown, policy) < 1.0, "{policy}: {}", danger(&flown, policy));
    }
    // Then it is the craft, and the way to fetch it, that tell them apart.
    assert!(flown.in_tier("drop", Tier::CraftLost) > 90.0);
    assert!(flown.in_tier("hold 3 s, then land", Tier::Fine) > 90.0);
    let home = |policy| flown.share(policy, |headline| headline == Headline::AtHome);
    assert!(home("home at 25 m") > 95.0 && home("home at 60 m") > 95.0 && home("hold 3 s, then land") < 15.0);
    // Did strangers sit there, the grass below would be better than home.
    let bench = scenario.site.zones.iter_mut().find(|zone| zone.name == "pilots' bench").expect("a bench");
    bench.whose = Whose::Others;
    let flown = Flown::of(scenario, 200);
    let land = danger(&flown, "hold 3 s, then land");
    assert!(land < 3.0 && danger(&flown, "home at 25 m") > land + 5.0 && danger(&flown, "home at 60 m") > land + 5.0);
}

#[test]
fn behind_the_ridge_the_way_home_must_be_high() {
    let scenario = shipped("ridge-valley.toml");
    let open = condition(&scenario, "ridge removed");
    let flown = Flown::of(scenario, 100);
    // The wood on the crest reaches to 82 m: just under it nearly all strike, just over it some still do.
    let struck = |policy| flown.share(policy, |headline| headline == Headline::Struck);
    assert!(struck("home at 80 m") > 80.0, "{}", struck("home at 80 m"));
    assert!((1.0..40.0).contains(&struck("home at 85 m")), "{}", struck("home at 85 m"));
    assert!(flown.in_tier("home at 100 m", Tier::Fine) > 90.0);
    assert!(flown.in_tier("hold 5 s, then land", Tier::Fine) < 30.0);
    // The link goes behind the crest (at x = 330 m), and there alone.
    let losses: Vec<f32> =
        flown.outcomes.iter().filter_map(|outcome| outcome.loss).map(|loss| loss.place_m[0]).collect();
    assert!(losses.len() > 95, "{}", losses.len());
    assert!(losses.iter().all(|x| (350.0..720.0).contains(x)), "{losses:?}");
    let lost = Flown::of(open, 100).outcomes.iter().filter(|outcome| outcome.loss.is_some()).count();
    assert!(lost < 5, "without the ridge the link went in {lost} of 100");
}

#[test]
fn off_the_shore_the_way_home_must_be_low() {
    let scenario = shipped("lake-shore.toml");
    let calmer = condition(&scenario, "half the wind");
    let flown = Flown::of(scenario, 400);
    let bad = |flown: &Flown, policy| flown.share(policy, |headline| headline.tier() <= Tier::CraftLost);
    // Of 20,000 flights 0.4 % and 4.4 %.
    assert!(bad(&flown, "home at 15 m") < 1.5, "{}", bad(&flown, "home at 15 m"));
    assert!(bad(&flown, "home at 80 m") > 2.5, "{}", bad(&flown, "home at 80 m"));
    assert!(flown.share("hold 5 s, then land", |headline| headline == Headline::InWater) > 90.0);
    // In half the wind either height comes home (but for two flights in a thousand that lose their fix): it is the wind that
    // tells them apart.
    let flown = Flown::of(calmer, 200);
    let (low, high) = (bad(&flown, "home at 15 m"), bad(&flown, "home at 80 m"));
    assert!(low < 1.6 && high < 1.6, "{low} {high}");
}

#[test]
fn beside_the_stage_flying_away_brings_the_link_back() {
    let mut scenario = shipped("open-air-stage.toml");
    // The question is what brings the link back, not who answers it, nor how well the sets are known.
    scenario.pilot.unresponsive_share = 0.0.into();
    scenario = super::bench::settled(scenario);
    let silent = condition(&scenario, "stage sets silent");
    let flown = Flown::of(scenario, 800);
    let back = |policy| flown.share(policy, |headline| headline == Headline::PilotBack);
    assert!(back("home at 40 m") > 98.0, "{}", back("home at 40 m"));
    // Some of a hundred, by three standard deviations of those that end otherwise (McNemar).
    let [more, fewer] = flown.apart("hold 15 s, then land", "hold 3 s, then land", |end| end == Headline::PilotBack);
    let [more, fewer] = [more as f64, fewer as f64];
    assert!(more - fewer > 3.0 * (more + fewer).sqrt(), "{more} and {fewer}");
    assert!(back("home at 40 m") > back("hold 3 s, then land") + 8.0);
    // It is the stage's sets that take the link away, and their nearness.
    let losses: Vec<_> = flown.outcomes.iter().filter_map(|outcome| outcome.loss.as_ref()).collect();
    let by_interference = losses.iter().filter(|loss| loss.cause == LossCause::Interference).count();
    assert!(losses.len() > 180 && by_interference * 10 > losses.len() * 9, "{by_interference} of {}", losses.len());
    let lost = Flown::of(silent, 100).outcomes.iter().filter(|outcome| outcome.loss.is_some()).count();
    assert!(lost < 3, "with silent sets the link went in {lost} of 100");
}

#[test]
fn in_the_quarry_four_systems_hold_a_place_better_than_one() {
    let scenario = shipped("quarry.toml");
    let four = condition(&scenario, "four systems");
    let one = Flown::of(scenario, 250).in_tier("hold 3 s, then land", Tier::CraftAtRisk);
    let four = Flown::of(four, 250).in_tier("hold 3 s, then land", Tier::CraftAtRisk);
    assert!(one > four + 4.0, "rough, hard or tipped landings: {one} % with one system, {four} % with four");
}

#[test]
fn a_wrong_heading_runs_away_and_a_guard_catches_it() {
    let scenario = shipped("wrong-heading.toml");
    let right = condition(&scenario, "compass put right");
    let flown = Flown::of(scenario, 200);
    let left = |policy| flown.share(policy, |headline| headline.tier() <= Tier::Trespass);
    assert!(left("home at 40 m") > left("home at 40 m while it gets closer") + 5.0);
    let flown = Flown::of(right, 60);
    assert!(flown.share("home at 40 m", |headline| headline == Headline::AtHome) > 90.0);
}
