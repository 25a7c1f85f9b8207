//! What a file of features holds: shapes in longitude and latitude, each with its properties and its line.

use std::collections::BTreeMap;

/// The largest text that is read for its features, in bytes: the parts of a city's map. Estimate.
pub const BYTES_AT_MOST: usize = 64 << 20;

/// Most positions of all features of a file. Estimate: some 50 MB in memory.
pub const POSITIONS_AT_MOST: usize = 2_000_000;

/// A place on Earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    /// Longitude, east positive.
    pub lon_deg: f64,
    /// Latitude, north positive.
    pub lat_deg: f64,
    /// Height, when the file states one; above what says [`Feature::heights`].
    pub height_m: Option<f64>,
    /// Line of the file, counted from 1.
    pub line: usize,
}

impl Position {
    /// The place of two numbers that lie on Earth.
    pub(super) fn new(lon_deg: f64, lat_deg: f64, height_m: Option<f64>, line: usize) -> Option<Position> {
        let fits = (-180.0..=180.0).contains(&lon_deg) && (-90.0..=90.0).contains(&lat_deg);
        // A height that is no number is none.
        let height_m = height_m.filter(|height_m| height_m.is_finite());
        fits.then_some(Position { lon_deg, lat_deg, height_m, line })
    }

    /// Whether both lie at the same place, whatever their height and line.
    pub fn is_at(&self, other: &Position) -> bool {
        self.lon_deg == other.lon_deg && self.lat_deg == other.lat_deg
    }
}

/// The shape of a feature, or a part of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A point.
    Point(Position),
    /// A line; closed when its last position is its first.
    Line(Vec<Position>),
    /// Rings, none of which repeats its first position at its end: the outline, then the holes in it.
    Polygon(Vec<Vec<Position>>),
}

/// A property of a feature.
#[derive(Debug, Clone, PartialEq)]
pub enum Property {
    /// A text. Formats without types have nothing else.
    Text(String),
    /// A number.
    Number(f64),
    /// Anything else, as it is written.
    Other(String),
}

/// What the heights of a file are above.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Heights {
    /// The file does not say.
    #[default]
    Unsaid,
    /// The sea.
    Sea,
    /// The ground below.
    Ground,
    /// Nothing: the shape lies on the ground, whatever heights it states.
    OnGround,
}

/// One thing of a file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Feature {
    /// What it is called in a message: `features[3]`, `way/17`.
    pub label: String,
    /// Line on which it starts, counted from 1.
    pub line: usize,
    /// Its shape, in parts where it has several.
    pub shapes: Vec<Shape>,
    /// What its heights are above.
    pub heights: Heights,
    /// Its properties.
    pub properties: BTreeMap<String, Property>,
    /// Why its shape could not be made, when it could not.
    pub trouble: Option<String>,
}

impl Feature {
    /// A property as text, when it is one.
    pub fn text(&self, key: &str) -> Option<&str> {
        match self.properties.get(key) {
            Some(Property::Text(text)) => Some(text),
            _ => None,
        }
    }
}

/// What is wrong in a file, with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Line of the place, counted from 1.
    pub line: Option<usize>,
    /// What it is about, e.g. `features[3].geometry`; empty for the whole.
    pub key: String,
    /// What was found.
    pub found: String,
    /// What would be accepted.
    pub accepted: String,
}

impl Fault {
    /// A fault on a line.
    pub fn at(line: usize, key: impl Into<String>, found: impl Into<String>, accepted: impl Into<String>) -> Fault {
        Fault { line: Some(line), key: key.into(), found: found.into(), accepted: accepted.into() }
    }
}

/// The fault of a file with too many positions or too much text, found before either takes memory.
pub(super) fn too_large(text: &str) -> Option<Fault> {
    (text.len() > BYTES_AT_MOST).then(|| {
        let found = format!("a file of {} MB", text.len() >> 20);
        Fault::at(
            1,
            "",
            found,
            format!("at most {} MB of features; cut out what lies around the site", BYTES_AT_MOST >> 20),
        )
    })
}

/// Counts positions as they are read.
#[derive(Debug, Default)]
pub(super) struct Counted(usize);

impl Counted {
    /// Counts one more, or tells that there are too many.
    pub(super) fn one(&mut self, line: usize) -> Result<(), Fault> {
        self.0 += 1;
        if self.0 <= POSITIONS_AT_MOST {
            return Ok(());
        }
        Err(Fault::at(
            line,
            "",
            format!("more than {POSITIONS_AT_MOST} positions"),
            "fewer: cut out what lies around the site",
        ))
    }
}

/// A ring without the position that repeats its first.
pub(super) fn opened(mut ring: Vec<Position>) -> Vec<Position> {
    if ring.len() > 1 && ring[0].is_at(&ring[ring.len() - 1]) {
        ring.pop();
    }
    ring
}

/// The first characters of what was found.
pub(super) fn shortened(text: &str) -> String {
    text.chars().take(60).collect()
}
