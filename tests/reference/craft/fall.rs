//! The fall after the motors stop: quadratic drag against the air, wind and all.

use lostlink::craft::fall::*;
use lostlink::units::STANDARD_GRAVITY_MPS2;

/// How a body meets the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fall {
    /// Travel along the first track.
    pub distance_m: f64,
    /// Travel across it.
    pub cross_m: f64,
    /// From motor stop to ground.
    pub time_s: f64,
    /// Velocity at the ground: along, across, up.
    pub velocity_mps: [f64; 3],
}

impl Fall {
    /// Speed at the ground.
    pub fn speed_mps(&self) -> f64 {
        speed_mps(self.velocity_mps)
    }

    /// Angle of that speed below the horizontal, rad.
    pub fn angle_rad(&self) -> f64 {
        angle_below_rad(self.velocity_mps)
    }
}

/// Foot-pounds (force) in joules.
///
/// # Source
/// Exact by the definitions of foot and pound-force: 0.3048 m × 0.453 592 37 kg × 9.806 65 m/s².
pub fn joules_from_foot_pounds(energy_ft_lbf: f64) -> f64 {
    energy_ft_lbf * 0.304_8 * 0.453_592_37 * STANDARD_GRAVITY_MPS2
}

/// Terminal speed in still air, m/s.
///
/// # Source
/// Balance of weight and quadratic drag: √(2mg/(ρ C_d A)).
pub fn terminal_mps(mass_kg: f64, drag_area_m2: f64, density_kgpm3: f64, gravity_mps2: f64) -> f64 {
    (2.0 * mass_kg * gravity_mps2 / (density_kgpm3 * drag_area_m2)).sqrt()
}

/// Speed after a fall from rest in still air, m/s: v_t √(1 − e^(−2gh/v_t²)).
pub fn dropped_speed_mps(height_m: f64, terminal_mps: f64, gravity_mps2: f64) -> f64 {
    terminal_mps * (-libm::expm1(-2.0 * gravity_mps2 * height_m / (terminal_mps * terminal_mps))).sqrt()
}

/// Time of a fall from rest in still air, s: (v_t/g) acosh(e^(gh/v_t²)).
pub fn dropped_time_s(height_m: f64, terminal_mps: f64, gravity_mps2: f64) -> f64 {
    // acosh(eˣ) = x + ln(1 + √(1 − e^−2x)), which does not overflow.
    let x = gravity_mps2 * height_m / (terminal_mps * terminal_mps);
    terminal_mps / gravity_mps2 * (x + libm::log1p((-libm::expm1(-2.0 * x)).sqrt()))
}

/// Fall without drag from level flight: distance, time and vertical speed.
pub fn without_drag(height_m: f64, speed_forward_mps: f64, gravity_mps2: f64) -> Fall {
    let time_s = (2.0 * height_m / gravity_mps2).sqrt();
    Fall {
        distance_m: speed_forward_mps * time_s,
        cross_m: 0.0,
        time_s,
        velocity_mps: [speed_forward_mps, 0.0, -gravity_mps2 * time_s],
    }
}

/// Largest mass in kg whose kinetic energy at terminal speed is `energy_j`, for a given mass over drag area.
///
/// # Source
/// E = ½ m v_t², v_t² = 2 g β/ρ.
pub fn mass_for_terminal_energy_kg(
    energy_j: f64,
    ballistic_coefficient_kgpm2: f64,
    density_kgpm3: f64,
    gravity_mps2: f64,
) -> f64 {
    energy_j * density_kgpm3 / (gravity_mps2 * ballistic_coefficient_kgpm2)
}

/// Fall by the flight loop's integrator, the ground crossing interpolated. Velocities: along, across, up.
/// `None` when it does not come down within an hour.
pub fn fall_stepped(
    body: &FallBody,
    height_m: f64,
    velocity_mps: [f64; 3],
    wind_mps: [f64; 3],
    density_kgpm3: f64,
    step_s: f64,
) -> Option<Fall> {
    let (mut place, mut velocity) = ([0.0, 0.0, height_m], velocity_mps);
    let steps = (3_600.0 / step_s) as u64;
    for k in 0..steps {
        let (before, slow) = (place, velocity);
        body.step(&mut place, &mut velocity, wind_mps, density_kgpm3, step_s);
        if place[2] <= 0.0 {
            let share = crossing_share(before[2], place[2]);
            let at = |a: f64, b: f64| a + share * (b - a);
            return Some(Fall {
                distance_m: at(before[0], place[0]),
                cross_m: at(before[1], place[1]),
                time_s: step_s * (k as f64 + share),
                velocity_mps: std::array::from_fn(|i| at(slow[i], velocity[i])),
            });
        }
    }
    None
}

/// Fall to high accuracy (better than 1e-8 relative). Velocities: along, across, up; steady wind.
/// `None` when it does not come down within an hour.
///
/// # Source
/// Classical fourth-order Runge–Kutta with 2 ms steps; the ground crossing by bisection on the last step.
pub fn fall_exact(
    body: &FallBody,
    height_m: f64,
    velocity_mps: [f64; 3],
    wind_mps: [f64; 3],
    density_kgpm3: f64,
) -> Option<Fall> {
    const STEP_S: f64 = 2e-3;
    let k = 0.5 * density_kgpm3 * body.drag_area_m2 / body.mass_kg;
    let accel = |v: [f64; 3]| -> [f64; 3] {
        let u: [f64; 3] = std::array::from_fn(|i| v[i] - wind_mps[i]);
        let drag = k * speed_mps(u);
        [-drag * u[0], -drag * u[1], -drag * u[2] - body.gravity_mps2]
    };
    let advance = |place: [f64; 3], v: [f64; 3], h: f64| {
        let mix = |a: [f64; 3], s: f64, b: [f64; 3]| -> [f64; 3] { std::array::from_fn(|i| a[i] + s * b[i]) };
        let a1 = accel(v);
        let v2 = mix(v, 0.5 * h, a1);
        let a2 = accel(v2);
        let v3 = mix(v, 0.5 * h, a2);
        let a3 = accel(v3);
        let v4 = mix(v, h, a3);
        let a4 = accel(v4);
        let sum = |p: [f64; 3], q: [f64; 3], r: [f64; 3], s: [f64; 3]| -> [f64; 3] {
            std::array::from_fn(|i| (p[i] + 2.0 * q[i] + 2.0 * r[i] + s[i]) / 6.0)
        };
        (mix(place, h, sum(v, v2, v3, v4)), mix(v, h, sum(a1, a2, a3, a4)))
    };
    let (mut place, mut velocity) = ([0.0, 0.0, height_m], velocity_mps);
    for step in 0..(3_600.0 / STEP_S) as u64 {
        let (next, faster) = advance(place, velocity, STEP_S);
        if next[2] <= 0.0 {
            let (mut low, mut high) = (0.0, STEP_S);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if advance(place, velocity, middle).0[2] > 0.0 { low = middle } else { high = middle }
            }
            let (end, impact) = advance(place, velocity, high);
            return Some(Fall {
                distance_m: end[0],
                cross_m: end[1],
                time_s: STEP_S * step as f64 + high,
                velocity_mps: impact,
            });
        }
        (place, velocity) = (next, faster);
    }
    None
}
