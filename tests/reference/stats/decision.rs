//! Choosing a row of a loss table: rows are policies, columns conditions, smaller is better.

use lostlink::stats::StatsError;

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

/// Checks that the table is not empty and its rows are equally long.
fn checked(loss: &[Vec<f64>]) -> Result<usize, StatsError> {
    let columns = loss.first().map_or(0, Vec::len);
    if columns == 0 {
        return Err(StatsError::TooFew { got: 0, needed: 1 });
    }
    if loss.iter().any(|row| row.len() != columns) { Err(StatsError::Shape) } else { Ok(columns) }
}

/// Index of the smallest value, the first of equals.
pub fn least(values: &[f64]) -> Option<usize> {
    (0..values.len()).reduce(|best, i| if values[i] < values[best] { i } else { best })
}

/// Loss over the best row of the same column.
///
/// # Errors
/// An empty or ragged table.
pub fn regret(loss: &[Vec<f64>]) -> Result<Vec<Vec<f64>>, StatsError> {
    let columns = checked(loss)?;
    let best: Vec<f64> = (0..columns).map(|j| loss.iter().map(|row| row[j]).fold(f64::INFINITY, f64::min)).collect();
    Ok(loss.iter().map(|row| row.iter().zip(&best).map(|(l, b)| l - b).collect()).collect())
}

/// Greatest value of each row.
pub fn greatest(table: &[Vec<f64>]) -> Vec<f64> {
    table.iter().map(|row| row.iter().copied().fold(f64::NEG_INFINITY, f64::max)).collect()
}

/// Greatest regret of each row.
///
/// # Errors
/// An empty or ragged table.
///
/// # Source
/// Savage, JASA 46 (1951) 55.
pub fn max_regret(loss: &[Vec<f64>]) -> Result<Vec<f64>, StatsError> {
    regret(loss).map(|table| greatest(&table))
}

/// Expected loss of each row under these odds (scaled to sum to 1).
///
/// # Errors
/// An empty or ragged table, odds that do not match its columns or do not sum to more than 0.
pub fn expected(loss: &[Vec<f64>], odds: &[f64]) -> Result<Vec<f64>, StatsError> {
    if checked(loss)? != odds.len() {
        return Err(StatsError::Shape);
    }
    let total: f64 = odds.iter().sum();
    if total.is_nan() || total <= 0.0 || odds.iter().any(|o| *o < 0.0) {
        return Err(StatsError::Range { name: "sum of odds", value: total });
    }
    Ok(loss.iter().map(|row| row.iter().zip(odds).map(|(l, o)| l * o).sum::<f64>() / total).collect())
}
