//! Single values of a file: numbers, words, lists, dates, distributions.

use super::diagnostic::Severity;
use super::hours::earlier;
use super::kind::{Limits, SHAPES, above, between, tidy};
use super::meant::nearest_word;
use super::sink::{SHOWN, Sink, describe, hidden, shortened};
use crate::chance::{Range, Uncertain};
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use toml::value::{Datetime, Offset};

type Value<'a> = Spanned<DeValue<'a>>;

const FORMS: &str = "one of `{ normal = [mean, sd] }`, `{ uniform = [low, high] }`, \
     `{ triangular = [low, mode, high] }`, `{ lognormal = [median, factor] }`, `{ choice = [[value, weight], ...] }`";

/// How far a stated time is ahead of UTC, in minutes; one without an offset is UTC.
pub(super) fn offset_min(moment: &Datetime) -> i32 {
    match moment.offset {
        Some(Offset::Custom { minutes }) => i32::from(minutes),
        Some(Offset::Z) | None => 0,
    }
}

/// The two values of a list of two.
fn pair<'v, 'a>(item: &'v Value<'a>) -> Option<[&'v Value<'a>; 2]> {
    item.get_ref().as_array()?.iter().collect::<Vec<_>>().try_into().ok()
}

/// A number, in whatever form TOML has for it.
pub(super) fn number_of(value: &DeValue) -> Option<f64> {
    match value {
        DeValue::Integer(whole) => i64::from_str_radix(whole.as_str(), whole.radix()).ok().map(|whole| whole as f64),
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => None,
    }
}

/// A value that was found for a key, or within its value.
pub(super) struct Found<'s, 'v, 'a> {
    sink: &'s Sink<'a>,
    /// Path of the key.
    path: &'s str,
    value: &'v Value<'a>,
    /// What is accepted here.
    accepted: &'s str,
}

impl<'s, 'v, 'a> Found<'s, 'v, 'a> {
    pub fn new(sink: &'s Sink<'a>, path: &'s str, value: &'v Value<'a>, accepted: &'s str) -> Self {
        Found { sink, path, value, accepted }
    }

    /// A value within it.
    fn inner<'w>(&self, value: &'w Value<'a>, accepted: &'s str) -> Found<'s, 'w, 'a> {
        Found { value, accepted, ..*self }
    }

    /// A fault of this value.
    fn fault(&self, found: impl Into<String>, accepted: &str, hint: Option<String>) {
        self.sink.push(Severity::Error, Some(self.value.span()), self.path, found, accepted, hint);
    }

    /// What was read; for nothing the fault that it is not what is accepted.
    fn or_wrong<T>(&self, read: Option<T>) -> Option<T> {
        if read.is_none() {
            self.fault(self.sink.describe(self.value), self.accepted, None);
        }
        read
    }

    pub fn number(&self, limits: Limits) -> Option<f64> {
        self.or_wrong(number_of(self.value.get_ref()).filter(|number| limits.allow(*number)))
    }

    pub fn whole(&self, low: u64, high: u64) -> Option<u64> {
        let whole = match self.value.get_ref() {
            DeValue::Integer(whole) => u64::from_str_radix(whole.as_str(), whole.radix()).ok(),
            _ => None,
        };
        self.or_wrong(whole.filter(|whole| (low..=high).contains(whole)))
    }

    pub fn flag(&self) -> Option<bool> {
        self.or_wrong(self.value.get_ref().as_bool())
    }

    pub fn text(&self, fits: fn(&&str) -> bool) -> Option<String> {
        let text = self.or_wrong(self.value.get_ref().as_str().filter(fits).map(String::from))?;
        if let Some(found) = hidden(&text) {
            self.fault(found, SHOWN, None);
            return None;
        }
        Some(text)
    }

    /// The name of a file, none when it is blank, or a list of names.
    pub fn file_names(&self) -> Option<Vec<String>> {
        if self.value.get_ref().as_array().is_none() {
            return self.text(|_| true).map(|name| Vec::from_iter((!name.trim().is_empty()).then_some(name)));
        }
        let each = "the name of a file";
        let one = |item| self.inner(item, each).text(|name| !name.trim().is_empty());
        self.list(1)?.iter().map(one).collect()
    }

    pub fn word<T: Copy>(&self, words: &[(&'static str, T)]) -> Option<T> {
        let text = self.value.get_ref().as_str();
        if let Some(found) = text.and_then(|text| words.iter().find(|(word, _)| *word == text)) {
            return Some(found.1);
        }
        let hint = text.and_then(|text| nearest_word(text, words.iter().map(|pair| pair.0)));
        self.fault(describe(self.value.get_ref()), self.accepted, hint);
        None
    }

    /// The texts of a list, each with its place.
    pub fn texts(&self) -> Vec<(String, std::ops::Range<usize>)> {
        let list = self.list(0).unwrap_or_default();
        let each = "a text that is not blank";
        let one = |item| {
            let text = self.inner(item, each).text(|text| !text.trim().is_empty())?;
            Some((text, item.span()))
        };
        list.iter().filter_map(one).collect()
    }

    /// A word's number, or a choice of several.
    pub fn chances(&self, words: &[(&'static str, f64)]) -> Option<Uncertain> {
        let Some(table) = self.value.get_ref().as_table() else { return self.word(words).map(Uncertain::Exact) };
        let choice = table.iter().find(|(shape, _)| shape.get_ref().as_ref() == "choice" && table.len() == 1);
        let list = choice.and_then(|(_, spec)| spec.get_ref().as_array()).filter(|list| !list.is_empty());
        let pairs: Option<Vec<_>> = list.and_then(|list| list.iter().map(pair).collect());
        let read = |[word, weight]: [&Value<'a>; 2]| {
            let word = self.inner(word, self.accepted).word(words)?;
            Some((word, self.inner(weight, "a weight above 0").number(above(0.0, 1e9))?))
        };
        self.or_wrong(pairs)?.into_iter().map(read).collect::<Option<Vec<_>>>().map(Uncertain::Choice)
    }

    /// A list of values, not fewer than that.
    fn list(&self, at_least: usize) -> Option<&'v [Value<'a>]> {
        self.or_wrong(self.value.get_ref().as_array().filter(|list| list.len() >= at_least).map(|list| list.as_ref()))
    }

    /// The words of a list, each of which is one of `each`.
    pub fn words<T: Copy + PartialEq>(&self, words: &[(&'static str, T)], each: &'s str) -> Vec<T> {
        let mut found = Vec::new();
        for item in self.list(1).unwrap_or_default() {
            let item = self.inner(item, each);
            match item.word(words) {
                Some(word) if found.contains(&word) => item.fault("a word that is there already", self.accepted, None),
                word => found.extend(word),
            }
        }
        found
    }

    pub fn numbers<const N: usize>(&self, limits: Limits) -> Option<[f64; N]> {
        let list = self.or_wrong(self.value.get_ref().as_array().filter(|list| list.len() == N))?;
        let found: Option<Vec<f64>> = list.iter().map(|item| self.inner(item, self.accepted).number(limits)).collect();
        found?.try_into().ok()
    }

    /// Numbers of a list of any length; those that are none are left out.
    pub fn number_list(&self, limits: Limits) -> Vec<f64> {
        let list = self.list(0).unwrap_or_default();
        list.iter().filter_map(|item| self.inner(item, self.accepted).number(limits)).collect()
    }

    /// Points of a list; each is as `each` says.
    pub fn points<const N: usize>(&self, at_least: usize, each: &'s str) -> Option<Vec<[f64; N]>> {
        let list = self.list(at_least)?;
        let found: Vec<Option<[f64; N]>> =
            list.iter().map(|item| self.inner(item, each).numbers(between(-1e6, 1e6))).collect();
        found.into_iter().collect()
    }

    /// A date and time in UTC; one with an offset is turned into it.
    pub fn utc(&self) -> Option<[u32; 6]> {
        let read = |moment: &Datetime| {
            let (date, time) = (moment.date?, moment.time?);
            // A leap second would be 60: the day goes on with 59.
            let second = time.second.unwrap_or(0).min(59);
            let local = [
                u32::from(date.year),
                u32::from(date.month),
                u32::from(date.day),
                u32::from(time.hour),
                u32::from(time.minute),
                u32::from(second),
            ];
            let utc = earlier(local, offset_min(moment))?;
            (1980..2100).contains(&utc[0]).then_some(utc)
        };
        self.or_wrong(self.value.get_ref().as_datetime().and_then(read))
    }

    pub fn uncertain(&self, limits: Limits) -> Option<Uncertain> {
        match self.value.get_ref().as_table() {
            Some(table) => self.limited(self.distribution(table)?, limits),
            None => self.number(limits).map(Uncertain::Exact),
        }
    }

    /// The one distribution that a table states.
    fn distribution(&self, table: &DeTable<'a>) -> Option<Uncertain> {
        let mut entries = table.iter();
        let (Some((shape, spec)), None) = (entries.next(), entries.next()) else {
            self.fault("a table that is no distribution", FORMS, None);
            return None;
        };
        let name = shape.get_ref().as_ref();
        let Some(&(_, count)) = SHAPES.iter().find(|known| known.0 == name) else {
            let hint = nearest_word(name, SHAPES.iter().map(|known| known.0));
            let found = format!("the distribution `{}`", shortened(name));
            self.sink.push(Severity::Error, Some(shape.span()), self.path, found, FORMS, hint);
            return None;
        };
        if count == 0 {
            return self.inner(spec, "a list of pairs [value, weight] with weights above 0").choice();
        }
        let accepted = format!("a list of {count} numbers");
        let found = Found { sink: self.sink, path: self.path, value: spec, accepted: &accepted };
        let list = found.or_wrong(spec.get_ref().as_array().filter(|list| list.len() == count))?;
        let any = between(f64::MIN, f64::MAX);
        let numbers: Option<Vec<f64>> = list.iter().map(|item| self.inner(item, "a number").number(any)).collect();
        let made = match (name, numbers?.as_slice()) {
            ("normal", &[mean, sd]) if sd >= 0.0 => Ok(Uncertain::Normal(mean, sd)),
            ("normal", _) => Err("a standard deviation of 0 or more"),
            ("uniform", &[low, high]) if low <= high => Ok(Uncertain::Uniform(low, high)),
            ("uniform", _) => Err("the lower end first"),
            ("triangular", &[low, mode, high]) if low <= mode && mode <= high => {
                Ok(Uncertain::Triangular(low, mode, high))
            }
            ("triangular", _) => Err("low, mode, high in rising order"),
            (_, &[median, factor]) if median > 0.0 && (1.0..=100.0).contains(&factor) => {
                Ok(Uncertain::Lognormal(median, factor))
            }
            _ => Err("a median above 0 and a factor of 1 to 100 (68 % lie within median ÷ factor and median × factor)"),
        };
        match made {
            Ok(made) => Some(made),
            Err(accepted) => self.inner(spec, accepted).or_wrong(None),
        }
    }

    /// Values with their weights.
    fn choice(&self) -> Option<Uncertain> {
        let list = self.value.get_ref().as_array().filter(|list| !list.is_empty());
        let pairs: Option<Vec<_>> = list.and_then(|list| list.iter().map(pair).collect());
        let read = |[value, weight]: [&Value<'a>; 2]| {
            let value = self.inner(value, "a number").number(between(f64::MIN, f64::MAX))?;
            Some((value, self.inner(weight, "a weight above 0").number(above(0.0, 1e9))?))
        };
        self.or_wrong(pairs)?.into_iter().map(read).collect::<Option<Vec<_>>>().map(Uncertain::Choice)
    }

    /// A distribution's ends must be allowed; of one with tails its middle must be, and draws beyond the limits count as at them.
    fn limited(&self, found: Uncertain, limits: Limits) -> Option<Uncertain> {
        let tailed = matches!(found, Uncertain::Normal(..) | Uncertain::Lognormal(..));
        let Range { low, high } = found.range();
        if limits.allow(low) && limits.allow(high) {
            return Some(found);
        }
        if tailed && limits.allow(found.central()) {
            return Some(limits.clip(found));
        }
        let words = if tailed {
            format!("a distribution with its middle at {}", tidy(found.central()))
        } else {
            format!("a distribution that reaches from {} to {}", tidy(low), tidy(high))
        };
        self.fault(words, self.accepted, None);
        None
    }
}
