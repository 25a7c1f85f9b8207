//! The fix lost and regained as a two-state process.

use libm::expm1;

/// One exact step of a two-state process with exponential dwell times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoState {
    /// Share of the time in the up state.
    pub availability: f64,
    /// Probability to be down after the step when up before.
    pub lose: f64,
    /// Probability to be up after the step when down before.
    pub regain: f64,
}

impl TwoState {
    /// With these mean dwell times, both > 0; an infinite time up means never down.
    ///
    /// # Source
    /// Kolmogorov's equations of a two-state Markov process, closed form.
    pub fn new(mean_up_s: f64, mean_down_s: f64, step_s: f64) -> Self {
        let (lose_rate, regain_rate) = (1.0 / mean_up_s, 1.0 / mean_down_s);
        let total = lose_rate + regain_rate;
        let mixed = -expm1(-total * step_s);
        TwoState {
            availability: regain_rate / total,
            lose: lose_rate / total * mixed,
            regain: regain_rate / total * mixed,
        }
    }

    /// The next state, given a number uniform in [0, 1).
    #[inline]
    pub fn next(&self, up: bool, uniform: f64) -> bool {
        if up { uniform >= self.lose } else { uniform < self.regain }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_compose_and_keep_the_availability() {
        let (half, whole) = (TwoState::new(600.0, 5.0, 0.5), TwoState::new(600.0, 5.0, 1.0));
        let twice = (1.0 - half.lose) * half.lose + half.lose * (1.0 - half.regain);
        assert!((twice - whole.lose).abs() < 1e-15);
        let a = whole.availability;
        assert!((a * (1.0 - whole.lose) + (1.0 - a) * whole.regain - a).abs() < 1e-15);
        assert_eq!(TwoState::new(f64::INFINITY, 5.0, 1.0).lose, 0.0);
    }
}
