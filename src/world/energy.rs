//! Energy to come home: what it takes from a place, by which way, against what is left there.
//!
//! Steady flight by the same power model that flies: climb, transit by the wind triangle, descent. Accelerations,
//! turns and turbulence are left out; they cost a few per cent.

use super::air::{AirDraws, AirField, MeanWind};
use super::craft::CraftDraws;
use super::path::FlightPath;
use crate::craft::{LevelFlight, Mover, Pack};
use crate::failsafe::{Action, ActionKind, Policy, ReturnHeight};
use crate::scenario::Craft;
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
    pub climb_first: bool,
}

impl Way {
    /// The first return of a policy; `None` when it has none.
    pub fn of(policy: &Policy) -> Option<Way> {
        policy.actions.iter().find_map(|Action { kind, .. }| match *kind {
            ActionKind::Return { height, speed_mps, climb_first, .. } => Some(Way { height, speed_mps, climb_first }),
            _ => None,
        })
    }
}

/// What it takes to come home.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HomeNeed {
    /// Charge, as a share of a full pack; may exceed what is left.
    pub charge: f64,
    /// Energy at the pack's terminals.
    pub energy_j: f64,
    /// Time until it stands.
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

/// One point of the planned path.
#[derive(Debug, Clone, PartialEq)]
pub struct PathEnergy {
    /// Distance flown.
    pub flown_m: f64,
    /// Time after take-off.
    pub time_s: f64,
    /// Place: x, y, z.
    pub place_m: [f64; 3],
    /// Charge expected to be left here, 0 to 1.
    pub charge: f64,
    /// What each way home takes from here, in the order given; `None`: home cannot be reached that way at all.
    pub home: Vec<Option<HomeNeed>>,
}

impl PathEnergy {
    /// The cheapest way home from here.
    pub fn cheapest(&self) -> Option<&HomeNeed> {
        self.home.iter().flatten().min_by(|a, b| a.charge.total_cmp(&b.charge))
    }
}

/// The point of no return on a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LastPoint {
    /// Distance flown.
    pub flown_m: f64,
    /// Place: x, y, z.
    pub place_m: [f64; 3],
    /// Time after take-off.
    pub time_s: f64,
    /// Charge left there.
    pub charge: f64,
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
    /// Home: x, y, z of the ground there.
    pub home_m: [f64; 3],
}

impl<'a> HomeEnergy<'a> {
    /// For a craft and a wind with these values; `home_m` is the ground at home.
    pub fn new(
        craft: &Craft,
        craft_draws: &CraftDraws,
        air_draws: &AirDraws,
        field: &'a AirField,
        grid: &'a SiteGrid,
        home_m: [f64; 3],
    ) -> HomeEnergy<'a> {
        HomeEnergy {
            field,
            grid,
            mean: field.mean_wind(air_draws),
            level: super::craft::level_flight(craft, craft_draws, field.density_kgpm3(air_draws)),
            pack: super::craft::pack(craft, craft_draws, air_draws.temperature_k),
            mover: super::craft::mover(craft, craft_draws, [0.0, 0.0]),
            cruise_mps: craft.cruise_mps,
            final_descent_mps: craft.final_descent_mps,
            slow_below_m: craft.slow_below_m,
            home_m,
        }
    }

    /// z of the transit of a way from a place, `highest_z_m` being the highest point flown so far.
    pub fn transit_z_m(&self, way: &Way, place_m: [f64; 3], highest_z_m: f64) -> f64 {
        let home_z_m = self.home_m[2];
        match way.height {
            ReturnHeight::StayLevel => place_m[2],
            ReturnHeight::AtLeastM(height_m) => place_m[2].max(home_z_m + height_m),
            ReturnHeight::ExactlyM(height_m) => home_z_m + height_m,
            ReturnHeight::AbovePathM(height_m) => highest_z_m + height_m,
            // The height above ground is kept all the way; the climbs and descents in between cancel but for the
            // highest ground, which has to be climbed.
            ReturnHeight::AboveGroundM(height_m) => {
                let highest = (0..=16).fold(f64::NEG_INFINITY, |most, k| {
                    let share = f64::from(k) / 16.0;
                    let at = |axis: usize| place_m[axis] + share * (self.home_m[axis] - place_m[axis]);
                    most.max(self.grid.ground_m(at(0), at(1)))
                });
                highest + height_m
            }
        }
    }

    /// What a way home takes from a place with a charge left (which sets the pack's voltage). `None` when the wind or
    /// the pack do not let it come home that way at all.
    pub fn need(&self, way: &Way, place_m: [f64; 3], highest_z_m: f64, charge: f64) -> Option<HomeNeed> {
        let transit_z_m = self.transit_z_m(way, place_m, highest_z_m);
        let mut used = Used { pack: &self.pack, charge, energy_j: 0.0, time_s: 0.0 };
        let (to_home, mut distance_m) = self.towards_home(place_m);

        // Up or down to the height of the transit.
        let rise_m = transit_z_m - place_m[2];
        let vertical_mps = if rise_m > 0.0 { self.mover.climb_max_mps } else { -self.mover.descent_max_mps };
        let rise_s = rise_m / vertical_mps;
        let middle = [place_m[0], place_m[1], place_m[2] + 0.5 * rise_m];
        let wind = self.wind_at(middle);
        if way.climb_first || rise_m <= 0.0 {
            used.draw(self.level.climbing_power_w(self.holding_mps(wind)?, vertical_mps), rise_s)?;
        } else if rise_s > 0.0 {
            let leg = self.leg(way, to_home, wind)?;
            let time_s = rise_s.min(distance_m / leg.ground_mps);
            used.draw(self.level.climbing_power_w(leg.airspeed_mps, vertical_mps), time_s)?;
            // Over home before it is up: the rest of the climb is left out, as the craft would do.
            distance_m -= leg.ground_mps * time_s;
        }

        // The transit, in the wind of its height over the ground below it.
        let leg = self.leg(way, to_home, self.transit_wind(place_m, transit_z_m))?;
        if distance_m > 0.0 {
            used.draw(self.level.power_w(leg.airspeed_mps), distance_m / leg.ground_mps)?;
        }

        // Down at home, fast and then slowly.
        let height_m = (transit_z_m - self.home_m[2]).max(0.0);
        let slow_m = height_m.min(self.slow_below_m);
        for (from_m, to_m, sink_mps) in
            [(height_m, slow_m, self.mover.descent_max_mps), (slow_m, 0.0, self.final_descent_mps)]
        {
            let wind = self.wind_at([self.home_m[0], self.home_m[1], self.home_m[2] + 0.5 * (from_m + to_m)]);
            used.draw(self.level.climbing_power_w(self.holding_mps(wind)?, -sink_mps), (from_m - to_m) / sink_mps)?;
        }
        Some(HomeNeed {
            charge: charge - used.charge,
            energy_j: used.energy_j,
            time_s: used.time_s,
            airspeed_mps: leg.airspeed_mps,
            ground_mps: leg.ground_mps,
            headwind_mps: leg.headwind_mps,
            transit_z_m,
        })
    }

    /// The speed home that costs least energy per metre, in the wind of a way's height, within what tilt allows; `None`
    /// when the wind lets it make no way.
    pub fn best_speed(&self, way: &Way, place_m: [f64; 3], highest_z_m: f64) -> Option<BestSpeed> {
        let transit_z_m = self.transit_z_m(way, place_m, highest_z_m);
        let (to_home, _) = self.towards_home(place_m);
        let wind = self.transit_wind(place_m, transit_z_m);
        let cost = |ground_mps: f64| self.level.power_w(airspeed_for(to_home, ground_mps, wind)) / ground_mps;
        let (slowest_mps, fastest_mps) = ground_speeds(to_home, wind, self.top_airspeed_mps())?;
        let ground_mps = crate::craft::rotor::least(slowest_mps, fastest_mps, cost);
        Some(BestSpeed {
            ground_mps,
            airspeed_mps: airspeed_for(to_home, ground_mps, wind),
            energy_jpm: cost(ground_mps),
            headwind_mps: -(to_home[0] * wind[0] + to_home[1] * wind[1]),
        })
    }

    /// The greatest headwind against which a charge still covers a distance at the best speed for that headwind;
    /// `None` when not even still air allows it. Level flight only.
    pub fn max_headwind_mps(&self, distance_m: f64, charge: f64) -> Option<f64> {
        let top_mps = self.top_airspeed_mps();
        let covers = |headwind_mps: f64| {
            let slowest_mps = headwind_mps + LEAST_PROGRESS_MPS;
            if slowest_mps > top_mps {
                return false;
            }
            let best_mps =
                crate::craft::rotor::least(slowest_mps, top_mps, |v| self.level.power_w(v) / (v - headwind_mps));
            let power_w = self.level.power_w(best_mps);
            let energy_j = power_w * distance_m / (best_mps - headwind_mps);
            self.pack.charge_used(energy_j, power_w, charge).is_some_and(|used| used <= charge)
        };
        if !covers(0.0) {
            return None;
        }
        let (mut low, mut high) = (0.0, top_mps);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if covers(middle) { low = middle } else { high = middle }
        }
        Some(low)
    }

    /// Charge left and ways home along the path, every `every_m` metres and at its corners.
    pub fn along(&self, path: &FlightPath, ways: &[Way], charge: f64, every_m: f64) -> Vec<PathEnergy> {
        let mut stops = vec![0.0];
        for index in 1..path.points_m().len() {
            let (from, to) = (path.flown_at_m(index - 1), path.flown_at_m(index));
            let pieces = ((to - from) / every_m).ceil().max(1.0);
            stops.extend((1..=pieces as usize).map(|k| from + (to - from) * (k as f64 / pieces)));
        }
        let mut points: Vec<PathEnergy> = Vec::with_capacity(stops.len());
        let mut used = Used { pack: &self.pack, charge, energy_j: 0.0, time_s: 0.0 };
        let mut highest_z_m = f64::NEG_INFINITY;
        for flown_m in stops {
            let (place_m, time_s) = path.at_distance(flown_m);
            if let Some(last) = points.last() {
                self.fly(&mut used, last.place_m, place_m, time_s - last.time_s, path.speed_mps);
            }
            highest_z_m = highest_z_m.max(place_m[2]);
            let home = ways.iter().map(|way| self.need(way, place_m, highest_z_m, used.charge)).collect();
            points.push(PathEnergy { flown_m, time_s, place_m, charge: used.charge, home });
        }
        points
    }

    /// One piece of the path within a time; what is left of the time is hovered at its start.
    fn fly(&self, used: &mut Used, from_m: [f64; 3], to_m: [f64; 3], time_s: f64, path_mps: f64) {
        let rise_m = to_m[2] - from_m[2];
        let (dx, dy) = (to_m[0] - from_m[0], to_m[1] - from_m[1]);
        let moving_s = ((dx * dx + dy * dy).sqrt() / path_mps).max(rise_m.abs() / self.mover.climb_max_mps);
        let moving_s = moving_s.min(time_s).max(1e-9);
        let wind = self.wind_at([0, 1, 2].map(|axis| 0.5 * (from_m[axis] + to_m[axis])));
        let air = [dx / moving_s - wind[0], dy / moving_s - wind[1]];
        let pause_s = (time_s - moving_s).max(0.0);
        let empty = Used { charge: 0.0, ..*used };
        let flown = used.draw(self.level.climbing_power_w(speed(air), rise_m / moving_s), moving_s);
        if flown.and_then(|()| used.draw(self.level.power_w(speed(self.wind_at(from_m))), pause_s)).is_none() {
            *used = empty;
        }
    }

    /// The last point of the path from which a way leads home with `reserve` of charge to spare, when one further on
    /// does not; `None`: home can be reached from everywhere on the path. A first point that fails is returned itself.
    pub fn last_point(&self, along: &[PathEnergy], way: usize, reserve: f64) -> Option<LastPoint> {
        // What is to spare; a way that is impossible is far from it.
        let spare = |point: &PathEnergy| point.home[way].map_or(-1.0, |need| point.charge - need.charge - reserve);
        let first = along.iter().position(|point| spare(point) < 0.0)?;
        let (before, after) = (&along[first.saturating_sub(1)], &along[first]);
        let (left, short) = (spare(before), spare(after));
        let share = if left > 0.0 { left / (left - short) } else { 0.0 };
        let at = |a: f64, b: f64| a + share * (b - a);
        Some(LastPoint {
            flown_m: at(before.flown_m, after.flown_m),
            place_m: [0, 1, 2].map(|axis| at(before.place_m[axis], after.place_m[axis])),
            time_s: at(before.time_s, after.time_s),
            charge: at(before.charge, after.charge),
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

    /// Unit vector and horizontal distance from a place to home.
    fn towards_home(&self, place_m: [f64; 3]) -> ([f64; 2], f64) {
        let (x, y) = (self.home_m[0] - place_m[0], self.home_m[1] - place_m[1]);
        let distance_m = (x * x + y * y).sqrt();
        if distance_m < 1e-6 { ([1.0, 0.0], 0.0) } else { ([x / distance_m, y / distance_m], distance_m) }
    }

    /// Mean wind at a place, z included.
    fn wind_at(&self, place_m: [f64; 3]) -> [f64; 2] {
        self.field.wind_at_height_mps(&self.mean, place_m[2] - self.grid.ground_m(place_m[0], place_m[1]))
    }

    /// Mean wind along a transit: of three places on it.
    fn transit_wind(&self, place_m: [f64; 3], z_m: f64) -> [f64; 2] {
        let winds = [1.0 / 6.0, 0.5, 5.0 / 6.0].map(|share| {
            let at = |axis: usize| place_m[axis] + share * (self.home_m[axis] - place_m[axis]);
            self.wind_at([at(0), at(1), z_m])
        });
        [0, 1].map(|axis| (winds[0][axis] + winds[1][axis] + winds[2][axis]) / 3.0)
    }

    /// Speeds of a way in a wind, within what tilt allows; `None` when it makes no way.
    fn leg(&self, way: &Way, to_home: [f64; 2], wind: [f64; 2]) -> Option<Leg> {
        let (slowest_mps, fastest_mps) = ground_speeds(to_home, wind, self.top_airspeed_mps())?;
        let ground_mps = way.speed_mps.unwrap_or(self.cruise_mps).clamp(slowest_mps, fastest_mps);
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
struct Used<'a> {
    pack: &'a Pack,
    charge: f64,
    energy_j: f64,
    time_s: f64,
}

impl Used<'_> {
    /// Draws a power for a time; `None` when the pack cannot deliver it.
    fn draw(&mut self, power_w: f64, time_s: f64) -> Option<()> {
        if time_s > 0.0 {
            let energy_j = power_w * time_s;
            self.charge -= self.pack.charge_used(energy_j, power_w, self.charge.max(0.0))?;
            self.energy_j += energy_j;
            self.time_s += time_s;
        }
        Some(())
    }
}

/// Airspeed that gives a ground speed along a direction in a wind.
fn airspeed_for(direction: [f64; 2], ground_mps: f64, wind: [f64; 2]) -> f64 {
    speed([ground_mps * direction[0] - wind[0], ground_mps * direction[1] - wind[1]])
}

/// Least and greatest speed over ground along a direction that an airspeed allows; `None` when the greatest is below
/// [`LEAST_PROGRESS_MPS`] or the track cannot be held. In a strong tailwind the least is more than that.
fn ground_speeds(direction: [f64; 2], wind: [f64; 2], airspeed_mps: f64) -> Option<(f64, f64)> {
    let along = direction[0] * wind[0] + direction[1] * wind[1];
    let across = direction[0] * wind[1] - direction[1] * wind[0];
    let left = airspeed_mps * airspeed_mps - across * across;
    let reach = (left >= 0.0).then(|| left.sqrt())?;
    (along + reach >= LEAST_PROGRESS_MPS).then(|| ((along - reach).max(LEAST_PROGRESS_MPS), along + reach))
}

fn speed(v: [f64; 2]) -> f64 {
    (v[0] * v[0] + v[1] * v[1]).sqrt()
}
