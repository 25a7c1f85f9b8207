//! What the card for the field needs beyond an assessment: where the wind changes the answer, and the policy as delivered; what
//! needs no flights besides is worked out in [`crate::plan`].

use super::assess::fly_tally;
use super::outcome::Concern;
use super::summary::Share;
use crate::chance::Uncertain;
use crate::failsafe::Policy;
pub use crate::plan::bench::{
    Bench, FixTests, HoverTest, RangeStop, RangeWalk, WALK_MOST_M, WALK_SIGMA_DB, bench, fix_tests, hover_test,
    range_walk,
};
pub use crate::plan::field::{FADES_UNDER_DB, Fade, Fades, NEAR_M, SkyWait, Underneath, fades, sky_wait, underneath};
use crate::world::{World, WorldError};

/// Step of the winds looked at.
const WIND_STEP_MPS: f64 = 2.0;

/// Winds looked at go up to this at least … and to this at most.
const WIND_TOP_MPS: [f64; 2] = [12.0, 20.0];

/// What is needed of a wind: the policies nothing else beats there.
#[derive(Debug, Clone, PartialEq)]
pub struct WindStep {
    /// Exact mean wind at the height that the scenario states it for.
    pub wind_mps: f64,
    /// Danger to others per policy.
    pub danger: Vec<Share>,
    /// Policies that nothing else beats, best estimate first.
    pub unbeaten: Vec<usize>,
}

/// Where another policy takes over.
#[derive(Debug, Clone, PartialEq)]
pub struct Flip {
    /// The nearest wind looked at in which the chosen policy still was unbeaten; `None`: in none.
    pub holds_at_mps: Option<f64>,
    /// The first in which it was not.
    pub at_mps: f64,
    /// What is better there.
    pub to: usize,
    /// The concern that decides there, in the words of the verdict.
    pub by: String,
}

/// The winds in which the chosen policy is unbeaten.
#[derive(Debug, Clone, PartialEq)]
pub struct WindLimit {
    /// Flights at each wind, the same luck at all.
    pub flights: u32,
    /// Winds looked at, weakest first.
    pub steps: Vec<WindStep>,
    /// Going up from the middle wind of the scenario.
    pub above: Option<Flip>,
    /// Going down from it.
    pub below: Option<Flip>,
    /// Lost links set aside at all these winds because the simulation faulted.
    pub faulted: u64,
}

/// Flies all policies at exact mean winds, up and down from the scenario's middle wind, until the verdict leaves the
/// chosen policy; the wind is then halved in once. `done` hears of flights flown.
///
/// # Errors
/// As [`World::new`].
pub fn wind_limit(
    world: &World,
    chosen: usize,
    flights: u32,
    done: &(dyn Fn(u64) + Sync),
) -> Result<WindLimit, WorldError> {
    let wind = &world.scenario.weather.wind_mps;
    let mut steps: Vec<WindStep> = Vec::new();
    let mut faulted = 0;
    let mut look = |wind_mps: f64| -> Result<Option<(usize, String)>, WorldError> {
        let mut scenario = world.scenario.clone();
        scenario.weather.wind_mps = Uncertain::Exact(wind_mps);
        let other = World::like(world, scenario)?;
        let before = steps.len() as u64 * u64::from(flights);
        let result = fly_tally(&other, 0..flights, &|n| done(before + n));
        faulted += result.faults.flights;
        let better = result.verdict.choice.set_aside[chosen].map(|aside| (aside.by, aside.on.label().to_string()));
        let danger = result.policies.iter().map(|p| p.share(Concern::Danger)).collect();
        steps.push(WindStep { wind_mps, danger, unbeaten: result.verdict.choice.left });
        Ok(better)
    };
    let top_mps = (wind.quantile(0.99) + 2.0 * WIND_STEP_MPS).clamp(WIND_TOP_MPS[0], WIND_TOP_MPS[1]);
    let count = (top_mps / WIND_STEP_MPS).floor() as usize;
    let first = ((wind.central() / WIND_STEP_MPS).round() as usize).clamp(1, count);
    let at = |k: usize| k as f64 * WIND_STEP_MPS;
    let start = look(at(first))?;
    let mut walk = |places: &mut dyn Iterator<Item = usize>| -> Result<Option<Flip>, WorldError> {
        let mut holds_mps = at(first);
        for k in places {
            let Some((to, by)) = look(at(k))? else {
                holds_mps = at(k);
                continue;
            };
            let middle_mps = 0.5 * (holds_mps + at(k));
            return Ok(Some(match look(middle_mps)? {
                Some((to, by)) => Flip { holds_at_mps: Some(holds_mps), at_mps: middle_mps, to, by },
                None => Flip { holds_at_mps: Some(middle_mps), at_mps: at(k), to, by },
            }));
        }
        Ok(None)
    };
    let (above, below) = match start {
        // It is beaten where it is: there is nothing to walk away from.
        Some((to, by)) => (Some(Flip { holds_at_mps: None, at_mps: at(first), to, by }), None),
        None => (walk(&mut (first + 1..=count))?, walk(&mut (1..first).rev())?),
    };
    steps.sort_by(|a, b| a.wind_mps.total_cmp(&b.wind_mps));
    Ok(WindLimit { flights, steps, above, below, faulted })
}

/// Most flights that [`wind_limit`] flies, for a progress bar.
pub fn wind_work(flights: u32) -> u64 {
    (WIND_TOP_MPS[1] / WIND_STEP_MPS) as u64 * u64::from(flights) + 2 * u64::from(flights)
}

/// Danger to others under one policy alone, on the flights of the assessment, and how many lost links of it were set aside
/// because the simulation faulted. `done` hears of flights flown.
///
/// # Errors
/// As [`World::new`].
pub fn danger_under(
    world: &World,
    policy: &Policy,
    flights: u32,
    done: &(dyn Fn(u64) + Sync),
) -> Result<Option<(Share, u64)>, WorldError> {
    let result = fly_tally(&world.with_policies(vec![policy.clone()])?, 0..flights, done);
    let aside = result.faults.flights;
    Ok(result.policies.first().map(|p| (p.share(Concern::Danger), aside)))
}
