//! Shadowing: log-normal, correlated over distance, drawn as a field in space.

use super::four::Four;
use super::maths::whole_and_rest;
use crate::chance::Source;
use rustfft::algorithm::MixedRadixSmall;
use rustfft::algorithm::butterflies::{Butterfly6, Butterfly16};
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftDirection, FftNum};
use std::sync::{Arc, LazyLock};

/// Points along each side of a tile.
const SIDE: usize = 96;
const POINTS: usize = SIDE * SIDE;
/// Points per correlation distance.
const PER_DISTANCE: f64 = 3.0;
/// Waves of so many periods across the tile or fewer, four correlation distances long or longer, have a random amplitude.
const SLOWEST: usize = 8;
/// Steps of a flight's stream at which the slow waves are drawn; those before are of the phases.
const SLOW_STEP: u32 = 1_000;
/// Phases that a wave may have.
const PHASES: usize = 256;
/// Rows or columns transformed at once.
const LANES: usize = 4;

/// What all tiles share: the spectrum belongs to the tile's own spacing, whatever the correlation distance.
struct Spectrum {
    /// Standard deviation of each bin.
    amplitude: Vec<f32>,
    /// Cosine and sine of equally spaced phases.
    phases: [[f32; 2]; PHASES],
    transform: MixedRadixSmall<Four>,
    /// Lag-one and diagonal correlation between grid points.
    near: f64,
    diagonal: f64,
}

static SPECTRUM: LazyLock<Spectrum> = LazyLock::new(Spectrum::new);

/// The transform of a side, always of these parts: a plan would choose them by the processor, and with them the last bits.
fn transform<T: FftNum>() -> MixedRadixSmall<T> {
    const { assert!(SIDE == 6 * 16) };
    let direction = FftDirection::Inverse;
    MixedRadixSmall::new(Arc::new(Butterfly6::new(direction)), Arc::new(Butterfly16::new(direction)))
}

impl Spectrum {
    fn new() -> Spectrum {
        // Eigenvalues of the circulant covariance are the transform of its first row.
        let along = |k: usize| k.min(SIDE - k) as f64 / PER_DISTANCE;
        let covariance = |at: usize| {
            let (down, across) = (along(at / SIDE), along(at % SIDE));
            Complex { re: libm::exp(-(down * down + across * across).sqrt()), im: 0.0 }
        };
        let rows_to_columns =
            |rows: &[Complex<f64>]| -> Vec<_> { (0..POINTS).map(|at| rows[at % SIDE * SIDE + at / SIDE]).collect() };
        let transform_rows = transform::<f64>();
        let mut bins: Vec<Complex<f64>> = (0..POINTS).map(covariance).collect();
        transform_rows.process(&mut bins);
        bins = rows_to_columns(&bins);
        transform_rows.process(&mut bins);
        Spectrum {
            amplitude: bins.iter().map(|c| (c.re.max(0.0) / POINTS as f64).sqrt() as f32).collect(),
            phases: std::array::from_fn(|index| {
                let phase_rad = std::f64::consts::TAU * index as f64 / PHASES as f64;
                [libm::cos(phase_rad) as f32, libm::sin(phase_rad) as f32]
            }),
            transform: transform(),
            near: libm::exp(-1.0 / PER_DISTANCE),
            diagonal: libm::exp(-std::f64::consts::SQRT_2 / PER_DISTANCE),
        }
    }
}

/// A tile, or one part of the bins of two, row by row.
type Points = Box<[f32; POINTS]>;

/// Points that are all zero, made where they lie: they are too many for the stack of a thread.
fn level() -> Points {
    vec![0.0; POINTS].into_boxed_slice().try_into().unwrap_or_else(|_| unreachable!("a tile has {POINTS} points"))
}

/// The bins of two tiles, one as the real and one as the imaginary part of the field they make, with room to transform them.
#[derive(Clone)]
struct Bins {
    re: Points,
    im: Points,
    /// All rows, in groups of four, one row to a lane; four columns, one to a lane.
    rows: Vec<Complex<Four>>,
    columns: Vec<Complex<Four>>,
    scratch: Vec<Complex<Four>>,
}

impl Bins {
    fn new() -> Bins {
        let zero = |count: usize| vec![Complex { re: Four([0.0; LANES]), im: Four([0.0; LANES]) }; count];
        Bins { re: level(), im: level(), rows: zero(POINTS / LANES), columns: zero(SIDE), scratch: zero(SIDE) }
    }

    /// Gives a bin and its opposite what a wave has in both tiles. The tiles are real, so their opposite bins are conjugate.
    #[inline]
    fn lay(&mut self, bin: usize, opposite: usize, [a, b]: [Complex<f32>; 2]) {
        (self.re[bin], self.im[bin]) = (a.re - b.im, a.im + b.re);
        (self.re[opposite], self.im[opposite]) = (a.re + b.im, b.re - a.im);
    }

    /// Draws all bins for two flights.
    fn draw(&mut self, spectrum: &Spectrum, source: &Source, flights: [u32; 2]) {
        for row in 0..=SIDE / 2 {
            let phases = flights.map(|flight| phases_of(source, flight, row));
            let opposite_row = (SIDE - row) % SIDE;
            // In a row that is its own opposite, the second half is the opposite of the first.
            let columns = if row == opposite_row { 1..SIDE / 2 } else { 0..SIDE };
            for column in columns {
                let (bin, opposite) = (row * SIDE + column, opposite_row * SIDE + (SIDE - column) % SIDE);
                let amplitude = spectrum.amplitude[bin];
                let wave = |phases: &[u8; SIDE]| {
                    let [re, im] = spectrum.phases[usize::from(phases[column])];
                    Complex { re: amplitude * re, im: amplitude * im }
                };
                self.lay(bin, opposite, [wave(&phases[0]), wave(&phases[1])]);
            }
            if row == opposite_row {
                // A bin that is its own opposite is real.
                for column in [0, SIDE / 2] {
                    let bin = row * SIDE + column;
                    let amplitude = spectrum.amplitude[bin];
                    let sign = |phases: &[u8; SIDE]| if usize::from(phases[column]) < PHASES / 2 { 1.0 } else { -1.0 };
                    let wave = |phases: &[u8; SIDE]| Complex { re: amplitude * sign(phases), im: 0.0 };
                    self.lay(bin, bin, [wave(&phases[0]), wave(&phases[1])]);
                }
            }
        }
        self.draw_slow(spectrum, source, flights);
    }

    /// Draws the slow waves in place of those of fixed amplitude: complex normals, and a real one for what the whole tile has.
    fn draw_slow(&mut self, spectrum: &Spectrum, source: &Source, flights: [u32; 2]) {
        let half = std::f32::consts::FRAC_1_SQRT_2;
        for row in 0..=SLOWEST {
            let step = SLOW_STEP + row as u32;
            for pair in 0..=SLOWEST as u32 {
                let draws = flights.map(|flight| source.normals(flight, step, pair));
                for (first, at) in [(0, 2 * pair as usize), (2, 2 * pair as usize + 1)] {
                    // Columns from −SLOWEST on; in the row of no waves across, the negative ones are the opposites of the others.
                    let behind = SLOWEST.abs_diff(at);
                    let slow = row * row + behind * behind <= SLOWEST * SLOWEST;
                    if !slow || (row == 0 && at < SLOWEST) {
                        continue;
                    }
                    let column = (SIDE + at - SLOWEST) % SIDE;
                    let (bin, opposite) = (row * SIDE + column, (SIDE - row) % SIDE * SIDE + (SIDE - column) % SIDE);
                    let amplitude = spectrum.amplitude[bin];
                    let wave = |draw: [f64; 4]| match bin == opposite {
                        true => Complex { re: amplitude * draw[first] as f32, im: 0.0 },
                        false => Complex {
                            re: amplitude * half * draw[first] as f32,
                            im: amplitude * half * draw[first + 1] as f32,
                        },
                    };
                    self.lay(bin, opposite, draws.map(wave));
                }
            }
        }
    }

    /// From bins to points: columns first, then rows, four of them at once.
    fn transform(&mut self, transform: &MixedRadixSmall<Four>) {
        for column in (0..SIDE).step_by(LANES) {
            for (row, to) in self.columns.iter_mut().enumerate() {
                let at = row * SIDE + column;
                *to = Complex { re: Four::of(&self.re[at..at + LANES]), im: Four::of(&self.im[at..at + LANES]) };
            }
            transform.process_with_scratch(&mut self.columns, &mut self.scratch);
            for (rows, from) in self.rows.chunks_exact_mut(SIDE).zip(self.columns.chunks_exact(LANES)) {
                rows[column..column + LANES].copy_from_slice(&turned(from));
            }
        }
        for (four, rows) in self.rows.chunks_exact_mut(SIDE).enumerate() {
            transform.process_with_scratch(rows, &mut self.scratch);
            for (column, from) in (0..SIDE).step_by(LANES).zip(rows.chunks_exact(LANES)) {
                for (lane, point) in turned(from).iter().enumerate() {
                    let at = (four * LANES + lane) * SIDE + column;
                    self.re[at..at + LANES].copy_from_slice(&point.re.0);
                    self.im[at..at + LANES].copy_from_slice(&point.im.0);
                }
            }
        }
    }
}

/// Rows as columns: what four numbers have in their first lane, in their second, and so on.
#[inline(always)]
fn turned(four: &[Complex<Four>]) -> [Complex<Four>; LANES] {
    let [a, b, c, d] = Four::turned([four[0].re, four[1].re, four[2].re, four[3].re]);
    let [e, f, g, h] = Four::turned([four[0].im, four[1].im, four[2].im, four[3].im]);
    [Complex { re: a, im: e }, Complex { re: b, im: f }, Complex { re: c, im: g }, Complex { re: d, im: h }]
}

/// The phases of a row of bins for a flight, a byte each.
fn phases_of(source: &Source, flight: u32, row: usize) -> [u8; SIDE] {
    let mut phases = [0; SIDE];
    for (block, sixteen) in phases.chunks_exact_mut(16).enumerate() {
        let words = source.words(flight, row as u32, block as u32);
        for (four, word) in sixteen.chunks_exact_mut(4).zip(words) {
            four.copy_from_slice(&word.to_le_bytes());
        }
    }
    phases
}

/// A periodic square of standard normal shadowing in space, covariance exp(−Δ/d), 32 correlation distances wide.
///
/// A function of place alone: hovering freezes it, and the way home along the same line meets the same shadows. Height is
/// not part of it: shadows are those of what stands on the ground.
///
/// A tile is a sum of waves, one for each pair of opposite bins of its spectrum. The waves have the amplitude that the spectrum gives
/// them and a uniform phase, which is cheap to draw; the sum of thousands of them is normal at every place as far as anybody could
/// tell. What that leaves out: the mean square of such waves over the whole tile is the same in every flight. A stretch as long as a
/// flight would meet a little too little difference between flights in its slow ups and downs, which few waves make; so the slowest
/// waves, about 200 bins, are complex normals, with an amplitude that differs from flight to flight. Phases are multiples of 1/256 of
/// a turn: the mean of exp(imφ) over these is zero for every whole m that is no multiple of 256, as over all phases, so that no joint
/// moment of the tile below the 256th knows the difference.
///
/// One complex transform makes two tiles, those of the flights 2k and 2k + 1. Each is drawn from its own flight's stream, so that the
/// two know nothing of each other.
///
/// # Source
/// Circulant embedding on the torus: Dietrich and Newsam, SIAM J. Sci. Comput. 18(4), 1997 (from memory). Waves of fixed amplitude:
/// spectral representation, Shinozuka and Deodatis, Appl. Mech. Rev. 44(4), 1991, and 49(1), 1996 (from memory).
#[derive(Clone)]
pub struct ShadowTile {
    per_m: f64,
    value: Points,
    /// The tile of the flight that shares the transform.
    neighbour: Points,
    /// Stream and flight that `value` is of.
    drawn: Option<Drawn>,
    bins: Bins,
    /// Lag-one and diagonal correlation between grid points.
    near: f64,
    diagonal: f64,
}

/// Whose tile it is.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Drawn {
    source: Source,
    flight: u32,
}

impl std::fmt::Debug for ShadowTile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("ShadowTile").field("per_m", &self.per_m).field("drawn", &self.drawn).finish_non_exhaustive()
    }
}

impl ShadowTile {
    /// A tile for a correlation distance; all zero until [`ShadowTile::redraw`].
    pub fn new(correlation_distance_m: f64) -> ShadowTile {
        ShadowTile {
            per_m: PER_DISTANCE / correlation_distance_m,
            value: level(),
            neighbour: level(),
            drawn: None,
            bins: Bins::new(),
            near: SPECTRUM.near,
            diagonal: SPECTRUM.diagonal,
        }
    }

    /// Becomes the tile of a flight, without allocating. What it was before does not matter, but saves the work when it was that of
    /// the neighbour: of the flight whose number differs in the last bit alone.
    pub fn redraw(&mut self, source: &Source, flight: u32) {
        let wanted = Drawn { source: *source, flight };
        let neighbour = Drawn { flight: flight ^ 1, ..wanted };
        if self.drawn == Some(neighbour) {
            std::mem::swap(&mut self.value, &mut self.neighbour);
        } else if self.drawn != Some(wanted) {
            let even = flight & !1;
            self.bins.draw(&SPECTRUM, source, [even, even | 1]);
            self.bins.transform(&SPECTRUM.transform);
            let (evens, odds) = match flight == even {
                true => (&mut self.value, &mut self.neighbour),
                false => (&mut self.neighbour, &mut self.value),
            };
            std::mem::swap(evens, &mut self.bins.re);
            std::mem::swap(odds, &mut self.bins.im);
        }
        self.drawn = Some(wanted);
    }

    /// Bilinear value at a place in units of the spacing, and the variance that interpolation leaves of it.
    #[inline]
    fn between(&self, x: f64, y: f64) -> (f64, f64) {
        let ((column, u), (row, v)) = (whole_and_rest(x), whole_and_rest(y));
        let wrapped = |index: i32| index.rem_euclid(SIDE as i32) as usize;
        let (column, row) = (wrapped(column), wrapped(row));
        let next = |index: usize| if index + 1 == SIDE { 0 } else { index + 1 };
        let (next_column, next_row) = (next(column), next(row));
        let value = |row: usize, column: usize| f64::from(self.value[row * SIDE + column]);
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
    /// Interpolation between the points takes up to a quarter of the variance. What it takes is not scaled back up, which
    /// would stretch the correlation, but put back as finer detail: the same tile turned and shrunk seven and a half times,
    /// weighted so that the points keep their values. The correlation then stays within 0.013 of exp(−Δ/d), averaged over places, and
    /// within 0.009 from a tenth of the correlation distance on (computed from the weights).
    #[inline]
    pub fn at(&self, x_m: f64, y_m: f64) -> f64 {
        let (x, y) = (x_m * self.per_m, y_m * self.per_m);
        let (coarse, kept) = self.between(x, y);
        let (fine, whole) = self.between(DETAIL[0] * x - DETAIL[1] * y + 40.3, DETAIL[1] * x + DETAIL[0] * y + 71.9);
        coarse + ((1.0 - kept).max(0.0) / whole).sqrt() * fine
    }
}

/// Turn and scale of the detail: 7.5 times finer, turned by 20 degrees. Finer detail leaves too little correlation over short ways,
/// coarser detail too much.
const DETAIL: [f64; 2] = [7.048, 2.565];

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

    /// The definition of the transform, term by term in double precision, and the same transform of one row or column after another.
    #[test]
    fn four_at_once_are_transformed_like_one() {
        let source = Source::new(5, Purpose::Trial);
        let mut bins = Bins::new();
        bins.draw(&SPECTRUM, &source, [8, 9]);
        let alone = transform::<f32>();
        let mut points: Vec<_> = bins.re.iter().zip(bins.im.iter()).map(|(&re, &im)| Complex { re, im }).collect();
        let spectrum = points.clone();
        for _ in 0..2 {
            points = (0..POINTS).map(|at| points[at % SIDE * SIDE + at / SIDE]).collect();
            alone.process(&mut points);
        }
        bins.transform(&SPECTRUM.transform);
        for (at, point) in points.iter().enumerate() {
            assert_eq!([bins.re[at], bins.im[at]].map(f32::to_bits), [point.re, point.im].map(f32::to_bits));
        }
        for (row, column) in [(0, 0), (5, 17), (61, 40), (95, 95)] {
            let turn = |along: usize| std::f64::consts::TAU * (along % SIDE) as f64 / SIDE as f64;
            let waves = spectrum.iter().enumerate().map(|(bin, wave)| {
                let (sin, cos) = turn(row * (bin / SIDE) + column * (bin % SIDE)).sin_cos();
                f64::from(wave.re) * cos - f64::from(wave.im) * sin
            });
            let (sum, found) = (waves.sum::<f64>(), f64::from(bins.re[row * SIDE + column]));
            assert!((found - sum).abs() < 1e-5, "{found} at {row}, {column}, by definition {sum}");
        }
    }

    /// Whichever flight was drawn before, a flight has one tile.
    #[test]
    fn a_tile_depends_on_its_flight_alone() {
        let sources = [2, 3].map(|seed| Source::new(seed, Purpose::Trial));
        let bits = |tile: &ShadowTile| tile.value.map(f32::to_bits);
        let alone = |source: &Source, flight: u32| {
            let mut tile = ShadowTile::new(40.0);
            tile.redraw(source, flight);
            bits(&tile)
        };
        let mut used = ShadowTile::new(40.0);
        for (source, flight) in [(0, 7), (0, 6), (0, 6), (1, 7), (0, 7), (0, 1), (1, 0), (0, 0), (0, 1), (0, 2)] {
            used.redraw(&sources[source], flight);
            assert!(bits(&used) == alone(&sources[source], flight), "flight {flight} of {source}");
        }
        assert!(bits(&used) != alone(&sources[0], 3) && bits(&used) != alone(&sources[1], 2));
    }
}
