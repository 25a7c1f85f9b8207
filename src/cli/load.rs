//! Reads scenario files from disk.

use super::{Failure, diagnostics};
use crate::risk::assess::ConditionError;
use crate::scenario::{Scenario, ScenarioError};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// Reads a scenario; every mistake in it is told at once.
pub fn scenario(path: &Path) -> Result<Scenario, Failure> {
    let name = path.display();
    Scenario::from_file(path).map_err(|error| {
        Failure::Input(match error {
            ScenarioError::Findings(found) => diagnostics::render(&found, std::io::stderr().is_terminal()),
            ScenarioError::NotText { line, .. } => {
                format!("lostlink: {name}:{line}: not UTF-8 text\n  accepted: a scenario file in UTF-8\n")
            }
            error => format!("lostlink: {error}\n  accepted: a scenario file (TOML), see scenarios/\n"),
        })
    })
}

/// The scenario's name: its file name without the ending.
pub fn name(path: &Path) -> String {
    path.file_stem().map_or_else(|| "scenario".into(), |stem| stem.to_string_lossy().into_owned())
}

/// The folder a report goes to.
pub fn folder(out: Option<&Path>, scenario: &Path, suffix: &str) -> PathBuf {
    out.map_or_else(|| Path::new("reports").join(format!("{}{suffix}", name(scenario))), Path::to_path_buf)
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
