//! The air around one craft: mean wind, its slow drift, turbulence, a gust.

use super::WindDraws;
use crate::air::gust;
use crate::air::turbulence::{Dryden, LEAST_AIRSPEED_MPS, LowAltitude};
use crate::chance::Source;
use crate::scenario::Weather;
use crate::world::{AirField, MeanWind};

/// The step that values drawn once per flight are keyed by.
const ONCE: u32 = u32::MAX;

/// Time between the corner points of the slow drift, s. They are keyed by time, so the drift of a flight is the same
/// whatever the step.
const DRIFT_EVERY_S: f64 = 1.0;

/// How long one answer holds, to the nearest step. The filter of the turbulence is exact for any interval, and in 0.2 s a craft sweeps
/// two or three metres of eddies that are tens of metres long: 20,000 flights show no difference against half of that.
const HELD_S: f64 = 0.2;

/// The mean wind falls off towards the ground: what falls, sinking faster than craft of this class do under power, asks for it each
/// time, and so does what flies this low. Estimates.
const FALLS_MPS: f64 = 4.0;
/// See [`FALLS_MPS`].
const LOW_M: f64 = 10.0;

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
    /// Turbulence and gust last found: along the wind, to the left of it, up.
    gust_mps: [f64; 3],
    /// The wind last answered, the step at which it is found anew, and steps between; 0 before the first.
    held_mps: [f64; 3],
    renew_at: u32,
    held_steps: u32,
}

/// When the wind is asked for.
#[derive(Debug, Clone, Copy)]
pub struct AirWhen {
    /// Steps since take-off.
    pub step: u32,
    /// Length of a step.
    pub step_s: f64,
    /// For how long the answer is used: a step, or a part of one.
    pub for_s: f64,
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
    pub fn new(setup: &AirSetup, draws: &WindDraws) -> AirState {
        let first = draws.drift_once(ONCE);
        AirState {
            turbulence: Dryden::stationary(draws.turbulence_once(ONCE)),
            drift: [first, setup.next_corner(first, draws, 1)],
            corner: 0,
            gust_m: 0.0,
            gust_mps: [0.0; 3],
            held_mps: [0.0; 3],
            renew_at: 0,
            held_steps: 0,
        }
    }

    /// The wind at the craft for a time of the step: east, north, up. It is asked at least once in each step, in their order; the
    /// drift stays that of the beginning of the step.
    ///
    /// Draws are keyed by the flight and the fifth of a second, so every policy meets the same air at the same moment, whatever the
    /// step (as far as it divides that fifth); only the way through it differs.
    #[inline]
    #[allow(clippy::too_many_arguments)]
    pub fn step(
        &mut self,
        setup: &AirSetup,
        field: &AirField,
        draws: &WindDraws,
        when: &AirWhen,
        place_m: [f64; 3],
        height_agl_m: f64,
        velocity_mps: [f64; 3],
    ) -> [f64; 3] {
        let each_time = velocity_mps[2] < -FALLS_MPS || height_agl_m < LOW_M;
        if when.step >= self.renew_at || each_time {
            let time_s = f64::from(when.step) * when.step_s;
            self.renew(setup, field, draws, when, &Passing { time_s, place_m, height_agl_m, velocity_mps }, each_time);
        }
        self.held_mps
    }

    #[allow(clippy::too_many_arguments)]
    fn renew(
        &mut self,
        setup: &AirSetup,
        field: &AirField,
        draws: &WindDraws,
        &AirWhen { step, step_s, for_s }: &AirWhen,
        mover: &Passing,
        each_time: bool,
    ) {
        if self.held_steps == 0 {
            self.held_steps = ((HELD_S / step_s).round() as u32).max(1);
        }
        let span_s = f64::from(self.held_steps) * step_s;
        let mean = self.mean(setup, field, draws, mover, if each_time { for_s } else { span_s });
        if step >= self.renew_at {
            let number = step / self.held_steps;
            self.renew_at = (number + 1) * self.held_steps;
            self.blow(setup, draws, number, span_s, mover, &mean);
        }
        // Across is to the left of along.
        let ([east, north], [x, y], [along, across, up]) = (mean.wind_mps, mean.along, self.gust_mps);
        self.held_mps = [east + along * x - across * y, north + along * y + across * x, up];
    }

    /// Mean wind with its drift, over hills and in the lee of what stands upwind, half-way through the time for which it holds.
    fn mean(
        &mut self,
        setup: &AirSetup,
        field: &AirField,
        draws: &WindDraws,
        mover: &Passing,
        holds_s: f64,
    ) -> MeanHere {
        let mut reference = setup.mean.reference_mps;
        if setup.drift_mps > 0.0 {
            let corner = (mover.time_s * (1.0 / DRIFT_EVERY_S)) as u32;
            while self.corner < corner {
                self.corner += 1;
                self.drift = [self.drift[1], setup.next_corner(self.drift[1], draws, self.corner + 1)];
            }
            let share = (mover.time_s * (1.0 / DRIFT_EVERY_S) - f64::from(self.corner)).clamp(0.0, 1.0);
            let [last, next] = self.drift;
            reference[0] += setup.drift_mps * (last[0] + share * (next[0] - last[0]));
            reference[1] += setup.drift_mps * (last[1] + share * (next[1] - last[1]));
        }
        let half_s = 0.5 * holds_s;
        let [vx, vy, vz] = mover.velocity_mps;
        let place_m = [mover.place_m[0] + half_s * vx, mover.place_m[1] + half_s * vy];
        let height_agl_m = (mover.height_agl_m + half_s * vz).max(0.0);
        let hills = field.over_hills(&setup.mean, place_m, height_agl_m);
        let share = field.height_share(height_agl_m) * field.lee_share(&setup.mean, place_m, height_agl_m) * hills.wind;
        let turn = field.turn(height_agl_m);
        MeanHere {
            wind_mps: turn.of([share * reference[0], share * reference[1]]),
            along: turn.of(setup.mean.along),
            turbulence: hills.turbulence,
            height_agl_m,
        }
    }

    /// Turbulence and the discrete gust: the craft sweeps the frozen eddies with its speed through the mean air.
    fn blow(
        &mut self,
        setup: &AirSetup,
        draws: &WindDraws,
        number: u32,
        span_s: f64,
        mover: &Passing,
        mean: &MeanHere,
    ) {
        let [vx, vy, vz] = mover.velocity_mps;
        let (x, y) = (vx - mean.wind_mps[0], vy - mean.wind_mps[1]);
        let airspeed_mps = (x * x + y * y + vz * vz).sqrt();
        self.gust_mps = [0.0; 3];
        if setup.sigma_w_mps > 0.0 {
            self.gust_mps = self.turbulence.step(
                LowAltitude::fast(mean.height_agl_m),
                setup.sigma_w_mps * mean.turbulence,
                airspeed_mps,
                span_s,
                draws.turbulence(number),
            );
        }
        let Gust { peak_mps, length_m, moment_s } = setup.gust;
        if peak_mps > 0.0 && mover.time_s >= moment_s && self.gust_m < 2.0 * length_m {
            self.gust_m += airspeed_mps.max(LEAST_AIRSPEED_MPS) * span_s;
            self.gust_mps[0] += gust::whole_gust_mps(self.gust_m, length_m, peak_mps);
        }
    }
}

/// A craft on its way through the air.
struct Passing {
    time_s: f64,
    place_m: [f64; 3],
    height_agl_m: f64,
    velocity_mps: [f64; 3],
}

/// The mean wind where it is.
struct MeanHere {
    wind_mps: [f64; 2],
    /// Direction of the wind without its drift, as a unit vector.
    along: [f64; 2],
    /// What hills make of the turbulence, as a factor.
    turbulence: f64,
    height_agl_m: f64,
}

impl AirSetup {
    /// The corner point of the drift that follows another.
    fn next_corner(&self, last: [f64; 2], draws: &WindDraws, corner: u32) -> [f64; 2] {
        let [east, north] = draws.drift(corner);
        let [left, gain] = self.drift_step;
        [left * last[0] + gain * east, left * last[1] + gain * north]
    }
}
