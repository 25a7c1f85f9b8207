//! Ways home, worked out along the planned path.

use super::above_home;
use super::along::PathEnergy;
use crate::failsafe::{ActionKind, HeightFrom, Policy};
use crate::units::nullable;
use crate::world::{HomeEnergy, Straight, Way, World, length};
use serde::{Deserialize, Serialize};

/// Distance along the path between places that are looked at, and that ways home are looked at from.
pub(super) const PATH_STEP_M: f64 = 10.0;

/// The way home of one policy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayHome {
    /// Policy index.
    pub policy: usize,
    /// Policy name.
    pub name: String,
    /// Least height of the straight way home above what stands below it, over all places of the path.
    pub clearance_m: f64,
    /// Place on the path from which that is so.
    pub from_m: [f64; 3],
    /// Greatest height above home on the way.
    pub height_m: f64,
    /// Least height above home at which a way home is flown.
    pub least_height_m: f64,
    /// Greatest charge needed to come home from the path, per cent; NaN when it cannot from somewhere.
    pub charge_needed_pct: f64,
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

/// A policy that returns.
pub(super) struct Returning<'p> {
    policy: usize,
    name: &'p str,
    pub(super) way: Way,
}

impl Returning<'_> {
    /// All of a world.
    pub(super) fn all(world: &World) -> Vec<Returning<'_>> {
        let policies = world.scenario.policies.iter().enumerate();
        policies
            .filter_map(|(index, policy)| Some(Returning { policy: index, name: &policy.name, way: Way::of(policy)? }))
            .collect()
    }
}

pub(super) fn no_return(energy: &HomeEnergy, points: &[PathEnergy], returning: &[Returning]) -> Vec<NoReturn> {
    returning
        .iter()
        .enumerate()
        .map(|(slot, one)| {
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
            NoReturn {
                policy: one.policy,
                distance_m: last.map(|last| last.flown_m),
                place_m: last.map(|last| [last.place_m[0], last.place_m[1], last.place_m[2] - energy.home_m[2]]),
                best_speed_mps: best.map_or(f64::NAN, |best| best.ground_mps),
                headwind_mps: best.map_or(f64::NAN, |best| best.headwind_mps),
            }
        })
        .collect()
}

pub(super) fn way_home(
    world: &World,
    energy: &HomeEnergy,
    points: &[PathEnergy],
    slot: usize,
    returning: &Returning,
) -> WayHome {
    let home = world.home_m;
    let (mut clearance_m, mut from_m) = (f64::INFINITY, home);
    let (mut height_m, mut least_height_m) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut highest_z_m = f64::NEG_INFINITY;
    let mut charge_needed_pct: f64 = 0.0;
    for point in points {
        let p = point.place_m;
        highest_z_m = highest_z_m.max(p[2]);
        let transit_z_m = energy.transit_z_m(&returning.way, p, highest_z_m);
        height_m = height_m.max(transit_z_m - home[2]);
        least_height_m = least_height_m.min(transit_z_m - home[2]);
        for [x, y] in Straight::between(p, home).every(world.grid.cell_m.max(1.0)) {
            let room_m = transit_z_m - world.grid.surface_m(x, y);
            if room_m < clearance_m {
                (clearance_m, from_m) = (room_m, above_home(world, p));
            }
        }
        charge_needed_pct = match point.home[slot] {
            Some(need) if !charge_needed_pct.is_nan() => charge_needed_pct.max(100.0 * need.charge),
            _ => f64::NAN,
        };
    }
    let (policy, name) = (returning.policy, returning.name.into());
    WayHome { policy, name, clearance_m, from_m, height_m, least_height_m, charge_needed_pct }
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
