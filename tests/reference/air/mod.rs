//! The air: the standard atmosphere, wind laws, spectra of turbulence.

pub mod atmosphere;
pub mod turbulence;
pub mod wind;
