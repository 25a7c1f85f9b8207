//! `ends.geojson`: where the flights ended, with home, fence and path.

use crate::risk::summary::Summary;
use crate::sky::{Geodetic, LocalFrame};
use std::io::Write;

/// Writes the ends drawn on the map as points, with home, the path and the fence.
///
/// With an origin the places are longitude and latitude in degrees (RFC 7946). Without one the site is a plane somewhere:
/// places are then metres east and north, and the member `note` says so.
///
/// # Errors
/// Those of the writer.
pub fn ends(summary: &Summary, out: &mut dyn Write) -> std::io::Result<()> {
    let frame =
        summary.map.origin_deg.map(|(lat_deg, lon_deg)| LocalFrame::new(Geodetic::from_deg(lat_deg, lon_deg, 0.0)));
    let place = |[x, y]: [f64; 2]| -> String {
        match &frame {
            Some(frame) => {
                let [lat, lon] = frame.degrees_from_local([x, y]);
                // 1e-7° is a centimetre.
                format!("[{lon:.7},{lat:.7}]")
            }
            None => format!("[{x:.2},{y:.2}]"),
        }
    };
    let text = |text: &str| serde_json::Value::from(text).to_string();
    writeln!(out, "{{\"type\":\"FeatureCollection\",")?;
    writeln!(out, "\"title\":{},", text(&summary.title))?;
    if frame.is_none() {
        writeln!(out, "\"note\":\"local plane: metres east and north of the site's origin, not degrees\",")?;
    }
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
