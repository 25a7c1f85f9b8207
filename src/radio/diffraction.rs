//! Diffraction over edges and over terrain.
//!
//! Two families that must not be mixed on one path: the terrain method (Bullington and delta-Bullington), which adds
//! an empirical surcharge for rounded, rough terrain, and the edge methods (one edge, Deygout without surcharge, the
//! exact integral) for walls and roofs that are modelled as such. Against the exact integral the terrain surcharge puts
//! some 9 dB on one clean sharp edge; Deygout without it stays within 1 to 2 dB on up to three edges.

use super::complex::Complex;
use super::free_space::{WavePolarisation, wavelength_m};
use super::range::{OutOfRange, any_frequency, any_length, within};
use std::f64::consts::{FRAC_PI_2, PI};

/// Fresnel parameter below which the approximate knife-edge loss is zero.
const GRAZING_CLEAR: f64 = -0.78;

/// Approximate loss in dB of one knife edge against the Fresnel parameter v; 0 for v ≤ −0.78.
///
/// Within 0.12 dB of [`knife_edge_loss_exact_db`] for v > −0.78; below, the exact loss ripples between −1.4 and
/// +1.1 dB, which this leaves out on purpose. Any v.
///
/// # Source
/// ITU-R P.526 §4.1, equation (31): 6.9 + 20 log10(√((v − 0.1)² + 1) + v − 0.1).
#[inline]
pub fn knife_edge_loss_db(fresnel_parameter: f64) -> f64 {
    if fresnel_parameter <= GRAZING_CLEAR {
        return 0.0;
    }
    let u = fresnel_parameter - 0.1;
    6.9 + 20.0 * libm::log10((u * u + 1.0).sqrt() + u)
}

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
    Ok(-10.0 * libm::log10(field.norm_squared()))
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
            sum = sum + term * (1.0 / (2.0 * n + 1.0));
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
        Complex::turn(-FRAC_PI_2 * turns) / (tail * PI.sqrt())
    }
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
    Ok(-10.0 * libm::log10(field.norm_squared()))
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
                    sum = sum + *field * libm::exp(-stiffness * apart * apart);
                }
                sum * own(i, *t) * *w
            })
            .collect();
    }
    let integral = carried.iter().fold(Complex::new(0.0, 0.0), |sum, field| sum + *field);
    let scale = total / s.iter().product::<f64>() * (wave_number / (2.0 * PI)).powi(n as i32);
    let bend: f64 = h.iter().zip(&slope).map(|(h, slope)| h * slope).sum();
    integral * Complex::turn(-0.5 * wave_number * bend) * scale.sqrt()
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
    /// Sea, as the terrain methods take it. Source: ITU-R P.1812, P.452: 80 and 5 S/m.
    pub const SEA: GroundConstants = GroundConstants { permittivity: 80.0, conductivity_spm: 5.0 };
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

    /// Bullington part of the loss, in dB, surcharge included. See [`TerrainMethod`] for the arguments.
    pub fn bullington_db(&self, distance_m: &[f64], height_m: &[f64], tx_m: f64, rx_m: f64) -> f64 {
        let total = span_m(distance_m);
        if total <= 0.0 {
            return 0.0;
        }
        let scan = Scan::over(distance_m, height_m, tx_m, rx_m, 1.0 / self.earth_radius_m);
        with_surcharge_db(scan.edge_loss_db(self.wavelength_m, total, tx_m, rx_m), total)
    }

    /// Delta-Bullington loss in dB. See [`TerrainMethod`] for the arguments.
    pub fn loss_db(&self, distance_m: &[f64], height_m: &[f64], tx_m: f64, rx_m: f64) -> f64 {
        let total = span_m(distance_m);
        if total <= 0.0 {
            return 0.0;
        }
        let scan = Scan::over(distance_m, height_m, tx_m, rx_m, 1.0 / self.earth_radius_m);
        let actual = with_surcharge_db(scan.edge_loss_db(self.wavelength_m, total, tx_m, rx_m), total);
        let fit = SmoothFit::of(distance_m, height_m);
        let obstacle = Obstacle { height_m: scan.obstacle_m, slope_tx: scan.obstacle_tx, slope_rx: scan.obstacle_rx };
        let effective = fit.effective_heights_m(tx_m, rx_m, obstacle);
        actual + self.smooth_surplus_db(distance_m, total, effective)
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
/// the same answers as [`TerrainMethod::loss_db`] to rounding.
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

    #[test]
    fn grazing_rows_of_edges_follow_the_closed_form() {
        // n equal edges, equally spaced, at grazing incidence: amplitude 1/(n + 1) (Xia and Bertoni 1992).
        for n in 1..=6 {
            let spacings = vec![250.0; n + 1];
            let heights = vec![0.0; n];
            let loss = knife_edges_exact_db(2.4e9, Edges::new(&spacings, &heights).unwrap()).unwrap();
            assert!((loss - 20.0 * libm::log10(n as f64 + 1.0)).abs() < 1e-6, "{n} edges: {loss}");
        }
    }

    #[test]
    fn one_edge_of_the_integral_is_the_fresnel_integral() {
        // v from the geometry, then ITU-R P.526 equation (30).
        for height in [-12.0, -6.0, -1.0, 0.0, 3.0, 15.0, 80.0, 250.0] {
            let (spacings, heights) = ([400.0, 900.0], [height]);
            let v = fresnel_parameter(2.4e9, 400.0, 900.0, height).unwrap();
            let chain = knife_edges_exact_db(2.4e9, Edges::new(&spacings, &heights).unwrap()).unwrap();
            let direct = knife_edge_loss_exact_db(v).unwrap();
            assert!((chain - direct).abs() < 1e-4, "{height} m, v {v}: {chain} against {direct}");
        }
    }

    #[test]
    fn both_branches_of_the_fresnel_integral_meet() {
        let below = knife_edge_loss_exact_db(2.0 - 1e-9).unwrap();
        let above = knife_edge_loss_exact_db(2.0 + 1e-9).unwrap();
        assert!((below - above).abs() < 1e-7);
        // Deep shadow: 1/(π v √2) of the field, 13 + 20 log10 v in dB.
        let deep = knife_edge_loss_exact_db(1000.0).unwrap();
        assert!((deep - 20.0 * libm::log10(PI * 1000.0 * 2.0f64.sqrt())).abs() < 1e-5);
    }

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
                let (a, b) = (column.loss_db(&method, rx_m), method.loss_db(&distance, &height, tx_m, rx_m));
                assert!((a - b).abs() < 1e-9, "{rx_m}: {a} against {b}");
            }
        }
    }

    #[test]
    fn an_edge_pays_the_surcharge_only_under_the_terrain_method() {
        let (spacings, heights) = ([500.0, 700.0], [12.0]);
        let edges = Edges::new(&spacings, &heights).unwrap();
        let clean = single_edge_loss_db(868e6, 500.0, 700.0, 12.0).unwrap();
        assert!((deygout_raw_db(868e6, edges).unwrap() - clean).abs() < 1e-12);
        assert!(bullington_edges_db(868e6, edges).unwrap() > clean + 6.0);
    }
}
