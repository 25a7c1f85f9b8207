//! Ways home, worked out along the planned path.

use super::above_home;
use super::along::PathEnergy;
use crate::units::nullable;
use crate::world::{HomeEnergy, Way, World, length};
use serde::{Deserialize, Serialize};

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

pub(super) fn no_return(energy: &HomeEnergy, points: &[PathEnergy], returning: &[(usize, Way)]) -> Vec<NoReturn> {
    returning
        .iter()
        .enumerate()
        .map(|(slot, (policy, way))| {
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
            let best = energy.best_speed(way, place_m, highest_z_m);
            NoReturn {
                policy: *policy,
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
    policy: usize,
    way: &Way,
    name: &str,
) -> WayHome {
    let home = world.home_m;
    let (mut clearance_m, mut from_m) = (f64::INFINITY, home);
    let (mut height_m, mut least_height_m) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut highest_z_m = f64::NEG_INFINITY;
    let mut charge_needed_pct: f64 = 0.0;
    for point in points {
        let p = point.place_m;
        highest_z_m = highest_z_m.max(p[2]);
        let transit_z_m = energy.transit_z_m(way, p, highest_z_m);
        height_m = height_m.max(transit_z_m - home[2]);
        least_height_m = least_height_m.min(transit_z_m - home[2]);
        let far_m = ((p[0] - home[0]) * (p[0] - home[0]) + (p[1] - home[1]) * (p[1] - home[1])).sqrt();
        let steps = (far_m / world.grid.cell_m.max(1.0)).ceil().max(1.0) as usize;
        for k in 0..=steps {
            let share = k as f64 / steps as f64;
            let (x, y) = (p[0] + share * (home[0] - p[0]), p[1] + share * (home[1] - p[1]));
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
    WayHome { policy, name: name.into(), clearance_m, from_m, height_m, least_height_m, charge_needed_pct }
}
