//! Everything that is the same for all flights, computed once, read-only.

pub mod air;
mod path;

pub use air::{AirDraws, AirField, MeanWind};
pub use path::{FlightPath, length};
