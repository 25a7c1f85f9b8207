//! What hides the lower sky.

use libm::{atan, cos};
use std::f64::consts::TAU;

/// Elevation of the visible horizon by azimuth.
#[derive(Debug, Clone, PartialEq)]
pub enum Skyline {
    /// One elevation all round.
    Level(f64),
    /// Piecewise linear through (azimuth, elevation), closed over north; azimuths rising within [0, 2π). Empty: −π/2.
    Polyline(Vec<(f64, f64)>),
    /// An endless straight wall.
    Wall {
        /// Azimuth of the shortest way to it.
        normal_rad: f64,
        /// Its top above the antenna.
        above_antenna_m: f64,
        /// Distance to it.
        distance_m: f64,
    },
    /// One elevation with a gap of another one, from an azimuth clockwise to another, ends included.
    Gap {
        /// Outside the gap.
        closed_rad: f64,
        /// Inside.
        open_rad: f64,
        /// Start of the gap.
        from_rad: f64,
        /// End of the gap.
        to_rad: f64,
    },
    /// The highest of several.
    Highest(Vec<Skyline>),
}

impl Skyline {
    /// Elevation of the skyline at an azimuth.
    pub fn elevation_rad(&self, azimuth_rad: f64) -> f64 {
        match self {
            Skyline::Level(elevation_rad) => *elevation_rad,
            Skyline::Polyline(points) => polyline(points, azimuth_rad),
            Skyline::Wall { normal_rad, above_antenna_m, distance_m } => {
                wall_elevation_rad(azimuth_rad, *normal_rad, *above_antenna_m, *distance_m)
            }
            Skyline::Gap { closed_rad, open_rad, from_rad, to_rad } => {
                // A hair of slack, so that an azimuth equal to an end but for rounding is inside.
                let width = (to_rad - from_rad).rem_euclid(TAU) + 2e-9;
                if (azimuth_rad - from_rad + 1e-9).rem_euclid(TAU) <= width { *open_rad } else { *closed_rad }
            }
            Skyline::Highest(list) => {
                list.iter().map(|one| one.elevation_rad(azimuth_rad)).fold(f64::NEG_INFINITY, f64::max)
            }
        }
    }

    /// Whether a satellite stands at or above the skyline.
    pub fn shows(&self, azimuth_rad: f64, elevation_rad: f64) -> bool {
        elevation_rad >= self.elevation_rad(azimuth_rad)
    }
}

fn polyline(points: &[(f64, f64)], azimuth_rad: f64) -> f64 {
    let Some(&first) = points.first() else { return -std::f64::consts::FRAC_PI_2 };
    let a = azimuth_rad.rem_euclid(TAU);
    let after = points.partition_point(|point| point.0 <= a);
    let last = points[points.len() - 1];
    let (low, high) = match after {
        0 => ((last.0 - TAU, last.1), first),
        k if k == points.len() => (last, (first.0 + TAU, first.1)),
        k => (points[k - 1], points[k]),
    };
    if high.0 <= low.0 { low.1 } else { low.1 + (high.1 - low.1) * (a - low.0) / (high.0 - low.0) }
}

/// Elevation of the top edge of an endless straight wall at an azimuth; 0 on the side away from it, negative for a wall whose
/// top lies below the antenna.
pub fn wall_elevation_rad(azimuth_rad: f64, normal_rad: f64, above_antenna_m: f64, distance_m: f64) -> f64 {
    let facing = cos(azimuth_rad - normal_rad);
    // Along the wall the cosine is 0 but for rounding; its elevation there is 0.
    if facing <= 1e-15 { 0.0 } else { atan(above_antenna_m * facing / distance_m) }
}
