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
    /// Week as printed: modulo 1024 or full.
    pub week: i64,
    /// The orbit at the time of applicability; an almanac has no harmonics.
    pub elements: Elements,
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

/// A field of a record.
struct Field {
    /// Start of its name in lower case without blanks.
    start: &'static str,
    name: &'static str,
    /// Least and greatest accepted.
    low: f64,
    high: f64,
}

const fn field(start: &'static str, name: &'static str, low: f64, high: f64) -> Field {
    Field { start, name, low, high }
}

/// Fields in the order of the format; the clock's two are read past.
const FIELDS: [Field; 13] = [
    field("id", "ID", 1.0, 255.0),
    field("health", "Health", f64::MIN, f64::MAX),
    field("eccentricity", "Eccentricity", 0.0, 0.9),
    field("timeofapplicability", "Time of Applicability", 0.0, 604_800.0),
    field("orbitalinclination", "Orbital Inclination", 0.0, 3.2),
    field("rateofrightascen", "Rate of Right Ascen", f64::MIN, f64::MAX),
    field("sqrt(a)", "SQRT(A)", 2_530.0, 10_000.0),
    field("rightascenatweek", "Right Ascen at Week", -6.3, 6.3),
    field("argumentofperigee", "Argument of Perigee", -6.3, 6.3),
    field("meananom", "Mean Anom", -6.3, 6.3),
    field("af0", "Af0", f64::MIN, f64::MAX),
    field("af1", "Af1", f64::MIN, f64::MAX),
    field("week", "week", 0.0, 9_999.0),
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
            .position(|field| name.starts_with(field.start))
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
    for ((slot, value), field) in all.iter_mut().zip(values.iter()).zip(FIELDS) {
        *slot = value.ok_or(AlmanacError::Missing { line, field: field.name })?;
    }
    *values = [None; 13];
    for (&value, Field { name, low, high, .. }) in all.iter().zip(FIELDS) {
        if !(low..=high).contains(&value) {
            return Err(AlmanacError::Range { line, field: name, value, low, high });
        }
    }
    let [number, health, eccentricity, toe_s, i0_rad, omega_dot_radps, sqrt_a_sqrtm, rest @ ..] = all;
    let [omega0_rad, arg_perigee_rad, m0_rad, _, _, week] = rest;
    records.push(AlmanacRecord {
        number: number as u32,
        health: health as u32,
        week: week as i64,
        elements: Elements {
            toe_s,
            sqrt_a_sqrtm,
            eccentricity,
            i0_rad,
            omega0_rad,
            arg_perigee_rad,
            m0_rad,
            omega_dot_radps,
            ..Elements::default()
        },
    });
    Ok(())
}

impl AlmanacRecord {
    /// The full week nearest to an instant that agrees with the printed one.
    ///
    /// Some writers print the week modulo 1024 and some the full week: a week below 1024 is taken as the cycle
    /// that brings it nearest to `near`.
    pub fn full_week(&self, near: GpsTime) -> i64 {
        if self.week >= 1024 {
            return self.week;
        }
        let now = near.week();
        self.week + ((now - self.week) as f64 / 1024.0).round() as i64 * 1024
    }

    /// The record as an ephemeris, its week resolved near an instant.
    pub fn ephemeris(&self, near: GpsTime) -> Ephemeris {
        Ephemeris {
            system: System::Gps,
            number: self.number,
            reference: GpsTime::from_week(self.full_week(near), self.elements.toe_s),
            elements: self.elements,
            healthy: self.health == 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_week_conventions() {
        let near = GpsTime::from_week(2_600, 0.0);
        let record = |week| AlmanacRecord { number: 2, health: 0, week, elements: Elements::default() };
        assert_eq!(record(567).full_week(near), 567 + 2 * 1024);
        assert_eq!(record(567).full_week(GpsTime::from_week(1_600, 0.0)), 567 + 1024);
        assert_eq!(record(2_615).full_week(near), 2_615);
    }
}
