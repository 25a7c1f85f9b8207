//! Summaries as JSON, documented in `docs/summary.md`.

use serde::Serialize;
use std::io::Write;

/// A form of data: what it is called, and a number that is raised when what one of its keys means changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form {
    format: &'static str,
    version: u32,
}

/// What `check --json` prints.
pub const CHECK: Form = Form { format: "lostlink-check", version: 1 };
/// `sky.json`.
pub const SKY: Form = Form { format: "lostlink-sky", version: 1 };
/// `sheet.json`.
pub const SHEET: Form = Form { format: "lostlink-sheet", version: 1 };
/// `replay.json`.
pub const REPLAY: Form = Form { format: "lostlink-replay", version: 1 };
/// `lesson.json`.
pub const LESSON: Form = Form { format: "lostlink-lesson", version: 1 };

/// Data with its form at the head.
#[derive(Debug, Serialize)]
pub struct Formed<'a, T: Serialize> {
    format: &'static str,
    version: u32,
    #[serde(flatten)]
    data: &'a T,
}

impl Form {
    /// Data of this form.
    pub fn of<'a, T: Serialize>(&self, data: &'a T) -> Formed<'a, T> {
        Formed { format: self.format, version: self.version, data }
    }
}

/// Writes data as indented JSON with a newline at the end. Numbers that do not exist
/// (no fix, no loss) are `null`.
///
/// # Errors
/// Those of the writer.
pub fn write<T: Serialize>(value: &T, out: &mut dyn Write) -> std::io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value)?;
    out.write_all(b"\n")
}
