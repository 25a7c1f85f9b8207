//! Pure statistics on slices and counts. Knows no flights.

pub mod contours;
pub mod density;
pub mod display;
pub mod information;
pub mod paired;
pub mod proportion;
pub mod quantile;
pub mod special;

/// A two-sided interval.
pub use crate::chance::Range as Interval;

/// Why a statistic is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StatsError {
    /// A confidence or probability outside (0, 1).
    #[error("a confidence or probability of {0} is outside (0, 1)")]
    Confidence(f64),
    /// More events than trials, or no trial at all.
    #[error("{events} events out of {of}: out of range")]
    Counts {
        /// Events.
        events: u64,
        /// Out of.
        of: u64,
    },
    /// Fewer values than the statistic needs.
    #[error("{got} values given, at least {needed} needed")]
    TooFew {
        /// Values given.
        got: usize,
        /// Values needed.
        needed: usize,
    },
    /// Rows or lists of different lengths.
    #[error("lists or rows differ in length")]
    Shape,
    /// A value out of the range in which the formula holds.
    #[error("{name} = {value} is out of range")]
    Range {
        /// What.
        name: &'static str,
        /// Its value.
        value: f64,
    },
}

/// `level` when it lies in (0, 1).
fn checked_level(level: f64) -> Result<f64, StatsError> {
    if level > 0.0 && level < 1.0 { Ok(level) } else { Err(StatsError::Confidence(level)) }
}

/// Standard normal quantile of a two-sided confidence.
pub(crate) fn two_sided_z(confidence: f64) -> f64 {
    // −Φ⁻¹(α/2) keeps its digits for confidences close to 1 better than Φ⁻¹(1 − α/2).
    -crate::chance::standard_normal_quantile(0.5 * (1.0 - confidence))
}
