//! Satellites, fix, heading.

use super::{ESTIMATE, Keeper};
use crate::chance::Uncertain;
use crate::scenario::table::{Section, above, between};
use crate::scenario::types::{Constellation, Multipath, OwnVideo, Site, Sky, SkyInterference, SkyStart};
use crate::sky::{Calendar, GpsTime, MagneticError, Satellites, System, magnetic_field};
use std::path::PathBuf;

/// Whether the almanac's text serves the flight: found out here, with its place, not when the sky is computed.
fn check_almanac(s: &Section, text: &str, utc: [u32; 6], window_s: f64, constellations: &[Constellation]) {
    let [year, month, day, hour, minute, second] = utc;
    let Ok(at) = Calendar::new(i64::from(year), month, day, hour, minute, f64::from(second)) else { return };
    let systems: Vec<System> = System::ALL
        .into_iter()
        .filter(|system| {
            constellations.iter().any(|constellation| {
                *system
                    == match constellation {
                        Constellation::Gps24 | Constellation::Gps30 => System::Gps,
                        Constellation::Galileo => System::Galileo,
                        Constellation::Glonass => System::Glonass,
                        Constellation::Beidou => System::Beidou,
                    }
            })
        })
        .collect();
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
pub(super) fn check_declination(s: &Section, sky: &Sky, site: &Site) {
    let [year, month, day, hour, minute, second] = sky.utc;
    let Ok(at) = Calendar::new(i64::from(year), month, day, hour, minute, f64::from(second)) else { return };
    if sky.declination_deg.is_none() && !s.sink.is_describing() {
        let (lat_deg, lon_deg) = site.lat_lon_deg();
        if let Err(error) = magnetic_field(at.decimal_year(), site.height_amsl_m, lat_deg, lon_deg) {
            let found = match error {
                MagneticError::Year(_) => format!("the year {year}, for which the magnetic model gives no declination"),
                place => place.to_string(),
            };
            s.error("utc", found, "a year from 2020 to 2029, or `sky.declination_deg`");
        }
    }
}

/// What a pilot waits for, by our own reckoning.
const WAIT_SATELLITES: u64 = 7;
const WAIT_SATELLITES_WHY: &str =
    "computed: six let a faulty one be left out (two more than a solution needs), and one may set";
const WAIT_HDOP: f64 = 1.9;
const WAIT_HDOP_WHY: &str = "computed: a home point to 3 m, 1 sigma, at a range error of 1.6 m under an open sky";

pub(super) fn read_sky(s: &Section, keep: &Keeper) -> Sky {
    let utc = s.utc("utc", [2026, 6, 20, 10, 0, 0], "a summer morning", "Date and time of take-off");
    let [year, month, day, hour, minute, second] = utc;
    if let Err(error) = Calendar::new(i64::from(year), month, day, hour, minute, f64::from(second)) {
        s.error("utc", error.to_string(), "a date and time that there is");
    }
    let window_s =
        s.number("window_s", between(0.0, 864_000.0), 3600.0, ESTIMATE, "Take-off happens within this long after that");
    let constellations = s.words(
        "constellations",
        &[
            ("gps24", Constellation::Gps24),
            ("gps30", Constellation::Gps30),
            ("galileo", Constellation::Galileo),
            ("glonass", Constellation::Glonass),
            ("beidou", Constellation::Beidou),
        ],
        &["gps30", "galileo"],
        "a usual receiver",
        "Satellite systems used",
    );
    if constellations.contains(&Constellation::Gps24) && constellations.contains(&Constellation::Gps30) {
        s.error("constellations", "both \"gps24\" and \"gps30\"", "one of the two");
    }
    let almanac =
        s.file_name("almanac_file", "the nominal constellations", "YUMA almanac or RINEX navigation file used instead");
    let almanac_text = almanac.as_ref().and_then(|name| keep.text(s, "almanac_file", name));
    if let Some(text) = &almanac_text {
        check_almanac(s, text, utc, window_s, &constellations);
    }
    let mask_deg = s.number("mask_deg", between(0.0, 60.0), 5.0, ESTIMATE, "Least elevation used");
    let multipath = s.word(
        "multipath",
        &[("open", Multipath::Open), ("wooded", Multipath::Wooded), ("walled", Multipath::Walled)],
        "open",
        "open field",
        "Multipath class: open field, edge of a wood, among buildings or under cliffs",
    );
    let ionosphere_m = s.number(
        "ionosphere_m",
        between(0.0, 30.0),
        1.0,
        "estimate: 1 quiet, 3 disturbed",
        "Residual vertical delay, 1 sigma",
    );
    // Open records of single-frequency receivers, pooled: 95 % of the drifts over 1, 2 and 4 minutes lie within 5.6, 4.4 and 4.3 medians
    // beside buildings (2.1 for a Gaussian), a log-normal factor of 2.2. In the open 8.5, 6.5 and 8.4, of receivers just switched on.
    let (spread, jumps) = match multipath {
        Multipath::Open => (1.8, 2.0),
        Multipath::Wooded => (2.0, 6.0),
        Multipath::Walled => (2.2, 20.0),
    };
    let error_factor = s.uncertain(
        "error_factor",
        between(0.0, 20.0),
        Uncertain::Lognormal(1.0, spread),
        "by multipath class; walled: computed from open records; others: estimate",
        "Factor of one flight on the position error that satellites and multipath class give",
    );
    let jumps_per_h = s.number(
        "jumps_per_h",
        between(0.0, 600.0),
        jumps,
        "estimate by multipath class, below what single-system receivers recorded",
        "Jumps of the fix, on top of that error",
    );
    let jump_m = s.uncertain(
        "jump_m",
        between(0.0, 1000.0),
        Uncertain::Lognormal(1.2, 1.3),
        "fitted to open records of standing receivers",
        "Length of a jump on the ground, drawn for each jump",
    );
    let jump_for_s = s.number(
        "jump_for_s",
        above(0.0, 600.0),
        45.0,
        "estimate: as long as the fast part of the error",
        "Time in which a jump fades to 1/e",
    );
    let own_noise_db = s.uncertain(
        "own_noise_db",
        between(0.0, 30.0),
        Uncertain::Triangular(2.0, 3.0, 6.0),
        ESTIMATE,
        "C/N0 lost to the small antenna and the craft's own electronics",
    );
    let own_video =
        s.opt_table("own_video", "The craft's own video transmitter, as far as it lowers C/N0").map(|v| OwnVideo {
            in_band_dbm: v.number(
                "in_band_dbm",
                between(-200.0, 30.0),
                -90.0,
                "estimate: 60 dB under a common limit for spurious emissions, -30 dBm",
                "Radiated power that falls into the satellites' band",
            ),
            distance_m: v.number(
                "distance_m",
                between(0.02, 5.0),
                0.1,
                ESTIMATE,
                "Between its antenna and that of the position receiver",
            ),
            filter_db: v.number(
                "filter_db",
                between(0.0, 120.0),
                0.0,
                "none",
                "Taken by a filter or screen in between",
            ),
        });
    let interference = s.opt_table("interference", "In-band emitter that lowers C/N0").map(|i| SkyInterference {
        place_m: i.numbers::<3>(
            "place_m",
            between(-1e6, 1e6),
            [0.0, 0.0, 2.0],
            "at the origin",
            "Where it is: [x, y, height above ground]",
        ),
        eirp_dbm: i.number("eirp_dbm", between(-100.0, 60.0), 0.0, ESTIMATE, "Radiated power in band"),
    });
    let track_dbhz = s.numbers::<2>(
        "track_dbhz",
        between(10.0, 50.0),
        [27.0, 33.0],
        "estimate: 25 to 28 and 32 to 35",
        "C/N0 at which a satellite is tracked on, and at which it is taken up again",
    );
    if track_dbhz[1] < track_dbhz[0] {
        s.error("track_dbhz", "taking up below tracking on", "the lower one first");
    }
    let powered_before_s = s.uncertain(
        "powered_before_s",
        between(0.0, 86_400.0),
        Uncertain::Uniform(60.0, 300.0),
        ESTIMATE,
        "How long the position receiver has been on at take-off",
    );
    let start = s.word(
        "start",
        &[("cold", SkyStart::Cold), ("warm", SkyStart::Warm), ("hot", SkyStart::Hot)],
        "warm",
        "used some days before",
        "Start of the position receiver",
    );
    let wait_for_fix = if s.former("take_off_without_fix", "wait_for_fix") {
        !s.flag("take_off_without_fix", false, "", "")
    } else {
        s.flag("wait_for_fix", true, "common practice", "Whether the pilot waits for a fix before take-off")
    };
    let wait_satellites = s.renamed("take_off_satellites", "wait_satellites");
    let wait_satellites =
        s.whole(wait_satellites, 4, 60, WAIT_SATELLITES, WAIT_SATELLITES_WHY, "Fewest satellites waited for") as u32;
    let wait_hdop = s.renamed("take_off_hdop", "wait_hdop");
    let wait_hdop = s.number(wait_hdop, above(0.0, 50.0), WAIT_HDOP, WAIT_HDOP_WHY, "Greatest HDOP waited for");
    let (every, long) = match multipath {
        Multipath::Open => (21_600.0, 5.0),
        Multipath::Wooded => (1200.0, 8.0),
        Multipath::Walled => (120.0, 15.0),
    };
    let outage_every_s = s.number(
        "outage_every_s",
        above(0.0, 1e9),
        every,
        "estimate by multipath class",
        "Mean time between losses of the fix that geometry does not explain",
    );
    let outage_for_s =
        s.number("outage_for_s", above(0.0, 3600.0), long, "estimate by multipath class", "Mean length of such a loss");
    let heading_bias_deg = s.uncertain(
        "heading_bias_deg",
        between(-180.0, 180.0),
        Uncertain::Normal(0.0, 3.0),
        "estimate: 2 to 5 well calibrated, 10 to 30 badly",
        "Heading bias",
    );
    let heading_throttle_deg = s.number(
        "heading_throttle_deg",
        between(-90.0, 90.0),
        3.0,
        ESTIMATE,
        "Heading error at full throttle through motor currents",
    );
    let course_alignment =
        s.flag("course_alignment", true, ESTIMATE, "Whether course over ground corrects the heading while moving");
    let declination_applied =
        s.flag("declination_applied", true, "as it should be", "Whether magnetic declination is applied, or forgotten");
    let declination_deg =
        s.opt_number("declination_deg", between(-180.0, 180.0), "the built-in magnetic model", "Stated declination");
    let baro_drift_m_per_sqrt_min = s.number(
        "baro_drift_m_per_sqrt_min",
        between(0.0, 20.0),
        0.3,
        ESTIMATE,
        "Barometer drift, 1 sigma after a minute",
    );
    Sky {
        utc,
        window_s,
        constellations,
        almanac: almanac.map(PathBuf::from),
        almanac_text,
        mask_deg,
        multipath,
        ionosphere_m,
        error_factor,
        jumps_per_h,
        jump_m,
        jump_for_s,
        own_noise_db,
        own_video,
        interference,
        track_dbhz,
        powered_before_s,
        start,
        wait_for_fix,
        wait_satellites,
        wait_hdop,
        outage_every_s,
        outage_for_s,
        heading_bias_deg,
        heading_throttle_deg,
        course_alignment,
        declination_applied,
        declination_deg,
        baro_drift_m_per_sqrt_min,
    }
}
