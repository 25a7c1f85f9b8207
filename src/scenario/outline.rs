//! Shapes of a map in the site's own metres.

use crate::geodata::feature::Position;
use crate::site::Area;
use crate::site::shape::cut_out;
use crate::sky::LocalFrame;

/// Most corners of one ring whose edges are held against each other.
const CORNERS_AT_MOST: usize = 10_000;

/// Most corners of the outline looked at, hole by hole, to cut out all holes of a polygon.
const LOOKED_AT_MOST: usize = 50_000_000;

/// What is wrong about a feature: the part of it, what was found, what would be accepted.
pub(super) type Fault = (String, String, String);

pub(super) fn fault(key: &str, found: impl Into<String>, accepted: impl Into<String>) -> Fault {
    (key.into(), found.into(), accepted.into())
}

/// Why a polygon cannot be used.
pub(super) fn polygon_fault(area: &Area) -> Option<String> {
    if let Area::Polygon(points) = area
        && points.len() > CORNERS_AT_MOST
    {
        return Some(format!("a polygon of {} corners, more than {CORNERS_AT_MOST}", points.len()));
    }
    if let Some((first, second)) = area.self_crossing() {
        return Some(format!("a polygon whose edges from point {} and from point {} meet", first + 1, second + 1));
    }
    (area.size_m2() == 0.0).then(|| "a polygon without area".to_string())
}

/// Local metres of a position within 1000 km.
pub(super) fn local(place: &Position, frame: &LocalFrame) -> Result<[f64; 2], Fault> {
    let local_m = frame.local_from_degrees(place.lat_deg, place.lon_deg);
    let away_deg = (frame.origin().lat_deg() - place.lat_deg).abs();
    if away_deg < 9.0 && local_m.iter().all(|part| part.abs() < 1e6) {
        return Ok(local_m);
    }
    let found = format!("the position [{},{}]", place.lon_deg, place.lat_deg);
    Err(fault("geometry", found, "[longitude, latitude] in degrees within 1000 km of the origin"))
}

/// Local metres of several positions.
pub(super) fn ring_of(places: &[Position], frame: &LocalFrame) -> Result<Vec<[f64; 2]>, Fault> {
    places.iter().map(|place| local(place, frame)).collect()
}

/// A polygon out of an outline and holes. With `strict` a ring whose edges meet is refused.
pub(super) fn simple_polygon(rings: &[Vec<Position>], frame: &LocalFrame, strict: bool) -> Result<Area, Fault> {
    let mut whole: Option<Vec<[f64; 2]>> = None;
    let mut looked_at = 0_usize;
    for ring in rings {
        let points = ring_of(ring, frame)?;
        if points.len() < 3 {
            let found = format!("a ring of {} points", points.len());
            return Err(fault("geometry", found, "three or more different points"));
        }
        let area = Area::Polygon(points);
        let wrong = if strict { polygon_fault(&area) } else { None };
        if let Some(found) = wrong {
            let accepted = format!("a polygon of at most {CORNERS_AT_MOST} corners whose edges do not touch or cross");
            let plain = "a polygon whose edges do not touch or cross".to_string();
            return Err(fault("geometry", found, if ring.len() > CORNERS_AT_MOST { accepted } else { plain }));
        }
        let Area::Polygon(points) = area else { unreachable!("made above") };
        whole = Some(match whole.take() {
            None => points,
            Some(outline) => {
                looked_at = looked_at.saturating_add(outline.len());
                if looked_at > LOOKED_AT_MOST {
                    let found = format!("a polygon of {} rings, too many for its size", rings.len());
                    return Err(fault("geometry", found, "fewer holes, or several smaller polygons"));
                }
                cut_out(outline, &points)
            }
        });
    }
    whole.map(Area::Polygon).ok_or_else(|| fault("geometry", "a polygon without a ring", "a polygon with an outline"))
}
