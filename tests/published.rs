//! Check values from published sources and general-purpose reference libraries.
//!
//! Reads `tests/published/*.toml` and, when `LOSTLINK_CHECKS` names a folder, every `*.toml` in it.
//! Each entry is dispatched on its `routine` to an adapter over the library's public functions; no
//! adapter knows an `id` or an expected value. Nothing is skipped in silence: routines without an
//! adapter and entries that cannot be read are counted and named.

mod adapters;
mod reference;

use adapters::{Inputs, Tables, Value};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// One entry of a check file.
struct Check {
    file: String,
    id: String,
    routine: String,
    inputs: toml::Table,
    expected: toml::Value,
    tolerance: toml::Value,
    kind: String,
    role: String,
    source: String,
}

impl Check {
    fn read(file: &str, table: &toml::Table) -> Result<Check, String> {
        let text = |key: &str| -> Result<String, String> {
            table
                .get(key)
                .and_then(toml::Value::as_str)
                .map(str::to_string)
                .ok_or_else(|| format!("`{key}` is missing or not text"))
        };
        let value = |key: &str| table.get(key).cloned().ok_or_else(|| format!("`{key}` is missing"));
        let check = Check {
            file: file.into(),
            id: text("id")?,
            routine: text("routine")?,
            inputs: table.get("inputs").and_then(toml::Value::as_table).cloned().ok_or("`inputs` is missing")?,
            expected: value("expected")?,
            tolerance: value("tolerance")?,
            kind: text("tolerance_kind")?,
            role: text("role")?,
            source: text("source")?,
        };
        if !["abs", "rel", "exact"].contains(&check.kind.as_str()) {
            return Err(format!("tolerance_kind `{}` is none of abs, rel, exact", check.kind));
        }
        if !["core", "extra"].contains(&check.role.as_str()) {
            return Err(format!("role `{}` is neither core nor extra", check.role));
        }
        Ok(check)
    }

    /// Compares what the library answered with what is expected.
    fn compare(&self, got: &Value) -> Result<(), String> {
        self.compare_at(got, &self.expected, &self.tolerance)
    }

    fn compare_at(&self, got: &Value, expected: &toml::Value, tolerance: &toml::Value) -> Result<(), String> {
        match (expected, got) {
            (toml::Value::String(text), Value::NoAnswer) if text == "none" => Ok(()),
            (toml::Value::String(text), Value::Text(answer)) if text == answer => Ok(()),
            (toml::Value::Array(items), Value::List(answers)) if items.len() == answers.len() => {
                for (index, (item, answer)) in items.iter().zip(answers).enumerate() {
                    let each = match tolerance {
                        toml::Value::Array(list) => list.get(index).ok_or("too few tolerances")?,
                        one => one,
                    };
                    self.compare_at(answer, item, each).map_err(|why| format!("element {index}: {why}"))?;
                }
                Ok(())
            }
            (toml::Value::Float(_) | toml::Value::Integer(_), Value::Number(answer)) => {
                let want = number(expected).expect("matched as a number");
                let width = number(tolerance).ok_or("the tolerance is not a number")?;
                let error = (answer - want).abs();
                let good = match self.kind.as_str() {
                    _ if width == 0.0 => *answer == want,
                    "abs" => error <= width,
                    "rel" => error <= width * want.abs(),
                    _ => *answer == want,
                };
                if good { Ok(()) } else { Err(format!("{answer} against {want}: off by {error:e}")) }
            }
            _ => Err("the shapes differ".into()),
        }
    }
}

fn number(value: &toml::Value) -> Option<f64> {
    match value {
        toml::Value::Float(x) => Some(*x),
        toml::Value::Integer(x) => Some(*x as f64),
        _ => None,
    }
}

/// All check files, the project's own first.
fn files() -> Vec<PathBuf> {
    let own = Path::new(env!("LOSTLINK_ROOT")).join("tests/published");
    let mut list = toml_files(&own);
    if let Some(folder) = std::env::var_os("LOSTLINK_CHECKS").filter(|folder| !folder.is_empty()) {
        let more = toml_files(Path::new(&folder));
        assert!(!more.is_empty(), "LOSTLINK_CHECKS names {folder:?}, which holds no *.toml file");
        list.extend(more);
    }
    list
}

fn toml_files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let mut list: Vec<PathBuf> = entries
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "toml"))
        .collect();
    list.sort();
    list
}

#[derive(Default)]
struct Tally {
    checked: usize,
    passed: usize,
    failed: usize,
    without_adapter: usize,
}

#[test]
fn published_values() {
    let adapters = adapters::all();
    let mut unreadable: Vec<String> = Vec::new();
    let mut failures: Vec<String> = Vec::new();
    let mut missing: BTreeSet<(String, String)> = BTreeSet::new();
    let mut tallies: BTreeMap<(String, String), Tally> = BTreeMap::new();
    let own_tables = Tables::own();

    for path in files() {
        let name = path.display().to_string();
        let document: toml::Table = match std::fs::read_to_string(&path)
            .map_err(|error| error.to_string())
            .and_then(|text| text.parse::<toml::Table>().map_err(|error| error.to_string()))
        {
            Ok(document) => document,
            Err(why) => {
                unreadable.push(format!("{name}: {why}"));
                continue;
            }
        };
        let tables = own_tables.with(&document);
        let entries = document.get("check").and_then(toml::Value::as_array).cloned().unwrap_or_default();
        for (index, entry) in entries.iter().enumerate() {
            let check =
                match entry.as_table().ok_or_else(|| "not a table".to_string()).and_then(|t| Check::read(&name, t)) {
                    Ok(check) => check,
                    Err(why) => {
                        unreadable.push(format!("{name}, entry {}: {why}", index + 1));
                        continue;
                    }
                };
            let topic = check.routine.split('.').next().unwrap_or("").to_string();
            let tally = tallies.entry((topic, check.role.clone())).or_default();
            let Some(adapter) = adapters.get(check.routine.as_str()) else {
                tally.without_adapter += 1;
                missing.insert((check.role.clone(), check.routine.clone()));
                continue;
            };
            tally.checked += 1;
            let mut inputs = Inputs::new(check.inputs.clone(), &tables);
            let outcome = adapter(&mut inputs).and_then(|got| inputs.all_taken().map(|()| got));
            let verdict = match &outcome {
                Ok(got) => check.compare(got),
                Err(why) => Err(why.clone()),
            };
            match verdict {
                Ok(()) => tally.passed += 1,
                Err(why) => {
                    tally.failed += 1;
                    failures.push(format!(
                        "{} ({}, {})\n  inputs    {}\n  expected  {}\n  got       {}\n  tolerance {} {}\n  why       {why}\n  source    {}",
                        check.id,
                        check.routine,
                        check.file,
                        check.inputs,
                        check.expected,
                        outcome.map_or_else(|error| format!("error: {error}"), |got| format!("{got:?}")),
                        check.tolerance,
                        check.kind,
                        check.source,
                    ));
                }
            }
        }
    }

    println!("topic  role   checked  passed  failed  without adapter");
    for ((topic, role), t) in &tallies {
        println!("{topic:<6} {role:<6} {:>7} {:>7} {:>7} {:>16}", t.checked, t.passed, t.failed, t.without_adapter);
    }
    for (role, routine) in &missing {
        println!("no adapter: [{role}] {routine}");
    }
    for line in &unreadable {
        println!("cannot be read: {line}");
    }
    for failure in &failures {
        println!("\nFAILED {failure}");
    }
    assert!(unreadable.is_empty(), "{} entries cannot be read (listed above)", unreadable.len());
    assert!(failures.is_empty(), "{} published values failed (listed above)", failures.len());
    assert!(tallies.values().map(|t| t.checked).sum::<usize>() > 0, "no entry was checked");
}
