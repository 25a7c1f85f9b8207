//! Carrier over noise density, interference, and the noise of the code.

use crate::units::{SPEED_OF_LIGHT_MPS, db_from_ratio, ratio_from_db};
use libm::{log10, sin};
use std::f64::consts::PI;

/// Chip rate of the civil codes on L1 and E1.
///
/// # Source
/// IS-GPS-200, section 3.3.2.
pub const CHIP_RATE_HZ: f64 = 1.023e6;

/// Carrier of L1 and E1.
///
/// # Source
/// IS-GPS-200, section 3.3.1.1.
pub const L1_HZ: f64 = 1_575.42e6;

/// Least received power of L1 C/A, dBW.
///
/// # Source
/// IS-GPS-200, table 3-Va (from memory).
pub const LEAST_SIGNAL_DBW: f64 = -158.5;

/// C/N0 of a level antenna by elevation under an open sky, before what a small antenna and the craft's noise take.
///
/// With a tilted antenna give the elevation above the antenna's own plane: the slope is the antenna's.
///
/// # Source
/// Fit over 60 s of GPS L1 and Galileo E1 of a survey receiver, 31.6 + 19.0 sin E dB-Hz (residual 0.9 dB above 10°), from the
/// observations that go with the navigation file of package cssrlib 1.2.1.
pub fn open_sky_cn0_dbhz(elevation_rad: f64) -> f64 {
    31.6 + 19.0 * sin(elevation_rad)
}

/// C/N0 that is left under interference `j_over_s_db` above the signal.
///
/// # Source
/// Kaplan and Hegarty, 2006, equation 6.7 (from memory).
pub fn effective_cn0_dbhz(cn0_dbhz: f64, j_over_s_db: f64, q_factor: f64, chip_rate_hz: f64) -> f64 {
    -db_from_ratio(ratio_from_db(-cn0_dbhz) + ratio_from_db(j_over_s_db) / (q_factor * chip_rate_hz))
}

/// Interference over signal of an emitter in free space.
///
/// # Source
/// Free-space loss of ITU-R P.525; Kaplan and Hegarty, 2006, section 6.2.2.2.
pub fn interference_ratio_db(
    eirp_dbw: f64,
    distance_m: f64,
    frequency_hz: f64,
    gain_to_emitter_dbi: f64,
    signal_dbw: f64,
    gain_to_satellite_dbi: f64,
) -> f64 {
    let loss_db = 20.0 * log10(4.0 * PI * distance_m * frequency_hz / SPEED_OF_LIGHT_MPS);
    eirp_dbw - loss_db + gain_to_emitter_dbi - signal_dbw - gain_to_satellite_dbi
}

/// Thermal noise of the code loop, 1 sigma, in chips: early-late power discriminator, wide front end.
///
/// # Source
/// Kaplan and Hegarty, 2006, equation 5.23, first case (from memory):
/// √(B D/(2 c) · (1 + 2/(T c (2 − D)))) chips.
pub fn code_noise_chips(cn0_dbhz: f64, bandwidth_hz: f64, spacing_chips: f64, integration_s: f64) -> f64 {
    let c = ratio_from_db(cn0_dbhz);
    let squaring = 1.0 + 2.0 / (integration_s * c * (2.0 - spacing_chips));
    (bandwidth_hz * spacing_chips / (2.0 * c) * squaring).sqrt()
}

/// Code noise of a usual receiver after smoothing by the carrier, metres.
///
/// # Source
/// [`code_noise_chips`] with 0.5 Hz, half a chip, 20 ms; a third of it is left by smoothing (estimate).
pub fn smoothed_code_noise_m(cn0_dbhz: f64) -> f64 {
    code_noise_chips(cn0_dbhz, 0.5, 0.5, 0.02) * SPEED_OF_LIGHT_MPS / CHIP_RATE_HZ / 3.0
}
