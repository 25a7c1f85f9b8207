//! Summaries as JSON, documented in `docs/summary.md`.

use serde::Serialize;
use std::io::Write;

/// Writes a summary, a height sweep or a field card as indented JSON with a newline at the end. Numbers that do not exist
/// (no fix, no loss) are `null`.
///
/// # Errors
/// Those of the writer.
pub fn write<T: Serialize>(value: &T, out: &mut dyn Write) -> std::io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value)?;
    out.write_all(b"\n")
}
