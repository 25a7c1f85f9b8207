//! One place said in several ways: the same site in TOML, GeoJSON and KML, the same path in four forms, wind and time from files.

use crate::bench::{outcomes, settled};
use crate::plain::{self, ANY_TIME, CRAFT, PILOT, SKY, STRONG, cut_at, policy, steady_wind};
use lostlink::flight::{Doing, FlightOutcome, record};
use lostlink::scenario::{MemoryFiles, Scenario};
use lostlink::sky::{Geodetic, LocalFrame};
use lostlink::world::World;

const SITE: &str =
    "\n[site]\nlat_deg = 47\nlon_deg = 9\nheight_amsl_m = 400\nextent_m = [-600, -600, 600, 600]\ncell_m = 5\n";

/// A path in TOML, and in no file.
const PATH: &str = "\n[path]\nwaypoints_m = [[0, 100, 40], [250, 150, 60], [20, 0, 40]]\nspeed_mps = 10\n";

fn read(text: &str, files: &[(&str, String)]) -> Scenario {
    let files = MemoryFiles(files.iter().map(|(name, text)| ((*name).into(), text.as_bytes().to_vec())).collect());
    settled(lostlink::scenario::read("law", text, &files).unwrap_or_else(|faults| panic!("{faults:#?}\n{text}")))
}

fn flown(scenario: &Scenario) -> Vec<FlightOutcome> {
    outcomes(&World::new(scenario.clone()).expect("a world"), 40)
}

fn text(parts: &[&str]) -> String {
    let home = policy("home", &["return = { height = { up_m = 40 } }"]);
    let land = policy("land", &["land = {}"]);
    plain::text(&[&[CRAFT, STRONG, ANY_TIME, PILOT, &home, &land], parts].concat())
}

fn alike(a: &[FlightOutcome], b: &[FlightOutcome]) {
    assert!(a.iter().any(|outcome| !outcome.endings.is_empty()), "no link was lost");
    assert_eq!(format!("{a:?}"), format!("{b:?}"));
}

/// Local metres of degrees, to the last digit.
fn local(lon_deg: f64, lat_deg: f64) -> [f64; 2] {
    LocalFrame::new(Geodetic::from_deg(47.0, 9.0, 400.0)).local_from_degrees(lat_deg, lon_deg)
}

#[test]
fn a_site_said_in_three_ways_gives_the_same_flights() {
    let square = |lon: f64, lat: f64, by: f64| [[lon, lat], [lon + by, lat], [lon + by, lat + by], [lon, lat + by]];
    let (pond, wood, fence) =
        (square(9.001, 47.0004, 0.0012), square(9.0025, 47.0006, 0.001), square(8.995, 46.996, 0.012));
    let path = [[8.998, 46.999], [9.002, 47.0015]];
    let (tower, home) = ([9.0008, 47.0016], [9.0001, 47.0]);

    let metres = |places: &[[f64; 2]]| format!("{:?}", places.iter().map(|p| local(p[0], p[1])).collect::<Vec<_>>());
    let [x, y] = local(tower[0], tower[1]);
    let toml = format!(
        "{SITE}home_m = {:?}\nfence = {{ polygon_m = {} }}\n\
         [[site.zone]]\nname = \"pond\"\nkind = \"water\"\npolygon_m = {}\n\
         [[site.zone]]\nname = \"path\"\nkind = \"people\"\nline_m = {}\nwidth_m = 3\npeople = 2\npresent_share = 0.5\nhours = \"09:00+02:00/17:30+02:00\"\nwhose = \"crew\"\nmargin_m = 5\n\
         [[site.obstacle]]\nname = \"wood\"\nkind = \"trees\"\npolygon_m = {}\nheight_m = 20\n\
         [[site.obstacle]]\nname = \"tower\"\nkind = \"building\"\ncircle_m = [{x:?}, {y:?}, 4.0]\nheight_m = 35\nbase_m = 1\n",
        local(home[0], home[1]),
        metres(&fence),
        metres(&pond),
        metres(&path),
        metres(&wood)
    );

    let ring = |places: &[[f64; 2]]| format!("{:?}", [places, &places[..1]].concat());
    let geojson = format!(
        r#"{{ "type": "FeatureCollection", "features": [
{{ "type": "Feature", "properties": {{ "kind": "water", "name": "pond" }}, "geometry": {{ "type": "Polygon", "coordinates": [{}] }} }},
{{ "type": "Feature", "properties": {{ "kind": "people", "name": "path", "width_m": 3, "people": 2, "present_share": 0.5, "hours": "09:00+02:00/17:30+02:00", "whose": "crew", "margin_m": 5 }},
   "geometry": {{ "type": "LineString", "coordinates": {path:?} }} }},
{{ "type": "Feature", "properties": {{ "role": "obstacle", "kind": "trees", "name": "wood", "height_m": 20 }}, "geometry": {{ "type": "MultiPolygon", "coordinates": [[{}]] }} }},
{{ "type": "Feature", "properties": {{ "role": "obstacle", "kind": "building", "name": "tower", "height_m": 35, "base_m": 1, "radius_m": 4 }}, "geometry": {{ "type": "Point", "coordinates": {tower:?} }} }},
{{ "type": "Feature", "properties": {{ "role": "fence" }}, "geometry": {{ "type": "Polygon", "coordinates": [{}] }} }},
{{ "type": "Feature", "properties": {{ "role": "home" }}, "geometry": {{ "type": "Point", "coordinates": {home:?} }} }}
] }}"#,
        ring(&pond),
        ring(&wood),
        ring(&fence)
    );

    let places = |places: &[[f64; 2]]| places.iter().map(|p| format!("{:?},{:?} ", p[0], p[1])).collect::<String>();
    let outline = |of: &[[f64; 2]]| {
        let all = [of, &of[..1]].concat();
        format!(
            "<Polygon><outerBoundaryIs><LinearRing><coordinates>\n{}\n</coordinates></LinearRing></outerBoundaryIs></Polygon>",
            places(&all)
        )
    };
    let data = |pairs: &[(&str, &str)]| -> String {
        let one = |(key, value): &(&str, &str)| format!("<Data name=\"{key}\"><value>{value}</value></Data>");
        format!("<ExtendedData>{}</ExtendedData>", pairs.iter().map(one).collect::<String>())
    };
    let people = [
        ("kind", "people"),
        ("width_m", "3"),
        ("people", "2"),
        ("present_share", "0.5"),
        ("hours", "09:00+02:00/17:30+02:00"),
        ("whose", "crew"),
        ("margin_m", "5"),
    ];
    let kml = format!(
        "<?xml version=\"1.0\"?><kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document><name>A site</name>\n\
         <Placemark><name>pond</name>{}{}</Placemark><Folder><name>Paths</name>\n\
         <Placemark><name>path</name>{}<LineString><coordinates>{}</coordinates></LineString></Placemark></Folder>\n\
         <Placemark><name>wood</name><ExtendedData><SchemaData schemaUrl=\"#s\"><SimpleData name=\"role\">obstacle</SimpleData>\n\
         <SimpleData name=\"kind\">trees</SimpleData><SimpleData name=\"height_m\">20</SimpleData></SchemaData></ExtendedData><MultiGeometry>{}</MultiGeometry></Placemark>\n\
         <Placemark><name>tower</name>{}<Point><coordinates>{}</coordinates></Point></Placemark>\n\
         <Placemark>{}{}</Placemark><Placemark>{}<Point><coordinates>{}</coordinates></Point></Placemark></Document></kml>",
        data(&[("kind", "water")]),
        outline(&pond),
        data(&people),
        places(&path),
        outline(&wood),
        data(&[("role", "obstacle"), ("kind", "building"), ("height_m", "35"), ("base_m", "1"), ("radius_m", "4")]),
        places(&[tower]),
        data(&[("role", "fence")]),
        outline(&fence),
        data(&[("role", "home")]),
        places(&[home]),
    );

    let wind = steady_wind(6.0, 240.0);
    let listed = read(&text(&[&toml, PATH, SKY, &wind]), &[]);
    let by_file = |name: &str, map: &str| {
        let site = format!("{SITE}ground_file = \"{name}\"\n");
        read(&text(&[&site, PATH, SKY, &wind]), &[(name, map.to_string())])
    };
    let (drawn, placed) = (by_file("m.geojson", &geojson), by_file("m.kml", &kml));
    assert_eq!((&listed.site.zones, &listed.site.obstacles), (&drawn.site.zones, &drawn.site.obstacles));
    assert_eq!((&listed.site.zones, &listed.site.obstacles), (&placed.site.zones, &placed.site.obstacles));
    assert_eq!(listed.site.zones[1].hours_utc, Some([7.0, 15.5]));
    let flights = flown(&listed);
    alike(&flights, &flown(&drawn));
    alike(&flights, &flown(&placed));
}

#[test]
fn a_path_said_in_four_ways_gives_the_same_flights() {
    let places = [[9.0, 47.0008, 440.0], [9.003, 47.0012, 461.5], [9.0002, 47.0, 440.0]];
    let up = |p: &[f64; 3]| [local(p[0], p[1])[0], local(p[0], p[1])[1], p[2] - 400.0];
    let listed = format!("\n[path]\nwaypoints_m = {:?}\nspeed_mps = 10\n", places.iter().map(up).collect::<Vec<_>>());
    let point = |p: &[f64; 3]| format!("<trkpt lon=\"{:?}\" lat=\"{:?}\"><ele>{:?}</ele></trkpt>\n", p[0], p[1], p[2]);
    let gpx = format!("<gpx><trk><trkseg>{}</trkseg></trk></gpx>", places.iter().map(point).collect::<String>());
    let geojson = format!(
        r#"{{ "type": "Feature", "properties": null, "geometry": {{ "type": "LineString", "coordinates": {places:?} }} }}"#
    );
    let triple = |p: &[f64; 3]| format!("{:?},{:?},{:?}\n", p[0], p[1], p[2]);
    let kml = format!(
        "<kml><Placemark><LineString><altitudeMode>absolute</altitudeMode><coordinates>{}</coordinates></LineString></Placemark></kml>",
        places.iter().map(triple).collect::<String>()
    );
    let coord = |p: &[f64; 3]| {
        format!("<when>2026-06-01T10:00:00Z</when><gx:coord>{:?} {:?} {:?}</gx:coord>\n", p[0], p[1], p[2])
    };
    let track = format!(
        "<kml xmlns:gx=\"x\"><Placemark><gx:Track><altitudeMode>absolute</altitudeMode>{}</gx:Track></Placemark></kml>",
        places.iter().map(coord).collect::<String>()
    );
    let wind = steady_wind(5.0, 200.0);
    let flights = flown(&read(&text(&[SITE, &listed, SKY, &wind]), &[]));
    for (name, map) in [("p.gpx", gpx), ("p.geojson", geojson), ("p.kml", kml), ("t.kml", track)] {
        let path = format!("\n[path]\nfile = \"{name}\"\nspeed_mps = 10\n");
        alike(&flights, &flown(&read(&text(&[SITE, &path, SKY, &wind]), &[(name, map)])));
    }
}

/// A file of a ground.
fn ground(height_m: impl Fn(f64, f64) -> f64) -> (&'static str, String) {
    ("g.asc", plain::esri_grid(600.0, 10.0, height_m))
}

const OVER_GROUND: &str = "\n[site]\nlat_deg = 47\nlon_deg = 9\nheight_amsl_m = 400\nextent_m = [-590, -590, 590, 590]\ncell_m = 10\nceiling_m = 500\n\
     terrain_file = \"g.asc\"\nterrain_error_m = 0\n";

#[test]
fn over_flat_ground_a_height_above_it_is_one_above_home() {
    let flat = || [ground(|_, _| 400.0)];
    let wind = steady_wind(5.0, 200.0);
    let path = |height: f64, more: &str| {
        format!(
            "\n[path]\nwaypoints_m = [[0, 100, {height}], [250, 150, {height}], [20, 0, {height}]]\nspeed_mps = 10\n{more}\n"
        )
    };
    let of = |path: &str| read(&text(&[OVER_GROUND, path, SKY, &wind]), &flat());
    let (above_home, following) = (of(&path(45.0, "")), of(&path(99.0, "above_ground_m = 45")));
    assert!(following.path.follows.iter().all(|leg| leg.len() > 10), "it follows no ground");
    let flights = flown(&above_home);
    alike(&flights, &flown(&following));
    alike(&flights, &flown(&of(&path(45.0, "heights = \"above_ground\""))));
    alike(&flights, &flown(&of(&path(445.0, "heights = \"amsl\""))));
}

/// Over hills the planned path keeps its height above the ground, and so does the craft that flies it.
#[test]
fn a_path_above_the_ground_follows_it() {
    let hills = |x: f64, _: f64| 400.0 + 30.0 * libm::sin(x / 60.0) + 0.05 * x;
    let path = "\n[path]\nwaypoints_m = [[-400, 0, 0], [400, 0, 0]]\nspeed_mps = 10\nabove_ground_m = 40\n";
    let late = text(&[OVER_GROUND, path, SKY, &steady_wind(0.0, 0.0)]).replace(ANY_TIME, &cut_at(110.0));
    let scenario = read(&late, &[ground(hills)]);
    // The slope asks for more climb than the craft has at 10 m/s: that is said.
    assert!(scenario.warnings.iter().any(|line| line.contains("so steep that the craft")), "{:?}", scenario.warnings);
    let world = World::new(scenario).expect("a world");
    let above_m = |[x, y, z]: [f64; 3]| z - world.grid.ground_m(x, y);
    let along: Vec<f64> = world.path.every(3.0).map(|at| above_m(at.place_m)).skip(20).collect();
    let most = |off: &[f64]| off.iter().map(|above_m| (above_m - 40.0).abs()).fold(0.0, f64::max);
    // The path bends where the grid does: nothing but rounding is left.
    assert!(most(&along) < 1e-9, "{along:?}");
    let tale = record(&world, 0, &world.scenario.policies[0], 0.5);
    let rows = tale.rows.iter().filter(|row| row.doing == Doing::Piloted && row.time_s > 25.0);
    let flown: Vec<f64> = rows.map(|row| above_m(row.place_m)).collect();
    // Behind the path by the lag of its speed, 0.8 s, at the most that it climbs, 4 m/s.
    assert!(flown.len() > 100 && most(&flown) < 0.8 * 4.0, "{flown:?}");
}

#[test]
fn a_wind_from_a_file_that_never_changes_is_the_stated_wind() {
    const AIR: &str = "veer_deg_per_100m = 5\nroughness_m = 0.1\ndrift_mps = 0.4\ndrift_memory_s = 200\ntemperature_c = 15\ntendency_pa_per_h = 0\n";
    let of = |wind: &str, files: &[(&str, String)]| {
        let weather = format!("\n[weather]\n{wind}\n{AIR}");
        flown(&read(&text(&[SITE, PATH, SKY, &weather]), files))
    };
    let stated = of("wind_mps = 6.3\nfrom_deg = 255", &[]);
    let hours = "# the same all day\nhour_utc,speed_mps,direction_deg\n0,6.3,255\n24,6.3,255\n".to_string();
    alike(&stated, &of("series_file = \"w.csv\"", &[("w.csv", hours)]));
    let one = "height_m, speed_mps, direction_deg\n10, 6.3, 255\n".to_string();
    alike(&stated, &of("profile_file = \"w.csv\"", &[("w.csv", one)]));
    let other = "height_m,speed_mps,direction_deg\n10,6.3,255\n60,12,285\n".to_string();
    assert_ne!(format!("{stated:?}"), format!("{:?}", of("profile_file = \"w.csv\"", &[("w.csv", other)])));
}

/// The wind of a flight is that of the hour at which it takes off.
#[test]
fn the_wind_of_the_hour_is_flown() {
    let hours = "time,direction_deg,speed_mps\n10:00+02:00,90,2\n12:00+02:00,90,10\n".to_string();
    let at = |utc: &str, wind: &str, files: &[(&str, String)]| {
        let sky = SKY.replace("[sky]\n", &format!("[sky]\nutc = {utc}\n"));
        flown(&read(&text(&[SITE, PATH, &sky, &format!("\n[weather]\n{wind}\n")]), files))
    };
    let files = [("w.csv", hours)];
    let stated = |speed_mps: f64| format!("wind_mps = {speed_mps:?}\nfrom_deg = 90");
    alike(
        &at("2026-06-20T07:00:00Z", &stated(2.0), &[]),
        &at("2026-06-20T07:00:00Z", "series_file = \"w.csv\"", &files),
    );
    alike(
        &at("2026-06-20T11:00:00Z", &stated(10.0), &[]),
        &at("2026-06-20T11:00:00Z", "series_file = \"w.csv\"", &files),
    );
}

/// Between the hours of a file the wind is interpolated to the moment of take-off: from 2 m/s at 8 to 10 m/s at 10.
#[test]
fn the_wind_between_two_hours_is_flown() {
    const ROUGHNESS_M: f64 = 0.03;
    let hours = "hour_utc,direction_deg,speed_mps\n8,90,2\n10,90,10\n".to_string();
    let calm = steady_wind(0.0, 90.0).replace("wind_mps = 0.0\nfrom_deg = 90.0", "series_file = \"w.csv\"");
    assert!(calm.contains("series_file") && calm.contains(&format!("roughness_m = {ROUGHNESS_M}\n")), "{calm}");
    // At once after nine, at half past nine, and half an hour before: the receiver is warm and does not wait.
    for (utc, expected_mps) in
        [("2026-06-20T09:00:00Z", 6.0), ("2026-06-20T09:30:00Z", 8.0), ("2026-06-20T08:30:00Z", 4.0)]
    {
        let sky = SKY.replace("[sky]\n", &format!("[sky]\nutc = {utc}\n"));
        let late = text(&[SITE, PATH, &sky, &calm]).replace(ANY_TIME, &cut_at(40.0));
        let scenario = read(&late, &[("w.csv", hours.clone())]);
        let world = World::new(scenario).expect("a world");
        let tale = record(&world, 0, &world.scenario.policies[0], 1.0);
        // By the logarithmic law from the height of each row to 10 m, for which the wind is stated.
        let log = |height_m: f64| libm::log(height_m / ROUGHNESS_M);
        let rows: Vec<_> = tale.rows.iter().filter(|row| row.height_m > 15.0).collect();
        assert!(rows.len() > 20, "{} rows", rows.len());
        let speeds = rows.iter().map(|row| row.wind_mps * log(10.0) / log(row.height_m));
        let (least, most) = speeds.fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(x), b.max(x)));
        // A row's wind is that of the middle of the step before: up to half a metre lower, which moves it by less than a hundredth; a
        // file read at the wrong hour is off by metres a second, and half a minute of flight by 0.03 m/s.
        assert!(least > expected_mps - 0.05 && most < expected_mps + 0.05, "{utc}: {least} to {most} m/s");
        assert!(rows.iter().all(|row| row.wind_to_mps[0] < 0.0 && row.wind_to_mps[1].abs() < 1e-9));
    }
}

#[test]
fn a_local_time_is_the_same_moment() {
    let at = |utc: &str| {
        let sky = format!("\n[sky]\nutc = {utc}\nwindow_s = 600\n");
        flown(&read(&text(&[SITE, PATH, &sky, &steady_wind(4.0, 10.0)]), &[]))
    };
    let zulu = at("2026-06-01T08:00:00Z");
    alike(&zulu, &at("2026-06-01T10:00:00+02:00"));
    alike(&zulu, &at("2026-05-31T22:30:00-09:30"));
    assert_ne!(format!("{zulu:?}"), format!("{:?}", at("2026-06-01T10:00:00Z")));
}
