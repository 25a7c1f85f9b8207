//! The place: ground, zones, obstacles, fence, people.

use super::ESTIMATE;
use super::extent::{Outline, read_extent};
use super::map::MapHeights;
use super::terrain::{self, TerrainIs, warn_of_heights_twice};
use crate::chance::Uncertain;
use crate::geometry::distance_m;
use crate::scenario::declare::part;
use crate::scenario::files::Keeper;
use crate::scenario::ground::{self, Drawn, GroundFile};
use crate::scenario::ground_words::{OBSTACLE_KINDS, WHOSE, ZONE_KINDS};
use crate::scenario::hours::Span;
use crate::scenario::kind::{above, between};
use crate::scenario::map_tags::{MapHeight, MapPart, MapUse, RawMap};
use crate::scenario::outline::polygon_fault;
use crate::scenario::section::Section;
use crate::site::{Area, GridInput, Obstacle, SiteGrid, Terrain, Zone, ZoneKind, shape};
use crate::sky::{Geodetic, LocalFrame};
use std::sync::Arc;

/// A drawn height is above the underside by at least this.
const LEAST_HEIGHT_M: f64 = 0.1;

/// The origin on Earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Origin {
    /// Geodetic latitude, north positive.
    pub lat_deg: f64,
    /// Longitude, east positive.
    pub lon_deg: f64,
}

/// Latitude and longitude assumed when the site is not tied to the Earth.
pub const UNSTATED_ORIGIN: (f64, f64) = (45.0, 0.0);

part! {
    /// The place.
    pub struct Site(s, place: Option<Origin>, zero_m: f64, terrain_is: Option<TerrainIs>, drawn: &GroundFile) {
        "Where the local origin lies on Earth; `None`: a flat plane somewhere at 45° north, said so in the report"
        origin: Option<Origin> = made(place);
        "Height of z = 0 above mean sea level, whether or not the origin's place is stated"
        height_amsl_m: f64 = made(zero_m);
        "Terrain; `None`: flat at z = 0"
        terrain: Option<Terrain> = made(None);
        let heights = read_map_heights(s, drawn.raw.as_ref());
        let Ground { zones: drawn_zones, obstacles: drawn_obstacles, fence: drawn_fence, home_m: drawn_home_m } = Ground::of(drawn);
        let listed = s.tables("zone", "What the ground is; later zones lie on top of earlier ones");
        let areas = listed.iter().filter_map(read_zone).collect::<Vec<(Zone, Uncertain)>>();
        "Zones (roads, water, people …); later ones lie on top of earlier ones"
        zones: Vec<Zone> = made(drawn_zones.into_iter().chain(areas.iter().map(|(zone, _)| zone.clone())).collect());
        let listed = s.tables("obstacle", "What stands on the ground");
        let standing = listed.iter().filter_map(read_obstacle).collect::<Vec<(Obstacle, Uncertain)>>();
        "What stands on the ground: buildings, trees, masts, with their heights"
        obstacles: Vec<Obstacle> = made(drawn_obstacles.into_iter().chain(standing.iter().map(|(obstacle, _)| obstacle.clone())).collect());
        let stated = s.opt_table("fence", "The permitted area; without it the whole extent");
        "The permitted area; `None`: the whole extent"
        fence: Option<Area> = made(stated.and_then(|fence| read_area(&fence)).or(drawn_fence));
        "Width of the strip inside the fence whose entry is flagged"
        fence_margin_m: f64 = number(between(0.0, 1000.0), 20.0, ESTIMATE);
        "Greatest permitted height above the ground below; local rules decide"
        ceiling_above_ground_m: Option<f64> = opt_number(above(0.0, 5000.0), "not limited");
        "Greatest permitted height above the take-off spot"
        ceiling_m: f64 = number(above(0.0, 5000.0), 120.0, "a usual limit; local rules decide");
        "Take-off spot: [x, y]"
        home_m: [f64; 2] = numbers(between(-1e6, 1e6), drawn_home_m.unwrap_or([0.0, 0.0]), "the local origin");
        "What shapes the site and is not known exactly; the rest of the site is as its middle values make it"
        spread: SiteSpread = made(SiteSpread::read(s, terrain_is, areas, standing, heights));
        let home_m = spread.moved(home_m);
        "People per km² where no zone says otherwise"
        people_per_km2: f64 = number(between(0.0, 1e6), 10.0, "estimate for open country");
        "Relative permittivity of the ground"
        ground_permittivity: f64 = number(between(1.0, 100.0), 15.0, "ITU-R P.527, medium dry ground");
        "Conductivity of the ground"
        ground_conductivity_spm: f64 = number(between(0.0, 100.0), 0.035, "ITU-R P.527, medium dry ground near 2 GHz");
        "Rms roughness of the ground, for reflection"
        ground_roughness_m: f64 = number(between(0.0, 100.0), 0.1, "estimate for grass");
        "West, south, east, north edge of the simulated area"
        extent_m: [f64; 4] = made([0.0; 4]);
        "Grid spacing, when stated; else chosen from the size"
        cell_m: Option<f64> = made(None);
        "What came of a raw map; `None` without one"
        map: Option<MapTaken> = made(None);
    }
}

part! {
    /// What shapes a site and is not known exactly.
    pub struct SiteSpread<U>(s, terrain: Option<TerrainIs>, zones: Vec<(Zone, Uncertain)>, obstacles: Vec<(Obstacle, Uncertain)>, heights: Option<MapHeights>) {
        "How much higher than the file says the ground away from the take-off spot lies; half of it at 150 m"
        terrain_error_m: U = uncertain(1140, between(-100.0, 100.0), terrain.map_or(Uncertain::Exact(0.0), TerrainIs::error_m), terrain.map_or(TerrainIs::Unsaid, |is| is).source());
        "How far east of `home_m` the take-off spot turns out to be"
        home_east_m: U = uncertain(1141, between(-100.0, 100.0), 0.0, "as planned");
        "How far north of `home_m` the take-off spot turns out to be"
        home_north_m: U = uncertain(1142, between(-100.0, 100.0), 0.0, "as planned");
        "Heights of the obstacles that the file lists, which are the last of the site's"
        obstacle_heights_m: Vec<U> = drawn_list(1200, "obstacle", "height_m", obstacles.into_iter().map(|(_, height_m)| height_m).collect());
        "Margins of the zones that the file lists, which are the last of the site's"
        zone_margins_m: Vec<U> = drawn_list(1600, "zone", "margin_m", zones.into_iter().map(|(_, margin_m)| margin_m).collect());
        "Heights that a raw map does not state; `None` without one"
        map: Option<MapHeights<U>> = opt_part(heights);
    }
}

/// What a site took of a raw map.
#[derive(Debug, Clone, PartialEq)]
pub struct MapTaken {
    /// What became of each feature.
    pub account: Arc<MapUse>,
    /// Where the heights of its obstacles come from, which are the first of the site's.
    heights: Arc<[MapHeight]>,
}

/// A site whose ground is not laid yet, nor what a raw map has there: the extent, over which they are, follows from the path too.
pub(in crate::scenario) struct UnlaidSite {
    site: Site,
    ground: terrain::Unlaid,
    drawn: Arc<GroundFile>,
}

impl UnlaidSite {
    pub(in crate::scenario) fn read(s: &Section, keep: &Keeper) -> UnlaidSite {
        let origin = read_origin(s);
        let at = origin.map(|place| move |height_amsl_m| frame_of(place, height_amsl_m));
        let ground = terrain::Unlaid::read(s, keep, at.as_ref().map(|at| at as _));
        let drawn = read_ground_file(s, frame_at(origin, ground.zero_m).as_ref(), keep);
        let site = Site::read(s, origin, ground.zero_m, ground.is, &drawn);
        UnlaidSite { site, ground, drawn }
    }

    /// Local metres of places on Earth; `None` where the origin's place is not stated.
    pub(in crate::scenario) fn frame(&self) -> Option<LocalFrame> {
        self.site.frame()
    }

    /// The site over its extent, which by default holds all that the scenario has, the places of the path with it.
    pub(in crate::scenario) fn laid(self, s: &Section, keep: &Keeper, waypoints_m: &[[f64; 3]]) -> Site {
        let UnlaidSite { mut site, ground, drawn } = self;
        site.read_extent(s, waypoints_m);
        if let Some(raw) = &drawn.raw {
            site.take_of_the_map(raw);
        }
        site.check_zones(s);
        let at = site.origin.map(|place| move |height_amsl_m| frame_of(place, height_amsl_m));
        let is = ground.is;
        let terrain = ground.over(s, keep, at.as_ref().map(|at| at as _), site.extent_m);
        site.terrain = terrain.map(|terrain| site.spread.raised(terrain, site.home_m));
        if let (Some(is), Some(_)) = (is, &site.terrain) {
            warn_of_heights_twice(s, is, &site.obstacles);
        }
        site
    }
}

/// Most zones that a site may have: their numbers are kept for every cell.
const ZONES_AT_MOST: usize = 60_000;

/// Most zones over one place: each place keeps a list of those that lie over it, so memory grows with the square of their number.
const ZONES_OVER_A_PLACE: usize = 10_000;

/// The number of zones whose bounds reach into one part of the extent, of the part with most of them. Counted only where it may be too
/// many.
fn most_over_a_place(zones: &[Zone], [west, south, east, north]: [f64; 4]) -> usize {
    const PARTS: usize = 64;
    if zones.len() <= ZONES_OVER_A_PLACE {
        return zones.len();
    }
    let part =
        |at: f64, low: f64, high: f64| (((at - low) / (high - low) * PARTS as f64).max(0.0) as usize).min(PARTS - 1);
    let mut counts = vec![0; PARTS * PARTS];
    for zone in zones {
        let [left, bottom, right, top] = zone.area.bounds_m();
        for row in part(bottom, south, north)..=part(top, south, north) {
            let row = &mut counts[row * PARTS..][..PARTS];
            row[part(left, west, east)..=part(right, west, east)].iter_mut().for_each(|count| *count += 1);
        }
    }
    counts.into_iter().max().unwrap_or(0)
}

/// Distance from the take-off spot at which half of an error of the ground's height is there. Estimate: such errors are those of a
/// hillside or of a wood, not of a cell.
const HALF_ERROR_M: f64 = 150.0;

impl SiteSpread {
    /// A place moved as the take-off spot is.
    fn moved(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [x + self.home_east_m.central(), y + self.home_north_m.central()]
    }

    /// Ground raised by its error, but for the take-off spot.
    fn raised(&self, mut terrain: Terrain, home_m: [f64; 2]) -> Terrain {
        let error_m = self.terrain_error_m.central();
        if error_m != 0.0 {
            terrain.raise(|x, y| {
                let off = distance_m([x, y], home_m) / HALF_ERROR_M;
                error_m * off * off / (1.0 + off * off)
            });
        }
        terrain
    }
}

impl Site {
    /// Names of the zones, those without one by their place in the list.
    pub fn zone_names(&self) -> Vec<String> {
        let name = |(number, zone): (usize, &Zone)| {
            if zone.name.is_empty() { format!("zone {}", number + 1) } else { zone.name.clone() }
        };
        self.zones.iter().enumerate().map(name).collect()
    }

    /// The same with other values for what is not known exactly. What the ground, the obstacles, the margins and the take-off spot
    /// are follows by as much as the middle values change.
    pub(in crate::scenario) fn reformed(&self, spread: SiteSpread) -> Site {
        let by = |new: &Uncertain, old: &Uncertain| Uncertain::Exact(new.central() - old.central());
        let change = SiteSpread {
            terrain_error_m: by(&spread.terrain_error_m, &self.spread.terrain_error_m),
            home_east_m: by(&spread.home_east_m, &self.spread.home_east_m),
            home_north_m: by(&spread.home_north_m, &self.spread.home_north_m),
            obstacle_heights_m: Vec::new(),
            zone_margins_m: Vec::new(),
            map: None,
        };
        let home_m = change.moved(self.home_m);
        let mut site = Site { home_m, ..self.clone() };
        site.terrain = site.terrain.map(|terrain| change.raised(terrain, home_m));
        for (obstacle, height_m) in site.obstacles.iter_mut().rev().zip(spread.obstacle_heights_m.iter().rev()) {
            obstacle.height_m = height_m.central().max(obstacle.base_m + LEAST_HEIGHT_M);
        }
        if let (Some(map), Some(heights)) = (&self.map, &spread.map) {
            let heights = heights.central();
            for (obstacle, height) in site.obstacles.iter_mut().zip(map.heights.iter()) {
                obstacle.height_m = heights.of(height).max(obstacle.base_m + LEAST_HEIGHT_M);
            }
        }
        for (zone, margin_m) in site.zones.iter_mut().rev().zip(spread.zone_margins_m.iter().rev()) {
            zone.margin_m = margin_m.central();
        }
        Site { spread, ..site }
    }

    /// Whether ground and obstacles are the same: what radio, sky and wind meet. Where the take-off spot lies on them is nothing to these.
    pub fn same_shape(&self, other: &Site) -> bool {
        (self.extent_m, self.cell_m, self.height_amsl_m) == (other.extent_m, other.cell_m, other.height_amsl_m)
            && self.terrain == other.terrain
            && self.obstacles == other.obstacles
            && self.origin == other.origin
    }

    /// Whether all that a grid holds is the same: the shape, and who and what lies on it.
    pub fn same_ground(&self, other: &Site) -> bool {
        (self.fence_margin_m, self.people_per_km2) == (other.fence_margin_m, other.people_per_km2)
            && self.zones == other.zones
            && self.fence == other.fence
            && self.same_shape(other)
    }

    /// Latitude and longitude of the origin, stated or assumed.
    pub fn lat_lon_deg(&self) -> (f64, f64) {
        self.origin.map_or(UNSTATED_ORIGIN, |place| (place.lat_deg, place.lon_deg))
    }

    /// The site as a grid of look-ups.
    pub fn grid(&self) -> SiteGrid {
        self.grid_beside(&[])
    }

    /// As [`Site::grid`]; where the areas are those of a grid known already, the two share their cells.
    pub fn grid_beside(&self, known: &[&SiteGrid]) -> SiteGrid {
        let input = GridInput {
            extent_m: self.extent_m,
            cell_m: self.cell_m,
            terrain: self.terrain.as_ref(),
            zones: &self.zones,
            obstacles: &self.obstacles,
            fence: self.fence.as_ref(),
            fence_margin_m: self.fence_margin_m,
            people_per_km2: self.people_per_km2,
        };
        SiteGrid::beside(known, &input)
    }

    /// Local metres of places on Earth; `None` where the origin's place is not stated.
    pub fn frame(&self) -> Option<LocalFrame> {
        frame_at(self.origin, self.height_amsl_m)
    }

    /// Height of the ground at the take-off spot.
    pub(super) fn home_z_m(&self) -> f64 {
        self.terrain.as_ref().map_or(0.0, |terrain| terrain.ground_m(self.home_m[0], self.home_m[1]))
    }

    /// Reads the extent and the spacing of the grid over it, which by default hold all that the scenario has.
    fn read_extent(&mut self, s: &Section, waypoints_m: &[[f64; 3]]) {
        let zones =
            self.zones.iter().enumerate().map(|(index, zone)| Outline::of("zone", index, &zone.name, &zone.area));
        let obstacles = self.obstacles.iter().enumerate();
        let obstacles =
            obstacles.map(|(index, obstacle)| Outline::of("obstacle", index, &obstacle.name, &obstacle.area));
        let fence = self.fence.iter().map(|area| Outline { what: "the fence".into(), bounds_m: area.bounds_m() });
        let drawn: Vec<Outline> = zones.chain(obstacles).chain(fence).collect();
        let (extent_m, cell_m) = read_extent(s, self.home_m, waypoints_m, &drawn);
        (self.extent_m, self.cell_m) = (extent_m, Some(cell_m));
    }

    /// Refuses more zones than a grid holds.
    fn check_zones(&mut self, s: &Section) {
        if self.zones.len() > ZONES_AT_MOST {
            let found = format!("{} zones", self.zones.len());
            s.error("ground_file", found, format!("at most {ZONES_AT_MOST}: a smaller `extent_m`, or less of the map"));
            self.zones.truncate(ZONES_AT_MOST);
        }
        let over = most_over_a_place(&self.zones, self.extent_m);
        if over > ZONES_OVER_A_PLACE {
            let key = if s.has("ground_file") { "ground_file" } else { "zone" };
            let found = format!("{over} zones over one place");
            s.error(key, found, format!("at most {ZONES_OVER_A_PLACE}: zones that lie side by side"));
            self.zones.truncate(ZONES_OVER_A_PLACE);
        }
    }

    /// Lays what a raw map has within the extent below all else.
    fn take_of_the_map(&mut self, raw: &RawMap) {
        let Some(heights) = &self.spread.map else { return };
        let MapPart { mut zones, obstacles, account } = raw.within(self.extent_m);
        let heights = heights.central();
        let (mut standing, from): (Vec<Obstacle>, Vec<MapHeight>) = obstacles.into_iter().unzip();
        for (obstacle, height) in standing.iter_mut().zip(&from) {
            obstacle.height_m = heights.of(height).max(obstacle.base_m + LEAST_HEIGHT_M);
        }
        standing.append(&mut self.obstacles);
        zones.append(&mut self.zones);
        self.map = Some(MapTaken { account: Arc::new(account), heights: from.into() });
        (self.zones, self.obstacles) = (zones, standing);
    }
}

fn frame_of(place: Origin, height_amsl_m: f64) -> LocalFrame {
    LocalFrame::new(Geodetic::from_deg(place.lat_deg, place.lon_deg, height_amsl_m))
}

fn frame_at(origin: Option<Origin>, height_amsl_m: f64) -> Option<LocalFrame> {
    origin.map(|place| frame_of(place, height_amsl_m))
}

fn read_origin(s: &Section) -> Option<Origin> {
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
                let area = Area::Polygon(points);
                return check_area(s, "polygon_m", area);
            }
            if let Some([x, y, radius_m]) = circle {
                if radius_m <= 0.0 {
                    s.error("circle_m", format!("the radius {radius_m}"), "a radius above 0");
                    return None;
                }
                return Some(Area::Circle { centre_m: [x, y], radius_m });
            }
            let line_m = line?;
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
    if let Some(fault) = polygon_fault(&area) {
        s.error(key, fault, "a polygon whose edges do not touch or cross");
        return None;
    }
    Some(area)
}

/// What a map holds that is drawn for the site.
#[derive(Default)]
struct Ground {
    zones: Vec<Zone>,
    obstacles: Vec<Obstacle>,
    fence: Option<Area>,
    home_m: Option<[f64; 2]>,
}

impl Ground {
    fn of(map: &GroundFile) -> Ground {
        let mut ground = Ground::default();
        for item in &map.drawn {
            match item {
                Drawn::Zone(zone) => ground.zones.push(zone.clone()),
                Drawn::Obstacle(obstacle) => ground.obstacles.push(obstacle.clone()),
                Drawn::Fence(area) => ground.fence = Some(area.clone()),
                Drawn::Home(place_m) => ground.home_m = Some(*place_m),
            }
        }
        ground
    }
}

/// Heights that a raw map leaves open; `None` without one.
fn read_map_heights(s: &Section, raw: Option<&RawMap>) -> Option<MapHeights> {
    if raw.is_none() && !s.has("map") && !s.sink.is_describing() {
        return None;
    }
    let heights = MapHeights::read(&s.table("map"), raw);
    raw.is_some().then_some(heights)
}

/// What the map of the ground holds; nothing where there is none, or where it has faults, which are told.
fn read_ground_file(s: &Section, frame: Option<&LocalFrame>, keep: &Keeper) -> Arc<GroundFile> {
    let file = s.file_name(
        "ground_file",
        "zones and obstacles are given here",
        "Zones, obstacles, fence and home as GeoJSON or KML, or a raw export of the open map; see below",
    );
    file.and_then(|file| read_map(s, &file, frame, keep)).unwrap_or_default()
}

fn read_map(s: &Section, file: &str, frame: Option<&LocalFrame>, keep: &Keeper) -> Option<Arc<GroundFile>> {
    let print = format!("the map {file:?} at {frame:?}");
    if let Some(known) = keep.made(&print, &[file]) {
        return Some(known);
    }
    let text = keep.text(s, "ground_file", file)?;
    let Some(frame) = frame else {
        let found = "a map in degrees without the place of the origin";
        s.error("ground_file", found, "`lat_deg` and `lon_deg` in `[site]`");
        return None;
    };
    match ground::read_ground(file, &text, frame) {
        Ok(found) => {
            let found = Arc::new(found);
            keep.remember(print, found.clone());
            Some(found)
        }
        Err(faults) => {
            faults.into_iter().for_each(|fault| s.sink.push_in(file, &text, fault));
            None
        }
    }
}

fn read_zone(z: &Section) -> Option<(Zone, Uncertain)> {
    let name = z.text("name", "", "none", "Name in tables and on the map");
    let kind = z.required_word("kind", &ZONE_KINDS, "What the ground is for the one who comes down on it");
    let whose = z.word(
        "whose",
        &WHOSE,
        "others",
        "the careful side: people whom nobody has told",
        "Whose people they are: of the crew those who fly and help, told beforehand and watching",
    );
    let people = z.number(
        "people",
        between(0.0, 1e6),
        Zone::people_unstated(kind.unwrap_or(ZoneKind::People)),
        "someone among people and on roads, else nobody",
        "Head count over the zone while people are there; 0: nobody ever",
    );
    let present_share = z.number(
        "present_share",
        between(0.0, 1.0),
        1.0,
        "always there",
        "Share of the time that they are there, drawn once per flight; of a road, that it is in use",
    );
    let hours_utc = read_hours(z);
    let margin_default = if kind.is_none_or(|kind| kind == ZoneKind::People) { 10.0 } else { 0.0 };
    let margin_m = z.uncertain(
        "margin_m",
        between(0.0, 1000.0),
        margin_default,
        "a choice for people, between the 5 m and 30 m of rules; 0 for other zones",
        "Distance around a people zone that counts as among people",
    );
    let (area, kind, margin) = (read_area(z)?, kind?, margin_m.central());
    let zone = Zone { name, kind, whose, area, people, present_share, hours_utc, margin_m: margin };
    Some((zone, margin_m))
}

/// Hours of the day, in UTC or with an offset.
fn read_hours(z: &Section) -> Option<[f64; 2]> {
    let hours_utc = z.opt_numbers::<2>(
        "hours_utc",
        between(0.0, 24.0),
        "any hour",
        "Hours of the day between which alone they may be there: [from, to]; past midnight when the second is the lesser",
    );
    let hours = z.opt_text(
        "hours",
        "any hour",
        "The same as times of day with their offset from UTC: \"09:00+02:00/17:30+02:00\"",
    );
    if hours_utc.is_some_and(|[from, to]| from == to) {
        z.error("hours_utc", "the same hour twice", "two different hours; [0, 24] is the whole day");
    }
    let Some(hours) = hours else { return hours_utc };
    if hours_utc.is_some() {
        z.error("hours", "`hours` beside `hours_utc`", "one of the two");
    }
    let span = Span::parse(&hours);
    if span.is_none() {
        z.error("hours", format!("the text \"{}\"", hours.escape_debug()), Span::FORM);
    }
    span.map(Span::hours_utc)
}

fn read_obstacle(o: &Section) -> Option<(Obstacle, Uncertain)> {
    let name = o.text("name", "", "none", "Name in tables and on the map");
    let kind = o.required_word(
        "kind",
        &OBSTACLE_KINDS,
        "Building: opaque; trees: lossy; wire: struck but unseen by radio and sky",
    );
    let height = o.required_uncertain("height_m", above(0.0, 1000.0), "Top above the ground below it");
    let height_m = height.as_ref().map(Uncertain::central);
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
    Some((Obstacle { name, area: read_area(o)?, kind: kind?, height_m: height_m?, base_m }, height?))
}
