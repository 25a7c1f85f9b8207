//! Height from pressure.

use crate::units::STANDARD_GRAVITY_MPS2;
use libm::{exp, log, pow};

/// Gas constant of air, J/(kg K).
const GAS_CONSTANT: f64 = 287.052_87;
/// Sea-level temperature, K.
const SEA_LEVEL_K: f64 = 288.15;
/// Sea-level pressure, Pa.
const SEA_LEVEL_PA: f64 = 101_325.0;
/// Fall of temperature with height in the troposphere, K/m.
const LAPSE_K_PER_M: f64 = 0.006_5;
/// Top of the troposphere.
const TROPOPAUSE_M: f64 = 11_000.0;

/// Geopotential height of a pressure in the standard atmosphere, up to 20 km.
///
/// # Source
/// ISO 2533 / ICAO Doc 7488: layers of 6.5 K/km to 11 km and 216.65 K above.
pub fn isa_height_m(pressure_pa: f64) -> f64 {
    let exponent = GAS_CONSTANT * LAPSE_K_PER_M / STANDARD_GRAVITY_MPS2;
    let height = SEA_LEVEL_K / LAPSE_K_PER_M * (1.0 - pow(pressure_pa / SEA_LEVEL_PA, exponent));
    if height <= TROPOPAUSE_M {
        return height;
    }
    let top_k = SEA_LEVEL_K - LAPSE_K_PER_M * TROPOPAUSE_M;
    let top_pa = SEA_LEVEL_PA * pow(top_k / SEA_LEVEL_K, 1.0 / exponent);
    TROPOPAUSE_M - GAS_CONSTANT * top_k / STANDARD_GRAVITY_MPS2 * log(pressure_pa / top_pa)
}

/// Temperature of the standard atmosphere at a height up to 20 km.
pub fn isa_temperature_k(height_m: f64) -> f64 {
    SEA_LEVEL_K - LAPSE_K_PER_M * height_m.min(TROPOPAUSE_M)
}

/// Pressure of the standard atmosphere at a height up to 20 km.
pub fn isa_pressure_pa(height_m: f64) -> f64 {
    let low = height_m.min(TROPOPAUSE_M);
    let at_low = SEA_LEVEL_PA
        * pow(1.0 - LAPSE_K_PER_M * low / SEA_LEVEL_K, STANDARD_GRAVITY_MPS2 / (GAS_CONSTANT * LAPSE_K_PER_M));
    at_low * exp(-STANDARD_GRAVITY_MPS2 * (height_m - low) / (GAS_CONSTANT * isa_temperature_k(low)))
}

/// Height change per pascal of falling pressure in the standard atmosphere.
///
/// # Source
/// Hydrostatic equation: R T/(g p).
pub fn isa_height_slope_m_per_pa(pressure_pa: f64) -> f64 {
    GAS_CONSTANT * isa_temperature_k(isa_height_m(pressure_pa)) / (STANDARD_GRAVITY_MPS2 * pressure_pa)
}

/// Height error of a static port with a pressure coefficient; positive: reads high, by suction.
#[inline]
pub fn static_port_error_m(airspeed_mps: f64, pressure_coefficient: f64) -> f64 {
    -pressure_coefficient * airspeed_mps * airspeed_mps / (2.0 * STANDARD_GRAVITY_MPS2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 2533 tables: 226.32 hPa at 11 km, 54.75 hPa at 20 km.
    #[test]
    fn pressure_and_height_invert() {
        assert!((isa_pressure_pa(11_000.0) - 22_632.0).abs() < 1.0);
        assert!((isa_pressure_pa(20_000.0) - 5_474.9).abs() < 1.0);
        for height in [-200.0, 0.0, 500.0, 5_000.0, 15_000.0] {
            assert!((isa_height_m(isa_pressure_pa(height)) - height).abs() < 1e-6);
        }
    }
}
