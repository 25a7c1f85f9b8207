//! The scenario's satellites, and what hides them at a place of the site.

pub use crate::scenario::UNSTATED_ORIGIN;
use crate::scenario::{Multipath, Scenario};
use crate::site::SiteGrid;
use crate::sky::{
    Calendar, Constellation, Geodetic, GpsTime, RangeBudget, Satellites, SatellitesError, System, TimeError,
};
use libm::{atan, cos, sin};
use std::f64::consts::TAU;

/// Azimuths in which the horizon is marched.
pub const HORIZON_AZIMUTHS: usize = 32;

/// Loss of a satellite's signal through a canopy.
///
/// # Source
/// Estimate within the 5–10 dB usually met at this wavelength; a flat figure, whatever the path's length in the leaves.
pub const CANOPY_LOSS_DB: f64 = 8.0;

/// Why there is no sky.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SkyError {
    /// The date.
    #[error("sky date: {0}")]
    Date(#[from] TimeError),
    /// The almanac.
    #[error("{0}")]
    Satellites(#[from] SatellitesError),
    /// Nothing chosen.
    #[error("no constellation is chosen")]
    NoConstellation,
}

/// Satellites, place and time of a scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct SkySource {
    /// The satellites used.
    pub satellites: Satellites,
    /// Where the site's origin is; 45° N 0° E when that is not stated. Heights above sea level are taken as above the
    /// ellipsoid: the difference (at most about 100 m) turns no direction.
    pub site: Geodetic,
    /// Start of the take-off window.
    pub start: GpsTime,
    /// Its date, for the magnetic model.
    pub decimal_year: f64,
    /// Least elevation.
    pub mask_rad: f64,
    /// Range errors.
    pub budget: RangeBudget,
}

impl SkySource {
    /// From a scenario.
    ///
    /// # Errors
    /// When its date or almanac cannot be used, or no constellation is chosen.
    pub fn new(scenario: &Scenario) -> Result<SkySource, SkyError> {
        SkySource::with_constellations(scenario, &scenario.sky.constellations)
    }

    /// From a scenario, with other constellations than its own.
    ///
    /// # Errors
    /// As [`SkySource::new`].
    pub fn with_constellations(scenario: &Scenario, constellations: &[Constellation]) -> Result<SkySource, SkyError> {
        let sky = &scenario.sky;
        let calendar = Calendar::of_parts(sky.utc)?;
        let start = GpsTime::from_utc(calendar);
        if constellations.is_empty() {
            return Err(SkyError::NoConstellation);
        }
        let satellites = match &sky.almanac_text {
            Some(text) => {
                let middle = start.plus(0.5 * sky.window_s);
                Satellites::from_text(text, middle, &systems(constellations))?
            }
            None => Satellites::nominal(&nominal_sets(constellations)),
        };
        let (lat_deg, lon_deg) = scenario.site.lat_lon_deg();
        let site = Geodetic::from_deg(lat_deg, lon_deg, scenario.site.height_amsl_m);
        Ok(SkySource {
            satellites,
            site,
            start,
            decimal_year: calendar.decimal_year(),
            mask_rad: sky.mask_deg.to_radians(),
            budget: budget(sky.multipath, sky.ionosphere_m),
        })
    }
}

/// Range errors of a multipath class.
pub fn budget(multipath: Multipath, ionosphere_m: f64) -> RangeBudget {
    match multipath {
        Multipath::Open => RangeBudget::open_field(ionosphere_m),
        Multipath::Wooded => RangeBudget::wooded(ionosphere_m),
        Multipath::Walled => RangeBudget::walled(ionosphere_m),
    }
}

/// The chosen constellations in their order, each system once: the larger GPS set wins.
pub fn nominal_sets(chosen: &[Constellation]) -> Vec<Constellation> {
    let mut sets = chosen.to_vec();
    sets.sort();
    sets.dedup();
    if sets.contains(&Constellation::Gps30) {
        sets.retain(|set| *set != Constellation::Gps24);
    }
    sets
}

/// Systems of the chosen constellations.
pub fn systems(chosen: &[Constellation]) -> Vec<System> {
    let mut list: Vec<System> = chosen.iter().map(|constellation| constellation.system()).collect();
    list.sort();
    list.dedup();
    list
}

/// Elevation of the horizon in [`HORIZON_AZIMUTHS`] directions from north clockwise, radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Horizon {
    /// Of ground and buildings: nothing is seen below it.
    pub opaque_rad: [f32; HORIZON_AZIMUTHS],
    /// Of tree tops: what is between the two is seen through leaves.
    pub canopy_rad: [f32; HORIZON_AZIMUTHS],
}

impl Horizon {
    /// A horizon that hides nothing.
    pub const OPEN: Horizon = Horizon { opaque_rad: [0.0; HORIZON_AZIMUTHS], canopy_rad: [0.0; HORIZON_AZIMUTHS] };

    /// The horizons seen from several heights (z, metres, in rising order) above one spot.
    ///
    /// Each direction is marched outward with steps that start at the cell size and grow to a tenth of the distance: far things
    /// narrower than that may be passed over.
    pub fn above_spot(grid: &SiteGrid, spot_m: [f64; 2], heights_m: &[f64], out: &mut Vec<Horizon>) {
        // Inside a building or below the ground there is no sky; under a canopy all of it is seen through leaves.
        let here_m = grid.opaque_and_canopy_m(spot_m[0], spot_m[1]);
        let mut eyes: Vec<Eye> = heights_m.iter().map(|&z_m| Eye { z_m, tangents: [0.0; 2] }).collect();
        let [west, south, east, north] = grid.extent_m();
        let lowest_m = heights_m.first().copied().unwrap_or(f64::INFINITY);
        debug_assert!(heights_m.is_sorted());
        let top_m = grid.highest_m();
        out.clear();
        out.resize(heights_m.len(), Horizon::OPEN);
        for k in 0..HORIZON_AZIMUTHS {
            let azimuth = k as f64 * TAU / HORIZON_AZIMUTHS as f64;
            let (dx, dy) = (sin(azimuth), cos(azimuth));
            let mut d_m = grid.cell_m.max(1.0);
            // What is no higher than something nearer, or than the lowest eye, hides no more sky.
            let mut highest_m = [lowest_m; 2];
            for eye in &mut eyes {
                eye.tangents = here_m.map(|top_m| if eye.z_m < top_m { f32::INFINITY } else { 0.0 });
            }
            loop {
                let (x_m, y_m) = (spot_m[0] + d_m * dx, spot_m[1] + d_m * dy);
                if !(west..=east).contains(&x_m) || !(south..=north).contains(&y_m) {
                    break;
                }
                let tops_m = grid.opaque_and_canopy_m(x_m, y_m);
                for layer in [0, 1] {
                    if tops_m[layer] > highest_m[layer] {
                        highest_m[layer] = tops_m[layer];
                        for eye in eyes.iter_mut().take_while(|eye| eye.z_m < tops_m[layer]) {
                            let tangent = ((tops_m[layer] - eye.z_m) / d_m) as f32;
                            if tangent > eye.tangents[layer] {
                                eye.tangents[layer] = tangent;
                            }
                        }
                    }
                }
                if eyes.iter().all(|eye| eye.sees_nothing_beyond(d_m, top_m)) {
                    break;
                }
                d_m += grid.cell_m.max(0.1 * d_m).max(1.0);
            }
            for (eye, horizon) in eyes.iter().zip(out.iter_mut()) {
                [horizon.opaque_rad[k], horizon.canopy_rad[k]] =
                    eye.tangents.map(|tangent| if tangent > 0.0 { atan(f64::from(tangent)) as f32 } else { 0.0 });
            }
        }
    }
}

/// One of the heights that a horizon is seen from, and what it sees in a direction.
struct Eye {
    z_m: f64,
    /// Tangents of the elevation of ground and buildings, and of tree tops; 0 where all of them are below the eye.
    tangents: [f32; 2],
}

impl Eye {
    /// Whether nothing farther away than this, however high the site is, hides more.
    #[inline]
    fn sees_nothing_beyond(&self, distance_m: f64, highest_m: f64) -> bool {
        // A tangent is rounded: what reaches it all but exactly may still be looked at.
        let hidden = |tangent: f32| highest_m - self.z_m < f64::from(tangent) * distance_m * (1.0 - 1e-6);
        highest_m < self.z_m || self.tangents.into_iter().all(hidden)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::{Area, GridInput, Obstacle, ObstacleKind, Terrain};

    /// What is passed over on the way out, or not looked at beyond it, would have hidden nothing: every top against every eye gives
    /// the same to the last bit.
    #[test]
    fn a_horizon_misses_no_top() {
        let square = |x: f64, y: f64, half: f64| {
            Area::Polygon(vec![[x - half, y - half], [x + half, y - half], [x + half, y + half], [x - half, y + half]])
        };
        let stands = |kind, area, height_m| Obstacle { name: String::new(), kind, area, height_m, base_m: 0.0 };
        let obstacles = [
            stands(ObstacleKind::Trees, square(-150.0, 0.0, 90.0), 18.0),
            stands(ObstacleKind::Building, square(60.0, 40.0, 12.0), 25.0),
        ];
        let (columns, rows) = (41, 31);
        let hills = |index: usize| {
            let (x, y) = ((index % columns) as f64, (index / columns) as f64);
            (40.0 * sin(0.31 * x) * cos(0.23 * y) + 3.0 * x) as f32
        };
        let terrain = Terrain {
            file: "hills.asc".into(),
            west_m: -400.0,
            south_m: -300.0,
            cell_m: 20.0,
            columns,
            rows,
            height_m: (0..columns * rows).map(hills).collect(),
        };
        let grid = SiteGrid::new(&GridInput {
            extent_m: [-400.0, -300.0, 400.0, 300.0],
            cell_m: Some(2.0),
            terrain: Some(&terrain),
            zones: &[],
            obstacles: &obstacles,
            fence: None,
            fence_margin_m: 0.0,
            people_per_km2: 0.0,
        });
        for spot_m in [[-390.0, -290.0], [-150.0, 10.0], [0.0, 0.0], [61.0, 41.0], [300.0, 250.0]] {
            let ground_m = grid.ground_m(spot_m[0], spot_m[1]);
            let eyes_m = [1.5, 20.0, 26.0, 90.0, 180.0].map(|height_m| ground_m + height_m);
            let mut found = Vec::new();
            Horizon::above_spot(&grid, spot_m, &eyes_m, &mut found);
            for (&eye_m, horizon) in eyes_m.iter().zip(&found) {
                assert_eq!(*horizon, every_top(&grid, spot_m, eye_m), "{spot_m:?}, {eye_m}");
            }
        }
    }

    fn every_top(grid: &SiteGrid, [x_m, y_m]: [f64; 2], eye_m: f64) -> Horizon {
        let [west, south, east, north] = grid.extent_m();
        let mut seen = Horizon::OPEN;
        for k in 0..HORIZON_AZIMUTHS {
            let azimuth = k as f64 * TAU / HORIZON_AZIMUTHS as f64;
            let here_m = grid.opaque_and_canopy_m(x_m, y_m);
            let mut tangents = here_m.map(|top_m| if eye_m < top_m { f64::INFINITY } else { f64::NEG_INFINITY } as f32);
            let mut d_m = grid.cell_m;
            loop {
                let place = [x_m + d_m * sin(azimuth), y_m + d_m * cos(azimuth)];
                if place[0] < west || place[0] > east || place[1] < south || place[1] > north {
                    break;
                }
                let tops_m = grid.opaque_and_canopy_m(place[0], place[1]);
                tangents = [0, 1].map(|layer| tangents[layer].max(((tops_m[layer] - eye_m) / d_m) as f32));
                d_m += grid.cell_m.max(0.1 * d_m);
            }
            let [opaque, canopy] = tangents.map(|tangent| atan(f64::from(tangent)).max(0.0) as f32);
            (seen.opaque_rad[k], seen.canopy_rad[k]) = (opaque, canopy);
        }
        seen
    }
}
