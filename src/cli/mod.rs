//! Arguments, diagnostics, progress and exit codes: the only part that prints or touches files.

pub mod args;
pub mod diagnostics;
mod folder;

pub use folder::Folder;
