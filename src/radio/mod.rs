//! The radio link: propagation, antennas, noise, fading, waveforms, packets, receiver.
//!
//! Each model is its own function with its range of validity stated and refused outside it.

pub mod antenna;
pub mod body;
pub mod diffraction;
pub mod disturbance;
pub mod fading;
mod four;
pub mod free_space;
pub mod ground;
pub mod interference;
pub mod maths;
pub mod modem;
pub mod noise;
pub mod packets;
pub mod range;
pub mod receiver;
pub mod shadowing;
pub mod silence;
pub mod vegetation;
pub mod weather;

pub use antenna::{Antenna, AntennaCondition, Pattern, Polarisation};
pub use modem::Waveform;
pub use range::OutOfRange;
