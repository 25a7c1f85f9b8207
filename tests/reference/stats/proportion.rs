//! Intervals and bounds of one share, and of a Poisson mean.

use super::special::{binomial_pmf, gamma_quantile, poisson_pmf, solve_increasing};
use super::{bisect_first, checked_level, two_sided_z};
use lostlink::stats::special::{beta_quantile, binomial_cdf, binomial_tail};
use lostlink::stats::{Interval, StatsError};

fn checked(events: u64, of: u64, confidence: f64) -> Result<(f64, f64), StatsError> {
    if of == 0 || events > of {
        return Err(StatsError::Counts { events, of });
    }
    checked_level(confidence)?;
    Ok((events as f64, of as f64))
}

/// What laws ask of an interval.
pub trait Holds {
    /// Whether `x` lies inside, ends included.
    fn holds(&self, x: f64) -> bool;
}

impl Holds for Interval {
    fn holds(&self, x: f64) -> bool {
        self.low <= x && x <= self.high
    }
}

/// Wilson score interval. Its coverage can dip below `confidence`: for planning, not for print.
///
/// # Errors
/// As [`clopper_pearson`].
///
/// # Source
/// Wilson, JASA 22 (1927) 209.
pub fn wilson(events: u64, of: u64, confidence: f64) -> Result<Interval, StatsError> {
    let (k, n) = checked(events, of, confidence)?;
    Ok(wilson_of_share(k / n, n, two_sided_z(confidence)))
}

/// Wilson interval of a share `p` of `n` trials at normal quantile `z`.
fn wilson_of_share(p: f64, n: f64, z: f64) -> Interval {
    let zz = z * z;
    let middle = p + zz / (2.0 * n);
    let spread = z * (p * (1.0 - p) / n + zz / (4.0 * n * n)).sqrt();
    let scale = 1.0 + zz / n;
    Interval {
        low: if p <= 0.0 { 0.0 } else { ((middle - spread) / scale).max(0.0) },
        high: if p >= 1.0 { 1.0 } else { ((middle + spread) / scale).min(1.0) },
    }
}

/// Wilson score interval with continuity correction.
///
/// # Errors
/// As [`clopper_pearson`].
///
/// # Source
/// Newcombe, Statistics in Medicine 17 (1998) 857, method 4.
pub fn wilson_corrected(events: u64, of: u64, confidence: f64) -> Result<Interval, StatsError> {
    let (k, n) = checked(events, of, confidence)?;
    let z = two_sided_z(confidence);
    let (p, q, zz) = (k / n, (n - k) / n, z * z);
    let scale = 2.0 * (n + zz);
    let root = |inside: f64| inside.max(0.0).sqrt();
    let low = (2.0 * k + zz - 1.0 - z * root(zz - 2.0 - 1.0 / n + 4.0 * p * (n * q + 1.0))) / scale;
    let high = (2.0 * k + zz + 1.0 + z * root(zz + 2.0 - 1.0 / n + 4.0 * p * (n * q - 1.0))) / scale;
    Ok(Interval {
        low: if events == 0 { 0.0 } else { low.max(0.0) },
        high: if events == of { 1.0 } else { high.min(1.0) },
    })
}

/// Jeffreys interval; lower end 0 with no event, upper end 1 when every trial is an event.
///
/// # Errors
/// As [`clopper_pearson`].
///
/// # Source
/// Brown, Cai and DasGupta, Statistical Science 16 (2001) 101, section 3.1.2.
pub fn jeffreys(events: u64, of: u64, confidence: f64) -> Result<Interval, StatsError> {
    let (k, n) = checked(events, of, confidence)?;
    let tail = 0.5 * (1.0 - confidence);
    Ok(Interval {
        low: if events == 0 { 0.0 } else { beta_quantile(k + 0.5, n - k + 0.5, tail) },
        high: if events == of { 1.0 } else { beta_quantile(k + 0.5, n - k + 0.5, 1.0 - tail) },
    })
}

/// Clopper–Pearson mid-P interval: the observed count enters each tail with half its probability.
///
/// # Errors
/// As [`clopper_pearson`].
///
/// # Source
/// Newcombe (1998), method 6.
pub fn clopper_pearson_midp(events: u64, of: u64, confidence: f64) -> Result<Interval, StatsError> {
    let (k, n) = checked(events, of, confidence)?;
    let tail = 0.5 * (1.0 - confidence);
    let pmf = |p: f64| binomial_pmf(events, of, p);
    // d/dp P(X ≥ k) = k pmf(k)/p; d/dp pmf(k) = pmf(k) (k − n p)/(p q).
    let pmf_slope = |p: f64| pmf(p) * (k - n * p) / (p * (1.0 - p));
    let start = ((k + 0.5) / (n + 1.0)).clamp(1e-12, 1.0 - 1e-12);
    let low = if events == 0 {
        0.0
    } else {
        solve_increasing(
            |p| binomial_tail(events, of, p) - 0.5 * pmf(p) - tail,
            |p| k * pmf(p) / p - 0.5 * pmf_slope(p),
            (0.0, 1.0),
            start,
        )
    };
    let high = if events == of {
        1.0
    } else {
        solve_increasing(
            |p| tail - (binomial_cdf(events, of, p) - 0.5 * pmf(p)),
            |p| (n - k) * pmf(p) / (1.0 - p) + 0.5 * pmf_slope(p),
            (0.0, 1.0),
            start,
        )
    };
    Ok(Interval { low, high })
}

/// The rule of three: 3/n as one-sided 95 % upper bound when nothing was seen; `None` when something was.
///
/// # Source
/// Hanley and Lippman-Hand, JAMA 249 (1983) 1743.
pub fn rule_of_three(events: u64, of: u64) -> Option<f64> {
    (events == 0 && of > 0).then(|| (3.0 / of as f64).min(1.0))
}

/// Fewest event-free trials that show a share below `bound` at one-sided `confidence`.
///
/// # Errors
/// Bound or confidence outside (0, 1).
pub fn event_free_needed(bound: f64, confidence: f64) -> Result<u64, StatsError> {
    checked_level(bound)?;
    checked_level(confidence)?;
    // (1 − bound)ⁿ ≤ 1 − confidence; the neighbours are tested because the quotient is rounded.
    let tail = 1.0 - confidence;
    let shown = |n: u64| libm::exp(n as f64 * libm::log1p(-bound)) <= tail;
    let mut n = (libm::log(tail) / libm::log1p(-bound)).ceil().max(1.0) as u64;
    while n > 1 && shown(n - 1) {
        n -= 1;
    }
    while !shown(n) {
        n += 1;
    }
    Ok(n)
}

/// Which interval a coverage is asked of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShareInterval {
    /// [`clopper_pearson`].
    ClopperPearson,
    /// [`wilson`].
    Wilson,
    /// Estimate ± z standard errors; collapses to a point without events. For comparison only.
    Wald,
}

/// Actual coverage of a nominal interval when the true share is `p`: the binomial probability of all
/// counts whose interval holds `p`.
///
/// # Errors
/// No trial, `p` outside [0, 1], confidence outside (0, 1).
pub fn coverage(method: ShareInterval, of: u64, p: f64, confidence: f64) -> Result<f64, StatsError> {
    checked(0, of, confidence)?;
    if !(0.0..=1.0).contains(&p) {
        return Err(StatsError::Range { name: "share", value: p });
    }
    let n = of as f64;
    let z = two_sided_z(confidence);
    let tail = 0.5 * (1.0 - confidence);
    let covered = |k: u64| match method {
        ShareInterval::Wilson => wilson_of_share(k as f64 / n, n, z).holds(p),
        ShareInterval::Wald => {
            let share = k as f64 / n;
            (share - p).abs() <= z * (share * (1.0 - share) / n).sqrt()
        }
        // The interval holds p exactly when neither tail beyond k is smaller than α/2.
        ShareInterval::ClopperPearson => {
            (k == 0 || binomial_tail(k, of, p) >= tail) && (k == of || binomial_cdf(k, of, p) >= tail)
        }
    };
    // Counts outside 40 standard deviations have no probability left in double precision.
    let reach = 40.0 * (n * p * (1.0 - p)).sqrt() + 40.0;
    let first = (n * p - reach).max(0.0) as u64;
    let last = (n * p + reach).min(n) as u64;
    if method == ShareInterval::ClopperPearson {
        // The covering counts are contiguous; their ends are found by bisection.
        let low = bisect_first(0, of, |k| k == of || binomial_cdf(k, of, p) >= tail);
        let high = bisect_first(0, of + 1, |k| k == of + 1 || (k > 0 && binomial_tail(k, of, p) < tail));
        if high == 0 || low > high - 1 {
            return Ok(0.0);
        }
        let below = if low == 0 { 0.0 } else { binomial_cdf(low - 1, of, p) };
        return Ok(1.0 - below - binomial_tail(high, of, p));
    }
    Ok((first..=last).filter(|&k| covered(k)).map(|k| binomial_pmf(k, of, p)).sum())
}

/// Garwood's exact interval of a Poisson mean.
///
/// # Errors
/// Confidence outside (0, 1).
///
/// # Source
/// Garwood, Biometrika 28 (1936) 437; as quantiles of the gamma distribution.
pub fn garwood(events: u64, confidence: f64) -> Result<Interval, StatsError> {
    checked_level(confidence)?;
    let tail = 0.5 * (1.0 - confidence);
    let k = events as f64;
    Ok(Interval {
        low: if events == 0 { 0.0 } else { gamma_quantile(k, tail) },
        high: gamma_quantile(k + 1.0, 1.0 - tail),
    })
}

/// Exact one-sided upper bound of a Poisson mean.
///
/// # Errors
/// Confidence outside (0, 1).
pub fn poisson_upper_one_sided(events: u64, confidence: f64) -> Result<f64, StatsError> {
    checked_level(confidence)?;
    Ok(gamma_quantile(events as f64 + 1.0, confidence))
}

/// Goodman's simultaneous intervals for the shares of several outcomes.
///
/// # Errors
/// No count at all, confidence outside (0, 1).
///
/// # Source
/// Goodman, Technometrics 7 (1965) 247: score intervals at the Bonferroni level.
pub fn goodman(counts: &[u64], confidence: f64) -> Result<Vec<Interval>, StatsError> {
    let of: u64 = counts.iter().sum();
    checked(0, of, confidence)?;
    let z = two_sided_z(1.0 - (1.0 - confidence) / counts.len() as f64);
    Ok(counts.iter().map(|&count| wilson_of_share(count as f64 / of as f64, of as f64, z)).collect())
}

/// Simultaneous intervals of Sison and Glaz; unfit when some shares are near zero.
///
/// # Errors
/// Fewer than two outcomes, no count at all, confidence outside (0, 1), or no width that reaches it.
///
/// # Source
/// Sison and Glaz, JASA 90 (1995) 366; Edgeworth form as in May and Johnson, Journal of Statistical
/// Software 5(6) (2000), from memory.
pub fn sison_glaz(counts: &[u64], confidence: f64) -> Result<Vec<Interval>, StatsError> {
    let of: u64 = counts.iter().sum();
    checked(0, of, confidence)?;
    if counts.len() < 2 {
        return Err(StatsError::TooFew { got: counts.len(), needed: 2 });
    }
    let n = of as f64;
    let reach = |c: u64| sison_glaz_probability(counts, of, c);
    let mut c = 1;
    let mut now = reach(c);
    loop {
        let next = reach(c + 1);
        if now <= confidence && confidence < next {
            let part = (confidence - now) / (next - now);
            return Ok(counts
                .iter()
                .map(|&count| Interval {
                    low: ((count as f64 - c as f64) / n).max(0.0),
                    high: ((count as f64 + c as f64 + 2.0 * part) / n).min(1.0),
                })
                .collect());
        }
        c += 1;
        now = next;
        if c > of {
            return Err(super::NO_SPREAD);
        }
    }
}

/// Probability that all multinomial counts lie within ± `c` of the observed ones.
fn sison_glaz_probability(counts: &[u64], of: u64, c: u64) -> f64 {
    let n = of as f64;
    let (mut product, mut mean, mut variance, mut third, mut fourth) = (1.0, 0.0, 0.0, 0.0, 0.0);
    for &count in counts {
        let m = count as f64;
        let (a, b) = (count.saturating_sub(c) as i64, (count + c).min(of) as i64);
        let mass = |from: i64, to: i64| -> f64 { (from.max(0)..=to).map(|k| poisson_pmf(k as f64, m)).sum() };
        let inside = mass(a, b);
        product *= inside;
        // Factorial moments of the Poisson count truncated to a..b.
        let moment =
            |r: i32| m.powi(r) * (1.0 + (mass(a - i64::from(r), a - 1) - mass(b - i64::from(r) + 1, b)) / inside);
        let (f1, f2, f3, f4) = (moment(1), moment(2), moment(3), moment(4));
        mean += f1;
        let v = f2 + f1 - f1 * f1;
        variance += v;
        third += f3 + f2 * (3.0 - 3.0 * f1) + f1 - 3.0 * f1 * f1 + 2.0 * f1.powi(3);
        fourth += f4 + f3 * (6.0 - 4.0 * f1) + f2 * (7.0 - 12.0 * f1 + 6.0 * f1 * f1) + f1 - 4.0 * f1 * f1
            + 6.0 * f1.powi(3)
            - 3.0 * f1.powi(4)
            - 3.0 * v * v;
    }
    let g1 = third / (variance * variance.sqrt());
    let g2 = fourth / (variance * variance);
    let x = (n - mean) / variance.sqrt();
    let xx = x * x;
    let edgeworth = libm::exp(-0.5 * xx)
        * 0.398_942_280_401_432_7
        * (1.0
            + g1 * (xx - 3.0) * x / 6.0
            + g2 * (xx * xx - 6.0 * xx + 3.0) / 24.0
            + g1 * g1 * (xx * xx * xx - 15.0 * xx * xx + 45.0 * xx - 15.0) / 72.0)
        / variance.sqrt();
    product * edgeworth / poisson_pmf(n, n)
}
