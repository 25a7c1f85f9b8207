//! From the text of a scenario file to a [`Scenario`], with all findings in one pass.

use super::defaults;
use super::diagnostic::{Diagnostic, Severity};
use super::files::Files;
use super::ground::{self, Drawn};
use super::table::{KeyDoc, Section, Sink, above, between, describe, tidy};
use super::track;
use super::types::*;
use crate::chance::Uncertain;
use crate::failsafe::{
    Action, ActionKind, BatteryGuard, Fallback, FixGuard, Guards, Policy, ProgressGuard, ReturnHeight, TimeGuard,
};
use crate::radio::{Antenna, AntennaCondition, Pattern, Polarisation, Waveform};
use crate::site::{Area, Obstacle, ObstacleKind, Zone, ZoneKind, parse_ascii_grid, shape};
use crate::sky::{Calendar, Geodetic, GpsTime, LocalFrame, Satellites, System};
use sha2::{Digest, Sha256};
use std::path::PathBuf;
use toml::de::{DeTable, DeValue};

/// Words of the headline outcomes, in the built-in order, worst first.
pub const HEADLINE_WORDS: [&str; 13] = [
    "among-people",
    "on-road",
    "left-area",
    "on-property",
    "struck",
    "ran-dry",
    "in-water",
    "fell",
    "rough-or-hard",
    "clear-elsewhere",
    "at-home",
    "pilot-back",
    "not-settled",
];

/// Reads a scenario. `name` is the file's name for diagnostics; files it names are asked of `files`.
///
/// # Errors
/// Every error found, and the warnings with them, in the order of their places. No text makes it panic.
pub fn read(name: &str, text: &str, files: &dyn Files) -> Result<Scenario, Vec<Diagnostic>> {
    let (document, faults) = DeTable::parse_recoverable(text);
    let document = document.get_ref();
    let sink = Sink::new(name, text.into(), document);
    let keep = Keeper { files, hasher: std::cell::RefCell::new(Sha256::new()) };
    keep.add(text.as_bytes());
    let mut scenario = read_scenario(&sink, &keep, true);
    let conditions = read_conditions(&sink, document, &keep);
    let mut found = sink.diagnostics.take();
    if !faults.is_empty() {
        // What does not parse hides keys, so 'missing' and what follows from it says nothing; the rest stands.
        let lines: Vec<usize> = faults
            .iter()
            .filter_map(|fault| fault.span())
            .map(|span| super::diagnostic::line_of(text, span.start))
            .collect();
        found.retain(|finding| {
            finding.found != super::table::MISSING && finding.line.is_some_and(|line| !lines.contains(&line))
        });
        let grammar = Sink::new(name, sink.text.clone(), document);
        for fault in &faults {
            let span = fault.span().map(|span| span.start.min(text.len())..span.end.min(text.len()));
            grammar.push(Severity::Error, span, "", fault.message().replace('\n', ", "), "TOML 1.0", None);
        }
        found.extend(grammar.diagnostics.take());
    }
    found.sort_by_key(|finding| {
        (finding.file != name, finding.file.clone(), finding.span.as_ref().map(|span| span.start))
    });
    found.dedup();
    if found.iter().any(|finding| finding.severity == Severity::Error) {
        return Err(found);
    }
    scenario.warnings = found.iter().map(Diagnostic::in_words).collect();
    scenario.hash = keep.hash();
    scenario.conditions = conditions;
    for condition in &mut scenario.conditions {
        condition.scenario.hash.clone_from(&scenario.hash);
    }
    Ok(scenario)
}

/// Every key of the format, in the order in which they are read.
pub fn key_list() -> Vec<KeyDoc> {
    let document = DeTable::new();
    let sink = Sink::describing(&document);
    let keep = Keeper { files: &super::files::NoFiles, hasher: std::cell::RefCell::new(Sha256::new()) };
    read_scenario(&sink, &keep, false);
    read_condition_keys(&sink.root());
    sink.keys.take()
}

/// Gives files and hashes all that is read.
struct Keeper<'f> {
    files: &'f dyn Files,
    hasher: std::cell::RefCell<Sha256>,
}

impl Keeper<'_> {
    fn add(&self, bytes: &[u8]) {
        let mut hasher = self.hasher.borrow_mut();
        hasher.update((bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    }

    fn hash(&self) -> String {
        self.hasher.borrow().clone().finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// The text of a file named by a key; its absence is a finding.
    fn text(&self, section: &Section, key: &'static str, name: &str) -> Option<String> {
        if section.sink.is_describing() {
            return None;
        }
        match self.files.read(name) {
            Ok(bytes) => {
                self.add(&bytes);
                let text = String::from_utf8(bytes);
                if text.is_err() {
                    section.error(key, format!("the file \"{name}\" is not text"), "a text file in UTF-8");
                }
                text.ok()
            }
            Err(why) => {
                section.error(
                    key,
                    format!("the file \"{name}\" cannot be read: {why}"),
                    "a file that is there, relative to the scenario's folder",
                );
                None
            }
        }
    }
}

fn read_conditions<'a>(sink: &Sink<'a>, document: &'a DeTable<'a>, keep: &Keeper) -> Vec<Condition> {
    let root = sink.root();
    let mut found: Vec<Condition> = Vec::new();
    for section in read_condition_keys(&root) {
        let condition_name = section.required_text("name", "Name in tables");
        let odds = section.opt_number(
            "odds",
            between(0.0, 1e9),
            "left out",
            "Odds of the condition, relative to those of the others; the scenario as stated has odds of 1",
        );
        let changes =
            section.pairs("set", "Keys changed, by their path in quotes, e.g. { \"weather.wind_mps\" = 9.0 }");
        if found.iter().any(|other| other.name == condition_name) {
            section.error("name", format!("the name \"{condition_name}\" for the second time"), "a name of its own");
        }
        let changed = Sink::new(&sink.name, sink.text.clone(), document);
        for (key, span, value) in &changes {
            let first = key.split(['.', '[']).next().unwrap_or_default();
            if ["condition", "title", "seed", "flights", "step_s", "judge"].contains(&first) {
                sink.push(
                    Severity::Error,
                    Some(span.clone()),
                    key,
                    "a key that a condition cannot change",
                    "a key of the place, air, craft, radio, sky, path, pilot, loss or policies",
                    None,
                );
            } else {
                changed.replace(key, span.clone(), value);
            }
        }
        let moved = changes.iter().any(|(key, ..)| key.starts_with("site") || key.starts_with("path"));
        let mut scenario = read_scenario(&changed, keep, moved);
        changed.report_unused();
        // What is wrong without the condition is reported already: keep what lies in its own lines, and what is new.
        let known = sink.diagnostics.borrow().clone();
        let fresh: Vec<Diagnostic> =
            changed.diagnostics.take().into_iter().filter(|finding| !known.contains(finding)).collect();
        scenario.warnings =
            fresh.iter().filter(|finding| finding.severity == Severity::Warning).map(Diagnostic::in_words).collect();
        sink.diagnostics.borrow_mut().extend(fresh.into_iter().map(|mut finding| {
            if finding
                .span
                .as_ref()
                .is_none_or(|span| section.span.as_ref().is_none_or(|own| !own.contains(&span.start)))
            {
                finding.found = format!("{} (under the condition \"{condition_name}\")", finding.found);
            }
            finding
        }));
        found.push(Condition { name: condition_name, odds, scenario: Box::new(scenario) });
    }
    found
}

fn read_condition_keys<'r, 'a>(root: &Section<'r, 'a>) -> Vec<Section<'r, 'a>> {
    let sections = root.tables("condition", "Variations of the scenario, each assessed beside it");
    if root.sink.is_describing() {
        for section in &sections {
            section.required_text("name", "Name in tables");
            section.opt_number(
                "odds",
                between(0.0, 1e9),
                "left out",
                "Odds of the condition, relative to those of the others; the scenario as stated has odds of 1",
            );
            section.pairs("set", "Keys changed, by their path in quotes, e.g. { \"weather.wind_mps\" = 9.0 }");
        }
    }
    // The whole file is read elsewhere: here only conditions are asked for.
    root.forget();
    sections
}

fn read_scenario(sink: &Sink, keep: &Keeper, check_path: bool) -> Scenario {
    let root = sink.root();
    let title = root.required_text("title", "Title of the report");
    let about = root.text("about", "", "none", "The question, in a sentence or two");
    let invented = root.flag(
        "invented",
        false,
        "real unless said otherwise",
        "Whether place and craft are invented; the report says so",
    );
    let seed =
        root.whole("seed", 0, i64::MAX as u64, 1, "any number", "Master seed: the same seed gives the same flights");
    let flights =
        root.whole("flights", 1, 10_000_000, 2000, "gives half-widths of 2 points or less", "Number of flights") as u32;
    let step_s = root.number(
        "step_s",
        between(0.001, 0.1),
        0.05,
        "step at which results no longer change",
        "Time step of the simulation",
    );
    let judge = read_judge(&root.table("judge"));
    let craft = read_craft(&root.table("craft"));
    let path_section = root.table("path");
    let site_section = root.table("site");
    let origin = read_origin(&site_section);
    let frame = LocalFrame::new(origin.map_or(Geodetic::from_deg(45.0, 0.0, 0.0), |origin| {
        Geodetic::from_deg(origin.lat_deg, origin.lon_deg, origin.height_amsl_m)
    }));
    let frame = origin.map(|_| &frame);
    let pilot_section = root.table("pilot");
    let (site, path, home_z_m) = read_place(&site_section, &path_section, origin, frame, craft.cruise_mps, keep);
    let pilot = read_pilot(&pilot_section, site.home_m);
    let weather = read_weather(&root.table("weather"));
    let radio = read_radio(&root.table("radio"));
    let sky = read_sky(&root.table("sky"), keep);
    let loss = read_loss(&root.table("loss"));
    let mut policies = Vec::new();
    let policy_sections =
        root.tables("policy", "The policies compared, in the order of tables and figures; at least one");
    if policy_sections.is_empty() {
        root.missing("policy", "at least one table `[[policy]]` with a name and its actions");
    }
    for section in policy_sections {
        let policy = read_policy(&section);
        if policies.iter().any(|other: &Policy| other.name == policy.name) {
            section.error("name", format!("the name \"{}\" for the second time", policy.name), "a name of its own");
        }
        warn_of_height(&section, &policy, site.ceiling_m);
        policies.push(policy);
    }
    let delivered = root
        .opt_table("delivered", "What the craft was delivered with, for the site card: name and actions as in a policy")
        .map(|section| read_policy(&section));
    if check_path {
        check_place(&site_section, &path_section, &pilot_section, &site, &path, &pilot, home_z_m);
    }
    root.find("condition");
    drop(root);
    let mut inputs = sink.inputs.take();
    inputs.sort_by_key(|row| super::document::section_of(&row.key));
    Scenario {
        title,
        about,
        invented,
        seed,
        flights,
        step_s,
        judge,
        site,
        weather,
        craft,
        radio,
        sky,
        path,
        pilot,
        loss,
        policies,
        delivered,
        conditions: Vec::new(),
        inputs,
        warnings: Vec::new(),
        hash: String::new(),
    }
}

const ESTIMATE: &str = "estimate";

fn read_judge(s: &Section) -> Judge {
    let matters_points = s.number(
        "matters_points",
        between(0.01, 50.0),
        2.0,
        ESTIMATE,
        "Smallest difference of the share in danger that matters",
    );
    let confidence = s.number("confidence", between(0.5, 0.999), 0.95, "custom", "Two-sided confidence of intervals");
    let home_radius_m = s.number(
        "home_radius_m",
        above(0.0, 1000.0),
        15.0,
        ESTIMATE,
        "Within this distance of the take-off spot a landing is at home",
    );
    let reserve_pct = s.number(
        "reserve_pct",
        between(0.0, 90.0),
        20.0,
        "common practice",
        "Pack level under which the reserve is said to be used",
    );
    let harm = s.flag("harm", false, "an annex for experts", "Whether to print the harm annex");
    let words: Vec<(&'static str, &'static str)> = HEADLINE_WORDS.iter().map(|word| (*word, *word)).collect();
    let order = s.words(
        "order",
        &words,
        &[],
        "the order built in",
        "Headline outcomes, worst first; those left out follow in the built-in order",
    );
    let order = if s.has("order") { Some(order.into_iter().map(String::from).collect()) } else { None };
    Judge { matters_points, confidence, home_radius_m, reserve_pct, harm, order }
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
    let height = s.number(
        "height_amsl_m",
        between(-500.0, 6000.0),
        0.0,
        "sea level, or the terrain file's height at x = y = 0",
        "Height of z = 0 above mean sea level",
    );
    if lat.is_some() != lon.is_some() {
        let given = if lat.is_some() { "lat_deg" } else { "lon_deg" };
        s.error(given, "one of `lat_deg` and `lon_deg` without the other", "both or none");
    }
    Some(Origin { lat_deg: lat?, lon_deg: lon?, height_amsl_m: height })
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

fn read_place(
    s: &Section,
    p: &Section,
    origin: Option<Origin>,
    frame: Option<&LocalFrame>,
    cruise_mps: f64,
    keep: &Keeper,
) -> (Site, FlightPlan, f64) {
    let terrain_file =
        s.file_name("terrain_file", "flat ground", "Ground heights: an Esri ASCII grid in metres, on the site's axes");
    let terrain_at_m = s.numbers::<2>(
        "terrain_origin_m",
        between(-1e8, 1e8),
        [0.0, 0.0],
        "the grid is in local metres",
        "The grid's coordinates of the local origin x = y = 0",
    );
    let mut origin = origin;
    let mut terrain = None;
    if let Some(file) = &terrain_file
        && let Some(text) = keep.text(s, "terrain_file", file)
    {
        match parse_ascii_grid(&text) {
            Ok(grid) => {
                let mut grid = Terrain {
                    file: PathBuf::from(file),
                    west_m: grid.west_m - terrain_at_m[0],
                    south_m: grid.south_m - terrain_at_m[1],
                    ..grid
                };
                // z = 0 lies at the stated height, else at the ground of the origin.
                let zero_m = match (s.has("height_amsl_m"), origin) {
                    (true, Some(origin)) => origin.height_amsl_m,
                    _ => grid.ground_m(0.0, 0.0),
                };
                if let Some(origin) = &mut origin {
                    origin.height_amsl_m = zero_m;
                }
                for height in &mut grid.height_m {
                    *height = (f64::from(*height) - zero_m) as f32;
                }
                terrain = Some(grid);
            }
            Err(fault) => s.sink.push_in(file, Some(&text), fault.line, "", fault.found, fault.accepted),
        }
    }
    let mut zones = Vec::new();
    let mut obstacles = Vec::new();
    let mut fence = None;
    let mut drawn_home = None;
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
                            Drawn::Zone(zone) => zones.push(zone),
                            Drawn::Obstacle(obstacle) => obstacles.push(obstacle),
                            Drawn::Fence(area) => fence = Some(area),
                            Drawn::Home(place_m) => drawn_home = Some(place_m),
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
    for z in s.tables("zone", "What the ground is; later zones lie on top of earlier ones") {
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
        if let (Some(kind), Some(area)) = (kind, read_area(&z)) {
            zones.push(Zone { name, kind, area, people, present_share, margin_m });
        }
    }
    for o in s.tables("obstacle", "What stands on the ground") {
        let name = o.text("name", "", "none", "Name in tables and on the map");
        let kind = o.required_word(
            "kind",
            &OBSTACLE_KINDS,
            "Building: opaque; trees: lossy; wire: struck but unseen by radio and sky",
        );
        let height_m = o.required_number("height_m", above(0.0, 1000.0), "Top above the ground below it");
        let base_m = o.number(
            "base_m",
            between(0.0, 1000.0),
            0.0,
            "stands on the ground",
            "Underside above the ground below it",
        );
        if let Some(height_m) = height_m
            && base_m >= height_m
        {
            o.error(
                "base_m",
                format!("an underside at {base_m} m, not below the top at {height_m} m"),
                "less than `height_m`",
            );
        }
        if let (Some(kind), Some(area), Some(height_m)) = (kind, read_area(&o), height_m) {
            obstacles.push(Obstacle { name, kind, area, height_m, base_m });
        }
    }
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

    // The path, in the same frame.
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
                    Some(frame) => {
                        let zero_m = origin.map_or(0.0, |origin| origin.height_amsl_m) + home_z_m;
                        match track::read_track(name, &text) {
                            Ok(points) => {
                                for point in points {
                                    let [x, y] = frame.local_from_degrees(point.lat_deg, point.lon_deg);
                                    let height = match (height_m, point.height_m) {
                                        (Some(stated), _) => stated,
                                        (None, Some(height)) => height - if heights { zero_m } else { 0.0 },
                                        (None, None) => {
                                            s.sink.push_in(
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
                                s.sink.push_in(name, Some(&text), fault.line, &fault.key, fault.found, fault.accepted)
                            }
                        }
                    }
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

    // The extent: stated, or all there is with a rim.
    let mut bounds = [home[0], home[1], home[0], home[1]];
    let mut widen = |other: [f64; 4]| {
        bounds = [bounds[0].min(other[0]), bounds[1].min(other[1]), bounds[2].max(other[2]), bounds[3].max(other[3])];
    };
    for point in &waypoints_m {
        widen([point[0], point[1], point[0], point[1]]);
    }
    for area in zones.iter().map(|zone| &zone.area).chain(obstacles.iter().map(|obstacle| &obstacle.area)).chain(&fence)
    {
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
    let plan = FlightPlan { waypoints_m, speed_mps, pause_s, file: file.map(PathBuf::from) };
    let site = Site {
        origin,
        extent_m,
        cell_m: Some(cell_m),
        terrain,
        zones,
        obstacles,
        fence,
        fence_margin_m,
        ceiling_m,
        home_m: home,
        people_per_km2,
        ground_permittivity,
        ground_conductivity_spm,
        ground_roughness_m,
    };
    (site, plan, home_z_m)
}

/// What only shows once all is read: the path against the ground, obstacles, fence and ceiling.
fn check_place(
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

fn read_weather(s: &Section) -> Weather {
    let wind_mps = s.uncertain(
        "wind_mps",
        between(0.0, 40.0),
        Uncertain::Lognormal(4.0, 1.4),
        "estimate: light to moderate",
        "Mean wind at the reference height",
    );
    let wind_height_m =
        s.number("wind_height_m", between(2.0, 200.0), 10.0, "WMO: 10 m", "Height above ground of that wind");
    let from_deg = s.uncertain(
        "from_deg",
        between(-360.0, 720.0),
        Uncertain::Uniform(0.0, 360.0),
        "any direction",
        "Direction the wind comes from, clockwise from north",
    );
    let veer_deg_per_100m = s.number(
        "veer_deg_per_100m",
        between(-90.0, 90.0),
        3.0,
        ESTIMATE,
        "Turning of the wind with height, clockwise positive",
    );
    let roughness_m = s.number("roughness_m", between(0.0001, 3.0), 0.03, "WMO class: open grass", "Roughness length of the surroundings (Davenport-Wieringa: water 0.0002, grass 0.03, crops 0.1, scattered trees 0.25, forest or suburb 1)");
    let turbulence = s.uncertain(
        "turbulence",
        between(0.0, 5.0),
        1.0,
        "as the standard says",
        "Factor on the turbulence that wind and height give: 0 none, 1 standard",
    );
    let drift_mps = s.number(
        "drift_mps",
        between(0.0, 10.0),
        0.5,
        ESTIMATE,
        "Slow change of the mean wind over a flight: standard deviation",
    );
    let drift_memory_s = s.number("drift_memory_s", between(1.0, 36_000.0), 300.0, ESTIMATE, "Memory of that change");
    let gust_mps = s.uncertain(
        "gust_mps",
        between(0.0, 30.0),
        0.0,
        "none",
        "Single gust added once at a random moment: amplitude",
    );
    let gust_length_m =
        s.number("gust_length_m", between(1.0, 2000.0), 80.0, ESTIMATE, "Length of that gust along the wind");
    let lee_heights = s.number(
        "lee_heights",
        between(0.0, 30.0),
        0.0,
        "none",
        "Length of the wind shadow behind obstacles; 0 for none",
    );
    let temperature_c =
        s.uncertain("temperature_c", between(-40.0, 50.0), 15.0, "ISO 2533 at sea level", "Temperature at the site");
    let pressure_pa =
        s.number("pressure_pa", between(87_000.0, 108_500.0), 101_325.0, "ISO 2533", "Sea-level pressure");
    let tendency_pa_per_h = s.uncertain(
        "tendency_pa_per_h",
        between(-1500.0, 1500.0),
        Uncertain::Normal(0.0, 50.0),
        ESTIMATE,
        "Change of pressure with time",
    );
    let rain_mm_per_h = s.number("rain_mm_per_h", between(0.0, 200.0), 0.0, "dry", "Rain");
    Weather {
        wind_mps,
        wind_height_m,
        from_deg,
        veer_deg_per_100m,
        roughness_m,
        turbulence,
        drift_mps,
        drift_memory_s,
        gust_mps,
        gust_length_m,
        lee_heights,
        temperature_c,
        pressure_pa,
        tendency_pa_per_h,
        rain_mm_per_h,
    }
}

fn read_craft(s: &Section) -> Craft {
    let name = s.text("name", "small multirotor", "none", "Generic description");
    let mass_kg = s
        .required_uncertain("mass_kg", between(0.1, 10.0), "Mass with pack and all that it always carries")
        .unwrap_or(Uncertain::Exact(1.0));
    let payload_kg = s.number(
        "payload_kg",
        between(0.0, 10.0),
        0.0,
        "nothing",
        "What it carries besides; weighs, but makes the motors no stronger",
    );
    let base = defaults::class_of(mass_kg.central());
    let rotors = s.whole("rotors", 3, 12, base.rotors.into(), "class by mass", "Number of rotors") as u32;
    let class = "class by mass (estimate)";
    let rotor_diameter_m = s.number(
        "rotor_diameter_m",
        above(0.01, 2.0),
        defaults::diameter_for(&base, rotors),
        class,
        "Diameter of each rotor",
    );
    let d = defaults::with_rotors(base, rotors, rotor_diameter_m);
    let radius_m =
        s.number("radius_m", above(0.01, 3.0), d.radius_m, class, "Half of the greatest width, rotors included");
    let induced_factor = s.number(
        "induced_factor",
        between(1.0, 2.0),
        d.induced_factor,
        "Leishman, usual value (from memory)",
        "Induced-power factor",
    );
    let profile_power_w = s.number(
        "profile_power_w",
        between(0.0, 5000.0),
        d.profile_power_w,
        "estimate: 32 W at 1 kg, scaled with mass and disc area",
        "Profile power in hover at sea level",
    );
    let tip_speed_mps = s.number("tip_speed_mps", between(20.0, 250.0), d.tip_speed_mps, class, "Blade tip speed");
    let drive_efficiency = s.number(
        "drive_efficiency",
        between(0.3, 0.98),
        d.drive_efficiency,
        "estimate, 0.70 to 0.85",
        "Efficiency of motors and their controllers",
    );
    let aux_power_w = s.number(
        "aux_power_w",
        between(0.0, 500.0),
        d.aux_power_w,
        class,
        "Power of everything that does not turn rotors",
    );
    let linear_drag_per_s = s.uncertain(
        "linear_drag_per_s",
        between(0.0, 2.0),
        triangular(d.linear_drag_per_s),
        "rotor-drag literature (from memory), 0.1 to 0.5",
        "Linear rotor drag over mass",
    );
    let drag_area_m2 =
        s.uncertain("drag_area_m2", above(0.0, 2.0), triangular(d.drag_area_m2), class, "Drag area in level flight");
    let fall_drag_area_m2 = s.uncertain(
        "fall_drag_area_m2",
        above(0.0, 5.0),
        triangular(d.fall_drag_area_m2),
        class,
        "Drag area when falling",
    );
    let tilt_max_deg = s.number("tilt_max_deg", between(5.0, 70.0), d.tilt_max_deg, class, "Greatest tilt");
    let cruise_mps = s.number("cruise_mps", above(0.5, 60.0), d.cruise_mps, class, "Speed over ground aimed for");
    let climb_mps = s.number("climb_mps", above(0.1, 30.0), d.climb_mps, class, "Greatest climb speed");
    let descent_mps = s.number(
        "descent_mps",
        above(0.1, 20.0),
        d.descent_mps,
        "0.4 times the induced velocity in hover, off the vortex ring (estimate)",
        "Greatest descent speed",
    );
    let final_descent_mps =
        s.number("final_descent_mps", above(0.05, 5.0), d.final_descent_mps, class, "Descent speed near the ground");
    let slow_below_m = s.number(
        "slow_below_m",
        between(0.0, 100.0),
        d.slow_below_m,
        class,
        "Height above the take-off level, as the craft knows it, below which it comes down slowly",
    );
    let accel_mps2 = s.number("accel_mps2", above(0.1, 30.0), d.accel_mps2, class, "Greatest horizontal acceleration");
    let velocity_lag_s =
        s.number("velocity_lag_s", between(0.05, 10.0), d.velocity_lag_s, class, "Time constant of the velocity loop");
    let attitude_lag_s =
        s.number("attitude_lag_s", between(0.01, 2.0), d.attitude_lag_s, class, "Time constant of the attitude");
    let thrust_ratio = s.number(
        "thrust_ratio",
        between(1.2, 15.0),
        d.thrust_ratio,
        class,
        "Greatest thrust over weight with a full pack",
    );
    let level_error_deg = s.number(
        "level_error_deg",
        between(0.0, 10.0),
        d.level_error_deg,
        class,
        "Attitude error that makes a level hold drift, 1 sigma",
    );
    let soft_touch_mps = s.numbers::<2>(
        "soft_touch_mps",
        above(0.0, 20.0),
        [1.0, 1.5],
        ESTIMATE,
        "Greatest vertical and horizontal speed of a soft touch-down",
    );
    let hard_touch_mps = s.numbers::<2>(
        "hard_touch_mps",
        above(0.0, 30.0),
        [3.0, 3.0],
        ESTIMATE,
        "Greatest vertical and horizontal speed of a hard touch-down; above is a crash",
    );
    if hard_touch_mps[0] < soft_touch_mps[0] || hard_touch_mps[1] < soft_touch_mps[1] {
        s.error("hard_touch_mps", "speeds below those of a soft touch-down", "not less than `soft_touch_mps`");
    }
    let tip_slope_deg =
        s.number("tip_slope_deg", above(0.0, 60.0), 20.0, ESTIMATE, "Ground slope above which it tips over");
    let b = s.table("battery");
    let cells = b.whole("cells", 1, 20, d.cells.into(), class, "Cells in series") as u32;
    let capacity_ah = b.number(
        "capacity_ah",
        above(0.05, 200.0),
        defaults::capacity_ah(&base, cells),
        "50 Wh a kilogram of craft (estimate)",
        "Capacity",
    );
    let health = b.uncertain(
        "health",
        between(0.2, 1.1),
        Uncertain::Normal(0.96, 0.04),
        ESTIMATE,
        "Capacity left through age, as a share",
    );
    let resistance_ohm = b.uncertain(
        "resistance_ohm",
        above(0.0, 5.0),
        Uncertain::Lognormal(defaults::resistance_ohm(&base, cells, capacity_ah), 1.22),
        "estimate: 15 mΩ·Ah a cell, wiring included",
        "Resistance of the pack at 25 °C",
    );
    let charge_pct = b.uncertain(
        "charge_pct",
        above(0.0, 100.0),
        Uncertain::Uniform(97.0, 100.0),
        ESTIMATE,
        "State of charge at take-off",
    );
    let temperature_c = b.opt_number("temperature_c", between(-30.0, 60.0), "the air's", "Pack temperature");
    let warn_v =
        b.number("warn_v", between(2.5, 4.2), 3.5, ESTIMATE, "Voltage per cell under load at which a warning is given");
    let land_v = b.number(
        "land_v",
        between(2.5, 4.2),
        3.3,
        ESTIMATE,
        "Voltage per cell at which the craft comes down by itself",
    );
    let cutoff_v = b.number(
        "cutoff_v",
        between(2.0, 4.0),
        3.0,
        "limit of the cell whose table is used",
        "Voltage per cell at which thrust is lost",
    );
    if !(cutoff_v < land_v && land_v <= warn_v) {
        b.error(
            "land_v",
            format!("voltages of {} (cut-off), {} (landing), {} (warning)", tidy(cutoff_v), tidy(land_v), tidy(warn_v)),
            "`cutoff_v` below `land_v`, and `land_v` not above `warn_v`",
        );
    }
    Craft {
        name,
        rated_mass_kg: mass_kg.central(),
        mass_kg,
        payload_kg,
        radius_m,
        rotors,
        rotor_diameter_m,
        induced_factor,
        profile_power_w,
        tip_speed_mps,
        drive_efficiency,
        aux_power_w,
        linear_drag_per_s,
        drag_area_m2,
        fall_drag_area_m2,
        tilt_max_deg,
        cruise_mps,
        climb_mps,
        descent_mps,
        final_descent_mps,
        slow_below_m,
        accel_mps2,
        velocity_lag_s,
        attitude_lag_s,
        thrust_ratio,
        level_error_deg,
        soft_touch_mps,
        hard_touch_mps,
        tip_slope_deg,
        battery: Battery {
            cells,
            capacity_ah,
            health,
            resistance_ohm,
            charge_pct,
            temperature_c,
            warn_v,
            land_v,
            cutoff_v,
        },
    }
}

/// A low, a likeliest and a high value as a distribution.
fn triangular([low, mode, high]: [f64; 3]) -> Uncertain {
    Uncertain::Triangular(low, mode, high)
}

fn read_antenna(s: &Section, default_axis: [f64; 3]) -> Antenna {
    #[derive(Clone, Copy, PartialEq)]
    enum Shape {
        Isotropic,
        Dipole,
        QuarterWave,
        Patch,
    }
    #[derive(Clone, Copy)]
    enum Turn {
        Linear,
        Right,
        Left,
    }
    let shape = s.word(
        "pattern",
        &[
            ("dipole", Shape::Dipole),
            ("quarter_wave", Shape::QuarterWave),
            ("patch", Shape::Patch),
            ("isotropic", Shape::Isotropic),
        ],
        "dipole",
        "the usual rod",
        "Shape of the power pattern",
    );
    let exponent =
        s.number("exponent", between(0.5, 50.0), 1.0, "6 dBi", "Patch: exponent n of its cosⁿ power pattern");
    let back_db =
        s.number("back_db", between(-60.0, 0.0), -15.0, ESTIMATE, "Patch: gain behind it, relative to the peak");
    let turn = s.word(
        "polarisation",
        &[("linear", Turn::Linear), ("right_circular", Turn::Right), ("left_circular", Turn::Left)],
        "linear",
        "as a rod has",
        "Polarisation",
    );
    let axial_ratio_db = s.number(
        "axial_ratio_db",
        between(0.0, 30.0),
        2.0,
        ESTIMATE,
        "Axial ratio of a circular antenna; 0 is perfect",
    );
    let axis = s.numbers::<3>(
        "axis",
        between(-1e3, 1e3),
        default_axis,
        "upright",
        "Axis of a rod or boresight of a patch: [forward, left, up]; need not be of length 1",
    );
    let length = (axis[0] * axis[0] + axis[1] * axis[1] + axis[2] * axis[2]).sqrt();
    let axis = if length > 1e-9 {
        axis.map(|part| part / length)
    } else {
        s.error("axis", "an axis of no length", "a direction, e.g. [0, 0, 1]");
        default_axis
    };
    let damaged_db =
        s.opt_number("damaged_db", between(0.0, 60.0), "whole", "Loss of a damaged antenna in every direction");
    let missing_db = s.opt_number(
        "missing_db",
        between(0.0, 100.0),
        "fitted",
        "Loss against an isotropic antenna when it is torn off or unplugged (30 is an estimate)",
    );
    let feed_loss_db = s.number("feed_loss_db", between(0.0, 60.0), 0.5, ESTIMATE, "Loss of cable and connectors");
    if damaged_db.is_some() && missing_db.is_some() {
        s.error("missing_db", "an antenna both damaged and missing", "one of `damaged_db` and `missing_db`");
    }
    Antenna {
        pattern: match shape {
            Shape::Isotropic => Pattern::Isotropic,
            Shape::Dipole => Pattern::Dipole,
            Shape::QuarterWave => Pattern::QuarterWave,
            Shape::Patch => Pattern::Patch { exponent, back_db },
        },
        polarisation: match turn {
            Turn::Linear => Polarisation::Linear,
            Turn::Right => Polarisation::RightCircular(axial_ratio_db),
            Turn::Left => Polarisation::LeftCircular(axial_ratio_db),
        },
        axis,
        condition: match (damaged_db, missing_db) {
            (_, Some(loss_db)) => AntennaCondition::Missing { loss_db },
            (Some(loss_db), None) => AntennaCondition::Damaged { loss_db },
            (None, None) => AntennaCondition::Whole,
        },
        feed_loss_db,
    }
}

/// A waveform from one of the tables `chirp`, `fsk`, `video`.
fn read_waveform(s: &Section, default: Waveform) -> Waveform {
    let loss = (0.0, 20.0);
    let chirp = s.opt_table("chirp", "Waveform: chirp spread spectrum").map(|c| {
        let spreading_factor = c.whole("spreading_factor", 5, 12, 7, "middle of the range", "Spreading factor") as u32;
        Waveform::Chirp {
            spreading_factor,
            bandwidth_hz: c.number("bandwidth_hz", between(7.0e3, 2.0e6), 500.0e3, ESTIMATE, "Chirp bandwidth"),
            coding_rate_index: c.whole("coding_rate_index", 0, 4, 1, "coding rate 4/5", "Coding rate 4/(4 + index)")
                as u32,
            preamble_symbols: c.whole("preamble_symbols", 0, 1000, 8, "usual", "Preamble length") as u32,
            implementation_loss_db: c.number(
                "implementation_loss_db",
                between(loss.0, loss.1),
                1.0 + 0.3 * f64::from(spreading_factor.saturating_sub(7)),
                "1 dB at factor 7 to 2.5 dB at 12, against the ideal detector",
                "SNR lost against the ideal detector",
            ),
        }
    });
    let fsk = s.opt_table("fsk", "Waveform: frequency-shift keying").map(|f| Waveform::Fsk {
        bit_rate_bps: f.number("bit_rate_bps", between(100.0, 20.0e6), 250.0e3, ESTIMATE, "Bits per second on the air"),
        modulation_index: f.number(
            "modulation_index",
            between(0.3, 5.0),
            1.0,
            "orthogonal",
            "Modulation index h; 1 is orthogonal",
        ),
        coding_gain_db: f.number("coding_gain_db", between(0.0, 12.0), 0.0, "no coding", "Coding gain"),
        implementation_loss_db: f.number(
            "implementation_loss_db",
            between(loss.0, loss.1),
            2.0,
            ESTIMATE,
            "SNR lost against the ideal detector",
        ),
    });
    let video = s.opt_table("video", "Waveform: digital video judged by a needed SNR").map(|v| Waveform::Video {
        bandwidth_hz: v.number("bandwidth_hz", between(1.0e5, 2.0e8), 20.0e6, ESTIMATE, "Noise bandwidth"),
        snr_needed_db: v.number(
            "snr_needed_db",
            between(-20.0, 40.0),
            8.0,
            ESTIMATE,
            "SNR at which half the frames are lost",
        ),
        slope_db: v.number("slope_db", above(0.0, 20.0), 1.0, ESTIMATE, "Width of the slope from good to bad"),
    });
    let given: Vec<Waveform> = [chirp, fsk, video].into_iter().flatten().collect();
    if given.len() > 1 && !s.sink.is_describing() {
        s.error("", "more than one waveform", "one of `chirp`, `fsk`, `video`");
    }
    given.first().copied().unwrap_or(default)
}

const DEFAULT_CHIRP: Waveform = Waveform::Chirp {
    spreading_factor: 7,
    bandwidth_hz: 500.0e3,
    coding_rate_index: 1,
    preamble_symbols: 8,
    implementation_loss_db: 1.0,
};

fn read_radio(s: &Section) -> Radio {
    let c = s.table("control");
    let frequency_hz = c.number("frequency_hz", between(100.0e6, 6.0e9), 2.44e9, "licence-free band", "Carrier");
    let power_dbm = c.uncertain(
        "power_dbm",
        between(-40.0, 40.0),
        20.0,
        "100 mW: a usual limit in the licence-free band",
        "Conducted power at the pilot's antenna port",
    );
    let power_steps_dbm = c.list(
        "power_steps_dbm",
        between(-40.0, 40.0),
        "fixed power",
        "Powers stepped through when quality falls, lowest first",
    );
    if power_steps_dbm.windows(2).any(|pair| pair[0] >= pair[1]) {
        c.error("power_steps_dbm", "powers that do not rise", "powers in rising order");
    }
    let power_up_below_pct = c.number(
        "power_up_below_pct",
        between(0.0, 100.0),
        80.0,
        ESTIMATE,
        "Link quality under which the power goes one step up",
    );
    let pilot_antenna = read_antenna(&c.table("pilot_antenna"), [0.0, 0.0, 1.0]);
    let craft_antenna = read_antenna(&c.table("craft_antenna"), [0.0, 0.0, 1.0]);
    let noise_figure_db =
        c.number("noise_figure_db", between(0.0, 30.0), 6.0, ESTIMATE, "Noise figure of the craft's receiver");
    let rise = if frequency_hz < 6.0e8 { 3.0 } else { 1.0 };
    let noise_rise_db = c.uncertain(
        "noise_rise_db",
        between(0.0, 40.0),
        rise,
        "estimate: 3 dB at 433 MHz, 1 dB above",
        "Noise added by the craft's own electronics",
    );
    let waveform = read_waveform(&c, DEFAULT_CHIRP);
    let packet_rate_hz = c.number("packet_rate_hz", between(1.0, 2000.0), 50.0, ESTIMATE, "Packets per second");
    let payload_bytes = c.whole("payload_bytes", 1, 255, 8, ESTIMATE, "Payload of one packet") as u32;
    let hop_channels = c.whole("hop_channels", 1, 500, 40, ESTIMATE, "Channels hopped over") as u32;
    let hop_span_hz = c.number("hop_span_hz", between(0.0, 1.0e9), 70.0e6, ESTIMATE, "Width of the hop band");
    let body = if frequency_hz < 2.0e9 { 10.0 } else { 15.0 };
    let body_loss_db = c.uncertain(
        "body_loss_db",
        between(0.0, 40.0),
        Uncertain::Normal(body, 3.0),
        "estimate inside the measured range",
        "Greatest loss through the pilot's body",
    );
    let r = c.table("receiver");
    let receiver = Receiver {
        window_s: r.number("window_s", between(0.05, 60.0), 1.0, ESTIMATE, "Window of the link quality"),
        patience_s: r.number(
            "patience_s",
            between(0.05, 60.0),
            1.0,
            ESTIMATE,
            "Silence before the link is called lost",
        ),
        handback_s: r.number("handback_s", between(0.0, 60.0), 2.0, ESTIMATE, "Good link before control goes back"),
        handback_quality_pct: r.number(
            "handback_quality_pct",
            between(0.0, 100.0),
            70.0,
            ESTIMATE,
            "Link quality that counts as good",
        ),
        rssi_step_db: r.number("rssi_step_db", between(0.0, 10.0), 1.0, ESTIMATE, "Resolution of the signal strength"),
        brownout_v: r.number(
            "brownout_v",
            between(0.0, 4.2),
            0.0,
            "never",
            "Pack voltage per cell under which the receiver restarts; 0 for never",
        ),
        restarts_per_h: r.number(
            "restarts_per_h",
            between(0.0, 100.0),
            0.0,
            "never",
            "Chance per flight hour that it restarts by itself",
        ),
        restart_s: r.number("restart_s", between(0.0, 300.0), 3.0, ESTIMATE, "How long a restart takes"),
    };
    let control = RadioLink {
        frequency_hz,
        power_dbm,
        power_steps_dbm,
        power_up_below_pct,
        pilot_antenna,
        craft_antenna,
        noise_figure_db,
        noise_rise_db,
        waveform,
        packet_rate_hz,
        payload_bytes,
        hop_channels,
        hop_span_hz,
        body_loss_db,
        receiver,
    };
    let telemetry =
        s.opt_table("telemetry", "Telemetry from the craft; without it the pilot gets no warning").map(|t| Telemetry {
            power_dbm: t.number("power_dbm", between(-40.0, 40.0), 14.0, ESTIMATE, "Power at the craft's antenna port"),
            packet_rate_hz: t.number("packet_rate_hz", between(0.1, 2000.0), 5.0, ESTIMATE, "Packets per second"),
            noise_figure_db: t.number(
                "noise_figure_db",
                between(0.0, 30.0),
                6.0,
                ESTIMATE,
                "Noise figure of the pilot's receiver",
            ),
            patience_s: t.number(
                "patience_s",
                between(0.1, 60.0),
                2.0,
                ESTIMATE,
                "Silence after which telemetry is said to be lost",
            ),
        });
    let video = s.opt_table("video", "The video downlink").map(|v| VideoLink {
        frequency_hz: v.number("frequency_hz", between(100.0e6, 6.0e9), 5.8e9, "licence-free band", "Carrier"),
        power_dbm: v.number(
            "power_dbm",
            between(-40.0, 40.0),
            14.0,
            "25 mW: a usual limit in the licence-free band",
            "Power at the craft's antenna port",
        ),
        craft_antenna: read_antenna(&v.table("craft_antenna"), [0.0, 0.0, 1.0]),
        pilot_antenna: read_antenna(&v.table("pilot_antenna"), [0.0, 0.0, 1.0]),
        noise_figure_db: v.number(
            "noise_figure_db",
            between(0.0, 30.0),
            6.0,
            ESTIMATE,
            "Noise figure of the pilot's receiver",
        ),
        waveform: read_waveform(&v, Waveform::Video { bandwidth_hz: 20.0e6, snr_needed_db: 8.0, slope_db: 1.0 }),
        patience_s: v.number(
            "patience_s",
            between(0.1, 60.0),
            2.0,
            ESTIMATE,
            "Picture gone for this long counts as lost",
        ),
        when_lost: v.word(
            "when_lost",
            &[("fly_on", VideoLost::FlyOn), ("hold", VideoLost::Hold), ("trigger_policy", VideoLost::TriggerPolicy)],
            "hold",
            ESTIMATE,
            "What the pilot does without a picture while control is up",
        ),
    });
    let interferers = s
        .tables("interferer", "Sources of interference")
        .iter()
        .map(|i| Interferer {
            name: i.text("name", "", "none", "Name"),
            place_m: i.numbers::<3>(
                "place_m",
                between(-1e6, 1e6),
                [0.0, 0.0, 2.0],
                "at the origin",
                "Where it is: [x, y, height above ground]",
            ),
            eirp_dbm: i.uncertain(
                "eirp_dbm",
                between(-60.0, 80.0),
                20.0,
                "100 mW",
                "Radiated power towards the site inside the victim's bandwidth",
            ),
            frequency_hz: i.number(
                "frequency_hz",
                between(30.0e6, 30.0e9),
                2.44e9,
                "licence-free band",
                "Centre frequency",
            ),
            bandwidth_hz: i.number(
                "bandwidth_hz",
                between(1.0e3, 1.0e9),
                20.0e6,
                ESTIMATE,
                "Width of what it occupies",
            ),
            duty: i.number("duty", between(0.0, 1.0), 0.3, ESTIMATE, "Share of the time that it is on"),
            burst_s: i.number("burst_s", between(1e-4, 3600.0), 0.01, ESTIMATE, "Mean length of one burst"),
        })
        .collect();
    let neighbours = s.whole("neighbours", 0, 200, 0, "alone", "Other pilots on the band") as u32;
    let bursts = s.opt_table("bursts", "Two-state burst process on the uplink").map(|b| Bursts {
        good_s: b.number("good_s", above(0.0, 1e6), 60.0, ESTIMATE, "Mean time in the good state"),
        bad_s: b.number("bad_s", above(0.0, 1e6), 1.0, ESTIMATE, "Mean time in the bad state"),
        loss_good: b.number("loss_good", between(0.0, 1.0), 0.0, ESTIMATE, "Packet loss added in the good state"),
        loss_bad: b.number("loss_bad", between(0.0, 1.0), 1.0, ESTIMATE, "Packet loss added in the bad state"),
    });
    let shadow_sigma_db = s.uncertain(
        "shadow_sigma_db",
        between(0.0, 15.0),
        2.5,
        "estimate: 2 to 3 dB where terrain and buildings are traced",
        "Standard deviation of shadowing that terrain and obstacles do not resolve",
    );
    let shadow_distance_m = s.number(
        "shadow_distance_m",
        between(1.0, 1000.0),
        37.0,
        "3GPP TR 38.901 Table 7.5-6, rural in sight (from memory)",
        "Distance at which shadowing has decayed to 1/e",
    );
    let rician_k_db = s.numbers::<2>(
        "rician_k_db",
        between(-20.0, 40.0),
        [5.0, 15.0],
        "Azari et al. 2018 (from memory)",
        "Rician K at the horizon and overhead",
    );
    let delay_spread_s =
        s.number("delay_spread_s", between(1e-9, 1e-5), 5.0e-8, "estimate: 10 to 100 ns", "Rms delay spread");
    let noise_environment = s.word(
        "noise_environment",
        &[
            ("none", None),
            ("city", Some(NoiseEnvironment::City)),
            ("residential", Some(NoiseEnvironment::Residential)),
            ("rural", Some(NoiseEnvironment::Rural)),
            ("quiet_rural", Some(NoiseEnvironment::QuietRural)),
        ],
        "none",
        "negligible above 900 MHz",
        "Surroundings for man-made noise (ITU-R P.372)",
    );
    let in_leaf = s.flag("in_leaf", true, "the flying season", "Whether trees are in leaf");
    Radio {
        control,
        telemetry,
        video,
        interferers,
        neighbours,
        bursts,
        shadow_sigma_db,
        shadow_distance_m,
        rician_k_db,
        delay_spread_s,
        noise_environment,
        in_leaf,
    }
}

/// Whether the almanac's text serves the flight: found out here, with its place, not when the sky is computed.
fn check_almanac(s: &Section, text: &str, utc: [u32; 6], window_s: f64, constellations: &[Constellation]) {
    let [year, month, day, hour, minute, second] = utc;
    let Ok(at) = Calendar::new(i64::from(year), month, day, hour, minute, f64::from(second)) else { return };
    let systems: Vec<System> = System::ALL
        .into_iter()
        .filter(|system| {
            constellations.iter().any(|constellation| {
                *system
                    == match constellation {
                        Constellation::Gps24 | Constellation::Gps30 => System::Gps,
                        Constellation::Galileo => System::Galileo,
                        Constellation::Glonass => System::Glonass,
                        Constellation::Beidou => System::Beidou,
                    }
            })
        })
        .collect();
    match Satellites::from_text(text, GpsTime::from_utc(at).plus(0.5 * window_s), &systems) {
        Ok(found) => {
            for warning in found.warnings {
                s.warn("almanac_file", warning, "a file of the day of the flight with all the constellations chosen");
            }
        }
        Err(error) => s.error(
            "almanac_file",
            error.to_string(),
            "a YUMA almanac, or a RINEX 3 navigation file, that serves the date of the flight",
        ),
    }
}

fn read_sky(s: &Section, keep: &Keeper) -> Sky {
    let utc = s.utc("utc", [2026, 6, 20, 10, 0, 0], "a summer morning", "Date and time of take-off");
    let window_s =
        s.number("window_s", between(0.0, 864_000.0), 3600.0, ESTIMATE, "Take-off happens within this long after that");
    let constellations = s.words(
        "constellations",
        &[
            ("gps24", Constellation::Gps24),
            ("gps30", Constellation::Gps30),
            ("galileo", Constellation::Galileo),
            ("glonass", Constellation::Glonass),
            ("beidou", Constellation::Beidou),
        ],
        &["gps30", "galileo"],
        "a usual receiver",
        "Satellite systems used",
    );
    if constellations.contains(&Constellation::Gps24) && constellations.contains(&Constellation::Gps30) {
        s.error("constellations", "both \"gps24\" and \"gps30\"", "one of the two");
    }
    let almanac =
        s.file_name("almanac_file", "the nominal constellations", "YUMA almanac or RINEX navigation file used instead");
    let almanac_text = almanac.as_ref().and_then(|name| keep.text(s, "almanac_file", name));
    if let Some(text) = &almanac_text {
        check_almanac(s, text, utc, window_s, &constellations);
    }
    let mask_deg = s.number("mask_deg", between(0.0, 60.0), 5.0, ESTIMATE, "Least elevation used");
    let multipath = s.word(
        "multipath",
        &[("open", Multipath::Open), ("wooded", Multipath::Wooded), ("walled", Multipath::Walled)],
        "open",
        "open field",
        "Multipath class: open field, edge of a wood, among buildings or under cliffs",
    );
    let ionosphere_m = s.number(
        "ionosphere_m",
        between(0.0, 30.0),
        1.0,
        "estimate: 1 quiet, 3 disturbed",
        "Residual vertical delay, 1 sigma",
    );
    let own_noise_db = s.uncertain(
        "own_noise_db",
        between(0.0, 30.0),
        Uncertain::Triangular(2.0, 3.0, 6.0),
        ESTIMATE,
        "C/N0 lost to the small antenna and the craft's own electronics",
    );
    let own_video =
        s.opt_table("own_video", "The craft's own video transmitter, as far as it lowers C/N0").map(|v| OwnVideo {
            in_band_dbm: v.number(
                "in_band_dbm",
                between(-200.0, 30.0),
                -90.0,
                "estimate: 60 dB under a common limit for spurious emissions, -30 dBm",
                "Radiated power that falls into the satellites' band",
            ),
            distance_m: v.number(
                "distance_m",
                between(0.02, 5.0),
                0.1,
                ESTIMATE,
                "Between its antenna and that of the position receiver",
            ),
            filter_db: v.number(
                "filter_db",
                between(0.0, 120.0),
                0.0,
                "none",
                "Taken by a filter or screen in between",
            ),
        });
    let interference = s.opt_table("interference", "In-band emitter that lowers C/N0").map(|i| SkyInterference {
        place_m: i.numbers::<3>(
            "place_m",
            between(-1e6, 1e6),
            [0.0, 0.0, 2.0],
            "at the origin",
            "Where it is: [x, y, height above ground]",
        ),
        eirp_dbm: i.number("eirp_dbm", between(-100.0, 60.0), 0.0, ESTIMATE, "Radiated power in band"),
    });
    let track_dbhz = s.numbers::<2>(
        "track_dbhz",
        between(10.0, 50.0),
        [27.0, 33.0],
        "estimate: 25 to 28 and 32 to 35",
        "C/N0 at which a satellite is tracked on, and at which it is taken up again",
    );
    if track_dbhz[1] < track_dbhz[0] {
        s.error("track_dbhz", "taking up below tracking on", "the lower one first");
    }
    let powered_before_s = s.uncertain(
        "powered_before_s",
        between(0.0, 86_400.0),
        Uncertain::Uniform(60.0, 300.0),
        ESTIMATE,
        "How long the position receiver has been on at take-off",
    );
    let start = s.word(
        "start",
        &[("cold", SkyStart::Cold), ("warm", SkyStart::Warm), ("hot", SkyStart::Hot)],
        "warm",
        "used some days before",
        "Start of the position receiver",
    );
    let take_off_without_fix =
        s.flag("take_off_without_fix", false, "common practice", "Whether take-off without a fix is allowed");
    let take_off_satellites =
        s.whole("take_off_satellites", 4, 60, 8, "common practice", "Fewest satellites awaited before take-off") as u32;
    let take_off_hdop =
        s.number("take_off_hdop", above(0.0, 50.0), 2.0, "common practice", "Greatest HDOP awaited before take-off");
    let (every, long) = match multipath {
        Multipath::Open => (21_600.0, 5.0),
        Multipath::Wooded => (1200.0, 8.0),
        Multipath::Walled => (120.0, 15.0),
    };
    let outage_every_s = s.number(
        "outage_every_s",
        above(0.0, 1e9),
        every,
        "estimate by multipath class",
        "Mean time between losses of the fix that geometry does not explain",
    );
    let outage_for_s =
        s.number("outage_for_s", above(0.0, 3600.0), long, "estimate by multipath class", "Mean length of such a loss");
    let heading_bias_deg = s.uncertain(
        "heading_bias_deg",
        between(-180.0, 180.0),
        Uncertain::Normal(0.0, 3.0),
        "estimate: 2 to 5 well calibrated, 10 to 30 badly",
        "Heading bias",
    );
    let heading_throttle_deg = s.number(
        "heading_throttle_deg",
        between(-90.0, 90.0),
        3.0,
        ESTIMATE,
        "Heading error at full throttle through motor currents",
    );
    let course_alignment =
        s.flag("course_alignment", true, ESTIMATE, "Whether course over ground corrects the heading while moving");
    let declination_applied =
        s.flag("declination_applied", true, "as it should be", "Whether magnetic declination is applied, or forgotten");
    let declination_deg =
        s.opt_number("declination_deg", between(-180.0, 180.0), "the built-in magnetic model", "Stated declination");
    let baro_drift_m_per_sqrt_min = s.number(
        "baro_drift_m_per_sqrt_min",
        between(0.0, 20.0),
        0.3,
        ESTIMATE,
        "Barometer drift, 1 sigma after a minute",
    );
    Sky {
        utc,
        window_s,
        constellations,
        almanac: almanac.map(PathBuf::from),
        almanac_text,
        mask_deg,
        multipath,
        ionosphere_m,
        own_noise_db,
        own_video,
        interference,
        track_dbhz,
        powered_before_s,
        start,
        take_off_without_fix,
        take_off_guard: (take_off_satellites, take_off_hdop),
        outage_every_s,
        outage_for_s,
        heading_bias_deg,
        heading_throttle_deg,
        course_alignment,
        declination_applied,
        declination_deg,
        baro_drift_m_per_sqrt_min,
    }
}

fn read_pilot(s: &Section, home_m: [f64; 2]) -> Pilot {
    Pilot {
        place_m: s.numbers::<2>(
            "place_m",
            between(-1e6, 1e6),
            home_m,
            "at the take-off spot",
            "Where the pilot stands: [x, y]",
        ),
        antenna_height_m: s.number(
            "antenna_height_m",
            between(0.1, 100.0),
            1.5,
            "in the hands",
            "Height of the antenna above the ground",
        ),
        facing_deg: s.opt_number(
            "facing_deg",
            between(-360.0, 360.0),
            "it follows the craft",
            "Direction the pilot's antenna points",
        ),
        reaction_s: s.uncertain(
            "reaction_s",
            between(0.0, 60.0),
            Uncertain::Lognormal(2.0, 1.65),
            "attentive, from take-over studies (estimate)",
            "Reaction time",
        ),
        on_regain: s.word(
            "on_regain",
            &[("fly_home", OnRegain::FlyHome), ("resume", OnRegain::Resume), ("let_finish", OnRegain::LetFinish)],
            "fly_home",
            ESTIMATE,
            "What the pilot does with the link back",
        ),
        turn_back_below_pct: s.number(
            "turn_back_below_pct",
            between(0.0, 100.0),
            0.0,
            "no warning heeded",
            "Link quality at which telemetry's warning makes the pilot turn back; 0 for never",
        ),
        turn_back_margin_db: s.number(
            "turn_back_margin_db",
            between(-100.0, 60.0),
            -1.0,
            "no warning heeded",
            "Signal strength above sensitivity at which the pilot turns back; negative for never",
        ),
    }
}

fn read_loss(s: &Section) -> Loss {
    let modelled = s.flag("modelled", true, "the radio decides", "The link goes when physics says so");
    let Some(c) = s.opt_table(
        "cut",
        "The link is cut at a moment, whatever physics says; a loss that comes before it counts with its own cause",
    ) else {
        if !modelled {
            s.error("modelled", "no loss at all", "`modelled = true` or a table `cut`");
        }
        return Loss::Modelled;
    };
    if s.has("modelled") && modelled && s.has("cut") {
        s.error("modelled", "both `modelled` and `cut`", "one of the two");
    }
    let any_time = c.flag("any_time", false, "", "Any moment of the path, all equally likely");
    let time_s =
        c.has("time_s").then(|| c.uncertain("time_s", between(0.0, 36_000.0), 0.0, "", "At this time after take-off"));
    let path_share = c
        .has("path_share")
        .then(|| c.uncertain("path_share", between(0.0, 1.0), 0.5, "", "At this share of the path's length"));
    let near_m =
        c.opt_numbers::<3>("near_m", between(-1e6, 1e6), "another moment is given", "Within a disc: [x, y, radius]");
    let for_s = c
        .has("for_s")
        .then(|| c.uncertain("for_s", above(0.0, 36_000.0), 10.0, "", "How long the cut lasts; left out: for ever"));
    if c.sink.is_describing() {
        c.uncertain("time_s", between(0.0, 36_000.0), 0.0, "another moment is given", "At this time after take-off");
        c.uncertain(
            "path_share",
            between(0.0, 1.0),
            0.5,
            "another moment is given",
            "At this share of the path's length",
        );
        c.uncertain("for_s", above(0.0, 36_000.0), 10.0, "for ever when left out", "How long the cut lasts");
    }
    let moments = usize::from(any_time)
        + [time_s.is_some(), path_share.is_some(), c.has("near_m")].into_iter().filter(|there| *there).count();
    if moments > 1 {
        c.error("", "more than one moment", "one of `any_time = true`, `time_s`, `path_share`, `near_m`");
    }
    let at = if let Some(time_s) = time_s {
        CutAt::TimeS(time_s)
    } else if let Some(share) = path_share {
        CutAt::PathShare(share)
    } else if let Some([x, y, radius_m]) = near_m {
        if radius_m <= 0.0 {
            c.error("near_m", format!("the radius {radius_m}"), "a radius above 0");
        }
        CutAt::Near { place_m: [x, y], radius_m }
    } else {
        CutAt::AnyTime
    };
    Loss::Cut { at, for_s }
}

fn read_policy(s: &Section) -> Policy {
    let name = s.required_text("name", "Name in every table and figure");
    let sections = s.tables("action", "The actions, in order; each is one of `hold`, `land`, `return`, `drop`");
    let count = sections.len();
    let actions: Vec<Action> = sections.iter().filter_map(read_action).collect();
    let policy = Policy { name, actions };
    // A chain with an action that could not be read says nothing about its end.
    if policy.actions.len() == count
        && !s.sink.is_describing()
        && let Err(fault) = policy.check()
    {
        s.error(
            "",
            fault.to_string(),
            "a chain that ends with `land`, `drop` or `return`, each action of which can be reached",
        );
    }
    policy
}

/// A way home above the permitted height is odd but legal to ask about.
fn warn_of_height(s: &Section, policy: &Policy, ceiling_m: f64) {
    for (index, action) in policy.actions.iter().enumerate() {
        if let ActionKind::Return { height: ReturnHeight::AtLeastM(height) | ReturnHeight::ExactlyM(height), .. } =
            action.kind
            && height > ceiling_m
        {
            let found = format!(
                "a way home at {} m in action {}, above the ceiling of {} m",
                tidy(height),
                index + 1,
                tidy(ceiling_m)
            );
            s.warn("", found, "a height up to `site.ceiling_m`");
        }
    }
}

fn read_action(s: &Section) -> Option<Action> {
    let fallback = |t: &Section| {
        t.word(
            "otherwise",
            &[("land", Fallback::Land), ("drop", Fallback::Drop), ("next", Fallback::Next)],
            "land",
            "the gentlest end",
            "What follows when a guard fails or the action is impossible",
        )
    };
    let mut kinds: Vec<(&'static str, ActionKind, Fallback)> = Vec::new();
    if let Some(t) = s.opt_table("hold", "Stays where it is; without a fix it holds level and drifts") {
        let for_s =
            t.required_number("for_s", above(0.0, 3600.0), "How long; then the next action follows").unwrap_or(1.0);
        kinds.push(("hold", ActionKind::Hold { for_s }, fallback(&t)));
    }
    if let Some(t) = s.opt_table("land", "Comes down where it is") {
        let sink_mps = t.opt_number("sink_mps", above(0.1, 20.0), "the craft's descent limit", "Sink speed aloft");
        kinds.push(("land", ActionKind::Land { sink_mps }, fallback(&t)));
    }
    if let Some(t) = s.opt_table("return", "Flies to the home point and comes down there") {
        let height = read_height(&t);
        let speed_mps =
            t.opt_number("speed_mps", above(0.5, 60.0), "the craft's cruise speed", "Speed over ground aimed for");
        let home_circle_m = t.number(
            "home_circle_m",
            above(0.5, 500.0),
            10.0,
            ESTIMATE,
            "Horizontal distance from the home point at which it starts to come down",
        );
        let climb_first =
            t.flag("climb_first", true, "common practice", "Whether it reaches its height before it starts home");
        kinds.push(("return", ActionKind::Return { height, speed_mps, home_circle_m, climb_first }, fallback(&t)));
    }
    if let Some(t) = s.opt_table("drop", "Stops the motors") {
        kinds.push(("drop", ActionKind::Drop, fallback(&t)));
    }
    let g = s.table("guard");
    let guards = Guards {
        fix: g.opt_table("fix", "Guard: enough satellites, good enough geometry").map(|f| FixGuard {
            satellites: f.whole("satellites", 4, 60, 6, ESTIMATE, "Fewest satellites") as u32,
            hdop: f.number("hdop", above(0.0, 50.0), 2.5, ESTIMATE, "Greatest HDOP"),
        }),
        progress: g.opt_table("progress", "Guard: gets closer to home").map(|p| ProgressGuard {
            closing_mps: p.number("closing_mps", between(0.0, 30.0), 1.0, ESTIMATE, "Least closing speed"),
            within_s: p.number("within_s", above(0.5, 600.0), 20.0, ESTIMATE, "Averaged over this time"),
        }),
        battery: g.opt_table("battery", "Guard: keeps a reserve").map(|b| BatteryGuard {
            reserve_pct: b.number("reserve_pct", between(0.0, 95.0), 15.0, ESTIMATE, "Least state of charge"),
        }),
        time: g.opt_table("time", "Guard: ends in time").map(|t| TimeGuard {
            at_most_s: t.number("at_most_s", above(0.5, 7200.0), 300.0, ESTIMATE, "Longest time in this action"),
        }),
    };
    const ONE: &str = "exactly one of `hold`, `land`, `return`, `drop`";
    if s.sink.is_describing() {
        return None;
    }
    match kinds.as_slice() {
        [] => {
            s.error("", "no action", ONE);
            None
        }
        [(_, kind, otherwise)] => Some(Action { kind: kind.clone(), guards, otherwise: *otherwise }),
        [_, (second, ..), ..] => {
            s.error(second, "a second action", ONE);
            None
        }
    }
}

fn read_height(t: &Section) -> ReturnHeight {
    const SHAPES: &str =
        "\"stay_level\", or a table with one of `at_least_m`, `exactly_m`, `above_path_m`, `above_ground_m`";
    if let Some(DeValue::String(word)) = t.find("height").map(toml::Spanned::get_ref) {
        if word.as_ref() != "stay_level" {
            t.error("height", describe(&DeValue::String(word.clone())), SHAPES);
        }
        return ReturnHeight::StayLevel;
    }
    if !t.has("height") && !t.sink.is_describing() {
        t.missing("height", SHAPES);
        return ReturnHeight::StayLevel;
    }
    let h = t.table("height");
    let limits = above(0.0, 2000.0);
    let one = |key, meaning| h.opt_number(key, limits, "another height is given", meaning);
    let at_least = one("at_least_m", "Climbs to this height above home when lower; stays when higher");
    let exactly = one("exactly_m", "Climbs or descends to this height above home");
    let above_path = one("above_path_m", "This much above the highest point flown so far");
    let above_ground = one("above_ground_m", "This much above the ground below, from a terrain table on board");
    let given = [
        at_least.map(ReturnHeight::AtLeastM),
        exactly.map(ReturnHeight::ExactlyM),
        above_path.map(ReturnHeight::AbovePathM),
        above_ground.map(ReturnHeight::AboveGroundM),
    ];
    let mut given = given.into_iter().flatten();
    let count =
        ["at_least_m", "exactly_m", "above_path_m", "above_ground_m"].into_iter().filter(|key| h.has(key)).count();
    if count != 1 && !h.sink.is_describing() {
        let found = if count == 0 { "no height" } else { "more than one height" };
        t.error("height", found, SHAPES);
    }
    given.next().unwrap_or(ReturnHeight::StayLevel)
}
