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
use crate::site::ZoneKind;
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
        scenario.weather.hours = None;
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

/// A place near take-off to try the failsafe once in the air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirTest {
    /// Where, from the take-off spot: east, north.
    pub offset_m: [f64; 2],
    /// How high above the take-off spot.
    pub height_m: f64,
    /// Distance to the nearest people, road, property, water or obstacle drawn, measured up to [`CLEAR_ENOUGH_M`].
    pub clear_m: f64,
}

/// Distances from the take-off spot looked at, the nearest first: so near that its attitude is seen, so far that a fall does not
/// reach the pilot. Estimate.
const TEST_AWAY_M: [f64; 4] = [30.0, 40.0, 60.0, 80.0];

/// Least distance from everything drawn for such a test, and the one beyond which more is no gain. Estimate: a fall from the height of
/// the test in a fresh wind stays within the first.
const CLEAR_M: f64 = 20.0;
/// Farther from all of it than this is no better. Estimate.
pub const CLEAR_ENOUGH_M: f64 = 40.0;

/// Height of the test above the ground and all that stands around: time to take over before it is down. Estimate.
const TEST_ABOVE_M: f64 = 20.0;

/// The clearest place near take-off to try the failsafe in the air, the nearest of equals; `None` where none is clear enough.
pub fn air_test(world: &World) -> Option<AirTest> {
    let site = &world.scenario.site;
    let [west, south, east, north] = world.grid.extent_m();
    let matters = |kind: ZoneKind| !matches!(kind, ZoneKind::Clear | ZoneKind::Rough);
    let zones = site.zones.iter().filter(|zone| matters(zone.kind)).map(|zone| &zone.area);
    let areas: Vec<_> = zones.chain(site.obstacles.iter().map(|obstacle| &obstacle.area)).collect();
    let pilot_m = world.scenario.pilot.place_m;
    let mut best: Option<AirTest> = None;
    for (away_m, direction) in TEST_AWAY_M.into_iter().flat_map(|away_m| (0..16).map(move |k| (away_m, k))) {
        let bearing = f64::from(direction) * std::f64::consts::TAU / 16.0;
        let offset_m = [away_m * bearing.sin(), away_m * bearing.cos()];
        let place_m = [site.home_m[0] + offset_m[0], site.home_m[1] + offset_m[1]];
        let within = place_m[0] > west && place_m[0] < east && place_m[1] > south && place_m[1] < north;
        if !within || !world.grid.marks(place_m[0], place_m[1]).inside_fence {
            continue;
        }
        let pilot = (place_m[0] - pilot_m[0]).hypot(place_m[1] - pilot_m[1]);
        let clear_m = areas.iter().map(|area| area.distance_m(place_m)).fold(pilot.min(CLEAR_ENOUGH_M), f64::min);
        let height_m = (5.0 * ((around_m(world, place_m) + TEST_ABOVE_M) / 5.0).ceil()).max(TEST_ABOVE_M);
        if clear_m < CLEAR_M || height_m > site.ceiling_m {
            continue;
        }
        if best.is_none_or(|best| clear_m > best.clear_m + 1.0) {
            best = Some(AirTest { offset_m, height_m, clear_m });
        }
    }
    best
}

/// The highest ground or top within [`CLEAR_M`] of a place, above home.
fn around_m(world: &World, place_m: [f64; 2]) -> f64 {
    let top = |k: i32, share: f64| {
        let angle = f64::from(k) * std::f64::consts::TAU / 12.0;
        let [x_m, y_m] = [place_m[0] + share * CLEAR_M * angle.cos(), place_m[1] + share * CLEAR_M * angle.sin()];
        world.grid.top_m(x_m, y_m) - world.home_m[2]
    };
    (0..12).flat_map(|k| [0.0, 0.5, 1.0].map(|share| top(k, share))).fold(f64::NEG_INFINITY, f64::max)
}
