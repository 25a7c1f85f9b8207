//! What several commands work out in the same way: a flight to tell, a day of the sky, where the link reaches, return heights.

use super::args::Common;
use super::load;
use super::out::{Failure, bad};
use super::progress::Progress;
use crate::failsafe::Policy;
use crate::flight::TOLD_EVERY_S;
use crate::plan::reach::{MapHeight, Reach};
use crate::plan::ways::WaysHome;
use crate::plan::{FixLimit, ReachAsk, SkyDay, fix_limits, reach_of};
use crate::report::figures::Skied;
use crate::risk::picks::{Picks, Which};
use crate::risk::run::fly_all;
use crate::risk::summary::Heights;
use crate::risk::sweep::{heights_between, sweep};
use crate::scenario::Scenario;
use crate::story::{Told, tell};
use crate::world::{FlightPath, World};
use std::path::Path;

/// A word picks from so many flights at most, unless more are asked for: a few seconds.
pub const PICKS_FROM: u32 = 400;

/// A day, s.
const DAY_S: f64 = 86_400.0;

/// The sweep goes this much beyond the ceiling unless told otherwise.
const BEYOND_CEILING_M: f64 = 10.0;

/// Least and greatest return height of a sweep.
const SWEPT_M: [f64; 2] = [1.0, 2_000.0];

/// The flight of a number or a word.
pub fn which(word: &str) -> Result<Which, Failure> {
    Which::from_word(word).ok_or_else(|| {
        let words: Vec<&str> = Which::PICKED.into_iter().filter_map(Which::word).collect();
        let accepted = format!("a flight number, {}", words.join(", "));
        Failure::Input(format!("lostlink: no flight is called '{word}'\n  accepted: {accepted}\n"))
    })
}

/// The policies of some names, all without any, by their places in the scenario.
pub fn chosen(scenario: &Scenario, names: &[String]) -> Result<Vec<usize>, Failure> {
    let all = &scenario.policies;
    if names.is_empty() {
        return Ok((0..all.len()).collect());
    }
    for name in names {
        load::policy_named(all, Some(name), |_| true)?;
    }
    Ok((0..all.len()).filter(|&index| names.contains(&all[index].name)).collect())
}

/// One flight, told under some policies; a word picks it from so many flights.
pub fn told(
    common: &Common,
    path: &Path,
    scenario: Scenario,
    which: Which,
    chosen: &[usize],
    flights: u32,
) -> Result<Told, Failure> {
    let policies: Vec<Policy> = chosen.iter().map(|&index| scenario.policies[index].clone()).collect();
    if let Which::Number(flight) = which {
        let world = load::world_for_flight(path, scenario, flight)?;
        return Ok(tell(&world, flight, &which.why(0), &policies, TOLD_EVERY_S));
    }
    let world = load::world(path, scenario)?;
    let picks = flown(common, &world, flights);
    let flight = picks.pick(which, chosen).ok_or_else(|| {
        let word = which.word().unwrap_or_default();
        let (found, other) = match picks.lost() {
            0 => (format!("no link was lost in {flights} flights"), ""),
            lost => (format!("{word}: none of {lost} lost links was one"), ", another word"),
        };
        Failure::Input(format!("lostlink: {found}\n  accepted: a flight number{other}, or more --flights\n"))
    })?;
    Ok(tell(&world, flight, &which.why(picks.lost()), &policies, TOLD_EVERY_S))
}

/// What is kept of the flights that a word picks from.
fn flown(common: &Common, world: &World, flights: u32) -> Picks {
    let progress = Progress::new("flights", u64::from(flights), common.ascii);
    let mut picks = Picks::new(world.scenario.policies.len());
    let Ok(()) = fly_all::<std::convert::Infallible>(world, 0..flights, &progress.hear(), &mut |outcome| {
        picks.push(&outcome);
        Ok(())
    });
    progress.finish();
    picks
}

/// The day of the sky, held against limits and against those of the scenario.
pub fn sky(path: &Path, scenario: &Scenario, asked: Vec<FixLimit>, height_m: f64) -> Result<Skied, Failure> {
    let mut limits = asked;
    for limit in fix_limits(scenario) {
        match limits.iter_mut().find(|known| known.satellites == limit.satellites && known.hdop == limit.hdop) {
            Some(known) => known.label += &format!(", {}", limit.label),
            None => limits.push(limit),
        }
    }
    let grid = scenario.site.grid();
    let home_m = scenario.site.home_m;
    let day = SkyDay::new(scenario, &grid, home_m, height_m, &limits).map_err(|error| load::refused(path, &error))?;
    let [.., hour, minute, second] = scenario.sky.utc;
    let from_s = f64::from(hour * 3600 + minute * 60 + second);
    let home_z_m = grid.ground_m(home_m[0], home_m[1]);
    let way = FlightPath::planned(home_m, home_z_m, &scenario.path, scenario.craft.climb_mps);
    // The ways of the satellites are drawn for the take-off window and the flight, as far as they lie in this day.
    let to_s = (from_s + scenario.sky.window_s + way.duration_s()).min(DAY_S);
    Ok(Skied { day, from_s, to_s })
}

/// Where the link reaches.
pub struct Reaching {
    /// The world in which it does.
    pub world: World,
    /// What was found.
    pub found: Reach,
}

/// Where the link reaches at some heights above the ground, on so many cells along the longer side.
pub fn reach(
    path: &Path,
    mut scenario: Scenario,
    heights_m: &[f64],
    stay_s: f64,
    cells: u32,
) -> Result<Reaching, Failure> {
    // What stands in the way is worked out up to the ceiling; a map may lie above it.
    let grid = scenario.site.grid();
    let home = scenario.site.home_m;
    let highest_m = heights_m.iter().fold(0.0_f64, |most, &height| most.max(height));
    let over_home_m = greatest_ground_m(&grid) - grid.ground_m(home[0], home[1]) + highest_m;
    scenario.site.ceiling_m = scenario.site.ceiling_m.max(over_home_m);
    let world = load::world_for_planning(path, scenario)?;

    let [west, south, east, north] = world.grid.extent_m();
    let longer = (east - west).max(north - south);
    let points = [east - west, north - south].map(|side| ((f64::from(cells) * side / longer).round() as usize).max(2));
    let ask = ReachAsk {
        heights: heights_m.iter().map(|&height| MapHeight::AboveGroundM(height)).collect(),
        points,
        stay_s,
        ..ReachAsk::default()
    };
    let found = reach_of(&world.scenario, &world.grid, &world.path, &world.link, &ask)
        .map_err(|error| load::refused(path, &error))?;
    Ok(Reaching { world, found })
}

fn greatest_ground_m(grid: &crate::site::SiteGrid) -> f64 {
    let mut most_m = f64::NEG_INFINITY;
    for row in 0..=grid.rows {
        for column in 0..=grid.columns {
            let x_m = grid.west_m + column as f64 * grid.cell_m;
            let y_m = grid.south_m + row as f64 * grid.cell_m;
            most_m = most_m.max(grid.ground_m(x_m, y_m));
        }
    }
    most_m
}

/// Return heights to sweep.
pub struct Sweep<'a> {
    /// Lowest, m.
    pub from_m: f64,
    /// Greatest, m; `None`: a little above the ceiling.
    pub to_m: Option<f64>,
    /// At most so many.
    pub count: u32,
    /// Speeds to compare as well, m/s.
    pub speeds_mps: &'a [f64],
    /// Policy whose return is varied; `None`: the first that returns.
    pub policy: Option<&'a str>,
}

impl Sweep<'_> {
    /// Refuses what cannot be swept, before anything is written or flown.
    pub fn check(&self, scenario: &Scenario) -> Result<(), Failure> {
        load::policy_named(&scenario.policies, self.policy, Policy::returns)?;
        let [least_m, most_m] = [SWEPT_M[0], SWEPT_M[1] - BEYOND_CEILING_M];
        match self.to_m {
            Some(to_m) => self.range(to_m),
            None if (least_m..=most_m).contains(&self.from_m) => Ok(()),
            None => Err(bad(&format!("--from {} without --to: accepted: {least_m} to {most_m} m", self.from_m))),
        }
    }

    fn range(&self, to_m: f64) -> Result<(), Failure> {
        let [least_m, most_m] = SWEPT_M;
        if self.from_m >= least_m && to_m > self.from_m && to_m <= most_m {
            return Ok(());
        }
        Err(bad(&format!("--from {} --to {to_m}: accepted: {least_m} m <= from < to <= {most_m} m", self.from_m)))
    }
}

/// Return heights compared on the flights of the scenario.
pub fn heights(common: &Common, path: &Path, scenario: Scenario, ask: &Sweep) -> Result<Heights, Failure> {
    let policy = load::policy_named(&scenario.policies, ask.policy, Policy::returns)?.clone();
    let flights = scenario.flights;
    let world = load::world(path, scenario)?;
    let beyond_m = || WaysHome::of(&world, &policy).ceiling_m.max(ask.from_m) + BEYOND_CEILING_M;
    let to_m = ask.to_m.unwrap_or_else(beyond_m);
    ask.range(to_m)?;
    let heights_m = heights_between(ask.from_m, to_m, ask.count);
    let progress = Progress::new("flights", u64::from(flights), common.ascii);
    let found = sweep(&world, &policy, &heights_m, ask.speeds_mps, flights, &progress.hear())
        .map_err(|error| load::refused(path, &error))?;
    progress.finish();
    load::bearable(&found.faults, &[])?;
    Ok(found)
}
