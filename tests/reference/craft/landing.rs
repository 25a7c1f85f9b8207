//! Touch-down: what the speeds and the ground at contact do, and how long a landing takes and drifts.

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
