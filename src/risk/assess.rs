//! The main job: flies a scenario under all policies and gathers the answer.

use super::conditions::{self, ConditionResult};
use super::end_log::EndLog;
use super::faults::is_faulted;
use super::follow::{Early, Follow, Stage};
use super::information::{self, Information, information};
use super::outcome::{Concern, LISTED, loss_words};
use super::picks::Picks;
use super::run::fly_all;
use super::summary::{
    ConditionSummary, MAP_ENDS, OverConditions, SUMMARY_FORMAT, SUMMARY_VERSION, Share, Summary, ToldLoss, WhatIf,
    ZoneSummary,
};
use super::tally::{Tally, TallyResult};
use super::what_if::{self, Base};
use crate::flight::{FlightOutcome, TOLD_EVERY_S, Trace, Workshop, record, tracks};
use crate::plan::{knowledge, site_map, survey};
use crate::scenario::{Scenario, UncertainInput};
use crate::world::{World, WorldError, length};
use rayon::prelude::*;
use std::ops::Range;

/// Flights whose tracks are drawn on the map.
const TRACKS: u32 = 20;

/// Flights per condition: as many as the run, at most those that give half-widths of 2 points or less, which is what a run has when
/// nothing is said. A longer run makes the answer sharper, and not the question whether it would be another one elsewhere.
const CONDITION_FLIGHTS: u32 = 2_000;

/// Flights per what-if bar, as a share of the run's, within limits: a bar shows size and direction, the run itself carries the
/// answer.
const SIDE_SHARE: u32 = 20;
const SIDE_FLIGHTS: (u32, u32) = (200, 1_000);

/// Flights after which a longer run says what they say. Estimate: enough for a first word, and flown within a second.
const EARLY_FLIGHTS: u32 = 256;

/// Most inputs shown as what-if bars.
const BARS: usize = 4;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// Name of the scenario file, for the report.
    pub scenario_name: String,
    /// Command that makes the report again.
    pub command: String,
    /// Flights flown.
    pub flights: Range<u32>,
    /// How that number came about.
    pub flights_rule: String,
    /// Leave out conditions, what would change the answer, and what-if bars.
    pub quick: bool,
}

/// Why an assessment stops.
#[derive(Debug, thiserror::Error)]
pub enum AssessError<E: std::error::Error + 'static> {
    /// The world.
    #[error(transparent)]
    World(#[from] WorldError),
    /// One of the conditions.
    #[error(transparent)]
    Condition(#[from] ConditionError),
    /// Whoever takes the flights.
    #[error(transparent)]
    Sink(E),
}

/// A condition that reads well but cannot be flown.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("condition \"{name}\": {why}")]
pub struct ConditionError {
    /// Its name.
    pub name: String,
    /// Its line in the scenario file.
    pub line: Option<usize>,
    /// Why not.
    pub why: String,
}

/// The world of every condition, each ready to fly under its own policies.
///
/// # Errors
/// The first condition whose world cannot be built or flown.
pub fn condition_worlds(world: &World) -> Result<Vec<World>, ConditionError> {
    let worlds = world.scenario.conditions.iter().map(|condition| {
        let error = |why: String| ConditionError { name: condition.name.clone(), line: condition.line, why };
        World::like(world, (*condition.scenario).clone()).map_err(|why| error(why.to_string()))
    });
    worlds.collect()
}

/// Flights per what-if bar.
pub fn side_flights(flights: u32) -> u32 {
    (flights / SIDE_SHARE).clamp(SIDE_FLIGHTS.0, SIDE_FLIGHTS.1).min(flights)
}

/// Flights per condition.
pub fn condition_flights(flights: u32) -> u32 {
    flights.min(CONDITION_FLIGHTS)
}

/// All flights that an assessment flies at most, for a progress bar.
pub fn work(scenario: &Scenario, ask: &Ask) -> u64 {
    let flights = ask.flights.len() as u64;
    if ask.quick {
        return flights;
    }
    let bars = 2 * BARS as u64 * u64::from(side_flights(flights as u32));
    let conditions = scenario.conditions.len() as u64 * u64::from(condition_flights(flights as u32));
    flights + conditions + bars + information::work(flights as u32)
}

/// Flies and gathers. `follow` hears how far it is; `sink` gets every flight of the main run in order. Nothing flies before every
/// condition is known to be flyable.
///
/// # Errors
/// A world that cannot be built or flown (of the scenario or of one of its conditions), or what `sink` reports.
pub fn assess<E: std::error::Error + 'static>(
    world: &World,
    ask: &Ask,
    follow: &dyn Follow,
    sink: &mut dyn FnMut(&FlightOutcome) -> Result<(), E>,
) -> Result<Summary, AssessError<E>> {
    let scenario = &world.scenario;
    let done = |flown: u64| follow.flown(flown);
    follow.begins(Stage::Worlds);
    let conditions_met = if ask.quick { Vec::new() } else { condition_worlds(world)? };
    let mut tally = new_tally(scenario);
    let mut picks = Picks::of_first(LISTED, world.scenario.policies.len());
    // Of the flights whose tracks are drawn.
    let mut untraced: Vec<u32> = Vec::new();
    let traced = ask.flights.start..ask.flights.end.min(ask.flights.start + TRACKS);
    let mut ends = EndLog::default();
    follow.begins(Stage::Flights);
    let mut counted: u32 = 0;
    fly_all(world, ask.flights.clone(), &done, &mut |outcome| {
        tally.push(&outcome);
        counted += 1;
        if counted == EARLY_FLIGHTS && (counted as usize) < ask.flights.len() {
            follow.early(&early(&tally, ask));
        }
        ends.push(&outcome);
        picks.push(&outcome);
        if traced.contains(&outcome.flight) && is_faulted(&outcome) {
            untraced.push(outcome.flight);
        }
        sink(&outcome)
    })
    .map_err(AssessError::Sink)?;
    follow.begins(Stage::Tables);
    let result = tally.finish();
    let main = ConditionResult::of("as stated", None, &result);
    let TallyResult { flights, loss, faults, mut policies, pairs, verdict, order, .. } = result;

    let traced: Vec<u32> = traced.filter(|flight| !untraced.contains(flight)).collect();
    let drawn = traced.par_iter().map_init(Workshop::default, |workshop, &flight| tracks(world, workshop, flight));
    for drawn in drawn.collect::<Vec<_>>() {
        policies.iter_mut().zip(drawn).for_each(|(policy, track)| policy.tracks_m.push(track));
    }
    debug_assert!(policies.iter().all(|policy| policy.ends.len() <= MAP_ENDS));

    let chosen = verdict.choice.ranking.first().copied().unwrap_or(0);
    let traces = if loss.lost.events > 0 { told(world, &picks, chosen) } else { Vec::new() };
    drop(picks);
    let losses = traces.iter().filter_map(|(what, trace)| told_loss(what, trace, world)).collect();

    follow.begins(Stage::Plan);
    let plan = survey(world);
    let mut summary = Summary {
        format: SUMMARY_FORMAT.into(),
        version: SUMMARY_VERSION,
        program_version: env!("CARGO_PKG_VERSION").into(),
        title: scenario.title.clone(),
        about: scenario.about.clone(),
        invented: scenario.invented,
        scenario_hash: scenario.hash.clone(),
        scenario_name: ask.scenario_name.clone(),
        command: ask.command.clone(),
        seed: scenario.seed,
        flights,
        flights_rule: ask.flights_rule.clone(),
        step_s: scenario.step_s,
        confidence: scenario.judge.confidence,
        matters: scenario.judge.matters,
        hard: scenario.judge.hard,
        zones: zones(scenario),
        loss,
        faults,
        policies,
        pairs,
        verdict,
        conditions: Vec::new(),
        over_conditions: None,
        information: None,
        what_if: Vec::new(),
        along: plan.along,
        sections: plan.sections,
        no_return: plan.no_return,
        losses,
        traces,
        map: site_map(world),
        inputs: scenario.inputs.clone(),
        knowledge: knowledge(world),
        warnings: plan.warnings,
        order,
    };
    if !ask.quick {
        let main = Main { result: main, ends: &ends, chosen, conditions: conditions_met };
        let side = rayon::in_place_scope(|scope| {
            scope.spawn(|_| follow.main_run(&summary));
            side_runs(world, ask, main, follow)
        })?;
        side.complete(&mut summary);
    }
    Ok(summary)
}

/// What the flights counted so far say.
fn early(tally: &Tally, ask: &Ask) -> Early {
    Early { flights: u64::from(EARLY_FLIGHTS), of: ask.flights.len() as u64, sentence: tally.answer().sentence }
}

/// The flights told step by step: a typical and the worst one of the chosen policy, and the worst of all.
fn told(world: &World, picks: &Picks, chosen: usize) -> Vec<(String, Trace)> {
    let policies = &world.scenario.policies;
    let Some(best) = policies.get(chosen) else { return Vec::new() };
    let worst_of_all = picks.worst_of_all().filter(|worst| worst.0 != chosen);
    let wanted = [
        (format!("A typical flight under '{}'", best.name), Some(chosen).zip(picks.typical(chosen))),
        (format!("The worst flight under '{}'", best.name), Some(chosen).zip(picks.worst(chosen))),
        (
            format!(
                "The worst flight of all, under '{}'",
                worst_of_all.map_or("", |(policy, _)| policies[policy].name.as_str())
            ),
            worst_of_all,
        ),
    ];
    let tell = |(what, flight): (String, Option<(usize, u32)>)| {
        let (policy, flight) = flight?;
        Some((what, record(world, flight, &policies[policy], TOLD_EVERY_S)))
    };
    wanted.into_par_iter().filter_map(tell).collect()
}

/// What side runs need of the main run.
struct Main<'a> {
    result: ConditionResult,
    ends: &'a EndLog,
    chosen: usize,
    /// Worlds of the conditions, ready to fly.
    conditions: Vec<World>,
}

/// What flies after the main run: conditions, what would change the answer, what-if bars.
#[derive(Default)]
struct SideRuns {
    conditions: Vec<ConditionSummary>,
    over_conditions: Option<OverConditions>,
    information: Option<Information>,
    what_if: Vec<WhatIf>,
    /// Flights set aside for a numerical fault.
    faulted: u64,
}

impl SideRuns {
    /// Adds what they say to the summary of the main run.
    fn complete(self, summary: &mut Summary) {
        summary.conditions = self.conditions;
        summary.over_conditions = self.over_conditions;
        summary.information = self.information;
        summary.what_if = self.what_if;
        summary.faults.side_flights += self.faulted;
    }
}

fn side_runs<E: std::error::Error + 'static>(
    world: &World,
    ask: &Ask,
    main: Main,
    follow: &dyn Follow,
) -> Result<SideRuns, AssessError<E>> {
    let scenario = &world.scenario;
    let done = |flown: u64| follow.flown(flown);
    let flown = ask.flights.len() as u64;
    let mut before = flown;
    let mut runs = SideRuns::default();
    let names: Vec<String> = scenario.policies.iter().map(|policy| policy.name.clone()).collect();
    let mut results = vec![main.result];
    follow.begins(Stage::Conditions);
    let each = condition_flights(flown as u32);
    let elsewhere = ask.flights.start..ask.flights.start + each;
    // A world goes once it has been flown in: what comes next needs the room.
    for (condition, other) in scenario.conditions.iter().zip(main.conditions) {
        let result = fly_tally(&other, elsewhere.clone(), &|n| done(before + n));
        before += u64::from(each);
        runs.faulted += result.faults.flights;
        results.push(ConditionResult::of(&condition.name, condition.odds, &result));
    }
    if results.len() > 1 {
        (runs.conditions, runs.over_conditions) = conditions::gather(&results, &names);
    }
    follow.begins(Stage::Information);
    let found = information(world, main.ends, main.chosen, ask.flights.clone(), &|n| done(before + n))?;
    before += found.flown;
    runs.faulted += found.faulted;
    runs.information = Some(found.information);
    follow.begins(Stage::Bars);
    let side = side_flights(flown as u32);
    let flights = ask.flights.start..ask.flights.start + side;
    let base = Base { log: main.ends, policy: main.chosen };
    for UncertainInput { key, block, number, .. } in found.leading.into_iter().take(BARS) {
        let values = [number.quantile(0.1), number.quantile(0.9)];
        let mut logs = Vec::with_capacity(2);
        for value in values {
            let mut changed = scenario.with_input(block, value);
            changed.policies = vec![scenario.policies[main.chosen].clone()];
            let log = EndLog::of(&World::like(world, changed)?, flights.clone(), &|n| done(before + n));
            before += u64::from(side);
            runs.faulted += log.faulted();
            logs.push(log);
        }
        runs.what_if.push(what_if::bar(&key, values, base, [&logs[0], &logs[1]], scenario.judge.confidence));
    }
    what_if::sort(&mut runs.what_if);
    Ok(runs)
}

/// The last row before the loss of a trace.
fn told_loss(what: &str, trace: &Trace, world: &World) -> Option<ToldLoss> {
    let (time_s, cause) = trace.lost_at_s.zip(trace.cause)?;
    let row = trace.rows.iter().rev().find(|row| row.time_s <= time_s)?;
    Some(ToldLoss {
        what: what.into(),
        flight: trace.flight,
        time_s,
        cause,
        distance_m: length(row.place_m, world.antenna_m),
        quality_pct: row.quality_pct,
        margin_db: row.margin_db,
        budget: row.budget,
    })
}

fn zones(scenario: &Scenario) -> Vec<ZoneSummary> {
    let names = scenario.site.zone_names();
    let zones = scenario.site.zones.iter().zip(names).map(|(zone, name)| ZoneSummary {
        name,
        kind: zone.kind,
        whose: zone.whose,
        people: zone.people,
        present_share: zone.present_share,
        hours_utc: zone.hours_utc,
    });
    zones.collect()
}

/// An empty tally for the flights of a scenario.
pub fn new_tally(scenario: &Scenario) -> Tally {
    Tally::new(&scenario.policies, &scenario.judge, &loss_words(&scenario.loss), scenario.craft.radius_m)
}

/// A run that only counts, in another world under the policies of its scenario.
pub(super) fn fly_tally(world: &World, flights: Range<u32>, done: &(dyn Fn(u64) + Sync)) -> TallyResult {
    let mut tally = new_tally(&world.scenario);
    let flown: Result<(), std::convert::Infallible> = fly_all(world, flights, done, &mut |outcome| {
        tally.push(&outcome);
        Ok(())
    });
    let Ok(()) = flown;
    tally.finish()
}

/// Danger shares of a pilot run, for the two-stage rule.
pub fn danger_of(result: &TallyResult) -> Vec<Share> {
    result.policies.iter().map(|policy| policy.share(Concern::Danger)).collect()
}
