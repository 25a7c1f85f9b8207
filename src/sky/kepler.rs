//! Two-body motion.

use libm::{cos, sin};
use std::f64::consts::{PI, TAU};

/// The Earth's gravitational constant as GPS users take it, m³/s².
///
/// # Source
/// IS-GPS-200, table 20-IV.
pub const MU_GPS_M3PS2: f64 = 3.986_005e14;

/// The Earth's gravitational constant as Galileo, BeiDou and GLONASS users take it, m³/s².
///
/// # Source
/// Galileo OS SIS ICD, section 5.1.1; BeiDou B1I ICD, section 5.2.4.
pub const MU_M3PS2: f64 = 3.986_004_418e14;

/// The Earth's rotation rate of IS-GPS-200 and the Galileo ICD, rad/s.
pub const EARTH_RATE_RADPS: f64 = 7.292_115_146_7e-5;

/// The Earth's rotation rate of the BeiDou ICD, rad/s.
pub const EARTH_RATE_BEIDOU_RADPS: f64 = 7.292_115_0e-5;

/// Eccentric anomaly of a mean anomaly, for an eccentricity in [0, 1).
///
/// Solved to rounding by Newton's method from a safe start; the whole turns of the mean anomaly are kept. NaN
/// outside the range of eccentricities.
///
/// # Source
/// Kepler's equation M = E − e sin E; start value of Danby, "Fundamentals of celestial mechanics", 1988, equation
/// 6.6.19 (from memory), which converges for every eccentricity below 1 with the bisection guard used here.
pub fn eccentric_anomaly_rad(mean_anomaly_rad: f64, eccentricity: f64) -> f64 {
    if !(0.0..1.0).contains(&eccentricity) {
        return f64::NAN;
    }
    let turns = (mean_anomaly_rad / TAU).round() * TAU;
    let m = mean_anomaly_rad - turns;
    let (mut low, mut high) = (-PI, PI);
    let mut e_anomaly = (m + 0.85 * eccentricity.copysign(m)).clamp(low, high);
    for _ in 0..60 {
        let rest = e_anomaly - eccentricity * sin(e_anomaly) - m;
        if rest == 0.0 {
            break;
        }
        if rest > 0.0 {
            high = e_anomaly;
        } else {
            low = e_anomaly;
        }
        let mut next = e_anomaly - rest / (1.0 - eccentricity * cos(e_anomaly));
        if !(low..=high).contains(&next) {
            next = 0.5 * (low + high);
        }
        if (next - e_anomaly).abs() <= 1e-15 * next.abs().max(1.0) {
            e_anomaly = next;
            break;
        }
        e_anomaly = next;
    }
    e_anomaly + turns
}

/// Mean motion of a semi-major axis, rad/s.
pub fn mean_motion_radps(a_m: f64, mu_m3ps2: f64) -> f64 {
    (mu_m3ps2 / (a_m * a_m * a_m)).sqrt()
}

/// Point of an orbit plane turned by an inclination and an Earth-fixed node longitude.
#[inline]
pub(crate) fn plane_to_earth(x_m: f64, y_m: f64, inclination_rad: f64, node_rad: f64) -> [f64; 3] {
    let (sn, cn) = (sin(node_rad), cos(node_rad));
    let (si, ci) = (sin(inclination_rad), cos(inclination_rad));
    [x_m * cn - y_m * ci * sn, x_m * sn + y_m * ci * cn, y_m * si]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keplers_equation_holds_everywhere() {
        for e in [0.0, 0.01, 0.3, 0.9, 0.999] {
            for k in -200..=200 {
                let m = f64::from(k) * 0.1;
                let x = eccentric_anomaly_rad(m, e);
                assert!((x - e * sin(x) - m).abs() < 1e-13 * m.abs().max(1.0), "e {e} m {m}: {x}");
            }
        }
        assert!(eccentric_anomaly_rad(1.0, 1.0).is_nan());
    }
}
