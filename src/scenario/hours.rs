//! Times of day with their offset from UTC: `09:00+02:00`, `07:30Z`.

use crate::sky::Calendar;
use world_magnetic_model::time::Date;

/// Seconds of a day.
const DAY_S: i32 = 86_400;

/// The farthest that a local time is from UTC.
const OFFSET_AT_MOST_S: i32 = 14 * 3600;

/// A time of day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TimeOfDay {
    /// In UTC, 0 up to 24.
    pub hour_utc: f64,
}

impl TimeOfDay {
    /// Reads `hh:mm` or `hh:mm:ss` with `Z` or an offset such as `+02:00`. 24:00 is the end of the day.
    pub(super) fn parse(text: &str) -> Option<TimeOfDay> {
        let text = text.trim();
        let (time, offset_s) = match text.strip_suffix(['Z', 'z']) {
            Some(time) => (time, 0),
            None => {
                let at = text.rfind(['+', '-'])?;
                let sign = if text[at..].starts_with('-') { -1 } else { 1 };
                (&text[..at], sign * seconds(&text[at + 1..], 2)?)
            }
        };
        let second = seconds(time, 3)?;
        if offset_s.abs() > OFFSET_AT_MOST_S || second > DAY_S {
            return None;
        }
        // Whole seconds, so that a time said in two ways is the same number.
        let second_utc = (second - offset_s).rem_euclid(DAY_S);
        // The end of the day stays its end.
        let second_utc = if second_utc == 0 && second == DAY_S { DAY_S } else { second_utc };
        Some(TimeOfDay { hour_utc: f64::from(second_utc) / 3600.0 })
    }
}

/// Seconds of `hh:mm`, or with three parts allowed `hh:mm:ss`.
fn seconds(text: &str, parts: usize) -> Option<i32> {
    let numbers: Option<Vec<i32>> = text
        .split(':')
        .map(|part| part.parse().ok().filter(|_| part.len() == 2 && part.bytes().all(|byte| byte.is_ascii_digit())))
        .collect();
    let numbers = numbers?;
    let (hour, minute, second) = match numbers.as_slice() {
        [hour, minute] => (*hour, *minute, 0),
        [hour, minute, second] if parts == 3 => (*hour, *minute, *second),
        _ => return None,
    };
    (hour <= 24 && minute < 60 && second < 60).then_some(hour * 3600 + minute * 60 + second)
}

/// A date and time (year, month, day, hour, minute, second) some minutes earlier; `None` where there is no such date. A day or a month
/// that does not exist stays as it is: what reads the date says so.
pub(super) fn earlier(local: [u32; 6], minutes: i32) -> Option<[u32; 6]> {
    let Ok(at) = Calendar::of_parts(local) else { return Some(local) };
    let [.., hour, minute, second] = local;
    let minute_of_day = (hour * 60 + minute) as i32 - minutes;
    let day = at.date.to_julian_day() + minute_of_day.div_euclid(24 * 60);
    let date = Date::from_julian_day(day).ok()?;
    let minute_of_day = minute_of_day.rem_euclid(24 * 60) as u32;
    let year = u32::try_from(date.year()).ok()?;
    let (month, day) = (u32::from(u8::from(date.month())), u32::from(date.day()));
    Some([year, month, day, minute_of_day / 60, minute_of_day % 60, second])
}

/// From one time of day to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    from: TimeOfDay,
    to: TimeOfDay,
}

impl Span {
    /// How it is written.
    pub(super) const FORM: &'static str =
        "two times of day with their offset from UTC, such as \"09:00+02:00/17:30+02:00\" or \"07:00Z/15:30Z\"";

    /// Reads two times with a stroke between them.
    pub(super) fn parse(text: &str) -> Option<Span> {
        let (from, to) = text.split_once('/')?;
        Some(Span { from: TimeOfDay::parse(from)?, to: TimeOfDay::parse(to)? })
    }

    /// Both in UTC; past midnight when the second is the lesser.
    pub(super) fn hours_utc(self) -> [f64; 2] {
        [self.from.hour_utc, self.to.hour_utc]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_offset_is_taken_off() {
        let hour = |text: &str| TimeOfDay::parse(text).map(|time| time.hour_utc);
        assert_eq!(hour("10:00+02:00"), Some(8.0));
        assert_eq!(hour("08:00Z"), Some(8.0));
        assert_eq!(hour("00:30+01:00"), Some(23.5));
        assert_eq!(hour("20:15:36-05:30"), Some(1.76));
        assert_eq!(hour("24:00Z"), Some(24.0));
        for wrong in ["10:00", "25:00Z", "10:60Z", "9:00Z", "10:00+2", "10:00+15:00", "", "Z", "é0:00Z", "24:30Z"] {
            assert_eq!(hour(wrong), None, "{wrong}");
        }
        assert_eq!(Span::parse("22:00+02:00/06:00+02:00").unwrap().hours_utc(), [20.0, 4.0]);
        assert_eq!(Span::parse("22:00Z"), None);
    }

    #[test]
    fn a_date_may_become_the_day_before_or_after() {
        assert_eq!(earlier([2026, 6, 1, 10, 0, 7], 120), Some([2026, 6, 1, 8, 0, 7]));
        assert_eq!(earlier([2026, 1, 1, 0, 30, 0], 60), Some([2025, 12, 31, 23, 30, 0]));
        assert_eq!(earlier([2024, 2, 28, 23, 30, 0], -60), Some([2024, 2, 29, 0, 30, 0]));
        assert_eq!(earlier([2026, 2, 30, 10, 0, 0], 60), Some([2026, 2, 30, 10, 0, 0]));
    }
}
