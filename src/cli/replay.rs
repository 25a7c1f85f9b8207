//! `replay`: one lost link, told under every policy.

use super::args::{Common, ReplayArgs};
use super::out::Failure;
use super::{gather, load, out};
use crate::report::folder::ReportFolder;
use crate::report::{json, replay, story_page};
use crate::risk::picks::Which;

/// Runs it.
pub fn run(common: &Common, args: &ReplayArgs) -> Result<(), Failure> {
    let mut scenario = load::scenario(&args.scenario)?;
    if let Some(seed) = args.seed {
        scenario = scenario.with_seed(seed);
    }
    let which = args.flight.map_or_else(|| gather::which(&args.which), |number| Ok(Which::Number(number)))?;
    let policies = gather::chosen(&scenario, &args.policy)?;
    let folder = args.out.as_deref().map(ReportFolder::begin).transpose()?;
    let flights = args.flights.unwrap_or(scenario.flights.min(gather::PICKS_FROM));
    let told = gather::told(common, &args.scenario, scenario, which, &policies, flights)?;
    let mut page = args.page.clone();
    if let Some(file) = &args.page {
        let mut bytes = Vec::new();
        story_page::write(&told, &story_page::gallery(&told), &mut bytes)?;
        out::file(file, &bytes)?;
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
