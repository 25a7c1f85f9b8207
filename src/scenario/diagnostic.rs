//! What is wrong in a scenario file, as data: the command line draws it.

use std::ops::Range;
use std::sync::Arc;

/// How grave a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The scenario cannot be used.
    Error,
    /// Odd but legal.
    Warning,
}

/// One finding, with its place, what was found there and what would be accepted.
///
/// Findings are equal when they say the same of the same place of a file of the same name; its text, which may be long, is not compared.
#[derive(Debug, Clone, Eq)]
pub struct Diagnostic {
    /// How grave it is.
    pub severity: Severity,
    /// The file the place is in.
    pub file: String,
    /// The whole text of that file, when there is text to show.
    pub source: Option<Arc<str>>,
    /// The place as bytes of `source`.
    pub span: Option<Range<usize>>,
    /// Line of the place, counted from 1.
    pub line: Option<usize>,
    /// Path of the key, e.g. `weather.wind_mps`; empty when it is about no key.
    pub key: String,
    /// What was found, as a short statement.
    pub found: String,
    /// What would be accepted.
    pub accepted: String,
    /// A suggestion, when there is a likely one.
    pub hint: Option<String>,
}

impl PartialEq for Diagnostic {
    fn eq(&self, other: &Diagnostic) -> bool {
        let Diagnostic { severity, file, source: _, span, line, key, found, accepted, hint } = self;
        (severity, span, line, key) == (&other.severity, &other.span, &other.line, &other.key)
            && (file, found, accepted, hint) == (&other.file, &other.found, &other.accepted, &other.hint)
    }
}

impl Diagnostic {
    /// One line: place, key, what was found, what would be accepted.
    pub fn in_words(&self) -> String {
        let mut words = self.file.clone();
        if let Some(line) = self.line {
            words += &format!(":{line}");
        }
        words += ": ";
        if !self.key.is_empty() {
            words += &format!("{}: ", self.key);
        }
        words += &self.found;
        if !self.accepted.is_empty() {
            words += &format!("; accepted: {}", self.accepted);
        }
        if let Some(hint) = &self.hint {
            words += &format!(" ({hint})");
        }
        words
    }
}

impl std::fmt::Display for Diagnostic {
    /// As [`Diagnostic::in_words`].
    fn fmt(&self, out: &mut std::fmt::Formatter) -> std::fmt::Result {
        out.write_str(&self.in_words())
    }
}

/// Line of a byte of a text, counted from 1.
pub(super) fn line_of(text: &str, at: usize) -> usize {
    text.as_bytes()[..at.min(text.len())].iter().filter(|byte| **byte == b'\n').count() + 1
}

/// The bytes of a line, counted from 1, without its end; an empty range at the end of the text beyond the last.
pub(super) fn span_of_line(text: &str, line: usize) -> Range<usize> {
    let mut start = 0;
    for (index, content) in text.split_inclusive('\n').enumerate() {
        if index + 1 == line {
            return start..start + content.trim_end_matches(['\n', '\r']).len();
        }
        start += content.len();
    }
    text.len()..text.len()
}
