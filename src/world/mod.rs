//! Everything that is the same for all flights, computed once, read-only.

pub mod air;
pub mod craft;
pub mod energy;
mod fix;
mod low_pack;
mod near;
mod path;
pub mod radio;
mod relief;
mod sky_field;
mod sky_source;
mod straight;
mod whole;

pub use air::{AirField, MeanWind, Turn};
pub use energy::{BestSpeed, HomeEnergy, HomeNeed, Way};
pub use fix::{FixSetup, FixSetupError};
pub use low_pack::LowPack;
pub use near::Near;
pub use path::{FlightPath, OnPath, PathPlace, REACHED_M, length};
pub(crate) use sky_field::{ClassSky, CodeNoise, assess, interference_loss_db, standing};
pub use sky_field::{REFERENCE_TILT_RAD, SkyField, SkyNow, TIME_BIN_S};
pub use sky_source::{
    CANOPY_LOSS_DB, HORIZON_AZIMUTHS, Horizon, SkyError, SkySource, UNSTATED_ORIGIN, budget, nominal_sets, systems,
};
pub use straight::Straight;
pub use whole::{FAMILY, World, WorldError};
