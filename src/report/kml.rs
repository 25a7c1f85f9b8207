//! KML 2.2 (OGC 07-147r2): what the GeoJSON holds, in folders, without a style.
//!
//! What lies on the ground is clamped to it, which is the standard's default. What flies has a height: above mean sea level where the
//! scenario says how high it lies (`absolute`), else above the ground, which then is level with the take-off spot (`relativeToGround`).

use super::earth::{Feature, Features, Positions, Shape, Surface};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};
use serde_json::Value;
use std::io::{self, Write};

type Xml<'w> = Writer<&'w mut dyn Write>;

/// Groups that start out hidden: a pin per place hides the map.
const HIDDEN: [&str; 1] = ["along the path"];

/// Writes features, those of a group in a folder, in the order in which the groups first come.
///
/// # Errors
/// Those of the writer.
pub fn write(features: &Features, out: &mut dyn Write) -> io::Result<()> {
    let mut xml = Writer::new_with_indent(out, b' ', 1);
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let root = BytesStart::new("kml").with_attributes([("xmlns", "http://www.opengis.net/kml/2.2")]);
    xml.write_event(Event::Start(root))?;
    within(&mut xml, "Document", |xml| {
        text(xml, "name", &features.title)?;
        let invented = if features.invented { "Place and craft are invented. " } else { "" };
        text(xml, "description", &format!("{invented}{}.", features.about_heights()))?;
        let mut groups: Vec<&str> = Vec::new();
        for feature in &features.list {
            if !groups.contains(&feature.group.as_str()) {
                groups.push(&feature.group);
            }
        }
        groups.into_iter().try_for_each(|group| folder(xml, features, group))
    })?;
    xml.write_event(Event::End(BytesEnd::new("kml")))?;
    let out = xml.into_inner();
    out.write_all(b"\n")
}

fn folder(xml: &mut Xml, features: &Features, group: &str) -> io::Result<()> {
    within(xml, "Folder", |xml| {
        text(xml, "name", group)?;
        let hidden = HIDDEN.contains(&group);
        if hidden {
            text(xml, "visibility", "0")?;
        }
        let mut own = features.list.iter().filter(|feature| feature.group == group);
        own.try_for_each(|feature| placemark(xml, features, feature, hidden))
    })
}

fn placemark(xml: &mut Xml, features: &Features, feature: &Feature, hidden: bool) -> io::Result<()> {
    within(xml, "Placemark", |xml| {
        text(xml, "name", &feature.name)?;
        if hidden {
            text(xml, "visibility", "0")?;
        }
        within(xml, "ExtendedData", |xml| {
            let known = feature.properties.iter().filter(|(_, value)| !value.is_null());
            known.into_iter().try_for_each(|(key, value)| {
                xml.create_element("Data")
                    .with_attribute(("name", *key))
                    .write_inner_content(|xml| text(xml, "value", &in_text(value)))?;
                Ok(())
            })
        })?;
        shape(xml, &Raised::of(features, feature), &feature.shape)
    })
}

/// A value as text; several with spaces between.
fn in_text(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(list) => list.iter().map(in_text).collect::<Vec<_>>().join(" "),
        other => other.to_string(),
    }
}

/// Heights of the positions of a feature, and from what.
struct Raised {
    mode: Option<&'static str>,
    heights_m: Vec<f64>,
}

impl Raised {
    fn of(features: &Features, feature: &Feature) -> Raised {
        // What stands on the ground is not held in the air by an error of somebody's ground model.
        if feature.up_m.iter().all(|up_m| *up_m == 0.0) {
            return Raised { mode: None, heights_m: Vec::new() };
        }
        let amsl: Option<Vec<f64>> = feature.up_m.iter().map(|up_m| features.amsl_m(*up_m)).collect();
        match amsl {
            Some(heights_m) => Raised { mode: Some("absolute"), heights_m },
            None => Raised { mode: Some("relativeToGround"), heights_m: feature.up_m.clone() },
        }
    }

    fn coordinates(&self, positions: &[[f64; 2]]) -> String {
        let one = |(index, [lon, lat]): (usize, &[f64; 2])| match self.heights_m.get(index) {
            Some(height_m) => format!("{lon},{lat},{}", (height_m * 100.0).round() / 100.0),
            None => format!("{lon},{lat}"),
        };
        positions.iter().enumerate().map(one).collect::<Vec<_>>().join(" ")
    }

    fn mode(&self, xml: &mut Xml) -> io::Result<()> {
        self.mode.map_or(Ok(()), |mode| text(xml, "altitudeMode", mode))
    }
}

fn shape(xml: &mut Xml, raised: &Raised, shape: &Shape) -> io::Result<()> {
    match shape {
        Shape::Point(position) => point(xml, raised, *position),
        Shape::Line(positions) => line(xml, raised, positions),
        Shape::Points(positions) => several(xml, positions, |xml, position| point(xml, raised, *position)),
        Shape::Lines(lines) => several(xml, lines, |xml, positions| line(xml, raised, positions)),
        Shape::Surfaces(surfaces) => several(xml, surfaces, |xml, surface| polygon(xml, raised, surface)),
    }
}

/// One geometry alone, several together.
fn several<T>(xml: &mut Xml, list: &[T], write: impl Fn(&mut Xml, &T) -> io::Result<()>) -> io::Result<()> {
    match list {
        [only] => write(xml, only),
        _ => within(xml, "MultiGeometry", |xml| list.iter().try_for_each(|one| write(xml, one))),
    }
}

fn point(xml: &mut Xml, raised: &Raised, position: [f64; 2]) -> io::Result<()> {
    within(xml, "Point", |xml| {
        raised.mode(xml)?;
        text(xml, "coordinates", &raised.coordinates(&[position]))
    })
}

fn line(xml: &mut Xml, raised: &Raised, positions: &Positions) -> io::Result<()> {
    within(xml, "LineString", |xml| {
        if raised.mode.is_none() {
            // Follows the ground between its positions.
            text(xml, "tessellate", "1")?;
        }
        raised.mode(xml)?;
        text(xml, "coordinates", &raised.coordinates(positions))
    })
}

fn polygon(xml: &mut Xml, raised: &Raised, surface: &Surface) -> io::Result<()> {
    let ring = |xml: &mut Xml, place: &str, positions: &Positions| {
        within(xml, place, |xml| {
            within(xml, "LinearRing", |xml| text(xml, "coordinates", &raised.coordinates(positions)))
        })
    };
    within(xml, "Polygon", |xml| {
        text(xml, "tessellate", "1")?;
        ring(xml, "outerBoundaryIs", &surface.outer)?;
        surface.holes.iter().try_for_each(|hole| ring(xml, "innerBoundaryIs", hole))
    })
}

fn within(xml: &mut Xml, name: &str, inside: impl FnOnce(&mut Xml) -> io::Result<()>) -> io::Result<()> {
    xml.write_event(Event::Start(BytesStart::new(name)))?;
    inside(xml)?;
    xml.write_event(Event::End(BytesEnd::new(name)))
}

fn text(xml: &mut Xml, name: &str, content: &str) -> io::Result<()> {
    xml.create_element(name).write_text_content(BytesText::new(content))?;
    Ok(())
}
