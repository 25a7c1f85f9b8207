//! The radio link: propagation, antennas, noise, fading, waveforms, packets, receiver.
//!
//! Each model is its own function with its range of validity stated and refused outside it.

pub mod antenna;
pub mod modem;

pub use antenna::{Antenna, AntennaCondition, Pattern, Polarisation};
pub use modem::Waveform;
