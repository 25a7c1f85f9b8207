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

/// Boltzmann's constant (exact by definition, SI), as 10 log₁₀ of W/(Hz K).
const BOLTZMANN_DB: f64 = -228.599_167_345_3;

/// C/N0 from received power, antenna gain, noise temperature and loss of the receiver.
pub fn cn0_budget_dbhz(signal_dbw: f64, gain_dbi: f64, noise_temperature_k: f64, implementation_loss_db: f64) -> f64 {
    signal_dbw + gain_dbi - (BOLTZMANN_DB + db_from_ratio(noise_temperature_k)) - implementation_loss_db
}

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

/// How well a receiver resists interference of a spectrum; the smaller, the worse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InterferenceFactors {
    /// A line at the centre of the band.
    pub line: f64,
    /// White from null to null.
    pub white: f64,
    /// The same spectrum as the signal.
    pub matched: f64,
}

/// Interference resistance of a binary phase-shift code by quadrature; the chip rate (Hz) cancels.
///
/// # Source
/// Kaplan and Hegarty, 2006, section 6.2.2.1 (from memory): 1/(R ∫ S_l S_s df).
pub fn interference_factors(chip_rate_hz: f64) -> InterferenceFactors {
    let spectrum = |f_hz: f64| {
        let x = PI * f_hz / chip_rate_hz;
        let sinc = if x.abs() < 1e-8 { 1.0 } else { sin(x) / x };
        sinc * sinc / chip_rate_hz
    };
    // Simpson's rule over a number of nulls on either side; the tail of sinc⁴ beyond 40 is below 1e-6.
    let integral = |lobes: f64, f: &dyn Fn(f64) -> f64| {
        let steps = 40_000;
        let h = 2.0 * lobes * chip_rate_hz / f64::from(steps);
        let at = |k: i32| f(-lobes * chip_rate_hz + f64::from(k) * h);
        let inner: f64 = (1..steps).map(|k| at(k) * if k % 2 == 1 { 4.0 } else { 2.0 }).sum();
        (at(0) + at(steps) + inner) * h / 3.0
    };
    let white = integral(1.0, &|f| spectrum(f) / (2.0 * chip_rate_hz));
    let matched = integral(40.0, &|f| spectrum(f) * spectrum(f));
    InterferenceFactors {
        line: 1.0 / (chip_rate_hz * spectrum(0.0)),
        white: 1.0 / (chip_rate_hz * white),
        matched: 1.0 / (chip_rate_hz * matched),
    }
}

/// C/N0 that is left under interference `j_over_s_db` above the signal.
///
/// # Source
/// Kaplan and Hegarty, 2006, equation 6.7 (from memory).
pub fn effective_cn0_dbhz(cn0_dbhz: f64, j_over_s_db: f64, q_factor: f64, chip_rate_hz: f64) -> f64 {
    -db_from_ratio(ratio_from_db(-cn0_dbhz) + ratio_from_db(j_over_s_db) / (q_factor * chip_rate_hz))
}

/// Interference over signal that pulls C/N0 down to a threshold; `None` when the threshold is not below it.
pub fn tolerable_interference_db(cn0_dbhz: f64, threshold_dbhz: f64, q_factor: f64, chip_rate_hz: f64) -> Option<f64> {
    let left = ratio_from_db(-threshold_dbhz) - ratio_from_db(-cn0_dbhz);
    (left > 0.0).then(|| db_from_ratio(q_factor * chip_rate_hz * left))
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

/// An emitter and a receiver, for the distance at which the one stops the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InterferenceCase {
    /// Radiated power.
    pub eirp_dbw: f64,
    /// Carrier.
    pub frequency_hz: f64,
    /// Gain of the antenna towards the emitter.
    pub gain_to_emitter_dbi: f64,
    /// Received power of the satellite.
    pub signal_dbw: f64,
    /// Gain of the antenna towards the satellite.
    pub gain_to_satellite_dbi: f64,
    /// C/N0 without interference.
    pub cn0_dbhz: f64,
    /// C/N0 at which tracking ends.
    pub threshold_dbhz: f64,
    /// Interference resistance.
    pub q_factor: f64,
    /// Chip rate.
    pub chip_rate_hz: f64,
}

/// Distance in free space at which an emitter pulls C/N0 down to the threshold; `None` when it is there without one.
pub fn interference_radius_m(case: &InterferenceCase) -> Option<f64> {
    let most_db = tolerable_interference_db(case.cn0_dbhz, case.threshold_dbhz, case.q_factor, case.chip_rate_hz)?;
    let at_1m_db = interference_ratio_db(
        case.eirp_dbw,
        1.0,
        case.frequency_hz,
        case.gain_to_emitter_dbi,
        case.signal_dbw,
        case.gain_to_satellite_dbi,
    );
    Some(ratio_from_db(0.5 * (at_1m_db - most_db)))
}

/// Thermal noise of the code loop, 1 sigma, in chips and in metres: early-late power discriminator, wide front end.
///
/// # Source
/// Kaplan and Hegarty, 2006, equation 5.23, first case (from memory):
/// √(B D/(2 c) · (1 + 2/(T c (2 − D)))) chips.
pub fn code_noise(
    cn0_dbhz: f64,
    bandwidth_hz: f64,
    spacing_chips: f64,
    integration_s: f64,
    chip_rate_hz: f64,
) -> [f64; 2] {
    let c = ratio_from_db(cn0_dbhz);
    let squaring = 1.0 + 2.0 / (integration_s * c * (2.0 - spacing_chips));
    let chips = (bandwidth_hz * spacing_chips / (2.0 * c) * squaring).sqrt();
    [chips, chips * SPEED_OF_LIGHT_MPS / chip_rate_hz]
}

/// Code noise of a usual receiver after smoothing by the carrier, metres.
///
/// # Source
/// [`code_noise`] with 0.5 Hz, half a chip, 20 ms; a third of it is left by smoothing (estimate).
pub fn smoothed_code_noise_m(cn0_dbhz: f64) -> f64 {
    code_noise(cn0_dbhz, 0.5, 0.5, 0.02, CHIP_RATE_HZ)[1] / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn interference_inverts() {
        let j = tolerable_interference_db(44.0, 28.0, 1.5, CHIP_RATE_HZ).unwrap();
        assert!((effective_cn0_dbhz(44.0, j, 1.5, CHIP_RATE_HZ) - 28.0).abs() < 1e-9);
        assert_eq!(tolerable_interference_db(28.0, 28.0, 1.5, CHIP_RATE_HZ), None);
    }

    /// ∫sinc⁴ = 2/3 over all frequencies: the matched factor is exactly 3/2 (closed form).
    #[test]
    fn matched_factor_is_three_halves() {
        assert!((interference_factors(CHIP_RATE_HZ).matched - 1.5).abs() < 1e-5);
        assert!((interference_factors(10.23e6).matched - 1.5).abs() < 1e-5);
    }
}
