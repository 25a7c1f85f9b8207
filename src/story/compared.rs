//! The policies held against each other, once all have ended.

use super::told::{About, Draft, PolicyStory};
use super::words::{energy, level, lies, span};
use crate::flight::Trace;
use crate::risk::words::named;
use crate::world::World;

/// What is said of all of them: best first, then what parts the best from the worst.
pub(super) fn compared(world: &World, policies: &[PolicyStory], traces: &[Trace]) -> Vec<Draft> {
    let mut order: Vec<(&PolicyStory, &Trace)> = policies.iter().zip(traces).collect();
    // Worst first in the list of headlines; within one, whoever was down later stands later.
    order.sort_by(|a, b| b.0.headline.cmp(&a.0.headline).then(a.0.ended_at_s.total_cmp(&b.0.ended_at_s)));
    let mut told: Vec<Draft> = order.iter().filter_map(|(policy, trace)| one(world, policy, trace)).collect();
    let headlines: Vec<_> = order.iter().filter_map(|(policy, _)| policy.headline).collect();
    if policies.len() < 2 || headlines.len() < policies.len() {
        return told;
    }
    let text = if headlines.iter().all(|headline| *headline == headlines[0]) {
        "All policies ended alike in this loss. That says nothing about other losses.".into()
    } else {
        let at = |headline| -> Vec<&str> {
            let alike = order.iter().filter(|(policy, _)| policy.headline == Some(headline));
            alike.map(|(policy, _)| policy.name.as_str()).collect()
        };
        let (best, worst) = (headlines[0], headlines[headlines.len() - 1]);
        format!(
            "Best here: {} ({}). Worst: {} ({}). Another loss may reverse that: only the shares over many flights \
             tell which policy to choose.",
            named(&at(best)),
            best.label(),
            named(&at(worst)),
            worst.label(),
        )
    };
    told.push(Draft::throughout(About::Compared, text));
    told
}

fn one(world: &World, policy: &PolicyStory, trace: &Trace) -> Option<Draft> {
    let (ending, row) = (trace.ending.as_ref()?, trace.rows.last()?);
    policy.headline?;
    let text = format!(
        "\"{}\": {}, {} after the loss, {}, with up to {} at the ground.",
        policy.name,
        policy.outcome,
        span(f64::from(ending.time_to_end_s)),
        lies(level(world.home_m), level(row.place_m), "the take-off spot"),
        energy(f64::from(ending.energy_below_j)),
    );
    Some(Draft::throughout(About::Compared, text))
}
