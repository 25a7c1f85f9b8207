//! Maps, paths and winds from files: what is made of a raw map, feature by feature, and what is said of files that are wrong.

use lostlink::plan::survey;
use lostlink::scenario::{MapUse, MemoryFiles, Scenario, read};
use lostlink::site::{Area, ObstacleKind, ZoneKind};
use lostlink::{Uncertain, World};

const TEXT: &str = r#"title = "A place"
[site]
lat_deg = 47
lon_deg = 9
SITE
[craft]
mass_kg = 1.0
[weather]
WEATHER
[path]
PATH
[[policy]]
name = "land"
action = [{ land = {} }]
"#;

fn text(site: &str, weather: &str, path: &str) -> String {
    let path = if path.is_empty() { "waypoints_m = [[0, 30, 60], [200, 100, 60], [0, 20, 60]]" } else { path };
    TEXT.replace("SITE", site).replace("WEATHER", weather).replace("PATH", path)
}

fn files(files: &[(&str, &str)]) -> MemoryFiles {
    MemoryFiles(files.iter().map(|(name, text)| ((*name).into(), text.as_bytes().to_vec())).collect())
}

fn good(text: &str, named: &[(&str, &str)]) -> Scenario {
    read("p.toml", text, &files(named)).unwrap_or_else(|faults| panic!("{faults:#?}"))
}

/// The first thing that is wrong, in a line.
fn wrong(text: &str, named: &[(&str, &str)]) -> String {
    let faults = read("p.toml", text, &files(named)).expect_err("something is wrong");
    faults.first().expect("a finding").in_words()
}

fn printed(document: &lostlink::report::document::Document) -> String {
    lostlink::report::terminal::print(document, lostlink::report::terminal::Manner { colour: false, ascii: true })
}

const HAMLET: &str = include_str!("../data/map/hamlet.osm");

fn hamlet() -> Scenario {
    good(&text("ground_file = \"hamlet.osm\"", "", ""), &[("hamlet.osm", HAMLET)])
}

fn account(scenario: &Scenario) -> &MapUse {
    &scenario.site.map.as_ref().expect("a map").account
}

/// Elements of the export that carry a tag, by their labels.
fn tagged() -> Vec<String> {
    let mut found = Vec::new();
    let (mut label, mut has_tag) = (String::new(), false);
    for line in HAMLET.lines() {
        let line = line.trim();
        if let Some(kind) =
            ["node", "way", "relation"].into_iter().find(|kind| line.starts_with(&format!("<{kind} id=")))
        {
            label = format!("{kind}/{}", line.split('"').nth(1).expect("an id"));
            has_tag = false;
        } else if line.starts_with("<tag ") && !has_tag {
            has_tag = true;
            found.push(label.clone());
        }
    }
    found
}

#[test]
fn every_feature_of_a_raw_map_is_used_or_listed_with_its_reason() {
    let scenario = hamlet();
    let map = account(&scenario);
    let used: u32 = map.used.iter().map(|row| row.features).sum();
    let all = tagged();
    assert_eq!(used as usize + map.left_out.len(), all.len());
    assert!(
        map.left_out.iter().all(|one| all.contains(&one.feature) && !one.why.is_empty() && one.line > 3),
        "{:?}",
        map.left_out
    );
    let left_out: Vec<String> =
        map.left_out.iter().map(|one| format!("{} {}: {}", one.feature, one.tag, one.why)).collect();
    let expected = [
        "node/103 highway=street_lamp: a detail of a road, or a road not in use",
        "node/104 amenity=bench: a use of a place or a building that the table does not have",
        "node/107 amenity=school: a point: how far it reaches is not said",
        "way/208 highway=service: under the ground",
        "way/209 highway=construction: a detail of a road, or a road not in use",
        "way/211 landuse=meadow: open ground is clear unless something else is drawn on it",
        "way/218 power=cable: under the ground or water",
        "way/224 highway=path: some of its nodes are not in the export",
        "way/225 natural=water: an open line where an outline is needed",
        "way/226 barrier=fence: low: what is to be struck or landed on there has to be drawn",
        "way/227 boundary=administrative: a line in the books: nothing stands there",
        "way/228 addr:housenumber=7: no tag says what it is on the ground",
        "way/229 building=yes: deleted in the export",
        "way/230 building=yes: wholly outside of the site's extent",
        "relation/402 natural=water: some of its ways are not in the export",
        "relation/403 route=hiking: no tag says what it is on the ground",
    ];
    assert_eq!(left_out, expected);
}

#[test]
fn tags_become_what_the_table_says() {
    let scenario = hamlet();
    let site = &scenario.site;
    let obstacle = |name: &str| site.obstacles.iter().find(|one| one.name == name).unwrap_or_else(|| panic!("{name}"));
    let zone = |name: &str| site.zones.iter().find(|one| one.name == name).unwrap_or_else(|| panic!("{name}"));
    // By the rows of the table in docs/scenario.md. `building=*` is as high as it says, or by its storeys and one for the roof, or as
    // `building_height_m`: two storeys and a roof, metres, feet, nothing.
    let storey_m = Uncertain::Triangular(2.7, 3.0, 4.0).central();
    assert!((obstacle("house").height_m - 3.0 * storey_m).abs() < 1e-9);
    assert_eq!(obstacle("building").height_m, 12.5);
    assert!((obstacle("barn").height_m - 12.192).abs() < 1e-9);
    assert_eq!(obstacle("shed").height_m, Uncertain::Triangular(3.0, 8.0, 15.0).central());
    // `natural=tree`, here with a height and a crown of its own; `natural=wood` as `tree_height_m`; `power=line` with its wires from 8 m
    // up; `man_made=mast` with a height of its own.
    let tree = obstacle("tree");
    assert_eq!((tree.height_m, tree.kind), (18.0, ObstacleKind::Trees));
    assert!(matches!(tree.area, Area::Circle { radius_m, .. } if radius_m == 4.0), "{tree:?}");
    assert_eq!(obstacle("wood").height_m, 30.0);
    assert_eq!((obstacle("power line").base_m, obstacle("power line").kind), (8.0, ObstacleKind::Wire));
    assert_eq!(obstacle("mast").height_m, 42.0);
    // `highway=residential` and others, 5.5 m wide; a `highway=track` with a width of its own; `highway=footway` and others, with 5 heads
    // to a kilometre; `highway=pedestrian` that the map draws as an outline.
    assert!(matches!(zone("Upper Lane").area, Area::Strip { width_m, .. } if width_m == 5.5));
    assert!(matches!(zone("track").area, Area::Strip { width_m, .. } if width_m == 3.0));
    let path = zone("footway");
    let Area::Strip { line_m, .. } = &path.area else { panic!("{path:?}") };
    assert_eq!(path.kind, ZoneKind::People);
    assert!((path.people - 5e-3 * lostlink::site::shape::line_length_m(line_m)).abs() < 1e-12);
    assert!(matches!((&zone("Market square").area, zone("Market square").kind), (Area::Polygon(_), ZoneKind::People)));
    // `landuse=forest` around a clearing: trees over rough ground on the ring, none in the hole, whose ground is clear.
    let grid = site.grid();
    assert!(grid.canopy_m(80.0, 200.0) > 20.0 && grid.kind(80.0, 200.0) == ZoneKind::Rough);
    assert!(grid.canopy_m(130.0, 195.0) < 1.0 && grid.kind(130.0, 195.0) == ZoneKind::Clear);
    // A road (`highway=*`) lies on top of the houses' ground (`landuse=residential`), the ground of a house (`building=*`) on the road.
    assert_eq!((grid.kind(200.0, -61.0), grid.kind(110.0, -75.0)), (ZoneKind::Road, ZoneKind::Property));
    // The map does not stretch the extent: a house 5 km away leaves it where the path is.
    assert!(site.extent_m[2] < 600.0, "{:?}", site.extent_m);
}

/// Heights that the map leaves open are drawn: a family of worlds has others.
#[test]
fn open_heights_are_drawn() {
    let scenario = hamlet();
    let heights = |scenario: &Scenario, name: &str| -> f64 {
        scenario.site.obstacles.iter().find(|one| one.name == name).expect("there").height_m
    };
    let members: Vec<Scenario> = (0..4).map(|index| scenario.member(index, 4).expect("uncertain")).collect();
    for name in ["wood", "house", "shed", "power line", "power minor line"] {
        let mut drawn: Vec<f64> = members.iter().map(|member| heights(member, name)).collect();
        drawn.sort_by(f64::total_cmp);
        assert!(
            drawn[0] < drawn[3] - 0.5 && drawn[0] < heights(&scenario, name) && drawn[3] > heights(&scenario, name),
            "{name}: {drawn:?}"
        );
    }
    assert!(members.iter().all(|member| heights(member, "building") == 12.5));
    let stated = text("ground_file = \"hamlet.osm\"\nmap = { tree_height_m = 12 }", "", "");
    let stated = good(&stated, &[("hamlet.osm", HAMLET)]);
    assert_eq!(heights(&stated, "wood"), 12.0);
    let assumed: Vec<String> = stated.assumed().into_iter().map(|row| row.key).collect();
    assert!(
        assumed.contains(&"site.map.storey_m".into()) && !assumed.contains(&"site.map.tree_height_m".into()),
        "{assumed:?}"
    );
}

/// The same tags in GeoJSON are the same features; a feature with a role is what its role says.
#[test]
fn tags_in_geojson_are_tags() {
    let map = r#"{ "type": "FeatureCollection", "features": [
{ "type": "Feature", "properties": { "building": "yes", "height": "7 m" }, "geometry": { "type": "Polygon", "coordinates": [[[9.001, 47.001], [9.0012, 47.001], [9.0012, 47.0012], [9.001, 47.001]]] } },
{ "type": "Feature", "properties": { "tags": { "highway": "footway" } }, "geometry": { "type": "LineString", "coordinates": [[9.0, 47.0005], [9.002, 47.0005]] } },
{ "type": "Feature", "properties": { "note": "nothing" }, "geometry": { "type": "Point", "coordinates": [9.0, 47.0005] } },
{ "type": "Feature", "properties": { "role": "home" }, "geometry": { "type": "Point", "coordinates": [9.0001, 47.0] } }
] }"#;
    let scenario = good(&text("ground_file = \"m.json\"", "", ""), &[("m.json", map)]);
    let map = account(&scenario);
    assert_eq!(map.used.iter().map(|row| row.tag.as_str()).collect::<Vec<_>>(), ["building=yes", "highway=footway"]);
    let one = &map.left_out[0];
    assert_eq!(
        (one.feature.as_str(), one.line, one.why.as_str()),
        ("features[2]", 4, "no tag says what it is on the ground")
    );
    assert_eq!(scenario.site.obstacles[0].height_m, 7.0);
    assert!(scenario.site.home_m[0] > 7.0);
}

#[test]
fn check_tells_what_came_of_the_map() {
    let world = World::for_planning(hamlet()).expect("a world");
    let found = survey(&world);
    let document = lostlink::report::check::document(&world.scenario, &found, world.grid.cell_m);
    let page = printed(&document).split_whitespace().collect::<Vec<_>>().join(" ");
    for line in [
        "hamlet.osm: 27 features used, 16 not",
        "Not used, under the ground: way/208 (highway=service).",
        "1 building=barn, 1 building=house, 1 building=shed and 1 more: obstacle `building`, its outline; zone `property`; the height of 2 is assumed.",
        "site.map.tree_height_m: { normal = [30, 4.5] }",
    ] {
        assert!(page.contains(line), "{line} is not in\n{page}");
    }
    let json = serde_json::to_value(&found).expect("JSON");
    assert_eq!(json["map"]["left_out"].as_array().map(Vec::len), Some(16));
}

/// Holes are no part of a polygon; a fence has none.
#[test]
fn a_hole_is_not_covered() {
    let ring = |from: f64, to: f64| {
        let corners = [[from, from], [to, from], [to, to], [from, to], [from, from]];
        format!("{:?}", corners.map(|[east, north]| [9.0 + east, 47.0 + north]))
    };
    let map = |role: &str| {
        format!(
            r#"{{ "type": "Feature", "properties": {{ {role} }}, "geometry": {{ "type": "Polygon", "coordinates": [{}, {}] }} }}"#,
            ring(0.001, 0.005),
            ring(0.002, 0.004)
        )
    };
    let water = map("\"kind\": \"water\"");
    let scenario = good(&text("ground_file = \"m.json\"", "", ""), &[("m.json", &water)]);
    let grid = scenario.site.grid();
    assert_eq!((grid.kind(120.0, 200.0), grid.kind(228.0, 333.0)), (ZoneKind::Water, ZoneKind::Clear));
    let fence = map("\"role\": \"fence\"");
    let found = wrong(&text("ground_file = \"m.json\"", "", ""), &[("m.json", &fence)]);
    assert!(found.starts_with("m.json:1: features[0].geometry: a fence with a hole; accepted: one ring"), "{found}");
}

/// What is said of each kind of mistake in a file: its line, what was found, what would be accepted.
#[test]
fn mistakes_in_files_are_told_with_their_place() {
    let point = r#"<coordinates>9,47,450</coordinates>"#;
    let kml = |inner: &str| format!("<kml>\n<Placemark>\n{inner}\n</Placemark></kml>");
    let line = |rest: &str| kml(&format!("<LineString>{rest}</LineString>"));
    let deep = format!("<kml>{}", "<Folder>".repeat(80));
    let ground = "ground_file = \"m\"";
    let grounds: &[(String, &str)] = &[
        ("<kml><NetworkLink>".into(), "m:1: a link to another file, which is not followed; accepted: the placemarks themselves"),
        ("<kml>\n<Placemark><Placemark>".into(), "m:2: a placemark within a placemark; accepted: placemarks beside each other"),
        (deep, "m:1: elements within each other more than 64 deep; accepted: KML 2.2"),
        ("<!DOCTYPE kml [<!ENTITY a \"aa\">]>\n<kml><Placemark><name>&a;".into(), "m:2: the entity &a;, which is not followed; accepted: text without entities of its own"),
        ("<kml>\n<Placemark>".into(), "m:2: an end before all elements are closed; accepted: KML 2.2"),
        (kml("<Point><coordinates>9 47</coordinates></Point>"), "m:3: coordinates: the position 9; accepted: longitude,latitude,height without spaces between, in degrees and metres"),
        (kml(&format!("<Point>{point}</Point>")), "m:2: Placemark[0].properties.radius_m: a point without a radius; accepted: `radius_m` in metres"),
        (kml("<name>x</name>"), "m:2: Placemark[0].geometry: no shape; accepted: a Polygon, LineString, Point or several of them"),
        ("<gpx/>".into(), "m:1: XML with the outermost element `gpx`; accepted: GeoJSON, KML or the open map's XML export (`<osm>`)"),
        ("<osm>\n<node id=\"1\" lat=\"91\" lon=\"9\"/></osm>".into(), "m:2: the position lat=\"91\" lon=\"9\"; accepted: latitude and longitude in degrees"),
        ("<osm>\n<way id=\"x\"/></osm>".into(), "m:2: id=\"x\"; accepted: `id` as a number"),
        ("<osm>\n<way id=\"1\"><nd/></way></osm>".into(), "m:2: an element without `ref`; accepted: `ref` as a number"),
        ("[1]".into(), "m:1: type: no feature; accepted: a GeoJSON `FeatureCollection` or `Feature`"),
        ("{ \"type\": \"FeatureCollection\", \"crs\": { \"properties\": { \"name\": \"EPSG:25832\" } }, \"features\": [] }".into(), "m:1: crs: coordinates in the reference system EPSG:25832; accepted: longitude and latitude in degrees (WGS 84)"),
        ("{ \"type\": \"FeatureCollection\", \"features\": [\n{ \"type\": \"Feature\", \"properties\": { \"kind\": \"water\" }, \"geometry\": { \"type\": \"Blob\" } }] }".into(), "m:2: features[0].geometry: the geometry Blob; accepted: a Polygon, LineString, Point or several of them"),
        ("{ \"type\": \"FeatureCollection\", \"features\": [\n{ \"type\": \"Feature\", \"properties\": { \"kind\": \"people\", \"radius_m\": 9, \"hours\": \"9-17\" }, \"geometry\": { \"type\": \"Point\", \"coordinates\": [9, 47] } }] }".into(), "m:2: features[0].properties.hours: the text \"9-17\"; accepted: two different times of day with their offset from UTC, such as \"09:00+02:00/17:30+02:00\" or \"07:00Z/15:30Z\""),
        ("{ \"type\": \"FeatureCollection\", \"features\": [\n{ \"type\": \"Feature\", \"properties\": { \"kind\": \"water\", \"radius_m\": \"wide\" }, \"geometry\": { \"type\": \"Point\", \"coordinates\": [9, 47] } }] }".into(), "m:2: features[0].properties.radius_m: \"wide\"; accepted: a number, 0.001 to 100000"),
    ];
    for (map, expected) in grounds {
        let found = wrong(&text(ground, "", ""), &[("m", map)]);
        assert!(found.starts_with(expected), "{map}\ngave     {found}\nexpected {expected}");
    }
    let paths: &[(&str, String, &str)] = &[
        (
            "p.kml",
            line(point),
            "p.kml:3: a line that lies on the ground: its heights do not count (`altitudeMode`); accepted: `heights`, `height_m` or `above_ground_m` in `[path]`",
        ),
        (
            "p.kml",
            line("<altitudeMode>absolute</altitudeMode><coordinates>9,47</coordinates>"),
            "p.kml:3: a point without a height; accepted: a height, or `height_m` or `above_ground_m` in `[path]`",
        ),
        ("p.kml", kml(""), "p.kml:1: no path; accepted: a GPX track or route, or a LineString of GeoJSON or KML"),
        (
            "p.gpx",
            "<gpx><trk>\n<trkpt lat=\"47\"/></trk></gpx>".into(),
            "p.gpx:2: a point without `lon`; accepted: `lon` in degrees, -180 to 180",
        ),
        (
            "p.txt",
            String::new(),
            "p.txt: a file of unknown kind; accepted: a name ending in .gpx, .kml, .geojson or .json",
        ),
    ];
    for (name, path, expected) in paths {
        let found = wrong(&text("", "", &format!("file = \"{name}\"")), &[(name, path)]);
        assert!(found.starts_with(expected), "{path}\ngave     {found}\nexpected {expected}");
    }
    let both = "waypoints_m = [[0, 30, 60]]\nabove_ground_m = 40\nheights = \"amsl\"";
    let found = wrong(&text("", "", both), &[]);
    assert!(
        found.contains("path.heights: another height beside `above_ground_m`; accepted: one of the two"),
        "{found}"
    );
}

#[test]
fn mistakes_in_wind_tables_are_told_with_their_place() {
    let head = "height_m,speed_mps,direction_deg\n";
    let cases: &[(&str, String, &str)] = &[
        (
            "profile",
            "".into(),
            "w:1: no column `height_m`; accepted: the columns `height_m`, `speed_mps`, `direction_deg`",
        ),
        (
            "profile",
            "height_m,speed_kmh,direction_deg\n".into(),
            "w:1: the column `speed_kmh`; accepted: the columns `height_m`, `speed_mps`, `direction_deg`",
        ),
        (
            "profile",
            "height_m,height_m,speed_mps,direction_deg\n".into(),
            "w:1: the column `height_m` twice; accepted: the columns",
        ),
        ("profile", head.into(), "w:1: no row; accepted: a row or more under the names of the columns"),
        (
            "profile",
            format!("{head}10,5,270\n10,6,270\n"),
            "w:3: height_m: 10 after 10; accepted: rows in rising order, none of them twice",
        ),
        (
            "profile",
            format!("# heights\n{head}10,5,270\n5,6,270\n"),
            "w:4: height_m: 5 after 10; accepted: rows in rising order, none of them twice",
        ),
        ("profile", format!("{head}10,-5,270\n"), "w:2: speed_mps: \"-5\"; accepted: a number, 0 to 60"),
        ("profile", format!("{head}10,NaN,270\n"), "w:2: speed_mps: \"NaN\"; accepted: a number, 0 to 60"),
        ("profile", format!("{head}10,,270\n"), "w:2: speed_mps: \"\"; accepted: a number, 0 to 60"),
        ("profile", format!("{head}10,5,370\n"), "w:2: direction_deg: \"370\"; accepted: a number, 0 to 360"),
        (
            "profile",
            format!("{head}10,5\n"),
            "w:2: 2 values under 3 columns; accepted: a value for each column, with commas between them",
        ),
        (
            "profile",
            format!("{head}10,0,0\n80,9,0\n"),
            "p.toml:9: weather.profile_file: a profile without wind at 10 m, the height it is measured by; accepted: a `wind_height_m` at which the profile has wind",
        ),
        (
            "series",
            "hour_utc,time,speed_mps,direction_deg\n".into(),
            "w:1: more than one of `hour_utc` or `time`; accepted: the columns `hour_utc` or `time`, `speed_mps`, `direction_deg`",
        ),
        (
            "series",
            "time,speed_mps,direction_deg\n10:00,5,270\n".into(),
            "w:2: time: \"10:00\"; accepted: a time of day with its offset from UTC, such as 10:00+02:00 or 08:00Z",
        ),
        (
            "series",
            "hour_utc,speed_mps,direction_deg\n9,5,270\n8,5,270\n".into(),
            "w:3: hour_utc: 8 after 9; accepted: rows in rising order, none of them twice",
        ),
        (
            "series",
            "hour_utc,speed_mps,direction_deg\n25,5,270\n".into(),
            "w:2: hour_utc: \"25\"; accepted: a number, 0 to 24",
        ),
    ];
    for (key, table, expected) in cases {
        let found = wrong(&text("", &format!("{key}_file = \"w\""), ""), &[("w", table)]);
        assert!(found.starts_with(expected), "{table}\ngave     {found}\nexpected {expected}");
    }
    let hours = "hour_utc,speed_mps,direction_deg\n9,5,270\n";
    let beside = good(&text("", "series_file = \"w\"\nwind_mps = 3", ""), &[("w", hours)]);
    assert!(
        beside
            .warnings
            .iter()
            .any(|line| line.contains("weather.wind_mps: a wind stated beside `series_file`: it goes before")),
        "{:?}",
        beside.warnings
    );
    assert_eq!((beside.weather.wind_mps, beside.weather.from_deg), (Uncertain::Exact(3.0), Uncertain::Exact(270.0)));
}

/// Times that the scenario states with an offset are told in UTC and as they are meant.
#[test]
fn local_time_is_told_beside_utc() {
    let with = |utc: &str| good(&format!("{}\n[sky]\nutc = {utc}\n", text("", "", "")), &[]);
    let local = with("2026-06-01T10:00:00+02:00");
    assert_eq!((local.sky.utc, local.sky.offset_min), ([2026, 6, 1, 8, 0, 0], Some(120)));
    assert_eq!(with("2026-06-01T10:00:00Z").sky.offset_min, None);
    let grid = local.site.grid();
    let day = lostlink::plan::SkyDay::new(&local, &grid, [0.0, 0.0], 10.0, &[]).expect("a sky");
    let document = lostlink::report::sky::document(&day, "title", true);
    let page = printed(&document).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(page.contains("Times are UTC; the scenario's local time is UTC+02:00."), "{page}");
}
