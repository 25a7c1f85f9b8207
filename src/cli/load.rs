//! Reads scenario files from disk.

use super::{Failure, Folder, diagnostics};
use crate::risk::assess::ConditionError;
use crate::scenario::{self, Scenario};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// Reads a scenario; every mistake in it is told at once.
pub fn scenario(path: &Path) -> Result<Scenario, Failure> {
    let name = path.display().to_string();
    let bytes = std::fs::read(path).map_err(|error| {
        Failure::Input(format!("lostlink: {name}: {error}\n  accepted: a scenario file (TOML), see scenarios/\n"))
    })?;
    let text = String::from_utf8(bytes).map_err(|error| {
        let line = error.as_bytes()[..error.utf8_error().valid_up_to()].iter().filter(|&&b| b == b'\n').count() + 1;
        Failure::Input(format!("lostlink: {name}:{line}: not UTF-8 text\n  accepted: a scenario file in UTF-8\n"))
    })?;
    let folder = path.parent().map(Path::to_path_buf).unwrap_or_default();
    scenario::read(&name, &text, &Folder(folder))
        .map_err(|found| Failure::Input(diagnostics::render(&found, std::io::stderr().is_terminal())))
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
