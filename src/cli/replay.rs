//! `replay`: one lost link, told under every policy.

use super::args::{Common, ReplayArgs};
use super::out::Failure;
use super::progress::Progress;
use super::{load, out};
use crate::failsafe::Policy;
use crate::report::folder::ReportFolder;
use crate::report::{json, replay, story_page};
use crate::risk::picks::{Picks, Which};
use crate::risk::run::fly_all;
use crate::scenario::Scenario;
use crate::story::{Told, tell};
use crate::world::World;

/// Time between rows.
const EVERY_S: f64 = 0.2;

/// A word picks from so many flights at most, unless more are asked for: a few seconds.
const PICKS_FROM: u32 = 400;

/// Runs it.
pub fn run(common: &Common, args: &ReplayArgs) -> Result<(), Failure> {
    let mut scenario = load::scenario(&args.scenario)?;
    if let Some(seed) = args.seed {
        scenario = scenario.with_seed(seed);
    }
    let which = which(args)?;
    let policies = chosen(&scenario, args)?;
    let folder = args.out.as_deref().map(ReportFolder::begin).transpose()?;
    let told = told(common, args, scenario, which, &policies)?;
    let mut page = args.page.clone();
    if let Some(file) = &args.page {
        let mut bytes = Vec::new();
        story_page::write(&told, &story_page::gallery(&told), &mut bytes)?;
        std::fs::write(file, bytes)
            .map_err(|error| Failure::Other(anyhow::Error::new(error).context(file.display().to_string())))?;
    }
    if let Some(folder) = folder {
        folder.story(&told)?;
        page = Some(folder.finish()?.join("replay.html"));
    }
    if args.json {
        return out::json(&json::REPLAY.of(&told));
    }
    out::document(common, &replay::document(&told.story), "", page.as_deref())
}

fn which(args: &ReplayArgs) -> Result<Which, Failure> {
    if let Some(number) = args.flight {
        return Ok(Which::Number(number));
    }
    Which::from_word(&args.which).ok_or_else(|| {
        let words: Vec<&str> = Which::PICKED.into_iter().filter_map(Which::word).collect();
        let accepted = format!("a flight number, {}", words.join(", "));
        Failure::Input(format!("lostlink: no flight is called '{}'\n  accepted: {accepted}\n", args.which))
    })
}

/// The policies to tell, by their places in the scenario.
fn chosen(scenario: &Scenario, args: &ReplayArgs) -> Result<Vec<usize>, Failure> {
    let all = &scenario.policies;
    if args.policy.is_empty() {
        return Ok((0..all.len()).collect());
    }
    for name in &args.policy {
        load::policy_named(all, Some(name), |_| true)?;
    }
    Ok((0..all.len()).filter(|&index| args.policy.contains(&all[index].name)).collect())
}

fn told(
    common: &Common,
    args: &ReplayArgs,
    scenario: Scenario,
    which: Which,
    chosen: &[usize],
) -> Result<Told, Failure> {
    let policies: Vec<Policy> = chosen.iter().map(|&index| scenario.policies[index].clone()).collect();
    if let Which::Number(flight) = which {
        let world = load::world_for_flight(&args.scenario, scenario, flight)?;
        return Ok(tell(&world, flight, &which.why(0), &policies, EVERY_S));
    }
    let flights = args.flights.unwrap_or(scenario.flights.min(PICKS_FROM));
    let world = load::world(&args.scenario, scenario)?;
    let picks = flown(common, &world, flights);
    let flight = picks.pick(which, chosen).ok_or_else(|| {
        let word = which.word().unwrap_or_default();
        let (found, other) = match picks.lost() {
            0 => (format!("no link was lost in {flights} flights"), ""),
            lost => (format!("{word}: none of {lost} lost links was one"), ", another word"),
        };
        Failure::Input(format!("lostlink: {found}\n  accepted: a flight number{other}, or more --flights\n"))
    })?;
    Ok(tell(&world, flight, &which.why(picks.lost()), &policies, EVERY_S))
}

/// What is kept of the flights that a word picks from.
fn flown(common: &Common, world: &World, flights: u32) -> Picks {
    let progress = Progress::new("flights", u64::from(flights), common.ascii);
    let mut picks = Picks::new(world.scenario.policies.len());
    let Ok(()) = fly_all::<std::convert::Infallible>(world, 0..flights, &progress.hear(), &mut |outcome| {
        picks.push(&outcome);
        Ok(())
    });
    progress.finish();
    picks
}
