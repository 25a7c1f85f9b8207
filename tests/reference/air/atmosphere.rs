//! The International Standard Atmosphere up to 11 km, and density with an offset of temperature.

use lostlink::air::atmosphere::*;

/// Fall of temperature with geopotential height in the troposphere, K/m (ISO 2533:1975, table 4).
const LAPSE_KPM: f64 = 0.006_5;

/// Earth's nominal radius for geopotential height, m (ISO 2533:1975, equation 8).
pub const EARTH_RADIUS_M: f64 = 6_356_766.0;

/// Top of the troposphere, geopotential m (ISO 2533:1975, table 4).
const TROPOPAUSE_M: f64 = 11_000.0;

/// Standard temperature in K at a geometric height of −5 000 m to 20 000 m above mean sea level.
///
/// # Source
/// ISO 2533:1975, equation 11.
pub fn temperature_k(height_msl_m: f64) -> f64 {
    SEA_LEVEL_TEMPERATURE_K - LAPSE_KPM * geopotential_height_m(height_msl_m).min(TROPOPAUSE_M)
}

/// Standard density in kg/m³ at a geometric height above mean sea level.
///
/// # Source
/// ISO 2533:1975, equation 14.
pub fn density_kgpm3(height_msl_m: f64) -> f64 {
    density_with_offset_kgpm3(height_msl_m, 0.0)
}

/// Density in kg/m³ at standard pressure when the air is `offset_k` warmer than standard. The pressure is
/// left alone: the offset enters the gas law only.
///
/// # Source
/// Gas law with the values of ISO 2533:1975; keeping the pressure is common practice in performance work.
pub fn density_with_offset_kgpm3(height_msl_m: f64, offset_k: f64) -> f64 {
    pressure_pa(height_msl_m) / (GAS_CONSTANT_JPKGK * (temperature_k(height_msl_m) + offset_k))
}

/// Induced hover power there over that at sea level in the standard atmosphere, −.
///
/// # Source
/// Momentum theory: induced power at fixed thrust goes with 1/√ρ.
pub fn induced_power_ratio(height_msl_m: f64, offset_k: f64) -> f64 {
    (density_kgpm3(0.0) / density_with_offset_kgpm3(height_msl_m, offset_k)).sqrt()
}
