//! Good scenarios: every shipped one loads; what is made of terrain, paths, maps and conditions.

use super::helpers::{Folder, flat, memory, scenario_files, words};
use lostlink::geodata::RasterFile;
use lostlink::scenario;
use std::path::Path;

#[test]
fn every_shipped_scenario_loads_without_a_warning() {
    let files = scenario_files();
    assert!(!files.is_empty());
    for path in files {
        let text = std::fs::read_to_string(&path).expect("readable");
        let folder = Folder(path.parent().expect("a folder").into());
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        match scenario::read(&name, &text, &folder) {
            Ok(scenario) => {
                assert_eq!(scenario.warnings, Vec::<String>::new(), "{name}");
                assert!(scenario.invented, "{name}: places and craft that are shipped are invented");
                assert!(scenario.policies.len() >= 4, "{name}");
                assert!(!scenario.about.is_empty(), "{name}");
                for condition in &scenario.conditions {
                    assert_eq!(condition.scenario.warnings, Vec::<String>::new(), "{name}: {}", condition.name);
                }
            }
            Err(found) => panic!("{}", words(&found)),
        }
    }
}

#[path = "../../examples/terrain.rs"]
#[allow(dead_code)]
mod terrain_example;

#[test]
fn shipped_terrain_follows_from_its_formulas() {
    let folder = Path::new(env!("LOSTLINK_ROOT"));
    for file in terrain_example::all() {
        let there = std::fs::read_to_string(folder.join(file.name)).expect("readable");
        assert!(there == file.text, "{} differs: run `cargo run --example terrain`", file.name);
        let raster = RasterFile::open(file.name, Box::new(std::io::Cursor::new(there.into_bytes())), None);
        let grid =
            raster.ok().and_then(|raster| raster.on_site_axes()).expect("a grid in metres").expect("a good grid");
        if file.name == "scenarios/ridge-valley.asc" {
            // Orientation: the ridge leans east towards the north, x = 330 + 0.12 y.
            let crest = |y: f64| {
                (200i32..500).max_by(|a, b| grid.ground_m(f64::from(*a), y).total_cmp(&grid.ground_m(f64::from(*b), y)))
            };
            assert!(
                (crest(160.0).expect("one") - 349i32).abs() <= 15 && (crest(-160.0).expect("one") - 311i32).abs() <= 15
            );
        }
    }
}

#[test]
fn a_condition_is_the_scenario_with_its_keys_changed() {
    let text = flat("", "waypoints_m = [[0, 40, 20]]")
        + "[[condition]]\nname = \"gusty\"\nodds = 2\nset = { \"weather.wind_mps\" = { normal = [9, 1] }, \"policy[0].action[0].land.sink_mps\" = 1, \"radio.bursts.bad_s\" = 3 }\n"
        + "[[condition]]\nname = \"calm\"\nset = { \"weather.wind_mps\" = 0 }\n";
    let scenario = scenario::read("c.toml", &text, &scenario::NoFiles).map_err(|e| words(&e)).expect("good");
    let [gusty, calm] = scenario.conditions.as_slice() else { panic!("two conditions") };
    assert_eq!((gusty.name.as_str(), gusty.odds, calm.odds), ("gusty", Some(2.0), None));
    assert_eq!(gusty.scenario.weather.wind_mps.central(), 9.0);
    let land = lostlink::failsafe::ActionKind::Land { sink_mps: Some(1.0) };
    assert_eq!(
        (gusty.scenario.policies[0].name.as_str(), &gusty.scenario.policies[0].actions[0].kind),
        ("land", &land)
    );
    assert_eq!(gusty.scenario.radio.bursts.map(|bursts| (bursts.bad_s, bursts.good_s)), Some((3.0, 60.0)));
    assert_eq!(scenario.radio.bursts, None);
    assert_eq!(calm.scenario.weather.wind_mps.central(), 0.0);
    let mut same = *calm.scenario.clone();
    same.weather = scenario.weather.clone();
    same.inputs = scenario.inputs.clone();
    same.conditions = scenario.conditions.clone();
    assert_eq!(same, scenario);
}

#[test]
fn the_hash_follows_the_text_and_the_files() {
    let text = flat("terrain_file = \"t.asc\"", "waypoints_m = [[0, 40, 20]]");
    let grid = "ncols 2\nnrows 2\nxllcenter -500\nyllcenter -500\ncellsize 1000\n1 1 1 1\n";
    let hash = |text: &str, grid: &str| {
        scenario::read("h.toml", text, &memory(&[("t.asc", grid)])).map_err(|e| words(&e)).expect("good").hash
    };
    let first = hash(&text, grid);
    assert_eq!(first.len(), 64);
    assert_eq!(first, hash(&text, grid));
    assert_ne!(first, hash(&(text.clone() + "# a word\n"), grid));
    assert_ne!(first, hash(&text, &grid.replace("1 1 1 1", "1 1 1 2")));
}

#[test]
fn terrain_heights_are_counted_from_the_origin() {
    // A plane that rises 1 m in 10 m to the east and lies at 450 m in the middle; the path is 20 m above home.
    let grid =
        "ncols 3\nnrows 3\nxllcenter 99000\nyllcenter 49000\ncellsize 1000\n350 450 550\n350 450 550\n350 450 550\n";
    let extra = "terrain_file = \"t.asc\"\nterrain_origin_m = [100000, 50000]\nhome_m = [100, 0]";
    let text = flat(extra, "waypoints_m = [[-100, 0, 20]]");
    let scenario = scenario::read("t.toml", &text, &memory(&[("t.asc", grid)])).map_err(|e| words(&e)).expect("good");
    let site = scenario.site.grid();
    // 450 m in the grid less the stated 400 m.
    assert!((site.ground_m(0.0, 0.0) - 50.0).abs() < 1e-4);
    assert!((site.ground_m(100.0, 7.0) - 60.0).abs() < 1e-4);
    assert!(!site.is_flat());
    // Up the slope the same height meets the ground: 20 m above home is reached 200 m further east.
    let text = flat(extra, "waypoints_m = [[500, 0, 20]]");
    let found = scenario::read("t.toml", &text, &memory(&[("t.asc", grid)])).expect_err("through the ground");
    assert!(words(&found).contains("meets the ground, 20.0 m above the take-off spot, at x 300"), "{}", words(&found));
}

#[test]
fn paths_come_from_gpx_and_geojson() {
    let gpx = r#"<?xml version="1.0"?>
<gpx version="1.1" creator="by hand" xmlns="http://www.topografix.com/GPX/1/1">
  <wpt lat="1" lon="1"><ele>5</ele></wpt>
  <trk><name>first</name><trkseg>
    <trkpt lat="47.0" lon="9.0"><ele>430</ele></trkpt>
    <trkpt lat="47.001" lon="9.001"><ele>445.5</ele></trkpt>
  </trkseg></trk>
  <trk><trkseg><trkpt lat="48.0" lon="9.0"><ele>1</ele></trkpt></trkseg></trk>
</gpx>"#;
    let read = |path: &str, name: &str, text: &str| {
        scenario::read("p.toml", &flat("", path), &memory(&[(name, text)])).map_err(|e| words(&e))
    };
    let points = read("file = \"a.gpx\"", "a.gpx", gpx).expect("good").path.waypoints_m;
    assert_eq!(points.len(), 2);
    assert!(points[0][0].abs() < 1e-6 && points[0][1].abs() < 1e-6 && (points[0][2] - 30.0).abs() < 1e-9);
    // A thousandth of a degree at 47° on WGS 84: 111.18 m north and 76.06 m east.
    assert!(
        (points[1][0] - 76.06).abs() < 0.05
            && (points[1][1] - 111.18).abs() < 0.05
            && (points[1][2] - 45.5).abs() < 1e-9,
        "{points:?}"
    );
    let route = gpx.replace("trkseg", "x").replace("trkpt", "rtept").replace("trk", "rte");
    assert_eq!(read("file = \"a.gpx\"", "a.gpx", &route).expect("good").path.waypoints_m.len(), 2);
    let line = r#"{ "type": "Feature", "properties": {}, "geometry": { "type": "LineString", "coordinates": [[9.0, 47.0], [9.001, 47.001]] } }"#;
    let points = read("file = \"a.geojson\"\nheight_m = 33", "a.geojson", line).expect("good").path.waypoints_m;
    assert_eq!(points[1][2], 33.0);
    let found = read("file = \"a.geojson\"", "a.geojson", line).expect_err("no heights");
    assert!(found.starts_with("a.geojson:1: found a point") || found.contains("a point without a height"), "{found}");
    let found = read(
        "file = \"a.gpx\"",
        "a.gpx",
        "<gpx><trk><trkseg>\n<trkpt lat=\"47\" lon=\"9\"><ele>high</ele></trkpt></trkseg></trk></gpx>",
    )
    .expect_err("bad");
    assert!(found.starts_with("a.gpx:2: the height \"high\""), "{found}");
    let found = read("file = \"a.kmz\"", "a.kmz", "").expect_err("unknown");
    assert!(found.contains("a name ending in .gpx"), "{found}");
}

#[test]
fn the_ground_comes_from_geojson() {
    let map = r#"{ "type": "FeatureCollection", "features": [
        { "type": "Feature", "properties": { "kind": "water", "name": "pond", "colour": "blue" },
          "geometry": { "type": "Polygon", "coordinates": [[[9.001, 47.0], [9.002, 47.0], [9.002, 47.001], [9.001, 47.001], [9.001, 47.0]]] } },
        { "type": "Feature", "properties": { "kind": "road", "width_m": 6, "people": 2 }, "geometry": { "type": "LineString", "coordinates": [[8.998, 47.0], [8.998, 47.002]] } },
        { "type": "Feature", "properties": { "role": "obstacle", "kind": "wire", "radius_m": 0.2, "height_m": 30 }, "geometry": { "type": "Point", "coordinates": [9.0005, 47.0005] } },
        { "type": "Feature", "properties": { "role": "fence" }, "geometry": { "type": "Polygon", "coordinates": [[[8.99, 46.99], [9.01, 46.99], [9.01, 47.01], [8.99, 47.01], [8.99, 46.99]]] } },
        { "type": "Feature", "properties": { "role": "home" }, "geometry": { "type": "Point", "coordinates": [9.0, 47.0001] } }
    ] }"#;
    let text = flat("ground_file = \"m.geojson\"", "waypoints_m = [[0, 40, 20]]");
    let scenario =
        scenario::read("g.toml", &text, &memory(&[("m.geojson", map)])).map_err(|e| words(&e)).expect("good");
    let site = &scenario.site;
    assert_eq!((site.zones.len(), site.obstacles.len(), site.fence.is_some()), (2, 1, true));
    assert!((site.home_m[1] - 11.118).abs() < 0.01, "{:?}", site.home_m);
    let grid = site.grid();
    assert_eq!(grid.kind(114.0, 55.0), lostlink::site::ZoneKind::Water);
    assert_eq!(grid.kind(-152.1, 100.0), lostlink::site::ZoneKind::Road);
    assert!(grid.struck([38.03, 55.59, 25.0]));
}

/// The valley's ridge takes the link from the clearing behind it; without ridge and wood it does not.
#[test]
fn the_ridge_throws_a_radio_shadow_and_its_absence_none() {
    use lostlink::radio::free_space::WavePolarisation;
    use lostlink::world::radio::{FieldOptions, LinkField};
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let text = std::fs::read_to_string(folder.join("ridge-valley.toml")).expect("readable");
    let scenario = scenario::read("ridge-valley.toml", &text, &Folder(folder)).map_err(|e| words(&e)).expect("good");
    let losses = |scenario: &scenario::Scenario, places: &[[f64; 3]]| -> Vec<f64> {
        let grid = std::sync::Arc::new(scenario.site.grid());
        let home_z_m = grid.ground_m(scenario.site.home_m[0], scenario.site.home_m[1]);
        let [x, y] = scenario.pilot.place_m;
        let antenna_m = [x, y, grid.ground_m(x, y) + scenario.pilot.antenna_height_m];
        let options =
            FieldOptions { top_m: 150.0, polarisation: WavePolarisation::Vertical, in_leaf: true, spacing_m: None };
        let field = LinkField::new(&grid, antenna_m, scenario.radio.control.frequency_hz, &options).expect("in range");
        places.iter().map(|place| field.excess([place[0], place[1], home_z_m + place[2]]).total_db()).collect()
    };
    // Over the meadow, above the crest, and filming at the clearing.
    let places = [[100.0, 0.0, 60.0], [340.0, 5.0, 110.0], [650.0, 20.0, 45.0]];
    let with = losses(&scenario, &places);
    let without = losses(&scenario.conditions[0].scenario, &places);
    assert_eq!(scenario.conditions[0].name, "ridge removed");
    println!("excess loss with the ridge {with:.1?} dB, without {without:.1?} dB");
    assert!(with[0] < 3.0 && with[2] > 25.0, "{with:?}");
    assert!(without.iter().all(|loss| *loss < 6.0), "{without:?}");
}
