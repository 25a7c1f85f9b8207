//! YUMA almanacs.

use super::System;
use super::broadcast::{Elements, Ephemeris};
use super::time::GpsTime;

/// One record of a YUMA almanac.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlmanacRecord {
    /// Satellite number.
    pub number: u32,
    /// Health word; 0 is healthy.
    pub health: u32,
    /// Eccentricity.
    pub eccentricity: f64,
    /// Time of applicability, seconds of the week.
    pub toa_s: f64,
    /// Inclination.
    pub inclination_rad: f64,
    /// Rate of the node.
    pub omega_dot_radps: f64,
    /// Square root of the semi-major axis, √m.
    pub sqrt_a_sqrtm: f64,
    /// Longitude of the ascending node at the start of the week.
    pub right_ascension_at_week_rad: f64,
    /// Argument of perigee.
    pub arg_perigee_rad: f64,
    /// Mean anomaly at the time of applicability.
    pub mean_anomaly_rad: f64,
    /// Clock offset.
    pub clock_offset_s: f64,
    /// Clock drift, s/s.
    pub clock_drift: f64,
    /// Week as printed: modulo 1024 or full.
    pub week: i64,
}

/// Why an almanac is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AlmanacError {
    /// A line that is no `name: value`, or a value that is no number.
    #[error("line {line}: `{found}` is not a number of the form `name: value`")]
    Number {
        /// Line, counted from 1.
        line: usize,
        /// What stands there.
        found: String,
    },
    /// A field that no YUMA record has.
    #[error("line {line}: unknown field `{field}`")]
    UnknownField {
        /// Line, counted from 1.
        line: usize,
        /// Its name.
        field: String,
    },
    /// A record without one of its fields.
    #[error("the record that starts in line {line} has no field `{field}`")]
    Missing {
        /// Line of the record's first field.
        line: usize,
        /// The field.
        field: &'static str,
    },
    /// A value that no satellite has.
    #[error(
        "line {line}: {field} = {value} is outside {low}..{high} (YUMA angles are radians, not semicircles or degrees)"
    )]
    Range {
        /// Line of the record's first field.
        line: usize,
        /// The field.
        field: &'static str,
        /// What was found.
        value: f64,
        /// Least accepted.
        low: f64,
        /// Greatest accepted.
        high: f64,
    },
    /// No record at all.
    #[error("the almanac holds no satellite")]
    Empty,
}

/// Fields in the order of [`AlmanacRecord`], by the start of their YUMA name in lower case without blanks.
const FIELDS: [(&str, &str); 13] = [
    ("id", "ID"),
    ("health", "Health"),
    ("eccentricity", "Eccentricity"),
    ("timeofapplicability", "Time of Applicability"),
    ("orbitalinclination", "Orbital Inclination"),
    ("rateofrightascen", "Rate of Right Ascen"),
    ("sqrt(a)", "SQRT(A)"),
    ("rightascenatweek", "Right Ascen at Week"),
    ("argumentofperigee", "Argument of Perigee"),
    ("meananom", "Mean Anom"),
    ("af0", "Af0"),
    ("af1", "Af1"),
    ("week", "week"),
];

/// Reads a YUMA almanac.
///
/// Lines of asterisks and blank lines separate records; field names are matched by their start, whatever their case
/// and blanks. Angles are radians.
///
/// # Errors
/// The first line that cannot be read, with its number.
///
/// # Source
/// Format as published with the almanacs of the US Coast Guard Navigation Center.
pub fn read_yuma(text: &str) -> Result<Vec<AlmanacRecord>, AlmanacError> {
    let mut records = Vec::new();
    let mut values = [None; 13];
    let mut start = 0;
    for (index, line) in text.lines().enumerate() {
        let trimmed = line.trim();
        if trimmed.is_empty() || trimmed.starts_with('*') {
            finish(&mut records, &mut values, start)?;
            continue;
        }
        let unreadable = || AlmanacError::Number { line: index + 1, found: trimmed.to_string() };
        let (name, value) = trimmed.split_once(':').ok_or_else(unreadable)?;
        let name: String = name.to_lowercase().chars().filter(|c| !c.is_whitespace()).collect();
        let place = FIELDS
            .iter()
            .position(|(key, _)| name.starts_with(key))
            .ok_or_else(|| AlmanacError::UnknownField { line: index + 1, field: trimmed.to_string() })?;
        if place == 0 {
            finish(&mut records, &mut values, start)?;
        }
        if values.iter().all(Option::is_none) {
            start = index + 1;
        }
        let value: f64 = value.trim().parse().map_err(|_| unreadable())?;
        if !value.is_finite() {
            return Err(unreadable());
        }
        values[place] = Some(value);
    }
    finish(&mut records, &mut values, start)?;
    if records.is_empty() { Err(AlmanacError::Empty) } else { Ok(records) }
}

fn finish(records: &mut Vec<AlmanacRecord>, values: &mut [Option<f64>; 13], line: usize) -> Result<(), AlmanacError> {
    if values.iter().all(Option::is_none) {
        return Ok(());
    }
    let mut all = [0.0; 13];
    for ((slot, value), (_, field)) in all.iter_mut().zip(values.iter()).zip(FIELDS) {
        *slot = value.ok_or(AlmanacError::Missing { line, field })?;
    }
    *values = [None; 13];
    let ranges = [
        (0, 1.0, 255.0),
        (2, 0.0, 0.9),
        (3, 0.0, 604_800.0),
        (4, 0.0, 3.2),
        (6, 2_530.0, 10_000.0),
        (7, -6.3, 6.3),
        (8, -6.3, 6.3),
        (9, -6.3, 6.3),
        (12, 0.0, 9_999.0),
    ];
    for (place, low, high) in ranges {
        let value = all[place];
        if !(low..=high).contains(&value) {
            return Err(AlmanacError::Range { line, field: FIELDS[place].1, value, low, high });
        }
    }
    records.push(AlmanacRecord {
        number: all[0] as u32,
        health: all[1] as u32,
        eccentricity: all[2],
        toa_s: all[3],
        inclination_rad: all[4],
        omega_dot_radps: all[5],
        sqrt_a_sqrtm: all[6],
        right_ascension_at_week_rad: all[7],
        arg_perigee_rad: all[8],
        mean_anomaly_rad: all[9],
        clock_offset_s: all[10],
        clock_drift: all[11],
        week: all[12] as i64,
    });
    Ok(())
}

impl AlmanacRecord {
    /// The record as broadcast elements without harmonics.
    pub fn elements(&self) -> Elements {
        Elements {
            toe_s: self.toa_s,
            sqrt_a_sqrtm: self.sqrt_a_sqrtm,
            eccentricity: self.eccentricity,
            i0_rad: self.inclination_rad,
            omega0_rad: self.right_ascension_at_week_rad,
            arg_perigee_rad: self.arg_perigee_rad,
            m0_rad: self.mean_anomaly_rad,
            omega_dot_radps: self.omega_dot_radps,
            ..Elements::default()
        }
    }

    /// The full week nearest to an instant that agrees with the printed one.
    ///
    /// Some writers print the week modulo 1024 and some the full week: a week below 1024 is taken as the cycle
    /// that brings it nearest to `near`.
    pub fn full_week(&self, near: GpsTime) -> i64 {
        if self.week >= 1024 {
            return self.week;
        }
        let now = near.week().0;
        self.week + ((now - self.week) as f64 / 1024.0).round() as i64 * 1024
    }

    /// The record as an ephemeris, its week resolved near an instant.
    pub fn ephemeris(&self, near: GpsTime) -> Ephemeris {
        Ephemeris {
            system: System::Gps,
            number: self.number,
            reference: GpsTime::from_week(self.full_week(near), self.toa_s),
            elements: self.elements(),
            healthy: self.health == 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record() -> AlmanacRecord {
        // A real record of the US Coast Guard Navigation Center's almanac of week 567 (modulo 1024).
        AlmanacRecord {
            number: 2,
            health: 0,
            eccentricity: 0.009_169_101_715_1,
            toa_s: 118_784.0,
            inclination_rad: 0.956_960_618_5,
            omega_dot_radps: -8.068_907_320_1e-9,
            sqrt_a_sqrtm: 5_154.330_566,
            right_ascension_at_week_rad: -0.823_908_329_01,
            arg_perigee_rad: 3.117_603_779,
            mean_anomaly_rad: -2.046_483_516_7,
            clock_offset_s: 0.0,
            clock_drift: 0.0,
            week: 567,
        }
    }

    #[test]
    fn both_week_conventions() {
        let near = GpsTime::from_week(2_600, 0.0);
        assert_eq!(record().full_week(near), 567 + 2 * 1024);
        assert_eq!(record().full_week(GpsTime::from_week(1_600, 0.0)), 567 + 1024);
        assert_eq!(AlmanacRecord { week: 2_615, ..record() }.full_week(near), 2_615);
    }
}
