//! Which term took the margin away.

use crate::flight::{LossBudget, LossCause};

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

fn each(budget: &mut LossBudget) -> [&mut f64; 10] {
    [
        &mut budget.distance_db,
        &mut budget.diffraction_db,
        &mut budget.vegetation_db,
        &mut budget.reflection_db,
        &mut budget.pattern_db,
        &mut budget.polarisation_db,
        &mut budget.body_db,
        &mut budget.shadowing_db,
        &mut budget.fading_db,
        &mut budget.interference_db,
    ]
}

pub(super) fn add(sum: &mut LossBudget, more: &LossBudget) {
    let mut more = *more;
    for (a, b) in each(sum).into_iter().zip(each(&mut more)) {
        *a += *b;
    }
}

pub(super) fn scale(budget: &mut LossBudget, factor: f64) {
    for term in each(budget) {
        *term *= factor;
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
