//! The air around one craft: mean wind, its slow drift, turbulence, a gust.

use crate::air::gust;
use crate::air::turbulence::{Dryden, LEAST_AIRSPEED_MPS, LowAltitude};
use crate::chance::{Source, standard_normal_quick};
use crate::scenario::Weather;
use crate::world::{AirField, MeanWind};

/// Blocks of a step's draws.
const TURBULENCE_BLOCK: u32 = 0;
const DRIFT_BLOCK: u32 = 1;

/// The step that values drawn once per flight are keyed by.
const ONCE: u32 = u32::MAX;

/// Time between the corner points of the slow drift, s. They are keyed by time, so the drift of a flight is the same
/// whatever the step.
const DRIFT_EVERY_S: f64 = 1.0;

/// How long one answer holds, to the nearest step. The filter of the turbulence is exact for any interval, and in 0.1 s a
/// craft sweeps a metre or two of eddies that are tens of metres long.
const HELD_S: f64 = 0.1;

/// What stays the same about the air over one flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirSetup {
    /// Mean wind of the flight by place and height.
    pub mean: MeanWind,
    /// Density of the air over the site, kg/m³.
    pub density_kgpm3: f64,
    /// Standard deviation of the vertical turbulence, m/s.
    pub sigma_w_mps: f64,
    /// Standard deviation of the slow drift, per component.
    drift_mps: f64,
    /// Share of the drift left after [`DRIFT_EVERY_S`], and gain of what is new.
    drift_step: [f64; 2],
    gust: Gust,
}

/// The discrete gust.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Gust {
    peak_mps: f64,
    length_m: f64,
    moment_s: f64,
}

/// The air as it is now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirState {
    /// Turbulence.
    turbulence: Dryden,
    /// Drift at the last and the next corner point over its standard deviation: east, north.
    drift: [[f64; 2]; 2],
    /// Number of the last corner point.
    corner: u32,
    /// How far the craft is into the gust.
    gust_m: f64,
    /// The wind last answered, the step at which it is found anew, and steps between; 0 before the first.
    held_mps: [f64; 3],
    renew_at: u32,
    held_steps: u32,
}

impl AirSetup {
    /// The air of a flight. `duration_s` is the time over which the discrete gust may come; its moment is drawn
    /// from `source` (purpose wind).
    pub fn new(weather: &Weather<f64>, field: &AirField, source: &Source, flight: u32, duration_s: f64) -> AirSetup {
        let left = if weather.drift_memory_s > 0.0 { libm::exp(-DRIFT_EVERY_S / weather.drift_memory_s) } else { 0.0 };
        AirSetup {
            mean: field.mean_wind(weather),
            density_kgpm3: field.density_kgpm3(weather),
            sigma_w_mps: field.sigma_w_mps(weather).max(0.0),
            drift_mps: weather.drift_mps,
            drift_step: [left, (1.0 - left * left).sqrt()],
            gust: Gust {
                peak_mps: weather.gust_mps,
                length_m: weather.gust_length_m.max(1.0),
                moment_s: duration_s * source.units(flight, ONCE, 2)[0],
            },
        }
    }
}

impl AirState {
    /// The air at take-off, drawn from its stationary law.
    pub fn new(setup: &AirSetup, source: &Source, flight: u32) -> AirState {
        let [east, north, ..] = source.normals(flight, ONCE, DRIFT_BLOCK);
        let first = [east, north];
        AirState {
            turbulence: Dryden::stationary(five_normals(source, flight, ONCE)),
            drift: [first, setup.next_corner(first, source, flight, 1)],
            corner: 0,
            gust_m: 0.0,
            held_mps: [0.0; 3],
            renew_at: 0,
            held_steps: 0,
        }
    }

    /// Goes on by one step and gives the wind at the craft: east, north, up.
    ///
    /// `step` counts from 0 at take-off in steps of `step_s`. Draws are keyed by the flight and the tenth of a second, so
    /// every policy meets the same air at the same moment, whatever the step (as far as it divides that tenth); only the
    /// way through it differs.
    #[inline]
    #[allow(clippy::too_many_arguments)]
    pub fn step(
        &mut self,
        setup: &AirSetup,
        field: &AirField,
        source: &Source,
        flight: u32,
        step: u32,
        step_s: f64,
        place_m: [f64; 3],
        height_agl_m: f64,
        velocity_mps: [f64; 3],
    ) -> [f64; 3] {
        if step >= self.renew_at {
            if self.held_steps == 0 {
                self.held_steps = ((HELD_S / step_s).round() as u32).max(1);
            }
            let number = step / self.held_steps;
            self.renew_at = (number + 1) * self.held_steps;
            let time_s = f64::from(step) * step_s;
            let span_s = f64::from(self.held_steps) * step_s;
            self.held_mps =
                self.renew(setup, field, source, flight, number, time_s, span_s, place_m, height_agl_m, velocity_mps);
        }
        self.held_mps
    }

    #[allow(clippy::too_many_arguments)]
    fn renew(
        &mut self,
        setup: &AirSetup,
        field: &AirField,
        source: &Source,
        flight: u32,
        number: u32,
        time_s: f64,
        span_s: f64,
        place_m: [f64; 3],
        height_agl_m: f64,
        velocity_mps: [f64; 3],
    ) -> [f64; 3] {
        // Mean wind with its drift, at this height, over hills and in the lee of what stands upwind.
        let mut reference = setup.mean.reference_mps;
        if setup.drift_mps > 0.0 {
            let corner = (time_s * (1.0 / DRIFT_EVERY_S)) as u32;
            while self.corner < corner {
                self.corner += 1;
                self.drift = [self.drift[1], setup.next_corner(self.drift[1], source, flight, self.corner + 1)];
            }
            let share = (time_s * (1.0 / DRIFT_EVERY_S) - f64::from(self.corner)).clamp(0.0, 1.0);
            let [last, next] = self.drift;
            reference[0] += setup.drift_mps * (last[0] + share * (next[0] - last[0]));
            reference[1] += setup.drift_mps * (last[1] + share * (next[1] - last[1]));
        }
        // The answer holds for a while, so it is that of the middle of it.
        let half_s = 0.5 * span_s;
        let place_m = [place_m[0] + half_s * velocity_mps[0], place_m[1] + half_s * velocity_mps[1]];
        let height_agl_m = (height_agl_m + half_s * velocity_mps[2]).max(0.0);
        let hills = field.over_hills(&setup.mean, place_m, height_agl_m);
        let share = field.height_share(height_agl_m) * field.lee_share(&setup.mean, place_m, height_agl_m) * hills.wind;
        let mean = field.turned([share * reference[0], share * reference[1]], height_agl_m);
        let along = field.turned(setup.mean.along, height_agl_m);

        // The craft sweeps the frozen eddies with its speed through the mean air.
        let (x, y) = (velocity_mps[0] - mean[0], velocity_mps[1] - mean[1]);
        let airspeed_mps = (x * x + y * y + velocity_mps[2] * velocity_mps[2]).sqrt();
        let mut gust = [0.0; 3];
        if setup.sigma_w_mps > 0.0 {
            gust = self.turbulence.step(
                LowAltitude::fast(height_agl_m),
                setup.sigma_w_mps * hills.turbulence,
                airspeed_mps,
                span_s,
                five_normals(source, flight, number),
            );
        }
        let Gust { peak_mps, length_m, moment_s } = setup.gust;
        if peak_mps > 0.0 && time_s >= moment_s && self.gust_m < 2.0 * length_m {
            self.gust_m += airspeed_mps.max(LEAST_AIRSPEED_MPS) * span_s;
            gust[0] += gust::whole_gust_mps(self.gust_m, length_m, peak_mps);
        }
        // Across is to the left of along.
        [mean[0] + gust[0] * along[0] - gust[1] * along[1], mean[1] + gust[0] * along[1] + gust[1] * along[0], gust[2]]
    }
}

impl AirSetup {
    /// The corner point of the drift that follows another.
    fn next_corner(&self, last: [f64; 2], source: &Source, flight: u32, corner: u32) -> [f64; 2] {
        let [east, north, ..] = source.normals(flight, corner, DRIFT_BLOCK);
        let [left, gain] = self.drift_step;
        [left * last[0] + gain * east, left * last[1] + gain * north]
    }
}

/// Five standard normal numbers out of one block of random bits, 25 bits each (|x| ≤ 5.5).
#[inline]
fn five_normals(source: &Source, flight: u32, step: u32) -> [f64; 5] {
    let [a, b, c, d] = source.words(flight, step, TURBULENCE_BLOCK);
    const MASK: u32 = (1 << 25) - 1;
    // 7 bits are left of each of the first four words: 25 of those 28 make the fifth number.
    let fifth = (a >> 25) | (b >> 25) << 7 | (c >> 25) << 14 | (d >> 25) << 21;
    let unit = |word: u32| (f64::from(word & MASK) + 0.5) * (1.0 / 33_554_432.0);
    standard_normal_quick([unit(a), unit(b), unit(c), unit(d), unit(fifth)])
}
