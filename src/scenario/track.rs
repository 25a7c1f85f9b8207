//! A path from a GPX or GeoJSON file.

use super::diagnostic::line_of;
use super::ground::{degrees, features};
use super::sink::FileFault;
use quick_xml::Reader;
use quick_xml::events::Event;
use serde_json::Value;

/// One point of a path, with the line it stands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TrackPoint {
    pub lat_deg: f64,
    pub lon_deg: f64,
    pub height_m: Option<f64>,
    pub line: usize,
}

/// Most points a path may have.
const POINTS_AT_MOST: usize = 20_000;

fn fault(line: Option<usize>, found: impl Into<String>, accepted: impl Into<String>) -> FileFault {
    FileFault { line, key: String::new(), found: found.into(), accepted: accepted.into() }
}

/// Reads the first track or route of a GPX file, or the first line of a GeoJSON file, by the name's ending.
pub(super) fn read_track(name: &str, text: &str) -> Result<Vec<TrackPoint>, FileFault> {
    let ending = name.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
    let points = match ending.as_str() {
        "gpx" => read_gpx(text)?,
        "geojson" | "json" => read_line(text)?,
        _ => return Err(fault(None, "a file of unknown kind", "a name ending in .gpx, .geojson or .json")),
    };
    if points.is_empty() {
        return Err(fault(Some(1), "no path", "a GPX track or route, or a GeoJSON LineString"));
    }
    if points.len() > POINTS_AT_MOST {
        return Err(fault(Some(1), format!("{} points", points.len()), format!("at most {POINTS_AT_MOST} points")));
    }
    Ok(points)
}

/// GPX 1.1: `trkpt` of the first `trk`, or `rtept` of the first `rte` when there is no track.
fn read_gpx(text: &str) -> Result<Vec<TrackPoint>, FileFault> {
    let mut reader = Reader::from_str(text);
    let (mut track, mut route): (Vec<TrackPoint>, Vec<TrackPoint>) = (Vec::new(), Vec::new());
    let (mut tracks, mut routes) = (0, 0);
    let mut inside: Option<&'static str> = None;
    let mut height = String::new();
    let mut in_height = false;
    // Lines are counted along with the reading: from the start for every point it takes a time that grows with its square.
    let (mut counted, mut line_now) = (0, 1);
    loop {
        let start = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
        let event = reader.read_event().map_err(|cause| {
            let at = usize::try_from(reader.error_position()).unwrap_or(start);
            fault(Some(line_of(text, at)), cause.to_string(), "GPX 1.1")
        })?;
        let at = start + text.get(start..).map_or(0, |rest| rest.len() - rest.trim_start().len());
        line_now += newlines(text, counted, at);
        counted = counted.max(at);
        let line = || line_now;
        match event {
            Event::Start(tag) | Event::Empty(tag) if matches!(tag.local_name().as_ref(), "trkpt" | "rtept") => {
                let is_track = tag.local_name().as_ref() == "trkpt";
                let degree = |key: &str, limit: f64| {
                    let raw = tag.try_get_attribute(key).ok().flatten().map(|attribute| attribute.value.into_owned());
                    let number = raw.as_deref().and_then(|raw| raw.trim().parse::<f64>().ok());
                    number.filter(|number| number.abs() <= limit).ok_or_else(|| {
                        let found = raw.map_or(format!("a point without `{key}`"), |raw| format!("{key}=\"{raw}\""));
                        fault(Some(line()), found, format!("`{key}` in degrees, -{limit} to {limit}"))
                    })
                };
                if track.len().max(route.len()) >= POINTS_AT_MOST {
                    let found = format!("more than {POINTS_AT_MOST} points");
                    return Err(fault(Some(line()), found, format!("at most {POINTS_AT_MOST} points")));
                }
                let point = TrackPoint {
                    lat_deg: degree("lat", 90.0)?,
                    lon_deg: degree("lon", 180.0)?,
                    height_m: None,
                    line: line(),
                };
                if is_track && tracks <= 1 {
                    track.push(point);
                    inside = Some("trkpt");
                } else if !is_track && routes <= 1 {
                    route.push(point);
                    inside = Some("rtept");
                }
            }
            Event::Start(tag) => match tag.local_name().as_ref() {
                "trk" => tracks += 1,
                "rte" => routes += 1,
                "ele" => {
                    in_height = inside.is_some();
                    height.clear();
                }
                _ => {}
            },
            Event::Text(part) if in_height => height.push_str(&part.xml10_content()),
            Event::End(tag) => match tag.local_name().as_ref() {
                "ele" if in_height => {
                    in_height = false;
                    let number = height.trim().parse::<f64>().ok().filter(|number| number.abs() < 20_000.0);
                    if number.is_none() {
                        return Err(fault(
                            Some(line()),
                            format!("the height \"{}\"", height.trim()),
                            "a number of metres",
                        ));
                    }
                    let points = if inside == Some("trkpt") { &mut track } else { &mut route };
                    if let Some(point) = points.last_mut() {
                        point.height_m = number;
                    }
                }
                "trkpt" | "rtept" => inside = None,
                _ => {}
            },
            Event::Eof => break,
            _ => {}
        }
    }
    Ok(if track.is_empty() { route } else { track })
}

/// Ends of lines between two places of a text.
fn newlines(text: &str, from: usize, to: usize) -> usize {
    text.as_bytes().get(from..to).map_or(0, |part| part.iter().filter(|byte| **byte == b'\n').count())
}

fn read_line(text: &str) -> Result<Vec<TrackPoint>, FileFault> {
    for (line, feature) in features(text)? {
        let geometry = feature.get("geometry").unwrap_or(&Value::Null);
        if geometry.get("type").and_then(Value::as_str) != Some("LineString") {
            continue;
        }
        let Some(list) = geometry.get("coordinates").and_then(Value::as_array) else { continue };
        return list
            .iter()
            .map(|item| match degrees(item) {
                Some((lon_deg, lat_deg, height_m)) => Ok(TrackPoint { lat_deg, lon_deg, height_m, line }),
                None => {
                    let found: String = item.to_string().chars().take(60).collect();
                    Err(fault(
                        Some(line),
                        format!("the position {found}"),
                        "[longitude, latitude] in degrees, with a height if there is one",
                    ))
                }
            })
            .collect();
    }
    Ok(Vec::new())
}
