//! The radio link: exact diffraction, two rays, statistical losses, closed forms of fading, error rates and runs of packets.

pub mod clutter;
pub mod diffraction;
pub mod fading;
pub mod free_space;
pub mod ground;
pub mod modem;
pub mod noise;
pub mod packets;
pub mod range;
pub mod shadowing;
pub mod vegetation;
pub mod weather;
