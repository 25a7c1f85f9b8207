//! The normal distribution's quantile and distribution function.
//!
//! Own ones on `libm`, and not those of `statrs`: every draw goes through the quantile, and it has to have the same bits on
//! every machine and in every version. The tests hold both against `statrs`.

/// Quantile of the standard normal distribution at probability `p` in (0, 1).
///
/// Relative error about 1e-16. Returns ∓∞ at 0 and 1 and NaN outside [0, 1].
///
/// # Source
/// Wichura, "Algorithm AS 241: the percentage points of the normal distribution",
/// Applied Statistics 37(3), 1988, routine PPND16 (coefficients from memory, checked against
/// reference values in the tests).
#[inline]
pub fn standard_normal_quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * rational(
            r,
            [
                2.509_080_928_730_122_7e3,
                3.343_057_558_358_813e4,
                6.726_577_092_700_87e4,
                4.592_195_393_154_987e4,
                1.373_169_376_550_946_2e4,
                1.971_590_950_306_551_3e3,
                1.331_416_678_917_843_8e2,
                3.387_132_872_796_366_6,
            ],
            [
                5.226_495_278_852_854e3,
                2.872_908_573_572_194_3e4,
                3.930_789_580_009_271e4,
                2.121_379_430_158_659_7e4,
                5.394_196_021_424_751e3,
                6.871_870_074_920_579e2,
                4.231_333_070_160_091e1,
                1.0,
            ],
        );
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail <= 0.0 {
        return if tail == 0.0 { f64::INFINITY.copysign(q) } else { f64::NAN };
    }
    let r = (-libm::log(tail)).sqrt();
    let magnitude = if r <= 5.0 {
        rational(
            r - 1.6,
            [
                7.745_450_142_783_414e-4,
                2.272_384_498_926_918_4e-2,
                2.417_807_251_774_506e-1,
                1.270_458_252_452_368_4,
                3.647_848_324_763_204_5,
                5.769_497_221_460_691,
                4.630_337_846_156_546,
                1.423_437_110_749_683_5,
            ],
            [
                1.050_750_071_644_416_9e-9,
                5.475_938_084_995_345e-4,
                1.519_866_656_361_645_7e-2,
                1.481_039_764_274_800_8e-1,
                6.897_673_349_851e-1,
                1.676_384_830_183_803_8,
                2.053_191_626_637_759,
                1.0,
            ],
        )
    } else {
        rational(
            r - 5.0,
            [
                2.010_334_399_292_288_1e-7,
                2.711_555_568_743_487_6e-5,
                1.242_660_947_388_078_4e-3,
                2.653_218_952_657_612_4e-2,
                2.965_605_718_285_048_7e-1,
                1.784_826_539_917_291_3,
                5.463_784_911_164_114,
                6.657_904_643_501_103,
            ],
            [
                2.044_263_103_389_939_8e-15,
                1.421_511_758_316_446e-7,
                1.846_318_317_510_054_8e-5,
                7.868_691_311_456_133e-4,
                1.487_536_129_085_061_5e-2,
                1.369_298_809_227_358e-1,
                5.998_322_065_558_879e-1,
                1.0,
            ],
        )
    };
    magnitude.copysign(q)
}

/// Quantiles of the standard normal distribution within 2e-7, several at once, for draws inside a step.
///
/// Each `p` must lie in (0, 1).
///
/// # Source
/// Rational function of degree 6/6 in p(1 − p), fitted for the least greatest error to
/// [`standard_normal_quantile`] on |p − ½| ≤ ½ − 1/512; beyond, that function itself.
#[inline]
pub fn standard_normal_quick<const N: usize>(p: [f64; N]) -> [f64; N] {
    const LIMIT: f64 = 0.5 - 1.0 / 512.0;
    // Without a branch in this loop the compiler works on several numbers at once.
    let mut z = [0.0; N];
    for (z, p) in z.iter_mut().zip(&p) {
        let q = p - 0.5;
        let t = 0.25 - q * q;
        let above = 7.537_341_627_689_607
            + t * (17_024.628_476_802_37
                + t * (5_784_157.799_192_105
                    + t * (449_589_401.541_580_4
                        + t * (8_565_438_292.696_89 + t * (34_238_869_889.714_397 + t * 13_862_964_531.512_506)))));
        let below = 1.0
            + t * (2_753.341_474_740_503
                + t * (1_113_574.143_277_027_9
                    + t * (105_543_068.109_001_62
                        + t * (2_611_789_374.294_809 + t * (15_649_952_430.919_262 + t * 15_487_213_905.840_126)))));
        *z = q * above / below;
    }
    for (z, &p) in z.iter_mut().zip(&p) {
        if (p - 0.5).abs() > LIMIT {
            *z = standard_normal_quantile(p);
        }
    }
    z
}

/// Ratio of two polynomials of degree 7, highest power first.
#[inline]
fn rational(x: f64, numerator: [f64; 8], denominator: [f64; 8]) -> f64 {
    let horner = |c: [f64; 8]| c[1..].iter().fold(c[0], |sum, &next| sum * x + next);
    horner(numerator) / horner(denominator)
}

/// Distribution function of the standard normal distribution.
pub fn standard_normal_cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{ContinuousCDF, Normal};

    #[test]
    fn the_quick_form_stays_close() {
        for k in 1..200_000 {
            let p = f64::from(k) / 200_000.0;
            let [quick] = standard_normal_quick([p]);
            assert!((quick - standard_normal_quantile(p)).abs() < 2e-7, "p = {p}");
        }
        let tail = 1e-9;
        assert_eq!(standard_normal_quick([tail, 0.5]), [standard_normal_quantile(tail), 0.0]);
    }

    /// Against an independent implementation. Its distribution function has ten digits in the far tail, its quantile all.
    #[test]
    fn they_agree_with_another_library() {
        let other = Normal::standard();
        for k in 1..4_000 {
            let p = f64::from(k) / 4_000.0;
            let (ours, theirs) = (standard_normal_quantile(p), other.inverse_cdf(p));
            assert!((ours - theirs).abs() <= 2e-15 * theirs.abs().max(1.0), "p = {p}: {ours} and {theirs}");
            let x = 8.0 * (2.0 * p - 1.0);
            assert!((standard_normal_cdf(x) / other.cdf(x) - 1.0).abs() < 2e-10, "x = {x}");
        }
    }

    /// Reference: Abramowitz and Stegun, Handbook of Mathematical Functions (1964), table 26.5, as far
    /// as it goes, and the inverse relation with `erfc` of the `libm` crate elsewhere.
    #[test]
    fn quantiles_invert_the_distribution_function() {
        assert!((standard_normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-14);
        assert!((standard_normal_quantile(0.995) - 2.575_829_303_548_901).abs() < 1e-14);
        for k in 1..=300 {
            let p = libm::exp(-f64::from(k) * 0.2);
            let back = standard_normal_cdf(standard_normal_quantile(p));
            assert!((back / p - 1.0).abs() < 1e-12, "p = {p:e}: {back:e}");
            // Odd about one half, as far as 1 − p can be written.
            let (low, high) = (standard_normal_quantile(0.5 - p / 4.0), standard_normal_quantile(0.5 + p / 4.0));
            assert!((low + high).abs() <= 1e-14 * (1.0 + high.abs()), "p = {p:e}: {low} and {high}");
        }
        assert_eq!(standard_normal_quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(standard_normal_quantile(1.0), f64::INFINITY);
    }
}
