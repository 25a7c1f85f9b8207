//! GeoJSON (RFC 7946): features with their lines.

use super::feature::{Counted, Fault, Feature, Position, Property, Shape, opened, shortened, too_large};
use serde::Deserialize;
use serde_json::value::RawValue;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

const ACCEPTED: &str = "GeoJSON (RFC 7946)";

/// Geometries within geometries up to this.
const DEPTH_AT_MOST: usize = 8;

/// The outermost object. Features stay text until each is read: its line is the place of that text.
#[derive(Deserialize)]
struct Whole<'t> {
    #[serde(rename = "type", default)]
    kind: Option<Value>,
    #[serde(borrow, default)]
    features: Option<Vec<&'t RawValue>>,
    #[serde(default)]
    crs: Option<Value>,
}

/// The features of a text.
///
/// # Errors
/// What is no GeoJSON, with its line. No text makes it panic.
pub fn read(text: &str) -> Result<Vec<Feature>, Fault> {
    if let Some(fault) = too_large(text) {
        return Err(fault);
    }
    let whole: Whole = serde_json::from_str(text).map_err(|fault| grammar(&fault, 1))?;
    check_reference(whole.crs.as_ref())?;
    let mut counted = Counted::default();
    match whole.kind.as_ref().and_then(Value::as_str) {
        Some("FeatureCollection") => {
            let mut lines = Lines::new(text);
            let list = whole.features.unwrap_or_default();
            list.iter()
                .enumerate()
                .map(|(index, raw)| {
                    read_feature(raw.get(), format!("features[{index}]"), lines.of(raw.get()), &mut counted)
                })
                .collect()
        }
        Some("Feature") => {
            let lead = text.len() - text.trim_start().len();
            let line = 1 + text[..lead].matches('\n').count();
            Ok(vec![read_feature(text.trim_start(), "features[0]".into(), line, &mut counted)?])
        }
        _ => Err(Fault::at(1, "type", "no feature", "a GeoJSON `FeatureCollection` or `Feature`")),
    }
}

fn grammar(fault: &serde_json::Error, first_line: usize) -> Fault {
    Fault::at(first_line + fault.line().max(1) - 1, "", fault.to_string(), ACCEPTED)
}

/// Earlier files name a reference system of their coordinates.
fn check_reference(crs: Option<&Value>) -> Result<(), Fault> {
    let Some(crs) = crs.filter(|crs| !crs.is_null()) else { return Ok(()) };
    let name = crs.pointer("/properties/name").and_then(Value::as_str).unwrap_or("without a name");
    if name.ends_with("CRS84") || name.ends_with("4326") {
        return Ok(());
    }
    let found = format!("coordinates in the reference system {}", shortened(name));
    Err(Fault::at(1, "crs", found, "longitude and latitude in degrees (WGS 84)"))
}

/// Lines of places in a text that come in rising order.
struct Lines<'t> {
    text: &'t str,
    counted: usize,
    line: usize,
}

impl<'t> Lines<'t> {
    fn new(text: &'t str) -> Lines<'t> {
        Lines { text, counted: 0, line: 1 }
    }

    /// Line on which a part of the text starts.
    fn of(&mut self, part: &str) -> usize {
        let at = (part.as_ptr() as usize).wrapping_sub(self.text.as_ptr() as usize).min(self.text.len());
        let between = self.text.as_bytes().get(self.counted..at).unwrap_or_default();
        self.line += between.iter().filter(|byte| **byte == b'\n').count();
        self.counted = self.counted.max(at);
        self.line
    }
}

fn read_feature(text: &str, label: String, line: usize, counted: &mut Counted) -> Result<Feature, Fault> {
    let value: Value = serde_json::from_str(text).map_err(|fault| grammar(&fault, line))?;
    let mut feature = Feature { label, line, ..Feature::default() };
    if value.get("type").and_then(Value::as_str) != Some("Feature") {
        return Err(Fault::at(line, format!("{}.type", feature.label), "no feature", "`\"type\": \"Feature\"`"));
    }
    if let Some(Value::Object(properties)) = value.get("properties") {
        feature.properties = read_properties(properties);
    }
    let mut reader = Reader { line, key: format!("{}.geometry", feature.label), counted };
    reader.geometry(value.get("geometry").unwrap_or(&Value::Null), &mut feature.shapes, 0)?;
    Ok(feature)
}

/// Properties; those of an object `tags` within them count as their own, as some exports of a map have them.
fn read_properties(properties: &Map<String, Value>) -> BTreeMap<String, Property> {
    let one = |(key, value): (&String, &Value)| {
        let property = match value {
            Value::Null => return None,
            Value::String(text) => Property::Text(text.clone()),
            Value::Number(number) => number.as_f64().map_or(Property::Other(number.to_string()), Property::Number),
            other => Property::Other(shortened(&other.to_string())),
        };
        Some((key.clone(), property))
    };
    let mut found: BTreeMap<String, Property> = match properties.get("tags") {
        Some(Value::Object(tags)) => tags.iter().filter_map(one).collect(),
        _ => BTreeMap::new(),
    };
    found.extend(properties.iter().filter(|(key, value)| *key != "tags" || !value.is_object()).filter_map(one));
    found
}

/// Reads the geometry of one feature.
struct Reader<'c> {
    line: usize,
    key: String,
    counted: &'c mut Counted,
}

impl Reader<'_> {
    fn fault(&self, found: impl Into<String>, accepted: &str) -> Fault {
        Fault::at(self.line, self.key.clone(), found, accepted)
    }

    fn geometry(&mut self, geometry: &Value, shapes: &mut Vec<Shape>, depth: usize) -> Result<(), Fault> {
        if geometry.is_null() {
            return Ok(());
        }
        if depth > DEPTH_AT_MOST {
            return Err(self.fault("collections within collections", "a geometry of no more than 8 levels"));
        }
        let kind = geometry.get("type").and_then(Value::as_str).unwrap_or("nothing");
        let coordinates = geometry.get("coordinates").unwrap_or(&Value::Null);
        match kind {
            "Point" => shapes.push(Shape::Point(self.position(coordinates)?)),
            "MultiPoint" => {
                for point in self.list(coordinates)? {
                    shapes.push(Shape::Point(self.position(point)?));
                }
            }
            "LineString" => shapes.push(Shape::Line(self.line(coordinates)?)),
            "MultiLineString" => {
                for line in self.list(coordinates)? {
                    shapes.push(Shape::Line(self.line(line)?));
                }
            }
            "Polygon" => shapes.push(self.polygon(coordinates)?),
            "MultiPolygon" => {
                for polygon in self.list(coordinates)? {
                    shapes.push(self.polygon(polygon)?);
                }
            }
            "GeometryCollection" => {
                for part in self.list(geometry.get("geometries").unwrap_or(&Value::Null))? {
                    self.geometry(part, shapes, depth + 1)?;
                }
            }
            other => {
                let found = format!("the geometry {}", shortened(other));
                return Err(self.fault(found, "a Polygon, LineString, Point or several of them"));
            }
        }
        Ok(())
    }

    fn list<'v>(&self, value: &'v Value) -> Result<&'v [Value], Fault> {
        let list = value.as_array().filter(|list| !list.is_empty());
        list.map(Vec::as_slice).ok_or_else(|| self.fault("no coordinates", "coordinates of its type"))
    }

    fn position(&mut self, value: &Value) -> Result<Position, Fault> {
        self.counted.one(self.line)?;
        let number = |index: usize| value.get(index).and_then(Value::as_f64);
        let place = number(0).zip(number(1)).and_then(|(lon, lat)| Position::new(lon, lat, number(2), self.line));
        place.ok_or_else(|| {
            let found = format!("the position {}", shortened(&value.to_string()));
            self.fault(found, "[longitude, latitude] in degrees, with a height if there is one")
        })
    }

    fn line(&mut self, value: &Value) -> Result<Vec<Position>, Fault> {
        let list =
            value.as_array().ok_or_else(|| self.fault("no list of positions", "positions [longitude, latitude]"))?;
        list.iter().map(|position| self.position(position)).collect()
    }

    fn polygon(&mut self, value: &Value) -> Result<Shape, Fault> {
        let rings = value.as_array().filter(|rings| !rings.is_empty());
        let rings = rings.ok_or_else(|| self.fault("a polygon without a ring", "a polygon with an outline"))?;
        let rings: Result<_, Fault> = rings.iter().map(|ring| Ok(opened(self.line(ring)?))).collect();
        Ok(Shape::Polygon(rings?))
    }
}
