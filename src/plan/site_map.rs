//! The site as drawn.

use super::above_home;
use crate::flight::Drawn;
use crate::site::Area;
use crate::world::World;

/// Outlines of an area.
pub type Rings = Vec<Vec<[f64; 2]>>;

/// The middle of the mean winds, for drawing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SiteWind {
    /// Speed, m/s.
    pub speed_mps: f64,
    /// Direction it comes from, rad clockwise from north.
    pub from_rad: f64,
    /// Height above the ground that the speed is stated for.
    pub height_m: f64,
}

/// The site for drawing, in local metres.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SiteMap {
    /// West, south, east, north.
    pub extent_m: [f64; 4],
    /// Take-off spot: x, y.
    pub home_m: [f64; 2],
    /// The pilot: x, y.
    pub pilot_m: [f64; 2],
    /// Sources of interference to the radio.
    pub sources_m: Vec<[f64; 2]>,
    /// Path: x, y, height above home.
    pub path_m: Vec<[f64; 3]>,
    /// Zones: name, kind, outer rings.
    pub zones: Vec<(String, crate::site::ZoneKind, Rings)>,
    /// Obstacles: name, kind, rings, height.
    pub obstacles: Vec<(String, crate::site::ObstacleKind, Rings, f64)>,
    /// Fence rings.
    pub fence: Vec<Vec<[f64; 2]>>,
    /// Terrain contour lines: z above home, points. Empty on a flat site.
    pub terrain: Vec<(f64, Vec<[f64; 2]>)>,
    /// Mean wind.
    pub wind: SiteWind,
    /// Greatest permitted height above home, m.
    pub ceiling_m: f64,
    /// Origin on Earth (lat, lon in degrees), for GeoJSON; `None`: a flat local plane.
    pub origin_deg: Option<(f64, f64)>,
}

/// The site as drawn.
pub fn site_map(world: &World) -> SiteMap {
    let site = &world.scenario.site;
    let rings = |area: &Area| area.outline_m();
    let drawn = Drawn::central(&world.scenario);
    let terrain = site.terrain.as_ref().map_or_else(Vec::new, |terrain| {
        terrain
            .contours(terrain.contour_step_m())
            .into_iter()
            .flat_map(|contour| contour.lines_m.into_iter().map(move |line| (contour.z_m - world.home_m[2], line)))
            .collect()
    });
    SiteMap {
        extent_m: world.grid.extent_m(),
        home_m: site.home_m,
        pilot_m: world.scenario.pilot.place_m,
        sources_m: world.scenario.radio.interferers.iter().map(|s| [s.place_m[0], s.place_m[1]]).collect(),
        path_m: world.path.points_m().iter().map(|&p| above_home(world, p)).collect(),
        zones: site.zones.iter().map(|zone| (zone.name.clone(), zone.kind, rings(&zone.area))).collect(),
        obstacles: site.obstacles.iter().map(|o| (o.name.clone(), o.kind, rings(&o.area), o.height_m)).collect(),
        fence: site.fence.as_ref().map_or_else(Vec::new, rings),
        terrain,
        wind: SiteWind {
            speed_mps: drawn.weather.wind_mps,
            from_rad: drawn.weather.from_deg.to_radians(),
            height_m: world.scenario.weather.wind_height_m,
        },
        ceiling_m: site.ceiling_m,
        origin_deg: site.origin.map(|origin| (origin.lat_deg, origin.lon_deg)),
    }
}
