//! Everything that is the same for all flights, computed once, read-only.

mod path;

pub use path::{FlightPath, length};
