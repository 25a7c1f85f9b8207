//! Time: UTC, GPS time, weeks, and the angle of the Earth.

/// Seconds in a GPS week.
pub const WEEK_S: f64 = 604_800.0;

/// Julian day of 1980-01-06 00:00, the start of GPS time, counted from 1970-01-01.
const GPS_EPOCH_DAY: i64 = 3_657;

/// First day (year, month, day) on which TAI − UTC had this value.
///
/// # Source
/// IERS Bulletin C series (from memory; public record since 1972).
const LEAP_SECONDS: [(i64, u32, u32, f64); 28] = [
    (1972, 1, 1, 10.0),
    (1972, 7, 1, 11.0),
    (1973, 1, 1, 12.0),
    (1974, 1, 1, 13.0),
    (1975, 1, 1, 14.0),
    (1976, 1, 1, 15.0),
    (1977, 1, 1, 16.0),
    (1978, 1, 1, 17.0),
    (1979, 1, 1, 18.0),
    (1980, 1, 1, 19.0),
    (1981, 7, 1, 20.0),
    (1982, 7, 1, 21.0),
    (1983, 7, 1, 22.0),
    (1985, 7, 1, 23.0),
    (1988, 1, 1, 24.0),
    (1990, 1, 1, 25.0),
    (1991, 1, 1, 26.0),
    (1992, 7, 1, 27.0),
    (1993, 7, 1, 28.0),
    (1994, 7, 1, 29.0),
    (1996, 1, 1, 30.0),
    (1997, 7, 1, 31.0),
    (1999, 1, 1, 32.0),
    (2006, 1, 1, 33.0),
    (2009, 1, 1, 34.0),
    (2012, 7, 1, 35.0),
    (2015, 7, 1, 36.0),
    (2017, 1, 1, 37.0),
];

/// A calendar date and a time of day, in whatever scale the context says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calendar {
    /// Year.
    pub year: i64,
    /// Month, 1 to 12.
    pub month: u32,
    /// Day of the month.
    pub day: u32,
    /// Seconds of the day; may run into 86,400 and above in a leap second.
    pub second_of_day_s: f64,
}

/// Why a date is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TimeError {
    /// Not of the form `2026-05-01T12:00:00`, with or without `Z`.
    #[error("`{0}` is not a date and time like 2026-05-01T12:00:00")]
    Form(String),
    /// No such day or hour.
    #[error("no such date or time of day: {0}")]
    NoSuchDay(String),
}

impl Calendar {
    /// A date and time, checked.
    ///
    /// # Errors
    /// When the month, day, hour, minute or second does not exist (second 60 is allowed).
    pub fn new(year: i64, month: u32, day: u32, hour: u32, minute: u32, second: f64) -> Result<Self, TimeError> {
        let good = (1..=9999).contains(&year)
            && (1..=12).contains(&month)
            && day >= 1
            && day <= days_in_month(year, month)
            && hour < 24
            && minute < 60
            && (0.0..61.0).contains(&second);
        if !good {
            return Err(TimeError::NoSuchDay(format!(
                "{year:04}-{month:02}-{day:02} {hour:02}:{minute:02}:{second:04.1}"
            )));
        }
        Ok(Calendar { year, month, day, second_of_day_s: f64::from(hour * 3600 + minute * 60) + second })
    }

    /// Reads `2026-05-01T12:00:00`, with or without a fraction and a final `Z`.
    ///
    /// # Errors
    /// When the text has another form or names a date that does not exist.
    pub fn parse(text: &str) -> Result<Self, TimeError> {
        let form = || TimeError::Form(text.to_string());
        let (date, time) = text.trim_end_matches('Z').split_once(['T', ' ']).ok_or_else(form)?;
        let date: Vec<u32> = date.split('-').map(str::parse).collect::<Result<_, _>>().map_err(|_| form())?;
        let parts: Vec<&str> = time.split(':').collect();
        let ([year, month, day], [hour, minute, second]) = (date.as_slice(), parts.as_slice()) else {
            return Err(form());
        };
        let hour = hour.parse().map_err(|_| form())?;
        let minute = minute.parse().map_err(|_| form())?;
        let second: f64 = second.parse().map_err(|_| form())?;
        Calendar::new(i64::from(*year), *month, *day, hour, minute, second)
    }

    /// Days since 1970-01-01.
    fn days(&self) -> i64 {
        days_from_civil(self.year, self.month, self.day)
    }

    /// The year with its fraction, as magnetic models count.
    pub fn decimal_year(&self) -> f64 {
        let start = days_from_civil(self.year, 1, 1);
        let length = (days_from_civil(self.year + 1, 1, 1) - start) as f64;
        self.year as f64 + ((self.days() - start) as f64 + self.second_of_day_s / 86_400.0) / length
    }
}

/// An instant of GPS time, which runs without leap seconds.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct GpsTime {
    /// Seconds since 1980-01-06 00:00:00.
    pub since_epoch_s: f64,
}

impl GpsTime {
    /// From a full (not modulo 1024) week and a time of week.
    pub fn from_week(week: i64, time_of_week_s: f64) -> Self {
        GpsTime { since_epoch_s: week as f64 * WEEK_S + time_of_week_s }
    }

    /// From a date and time that is already GPS time.
    pub fn from_gpst(at: Calendar) -> Self {
        GpsTime { since_epoch_s: (at.days() - GPS_EPOCH_DAY) as f64 * 86_400.0 + at.second_of_day_s }
    }

    /// From a UTC date and time, which must lie in 1972 or later; no leap second after 2017 is known.
    pub fn from_utc(at: Calendar) -> Self {
        GpsTime { since_epoch_s: GpsTime::from_gpst(at).since_epoch_s + tai_minus_utc_s(at) - 19.0 }
    }

    /// Full week and time of week.
    pub fn week(&self) -> (i64, f64) {
        let week = (self.since_epoch_s / WEEK_S).floor();
        (week as i64, self.since_epoch_s - week * WEEK_S)
    }

    /// This instant some seconds later.
    pub fn plus(&self, later_s: f64) -> Self {
        GpsTime { since_epoch_s: self.since_epoch_s + later_s }
    }
}

/// TAI − UTC on a UTC date, in seconds; 10 before 1972.
pub fn tai_minus_utc_s(at: Calendar) -> f64 {
    let day = at.days();
    LEAP_SECONDS.iter().rev().find(|(y, m, d, _)| day >= days_from_civil(*y, *m, *d)).map_or(10.0, |entry| entry.3)
}

/// Days since 1970-01-01 of a Gregorian date.
///
/// # Source
/// Counting of eras of 400 years from 1 March (common practice).
fn days_from_civil(year: i64, month: u32, day: u32) -> i64 {
    let y = if month <= 2 { year - 1 } else { year };
    let era = y.div_euclid(400);
    let year_of_era = y.rem_euclid(400);
    let month_from_march = i64::from((month + 9) % 12);
    let day_of_year = (153 * month_from_march + 2) / 5 + i64::from(day) - 1;
    era * 146_097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year - 719_468
}

fn days_in_month(year: i64, month: u32) -> u32 {
    match month {
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_count_through_leap_years() {
        assert_eq!(days_from_civil(1970, 1, 1), 0);
        assert_eq!(days_from_civil(1980, 1, 6), GPS_EPOCH_DAY);
        assert_eq!(days_from_civil(2000, 3, 1) - days_from_civil(2000, 2, 28), 2);
        assert_eq!(days_from_civil(2100, 3, 1) - days_from_civil(2100, 2, 28), 1);
    }

    /// IS-GPS-200: GPS time leads UTC by 18 s since 2017.
    #[test]
    fn utc_and_gps_time_differ_by_leap_seconds() {
        let utc = Calendar::parse("2021-03-19T11:59:42Z").unwrap();
        assert_eq!(GpsTime::from_utc(utc).week(), (2149, 475_200.0));
        let before = GpsTime::from_utc(Calendar::parse("2016-12-31T23:59:60Z").unwrap());
        let after = GpsTime::from_utc(Calendar::parse("2017-01-01T00:00:00Z").unwrap());
        assert_eq!(after.since_epoch_s - before.since_epoch_s, 1.0);
    }

    #[test]
    fn nonsense_is_refused() {
        for text in
            ["", "2026-05-01", "2026-13-01T00:00:00", "2026-02-29T00:00:00", "2026-05-01T24:00:00", "a-b-cTd:e:f"]
        {
            assert!(Calendar::parse(text).is_err(), "{text}");
        }
        assert!(Calendar::parse("2024-02-29T23:59:59.5").is_ok());
        assert_eq!(Calendar::parse("2026-07-02T12:00:00").unwrap().decimal_year(), 2026.5);
    }
}
