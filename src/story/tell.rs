//! Flies a flight again under each policy and puts it into words.

use super::branch::branch;
use super::compared::compared;
use super::shared::shared;
use super::told::{Cut, CutPoint, Draft, PolicyStory, Sentence, Story, Told};
use super::words::{between, length, level, span};
use crate::failsafe::Policy;
use crate::flight::{Flags, LossMoment, Luck, Trace, Workshop, record};
use crate::plan::{SiteWind, site_map};
use crate::world::World;
use rayon::prelude::*;

/// Steps of the cut: finer than a figure shows.
const CUT_STEPS: u32 = 300;

/// Tells one flight of a world under these policies, with the same luck; `picked` says why this one. The traces have a row about
/// every `every_s` seconds.
///
/// ```
/// use lostlink::{Scenario, World, tell};
///
/// let scenario = Scenario::from_file("scenarios/club-field.toml")?;
/// let world = World::for_flight(scenario, 3)?;
/// let told = tell(&world, 3, "the third", &world.scenario.policies, 0.2);
/// for sentence in told.story.sentences() {
///     println!("{} {}", sentence.number, sentence.text);
/// }
/// assert_eq!(told.story.policies.len(), told.traces.len());
/// # Ok::<(), lostlink::Error>(())
/// ```
pub fn tell(world: &World, flight: u32, picked: &str, policies: &[Policy], every_s: f64) -> Told {
    let own = world.of_flight(flight);
    let mut traces: Vec<Trace> = policies.par_iter().map(|policy| record(own, flight, policy, every_s)).collect();
    let luck = Luck::new(own, &mut Workshop::default(), flight);
    let lost = traces.first().and_then(|trace| trace.loss);
    if lost.is_none() {
        // Without a loss all are one flight.
        traces.truncate(1);
    }
    let mut count = 0;
    let mut numbered = |drafts: Vec<Draft>| -> Vec<Sentence> {
        let sentence = |Draft { time_s, about, text }| {
            count += 1;
            Sentence { number: count, time_s, about, text }
        };
        drafts.into_iter().map(sentence).collect()
    };
    let first = traces.first().map(|trace| in_order(shared(own, &luck, trace))).unwrap_or_default();
    let shared = numbered(first);
    let told = |(policy, trace): (&Policy, &Trace)| {
        let fault = trace.ending.is_none_or(|ending| ending.flags.has(Flags::FAULT));
        let headline = trace.ending.map(|ending| ending.headline).filter(|_| !fault);
        PolicyStory {
            name: policy.name.clone(),
            words: policy.in_words(),
            headline,
            tier: headline.map(|headline| headline.tier()),
            outcome: trace.headline.clone(),
            ended_at_s: trace.rows.last().map_or(0.0, |row| row.time_s),
            sentences: numbered(branch(own, &luck.presence, policy, trace)),
        }
    };
    let policies: Vec<PolicyStory> =
        if lost.is_some() { policies.iter().zip(&traces).map(told).collect() } else { Vec::new() };
    let compared = numbered(compared(own, &policies, &traces));
    let scenario = &world.scenario;
    let story = Story {
        title: scenario.title.clone(),
        invented: scenario.invented,
        scenario_hash: scenario.hash.clone(),
        seed: scenario.seed,
        flight,
        picked: picked.into(),
        answer: answer(&traces, &policies),
        lost_at_s: lost.map(|moment| moment.time_s),
        shared,
        policies,
        compared,
    };
    let mut map = site_map(own);
    let weather = &luck.drawn.weather;
    map.wind = SiteWind { speed_mps: weather.wind_mps, from_rad: weather.from_deg.to_radians(), ..map.wind };
    let cut = Cut { direction: cut_direction(own, lost.as_ref()), points: Vec::new() };
    let mut told = Told { story, traces, cut, map };
    told.cut.points = cut_points(own, &told);
    told
}

/// From the take-off spot towards the place of the loss.
fn cut_direction(world: &World, lost: Option<&LossMoment>) -> [f64; 2] {
    let home_m = level(world.home_m);
    let way = between(home_m, lost.map_or(home_m, |moment| level(moment.place_m.map(f64::from))));
    let way_m = length(way);
    // Over the take-off spot any direction serves.
    if way_m > 1.0 { [way[0] / way_m, way[1] / way_m] } else { [1.0, 0.0] }
}

/// What stands along the cut, as far as anything is flown beside it.
fn cut_points(world: &World, told: &Told) -> Vec<CutPoint> {
    let (home_m, direction) = (level(world.home_m), told.cut.direction);
    let (mut from_m, mut to_m) = (0f64, 0f64);
    for row in told.traces.iter().flat_map(|trace| told.watched(trace)) {
        let along_m = told.along_m(row.place_m);
        (from_m, to_m) = (from_m.min(along_m), to_m.max(along_m));
    }
    let pad_m = 0.05 * (to_m - from_m) + 5.0;
    let (from_m, step_m) = (from_m - pad_m, (to_m - from_m + 2.0 * pad_m) / f64::from(CUT_STEPS));
    let point = |k: u32| {
        let along_m = from_m + f64::from(k) * step_m;
        let [x, y] = [0, 1].map(|axis| home_m[axis] + along_m * direction[axis]);
        CutPoint { along_m, surface_m: world.grid.surface_m(x, y) - world.home_m[2] }
    };
    (0..=CUT_STEPS).map(point).collect()
}

/// In time order, what holds throughout first.
fn in_order(mut drafts: Vec<Draft>) -> Vec<Draft> {
    let key = |draft: &Draft| draft.time_s.unwrap_or(f64::NEG_INFINITY);
    drafts.sort_by(|a, b| key(a).total_cmp(&key(b)));
    drafts
}

fn answer(traces: &[Trace], policies: &[PolicyStory]) -> String {
    let Some(trace) = traces.first() else { return String::new() };
    let Some(moment) = &trace.loss else {
        return format!("In this flight the link was never lost. Outcome: {}.", trace.headline);
    };
    let ends: Vec<String> = policies.iter().map(|policy| format!("\"{}\": {}", policy.name, policy.outcome)).collect();
    format!(
        "The link was called lost {} after take-off: {}. With the same luck, the policies ended as follows: {}.",
        span(moment.time_s),
        moment.cause.label(),
        ends.join("; ")
    )
}
