//! Special functions the link needs: scaled Bessel I₀, Marcum's Q, Gauss–Legendre panels, and quick decibels.

/// Scaled modified Bessel function `exp(-|x|) I₀(x)`; never overflows.
///
/// # Source
/// Power series below 18, asymptotic series above (Abramowitz and Stegun, 9.6.12 and 9.7.1, from memory): the
/// asymptotic series' smallest term at 18 is below 1e-16.
pub fn bessel_i0_scaled(x: f64) -> f64 {
    let x = x.abs();
    if x < 18.0 {
        let quarter = 0.25 * x * x;
        let (mut term, mut sum, mut k) = (1.0, 1.0, 1.0);
        while term > 1e-17 * sum {
            term *= quarter / (k * k);
            sum += term;
            k += 1.0;
        }
        sum * libm::exp(-x)
    } else {
        let (mut term, mut sum, mut k) = (1.0, 1.0, 1.0);
        loop {
            let odd = 2.0 * k - 1.0;
            let next = term * odd * odd / (8.0 * k * x);
            if next < 1e-17 * sum || next >= term {
                break;
            }
            sum += next;
            term = next;
            k += 1.0;
        }
        sum / (std::f64::consts::TAU * x).sqrt()
    }
}

/// A probability and its complement, each with its own relative accuracy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tails {
    /// That it stays below.
    pub below: f64,
    /// That it does not.
    pub above: f64,
}

/// Probability that a Poisson count of mean `y` exceeds an independent one of mean `k` (`below`), and its complement.
///
/// Both are sums of positive terms, so that each keeps its relative accuracy however small it is; each is found by
/// summing its own terms outwards from the largest one. `k` and `y` are ≥ 0 and finite.
fn poisson_exceeds(k: f64, y: f64) -> Tails {
    if y <= 0.0 {
        return Tails { below: 0.0, above: 1.0 };
    }
    if k <= 0.0 {
        return Tails { below: -libm::expm1(-y), above: libm::exp(-y) };
    }
    // The smaller of the two probabilities is summed, the other is its complement.
    // X_y > X_k is the rarer event when y < k.
    if y < k {
        let below = sum_exceeds(y, k, 1);
        Tails { below, above: 1.0 - below }
    } else {
        let above = sum_exceeds(k, y, 0);
        Tails { below: 1.0 - above, above }
    }
}

/// P(X_low ≥ X_high + gap) for independent Poisson counts of means `low` ≤ `high`; `gap` is 0 or 1.
fn sum_exceeds(low: f64, high: f64, gap: u64) -> f64 {
    // Terms: pmf_low(n) · cdf_high(n − gap) = pmf_low(n) · pmf_high(n − gap) · r, with r = cdf/pmf. The product of the
    // two pmf peaks near n = √(low·high) with a spread of √(n/2); everything is kept relative to that peak, whose size is
    // put in at the end as one exponential. r obeys r(m) = 1 + r(m − 1)·m/high: positive, so stable upwards.
    let peak = (low * high).sqrt().floor();
    let reach = (10.0 * peak.sqrt() + 40.0).ceil();
    let log_pmf = |mean: f64, n: f64| n * libm::log(mean) - mean - libm::lgamma(n + 1.0);
    // m = n − gap runs from `first` to the end; the peak lies at m = peak.
    let first = (peak - reach).max(0.0);
    let gap = gap as f64;
    let scale = log_pmf(low, peak + gap) + log_pmf(high, peak);
    let mut weight = 1.0;
    let mut m = peak;
    while m > first {
        weight *= (m + gap) / low * (m / high);
        m -= 1.0;
    }
    let (mut ratio, mut term, mut j) = (1.0, 1.0, m);
    while j > 0.0 && term > 1e-18 * ratio {
        term *= j / high;
        ratio += term;
        j -= 1.0;
    }
    let mut total = weight * ratio;
    loop {
        m += 1.0;
        weight *= low / (m + gap) * (high / m);
        ratio = 1.0 + ratio * m / high;
        let term = weight * ratio;
        total += term;
        if m > peak && term < 1e-18 * total {
            break;
        }
    }
    libm::exp(scale + libm::log(total)).min(1.0)
}

/// Marcum's Q function of order 1: the probability that a Rician envelope with line-of-sight amplitude `a` and unit
/// variance per quadrature exceeds `b`. Both ≥ 0; up to about 1e3 each.
///
/// # Source
/// Marcum (1960); the Poisson form follows from the series of Bessel functions (from memory), see [`rician_tails`].
pub fn marcum_q1(a: f64, b: f64) -> f64 {
    poisson_exceeds(0.5 * a * a, 0.5 * b * b).above
}

/// P(power < level) and P(power ≥ level) of Rician fading: `k` is the linear K factor, `level` the power relative to its
/// mean. Both keep their relative accuracy in their own tail.
///
/// # Source
/// Noncentral χ² with 2 degrees of freedom and noncentrality 2K at 2(1+K)·level; as a Poisson mixture of central ones it is
/// P(Poisson((1+K)·level) > Poisson(K)).
pub fn rician_tails(k: f64, level: f64) -> Tails {
    poisson_exceeds(k.max(0.0), (1.0 + k.max(0.0)) * level)
}

/// Positive half of the 10-point Gauss–Legendre rule on (−1, 1): (node, weight).
///
/// # Source
/// Abramowitz and Stegun, table 25.4 (from memory; the tests integrate polynomials with it).
const GAUSS_10: [(f64, f64); 5] = [
    (0.148_874_338_981_631_22, 0.295_524_224_714_752_87),
    (0.433_395_394_129_247_2, 0.269_266_719_309_996_35),
    (0.679_409_568_299_024_4, 0.219_086_362_515_982_04),
    (0.865_063_366_688_984_5, 0.149_451_349_150_580_6),
    (0.973_906_528_517_171_7, 0.066_671_344_308_688_14),
];

/// Integral of `f` from `from` to `to` by `panels` 10-point Gauss–Legendre panels.
pub fn integrate(from: f64, to: f64, panels: u32, f: impl Fn(f64) -> f64) -> f64 {
    let half = 0.5 * (to - from) / f64::from(panels);
    (0..panels)
        .map(|panel| {
            let middle = from + half * (2.0 * f64::from(panel) + 1.0);
            half * GAUSS_10.iter().map(|&(x, w)| w * (f(middle - half * x) + f(middle + half * x))).sum::<f64>()
        })
        .sum()
}

/// Natural logarithm of a number in [1, 2], for tables worked out by the compiler.
const fn ln_one_to_two(m: f64) -> f64 {
    // ln m = 2 artanh((m−1)/(m+1)); the argument is at most 1/3, so that 18 terms give all figures.
    let s = (m - 1.0) / (m + 1.0);
    let (mut power, mut sum, mut k) = (s, 0.0, 1);
    while k < 38 {
        sum += power / k as f64;
        power *= s * s;
        k += 2;
    }
    2.0 * sum
}

/// For each of 128 slices of [1, 2): the inverse of its middle and the middle in dB.
const SLICES: [[f64; 2]; 128] = {
    let mut table = [[0.0; 2]; 128];
    let mut i = 0;
    while i < 128 {
        // The first slice is taken from its end, so that a ratio of exactly 1 gives exactly 0 dB.
        let middle = if i == 0 { 1.0 } else { 1.0 + (i as f64 + 0.5) / 128.0 };
        table[i] = [1.0 / middle, DB_PER_NEPER * ln_one_to_two(middle)];
        i += 1;
    }
    table
};

/// 10/ln 10: decibels of power per unit of its natural logarithm.
pub const DB_PER_NEPER: f64 = 4.342_944_819_032_518;

/// `10 log₁₀(ratio)` in a few nanoseconds, within 1e-10 dB, 0 for a ratio of 1; for finite, normal, positive arguments.
///
/// Only multiplications and additions of tabled numbers: the same bits on every machine.
#[inline]
pub fn quick_db(ratio: f64) -> f64 {
    let bits = ratio.to_bits();
    let exponent = f64::from((bits >> 52) as i32 - 1023);
    let mantissa = f64::from_bits(bits & 0x000F_FFFF_FFFF_FFFF | 0x3FF0_0000_0000_0000);
    let [inverse, middle_db] = SLICES[(bits >> 45) as usize & 127];
    // ln(1+r) for |r| ≤ 1/256 (1/128 in the first slice).
    let r = mantissa * inverse - 1.0;
    let rest = r + r * r * ((-0.5 + r * (1.0 / 3.0)) - r * r * 0.25);
    // 10 log10(2).
    (exponent * 3.010_299_956_639_812 + middle_db) + rest * DB_PER_NEPER
}

/// 2^(i/64).
const STEPS_OF_TWO: [f64; 64] = {
    let mut table = [0.0; 64];
    let mut i = 0;
    while i < 64 {
        // The exponential series at x = i/64·ln 2 < 0.7.
        let x = i as f64 / 64.0 * std::f64::consts::LN_2;
        let (mut term, mut sum, mut k) = (1.0, 1.0, 1);
        while k < 24 {
            term *= x / k as f64;
            sum += term;
            k += 1;
        }
        table[i] = sum;
        i += 1;
    }
    table
};

/// `10^(db/10)` in a few nanoseconds, within 1e-12 of itself, exactly 1 at 0 dB; for |db| < 3000.
///
/// Only multiplications and additions of tabled numbers: the same bits on every machine.
#[inline]
pub fn quick_ratio(db: f64) -> f64 {
    // 64·log2(10)/10.
    let (near, whole) = nearest(db * 21.260_339_807_279_12);
    // What is left of the exponent to base e: |r| < 0.0055. 10·log10(2)/64.
    let r = (db - near * 0.047_035_936_822_497_06) * 0.230_258_509_299_404_57;
    let rest = 1.0 + r * (1.0 + r * (0.5 + r * (1.0 / 6.0 + r * (1.0 / 24.0))));
    let power = f64::from_bits((((whole >> 6) + 1023) as u64) << 52);
    STEPS_OF_TWO[(whole & 63) as usize] * power * rest
}

/// 1.5·2⁵²: adding it to a number below 2³¹ in size rounds that to a whole number, held in the low bits.
const ROUNDER: f64 = 6_755_399_441_055_744.0;

/// Nearest whole number, as a float and as an integer; for sizes below 2³¹. Unlike `f64::round` it needs no call on
/// processors without a rounding instruction.
#[inline]
pub fn nearest(x: f64) -> (f64, i32) {
    let sum = x + ROUNDER;
    (sum - ROUNDER, sum.to_bits() as i32)
}

/// Nearest whole number of a size from 0 to 2⁵¹.
#[inline]
pub fn nearest_whole(x: f64) -> u64 {
    (x + ROUNDER).to_bits() & ((1 << 51) - 1)
}

/// Whole number below, as an integer, and what is left, in [0, 1); for sizes below 2³¹.
#[inline]
pub fn whole_and_rest(x: f64) -> (i32, f64) {
    let (near, whole) = nearest(x);
    let rest = x - near;
    if rest < 0.0 { (whole.wrapping_sub(1), rest + 1.0) } else { (whole, rest) }
}

/// (cos, sin) of 2π·`turns`, within 1e-8, for |turns| < 5e8.
#[inline]
pub fn cos_sin_turns(turns: f64) -> (f64, f64) {
    // Reduce to an eighth of a turn around a multiple of a quarter, then Taylor.
    let (quarters, quarter) = nearest(turns * 4.0);
    let x = (turns - quarters * 0.25) * std::f64::consts::TAU;
    let z = x * x;
    let sin = x * (1.0 + z * (-1.0 / 6.0 + z * (1.0 / 120.0 + z * (-1.0 / 5040.0 + z * (1.0 / 362_880.0)))));
    let cos = 1.0 + z * (-0.5 + z * (1.0 / 24.0 + z * (-1.0 / 720.0 + z * (1.0 / 40_320.0 - z / 3_628_800.0))));
    match quarter & 3 {
        0 => (cos, sin),
        1 => (-sin, cos),
        2 => (-cos, -sin),
        _ => (sin, -cos),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz and Stegun, table 9.8 (e^{-x} I₀(x)).
    #[test]
    fn scaled_bessel_values() {
        for (x, want) in [
            (0.0, 1.0),
            (1.0, 0.465_759_607_6),
            (5.0, 0.183_540_812_6),
            (10.0, 0.127_833_337_2),
            (20.0, 0.089_780_311_9),
        ] {
            assert!((bessel_i0_scaled(x) - want).abs() < 2e-10, "{x}: {}", bessel_i0_scaled(x));
        }
        assert!((bessel_i0_scaled(17.999_999) / bessel_i0_scaled(18.000_001) - 1.0).abs() < 1e-7);
        assert!((bessel_i0_scaled(2000.0) * (std::f64::consts::TAU * 2000.0).sqrt() - 1.0).abs() < 1e-4);
    }

    #[test]
    fn the_rule_integrates_degree_nineteen() {
        let got = integrate(0.0, 1.0, 1, |x| 20.0 * x.powi(19));
        assert!((got - 1.0).abs() < 1e-13, "{got}");
    }

    /// The density of a Rician power, integrated, against the Poisson form, over the whole range of K.
    #[test]
    fn rician_tails_match_the_integral_of_the_density() {
        for k in [0.0, 0.1, 1.0, 4.0, 10.0, 100.0, 1000.0] {
            for level in [1e-3, 0.1, 0.5, 0.9, 1.0, 1.1, 2.0, 4.0] {
                let density = |x: f64| {
                    let shift = ((1.0 + k) * x).sqrt() - f64::sqrt(k);
                    (1.0 + k) * libm::exp(-shift * shift) * bessel_i0_scaled(2.0 * (k * (1.0 + k) * x).sqrt())
                };
                let by_integral = integrate(0.0, level, 400, density);
                let Tails { below, above } = rician_tails(k, level);
                assert!((below - by_integral).abs() < 1e-9 + 1e-7 * by_integral, "{k} {level}: {below} {by_integral}");
                assert!((below + above - 1.0).abs() < 1e-12);
            }
        }
    }

    /// Small tails keep their relative accuracy, on both sides.
    #[test]
    fn rician_tails_are_accurate_when_tiny() {
        for (k, level) in [(1000.0, 0.6), (1000.0, 0.3), (100.0, 0.05), (10.0, 1e-4), (1.0, 1e-6), (0.1, 1e-9)] {
            let density = |x: f64| {
                let shift = ((1.0 + k) * x).sqrt() - f64::sqrt(k);
                (1.0 + k) * libm::exp(-shift * shift) * bessel_i0_scaled(2.0 * (k * (1.0 + k) * x).sqrt())
            };
            let want = integrate(0.0, level, 2000, density);
            let got = rician_tails(k, level).below;
            assert!((got / want - 1.0).abs() < 1e-8, "{k} {level}: {got:e} {want:e}");
            let far = 1.0 / level.max(0.3);
            let want = integrate(far, far + 60.0 / (1.0 + k) + 0.5, 4000, density);
            let got = rician_tails(k, far).above;
            assert!(want == 0.0 || (got / want - 1.0).abs() < 1e-6, "{k} {far}: {got:e} {want:e}");
        }
    }

    #[test]
    fn quick_decibels_and_turns() {
        assert_eq!((quick_db(1.0), quick_ratio(0.0)), (0.0, 1.0));
        for i in -2000..2000 {
            let x = libm::exp(f64::from(i) * 0.173);
            assert!((quick_db(x) - 10.0 * libm::log10(x)).abs() < 1e-10, "{x}");
            assert!(
                (quick_db(1.0 + x.min(1.0) * 0.0078) - 10.0 * libm::log10(1.0 + x.min(1.0) * 0.0078)).abs() < 1e-10
            );
            let db = f64::from(i) * 0.149;
            assert!((quick_ratio(db) / libm::exp(db * 0.230_258_509_299_404_57) - 1.0).abs() < 1e-12, "{db}");
            let (whole, rest) = whole_and_rest(f64::from(i) * 0.37);
            assert_eq!(f64::from(whole), (f64::from(i) * 0.37).floor());
            assert!((0.0..1.0).contains(&rest) && (f64::from(whole) + rest - f64::from(i) * 0.37).abs() < 1e-9);
            let turns = f64::from(i) * 0.0137;
            let (c, s) = cos_sin_turns(turns);
            let angle = turns * std::f64::consts::TAU;
            assert!((c - libm::cos(angle)).abs() < 1e-8 && (s - libm::sin(angle)).abs() < 1e-8, "{turns}");
        }
    }
}
