//! Return heights compared: the same flights under one policy flown home at many heights.

use super::heights::{HeightsTally, SweepFacts, SweptHeight};
use super::run::fly_all;
use super::summary::Heights;
use crate::failsafe::{ActionKind, Policy};
use crate::plan::ways::{ceiling_on_ways_home_m, link_shadow_below_m, tallest_on_ways_home_m};
use crate::world::{World, WorldError};

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
