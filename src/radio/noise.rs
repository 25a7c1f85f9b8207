//! Noise and the link budget.

use super::range::{OutOfRange, within};
use crate::units::{db_from_ratio, ratio_from_db};

/// Boltzmann constant, J/K (exact by definition, SI).
pub const BOLTZMANN_JPK: f64 = 1.380_649e-23;

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

/// Surroundings of ITU-R P.372 for man-made noise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoiseEnvironment {
    /// City.
    City,
    /// Residential.
    Residential,
    /// Rural.
    Rural,
    /// Quiet rural.
    QuietRural,
}

/// # Source
/// ITU-R P.372-17, man-made noise: c − d log10 f_MHz, (c, d) = (76.8, 27.7), (72.5, 27.7), (67.2, 27.7), (53.6, 28.6).
fn man_made(frequency_hz: f64, surroundings: NoiseEnvironment) -> f64 {
    let (c, d) = match surroundings {
        NoiseEnvironment::City => (76.8, 27.7),
        NoiseEnvironment::Residential => (72.5, 27.7),
        NoiseEnvironment::Rural => (67.2, 27.7),
        NoiseEnvironment::QuietRural => (53.6, 28.6),
    };
    c - d * libm::log10(frequency_hz * 1e-6)
}

/// Median man-made noise figure in dB over k T0 B at a link's frequency: the formula up to 250 MHz, continued with the same slope to
/// 900 MHz (an extrapolation, flagged so where it is printed), none above.
pub fn man_made_noise_figure_extended_db(frequency_hz: f64, surroundings: NoiseEnvironment) -> Option<f64> {
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
    fn man_made_noise_ends_at_900_mhz() {
        let city = man_made_noise_figure_extended_db(433e6, NoiseEnvironment::City).unwrap();
        assert!((city - 3.8).abs() < 0.05);
        assert_eq!(man_made_noise_figure_extended_db(2.4e9, NoiseEnvironment::City), None);
    }
}
