//! The pilot: flies the path by eye, turns back on a warning, takes over when the link is back.

use super::LossMoment;
use crate::craft::battery::lag_share;
use crate::failsafe::{Command, Horizontal, Limits, NEAR_GROUND_MPS, slowed_mps, toward};
use crate::geometry::distance_m;
use crate::scenario::OnRegain;
use crate::site::ZoneKind;
use crate::world::{FlightPath, REACHED_M, Straight, World};

/// Room that the pilot leaves over what stands on the way home. Estimate.
const CLEAR_BY_M: f64 = 10.0;
/// Width of the strip along the way in which the pilot looks for what stands there, to either side. Estimate.
const LOOKS_ASIDE_M: f64 = 10.0;
/// Room that the pilot leaves in any case, be it above the ceiling. Estimate.
const LEAST_CLEAR_BY_M: f64 = 3.0;

/// How far the pilot keeps under the ceiling. Estimate: what a climb overshoots by, and the barometer's error.
const UNDER_CEILING_M: f64 = 2.0;

/// How often the pilot asks whether home comes closer and the pack suffices. Estimate.
const ASKS_EVERY_S: f64 = 15.0;
/// Slower than this home does not come closer. Estimate.
const LEAST_CLOSING_MPS: f64 = 0.5;
/// Charge that the pilot wants to have left at home. Estimate.
const LEFT_AT_HOME_PCT: f64 = 10.0;
/// A lower way home is worth trying from this gain of height on. Estimate.
const LOWER_BY_M: f64 = 5.0;

/// How far the pilot looks for a clear place to come down on, and in what steps. Estimate.
const LOOKS_FOR_M: [f64; 8] = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0];
/// Room that such a place must have around it. Estimate.
const CLEAR_AROUND_M: f64 = 4.0;

/// How long the pilot takes to get over such a place before coming down in any case. Estimate.
const GOES_OVER_FOR_S: f64 = 20.0;

/// Time constant with which the pilot finds out that the craft does not go where the sticks point. Estimate.
const FINDS_OUT_S: f64 = 3.0;
/// Speeds below which no direction is seen. Estimate.
const SEES_MPS: f64 = 1.5;

/// What the pilot is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Task {
    /// Flying to corner point `to` of the path.
    Path {
        /// Index of the corner point ahead.
        to: usize,
    },
    /// Hovering at corner point `at` until the time given.
    Pause {
        /// Index of the corner point he hovers at.
        at: usize,
        /// End of the pause, s after take-off.
        until_s: f64,
    },
    /// Flying straight home.
    Home,
    /// Coming down at a place.
    Down {
        /// The place: x, y in local metres.
        at_m: [f64; 2],
        /// Until then over there first.
        over_until_s: f64,
    },
    /// Letting go: the craft holds, or keeps level, as its flight mode has it.
    HandsOff,
    /// Climbing on the spot, to the height of [`Pilot::home_level_m`].
    Climb,
}

/// What the pilot knows when he moves the sticks.
#[derive(Clone, Copy)]
pub struct Sees<'a> {
    /// The site and the plan.
    pub world: &'a World,
    /// What the craft can do.
    pub limits: &'a Limits,
    /// Where it is: x, y, z in local metres.
    pub place_m: [f64; 3],
    /// z of the ground below.
    pub ground_m: f64,
    /// Time since take-off, s.
    pub time_s: f64,
    /// Charge left, per cent.
    pub charge_pct: f64,
}

/// What the pilot noted when he last asked whether home comes closer.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Noted {
    time_s: f64,
    distance_m: f64,
    charge_pct: f64,
}

/// The pilot's mind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pilot {
    /// What he is doing now.
    pub task: Task,
    /// The height a straight way home is flown at, above the site's origin.
    home_level_m: f64,
    noted: Option<Noted>,
    /// He has tried the way home lower down.
    lowered: bool,
    /// How far off he sets it down: along his way home and to the left of it.
    lands_off_m: [f64; 2],
    /// Where that way began.
    home_from_m: [f64; 2],
    /// Angle by which the craft goes to the left of where the sticks point, as he has found out.
    goes_left_rad: f64,
    /// What he has just made up his mind to do, in words.
    news: Option<&'static str>,
}

impl Pilot {
    /// On the ground at the first point, about to climb; he will set it down `lands_off_m` off the place he means to.
    pub fn at_take_off(lands_off_m: [f64; 2]) -> Pilot {
        Pilot {
            lands_off_m,
            task: Task::Path { to: 1 },
            home_level_m: 0.0,
            home_from_m: [0.0; 2],
            noted: None,
            lowered: false,
            goes_left_rad: 0.0,
            news: None,
        }
    }

    /// Takes over where the craft is: home, or on along the path from where the link went.
    pub fn take_over(&mut self, sees: &Sees, moment: &LossMoment, what: OnRegain) {
        let path = &sees.world.path;
        match what {
            OnRegain::Resume => {
                let flown_m = f64::from(moment.path_share) * path.length_m();
                match (1..path.points_m().len()).find(|&k| path.flown_at_m(k) > flown_m + 1e-6) {
                    Some(to) => self.task = Task::Path { to },
                    None => self.go_home(sees),
                }
            }
            OnRegain::FlyHome | OnRegain::LetFinish => self.go_home(sees),
        }
    }

    /// Whether he is landing.
    pub fn is_coming_down(&self) -> bool {
        matches!(self.task, Task::Down { .. })
    }

    /// Whether he follows the planned path.
    pub fn is_on_the_path(&self) -> bool {
        matches!(self.task, Task::Path { .. } | Task::Pause { .. })
    }

    /// Lets go of the sticks.
    pub fn let_go(&mut self) {
        self.task = Task::HandsOff;
    }

    /// Whether he has let go.
    pub fn has_let_go(&self) -> bool {
        self.task == Task::HandsOff
    }

    /// Climbs where the craft is, as high as is permitted.
    pub fn climb(&mut self, sees: &Sees) {
        self.task = Task::Climb;
        self.home_level_m = ceiling_z_m(sees);
    }

    /// Whether he has climbed as high as he wanted.
    pub fn is_up(&self, place_m: [f64; 3]) -> bool {
        place_m[2] >= self.home_level_m - 1.0
    }

    /// What he has made up his mind to do since he was last asked.
    pub fn news(&mut self) -> Option<&'static str> {
        self.news.take()
    }

    /// Goes straight home: at the height it has, or higher where something stands on the way, under the ceiling as far
    /// as that leaves room.
    pub fn go_home(&mut self, sees: &Sees) {
        self.task = Task::Home;
        self.home_from_m = [sees.place_m[0], sees.place_m[1]];
        self.noted = None;
        self.lowered = false;
        let highest_m = highest_on_the_way_m(sees);
        let ceiling_m = ceiling_z_m(sees);
        let wanted_m = sees.place_m[2].max(highest_m + CLEAR_BY_M);
        self.home_level_m = wanted_m.min(ceiling_m).max(highest_m + LEAST_CLEAR_BY_M);
    }

    /// Comes down on the nearest clear place.
    fn come_down(&mut self, sees: &Sees, why: &'static str) {
        self.news = Some(why);
        self.task = Task::Down { at_m: clear_place_m(sees), over_until_s: sees.time_s + GOES_OVER_FOR_S };
    }

    /// Where he sets it down who means to at a place.
    fn sets_down_at_m(&self, at_m: [f64; 2]) -> [f64; 2] {
        let way_m = distance_m(at_m, self.home_from_m).max(1e-6);
        let [x, y] = [0, 1].map(|axis| (at_m[axis] - self.home_from_m[axis]) / way_m);
        let [along_m, left_m] = self.lands_off_m;
        [at_m[0] + along_m * x - left_m * y, at_m[1] + along_m * y + left_m * x]
    }

    /// Asks now and then whether home comes closer and the pack suffices, and draws the conclusion.
    fn watch_the_way(&mut self, sees: &Sees) {
        let home_m = sees.world.home_m;
        let distance_m = distance_m(flat(home_m), flat(sees.place_m));
        let now = Noted { time_s: sees.time_s, distance_m, charge_pct: sees.charge_pct };
        let Some(then) = self.noted else {
            self.noted = Some(now);
            return;
        };
        let passed_s = now.time_s - then.time_s;
        if passed_s < ASKS_EVERY_S {
            return;
        }
        self.noted = Some(now);
        let closing_mps = (then.distance_m - distance_m) / passed_s;
        let used_pct_per_s = (then.charge_pct - now.charge_pct) / passed_s;
        if sees.charge_pct < sees.world.scenario.judge.reserve_pct {
            let down_s = (sees.place_m[2] - home_m[2]).max(0.0) / sees.limits.descent_mps;
            let home_s = if closing_mps > 0.0 { distance_m / closing_mps + down_s } else { f64::INFINITY };
            if sees.charge_pct - used_pct_per_s * home_s < LEFT_AT_HOME_PCT {
                self.come_down(sees, "on the reserve, the pilot lands");
                return;
            }
        }
        if closing_mps < LEAST_CLOSING_MPS && distance_m > 2.0 * LOOKS_ASIDE_M {
            let lower_m = highest_on_the_way_m(sees) + CLEAR_BY_M;
            if !self.lowered && lower_m < self.home_level_m - LOWER_BY_M {
                self.lowered = true;
                self.home_level_m = lower_m;
                self.news = Some("home comes no closer, the pilot goes lower");
            } else {
                self.come_down(sees, "home comes no closer, the pilot lands");
            }
        }
    }

    /// What the pilot's sticks say.
    pub fn stick(&mut self, sees: &Sees) -> Command {
        let (path, home_m, limits) = (&sees.world.path, sees.world.home_m, sees.limits);
        let (place_m, time_s) = (sees.place_m, sees.time_s);
        if let Task::Path { to } = self.task {
            match path.points_m().get(to) {
                None => self.go_home(sees),
                Some(&point) => {
                    if crate::world::length(point, place_m) <= REACHED_M {
                        self.task = Task::Pause { at: to, until_s: time_s + path.pause_at_s(to) };
                    }
                }
            }
        }
        if let Task::Pause { at, until_s } = self.task
            && time_s >= until_s
        {
            if at + 1 < path.points_m().len() {
                self.task = Task::Path { to: at + 1 };
            } else {
                self.go_home(sees);
            }
        }
        let climbs_first = self.home_level_m - place_m[2] > 3.0;
        if self.task == Task::Home {
            if distance_m(flat(home_m), flat(place_m)) <= REACHED_M {
                self.task = Task::Down { at_m: self.sets_down_at_m(flat(home_m)), over_until_s: time_s };
            } else if !climbs_first {
                self.watch_the_way(sees);
            }
        }
        let climb = |level_m: f64| (level_m - place_m[2]).clamp(-limits.descent_mps, limits.climb_mps);
        let to = |at_m: [f64; 2], speed_mps: f64| toward(at_m, flat(place_m), limits, speed_mps);
        let command = |velocity_mps, climb_mps| Command { horizontal: Horizontal::Velocity(velocity_mps), climb_mps };
        match self.task {
            Task::Path { to } => {
                let (from, point) = (path.points_m()[to - 1], path.points_m()[to]);
                let speed_mps = path.speed_abreast_mps(to, place_m, limits);
                command(along(from, point, place_m, limits, speed_mps), climb(path.level_abreast_m(to, place_m)))
            }
            Task::Pause { at, .. } => {
                let point = path.points_m()[at];
                command(to(flat(point), path.speed_mps), climb(point[2]))
            }
            // Well below the level he wants, he climbs first.
            Task::Home => {
                let speed_mps = if climbs_first { 0.0 } else { limits.cruise_mps };
                command(to(flat(home_m), speed_mps), climb(self.home_level_m))
            }
            Task::Down { at_m, over_until_s } => {
                let away_m = distance_m(at_m, flat(place_m));
                let above_m = place_m[2] - sees.ground_m - limits.slow_below_m;
                let sink_mps =
                    if time_s < over_until_s && away_m > 2.0 * REACHED_M { 0.0 } else { slowed_mps(limits, above_m) };
                let speed_mps = if above_m > 0.0 { limits.cruise_mps } else { NEAR_GROUND_MPS };
                command(to(at_m, speed_mps), -sink_mps)
            }
            Task::HandsOff => Command::still(),
            Task::Climb => command([0.0, 0.0], climb(self.home_level_m)),
        }
    }

    /// The speed to ask for with the sticks so that the craft goes where it shall, as far as the pilot has found out
    /// where it goes: for sticks that steer a speed by the craft's own heading.
    pub fn aim(&mut self, wanted_mps: [f64; 2], velocity_mps: [f64; 3], step_s: f64) -> [f64; 2] {
        let (v, w) = ([velocity_mps[0], velocity_mps[1]], wanted_mps);
        if v[0] * v[0] + v[1] * v[1] > SEES_MPS * SEES_MPS && w[0] * w[0] + w[1] * w[1] > SEES_MPS * SEES_MPS {
            let left_rad = libm::atan2(w[0] * v[1] - w[1] * v[0], w[0] * v[0] + w[1] * v[1]);
            self.goes_left_rad += lag_share(step_s, FINDS_OUT_S) * left_rad;
        }
        let (sin, cos) = libm::sincos(-self.goes_left_rad);
        [cos * w[0] - sin * w[1], sin * w[0] + cos * w[1]]
    }
}

fn flat([x, y, _]: [f64; 3]) -> [f64; 2] {
    [x, y]
}

/// z of the greatest height that the pilot flies at where the craft is: a little under what is permitted.
fn ceiling_z_m(sees: &Sees) -> f64 {
    let site = &sees.world.scenario.site;
    let above_home_m = sees.world.home_m[2] + site.ceiling_m;
    let permitted_m =
        site.ceiling_above_ground_m.map_or(above_home_m, |above_m| above_home_m.min(sees.ground_m + above_m));
    permitted_m - UNDER_CEILING_M
}

/// z of the highest thing on the straight way home, wires included, within a strip as wide as the pilot looks.
fn highest_on_the_way_m(sees: &Sees) -> f64 {
    let grid = &sees.world.grid;
    let way = Straight::between(sees.place_m, sees.world.home_m);
    let [x, y] = way.direction();
    let across = if way.length_m() > 1e-6 { [-y, x] } else { [0.0, 0.0] };
    let mut highest_m = f64::NEG_INFINITY;
    for [x, y] in way.every(grid.cell_m.max(2.0)) {
        for aside_m in [-LOOKS_ASIDE_M, 0.0, LOOKS_ASIDE_M] {
            highest_m = highest_m.max(grid.top_m(x + aside_m * across[0], y + aside_m * across[1]));
        }
    }
    highest_m
}

/// The nearest place that is clear ground inside the fence with nobody and nothing on it; where the craft is when there
/// is none within sight.
fn clear_place_m(sees: &Sees) -> [f64; 2] {
    let grid = &sees.world.grid;
    let is_clear = |x: f64, y: f64| {
        let marks = grid.marks(x, y);
        grid.kind(x, y) == ZoneKind::Clear
            && marks.inside_fence
            && !marks.among_people
            && grid.top_m(x, y) - grid.ground_m(x, y) <= 0.0
    };
    let has_room = |[x, y]: [f64; 2]| {
        is_clear(x, y)
            && [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]]
                .iter()
                .all(|[dx, dy]| is_clear(x + CLEAR_AROUND_M * dx, y + CLEAR_AROUND_M * dy))
    };
    let here = [sees.place_m[0], sees.place_m[1]];
    let around = LOOKS_FOR_M.iter().flat_map(|&radius_m| {
        (0..16).map(move |k| {
            let (sin, cos) = libm::sincos(f64::from(k) * std::f64::consts::TAU / 16.0);
            [here[0] + radius_m * sin, here[1] + radius_m * cos]
        })
    });
    std::iter::once(here).chain(around).find(|place_m| has_room(*place_m)).unwrap_or(here)
}

/// Speed over ground along a leg: the planned speed along it, plus a pull back onto its line.
fn along(from: [f64; 3], to: [f64; 3], place_m: [f64; 3], limits: &Limits, speed_mps: f64) -> [f64; 2] {
    let ahead = toward([to[0], to[1]], [place_m[0], place_m[1]], limits, speed_mps);
    let leg = [to[0] - from[0], to[1] - from[1]];
    let span_m = (leg[0] * leg[0] + leg[1] * leg[1]).sqrt();
    if span_m < 1.0 {
        return ahead;
    }
    let unit = [leg[0] / span_m, leg[1] / span_m];
    let offset = [place_m[0] - from[0], place_m[1] - from[1]];
    let aside_m = offset[1] * unit[0] - offset[0] * unit[1];
    // Gain of the pull: 0.3 1/s, at most 2 m/s. Estimate.
    let pull_mps = (-0.3 * aside_m).clamp(-2.0, 2.0);
    if offset[0] * unit[0] + offset[1] * unit[1] > span_m {
        return ahead;
    }
    let forward_mps = ahead[0] * unit[0] + ahead[1] * unit[1];
    [unit[0] * forward_mps - unit[1] * pull_mps, unit[1] * forward_mps + unit[0] * pull_mps]
}

/// How much of the path is flown when heading for the pilot's current point; `None` when he no longer follows it.
pub fn path_flown_m(task: Task, path: &FlightPath, place_m: [f64; 3]) -> Option<f64> {
    match task {
        Task::Path { to } if to < path.points_m().len() => {
            let left_m = crate::world::length(place_m, path.points_m()[to]);
            Some((path.flown_at_m(to) - left_m).clamp(path.flown_at_m(to - 1), path.flown_at_m(to)))
        }
        Task::Pause { at, .. } => Some(path.flown_at_m(at)),
        _ => None,
    }
}
