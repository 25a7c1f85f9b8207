//! `replay`: one flight, step by step.

use super::args::{Common, ReplayArgs};
use super::{Failure, load, manner, print};
use crate::failsafe::Policy;
use crate::flight::record;
use crate::report::folder::ReportFolder;
use crate::report::plot::{self, Look};
use crate::report::{json, replay as words};
use crate::world::World;

/// Time between rows.
const EVERY_S: f64 = 0.2;

/// The policy of that name, or the first that fits; names are told when there is none.
pub fn policy_named<'p>(
    policies: &'p [Policy],
    name: Option<&str>,
    fits: impl Fn(&Policy) -> bool,
) -> Result<&'p Policy, Failure> {
    let found = policies.iter().find(|policy| fits(policy) && name.is_none_or(|name| policy.name == name));
    found.ok_or_else(|| {
        let names: Vec<String> =
            policies.iter().filter(|policy| fits(policy)).map(|policy| format!("'{}'", policy.name)).collect();
        let accepted =
            if names.is_empty() { "none: no policy of the scenario flies home".into() } else { names.join(", ") };
        Failure::Input(format!(
            "lostlink: --policy {}: there is no such policy\n  accepted: {accepted}\n",
            name.map_or_else(|| "(first)".into(), |name| format!("'{name}'")),
        ))
    })
}

/// Runs it.
pub fn run(common: &Common, args: &ReplayArgs) -> Result<(), Failure> {
    let mut scenario = load::scenario(&args.scenario)?;
    scenario.seed = args.seed.unwrap_or(scenario.seed);
    let folder = args.out.as_deref().map(ReportFolder::begin).transpose().map_err(anyhow::Error::from)?;
    let world = World::new(scenario).map_err(|error| load::refused(&args.scenario, &error))?;
    let policy = policy_named(&world.scenario.policies, args.policy.as_deref(), |_| true)?;
    let trace = record(&world, args.flight, policy, EVERY_S);
    let mut bytes = Vec::new();
    json::write(&trace, &mut bytes)?;
    if let Some(folder) = folder {
        let story = format!("Flight {} under '{}'", trace.flight, trace.policy);
        let figures = [
            plot::timeline("timeline", &story, &trace, world.scenario.site.ceiling_m, Look::WIDE),
            plot::budget("budget", &story, &trace, Look::WIDE),
        ];
        folder.figures(&figures).map_err(anyhow::Error::from)?;
        folder.write("replay.json", &bytes).map_err(anyhow::Error::from)?;
        folder.finish().map_err(anyhow::Error::from)?;
    }
    if args.json {
        return print(&bytes);
    }
    print(words::text(&world.scenario, &trace, manner(common)).as_bytes())
}
