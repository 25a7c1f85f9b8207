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
    /// As it is stated: seconds since midnight there; 24:00 is the end of the day.
    local_s: i32,
    /// How far it is ahead of UTC.
    offset_s: i32,
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
        let local_s = seconds(time, 3)?;
        (offset_s.abs() <= OFFSET_AT_MOST_S && local_s <= DAY_S).then_some(TimeOfDay { local_s, offset_s })
    }

    /// Hour in UTC, 0 up to 24. Reckoned in whole seconds, so that a time said in two ways is the same number.
    pub(super) fn hour_utc(self) -> f64 {
        let second = (self.local_s - self.offset_s).rem_euclid(DAY_S);
        // The end of the day stays its end.
        let second = if second == 0 && self.local_s == DAY_S { DAY_S } else { second };
        f64::from(second) / 3600.0
    }

    /// Seconds until a later time, both as they are stated: 24 h from 00:00 to 24:00.
    fn until_s(self, later: TimeOfDay) -> i32 {
        (later.local_s - later.offset_s) - (self.local_s - self.offset_s)
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
    pub(super) const FORM: &'static str = "two different times of day with their offset from UTC, such as \"09:00+02:00/17:30+02:00\" or \"07:00Z/15:30Z\"";

    /// Reads two times with a stroke between them.
    pub(super) fn parse(text: &str) -> Option<Span> {
        let (from, to) = text.split_once('/')?;
        let span = Span { from: TimeOfDay::parse(from)?, to: TimeOfDay::parse(to)? };
        (span.is_whole_day() || span.from.until_s(span.to).rem_euclid(DAY_S) != 0).then_some(span)
    }

    fn is_whole_day(self) -> bool {
        self.from.until_s(self.to) == DAY_S
    }

    /// Both in UTC; past midnight when the second is the lesser. A whole day is one from 0 to 24, wherever it begins.
    pub(super) fn hours_utc(self) -> [f64; 2] {
        if self.is_whole_day() { [0.0, 24.0] } else { [self.from.hour_utc(), self.to.hour_utc()] }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_offset_is_taken_off() {
        let hour = |text: &str| TimeOfDay::parse(text).map(TimeOfDay::hour_utc);
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

    /// A day has as many hours wherever it begins; no time at all is a slip.
    #[test]
    fn a_whole_day_is_one_in_any_zone() {
        for day in ["00:00Z/24:00Z", "00:00+02:00/24:00+02:00", "00:00-05:30/24:00-05:30"] {
            assert_eq!(Span::parse(day).map(Span::hours_utc), Some([0.0, 24.0]), "{day}");
        }
        for none in ["09:00Z/09:00Z", "09:00+02:00/07:00Z", "24:00+02:00/00:00+02:00"] {
            assert_eq!(Span::parse(none), None, "{none}");
        }
        assert_eq!(Span::parse("20:00+02:00/24:00+02:00").map(Span::hours_utc), Some([18.0, 22.0]));
    }

    #[test]
    fn a_date_may_become_the_day_before_or_after() {
        assert_eq!(earlier([2026, 6, 1, 10, 0, 7], 120), Some([2026, 6, 1, 8, 0, 7]));
        assert_eq!(earlier([2026, 1, 1, 0, 30, 0], 60), Some([2025, 12, 31, 23, 30, 0]));
        assert_eq!(earlier([2024, 2, 28, 23, 30, 0], -60), Some([2024, 2, 29, 0, 30, 0]));
        assert_eq!(earlier([2026, 2, 30, 10, 0, 0], 60), Some([2026, 2, 30, 10, 0, 0]));
    }
}
