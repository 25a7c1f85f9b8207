//! Free space and the geometry of a ray: loss, Fresnel zones, the Earth's bulge.

use super::range::{OutOfRange, any_frequency, any_length, within};
use crate::units::SPEED_OF_LIGHT_MPS;
use std::f64::consts::PI;

/// Effective Earth radius for median refraction, in metres: 4/3 of the Earth, as the terrain methods take it.
///
/// # Source
/// ITU-R P.1812, P.526: k = 4/3 with 6371 km, rounded there to 8500 km.
pub const MEDIAN_EARTH_RADIUS_M: f64 = 8.5e6;

/// Polarisation of a wave against the ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WavePolarisation {
    /// Electric field along the ground.
    Horizontal,
    /// Electric field in the plane of incidence.
    Vertical,
}

/// Wavelength in vacuum, in metres, of a frequency > 0.
#[inline]
pub fn wavelength_m(frequency_hz: f64) -> f64 {
    SPEED_OF_LIGHT_MPS / frequency_hz
}

/// Free-space basic transmission loss between isotropic antennas, in dB.
///
/// Grows 20 dB a decade of distance and of frequency. Holds in the far field; nearer than a wavelength it would turn
/// into a gain, which is no loss of anything: a caller in flight clamps the distance to 1 m.
///
/// # Errors
/// Frequency outside 10 kHz to 1 THz, distance not above zero.
///
/// # Source
/// ITU-R P.525, free-space loss: 20 log10(4 π d f/c).
pub fn free_space_loss_db(frequency_hz: f64, distance_m: f64) -> Result<f64, OutOfRange> {
    any_frequency(frequency_hz)?;
    any_length("distance in m", distance_m)?;
    Ok(FreeSpace::new(frequency_hz).loss_db(distance_m))
}

/// Free space at one frequency, for use in flight.
#[derive(Debug, Clone, Copy)]
pub struct FreeSpace {
    at_one_metre_db: f64,
}

impl FreeSpace {
    /// At this frequency, > 0.
    pub fn new(frequency_hz: f64) -> Self {
        FreeSpace { at_one_metre_db: 20.0 * libm::log10(4.0 * PI / wavelength_m(frequency_hz)) }
    }

    /// Loss in dB at a slant range > 0.
    #[inline]
    pub fn loss_db(&self, distance_m: f64) -> f64 {
        self.at_one_metre_db + 20.0 * libm::log10(distance_m)
    }

    /// Loss in dB from the square of the slant range, > 0: saves the root.
    #[inline]
    pub fn loss_of_square_db(&self, distance_squared_m2: f64) -> f64 {
        self.at_one_metre_db + 10.0 * libm::log10(distance_squared_m2)
    }
}

/// Radius in metres of the n-th Fresnel ellipsoid at distances `d1`, `d2` from the ends.
///
/// # Errors
/// A length or the frequency not above zero, zone 0.
///
/// # Source
/// ITU-R P.526 §2.1: √(n λ d1 d2/(d1 + d2)).
pub fn fresnel_radius_m(frequency_hz: f64, distance_1_m: f64, distance_2_m: f64, zone: u32) -> Result<f64, OutOfRange> {
    any_frequency(frequency_hz)?;
    any_length("first distance in m", distance_1_m)?;
    any_length("second distance in m", distance_2_m)?;
    let n = within("zone", f64::from(zone), 1.0, 1e6)?;
    Ok((n * wavelength_m(frequency_hz) * distance_1_m * distance_2_m / (distance_1_m + distance_2_m)).sqrt())
}

/// Height in metres of the effective Earth's bulge above the chord.
///
/// # Errors
/// A negative distance, a radius below 1000 km.
///
/// # Source
/// ITU-R P.526 §4.5.1: d1 d2/(2 ae).
pub fn earth_bulge_m(distance_1_m: f64, distance_2_m: f64, effective_earth_radius_m: f64) -> Result<f64, OutOfRange> {
    within("first distance in m", distance_1_m, 0.0, 1e7)?;
    within("second distance in m", distance_2_m, 0.0, 1e7)?;
    within("effective Earth radius in m", effective_earth_radius_m, 1e6, f64::INFINITY)?;
    Ok(distance_1_m * distance_2_m / (2.0 * effective_earth_radius_m))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_constant_of_the_printed_formula() {
        // ITU-R P.525 prints 32.4 + 20 log f_MHz + 20 log d_km; the exact constant is 32.44778.
        assert!((free_space_loss_db(1e6, 1e3).unwrap() - 32.447_783).abs() < 1e-6);
    }

    #[test]
    fn a_decade_is_20_db_and_the_square_saves_the_root() {
        let free = FreeSpace::new(868e6);
        assert!((free.loss_db(1e4) - free.loss_db(1e3) - 20.0).abs() < 1e-12);
        assert!((free.loss_of_square_db(123.0 * 123.0) - free.loss_db(123.0)).abs() < 1e-12);
    }

    #[test]
    fn outside_the_range_is_refused() {
        assert!(free_space_loss_db(2.4e9, 0.0).is_err());
        assert!(free_space_loss_db(f64::NAN, 1.0).is_err());
        assert!(fresnel_radius_m(2.4e9, 1.0, 1.0, 0).is_err());
        assert!(earth_bulge_m(-1.0, 1.0, 8.5e6).is_err());
    }
}
