//! `ends.geojson`: where the flights ended, with home, fence and path.

use crate::risk::summary::Summary;
use crate::site::shape::signed_area_m2;
use crate::sky::{Geodetic, LocalFrame};
use std::io::Write;

/// What is said where the file is left out.
pub const WITHOUT: &str = "left out: the scenario does not say where the site lies (site.lat_deg, site.lon_deg), and the file needs longitude and latitude";

/// Writes the ends drawn on the map as points, with home, the path and the fence.
///
/// Places are longitude and latitude in degrees (RFC 7946), from `origin_deg`, latitude and longitude of the site's origin. A site that
/// does not say where it lies has no such file: see [`WITHOUT`].
///
/// # Errors
/// Those of the writer.
pub fn ends(summary: &Summary, origin_deg: (f64, f64), out: &mut dyn Write) -> std::io::Result<()> {
    let frame = LocalFrame::new(Geodetic::from_deg(origin_deg.0, origin_deg.1, 0.0));
    let place = |at_m: [f64; 2]| -> String {
        let [lat, lon] = frame.degrees_from_local(at_m);
        // 1e-7° is a centimetre.
        format!("[{lon:.7},{lat:.7}]")
    };
    let text = |text: &str| serde_json::Value::from(text).to_string();
    writeln!(out, "{{\"type\":\"FeatureCollection\",")?;
    writeln!(out, "\"title\":{},", text(&summary.title))?;
    writeln!(out, "\"origin_deg\":{},", place([0.0, 0.0]))?;
    writeln!(out, "\"features\":[")?;
    let point = |place: String, properties: String| {
        format!(
            "{{\"type\":\"Feature\",\"geometry\":{{\"type\":\"Point\",\"coordinates\":{place}}},\"properties\":{{{properties}}}}}"
        )
    };
    write!(out, "{}", point(place(summary.map.home_m), "\"what\":\"home\"".into()))?;
    write!(out, ",\n{}", point(place(summary.map.pilot_m), "\"what\":\"pilot\"".into()))?;
    if summary.map.path_m.len() > 1 {
        let places: Vec<String> = summary.map.path_m.iter().map(|p| place([p[0], p[1]])).collect();
        write!(
            out,
            ",\n{{\"type\":\"Feature\",\"geometry\":{{\"type\":\"LineString\",\"coordinates\":[{}]}},\"properties\":{{\"what\":\"path\"}}}}",
            places.join(",")
        )?;
    }
    for ring in summary.map.fence.iter().filter(|ring| ring.len() > 2) {
        // RFC 7946, 3.1.6: an outer ring runs anticlockwise.
        let mut ring = ring.clone();
        if signed_area_m2(&ring) < 0.0 {
            ring.reverse();
        }
        let mut places: Vec<String> = ring.iter().map(|p| place(*p)).collect();
        if ring.first() != ring.last() {
            places.push(places[0].clone());
        }
        write!(
            out,
            ",\n{{\"type\":\"Feature\",\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}},\"properties\":{{\"what\":\"fence\"}}}}",
            places.join(",")
        )?;
    }
    for policy in &summary.policies {
        let name = text(&policy.name);
        for end in policy.ends.iter().filter(|end| end.place_m.iter().all(|v| v.is_finite())) {
            let properties = format!(
                "\"what\":\"end\",\"policy\":{name},\"flight\":{},\"headline\":\"{}\"",
                end.flight,
                end.headline.word()
            );
            write!(out, ",\n{}", point(place(end.place_m.map(f64::from)), properties))?;
        }
    }
    writeln!(out, "\n]}}")
}
