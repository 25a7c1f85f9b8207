//! What would change the answer: what it is worth to know each uncertain input, and at which value of it the choice turns.
//!
//! The flights of the main run screen all inputs (`stats::information`); only those that lead are flown again, value by value, on the
//! same luck. Inputs are what one could measure; what is left is luck, which no measurement takes away.

use super::choice::{lead, leading};
use super::end_log::EndLog;
use super::outcome::Concern;
use crate::chance::{Purpose, Source};
use crate::flight::input_columns;
use crate::scenario::{Matters, UncertainInput};
use crate::stats::information::{Question, Standing, Value, saved_by_knowing, standing, value_of_knowing};
use crate::world::{World, WorldError};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::cell::Cell;
use std::ops::Range;

/// Values that stand for the distribution of an input: so many that its quantiles add nothing to the error of the regression.
const PLACES: u32 = 100;

/// Inputs told at most. Twice as many, the best at first look, get an error and a noise floor.
const CLOSER: usize = 10;

/// Inputs flown again, and the quantiles at which they are. Few, for the cost: with the numbers stated and the halvings there are at
/// most [`VALUES_AGAIN`] values.
const FLOWN_AGAIN: usize = 2;
const QUANTILES: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];

/// Times that the step in which a choice turns is halved.
const HALVINGS: usize = 2;

/// A stated margin around people is flown again at these shares of it. Estimate: what two people may differ by who pace it out.
const MARGIN_SHARES: [f64; 4] = [0.5, 0.8, 1.25, 1.6];

/// How far the take-off spot is moved. Estimate: a few paces.
const MOVE_M: f64 = 3.0;

/// Values flown at most: leading inputs, one margin, two directions of the take-off spot, and what halving adds to each.
const VALUES_AGAIN: usize =
    FLOWN_AGAIN * (QUANTILES.len() + HALVINGS) + MARGIN_SHARES.len() + 1 + HALVINGS + 2 * (3 + HALVINGS);

/// Flights at each value, as a share of the run's that keeps all values together near a third of it, within limits.
const SHARE: u32 = 3 * VALUES_AGAIN as u32;
const FLIGHTS: (u32, u32) = (60, 500);

/// What would change the answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Information {
    /// Uncertain inputs looked at.
    pub screened: usize,
    /// Those whose value stands out from noise, the most valuable first.
    pub inputs: Vec<InputValue>,
    /// Share of plausible inputs at which the choice would be the same; `None` when no input stands out.
    pub stands: Option<f64>,
    /// Standard error of that share.
    pub stands_error: Option<f64>,
    /// Inputs flown again value by value, stated numbers and the take-off spot among them.
    pub again: Vec<FlownAgain>,
    /// Flights at each value.
    pub flights: u32,
}

/// What it is worth to know an input.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InputValue {
    /// Its key path; several for what shapes the site, which is drawn together.
    pub keys: Vec<String>,
    /// The gravest concern by which knowing it stands out.
    pub concern: Concern,
    /// Endings of that concern avoided, as a share of lost links, by choosing with it known.
    pub saved: f64,
    /// Standard error of that.
    pub error: f64,
    /// What the best of all inputs would seem to save in 19 of 20 cases if none had any bearing.
    pub floor: f64,
}

/// A number flown again at several values on the same luck.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FlownAgain {
    /// Its key path.
    pub key: String,
    /// Whether the scenario states it exactly.
    pub stated: bool,
    /// The value assumed: stated, or the middle.
    pub assumed: f64,
    /// Its values in rising order, with what comes of them.
    pub at: Vec<AtValue>,
    /// Where the choice turns.
    pub turns: Vec<Turn>,
}

/// What comes of one value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AtValue {
    /// The value.
    pub value: f64,
    /// Lost links among the flights flown.
    pub lost: u64,
    /// Endings per policy and concern, in the order of [`Concern::ALL`].
    pub endings: Vec<[u64; Concern::ALL.len()]>,
    /// The policy that leads by these counts; `None` without a lost link.
    pub leads: Option<usize>,
}

/// A value at which the choice turns, between the two nearest values flown.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Turn {
    /// The greater of the values flown at which `below` leads.
    pub above: f64,
    /// The least of those at which it no longer does.
    pub under: f64,
    /// Policy that leads below.
    pub below: usize,
    /// Policy that leads from there on.
    pub from_there: usize,
}

/// The policy that leads by these shares; the one chosen as long as it is among those that lead, for to change between equals
/// changes nothing.
fn leads(shares: &[[f64; Concern::ALL.len()]], matters: &Matters, chosen: usize) -> usize {
    let all: Vec<usize> = (0..shares.len()).collect();
    let matters = Concern::ALL.map(|on| on.matters(matters));
    if leading(&matters, shares, &all).contains(&chosen) {
        chosen
    } else {
        lead(&matters, shares, &all).unwrap_or(chosen)
    }
}

/// An input of the screening, or those that shape the site together.
struct Screened {
    inputs: Vec<UncertainInput>,
    x: Vec<f64>,
    plausible: Vec<f64>,
}

/// Flights at each value flown again.
fn flights_again(flights: u32) -> u32 {
    (flights / SHARE).clamp(FLIGHTS.0, FLIGHTS.1).min(flights)
}

/// Flights flown again at most, for a progress bar.
pub fn work(flights: u32) -> u64 {
    VALUES_AGAIN as u64 * u64::from(flights_again(flights))
}

/// What was found, with what the rest of an assessment needs of it.
pub struct Found {
    /// What would change the answer.
    pub information: Information,
    /// Inputs whose value stands out, the most valuable first.
    pub leading: Vec<UncertainInput>,
    /// Flights flown again.
    pub flown: u64,
    /// Those of them that were set aside for a numerical fault.
    pub faulted: u64,
}

/// Works it out for a run whose endings are `log` and whose answer is the policy `chosen`. `done` hears of flights flown again.
///
/// # Errors
/// A value at which no world can be built.
pub fn information(
    world: &World,
    log: &EndLog,
    chosen: usize,
    flights: Range<u32>,
    done: &(dyn Fn(u64) + Sync),
) -> Result<Found, WorldError> {
    let policies = world.scenario.policies.len();
    let mut found = Information {
        screened: 0,
        inputs: Vec::new(),
        stands: None,
        stands_error: None,
        again: Vec::new(),
        flights: flights_again(flights.len() as u32),
    };
    if policies < 2 || log.flights().is_empty() {
        return Ok(Found { information: found, leading: Vec::new(), flown: 0, faulted: 0 });
    }
    let matters = &world.scenario.judge.matters;
    let losses = log.losses(policies);
    let choose = |told: &[Vec<f64>]| {
        let shares: Vec<[f64; Concern::ALL.len()]> =
            told.iter().map(|by| Concern::ALL.map(|on| by[on.index()])).collect();
        leads(&shares, matters, chosen)
    };
    let question = Question { losses: &losses, chosen, choose: &choose };

    let screened = screen(world, log);
    found.screened = screened.iter().map(|one| one.inputs.len()).sum();
    let mut valued = closer(&screened, &question, world.scenario.seed);
    valued.truncate(CLOSER);
    if !valued.is_empty() {
        let leading: Vec<&[f64]> = valued.iter().map(|(one, _)| one.x.as_slice()).collect();
        let Standing { share, error } = standing(&leading, &question);
        (found.stands, found.stands_error) = (Some(share), Some(error));
    }
    found.inputs = valued.iter().map(|(one, value)| input_value(one, value)).collect();

    let again = Again {
        world,
        chosen,
        flights: flights.start..flights.start + found.flights,
        done,
        flown: Cell::new(0),
        faulted: Cell::new(0),
    };
    let leading: Vec<UncertainInput> = valued.iter().flat_map(|(one, _)| one.inputs.clone()).collect();
    for input in leading.iter().take(FLOWN_AGAIN) {
        let values = QUANTILES.map(|p| input.number.quantile(p));
        found.again.push(again.sweep(input, &values)?);
    }
    for (input, values) in stated(world, log) {
        found.again.push(again.sweep(&input, &values)?);
    }
    Ok(Found { information: found, leading, flown: again.flown.get(), faulted: again.faulted.get() })
}

fn shares_of(endings: &[[u64; Concern::ALL.len()]], lost: u64) -> Vec<[f64; Concern::ALL.len()]> {
    endings.iter().map(|counts| counts.map(|count| count as f64 / lost as f64)).collect()
}

/// The uncertain inputs with the values they took in the flights that lost the link.
fn screen(world: &World, log: &EndLog) -> Vec<Screened> {
    let mut columns = input_columns(world, log.flights());
    columns.retain(|(input, _)| !input.number.is_exact());
    let (site, others): (Vec<_>, Vec<_>) = columns.into_iter().partition(|(input, _)| input.shapes_the_site);
    let spread = |input: &UncertainInput| {
        let place = |part: u32| input.number.quantile((f64::from(part) + 0.5) / f64::from(PLACES));
        (0..PLACES).map(place).collect()
    };
    let mut screened: Vec<Screened> =
        others.into_iter().map(|(input, x)| Screened { plausible: spread(&input), inputs: vec![input], x }).collect();
    // What shapes the site is drawn together, for a few worlds: their flights cannot tell one from the other.
    if !site.is_empty() {
        let worlds = world.family.len().max(1);
        screened.push(Screened {
            inputs: site.into_iter().map(|(input, _)| input).collect(),
            x: log.flights().iter().map(|&flight| (flight as usize % worlds) as f64).collect(),
            plausible: (0..worlds).map(|one| one as f64).collect(),
        });
    }
    screened
}

/// Those whose value stands out from noise, the most valuable first: by the gravest concern, then by how much.
fn closer<'s>(screened: &'s [Screened], question: &Question, seed: u64) -> Vec<(&'s Screened, Value)> {
    let first: Vec<Vec<f64>> =
        screened.par_iter().map(|one| saved_by_knowing(&one.x, &one.plausible, question)).collect();
    let mut order: Vec<usize> = (0..screened.len()).collect();
    let more = |a: &[f64], b: &[f64]| {
        a.iter().zip(b).map(|(a, b)| b.total_cmp(a)).find(|order| order.is_ne()).unwrap_or(std::cmp::Ordering::Equal)
    };
    order.sort_by(|&a, &b| more(&first[a], &first[b]).then(a.cmp(&b)));
    let mut valued: Vec<(&Screened, Value)> = order
        .into_par_iter()
        .take(2 * CLOSER)
        .map(|place| {
            let one = &screened[place];
            let mut stream = Source::new(seed, Purpose::Resample).sequence(place as u32, 0);
            (one, value_of_knowing(&one.x, &one.plausible, question, screened.len(), &mut stream))
        })
        .collect();
    valued.retain(|(_, value)| value.shown_by().is_some());
    let key = |value: &Value| value.shown_by().map(|on| (on, value.saved[on]));
    valued.sort_by(|a, b| match (key(&a.1), key(&b.1)) {
        (Some(a), Some(b)) => a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)),
        _ => std::cmp::Ordering::Equal,
    });
    valued
}

fn input_value(one: &Screened, value: &Value) -> InputValue {
    let on = value.shown_by().unwrap_or(0);
    InputValue {
        keys: one.inputs.iter().map(|input| input.key.clone()).collect(),
        concern: Concern::ALL[on],
        saved: value.saved[on],
        error: value.error[on],
        floor: value.floor[on],
    }
}

/// Numbers that the scenario states and that endings hang on: margins around people who were met, the take-off spot when somebody
/// is met close to it. With the values at which they are flown again.
fn stated(world: &World, log: &EndLog) -> Vec<(UncertainInput, Vec<f64>)> {
    let mut found = Vec::new();
    let inputs = world.scenario.uncertain();
    let exact = |key: &str| inputs.iter().find(|input| input.key == key && input.number.is_exact());
    let Some(zone) = log.met_near_home() else { return found };
    if let Some(input) = exact(&format!("site.zone[{zone}].margin_m")) {
        let stated = input.number.central();
        found.push((input.clone(), MARGIN_SHARES.iter().map(|share| share * stated).chain([stated]).collect()));
    }
    for key in ["site.home_east_m", "site.home_north_m"] {
        if let Some(input) = exact(key) {
            let here = input.number.central();
            found.push((input.clone(), vec![here - MOVE_M, here, here + MOVE_M]));
        }
    }
    found
}

/// Flies a number again at several values, on the luck of the main run.
struct Again<'a> {
    world: &'a World,
    /// Policy that the main run chose.
    chosen: usize,
    flights: Range<u32>,
    done: &'a (dyn Fn(u64) + Sync),
    /// Flights flown so far, and those of them that were set aside.
    flown: Cell<u64>,
    faulted: Cell<u64>,
}

impl Again<'_> {
    fn sweep(&self, input: &UncertainInput, values: &[f64]) -> Result<FlownAgain, WorldError> {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        sorted.dedup();
        let mut at = sorted.into_iter().map(|value| self.at(input, value)).collect::<Result<Vec<AtValue>, _>>()?;
        for _ in 0..HALVINGS {
            if let Some(place) = at.windows(2).position(|two| two[0].leads != two[1].leads) {
                let middle = self.at(input, 0.5 * (at[place].value + at[place + 1].value))?;
                at.insert(place + 1, middle);
            }
        }
        let turns = at.windows(2).filter_map(|two| {
            let (below, from_there) = (two[0].leads?, two[1].leads?);
            (below != from_there).then_some(Turn { above: two[0].value, under: two[1].value, below, from_there })
        });
        Ok(FlownAgain {
            key: input.key.clone(),
            stated: input.number.is_exact(),
            assumed: input.number.central(),
            turns: turns.collect(),
            at,
        })
    }

    fn at(&self, input: &UncertainInput, value: f64) -> Result<AtValue, WorldError> {
        let world = World::like(self.world, self.world.scenario.with_input(input.block, value))?;
        let policies = world.scenario.policies.len();
        let before = self.flown.get();
        let log = EndLog::of(&world, self.flights.clone(), &|n| (self.done)(before + n));
        self.flown.set(before + self.flights.len() as u64);
        self.faulted.set(self.faulted.get() + log.faulted());
        let (lost, endings) = (log.flights().len() as u64, log.endings(policies));
        let matters = &world.scenario.judge.matters;
        let leads = (lost > 0).then(|| leads(&shares_of(&endings, lost), matters, self.chosen));
        Ok(AtValue { value, lost, endings, leads })
    }
}
