//! Ways home, worked out along the planned path.

use super::above_home;
use super::along::PathEnergy;
use crate::failsafe::{ActionKind, HeightFrom, Policy};
use crate::geometry::distance_m;
use crate::units::nullable;
use crate::world::{HomeEnergy, Straight, Way, World, length};
use serde::{Deserialize, Serialize};

/// Distance along the path between places that are looked at, and that ways home are looked at from.
pub(super) const PATH_STEP_M: f64 = 10.0;

/// A way home: a return of a policy's chain, or what a low pack does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayHome {
    /// Policy index; `None`: by a low pack.
    pub policy: Option<usize>,
    /// Whether it is the first return of its policy's chain.
    pub first: bool,
    /// Its name: the policy's, with the action from the second return on, or what the low pack is at.
    pub name: String,
    /// The key of the scenario that states it.
    #[serde(skip)]
    pub key: String,
    /// From what its height is measured.
    #[serde(skip)]
    pub from: HeightFrom,
    /// Least height of the straight way home above what stands below it, over all places of the path.
    pub clearance_m: f64,
    /// Place on the path from which that is so.
    pub from_m: [f64; 3],
    /// Greatest height above home on the way.
    pub height_m: f64,
    /// Least height above home at which a way home is flown.
    pub least_height_m: f64,
    /// Greatest height above the ground below on the way.
    pub above_ground_m: f64,
    /// Greatest charge needed to come home from the path, per cent; NaN when it cannot from somewhere.
    pub charge_needed_pct: f64,
}

impl WayHome {
    /// Its name in a sentence.
    pub(super) fn in_words(&self) -> String {
        match self.policy {
            Some(_) => format!("policy \"{}\"", self.name),
            None => format!("the {}", self.name),
        }
    }
}

/// The place on the path from which the craft just comes home.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NoReturn {
    /// Policy index.
    pub policy: usize,
    /// Distance flown; `None`: home can be reached from everywhere on the path.
    pub distance_m: Option<f64>,
    /// Place then: x, y, height above home.
    pub place_m: Option<[f64; 3]>,
    /// Best return speed there into that wind.
    #[serde(deserialize_with = "nullable")]
    pub best_speed_mps: f64,
    /// Wind along the way home at the return height, head positive.
    #[serde(deserialize_with = "nullable")]
    pub headwind_mps: f64,
}

/// A return: of a policy's chain, or by a low pack.
pub(super) struct Returning {
    policy: Option<usize>,
    pub(super) first: bool,
    name: String,
    key: String,
    pub(super) way: Way,
}

impl Returning {
    /// All: those of policies in the order of their chains, then what a low pack does.
    pub(super) fn all(world: &World) -> Vec<Returning> {
        let mut found = Vec::new();
        for (index, policy) in world.scenario.policies.iter().enumerate() {
            for (count, (step, way)) in Way::all_of(policy).into_iter().enumerate() {
                let nth = if count > 0 { format!(", action {}", step + 1) } else { String::new() };
                found.push(Returning {
                    policy: Some(index),
                    first: count == 0,
                    name: format!("{}{nth}", policy.name),
                    key: format!("policy[{index}].action[{step}].return"),
                    way,
                });
            }
        }
        let pack = &world.low_pack;
        for (name, key, act) in [
            ("low pack at its warning", "craft.battery.at_warning", &pack.at_warning),
            ("low pack at its limit", "craft.battery.at_limit", &pack.at_limit),
        ] {
            let ways = act.iter().flat_map(Way::all_of);
            found.extend(ways.map(|(_, way)| Returning {
                policy: None,
                first: false,
                name: name.into(),
                key: key.into(),
                way,
            }));
        }
        found
    }
}

pub(super) fn no_return(energy: &HomeEnergy, points: &[PathEnergy], returning: &[Returning]) -> Vec<NoReturn> {
    returning
        .iter()
        .enumerate()
        .filter(|(_, one)| one.first)
        .filter_map(|(slot, one)| {
            let last = energy.last_point(points, slot, 0.0);
            let place_m = last.map_or_else(
                || {
                    points.iter().map(|p| p.place_m).fold(energy.home_m, |a, b| {
                        if length(a, energy.home_m) >= length(b, energy.home_m) { a } else { b }
                    })
                },
                |last| last.place_m,
            );
            let highest_z_m = points.iter().map(|p| p.place_m[2]).fold(f64::NEG_INFINITY, f64::max);
            let best = energy.best_speed(&one.way, place_m, highest_z_m);
            Some(NoReturn {
                policy: one.policy?,
                distance_m: last.map(|last| last.flown_m),
                place_m: last.map(|last| [last.place_m[0], last.place_m[1], last.place_m[2] - energy.home_m[2]]),
                best_speed_mps: best.map_or(f64::NAN, |best| best.ground_mps),
                headwind_mps: best.map_or(f64::NAN, |best| best.headwind_mps),
            })
        })
        .collect()
}

/// The way home that a return flies from every place of the path; `slot` is its place among those that `points` know of.
pub(super) fn way_home(
    world: &World,
    energy: &HomeEnergy,
    points: &[PathEnergy],
    slot: usize,
    returning: &Returning,
) -> WayHome {
    let home = world.home_m;
    let mut found = WayHome {
        policy: returning.policy,
        first: returning.first,
        name: returning.name.clone(),
        key: returning.key.clone(),
        from: returning.way.height.from,
        clearance_m: f64::INFINITY,
        from_m: home,
        height_m: f64::NEG_INFINITY,
        least_height_m: f64::INFINITY,
        above_ground_m: f64::NEG_INFINITY,
        charge_needed_pct: 0.0,
    };
    let mut highest_z_m = f64::NEG_INFINITY;
    let away_m = |p: [f64; 3]| Straight::between(p, home).length_m();
    // Within the home circle it comes down where it is, unless the whole path lies there.
    let circle_m = returning.way.home_circle_m;
    let all_near = points.iter().all(|point| away_m(point.place_m) <= circle_m);
    for point in points {
        let p = point.place_m;
        highest_z_m = highest_z_m.max(p[2]);
        found.charge_needed_pct = match point.home[slot] {
            Some(need) if !found.charge_needed_pct.is_nan() => found.charge_needed_pct.max(100.0 * need.charge),
            _ => f64::NAN,
        };
        if away_m(p) <= circle_m && !all_near {
            continue;
        }
        let mut flown = Profile::from(energy, &returning.way, p, highest_z_m);
        for [x, y] in Straight::between(p, home).every(world.grid.cell_m.max(1.0)) {
            let (z_m, ground_m) = (flown.at([x, y]), world.grid.ground_m(x, y));
            found.height_m = found.height_m.max(z_m - home[2]);
            found.least_height_m = found.least_height_m.min(z_m - home[2]);
            found.above_ground_m = found.above_ground_m.max(z_m - ground_m);
            let room_m = z_m - world.grid.surface_m(x, y);
            if room_m < found.clearance_m {
                (found.clearance_m, found.from_m) = (room_m, above_home(world, p));
            }
        }
    }
    found
}

/// The height at which a return flies along its straight way home: where it climbs on the way, sinks to its height or follows the
/// ground, no faster than the craft does.
struct Profile<'e> {
    energy: &'e HomeEnergy<'e>,
    way: &'e Way,
    /// The level, unless it follows the ground.
    level_z_m: f64,
    started_z_m: f64,
    /// z and place reached.
    z_m: f64,
    at_m: [f64; 2],
    /// Greatest change of height per metre, up and down.
    up: f64,
    down: f64,
}

impl<'e> Profile<'e> {
    fn from(energy: &'e HomeEnergy<'e>, way: &'e Way, place_m: [f64; 3], highest_z_m: f64) -> Profile<'e> {
        let speed_mps = way.speed_mps.unwrap_or(energy.cruise_mps);
        let mut profile = Profile {
            energy,
            way,
            level_z_m: energy.transit_z_m(way, place_m, highest_z_m),
            started_z_m: place_m[2],
            z_m: place_m[2],
            at_m: [place_m[0], place_m[1]],
            up: energy.mover.climb_max_mps / speed_mps,
            down: energy.mover.descent_max_mps / speed_mps,
        };
        if way.climbs_before {
            profile.z_m = profile.z_m.max(profile.level_at(profile.at_m));
        }
        profile
    }

    fn level_at(&self, [x, y]: [f64; 2]) -> f64 {
        match self.way.height.from {
            HeightFrom::Ground => {
                let ground_m = self.energy.grid.ground_m(x, y);
                self.way.height.level_m(self.started_z_m, self.energy.home_m[2], self.started_z_m, ground_m)
            }
            _ => self.level_z_m,
        }
    }

    /// On at the next place of the way.
    fn at(&mut self, place_m: [f64; 2]) -> f64 {
        let by_m = distance_m(self.at_m, place_m);
        self.z_m += (self.level_at(place_m) - self.z_m).clamp(-self.down * by_m, self.up * by_m);
        self.at_m = place_m;
        self.z_m
    }
}

/// What stands within this distance of a straight way home is within its reach. Estimate: a fix that jumps, a gust, a home point set
/// beside home.
const REACH_M: f64 = 50.0;

/// The tallest thing within reach of the straight ways home.
pub(super) struct Tallest {
    /// In words.
    pub(super) what: String,
    /// Above home.
    pub(super) top_m: f64,
}

/// Looks along the straight ways home from all places of the path; `None`: nothing rises above home there.
pub(super) fn tallest_in_reach(world: &World) -> Option<Tallest> {
    let (grid, home) = (&world.grid, world.home_m);
    let step_m = grid.cell_m.max(5.0);
    let beside = (REACH_M / step_m).floor() as i32;
    let (mut top_z_m, mut at_m) = (home[2], [home[0], home[1]]);
    for at in world.path.every(2.0 * PATH_STEP_M) {
        let way = Straight::between(at.place_m, home);
        let [ahead_x, ahead_y] = way.direction();
        for [x, y] in way.every(step_m) {
            for k in -beside..=beside {
                let by_m = f64::from(k) * step_m;
                let place_m = [x - by_m * ahead_y, y + by_m * ahead_x];
                let z_m = grid.top_m(place_m[0], place_m[1]);
                if z_m > top_z_m {
                    (top_z_m, at_m) = (z_m, place_m);
                }
            }
        }
    }
    let top_m = top_z_m - home[2];
    let near = |area: &crate::site::Area| area.distance_m(at_m) <= grid.cell_m;
    let stands = grid.top_m(at_m[0], at_m[1]) > grid.ground_m(at_m[0], at_m[1]) + 0.5;
    let obstacle = world.scenario.site.obstacles.iter().rev().find(|obstacle| stands && near(&obstacle.area));
    let what = match obstacle {
        Some(obstacle) if !obstacle.name.is_empty() => obstacle.name.clone(),
        Some(_) => format!("an obstacle at x {:.0}, y {:.0}", at_m[0], at_m[1]),
        None => format!("the ground at x {:.0}, y {:.0}", at_m[0], at_m[1]),
    };
    (top_m > 0.0).then_some(Tallest { what, top_m })
}

/// A way home strays this far from the straight line. Estimate: a fix a few metres wrong, and a turn in the wind.
const STRAYS_M: f64 = 10.0;

/// What the straight ways home from all places of the path ask of a return height, measured as the policy measures it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaysHome {
    /// Above what heights are, in words.
    pub measured_from: &'static str,
    /// Tallest thing on the ways, or as far beside as a way strays.
    pub tallest_m: f64,
    /// Greatest height that keeps under both ceilings: that above the take-off spot, and that above the ground.
    pub ceiling_m: f64,
}

impl WaysHome {
    /// Looks along the ways of a policy, in all worlds that the site may be; one that does not return is measured above home.
    pub fn of(world: &World, policy: &Policy) -> WaysHome {
        let height = policy.actions.iter().find_map(|action| match &action.kind {
            ActionKind::Return { height, .. } => Some(height.from),
            _ => None,
        });
        let from = height.unwrap_or(HeightFrom::Home);
        let measured_from = match from {
            HeightFrom::Home => "home",
            HeightFrom::Here => "where the link went",
            HeightFrom::Path => "the highest point flown",
            HeightFrom::Ground => "the ground below",
        };
        let mut ways = WaysHome { measured_from, tallest_m: 0.0, ceiling_m: f64::INFINITY };
        for world in std::iter::once(world).chain(&world.family) {
            ways.look(world, from);
        }
        ways
    }

    fn look(&mut self, world: &World, from: HeightFrom) {
        let (site, home, step_m) = (&world.scenario.site, world.home_m, world.grid.cell_m.max(1.0));
        let mut highest_m = f64::NEG_INFINITY;
        for at in world.path.every(PATH_STEP_M) {
            let p = at.place_m;
            highest_m = highest_m.max(p[2]);
            let way = Straight::between(p, home);
            let [ahead_x, ahead_y] = way.direction();
            for [x, y] in way.every(step_m) {
                let ground_m = world.grid.ground_m(x, y);
                let level_m = |beside_m: f64| match from {
                    HeightFrom::Home => home[2],
                    HeightFrom::Here => p[2],
                    HeightFrom::Path => highest_m,
                    // Whoever follows the ground follows that beside the way too.
                    HeightFrom::Ground => beside_m,
                };
                for by_m in [-STRAYS_M, 0.0, STRAYS_M] {
                    let (x, y) = (x - by_m * ahead_y, y + by_m * ahead_x);
                    let above_m = world.grid.top_m(x, y) - level_m(world.grid.ground_m(x, y));
                    self.tallest_m = self.tallest_m.max(above_m);
                }
                let above_home_m = home[2] + site.ceiling_m;
                let most_m = site.ceiling_above_ground_m.map_or(above_home_m, |m| above_home_m.min(ground_m + m));
                self.ceiling_m = self.ceiling_m.min(most_m - level_m(ground_m));
            }
        }
    }
}
