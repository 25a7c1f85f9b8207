//! The International Standard Atmosphere up to 11 km, and density with an offset of temperature.

use crate::units::STANDARD_GRAVITY_MPS2;

/// Temperature at sea level, K.
///
/// # Source
/// ISO 2533:1975, table 1.
pub const SEA_LEVEL_TEMPERATURE_K: f64 = 288.15;

/// Pressure at sea level, Pa.
///
/// # Source
/// ISO 2533:1975, table 1.
pub const SEA_LEVEL_PRESSURE_PA: f64 = 101_325.0;

/// Specific gas constant of dry air, J/(kg K).
///
/// # Source
/// ISO 2533:1975, table 1.
pub const GAS_CONSTANT_JPKGK: f64 = 287.052_87;

/// Fall of temperature with geopotential height in the troposphere, K/m (ISO 2533:1975, table 4).
const LAPSE_KPM: f64 = 0.006_5;

/// Earth's nominal radius for geopotential height, m (ISO 2533:1975, equation 8).
const EARTH_RADIUS_M: f64 = 6_356_766.0;

/// Top of the troposphere, geopotential m (ISO 2533:1975, table 4).
const TROPOPAUSE_M: f64 = 11_000.0;

/// Geopotential height of a geometric height above mean sea level, both in m.
///
/// # Source
/// ISO 2533:1975, equation 8.
pub fn geopotential_height_m(height_msl_m: f64) -> f64 {
    EARTH_RADIUS_M * height_msl_m / (EARTH_RADIUS_M + height_msl_m)
}

/// Standard pressure in Pa at a geometric height of −5 000 m to 20 000 m above mean sea level.
///
/// # Source
/// ISO 2533:1975, equations 12 and 13.
pub fn pressure_pa(height_msl_m: f64) -> f64 {
    let height_m = geopotential_height_m(height_msl_m);
    let exponent = STANDARD_GRAVITY_MPS2 / (GAS_CONSTANT_JPKGK * LAPSE_KPM);
    let lower_m = height_m.min(TROPOPAUSE_M);
    let temperature_k = SEA_LEVEL_TEMPERATURE_K - LAPSE_KPM * lower_m;
    let lower_pa = SEA_LEVEL_PRESSURE_PA * libm::pow(temperature_k / SEA_LEVEL_TEMPERATURE_K, exponent);
    if height_m <= TROPOPAUSE_M {
        return lower_pa;
    }
    lower_pa * libm::exp(-STANDARD_GRAVITY_MPS2 * (height_m - TROPOPAUSE_M) / (GAS_CONSTANT_JPKGK * temperature_k))
}

/// Density in kg/m³ from a sea-level pressure and the temperature at the place itself.
///
/// The standard pressure ratio of the height carries the sea-level pressure up to the place.
///
/// # Source
/// Gas law; pressure ratio of ISO 2533:1975.
pub fn density_at_site_kgpm3(height_msl_m: f64, sea_level_pressure_pa: f64, temperature_k: f64) -> f64 {
    let pressure_pa = sea_level_pressure_pa * pressure_pa(height_msl_m) / SEA_LEVEL_PRESSURE_PA;
    pressure_pa / (GAS_CONSTANT_JPKGK * temperature_k)
}
