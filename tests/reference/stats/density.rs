//! Where points lie in the plane: normal ellipses, kernel density, highest-density contours.

use super::checked_level;
use super::special::{gamma_parts, integrate, poisson_pmf};
use lostlink::chance::standard_normal_cdf;
use lostlink::stats::StatsError;
use lostlink::stats::density::*;

/// Mahalanobis radius of the bivariate-normal ellipse that holds this probability: √(−2 ln(1 − p)).
///
/// # Errors
/// A probability outside (0, 1).
pub fn ellipse_scale(probability: f64) -> Result<f64, StatsError> {
    Ok((-2.0 * libm::log1p(-checked_level(probability)?)).sqrt())
}

/// Density of the highest-density region's edge over the peak, any bivariate normal: 1 − p.
///
/// # Errors
/// A probability outside (0, 1).
pub fn highest_density_level(probability: f64) -> Result<f64, StatsError> {
    checked_level(probability).map(|p| 1.0 - p)
}

/// The ellipse that holds a probability of a bivariate normal: semi-axes and the angle of the major one.
///
/// # Errors
/// As [`axes`] and [`ellipse_scale`].
pub fn ellipse(covariance: [f64; 3], probability: f64) -> Result<Axes, StatsError> {
    let scale = ellipse_scale(probability)?;
    let a = axes(covariance)?;
    Ok(Axes { major: a.major * scale, minor: a.minor * scale, angle_rad: a.angle_rad })
}

/// Radius of the centred circle that holds this share of a bivariate normal.
///
/// # Errors
/// Negative deviations, correlation outside [−1, 1], probability outside (0, 1).
///
/// # Source
/// Polar integral over the parametric angle: P(R > r) = (1/2π) ∫ exp(−r²/(2(σ₁² cos² + σ₂² sin²))) dφ.
pub fn containment_radius(sigma_x: f64, sigma_y: f64, correlation: f64, probability: f64) -> Result<f64, StatsError> {
    checked_level(probability)?;
    if !((-1.0..=1.0).contains(&correlation) && sigma_x >= 0.0 && sigma_y >= 0.0) {
        return Err(StatsError::Range { name: "correlation", value: correlation });
    }
    let a = axes([sigma_x * sigma_x, correlation * sigma_x * sigma_y, sigma_y * sigma_y])?;
    if a.major == 0.0 {
        return Ok(0.0);
    }
    let ratio = (a.minor / a.major) * (a.minor / a.major);
    // The integrand is periodic and smooth, so the trapezium rule converges faster than any power.
    const STEPS: usize = 4096;
    let outside = |r: f64| {
        let half = 0.5 * r * r;
        let sum: f64 = (0..STEPS)
            .map(|i| {
                let phi = std::f64::consts::PI * (i as f64 + 0.5) / STEPS as f64;
                let (s, c) = (libm::sin(phi), libm::cos(phi));
                libm::exp(-half / (c * c + ratio * s * s))
            })
            .sum();
        sum / STEPS as f64
    };
    let (mut low, mut high) = (0.0, 1.0);
    while outside(high) > 1.0 - probability {
        high *= 2.0;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if outside(middle) > 1.0 - probability { low = middle } else { high = middle }
    }
    Ok(0.5 * (low + high) * a.major)
}

/// Chance that a circular-normal point with this deviation falls into a disc whose centre is `offset` away.
///
/// # Errors
/// A deviation that is not > 0, a negative offset or radius.
///
/// # Source
/// Rice's distribution as a Poisson mixture of gamma distributions: Σ Poisson(k; ν²/2σ²) P(k + 1, r²/2σ²).
pub fn offset_disc_probability(sigma: f64, offset: f64, radius: f64) -> Result<f64, StatsError> {
    if !(sigma > 0.0 && offset >= 0.0 && radius >= 0.0) {
        return Err(StatsError::Range { name: "standard deviation", value: sigma });
    }
    let mean = 0.5 * (offset / sigma) * (offset / sigma);
    let x = 0.5 * (radius / sigma) * (radius / sigma);
    let reach = 10.0 * mean.sqrt() + 60.0;
    let (first, last) = ((mean - reach).max(0.0) as u64, (mean + reach) as u64);
    Ok((first..=last).map(|k| poisson_pmf(k as f64, mean) * gamma_parts(k as f64 + 1.0, x).0).sum())
}

/// A Gaussian kernel density with full covariance and Scott's factor.
#[derive(Debug, Clone)]
pub struct KernelDensity {
    points: Vec<[f64; 2]>,
    /// Kernel covariance [xx, xy, yy].
    kernel: [f64; 3],
}

impl KernelDensity {
    /// The density of these points; kernel covariance = factor² × sample covariance.
    ///
    /// # Errors
    /// Fewer than three points, or all on a line.
    ///
    /// # Source
    /// Scott (1992), section 6.3.
    pub fn scott(points: &[[f64; 2]]) -> Result<Self, StatsError> {
        if points.len() < 3 {
            return Err(StatsError::TooFew { got: points.len(), needed: 3 });
        }
        let Moments { covariance, .. } = moments(points)?;
        let factor = scott_factor(points.len(), 2);
        let kernel = covariance.map(|c| c * factor * factor);
        if kernel[0] * kernel[2] - kernel[1] * kernel[1] <= 1e-14 * kernel[0] * kernel[2] {
            return Err(super::NO_SPREAD);
        }
        Ok(KernelDensity { points: points.to_vec(), kernel })
    }

    /// Density at a place, per unit area.
    pub fn at(&self, place: [f64; 2]) -> f64 {
        let [xx, xy, yy] = self.kernel;
        let det = xx * yy - xy * xy;
        let sum: f64 = self
            .points
            .iter()
            .map(|p| {
                let (dx, dy) = (place[0] - p[0], place[1] - p[1]);
                libm::exp(-0.5 * (yy * dx * dx - 2.0 * xy * dx * dy + xx * dy * dy) / det)
            })
            .sum();
        sum / (std::f64::consts::TAU * det.sqrt() * self.points.len() as f64)
    }

    /// Mass inside the box with these corners.
    pub fn box_mass(&self, low: [f64; 2], high: [f64; 2]) -> f64 {
        let [xx, xy, yy] = self.kernel;
        let sx = xx.sqrt();
        let slope = xy / xx;
        let rest = (yy - xy * slope).sqrt();
        let sum: f64 = self
            .points
            .iter()
            .map(|p| {
                // Normal in x times what of the conditional normal in y lies between low and high.
                let from = ((low[0] - p[0]) / sx).max(-9.0);
                let to = ((high[0] - p[0]) / sx).min(9.0);
                if from >= to {
                    return 0.0;
                }
                let panels = ((to - from) * 4.0).ceil() as usize * if rest < 0.1 * yy.sqrt() { 8 } else { 1 };
                integrate(from, to, panels, |u| {
                    let middle = p[1] + slope * u * sx;
                    let inside =
                        standard_normal_cdf((high[1] - middle) / rest) - standard_normal_cdf((low[1] - middle) / rest);
                    libm::exp(-0.5 * u * u) * inside
                }) * 0.398_942_280_401_432_7
            })
            .sum();
        sum / self.points.len() as f64
    }

    /// Mass over the whole plane as the grid of the map's contours sees it.
    pub fn grid_mass(&self) -> Result<f64, StatsError> {
        lostlink::stats::density::grid_mass(&self.points, self.kernel)
    }
}

/// Area of a ring by the shoelace formula, positive counter-clockwise.
pub fn ring_area(ring: &[[f64; 2]]) -> f64 {
    let n = ring.len();
    (0..n)
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            0.5 * (a[0] * b[1] - b[0] * a[1])
        })
        .sum()
}

/// Silverman's factor for `n` points in `dimensions` dimensions.
///
/// # Source
/// Silverman, Density Estimation (1986).
pub fn silverman_factor(n: usize, dimensions: usize) -> f64 {
    let (n, d) = (n as f64, dimensions as f64);
    libm::pow(n * (d + 2.0) / 4.0, -1.0 / (d + 4.0))
}
