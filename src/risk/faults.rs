//! Flights whose numbers broke down: counted, told first, and in no total.

use crate::flight::{Flags, FlightOutcome};
use crate::plan::words::{grouped, named};
use serde::{Deserialize, Serialize};

/// Share of the lost links above which a run is an error: the smallest share the reports print bounds for.
pub const MOST_SHARE: f64 = 0.001;

/// Whether the simulation faulted in a flight, under whatever policy. Such a flight is set aside under all of them: a pair
/// of policies is compared on the same flights.
pub fn is_faulted(outcome: &FlightOutcome) -> bool {
    outcome.endings.iter().any(|ending| ending.flags.has(Flags::FAULT))
}

/// Lost links set aside because the simulation faulted.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Faults {
    /// Lost links set aside.
    pub flights: u64,
    /// Out of so many lost links.
    pub of: u64,
    /// Faults under each policy.
    pub by_policy: Vec<u64>,
    /// The first flight with one.
    pub first: Option<u32>,
    /// Set aside in the runs beside the main one: conditions, what-if bars, winds.
    pub side_flights: u64,
}

impl Faults {
    /// None yet, under so many policies.
    pub fn new(policies: usize) -> Faults {
        Faults { by_policy: vec![0; policies], ..Faults::default() }
    }

    /// Counts a lost link. Whether it is to be set aside.
    pub fn push(&mut self, outcome: &FlightOutcome) -> bool {
        self.of += 1;
        if !is_faulted(outcome) {
            return false;
        }
        self.flights += 1;
        self.first = self.first.or(Some(outcome.flight));
        for (count, ending) in self.by_policy.iter_mut().zip(&outcome.endings) {
            *count += u64::from(ending.flags.has(Flags::FAULT));
        }
        true
    }

    /// Whether there are so many that nothing should be read from the rest.
    pub fn too_many(&self) -> bool {
        self.flights as f64 > MOST_SHARE * self.of as f64
    }

    /// What a command says that stops because of them.
    pub fn refusal(&self, names: &[String]) -> String {
        format!(
            "the simulation broke off with a numerical fault in {} of {} lost links{}, more than {} of 1,000: nothing can be \
             read from the others, and no report is written. `lostlink replay` with --flight {} tells one. A smaller `step_s`, \
             or figures of the craft that go together, may mend it",
            grouped(self.flights),
            grouped(self.of),
            self.under(names),
            1_000.0 * MOST_SHARE,
            self.first.unwrap_or(0),
        )
    }

    /// What stands before the answer; `None` without a fault.
    pub fn caution(&self, names: &[String]) -> Option<String> {
        let mut text = String::new();
        if self.flights > 0 {
            text = format!(
                "Numerical fault: in {} of {} lost links{} the simulation broke off. Such flights are set aside under every policy and \
                 are in no share, count or figure; the first is flight {}.",
                grouped(self.flights),
                grouped(self.of),
                self.under(names),
                self.first.unwrap_or(0)
            );
        }
        if self.side_flights > 0 {
            if !text.is_empty() {
                text.push(' ');
            }
            text += &format!(
                "Numerical fault in {} flights of the runs beside the main one (other conditions, inputs or winds), set aside \
                 there.",
                grouped(self.side_flights)
            );
        }
        (!text.is_empty()).then_some(text)
    }

    fn under(&self, names: &[String]) -> String {
        let hit: Vec<&str> =
            names.iter().zip(&self.by_policy).filter(|(_, count)| **count > 0).map(|(name, _)| name.as_str()).collect();
        // A sweep of heights is one policy many times.
        if hit.is_empty() { String::new() } else { format!(" under {}", named(&hit)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::Headline;
    use crate::risk::tally::tests::outcome;

    fn counted(faulty: &[u32], of: u32) -> Faults {
        let mut faults = Faults::new(2);
        for flight in 0..of {
            let mut outcome = outcome(flight, &[Headline::AtHome, Headline::LeftArea]);
            if faulty.contains(&flight) {
                outcome.endings[1].flags.set(Flags::FAULT);
            }
            assert_eq!(faults.push(&outcome), faulty.contains(&flight));
        }
        faults
    }

    #[test]
    fn a_fault_in_a_thousand_is_a_caution_and_more_are_an_error() {
        let names = ["a".to_string(), "b".to_string()];
        assert_eq!(counted(&[], 1_000).caution(&names), None);
        assert!(!counted(&[], 0).too_many());
        let one = counted(&[17], 1_000);
        assert!(!one.too_many());
        assert_eq!(
            one.caution(&names).unwrap(),
            "Numerical fault: in 1 of 1,000 lost links under \"b\" the simulation broke off. Such flights are set aside under \
             every policy and are in no share, count or figure; the first is flight 17."
        );
        let two = counted(&[17, 40], 1_000);
        assert!(
            two.too_many() && two.refusal(&names).contains("2 of 1,000 lost links under \"b\", more than 1 of 1,000")
        );
    }
}
