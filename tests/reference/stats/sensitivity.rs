//! What drives a result: variance-based indices and elementary effects, and the exact values they must hit.

use lostlink::stats::StatsError;
use rand::seq::SliceRandom;
use rand::{Rng, RngExt};

/// First-order and total indices of one input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Indices {
    /// Share of the variance that the input explains alone. Slightly negative values are noise.
    pub first: f64,
    /// Share that vanishes when the input is known.
    pub total: f64,
}

/// Estimates the indices of a function of `inputs` uniform numbers in [0, 1) from `base` rows, by `base` × (inputs + 2)
/// calls.
///
/// # Errors
/// Fewer than two rows, no input, or a constant function.
///
/// # Source
/// Saltelli et al., Computer Physics Communications 181 (2010) 259, table 2: estimators (b) and (f, Jansen).
pub fn saltelli(
    inputs: usize,
    base: usize,
    chance: &mut impl Rng,
    f: impl Fn(&[f64]) -> f64,
) -> Result<Vec<Indices>, StatsError> {
    if base < 2 || inputs == 0 {
        return Err(StatsError::TooFew { got: base.min(inputs), needed: 2 });
    }
    let mut row = |_: usize| -> Vec<f64> { (0..inputs).map(|_| chance.random()).collect() };
    let a: Vec<Vec<f64>> = (0..base).map(&mut row).collect();
    let b: Vec<Vec<f64>> = (0..base).map(&mut row).collect();
    let fa: Vec<f64> = a.iter().map(|x| f(x)).collect();
    let fb: Vec<f64> = b.iter().map(|x| f(x)).collect();
    let n = base as f64;
    let mean = (fa.iter().sum::<f64>() + fb.iter().sum::<f64>()) / (2.0 * n);
    let variance = fa.iter().chain(&fb).map(|y| (y - mean) * (y - mean)).sum::<f64>() / (2.0 * n);
    if variance.is_nan() || variance <= 0.0 {
        return Err(super::NO_SPREAD);
    }
    Ok((0..inputs)
        .map(|i| {
            let (mut first, mut total) = (0.0, 0.0);
            for k in 0..base {
                let mut x = a[k].clone();
                x[i] = b[k][i];
                let y = f(&x);
                first += (fb[k] - mean) * (y - fa[k]);
                total += 0.5 * (fa[k] - y) * (fa[k] - y);
            }
            Indices { first: first / (n * variance), total: total / (n * variance) }
        })
        .collect())
}

/// Calls that scheme takes: first and total N (d + 2); with second order N (2 d + 2).
pub fn saltelli_runs(base: u64, inputs: u64) -> (u64, u64) {
    (base * (inputs + 2), base * (2 * inputs + 2))
}

/// Elementary effects of one input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effects {
    /// Mean.
    pub mu: f64,
    /// Mean of the absolute values.
    pub mu_star: f64,
    /// Standard deviation.
    pub sigma: f64,
}

/// Elementary effects of a function on the unit cube along `paths` random paths of one step per input.
///
/// # Errors
/// Fewer than two paths.
///
/// # Source
/// Morris, Technometrics 33 (1991) 161, four levels, step 2/3; Campolongo et al. (2007) for μ*.
pub fn morris(
    inputs: usize,
    paths: usize,
    chance: &mut impl Rng,
    f: impl Fn(&[f64]) -> f64,
) -> Result<Vec<Effects>, StatsError> {
    if paths < 2 {
        return Err(StatsError::TooFew { got: paths, needed: 2 });
    }
    const STEP: f64 = 2.0 / 3.0;
    let mut effects = vec![Vec::with_capacity(paths); inputs];
    for _ in 0..paths {
        // Start on a level of the lower half or the upper half; each input then moves by the step into the other.
        let mut x: Vec<f64> = (0..inputs).map(|_| f64::from(chance.random_range(0..4_u32)) / 3.0).collect();
        let mut order: Vec<usize> = (0..inputs).collect();
        order.shuffle(chance);
        let mut before = f(&x);
        for i in order {
            let step = if x[i] < 0.5 { STEP } else { -STEP };
            x[i] += step;
            let after = f(&x);
            effects[i].push((after - before) / step);
            before = after;
        }
    }
    let n = paths as f64;
    Ok(effects
        .iter()
        .map(|list| {
            let mu = list.iter().sum::<f64>() / n;
            let squares: f64 = list.iter().map(|e| (e - mu) * (e - mu)).sum();
            Effects { mu, mu_star: list.iter().map(|e| e.abs()).sum::<f64>() / n, sigma: (squares / (n - 1.0)).sqrt() }
        })
        .collect())
}

/// Exact values of the test functions in the literature.
pub mod exact {
    use super::Indices;

    /// Variance and indices of sin x₁ + a sin² x₂ + b x₃⁴ sin x₁, x uniform on [−π, π].
    ///
    /// # Source
    /// Ishigami and Homma (1990), closed forms.
    pub fn ishigami(a: f64, b: f64) -> (f64, [Indices; 3]) {
        let pi4 = std::f64::consts::PI.powi(4);
        let v1 = 0.5 * (1.0 + b * pi4 / 5.0) * (1.0 + b * pi4 / 5.0);
        let v2 = a * a / 8.0;
        let v13 = 8.0 * b * b * pi4 * pi4 / 225.0;
        let variance = v1 + v2 + v13;
        let of = |first: f64, total: f64| Indices { first: first / variance, total: total / variance };
        (variance, [of(v1, v1 + v13), of(v2, v2), of(0.0, v13)])
    }

    /// Indices of Π (|4x − 2| + a)/(1 + a), x uniform on [0, 1].
    ///
    /// # Source
    /// Saltelli and Sobol (1995), closed forms.
    pub fn g_function(a: &[f64]) -> Vec<Indices> {
        let parts: Vec<f64> = a.iter().map(|a| 1.0 / (3.0 * (1.0 + a) * (1.0 + a))).collect();
        let product: f64 = parts.iter().map(|v| 1.0 + v).product();
        let variance = product - 1.0;
        parts.iter().map(|v| Indices { first: v / variance, total: v * product / (1.0 + v) / variance }).collect()
    }

    /// First-order indices of Σ cᵢ xᵢ, inputs uniform on [0, 1]: cᵢ²/Σc²; the totals are the same.
    pub fn linear(coefficients: &[f64]) -> Vec<f64> {
        let sum: f64 = coefficients.iter().map(|c| c * c).sum();
        coefficients.iter().map(|c| c * c / sum).collect()
    }

    /// Indices of y = x₁ x₂ with standard normal inputs: neither explains anything alone, either everything.
    pub fn product() -> [Indices; 2] {
        // V(E[y|x₁]) = V(x₁ E[x₂]) = 0; V(y) = 1.
        [Indices { first: 0.0, total: 1.0 }; 2]
    }
}
