//! Dryden turbulence at low altitude, discretised exactly.

use crate::reference::units::mps_from_knots;
use lostlink::air::turbulence::*;
use lostlink::units::FEET_PER_METRE;

/// Heights below 10 ft use the values of 10 ft, heights above 1 000 ft those of 1 000 ft.
const HEIGHT_RANGE_M: (f64, f64) = (10.0 / FEET_PER_METRE, 1_000.0 / FEET_PER_METRE);

/// Which component of the turbulence, in wind axes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Component {
    /// Along the mean wind.
    Along,
    /// Across it.
    Across,
    /// Upwards.
    Up,
}

/// Stated severities of turbulence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Severity {
    /// Light.
    Light,
    /// Moderate.
    Moderate,
    /// Severe.
    Severe,
}

impl Severity {
    /// Wind 20 ft above ground that stands for this severity, m/s.
    ///
    /// # Source
    /// MIL-F-8785C §3.7.3.4: 15, 30 and 45 kt (paragraph number from memory).
    pub fn wind_20ft_mps(self) -> f64 {
        mps_from_knots(match self {
            Severity::Light => 15.0,
            Severity::Moderate => 30.0,
            Severity::Severe => 45.0,
        })
    }

    /// Factor on the intensity of a mean wind 20 ft above ground that makes it this severe; `None` without wind.
    pub fn factor_on(self, wind_20ft_mps: f64) -> Option<f64> {
        (wind_20ft_mps > 0.0).then(|| self.wind_20ft_mps() / wind_20ft_mps)
    }
}

/// `0.177 + 0.000823 h` with h in feet: common term of the low-altitude model.
fn height_term(height_agl_m: f64) -> f64 {
    0.177 + 0.000_823 * FEET_PER_METRE * height_agl_m.clamp(HEIGHT_RANGE_M.0, HEIGHT_RANGE_M.1)
}

/// Standard deviation in m/s of the horizontal components at a height above ground.
///
/// `wind_20ft_mps` is the mean wind 20 ft above ground.
///
/// # Source
/// MIL-F-8785C §3.7.3.4, low-altitude model, figure 10 (paragraph number from memory).
pub fn sigma_u_mps(height_agl_m: f64, wind_20ft_mps: f64) -> f64 {
    sigma_w_mps(wind_20ft_mps) / libm::pow(height_term(height_agl_m), 0.4)
}

/// Length scale in m of the horizontal components at a height above ground.
///
/// # Source
/// MIL-F-8785C §3.7.3.4, figure 11 (paragraph number from memory).
pub fn length_u_m(height_agl_m: f64) -> f64 {
    length_w_m(height_agl_m) / libm::pow(height_term(height_agl_m), 1.2)
}

/// Length scale in m of the vertical component: the height itself, 10 ft to 1 000 ft.
///
/// # Source
/// MIL-F-8785C §3.7.3.4, figure 11 (paragraph number from memory).
pub fn length_w_m(height_agl_m: f64) -> f64 {
    height_agl_m.clamp(HEIGHT_RANGE_M.0, HEIGHT_RANGE_M.1)
}

/// The vertical length scale as MIL-HDBK-1797 defines it, m: half of [`length_w_m`], with spectra in 2L.
///
/// # Source
/// MIL-HDBK-1797 appendix A, §4.9.2 (from memory).
pub fn length_w_handbook_m(height_agl_m: f64) -> f64 {
    0.5 * length_w_m(height_agl_m)
}

/// Standard deviation in m/s of one component.
pub fn sigma_mps(component: Component, height_agl_m: f64, wind_20ft_mps: f64) -> f64 {
    match component {
        Component::Along | Component::Across => sigma_u_mps(height_agl_m, wind_20ft_mps),
        Component::Up => sigma_w_mps(wind_20ft_mps),
    }
}

/// Length scale in m of one component.
pub fn length_m(component: Component, height_agl_m: f64) -> f64 {
    match component {
        Component::Along | Component::Across => length_u_m(height_agl_m),
        Component::Up => length_w_m(height_agl_m),
    }
}

/// Time constant in s of one component; infinite when there is no airspeed.
///
/// # Source
/// Taylor's frozen-field hypothesis: T = L/V.
pub fn time_constant_s(length_m: f64, airspeed_mps: f64) -> f64 {
    length_m / airspeed_mps.abs()
}

/// Two-sided power spectral density of one component in m²/s² per rad/s: its integral over all angular
/// frequencies, negative ones included, is the variance.
///
/// # Source
/// MIL-F-8785C §3.7.1.2, Dryden form (which prints the one-sided density, twice this).
pub fn psd_m2ps2_s(
    component: Component,
    sigma_mps: f64,
    length_m: f64,
    airspeed_mps: f64,
    angular_frequency_radps: f64,
) -> f64 {
    let time_s = time_constant_s(length_m, airspeed_mps);
    let x = (time_s * angular_frequency_radps) * (time_s * angular_frequency_radps);
    let level = sigma_mps * sigma_mps * time_s / std::f64::consts::PI;
    match component {
        Component::Along => level / (1.0 + x),
        Component::Across | Component::Up => 0.5 * level * (1.0 + 3.0 * x) / ((1.0 + x) * (1.0 + x)),
    }
}

/// Autocorrelation coefficient of one component at a time lag ≥ 0.
///
/// # Source
/// Fourier transform of the Dryden spectra (MIL-F-8785C §3.7.1.2).
pub fn autocorrelation(component: Component, length_m: f64, airspeed_mps: f64, lag_s: f64) -> f64 {
    let x = lag_s.abs() / time_constant_s(length_m, airspeed_mps);
    match component {
        Component::Along => libm::exp(-x),
        Component::Across | Component::Up => libm::exp(-x) * (1.0 - 0.5 * x),
    }
}

/// Exact coefficient of the one-state filter over a step.
///
/// # Source
/// Exact discretisation of a first-order Gauss–Markov process: a = exp(−V Δt/L).
pub fn step_coefficient(length_m: f64, airspeed_mps: f64, step_s: f64) -> f64 {
    libm::exp(-airspeed_mps.abs() * step_s / length_m)
}

/// Variance ratio of the naive Euler filter x' = (1−d)x + σ√(2d)N, d = V Δt/L: what the exact form avoids.
pub fn euler_variance_ratio(length_m: f64, airspeed_mps: f64, step_s: f64) -> f64 {
    1.0 / (1.0 - 0.5 * airspeed_mps.abs() * step_s / length_m)
}

/// Intensity and length scale at a height above ground; flight interpolates a table of them.
pub fn low_altitude(height_agl_m: f64) -> LowAltitude {
    LowAltitude {
        sigma_ratio: sigma_u_mps(height_agl_m, 10.0),
        length_u_m: length_u_m(height_agl_m),
        length_w_m: length_w_m(height_agl_m),
    }
}
