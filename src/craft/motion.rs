//! Powered motion of a point mass whose thrust vector follows a demand.
//!
//! The state is place, velocity and the lagged thrust demand; attitude is not integrated but read off the thrust
//! vector. Drag acts against the air, so a gust pushes the craft until attitude and thrust have answered.

use super::battery::lag_share;
use super::fall::{DRAG_AT_ONCE, LEAST_PIECE_S, piece_s};
use super::rotor::{PROFILE_DENSITY_KGPM3, Rotors};
use crate::geometry::{dot, minus, plus};
use crate::units::STANDARD_GRAVITY_MPS2 as G;

/// Least thrust over weight while the motors run.
///
/// # Source
/// Estimate: idling rotors keep about a tenth of the weight.
pub const LEAST_THRUST_SHARE: f64 = 0.1;

/// Sink speeds over the hover induced velocity between which a rotor is in the vortex ring.
///
/// # Source
/// Veismann, Dougherty, Gharib, Flow 3:4 (2023): thrust loss deepest at 1.2–1.3 for 4 to 6 in rotors; limits after
/// wind-tunnel maps (estimate).
pub const VORTEX_RING: (f64, f64) = (0.5, 1.5);

/// Share of the thrust available inside the vortex ring (estimate).
pub const VORTEX_RING_THRUST_SHARE: f64 = 0.7;

/// What the craft is to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wish {
    /// Accelerate so, horizontally and upwards, with drag made up for; from [`Mover::accel_demand`], after whatever a
    /// wrong heading does to it.
    Acceleration([f64; 3]),
    /// This attitude (but for its error) whatever drag does, vertical speed held. Level, as without a position fix, the craft
    /// drifts with the wind.
    Attitude {
        /// Slopes of the thrust towards east and north; 0 is level.
        slope: [f64; 2],
        /// Sink speed aimed for; negative climbs.
        sink_mps: f64,
    },
}

/// Parameters of one craft in one flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mover {
    /// Mass.
    pub mass_kg: f64,
    /// Linear rotor drag over mass, on the horizontal velocity through the air.
    pub linear_drag_per_s: f64,
    /// Power model, with the drag area.
    pub rotors: Rotors,
    /// Tangent of the greatest tilt.
    pub tilt_max_tan: f64,
    /// Greatest thrust with a full pack at sea-level density.
    pub thrust_max_n: f64,
    /// Greatest acceleration demanded, horizontally and vertically.
    pub accel_max_mps2: f64,
    /// Greatest climb speed.
    pub climb_max_mps: f64,
    /// Greatest descent speed.
    pub descent_max_mps: f64,
    /// Time constant of the velocity loop.
    pub velocity_lag_s: f64,
    /// Time constant with which attitude and thrust follow.
    pub attitude_lag_s: f64,
    /// Attitude error of this flight as slopes towards east and north: it bends every level attitude.
    pub level_error: [f64; 2],
}

/// A velocity loop whose demand holds over a step, as good as one that never rests.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldLoop {
    /// Time constant that the demand is worked out with.
    pub lag_s: f64,
    /// How far ahead the velocity is taken, along the acceleration at the beginning of the step.
    pub ahead_s: f64,
}

impl HeldLoop {
    /// A loop of a time constant over steps of a length, on a thrust that follows with `attitude_lag_s` > 0.
    ///
    /// # Source
    /// While a demand d holds over a step h, the acceleration a follows it by e^(−t/T), so the mean velocity of the step is
    /// v + h d/2 + h q (a − d) with q = (x − 1 + e^−x)/x², x = h/T. A loop that takes its error from this mean asks for
    /// d = (w − v − h q a)/(τ + h/2 − h q), which is right to second order in h. The τ + h/2 in it is the beginning of
    /// h/(1 − e^(−h/τ)): written so, it is exact without a lag of the thrust, and stays calm for τ shorter than the step.
    pub fn new(velocity_lag_s: f64, attitude_lag_s: f64, step_s: f64) -> HeldLoop {
        let x = step_s / attitude_lag_s;
        // The difference cancels for small x.
        let q = if x < 0.01 { 0.5 - x / 6.0 + x * x / 24.0 } else { (x + libm::expm1(-x)) / (x * x) };
        let ahead_s = step_s * q;
        HeldLoop { lag_s: step_s / -libm::expm1(-step_s / velocity_lag_s) - ahead_s, ahead_s }
    }
}

/// State of a craft in motion.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MoverState {
    /// Place: x, y, z.
    pub place_m: [f64; 3],
    /// Velocity over ground.
    pub velocity_mps: [f64; 3],
    /// Thrust over mass less what carries the weight: 0 in a hover in still air.
    pub accel_mps2: [f64; 3],
}

/// What one step gives besides the new state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoverNow {
    /// Thrust.
    pub thrust_n: f64,
    /// Unit vector of the thrust: the craft's up axis.
    pub tilt: [f64; 3],
    /// Rotor speed over the greatest one available now, 0 to 1.
    pub throttle: f64,
    /// Electrical power.
    pub power_w: f64,
    /// The rotors are in the vortex ring.
    pub vortex_ring: bool,
}

impl MoverState {
    /// At rest at a place.
    pub fn at(place_m: [f64; 3]) -> MoverState {
        MoverState { place_m, ..MoverState::default() }
    }
}

impl Mover {
    /// The acceleration the velocity loop asks for, from the velocity aimed for and the one measured; limited
    /// horizontally and vertically.
    #[inline]
    pub fn accel_demand(&self, wish_mps: [f64; 3], measured_mps: [f64; 3]) -> [f64; 3] {
        let gain = 1.0 / self.velocity_lag_s;
        let climb = wish_mps[2].clamp(-self.descent_max_mps, self.climb_max_mps);
        let x = gain * (wish_mps[0] - measured_mps[0]);
        let y = gain * (wish_mps[1] - measured_mps[1]);
        let z = gain * (climb - measured_mps[2]);
        let shrink = shrink_to(x * x + y * y, self.accel_max_mps2);
        [shrink * x, shrink * y, z.clamp(-self.accel_max_mps2, self.accel_max_mps2)]
    }

    /// The velocity a little later, along the acceleration that it has now.
    #[inline]
    pub fn ahead_mps(&self, state: &MoverState, wind_mps: [f64; 3], density_kgpm3: f64, ahead_s: f64) -> [f64; 3] {
        let drag = self.air(state.velocity_mps, wind_mps, density_kgpm3).drag;
        plus(state.velocity_mps, ahead_s, minus(state.accel_mps2, drag))
    }

    /// One step. `thrust_share` is what the pack leaves of the full thrust (see
    /// [`Pack::thrust_share`](super::Pack::thrust_share)); the velocities measured are the true ones.
    #[inline]
    pub fn step(
        &self,
        state: &mut MoverState,
        wish: Wish,
        wind_mps: [f64; 3],
        density_kgpm3: f64,
        thrust_share: f64,
        step_s: f64,
    ) -> MoverNow {
        let v = state.velocity_mps;
        let (demand_mps2, attitude) = match wish {
            Wish::Acceleration(accel) => (accel, None),
            Wish::Attitude { slope, sink_mps } => (self.accel_demand([v[0], v[1], -sink_mps], v), Some(slope)),
        };
        let air = self.air(state.velocity_mps, wind_mps, density_kgpm3);

        // Demand → thrust over mass. Drag is made up for as fast as the attitude follows: the velocity loop's
        // integral part does that in a real craft.
        let up = (G + demand_mps2[2] + air.drag[2]).max(LEAST_THRUST_SHARE * G);
        let (x, y) = match attitude {
            // The velocity loop takes the attitude error out again, so it shows where an attitude is held alone.
            Some(slope) => (up * (slope[0] + self.level_error[0]), up * (slope[1] + self.level_error[1])),
            None => {
                let (x, y) = (demand_mps2[0] + air.drag[0], demand_mps2[1] + air.drag[1]);
                let shrink = shrink_to(x * x + y * y, up * self.tilt_max_tan);
                (shrink * x, shrink * y)
            }
        };
        let follow = lag_share(step_s, self.attitude_lag_s);
        let before = state.accel_mps2;
        let lagged = &mut state.accel_mps2;
        lagged[0] += follow * (x - lagged[0]);
        lagged[1] += follow * (y - lagged[1]);
        lagged[2] += follow * (up - G - lagged[2]);

        // What the rotors can give: height before everything else.
        let mut thrust = [lagged[0], lagged[1], G + lagged[2]];
        let mut total2 = dot(thrust, thrust);
        let inverse_mass = 1.0 / self.mass_kg;
        let full_mps2 =
            self.thrust_max_n * inverse_mass * thrust_share * (density_kgpm3 * (1.0 / PROFILE_DENSITY_KGPM3));
        let along = dot(air.velocity, thrust);
        let vortex_ring = self.in_vortex_ring(air.speed2, along, total2, density_kgpm3);
        let available = if vortex_ring { VORTEX_RING_THRUST_SHARE * full_mps2 } else { full_mps2 };
        if total2 > available * available {
            let up = thrust[2].min(available);
            let room = (available * available - up * up).max(0.0).sqrt();
            let shrink = shrink_to(thrust[0] * thrust[0] + thrust[1] * thrust[1], room);
            thrust = [shrink * thrust[0], shrink * thrust[1], up];
            *lagged = [thrust[0], thrust[1], up - G];
            total2 = dot(thrust, thrust);
        }

        // The mean thrust of the step moves it.
        let old = old_share(step_s, self.attitude_lag_s);
        let after = [thrust[0], thrust[1], thrust[2] - G];
        let mean = plus(after, old, minus(before, after));
        self.move_on(state, mean, &air, wind_mps, step_s);

        let total = total2.sqrt();
        let inverse = if total > 0.0 { 1.0 / total } else { 0.0 };
        let thrust_n = total * self.mass_kg;
        MoverNow {
            thrust_n,
            tilt: if total > 0.0 {
                [thrust[0] * inverse, thrust[1] * inverse, thrust[2] * inverse]
            } else {
                [0.0, 0.0, 1.0]
            },
            throttle: (total / available.max(1e-9)).min(1.0).sqrt(),
            power_w: self.rotors.power_w(thrust_n, air.level_mps, air.velocity[2], density_kgpm3),
            vortex_ring,
        }
    }

    /// Velocity through the air and the drag of it over mass.
    #[inline]
    fn air(&self, velocity_mps: [f64; 3], wind_mps: [f64; 3], density_kgpm3: f64) -> Air {
        let u = [velocity_mps[0] - wind_mps[0], velocity_mps[1] - wind_mps[1], velocity_mps[2] - wind_mps[2]];
        let level2 = u[0] * u[0] + u[1] * u[1];
        let speed2 = level2 + u[2] * u[2];
        let quadratic = 0.5 * density_kgpm3 * self.rotors.drag_area_m2 * (1.0 / self.mass_kg) * speed2.sqrt();
        let level = self.linear_drag_per_s + quadratic;
        Air {
            velocity: u,
            speed2,
            level_mps: level2.sqrt(),
            quadratic,
            drag: [level * u[0], level * u[1], quadratic * u[2]],
        }
    }

    /// Whether the rotors sink through their own wake: `along` is thrust over mass times air velocity.
    #[inline]
    fn in_vortex_ring(&self, speed2: f64, along: f64, total2: f64, density_kgpm3: f64) -> bool {
        if along >= 0.0 {
            return false;
        }
        let axial2 = along * along / total2;
        // v_h⁴ = (T/(2ρA))², so that no root is needed: compare fourth powers.
        let loading = self.mass_kg / (2.0 * density_kgpm3 * self.rotors.disc_area_m2);
        let hover4 = loading * loading * total2;
        const LOW4: f64 = VORTEX_RING.0 * VORTEX_RING.0 * VORTEX_RING.0 * VORTEX_RING.0;
        const HIGH4: f64 = VORTEX_RING.1 * VORTEX_RING.1 * VORTEX_RING.1 * VORTEX_RING.1;
        let axial4 = axial2 * axial2;
        let inplane2 = speed2 - axial2;
        axial4 >= LOW4 * hover4 && axial4 <= HIGH4 * hover4 && inplane2 * inplane2 < hover4
    }

    /// Moves on under an acceleration without drag. Velocity first, then place by the mean of old and new velocity. Drag
    /// is taken half a step on, by its slope against airspeed along the motion (exact for linear drag up to second order).
    #[inline]
    fn move_on(&self, state: &mut MoverState, push: [f64; 3], air: &Air, wind_mps: [f64; 3], step_s: f64) {
        // Ten times the share allowed in a fall: here both ends of the slope are known, and gusts come and go within it.
        if step_s * (self.linear_drag_per_s + 2.0 * air.quadratic) > 10.0 * DRAG_AT_ONCE {
            return self.move_in_pieces(state, push, air, wind_mps, step_s);
        }
        let accel = [push[0] - air.drag[0], push[1] - air.drag[1], push[2] - air.drag[2]];
        let level = 1.0 - 0.5 * step_s * (self.linear_drag_per_s + 2.0 * air.quadratic);
        let upright = 1.0 - step_s * air.quadratic;
        let accel = [level * accel[0], level * accel[1], upright * accel[2]];
        let before = state.velocity_mps;
        state.velocity_mps = plus(before, step_s, accel);
        state.place_m = plus(state.place_m, 0.5 * step_s, plus(before, 1.0, state.velocity_mps));
    }

    /// The same where drag takes the speed away within the step: the midpoint rule in pieces as short as drag asks for.
    #[cold]
    fn move_in_pieces(&self, state: &mut MoverState, push: [f64; 3], air: &Air, wind_mps: [f64; 3], step_s: f64) {
        let mut u = air.velocity;
        // Quadratic drag over mass and the square of the airspeed.
        let k = if air.speed2 > 0.0 { air.quadratic / air.speed2.sqrt() } else { 0.0 };
        let accel = |u: [f64; 3]| {
            let quadratic = k * dot(u, u).sqrt();
            let level = self.linear_drag_per_s + quadratic;
            [push[0] - level * u[0], push[1] - level * u[1], push[2] - quadratic * u[2]]
        };
        let strongest = dot(push, push).sqrt();
        let mut left_s = step_s;
        while left_s > 0.0 {
            let rate = self.linear_drag_per_s + k * dot(u, u).sqrt();
            let whole = piece_s(rate, k * strongest).max(LEAST_PIECE_S);
            let piece = left_s / (left_s / whole).ceil().max(1.0);
            let first = accel(u);
            let middle = plus(u, 0.5 * piece, first);
            let second = accel(middle);
            for i in 0..3 {
                state.place_m[i] += piece * (middle[i] + wind_mps[i]);
                u[i] += piece * second[i];
            }
            left_s = if piece < left_s { left_s - piece } else { 0.0 };
        }
        state.velocity_mps = [u[0] + wind_mps[0], u[1] + wind_mps[1], u[2] + wind_mps[2]];
    }

    /// Level top airspeed that the tilt limit allows, m/s.
    pub fn tilt_limited_mps(&self, density_kgpm3: f64) -> f64 {
        let drag_per_m = super::kinematics::drag_per_m(self.mass_kg, self.rotors.drag_area_m2, density_kgpm3);
        super::kinematics::airspeed_for_drag_mps(G * self.tilt_max_tan, self.linear_drag_per_s, drag_per_m)
    }
}

/// The air as the craft meets it.
struct Air {
    velocity: [f64; 3],
    speed2: f64,
    level_mps: f64,
    /// Quadratic drag over mass and airspeed.
    quadratic: f64,
    drag: [f64; 3],
}

/// Weight of the value before a step in the mean of a first-order lag over it, the value after it having the rest:
/// 1/x − 1/(e^x − 1) with x = Δt/τ; half and half for short steps.
#[inline]
fn old_share(step_s: f64, time_constant_s: f64) -> f64 {
    let x = step_s / time_constant_s;
    if x > 1.0 {
        return 1.0 / x - 1.0 / libm::expm1(x);
    }
    // Power series, within 4e-5.
    0.5 - x * (1.0 / 12.0 - x * x * (1.0 / 720.0))
}

/// Factor ≤ 1 that brings a vector of this squared length down to `most`.
#[inline]
fn shrink_to(length2: f64, most: f64) -> f64 {
    if length2 > most * most { most / length2.sqrt() } else { 1.0 }
}
