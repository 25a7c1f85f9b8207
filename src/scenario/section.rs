//! A small reader of TOML tables that keeps every place, finds all errors in one pass, and knows its own keys.
//!
//! What reads a scenario asks a [`Section`] for each key with its default, range and meaning. The same calls, run without a
//! file, give the documentation of the format.

use super::diagnostic::Severity;
use super::kind::{KeyDoc, Kind, Limits, MISSING, REQUIRED, UNKNOWN, in_words, list_of, tidy, tidy_list};
use super::meant::nearest_key;
use super::sink::{Sink, shortened};
use super::value::{Found, number_of, offset_min};
use crate::chance::Uncertain;
use std::cell::{Cell, RefCell};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A key that a condition changes: its path, where it stands, its new value.
pub(crate) type Change<'a> = (String, Range<usize>, &'a Spanned<DeValue<'a>>);

/// A table being read.
pub(crate) struct Section<'r, 'a> {
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

impl<'r, 'a> Section<'r, 'a> {
    fn new(sink: &'r Sink<'a>, table: Option<&'a DeTable<'a>>, prefix: String, span: Option<Range<usize>>) -> Self {
        Section { sink, table, prefix, span, asked: RefCell::default(), partial: Cell::new(false) }
    }

    /// The whole file. What is missing at the top is shown at its start.
    pub fn root(sink: &'r Sink<'a>) -> Self {
        Section::new(sink, Some(sink.document), String::new(), Some(sink.start.clone()))
    }

    /// Leaves unknown keys unreported.
    pub fn forget(&self) {
        self.partial.set(true);
    }

    /// The path of one of its keys.
    pub fn path(&self, key: &str) -> String {
        format!("{}{key}", self.prefix)
    }

    /// The path of a key, or of the section itself for no key.
    fn name(&self, key: &str) -> String {
        if key.is_empty() { self.prefix.trim_end_matches('.').into() } else { self.path(key) }
    }

    fn written(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.table?.iter().find(|(name, _)| name.get_ref().as_ref() == key).map(|(_, value)| value)
    }

    /// The value of a key and its place, from a condition or from the file.
    pub fn find(&self, key: &'static str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.asked.borrow_mut().push(key);
        let path = self.path(key);
        if let Some(change) = self.sink.overrides.borrow_mut().iter_mut().find(|change| change.key == path) {
            change.used = true;
            return Some(change.value);
        }
        self.written(key)
    }

    /// Whether a key of an earlier form is there. It is told what it is called now, and may be read all the same.
    pub fn former(&self, key: &'static str, now: &str) -> bool {
        let path = self.path(key);
        let changed = self.sink.overrides.borrow().iter().any(|change| change.key == path);
        let there = changed || self.written(key).is_some();
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
        self.sink.push(Severity::Error, self.span_of(key), &self.name(key), found, accepted, None);
    }

    pub fn warn(&self, key: &'static str, found: impl Into<String>, accepted: impl Into<String>) {
        self.sink.push(Severity::Warning, self.span_of(key), &self.name(key), found, accepted, None);
    }

    /// A fault at a value of a key.
    pub(crate) fn fault(
        &self,
        key: &str,
        at: Range<usize>,
        found: impl Into<String>,
        accepted: &str,
        hint: Option<String>,
    ) {
        self.sink.push(Severity::Error, Some(at), &self.path(key), found, accepted, hint);
    }

    /// The value of a key is not what is accepted.
    pub(crate) fn wrong(&self, key: &str, value: &Spanned<DeValue>, accepted: &str) {
        self.fault(key, value.span(), self.sink.describe(value), accepted, None);
    }

    pub fn missing(&self, key: &'static str, accepted: &str) {
        self.sink.push(Severity::Error, self.span.clone(), &self.path(key), MISSING, accepted, None);
    }

    fn document(&self, key: &str, kind: Kind, default: &str, source: &str, meaning: &str) -> String {
        let path = self.path(key);
        let accepts = kind.in_words(key);
        if self.sink.documented.borrow_mut().insert(path.clone()) {
            let mut keys = self.sink.keys.borrow_mut();
            let (default, source, meaning) = (default.into(), source.into(), meaning.into());
            keys.push(KeyDoc { key: path, kind, accepts: accepts.clone(), default, source, meaning });
        }
        accepts
    }

    /// Documents a key, looks for it and lists it among the inputs; what `read` makes of its value.
    fn ask<T>(
        &self,
        key: &'static str,
        kind: Kind,
        [default, source, meaning]: [&str; 3],
        read: impl FnOnce(Found) -> Option<T>,
    ) -> Option<T> {
        let accepted = self.document(key, kind, default, source, meaning);
        let value = self.find(key);
        if value.is_none() && default == REQUIRED {
            self.missing(key, &accepted);
            return None;
        }
        let path = self.path(key);
        self.sink.record(path.clone(), value.map(Spanned::span), default, source);
        read(Found::new(self.sink, &path, value?, &accepted))
    }

    /// A number with a default.
    pub fn number(&self, key: &'static str, limits: Limits, default: f64, source: &str, meaning: &str) -> f64 {
        let about = [&tidy(default), source, meaning];
        self.ask(key, Kind::Number(limits), about, |found| found.number(limits)).unwrap_or(default)
    }

    /// The number that a key has, before its turn: it is read and judged then.
    pub fn foreseen(&self, key: &'static str) -> Option<f64> {
        number_of(self.find(key)?.get_ref())
    }

    /// A number, or nothing.
    pub fn opt_number(&self, key: &'static str, limits: Limits, otherwise: &str, meaning: &str) -> Option<f64> {
        self.ask(key, Kind::Number(limits), ["none", otherwise, meaning], |found| found.number(limits))
    }

    /// A number that must be there.
    pub fn required_number(&self, key: &'static str, limits: Limits, meaning: &str) -> Option<f64> {
        self.ask(key, Kind::Number(limits), [REQUIRED, "", meaning], |found| found.number(limits))
    }

    /// A whole number with a default.
    pub fn whole(&self, key: &'static str, low: u64, high: u64, default: u64, source: &str, meaning: &str) -> u64 {
        let about = [&default.to_string(), source, meaning];
        self.ask(key, Kind::Whole(low, high), about, |found| found.whole(low, high)).unwrap_or(default)
    }

    /// A whole number, or nothing.
    pub fn opt_whole(&self, key: &'static str, low: u64, high: u64, otherwise: &str, meaning: &str) -> Option<u64> {
        self.ask(key, Kind::Whole(low, high), ["none", otherwise, meaning], |found| found.whole(low, high))
    }

    /// A small whole number with a default.
    pub fn count(&self, key: &'static str, low: u32, high: u32, default: u32, source: &str, meaning: &str) -> u32 {
        self.whole(key, low.into(), high.into(), default.into(), source, meaning) as u32
    }

    /// `true` or `false` with a default.
    pub fn flag(&self, key: &'static str, default: bool, source: &str, meaning: &str) -> bool {
        let about = [&default.to_string(), source, meaning];
        self.ask(key, Kind::Flag, about, |found| found.flag()).unwrap_or(default)
    }

    /// A text with a default.
    pub fn text(&self, key: &'static str, default: &str, source: &str, meaning: &str) -> String {
        let about = [&format!("\"{default}\""), source, meaning];
        self.ask(key, Kind::Text { title: false }, about, |found| found.text(|_| true)).unwrap_or(default.into())
    }

    /// A text, or nothing.
    pub fn opt_text(&self, key: &'static str, otherwise: &str, meaning: &str) -> Option<String> {
        let about = ["none", otherwise, meaning];
        self.ask(key, Kind::Text { title: false }, about, |found| found.text(|_| true))
    }

    /// A text that must be there and not be blank.
    pub fn required_text(&self, key: &'static str, meaning: &str) -> String {
        let read = |found: Found| found.text(|text| !text.trim().is_empty());
        self.ask(key, Kind::Text { title: true }, [REQUIRED, "", meaning], read).unwrap_or_default()
    }

    /// The name of a file, or nothing (also when the text is blank).
    pub fn file_name(&self, key: &'static str, otherwise: &str, meaning: &str) -> Option<String> {
        let name = self.ask(key, Kind::File, ["none", otherwise, meaning], |found| found.text(|_| true));
        name.filter(|text| !text.trim().is_empty())
    }

    /// The names of files, one or several; none also when the text is blank.
    pub fn file_names(&self, key: &'static str, otherwise: &str, meaning: &str) -> Vec<String> {
        self.ask(key, Kind::Files, ["none", otherwise, meaning], |found| found.file_names()).unwrap_or_default()
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
        let about = [&format!("\"{default}\""), source, meaning];
        self.ask(key, Kind::Word(names(words)), about, |found| found.word(words)).unwrap_or(words[at].1)
    }

    /// One of several words that must be there.
    pub fn required_word<T: Copy>(&self, key: &'static str, words: &[(&'static str, T)], meaning: &str) -> Option<T> {
        self.ask(key, Kind::Word(names(words)), [REQUIRED, "", meaning], |found| found.word(words))
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
        let defaults = words.iter().filter(|pair| default.contains(&pair.0)).map(|pair| pair.1).collect();
        let default: Vec<String> = default.iter().map(|word| format!("\"{word}\"")).collect();
        let about = [&format!("[{}]", default.join(", ")), source, meaning];
        let each = list_of(&names(words));
        let found = self.ask(key, Kind::Words(names(words)), about, |found| Some(found.words(words, &each)));
        found.filter(|found| !found.is_empty()).unwrap_or(defaults)
    }

    /// A list of texts, none of them blank; empty by default. Each comes with its place.
    pub fn texts(&self, key: &'static str, otherwise: &str, meaning: &str) -> Vec<(String, Range<usize>)> {
        let read = |found: Found| Some(found.texts());
        self.ask(key, Kind::Texts, ["[]", otherwise, meaning], read).unwrap_or_default()
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
        let default = limits.clip(default.into());
        let about = [&in_words(&default), source, meaning];
        self.ask(key, Kind::Uncertain(limits), about, |found| found.uncertain(limits)).unwrap_or(default)
    }

    /// One of several words, or several with their weights: what is drawn is the place of the word among them.
    pub fn chances<T: Copy>(
        &self,
        key: &'static str,
        words: &[(&'static str, T)],
        default: &str,
        source: &str,
        meaning: &str,
    ) -> Uncertain {
        let places: Vec<(&'static str, f64)> = names(words).into_iter().zip((0..).map(f64::from)).collect();
        let usual = places.iter().find(|(word, _)| *word == default).map_or(0.0, |pair| pair.1);
        let about = [&format!("\"{default}\""), source, meaning];
        self.ask(key, Kind::Chances(names(words)), about, |found| found.chances(&places)).unwrap_or(usual.into())
    }

    /// A number or a distribution that must be there.
    pub fn required_uncertain(&self, key: &'static str, limits: Limits, meaning: &str) -> Option<Uncertain> {
        self.ask(key, Kind::Uncertain(limits), [REQUIRED, "", meaning], |found| found.uncertain(limits))
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
        let about = [&tidy_list(&default), source, meaning];
        self.ask(key, Kind::Numbers(N, limits), about, |found| found.numbers(limits)).unwrap_or(default)
    }

    /// A list of a fixed number of numbers, or nothing.
    pub fn opt_numbers<const N: usize>(
        &self,
        key: &'static str,
        limits: Limits,
        otherwise: &str,
        meaning: &str,
    ) -> Option<[f64; N]> {
        self.ask(key, Kind::Numbers(N, limits), ["none", otherwise, meaning], |found| found.numbers(limits))
    }

    /// A list of any number of numbers; empty by default.
    pub fn list(&self, key: &'static str, limits: Limits, otherwise: &str, meaning: &str) -> Vec<f64> {
        let read = |found: Found| Some(found.number_list(limits));
        self.ask(key, Kind::List(limits), ["[]", otherwise, meaning], read).unwrap_or_default()
    }

    /// A list of points of N numbers each, at least `at_least` of them.
    pub fn points<const N: usize>(
        &self,
        key: &'static str,
        at_least: usize,
        shape: &'static str,
        meaning: &str,
    ) -> Option<Vec<[f64; N]>> {
        let accepted = self.document(key, Kind::Points { at_least, numbers: N, shape }, "none", "", meaning);
        let (value, path) = (self.find(key)?, self.path(key));
        self.sink.record(path.clone(), Some(value.span()), "", "");
        let each = format!("a point {shape}, each number -1000000 to 1000000 metres");
        Found::new(self.sink, &path, value, &accepted).points(at_least, &each)
    }

    /// A date and time of the UTC.
    pub fn utc(&self, key: &'static str, default: [u32; 6], source: &str, meaning: &str) -> [u32; 6] {
        let [y, mo, d, h, mi, s] = default;
        let about = [&format!("{y:04}-{mo:02}-{d:02}T{h:02}:{mi:02}:{s:02}Z"), source, meaning];
        self.ask(key, Kind::Utc, about, |found| found.utc()).unwrap_or(default)
    }

    /// How far the time of a key is ahead of UTC as it is stated, in minutes; `None` where it is stated in UTC or not at all.
    pub fn offset_min(&self, key: &'static str) -> Option<i32> {
        let minutes = offset_min(self.find(key)?.get_ref().as_datetime()?);
        (minutes != 0).then_some(minutes)
    }

    /// A table; one that is not there reads as empty.
    pub fn table(&self, key: &'static str) -> Section<'r, 'a> {
        let value = self.find(key);
        if let Some(value) = value.filter(|value| value.get_ref().as_table().is_none()) {
            self.wrong(key, value, "a table");
        }
        self.below(key, value)
    }

    fn below(&self, key: &'static str, value: Option<&'a Spanned<DeValue<'a>>>) -> Section<'r, 'a> {
        let table = value.and_then(|value| value.get_ref().as_table());
        let span = value.map(Spanned::span).or_else(|| self.span.clone());
        Section::new(self.sink, table, self.path(key) + ".", span)
    }

    /// A table that may be left out; `false` says so too, `true` stands for an empty one.
    pub fn opt_table(&self, key: &'static str, meaning: &str) -> Option<Section<'r, 'a>> {
        let accepted = self.document(key, Kind::Table, "none", "", meaning);
        let value = self.find(key);
        let there = match value.map(Spanned::get_ref) {
            Some(DeValue::Boolean(there)) => *there,
            Some(DeValue::Table(_)) => true,
            Some(_) => {
                self.wrong(key, value?, &accepted);
                false
            }
            None => self.is_changed_below(key),
        };
        if !there && !self.sink.is_describing() {
            self.sink.record(self.path(key), value.map(Spanned::span), "none", "left out");
            return None;
        }
        Some(self.below(key, value))
    }

    /// The tables of a list.
    pub fn tables(&self, key: &'static str, meaning: &str) -> Vec<Section<'r, 'a>> {
        let accepted = self.document(key, Kind::Tables(self.path(key)), "none", "", meaning);
        if self.sink.is_describing() {
            return vec![Section::new(self.sink, None, self.path(key) + "[].", None)];
        }
        let Some(value) = self.find(key) else { return Vec::new() };
        let Some(list) = value.get_ref().as_array() else {
            self.wrong(key, value, &accepted);
            return Vec::new();
        };
        let mut found = Vec::new();
        for (index, item) in list.iter().enumerate() {
            if let Some(table) = item.get_ref().as_table() {
                let prefix = format!("{}[{index}].", self.path(key));
                found.push(Section::new(self.sink, Some(table), prefix, Some(item.span())));
            } else {
                self.wrong(key, item, &accepted);
            }
        }
        found
    }

    /// The key and value pairs of a table of free keys (a condition's changes).
    pub fn pairs(&self, key: &'static str, meaning: &str) -> Vec<Change<'a>> {
        let accepted = self.document(key, Kind::Pairs, REQUIRED, "", meaning);
        let Some(value) = self.find(key) else {
            self.missing(key, &accepted);
            return Vec::new();
        };
        let Some(table) = value.get_ref().as_table() else {
            self.wrong(key, value, &accepted);
            return Vec::new();
        };
        let mut found: Vec<_> =
            table.iter().map(|(name, value)| (name.get_ref().to_string(), name.span(), value)).collect();
        found.sort_by_key(|pair| pair.1.start);
        found
    }
}

fn names<T>(words: &[(&'static str, T)]) -> Vec<&'static str> {
    words.iter().map(|pair| pair.0).collect()
}

/// Reports the keys of a table that nothing asked for.
impl Drop for Section<'_, '_> {
    fn drop(&mut self) {
        let Some(table) = self.table.filter(|_| !self.partial.get()) else { return };
        let asked = self.asked.borrow();
        let mut known: Vec<&str> = asked.clone();
        known.sort_unstable();
        known.dedup();
        for (key, _) in table.iter() {
            let name = key.get_ref().as_ref();
            if !known.contains(&name) {
                let hint = nearest_key(name, &self.prefix, &asked, &self.sink.keys.borrow());
                let list = known.iter().map(|key| format!("`{key}`")).collect::<Vec<_>>().join(", ");
                self.fault(&shortened(name), key.span(), UNKNOWN, &format!("the keys {list}"), hint);
            }
        }
    }
}
