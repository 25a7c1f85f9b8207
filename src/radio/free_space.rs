//! Free space: wavelength, loss, the effective Earth.

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

/// Free-space basic transmission loss between isotropic antennas one metre apart, in dB; 20 dB a decade of distance are added to
/// it. A caller in flight clamps the distance to 1 m: nearer than a wavelength the law would turn into a gain.
///
/// # Source
/// ITU-R P.525, free-space loss: 20 log10(4 π d f/c).
pub fn one_metre_loss_db(frequency_hz: f64) -> f64 {
    20.0 * libm::log10(4.0 * PI / wavelength_m(frequency_hz))
}
