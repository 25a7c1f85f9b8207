//! Shadowing: log-normal, correlated over distance, drawn as a field in space.

use super::maths::whole_and_rest;
use crate::chance::Source;
use rustfft::num_complex::Complex;
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
/// Side of the squares in which the bins are turned: a row of one fills a line of the cache.
const TURNED_AT_ONCE: usize = 4;

/// What all tiles share: the spectrum belongs to the tile's own spacing, whatever the correlation distance.
struct Spectrum {
    /// Standard deviation of each bin.
    amplitude: Vec<f64>,
    /// Cosine and sine of equally spaced phases.
    phases: [[f64; 2]; PHASES],
    transform: Arc<dyn rustfft::Fft<f64>>,
    /// Lag-one and diagonal correlation between grid points.
    near: f64,
    diagonal: f64,
}

static SPECTRUM: LazyLock<Spectrum> = LazyLock::new(Spectrum::new);

impl Spectrum {
    fn new() -> Spectrum {
        // The scalar transform gives the same bits whatever the processor offers.
        let transform = rustfft::FftPlannerScalar::<f64>::new().plan_fft_inverse(SIDE);
        let mut bins = Bins::new(&*transform);
        // Eigenvalues of the circulant covariance are the transform of its first row.
        for row in 0..SIDE {
            for column in 0..SIDE {
                let along = |k: usize| k.min(SIDE - k) as f64 / PER_DISTANCE;
                let distance = (along(row) * along(row) + along(column) * along(column)).sqrt();
                bins.bins[row * SIDE + column] = Complex { re: libm::exp(-distance), im: 0.0 };
            }
        }
        bins.transform(&*transform);
        Spectrum {
            amplitude: bins.bins.iter().map(|c| (c.re.max(0.0) / POINTS as f64).sqrt()).collect(),
            phases: std::array::from_fn(|index| {
                let phase_rad = std::f64::consts::TAU * index as f64 / PHASES as f64;
                [libm::cos(phase_rad), libm::sin(phase_rad)]
            }),
            transform,
            near: libm::exp(-1.0 / PER_DISTANCE),
            diagonal: libm::exp(-std::f64::consts::SQRT_2 / PER_DISTANCE),
        }
    }
}

/// The bins of two tiles, one as the real and one as the imaginary part of the field they make, with room to transform them.
#[derive(Clone)]
struct Bins {
    bins: Vec<Complex<f64>>,
    spare: Vec<Complex<f64>>,
    scratch: Vec<Complex<f64>>,
}

impl Bins {
    fn new(transform: &dyn rustfft::Fft<f64>) -> Bins {
        let zero = Complex { re: 0.0, im: 0.0 };
        Bins {
            bins: vec![zero; POINTS],
            spare: vec![zero; POINTS],
            scratch: vec![zero; transform.get_outofplace_scratch_len()],
        }
    }

    /// Gives a bin and its opposite what a wave has in both tiles. The tiles are real, so their opposite bins are conjugate.
    #[inline]
    fn lay(&mut self, bin: usize, opposite: usize, [a, b]: [Complex<f64>; 2]) {
        self.bins[bin] = Complex { re: a.re - b.im, im: a.im + b.re };
        self.bins[opposite] = Complex { re: a.re + b.im, im: b.re - a.im };
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
        let half = std::f64::consts::FRAC_1_SQRT_2;
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
                        true => Complex { re: amplitude * draw[first], im: 0.0 },
                        false => Complex { re: amplitude * half * draw[first], im: amplitude * half * draw[first + 1] },
                    };
                    self.lay(bin, opposite, draws.map(wave));
                }
            }
        }
    }

    /// From bins to points. Rows come out as columns, and columns as rows.
    fn transform(&mut self, transform: &dyn rustfft::Fft<f64>) {
        transform.process_outofplace_with_scratch(&mut self.bins, &mut self.spare, &mut self.scratch);
        for row in (0..SIDE).step_by(TURNED_AT_ONCE) {
            for column in (0..SIDE).step_by(TURNED_AT_ONCE) {
                for down in row..row + TURNED_AT_ONCE {
                    for along in column..column + TURNED_AT_ONCE {
                        self.bins[along * SIDE + down] = self.spare[down * SIDE + along];
                    }
                }
            }
        }
        transform.process_outofplace_with_scratch(&mut self.bins, &mut self.spare, &mut self.scratch);
        std::mem::swap(&mut self.bins, &mut self.spare);
    }
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
    value: Box<[f32; POINTS]>,
    /// The tile of the flight that shares the transform.
    neighbour: Box<[f32; POINTS]>,
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

/// A tile without any shadow, made where it lies: it is too large for the stack of a thread.
fn level() -> Box<[f32; POINTS]> {
    vec![0.0; POINTS].into_boxed_slice().try_into().unwrap_or_else(|_| unreachable!("a tile has {POINTS} points"))
}

impl ShadowTile {
    /// A tile for a correlation distance; all zero until [`ShadowTile::redraw`].
    pub fn new(correlation_distance_m: f64) -> ShadowTile {
        ShadowTile {
            per_m: PER_DISTANCE / correlation_distance_m,
            value: level(),
            neighbour: level(),
            drawn: None,
            bins: Bins::new(&*SPECTRUM.transform),
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
            self.bins.transform(&*SPECTRUM.transform);
            let (evens, odds) = match flight == even {
                true => (&mut self.value, &mut self.neighbour),
                false => (&mut self.neighbour, &mut self.value),
            };
            for ((even, odd), bin) in evens.iter_mut().zip(odds.iter_mut()).zip(&self.bins.bins) {
                (*even, *odd) = (bin.re as f32, bin.im as f32);
            }
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
