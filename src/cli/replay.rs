//! `replay`: one flight, step by step.

use super::args::{Common, ReplayArgs};
use super::out::Failure;
use super::{load, out};
use crate::flight::record;
use crate::report::folder::ReportFolder;
use crate::report::replay;

/// Time between rows.
const EVERY_S: f64 = 0.2;

/// Runs it.
pub fn run(common: &Common, args: &ReplayArgs) -> Result<(), Failure> {
    let mut scenario = load::scenario(&args.scenario)?;
    scenario.seed = args.seed.unwrap_or(scenario.seed);
    let folder = args.out.as_deref().map(ReportFolder::begin).transpose()?;
    let world = load::world_for_flight(&args.scenario, scenario, args.flight)?;
    let policy = load::policy_named(&world.scenario.policies, args.policy.as_deref(), |_| true)?;
    let trace = record(&world, args.flight, policy, EVERY_S);
    let document = replay::document(&world.scenario, &trace);
    let mut page = None;
    if let Some(folder) = folder {
        folder.page("replay.html", &document, &replay::gallery(&world.scenario, &trace))?;
        folder.json("replay.json", &trace)?;
        page = Some(folder.finish()?.join("replay.html"));
    }
    if args.json {
        return out::json(&trace);
    }
    out::document(common, &document, "", page.as_deref())
}
