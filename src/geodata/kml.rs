//! KML 2.2/2.3: placemarks in any folders, with their extended data as properties.
//!
//! Links to other files, overlays, models and styles are no features; a link is refused, for what it holds would be missing.

use super::feature::{Counted, Fault, Feature, Heights, Position, Property, Shape, opened, shortened};
use super::xml::{Node, Xml};

const FORMAT: &str = "KML 2.2";

/// The placemarks of a text, in its order.
///
/// # Errors
/// What is no KML, with its line. No text makes it panic.
pub fn read(text: &str) -> Result<Vec<Feature>, Fault> {
    let mut reader = Reader {
        xml: Xml::new(text, FORMAT)?,
        counted: Counted::default(),
        path: Vec::new(),
        found: Vec::new(),
        open: None,
    };
    loop {
        match reader.xml.next()? {
            Node::Open(tag) => {
                let name = tag.local_name().as_ref().to_string();
                let [attribute] = if matches!(name.as_str(), "Data" | "SimpleData") {
                    reader.xml.attributes(&tag, ["name"])?
                } else {
                    [None]
                };
                reader.begin(name, attribute)?;
            }
            Node::Text(part) => {
                if let Some(taken) = reader.open.as_mut().and_then(|open| open.taken.as_mut()) {
                    taken.text.push_str(&part);
                }
            }
            Node::Close(_) => reader.end()?,
            Node::End => return Ok(reader.found),
        }
    }
}

/// Text being gathered, and the line on which its element begins.
struct Taken {
    text: String,
    line: usize,
}

/// The placemark being read.
#[derive(Default)]
struct Open {
    feature: Feature,
    /// Rings of the polygon being read, the outline first.
    rings: Vec<Vec<Position>>,
    /// Places of the track being read.
    track: Vec<Position>,
    /// Name of the datum being read.
    datum: Option<String>,
    taken: Option<Taken>,
}

struct Reader<'t> {
    xml: Xml<'t>,
    counted: Counted,
    /// Names of the elements that are open, the outermost first.
    path: Vec<String>,
    found: Vec<Feature>,
    open: Option<Open>,
}

impl Reader<'_> {
    fn begin(&mut self, name: String, attribute: Option<String>) -> Result<(), Fault> {
        let line = self.xml.line();
        match (name.as_str(), &mut self.open) {
            ("NetworkLink", _) => {
                return Err(self
                    .xml
                    .fault("a link to another file, which is not followed", "the placemarks themselves"));
            }
            ("Placemark", Some(_)) => {
                return Err(self.xml.fault("a placemark within a placemark", "placemarks beside each other"));
            }
            // Without another word a shape lies on the ground.
            ("Placemark", open) => {
                let label = format!("Placemark[{}]", self.found.len());
                *open = Some(Open {
                    feature: Feature { label, line, heights: Heights::OnGround, ..Feature::default() },
                    ..Open::default()
                });
            }
            (_, None) => {}
            ("Polygon", Some(open)) => open.rings.clear(),
            ("Track", Some(open)) => open.track.clear(),
            ("Data" | "SimpleData", Some(open)) => {
                open.datum = attribute;
                open.taken = (name == "SimpleData").then(|| Taken { text: String::new(), line });
            }
            ("name" | "value" | "coordinates" | "coord" | "altitudeMode", Some(open)) => {
                open.taken = Some(Taken { text: String::new(), line });
            }
            _ => {}
        }
        self.path.push(name);
        Ok(())
    }

    /// The element around the one that ends.
    fn around(&self) -> &str {
        self.path.last().map_or("", String::as_str)
    }

    fn end(&mut self) -> Result<(), Fault> {
        let Some(name) = self.path.pop() else { return Ok(()) };
        let around = self.around().to_string();
        let within_hole = self.path.iter().rev().take(2).any(|name| name == "innerBoundaryIs");
        let in_polygon = self.path.iter().any(|name| name == "Polygon");
        let Some(open) = &mut self.open else { return Ok(()) };
        match name.as_str() {
            "name" | "value" | "SimpleData" | "coordinates" | "coord" | "altitudeMode" => {
                let Some(taken) = open.taken.take() else { return Ok(()) };
                let text = taken.text.trim();
                match (name.as_str(), around.as_str()) {
                    ("name", "Placemark") if !text.is_empty() => {
                        open.feature.properties.entry("name".into()).or_insert(Property::Text(text.into()));
                    }
                    ("value", "Data") | ("SimpleData", _) => {
                        if let Some(datum) = open.datum.clone() {
                            open.feature.properties.insert(datum, Property::Text(text.into()));
                        }
                    }
                    ("altitudeMode", _) => open.feature.heights = heights(text),
                    ("coordinates", "Point" | "LineString" | "LinearRing") => {
                        let places = coordinates(&taken, &mut self.counted)?;
                        match around.as_str() {
                            "Point" => open.feature.shapes.extend(places.into_iter().take(1).map(Shape::Point)),
                            "LinearRing" if within_hole => open.rings.push(opened(places)),
                            "LinearRing" if in_polygon => open.rings.insert(0, opened(places)),
                            _ => open.feature.shapes.push(Shape::Line(places)),
                        }
                    }
                    ("coord", "Track") => {
                        self.counted.one(taken.line)?;
                        let place = position(text, char::is_whitespace, taken.line);
                        open.track.push(place.ok_or_else(|| wrong(text, "longitude latitude height", taken.line))?);
                    }
                    _ => {}
                }
            }
            "Data" => open.datum = None,
            "Polygon" => open.feature.shapes.push(Shape::Polygon(std::mem::take(&mut open.rings))),
            "Track" => open.feature.shapes.push(Shape::Line(std::mem::take(&mut open.track))),
            "Placemark" => self.found.extend(self.open.take().map(|open| open.feature)),
            _ => {}
        }
        Ok(())
    }
}

/// What `altitudeMode` (KML 2.2) says of the heights beside it.
fn heights(mode: &str) -> Heights {
    match mode {
        "absolute" => Heights::Sea,
        "relativeToGround" | "relativeToSeaFloor" => Heights::Ground,
        _ => Heights::OnGround,
    }
}

/// Places in the text of `coordinates`: each longitude, latitude and perhaps height, joined by commas.
fn coordinates(taken: &Taken, counted: &mut Counted) -> Result<Vec<Position>, Fault> {
    let mut found = Vec::new();
    for (number, line) in taken.text.split('\n').enumerate() {
        let line_number = taken.line + number;
        for part in line.split_whitespace() {
            counted.one(line_number)?;
            let place = position(part, |letter| letter == ',', line_number);
            found.push(
                place.ok_or_else(|| wrong(part, "longitude,latitude,height without spaces between", line_number))?,
            );
        }
    }
    Ok(found)
}

fn position(text: &str, between: impl Fn(char) -> bool, line: usize) -> Option<Position> {
    let mut numbers = text.split(between).filter(|part| !part.is_empty()).map(|part| part.parse::<f64>().ok());
    let (lon_deg, lat_deg) = (numbers.next()??, numbers.next()??);
    let height_m = match numbers.next() {
        None => None,
        Some(height_m) => Some(height_m?),
    };
    if numbers.next().is_some() {
        return None;
    }
    Position::new(lon_deg, lat_deg, height_m, line)
}

fn wrong(text: &str, form: &str, line: usize) -> Fault {
    let found = format!("the position {}", shortened(text));
    Fault::at(line, "coordinates", found, format!("{form}, in degrees and metres"))
}
