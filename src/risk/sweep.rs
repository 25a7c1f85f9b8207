//! Return heights compared: the same flights under one policy flown home at many heights.

use super::heights::{HeightsTally, SweepFacts, SweptHeight};
use super::run::fly_all;
use super::summary::Heights;
use crate::failsafe::{ActionKind, Policy};
use crate::geometry::Frame;
use crate::plan::MiddleLink;
use crate::world::{World, WorldError};

/// The link counts as in shadow when its mean margin on the way home is under this. Estimate: about what fading
/// takes from one packet in ten.
const SHADOW_MARGIN_DB: f64 = 6.0;

/// The policy flown home at every height (and speed).
pub fn variants(policy: &Policy, heights_m: &[f64], speeds_mps: &[f64]) -> (Vec<Policy>, Vec<SweptHeight>) {
    let speeds: Vec<Option<f64>> =
        if speeds_mps.is_empty() { vec![None] } else { speeds_mps.iter().copied().map(Some).collect() };
    let mut policies = Vec::new();
    let mut swept = Vec::new();
    for &height_m in heights_m {
        for &speed_mps in &speeds {
            let Some(mut changed) = policy.at_height(height_m) else { continue };
            for action in &mut changed.actions {
                if let (ActionKind::Return { speed_mps: own, .. }, Some(speed)) = (&mut action.kind, speed_mps) {
                    *own = Some(speed);
                }
            }
            policies.push(changed);
            swept.push(SweptHeight { height_m, speed_mps });
        }
    }
    (policies, swept)
}

/// Flies the sweep.
///
/// # Errors
/// As [`World::new`].
pub fn sweep(
    world: &World,
    policy: &Policy,
    heights_m: &[f64],
    speeds_mps: &[f64],
    flights: u32,
    done: &(dyn Fn(u64) + Sync),
) -> Result<Heights, WorldError> {
    let (policies, swept) = variants(policy, heights_m, speeds_mps);
    let swept_world = world.with_policies(policies)?;
    let judge = &world.scenario.judge;
    let mut tally = HeightsTally::new(&swept);
    let flown: Result<(), std::convert::Infallible> = fly_all(&swept_world, 0..flights, done, &mut |outcome| {
        tally.push(&outcome);
        Ok(())
    });
    let Ok(()) = flown;
    Ok(tally.finish(&SweepFacts {
        title: world.scenario.title.clone(),
        invented: world.scenario.invented,
        scenario_hash: world.scenario.hash.clone(),
        policy: policy.name.clone(),
        seed: world.scenario.seed,
        tallest_m: tallest_on_ways_home_m(world),
        ceiling_m: ceiling_on_ways_home_m(world),
        link_shadow_below_m: link_shadow_below_m(world, heights_m),
        matters: judge.matters_points / 100.0,
        confidence: judge.confidence,
    }))
}

/// Places along the path, about every 10 m.
fn places(world: &World) -> impl Iterator<Item = [f64; 3]> + '_ {
    let steps = (world.path.length_m() / 10.0).ceil().max(1.0) as usize;
    (0..=steps).map(move |k| world.path.at_distance(world.path.length_m() * k as f64 / steps as f64).0)
}

/// Greatest height above home at which a level way home from anywhere on the path keeps under both ceilings: that above the
/// take-off spot, and that above the ground where the ground is lowest.
pub fn ceiling_on_ways_home_m(world: &World) -> f64 {
    let site = &world.scenario.site;
    let Some(above_ground_m) = site.ceiling_above_ground_m else { return site.ceiling_m };
    let mut lowest_m = f64::INFINITY;
    on_ways_home(world, |x, y| lowest_m = lowest_m.min(world.grid.ground_m(x, y) - world.home_m[2]));
    site.ceiling_m.min(lowest_m + above_ground_m)
}

/// Tallest thing, above home, on the straight ways home from all places of the path.
fn tallest_on_ways_home_m(world: &World) -> f64 {
    let mut tallest_m = 0.0_f64;
    on_ways_home(world, |x, y| tallest_m = tallest_m.max(world.grid.surface_m(x, y) - world.home_m[2]));
    tallest_m
}

/// Looks at places, about a cell apart, on the straight ways home from all places of the path.
fn on_ways_home(world: &World, mut look: impl FnMut(f64, f64)) {
    let home = world.home_m;
    for p in places(world) {
        let far_m = ((p[0] - home[0]) * (p[0] - home[0]) + (p[1] - home[1]) * (p[1] - home[1])).sqrt();
        let steps = (far_m / world.grid.cell_m.max(1.0)).ceil().max(1.0) as usize;
        for k in 0..=steps {
            let share = k as f64 / steps as f64;
            let (x, y) = (p[0] + share * (home[0] - p[0]), p[1] + share * (home[1] - p[1]));
            look(x, y);
        }
    }
}

/// Lowest swept height at and above which the mean link holds on all ways home; `None` when it holds at the lowest.
fn link_shadow_below_m(world: &World, heights_m: &[f64]) -> Option<f64> {
    let link = MiddleLink::of(world);
    let home = world.home_m;
    let spots: Vec<[f64; 3]> = places(world).collect();
    let in_shadow = |height_m: f64| {
        spots.iter().any(|p| {
            (0..=8).any(|k| {
                let share = f64::from(k) / 8.0;
                let place = [p[0] + share * (home[0] - p[0]), p[1] + share * (home[1] - p[1]), home[2] + height_m];
                let body = Frame::level([home[0] - p[0], home[1] - p[1]]);
                place[2] > world.grid.ground_m(place[0], place[1]) + 1.0
                    && link.quiet(place, &body).0 < SHADOW_MARGIN_DB
            })
        })
    };
    heights_m.iter().rev().copied().find(|&height_m| in_shadow(height_m))
}
