//! A day of the sky at one place: for the `sky` command.

use crate::scenario::Scenario;
use crate::site::SiteGrid;
use crate::sky::{Constellation, Satellite, Viewpoint, lower_quantile};
use crate::world::{
    ClassSky, CodeNoise, HORIZON_AZIMUTHS, Horizon, SkyError, SkyNow, SkySource, UNSTATED_ORIGIN, assess,
    interference_loss_db, standing, systems,
};
use rayon::prelude::*;
use serde::Serialize;
use std::f64::consts::TAU;

/// Time between samples of the day.
pub const SAMPLE_S: f64 = 300.0;

/// Samples of a day.
const SAMPLES: usize = 288;

/// A day of the sky at one place, with several choices of constellations. Values without a solution are infinite, which JSON
/// writes as `null`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SkyDay {
    /// UTC date: year, month, day. Times below count from its midnight.
    pub date: [u32; 3],
    /// How far the scenario's local time is ahead of UTC, in minutes; `None` where it uses none.
    pub offset_min: Option<i32>,
    /// Latitude.
    pub lat_deg: f64,
    /// Longitude.
    pub lon_deg: f64,
    /// Whether the site says where it is; else the place is assumed.
    pub place_stated: bool,
    /// Place: x, y, z above the site's origin.
    pub place_m: [f64; 3],
    /// Height above the ground there.
    pub height_agl_m: f64,
    /// Where the satellites come from.
    pub origin: String,
    /// What is to be known about that.
    pub warnings: Vec<String>,
    /// C/N0 lost to own noise and interference at the place.
    pub noise_db: f64,
    /// The choices compared; the scenario's own comes last when it is none of the usual ones.
    pub sets: Vec<SetDay>,
    /// Index of the scenario's own choice.
    pub own: usize,
    /// Way of each satellite of the own choice through the sky.
    pub tracks: Vec<SkyTrack>,
    /// Horizon of ground and buildings: azimuth and elevation in degrees.
    pub horizon_deg: Vec<[f64; 2]>,
    /// Horizon of tree tops.
    pub canopy_deg: Vec<[f64; 2]>,
    /// Least elevation used.
    pub mask_deg: f64,
}

/// The day under one choice of constellations.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetDay {
    /// Name.
    pub name: String,
    /// Number of constellations.
    pub constellations: usize,
    /// Samples in time order.
    pub rows: Vec<DayRow>,
    /// Hours of the day, 24 of them.
    pub hours: Vec<HourRow>,
    /// Median of the satellites tracked.
    pub median_satellites: f64,
    /// Fewest.
    pub fewest_satellites: u32,
    /// Median HDOP.
    pub median_hdop: f64,
    /// HDOP not exceeded for 95 % of the day.
    pub hdop_95: f64,
    /// Share of the day without a solution.
    pub share_without: f64,
    /// Hour with the least worst HDOP.
    pub best_hour: u32,
    /// Hour with the greatest share without a solution, then the greatest HDOP.
    pub worst_hour: u32,
    /// How each guard fares.
    pub guards: Vec<GuardDay>,
}

/// One sample.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DayRow {
    /// After midnight UTC.
    pub time_s: f64,
    /// Satellites tracked.
    pub satellites: u32,
    /// HDOP.
    pub hdop: f64,
    /// VDOP.
    pub vdop: f64,
    /// Horizontal root mean square error.
    pub horizontal_m: f64,
    /// Vertical error, 1 sigma.
    pub vertical_m: f64,
}

/// One hour.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HourRow {
    /// Hour of the UTC day.
    pub hour: u32,
    /// Fewest satellites.
    pub fewest_satellites: u32,
    /// Median HDOP.
    pub median_hdop: f64,
    /// Greatest HDOP.
    pub greatest_hdop: f64,
    /// Share of the hour without a solution.
    pub share_without: f64,
}

/// A guard on the fix.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FixLimit {
    /// Whose.
    pub label: String,
    /// Fewest satellites.
    pub satellites: u32,
    /// Greatest HDOP.
    pub hdop: f64,
}

/// A guard over the day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GuardDay {
    /// The guard.
    pub guard: FixLimit,
    /// Share of the day in which it would not pass.
    pub share_failing: f64,
    /// Stretches in which it would not pass, from and to in seconds after midnight.
    pub failing_s: Vec<[f64; 2]>,
}

/// One satellite's way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SkyTrack {
    /// Name.
    pub name: String,
    /// System.
    pub system: &'static str,
    /// Passes above the horizontal: each a list of (seconds after midnight, azimuth in degrees, elevation in degrees).
    pub passes: Vec<Vec<[f64; 3]>>,
}

/// The guards of a scenario: before take-off, and those of its policies, each once.
pub fn fix_limits(scenario: &Scenario) -> Vec<FixLimit> {
    let (satellites, hdop) = (scenario.sky.wait_satellites, scenario.sky.wait_hdop);
    let mut list = vec![FixLimit { label: "before take-off".into(), satellites, hdop }];
    for policy in &scenario.policies {
        for guard in policy.actions.iter().filter_map(|action| action.guards.fix) {
            match list.iter_mut().find(|known| known.satellites == guard.satellites && known.hdop == guard.hdop) {
                Some(known) if known.label.contains(&policy.name) => {}
                Some(known) => known.label += &format!(", {}", policy.name),
                None => {
                    list.push(FixLimit { label: policy.name.clone(), satellites: guard.satellites, hdop: guard.hdop })
                }
            }
        }
    }
    list
}

impl SkyDay {
    /// The UTC day of the scenario's take-off above a spot, at a height above its ground.
    ///
    /// # Errors
    /// As [`SkySource::new`].
    pub fn new(
        scenario: &Scenario,
        grid: &SiteGrid,
        spot_m: [f64; 2],
        height_agl_m: f64,
        limits: &[FixLimit],
    ) -> Result<SkyDay, SkyError> {
        let own = SkySource::new(scenario)?;
        let [year, month, day, hour, minute, second] = scenario.sky.utc;
        let into_day_s = f64::from(hour * 3600 + minute * 60 + second);
        let place_m = [spot_m[0], spot_m[1], grid.ground_m(spot_m[0], spot_m[1]) + height_agl_m];
        let mut horizons = Vec::new();
        Horizon::above_spot(grid, spot_m, &[place_m[2]], &mut horizons);
        let interference_db = interference_loss_db(grid, &scenario.sky, place_m);
        let sky = ClassSky { horizon: horizons[0], interference_db };
        let own_noise_db = scenario.sky.own_noise_db.central();

        let choices = choices(&scenario.sky.constellations);
        let mut warnings = own.satellites.warnings.clone();
        if own.satellites.list.iter().any(|s| matches!(s, Satellite::Broadcast(e) if e.elements.cuc_rad != 0.0)) {
            warnings.push(
                "a navigation file serves the hours around its records; what it does not hold is missing from the rest of the day"
                    .into(),
            );
        }
        let mut sets = Vec::new();
        let mut own_index = 0;
        for Choice { name, constellations } in &choices {
            let mut source = SkySource::with_constellations(scenario, constellations)?;
            // A file may lack a system that is only compared: then that comparison is left out, and said so.
            let lacking = systems(constellations)
                .into_iter()
                .find(|system| source.satellites.list.iter().all(|satellite| satellite.system() != *system));
            if let Some(lacking) = lacking.filter(|_| !same(constellations, &scenario.sky.constellations)) {
                warnings
                    .push(format!("{name} left out of the comparison: no {} satellite in the file", lacking.name()));
                continue;
            }
            source.start = source.start.plus(-into_day_s);
            if same(constellations, &scenario.sky.constellations) {
                own_index = sets.len();
            }
            sets.push(SetDay::new(
                name,
                constellations.len(),
                &source,
                &sky,
                own_noise_db,
                scenario.sky.track_dbhz,
                limits,
            ));
        }
        let midnight = SkySource { start: own.start.plus(-into_day_s), ..own.clone() };
        let line = |elevations: &[f32; HORIZON_AZIMUTHS]| {
            let step_deg = 360.0 / HORIZON_AZIMUTHS as f64;
            elevations.iter().enumerate().map(|(k, &e)| [k as f64 * step_deg, f64::from(e).to_degrees()]).collect()
        };
        Ok(SkyDay {
            date: [year, month, day],
            offset_min: scenario.sky.offset_min,
            lat_deg: own.site.lat_deg(),
            lon_deg: own.site.lon_deg(),
            place_stated: scenario.site.origin.is_some(),
            place_m,
            height_agl_m,
            origin: own.satellites.origin.clone(),
            warnings: if scenario.site.origin.is_none() {
                let (lat, lon) = UNSTATED_ORIGIN;
                warnings.push(format!("the site is not tied to the Earth: {lat}° N, {lon}° E is assumed"));
                warnings
            } else {
                warnings
            },
            noise_db: own_noise_db + interference_db,
            sets,
            own: own_index,
            tracks: tracks(&midnight),
            horizon_deg: line(&sky.horizon.opaque_rad),
            canopy_deg: line(&sky.horizon.canopy_rad),
            mask_deg: own.mask_rad.to_degrees(),
        })
    }

    /// The scenario's own choice.
    pub fn own_set(&self) -> &SetDay {
        &self.sets[self.own]
    }
}

fn same(a: &[Constellation], b: &[Constellation]) -> bool {
    a.len() == b.len() && a.iter().all(|one| b.contains(one))
}

/// A choice of constellations.
struct Choice {
    name: String,
    constellations: Vec<Constellation>,
}

/// One, two and four constellations, and the scenario's own choice when it is none of these.
fn choices(own: &[Constellation]) -> Vec<Choice> {
    use Constellation::{Beidou, Galileo, Glonass, Gps24, Gps30};
    // The scenario's size of GPS is kept, so that only the number of systems differs.
    let gps = if own.contains(&Gps24) { Gps24 } else { Gps30 };
    let mut list = vec![vec![gps], vec![gps, Galileo], vec![gps, Galileo, Glonass, Beidou]];
    if !list.iter().any(|known| same(known, own)) {
        list.push(own.to_vec());
    }
    list.into_iter().map(|set| Choice { name: name_of(&set), constellations: set }).collect()
}

fn name_of(set: &[Constellation]) -> String {
    let names = set.iter().map(|constellation| match constellation {
        Constellation::Gps24 => "GPS 24",
        Constellation::Gps30 => "GPS",
        Constellation::Galileo => "Galileo",
        Constellation::Glonass => "GLONASS",
        Constellation::Beidou => "BeiDou",
    });
    names.collect::<Vec<_>>().join(" + ")
}

impl SetDay {
    fn new(
        name: &str,
        constellations: usize,
        midnight: &SkySource,
        sky: &ClassSky,
        own_noise_db: f64,
        track_dbhz: [f64; 2],
        limits: &[FixLimit],
    ) -> SetDay {
        let noise = CodeNoise::new();
        let loss_db = own_noise_db + sky.interference_db;
        let rows: Vec<DayRow> = (0..SAMPLES)
            .into_par_iter()
            .map(|k| {
                let time_s = k as f64 * SAMPLE_S;
                let satellites = standing(midnight, time_s);
                row(time_s, &assess(&satellites, sky, loss_db, track_dbhz, midnight.budget.ionosphere_m, &noise))
            })
            .collect();
        let hours: Vec<HourRow> = (0..24).map(|hour| hour_row(hour, &rows)).collect();
        let hdop = |rows: &[DayRow], p: f64| lower_quantile(rows.iter().map(|r| r.hdop).collect(), p);
        let satellites = lower_quantile(rows.iter().map(|r| f64::from(r.satellites)).collect(), 0.5);
        let worse = |a: &&HourRow, b: &&HourRow| {
            a.share_without.total_cmp(&b.share_without).then(a.greatest_hdop.total_cmp(&b.greatest_hdop))
        };
        SetDay {
            name: name.to_string(),
            constellations,
            median_satellites: satellites,
            fewest_satellites: rows.iter().map(|r| r.satellites).min().unwrap_or(0),
            median_hdop: hdop(&rows, 0.5),
            hdop_95: hdop(&rows, 0.95),
            share_without: rows.iter().filter(|r| !r.hdop.is_finite()).count() as f64 / rows.len() as f64,
            best_hour: hours.iter().min_by(worse).map_or(0, |h| h.hour),
            worst_hour: hours.iter().max_by(worse).map_or(0, |h| h.hour),
            guards: limits.iter().map(|limit| guard_day(limit, &rows)).collect(),
            hours,
            rows,
        }
    }
}

fn row(time_s: f64, now: &SkyNow) -> DayRow {
    let (e, n) = (f64::from(now.sigma_east_m), f64::from(now.sigma_north_m));
    DayRow {
        time_s,
        satellites: u32::from(now.satellites),
        hdop: f64::from(now.hdop),
        vdop: f64::from(now.vdop),
        horizontal_m: (e * e + n * n).sqrt(),
        vertical_m: f64::from(now.sigma_up_m),
    }
}

fn hour_row(hour: u32, rows: &[DayRow]) -> HourRow {
    let from = hour as usize * SAMPLES / 24;
    let part = &rows[from..from + SAMPLES / 24];
    HourRow {
        hour,
        fewest_satellites: part.iter().map(|r| r.satellites).min().unwrap_or(0),
        median_hdop: lower_quantile(part.iter().map(|r| r.hdop).collect(), 0.5),
        greatest_hdop: part.iter().map(|r| r.hdop).fold(0.0, f64::max),
        share_without: part.iter().filter(|r| !r.hdop.is_finite()).count() as f64 / part.len() as f64,
    }
}

fn guard_day(limit: &FixLimit, rows: &[DayRow]) -> GuardDay {
    let fails = |row: &&DayRow| row.satellites < limit.satellites || row.hdop > limit.hdop;
    let mut failing_s: Vec<[f64; 2]> = Vec::new();
    for row in rows.iter().filter(fails) {
        match failing_s.last_mut() {
            Some(last) if last[1] == row.time_s => last[1] += SAMPLE_S,
            _ => failing_s.push([row.time_s, row.time_s + SAMPLE_S]),
        }
    }
    let share_failing = rows.iter().filter(fails).count() as f64 / rows.len() as f64;
    GuardDay { guard: limit.clone(), share_failing, failing_s }
}

fn tracks(midnight: &SkySource) -> Vec<SkyTrack> {
    let view = Viewpoint::new(midnight.site);
    let track = |satellite: &crate::sky::Satellite| {
        let mut passes: Vec<Vec<[f64; 3]>> = Vec::new();
        let mut up = false;
        for k in 0..=SAMPLES {
            let time_s = k as f64 * SAMPLE_S;
            let sight = satellite.sight(&view, midnight.start.plus(time_s));
            if sight.elevation_rad < 0.0 {
                up = false;
                continue;
            }
            if !up {
                passes.push(Vec::new());
            }
            up = true;
            if let Some(pass) = passes.last_mut() {
                pass.push([time_s, sight.azimuth_rad / TAU * 360.0, sight.elevation_rad.to_degrees()]);
            }
        }
        SkyTrack { name: satellite.name(), system: satellite.system().name(), passes }
    };
    midnight.satellites.list.iter().map(track).filter(|track| !track.passes.is_empty()).collect()
}
