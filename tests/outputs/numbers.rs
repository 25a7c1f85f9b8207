//! The numbers of all outputs of the shipped scenarios, at few flights, beside those stored in `tests/data/numbers`.
//!
//! Rearranging code keeps every one of them: counts exactly, the others to a part in 10⁹. Whoever means to change a number writes
//! them anew with `LOSTLINK_BLESS=1 cargo test --release --test outputs numbers::`, reads the difference, and says why in the change.
//!
//! A line is a place in the JSON and the numbers that stand there, each by its key. Long lists are kept as count, mean and root
//! mean square of each key, texts of the sheet as the numbers in them. Numbers that the stored file does not know are let pass
//! until it is written anew.

use crate::expected::blessed;
use crate::typed::lostlink;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Lists longer than this are condensed.
const LONGEST: usize = 8;

/// What says how, not what: texts, versions, and the inputs as the file gives them.
const LEFT_OUT: &[&str] = &[
    "about",
    "command",
    "date",
    "format",
    "inputs",
    "knowledge",
    "program_version",
    "scenario_hash",
    "seed",
    "version",
];

/// What is asked of a scenario, beside its file. What-if bars and conditions take most of the time of an assessment and the winds
/// most of that of a sheet: not every scenario is asked for them.
fn questions(name: &str) -> Vec<(&'static str, Vec<&'static str>)> {
    let mut assess = vec!["assess", "--flights", "24", "--json"];
    if name != "club-field" {
        assess.push("--quick");
    }
    let mut list = vec![
        ("check", vec!["check", "--json"]),
        ("assess", assess),
        ("heights", vec!["heights", "--flights", "10", "--count", "3", "--json"]),
        ("replay", vec!["replay", "1", "--json"]),
        ("reach", vec!["reach", "--cells", "20", "--json"]),
        ("sky", vec!["sky", "--json"]),
    ];
    if ["club-field", "lake-shore"].contains(&name) {
        list.push(("sheet", vec!["sheet", "--flights", "12"]));
    }
    list
}

/// A number as it stands in the file: a count, a quantity, or what a text says.
#[derive(Debug, Clone, PartialEq)]
enum Number {
    Count(i64),
    Quantity(f64),
    /// Count, mean and root mean square of the numbers at one key of a long list.
    List(usize, f64, f64),
    Words(String),
}

impl Number {
    fn in_text(&self) -> String {
        let short = |x: f64| format!("{:?}", format!("{x:.11e}").parse::<f64>().expect("a number"));
        match self {
            Number::Count(count) => count.to_string(),
            Number::Quantity(x) => short(*x),
            Number::List(count, mean, rms) => format!("{count} x {} ~ {}", short(*mean), short(*rms)),
            Number::Words(words) => format!("\"{words}\""),
        }
    }

    fn from_text(text: &str) -> Option<Number> {
        if let Some(words) = text.strip_prefix('"') {
            return Some(Number::Words(words.strip_suffix('"')?.to_string()));
        }
        if let Some((count, rest)) = text.split_once(" x ") {
            let (mean, rms) = rest.split_once(" ~ ")?;
            return Some(Number::List(count.parse().ok()?, mean.parse().ok()?, rms.parse().ok()?));
        }
        text.parse().map(Number::Count).or_else(|_| text.parse().map(Number::Quantity)).ok()
    }

    fn agrees(&self, other: &Number) -> bool {
        let near = |a: f64, b: f64, scale: f64| (a - b).abs() <= 1e-9 * scale + 1e-12;
        match (self, other) {
            (&Number::Quantity(a), &Number::Quantity(b)) => near(a, b, a.abs()),
            (&Number::List(count, mean, rms), &Number::List(others, other_mean, other_rms)) => {
                count == others && near(mean, other_mean, rms) && near(rms, other_rms, rms)
            }
            _ => self == other,
        }
    }
}

/// The numbers in a text, as they are printed there; empty when there is none.
fn printed(text: &str) -> String {
    let mut found: Vec<String> = Vec::new();
    let mut number = String::new();
    for letter in text.chars().chain([' ']) {
        if letter.is_ascii_digit() || (!number.is_empty() && ".,".contains(letter)) || letter == '−' {
            number.push(letter);
        } else {
            let digits = number.trim_end_matches(['.', ',', '−']);
            if !digits.is_empty() {
                found.push(digits.to_string());
            }
            number.clear();
        }
    }
    found.join(" ")
}

fn number(value: &serde_json::Number) -> Number {
    value.as_i64().map_or_else(|| Number::Quantity(value.as_f64().expect("a number")), Number::Count)
}

/// Puts the numbers below a value into the list, by their places.
fn flatten(place: &str, value: &Value, list: &mut BTreeMap<String, Number>) {
    let mut put = |number| list.insert(place.to_string(), number);
    match value {
        Value::Null => {}
        Value::Bool(yes) => drop(put(Number::Count(i64::from(*yes)))),
        Value::Number(value) => drop(put(number(value))),
        Value::String(text) => {
            // Elsewhere the numbers of a text stand beside it.
            let words = printed(text);
            if place.starts_with("sheet.") && !words.is_empty() {
                put(Number::Words(words));
            }
        }
        Value::Object(map) => {
            for (key, value) in map.iter().filter(|(key, _)| !LEFT_OUT.contains(&key.as_str())) {
                flatten(&format!("{place}.{key}"), value, list);
            }
        }
        Value::Array(values) => {
            let bare = values.iter().all(Value::is_number);
            if !bare || values.len() > LONGEST {
                put(Number::Count(values.len() as i64));
            }
            // The rows of the test sheet are texts: they stay apart. In a list of lists only plain places do.
            let condensed = values.len() > LONGEST && place != "sheet.tests" || place.starts_with('*') && !bare;
            if condensed {
                condense(place, values, list);
            } else {
                for (index, value) in values.iter().enumerate() {
                    flatten(&format!("{place}.{index}"), value, list);
                }
            }
        }
    }
}

/// A long list by its keys.
fn condense(place: &str, values: &[Value], list: &mut BTreeMap<String, Number>) {
    let mut by_key: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for value in values {
        let mut inside = BTreeMap::new();
        flatten("*", value, &mut inside);
        for (key, number) in inside {
            match number {
                Number::Count(count) => by_key.entry(key).or_default().push(count as f64),
                Number::Quantity(x) => by_key.entry(key).or_default().push(x),
                Number::List(count, mean, rms) => {
                    by_key.entry(format!("{key}(count)")).or_default().push(count as f64);
                    by_key.entry(format!("{key}(mean)")).or_default().push(mean);
                    by_key.entry(format!("{key}(rms)")).or_default().push(rms);
                }
                Number::Words(_) => {}
            }
        }
    }
    for (key, numbers) in by_key {
        let mean_of = |f: fn(f64) -> f64| numbers.iter().map(|&x| f(x)).sum::<f64>() / numbers.len() as f64;
        let entry = Number::List(numbers.len(), mean_of(|x| x), mean_of(|x| x * x).sqrt());
        list.insert(format!("{place}.{key}"), entry);
    }
}

/// What the program says of a scenario, by place.
fn told(name: &str) -> BTreeMap<String, Number> {
    let root = Path::new(env!("LOSTLINK_ROOT"));
    let out = tempfile::tempdir().expect("a folder for the reports");
    let mut list = BTreeMap::new();
    for (question, mut arguments) in questions(name) {
        let folder = out.path().join(question);
        let scenario = root.join(format!("scenarios/{name}.toml"));
        arguments.insert(1, scenario.to_str().expect("a plain path"));
        if !["check", "replay"].contains(&question) {
            arguments.extend(["--out", folder.to_str().expect("a plain path")]);
        }
        let done = lostlink(Path::new("."), &arguments).assert().code(0);
        let bytes = match question {
            "sheet" => std::fs::read(folder.join("sheet.json")).expect("the sheet is written"),
            _ => done.get_output().stdout.clone(),
        };
        flatten(question, &serde_json::from_slice(&bytes).expect("JSON"), &mut list);
    }
    list
}

fn stored_at(name: &str) -> PathBuf {
    Path::new(env!("LOSTLINK_ROOT")).join(format!("tests/data/numbers/{name}.txt"))
}

/// Compares, or writes anew.
fn hold(name: &str) {
    let told = told(name);
    if blessed(&stored_at(name), &in_lines(&told)) {
        return;
    }
    let stored = std::fs::read_to_string(stored_at(name)).expect("numbers are stored");
    let odd = differences(&stored, &told);
    let shown: Vec<&str> = odd.iter().take(40).map(String::as_str).collect();
    assert!(odd.is_empty(), "{name}: {} numbers are others than before:\n{}", odd.len(), shown.join("\n"));
}

/// The numbers of one place on one line: `place: key number, key number`.
fn in_lines(told: &BTreeMap<String, Number>) -> String {
    let mut lines: BTreeMap<&str, String> = BTreeMap::new();
    for (place, number) in told {
        let (parent, key) = place.rsplit_once('.').expect("every place lies in an output");
        let line = lines.entry(parent).or_insert_with(|| format!("{parent}:"));
        *line += &format!("{}{key} {}", if line.ends_with(':') { " " } else { ", " }, number.in_text());
    }
    lines.into_values().map(|line| line + "\n").collect()
}

/// 'place: was, is' of every stored number that is another now.
fn differences(stored: &str, told: &BTreeMap<String, Number>) -> Vec<String> {
    let mut odd = Vec::new();
    for (parent, numbers) in stored.lines().filter_map(|line| line.split_once(": ")) {
        for entry in numbers.split(", ") {
            let (key, was) = entry.split_once(' ').unwrap_or_else(|| panic!("{parent}: no number: {entry}"));
            let before = Number::from_text(was).unwrap_or_else(|| panic!("{parent}: not a number: {entry}"));
            let place = format!("{parent}.{key}");
            match told.get(&place) {
                Some(now) if before.agrees(now) => {}
                Some(now) => odd.push(format!("{place}: was {was}, is {}", now.in_text())),
                None => odd.push(format!("{place}: was {was}, is not there")),
            }
        }
    }
    odd
}

#[test]
fn club_field() {
    hold("club-field");
}

#[test]
fn lake_shore() {
    hold("lake-shore");
}

#[test]
fn open_air_stage() {
    hold("open-air-stage");
}

#[test]
fn quarry() {
    hold("quarry");
}

#[test]
fn ridge_valley() {
    hold("ridge-valley");
}

#[test]
fn wrong_heading() {
    hold("wrong-heading");
}

#[test]
fn the_comparison_sees_what_it_must() {
    let of = |json: Value| {
        let mut list = BTreeMap::new();
        flatten("sheet.x", &json, &mut list);
        list
    };
    let long = |last: f64| Value::from((0..20).map(|k| if k == 19 { last } else { f64::from(k) }).collect::<Vec<_>>());
    let whole = |rate: f64, count: i64, say: &str, last: f64| {
        of(serde_json::json!({ "rate": rate, "count": count, "say": say, "long": long(last), "none": null }))
    };
    let base = whole(0.25, 7, "−65 dBm (±8 dB), 1,000 of 5.", 0.5);
    let stored = in_lines(&base);
    assert!(stored.contains("sheet.x: count 7, long 20, rate 0.25, say \"−65 8 1,000 5\"\n"), "{stored}");
    assert!(stored.contains("sheet.x.long: * 20 x "), "{stored}");
    assert_eq!(differences(&stored, &base), [""; 0]);
    assert_eq!(differences(&stored, &whole(0.25 + 1e-12, 7, "−65 ±8 1,000/5", 0.5)), [""; 0]);
    for (other, place) in [
        (whole(0.25 + 1e-9, 7, "−65 8 1,000 5", 0.5), "sheet.x.rate: was 0.25, is 0.250000001"),
        (whole(0.25, 8, "−65 8 1,000 5", 0.5), "sheet.x.count: was 7, is 8"),
        (whole(0.25, 7, "65 8 1,000 5", 0.5), "sheet.x.say: was"),
        (whole(0.25, 7, "−65 8 1,000 5", 0.500_001), "sheet.x.long.*: was"),
        (
            of(serde_json::json!({ "rate": 0.25, "count": 7, "say": "−65 8 1,000 5" })),
            "sheet.x.long: was 20, is not there",
        ),
    ] {
        let odd = differences(&stored, &other);
        assert!(odd.iter().any(|line| line.starts_with(place)), "{place}: {odd:?}");
    }
}
