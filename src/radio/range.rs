//! Refusal of arguments outside a model's stated range.

/// An argument outside the range in which a propagation model holds.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{quantity} is {value}, outside the model's range {least} to {greatest}")]
pub struct OutOfRange {
    /// The argument, with its unit.
    pub quantity: &'static str,
    /// What was given.
    pub value: f64,
    /// Least value for which the model holds.
    pub least: f64,
    /// Greatest value for which the model holds.
    pub greatest: f64,
}

/// The value itself when it lies in `least..=greatest`; NaN never does.
///
/// # Errors
/// [`OutOfRange`] otherwise.
pub fn within(quantity: &'static str, value: f64, least: f64, greatest: f64) -> Result<f64, OutOfRange> {
    if value >= least && value <= greatest { Ok(value) } else { Err(OutOfRange { quantity, value, least, greatest }) }
}

/// Range check of a carrier frequency for models that hold at any radio frequency.
pub(crate) fn any_frequency(frequency_hz: f64) -> Result<f64, OutOfRange> {
    within("frequency in Hz", frequency_hz, 1e4, 1e12)
}

/// Range check of a length that must be above zero.
pub(crate) fn any_length(quantity: &'static str, length_m: f64) -> Result<f64, OutOfRange> {
    within(quantity, length_m, f64::MIN_POSITIVE, 1e9)
}
