//! Time to first fix.

use crate::chance::standard_normal_quantile;
use libm::exp;

/// Start of a receiver.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// No almanac, time or place.
    Cold,
    /// Almanac, rough time and place, but no ephemerides.
    Warm,
    /// Fresh ephemerides.
    Hot,
}

/// Time to first fix under an open sky at a probability in (0, 1).
///
/// # Source
/// Estimate on the message's timing (the wait for one ephemeris: 18 to 36 s) and published spreads of receivers: cold and warm
/// log-normal with median 30 s, sigma of the logarithm 0.35, never below 18 s; hot median 2 s, 0.5.
pub fn first_fix_time_s(start: Start, probability: f64) -> f64 {
    let z = standard_normal_quantile(probability.clamp(1e-9, 1.0 - 1e-9));
    match start {
        Start::Cold | Start::Warm => (30.0 * exp(0.35 * z)).max(18.0),
        Start::Hot => 2.0 * exp(0.5 * z),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hot_start_is_fast() {
        assert_eq!(first_fix_time_s(Start::Hot, 0.5), 2.0);
        assert_eq!(first_fix_time_s(Start::Cold, 0.5), 30.0);
        assert_eq!(first_fix_time_s(Start::Cold, 1e-6), 18.0);
    }
}
