//! The craft: exact falls, momentum theory, closed forms of motion, drift and discharge.

pub mod battery;
pub mod fall;
pub mod kinematics;
pub mod landing;
pub mod rotor;
