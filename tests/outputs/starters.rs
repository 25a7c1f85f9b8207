//! Scenarios to start from: each passes `check` and `assess` as it is written, and loses links.

use crate::typed::{complaint, lostlink, output};
use lostlink::cli::args::TemplateArg;
use lostlink::plan::survey;
use lostlink::plan::ways::WaysHome;
use lostlink::{Options, Scenario, Summary, World, assess, scenario};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

fn folder() -> TempDir {
    tempfile::tempdir().expect("a folder")
}

fn text(path: PathBuf) -> String {
    std::fs::read_to_string(&path).unwrap_or_else(|why| panic!("{}: {why}", path.display()))
}

fn read(file: &Path) -> Scenario {
    Scenario::from_file(file).unwrap_or_else(|why| panic!("{why}"))
}

fn flown(scenario: Scenario, flights: u32) -> Summary {
    assess(&scenario.with_flights(flights), &Options::quick()).expect("flies")
}

/// A starter as `new` writes it: no error, few questions, enough lost links for an answer, everything marked as invented.
fn holds(template: &str, flights: u32, least_lost: u64, asked: &[&str]) {
    let home = folder();
    let told = output(home.path(), &["new", "--template", template]);
    let file = format!("{template}.toml");
    for words in [
        format!("Written: {file}"),
        format!("lostlink check {file}"),
        format!("lostlink assess {file}"),
        "weather.wind_mps".into(),
    ] {
        assert!(told.contains(&words), "{words}: {told}");
    }
    assert!(told.lines().all(|line| line.chars().count() <= 80), "{told}");
    let file = home.path().join(file);
    let shipped = Path::new(env!("LOSTLINK_ROOT")).join("starters").join(format!("{template}.toml"));
    assert!(text(file.clone()) == text(shipped), "what is written is what stands in starters/");

    let scenario = read(&file);
    assert!(scenario.invented && scenario.site.origin.is_some() && scenario.policies.len() >= 3);
    let warnings = survey(&World::for_planning(scenario.clone()).expect("a world")).warnings;
    assert_eq!(warnings.len(), asked.len(), "{warnings:#?}");
    assert!(asked.iter().all(|words| warnings.iter().any(|line| line.contains(words))), "{warnings:#?}");

    let summary = flown(scenario, flights);
    assert!(summary.loss.lost.events >= least_lost, "{} of {flights} lost a link", summary.loss.lost.events);
    assert!(summary.invented && summary.faults.flights == 0);
}

#[test]
fn the_flat_field_holds() {
    holds("flat-field", 30, 30, &[]);
}

#[test]
fn the_valley_holds() {
    holds("valley", 24, 12, &["policy \"home at 50 m\" meets what stands on the straight way home"]);
}

#[test]
fn the_shore_holds() {
    holds("shore", 24, 24, &[]);
}

#[test]
fn the_edge_of_a_town_holds() {
    holds("town-edge", 24, 24, &[]);
}

#[test]
fn the_long_leg_holds() {
    holds("long-leg", 8, 2, &[]);
}

/// Whoever adds a template adds it above.
#[test]
fn every_template_has_a_test() {
    use clap::ValueEnum;
    let names: Vec<String> = TemplateArg::value_variants()
        .iter()
        .map(|one| one.to_possible_value().expect("shown").get_name().to_string())
        .collect();
    let source = include_str!("starters.rs");
    for name in &names {
        assert!(source.contains(&format!("holds(\"{name}\"")), "{name}");
    }
    assert_eq!(names.len(), 5);
}

/// Every line of a starter that states a number says where it comes from, or stands below a line that explains it.
#[test]
fn comments_explain_every_choice() {
    for entry in std::fs::read_dir(Path::new(env!("LOSTLINK_ROOT")).join("starters")).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.extension().is_none_or(|ending| ending != "toml") {
            continue;
        }
        let text = text(path.clone());
        assert!(text.starts_with("#:schema ./scenario.schema.json\n"), "{}", path.display());
        let mut explained = String::new();
        for line in text.lines() {
            assert!(line.chars().count() <= 170, "{}: {line}", path.display());
            let key = line.split('=').next().unwrap_or_default().trim().to_string();
            // Names, shapes and choices of words speak for themselves; so does what was explained once.
            const PLAIN: [&str; 16] = [
                "name",
                "kind",
                "about",
                "polygon_m",
                "line_m",
                "circle_m",
                "any_time",
                "action",
                "hold",
                "land",
                "drop",
                "return",
                "set",
                "title",
                "people",
                "present_share",
            ];
            let states = line.contains('=') && !line.starts_with('#') && !PLAIN.contains(&key.as_str());
            let above = explained.lines().next_back().is_some_and(|above| above.starts_with('#'));
            let before = explained.lines().any(|line| line.starts_with(&format!("{key} = ")));
            assert!(!states || line.contains('#') || above || before, "{}: {line}", path.display());
            explained.push_str(line);
            explained.push('\n');
        }
    }
}

/// What is there is left alone until it is said otherwise, and a second scenario shares what lies beside the first.
#[test]
fn nothing_is_overwritten_unasked() {
    let home = folder();
    let written = output(home.path(), &["new", "a/valley.toml", "--template", "valley"]);
    assert!(written.contains("a/valley.toml, a/valley.asc, a/scenario.schema.json"), "{written}");
    assert!(text(home.path().join("a/scenario.schema.json")) == scenario::schema_text());
    std::fs::write(home.path().join("a/valley.toml"), "mine").expect("written");
    let no = complaint(home.path(), &["new", "a/valley.toml", "--template", "valley"], 2);
    assert!(no.contains("a/valley.toml is there already") && no.contains("--overwrite"), "{no}");
    assert_eq!(text(home.path().join("a/valley.toml")), "mine");
    let second = output(home.path(), &["new", "a/other.toml", "--template", "valley"]);
    assert!(second.contains("Written: a/other.toml\n"), "{second}");
    // A grid of somebody's own of that name: nothing is written, not even the scenario.
    std::fs::write(home.path().join("a/valley.asc"), "mine").expect("written");
    complaint(home.path(), &["new", "a/third.toml", "--template", "valley"], 2);
    assert!(!home.path().join("a/third.toml").exists());
    output(home.path(), &["new", "a/valley.toml", "--template", "valley", "--overwrite"]);
    read(&home.path().join("a/valley.toml"));
    let names: Vec<String> = std::fs::read_dir(home.path().join("a"))
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    assert_eq!(names.len(), 4, "{names:?}");
    let no = complaint(home.path(), &["new", "a", "--overwrite"], 2);
    assert!(no.contains("no file"), "{no}");
}

/// In a pipe it asks nothing, whatever is typed, and takes the flat field.
#[test]
fn in_a_pipe_it_asks_nothing() {
    let home = folder();
    let mut piped = lostlink(home.path(), &["new", "--no-schema"]);
    let done = piped.write_stdin("shore\n\n\n\n\n").assert().code(0);
    assert!(done.get_output().stderr.is_empty());
    let written = text(home.path().join("flat-field.toml"));
    assert!(written.starts_with("# A flat field") && !written.contains("#:schema"));
    assert!(!home.path().join("scenario.schema.json").exists());
}

#[test]
fn the_schema_is_printed() {
    let printed = output(Path::new("."), &["schema"]);
    assert!(printed == text(Path::new(env!("LOSTLINK_ROOT")).join("docs/scenario.schema.json")));
}

/// The example of the documentation loses links.
#[test]
fn the_shortest_scenario_loses_links() {
    let page = text(Path::new(env!("LOSTLINK_ROOT")).join("docs/scenario.md"));
    let example = page.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).expect("an example");
    assert_eq!(example, scenario::SHORTEST);
    let summary = flown(Scenario::from_toml(example).expect("good"), 40);
    assert_eq!(summary.loss.lost.events, 40);
}

/// A GPX track of so many points: longitude and latitude from a place, and a height where there is one.
fn gpx(points: &[(f64, f64, Option<f64>)]) -> String {
    let one = |(east_m, north_m, height_m): &(f64, f64, Option<f64>)| {
        let (lat, lon) = (46.8 + north_m / 111_160.0, 9.5 + east_m / (111_320.0 * 46.8f64.to_radians().cos()));
        let height = height_m.map_or(String::new(), |height_m| format!("<ele>{height_m}</ele>"));
        format!("<trkpt lat=\"{lat}\" lon=\"{lon}\">{height}</trkpt>\n")
    };
    let points: String = points.iter().map(one).collect();
    format!("<gpx version=\"1.1\"><trk><trkseg>\n{points}</trkseg></trk></gpx>\n")
}

/// Ground that rises to the north, a metre in ten, from 500 m at the take-off spot.
fn slope() -> String {
    let rows: Vec<String> = (0..121)
        .map(|row| vec![format!("{}", 500.0 + (600.0 - 10.0 * f64::from(row)) / 10.0); 121].join(" "))
        .collect();
    format!("ncols 121\nnrows 121\nxllcenter -600\nyllcenter -600\ncellsize 10\n{}\n", rows.join("\n"))
}

/// A path from a file with ground from a file, in other folders than the scenario: named from there, take-off at the first point.
#[test]
fn a_flight_of_ones_own_starts_a_scenario() {
    let home = folder();
    let planned =
        [(0.0, 20.0, Some(545.0)), (150.0, 80.0, Some(550.0)), (100.0, 200.0, Some(562.0)), (0.0, 30.0, Some(545.0))];
    std::fs::create_dir(home.path().join("data")).expect("made");
    std::fs::write(home.path().join("data/round \"one\".gpx"), gpx(&planned)).expect("written");
    std::fs::write(home.path().join("data/slope.asc"), slope()).expect("written");
    let arguments = ["new", "sites/round.toml", "--path", "data/round \"one\".gpx", "--terrain", "data/slope.asc"];
    let told = output(home.path(), &arguments);
    assert!(
        ["lostlink assess sites/round.toml", "  path.heights\n", "  site.fence\n", "  site.obstacle\n"]
            .iter()
            .all(|words| told.contains(words)),
        "{told}"
    );
    let file = home.path().join("sites/round.toml");
    let scenario = read(&file);
    assert!(scenario.warnings.is_empty(), "{:?}", scenario.warnings);
    let origin = scenario.site.origin.expect("on Earth");
    assert!((origin.lat_deg - 46.8 - 20.0 / 111_160.0).abs() < 1e-6 && (origin.lon_deg - 9.5).abs() < 1e-6);
    assert_eq!(scenario.site.home_m, [0.0, 0.0]);
    assert_eq!(scenario.path.waypoints_m.len(), 4);
    // The ground at x = y = 0 of the grid is 500 m above the sea.
    assert!((scenario.path.waypoints_m[0][2] - 45.0).abs() < 0.01, "{:?}", scenario.path.waypoints_m);
    let [west, south, east, north] = scenario.site.extent_m;
    assert!(west <= -300.0 && south <= -290.0 && east >= 440.0 && north >= 470.0);
    let summary = flown(scenario, 16);
    assert_eq!((summary.loss.lost.events, summary.faults.flights), (16, 0));
    output(home.path(), &["check", "sites/round.toml"]);
}

/// Heights that cannot be used as they stand are not: a track recorded from the ground, a plan above home, none at all, a path into a
/// hill, a way home over it.
#[test]
fn heights_are_taken_as_they_can_be_flown() {
    let home = folder();
    let start = |name: &str, points: &[(f64, f64, Option<f64>)], more: &[&str]| -> (Scenario, String) {
        std::fs::write(home.path().join(name), gpx(points)).expect("written");
        let file = name.replace("gpx", "toml");
        output(home.path(), &[&["new", &file, "--path", name], more].concat());
        let path = home.path().join(file);
        (read(&path), text(path))
    };
    let ups = |scenario: &Scenario| scenario.path.waypoints_m.iter().map(|point| point[2]).collect::<Vec<_>>();

    let recorded =
        [(0.0, 0.0, Some(431.0)), (0.0, 40.0, Some(470.0)), (200.0, 40.0, Some(475.0)), (0.0, 0.0, Some(431.5))];
    let (scenario, text) = start("recorded.gpx", &recorded, &[]);
    assert_eq!((scenario.site.height_amsl_m, ups(&scenario)), (429.0, vec![2.0, 41.0, 46.0, 2.5]), "{text}");

    let plan = [(0.0, 0.0, Some(30.0)), (200.0, 40.0, Some(45.0))];
    assert_eq!(ups(&start("plan.gpx", &plan, &[]).0), [30.0, 45.0]);

    let bare = [(0.0, 0.0, None), (200.0, 40.0, None)];
    assert_eq!(ups(&start("bare.gpx", &bare, &[]).0), [40.0, 40.0]);

    // 550 m up the slope the ground is 55 m above the take-off spot; 20 m above that spot the path would end in it. It follows the
    // ground, which is known, instead.
    std::fs::write(home.path().join("slope.asc"), slope()).expect("written");
    let low = [(0.0, 0.0, Some(520.0)), (0.0, 400.0, Some(520.0)), (0.0, 550.0, Some(520.0))];
    let (scenario, text) = start("low.gpx", &low, &["--terrain", "slope.asc"]);
    let off_m = ups(&scenario).into_iter().zip([40.0, 80.0, 95.0]).map(|(up_m, expected_m)| (up_m - expected_m).abs());
    assert!(off_m.fold(0.0, f64::max) < 1.0, "{:?}: {text}", ups(&scenario));
    // The way home clears what stands on it by 10 m, and by no more than rounding up to 5 m adds.
    let world = World::for_planning(scenario).expect("a world");
    let home_policy = world.scenario.policies.iter().find(|policy| policy.returns()).expect("one");
    let tallest_m = WaysHome::of(&world, home_policy).tallest_m;
    let up_m: f64 = home_policy.name.trim_start_matches("home at ").trim_end_matches(" m").parse().expect("a height");
    assert!(tallest_m > 50.0 && (10.0..15.0).contains(&(up_m - tallest_m)), "{up_m} m over {tallest_m} m");

    // A file that says itself what its heights are above is taken at its word.
    let kml = "<kml><Document><Placemark><LineString><altitudeMode>relativeToGround</altitudeMode>\
        <coordinates>9.5,46.8,30 9.5,46.803,35</coordinates></LineString></Placemark></Document></kml>";
    std::fs::write(home.path().join("said.kml"), kml).expect("written");
    output(home.path(), &["new", "--path", "said.kml"]);
    let scenario = read(&home.path().join("said.toml"));
    assert_eq!(ups(&scenario), [30.0, 35.0]);

    std::fs::write(home.path().join("broken.gpx"), "<gpx><trk><trkseg><trkpt lat=\"x\"/></trkseg></trk></gpx>")
        .expect("written");
    let no = complaint(home.path(), &["new", "broken.toml", "--path", "broken.gpx"], 2);
    assert!(no.contains("broken.gpx:1") && no.contains("`lat` in degrees"), "{no}");
    assert!(!home.path().join("broken.toml").exists());
    let no = complaint(home.path(), &["new", "none.toml", "--path", "none.gpx"], 2);
    assert!(no.contains("none.gpx") && no.contains("accepted"), "{no}");
}

/// Points recorded every second, so close that they differ in the last digits: the path is no longer for that, nor the craft larger.
#[test]
fn a_finely_recorded_path_is_no_longer() {
    let home = folder();
    let fine: Vec<(f64, f64, Option<f64>)> =
        (0..600).map(|at| (f64::from(at / 2), 1e-3 * f64::from(at % 2), Some(60.0))).collect();
    std::fs::write(home.path().join("fine.gpx"), gpx(&fine)).expect("written");
    output(home.path(), &["new", "--path", "fine.gpx"]);
    assert_eq!(read(&home.path().join("fine.toml")).craft.mass_kg.central(), 1.0);
}

/// A long path gets a craft that can fly it.
#[test]
fn a_long_path_gets_a_larger_craft() {
    let home = folder();
    let far = [(0.0, 0.0, Some(60.0)), (3500.0, 100.0, Some(60.0)), (0.0, 0.0, Some(60.0))];
    std::fs::write(home.path().join("far.gpx"), gpx(&far)).expect("written");
    output(home.path(), &["new", "--path", "far.gpx"]);
    let scenario = read(&home.path().join("far.toml"));
    assert_eq!(scenario.craft.mass_kg.central(), 4.0);
    let plan = survey(&World::for_planning(scenario).expect("a world"));
    assert!(plan.along.last().expect("a path").charge_pct > 25.0 && plan.warnings.is_empty(), "{:?}", plan.warnings);
}
