//! The policies held against each other, once all have ended.

use super::told::{About, Draft, PolicyStory};
use super::words::{energy, level, lies, span_between};
use crate::flight::{Tier, Trace};
use crate::risk::words::named;
use crate::world::World;

/// What is said of all of them: best first, then what parts the best from the worst.
pub(super) fn compared(world: &World, policies: &[PolicyStory], traces: &[Trace]) -> Vec<Draft> {
    let mut order: Vec<(&PolicyStory, &Trace)> = policies.iter().zip(traces).collect();
    // Worst first in the list of headlines; within one, whoever was down later stands later.
    order.sort_by(|a, b| b.0.headline.cmp(&a.0.headline).then(a.0.ended_at_s.total_cmp(&b.0.ended_at_s)));
    let mut told: Vec<Draft> = order.iter().filter_map(|(policy, trace)| one(world, policy, trace)).collect();
    if policies.len() > 1 && policies.iter().all(|policy| policy.headline.is_some()) {
        told.push(Draft::throughout(About::Compared, ranked(&order)));
        told.push(Draft::throughout(About::Compared, scale(world, &order)));
    }
    told
}

/// Who ended best and who worst, all those that share the level named.
fn ranked(order: &[(&PolicyStory, &Trace)]) -> String {
    let tiers = || order.iter().filter_map(|(policy, _)| policy.tier).filter(|tier| *tier != Tier::NotSettled);
    let at = |tier: Tier| -> String {
        let alike = order.iter().filter(|(policy, _)| policy.tier == Some(tier));
        named(&alike.map(|(policy, _)| policy.name.as_str()).collect::<Vec<_>>())
    };
    let mut text = match (tiers().max(), tiers().min()) {
        (Some(best), Some(worst)) if best != worst => format!(
            "Best here: {} ({}). Worst: {} ({}). Another loss may reverse that: only the shares over many flights tell \
             which policy to choose.",
            at(best),
            best.label(),
            at(worst),
            worst.label()
        ),
        (Some(all), _) => {
            format!(
                "In this loss all ended on one level: {} ({}). That says nothing about other losses.",
                at(all),
                all.label()
            )
        }
        _ => "None of them has settled.".into(),
    };
    if tiers().next().is_some() && order.iter().any(|(policy, _)| policy.tier == Some(Tier::NotSettled)) {
        text += &format!(" Not settled: {}.", at(Tier::NotSettled));
    }
    text
}

/// The levels, what parts those of danger, and what does not count.
fn scale(world: &World, order: &[(&PolicyStory, &Trace)]) -> String {
    let levels: Vec<&str> = Tier::ALL.into_iter().filter(|tier| *tier != Tier::NotSettled).map(Tier::label).collect();
    let hard = world.scenario.judge.hard;
    let mut text = format!(
        "The levels, worst first: {}. What comes down counts as hard among others with more than {} J, among the crew with more than {} J.",
        levels.join(", "),
        hard.others_j,
        hard.crew_j
    );
    let passed = order.iter().filter(|(_, trace)| trace.ending.is_some_and(|ending| ending.over_people_s > 0.0));
    let passed: Vec<&str> = passed.map(|(policy, _)| policy.name.as_str()).collect();
    if !passed.is_empty() {
        text += &format!(
            " Passing over people or close to them does not count in this; it happened under {}.",
            named(&passed)
        );
    }
    text
}

fn one(world: &World, policy: &PolicyStory, trace: &Trace) -> Option<Draft> {
    let (ending, row) = (trace.ending.as_ref()?, trace.rows.last()?);
    policy.headline?;
    let text = format!(
        "\"{}\": {}, {} after the loss, {}, with up to {} at the ground.",
        policy.name,
        policy.outcome,
        span_between(trace.lost_at_s?, row.time_s),
        lies(level(world.home_m), level(row.place_m), "the take-off spot"),
        energy(f64::from(ending.energy_below_j)),
    );
    Some(Draft::throughout(About::Compared, text))
}
