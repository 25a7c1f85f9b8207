//! One state: its world, and its flights as far as they are flown.

use super::state::State;
use crate::failsafe::Policy;
use crate::flight::{TOLD_EVERY_S, Tier};
use crate::risk::assess::new_tally;
use crate::risk::faults::Faults;
use crate::risk::picks::{Picks, Which};
use crate::risk::run::fly_batch;
use crate::risk::summary::Share;
use crate::risk::tally::{SoFar, Tally};
use crate::story::{Told, tell};
use crate::world::World;
use serde::Serialize;
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Flights of the first numbers.
pub const FIRST: u32 = 8;

/// Flights of which a typical one is picked.
const PICKED_FROM: u32 = 16;

/// Flights flown at a stretch: more keep all threads busy, fewer let others have their turn sooner.
pub const STAGE_FLIGHTS: u32 = 64;

/// A state of the scenario, ready to fly.
pub struct At {
    /// What is set.
    pub state: State,
    /// The world that it makes.
    pub world: Arc<World>,
    counted: Mutex<Counted>,
}

/// Flights flown in order, from the first.
struct Counted {
    tally: Tally,
    first: Picks,
    flown: u32,
}

/// Lost links of a policy that ended in one tier, or at home; per 1,000 with the ends of the interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TierShare {
    /// Which; `None` for those that came home.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub key: Option<Tier>,
    /// How many.
    pub count: u64,
    /// Of 1,000 lost links; not a number when none was lost.
    pub per_1000: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl TierShare {
    fn new(key: Option<Tier>, share: &Share) -> TierShare {
        let [per_1000, low, high] = [share.estimate(), share.low, share.high].map(|of_one| 1000.0 * of_one);
        TierShare { key, count: share.events, per_1000, low, high }
    }
}

/// What became of one policy's lost links.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PolicyStanding {
    /// Its name.
    pub name: String,
    /// Each tier, worst first.
    pub tiers: Vec<TierShare>,
    /// Landed at home, or the pilot got it back.
    pub home: TierShare,
}

/// The answer in the words of an assessment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Answer {
    /// Its first sentence: which policy.
    pub headline: String,
    /// The rest: how sure that is.
    pub sure: String,
}

impl From<&str> for Answer {
    fn from(all: &str) -> Answer {
        let (headline, sure) = all.find(". ").map_or((all, ""), |at| (&all[..=at], &all[at + 2..]));
        Answer { headline: headline.into(), sure: sure.into() }
    }
}

/// The shares over the flights flown so far.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Standing {
    /// Flights flown.
    pub flights: u32,
    /// Out of so many.
    pub of: u32,
    /// Links lost in them.
    pub links_lost: u64,
    /// One per policy, in their order.
    pub policies: Vec<PolicyStanding>,
    /// The answer of the whole run; `None` before its end.
    pub answer: Option<Answer>,
    /// Whether all are flown.
    pub done: bool,
}

impl At {
    pub(super) fn new(state: State, world: Arc<World>) -> At {
        let counted =
            Counted { tally: new_tally(&world.scenario), first: Picks::new(world.scenario.policies.len()), flown: 0 };
        At { state, world, counted: Mutex::new(counted) }
    }

    /// Flights of the whole run.
    pub fn flights(&self) -> u32 {
        self.world.scenario.flights
    }

    fn counted(&self) -> MutexGuard<'_, Counted> {
        // A flight that panicked was not counted: what was stands.
        self.counted.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Flies on, `most` flights at most and none beyond `goal`. Gives the number flown so far; what was being flown when `stop` came
    /// is flown again another time.
    pub fn fly_on(&self, goal: u32, most: u32, stop: &AtomicBool) -> u32 {
        let mut counted = self.counted();
        let from = counted.flown;
        let to = goal.min(self.flights()).min(from.saturating_add(most));
        if to > from
            && let Some(outcomes) = fly_batch(&self.world, from..to, stop)
        {
            for outcome in &outcomes {
                counted.tally.push(outcome);
                if outcome.flight < PICKED_FROM {
                    counted.first.push(outcome);
                }
            }
            counted.flown = to;
        }
        counted.flown
    }

    /// The shares so far.
    pub fn standing(&self) -> Standing {
        let counted = self.counted();
        let done = counted.flown == self.flights();
        let policies = &self.world.scenario.policies;
        let of = |(policy, so_far): (&Policy, SoFar)| PolicyStanding {
            name: policy.name.clone(),
            tiers: so_far.tiers.iter().map(|(tier, share)| TierShare::new(Some(*tier), share)).collect(),
            home: TierShare::new(None, &so_far.home),
        };
        Standing {
            flights: counted.flown,
            of: self.flights(),
            links_lost: counted.tally.links_lost(),
            policies: policies.iter().zip(counted.tally.so_far()).map(of).collect(),
            answer: done.then(|| self.answer(&counted.tally).as_str().into()),
            done,
        }
    }

    fn answer(&self, tally: &Tally) -> String {
        let faults: &Faults = tally.faults();
        if faults.too_many() {
            let names: Vec<String> = self.world.scenario.policies.iter().map(|policy| policy.name.clone()).collect();
            return faults.refusal(&names);
        }
        tally.answer().sentence
    }

    /// One flight under all policies: the one of this number, or a typical one of the first flights.
    pub fn told(&self, flight: Option<u32>) -> Told {
        let policies = &self.world.scenario.policies;
        let (flight, why) = match flight {
            Some(flight) => (flight, Which::Number(flight).why(0)),
            None => {
                self.fly_on(PICKED_FROM, PICKED_FROM, &AtomicBool::new(false));
                let first = self.counted().first.clone();
                let all: Vec<usize> = (0..policies.len()).collect();
                let picked = first.pick(Which::Typical, &all);
                picked.map_or((0, "the first: no link was lost in those flown first".into()), |flight| {
                    (flight, Which::Typical.why(first.lost()))
                })
            }
        };
        tell(&self.world, flight, &why, policies, TOLD_EVERY_S)
    }
}
