//! The controls of a scenario: what bears on it, how far it goes, what the scenario itself says.

use super::state::{Key, Refusal, Setting, State};
use crate::chance::Uncertain;
use crate::failsafe::{Action, ActionKind, HeightFrom, Policy, ReturnHeight};
use crate::risk::words::{list, number};
use crate::scenario::{CutAt, Loss, Scenario};
use crate::sky::Constellation;
use crate::world::World;
use serde::Serialize;

/// Cut where the radio model says so, whatever the scenario says.
pub(super) const RADIO: &str = "radio";

/// How a control is moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A number between two others.
    Range,
    /// Some of several words, at least one.
    Set,
}

/// A word that can be chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Choice {
    /// The word.
    pub value: &'static str,
    /// In words.
    pub label: &'static str,
}

/// One thing that can be set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Control {
    /// Which.
    pub key: Key,
    /// Its name.
    pub label: &'static str,
    /// Unit of its number.
    pub unit: &'static str,
    /// How it is moved.
    pub kind: Kind,
    /// Least number.
    pub min: Option<f64>,
    /// Greatest number.
    pub max: Option<f64>,
    /// Step from one to the next, for who moves it; what lies between is accepted.
    pub step: Option<f64>,
    /// What it is set to, or the scenario's own.
    pub value: Option<Setting>,
    /// The scenario's own; `None`: it is drawn for each flight, differs between policies, or is no number.
    pub initial: Option<Setting>,
    /// A number to begin at where there is no own one: the middle of what is drawn, the middle of the policies.
    pub typical: Option<f64>,
    /// Words that can be chosen.
    pub choices: Vec<Choice>,
    /// What the scenario itself says, where that is not just the number.
    pub note: String,
}

/// Ends of a range and the step between its numbers.
struct Range {
    min: f64,
    max: f64,
    step: f64,
}

/// What the scenario itself says.
#[derive(Clone, Copy)]
enum Own {
    /// This number.
    Exactly(f64),
    /// Several, about this one.
    About(f64),
    /// No number.
    Nothing,
}

impl Own {
    fn at(self) -> Option<f64> {
        match self {
            Own::Exactly(number) | Own::About(number) => Some(number),
            Own::Nothing => None,
        }
    }
}

/// Satellite systems: word, what it stands for, name.
const SYSTEMS: [(&str, Constellation, &str); 5] = [
    ("gps24", Constellation::Gps24, "GPS, 24 satellites"),
    ("gps30", Constellation::Gps30, "GPS, 30 satellites"),
    ("galileo", Constellation::Galileo, "Galileo"),
    ("glonass", Constellation::Glonass, "GLONASS"),
    ("beidou", Constellation::Beidou, "BeiDou"),
];

/// The controls that bear on the scenario of a world, none of them moved.
pub(super) fn controls(world: &World) -> Vec<Control> {
    Key::ALL.into_iter().filter_map(|key| control(key, &world.scenario, world.path.length_m())).collect()
}

fn control(key: Key, scenario: &Scenario, path_m: f64) -> Option<Control> {
    let weather = &scenario.weather;
    match key {
        Key::Cut => Some(cut(&scenario.loss, path_m)),
        Key::Height => height(scenario),
        Key::Patience => {
            let range = Range { min: 0.2, max: 5.0, step: 0.1 };
            let own = &scenario.radio.control.receiver.patience_s;
            Some(uncertain(key, "Silence before the link is called lost", "s", own, range))
        }
        Key::Wind => {
            Some(uncertain(key, "Mean wind", "m/s", &weather.wind_mps, Range { min: 0.0, max: 20.0, step: 0.5 }))
        }
        Key::WindFrom => {
            let mut made =
                uncertain(key, "Wind from", "°", &weather.from_deg, Range { min: 0.0, max: 360.0, step: 5.0 });
            if matches!(weather.from_deg, Uncertain::Uniform(low, high) if high - low >= 360.0) {
                made.note = "From any direction, drawn for each flight.".into();
            }
            Some(made)
        }
        Key::Constellations => Some(constellations(scenario)),
        Key::Pack => {
            let range = Range { min: 20.0, max: 100.0, step: 1.0 };
            Some(uncertain(key, "Charge at take-off", "%", &scenario.craft.battery.charge_pct, range))
        }
        Key::Hour => {
            let [.., hour, minute, second] = scenario.sky.utc;
            let hours = f64::from(hour) + f64::from(minute) / 60.0 + f64::from(second) / 3600.0;
            let window_h = scenario.sky.window_s / 3600.0;
            let note = if window_h > 0.0 {
                format!("Take-off within {} h after it, drawn for each flight.", plain(window_h))
            } else {
                String::new()
            };
            Some(ranged(
                key,
                "Hour of take-off",
                "h UTC",
                Own::Exactly(hours),
                Range { min: 0.0, max: 23.75, step: 0.25 },
                note,
            ))
        }
    }
}

/// A number without needless zeros.
fn plain(value: f64) -> String {
    without_zeros(number(value, 2))
}

fn without_zeros(text: String) -> String {
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}

/// To two or three digits.
fn short(value: f64) -> String {
    let digits = match value.abs() {
        size if size >= 10.0 => 0,
        size if size >= 1.0 => 1,
        _ => 2,
    };
    without_zeros(number(value, digits))
}

fn ranged(key: Key, label: &'static str, unit: &'static str, own: Own, range: Range, note: String) -> Control {
    let at = own.at();
    let initial = if let Own::Exactly(number) = own { Some(Setting::Number(number)) } else { None };
    Control {
        key,
        label,
        unit,
        kind: Kind::Range,
        min: Some(at.map_or(range.min, |at| at.min(range.min))),
        max: Some(at.map_or(range.max, |at| at.max(range.max))),
        step: Some(range.step),
        value: initial.clone(),
        initial,
        typical: at,
        choices: Vec::new(),
        note,
    }
}

fn uncertain(key: Key, label: &'static str, unit: &'static str, own: &Uncertain, range: Range) -> Control {
    let note = if own.is_exact() {
        String::new()
    } else {
        format!(
            "Drawn for each flight: {} to {}{unit} in eight of ten.",
            short(own.quantile(0.1)),
            short(own.quantile(0.9)),
            unit = if unit == "°" { unit.into() } else { format!(" {unit}") }
        )
    };
    let mut central = own.central();
    if key == Key::WindFrom {
        central = central.rem_euclid(360.0);
    }
    let own = if own.is_exact() { Own::Exactly(central) } else { Own::About((100.0 * central).round() / 100.0) };
    ranged(key, label, unit, own, range, note)
}

fn cut(loss: &Loss, path_m: f64) -> Control {
    let own = match loss {
        Loss::Cut { at: CutAt::PathShare(share), .. } => {
            let flown_m = (share.central() * path_m).round();
            if share.is_exact() { Own::Exactly(flown_m) } else { Own::About(flown_m) }
        }
        _ => Own::Nothing,
    };
    let says = match loss {
        Loss::Modelled => "The radio decides.",
        Loss::Cut { at: CutAt::AnyTime, .. } => "Cut at any moment of the path, all equally likely.",
        Loss::Cut { at: CutAt::TimeS(_), .. } => "Cut at a time after take-off.",
        Loss::Cut { at: CutAt::PathShare(_), .. } => "Cut at a place on the path.",
        Loss::Cut { at: CutAt::Near { .. }, .. } => "Cut in a part of the site.",
    };
    let range = Range { min: 0.0, max: libm::floor(path_m), step: 1.0 };
    let mut made = ranged(Key::Cut, "Where along the path the link is cut", "m", own, range, says.into());
    if *loss != Loss::Modelled {
        made.choices.push(Choice { value: RADIO, label: "the radio decides" });
    }
    made
}

/// Whether the height of a way home is one that can be set; one that keeps its height has none.
pub(super) fn has_height(height: &ReturnHeight) -> bool {
    height.from != HeightFrom::Here
}

fn heights(policies: &[Policy]) -> Vec<f64> {
    let of = |policy: &Policy| -> Vec<f64> {
        let up = |kind: &ActionKind| match kind {
            ActionKind::Return { height, .. } if has_height(height) => Some(height.up_m),
            _ => None,
        };
        policy.actions.iter().filter_map(|action| up(&action.kind)).collect()
    };
    let mut all: Vec<f64> = policies.iter().flat_map(of).collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

fn height(scenario: &Scenario) -> Option<Control> {
    let own = heights(&scenario.policies);
    let (least, greatest) = (*own.first()?, *own.last()?);
    let middle = if own.len() > 1 { Own::About(0.5 * (least + greatest)) } else { Own::Exactly(least) };
    let mut note = if own.len() > 1 {
        let all: Vec<String> = own.iter().map(|height_m| plain(*height_m)).collect();
        format!("{} m, by policy; set here all have one, whatever their names say.", list(&all))
    } else {
        String::new()
    };
    let above_home = |action: &Action| match &action.kind {
        ActionKind::Return { height, .. } => !has_height(height) || height.from == HeightFrom::Home,
        _ => true,
    };
    if !scenario.policies.iter().flat_map(|policy| &policy.actions).all(above_home) {
        note = format!("{note} Measured as each policy measures it.").trim_start().into();
    }
    let highest = libm::floor(scenario.site.ceiling_m).max(10.0).max(greatest);
    let range = Range { min: least.min(5.0), max: highest, step: 1.0 };
    Some(ranged(Key::Height, "Height of the way home", "m", middle, range, note))
}

fn constellations(scenario: &Scenario) -> Control {
    let own = &scenario.sky.constellations;
    // One of the two that are not used together: the scenario's, or the larger.
    let other = if own.contains(&Constellation::Gps24) { Constellation::Gps30 } else { Constellation::Gps24 };
    // An almanac has what it has.
    let there = |system: &Constellation| scenario.sky.almanac.is_none() || own.contains(system);
    let offered = || SYSTEMS.into_iter().filter(|(_, system, _)| *system != other && there(system));
    let initial = Setting::Words(offered().filter(|(_, system, _)| own.contains(system)).map(|row| row.0).collect());
    Control {
        key: Key::Constellations,
        label: "Satellite systems",
        unit: "",
        kind: Kind::Set,
        min: None,
        max: None,
        step: None,
        value: Some(initial.clone()),
        initial: Some(initial),
        typical: None,
        choices: offered().map(|(value, _, label)| Choice { value, label }).collect(),
        note: String::new(),
    }
}

impl Control {
    /// The same, as a state has it.
    #[must_use]
    pub(super) fn under(&self, state: &State) -> Control {
        match state.setting(self.key) {
            Some(setting) => Control { value: Some(setting.clone()), ..self.clone() },
            None => self.clone(),
        }
    }

    /// What would be accepted, in words.
    pub(super) fn accepts(&self) -> String {
        let words: Vec<&str> = self.choices.iter().map(|choice| choice.value).collect();
        match (self.min, self.max) {
            (Some(min), Some(max)) => {
                let or = if words.is_empty() { String::new() } else { format!(", or {}", words.join(", ")) };
                format!("{} to {} {}{or}", min, max, self.unit)
            }
            _ => format!("one or more of {}, with commas between them", words.join(", ")),
        }
    }

    /// Reads what is asked for.
    pub(super) fn read(&self, text: &str) -> Result<Setting, Refusal> {
        let refuse = || Refusal::new(format!("{}: \"{text}\"", self.key.word()), self.accepts());
        let word = |word: &str| self.choices.iter().map(|choice| choice.value).find(|known| *known == word);
        match self.kind {
            Kind::Range => {
                if let Some(known) = word(text) {
                    return Ok(Setting::Words(vec![known]));
                }
                let number: f64 = text.parse().map_err(|_| refuse())?;
                let within = |number: f64| {
                    self.min.is_some_and(|min| number >= min) && self.max.is_some_and(|max| number <= max)
                };
                // No minus before nothing.
                if within(number) { Ok(Setting::Number(number + 0.0)) } else { Err(refuse()) }
            }
            Kind::Set => {
                let asked: Vec<&str> =
                    text.split(',').map(|part| word(part).ok_or_else(refuse)).collect::<Result<_, _>>()?;
                let chosen: Vec<&'static str> =
                    self.choices.iter().map(|choice| choice.value).filter(|value| asked.contains(value)).collect();
                if chosen.len() == asked.len() { Ok(Setting::Words(chosen)) } else { Err(refuse()) }
            }
        }
    }
}
