//! What a flight does at its turning points: cut links that come back, missing fixes and home points, guards, trees and roofs,
//! wrong headings, warnings, and what the craft carries or radiates. One flat field, one craft, one thing changed at a time.

use lostlink::failsafe::Policy;
use lostlink::flight::{Ending, Flags, FlightOutcome, Ground, Headline, LossCause, Manner, Trace, fly, record};
use lostlink::radio::weather::rain_coefficients;
use lostlink::scenario::{self, Scenario};
use lostlink::world::{World, craft as models};
use std::collections::BTreeMap;

/// A flat field in still air, a good sky, a strong radio, and a cut after 20 s on the way north.
const BASE: &[(&str, &str, &str)] = &[
    ("site", "extent_m", "[-1500, -1500, 1500, 1500]"),
    ("site", "people_per_km2", "0"),
    ("weather", "wind_mps", "0.0"),
    ("weather", "wind_height_m", "30"),
    ("weather", "veer_deg_per_100m", "0"),
    ("weather", "turbulence", "0"),
    ("weather", "drift_mps", "0"),
    ("craft", "mass_kg", "1.0"),
    ("craft", "linear_drag_per_s", "0.3"),
    ("craft", "drag_area_m2", "0.001"),
    ("craft", "drive_efficiency", "0.78"),
    ("craft", "level_error_deg", "0"),
    ("radio.control", "power_dbm", "30"),
    ("sky", "heading_bias_deg", "0"),
    ("sky", "heading_throttle_deg", "0"),
    ("sky", "outage_every_s", "1e9"),
    ("path", "waypoints_m", "[[0, 0, 30], [0, 300, 30]]"),
    ("path", "speed_mps", "10"),
    ("pilot", "reaction_s", "1.0"),
    ("pilot", "unresponsive_share", "0"),
    ("loss", "cut.time_s", "25"),
];

const HOLD: &str =
    "[[policy]]\nname = \"hold\"\n[[policy.action]]\nhold = { for_s = 60 }\n[[policy.action]]\nland = {}\n";
const LAND: &str = "[[policy]]\nname = \"land\"\n[[policy.action]]\nland = {}\n";
const DROP: &str = "[[policy]]\nname = \"drop\"\n[[policy.action]]\ndrop = {}\n";
const HOME: &str = "[[policy]]\nname = \"home\"\n[[policy.action]]\nreturn = { height = { up_m = 30 } }\n";

/// The base with keys changed (`section`, `key`, `value`; an empty value takes the key out) and tables added.
fn with(changes: &[(&str, &str, &str)], tables: &str) -> Scenario {
    let mut sections: BTreeMap<&str, BTreeMap<&str, &str>> = BTreeMap::new();
    for (section, key, value) in BASE.iter().chain(changes) {
        let keys = sections.entry(section).or_default();
        keys.insert(key, value);
    }
    let mut text = String::from("title = \"field\"\nseed = 5\n");
    for (section, keys) in sections {
        text += &format!("[{section}]\n");
        for (key, value) in keys.into_iter().filter(|(_, value)| !value.is_empty()) {
            text += &format!("{key} = {value}\n");
        }
    }
    text += tables;
    match scenario::read("field.toml", &text, &scenario::NoFiles) {
        Ok(scenario) => super::bench::settled(scenario),
        Err(found) => panic!("{text}\n{}", lostlink::cli::diagnostics::render(&found, false)),
    }
}

fn flown(scenario: Scenario, flights: u32) -> Vec<FlightOutcome> {
    let world = World::new(scenario).expect("a world");
    let mut workshop = lostlink::flight::Workshop::default();
    (0..flights).map(|flight| fly(&world, &mut workshop, flight)).collect()
}

/// The endings of a scenario's only policy.
fn endings(scenario: Scenario, flights: u32) -> Vec<Ending> {
    flown(scenario, flights).into_iter().map(|mut outcome| outcome.endings.swap_remove(0)).collect()
}

fn told(scenario: Scenario, flight: u32) -> Trace {
    let world = World::new(scenario).expect("a world");
    let policy: Policy = world.scenario.policies[0].clone();
    record(&world, flight, &policy, 0.5)
}

fn event_s(trace: &Trace, words: &str) -> f64 {
    let found = trace.events.iter().find(|event| event.what().contains(words));
    found.unwrap_or_else(|| panic!("no '{words}' in {:?}", trace.events)).time_s
}

#[test]
fn a_link_that_comes_back_goes_to_the_pilot_or_lets_the_policy_finish() {
    let cut = [("loss", "cut.for_s", "5")];
    for on_regain in ["\"fly_home\"", "\"resume\""] {
        let changes = [cut[0], ("pilot", "on_regain", on_regain)];
        for ending in endings(with(&changes, HOLD), 4) {
            assert_eq!(ending.headline, Headline::PilotBack, "{ending:?}");
            assert!(ending.flags.has(Flags::PILOT_TOOK_OVER) && ending.ground == Ground::Home, "{ending:?}");
        }
    }
    let finish = [cut[0], ("pilot", "on_regain", "\"let_finish\"")];
    for ending in endings(with(&finish, HOLD), 4) {
        assert_eq!(ending.headline, Headline::ClearElsewhere);
        assert!(!ending.flags.has(Flags::PILOT_TOOK_OVER) && ending.time_to_end_s > 60.0);
    }
    // Cut at 25 s for 5 s; a window of a second must fill to 70 %, the link be good for 2 s, the pilot wake up in 1 s.
    let trace = told(with(&cut, HOLD), 0);
    let (lost_s, back_s, taken_s) =
        (trace.lost_at_s.unwrap(), event_s(&trace, "link back"), event_s(&trace, "takes over"));
    assert!((26.0 - 0.05..26.1).contains(&lost_s), "{lost_s}");
    assert!((32.6..33.2).contains(&back_s), "{back_s}");
    assert!((taken_s - back_s - 1.0).abs() < 0.06, "{taken_s}");
    // What has been dropped cannot be taken over.
    for ending in endings(with(&cut, DROP), 2) {
        assert_eq!((ending.headline, ending.flags.has(Flags::PILOT_TOOK_OVER)), (Headline::Fell, false));
    }
}

/// A link that goes again is the policy's again, from its first action.
#[test]
fn a_link_lost_again_starts_the_policy_again() {
    let changes = [
        ("loss", "cut.for_s", "4"),
        ("path", "waypoints_m", "[[0, 0, 30], [0, 900, 30]]"),
        ("loss", "cut.time_s", "60"),
    ];
    // Two restarts a minute on average: many flights lose it twice.
    let restarts = [
        changes[0],
        changes[1],
        changes[2],
        ("radio.control", "receiver.restarts_per_h", "100"),
        ("radio.control", "receiver.restart_s", "4"),
        ("pilot", "on_regain", "\"resume\""),
    ];
    let mut again = 0;
    for flight in 0..8 {
        let trace = told(with(&restarts, HOLD), flight);
        again += trace.events.iter().filter(|event| event.what().contains("lost again")).count();
        let losses = trace.events.iter().filter(|event| event.what().contains("declared lost")).count();
        let holds = trace.events.iter().filter(|event| event.what() == "begins: hold").count();
        assert!(holds <= losses, "{:?}", trace.events);
    }
    assert!(again >= 4, "{again}");
}

/// Restarts of the receiver come as often as stated, cost the link when they last longer than the patience, and are named.
#[test]
fn restarts_cost_the_link_as_often_as_stated() {
    let restarting = |restart_s| {
        with(
            &[
                ("loss", "cut.time_s", "600"),
                ("radio.control", "receiver.restarts_per_h", "100"),
                ("radio.control", "receiver.restart_s", restart_s),
            ],
            LAND,
        )
    };
    let long = flown(restarting("3"), 60);
    let lost: Vec<_> = long.iter().filter_map(|outcome| outcome.loss).collect();
    assert!(lost.iter().all(|loss| loss.cause == LossCause::Restart), "{lost:?}");
    // About 75 s there and back: 1 − exp(−75·100/3600) = 0.88 of 60 flights; four standard deviations are 10.
    assert!((43..=60).contains(&lost.len()), "{}", lost.len());
    assert_eq!(flown(restarting("0.5"), 20).iter().filter(|outcome| outcome.loss.is_some()).count(), 0);
}

#[test]
fn neighbours_and_the_pilots_body_weaken_the_link() {
    let at = |changes: &[(&str, &str, &str)]| {
        let trace = told(with(changes, LAND), 0);
        let rows: Vec<_> = trace.rows.iter().filter(|row| (10.0..24.0).contains(&row.time_s)).cloned().collect();
        let mean = |of: fn(&lostlink::flight::TraceRow) -> f64| rows.iter().map(of).sum::<f64>() / rows.len() as f64;
        (mean(|row| row.quality_pct), mean(|row| row.budget.body_db), mean(|row| row.margin_db))
    };
    let alone = at(&[]);
    let crowded = at(&[("radio", "neighbours", "200")]);
    assert!(alone.0 > 99.0 && crowded.0 < alone.0 - 3.0, "{alone:?} {crowded:?}");
    // He faces north, where the craft is, or south with his back to it.
    let (front, back) = (at(&[("pilot", "facing_deg", "0")]), at(&[("pilot", "facing_deg", "180")]));
    assert!(front.1 < 0.1 && back.1 > 6.0, "{front:?} {back:?}");
    assert!(back.2 < front.2 - back.1 + 1.0);
}

/// Level without a fix, a craft with linear drag k takes up the wind: v = w (1 − e^(−k t)).
#[test]
fn a_hold_without_a_fix_drifts_with_the_wind() {
    let blind = [
        ("sky", "wait_for_fix", "false"),
        ("sky", "own_noise_db", "30"),
        ("weather", "wind_mps", "6"),
        ("weather", "from_deg", "270"),
    ];
    let trace = told(with(&blind, HOLD), 0);
    assert!(trace.rows.iter().all(|row| row.hdop.is_nan()), "there was a fix");
    let lost_s = trace.lost_at_s.unwrap();
    let mut checked = 0;
    for pair in trace.rows.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        let after_s = 0.5 * (a.time_s + b.time_s) - lost_s;
        if b.time_s - a.time_s < 0.4 || !(1.0..40.0).contains(&after_s) {
            continue;
        }
        let east_mps = (b.place_m[0] - a.place_m[0]) / (b.time_s - a.time_s);
        let expected_mps = 6.0 * (1.0 - (-0.3 * after_s).exp());
        // The way from the pilot's crab angle to level takes a few tenths of a second.
        assert!((east_mps - expected_mps).abs() < 0.35, "{east_mps} against {expected_mps} after {after_s} s");
        checked += 1;
    }
    assert!(checked > 50);
    // With a fix it stays.
    let trace = told(with(&blind[2..], HOLD), 0);
    let places: Vec<f64> = trace
        .rows
        .iter()
        .filter(|row| row.time_s > lost_s + 1.0 && row.time_s < lost_s + 50.0)
        .map(|row| row.place_m[0])
        .collect();
    assert!(places.iter().all(|x| x.abs() < 6.0), "{places:?}");
}

/// Let go of for want of a picture, a craft without a fix drifts as well, and so does one that is flown by attitude:
/// nothing holds it.
#[test]
fn let_go_without_a_fix_drifts_with_the_wind() {
    let changes = [
        ("sky", "wait_for_fix", "false"),
        ("sky", "own_noise_db", "30"),
        ("weather", "wind_mps", "6"),
        ("weather", "from_deg", "270"),
        ("loss", "cut.time_s", "36000"),
        ("radio.video", "power_dbm", "-40"),
        ("radio.video", "when_lost", "\"hold\""),
        ("radio.video", "hold_s", "3600"),
        ("pilot", "flies_by", "\"position_hold\""),
    ];
    let drift_m = |changes: &[(&str, &str, &str)]| {
        let trace = told(with(changes, LAND), 0);
        let let_go_s = event_s(&trace, "lets go");
        let x = |after_s: f64| trace.rows.iter().find(|row| row.time_s > let_go_s + after_s).expect("a row").place_m[0];
        x(40.0) - x(10.0)
    };
    assert!((150.0..190.0).contains(&drift_m(&changes)), "{}", drift_m(&changes));
    assert!(drift_m(&changes[2..]).abs() < 5.0);
    let last = changes.len() - 1;
    assert!((150.0..190.0).contains(&drift_m(&changes[2..last])), "{}", drift_m(&changes[2..last]));
}

#[test]
fn a_guard_ends_a_way_home_that_gets_nowhere() {
    // Level top airspeed g tan 30°/0.3 s⁻¹ = 18.9 m/s against 22 m/s.
    let gale = [("weather", "wind_mps", "22"), ("weather", "from_deg", "180")];
    let guarded = HOME.to_owned() + "guard.progress = { closing_mps = 1.0, within_s = 20 }\n";
    let outcomes = flown(with(&gale, &(guarded + &HOME.replace("\"home\"", "\"stubborn\""))), 3);
    for outcome in outcomes {
        let (careful, stubborn) = (&outcome.endings[0], &outcome.endings[1]);
        assert!(careful.flags.has(Flags::FELL_BACK) && careful.manner != Manner::StillUp, "{careful:?}");
        assert!((20.0..70.0).contains(&careful.time_to_end_s), "{careful:?}");
        assert!(stubborn.time_to_end_s > 4.0 * careful.time_to_end_s, "{stubborn:?}");
        assert!(stubborn.greatest_distance_m > careful.greatest_distance_m + 200.0);
    }
}

#[test]
fn without_a_home_point_the_fallback_runs() {
    let blind = [("sky", "wait_for_fix", "false"), ("sky", "own_noise_db", "30")];
    let otherwise = |what: &str| HOME.replace(" } }", &format!(" }}, otherwise = \"{what}\" }}"));
    for ending in endings(with(&blind, &otherwise("land")), 3) {
        assert!(ending.flags.has(Flags::NO_HOME) && ending.flags.has(Flags::FELL_BACK));
        assert_eq!((ending.headline, ending.manner), (Headline::ClearElsewhere, Manner::SetDown), "{ending:?}");
    }
    for ending in endings(with(&blind, &otherwise("drop")), 3) {
        assert_eq!((ending.headline, ending.manner), (Headline::Fell, Manner::Fall));
    }
    let next = otherwise("next") + "[[policy.action]]\nland = { sink_mps = 1.0 }\n";
    for ending in endings(with(&blind, &next), 3) {
        assert_eq!(ending.headline, Headline::ClearElsewhere);
        assert!(ending.time_to_end_s > 25.0, "{ending:?}");
    }
}

#[test]
fn what_stands_below_decides_how_it_comes_down() {
    let under = |kind: &str| {
        format!(
            "[[site.obstacle]]\nname = \"it\"\nkind = \"{kind}\"\nheight_m = 12\npolygon_m = [[-40, 100], [40, 100], [40, 320], [-40, 320]]\n"
        )
    };
    let ends = |kind: &str, policy: &str| endings(with(&[], &(under(kind) + policy)), 3);
    for (kind, landed, fell, headline) in [
        ("trees", (Manner::TippedOver, Ground::Trees), (Manner::Fall, Ground::Trees), Headline::InTrees),
        ("building", (Manner::HardLanding, Ground::Property), (Manner::Fall, Ground::Property), Headline::OnProperty),
    ] {
        for ending in ends(kind, LAND) {
            assert_eq!((ending.manner, ending.ground), landed, "{ending:?}");
            assert!((ending.end_m[2] - 12.0).abs() < 0.5, "{ending:?}");
        }
        for ending in ends(kind, DROP) {
            assert_eq!((ending.manner, ending.ground, ending.headline), (fell.0, fell.1, headline), "{ending:?}");
        }
    }
}

/// The velocity loop turned by an error e still settles for cos e > 0; beyond a right angle it runs away.
#[test]
fn a_heading_wrong_by_little_comes_home_and_by_much_runs_away() {
    let home = |bias: &str| {
        let changes = [
            ("sky", "heading_bias_deg", bias),
            ("sky", "course_alignment", "false"),
            ("site", "fence.polygon_m", "[[-100, -100], [100, -100], [100, 220], [-100, 220]]"),
        ];
        endings(with(&changes, HOME), 3)
    };
    let straight_s = home("0")[0].time_to_end_s;
    for bias in ["20", "-40"] {
        for ending in home(bias) {
            assert_eq!(ending.headline, Headline::AtHome, "{bias}: {ending:?}");
            assert!(ending.time_to_end_s < 1.3 * straight_s, "{bias}: {ending:?}");
        }
    }
    for bias in ["110", "-120"] {
        for ending in home(bias) {
            assert_eq!(ending.headline, Headline::LeftArea, "{bias}: {ending:?}");
            // Its heading failed: it did not do as its policy says.
            assert!(!ending.flags.has(Flags::LEFT_OBEYING), "{bias}: {ending:?}");
        }
    }
}

/// A pilot who turned back on a warning is not overtaken by a cut that waits further along the path.
#[test]
fn a_cut_further_on_spares_a_pilot_who_turned_back() {
    for warning in [("pilot", "turn_back_margin_db", "60"), ("pilot", "turn_back_charge_pct", "98")] {
        let changes = [
            ("loss", "cut.time_s", ""),
            ("loss", "cut.path_share", "0.9"),
            ("radio.telemetry", "power_dbm", "20"),
            warning,
        ];
        let trace = told(with(&changes, LAND), 4);
        let turned_s = event_s(&trace, "turns back");
        // The cut would come at 34 s.
        assert!(turned_s < 33.5 && trace.lost_at_s.is_none(), "{warning:?}: {:?}", trace.events);
        assert_eq!(flown(with(&changes, LAND), 1)[0].without_loss, Some(Headline::AtHome), "{warning:?}");
        // Without telemetry there is no warning, and the cut comes.
        assert!(flown(with(&[changes[0], changes[1], changes[3]], LAND), 1)[0].loss.is_some(), "{warning:?}");
    }
}

/// A link that physics takes before the cut is lost all the same, for its own reason; the craft does not fly on for ever.
#[test]
fn a_loss_before_the_cut_has_its_own_cause() {
    let changes = [
        ("loss", "cut.time_s", "200"),
        ("path", "waypoints_m", "[[0, 0, 30], [0, 1400, 30]]"),
        ("radio.control", "power_dbm", "10"),
        ("radio.control", "craft_antenna.missing_db", "50"),
    ];
    for outcome in flown(with(&changes, LAND), 3) {
        let loss = outcome.loss.expect("fifty decibels are missing");
        assert!(loss.cause != LossCause::Cut && loss.time_s < 150.0, "{loss:?}");
    }
    // A cut shorter than the receiver's patience is no loss.
    assert!(flown(with(&[("loss", "cut.for_s", "0.4")], LAND), 3).iter().all(|outcome| outcome.loss.is_none()));
}

/// Outside the permitted area already when the link went: that is no work of the policy.
#[test]
fn a_pilot_who_flew_it_out_is_not_the_policy() {
    let fence = [("site", "fence.polygon_m", "[[-400, -400], [400, -400], [400, 100], [-400, 100]]")];
    for ending in endings(with(&fence, LAND), 2) {
        assert_eq!(ending.headline, Headline::LeftArea);
        assert!(!ending.flags.has(Flags::LEFT_OBEYING), "{ending:?}");
    }
}

#[test]
fn a_payload_weighs_and_costs_charge() {
    let land = |payload: &str| endings(with(&[("craft", "payload_kg", payload)], LAND), 1).swap_remove(0);
    let (light, heavy) = (land("0"), land("0.5"));
    assert!(heavy.pack_left_pct < light.pack_left_pct - 1.0, "{} {}", heavy.pack_left_pct, light.pack_left_pct);
    let speed2 = f64::from(heavy.impact_speed_mps) * f64::from(heavy.impact_speed_mps);
    assert!((f64::from(heavy.impact_energy_j) / (0.75 * speed2) - 1.0).abs() < 1e-4);
}

/// Motors are what they are: a mass changed by itself, as a what-if bar does, leaves the greatest thrust.
#[test]
fn a_changed_mass_leaves_the_motors() {
    let mut scenario = with(&[], LAND);
    let thrust_n = |scenario: &Scenario| models::mover(&scenario.craft.central(), [0.0, 0.0]).thrust_max_n;
    let before_n = thrust_n(&scenario);
    scenario.craft.mass_kg = 1.3.into();
    assert_eq!(thrust_n(&scenario), before_n);
    assert_eq!(scenario.craft.central().flown_mass_kg(), 1.3);
}

/// After a cut, the end with less patience calls the link lost first: the other is alone for as long as its patience is longer, to the
/// packet, whatever the step.
#[test]
fn half_a_link_is_counted_to_the_packet() {
    for patience_s in ["0.5", "0.9", "1.1", "3"] {
        let changes = [
            ("radio.control", "packet_rate_hz", "50"),
            ("radio.control.receiver", "patience_s", "1"),
            ("radio.telemetry", "packet_rate_hz", "50"),
            ("radio.telemetry", "patience_s", patience_s),
        ];
        let longer_s = patience_s.parse::<f32>().expect("a number") - 1.0;
        for cut_s in ["25", "25.03", "25.11", "25.17"] {
            for step_s in [0.05, 0.1, 0.2] {
                let mut scenario = with(&[&changes[..], &[("loss", "cut.time_s", cut_s)]].concat(), HOLD);
                scenario.step_s = step_s;
                for Ending { telemetry_only_s, control_only_s, .. } in endings(scenario, 3) {
                    let halves_s = [telemetry_only_s, control_only_s];
                    // Either way a packet comes every fiftieth of a second, and nothing ties one to the other.
                    for (found_s, want_s) in halves_s.into_iter().zip([longer_s.max(0.0), (-longer_s).max(0.0)]) {
                        assert!(
                            (found_s - want_s).abs() < 0.0201,
                            "cut at {cut_s} s, patience {patience_s} s, steps of {step_s} s: {halves_s:?}"
                        );
                    }
                }
            }
        }
    }
}

/// Without a picture the pilot throws the switch, or flies on blind, as the scenario says; his switch is not undone by a good link.
#[test]
fn a_lost_picture_is_an_event_of_its_own() {
    let blind = |what| {
        let changes = [
            ("loss", "cut.time_s", "36000"),
            ("radio.video", "power_dbm", "-40"),
            ("radio.video", "patience_s", "4"),
            ("radio.video", "when_lost", what),
        ];
        flown(with(&changes, LAND), 3)
    };
    for outcome in blind("\"trigger_policy\"") {
        let loss = outcome.loss.expect("the switch is thrown");
        assert_eq!(loss.cause, LossCause::Switch);
        // A picture within five metres of the pilot at most, which is two seconds' climb: 4 s until it counts as gone, a second to react.
        assert!((5.0..7.0).contains(&loss.time_s), "{loss:?}");
        let ending = &outcome.endings[0];
        assert!(ending.manner == Manner::SetDown && !ending.flags.has(Flags::PILOT_TOOK_OVER), "{ending:?}");
    }
    for outcome in blind("\"fly_on\"") {
        assert_eq!((outcome.loss, outcome.without_loss), (None, Some(Headline::AtHome)));
    }
}

/// The flight told step by step passes its point of no return where the plan has it.
#[test]
fn the_point_of_no_return_is_met_where_it_is_planned() {
    let changes = [
        ("weather", "wind_mps", "9"),
        ("weather", "from_deg", "180"),
        ("path", "waypoints_m", "[[0, 0, 30], [0, 1400, 30]]"),
        ("craft", "battery.capacity_ah", "0.35"),
        ("craft", "battery.health", "1.0"),
        ("craft", "battery.charge_pct", "100"),
        ("loss", "cut.time_s", "200"),
    ];
    let scenario = with(&changes, HOME);
    let world = World::new(scenario.clone()).expect("a world");
    let planned_m = lostlink::plan::survey(&world).no_return[0].distance_m.expect("a point of no return");
    let trace = told(scenario, 0);
    let met_s = event_s(&trace, "no longer reaches home");
    let row = trace.rows.iter().find(|row| row.time_s >= met_s).expect("a row");
    let flown_m = row.place_m[1];
    assert!((flown_m - planned_m).abs() < 0.1 * planned_m + 30.0, "met after {flown_m} m, planned after {planned_m} m");
}

/// Rain and gases: nothing in the dry at 2.4 GHz, as ITU-R P.838 says in rain at 5.8 GHz, and every metre counts once.
#[test]
fn rain_and_gases_take_their_share_of_every_metre() {
    let per_m = |frequency: &str, rain: &str| {
        let world =
            World::new(with(&[("radio.control", "frequency_hz", frequency), ("weather", "rain_mm_per_h", rain)], LAND))
                .expect("a world");
        let level = lostlink::geometry::Frame::EAST;
        let distance_db = |y_m: f64| world.link.mean([0.0, y_m, 1.5], &level, 0.0, 0.0).budget.distance_db;
        (world.link.air_db_per_m(), distance_db(1000.0) - distance_db(100.0) - 20.0)
    };
    assert_eq!(per_m("2.44e9", "0").0, 0.0);
    let (rain, over_900_m) = per_m("5.8e9", "100");
    // Between upright and level polarisation.
    let upright = rain_coefficients(5.8e9, 0.0, 90.0).expect("in range");
    let upright_db = upright.k * 100f64.powf(upright.alpha);
    let level = rain_coefficients(5.8e9, 0.0, 0.0).expect("in range");
    let level_db = level.k * 100f64.powf(level.alpha);
    assert!((upright_db..level_db).contains(&(1000.0 * rain)), "{rain}: {upright_db} to {level_db} dB a kilometre");
    assert!((over_900_m - 900.0 * rain).abs() < 0.01, "{over_900_m}");
    // Gases alone stay under a tenth of a decibel over ten kilometres.
    assert_eq!(per_m("5.8e9", "0").0, 0.0);
}

/// The own video transmitter takes satellites away unless it is filtered or far.
#[test]
fn the_own_video_transmitter_costs_satellites() {
    let satellites = |changes: &[(&str, &str, &str)]| {
        let quiet = [("sky", "own_noise_db", "3")];
        let world = World::new(with(&[&quiet, changes].concat(), LAND)).expect("a world");
        (0..6).map(|k| world.sky.at_level(0, 600.0 * f64::from(k), [0.0, 0.0, 30.0]).satellites as u32).sum::<u32>()
    };
    let loud = ("sky", "own_video.in_band_dbm", "-78");
    let clear = satellites(&[]);
    let near = satellites(&[loud]);
    assert!(clear > 60 && f64::from(near) < 0.7 * f64::from(clear), "{near} of {clear}");
    let far = satellites(&[loud, ("sky", "own_video.distance_m", "0.3")]);
    assert!(far > near, "{far} {near}");
    assert_eq!(satellites(&[loud, ("sky", "own_video.filter_db", "50")]), clear);
}
