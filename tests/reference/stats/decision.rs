//! Choosing a row of a loss table: rows are policies, columns conditions, smaller is better.

use lostlink::stats::StatsError;
use lostlink::stats::decision::*;

/// The row that each rule picks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Picks {
    /// Least greatest loss.
    pub minimax: usize,
    /// Least greatest regret.
    pub regret: usize,
    /// Least expected loss.
    pub expected: usize,
}

/// The row picked by greatest loss, by greatest regret and by expected loss; the first of equals.
///
/// # Errors
/// As [`expected`].
pub fn picks(loss: &[Vec<f64>], odds: &[f64]) -> Result<Picks, StatsError> {
    let pick = |values: Vec<f64>| least(&values).unwrap_or(0);
    Ok(Picks { minimax: pick(greatest(loss)), regret: pick(max_regret(loss)?), expected: pick(expected(loss, odds)?) })
}

/// Rows that another row beats or equals in every column and beats in at least one.
pub fn dominated(loss: &[Vec<f64>]) -> Vec<usize> {
    let beats = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(x, y)| x <= y) && a.iter().zip(b).any(|(x, y)| x < y);
    (0..loss.len()).filter(|&i| loss.iter().any(|other| beats(other, &loss[i]))).collect()
}

/// Expected loss saved by knowing the column beforehand.
///
/// # Errors
/// As [`expected`].
pub fn perfect_information_value(loss: &[Vec<f64>], odds: &[f64]) -> Result<f64, StatsError> {
    let best = expected(loss, odds)?.into_iter().fold(f64::INFINITY, f64::min);
    let total: f64 = odds.iter().sum();
    let known: f64 =
        (0..odds.len()).map(|j| odds[j] * loss.iter().map(|row| row[j]).fold(f64::INFINITY, f64::min)).sum::<f64>()
            / total;
    Ok(best - known)
}
