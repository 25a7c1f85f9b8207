//! The pilot: flies the path by eye, turns back on a warning, takes over when the link is back.

use super::LossMoment;
use crate::failsafe::{Horizontal, Limits, toward};
use crate::scenario::OnRegain;
use crate::world::{FlightPath, REACHED_M, World};

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
        /// Index of the corner point.
        at: usize,
        /// End of the pause.
        until_s: f64,
    },
    /// Flying straight home.
    Home,
    /// Coming down at home.
    Down,
    /// Letting go: the craft holds.
    HandsOff,
}

/// The stick command as the craft gets it: a speed over ground, as the pilot sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stick {
    /// Horizontal part.
    pub horizontal: Horizontal,
    /// Vertical speed.
    pub climb_mps: f64,
}

impl Stick {
    /// Sticks centred: keep the place.
    pub fn still() -> Stick {
        Stick { horizontal: Horizontal::Velocity([0.0, 0.0]), climb_mps: 0.0 }
    }
}

/// The pilot's mind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pilot {
    /// Task.
    pub task: Task,
    /// The height a straight way home is flown at, above the site's origin.
    home_level_m: f64,
}

impl Pilot {
    /// On the ground at the first point, about to climb.
    pub fn at_take_off() -> Pilot {
        Pilot { task: Task::Path { to: 1 }, home_level_m: 0.0 }
    }

    /// Takes over where the craft is: home, or on along the path from where the link went.
    pub fn take_over(&mut self, world: &World, place_m: [f64; 3], moment: &LossMoment, what: OnRegain) {
        match what {
            OnRegain::Resume => {
                let flown_m = f64::from(moment.path_share) * world.path.length_m();
                let to = (1..world.path.points_m().len()).find(|&k| world.path.flown_at_m(k) > flown_m + 1e-6);
                self.task = to.map_or(Task::Home, |to| Task::Path { to });
                self.home_level_m = place_m[2];
            }
            OnRegain::FlyHome | OnRegain::LetFinish => self.go_home(place_m, world.clear_level_m),
        }
    }

    /// Whether he is landing.
    pub fn is_coming_down(&self) -> bool {
        self.task == Task::Down
    }

    /// Lets go of the sticks.
    pub fn let_go(&mut self) {
        self.task = Task::HandsOff;
    }

    /// Whether he has let go.
    pub fn has_let_go(&self) -> bool {
        self.task == Task::HandsOff
    }

    /// Goes straight home from `place_m`, at the height it has or a little above what he sees ahead.
    pub fn go_home(&mut self, place_m: [f64; 3], clear_m: f64) {
        self.task = Task::Home;
        self.home_level_m = place_m[2].max(clear_m);
    }

    /// What the pilot's sticks say.
    pub fn stick(
        &mut self,
        path: &FlightPath,
        home_m: [f64; 3],
        limits: &Limits,
        place_m: [f64; 3],
        ground_m: f64,
        time_s: f64,
    ) -> Stick {
        let flat = |p: [f64; 3]| [p[0], p[1]];
        if let Task::Path { to } = self.task {
            match path.points_m().get(to) {
                None => self.task = Task::Home,
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
            self.task = if at + 1 < path.points_m().len() { Task::Path { to: at + 1 } } else { Task::Home };
            if self.task == Task::Home {
                self.home_level_m = place_m[2];
            }
        }
        if self.task == Task::Home {
            let (dx, dy) = (home_m[0] - place_m[0], home_m[1] - place_m[1]);
            if dx * dx + dy * dy <= REACHED_M * REACHED_M {
                self.task = Task::Down;
            }
        }
        let climb = |level_m: f64| (level_m - place_m[2]).clamp(-limits.descent_mps, limits.climb_mps);
        match self.task {
            Task::Path { to } => {
                let (from, point) = (path.points_m()[to - 1], path.points_m()[to]);
                Stick {
                    horizontal: Horizontal::Velocity(along(from, point, place_m, limits, path.speed_mps)),
                    climb_mps: climb(level_on_leg(from, point, place_m)),
                }
            }
            Task::Pause { at, .. } => {
                let point = path.points_m()[at];
                Stick {
                    horizontal: Horizontal::Velocity(toward(flat(point), flat(place_m), limits, path.speed_mps)),
                    climb_mps: climb(point[2]),
                }
            }
            Task::Home => {
                let climb_mps = climb(self.home_level_m);
                // Well below the level he wants, he climbs first.
                let speed_mps = if self.home_level_m - place_m[2] > 3.0 { 0.0 } else { limits.cruise_mps };
                Stick {
                    horizontal: Horizontal::Velocity(toward(flat(home_m), flat(place_m), limits, speed_mps)),
                    climb_mps,
                }
            }
            Task::Down => {
                let sink_mps = if place_m[2] - ground_m > limits.slow_below_m {
                    limits.descent_mps
                } else {
                    limits.final_descent_mps
                };
                Stick {
                    horizontal: Horizontal::Velocity(toward(flat(home_m), flat(place_m), limits, limits.cruise_mps)),
                    climb_mps: -sink_mps,
                }
            }
            Task::HandsOff => Stick::still(),
        }
    }
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

/// Height of the straight leg abreast of the craft; of its end on a vertical leg.
fn level_on_leg(from: [f64; 3], to: [f64; 3], place_m: [f64; 3]) -> f64 {
    let leg = [to[0] - from[0], to[1] - from[1]];
    let span2_m2 = leg[0] * leg[0] + leg[1] * leg[1];
    if span2_m2 < 1.0 {
        return to[2];
    }
    let offset = [place_m[0] - from[0], place_m[1] - from[1]];
    let share = ((offset[0] * leg[0] + offset[1] * leg[1]) / span2_m2).clamp(0.0, 1.0);
    from[2] + share * (to[2] - from[2])
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
