//! How the lost links of a run ended, flight by flight, for runs on the same luck to be held against each other.

use super::faults::is_faulted;
use super::outcome::Concern;
use super::run::fly_all;
use crate::flight::{FlightOutcome, Headline};
use crate::world::World;
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::ops::Range;

/// An ending this near to the take-off spot hangs on where that is. Estimate: a few times the error of a fix.
const NEAR_M: f32 = 30.0;

/// The lost links of a run, in the order of flights, with the headline under each policy.
#[derive(Debug, Clone, Default)]
pub struct EndLog {
    flights: Vec<u32>,
    headlines: Vec<Vec<Headline>>,
    /// Endings near the take-off spot in each zone whose people, road or property were met.
    met_near_home: BTreeMap<u16, u64>,
    faulted: u64,
}

impl EndLog {
    /// Flies these flights and notes them.
    pub fn of(world: &World, flights: Range<u32>, done: &(dyn Fn(u64) + Sync)) -> EndLog {
        let mut log = EndLog::default();
        let Ok(()) = fly_all::<Infallible>(world, flights, done, &mut |outcome| {
            log.push(&outcome);
            Ok(())
        });
        log
    }

    /// Notes one flight, unless its link was never lost or its simulation faulted.
    pub fn push(&mut self, outcome: &FlightOutcome) {
        if is_faulted(outcome) {
            self.faulted += 1;
            return;
        }
        if outcome.loss.is_none() {
            return;
        }
        self.flights.push(outcome.flight);
        self.headlines.push(outcome.endings.iter().map(|ending| ending.headline).collect());
        for ending in outcome.endings.iter().filter(|ending| ending.distance_home_m < NEAR_M) {
            if let Some(zone) = ending.zone {
                *self.met_near_home.entry(zone).or_default() += 1;
            }
        }
    }

    /// Numbers of the flights that lost the link.
    pub fn flights(&self) -> &[u32] {
        &self.flights
    }

    /// The lost links of the flights before this one.
    pub fn before(&self, flight: u32) -> EndLog {
        let count = self.flights.partition_point(|&own| own < flight);
        EndLog {
            flights: self.flights[..count].to_vec(),
            headlines: self.headlines[..count].to_vec(),
            ..EndLog::default()
        }
    }

    /// Lost links that ended so or worse under the first policy alone, and under the second alone.
    pub fn apart(&self, first: usize, second: usize, on: Concern) -> [u64; 2] {
        let alone = |one: usize, other: usize| {
            self.headlines.iter().filter(|ends| on.counts(ends[one]) && !on.counts(ends[other])).count() as u64
        };
        [alone(first, second), alone(second, first)]
    }

    /// Flights left out because the simulation faulted.
    pub fn faulted(&self) -> u64 {
        self.faulted
    }

    /// The zone met most often near the take-off spot; of those met as often the first.
    pub fn met_near_home(&self) -> Option<u16> {
        self.met_near_home
            .iter()
            .max_by_key(|(zone, count)| (**count, std::cmp::Reverse(**zone)))
            .map(|(zone, _)| *zone)
    }

    /// Whether each flight ended so or worse, 1 or 0, by policy and concern.
    pub fn losses(&self, policies: usize) -> Vec<Vec<Vec<f64>>> {
        let one = |policy: usize, on: Concern| {
            self.headlines.iter().map(|ends| f64::from(on.counts(ends[policy]))).collect::<Vec<f64>>()
        };
        (0..policies).map(|policy| Concern::ALL.iter().map(|&on| one(policy, on)).collect()).collect()
    }

    /// Endings per policy and concern, in the order of [`Concern::ALL`].
    pub fn endings(&self, policies: usize) -> Vec<[u64; Concern::ALL.len()]> {
        let count = |policy: usize, on: Concern| self.headlines.iter().filter(|ends| on.counts(ends[policy])).count();
        (0..policies).map(|policy| Concern::ALL.map(|on| count(policy, on) as u64)).collect()
    }

    /// Whether a policy endangered people, for every lost link with its flight.
    pub fn dangers(&self, policy: usize) -> impl Iterator<Item = (u32, bool)> {
        let danger = move |ends: &Vec<Headline>| Concern::Danger.counts(ends[policy]);
        self.flights.iter().copied().zip(self.headlines.iter().map(danger))
    }
}
