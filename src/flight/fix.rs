//! The craft's sense of place in flight: position fix, home point, heading, height.
//!
//! All errors are *believed minus true*. Every draw is keyed by (purpose, flight, solution), so that the branches of one flight meet
//! the same luck. Errors are unit processes scaled by what the sky field offers where the craft is and by a factor of the flight: when
//! the geometry worsens, the error it already has grows with it. Jumps, which no geometry explains, come on top.

use super::kept::{FixDraws, OfSlow, OfSolution};
use super::{Drawn, FlightDraws};
use crate::chance::{Purpose, Source};
use crate::craft::battery::lag_share;
use crate::radio::maths::nearest_whole;
use crate::sky::{Start, course_sigma_rad, first_fix_time_s, static_port_error_m};
use crate::units::wrap_pi;
use crate::world::{FixSetup, REFERENCE_TILT_RAD, SkyField, SkyNow};
use libm::{cos, exp, log, sin};
use std::f64::consts::TAU;

/// Memory of the fast part at rest; in motion multipath decorrelates over [`FAST_DISTANCE_M`].
///
/// # Source
/// Computed from open records of standing receivers: the structure function bends between 30 and 60 s, and rises on.
const FAST_MEMORY_S: f64 = 45.0;
/// See [`FAST_MEMORY_S`]. Estimate.
const FAST_DISTANCE_M: f64 = 3.0;

/// Jumps that came before take-off count back over so many of their memories: what is left of an older one is under a hundredth.
const JUMP_MEMORIES: f64 = 5.0;

/// A jump's part in height against its length on the ground, 1 sigma: heights err half again as much. Estimate.
const JUMP_UP: f64 = 1.5;

/// First block of the jumps before take-off in the stream of the fix.
const EARLIER_JUMPS: u32 = 64;

/// The error shortly after a first fix is this many times larger … (estimate: 20–60 s from first to good fix)
const SETTLING_FACTOR: f64 = 2.0;
/// … and settles with this time constant.
const SETTLING_S: f64 = 20.0;

/// Without a solution the receiver coasts so long before the fix is gone (estimate).
const COAST_S: f64 = 1.0;

/// One sigma of the velocity under an open sky, horizontal (estimate: 0.05–0.1 m/s), up to three times that with poor geometry.
const VELOCITY_SIGMA_MPS: f64 = 0.07;
/// HDOP of an open sky to which that belongs.
const VELOCITY_HDOP: f64 = 0.8;

/// Wander of the heading about its bias, 1 sigma (estimate).
const HEADING_WANDER_RAD: f64 = 1.0 * std::f64::consts::PI / 180.0;
/// Course over ground corrects the heading above this speed (estimate).
const ALIGN_ABOVE_MPS: f64 = 2.0;
/// Pressure coefficient of a sensor inside the shell: a third of the free suction of −0.3 (estimate).
const PORT_COEFFICIENT: f64 = -0.1;

/// Longest wait on the ground for a good enough fix before the pilot gives up. Estimate.
const LONGEST_WAIT_S: f64 = 1_800.0;

/// Fewest satellites of a solution.
const FEWEST: f64 = 4.0;

impl FixSetup {
    /// The state at take-off of one flight: start within the window, wait on the ground, first fix, home point.
    pub fn begin(&self, sky: &SkyField, draws: &FlightDraws, drawn: &Drawn) -> FixState {
        let (fix, heading, flight) = (draws.streams.of(Purpose::Fix), draws.streams.of(Purpose::Heading), draws.flight);
        let [when, patience] = fix.units(flight, 0, 8);
        let [slow_e, slow_n, slow_u, _] = fix.normals(flight, 0, 9);
        let [fast_e, fast_n, fast_u, _] = fix.normals(flight, 0, 10);
        let [mounted, _] = heading.units(flight, 0, 8);
        let [model, wander, course, _] = heading.normals(flight, 0, 9);
        let first_fix_s = first_fix_time_s(self.start, patience) - drawn.sky.powered_before_s.max(0.0);
        let level = sky.level_of(drawn.sky.own_noise_db);
        let declination_rad = if self.declination_applied { 0.0 } else { -self.declination_rad };
        let mut state = FixState {
            level,
            start_s: when * self.window_s.max(0.0),
            first_fix_s,
            fixed_since_s: f64::NAN,
            outage_up: true,
            fix: false,
            bad_s: 0.0,
            good_s: 0.0,
            regain_s: 0.0,
            slow: [slow_e, slow_n, slow_u],
            fast: [fast_e, fast_n, fast_u],
            jump_m: self.earlier_jumps(fix, flight),
            factor: drawn.sky.error_factor,
            sigma_m: [0.0; 3],
            set: 0,
            satellites: 0,
            home_error_m: None,
            heading_constant_rad: drawn.sky.heading_bias_deg.to_radians()
                + declination_rad
                + self.declination_sigma_rad * model,
            heading_throttle_rad: self.throttle_rad * cos(TAU * mounted),
            wander,
            course,
            correction_rad: 0.0,
            walk_m: 0.0,
            tendency_m_per_s: -drawn.weather.tendency_pa_per_h / 3600.0 * self.slope_m_per_pa,
            scale: self.isa_k / (drawn.weather.temperature_c + 273.15) - 1.0,
            take_off: TakeOff { waited_s: 0.0, guard_met: true },
            now: FixNow {
                fix: false,
                satellites: 0,
                hdop: f64::INFINITY,
                place_error_m: [0.0; 3],
                velocity_error_mps: [0.0; 3],
                heading_error_rad: 0.0,
                height_error_m: 0.0,
            },
        };
        self.wait(sky, &mut state);
        let here = sky.at_level(level, state.start_s, self.home_m);
        if state.first_fix_s <= 0.0 && here.has_solution() && f64::from(here.satellites) >= FEWEST {
            state.fix = true;
            state.fixed_since_s = state.first_fix_s;
        }
        (state.set, state.satellites) = (here.satellites, u32::from(here.satellites));
        state.solve(self, &here, 0.0, [0.0; 3], 1.0);
        state.capture_home(self.home_m, self.home_m);
        state.now.heading_error_rad = wrap_pi(state.heading_constant_rad + HEADING_WANDER_RAD * state.wander);
        state
    }

    /// What is left at take-off of the jumps before it.
    fn earlier_jumps(&self, fix: &Source, flight: u32) -> [f64; 3] {
        let mut left_m = [0.0; 3];
        let mut age_s = 0.0;
        for block in (EARLIER_JUMPS..).step_by(2) {
            age_s -= log(1.0 - fix.units(flight, 0, block)[0]) / self.jumps_per_s;
            // No jumps at all make the first age infinite.
            if age_s >= JUMP_MEMORIES * self.jump_for_s || !age_s.is_finite() {
                break;
            }
            let jump_m = self.jump(fix, flight, 0, block + 1);
            let kept = exp(-age_s / self.jump_for_s);
            for (left, part) in left_m.iter_mut().zip(jump_m) {
                *left += kept * part;
            }
        }
        left_m
    }

    /// One jump: east, north, up.
    fn jump(&self, fix: &Source, flight: u32, number: u32, block: u32) -> [f64; 3] {
        let [length, _] = fix.units(flight, number, block);
        let [_, _, way, up] = fix.words(flight, number, block);
        let (length_m, way_rad) = (self.jump_m.quantile(length), TAU * unit(way));
        let [a, b, _, _] = up.to_le_bytes();
        [length_m * cos(way_rad), length_m * sin(way_rad), JUMP_UP * length_m * triangular([a, b])]
    }

    /// The pilot waits for the first fix and for the guard, unless he takes off without.
    fn wait(&self, sky: &SkyField, state: &mut FixState) {
        if self.without_fix {
            return;
        }
        let good = |wait_s: f64| {
            let here = sky.at_level(state.level, state.start_s + wait_s, self.home_m);
            self.guard.passes(u32::from(here.satellites), f64::from(here.hdop))
        };
        let mut wait_s = state.first_fix_s.max(0.0);
        while !good(wait_s) && wait_s < LONGEST_WAIT_S {
            wait_s += 10.0;
        }
        state.take_off = TakeOff { waited_s: wait_s, guard_met: good(wait_s) };
        state.start_s += wait_s;
        state.first_fix_s -= wait_s;
    }
}

/// What happened before take-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakeOff {
    /// Wait for the fix on the ground.
    pub waited_s: f64,
    /// Whether the satellites and HDOP asked for were there in the end; else a careful pilot does not take off.
    pub guard_met: bool,
}

/// What the craft knows at one moment, as errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixNow {
    /// Whether there is a position fix.
    pub fix: bool,
    /// Satellites tracked.
    pub satellites: u32,
    /// HDOP; infinite without a solution.
    pub hdop: f64,
    /// Believed minus true place: east, north, up. Without a fix, the last one it had.
    pub place_error_m: [f64; 3],
    /// Believed minus true velocity: east, north, up.
    pub velocity_error_mps: [f64; 3],
    /// Believed minus true heading, rad, clockwise positive.
    pub heading_error_rad: f64,
    /// Believed minus true height above the take-off spot, from pressure.
    pub height_error_m: f64,
}

/// The craft at one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixMoment {
    /// Steps since take-off: the count that draws are keyed by.
    pub step: u32,
    /// Time since take-off, s.
    pub time_s: f64,
    /// True place: x, y, z in local metres.
    pub place_m: [f64; 3],
    /// True velocity over ground: east, north, up, m/s.
    pub velocity_mps: [f64; 3],
    /// Speed through the air, m/s, for the error of the static pressure.
    pub airspeed_mps: f64,
    /// Throttle, 0 to 1.
    pub throttle: f64,
    /// Tilt from level, rad: it turns the antenna away from the sky.
    pub tilt_rad: f64,
}

/// The sense of place of one flight: plain data, copied for each branch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixState {
    level: usize,
    start_s: f64,
    first_fix_s: f64,
    fixed_since_s: f64,
    outage_up: bool,
    fix: bool,
    bad_s: f64,
    good_s: f64,
    regain_s: f64,
    slow: [f64; 3],
    fast: [f64; 3],
    jump_m: [f64; 3],
    factor: f64,
    sigma_m: [f64; 3],
    set: u8,
    satellites: u32,
    home_error_m: Option<[f64; 2]>,
    heading_constant_rad: f64,
    heading_throttle_rad: f64,
    wander: f64,
    course: f64,
    correction_rad: f64,
    walk_m: f64,
    tendency_m_per_s: f64,
    scale: f64,
    take_off: TakeOff,
    now: FixNow,
}

impl FixState {
    /// One step of flight. Steps must follow each other; between the receiver's solutions the last one is returned.
    #[inline]
    pub fn step(&mut self, setup: &FixSetup, sky: &SkyField, draws: &FixDraws, at: &FixMoment) -> FixNow {
        if setup.is_due(at.step) {
            self.solution(setup, sky, draws, at);
        }
        self.now
    }

    fn solution(&mut self, setup: &FixSetup, sky: &SkyField, drawn: &FixDraws, at: &FixMoment) {
        let draws = &drawn.draws;
        let (fix, flight) = (draws.streams.of(Purpose::Fix), draws.flight);
        // Draws are keyed by the number of the solution: the same at the same time, whatever step divides it.
        let number = at.step / setup.per_solution;
        if at.step.is_multiple_of(setup.per_slow) {
            self.slow_step(setup, &drawn.of_slow(at.step / setup.per_slow));
        }
        let here = sky.at_level(self.level, self.start_s + at.time_s, at.place_m);
        let Tilted { tracked, spread } = Tilted::of(&here, at.tilt_rad);
        let OfSolution { normals, white, velocity, jump, outage } = drawn.of_solution(number);
        self.outage_up = setup.outage.next(self.outage_up, unit(outage));
        self.hold_or_lose(setup, fix, flight, at, here.has_solution() && tracked >= FEWEST, here.reacquire);

        // A change of the set shifts the fix: then the fast part keeps at most four fifths of itself.
        let [vx, vy, vz] = at.velocity_mps;
        let speed_mps = (vx * vx + vy * vy + vz * vz).sqrt();
        let memory_s = (FAST_DISTANCE_M / speed_mps.max(0.1)).min(FAST_MEMORY_S);
        let kept =
            (1.0 - lag_share(setup.solution_s, memory_s)).min(if here.satellites == self.set { 1.0 } else { 0.8 });
        let added = (1.0 - kept * kept).sqrt();
        for (value, normal) in self.fast.iter_mut().zip(normals) {
            *value = kept * *value + added * normal;
        }
        (self.set, self.satellites) = (here.satellites, tracked as u32);
        // Jumps come at times of their own and go as they fade.
        for part in &mut self.jump_m {
            *part *= setup.jump_kept;
        }
        if u64::from(jump) < setup.jump_below {
            for (part, more) in self.jump_m.iter_mut().zip(setup.jump(fix, flight, number, 5)) {
                *part += more;
            }
        }
        self.solve(setup, &here, at.time_s, white.map(triangular), spread);
        let sigma_v = VELOCITY_SIGMA_MPS * (self.now.hdop / VELOCITY_HDOP).clamp(1.0, 3.0);
        let [east, north, up] = velocity.map(triangular);
        self.now.velocity_error_mps = [sigma_v * east, sigma_v * north, 1.5 * sigma_v * up];
        self.capture_home(setup.home_m, at.place_m);
        self.turn(setup, at, (vx * vx + vy * vy).sqrt(), sigma_v);
        let height_m = at.place_m[2] - setup.home_m[2];
        self.now.height_error_m = self.walk_m
            + self.tendency_m_per_s * at.time_s
            + self.scale * height_m
            + static_port_error_m(at.airspeed_mps, PORT_COEFFICIENT);
    }

    /// The slow parts: position, heading, barometer.
    fn slow_step(&mut self, setup: &FixSetup, draws: &OfSlow) {
        for (value, normal) in self.slow.iter_mut().zip(draws.place) {
            *value = setup.slow.next(*value, normal);
        }
        let [wander, course, walk] = draws.rest;
        self.wander = setup.wander.next(self.wander, wander);
        self.course = setup.course.next(self.course, course);
        self.walk_m += setup.walk_m * walk;
    }

    /// Keeps, loses or regains the fix, with different conditions for losing and regaining.
    fn hold_or_lose(
        &mut self,
        setup: &FixSetup,
        fix: &Source,
        flight: u32,
        at: &FixMoment,
        solution: bool,
        reacquire: bool,
    ) {
        if self.fix {
            self.bad_s = if solution && self.outage_up { 0.0 } else { self.bad_s + setup.solution_s };
            if self.bad_s > COAST_S {
                self.fix = false;
                self.good_s = 0.0;
            }
            return;
        }
        if at.time_s < self.first_fix_s || !solution || !reacquire || !self.outage_up {
            self.good_s = 0.0;
            return;
        }
        if self.good_s == 0.0 {
            // A first fix comes when it is due; a lost one after a delay of its own.
            self.regain_s = if self.fixed_since_s.is_nan() {
                0.0
            } else {
                first_fix_time_s(Start::Hot, fix.units(flight, at.step / setup.per_solution, 4)[0])
            };
        }
        self.good_s += setup.solution_s;
        if self.good_s > self.regain_s {
            self.fix = true;
            self.bad_s = 0.0;
            if self.fixed_since_s.is_nan() {
                self.fixed_since_s = at.time_s;
            }
        }
    }

    /// The position error from its unit parts and what the sky offers.
    #[inline]
    fn solve(&mut self, setup: &FixSetup, here: &SkyNow, time_s: f64, white: [f64; 3], spread: f64) {
        if here.has_solution() {
            let factor = self.factor * spread;
            let sigma_m = |of_sky_m: f32| factor * f64::from(of_sky_m);
            self.sigma_m = [sigma_m(here.sigma_east_m), sigma_m(here.sigma_north_m), sigma_m(here.sigma_up_m)];
        }
        self.now.fix = self.fix;
        self.now.satellites = self.satellites;
        self.now.hdop = f64::from(here.hdop) * spread;
        if self.fix {
            let age_s = time_s - self.fixed_since_s;
            let settling =
                if age_s < 10.0 * SETTLING_S { 1.0 + SETTLING_FACTOR * exp(-age_s / SETTLING_S) } else { 1.0 };
            let [slow, fast, rest] = setup.amplitude;
            for (axis, error_m) in self.now.place_error_m.iter_mut().enumerate() {
                let share = slow * self.slow[axis] + fast * self.fast[axis] + rest * white[axis];
                *error_m = self.sigma_m[axis] * settling * share + self.jump_m[axis];
            }
        }
    }

    /// Stores the home point when there is a fix and none is stored: the place where the craft believes to be.
    fn capture_home(&mut self, home_m: [f64; 3], place_m: [f64; 3]) {
        if self.fix && self.home_error_m.is_none() {
            let e = self.now.place_error_m;
            self.home_error_m = Some([place_m[0] + e[0] - home_m[0], place_m[1] + e[1] - home_m[1]]);
        }
    }

    /// The heading error: constant, wandering and with the motors' current, less what the course has corrected.
    fn turn(&mut self, setup: &FixSetup, at: &FixMoment, ground_speed_mps: f64, sigma_v_mps: f64) {
        let raw =
            self.heading_constant_rad + HEADING_WANDER_RAD * self.wander + self.heading_throttle_rad * at.throttle;
        if setup.course_alignment && self.fix && ground_speed_mps > ALIGN_ABOVE_MPS {
            let course = course_sigma_rad(sigma_v_mps, ground_speed_mps) * self.course;
            self.correction_rad += setup.align_gain * wrap_pi(raw - course - self.correction_rad);
        }
        self.now.heading_error_rad = wrap_pi(raw - self.correction_rad);
    }

    /// What the last step gave.
    #[inline]
    pub fn now(&self) -> FixNow {
        self.now
    }

    /// Stored minus true home point, east and north; `None` as long as none is stored.
    #[inline]
    pub fn home_error_m(&self) -> Option<[f64; 2]> {
        self.home_error_m
    }

    /// What happened before take-off.
    pub fn take_off(&self) -> TakeOff {
        self.take_off
    }

    /// Start of the flight within the window, after waiting.
    pub fn start_s(&self) -> f64 {
        self.start_s
    }
}

/// What is left of the sky when the antenna tilts.
struct Tilted {
    /// Satellites tracked.
    tracked: f64,
    /// Growth of the errors, as a factor.
    spread: f64,
}

impl Tilted {
    /// The tabulated loss, in proportion to the tilt up to twice the tabulated angle; the errors grow as with fewer satellites of
    /// the same quality.
    #[inline]
    fn of(here: &SkyNow, tilt_rad: f64) -> Tilted {
        let all = f64::from(here.satellites);
        let lost = f64::from(here.lost_by_tilt) * (tilt_rad.abs() / REFERENCE_TILT_RAD).min(2.0);
        let tracked = nearest_whole((all - lost).max(0.0)) as f64;
        let spread = if lost < 0.5 || tracked < 1.0 { 1.0 } else { (all / tracked).sqrt() };
        Tilted { tracked, spread }
    }
}

#[inline]
fn unit(word: u32) -> f64 {
    f64::from(word) * (1.0 / 4_294_967_296.0)
}

/// A number of unit variance from two random bytes: triangular, for errors whose shape does not matter.
#[inline]
fn triangular([a, b]: [u8; 2]) -> f64 {
    // The sum of two numbers each of 0 to 255 has variance 2 (256² − 1)/12, and mean 255.
    const SCALE: f64 = 0.009_568_392_309_065_22;
    (f64::from(u16::from(a) + u16::from(b)) - 255.0) * SCALE
}
