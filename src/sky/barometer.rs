//! Height from pressure: what the airflow does to it.

use crate::units::STANDARD_GRAVITY_MPS2;

/// Height error of a static port with a pressure coefficient; positive: reads high, by suction.
#[inline]
pub fn static_port_error_m(airspeed_mps: f64, pressure_coefficient: f64) -> f64 {
    -pressure_coefficient * airspeed_mps * airspeed_mps / (2.0 * STANDARD_GRAVITY_MPS2)
}
