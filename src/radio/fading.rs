//! Small-scale fading: Rician outage, crossings, correlation in time and frequency, and the process met in flight.

use super::maths::{nearest_whole, quick_db};
use crate::chance::Source;
use crate::units::ratio_from_db;

/// Separation at which the correlation over frequency falls to one half; infinite without delay spread.
pub fn coherence_bandwidth_hz(rms_delay_s: f64) -> f64 {
    1.0 / (std::f64::consts::TAU * rms_delay_s)
}

/// Rician K in dB at an elevation, linear in the angle between the horizon's and the zenith's value.
///
/// # Source
/// Azari et al. (2018), exponential growth of linear K with elevation (from memory).
pub fn k_db_at_elevation(k_db_horizon: f64, k_db_zenith: f64, elevation_rad: f64) -> f64 {
    k_db_horizon + (k_db_zenith - k_db_horizon) * (elevation_rad.abs() / std::f64::consts::FRAC_PI_2).clamp(0.0, 1.0)
}

/// A line of sight and what is scattered around it, between antennas that look at each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rays {
    /// Rician K, dB.
    pub k_db: f64,
    /// Power of the line of sight and of the scattered field; they add to 1.
    pub powers: [f64; 2],
}

/// [`Rays`] as antennas receive them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Received {
    /// Rician K, dB; −∞ without a line of sight.
    pub k_db: f64,
    /// Powers of the line of sight and of the scattered field, whatever they add to.
    pub powers: [f64; 2],
    /// What is lost of the whole power, dB; negative for a gain.
    pub loss_db: f64,
}

/// Amplitudes of a line of sight and of the scattered field around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amplitudes {
    /// Of the line of sight.
    pub line: f64,
    /// Of the scattered field.
    pub scattered: f64,
}

impl Amplitudes {
    /// Of powers, scaled to a mean power of 1.
    #[inline]
    pub fn of_powers([line, scattered]: [f64; 2]) -> Amplitudes {
        let inverse = 1.0 / (line + scattered);
        Amplitudes { line: (line * inverse).sqrt(), scattered: (scattered * inverse).sqrt() }
    }

    /// At a linear K: a mean power of 1.
    pub fn of_k(k: f64) -> Amplitudes {
        Amplitudes { line: (k / (1.0 + k)).sqrt(), scattered: (1.0 / (1.0 + k)).sqrt() }
    }

    /// Momentary power relative to its mean where the diffuse field is this, as a ratio; never 0.
    #[inline]
    pub fn level(&self, field: [f64; 2]) -> f64 {
        let re = self.line + self.scattered * field[0];
        let im = self.scattered * field[1];
        re * re + im * im + 1e-12
    }
}

/// From this share of blocking on there is no line of sight.
pub const BLOCKED: f64 = 0.95;

impl Rays {
    /// Between isotropic antennas in free space at a linear K.
    pub fn of_k_db(k_db: f64) -> Rays {
        let k = ratio_from_db(k_db);
        Rays { k_db, powers: [k / (1.0 + k), 1.0 / (1.0 + k)] }
    }

    /// What antennas receive that take the direct ray with `direct_share` of its power (`direct_loss_db` in decibels), while
    /// the straight line is cut to a share `blocked`.
    ///
    /// Scatter comes from elsewhere and keeps its power, so that K falls with the direct ray. Towards the edge of a shadow
    /// the line of sight fades out and K with it; what bends round the edge then comes along its direction.
    #[inline(always)]
    pub fn received(&self, direct_share: f64, direct_loss_db: f64, blocked: f64) -> Received {
        let [line, scattered] = self.powers;
        let direct = line * direct_share;
        let loss_db = -quick_db(direct + scattered);
        let k_db = self.k_db - direct_loss_db;
        if blocked <= 0.0 {
            Received { k_db, powers: [direct, scattered], loss_db }
        } else if blocked < BLOCKED {
            let open = 1.0 - blocked;
            Received { k_db: k_db + quick_db(open), powers: [open * direct, scattered], loss_db }
        } else {
            Received { k_db: f64::NEG_INFINITY, powers: [0.0, 1.0], loss_db }
        }
    }
}

/// From this many coherence bands on hops fade independently of each other packet by packet: a craft that hops over so many
/// is not back in one before its luck has changed. Estimate.
pub const INDEPENDENT_BANDS: u32 = 16;

/// Samples of each tape.
const TAPE_LENGTH: usize = 1 << 14;
/// Samples per wavelength of the two tapes: each repeats after some 500 wavelengths, their sum after 1.6 million.
const PER_WAVELENGTH: [f64; 2] = [32.0, 36.97];
/// Places on a tape are whole numbers of this part of a sample.
const PARTS: f64 = 65_536.0;

/// A diffuse field along the way travelled: complex Gaussian, isotropic scattering in the plane, unit mean power.
///
/// Its autocorrelation over a distance s is J₀(2πs/λ), so that Clarke's and Jakes' closed forms (and Rice's crossing
/// rates with a line of sight added) hold: the power spectrum is put in exactly, bin by bin, with random phases (about
/// two thousand waves, so Gaussian by their number). One immutable pair of periodic tapes serves all flights of a world;
/// each (flight, band) reads both from places of its own and adds them. After some 440 and 512 wavelengths one of them
/// comes round again, and half the power with it. The field is a function of the distance
/// travelled, not of time: a craft that does not move stays in its fade. No wave comes from straight abeam, where the
/// field would stand still, so that the mean over each tape is 0.
#[derive(Debug, Clone)]
pub struct DiffuseField {
    /// One sample more than the length: the first again.
    tapes: [Box<[[f32; 2]; TAPE_LENGTH + 1]>; 2],
}

/// Where one (flight, band) starts to read the tapes, in 65,536ths of a sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiffuseRead {
    start: [u64; 2],
}

impl DiffuseField {
    /// Draws the tapes from blocks of `source` under flight number `u32::MAX`, which no flight has.
    pub fn new(source: &Source) -> DiffuseField {
        let inverse = rustfft::FftPlannerScalar::<f64>::new().plan_fft_inverse(TAPE_LENGTH);
        let tape = |which: usize| {
            let turns_per_bin = PER_WAVELENGTH[which] / TAPE_LENGTH as f64;
            // Share of Clarke's arcsine distribution of spatial frequencies (in turns per wavelength) within each bin.
            let below = |nu: f64| 0.5 + libm::asin(nu.clamp(-1.0, 1.0)) / std::f64::consts::PI;
            let mut bins = vec![rustfft::num_complex::Complex { re: 0.0, im: 0.0 }; TAPE_LENGTH];
            let share = |bin: i64| {
                let nu = bin as f64 * turns_per_bin;
                below(nu + 0.5 * turns_per_bin) - below(nu - 0.5 * turns_per_bin)
            };
            let span = (1.0 / turns_per_bin) as i64 + 1;
            for bin in (-span..=span).filter(|&bin| bin != 0) {
                let power = share(bin) / (1.0 - share(0));
                let slot = bin.rem_euclid(TAPE_LENGTH as i64) as usize;
                let angle = std::f64::consts::TAU * source.units(u32::MAX, which as u32, slot as u32)[0];
                // Half the power from either tape.
                let (amplitude, cos, sin) = ((0.5 * power).sqrt(), libm::cos(angle), libm::sin(angle));
                bins[slot] = rustfft::num_complex::Complex { re: amplitude * cos, im: amplitude * sin };
            }
            inverse.process(&mut bins);
            let mut tape = Box::new([[0.0; 2]; TAPE_LENGTH + 1]);
            for (sample, bin) in tape.iter_mut().zip(bins.iter().chain(bins.first())) {
                *sample = [bin.re as f32, bin.im as f32];
            }
            tape
        };
        DiffuseField { tapes: [tape(0), tape(1)] }
    }

    /// Where flight `flight` reads for coherence band `band`.
    pub fn read(&self, source: &Source, flight: u32, band: u32) -> DiffuseRead {
        // Blocks above 2³¹ are never used by the steps of a flight.
        let place = source.units(flight, u32::MAX, 0x8000_0000 + band);
        DiffuseRead { start: place.map(|share| (share * TAPE_LENGTH as f64 * PARTS) as u64) }
    }

    /// The field where a way stands.
    #[inline(always)]
    pub fn on_way(&self, read: &DiffuseRead, way: &DiffuseWay) -> [f64; 2] {
        let [re_0, im_0] = self.sample(0, read, way);
        let [re_1, im_1] = self.sample(1, read, way);
        [f64::from(re_0 + re_1), f64::from(im_0 + im_1)]
    }

    #[inline(always)]
    fn sample(&self, which: usize, read: &DiffuseRead, way: &DiffuseWay) -> [f32; 2] {
        let tape = &self.tapes[which];
        let place = read.start[which].wrapping_add(way.place[which]);
        let at = (place >> 16) as usize & (TAPE_LENGTH - 1);
        let t = f32::from(place as u16) * (1.0 / PARTS as f32);
        // Linear: at 32 samples per wavelength the fastest wave loses at most 0.5 % of its amplitude.
        let (a, b) = (tape[at], tape[at + 1]);
        [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
    }
}

/// A way through the field in equal steps, in 65,536ths of a sample of either tape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiffuseWay {
    place: [u64; 2],
    step: [u64; 2],
}

impl DiffuseWay {
    /// From `travelled` wavelengths (0 to 5e8) on in steps of `each`.
    #[inline(always)]
    pub fn new(travelled: f64, each: f64) -> DiffuseWay {
        let parts = |wavelengths: f64, which: usize| nearest_whole(wavelengths * (PER_WAVELENGTH[which] * PARTS));
        DiffuseWay { place: [parts(travelled, 0), parts(travelled, 1)], step: [parts(each, 0), parts(each, 1)] }
    }

    /// Goes on by a step.
    #[inline(always)]
    pub fn go_on(&mut self) {
        self.place = [self.place[0].wrapping_add(self.step[0]), self.place[1].wrapping_add(self.step[1])];
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Purpose;

    /// However much of the direct ray the antennas lose, the scattered power stays; K falls decibel by decibel; blocked,
    /// there is no line of sight, and the power is the same.
    #[test]
    fn turned_away_from_the_line_of_sight_scatter_stays() {
        for (k_db, loss_db) in [(14.0, 3.0), (14.0, 24.0), (8.0, 8.0), (8.0, -2.0), (-3.0, 10.0), (30.0, 20.0)] {
            let rays = Rays::of_k_db(k_db);
            let now = rays.received(ratio_from_db(-loss_db), loss_db, 0.0);
            let now_at = Amplitudes::of_powers(now.powers);
            let (direct_now, scattered_now) = (now_at.line.powi(2), now_at.scattered.powi(2));
            assert!((direct_now + scattered_now - 1.0).abs() < 1e-12);
            assert!((now.k_db - (k_db - loss_db)).abs() < 1e-9);
            assert!((10.0 * (direct_now / scattered_now).log10() - now.k_db).abs() < 1e-6);
            let kept = scattered_now * ratio_from_db(-now.loss_db) / rays.powers[1];
            assert!((kept - 1.0).abs() < 1e-5, "{k_db} {loss_db}: {kept}");
            let blocked = rays.received(ratio_from_db(-loss_db), loss_db, 1.0);
            assert_eq!(
                (blocked.k_db, Amplitudes::of_powers(blocked.powers), blocked.loss_db),
                (f64::NEG_INFINITY, Amplitudes { line: 0.0, scattered: 1.0 }, now.loss_db)
            );
            let edge = rays.received(ratio_from_db(-loss_db), loss_db, 0.5);
            assert!((edge.k_db - (now.k_db - 3.0103)).abs() < 1e-4 && edge.loss_db == now.loss_db);
            let at = Amplitudes::of_powers(edge.powers);
            assert!((10.0 * (at.line / at.scattered).powi(2).log10() - edge.k_db).abs() < 1e-4);
        }
    }

    /// Autocorrelation of the tapes against J₀ over ten wavelengths, and unit power.
    #[test]
    fn the_diffuse_field_has_clarkes_autocorrelation() {
        let source = Source::new(5, Purpose::Trial);
        let field = DiffuseField::new(&source);
        let lags = [0.0, 0.1, 0.25, 0.383, 0.6, 1.0, 2.3];
        let mut sums = [0.0; 7];
        let mut count = 0.0;
        for flight in 0..200 {
            let read = field.read(&source, flight, 3);
            for step in 0..300 {
                let s = f64::from(step) * 3.7;
                let here = field.on_way(&read, &DiffuseWay::new(s, 0.0));
                for (sum, lag) in sums.iter_mut().zip(lags) {
                    let there = field.on_way(&read, &DiffuseWay::new(s + lag, 0.0));
                    *sum += here[0] * there[0] + here[1] * there[1];
                }
                count += 1.0;
            }
        }
        for (sum, lag) in sums.iter().zip(lags) {
            let want = libm::j0(std::f64::consts::TAU * lag);
            assert!((sum / count - want).abs() < 0.025, "lag {lag}: {} against {want}", sum / count);
        }
    }
}
