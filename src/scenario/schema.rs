//! The JSON Schema of the scenario file, made from the reader's own list of keys.

use super::kind::{KeyDoc, Kind, REQUIRED, distribution_schema};
use super::parts::policy::ACTION_WORDS;
use super::read::key_list;
use serde_json::{Map, Value, json};

/// The JSON Schema of a scenario file, as `docs/scenario.schema.json` holds it. TOML that is turned into JSON fits it; a
/// date of TOML is a text.
pub fn schema_text() -> String {
    let mut root = table();
    let keys = key_list();
    for doc in &keys {
        let path: Vec<&str> = doc.key.split('.').collect();
        put(&mut root, &path, doc);
    }
    forms(&mut root, "");
    let about = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "lostlink scenario",
        "description": "A scenario file of lostlink. It is TOML; a date and time of TOML counts as a text.",
        "$defs": { "distribution": distribution_schema() },
    });
    let mut whole = about.as_object().cloned().unwrap_or_default();
    whole.extend(root.as_object().cloned().unwrap_or_default());
    let text = serde_json::to_string_pretty(&Value::Object(whole)).unwrap_or_default();
    text + "\n"
}

/// A table that knows no key yet.
fn table() -> Value {
    json!({ "type": "object", "properties": {}, "additionalProperties": false })
}

/// Puts a key into the schema of the table at the start of its path.
fn put(inside: &mut Value, path: &[&str], doc: &KeyDoc) {
    let [first, rest @ ..] = path else { return };
    let (name, listed) = first.strip_suffix("[]").map_or((*first, false), |name| (name, true));
    if rest.is_empty() {
        let own = of_key(doc);
        if doc.default == REQUIRED {
            require(inside, name);
        }
        properties(inside).insert(name.into(), own);
        return;
    }
    let below = properties(inside).entry(name).or_insert_with(table);
    // A table that nobody can leave out, because a key in it cannot be.
    if doc.default == REQUIRED && rest.len() == 1 && !listed && below.get("anyOf").is_none() {
        require(inside, name);
    }
    let below = properties(inside).entry(name).or_insert_with(table);
    // Of a list it is the table that every item is; of what may be `false`, the table beside it.
    let below = if listed { entry(below, "items", table()) } else { below };
    let below = if below.get("anyOf").is_some() { &mut below["anyOf"][1] } else { below };
    put(below, rest, doc);
}

fn require(table: &mut Value, name: &str) {
    if let Value::Array(list) = entry(table, "required", json!([]))
        && !list.contains(&name.into())
    {
        list.push(name.into());
    }
}

/// What the list of keys does not state: which keys go together, and which of several must be there.
fn forms(schema: &mut Value, path: &str) {
    let any_of = |keys: &[&str]| Value::Array(keys.iter().map(|key| json!({ "required": [key] })).collect());
    let known = schema.get("properties").and_then(Value::as_object);
    let has = |key: &str| known.is_some_and(|known| known.contains_key(key));
    let mut found: Vec<(&str, Value)> = Vec::new();
    if path.is_empty() {
        found.push(("required", json!(["path", "policy"])));
    }
    if path == ".path" {
        found.push(("anyOf", any_of(&["waypoints_m", "file"])));
    }
    if has("polygon_m") && has("circle_m") {
        found.push(("oneOf", any_of(&["polygon_m", "circle_m", "line_m"])));
        found.push(("dependentRequired", json!({ "line_m": ["width_m"], "width_m": ["line_m"] })));
    }
    if has("lat_deg") {
        found.push(("dependentRequired", json!({ "lat_deg": ["lon_deg"], "lon_deg": ["lat_deg"] })));
    }
    if path.ends_with(".action") {
        found.push(("anyOf", any_of(&ACTION_WORDS)));
    }
    for (keyword, rule) in found {
        match (entry(schema, keyword, json!([])), rule) {
            (Value::Array(there), Value::Array(more)) => {
                let new: Vec<Value> = more.into_iter().filter(|one| !there.contains(one)).collect();
                there.extend(new);
            }
            (there, rule) => *there = rule,
        }
    }
    for (name, below) in properties(schema).iter_mut() {
        let path = format!("{path}.{name}");
        if path == ".policy" {
            entry(below, "minItems", json!(1));
        }
        let below = if below.get("items").is_some() { &mut below["items"] } else { below };
        let below = if below.get("anyOf").is_some_and(|list| list[1].get("properties").is_some()) {
            &mut below["anyOf"][1]
        } else {
            below
        };
        if below.get("properties").is_some() {
            forms(below, &path);
        }
    }
}

fn properties(table: &mut Value) -> &mut Map<String, Value> {
    match entry(table, "properties", json!({})) {
        Value::Object(map) => map,
        _ => unreachable!("properties are an object"),
    }
}

fn entry<'v>(of: &'v mut Value, key: &str, otherwise: Value) -> &'v mut Value {
    match of {
        Value::Object(map) => map.entry(key).or_insert(otherwise),
        _ => unreachable!("a schema is an object"),
    }
}

fn of_key(doc: &KeyDoc) -> Value {
    let mut own = match doc.kind {
        Kind::Table => json!({ "anyOf": [{ "type": "boolean" }, table()] }),
        _ => doc.kind.schema(),
    };
    let said = if doc.default == REQUIRED { String::new() } else { format!(" Default: {}.", doc.default) };
    let source = if doc.source.is_empty() { String::new() } else { format!(" Source: {}.", doc.source) };
    entry(&mut own, "description", format!("{}.{said}{source}", doc.meaning).into());
    if let Some(value) = default_of(doc) {
        entry(&mut own, "default", value);
    }
    own
}

/// The default as a value, where it is one: editors put it in.
fn default_of(doc: &KeyDoc) -> Option<Value> {
    if matches!(doc.kind, Kind::Table | Kind::Tables(_) | Kind::Pairs) {
        return None;
    }
    let whole: toml::Table = format!("value = {}", doc.default).parse().ok()?;
    let value = whole.get("value")?;
    // Where a list is not to be empty, an empty one is what its absence means, not what may be put in.
    if matches!(doc.kind, Kind::Words(_)) && value.as_array().is_some_and(Vec::is_empty) {
        return None;
    }
    // A date of TOML is a text in JSON.
    value.as_datetime().map_or_else(|| serde_json::to_value(value).ok(), |moment| Some(moment.to_string().into()))
}
