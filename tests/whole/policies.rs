//! Policies and the pilot as they fly.

use crate::bench::{endings, fly, outcomes, read};
use lostlink::failsafe::Policy;
use lostlink::flight::{Ending, Flags, FlightOutcome, Happened, Headline, LossCause, Manner, record};
use lostlink::scenario::Scenario;
use lostlink::world::World;

/// A square field of 2 km without zones, a calm day, a craft 30 m up on a straight path; the link is cut after `cut_s`.
fn field(cut_s: f64, extra: &str) -> String {
    format!(
        r#"
title = "Law"
seed = 4
[site]
extent_m = [-1000, -1000, 1000, 1000]
cell_m = 5
{extra}
[weather]
wind_mps = 0
turbulence = 0
drift_mps = 0
tendency_pa_per_h = 0
[craft]
mass_kg = 1.0
[sky]
window_s = 0
heading_bias_deg = 0
heading_throttle_deg = 0
[path]
waypoints_m = [[0, 0, 30], [600, 0, 30]]
speed_mps = 10
[pilot]
unresponsive_share = 0
[loss.cut]
time_s = {cut_s}
"#
    )
}

const DROP: &str = "[[policy]]\nname = \"drop\"\n[[policy.action]]\ndrop = {}\n";
const HOME: &str =
    "[[policy]]\nname = \"home\"\n[[policy.action]]\nreturn = { height = { up_m = 40 }, home_circle_m = 8 }\n";
const ON: &str = "[[policy]]\nname = \"on\"\n[[policy.action]]\ncarry_on = {}\n";

fn with(text: &str, change: &[(&str, &str)]) -> String {
    let mut text = text.to_string();
    for (old, new) in change {
        assert!(text.contains(old), "{old} is not in the text");
        text = text.replace(old, new);
    }
    text
}

fn story(scenario: &Scenario, flight: u32, policy: usize) -> Vec<Happened> {
    let world = World::new(scenario.clone()).unwrap();
    record(&world, flight, &scenario.policies[policy], 0.1).events
}

/// Ends of the only policy.
fn ends(text: &str, flights: u32) -> Vec<Ending> {
    let scenario = read(text);
    let found = endings(&fly(&scenario, flights), 0);
    assert_eq!(found.len() as u32, flights, "each flight loses its link");
    found
}

#[test]
fn with_nothing_set_it_flies_on_as_it_was_until_the_pack_ends_it() {
    for by in ["attitude", "position_hold"] {
        let text = field(40.0, "") + &with(ON, &[]);
        let text = with(&text, &[("[pilot]\n", &format!("[pilot]\nflies_by = \"{by}\"\n"))]);
        for end in ends(&text, 3) {
            // It flew east at 10 m/s when the link went, 600 m short of the edge; 18 minutes later it is far outside.
            assert!(end.end_m[0] > 2_000.0 && end.end_m[1].abs() < 0.12 * end.end_m[0], "{by}: {end:?}");
            assert!(end.flags.has(Flags::LEFT_AREA) && end.headline == Headline::LeftArea, "{by}: {end:?}");
        }
    }
    // Hovering in a wind, an attitude that stays holds its place but for what the wind does, and a speed of nought stays.
    let hover = field(60.0, "")
        .replace("waypoints_m = [[0, 0, 30], [600, 0, 30]]", "waypoints_m = [[0, 0, 30], [30, 0, 30]]\npause_s = 600")
        .replace("wind_mps = 0", "wind_mps = 5\nfrom_deg = 270")
        .replace("mass_kg = 1.0", "mass_kg = 1.0\nlevel_error_deg = 0")
        + ON;
    for end in ends(&hover, 2) {
        assert!(end.greatest_distance_m < 60.0, "the trim against the wind stays: {end:?}");
    }
}

#[test]
fn a_policy_may_fly_on_for_a_while_and_then_land() {
    let text = field(40.0, "")
        + "[[policy]]\nname = \"on, then land\"\n[[policy.action]]\ncarry_on = { for_s = 8 }\n[[policy.action]]\nland = {}\n";
    for end in ends(&text, 3) {
        let on_m = f64::from(end.end_m[0] - end.loss_m[0]);
        assert!((60.0..120.0).contains(&on_m), "8 s at 10 m/s and a stop: {on_m} m");
        assert_eq!(end.manner, Manner::SetDown);
    }
}

#[test]
fn the_loss_is_told_before_what_follows() {
    for cut_s in [20.013, 33.37, 47.771] {
        let scenario = read(&(field(cut_s, "") + HOME));
        let events = story(&scenario, 0, 0);
        let at = |what: &str| {
            events.iter().position(|event| event.what().contains(what)).unwrap_or_else(|| panic!("{what}: {events:?}"))
        };
        assert!(at("link declared lost") < at("begins: return"), "{events:?}");
        assert!(events[at("begins: return")].time_s >= events[at("link declared lost")].time_s, "{events:?}");
    }
}

/// The pilot who has the link again, on a site with a mast far off the way and a wall on it.
#[test]
fn with_the_link_back_the_pilot_clears_what_is_on_his_way_and_nothing_else() {
    let site = "ceiling_m = 80\n[[site.obstacle]]\nname = \"mast\"\nkind = \"building\"\ncircle_m = [0, 800, 5]\nheight_m = 75\n";
    let wall = "[[site.obstacle]]\nname = \"wall\"\nkind = \"building\"\npolygon_m = [[200, -30], [210, -30], [210, 30], [200, 30]]\nheight_m = 24\n";
    let back = |extra: &str| {
        with(
            &(field(50.0, extra) + DROP),
            &[
                ("time_s = 50", "time_s = 50\nfor_s = 2.5"),
                (
                    DROP,
                    "[[policy]]\nname = \"hold\"\n[[policy.action]]\nhold = { for_s = 60 }\n[[policy.action]]\nland = {}\n",
                ),
            ],
        )
    };
    for end in ends(&back(site), 4) {
        assert!(end.flags.has(Flags::PILOT_TOOK_OVER) && end.headline == Headline::PilotBack, "{end:?}");
        assert!(end.greatest_height_m < 33.0, "nothing is on the way: {end:?}");
        assert!(!end.flags.has(Flags::ABOVE_CEILING));
    }
    for end in ends(&back(&(site.to_string() + wall)), 4) {
        assert_eq!(end.headline, Headline::PilotBack, "{end:?}");
        assert!((33.0..38.0).contains(&end.greatest_height_m), "ten metres over the wall: {end:?}");
    }
    // What a high way home may not break: the ceiling.
    let low = with(
        &back(&(site.to_string() + wall)),
        &[("ceiling_m = 80", "ceiling_m = 31"), ("[600, 0, 30]", "[600, 0, 29]"), ("[0, 0, 30]", "[0, 0, 29]")],
    );
    for end in ends(&low, 4) {
        assert!(!end.flags.has(Flags::ABOVE_CEILING), "{end:?}");
        assert_eq!(end.headline, Headline::PilotBack);
    }
}

/// Against a wind that the craft cannot beat, the pilot goes lower and then lands, with most of the pack left.
#[test]
fn a_pilot_who_gets_nowhere_comes_down() {
    let text = with(
        &(field(40.0, "") + DROP),
        &[
            ("wind_mps = 0", "wind_mps = 17\nfrom_deg = 270\nroughness_m = 0.0002"),
            ("mass_kg = 1.0", "mass_kg = 1.0\ntilt_max_deg = 25"),
            ("time_s = 40", "time_s = 40\nfor_s = 2.5"),
            (
                DROP,
                "[[policy]]\nname = \"hold\"\n[[policy.action]]\nhold = { for_s = 60 }\n[[policy.action]]\nland = {}\n",
            ),
        ],
    );
    let scenario = read(&text);
    let flown = fly(&scenario, 4);
    for end in endings(&flown, 0) {
        assert!(end.flags.has(Flags::PILOT_TOOK_OVER), "{end:?}");
        assert!(end.manner != Manner::RanDry && end.pack_left_pct > 60.0 && end.time_to_end_s < 200.0, "{end:?}");
    }
    assert!(story(&scenario, 0, 0).iter().any(|event| event.what().contains("comes no closer")));
}

/// A picture that is gone for good: the flight ends all the same, whatever the pilot does first.
#[test]
fn without_a_picture_no_pilot_hovers_for_ever() {
    for (after, cause) in [
        ("trigger_policy", Some(LossCause::Switch)),
        ("turn", Some(LossCause::Switch)),
        ("climb", Some(LossCause::Switch)),
        ("come_back", None),
    ] {
        let text = with(
            &(field(36_000.0, "") + HOME),
            &[
                (
                    "[weather]",
                    "[radio.control]\n[radio.video]\npower_dbm = -40\nhold_s = 8\nafter_hold = \"AFTER\"\n[weather]",
                ),
                ("AFTER", after),
            ],
        );
        let flown: Vec<FlightOutcome> = fly(&read(&text), 4);
        for outcome in &flown {
            match cause {
                Some(cause) => {
                    let loss = outcome.loss.unwrap_or_else(|| panic!("{after}: {outcome:?}"));
                    assert_eq!(loss.cause, cause, "{after}");
                    assert!(loss.time_s < 120.0, "{after}: {loss:?}");
                    assert_eq!(outcome.endings[0].headline, Headline::AtHome, "{after}");
                }
                None => assert_eq!(outcome.without_loss, Some(Headline::AtHome), "{after}: {outcome:?}"),
            }
        }
    }
}

/// The craft does not know the ground where it comes down: on a plateau it comes in at full descent speed, unless a sensor
/// looks down.
#[test]
fn a_landing_on_high_ground_is_slow_only_with_a_sensor() {
    let terrain = crate::plain::esri_grid(1000.0, 50.0, |x_m, _| if x_m >= 300.0 { 15.0 } else { 0.0 });
    let files = lostlink::scenario::MemoryFiles([("plateau.asc".to_string(), terrain.into_bytes())].into());
    let land = "[[policy]]\nname = \"land\"\n[[policy.action]]\nhold = { for_s = 6 }\n[[policy.action]]\nland = {}\n";
    let ends = |sensor: &str| {
        let text = with(
            &(field(50.0, "terrain_file = \"plateau.asc\"\n") + land),
            &[("mass_kg = 1.0", &format!("mass_kg = 1.0\ndescent_mps = 2.4\n{sensor}"))],
        );
        let scenario = super::bench::settled(lostlink::scenario::read("law", &text, &files).unwrap());
        endings(&fly(&scenario, 3), 0)
    };
    for end in ends("") {
        assert!((2.2..2.6).contains(&end.impact_speed_mps) && end.manner == Manner::HardLanding, "{end:?}");
    }
    for end in ends("ground_sensor_m = 12") {
        assert!(end.impact_speed_mps < 1.0 && end.manner == Manner::SetDown, "{end:?}");
    }
}

/// A heading wrong by 50° bends a piloted flight by position hold and leaves one by attitude alone.
#[test]
fn a_wrong_heading_reaches_the_sticks_in_position_hold_only() {
    let track = |by: &str, bias: f64| {
        let text = with(
            &(field(36_000.0, "") + HOME),
            &[
                ("[pilot]\n", &format!("[pilot]\nflies_by = \"{by}\"\n")),
                ("heading_bias_deg = 0", &format!("heading_bias_deg = {bias}\ncourse_alignment = false")),
            ],
        );
        let scenario = read(&text);
        let world = World::new(scenario).unwrap();
        let trace = record(&world, 1, &world.scenario.policies[0], 0.2);
        trace.rows.iter().filter(|row| row.time_s < 60.0).map(|row| row.place_m[1].abs()).fold(0.0, f64::max)
    };
    assert!(track("attitude", 50.0) < 2.0);
    assert!(track("position_hold", 0.0) < 2.0);
    assert!(track("position_hold", 50.0) > 4.0);
}

/// A low pack acts by itself as it is set, before or after the link is gone, and which goes first is as stated.
#[test]
fn a_low_pack_acts_as_it_is_set() {
    let text = |keys: &str, policy: &str, cut_s: f64| {
        with(
            &(field(cut_s, "") + policy),
            &[
                (
                    "mass_kg = 1.0",
                    &format!("mass_kg = 1.0\n[craft.battery]\ncharge_pct = 27\nwarn_v = 3.62\nland_v = 3.3\n{keys}"),
                ),
                (
                    "waypoints_m = [[0, 0, 30], [600, 0, 30]]",
                    "waypoints_m = [[0, 0, 30], [300, 0, 30], [300, 300, 30], [-300, 300, 30], [-300, -300, 30], [300, -300, 30]]",
                ),
            ],
        )
    };
    // With the link up a craft that only tells flies on; one that is to come home does.
    let home = read(&text("at_warning = \"return\"", HOME, 36_000.0));
    for outcome in fly(&home, 3) {
        assert_eq!(outcome.without_loss, Some(Headline::AtHome), "{outcome:?}");
    }
    assert!(story(&home, 0, 0).iter().any(|event| event.what().starts_with("low pack")));
    // With the link gone and a hold set: the pack sends it home, or the policy has its way.
    let hold = "[[policy]]\nname = \"hold\"\n[[policy.action]]\nhold = { for_s = 400 }\n[[policy.action]]\nland = {}\n";
    for (first, at_home) in [("pack", true), ("policy", false)] {
        let keys = format!("at_warning = \"return\"\ngoes_first = \"{first}\"");
        for end in ends(&text(&keys, hold, 20.0), 3) {
            assert_eq!(end.headline == Headline::AtHome, at_home, "{first}: {end:?}");
            assert_eq!(end.flags.has(Flags::PACK_ACTED), at_home, "{first}: {end:?}");
        }
    }
}

/// The guard of the fence ends a way home that would leave the permitted area, and the craft stays inside.
#[test]
fn a_fence_on_the_way_home_stops_the_way_home() {
    // A horseshoe: the straight way home crosses what is forbidden.
    let site = "[site.fence]\npolygon_m = [[-100, -100], [400, -100], [400, 400], [-100, 400], [-100, 200], [200, 200], [200, 100], [-100, 100]]\n";
    let text = |guard: &str| {
        with(
            &(field(68.0, site) + HOME + guard),
            &[(
                "waypoints_m = [[0, 0, 30], [600, 0, 30]]",
                "waypoints_m = [[0, 0, 30], [300, 0, 30], [300, 300, 30], [0, 300, 30]]",
            )],
        )
    };
    for end in ends(&text(""), 4) {
        assert!(end.flags.has(Flags::LEFT_AREA), "{end:?}");
    }
    for end in ends(&text("guard.fence = { within_m = 10 }\n"), 4) {
        assert!(!end.flags.has(Flags::LEFT_AREA) && end.flags.has(Flags::FELL_BACK), "{end:?}");
        assert!(end.end_m[1] > 200.0, "{end:?}");
    }
}

/// A ceiling above the ground is one of its own.
#[test]
fn a_ceiling_above_ground_is_flagged() {
    let above = |limit: &str| {
        let text = field(40.0, limit) + HOME;
        ends(&text, 2).iter().all(|end| end.flags.has(Flags::ABOVE_CEILING))
    };
    assert!(!above(""));
    assert!(above("ceiling_above_ground_m = 35\n"));
    assert!(!above("ceiling_above_ground_m = 45\n"));
}

/// Near home the way home is flown without a climb first.
#[test]
fn near_home_it_does_not_climb() {
    let near = |within_m: f64| {
        let policy = with(
            HOME,
            &[
                ("home_circle_m = 8", &format!("home_circle_m = 8, level_within_m = {within_m}")),
                ("up_m = 40", "up_m = 90"),
            ],
        );
        ends(&(field(12.0, "") + &policy), 3)
    };
    assert!(near(0.0).iter().all(|end| end.greatest_height_m > 85.0));
    assert!(near(100.0).iter().all(|end| end.greatest_height_m < 35.0 && end.headline == Headline::AtHome));
}

/// What the receiver declares is counted, and so is each half of the link.
#[test]
fn losses_and_halves_are_counted() {
    // A cut without end: one declaration, and telemetry goes with the pilot's set.
    let once = ends(&(field(40.0, "") + HOME), 3);
    assert!(once.iter().all(|end| end.declared_lost == 1 && !end.flags.has(Flags::LOST_AGAIN)));
    // Bursts that come and go: again and again. The policy holds, so that nothing else ends the flight.
    let text = with(
        &(field(40.0, "")
            + "[[policy]]\nname = \"hold\"\n[[policy.action]]\nhold = { for_s = 600 }\n[[policy.action]]\nland = {}\n"),
        &[
            (
                "[weather]",
                "[radio.control]\n[radio.control.receiver]\npatience_s = 0.5\nhandback_s = 0.5\n[radio.telemetry]\n[radio.bursts]\ngood_s = 20\nbad_s = 2\nloss_bad = 1.0\nloss_good = 0.0\n[weather]",
            ),
            ("[loss.cut]\ntime_s = 40", "[loss]\nmodelled = true"),
            ("[pilot]", "[pilot]\nplace_m = [0, -40]\non_regain = \"let_finish\""),
        ],
    );
    let scenario = read(&text);
    let flown = fly(&scenario, 12);
    let mut far = 0;
    for end in endings(&flown, 0) {
        // Who loses the link just off the ground holds there and touches it.
        if end.loss_m[2] < 20.0 {
            continue;
        }
        far += 1;
        assert!(end.declared_lost >= 10 && end.flags.has(Flags::LOST_AGAIN), "{end:?}");
        // The way up is jammed, the way down is not.
        assert!(end.telemetry_only_s > 10.0, "{end:?}");
        assert_eq!(end.control_only_s, 0.0, "{end:?}");
    }
    assert!(far >= 3, "{far}");
    assert!(flown.iter().all(|outcome| outcome.loss.is_some_and(|loss| loss.telemetry_up)));
    // Weak telemetry, strong control: the reverse.
    let text = with(&text, &[("[radio.telemetry]", "[radio.telemetry]\npower_dbm = -40\nnoise_figure_db = 30")]);
    for end in endings(&fly(&read(&text), 2), 0) {
        assert!(end.control_only_s > 20.0, "{end:?}");
    }
}

/// A switch in the wrong position at hand-back, and a pilot who does not take over.
#[test]
fn what_the_pilot_does_wrong_at_hand_back_has_its_share() {
    let text = |keys: &str| {
        let hold =
            "[[policy]]\nname = \"hold\"\n[[policy.action]]\nhold = { for_s = 30 }\n[[policy.action]]\nland = {}\n";
        with(
            &(field(40.0, "") + hold),
            &[("time_s = 40", "time_s = 40\nfor_s = 2.5"), ("unresponsive_share = 0", keys)],
        )
    };
    let flights = 60;
    let took_over = |found: &[Ending]| found.iter().filter(|end| end.flags.has(Flags::PILOT_TOOK_OVER)).count();
    assert_eq!(took_over(&ends(&text("unresponsive_share = 0"), flights)), 60);
    assert_eq!(took_over(&ends(&text("unresponsive_share = 1"), flights)), 0);
    let some = took_over(&ends(&text("unresponsive_share = 0.5"), flights));
    assert!((15..=45).contains(&some), "{some} of 60");
    let keys = |what: &str| {
        format!("unresponsive_share = 0\nreaction_s = 4\nwrong_switch_share = 1\nwrong_switch = \"{what}\"")
    };
    for end in ends(&text(&keys("stop_motors")), 4) {
        assert!(end.manner == Manner::Fall && end.flags.has(Flags::WRONG_SWITCH), "{end:?}");
    }
    for end in ends(&text(&keys("sink")), 4) {
        assert!(end.headline == Headline::PilotBack && end.flags.has(Flags::WRONG_SWITCH), "{end:?}");
    }
}

/// The same luck for a policy whatever else is set: two names, one meaning, the same endings.
#[test]
fn a_policy_flies_the_same_under_two_names() {
    let scenario = read(&(field(40.0, "") + HOME));
    let world = World::new(scenario).unwrap();
    let mut twin: Vec<Policy> = world.scenario.policies.clone();
    twin.push(Policy { name: "another name".into(), ..twin[0].clone() });
    let world = world.with_policies(twin).unwrap();
    for outcome in outcomes(&world, 6) {
        assert_eq!(format!("{:?}", outcome.endings[0]), format!("{:?}", outcome.endings[1]));
    }
}

/// Keys of an earlier form are told their new names and mean what they meant.
#[test]
fn keys_of_an_earlier_form_mean_what_they_meant() {
    let forms = [
        ("height = { at_least_m = 40 }", "height = { up_m = 40 }"),
        ("height = { exactly_m = 40 }", "height = { up_m = 40, may_sink = true }"),
        ("height = { above_path_m = 15 }", "height = { from = \"path\", up_m = 15 }"),
        ("height = { above_ground_m = 35 }", "height = { from = \"ground\", up_m = 35 }"),
        ("height = \"stay_level\"", "height = { from = \"here\" }"),
        ("height = { up_m = 50 }, climb_first = false", "height = { up_m = 50 }, climbs = \"on_the_way\""),
    ];
    for (earlier, now) in forms {
        let told = |height: &str| read(&(field(40.0, "") + &with(HOME, &[("height = { up_m = 40 }", height)])));
        let (a, b) = (told(earlier), told(now));
        assert_eq!(a.policies, b.policies, "{earlier}");
        assert!(a.warnings.len() > b.warnings.len(), "{earlier}: {:?}", a.warnings);
    }
    let sky =
        |keys: &str| read(&with(&(field(40.0, "") + HOME), &[("window_s = 0", &format!("window_s = 0\n{keys}"))])).sky;
    let earlier = sky("take_off_without_fix = true\ntake_off_satellites = 9\ntake_off_hdop = 1.5");
    assert_eq!(earlier, sky("wait_for_fix = false\nwait_satellites = 9\nwait_hdop = 1.5"));
}

/// A craft that believes its nose too far to the right bends to the left of the way home, and the other way round.
#[test]
fn a_wrong_heading_bends_the_way_home_to_its_own_side() {
    let aside_m = |bias_deg: f64| {
        let text = with(
            &(field(40.0, "") + HOME),
            &[("heading_bias_deg = 0", &format!("heading_bias_deg = {bias_deg}\ncourse_alignment = false"))],
        );
        let world = World::new(read(&text)).unwrap();
        let trace = record(&world, 2, &world.scenario.policies[0], 0.5);
        let lost_s = trace.lost_at_s.expect("the cut loses it");
        // Home lies in the west: left is south.
        let way: Vec<f64> =
            trace.rows.iter().filter(|row| row.time_s > lost_s + 5.0).map(|row| row.place_m[1]).collect();
        way.iter().sum::<f64>() / way.len() as f64
    };
    let (right, left) = (aside_m(40.0), aside_m(-40.0));
    assert!(right < -4.0 && left > 4.0, "{right} {left}");
}

/// Who holds by a fix wanders as the fix does: the craft keeps the place that it believes to have.
#[test]
fn a_hold_wanders_with_the_fix() {
    let hold = "[[policy]]\nname = \"hold\"\n[[policy.action]]\nhold = { for_s = 240 }\n[[policy.action]]\nland = {}\n";
    let wander_m = |factor: f64| {
        let text = with(
            &(field(40.0, "") + hold),
            &[("window_s = 0", &format!("window_s = 0\nerror_factor = {factor}\njumps_per_h = 0"))],
        );
        let world = World::new(read(&text)).unwrap();
        let trace = record(&world, 0, &world.scenario.policies[0], 1.0);
        let lost_s = trace.lost_at_s.expect("the cut loses it");
        let held: Vec<[f64; 3]> = trace
            .rows
            .iter()
            .filter(|row| row.time_s > lost_s + 20.0 && row.time_s < lost_s + 235.0)
            .map(|row| row.place_m)
            .collect();
        let spread = |axis: usize| {
            let places = held.iter().map(|place| place[axis]);
            places.clone().fold(f64::NEG_INFINITY, f64::max) - places.fold(f64::INFINITY, f64::min)
        };
        spread(0).max(spread(1))
    };
    assert!(wander_m(3.0) > 2.0, "{}", wander_m(3.0));
    assert!(wander_m(0.0) < 0.5, "{}", wander_m(0.0));
}

/// A way home takes as long as its stated speed says.
#[test]
fn a_way_home_is_flown_at_its_speed() {
    let home_s = |speed_mps: f64| {
        let policy = with(HOME, &[("home_circle_m = 8", &format!("home_circle_m = 8, speed_mps = {speed_mps}"))]);
        f64::from(ends(&(field(50.0, "") + &policy), 2)[0].time_to_end_s)
    };
    // Some 420 m from home: 84 s at 5 m/s, 42 s at 10.
    let longer_s = home_s(5.0) - home_s(10.0);
    assert!((36.0..48.0).contains(&longer_s), "{longer_s}");
}

/// The battery guard gives a way home up at its reserve and not before.
#[test]
fn the_battery_guard_holds_to_its_reserve() {
    let given_up = |reserve_pct: f64| {
        let policy = HOME.to_string() + &format!("guard.battery = {{ reserve_pct = {reserve_pct} }}\n");
        let text = with(
            &(field(50.0, "") + &policy),
            &[("mass_kg = 1.0", "mass_kg = 1.0\n[craft.battery]\ncharge_pct = 60\nhealth = 1")],
        );
        ends(&text, 2)[0].flags.has(Flags::FELL_BACK)
    };
    // A minute of flight takes some five points of sixty.
    assert!(given_up(58.0) && !given_up(40.0));
}
