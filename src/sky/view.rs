//! Where a satellite stands in the sky of a site.

use super::geodesy::{Geodetic, ecef_from_geodetic, local_axes};
use crate::geometry::{Frame, dot};
use libm::{asin, atan2};
use std::f64::consts::TAU;

/// Direction and distance of a satellite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sight {
    /// Azimuth in [0, 2π), clockwise from true north.
    pub azimuth_rad: f64,
    /// Elevation above the horizon of the ellipsoid; refraction (0.1° at the horizon) is left out.
    pub elevation_rad: f64,
    /// Distance.
    pub range_m: f64,
    /// Unit vector east, north, up.
    pub direction: [f64; 3],
}

/// A site prepared for many satellites.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Viewpoint {
    origin_m: [f64; 3],
    axes: Frame,
}

impl Viewpoint {
    /// At a geodetic place.
    pub fn new(site: Geodetic) -> Self {
        Viewpoint { origin_m: ecef_from_geodetic(site), axes: local_axes(site) }
    }

    /// Direction and distance of an Earth-fixed point; no light time, no rotation of the Earth meanwhile.
    pub fn sight(&self, place_m: [f64; 3]) -> Sight {
        let d = [place_m[0] - self.origin_m[0], place_m[1] - self.origin_m[1], place_m[2] - self.origin_m[2]];
        let range_m = dot(d, d).sqrt();
        let direction = self.axes.to_body(d).map(|along| along / range_m);
        Sight {
            azimuth_rad: atan2(direction[0], direction[1]).rem_euclid(TAU) % TAU,
            elevation_rad: asin(direction[2].clamp(-1.0, 1.0)),
            range_m,
            direction,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::ecef_from_enu;

    #[test]
    fn points_around_a_site() {
        let site = Geodetic::from_deg(45.0, 7.0, 300.0);
        let view = Viewpoint::new(site);
        let east = view.sight(ecef_from_enu(site, [1_000.0, 0.0, 1_000.0]));
        assert!((east.azimuth_rad.to_degrees() - 90.0).abs() < 1e-9);
        assert!((east.elevation_rad.to_degrees() - 45.0).abs() < 1e-9);
        assert!((east.range_m - f64::sqrt(2e6)).abs() < 1e-6);
        let west = view.sight(ecef_from_enu(site, [-1.0, 0.0, 0.0]));
        assert!((west.azimuth_rad.to_degrees() - 270.0).abs() < 1e-6);
    }
}
