//! Waveforms and their error rates.

use lostlink::radio::modem::*;
use lostlink::units::ratio_from_db;

/// The same averaged over Rayleigh fading that holds over a symbol; `mean_snr_db` in the chirp's bandwidth.
///
/// # Source
/// The alternating sum over k of (−1)^(k+1)·C(M−1,k)/(k+1+k·M·snr) is 1 − ∏ k/(k+x) with x = 1/(1+M·snr) (partial
/// fractions of the beta function), which has no cancellation.
pub fn chirp_symbol_error_rate_rayleigh(spreading_factor: u32, mean_snr_db: f64) -> Result<f64, ModemError> {
    let symbols = symbols_of(spreading_factor)?;
    let x = 1.0 / (1.0 + symbols * ratio_from_db(mean_snr_db));
    let log: f64 = (1..symbols as u32).map(|k| libm::log1p(x / f64::from(k))).sum();
    Ok(-libm::expm1(-log))
}

/// Approximate bit error rate of the chirp waveform; too good at low rates (half the true one at 3e-4).
///
/// # Source
/// Elshabrawy and Robert, IEEE Communications Letters (2018), closed-form approximation (from memory).
pub fn chirp_bit_error_rate_approx(spreading_factor: u32, snr_db: f64) -> Result<f64, ModemError> {
    let symbols = symbols_of(spreading_factor)?;
    let x = (2.0 * symbols * ratio_from_db(snr_db)).sqrt() - (1.386 * f64::from(spreading_factor) + 1.154).sqrt();
    Ok(0.5 * gaussian_tail(x))
}

/// Bit error rate that goes with a symbol error rate of 2^SF orthogonal symbols.
pub fn chirp_bit_error_rate(spreading_factor: u32, symbol_error_rate: f64) -> Result<f64, ModemError> {
    let symbols = symbols_of(spreading_factor)?;
    Ok(symbol_error_rate * 0.5 * symbols / (symbols - 1.0))
}

/// SNR in the chirp's bandwidth at which an uncoded packet of `symbols_count` chirps fails with chance `packet_error_rate`.
pub fn chirp_snr_for_packet_error_db(
    spreading_factor: u32,
    symbols_count: u64,
    packet_error_rate: f64,
) -> Result<f64, ModemError> {
    let symbols = symbols_of(spreading_factor)?;
    let last = 1.0 - f64::EPSILON;
    lostlink::radio::range::within("packet error rate", packet_error_rate, f64::MIN_POSITIVE, last)?;
    let wanted = -libm::expm1(libm::log1p(-packet_error_rate) / symbols_count as f64);
    if wanted >= 1.0 - 1.0 / symbols {
        return Ok(f64::NEG_INFINITY);
    }
    let (mut low, mut high) = (-60.0, 30.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if chirp_symbol_error_rate(spreading_factor, middle)? > wanted { low = middle } else { high = middle }
    }
    Ok(0.5 * (low + high))
}

/// Upper tail of the standard normal distribution.
fn gaussian_tail(x: f64) -> f64 {
    0.5 * libm::erfc(x * std::f64::consts::FRAC_1_SQRT_2)
}

/// Bit error rate of coherent BPSK, or Gray-coded QPSK, at an Eb/N0.
pub fn psk_bit_error_rate(eb_n0_db: f64) -> f64 {
    gaussian_tail((2.0 * ratio_from_db(eb_n0_db)).sqrt())
}

/// Bit error rate of non-coherent orthogonal binary FSK (modulation index 1) at an Eb/N0.
pub fn fsk_bit_error_rate(eb_n0_db: f64) -> f64 {
    0.5 * libm::exp(-0.5 * ratio_from_db(eb_n0_db))
}

/// Bit error rate of non-coherent orthogonal FSK averaged over Rician fading.
///
/// # Source
/// Closed form by the moment generating function of Rician power.
pub fn fsk_bit_error_rate_rician(k_db: f64, mean_eb_n0_db: f64) -> f64 {
    let (k, half) = (ratio_from_db(k_db), 0.5 * ratio_from_db(mean_eb_n0_db));
    let below = 1.0 + k + half;
    0.5 * (1.0 + k) / below * libm::exp(-k * half / below)
}

fn symbols_of(spreading_factor: u32) -> Result<f64, ModemError> {
    if (5..=12).contains(&spreading_factor) {
        Ok(f64::from(1u32 << spreading_factor))
    } else {
        Err(ModemError::SpreadingFactor(spreading_factor))
    }
}
