//! Zones, obstacles, fence and home from a GeoJSON file.
//!
//! A feature's property `role` says what it is: `zone` (the default), `obstacle`, `fence` or `home`. Zones and
//! obstacles have the properties of the scenario file's `[[site.zone]]` and `[[site.obstacle]]` tables; a line
//! needs `width_m`, a point of a zone or obstacle `radius_m`. Other properties are ignored, so that a map drawn
//! for another purpose can be used.

use super::sink::{FileFault, SHOWN, hidden};
use crate::site::{Area, Obstacle, ObstacleKind, Whose, Zone, ZoneKind};
use crate::sky::LocalFrame;
use serde_json::{Map, Value};

pub(super) const ZONE_KINDS: [(&str, ZoneKind); 6] = [
    ("clear", ZoneKind::Clear),
    ("rough", ZoneKind::Rough),
    ("water", ZoneKind::Water),
    ("road", ZoneKind::Road),
    ("people", ZoneKind::People),
    ("property", ZoneKind::Property),
];

pub(super) const OBSTACLE_KINDS: [(&str, ObstacleKind); 3] =
    [("building", ObstacleKind::Building), ("trees", ObstacleKind::Trees), ("wire", ObstacleKind::Wire)];

pub(super) const WHOSE: [(&str, Whose); 2] = [("crew", Whose::Crew), ("others", Whose::Others)];

/// One thing drawn on the map.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Drawn {
    Zone(Zone),
    Obstacle(Obstacle),
    Fence(Area),
    Home([f64; 2]),
}

/// Why a polygon cannot be used.
pub(super) fn polygon_fault(area: &Area) -> Option<String> {
    if let Some((first, second)) = area.self_crossing() {
        return Some(format!("a polygon whose edges from point {} and from point {} meet", first + 1, second + 1));
    }
    (area.size_m2() == 0.0).then(|| "a polygon without area".to_string())
}

/// The features of a GeoJSON text, each with the line it starts on.
pub(super) fn features(text: &str) -> Result<Vec<(usize, Value)>, FileFault> {
    let whole: Value = serde_json::from_str(text).map_err(|fault| FileFault {
        line: Some(fault.line().max(1)),
        key: String::new(),
        found: fault.to_string(),
        accepted: "GeoJSON (RFC 7946)".into(),
    })?;
    let lines = feature_lines(text);
    let list = match whole.get("type").and_then(Value::as_str) {
        Some("FeatureCollection") => match whole.get("features") {
            Some(Value::Array(list)) => list.clone(),
            _ => Vec::new(),
        },
        Some("Feature") => vec![whole],
        _ => {
            return Err(FileFault {
                line: Some(1),
                key: "type".into(),
                found: "no feature".into(),
                accepted: "a GeoJSON `FeatureCollection` or `Feature`".into(),
            });
        }
    };
    Ok(list.into_iter().enumerate().map(|(index, feature)| (lines.get(index).copied().unwrap_or(1), feature)).collect())
}

/// Lines on which a feature says that it is one.
fn feature_lines(text: &str) -> Vec<usize> {
    let mut lines = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let bare: String = line.split_whitespace().collect();
        lines.extend(std::iter::repeat_n(index + 1, bare.matches("\"type\":\"Feature\"").count()));
    }
    lines
}

pub(super) fn read_ground(text: &str, frame: &LocalFrame) -> Result<Vec<Drawn>, Vec<FileFault>> {
    let features = features(text).map_err(|fault| vec![fault])?;
    let mut drawn = Vec::new();
    let mut faults = Vec::new();
    for (index, (line, feature)) in features.iter().enumerate() {
        match read_feature(feature, frame) {
            Ok(mut found) => drawn.append(&mut found),
            Err((key, found, accepted)) => {
                faults.push(FileFault { line: Some(*line), key: format!("features[{index}].{key}"), found, accepted });
            }
        }
    }
    if faults.is_empty() { Ok(drawn) } else { Err(faults) }
}

type Fault = (String, String, String);

fn fault(key: &str, found: impl Into<String>, accepted: impl Into<String>) -> Fault {
    (key.into(), found.into(), accepted.into())
}

fn read_feature(feature: &Value, frame: &LocalFrame) -> Result<Vec<Drawn>, Fault> {
    let empty = Map::new();
    let properties = feature.get("properties").and_then(Value::as_object).unwrap_or(&empty);
    let role = text(properties, "role")?.unwrap_or("zone");
    if role == "home" {
        let geometry = feature.get("geometry").unwrap_or(&Value::Null);
        let place =
            geometry.get("coordinates").filter(|_| geometry.get("type").and_then(Value::as_str) == Some("Point"));
        let place = place.and_then(|place| position(place, frame));
        return place
            .map(|place| vec![Drawn::Home(place)])
            .ok_or_else(|| fault("geometry", "no point", "a Point for the home spot"));
    }
    let areas = areas(feature.get("geometry").unwrap_or(&Value::Null), properties, frame)?;
    let name = text(properties, "name")?.unwrap_or_default().to_string();
    match role {
        "fence" => match <[Area; 1]>::try_from(areas) {
            Ok([area]) => Ok(vec![Drawn::Fence(area)]),
            Err(_) => Err(fault("geometry", "more than one area", "one polygon for the fence")),
        },
        "zone" => {
            let kind = word(properties, "kind", &ZONE_KINDS)?;
            let whose = match text(properties, "whose")? {
                None => Whose::Others,
                Some(_) => word(properties, "whose", &WHOSE)?,
            };
            let people = number(properties, "people", 0.0, 1e6)?.unwrap_or(Zone::people_unstated(kind));
            let present_share = number(properties, "present_share", 0.0, 1.0)?.unwrap_or(1.0);
            let margin_m = number(properties, "margin_m", 0.0, 1000.0)?;
            let margin_m = margin_m.unwrap_or(if kind == ZoneKind::People { 10.0 } else { 0.0 });
            let whole: f64 = areas.iter().map(Area::size_m2).sum();
            let zones = areas.into_iter().map(|area| {
                // The head count of a feature of several areas is shared out by size.
                let people = people * area.size_m2() / whole;
                Drawn::Zone(Zone {
                    name: name.clone(),
                    kind,
                    whose,
                    area,
                    people,
                    present_share,
                    hours_utc: None,
                    margin_m,
                })
            });
            Ok(zones.collect())
        }
        "obstacle" => {
            let kind = word(properties, "kind", &OBSTACLE_KINDS)?;
            let height_m = number(properties, "height_m", 0.01, 1000.0)?;
            let height_m = height_m
                .ok_or_else(|| fault("properties.height_m", "nothing", "a height above the ground in metres"))?;
            let base_m = number(properties, "base_m", 0.0, 1000.0)?.unwrap_or(0.0);
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

fn text<'v>(properties: &'v Map<String, Value>, key: &str) -> Result<Option<&'v str>, Fault> {
    match properties.get(key) {
        None | Some(Value::Null) => Ok(None),
        Some(Value::String(text)) => match hidden(text) {
            Some(found) => Err(fault(&format!("properties.{key}"), found, SHOWN)),
            None => Ok(Some(text)),
        },
        Some(other) => Err(fault(&format!("properties.{key}"), other.to_string(), "a text")),
    }
}

fn word<T: Copy>(properties: &Map<String, Value>, key: &str, words: &[(&str, T)]) -> Result<T, Fault> {
    let found = text(properties, key)?.unwrap_or_default();
    words.iter().find(|pair| pair.0 == found).map(|pair| pair.1).ok_or_else(|| {
        let list: Vec<String> = words.iter().map(|pair| format!("\"{}\"", pair.0)).collect();
        fault(&format!("properties.{key}"), format!("the text \"{found}\""), list.join(", "))
    })
}

fn number(properties: &Map<String, Value>, key: &str, low: f64, high: f64) -> Result<Option<f64>, Fault> {
    match properties.get(key) {
        None | Some(Value::Null) => Ok(None),
        Some(value) => match value.as_f64() {
            Some(number) if number >= low && number <= high => Ok(Some(number)),
            _ => Err(fault(&format!("properties.{key}"), value.to_string(), format!("a number, {low} to {high}"))),
        },
    }
}

/// A longitude and latitude in degrees.
pub(super) fn degrees(value: &Value) -> Option<(f64, f64, Option<f64>)> {
    let list = value.as_array()?;
    let (lon, lat) = (list.first()?.as_f64()?, list.get(1)?.as_f64()?);
    let fits = (-180.0..=180.0).contains(&lon) && (-90.0..=90.0).contains(&lat);
    fits.then(|| (lon, lat, list.get(2).and_then(Value::as_f64)))
}

/// Local metres of a position within 1000 km.
fn position(value: &Value, frame: &LocalFrame) -> Option<[f64; 2]> {
    let (lon, lat, _) = degrees(value)?;
    let place = frame.local_from_degrees(lat, lon);
    let away = (frame.origin().lat_deg() - lat).abs();
    (away < 9.0 && place.iter().all(|part| part.abs() < 1e6)).then_some(place)
}

fn positions(value: &Value, frame: &LocalFrame) -> Result<Vec<[f64; 2]>, Fault> {
    let list =
        value.as_array().ok_or_else(|| fault("geometry", "no list of positions", "positions [longitude, latitude]"))?;
    list.iter()
        .map(|item| {
            position(item, frame).ok_or_else(|| {
                let found: String = item.to_string().chars().take(60).collect();
                fault(
                    "geometry",
                    format!("the position {found}"),
                    "[longitude, latitude] in degrees within 1000 km of the origin",
                )
            })
        })
        .collect()
}

fn areas(geometry: &Value, properties: &Map<String, Value>, frame: &LocalFrame) -> Result<Vec<Area>, Fault> {
    let kind = geometry.get("type").and_then(Value::as_str).unwrap_or("nothing");
    let coordinates = geometry.get("coordinates").unwrap_or(&Value::Null);
    let several = |single: &dyn Fn(&Value) -> Result<Area, Fault>| -> Result<Vec<Area>, Fault> {
        let list = coordinates.as_array().filter(|list| !list.is_empty());
        list.ok_or_else(|| fault("geometry", "no coordinates", "coordinates of its type"))?.iter().map(single).collect()
    };
    let polygon = |rings: &Value| -> Result<Area, Fault> {
        let rings = rings.as_array().map(Vec::as_slice).unwrap_or_default();
        let [ring] = rings else {
            let found = if rings.is_empty() { "a polygon without a ring" } else { "a polygon with a hole" };
            return Err(fault("geometry", found, "a polygon with one ring; lay another zone over the hole"));
        };
        let mut points = positions(ring, frame)?;
        if points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        if points.len() < 3 {
            return Err(fault(
                "geometry",
                format!("a ring of {} points", points.len()),
                "three or more different points",
            ));
        }
        let area = Area::Polygon(points);
        match polygon_fault(&area) {
            Some(found) => Err(fault("geometry", found, "a polygon whose edges do not touch or cross")),
            None => Ok(area),
        }
    };
    let width = number(properties, "width_m", 0.001, 10_000.0)?;
    let strip = |line: &Value| -> Result<Area, Fault> {
        let width_m =
            width.ok_or_else(|| fault("properties.width_m", "a line without a width", "`width_m` in metres"))?;
        let line_m = positions(line, frame)?;
        if line_m.len() < 2 || crate::site::shape::line_length_m(&line_m) == 0.0 {
            return Err(fault("geometry", "a line of no length", "two or more different points"));
        }
        Ok(Area::Strip { line_m, width_m })
    };
    let radius = number(properties, "radius_m", 0.001, 100_000.0)?;
    let circle = |place: &Value| -> Result<Area, Fault> {
        let radius_m =
            radius.ok_or_else(|| fault("properties.radius_m", "a point without a radius", "`radius_m` in metres"))?;
        let centre_m = positions(&Value::Array(vec![place.clone()]), frame)?[0];
        Ok(Area::Circle { centre_m, radius_m })
    };
    match kind {
        "Polygon" => Ok(vec![polygon(coordinates)?]),
        "MultiPolygon" => several(&polygon),
        "LineString" => Ok(vec![strip(coordinates)?]),
        "MultiLineString" => several(&strip),
        "Point" => Ok(vec![circle(coordinates)?]),
        "MultiPoint" => several(&circle),
        other => Err(fault(
            "geometry",
            format!("the geometry {other}"),
            "a Polygon, LineString, Point or several of one of them",
        )),
    }
}
