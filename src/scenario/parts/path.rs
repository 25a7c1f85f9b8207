//! The planned flight, and whether it keeps clear of what stands there.

use super::pilot::Pilot;
use super::site::Site;
use crate::geometry::distance_m;
use crate::scenario::declare::part;
use crate::scenario::diagnostic::Severity;
use crate::scenario::files::Keeper;
use crate::scenario::kind::{above, between, tidy};
use crate::scenario::section::Section;
use crate::scenario::sink::FileFault;
use crate::scenario::track;
use crate::site::{Obstacle, SiteGrid};
use std::path::PathBuf;

part! {
    /// The planned flight.
    pub struct FlightPlan(p, site: &Site, cruise_mps: f64, keep: &Keeper) {
        let inline = p.points::<3>("waypoints_m", 1, "[x, y, height above the take-off spot]", "Waypoints in order: x, y, height above the take-off spot");
        let file = p.file_name("file", "the waypoints are given here", "A path as GPX or GeoJSON, by its name's ending");
        let amsl = p.word("heights", &[("above_home", false), ("amsl", true)], "amsl", "the custom of such files", "What the heights in the file are");
        let height_m = p.opt_number("height_m", between(0.0, 5000.0), "heights are in the file", "Height above the take-off spot for all points of the file");
        "Speed over ground between waypoints"
        speed_mps: f64 = number(above(0.1, 60.0), cruise_mps, "the craft's cruise speed");
        "Hover at each waypoint"
        pause_s: f64 = number(between(0.0, 3600.0), 0.0, "none");
        let heights = FileHeights { stated_m: height_m, zero_m: if amsl { site.height_amsl_m + site.home_z_m() } else { 0.0 } };
        "Waypoints in order: x, y and height above the take-off spot"
        waypoints_m: Vec<[f64; 3]> = made(read_waypoints(p, inline, file.as_deref(), site, &heights, keep));
        "File it came from, if any"
        file: Option<PathBuf> = made(file.map(PathBuf::from));
    }
}

/// What the heights of a file are above the take-off spot.
struct FileHeights {
    /// One for all points.
    stated_m: Option<f64>,
    /// What the take-off spot would have in the file.
    zero_m: f64,
}

fn read_waypoints(
    p: &Section,
    inline: Option<Vec<[f64; 3]>>,
    file: Option<&str>,
    site: &Site,
    heights: &FileHeights,
    keep: &Keeper,
) -> Vec<[f64; 3]> {
    let key = if inline.is_some() { "waypoints_m" } else { "file" };
    let waypoints_m = match (inline, file) {
        (Some(_), Some(_)) => {
            p.error("file", "a file beside `waypoints_m`", "one of the two");
            Vec::new()
        }
        (Some(points), None) => points,
        (None, None) => {
            if !p.has("waypoints_m") {
                p.missing("waypoints_m", "a list of points [x, y, height] in metres, or `file`");
            }
            Vec::new()
        }
        (None, Some(name)) => read_file(p, name, site, heights, keep),
    };
    let beyond = |p: &[f64; 3]| !(-500.0..=5000.0).contains(&p[2]) || p[0].abs() > 1e6 || p[1].abs() > 1e6;
    if let Some(index) = waypoints_m.iter().position(beyond) {
        let [x, y, up] = waypoints_m[index];
        let found = format!("waypoint {} at x {x:.0}, y {y:.0}, height {up:.0} m", index + 1);
        p.error(key, found, "points within 1000 km and heights of -500 to 5000 m");
        return Vec::new();
    }
    waypoints_m
}

fn read_file(p: &Section, name: &str, site: &Site, heights: &FileHeights, keep: &Keeper) -> Vec<[f64; 3]> {
    let Some(text) = keep.text(p, "file", name) else { return Vec::new() };
    let Some(frame) = site.frame() else {
        let found = "a path in degrees without the place of the origin";
        p.error("file", found, "`lat_deg` and `lon_deg` in `[site]`");
        return Vec::new();
    };
    let points = match track::read_track(name, &text) {
        Ok(points) => points,
        Err(fault) => {
            p.sink.push_in(name, &text, fault);
            return Vec::new();
        }
    };
    let mut waypoints_m = Vec::new();
    for point in points {
        let [x, y] = frame.local_from_degrees(point.lat_deg, point.lon_deg);
        let Some(up) = heights.stated_m.or(point.height_m.map(|height| height - heights.zero_m)) else {
            let (found, accepted) = ("a point without a height".into(), "a height, or `height_m` in `[path]`".into());
            p.sink.push_in(name, &text, FileFault { line: Some(point.line), key: String::new(), found, accepted });
            break;
        };
        waypoints_m.push([x, y, up]);
    }
    waypoints_m
}

/// What only shows once all is read: the path against the ground, obstacles, fence and ceiling.
pub(in crate::scenario) fn check_place(
    s: &Section,
    p: &Section,
    pilot_section: &Section,
    site: &Site,
    path: &FlightPlan,
    pilot: &Pilot,
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
        if west > te || east < tw || south > tn || north < ts {
            let found = format!("a terrain from {tw:.0}, {ts:.0} to {te:.0}, {tn:.0}, wholly beside the site");
            s.error("terrain_file", found, "a terrain under the site; `terrain_origin_m` moves it");
        } else if west < tw - half || south < ts - half || east > te + half || north > tn + half {
            let found = format!(
                "a terrain from {tw:.0}, {ts:.0} to {te:.0}, {tn:.0} that does not cover the extent; beyond it the ground goes on level"
            );
            s.warn("terrain_file", found, "a terrain as large as `extent_m`");
        }
    }
    let key = if path.file.is_some() { "file" } else { "waypoints_m" };
    let waypoints = Waypoints { p, key };
    for (index, point) in path.waypoints_m.iter().enumerate() {
        if !within(point[0], point[1]) {
            let found = format!("waypoint {} outside the extent", index + 1);
            waypoints.push(Severity::Error, index, found, "a place within `extent_m`");
            return;
        }
        if point[2] > site.ceiling_m {
            let (up, ceiling) = (tidy(point[2]), tidy(site.ceiling_m));
            let found = format!("waypoint {} at {up} m, above the ceiling of {ceiling} m", index + 1);
            waypoints.push(Severity::Warning, index, found, "a height up to `site.ceiling_m`");
        }
    }
    waypoints.check_way(site, &path.waypoints_m);
}

/// Waypoints as they are written.
struct Waypoints<'s, 'r, 'a> {
    p: &'s Section<'r, 'a>,
    key: &'static str,
}

impl Waypoints<'_, '_, '_> {
    /// A finding at one of them.
    fn push(&self, severity: Severity, index: usize, found: String, accepted: &str) {
        let list = self.p.find(self.key).and_then(|value| value.get_ref().as_array());
        let span = list.and_then(|list| list.get(index)).map(|item| item.span());
        let span = span.or_else(|| self.p.span_of(self.key));
        self.p.sink.push(severity, span, &self.p.path(self.key), found, accepted, None);
    }

    /// From the take-off spot straight up, then from waypoint to waypoint: on every leg the first place that is struck and the height
    /// from which that leg is clear, and the first place of all beyond the fence.
    fn check_way(&self, site: &Site, waypoints_m: &[[f64; 3]]) {
        let Some(first) = waypoints_m.first() else { return };
        let grid = site.grid();
        let up = [site.home_m[0], site.home_m[1], first[2]];
        let mut legs = vec![([up[0], up[1], 0.5], up, 0), (up, *first, 0)];
        legs.extend(waypoints_m.windows(2).enumerate().map(|(index, pair)| (pair[0], pair[1], index + 1)));
        let (mut left_fence, mut told) = (site.fence.is_none(), None);
        for (from, to, index) in legs {
            let length = distance_m([from[0], from[1]], [to[0], to[1]]).max((to[2] - from[2]).abs());
            let steps = ((length / (0.5 * grid.cell_m).min(1.0)).ceil() as usize).clamp(1, 200_000);
            let places = (0..=steps).map(|step| {
                let t = step as f64 / steps as f64;
                [0, 1, 2].map(|axis| from[axis] + t * (to[axis] - from[axis]))
            });
            if let Some(Met { first_m, clear_m }) = met(&grid, site.home_z_m(), places.clone()) {
                let [x, y, up] = first_m;
                let (number, what) = (index + 1, struck(site, &grid, first_m, site.home_z_m()));
                let found =
                    format!("a way to waypoint {number} that meets {what}, at x {x:.0}, y {y:.0}, height {up:.1} m");
                let accepted =
                    format!("a path that stays clear of ground and obstacles; this leg is clear above {clear_m:.0} m");
                // Up from the take-off spot and on to the first waypoint may meet the same thing.
                if told.replace(index) != Some(index) {
                    self.push(Severity::Error, index, found, &accepted);
                }
            }
            let mut beyond = places.filter(|place| !left_fence && !grid.marks(place[0], place[1]).inside_fence);
            if let Some([x, y, _]) = beyond.next() {
                left_fence = true;
                let found = format!("a way to waypoint {} that leaves the fence at x {x:.0}, y {y:.0}", index + 1);
                self.push(Severity::Warning, index, found, "a path inside `site.fence`");
            }
        }
    }
}

/// What a leg meets.
struct Met {
    /// The first place: x, y, height above the take-off spot.
    first_m: [f64; 3],
    /// Whole metres above the take-off spot that clear everything met.
    clear_m: f64,
}

fn met(grid: &SiteGrid, home_z_m: f64, places: impl Iterator<Item = [f64; 3]>) -> Option<Met> {
    let mut met: Option<Met> = None;
    for place in places.filter(|[x, y, up]| grid.struck([*x, *y, home_z_m + up])) {
        let over_m = (grid.top_m(place[0], place[1]) - home_z_m).ceil();
        let so_far = met.get_or_insert(Met { first_m: place, clear_m: over_m });
        so_far.clear_m = so_far.clear_m.max(over_m);
    }
    met
}

/// What is struck at a place, `up` above the take-off spot.
fn struck(site: &Site, grid: &SiteGrid, [x, y, up]: [f64; 3], home_z_m: f64) -> String {
    let ground_m = grid.ground_m(x, y) - home_z_m;
    if home_z_m + up < grid.ground_m(x, y) {
        return format!("the ground, {ground_m:.1} m above the take-off spot");
    }
    let near = |obstacle: &&Obstacle| obstacle.area.distance_m([x, y]) <= 2.0 * grid.cell_m;
    let Some(obstacle) = site.obstacles.iter().rev().find(near) else { return "an obstacle".into() };
    let name = if obstacle.name.is_empty() { String::new() } else { format!(" \"{}\"", obstacle.name) };
    format!("the obstacle{name}, {} m high", tidy(obstacle.height_m))
}
