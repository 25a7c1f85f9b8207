//! A path from a GPX, GeoJSON or KML file.

use super::sink::FileFault;
use crate::geodata::feature::{Feature, Heights, Position, Shape};
use crate::geodata::{geojson, gpx, kml};

/// Most points a path may have.
const POINTS_AT_MOST: usize = 20_000;

/// The line of a path, and what its heights are above as far as the file says.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Track {
    pub points: Vec<Position>,
    pub heights: Heights,
}

fn fault(line: Option<usize>, found: impl Into<String>, accepted: impl Into<String>) -> FileFault {
    FileFault { line, key: String::new(), found: found.into(), accepted: accepted.into() }
}

/// Reads the first track of a GPX file (or its first route), or the first line of a GeoJSON or KML file, by the name's ending.
pub(super) fn read_track(name: &str, text: &str) -> Result<Track, FileFault> {
    let ending = name.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
    let features = match ending.as_str() {
        "gpx" => gpx::read(text)?,
        "geojson" | "json" => geojson::read(text)?,
        "kml" => kml::read(text)?,
        _ => return Err(fault(None, "a file of unknown kind", "a name ending in .gpx, .kml, .geojson or .json")),
    };
    let Some(track) = features.into_iter().find_map(first_line) else {
        return Err(fault(Some(1), "no path", "a GPX track or route, or a LineString of GeoJSON or KML"));
    };
    if let Some(beyond) = track.points.get(POINTS_AT_MOST) {
        let found = format!("a line of {} points", track.points.len());
        return Err(fault(Some(beyond.line), found, format!("at most {POINTS_AT_MOST} points")));
    }
    Ok(track)
}

fn first_line(feature: Feature) -> Option<Track> {
    let heights = feature.heights;
    feature.shapes.into_iter().find_map(|shape| match shape {
        Shape::Line(points) if !points.is_empty() => Some(Track { points, heights }),
        _ => None,
    })
}
