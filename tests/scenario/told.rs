//! Mistakes of the files that a scenario names, and things to be asked about, each with what is said of it and what would be accepted.

use super::helpers::flat;
use lostlink::scenario::{self, Diagnostic, MemoryFiles};
use lostlink::sky;

/// All that is said of a scenario with one file, message by message.
fn said(text: &str, name: &str, bytes: &[u8]) -> Vec<String> {
    let files = MemoryFiles([(name.to_string(), bytes.to_vec())].into());
    match scenario::read("f.toml", text, &files) {
        Ok(scenario) => scenario.warnings,
        Err(found) => found.iter().map(Diagnostic::in_words).collect(),
    }
}

const PATH: &str = "waypoints_m = [[0, 40, 20], [60, 40, 20]]";

#[test]
fn every_mistake_comes_with_its_remedy() {
    let site = |extra: &str| flat(extra, PATH);
    let after = |text: &str| flat("", PATH) + text;
    let nested = "{\"type\": \"GeometryCollection\", \"geometries\": [".repeat(10) + &"]}".repeat(10);
    let nested = format!("{{\"type\": \"Feature\", \"properties\": {{}}, \"geometry\": {nested}}}");
    let metres = "ncols 2\nnrows 2\nxllcorner 1000\nyllcorner 2000\ncellsize 10\n1 2\n3 4\n";
    let beside = format!("ncols 20\nnrows 20\nxllcorner 9.02\nyllcorner 47.02\ncellsize 0.001\n{}", "5 ".repeat(400));
    let hours = "time,speed_mps,direction_deg\n09:00+02:00,3,240\n15:00+02:00,7,280\n";
    // (scenario, name of its file, the file, what is found, what would be accepted)
    let cases: Vec<(String, &str, &[u8], &str, &str)> = vec![
        (
            site("terrain_file = \"g.asc\"\nterrain_epsg = 4326"),
            "g.asc",
            metres.as_bytes(),
            "coordinates that are no degrees",
            "the `terrain_epsg` of the grid's own coordinates",
        ),
        (
            site("terrain_file = \"g.asc\"").replace("height_amsl_m = 400", ""),
            "g.asc",
            beside.as_bytes(),
            "no height at x = y = 0, from which heights are counted",
            "`height_amsl_m` in `[site]`",
        ),
        (
            site("ground_file = \"g.geojson\""),
            "g.geojson",
            nested.as_bytes(),
            "collections within collections",
            "a geometry of no more than 8 levels",
        ),
        (site("ground_file = \"g.geojson\""), "g.geojson", b"\xff\xfe", "is not text", "a text file in UTF-8"),
        (
            site("ground_file = \"m.osm\""),
            "m.osm",
            b"<map version=\"1\"></map>",
            "XML with the outermost element `map`",
            "`<osm>`",
        ),
        (
            flat("", "file = \"p.gpx\""),
            "p.gpx",
            b"<gpx><trk><trkseg><trkpt lat=47 lon=\"9\"/></trkseg></trk></gpx>",
            "an attribute that is none: position 10: attribute value must be enclosed in",
            "GPX 1.1",
        ),
        (
            site("ground_file = \"m.osm\"\n[site.map]\ntree_height_m = 20"),
            "m.osm",
            b"<osm version=\"0.6\"></osm>",
            "a height that nothing on the map needs",
            "a key of which the map has something without a height",
        ),
        (
            site("ground_file = \"m.osm\""),
            "m.osm",
            b"<osm><way id=\"1\"><nd ref=\"9\"/><tag k=\"role\" v=\"zone\"/></way></osm>",
            "way/1.geometry: some of its nodes are not in the export",
            "a whole shape",
        ),
        (
            site("extent_m = [-300, -300, 300, 300]") + "[pilot]\nplace_m = [9000, 0]\n",
            "",
            b"",
            "a pilot outside the extent",
            "a place within `extent_m`",
        ),
        (
            site("").replace("land = {}", "return = { height = { from = \"home\" } }"),
            "",
            b"",
            "policy[0].action[0].return.height.up_m: nothing: the key is missing",
            "a number of metres, 0 to 2000",
        ),
        (
            after("[radio.control]\npacket_rate_hz = 10\nreceiver = { patience_s = 0.15 }\n"),
            "",
            b"",
            "a silence of 0.15 s that counts as a loss, with a packet every 0.1 s",
            "`receiver.patience_s` of two packet intervals or more: else a healthy link is called lost",
        ),
        (
            after("[weather]\nwind_mps = 5\nseries_file = \"w.csv\"\n"),
            "w.csv",
            hours.as_bytes(),
            "a wind stated beside `series_file`: it goes before what the file has",
            "one of the two",
        ),
        (
            after("[sky]\nutc = 2035-06-20T10:00:00Z\n"),
            "",
            b"",
            "the year 2035, for which the magnetic model gives no declination",
            "a year from 2020 to 2029, or `sky.declination_deg`",
        ),
        (
            site("[[site.obstacle]]\nkind = \"building\"\ncircle_m = [9000, 0, 5]\nheight_m = 5"),
            "",
            b"",
            "for its sake the grid's cells are",
            "what is drawn near the path, or an `extent_m` that leaves out what is far",
        ),
    ];
    let fault = lostlink::geodata::map_export::read("<map></map>").expect_err("no export");
    assert_eq!(fault.found, "the element `map`");
    // What callers of the library may ask for, and a scenario cannot.
    let field = |year: f64, lat_deg: f64| sky::magnetic_field(year, 0.0, lat_deg, 9.0).expect_err("none").to_string();
    assert_eq!(
        field(2035.0, 47.0),
        "the magnetic model covers 2020.0 to 2030.0, not 2035; state the declination instead"
    );
    assert_eq!(field(2026.0, 95.0), "no magnetic field for latitude 95°, longitude 9°, height 0 m");
    let date = sky::Calendar::of_parts([2026, 2, 30, 0, 0, 0]).expect_err("no such day").to_string();
    assert!(date.starts_with("no such date or time of day: "), "{date}");
    for (text, name, bytes, found, accepted) in cases {
        let said = said(&text, name, bytes);
        let whole = said.iter().any(|message| message.contains(found) && message.contains(accepted));
        assert!(whole, "{found}; {accepted}: {said:#?}\n{text}");
    }
}
