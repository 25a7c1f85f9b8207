//! Every key of the format changes what is read: a key that nothing reads, or whose `false` or 0 is passed over, is found here.

use lostlink::scenario::{self, KeyDoc, MemoryFiles, Scenario};
use toml::{Table, Value};

/// A scenario in which every table is there.
const ALL: &str = r#"
title = "all"
[site]
lat_deg = 47
lon_deg = 8
height_amsl_m = 7
extent_m = [-600, -600, 600, 600]
cell_m = 10
fence = { circle_m = [0, 0, 500] }
zone = [{ kind = "people", circle_m = [100, 100, 20] }]
obstacle = [{ kind = "building", circle_m = [-100, -100, 5], height_m = 8 }]
[craft]
mass_kg = 1
[radio]
telemetry = {}
video = {}
interferer = [{}]
bursts = {}
[sky]
own_video = {}
interference = {}
[path]
waypoints_m = [[0, 40, 20]]
[loss.cut]
time_s = 20
[[policy]]
name = "hold"
action = [{ hold = { for_s = 5 } }, { land = {} }]
[delivered]
name = "sold"
action = [{ hold = { for_s = 5 } }, { land = {} }]
[[condition]]
name = "windy"
odds = 1
set = { "weather.wind_mps" = 9 }
"#;

/// Keys whose value says nothing that another key does not say: why.
const SAYS_NOTHING: [(&str, &str); 1] =
    [("loss.modelled", "says in words that there is no `loss.cut`; that both agree is checked")];

/// What must be so for a key to matter: (part of the key's path, key, value in TOML; no value takes the key out).
const CONTEXT: &[(&str, &str, &str)] = &[
    (".polygon_m", "circle_m", ""),
    (".line_m", "circle_m", ""),
    (".line_m", "width_m", "5"),
    (".width_m", "circle_m", ""),
    (".width_m", "line_m", "[[20, 20], [40, 20]]"),
    ("_antenna.exponent", "pattern", "\"patch\""),
    ("_antenna.back_db", "pattern", "\"patch\""),
    ("_antenna.axial_ratio_db", "polarisation", "\"right_circular\""),
    ("site.terrain_origin_m", "terrain_file", "\"slope.asc\""),
    ("site.terrain_epsg", "terrain_file", "\"metres.asc\""),
    ("site.terrain_heights", "terrain_file", "\"slope.asc\""),
    ("site.terrain_heights", "geoid_above_ellipsoid_m", "40"),
    ("site.geoid_above_ellipsoid_m", "terrain_file", "\"slope.asc\""),
    ("site.geoid_above_ellipsoid_m", "terrain_heights", "\"ellipsoid\""),
    ("site.terrain_is", "terrain_file", "\"slope.asc\""),
    ("path.file", "waypoints_m", ""),
    ("path.height", "waypoints_m", ""),
    ("path.height", "file", "\"a.gpx\""),
    ("path.heights", "site.terrain_file", "\"slope.asc\""),
    ("site.map.", "site.ground_file", "\"map.osm\""),
    ("sky.almanac_file", "utc", "2021-03-19T12:30:00Z"),
    ("sky.almanac_file", "constellations", "[\"gps30\"]"),
    ("pilot.hands", "pilot.facing_deg", "30"),
    ("pilot.hands.raise_after_s", "raise_to_m", "3"),
    ("pilot.hands.aim_after_s", "aim", "true"),
    ("pilot.hands.walk_deg", "walk_m", "20"),
    ("pilot.hands.walk_after_s", "walk_m", "20"),
    ("loss.cut.any_time", "time_s", ""),
    ("loss.cut.path_share", "time_s", ""),
    ("loss.cut.near_m", "time_s", ""),
    (".action[].land", "action", "[{ land = {} }]"),
    (".action[].drop", "action", "[{ drop = {} }]"),
    (".action[].carry_on", "action", "[{ carry_on = {} }]"),
    (".action[].carry_on.for_s", "action", "[{ carry_on = { for_s = 3 } }, { land = {} }]"),
    (".action[].return", "action", "[{ return = { height = { from = \"here\" } } }]"),
    (".action[].return.height.", "action", "[{ return = { height = { up_m = 30 } } }]"),
];

/// Values that the words of the key list do not give.
fn own_values(key: &str) -> Option<&'static str> {
    // The policies compared and the delivered one are chains alike.
    let key = ["policy[].", "delivered."].into_iter().find_map(|of| key.strip_prefix(of)).unwrap_or(key);
    Some(match key {
        "site.terrain_file" => "['slope.asc', 'step.asc', '', ['metres.asc', 'slope.asc'], ['slope.asc', 'step.asc']]",
        // UTM zone 32 and the plane of web maps.
        "site.terrain_epsg" => "[32632, 3857]",
        // Without a word from the file the third is the first.
        // What is not said flies as a surface; the words about it differ, which `outputs ground_files::` asks for.
        "site.terrain_is" => "['surface', 'bare_earth']",
        "site.terrain_heights" => "['amsl', 'ellipsoid']",
        "site.ground_file" => "['a.geojson', 'b.geojson', '']",
        "path.file" => "['a.gpx', 'b.gpx', 'a.kml']",
        "site.zone[].hours" => "['09:00Z/17:00Z', '09:00+02:00/17:00+02:00']",
        "weather.profile_file" => "['a.csv', 'b.csv', '']",
        "weather.series_file" => "['c.csv', 'd.csv', '']",
        "sky.almanac_file" => "['day.21p', '']",
        "site.extent_m" => "[[-500, -500, 500, 500], [-600, -500, 500, 500]]",
        "path.waypoints_m" => "[[[0, 40, 20]], [[0, 40, 21]], [[0, 40, 20], [5, 40, 20]]]",
        "policy" => "[[{ name = 'a', action = [{ land = {} }] }], [{ name = 'b', action = [{ land = {} }] }]]",
        "action" => "[[{ land = {} }], [{ drop = {} }], [{ hold = { for_s = 1 } }, { land = {} }]]",
        "action[].land" => "[{}, { sink_mps = 1 }]",
        "action[].return" => "[{ height = { from = 'here' } }, { height = { up_m = 20, may_sink = true } }]",
        "action[].drop" => "[{}, { otherwise = 'drop' }]",
        "action[].carry_on" => "[{}, { otherwise = 'drop' }]",
        "action[].hold" => "[{ for_s = 1 }, { for_s = 2 }]",
        "delivered" => "[false, { name = 'a', action = [{ land = {} }] }]",
        "site.zone" => "[[], [{ kind = 'water', circle_m = [0, 90, 5] }]]",
        "site.obstacle" => "[[], [{ kind = 'trees', circle_m = [0, 90, 5], height_m = 9 }]]",
        "site.fence" => "[false, { circle_m = [0, 0, 400] }]",
        "site.obstacle[].circle_m" => "[[0, 90, 5], [0, 91, 5], [0, 91, 6]]",
        "site.obstacle[].width_m" => "[1, 2, 10]",
        "radio.control.chirp" => "[false, { spreading_factor = 8 }, { bandwidth_hz = 4e5 }]",
        "radio.video.video" => "[false, { snr_needed_db = 9 }, { slope_db = 2 }]",
        "radio.interferer" => "[[], [{}], [{}, {}]]",
        "loss.cut" => "[false, { any_time = true }, { time_s = 7 }]",
        "condition" => "[[], [{ name = 'a', set = { 'weather.wind_mps' = 3 } }]]",
        "condition[].set" => "[{ 'weather.wind_mps' = 3 }, { 'weather.wind_mps' = 4 }]",
        "pilot.on_regain" => "['fly_home', 'resume', { choice = [['fly_home', 1], ['resume', 2]] }]",
        "sky.utc" => "[2026-05-16T09:30:00Z, 2026-05-16T09:30:01Z, 2026-05-16T09:30:00+02:00]",
        _ => return None,
    })
}

fn value(text: &str) -> Value {
    let table: Table = format!("x = {text}").parse().unwrap_or_else(|error| panic!("{text}: {error}"));
    table["x"].clone()
}

/// Values to try: by the key's own list, else by what it accepts.
fn values(doc: &KeyDoc) -> Vec<Value> {
    if let Some(own) = own_values(&doc.key) {
        return value(own).as_array().expect("a list").clone();
    }
    let accepts = doc.accepts.as_str();
    if accepts.starts_with("a table, or") {
        return vec![Value::Boolean(false), Value::Boolean(true)];
    }
    if accepts == "`true` or `false`" {
        return vec![Value::Boolean(false), Value::Boolean(true)];
    }
    if accepts.starts_with("a text") {
        return vec![Value::from("one"), Value::from("two")];
    }
    let words: Vec<&str> = accepts.split('"').skip(1).step_by(2).collect();
    if !words.is_empty() && !accepts.contains('[') {
        let words = words.into_iter().map(Value::from);
        return if accepts.starts_with("a list") {
            words.map(|w| Value::Array(vec![w])).collect()
        } else {
            words.collect()
        };
    }
    if accepts.contains("points [x, y]") {
        return vec![value("[[20, 20], [40, 20], [40, 45]]"), value("[[20, 20], [40, 20], [41, 45]]")];
    }
    // Numbers: the ends, near the default, and two between.
    let limits: Vec<f64> =
        accepts.rsplit(", ").next().unwrap_or_default().split(' ').filter_map(|word| word.parse().ok()).collect();
    let &[low, high] = limits.as_slice() else { panic!("{}: what is {accepts:?}?", doc.key) };
    let near: Vec<f64> = match doc.default.parse::<f64>() {
        Ok(default) => vec![default, 1.01 * default, 0.97 * default],
        Err(_) => Vec::new(),
    };
    let whole = accepts.contains("whole");
    let mut numbers: Vec<f64> =
        [low, high, low + 0.25 * (high - low), low + 0.5 * (high - low), low + 0.0005 * (high - low)].into();
    numbers.extend(near);
    if whole {
        numbers = numbers.into_iter().map(f64::round).chain([low + 1.0, low + 2.0]).collect();
    }
    numbers.sort_by(f64::total_cmp);
    numbers.dedup();
    let one = |x: f64| if whole { Value::Integer(x as i64) } else { Value::Float(x) };
    let count = accepts.split(' ').find_map(|word| word.parse::<usize>().ok());
    if accepts.starts_with("a list of numbers") {
        return vec![value("[]"), value("[10]"), value("[10, 12]")];
    }
    if let (true, Some(count)) = (accepts.starts_with("a list of"), count) {
        let own: Vec<f64> = match value(&format!("[{}]", doc.default.trim_matches(['[', ']']).replace("none", ""))) {
            Value::Array(list) => {
                list.iter().map(|v| v.as_float().or(v.as_integer().map(|i| i as f64)).expect("a number")).collect()
            }
            _ => Vec::new(),
        };
        let own = if own.len() == count { own } else { vec![1.0; count] };
        return [0.0, 0.5, 1.0]
            .map(|by| {
                Value::Array(
                    own.iter().enumerate().map(|(k, x)| Value::Float(x + by * (1.0 + 0.5 * k as f64))).collect(),
                )
            })
            .to_vec();
    }
    numbers.into_iter().map(one).collect()
}

/// The value at a path; tables on the way are made.
fn put(table: &mut Table, path: &str, new: Option<Value>) {
    let (first, rest) = match path.split_once('.') {
        Some((first, rest)) => (first, Some(rest)),
        None => (path, None),
    };
    let (name, listed) = match first.strip_suffix("[]") {
        Some(name) => (name, true),
        None => (first, false),
    };
    let Some(rest) = rest else {
        match new {
            Some(new) => table.insert(name.into(), new),
            None => table.remove(name),
        };
        return;
    };
    let inner = table.entry(name).or_insert_with(|| Value::Table(Table::new()));
    let inner = if listed { &mut inner.as_array_mut().expect("a list")[0] } else { inner };
    if !inner.is_table() {
        *inner = Value::Table(Table::new());
    }
    put(inner.as_table_mut().expect("a table"), rest, new);
}

/// The scenario in which a key matters.
fn context(key: &str) -> Table {
    let mut table: Table = ALL.parse().expect("TOML");
    for (_, beside, text) in CONTEXT.iter().filter(|row| key.contains(row.0)) {
        // An action is set where its list is; a path is whole.
        let folder = match key.find("action[]") {
            _ if beside.contains('.') => "",
            Some(at) if *beside == "action" => &key[..at],
            _ => &key[..key.rfind('.').map_or(0, |at| at + 1)],
        };
        put(&mut table, &format!("{folder}{beside}"), (!text.is_empty()).then(|| value(text)));
    }
    table
}

fn files() -> MemoryFiles {
    let asc =
        |row: &str| format!("ncols 3\nnrows 3\nxllcorner -900\nyllcorner -900\ncellsize 600\n{row}\n{row}\n{row}\n");
    // Wide enough to lie under the site by either system.
    let row = "1 2 3 4 5 6 7 8 9 10 11 12\n";
    let metres = format!("ncols 12\nnrows 12\nxllcorner 0\nyllcorner 5000000\ncellsize 100000\n{}", row.repeat(12));
    let gpx = |up: u32| {
        format!("<gpx><trk><trkseg><trkpt lat=\"47.0001\" lon=\"8.0001\"><ele>{up}</ele></trkpt></trkseg></trk></gpx>")
    };
    let geojson = |radius: u32| {
        format!(
            "{{\"type\":\"FeatureCollection\",\"features\":[{{\"type\":\"Feature\",\"properties\":{{\"kind\":\"water\",\"radius_m\":{radius}}},\"geometry\":{{\"type\":\"Point\",\"coordinates\":[8.001,47.001]}}}}]}}"
        )
    };
    let day = std::fs::read_to_string(concat!(env!("LOSTLINK_ROOT"), "tests/data/sept078m-trimmed.21p"));
    MemoryFiles(
        [
            ("slope.asc", asc("1 2 3")),
            ("step.asc", asc("1 1 3")),
            ("metres.asc", metres),
            ("a.gpx", gpx(30)),
            ("b.gpx", gpx(40)),
            ("a.geojson", geojson(20)),
            ("b.geojson", geojson(30)),
            ("day.21p", day.expect("readable")),
            ("a.kml", "<kml><Placemark><LineString><altitudeMode>absolute</altitudeMode><coordinates>8.0001,47.0001,50</coordinates></LineString></Placemark></kml>".into()),
            ("map.osm", super::helpers::OPEN_HEIGHTS.replace("ORIGIN", "8")),
            ("a.csv", "height_m,speed_mps,direction_deg\n10,5,270\n".into()),
            ("b.csv", "height_m,speed_mps,direction_deg\n10,5,270\n60,9,290\n".into()),
            ("c.csv", "hour_utc,speed_mps,direction_deg\n6,5,270\n".into()),
            ("d.csv", "time,speed_mps,direction_deg\n09:00+02:00,5,270\n17:00+02:00,7,270\n".into()),
        ]
        .map(|(name, text)| (name.to_string(), text.into_bytes()))
        .into(),
    )
}

/// What was read, without the list of inputs and the hash, which repeat the text.
fn read(table: &Table, files: &MemoryFiles) -> Result<String, String> {
    let text = toml::to_string(table).expect("TOML");
    let mut scenario = scenario::read("keys.toml", &text, files).map_err(|faults| faults[0].in_words())?;
    let strip = |s: &mut Scenario| {
        s.inputs.clear();
        s.warnings.clear();
        s.hash.clear();
    };
    strip(&mut scenario);
    for condition in &mut scenario.conditions {
        condition.line = None;
        strip(&mut condition.scenario);
    }
    Ok(format!("{scenario:?}"))
}

#[test]
fn every_key_changes_what_is_read() {
    let files = files();
    read(&ALL.parse().expect("TOML"), &files).expect("the whole scenario reads");
    let schema = super::schema::Schema::current();
    let mut faults = String::new();
    for doc in scenario::key_list() {
        if SAYS_NOTHING.iter().any(|row| row.0 == doc.key) {
            continue;
        }
        let base = context(&doc.key);
        let (mut seen, mut why): (Vec<(Value, String)>, Vec<String>) = (Vec::new(), Vec::new());
        for new in values(&doc) {
            let mut table = base.clone();
            put(&mut table, &doc.key, Some(new.clone()));
            match read(&table, &files) {
                Ok(found) => {
                    if let Some(fault) = schema.fault_of(&super::schema::json_of(&Value::Table(table))) {
                        faults += &format!("{}: {new} does not fit the schema: {fault}\n", doc.key);
                    }
                    if let Some((other, _)) = seen.iter().find(|(_, other)| *other == found) {
                        faults += &format!("{}: {new} reads like {other}\n", doc.key);
                    }
                    seen.push((new, found));
                }
                Err(fault) => why.push(fault),
            }
        }
        // Of a flag one value may be refused where it says what nothing else does.
        let enough = if doc.accepts.starts_with("`true`") && !why.is_empty() { 1 } else { 2 };
        if seen.len() < enough {
            faults += &format!("{}: {} good values tried; {}\n", doc.key, seen.len(), why.join(" | "));
        }
    }
    assert!(faults.is_empty(), "{faults}");
}

/// `false` for a table, and a flag's own default, are as if the key had been left out.
#[test]
fn what_may_be_left_out_may_be_said() {
    let files = files();
    let mut faults = String::new();
    for doc in scenario::key_list() {
        let stated = match (doc.accepts.as_str(), doc.default.as_str()) {
            ("a table, or `false` for none", _) => Value::Boolean(false),
            ("`true` or `false`", default) => Value::Boolean(default == "true"),
            _ => continue,
        };
        // Left out, the pilot turns to the craft; `false` says that his hands stay where they are.
        if SAYS_NOTHING.iter().any(|row| row.0 == doc.key) || doc.key == "pilot.hands" {
            continue;
        }
        let base = context(&doc.key);
        let with = |new: Option<Value>| {
            let mut table = base.clone();
            put(&mut table, &doc.key, new);
            read(&table, &files).map_err(|_| "refused")
        };
        if with(None) != with(Some(stated)) {
            faults += &format!("{}: stating the default reads unlike leaving it out\n", doc.key);
        }
    }
    assert!(faults.is_empty(), "{faults}");
}
