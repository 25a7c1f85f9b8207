//! `schema`: what editors complete scenarios from.

use super::out::{Failure, print};

/// The name under which a scenario made by `new` asks for it.
pub const FILE: &str = "scenario.schema.json";

/// Prints it.
pub fn run() -> Result<(), Failure> {
    print(crate::scenario::schema_text().as_bytes())
}
