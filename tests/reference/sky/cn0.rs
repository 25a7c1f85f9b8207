//! Carrier over noise density, interference, and the noise of the code.

use libm::sin;
use lostlink::sky::*;
use lostlink::units::{db_from_ratio, ratio_from_db};
use std::f64::consts::PI;

/// Boltzmann's constant (exact by definition, SI), as 10 log₁₀ of W/(Hz K).
const BOLTZMANN_DB: f64 = -228.599_167_345_3;

/// C/N0 from received power, antenna gain, noise temperature and loss of the receiver.
pub fn cn0_budget_dbhz(signal_dbw: f64, gain_dbi: f64, noise_temperature_k: f64, implementation_loss_db: f64) -> f64 {
    signal_dbw + gain_dbi - (BOLTZMANN_DB + db_from_ratio(noise_temperature_k)) - implementation_loss_db
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

/// Interference over signal that pulls C/N0 down to a threshold; `None` when the threshold is not below it.
pub fn tolerable_interference_db(cn0_dbhz: f64, threshold_dbhz: f64, q_factor: f64, chip_rate_hz: f64) -> Option<f64> {
    let left = ratio_from_db(-threshold_dbhz) - ratio_from_db(-cn0_dbhz);
    (left > 0.0).then(|| db_from_ratio(q_factor * chip_rate_hz * left))
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
