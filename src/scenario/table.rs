//! A small reader of TOML tables that keeps every place, finds all errors in one pass, and knows its own keys.
//!
//! The functions that read a scenario ask a [`Section`] for each key with its default, range and meaning. The same
//! calls, run without a file, give the documentation of the format.

use super::diagnostic::{Diagnostic, Severity, line_of, span_of_line};
use super::types::InputRow;
use crate::chance::Uncertain;
use std::cell::{Cell, RefCell};
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Documentation of one key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyDoc {
    /// Path, with `[]` for a table that may be repeated.
    pub key: String,
    /// What is accepted.
    pub accepts: String,
    /// Default, or 'required'.
    pub default: String,
    /// Where the default comes from.
    pub source: String,
    /// Meaning.
    pub meaning: String,
}

/// Values allowed for a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Limits {
    low: f64,
    high: f64,
    above_low: bool,
}

/// From `low` to `high`, both allowed.
pub(super) const fn between(low: f64, high: f64) -> Limits {
    Limits { low, high, above_low: false }
}

/// More than `low`, up to `high`.
pub(super) const fn above(low: f64, high: f64) -> Limits {
    Limits { low, high, above_low: true }
}

impl Limits {
    pub fn allow(&self, value: f64) -> bool {
        value <= self.high && if self.above_low { value > self.low } else { value >= self.low }
    }

    fn in_words(&self) -> String {
        if self.above_low {
            format!("above {} up to {}", self.low, self.high)
        } else {
            format!("{} to {}", self.low, self.high)
        }
    }
}

/// A key that a condition changes: its path, where it stands, its new value.
pub(super) type Change<'a> = (String, Range<usize>, &'a Spanned<DeValue<'a>>);

/// A key of a condition that replaces one of the file.
struct Override<'a> {
    key: String,
    key_span: Range<usize>,
    value: &'a Spanned<DeValue<'a>>,
    used: bool,
}

/// Where findings, inputs and key documentation gather.
pub(super) struct Sink<'a> {
    pub name: String,
    pub text: Arc<str>,
    document: &'a DeTable<'a>,
    overrides: RefCell<Vec<Override<'a>>>,
    pub diagnostics: RefCell<Vec<Diagnostic>>,
    pub inputs: RefCell<Vec<InputRow>>,
    pub keys: RefCell<Vec<KeyDoc>>,
    /// Only documentation is wanted: every table is visited as if it were there and empty.
    describing: bool,
}

/// A table being read.
pub(super) struct Section<'r, 'a> {
    pub sink: &'r Sink<'a>,
    table: Option<&'a DeTable<'a>>,
    /// Path with a dot at its end; empty at the top.
    prefix: String,
    /// Place of the table, to hang 'missing' on.
    pub span: Option<Range<usize>>,
    asked: RefCell<Vec<&'static str>>,
    /// Leaves unknown keys unreported: the table is read elsewhere too.
    partial: Cell<bool>,
}

impl<'a> Sink<'a> {
    pub fn new(name: &str, text: Arc<str>, document: &'a DeTable<'a>) -> Sink<'a> {
        Sink {
            name: name.into(),
            text,
            document,
            overrides: RefCell::default(),
            diagnostics: RefCell::default(),
            inputs: RefCell::default(),
            keys: RefCell::default(),
            describing: false,
        }
    }

    pub fn describing(document: &'a DeTable<'a>) -> Sink<'a> {
        Sink { describing: true, ..Sink::new("", "".into(), document) }
    }

    pub fn is_describing(&self) -> bool {
        self.describing
    }

    /// Replaces the value of a key path in what is read from now on.
    pub fn replace(&self, key: &str, key_span: Range<usize>, value: &'a Spanned<DeValue<'a>>) {
        self.overrides.borrow_mut().push(Override { key: key.into(), key_span, value, used: false });
    }

    pub fn root<'r>(&'r self) -> Section<'r, 'a> {
        Section {
            sink: self,
            table: Some(self.document),
            prefix: String::new(),
            // What is missing at the top is shown at the file's start.
            span: Some(0..0),
            asked: RefCell::default(),
            partial: Cell::new(false),
        }
    }

    /// Reports replaced keys that nothing asked for.
    pub fn report_unused(&self) {
        let unused: Vec<(String, Range<usize>)> = self
            .overrides
            .borrow()
            .iter()
            .filter(|change| !change.used)
            .map(|change| (change.key.clone(), change.key_span.clone()))
            .collect();
        for (key, span) in unused {
            let keys = self.keys.borrow();
            let hint = nearest(&key, keys.iter().map(|known| known.key.as_str()));
            drop(keys);
            self.push(
                Severity::Error,
                Some(span),
                &key,
                "no such key to change",
                "the path of a key, e.g. \"weather.wind_mps\"",
                hint,
            );
        }
    }

    pub fn push(
        &self,
        severity: Severity,
        span: Option<Range<usize>>,
        key: &str,
        found: impl Into<String>,
        accepted: impl Into<String>,
        hint: Option<String>,
    ) {
        if self.describing {
            return;
        }
        self.diagnostics.borrow_mut().push(Diagnostic {
            severity,
            file: self.name.clone(),
            source: Some(self.text.clone()),
            line: span.as_ref().map(|span| line_of(&self.text, span.start)),
            span,
            key: key.into(),
            found: found.into(),
            accepted: accepted.into(),
            hint,
        });
    }

    /// A finding in another file, at a line of it.
    pub fn push_in(
        &self,
        file: &str,
        text: Option<&str>,
        line: Option<usize>,
        key: &str,
        found: String,
        accepted: String,
    ) {
        self.diagnostics.borrow_mut().push(Diagnostic {
            severity: Severity::Error,
            file: file.into(),
            source: text.map(Arc::from),
            span: text.zip(line).map(|(text, line)| span_of_line(text, line)),
            line,
            key: key.into(),
            found,
            accepted,
            hint: None,
        });
    }

    /// A value in words; a short list or table as it is written.
    fn describe(&self, value: &Spanned<DeValue>) -> String {
        let written = self.text.get(value.span()).unwrap_or_default();
        match value.get_ref() {
            DeValue::Array(_) | DeValue::Table(_)
                if written.len() <= 40 && !written.contains('\n') && !written.is_empty() =>
            {
                format!("`{written}`")
            }
            other => describe(other),
        }
    }

    /// The comment behind a value on its last line.
    fn comment_after(&self, at: usize) -> String {
        let rest = self.text.get(at..).unwrap_or_default();
        let line = rest.lines().next().unwrap_or_default();
        let mut quote = None;
        for (index, letter) in line.char_indices() {
            match (quote, letter) {
                (None, '"' | '\'') => quote = Some(letter),
                (Some(open), close) if open == close => quote = None,
                (None, '#') => return line[index + 1..].trim().into(),
                _ => {}
            }
        }
        String::new()
    }

    fn record(&self, key: String, span: Option<Range<usize>>, default: String, source: &str) {
        let row = match span {
            Some(span) => InputRow {
                key,
                value: shortened(self.text.get(span.clone()).unwrap_or_default()),
                line: Some(line_of(&self.text, span.start)),
                note: self.comment_after(span.end),
            },
            None => InputRow { key, value: default, line: None, note: source.into() },
        };
        self.inputs.borrow_mut().push(row);
    }
}

/// One line of at most 80 characters.
fn shortened(text: &str) -> String {
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if flat.chars().count() <= 80 { flat } else { flat.chars().take(77).chain("...".chars()).collect() }
}

/// The known name that is probably meant.
pub(super) fn nearest<'k>(name: &str, known: impl Iterator<Item = &'k str>) -> Option<String> {
    let stem = |text: &str| text.rsplit_once('_').map_or(text.to_string(), |pair| pair.0.to_string());
    known
        .map(|candidate| {
            let whole = strsim::normalized_damerau_levenshtein(name, candidate);
            // 'wind_kmh' means 'wind_mps' although half of its letters differ: what stands before the unit counts too.
            let stems = strsim::normalized_damerau_levenshtein(&stem(name), &stem(candidate)) - 0.1;
            (whole.max(stems), candidate)
        })
        .filter(|(likeness, _)| *likeness >= 0.6)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| format!("did you mean `{candidate}`?"))
}

/// A value in words.
pub(super) fn describe(value: &DeValue) -> String {
    match value {
        DeValue::String(text) => format!("the text \"{}\"", shortened(text)),
        DeValue::Integer(number) => format!("the number {number}"),
        DeValue::Float(number) => format!("the number {number}"),
        DeValue::Boolean(flag) => format!("`{flag}`"),
        DeValue::Datetime(_) => "a date or time".into(),
        DeValue::Array(list) => match list.len() {
            1 => "a list of one".into(),
            count => format!("a list of {count}"),
        },
        DeValue::Table(_) => "a table".into(),
    }
}

/// The unit that a key's suffix stands for.
fn unit_of(key: &str) -> &'static str {
    const UNITS: [(&str, &str); 41] = [
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
        ("_m2", " of square metres"),
        ("_m", " of metres"),
        ("_s", " of seconds"),
        ("_w", " of watts"),
        ("_v", " of volts"),
        ("_c", " of degrees Celsius"),
        ("_deg", " of degrees"),
        ("_pct", " of per cent"),
        ("_points", " of percentage points"),
        ("_share", " as a share"),
        ("_bytes", " of bytes"),
        ("_symbols", " of symbols"),
        ("_heights", " of obstacle heights"),
        ("wind_mps", " of metres per second"),
        ("_ratio", ""),
        ("_factor", ""),
        ("_index", ""),
        ("_efficiency", ""),
        ("_exponent", ""),
        ("_lag", ""),
        ("_cells", ""),
    ];
    UNITS.iter().find(|(suffix, _)| key.ends_with(suffix)).map_or("", |pair| pair.1)
}

impl<'r, 'a> Section<'r, 'a> {
    /// Leaves unknown keys unreported.
    pub fn forget(&self) {
        self.partial.set(true);
    }

    /// The path of one of its keys.
    pub fn path(&self, key: &str) -> String {
        format!("{}{key}", self.prefix)
    }

    /// The name of the section itself.
    fn name(&self) -> &str {
        self.prefix.trim_end_matches('.')
    }

    /// The value of a key and its place, from a condition or from the file.
    pub fn find(&self, key: &'static str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.asked.borrow_mut().push(key);
        let path = self.path(key);
        if let Some(change) = self.sink.overrides.borrow_mut().iter_mut().find(|change| change.key == path) {
            change.used = true;
            return Some(change.value);
        }
        self.table?.iter().find(|(name, _)| name.get_ref().as_ref() == key).map(|(_, value)| value)
    }

    /// Whether a key of an earlier form is there. It is told what it is called now, and may be read all the same.
    pub fn former(&self, key: &'static str, now: &str) -> bool {
        let path = self.path(key);
        let changed = self.sink.overrides.borrow().iter().any(|change| change.key == path);
        let there =
            changed || self.table.is_some_and(|table| table.iter().any(|(name, _)| name.get_ref().as_ref() == key));
        if there {
            self.warn(key, "a key of an earlier form", format!("`{now}`"));
        }
        there
    }

    /// The name under which a renamed key is there.
    pub fn renamed(&self, earlier: &'static str, now: &'static str) -> &'static str {
        if self.former(earlier, now) { earlier } else { now }
    }

    /// Whether a key is there, without reading it.
    pub fn has(&self, key: &'static str) -> bool {
        self.find(key).is_some()
    }

    /// The place of a key's value.
    pub fn span_of(&self, key: &'static str) -> Option<Range<usize>> {
        self.find(key).map(|value| value.span()).or_else(|| self.span.clone())
    }

    fn is_changed_below(&self, key: &str) -> bool {
        let below = self.path(key) + ".";
        self.sink.overrides.borrow().iter().any(|change| change.key.starts_with(&below))
    }

    pub fn error(&self, key: &'static str, found: impl Into<String>, accepted: impl Into<String>) {
        let span = self.span_of(key);
        let path = if key.is_empty() { self.name().to_string() } else { self.path(key) };
        self.sink.push(Severity::Error, span, &path, found, accepted, None);
    }

    pub fn warn(&self, key: &'static str, found: impl Into<String>, accepted: impl Into<String>) {
        let span = self.span_of(key);
        let path = if key.is_empty() { self.name().to_string() } else { self.path(key) };
        self.sink.push(Severity::Warning, span, &path, found, accepted, None);
    }

    fn wrong(&self, key: &str, value: &Spanned<DeValue>, accepted: &str) {
        let found = self.sink.describe(value);
        self.sink.push(Severity::Error, Some(value.span()), &self.path(key), found, accepted, None);
    }

    pub fn missing(&self, key: &'static str, accepted: &str) {
        let span = self.span.clone();
        self.sink.push(Severity::Error, span, &self.path(key), MISSING, accepted, None);
    }

    fn document(&self, key: &str, accepts: &str, default: &str, source: &str, meaning: &str) {
        let path = self.path(key);
        let mut keys = self.sink.keys.borrow_mut();
        if !keys.iter().any(|known| known.key == path) {
            keys.push(KeyDoc {
                key: path,
                accepts: accepts.into(),
                default: default.into(),
                source: source.into(),
                meaning: meaning.into(),
            });
        }
    }

    fn plain_number(&self, key: &str, value: &Spanned<DeValue>, limits: Limits, accepted: &str) -> Option<f64> {
        let number = match value.get_ref() {
            DeValue::Integer(whole) => {
                i64::from_str_radix(whole.as_str(), whole.radix()).ok().map(|whole| whole as f64)
            }
            DeValue::Float(float) => float.as_str().parse::<f64>().ok(),
            _ => None,
        };
        match number {
            Some(number) if limits.allow(number) => Some(number),
            _ => {
                self.wrong(key, value, accepted);
                None
            }
        }
    }

    /// A number, or nothing.
    pub fn opt_number(&self, key: &'static str, limits: Limits, otherwise: &str, meaning: &str) -> Option<f64> {
        let accepted = format!("a number{}, {}", unit_of(key), limits.in_words());
        self.document(key, &accepted, "none", otherwise, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), "none".into(), otherwise);
        self.plain_number(key, value?, limits, &accepted)
    }

    /// A number with a default.
    pub fn number(&self, key: &'static str, limits: Limits, default: f64, source: &str, meaning: &str) -> f64 {
        let accepted = format!("a number{}, {}", unit_of(key), limits.in_words());
        self.document(key, &accepted, &tidy(default), source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), tidy(default), source);
        value.and_then(|value| self.plain_number(key, value, limits, &accepted)).unwrap_or(default)
    }

    /// A number that must be there.
    pub fn required_number(&self, key: &'static str, limits: Limits, meaning: &str) -> Option<f64> {
        let accepted = format!("a number{}, {}", unit_of(key), limits.in_words());
        self.document(key, &accepted, REQUIRED, "", meaning);
        let Some(value) = self.find(key) else {
            self.missing(key, &accepted);
            return None;
        };
        self.sink.record(self.path(key), Some(value.span()), String::new(), "");
        self.plain_number(key, value, limits, &accepted)
    }

    /// A whole number with a default.
    pub fn whole(&self, key: &'static str, low: u64, high: u64, default: u64, source: &str, meaning: &str) -> u64 {
        let accepted = format!("a whole number{}, {low} to {high}", unit_of(key));
        self.document(key, &accepted, &default.to_string(), source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), default.to_string(), source);
        value.and_then(|value| self.plain_whole(key, value, low, high, &accepted)).unwrap_or(default)
    }

    fn plain_whole(&self, key: &str, value: &Spanned<DeValue>, low: u64, high: u64, accepted: &str) -> Option<u64> {
        if let DeValue::Integer(whole) = value.get_ref()
            && let Ok(whole) = u64::from_str_radix(whole.as_str(), whole.radix())
            && (low..=high).contains(&whole)
        {
            return Some(whole);
        }
        self.wrong(key, value, accepted);
        None
    }

    /// `true` or `false` with a default.
    pub fn flag(&self, key: &'static str, default: bool, source: &str, meaning: &str) -> bool {
        let accepted = "`true` or `false`";
        self.document(key, accepted, &default.to_string(), source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), default.to_string(), source);
        let Some(value) = value else { return default };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.wrong(key, value, accepted);
            default
        })
    }

    /// A text with a default.
    pub fn text(&self, key: &'static str, default: &str, source: &str, meaning: &str) -> String {
        let accepted = "a text";
        self.document(key, accepted, &format!("\"{default}\""), source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), format!("\"{default}\""), source);
        let Some(value) = value else { return default.into() };
        match value.get_ref().as_str() {
            Some(text) => text.into(),
            None => {
                self.wrong(key, value, accepted);
                default.into()
            }
        }
    }

    /// A text that must be there and not be blank.
    pub fn required_text(&self, key: &'static str, meaning: &str) -> String {
        let accepted = "a text that is not blank";
        self.document(key, accepted, REQUIRED, "", meaning);
        let Some(value) = self.find(key) else {
            self.missing(key, accepted);
            return String::new();
        };
        self.sink.record(self.path(key), Some(value.span()), String::new(), "");
        match value.get_ref().as_str() {
            Some(text) if !text.trim().is_empty() => text.into(),
            _ => {
                self.wrong(key, value, accepted);
                String::new()
            }
        }
    }

    /// The name of a file, or nothing (also when the text is blank).
    pub fn file_name(&self, key: &'static str, otherwise: &str, meaning: &str) -> Option<String> {
        let accepted = "the name of a file, relative to the scenario's folder; \"\" for none";
        self.document(key, accepted, "none", otherwise, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), "none".into(), otherwise);
        match value?.get_ref().as_str() {
            Some(text) => Some(text.to_string()).filter(|text| !text.trim().is_empty()),
            None => {
                self.wrong(key, value?, accepted);
                None
            }
        }
    }

    /// One of several words.
    pub fn word<T: Copy>(
        &self,
        key: &'static str,
        words: &[(&'static str, T)],
        default: &str,
        source: &str,
        meaning: &str,
    ) -> T {
        let at = words.iter().position(|(word, _)| *word == default).unwrap_or(0);
        let accepted = list_of(words);
        self.document(key, &accepted, &format!("\"{default}\""), source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), format!("\"{default}\""), source);
        value.and_then(|value| self.plain_word(key, value, words)).unwrap_or(words[at].1)
    }

    /// One of several words that must be there.
    pub fn required_word<T: Copy>(&self, key: &'static str, words: &[(&'static str, T)], meaning: &str) -> Option<T> {
        let accepted = list_of(words);
        self.document(key, &accepted, REQUIRED, "", meaning);
        let Some(value) = self.find(key) else {
            self.missing(key, &accepted);
            return None;
        };
        self.sink.record(self.path(key), Some(value.span()), String::new(), "");
        self.plain_word(key, value, words)
    }

    fn plain_word<T: Copy>(&self, key: &str, value: &Spanned<DeValue>, words: &[(&'static str, T)]) -> Option<T> {
        let text = value.get_ref().as_str();
        if let Some(found) = text.and_then(|text| words.iter().find(|(word, _)| *word == text)) {
            return Some(found.1);
        }
        let hint = text.and_then(|text| nearest(text, words.iter().map(|pair| pair.0)));
        let found = describe(value.get_ref());
        self.sink.push(Severity::Error, Some(value.span()), &self.path(key), found, list_of(words), hint);
        None
    }

    /// A list of words, each at most once.
    pub fn words<T: Copy + PartialEq>(
        &self,
        key: &'static str,
        words: &[(&'static str, T)],
        default: &[&str],
        source: &str,
        meaning: &str,
    ) -> Vec<T> {
        let defaults: Vec<T> = words.iter().filter(|pair| default.contains(&pair.0)).map(|pair| pair.1).collect();
        let default_text =
            format!("[{}]", default.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", "));
        let accepted = format!("a list of different words, not empty, each {}", list_of(words));
        self.document(key, &accepted, &default_text, source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), default_text, source);
        let Some(value) = value else { return defaults };
        let Some(list) = value.get_ref().as_array() else {
            self.wrong(key, value, &accepted);
            return defaults;
        };
        let mut found = Vec::new();
        for item in list.iter() {
            if let Some(word) = self.plain_word(key, item, words) {
                if found.contains(&word) {
                    self.sink.push(
                        Severity::Error,
                        Some(item.span()),
                        &self.path(key),
                        "a word that is there already",
                        accepted.clone(),
                        None,
                    );
                } else {
                    found.push(word);
                }
            }
        }
        if list.iter().next().is_none() {
            self.wrong(key, value, &accepted);
        }
        if found.is_empty() { defaults } else { found }
    }

    /// A number or a distribution.
    pub fn uncertain(
        &self,
        key: &'static str,
        limits: Limits,
        default: impl Into<Uncertain>,
        source: &str,
        meaning: &str,
    ) -> Uncertain {
        let default = default.into();
        let accepted = format!("a number or a distribution{}, {}", unit_of(key), limits.in_words());
        self.document(key, &accepted, &in_words(&default), source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), in_words(&default), source);
        value.and_then(|value| self.plain_uncertain(key, value, limits, &accepted)).unwrap_or(default)
    }

    /// A number or a distribution that must be there.
    pub fn required_uncertain(&self, key: &'static str, limits: Limits, meaning: &str) -> Option<Uncertain> {
        let accepted = format!("a number or a distribution{}, {}", unit_of(key), limits.in_words());
        self.document(key, &accepted, REQUIRED, "", meaning);
        let Some(value) = self.find(key) else {
            self.missing(key, &accepted);
            return None;
        };
        self.sink.record(self.path(key), Some(value.span()), String::new(), "");
        self.plain_uncertain(key, value, limits, &accepted)
    }

    fn plain_uncertain(
        &self,
        key: &str,
        value: &Spanned<DeValue>,
        limits: Limits,
        accepted: &str,
    ) -> Option<Uncertain> {
        const SHAPES: &str = "one of `{ normal = [mean, sd] }`, `{ uniform = [low, high] }`, \
             `{ triangular = [low, mode, high] }`, `{ lognormal = [median, factor] }`, `{ choice = [[value, weight], ...] }`";
        let Some(table) = value.get_ref().as_table() else {
            return self.plain_number(key, value, limits, accepted).map(Uncertain::Exact);
        };
        let mut entries = table.iter();
        let (Some((shape, spec)), None) = (entries.next(), entries.next()) else {
            self.sink.push(
                Severity::Error,
                Some(value.span()),
                &self.path(key),
                "a table that is no distribution",
                SHAPES,
                None,
            );
            return None;
        };
        let names = ["normal", "uniform", "triangular", "lognormal", "choice"];
        let shape_name = shape.get_ref().as_ref();
        if !names.contains(&shape_name) {
            let hint = nearest(shape_name, names.into_iter());
            let found = format!("the distribution `{}`", shortened(shape_name));
            self.sink.push(Severity::Error, Some(shape.span()), &self.path(key), found, SHAPES, hint);
            return None;
        }
        let any = between(f64::MIN, f64::MAX);
        let bad = |accepted: &str| {
            let found = self.sink.describe(spec);
            self.sink.push(Severity::Error, Some(spec.span()), &self.path(key), found, accepted, None);
        };
        let numbers = |count: usize| -> Option<Vec<f64>> {
            let list = spec.get_ref().as_array().filter(|list| list.len() == count);
            let Some(list) = list else {
                bad(&format!("a list of {count} numbers"));
                return None;
            };
            list.iter().map(|item| self.plain_number(key, item, any, "a number")).collect()
        };
        let found = match shape_name {
            "normal" => {
                let n = numbers(2)?;
                if n[1] < 0.0 {
                    bad("a standard deviation of 0 or more");
                    return None;
                }
                Uncertain::Normal(n[0], n[1])
            }
            "uniform" => {
                let n = numbers(2)?;
                if n[0] > n[1] {
                    bad("the lower end first");
                    return None;
                }
                Uncertain::Uniform(n[0], n[1])
            }
            "triangular" => {
                let n = numbers(3)?;
                if n[0] > n[1] || n[1] > n[2] {
                    bad("low, mode, high in rising order");
                    return None;
                }
                Uncertain::Triangular(n[0], n[1], n[2])
            }
            "lognormal" => {
                let n = numbers(2)?;
                if n[0] <= 0.0 || n[1] < 1.0 || n[1] > 100.0 {
                    bad(
                        "a median above 0 and a factor of 1 to 100 (68 % lie within median ÷ factor and median × factor)",
                    );
                    return None;
                }
                Uncertain::Lognormal(n[0], n[1])
            }
            _ => {
                const PAIRS: &str = "a list of pairs [value, weight] with weights above 0";
                let Some(list) = spec.get_ref().as_array().filter(|list| !list.is_empty()) else {
                    bad(PAIRS);
                    return None;
                };
                let mut pairs = Vec::new();
                for item in list.iter() {
                    let Some(pair) = item.get_ref().as_array().filter(|pair| pair.len() == 2) else {
                        bad(PAIRS);
                        return None;
                    };
                    let mut both = pair.iter();
                    let (value, weight) = (both.next()?, both.next()?);
                    pairs.push((
                        self.plain_number(key, value, any, "a number")?,
                        self.plain_number(key, weight, above(0.0, 1e9), "a weight above 0")?,
                    ));
                }
                Uncertain::Choice(pairs)
            }
        };
        self.limited(key, value, found, limits, accepted)
    }

    /// A distribution's ends must be allowed; of one with tails its middle must be, and draws beyond the limits count as at them.
    fn limited(
        &self,
        key: &str,
        value: &Spanned<DeValue>,
        found: Uncertain,
        limits: Limits,
        accepted: &str,
    ) -> Option<Uncertain> {
        let tailed = matches!(found, Uncertain::Normal(..) | Uncertain::Lognormal(..));
        let (low, high) = found.range();
        if limits.allow(low) && limits.allow(high) {
            return Some(found);
        }
        if tailed && limits.allow(found.central()) {
            // Just above an excluded lower limit: far enough to divide by.
            let low = if limits.above_low { limits.low + 1e-3 * (found.central() - limits.low) } else { limits.low };
            return Some(Uncertain::Within(Box::new(found), low, limits.high));
        }
        let words = if tailed {
            format!("a distribution with its middle at {}", tidy(found.central()))
        } else {
            format!("a distribution that reaches from {} to {}", tidy(low), tidy(high))
        };
        self.sink.push(Severity::Error, Some(value.span()), &self.path(key), words, accepted, None);
        None
    }

    /// A list of a fixed number of numbers.
    pub fn numbers<const N: usize>(
        &self,
        key: &'static str,
        limits: Limits,
        default: [f64; N],
        source: &str,
        meaning: &str,
    ) -> [f64; N] {
        let accepted = format!("a list of {N} numbers{}, each {}", unit_of(key), limits.in_words());
        let default_text = format!("[{}]", default.map(tidy).join(", "));
        self.document(key, &accepted, &default_text, source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), default_text, source);
        value.and_then(|value| self.plain_numbers(key, value, limits, &accepted)).unwrap_or(default)
    }

    /// A list of a fixed number of numbers, or nothing.
    pub fn opt_numbers<const N: usize>(
        &self,
        key: &'static str,
        limits: Limits,
        otherwise: &str,
        meaning: &str,
    ) -> Option<[f64; N]> {
        let accepted = format!("a list of {N} numbers{}, each {}", unit_of(key), limits.in_words());
        self.document(key, &accepted, "none", otherwise, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), "none".into(), otherwise);
        self.plain_numbers(key, value?, limits, &accepted)
    }

    fn plain_numbers<const N: usize>(
        &self,
        key: &str,
        value: &Spanned<DeValue>,
        limits: Limits,
        accepted: &str,
    ) -> Option<[f64; N]> {
        let Some(list) = value.get_ref().as_array().filter(|list| list.len() == N) else {
            self.wrong(key, value, accepted);
            return None;
        };
        let found: Option<Vec<f64>> = list.iter().map(|item| self.plain_number(key, item, limits, accepted)).collect();
        found?.try_into().ok()
    }

    /// A list of any number of numbers; empty by default.
    pub fn list(&self, key: &'static str, limits: Limits, otherwise: &str, meaning: &str) -> Vec<f64> {
        let accepted = format!("a list of numbers{}, each {}", unit_of(key), limits.in_words());
        self.document(key, &accepted, "[]", otherwise, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), "[]".into(), otherwise);
        let Some(value) = value else { return Vec::new() };
        let Some(list) = value.get_ref().as_array() else {
            self.wrong(key, value, &accepted);
            return Vec::new();
        };
        list.iter().filter_map(|item| self.plain_number(key, item, limits, &accepted)).collect()
    }

    /// A list of points of N numbers each, at least `at_least` of them, with the place of each.
    pub fn points<const N: usize>(
        &self,
        key: &'static str,
        at_least: usize,
        shape: &str,
        meaning: &str,
    ) -> Option<Vec<([f64; N], Range<usize>)>> {
        let accepted = format!("a list of {at_least} or more points {shape} in metres");
        self.document(key, &accepted, "none", "", meaning);
        let value = self.find(key)?;
        self.sink.record(self.path(key), Some(value.span()), String::new(), "");
        let Some(list) = value.get_ref().as_array().filter(|list| list.len() >= at_least) else {
            self.wrong(key, value, &accepted);
            return None;
        };
        let limits = between(-1e6, 1e6);
        let each = format!("a point {shape}, each number -1000000 to 1000000 metres");
        let found: Vec<Option<([f64; N], Range<usize>)>> =
            list.iter().map(|item| Some((self.plain_numbers(key, item, limits, &each)?, item.span()))).collect();
        found.into_iter().collect()
    }

    /// A table; one that is not there reads as empty.
    pub fn table(&self, key: &'static str) -> Section<'r, 'a> {
        let value = self.find(key);
        let table = value.and_then(|value| {
            let table = value.get_ref().as_table();
            if table.is_none() {
                self.wrong(key, value, "a table");
            }
            table
        });
        Section {
            sink: self.sink,
            table,
            prefix: self.path(key) + ".",
            span: value.map(Spanned::span).or_else(|| self.span.clone()),
            asked: RefCell::default(),
            partial: Cell::new(false),
        }
    }

    /// A table that may be left out; `false` says so too, `true` stands for an empty one.
    pub fn opt_table(&self, key: &'static str, meaning: &str) -> Option<Section<'r, 'a>> {
        let accepted = "a table, or `false` for none";
        self.document(key, accepted, "none", "", meaning);
        let value = self.find(key);
        let there = match value.map(Spanned::get_ref) {
            Some(DeValue::Boolean(there)) => *there,
            Some(DeValue::Table(_)) => true,
            Some(_) => {
                self.wrong(key, value?, accepted);
                false
            }
            None => self.is_changed_below(key),
        };
        if !there && !self.sink.describing {
            self.sink.record(self.path(key), value.map(Spanned::span), "none".into(), "left out");
            return None;
        }
        Some(Section {
            sink: self.sink,
            table: value.and_then(|value| value.get_ref().as_table()),
            prefix: self.path(key) + ".",
            span: value.map(Spanned::span).or_else(|| self.span.clone()),
            asked: RefCell::default(),
            partial: Cell::new(false),
        })
    }

    /// The tables of a list.
    pub fn tables(&self, key: &'static str, meaning: &str) -> Vec<Section<'r, 'a>> {
        let accepted = format!("one or more tables `[[{}]]`", self.path(key));
        self.document(key, &accepted, "none", "", meaning);
        if self.sink.describing {
            return vec![Section {
                sink: self.sink,
                table: None,
                prefix: self.path(key) + "[].",
                span: None,
                asked: RefCell::default(),
                partial: Cell::new(false),
            }];
        }
        let Some(value) = self.find(key) else { return Vec::new() };
        let Some(list) = value.get_ref().as_array() else {
            self.wrong(key, value, &accepted);
            return Vec::new();
        };
        let mut found = Vec::new();
        for (index, item) in list.iter().enumerate() {
            match item.get_ref().as_table() {
                Some(table) => found.push(Section {
                    sink: self.sink,
                    table: Some(table),
                    prefix: format!("{}[{index}].", self.path(key)),
                    span: Some(item.span()),
                    asked: RefCell::default(),
                    partial: Cell::new(false),
                }),
                None => self.wrong(key, item, &accepted),
            }
        }
        found
    }

    /// The key and value pairs of a table of free keys (a condition's changes).
    pub fn pairs(&self, key: &'static str, meaning: &str) -> Vec<Change<'a>> {
        let accepted = "a table of key paths in quotes with their new values";
        self.document(key, accepted, REQUIRED, "", meaning);
        let Some(value) = self.find(key) else {
            self.missing(key, accepted);
            return Vec::new();
        };
        let Some(table) = value.get_ref().as_table() else {
            self.wrong(key, value, accepted);
            return Vec::new();
        };
        let mut found: Vec<_> =
            table.iter().map(|(name, value)| (name.get_ref().to_string(), name.span(), value)).collect();
        found.sort_by_key(|pair| pair.1.start);
        found
    }

    /// A date and time of the UTC.
    pub fn utc(&self, key: &'static str, default: [u32; 6], source: &str, meaning: &str) -> [u32; 6] {
        let accepted = "a date and time in UTC, 1980 to 2099, such as 2026-05-16T09:30:00Z";
        let text = |t: [u32; 6]| format!("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", t[0], t[1], t[2], t[3], t[4], t[5]);
        self.document(key, accepted, &text(default), source, meaning);
        let value = self.find(key);
        self.sink.record(self.path(key), value.map(Spanned::span), text(default), source);
        let Some(value) = value else { return default };
        let found = value.get_ref().as_datetime().and_then(|moment| {
            let (date, time) = (moment.date?, moment.time?);
            let zero = match moment.offset {
                Some(toml::value::Offset::Z) | None => true,
                Some(toml::value::Offset::Custom { minutes }) => minutes == 0,
            };
            let fits = zero && (1980..2100).contains(&date.year);
            fits.then_some([
                u32::from(date.year),
                u32::from(date.month),
                u32::from(date.day),
                u32::from(time.hour),
                u32::from(time.minute),
                // A leap second would be 60: the day goes on with 59.
                u32::from(time.second.unwrap_or(0)).min(59),
            ])
        });
        found.unwrap_or_else(|| {
            self.wrong(key, value, accepted);
            default
        })
    }
}

/// The words for a key that is not there.
pub(super) const MISSING: &str = "nothing: the key is missing";

/// The default of a key that has none.
const REQUIRED: &str = "required";

fn list_of<T>(words: &[(&'static str, T)]) -> String {
    let quoted: Vec<String> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
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

/// A distribution as one would write it.
pub(super) fn in_words(value: &Uncertain) -> String {
    match value {
        Uncertain::Exact(value) => tidy(*value),
        Uncertain::Normal(mean, sd) => format!("{{ normal = [{}, {}] }}", tidy(*mean), tidy(*sd)),
        Uncertain::Uniform(low, high) => format!("{{ uniform = [{}, {}] }}", tidy(*low), tidy(*high)),
        Uncertain::Triangular(low, mode, high) => {
            format!("{{ triangular = [{}, {}, {}] }}", tidy(*low), tidy(*mode), tidy(*high))
        }
        Uncertain::Lognormal(median, factor) => format!("{{ lognormal = [{}, {}] }}", tidy(*median), tidy(*factor)),
        Uncertain::Choice(options) => {
            let pairs: Vec<String> =
                options.iter().map(|(value, weight)| format!("[{}, {}]", tidy(*value), tidy(*weight))).collect();
            format!("{{ choice = [{}] }}", pairs.join(", "))
        }
        Uncertain::Within(inner, ..) => in_words(inner),
    }
}

/// Reports the keys of a table that nothing asked for.
impl Drop for Section<'_, '_> {
    fn drop(&mut self) {
        let Some(table) = self.table.filter(|_| !self.partial.get()) else { return };
        let asked = self.asked.borrow();
        for (key, _) in table.iter() {
            let name = key.get_ref().as_ref();
            if !asked.contains(&name) {
                let hint = nearest(name, asked.iter().copied());
                let mut known: Vec<&str> = asked.clone();
                known.sort_unstable();
                known.dedup();
                let list = known.iter().map(|key| format!("`{key}`")).collect::<Vec<_>>().join(", ");
                let path = self.path(&shortened(name));
                self.sink.push(
                    Severity::Error,
                    Some(key.span()),
                    &path,
                    "an unknown key",
                    format!("the keys {list}"),
                    hint,
                );
            }
        }
    }
}
