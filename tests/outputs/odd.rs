//! What `check` asks about before anything flies, and files that are none.

use lostlink::plan::survey;
use lostlink::{Scenario, World};

/// A field with nothing odd about it.
const FIELD: &str = r#"
title = "A field"
[craft]
mass_kg = 1.0
[site.fence]
polygon_m = [[-100, -100], [500, -100], [500, 100], [-100, 100]]
[path]
waypoints_m = [[0, 0, 30], [300, 0, 30]]
[loss.cut]
time_s = 20
[[policy]]
name = "home"
[[policy.action]]
return = { height = { up_m = 40 } }
"#;

fn warned(text: &str) -> Vec<String> {
    let scenario = Scenario::from_toml(text).unwrap_or_else(|why| panic!("{why}\n{text}"));
    survey(&World::for_planning(scenario).expect("a world")).warnings
}

/// Each odd thing is asked about, in words that name its key or its policy, and the field itself is not.
#[test]
fn what_is_odd_is_asked_about() {
    let plain = warned(FIELD);
    let pond = "[[site.zone]]\nname = \"pond\"\nkind = \"water\"\ncircle_m = [0, 0, 20]\n";
    let shed = "[[site.obstacle]]\nname = \"shed\"\nkind = \"building\"\ncircle_m = [-30, 0, 5]\nheight_m = 4\n";
    let with = |more: &str| format!("{FIELD}{more}");
    let changed = |from: &str, to: &str| {
        assert!(FIELD.contains(from), "{from}");
        FIELD.replacen(from, to, 1)
    };
    let cases = [
        (with(pond), "site.home_m: the take-off spot is in water"),
        (
            with(&format!("{shed}[pilot]\nplace_m = [-30, 0]\n")),
            "pilot.place_m: the pilot is inside the building \"shed\"",
        ),
        (changed("mass_kg = 1.0", "mass_kg = 1.0\npayload_kg = 2.5"), "craft.payload_kg = 2.5: so the motors lift "),
        (
            changed("mass_kg = 1.0", "mass_kg = 1.0\nrotor_diameter_m = 0.06"),
            "craft.rotor_diameter_m: 1.0 kg on this disc area",
        ),
        (with("[weather]\nwind_mps = 30\n"), "weather.wind_mps: a wind of 30 m/s, where the craft makes at most "),
        (changed("return = { ", "return = { speed_mps = 40, "), "the way home of policy \"home\" asks for 40 m/s"),
        (with("guard.fix = { satellites = 55, hdop = 2 }\n"), "more satellites are asked for than the "),
        (with("[sky]\nwait_satellites = 60\n"), "sky.wait_satellites = 60: at most "),
        (changed("time_s = 20", "time_s = 900"), "loss.cut.time_s = 900: the path is over after "),
        (
            with("[radio.control.receiver]\npatience_s = 30\n"),
            "radio.control.receiver.patience_s: before the link is called lost",
        ),
    ];
    for (text, words) in cases {
        let found = warned(&text);
        assert!(found.iter().any(|line| line.starts_with(words)), "{words}: {found:#?}");
        assert!(!plain.iter().any(|line| line.starts_with(words)), "{plain:#?}");
    }
}

/// One far thing that makes every cell coarser, and things outside a stated extent, are named.
#[test]
fn what_is_drawn_far_away_is_named() {
    let zone = |x: f64| format!("[[site.zone]]\nname = \"far\"\nkind = \"rough\"\ncircle_m = [{x}, 0, 20]\n");
    let words = |text: &str| -> Vec<String> {
        let scenario = Scenario::from_toml(text).expect("only odd");
        scenario.warnings
    };
    assert!(words(&format!("{FIELD}{}", zone(400.0))).is_empty());
    let far = words(&format!("{FIELD}{}", zone(30_000.0)));
    assert!(far.iter().any(|line| line.contains("the zone \"far\" reaching 29.7 km beyond the path")), "{far:#?}");
    let extent = FIELD.replacen("[craft]", "[site]\nextent_m = [-400, -400, 800, 400]\n[craft]", 1);
    let outside = words(&format!("{extent}{}", zone(2_000.0)));
    assert!(outside.iter().any(|line| line.contains("the zone \"far\" wholly outside it")), "{outside:#?}");
    let none = Scenario::from_toml(&format!("{FIELD}{}", zone(90_000.0))).expect_err("too wide").to_string();
    assert!(
        none.contains("the zone \"far\" reaches 89.7 km beyond the path") && none.contains("at most 60 km"),
        "{none}"
    );
}

/// What is no file is refused without being read; a byte-order mark is not part of the text.
#[test]
fn a_scenario_is_a_file_of_text() {
    let home = tempfile::tempdir().expect("a folder");
    let folder = Scenario::from_file(home.path()).expect_err("a folder").to_string();
    assert!(folder.ends_with("it is a folder, not a file"), "{folder}");
    if cfg!(unix) {
        let device = Scenario::from_file("/dev/zero").expect_err("a device").to_string();
        assert_eq!(device, "/dev/zero: it is a pipe or a device, not a file");
    }
    let marked = home.path().join("marked.toml");
    std::fs::write(&marked, format!("\u{feff}{}", FIELD.trim_start())).expect("written");
    assert_eq!(Scenario::from_file(&marked).expect("the mark is skipped").title, "A field");
    let huge = home.path().join("huge.toml");
    std::fs::File::create(&huge).and_then(|file| file.set_len(17 << 20)).expect("a file with nothing in it");
    let refused = Scenario::from_file(&huge).expect_err("too large").to_string();
    assert!(refused.ends_with("it is larger than 16 MB"), "{refused}");
}

/// A scenario of more policies than any table holds.
#[test]
fn so_many_policies_are_refused() {
    let more: String =
        (0..24).map(|index| format!("[[policy]]\nname = \"p{index}\"\naction = [{{ land = {{}} }}]\n")).collect();
    let refused = Scenario::from_toml(&format!("{FIELD}{more}")).expect_err("25 policies").to_string();
    assert!(refused.contains("policy 25 of 25") && refused.contains("at most 24 policies"), "{refused}");
}
