//! Ways home, worked out along the planned path.

use super::above_home;
use super::along::PathEnergy;
use super::middle_link::MiddleLink;
use crate::geometry::Frame;
use crate::units::nullable;
use crate::world::{HomeEnergy, Straight, Way, World, length};
use serde::{Deserialize, Serialize};

/// The link counts as in shadow when its mean margin on the way home is under this. Estimate: about what fading
/// takes from one packet in ten.
const SHADOW_MARGIN_DB: f64 = 6.0;

/// Distance along the path between places that ways home are looked at from.
const PATH_STEP_M: f64 = 10.0;

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

/// Greatest height above home at which a level way home from anywhere on the path keeps under both ceilings: that above the
/// take-off spot, and that above the ground where the ground is lowest.
pub fn ceiling_on_ways_home_m(world: &World) -> f64 {
    let site = &world.scenario.site;
    let Some(above_ground_m) = site.ceiling_above_ground_m else { return site.ceiling_m };
    let ground_m = on_ways_home(world).map(|[x, y]| world.grid.ground_m(x, y) - world.home_m[2]);
    let lowest_m = ground_m.fold(f64::INFINITY, f64::min);
    site.ceiling_m.min(lowest_m + above_ground_m)
}

/// Tallest thing, above home, on the straight ways home from all places of the path.
pub fn tallest_on_ways_home_m(world: &World) -> f64 {
    on_ways_home(world).map(|[x, y]| world.grid.surface_m(x, y) - world.home_m[2]).fold(0.0, f64::max)
}

/// Places, about a cell apart, on the straight ways home from all places of the path.
fn on_ways_home(world: &World) -> impl Iterator<Item = [f64; 2]> + '_ {
    let step_m = world.grid.cell_m.max(1.0);
    world.path.every(PATH_STEP_M).flat_map(move |at| Straight::between(at.place_m, world.home_m).every(step_m))
}

/// Lowest swept height at and above which the mean link holds on all ways home; `None` when it holds at the lowest.
pub fn link_shadow_below_m(world: &World, heights_m: &[f64]) -> Option<f64> {
    let link = MiddleLink::of(world);
    let home = world.home_m;
    let spots: Vec<[f64; 3]> = world.path.every(PATH_STEP_M).map(|at| at.place_m).collect();
    let in_shadow = |height_m: f64| {
        spots.iter().any(|&p| {
            let body = Frame::level([home[0] - p[0], home[1] - p[1]]);
            Straight::between(p, home).in_parts(8).any(|[x, y]| {
                let place_m = [x, y, home[2] + height_m];
                place_m[2] > world.grid.ground_m(x, y) + 1.0 && link.quiet(place_m, &body).margin_db < SHADOW_MARGIN_DB
            })
        })
    };
    heights_m.iter().rev().copied().find(|&height_m| in_shadow(height_m))
}
