//! Time to first fix.

use libm::pow;

/// Bits per second of the legacy navigation message.
///
/// # Source
/// IS-GPS-200, section 20.3.2: 50 bit/s, subframes of 300 bits, frames of five, 25 frames for the almanac.
pub const MESSAGE_BIT_RATE: f64 = 50.0;

/// Length of a subframe; source as [`MESSAGE_BIT_RATE`].
pub const SUBFRAME_S: f64 = 6.0;

/// Length of a frame; source as [`MESSAGE_BIT_RATE`].
pub const FRAME_S: f64 = 30.0;

/// Time for the whole almanac; source as [`MESSAGE_BIT_RATE`].
pub const ALMANAC_S: f64 = 750.0;

/// Least, mean and greatest time to hear whole subframes 1 to 3, in any order, tuned in at a random instant.
///
/// A whole number of at least three subframes must make a frame; NaN otherwise.
pub fn ephemeris_wait_s(subframe_s: f64, frame_s: f64) -> [f64; 3] {
    let slots = (frame_s / subframe_s).round();
    if slots < 3.0 || (slots * subframe_s - frame_s).abs() > 1e-6 * frame_s {
        return [f64::NAN; 3];
    }
    let slots = slots as usize;
    // Tuned in during slot `now`: what is left of it is lost, then whole subframes follow until all three are heard.
    let whole: Vec<f64> = (0..slots)
        .map(|now| {
            let mut heard = [false; 3];
            let mut count = 0;
            while heard != [true; 3] {
                count += 1;
                if let Some(flag) = heard.get_mut((now + count) % slots) {
                    *flag = true;
                }
            }
            count as f64
        })
        .collect();
    let least = whole.iter().copied().fold(f64::INFINITY, f64::min);
    let most = whole.iter().copied().fold(0.0, f64::max);
    let mean = whole.iter().sum::<f64>() / slots as f64;
    [least * subframe_s, (mean + 0.5) * subframe_s, (most + 1.0) * subframe_s]
}

/// Probability that a message of so many bits arrives whole.
pub fn message_success(bits_count: u64, bit_error_rate: f64) -> f64 {
    pow(1.0 - bit_error_rate, bits_count as f64)
}
