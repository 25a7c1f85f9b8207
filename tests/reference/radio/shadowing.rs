//! Shadowing: log-normal, correlated over distance, drawn as a field in space.

use lostlink::chance::standard_normal_cdf;

/// Correlation of shadowing after a displacement: exp(−Δ/d), d being the distance at which it has fallen to 1/e.
///
/// # Source
/// Gudmundson, Electronics Letters 27(23), 1991 (from memory).
pub fn correlation(displacement_m: f64, correlation_distance_m: f64) -> f64 {
    libm::exp(-displacement_m.abs() / correlation_distance_m)
}

/// Standard deviation of the new part of shadowing after a displacement, so that the whole keeps `sigma_db`.
pub fn innovation_sigma_db(sigma_db: f64, displacement_m: f64, correlation_distance_m: f64) -> f64 {
    // 1 − ρ² by expm1: exact for steps much shorter than the correlation distance.
    sigma_db * (-libm::expm1(-2.0 * displacement_m.abs() / correlation_distance_m)).sqrt()
}

/// Probability that log-normal shadowing of `sigma_db` takes more than `margin_db`.
pub fn outage(margin_db: f64, sigma_db: f64) -> f64 {
    if sigma_db > 0.0 {
        standard_normal_cdf(-margin_db / sigma_db)
    } else if margin_db < 0.0 {
        1.0
    } else {
        0.0
    }
}
