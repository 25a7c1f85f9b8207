//! A warning about a plan: its place in the file, what is odd and why that matters, the remedy.

use crate::scenario::Scenario;

/// Warnings as they gather.
pub(super) struct Notices<'s> {
    scenario: &'s Scenario,
    lines: Vec<String>,
}

impl<'s> Notices<'s> {
    /// After those of the scenario as read.
    pub(super) fn after_reading(scenario: &'s Scenario) -> Notices<'s> {
        Notices { scenario, lines: scenario.warnings.clone() }
    }

    /// One about a key. What the file does not state has no line.
    pub(super) fn push(&mut self, key: &str, found: impl AsRef<str>, remedy: impl AsRef<str>) {
        let line = self.line_of(key).map_or(String::new(), |line| format!(":{line}"));
        let (file, found, remedy) = (&self.scenario.file, found.as_ref(), remedy.as_ref());
        self.lines.push(format!("{file}{line}: {key}: {found}; remedy: {remedy}"));
    }

    /// The line of a key, or of the first key of a table that the file states.
    fn line_of(&self, key: &str) -> Option<usize> {
        let below = |known: &str| known.strip_prefix(key).is_some_and(|rest| rest.starts_with(['.', '[']));
        let rows = || self.scenario.inputs.iter().filter(|row| row.line.is_some());
        let own = rows().find(|row| row.key == key).and_then(|row| row.line);
        own.or_else(|| rows().filter(|row| below(&row.key)).filter_map(|row| row.line).min())
    }

    /// All of them.
    pub(super) fn into_lines(self) -> Vec<String> {
        self.lines
    }
}
