//! Diffraction over edges and over terrain.
//!
//! Two families that must not be mixed on one path: the terrain method (Bullington and delta-Bullington), which adds
//! an empirical surcharge for rounded, rough terrain, and the edge method (the predominant edge and the worst on either
//! side, without surcharge) for walls and roofs that are modelled as such. Against the exact integral the terrain surcharge puts
//! some 9 dB on one clean sharp edge; Deygout without it stays within 1 to 2 dB on up to three edges.

use super::free_space::{WavePolarisation, wavelength_m};
use super::range::{OutOfRange, any_frequency, any_length, within};
use std::f64::consts::PI;

/// Fresnel parameter below which the approximate knife-edge loss is zero.
pub(crate) const CLEAR: f64 = -0.78;

/// Approximate loss in dB of one knife edge against the Fresnel parameter v; 0 for v ≤ −0.78.
///
/// Within 0.12 dB of the exact loss for v > −0.78; below, it ripples between −1.4 and
/// +1.1 dB, which this leaves out on purpose. Any v.
///
/// # Source
/// ITU-R P.526 §4.1, equation (31): 6.9 + 20 log10(√((v − 0.1)² + 1) + v − 0.1).
#[inline]
pub fn knife_edge_loss_db(fresnel_parameter: f64) -> f64 {
    if fresnel_parameter <= CLEAR {
        return 0.0;
    }
    let u = fresnel_parameter - 0.1;
    6.9 + 20.0 * libm::log10((u * u + 1.0).sqrt() + u)
}

/// Fresnel parameter v of an edge `height_above_ray_m` above the straight ray (negative: below it).
///
/// # Errors
/// A distance or the frequency not above zero.
///
/// # Source
/// ITU-R P.526 §4.1, equation (26): h √(2/λ (1/d1 + 1/d2)).
pub fn fresnel_parameter(
    frequency_hz: f64,
    distance_1_m: f64,
    distance_2_m: f64,
    height_above_ray_m: f64,
) -> Result<f64, OutOfRange> {
    any_frequency(frequency_hz)?;
    any_length("first distance in m", distance_1_m)?;
    any_length("second distance in m", distance_2_m)?;
    within("height above the ray in m", height_above_ray_m, -1e5, 1e5)?;
    Ok(parameter(wavelength_m(frequency_hz), distance_1_m, distance_2_m, height_above_ray_m))
}

#[inline]
fn parameter(wavelength_m: f64, d1_m: f64, d2_m: f64, height_m: f64) -> f64 {
    height_m * (2.0 / wavelength_m * (1.0 / d1_m + 1.0 / d2_m)).sqrt()
}

/// Approximate loss in dB of one edge from its geometry.
///
/// # Errors
/// As [`fresnel_parameter`].
///
/// # Source
/// ITU-R P.526 §4.1, equations (26) and (31).
pub fn single_edge_loss_db(
    frequency_hz: f64,
    distance_1_m: f64,
    distance_2_m: f64,
    height_above_ray_m: f64,
) -> Result<f64, OutOfRange> {
    fresnel_parameter(frequency_hz, distance_1_m, distance_2_m, height_above_ray_m).map(knife_edge_loss_db)
}

/// The surcharge of the terrain method on a loss over one equivalent edge.
///
/// # Source
/// ITU-R P.526 §4.5.1: L = Luc + (1 − e^(−Luc/6))(10 + 0.02 d), d in km.
#[inline]
fn with_surcharge_db(edge_loss_db: f64, distance_m: f64) -> f64 {
    edge_loss_db - libm::expm1(-edge_loss_db / 6.0) * (10.0 + 2e-5 * distance_m)
}

/// What a side edge adds beside the predominant one: its loss v over its own sub-path less Tc, ≥ 0.
///
/// `p`, `q`: parameters of the predominant and of the side edge over the whole path.
#[inline]
pub(crate) fn side_edge_db(v: f64, p: f64, q: f64, principal_m: f64, side_m: f64, total_m: f64) -> f64 {
    let loss = knife_edge_loss_db(v);
    if loss <= 0.0 || p < 0.0 || q < 0.0 {
        return loss;
    }
    let (first, second) = if side_m < principal_m { (side_m, principal_m) } else { (principal_m, side_m) };
    let (a, b, c) = (first, second - first, total_m - second);
    let alpha = libm::atan((b * total_m / (a * c)).sqrt());
    let share = if p > 0.0 { libm::pow(q / p, 2.0 * p) } else { 1.0 };
    let correction = (12.0 - 20.0 * libm::log10(2.0 / (1.0 - alpha / PI))) * share;
    (loss - correction).max(0.0)
}
#[inline(always)]
fn greater(best: &mut f64, value: f64) {
    *best = if value > *best { value } else { *best };
}

/// Fresnel parameter of the Bullington point.
#[inline]
fn bullington_parameter(
    slope_tx: f64,
    slope_rx: f64,
    worst: f64,
    wavelength_m: f64,
    total_m: f64,
    tx_m: f64,
    rx_m: f64,
) -> f64 {
    let slope_path = (rx_m - tx_m) / total_m;
    if slope_tx < slope_path || slope_tx == f64::NEG_INFINITY {
        // In sight: the point that comes nearest in Fresnel radii.
        if worst == f64::NEG_INFINITY {
            worst
        } else {
            (worst.abs() * 2.0 * total_m / wavelength_m).sqrt().copysign(worst)
        }
    } else {
        // Beyond the horizon: where the two horizon lines meet.
        let d1 = (rx_m - tx_m + slope_rx * total_m) / (slope_tx + slope_rx);
        let over = tx_m + slope_tx * d1 - (tx_m * (total_m - d1) + rx_m * d1) / total_m;
        over * (2.0 * total_m / (wavelength_m * d1 * (total_m - d1))).sqrt()
    }
}

/// Electrical constants of the ground for the spherical-Earth term.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundConstants {
    /// Relative permittivity.
    pub permittivity: f64,
    /// Conductivity.
    pub conductivity_spm: f64,
}

impl GroundConstants {
    /// Land, as the terrain methods take it. Source: ITU-R P.1812, P.452: 22 and 0.003 S/m.
    pub const LAND: GroundConstants = GroundConstants { permittivity: 22.0, conductivity_spm: 0.003 };
}

/// The terrain method at one frequency: Bullington and delta-Bullington.
///
/// Terrain profiles are slices of distance (ascending) and ground height of the same length; the first point lies under
/// the first terminal, the last under the second. Terminal heights are of the same datum as the ground's, not above it.
///
/// Range: 30 MHz to 6 GHz over land, terminals up to 3 km up (from memory, P.1812). Under 250 m the method is no better
/// than free space with explicit edges.
///
/// # Source
/// ITU-R P.526 §4.5 and P.1812 §4.3 (identical).
#[derive(Debug, Clone, Copy)]
pub struct TerrainMethod {
    wavelength_m: f64,
    frequency_ghz: f64,
    earth_radius_m: f64,
    ground: GroundConstants,
    polarisation: WavePolarisation,
}

impl TerrainMethod {
    /// At this frequency, with this effective Earth radius.
    ///
    /// # Errors
    /// Frequency outside 30 MHz to 50 GHz (the diffraction formulas themselves hold above P.1812's 6 GHz), radius below
    /// 1000 km, permittivity below 1, conductivity below 0.
    pub fn new(
        frequency_hz: f64,
        effective_earth_radius_m: f64,
        ground: GroundConstants,
        polarisation: WavePolarisation,
    ) -> Result<Self, OutOfRange> {
        within("frequency in Hz", frequency_hz, 30e6, 50e9)?;
        within("effective Earth radius in m", effective_earth_radius_m, 1e6, 1e12)?;
        within("relative permittivity", ground.permittivity, 1.0, 200.0)?;
        within("conductivity in S/m", ground.conductivity_spm, 0.0, 100.0)?;
        Ok(TerrainMethod {
            wavelength_m: wavelength_m(frequency_hz),
            frequency_ghz: frequency_hz * 1e-9,
            earth_radius_m: effective_earth_radius_m,
            ground,
            polarisation,
        })
    }

    /// Wavelength in metres.
    pub fn wavelength_m(&self) -> f64 {
        self.wavelength_m
    }

    /// Curvature of the effective Earth, 1/m.
    pub fn curvature_per_m(&self) -> f64 {
        1.0 / self.earth_radius_m
    }

    /// What the spherical Earth adds: max(Lsph − Ls, 0), for effective heights over the smooth Earth.
    pub(crate) fn smooth_surplus_db(&self, distance_m: &[f64], total_m: f64, effective_m: [f64; 2]) -> f64 {
        let spherical = self.spherical_earth_db(total_m, effective_m);
        if spherical <= 0.0 {
            // Ls is never negative, so nothing is added; most paths at site scale end here.
            return 0.0;
        }
        (spherical - self.smooth_bullington_db(distance_m, total_m, effective_m)).max(0.0)
    }

    /// Bullington on the bare bulge of the Earth, at the profile's points.
    fn smooth_bullington_db(&self, distance_m: &[f64], total_m: f64, [tx_m, rx_m]: [f64; 2]) -> f64 {
        let (mut slope_tx, mut slope_rx, mut worst) = (f64::NEG_INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        let half_curvature = 0.5 / self.earth_radius_m;
        let per_metre = (rx_m - tx_m) / total_m;
        for d in &distance_m[1..distance_m.len() - 1] {
            let d1 = d - distance_m[0];
            let d2 = total_m - d1;
            let (r1, r2) = (1.0 / d1, 1.0 / d2);
            let high = half_curvature * d1 * d2;
            let over = high - (tx_m + per_metre * d1);
            greater(&mut slope_tx, (high - tx_m) * r1);
            greater(&mut slope_rx, (high - rx_m) * r2);
            greater(&mut worst, over * over.abs() * (r1 * r2));
        }
        let v = bullington_parameter(slope_tx, slope_rx, worst, self.wavelength_m, total_m, tx_m, rx_m);
        with_surcharge_db(knife_edge_loss_db(v), total_m)
    }

    /// Diffraction loss in dB over a smooth spherical Earth for heights above it, at a distance > 0.
    ///
    /// # Source
    /// ITU-R P.526 §3.2, P.1812 §4.3.2.
    pub fn spherical_earth_db(&self, distance_m: f64, [tx_m, rx_m]: [f64; 2]) -> f64 {
        let (tx, rx) = (tx_m.max(0.0), rx_m.max(0.0));
        let d = distance_m;
        let ae = self.earth_radius_m;
        let in_sight_m = (2.0 * ae).sqrt() * (tx.sqrt() + rx.sqrt());
        if d >= in_sight_m {
            return self.first_term_db(d, tx, rx, ae).max(0.0);
        }
        // Smallest clearance between the ray and the curved Earth.
        let c = (tx - rx) / (tx + rx);
        let m = d * d / (4.0 * ae * (tx + rx));
        let root = (3.0 * m / ((m + 1.0) * (m + 1.0) * (m + 1.0))).sqrt();
        let angle = (PI + libm::acos((1.5 * c * root).clamp(-1.0, 1.0))) / 3.0;
        let b = 2.0 * ((m + 1.0) / (3.0 * m)).sqrt() * libm::cos(angle);
        let d1 = 0.5 * d * (1.0 + b);
        let d2 = d - d1;
        let clearance = ((tx - d1 * d1 / (2.0 * ae)) * d2 + (rx - d2 * d2 / (2.0 * ae)) * d1) / d;
        // 17.456 √(d1 d2 λ/d) with distances in km: 0.552 Fresnel radii.
        let needed = 17.456e-3 * 1e3_f64.sqrt() * (d1 * d2 * self.wavelength_m / d).sqrt();
        if clearance > needed {
            return 0.0;
        }
        let sum = tx.sqrt() + rx.sqrt();
        let modified_radius = 0.5 * d * d / (sum * sum);
        let loss = self.first_term_db(d, tx, rx, modified_radius);
        if loss < 0.0 { 0.0 } else { (1.0 - clearance / needed) * loss }
    }

    /// First term of the residue series, in dB, for an effective radius; may be negative.
    fn first_term_db(&self, distance_m: f64, tx_m: f64, rx_m: f64, radius_m: f64) -> f64 {
        let f = self.frequency_ghz;
        let a = radius_m * 1e-3;
        let loss_part = 18.0 * self.ground.conductivity_spm / f;
        let eps = self.ground.permittivity;
        let contrast = (eps - 1.0) * (eps - 1.0) + loss_part * loss_part;
        let horizontal = 0.036 / libm::cbrt(a * f) / contrast.sqrt().sqrt();
        let admittance = match self.polarisation {
            WavePolarisation::Horizontal => horizontal,
            WavePolarisation::Vertical => horizontal * (eps * eps + loss_part * loss_part).sqrt(),
        };
        let k2 = admittance * admittance;
        let beta = (1.0 + 1.6 * k2 + 0.67 * k2 * k2) / (1.0 + 4.5 * k2 + 1.53 * k2 * k2);
        let x = 21.88 * beta * libm::cbrt(f / (a * a)) * distance_m * 1e-3;
        let per_metre = 0.9575 * beta * libm::cbrt(f * f / a);
        let distance_term = if x >= 1.6 {
            11.0 + 10.0 * libm::log10(x) - 17.6 * x
        } else {
            -20.0 * libm::log10(x) - 5.6488 * libm::pow(x, 1.425)
        };
        let least = 2.0 + 20.0 * libm::log10(admittance);
        let height_gain = |height_m: f64| {
            let b = beta * per_metre * height_m;
            let gain = if b > 2.0 {
                17.6 * (b - 1.1).sqrt() - 5.0 * libm::log10(b - 1.1) - 8.0
            } else {
                20.0 * libm::log10(b + 0.1 * b * b * b)
            };
            gain.max(least)
        };
        -distance_term - height_gain(tx_m) - height_gain(rx_m)
    }
}

/// A terrain profile seen from one fixed end, for many heights of the other end above its last point.
///
/// Does once what does not depend on that height: the horizon from the fixed end, the bulge, the smooth fit. Gives
/// the same answers as the method applied to the whole profile to rounding.
#[derive(Debug, Clone, Default)]
pub struct TerrainColumn {
    distance_m: Vec<f64>,
    height_m: Vec<f64>,
    bulged_m: Vec<f64>,
    per_rest: Vec<f64>,
    per_product: Vec<f64>,
    total_m: f64,
    tx_m: f64,
    slope_tx: f64,
    plain_slope_tx: f64,
    fit: Option<SmoothFit>,
}

impl TerrainColumn {
    /// Takes over a profile; `tx_m` is the height of the fixed end over its first point. Buffers are reused.
    pub fn set(&mut self, method: &TerrainMethod, distance_m: &[f64], height_m: &[f64], tx_m: f64) {
        self.distance_m.clear();
        self.height_m.clear();
        self.bulged_m.clear();
        self.per_rest.clear();
        self.per_product.clear();
        self.total_m = span_m(distance_m);
        self.tx_m = tx_m;
        self.slope_tx = f64::NEG_INFINITY;
        self.plain_slope_tx = f64::NEG_INFINITY;
        self.fit = None;
        if self.total_m <= 0.0 {
            return;
        }
        let half_curvature = 0.5 / method.earth_radius_m;
        let (start, total) = (distance_m[0], self.total_m);
        let n = distance_m.len().min(height_m.len());
        self.distance_m.extend(distance_m[..n].iter().map(|d| d - start));
        self.height_m.extend_from_slice(&height_m[..n]);
        for (d1, h) in self.distance_m.iter().zip(&self.height_m) {
            let d2 = total - d1;
            // The two ends are never read; their reciprocals may be infinite.
            let (r1, r2) = (1.0 / d1, 1.0 / d2);
            self.bulged_m.push(h + half_curvature * d1 * d2);
            self.per_rest.push(r2);
            self.per_product.push(r1 * r2);
        }
        for i in 1..n - 1 {
            greater(&mut self.slope_tx, (self.bulged_m[i] - tx_m) / self.distance_m[i]);
            greater(&mut self.plain_slope_tx, (self.height_m[i] - tx_m) / self.distance_m[i]);
        }
        self.fit = Some(SmoothFit::of(&self.distance_m, &self.height_m));
    }

    /// Whether the ground, bulge included, stands in the straight line to the other end at this height.
    pub fn is_blocked(&self, rx_m: f64) -> bool {
        self.slope_tx >= (rx_m - self.tx_m) / self.total_m
    }

    /// Delta-Bullington loss in dB for this height of the other end.
    pub fn loss_db(&self, method: &TerrainMethod, rx_m: f64) -> f64 {
        let Some(fit) = &self.fit else { return 0.0 };
        let (total, tx_m) = (self.total_m, self.tx_m);
        let inner = 1..self.distance_m.len() - 1;
        let per_metre = (rx_m - tx_m) / total;
        let (mut slope_rx, mut worst) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        let (distance, bulged) = (&self.distance_m[inner.clone()], &self.bulged_m[inner.clone()]);
        let (per_rest, per_product) = (&self.per_rest[inner.clone()], &self.per_product[inner.clone()]);
        if self.is_blocked(rx_m) {
            for (high, r2) in bulged.iter().zip(per_rest) {
                greater(&mut slope_rx, (high - rx_m) * r2);
            }
        } else {
            for ((d1, high), r) in distance.iter().zip(bulged).zip(per_product) {
                let over = high - (tx_m + per_metre * d1);
                greater(&mut worst, over * over.abs() * r);
            }
        }
        let v = bullington_parameter(self.slope_tx, slope_rx, worst, method.wavelength_m, total, tx_m, rx_m);
        let actual = with_surcharge_db(knife_edge_loss_db(v), total);

        let mut obstacle = Obstacle { height_m: f64::NEG_INFINITY, slope_tx: 0.0, slope_rx: 0.0 };
        if self.plain_slope_tx > per_metre {
            obstacle.slope_tx = self.plain_slope_tx - per_metre;
            obstacle.slope_rx = f64::NEG_INFINITY;
            for ((d1, h), r2) in distance.iter().zip(&self.height_m[inner]).zip(per_rest) {
                let over = h - (tx_m + per_metre * d1);
                greater(&mut obstacle.height_m, over);
                greater(&mut obstacle.slope_rx, over * r2);
            }
        }
        let effective = fit.effective_heights_m(tx_m, rx_m, obstacle);
        actual + method.smooth_surplus_db(&self.distance_m, total, effective)
    }
}

fn span_m(distance_m: &[f64]) -> f64 {
    match distance_m {
        [first, .., last] => last - first,
        _ => 0.0,
    }
}

/// The highest thing above the ray: its height, and the steepest heights over each end's distance.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Obstacle {
    pub height_m: f64,
    pub slope_tx: f64,
    pub slope_rx: f64,
}

/// Least-squares straight line through a terrain profile.
///
/// # Source
/// ITU-R P.1812 attachment 1 §5.6, P.452 attachment 2 §5.1.6 (identical).
#[derive(Debug, Clone, Copy)]
pub(crate) struct SmoothFit {
    ends_m: [f64; 2],
    ground_m: [f64; 2],
}

impl SmoothFit {
    /// Of a profile.
    pub fn of(distance_m: &[f64], height_m: &[f64]) -> SmoothFit {
        let n = distance_m.len().min(height_m.len());
        let start = distance_m[0];
        let total = distance_m[n - 1] - start;
        // Heights relative to the first point keep the digits of the sums.
        let base = height_m[0];
        let (mut v1, mut v2) = (0.0, 0.0);
        let (mut d0, mut h0) = (0.0, 0.0);
        for (d, h) in distance_m[1..n].iter().zip(&height_m[1..n]) {
            let (d, h) = (d - start, h - base);
            v1 += (d - d0) * (h + h0);
            v2 += (d - d0) * (h * (2.0 * d + d0) + h0 * (d + 2.0 * d0));
            (d0, h0) = (d, h);
        }
        let square = total * total;
        let ends = [base + (2.0 * v1 * total - v2) / square, base + (v2 - v1 * total) / square];
        SmoothFit { ends_m: ends, ground_m: [height_m[0], height_m[n - 1]] }
    }

    /// Heights of the terminals over the smooth Earth of the diffraction model.
    pub fn effective_heights_m(&self, tx_m: f64, rx_m: f64, obstacle: Obstacle) -> [f64; 2] {
        let mut ends = self.ends_m;
        if obstacle.height_m > 0.0 {
            let sum = obstacle.slope_tx + obstacle.slope_rx;
            ends[0] -= obstacle.height_m * obstacle.slope_tx / sum;
            ends[1] -= obstacle.height_m * obstacle.slope_rx / sum;
        }
        [tx_m - ends[0].min(self.ground_m[0]), rx_m - ends[1].min(self.ground_m[1])]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::radio::diffraction::delta_bullington_db;

    #[test]
    fn the_column_gives_what_the_profile_gives() {
        let distance: Vec<f64> = (0..120).map(|i| f64::from(i) * 17.0 + f64::from(i % 3)).collect();
        let height: Vec<f64> =
            distance.iter().map(|d| 40.0 * libm::sin(d * 0.004) + 6.0 * libm::cos(d * 0.031) + 100.0).collect();
        for frequency_hz in [433e6, 2.44e9] {
            let method =
                TerrainMethod::new(frequency_hz, 8.5e6, GroundConstants::LAND, WavePolarisation::Vertical).unwrap();
            let tx_m = height[0] + 1.5;
            let mut column = TerrainColumn::default();
            column.set(&method, &distance, &height, tx_m);
            for step in 0..40 {
                let rx_m = height[119] + 0.5 + 4.0 * f64::from(step);
                let (a, b) =
                    (column.loss_db(&method, rx_m), delta_bullington_db(&method, &distance, &height, tx_m, rx_m));
                assert!((a - b).abs() < 1e-9, "{rx_m}: {a} against {b}");
            }
        }
    }
}
