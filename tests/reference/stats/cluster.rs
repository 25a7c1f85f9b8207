//! Shares when trials share a draw, or were sampled in strata.

use lostlink::stats::StatsError;

/// Design effect and effective number of trials when `draws` groups of `per_draw` trials share a draw with
/// this correlation within: (1 + (m − 1) ρ, draws · m / effect).
///
/// # Source
/// Kish, Survey Sampling (1965), section 5.4.
pub fn design_effect(draws: u64, per_draw: u64, correlation: f64) -> (f64, f64) {
    let effect = 1.0 + (per_draw as f64 - 1.0) * correlation;
    (effect, draws as f64 * per_draw as f64 / effect)
}

/// Share and its standard error between draws, from groups of equal size.
///
/// # Errors
/// Fewer than two draws, empty draws, or more events than trials in one.
pub fn cluster_share(events: &[u64], per_draw: u64) -> Result<(f64, f64), StatsError> {
    let k = events.len();
    if k < 2 {
        return Err(StatsError::TooFew { got: k, needed: 2 });
    }
    if let Some(&bad) = events.iter().find(|&&e| per_draw == 0 || e > per_draw) {
        return Err(StatsError::Counts { events: bad, of: per_draw });
    }
    let shares: Vec<f64> = events.iter().map(|&e| e as f64 / per_draw as f64).collect();
    let mean = shares.iter().sum::<f64>() / k as f64;
    let variance = shares.iter().map(|s| (s - mean) * (s - mean)).sum::<f64>() / (k - 1) as f64;
    Ok((mean, (variance / k as f64).sqrt()))
}

/// Share weighted over strata and its standard error: (Σ W p, √Σ W² p q / n). Each stratum: (weight, events, trials).
///
/// # Errors
/// No stratum, an empty one, or more events than trials.
///
/// # Source
/// Cochran, Sampling Techniques, 3rd ed. (1977), section 5.
pub fn stratified_share(strata: &[(f64, u64, u64)]) -> Result<(f64, f64), StatsError> {
    if strata.is_empty() {
        return Err(StatsError::TooFew { got: 0, needed: 1 });
    }
    let (mut share, mut variance) = (0.0, 0.0);
    for &(weight, events, of) in strata {
        if of == 0 || events > of {
            return Err(StatsError::Counts { events, of });
        }
        let p = events as f64 / of as f64;
        share += weight * p;
        variance += weight * weight * p * (1.0 - p) / of as f64;
    }
    Ok((share, variance.sqrt()))
}

/// Effective sample size of unequal weights: (Σw)²/Σw².
///
/// # Errors
/// No weight, or all zero.
///
/// # Source
/// Kish (1965).
pub fn effective_size(weights: &[f64]) -> Result<f64, StatsError> {
    let sum: f64 = weights.iter().sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    if squares > 0.0 { Ok(sum * sum / squares) } else { Err(super::NO_SPREAD) }
}
