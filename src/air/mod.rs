//! The air: standard atmosphere, mean wind by height, turbulence, gusts, wind shadow.

pub mod atmosphere;
pub mod gust;
pub mod lee;
pub mod relief;
pub mod turbulence;
pub mod wind;

pub use turbulence::{Dryden, LowAltitude};
