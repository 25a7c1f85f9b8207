//! The JSON Schema of the scenario file, made from the reader's own list of keys.

use super::kind::{KeyDoc, Kind, REQUIRED, distribution_schema};
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
    let about = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "lostlink scenario",
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
            let required = entry(inside, "required", json!([]));
            if let Some(list) = required.as_array_mut() {
                list.push(name.into());
            }
        }
        properties(inside).insert(name.into(), own);
        return;
    }
    let below = properties(inside).entry(name).or_insert_with(table);
    // Of a list it is the table that every item is; of what may be `false`, the table beside it.
    let below = if listed { entry(below, "items", table()) } else { below };
    let below = if below.get("anyOf").is_some() { &mut below["anyOf"][1] } else { below };
    put(below, rest, doc);
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
    own
}
