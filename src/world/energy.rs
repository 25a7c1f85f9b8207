//! Energy to come home: what it takes from a place, by which way, against what is left there.
//!
//! Steady flight by the same power model that flies: the silence before the loss is declared, the holds that a policy puts
//! before its return, climb, transit by the wind triangle, descent. Changes of speed cost the time that the craft's lags and
//! its greatest acceleration make them cost; the power they take besides, turbulence and cross-track corrections are left out.
//! Home counts as reached when the pack never comes to the level at which the craft comes down by itself, by charge or by
//! voltage under the load of the moment, before it is over home, nor loses its thrust before it stands.

use super::air::{AirField, MeanWind};
use super::straight::Straight;
use crate::chance::Range;
use crate::craft::battery::FULL_CELL_V;
use crate::craft::rotor::PROFILE_DENSITY_KGPM3;
use crate::craft::{LevelFlight, Mover, Pack, PackLevel};
use crate::failsafe::{Action, ActionKind, HeightFrom, POSITION_GAIN_TIMES_LAG, Policy, ReturnHeight};
use crate::scenario::{Craft, Weather};
use crate::site::SiteGrid;

/// Least speed over ground towards home that counts as getting there.
pub const LEAST_PROGRESS_MPS: f64 = 0.3;

/// A way home as a policy states it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// Its height.
    pub height: ReturnHeight,
    /// Speed over ground aimed for; `None`: the craft's cruise speed.
    pub speed_mps: Option<f64>,
    /// Whether it climbs before it starts home.
    pub climbs_before: bool,
    /// Horizontal distance from home at which it starts to come down.
    pub home_circle_m: f64,
    /// Distance of home within which it does not climb to its height first.
    pub level_within_m: f64,
    /// How long it holds before it starts.
    pub hold_s: f64,
}

impl Way {
    /// At the height and place it has, at once: what a craft takes whose policy states no way home.
    pub fn level() -> Way {
        Way {
            height: ReturnHeight::here(),
            speed_mps: None,
            climbs_before: true,
            home_circle_m: 0.0,
            level_within_m: 0.0,
            hold_s: 0.0,
        }
    }

    /// The first return of a policy, with the holds before it; `None` when it has none.
    pub fn of(policy: &Policy) -> Option<Way> {
        Way::all_of(policy).into_iter().next().map(|(_, way)| way)
    }

    /// Every return of a policy's chain, by the place of its action, with the holds before it.
    pub fn all_of(policy: &Policy) -> Vec<(usize, Way)> {
        let mut held_s = 0.0;
        let mut found = Vec::new();
        for (index, Action { kind, .. }) in policy.actions.iter().enumerate() {
            if let ActionKind::Return { height, speed_mps, climbs_before, home_circle_m, level_within_m } = *kind {
                let way = Way { height, speed_mps, climbs_before, home_circle_m, level_within_m, hold_s: held_s };
                found.push((index, way));
            }
            held_s += kind.waits_s();
        }
        found
    }
}

/// What it takes to come home.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HomeNeed {
    /// Charge that must be there, as a share of a full pack, so that nothing the pack comes to brings the craft down on
    /// the way; may exceed what is left.
    pub charge: f64,
    /// Charge used until it stands.
    pub used: f64,
    /// Energy at the pack's terminals.
    pub energy_j: f64,
    /// Time until it stands, silence and holds included.
    pub time_s: f64,
    /// Airspeed of the transit.
    pub airspeed_mps: f64,
    /// Speed over ground of the transit.
    pub ground_mps: f64,
    /// Wind against the way home at its height; negative pushes.
    pub headwind_mps: f64,
    /// z of the transit.
    pub transit_z_m: f64,
}

/// The speed home that costs least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BestSpeed {
    /// Over ground.
    pub ground_mps: f64,
    /// Through the air.
    pub airspeed_mps: f64,
    /// Energy per metre of the way.
    pub energy_jpm: f64,
    /// Wind against the way home at its height; negative pushes.
    pub headwind_mps: f64,
}

/// What coming home depends on, for one craft in one wind.
#[derive(Debug, Clone, Copy)]
pub struct HomeEnergy<'a> {
    /// The air of the site.
    pub field: &'a AirField,
    /// The ground of the site.
    pub grid: &'a SiteGrid,
    /// The mean wind.
    pub mean: MeanWind,
    /// The craft in steady flight.
    pub level: LevelFlight,
    /// Its pack.
    pub pack: Pack,
    /// Its limits of motion.
    pub mover: Mover,
    /// Speed over ground when a way states none.
    pub cruise_mps: f64,
    /// Descent speed near the ground …
    pub final_descent_mps: f64,
    /// … below this height above home.
    pub slow_below_m: f64,
    /// Silence before the link is called lost: so long it flies on as it was.
    pub silence_s: f64,
    /// Home: x, y, z of the ground there.
    pub home_m: [f64; 3],
}

impl<'a> HomeEnergy<'a> {
    /// For a craft and a wind with these values; `home_m` is the ground at home.
    pub fn new(
        craft: &Craft<f64>,
        weather: &Weather<f64>,
        field: &'a AirField,
        grid: &'a SiteGrid,
        home_m: [f64; 3],
    ) -> HomeEnergy<'a> {
        HomeEnergy {
            field,
            grid,
            mean: field.mean_wind(weather),
            level: super::craft::level_flight(craft, field.density_kgpm3(weather)),
            pack: super::craft::pack(craft, weather.temperature_c + 273.15),
            mover: super::craft::mover(craft, [0.0, 0.0]),
            cruise_mps: craft.cruise_mps,
            final_descent_mps: craft.final_descent_mps,
            slow_below_m: craft.slow_below_m,
            silence_s: 0.0,
            home_m,
        }
    }

    /// The same with a silence before the link is called lost.
    pub fn after_silence(self, silence_s: f64) -> HomeEnergy<'a> {
        HomeEnergy { silence_s, ..self }
    }

    /// z of the transit of a way from a place, `highest_z_m` being the highest point flown so far.
    pub fn transit_z_m(&self, way: &Way, place_m: [f64; 3], highest_z_m: f64) -> f64 {
        let stays_level = Straight::between(place_m, self.home_m).length_m() < way.level_within_m;
        let most_z_m = if stays_level { place_m[2] } else { f64::INFINITY };
        self.stated_z_m(way, place_m, highest_z_m).min(most_z_m)
    }

    /// The same as the way's height states it, from wherever it is.
    fn stated_z_m(&self, way: &Way, place_m: [f64; 3], highest_z_m: f64) -> f64 {
        // A height above ground is kept all the way; the climbs and descents in between cancel but for the highest ground,
        // which has to be climbed.
        let ground_z_m = if way.height.from == HeightFrom::Ground {
            let way = Straight::between(place_m, self.home_m);
            way.in_parts(16).fold(f64::NEG_INFINITY, |most, [x, y]| most.max(self.grid.ground_m(x, y)))
        } else {
            place_m[2]
        };
        way.height.level_m(place_m[2], self.home_m[2], highest_z_m, ground_z_m)
    }

    /// What a way home takes from a place with a charge left (which sets the pack's voltage), from rest and at once. `None`
    /// when the wind or the pack do not let it come home that way at all.
    pub fn need(&self, way: &Way, place_m: [f64; 3], highest_z_m: f64, charge: f64) -> Option<HomeNeed> {
        self.home_from(way, place_m, [0.0; 3], highest_z_m, Used::new(&self.pack, charge), charge)
    }

    /// The same from the moment the link goes silent, at a velocity over ground: the craft flies on until the loss is
    /// declared, then holds as long as the policy says.
    pub fn need_after_silence(
        &self,
        way: &Way,
        place_m: [f64; 3],
        velocity_mps: [f64; 3],
        highest_z_m: f64,
        charge: f64,
    ) -> Option<HomeNeed> {
        let mut used = Used::new(&self.pack, charge);
        let end_m: [f64; 3] = std::array::from_fn(|axis| place_m[axis] + self.silence_s * velocity_mps[axis]);
        let wind = self.wind_at(place_m);
        let air = [velocity_mps[0] - wind[0], velocity_mps[1] - wind[1]];
        used.draw(self.level.climbing_power_w(speed(air), velocity_mps[2]), self.silence_s, PackLevel::Land)?;
        let highest_z_m = highest_z_m.max(end_m[2]);
        let mut velocity_mps = velocity_mps;
        if way.hold_s > 0.0 {
            used.draw(self.level.power_w(self.holding_mps(self.wind_at(end_m))?), way.hold_s, PackLevel::Land)?;
            velocity_mps = [0.0; 3];
        }
        self.home_from(way, end_m, velocity_mps, highest_z_m, used, charge)
    }

    fn home_from(
        &self,
        way: &Way,
        place_m: [f64; 3],
        velocity_mps: [f64; 3],
        highest_z_m: f64,
        mut used: Used,
        charge: f64,
    ) -> Option<HomeNeed> {
        let transit_z_m = self.transit_z_m(way, place_m, highest_z_m);
        let homeward = Straight::between(place_m, self.home_m);
        let (to_home, far_m) = (homeward.direction(), homeward.length_m());
        let mut distance_m = (far_m - way.home_circle_m).max(0.0);
        let rise_m = transit_z_m - place_m[2];
        let climb_mps = self.mover.climb_max_mps;
        let middle = [place_m[0], place_m[1], place_m[2] + 0.5 * rise_m];
        let mut z_m = place_m[2];
        let mut away_mps = -(velocity_mps[0] * to_home[0] + velocity_mps[1] * to_home[1]);

        // Up to the height of the transit, first or on the way. A way down to it is flown on the way.
        if rise_m > 0.0 && way.climbs_before {
            let power_w = self.level.climbing_power_w(self.holding_mps(self.wind_at(middle))?, climb_mps);
            let wasted_m = self.lost_way_m((climb_mps - velocity_mps[2].max(0.0)).max(0.0));
            used.draw(power_w, levelling_s(rise_m, climb_mps) + wasted_m / climb_mps, PackLevel::Land)?;
            (z_m, away_mps) = (transit_z_m, 0.0);
        } else if rise_m > 0.0 {
            let leg = self.leg(way, to_home, self.wind_at(middle))?;
            let time_s = (rise_m / climb_mps).min(distance_m / leg.ground_mps);
            used.draw(self.level.climbing_power_w(leg.airspeed_mps, climb_mps), time_s, PackLevel::Land)?;
            // Over home before it is up: the rest of the climb is left out, as the craft would do.
            distance_m -= leg.ground_mps * time_s;
            z_m += climb_mps * time_s;
        }

        // The transit, in the wind of its height over the ground below it: picking up speed, slowing down near home.
        let leg = self.leg(way, to_home, self.transit_wind(place_m, transit_z_m))?;
        if distance_m > 0.0 {
            let wasted_m = self.lost_way_m((leg.ground_mps + away_mps).max(0.0));
            let time_s =
                (distance_m + wasted_m) / leg.ground_mps + self.slowing_s(leg.ground_mps, far_m, way.home_circle_m);
            used.draw(self.level.power_w(leg.airspeed_mps), time_s, PackLevel::Land)?;
            if z_m > transit_z_m {
                z_m = transit_z_m.max(z_m - self.mover.descent_max_mps * time_s);
            }
        }

        // Down at home, fast and then slowly: coming down is what a low pack asks for, so that thrust alone counts.
        let height_m = (z_m - self.home_m[2]).max(0.0);
        let slow_m = height_m.min(self.slow_below_m);
        for (from_m, to_m, sink_mps) in
            [(height_m, slow_m, self.mover.descent_max_mps), (slow_m, 0.0, self.final_descent_mps)]
        {
            let wind = self.wind_at([self.home_m[0], self.home_m[1], self.home_m[2] + 0.5 * (from_m + to_m)]);
            let power_w = self.level.climbing_power_w(self.holding_mps(wind)?, -sink_mps);
            // It sets out at rest; from fast to slow it takes some of the way below with it.
            let wasted_m = match (from_m > slow_m, height_m > slow_m) {
                (true, _) | (false, false) => self.lost_way_m(sink_mps),
                (false, true) => -self.lost_way_m((self.mover.descent_max_mps - sink_mps).max(0.0)).min(from_m),
            };
            let time_s = if from_m > to_m { (from_m - to_m + wasted_m) / sink_mps } else { 0.0 };
            used.draw_above(power_w, time_s, self.thrust_floor(power_w))?;
        }
        Some(HomeNeed {
            charge: charge - used.spare,
            used: charge - used.charge,
            energy_j: used.energy_j,
            time_s: used.time_s,
            airspeed_mps: leg.airspeed_mps,
            ground_mps: leg.ground_mps,
            headwind_mps: leg.headwind_mps,
            transit_z_m,
        })
    }

    /// Charge at which thrust goes at a power: the pack cuts off, or its voltage no longer lifts the craft.
    fn thrust_floor(&self, power_w: f64) -> f64 {
        let full_n = self.mover.thrust_max_n * self.level.density_kgpm3 / PROFILE_DENSITY_KGPM3;
        let lifting_v = FULL_CELL_V * (self.level.weight_n / full_n).sqrt();
        let lifting = if lifting_v < FULL_CELL_V { self.pack.charge_at_cutoff(power_w, lifting_v) } else { Some(1.0) };
        self.pack.charge_at_level(PackLevel::Cutoff, power_w).max(lifting.unwrap_or(0.0))
    }

    /// Way lost by a change of speed against one that is made at once.
    ///
    /// # Source
    /// The velocity loop asks for (Δ − v)/τ up to its greatest acceleration a: ∫(Δ − v) dt = Δ τ below Δ = a τ, and
    /// (Δ² + a² τ²)/(2a) above; the attitude's lag adds Δ times it.
    fn lost_way_m(&self, change_mps: f64) -> f64 {
        let (accel, lag_s) = (self.mover.accel_max_mps2, self.mover.velocity_loop.lag_s);
        let ramp_mps = accel * lag_s;
        let loop_m = if change_mps <= ramp_mps {
            change_mps * lag_s
        } else {
            (change_mps * change_mps + ramp_mps * ramp_mps) / (2.0 * accel)
        };
        loop_m + change_mps * self.mover.attitude_lag_s
    }

    /// Time that slowing down takes beyond flying at full speed from `far_m` to `circle_m` away from home.
    ///
    /// # Source
    /// The speed aimed for near a point ([`crate::failsafe::toward`]): the root of acceleration times distance, and a linear law nearer
    /// still; ∫(1/w − 1/v) dx.
    fn slowing_s(&self, ground_mps: f64, far_m: f64, circle_m: f64) -> f64 {
        let accel = self.mover.accel_max_mps2;
        let gain_per_s = POSITION_GAIN_TIMES_LAG / self.mover.velocity_loop.lag_s;
        let from_m = (ground_mps * ground_mps / accel).max(ground_mps / gain_per_s).min(far_m);
        let linear_m = accel / (gain_per_s * gain_per_s);
        // The last metre is the pilot's 'there': nothing waits for it.
        let to_m = circle_m.max(1.0);
        if from_m <= to_m {
            return 0.0;
        }
        let root = |from: f64, to: f64| 2.0 * (from.sqrt() - to.sqrt()) / accel.sqrt();
        let linear = |from: f64, to: f64| libm::log(from / to) / gain_per_s;
        let at_s = if to_m >= linear_m {
            root(from_m, to_m)
        } else if from_m > linear_m {
            root(from_m, linear_m) + linear(linear_m, to_m)
        } else {
            linear(from_m, to_m)
        };
        (at_s - (from_m - to_m) / ground_mps).max(0.0)
    }

    /// The speed home that costs least energy per metre, in the wind of a way's height, within what tilt allows; `None`
    /// when the wind lets it make no way.
    pub fn best_speed(&self, way: &Way, place_m: [f64; 3], highest_z_m: f64) -> Option<BestSpeed> {
        let transit_z_m = self.transit_z_m(way, place_m, highest_z_m);
        let to_home = Straight::between(place_m, self.home_m).direction();
        let wind = self.transit_wind(place_m, transit_z_m);
        let cost = |ground_mps: f64| self.level.power_w(airspeed_for(to_home, ground_mps, wind)) / ground_mps;
        let within = ground_speeds(to_home, wind, self.top_airspeed_mps())?;
        let ground_mps = crate::craft::rotor::least(within.low, within.high, cost);
        Some(BestSpeed {
            ground_mps,
            airspeed_mps: airspeed_for(to_home, ground_mps, wind),
            energy_jpm: cost(ground_mps),
            headwind_mps: -(to_home[0] * wind[0] + to_home[1] * wind[1]),
        })
    }

    /// Greatest airspeed that tilt allows.
    pub fn top_airspeed_mps(&self) -> f64 {
        self.mover.tilt_limited_mps(self.level.density_kgpm3)
    }

    /// Airspeed that holds the place in a wind; `None` when tilt does not allow it.
    fn holding_mps(&self, wind: [f64; 2]) -> Option<f64> {
        Some(speed(wind)).filter(|&speed_mps| speed_mps <= self.top_airspeed_mps())
    }

    /// Mean wind at a place, z included.
    pub(crate) fn wind_at(&self, place_m: [f64; 3]) -> [f64; 2] {
        let [x, y, z] = place_m;
        self.field.wind_at_mps(&self.mean, [x, y], z - self.grid.ground_m(x, y))
    }

    /// Mean wind along a transit: of three places on it.
    fn transit_wind(&self, place_m: [f64; 3], z_m: f64) -> [f64; 2] {
        let way = Straight::between(place_m, self.home_m);
        let winds = [1.0 / 6.0, 0.5, 5.0 / 6.0].map(|share| {
            let [x, y] = way.at(share);
            self.wind_at([x, y, z_m])
        });
        [0, 1].map(|axis| (winds[0][axis] + winds[1][axis] + winds[2][axis]) / 3.0)
    }

    /// Speeds of a way in a wind, within what tilt allows; `None` when it makes no way.
    fn leg(&self, way: &Way, to_home: [f64; 2], wind: [f64; 2]) -> Option<Leg> {
        let within = ground_speeds(to_home, wind, self.top_airspeed_mps())?;
        let ground_mps = way.speed_mps.unwrap_or(self.cruise_mps).clamp(within.low, within.high);
        Some(Leg {
            ground_mps,
            airspeed_mps: airspeed_for(to_home, ground_mps, wind),
            headwind_mps: -(to_home[0] * wind[0] + to_home[1] * wind[1]),
        })
    }
}

/// Speeds of a transit.
struct Leg {
    ground_mps: f64,
    airspeed_mps: f64,
    headwind_mps: f64,
}

/// A charge that is used up.
#[derive(Clone, Copy)]
pub(crate) struct Used<'a> {
    pack: &'a Pack,
    pub(crate) charge: f64,
    energy_j: f64,
    time_s: f64,
    /// The least that was left above what brings the craft down.
    spare: f64,
}

impl<'a> Used<'a> {
    pub(crate) fn new(pack: &'a Pack, charge: f64) -> Used<'a> {
        Used { pack, charge, energy_j: 0.0, time_s: 0.0, spare: f64::INFINITY }
    }

    /// The same with no charge left.
    pub(crate) fn emptied(self) -> Used<'a> {
        Used { charge: 0.0, ..self }
    }

    /// Draws a power for a time and looks what is left above the charge at which that power brings the pack to a level;
    /// `None` when the pack cannot deliver it.
    pub(crate) fn draw(&mut self, power_w: f64, time_s: f64, level: PackLevel) -> Option<()> {
        self.draw_above(power_w, time_s, self.pack.charge_at_level(level, power_w))
    }

    fn draw_above(&mut self, power_w: f64, time_s: f64, least: f64) -> Option<()> {
        if time_s > 0.0 {
            let energy_j = power_w * time_s;
            self.charge -= self.pack.charge_used(energy_j, power_w, self.charge.max(0.0))?;
            self.energy_j += energy_j;
            self.time_s += time_s;
        }
        self.spare = self.spare.min(self.charge - least);
        Some(())
    }
}

/// Time of a climb to a height at a speed: a metre short of it counts as there, and the speed aimed for falls with the
/// height left, metre by second.
fn levelling_s(rise_m: f64, climb_mps: f64) -> f64 {
    const THERE_M: f64 = 1.0;
    if rise_m <= THERE_M {
        return 0.0;
    }
    let slow_m = rise_m.min(climb_mps.max(THERE_M));
    (rise_m - slow_m) / climb_mps + libm::log(slow_m / THERE_M)
}

/// Airspeed that gives a ground speed along a direction in a wind.
fn airspeed_for(direction: [f64; 2], ground_mps: f64, wind: [f64; 2]) -> f64 {
    speed([ground_mps * direction[0] - wind[0], ground_mps * direction[1] - wind[1]])
}

/// Speeds over ground along a direction that an airspeed allows; `None` when the greatest is below [`LEAST_PROGRESS_MPS`] or
/// the track cannot be held. In a strong tailwind the least is more than that.
fn ground_speeds(direction: [f64; 2], wind: [f64; 2], airspeed_mps: f64) -> Option<Range> {
    let along = direction[0] * wind[0] + direction[1] * wind[1];
    let across = direction[0] * wind[1] - direction[1] * wind[0];
    let left = airspeed_mps * airspeed_mps - across * across;
    let reach = (left >= 0.0).then(|| left.sqrt())?;
    (along + reach >= LEAST_PROGRESS_MPS)
        .then(|| Range { low: (along - reach).max(LEAST_PROGRESS_MPS), high: along + reach })
}

pub(crate) fn speed(v: [f64; 2]) -> f64 {
    (v[0] * v[0] + v[1] * v[1]).sqrt()
}
