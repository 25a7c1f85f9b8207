//! From a TOML file to a checked, typed [`Scenario`]: every number in SI units, every uncertainty a distribution.

mod defaults;
mod diagnostic;
mod document;
mod files;
mod ground;
mod open;
mod read;
mod table;
mod track;
mod types;

pub use diagnostic::{Diagnostic, Severity};
pub use document::{SHORTEST, format_page};
pub use files::{Files, MemoryFiles, NoFiles};
pub use open::{Folder, ScenarioError};
pub use read::{HEADLINE_WORDS, key_list, read};
pub use table::KeyDoc;
pub use types::*;
