//! What is known of the inputs: where each comes from, the number of its draw, guesses and their spread.

use super::helpers::{OPEN_HEIGHTS, flat, memory, words};
use lostlink::scenario;

#[test]
fn the_shortest_scenario_loads_and_says_where_each_input_comes_from() {
    let scenario =
        scenario::read("short.toml", scenario::SHORTEST, &scenario::NoFiles).map_err(|e| words(&e)).expect("good");
    let row =
        |key: &str| scenario.inputs.iter().find(|row| row.key == key).unwrap_or_else(|| panic!("{key} is no input"));
    assert_eq!((row("craft.mass_kg").value.as_str(), row("craft.mass_kg").line), ("1.0", Some(4)));
    let wind = row("weather.wind_mps");
    assert_eq!(
        (wind.value.as_str(), wind.line, wind.note.as_str()),
        ("{ lognormal = [4, 1.4] }", None, "estimate: light to moderate")
    );
    // Nobody has to look up what a default is worth.
    for row in scenario.inputs.iter().filter(|row| row.line.is_none()) {
        assert!(!row.value.is_empty(), "{} has no value", row.key);
        assert!(!row.note.is_empty(), "{} has no source", row.key);
    }
    let noted = scenario::read("flat.toml", &flat("", "waypoints_m = [[0, 40, 20]]"), &scenario::NoFiles)
        .map_err(|e| words(&e))
        .expect("good");
    let mass = noted.inputs.iter().find(|row| row.key == "craft.mass_kg").expect("there");
    assert_eq!(mass.note, "kitchen scale");
    // Defaults of the reference craft: four 7-inch rotors, 32 W profile power, descent off the vortex ring.
    assert_eq!(scenario.craft.rotors, 4);
    assert!((scenario.craft.rotor_diameter_m - 0.1778).abs() < 1e-9);
    assert!((scenario.craft.profile_power_w.central() - 32.0).abs() < 0.01);
    assert!((scenario.craft.descent_mps - 2.54).abs() < 0.01);
}

#[test]
fn headline_words_are_those_of_the_endings() {
    let words: Vec<&str> = lostlink::flight::Headline::ALL.iter().map(|headline| headline.word()).collect();
    assert_eq!(words, scenario::HEADLINE_WORDS);
}

/// Draws are keyed by these numbers: another number for an input is other luck under the same seed.
#[test]
fn every_uncertain_input_is_drawn_by_a_number_of_its_own() {
    let site = "zone = [{ kind = \"people\", circle_m = [200, 0, 9] }]\n\
         obstacle = [{ kind = \"trees\", circle_m = [90, 0, 9], height_m = 9 }, { kind = \"trees\", circle_m = [90, 90, 9], height_m = 9 }]";
    let text = flat(site, "waypoints_m = [[0, 40, 20]]")
        + "[pilot]\nfacing_deg = 0\nhands = { raise_to_m = 3, aim = true, walk_m = 5 }\n\
           [radio]\ninterferer = [{}, {}]\ntelemetry = {}\nvideo = {}\n[loss.cut]\ntime_s = 3\nfor_s = 5\n";
    let text = text.replacen("lat_deg", "ground_file = \"m.osm\"\nlat_deg", 1);
    let files = memory(&[("m.osm", &OPEN_HEIGHTS.replace("ORIGIN", "9"))]);
    let scenario = scenario::read("u.toml", &text, &files).map_err(|e| words(&e)).expect("good");
    let mut found = Vec::new();
    scenario.inputs_with(|place, block, _| found.push((block, place.to_string())));
    found.sort();
    let list: Vec<String> = found.iter().map(|(block, key)| format!("{block} {key}")).collect();
    let expected = "0 weather.wind_mps|1 weather.from_deg|2 weather.turbulence|3 weather.gust_mps|4 weather.temperature_c|\
         5 weather.tendency_pa_per_h|6 craft.mass_kg|7 craft.linear_drag_per_s|8 craft.drag_area_m2|9 craft.fall_drag_area_m2|\
         10 craft.battery.health|11 craft.battery.resistance_ohm|12 craft.battery.charge_pct|13 radio.control.power_dbm|\
         14 radio.control.noise_rise_db|15 radio.control.body_loss_db|16 radio.shadow_sigma_db|17 sky.own_noise_db|\
         18 sky.powered_before_s|19 sky.heading_bias_deg|20 pilot.reaction_s|21 loss.cut.time_s|22 loss.cut.for_s|\
         32 radio.interferer[0].eirp_dbm|33 radio.interferer[1].eirp_dbm|1000 radio.null_depth_db|1001 radio.cross_polar_db|\
         1002 pilot.hands.turn_after_s|1003 pilot.hands.raise_after_s|1004 pilot.hands.aim_after_s|\
         1005 pilot.hands.walk_after_s|1020 sky.error_factor|1040 craft.battery.resistance_b_k|1041 craft.battery.cold_loss|\
         1042 craft.drive_efficiency|1043 weather.hill_factor|1060 pilot.unresponsive_share|1100 craft.profile_power_w|\
         1101 craft.tip_speed_mps|1102 craft.aux_power_w|1103 craft.velocity_lag_s|1104 craft.attitude_lag_s|\
         1105 craft.thrust_ratio|1106 craft.level_error_deg|1107 craft.touch_factor|1108 craft.tip_slope_deg|\
         1111 weather.drift_mps|1112 weather.drift_memory_s|1113 weather.gust_length_m|1114 sky.jumps_per_h|\
         1115 sky.jump_for_s|1116 sky.outage_every_s|1117 sky.outage_for_s|1118 sky.heading_throttle_deg|\
         1119 sky.baro_drift_m_per_sqrt_min|1120 pilot.lands_off_m|1121 radio.control.pilot_antenna.feed_loss_db|\
         1122 radio.control.craft_antenna.feed_loss_db|1123 radio.control.noise_figure_db|\
         1124 radio.control.receiver.window_s|1125 radio.control.receiver.patience_s|\
         1126 radio.control.receiver.handback_s|1127 radio.control.receiver.handback_quality_pct|\
         1128 radio.control.receiver.restart_s|1129 radio.telemetry.power_dbm|1130 radio.telemetry.noise_figure_db|\
         1131 radio.telemetry.patience_s|1132 radio.video.craft_antenna.feed_loss_db|\
         1133 radio.video.pilot_antenna.feed_loss_db|1134 radio.video.noise_figure_db|1135 radio.video.patience_s|\
         1136 radio.video.hold_s|1137 pilot.on_regain|1140 site.terrain_error_m|1141 site.home_east_m|\
         1142 site.home_north_m|1150 site.map.tree_height_m|1151 site.map.storey_m|1152 site.map.building_height_m|\
         1153 site.map.power_line_m|1154 site.map.minor_line_m|1200 site.obstacle[0].height_m|1201 site.obstacle[1].height_m|1600 site.zone[0].margin_m|1900 radio.interferer[0].duty|1901 radio.interferer[1].duty";
    assert_eq!(list.join("|"), expected);
    // Each stands in the file under its key, and the file has no other, but for what is drawn at each event.
    let plain = |key: &str| key.replace("[0]", "[]").replace("[1]", "[]");
    let takes_more = |kind: &scenario::Kind| matches!(kind, scenario::Kind::Uncertain(_) | scenario::Kind::Chances(_));
    let keys: Vec<String> =
        scenario::key_list().into_iter().filter(|doc| takes_more(&doc.kind)).map(|doc| doc.key).collect();
    for (_, key) in &found {
        assert!(keys.contains(&plain(key)), "{key}");
    }
    let other: Vec<String> =
        keys.into_iter().filter(|key| !found.iter().any(|(_, drawn)| plain(drawn) == *key)).collect();
    assert_eq!(other, ["sky.jump_m", "loss.cut.path_share"]);
    // One of them at a number changes that one.
    let calm = scenario.with_input(0, 2.5);
    assert_eq!(calm.weather.wind_mps, lostlink::chance::Uncertain::Exact(2.5));
    assert_eq!(calm.with_input(0, 1.0), scenario.with_input(0, 1.0));
    assert_eq!((&calm.craft, &calm.radio, &calm.sky), (&scenario.craft, &scenario.radio, &scenario.sky));
}

/// What nobody stated is told with its spread and why; what is stated, or has nothing to act on, is not.
#[test]
fn guesses_in_force_are_told() {
    let assumed = |extra: &str| {
        let text = flat("", "waypoints_m = [[0, 40, 20]]").replace("[path]", &format!("{extra}\n[path]"));
        let scenario = scenario::read("a.toml", &text, &scenario::NoFiles).map_err(|e| words(&e)).expect("good");
        scenario
            .assumed()
            .into_iter()
            .map(|row| format!("{}: {} ({})", row.key, row.value, row.note))
            .collect::<Vec<_>>()
    };
    let slope = "craft.tip_slope_deg: { triangular = [14, 20, 26] } (estimate)".to_string();
    assert!(assumed("").contains(&slope));
    assert!(!assumed("tip_slope_deg = 20").iter().any(|line| line.starts_with("craft.tip_slope_deg")));
    assert!(!assumed("").iter().any(|line| line.starts_with("weather.hill_factor")));
}

/// A default that is a guess has a spread, unless it says itself where that is or it is no number.
#[test]
fn every_guess_has_a_spread() {
    /// Guesses without one: why.
    const WITHOUT: &[(&str, &str)] = &[
        (
            "weather.veer_deg_per_100m",
            "turns the wind by 3° between 30 and 130 m, where its direction is drawn over tens of degrees",
        ),
        (
            "radio.delay_spread_s",
            "over its 10 to 100 ns a hop span of 80 MHz holds 5 to 50 bands that fade apart, never one",
        ),
        ("radio.interferer[].bandwidth_hz", "of a source that the file states, whose strength is drawn"),
        ("radio.bursts.", "of a process that the file states"),
        ("sky.own_video.", "of a transmitter that the file states"),
        ("sky.interference.", "of a source that the file states"),
        ("_antenna.", "shape of an antenna that the file states"),
        ("radio.video.video.", "waveform that the file states"),
        (".fsk.", "waveform that the file states"),
        ("radio.control.video.", "waveform that the file states"),
        ("site.fence_margin_m", "what is flagged, not what happens"),
        ("site.people_per_km2", "for the annex about harm"),
        ("site.ground_roughness_m", "of the ray off the ground, over flat sites alone"),
        ("judge.", "how results are judged"),
        ("policy[].", "what the policy is"),
        ("delivered.", "what the policy is"),
    ];
    let faults: Vec<String> = scenario::key_list()
        .into_iter()
        .filter(|doc| doc.source.contains("estimate") && !doc.source.contains("spread is"))
        .filter(|doc| {
            matches!(doc.kind, scenario::Kind::Number(_) | scenario::Kind::Numbers(..) | scenario::Kind::Whole(..))
        })
        .filter(|doc| !WITHOUT.iter().any(|row| doc.key.contains(row.0)))
        .map(|doc| doc.key)
        .collect();
    assert!(faults.is_empty(), "guesses without a spread: {}", faults.join(", "));
    let exact: Vec<String> = scenario::key_list()
        .into_iter()
        .filter(|doc| doc.source.contains("estimate") && matches!(doc.kind, scenario::Kind::Uncertain(_)))
        .filter(|doc| doc.default.parse::<f64>().is_ok())
        .map(|doc| doc.key)
        .collect();
    assert_eq!(exact, Vec::<String>::new());
}
