//! Two or more policies on the same trials.
//!
//! A paired table counts trials with the event under both, only the first (`only_a`), only the second
//! (`only_b`), neither. The difference is share(A) − share(B) = (only_a − only_b)/n.

use super::special::binomial_cdf;
use super::{Interval, StatsError, checked_level, two_sided_z};

/// McNemar's exact conditional two-sided p; 1 without a discordant pair.
///
/// # Source
/// McNemar, Psychometrika 12 (1947) 153; exact form: twice the smaller tail of the binomial with ½, at most 1.
pub fn mcnemar_exact(only_a: u64, only_b: u64) -> f64 {
    let n = only_a + only_b;
    if n == 0 {
        return 1.0;
    }
    (2.0 * binomial_cdf(only_a.min(only_b), n, 0.5)).min(1.0)
}

fn checked(only_a: f64, only_b: f64, n: f64, confidence: f64) -> Result<f64, StatsError> {
    checked_level(confidence)?;
    if !(n > 0.0 && only_a >= 0.0 && only_b >= 0.0 && only_a + only_b <= n) {
        return Err(StatsError::Counts { events: (only_a + only_b) as u64, of: n as u64 });
    }
    Ok(two_sided_z(confidence))
}

/// Tango's score interval of share(A) − share(B). It does not collapse without discordant pairs:
/// there it is ± z²/(n + z²).
///
/// # Errors
/// Discordant pairs beyond `n`, no trial, confidence outside (0, 1).
///
/// # Source
/// Tango, Statistics in Medicine 17 (1998) 891, equations for the restricted estimate of the second
/// discordant probability (from memory; worked table of Fagerland, Lydersen and Laake (2017) reproduced).
pub fn tango(only_a: u64, only_b: u64, n: u64, confidence: f64) -> Result<Interval, StatsError> {
    let z = checked(only_a as f64, only_b as f64, n as f64, confidence)?;
    Ok(tango_real(only_a as f64, only_b as f64, n as f64, z))
}

/// Tango's interval for real-valued counts (projections to other numbers of trials) at normal quantile `z`.
pub(crate) fn tango_real(b: f64, c: f64, n: f64, z: f64) -> Interval {
    // Score statistic at difference δ: (b − c − nδ)/√(n (2q + δ(1 − δ))) with q the restricted estimate
    // of the probability of "only B": 2n q² + B q + C = 0.
    let score = |delta: f64| {
        let big_b = -b - c + (2.0 * n - b + c) * delta;
        let big_c = -c * delta * (1.0 - delta);
        let root = (big_b * big_b - 8.0 * n * big_c).max(0.0).sqrt();
        let q = if big_b > 0.0 { -2.0 * big_c / (big_b + root) } else { (root - big_b) / (4.0 * n) };
        let variance = n * (2.0 * q + delta * (1.0 - delta));
        let top = b - c - n * delta;
        if variance > 0.0 {
            top / variance.sqrt()
        } else if top == 0.0 {
            0.0
        } else {
            f64::INFINITY.copysign(top)
        }
    };
    let estimate = (b - c) / n;
    // The score falls with δ; each end is where it reaches ± z.
    let bisect = |mut inner: f64, mut outer: f64, target: f64| {
        for _ in 0..200 {
            let middle = 0.5 * (inner + outer);
            if middle == inner || middle == outer {
                break;
            }
            if score(middle).abs() < target { inner = middle } else { outer = middle }
        }
        0.5 * (inner + outer)
    };
    Interval {
        low: if c >= n { -1.0 } else { bisect(estimate, -1.0, z) },
        high: if b >= n { 1.0 } else { bisect(estimate, 1.0, z) },
    }
}

/// Standard errors of a difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardErrors {
    /// Paired, as run.
    pub paired: f64,
    /// As it would be on independent trials.
    pub apart: f64,
}

/// Standard errors of the difference of a paired table.
///
/// # Errors
/// An empty table.
pub fn standard_errors(table: [u64; 4]) -> Result<StandardErrors, StatsError> {
    let [a, b, c, _] = table.map(|count| count as f64);
    let total: u64 = table.iter().sum();
    if total == 0 {
        return Err(StatsError::Counts { events: 0, of: 0 });
    }
    let n = total as f64;
    let (p1, p2) = ((a + b) / n, (a + c) / n);
    let paired = (b + c - (b - c) * (b - c) / n).max(0.0).sqrt() / n;
    Ok(StandardErrors { paired, apart: ((p1 * (1.0 - p1) + p2 * (1.0 - p2)) / n).sqrt() })
}

/// Holm's step-down adjusted p-values, in input order, monotone, at most 1.
///
/// # Source
/// Holm, Scandinavian Journal of Statistics 6 (1979) 65.
pub fn holm(p_values: &[f64]) -> Vec<f64> {
    let m = p_values.len();
    let mut order: Vec<usize> = (0..m).collect();
    order.sort_by(|&a, &b| p_values[a].total_cmp(&p_values[b]));
    let mut adjusted = vec![0.0; m];
    let mut so_far: f64 = 0.0;
    for (rank, &index) in order.iter().enumerate() {
        so_far = so_far.max((m - rank) as f64 * p_values[index]).min(1.0);
        adjusted[index] = so_far;
    }
    adjusted
}

/// Confidence of each comparison so that all pairs of `k` treatments hold together (Bonferroni);
/// `confidence` itself for fewer than three.
pub fn bonferroni_level(k: usize, confidence: f64) -> f64 {
    let pairs = (k * k.saturating_sub(1) / 2).max(1) as f64;
    1.0 - (1.0 - confidence) / pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tango_stays_open_without_discordant_pairs_and_mirrors() {
        for n in [1, 30, 5_000, 1_000_000] {
            let z = two_sided_z(0.95);
            let expected = z * z / (n as f64 + z * z);
            let got = tango(0, 0, n, 0.95).unwrap();
            assert!((got.high - expected).abs() < 1e-12 && (got.low + expected).abs() < 1e-12);
            let all = tango(n, 0, n, 0.95).unwrap();
            assert_eq!(all.high, 1.0);
            assert!(all.low < 1.0);
        }
        let (one, two) = (tango(31, 12, 2_000, 0.95).unwrap(), tango(12, 31, 2_000, 0.95).unwrap());
        assert!((one.low + two.high).abs() < 1e-14 && (one.high + two.low).abs() < 1e-14);
        assert!(tango(3, 3, 5, 0.95).is_err());
    }

    #[test]
    fn holm_keeps_order_and_stops_at_one() {
        let close = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(x, y)| (x - y).abs() < 1e-15);
        assert!(close(&holm(&[0.01, 0.04, 0.03, 0.005]), &[0.03, 0.06, 0.06, 0.02]));
        assert!(close(&holm(&[0.9, 0.8]), &[1.0, 1.0]));
        assert!(holm(&[]).is_empty());
    }
}
