//! Time: UTC, GPS time, weeks, and the angle of the Earth.

use lostlink::sky::{Calendar, TimeError, tai_minus_utc_s};
use std::f64::consts::TAU;

/// TT − UT1 at the start of some years, for [`sidereal_angle_rad`].
///
/// # Source
/// Annual values of the IERS as printed in almanacs (from memory, 0.05 s).
const DELTA_T: [(f64, f64); 17] = [
    (1972.0, 42.23),
    (1975.0, 45.48),
    (1980.0, 50.54),
    (1985.0, 54.34),
    (1990.0, 56.86),
    (1995.0, 60.79),
    (2000.0, 63.83),
    (2005.0, 64.69),
    (2010.0, 66.07),
    (2013.0, 66.91),
    (2015.0, 67.64),
    (2016.0, 68.10),
    (2017.0, 68.59),
    (2018.0, 68.97),
    (2020.0, 69.36),
    (2022.0, 69.29),
    (2025.0, 69.14),
];

/// Greenwich mean sidereal time of a UTC instant, in [0, 2π).
///
/// UT1 is taken from UTC with yearly values of TT − UT1, good to about 0.1 s (0.0004°) from 1980 on.
///
/// # Source
/// Aoki et al., "The new definition of Universal Time", Astronomy and Astrophysics 105, 1982 (IAU 1982), equation 13.
pub fn sidereal_angle_rad(at: Calendar) -> f64 {
    let days_j2000 = f64::from(at.date.to_julian_day() - NOON_J2000_DAY) - 0.5;
    let ut1_s = at.second_of_day_s + 32.184 + tai_minus_utc_s(at) - delta_t_s(at.decimal_year());
    let t = (days_j2000 + ut1_s / 86_400.0) / 36_525.0;
    let gmst_s = 67_310.548_41 + (876_600.0 * 3_600.0 + 8_640_184.812_866) * t + 0.093_104 * t * t - 6.2e-6 * t * t * t;
    (gmst_s.rem_euclid(86_400.0) / 86_400.0 * TAU).rem_euclid(TAU)
}

fn delta_t_s(year: f64) -> f64 {
    let last = DELTA_T.len() - 1;
    if year <= DELTA_T[0].0 {
        return DELTA_T[0].1;
    }
    let k = DELTA_T.iter().position(|entry| entry.0 > year).unwrap_or(last + 1);
    if k > last {
        return DELTA_T[last].1;
    }
    let ((y0, d0), (y1, d1)) = (DELTA_T[k - 1], DELTA_T[k]);
    d0 + (d1 - d0) * (year - y0) / (y1 - y0)
}

/// Julian day that begins at noon of 2000-01-01.
const NOON_J2000_DAY: i32 = 2_451_545;

/// Reads `2026-05-01T12:00:00`, with or without a fraction and a final `Z`; `None` when the text has another form.
pub fn calendar_of(text: &str) -> Option<Result<Calendar, TimeError>> {
    let (date, time) = text.trim_end_matches('Z').split_once('T')?;
    let (mut date, mut time) = (date.split('-'), time.split(':'));
    let (year, month, day) = (date.next()?.parse().ok()?, date.next()?.parse().ok()?, date.next()?.parse().ok()?);
    let (hour, minute, second) = (time.next()?.parse().ok()?, time.next()?.parse().ok()?, time.next()?.parse().ok()?);
    Some(Calendar::new(year, month, day, hour, minute, second))
}
