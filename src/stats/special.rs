//! Binomial and beta functions to nearly full double precision, for counts up to many millions.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::stats::special::binomial_pmf;
    use statrs::distribution::{Binomial, Discrete, DiscreteCDF};

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
    }

    /// Closed form: I_x(1, n) = 1 − (1 − x)ⁿ. At a million the fraction is evaluated at
    /// 1 − x, whose rounding (1e-16 of 1) is 4e-11 of x = 3e-6: that bounds what can be asked.
    #[test]
    fn closed_forms_hold_for_a_million() {
        for n in [1.0, 5000.0, 1e6] {
            let x = 3.0 / (n + 3.0);
            close(beta_reg(1.0, n, x), -libm::expm1(n * libm::log1p(-x)), 1e-11);
            let p: f64 = 0.975;
            close(beta_quantile(1.0, n, p), -libm::expm1(libm::log1p(-p) / n), 1e-11);
        }
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
}
