//! Free space and the geometry of a ray: loss, Fresnel zones, the Earth's bulge.

use super::range::{any_frequency, any_length};
use lostlink::radio::free_space::{one_metre_loss_db, wavelength_m};
use lostlink::radio::range::{OutOfRange, within};

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
    Ok(one_metre_loss_db(frequency_hz) + 20.0 * libm::log10(distance_m))
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
