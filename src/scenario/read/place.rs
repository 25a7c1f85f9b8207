//! Site, zones, obstacles, fence and path.

use super::{ESTIMATE, Keeper};
use crate::scenario::diagnostic::Severity;
use crate::scenario::ground::{self, Drawn};
use crate::scenario::table::{Section, above, between, tidy};
use crate::scenario::track;
use crate::scenario::types::{FlightPlan, Origin, Pilot, Site};
use crate::site::{Area, Obstacle, ObstacleKind, Terrain, Zone, ZoneKind, parse_ascii_grid, shape};
use crate::sky::LocalFrame;
use std::path::PathBuf;

pub(super) fn read_origin(s: &Section) -> Option<Origin> {
    let lat = s.opt_number(
        "lat_deg",
        between(-89.9, 89.9),
        "a flat plane somewhere at 45° north",
        "Latitude of the local origin x = y = 0",
    );
    let lon = s.opt_number(
        "lon_deg",
        between(-180.0, 180.0),
        "a flat plane somewhere at 45° north",
        "Longitude of the local origin",
    );
    if lat.is_some() != lon.is_some() {
        let given = if lat.is_some() { "lat_deg" } else { "lon_deg" };
        s.error(given, "one of `lat_deg` and `lon_deg` without the other", "both or none");
    }
    Some(Origin { lat_deg: lat?, lon_deg: lon? })
}

/// An area from one of the keys `polygon_m`, `circle_m`, or `line_m` with `width_m`.
fn read_area(s: &Section) -> Option<Area> {
    let limits = between(-1e6, 1e6);
    let polygon = s.points::<2>(
        "polygon_m",
        3,
        "[x, y]",
        "Corners of a polygon that does not cross itself; the last joins the first",
    );
    let circle =
        s.opt_numbers::<3>("circle_m", limits, "another shape is given", "Middle and radius of a disc: [x, y, radius]");
    let line = s.points::<2>("line_m", 2, "[x, y]", "Points of the middle line of a strip: a road, a path, a wire");
    let width_m = s.opt_number("width_m", above(0.0, 10_000.0), "another shape is given", "Full width of the strip");
    const ONE: &str = "exactly one of `polygon_m`, `circle_m`, `line_m` with `width_m`";
    if s.sink.is_describing() {
        return None;
    }
    let given = ["polygon_m", "circle_m", "line_m"].into_iter().filter(|key| s.has(key)).collect::<Vec<_>>();
    match given.as_slice() {
        [] => {
            s.error("", "no shape", ONE);
            None
        }
        [_] => {
            if s.has("width_m") && line.is_none() && !s.has("line_m") {
                s.error("width_m", "a width without a line", ONE);
            }
            if let Some(points) = polygon {
                let area = Area::Polygon(points.into_iter().map(|point| point.0).collect());
                return check_area(s, "polygon_m", area);
            }
            if let Some([x, y, radius_m]) = circle {
                if radius_m <= 0.0 {
                    s.error("circle_m", format!("the radius {radius_m}"), "a radius above 0");
                    return None;
                }
                return Some(Area::Circle { centre_m: [x, y], radius_m });
            }
            let line_m: Vec<[f64; 2]> = line?.into_iter().map(|point| point.0).collect();
            if shape::line_length_m(&line_m) == 0.0 {
                s.error("line_m", "a line of no length", "points that differ");
                return None;
            }
            let Some(width_m) = width_m else {
                if !s.has("width_m") {
                    s.missing("width_m", "the strip's width in metres");
                }
                return None;
            };
            Some(Area::Strip { line_m, width_m })
        }
        [_, second, ..] => {
            s.error(second, "a second shape", ONE);
            None
        }
    }
}

fn check_area(s: &Section, key: &'static str, area: Area) -> Option<Area> {
    if let Some(fault) = ground::polygon_fault(&area) {
        s.error(key, fault, "a polygon whose edges do not touch or cross");
        return None;
    }
    Some(area)
}

const ZONE_KINDS: [(&str, ZoneKind); 6] = [
    ("clear", ZoneKind::Clear),
    ("rough", ZoneKind::Rough),
    ("water", ZoneKind::Water),
    ("road", ZoneKind::Road),
    ("people", ZoneKind::People),
    ("property", ZoneKind::Property),
];

const OBSTACLE_KINDS: [(&str, ObstacleKind); 3] =
    [("building", ObstacleKind::Building), ("trees", ObstacleKind::Trees), ("wire", ObstacleKind::Wire)];

/// Height of z = 0 above the sea, and the ground heights from there. What is not stated is the ground at the origin.
pub(super) fn read_heights(s: &Section, keep: &Keeper) -> (f64, Option<Terrain>) {
    let mut terrain = read_terrain(s, keep);
    let ground_m = terrain.as_ref().map_or(0.0, |grid| grid.ground_m(0.0, 0.0));
    let limits = between(-500.0, 6000.0);
    let height_amsl_m = s.number(
        "height_amsl_m",
        limits,
        ground_m,
        "sea level, or the terrain file's height at x = y = 0",
        "Height of z = 0 above mean sea level",
    );
    if !s.has("height_amsl_m") && !limits.allow(ground_m) {
        s.error(
            "terrain_file",
            format!("a ground at {} m above the sea at x = y = 0", tidy(ground_m)),
            "heights of -500 to 6000 m, or `height_amsl_m`",
        );
    }
    for height in terrain.iter_mut().flat_map(|grid| &mut grid.height_m) {
        *height = (f64::from(*height) - height_amsl_m) as f32;
    }
    (height_amsl_m, terrain)
}

/// Ground heights as they stand in the file.
fn read_terrain(s: &Section, keep: &Keeper) -> Option<Terrain> {
    let terrain_file =
        s.file_name("terrain_file", "flat ground", "Ground heights: an Esri ASCII grid in metres, on the site's axes");
    let terrain_at_m = s.numbers::<2>(
        "terrain_origin_m",
        between(-1e8, 1e8),
        [0.0, 0.0],
        "the grid is in local metres",
        "The grid's coordinates of the local origin x = y = 0",
    );
    let mut terrain = None;
    if let Some(file) = &terrain_file
        && let Some(text) = keep.text(s, "terrain_file", file)
    {
        match parse_ascii_grid(&text) {
            Ok(grid) => {
                terrain = Some(Terrain {
                    file: PathBuf::from(file),
                    west_m: grid.west_m - terrain_at_m[0],
                    south_m: grid.south_m - terrain_at_m[1],
                    ..grid
                });
            }
            Err(fault) => s.sink.push_in(file, Some(&text), fault.line, "", fault.found, fault.accepted),
        }
    }
    terrain
}

/// What a drawn map holds.
#[derive(Default)]
struct Ground {
    zones: Vec<Zone>,
    obstacles: Vec<Obstacle>,
    fence: Option<Area>,
    home_m: Option<[f64; 2]>,
}

/// Zones, obstacles, fence and home of a drawn map.
fn read_ground_file(s: &Section, frame: Option<&LocalFrame>, keep: &Keeper) -> Ground {
    let mut ground = Ground::default();
    let ground_file = s.file_name(
        "ground_file",
        "zones and obstacles are given here",
        "Zones, obstacles, fence and home as GeoJSON; see below",
    );
    if let Some(file) = &ground_file
        && let Some(text) = keep.text(s, "ground_file", file)
    {
        match frame {
            None => s.error(
                "ground_file",
                "a map in degrees without the place of the origin",
                "`lat_deg` and `lon_deg` in `[site]`",
            ),
            Some(frame) => match ground::read_ground(&text, frame) {
                Ok(drawn) => {
                    for item in drawn {
                        match item {
                            Drawn::Zone(zone) => ground.zones.push(zone),
                            Drawn::Obstacle(obstacle) => ground.obstacles.push(obstacle),
                            Drawn::Fence(area) => ground.fence = Some(area),
                            Drawn::Home(place_m) => ground.home_m = Some(place_m),
                        }
                    }
                }
                Err(faults) => {
                    for fault in faults {
                        s.sink.push_in(file, Some(&text), fault.line, &fault.key, fault.found, fault.accepted);
                    }
                }
            },
        }
    }
    ground
}

fn read_zone(z: &Section) -> Option<Zone> {
    let name = z.text("name", "", "none", "Name in tables and on the map");
    let kind = z.required_word("kind", &ZONE_KINDS, "What the ground is for the one who comes down on it");
    let people =
        z.number("people", between(0.0, 1e6), 0.0, "nobody", "Head count over the zone while people are there");
    let present_share =
        z.number("present_share", between(0.0, 1.0), 1.0, "always there", "Share of the time that they are there");
    let margin_default = if kind.is_none_or(|kind| kind == ZoneKind::People) { 10.0 } else { 0.0 };
    let margin_m = z.number(
        "margin_m",
        between(0.0, 1000.0),
        margin_default,
        "estimate for people, 0 for other zones",
        "Distance around a people zone that counts as among people",
    );
    Some(Zone { name, area: read_area(z)?, kind: kind?, people, present_share, margin_m })
}

fn read_obstacle(o: &Section) -> Option<Obstacle> {
    let name = o.text("name", "", "none", "Name in tables and on the map");
    let kind = o.required_word(
        "kind",
        &OBSTACLE_KINDS,
        "Building: opaque; trees: lossy; wire: struck but unseen by radio and sky",
    );
    let height_m = o.required_number("height_m", above(0.0, 1000.0), "Top above the ground below it");
    let base_m =
        o.number("base_m", between(0.0, 1000.0), 0.0, "stands on the ground", "Underside above the ground below it");
    if let Some(height_m) = height_m
        && base_m >= height_m
    {
        o.error(
            "base_m",
            format!("an underside at {base_m} m, not below the top at {height_m} m"),
            "less than `height_m`",
        );
    }
    Some(Obstacle { name, area: read_area(o)?, kind: kind?, height_m: height_m?, base_m })
}

/// The path, in the same frame as the site; `home_amsl_m` is the height above the sea of the take-off spot.
fn read_plan(p: &Section, frame: Option<&LocalFrame>, home_amsl_m: f64, cruise_mps: f64, keep: &Keeper) -> FlightPlan {
    let inline = p.points::<3>(
        "waypoints_m",
        1,
        "[x, y, height above the take-off spot]",
        "Waypoints in order: x, y, height above the take-off spot",
    );
    let file = p.file_name("file", "the waypoints are given here", "A path as GPX or GeoJSON, by its name's ending");
    let heights = p.word(
        "heights",
        &[("above_home", false), ("amsl", true)],
        "amsl",
        "the custom of such files",
        "What the heights in the file are",
    );
    let height_m = p.opt_number(
        "height_m",
        between(0.0, 5000.0),
        "heights are in the file",
        "Height above the take-off spot for all points of the file",
    );
    let speed_mps = p.number(
        "speed_mps",
        above(0.1, 60.0),
        cruise_mps,
        "the craft's cruise speed",
        "Speed over ground between waypoints",
    );
    let pause_s = p.number("pause_s", between(0.0, 3600.0), 0.0, "none", "Hover at each waypoint");
    let mut waypoints_m: Vec<[f64; 3]> = Vec::new();
    match (&inline, &file) {
        (Some(_), Some(_)) => p.error("file", "a file beside `waypoints_m`", "one of the two"),
        (Some(points), None) => waypoints_m = points.iter().map(|point| point.0).collect(),
        (None, None) if !p.has("waypoints_m") => {
            p.missing("waypoints_m", "a list of points [x, y, height] in metres, or `file`")
        }
        (None, None) => {}
        (None, Some(name)) => {
            if let Some(text) = keep.text(p, "file", name) {
                match frame {
                    None => p.error(
                        "file",
                        "a path in degrees without the place of the origin",
                        "`lat_deg` and `lon_deg` in `[site]`",
                    ),
                    Some(frame) => match track::read_track(name, &text) {
                        Ok(points) => {
                            for point in points {
                                let [x, y] = frame.local_from_degrees(point.lat_deg, point.lon_deg);
                                let height = match (height_m, point.height_m) {
                                    (Some(stated), _) => stated,
                                    (None, Some(height)) => height - if heights { home_amsl_m } else { 0.0 },
                                    (None, None) => {
                                        p.sink.push_in(
                                            name,
                                            Some(&text),
                                            Some(point.line),
                                            "",
                                            "a point without a height".into(),
                                            "a height, or `height_m` in `[path]`".into(),
                                        );
                                        break;
                                    }
                                };
                                waypoints_m.push([x, y, height]);
                            }
                        }
                        Err(fault) => {
                            p.sink.push_in(name, Some(&text), fault.line, &fault.key, fault.found, fault.accepted)
                        }
                    },
                }
            }
        }
    }
    for (index, point) in waypoints_m.iter().enumerate() {
        if !(-500.0..=5000.0).contains(&point[2]) || point[0].abs() > 1e6 || point[1].abs() > 1e6 {
            let span_key = if inline.is_some() { "waypoints_m" } else { "file" };
            p.error(
                span_key,
                format!("waypoint {} at x {:.0}, y {:.0}, height {:.0} m", index + 1, point[0], point[1], point[2]),
                "points within 1000 km and heights of -500 to 5000 m",
            );
            waypoints_m.clear();
            break;
        }
    }
    FlightPlan { waypoints_m, speed_mps, pause_s, file: file.map(PathBuf::from) }
}

/// The extent, stated or all there is with a rim, and the spacing of the grid over it.
fn read_extent<'a>(
    s: &Section,
    home: [f64; 2],
    plan: &FlightPlan,
    areas: impl Iterator<Item = &'a Area>,
) -> ([f64; 4], f64) {
    let mut bounds = [home[0], home[1], home[0], home[1]];
    let mut widen = |other: [f64; 4]| {
        bounds = [bounds[0].min(other[0]), bounds[1].min(other[1]), bounds[2].max(other[2]), bounds[3].max(other[3])];
    };
    for point in &plan.waypoints_m {
        widen([point[0], point[1], point[0], point[1]]);
    }
    for area in areas {
        widen(area.bounds_m());
    }
    const RIM_M: f64 = 300.0;
    let round = |value: f64| (value / 10.0).round() * 10.0;
    let default =
        [round(bounds[0] - RIM_M), round(bounds[1] - RIM_M), round(bounds[2] + RIM_M), round(bounds[3] + RIM_M)];
    let mut extent_m = s.numbers::<4>(
        "extent_m",
        between(-1e6, 1e6),
        default,
        "all that is given, and 300 m around",
        "West, south, east, north edge of the simulated area",
    );
    if extent_m[2] - extent_m[0] < 10.0 || extent_m[3] - extent_m[1] < 10.0 {
        s.error("extent_m", "an area less than 10 m wide or high", "west, south, east, north edge in this order");
        extent_m = default;
    }
    let mut cell_m = s.number(
        "cell_m",
        between(0.1, 1000.0),
        crate::site::spacing_for(extent_m),
        "chosen so that the site has at most 4 million cells",
        "Grid spacing",
    );
    let cells = ((extent_m[2] - extent_m[0]) / cell_m).ceil() * ((extent_m[3] - extent_m[1]) / cell_m).ceil();
    if cells > 1.01 * crate::site::CELLS_AT_MOST {
        let least = ((extent_m[2] - extent_m[0]) * (extent_m[3] - extent_m[1]) / crate::site::CELLS_AT_MOST).sqrt();
        let found = format!("a spacing of {} m, which makes {:.0} million cells", tidy(cell_m), cells * 1e-6);
        s.error("cell_m", found, format!("at most 4 million cells: {:.1} m or more", least + 0.05));
        // What follows builds the grid.
        cell_m = crate::site::spacing_for(extent_m);
    }
    (extent_m, cell_m)
}

pub(super) fn read_place(
    s: &Section,
    p: &Section,
    origin: Option<Origin>,
    (height_amsl_m, terrain): (f64, Option<Terrain>),
    frame: Option<&LocalFrame>,
    cruise_mps: f64,
    keep: &Keeper,
) -> (Site, FlightPlan, f64) {
    let Ground { mut zones, mut obstacles, mut fence, home_m: drawn_home } = read_ground_file(s, frame, keep);
    let listed = s.tables("zone", "What the ground is; later zones lie on top of earlier ones");
    zones.extend(listed.iter().filter_map(read_zone));
    obstacles.extend(s.tables("obstacle", "What stands on the ground").iter().filter_map(read_obstacle));
    if let Some(f) = s.opt_table("fence", "The permitted area; without it the whole extent")
        && let Some(area) = read_area(&f)
    {
        fence = Some(area);
    }
    let fence_margin_m = s.number(
        "fence_margin_m",
        between(0.0, 1000.0),
        20.0,
        ESTIMATE,
        "Width of the strip inside the fence whose entry is flagged",
    );
    let ceiling_above_ground_m = s.opt_number(
        "ceiling_above_ground_m",
        above(0.0, 5000.0),
        "not limited",
        "Greatest permitted height above the ground below; local rules decide",
    );
    let ceiling_m = s.number(
        "ceiling_m",
        above(0.0, 5000.0),
        120.0,
        "a usual limit; local rules decide",
        "Greatest permitted height above the take-off spot",
    );
    let home = s.numbers::<2>(
        "home_m",
        between(-1e6, 1e6),
        drawn_home.unwrap_or([0.0, 0.0]),
        "the local origin",
        "Take-off spot: [x, y]",
    );
    let people_per_km2 = s.number(
        "people_per_km2",
        between(0.0, 1e6),
        10.0,
        "estimate for open country",
        "People per km² where no zone says otherwise",
    );
    let ground_permittivity = s.number(
        "ground_permittivity",
        between(1.0, 100.0),
        15.0,
        "ITU-R P.527, medium dry ground",
        "Relative permittivity of the ground",
    );
    let ground_conductivity_spm = s.number(
        "ground_conductivity_spm",
        between(0.0, 100.0),
        0.035,
        "ITU-R P.527, medium dry ground near 2 GHz",
        "Conductivity of the ground",
    );
    let ground_roughness_m = s.number(
        "ground_roughness_m",
        between(0.0, 100.0),
        0.1,
        "estimate for grass",
        "Rms roughness of the ground, for reflection",
    );
    let home_z_m = terrain.as_ref().map_or(0.0, |terrain: &Terrain| terrain.ground_m(home[0], home[1]));

    let plan = read_plan(p, frame, height_amsl_m + home_z_m, cruise_mps, keep);

    let areas =
        zones.iter().map(|zone| &zone.area).chain(obstacles.iter().map(|obstacle| &obstacle.area)).chain(&fence);
    let (extent_m, cell_m) = read_extent(s, home, &plan, areas);
    let site = Site {
        origin,
        height_amsl_m,
        extent_m,
        cell_m: Some(cell_m),
        terrain,
        zones,
        obstacles,
        fence,
        fence_margin_m,
        ceiling_m,
        ceiling_above_ground_m,
        home_m: home,
        people_per_km2,
        ground_permittivity,
        ground_conductivity_spm,
        ground_roughness_m,
    };
    (site, plan, home_z_m)
}

/// What only shows once all is read: the path against the ground, obstacles, fence and ceiling.
pub(super) fn check_place(
    s: &Section,
    p: &Section,
    pilot_section: &Section,
    site: &Site,
    path: &FlightPlan,
    pilot: &Pilot,
    home_z_m: f64,
) {
    if s.sink.is_describing() {
        return;
    }
    let [west, south, east, north] = site.extent_m;
    let within = |x: f64, y: f64| x >= west && x <= east && y >= south && y <= north;
    if !within(site.home_m[0], site.home_m[1]) {
        s.error("home_m", "a take-off spot outside the extent", "a place within `extent_m`");
        return;
    }
    if !within(pilot.place_m[0], pilot.place_m[1]) {
        pilot_section.error("place_m", "a pilot outside the extent", "a place within `extent_m`");
    }
    if let Some(terrain) = &site.terrain {
        let [tw, ts, te, tn] = terrain.bounds_m();
        let half = 0.5 * terrain.cell_m + 1e-6;
        if west < tw - half || south < ts - half || east > te + half || north > tn + half {
            s.warn(
                "terrain_file",
                format!("a terrain from {tw:.0}, {ts:.0} to {te:.0}, {tn:.0} that does not cover the extent; beyond it the ground goes on level"),
                "a terrain as large as `extent_m`",
            );
        }
    }
    let key = if path.file.is_some() { "file" } else { "waypoints_m" };
    let place_of = |index: usize| -> Option<std::ops::Range<usize>> {
        let list = p.find(key)?.get_ref().as_array()?;
        list.get(index).map(|item| item.span())
    };
    let push = |severity, index: usize, found: String, accepted: &str| {
        let span = place_of(index).or_else(|| p.span_of(key));
        s.sink.push(severity, span, &p.path(key), found, accepted, None);
    };
    for (index, point) in path.waypoints_m.iter().enumerate() {
        if !within(point[0], point[1]) {
            push(
                Severity::Error,
                index,
                format!("waypoint {} outside the extent", index + 1),
                "a place within `extent_m`",
            );
            return;
        }
        if point[2] > site.ceiling_m {
            push(
                Severity::Warning,
                index,
                format!(
                    "waypoint {} at {} m, above the ceiling of {} m",
                    index + 1,
                    tidy(point[2]),
                    tidy(site.ceiling_m)
                ),
                "a height up to `site.ceiling_m`",
            );
        }
    }
    let Some(first) = path.waypoints_m.first() else { return };
    let grid = site.grid();
    // From the take-off spot straight up, then from waypoint to waypoint.
    let mut legs: Vec<([f64; 3], [f64; 3], usize)> = vec![
        ([site.home_m[0], site.home_m[1], 0.5], [site.home_m[0], site.home_m[1], first[2]], 0),
        ([site.home_m[0], site.home_m[1], first[2]], *first, 0),
    ];
    legs.extend(path.waypoints_m.windows(2).enumerate().map(|(index, pair)| (pair[0], pair[1], index + 1)));
    let mut left_fence = false;
    'legs: for (from, to, index) in legs {
        let length = crate::site::shape::distance_m([from[0], from[1]], [to[0], to[1]]).max((to[2] - from[2]).abs());
        let steps = ((length / (0.5 * grid.cell_m).min(1.0)).ceil() as usize).clamp(1, 200_000);
        for step in 0..=steps {
            let t = step as f64 / steps as f64;
            let at = [0, 1, 2].map(|axis| from[axis] + t * (to[axis] - from[axis]));
            let z = home_z_m + at[2];
            if grid.struck([at[0], at[1], z]) {
                let below_ground = z < grid.ground_m(at[0], at[1]);
                let what = if below_ground {
                    format!("the ground, {:.1} m above the take-off spot", grid.ground_m(at[0], at[1]) - home_z_m)
                } else {
                    let near = |obstacle: &&Obstacle| obstacle.area.distance_m([at[0], at[1]]) <= 2.0 * grid.cell_m;
                    site.obstacles.iter().rev().find(near).map_or("an obstacle".to_string(), |obstacle| {
                        let name =
                            if obstacle.name.is_empty() { String::new() } else { format!(" \"{}\"", obstacle.name) };
                        format!("the obstacle{name}, {} m high", tidy(obstacle.height_m))
                    })
                };
                let found = format!(
                    "a way to waypoint {} that meets {what}, at x {:.0}, y {:.0}, height {:.1} m",
                    index + 1,
                    at[0],
                    at[1],
                    at[2]
                );
                push(Severity::Error, index, found, "a path that stays clear of ground and obstacles");
                break 'legs;
            }
            if !left_fence && site.fence.is_some() && !grid.inside_fence(at[0], at[1]) {
                left_fence = true;
                push(
                    Severity::Warning,
                    index,
                    format!("a way to waypoint {} that leaves the fence at x {:.0}, y {:.0}", index + 1, at[0], at[1]),
                    "a path inside `site.fence`",
                );
            }
        }
    }
}
