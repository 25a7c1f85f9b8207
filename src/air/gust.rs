//! A discrete gust.

/// Speed in m/s added by a one-minus-cosine gust after `penetration_m` of it has passed: 0 before, the full
/// amplitude beyond `length_m`.
///
/// # Source
/// MIL-F-8785C §3.7.3 discrete gust model (paragraph number from memory).
#[inline]
pub fn one_minus_cosine_mps(penetration_m: f64, length_m: f64, amplitude_mps: f64) -> f64 {
    if penetration_m <= 0.0 {
        0.0
    } else if penetration_m >= length_m {
        amplitude_mps
    } else {
        0.5 * amplitude_mps * (1.0 - libm::cos(std::f64::consts::PI * penetration_m / length_m))
    }
}

/// The same gust that also ends: it rises over `length_m` and falls again over the next `length_m`; 0 outside.
///
/// # Source
/// The whole one-minus-cosine wave, as in EASA CS-25.341(a) with gradient distance `length_m` (from memory).
#[inline]
pub fn whole_gust_mps(penetration_m: f64, length_m: f64, amplitude_mps: f64) -> f64 {
    one_minus_cosine_mps(
        if penetration_m > length_m { 2.0 * length_m - penetration_m } else { penetration_m },
        length_m,
        amplitude_mps,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rises_smoothly_and_ends() {
        assert_eq!(one_minus_cosine_mps(-1.0, 60.0, 5.0), 0.0);
        assert!((one_minus_cosine_mps(30.0, 60.0, 5.0) - 2.5).abs() < 1e-12);
        assert_eq!(one_minus_cosine_mps(61.0, 60.0, 5.0), 5.0);
        assert_eq!(whole_gust_mps(60.0, 60.0, 5.0), 5.0);
        assert!((whole_gust_mps(90.0, 60.0, 5.0) - 2.5).abs() < 1e-12);
        assert_eq!(whole_gust_mps(120.0, 60.0, 5.0), 0.0);
        assert_eq!(whole_gust_mps(500.0, 60.0, 5.0), 0.0);
    }
}
