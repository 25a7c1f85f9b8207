//! Time: UTC, GPS time, weeks.

use world_magnetic_model::time::util::days_in_year;
use world_magnetic_model::time::{Date, Month};

/// Seconds in a GPS week.
pub const WEEK_S: f64 = 604_800.0;

/// Julian day of 1980-01-06, the start of GPS time.
const GPS_EPOCH_DAY: i32 = 2_444_245;

/// Months (year and number) with whose first day TAI − UTC became a second more; with the first of them it became 10 s.
///
/// # Source
/// IERS Bulletin C series (from memory; public record since 1972).
const LEAP_MONTHS: [i32; 28] = [
    197201, 197207, 197301, 197401, 197501, 197601, 197701, 197801, 197901, 198001, 198107, 198207, 198307, 198507,
    198801, 199001, 199101, 199207, 199307, 199407, 199601, 199707, 199901, 200601, 200901, 201207, 201507, 201701,
];

/// A calendar date and a time of day, in whatever scale the context says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calendar {
    /// Gregorian date.
    pub date: Date,
    /// Seconds of the day; may run into 86,400 and above in a leap second.
    pub second_of_day_s: f64,
}

/// Why a date is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("no such date or time of day: {0}")]
pub struct TimeError(String);

impl Calendar {
    /// A date and time, checked.
    ///
    /// # Errors
    /// When the month, day, hour, minute or second does not exist (second 60 is allowed).
    pub fn new(year: i32, month: u8, day: u8, hour: u32, minute: u32, second: f64) -> Result<Self, TimeError> {
        let date = Month::try_from(month).and_then(|month| Date::from_calendar_date(year, month, day));
        match date {
            Ok(date) if year >= 1 && hour < 24 && minute < 60 && (0.0..61.0).contains(&second) => {
                Ok(Calendar { date, second_of_day_s: f64::from(hour * 3600 + minute * 60) + second })
            }
            _ => Err(TimeError(format!("{year:04}-{month:02}-{day:02} {hour:02}:{minute:02}:{second:04.1}"))),
        }
    }

    /// Of a scenario's six whole numbers: year, month, day, hour, minute, second.
    ///
    /// # Errors
    /// As [`Calendar::new`].
    pub fn of_parts([year, month, day, hour, minute, second]: [u32; 6]) -> Result<Self, TimeError> {
        let small = |number: u32| u8::try_from(number).unwrap_or(u8::MAX);
        let year = i32::try_from(year).unwrap_or(i32::MAX);
        Calendar::new(year, small(month), small(day), hour, minute, f64::from(second))
    }

    /// The year with its fraction, as magnetic models count.
    pub fn decimal_year(&self) -> f64 {
        let year = self.date.year();
        let day = f64::from(self.date.ordinal() - 1) + self.second_of_day_s / 86_400.0;
        f64::from(year) + day / f64::from(days_in_year(year))
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
        let days = at.date.to_julian_day() - GPS_EPOCH_DAY;
        GpsTime { since_epoch_s: f64::from(days) * 86_400.0 + at.second_of_day_s }
    }

    /// From a UTC date and time, which must lie in 1972 or later; no leap second after 2017 is known.
    pub fn from_utc(at: Calendar) -> Self {
        GpsTime { since_epoch_s: GpsTime::from_gpst(at).since_epoch_s + tai_minus_utc_s(at) - 19.0 }
    }

    /// Full week.
    pub fn week(&self) -> i64 {
        (self.since_epoch_s / WEEK_S).floor() as i64
    }

    /// This instant some seconds later.
    pub fn plus(&self, later_s: f64) -> Self {
        GpsTime { since_epoch_s: self.since_epoch_s + later_s }
    }
}

/// TAI − UTC on a UTC date, in seconds; 10 before 1972.
pub fn tai_minus_utc_s(at: Calendar) -> f64 {
    let month = 100 * at.date.year() + i32::from(u8::from(at.date.month()));
    9.0 + LEAP_MONTHS.partition_point(|from| *from <= month).max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noon(year: i32, month: u8, day: u8) -> Result<Calendar, TimeError> {
        Calendar::new(year, month, day, 12, 0, 0.0)
    }

    #[test]
    fn days_count_through_leap_years() {
        let days = |year, month, day| GpsTime::from_gpst(noon(year, month, day).unwrap()).since_epoch_s / 86_400.0;
        assert_eq!(days(1980, 1, 6), 0.5);
        assert_eq!(days(2000, 3, 1) - days(2000, 2, 28), 2.0);
        assert_eq!(days(2100, 3, 1) - days(2100, 2, 28), 1.0);
    }

    /// IS-GPS-200: GPS time leads UTC by 18 s since 2017.
    #[test]
    fn utc_and_gps_time_differ_by_leap_seconds() {
        let utc = GpsTime::from_utc(Calendar::new(2021, 3, 19, 11, 59, 42.0).unwrap());
        assert_eq!(utc, GpsTime::from_week(2149, 475_200.0));
        assert_eq!(utc.week(), 2149);
        let before = GpsTime::from_utc(Calendar::new(2016, 12, 31, 23, 59, 60.0).unwrap());
        let after = GpsTime::from_utc(Calendar::new(2017, 1, 1, 0, 0, 0.0).unwrap());
        assert_eq!(after.since_epoch_s - before.since_epoch_s, 1.0);
        let seconds = |year, month, day| tai_minus_utc_s(noon(year, month, day).unwrap());
        assert_eq!([seconds(1970, 1, 1), seconds(1972, 6, 30), seconds(1972, 7, 1)], [10.0, 10.0, 11.0]);
        assert_eq!([seconds(2005, 12, 31), seconds(2006, 1, 1), seconds(2016, 12, 31)], [32.0, 33.0, 36.0]);
    }

    #[test]
    fn nonsense_is_refused() {
        assert!(noon(2026, 13, 1).is_err() && noon(2026, 2, 29).is_err() && noon(0, 1, 1).is_err());
        assert!(Calendar::new(2026, 5, 1, 24, 0, 0.0).is_err());
        assert!(Calendar::of_parts([2026, 257, 1, 0, 0, 0]).is_err());
        assert!(Calendar::new(2024, 2, 29, 23, 59, 59.5).is_ok());
        assert_eq!(noon(2026, 7, 2).unwrap().decimal_year(), 2026.5);
    }
}
