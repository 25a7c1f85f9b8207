//! GeoJSON (RFC 7946): longitude before latitude on WGS 84, outer rings anticlockwise, no colours.
//!
//! Positions have no third number: the standard takes it for a height above the ellipsoid, and what a scenario states is above the
//! take-off spot or above mean sea level. Heights are properties whose names say which.

use super::earth::{Feature, Features, Positions, Shape};
use serde_json::{Value, json};
use std::io::{self, Write};

/// Writes features, a line each.
///
/// # Errors
/// Those of the writer.
pub fn write(features: &Features, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{{\"type\":\"FeatureCollection\",")?;
    writeln!(out, "\"title\":{},", Value::from(features.title.as_str()))?;
    writeln!(out, "\"invented\":{},", features.invented)?;
    writeln!(out, "\"heights\":{},", Value::from(features.about_heights()))?;
    writeln!(out, "\"origin_deg\":{},", json!(features.origin_deg))?;
    writeln!(out, "\"features\":[")?;
    for (index, feature) in features.list.iter().enumerate() {
        let comma = if index == 0 { "" } else { ",\n" };
        write!(out, "{comma}{{\"type\":\"Feature\",\"geometry\":{},\"properties\":{{", geometry(&feature.shape))?;
        properties(feature, out)?;
        write!(out, "}}}}")?;
    }
    writeln!(out, "\n]}}")
}

/// The properties in their order, the name among them.
fn properties(feature: &Feature, out: &mut dyn Write) -> io::Result<()> {
    let name = ("name", Value::from(feature.name.as_str()));
    for (index, (key, value)) in feature.properties.iter().chain(std::iter::once(&name)).enumerate() {
        let comma = if index == 0 { "" } else { "," };
        write!(out, "{comma}\"{key}\":{value}")?;
    }
    Ok(())
}

fn geometry(shape: &Shape) -> String {
    let (kind, coordinates) = match shape {
        Shape::Point(position) => ("Point", json!(position)),
        Shape::Points(positions) => ("MultiPoint", json!(positions)),
        Shape::Line(line) => ("LineString", json!(line)),
        Shape::Lines(lines) => ("MultiLineString", json!(lines)),
        Shape::Surfaces(surfaces) => {
            let mut rings = surfaces
                .iter()
                .map(|surface| -> Vec<&Positions> { std::iter::once(&surface.outer).chain(&surface.holes).collect() });
            match surfaces.as_slice() {
                [_] => ("Polygon", json!(rings.next())),
                _ => ("MultiPolygon", json!(rings.collect::<Vec<_>>())),
            }
        }
    };
    format!("{{\"type\":\"{kind}\",\"coordinates\":{coordinates}}}")
}
