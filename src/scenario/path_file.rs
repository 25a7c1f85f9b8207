//! What a path file holds, for whoever makes a scenario that names it.

use super::diagnostic::Diagnostic;
use super::files::Files;
use super::sink::{FileFault, Sink};
use super::track::read_track;
use crate::geodata::feature::{Heights, Position};
use crate::geodata::text_of;
use toml::de::DeTable;

/// One point of a path file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathPoint {
    /// Geodetic latitude, north positive.
    pub lat_deg: f64,
    /// Longitude, east positive.
    pub lon_deg: f64,
    /// Height as the file states it, if it does; above what, the file or a scenario says.
    pub height_m: Option<f64>,
}

/// A path file.
#[derive(Debug, Clone, PartialEq)]
pub struct PathFile {
    /// Its points, at least one.
    pub points: Vec<PathPoint>,
    /// What the file itself says that its heights are above.
    pub heights: Heights,
}

/// A path file as a scenario that names it under `path.file` reads it.
///
/// # Errors
/// What is wrong with the file, with its place and what would be accepted.
pub fn path_file(name: &str, files: &dyn Files) -> Result<PathFile, Vec<Diagnostic>> {
    let accepted = || "a path file that is there".to_string();
    let whole = |found: String, accepted: String| FileFault { line: None, key: String::new(), found, accepted };
    let read = files
        .read(name)
        .map_err(|why| (String::new(), whole(format!("a file that cannot be read: {why}"), accepted())));
    let text = read.and_then(|bytes| {
        text_of(bytes)
            .map_err(|_| (String::new(), whole("a file that is not text".into(), "a path file in UTF-8".into())))
    });
    let track = text.and_then(|text| read_track(name, &text).map_err(|fault| (text, fault)));
    match track {
        Ok(track) => {
            let point = |at: &Position| PathPoint { lat_deg: at.lat_deg, lon_deg: at.lon_deg, height_m: at.height_m };
            Ok(PathFile { points: track.points.iter().map(point).collect(), heights: track.heights })
        }
        Err((text, fault)) => {
            let document = DeTable::new();
            let sink = Sink::new(name, "".into(), &document);
            sink.push_in(name, &text.into(), fault);
            Err(sink.diagnostics.take())
        }
    }
}
