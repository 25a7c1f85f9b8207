//! Dryden turbulence at low altitude, discretised exactly.

use crate::geometry::cell_at;
use crate::units::FEET_PER_METRE;

/// Height of the wind that scales the intensity: 20 ft, in m.
pub const WIND_HEIGHT_M: f64 = 20.0 / FEET_PER_METRE;

/// Heights below 10 ft use the values of 10 ft, heights above 1 000 ft those of 1 000 ft.
const HEIGHT_RANGE_M: (f64, f64) = (10.0 / FEET_PER_METRE, 1_000.0 / FEET_PER_METRE);

/// Least airspeed with which the frozen field is swept, m/s: a craft drifting with the wind still sees the
/// eddies change (estimate).
pub const LEAST_AIRSPEED_MPS: f64 = 1.0;

/// Standard deviation in m/s of the vertical component, the same at all low heights.
///
/// # Source
/// MIL-F-8785C §3.7.3.4, low-altitude model (paragraph number from memory).
pub fn sigma_w_mps(wind_20ft_mps: f64) -> f64 {
    0.1 * wind_20ft_mps
}

/// Process-noise covariance (q11, q12, q22) of the two-state filter with unit variance over one step;
/// `d` = V Δt/L ≥ 0.
///
/// # Source
/// Integral of the matrix exponential (Van Loan's method gives the same): q11 = (1−a²)/2,
/// q12 = (1−a²(1+2d))/4, q22 = (1−a²(1+2d+2d²))/4, a = e^−d. Below d = 0.05 the differences cancel, so the
/// power series of the same integrals ∫e^−2s ds, ∫s e^−2s ds, ∫s² e^−2s ds is summed instead.
pub fn two_state_noise(d: f64) -> [f64; 3] {
    if d < 0.05 {
        // Coefficients (−2)^k/k! over k+1, k+2, k+3: truncation below 1e-17 relative at d = 0.05.
        let series = |first: f64| {
            let (mut term, mut sum) = (1.0, 0.0);
            for k in 0..10 {
                let k = f64::from(k);
                sum += term / (k + first);
                term *= -2.0 * d / (k + 1.0);
            }
            sum
        };
        return [d * series(1.0), d * d * series(2.0), d * d * d * series(3.0)];
    }
    let a2 = libm::exp(-2.0 * d);
    let e = -libm::expm1(-2.0 * d);
    [0.5 * e, 0.25 * (e - 2.0 * d * a2), 0.25 * (e - 2.0 * d * (1.0 + d) * a2)]
}

/// Intensity and length scale of the horizontal components at one height, for the step of [`Dryden`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowAltitude {
    /// Standard deviation along and across over the vertical one.
    pub sigma_ratio: f64,
    /// Length scale along and across, m.
    pub length_u_m: f64,
    /// Length scale upwards, m.
    pub length_w_m: f64,
}

impl LowAltitude {
    /// Values by linear interpolation between whole metres of height: within 1e-4 relative of the formulas.
    #[inline]
    pub fn fast(height_agl_m: f64) -> LowAltitude {
        let height_m = height_agl_m.clamp(HEIGHT_RANGE_M.0, HEIGHT_RANGE_M.1);
        let index = cell_at(height_m, TABLE.len() - 2);
        let share = height_m - index as f64;
        let (low, high) = (TABLE[index], TABLE[index + 1]);
        LowAltitude {
            sigma_ratio: low[0] + share * (high[0] - low[0]),
            length_u_m: height_m * (low[1] + share * (high[1] - low[1])),
            length_w_m: height_m,
        }
    }
}

/// Sigma ratio, and horizontal over vertical length scale, at whole metres, the formulas continued below 10 ft and above 1 000 ft so that
/// interpolation is smooth at both ends.
static TABLE: std::sync::LazyLock<[[f64; 2]; 306]> = std::sync::LazyLock::new(|| {
    std::array::from_fn(|index| {
        let height_m = index as f64;
        let term = 0.177 + 0.000_823 * FEET_PER_METRE * height_m;
        [libm::pow(term, -0.4), libm::pow(term, -1.2)]
    })
});

/// State of the turbulence around one craft: five numbers of unit variance, so that intensity, length and
/// airspeed may change from step to step without a restart.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Dryden {
    along: f64,
    across: [f64; 2],
    up: [f64; 2],
}

impl Dryden {
    /// A state drawn from the stationary law, out of five standard normals.
    pub fn stationary(normals: [f64; 5]) -> Dryden {
        // Covariance (1/2, 1/4, 1/4): Cholesky factor √½, √⅛, √⅛.
        let pair = |n1: f64, n2: f64| {
            [std::f64::consts::FRAC_1_SQRT_2 * n1, 0.5 * std::f64::consts::FRAC_1_SQRT_2 * (n1 + n2)]
        };
        Dryden { along: normals[0], across: pair(normals[1], normals[2]), up: pair(normals[3], normals[4]) }
    }

    /// One step in the air of a height: `airspeed_mps` is that of the craft through the mean wind (at least
    /// [`LEAST_AIRSPEED_MPS`] is used), `sigma_w_mps` the vertical intensity. Returns the gust along, across
    /// and up in m/s. The variance is right for every step size.
    ///
    /// # Source
    /// MIL-F-8785C Dryden spectra, exact discretisation (see [`two_state_noise`]).
    #[inline]
    pub fn step(
        &mut self,
        air: LowAltitude,
        sigma_w_mps: f64,
        airspeed_mps: f64,
        step_s: f64,
        normals: [f64; 5],
    ) -> [f64; 3] {
        let way_m = airspeed_mps.max(LEAST_AIRSPEED_MPS) * step_s;
        let [n0, n1, n2, n3, n4] = normals;
        let [horizontal, vertical] = Filter::over([way_m / air.length_u_m, way_m / air.length_w_m]);
        self.along = horizontal.a * self.along + horizontal.g * n0;
        let across = horizontal.advance(&mut self.across, n1, n2);
        let up = vertical.advance(&mut self.up, n3, n4);
        let sigma_u_mps = sigma_w_mps * air.sigma_ratio;
        [sigma_u_mps * self.along, sigma_u_mps * across, sigma_w_mps * up]
    }
}

/// Output of the two-state filter: √3 x₁ + (1−√3) x₂, of unit variance.
#[inline]
fn output(x: [f64; 2]) -> f64 {
    const SQRT_3: f64 = 1.732_050_807_568_877_2;
    SQRT_3 * x[0] + (1.0 - SQRT_3) * x[1]
}

/// Coefficients over one step: decay, gains of the noise (Cholesky factor of its covariance).
struct Filter {
    d: f64,
    a: f64,
    /// √(1−a²), gain of the one-state filter.
    g: f64,
    /// Cholesky factor of the two-state noise.
    l11: f64,
    l21: f64,
    l22: f64,
}

impl Filter {
    /// Of two ways through eddies of different lengths, worked out beside each other; where either is long, both take the closed form.
    #[inline]
    fn over(d: [f64; 2]) -> [Filter; 2] {
        if d[0].max(d[1]) >= SERIES_UP_TO {
            return d.map(Filter::over_long);
        }
        // Power series of a, and of the Cholesky factor over √d, √d³, √d³.
        let root = [d[0].sqrt(), d[1].sqrt()];
        let root3 = times(d, root);
        let l11 = times(root, series(d, L11));
        let [a, l21, l22] = [series(d, DECAY), times(root3, series(d, L21)), times(root3, series(d, L22))];
        [0, 1].map(|i| Filter {
            d: d[i],
            a: a[i],
            g: std::f64::consts::SQRT_2 * l11[i],
            l11: l11[i],
            l21: l21[i],
            l22: l22[i],
        })
    }

    /// The closed form for one way: close to the ground, or with long steps.
    #[inline(never)]
    fn over_long(d: f64) -> Filter {
        let q = two_state_noise(d);
        let l11 = q[0].sqrt();
        let l21 = q[1] / l11;
        // q22 − q12²/q11 > 0 for every d > 0; the clamp only guards rounding.
        let l22 = (q[2] - l21 * l21).max(0.0).sqrt();
        Filter { d, a: libm::exp(-d), g: std::f64::consts::SQRT_2 * l11, l11, l21, l22 }
    }

    #[inline]
    fn advance(&self, x: &mut [f64; 2], n1: f64, n2: f64) -> f64 {
        let w1 = self.l11 * n1;
        let w2 = self.l21 * n1 + self.l22 * n2;
        *x = [self.a * x[0] + w1, self.a * (self.d * x[0] + x[1]) + w2];
        output(*x)
    }
}

/// Where both ways are below this, the step uses power series, within 3e-11 relative, instead of the exponential function and divisions.
const SERIES_UP_TO: f64 = 0.1;

/// e^−d.
const DECAY: [f64; 7] = [1.0, -1.0, 1.0 / 2.0, -1.0 / 6.0, 1.0 / 24.0, -1.0 / 120.0, 1.0 / 720.0];

/// √(q11/d).
const L11: [f64; 7] = [
    1.0,
    -0.5,
    0.208_333_333_333_333_34,
    -0.062_5,
    0.013_715_277_777_777_778,
    -0.002_343_75,
    0.000_366_856_812_169_312_17,
];

/// q12/√(q11 d³).
const L21: [f64; 7] = [
    0.5,
    -0.416_666_666_666_666_7,
    0.187_5,
    -0.054_861_111_111_111_11,
    0.011_718_75,
    -0.002_201_140_873_015_873,
    0.000_408_709_490_740_740_74,
];

/// √((q22 − q12²/q11)/d³); the first is √(1/12).
const L22: [f64; 7] = [
    0.288_675_134_594_812_88,
    -0.144_337_567_297_406_44,
    0.031_273_139_581_104_73,
    -0.003_608_439_182_435_161,
    0.001_083_963_675_041_038_5,
    -0.000_441_747_415_786_209_2,
    0.000_036_263_381_863_162_88,
];

/// Values of a power series, in pairs: the terms do not wait for each other.
#[inline]
fn series(d: [f64; 2], c: [f64; 7]) -> [f64; 2] {
    let mut values = [0.0; 2];
    for (value, d) in values.iter_mut().zip(d) {
        let d2 = d * d;
        *value = (c[0] + c[1] * d) + d2 * ((c[2] + c[3] * d) + d2 * ((c[4] + c[5] * d) + d2 * c[6]));
    }
    values
}

#[inline]
fn times(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] * b[0], a[1] * b[1]]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The closed forms and the power series meet, and the series of the step agree with both.
    #[test]
    fn noise_covariance_has_no_seam() {
        for d in [1e-6, 1e-4, 3e-3, 0.02, 0.049, 0.051, 0.08, 0.099_999_999] {
            let q = two_state_noise(d);
            assert!((q[0] + 0.5 * libm::expm1(-2.0 * d)).abs() < 1e-15);
            // Beside a shorter way, and beside one that is long enough for the closed form of both.
            for pair in [[d, 0.4 * d], [0.4 * d, d], [d, 0.2], [0.2, d]] {
                for (filter, d) in Filter::over(pair).into_iter().zip(pair) {
                    let parts = |f: &Filter| [f.d, f.a, f.g, f.l11, f.l21, f.l22];
                    for (one, other) in parts(&filter).into_iter().zip(parts(&Filter::over_long(d))) {
                        assert!((one / other - 1.0).abs() < 1e-9, "{pair:?}, d = {d}: {one:e} {other:e}");
                    }
                }
            }
        }
        let (below, above) = (two_state_noise(0.05 - 1e-12), two_state_noise(0.05));
        for (one, other) in below.iter().zip(above) {
            assert!((one / other - 1.0).abs() < 1e-9);
        }
    }

    /// One step from the stationary law keeps its covariance: a closed-form check of the coefficients.
    #[test]
    fn the_stationary_law_is_kept() {
        for d in [1e-4, 0.01, 0.2, 3.0] {
            let [f, _] = Filter::over([d, d]);
            // Φ P Φᵀ + L Lᵀ with P = [[1/2, 1/4], [1/4, 1/4]], Φ = a [[1, 0], [d, 1]].
            let a2 = f.a * f.a;
            let p11 = a2 * 0.5 + f.l11 * f.l11;
            let p12 = a2 * (0.5 * d + 0.25) + f.l11 * f.l21;
            let p22 = a2 * (0.5 * d * d + 0.5 * d + 0.25) + f.l21 * f.l21 + f.l22 * f.l22;
            assert!((p11 - 0.5).abs() < 1e-11 && (p12 - 0.25).abs() < 1e-11 && (p22 - 0.25).abs() < 1e-11, "d = {d}");
            assert!((a2 + f.g * f.g - 1.0).abs() < 1e-11);
        }
    }
}
