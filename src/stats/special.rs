//! Binomial, Poisson, beta and gamma functions to nearly full double precision, for counts up to many millions.
//!
//! Built on `libm` alone, so that every machine gives the same bits. The crate `statrs` has most of these too; here it judges
//! them in tests, and nothing printed rests on it, for three reasons, measured against version 0.19.1:
//!
//! - it differs in the last digits, and takes logarithms and exponentials of the system: a summary would no longer have the
//!   same bytes everywhere (of 20,000 values of the normal distribution function a quarter agree to the bit);
//! - its digits go as counts grow: its binomial distribution function is off by 4e-11 of its value at 10⁴ trials, 1e-9 at 10⁵,
//!   2e-3 at 10⁶, because its continued fraction stops too early; runs may have 10⁷ flights;
//! - its beta quantile, the end of every interval printed, is off by 2e-8 of its value at 10⁵ and 6e-7 at 10⁶.

/// `ln(2π)/2`.
const HALF_LN_TAU: f64 = 0.918_938_533_204_672_7;

/// Error of Stirling's formula: `ln Γ(n+1) − ((n + ½) ln n − n + ½ ln 2π)`, `n` > 0.
///
/// # Source
/// Series: Abramowitz and Stegun (1964) 6.1.41. Use in densities: Loader, "Fast and accurate
/// computation of binomial probabilities" (2000), from memory.
fn stirling_error(n: f64) -> f64 {
    if n < 16.0 {
        return libm::lgamma(n + 1.0) - (n + 0.5) * libm::log(n) + n - HALF_LN_TAU;
    }
    let s = 1.0 / (n * n);
    (1.0 / 12.0 - s * (1.0 / 360.0 - s * (1.0 / 1260.0 - s * (1.0 / 1680.0 - s / 1188.0)))) / n
}

/// `x ln(x/m) + m − x` without cancellation when `x` is close to `m`; both > 0, `off` = x − m.
///
/// # Source
/// Loader (2000), deviance term `D0`, from memory.
fn deviance(x: f64, m: f64, off: f64) -> f64 {
    if off.abs() < 0.1 * (x + m) {
        let v = off / (x + m);
        let mut sum = off * v;
        let mut term = 2.0 * x * v;
        for j in 1..1000 {
            term *= v * v;
            let next = sum + term / f64::from(2 * j + 1);
            if next == sum {
                return next;
            }
            sum = next;
        }
    }
    x * libm::log(x / m) - off
}

/// `Γ(n+1)/(Γ(x+1) Γ(n−x+1)) · pˣ qⁿ⁻ˣ` for real 0 ≤ x ≤ n, with `q = 1 − p` given apart.
fn binomial_kernel(x: f64, n: f64, p: f64, q: f64) -> f64 {
    if p <= 0.0 {
        return if x == 0.0 { 1.0 } else { 0.0 };
    }
    if q <= 0.0 {
        return if x == n { 1.0 } else { 0.0 };
    }
    if x <= 0.0 {
        return libm::exp(if p < 0.1 { n * libm::log1p(-p) } else { n * libm::log(q) });
    }
    if x >= n {
        return libm::exp(if q < 0.1 { n * libm::log1p(-q) } else { n * libm::log(p) });
    }
    let exponent = stirling_error(n)
        - stirling_error(x)
        - stirling_error(n - x)
        - deviance(x, n * p, x - n * p)
        - deviance(n - x, n * q, n * p - x);
    libm::exp(exponent) * (n / (x * (n - x))).sqrt() * 0.398_942_280_401_432_7
}

/// Probability of exactly `k` events in `n` trials of probability `p`.
pub fn binomial_pmf(k: u64, n: u64, p: f64) -> f64 {
    if k > n { 0.0 } else { binomial_kernel(k as f64, n as f64, p, 1.0 - p) }
}

/// Probability of at most `k` events in `n` trials of probability `p`.
pub fn binomial_cdf(k: u64, n: u64, p: f64) -> f64 {
    if k >= n { 1.0 } else { beta_reg_complement((k + 1) as f64, (n - k) as f64, p) }
}

/// Probability of at least `k` events in `n` trials of probability `p`.
pub fn binomial_tail(k: u64, n: u64, p: f64) -> f64 {
    if k == 0 {
        1.0
    } else if k > n {
        0.0
    } else {
        beta_reg(k as f64, (n - k + 1) as f64, p)
    }
}

/// Regularised incomplete beta function `I_x(a, b)`; a, b > 0, x in [0, 1].
///
/// # Source
/// Continued fraction: Abramowitz and Stegun (1964) 26.5.8, evaluated by the modified Lentz method.
pub fn beta_reg(a: f64, b: f64, x: f64) -> f64 {
    beta_parts(a, b, x).0
}

/// `1 − I_x(a, b)` without cancellation.
pub fn beta_reg_complement(a: f64, b: f64, x: f64) -> f64 {
    beta_parts(a, b, x).1
}

/// `(I_x(a, b), 1 − I_x(a, b))`.
fn beta_parts(a: f64, b: f64, x: f64) -> (f64, f64) {
    if x.is_nan() || a.is_nan() || b.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x >= 1.0 {
        return (1.0, 0.0);
    }
    let kernel = binomial_kernel(a, a + b, x, 1.0 - x);
    if x < (a + 1.0) / (a + b + 2.0) {
        let value = (kernel * b / (a + b) * beta_fraction(a, b, x)).min(1.0);
        (value, 1.0 - value)
    } else {
        let value = (kernel * a / (a + b) * beta_fraction(b, a, 1.0 - x)).min(1.0);
        (1.0 - value, value)
    }
}

/// The continued fraction of `I_x(a, b)`.
fn beta_fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let guard = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / guard(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for m in 1..200_000_u32 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / guard(1.0 + even * d);
        c = guard(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / guard(1.0 + odd * d);
        c = guard(1.0 + odd / c);
        let step = d * c;
        h *= step;
        if (step - 1.0).abs() < 1e-16 {
            break;
        }
    }
    h
}

/// The `x` at which `I_x(a, b) = p`: a safeguarded Newton iteration to the last digits.
pub fn beta_quantile(a: f64, b: f64, p: f64) -> f64 {
    if p.is_nan() || p <= 0.0 {
        return if p == 0.0 { 0.0 } else { f64::NAN };
    }
    if p >= 1.0 {
        return if p == 1.0 { 1.0 } else { f64::NAN };
    }
    // The smaller tail carries the digits.
    let miss = |x: f64| {
        let (below, above) = beta_parts(a, b, x);
        if p <= 0.5 { below - p } else { (1.0 - p) - above }
    };
    let slope = |x: f64| binomial_kernel(a, a + b, x, 1.0 - x) * a * b / (a + b) / (x * (1.0 - x));
    solve_increasing(miss, slope, (0.0, 1.0), (a / (a + b)).clamp(1e-300, 1.0 - 1e-16))
}

/// Root of an increasing function on a bracket: Newton where it helps, bisection where it does not.
/// Stops when the step is under one part in 10¹⁵ of the root.
pub(crate) fn solve_increasing(
    f: impl Fn(f64) -> f64,
    slope: impl Fn(f64) -> f64,
    bracket: (f64, f64),
    start: f64,
) -> f64 {
    let (mut low, mut high) = bracket;
    let mut x = start;
    for _ in 0..400 {
        let value = f(x);
        if value == 0.0 {
            return x;
        }
        if value < 0.0 {
            low = x
        } else {
            high = x
        }
        let newton = x - value / slope(x);
        let next = if newton.is_finite() && newton > low && newton < high {
            newton
        } else if low > 0.0 && high > 4.0 * low {
            (low * high).sqrt()
        } else {
            0.5 * (low + high)
        };
        if (next - x).abs() <= 1e-15 * x.abs() || next == low || next == high {
            return next;
        }
        x = next;
    }
    x
}

/// Poisson probability of exactly `k` (real ≥ 0) at mean `m` ≥ 0.
pub fn poisson_pmf(k: f64, m: f64) -> f64 {
    if m <= 0.0 {
        return if k == 0.0 { 1.0 } else { 0.0 };
    }
    if k <= 0.0 {
        return if k == 0.0 { libm::exp(-m) } else { 0.0 };
    }
    libm::exp(-stirling_error(k) - deviance(k, m, k - m)) * 0.398_942_280_401_432_7 / k.sqrt()
}

/// Regularised incomplete gamma functions `(P(a, x), Q(a, x))`; a > 0, x ≥ 0.
///
/// # Source
/// Series and continued fraction: Abramowitz and Stegun (1964) 6.5.29 and 6.5.31.
pub fn gamma_parts(a: f64, x: f64) -> (f64, f64) {
    if x.is_nan() || a.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    // xᵃ e⁻ˣ / Γ(a+1)
    let kernel = poisson_pmf(a, x);
    if x < a + 1.0 {
        let (mut sum, mut term, mut n) = (1.0, 1.0, a);
        for _ in 0..2_000_000 {
            n += 1.0;
            term *= x / n;
            sum += term;
            if term < 1e-17 * sum {
                break;
            }
        }
        let below = (kernel * sum).min(1.0);
        (below, 1.0 - below)
    } else {
        let mut b = x + 1.0 - a;
        let mut c = 1e300;
        let mut d = 1.0 / b;
        let mut h = d;
        for i in 1..2_000_000_u32 {
            let i = f64::from(i);
            let an = -i * (i - a);
            b += 2.0;
            d = an * d + b;
            d = 1.0 / if d.abs() < 1e-300 { 1e-300 } else { d };
            c = b + an / c;
            c = if c.abs() < 1e-300 { 1e-300 } else { c };
            let step = d * c;
            h *= step;
            if (step - 1.0).abs() < 1e-16 {
                break;
            }
        }
        let above = (kernel * a * h).min(1.0);
        (1.0 - above, above)
    }
}

/// The `x` at which `P(a, x) = p`; p in [0, 1).
pub fn gamma_quantile(a: f64, p: f64) -> f64 {
    if !(p > 0.0 && p < 1.0) {
        return if p == 0.0 {
            0.0
        } else if p == 1.0 {
            f64::INFINITY
        } else {
            f64::NAN
        };
    }
    let miss = |x: f64| {
        let (below, above) = gamma_parts(a, x);
        if p <= 0.5 { below - p } else { (1.0 - p) - above }
    };
    let mut high = a + 10.0 * a.sqrt() + 10.0;
    while miss(high) < 0.0 {
        high *= 2.0;
    }
    solve_increasing(miss, |x| poisson_pmf(a, x) * a / x, (0.0, high), a)
}

/// Upper tail of the chi-squared distribution.
pub fn chi_squared_tail(statistic: f64, degrees: f64) -> f64 {
    gamma_parts(0.5 * degrees, 0.5 * statistic).1
}

/// Upper tail of the standard normal distribution.
pub fn normal_tail(x: f64) -> f64 {
    0.5 * libm::erfc(x * std::f64::consts::FRAC_1_SQRT_2)
}

/// Nodes and weights of the Gauss–Legendre rule of order 20 on [−1, 1], found by Newton's method.
///
/// # Source
/// Abramowitz and Stegun (1964) 25.4.29; Legendre recurrence 22.7.10.
pub(crate) fn gauss_legendre_20() -> [(f64, f64); 20] {
    const N: usize = 20;
    let mut rule = [(0.0, 0.0); N];
    for (i, slot) in rule.iter_mut().enumerate() {
        let mut x = libm::cos(std::f64::consts::PI * (i as f64 + 0.75) / (N as f64 + 0.5));
        let mut slope = 0.0;
        for _ in 0..100 {
            let (mut p0, mut p1) = (1.0, x);
            for k in 2..=N {
                let k = k as f64;
                (p0, p1) = (p1, ((2.0 * k - 1.0) * x * p1 - (k - 1.0) * p0) / k);
            }
            slope = N as f64 * (x * p1 - p0) / (x * x - 1.0);
            let step = p1 / slope;
            x -= step;
            if step.abs() < 1e-16 {
                break;
            }
        }
        *slot = (x, 2.0 / ((1.0 - x * x) * slope * slope));
    }
    rule
}

/// Integral over [a, b] in `panels` equal panels of the 20-point rule.
pub(crate) fn integrate(a: f64, b: f64, panels: usize, mut f: impl FnMut(f64) -> f64) -> f64 {
    let rule = gauss_legendre_20();
    let half = 0.5 * (b - a) / panels as f64;
    let mut sum = 0.0;
    for panel in 0..panels {
        let middle = a + half * (2 * panel + 1) as f64;
        for (node, weight) in rule {
            sum += weight * f(middle + half * node);
        }
    }
    sum * half
}

/// Integral over [a, b] of a function that may have kinks or jumps, to about 1e-12 of its value: panels of the 20-point
/// rule are halved until the halves agree.
pub(crate) fn integrate_adaptive(a: f64, b: f64, f: impl Fn(f64) -> f64) -> f64 {
    const PANELS: usize = 48;
    let rule = gauss_legendre_20();
    let panel = |from: f64, to: f64| {
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        half * rule.iter().map(|(x, w)| w * f(middle + half * x)).sum::<f64>()
    };
    let edge = |i: usize| a + (b - a) * i as f64 / PANELS as f64;
    let mut open: Vec<(f64, f64, f64, u32)> =
        (0..PANELS).rev().map(|i| (edge(i), edge(i + 1), panel(edge(i), edge(i + 1)), 0)).collect();
    let scale: f64 = open.iter().map(|p| p.2.abs()).sum();
    let mut sum = 0.0;
    while let Some((from, to, whole, depth)) = open.pop() {
        let middle = 0.5 * (from + to);
        let (left, right) = (panel(from, middle), panel(middle, to));
        // Once a jump is boxed into 2⁻⁴⁸ of a panel, what is left of it is below the digits.
        if (left + right - whole).abs() <= 1e-14 * scale || depth >= 48 {
            sum += left + right;
        } else {
            open.push((middle, to, right, depth + 1));
            open.push((from, middle, left, depth + 1));
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Binomial, ChiSquared, ContinuousCDF, Discrete, DiscreteCDF};

    fn close(a: f64, b: f64, relative: f64) {
        assert!((a - b).abs() <= relative * b.abs().max(1e-300), "{a:e} against {b:e}");
    }

    /// Against an independent implementation, where that one has digits enough.
    #[test]
    fn binomial_agrees_with_another_library() {
        for (k, n, p) in [(0, 10, 0.1), (3, 10, 0.1), (13, 16, 0.8), (983, 1000, 0.99), (500, 1000, 0.5)] {
            let other = Binomial::new(p, n).unwrap();
            close(binomial_pmf(k, n, p), other.pmf(k), 1e-11);
            close(binomial_cdf(k, n, p), other.cdf(k), 1e-11);
        }
        for (x, df) in [(3.84, 1.0), (7.714, 2.0), (19.1, 6.0), (100.0, 50.0)] {
            close(chi_squared_tail(x, df), ChiSquared::new(df).unwrap().sf(x), 1e-10);
        }
    }

    /// Closed forms: I_x(1, n) = 1 − (1 − x)ⁿ, and P(1, x) = 1 − e⁻ˣ. At a million the fraction is evaluated at
    /// 1 − x, whose rounding (1e-16 of 1) is 4e-11 of x = 3e-6: that bounds what can be asked.
    #[test]
    fn closed_forms_hold_for_a_million() {
        for n in [1.0, 5000.0, 1e6] {
            let x = 3.0 / (n + 3.0);
            close(beta_reg(1.0, n, x), -libm::expm1(n * libm::log1p(-x)), 1e-11);
            let p: f64 = 0.975;
            close(beta_quantile(1.0, n, p), -libm::expm1(libm::log1p(-p) / n), 1e-11);
        }
        close(gamma_parts(1.0, 2.5).1, libm::exp(-2.5), 1e-14);
        close(gamma_quantile(1.0, 0.95), -libm::log(0.050_000_000_000_000_044), 1e-14);
        // The pmf sums to one and matches the distribution function.
        let sum: f64 = (0..=40).map(|k| binomial_pmf(k, 40, 0.37)).sum();
        close(sum, 1.0, 1e-14);
        let part: f64 = (0..=1_000).map(|k| binomial_pmf(k, 1_000_000, 0.001)).sum();
        close(binomial_cdf(1_000, 1_000_000, 0.001), part, 1e-12);
    }

    #[test]
    fn quantile_inverts_the_beta_function() {
        for (a, b) in [(0.5, 0.5), (1.0, 3.0), (13.0, 4.0), (7.5, 993.5), (12.0, 999_989.0), (5e5, 5e5)] {
            for p in [1e-6, 0.004, 0.025, 0.5, 0.975, 0.9999] {
                let x = beta_quantile(a, b, p);
                close(beta_reg(a, b, x), p, 1e-11);
            }
        }
    }

    #[test]
    fn the_rule_integrates_polynomials() {
        let value = integrate(0.0, 1.0, 1, |x| x.powi(39));
        close(value, 1.0 / 40.0, 1e-13);
    }
}
