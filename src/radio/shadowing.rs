//! Shadowing: log-normal, correlated over distance, drawn as a field in space.

use super::maths::whole_and_rest;
use crate::chance::Source;
use rustfft::num_complex::Complex;
use std::sync::Arc;

/// Points along each side of a tile.
const SIDE: usize = 128;
/// Points per correlation distance.
const PER_DISTANCE: f64 = 4.0;

/// A periodic square of standard normal shadowing in space, covariance exp(−Δ/d), 32 correlation distances wide.
///
/// A function of place alone: hovering freezes it, and the way home along the same line meets the same shadows. Height is
/// not part of it: shadows are those of what stands on the ground.
///
/// # Source
/// Circulant embedding on the torus: Dietrich and Newsam, SIAM J. Sci. Comput. 18(4), 1997 (from memory).
#[derive(Clone)]
pub struct ShadowTile {
    per_m: f64,
    value: Vec<f32>,
    amplitude: Vec<f64>,
    bins: Vec<Complex<f64>>,
    turned: Vec<Complex<f64>>,
    scratch: Vec<Complex<f64>>,
    transform: Arc<dyn rustfft::Fft<f64>>,
    /// Lag-one and diagonal correlation between grid points.
    near: f64,
    diagonal: f64,
}

impl std::fmt::Debug for ShadowTile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("ShadowTile").field("per_m", &self.per_m).finish_non_exhaustive()
    }
}

impl ShadowTile {
    /// A tile for a correlation distance; all zero until [`ShadowTile::redraw`].
    pub fn new(correlation_distance_m: f64) -> ShadowTile {
        // The scalar transform gives the same bits whatever the processor offers.
        let transform = rustfft::FftPlannerScalar::<f64>::new().plan_fft_inverse(SIDE);
        let zero = Complex { re: 0.0, im: 0.0 };
        let mut tile = ShadowTile {
            per_m: PER_DISTANCE / correlation_distance_m,
            value: vec![0.0; SIDE * SIDE],
            amplitude: Vec::new(),
            bins: vec![zero; SIDE * SIDE],
            turned: vec![zero; SIDE * SIDE],
            scratch: vec![zero; transform.get_inplace_scratch_len()],
            transform,
            near: libm::exp(-1.0 / PER_DISTANCE),
            diagonal: libm::exp(-std::f64::consts::SQRT_2 / PER_DISTANCE),
        };
        // Eigenvalues of the circulant covariance are the transform of its first row.
        for row in 0..SIDE {
            for column in 0..SIDE {
                let along = |k: usize| k.min(SIDE - k) as f64 / PER_DISTANCE;
                let distance = (along(row) * along(row) + along(column) * along(column)).sqrt();
                tile.bins[row * SIDE + column] = Complex { re: libm::exp(-distance), im: 0.0 };
            }
        }
        tile.transform_both_ways();
        let points = (SIDE * SIDE) as f64;
        tile.amplitude = tile.bins.iter().map(|c| (c.re.max(0.0) / points).sqrt()).collect();
        tile
    }

    /// Draws the tile anew for a flight, without allocating.
    pub fn redraw(&mut self, source: &Source, flight: u32) {
        let half = std::f64::consts::FRAC_1_SQRT_2;
        // Hermitian spectrum: each pair of opposite bins takes one complex normal, a bin that is its own opposite a real
        // one. Four normals serve two bins of a row.
        for row in 0..=SIDE / 2 {
            let opposite_row = (SIDE - row) % SIDE;
            let last = if row == 0 || row == SIDE / 2 { SIDE / 2 } else { SIDE - 1 };
            for pair in 0..=last / 2 {
                let draw = source.normals(flight, row as u32, pair as u32);
                for (column, re, im) in [(2 * pair, draw[0], draw[1]), (2 * pair + 1, draw[2], draw[3])] {
                    if column > last {
                        continue;
                    }
                    let (bin, opposite) = (row * SIDE + column, opposite_row * SIDE + (SIDE - column) % SIDE);
                    let amplitude = self.amplitude[bin];
                    if bin == opposite {
                        self.bins[bin] = Complex { re: amplitude * re, im: 0.0 };
                    } else {
                        self.bins[bin] = Complex { re: amplitude * half * re, im: amplitude * half * im };
                        self.bins[opposite] = self.bins[bin].conj();
                    }
                }
            }
        }
        self.transform_both_ways();
        for (value, bin) in self.value.iter_mut().zip(&self.bins) {
            *value = bin.re as f32;
        }
    }

    fn transform_both_ways(&mut self) {
        for _ in 0..2 {
            self.transform.process_with_scratch(&mut self.bins, &mut self.scratch);
            for row in 0..SIDE {
                for column in 0..SIDE {
                    self.turned[column * SIDE + row] = self.bins[row * SIDE + column];
                }
            }
            std::mem::swap(&mut self.bins, &mut self.turned);
        }
    }

    /// Bilinear value at a place in units of the spacing, and the variance that interpolation leaves of it.
    #[inline]
    fn between(&self, x: f64, y: f64) -> (f64, f64) {
        let ((column, u), (row, v)) = (whole_and_rest(x), whole_and_rest(y));
        let column = (column as usize) & (SIDE - 1);
        let row = (row as usize) & (SIDE - 1);
        let (next_column, next_row) = ((column + 1) & (SIDE - 1), (row + 1) & (SIDE - 1));
        let value = |row: usize, column: usize| f64::from(self.value[(row * SIDE + column) & (SIDE * SIDE - 1)]);
        let low = value(row, column) + u * (value(row, next_column) - value(row, column));
        let high = value(next_row, column) + u * (value(next_row, next_column) - value(next_row, column));
        // From the correlation of the four corners.
        let (a, b) = (u * (1.0 - u), v * (1.0 - v));
        let (p, q) = (1.0 - 2.0 * a, 1.0 - 2.0 * b);
        let variance = p * q + 2.0 * self.near * (a * q + b * p) + 4.0 * self.diagonal * a * b;
        (low + v * (high - low), variance)
    }

    /// Shadowing at a place in standard deviations, positive for a *gain*; variance 1 everywhere.
    ///
    /// Interpolation between the points takes up to a fifth of the variance. What it takes is not scaled back up, which
    /// would stretch the correlation (0.42 instead of 0.37 at one correlation distance), but put back as finer detail: the
    /// same tile turned and shrunk nine times, weighted so that the points keep their values. The correlation then stays
    /// within 0.01 of exp(−Δ/d), averaged over places.
    #[inline]
    pub fn at(&self, x_m: f64, y_m: f64) -> f64 {
        let (x, y) = (x_m * self.per_m, y_m * self.per_m);
        let (coarse, kept) = self.between(x, y);
        let (fine, whole) = self.between(DETAIL[0] * x - DETAIL[1] * y + 40.3, DETAIL[1] * x + DETAIL[0] * y + 71.9);
        coarse + ((1.0 - kept).max(0.0) / whole).sqrt() * fine
    }
}

/// Turn and scale of the detail: 8.9 times finer, turned by 20 degrees.
const DETAIL: [f64; 2] = [8.363, 3.044];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Purpose;

    #[test]
    fn a_place_has_one_shadow() {
        let mut tile = ShadowTile::new(40.0);
        let source = Source::new(2, Purpose::Trial);
        tile.redraw(&source, 1);
        let out: Vec<f64> = (0..400).map(|i| tile.at(f64::from(i) * 1.3, 20.0 - f64::from(i) * 0.7)).collect();
        let back: Vec<f64> = (0..400).rev().map(|i| tile.at(f64::from(i) * 1.3, 20.0 - f64::from(i) * 0.7)).collect();
        assert!(out.iter().eq(back.iter().rev()), "out and back on one line");
        assert!((0..100).all(|_| tile.at(3.0, -4.0) == tile.at(3.0, -4.0)), "hovering");
        let kept = tile.at(3.0, -4.0);
        tile.redraw(&source, 2);
        assert_ne!(tile.at(3.0, -4.0), kept);
        tile.redraw(&source, 1);
        assert_eq!(tile.at(3.0, -4.0), kept, "a flight's tile repeats");
        // No step at a seam: the tile is periodic and continuous.
        for x in [-0.0, 320.0, 10.0] {
            assert!((tile.at(x - 1e-9, 5.0) - tile.at(x + 1e-9, 5.0)).abs() < 1e-6);
        }
    }
}
