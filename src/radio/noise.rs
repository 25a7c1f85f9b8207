//! Noise and the link budget.

use super::free_space::free_space_loss_db;
use super::range::{OutOfRange, within};
use crate::units::{db_from_ratio, ratio_from_db};

/// Boltzmann constant, J/K (exact by definition, SI).
pub const BOLTZMANN_JPK: f64 = 1.380_649e-23;

/// Reference temperature of noise figures, in kelvin.
pub const REFERENCE_TEMPERATURE_K: f64 = 290.0;

/// Thermal noise of a receiver in a bandwidth, in dBm, its noise figure included.
///
/// # Errors
/// Bandwidth not above 0, noise figure outside 0 to 60 dB, temperature outside 1 to 10 000 K.
///
/// # Source
/// k T B F.
pub fn noise_power_dbm(bandwidth_hz: f64, noise_figure_db: f64, temperature_k: f64) -> Result<f64, OutOfRange> {
    within("bandwidth in Hz", bandwidth_hz, 1e-3, 1e12)?;
    within("noise figure in dB", noise_figure_db, 0.0, 60.0)?;
    within("reference temperature in K", temperature_k, 1.0, 1e4)?;
    Ok(10.0 * libm::log10(BOLTZMANN_JPK * temperature_k * bandwidth_hz * 1e3) + noise_figure_db)
}

/// Surroundings as far as man-made noise is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoiseSurroundings {
    /// City.
    City,
    /// Residential.
    Residential,
    /// Rural.
    Rural,
    /// Quiet rural.
    QuietRural,
}

/// Median man-made noise figure in dB over k T0 B.
///
/// # Errors
/// Frequency outside 0.3 to 250 MHz: above, this holds no more, and noise is better put in as interference.
///
/// # Source
/// ITU-R P.372-17, man-made noise: c − d log10 f_MHz, (c, d) = (76.8, 27.7), (72.5, 27.7), (67.2, 27.7), (53.6, 28.6).
pub fn man_made_noise_figure_db(frequency_hz: f64, surroundings: NoiseSurroundings) -> Result<f64, OutOfRange> {
    within("frequency in Hz", frequency_hz, 0.3e6, 250e6)?;
    Ok(man_made(frequency_hz, surroundings))
}

fn man_made(frequency_hz: f64, surroundings: NoiseSurroundings) -> f64 {
    let (c, d) = match surroundings {
        NoiseSurroundings::City => (76.8, 27.7),
        NoiseSurroundings::Residential => (72.5, 27.7),
        NoiseSurroundings::Rural => (67.2, 27.7),
        NoiseSurroundings::QuietRural => (53.6, 28.6),
    };
    c - d * libm::log10(frequency_hz * 1e-6)
}

/// Man-made noise figure in dB at a link's frequency: the formula up to 250 MHz, continued with the same slope to
/// 900 MHz (an extrapolation, flagged so where it is printed), none above.
pub fn man_made_noise_figure_extended_db(frequency_hz: f64, surroundings: NoiseSurroundings) -> Option<f64> {
    (0.3e6..=900e6).contains(&frequency_hz).then(|| man_made(frequency_hz, surroundings))
}

/// Noise figure in dB of a receiver with external noise, lossless antenna at the reference temperature.
///
/// # Errors
/// External figure outside −100 to 200 dB, receiver's outside 0 to 60 dB.
///
/// # Source
/// ITU-R P.372 §2: f = fa + fr − 1.
pub fn overall_noise_figure_db(external_db: f64, noise_figure_db: f64) -> Result<f64, OutOfRange> {
    within("external noise figure in dB", external_db, -100.0, 200.0)?;
    within("noise figure in dB", noise_figure_db, 0.0, 60.0)?;
    Ok(db_from_ratio(ratio_from_db(external_db) + ratio_from_db(noise_figure_db) - 1.0))
}

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kilohertz_of_thermal_noise() {
        // -173.975 dBm/Hz at 290 K.
        assert!((noise_power_dbm(1e3, 0.0, 290.0).unwrap() + 143.975).abs() < 1e-3);
        assert!(noise_power_dbm(0.0, 0.0, 290.0).is_err());
    }

    #[test]
    fn man_made_noise_is_refused_above_its_range_and_extended_only_by_name() {
        assert!(man_made_noise_figure_db(433e6, NoiseSurroundings::City).is_err());
        let city = man_made_noise_figure_extended_db(433e6, NoiseSurroundings::City).unwrap();
        assert!((city - 3.8).abs() < 0.05);
        assert_eq!(man_made_noise_figure_extended_db(2.4e9, NoiseSurroundings::City), None);
    }

    #[test]
    fn equal_interference_doubles_the_noise() {
        assert!((noise_rise_db(0.0).unwrap() - 3.010_3).abs() < 1e-4);
        assert!((overall_noise_figure_db(0.0, 5.0).unwrap() - 5.0).abs() < 1e-12);
    }
}
