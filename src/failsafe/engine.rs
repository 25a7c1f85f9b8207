//! Runs a policy: one observation in, one demand out, each step.

use super::policy::{Action, ActionKind, Fallback, Guards, HeightFrom, Policy, ReturnHeight};
use crate::geometry::distance_m;
use crate::units::SAME_MOMENT_S;

/// How long a fix may be missing before an action that needs it is given up. Estimate: short drop-outs
/// are bridged, a craft without a position for longer must not fly on by it.
pub const FIX_GRACE_S: f64 = 2.0;

/// A return counts as at its height within this. Estimate: about the noise of a barometer.
const HEIGHT_BAND_M: f64 = 1.0;

/// Product of the position loop's gain and the velocity loop's time constant that gives a damping ratio of
/// 0.7: ζ = 1/(2 √(k τ)).
pub const POSITION_GAIN_TIMES_LAG: f64 = 0.51;

/// Greatest speed over ground near the ground: who lands does not chase a point. Estimate: less than a soft touch-down
/// stands, see `craft.soft_touch_mps`.
pub const NEAR_GROUND_MPS: f64 = 1.0;

/// Samples of the distance home kept for the progress guard.
const PROGRESS_SAMPLES: usize = 8;

/// What the craft believes: never the truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Time.
    pub time_s: f64,
    /// A position fix is there.
    pub fix: bool,
    /// Satellites in it.
    pub satellites: u32,
    /// Its HDOP.
    pub hdop: f64,
    /// Believed place, local metres; meaningless without a fix.
    pub place_m: [f64; 2],
    /// Believed place in the middle of the time over which the answer holds.
    pub middle_m: [f64; 2],
    /// Believed speed over ground; meaningless without a fix.
    pub velocity_mps: [f64; 2],
    /// Believed home point; `None`: never recorded.
    pub home_m: Option<[f64; 2]>,
    /// Believed height above the take-off spot.
    pub height_m: f64,
    /// The same in the middle of the time over which the answer holds.
    pub middle_height_m: f64,
    /// Highest believed height so far.
    pub highest_m: f64,
    /// Ground below, above the take-off spot, by the terrain table on board: what a way home above the ground follows.
    pub terrain_m: f64,
    /// Height above what is below, as a sensor that looks down measures it; `None`: out of its range, or there is none.
    pub above_ground_m: Option<f64>,
    /// Distance to the fence, negative outside; `None`: nobody asked, or no fix.
    pub fence: Option<FenceRoom>,
    /// State of charge, per cent.
    pub charge_pct: f64,
    /// The pack demands a landing.
    pub must_land: bool,
    /// The last command that came through from the pilot.
    pub command: Command,
}

/// Room to the fence, negative outside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FenceRoom {
    /// Where the craft believes to be.
    pub here_m: f64,
    /// Where it would come to a stop.
    pub stopping_m: f64,
}

/// A command by the sticks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Command {
    /// Horizontal part.
    pub horizontal: Horizontal,
    /// Vertical speed, up positive.
    pub climb_mps: f64,
}

impl Command {
    /// Sticks centred: keep the place.
    pub fn still() -> Command {
        Command { horizontal: Horizontal::Velocity([0.0, 0.0]), climb_mps: 0.0 }
    }
}

/// What the craft can do, as the policy counts on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Speed over ground aimed for when a policy names none.
    pub cruise_mps: f64,
    /// Climb speed.
    pub climb_mps: f64,
    /// Descent speed.
    pub descent_mps: f64,
    /// Descent speed near the ground.
    pub final_descent_mps: f64,
    /// Height below which it comes down at that speed.
    pub slow_below_m: f64,
    /// Braking.
    pub accel_mps2: f64,
    /// Time constant of the velocity loop.
    pub velocity_lag_s: f64,
}

/// What is being done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// Holding.
    Hold,
    /// On the way home: climbing or flying.
    Return,
    /// Coming down.
    Land,
    /// Motors stopped.
    Drop,
    /// Flying on by the last commands.
    CarryOn,
}

/// Horizontal part of a demand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Horizontal {
    /// This speed over ground, in the craft's own idea of north and east.
    Velocity([f64; 2]),
    /// Level attitude: drifts with the wind.
    Level,
    /// This attitude: slopes of the thrust towards true east and north.
    Tilt([f64; 2]),
}

/// What the craft shall do now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Demand {
    /// What it is doing.
    pub act: Act,
    /// Horizontal part.
    pub horizontal: Horizontal,
    /// Vertical speed, up positive.
    pub climb_mps: f64,
    /// Motors run.
    pub motors: bool,
}

/// Phase of a return.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Leg {
    Climb,
    Transit,
    Descend,
}

/// Why an action was given up, with the value that decided.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GivenUp {
    /// No home point was ever recorded.
    NoHome,
    /// No position fix for longer than is bridged.
    NoFix,
    /// Too few satellites or too poor a geometry.
    PoorFix {
        /// Satellites.
        satellites: u32,
        /// HDOP.
        hdop: f64,
    },
    /// Home came no closer.
    Progress {
        /// Speed at which it came closer.
        closing_mps: f64,
    },
    /// The charge guard.
    Charge {
        /// Charge left.
        charge_pct: f64,
    },
    /// The action took too long.
    Time {
        /// How long.
        taken_s: f64,
    },
    /// The fence ahead.
    Fence {
        /// Room left.
        room_m: f64,
    },
    /// The pack demanded a landing.
    Pack {
        /// Charge left.
        charge_pct: f64,
    },
}

impl GivenUp {
    /// The reason in words, with the value.
    pub fn in_words(&self) -> String {
        match self {
            GivenUp::NoHome => "no home point was recorded".into(),
            GivenUp::NoFix => format!("no position fix for {FIX_GRACE_S} s"),
            GivenUp::PoorFix { satellites, hdop } if hdop.is_finite() => {
                format!("{satellites} satellites, HDOP {hdop:.1}")
            }
            GivenUp::PoorFix { satellites, .. } => format!("{satellites} satellites, no solution"),
            GivenUp::Progress { closing_mps } if *closing_mps < 0.0 => {
                format!("home moved away at {:.1} m/s", -closing_mps)
            }
            GivenUp::Progress { closing_mps } => format!("home came closer at only {closing_mps:.1} m/s"),
            GivenUp::Charge { charge_pct } => format!("{charge_pct:.0} % of charge left"),
            GivenUp::Time { taken_s } => format!("{taken_s:.0} s taken"),
            GivenUp::Fence { room_m } => format!("{room_m:.0} m to the fence"),
            GivenUp::Pack { charge_pct } => format!("the pack demands a landing at {charge_pct:.0} % of charge"),
        }
    }

    /// Whether a fix that comes back takes the reason away.
    fn is_of_the_fix(&self) -> bool {
        matches!(self, GivenUp::NoFix | GivenUp::PoorFix { .. })
    }
}

/// A policy under way.
#[derive(Debug, Clone, Copy)]
pub struct Engine {
    action: usize,
    fallen_back: Option<Fallback>,
    given_up: Option<GivenUp>,
    /// How often an action was given up, and how often one was taken up again.
    times_given_up: u32,
    times_taken_up: u32,
    good_since_s: f64,
    entered_s: f64,
    /// Height at which the action began.
    entered_at_m: f64,
    leg: Leg,
    level_m: f64,
    hold_m: Option<[f64; 2]>,
    last_fix_s: f64,
    last_good_s: f64,
    samples: [(f64, f64); PROGRESS_SAMPLES],
    sampled: usize,
    next_sample_s: f64,
}

impl Engine {
    /// The policy begins: the link has been declared lost.
    pub fn start(policy: &Policy, seen: &Observation) -> Engine {
        let mut engine = Engine {
            action: 0,
            fallen_back: None,
            given_up: None,
            times_given_up: 0,
            times_taken_up: 0,
            good_since_s: f64::INFINITY,
            entered_s: seen.time_s,
            entered_at_m: seen.height_m,
            leg: Leg::Climb,
            level_m: seen.height_m,
            hold_m: None,
            last_fix_s: if seen.fix { seen.time_s } else { f64::NEG_INFINITY },
            last_good_s: f64::NEG_INFINITY,
            samples: [(0.0, 0.0); PROGRESS_SAMPLES],
            sampled: 0,
            next_sample_s: f64::INFINITY,
        };
        engine.enter(policy, seen);
        engine
    }

    /// Whether a guard ever failed or an action was impossible.
    pub fn fell_back(&self) -> bool {
        self.times_given_up > 0
    }

    /// Why an action was last given up, and how often one was.
    pub fn given_up(&self) -> (Option<GivenUp>, u32) {
        (self.given_up, self.times_given_up)
    }

    /// How often an action was taken up again after a landing for want of a fix had begun.
    pub fn taken_up(&self) -> u32 {
        self.times_taken_up
    }

    /// One step: checks guards, moves along the chain, says what to do.
    pub fn step(&mut self, policy: &Policy, limits: &Limits, seen: &Observation) -> Demand {
        if seen.fix {
            self.last_fix_s = seen.time_s;
            if self.hold_m.is_none() {
                self.hold_m = Some(seen.place_m);
            }
        }
        // Each pass either answers or moves on along the chain, but for one in which an action is taken up again.
        for _ in 0..=policy.actions.len() + 1 {
            if let Some(fallback) = self.fallen_back {
                if fallback == Fallback::Land && self.may_take_up_again(&policy.actions[self.action], limits, seen) {
                    self.fallen_back = None;
                    self.times_taken_up += 1;
                    self.enter(policy, seen);
                    continue;
                }
                return match fallback {
                    Fallback::Drop => DROP,
                    _ => self.land(limits, seen, None),
                };
            }
            let action = &policy.actions[self.action];
            if seen.must_land && !matches!(action.kind, ActionKind::Drop) {
                self.fall_back(policy, seen, Fallback::Land, GivenUp::Pack { charge_pct: seen.charge_pct });
                continue;
            }
            if let Some(why) = self.failing_guard(&action.guards, &action.kind, seen) {
                self.fall_back(policy, seen, action.otherwise, why);
                continue;
            }
            match &action.kind {
                ActionKind::Drop => return DROP,
                ActionKind::Land { sink_mps } => return self.land(limits, seen, *sink_mps),
                ActionKind::Hold { for_s } => {
                    if self.lasted(seen, *for_s) {
                        self.action += 1;
                        self.enter(policy, seen);
                        continue;
                    }
                    return Demand {
                        act: Act::Hold,
                        horizontal: self.stay(limits, seen, limits.cruise_mps),
                        climb_mps: climb_to(self.level_m, limits, seen),
                        motors: true,
                    };
                }
                ActionKind::CarryOn { for_s } => {
                    if for_s.is_some_and(|for_s| self.lasted(seen, for_s)) {
                        self.action += 1;
                        self.enter(policy, seen);
                        continue;
                    }
                    let Command { horizontal, climb_mps } = seen.command;
                    return Demand { act: Act::CarryOn, horizontal, climb_mps, motors: true };
                }
                ActionKind::Return { height, speed_mps, home_circle_m, climbs_before, .. } => {
                    let bridged = seen.time_s - self.last_fix_s <= FIX_GRACE_S;
                    let Some(home_m) = seen.home_m.filter(|_| bridged) else {
                        let why = if seen.home_m.is_none() { GivenUp::NoHome } else { GivenUp::NoFix };
                        self.fall_back(policy, seen, action.otherwise, why);
                        continue;
                    };
                    let speed = speed_mps.unwrap_or(limits.cruise_mps);
                    return self.go_home(limits, seen, home_m, *height, speed, *home_circle_m, *climbs_before);
                }
            }
        }
        // Not reached with a checked policy; coming down is the harmless answer.
        self.land(limits, seen, None)
    }

    /// Whether the action has been under way for a time. One of whole steps takes as many, whenever it begins.
    fn lasted(&self, seen: &Observation, for_s: f64) -> bool {
        seen.time_s - self.entered_s >= for_s - SAME_MOMENT_S
    }

    /// When the action under way has lasted for as long as it shall; infinite when it is not for a time.
    #[inline]
    pub fn ends_s(&self, policy: &Policy) -> f64 {
        match policy.actions.get(self.action).map(|action| &action.kind) {
            Some(ActionKind::Hold { for_s } | ActionKind::CarryOn { for_s: Some(for_s) })
                if self.fallen_back.is_none() =>
            {
                self.entered_s + for_s
            }
            _ => f64::INFINITY,
        }
    }

    /// Sets up the current action.
    fn enter(&mut self, policy: &Policy, seen: &Observation) {
        self.entered_s = seen.time_s;
        self.hold_m = seen.fix.then_some(seen.place_m);
        self.level_m = seen.height_m;
        self.sampled = 0;
        self.next_sample_s = f64::INFINITY;
        if let Some(ActionKind::Return { height, climbs_before, home_circle_m, level_within_m, .. }) =
            policy.actions.get(self.action).map(|action| &action.kind)
        {
            self.entered_at_m = seen.height_m;
            self.level_m = height.level_m(seen.height_m, 0.0, seen.highest_m, seen.terrain_m);
            let within =
                |radius_m: f64| seen.home_m.is_some_and(|home| seen.fix && distance_m(home, seen.place_m) <= radius_m);
            if within(*level_within_m) {
                self.level_m = self.level_m.min(seen.height_m);
            }
            self.leg = if within(*home_circle_m) {
                Leg::Descend
            } else if *climbs_before {
                Leg::Climb
            } else {
                Leg::Transit
            };
        }
    }

    fn fall_back(&mut self, policy: &Policy, seen: &Observation, fallback: Fallback, why: GivenUp) {
        self.given_up = Some(why);
        self.times_given_up += 1;
        self.good_since_s = f64::INFINITY;
        if fallback == Fallback::Next && self.action + 1 < policy.actions.len() {
            self.action += 1;
            self.enter(policy, seen);
        } else {
            self.hold_m = seen.fix.then_some(seen.place_m);
            self.fallen_back = Some(if fallback == Fallback::Drop { Fallback::Drop } else { Fallback::Land });
        }
    }

    /// Whether the fix for want of which the craft comes down has been back for long enough, well above the ground.
    fn may_take_up_again(&mut self, action: &Action, limits: &Limits, seen: &Observation) -> bool {
        let Some(after_s) = action.resumes_after_s else { return false };
        if !self.given_up.is_some_and(|why| why.is_of_the_fix()) || seen.must_land || seen.home_m.is_none() {
            return false;
        }
        if !seen.fix || !action.guards.fix.is_none_or(|guard| guard.passes(seen.satellites, seen.hdop)) {
            self.good_since_s = f64::INFINITY;
            return false;
        }
        self.good_since_s = self.good_since_s.min(seen.time_s);
        seen.time_s - self.good_since_s >= after_s && !near_the_ground(limits, seen)
    }

    /// The guard that does not hold, with the value that decides; `None` when all do.
    fn failing_guard(&mut self, guards: &Guards, kind: &ActionKind, seen: &Observation) -> Option<GivenUp> {
        if let Some(guard) = guards.fix {
            if seen.fix && guard.passes(seen.satellites, seen.hdop) {
                self.last_good_s = seen.time_s;
            }
            // A short dip is bridged like a short loss of the fix; a guard that never held fails at once.
            if seen.time_s - self.last_good_s > FIX_GRACE_S {
                return Some(if seen.fix {
                    GivenUp::PoorFix { satellites: seen.satellites, hdop: seen.hdop }
                } else {
                    GivenUp::NoFix
                });
            }
        }
        if guards.reserve_pct.is_some_and(|reserve_pct| seen.charge_pct < reserve_pct) {
            return Some(GivenUp::Charge { charge_pct: seen.charge_pct });
        }
        let taken_s = seen.time_s - self.entered_s;
        if guards.at_most_s.is_some_and(|at_most_s| taken_s > at_most_s) {
            return Some(GivenUp::Time { taken_s });
        }
        if let (Some(within_m), Some(room)) = (guards.fence_within_m, seen.fence)
            && room.stopping_m < within_m
            && room.stopping_m < room.here_m
        {
            return Some(GivenUp::Fence { room_m: room.here_m });
        }
        match (guards.progress, seen.home_m) {
            (Some(guard), Some(home_m))
                if matches!(kind, ActionKind::Return { .. }) && self.leg == Leg::Transit && seen.fix =>
            {
                self.too_slow(home_m, guard.closing_mps, guard.within_s, seen)
                    .map(|closing_mps| GivenUp::Progress { closing_mps })
            }
            _ => None,
        }
    }

    /// The speed at which home comes closer over the guard's time, when that is too slow; `None` until that time has
    /// passed.
    fn too_slow(&mut self, home_m: [f64; 2], closing_mps: f64, within_s: f64, seen: &Observation) -> Option<f64> {
        let spacing_s = within_s / (PROGRESS_SAMPLES - 1) as f64;
        if seen.time_s < self.next_sample_s && self.sampled > 0 {
            return None;
        }
        // A sample is of the moment at which it was due: taken a little late, it neither delays the next nor lengthens the window.
        let late_s = seen.time_s - self.next_sample_s;
        let late_s = if (0.0..spacing_s).contains(&late_s) { late_s } else { 0.0 };
        let time_s = seen.time_s - late_s;
        self.next_sample_s = time_s + spacing_s;
        let then = [0, 1].map(|axis| seen.place_m[axis] - late_s * seen.velocity_mps[axis]);
        let distance_m = distance_m(home_m, then);
        // The oldest sample is one window old, of fewer samples where they would be closer than steps.
        let (then_s, then_m) = self.samples[0];
        if self.sampled > 0 && time_s - then_s >= within_s - SAME_MOMENT_S {
            if (then_m - distance_m) < closing_mps * (time_s - then_s) {
                return Some((then_m - distance_m) / (time_s - then_s));
            }
            self.samples.copy_within(1.., 0);
            self.sampled -= 1;
        }
        self.samples[self.sampled] = (time_s, distance_m);
        self.sampled += 1;
        None
    }

    /// Horizontal demand that keeps the place where the action began; level without a fix.
    fn stay(&self, limits: &Limits, seen: &Observation, speed_mps: f64) -> Horizontal {
        match self.hold_m {
            Some(point) if seen.fix => Horizontal::Velocity(toward(point, seen.middle_m, limits, speed_mps)),
            _ => Horizontal::Level,
        }
    }

    fn land(&mut self, limits: &Limits, seen: &Observation, sink_mps: Option<f64>) -> Demand {
        let speed_mps = if near_the_ground(limits, seen) { NEAR_GROUND_MPS } else { limits.cruise_mps };
        Demand {
            act: Act::Land,
            horizontal: self.stay(limits, seen, speed_mps),
            climb_mps: -sink(limits, seen, sink_mps),
            motors: true,
        }
    }

    #[allow(clippy::too_many_arguments)]
    fn go_home(
        &mut self,
        limits: &Limits,
        seen: &Observation,
        home_m: [f64; 2],
        height: ReturnHeight,
        speed_mps: f64,
        home_circle_m: f64,
        climbs_before: bool,
    ) -> Demand {
        if height.from == HeightFrom::Ground {
            self.level_m = height.level_m(self.entered_at_m, 0.0, seen.highest_m, seen.terrain_m);
        }
        if seen.fix {
            let distance_m = distance_m(home_m, seen.middle_m);
            if self.leg == Leg::Climb && seen.middle_height_m >= self.level_m - HEIGHT_BAND_M {
                // A descent to a lower return height is flown on the way; a climb comes first.
                self.leg = Leg::Transit;
            }
            if self.leg != Leg::Descend && distance_m <= home_circle_m && (!climbs_before || self.leg == Leg::Transit) {
                self.leg = Leg::Descend;
            }
        }
        let toward_home = |speed_mps: f64| Horizontal::Velocity(toward(home_m, seen.middle_m, limits, speed_mps));
        let horizontal = match self.leg {
            // While a short loss of the fix is bridged, the craft keeps level and its height.
            _ if !seen.fix => Horizontal::Level,
            Leg::Climb => self.stay(limits, seen, limits.cruise_mps),
            Leg::Descend if near_the_ground(limits, seen) => toward_home(speed_mps.min(NEAR_GROUND_MPS)),
            Leg::Transit | Leg::Descend => toward_home(speed_mps),
        };
        let (act, climb_mps) = match self.leg {
            Leg::Climb | Leg::Transit => (Act::Return, climb_to(self.level_m, limits, seen)),
            Leg::Descend => (Act::Land, -sink(limits, seen, None)),
        };
        Demand { act, horizontal, climb_mps, motors: true }
    }
}

/// Motors stopped.
const DROP: Demand = Demand { act: Act::Drop, horizontal: Horizontal::Level, climb_mps: 0.0, motors: false };

/// Speed over ground towards a point: at most `speed_mps`, and slow enough to stop there.
pub fn toward(point_m: [f64; 2], place_m: [f64; 2], limits: &Limits, speed_mps: f64) -> [f64; 2] {
    let offset = [point_m[0] - place_m[0], point_m[1] - place_m[1]];
    let far_m = distance_m(point_m, place_m);
    if far_m < 1e-9 {
        return [0.0, 0.0];
    }
    let gain_per_s = POSITION_GAIN_TIMES_LAG / limits.velocity_lag_s;
    // Near the point a linear law; further out the speed from which half the greatest braking stops in time.
    let wish_mps = (gain_per_s * far_m).min((limits.accel_mps2 * far_m).sqrt()).min(speed_mps);
    [offset[0] / far_m * wish_mps, offset[1] / far_m * wish_mps]
}

/// Vertical speed towards a height above home.
pub fn climb_to(level_m: f64, limits: &Limits, seen: &Observation) -> f64 {
    (level_m - seen.middle_height_m).clamp(-limits.descent_mps, limits.climb_mps)
}

/// Whether the craft must count on the ground being near: near the height of the take-off spot or below it, or by what
/// a sensor that looks down measures. It does not know the ground elsewhere.
fn near_the_ground(limits: &Limits, seen: &Observation) -> bool {
    above_m(seen) <= limits.slow_below_m
}

/// Height in the middle of the time over which the answer holds: above the ground where a sensor measures it, else above the
/// take-off spot.
fn above_m(seen: &Observation) -> f64 {
    seen.above_ground_m.unwrap_or(seen.height_m) + seen.middle_height_m - seen.height_m
}

/// Sink speed of a landing: slow near the ground, as far as the craft knows, and above it no faster than half the greatest
/// acceleration brakes in time.
fn sink(limits: &Limits, seen: &Observation, sink_mps: Option<f64>) -> f64 {
    // The root ends steeply: its mean over the time for which the answer holds, not its value in the middle.
    let above_m = above_m(seen) - limits.slow_below_m;
    let half_m = seen.middle_height_m - seen.height_m;
    let root = mean_root(above_m - half_m, above_m + half_m);
    let most_mps = (limits.final_descent_mps + limits.accel_mps2.sqrt() * root).min(limits.descent_mps);
    sink_mps.unwrap_or(most_mps).min(most_mps)
}

/// Mean of √x between two values, 0 below 0.
///
/// # Source
/// ⅔ (a^{3/2} − b^{3/2})/(a − b), written so that it holds for a = b.
fn mean_root(a: f64, b: f64) -> f64 {
    let (most, least) = (a.max(b), a.min(b));
    if most <= 0.0 {
        return 0.0;
    }
    let (s, t) = (most.sqrt(), least.max(0.0).sqrt());
    if least < 0.0 { 2.0 / 3.0 * s * most / (most - least) } else { 2.0 / 3.0 * (most + s * t + least) / (s + t) }
}

/// Sink speed at a height above where the last, slow part of a descent begins.
pub fn slowed_mps(limits: &Limits, above_m: f64) -> f64 {
    (limits.final_descent_mps + (limits.accel_mps2 * above_m.max(0.0)).sqrt()).min(limits.descent_mps)
}

#[cfg(test)]
mod tests {
    use super::super::policy::{FixGuard, ProgressGuard};
    use super::*;

    const LIMITS: Limits = Limits {
        cruise_mps: 10.0,
        climb_mps: 4.0,
        descent_mps: 2.5,
        final_descent_mps: 0.7,
        slow_below_m: 8.0,
        accel_mps2: 4.0,
        velocity_lag_s: 0.8,
    };

    fn seen(time_s: f64, east_m: f64, height_m: f64) -> Observation {
        Observation {
            time_s,
            fix: true,
            satellites: 12,
            hdop: 0.9,
            place_m: [east_m, 0.0],
            middle_m: [east_m, 0.0],
            velocity_mps: [0.0, 0.0],
            home_m: Some([0.0, 0.0]),
            height_m,
            middle_height_m: height_m,
            highest_m: 30.0,
            terrain_m: 0.0,
            above_ground_m: None,
            fence: None,
            charge_pct: 70.0,
            must_land: false,
            command: Command { horizontal: Horizontal::Tilt([0.2, 0.0]), climb_mps: 1.0 },
        }
    }

    fn policy(actions: Vec<(ActionKind, Guards, Fallback)>) -> Policy {
        let actions = actions
            .into_iter()
            .map(|(kind, guards, otherwise)| Action { kind, guards, otherwise, resumes_after_s: Some(3.0) })
            .collect();
        Policy { name: "test".into(), actions }
    }

    fn home_at(height: ReturnHeight) -> ActionKind {
        ActionKind::Return { height, speed_mps: None, home_circle_m: 15.0, climbs_before: true, level_within_m: 0.0 }
    }

    #[test]
    fn a_hold_ends_in_time_and_the_next_action_follows() {
        let p = policy(vec![
            (ActionKind::Hold { for_s: 2.0 }, Guards::default(), Fallback::Land),
            (ActionKind::Land { sink_mps: None }, Guards::default(), Fallback::Land),
        ]);
        let mut engine = Engine::start(&p, &seen(10.0, 100.0, 30.0));
        assert_eq!(engine.step(&p, &LIMITS, &seen(11.9, 100.0, 30.0)).act, Act::Hold);
        let demand = engine.step(&p, &LIMITS, &seen(12.0, 100.0, 30.0));
        assert_eq!((demand.act, demand.climb_mps), (Act::Land, -2.5));
        assert_eq!(engine.step(&p, &LIMITS, &seen(20.0, 100.0, 7.0)).climb_mps, -0.7);
        assert!(!engine.fell_back());
    }

    #[test]
    fn a_return_climbs_flies_and_comes_down_at_home() {
        let p = policy(vec![(home_at(ReturnHeight::at_least_m(60.0)), Guards::default(), Fallback::Land)]);
        let mut engine = Engine::start(&p, &seen(0.0, 200.0, 30.0));
        let climb = engine.step(&p, &LIMITS, &seen(0.1, 200.0, 30.0));
        assert_eq!(
            (climb.act, climb.climb_mps, climb.horizontal),
            (Act::Return, 4.0, Horizontal::Velocity([0.0, 0.0]))
        );
        let transit = engine.step(&p, &LIMITS, &seen(9.0, 200.0, 59.5));
        assert_eq!(transit.horizontal, Horizontal::Velocity([-10.0, 0.0]));
        assert_eq!(engine.step(&p, &LIMITS, &seen(30.0, 14.0, 60.0)).act, Act::Land);
    }

    #[test]
    fn without_home_or_fix_the_fallback_runs() {
        let p = policy(vec![(home_at(ReturnHeight::here()), Guards::default(), Fallback::Drop)]);
        let mut engine = Engine::start(&p, &seen(0.0, 200.0, 30.0));
        let lost = |t| Observation { fix: false, ..seen(t, 200.0, 30.0) };
        assert_eq!(engine.step(&p, &LIMITS, &lost(1.0)).act, Act::Return);
        assert_eq!(engine.step(&p, &LIMITS, &lost(2.1)).act, Act::Drop);
        assert!(engine.fell_back());
        let homeless = Observation { home_m: None, ..seen(0.0, 200.0, 30.0) };
        let mut engine = Engine::start(&p, &homeless);
        assert_eq!(engine.step(&p, &LIMITS, &homeless).act, Act::Drop);
    }

    #[test]
    fn guards_give_up_a_return_that_gets_nowhere() {
        let guards = Guards { progress: Some(ProgressGuard { closing_mps: 1.0, within_s: 7.0 }), ..Guards::default() };
        let p = policy(vec![(home_at(ReturnHeight::here()), guards, Fallback::Land)]);
        let mut away = Engine::start(&p, &seen(0.0, 200.0, 30.0));
        let mut closer = Engine::start(&p, &seen(0.0, 200.0, 30.0));
        for k in 0..400 {
            let t = f64::from(k) * 0.05;
            away.step(&p, &LIMITS, &seen(t, 200.0 + t, 30.0));
            closer.step(&p, &LIMITS, &seen(t, 200.0 - 2.0 * t, 30.0));
        }
        assert!(away.fell_back());
        assert!(!closer.fell_back());
        let guards = Guards { fix: Some(FixGuard { satellites: 8, hdop: 2.0 }), ..Guards::default() };
        let p = policy(vec![(home_at(ReturnHeight::here()), guards, Fallback::Land)]);
        let mut engine = Engine::start(&p, &seen(0.0, 200.0, 30.0));
        let poor = |t| Observation { hdop: 3.0, ..seen(t, 200.0, 30.0) };
        engine.step(&p, &LIMITS, &seen(0.0, 200.0, 30.0));
        assert_eq!(engine.step(&p, &LIMITS, &poor(1.0)).act, Act::Return);
        assert_eq!(engine.step(&p, &LIMITS, &poor(2.5)).act, Act::Land);
    }

    /// The guard looks back over its own time, whatever the step, and at distances of the moments that it counts by.
    #[test]
    fn progress_is_judged_over_the_time_given() {
        let given_up_s = |step_s: f64, closing_mps: f64| {
            let guard = ProgressGuard { closing_mps: 1.0, within_s: 10.0 };
            let guards = Guards { progress: Some(guard), ..Guards::default() };
            let p = policy(vec![(home_at(ReturnHeight::here()), guards, Fallback::Land)]);
            let mut engine = Engine::start(&p, &seen(0.0, 200.0, 30.0));
            let times_s = (0..).map(|k| f64::from(k) * step_s).take_while(|&t| t < 60.0);
            times_s.into_iter().find(|&t| {
                let moves = [-closing_mps, 0.0];
                let now = Observation { velocity_mps: moves, ..seen(t, 200.0 - closing_mps * t, 30.0) };
                engine.step(&p, &LIMITS, &now);
                engine.fell_back()
            })
        };
        for step_s in [0.01, 0.05, 0.1, 0.2] {
            let at_s = given_up_s(step_s, 0.99).expect("too slow");
            // The return sets out in the first step, so its window begins with the second.
            let since_s = at_s - step_s;
            assert!((10.0 - 1e-9..10.0 + step_s + 1e-9).contains(&since_s), "{at_s} s in steps of {step_s} s");
            assert_eq!(given_up_s(step_s, 1.01), None, "in steps of {step_s} s");
        }
    }

    #[test]
    fn a_low_pack_brings_every_policy_down() {
        let p = policy(vec![
            (ActionKind::Hold { for_s: 99.0 }, Guards::default(), Fallback::Land),
            (ActionKind::Land { sink_mps: None }, Guards::default(), Fallback::Land),
        ]);
        let mut engine = Engine::start(&p, &seen(0.0, 50.0, 30.0));
        let low = Observation { must_land: true, ..seen(1.0, 50.0, 30.0) };
        assert_eq!(engine.step(&p, &LIMITS, &low).act, Act::Land);
    }

    #[test]
    fn what_carries_on_keeps_the_last_command_and_ends_in_time() {
        let p = policy(vec![
            (ActionKind::CarryOn { for_s: Some(4.0) }, Guards::default(), Fallback::Land),
            (ActionKind::Drop, Guards::default(), Fallback::Land),
        ]);
        let mut engine = Engine::start(&p, &seen(0.0, 50.0, 30.0));
        let demand = engine.step(&p, &LIMITS, &seen(3.9, 80.0, 33.0));
        assert_eq!(demand.act, Act::CarryOn);
        assert_eq!((demand.horizontal, demand.climb_mps), (Horizontal::Tilt([0.2, 0.0]), 1.0));
        assert_eq!(engine.step(&p, &LIMITS, &seen(4.0, 80.0, 33.0)).act, Act::Drop);
    }

    #[test]
    fn a_landing_for_want_of_a_fix_is_taken_back_when_the_fix_is() {
        let p = policy(vec![(home_at(ReturnHeight::here()), Guards::default(), Fallback::Land)]);
        let mut engine = Engine::start(&p, &seen(0.0, 200.0, 30.0));
        let lost = |t| Observation { fix: false, ..seen(t, 200.0, 30.0) };
        assert_eq!(engine.step(&p, &LIMITS, &lost(2.1)).act, Act::Land);
        assert_eq!(engine.given_up(), (Some(GivenUp::NoFix), 1));
        assert_eq!(engine.step(&p, &LIMITS, &seen(4.0, 200.0, 25.0)).act, Act::Land);
        assert_eq!(engine.step(&p, &LIMITS, &seen(7.1, 200.0, 20.0)).act, Act::Return);
        assert_eq!(engine.taken_up(), 1);
        // Near the ground it comes down all the same, and a landing for another reason stays one.
        let mut low = Engine::start(&p, &seen(0.0, 200.0, 10.0));
        low.step(&p, &LIMITS, &lost(2.1));
        low.step(&p, &LIMITS, &seen(4.0, 200.0, 8.0));
        assert_eq!(low.step(&p, &LIMITS, &seen(9.0, 200.0, 6.0)).act, Act::Land);
    }

    #[test]
    fn the_fence_ahead_ends_the_way_home_but_not_a_way_inwards() {
        let guards = Guards { fence_within_m: Some(10.0), ..Guards::default() };
        let p = policy(vec![(home_at(ReturnHeight::here()), guards, Fallback::Land)]);
        let near = |here_m, stopping_m| Observation {
            fence: Some(FenceRoom { here_m, stopping_m }),
            ..seen(1.0, 200.0, 30.0)
        };
        let mut engine = Engine::start(&p, &seen(0.0, 200.0, 30.0));
        assert_eq!(engine.step(&p, &LIMITS, &near(25.0, 12.0)).act, Act::Return);
        assert_eq!(engine.step(&p, &LIMITS, &near(5.0, 8.0)).act, Act::Return);
        assert_eq!(engine.step(&p, &LIMITS, &near(20.0, 9.0)).act, Act::Land);
    }

    #[test]
    fn near_home_no_climb_comes_first() {
        let mut kind = home_at(ReturnHeight::at_least_m(60.0));
        if let ActionKind::Return { level_within_m, .. } = &mut kind {
            *level_within_m = 50.0;
        }
        let p = policy(vec![(kind, Guards::default(), Fallback::Land)]);
        let mut engine = Engine::start(&p, &seen(0.0, 40.0, 12.0));
        let demand = engine.step(&p, &LIMITS, &seen(0.1, 40.0, 12.0));
        assert!(demand.climb_mps.abs() < 0.1 && demand.horizontal != Horizontal::Velocity([0.0, 0.0]), "{demand:?}");
        let mut far = Engine::start(&p, &seen(0.0, 60.0, 12.0));
        assert_eq!(far.step(&p, &LIMITS, &seen(0.1, 60.0, 12.0)).climb_mps, 4.0);
    }
}
