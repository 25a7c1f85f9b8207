//! Laws of whole flights: a scenario goes in, endings come out, and what is asked is asked of what flew.

mod bench;
mod craft;
mod laws;
mod outputs;
mod policies;
mod radio;
mod sky;
