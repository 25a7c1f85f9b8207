//! Closed forms of powered flight: limits from tilt, stopping, turning, the wind triangle, drift.

use lostlink::craft::kinematics::*;
use lostlink::units::STANDARD_GRAVITY_MPS2;

/// Level top airspeed allowed by a tilt limit, m/s.
///
/// # Source
/// Balance of g tan(tilt) with k₁ V + K V², K = ρ C_d A/(2m).
pub fn tilt_limited_mps(tilt_rad: f64, linear_drag_per_s: f64, drag_per_m: f64) -> f64 {
    airspeed_for_drag_mps(tilt_accel_mps2(tilt_rad), linear_drag_per_s, drag_per_m)
}

/// Horizontal acceleration of a tilt at constant height, m/s².
pub fn tilt_accel_mps2(tilt_rad: f64) -> f64 {
    STANDARD_GRAVITY_MPS2 * libm::tan(tilt_rad)
}

/// Thrust over weight that holds the height at a tilt.
pub fn load_factor(tilt_rad: f64) -> f64 {
    1.0 / libm::cos(tilt_rad)
}

/// Distance to stop after a reaction time, m.
pub fn stop_distance_m(speed_mps: f64, decel_mps2: f64, reaction_s: f64) -> f64 {
    speed_mps * reaction_s + speed_mps * speed_mps / (2.0 * decel_mps2)
}

/// Time from rest to rest, limited by speed and acceleration, s.
pub fn leg_time_s(distance_m: f64, speed_max_mps: f64, accel_mps2: f64) -> f64 {
    if distance_m >= speed_max_mps * speed_max_mps / accel_mps2 {
        distance_m / speed_max_mps + speed_max_mps / accel_mps2
    } else {
        2.0 * (distance_m / accel_mps2).sqrt()
    }
}

/// Radius of a coordinated turn, m.
pub fn turn_radius_m(speed_mps: f64, tilt_rad: f64) -> f64 {
    speed_mps * speed_mps / tilt_accel_mps2(tilt_rad)
}

/// Time to turn the velocity by an angle, s.
pub fn turn_time_s(speed_mps: f64, tilt_rad: f64, turn_rad: f64) -> f64 {
    turn_rad * speed_mps / tilt_accel_mps2(tilt_rad)
}

/// Speed over ground along a fixed track, m/s; ≤ 0 means that the wind carries the craft back. `None` when the wind
/// across the track exceeds the airspeed: the track cannot be held.
///
/// `wind_to_minus_track_rad` is the direction the wind blows *to* minus the track.
///
/// # Source
/// Wind triangle: √(V_a² − (W sin b)²) + W cos b.
pub fn ground_speed_mps(airspeed_mps: f64, wind_mps: f64, wind_to_minus_track_rad: f64) -> Option<f64> {
    let cross = wind_mps * libm::sin(wind_to_minus_track_rad);
    let left = airspeed_mps * airspeed_mps - cross * cross;
    (left >= 0.0).then(|| left.sqrt() + wind_mps * libm::cos(wind_to_minus_track_rad))
}

/// Angle between nose and track, positive right, −π/2 to π/2; `None` when the track cannot be held.
pub fn crab_rad(airspeed_mps: f64, wind_mps: f64, wind_to_minus_track_rad: f64) -> Option<f64> {
    let sine = -wind_mps * libm::sin(wind_to_minus_track_rad) / airspeed_mps;
    (sine.abs() <= 1.0).then(|| libm::asin(sine))
}

/// Time of an out-and-back leg along the wind over that in still air; `None` when the way upwind never ends.
pub fn out_and_back_ratio(airspeed_mps: f64, wind_mps: f64) -> Option<f64> {
    let ratio = wind_mps / airspeed_mps;
    (ratio.abs() < 1.0).then(|| 1.0 / (1.0 - ratio * ratio))
}

/// Drift in m after a time from rest, attitude level, no position fix, steady wind ≥ 0.
///
/// # Source
/// Integral of du/dt = −k₁u − Ku² from u = W (air relative): x = W t − ln(1 + (KW/k₁)(1 − e^(−k₁t)))/K.
pub fn drift_distance_m(wind_mps: f64, linear_drag_per_s: f64, drag_per_m: f64, time_s: f64) -> f64 {
    let reach = reach_s(linear_drag_per_s, time_s);
    if drag_per_m * wind_mps * reach < 1e-9 {
        // Linear drag alone.
        return wind_mps * (time_s - reach);
    }
    wind_mps * time_s - libm::log1p(drag_per_m * wind_mps * reach) / drag_per_m
}

/// Drift speed reached in the same drift, m/s.
pub fn drift_speed_mps(wind_mps: f64, linear_drag_per_s: f64, drag_per_m: f64, time_s: f64) -> f64 {
    let reach = reach_s(linear_drag_per_s, time_s);
    let decay = libm::exp(-linear_drag_per_s * time_s);
    wind_mps - wind_mps * decay / (1.0 + drag_per_m * wind_mps * reach)
}

/// (1 − e^(−k₁t))/k₁, which is t without linear drag.
fn reach_s(linear_drag_per_s: f64, time_s: f64) -> f64 {
    if linear_drag_per_s * time_s < 1e-12 {
        time_s
    } else {
        -libm::expm1(-linear_drag_per_s * time_s) / linear_drag_per_s
    }
}

/// Steady drift through the air in m/s that an attitude error leads to.
///
/// # Source
/// k₁ u + K u² = g tan(b).
pub fn bias_drift_mps(attitude_error_rad: f64, linear_drag_per_s: f64, drag_per_m: f64) -> f64 {
    tilt_limited_mps(attitude_error_rad.abs(), linear_drag_per_s, drag_per_m)
}
