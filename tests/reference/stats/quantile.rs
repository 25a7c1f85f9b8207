//! Quantiles of samples: order-statistic bounds, sample quantiles, bands, resampling.

use super::{bisect_first, checked_level};
use lostlink::chance::{Sequence, standard_normal_cdf, standard_normal_quantile};
use lostlink::stats::quantile::{QuantileRule, sample_quantile};
use lostlink::stats::special::binomial_cdf;
use lostlink::stats::{Interval, StatsError};
use rand::Rng;

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

/// Arithmetic mean.
pub fn mean(values: &[f64]) -> f64 {
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
    acceleration(&left_out).ok_or(super::NO_SPREAD)
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
    chance: &mut Sequence,
) -> Result<Interval, StatsError> {
    checked_level(confidence)?;
    let a = bca_acceleration(values)?;
    let n = values.len();
    let centre = mean(values);
    let mut means: Vec<f64> = (0..resamples.max(2))
        .map(|_| {
            let mut sum = 0.0;
            for _ in 0..n {
                // Multiply-shift: the bias of at most n/2³² is far under the noise of resampling.
                let pick = (u64::from(chance.next_u32()) * n as u64) >> 32;
                sum += values[pick as usize];
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
