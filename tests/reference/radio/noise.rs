//! Noise and the link budget.

use super::free_space::free_space_loss_db;
use lostlink::radio::noise::*;
use lostlink::radio::range::{OutOfRange, within};
use lostlink::units::ratio_from_db;

/// Reference temperature of noise figures, in kelvin.
pub const REFERENCE_TEMPERATURE_K: f64 = 290.0;

/// Rise in dB of noise plus interference over noise alone.
///
/// # Errors
/// A ratio outside −300 to 300 dB.
///
/// # Source
/// 10 log10(1 + 10^(INR/10)).
pub fn noise_rise_db(interference_to_noise_db: f64) -> Result<f64, OutOfRange> {
    within("interference to noise in dB", interference_to_noise_db, -300.0, 300.0)?;
    Ok(10.0 / std::f64::consts::LN_10 * libm::log1p(ratio_from_db(interference_to_noise_db)))
}

/// Least power in dBm at which a receiver reaches the SNR it needs.
///
/// # Errors
/// As [`noise_power_dbm`]; needed SNR outside −100 to 100 dB.
///
/// # Source
/// k T0 B F times the needed SNR; the handbook's −174 dBm/Hz is −173.975.
pub fn sensitivity_dbm(bandwidth_hz: f64, noise_figure_db: f64, needed_snr_db: f64) -> Result<f64, OutOfRange> {
    within("needed SNR in dB", needed_snr_db, -100.0, 100.0)?;
    Ok(noise_power_dbm(bandwidth_hz, noise_figure_db, REFERENCE_TEMPERATURE_K)? + needed_snr_db)
}

/// A link as far as a budget over free space is concerned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Budget {
    /// Conducted power at the antenna port.
    pub power_dbm: f64,
    /// Gain of the sending antenna.
    pub gain_tx_dbi: f64,
    /// Gain of the receiving antenna.
    pub gain_rx_dbi: f64,
    /// Carrier.
    pub frequency_hz: f64,
    /// Slant range.
    pub distance_m: f64,
    /// Everything else that is lost.
    pub other_losses_db: f64,
    /// Noise bandwidth.
    pub bandwidth_hz: f64,
    /// Noise figure of the receiver.
    pub noise_figure_db: f64,
    /// SNR that the receiver needs.
    pub needed_snr_db: f64,
}

/// Margin in dB over free space.
///
/// # Errors
/// As [`free_space_loss_db`] and [`sensitivity_dbm`].
pub fn link_margin_db(budget: Budget) -> Result<f64, OutOfRange> {
    within("power in dBm", budget.power_dbm, -200.0, 120.0)?;
    within("other losses in dB", budget.other_losses_db, -100.0, 500.0)?;
    let received = budget.power_dbm + budget.gain_tx_dbi + budget.gain_rx_dbi
        - free_space_loss_db(budget.frequency_hz, budget.distance_m)?
        - budget.other_losses_db;
    Ok(received - sensitivity_dbm(budget.bandwidth_hz, budget.noise_figure_db, budget.needed_snr_db)?)
}
