//! The one-sigma error of a range, and what it becomes in metres on the ground.

use crate::chance::standard_normal_quantile;
use libm::{cos, erf, exp, sin, sqrt};
use std::f64::consts::{FRAC_1_SQRT_2, PI, TAU};

/// Root sum of squares.
pub fn root_sum_square(components_m: &[f64]) -> f64 {
    components_m.iter().map(|x| x * x).sum::<f64>().sqrt()
}

/// Factor by which a thin ionospheric shell lengthens the slanted path over the vertical one.
///
/// # Source
/// RTCA DO-229, appendix A (from memory): [1 − (R cos E/(R + h))²]^(−1/2).
pub fn ionosphere_obliquity(elevation_rad: f64, shell_height_m: f64, earth_radius_m: f64) -> f64 {
    let x = earth_radius_m * cos(elevation_rad) / (earth_radius_m + shell_height_m);
    1.0 / (1.0 - x * x).sqrt()
}

/// Residual of the troposphere after a model: 0.12 m at the zenith, 1 sigma.
///
/// # Source
/// RTCA DO-229, appendix A.4.2.4 (from memory): 0.12 m · 1.001/√(0.002001 + sin² E).
pub fn troposphere_sigma_m(elevation_rad: f64) -> f64 {
    let s = sin(elevation_rad);
    0.12 * 1.001 / (0.002_001 + s * s).sqrt()
}

/// Multipath of an airframe, 1 sigma.
///
/// # Source
/// RTCA DO-229, appendix J (from memory): 0.13 m + 0.53 m · exp(−E/10°).
pub fn airframe_multipath_sigma_m(elevation_rad: f64) -> f64 {
    multipath_sigma_m(elevation_rad, 0.13, 0.53, 10f64.to_radians())
}

/// Multipath as a floor and a part that decays with elevation, 1 sigma.
pub fn multipath_sigma_m(elevation_rad: f64, floor_m: f64, low_m: f64, decay_rad: f64) -> f64 {
    floor_m + low_m * exp(-elevation_rad / decay_rad)
}

/// Zenith delay of the dry air in a standard atmosphere.
///
/// # Source
/// Saastamoinen, "Atmospheric correction for the troposphere and stratosphere in radio ranging of satellites", 1972, with
/// the standard pressure 1013.25 hPa · (1 − 2.2557e-5 h)^5.2568.
pub fn zenith_hydrostatic_delay_m(lat_rad: f64, height_m: f64) -> f64 {
    let pressure_hpa = 1013.25 * libm::pow(1.0 - 2.2557e-5 * height_m.max(0.0), 5.2568);
    0.002_276_8 * pressure_hpa / (1.0 - 0.002_66 * cos(2.0 * lat_rad) - 0.000_28 * height_m / 1000.0)
}

/// Broadcast ionospheric delay at the GPS L1 frequency.
///
/// `alpha` and `beta` as broadcast, in seconds and powers of semicircles; time of week on the GPS scale.
///
/// # Source
/// IS-GPS-200, section 20.3.3.5.2.5 and figure 20-4.
pub fn klobuchar_delay_m(
    alpha: [f64; 4],
    beta: [f64; 4],
    lat_rad: f64,
    lon_rad: f64,
    azimuth_rad: f64,
    elevation_rad: f64,
    time_of_week_s: f64,
) -> f64 {
    // Everything in semicircles, as the document has it.
    let e = elevation_rad / PI;
    let psi = 0.0137 / (e + 0.11) - 0.022;
    let phi_i = (lat_rad / PI + psi * cos(azimuth_rad)).clamp(-0.416, 0.416);
    let lambda_i = lon_rad / PI + psi * sin(azimuth_rad) / cos(phi_i * PI);
    let phi_m = phi_i + 0.064 * cos((lambda_i - 1.617) * PI);
    let t = (43_200.0 * lambda_i + time_of_week_s).rem_euclid(86_400.0);
    let slant = 1.0 + 16.0 * (0.53 - e) * (0.53 - e) * (0.53 - e);
    let series = |c: [f64; 4]| c[0] + phi_m * (c[1] + phi_m * (c[2] + phi_m * c[3]));
    let amplitude = series(alpha).max(0.0);
    let period = series(beta).max(72_000.0);
    let x = TAU * (t - 50_400.0) / period;
    let day = if x.abs() < 1.57 { amplitude * (1.0 - x * x / 2.0 + x * x * x * x / 24.0) } else { 0.0 };
    crate::units::SPEED_OF_LIGHT_MPS * slant * (5e-9 + day)
}

/// Range errors that differ from satellite to satellite, and the ionosphere, which is common to all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RangeBudget {
    /// Signal in space: orbit and clock.
    pub signal_in_space_m: f64,
    /// Vertical residual of the ionosphere after the broadcast model.
    pub ionosphere_m: f64,
    /// Multipath that stays at high elevation.
    pub multipath_floor_m: f64,
    /// Multipath added at the horizon.
    pub multipath_low_m: f64,
    /// Elevation at which that has decayed to 1/e.
    pub multipath_decay_rad: f64,
}

/// Height of the ionospheric shell and radius of the Earth for the obliquity.
///
/// # Source
/// RTCA DO-229, appendix A (from memory).
pub const IONOSPHERE_SHELL_M: f64 = 350_000.0;
/// See [`IONOSPHERE_SHELL_M`].
pub const IONOSPHERE_EARTH_M: f64 = 6_378_136.3;

impl RangeBudget {
    /// Receiver in an open field.
    ///
    /// # Source
    /// Estimate: 0.8 m in space, multipath 0.3 m + 1.5 m · exp(−E/20°), the form of DO-229's airframe multipath with
    /// values for a small antenna near the ground.
    pub const fn open_field(ionosphere_m: f64) -> Self {
        RangeBudget {
            signal_in_space_m: 0.8,
            ionosphere_m,
            multipath_floor_m: 0.3,
            multipath_low_m: 1.5,
            multipath_decay_rad: 20.0 * PI / 180.0,
        }
    }

    /// Receiver at the edge of a wood. Estimate: between the other two.
    pub const fn wooded(ionosphere_m: f64) -> Self {
        RangeBudget { multipath_floor_m: 0.75, multipath_low_m: 2.5, ..RangeBudget::open_field(ionosphere_m) }
    }

    /// Receiver beside structures.
    ///
    /// # Source
    /// Chosen so that positions err about twice as much as in the open: open records of standing receivers drift by 1.6, 1.8 and
    /// 3.0 m in 1, 2 and 4 minutes in the open, by 2.6, 3.5 and 5.8 m beside buildings (medians of the sessions' root mean squares).
    pub const fn walled(ionosphere_m: f64) -> Self {
        RangeBudget { multipath_floor_m: 1.3, multipath_low_m: 4.0, ..RangeBudget::open_field(ionosphere_m) }
    }

    /// One sigma of what is independent from satellite to satellite; `code_noise_m` from [`code_noise`](super::code_noise).
    pub fn independent_sigma_m(&self, elevation_rad: f64, code_noise_m: f64) -> f64 {
        let multipath =
            multipath_sigma_m(elevation_rad, self.multipath_floor_m, self.multipath_low_m, self.multipath_decay_rad);
        root_sum_square(&[self.signal_in_space_m, troposphere_sigma_m(elevation_rad), multipath, code_noise_m])
    }

    /// One sigma with the ionosphere in it.
    pub fn sigma_m(&self, elevation_rad: f64, code_noise_m: f64) -> f64 {
        let ionosphere =
            self.ionosphere_m * ionosphere_obliquity(elevation_rad, IONOSPHERE_SHELL_M, IONOSPHERE_EARTH_M);
        root_sum_square(&[self.independent_sigma_m(elevation_rad, code_noise_m), ionosphere])
    }
}

/// Horizontal error not exceeded with a probability, for a circular Gaussian whose root mean square is HDOP × range error.
pub fn radial_error_quantile_m(hdop: f64, range_error_m: f64, probability: f64) -> f64 {
    hdop * range_error_m * radius_over_drms(probability)
}

/// Radius holding a probability over the root mean square, circular case: √(−ln(1 − p)).
pub fn radius_over_drms(probability: f64) -> f64 {
    (-libm::log1p(-probability)).sqrt()
}

/// Vertical error, either way, not exceeded with a probability.
pub fn vertical_error_quantile_m(vdop: f64, range_error_m: f64, probability: f64) -> f64 {
    vdop * range_error_m * standard_normal_quantile(0.5 * (1.0 + probability))
}

/// Probability that a two-axis Gaussian lies within a circle about its mean.
pub fn probability_within_circle(sigma_a_m: f64, sigma_b_m: f64, radius_m: f64) -> f64 {
    let (small, large) = (sigma_a_m.min(sigma_b_m), sigma_a_m.max(sigma_b_m));
    if radius_m <= 0.0 {
        return 0.0;
    }
    if small <= 1e-9 * large {
        return if large <= 0.0 { 1.0 } else { erf(radius_m / large * FRAC_1_SQRT_2) };
    }
    // Over the large axis, x = R sin t: the Gaussian times the chance of the small axis being within the chord. Simpson's rule;
    // the integrand is smooth and the far tail beyond 9 sigma is left out.
    let end = libm::asin((9.0 * large / radius_m).min(1.0));
    let steps = 4_000;
    let h = end / f64::from(steps);
    let value = |k: i32| {
        let t = f64::from(k) * h;
        let (x, chord) = (radius_m * sin(t), radius_m * cos(t));
        exp(-0.5 * x * x / (large * large)) * erf(chord / small * FRAC_1_SQRT_2) * chord
    };
    let mut sum = value(0) + value(steps);
    for k in 1..steps {
        sum += value(k) * if k % 2 == 1 { 4.0 } else { 2.0 };
    }
    (2.0 * sum * h / 3.0 / (large * sqrt(TAU))).clamp(0.0, 1.0)
}

/// Radius of the circle about the mean that holds a probability, axes unequal.
pub fn error_ellipse_radius_m(sigma_a_m: f64, sigma_b_m: f64, probability: f64) -> f64 {
    let large = sigma_a_m.max(sigma_b_m);
    bisect(0.0, 12.0 * large, |r| probability_within_circle(sigma_a_m, sigma_b_m, r) < probability)
}

/// Probability within twice the root mean square, for a ratio of the smaller to the larger axis.
pub fn probability_within_2drms(sigma_ratio: f64) -> f64 {
    probability_within_circle(1.0, sigma_ratio, 2.0 * (1.0 + sigma_ratio * sigma_ratio).sqrt())
}

/// Error in space not exceeded with a probability, three equal axes (Maxwell distribution).
pub fn spherical_error_quantile_m(sigma_m: f64, probability: f64) -> f64 {
    let below = |r: f64| erf(r * FRAC_1_SQRT_2) - (2.0 / PI).sqrt() * r * exp(-0.5 * r * r) < probability;
    sigma_m * bisect(0.0, 40.0, below)
}

fn bisect(mut low: f64, mut high: f64, below: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if below(middle) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The budget of the open field at 10°, 20°, 45° and 80° with a quiet ionosphere, to a tenth: worked by hand.
    #[test]
    fn range_budget_by_elevation() {
        let budget = RangeBudget::open_field(1.0);
        for (e_deg, expected) in [(10.0f64, 3.0), (20.0, 2.5), (45.0, 1.6), (80.0, 1.3)] {
            let sigma = budget.sigma_m(e_deg.to_radians(), 0.2);
            assert!((sigma - expected).abs() < 0.35, "{e_deg}: {sigma}");
        }
    }

    /// Circle and line have closed forms.
    #[test]
    fn circle_probability_limits() {
        assert!((probability_within_circle(1.0, 1.0, 1.5) - (1.0 - exp(-1.125))).abs() < 1e-9);
        assert!((probability_within_circle(1.0, 0.0, 1.5) - erf(1.5 * FRAC_1_SQRT_2)).abs() < 1e-12);
        assert!((probability_within_circle(1.0, 0.01, 1.5) - erf(1.5 * FRAC_1_SQRT_2)).abs() < 1e-3);
    }
}
