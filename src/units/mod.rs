//! Constants and conversions of units.

mod null;

pub use null::nullable;

/// Speed of light in vacuum, m/s (exact by definition, SI).
pub const SPEED_OF_LIGHT_MPS: f64 = 299_792_458.0;

/// Standard acceleration of gravity, m/s² (exact by definition, 3rd CGPM 1901).
pub const STANDARD_GRAVITY_MPS2: f64 = 9.806_65;

/// `ln(10)/10`: multiplies a level in dB to give the natural logarithm of the power ratio.
const LN_PER_DB: f64 = 0.230_258_509_299_404_56;

/// Power ratio of a level difference in dB.
#[inline]
pub fn ratio_from_db(level_db: f64) -> f64 {
    libm::exp(level_db * LN_PER_DB)
}

/// Level difference in dB of a power ratio; `-inf` for zero.
#[inline]
pub fn db_from_ratio(ratio: f64) -> f64 {
    10.0 * libm::log10(ratio)
}

/// Feet (international) in one metre.
pub const FEET_PER_METRE: f64 = 1.0 / 0.3048;

/// Moments closer together than this are one, s: times are multiples of a step, and sums of them differ in their last bits.
pub const SAME_MOMENT_S: f64 = 1e-6;

/// Wraps an angle in radians to (−π, π].
pub fn wrap_pi(angle_rad: f64) -> f64 {
    // Most angles are within already.
    if angle_rad > -std::f64::consts::PI && angle_rad <= std::f64::consts::PI {
        return angle_rad;
    }
    let turned = angle_rad.rem_euclid(std::f64::consts::TAU);
    if turned > std::f64::consts::PI { turned - std::f64::consts::TAU } else { turned }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_and_ratios_agree() {
        assert!((ratio_from_db(3.0) - 1.995_262_314_968_88).abs() < 1e-13);
        assert!((db_from_ratio(ratio_from_db(-37.25)) + 37.25).abs() < 1e-12);
    }

    #[test]
    fn wrapping_keeps_the_direction() {
        assert!((wrap_pi(3.0 * std::f64::consts::PI) - std::f64::consts::PI).abs() < 1e-12);
        assert!((wrap_pi(-0.1) + 0.1).abs() < 1e-12);
    }
}
