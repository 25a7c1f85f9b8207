//! The open map's raw export in XML: nodes, ways and multipolygon relations as features with their tags.
//!
//! Whatever carries a tag becomes a feature, also where its shape cannot be made: [`Feature::trouble`] says why. What carries none only
//! gives shape to others. A closed way is a closed line; whether it means the area inside is a question of its tags.

use super::feature::{Counted, Fault, Feature, Position, Property, Shape, opened, shortened};
use super::xml::{Node, Xml};
use quick_xml::events::BytesStart;
use std::collections::{BTreeMap, HashMap};

const FORMAT: &str = "the open map's XML export (`<osm>`)";

/// Most rings of one relation: beyond them it is no outline that a site needs.
const RINGS_AT_MOST: usize = 2_000;

/// Most comparisons of holes with outlines in one relation.
const COMPARED_AT_MOST: usize = 100_000_000;

/// Tags of an element, by their key.
type Tags = BTreeMap<String, Property>;

/// What is read of an element before its shape is made.
#[derive(Default)]
struct Element {
    id: i64,
    line: usize,
    deleted: bool,
    tags: Tags,
    place: Option<Position>,
    nodes: Vec<i64>,
    /// Ways of a relation: id, and whether it bounds a hole.
    ways: Vec<Member>,
}

#[derive(Clone, Copy)]
struct Member {
    way: i64,
    inner: bool,
}

/// The export as it stands in the file.
#[derive(Default)]
struct Export {
    nodes: HashMap<i64, Position>,
    points: Vec<Element>,
    ways: Vec<Element>,
    relations: Vec<Element>,
}

/// The features of a text: nodes, ways, relations, each in its order.
///
/// # Errors
/// What is no such export, with its line. No text makes it panic.
pub fn read(text: &str) -> Result<Vec<Feature>, Fault> {
    let export = gather(text)?;
    let mut counted = Counted::default();
    let ways: HashMap<i64, &[i64]> = export.ways.iter().map(|way| (way.id, way.nodes.as_slice())).collect();
    let mut found = Vec::new();
    for element in export.points.iter().filter(|element| !element.tags.is_empty()) {
        found.push(element.feature("node", element.place.map(Shape::Point).ok_or("without a place")));
    }
    for element in export.ways.iter().filter(|element| !element.tags.is_empty()) {
        let shape = line_of(&element.nodes, &export.nodes, &mut counted, element.line)?;
        found.push(element.feature("way", shape.map(Shape::Line)));
    }
    for element in export.relations.iter().filter(|element| !element.tags.is_empty()) {
        let shapes = if matches!(element.tags.get("type"), Some(Property::Text(kind)) if kind == "multipolygon") {
            polygons(element, &ways, &export.nodes, &mut counted)?
        } else {
            Err("a relation that is no multipolygon: its members count by their own tags")
        };
        let mut feature =
            element.feature("relation", shapes.as_ref().map(|_| Shape::Line(Vec::new())).map_err(|why| *why));
        feature.shapes = shapes.unwrap_or_default();
        found.push(feature);
    }
    Ok(found)
}

impl Element {
    fn feature(&self, kind: &str, shape: Result<Shape, &str>) -> Feature {
        let mut feature = Feature {
            label: format!("{kind}/{}", self.id),
            line: self.line,
            properties: self.tags.clone(),
            ..Feature::default()
        };
        match shape {
            _ if self.deleted => feature.trouble = Some("deleted in the export".into()),
            Ok(shape) => feature.shapes.push(shape),
            Err(why) => feature.trouble = Some(why.into()),
        }
        feature
    }
}

fn gather(text: &str) -> Result<Export, Fault> {
    let mut xml = Xml::new(text, FORMAT)?;
    let mut export = Export::default();
    let mut counted = Counted::default();
    let mut open: Option<Element> = None;
    let mut depth = 0;
    loop {
        match xml.next()? {
            Node::Open(tag) => {
                depth += 1;
                let name = tag.local_name().as_ref().to_string();
                match (depth, name.as_str()) {
                    (1, "osm") => {}
                    (1, _) => return Err(xml.fault(format!("the element `{name}`"), FORMAT)),
                    (2, "node" | "way" | "relation") => open = Some(element(&xml, &tag, &name)?),
                    (3, _) => {
                        if let Some(element) = &mut open {
                            part(&xml, &tag, &name, element, &mut counted)?;
                        }
                    }
                    _ => {}
                }
            }
            Node::Close(name) => {
                if depth == 2
                    && let Some(element) = open.take()
                {
                    match name.as_str() {
                        "node" => {
                            if let Some(place) = element.place.filter(|_| !element.deleted) {
                                counted.one(element.line)?;
                                export.nodes.insert(element.id, place);
                            }
                            if !element.tags.is_empty() {
                                export.points.push(element);
                            }
                        }
                        "way" => export.ways.push(element),
                        _ => export.relations.push(element),
                    }
                }
                depth -= 1;
            }
            Node::Text(_) => {}
            Node::End => return Ok(export),
        }
    }
}

fn number<T: std::str::FromStr>(xml: &Xml, key: &str, raw: Option<&String>) -> Result<T, Fault> {
    let number = raw.and_then(|raw| raw.trim().parse().ok());
    number.ok_or_else(|| {
        let found = raw.map_or(format!("an element without `{key}`"), |raw| format!("{key}=\"{}\"", shortened(raw)));
        xml.fault(found, format!("`{key}` as a number"))
    })
}

fn element(xml: &Xml, tag: &BytesStart, name: &str) -> Result<Element, Fault> {
    let [id, lat, lon, action, visible] = xml.attributes(tag, ["id", "lat", "lon", "action", "visible"])?;
    let deleted = action.as_deref() == Some("delete") || visible.as_deref() == Some("false");
    let mut element = Element { id: number(xml, "id", id.as_ref())?, line: xml.line(), deleted, ..Element::default() };
    if name == "node" && !deleted {
        let (lat_deg, lon_deg) = (number(xml, "lat", lat.as_ref())?, number(xml, "lon", lon.as_ref())?);
        let place = Position::new(lon_deg, lat_deg, None, xml.line());
        let found = || format!("the position lat=\"{lat_deg}\" lon=\"{lon_deg}\"");
        element.place = Some(place.ok_or_else(|| xml.fault(found(), "latitude and longitude in degrees"))?);
    }
    Ok(element)
}

/// A tag, a node of a way or a member of a relation.
fn part(xml: &Xml, tag: &BytesStart, name: &str, element: &mut Element, counted: &mut Counted) -> Result<(), Fault> {
    match name {
        "tag" => {
            let [key, value] = xml.attributes(tag, ["k", "v"])?;
            if let (Some(key), Some(value)) = (key, value) {
                element.tags.insert(key, Property::Text(value));
            }
        }
        "nd" => {
            counted.one(xml.line())?;
            let [node] = xml.attributes(tag, ["ref"])?;
            element.nodes.push(number(xml, "ref", node.as_ref())?);
        }
        "member" => {
            counted.one(xml.line())?;
            let [kind, way, role] = xml.attributes(tag, ["type", "ref", "role"])?;
            if kind.as_deref() == Some("way") {
                let way = number(xml, "ref", way.as_ref())?;
                element.ways.push(Member { way, inner: role.as_deref() == Some("inner") });
            }
        }
        _ => {}
    }
    Ok(())
}

type Made<T> = Result<Result<T, &'static str>, Fault>;

fn line_of(nodes: &[i64], places: &HashMap<i64, Position>, counted: &mut Counted, line: usize) -> Made<Vec<Position>> {
    let mut found = Vec::new();
    for node in nodes {
        counted.one(line)?;
        match places.get(node) {
            Some(place) => found.push(*place),
            None => return Ok(Err("some of its nodes are not in the export")),
        }
    }
    Ok(Ok(found))
}

/// The polygons of a multipolygon: rings of its ways, each hole within the outline around it.
fn polygons(
    relation: &Element,
    ways: &HashMap<i64, &[i64]>,
    places: &HashMap<i64, Position>,
    counted: &mut Counted,
) -> Made<Vec<Shape>> {
    let mut rings: [Vec<Vec<Position>>; 2] = Default::default();
    for (inner, rings) in [false, true].into_iter().zip(&mut rings) {
        let mut lines = Vec::new();
        for member in relation.ways.iter().filter(|member| member.inner == inner) {
            match ways.get(&member.way) {
                Some(nodes) if nodes.len() > 1 => lines.push(*nodes),
                _ => return Ok(Err("some of its ways are not in the export")),
            }
        }
        let Some(joined) = joined(&lines) else { return Ok(Err("its ways make no closed outline")) };
        for ring in joined {
            match line_of(&ring, places, counted, relation.line)? {
                Ok(ring) => rings.push(opened(ring)),
                Err(why) => return Ok(Err(why)),
            }
        }
    }
    let [outlines, holes] = rings;
    let compared = holes.len().saturating_mul(outlines.iter().map(Vec::len).sum());
    if outlines.len() + holes.len() > RINGS_AT_MOST || compared > COMPARED_AT_MOST {
        return Ok(Err("an outline of too many parts"));
    }
    if outlines.is_empty() {
        return Ok(Err("without an outline"));
    }
    let mut polygons: Vec<Vec<Vec<Position>>> = outlines.into_iter().map(|outline| vec![outline]).collect();
    for hole in holes {
        let Some(first) = hole.first() else { continue };
        let around = polygons.iter_mut().find(|polygon| contains(&polygon[0], first));
        match around {
            Some(polygon) => polygon.push(hole),
            None => return Ok(Err("a hole outside of its outline")),
        }
    }
    Ok(Ok(polygons.into_iter().map(Shape::Polygon).collect()))
}

/// Closed rings out of lines that meet at their ends; `None` when one stays open.
fn joined(lines: &[&[i64]]) -> Option<Vec<Vec<i64>>> {
    let mut at: HashMap<i64, Vec<usize>> = HashMap::new();
    for (index, line) in lines.iter().enumerate() {
        for end in [line.first()?, line.last()?] {
            at.entry(*end).or_default().push(index);
        }
    }
    let mut taken = vec![false; lines.len()];
    let mut rings = Vec::new();
    for start in 0..lines.len() {
        if std::mem::replace(&mut taken[start], true) {
            continue;
        }
        let mut ring = lines[start].to_vec();
        while ring.first() != ring.last() {
            let end = *ring.last()?;
            let ends = at.get_mut(&end)?;
            // What is taken is not looked at again: together no more looks than there are ends.
            let next = loop {
                let next = ends.pop()?;
                if !taken[next] {
                    break next;
                }
            };
            taken[next] = true;
            let line = lines[next];
            if line.first() == Some(&end) {
                ring.extend(&line[1..]);
            } else {
                ring.extend(line.iter().rev().skip(1));
            }
        }
        rings.push(ring);
    }
    Some(rings)
}

/// Even-odd rule in degrees.
fn contains(ring: &[Position], point: &Position) -> bool {
    let mut inside = false;
    for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
        if (a.lat_deg > point.lat_deg) != (b.lat_deg > point.lat_deg)
            && point.lon_deg
                < a.lon_deg + (point.lat_deg - a.lat_deg) / (b.lat_deg - a.lat_deg) * (b.lon_deg - a.lon_deg)
        {
            inside = !inside;
        }
    }
    inside
}
