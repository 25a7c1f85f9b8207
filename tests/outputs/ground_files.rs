//! Files of the ground: each is read once whatever is read of the scenario, what is wrong is told briefly, and what counts for nothing
//! is said.

use lostlink::geodata::Bytes;
use lostlink::scenario::{self, Diagnostic, Files, MemoryFiles, Severity};
use lostlink::{Scenario, live::Live};
use std::collections::BTreeMap;
use std::io::Cursor;
use std::sync::{Arc, Mutex};

const TEXT: &str = r#"title = "A slope"
seed = 2
flights = 10
[site]
lat_deg = 47
lon_deg = 9
SITE
[craft]
mass_kg = 1.0
[path]
waypoints_m = [[0, 30, 60], [200, 100, 60], [0, 20, 60]]
[[policy]]
name = "land"
action = [{ land = {} }]
"#;

fn text(site: &str) -> String {
    TEXT.replace("SITE", site)
}

fn words(found: &[Diagnostic]) -> String {
    found.iter().map(Diagnostic::in_words).collect::<Vec<_>>().join("\n")
}

fn read(site: &str, files: &[(&str, &[u8])]) -> Result<Scenario, String> {
    let files = MemoryFiles(files.iter().map(|(name, bytes)| ((*name).into(), bytes.to_vec())).collect());
    scenario::read("s.toml", &text(site), &files).map_err(|found| words(&found))
}

fn warnings(site: &str, files: &[(&str, &[u8])]) -> String {
    read(site, files).unwrap_or_else(|found| panic!("{found}")).warnings.join("\n")
}

/// A slope in metres, rising 1 m in 10 m to the east from 500 m at its west edge; the grid's corner is at `west`, `south`.
fn slope([west, south]: [i32; 2], columns: usize) -> Vec<u8> {
    let row = (0..columns).map(|column| format!("{} ", 500 + 10 * column)).collect::<String>() + "\n";
    let rows = row.repeat(30);
    format!("ncols {columns}\nnrows 30\nxllcorner {west}\nyllcorner {south}\ncellsize 100\n{rows}").into_bytes()
}

/// The same in degrees, over the site.
fn slope_in_degrees() -> Vec<u8> {
    let row = (0..40).map(|column| format!("{} ", 500 + 10 * column)).collect::<String>() + "\n";
    format!("ncols 40\nnrows 40\nxllcenter 8.98\nyllcenter 46.98\ncellsize 0.001\n{}", row.repeat(40)).into_bytes()
}

/// A building of a raw map, 10 m a side, 200 m north of the origin.
const HOUSE: &str = r#"<osm version="0.6">
<node id="2" lat="47.0019" lon="9.001"/><node id="3" lat="47.0019" lon="9.0012"/><node id="4" lat="47.0020" lon="9.0012"/>
<way id="7"><nd ref="2"/><nd ref="3"/><nd ref="4"/><nd ref="2"/><tag k="building" v="house"/><tag k="height" v="8"/></way>
</osm>"#;

/// Files that count how often each is asked for.
struct Counting {
    files: BTreeMap<String, Arc<[u8]>>,
    asked: Mutex<BTreeMap<String, usize>>,
}

impl Counting {
    fn new(files: &[(&str, Vec<u8>)]) -> Counting {
        let files = files.iter().map(|(name, bytes)| ((*name).into(), bytes.clone().into())).collect();
        Counting { files, asked: Mutex::default() }
    }

    fn bytes(&self, name: &str) -> Result<Arc<[u8]>, String> {
        *self.asked.lock().expect("whole").entry(name.into()).or_default() += 1;
        self.files.get(name).cloned().ok_or_else(|| "there is no such file".into())
    }

    fn asked(&self) -> Vec<usize> {
        self.asked.lock().expect("whole").values().copied().collect()
    }
}

impl Files for Counting {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        self.bytes(name).map(|bytes| bytes.to_vec())
    }

    fn open(&self, name: &str) -> Result<Box<dyn Bytes>, String> {
        self.bytes(name).map(|bytes| Box::new(Cursor::new(bytes)) as Box<dyn Bytes>)
    }
}

/// Conditions that leave the site alone, and one that moves no file, read none again; the ground is the same in all of them.
#[test]
fn each_file_is_read_once() {
    let conditions = "[[condition]]\nname = \"windy\"\nset = { \"weather.wind_mps\" = 9 }\n\
        [[condition]]\nname = \"crowded\"\nset = { \"site.people_per_km2\" = 900 }\n\
        [[condition]]\nname = \"higher\"\nset = { \"site.height_amsl_m\" = 650 }\n";
    let site = "terrain_file = \"a.asc\"\nground_file = \"b.osm\"";
    let files = Counting::new(&[("a.asc", slope_in_degrees()), ("b.osm", HOUSE.into())]);
    let text = text(site) + &conditions.lines().take(6).collect::<Vec<_>>().join("\n");
    let scenario = scenario::read("s.toml", &text, &files).unwrap_or_else(|found| panic!("{}", words(&found)));
    assert_eq!(files.asked(), [1, 1]);
    for condition in &scenario.conditions {
        assert!(condition.scenario.site.same_shape(&scenario.site), "{}", condition.name);
        assert!(condition.scenario.warnings.is_empty(), "{:?}", condition.scenario.warnings);
    }
    // Another height of z = 0 lays the ground anew.
    let raised = text + "\n" + &conditions.lines().skip(6).collect::<Vec<_>>().join("\n");
    let raised = scenario::read("s.toml", &raised, &files).unwrap_or_else(|found| panic!("{}", words(&found)));
    let ground_m = |scenario: &Scenario| {
        scenario.site.height_amsl_m + scenario.site.terrain.as_ref().expect("a ground").ground_m(70.0, 40.0)
    };
    let higher = &raised.conditions.last().expect("three").scenario;
    assert!((ground_m(higher) - ground_m(&scenario)).abs() < 0.1, "{} {}", ground_m(higher), ground_m(&scenario));
    assert!((higher.site.height_amsl_m - 650.0).abs() < 1e-9);
}

/// A state of the controls reads no file, and its ground is that of the scenario.
#[test]
fn states_read_no_file() {
    let files = Counting::new(&[("a.asc", slope_in_degrees()), ("b.osm", HOUSE.into())]);
    let live = Live::open("s.toml", &text("terrain_file = \"a.asc\"\nground_file = \"b.osm\""), &files)
        .unwrap_or_else(|why| panic!("{why}"));
    assert_eq!(files.asked(), [1, 1]);
    let state = live.state([("wind_mps", "7")]).unwrap_or_else(|why| panic!("{why:?}"));
    let at = live.at(&state).unwrap_or_else(|why| panic!("{why:?}"));
    assert!(at.world.scenario.site.same_shape(&live.base().scenario.site));
    assert_eq!(at.world.scenario.hash.len(), 64);
    assert_eq!(files.asked(), [1, 1]);
}

/// Two thousand features with the same fault: twenty are told, the rest is counted, and all findings share one text.
#[test]
fn many_faults_of_a_file_are_counted() {
    let feature = r#"{"type":"Feature","properties":{"role":"zone"},"geometry":{"type":"Point","coordinates":[9,47]}}"#;
    let map = format!("{{\"type\":\"FeatureCollection\",\"features\":[\n{}\n]}}", [feature; 2000].join(",\n"));
    let files = MemoryFiles([("m.geojson".to_string(), map.into_bytes())].into());
    let found = scenario::read("s.toml", &text("ground_file = \"m.geojson\""), &files).expect_err("no kind");
    let told: Vec<&Diagnostic> = found.iter().filter(|finding| finding.severity == Severity::Error).collect();
    assert_eq!(told.len(), 21, "{}", words(&found));
    assert_eq!(told[20].line, Some(22));
    assert!(told[20].found.ends_with(", and 1979 more features with faults from here on"), "{}", told[20].found);
    let source = |finding: &Diagnostic| finding.source.clone().expect("a text");
    assert!(told.iter().all(|finding| Arc::ptr_eq(&source(finding), &source(told[0]))));
    // Another text, the same words about the same place: the same finding.
    let again = scenario::read("s.toml", &text("ground_file = \"m.geojson\""), &files).expect_err("no kind");
    assert!(again == found && !Arc::ptr_eq(&source(&again[0]), &source(told[0])));
}

/// What a raw map draws on a surface counts twice as what the scenario draws.
#[test]
fn buildings_of_a_raw_map_count_twice_on_a_surface() {
    let files: [(&str, &[u8]); 2] = [("a.asc", &slope([-1500, -1500], 30)), ("b.osm", HOUSE.as_bytes())];
    let site = "terrain_file = \"a.asc\"\nground_file = \"b.osm\"\n";
    let told = warnings(&format!("{site}terrain_is = \"surface\""), &files);
    assert!(told.contains("a surface model, and 1 building or wood drawn on it"), "{told}");
    assert!(!warnings(site, &files).contains("count twice"));
    // Beyond the extent nothing of the map counts.
    let told = warnings(&format!("{site}terrain_is = \"surface\"\nextent_m = [-400, -400, 400, 120]"), &files);
    assert!(!told.contains("count twice"), "{told}");
}

/// Heights that a path file counts from the ground say nothing of the level from which the ground is counted, however far below it the
/// same numbers would lie above the sea.
#[test]
fn heights_above_the_ground_are_not_taken_for_heights_above_the_sea() {
    let kml = |mode: &str| {
        format!(
            "<kml><Placemark><LineString><altitudeMode>{mode}</altitudeMode>\
             <coordinates>9.0,47.0,640 9.002,47.001,645</coordinates></LineString></Placemark></kml>"
        )
    };
    let told = |mode: &str| {
        let text = text("terrain_file = \"d.asc\"")
            .replace("waypoints_m = [[0, 30, 60], [200, 100, 60], [0, 20, 60]]", "file = \"p.kml\"");
        let files = [("d.asc".to_string(), slope_in_degrees()), ("p.kml".to_string(), kml(mode).into_bytes())];
        let read = scenario::read("s.toml", &text, &MemoryFiles(files.into()));
        read.map_or_else(|found| words(&found), |scenario| scenario.warnings.join("\n"))
    };
    assert!(told("absolute").contains("one of the two may count from the ellipsoid"), "{}", told("absolute"));
    assert!(!told("relativeToGround").contains("ellipsoid"), "{}", told("relativeToGround"));
}

/// Keys of the terrain that count for nothing are told, each with what it needs.
#[test]
fn terrain_keys_that_count_for_nothing_are_told() {
    let none = "site.KEY: a key that counts only with ground heights from files; accepted: it beside `terrain_file`";
    for (key, value) in [
        ("terrain_origin_m", "[100, 100]"),
        ("terrain_epsg", "32632"),
        ("terrain_heights", "\"ellipsoid\""),
        ("terrain_is", "\"surface\""),
        ("geoid_above_ellipsoid_m", "48"),
    ] {
        let told = warnings(&format!("{key} = {value}"), &[]);
        assert!(told.contains(&none.replace("KEY", key)), "{told}");
        assert_eq!(told.lines().count(), 1, "{told}");
    }
    let degrees: [(&str, &[u8]); 1] = [("d.asc", &slope_in_degrees())];
    let told = warnings("terrain_file = \"d.asc\"\nterrain_origin_m = [5, 5]", &degrees);
    assert!(
        told.contains("a place of the origin, which counts only for a grid of metres on the site's axes")
            && told.contains("`lat_deg` and `lon_deg`, which tie such files to the site, and no `terrain_origin_m`"),
        "{told}"
    );
    let metres: [(&str, &[u8]); 1] = [("m.asc", &slope([-1000, -1000], 30))];
    assert_eq!(warnings("terrain_file = \"m.asc\"\nterrain_origin_m = [500, 500]", &metres), "");
}

/// A file that states its coordinates heeds no other code.
#[test]
fn a_code_beside_a_file_with_its_own_is_told() {
    let folder = std::path::Path::new(env!("LOSTLINK_ROOT")).join("tests/data/elevation");
    let tiff = std::fs::read(folder.join("strips.tif")).expect("a sample");
    let told = |code: &str| {
        let files = MemoryFiles([("s.tif".to_string(), tiff.clone())].into());
        let text = text(&format!("terrain_file = \"s.tif\"\nextent_m = [-900, -800, 1000, 1100]\n{code}"))
            .replace("lat_deg = 47", "lat_deg = 36.6442")
            .replace("lon_deg = 9", "lon_deg = -84.2051")
            .replace(", 60]", ", 110]");
        scenario::read("s.toml", &text, &files).unwrap_or_else(|found| panic!("{}", words(&found))).warnings.join("\n")
    };
    let other = told("terrain_epsg = 32616");
    assert!(
        other.contains("site.terrain_epsg: a code that counts for no file: each states coordinates of its own")
            && other.contains("no `terrain_epsg`, or files that do not state what their coordinates are"),
        "{other}"
    );
    assert_eq!(told(""), "");
}

/// A grid on the site's axes is judged as other rasters are: an origin beside it is an error, half a site without ground too, a part a
/// warning.
#[test]
fn a_grid_on_the_sites_axes_is_judged_like_others() {
    let over = |west: i32, more: &str| {
        let grid: [(&str, &[u8]); 1] = [("m.asc", &slope([west, -1000], 30))];
        read(&format!("terrain_file = \"m.asc\"\nextent_m = [-400, -300, 600, 400]\n{more}"), &grid)
    };
    let beside = over(100, "").expect_err("an origin beside the grid");
    assert!(beside.contains("no height at x = y = 0, from which heights are counted"), "{beside}");
    assert!(!beside.contains("heights for"), "{beside}");
    let half = over(150, "height_amsl_m = 450").expect_err("less than half of the site");
    assert!(half.contains("heights for 45 % of the site only"), "{half}");
    let part = over(-300, "height_amsl_m = 450").unwrap_or_else(|found| panic!("{found}")).warnings.join("\n");
    assert!(
        part.contains("a terrain that does not cover 10 % of the site; there the ground goes on about level"),
        "{part}"
    );
    let far = over(900, "height_amsl_m = 450").expect_err("wholly beside");
    assert!(
        far.contains("a terrain wholly beside the site: it goes from 950, -950 to 3850, 1950")
            && far.contains("a terrain under the site; `terrain_origin_m` moves it"),
        "{far}"
    );
    assert_eq!(over(-500, "").map(|scenario| scenario.warnings.len()), Ok(0));
}
