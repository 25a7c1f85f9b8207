//! The value of knowing an input, twice: from the flights of a run, as a report has it, and by nested simulation, in which each value
//! of the input has flights of its own with all else drawn anew. The second is slow and takes nothing from the first but the rule for
//! the choice: it is what the first is held against.
//!
//! ```text
//! cargo run --release --example nested -- scenarios/wrong-heading.toml sky.heading_bias_deg 2000 16 300
//! ```
//! The numbers: flights of the run, values of the input, flights at each value. Names of policies may follow, to leave the others out.

use lostlink::risk::choice::{lead, leading};
use lostlink::risk::end_log::EndLog;
use lostlink::risk::information::information;
use lostlink::risk::outcome::Concern;
use lostlink::scenario::Matters;
use lostlink::world::{World, WorldError};

/// Concerns, the gravest first.
const CONCERNS: usize = Concern::ALL.len();

/// What knowing an input saves, by concern in their order, as a share of lost links.
#[derive(Debug, Clone, Copy, Default)]
pub struct Nested {
    /// With the choice made and judged by the same flights: too great on average, for it chooses by their luck too.
    pub same: [f64; CONCERNS],
    /// With the choice made by one half of the flights and judged by the other: too small on average, for half as many choose.
    pub other_half: [f64; CONCERNS],
    /// Standard error of either.
    pub error: [f64; CONCERNS],
    /// Share of the values at which the choice is the same.
    pub stands: f64,
}

/// Mean losses of some flights, by policy and concern.
fn losses_of(log: &EndLog, policies: usize, pick: impl Fn(usize) -> bool) -> Vec<[f64; CONCERNS]> {
    let mean = |by: &Vec<f64>| {
        let picked: Vec<f64> = by.iter().enumerate().filter(|(place, _)| pick(*place)).map(|(_, &loss)| loss).collect();
        picked.iter().sum::<f64>() / picked.len().max(1) as f64
    };
    log.losses(policies).iter().map(|option| std::array::from_fn(|on| mean(&option[on]))).collect()
}

/// Who leads by these losses; the policy chosen as long as it is among those that do.
pub fn choose(losses: &[[f64; CONCERNS]], matters: &Matters, chosen: Option<usize>) -> usize {
    let all: Vec<usize> = (0..losses.len()).collect();
    let matters = Concern::ALL.map(|on| on.matters(matters));
    match chosen {
        Some(chosen) if leading(&matters, losses, &all).contains(&chosen) => chosen,
        _ => lead(&matters, losses, &all).unwrap_or(0),
    }
}

/// What it saves to know the input with this key: `values` quantiles of it, each with `flights` of its own, the first of them number
/// `first`.
///
/// # Errors
/// A value at which no world can be built.
///
/// # Panics
/// No such input.
pub fn nested(
    world: &World,
    key: &str,
    chosen: usize,
    first: u32,
    values: u32,
    flights: u32,
) -> Result<Nested, WorldError> {
    let policies = world.scenario.policies.len();
    let input = world.scenario.uncertain().into_iter().find(|input| input.key == key).expect("an input of that key");
    let matters = &world.scenario.judge.matters;
    let mut found = Nested::default();
    for value in 0..values {
        let x = input.number.quantile((f64::from(value) + 0.5) / f64::from(values));
        let there = World::like(world, world.scenario.with_input(input.block, x))?;
        let start = first + value * flights;
        let log = EndLog::of(&there, start..start + flights, &|_| {});
        if log.flights().is_empty() {
            continue;
        }
        let [all, even, odd] =
            [0, 1, 2].map(|part| losses_of(&log, policies, |place| part == 0 || place % 2 == part - 1));
        let best = choose(&all, matters, Some(chosen));
        found.stands += f64::from(u8::from(best == chosen)) / f64::from(values);
        let halves = [(&even, &odd), (&odd, &even)].map(|(by, on)| (choose(by, matters, Some(chosen)), on));
        let each = log.losses(policies);
        for on in 0..CONCERNS {
            found.same[on] += (all[chosen][on] - all[best][on]) / f64::from(values);
            let half = halves.iter().map(|(best, on_these)| 0.5 * (on_these[chosen][on] - on_these[*best][on]));
            found.other_half[on] += half.sum::<f64>() / f64::from(values);
            let n = log.flights().len() as f64;
            let mean = all[chosen][on] - all[best][on];
            let square = each[chosen][on].iter().zip(&each[best][on]).map(|(a, b)| (a - b - mean).powi(2)).sum::<f64>();
            found.error[on] += square / (n * n) / f64::from(values).powi(2);
        }
    }
    found.error = found.error.map(f64::sqrt);
    Ok(found)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let usage = "scenario, key of an input, flights of the run, values, flights at each, names of policies";
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let [file, key, numbers @ ..] = asked.as_slice() else { return Err(usage.into()) };
    let [flights, values, at_each, names @ ..] = numbers else { return Err(usage.into()) };
    let (flights, values, at_each): (u32, u32, u32) = (flights.parse()?, values.parse()?, at_each.parse()?);
    let mut scenario = lostlink::Scenario::from_file(std::path::Path::new(file))?;
    scenario.policies.retain(|policy| names.is_empty() || names.contains(&policy.name));
    let world = World::new(scenario)?;
    let policies = world.scenario.policies.len();

    let log = EndLog::of(&world, 0..flights, &|_| {});
    let chosen = choose(&losses_of(&log, policies, |_| true), &world.scenario.judge.matters, None);
    println!(
        "{file}, seed {}: without knowing {key} \"{}\"",
        world.scenario.seed, world.scenario.policies[chosen].name
    );
    let told = information(&world, &log, chosen, 0..flights, &|_| {})?.information;
    if !told.inputs.iter().any(|input| input.keys.contains(key)) {
        println!("{flights} flights: {key} not told from noise");
    }
    for input in &told.inputs {
        println!(
            "{flights} flights: {:?}: {:.2} of 1,000 fewer with {} (standard error {:.2}, noise up to {:.2}); the choice stands in {:?}",
            input.keys,
            1e3 * input.saved,
            input.concern.label(),
            1e3 * input.error,
            1e3 * input.floor,
            told.stands
        );
    }
    let found = nested(&world, key, chosen, flights, values, at_each)?;
    println!("nested, {values} values with {at_each} flights each: the choice stands in {:.2}", found.stands);
    for on in Concern::ALL {
        let of = |saved: &[f64; CONCERNS]| 1e3 * saved[on.index()];
        println!(
            "  {:.2} to {:.2} of 1,000 fewer with {} (standard error {:.2})",
            of(&found.other_half),
            of(&found.same),
            on.label(),
            of(&found.error)
        );
    }
    Ok(())
}
