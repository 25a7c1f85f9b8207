//! Which flights are worth telling: a typical and the worst.

use super::faults::is_faulted;
use crate::flight::{FlightOutcome, Headline};

/// What is kept of each ending.
#[derive(Debug, Clone, Copy)]
struct Kept {
    flight: u32,
    headline: Headline,
    time_s: f32,
    energy_j: f32,
}

/// Keeps a few bytes of every ending.
#[derive(Debug, Clone, Default)]
pub struct Picks {
    policies: Vec<Vec<Kept>>,
}

impl Picks {
    /// For so many policies.
    pub fn new(policies: usize) -> Picks {
        Picks { policies: vec![Vec::new(); policies] }
    }

    /// Keeps one flight, unless the simulation faulted in it.
    pub fn push(&mut self, outcome: &FlightOutcome) {
        if is_faulted(outcome) {
            return;
        }
        for (list, ending) in self.policies.iter_mut().zip(&outcome.endings) {
            list.push(Kept {
                flight: ending.flight,
                headline: ending.headline,
                time_s: ending.time_to_end_s,
                energy_j: ending.impact_energy_j,
            });
        }
    }

    /// The flight of a policy with its commonest headline whose time from loss to end is the middle one.
    pub fn typical(&self, policy: usize) -> Option<u32> {
        let kept = &self.policies[policy];
        let count = |headline: Headline| kept.iter().filter(|k| k.headline == headline).count();
        // The earlier, worse headline of equally common ones.
        let commonest = Headline::ALL.into_iter().rev().max_by_key(|&headline| count(headline))?;
        let mut alike: Vec<&Kept> = kept.iter().filter(|k| k.headline == commonest).collect();
        alike.sort_by(|a, b| a.time_s.total_cmp(&b.time_s).then(a.flight.cmp(&b.flight)));
        alike.get(alike.len() / 2).map(|k| k.flight)
    }

    /// The flight of a policy with the worst headline; of equals the one with the hardest impact.
    pub fn worst(&self, policy: usize) -> Option<u32> {
        self.policies[policy]
            .iter()
            .min_by(|a, b| {
                a.headline.cmp(&b.headline).then(b.energy_j.total_cmp(&a.energy_j)).then(a.flight.cmp(&b.flight))
            })
            .map(|k| k.flight)
    }

    /// Policy and flight of the worst of all.
    pub fn worst_of_all(&self) -> Option<(usize, u32)> {
        let worst = |policy: usize| {
            let flight = self.worst(policy)?;
            let kept = self.policies[policy].iter().find(|k| k.flight == flight)?;
            Some((kept.headline, std::cmp::Reverse((kept.energy_j * 1e3) as i64), policy, flight))
        };
        (0..self.policies.len()).filter_map(worst).min().map(|(.., policy, flight)| (policy, flight))
    }
}
