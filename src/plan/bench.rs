//! What tests on the bench and in the field should show if the model holds.

use crate::flight::{Drawn, FixDraws, FixMoment, FlightDraws, Streams, home_energy};
use crate::geometry::Frame;
use crate::radio::receiver::{Declared, ReceiverSettings, ReceiverState};
use crate::sky::lower_quantile;
use crate::world::World;
use crate::world::radio::{FlatGround, LinkError, LinkFields, LinkSetup};
use rayon::prelude::*;

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

/// The link at a place of the walk.
struct Walked {
    margin_db: f64,
    k_db: f64,
}

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
        Some(&world.link),
    )?;
    let control = &scenario.radio.control;
    let full_dbm = control.power_steps_dbm.last().copied().unwrap_or(drawn.radio.control.power_dbm);
    let power_dbm = match control.power_steps_dbm.as_slice() {
        [least, .., most] if most > least => *least,
        _ => full_dbm - WALK_LESS_DB,
    };
    let facing = scenario.pilot.facing_deg.unwrap_or(0.0).to_radians();
    let (east, north) = libm::sincos(facing);
    let [px, py, _] = link.end.place_m;
    let walked = |distance_m: f64| {
        let place_m = [px + east * distance_m, py + north * distance_m, WALK_HEIGHT_M];
        let mean = link.mean(place_m, &Frame::level([east, north]), drawn.radio.control.body_loss_db, 0.0);
        Walked {
            margin_db: link.margin_at_one_metre_db(power_dbm, drawn.radio.control.noise_rise_db) - mean.loss_db,
            k_db: mean.k_db,
        }
    };
    let quality = |at: &Walked, more_db: f64| 100.0 * (1.0 - link.faded_error_rate(at.margin_db + more_db, at.k_db));
    let sigma_db = drawn.radio.shadow_sigma_db;
    let tolerance_db = 2.0 * (sigma_db * sigma_db + WALK_SIGMA_DB * WALK_SIGMA_DB).sqrt();
    let step_db = control.receiver.rssi_step_db;
    let stops = WALK_STOPS_M
        .into_iter()
        .map(|distance_m| {
            let at = walked(distance_m);
            let rssi_dbm = link.sensitivity_dbm(drawn.radio.control.noise_rise_db) + at.margin_db;
            RangeStop {
                distance_m,
                rssi_dbm: if step_db > 0.0 { (rssi_dbm / step_db).round() * step_db } else { rssi_dbm },
                quality_pct: quality(&at, 0.0),
                quality_span_pct: [-tolerance_db, tolerance_db].map(|more_db| quality(&at, more_db)),
            }
        })
        .collect();
    // The farthest place with half the packets: nulls of the ground reflection on the way do not end the walk.
    let half = |more_db: f64| {
        (5..=WALK_MOST_M as u32 * 4)
            .rev()
            .map(f64::from)
            .find(|&distance_m| quality(&walked(distance_m), more_db) >= 50.0)
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

/// What one flight's fix shows.
struct FixRow {
    heading_deg: f64,
    /// `None`: no fix, or no home point.
    found: Option<Found>,
}

#[derive(Clone, Copy)]
struct Found {
    /// Distance to home shown at home.
    home_m: f64,
    /// Drift in a hold.
    hold_m: f64,
}

/// Lets the fix of many flights stand at the take-off spot for a minute and a half, then hover for half a minute.
pub fn fix_tests(world: &World, flights: u32) -> FixTests {
    const STAND_S: f64 = 90.0;
    const HOLD_S: f64 = 30.0;
    let rows: Vec<FixRow> = (0..flights)
        .into_par_iter()
        .map(|flight| {
            let draws = FlightDraws { streams: Streams::new(world.scenario.seed), flight };
            let drawn = Drawn::of_flight(&world.scenario, &draws);
            let mut state = world.fix.begin(&world.sky, &draws, &drawn);
            let draws = FixDraws::new(draws);
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
                Found { home_m: size(a[0] - home[0], a[1] - home[1]), hold_m: size(b[0] - a[0], b[1] - a[1]) }
            });
            FixRow { heading_deg, found }
        })
        .collect();
    let found: Vec<Found> = rows.iter().filter_map(|row| row.found).collect();
    let most = |of: fn(&Found) -> f64| match found.len() {
        0 => f64::NAN,
        _ => lower_quantile(found.iter().map(of).collect(), 0.95),
    };
    let heading = |p: f64| lower_quantile(rows.iter().map(|row| row.heading_deg).collect(), p);
    FixTests {
        flights,
        with_fix: found.len() as u32,
        home_95_m: most(|found| found.home_m),
        hold_95_m: most(|found| found.hold_m),
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

/// One craft that hovers.
struct Hover {
    power_w: f64,
    charge_pct: f64,
}

/// Hover in still air for a minute, over the uncertain inputs.
pub fn hover_test(world: &World, flights: u32) -> HoverTest {
    const FOR_S: f64 = 60.0;
    let rows: Vec<Hover> = (0..flights)
        .map(|flight| {
            let draws = FlightDraws { streams: Streams::new(world.scenario.seed), flight };
            let drawn = Drawn::of_flight(&world.scenario, &draws);
            let energy = home_energy(world, &drawn);
            let power_w = energy.level.power_w(0.0);
            let used = energy.pack.charge_used(power_w * FOR_S, power_w, drawn.craft.battery.charge_pct / 100.0);
            Hover { power_w, charge_pct: used.map_or(f64::INFINITY, |used| 100.0 * used) }
        })
        .collect();
    let three = |of: fn(&Hover) -> f64| [0.05, 0.5, 0.95].map(|p| lower_quantile(rows.iter().map(of).collect(), p));
    HoverTest { for_s: FOR_S, power_w: three(|row| row.power_w), charge_pct: three(|row| row.charge_pct) }
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
