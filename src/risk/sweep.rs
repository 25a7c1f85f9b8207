//! Return heights compared: the same flights under one policy flown home at many heights.

use super::choice::Choice;
use super::heights::{HeightsTally, ROUND_M, SweepFacts, SweptHeight};
use super::run::fly_all;
use super::summary::Heights;
use super::tally::Tally;
use super::words::named;
use crate::failsafe::{ActionKind, Policy};
use crate::flight::FlightOutcome;
use crate::plan::ways::WaysHome;
use crate::world::{World, WorldError};

/// The policy flown home at every height (and speed).
pub fn variants(policy: &Policy, heights_m: &[f64], speeds_mps: &[f64]) -> (Vec<Policy>, Vec<SweptHeight>) {
    let speeds: Vec<Option<f64>> =
        if speeds_mps.is_empty() { vec![None] } else { speeds_mps.iter().copied().map(Some).collect() };
    let mut policies = Vec::new();
    let mut swept = Vec::new();
    for &height_m in heights_m {
        for &speed_mps in &speeds {
            let Some(mut changed) = policy.with_height(height_m) else { continue };
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

/// Heights to try: from one to the other, a multiple of 5 m apart, and at most so many.
pub fn heights_between(from_m: f64, to_m: f64, most: u32) -> Vec<f64> {
    let span_m = (to_m - from_m).max(0.0);
    let step_m = (span_m / f64::from(most.max(2) - 1) / ROUND_M).ceil().max(1.0) * ROUND_M;
    let count = ((span_m + 1e-9) / step_m).floor() as u32;
    (0..=count).map(|k| from_m + step_m * f64::from(k)).collect()
}

/// Flies the sweep, and the scenario's own policies with it: where none of those left by the choice returns, that is told first.
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
    let scenario = &world.scenario;
    let (mut policies, swept) = variants(policy, heights_m, speeds_mps);
    let varied = policies.len();
    policies.extend(scenario.policies.iter().cloned());
    let swept_world = world.with_policies(policies)?;
    let judge = &scenario.judge;
    let mut tally = HeightsTally::new(&swept);
    let mut own = Tally::new(&scenario.policies, judge, "", scenario.craft.radius_m);
    let flown: Result<(), std::convert::Infallible> = fly_all(&swept_world, 0..flights, done, &mut |mut outcome| {
        let of_own = outcome.endings.split_off(varied.min(outcome.endings.len()));
        tally.push(&outcome);
        own.push(&FlightOutcome { endings: of_own, ..outcome });
        Ok(())
    });
    let Ok(()) = flown;
    let ways = WaysHome::of(world, policy);
    Ok(tally.finish(&SweepFacts {
        title: scenario.title.clone(),
        invented: scenario.invented,
        scenario_hash: scenario.hash.clone(),
        policy: policy.name.clone(),
        measured_from: ways.measured_from,
        seed: scenario.seed,
        tallest_m: ways.tallest_m,
        clearance_m: judge.clearance_m,
        ceiling_m: ways.ceiling_m,
        first: against_returning(own.finish().verdict.choice, &scenario.policies),
        matters: judge.matters,
        confidence: judge.confidence,
    }))
}

/// What is said when none of the policies left returns.
fn against_returning(choice: Choice, policies: &[Policy]) -> Option<String> {
    let returns = |&policy: &usize| policies[policy].returns();
    if choice.left.iter().any(returns) || !choice.ranking.iter().any(returns) {
        return None;
    }
    let names: Vec<&str> = choice.left.iter().map(|&policy| policies[policy].name.as_str()).collect();
    let verb = if names.len() == 1 { "is" } else { "are" };
    Some(format!(
        "On these flights the choice among the scenario's policies sets every way home aside: {} {verb} left. What follows compares \
         heights for those who return all the same.",
        named(&names)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::failsafe::{Action, Fallback, Guards, ReturnHeight};

    /// The form of the height, guards and chain are those of the policy: the height alone varies.
    #[test]
    fn only_the_height_varies() {
        let action = |kind, guards| Action { kind, guards, otherwise: Fallback::Next, resumes_after_s: Some(4.0) };
        let home = |height| ActionKind::Return {
            height,
            speed_mps: Some(9.0),
            home_circle_m: 6.0,
            climbs_before: false,
            level_within_m: 30.0,
        };
        let guards = Guards { reserve_pct: Some(10.0), ..Guards::default() };
        for form in [
            ReturnHeight::at_least_m(20.0),
            ReturnHeight::exactly_m(20.0),
            ReturnHeight::above_ground_m(20.0),
            ReturnHeight::above_path_m(20.0),
            ReturnHeight::here(),
        ] {
            let chain = |height| Policy {
                name: "p".into(),
                actions: vec![
                    action(ActionKind::Hold { for_s: 2.0 }, Guards::default()),
                    action(home(height), guards),
                    action(ActionKind::Land { sink_mps: None }, Guards::default()),
                ],
            };
            let (varied, swept) = variants(&chain(form), &[35.0, 60.0], &[]);
            assert_eq!(varied, [35.0, 60.0].map(|up_m| chain(ReturnHeight { up_m, ..form })));
            assert_eq!(swept.len(), 2);
        }
    }

    #[test]
    fn heights_tried_are_a_multiple_of_five_metres_apart() {
        assert_eq!(heights_between(10.0, 130.0, 25).len(), 25);
        assert_eq!(heights_between(10.0, 120.0, 12), (1..=12).map(|k| 10.0 * f64::from(k)).collect::<Vec<_>>());
        assert_eq!(heights_between(20.0, 41.0, 200), [20.0, 25.0, 30.0, 35.0, 40.0]);
        assert_eq!(heights_between(20.0, 20.0, 7), [20.0]);
    }
}
