//! Diffraction over edges and over terrain.
//!
//! Two families that must not be mixed on one path: the terrain method (Bullington and delta-Bullington), which adds
//! an empirical surcharge for rounded, rough terrain, and the edge methods (one edge, Deygout without surcharge, the
//! exact integral) for walls and roofs that are modelled as such. Against the exact integral the terrain surcharge puts
//! some 9 dB on one clean sharp edge; Deygout without it stays within 1 to 2 dB on up to three edges.

use super::range::{any_frequency, any_length};
use lostlink::radio::diffraction::*;
use lostlink::radio::free_space::wavelength_m;
use lostlink::radio::range::{OutOfRange, within};
use rustfft::num_complex::Complex64 as Complex;
use std::f64::consts::{FRAC_PI_2, PI};

/// Exact loss in dB of one knife edge; negative where the field overshoots free space.
///
/// # Errors
/// |v| above 10 000 (the series is not tested there) or NaN.
///
/// # Source
/// ITU-R P.526 §4.1, equation (30): −20 log10(√((1 − C − S)² + (C − S)²)/2), here as |erfc(√(jπ/2) v)|/2, which does not
/// cancel deep in the shadow.
pub fn knife_edge_loss_exact_db(fresnel_parameter: f64) -> Result<f64, OutOfRange> {
    let v = within("Fresnel parameter", fresnel_parameter, -1e4, 1e4)?;
    let field = erfc_on_diagonal(v.abs()) * 0.5;
    let field = if v < 0.0 { Complex::ONE - field } else { field };
    Ok(-10.0 * libm::log10(field.norm_sqr()))
}

/// erfc(√(jπ/2) v) for v ≥ 0.
fn erfc_on_diagonal(v: f64) -> Complex {
    // z = √(jπ/2) v = (√π/2)(1 + j) v.
    let half_root_pi = 0.5 * PI.sqrt();
    let z = Complex::new(half_root_pi * v, half_root_pi * v);
    if v < 2.0 {
        // erf z = 2/√π Σ (−1)^n z^(2n+1)/(n! (2n+1)); |z²| ≤ 2π, so 40 terms are plenty.
        let minus_square = -(z * z);
        let mut term = z;
        let mut sum = z;
        for n in 1..60 {
            let n = f64::from(n);
            term = term * minus_square * (1.0 / n);
            sum += term * (1.0 / (2.0 * n + 1.0));
        }
        Complex::ONE - sum * (2.0 / PI.sqrt())
    } else {
        // erfc z = e^(−z²)/√π · 1/(z + (1/2)/(z + 1/(z + (3/2)/(z + …)))), from the tail up.
        let mut tail = z;
        for k in (1..=200).rev() {
            tail = z + Complex::new(0.5 * f64::from(k), 0.0) / tail;
        }
        // e^(−z²) = e^(−jπv²/2); the phase is taken modulo 4 in v² to keep its digits.
        let turns = (v * v) % 4.0;
        Complex::cis(-FRAC_PI_2 * turns) / (tail * PI.sqrt())
    }
}

#[inline]
fn parameter(wavelength_m: f64, d1_m: f64, d2_m: f64, height_m: f64) -> f64 {
    height_m * (2.0 / wavelength_m * (1.0 / d1_m + 1.0 / d2_m)).sqrt()
}

/// Edges between two terminals over a flat Earth: n + 1 spacings, terminal to edge, edge to edge, edge to terminal,
/// and n heights above the straight ray between the terminals.
#[derive(Debug, Clone, Copy)]
pub struct Edges<'a> {
    /// Spacings, each above zero.
    pub spacings_m: &'a [f64],
    /// Heights above the ray; negative below it.
    pub heights_m: &'a [f64],
}

impl<'a> Edges<'a> {
    /// Checks that there is one spacing more than heights and that all spacings are above zero.
    ///
    /// # Errors
    /// Otherwise, and for heights beyond 100 km.
    pub fn new(spacings_m: &'a [f64], heights_m: &'a [f64]) -> Result<Self, OutOfRange> {
        let wanted = heights_m.len() as f64 + 1.0;
        within("number of spacings", spacings_m.len() as f64, wanted, wanted)?;
        for spacing in spacings_m {
            any_length("spacing in m", *spacing)?;
        }
        for height in heights_m {
            within("height above the ray in m", *height, -1e5, 1e5)?;
        }
        Ok(Edges { spacings_m, heights_m })
    }

    fn total_m(&self) -> f64 {
        self.spacings_m.iter().sum()
    }

    /// Distance of edge `index` from the first terminal.
    fn distance_m(&self, index: usize) -> f64 {
        self.spacings_m[..=index].iter().sum()
    }

    /// Place of terminal or edge `index` (0 and n + 1 are the terminals) as (distance, height).
    fn point(&self, index: usize) -> (f64, f64) {
        match index {
            0 => (0.0, 0.0),
            i if i <= self.heights_m.len() => (self.distance_m(i - 1), self.heights_m[i - 1]),
            _ => (self.total_m(), 0.0),
        }
    }

    /// Fresnel parameter of point `index` over the line between points `from` and `to`.
    fn parameter(&self, wavelength_m: f64, from: usize, index: usize, to: usize) -> f64 {
        let ((da, ha), (d, h), (db, hb)) = (self.point(from), self.point(index), self.point(to));
        let line = ha + (hb - ha) * (d - da) / (db - da);
        parameter(wavelength_m, d - da, db - d, h - line)
    }

    /// The edge with the greatest parameter strictly between two points.
    fn worst(&self, wavelength_m: f64, from: usize, to: usize) -> Option<(usize, f64)> {
        let mut worst: Option<(usize, f64)> = None;
        for index in from + 1..to {
            let v = self.parameter(wavelength_m, from, index, to);
            if worst.is_none_or(|(_, best)| v > best) {
                worst = Some((index, v));
            }
        }
        worst
    }

    /// Parameters of the principal edge and of the worst edge on either side of it.
    fn deygout(&self, wavelength_m: f64) -> Option<(f64, Option<f64>, Option<f64>)> {
        let last = self.heights_m.len() + 1;
        let (principal, v) = self.worst(wavelength_m, 0, last)?;
        let before = self.worst(wavelength_m, 0, principal).map(|(_, v)| v);
        let after = self.worst(wavelength_m, principal, last).map(|(_, v)| v);
        Some((v, before, after))
    }
}

/// The surcharge of the terrain method on a loss over one equivalent edge.
///
/// # Source
/// ITU-R P.526 §4.5.1: L = Luc + (1 − e^(−Luc/6))(10 + 0.02 d), d in km.
#[inline]
fn with_surcharge_db(edge_loss_db: f64, distance_m: f64) -> f64 {
    edge_loss_db - libm::expm1(-edge_loss_db / 6.0) * (10.0 + 2e-5 * distance_m)
}

/// Bullington loss in dB over edges, terrain surcharge included, flat Earth.
///
/// # Errors
/// As [`Edges::new`] and for the frequency.
///
/// # Source
/// ITU-R P.526 §4.5.1 with the Earth's curvature 0.
pub fn bullington_edges_db(frequency_hz: f64, edges: Edges) -> Result<f64, OutOfRange> {
    let wavelength = wavelength_m(any_frequency(frequency_hz)?);
    let mut distance = vec![0.0];
    let mut height = vec![0.0];
    for index in 1..=edges.heights_m.len() + 1 {
        let (d, h) = edges.point(index);
        distance.push(d);
        height.push(h);
    }
    let (ground, total) = (0.0, edges.total_m());
    let scan = Scan::over(&distance, &height, ground, ground, 0.0);
    Ok(with_surcharge_db(scan.edge_loss_db(wavelength, total, 0.0, 0.0), total))
}

/// Deygout loss in dB on at most three edges (the principal one and the worst on either side), without surcharge.
///
/// For walls and roofs modelled as edges. Against the exact integral on random site-scale geometries its error is
/// 0.0, +1.5 and +0.8 dB in the mean for one, two and three edges, with a spread of 0.1, 1.0 and 2.3 dB.
///
/// # Errors
/// As [`Edges::new`] and for the frequency.
///
/// # Source
/// Deygout, IEEE Trans. AP 14(4), 1966 (from memory), on equation (31) of ITU-R P.526.
pub fn deygout_raw_db(frequency_hz: f64, edges: Edges) -> Result<f64, OutOfRange> {
    let wavelength = wavelength_m(any_frequency(frequency_hz)?);
    Ok(edges.deygout(wavelength).map_or(0.0, |(v, before, after)| {
        knife_edge_loss_db(v) + before.map_or(0.0, knife_edge_loss_db) + after.map_or(0.0, knife_edge_loss_db)
    }))
}

/// Loss in dB on at most three edges, the worst predominant: Deygout without surcharge, less the correction Tc that keeps
/// neighbouring edges from counting twice.
///
/// For walls and roofs modelled as edges, thick ones included: against the exact integral two edges 10 to 300 m apart are
/// within −0.6 and +1.5 dB, where without Tc they are up to 5 dB too high. Tends to one edge as edges draw together.
///
/// # Errors
/// As [`Edges::new`] and for the frequency.
///
/// # Source
/// ITU-R P.526 §4.3, two edges of which one is predominant: L1 + L2 − Tc; applied to the worst edge on either side.
pub fn predominant_edges_db(frequency_hz: f64, edges: Edges) -> Result<f64, OutOfRange> {
    let wavelength = wavelength_m(any_frequency(frequency_hz)?);
    let last = edges.heights_m.len() + 1;
    let Some((principal, p)) = edges.worst(wavelength, 0, last) else { return Ok(0.0) };
    let (total, at) = (edges.total_m(), edges.point(principal).0);
    let mut loss = knife_edge_loss_db(p);
    for (from, to) in [(0, principal), (principal, last)] {
        let Some((side, v)) = edges.worst(wavelength, from, to) else { continue };
        let q = edges.parameter(wavelength, 0, side, last);
        loss += side_edge_db(v, p, q, at, edges.point(side).0, total);
    }
    Ok(loss)
}

/// What a side edge adds beside the predominant one: its loss v over its own sub-path less Tc, ≥ 0.
///
/// `p`, `q`: parameters of the predominant and of the side edge over the whole path.
#[inline]
pub fn side_edge_db(v: f64, p: f64, q: f64, principal_m: f64, side_m: f64, total_m: f64) -> f64 {
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

/// Deygout loss in dB on at most three edges with the T factor and the empirical term, flat Earth.
///
/// # Errors
/// As [`Edges::new`] and for the frequency.
///
/// # Source
/// ITU-R P.526 up to edition 12 and P.452-14 §4.2: J(vp) + T (J(vt) + J(vr) + 10 + 0.04 D), T = 1 − e^(−J(vp)/6), D in km.
pub fn deygout_edges_db(frequency_hz: f64, edges: Edges) -> Result<f64, OutOfRange> {
    let wavelength = wavelength_m(any_frequency(frequency_hz)?);
    Ok(edges.deygout(wavelength).map_or(0.0, |(v, before, after)| {
        let principal = knife_edge_loss_db(v);
        let sides = before.map_or(0.0, knife_edge_loss_db) + after.map_or(0.0, knife_edge_loss_db);
        principal - libm::expm1(-principal / 6.0) * (sides + 10.0 + 4e-5 * edges.total_m())
    }))
}

/// Loss in dB of two isolated edges, neither predominant.
///
/// The Recommendation states the form for losses of more than about 15 dB on each edge; below, it is an approximation
/// of unstated quality, which is left to the caller to judge (no refusal).
///
/// # Errors
/// As [`Edges::new`], for the frequency, and for a number of edges other than two.
///
/// # Source
/// ITU-R P.526 §4.3: L1 + L2 + 10 log10[(a + b)(b + c)/(b (a + b + c))].
pub fn double_isolated_edges_db(frequency_hz: f64, edges: Edges) -> Result<f64, OutOfRange> {
    let wavelength = wavelength_m(any_frequency(frequency_hz)?);
    within("number of edges", edges.heights_m.len() as f64, 2.0, 2.0)?;
    let (a, b, c) = (edges.spacings_m[0], edges.spacings_m[1], edges.spacings_m[2]);
    let first = knife_edge_loss_db(edges.parameter(wavelength, 0, 1, 2));
    let second = knife_edge_loss_db(edges.parameter(wavelength, 1, 2, 3));
    Ok(first + second + 10.0 * libm::log10((a + b) * (b + c) / (b * (a + b + c))))
}

/// Most edges that the exact integral takes.
const EXACT_EDGES: usize = 8;

/// Exact loss in dB over several absorbing knife edges (negative where the field overshoots free space).
///
/// The n-fold integral couples neighbouring edges only, so it is a chain of n − 1 matrix products over quadrature
/// nodes. Costs milliseconds: a reference for judging the approximations, not for use in flight.
///
/// # Errors
/// As [`Edges::new`], for the frequency, and for more than eight edges.
///
/// # Source
/// Fresnel–Kirchhoff over absorbing half-planes, normalised to free space; the path of integration of each height is
/// turned to y = h ± t e^(−jπ/4), on which the integrand decays as a Gaussian (own derivation).
pub fn knife_edges_exact_db(frequency_hz: f64, edges: Edges) -> Result<f64, OutOfRange> {
    let wave_number = 2.0 * PI / wavelength_m(any_frequency(frequency_hz)?);
    within("number of edges", edges.heights_m.len() as f64, 0.0, EXACT_EDGES as f64)?;
    let open = vec![1.0; edges.heights_m.len()];
    let field = field_over(wave_number, edges.spacings_m, edges.heights_m, &open);
    Ok(-10.0 * libm::log10(field.norm_sqr()))
}

/// Field relative to free space when each height is integrated upwards (side 1) or downwards (side −1) from its edge.
fn field_over(wave_number: f64, s: &[f64], h: &[f64], side: &[f64]) -> Complex {
    let n = h.len();
    if n == 0 {
        return Complex::ONE;
    }
    // Φ = ½ yᵀA y with A tridiagonal: diagonal 1/s_i + 1/s_{i+1}, beside it −1/s_{i+1}; det A = D/Π s.
    let slope: Vec<f64> = (0..n)
        .map(|i| {
            let left = if i > 0 { h[i - 1] / s[i] } else { 0.0 };
            let right = if i + 1 < n { h[i + 1] / s[i + 1] } else { 0.0 };
            (1.0 / s[i] + 1.0 / s[i + 1]) * h[i] - left - right
        })
        .collect();
    // An edge under the line of its neighbours: all heights there, less those below it. What is left then decays.
    if let Some(low) = (0..n).find(|i| side[*i] > 0.0 && slope[*i] < 0.0) {
        let without = |list: &[f64]| [&list[..low], &list[low + 1..]].concat();
        let mut joined = without(s);
        joined[low] = s[low] + s[low + 1];
        let mut turned = side.to_vec();
        turned[low] = -1.0;
        return field_over(wave_number, &joined, &without(h), &without(side)) - field_over(wave_number, s, h, &turned);
    }

    // Nodes: marginal width of t_i is √((A⁻¹)_ii/k), (A⁻¹)_ii = d1 d2/D; a square law crowds them at the edge, where a
    // deep shadow makes the integrand steep. Neighbouring edges are coupled over √(s/k), which has to be resolved too.
    let total: f64 = s.iter().sum();
    let reach = |i: usize| {
        let d1: f64 = s[..=i].iter().sum();
        9.0 * (d1 * (total - d1) / total / wave_number).sqrt()
    };
    let widest = (0..n).map(reach).fold(0.0, f64::max);
    let narrowest = s[1..n].iter().map(|s| (s / wave_number).sqrt()).fold(f64::INFINITY, f64::min);
    let count = ((6.0 * widest / narrowest) as usize).clamp(NODES, MOST_NODES);
    let (abscissae, weights) = gauss_legendre(count);
    let nodes: Vec<Vec<(f64, f64)>> = (0..n)
        .map(|i| {
            let reach = reach(i);
            let scale = |(x, w): (&f64, &f64)| {
                let u = 0.5 * (x + 1.0);
                (reach * u * u, w * reach * u)
            };
            abscissae.iter().zip(&weights).map(scale).collect()
        })
        .collect();
    let down = Complex::new(std::f64::consts::FRAC_1_SQRT_2, -std::f64::consts::FRAC_1_SQRT_2);
    // E/E0 = √(det A (jk/2π)^n) ∫ e^(−jkΦ) dy; each dy brings e^(−jπ/4), which cancels j^(n/2). −jk (A h)_i t e^(−jπ/4) is the
    // linear part. Of the quadratic part −k/2 tᵀA t the coupled (t_i − t_{i+1})²/s go into the kernel, so that what is left
    // here never grows.
    let own = |i: usize, t: f64| {
        let linear = Complex::new(0.0, -wave_number * slope[i] * side[i] * t) * down;
        let ends = if i == 0 { 1.0 / s[0] } else { 0.0 } + if i + 1 == n { 1.0 / s[n] } else { 0.0 };
        (linear + Complex::new(-0.5 * wave_number * ends * t * t, 0.0)).exp()
    };
    let mut carried: Vec<Complex> = nodes[0].iter().map(|(t, w)| own(0, *t) * *w).collect();
    for i in 1..n {
        let stiffness = 0.5 * wave_number / s[i];
        let turned = side[i] * side[i - 1];
        carried = nodes[i]
            .iter()
            .map(|(t, w)| {
                let mut sum = Complex::new(0.0, 0.0);
                for ((before, _), field) in nodes[i - 1].iter().zip(&carried) {
                    let apart = t - turned * before;
                    sum += *field * libm::exp(-stiffness * apart * apart);
                }
                sum * own(i, *t) * *w
            })
            .collect();
    }
    let integral = carried.iter().fold(Complex::new(0.0, 0.0), |sum, field| sum + *field);
    let scale = total / s.iter().product::<f64>() * (wave_number / (2.0 * PI)).powi(n as i32);
    let bend: f64 = h.iter().zip(&slope).map(|(h, slope)| h * slope).sum();
    integral * Complex::cis(-0.5 * wave_number * bend) * scale.sqrt()
}

/// Least and most quadrature nodes an edge.
const NODES: usize = 160;

const MOST_NODES: usize = 1500;

/// Nodes and weights of Gauss–Legendre quadrature on [−1, 1], by Newton's method on the recurrence.
fn gauss_legendre(count: usize) -> (Vec<f64>, Vec<f64>) {
    let n = count as f64;
    (0..count)
        .map(|i| {
            let mut x = libm::cos(PI * (i as f64 + 0.75) / (n + 0.5));
            let mut slope = 1.0;
            for _ in 0..100 {
                let (mut now, mut before) = (1.0, 0.0);
                for k in 0..count {
                    let k = k as f64;
                    (now, before) = (((2.0 * k + 1.0) * x * now - k * before) / (k + 1.0), now);
                }
                slope = n * (x * now - before) / (x * x - 1.0);
                let step = now / slope;
                x -= step;
                if step.abs() < 1e-15 {
                    break;
                }
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .unzip()
}

/// What one pass over the inner points of a profile finds. Heights are of the same datum as the terminals'.
#[derive(Debug, Clone, Copy)]
struct Scan {
    /// Steepest slope from the first terminal to a point, bulge of the Earth included.
    slope_tx: f64,
    /// Steepest slope from the second terminal, seen backwards.
    slope_rx: f64,
    /// Greatest c |c|/(d1 d2), c the height above the ray, bulge included: the square of v up to 2 d/λ, with its sign.
    worst: f64,
    /// Greatest height above the ray, bulge left out, and steepest such heights over d1 and over d2.
    obstacle_m: f64,
    obstacle_tx: f64,
    obstacle_rx: f64,
}

impl Scan {
    fn over(distance_m: &[f64], height_m: &[f64], tx_m: f64, rx_m: f64, curvature_per_m: f64) -> Scan {
        let mut scan = Scan {
            slope_tx: f64::NEG_INFINITY,
            slope_rx: f64::NEG_INFINITY,
            worst: f64::NEG_INFINITY,
            obstacle_m: f64::NEG_INFINITY,
            obstacle_tx: f64::NEG_INFINITY,
            obstacle_rx: f64::NEG_INFINITY,
        };
        let n = distance_m.len().min(height_m.len());
        if n < 3 {
            return scan;
        }
        let start = distance_m[0];
        let total = distance_m[n - 1] - start;
        let per_metre = (rx_m - tx_m) / total;
        let half_curvature = 0.5 * curvature_per_m;
        for (d, h) in distance_m[1..n - 1].iter().zip(&height_m[1..n - 1]) {
            let d1 = d - start;
            let d2 = total - d1;
            let (r1, r2) = (1.0 / d1, 1.0 / d2);
            let high = h + half_curvature * d1 * d2;
            let over_plain = h - (tx_m + per_metre * d1);
            let over = high - (tx_m + per_metre * d1);
            greater(&mut scan.slope_tx, (high - tx_m) * r1);
            greater(&mut scan.slope_rx, (high - rx_m) * r2);
            greater(&mut scan.worst, over * over.abs() * (r1 * r2));
            greater(&mut scan.obstacle_m, over_plain);
            greater(&mut scan.obstacle_tx, over_plain * r1);
            greater(&mut scan.obstacle_rx, over_plain * r2);
        }
        scan
    }

    /// Knife-edge loss of the Bullington point, in dB, without surcharge.
    fn edge_loss_db(&self, wavelength_m: f64, total_m: f64, tx_m: f64, rx_m: f64) -> f64 {
        let v = bullington_parameter(self.slope_tx, self.slope_rx, self.worst, wavelength_m, total_m, tx_m, rx_m);
        knife_edge_loss_db(v)
    }
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

/// Sea, as the terrain methods take it. Source: ITU-R P.1812, P.452: 80 and 5 S/m.
pub const SEA: GroundConstants = GroundConstants { permittivity: 80.0, conductivity_spm: 5.0 };

/// Bullington part of the loss, in dB, surcharge included. See [`TerrainMethod`] for the arguments.
pub fn bullington_db(method: &TerrainMethod, distance_m: &[f64], height_m: &[f64], tx_m: f64, rx_m: f64) -> f64 {
    let total = span_m(distance_m);
    if total <= 0.0 {
        return 0.0;
    }
    let scan = Scan::over(distance_m, height_m, tx_m, rx_m, method.curvature_per_m());
    with_surcharge_db(scan.edge_loss_db(method.wavelength_m(), total, tx_m, rx_m), total)
}

/// Delta-Bullington loss in dB over a profile given as slices. See [`TerrainMethod`] for the arguments.
///
/// # Source
/// ITU-R P.526 §4.5.2, P.1812 §4.3.4: the Bullington loss, and what the spherical Earth adds to it for effective heights.
pub fn delta_bullington_db(method: &TerrainMethod, distance_m: &[f64], height_m: &[f64], tx_m: f64, rx_m: f64) -> f64 {
    let total = span_m(distance_m);
    if total <= 0.0 {
        return 0.0;
    }
    let bullington = |heights_m: &[f64], [tx_m, rx_m]: [f64; 2]| {
        let scan = Scan::over(distance_m, heights_m, tx_m, rx_m, method.curvature_per_m());
        (with_surcharge_db(scan.edge_loss_db(method.wavelength_m(), total, tx_m, rx_m), total), scan)
    };
    let (actual, scan) = bullington(height_m, [tx_m, rx_m]);
    let obstacle = Obstacle { height_m: scan.obstacle_m, slope_tx: scan.obstacle_tx, slope_rx: scan.obstacle_rx };
    let effective = SmoothFit::of(distance_m, height_m).effective_heights_m(tx_m, rx_m, obstacle);
    let (smooth, _) = bullington(&vec![0.0; distance_m.len()], effective);
    actual + (method.spherical_earth_db(total, effective) - smooth).max(0.0)
}

fn span_m(distance_m: &[f64]) -> f64 {
    match distance_m {
        [first, .., last] => last - first,
        _ => 0.0,
    }
}

#[inline(always)]
fn greater(best: &mut f64, value: f64) {
    *best = if value > *best { value } else { *best };
}

/// The highest thing above the ray: its height, and the steepest heights over each end's distance.
#[derive(Debug, Clone, Copy)]
struct Obstacle {
    pub height_m: f64,
    pub slope_tx: f64,
    pub slope_rx: f64,
}

/// Least-squares straight line through a terrain profile.
///
/// # Source
/// ITU-R P.1812 attachment 1 §5.6, P.452 attachment 2 §5.1.6 (identical).
#[derive(Debug, Clone, Copy)]
struct SmoothFit {
    ends_m: [f64; 2],
    ground_m: [f64; 2],
}

impl SmoothFit {
    /// Of a profile: the straight line with the least squares from the ground between the points, by its moments. Simpson's rule
    /// is exact for the ground, which is straight between points, and for its first moment.
    pub fn of(distance_m: &[f64], height_m: &[f64]) -> SmoothFit {
        let last = distance_m.len().min(height_m.len()) - 1;
        let (start, total) = (distance_m[0], distance_m[last] - distance_m[0]);
        let middle = start + 0.5 * total;
        let (mut area, mut moment) = (0.0, 0.0);
        for i in 0..last {
            let (a, b) = (distance_m[i] - middle, distance_m[i + 1] - middle);
            let (from, to) = (height_m[i], height_m[i + 1]);
            area += 0.5 * (b - a) * (from + to);
            moment += (b - a) / 6.0 * (a * from + (a + b) * (from + to) + b * to);
        }
        let (mean, slope) = (area / total, 12.0 * moment / total.powi(3));
        let ends_m = [mean - 0.5 * total * slope, mean + 0.5 * total * slope];
        SmoothFit { ends_m, ground_m: [height_m[0], height_m[last]] }
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
