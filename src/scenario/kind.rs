//! What a key accepts, as data: the reader's words, the page of keys and the JSON Schema follow from it.

use crate::chance::{Range, Uncertain};
use serde_json::{Value, json};

/// Values allowed for a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Least value.
    pub low: f64,
    /// Greatest value.
    pub high: f64,
    /// The least value itself is not allowed.
    pub above_low: bool,
}

/// From `low` to `high`, both allowed.
pub(crate) const fn between(low: f64, high: f64) -> Limits {
    Limits { low, high, above_low: false }
}

/// More than `low`, up to `high`.
pub(crate) const fn above(low: f64, high: f64) -> Limits {
    Limits { low, high, above_low: true }
}

impl Limits {
    /// Whether a value lies within.
    pub fn allow(&self, value: f64) -> bool {
        value <= self.high && if self.above_low { value > self.low } else { value >= self.low }
    }

    /// A distribution whose draws beyond the limits count as at them; its middle is allowed.
    pub(super) fn clip(&self, number: Uncertain) -> Uncertain {
        let Range { low, high } = number.range();
        if self.allow(low) && self.allow(high) {
            return number;
        }
        // Just above an excluded lower limit: far enough to divide by.
        let low = if self.above_low { self.low + 1e-3 * (number.central() - self.low) } else { self.low };
        Uncertain::Within(Box::new(number), low, self.high)
    }

    fn in_words(&self) -> String {
        let joint = if self.above_low { ["above", "up to"] } else { ["", "to"] };
        format!("{} {} {} {}", joint[0], self.low, joint[1], self.high).trim_start().into()
    }

    fn schema(&self) -> Value {
        let least = if self.above_low { "exclusiveMinimum" } else { "minimum" };
        json!({ "type": "number", least: self.low, "maximum": self.high })
    }
}

/// What a key accepts.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// A number.
    Number(Limits),
    /// A whole number from the first to the second.
    Whole(u64, u64),
    /// A number or a distribution.
    Uncertain(Limits),
    /// A list of so many numbers.
    Numbers(usize, Limits),
    /// A list of any length.
    List(Limits),
    /// `true` or `false`.
    Flag,
    /// A text; a title is not blank.
    Text {
        /// Blank is refused.
        title: bool,
    },
    /// The name of a file.
    File,
    /// The name of a file, or a list of names.
    Files,
    /// One of several words.
    Word(Vec<&'static str>),
    /// One of several words, or some of them with their weights.
    Chances(Vec<&'static str>),
    /// A list of words, each at most once.
    Words(Vec<&'static str>),
    /// A list of texts.
    Texts,
    /// So many points or more, each of so many numbers, in the shape shown.
    Points {
        /// Fewest points.
        at_least: usize,
        /// Numbers of a point.
        numbers: usize,
        /// A point as it is written.
        shape: &'static str,
    },
    /// A table, or `false` for none.
    Table,
    /// A list of tables at this path.
    Tables(String),
    /// Key paths with their new values.
    Pairs,
    /// A date and time.
    Utc,
}

impl Kind {
    /// What is accepted for a key, whose suffix is its unit.
    pub fn in_words(&self, key: &str) -> String {
        let unit = unit_of(key);
        match self {
            Kind::Number(limits) => format!("a number{unit}, {}", limits.in_words()),
            Kind::Whole(low, high) => format!("a whole number{unit}, {low} to {high}"),
            Kind::Uncertain(limits) => format!("a number or a distribution{unit}, {}", limits.in_words()),
            Kind::Numbers(count, limits) => format!("a list of {count} numbers{unit}, each {}", limits.in_words()),
            Kind::List(limits) => format!("a list of numbers{unit}, each {}", limits.in_words()),
            Kind::Flag => "`true` or `false`".into(),
            Kind::Text { title } => if *title { "a text that is not blank" } else { "a text" }.into(),
            Kind::File => "the name of a file, relative to the scenario's folder; \"\" for none".into(),
            Kind::Files => {
                "the name of a file or a list of names, relative to the scenario's folder; \"\" for none".into()
            }
            Kind::Word(words) => list_of(words),
            Kind::Chances(words) => {
                format!("{}, or several as `{{ choice = [[word, weight], ...] }}`", list_of(words))
            }
            Kind::Words(words) => format!("a list of different words, not empty, each {}", list_of(words)),
            Kind::Texts => "a list of texts, none of them blank".into(),
            Kind::Points { at_least, shape, .. } => format!("a list of {at_least} or more points {shape} in metres"),
            Kind::Table => "a table, or `false` for none".into(),
            Kind::Tables(path) => format!("one or more tables `[[{path}]]`"),
            Kind::Pairs => "a table of key paths in quotes with their new values".into(),
            Kind::Utc => "a date and time, 1980 to 2099, such as 2026-05-16T09:30:00Z or, with an offset from UTC, 2026-05-16T11:30:00+02:00".into(),
        }
    }

    /// The same as a JSON Schema; tables are filled by whoever knows their keys.
    pub(super) fn schema(&self) -> Value {
        match self {
            Kind::Number(limits) => limits.schema(),
            Kind::Whole(low, high) => json!({ "type": "integer", "minimum": low, "maximum": high }),
            Kind::Uncertain(limits) => json!({ "anyOf": [limits.schema(), { "$ref": "#/$defs/distribution" }] }),
            Kind::Numbers(count, limits) => {
                json!({ "type": "array", "items": limits.schema(), "minItems": count, "maxItems": count })
            }
            Kind::List(limits) => json!({ "type": "array", "items": limits.schema() }),
            Kind::Flag => json!({ "type": "boolean" }),
            Kind::Text { title: true } => json!({ "type": "string", "pattern": "\\S" }),
            Kind::Text { .. } | Kind::File => json!({ "type": "string" }),
            Kind::Files => {
                let names = json!({ "type": "array", "items": { "type": "string", "pattern": "\\S" }, "minItems": 1 });
                json!({ "anyOf": [{ "type": "string" }, names] })
            }
            Kind::Word(words) => json!({ "enum": words }),
            Kind::Chances(words) => {
                let weight = json!({ "type": "number", "exclusiveMinimum": 0.0 });
                let pair = json!({ "type": "array", "prefixItems": [{ "enum": words }, weight], "minItems": 2, "maxItems": 2 });
                let choice = json!({ "type": "array", "items": pair, "minItems": 1 });
                let table = json!({
                    "type": "object", "properties": { "choice": choice }, "required": ["choice"], "additionalProperties": false
                });
                json!({ "anyOf": [{ "enum": words }, table] })
            }
            Kind::Words(words) => {
                json!({ "type": "array", "items": { "enum": words }, "minItems": 1, "uniqueItems": true })
            }
            Kind::Texts => json!({ "type": "array", "items": { "type": "string", "pattern": "\\S" } }),
            Kind::Points { at_least, numbers, .. } => {
                let number = between(-1e6, 1e6).schema();
                let point = json!({ "type": "array", "items": number, "minItems": numbers, "maxItems": numbers });
                json!({ "type": "array", "items": point, "minItems": at_least })
            }
            Kind::Table | Kind::Pairs => json!({ "type": "object" }),
            Kind::Tables(_) => json!({ "type": "array" }),
            // A date of TOML is a text in JSON.
            Kind::Utc => json!({ "type": "string" }),
        }
    }
}

/// Forms of a distribution, each with its numbers; a choice has pairs.
pub(super) const SHAPES: [(&str, usize); 5] =
    [("normal", 2), ("uniform", 2), ("triangular", 3), ("lognormal", 2), ("choice", 0)];

/// The JSON Schema of a distribution.
pub(super) fn distribution_schema() -> Value {
    let numbers =
        |count: usize| json!({ "type": "array", "items": { "type": "number" }, "minItems": count, "maxItems": count });
    let one = |(shape, count): (&str, usize)| {
        let list =
            if count > 0 { numbers(count) } else { json!({ "type": "array", "items": numbers(2), "minItems": 1 }) };
        json!({ "type": "object", "properties": { shape: list }, "required": [shape], "additionalProperties": false })
    };
    json!({ "anyOf": SHAPES.map(one) })
}

/// Documentation of one key.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyDoc {
    /// Path, with `[]` for a table that may be repeated.
    pub key: String,
    /// What is accepted.
    pub kind: Kind,
    /// The same in words.
    pub accepts: String,
    /// Default, or 'required'.
    pub default: String,
    /// Where the default comes from.
    pub source: String,
    /// Meaning.
    pub meaning: String,
}

/// Sections in the order of the documentation and of the report's inputs.
pub(super) const SECTIONS: [&str; 12] =
    ["", "judge", "site", "weather", "craft", "radio", "sky", "path", "pilot", "loss", "policy", "condition"];

/// Place of a key's section in [`SECTIONS`].
pub(super) fn section_of(key: &str) -> usize {
    let first = key.split(['.', '[']).next().unwrap_or_default();
    let first = if first == "delivered" { "policy" } else { first };
    // Keys at the top stand before all sections.
    SECTIONS.iter().position(|section| *section == first && !section.is_empty()).unwrap_or(0)
}

/// The default of a key that has none.
pub(super) const REQUIRED: &str = "required";

/// The words for a key that is not there.
pub(super) const MISSING: &str = "nothing: the key is missing";

/// The words for a key that there is not.
pub(super) const UNKNOWN: &str = "an unknown key";

/// The unit that a key's suffix stands for.
fn unit_of(key: &str) -> &'static str {
    const UNITS: [(&str, &str); 35] = [
        ("_per_sqrt_min", " of metres per square root of a minute"),
        ("_deg_per_100m", " of degrees per 100 m"),
        ("_pa_per_h", " of pascals per hour"),
        ("_mm_per_h", " of millimetres per hour"),
        ("_per_km2", " per square kilometre"),
        ("_per_h", " per hour"),
        ("_per_s", " per second"),
        ("_spm", " of siemens per metre"),
        ("_mps2", " of metres per second squared"),
        ("_mps", " of metres per second"),
        ("_dbhz", " of dB-Hz"),
        ("_dbm", " of dBm"),
        ("_dbi", " of dBi"),
        ("_db", " of decibels"),
        ("_bps", " of bits per second"),
        ("_hz", " of hertz"),
        ("_ohm", " of ohms"),
        ("_kg", " of kilograms"),
        ("_pa", " of pascals"),
        ("_ah", " of ampere-hours"),
        ("_j", " of joules"),
        ("_m2", " of square metres"),
        ("_m", " of metres"),
        ("_s", " of seconds"),
        ("_w", " of watts"),
        ("_v", " of volts"),
        ("_c", " of degrees Celsius"),
        ("_deg", " of degrees"),
        ("_pct", " of per cent"),
        ("_points", " of percentage points"),
        ("_utc", " of hours, UTC"),
        ("_share", " as a share"),
        ("_bytes", " of bytes"),
        ("_symbols", " of symbols"),
        ("_heights", " of obstacle heights"),
    ];
    UNITS.iter().find(|(suffix, _)| key.ends_with(suffix)).map_or("", |pair| pair.1)
}

/// Words in quotes, the last after 'or'.
pub(super) fn list_of(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
    match quoted.as_slice() {
        [] => String::new(),
        [only] => only.clone(),
        [before @ .., last] => format!("{} or {last}", before.join(", ")),
    }
}

/// A number as one would write it: no more than seven significant digits.
pub(super) fn tidy(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let digits = (6 - value.abs().log10().floor() as i32).clamp(0, 12);
    let text = format!("{value:.*}", digits as usize);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}

/// Numbers as one would write them.
pub(super) fn tidy_list(values: &[f64]) -> String {
    format!("[{}]", values.iter().map(|value| tidy(*value)).collect::<Vec<_>>().join(", "))
}

/// A distribution as one would write it.
pub(super) fn in_words(value: &Uncertain) -> String {
    let of = |shape: &str, numbers: &[f64]| format!("{{ {shape} = {} }}", tidy_list(numbers));
    match value {
        Uncertain::Exact(value) => tidy(*value),
        Uncertain::Normal(mean, sd) => of("normal", &[*mean, *sd]),
        Uncertain::Uniform(low, high) => of("uniform", &[*low, *high]),
        Uncertain::Triangular(low, mode, high) => of("triangular", &[*low, *mode, *high]),
        Uncertain::Lognormal(median, factor) => of("lognormal", &[*median, *factor]),
        Uncertain::Choice(options) => {
            let pairs: Vec<String> = options.iter().map(|(value, weight)| tidy_list(&[*value, *weight])).collect();
            format!("{{ choice = [{}] }}", pairs.join(", "))
        }
        Uncertain::Within(inner, ..) => in_words(inner),
    }
}
