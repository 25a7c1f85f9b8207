//! What map programs read: GeoJSON and KML, read back by other readers than what wrote them, and CSV.

use crate::common;
use crate::typed::output;
use geojson::GeometryValue as G;
use lostlink::Scenario;
use lostlink::plan::{SiteMap, SiteOnEarth, site_map};
use lostlink::report::earth::{self, Features};
use lostlink::report::{geojson as writer, kml};
use lostlink::risk::summary::Summary;
use lostlink::sky::{Geodetic, LocalFrame};
use lostlink::world::World;
use quick_xml::events::Event;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

type Place = [f64; 2];

fn in_geojson(features: &Features) -> geojson::FeatureCollection {
    let mut bytes = Vec::new();
    writer::write(features, &mut bytes).expect("writing into memory");
    String::from_utf8(bytes).expect("UTF-8").parse().expect("GeoJSON")
}

fn in_kml(features: &Features) -> String {
    let mut bytes = Vec::new();
    kml::write(features, &mut bytes).expect("writing into memory");
    String::from_utf8(bytes).expect("UTF-8")
}

fn place(position: &geojson::Position) -> Place {
    assert_eq!(position.len(), 2, "a third number would be taken for a height above the ellipsoid");
    [position[0], position[1]]
}

fn places(line: &[geojson::Position]) -> Vec<Place> {
    line.iter().map(place).collect()
}

/// Lists of places of a geometry, in order; a point is a list of one.
fn lists(geometry: &G) -> Vec<Vec<Place>> {
    match geometry {
        G::Point { coordinates } => vec![vec![place(coordinates)]],
        G::MultiPoint { coordinates } => coordinates.iter().map(|one| vec![place(one)]).collect(),
        G::LineString { coordinates } => vec![places(coordinates)],
        G::MultiLineString { coordinates } => coordinates.iter().map(|line| places(line)).collect(),
        G::Polygon { coordinates } => coordinates.iter().map(|ring| places(ring)).collect(),
        G::MultiPolygon { coordinates } => coordinates.iter().flatten().map(|ring| places(ring)).collect(),
        G::GeometryCollection { .. } => panic!("no collection is written"),
    }
}

/// One placemark of a KML file.
#[derive(Debug, Default)]
struct Mark {
    folder: String,
    name: String,
    data: BTreeMap<String, String>,
    lists: Vec<Vec<Vec<f64>>>,
    modes: Vec<String>,
    shapes: Vec<String>,
}

/// Placemarks of a KML file, by a reader of events.
fn marks(text: &str) -> Vec<Mark> {
    let mut reader = quick_xml::Reader::from_str(text);
    let (mut open, mut found, mut folder) = (Vec::<String>::new(), Vec::new(), String::new());
    let (mut mark, mut key, mut said) = (Mark::default(), String::new(), String::new());
    loop {
        match reader.read_event().expect("well-formed") {
            Event::Start(tag) => {
                let name = tag.name().as_ref().to_string();
                if name == "Placemark" {
                    mark = Mark { folder: folder.clone(), ..Mark::default() };
                }
                if ["Point", "LineString", "Polygon", "MultiGeometry"].contains(&name.as_str()) {
                    mark.shapes.push(name.clone());
                }
                if name == "Data" {
                    key = tag.try_get_attribute("name").expect("read").expect("a name").value.into_owned();
                }
                open.push(name);
                said.clear();
            }
            Event::Text(text) => said.push_str(&text.xml10_content()),
            Event::GeneralRef(entity) => said.push_str(match entity.as_ref() {
                "amp" => "&",
                "lt" => "<",
                "gt" => ">",
                "quot" => "\"",
                "apos" => "'",
                other => panic!("&{other};"),
            }),
            Event::End(_) => {
                let name = open.pop().expect("opened");
                let inside = open.last().map_or("", String::as_str);
                match (inside, name.as_str()) {
                    ("Folder", "name") => folder.clone_from(&said),
                    ("Placemark", "name") => mark.name.clone_from(&said),
                    ("Data", "value") => drop(mark.data.insert(key.clone(), said.clone())),
                    (_, "altitudeMode") => mark.modes.push(said.clone()),
                    (_, "coordinates") => {
                        let tuple =
                            |tuple: &str| tuple.split(',').map(|part| part.parse().expect("a number")).collect();
                        mark.lists.push(said.split_whitespace().map(tuple).collect());
                    }
                    ("Folder", "Placemark") => found.push(std::mem::take(&mut mark)),
                    _ => {}
                }
                said.clear();
            }
            Event::Eof => break,
            _ => {}
        }
    }
    assert!(open.is_empty());
    found
}

fn area(ring: &[Place]) -> f64 {
    ring.windows(2).map(|leg| 0.5 * (leg[0][0] * leg[1][1] - leg[1][0] * leg[0][1])).sum()
}

/// RFC 7946, 3.1.6: four positions or more, closed, the outer ring anticlockwise and the others clockwise.
fn check_rings(what: &str, rings: &[Vec<geojson::Position>]) {
    for (index, ring) in rings.iter().enumerate() {
        let ring = places(ring);
        assert!(ring.len() >= 4 && ring.first() == ring.last(), "{what}: {ring:?}");
        assert_eq!(area(&ring) > 0.0, index == 0, "{what}: ring {index} runs the wrong way");
    }
}

fn check_geojson(what: &str, features: &Features) {
    let collection = in_geojson(features);
    assert_eq!(collection.features.len(), features.list.len(), "{what}");
    for feature in &collection.features {
        let geometry = &feature.geometry.as_ref().expect("a geometry").value;
        match geometry {
            G::Polygon { coordinates } => check_rings(what, coordinates),
            G::MultiPolygon { coordinates } => coordinates.iter().for_each(|rings| check_rings(what, rings)),
            _ => {}
        }
        let named = feature.property("name").and_then(Value::as_str).is_some_and(|name| !name.is_empty());
        assert!(named && feature.property("what").is_some(), "{what}: {feature:?}");
        for (key, value) in feature.properties.as_ref().expect("properties") {
            const BARE: [&str; 12] = [
                "people",
                "present_share",
                "share",
                "ends",
                "flight",
                "satellites",
                "hdop",
                "loss_chance",
                "flights",
                "kind",
                "policy",
                "what",
            ];
            let unit = ["_m", "_s", "_mps", "_db", "_pct"].iter().any(|unit| key.ends_with(unit));
            assert!(!value.is_number() || unit || BARE.contains(&key.as_str()), "{what}: {key} has no unit");
        }
    }
}

/// A summary with zones of every shape, somewhere on Earth.
fn with_site(mut summary: Summary, map: &SiteMap) -> Summary {
    summary.map.earth.clone_from(&map.earth);
    summary
}

const SITE: &str = r#"
title = "Café <corner> & \"field\""
invented = true
flights = 1
[craft]
mass_kg = 1.0
[site]
lat_deg = 47.5
lon_deg = 8.5
height_amsl_m = 1800
[site.fence]
polygon_m = [[-150, -150], [-150, 250], [250, 250], [250, -150]]
[[site.zone]]
name = "lane <1> & co"
kind = "road"
line_m = [[-150, -40], [0, -60], [200, -50]]
width_m = 5
[[site.zone]]
kind = "people"
circle_m = [60, 40, 15]
people = 4
[[site.obstacle]]
name = "barn"
kind = "building"
polygon_m = [[90, 90], [90, 100], [120, 100], [120, 90]]
height_m = 8
[path]
waypoints_m = [[0, 20, 30], [80, 60, 35], [-60, 60, 30.5]]
[pilot]
place_m = [-5, -5]
[[policy]]
name = "home"
[[policy.action]]
return = { height = { up_m = 30 } }
"#;

fn map_of(text: &str) -> (SiteMap, f64) {
    let scenario = Scenario::from_toml(text).unwrap_or_else(|why| panic!("{why}\n{text}"));
    let world = World::for_planning(scenario).expect("a world");
    (site_map(&world), world.home_m[2])
}

fn all_features() -> Vec<(&'static str, Features)> {
    let (map, home_z_m) = map_of(SITE);
    let mut found = Vec::new();
    for (name, summary) in [
        ("plain", common::summary()),
        ("full", common::full()),
        ("many", common::many()),
        ("never", common::never_lost()),
    ] {
        let summary = with_site(summary, &map);
        found.push((name, earth::of_summary(&summary).expect("somewhere")));
        let ends = earth::ends(&summary).expect("somewhere");
        let all: usize = summary.policies.iter().map(|policy| policy.ends.len()).sum();
        assert_eq!(ends.list.len(), all, "{name}");
        found.push(("together", earth::ends_together(&ends)));
        found.push((name, ends));
    }
    // Nothing is heard right overhead: a hole in the surface where the link holds.
    let mut reach = common::reach();
    let level = &mut reach.maps[0];
    for (index, margin_db) in level.margin_db.iter_mut().enumerate() {
        let x = level.west_m + level.spacing_m[0] * (index % level.columns) as f64;
        let y = level.south_m + level.spacing_m[1] * (index / level.columns) as f64;
        if (x + 8.0).hypot(y + 12.0) < 60.0 {
            *margin_db = -5.0;
        }
    }
    found.push(("reach", earth::of_reach(&reach, &map, home_z_m, true).expect("somewhere")));
    found
}

/// Longitude first, rings as the standard wants them, properties with units; and the KML says the same places under the same names.
#[test]
fn both_forms_say_the_same_places() {
    let mut holes = 0;
    for (what, features) in all_features() {
        check_geojson(what, &features);
        let kml = in_kml(&features);
        assert!(!kml.contains("Style") && !kml.contains("color"), "{what}: no style");
        let marks = marks(&kml);
        assert_eq!(marks.len(), features.list.len(), "{what}");
        // Folders gather what belongs together: the features come in another order.
        let mut by_name: BTreeMap<(String, String), Vec<&Mark>> = BTreeMap::new();
        for mark in &marks {
            by_name.entry((mark.folder.clone(), mark.name.clone())).or_default().push(mark);
        }
        for (own, feature) in features.list.iter().zip(&in_geojson(&features).features) {
            let name = feature.property("name").and_then(Value::as_str).expect("a name");
            let same = by_name.get_mut(&(own.group.clone(), name.to_string())).expect("the same name");
            let mark = same.remove(0);
            let geometry = &feature.geometry.as_ref().expect("a geometry").value;
            let flat: Vec<Vec<Place>> =
                mark.lists.iter().map(|list| list.iter().map(|tuple| [tuple[0], tuple[1]]).collect()).collect();
            assert_eq!(flat, lists(geometry), "{what}: {name}");
            holes += match geometry {
                G::Polygon { coordinates } => coordinates.len() - 1,
                G::MultiPolygon { coordinates } => coordinates.iter().map(|rings| rings.len() - 1).sum(),
                _ => 0,
            };
            for (key, value) in
                feature.properties.as_ref().expect("properties").iter().filter(|(key, _)| *key != "name")
            {
                let said = mark.data.get(key);
                match value {
                    Value::Null => assert_eq!(said, None),
                    Value::String(text) => assert_eq!(said, Some(text), "{what}: {key}"),
                    Value::Array(list) => {
                        let list: Vec<String> = list.iter().map(Value::to_string).collect();
                        assert_eq!(said, Some(&list.join(" ")), "{what}: {key}");
                    }
                    other => assert_eq!(said, Some(&other.to_string()), "{what}: {key}"),
                }
            }
        }
    }
    assert!(holes > 0, "some surface has a hole");
}

/// The path above the take-off spot and above the sea; in KML absolute where the height of the site is known, else above the ground.
#[test]
fn heights_say_from_what() {
    let path = |text: &str| {
        let (map, _) = map_of(text);
        let features = earth::of_summary(&with_site(common::bare(), &map)).expect("somewhere");
        let marks = marks(&in_kml(&features));
        (in_geojson(&features), marks)
    };
    let numbers = |value: &Value| -> Vec<f64> {
        value.as_array().expect("a list").iter().map(|one| one.as_f64().expect("a number")).collect()
    };
    for stated in [true, false] {
        let text = if stated { SITE.to_string() } else { SITE.replace("height_amsl_m = 1800", "") };
        let (geojson, marks) = path(&text);
        let of = |what: &str| {
            geojson
                .features
                .iter()
                .find(|feature| feature.property("what").is_some_and(|word| word == what))
                .expect("there")
        };
        let up = numbers(of("path").property("heights_above_home_m").expect("heights"));
        let amsl = of("path").property("heights_amsl_m").map(numbers);
        let mark = marks.iter().find(|mark| mark.data["what"] == "path").expect("a path");
        let flown: Vec<f64> = mark.lists[0].iter().map(|tuple| tuple[2]).collect();
        let note = geojson.foreign_members.as_ref().expect("members")["heights"].as_str().expect("a text").to_string();
        if stated {
            let over: Vec<f64> = up.iter().map(|up| 1800.0 + up).collect();
            assert_eq!((amsl.as_deref(), flown.as_slice()), (Some(over.as_slice()), over.as_slice()));
            assert_eq!(mark.modes, ["absolute"]);
            assert_eq!(of("home").property("height_amsl_m"), Some(&Value::from(1800.0)));
            assert!(note.contains("the take-off spot being at 1,800.0 m"), "{note}");
        } else {
            assert_eq!((amsl, flown), (None, up));
            assert_eq!(mark.modes, ["relativeToGround"]);
            assert!(note.contains("is not stated (site.height_amsl_m)"), "{note}");
        }
        // What stands on the ground is left there.
        let ground =
            marks.iter().filter(|mark| !["path", "along_path", "no_return"].contains(&mark.data["what"].as_str()));
        assert!(ground.clone().count() >= 6);
        assert!(ground.into_iter().all(|mark| mark.modes.is_empty() && mark.lists[0][0].len() == 2));
    }
}

/// Every number of a scenario's places turned or moved.
fn moved(text: &str, change: &dyn Fn(Place) -> Place) -> String {
    let mut document: toml::Table = text.parse().expect("TOML");
    fn walk(value: &mut toml::Value, key: &str, change: &dyn Fn(Place) -> Place) {
        let number = |value: &toml::Value| value.as_float().or(value.as_integer().map(|whole| whole as f64));
        match value {
            toml::Value::Table(table) => table.iter_mut().for_each(|(key, value)| walk(value, key, change)),
            toml::Value::Array(list) => {
                let at: Option<Vec<f64>> = list.iter().map(number).collect();
                match at.as_deref() {
                    Some([x, y, ..]) if key.ends_with("_m") => {
                        let [x, y] = change([*x, *y]);
                        (list[0], list[1]) = (x.into(), y.into());
                    }
                    _ => list.iter_mut().for_each(|item| walk(item, key, change)),
                }
            }
            _ => {}
        }
    }
    document.iter_mut().for_each(|(key, value)| walk(value, key, change));
    toml::to_string(&document).expect("TOML")
}

/// The same site said from another origin lies at the same degrees; turned by a right angle around the origin it lies turned.
#[test]
fn a_site_moved_or_turned_moves_its_coordinates() {
    let text = SITE.replace("[pilot]", "[pilot]\nfacing_deg = 0").replace("[site]", "[site]\nhome_m = [0, 0]");
    let found = |text: &str| -> Vec<(String, Vec<Vec<Place>>)> {
        let (map, _) = map_of(text);
        let mut summary = with_site(common::bare(), &map);
        (summary.map.home_m, summary.map.pilot_m, summary.map.path_m) = (map.home_m, map.pilot_m, map.path_m);
        let features = in_geojson(&earth::of_summary(&summary).expect("somewhere"));
        let one = |feature: geojson::Feature| {
            let name = feature.property("name").expect("a name").to_string();
            (name, lists(&feature.geometry.expect("a geometry").value))
        };
        features.features.into_iter().map(one).collect()
    };
    let frame = LocalFrame::new(Geodetic::from_deg(47.5, 8.5, 1800.0));
    let here = found(&text);
    assert!(here.len() >= 7, "{here:?}");

    // The origin 120 m east and 80 m south of where it was.
    let [lat, lon] = frame.degrees_from_local([120.0, -80.0]);
    let elsewhere = moved(&text, &|[x, y]| [x - 120.0, y + 80.0])
        .replace("lat_deg = 47.5", &format!("lat_deg = {lat}"))
        .replace("lon_deg = 8.5", &format!("lon_deg = {lon}"));
    // The same features of the same shapes; what remains of each is whether its places lie where they must.
    let pairs = |there: Vec<(String, Vec<Vec<Place>>)>| -> Vec<(String, Place, Place)> {
        assert_eq!(there.len(), here.len());
        let mut pairs = Vec::new();
        for ((name, here), (other, there)) in here.iter().zip(there) {
            assert_eq!(*name, other);
            let counts = |lists: &[Vec<Place>]| lists.iter().map(Vec::len).collect::<Vec<_>>();
            assert_eq!(counts(here), counts(&there), "{name}");
            let places = here.iter().flatten().zip(there.into_iter().flatten());
            pairs.extend(places.map(|(a, b)| (name.clone(), *a, b)));
        }
        pairs
    };
    let all: usize = here.iter().flat_map(|(_, lists)| lists).map(Vec::len).sum();
    let shifted = pairs(found(&elsewhere));
    assert!(shifted.len() == all && all > 40, "{all} places");
    for (name, a, b) in shifted {
        // Written to 1e-7 degrees, here and there: half of that off each, and as much for the move, which is no shift in degrees.
        let off_deg = (a[0] - b[0]).abs().max((a[1] - b[1]).abs());
        assert!(off_deg < 2.1e-7, "{name}: {a:?} {b:?}");
    }

    // A quarter turn to the left. Round things start at another corner: only drawn corners are compared.
    let turned = pairs(found(&moved(&text, &|[x, y]| [-y, x])));
    let corners: Vec<_> = turned.into_iter().filter(|(name, ..)| !name.contains("zone 2")).collect();
    assert!(corners.len() > 15 && corners.len() < all, "{} of {all} places", corners.len());
    for (name, a, b) in corners {
        let ([x, y], [u, v]) = (frame.local_from_degrees(a[1], a[0]), frame.local_from_degrees(b[1], b[0]));
        // 1e-7 degrees are 11 mm.
        assert!((u + y).abs() < 0.02 && (v - x).abs() < 0.02, "{name}: {x} {y} became {u} {v}");
    }
}

/// A path from a file comes out where it went in, on a mountain too: degrees are turned into metres and back at the height of the site.
#[test]
fn a_path_comes_out_where_it_went_in() {
    let line = r#"{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":
        [[8.5,47.5,1840],[8.53,47.51,1880],[8.51,47.53,1860]]}}"#;
    let text = SITE.replace("waypoints_m = [[0, 20, 30], [80, 60, 35], [-60, 60, 30.5]]", "file = \"way.geojson\"");
    let files = lostlink::scenario::MemoryFiles([("way.geojson".to_string(), line.as_bytes().to_vec())].into());
    let scenario = lostlink::scenario::read("s.toml", &text, &files).expect("good");
    let map = site_map(&World::for_planning(scenario).expect("a world"));
    let mut summary = with_site(common::bare(), &map);
    summary.map.path_m = map.path_m;
    let found = in_geojson(&earth::of_summary(&summary).expect("somewhere"));
    let path = found.features.iter().find(|feature| feature.property("what").is_some_and(|what| what == "path"));
    let path = lists(&path.expect("a path").geometry.as_ref().expect("a geometry").value).remove(0);
    for corner in [[8.5, 47.5], [8.53, 47.51], [8.51, 47.53]] {
        let near = path.iter().any(|at| (at[0] - corner[0]).abs() < 1.5e-7 && (at[1] - corner[1]).abs() < 1.5e-7);
        assert!(near, "{corner:?} is not in {path:?}");
    }
}

/// The path of `map.kml` is a path for a scenario: the same corners at the same heights.
#[test]
fn the_path_of_a_map_is_a_path_again() {
    let (map, _) = map_of(SITE);
    let mut summary = with_site(common::bare(), &map);
    summary.map.path_m.clone_from(&map.path_m);
    let kml = in_kml(&earth::of_summary(&summary).expect("somewhere"));
    let text = SITE.replace("waypoints_m = [[0, 20, 30], [80, 60, 35], [-60, 60, 30.5]]", "file = \"map.kml\"");
    let files = lostlink::scenario::MemoryFiles([("map.kml".to_string(), kml.into_bytes())].into());
    let again = lostlink::scenario::read("s.toml", &text, &files).expect("good").path.waypoints_m;
    assert_eq!(again.len(), map.path_m.len());
    for (a, b) in again.iter().zip(&map.path_m) {
        assert!((0..3).all(|axis| (a[axis] - b[axis]).abs() < 0.02), "{a:?} {b:?}");
    }
}

fn json(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap_or_else(|why| panic!("{}: {why}", path.display())))
        .expect("JSON")
}

fn features_of(path: &Path, what: &str) -> Vec<Value> {
    let all = json(path)["features"].as_array().expect("features").clone();
    all.into_iter().filter(|feature| feature["properties"]["what"] == what).collect()
}

/// Numbers in the files for map programs are those of the report, whose page is printed again byte for byte.
#[test]
fn numbers_are_those_of_the_report() {
    let home = tempfile::tempdir().expect("a folder");
    // Short, and cut at once: 240 ends for contours.
    let text = SITE.replace("flights = 1", "flights = 240")
        + "[loss.cut]\ntime_s = 6\n[[policy]]\nname = \"drop\"\n[[policy.action]]\ndrop = {}\n";
    std::fs::write(home.path().join("field.toml"), text).expect("written");
    output(home.path(), &["assess", "field.toml", "--quick", "--out", "out"]);
    let out = home.path().join("out");
    let summary = json(&out.join("summary.json"));

    let rows: Vec<BTreeMap<String, String>> = csv::Reader::from_path(out.join("flights.csv"))
        .expect("a table")
        .deserialize()
        .map(|row| row.expect("a row"))
        .collect();
    let ends = features_of(&out.join("ends.geojson"), "end");
    assert_eq!((ends.len(), rows.len()), (480, 480));
    for end in &ends {
        let about = &end["properties"];
        let same = |row: &&BTreeMap<String, String>| {
            row["flight"].parse().ok() == about["flight"].as_u64() && about["policy"] == *row["policy"]
        };
        let row = rows.iter().find(same).expect("its row");
        assert!(about["headline"] == *row["headline"] && about["tier"] == *row["tier"]);
        let off = |axis: usize, column: &str| {
            let number: f64 = row[column].parse().expect("degrees");
            (number - end["geometry"]["coordinates"][axis].as_f64().expect("a number")).abs()
        };
        assert!(off(0, "end_lon_deg") < 1.1e-7 && off(1, "end_lat_deg") < 1.1e-7);
    }
    let frame = LocalFrame::new(Geodetic::from_deg(47.5, 8.5, 1800.0));
    for row in &rows {
        let number = |column: &str| row[column].parse::<f64>().expect("a number");
        let [x, y] = frame.local_from_degrees(number("loss_lat_deg"), number("loss_lon_deg"));
        assert!((x - number("loss_x_m")).abs() < 0.02 && (y - number("loss_y_m")).abs() < 0.02);
    }

    let map = out.join("map.geojson");
    let policies = summary["policies"].as_array().expect("policies");
    let contours = features_of(&map, "contour");
    let there: usize = policies.iter().map(|policy| policy["contours"].as_array().map_or(0, Vec::len)).sum();
    assert!(contours.len() == there && there >= 2, "{there}");
    for contour in &contours {
        let about = &contour["properties"];
        let policy = policies.iter().find(|policy| policy["name"] == about["policy"]).expect("its policy");
        assert_eq!(policy["lost"], about["ends"]);
    }
    let along = features_of(&map, "along_path");
    let stated = summary["along"].as_array().expect("places");
    assert_eq!(along.len(), stated.len());
    for (feature, stated) in along.iter().zip(stated) {
        for key in ["distance_m", "time_s", "margin_db", "charge_pct", "charge_home_pct", "hdop"] {
            let (a, b) = (feature["properties"][key].as_f64(), stated[key].as_f64());
            assert!((a.expect(key) - b.expect(key)).abs() <= 0.005_001, "{key}: {a:?} {b:?}");
        }
    }
    let zone = &features_of(&map, "zone")[0];
    assert_eq!((&zone["geometry"]["type"], &zone["properties"]["width_m"]), (&"LineString".into(), &5.0.into()));
    let together = marks(&std::fs::read_to_string(out.join("map.kml")).expect("there"));
    let flights: usize = together
        .iter()
        .filter(|mark| mark.data["what"] == "ends")
        .map(|mark| {
            assert_eq!(mark.data["flights"].split(' ').count(), mark.lists.len());
            mark.lists.len()
        })
        .sum();
    assert_eq!(flights, 480);

    let page = output(home.path(), &["page", "out/summary.json"]);
    assert!(page == std::fs::read_to_string(out.join("report.html")).expect("there"), "the page printed again differs");
}

/// Where the link holds is a surface as large as the share of the map that the report states.
#[test]
fn where_the_link_holds_is_a_surface() {
    let home = tempfile::tempdir().expect("a folder");
    let weak = SITE.replace("[pilot]", "[radio.control]\npower_dbm = -22\n[pilot]");
    std::fs::write(home.path().join("field.toml"), weak).expect("written");
    let said = output(home.path(), &["reach", "field.toml", "--height", "20,60", "--cells", "80", "--out", "out"]);
    assert!(said.contains("map.geojson and map.kml"), "{said}");
    let out = home.path().join("out");
    let reach = json(&out.join("reach.json"));
    let holds = features_of(&out.join("map.geojson"), "link_holds");
    let maps = reach["maps"].as_array().expect("maps");
    assert_eq!((holds.len(), maps.len()), (2, 2));
    let frame = LocalFrame::new(Geodetic::from_deg(47.5, 8.5, 1800.0));
    for (feature, map) in holds.iter().zip(maps) {
        let about = &feature["properties"];
        assert_eq!(about["height_above_ground_m"], map["height"]["above_ground_m"]);
        assert_eq!(about["margin_db"], reach["needed_margin_db"]);
        let share = map["share_with_margin"].as_f64().expect("a share");
        assert!((about["share"].as_f64().expect("a share") - share).abs() < 1e-6);
        assert!(share > 0.05 && share < 0.95, "{share}: neither everywhere nor nowhere");
        let feature: geojson::Feature = feature.to_string().parse().expect("a feature");
        let area_m2: f64 = lists(&feature.geometry.expect("a geometry").value)
            .iter()
            .map(|ring| area(&ring.iter().map(|[lon, lat]| frame.local_from_degrees(*lat, *lon)).collect::<Vec<_>>()))
            .sum();
        let side = |axis: usize, count: &str| {
            map["spacing_m"][axis].as_f64().expect("a spacing") * (map[count].as_f64().expect("a count") - 1.0)
        };
        let part = area_m2 / (side(0, "columns") * side(1, "rows"));
        // Points on the rim stand for half a cell beyond it: one of 80 on each axis.
        assert!((part - share).abs() < 1.0 / 80.0, "{part} of the site, {share} of the points");
    }
    assert!(!features_of(&out.join("map.geojson"), "margin").is_empty());
}

/// Without longitude and latitude there are no such files; what is missing and how to add it is said once.
#[test]
fn what_is_missing_is_said_once() {
    let home = tempfile::tempdir().expect("a folder");
    let text = SITE.replace("lat_deg = 47.5", "").replace("lon_deg = 8.5", "") + "[loss.cut]\ntime_s = 6\n";
    std::fs::write(home.path().join("field.toml"), text).expect("written");
    const REMEDY: &str = "site.lat_deg and site.lon_deg";
    output(home.path(), &["assess", "field.toml", "--quick", "--flights", "4", "--out", "out"]);
    let page = std::fs::read_to_string(home.path().join("out/report.html")).expect("there");
    assert_eq!(page.matches(REMEDY).count(), 1);
    let said = output(home.path(), &["reach", "field.toml", "--cells", "20", "--out", "reach"]);
    assert_eq!(said.replace('\n', " ").matches(REMEDY).count(), 1, "{said}");
    for folder in ["out", "reach"] {
        for file in ["map.geojson", "map.kml", "ends.geojson"] {
            assert!(!home.path().join(folder).join(file).exists(), "{folder}/{file}");
        }
    }
    let header = std::fs::read_to_string(home.path().join("out/flights.csv")).expect("there");
    let header: Vec<&str> = header.lines().next().expect("a header").split(',').collect();
    assert!(header.contains(&"end_x_m"), "{header:?}");
    assert!(lostlink::report::csv::EARTH_COLUMNS.iter().all(|(column, _)| !header.contains(column)), "{header:?}");
}

/// Every column of every table that is a quantity has its unit.
#[test]
fn columns_have_their_units() {
    let home = tempfile::tempdir().expect("a folder");
    std::fs::write(home.path().join("field.toml"), format!("{SITE}[loss.cut]\ntime_s = 6\n")).expect("written");
    for command in [
        vec!["assess", "field.toml", "--quick", "--flights", "4", "--out", "assess"],
        vec!["reach", "field.toml", "--cells", "20", "--out", "reach"],
        vec!["sky", "field.toml", "--out", "sky"],
        vec!["replay", "field.toml", "1", "--out", "replay"],
    ] {
        output(home.path(), &command);
    }
    // Words, counts, shares, ratios and flags.
    const BARE: [&str; 32] = [
        "flight",
        "policy",
        "headline",
        "tier",
        "manner",
        "ground",
        "zone",
        "loss_cause",
        "people_per_km2",
        "declared_lost",
        "left_area",
        "above_ceiling",
        "over_people",
        "fix_lost",
        "fell_back",
        "taken_up_again",
        "pack_acted",
        "pilot_took_over",
        "wrong_switch",
        "fault",
        "to_the_edge",
        "loss_chance",
        "clearance_radii",
        "constellations",
        "satellites",
        "hdop",
        "vdop",
        "doing",
        "telemetry_up",
        "video_up",
        "utc",
        "inside",
    ];
    const UNITS: [&str; 10] = ["_m", "_s", "_mps", "_deg", "_db", "_dbm", "_pct", "_j", "_v", "_utc"];
    let mut seen = 0;
    for folder in ["assess", "reach", "sky", "replay"] {
        for entry in std::fs::read_dir(home.path().join(folder)).expect("a folder") {
            let path = entry.expect("an entry").path();
            // The columns of the inputs are keys of the scenario.
            if path.extension().is_none_or(|ending| ending != "csv") || path.ends_with("inputs.csv") {
                continue;
            }
            for column in csv::Reader::from_path(&path).expect("a table").headers().expect("a header") {
                let known = BARE.contains(&column);
                assert!(known || UNITS.iter().any(|unit| column.ends_with(unit)), "{}: {column}", path.display());
                seen += 1;
            }
        }
    }
    assert!(seen > 80, "{seen} columns");
}

/// A site that nobody tied to the Earth has none of it.
#[test]
fn nowhere_is_nowhere() {
    let mut summary = common::full();
    summary.map.earth = None::<SiteOnEarth>;
    assert!(earth::of_summary(&summary).is_none() && earth::ends(&summary).is_none());
}
