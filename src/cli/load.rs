//! Reads scenario files from disk, and says what is wrong with them.

use super::args::FlightsArgs;
use super::diagnostics;
use super::out::Failure;
use crate::failsafe::Policy;
use crate::report::folder::ReportFolder;
use crate::risk::assess::{AssessError, ConditionError};
use crate::risk::faults::Faults;
use crate::scenario::{Scenario, ScenarioError};
use crate::world::World;
use std::io::IsTerminal;
use std::path::Path;

/// Reads a scenario; every mistake in it is told at once.
pub fn scenario(path: &Path) -> Result<Scenario, Failure> {
    Scenario::from_file(path).map_err(|error| no_scenario(&error))
}

/// A file that is no scenario.
pub fn no_scenario(error: &ScenarioError) -> Failure {
    Failure::Input(match error {
        ScenarioError::Findings(found) => diagnostics::render(found, std::io::stderr().is_terminal()),
        ScenarioError::NotText { .. } => format!("lostlink: {error}\n  accepted: a scenario file in UTF-8\n"),
        error => format!("lostlink: {error}\n  accepted: a scenario file (TOML), see scenarios/\n"),
    })
}

/// The scenario with what the command line changes.
pub fn changed(path: &Path, run: &FlightsArgs) -> Result<Scenario, Failure> {
    let mut scenario = scenario(path)?;
    if let Some(flights) = run.flights {
        scenario = scenario.with_flights(flights);
    }
    if let Some(seed) = run.seed {
        scenario = scenario.with_seed(seed);
    }
    Ok(scenario)
}

/// The command that makes a report again, without what does not change it.
pub fn again(command: &str, path: &Path, scenario: &Scenario) -> String {
    format!("lostlink {command} {} --flights {} --seed {}", path.display(), scenario.flights, scenario.seed)
}

/// The world of a scenario.
pub fn world(path: &Path, scenario: Scenario) -> Result<World, Failure> {
    World::new(scenario).map_err(|error| refused(path, &error))
}

/// The world for commands that fly nothing.
pub fn world_for_planning(path: &Path, scenario: Scenario) -> Result<World, Failure> {
    World::for_planning(scenario).map_err(|error| refused(path, &error))
}

/// The world of one flight.
pub fn world_for_flight(path: &Path, scenario: Scenario, flight: u32) -> Result<World, Failure> {
    World::for_flight(scenario, flight).map_err(|error| refused(path, &error))
}

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

/// Refuses results of which too much broke off; names of the policies, where they are told apart.
pub fn bearable(faults: &Faults, policies: &[Policy]) -> Result<(), Failure> {
    let names: Vec<String> = policies.iter().map(|policy| policy.name.clone()).collect();
    if faults.too_many() { Err(Failure::Other(anyhow::Error::msg(faults.refusal(&names)))) } else { Ok(()) }
}

/// The scenario's name: its file name without the ending.
pub fn name(path: &Path) -> String {
    path.file_stem().map_or_else(|| "scenario".into(), |stem| stem.to_string_lossy().into_owned())
}

/// The folder a report goes to, begun; with `png` its figures are written as pictures too.
pub fn folder(out: Option<&Path>, scenario: &Path, suffix: &str, png: bool) -> Result<ReportFolder, Failure> {
    let usual = || Path::new("reports").join(format!("{}{suffix}", name(scenario)));
    let mut folder = ReportFolder::begin(&out.map_or_else(usual, Path::to_path_buf))?;
    folder.pictures = png;
    Ok(folder)
}

/// An assessment that cannot be flown.
pub fn assess_refused<E: std::error::Error + Send + Sync + 'static>(path: &Path, error: AssessError<E>) -> Failure {
    match error {
        AssessError::Condition(error) => condition_refused(path, &error),
        error => error.into(),
    }
}

/// A condition that reads well but cannot be flown.
pub fn condition_refused(path: &Path, error: &ConditionError) -> Failure {
    let line = error.line.map_or(String::new(), |line| format!(":{line}"));
    // Some reasons say themselves what would be accepted.
    let accepted = if error.why.contains("accepted: ") {
        ""
    } else {
        "  accepted: a condition under which the scenario can be flown\n"
    };
    Failure::Input(format!("lostlink: {}{line}: {error}\n{accepted}", path.display()))
}

/// A scenario that reads well but cannot be flown.
pub fn refused(path: &Path, error: &dyn std::fmt::Display) -> Failure {
    Failure::Input(format!("lostlink: {}: {error}\n", path.display()))
}
