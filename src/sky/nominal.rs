//! Nominal constellations, for days without an almanac.
//!
//! A nominal day is representative of any date, never a forecast: the real satellites are kept near these slots, but
//! not at them, and the phases of the systems against each other are a convention. All orbits are circular with a
//! node at rest in the inertial frame. The epoch is 2017-01-01 00:00:00 GPS time (week 1930, second 0).

use super::System;
use super::kepler::{EARTH_RATE_RADPS, MU_GPS_M3PS2, MU_M3PS2, mean_motion_radps, plane_to_earth};
use super::time::GpsTime;
use libm::{cos, sin};
use std::f64::consts::TAU;

/// The epoch of all nominal slots.
pub const NOMINAL_EPOCH: GpsTime = GpsTime { since_epoch_s: 1930.0 * 604_800.0 };

/// Argument of latitude of the 24 base slots of GPS at the epoch, degrees: planes A to F, slots 1 to 4.
///
/// # Source
/// GPS SPS performance standard, 5th edition (April 2020), tables 3.2-1 to 3.2-3 (second-hand; the values equal
/// those of the 2001 standard's table 3-1 less 28.586°).
const GPS_BASE: [[f64; 4]; 6] = [
    [239.54, 133.2, 343.09, 13.22],
    [52.37, 144.75, 281.39, 175.79],
    [83.29, 343.21, 311.08, 212.97],
    [106.64, 236.86, 6.57, 138.77],
    [168.46, 274.01, 37.48, 305.1],
    [210.3, 316.64, 76.62, 106.76],
];

/// The fore and aft slots that replace six base slots when these are expanded: base slot, arguments of latitude.
///
/// # Source
/// GPS SPS performance standard, 5th edition (April 2020), table 3.2-2 (second-hand).
const GPS_EXPANDED: [(&str, [f64; 2]); 6] = [
    ("A2", [144.4, 117.96]),
    ("B1", [66.33, 37.77]),
    ("C4", [220.43, 195.73]),
    ("D2", [254.09, 229.39]),
    ("E3", [52.08, 23.52]),
    ("F2", [331.87, 305.43]),
];

/// Semi-major axis of GPS slots; source as [`GPS_BASE`].
const GPS_A_M: f64 = 26_559_800.0;
/// Inclination of GPS slots; source as [`GPS_BASE`].
const GPS_I_DEG: f64 = 55.0;
/// Earth-fixed longitude of the ascending node of plane A at the epoch; planes follow every 60°. Right ascension
/// 288.85° less the sidereal angle of the epoch, 100.765° (same tables).
const GPS_NODE_A_DEG: f64 = 188.085;

/// One slot of a nominal constellation at the epoch.
#[derive(Debug, Clone, PartialEq)]
pub struct Slot {
    /// System.
    pub system: System,
    /// Name of the slot.
    pub id: String,
    /// Semi-major axis.
    pub a_m: f64,
    /// Inclination.
    pub inclination_rad: f64,
    /// Earth-fixed longitude of the ascending node.
    pub node_rad: f64,
    /// Argument of latitude.
    pub argument_of_latitude_rad: f64,
}

/// A constellation of satellites, and how many slots it has on a nominal day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Constellation {
    /// GPS, 24 base slots.
    Gps24,
    /// GPS with all six expandable slots in use.
    Gps30,
    /// Galileo, 24 slots.
    Galileo,
    /// GLONASS, 24 slots.
    Glonass,
    /// BeiDou medium orbits, 24 slots.
    Beidou,
}

impl Constellation {
    /// Its system.
    pub fn system(self) -> System {
        match self {
            Constellation::Gps24 | Constellation::Gps30 => System::Gps,
            Constellation::Galileo => System::Galileo,
            Constellation::Glonass => System::Glonass,
            Constellation::Beidou => System::Beidou,
        }
    }

    /// The slots of a nominal day.
    pub fn slots(self) -> Vec<Slot> {
        match self {
            Constellation::Gps24 => gps(&[]),
            Constellation::Gps30 => gps(&GPS_EXPANDED.map(|(of, _)| of)),
            other => walker(other.system()),
        }
    }
}

fn gps(expanded: &[&str]) -> Vec<Slot> {
    let slot = |id: &str, arglat_deg: f64| {
        let plane = f64::from(id.as_bytes()[0] - b'A');
        Slot {
            system: System::Gps,
            id: id.to_string(),
            a_m: GPS_A_M,
            inclination_rad: GPS_I_DEG.to_radians(),
            node_rad: (GPS_NODE_A_DEG + 60.0 * plane).rem_euclid(360.0).to_radians(),
            argument_of_latitude_rad: arglat_deg.to_radians(),
        }
    };
    let base =
        ('A'..).zip(GPS_BASE).flat_map(|(plane, row)| (1..).zip(row).map(move |(k, u)| (format!("{plane}{k}"), u)));
    let base = base.filter(|(id, _)| !expanded.contains(&id.as_str())).map(|(id, u)| slot(&id, u));
    let more = GPS_EXPANDED.iter().filter(|(of, _)| expanded.contains(of));
    let more = more.flat_map(|(of, [fore, aft])| [slot(&format!("{of}F"), *fore), slot(&format!("{of}A"), *aft)]);
    base.chain(more).collect()
}

/// Three planes of eight, as Galileo, GLONASS and BeiDou use.
///
/// # Source
/// Galileo: OS service definition document, reference constellation (second-hand), carried from 2016-11-21 00:00 UTC
/// to the epoch with the published rates. GLONASS: interface control document 5.1 (2008), section 5.2 (second-hand),
/// the phase formula of 1983 placed at the epoch (a convention); axis from the published period 11 h 15 min 44 s.
/// BeiDou: OS performance standard 3.0 (May 2021), section 4.1: altitude 21,528 km, 55°, Walker 24/3/1; its phase is not
/// published: node 0 and argument 0 at the epoch (a convention).
fn walker(system: System) -> Vec<Slot> {
    // Axis, inclination, node of plane 1, argument of slot 1, step between slots, step between planes.
    let (a_m, i_deg, node_deg, first_deg, step_deg, phase_deg) = match system {
        System::Galileo => (29_599_801.0, 56.0, 215.733, 142.656, 45.0, 15.0),
        System::Glonass => (25_508_039.2, 64.8, 251.25, 145.0 + 26.0 / 60.0 + 37.0 / 3600.0, -45.0, 15.0),
        _ => (27_906_137.0, 55.0, 0.0, 0.0, 45.0, 15.0),
    };
    (0..24)
        .map(|k| {
            let (plane, place) = (k / 8, k % 8);
            let id = match system {
                System::Glonass => format!("R{:02}", k + 1),
                System::Galileo => format!("E{}{}", plane + 1, place + 1),
                _ => format!("C{}{}", plane + 1, place + 1),
            };
            let (plane, place) = (f64::from(plane), f64::from(place));
            Slot {
                system,
                id,
                a_m,
                inclination_rad: f64::to_radians(i_deg),
                node_rad: (node_deg + 120.0 * plane).rem_euclid(360.0).to_radians(),
                argument_of_latitude_rad: (first_deg + step_deg * place + phase_deg * plane)
                    .rem_euclid(360.0)
                    .to_radians(),
            }
        })
        .collect()
}

/// Time after which a system's ground track repeats: GPS 1, BeiDou medium orbits 7, GLONASS 8, Galileo 10 turns of the
/// Earth.
///
/// # Source
/// The published repeats of the ground tracks (GPS daily; Galileo 17 orbits in 10 days: OS service definition document;
/// GLONASS 17 in 8: interface control document; BeiDou 13 in 7: OS performance standard; second-hand).
pub fn ground_track_repeat_s(system: System) -> f64 {
    let turns = match system {
        System::Gps => 1.0,
        System::Beidou => 7.0,
        System::Glonass => 8.0,
        System::Galileo => 10.0,
    };
    turns * TAU / EARTH_RATE_RADPS
}

impl Slot {
    /// Earth-fixed position so long after the epoch, not folded: circular motion, node at rest in the inertial frame.
    pub fn position_after_m(&self, after_epoch_s: f64) -> [f64; 3] {
        let mu_m3ps2 = if self.system == System::Gps { MU_GPS_M3PS2 } else { MU_M3PS2 };
        let u = self.argument_of_latitude_rad + mean_motion_radps(self.a_m, mu_m3ps2) * after_epoch_s;
        let node_rad = self.node_rad - EARTH_RATE_RADPS * after_epoch_s;
        plane_to_earth(self.a_m * cos(u), self.a_m * sin(u), self.inclination_rad, node_rad)
    }

    /// Earth-fixed position at any instant, folded by the repeat of the ground track: the real satellites are kept on
    /// their tracks, which plain two-body motion would leave by tens of degrees a year.
    pub fn position_m(&self, at: GpsTime) -> [f64; 3] {
        let after_s = at.since_epoch_s - NOMINAL_EPOCH.since_epoch_s;
        self.position_after_m(after_s.rem_euclid(ground_track_repeat_s(self.system)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_of_the_sets() {
        use Constellation::*;
        assert_eq!([Gps24, Gps30, Galileo, Glonass, Beidou].map(|set| set.slots().len()), [24, 30, 24, 24, 24]);
        assert!(Gps30.slots().iter().all(|slot| slot.id != "B1"));
    }

    /// The seam of the fold: 0.08° of argument of latitude for GPS, less than 2° for the others.
    #[test]
    fn ground_tracks_repeat() {
        for (set, most_deg) in [
            (Constellation::Gps30, 0.2),
            (Constellation::Galileo, 2.0),
            (Constellation::Glonass, 2.0),
            (Constellation::Beidou, 2.0),
        ] {
            for slot in set.slots() {
                let a = slot.position_after_m(5_000.0);
                let b = slot.position_after_m(5_000.0 + ground_track_repeat_s(slot.system));
                let cosine = (a[0] * b[0] + a[1] * b[1] + a[2] * b[2]) / (slot.a_m * slot.a_m);
                let apart_deg = libm::acos(cosine.min(1.0)).to_degrees();
                assert!(apart_deg < most_deg, "{} moved {apart_deg}°", slot.id);
            }
        }
    }
}
