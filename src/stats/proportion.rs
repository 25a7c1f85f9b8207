//! Intervals and bounds of one share, and of a Poisson mean.

use super::special::{
    beta_quantile, binomial_cdf, binomial_pmf, binomial_tail, gamma_quantile, poisson_pmf, solve_increasing,
};
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

/// Exact one-sided lower bound of a share; 0 with no event.
///
/// # Errors
/// As [`clopper_pearson`].
pub fn lower_bound_one_sided(events: u64, of: u64, confidence: f64) -> Result<f64, StatsError> {
    let (k, n) = checked(events, of, confidence)?;
    Ok(if events == 0 {
        0.0
    } else if events == of {
        libm::exp(libm::log(1.0 - confidence) / n)
    } else {
        beta_quantile(k, n - k + 1.0, 1.0 - confidence)
    })
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
            return Err(StatsError::NoSpread);
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Newcombe (1998) table 1: 81/263 and 1/29, four printed digits.
    #[test]
    fn newcombes_printed_rows() {
        let near = |got: Interval, low: f64, high: f64| {
            assert!((got.low - low).abs() < 5e-5 && (got.high - high).abs() < 5e-5, "{got:?}");
        };
        near(clopper_pearson(81, 263, 0.95).unwrap(), 0.2527, 0.3676);
        near(wilson(81, 263, 0.95).unwrap(), 0.2553, 0.3662);
        near(wilson_corrected(81, 263, 0.95).unwrap(), 0.2535, 0.3682);
        near(clopper_pearson(1, 29, 0.95).unwrap(), 0.0009, 0.1776);
    }

    #[test]
    fn ends_are_exact_without_and_with_only_events() {
        for of in [1, 10, 5_000, 1_000_000] {
            for method in [clopper_pearson, wilson, wilson_corrected, jeffreys, clopper_pearson_midp] {
                let none = method(0, of, 0.95).unwrap();
                let all = method(of, of, 0.95).unwrap();
                assert_eq!((none.low, all.high), (0.0, 1.0));
                assert!(none.high > 0.0 && all.low < 1.0);
                assert!((none.high - (1.0 - all.low)).abs() < 1e-12, "mirror at {of}");
            }
            let half = clopper_pearson(of / 2 + 1, of, 0.95);
            assert!(half.is_ok());
        }
        assert!(clopper_pearson(3, 2, 0.95).is_err());
        assert!(clopper_pearson(0, 0, 0.95).is_err());
        assert!(clopper_pearson(0, 1, 1.0).is_err());
    }

    /// The bound's own definition: with no event, (1 − u)ⁿ = 1 − confidence.
    #[test]
    fn bound_without_events() {
        let u = upper_bound_one_sided(0, 5_000, 0.95).unwrap();
        assert!((libm::exp(5_000.0 * libm::log1p(-u)) - 0.05).abs() < 1e-14);
        assert_eq!(event_free_needed(0.001, 0.95).unwrap(), 2_995);
        let l = lower_bound_one_sided(10, 10, 0.95).unwrap();
        assert!((l.powi(10) - 0.05).abs() < 1e-13);
    }

    /// Clopper–Pearson never covers less than it says; the other two do somewhere.
    #[test]
    fn exact_coverage_over_true_shares() {
        let shares: Vec<f64> = (1..200).map(|i| f64::from(i) / 200.0).collect();
        let least = |method| shares.iter().map(|&p| coverage(method, 50, p, 0.95).unwrap()).fold(1.0, f64::min);
        assert!(least(ShareInterval::ClopperPearson) >= 0.95);
        assert!(least(ShareInterval::Wilson) < 0.95);
        assert!(least(ShareInterval::Wald) < 0.3);
    }
}
