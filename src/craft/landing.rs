//! Touch-down: what the speeds and the ground at contact do, and how long a landing takes and drifts.

use super::kinematics::drag_per_m;

/// How a touch-down goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Touch {
    /// Set down.
    Soft,
    /// Harder than it should be.
    Hard,
    /// It tips over: it slides over the ground too fast, or the ground is too steep.
    TippedOver,
    /// It hits the ground.
    Crash,
}

/// Limits of a touch-down; all are inputs. Defaults are estimates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TouchLimits {
    /// Greatest vertical and horizontal speed of a soft touch-down.
    pub soft_mps: [f64; 2],
    /// Greatest vertical and horizontal speed that is not a crash.
    pub hard_mps: [f64; 2],
    /// Slope at which a craft set down at rest tips over.
    pub tip_slope_rad: f64,
}

impl Default for TouchLimits {
    /// Estimates: 1 m/s down and 1.5 m/s along is soft, 3 m/s either way is hard, 25° tips over.
    fn default() -> Self {
        TouchLimits { soft_mps: [1.0, 1.5], hard_mps: [3.0, 3.0], tip_slope_rad: 25_f64.to_radians() }
    }
}

impl TouchLimits {
    /// What happens at a touch-down with a sink speed, a horizontal speed, and a local slope ≥ 0.
    ///
    /// The horizontal speed that tips it over falls with the slope: the height that the centre of mass must be lifted
    /// to roll over the downhill foot shrinks about in proportion to the angle left before tipping, and the speed goes
    /// with its root. The direction of motion against the slope is not looked at.
    ///
    /// # Source
    /// Estimate: tripping of a rigid body on two feet, linearised in the slope.
    pub fn judge(&self, sink_mps: f64, horizontal_mps: f64, slope_rad: f64) -> Touch {
        let slope_share = slope_rad.max(0.0) / self.tip_slope_rad;
        let bearable = sink_mps <= self.hard_mps[0] && horizontal_mps <= self.hard_mps[1];
        if !bearable {
            Touch::Crash
        } else if slope_share >= 1.0 || horizontal_mps > self.soft_mps[1] * (1.0 - slope_share).sqrt() {
            Touch::TippedOver
        } else if sink_mps > self.soft_mps[0] {
            Touch::Hard
        } else {
            Touch::Soft
        }
    }
}

/// Standard deviation of the local slope on open ground about that of the terrain grid, rad per axis.
///
/// # Source
/// Estimate: 2 cm of unevenness under a 30 cm stance is 4°.
pub const OPEN_SLOPE_SIGMA_RAD: f64 = 0.05;

/// The same on rough ground (scrub, stones, furrows).
///
/// # Source
/// Estimate: 8 cm under a 30 cm stance is 15°.
pub const ROUGH_SLOPE_SIGMA_RAD: f64 = 0.22;

/// Local slope in rad at a touch-down: the grid's slope, and unevenness drawn by two standard normals.
pub fn local_slope_rad(grid_slope_rad: f64, sigma_rad: f64, normals: [f64; 2]) -> f64 {
    let along = grid_slope_rad + sigma_rad * normals[0];
    let across = sigma_rad * normals[1];
    (along * along + across * across).sqrt()
}

/// Time to land, s: fast down to a height, then slowly.
pub fn landing_time_s(height_m: f64, sink_fast_mps: f64, slow_below_m: f64, sink_slow_mps: f64) -> f64 {
    let slow_m = height_m.min(slow_below_m);
    (height_m - slow_m) / sink_fast_mps + slow_m / sink_slow_mps
}

/// Drift in m while landing without a fix from rest at a steady sink speed, in a wind that depends on height.
///
/// # Source
/// dv/dt = k₁(w(z) − v) + K|w − v|(w − v), classical Runge–Kutta.
pub fn landing_drift_m(
    height_m: f64,
    sink_mps: f64,
    wind_at_mps: impl Fn(f64) -> f64,
    linear_drag_per_s: f64,
    drag_per_m: f64,
) -> f64 {
    let time_s = height_m / sink_mps;
    let steps = (time_s / 0.01).ceil().clamp(100.0, 1e6);
    let h = time_s / steps;
    let accel = |time_s: f64, v: f64| {
        let u = wind_at_mps((height_m - sink_mps * time_s).max(0.0)) - v;
        linear_drag_per_s * u + drag_per_m * u.abs() * u
    };
    let (mut x, mut v) = (0.0, 0.0);
    for k in 0..steps as u64 {
        let t = k as f64 * h;
        let a1 = accel(t, v);
        let a2 = accel(t + 0.5 * h, v + 0.5 * h * a1);
        let a3 = accel(t + 0.5 * h, v + 0.5 * h * a2);
        let a4 = accel(t + h, v + h * a3);
        x += h * (v + h / 6.0 * (a1 + a2 + a3));
        v += h / 6.0 * (a1 + 2.0 * a2 + 2.0 * a3 + a4);
    }
    x
}

/// The same from craft parameters.
pub fn landing_drift_of_craft_m(
    height_m: f64,
    sink_mps: f64,
    wind_at_mps: impl Fn(f64) -> f64,
    mass_kg: f64,
    drag_area_m2: f64,
    linear_drag_per_s: f64,
    density_kgpm3: f64,
) -> f64 {
    landing_drift_m(
        height_m,
        sink_mps,
        wind_at_mps,
        linear_drag_per_s,
        drag_per_m(mass_kg, drag_area_m2, density_kgpm3),
    )
}

#[cfg(test)]
mod tests {
    use super::super::kinematics::drift_distance_m;
    use super::*;

    #[test]
    fn speeds_and_slope_decide() {
        let limits = TouchLimits::default();
        assert_eq!(limits.judge(0.7, 0.2, 0.0), Touch::Soft);
        assert_eq!(limits.judge(2.0, 0.2, 0.0), Touch::Hard);
        assert_eq!(limits.judge(0.7, 2.0, 0.0), Touch::TippedOver);
        assert_eq!(limits.judge(0.7, 5.0, 0.0), Touch::Crash);
        assert_eq!(limits.judge(4.0, 0.0, 0.0), Touch::Crash);
        assert_eq!(limits.judge(0.7, 0.0, 0.5), Touch::TippedOver);
        assert_eq!(limits.judge(0.7, 1.2, 0.0), Touch::Soft);
        assert_eq!(limits.judge(0.7, 1.2, 0.3), Touch::TippedOver);
        assert_eq!(limits.judge(f64::NAN, 0.0, 0.0), Touch::Crash);
    }

    /// In a uniform wind the integral is the closed form of the drift.
    #[test]
    fn landing_drift_in_uniform_wind_is_the_closed_form() {
        let got = landing_drift_m(40.0, 1.0, |_| 6.0, 0.15, 0.011);
        assert!((got - drift_distance_m(6.0, 0.15, 0.011, 40.0)).abs() < 1e-6);
    }

    #[test]
    fn two_stage_landing() {
        assert!((landing_time_s(60.0, 2.5, 8.0, 0.7) - (52.0 / 2.5 + 8.0 / 0.7)).abs() < 1e-12);
        assert!((landing_time_s(4.0, 2.5, 8.0, 0.7) - 4.0 / 0.7).abs() < 1e-12);
    }
}
