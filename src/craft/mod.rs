//! The craft: motion, rotor power, battery, fall, touch-down, parameters by class.
//!
//! One motor out is not modelled: a craft either has thrust or falls.

pub mod battery;
pub mod class;
pub mod fall;
pub mod kinematics;
pub mod landing;
pub mod motion;
pub mod rotor;

pub use battery::{Pack, PackLevel, PackNow, PackState};
pub use class::ClassDefaults;
pub use fall::FallBody;
pub use landing::{Touch, TouchLimits};
pub use motion::{HeldLoop, Mover, MoverNow, MoverState, TurnedLoop, Wish};
pub use rotor::{LevelFlight, Rotors};
