//! The scenario: plain data, always valid once read.

pub use super::map_tags::{LeftOut, MapHeight, MapUse, TagUse};
pub use super::parts::craft::{Battery, CellForm, Craft, GoesFirst, PackAct};
pub use super::parts::judge::{FORMER_AMONG_PEOPLE, HEADLINE_WORDS, Hard, Judge, Matters};
pub use super::parts::loss::{CutAt, Loss};
pub use super::parts::map::MapHeights;
pub use super::parts::path::{FlightPlan, LegPoint};
pub use super::parts::pilot::{FliesBy, Hands, OnRegain, Pilot, Raise, Walk, WrongSwitch};
pub use super::parts::radio::{
    AfterHold, Bursts, Interferer, Radio, RadioLink, Receiver, Telemetry, VideoLink, VideoLost,
};
pub use super::parts::site::{MapTaken, Origin, Site, SiteSpread, UNSTATED_ORIGIN};
pub use super::parts::sky::{Multipath, OwnVideo, Sky, SkyInterference};
pub use super::parts::weather::{Weather, WindHours};
use super::place::Place;
pub use super::sink::InputRow;
use crate::chance::{Purpose, Source, Uncertain};
use crate::failsafe::Policy;
pub use crate::site::Terrain;

/// Everything one assessment needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// Title of the report, one line.
    pub title: String,
    /// What the question is, in a sentence or two.
    pub about: String,
    /// Whether place and craft are invented; the report says so.
    pub invented: bool,
    /// Master seed: it and a flight number are all of a flight's luck.
    pub seed: u64,
    /// Number of flights flown, each under every policy.
    pub flights: u32,
    /// Time step of the simulation, s; 0.001 to 0.2.
    pub step_s: f64,
    /// How results are judged: what matters, how sure, what counts as home.
    pub judge: Judge,
    /// The place: ground, zones, obstacles, fence, people.
    pub site: Site,
    /// The air: wind, turbulence, temperature, pressure.
    pub weather: Weather,
    /// The craft: mass, rotors, limits, pack.
    pub craft: Craft,
    /// The radio: links, antennas, surroundings, who else is on the band.
    pub radio: Radio,
    /// The satellites and the craft's sense of place.
    pub sky: Sky,
    /// The planned flight, from and to the take-off spot.
    pub path: FlightPlan,
    /// The pilot: where he stands, how he reacts, what he does with the link back.
    pub pilot: Pilot,
    /// How the link is lost.
    pub loss: Loss,
    /// The policies compared, in the order listed.
    pub policies: Vec<Policy>,
    /// What the craft was delivered with, for the site card.
    pub delivered: Option<Policy>,
    /// Variations of this scenario, each whole.
    pub conditions: Vec<Condition>,
    /// Every input as read or by default, for the report.
    pub inputs: Vec<InputRow>,
    /// The file that it was read from, as it was named.
    pub file: String,
    /// Odd but legal values, in words.
    pub warnings: Vec<String>,
    /// SHA-256 of the file's text and of every file it names, hexadecimal.
    pub hash: String,
}

/// One variation.
#[derive(Debug, Clone, PartialEq)]
pub struct Condition {
    /// Name in tables.
    pub name: String,
    /// Its odds, when the user gave some.
    pub odds: Option<f64>,
    /// Its line in the file, counted from 1.
    pub line: Option<usize>,
    /// The scenario with the changed inputs (without conditions of its own). Its policies have the names of the others, in their order, and
    /// may do something else.
    pub scenario: Box<Scenario>,
}

/// The parts of a scenario that hold uncertain inputs, with a `U` for each of them: the values of one flight are `Inputs<f64>`.
#[derive(Debug, Clone, PartialEq)]
pub struct Inputs<U> {
    /// What shapes the site.
    pub site: SiteSpread<U>,
    /// The air.
    pub weather: Weather<U>,
    /// The craft.
    pub craft: Craft<U>,
    /// The radio.
    pub radio: Radio<U>,
    /// The satellites and the craft's sense of place.
    pub sky: Sky<U>,
    /// The pilot.
    pub pilot: Pilot<U>,
    /// How the link is lost.
    pub loss: Loss<U>,
}

/// Count of the draws that shape a site: those of flights have 0.
const MEMBER: u32 = 1;

/// One uncertain input: its key path, the block of its draw, its distribution.
#[derive(Debug, Clone, PartialEq)]
pub struct UncertainInput {
    /// Key path as in a scenario file.
    pub key: String,
    /// Block of the random draw, which no other input shares.
    pub block: u32,
    /// What it is drawn from.
    pub number: Uncertain,
    /// Whether it shapes the site: then it is drawn for a family of worlds, not flight by flight.
    pub shapes_the_site: bool,
}

impl Scenario {
    /// What nobody stated and the program guesses: each with what it is drawn from, or taken as, and why.
    pub fn assumed(&self) -> Vec<InputRow> {
        let drawn = self.uncertain();
        let in_force = |row: &InputRow| !row.value.starts_with('{') || drawn.iter().any(|input| input.key == row.key);
        let guessed = |row: &&InputRow| {
            row.line.is_none() && row.value != "none" && row.note.contains("estimate") && in_force(row)
        };
        self.inputs.iter().filter(guessed).cloned().collect()
    }

    /// Every uncertain input changed; `change` is told its place, the block of its draw and its distribution.
    pub fn inputs_with<V: Clone>(&self, mut change: impl FnMut(&Place, u32, &Uncertain) -> V) -> Inputs<V> {
        let root = Place::default();
        Inputs {
            site: self.site.spread.map(&root.key("site"), &mut change),
            weather: self.weather.map(&root.key("weather"), &mut change),
            craft: self.craft.map(&root.key("craft"), &mut change),
            radio: self.radio.map(&root.key("radio"), &mut change),
            sky: self.sky.map(&root.key("sky"), &mut change),
            pilot: self.pilot.map(&root.key("pilot"), &mut change),
            loss: self.loss.map(&root.key("loss"), &mut change),
        }
    }

    /// The uncertain inputs in force, in the order of the declarations, those last that need a hill or the cold to act on: without,
    /// they are left out.
    pub fn uncertain(&self) -> Vec<UncertainInput> {
        let mut list = Vec::new();
        self.inputs_with(|place, block, number| {
            list.push(UncertainInput {
                key: place.to_string(),
                block,
                number: number.clone(),
                shapes_the_site: place.shapes_the_site(),
            });
        });
        let hills = self.weather.hill_wind && self.site.terrain.is_some();
        let cold = self.craft.battery.cell_form == CellForm::Cylinder;
        let needs = [("weather.hill_factor", hills), ("craft.battery.cold_loss", cold)];
        list.retain(|input| !needs.contains(&(&input.key, false)));
        list.sort_by_key(|input| needs.iter().any(|(key, _)| *key == input.key));
        list
    }

    /// The same scenario with one uncertain input, told by the block of its draw, at a number.
    #[must_use]
    pub fn with_input(&self, block: u32, value: f64) -> Scenario {
        let inputs =
            self.inputs_with(|_, own, number| if own == block { Uncertain::Exact(value) } else { number.clone() });
        self.with_inputs(inputs)
    }

    /// The same scenario with these inputs in the place of its own; ground, heights and take-off spot follow.
    #[must_use]
    pub fn with_inputs(&self, inputs: Inputs<Uncertain>) -> Scenario {
        let Inputs { site, weather, craft, radio, sky, mut pilot, loss } = inputs;
        let site = self.site.reformed(site);
        // A pilot at the take-off spot goes with it.
        if pilot.place_m == self.site.home_m {
            pilot.place_m = site.home_m;
        }
        Scenario { site, weather, craft, radio, sky, pilot, loss, ..self.clone() }
    }

    /// One of so many scenarios that stand for what shapes the site and is not known exactly: each input is spread evenly over
    /// them. `None` when all of that is known.
    pub fn member(&self, index: u32, of: u32) -> Option<Scenario> {
        let source = Source::new(self.seed, Purpose::Inputs);
        let mut unsure = false;
        let inputs = self.inputs_with(|place, block, number| {
            if !place.shapes_the_site() || number.is_exact() {
                return number.clone();
            }
            unsure = true;
            // A Latin hypercube: every member has a stratum of its own, in an order of this input's own.
            let [order, within] = source.units(index, MEMBER, block);
            let before = (0..of).filter(|&other| source.units(other, MEMBER, block)[0] < order).count();
            Uncertain::Exact(number.quantile((before as f64 + within) / f64::from(of)))
        });
        unsure.then(|| self.with_inputs(inputs))
    }
}
