//! What an ending means to whom, and what choice follows from it.

use crate::bench::{endings, fly, read, shipped};
use crate::plain::{self, CRAFT, NO_FIX, PILOT, SKY, STRONG, policy};
use lostlink::flight::{Ending, Tier};
use lostlink::risk::sweep::{heights_between, sweep};
use lostlink::world::World;
use lostlink::{Options, Scenario, Summary, assess};

/// Falls and landings along a leg that a people zone lies across; `zone` says what is in it.
fn across(zone: &str) -> Vec<Vec<Ending>> {
    let zones =
        format!("[[site.zone]]\nname = \"fair\"\nkind = \"people\"\ncircle_m = [120, 0, 40]\nmargin_m = 5\n{zone}\n");
    let text = plain::text(&[
        &plain::site(400.0, 1.0, &zones),
        "\n[weather]\nwind_mps = { lognormal = [4, 1.4] }\n",
        CRAFT,
        STRONG,
        SKY,
        &plain::path("[[0, 0, 30], [240, 0, 30]]", 10.0, 0.0),
        PILOT,
        plain::ANY_TIME,
        &policy("drop", &["drop = {}"]),
        &policy("down", &["hold = { for_s = 2 }", "land = {}"]),
    ]);
    let flown = fly(&read(&text), 200);
    (0..2).map(|policy| endings(&flown, policy)).collect()
}

fn danger(ending: &Ending) -> bool {
    ending.headline.tier() <= Tier::Danger
}

#[test]
fn where_nobody_is_nobody_is_endangered() {
    let there = across("people = 20");
    assert!(there.iter().all(|list| list.iter().filter(|e| danger(e)).count() > 50), "the law asks for nothing");
    for nobody in ["people = 0", "people = 20\npresent_share = 0"] {
        for (list, met) in across(nobody).iter().zip(&there) {
            assert!(!list.iter().any(danger), "{nobody}");
            assert!(list.iter().all(|ending| ending.over_people_s == 0.0), "{nobody}");
            // People change no flight.
            assert!(list.iter().zip(met).all(|(a, b)| a.end_m == b.end_m), "{nobody}");
        }
    }
}

/// Presence grows flight by flight, and no ending becomes less grave by it; falls there are grave, landings are not.
#[test]
fn more_people_or_longer_presence_never_lessen_it() {
    let mut last: Option<Vec<Vec<Ending>>> = None;
    let mut shares = Vec::new();
    for zone in [
        "people = 0",
        "people = 0.3\npresent_share = 0.5",
        "people = 20\npresent_share = 0.3",
        "people = 400\npresent_share = 0.3",
        "people = 20\npresent_share = 0.7",
        "people = 20",
    ] {
        let now = across(zone);
        for (before, after) in last.iter().flatten().flatten().zip(now.iter().flatten()) {
            assert!(after.headline.tier() <= before.headline.tier(), "{zone}: {before:?}, then {after:?}");
        }
        shares.push(now.iter().flatten().filter(|ending| danger(ending)).count());
        for (list, tier) in now.iter().zip([Tier::Grave, Tier::Danger]) {
            for ending in list.iter().filter(|ending| danger(ending)) {
                assert_eq!((ending.headline.tier(), ending.zone), (tier, Some(0)), "{zone}: {ending:?}");
            }
        }
        last = Some(now);
    }
    // A head count of 0.3 half of the time is somebody 15 times in 100.
    let all = shares[5] as f64;
    for (share, want) in shares.iter().zip([0.0, 0.15, 0.3, 0.3, 0.7, 1.0]) {
        assert!((*share as f64 / all - want).abs() < 0.08, "{shares:?}");
    }
}

/// What meets whom is the same under every policy of a flight.
#[test]
fn presence_is_the_same_for_every_policy() {
    let there = across("people = 20\npresent_share = 0.5");
    let full = across("people = 20");
    let mut flights = [Vec::new(), Vec::new()];
    for (policy, both) in flights.iter_mut().enumerate() {
        let met = there[policy].iter().zip(&full[policy]).filter(|(_, full)| danger(full));
        both.extend(met.map(|(ending, _)| (ending.flight, danger(ending))));
    }
    let [drop, down] = flights;
    let shared: Vec<_> = drop.iter().filter_map(|a| Some((a, down.iter().find(|b| b.0 == a.0)?))).collect();
    assert!(shared.len() > 40 && shared.iter().all(|(a, b)| a.1 == b.1), "{shared:?}");
}

/// Hard and gentle are told apart by stated energies, and what a road carries counts when it is in use.
#[test]
fn energies_and_roads_in_use_are_the_readers() {
    let run = |judge: &str, zones: &str| {
        let text = plain::text(&[
            judge,
            &plain::site(400.0, 1.0, zones),
            &plain::still(),
            CRAFT,
            STRONG,
            NO_FIX,
            &plain::path("[[0, 0, 30], [240, 0, 30]]", 10.0, 0.0),
            PILOT,
            plain::ANY_TIME,
            &policy("drop", &["drop = {}"]),
        ]);
        endings(&fly(&read(&text), 100), 0)
    };
    let field = |whose: &str| {
        format!(
            "[[site.zone]]\nkind = \"people\"\nwhose = \"{whose}\"\npeople = 9\npolygon_m = [[-50, -50], [300, -50], [300, 50], [-50, 50]]\n"
        )
    };
    let tiers = |list: &[Ending]| {
        Tier::ALL.map(|tier| {
            list.iter().filter(|ending| ending.headline.tier() == tier && ending.energy_below_j > 40.0).count()
        })
    };
    // Falls of up to 30 m; those cut on the way up fall less far.
    let [others, crew] = ["others", "crew"].map(|whose| tiers(&run("", &field(whose))));
    assert!(others[0] > 80 && others[1..].iter().sum::<usize>() == 0, "{others:?}");
    assert!(crew[1] > 80 && crew[0] + crew[2..].iter().sum::<usize>() == 0, "{crew:?}");
    let soft = "[judge.hard]\nothers_j = 900\ncrew_j = 900\n";
    let [others, crew] = ["others", "crew"].map(|whose| tiers(&run(soft, &field(whose))));
    assert!(others[1] > 80 && others[0] == 0 && crew[3] > 80, "{others:?} {crew:?}");
    let road = |use_| format!("[[site.zone]]\nkind = \"road\"\nline_m = [[-50, 0], [300, 0]]\nwidth_m = 100\n{use_}\n");
    let [used, half, idle] =
        ["", "present_share = 0.5", "present_share = 0"].map(|use_| tiers(&run("", &road(use_)))[0]);
    assert!(used > 80 && idle == 0 && half > used / 4 && half < used - used / 4, "{used} {half} {idle}");
}

#[test]
fn gentle_landings_beside_the_own_bench_are_no_danger() {
    let mut scenario = shipped("club-field");
    let zone = scenario.site.zones.iter_mut().find(|zone| zone.name == "pilots' bench").expect("a bench");
    zone.margin_m = 8.0;
    let bench = 4_u16;
    assert_eq!(scenario.site.zones[usize::from(bench)].name, "pilots' bench");
    let flown = fly(&scenario, 150);
    for policy in [2, 3] {
        let flown = endings(&flown, policy);
        let count = flown.iter().filter(|ending| danger(ending)).count();
        // Whose bench it was is kept.
        let bench = flown.iter().filter(|ending| ending.zone == Some(bench)).count();
        assert!(bench > 60, "{bench} of 150 beside the bench");
        assert!(count < 3, "{}: {count} of 150", scenario.policies[policy].name);
    }
}

/// A fall, a landing and a way home over a people zone and a wood, in gusts; `more` comes after the policies.
fn chosen(policies: &[(&str, &[&str])], more: &str) -> Summary {
    let zones = "[[site.zone]]\nname = \"fair\"\nkind = \"people\"\npeople = 9\ncircle_m = [150, 0, 12]\nmargin_m = 4\n\
                 [[site.obstacle]]\nkind = \"trees\"\nheight_m = 12\npolygon_m = [[60, -30], [110, -30], [110, 40], [60, 40]]\n";
    let named: String = policies.iter().map(|(name, actions)| policy(name, actions)).collect();
    // What 150 lost links can show.
    let judge = "\n[judge]\nmatters_points = 8\n[judge.matters]\ngrave_points = 8\n";
    let text = plain::text(&[
        judge,
        &plain::site(400.0, 1.0, zones),
        "\n[weather]\nwind_mps = { lognormal = [4, 1.4] }\n",
        CRAFT,
        STRONG,
        SKY,
        &plain::path("[[0, 0, 25], [200, 0, 25]]", 10.0, 0.0),
        PILOT,
        plain::ANY_TIME,
        &named,
        more,
    ]);
    let scenario: Scenario = read(&text).with_flights(150);
    let mut options = Options::default();
    options.quick = more.is_empty();
    assess(&scenario, &options).expect("an answer")
}

const DROP: (&str, &[&str]) = ("drop", &["drop = {}"]);
const DOWN: (&str, &[&str]) = ("down", &["hold = { for_s = 2 }", "land = {}"]);
const HOME: (&str, &[&str]) = ("home", &["return = { height = { up_m = 30 } }"]);
const LOW: (&str, &[&str]) = ("low", &["return = { height = { up_m = 6, may_sink = true } }"]);

/// By name: who is left, and who was set aside on what.
fn told(summary: &Summary, as_: impl Fn(&str) -> String) -> (Vec<String>, Vec<(String, String)>) {
    let name = |index: usize| as_(&summary.policies[index].name);
    let choice = &summary.verdict.choice;
    let mut left: Vec<String> = choice.left.iter().map(|&index| name(index)).collect();
    let asides = choice.set_aside.iter().enumerate();
    let mut asides: Vec<(String, String)> =
        asides.filter_map(|(index, aside)| Some((name(index), aside.as_ref()?.on.label().into()))).collect();
    left.sort();
    asides.sort();
    (left, asides)
}

#[test]
fn names_and_order_of_policies_change_nothing() {
    let plain = told(&chosen(&[DROP, DOWN, HOME, LOW], ""), str::to_string);
    assert!(!plain.0.is_empty() && plain.1.len() >= 2, "{plain:?}");
    assert_eq!(told(&chosen(&[LOW, HOME, DROP, DOWN], ""), str::to_string), plain);
    let renamed = chosen(&[("zz", DROP.1), ("a", DOWN.1), ("m", HOME.1), ("b", LOW.1)], "");
    let back = |name: &str| match name {
        "zz" => "drop".to_string(),
        "a" => "down".into(),
        "m" => "home".into(),
        _ => "low".into(),
    };
    assert_eq!(told(&renamed, back), plain);
}

/// A condition that changes nothing gives the choice of the scenario as it stands, by either rule.
#[test]
fn the_choice_over_conditions_is_that_of_the_page() {
    for odds in ["", "odds = 3\n"] {
        let same = format!("\n[[condition]]\nname = \"the same\"\n{odds}set = {{ \"craft.mass_kg\" = 1.0 }}\n");
        let summary = chosen(&[DROP, DOWN, HOME, LOW], &same);
        let over = summary.over_conditions.as_ref().expect("two conditions");
        let sorted = |list: &[usize]| {
            let mut list = list.to_vec();
            list.sort_unstable();
            list
        };
        assert_eq!(sorted(&over.left), sorted(&summary.verdict.choice.left), "{odds}");
        assert!(
            over.left.contains(&summary.verdict.choice.left[0]) && !over.sentence.contains("turns"),
            "{}",
            over.sentence
        );
        assert_eq!(summary.conditions[0].danger, summary.conditions[1].danger);
    }
}

/// Behind the ridge the wood reaches 82 m with trees of 20 m, and 85 m with such of 23 m, as they may be: a way home at 85 m is not
/// recommended, whatever the flights say.
#[test]
fn a_recommended_height_clears_what_stands_there() {
    let ridge = shipped("ridge-valley").with_input(1200, 23.0).with_input(1201, 23.0);
    let world = World::new(ridge).expect("a world");
    let policy = world.scenario.policies.iter().find(|policy| policy.name == "home at 80 m").expect("a way home");
    let found = sweep(&world, policy, &heights_between(80.0, 110.0, 7), &[], 40, &|_| {}).expect("flies");
    assert!((84.0..87.0).contains(&found.tallest_m), "{}", found.tallest_m);
    let [low_m, high_m] = found.interval_m.expect("a height");
    assert!(low_m >= found.tallest_m + 10.0 && low_m % 5.0 == 0.0 && high_m <= 120.0, "{low_m} to {high_m}");
    assert!(found.below.starts_with("10 m above what stands on the ways home, up to 8"), "{}", found.below);
    assert!(found.first.is_none(), "{:?}", found.first);
}

/// Where the choice sets every way home aside, the heights say so before anything else.
#[test]
fn heights_say_first_that_returning_is_set_aside() {
    let scenario = |home: &str| {
        let zones = "[[site.obstacle]]\nkind = \"building\"\nheight_m = 40\npolygon_m = [[40, -60], [60, -60], [60, 60], [40, 60]]\n";
        read(&plain::text(&[
            &plain::site(300.0, 1.0, zones),
            &plain::still(),
            CRAFT,
            STRONG,
            SKY,
            &plain::path("[[0, 0, 60], [200, 0, 60], [200, 0, 20]]", 10.0, 0.0),
            PILOT,
            "\n[loss.cut]\npath_share = { uniform = [0.7, 1.0] }\n",
            &policy("down", &["land = {}"]),
            &policy("home", &[home]),
        ]))
    };
    for (up_m, aside) in [(10.0, true), (70.0, false)] {
        let world = World::new(scenario(&format!("return = {{ height = {{ up_m = {up_m:?}, may_sink = true }} }}")))
            .expect("a world");
        let found = sweep(&world, &world.scenario.policies[1], &[30.0, 60.0, 70.0], &[], 400, &|_| {}).expect("flies");
        assert_eq!(found.first.is_some(), aside, "{up_m}: {:?}", found.first);
        let text = lostlink::report::terminal::print(
            &lostlink::report::heights::document(&found),
            lostlink::report::terminal::Manner::default(),
        );
        let said = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let at = |what: &str| said.find(what).unwrap_or(usize::MAX);
        assert!(!aside || at("sets every way home aside") < at("Return at"), "{text}");
        assert_eq!(found.interval_m, Some([60.0, 70.0]), "{}", found.sentence);
    }
}
