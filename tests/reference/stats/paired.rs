//! Two or more policies on the same trials.
//!
//! A paired table counts trials with the event under both, only the first (`only_a`), only the second
//! (`only_b`), neither. The difference is share(A) − share(B) = (only_a − only_b)/n.

use super::proportion::{clopper_pearson_midp, wilson};
use super::special::{binomial_pmf, chi_squared_tail, normal_tail};
use super::{checked_level, two_sided_z};
use lostlink::stats::paired::*;
use lostlink::stats::proportion::clopper_pearson;
use lostlink::stats::{Interval, StatsError};

/// McNemar's mid-p, two-sided; 1 without a discordant pair.
///
/// # Source
/// Fagerland, Lydersen and Laake, BMC Medical Research Methodology 13:91 (2013).
pub fn mcnemar_midp(only_a: u64, only_b: u64) -> f64 {
    let n = only_a + only_b;
    if n == 0 {
        return 1.0;
    }
    let pmf = binomial_pmf(only_a.min(only_b), n, 0.5);
    if only_a == only_b { 1.0 - 0.5 * pmf } else { mcnemar_exact(only_a, only_b) - pmf }
}

/// McNemar's asymptotic two-sided p, without correction; 1 without a discordant pair.
pub fn mcnemar_asymptotic(only_a: u64, only_b: u64) -> f64 {
    let n = only_a + only_b;
    if n == 0 {
        return 1.0;
    }
    2.0 * normal_tail(only_a.abs_diff(only_b) as f64 / (n as f64).sqrt())
}

/// McNemar's asymptotic two-sided p with continuity correction (Edwards); 1 without a difference.
pub fn mcnemar_corrected(only_a: u64, only_b: u64) -> f64 {
    let n = only_a + only_b;
    if n == 0 {
        return 1.0;
    }
    2.0 * normal_tail(only_a.abs_diff(only_b).saturating_sub(1) as f64 / (n as f64).sqrt())
}

fn checked(only_a: f64, only_b: f64, n: f64, confidence: f64) -> Result<f64, StatsError> {
    checked_level(confidence)?;
    if !(n > 0.0 && only_a >= 0.0 && only_b >= 0.0 && only_a + only_b <= n) {
        return Err(StatsError::Counts { events: (only_a + only_b) as u64, of: n as u64 });
    }
    Ok(two_sided_z(confidence))
}

/// Wald interval of the paired difference: collapses to a point without discordant pairs. For comparison.
///
/// # Errors
/// As [`tango`].
pub fn wald(only_a: u64, only_b: u64, n: u64, confidence: f64) -> Result<Interval, StatsError> {
    wald_real(only_a as f64, only_b as f64, n as f64, confidence)
}

/// `d ± z √(b + c − (b − c)²/n)/n`, cut to [−1, 1].
fn wald_real(b: f64, c: f64, n: f64, confidence: f64) -> Result<Interval, StatsError> {
    let z = checked(b, c, n, confidence)?;
    let d = (b - c) / n;
    let spread = z * (b + c - (b - c) * (b - c) / n).max(0.0).sqrt() / n;
    Ok(Interval { low: (d - spread).max(-1.0), high: (d + spread).min(1.0) })
}

/// Agresti–Min adjusted interval: a half added to each cell.
///
/// # Errors
/// As [`tango`].
///
/// # Source
/// Agresti and Min, Statistics in Medicine 24 (2005) 729.
pub fn agresti_min(only_a: u64, only_b: u64, n: u64, confidence: f64) -> Result<Interval, StatsError> {
    checked(only_a as f64, only_b as f64, n as f64, confidence)?;
    wald_real(only_a as f64 + 0.5, only_b as f64 + 0.5, n as f64 + 2.0, confidence)
}

/// Bonett–Price (Laplace-adjusted) interval: one added to each discordant cell.
///
/// # Errors
/// As [`tango`].
///
/// # Source
/// Bonett and Price, Journal of Educational and Behavioral Statistics 37 (2012) 479.
pub fn bonett_price(only_a: u64, only_b: u64, n: u64, confidence: f64) -> Result<Interval, StatsError> {
    checked(only_a as f64, only_b as f64, n as f64, confidence)?;
    wald_real(only_a as f64 + 1.0, only_b as f64 + 1.0, n as f64 + 2.0, confidence)
}

/// Newcombe's square-and-add interval, method 10, with the continuity-corrected phi.
///
/// # Errors
/// As [`tango`].
///
/// # Source
/// Newcombe, Statistics in Medicine 17 (1998) 2635.
pub fn newcombe(table: [u64; 4], confidence: f64) -> Result<Interval, StatsError> {
    let [a, b, c, d] = table.map(|count| count as f64);
    let n: u64 = table.iter().sum();
    checked(b, c, n as f64, confidence)?;
    let first = wilson(table[0] + table[1], n, confidence)?;
    let second = wilson(table[0] + table[2], n, confidence)?;
    let (p1, p2) = ((a + b) / n as f64, (a + c) / n as f64);
    let margins = (a + b) * (c + d) * (a + c) * (b + d);
    let cross = a * d - b * c;
    let half = 0.5 * n as f64;
    let corrected = if cross > half {
        cross - half
    } else if cross >= 0.0 {
        0.0
    } else {
        cross
    };
    let phi = if margins > 0.0 { corrected / margins.sqrt() } else { 0.0 };
    let add = |x: f64, y: f64| (x * x - 2.0 * phi * x * y + y * y).max(0.0).sqrt();
    Ok(Interval {
        low: p1 - p2 - add(p1 - first.low, second.high - p2),
        high: p1 - p2 + add(p2 - second.low, first.high - p1),
    })
}

/// Conditional odds ratio only_a/only_b; infinite when only_b is none, NaN when both are.
pub fn odds_ratio(only_a: u64, only_b: u64) -> f64 {
    only_a as f64 / only_b as f64
}

fn odds_of(interval: Interval) -> Interval {
    Interval { low: interval.low / (1.0 - interval.low), high: interval.high / (1.0 - interval.high) }
}

/// Exact interval of the conditional odds ratio: Clopper–Pearson on only_a of the discordant, transformed.
///
/// # Errors
/// No discordant pair, confidence outside (0, 1).
pub fn odds_ratio_exact(only_a: u64, only_b: u64, confidence: f64) -> Result<Interval, StatsError> {
    clopper_pearson(only_a, only_a + only_b, confidence).map(odds_of)
}

/// Mid-P interval of the conditional odds ratio.
///
/// # Errors
/// As [`odds_ratio_exact`].
pub fn odds_ratio_midp(only_a: u64, only_b: u64, confidence: f64) -> Result<Interval, StatsError> {
    clopper_pearson_midp(only_a, only_a + only_b, confidence).map(odds_of)
}

/// Wald interval of the conditional odds ratio on the log scale, standard error √(1/b + 1/c).
///
/// # Errors
/// A discordant cell without a count, confidence outside (0, 1).
pub fn odds_ratio_wald(only_a: u64, only_b: u64, confidence: f64) -> Result<Interval, StatsError> {
    checked_level(confidence)?;
    if only_a == 0 || only_b == 0 {
        return Err(super::NO_SPREAD);
    }
    let (b, c) = (only_a as f64, only_b as f64);
    let factor = libm::exp(two_sided_z(confidence) * (1.0 / b + 1.0 / c).sqrt());
    Ok(Interval { low: b / c / factor, high: b / c * factor })
}

/// Cochran's Q over k treatments of the same trials, and its p: (statistic, p).
///
/// # Errors
/// Fewer than two columns, rows of different length, or no row in which treatments differ.
///
/// # Source
/// Cochran, Biometrika 37 (1950) 256.
pub fn cochran_q(rows: &[Vec<bool>]) -> Result<(f64, f64), StatsError> {
    let k = rows.first().map_or(0, Vec::len);
    if k < 2 {
        return Err(StatsError::TooFew { got: k, needed: 2 });
    }
    if rows.iter().any(|row| row.len() != k) {
        return Err(StatsError::Shape);
    }
    let mut columns = vec![0.0; k];
    let (mut total, mut row_squares) = (0.0, 0.0);
    for row in rows {
        let sum = row.iter().filter(|&&event| event).count() as f64;
        total += sum;
        row_squares += sum * sum;
        for (column, &event) in columns.iter_mut().zip(row) {
            *column += f64::from(u8::from(event));
        }
    }
    let kf = k as f64;
    let below = kf * total - row_squares;
    if below <= 0.0 {
        return Err(super::NO_SPREAD);
    }
    let squares: f64 = columns.iter().map(|c| c * c).sum();
    let q = (kf - 1.0) * (kf * squares - total * total) / below;
    Ok((q, chi_squared_tail(q, kf - 1.0)))
}

fn square(table: &[Vec<f64>]) -> Result<usize, StatsError> {
    let k = table.len();
    if k < 2 {
        return Err(StatsError::TooFew { got: k, needed: 2 });
    }
    if table.iter().any(|row| row.len() != k) { Err(StatsError::Shape) } else { Ok(k) }
}

/// Bowker's symmetry statistic of a square paired table; k(k − 1)/2 degrees of freedom.
///
/// # Errors
/// A table that is not square or has under two classes.
///
/// # Source
/// Bowker, JASA 43 (1948) 572.
pub fn bowker(table: &[Vec<f64>]) -> Result<f64, StatsError> {
    let k = square(table)?;
    let mut sum = 0.0;
    for (i, j) in (0..k).flat_map(|i| (0..i).map(move |j| (i, j))) {
        let both = table[i][j] + table[j][i];
        if both > 0.0 {
            let off = table[i][j] - table[j][i];
            sum += off * off / both;
        }
    }
    Ok(sum)
}

/// The Stuart–Maxwell statistic of marginal homogeneity; k − 1 degrees of freedom.
///
/// # Errors
/// A table that is not square, has under two classes, or whose classes do not mix.
///
/// # Source
/// Stuart, Biometrika 42 (1955) 412; Maxwell, British Journal of Psychiatry 116 (1970) 651.
pub fn stuart_maxwell(table: &[Vec<f64>]) -> Result<f64, StatsError> {
    let k = square(table)?;
    let row = |i: usize| table[i].iter().sum::<f64>();
    let column = |i: usize| table.iter().map(|r| r[i]).sum::<f64>();
    let m = k - 1;
    let d: Vec<f64> = (0..m).map(|i| row(i) - column(i)).collect();
    // Augmented matrix [V | d], solved by elimination with pivoting.
    let mut v: Vec<Vec<f64>> = (0..m)
        .map(|i| {
            let mut line: Vec<f64> = (0..m)
                .map(|j| if i == j { row(i) + column(i) - 2.0 * table[i][i] } else { -(table[i][j] + table[j][i]) })
                .collect();
            line.push(d[i]);
            line
        })
        .collect();
    for i in 0..m {
        let pivot = (i..m).max_by(|&a, &b| v[a][i].abs().total_cmp(&v[b][i].abs())).unwrap_or(i);
        v.swap(i, pivot);
        if v[i][i].abs() < 1e-12 {
            return Err(super::NO_SPREAD);
        }
        let (upper, lower) = v.split_at_mut(i + 1);
        for line in lower {
            let factor = line[i] / upper[i][i];
            for (x, pivot) in line.iter_mut().zip(&upper[i]).skip(i) {
                *x -= factor * pivot;
            }
        }
    }
    let mut x = vec![0.0; m];
    for i in (0..m).rev() {
        x[i] = (v[i][m] - (i + 1..m).map(|j| v[i][j] * x[j]).sum::<f64>()) / v[i][i];
    }
    Ok(x.iter().zip(&d).map(|(a, b)| a * b).sum())
}
