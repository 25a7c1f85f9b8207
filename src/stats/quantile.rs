//! Quantiles of samples: order-statistic bounds, sample quantiles, bands, resampling.

use super::proportion::bisect_first;
use super::special::{binomial_cdf, binomial_tail};
use super::{StatsError, checked_level};

/// Ranks (from 1) of the order statistics that bound a quantile at equal tails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranks {
    /// Lower rank; `None`: not bounded below by this many values.
    pub low: Option<u64>,
    /// Upper rank; `None`: not bounded above.
    pub high: Option<u64>,
    /// Exact coverage of what is bounded.
    pub coverage: f64,
}

/// Order-statistic ranks for quantile `q` of `n` values at two-sided confidence.
///
/// # Errors
/// No value, `q` or confidence outside (0, 1).
///
/// # Source
/// David and Nagaraja, Order Statistics, 3rd ed. (2003), section 7.1: the count below the quantile is binomial.
pub fn quantile_ranks(n: u64, q: f64, confidence: f64) -> Result<Ranks, StatsError> {
    checked_level(q)?;
    checked_level(confidence)?;
    if n == 0 {
        return Err(StatsError::TooFew { got: 0, needed: 1 });
    }
    let tail = 0.5 * (1.0 - confidence);
    // Lower: the largest rank l with P(X ≤ l − 1) ≤ α/2; counts from 0, so l is the first k with P(X ≤ k) > α/2.
    let low = bisect_first(0, n, |k| k == n || binomial_cdf(k, n, q) > tail);
    // Upper: the smallest rank u with P(X ≥ u) ≤ α/2.
    let high = bisect_first(1, n + 1, |u| u == n + 1 || binomial_tail(u, n, q) <= tail);
    let below = if low == 0 { 0.0 } else { binomial_cdf(low - 1, n, q) };
    let above = if high > n { 0.0 } else { binomial_tail(high, n, q) };
    Ok(Ranks { low: (low > 0).then_some(low), high: (high <= n).then_some(high), coverage: 1.0 - below - above })
}

/// Rank (from 1) of the smallest order statistic that is an upper bound of the quantile at one-sided
/// confidence; `None`: not bounded by this many values.
///
/// # Errors
/// `q` or confidence outside (0, 1).
pub fn quantile_upper_rank(n: u64, q: f64, confidence: f64) -> Result<Option<u64>, StatsError> {
    checked_level(q)?;
    checked_level(confidence)?;
    let tail = 1.0 - confidence;
    let rank = bisect_first(1, n + 1, |u| u == n + 1 || binomial_tail(u, n, q) <= tail);
    Ok((rank <= n).then_some(rank))
}

/// How a sample quantile is interpolated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuantileRule {
    /// Linear between order statistics at (k − 1)/(n − 1).
    Type7,
    /// Approximately median-unbiased whatever the distribution: (k − ⅓)/(n + ⅓). The one printed.
    Type8,
}

/// Sample quantile of values sorted upwards; NaN of none. `q` is clamped to [0, 1].
///
/// # Source
/// Hyndman and Fan, The American Statistician 50 (1996) 361.
pub fn sample_quantile(sorted: &[f64], q: f64, rule: QuantileRule) -> f64 {
    let n = sorted.len();
    if n == 0 {
        return f64::NAN;
    }
    let q = q.clamp(0.0, 1.0);
    let position = match rule {
        QuantileRule::Type7 => (n - 1) as f64 * q,
        QuantileRule::Type8 => (n as f64 + 1.0 / 3.0) * q - 2.0 / 3.0,
    }
    .clamp(0.0, (n - 1) as f64);
    let k = position.floor() as usize;
    let part = position - k as f64;
    if k + 1 < n { sorted[k] + part * (sorted[k + 1] - sorted[k]) } else { sorted[n - 1] }
}
