//! Places on Earth: WGS 84 geodetic, Earth-fixed Cartesian, and local east, north, up.

use crate::geometry::Frame;
use libm::{atan2, cos, sin};

/// Semi-major axis of the ellipsoid.
///
/// # Source
/// WGS 84 (NIMA TR8350.2, table 3.1).
pub const WGS84_A_M: f64 = 6_378_137.0;

/// Flattening of the ellipsoid.
///
/// # Source
/// WGS 84 (NIMA TR8350.2, table 3.1): 1/298.257223563.
pub const WGS84_F: f64 = 1.0 / 298.257_223_563;

/// First eccentricity squared.
pub const WGS84_E2: f64 = WGS84_F * (2.0 - WGS84_F);

/// A place by latitude, longitude and height above the ellipsoid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geodetic {
    /// Geodetic latitude, north positive.
    pub lat_rad: f64,
    /// Longitude, east positive.
    pub lon_rad: f64,
    /// Height above the WGS 84 ellipsoid.
    pub height_m: f64,
}

impl Geodetic {
    /// From degrees.
    pub fn from_deg(lat_deg: f64, lon_deg: f64, height_m: f64) -> Self {
        Geodetic { lat_rad: lat_deg.to_radians(), lon_rad: lon_deg.to_radians(), height_m }
    }

    /// Latitude in degrees.
    pub fn lat_deg(&self) -> f64 {
        self.lat_rad.to_degrees()
    }

    /// Longitude in degrees.
    pub fn lon_deg(&self) -> f64 {
        self.lon_rad.to_degrees()
    }
}

/// Earth-centred Earth-fixed coordinates of a geodetic place.
///
/// # Source
/// WGS 84 (NIMA TR8350.2, section 4.3), closed form.
pub fn ecef_from_geodetic(place: Geodetic) -> [f64; 3] {
    let (sin_lat, cos_lat) = (sin(place.lat_rad), cos(place.lat_rad));
    let n = WGS84_A_M / (1.0 - WGS84_E2 * sin_lat * sin_lat).sqrt();
    let p = (n + place.height_m) * cos_lat;
    [p * cos(place.lon_rad), p * sin(place.lon_rad), (n * (1.0 - WGS84_E2) + place.height_m) * sin_lat]
}

/// Geodetic place of Earth-centred Earth-fixed coordinates, longitude in (−π, π].
///
/// Better than a micrometre from 5,000 km below the surface to beyond geostationary height; on the axis the
/// longitude is 0.
///
/// # Source
/// Bowring, "Transformation from spatial to geographical coordinates", Survey Review 181, 1976, iterated; height by
/// the form without a singularity at the poles.
pub fn geodetic_from_ecef(place_m: [f64; 3]) -> Geodetic {
    let [x, y, z] = place_m;
    let p = (x * x + y * y).sqrt();
    let b = WGS84_A_M * (1.0 - WGS84_F);
    let second_e2 = WGS84_E2 / (1.0 - WGS84_E2);
    // Parametric latitude: exact on the surface.
    let mut beta = atan2(z, p * (1.0 - WGS84_F));
    let mut lat = 0.0;
    for _ in 0..5 {
        let (s, c) = (sin(beta), cos(beta));
        lat = atan2(z + second_e2 * b * s * s * s, p - WGS84_E2 * WGS84_A_M * c * c * c);
        let next = atan2((1.0 - WGS84_F) * sin(lat), cos(lat));
        if next == beta {
            break;
        }
        beta = next;
    }
    let (s, c) = (sin(lat), cos(lat));
    let height_m = p * c + z * s - WGS84_A_M * (1.0 - WGS84_E2 * s * s).sqrt();
    Geodetic { lat_rad: lat, lon_rad: if p == 0.0 { 0.0 } else { atan2(y, x) }, height_m }
}

/// East, north and up of a place as axes in Earth-fixed coordinates: [`Frame::to_body`] gives east, north, up.
pub fn local_axes(site: Geodetic) -> Frame {
    let (sl, cl) = (sin(site.lat_rad), cos(site.lat_rad));
    let (so, co) = (sin(site.lon_rad), cos(site.lon_rad));
    Frame::of_axes([-so, co, 0.0], [-sl * co, -sl * so, cl], [cl * co, cl * so, sl])
}

/// East, north, up of a geodetic place from a site.
pub fn enu_from_geodetic(site: Geodetic, place: Geodetic) -> [f64; 3] {
    let (origin, place_m) = (ecef_from_geodetic(site), ecef_from_geodetic(place));
    local_axes(site).to_body([0, 1, 2].map(|axis| place_m[axis] - origin[axis]))
}

/// Earth-fixed point of east, north, up from a site.
pub fn ecef_from_enu(site: Geodetic, enu_m: [f64; 3]) -> [f64; 3] {
    let axes = local_axes(site);
    let mut place_m = ecef_from_geodetic(site);
    for (axis, along_m) in [axes.forward(), axes.left(), axes.up()].into_iter().zip(enu_m) {
        for (sum, component) in place_m.iter_mut().zip(axis) {
            *sum += component * along_m;
        }
    }
    place_m
}

/// The local frame of a site: x east, y north, z up.
///
/// x and y are east and north in the tangent plane at the origin of the point *at the origin's height*, and z is the
/// difference of heights: the curvature of the Earth is taken out of the vertical (it would be 0.8 m at 3 km). Both
/// ways agree to a micrometre within 50 km; horizontal distances are short by less than 1 mm per km within 5 km.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalFrame {
    origin: Geodetic,
}

impl LocalFrame {
    /// The frame whose (0, 0, 0) is this place.
    pub fn new(origin: Geodetic) -> Self {
        LocalFrame { origin }
    }

    /// Its origin.
    pub fn origin(&self) -> Geodetic {
        self.origin
    }

    /// Local metres of a latitude and longitude in degrees: x east, y north.
    pub fn local_from_degrees(&self, lat_deg: f64, lon_deg: f64) -> [f64; 2] {
        let [east, north, _] =
            enu_from_geodetic(self.origin, Geodetic::from_deg(lat_deg, lon_deg, self.origin.height_m));
        [east, north]
    }

    /// Latitude and longitude in degrees of local metres.
    pub fn degrees_from_local(&self, local_m: [f64; 2]) -> [f64; 2] {
        let place = self.geodetic_from_local([local_m[0], local_m[1], 0.0]);
        [place.lat_deg(), place.lon_deg()]
    }

    /// Geodetic place of local metres, height above the origin's height.
    pub fn geodetic_from_local(&self, local_m: [f64; 3]) -> Geodetic {
        // The tangent plane lies above the surface of constant height: walk down until the heights agree.
        let mut up_m = 0.0;
        let mut place = self.origin;
        for _ in 0..6 {
            place = geodetic_from_ecef(ecef_from_enu(self.origin, [local_m[0], local_m[1], up_m]));
            let high_m = place.height_m - self.origin.height_m;
            up_m -= high_m;
            if high_m.abs() < 1e-7 {
                break;
            }
        }
        Geodetic { height_m: self.origin.height_m + local_m[2], ..place }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hand values: on the equator at the prime meridian x is the semi-major axis, at the pole z is a(1 − f).
    #[test]
    fn axes_of_the_ellipsoid() {
        let equator = ecef_from_geodetic(Geodetic::from_deg(0.0, 0.0, 0.0));
        assert_eq!(equator[0], WGS84_A_M);
        let pole = ecef_from_geodetic(Geodetic::from_deg(90.0, 0.0, 10.0));
        assert!((pole[2] - (WGS84_A_M * (1.0 - WGS84_F) + 10.0)).abs() < 1e-8);
        let back = geodetic_from_ecef([0.0, 0.0, -6_400_000.0]);
        assert!((back.lat_deg() + 90.0).abs() < 1e-12 && back.lon_rad == 0.0);
        assert!((back.height_m - (6_400_000.0 - WGS84_A_M * (1.0 - WGS84_F))).abs() < 1e-8);
    }

    #[test]
    fn cartesian_and_geodetic_invert() {
        for lat in [-89.9, -45.0, -0.001, 0.0, 12.3, 60.0, 89.999] {
            for lon in [-179.9, -90.0, 0.0, 7.0, 180.0] {
                for height in [-5_000.0, 0.0, 300.0, 20e6] {
                    let place = Geodetic::from_deg(lat, lon, height);
                    let back = geodetic_from_ecef(ecef_from_geodetic(place));
                    assert!((back.lat_rad - place.lat_rad).abs() < 1e-13, "{lat} {lon} {height}: {back:?}");
                    assert!((back.lon_rad - place.lon_rad).abs() < 1e-13, "{lat} {lon} {height}: {back:?}");
                    assert!((back.height_m - place.height_m).abs() < 1e-6, "{lat} {lon} {height}: {back:?}");
                }
            }
        }
    }

    #[test]
    fn local_frame_inverts_and_keeps_distances() {
        let frame = LocalFrame::new(Geodetic::from_deg(52.5, 13.4, 40.0));
        for local in [[0.0, 0.0, 0.0], [5_000.0, -3_000.0, 120.0], [-40_000.0, 20_000.0, -5.0]] {
            let place = frame.geodetic_from_local(local);
            let [east, north] = frame.local_from_degrees(place.lat_deg(), place.lon_deg());
            let back = [east, north, place.height_m - 40.0];
            for (a, b) in local.iter().zip(back) {
                assert!((a - b).abs() < 1e-5, "{local:?} {back:?}");
            }
        }
        // One minute of latitude at 52.5°: M·π/10800 with M the meridian radius of curvature.
        let s2 = libm::sin(52.5_f64.to_radians()) * libm::sin(52.5_f64.to_radians());
        let m = WGS84_A_M * (1.0 - WGS84_E2) / libm::pow(1.0 - WGS84_E2 * s2, 1.5) + 40.0;
        let north = frame.local_from_degrees(52.5 + 1.0 / 60.0, 13.4)[1];
        assert!((north - m * std::f64::consts::PI / 10_800.0).abs() < 0.3, "{north}");
    }
}
