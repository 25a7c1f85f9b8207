//! Which term took the margin away.

use crate::flight::LossCause;
use crate::world::radio::LossBudget;

/// A term that took less than this, dB, is not called the cause of a loss.
const CAUSE_LEAST_DB: f64 = 6.0;

/// The term that took the margin away: the greatest loss besides distance, unless distance alone left almost nothing or no
/// other term took as much as 6 dB. `margin_at_one_metre_db` is what the budget's losses are taken from.
pub fn cause(budget: &LossBudget, margin_at_one_metre_db: f64) -> LossCause {
    let left_db = margin_at_one_metre_db - budget.distance_db;
    let terms = [
        (budget.diffraction_db, LossCause::Obstruction),
        (budget.vegetation_db, LossCause::Vegetation),
        (budget.pattern_db + budget.polarisation_db, LossCause::Antenna),
        (budget.body_db, LossCause::Body),
        (budget.reflection_db, LossCause::Reflection),
        (budget.shadowing_db + budget.fading_db, LossCause::Fading),
        (budget.interference_db, LossCause::Interference),
    ];
    let (most_db, cause) = terms
        .iter()
        .fold((f64::NEG_INFINITY, LossCause::Distance), |best, &term| if term.0 > best.0 { term } else { best });
    if left_db <= 3.0 || most_db < CAUSE_LEAST_DB { LossCause::Distance } else { cause }
}

/// Why the link is silent: what each step since the last valid packet was like.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Silence {
    /// Summed over the steps.
    budget: LossBudget,
    steps: u32,
    /// Steps with the sender off, the receiver down, a burst on.
    off: u32,
    down: u32,
    burst: u32,
}

/// A silent step.
pub(super) struct SilentStep {
    pub(super) budget: LossBudget,
    /// The pilot's set is silent.
    pub(super) off: bool,
    /// The craft's receiver starts.
    pub(super) down: bool,
    pub(super) burst: bool,
}

impl Silence {
    pub(super) fn step(&mut self, step: &SilentStep) {
        self.budget.add(step.budget);
        self.steps += 1;
        self.off += u32::from(step.off);
        self.down += u32::from(step.down);
        self.burst += u32::from(step.burst);
    }

    /// A valid packet ends it.
    #[inline]
    pub(super) fn end(&mut self) {
        if self.steps > 0 {
            *self = Silence::default();
        }
    }

    /// Its cause: call it when the loss is declared.
    pub(super) fn cause(&self, margin_at_one_metre_db: f64) -> LossCause {
        if self.steps == 0 {
            return LossCause::Fading;
        }
        let most = |part: u32| 2 * part > self.steps;
        if most(self.off) {
            LossCause::Cut
        } else if most(self.down) {
            LossCause::Restart
        } else if most(self.burst) {
            LossCause::Interference
        } else {
            cause(&self.budget.scaled(1.0 / f64::from(self.steps)), margin_at_one_metre_db)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn causes_follow_the_greatest_term() {
        let far = LossBudget { distance_db: 70.0, ..LossBudget::default() };
        assert_eq!(cause(&far, 71.0), LossCause::Distance);
        assert_eq!(cause(&LossBudget { body_db: 4.0, ..far }, 90.0), LossCause::Distance);
        assert_eq!(cause(&LossBudget { diffraction_db: 25.0, shadowing_db: 7.0, ..far }, 90.0), LossCause::Obstruction);
        assert_eq!(cause(&LossBudget { vegetation_db: 25.0, pattern_db: 7.0, ..far }, 90.0), LossCause::Vegetation);
        assert_eq!(cause(&LossBudget { pattern_db: 14.0, polarisation_db: 9.0, ..far }, 90.0), LossCause::Antenna);
        assert_eq!(cause(&LossBudget { shadowing_db: 7.0, fading_db: 9.0, ..far }, 85.0), LossCause::Fading);
        assert_eq!(cause(&LossBudget { interference_db: 22.0, ..far }, 85.0), LossCause::Interference);
    }
}
