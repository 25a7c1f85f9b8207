//! What a map drawn for a site holds: zones, obstacles, fence and home, by documented properties or by the open map's tags.
//!
//! A feature's property `role` says what it is: `zone` (the default), `obstacle`, `fence` or `home`. Zones and
//! obstacles have the properties of the scenario file's `[[site.zone]]` and `[[site.obstacle]]` tables; a line
//! needs `width_m`, a point of a zone or obstacle `radius_m`. Other properties are ignored, so that a map drawn
//! for another purpose can be used. Features with neither `role` nor `kind` that carry tags of the open map are read by these.

use super::ground_words::{OBSTACLE_KINDS, WHOSE, ZONE_KINDS};
use super::hours::Span;
use super::map_tags::{RawMap, is_tagged};
use super::outline::{Fault, fault, local, ring_of, simple_polygon};
use super::sink::{FileFault, SHOWN, hidden};
use crate::geodata::feature::{Fault as FeatureFault, Feature, Property, Shape};
use crate::geodata::{geojson, kml, map_export};
use crate::site::shape::line_length_m;
use crate::site::{Area, Obstacle, Whose, Zone, ZoneKind};
use crate::sky::LocalFrame;

/// One thing drawn on the map.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Drawn {
    Zone(Zone),
    Obstacle(Obstacle),
    Fence(Area),
    Home([f64; 2]),
}

/// What a map holds.
#[derive(Debug, Default)]
pub(super) struct GroundFile {
    /// Drawn for this purpose, in the order of the file.
    pub drawn: Vec<Drawn>,
    /// By tags.
    pub raw: Option<RawMap>,
}

impl From<FeatureFault> for FileFault {
    fn from(fault: FeatureFault) -> FileFault {
        let FeatureFault { line, key, found, accepted } = fault;
        FileFault { line, key, found, accepted }
    }
}

/// The features of a text, whatever its format.
fn features(text: &str) -> Result<Vec<Feature>, FeatureFault> {
    match root_of(text) {
        Some("kml") => kml::read(text),
        Some("osm") => map_export::read(text),
        Some(other) => {
            let found = format!("XML with the outermost element `{}`", other.chars().take(40).collect::<String>());
            let accepted = "GeoJSON, KML or the open map's XML export (`<osm>`)".into();
            Err(FeatureFault { line: Some(1), key: String::new(), found, accepted })
        }
        None => geojson::read(text),
    }
}

/// The outermost element of a text in XML; `None` for another text.
fn root_of(text: &str) -> Option<&str> {
    let mut rest = text.trim_start();
    if !rest.starts_with('<') {
        return None;
    }
    // Declarations, comments and a document type stand before it.
    while let Some(after) = rest.strip_prefix('<') {
        if !after.starts_with(['?', '!']) {
            let name = after.split(|letter: char| letter.is_whitespace() || matches!(letter, '>' | '/')).next()?;
            return Some(name.rsplit(':').next().unwrap_or(name));
        }
        // A document type may hold declarations of its own.
        let subset = after.starts_with("!DOCTYPE") && after.find('[') < after.find('>') && after.contains('[');
        let end = match after {
            _ if after.starts_with("!--") => "-->",
            _ if subset => "]",
            _ => ">",
        };
        let Some(at) = rest.find(end) else { break };
        rest = rest[at + end.len()..].trim_start();
        rest = if subset { rest.strip_prefix('>').unwrap_or(rest).trim_start() } else { rest };
    }
    Some("")
}

/// Faults of a file that are told one by one: whoever drew it sees from these what to change.
const FAULTS_TOLD: usize = 20;

/// Reads a map. `file` is its name.
pub(super) fn read_ground(file: &str, text: &str, frame: &LocalFrame) -> Result<GroundFile, Vec<FileFault>> {
    let features = features(text).map_err(|fault| vec![fault.into()])?;
    let own = |feature: &Feature| ["role", "kind"].iter().any(|key| feature.properties.contains_key(*key));
    // A feature without any property that says what it is counts as one of the raw map's where there are such.
    let by_tags = root_of(text) == Some("osm") || features.iter().any(|feature| !own(feature) && is_tagged(feature));
    let mut ground = GroundFile { raw: by_tags.then(|| RawMap::new(file)), ..GroundFile::default() };
    let mut faults = Vec::new();
    let mut more: Option<(FileFault, usize)> = None;
    for feature in &features {
        if let Some(raw) = ground.raw.as_mut().filter(|_| !own(feature)) {
            raw.take(feature, frame);
            continue;
        }
        match read_feature(feature, frame) {
            Ok(mut found) => ground.drawn.append(&mut found),
            Err((key, found, accepted)) => {
                let fault =
                    FileFault { line: Some(feature.line), key: format!("{}.{key}", feature.label), found, accepted };
                match &mut more {
                    Some((_, count)) => *count += 1,
                    None if faults.len() < FAULTS_TOLD => faults.push(fault),
                    None => more = Some((fault, 1)),
                }
            }
        }
    }
    faults.extend(more.map(|(first, count)| match count {
        1 => first,
        _ => FileFault {
            found: format!("{}, and {} more features with faults from here on", first.found, count - 1),
            ..first
        },
    }));
    if faults.is_empty() { Ok(ground) } else { Err(faults) }
}

fn read_feature(feature: &Feature, frame: &LocalFrame) -> Result<Vec<Drawn>, Fault> {
    if let Some(why) = &feature.trouble {
        return Err(fault("geometry", why.clone(), "a whole shape"));
    }
    let role = text(feature, "role")?.unwrap_or("zone");
    if role == "home" {
        let [Shape::Point(place)] = feature.shapes.as_slice() else {
            return Err(fault("geometry", "no point", "a Point for the home spot"));
        };
        return Ok(vec![Drawn::Home(local(place, frame)?)]);
    }
    let areas = areas(feature, frame)?;
    let name = text(feature, "name")?.unwrap_or_default().to_string();
    match role {
        "fence" => match <[Area; 1]>::try_from(areas) {
            Ok([area]) if has_hole(feature) => {
                drop(area);
                Err(fault("geometry", "a fence with a hole", "one ring; what must not be entered within it is a zone"))
            }
            Ok([area]) => Ok(vec![Drawn::Fence(area)]),
            Err(_) => Err(fault("geometry", "more than one area", "one polygon for the fence")),
        },
        "zone" => read_zones(feature, name, areas),
        "obstacle" => {
            let kind = word(feature, "kind", &OBSTACLE_KINDS)?;
            let height_m = number(feature, "height_m", 0.01, 1000.0)?;
            let height_m = height_m
                .ok_or_else(|| fault("properties.height_m", "nothing", "a height above the ground in metres"))?;
            let base_m = number(feature, "base_m", 0.0, 1000.0)?.unwrap_or(0.0);
            if base_m >= height_m {
                return Err(fault("properties.base_m", format!("the underside {base_m}"), "less than `height_m`"));
            }
            let obstacles = areas
                .into_iter()
                .map(|area| Drawn::Obstacle(Obstacle { name: name.clone(), kind, area, height_m, base_m }));
            Ok(obstacles.collect())
        }
        other => Err(fault(
            "properties.role",
            format!("the text \"{other}\""),
            "\"zone\", \"obstacle\", \"fence\" or \"home\"",
        )),
    }
}

fn has_hole(feature: &Feature) -> bool {
    feature.shapes.iter().any(|shape| matches!(shape, Shape::Polygon(rings) if rings.len() > 1))
}

fn read_zones(feature: &Feature, name: String, areas: Vec<Area>) -> Result<Vec<Drawn>, Fault> {
    let kind = word(feature, "kind", &ZONE_KINDS)?;
    let whose = match text(feature, "whose")? {
        None => Whose::Others,
        Some(_) => word(feature, "whose", &WHOSE)?,
    };
    let people = number(feature, "people", 0.0, 1e6)?.unwrap_or(Zone::people_unstated(kind));
    let present_share = number(feature, "present_share", 0.0, 1.0)?.unwrap_or(1.0);
    let hours_utc = match text(feature, "hours")? {
        None => None,
        Some(hours) => {
            let span = Span::parse(hours);
            let found = || format!("the text \"{hours}\"");
            Some(span.ok_or_else(|| fault("properties.hours", found(), Span::FORM))?.hours_utc())
        }
    };
    let margin_m = number(feature, "margin_m", 0.0, 1000.0)?;
    let margin_m = margin_m.unwrap_or(if kind == ZoneKind::People { 10.0 } else { 0.0 });
    let whole: f64 = areas.iter().map(Area::size_m2).sum();
    let zones = areas.into_iter().map(|area| {
        // The head count of a feature of several areas is shared out by size.
        let people = people * area.size_m2() / whole;
        Drawn::Zone(Zone { name: name.clone(), kind, whose, area, people, present_share, hours_utc, margin_m })
    });
    Ok(zones.collect())
}

fn text<'f>(feature: &'f Feature, key: &str) -> Result<Option<&'f str>, Fault> {
    match feature.properties.get(key) {
        None => Ok(None),
        Some(Property::Text(text)) => match hidden(text) {
            Some(found) => Err(fault(&format!("properties.{key}"), found, SHOWN)),
            None => Ok(Some(text)),
        },
        Some(Property::Number(number)) => Err(fault(&format!("properties.{key}"), number.to_string(), "a text")),
        Some(Property::Other(other)) => Err(fault(&format!("properties.{key}"), other.clone(), "a text")),
    }
}

fn word<T: Copy>(feature: &Feature, key: &str, words: &[(&str, T)]) -> Result<T, Fault> {
    let found = text(feature, key)?.unwrap_or_default();
    words.iter().find(|pair| pair.0 == found).map(|pair| pair.1).ok_or_else(|| {
        let list: Vec<String> = words.iter().map(|pair| format!("\"{}\"", pair.0)).collect();
        fault(&format!("properties.{key}"), format!("the text \"{found}\""), list.join(", "))
    })
}

/// A number, also where a format without types has it as a text.
fn number(feature: &Feature, key: &str, low: f64, high: f64) -> Result<Option<f64>, Fault> {
    let (number, found) = match feature.properties.get(key) {
        None => return Ok(None),
        Some(Property::Number(number)) => (Some(*number), number.to_string()),
        Some(Property::Text(text)) => {
            (text.trim().parse().ok(), format!("\"{}\"", text.chars().take(40).collect::<String>()))
        }
        Some(Property::Other(other)) => (None, other.clone()),
    };
    match number {
        Some(number) if number >= low && number <= high => Ok(Some(number)),
        _ => Err(fault(&format!("properties.{key}"), found, format!("a number, {low} to {high}"))),
    }
}

fn areas(feature: &Feature, frame: &LocalFrame) -> Result<Vec<Area>, Fault> {
    let width = number(feature, "width_m", 0.001, 10_000.0)?;
    let radius = number(feature, "radius_m", 0.001, 100_000.0)?;
    let one = |shape: &Shape| match shape {
        Shape::Polygon(rings) => simple_polygon(rings, frame, true),
        Shape::Line(line) => {
            let width_m =
                width.ok_or_else(|| fault("properties.width_m", "a line without a width", "`width_m` in metres"))?;
            let line_m = ring_of(line, frame)?;
            if line_m.len() < 2 || line_length_m(&line_m) == 0.0 {
                return Err(fault("geometry", "a line of no length", "two or more different points"));
            }
            Ok(Area::Strip { line_m, width_m })
        }
        Shape::Point(place) => {
            let radius_m = radius
                .ok_or_else(|| fault("properties.radius_m", "a point without a radius", "`radius_m` in metres"))?;
            Ok(Area::Circle { centre_m: local(place, frame)?, radius_m })
        }
    };
    if feature.shapes.is_empty() {
        return Err(fault("geometry", "no shape", "a Polygon, LineString, Point or several of them"));
    }
    feature.shapes.iter().map(one).collect()
}
