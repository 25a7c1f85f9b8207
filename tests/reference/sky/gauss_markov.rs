//! Errors with a memory: first-order Gauss–Markov processes, exactly discretised.

use libm::{exp, expm1};

/// Autocovariance of a Gauss–Markov error at a lag, m².
pub fn autocovariance_m2(sigma_m: f64, time_constant_s: f64, lag_s: f64) -> f64 {
    sigma_m * sigma_m * exp(-lag_s.abs() / time_constant_s)
}

/// Steady-state sigma of a Gauss–Markov error driven by this noise each step.
pub fn steady_sigma_m(step_s: f64, time_constant_s: f64, noise_m: f64) -> f64 {
    noise_m / (-expm1(-2.0 * step_s / time_constant_s)).sqrt()
}

/// Root mean square change of an error between two instants: by how much a return misses a home point stored earlier.
pub fn return_miss_sigma_m(sigma_m: f64, time_constant_s: f64, lag_s: f64) -> f64 {
    sigma_m * (-2.0 * expm1(-lag_s / time_constant_s)).sqrt()
}

/// Sigma of the mean of a Gauss–Markov error over a time.
pub fn averaged_error_sigma_m(sigma_m: f64, time_constant_s: f64, averaging_s: f64) -> f64 {
    let x = averaging_s / time_constant_s;
    // 2/x² (x − 1 + e⁻ˣ), by its series where the difference would lose digits.
    let share = if x < 1e-3 { 1.0 - x / 3.0 + x * x / 12.0 } else { 2.0 / (x * x) * (x + expm1(-x)) };
    sigma_m * share.sqrt()
}

/// Autocorrelation at a lag of the sum of a slow and a fast Gauss–Markov term.
pub fn two_term_autocorrelation(
    sigma_slow_m: f64,
    time_constant_slow_s: f64,
    sigma_fast_m: f64,
    time_constant_fast_s: f64,
    lag_s: f64,
) -> f64 {
    let at = |lag_s| {
        autocovariance_m2(sigma_slow_m, time_constant_slow_s, lag_s)
            + autocovariance_m2(sigma_fast_m, time_constant_fast_s, lag_s)
    };
    at(lag_s) / at(0.0)
}
