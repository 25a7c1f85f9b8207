//! Two-body motion.

use libm::cos;
use lostlink::sky::*;
use std::f64::consts::{PI, TAU};

/// Period of a semi-major axis.
pub fn orbit_period_s(a_m: f64, mu_m3ps2: f64) -> f64 {
    TAU / mean_motion_radps(a_m, mu_m3ps2)
}

/// Semi-major axis of a period.
pub fn semi_major_axis_m(period_s: f64, mu_m3ps2: f64) -> f64 {
    let n = TAU / period_s;
    libm::cbrt(mu_m3ps2 / (n * n))
}

/// Secular rate of the ascending node under the Earth's flattening, rad/s.
///
/// # Source
/// First-order secular J2 theory, e.g. Kaula, "Theory of satellite geodesy", 1966, equation 3.74:
/// −3/2 n J2 (R/p)² cos i with p = a (1 − e²).
pub fn nodal_rate_radps(
    a_m: f64,
    inclination_rad: f64,
    eccentricity: f64,
    j2: f64,
    earth_radius_m: f64,
    mu_m3ps2: f64,
) -> f64 {
    let ratio = earth_radius_m / (a_m * (1.0 - eccentricity * eccentricity));
    -1.5 * mean_motion_radps(a_m, mu_m3ps2) * j2 * ratio * ratio * cos(inclination_rad)
}

/// Longitude, modulo a half turn, at which a circular half-day orbit's ground track crosses the equator, in [0, π).
///
/// # Source
/// GPS SPS performance standard, 5th edition, section 3.2 (second-hand): (node − sidereal angle + u/2) mod 180°.
pub fn equator_crossing_rad(node_rad: f64, argument_of_latitude_rad: f64, sidereal_angle_rad: f64) -> f64 {
    (node_rad - sidereal_angle_rad + 0.5 * argument_of_latitude_rad).rem_euclid(PI)
}

/// Earth-fixed position from broadcast elements at a time of the same week or a neighbouring one: the difference is wrapped to
/// ±302,400 s. (What flies counts from the elements' own instant.)
///
/// # Source
/// IS-GPS-200, table 20-IV, footnote on t_k.
pub fn broadcast_position_m(elements: &Elements, time_of_week_s: f64, mu_m3ps2: f64) -> [f64; 3] {
    let difference_s = time_of_week_s - elements.toe_s;
    let after_s = difference_s - (difference_s / WEEK_S).round() * WEEK_S;
    position_after_m(elements, after_s, mu_m3ps2, EARTH_RATE_RADPS)
}
