//! Laws of whole flights: a scenario goes in, endings come out, and what is asked is asked of what flew.

mod bench;
mod closed_forms;
mod coverage;
mod craft;
mod laws;
mod linked;
mod outputs;
mod plain;
mod policies;
mod radio;
mod sky;
mod turned;
