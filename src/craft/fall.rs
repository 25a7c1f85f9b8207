//! The fall after the motors stop: quadratic drag against the air, wind and all.

use crate::units::STANDARD_GRAVITY_MPS2;

/// A body that falls without thrust.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FallBody {
    /// Mass.
    pub mass_kg: f64,
    /// Drag area while tumbling.
    pub drag_area_m2: f64,
    /// Gravity.
    pub gravity_mps2: f64,
}

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

/// Length of a velocity.
#[inline]
pub fn speed_mps(velocity_mps: [f64; 3]) -> f64 {
    let [x, y, z] = velocity_mps;
    (x * x + y * y + z * z).sqrt()
}

/// Angle of a velocity below the horizontal, −π/2 to π/2.
pub fn angle_below_rad(velocity_mps: [f64; 3]) -> f64 {
    let [x, y, z] = velocity_mps;
    libm::atan2(-z, (x * x + y * y).sqrt())
}

/// Kinetic energy, J.
#[inline]
pub fn kinetic_energy_j(mass_kg: f64, speed_mps: f64) -> f64 {
    0.5 * mass_kg * speed_mps * speed_mps
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

/// Share of a step after which a height above ground falls to 0, by a straight line between both ends;
/// `before_m` > 0 ≥ `after_m`.
#[inline]
pub fn crossing_share(before_m: f64, after_m: f64) -> f64 {
    (before_m / (before_m - after_m)).clamp(0.0, 1.0)
}

/// The same when the speed changes by `gained_mps` (upwards) over a step of `step_s`, at a steady rate: the height is a
/// parabola through both ends.
///
/// # Source
/// h(s) = h₀ + s (h₁ − h₀) − c s (1 − s) with c = Δv Δt/2; the smaller positive root, written so that it holds for c = 0.
pub fn bent_crossing_share(before_m: f64, after_m: f64, gained_mps: f64, step_s: f64) -> f64 {
    let c = 0.5 * gained_mps * step_s;
    let b = before_m - after_m + c;
    let root = b * b - 4.0 * c * before_m;
    if root < 0.0 || b <= 0.0 {
        return crossing_share(before_m, after_m);
    }
    (2.0 * before_m / (b + root.sqrt())).clamp(0.0, 1.0)
}

/// Share of the airspeed that drag may take away in one step of a rule for slow changes. At this value the midpoint rule
/// is off by less than a thousandth of what drag does in the step.
pub(super) const DRAG_AT_ONCE: f64 = 0.1;

/// Shortest piece of a step. Estimate: drag that needs a shorter one brings a body to rest within a millimetre.
pub(super) const LEAST_PIECE_S: f64 = 1e-5;

/// Length of a piece over which drag takes away no more than [`DRAG_AT_ONCE`] of the airspeed: `rate_per_s` is drag over
/// mass and airspeed now, and `growth_per_s2` how fast that rate may rise as the speed grows.
#[inline]
pub(super) fn piece_s(rate_per_s: f64, growth_per_s2: f64) -> f64 {
    // rate · t + growth · t² = DRAG_AT_ONCE.
    2.0 * DRAG_AT_ONCE / (rate_per_s + (rate_per_s * rate_per_s + 4.0 * DRAG_AT_ONCE * growth_per_s2).sqrt())
}

impl FallBody {
    /// A body under standard gravity.
    pub fn new(mass_kg: f64, drag_area_m2: f64) -> FallBody {
        FallBody { mass_kg, drag_area_m2, gravity_mps2: STANDARD_GRAVITY_MPS2 }
    }

    /// Drag per mass and squared speed, 1/m.
    #[inline]
    fn drag_per_m(&self, density_kgpm3: f64) -> f64 {
        0.5 * density_kgpm3 * self.drag_area_m2 / self.mass_kg
    }

    /// Acceleration.
    #[inline]
    fn accel(&self, drag_per_m: f64, velocity_mps: [f64; 3], wind_mps: [f64; 3]) -> [f64; 3] {
        let u = [velocity_mps[0] - wind_mps[0], velocity_mps[1] - wind_mps[1], velocity_mps[2] - wind_mps[2]];
        let k = drag_per_m * speed_mps(u);
        [-k * u[0], -k * u[1], -k * u[2] - self.gravity_mps2]
    }

    /// One step of the flight loop, by the midpoint rule; the wind holds over the step.
    ///
    /// Where drag would take away more than a tenth of the speed within the step, as it does of a light body of
    /// a large area, the step is gone in pieces, so that the rule stays stable whatever mass, area and step.
    ///
    /// # Source
    /// Second-order Runge–Kutta method; its error over a 50 m fall with 0.05 s is a millimetre.
    #[inline]
    pub fn step(
        &self,
        place_m: &mut [f64; 3],
        velocity_mps: &mut [f64; 3],
        wind_mps: [f64; 3],
        density_kgpm3: f64,
        step_s: f64,
    ) {
        let k = self.drag_per_m(density_kgpm3);
        let u: [f64; 3] = std::array::from_fn(|i| velocity_mps[i] - wind_mps[i]);
        // What the speed may come to within the step.
        let speed = speed_mps(u) + self.gravity_mps2 * step_s;
        if k * speed * step_s > DRAG_AT_ONCE {
            return self.step_in_pieces(k, place_m, velocity_mps, wind_mps, step_s);
        }
        self.midpoint(k, place_m, velocity_mps, wind_mps, step_s);
    }

    /// The midpoint rule in pieces as short as drag asks for.
    #[cold]
    fn step_in_pieces(
        &self,
        k: f64,
        place_m: &mut [f64; 3],
        velocity_mps: &mut [f64; 3],
        wind_mps: [f64; 3],
        step_s: f64,
    ) {
        let mut left_s = step_s;
        while left_s > 0.0 {
            let u: [f64; 3] = std::array::from_fn(|i| velocity_mps[i] - wind_mps[i]);
            let whole = piece_s(k * speed_mps(u), k * self.gravity_mps2).max(LEAST_PIECE_S);
            // Equal pieces, so that none is left over that is shorter than rounding.
            let piece = left_s / (left_s / whole).ceil().max(1.0);
            self.midpoint(k, place_m, velocity_mps, wind_mps, piece);
            left_s = if piece < left_s { left_s - piece } else { 0.0 };
        }
    }

    #[inline]
    fn midpoint(&self, k: f64, place_m: &mut [f64; 3], velocity_mps: &mut [f64; 3], wind_mps: [f64; 3], step_s: f64) {
        let first = self.accel(k, *velocity_mps, wind_mps);
        let middle: [f64; 3] = std::array::from_fn(|i| velocity_mps[i] + 0.5 * step_s * first[i]);
        let second = self.accel(k, middle, wind_mps);
        for i in 0..3 {
            place_m[i] += step_s * middle[i];
            velocity_mps[i] += step_s * second[i];
        }
    }

    /// Fall by the flight loop's integrator, the ground crossing interpolated. Velocities: along, across, up.
    /// `None` when it does not come down within an hour.
    pub fn fall_stepped(
        &self,
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
            self.step(&mut place, &mut velocity, wind_mps, density_kgpm3, step_s);
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
        &self,
        height_m: f64,
        velocity_mps: [f64; 3],
        wind_mps: [f64; 3],
        density_kgpm3: f64,
    ) -> Option<Fall> {
        const STEP_S: f64 = 2e-3;
        let k = self.drag_per_m(density_kgpm3);
        let advance = |place: [f64; 3], v: [f64; 3], h: f64| {
            let mix = |a: [f64; 3], s: f64, b: [f64; 3]| -> [f64; 3] { std::array::from_fn(|i| a[i] + s * b[i]) };
            let a1 = self.accel(k, v, wind_mps);
            let v2 = mix(v, 0.5 * h, a1);
            let a2 = self.accel(k, v2, wind_mps);
            let v3 = mix(v, 0.5 * h, a2);
            let a3 = self.accel(k, v3, wind_mps);
            let v4 = mix(v, h, a3);
            let a4 = self.accel(k, v4, wind_mps);
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
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A drop in still air against its closed form.
    #[test]
    fn a_drop_matches_the_closed_form() {
        let body = FallBody::new(1.0, 0.03);
        let terminal = terminal_mps(1.0, 0.03, 1.225, STANDARD_GRAVITY_MPS2);
        for height_m in [0.5, 10.0, 120.0, 2_000.0] {
            let fall = body.fall_exact(height_m, [0.0; 3], [0.0; 3], 1.225).unwrap();
            let speed = dropped_speed_mps(height_m, terminal, STANDARD_GRAVITY_MPS2);
            let time = dropped_time_s(height_m, terminal, STANDARD_GRAVITY_MPS2);
            assert!((fall.speed_mps() / speed - 1.0).abs() < 1e-9);
            assert!((fall.time_s / time - 1.0).abs() < 1e-9);
        }
    }

    /// In a frame that moves with the wind the air is still: the fall with wind is the same fall, carried along.
    #[test]
    fn wind_is_a_change_of_frame() {
        let body = FallBody::new(0.7, 0.025);
        let wind = [4.0, -3.0, 0.0];
        let with = body.fall_exact(60.0, [10.0, 0.0, 1.0], wind, 1.2).unwrap();
        let still = body.fall_exact(60.0, [6.0, 3.0, 1.0], [0.0; 3], 1.2).unwrap();
        assert!((with.time_s - still.time_s).abs() < 1e-9);
        assert!((with.distance_m - still.distance_m - 4.0 * with.time_s).abs() < 1e-8);
        assert!((with.cross_m - still.cross_m + 3.0 * with.time_s).abs() < 1e-8);
    }

    #[test]
    fn without_drag_it_is_a_parabola() {
        let body = FallBody { mass_kg: 1.0, drag_area_m2: 0.0, gravity_mps2: 9.81 };
        let fall = body.fall_exact(50.0, [10.0, 0.0, 0.0], [3.0, 0.0, 0.0], 1.225).unwrap();
        let want = without_drag(50.0, 10.0, 9.81);
        assert!((fall.distance_m - want.distance_m).abs() < 1e-9 && (fall.time_s - want.time_s).abs() < 1e-9);
        assert!((fall.angle_rad() - want.angle_rad()).abs() < 1e-9);
    }

    #[test]
    fn yardsticks() {
        // 14 CFR 107.120(a)(1) and 107.130(a)(1): 11 and 25 foot-pounds.
        assert!((joules_from_foot_pounds(11.0) - 14.914).abs() < 1e-3);
        assert!((joules_from_foot_pounds(25.0) - 33.895).abs() < 1e-3);
        let mass_kg = mass_for_terminal_energy_kg(80.0, 30.0, 1.225, 9.806_65);
        let speed = terminal_mps(mass_kg, mass_kg / 30.0, 1.225, 9.806_65);
        assert!((kinetic_energy_j(mass_kg, speed) - 80.0).abs() < 1e-9);
    }
}
