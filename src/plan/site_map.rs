//! The site as drawn.

use super::above_home;
use crate::flight::Drawn;
use crate::site::{Area, Obstacle, Zone};
use crate::sky::LocalFrame;
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

/// How bright the ground lies under a light from the north-west, half way up: what map makers call hill shading.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Relief {
    /// Side of a cell, m.
    pub cell_m: f64,
    /// Rows from south to north, each from west to east, over the extent: 0 turned away from the light, 1 facing it.
    pub bright: Vec<Vec<f64>>,
}

/// Cells of the relief along the longer side of the site: so many that a slope shows and a page stays small.
const RELIEF_CELLS: f64 = 110.0;

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
    /// Relief of the ground; `None` on a flat site.
    pub relief: Option<Relief>,
    /// Mean wind.
    pub wind: SiteWind,
    /// Greatest permitted height above home, m.
    pub ceiling_m: f64,
    /// Where it lies on Earth; `None`: nobody said, so no place has a longitude and latitude.
    pub earth: Option<SiteOnEarth>,
}

/// Where a site lies on Earth, and what stands there as the scenario states it rather than as it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteOnEarth {
    /// Local metres to longitude and latitude and back.
    pub frame: LocalFrame,
    /// Height of the take-off spot above mean sea level; `None`: neither stated nor in a terrain file.
    pub home_amsl_m: Option<f64>,
    /// Zones, in the site's order.
    pub zones: Vec<Zone>,
    /// Obstacles, in the site's order.
    pub obstacles: Vec<Obstacle>,
    /// The fence.
    pub fence: Option<Area>,
}

impl SiteOnEarth {
    fn of(world: &World) -> Option<SiteOnEarth> {
        let site = &world.scenario.site;
        let stated = world.scenario.inputs.iter().any(|row| row.key == "site.height_amsl_m" && row.line.is_some());
        Some(SiteOnEarth {
            frame: site.frame()?,
            home_amsl_m: (stated || site.terrain.is_some()).then(|| site.height_amsl_m + world.home_m[2]),
            zones: site.zones.clone(),
            obstacles: site.obstacles.clone(),
            fence: site.fence.clone(),
        })
    }
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
        relief: site.terrain.is_some().then(|| relief(world)),
        wind: SiteWind {
            speed_mps: drawn.weather.wind_mps,
            from_rad: drawn.weather.from_deg.to_radians(),
            height_m: world.scenario.weather.wind_height_m,
        },
        ceiling_m: site.ceiling_m,
        earth: SiteOnEarth::of(world),
    }
}

/// Relief from the slope across each cell. Light from the north-west at 45° is common practice of map makers, no source.
fn relief(world: &World) -> Relief {
    let [west, south, east, north] = world.grid.extent_m();
    let cell_m = (east - west).max(north - south) / RELIEF_CELLS;
    let cells = |length_m: f64| (length_m / cell_m).ceil().max(1.0) as usize;
    let to_light = [-0.5, 0.5, std::f64::consts::FRAC_1_SQRT_2];
    let bright = |x_m: f64, y_m: f64| {
        let ground_m = |dx_m: f64, dy_m: f64| {
            world.grid.ground_m((x_m + dx_m).clamp(west, east), (y_m + dy_m).clamp(south, north))
        };
        let rise_east = (ground_m(cell_m, 0.0) - ground_m(-cell_m, 0.0)) / (2.0 * cell_m);
        let rise_north = (ground_m(0.0, cell_m) - ground_m(0.0, -cell_m)) / (2.0 * cell_m);
        let upright = (1.0 + rise_east * rise_east + rise_north * rise_north).sqrt();
        ((to_light[2] - rise_east * to_light[0] - rise_north * to_light[1]) / upright).max(0.0)
    };
    let row = |j: usize| {
        let y_m = south + (j as f64 + 0.5) * cell_m;
        (0..cells(east - west)).map(|i| bright(west + (i as f64 + 0.5) * cell_m, y_m)).collect()
    };
    Relief { cell_m, bright: (0..cells(north - south)).map(row).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Scenario;

    /// The slope that looks north-west is brighter than level ground, the one that looks south-east darker.
    #[test]
    fn slopes_towards_the_light_are_bright() {
        let world = World::new(
            Scenario::from_file(concat!(env!("LOSTLINK_ROOT"), "scenarios/quarry.toml")).unwrap().with_flights(1),
        )
        .unwrap();
        let relief = site_map(&world).relief.expect("the quarry has walls");
        let [west, south, ..] = world.grid.extent_m();
        // Level ground has the sine of the light's height.
        let level = std::f64::consts::FRAC_1_SQRT_2;
        let (mut facing, mut away) = (Vec::new(), Vec::new());
        for (j, row) in relief.bright.iter().enumerate() {
            for (i, &bright) in row.iter().enumerate() {
                let at = |di: f64, dj: f64| {
                    let x_m = west + (i as f64 + 0.5 + di) * relief.cell_m;
                    world.grid.ground_m(x_m, south + (j as f64 + 0.5 + dj) * relief.cell_m)
                };
                // Down towards the north-west and level across: it looks there. (A steep wall that looks aside is darker than level
                // ground.) At the foot and the brink of a wall there is no one slope.
                let down_m = at(1.0, -1.0) - at(-1.0, 1.0);
                let across_m = at(1.0, 1.0) - at(-1.0, -1.0);
                let bend_m = |di: f64, dj: f64| (at(di, dj) + at(-di, -dj) - 2.0 * at(0.0, 0.0)).abs();
                let bends = [(1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, -1.0)].map(|(di, dj)| bend_m(di, dj));
                if down_m.abs() < 2.0
                    || across_m.abs() > 0.5 * down_m.abs()
                    || bends.iter().any(|bend_m| *bend_m > 0.25 * down_m.abs())
                {
                    continue;
                }
                if down_m > 0.0 { facing.push(bright > level) } else { away.push(bright < level) }
            }
        }
        for seen in [facing, away] {
            let right = seen.iter().filter(|right| **right).count();
            assert!(seen.len() > 10 && right == seen.len(), "{right} of {}", seen.len());
        }
    }
}
