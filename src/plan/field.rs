//! What a field card tells of the plan: where the link fades, what lies underneath, the sky awaited.

use super::middle_link::{MiddleLink, PlaceMargin};
use crate::failsafe::Policy;
use crate::flight::{LossCause, link_cause};
use crate::geometry::Frame;
use crate::site::{Zone, ZoneKind};
use crate::world::{PathPlace, Straight, World, length};

/// Mean margin under which the link is expected to fade along the path. Estimate: ten decibels are what fading takes from
/// nine packets in ten under a poor line of sight.
pub const FADES_UNDER_DB: f64 = 10.0;

/// Zones farther than this from the path and the ways home are not listed.
pub const NEAR_M: f64 = 50.0;

/// Stretches this near to each other are one. Estimate: a few seconds of flight.
const BRIDGED_M: f64 = 25.0;

/// Distance between places looked at along the path and the ways home.
const LOOK_M: f64 = 5.0;

/// A stretch of the path with little mean margin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fade {
    /// Distance flown at its start.
    pub from_m: f64,
    /// Distance flown at its end.
    pub to_m: f64,
    /// Greatest distance from the pilot's antenna on it.
    pub farthest_m: f64,
    /// Least mean margin on it.
    pub least_db: f64,
    /// Place of that: x, y.
    pub place_m: [f64; 2],
    /// What takes most of the margin there.
    pub cause: LossCause,
}

/// Where the link fades along the path while every source of interference is on.
#[derive(Debug, Clone, PartialEq)]
pub struct Fades {
    /// Stretches with less than [`FADES_UNDER_DB`] of mean margin.
    pub stretches: Vec<Fade>,
    /// Least mean margin of the path.
    pub least_db: f64,
}

/// Where the link fades along the path.
pub fn fades(world: &World) -> Fades {
    let link = MiddleLink::of(world);
    let one_metre_db = link.at_one_metre_db();
    let (mut list, mut least_db): (Vec<Fade>, f64) = (Vec::new(), f64::INFINITY);
    for PathPlace { flown_m, place_m, heading } in world.path.every(LOOK_M) {
        let PlaceMargin { margin_db, budget } = link.margin_with_all_on(place_m, &Frame::level(heading));
        least_db = least_db.min(margin_db);
        if margin_db >= FADES_UNDER_DB {
            continue;
        }
        let away_m = length(place_m, world.antenna_m);
        let here = Fade {
            from_m: flown_m,
            to_m: flown_m,
            farthest_m: away_m,
            least_db: margin_db,
            place_m: [place_m[0], place_m[1]],
            cause: link_cause(&budget, one_metre_db),
        };
        match list.last_mut().filter(|last| flown_m - last.to_m <= BRIDGED_M) {
            Some(last) => {
                last.to_m = flown_m;
                last.farthest_m = last.farthest_m.max(away_m);
                if margin_db < last.least_db {
                    (last.least_db, last.place_m, last.cause) = (margin_db, here.place_m, here.cause);
                }
            }
            None => list.push(here),
        }
    }
    Fades { stretches: list, least_db }
}

/// A zone under or near the flight.
#[derive(Debug, Clone, PartialEq)]
pub struct Underneath {
    /// Zone.
    pub zone: Zone,
    /// Its least distance from the path, over the ground; 0: under it.
    pub from_path_m: f64,
    /// Its least distance from the straight ways home.
    pub from_ways_m: f64,
}

/// Zones with people, roads, property or water within [`NEAR_M`] of the path or of the straight ways home, nearest first.
pub fn underneath(world: &World) -> Vec<Underneath> {
    let home = world.home_m;
    let spots: Vec<[f64; 3]> = world.path.every(LOOK_M).map(|at| at.place_m).collect();
    let mut list: Vec<Underneath> = world
        .scenario
        .site
        .zones
        .iter()
        .filter(|zone| !matches!(zone.kind, ZoneKind::Clear | ZoneKind::Rough))
        .map(|zone| {
            let from = |p: [f64; 2]| zone.area.distance_m(p);
            let from_path_m = spots.iter().map(|p| from([p[0], p[1]])).fold(f64::INFINITY, f64::min);
            let ways = spots.iter().step_by(2).flat_map(|&p| Straight::between(p, home).every(LOOK_M));
            let from_ways_m = ways.map(from).fold(f64::INFINITY, f64::min);
            Underneath { zone: zone.clone(), from_path_m, from_ways_m }
        })
        .filter(|row| row.from_path_m.min(row.from_ways_m) <= NEAR_M)
        .collect();
    let nearest = |row: &Underneath| row.from_path_m.min(row.from_ways_m);
    list.sort_by(|a, b| nearest(a).total_cmp(&nearest(b)).then(b.zone.people.total_cmp(&a.zone.people)));
    list
}

/// The sky awaited before take-off.
#[derive(Debug, Clone, PartialEq)]
pub struct SkyWait {
    /// Fewest satellites: of the guard before take-off and the policy's own.
    pub satellites: u32,
    /// Greatest HDOP, likewise.
    pub hdop: f64,
    /// Seconds after the start of the take-off window, satellites and HDOP (infinite: no solution) at the take-off spot.
    pub samples: Vec<(f64, u32, f64)>,
    /// How many of them fail that guard.
    pub failing: usize,
}

/// Satellites and HDOP at the take-off spot over the take-off window and one flight, at most five minutes apart.
pub fn sky_wait(world: &World, policy: &Policy) -> SkyWait {
    let sky = &world.scenario.sky;
    let (mut satellites, mut hdop) = (sky.wait_satellites, sky.wait_hdop);
    for guard in policy.actions.iter().filter_map(|action| action.guards.fix) {
        (satellites, hdop) = (satellites.max(guard.satellites), hdop.min(guard.hdop));
    }
    let span_s = sky.window_s.max(0.0) + world.path.duration_s();
    let count = ((span_s / 300.0).ceil() as usize).clamp(1, 500);
    let place_m = [world.home_m[0], world.home_m[1], world.home_m[2] + 1.0];
    let samples: Vec<(f64, u32, f64)> = (0..=count)
        .map(|k| span_s * k as f64 / count as f64)
        .map(|time_s| {
            let now = world.sky.at(time_s, place_m);
            (time_s, u32::from(now.satellites), f64::from(now.hdop))
        })
        .collect();
    // An infinite HDOP is no solution and fails.
    let failing = samples.iter().filter(|(_, seen, dop)| *seen < satellites || *dop > hdop).count();
    SkyWait { satellites, hdop, samples, failing }
}
