//! Trees on the path.

use lostlink::radio::range::{OutOfRange, within};

/// Loss in dB through woodland with one end in it.
///
/// `depth_m` is the length of the ray inside the canopy. Grows as `specific_db_per_m` at first and never above
/// `greatest_db`, which stands for the ways around.
///
/// # Errors
/// Negative depth, specific attenuation outside 0 to 100 dB/m, greatest attenuation not above 0.
///
/// # Source
/// ITU-R P.833-9 §2.1, equation (1): Am (1 − e^(−dγ/Am)).
pub fn woodland_excess_db(depth_m: f64, specific_db_per_m: f64, greatest_db: f64) -> Result<f64, OutOfRange> {
    within("depth in m", depth_m, 0.0, 1e6)?;
    within("specific attenuation in dB/m", specific_db_per_m, 0.0, 100.0)?;
    within("greatest attenuation in dB", greatest_db, f64::MIN_POSITIVE, 1e3)?;
    Ok(-greatest_db * libm::expm1(-depth_m * specific_db_per_m / greatest_db))
}

/// Loss in dB through dry trees in leaf.
///
/// # Errors
/// Frequency outside 230 MHz to 95 GHz, depth outside 0 to 400 m.
///
/// # Source
/// Weissberger 1982, ECAC-TR-81-101: 1.33 f^0.284 d^0.588 for 14 < d ≤ 400 m, 0.45 f^0.284 d up to 14 m, f in GHz.
pub fn tree_decay_loss_db(frequency_hz: f64, depth_m: f64) -> Result<f64, OutOfRange> {
    within("frequency in Hz", frequency_hz, 230e6, 95e9)?;
    within("depth in m", depth_m, 0.0, 400.0)?;
    let by_frequency = libm::pow(frequency_hz * 1e-9, 0.284);
    Ok(if depth_m <= 14.0 { 0.45 * by_frequency * depth_m } else { 1.33 * by_frequency * libm::pow(depth_m, 0.588) })
}
