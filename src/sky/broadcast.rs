//! Satellite positions from broadcast elements.

use super::System;
use super::kepler::{
    EARTH_RATE_BEIDOU_RADPS, EARTH_RATE_RADPS, MU_GPS_M3PS2, MU_M3PS2, eccentric_anomaly_rad, plane_to_earth,
};
use super::time::GpsTime;
use libm::{atan2, cos, sin};

/// Broadcast orbit elements of one satellite, names as in the interface documents.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Elements {
    /// Reference time, seconds of the system's week.
    pub toe_s: f64,
    /// Square root of the semi-major axis, √m.
    pub sqrt_a_sqrtm: f64,
    /// Eccentricity.
    pub eccentricity: f64,
    /// Inclination at the reference time.
    pub i0_rad: f64,
    /// Longitude of the ascending node at the start of the week.
    pub omega0_rad: f64,
    /// Argument of perigee.
    pub arg_perigee_rad: f64,
    /// Mean anomaly at the reference time.
    pub m0_rad: f64,
    /// Correction of the mean motion.
    pub delta_n_radps: f64,
    /// Rate of the node.
    pub omega_dot_radps: f64,
    /// Rate of the inclination.
    pub idot_radps: f64,
    /// Cosine harmonic of the argument of latitude.
    pub cuc_rad: f64,
    /// Sine harmonic of the argument of latitude.
    pub cus_rad: f64,
    /// Cosine harmonic of the radius.
    pub crc_m: f64,
    /// Sine harmonic of the radius.
    pub crs_m: f64,
    /// Cosine harmonic of the inclination.
    pub cic_rad: f64,
    /// Sine harmonic of the inclination.
    pub cis_rad: f64,
}

/// Earth-fixed position from broadcast elements so long after their reference time.
///
/// # Source
/// IS-GPS-200, table 20-IV (the Galileo and the BeiDou medium- and inclined-orbit algorithms are the same with
/// their own constants: Galileo OS SIS ICD table 58, BeiDou B1I ICD table 5-11).
pub fn position_after_m(e: &Elements, after_toe_s: f64, mu_m3ps2: f64, earth_rate_radps: f64) -> [f64; 3] {
    let a = e.sqrt_a_sqrtm * e.sqrt_a_sqrtm;
    let n = (mu_m3ps2 / (a * a * a)).sqrt() + e.delta_n_radps;
    let anomaly = eccentric_anomaly_rad(e.m0_rad + n * after_toe_s, e.eccentricity);
    let (s, c) = (sin(anomaly), cos(anomaly));
    let true_anomaly = atan2((1.0 - e.eccentricity * e.eccentricity).sqrt() * s, c - e.eccentricity);
    // Harmonics at twice the uncorrected argument of latitude.
    let phi = true_anomaly + e.arg_perigee_rad;
    let (s2, c2) = (sin(2.0 * phi), cos(2.0 * phi));
    let u = phi + e.cus_rad * s2 + e.cuc_rad * c2;
    let r = a * (1.0 - e.eccentricity * c) + e.crs_m * s2 + e.crc_m * c2;
    let i = e.i0_rad + e.idot_radps * after_toe_s + e.cis_rad * s2 + e.cic_rad * c2;
    let node = e.omega0_rad + (e.omega_dot_radps - earth_rate_radps) * after_toe_s - earth_rate_radps * e.toe_s;
    plane_to_earth(r * cos(u), r * sin(u), i, node)
}

/// One broadcast record with the instant it refers to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ephemeris {
    /// System.
    pub system: System,
    /// Number within the system.
    pub number: u32,
    /// Reference time on the GPS scale.
    pub reference: GpsTime,
    /// Elements.
    pub elements: Elements,
    /// Whether the satellite calls itself healthy.
    pub healthy: bool,
}

impl Ephemeris {
    /// Earth-fixed position at an instant.
    pub fn position_m(&self, at: GpsTime) -> [f64; 3] {
        let (mu, rate) = match self.system {
            System::Gps => (MU_GPS_M3PS2, EARTH_RATE_RADPS),
            System::Beidou => (MU_M3PS2, EARTH_RATE_BEIDOU_RADPS),
            System::Galileo | System::Glonass => (MU_M3PS2, EARTH_RATE_RADPS),
        };
        position_after_m(&self.elements, at.since_epoch_s - self.reference.since_epoch_s, mu, rate)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Without eccentricity and harmonics the distance from the Earth's centre is the semi-major axis.
    #[test]
    fn circular_orbit_keeps_its_radius() {
        let e = Elements { sqrt_a_sqrtm: 5_153.6, i0_rad: 0.96, ..Elements::default() };
        for k in 0..20 {
            let [x, y, z] = position_after_m(&e, f64::from(k) * 3_000.0, MU_GPS_M3PS2, EARTH_RATE_RADPS);
            assert!(((x * x + y * y + z * z).sqrt() - 5_153.6 * 5_153.6).abs() < 1e-6);
        }
    }
}
