//! Quantiles of samples: order-statistic bounds, sample quantiles, bands, resampling.

use super::proportion::bisect_first;
use super::special::{binomial_cdf, binomial_tail};
use super::{Interval, StatsError, checked_level};
use crate::chance::{standard_normal_cdf, standard_normal_quantile};
use rand::{Rng, RngExt};

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

/// Values needed so that the `rank`-th largest is a one-sided tolerance bound with this content and confidence.
///
/// # Errors
/// Rank 0, content or confidence outside (0, 1).
///
/// # Source
/// Wilks, Annals of Mathematical Statistics 12 (1941) 91.
pub fn wilks(content: f64, confidence: f64, rank: u64) -> Result<u64, StatsError> {
    checked_level(content)?;
    checked_level(confidence)?;
    if rank == 0 {
        return Err(StatsError::Range { name: "rank", value: 0.0 });
    }
    // Enough when at least `rank` of n values lie above the quantile with this confidence; the number above
    // is binomial with 1 − content, so fewer than `rank` must have probability ≤ 1 − confidence.
    let enough = |n: u64| binomial_cdf(rank - 1, n, 1.0 - content) <= 1.0 - confidence;
    let mut high = rank.max(1);
    while !enough(high) {
        high *= 2;
    }
    Ok(bisect_first(rank, high, enough))
}

/// Values needed so that the smallest and the largest together hold this content with this confidence.
///
/// # Errors
/// Content or confidence outside (0, 1).
///
/// # Source
/// Wilks (1941): 1 − n γⁿ⁻¹ + (n − 1) γⁿ.
pub fn wilks_two_sided(content: f64, confidence: f64) -> Result<u64, StatsError> {
    checked_level(content)?;
    checked_level(confidence)?;
    let enough = |n: u64| binomial_cdf(1, n, 1.0 - content) <= 1.0 - confidence;
    let mut high = 2;
    while !enough(high) {
        high *= 2;
    }
    Ok(bisect_first(2, high, enough))
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

/// Mean of the worst (largest) share of a sample sorted upwards. A share that is not a whole number of
/// values takes the last one in part.
///
/// # Errors
/// No value, or a share outside (0, 1].
///
/// # Source
/// Acerbi and Tasche, Journal of Banking & Finance 26 (2002) 1487 (expected shortfall of a sample).
pub fn tail_mean(sorted: &[f64], share: f64) -> Result<f64, StatsError> {
    let n = sorted.len();
    if n == 0 {
        return Err(StatsError::TooFew { got: 0, needed: 1 });
    }
    if !(share > 0.0 && share <= 1.0) {
        return Err(StatsError::Range { name: "tail share", value: share });
    }
    let wanted = n as f64 * share;
    // 0.05 · 100 is 5.000000000000001 or so: whole numbers are whole.
    let wanted = if (wanted - wanted.round()).abs() < 1e-9 * n as f64 { wanted.round() } else { wanted };
    let whole = wanted.floor() as usize;
    let mut sum: f64 = sorted[n - whole..].iter().sum();
    if whole < n {
        sum += (wanted - whole as f64) * sorted[n - whole - 1];
    }
    Ok(sum / wanted)
}

/// Half-width of a band that holds the whole distribution function at this confidence.
///
/// # Errors
/// No value, confidence outside (0, 1).
///
/// # Source
/// Dvoretzky, Kiefer and Wolfowitz (1956) with Massart's constant, Annals of Probability 18 (1990) 1269.
pub fn ecdf_half_width(n: u64, confidence: f64) -> Result<f64, StatsError> {
    checked_level(confidence)?;
    if n == 0 {
        return Err(StatsError::TooFew { got: 0, needed: 1 });
    }
    Ok((libm::log(2.0 / (1.0 - confidence)) / (2.0 * n as f64)).sqrt())
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Ideal bootstrap standard error of the mean: √Σ(x − m)² / n.
///
/// # Errors
/// No value.
pub fn bootstrap_ideal_se(values: &[f64]) -> Result<f64, StatsError> {
    if values.is_empty() {
        return Err(StatsError::TooFew { got: 0, needed: 1 });
    }
    let m = mean(values);
    Ok(values.iter().map(|x| (x - m) * (x - m)).sum::<f64>().sqrt() / values.len() as f64)
}

/// Acceleration of the BCa interval of the mean, by the jackknife.
///
/// # Errors
/// Fewer than two values, or no spread.
///
/// # Source
/// Efron, JASA 82 (1987) 171.
pub fn bca_acceleration(values: &[f64]) -> Result<f64, StatsError> {
    let n = values.len();
    if n < 2 {
        return Err(StatsError::TooFew { got: n, needed: 2 });
    }
    let sum: f64 = values.iter().sum();
    let left_out: Vec<f64> = values.iter().map(|x| (sum - x) / (n - 1) as f64).collect();
    acceleration(&left_out).ok_or(StatsError::NoSpread)
}

fn acceleration(left_out: &[f64]) -> Option<f64> {
    let middle = mean(left_out);
    let (mut squares, mut cubes) = (0.0, 0.0);
    for x in left_out {
        let off = middle - x;
        squares += off * off;
        cubes += off * off * off;
    }
    (squares > 0.0).then(|| cubes / (6.0 * squares * squares.sqrt()))
}

/// BCa bootstrap interval of the mean of paired differences (or of any sample), from a seeded stream.
///
/// # Errors
/// Fewer than two values, no spread, confidence outside (0, 1).
///
/// # Source
/// Efron (1987); resamples drawn with replacement, quantiles of type 7.
pub fn bca_mean(
    values: &[f64],
    resamples: usize,
    confidence: f64,
    chance: &mut impl Rng,
) -> Result<Interval, StatsError> {
    checked_level(confidence)?;
    let a = bca_acceleration(values)?;
    let n = values.len();
    let centre = mean(values);
    let mut means: Vec<f64> = (0..resamples.max(2))
        .map(|_| {
            let mut sum = 0.0;
            for _ in 0..n {
                sum += values[chance.random_range(0..n)];
            }
            sum / n as f64
        })
        .collect();
    means.sort_by(f64::total_cmp);
    let count = means.len() as f64;
    let under = means.iter().filter(|&&x| x < centre).count() as f64
        + 0.5 * means.iter().filter(|&&x| x == centre).count() as f64;
    let z0 = standard_normal_quantile((under / count).clamp(0.5 / count, 1.0 - 0.5 / count));
    let end = |p: f64| {
        let z = z0 + standard_normal_quantile(p);
        sample_quantile(&means, standard_normal_cdf(z0 + z / (1.0 - a * z)), QuantileRule::Type7)
    };
    let tail = 0.5 * (1.0 - confidence);
    Ok(Interval { low: end(tail), high: end(1.0 - tail) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::{Purpose, Source};

    #[test]
    fn ranks_of_known_cases() {
        // Median of 20 values: order statistics 6 and 15, any book on order statistics.
        let r = quantile_ranks(20, 0.5, 0.95).unwrap();
        assert_eq!((r.low, r.high), (Some(6), Some(15)));
        assert_eq!(quantile_ranks(100, 0.99, 0.95).unwrap().high, None);
        assert_eq!(quantile_upper_rank(5_000, 0.99, 0.95).unwrap(), Some(4_962));
        assert_eq!(quantile_upper_rank(2_994, 0.999, 0.95).unwrap(), None);
        assert_eq!(quantile_upper_rank(2_995, 0.999, 0.95).unwrap(), Some(2_995));
        assert_eq!((wilks(0.95, 0.95, 1).unwrap(), wilks(0.95, 0.95, 2).unwrap()), (59, 93));
        assert_eq!(wilks_two_sided(0.9, 0.9).unwrap(), 38);
    }

    #[test]
    fn sample_quantiles_and_tail_mean() {
        let values: Vec<f64> = (1..=100).map(f64::from).collect();
        assert_eq!(tail_mean(&values, 0.05).unwrap(), 98.0);
        assert_eq!(tail_mean(&values, 0.025).unwrap(), (100.0 + 99.0 + 0.5 * 98.0) / 2.5);
        assert_eq!(sample_quantile(&values, 0.5, QuantileRule::Type7), 50.5);
        assert_eq!(sample_quantile(&values, 0.5, QuantileRule::Type8), 50.5);
        assert_eq!(sample_quantile(&[3.0], 0.9, QuantileRule::Type8), 3.0);
        assert!(sample_quantile(&[], 0.5, QuantileRule::Type8).is_nan());
    }

    /// The bootstrap interval of a normal-like mean is close to mean ± 1.96 ideal standard errors.
    #[test]
    fn bca_of_a_symmetric_sample() {
        let s = Source::new(3, Purpose::Trial);
        let values: Vec<f64> = (0..100).flat_map(|flight| s.normals(flight, 0, 0)).collect();
        let se = bootstrap_ideal_se(&values).unwrap();
        let m = mean(&values);
        let got = bca_mean(&values, 4_000, 0.95, &mut Source::new(3, Purpose::Resample).sequence(0, 0)).unwrap();
        assert!((got.low - (m - 1.96 * se)).abs() < 0.25 * se, "{got:?}");
        assert!((got.high - (m + 1.96 * se)).abs() < 0.25 * se, "{got:?}");
        let again = bca_mean(&values, 4_000, 0.95, &mut Source::new(3, Purpose::Resample).sequence(0, 0)).unwrap();
        assert_eq!(got, again);
    }
}
