//! Scenario files: every shipped one loads; broken ones are refused with exact words and places.

#[path = "../../fuzz/src/lib.rs"]
mod targets;

#[path = "../common/expected.rs"]
mod expected;

mod broken;
mod fuzz;
mod helpers;
mod inputs;
mod keys;
mod mutated;
mod reads;
mod schema;
mod shown;
mod told;
