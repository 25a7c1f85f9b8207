//! Rare events: exact probabilities that an estimator must hit, what estimators cost, and stopping at events.

use super::special::{gamma_parts, integrate_adaptive, normal_tail, poisson_pmf};
use super::{checked_level, two_sided_z};
use lostlink::chance::standard_normal_cdf;
use lostlink::stats::StatsError;

/// Standard deviations beyond which a normal factor is left out (2e-33).
const REACH: f64 = 12.0;

/// Density of the standard normal.
fn density(t: f64) -> f64 {
    libm::exp(-0.5 * t * t) * 0.398_942_280_401_432_7
}

/// Probability of a standard normal between two ends, without cancellation in either tail.
fn between(a: f64, b: f64) -> f64 {
    if a >= b {
        0.0
    } else if a > 0.0 {
        normal_tail(a) - normal_tail(b)
    } else {
        standard_normal_cdf(b) - standard_normal_cdf(a)
    }
}

/// P(Σ xᵢ/√d > β) for independent standard normal xᵢ, any d.
pub fn linear(beta: f64) -> f64 {
    normal_tail(beta)
}

/// Reliability index and P(R − S < 0) for independent normal R and S.
///
/// # Errors
/// Deviations that are both zero or negative.
pub fn difference(mean_r: f64, sd_r: f64, mean_s: f64, sd_s: f64) -> Result<(f64, f64), StatsError> {
    let sd = (sd_r * sd_r + sd_s * sd_s).sqrt();
    if sd.is_nan() || sd <= 0.0 {
        return Err(super::NO_SPREAD);
    }
    let beta = (mean_r - mean_s) / sd;
    Ok((beta, normal_tail(beta)))
}

/// The four-branch series system with parameter `k`: turned by 45° it is one integral.
///
/// # Source
/// Waarts, Structural Reliability Using Finite Element Analysis (2000), from memory.
pub fn four_branch(k: f64) -> f64 {
    if k <= 0.0 {
        return 1.0;
    }
    let edge = 0.5 * k;
    let inner = integrate_adaptive(0.0, edge.min(REACH), |v| density(v) * normal_tail(3.0 + 0.2 * v * v));
    // u beyond ± (3 + 0.2 v²), both sides, v of both signs; and v beyond ± k/2.
    2.0 * normal_tail(edge) + 4.0 * inner
}

/// One piece of a limit state: terms (coefficient, power of x, power of y).
pub type Polynomial = Vec<(f64, u32, u32)>;

/// How pieces of a limit state combine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Combine {
    /// Fails where any piece is negative.
    Min,
    /// Fails where all pieces are negative.
    Max,
}

/// P(g(x, y) < 0) for independent normal x and y, g the min or max of polynomials: the inner integral is exact
/// between the roots in y, the outer one adaptive.
///
/// # Errors
/// No piece, or deviations that are not > 0.
pub fn polynomial(pieces: &[Polynomial], combine: Combine, mean: [f64; 2], sd: [f64; 2]) -> Result<f64, StatsError> {
    if pieces.is_empty() {
        return Err(StatsError::TooFew { got: 0, needed: 1 });
    }
    if !(sd[0] > 0.0 && sd[1] > 0.0) {
        return Err(StatsError::Range { name: "standard deviation", value: sd[0].min(sd[1]) });
    }
    let failing = |s: f64| {
        let x = mean[0] + sd[0] * s;
        // Each piece as a polynomial in t, the standardised y.
        let lines: Vec<Vec<f64>> = pieces.iter().map(|piece| in_standard_y(piece, x, mean[1], sd[1])).collect();
        let mut cuts = vec![-REACH, REACH];
        for line in &lines {
            cuts.extend(real_roots(line, -REACH, REACH));
        }
        cuts.sort_by(f64::total_cmp);
        let negative = |line: &Vec<f64>, t: f64| horner(line, t) < 0.0;
        cuts.windows(2)
            .filter(|w| {
                let t = 0.5 * (w[0] + w[1]);
                match combine {
                    Combine::Min => lines.iter().any(|line| negative(line, t)),
                    Combine::Max => lines.iter().all(|line| negative(line, t)),
                }
            })
            .map(|w| between(w[0], w[1]))
            .sum::<f64>()
    };
    Ok(integrate_adaptive(-REACH, REACH, |s| density(s) * failing(s)))
}

/// Coefficients, lowest power first, of a piece at fixed x in t = (y − mean)/sd.
fn in_standard_y(piece: &Polynomial, x: f64, mean: f64, sd: f64) -> Vec<f64> {
    let degree = piece.iter().map(|term| term.2).max().unwrap_or(0) as usize;
    let mut line = vec![0.0; degree + 1];
    for &(c, i, j) in piece {
        let scale = c * x.powi(i as i32);
        // (mean + sd t)ʲ by the binomial theorem.
        let mut choose = 1.0;
        for (power, slot) in line.iter_mut().enumerate().take(j as usize + 1) {
            *slot += scale * choose * mean.powi((j as usize - power) as i32) * sd.powi(power as i32);
            choose *= (j as usize - power) as f64 / (power + 1) as f64;
        }
    }
    line
}

fn horner(line: &[f64], t: f64) -> f64 {
    line.iter().rev().fold(0.0, |sum, c| sum * t + c)
}

/// Real roots inside an interval, found between the roots of the derivative.
fn real_roots(line: &[f64], low: f64, high: f64) -> Vec<f64> {
    let degree = line.iter().rposition(|c| *c != 0.0).unwrap_or(0);
    if degree == 0 {
        return Vec::new();
    }
    if degree == 1 {
        let root = -line[0] / line[1];
        return if root > low && root < high { vec![root] } else { Vec::new() };
    }
    let slope: Vec<f64> = (1..=degree).map(|k| k as f64 * line[k]).collect();
    let mut ends = vec![low];
    ends.extend(real_roots(&slope, low, high));
    ends.push(high);
    let mut roots = Vec::new();
    for w in ends.windows(2) {
        let (mut a, mut b) = (w[0], w[1]);
        let negative = horner(line, a) < 0.0;
        if negative == (horner(line, b) < 0.0) {
            continue;
        }
        for _ in 0..200 {
            let middle = 0.5 * (a + b);
            if middle == a || middle == b {
                break;
            }
            if (horner(line, middle) < 0.0) == negative { a = middle } else { b = middle }
        }
        roots.push(0.5 * (a + b));
    }
    roots
}

/// P(min(2 − y + e^(−0.1 x²) + (0.2 x)⁴, 4.5 − x y) < 0) for independent normal x and y.
///
/// # Errors
/// Deviations that are not > 0.
///
/// # Source
/// A public reliability benchmark of two branches (otbenchmark, problem 35).
pub fn two_branch_exponential(mean: [f64; 2], sd: [f64; 2]) -> Result<f64, StatsError> {
    if !(sd[0] > 0.0 && sd[1] > 0.0) {
        return Err(StatsError::Range { name: "standard deviation", value: sd[0].min(sd[1]) });
    }
    let failing = |s: f64| {
        let x = mean[0] + sd[0] * s;
        let curve = 2.0 + libm::exp(-0.1 * x * x) + (0.2 * x).powi(4);
        let beyond = |y: f64| (y - mean[1]) / sd[1];
        if x > 0.0 {
            normal_tail(beyond(curve.min(4.5 / x)))
        } else if x < 0.0 {
            normal_tail(beyond(curve)) + normal_tail(-beyond(4.5 / x))
        } else {
            normal_tail(beyond(curve))
        }
    };
    Ok(integrate_adaptive(-REACH, REACH, |s| density(s) * failing(s)))
}

/// P(|x| > r) in d dimensions, x standard normal.
pub fn hypersphere(radius: f64, dimensions: u64) -> f64 {
    gamma_parts(0.5 * dimensions as f64, 0.5 * radius * radius).1
}

/// P(sum of so many unit exponentials > threshold).
pub fn exponential_sum(terms: u64, threshold: f64) -> f64 {
    gamma_parts(terms as f64, threshold).1
}

/// Relative variance of the ideal last-particle splitting estimate: p^(−1/N) − 1.
///
/// # Source
/// Guyader, Hengartner and Matzner-Løber (2011), from memory.
pub fn splitting_relative_variance(p: f64, particles: u64) -> f64 {
    libm::expm1(-libm::log(p) / particles as f64)
}

/// Mean of that estimate, (1 − 1/N)^K with K Poisson of −N ln p: summed, to show that it is unbiased.
pub fn splitting_mean(p: f64, particles: u64) -> f64 {
    let n = particles as f64;
    let mean = -n * libm::log(p);
    // The weighted terms peak below the Poisson mean.
    let middle = mean * (1.0 - 1.0 / n);
    let reach = 12.0 * middle.sqrt() + 60.0;
    let (first, last) = ((middle - reach).max(0.0) as u64, (middle + reach) as u64);
    let keep = libm::log1p(-1.0 / n);
    (first..=last).map(|k| poisson_pmf(k as f64, mean) * libm::exp(k as f64 * keep)).sum()
}

/// First-order coefficient of variation of subset simulation, independent levels: √(levels (1 − p₀)(1 + γ)/(p₀ N)).
///
/// # Source
/// Au and Beck, Probabilistic Engineering Mechanics 16 (2001) 263. A floor, not a result.
pub fn subset_cov(level_p: f64, per_level: u64, levels: u64, gamma: f64) -> f64 {
    (levels as f64 * (1.0 - level_p) * (1.0 + gamma) / (level_p * per_level as f64)).sqrt()
}

/// Plain Monte-Carlo trials for a coefficient of variation: (1 − p)/(p cov²), rounded up.
///
/// # Errors
/// `p` outside (0, 1), or a target that is not > 0.
pub fn plain_trials_needed(p: f64, target_cov: f64) -> Result<f64, StatsError> {
    checked_level(p)?;
    if target_cov.is_nan() || target_cov <= 0.0 {
        return Err(StatsError::Range { name: "coefficient of variation", value: target_cov });
    }
    let n = (1.0 - p) / (p * target_cov * target_cov);
    // A whole number may come out a few units in the last place above itself.
    Ok((n * (1.0 - 1e-14)).ceil())
}

/// Relative variance per sample of importance sampling P(x > β) with the normal shifted to β.
pub fn importance_relative_variance(beta: f64) -> f64 {
    let one = normal_tail(beta);
    libm::exp(beta * beta + libm::log(normal_tail(2.0 * beta)) - 2.0 * libm::log(one)) - 1.0
}

/// Chance of at least one clash among `n` seeds drawn at random from 2^`bits`.
pub fn seed_clash(n: u64, bits: u32) -> f64 {
    let cells = libm::ldexp(1.0, bits as i32);
    if n as f64 > cells {
        return 1.0;
    }
    let log_none: f64 = (1..n).map(|i| libm::log1p(-(i as f64) / cells)).sum();
    -libm::expm1(log_none)
}

/// Stop at the r-th event: expectation of r/N, which overstates p.
///
/// # Errors
/// `p` outside (0, 1), or no event to stop at.
///
/// # Source
/// Haldane, Biometrika 33 (1945) 222; as r p ∫₀¹ uʳ⁻¹/(p + q u) du.
pub fn inverse_sampling_plain(p: f64, stop_events: u64) -> Result<f64, StatsError> {
    checked_level(p)?;
    if stop_events == 0 {
        return Err(StatsError::Counts { events: 0, of: 0 });
    }
    let (r, q) = (stop_events as f64, 1.0 - p);
    Ok(r * p * integrate_adaptive(0.0, 1.0, |u| libm::pow(u, r - 1.0) / (p + q * u)))
}

/// Stop at the r-th event: expectation of (r − 1)/(N − 1), which is p; the integral of the same form.
///
/// # Errors
/// As [`inverse_sampling_plain`], and r under 2.
pub fn inverse_sampling_unbiased(p: f64, stop_events: u64) -> Result<f64, StatsError> {
    checked_level(p)?;
    if stop_events < 2 {
        return Err(StatsError::Counts { events: stop_events, of: stop_events });
    }
    // E[1/(N − 1)] = ∫ s⁻² G(s) ds with G the generating function (p s/(1 − q s))ʳ; u = p s/(1 − q s).
    let r = stop_events as f64;
    Ok((r - 1.0) * p * integrate_adaptive(0.0, 1.0, |u| libm::pow(u, r - 2.0)))
}

/// True two-sided type-I rates of testing a normal mean at a nominal level after 1, 2, … `looks` equal looks.
///
/// # Errors
/// A level outside (0, 1).
///
/// # Source
/// Armitage, McPherson and Rowe, JRSS A 132 (1969) 235: the density of the sum among paths not yet stopped,
/// carried from look to look.
pub fn repeated_looks(nominal: f64, looks: usize) -> Result<Vec<f64>, StatsError> {
    checked_level(nominal)?;
    let z = two_sided_z(1.0 - nominal);
    let rule = super::special::gauss_legendre_20();
    let nodes = |k: usize| -> Vec<(f64, f64)> {
        let edge = z * (k as f64).sqrt();
        let panels = edge.ceil().max(1.0) as usize * 2;
        let half = edge / panels as f64;
        (0..panels)
            .flat_map(|p| {
                let middle = -edge + half * (2 * p + 1) as f64;
                rule.map(|(x, w)| (middle + half * x, half * w))
            })
            .collect()
    };
    let mut rates = Vec::with_capacity(looks);
    let mut grid = nodes(1);
    let mut values: Vec<f64> = grid.iter().map(|(s, _)| density(*s)).collect();
    for look in 1..=looks {
        if look > 1 {
            let next = nodes(look);
            values = next
                .iter()
                .map(|(s, _)| grid.iter().zip(&values).map(|((t, w), f)| w * f * density(s - t)).sum())
                .collect();
            grid = next;
        }
        let going_on: f64 = grid.iter().zip(&values).map(|((_, w), f)| w * f).sum();
        rates.push(1.0 - going_on);
    }
    Ok(rates)
}
