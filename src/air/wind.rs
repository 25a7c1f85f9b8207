//! Mean wind by height and by the hour: the wind triangle's direction conventions, a measured profile, a series over a day.

use std::ops::Range;

/// Vector (x east, y north) of a wind of `speed_mps` that blows *from* `from_rad`, clockwise from north.
pub fn vector_mps(speed_mps: f64, from_rad: f64) -> [f64; 2] {
    [-speed_mps * libm::sin(from_rad), -speed_mps * libm::cos(from_rad)]
}

/// The mean wind is taken as it is at this height further down, or at twice the roughness length if that is higher. Estimate.
const FOOT_M: f64 = 0.5;

/// Height above the ground below which the logarithmic law is not used.
pub fn foot_m(roughness_m: f64) -> f64 {
    FOOT_M.max(2.0 * roughness_m)
}

/// Length of a vector. Not `hypot`, whose last digit is the system's.
fn size_mps([x, y]: [f64; 2]) -> f64 {
    (x * x + y * y).sqrt()
}

/// Direction that a vector (x east, y north) blows *from*, clockwise from north, 0 up to 360°; 0 for none.
fn from_deg(vector_mps: [f64; 2]) -> f64 {
    if vector_mps == [0.0, 0.0] {
        return 0.0;
    }
    let deg = libm::atan2(-vector_mps[0], -vector_mps[1]).to_degrees().rem_euclid(360.0);
    // The nearest number below 0 comes out as 360.
    if deg >= 360.0 { 0.0 } else { deg }
}

/// The wind somewhere on a scale, of heights or of hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindAt {
    /// Height above the ground in metres, or hour of the day.
    pub at: f64,
    /// Its speed.
    pub speed_mps: f64,
    /// Direction that it blows from, clockwise from north.
    pub from_deg: f64,
    /// Where it blows to: east, north.
    pub to_mps: [f64; 2],
}

impl WindAt {
    /// A wind as it is reported.
    pub fn new(at: f64, speed_mps: f64, from_deg: f64) -> WindAt {
        WindAt { at, speed_mps, from_deg, to_mps: vector_mps(speed_mps, from_deg.to_radians()) }
    }

    /// A wind as a vector.
    fn of_vector(at: f64, to_mps: [f64; 2]) -> WindAt {
        WindAt { at, speed_mps: size_mps(to_mps), from_deg: from_deg(to_mps), to_mps }
    }
}

/// The vector between two neighbours of a list in rising order, or `None` beyond its ends.
fn between(list: &[WindAt], at: f64) -> Option<[f64; 2]> {
    let next = list.partition_point(|row| row.at <= at);
    let (a, b) = (list.get(next.checked_sub(1)?)?, list.get(next)?);
    if a.to_mps == b.to_mps {
        return Some(a.to_mps);
    }
    let share = (at - a.at) / (b.at - a.at);
    Some([0, 1].map(|axis| a.to_mps[axis] + share * (b.to_mps[axis] - a.to_mps[axis])))
}

/// The mean wind by height above the ground as it was measured. Between the heights it is interpolated as a vector; below the lowest and
/// above the highest the logarithmic law goes on from there, and the wind turns with height as it does without a profile.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    rows: Vec<WindAt>,
    roughness_m: f64,
    foot_m: f64,
    veer_rad_per_m: f64,
}

impl Profile {
    /// `rows` are one or more, in rising order of their heights.
    pub fn new(rows: Vec<WindAt>, roughness_m: f64, veer_rad_per_m: f64) -> Profile {
        Profile { rows, roughness_m, foot_m: foot_m(roughness_m), veer_rad_per_m }
    }

    /// Wind at a height: east, north.
    pub fn at_mps(&self, height_m: f64) -> [f64; 2] {
        if let Some(vector) = between(&self.rows, height_m) {
            return vector;
        }
        let end = if height_m < self.rows[0].at { &self.rows[0] } else { &self.rows[self.rows.len() - 1] };
        let log = |height_m: f64| libm::log(height_m.max(self.foot_m) / self.roughness_m);
        let share = log(height_m) / log(end.at);
        let (sin, cos) = libm::sincos(self.veer_rad_per_m * (height_m - end.at));
        let [x, y] = end.to_mps;
        [share * (cos * x + sin * y), share * (cos * y - sin * x)]
    }

    /// Wind at a height, as it is stated where it is.
    pub fn at(&self, height_m: f64) -> WindAt {
        let stated = self.rows.iter().find(|row| row.at == height_m).copied();
        stated.unwrap_or_else(|| WindAt::of_vector(height_m, self.at_mps(height_m)))
    }

    /// The same as a factor and a turning of the wind at a reference height, which must blow there.
    pub fn over(self, reference_m: f64) -> RelativeProfile {
        let reference_mps = self.at_mps(reference_m);
        RelativeProfile { profile: self, reference_mps, reference_size_mps: size_mps(reference_mps) }
    }
}

/// A profile against the wind at its reference height.
#[derive(Debug, Clone, PartialEq)]
pub struct RelativeProfile {
    profile: Profile,
    reference_mps: [f64; 2],
    /// Its speed: every step asks for it.
    reference_size_mps: f64,
}

impl RelativeProfile {
    /// Speed at a height as a share of that at the reference height.
    #[inline]
    pub fn share(&self, height_m: f64) -> f64 {
        size_mps(self.profile.at_mps(height_m)) / self.reference_size_mps
    }

    /// Cosine and sine of the clockwise turning from the reference height to another; none where there is no wind.
    #[inline]
    pub fn turn(&self, height_m: f64) -> [f64; 2] {
        let ([x, y], [rx, ry]) = (self.profile.at_mps(height_m), self.reference_mps);
        let size = size_mps([x, y]) * self.reference_size_mps;
        if size == 0.0 { [1.0, 0.0] } else { [(rx * x + ry * y) / size, (ry * x - rx * y) / size] }
    }
}

/// The wind over the hours of a day. Between two moments it is interpolated as a vector; before the first and after the last it stays.
#[derive(Debug, Clone, PartialEq)]
pub struct Series(Vec<WindAt>);

impl Series {
    /// `rows` are one or more, in rising order of their hours, in UTC.
    pub fn new(rows: Vec<WindAt>) -> Series {
        Series(rows)
    }

    /// Wind at an hour, as it is stated where it is or where it does not change.
    pub fn at(&self, hour_utc: f64) -> WindAt {
        let hour = hour_utc.rem_euclid(24.0);
        let before = self.0.partition_point(|row| row.at <= hour).saturating_sub(1);
        let row = self.0[before];
        match between(&self.0, hour) {
            Some(to_mps) if to_mps != row.to_mps => WindAt::of_vector(hour, to_mps),
            _ => WindAt { at: hour, ..row },
        }
    }

    /// Directions that it blows from between two hours, as one range of degrees that may reach beyond 360.
    pub fn directions_deg(&self, hours_utc: Range<f64>) -> Range<f64> {
        // Between two moments the vector runs along a straight line: its direction is at their ends the farthest.
        let whole_day = hours_utc.end - hours_utc.start >= 24.0;
        let inside = self
            .0
            .iter()
            .map(|row| row.at)
            .filter(|at| whole_day || (at - hours_utc.start).rem_euclid(24.0) <= hours_utc.end - hours_utc.start);
        let mut hours: Vec<f64> = inside.map(|at| hours_utc.start + (at - hours_utc.start).rem_euclid(24.0)).collect();
        hours.extend([hours_utc.start, hours_utc.end]);
        hours.sort_by(f64::total_cmp);
        let mut now = self.at(hours[0]).from_deg;
        let mut range = now..now;
        for hour in hours {
            let turned = (self.at(hour).from_deg - now + 180.0).rem_euclid(360.0) - 180.0;
            now += turned;
            range = range.start.min(now)..range.end.max(now);
        }
        range
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_are_those_that_made_the_vector() {
        for deg in [0.0, 1.0, 90.0, 179.5, 270.0, 359.0] {
            assert!((from_deg(vector_mps(3.0, f64::to_radians(deg))) - deg).abs() < 1e-9, "{deg}");
        }
    }

    #[test]
    fn a_profile_goes_on_by_the_usual_law() {
        let rows = vec![WindAt::new(10.0, 5.0, 270.0), WindAt::new(50.0, 8.0, 300.0)];
        let profile = Profile::new(rows, 0.03, 0.0);
        let speed = |height_m: f64| profile.at_mps(height_m)[0].hypot(profile.at_mps(height_m)[1]);
        assert!((speed(2.0) - 5.0 * (2.0_f64 / 0.03).ln() / (10.0_f64 / 0.03).ln()).abs() < 1e-9);
        assert!((speed(200.0) - 8.0 * (200.0_f64 / 0.03).ln() / (50.0_f64 / 0.03).ln()).abs() < 1e-9);
        assert!((speed(10.0) - 5.0).abs() < 1e-9 && (from_deg(profile.at_mps(60.0)) - 300.0).abs() < 1e-9);
        // Half-way the vectors meet: not the mean of the speeds.
        let [a, b] = [vector_mps(5.0, 270_f64.to_radians()), vector_mps(8.0, 300_f64.to_radians())];
        assert!((profile.at_mps(30.0)[0] - 0.5 * (a[0] + b[0])).abs() < 1e-9);
        let relative = profile.clone().over(10.0);
        let (share, [c, s]) = (relative.share(30.0), relative.turn(30.0));
        let turned = [share * (c * a[0] + s * a[1]), share * (c * a[1] - s * a[0])];
        assert!((0..2).all(|axis| (turned[axis] - profile.at_mps(30.0)[axis]).abs() < 1e-9), "{turned:?}");
    }

    #[test]
    fn a_series_holds_its_ends() {
        let series = Series::new(vec![WindAt::new(8.0, 2.0, 350.0), WindAt::new(12.0, 6.0, 30.0)]);
        assert_eq!((series.at(3.0).speed_mps, series.at(3.0).from_deg), (2.0, 350.0));
        assert_eq!((series.at(23.0).speed_mps, series.at(23.0).from_deg), (6.0, 30.0));
        // Half-way the vectors meet, not the speeds: |2∠350° + 6∠30°|/2 = √(4 + 36 + 24 cos 40°)/2 = 3.820 m/s, and its direction
        // atan2(2 sin 350° + 6 sin 30°, 2 cos 350° + 6 cos 30°) = 20.31°, each to its last digit.
        let half_way = series.at(10.0);
        assert!((half_way.speed_mps - 3.820).abs() < 0.001 && (half_way.from_deg - 20.31).abs() < 0.01, "{half_way:?}");
        let range = series.directions_deg(7.0..13.0);
        assert!((range.start - 350.0).abs() < 1e-6 && (range.end - 390.0).abs() < 1e-6, "{range:?}");
    }
}
