//! Ranges that the formulas share.

use lostlink::radio::range::{OutOfRange, within};

/// A frequency that propagation formulas take: 10 kHz to 1 THz.
pub fn any_frequency(frequency_hz: f64) -> Result<f64, OutOfRange> {
    within("frequency in Hz", frequency_hz, 1e4, 1e12)
}

/// A length above zero.
pub fn any_length(quantity: &'static str, length_m: f64) -> Result<f64, OutOfRange> {
    within(quantity, length_m, f64::MIN_POSITIVE, 1e9)
}
