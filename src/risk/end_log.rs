//! How the lost links of a run ended, flight by flight, for runs on the same luck to be held against each other.

use super::faults::is_faulted;
use super::outcome::{Concern, LISTED};
use super::run::fly_all;
use crate::flight::{FlightOutcome, Headline};
use crate::world::World;
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::ops::Range;

/// An ending this near to the take-off spot hangs on where that is. Estimate: a few times the error of a fix.
const NEAR_M: f32 = 30.0;

/// The lost links of a run in the order of flights, the first [`LISTED`] of them, with the headline under each policy.
#[derive(Debug, Clone, Default)]
pub struct EndLog {
    flights: Vec<u32>,
    /// Those of a lost link side by side.
    headlines: Vec<Headline>,
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
        if self.flights.len() < LISTED {
            self.flights.push(outcome.flight);
            self.headlines.extend(outcome.endings.iter().map(|ending| ending.headline));
        }
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
            headlines: self.headlines[..count * self.policies()].to_vec(),
            ..EndLog::default()
        }
    }

    fn policies(&self) -> usize {
        self.headlines.len() / self.flights.len().max(1)
    }

    /// The headlines of each lost link, by policy.
    fn ends(&self) -> impl Iterator<Item = &[Headline]> {
        self.headlines.chunks_exact(self.policies().max(1))
    }

    /// Lost links that ended so or worse under the first policy alone, and under the second alone.
    pub fn apart(&self, first: usize, second: usize, on: Concern) -> [u64; 2] {
        let alone = |one: usize, other: usize| {
            self.ends().filter(|ends| on.counts(ends[one]) && !on.counts(ends[other])).count() as u64
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
            self.ends().map(|ends| f64::from(on.counts(ends[policy]))).collect::<Vec<f64>>()
        };
        (0..policies).map(|policy| Concern::ALL.iter().map(|&on| one(policy, on)).collect()).collect()
    }

    /// Endings per policy and concern, in the order of [`Concern::ALL`].
    pub fn endings(&self, policies: usize) -> Vec<[u64; Concern::ALL.len()]> {
        let count = |policy: usize, on: Concern| self.ends().filter(|ends| on.counts(ends[policy])).count();
        (0..policies).map(|policy| Concern::ALL.map(|on| count(policy, on) as u64)).collect()
    }

    /// Whether a policy endangered people, for every lost link with its flight.
    pub fn dangers(&self, policy: usize) -> impl Iterator<Item = (u32, bool)> {
        let danger = move |ends: &[Headline]| Concern::Danger.counts(ends[policy]);
        self.flights.iter().copied().zip(self.ends().map(danger))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::risk::tally::tests::outcome;

    /// Each lost link has its headlines by policy; of a long run those of the first are kept, and what was met is counted in all.
    #[test]
    fn lost_links_in_order_and_so_many_at_most() {
        let mut log = EndLog::default();
        for flight in 0..LISTED as u32 + 100 {
            let danger = if flight % 3 == 0 { Headline::OnRoad } else { Headline::AtHome };
            let mut outcome = outcome(2 * flight, &[Headline::AtHome, danger]);
            (outcome.endings[0].distance_home_m, outcome.endings[0].zone) = (1.0, Some(4));
            log.push(&outcome);
        }
        assert!(log.flights().iter().copied().eq((0..LISTED as u32).map(|flight| 2 * flight)));
        assert!(log.dangers(0).all(|(_, danger)| !danger));
        assert!(log.dangers(1).all(|(flight, danger)| danger == (flight % 6 == 0)));
        assert_eq!((log.met_near_home(), log.met_near_home[&4]), (Some(4), LISTED as u64 + 100));
        let before = log.before(9);
        assert_eq!(before.flights(), [0, 2, 4, 6, 8]);
        assert_eq!((before.apart(1, 0, Concern::Danger), before.endings(2)[1][Concern::Danger.index()]), ([2, 0], 2));
        assert_eq!(before.losses(2)[1][Concern::Danger.index()], [1.0, 0.0, 0.0, 1.0, 0.0]);
        assert!(EndLog::default().losses(2)[1][0].is_empty());
    }
}
