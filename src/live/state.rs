//! A state: which controls are moved, and to what.

use serde::{Serialize, Serializer};
use std::collections::BTreeMap;

/// What can be set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Key {
    /// Where along the path the link is cut.
    Cut,
    /// Height of every way home.
    Height,
    /// Silence before the link is called lost.
    Patience,
    /// Mean wind.
    Wind,
    /// Direction that it comes from.
    WindFrom,
    /// Satellite systems.
    Constellations,
    /// Charge at take-off.
    Pack,
    /// Hour of take-off.
    Hour,
}

impl Key {
    /// All, in the order in which they are shown.
    pub const ALL: [Key; 8] =
        [Key::Cut, Key::Height, Key::Patience, Key::Wind, Key::WindFrom, Key::Constellations, Key::Pack, Key::Hour];

    /// Its word, as in an address.
    pub fn word(self) -> &'static str {
        match self {
            Key::Cut => "cut_m",
            Key::Height => "height_m",
            Key::Patience => "patience_s",
            Key::Wind => "wind_mps",
            Key::WindFrom => "wind_from_deg",
            Key::Constellations => "constellations",
            Key::Pack => "pack_pct",
            Key::Hour => "hour_utc",
        }
    }
}

impl Serialize for Key {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.word())
    }
}

/// What a control is set to.
#[derive(Debug, Clone, PartialEq)]
pub enum Setting {
    /// A number.
    Number(f64),
    /// Words out of its choices, in their order.
    Words(Vec<&'static str>),
}

/// As it stands in an address: a number, or words with commas between them.
impl Serialize for Setting {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self {
            Setting::Number(number) => to.serialize_f64(*number),
            Setting::Words(words) => to.serialize_str(&words.join(",")),
        }
    }
}

/// The controls that are moved; the others stand as the scenario has them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct State(BTreeMap<Key, Setting>);

impl State {
    /// The same with one more control moved.
    #[must_use]
    pub fn with(mut self, key: Key, setting: Setting) -> State {
        self.0.insert(key, setting);
        self
    }

    /// What a control is set to; `None`: it is not moved.
    pub fn setting(&self, key: Key) -> Option<&Setting> {
        self.0.get(&key)
    }

    /// All that is moved.
    pub fn settings(&self) -> impl Iterator<Item = (Key, &Setting)> {
        self.0.iter().map(|(key, setting)| (*key, setting))
    }
}

/// Why something asked for is refused.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, thiserror::Error)]
#[error("{error}; accepted: {accepted}")]
pub struct Refusal {
    /// What is wrong.
    pub error: String,
    /// What would be accepted.
    pub accepted: String,
}

impl Refusal {
    /// One of both parts.
    pub fn new(error: impl Into<String>, accepted: impl Into<String>) -> Refusal {
        Refusal { error: error.into(), accepted: accepted.into() }
    }
}
