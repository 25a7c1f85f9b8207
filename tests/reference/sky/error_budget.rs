//! The one-sigma error of a range, and what it becomes in metres on the ground.

use libm::{cos, erf, exp, sin, sqrt};
use lostlink::chance::standard_normal_quantile;
use lostlink::sky::*;
use lostlink::units::SPEED_OF_LIGHT_MPS;
use std::f64::consts::{FRAC_1_SQRT_2, PI, TAU};

/// Multipath of an airframe, 1 sigma.
///
/// # Source
/// RTCA DO-229, appendix J (from memory): 0.13 m + 0.53 m · exp(−E/10°).
pub fn airframe_multipath_sigma_m(elevation_rad: f64) -> f64 {
    multipath_sigma_m(elevation_rad, 0.13, 0.53, 10f64.to_radians())
}

/// Zenith delay of the dry air in a standard atmosphere.
///
/// # Source
/// Saastamoinen, "Atmospheric correction for the troposphere and stratosphere in radio ranging of satellites", 1972, with
/// the standard pressure 1013.25 hPa · (1 − 2.2557e-5 h)^5.2568.
pub fn zenith_hydrostatic_delay_m(lat_rad: f64, height_m: f64) -> f64 {
    let pressure_hpa = 1013.25 * libm::pow(1.0 - 2.2557e-5 * height_m.max(0.0), 5.2568);
    0.002_276_8 * pressure_hpa / (1.0 - 0.002_66 * cos(2.0 * lat_rad) - 0.000_28 * height_m / 1000.0)
}

/// Broadcast ionospheric delay at the GPS L1 frequency.
///
/// `alpha` and `beta` as broadcast, in seconds and powers of semicircles; time of week on the GPS scale.
///
/// # Source
/// IS-GPS-200, section 20.3.3.5.2.5 and figure 20-4.
pub fn klobuchar_delay_m(
    alpha: [f64; 4],
    beta: [f64; 4],
    lat_rad: f64,
    lon_rad: f64,
    azimuth_rad: f64,
    elevation_rad: f64,
    time_of_week_s: f64,
) -> f64 {
    // Everything in semicircles, as the document has it.
    let e = elevation_rad / PI;
    let psi = 0.0137 / (e + 0.11) - 0.022;
    let phi_i = (lat_rad / PI + psi * cos(azimuth_rad)).clamp(-0.416, 0.416);
    let lambda_i = lon_rad / PI + psi * sin(azimuth_rad) / cos(phi_i * PI);
    let phi_m = phi_i + 0.064 * cos((lambda_i - 1.617) * PI);
    let t = (43_200.0 * lambda_i + time_of_week_s).rem_euclid(86_400.0);
    let slant = 1.0 + 16.0 * (0.53 - e) * (0.53 - e) * (0.53 - e);
    let series = |c: [f64; 4]| c[0] + phi_m * (c[1] + phi_m * (c[2] + phi_m * c[3]));
    let amplitude = series(alpha).max(0.0);
    let period = series(beta).max(72_000.0);
    let x = TAU * (t - 50_400.0) / period;
    let day = if x.abs() < 1.57 { amplitude * (1.0 - x * x / 2.0 + x * x * x * x / 24.0) } else { 0.0 };
    SPEED_OF_LIGHT_MPS * slant * (5e-9 + day)
}

/// Horizontal error not exceeded with a probability, for a circular Gaussian whose root mean square is HDOP × range error.
pub fn radial_error_quantile_m(hdop: f64, range_error_m: f64, probability: f64) -> f64 {
    hdop * range_error_m * radius_over_drms(probability)
}

/// Radius holding a probability over the root mean square, circular case: √(−ln(1 − p)).
pub fn radius_over_drms(probability: f64) -> f64 {
    (-libm::log1p(-probability)).sqrt()
}

/// Vertical error, either way, not exceeded with a probability.
pub fn vertical_error_quantile_m(vdop: f64, range_error_m: f64, probability: f64) -> f64 {
    vdop * range_error_m * standard_normal_quantile(0.5 * (1.0 + probability))
}

/// Probability that a two-axis Gaussian lies within a circle about its mean.
pub fn probability_within_circle(sigma_a_m: f64, sigma_b_m: f64, radius_m: f64) -> f64 {
    let (small, large) = (sigma_a_m.min(sigma_b_m), sigma_a_m.max(sigma_b_m));
    if radius_m <= 0.0 {
        return 0.0;
    }
    if small <= 1e-9 * large {
        return if large <= 0.0 { 1.0 } else { erf(radius_m / large * FRAC_1_SQRT_2) };
    }
    // Over the large axis, x = R sin t: the Gaussian times the chance of the small axis being within the chord. Simpson's rule;
    // the integrand is smooth and the far tail beyond 9 sigma is left out.
    let end = libm::asin((9.0 * large / radius_m).min(1.0));
    let steps = 4_000;
    let h = end / f64::from(steps);
    let value = |k: i32| {
        let t = f64::from(k) * h;
        let (x, chord) = (radius_m * sin(t), radius_m * cos(t));
        exp(-0.5 * x * x / (large * large)) * erf(chord / small * FRAC_1_SQRT_2) * chord
    };
    let mut sum = value(0) + value(steps);
    for k in 1..steps {
        sum += value(k) * if k % 2 == 1 { 4.0 } else { 2.0 };
    }
    (2.0 * sum * h / 3.0 / (large * sqrt(TAU))).clamp(0.0, 1.0)
}

/// Radius of the circle about the mean that holds a probability, axes unequal.
pub fn error_ellipse_radius_m(sigma_a_m: f64, sigma_b_m: f64, probability: f64) -> f64 {
    let large = sigma_a_m.max(sigma_b_m);
    bisect(0.0, 12.0 * large, |r| probability_within_circle(sigma_a_m, sigma_b_m, r) < probability)
}

/// Probability within twice the root mean square, for a ratio of the smaller to the larger axis.
pub fn probability_within_2drms(sigma_ratio: f64) -> f64 {
    probability_within_circle(1.0, sigma_ratio, 2.0 * (1.0 + sigma_ratio * sigma_ratio).sqrt())
}

/// Error in space not exceeded with a probability, three equal axes (Maxwell distribution).
pub fn spherical_error_quantile_m(sigma_m: f64, probability: f64) -> f64 {
    let below = |r: f64| erf(r * FRAC_1_SQRT_2) - (2.0 / PI).sqrt() * r * exp(-0.5 * r * r) < probability;
    sigma_m * bisect(0.0, 40.0, below)
}

fn bisect(mut low: f64, mut high: f64, below: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}
