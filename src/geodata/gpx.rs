//! GPX 1.1: tracks, routes and waypoints as lines and points.

use super::feature::{Counted, Fault, Feature, Heights, Position, Property, Shape, shortened};
use super::xml::{Node, Xml};
use quick_xml::events::BytesStart;

const FORMAT: &str = "GPX 1.1";

/// Heights of more than this either way are no heights.
const HEIGHT_AT_MOST_M: f64 = 20_000.0;

/// What a line or a point is made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Track,
    Route,
    Waypoint,
}

/// The tracks of a text, then its routes, then its waypoints. The segments of a track are joined.
///
/// # Errors
/// What is no GPX, with its line. No text makes it panic.
pub fn read(text: &str) -> Result<Vec<Feature>, Fault> {
    let mut xml = Xml::new(text, FORMAT)?;
    let mut counted = Counted::default();
    let mut found: Vec<(Kind, Feature)> = Vec::new();
    let mut numbers = [0usize; 3];
    // What is being read: a feature, its points, the text of an element that counts.
    let mut open: Option<(Kind, Feature, Vec<Position>)> = None;
    let mut in_point = false;
    let mut taken: Option<String> = None;
    loop {
        match xml.next()? {
            Node::Open(tag) => match tag.local_name().as_ref() {
                name @ ("trk" | "rte" | "wpt") => {
                    let (kind, label) = match name {
                        "trk" => (Kind::Track, "trk"),
                        "rte" => (Kind::Route, "rte"),
                        _ => (Kind::Waypoint, "wpt"),
                    };
                    counted.one(xml.line())?;
                    let number = &mut numbers[kind as usize];
                    let label = format!("{label}[{number}]");
                    *number += 1;
                    let feature = Feature { label, line: xml.line(), heights: Heights::Sea, ..Feature::default() };
                    let mut points = Vec::new();
                    in_point = kind == Kind::Waypoint;
                    if in_point {
                        points.push(point(&xml, &tag)?);
                    }
                    open = Some((kind, feature, points));
                }
                "trkpt" | "rtept" => {
                    counted.one(xml.line())?;
                    let place = point(&xml, &tag)?;
                    if let Some((_, _, points)) = &mut open {
                        points.push(place);
                        in_point = true;
                    }
                }
                "ele" if in_point => taken = Some(String::new()),
                "name" if !in_point && open.is_some() => taken = Some(String::new()),
                _ => {}
            },
            Node::Text(part) => {
                if let Some(text) = &mut taken {
                    text.push_str(&part);
                }
            }
            Node::Close(name) => match name.as_str() {
                "ele" | "name" => {
                    let (Some(text), Some((_, feature, points))) = (taken.take(), &mut open) else { continue };
                    if name == "name" {
                        feature.properties.insert("name".into(), Property::Text(text.trim().into()));
                    } else if let Some(place) = points.last_mut() {
                        place.height_m = Some(height_m(&xml, &text)?);
                    }
                }
                "trkpt" | "rtept" => in_point = false,
                "trk" | "rte" | "wpt" => {
                    in_point = false;
                    if let Some((kind, mut feature, points)) = open.take() {
                        feature.shapes = match kind {
                            Kind::Waypoint => points.into_iter().map(Shape::Point).collect(),
                            _ => vec![Shape::Line(points)],
                        };
                        found.push((kind, feature));
                    }
                }
                _ => {}
            },
            Node::End => break,
        }
    }
    found.sort_by_key(|(kind, _)| *kind);
    Ok(found.into_iter().map(|(_, feature)| feature).collect())
}

fn point(xml: &Xml, tag: &BytesStart) -> Result<Position, Fault> {
    let [lat, lon] = xml.attributes(tag, ["lat", "lon"])?;
    let degrees = |key: &str, raw: Option<String>, limit: f64| {
        let number = raw.as_deref().and_then(|raw| raw.trim().parse::<f64>().ok());
        number.filter(|number| number.abs() <= limit).ok_or_else(|| {
            let found = raw.map_or(format!("a point without `{key}`"), |raw| format!("{key}=\"{}\"", shortened(&raw)));
            xml.fault(found, format!("`{key}` in degrees, -{limit} to {limit}"))
        })
    };
    let (lat_deg, lon_deg) = (degrees("lat", lat, 90.0)?, degrees("lon", lon, 180.0)?);
    Ok(Position { lon_deg, lat_deg, height_m: None, line: xml.line() })
}

fn height_m(xml: &Xml, text: &str) -> Result<f64, Fault> {
    let number = text.trim().parse::<f64>().ok().filter(|number| number.abs() < HEIGHT_AT_MOST_M);
    number.ok_or_else(|| xml.fault(format!("the height \"{}\"", shortened(text.trim())), "a number of metres"))
}
