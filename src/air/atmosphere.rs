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

/// Temperature of the standard atmosphere at a geopotential height up to 20 km.
pub fn isa_temperature_k(height_m: f64) -> f64 {
    SEA_LEVEL_TEMPERATURE_K - LAPSE_KPM * height_m.min(TROPOPAUSE_M)
}

/// Pressure of the standard atmosphere at a geopotential height of −5 000 m to 20 000 m.
///
/// # Source
/// ISO 2533:1975, equations 12 and 13.
pub fn isa_pressure_pa(height_m: f64) -> f64 {
    let exponent = STANDARD_GRAVITY_MPS2 / (GAS_CONSTANT_JPKGK * LAPSE_KPM);
    let temperature_k = isa_temperature_k(height_m);
    let lower_pa = SEA_LEVEL_PRESSURE_PA * libm::pow(temperature_k / SEA_LEVEL_TEMPERATURE_K, exponent);
    if height_m <= TROPOPAUSE_M {
        return lower_pa;
    }
    lower_pa * libm::exp(-STANDARD_GRAVITY_MPS2 * (height_m - TROPOPAUSE_M) / (GAS_CONSTANT_JPKGK * temperature_k))
}

/// Geopotential height of a pressure in the standard atmosphere, up to 20 km: the inverse of [`isa_pressure_pa`].
pub fn isa_height_m(pressure_pa: f64) -> f64 {
    let exponent = GAS_CONSTANT_JPKGK * LAPSE_KPM / STANDARD_GRAVITY_MPS2;
    let share = libm::pow(pressure_pa / SEA_LEVEL_PRESSURE_PA, exponent);
    let height_m = SEA_LEVEL_TEMPERATURE_K / LAPSE_KPM * (1.0 - share);
    if height_m <= TROPOPAUSE_M {
        return height_m;
    }
    let scale_m = GAS_CONSTANT_JPKGK * isa_temperature_k(TROPOPAUSE_M) / STANDARD_GRAVITY_MPS2;
    TROPOPAUSE_M - scale_m * libm::log(pressure_pa / isa_pressure_pa(TROPOPAUSE_M))
}

/// Height change per pascal of falling pressure in the standard atmosphere.
///
/// # Source
/// Hydrostatic equation: R T/(g p).
pub fn isa_height_slope_m_per_pa(pressure_pa: f64) -> f64 {
    GAS_CONSTANT_JPKGK * isa_temperature_k(isa_height_m(pressure_pa)) / (STANDARD_GRAVITY_MPS2 * pressure_pa)
}

/// Standard pressure in Pa at a geometric height above mean sea level, within the range of [`isa_pressure_pa`].
pub fn pressure_pa(height_msl_m: f64) -> f64 {
    isa_pressure_pa(geopotential_height_m(height_msl_m))
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
