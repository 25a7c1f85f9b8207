//! The fall after the motors stop: quadratic drag against the air, wind and all.

use crate::geometry::{minus, plus};
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

/// Length of a piece over which drag takes away no more than `DRAG_AT_ONCE` of the airspeed: `rate_per_s` is drag over
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
        let u = minus(*velocity_mps, wind_mps);
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
            let u = minus(*velocity_mps, wind_mps);
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
        let middle = plus(*velocity_mps, 0.5 * step_s, first);
        let second = self.accel(k, middle, wind_mps);
        for i in 0..3 {
            place_m[i] += step_s * middle[i];
            velocity_mps[i] += step_s * second[i];
        }
    }
}
