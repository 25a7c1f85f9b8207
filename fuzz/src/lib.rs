//! What is fuzzed: for every parser a function that takes any bytes and never panics, and inputs to start from.
//!
//! A new target is a row of [`TARGETS`], a function, and a `[[bin]]` of its name in fuzz/Cargo.toml. The main package's test `scenario fuzz::` runs
//! every row on its seeds, on mutations of them, and on what once broke something (tests/data/fuzz).

use lostlink::geodata::feature::{Fault, Feature};
use lostlink::geodata::{RasterFile, geojson, gpx, kml, map_export};
use lostlink::live::{Key, Live, Setting, State, edited};
use lostlink::risk::summary::Summary;
use lostlink::scenario::{self, Files, MemoryFiles, NoFiles, Remembered, Severity};
use lostlink::{lesson, report, sky};
use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// A parser under test.
pub struct Target {
    /// Its name: of the program, of the folders of its inputs.
    pub name: &'static str,
    /// Takes any bytes.
    pub run: fn(&[u8]),
    /// Inputs to start from: whole ones first, then some that are refused.
    pub seeds: fn() -> Vec<Vec<u8>>,
}

const fn target(name: &'static str, run: fn(&[u8]), seeds: fn() -> Vec<Vec<u8>>) -> Target {
    Target { name, run, seeds }
}

/// All of them.
pub const TARGETS: &[Target] = &[
    target("scenario", scenario, scenarios),
    target("scenario_files", scenario_files, scenarios_with_files),
    target("ground_geojson", ground_geojson, || and_broken(&[GROUND], ".geojson")),
    target("path_geojson", |bytes| path("p.geojson", bytes), || and_broken(&[LINE], ".path.geojson")),
    target("path_gpx", |bytes| path("p.gpx", bytes), || and_broken(&[TRACK, ROUTE], ".gpx")),
    target("features_geojson", |bytes| features(geojson::read, bytes), || and_broken(&[GROUND, LINE], ".geojson")),
    target("features_gpx", |bytes| features(gpx::read, bytes), || and_broken(&[TRACK, ROUTE], ".gpx")),
    target("features_kml", |bytes| features(kml::read, bytes), kmls),
    target("map_export", |bytes| features(map_export::read, bytes), || files_of("tests/data/map", ".osm")),
    target("ground_kml", |bytes| with_file("ground_file = \"g.kml\"", INLINE, "g.kml", bytes), kmls),
    target(
        "ground_map",
        |bytes| with_file("ground_file = \"g.osm\"", INLINE, "g.osm", bytes),
        || files_of("tests/data/map", ".osm"),
    ),
    target("winds", winds, || and_broken(&[HEIGHTS, HOURS], ".csv")),
    target("grid_ascii", grid_ascii, grids),
    target("raster_geotiff", |bytes| raster("g.tif", bytes), || files_of("tests/data/elevation", ".tif")),
    target("raster_hgt", raster_hgt, || vec![b"N47E008.hgt\n\x01\x90\x01\x91\x80\x00".to_vec()]),
    target("almanac_yuma", almanac_yuma, || and_broken(&[YUMA], ".alm")),
    target("navigation_rinex", navigation_rinex, navigations),
    target("lesson", lesson_file, || files_of("lessons", ".toml")),
    target("summary", summary, summaries),
    target("state", state, || vec![STATE.into(), b"cut_m=radio".to_vec(), b"constellations=gps30".to_vec()]),
    target("edit", edit, edits),
];

/// Runs the target of a name.
#[allow(dead_code)]
pub fn run(name: &str, bytes: &[u8]) {
    let target = TARGETS.iter().find(|target| target.name == name).expect("a row of TARGETS");
    (target.run)(bytes);
}

/// The main package's folder.
fn root() -> PathBuf {
    // Both packages that compile this lie in it.
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn bytes_of(path: &str) -> Vec<u8> {
    std::fs::read(root().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// The files of a folder with a certain ending, by name.
fn files_of(folder: &str, ending: &str) -> Vec<Vec<u8>> {
    let list = std::fs::read_dir(root().join(folder)).expect("a folder");
    let mut names: Vec<String> =
        list.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names.iter().filter(|name| name.ends_with(ending)).map(|name| bytes_of(&format!("{folder}/{name}"))).collect()
}

/// Whole files, then the broken ones of the tests that have a certain ending.
fn and_broken(whole: &[&str], ending: &str) -> Vec<Vec<u8>> {
    let whole = whole.iter().map(|text| text.as_bytes().to_vec());
    whole.chain(files_of("tests/broken", ending)).chain(files_of("tests/broken/data", ending)).collect()
}

/// Reads a scenario; what is wrong with it can be told.
fn read(text: &str, files: &dyn Files) -> bool {
    told(scenario::read("f.toml", text, files))
}

fn told(found: Result<scenario::Scenario, Vec<scenario::Diagnostic>>) -> bool {
    match found {
        Ok(scenario) => !scenario.policies.is_empty(),
        Err(found) => {
            assert!(found.iter().any(|finding| finding.severity == Severity::Error), "refused without an error");
            assert!(!lostlink::cli::diagnostics::render(&found, false).is_empty());
            false
        }
    }
}

fn scenario(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    // Looking what stands in the way of the path takes far longer than all else: one text of eight is asked.
    if bytes.iter().fold(0u8, |sum, byte| sum.wrapping_mul(31).wrapping_add(*byte)) % 8 == 0 {
        read(text, &NoFiles);
    } else {
        told(scenario::read_again("f.toml", text, &NoFiles, &Remembered::default()));
    }
}

fn scenarios() -> Vec<Vec<u8>> {
    let own = [scenario::SHORTEST.into(), EVERYTHING.into()];
    own.into_iter().chain(files_of("scenarios", ".toml")).chain(files_of("tests/broken", ".toml")).collect()
}

/// Before a line that names a file in memory; what follows is that file.
const FILE: &str = "\n#== ";

/// A scenario, then files that it names, each after a line of its own.
fn scenario_files(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let mut parts = text.split(FILE);
    let host = parts.next().unwrap_or_default();
    let named = parts.filter_map(|part| part.split_once('\n'));
    let files = named.map(|(name, file)| (name.to_string(), file.as_bytes().to_vec())).collect();
    read(host, &MemoryFiles(files));
}

fn scenarios_with_files() -> Vec<Vec<u8>> {
    let names = [("s.asc", GRID), ("g.geojson", GROUND), ("p.gpx", TRACK), ("a.alm", YUMA)];
    let mut whole = field("terrain_file = \"s.asc\"\nground_file = \"g.geojson\"", "file = \"p.gpx\"")
        + "[sky]\nalmanac_file = \"a.alm\"\n";
    for (name, file) in names {
        whole += &format!("{FILE}{name}\n{file}");
    }
    vec![whole.into_bytes()]
}

/// A small field with lines of its site and of its path.
fn field(site: &str, path: &str) -> String {
    format!(
        "title = \"f\"\n[site]\nlat_deg = 47\nlon_deg = 8\nheight_amsl_m = 400\nextent_m = [-300, -300, 300, 300]\ncell_m = 10\n{site}\n[craft]\n\
         mass_kg = 1\n[path]\n{path}\n[[policy]]\nname = \"l\"\naction = [{{ land = {{}} }}]\n"
    )
}

/// Reads the field with one file.
fn with_file(site: &str, path: &str, name: &str, bytes: &[u8]) {
    read(&field(site, path), &MemoryFiles([(name.to_string(), bytes.to_vec())].into()));
}

const INLINE: &str = "waypoints_m = [[0, 40, 20]]";

fn ground_geojson(bytes: &[u8]) {
    with_file("ground_file = \"g.geojson\"", INLINE, "g.geojson", bytes);
}

fn path(name: &str, bytes: &[u8]) {
    with_file("", &format!("file = \"{name}\""), name, bytes);
}

fn grid_ascii(bytes: &[u8]) {
    let raster = RasterFile::open("g.asc", Box::new(Cursor::new(bytes.to_vec())), None);
    if let Some(Ok(mut ground)) = raster.ok().and_then(|raster| raster.on_site_axes()) {
        if ground.fill_gaps().len() == ground.height_m.len() {
            return;
        }
        let [west, south, east, north] = ground.bounds_m();
        for (x, y) in [(west, south), (0.5 * (west + east), 0.5 * (south + north)), (east, north), (1e9, -1e9)] {
            assert!(ground.ground_m(x, y).is_finite(), "a height of a grid that was accepted");
        }
    }
}

/// What a raster says of itself, and heights from its middle; all of them where they are few.
fn raster(name: &str, bytes: &[u8]) {
    let Ok(mut file) = RasterFile::open(name, Box::new(Cursor::new(bytes.to_vec())), None) else { return };
    assert!(!file.place_in_words().is_empty());
    let mut window = file.lattice.whole();
    if window.count() > 1_000_000 {
        for range in [&mut window.columns, &mut window.rows] {
            let middle = range.end / 2;
            *range = middle..(middle + 40).min(range.end);
        }
    }
    let count = window.count();
    if let Ok(heights) = file.read(&window) {
        assert_eq!(heights.len(), count, "as many heights as were asked for");
        assert!(heights.iter().all(|height| height.is_nan() || height.abs() <= 12_000.0), "heights of the Earth");
    }
}

/// The name of a height tile, then the bytes that fill it, over and over.
fn raster_hgt(bytes: &[u8]) {
    let at = bytes.iter().position(|byte| *byte == b'\n').unwrap_or(0);
    let (name, fill) = bytes.split_at(at);
    let fill = if fill.is_empty() { &[0] } else { fill };
    let tile: Vec<u8> = fill.iter().copied().cycle().take(2 * 1201 * 1201).collect();
    raster(&String::from_utf8_lossy(name), &tile);
}

/// Shapes of a file of features.
fn features(read: fn(&str) -> Result<Vec<Feature>, Fault>, bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match read(text) {
        Ok(found) => {
            assert!(found.iter().all(|feature| feature.line <= text.lines().count().max(1)), "a line of the file")
        }
        Err(fault) => assert!(!fault.found.is_empty(), "a fault says what it is"),
    }
}

fn kmls() -> Vec<Vec<u8>> {
    and_broken(&[KML], ".kml")
}

/// Winds by height and by time.
fn winds(bytes: &[u8]) {
    for key in ["profile_file", "series_file"] {
        let text = field("", INLINE) + &format!("[weather]\n{key} = \"w.csv\"\n");
        told(scenario::read_again(
            "f.toml",
            &text,
            &MemoryFiles([("w.csv".to_string(), bytes.to_vec())].into()),
            &Remembered::default(),
        ));
    }
}

fn grids() -> Vec<Vec<u8>> {
    and_broken(&[GRID, GAPS], ".asc").into_iter().chain(files_of("lessons", ".asc")).collect()
}

/// Noon of a day for which the almanacs below are good.
fn noon() -> sky::GpsTime {
    sky::GpsTime::from_utc(sky::Calendar::of_parts([2021, 3, 19, 12, 0, 0]).expect("a date"))
}

fn almanac_yuma(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    for record in sky::read_yuma(text).into_iter().flatten() {
        record.ephemeris(noon()).position_m(noon());
    }
}

fn navigation_rinex(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(navigation) = sky::read_navigation(text) {
        for one in sky::nearest_ephemerides(&navigation.ephemerides, noon(), 7_200.0) {
            one.position_m(noon());
        }
    }
}

/// The head of a navigation file and its first records: a whole one is long.
fn records(path: &str) -> Vec<u8> {
    let text = String::from_utf8(bytes_of(path)).expect("text");
    let end = text.find("END OF HEADER").expect("a head");
    let head = text[..end].lines().count();
    text.lines().take(head + 3 * 8).flat_map(|line| [line, "\n"]).collect::<String>().into_bytes()
}

fn navigations() -> Vec<Vec<u8>> {
    let whole = [records("tests/data/sept078m-trimmed.21p")];
    whole.into_iter().chain(files_of("tests/broken/data", ".rnx")).collect()
}

fn lesson_file(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match lesson::read("l.toml", text, &lesson::course_files()) {
        Ok(lesson) => assert!(!lesson.chapters.is_empty()),
        Err(found) => assert!(!lostlink::cli::diagnostics::render(&found, false).is_empty()),
    }
}

/// The page and the text of a summary read back.
fn summary(bytes: &[u8]) {
    let Ok(summary) = serde_json::from_slice::<Summary>(bytes) else { return };
    let document = report::assess::document(&summary);
    report::page::write(&document, &report::gallery::Gallery::default(), &mut Vec::new()).expect("memory takes it");
    report::terminal::print(&document, report::terminal::Manner::of(false, None, true));
}

/// The sample report's, with its long lists cut short.
fn summaries() -> Vec<Vec<u8>> {
    let mut whole: serde_json::Value = serde_json::from_slice(&bytes_of("reports/sample/summary.json")).expect("JSON");
    cut(&mut whole);
    assert!(serde_json::from_value::<Summary>(whole.clone()).is_ok(), "cut short it is still a summary");
    vec![serde_json::to_vec(&whole).expect("JSON")]
}

fn cut(value: &mut serde_json::Value) {
    match value {
        serde_json::Value::Array(list) => {
            // Lists of a fixed length are no longer than this.
            if list.len() > 24 {
                list.truncate(2);
            }
            list.iter_mut().for_each(cut);
        }
        serde_json::Value::Object(table) => table.values_mut().for_each(cut),
        _ => {}
    }
}

/// A state of the live page, as its address has it: `key=value` with `&` between.
fn state(bytes: &[u8]) {
    static LIVE: OnceLock<Live> = OnceLock::new();
    let live =
        LIVE.get_or_init(|| Live::open("f.toml", &live_field(), &NoFiles).unwrap_or_else(|error| panic!("{error}")));
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let pairs = text.split('&').filter_map(|pair| pair.split_once('='));
    if let Ok(state) = live.state(pairs) {
        live.controls(&state);
        // Settings that do not go together are refused.
        if let Ok(text) = live.text(&state) {
            assert!(read(&text, &NoFiles), "{text}");
        }
    }
}

fn live_field() -> String {
    field("", INLINE).replace("land = {}", "return = { height = { up_m = 40 } }")
}

/// A state on the first line, as numbers of the controls in their order; then any scenario's text.
fn edit(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let (numbers, text) = text.split_once('\n').unwrap_or_default();
    let mut state = State::default();
    for (key, number) in Key::ALL.into_iter().zip(numbers.split(' ')) {
        let Ok(number) = number.parse::<f64>() else { continue };
        let words = |words: &[&'static str]| Setting::Words(words.to_vec());
        let setting = match (key, number as i64) {
            (Key::Constellations, ..=0) => words(&["gps30"]),
            (Key::Constellations, _) => words(&["gps24", "galileo"]),
            (Key::Cut, ..=0) => words(&["radio"]),
            _ => Setting::Number(number),
        };
        state = state.with(key, setting);
    }
    let context = lostlink::live::Context { path_m: 100.0, utc: [2026, 5, 16, 9, 30, 0] };
    match edited(text, &state, &context) {
        Ok(document) => assert!(document.to_string().parse::<toml_edit::DocumentMut>().is_ok(), "{document}"),
        // The text of what can be read as a scenario can be edited; the hour of a day must be one.
        Err(refusal) => assert!(!read(text, &NoFiles) || refusal.error.starts_with("hour_utc"), "{refusal}"),
    }
}

fn edits() -> Vec<Vec<u8>> {
    let texts =
        [live_field().into_bytes(), scenario::SHORTEST.into()].into_iter().chain(files_of("scenarios", ".toml"));
    texts.map(|text| [b"50 60 2 5 90 1 80 12.5\n".to_vec(), text].concat()).collect()
}

const STATE: &[u8] = b"cut_m=20&height_m=60&patience_s=2.5&wind_mps=5&wind_from_deg=270&constellations=gps30,galileo&pack_pct=80&hour_utc=12.5";

/// A scenario in which every table is there.
const EVERYTHING: &str = r#"title = "all"
[site]
lat_deg = 47
lon_deg = 8
extent_m = [-300, -300, 300, 300]
cell_m = 10
fence = { circle_m = [0, 0, 250] }
zone = [{ kind = "people", circle_m = [100, 100, 20], hours_utc = [8, 18] }, { kind = "road", line_m = [[0, 90], [90, 90]], width_m = 4 }]
obstacle = [{ kind = "building", polygon_m = [[-100, -100], [-90, -100], [-90, -90]], height_m = { normal = [8, 1] } }]
[judge]
order = ["on-road", "fell"]
[weather]
wind_mps = { lognormal = [4, 1.4] }
[craft]
mass_kg = 1
battery = { at_warning = "return", return_at_least_m = 40 }
[radio]
telemetry = {}
video = {}
interferer = [{ duty = 0.5 }]
bursts = {}
neighbours = 3
[radio.control.receiver]
patience_s = { choice = [[1, 2], [2, 1]] }
[sky]
utc = 2026-05-16T09:30:00Z
own_video = {}
interference = {}
[path]
waypoints_m = [[0, 40, 20]]
[pilot]
hands = { raise_to_m = 3 }
[loss.cut]
near_m = [0, 40]
for_s = { triangular = [2, 5, 9] }
[[policy]]
name = "hold"
[[policy.action]]
hold = { for_s = 5 }
guard = { fix = {}, progress = {}, battery = {}, duration = {}, fence = {} }
[[policy.action]]
return = { height = { from = "path", up_m = 5 }, otherwise = "drop" }
[delivered]
name = "sold"
action = [{ carry_on = { for_s = 5 } }, { drop = {} }]
[[condition]]
name = "windy"
odds = 1
set = { "weather.wind_mps" = 9, "policy[0].action[0].hold.for_s" = 2 }
"#;

const GRID: &str = "ncols 3\nnrows 3\nxllcorner -300\nyllcorner -300\ncellsize 200\nNODATA_value -9999\n401 402 403\n400 401.5 402\n399 -9999 401\n";

const GAPS: &str = "NCOLS 4\nNROWS 2\nXLLCENTER -1e2\nYLLCENTER 0\nCELLSIZE 50\n1 nan 3 4\n-9999 6 7\n8\n";

const GROUND: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"pond","kind":"water","radius_m":20},"geometry":{"type":"Point","coordinates":[8.001,47.001]}},
{"type":"Feature","properties":{"name":"lane","kind":"road","people":3,"width_m":4},"geometry":{"type":"LineString","coordinates":[[8.001,47.0],[8.002,47.001]]}},
{"type":"Feature","properties":{"role":"obstacle","kind":"trees","height_m":9,"base_m":1},"geometry":{"type":"MultiPolygon","coordinates":[[[[8.0005,47.0001],[8.0006,47.0001],[8.0006,47.0002],[8.0005,47.0001]]]]}},
{"type":"Feature","properties":{"role":"fence"},"geometry":{"type":"Polygon","coordinates":[[[7.997,46.998],[8.003,46.998],[8.003,47.002],[7.997,47.002],[7.997,46.998]]]}},
{"type":"Feature","properties":{"role":"home"},"geometry":{"type":"Point","coordinates":[8.0,47.0]}}]}
"#;

const HEIGHTS: &str = "# at noon\nheight_m,speed_mps,direction_deg\n2,3,250\n10,4.5,260\n100,9,280\n";

const HOURS: &str = "hour_utc,speed_mps,direction_deg\n8,3,250\n12,4.5,260\n16,9,280\n";

const KML: &str = r#"<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>pond</name><ExtendedData><Data name="kind"><value>water</value></Data></ExtendedData>
<Polygon><outerBoundaryIs><LinearRing><coordinates>8.001,47.001,0 8.002,47.001,0 8.002,47.002,0 8.001,47.001,0</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>
<Placemark><LineString><altitudeMode>absolute</altitudeMode><coordinates>8,47.0004,430 8.001,47.0004,440</coordinates></LineString></Placemark></Document></kml>
"#;

const LINE: &str = r#"{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[8.0,47.0005,430],[8.001,47.0005,440],[8.0,47.0002,430]]}}"#;

const TRACK: &str = r#"<?xml version="1.0"?><gpx version="1.1" creator="x"><metadata><name>a &amp; b</name></metadata><trk><name>t</name><trkseg>
<trkpt lat="47.0004" lon="8.0"><ele>430</ele><time>2026-05-16T09:30:00Z</time></trkpt>
<trkpt lat="47.0004" lon="8.001"><ele>4.4e2</ele></trkpt></trkseg></trk></gpx>
"#;

const ROUTE: &str = r#"<gpx><rte><rtept lat="47.0004" lon="8.0"/><rtept lat="47.0004" lon="8.001"><ele><![CDATA[430]]></ele></rtept></rte></gpx>"#;

const YUMA: &str = "******** Week 101 almanac for PRN-01 ********
ID:                         01
Health:                     000
Eccentricity:               0.1017475128E-001
Time of Applicability(s):  405504.0000
Orbital Inclination(rad):   0.9832766550
Rate of Right Ascen(r/s):  -0.7897471819E-008
SQRT(A)  (m 1/2):           5153.664063
Right Ascen at Week(rad):   0.1409700994E+001
Argument of Perigee(rad):   0.815371936
Mean Anom(rad):            -0.2204732670E+001
Af0(s):                     0.2708435059E-003
Af1(s/s):                  -0.1091393642E-010
week:                        101
";
