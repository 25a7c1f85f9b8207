//! Statistics beside those of the report.

pub mod cluster;
pub mod decision;
pub mod density;
pub mod display;
pub mod paired;
pub mod proportion;
pub mod quantile;
pub mod rare;
pub mod sensitivity;
pub mod special;

use lostlink::chance::standard_normal_quantile;
use lostlink::stats::StatsError;

/// All points on one line or in one spot, or a table without differences.
const NO_SPREAD: StatsError = StatsError::Range { name: "spread", value: 0.0 };

/// `level` when it lies in (0, 1).
fn checked_level(level: f64) -> Result<f64, StatsError> {
    if level > 0.0 && level < 1.0 { Ok(level) } else { Err(StatsError::Confidence(level)) }
}

/// Standard normal quantile of a two-sided confidence.
fn two_sided_z(confidence: f64) -> f64 {
    -standard_normal_quantile(0.5 * (1.0 - confidence))
}

/// First whole number of [low, high] at which a monotone test turns true; `high` when none before does.
fn bisect_first(mut low: u64, mut high: u64, test: impl Fn(u64) -> bool) -> u64 {
    while low < high {
        let middle = low + (high - low) / 2;
        if test(middle) { high = middle } else { low = middle + 1 }
    }
    low
}
