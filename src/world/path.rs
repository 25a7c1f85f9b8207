//! The planned path with its lengths and times.

use crate::failsafe::{Limits, toward};
use crate::geometry::{dot, minus};
use crate::scenario::{FlightPlan, LegPoint};

/// A waypoint counts as reached within this. Estimate: what a pilot judges as 'there' through a camera.
pub const REACHED_M: f64 = 4.0;

/// Step of the planned flight along the path, s.
const PLAN_STEP_S: f64 = 0.02;

/// A leg that takes longer than this many times its plain time, and a minute, is taken as never ending.
const PLAN_AT_MOST: f64 = 10.0;

/// How far ahead of the craft a path that follows the ground is looked at, s. Estimate: as long as the craft takes to climb as fast
/// as it is told.
const LOOKS_AHEAD_S: f64 = 1.0;

/// How far ahead steep ground slows the craft, s. Estimate: braking from 10 m/s takes about as long.
const SLOWS_AHEAD_S: f64 = 3.0;

/// The craft creeps on at least this fast, however steep the ground. Estimate.
const LEAST_FOLLOWING_MPS: f64 = 0.5;

/// A place on the path as planned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnPath {
    /// Place: x, y, z.
    pub place_m: [f64; 3],
    /// Time after take-off.
    pub time_s: f64,
}

/// One of many places along the path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathPlace {
    /// Distance flown.
    pub flown_m: f64,
    /// Place: x, y, z.
    pub place_m: [f64; 3],
    /// Direction flown, east and north, of any length.
    pub heading: [f64; 2],
}

/// A leg of the path flown at full speed from end to end.
struct PlainLeg {
    span_m: f64,
    time_s: f64,
}

/// A path of straight legs from the take-off spot, in site coordinates (z above the site's origin).
#[derive(Debug, Clone, PartialEq)]
pub struct FlightPath {
    points_m: Vec<[f64; 3]>,
    /// Of a path that follows the ground: heights along the leg to each point; empty for a straight leg.
    follows: Vec<Vec<LegPoint>>,
    /// Distance flown at each point, along straight legs.
    flown_m: Vec<f64>,
    /// Planned time at each point: arrival, without the pause there.
    arrive_s: Vec<f64>,
    /// Index of the first waypoint: what comes before is the take-off spot and the top of the climb.
    first_waypoint: usize,
    /// Speed over ground between points.
    pub speed_mps: f64,
    /// Hover at each waypoint.
    pub pause_s: f64,
}

impl FlightPath {
    /// A path that climbs straight up from the take-off spot to the first waypoint's height, then flies the waypoints.
    ///
    /// `waypoints_m` are x, y and height above the take-off spot, whose ground lies at `home_z_m`. Times are those of a
    /// craft that changes its speed at once; [`FlightPath::paced`] makes them those of one that does not.
    pub fn new(
        home_m: [f64; 2],
        home_z_m: f64,
        waypoints_m: &[[f64; 3]],
        speed_mps: f64,
        climb_mps: f64,
        pause_s: f64,
    ) -> FlightPath {
        let up_m = waypoints_m.first().map_or(0.0, |first| first[2]);
        let legs = waypoints_m.iter().map(|point| (*point, Vec::new()));
        FlightPath::of_legs([home_m[0], home_m[1], home_z_m], up_m, legs, speed_mps, climb_mps, pause_s)
    }

    /// The path of a plan, which may follow the ground.
    pub fn planned(home_m: [f64; 2], home_z_m: f64, plan: &FlightPlan, climb_mps: f64) -> FlightPath {
        let up_m = plan.above_ground_m.or(plan.waypoints_m.first().map(|first| first[2])).unwrap_or(0.0);
        let none = Vec::new();
        let follows = plan.follows.iter().chain(std::iter::repeat(&none));
        let raised = |leg: &Vec<LegPoint>| {
            leg.iter().map(|point| LegPoint { up_m: home_z_m + point.up_m, ..*point }).collect::<Vec<LegPoint>>()
        };
        let legs = plan.waypoints_m.iter().zip(follows).map(|(point, leg)| (*point, raised(leg)));
        FlightPath::of_legs([home_m[0], home_m[1], home_z_m], up_m, legs, plan.speed_mps, climb_mps, plan.pause_s)
    }

    /// Straight up from home, then a leg to each waypoint; heights along a leg are z, those of waypoints above home.
    fn of_legs(
        home_m: [f64; 3],
        up_m: f64,
        legs: impl Iterator<Item = ([f64; 3], Vec<LegPoint>)>,
        speed_mps: f64,
        climb_mps: f64,
        pause_s: f64,
    ) -> FlightPath {
        let mut points: Vec<([f64; 3], Vec<LegPoint>)> = vec![(home_m, Vec::new())];
        let legs: Vec<([f64; 3], Vec<LegPoint>)> = legs.collect();
        // A first waypoint beside the take-off spot lies behind the top of the climb, one above it is the top.
        let beside = legs.first().is_some_and(|(p, _)| (p[0] - home_m[0]).hypot(p[1] - home_m[1]) >= 1e-6);
        if !legs.is_empty() {
            points.push(([home_m[0], home_m[1], home_m[2] + up_m], Vec::new()));
        }
        points.extend(legs.into_iter().map(|(p, leg)| ([p[0], p[1], home_m[2] + p[2]], leg)));
        points.dedup_by(|a, b| length(a.0, b.0) < 1e-6);
        let (points_m, follows) = points.into_iter().unzip();
        let mut path = FlightPath {
            points_m,
            follows,
            flown_m: vec![0.0],
            arrive_s: vec![0.0],
            first_waypoint: if beside { 2 } else { 1 },
            speed_mps,
            pause_s,
        };
        for index in 1..path.points_m.len() {
            let PlainLeg { span_m, time_s } = path.plain_leg(index, climb_mps);
            path.flown_m.push(path.flown_m[index - 1] + span_m);
            path.arrive_s.push(path.arrive_s[index - 1] + path.pause_at_s(index - 1) + time_s);
        }
        path
    }

    /// The leg to point `index`.
    fn plain_leg(&self, index: usize, climb_mps: f64) -> PlainLeg {
        let (from, to) = (self.points_m[index - 1], self.points_m[index]);
        let (span_m, rise_m) = (length(from, to), to[2] - from[2]);
        let horizontal_m = (span_m * span_m - rise_m * rise_m).max(0.0).sqrt();
        if !self.follows[index].is_empty() {
            let pieces = self.follows[index].windows(2).map(|pair| {
                let level_s = (pair[1].share - pair[0].share) * horizontal_m / self.speed_mps;
                level_s.max((pair[1].up_m - pair[0].up_m).abs() / climb_mps)
            });
            return PlainLeg { span_m, time_s: pieces.sum() };
        }
        PlainLeg { span_m, time_s: (horizontal_m / self.speed_mps).max(rise_m.abs() / climb_mps) }
    }

    /// The same path with the times of a craft that takes time to change its speed: it is flown once in still air,
    /// by the pilot's rule for points and the craft's own limits.
    pub fn paced(mut self, limits: &Limits, attitude_lag_s: f64) -> FlightPath {
        let follow = crate::craft::battery::lag_share(PLAN_STEP_S, attitude_lag_s);
        let gain = 1.0 / limits.velocity_lag_s.max(PLAN_STEP_S);
        let (mut place, mut velocity, mut accel) = (self.points_m[0], [0.0_f64; 3], [0.0_f64; 3]);
        let mut time_s = 0.0;
        for index in 1..self.points_m.len() {
            let to = self.points_m[index];
            let plain_s = self.plain_leg(index, limits.climb_mps.min(limits.descent_mps)).time_s;
            let latest_s = time_s + PLAN_AT_MOST * plain_s + 60.0;
            let mut leaves_s = f64::INFINITY;
            while time_s < leaves_s && time_s < latest_s {
                if leaves_s.is_infinite() && length(place, to) <= REACHED_M {
                    self.arrive_s[index] = time_s;
                    leaves_s = time_s + self.pause_at_s(index);
                    continue;
                }
                // Who waits at the point keeps to it.
                let (z_m, speed_mps) = if leaves_s.is_finite() {
                    (to[2], self.speed_mps)
                } else {
                    (self.level_abreast_m(index, place), self.speed_abreast_mps(index, place, limits))
                };
                let level = toward([to[0], to[1]], [place[0], place[1]], limits, speed_mps);
                let climb = (z_m - place[2]).clamp(-limits.descent_mps, limits.climb_mps);
                let mut wish: [f64; 3] = std::array::from_fn(|i| gain * ([level[0], level[1], climb][i] - velocity[i]));
                let shrink = (limits.accel_mps2 / wish[0].hypot(wish[1]).max(1e-9)).min(1.0);
                wish = [shrink * wish[0], shrink * wish[1], wish[2].clamp(-limits.accel_mps2, limits.accel_mps2)];
                for axis in 0..3 {
                    let before = accel[axis];
                    accel[axis] += follow * (wish[axis] - before);
                    let gained = 0.5 * PLAN_STEP_S * (before + accel[axis]);
                    place[axis] += PLAN_STEP_S * (velocity[axis] + 0.5 * gained);
                    velocity[axis] += gained;
                }
                time_s += PLAN_STEP_S;
            }
            if leaves_s.is_infinite() {
                self.arrive_s[index] = time_s;
            }
        }
        self
    }

    /// Where a place lies abreast of the leg to a point; `None` on a leg that goes straight up.
    fn abreast(&self, to: usize, place_m: [f64; 3]) -> Option<Abreast> {
        let (from, to) = (self.points_m[to - 1], self.points_m[to]);
        let leg = [to[0] - from[0], to[1] - from[1]];
        let level2_m2 = leg[0] * leg[0] + leg[1] * leg[1];
        if level2_m2 < 1.0 {
            return None;
        }
        let offset = [place_m[0] - from[0], place_m[1] - from[1]];
        let share = ((offset[0] * leg[0] + offset[1] * leg[1]) / level2_m2).clamp(0.0, 1.0);
        Some(Abreast { share, level2_m2 })
    }

    /// Height to fly on the leg to a point, abreast of a place. Where the path follows the ground, that of the place reached in
    /// `LOOKS_AHEAD_S`: who climbs only where the slope is flies into it.
    pub fn level_abreast_m(&self, to: usize, place_m: [f64; 3]) -> f64 {
        let (from, point) = (self.points_m[to - 1], self.points_m[to]);
        let Some(Abreast { share, level2_m2 }) = self.abreast(to, place_m) else { return point[2] };
        if self.follows[to].is_empty() {
            return from[2] + share * (point[2] - from[2]);
        }
        let ahead = LOOKS_AHEAD_S * self.speed_mps / level2_m2.sqrt();
        LegPoint::up_at(&self.follows[to], (share + ahead).min(1.0))
    }

    /// Speed over ground on the leg to a point, abreast of a place: where the path follows the ground, no more than lets the craft
    /// climb and sink with what comes within `SLOWS_AHEAD_S`.
    pub fn speed_abreast_mps(&self, to: usize, place_m: [f64; 3], limits: &Limits) -> f64 {
        let leg = &self.follows[to];
        if leg.is_empty() {
            return self.speed_mps;
        }
        let Some(Abreast { share, level2_m2 }) = self.abreast(to, place_m) else { return self.speed_mps };
        let level_m = level2_m2.sqrt();
        let until = share + SLOWS_AHEAD_S * self.speed_mps / level_m;
        let first = leg.partition_point(|at| at.share <= share).saturating_sub(1);
        let ahead = leg[first..].windows(2).take_while(|pair| pair[0].share < until);
        let slowest =
            ahead.fold(self.speed_mps, |speed_mps, pair| speed_mps.min(pair_speed_mps(pair, level_m, limits)));
        slowest.max(LEAST_FOLLOWING_MPS)
    }

    /// The highest z of the path.
    pub fn highest_m(&self) -> f64 {
        let along = self.follows.iter().flatten().map(|point| point.up_m);
        self.points_m.iter().map(|point| point[2]).chain(along).fold(f64::NEG_INFINITY, f64::max)
    }

    /// The corner points, the take-off spot first.
    pub fn points_m(&self) -> &[[f64; 3]] {
        &self.points_m
    }

    /// Direction, east and north, of the first leg that leads anywhere over the ground; north without one.
    pub fn first_heading(&self) -> [f64; 2] {
        let legs = self.points_m.windows(2).map(|leg| [leg[1][0] - leg[0][0], leg[1][1] - leg[0][1]]);
        legs.map(|[x, y]| (x, y, (x * x + y * y).sqrt()))
            .find(|leg| leg.2 > 1e-6)
            .map_or([0.0, 1.0], |(x, y, length)| [x / length, y / length])
    }

    /// How long the craft hovers at corner point `index`: at waypoints only, not at the top of the first climb.
    pub fn pause_at_s(&self, index: usize) -> f64 {
        if index >= self.first_waypoint { self.pause_s } else { 0.0 }
    }

    /// Whole length.
    pub fn length_m(&self) -> f64 {
        *self.flown_m.last().expect("a path has a point")
    }

    /// Distance flown at corner point `index`.
    pub fn flown_at_m(&self, index: usize) -> f64 {
        self.flown_m[index]
    }

    /// Planned time of arrival at corner point `index`.
    pub fn arrives_s(&self, index: usize) -> f64 {
        self.arrive_s[index]
    }

    /// Planned time of the whole path, with the pauses.
    pub fn duration_s(&self) -> f64 {
        self.arrive_s.last().expect("a path has a point") + self.pause_at_s(self.points_m.len() - 1)
    }

    /// Place and planned time after `flown_m` metres along the path (clamped to its ends).
    pub fn at_distance(&self, flown_m: f64) -> OnPath {
        let flown_m = flown_m.clamp(0.0, self.length_m());
        let leg = self.flown_m.partition_point(|&d| d <= flown_m).clamp(1, self.points_m.len().max(2) - 1);
        if self.points_m.len() < 2 {
            return OnPath { place_m: self.points_m[0], time_s: 0.0 };
        }
        let (from, to) = (self.flown_m[leg - 1], self.flown_m[leg]);
        let share = if to > from { (flown_m - from) / (to - from) } else { 1.0 };
        let (a, b) = (self.points_m[leg - 1], self.points_m[leg]);
        let mut place_m = [0, 1, 2].map(|axis| a[axis] + share * (b[axis] - a[axis]));
        if !self.follows[leg].is_empty() {
            place_m[2] = LegPoint::up_at(&self.follows[leg], share);
        }
        let depart_s = self.arrive_s[leg - 1] + self.pause_at_s(leg - 1);
        OnPath { place_m, time_s: depart_s + share * (self.arrive_s[leg] - depart_s) }
    }

    /// Places at most `step_m` apart along it, both ends included.
    pub fn every(&self, step_m: f64) -> impl Iterator<Item = PathPlace> + '_ {
        let total_m = self.length_m();
        let count = (total_m / step_m).ceil().max(1.0) as usize;
        let mut heading = self.first_heading();
        (0..=count).map(move |k| {
            let flown_m = total_m * k as f64 / count as f64;
            let place_m = self.at_distance(flown_m).place_m;
            let next_m = self.at_distance((flown_m + 1.0).min(total_m)).place_m;
            let ahead = [next_m[0] - place_m[0], next_m[1] - place_m[1]];
            // Straight up and at the end the nose stays where it was.
            if ahead[0] * ahead[0] + ahead[1] * ahead[1] > 1e-12 {
                heading = ahead;
            }
            PathPlace { flown_m, place_m, heading }
        })
    }
}

/// A place abreast of a leg.
struct Abreast {
    /// Share of the leg.
    share: f64,
    /// Square of the leg's length on the level.
    level2_m2: f64,
}

/// Speed at which the craft can climb or sink along a piece of a leg of a length.
fn pair_speed_mps(pair: &[LegPoint], level_m: f64, limits: &Limits) -> f64 {
    let (along_m, rise_m) = ((pair[1].share - pair[0].share) * level_m, pair[1].up_m - pair[0].up_m);
    let climb_mps = if rise_m > 0.0 { limits.climb_mps } else { limits.descent_mps };
    if rise_m == 0.0 { f64::INFINITY } else { climb_mps * along_m / rise_m.abs() }
}

/// Distance between two points.
pub fn length(a_m: [f64; 3], b_m: [f64; 3]) -> f64 {
    let way_m = minus(b_m, a_m);
    dot(way_m, way_m).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_times_and_places_agree() {
        let path = FlightPath::new(
            [0.0, 0.0],
            5.0,
            &[[0.0, 0.0, 20.0], [100.0, 0.0, 20.0], [100.0, 50.0, 20.0]],
            10.0,
            4.0,
            2.0,
        );
        assert_eq!(path.points_m().len(), 4);
        assert_eq!(path.length_m(), 170.0);
        assert_eq!(path.duration_s(), 5.0 + 2.0 + 10.0 + 2.0 + 5.0 + 2.0);
        assert_eq!(path.at_distance(70.0), OnPath { place_m: [50.0, 0.0, 25.0], time_s: 12.0 });
        assert_eq!(path.at_distance(-3.0).place_m, [0.0, 0.0, 5.0]);
        assert_eq!(path.at_distance(1e9).place_m, [100.0, 50.0, 25.0]);
    }

    /// The top of the climb is a point to hover at when it is a waypoint itself.
    #[test]
    fn only_waypoints_are_hovered_at() {
        let path = |first: [f64; 3]| FlightPath::new([0.0, 0.0], 0.0, &[first, [90.0, 0.0, 20.0]], 10.0, 4.0, 3.0);
        let (above, beside) = (path([0.0, 0.0, 20.0]), path([50.0, 0.0, 20.0]));
        assert_eq!([0, 1, 2].map(|index| above.pause_at_s(index)), [0.0, 3.0, 3.0]);
        assert_eq!([0, 1, 2, 3].map(|index| beside.pause_at_s(index)), [0.0, 0.0, 3.0, 3.0]);
        assert_eq!(above.duration_s(), 5.0 + 3.0 + 9.0 + 3.0);
        assert_eq!(beside.duration_s(), 5.0 + 5.0 + 3.0 + 4.0 + 3.0);
    }
}
