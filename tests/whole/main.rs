//! Laws of whole flights: a scenario goes in, endings come out, and what is asked is asked of what flew.

mod bench;
mod closed_forms;
mod coverage;
mod craft;
mod decision;
mod flights;
mod information;
mod inputs;
mod laws;
mod linked;
mod outputs;
mod plain;
mod policies;
mod properties;
mod questions;
mod radio;
mod reach_valley;
mod semantics;
mod sky;
mod turned;

#[path = "../../examples/nested.rs"]
#[allow(dead_code)]
mod nested_example;
