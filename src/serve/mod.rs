//! The live page: a scenario under controls, served on the loopback address to a browser on the same machine.
//!
//! [`Server::bind`] takes a port, [`Server::run`] answers until it is told to end. Nothing that is asked names a file; what is refused
//! before anything is worked out stands in `guard`.

mod answers;
mod data;
mod guard;
mod listen;
mod rate;
mod work;

pub use guard::Allowed;
pub use listen::{Bounds, Server, told_to_end};
