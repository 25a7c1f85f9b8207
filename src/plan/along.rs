//! Charge left and ways home along the planned path.

use crate::craft::PackLevel;
use crate::world::energy::{Used, speed};
use crate::world::{FlightPath, HomeEnergy, HomeNeed, OnPath, Way};

/// One point of the planned path.
#[derive(Debug, Clone, PartialEq)]
pub struct PathEnergy {
    /// Distance flown.
    pub flown_m: f64,
    /// Time after take-off.
    pub time_s: f64,
    /// Place: x, y, z.
    pub place_m: [f64; 3],
    /// Charge expected to be left here, 0 to 1.
    pub charge: f64,
    /// What each way home takes when the link goes here, in the order given; `None`: home cannot be reached that way.
    pub home: Vec<Option<HomeNeed>>,
}

impl PathEnergy {
    /// The cheapest way home from here of those asked for by their place in the order.
    pub fn cheapest(&self, counts: impl Fn(usize) -> bool) -> Option<&HomeNeed> {
        let asked = self.home.iter().enumerate().filter(|(slot, _)| counts(*slot));
        asked.filter_map(|(_, need)| need.as_ref()).min_by(|a, b| a.charge.total_cmp(&b.charge))
    }
}

/// The point of no return on a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LastPoint {
    /// Distance flown.
    pub flown_m: f64,
    /// Place: x, y, z.
    pub place_m: [f64; 3],
    /// Time after take-off.
    pub time_s: f64,
    /// Charge left there.
    pub charge: f64,
}

impl HomeEnergy<'_> {
    /// Charge left and ways home along the path, every `every_m` metres and at its corners.
    pub fn along(&self, path: &FlightPath, ways: &[Way], charge: f64, every_m: f64) -> Vec<PathEnergy> {
        let mut stops = vec![0.0];
        for index in 1..path.points_m().len() {
            let (from, to) = (path.flown_at_m(index - 1), path.flown_at_m(index));
            let pieces = ((to - from) / every_m).ceil().max(1.0);
            stops.extend((1..=pieces as usize).map(|k| from + (to - from) * (k as f64 / pieces)));
        }
        let mut points: Vec<PathEnergy> = Vec::with_capacity(stops.len());
        let mut used = Used::new(&self.pack, charge);
        let mut highest_z_m = f64::NEG_INFINITY;
        for (index, &flown_m) in stops.iter().enumerate() {
            let OnPath { place_m, time_s } = path.at_distance(flown_m);
            if let Some(last) = points.last() {
                self.fly(&mut used, last.place_m, place_m, time_s - last.time_s, path.speed_mps);
            }
            highest_z_m = highest_z_m.max(place_m[2]);
            // Straight on along the leg ahead; from the last point on along the leg behind.
            let (a, b) = match (stops.get(index + 1), index) {
                (Some(&next_m), _) => (place_m, path.at_distance(next_m).place_m),
                (None, 0) => (place_m, place_m),
                (None, _) => (points[index - 1].place_m, place_m),
            };
            let velocity_mps = self.leg_velocity(a, b, path.speed_mps);
            let home = ways
                .iter()
                .map(|way| self.need_after_silence(way, place_m, velocity_mps, highest_z_m, used.charge))
                .collect();
            points.push(PathEnergy { flown_m, time_s, place_m, charge: used.charge, home });
        }
        points
    }

    /// Velocity over ground from one place towards another as the path is flown.
    fn leg_velocity(&self, from_m: [f64; 3], to_m: [f64; 3], path_mps: f64) -> [f64; 3] {
        let leg: [f64; 3] = std::array::from_fn(|axis| to_m[axis] - from_m[axis]);
        let climb_mps = if leg[2] > 0.0 { self.mover.climb_max_mps } else { self.mover.descent_max_mps };
        let time_s = (speed([leg[0], leg[1]]) / path_mps).max(leg[2].abs() / climb_mps);
        if time_s > 0.0 { leg.map(|part| part / time_s) } else { [0.0; 3] }
    }

    /// One piece of the path within a time; what is left of the time is hovered at its start. Where the time is shorter than the piece
    /// takes, because a corner counts as reached from some metres away, it is flown no faster, only not to its end.
    fn fly(&self, used: &mut Used, from_m: [f64; 3], to_m: [f64; 3], time_s: f64, path_mps: f64) {
        let rise_m = to_m[2] - from_m[2];
        let (dx, dy) = (to_m[0] - from_m[0], to_m[1] - from_m[1]);
        let whole_s = ((dx * dx + dy * dy).sqrt() / path_mps).max(rise_m.abs() / self.mover.climb_max_mps).max(1e-9);
        let moving_s = whole_s.min(time_s);
        let wind = self.wind_at([0, 1, 2].map(|axis| 0.5 * (from_m[axis] + to_m[axis])));
        let air = [dx / whole_s - wind[0], dy / whole_s - wind[1]];
        let pause_s = (time_s - moving_s).max(0.0);
        let empty = used.emptied();
        let flown = used.draw(self.level.climbing_power_w(speed(air), rise_m / whole_s), moving_s, PackLevel::Land);
        let hover_w = self.level.power_w(speed(self.wind_at(from_m)));
        if flown.and_then(|()| used.draw(hover_w, pause_s, PackLevel::Land)).is_none() {
            *used = empty;
        }
    }

    /// The last point of the path from which a way leads home with `reserve` of charge to spare, when one further on
    /// does not; `None`: home can be reached from everywhere on the path. A first point that fails is returned itself.
    pub fn last_point(&self, along: &[PathEnergy], way: usize, reserve: f64) -> Option<LastPoint> {
        // What is to spare; a way that is impossible is far from it.
        let spare = |point: &PathEnergy| point.home[way].map_or(-1.0, |need| point.charge - need.charge - reserve);
        let first = along.iter().position(|point| spare(point) < 0.0)?;
        let (before, after) = (&along[first.saturating_sub(1)], &along[first]);
        let (left, short) = (spare(before), spare(after));
        let share = if left > 0.0 { left / (left - short) } else { 0.0 };
        let at = |a: f64, b: f64| a + share * (b - a);
        Some(LastPoint {
            flown_m: at(before.flown_m, after.flown_m),
            place_m: [0, 1, 2].map(|axis| at(before.place_m[axis], after.place_m[axis])),
            time_s: at(before.time_s, after.time_s),
            charge: at(before.charge, after.charge),
        })
    }
}
