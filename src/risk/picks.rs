//! Which flights are worth telling: a typical one, the worst, one that struck something, one in which the policies part most.

use super::faults::is_faulted;
use crate::flight::{FlightOutcome, Headline, Manner, Tier};
use std::collections::BTreeMap;

/// Which flight is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// The one of this number.
    Number(u32),
    /// A lost link that went as most do.
    Typical,
    /// The one with the worst end.
    Worst,
    /// The first in which the craft struck something.
    FirstThatStruck,
    /// The one in which the policies ended most differently.
    PoliciesDifferMost,
}

impl Which {
    /// Those that are picked from many flights.
    pub const PICKED: [Which; 4] = [Which::Typical, Which::Worst, Which::FirstThatStruck, Which::PoliciesDifferMost];

    /// From a number or a word; `None`: neither.
    pub fn from_word(word: &str) -> Option<Which> {
        let picked = Which::PICKED.into_iter().find(|which| which.word() == Some(word));
        picked.or_else(|| word.parse().ok().map(Which::Number))
    }

    /// Its word; `None` for a number.
    pub fn word(self) -> Option<&'static str> {
        match self {
            Which::Number(_) => None,
            Which::Typical => Some("typical"),
            Which::Worst => Some("worst"),
            Which::FirstThatStruck => Some("first-that-struck"),
            Which::PoliciesDifferMost => Some("policies-differ-most"),
        }
    }

    /// Why a flight was picked, of so many lost links.
    pub fn why(self, lost: usize) -> String {
        match self {
            Which::Number(number) => format!("flight {number}, as asked for"),
            Which::Typical => {
                format!("a typical one of {lost} lost links: the commonest outcomes, and of middle length")
            }
            Which::Worst => format!("the worst of {lost} lost links under any of these policies"),
            Which::FirstThatStruck => format!("the first of {lost} lost links in which the craft struck something"),
            Which::PoliciesDifferMost => {
                format!("the one of {lost} lost links in which the policies ended most differently")
            }
        }
    }
}

/// What is kept of each ending.
#[derive(Debug, Clone, Copy)]
struct Kept {
    flight: u32,
    headline: Headline,
    time_s: f32,
    energy_j: f32,
    struck: bool,
}

impl Kept {
    /// By its headline; of equals the one with the harder impact, of equals again the earlier flight.
    fn is_worse_than(&self, other: &Kept) -> bool {
        let order = self.headline.cmp(&other.headline).then(other.energy_j.total_cmp(&self.energy_j));
        order.then(self.flight.cmp(&other.flight)).is_lt()
    }
}

/// Keeps a few bytes of every ending, or of those of the first lost links.
#[derive(Debug, Clone, Default)]
pub struct Picks {
    policies: Vec<Vec<Kept>>,
    /// The worst ending under each policy, kept or not.
    worst: Vec<Option<Kept>>,
    /// Lost links kept at most.
    most: usize,
}

impl Picks {
    /// For so many policies.
    pub fn new(policies: usize) -> Picks {
        Picks::of_first(usize::MAX, policies)
    }

    /// The same, but for the worst of a policy picked from so many lost links alone, the first.
    pub fn of_first(most: usize, policies: usize) -> Picks {
        Picks { policies: vec![Vec::new(); policies], worst: vec![None; policies], most }
    }

    /// Keeps one flight, unless the simulation faulted in it.
    pub fn push(&mut self, outcome: &FlightOutcome) {
        if is_faulted(outcome) {
            return;
        }
        for ((list, worst), ending) in self.policies.iter_mut().zip(&mut self.worst).zip(&outcome.endings) {
            let kept = Kept {
                flight: ending.flight,
                headline: ending.headline,
                time_s: ending.time_to_end_s,
                energy_j: ending.impact_energy_j,
                struck: ending.manner == Manner::Strike,
            };
            if worst.is_none_or(|worst| kept.is_worse_than(&worst)) {
                *worst = Some(kept);
            }
            if list.len() < self.most {
                list.push(kept);
            }
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
        self.worst[policy].map(|kept| kept.flight)
    }

    /// Policy and flight of the worst of all.
    pub fn worst_of_all(&self) -> Option<(usize, u32)> {
        let worst = |policy: usize| {
            let kept = self.worst[policy]?;
            Some((kept.headline, std::cmp::Reverse((kept.energy_j * 1e3) as i64), policy, kept.flight))
        };
        (0..self.worst.len()).filter_map(worst).min().map(|(.., policy, flight)| (policy, flight))
    }

    /// Lost links kept.
    pub fn lost(&self) -> usize {
        self.policies.first().map_or(0, Vec::len)
    }

    /// The flight asked for, among these policies; `None`: there is none such. A number is passed on as it is.
    pub fn pick(&self, which: Which, among: &[usize]) -> Option<u32> {
        let flights = || (0..self.lost()).map(|index| Ends(among.iter().map(|&p| self.policies[p][index]).collect()));
        let found = match which {
            Which::Number(number) => return Some(number),
            Which::Typical => return self.typical_of_all(among),
            Which::Worst => flights().min_by(|a, b| a.worst().cmp(&b.worst())),
            Which::FirstThatStruck => flights().find(|ends| ends.0.iter().any(|kept| kept.struck)),
            // The first of those that part alike.
            Which::PoliciesDifferMost => flights().rev().max_by_key(Ends::apart),
        };
        found.and_then(|ends| ends.0.first().map(|kept| kept.flight))
    }

    /// Of the flights with the commonest set of headlines, one under each policy, the one of middle length.
    fn typical_of_all(&self, among: &[usize]) -> Option<u32> {
        let mut alike: BTreeMap<Vec<Headline>, Vec<(f32, u32)>> = BTreeMap::new();
        for index in 0..self.lost() {
            let ends: Vec<Kept> = among.iter().map(|&policy| self.policies[policy][index]).collect();
            let time_s = ends.iter().map(|kept| kept.time_s).sum();
            alike
                .entry(ends.iter().map(|kept| kept.headline).collect())
                .or_default()
                .push((time_s, ends.first()?.flight));
        }
        // The worse set of equally common ones.
        let mut flights = alike.into_iter().rev().max_by_key(|(_, flights)| flights.len())?.1;
        flights.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        flights.get(flights.len() / 2).map(|found| found.1)
    }
}

/// How one flight ended under several policies.
struct Ends(Vec<Kept>);

impl Ends {
    /// The worst of them, for ordering: worst first, then the hardest.
    fn worst(&self) -> Option<(Headline, std::cmp::Reverse<i64>)> {
        self.0.iter().map(|kept| (kept.headline, std::cmp::Reverse((kept.energy_j * 1e3) as i64))).min()
    }

    /// How far they lie apart: by what it means, by the outcome, by how many outcomes there are, by energy.
    fn apart(&self) -> (usize, usize, usize, i64) {
        let settled = || self.0.iter().map(|kept| kept.headline).filter(|headline| headline.tier() != Tier::NotSettled);
        let span = |value: &dyn Fn(Headline) -> usize| {
            settled().map(value).max().unwrap_or(0) - settled().map(value).min().unwrap_or(0)
        };
        let mut headlines: Vec<Headline> = settled().collect();
        headlines.sort_unstable();
        headlines.dedup();
        let energies = || self.0.iter().map(|kept| (kept.energy_j * 1e3) as i64);
        (
            span(&|headline| headline.tier() as usize),
            span(&|headline| headline.index()),
            headlines.len(),
            energies().max().unwrap_or(0) - energies().min().unwrap_or(0),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::risk::tally::tests::outcome;

    /// However few are kept, the worst is that of all flights: by its headline, then by its impact, then the first.
    #[test]
    fn the_worst_is_of_all_flights() {
        let headlines = [Headline::AtHome, Headline::Struck, Headline::AtHome, Headline::OnRoad, Headline::OnRoad];
        for (most, typical) in [(0, None), (2, Some(1)), (usize::MAX, Some(4))] {
            let mut picks = Picks::of_first(most, 2);
            for (flight, &headline) in headlines.iter().enumerate() {
                let mut outcome = outcome(flight as u32, &[Headline::AtHome, headline]);
                outcome.endings[0].impact_energy_j = [1.0, 3.0, 2.0, 3.0, 0.0][flight];
                picks.push(&outcome);
            }
            assert_eq!((picks.worst(0), picks.worst(1), picks.worst_of_all()), (Some(1), Some(3), Some((1, 3))));
            assert_eq!((picks.lost(), picks.typical(1)), (most.min(5), typical));
        }
        assert_eq!(Picks::new(1).worst_of_all(), None);
    }
}
