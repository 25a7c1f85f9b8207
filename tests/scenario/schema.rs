//! The page about the format and its JSON Schema: current, and at one with the reader.

use super::helpers::scenario_files;
use lostlink::scenario;
use std::path::Path;

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
pub fn json_of(value: &toml::Value) -> serde_json::Value {
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
pub struct Schema(serde_json::Value);

impl Schema {
    pub fn current() -> Schema {
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

    pub fn fault_of(&self, value: &serde_json::Value) -> Option<String> {
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
