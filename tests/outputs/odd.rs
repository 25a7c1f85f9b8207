//! What `check` asks about before anything flies, and files that are none.

use crate::expected::differs;
use lostlink::plan::survey;
use lostlink::{Scenario, World, scenario};

/// A field with nothing odd about it.
const FIELD: &str = r#"
title = "A field"
[craft]
mass_kg = 1.0
[site.fence]
polygon_m = [[-100, -100], [500, -100], [500, 100], [-100, 100]]
[path]
waypoints_m = [[0, 0, 30], [300, 0, 30]]
[radio.telemetry]
[loss.cut]
time_s = 20
[delivered]
name = "as delivered"
action = [{ return = { height = { up_m = 40 } } }]
[[policy]]
name = "home"
[[policy.action]]
return = { height = { up_m = 40 } }
"#;

fn warned(text: &str) -> Vec<String> {
    let scenario = Scenario::from_toml(text).unwrap_or_else(|why| panic!("{why}\n{text}"));
    survey(&World::for_planning(scenario).expect("a world")).warnings
}

/// An odd scenario, the key of the warning about it, what it says, what it proposes.
struct Odd {
    text: String,
    key: &'static str,
    says: &'static str,
    remedy: &'static str,
}

fn odd(text: String, key: &'static str, says: &'static str, remedy: &'static str) -> Odd {
    Odd { text, key, says, remedy }
}

/// The field with something more at its end.
fn with(more: &str) -> String {
    format!("{FIELD}{more}")
}

/// The field with something else in a place.
fn changed(from: &str, to: &str) -> String {
    assert!(FIELD.contains(from), "{from}");
    FIELD.replacen(from, to, 1)
}

const SHED: &str = "[[site.obstacle]]\nname = \"shed\"\nkind = \"building\"\ncircle_m = [-30, 0, 5]\nheight_m = 4\n";

/// Where craft and pilot stand, what the craft lifts, how fast it is, what never comes about.
fn of_the_craft() -> Vec<Odd> {
    let pond = "[[site.zone]]\nname = \"pond\"\nkind = \"water\"\ncircle_m = [0, 0, 20]\n";
    let home = "policy[0].action[0].return.speed_mps";
    let guard = "policy[0].action[0].guard.fix.satellites";
    let video = "[radio.video]\nwhen_lost = \"hold\"\nhold_s = 300\n";
    vec![
        odd(with(pond), "site.home_m", "the take-off spot is in water", "a place on firm ground"),
        odd(
            with(&format!("{SHED}[pilot]\nplace_m = [-30, 0]\n")),
            "pilot.place_m",
            "the pilot is inside the building \"shed\"",
            "a place beside it",
        ),
        odd(
            changed("mass_kg = 1.0", "mass_kg = 1.0\npayload_kg = 2.5"),
            "craft.payload_kg",
            "with 2.5 the motors lift ",
            "less load",
        ),
        odd(
            changed("mass_kg = 1.0", "mass_kg = 1.0\nthrust_ratio = 1.2"),
            "craft.thrust_ratio",
            "with 1.2 the motors lift 1.2 times",
            "the `thrust_ratio` as measured",
        ),
        odd(
            changed("mass_kg = 1.0", "mass_kg = 1.0\nrotor_diameter_m = 0.06"),
            "craft.rotor_diameter_m",
            "1.0 kg on this disc area",
            "the diameter of one rotor",
        ),
        odd(
            with("[weather]\nwind_mps = 30\n"),
            "weather.wind_mps",
            "a wind of 30 m/s, where the craft makes at most",
            "less wind",
        ),
        odd(
            changed("[[policy.action]]\nreturn = { ", "[[policy.action]]\nreturn = { speed_mps = 40, "),
            home,
            "40 m/s is asked for",
            "room for a headwind",
        ),
        odd(
            changed("mass_kg = 1.0", "mass_kg = 1.0\ncruise_mps = 50"),
            "craft.cruise_mps",
            "50 m/s is asked for",
            "up to ",
        ),
        odd(changed("[path]", "[path]\nspeed_mps = 50"), "path.speed_mps", "50 m/s is asked for", "up to "),
        odd(
            with("guard.fix = { satellites = 55, hdop = 2 }\n"),
            guard,
            "policy \"home\" asks for 55 satellites, more than the",
            "fewer satellites",
        ),
        odd(with("[sky]\nwait_satellites = 60\n"), "sky.wait_satellites", "60, where at most ", "fewer satellites"),
        odd(
            changed("time_s = 20", "time_s = 900"),
            "loss.cut.time_s",
            "900 s, when the path is over after ",
            "an earlier time",
        ),
        odd(
            with("[radio.control.receiver]\npatience_s = 30\n"),
            "radio.control.receiver.patience_s",
            "before the link is called lost the craft flies on for 30.0 s",
            "a shorter patience",
        ),
        odd(with(video), "radio.video.hold_s", "without a picture the craft hovers for 300 s", "a time well below"),
        odd(
            changed("mass_kg = 1.0", "mass_kg = 1.0\nbattery = { charge_pct = 3 }"),
            "craft.battery",
            "the charge does not last the path",
            "a fuller",
        ),
        odd(
            changed(
                "[[policy.action]]\nreturn",
                "[[policy.action]]\nhold = { for_s = 3600 }\n[[policy.action]]\nreturn",
            ),
            "policy[0].name",
            "policy \"home\" holds for 3,600 s",
            "shorter holds",
        ),
    ]
}

/// Ways home, of every form, every action of a chain and a low pack; what is permitted; what rests on a fix, on telemetry, on a picture; what
/// the craft was delivered with.
fn of_the_plan() -> Vec<Odd> {
    let mast = "[[site.obstacle]]\nname = \"mast\"\nkind = \"building\"\ncircle_m = [150, 30, 4]\nheight_m = 60\n";
    let wood = "[[site.obstacle]]\nname = \"wood\"\nkind = \"trees\"\npolygon_m = [[120, -40], [180, -40], [180, -8], [120, -8]]\nheight_m = 35\n";
    // A path around the wood, from the end of which the straight way home crosses it.
    let around = |height: &str, more: &str| {
        let path = "waypoints_m = [[0, 60, 20], [300, 60, 20], [300, -60, 20]]";
        FIELD.replace("waypoints_m = [[0, 0, 30], [300, 0, 30]]", path).replace("{ up_m = 40 }", height) + wood + more
    };
    let meets = "meets what stands on the straight way home";
    let first = "policy[0].action[0].return";
    let next = "\n[[policy.action]]\nreturn = { height = { up_m = 40 }, otherwise = \"next\" }";
    let chain = |height: &str| {
        let chain = format!("{next}\n[[policy.action]]\nreturn = {{ height = {height} }}");
        around("{ up_m = 40 }", "").replace("\n[[policy.action]]\nreturn = { height = { up_m = 40 } }", &chain)
    };
    let low_pack = "mass_kg = 1.0\nbattery = { at_warning = \"return\" }";
    let picture = "[radio.video]\npower_dbm = -40\n";
    let drops = "[{ hold = { for_s = 1 } }, { drop = {} }]";
    let second = "policy \"home, action 2\" meets what";
    vec![
        odd(
            with(mast),
            first,
            "policy \"home\" comes home at 40 m above home, lower than the tallest thing within reach of the ways home: mast, 60 m",
            "more than 60 m above home",
        ),
        odd(around("{ from = \"here\" }", ""), first, meets, "a greater height"),
        odd(around("{ up_m = 25, may_sink = true }", ""), first, meets, "a greater height"),
        odd(around("{ from = \"path\", up_m = 2 }", ""), first, meets, "a greater height"),
        odd(around("{ from = \"ground\", up_m = 25 }", ""), first, meets, "a greater height"),
        odd(chain("{ from = \"here\" }"), "policy[0].action[1].return", second, "a greater height"),
        odd(
            around("{ up_m = 40 }", "").replace("mass_kg = 1.0", low_pack),
            "craft.battery.at_warning",
            "the low pack at its warning meets what",
            "a greater height",
        ),
        odd(
            changed("[path]", "[site]\nceiling_m = 50\n[path]")
                .replace("{ up_m = 40 }", "{ from = \"path\", up_m = 40 }"),
            first,
            "policy \"home\" comes home at up to 70 m above home, above the ceiling of 50 m",
            "a lower height",
        ),
        odd(
            changed("[path]", "[site]\nceiling_above_ground_m = 35\n[path]"),
            first,
            "policy \"home\" comes home at up to 40 m above the ground below, above the ceiling of 35 m there",
            "from = \"ground\"",
        ),
        odd(
            changed("[path]", "[site]\nceiling_above_ground_m = 25\n[path]"),
            "path",
            "the path rises to 30 m above the ground below",
            "a lower path",
        ),
        odd(
            with(&format!("{mast}[site]\nceiling_above_ground_m = 50\n")),
            "site.ceiling_above_ground_m",
            "50, under the top of mast, 60 m above the ground",
            "pass beside it",
        ),
        odd(
            with("[sky]\nwait_for_fix = false\n"),
            "sky.wait_for_fix",
            "without a home point these policies do not come home: \"home\"",
            "`wait_for_fix = true`",
        ),
        odd(
            with("[sky]\nwait_for_fix = false\n").replace(
                "return = { height = { up_m = 40 } }\n[sky]",
                "hold = { for_s = 9 }\n[[policy.action]]\nland = {}\n[sky]",
            ),
            "sky.wait_for_fix",
            "without a fix these neither hold a place nor know the fence: \"home\"",
            "`wait_for_fix = true`",
        ),
        odd(
            changed("[radio.telemetry]\n", ""),
            "radio.telemetry",
            "there is none: nothing warns the pilot",
            "`telemetry = {}`",
        ),
        odd(
            changed("[radio.telemetry]\n", "[pilot]\nturn_back_below_pct = 50\n"),
            "radio.telemetry",
            "what is stated has no effect: pilot.turn_back_below_pct",
            "`telemetry = {}`",
        ),
        odd(with(picture), "radio.video", "at the middle values the picture falls ", "a path nearer"),
        odd(
            changed("[radio.telemetry]\n", "[radio]\nneighbours = 100\n[radio.telemetry]\n"),
            "radio.neighbours",
            "100 others on the band take ",
            "fewer of them",
        ),
        odd(
            changed("[delivered]\nname = \"as delivered\"\naction = [{ return = { height = { up_m = 40 } } }]\n", ""),
            "delivered",
            "nothing is said of what the craft was delivered with",
            "a table `[delivered]`",
        ),
        odd(
            changed("[{ return = { height = { up_m = 40 } } }]", drops),
            "delivered",
            "then stop the motors, and no policy here does that",
            "the same chain as a `[[policy]]`",
        ),
    ]
}

/// Each odd thing is asked about, once: its line, its key, what it does, what to do; the field itself is not.
#[test]
fn what_is_odd_is_asked_about() {
    let plain = warned(FIELD);
    assert!(plain.is_empty(), "{plain:#?}");
    let mut all = String::new();
    for Odd { text, key, says, remedy } in of_the_craft().into_iter().chain(of_the_plan()) {
        let found = warned(&text);
        let told: Vec<&String> =
            found.iter().filter(|line| line.contains(&format!(": {key}: ")) && line.contains(says)).collect();
        let [line] = told[..] else { panic!("{key}: {says}: {found:#?}\n{text}") };
        let (_, proposed) = line.split_once("; remedy: ").unwrap_or_else(|| panic!("no remedy: {line}"));
        assert!(proposed.contains(remedy), "{line}");
        all += &format!("{line}\n");
        // What the file states has its line, and the key stands there.
        let place = line.split(": ").next().expect("a place");
        let last = key
            .rsplit('.')
            .next()
            .expect("a key")
            .trim_end_matches(|c: char| c == ']' || c == '[' || c.is_ascii_digit());
        match place.split_once(':') {
            Some((file, number)) => {
                assert_eq!(file, "scenario");
                let at: usize = number.parse().expect("a line");
                let lines: Vec<&str> = text.lines().collect();
                let there = lines.get(at - 1).unwrap_or_else(|| panic!("no such line: {line}"));
                // A table that has a header is told by the first line below it.
                let below = at >= 2 && lines[at - 2] == format!("[{key}]");
                assert!(below || there.contains(&format!("{last} =")), "{line}\nthere stands: {there}");
            }
            None => assert!(!text.contains(&format!("\n{last} =")), "a line is missing: {line}\n{text}"),
        }
    }
    // The whole words, to be read.
    let beside = std::path::Path::new(env!("LOSTLINK_ROOT")).join("tests/outputs/odd.txt");
    let differing = differs(&beside, &all);
    assert!(differing.is_empty(), "{differing}");
}

/// A way home is looked at as it is flown: no way that is clear is warned of.
#[test]
fn ways_home_that_are_clear_are_not_asked_about() {
    let bank = "[[site.obstacle]]\nname = \"bank\"\nkind = \"trees\"\npolygon_m = [[120, -40], [180, -40], [180, -8], [120, -8]]\nheight_m = 15\n";
    for height in [
        "{ from = \"here\" }",
        "{ up_m = 25, may_sink = true }",
        "{ from = \"path\", up_m = 2 }",
        "{ from = \"ground\", up_m = 25 }",
    ] {
        let path = "waypoints_m = [[0, 60, 20], [300, 60, 20], [300, -60, 20]]";
        let text =
            FIELD.replace("waypoints_m = [[0, 0, 30], [300, 0, 30]]", path).replace("{ up_m = 40 }", height) + bank;
        let found = warned(&text);
        assert!(found.is_empty(), "{height}: {found:#?}");
    }
}

/// What check prints of the picture and of the others on the band.
#[test]
fn check_tells_of_the_picture_and_of_the_others_on_the_band() {
    let text = changed("[radio.telemetry]\n", "[radio]\nneighbours = 4\n[radio.telemetry]\n[radio.video]\n");
    let world = World::for_planning(Scenario::from_toml(&text).expect("a scenario")).expect("a world");
    let found = survey(&world);
    let picture = found.picture.expect("a picture");
    assert!(picture.margin_db.is_finite() && picture.distance_m >= 0.0, "{picture:?}");
    assert!(
        found.kept_beside_neighbours > 0.0 && found.kept_beside_neighbours < 1.0,
        "{}",
        found.kept_beside_neighbours
    );
    let document = lostlink::report::check::document(&world.scenario, &found, world.grid.cell_m);
    let printed =
        lostlink::report::terminal::print(&document, lostlink::report::terminal::Manner::of(false, None, true));
    let flat = printed.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("The least margin of the picture is ") && flat.contains("4 others on the band leave "),
        "{printed}"
    );
    // Stronger video is a greater margin, by as much.
    let stronger = text.replace("[radio.video]\n", "[radio.video]\npower_dbm = 20\n");
    let weaker = text.replace("[radio.video]\n", "[radio.video]\npower_dbm = 14\n");
    let margin = |text: &str| {
        survey(&World::for_planning(Scenario::from_toml(text).expect("a scenario")).expect("a world"))
            .picture
            .expect("a picture")
            .margin_db
    };
    assert!((margin(&stronger) - margin(&weaker) - 6.0).abs() < 1e-9);
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

/// What is too large is refused with what is accepted, before it is held in memory.
#[test]
fn limits_are_held_to() {
    let place = "[site]\nlat_deg = 47\nlon_deg = 8\n";
    let refused = |text: &str, name: &str, bytes: Vec<u8>| {
        let files = lostlink::scenario::MemoryFiles([(name.to_string(), bytes)].into());
        let found = lostlink::scenario::read("scenario", text, &files).expect_err("too large");
        found.iter().map(|finding| finding.in_words()).collect::<Vec<_>>().join("\n")
    };
    let point = "<trkpt lat=\"47\" lon=\"8\"><ele>430</ele></trkpt>\n";
    let track = format!("<gpx><trk><trkseg>\n{}</trkseg></trk></gpx>", point.repeat(20_001));
    let path = changed("waypoints_m = [[0, 0, 30], [300, 0, 30]]", "file = \"p.gpx\"") + place;
    let words = refused(&path, "p.gpx", track.into_bytes());
    assert!(words.contains("p.gpx:20002: ") && words.contains("at most 20000 points"), "{words}");
    let winds = format!(
        "height_m,speed_mps,direction_deg\n{}",
        (0..10_001).map(|k| format!("{:.1},3,250\n", 1.0 + 0.2 * f64::from(k))).collect::<String>()
    );
    let words = refused(&with("[weather]\nprofile_file = \"w.csv\"\n"), "w.csv", winds.into_bytes());
    assert!(words.contains("w.csv:10002: ") && words.contains("at most 10000 rows"), "{words}");
    let words = refused(&(with(place) + "ground_file = \"g.geojson\"\n"), "g.geojson", vec![b' '; (64 << 20) + 1]);
    assert!(words.contains("g.geojson:1: ") && words.contains("at most 64 MB of features"), "{words}");
    // A file of more than a gigabyte with nothing in it.
    let home = tempfile::tempdir().expect("a folder");
    let scenario = home.path().join("scenario.toml");
    std::fs::write(&scenario, with(place) + "ground_file = \"huge.geojson\"\n").expect("written");
    std::fs::File::create(home.path().join("huge.geojson"))
        .and_then(|file| file.set_len((1 << 30) + 1))
        .expect("a file");
    let words = Scenario::from_file(&scenario).expect_err("too large").to_string();
    assert!(words.contains("the file \"huge.geojson\" cannot be read: it is larger than 1024 MB"), "{words}");
}

/// More zones than a site holds, more over one place, more holes in a polygon than its size has room for.
#[test]
fn zones_of_a_file_have_their_limits() {
    let feature = |properties: &str, geometry: &str| {
        format!("{{\"type\": \"Feature\", \"properties\": {{{properties}}}, \"geometry\": {{{geometry}}}}}")
    };
    let spot = |lon: f64, lat: f64| {
        let point = format!("\"type\": \"Point\", \"coordinates\": [{lon}, {lat}]");
        feature("\"kind\": \"clear\", \"radius_m\": 1", &point)
    };
    let list = |spots: Vec<String>| format!("{{\"type\": \"FeatureCollection\", \"features\": [{}]}}", spots.join(","));
    let side_by_side = (0..60_001).map(|n| spot(9.0 + 2e-5 * f64::from(n % 245), 47.0 + 2e-5 * f64::from(n / 245)));
    let ring =
        |x: f64, y: f64, side: f64| format!("[[{x}, {y}], [{}, {y}], [{x}, {}], [{x}, {y}]]", x + side, y + side);
    let holes =
        (0..6400).map(|index| ring(9.0 + 1e-5 * f64::from(index % 80), 47.0 + 1e-5 * f64::from(index / 80), 5e-6));
    let rings: Vec<String> = [ring(8.99, 46.99, 0.05)].into_iter().chain(holes).collect();
    let sieve =
        feature("\"kind\": \"clear\"", &format!("\"type\": \"Polygon\", \"coordinates\": [{}]", rings.join(",")));
    let text = with("[site]\nlat_deg = 47\nlon_deg = 9\nground_file = \"g.geojson\"\n");
    for (ground, found, accepted) in [
        (list(side_by_side.collect()), "60001 zones", "at most 60000: a smaller `extent_m`, or less of the map"),
        (
            list(vec![spot(9.0, 47.0); 10_001]),
            "10001 zones over one place",
            "at most 10000: zones that lie side by side",
        ),
        (sieve, "a polygon of 6401 rings, too many for its size", "fewer holes, or several smaller polygons"),
    ] {
        let files = scenario::MemoryFiles([("g.geojson".to_string(), ground.into_bytes())].into());
        let told = scenario::read("f.toml", &text, &files).expect_err(found);
        let told: Vec<String> = told.iter().map(scenario::Diagnostic::in_words).collect();
        assert!(told.iter().any(|line| line.contains(found) && line.contains(accepted)), "{found}: {told:#?}");
    }
}

/// A scenario of more policies than any table holds.
#[test]
fn so_many_policies_are_refused() {
    let more: String =
        (0..24).map(|index| format!("[[policy]]\nname = \"p{index}\"\naction = [{{ land = {{}} }}]\n")).collect();
    let refused = Scenario::from_toml(&format!("{FIELD}{more}")).expect_err("25 policies").to_string();
    assert!(refused.contains("policy 25 of 25") && refused.contains("at most 24 policies"), "{refused}");
}

/// On ground that slopes more than the craft stands on, a take-off spot is asked about.
#[test]
fn a_steep_take_off_spot_is_asked_about() {
    let rows = (0..50)
        .map(|row| format!("{:.1} ", 0.84 * f64::from(1225 - 50 * row)).repeat(60))
        .collect::<Vec<_>>()
        .join("\n");
    let grid = format!("ncols 60\nnrows 50\nxllcorner -1000\nyllcorner -1250\ncellsize 50\n{rows}\n");
    let text = FIELD.replace("[site.fence]", "[site]\nterrain_file = \"s.asc\"\n[site.fence]");
    let files = scenario::MemoryFiles([("s.asc".to_string(), grid.into_bytes())].into());
    let scenario = scenario::read("f.toml", &text, &files).unwrap_or_else(|why| panic!("{why:?}"));
    let told = survey(&World::for_planning(scenario).expect("a world")).warnings;
    let steep = told.iter().find(|warning| warning.contains("site.home_m")).unwrap_or_else(|| panic!("{told:?}"));
    assert!(
        steep.contains("the ground slopes by 40° at the take-off spot") && steep.ends_with("remedy: a level spot"),
        "{steep}"
    );
}
