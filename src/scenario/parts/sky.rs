//! Satellites, fix, heading, barometer.

use super::{ESTIMATE, site::Site};
use crate::chance::Uncertain;
use crate::scenario::declare::part;
use crate::scenario::files::Keeper;
use crate::scenario::kind::{above, between};
use crate::scenario::section::Section;
use crate::sky::{Calendar, Constellation, GpsTime, MagneticError, Satellites, Start, System, magnetic_field};
use std::path::PathBuf;
use std::sync::Arc;

const CONSTELLATIONS: [(&str, Constellation); 5] = [
    ("gps24", Constellation::Gps24),
    ("gps30", Constellation::Gps30),
    ("galileo", Constellation::Galileo),
    ("glonass", Constellation::Glonass),
    ("beidou", Constellation::Beidou),
];

/// Multipath class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Multipath {
    /// Open field.
    Open,
    /// Edge of a wood.
    Wooded,
    /// Among buildings or under cliffs.
    Walled,
}

const MULTIPATH: [(&str, Multipath); 3] =
    [("open", Multipath::Open), ("wooded", Multipath::Wooded), ("walled", Multipath::Walled)];

/// What a multipath class gives by default.
struct OfClass {
    /// Spread of the factor on the error. Open records of single-frequency receivers, pooled: 95 % of the drifts over 1, 2 and 4
    /// minutes lie within 5.6, 4.4 and 4.3 medians beside buildings (2.1 for a Gaussian), a log-normal factor of 2.2. In the open 8.5,
    /// 6.5 and 8.4, of receivers just switched on.
    spread: f64,
    jumps_per_h: f64,
    outage_every_s: f64,
    outage_for_s: f64,
}

impl OfClass {
    fn new(multipath: Multipath) -> OfClass {
        let (spread, jumps_per_h, outage_every_s, outage_for_s) = match multipath {
            Multipath::Open => (1.8, 2.0, 21_600.0, 5.0),
            Multipath::Wooded => (2.0, 6.0, 1200.0, 8.0),
            Multipath::Walled => (2.2, 20.0, 120.0, 15.0),
        };
        OfClass { spread, jumps_per_h, outage_every_s, outage_for_s }
    }
}

const STARTS: [(&str, Start); 3] = [("cold", Start::Cold), ("warm", Start::Warm), ("hot", Start::Hot)];

const BY_CLASS: &str = "estimate by multipath class";

part! {
    /// Satellites, heading, barometer.
    pub struct Sky<U>(s, keep: &Keeper) {
        "Date and time of take-off"
        utc: [u32; 6] = utc([2026, 6, 20, 10, 0, 0], "a summer morning");
        "How far the stated time is ahead of UTC, in minutes; `None`: it is stated in UTC"
        offset_min: Option<i32> = made(s.offset_min("utc"));
        "Take-off happens within this long after that"
        window_s: f64 = number(between(0.0, 864_000.0), 3600.0, "an hour, drawn evenly");
        "Satellite systems used"
        constellations: Vec<Constellation> = words(&CONSTELLATIONS, &["gps30", "galileo"], "a usual receiver");
        let almanac_file = s.file_name("almanac_file", "the nominal constellations", "YUMA almanac or RINEX navigation file used instead");
        "YUMA almanac or RINEX navigation file used instead of the nominal constellations"
        almanac: Option<PathBuf> = made(almanac_file.as_ref().map(PathBuf::from));
        "The almanac's text, read with the scenario"
        almanac_text: Option<Arc<str>> = made(almanac_file.and_then(|name| keep.text(s, "almanac_file", &name)));
        "Least elevation used"
        mask_deg: f64 = number(between(0.0, 60.0), 5.0, "estimate; its spread is in `error_factor`");
        "Multipath class: open field, edge of a wood, among buildings or under cliffs"
        multipath: Multipath = word(&MULTIPATH, "open", "open field");
        "Residual vertical delay, 1 sigma"
        ionosphere_m: f64 = number(between(0.0, 30.0), 1.0, "estimate: 1 quiet, 3 disturbed; its spread is in `error_factor`");
        let class = OfClass::new(multipath);
        "Factor of one flight on the position error that satellites and multipath class give"
        error_factor: U = uncertain(1020, between(0.0, 20.0), Uncertain::Lognormal(1.0, class.spread), "by multipath class; walled: computed from open records; others: estimate");
        "Jumps of the fix, on top of that error"
        jumps_per_h: U = uncertain(1114, between(0.0, 600.0), Uncertain::Lognormal(class.jumps_per_h, 2.0), "estimate by multipath class, below what single-system receivers recorded");
        "Length of a jump on the ground, drawn for each jump"
        jump_m: Uncertain = each(between(0.0, 1000.0), Uncertain::Lognormal(1.2, 1.3), "fitted to open records of standing receivers");
        "Time in which a jump fades to 1/e"
        jump_for_s: U = uncertain(1115, above(0.0, 600.0), Uncertain::Lognormal(45.0, 1.3), "estimate: as long as the fast part of the error");
        "C/N0 lost to the small antenna and the craft's own electronics"
        own_noise_db: U = uncertain(17, between(0.0, 30.0), Uncertain::Triangular(2.0, 3.0, 6.0), ESTIMATE);
        "The craft's own video transmitter, as far as it lowers C/N0"
        own_video: Option<OwnVideo> = optional(OwnVideo);
        "In-band emitter that lowers C/N0"
        interference: Option<SkyInterference> = optional(SkyInterference);
        "C/N0 at which a satellite is tracked on, and at which it is taken up again"
        track_dbhz: [f64; 2] = numbers(between(10.0, 50.0), [27.0, 33.0], "estimate: 25 to 28 and 32 to 35; their spread is in `own_noise_db`");
        "How long the position receiver has been on at take-off"
        powered_before_s: U = uncertain(18, between(0.0, 86_400.0), Uncertain::Uniform(60.0, 300.0), ESTIMATE);
        "Start of the position receiver"
        start: Start = word(&STARTS, "warm", "used some days before");
        "Whether the pilot waits for a fix before take-off"
        wait_for_fix: bool = made(read_wait(s));
        let key = s.renamed("take_off_satellites", "wait_satellites");
        "Fewest satellites waited for"
        wait_satellites: u32 = made(s.count(key, 4, 60, 7, "computed: six let a faulty one be left out (two more than a solution needs), and one may set", "Fewest satellites waited for"));
        let key = s.renamed("take_off_hdop", "wait_hdop");
        "Greatest HDOP waited for"
        wait_hdop: f64 = made(s.number(key, above(0.0, 50.0), 1.9, "computed: a home point to 3 m, 1 sigma, at a range error of 1.6 m under an open sky", "Greatest HDOP waited for"));
        "Mean time between losses of the fix that geometry does not explain"
        outage_every_s: U = uncertain(1116, above(0.0, 1e9), Uncertain::Lognormal(class.outage_every_s, 2.0), BY_CLASS);
        "Mean length of such a loss"
        outage_for_s: U = uncertain(1117, above(0.0, 3600.0), Uncertain::Lognormal(class.outage_for_s, 1.5), BY_CLASS);
        "Heading bias"
        heading_bias_deg: U = uncertain(19, between(-180.0, 180.0), Uncertain::Normal(0.0, 3.0), "estimate: 2 to 5 well calibrated, 10 to 30 badly");
        "Heading error at full throttle through motor currents"
        heading_throttle_deg: U = uncertain(1118, between(-90.0, 90.0), Uncertain::Lognormal(3.0, 1.6), ESTIMATE);
        "Whether course over ground corrects the heading while moving"
        course_alignment: bool = flag(true, ESTIMATE);
        "Whether magnetic declination is applied, or forgotten"
        declination_applied: bool = flag(true, "as it should be");
        "Stated declination"
        declination_deg: Option<f64> = opt_number(between(-180.0, 180.0), "the built-in magnetic model");
        "Barometer drift, 1 sigma after a minute"
        baro_drift_m_per_sqrt_min: U = uncertain(1119, between(0.0, 20.0), Uncertain::Lognormal(0.3, 1.5), ESTIMATE);
    }
    then {
        if let Err(error) = Calendar::of_parts(utc) {
            s.error("utc", error.to_string(), "a date and time that there is");
        }
        if constellations.contains(&Constellation::Gps24) && constellations.contains(&Constellation::Gps30) {
            s.error("constellations", "both \"gps24\" and \"gps30\"", "one of the two");
        }
        if let Some(text) = &almanac_text {
            check_almanac(s, text, utc, window_s, &constellations);
        }
        if track_dbhz[1] < track_dbhz[0] {
            s.error("track_dbhz", "taking up below tracking on", "the lower one first");
        }
    }
}

part! {
    /// What of the craft's own video transmitter falls into the satellites' band.
    pub struct OwnVideo(s) {
        "Radiated power that falls into the satellites' band"
        in_band_dbm: f64 = number(between(-200.0, 30.0), -90.0, "estimate: 60 dB under a common limit for spurious emissions, -30 dBm");
        "Between its antenna and that of the position receiver"
        distance_m: f64 = number(between(0.02, 5.0), 0.1, ESTIMATE);
        "Taken by a filter or screen in between"
        filter_db: f64 = number(between(0.0, 120.0), 0.0, "none");
    }
}

part! {
    /// An in-band emitter that lowers C/N0.
    pub struct SkyInterference(s) {
        "Where it is: [x, y, height above ground]"
        place_m: [f64; 3] = numbers(between(-1e6, 1e6), [0.0, 0.0, 2.0], "at the origin");
        "Radiated power in band"
        eirp_dbm: f64 = number(between(-100.0, 60.0), 0.0, ESTIMATE);
    }
}

fn read_wait(s: &Section) -> bool {
    if s.former("take_off_without_fix", "wait_for_fix") {
        return !s.flag("take_off_without_fix", false, "", "");
    }
    s.flag("wait_for_fix", true, "common practice", "Whether the pilot waits for a fix before take-off")
}

/// Whether the almanac's text serves the flight: found out here, with its place, not when the sky is computed.
fn check_almanac(s: &Section, text: &str, utc: [u32; 6], window_s: f64, constellations: &[Constellation]) {
    let Ok(at) = Calendar::of_parts(utc) else { return };
    let chosen = |system: &System| constellations.iter().any(|constellation| constellation.system() == *system);
    let systems: Vec<System> = System::ALL.into_iter().filter(chosen).collect();
    match Satellites::from_text(text, GpsTime::from_utc(at).plus(0.5 * window_s), &systems) {
        Ok(found) => {
            for warning in found.warnings {
                s.warn("almanac_file", warning, "a file of the day of the flight with all the constellations chosen");
            }
        }
        Err(error) => s.error(
            "almanac_file",
            error.to_string(),
            "a YUMA almanac, or a RINEX 3 navigation file, that serves the date of the flight",
        ),
    }
}

/// Whether a compass that is not told the declination finds it in the built-in model.
pub(in crate::scenario) fn check_declination(s: &Section, sky: &Sky, site: &Site) {
    let Ok(at) = Calendar::of_parts(sky.utc) else { return };
    if sky.declination_deg.is_none() && !s.sink.is_describing() {
        let (lat_deg, lon_deg) = site.lat_lon_deg();
        if let Err(error) = magnetic_field(at.decimal_year(), site.height_amsl_m, lat_deg, lon_deg) {
            let found = match error {
                MagneticError::Year(_) => {
                    format!("the year {}, for which the magnetic model gives no declination", sky.utc[0])
                }
                place => place.to_string(),
            };
            s.error("utc", found, "a year from 2020 to 2029, or `sky.declination_deg`");
        }
    }
}
