//! Intervals and bounds of one share, and of a Poisson mean.

use super::special::beta_quantile;
use super::{Interval, StatsError, checked_level, two_sided_z};

fn checked(events: u64, of: u64, confidence: f64) -> Result<(f64, f64), StatsError> {
    if of == 0 || events > of {
        return Err(StatsError::Counts { events, of });
    }
    checked_level(confidence)?;
    Ok((events as f64, of as f64))
}

/// Clopper–Pearson interval; its coverage is never under `confidence`. Lower end 0 with no event,
/// upper end 1 when every trial is an event.
///
/// # Errors
/// No trial, more events than trials, confidence outside (0, 1).
///
/// # Source
/// Clopper and Pearson, Biometrika 26 (1934) 404; as quantiles of the beta distribution.
pub fn clopper_pearson(events: u64, of: u64, confidence: f64) -> Result<Interval, StatsError> {
    let (k, n) = checked(events, of, confidence)?;
    let tail = 0.5 * (1.0 - confidence);
    // The upper end through the mirrored problem would lose the digits of small shares; the quantile
    // at 1 − tail is solved from its upper tail instead.
    let low = if events == 0 { 0.0 } else { beta_quantile(k, n - k + 1.0, tail) };
    let high = if events == of {
        1.0
    } else if events == 0 {
        -libm::expm1(libm::log(tail) / n)
    } else {
        beta_quantile(k + 1.0, n - k, 1.0 - tail)
    };
    Ok(Interval { low, high })
}

/// Exact one-sided upper bound of a share; with no event `1 − (1 − confidence)^(1/n)`.
///
/// # Errors
/// As [`clopper_pearson`].
///
/// # Source
/// The upper half of Clopper–Pearson at twice the tail.
pub fn upper_bound_one_sided(events: u64, of: u64, confidence: f64) -> Result<f64, StatsError> {
    let (k, n) = checked(events, of, confidence)?;
    Ok(if events == of {
        1.0
    } else if events == 0 {
        -libm::expm1(libm::log(1.0 - confidence) / n)
    } else {
        beta_quantile(k + 1.0, n - k, confidence)
    })
}

/// First whole number of [low, high] at which a monotone test turns true; `high` when none before does.
pub(crate) fn bisect_first(mut low: u64, mut high: u64, test: impl Fn(u64) -> bool) -> u64 {
    while low < high {
        let middle = low + (high - low) / 2;
        if test(middle) { high = middle } else { low = middle + 1 }
    }
    low
}

/// Smallest number of trials at which the Wilson half-width is at most `half_width` if the observed
/// share were exactly `share`.
///
/// # Errors
/// Share outside [0, 1], half-width not in (0, ½), confidence outside (0, 1).
pub fn sample_size_half_width(share: f64, half_width: f64, confidence: f64) -> Result<u64, StatsError> {
    checked_level(confidence)?;
    if !(0.0..=1.0).contains(&share) {
        return Err(StatsError::Range { name: "share", value: share });
    }
    if half_width.is_nan() || half_width <= 0.0 {
        return Err(StatsError::Range { name: "half-width", value: half_width });
    }
    let z = two_sided_z(confidence);
    let enough = |n: u64| {
        let n = n as f64;
        let zz = z * z;
        z * (share * (1.0 - share) / n + zz / (4.0 * n * n)).sqrt() / (1.0 + zz / n) <= half_width
    };
    let mut high = 1;
    while !enough(high) {
        high *= 2;
    }
    Ok(bisect_first(1, high, enough))
}
