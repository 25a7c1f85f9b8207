//! What the card for the field needs beyond an assessment: where the wind changes the answer, where the link fades, what
//! lies underneath, and what bench and field tests should show if the model holds.

use super::assess::fly_tally;
use super::summary::Share;
use super::survey::{MiddleLink, home_energy};
use crate::chance::Uncertain;
use crate::failsafe::Policy;
use crate::flight::{Drawn, FixMoment, FlightDraws, LossCause, Streams, link_cause};
use crate::geometry::Frame;
use crate::radio::receiver::{Declared, ReceiverSettings, ReceiverState};
use crate::site::{Zone, ZoneKind};
use crate::sky::lower_quantile;
use crate::world::radio::{FlatGround, LinkError, LinkFields, LinkSetup};
use crate::world::{World, WorldError, length};
use rayon::prelude::*;

/// Mean margin under which the link is expected to fade along the path. Estimate: ten decibels are what fading takes from
/// nine packets in ten under a poor line of sight.
pub const FADES_UNDER_DB: f64 = 10.0;

/// Zones farther than this from the path and the ways home are not listed.
pub const NEAR_M: f64 = 50.0;

/// Step of the winds looked at.
const WIND_STEP_MPS: f64 = 2.0;

/// Winds looked at go up to this at least … and to this at most.
const WIND_TOP_MPS: [f64; 2] = [12.0, 20.0];

/// What is needed of a wind: the policies nothing else beats there.
#[derive(Debug, Clone, PartialEq)]
pub struct WindStep {
    /// Exact mean wind at the height that the scenario states it for.
    pub wind_mps: f64,
    /// Danger to others per policy.
    pub danger: Vec<Share>,
    /// Policies that nothing else beats, best estimate first.
    pub unbeaten: Vec<usize>,
}

/// Where another policy takes over.
#[derive(Debug, Clone, PartialEq)]
pub struct Flip {
    /// The nearest wind looked at in which the chosen policy still was unbeaten; `None`: in none.
    pub holds_at_mps: Option<f64>,
    /// The first in which it was not.
    pub at_mps: f64,
    /// What is better there.
    pub to: usize,
    /// The concern that decides there, in the words of the verdict.
    pub by: String,
}

/// The winds in which the chosen policy is unbeaten.
#[derive(Debug, Clone, PartialEq)]
pub struct WindLimit {
    /// Flights at each wind, the same luck at all.
    pub flights: u32,
    /// Winds looked at, weakest first.
    pub steps: Vec<WindStep>,
    /// Going up from the middle wind of the scenario.
    pub above: Option<Flip>,
    /// Going down from it.
    pub below: Option<Flip>,
    /// Lost links set aside at all these winds because the simulation faulted.
    pub faulted: u64,
}

/// Flies all policies at exact mean winds, up and down from the scenario's middle wind, until the verdict leaves the
/// chosen policy; the wind is then halved in once. `done` hears of flights flown.
///
/// # Errors
/// As [`World::new`].
pub fn wind_limit(
    world: &World,
    chosen: usize,
    flights: u32,
    done: &(dyn Fn(u64) + Sync),
) -> Result<WindLimit, WorldError> {
    let wind = &world.scenario.weather.wind_mps;
    let mut steps: Vec<WindStep> = Vec::new();
    let mut faulted = 0;
    let mut look = |wind_mps: f64| -> Result<Option<(usize, String)>, WorldError> {
        let mut scenario = world.scenario.clone();
        scenario.weather.wind_mps = Uncertain::Exact(wind_mps);
        let other = World::like(world, scenario)?;
        let before = steps.len() as u64 * u64::from(flights);
        let result = fly_tally(&other, 0..flights, &|n| done(before + n));
        faulted += result.faults.flights;
        let unbeaten = result.verdict.best;
        let better = (!unbeaten.contains(&chosen)).then(|| unbeaten.first().copied()).flatten();
        let better = better.map(|to| (to, result.verdict.decided_by));
        steps.push(WindStep { wind_mps, danger: result.policies.iter().map(|p| p.groups[0].1).collect(), unbeaten });
        Ok(better)
    };
    let top_mps = (wind.quantile(0.99) + 2.0 * WIND_STEP_MPS).clamp(WIND_TOP_MPS[0], WIND_TOP_MPS[1]);
    let count = (top_mps / WIND_STEP_MPS).floor() as usize;
    let first = ((wind.central() / WIND_STEP_MPS).round() as usize).clamp(1, count);
    let at = |k: usize| k as f64 * WIND_STEP_MPS;
    let start = look(at(first))?;
    let mut walk = |places: &mut dyn Iterator<Item = usize>| -> Result<Option<Flip>, WorldError> {
        let mut holds_mps = at(first);
        for k in places {
            let Some((to, by)) = look(at(k))? else {
                holds_mps = at(k);
                continue;
            };
            let middle_mps = 0.5 * (holds_mps + at(k));
            return Ok(Some(match look(middle_mps)? {
                Some((to, by)) => Flip { holds_at_mps: Some(holds_mps), at_mps: middle_mps, to, by },
                None => Flip { holds_at_mps: Some(middle_mps), at_mps: at(k), to, by },
            }));
        }
        Ok(None)
    };
    let (above, below) = match start {
        // It is beaten where it is: there is nothing to walk away from.
        Some((to, by)) => (Some(Flip { holds_at_mps: None, at_mps: at(first), to, by }), None),
        None => (walk(&mut (first + 1..=count))?, walk(&mut (1..first).rev())?),
    };
    steps.sort_by(|a, b| a.wind_mps.total_cmp(&b.wind_mps));
    Ok(WindLimit { flights, steps, above, below, faulted })
}

/// Most flights that [`wind_limit`] flies, for a progress bar.
pub fn wind_work(flights: u32) -> u64 {
    (WIND_TOP_MPS[1] / WIND_STEP_MPS) as u64 * u64::from(flights) + 2 * u64::from(flights)
}

/// Danger to others under one policy alone, on the flights of the assessment, and how many lost links of it were set aside
/// because the simulation faulted. `done` hears of flights flown.
///
/// # Errors
/// As [`World::new`].
pub fn danger_under(
    world: &World,
    policy: &Policy,
    flights: u32,
    done: &(dyn Fn(u64) + Sync),
) -> Result<Option<(Share, u64)>, WorldError> {
    let result = fly_tally(&world.with_policies(vec![policy.clone()])?, 0..flights, done);
    let aside = result.faults.flights;
    Ok(result.policies.first().map(|p| (p.groups[0].1, aside)))
}

/// Stretches this near to each other are one. Estimate: a few seconds of flight.
const BRIDGED_M: f64 = 25.0;

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

/// Stretches of the path with less than [`FADES_UNDER_DB`] of mean margin while every source of interference is on, and the
/// least margin of the path.
pub fn fades(world: &World) -> (Vec<Fade>, f64) {
    let link = MiddleLink::of(world);
    let one_metre_db = link.at_one_metre_db();
    let (mut list, mut least_db): (Vec<Fade>, f64) = (Vec::new(), f64::INFINITY);
    for (flown_m, place_m, heading) in places(world, 5.0) {
        let (margin_db, budget) = link.margin_with_all_on(place_m, &Frame::level(heading));
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
    (list, least_db)
}

/// Places of the path about every `step_m`: distance flown, place, direction flown.
fn places(world: &World, step_m: f64) -> impl Iterator<Item = (f64, [f64; 3], [f64; 2])> + '_ {
    let total_m = world.path.length_m();
    let count = (total_m / step_m).ceil().max(1.0) as usize;
    let mut heading = world.path.first_heading();
    (0..=count).map(move |k| {
        let flown_m = total_m * k as f64 / count as f64;
        let place = world.path.at_distance(flown_m).0;
        let next = world.path.at_distance((flown_m + 1.0).min(total_m)).0;
        let ahead = [next[0] - place[0], next[1] - place[1]];
        // Straight up and at the end the nose stays where it was.
        if ahead[0] * ahead[0] + ahead[1] * ahead[1] > 1e-12 {
            heading = ahead;
        }
        (flown_m, place, heading)
    })
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
    let spots: Vec<[f64; 2]> = places(world, 5.0).map(|(_, p, _)| [p[0], p[1]]).collect();
    let mut list: Vec<Underneath> = world
        .scenario
        .site
        .zones
        .iter()
        .filter(|zone| !matches!(zone.kind, ZoneKind::Clear | ZoneKind::Rough))
        .map(|zone| {
            let from = |p: [f64; 2]| zone.area.distance_m(p);
            let from_path_m = spots.iter().map(|&p| from(p)).fold(f64::INFINITY, f64::min);
            let way = |p: &[f64; 2]| {
                let far_m = (p[0] - home[0]).hypot(p[1] - home[1]);
                let steps = (far_m / 5.0).ceil().max(1.0) as usize;
                (0..=steps)
                    .map(|k| k as f64 / steps as f64)
                    .map(|share| from([p[0] + share * (home[0] - p[0]), p[1] + share * (home[1] - p[1])]))
                    .fold(f64::INFINITY, f64::min)
            };
            let from_ways_m = spots.iter().step_by(2).map(way).fold(f64::INFINITY, f64::min);
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

/// How long the receiver takes on the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bench {
    /// From the last packet to the declared loss.
    pub lost_after_s: f64,
    /// From the first packet to control handed back.
    pub back_after_s: f64,
    /// Time between packets.
    pub interval_s: f64,
}

/// Runs the receiver through a transmitter switched off and on again.
pub fn bench(settings: &ReceiverSettings) -> Bench {
    let interval_s = settings.interval_s;
    let packets = |time_s: f64| (time_s / interval_s).ceil().max(1.0) as u64;
    let good = packets(settings.patience_s) + u64::from(settings.window) + 10;
    let silent = packets(2.0 * settings.patience_s + 1.0) + u64::from(settings.window);
    let again = packets(2.0 * settings.handback_s + 1.0) + 2 * u64::from(settings.window);
    let mut state = ReceiverState::new(settings, 0.0);
    let (mut lost_s, mut back_s) = (f64::NAN, f64::NAN);
    for k in 0..good + silent + again {
        let arrived = k < good || k >= good + silent;
        match state.packet(settings, k as f64 * interval_s, arrived) {
            Some(Declared::Lost { at_s }) => lost_s = at_s,
            Some(Declared::Restored { at_s }) if back_s.is_nan() => back_s = at_s,
            _ => {}
        }
    }
    Bench {
        lost_after_s: lost_s - (good - 1) as f64 * interval_s,
        back_after_s: back_s - (good + silent) as f64 * interval_s,
        interval_s,
    }
}

/// One stop of a range walk.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RangeStop {
    /// Distance over the ground.
    pub distance_m: f64,
    /// Signal strength in the middle, in the receiver's steps.
    pub rssi_dbm: f64,
    /// Link quality in the middle.
    pub quality_pct: f64,
    /// Link quality at the ends of the tolerance.
    pub quality_span_pct: [f64; 2],
}

/// A walk with the craft at reduced power over flat open ground.
#[derive(Debug, Clone, PartialEq)]
pub struct RangeWalk {
    /// Power.
    pub power_dbm: f64,
    /// How much less than in flight.
    pub less_db: f64,
    /// Height at which the craft is carried.
    pub craft_height_m: f64,
    /// Tolerance of the signal strength: two sigma of the scenario's shadowing and of [`WALK_SIGMA_DB`].
    pub tolerance_db: f64,
    /// Stops, nearest first.
    pub stops: Vec<RangeStop>,
    /// Greatest distance with half the packets, in the middle and at the ends of the tolerance; `None`: not within
    /// [`WALK_MOST_M`].
    pub half_m: Option<[f64; 3]>,
}

/// Spread of antennas held by hand, 1 sigma. Estimate.
pub const WALK_SIGMA_DB: f64 = 3.0;

/// Longest walk asked for.
pub const WALK_MOST_M: f64 = 600.0;

const WALK_STOPS_M: [f64; 4] = [20.0, 50.0, 100.0, 200.0];
const WALK_HEIGHT_M: f64 = 1.2;
/// Reduction when the transmitter has no steps of its own.
const WALK_LESS_DB: f64 = 20.0;

/// What a range walk should show.
///
/// # Errors
/// Figures that the radio's formulas do not cover.
pub fn range_walk(world: &World) -> Result<RangeWalk, LinkError> {
    let scenario = &world.scenario;
    let drawn = Drawn::central(scenario);
    let link = LinkSetup::new(
        &scenario.radio,
        &scenario.pilot,
        scenario.seed,
        &|_, _| 0.0,
        Some(FlatGround::of(&scenario.site)),
        LinkFields::default(),
    )?;
    let control = &scenario.radio.control;
    let full_dbm = control.power_steps_dbm.last().copied().unwrap_or(drawn.power_dbm);
    let power_dbm = match control.power_steps_dbm.as_slice() {
        [least, .., most] if most > least => *least,
        _ => full_dbm - WALK_LESS_DB,
    };
    let facing = scenario.pilot.facing_deg.unwrap_or(0.0).to_radians();
    let (east, north) = libm::sincos(facing);
    let [px, py, _] = link.pilot_m();
    let mean = |distance_m: f64| {
        let place_m = [px + east * distance_m, py + north * distance_m, WALK_HEIGHT_M];
        let mean = link.mean(place_m, &Frame::level([east, north]), drawn.body_loss_db, 0.0);
        (link.margin_at_one_metre_db(power_dbm, drawn.noise_rise_db) - mean.loss_db, mean.k_db)
    };
    let quality = |margin_db: f64, k_db: f64| 100.0 * (1.0 - link.faded_error_rate(margin_db, k_db));
    let sigma_db = drawn.shadow_sigma_db;
    let tolerance_db = 2.0 * (sigma_db * sigma_db + WALK_SIGMA_DB * WALK_SIGMA_DB).sqrt();
    let step_db = control.receiver.rssi_step_db;
    let stops = WALK_STOPS_M
        .into_iter()
        .map(|distance_m| {
            let (margin_db, k_db) = mean(distance_m);
            let rssi_dbm = link.sensitivity_dbm(drawn.noise_rise_db) + margin_db;
            RangeStop {
                distance_m,
                rssi_dbm: if step_db > 0.0 { (rssi_dbm / step_db).round() * step_db } else { rssi_dbm },
                quality_pct: quality(margin_db, k_db),
                quality_span_pct: [-tolerance_db, tolerance_db].map(|more_db| quality(margin_db + more_db, k_db)),
            }
        })
        .collect();
    // The farthest place with half the packets: nulls of the ground reflection on the way do not end the walk.
    let half = |more_db: f64| {
        (5..=WALK_MOST_M as u32 * 4).rev().map(f64::from).find(|&distance_m| {
            let (margin_db, k_db) = mean(distance_m);
            quality(margin_db + more_db, k_db) >= 50.0
        })
    };
    let half_m = match (half(0.0), half(-tolerance_db), half(tolerance_db)) {
        (Some(middle), Some(near), Some(far)) if middle <= WALK_MOST_M => Some([near, middle, far]),
        _ => None,
    };
    Ok(RangeWalk {
        power_dbm,
        less_db: full_dbm - power_dbm,
        craft_height_m: WALK_HEIGHT_M,
        tolerance_db,
        stops,
        half_m,
    })
}

/// What the craft's sense of place should show at the take-off spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixTests {
    /// Flights looked at.
    pub flights: u32,
    /// Flights with a fix and a home point after the wait.
    pub with_fix: u32,
    /// Distance to home shown at home not exceeded in 95 of 100 flights; NaN without a fix.
    pub home_95_m: f64,
    /// Drift in 30 s of hold not exceeded in 95 of 100.
    pub hold_95_m: f64,
    /// Heading error of the middle 95 of 100, clockwise positive.
    pub heading_deg: [f64; 2],
}

/// Lets the fix of many flights stand at the take-off spot for a minute and a half, then hover for half a minute.
pub fn fix_tests(world: &World, flights: u32) -> FixTests {
    const STAND_S: f64 = 90.0;
    const HOLD_S: f64 = 30.0;
    let rows: Vec<(f64, Option<[f64; 2]>)> = (0..flights)
        .into_par_iter()
        .map(|flight| {
            let draws = FlightDraws { streams: Streams::new(world.scenario.seed), flight };
            let drawn = Drawn::of_flight(&world.scenario, &draws);
            let mut state = world.fix.begin(&world.sky, &draws, &drawn);
            let heading_deg = state.now().heading_error_rad.to_degrees();
            let mut at = |from_s: f64, to_s: f64, height_m: f64| {
                let mut now = state.now();
                let (from, to) =
                    ((from_s / world.scenario.step_s).round() as u32, (to_s / world.scenario.step_s).round() as u32);
                for step in from..to {
                    now = state.step(
                        &world.fix,
                        &world.sky,
                        &draws,
                        &FixMoment {
                            step,
                            time_s: f64::from(step) * world.scenario.step_s,
                            place_m: [world.home_m[0], world.home_m[1], world.home_m[2] + height_m],
                            velocity_mps: [0.0; 3],
                            airspeed_mps: 0.0,
                            throttle: if height_m > 1.0 { 0.4 } else { 0.0 },
                            tilt_rad: 0.0,
                        },
                    );
                }
                (now, state.home_error_m())
            };
            let (stood, home) = at(0.0, STAND_S, 0.0);
            let (held, _) = at(STAND_S, STAND_S + HOLD_S, 5.0);
            let home = home.filter(|_| stood.fix && held.fix);
            let size = |x: f64, y: f64| (x * x + y * y).sqrt();
            let found = home.map(|home| {
                let (a, b) = (stood.place_error_m, held.place_error_m);
                [size(a[0] - home[0], a[1] - home[1]), size(b[0] - a[0], b[1] - a[1])]
            });
            (heading_deg, found)
        })
        .collect();
    let found: Vec<[f64; 2]> = rows.iter().filter_map(|row| row.1).collect();
    let most = |which: usize| match found.len() {
        0 => f64::NAN,
        _ => lower_quantile(found.iter().map(|row| row[which]).collect(), 0.95),
    };
    let heading = |p: f64| lower_quantile(rows.iter().map(|row| row.0).collect(), p);
    FixTests {
        flights,
        with_fix: found.len() as u32,
        home_95_m: most(0),
        hold_95_m: most(1),
        heading_deg: [heading(0.025), heading(0.975)],
    }
}

/// What hovering takes: 5th, 50th and 95th of a hundred crafts of the scenario.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoverTest {
    /// How long.
    pub for_s: f64,
    /// Power at the pack's terminals.
    pub power_w: [f64; 3],
    /// Charge used, per cent of the aged pack.
    pub charge_pct: [f64; 3],
}

/// Hover in still air for a minute, over the uncertain inputs.
pub fn hover_test(world: &World, flights: u32) -> HoverTest {
    const FOR_S: f64 = 60.0;
    let rows: Vec<[f64; 2]> = (0..flights)
        .map(|flight| {
            let draws = FlightDraws { streams: Streams::new(world.scenario.seed), flight };
            let drawn = Drawn::of_flight(&world.scenario, &draws);
            let energy = home_energy(world, &drawn);
            let power_w = energy.level.power_w(0.0);
            let used = energy.pack.charge_used(power_w * FOR_S, power_w, drawn.charge_pct / 100.0);
            [power_w, used.map_or(f64::INFINITY, |used| 100.0 * used)]
        })
        .collect();
    let three =
        |which: usize| [0.05, 0.5, 0.95].map(|p| lower_quantile(rows.iter().map(|row| row[which]).collect(), p));
    HoverTest { for_s: FOR_S, power_w: three(0), charge_pct: three(1) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Silence is counted from the last packet; control comes back when the window's quality has been good for the time
    /// asked: 0.8 of a window of 50 packets at 50 per second, then 0.5 s. The 40th packet comes 39 intervals after the
    /// first: 0.78 s.
    #[test]
    fn bench_times_follow_from_the_settings() {
        let settings = ReceiverSettings {
            interval_s: 0.02,
            window: 50,
            patience_s: 1.5,
            handback_s: 0.5,
            handback_quality_pct: 80.0,
            rssi_step_db: 1.0,
        };
        let found = bench(&settings);
        assert!((found.lost_after_s - 1.5).abs() < 1e-9, "{found:?}");
        assert!((found.back_after_s - 1.28).abs() < 0.021, "{found:?}");
    }
}
