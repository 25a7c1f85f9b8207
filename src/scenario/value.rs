//! Single values of a file: numbers, words, lists, dates, distributions.

use super::kind::{Limits, SHAPES, above, between, tidy};
use super::section::Section;
use super::sink::{describe, nearest, shortened};
use crate::chance::Uncertain;
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use toml::value::{Datetime, Offset};

type Value<'a> = Spanned<DeValue<'a>>;

const FORMS: &str = "one of `{ normal = [mean, sd] }`, `{ uniform = [low, high] }`, \
     `{ triangular = [low, mode, high] }`, `{ lognormal = [median, factor] }`, `{ choice = [[value, weight], ...] }`";

impl Section<'_, '_> {
    pub(super) fn plain_number(&self, key: &str, value: &Value, limits: Limits, accepted: &str) -> Option<f64> {
        let number = match value.get_ref() {
            DeValue::Integer(whole) => {
                i64::from_str_radix(whole.as_str(), whole.radix()).ok().map(|whole| whole as f64)
            }
            DeValue::Float(float) => float.as_str().parse::<f64>().ok(),
            _ => None,
        };
        let number = number.filter(|number| limits.allow(*number));
        if number.is_none() {
            self.wrong(key, value, accepted);
        }
        number
    }

    pub(super) fn plain_word<T: Copy>(
        &self,
        key: &str,
        value: &Value,
        words: &[(&'static str, T)],
        accepted: &str,
    ) -> Option<T> {
        let text = value.get_ref().as_str();
        if let Some(found) = text.and_then(|text| words.iter().find(|(word, _)| *word == text)) {
            return Some(found.1);
        }
        let hint = text.and_then(|text| nearest(text, words.iter().map(|pair| pair.0)));
        self.fault(key, value.span(), describe(value.get_ref()), accepted, hint);
        None
    }

    pub(super) fn plain_words<T: Copy + PartialEq>(
        &self,
        key: &str,
        value: &Value,
        words: &[(&'static str, T)],
        accepted: &str,
    ) -> Vec<T> {
        let mut found = Vec::new();
        let Some(list) = value.get_ref().as_array().filter(|list| !list.is_empty()) else {
            self.wrong(key, value, accepted);
            return found;
        };
        let each = super::kind::list_of(&words.iter().map(|pair| pair.0).collect::<Vec<_>>());
        for item in list.iter() {
            match self.plain_word(key, item, words, &each) {
                Some(word) if found.contains(&word) => {
                    self.fault(key, item.span(), "a word that is there already", accepted, None);
                }
                word => found.extend(word),
            }
        }
        found
    }

    pub(super) fn plain_numbers<const N: usize>(
        &self,
        key: &str,
        value: &Value,
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

    pub(super) fn plain_points<const N: usize>(
        &self,
        key: &str,
        value: &Value,
        at_least: usize,
        shape: &str,
        accepted: &str,
    ) -> Option<Vec<[f64; N]>> {
        let Some(list) = value.get_ref().as_array().filter(|list| list.len() >= at_least) else {
            self.wrong(key, value, accepted);
            return None;
        };
        let each = format!("a point {shape}, each number -1000000 to 1000000 metres");
        let found: Vec<Option<[f64; N]>> =
            list.iter().map(|item| self.plain_numbers(key, item, between(-1e6, 1e6), &each)).collect();
        found.into_iter().collect()
    }

    pub(super) fn plain_utc(&self, key: &str, value: &Value, accepted: &str) -> Option<[u32; 6]> {
        let read = |moment: &Datetime| {
            let (date, time) = (moment.date?, moment.time?);
            let zero = matches!(moment.offset, Some(Offset::Z | Offset::Custom { minutes: 0 }) | None);
            // A leap second would be 60: the day goes on with 59.
            let second = time.second.unwrap_or(0).min(59);
            (zero && (1980..2100).contains(&date.year)).then_some([
                u32::from(date.year),
                u32::from(date.month),
                u32::from(date.day),
                u32::from(time.hour),
                u32::from(time.minute),
                u32::from(second),
            ])
        };
        let found = value.get_ref().as_datetime().and_then(read);
        if found.is_none() {
            self.wrong(key, value, accepted);
        }
        found
    }

    pub(super) fn plain_uncertain(
        &self,
        key: &str,
        value: &Value,
        limits: Limits,
        accepted: &str,
    ) -> Option<Uncertain> {
        let Some(table) = value.get_ref().as_table() else {
            return self.plain_number(key, value, limits, accepted).map(Uncertain::Exact);
        };
        let found = self.distribution(key, value, table)?;
        self.limited(key, value, found, limits, accepted)
    }

    /// The one distribution that a table states.
    fn distribution(&self, key: &str, value: &Value, table: &DeTable) -> Option<Uncertain> {
        let mut entries = table.iter();
        let (Some((shape, spec)), None) = (entries.next(), entries.next()) else {
            self.fault(key, value.span(), "a table that is no distribution", FORMS, None);
            return None;
        };
        let name = shape.get_ref().as_ref();
        let Some(&(_, count)) = SHAPES.iter().find(|known| known.0 == name) else {
            let hint = nearest(name, SHAPES.iter().map(|known| known.0));
            self.fault(key, shape.span(), format!("the distribution `{}`", shortened(name)), FORMS, hint);
            return None;
        };
        if count == 0 {
            return self.choice(key, spec);
        }
        let any = between(f64::MIN, f64::MAX);
        let list = spec.get_ref().as_array().filter(|list| list.len() == count);
        let Some(list) = list else {
            self.wrong(key, spec, &format!("a list of {count} numbers"));
            return None;
        };
        let numbers: Option<Vec<f64>> = list.iter().map(|item| self.plain_number(key, item, any, "a number")).collect();
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
        made.map_err(|accepted| self.wrong(key, spec, accepted)).ok()
    }

    /// Values with their weights.
    fn choice(&self, key: &str, spec: &Value) -> Option<Uncertain> {
        let any = between(f64::MIN, f64::MAX);
        fn pair<'v, 'a>(item: &'v Value<'a>) -> Option<[&'v Value<'a>; 2]> {
            item.get_ref().as_array()?.iter().collect::<Vec<_>>().try_into().ok()
        }
        let list =
            spec.get_ref().as_array().filter(|list| !list.is_empty() && list.iter().all(|item| pair(item).is_some()));
        let Some(list) = list else {
            self.wrong(key, spec, "a list of pairs [value, weight] with weights above 0");
            return None;
        };
        let weights = above(0.0, 1e9);
        let pairs: Option<Vec<(f64, f64)>> = list
            .iter()
            .filter_map(pair)
            .map(|[value, weight]| {
                let value = self.plain_number(key, value, any, "a number")?;
                Some((value, self.plain_number(key, weight, weights, "a weight above 0")?))
            })
            .collect();
        pairs.map(Uncertain::Choice)
    }

    /// A distribution's ends must be allowed; of one with tails its middle must be, and draws beyond the limits count as at them.
    fn limited(&self, key: &str, value: &Value, found: Uncertain, limits: Limits, accepted: &str) -> Option<Uncertain> {
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
        self.fault(key, value.span(), words, accepted, None);
        None
    }
}
