//! Heading: what disturbs it, and what a wrong one does to the way home.

use libm::{acos, asin, atan2, cos, sin};
use lostlink::units::wrap_pi;

/// Permeability of vacuum over 2π, times 1e9: T·m/A to nT.
const MU0_OVER_TAU_NT: f64 = 200.0;

/// Heading error of a level compass with a constant horizontal bias fixed in the body.
///
/// The bias lies `bias_angle_rad` clockwise from the nose; `heading_rad` is the true magnetic heading. In (−π, π].
///
/// # Source
/// Hard-iron deviation, closed form: forward H cos ψ + b cos β, right −H sin ψ + b sin β.
pub fn hard_iron_error_rad(bias_nt: f64, bias_angle_rad: f64, horizontal_nt: f64, heading_rad: f64) -> f64 {
    let forward = horizontal_nt * cos(heading_rad) + bias_nt * cos(bias_angle_rad);
    let right = -horizontal_nt * sin(heading_rad) + bias_nt * sin(bias_angle_rad);
    wrap_pi(atan2(-right, forward) - heading_rad)
}

/// Greatest heading error from a horizontal hard-iron bias; π when the bias is the stronger field.
pub fn hard_iron_max_rad(bias_nt: f64, horizontal_nt: f64) -> f64 {
    if bias_nt.abs() >= horizontal_nt { std::f64::consts::PI } else { asin(bias_nt.abs() / horizontal_nt) }
}

/// Field of a pair of wires with opposite currents, in line with the pair, nT.
///
/// # Source
/// Two straight wires by Ampère's law: μ₀ I s/(2π (r² − s²/4)).
pub fn wire_pair_field_nt(current_a: f64, spacing_m: f64, distance_m: f64) -> f64 {
    MU0_OVER_TAU_NT * current_a * spacing_m / (distance_m * distance_m - 0.25 * spacing_m * spacing_m)
}

/// Field of one straight wire, nT.
pub fn wire_field_nt(current_a: f64, distance_m: f64) -> f64 {
    MU0_OVER_TAU_NT * current_a / distance_m
}

/// Length of the way over the straight distance when a craft always steers a constant angle off the bearing to its target.
///
/// Infinite from 90° on: it never arrives.
///
/// # Source
/// Equiangular spiral, closed form: 1/cos θ.
pub fn spiral_path_ratio(heading_error_rad: f64) -> f64 {
    let c = cos(heading_error_rad);
    if c <= 0.0 { f64::INFINITY } else { 1.0 / c }
}

/// Distance left to the target after so long; not below 0.
pub fn spiral_distance_m(distance_m: f64, speed_mps: f64, heading_error_rad: f64, time_s: f64) -> f64 {
    (distance_m - speed_mps * time_s * cos(heading_error_rad)).max(0.0)
}

/// Greatest heading error that a position-hold loop of this damping ratio survives.
///
/// # Source
/// Stability of x″ + 2ζω R(θ) x′ + ω² R(θ) x = 0 with R a turn by θ, in the plane: the root crosses the axis at
/// cos θ = −2ζ² + √(4ζ⁴ + 1). Derived here; checked by the roots in the law tests.
pub fn heading_hold_limit_rad(damping_ratio: f64) -> f64 {
    let z2 = damping_ratio * damping_ratio;
    acos((-2.0 * z2 + (4.0 * z2 * z2 + 1.0).sqrt()).clamp(-1.0, 1.0))
}

/// Nose direction minus course when the nose is held into a cross wind; `None` when the wind is stronger than the airspeed.
pub fn nose_minus_course_rad(cross_wind_mps: f64, airspeed_mps: f64) -> Option<f64> {
    (cross_wind_mps.abs() <= airspeed_mps).then(|| asin(cross_wind_mps / airspeed_mps))
}
