//! Small-scale fading: Rician outage, crossings, correlation in time and frequency, and the process met in flight.

use lostlink::radio::maths::{bessel_i0_scaled, rician_tails};
use lostlink::units::{SPEED_OF_LIGHT_MPS, ratio_from_db};

/// Probability that Rician power lies below `level_db` relative to its mean. `k_db` from −∞ (Rayleigh) to about 40 dB.
///
/// # Source
/// Rice (1944); noncentral χ² distribution, see [`rician_tails`].
pub fn rician_outage(k_db: f64, level_db: f64) -> f64 {
    rician_tails(ratio_from_db(k_db), ratio_from_db(level_db)).below
}

/// Probability that Rayleigh power lies below `level_db` relative to its mean: the Rician one at K = 0.
pub fn rayleigh_outage(level_db: f64) -> f64 {
    -libm::expm1(-ratio_from_db(level_db))
}

/// Level relative to mean power, in dB, below which Rician power lies with this probability; `None` unless
/// 0 < `probability` < 1.
pub fn rician_fade_level_db(k_db: f64, probability: f64) -> Option<f64> {
    if !(probability > 0.0 && probability < 1.0) {
        return None;
    }
    let (mut low, mut high) = (-10.0, 3.0);
    while rician_outage(k_db, low) > probability {
        low *= 2.0;
        if low < -6000.0 {
            return None;
        }
    }
    while rician_outage(k_db, high) < probability {
        high += 3.0;
        if high > 60.0 {
            return None;
        }
    }
    for _ in 0..70 {
        let middle = 0.5 * (low + high);
        if rician_outage(k_db, middle) < probability { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}

/// Greatest Doppler shift at a speed.
pub fn doppler_hz(frequency_hz: f64, speed_mps: f64) -> f64 {
    speed_mps * frequency_hz / SPEED_OF_LIGHT_MPS
}

/// Autocorrelation of the diffuse field after a lag, isotropic scattering in the plane: J₀(2π·fd·τ).
///
/// # Source
/// Clarke, Bell System Technical Journal 47 (1968); Jakes, Microwave Mobile Communications (1974).
pub fn field_autocorrelation(frequency_hz: f64, speed_mps: f64, lag_s: f64) -> f64 {
    libm::j0(std::f64::consts::TAU * doppler_hz(frequency_hz, speed_mps) * lag_s)
}

/// Time over which the field stays correlated above about one half: 9/(16π·fd); infinite at rest.
///
/// # Source
/// Rule of thumb from Rappaport, Wireless Communications (from memory).
pub fn coherence_time_s(frequency_hz: f64, speed_mps: f64) -> f64 {
    9.0 / (16.0 * std::f64::consts::PI * doppler_hz(frequency_hz, speed_mps))
}

/// Squared magnitude of the correlation between two frequencies, exponential delay profile.
///
/// # Source
/// Fourier transform of the exponential power-delay profile: 1/(1+(2πΔf·τ)²).
pub fn frequency_correlation(separation_hz: f64, rms_delay_s: f64) -> f64 {
    let x = std::f64::consts::TAU * separation_hz * rms_delay_s;
    1.0 / (1.0 + x * x)
}

/// Downward crossings per second of a Rician envelope through a threshold. `k` is linear, ≥ 0.
///
/// The line of sight carries no Doppler shift of its own, the scattering is isotropic.
///
/// # Source
/// Rice (1948), as given by Stüber, Principles of Mobile Communication (from memory).
pub fn level_crossing_rate_hz(k: f64, threshold_re_rms_db: f64, doppler_hz: f64) -> f64 {
    let rho = ratio_from_db(0.5 * threshold_re_rms_db);
    let shift = f64::sqrt(k) - rho * (k + 1.0).sqrt();
    (std::f64::consts::TAU * (k + 1.0)).sqrt()
        * doppler_hz
        * rho
        * libm::exp(-shift * shift)
        * bessel_i0_scaled(2.0 * rho * (k * (k + 1.0)).sqrt())
}

/// Mean time a Rician envelope stays below a threshold at each visit. `k` is linear, ≥ 0.
pub fn average_fade_duration_s(k: f64, threshold_re_rms_db: f64, doppler_hz: f64) -> f64 {
    rician_tails(k, ratio_from_db(threshold_re_rms_db)).below
        / level_crossing_rate_hz(k, threshold_re_rms_db, doppler_hz)
}
