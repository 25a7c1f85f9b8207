//! The planned flight, and whether it keeps clear of what stands there.

use super::craft::Craft;
use super::pilot::Pilot;
use super::site::Site;
use crate::geodata::feature::Heights as Said;
use crate::geometry::distance_m;
use crate::scenario::declare::part;
use crate::scenario::diagnostic::Severity;
use crate::scenario::files::Keeper;
use crate::scenario::kind::{above, between, tidy};
use crate::scenario::section::Section;
use crate::scenario::sink::FileFault;
use crate::scenario::track;
use crate::site::{Obstacle, SiteGrid};
use crate::sky::LocalFrame;
use std::path::PathBuf;

/// What a height is measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum From {
    Home,
    Ground,
    Sea,
}

const FROM: [(&str, From); 3] = [("above_home", From::Home), ("above_ground", From::Ground), ("amsl", From::Sea)];

/// A height of a leg that follows the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegPoint {
    /// Share of the leg.
    pub share: f64,
    /// Height above the take-off spot.
    pub up_m: f64,
}

part! {
    /// The planned flight.
    pub struct FlightPlan(p, drawn: DrawnPath, site: &Site, cruise_mps: f64) {
        "Height above the ground below, which the path then follows; other heights do not count"
        above_ground_m: Option<f64> = made(drawn.above_ground_m);
        "Speed over ground between waypoints"
        speed_mps: f64 = number(above(0.1, 60.0), cruise_mps, "the craft's cruise speed");
        "Hover at each waypoint"
        pause_s: f64 = number(between(0.0, 3600.0), 0.0, "none");
        let heights = Heights { above_ground_m, site };
        let read = heights.of_waypoints(p, &drawn);
        "Heights along the leg to each waypoint where the path follows the ground; empty where legs are straight"
        follows: Vec<Vec<LegPoint>> = made(heights.followed(&read));
        "Waypoints in order: x, y and height above the take-off spot"
        waypoints_m: Vec<[f64; 3]> = made(read);
        "File it came from, if any"
        file: Option<PathBuf> = made(drawn.file.map(PathBuf::from));
    }
}

impl LegPoint {
    /// Height at a share of a leg.
    pub fn up_at(leg: &[LegPoint], share: f64) -> f64 {
        let next = leg.partition_point(|point| point.share <= share).clamp(1, leg.len().max(2) - 1);
        let [a, b] = [leg[next - 1], leg[next.min(leg.len() - 1)]];
        let within = if b.share > a.share { ((share - a.share) / (b.share - a.share)).clamp(0.0, 1.0) } else { 1.0 };
        a.up_m + within * (b.up_m - a.up_m)
    }
}

/// A path on the map, its heights as they are written: what they come to follows from the ground, and where ground is needed from the path.
pub(in crate::scenario) struct DrawnPath {
    /// x, y and the height as written.
    pub(in crate::scenario) waypoints_m: Vec<[f64; 3]>,
    /// What the heights are above.
    from: From,
    /// One height above the ground, all along.
    above_ground_m: Option<f64>,
    file: Option<String>,
}

impl DrawnPath {
    pub(in crate::scenario) fn read(p: &Section, frame: Option<&LocalFrame>, keep: &Keeper) -> DrawnPath {
        let inline = p.points::<3>(
            "waypoints_m",
            1,
            "[x, y, height above the take-off spot]",
            "Waypoints in order: x, y, height above the take-off spot, or above what `heights` says",
        );
        let file =
            p.file_name("file", "the waypoints are given here", "A path as GPX, KML or GeoJSON, by its name's ending");
        let from = p.word(
            "heights",
            &FROM,
            "amsl",
            "the custom of files that do not say it themselves, as KML may; `waypoints_m` are above home",
            "What the heights of the waypoints are above: the take-off spot, the ground below each of them, or the sea",
        );
        let stated = (p.has("heights") && !p.sink.is_describing()).then_some(from);
        let one_m = p.opt_number(
            "height_m",
            between(0.0, 5000.0),
            "heights are in the file",
            "One height for all points of the file, above the take-off spot unless `heights` says otherwise",
        );
        let above_ground_m = p.opt_number(
            "above_ground_m",
            above(0.0, 1000.0),
            "heights are stated",
            "Height above the ground below, which the path then follows; other heights do not count",
        );
        if above_ground_m.is_some() {
            for other in ["height_m", "heights"].into_iter().filter(|other| p.has(other)) {
                p.error(other, "another height beside `above_ground_m`", "one of the two");
            }
        }
        let written = Written { stated, one_m, above_ground_m };
        let (waypoints_m, from) = match (inline, &file) {
            (Some(_), Some(_)) => {
                p.error("file", "a file beside `waypoints_m`", "one of the two");
                (Vec::new(), From::Home)
            }
            (Some(points), None) => (points, stated.unwrap_or(From::Home)),
            (None, None) => {
                if !p.has("waypoints_m") {
                    p.missing("waypoints_m", "a list of points [x, y, height] in metres, or `file`");
                }
                (Vec::new(), From::Home)
            }
            (None, Some(name)) => read_file(p, name, frame, &written, keep).unwrap_or((Vec::new(), From::Home)),
        };
        let mut drawn = DrawnPath { waypoints_m, from, above_ground_m, file };
        if drawn.has_beyond(p, &drawn.waypoints_m, |point| point[0].abs() > 1e6 || point[1].abs() > 1e6) {
            drawn.waypoints_m.clear();
        }
        drawn
    }

    /// Whether its heights are above the sea.
    pub(in crate::scenario) fn is_by_sea(&self) -> bool {
        self.from == From::Sea
    }

    /// Whether one of the points lies where none may; it is told.
    fn has_beyond(&self, p: &Section, points: &[[f64; 3]], beyond: impl Fn(&[f64; 3]) -> bool) -> bool {
        let Some(index) = points.iter().position(beyond) else { return false };
        let key = if self.file.is_some() { "file" } else { "waypoints_m" };
        let [x, y, up] = points[index];
        let found = format!("waypoint {} at x {x:.0}, y {y:.0}, height {up:.0} m", index + 1);
        p.error(key, found, "points within 1000 km and heights of -500 to 5000 m");
        true
    }
}

/// What the scenario says of the heights of a file.
struct Written {
    /// What they are above.
    stated: Option<From>,
    /// One for all points.
    one_m: Option<f64>,
    /// One above the ground, all along.
    above_ground_m: Option<f64>,
}

/// What the heights of waypoints come to.
struct Heights<'s> {
    /// One above the ground, all along.
    above_ground_m: Option<f64>,
    site: &'s Site,
}

/// Most heights along one leg. Estimate: 100 km of ground known every 10 m.
const FOLLOWED_AT_MOST: f64 = 20_000.0;

impl Heights<'_> {
    /// Height of the ground above that of the take-off spot.
    fn ground_m(&self, [x, y]: [f64; 2]) -> f64 {
        self.site.terrain.as_ref().map_or(0.0, |terrain| terrain.ground_m(x, y)) - self.site.home_z_m()
    }

    /// The waypoints with their heights above the take-off spot; none where one of them lies where none may.
    fn of_waypoints(&self, p: &Section, drawn: &DrawnPath) -> Vec<[f64; 3]> {
        let lifted = |[x, y, up]: &[f64; 3]| {
            let up_m = match self.above_ground_m {
                Some(above_m) => above_m + self.ground_m([*x, *y]),
                None => self.above_home_m([*x, *y], *up, drawn.from),
            };
            [*x, *y, up_m]
        };
        let waypoints_m: Vec<[f64; 3]> = drawn.waypoints_m.iter().map(lifted).collect();
        let beyond = drawn.has_beyond(p, &waypoints_m, |point| !(-500.0..=5000.0).contains(&point[2]));
        if beyond { Vec::new() } else { waypoints_m }
    }

    /// A height above the take-off spot.
    fn above_home_m(&self, place_m: [f64; 2], height_m: f64, from: From) -> f64 {
        match from {
            From::Home => height_m,
            From::Ground => height_m + self.ground_m(place_m),
            From::Sea => height_m - (self.site.height_amsl_m + self.site.home_z_m()),
        }
    }

    /// Heights along the legs of a path that follows the ground, half a cell of the terrain apart.
    fn followed(&self, waypoints_m: &[[f64; 3]]) -> Vec<Vec<LegPoint>> {
        let (Some(above_m), Some(terrain)) = (self.above_ground_m, &self.site.terrain) else { return Vec::new() };
        let starts = std::iter::once(self.site.home_m).chain(waypoints_m.iter().map(|[x, y, _]| [*x, *y]));
        let leg = |(from, to): ([f64; 2], &[f64; 3])| {
            let span_m = distance_m(from, [to[0], to[1]]);
            if span_m < 1.0 {
                return Vec::new();
            }
            let steps = (span_m / (0.5 * terrain.cell_m).max(0.5)).ceil().clamp(1.0, FOLLOWED_AT_MOST);
            let at = |step: usize| {
                let share = step as f64 / steps;
                let place_m = [0, 1].map(|axis| from[axis] + share * (to[axis] - from[axis]));
                LegPoint { share, up_m: above_m + self.ground_m(place_m) }
            };
            (0..=steps as usize).map(at).collect()
        };
        starts.zip(waypoints_m).map(leg).collect()
    }
}

/// The points of a file, and what their heights are above.
fn read_file(
    p: &Section,
    name: &str,
    frame: Option<&LocalFrame>,
    written: &Written,
    keep: &Keeper,
) -> Option<(Vec<[f64; 3]>, From)> {
    let text = keep.text(p, "file", name)?;
    let Some(frame) = frame else {
        let found = "a path in degrees without the place of the origin";
        p.error("file", found, "`lat_deg` and `lon_deg` in `[site]`");
        return None;
    };
    let track = match track::read_track(name, &text) {
        Ok(track) => track,
        Err(fault) => {
            p.sink.push_in(name, &text, fault);
            return None;
        }
    };
    let at = |line: usize, found: &str, accepted: &str| {
        let (found, accepted) = (found.to_string(), accepted.to_string());
        p.sink.push_in(name, &text, FileFault { line: Some(line), key: String::new(), found, accepted });
    };
    let elsewhere = written.above_ground_m.or(written.one_m);
    let from = match (written.stated, track.heights) {
        (Some(from), _) => from,
        (None, _) if written.one_m.is_some() => From::Home,
        (None, Said::Unsaid | Said::Sea) => From::Sea,
        (None, Said::Ground) => From::Ground,
        (None, Said::OnGround) if elsewhere.is_some() => From::Home,
        (None, Said::OnGround) => {
            let found = "a line that lies on the ground: its heights do not count (`altitudeMode`)";
            at(track.points[0].line, found, "`heights`, `height_m` or `above_ground_m` in `[path]`");
            return None;
        }
    };
    let mut waypoints_m = Vec::new();
    for point in track.points {
        let [x, y] = frame.local_from_degrees(point.lat_deg, point.lon_deg);
        let Some(height_m) = elsewhere.or(point.height_m) else {
            at(point.line, "a point without a height", "a height, or `height_m` or `above_ground_m` in `[path]`");
            break;
        };
        waypoints_m.push([x, y, height_m]);
    }
    Some((waypoints_m, from))
}

/// What only shows once all is read: the path against the ground, obstacles, fence and ceiling.
pub(in crate::scenario) fn check_place(
    s: &Section,
    p: &Section,
    pilot_section: &Section,
    site: &Site,
    path: &FlightPlan,
    pilot: &Pilot,
    craft: &Craft,
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
    for index in 0..path.follows.len() {
        waypoints.check_following(site, path, craft, index);
    }
    waypoints.check_way(site, path);
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

    /// Between waypoints a path that follows the ground may rise above the ceiling, or faster than the craft climbs.
    fn check_following(&self, site: &Site, path: &FlightPlan, craft: &Craft, index: usize) {
        let leg = &path.follows[index];
        let from =
            if index == 0 { site.home_m } else { [path.waypoints_m[index - 1][0], path.waypoints_m[index - 1][1]] };
        let span_m = distance_m(from, [path.waypoints_m[index][0], path.waypoints_m[index][1]]);
        let highest_m = leg.iter().map(|point| point.up_m).fold(f64::NEG_INFINITY, f64::max);
        if highest_m > site.ceiling_m && path.waypoints_m[index][2] <= site.ceiling_m {
            let (up, ceiling) = (tidy(highest_m.round()), tidy(site.ceiling_m));
            let found =
                format!("a way to waypoint {} that rises to {up} m, above the ceiling of {ceiling} m", index + 1);
            self.push(
                Severity::Warning,
                index,
                found,
                "a way below `site.ceiling_m`, or a ceiling above the ground alone",
            );
        }
        let slowest = leg.windows(2).filter(|pair| pair[0].up_m != pair[1].up_m).map(|pair| {
            let rise_m = pair[1].up_m - pair[0].up_m;
            let rate_mps = if rise_m > 0.0 { craft.climb_mps } else { craft.descent_mps };
            (rate_mps * (pair[1].share - pair[0].share) * span_m / rise_m.abs(), rise_m > 0.0)
        });
        let Some((speed_mps, rises)) = slowest.min_by(|a, b| a.0.total_cmp(&b.0)) else { return };
        if speed_mps < path.speed_mps {
            let (does, rate_mps) = if rises { ("climb", craft.climb_mps) } else { ("sink", craft.descent_mps) };
            let found = format!(
                "a way to waypoint {} over ground so steep that the craft, which can {does} at {} m/s, slows to {speed_mps:.1} m/s",
                index + 1,
                tidy((10.0 * rate_mps).round() / 10.0)
            );
            let accepted = format!("ground on which it keeps {} m/s, or a slower path", tidy(path.speed_mps));
            self.push(Severity::Warning, index, found, &accepted);
        }
    }

    /// From the take-off spot straight up, then from waypoint to waypoint: on every leg the first place that is struck and the height
    /// from which that leg is clear, and the first place of all beyond the fence.
    fn check_way(&self, site: &Site, path: &FlightPlan) {
        let waypoints_m = &path.waypoints_m;
        let Some(first) = waypoints_m.first() else { return };
        let grid = site.grid();
        let up = [site.home_m[0], site.home_m[1], path.above_ground_m.unwrap_or(first[2])];
        let mut legs = vec![([up[0], up[1], 0.5], up, 0), (up, *first, 0)];
        legs.extend(waypoints_m.windows(2).enumerate().map(|(index, pair)| (pair[0], pair[1], index + 1)));
        let (mut left_fence, mut told) = (site.fence.is_none(), None);
        for (number, (from, to, index)) in legs.into_iter().enumerate() {
            // The first leg of all goes straight up.
            let follows = path.follows.get(index).filter(|leg| number > 0 && !leg.is_empty());
            let length = distance_m([from[0], from[1]], [to[0], to[1]]).max((to[2] - from[2]).abs());
            let steps = ((length / (0.5 * grid.cell_m).min(1.0)).ceil() as usize).clamp(1, 200_000);
            let places = (0..=steps).map(|step| {
                let t = step as f64 / steps as f64;
                let mut place_m = [0, 1, 2].map(|axis| from[axis] + t * (to[axis] - from[axis]));
                if let Some(leg) = follows {
                    place_m[2] = LegPoint::up_at(leg, t);
                }
                place_m
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
