//! The planned path with its lengths and times.

/// A path of straight legs from the take-off spot, in site coordinates (z above the site's origin).
#[derive(Debug, Clone, PartialEq)]
pub struct FlightPath {
    points_m: Vec<[f64; 3]>,
    /// Distance flown at each point.
    flown_m: Vec<f64>,
    /// Planned time at each point: arrival, without the pause there.
    arrive_s: Vec<f64>,
    /// Speed over ground between points.
    pub speed_mps: f64,
    /// Hover at each point after the first.
    pub pause_s: f64,
}

impl FlightPath {
    /// A path that climbs straight up from the take-off spot to the first waypoint's height, then flies the waypoints.
    ///
    /// `waypoints_m` are x, y and height above the take-off spot, whose ground lies at `home_z_m`.
    pub fn new(
        home_m: [f64; 2],
        home_z_m: f64,
        waypoints_m: &[[f64; 3]],
        speed_mps: f64,
        climb_mps: f64,
        pause_s: f64,
    ) -> FlightPath {
        let mut points_m = vec![[home_m[0], home_m[1], home_z_m]];
        if let Some(first) = waypoints_m.first() {
            points_m.push([home_m[0], home_m[1], home_z_m + first[2]]);
        }
        points_m.extend(waypoints_m.iter().map(|p| [p[0], p[1], home_z_m + p[2]]));
        points_m.dedup_by(|a, b| length(*a, *b) < 1e-6);
        let (mut flown_m, mut arrive_s) = (vec![0.0], vec![0.0]);
        for (index, leg) in points_m.windows(2).enumerate() {
            let (span_m, rise_m) = (length(leg[0], leg[1]), leg[1][2] - leg[0][2]);
            let horizontal_m = (span_m * span_m - rise_m * rise_m).max(0.0).sqrt();
            let pause_s = if index == 0 { 0.0 } else { pause_s };
            let time_s = (horizontal_m / speed_mps).max(rise_m.abs() / climb_mps);
            flown_m.push(flown_m[index] + span_m);
            arrive_s.push(arrive_s[index] + pause_s + time_s);
        }
        FlightPath { points_m, flown_m, arrive_s, speed_mps, pause_s }
    }

    /// The corner points, the take-off spot first.
    pub fn points_m(&self) -> &[[f64; 3]] {
        &self.points_m
    }

    /// Direction, east and north, of the first leg that leads anywhere over the ground; north without one.
    pub fn first_heading(&self) -> [f64; 2] {
        let legs = self.points_m.windows(2).map(|leg| [leg[1][0] - leg[0][0], leg[1][1] - leg[0][1]]);
        legs.map(|[x, y]| (x, y, (x * x + y * y).sqrt()))
            .find(|leg| leg.2 > 1e-6)
            .map_or([0.0, 1.0], |(x, y, length)| [x / length, y / length])
    }

    /// Whole length.
    pub fn length_m(&self) -> f64 {
        *self.flown_m.last().expect("a path has a point")
    }

    /// Distance flown at corner point `index`.
    pub fn flown_at_m(&self, index: usize) -> f64 {
        self.flown_m[index]
    }

    /// Planned time of the whole path, with the pauses.
    pub fn duration_s(&self) -> f64 {
        self.arrive_s.last().expect("a path has a point") + self.pause_s
    }

    /// Place and planned time after `flown_m` metres along the path (clamped to its ends).
    pub fn at_distance(&self, flown_m: f64) -> ([f64; 3], f64) {
        let flown_m = flown_m.clamp(0.0, self.length_m());
        let leg = self.flown_m.partition_point(|&d| d <= flown_m).clamp(1, self.points_m.len().max(2) - 1);
        if self.points_m.len() < 2 {
            return (self.points_m[0], 0.0);
        }
        let (from, to) = (self.flown_m[leg - 1], self.flown_m[leg]);
        let share = if to > from { (flown_m - from) / (to - from) } else { 1.0 };
        let (a, b) = (self.points_m[leg - 1], self.points_m[leg]);
        let place_m = [0, 1, 2].map(|axis| a[axis] + share * (b[axis] - a[axis]));
        let depart_s = self.arrive_s[leg - 1] + if leg > 1 { self.pause_s } else { 0.0 };
        (place_m, depart_s + share * (self.arrive_s[leg] - depart_s))
    }
}

/// Distance between two points.
pub fn length(a_m: [f64; 3], b_m: [f64; 3]) -> f64 {
    let [dx, dy, dz] = [0, 1, 2].map(|axis| b_m[axis] - a_m[axis]);
    (dx * dx + dy * dy + dz * dz).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_times_and_places_agree() {
        let path = FlightPath::new(
            [0.0, 0.0],
            5.0,
            &[[0.0, 0.0, 20.0], [100.0, 0.0, 20.0], [100.0, 50.0, 20.0]],
            10.0,
            4.0,
            2.0,
        );
        assert_eq!(path.points_m().len(), 4);
        assert_eq!(path.length_m(), 170.0);
        assert_eq!(path.duration_s(), 5.0 + 2.0 + 10.0 + 2.0 + 5.0 + 2.0);
        let (place, time) = path.at_distance(70.0);
        assert_eq!((place, time), ([50.0, 0.0, 25.0], 12.0));
        assert_eq!(path.at_distance(-3.0).0, [0.0, 0.0, 5.0]);
        assert_eq!(path.at_distance(1e9).0, [100.0, 50.0, 25.0]);
    }
}
