//! Vertical cuts under the straight ray from the pilot's antenna.

use super::middle_link::PlaceMargin;
use crate::flight::LossBudget;
use crate::radio::free_space::wavelength_m;
use crate::site::SiteGrid;
use crate::units::nullable;
use crate::world::{World, length};
use serde::{Deserialize, Serialize};

/// One point of the straight ray between the antennas, z as on the site.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RayPoint {
    /// Distance over the ground from the pilot's antenna.
    pub distance_m: f64,
    /// Ground.
    pub ground_m: f64,
    /// Top of what stands there, else the ground.
    pub surface_m: f64,
    /// The ray.
    pub ray_m: f64,
    /// Radius of the first Fresnel zone.
    pub fresnel_m: f64,
}

/// The vertical section under the ray from the pilot's antenna to a place, at most `step_m` apart, both ends included.
pub fn ray_section(
    grid: &SiteGrid,
    frequency_hz: f64,
    antenna_m: [f64; 3],
    place_m: [f64; 3],
    step_m: f64,
) -> Vec<RayPoint> {
    let (dx, dy, dz) = (place_m[0] - antenna_m[0], place_m[1] - antenna_m[1], place_m[2] - antenna_m[2]);
    let total = (dx * dx + dy * dy).sqrt();
    let slant = (total * total + dz * dz).sqrt();
    let steps = ((total / step_m).ceil() as usize).max(1);
    (0..=steps)
        .map(|i| {
            let t = i as f64 / steps as f64;
            let (x, y) = (antenna_m[0] + t * dx, antenna_m[1] + t * dy);
            RayPoint {
                distance_m: t * total,
                ground_m: grid.ground_m(x, y),
                surface_m: grid.surface_m(x, y),
                ray_m: antenna_m[2] + t * dz,
                fresnel_m: (wavelength_m(frequency_hz) * slant * t * (1.0 - t)).sqrt(),
            }
        })
        .collect()
}

/// The least room between the ray and what stands below it, in radii of the first Fresnel zone; negative when the ray is
/// cut, 0.6 and more is as good as free. Without an inner point infinite.
pub fn least_clearance(section: &[RayPoint]) -> f64 {
    section
        .iter()
        .filter(|point| point.fresnel_m > 0.0)
        .map(|point| (point.ray_m - point.surface_m) / point.fresnel_m)
        .fold(f64::INFINITY, f64::min)
}

/// A vertical cut from the pilot's antenna to a place on the path, for the link.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// Which place, in words, e.g. `weakest place of the path`.
    pub title: String,
    /// Heights along the ray, first at the pilot's antenna, last at the craft.
    pub points: Vec<SectionPoint>,
    /// Mean margin of the control uplink there.
    #[serde(deserialize_with = "nullable")]
    pub margin_db: f64,
    /// Loss over terrain and buildings in it.
    #[serde(deserialize_with = "nullable")]
    pub diffraction_db: f64,
    /// Loss by trees in it.
    #[serde(deserialize_with = "nullable")]
    pub vegetation_db: f64,
}

/// One point of a [`Section`]; heights above home.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SectionPoint {
    /// Distance from the pilot's antenna on the ground, m.
    #[serde(deserialize_with = "nullable")]
    pub distance_m: f64,
    /// Height of the ground, m.
    #[serde(deserialize_with = "nullable")]
    pub ground_m: f64,
    /// Top of what stands there, else the ground.
    #[serde(deserialize_with = "nullable")]
    pub surface_m: f64,
    /// The straight ray between the antennas.
    #[serde(deserialize_with = "nullable")]
    pub ray_m: f64,
    /// Radius of the first Fresnel zone.
    #[serde(deserialize_with = "nullable")]
    pub fresnel_m: f64,
}

impl Section {
    /// The cut to a place, with what is known of the link there.
    pub(super) fn to(world: &World, title: &str, place_m: [f64; 3], link: &PlaceMargin) -> Section {
        let home_z_m = world.home_m[2];
        let span_m = length(place_m, world.antenna_m);
        let points = ray_section(
            &world.grid,
            world.scenario.radio.control.frequency_hz,
            world.antenna_m,
            place_m,
            (span_m / 300.0).max(0.5),
        );
        let points = points
            .iter()
            .map(|p| SectionPoint {
                distance_m: p.distance_m,
                ground_m: p.ground_m - home_z_m,
                surface_m: p.surface_m - home_z_m,
                ray_m: p.ray_m - home_z_m,
                fresnel_m: p.fresnel_m,
            })
            .collect();
        let LossBudget { diffraction_db, vegetation_db, .. } = link.budget;
        Section { title: title.into(), points, margin_db: link.margin_db, diffraction_db, vegetation_db }
    }
}
