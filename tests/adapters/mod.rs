//! One adapter per routine: takes each input key, calls the library, returns the numbers in the listed order.

mod craft;
mod radio;
mod risk;
mod signal;
mod sky;

use std::collections::BTreeMap;

/// What an adapter answers.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A number.
    Number(f64),
    /// Several values.
    List(Vec<Value>),
    /// A text (hexadecimal words).
    #[allow(dead_code)]
    Text(String),
    /// The routine reports that there is no answer.
    #[allow(dead_code)]
    NoAnswer,
}

impl From<f64> for Value {
    fn from(x: f64) -> Self {
        Value::Number(x)
    }
}

impl Value {
    /// A list of numbers.
    #[allow(dead_code)]
    pub fn numbers(list: impl IntoIterator<Item = f64>) -> Value {
        Value::List(list.into_iter().map(Value::Number).collect())
    }
}

/// Turns inputs into an answer, or says why it cannot.
pub type Adapter = fn(&mut Inputs) -> Result<Value, String>;

/// All adapters by routine.
pub fn all() -> BTreeMap<&'static str, Adapter> {
    let mut map = BTreeMap::new();
    for list in [craft::adapters(), radio::adapters(), risk::adapters(), signal::adapters(), sky::adapters()] {
        for (routine, adapter) in list {
            assert!(map.insert(routine, adapter).is_none(), "two adapters for {routine}");
        }
    }
    map
}

/// Named tables of the check files (`[[terrain]]`, `[[ephemeris]]`, `[[slot]]`, `[nominal]`).
#[derive(Clone, Default)]
pub struct Tables {
    lists: BTreeMap<String, Vec<toml::Table>>,
}

impl Tables {
    /// Those of the project's own files.
    pub fn own() -> Tables {
        let mut tables = Tables::default();
        let folder = std::path::Path::new(env!("LOSTLINK_ROOT")).join("tests/published");
        for topic in ["craft", "radio", "risk", "sky"] {
            let text = std::fs::read_to_string(folder.join(format!("{topic}.toml"))).expect("own check file");
            tables = tables.with(&text.parse().expect("own check file is TOML"));
        }
        tables
    }

    /// These, with the tables of one file in front.
    pub fn with(&self, document: &toml::Table) -> Tables {
        let mut tables = self.clone();
        for (key, value) in document {
            if key == "check" {
                continue;
            }
            let mut rows: Vec<toml::Table> = match value {
                toml::Value::Array(rows) => rows.iter().filter_map(|row| row.as_table().cloned()).collect(),
                toml::Value::Table(table) => vec![table.clone()],
                _ => continue,
            };
            let known = tables.lists.entry(key.clone()).or_default();
            rows.append(known);
            *known = rows;
        }
        tables
    }

    /// The rows of one kind; a file's own rows come before the project's.
    #[allow(dead_code)]
    pub fn rows(&self, kind: &str) -> &[toml::Table] {
        self.lists.get(kind).map_or(&[], Vec::as_slice)
    }
}

/// The inputs of one entry. Each key is taken once; a key left over is an error.
pub struct Inputs<'a> {
    left: toml::Table,
    /// Named tables.
    #[allow(dead_code)]
    pub tables: &'a Tables,
}

#[allow(dead_code)]
impl<'a> Inputs<'a> {
    /// Wraps the entry's inputs.
    pub fn new(left: toml::Table, tables: &'a Tables) -> Self {
        Inputs { left, tables }
    }

    /// Complains about keys that no one asked for.
    pub fn all_taken(&self) -> Result<(), String> {
        if self.left.is_empty() {
            Ok(())
        } else {
            Err(format!("unknown input keys: {}", self.left.keys().cloned().collect::<Vec<_>>().join(", ")))
        }
    }

    fn take(&mut self, key: &str) -> Result<toml::Value, String> {
        self.left.remove(key).ok_or_else(|| format!("input `{key}` is missing"))
    }

    /// A number.
    pub fn number(&mut self, key: &str) -> Result<f64, String> {
        let value = self.take(key)?;
        as_number(&value).ok_or_else(|| format!("input `{key}` is not a number"))
    }

    /// A whole number.
    pub fn whole(&mut self, key: &str) -> Result<u64, String> {
        let value = self.take(key)?;
        value.as_integer().and_then(|x| u64::try_from(x).ok()).ok_or_else(|| format!("input `{key}` is not a count"))
    }

    /// A text.
    pub fn text(&mut self, key: &str) -> Result<String, String> {
        let value = self.take(key)?;
        value.as_str().map(str::to_string).ok_or_else(|| format!("input `{key}` is not text"))
    }

    /// A list of numbers.
    pub fn numbers(&mut self, key: &str) -> Result<Vec<f64>, String> {
        let value = self.take(key)?;
        as_numbers(&value).ok_or_else(|| format!("input `{key}` is not a list of numbers"))
    }

    /// A list of texts.
    pub fn texts(&mut self, key: &str) -> Result<Vec<String>, String> {
        let value = self.take(key)?;
        value
            .as_array()
            .and_then(|list| list.iter().map(|x| x.as_str().map(str::to_string)).collect())
            .ok_or_else(|| format!("input `{key}` is not a list of texts"))
    }

    /// A list of lists of numbers.
    pub fn rows(&mut self, key: &str) -> Result<Vec<Vec<f64>>, String> {
        let value = self.take(key)?;
        value
            .as_array()
            .and_then(|list| list.iter().map(as_numbers).collect())
            .ok_or_else(|| format!("input `{key}` is not a list of lists of numbers"))
    }

    /// Anything, as it stands in the file.
    pub fn raw(&mut self, key: &str) -> Result<toml::Value, String> {
        self.take(key)
    }
}

fn as_number(value: &toml::Value) -> Option<f64> {
    value.as_float().or_else(|| value.as_integer().map(|x| x as f64))
}

fn as_numbers(value: &toml::Value) -> Option<Vec<f64>> {
    value.as_array()?.iter().map(as_number).collect()
}
