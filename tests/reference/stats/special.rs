//! Poisson and gamma functions to nearly full double precision, roots and integrals.

/// Probability of exactly `k` events in `n` trials of probability `p`: by the ratios of neighbours from the most likely count on, and
/// all of them together 1. Needs no gamma function.
pub fn binomial_pmf(k: u64, n: u64, p: f64) -> f64 {
    if k > n {
        return 0.0;
    }
    if p <= 0.0 || p >= 1.0 {
        return if k == if p <= 0.0 { 0 } else { n } { 1.0 } else { 0.0 };
    }
    let mode = (((n + 1) as f64 * p) as u64).min(n);
    let odds = p / (1.0 - p);
    // Weight of a count against that of the one below.
    let ratio = |x: u64| (n - x + 1) as f64 / x as f64 * odds;
    let (mut sum, mut wanted) = (1.0, f64::from(k == mode));
    let mut weight = 1.0;
    for x in mode + 1..=n {
        weight *= ratio(x);
        sum += weight;
        if x == k {
            wanted = weight;
        }
        if x >= k && weight < 1e-18 {
            break;
        }
    }
    weight = 1.0;
    for x in (0..mode).rev() {
        weight /= ratio(x + 1);
        sum += weight;
        if x == k {
            wanted = weight;
        }
        if x <= k && weight < 1e-18 {
            break;
        }
    }
    wanted / sum
}

/// Root of an increasing function on a bracket: Newton where it helps, bisection where it does not.
/// Stops when the step is under one part in 10¹⁵ of the root.
pub fn solve_increasing(f: impl Fn(f64) -> f64, slope: impl Fn(f64) -> f64, bracket: (f64, f64), start: f64) -> f64 {
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
    libm::exp(k * libm::log(m) - m - libm::lgamma(k + 1.0))
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
pub fn gauss_legendre_20() -> [(f64, f64); 20] {
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
pub fn integrate(a: f64, b: f64, panels: usize, mut f: impl FnMut(f64) -> f64) -> f64 {
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
pub fn integrate_adaptive(a: f64, b: f64, f: impl Fn(f64) -> f64) -> f64 {
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
