//! From a TOML file to a checked, typed [`Scenario`]: every number in SI units, every uncertainty a distribution.

mod changed;
mod declare;
mod defaults;
mod diagnostic;
mod document;
mod files;
mod ground;
mod hours;
mod kind;
mod map_tags;
mod meant;
mod open;
mod parts;
mod path_file;
mod place;
mod read;
mod schema;
mod section;
mod sink;
mod track;
mod types;
mod value;
mod wind;

pub(crate) use changed::{Changes, Written, read_host, read_variations};
pub use diagnostic::{Diagnostic, Severity};
pub use document::{SHORTEST, format_page};
pub use files::{Files, MemoryFiles, NoFiles};
pub(crate) use kind::between;
pub use kind::{KeyDoc, Kind, Limits};
pub use open::{Folder, ScenarioError, bytes_of, text_of};
pub use path_file::{PathFile, PathPoint, path_file};
pub use place::Place;
pub use read::{key_list, read, read_again};
pub use schema::schema_text;
pub(crate) use section::Section;
pub use types::*;
