//! Scenario files: every shipped one loads; broken ones are refused with exact words and places.

use lostlink::geodata::RasterFile;
use lostlink::scenario::{self, Diagnostic, Files};
use std::path::{Path, PathBuf};

#[path = "../fuzz/src/lib.rs"]
mod targets;

/// Files of a folder on disk.
struct Folder(PathBuf);

impl Files for Folder {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        std::fs::read(self.0.join(name)).map_err(|_| "there is no such file".into())
    }
}

fn words(found: &[Diagnostic]) -> String {
    found.iter().map(|finding| finding.in_words() + "\n").collect()
}

fn scenario_files() -> Vec<PathBuf> {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder is there")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect();
    files.sort();
    files
}

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

/// Files of a folder by name, those with a certain ending.
fn names_in(folder: &Path, ending: &str) -> Vec<String> {
    let list = std::fs::read_dir(folder).expect("the folder is there");
    let names = list.map(|entry| entry.expect("readable")).filter(|entry| entry.path().is_file());
    let mut names: Vec<String> = names.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.retain(|name| name.ends_with(ending));
    names.sort();
    names
}

/// Holds words to those of a file. `LOSTLINK_BLESS=1` writes them anew: read them then.
fn differs(beside: &Path, drawn: &str) -> String {
    if std::env::var_os("LOSTLINK_BLESS").is_some() {
        std::fs::write(beside, drawn).expect("writable");
    }
    let expected = std::fs::read_to_string(beside).unwrap_or_default();
    if drawn == expected {
        String::new()
    } else {
        format!("--- {} gave\n{drawn}--- expected\n{expected}", beside.display())
    }
}

fn broken() -> PathBuf {
    Path::new(env!("LOSTLINK_ROOT")).join("tests/broken")
}

/// Every broken file is refused with the words beside it.
#[test]
fn broken_files_are_refused_with_these_words() {
    let folder = broken();
    let names = names_in(&folder, ".toml");
    assert!(names.len() >= 8);
    let mut differing = String::new();
    for name in names {
        let text = std::fs::read_to_string(folder.join(&name)).expect("readable");
        let found = scenario::read(&name, &text, &Folder(folder.clone())).expect_err("a broken file");
        let drawn = lostlink::cli::diagnostics::render(&found, false);
        differing += &differs(&folder.join(name.replace(".toml", ".txt")), &drawn);
    }
    let folder = folder.join("lessons");
    for name in names_in(&folder, ".toml") {
        let text = std::fs::read_to_string(folder.join(&name)).expect("readable");
        let found = lostlink::lesson::read(&name, &text, &Folder(folder.clone())).expect_err("a broken lesson");
        let drawn = lostlink::cli::diagnostics::render(&found, false);
        differing += &differs(&folder.join(name.replace(".toml", ".txt")), &drawn);
    }
    assert!(differing.is_empty(), "{differing}");
}

/// Every broken file of data is refused, or warned of, with its words, those of all of them in one file: its place, what is wrong, what
/// would be accepted.
#[test]
fn broken_data_is_refused_with_these_words() {
    let folder = broken().join("data");
    let mut told = String::new();
    for name in names_in(&folder, "") {
        let (site, path, sky) = match name.rsplit('.').next().unwrap_or_default() {
            "asc" => (format!("terrain_file = \"{name}\""), String::new(), String::new()),
            "gpx" | "txt" => (String::new(), format!("file = \"{name}\""), String::new()),
            "geojson" if name.contains(".path.") => (String::new(), format!("file = \"{name}\""), String::new()),
            "geojson" => (format!("ground_file = \"{name}\""), String::new(), String::new()),
            "alm" | "rnx" => (String::new(), String::new(), format!("almanac_file = \"{name}\"")),
            other => panic!("{name}: what names a file .{other}?"),
        };
        let path = if path.is_empty() { "waypoints_m = [[0, 40, 20]]" } else { &path };
        let text = format!(
            "title = \"x\"\n[site]\nlat_deg = 47\nlon_deg = 8\n{site}\n[craft]\nmass_kg = 1\n[path]\n{path}\n[sky]\nutc = 2021-03-19T12:00:00Z\n{sky}\n\
             [[policy]]\nname = \"land\"\naction = [{{ land = {{}} }}]\n"
        );
        told += &match scenario::read("data.toml", &text, &Folder(folder.clone())) {
            Err(found) => words(&found),
            Ok(scenario) => {
                assert!(!scenario.warnings.is_empty(), "{name} is taken without a word");
                scenario.warnings.iter().map(|warning| format!("warning: {warning}\n")).collect()
            }
        };
    }
    let differing = differs(&broken().join("data.txt"), &told);
    assert!(differing.is_empty(), "{differing}");
}

/// The messages of the readers and of `check`, looked up in the expected words of the tests: what no test shows is listed in
/// tests/broken/unshown.txt, with the file that says it. The list only shrinks: show a new message by an input in tests/broken.
mod shown {
    use super::{broken, differs};
    use std::path::{Path, PathBuf};

    /// Where messages come from.
    const SOURCES: [&str; 8] = [
        "src/scenario",
        "src/lesson/file.rs",
        "src/site/terrain.rs",
        "src/geodata",
        "src/sky",
        "src/plan/odd.rs",
        "src/plan/warnings.rs",
        "src/failsafe/policy.rs",
    ];

    /// What begins a message.
    const CALLS: [&str; 11] = [
        "error(",
        "warn(",
        "fault(",
        "missing(",
        "notes.push(",
        "push(Severity",
        "#[error(",
        "FileFault {",
        "refuse(",
        "NotText",
        "PolicyError",
    ];

    fn files(path: &Path, found: &mut Vec<PathBuf>) {
        if path.is_dir() {
            let mut inside: Vec<PathBuf> =
                std::fs::read_dir(path).expect("a folder").map(|entry| entry.expect("readable").path()).collect();
            inside.sort();
            inside.iter().for_each(|path| files(path, found));
        } else {
            found.push(path.to_path_buf());
        }
    }

    /// Literals from a call to the end of its statement, unescaped, with a NUL for each value put in.
    fn literals(call: &str) -> Vec<String> {
        let (mut found, mut depth, mut letters) = (Vec::new(), 0, call.chars().peekable());
        while let Some(letter) = letters.next() {
            match letter {
                '(' | '[' | '{' => depth += 1,
                ')' | ']' | '}' if depth <= 1 => return found,
                ')' | ']' | '}' => depth -= 1,
                '"' => {
                    let mut text = String::new();
                    while let Some(letter) = letters.next().filter(|letter| *letter != '"') {
                        match letter {
                            '\\' => match letters.next() {
                                Some('\n') => while letters.next_if(|next| next.is_whitespace()).is_some() {},
                                Some('n') | None => text.push('\n'),
                                Some(other) => text.push(other),
                            },
                            '{' if letters.next_if_eq(&'{').is_none() => {
                                while letters.next().is_some_and(|inside| inside != '}') {}
                                text.push('\0');
                            }
                            letter => text.push(letter),
                        }
                    }
                    found.push(text);
                }
                _ => {}
            }
        }
        found
    }

    fn flat(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Everything that tests expect: files of words, and the sources of the tests themselves but for their escapes.
    fn expected(root: &Path) -> String {
        let mut paths = Vec::new();
        files(&root.join("tests"), &mut paths);
        files(&root.join("src"), &mut paths);
        let is_words = |path: &Path| {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            (name.ends_with(".txt") && name != "unshown.txt" && !path.to_string_lossy().contains("numbers"))
                || name.ends_with(".rs")
        };
        let own = root.join("src");
        let texts = paths.iter().filter(|path| is_words(path)).map(|path| {
            let text = std::fs::read_to_string(path).unwrap_or_default();
            // Of the program's own files only their unit tests.
            let tests = text.find("#[cfg(test)]").map_or("", |at| &text[at..]);
            if path.starts_with(&own) { tests.to_string() } else { text }
        });
        flat(&texts.collect::<Vec<_>>().join("\n").replace("\\\n", " ").replace("\\\"", "\""))
    }

    #[test]
    fn every_message_is_shown_by_a_test() {
        let root = Path::new(env!("LOSTLINK_ROOT"));
        let expected = expected(root);
        let mut sources = Vec::new();
        SOURCES.iter().for_each(|source| files(&root.join(source), &mut sources));
        let (mut unshown, mut all) = (std::collections::BTreeSet::new(), 0);
        for source in sources {
            let text = std::fs::read_to_string(&source).expect("readable");
            let text = &text[..text.find("#[cfg(test)]").unwrap_or(text.len())];
            for call in CALLS {
                for (at, _) in text.match_indices(call) {
                    for literal in literals(&text[at..]) {
                        // The longest part that is the same in every message; what is short says nothing by itself.
                        let parts = literal.split('\0').map(flat);
                        let part = parts.max_by_key(String::len).unwrap_or_default();
                        let words = part.trim_matches(|c: char| !c.is_alphanumeric() && c != '`');
                        if words.len() >= 12 && words.contains(' ') {
                            all += 1;
                            if !expected.contains(words) {
                                let file = source.strip_prefix(root).unwrap_or(&source).display().to_string();
                                unshown.insert(format!("{file}: {words}\n"));
                            }
                        }
                    }
                }
            }
        }
        assert!(all > 150, "only {all} messages found: the search is broken");
        let differing = differs(&broken().join("unshown.txt"), &unshown.into_iter().collect::<String>());
        assert!(
            differing.is_empty(),
            "messages that no test shows: give tests/broken an input for them, or LOSTLINK_BLESS=1\n{differing}"
        );
    }
}

const FLAT: &str = r#"title = "Flat"
[site]
lat_deg = 47.0
lon_deg = 9.0
height_amsl_m = 400
EXTRA
[craft]
mass_kg = 1.0   # kitchen scale
[path]
PATH
[[policy]]
name = "land"
[[policy.action]]
land = {}
"#;

fn flat(extra: &str, path: &str) -> String {
    FLAT.replace("EXTRA", extra).replace("PATH", path)
}

/// A map on which every height that the scenario may state is open: trees, storeys, a building, power lines.
const OPEN_HEIGHTS: &str = r#"<osm version="0.6">
<node id="1" lat="47.001" lon="ORIGIN.001"><tag k="natural" v="tree"/></node>
<node id="2" lat="47.002" lon="ORIGIN.001"/><node id="3" lat="47.002" lon="ORIGIN.0012"/><node id="4" lat="47.0022" lon="ORIGIN.0012"/>
<node id="5" lat="47.001" lon="ORIGIN.002"><tag k="power" v="tower"/></node>
<node id="6" lat="47.001" lon="ORIGIN.003"><tag k="power" v="pole"/></node>
<way id="7"><nd ref="2"/><nd ref="3"/><nd ref="4"/><nd ref="2"/><tag k="building" v="house"/><tag k="building:levels" v="2"/></way>
<way id="8"><nd ref="2"/><nd ref="3"/><nd ref="4"/><nd ref="2"/><tag k="building" v="shed"/></way>
</osm>"#;

fn memory(files: &[(&str, &str)]) -> scenario::MemoryFiles {
    scenario::MemoryFiles(files.iter().map(|(name, text)| ((*name).into(), text.as_bytes().to_vec())).collect())
}

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

#[test]
fn the_page_about_the_format_is_current() {
    let path = Path::new(env!("LOSTLINK_ROOT")).join("docs/scenario.md");
    let page = std::fs::read_to_string(path).unwrap_or_default();
    assert!(
        page == scenario::format_page(),
        "docs/scenario.md is not what the reader says: run `cargo run --example keys`"
    );
}

/// The page states the limits that the sources have.
#[test]
fn the_limits_on_the_page_are_those_of_the_sources() {
    let page = scenario::format_page();
    let limits = page.split("## Limits").nth(1).and_then(|rest| rest.split("## ").next()).expect("a section on limits");
    for (stated, file, source) in [
        ("| 16 MB |", "scenario/open.rs", "TEXT_AT_MOST_BYTES: u64 = 16 << 20;"),
        ("| 1 GB |", "scenario/open.rs", "DATA_AT_MOST_BYTES: u64 = 1 << 30;"),
        ("64 MB,", "geodata/feature.rs", "BYTES_AT_MOST: usize = 64 << 20;"),
        ("2,000,000 positions", "geodata/feature.rs", "POSITIONS_AT_MOST: usize = 2_000_000;"),
        ("path | 20,000 |", "scenario/track.rs", "POINTS_AT_MOST: usize = 20_000;"),
        ("| 60,000, 10,000 ", "scenario/parts/site.rs", "ZONES_AT_MOST: usize = 60_000;"),
        ("10,000 of them over one place |", "scenario/parts/site.rs", "ZONES_OVER_A_PLACE: usize = 10_000;"),
        ("| 10,000 |", "geodata/table.rs", "ROWS_AT_MOST: usize = 10_000;"),
        ("| 36,000,000 |", "geodata/raster.rs", "VALUES_AT_MOST: usize = 36_000_000;"),
        ("| 60 km |", "scenario/parts/extent.rs", "WIDEST_M: f64 = 60_000.0;"),
        ("| 4 million |", "site/grid.rs", "CELLS_AT_MOST: f64 = 4.0e6;"),
        ("| 24 |", "scenario/parts/policy.rs", "POLICIES_AT_MOST: usize = 24;"),
        ("| 10,000,000 |", "scenario/read.rs", "\"flights\", 1, 10_000_000,"),
    ] {
        let text = std::fs::read_to_string(Path::new(env!("LOSTLINK_ROOT")).join("src").join(file)).expect("readable");
        assert!(text.contains(source), "{file}: {source}");
        assert!(limits.contains(stated), "{stated} stands for {source}: {limits}");
    }
}

/// A TOML value as JSON; a date becomes a text.
fn json_of(value: &toml::Value) -> serde_json::Value {
    use serde_json::Value as Json;
    match value {
        toml::Value::String(text) => text.as_str().into(),
        toml::Value::Integer(number) => (*number).into(),
        toml::Value::Float(number) => (*number).into(),
        toml::Value::Boolean(flag) => (*flag).into(),
        toml::Value::Datetime(moment) => moment.to_string().into(),
        toml::Value::Array(list) => list.iter().map(json_of).collect(),
        toml::Value::Table(table) => {
            Json::Object(table.iter().map(|(key, value)| (key.clone(), json_of(value))).collect())
        }
    }
}

fn json_of_text(text: &str) -> serde_json::Value {
    json_of(&toml::Value::Table(text.parse().expect("TOML")))
}

/// The JSON Schema of the format with as much of a validator as it needs: a library would bring forty crates and turn on a
/// feature of `serde_json` that the program does not have.
struct Schema(serde_json::Value);

impl Schema {
    fn current() -> Schema {
        Schema(scenario::schema_text().parse().expect("JSON"))
    }

    /// Where a value does not fit, and which keyword it breaks; a keyword that is not known here panics.
    fn fault(&self, schema: &serde_json::Value, value: &serde_json::Value, at: &str) -> Option<String> {
        use serde_json::Value as Json;
        let list = value.as_array();
        let all =
            |list: &[Json], schema: &Json| list.iter().find_map(|item| self.fault(schema, item, &format!("{at}[]")));
        let number = value.as_f64();
        let length = list.map(|list| list.len() as f64);
        let beyond = |number: Option<f64>, wrong: fn(f64, f64) -> bool, limit: &Json| {
            number.is_some_and(|number| wrong(number, limit.as_f64().expect("a limit")))
        };
        schema.as_object().expect("a schema").iter().find_map(|(keyword, rule)| {
            let broken = match keyword.as_str() {
                "$schema" | "$defs" | "title" | "description" | "default" => false,
                "$ref" => return self.fault(self.0.pointer(&rule.as_str()?[1..]).expect("defined"), value, at),
                "anyOf" => rule.as_array()?.iter().all(|one| self.fault(one, value, at).is_some()),
                "oneOf" => rule.as_array()?.iter().filter(|one| self.fault(one, value, at).is_none()).count() != 1,
                "dependentRequired" => value.as_object().is_some_and(|table| {
                    rule.as_object().expect("keys").iter().any(|(key, needed)| {
                        let needed = needed.as_array().expect("keys");
                        table.contains_key(key)
                            && !needed.iter().all(|key| table.contains_key(key.as_str().expect("a key")))
                    })
                }),
                "type" => match rule.as_str().expect("a type") {
                    "object" => !value.is_object(),
                    "array" => !value.is_array(),
                    "string" => !value.is_string(),
                    "boolean" => !value.is_boolean(),
                    "number" => !value.is_number(),
                    "integer" => number.is_none_or(|number| number.fract() != 0.0),
                    other => panic!("the type {other}"),
                },
                "enum" => !rule.as_array()?.contains(value),
                "minimum" => beyond(number, |number, limit| number < limit, rule),
                "exclusiveMinimum" => beyond(number, |number, limit| number <= limit, rule),
                "maximum" => beyond(number, |number, limit| number > limit, rule),
                "minItems" => beyond(length, |length, limit| length < limit, rule),
                "maxItems" => beyond(length, |length, limit| length > limit, rule),
                "uniqueItems" => list.is_some_and(|list| (1..list.len()).any(|k| list[..k].contains(&list[k]))),
                "prefixItems" => {
                    let mut pairs = list?.iter().zip(rule.as_array()?);
                    return pairs.find_map(|(item, one)| self.fault(one, item, &format!("{at}[]")));
                }
                "items" => return all(list.map_or(&[], Vec::as_slice), rule),
                "pattern" => {
                    assert_eq!(rule, "\\S");
                    value.as_str().is_some_and(|text| text.trim().is_empty())
                }
                "required" => value.as_object().is_some_and(|table| {
                    !rule.as_array().expect("keys").iter().all(|key| table.contains_key(key.as_str().expect("a key")))
                }),
                "additionalProperties" => {
                    assert_eq!(rule, false);
                    let known = schema["properties"].as_object().expect("properties");
                    value.as_object().is_some_and(|table| table.keys().any(|key| !known.contains_key(key)))
                }
                "properties" => {
                    return value.as_object()?.iter().find_map(|(key, value)| {
                        rule.get(key).and_then(|own| self.fault(own, value, &format!("{at}.{key}")))
                    });
                }
                other => panic!("the keyword {other}"),
            };
            broken.then(|| format!("{at}: {keyword} {rule}"))
        })
    }

    fn fault_of(&self, value: &serde_json::Value) -> Option<String> {
        self.fault(&self.0, value, "")
    }
}

#[test]
fn the_json_schema_is_current_and_fits_every_shipped_scenario() {
    let path = Path::new(env!("LOSTLINK_ROOT")).join("docs/scenario.schema.json");
    let there = std::fs::read_to_string(path).unwrap_or_default();
    assert!(there == scenario::schema_text(), "docs/scenario.schema.json differs: run `cargo run --example keys`");
    let schema = Schema::current();
    let starters = std::fs::read_dir(Path::new(env!("LOSTLINK_ROOT")).join("starters")).expect("a folder");
    let starters = starters.map(|entry| entry.expect("an entry").path());
    let starters = starters.filter(|path| path.extension().is_some_and(|ending| ending == "toml"));
    let texts =
        scenario_files().into_iter().chain(starters).map(|path| std::fs::read_to_string(path).expect("readable"));
    let texts: Vec<String> = texts.chain([scenario::SHORTEST.to_string()]).collect();
    assert!(texts.len() >= 12);
    for text in texts {
        assert_eq!(schema.fault_of(&json_of_text(&text)), None);
    }
    // What the reader refuses for its form, the schema refuses.
    for (key, value) in [
        ("weather.wind_kmh", "3"),
        ("weather.wind_mps", "41"),
        ("weather.wind_mps", "{ normal = [1] }"),
        ("weather.wind_mps", "{ gaussian = [1, 1] }"),
        ("weather.hill_wind", "1"),
        ("craft.rotors", "4.5"),
        ("craft.linear_drag_per_s", "-0.1"),
        ("craft.drag_area_m2", "0"),
        ("craft.battery.cell_form", "\"pouches\""),
        ("path.waypoints_m", "[[0, 1]]"),
        ("radio.telemetry", "{ power_dbm = 99 }"),
        ("radio.interferer", "[{ dutty = 1 }]"),
        ("title", "\" \""),
        ("policy", "[]"),
        ("policy", "[{ action = [{ land = {} }] }]"),
        ("policy", "[{ name = \"wait\", action = [{ guard = {} }] }]"),
        ("path", "{ speed_mps = 5 }"),
        ("craft", "{ name = \"no mass\" }"),
        ("site.lat_deg", "50"),
        ("site.fence", "{ circle_m = [0, 0, 300], line_m = [[0, 0], [1, 1]], width_m = 3 }"),
        ("site.zone", "[{ kind = \"road\", line_m = [[0, 0], [1, 1]] }]"),
        ("site.zone", "[{ kind = \"road\" }]"),
    ] {
        let mut whole = json_of_text(scenario::SHORTEST);
        let parts: Vec<&str> = key.split('.').collect();
        let mut at = &mut whole;
        for part in &parts {
            at = &mut at[*part];
        }
        *at = json_of_text(&format!("x = {value}"))["x"].clone();
        assert!(schema.fault_of(&whole).is_some(), "{key} = {value} fits the schema");
    }
    for table in ["craft", "path", "policy", "title"] {
        let mut whole = json_of_text(scenario::SHORTEST);
        whole.as_object_mut().expect("a table").remove(table);
        assert!(schema.fault_of(&whole).is_some(), "{table} may be left out by the schema");
    }
}

/// What an editor puts in for a key fits the key, and most keys have something.
#[test]
fn defaults_of_the_json_schema_fit_it() {
    fn walk(schema: &Schema, below: &serde_json::Value, at: &str, seen: &mut usize) {
        if let Some(default) = below.get("default") {
            assert_eq!(schema.fault(below, default, at), None, "{default}");
            *seen += 1;
        }
        if let Some(properties) = below.get("properties").and_then(serde_json::Value::as_object) {
            properties.iter().for_each(|(key, own)| walk(schema, own, &format!("{at}.{key}"), seen));
        }
        below.get("items").into_iter().for_each(|items| walk(schema, items, at, seen));
        let choices = below.get("anyOf").and_then(serde_json::Value::as_array);
        choices.into_iter().flatten().for_each(|one| walk(schema, one, at, seen));
    }
    let schema = Schema::current();
    let mut seen = 0;
    walk(&schema, &schema.0, "", &mut seen);
    assert!(seen > 150, "{seen} defaults");
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

#[path = "../examples/terrain.rs"]
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

mod mutated {
    use super::*;
    use proptest::prelude::*;

    /// The shipped scenarios, to be damaged.
    fn texts() -> Vec<String> {
        let mut texts: Vec<String> =
            scenario_files().iter().map(|path| std::fs::read_to_string(path).expect("readable")).collect();
        texts.push(scenario::SHORTEST.into());
        texts
    }

    /// Damaged maps by tags and in KML, and winds, in the place of the usual files.
    fn others(place: f64, piece: &str) {
        let line = "<kml><Placemark><ExtendedData><Data name=\"kind\"><value>road</value></Data><Data name=\"width_m\"><value>3</value></Data></ExtendedData>\
             <LineString><altitudeMode>absolute</altitudeMode><coordinates>9,47,450 9.001,47.001,460</coordinates></LineString></Placemark></kml>";
        let winds = "height_m,speed_mps,direction_deg\n10,5,270\n60,9,290\n";
        let hours = "time,speed_mps,direction_deg\n08:00+02:00,5,270\n10:00Z,6,280\n";
        let damaged = |text: &str| {
            let mut at = (place * text.len() as f64) as usize;
            while !text.is_char_boundary(at) {
                at -= 1;
            }
            format!("{}{piece}{}", &text[..at], text[at..].chars().skip(1).collect::<String>())
        };
        for map in [line.to_string(), OPEN_HEIGHTS.replace("ORIGIN", "9")] {
            let files = [("m", damaged(&map)), ("p.kml", damaged(line)), ("w", damaged(winds)), ("h", damaged(hours))];
            let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (*name, text.as_str())).collect();
            let text = flat("ground_file = \"m\"", "file = \"p.kml\"")
                + "[weather]\nprofile_file = \"w\"\nseries_file = \"h\"\n";
            if let Err(found) = scenario::read("m.toml", &text, &memory(&files)) {
                lostlink::cli::diagnostics::render(&found, false);
            }
        }
    }

    fn read_and_draw(text: &str) {
        let folder = Folder(Path::new(env!("LOSTLINK_ROOT")).join("scenarios"));
        match scenario::read("mutated.toml", text, &folder) {
            Ok(scenario) => assert!(!scenario.policies.is_empty()),
            Err(found) => {
                assert!(found.iter().any(|finding| finding.severity == scenario::Severity::Error));
                assert!(!lostlink::cli::diagnostics::render(&found, true).is_empty());
            }
        }
    }

    #[test]
    fn odd_ends_do_not_make_the_reader_panic() {
        for text in [
            "",
            "\n",
            "\u{feff}",
            "[",
            "title",
            "title = ",
            "[[policy]]\n[[policy.action]]",
            "[craft",
            "a.b.c = 1",
            "[policy]",
            "policy = [1]",
        ] {
            read_and_draw(text);
        }
    }

    pub(super) const PIECES: [&str; 24] = [
        "-1",
        "0",
        "1e300",
        "nan",
        "inf",
        "-inf",
        "\"\"",
        "[",
        "]",
        "{",
        "}",
        "=",
        "\n",
        "#",
        "true",
        "[[]]",
        "[[0, 0]]",
        "{ normal = [1, 1] }",
        "9223372036854775807",
        "2026-01-01",
        "'",
        "\"\"\"",
        "é",
        "\u{0}",
    ];

    proptest! {
        #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

        /// Bytes cut out, doubled or replaced anywhere.
        #[test]
        fn no_text_makes_the_reader_panic(
            which in 0usize..8,
            edits in prop::collection::vec((0.0f64..1.0, 0usize..40, 0usize..PIECES.len()), 1..6),
        ) {
            let texts = texts();
            let mut text = texts[which % texts.len()].clone();
            for (place, cut, piece) in edits {
                let mut at = (place * text.len() as f64) as usize;
                while !text.is_char_boundary(at) {
                    at -= 1;
                }
                let mut end = (at + cut).min(text.len());
                while !text.is_char_boundary(end) {
                    end += 1;
                }
                text.replace_range(at..end, PIECES[piece]);
            }
            read_and_draw(&text);
        }

        /// One value replaced by another of any kind: the text still parses, so every later stage is met.
        #[test]
        fn no_value_makes_the_reader_panic(which in 0usize..8, line in 0usize..400, piece in 0usize..PIECES.len()) {
            let texts = texts();
            let text = &texts[which % texts.len()];
            let keyed: Vec<usize> = text.lines().enumerate().filter(|(_, line)| line.contains(" = ") && !line.starts_with('#')).map(|pair| pair.0).collect();
            let chosen = keyed[line % keyed.len()];
            let mutated: Vec<String> = text
                .lines()
                .enumerate()
                .map(|(index, line)| {
                    if index == chosen { format!("{} = {}", line.split(" = ").next().unwrap_or_default(), PIECES[piece]) } else { line.to_string() }
                })
                .collect();
            read_and_draw(&mutated.join("\n"));
        }

        /// Files that a scenario names may hold anything.
        #[test]
        fn no_named_file_makes_the_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..200), place in 0.0f64..1.0, piece in 0usize..PIECES.len()) {
            let extra = "terrain_file = \"f\"\nground_file = \"g.geojson\"";
            let path = "file = \"h.gpx\"";
            others(place, PIECES[piece]);
            let good = [
                "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1000\n1 2\n3 4\n".to_string(),
                r#"{ "type": "Feature", "properties": { "kind": "water", "width_m": 3 }, "geometry": { "type": "LineString", "coordinates": [[9.0, 47.0], [9.001, 47.001]] } }"#.to_string(),
                "<gpx><trk><trkseg><trkpt lat=\"47\" lon=\"9\"><ele>430</ele></trkpt></trkseg></trk></gpx>".to_string(),
            ];
            let damaged = good.map(|text| {
                let at = (place * text.len() as f64) as usize;
                format!("{}{}{}", &text[..at], PIECES[piece], &text[(at + 1).min(text.len())..]).into_bytes()
            });
            for files in [damaged, [bytes.clone(), bytes.clone(), bytes.clone()]] {
                let names = ["f", "g.geojson", "h.gpx"].map(String::from);
                let files = scenario::MemoryFiles(names.into_iter().zip(files).collect());
                if let Err(found) = scenario::read("m.toml", &flat(extra, path), &files) {
                    lostlink::cli::diagnostics::render(&found, false);
                }
            }
        }
    }
}

/// Every parser that is fuzzed (fuzz/), without a fuzzer: on its seeds, on what once broke something, and on some thousand mutations, the
/// same ones in every run.
mod fuzz {
    use super::mutated::PIECES;
    use super::targets::{TARGETS, Target};
    use std::path::Path;
    use std::time::{Duration, Instant};

    /// What takes longer than this is a hang: a hundred times the slowest valid input on a busy machine.
    const HANGS: Duration = Duration::from_secs(10);

    fn target(name: &str) -> &'static Target {
        TARGETS.iter().find(|target| target.name == name).expect("a row of TARGETS")
    }

    fn runs(target: &Target, bytes: &[u8]) {
        let start = Instant::now();
        let done = std::panic::catch_unwind(|| (target.run)(bytes));
        let shown = String::from_utf8_lossy(bytes);
        assert!(done.is_ok(), "{} panics at {shown:?}", target.name);
        assert!(start.elapsed() < HANGS, "{} hangs at {shown:?}", target.name);
    }

    /// Whole numbers, the same in every run.
    struct Numbers(u64);

    impl Numbers {
        fn below(&mut self, end: usize) -> usize {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            ((self.0 >> 33) as usize) % end.max(1)
        }
    }

    /// A few edits: bytes cut out, replaced, doubled, taken from another seed, a bit turned.
    fn mutate(bytes: &mut Vec<u8>, other: &[u8], numbers: &mut Numbers) {
        for _ in 0..=numbers.below(4) {
            let at = numbers.below(bytes.len() + 1);
            let end = (at + numbers.below(24)).min(bytes.len());
            match numbers.below(6) {
                0 => drop(bytes.drain(at..end)),
                1 => drop(bytes.splice(at..end, PIECES[numbers.below(PIECES.len())].bytes())),
                2 => {
                    let doubled = bytes[at..end].to_vec();
                    drop(bytes.splice(at..at, doubled));
                }
                3 => {
                    let from = numbers.below(other.len());
                    let piece = &other[from..(from + numbers.below(60)).min(other.len())];
                    drop(bytes.splice(at..end, piece.iter().copied()));
                }
                4 if at < bytes.len() => bytes[at] ^= 1 << numbers.below(8),
                _ => bytes.truncate(at.max(bytes.len() / 2)),
            }
        }
    }

    /// Seeds, what broke something once, mutations of them.
    fn short_run(name: &str, mutations: usize) {
        let target = target(name);
        let mut inputs = (target.seeds)();
        if let Some(corpus) = std::env::var_os("LOSTLINK_FUZZ_CORPUS") {
            let folder = Path::new(&corpus).join(name);
            std::fs::create_dir_all(&folder).expect("a folder");
            for (index, bytes) in inputs.iter().enumerate() {
                std::fs::write(folder.join(format!("seed-{index}")), bytes).expect("written");
            }
        }
        let broken = Path::new(env!("LOSTLINK_ROOT")).join("tests/data/fuzz").join(name);
        let mut found: Vec<_> =
            std::fs::read_dir(broken).into_iter().flatten().flatten().map(|file| file.path()).collect();
        found.sort();
        inputs.extend(found.iter().map(|path| std::fs::read(path).expect("readable")));
        assert!(!inputs.is_empty(), "{name} has no seed");
        inputs.iter().for_each(|bytes| runs(target, bytes));
        // The shortest seeds say most in the least time.
        inputs.sort_by_key(Vec::len);
        let most = inputs.len().min(6);
        let mut numbers = Numbers(name.bytes().map(u64::from).sum());
        for _ in 0..mutations {
            let mut bytes = inputs[numbers.below(most)].clone();
            mutate(&mut bytes, &inputs[numbers.below(inputs.len())], &mut numbers);
            runs(target, &bytes);
        }
    }

    macro_rules! short_runs {
        ($($name:ident: $mutations:literal),* $(,)?) => {
            $(
                #[test]
                fn $name() {
                    short_run(stringify!($name), $mutations);
                }
            )*

            #[test]
            fn every_target_is_run() {
                let names: Vec<&str> = TARGETS.iter().map(|target| target.name).collect();
                assert_eq!(names, [$(stringify!($name)),*]);
                let programs = include_str!("../fuzz/Cargo.toml");
                for name in names {
                    assert!(programs.contains(&format!("name = \"{name}\"\n")), "no [[bin]] of the name {name}");
                }
            }
        };
    }

    // How many mutations fit into half a second or less.
    short_runs! {
        scenario: 150,
        scenario_files: 300,
        ground_geojson: 500,
        path_geojson: 500,
        path_gpx: 500,
        features_geojson: 2000,
        features_gpx: 2000,
        features_kml: 2000,
        map_export: 300,
        ground_kml: 200,
        ground_map: 60,
        winds: 200,
        grid_ascii: 5000,
        raster_geotiff: 100,
        raster_hgt: 5,
        almanac_yuma: 5000,
        navigation_rinex: 3000,
        lesson: 40,
        summary: 300,
        state: 300,
        edit: 120,
    }
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

/// Every key of the format changes what is read: a key that nothing reads, or whose `false` or 0 is passed over, is found here.
mod keys {
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
            "site.terrain_file" => {
                "['slope.asc', 'step.asc', '', ['metres.asc', 'slope.asc'], ['slope.asc', 'step.asc']]"
            }
            // UTM zone 32 and the plane of web maps.
            "site.terrain_epsg" => "[32632, 3857]",
            // Without a word from the file the third is the first.
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
            let own: Vec<f64> = match value(&format!("[{}]", doc.default.trim_matches(['[', ']']).replace("none", "")))
            {
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
        let asc = |row: &str| {
            format!("ncols 3\nnrows 3\nxllcorner -900\nyllcorner -900\ncellsize 600\n{row}\n{row}\n{row}\n")
        };
        // Wide enough to lie under the site by either system.
        let row = "1 2 3 4 5 6 7 8 9 10 11 12\n";
        let metres = format!("ncols 12\nnrows 12\nxllcorner 0\nyllcorner 5000000\ncellsize 100000\n{}", row.repeat(12));
        let gpx = |up: u32| {
            format!(
                "<gpx><trk><trkseg><trkpt lat=\"47.0001\" lon=\"8.0001\"><ele>{up}</ele></trkpt></trkseg></trk></gpx>"
            )
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
                ("map.osm", super::OPEN_HEIGHTS.replace("ORIGIN", "8")),
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
        let schema = super::Schema::current();
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
                        if let Some(fault) = schema.fault_of(&super::json_of(&Value::Table(table))) {
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
}

/// Mistakes of the files that a scenario names, and things to be asked about, each with what is said of it and what would be accepted.
mod told {
    use super::flat;
    use lostlink::scenario::{self, Diagnostic, MemoryFiles};
    use lostlink::sky;

    /// All that is said of a scenario with one file.
    fn said(text: &str, name: &str, bytes: &[u8]) -> String {
        let files = MemoryFiles([(name.to_string(), bytes.to_vec())].into());
        match scenario::read("f.toml", text, &files) {
            Ok(scenario) => scenario.warnings.join("\n"),
            Err(found) => found.iter().map(Diagnostic::in_words).collect::<Vec<_>>().join("\n"),
        }
    }

    const PATH: &str = "waypoints_m = [[0, 40, 20], [60, 40, 20]]";

    #[test]
    fn every_mistake_comes_with_its_remedy() {
        let site = |extra: &str| flat(extra, PATH);
        let after = |text: &str| flat("", PATH) + text;
        let nested = "{\"type\": \"GeometryCollection\", \"geometries\": [".repeat(10) + &"]}".repeat(10);
        let nested = format!("{{\"type\": \"Feature\", \"properties\": {{}}, \"geometry\": {nested}}}");
        let metres = "ncols 2\nnrows 2\nxllcorner 1000\nyllcorner 2000\ncellsize 10\n1 2\n3 4\n";
        let beside =
            format!("ncols 20\nnrows 20\nxllcorner 9.02\nyllcorner 47.02\ncellsize 0.001\n{}", "5 ".repeat(400));
        let hours = "time,speed_mps,direction_deg\n09:00+02:00,3,240\n15:00+02:00,7,280\n";
        let feature = |properties: &str, geometry: &str| {
            format!("{{\"type\": \"Feature\", \"properties\": {{{properties}}}, \"geometry\": {{{geometry}}}}}")
        };
        let spot = |lon: f64, lat: f64| {
            let point = format!("\"type\": \"Point\", \"coordinates\": [{lon}, {lat}]");
            feature("\"kind\": \"clear\", \"radius_m\": 1", &point)
        };
        let list =
            |spots: Vec<String>| format!("{{\"type\": \"FeatureCollection\", \"features\": [{}]}}", spots.join(","));
        let side_by_side = (0..60_001).map(|n| spot(9.0 + 2e-5 * f64::from(n % 245), 47.0 + 2e-5 * f64::from(n / 245)));
        let spots = list(side_by_side.collect());
        let heap = list(vec![spot(9.0, 47.0); 10_001]);
        let ring =
            |x: f64, y: f64, side: f64| format!("[[{x}, {y}], [{}, {y}], [{x}, {}], [{x}, {y}]]", x + side, y + side);
        let holes =
            (0..6400).map(|index| ring(9.0 + 1e-5 * f64::from(index % 80), 47.0 + 1e-5 * f64::from(index / 80), 5e-6));
        let rings: Vec<String> = [ring(8.99, 46.99, 0.05)].into_iter().chain(holes).collect();
        let sieve =
            feature("\"kind\": \"clear\"", &format!("\"type\": \"Polygon\", \"coordinates\": [{}]", rings.join(",")));
        // (scenario, name of its file, the file, what is found, what would be accepted)
        let cases: Vec<(String, &str, &[u8], &str, &str)> = vec![
            (
                site("terrain_file = \"g.asc\"\nterrain_epsg = 4326"),
                "g.asc",
                metres.as_bytes(),
                "coordinates that are no degrees",
                "the `terrain_epsg` of the grid's own coordinates",
            ),
            (
                site("terrain_file = \"g.asc\"").replace("height_amsl_m = 400", ""),
                "g.asc",
                beside.as_bytes(),
                "no height at x = y = 0, from which heights are counted",
                "`height_amsl_m` in `[site]`",
            ),
            (
                site("ground_file = \"g.geojson\""),
                "g.geojson",
                nested.as_bytes(),
                "collections within collections",
                "a geometry of no more than 8 levels",
            ),
            (
                site("ground_file = \"g.geojson\""),
                "g.geojson",
                spots.as_bytes(),
                "60001 zones",
                "at most 60000: a smaller `extent_m`, or less of the map",
            ),
            (
                site("ground_file = \"g.geojson\""),
                "g.geojson",
                heap.as_bytes(),
                "10001 zones over one place",
                "at most 10000: zones that lie side by side",
            ),
            (
                site("ground_file = \"g.geojson\""),
                "g.geojson",
                sieve.as_bytes(),
                "a polygon of 6401 rings, too many for its size",
                "fewer holes, or several smaller polygons",
            ),
            (site("ground_file = \"g.geojson\""), "g.geojson", b"\xff\xfe", "is not text", "a text file in UTF-8"),
            (
                site("ground_file = \"m.osm\""),
                "m.osm",
                b"<map version=\"1\"></map>",
                "XML with the outermost element `map`",
                "`<osm>`",
            ),
            (
                flat("", "file = \"p.gpx\""),
                "p.gpx",
                b"<gpx><trk><trkseg><trkpt lat=47 lon=\"9\"/></trkseg></trk></gpx>",
                "an attribute that is none",
                "GPX",
            ),
            (
                site("ground_file = \"m.osm\"\n[site.map]\ntree_height_m = 20"),
                "m.osm",
                b"<osm version=\"0.6\"></osm>",
                "a height that nothing on the map needs",
                "a key of which the map has something without a height",
            ),
            (
                site("ground_file = \"m.osm\""),
                "m.osm",
                b"<osm><way id=\"1\"><nd ref=\"9\"/><tag k=\"role\" v=\"zone\"/></way></osm>",
                "geometry",
                "a whole shape",
            ),
            (
                site("extent_m = [-300, -300, 300, 300]") + "[pilot]\nplace_m = [9000, 0]\n",
                "",
                b"",
                "a pilot outside the extent",
                "a place within `extent_m`",
            ),
            (
                site("").replace("land = {}", "return = { height = { from = \"home\" } }"),
                "",
                b"",
                "up_m",
                "a number of metres, 0 to 2000",
            ),
            (
                after("[radio.control]\npacket_rate_hz = 10\nreceiver = { patience_s = 0.15 }\n"),
                "",
                b"",
                "a silence of 0.15 s that counts as a loss, with a packet every 0.1 s",
                "`receiver.patience_s` of two packet intervals or more: else a healthy link is called lost",
            ),
            (
                after("[weather]\nwind_mps = 5\nseries_file = \"w.csv\"\n"),
                "w.csv",
                hours.as_bytes(),
                "a wind stated beside `series_file`: it goes before what the file has",
                "one of the two",
            ),
            (
                after("[sky]\nutc = 2035-06-20T10:00:00Z\n"),
                "",
                b"",
                "the year 2035, for which the magnetic model gives no declination",
                "a year from 2020 to 2029, or `sky.declination_deg`",
            ),
            (
                site("[[site.obstacle]]\nkind = \"building\"\ncircle_m = [9000, 0, 5]\nheight_m = 5"),
                "",
                b"",
                "for its sake the grid's cells are",
                "what is drawn near the path, or an `extent_m` that leaves out what is far",
            ),
        ];
        let fault = lostlink::geodata::map_export::read("<map></map>").expect_err("no export");
        assert_eq!(fault.found, "the element `map`");
        // What callers of the library may ask for, and a scenario cannot.
        let field =
            |year: f64, lat_deg: f64| sky::magnetic_field(year, 0.0, lat_deg, 9.0).expect_err("none").to_string();
        assert_eq!(
            field(2035.0, 47.0),
            "the magnetic model covers 2020.0 to 2030.0, not 2035; state the declination instead"
        );
        assert_eq!(field(2026.0, 95.0), "no magnetic field for latitude 95°, longitude 9°, height 0 m");
        let date = sky::Calendar::of_parts([2026, 2, 30, 0, 0, 0]).expect_err("no such day").to_string();
        assert!(date.starts_with("no such date or time of day: "), "{date}");
        for (text, name, bytes, found, accepted) in cases {
            let said = said(&text, name, bytes);
            assert!(said.contains(found) && said.contains(accepted), "{found}: {said}\n{text}");
        }
    }
}
