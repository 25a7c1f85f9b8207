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
    /// The velocity loop.
    pub velocity_loop: HeldLoop,
    /// Time constant with which attitude and thrust follow.
    pub attitude_lag_s: f64,
    /// Attitude error of this flight as slopes towards east and north: it bends every level attitude.
    pub level_error: [f64; 2],
}

/// A velocity loop whose demand holds over a step, as good as one that never rests.
///
/// The mean velocity of a step is that at its beginning, with `ahead_s` times the acceleration there and `answer_s` times the
/// demand: it is what the demand answers to, and where drag is made up for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldLoop {
    /// Stands for the time constant τ, s: τ itself in a loop that never rests, h/(1 − e^(−h/τ)) − h/2 over steps of h.
    pub lag_s: f64,
    /// How far ahead the velocity is taken along the acceleration at the beginning of the step, s …
    pub ahead_s: f64,
    /// … and along the demand, s.
    pub answer_s: f64,
    /// What the thrust does over a whole step.
    follow: Follow,
}

/// How a thrust follows its demand over a time, as [`lag_share`] and [`old_share`] have it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Follow {
    step_s: f64,
    /// Share of the way that it covers.
    share: f64,
    /// Weight of the thrust before in the mean.
    old: f64,
}

impl Follow {
    fn over(step_s: f64, attitude_lag_s: f64) -> Follow {
        Follow { step_s, share: lag_share(step_s, attitude_lag_s), old: old_share(step_s, attitude_lag_s) }
    }
}

impl HeldLoop {
    /// A loop of a time constant over steps of a length, on a thrust that follows with `attitude_lag_s` > 0.
    ///
    /// # Source
    /// While a demand d holds over a step h, the acceleration a follows it by e^(−t/T), so the mean velocity of the step is
    /// v + h d/2 + h q (a − d) with q = (x − 1 + e^−x)/x², x = h/T. A loop that takes its error from this mean asks for
    /// d = (w − v − h q a)/(τ + h/2 − h q), which is right to second order in h. The τ + h/2 in it is the beginning of
    /// h/(1 − e^(−h/τ)): written so, it is exact without a lag of the thrust, and stays calm for τ shorter than the step.
    pub fn over_steps(velocity_lag_s: f64, attitude_lag_s: f64, step_s: f64) -> HeldLoop {
        let x = step_s / attitude_lag_s;
        // The difference cancels for small x.
        let q = if x < 0.01 { 0.5 - x / 6.0 + x * x / 24.0 } else { (x + libm::expm1(-x)) / (x * x) };
        HeldLoop {
            lag_s: step_s / -libm::expm1(-step_s / velocity_lag_s) - 0.5 * step_s,
            ahead_s: step_s * q,
            answer_s: step_s * (0.5 - q),
            follow: Follow::over(step_s, attitude_lag_s),
        }
    }

    /// A loop that never rests.
    pub fn restless(velocity_lag_s: f64) -> HeldLoop {
        let follow = Follow { step_s: 0.0, share: 0.0, old: 0.0 };
        HeldLoop { lag_s: velocity_lag_s, ahead_s: 0.0, answer_s: 0.0, follow }
    }

    /// Acceleration asked for per error of the speed, 1/s.
    #[inline]
    pub fn gain_per_s(&self) -> f64 {
        1.0 / (self.lag_s + self.answer_s)
    }

    /// The loop of a craft whose idea of north is turned by an angle, given as (cos θ, sin θ): its demand comes out turned by it.
    ///
    /// # Source
    /// In complex numbers d = e^(iθ) (w − v − h q a − (h/2 − h q) d)/τ, so d = (w − v − h q a)/(τ e^(−iθ) + h/2 − h q).
    pub fn turned(&self, turn: [f64; 2]) -> TurnedLoop {
        let [cos, sin] = turn;
        let (real, imaginary) = (self.lag_s * cos + self.answer_s, self.lag_s * sin);
        let inverse = 1.0 / (real * real + imaginary * imaginary);
        TurnedLoop { turn, gain_per_s: [real * inverse, imaginary * inverse] }
    }
}

/// A velocity loop with a wrong idea of north. Pairs are complex numbers: real part, imaginary part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnedLoop {
    /// By how much the demand is turned: a unit vector.
    pub turn: [f64; 2],
    /// Acceleration per error of the speed, 1/s.
    gain_per_s: [f64; 2],
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
        let gain = self.velocity_loop.gain_per_s();
        let level = [gain * (wish_mps[0] - measured_mps[0]), gain * (wish_mps[1] - measured_mps[1])];
        let ([x, y], _) = self.limited(level);
        [x, y, self.climb_demand(wish_mps[2], measured_mps[2])]
    }

    /// The same of a craft with a wrong idea of north; `turned` is of its own loop.
    #[inline]
    pub fn turned_demand(&self, wish_mps: [f64; 3], measured_mps: [f64; 3], turned: &TurnedLoop) -> [f64; 3] {
        let error = [wish_mps[0] - measured_mps[0], wish_mps[1] - measured_mps[1]];
        let (mut level, within) = self.limited(times(turned.gain_per_s, error));
        if !within {
            // At the limit the craft's speed changes less over the step than the loop assumes: the error is taken again with the
            // limited demand.
            let HeldLoop { lag_s, answer_s, .. } = self.velocity_loop;
            let (inverse, left) = (1.0 / lag_s, [error[0] - answer_s * level[0], error[1] - answer_s * level[1]]);
            let [x, y] = times(turned.turn, left);
            (level, _) = self.limited([inverse * x, inverse * y]);
        }
        [level[0], level[1], self.climb_demand(wish_mps[2], measured_mps[2])]
    }

    /// A level acceleration as the limit leaves it, and whether it was within.
    #[inline]
    fn limited(&self, [x, y]: [f64; 2]) -> ([f64; 2], bool) {
        let shrink = shrink_to(x * x + y * y, self.accel_max_mps2);
        ([shrink * x, shrink * y], shrink >= 1.0)
    }

    #[inline]
    fn climb_demand(&self, wish_mps: f64, measured_mps: f64) -> f64 {
        let climb_mps = wish_mps.clamp(-self.descent_max_mps, self.climb_max_mps);
        let demand = self.velocity_loop.gain_per_s() * (climb_mps - measured_mps);
        demand.clamp(-self.accel_max_mps2, self.accel_max_mps2)
    }

    /// The velocity a little later, along the acceleration that it has now: what a held loop measures.
    #[inline]
    pub fn ahead_mps(&self, state: &MoverState, wind_mps: [f64; 3], density_kgpm3: f64) -> [f64; 3] {
        let drag = self.air(state.velocity_mps, wind_mps, density_kgpm3).drag;
        plus(state.velocity_mps, self.velocity_loop.ahead_s, minus(state.accel_mps2, drag))
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
        let HeldLoop { ahead_s, answer_s, .. } = self.velocity_loop;
        let gains = |axis: usize| ahead_s * (state.accel_mps2[axis] - air.drag[axis]) + answer_s * demand_mps2[axis];
        // Slope of drag against airspeed, reduced where drag is so strong that the speed settles within the step. 0.25 lies between what
        // matching to third order gives for a thrust slower than the step (0.33) and one as fast (0.23).
        let less = |slope_per_s: f64| slope_per_s / (1.0 + 0.25 * step_s * slope_per_s);
        let drag = |axis: usize, slope_per_s: f64| air.drag[axis] + slope_per_s * gains(axis);
        let (level_slope, upright_slope) =
            (less(self.linear_drag_per_s + 2.0 * air.quadratic), less(2.0 * air.quadratic));
        let up = (G + demand_mps2[2] + drag(2, upright_slope)).max(LEAST_THRUST_SHARE * G);
        let (x, y) = match attitude {
            // The velocity loop takes the attitude error out again, so it shows where an attitude is held alone.
            Some(slope) => (up * (slope[0] + self.level_error[0]), up * (slope[1] + self.level_error[1])),
            None => {
                let (x, y) = (demand_mps2[0] + drag(0, level_slope), demand_mps2[1] + drag(1, level_slope));
                let shrink = shrink_to(x * x + y * y, up * self.tilt_max_tan);
                (shrink * x, shrink * y)
            }
        };
        let follow = match self.velocity_loop.follow {
            whole if whole.step_s == step_s => whole,
            _ => Follow::over(step_s, self.attitude_lag_s),
        };
        let before = state.accel_mps2;
        let lagged = &mut state.accel_mps2;
        lagged[0] += follow.share * (x - lagged[0]);
        lagged[1] += follow.share * (y - lagged[1]);
        lagged[2] += follow.share * (up - G - lagged[2]);

        // What the rotors can give: height before everything else.
        let mut thrust = [lagged[0], lagged[1], G + lagged[2]];
        let mut total2 = dot(thrust, thrust);
        let inverse_mass = 1.0 / self.mass_kg;
        let full_mps2 =
            self.thrust_max_n * inverse_mass * thrust_share * (density_kgpm3 * (1.0 / PROFILE_DENSITY_KGPM3));
        let vortex_ring = self.in_vortex_ring(&air, before, *lagged, density_kgpm3, step_s);
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
        let after = [thrust[0], thrust[1], thrust[2] - G];
        let mean = plus(after, follow.old, minus(before, after));
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

    /// Whether the rotors sink through their own wake in the middle of a step, over which the thrust goes `from` .. `to`.
    #[inline]
    fn in_vortex_ring(&self, air: &Air, from: [f64; 3], to: [f64; 3], density_kgpm3: f64, step_s: f64) -> bool {
        let thrust = [0.5 * (from[0] + to[0]), 0.5 * (from[1] + to[1]), G + 0.5 * (from[2] + to[2])];
        let push = [thrust[0] - air.drag[0], thrust[1] - air.drag[1], thrust[2] - G - air.drag[2]];
        // Where drag takes the speed within the step, it gains less than along the slope at its beginning.
        let half_s = 0.5 * step_s;
        let half_s = half_s / (1.0 + half_s * (self.linear_drag_per_s + 2.0 * air.quadratic));
        let velocity = plus(air.velocity, half_s, push);
        let along = dot(velocity, thrust);
        if along >= 0.0 {
            return false;
        }
        let (speed2, total2) = (dot(velocity, velocity), dot(thrust, thrust));
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

/// Product of two complex numbers.
#[inline(always)]
fn times(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]]
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
