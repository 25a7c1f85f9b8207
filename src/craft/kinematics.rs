//! Closed forms of powered flight: limits from tilt, stopping, turning, the wind triangle, drift.

/// Quadratic drag per mass and squared speed, 1/m: ρ C_d A/(2m).
#[inline]
pub fn drag_per_m(mass_kg: f64, drag_area_m2: f64, density_kgpm3: f64) -> f64 {
    0.5 * density_kgpm3 * drag_area_m2 / mass_kg
}

/// Airspeed in m/s at which linear and quadratic drag together decelerate by `accel_mps2` ≥ 0; infinite without drag.
///
/// # Source
/// Positive root of K u² + k₁ u = a, written so that it holds for K → 0.
pub fn airspeed_for_drag_mps(accel_mps2: f64, linear_drag_per_s: f64, drag_per_m: f64) -> f64 {
    if accel_mps2 <= 0.0 {
        return 0.0;
    }
    let root = (linear_drag_per_s * linear_drag_per_s + 4.0 * drag_per_m * accel_mps2).sqrt();
    2.0 * accel_mps2 / (linear_drag_per_s + root)
}
