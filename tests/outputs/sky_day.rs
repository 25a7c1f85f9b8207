//! The day of the sky: table, CSV, JSON and figures of invented places.

use crate::field::Field;
use lostlink::plan::{SkyDay, fix_limits};
use lostlink::report::plot::{self, Figure, Look};
use lostlink::report::sky;
use lostlink::report::terminal::{self, Manner};
use lostlink::scenario::{self, Files, Scenario};
use std::path::PathBuf;

/// The one almanac.
struct OneFile;

impl Files for OneFile {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        if name == "real.21p" {
            let path = concat!(env!("LOSTLINK_ROOT"), "tests/data/sept078m-trimmed.21p");
            return std::fs::read(path).map_err(|error| error.to_string());
        }
        Err(format!("{name}: no file here"))
    }
}

fn scenario(site: &str, sky: &str) -> Scenario {
    Field {
        half_m: 300.0,
        site,
        sky,
        waypoints_m: "[[0, 10, 90], [0, 0, 90]]",
        more: "[loss.cut]\nany_time = true\n",
        action: "return = { height = { up_m = 60, may_sink = true }, home_circle_m = 5 }\nguard.fix = { satellites = 10, hdop = 1.5 }",
        ..Field::default()
    }
    .read_with(&OneFile)
}

const GORGE: &str = r#"
lat_deg = 46.2
lon_deg = 9.1
height_amsl_m = 700
[[site.obstacle]]
name = "north wall"
kind = "building"
polygon_m = [[-250, 40], [250, 40], [250, 120], [-250, 120]]
height_m = 60
[[site.obstacle]]
name = "wood"
kind = "trees"
polygon_m = [[-250, -120], [250, -120], [250, -30], [-250, -30]]
height_m = 22
"#;

fn days() -> Vec<(&'static str, SkyDay)> {
    let open = scenario("", "utc = 2026-05-16T09:30:00Z\nconstellations = [\"gps30\", \"galileo\"]");
    let gorge = scenario(GORGE, "utc = 2026-05-16T09:30:00Z\nconstellations = [\"gps24\"]\nmultipath = \"walled\"");
    let odd = scenario(GORGE, "utc = 2026-05-16T09:30:00Z\nconstellations = [\"glonass\", \"beidou\"]");
    let real = scenario(
        "lat_deg = 35.34\nlon_deg = 139.52\nheight_amsl_m = 65",
        "utc = 2021-03-19T11:30:00Z\nconstellations = [\"gps30\", \"galileo\"]\nalmanac_file = \"real.21p\"",
    );
    [("open", open, 1.5), ("gorge", gorge, 1.5), ("odd", odd, 20.0), ("real", real, 1.5)]
        .into_iter()
        .map(|(name, scenario, height_m)| {
            let limits = fix_limits(&scenario);
            (name, SkyDay::new(&scenario, &scenario.site.grid(), [0.0, 0.0], height_m, &limits).expect("a sky"))
        })
        .collect()
}

#[test]
fn a_day_says_what_it_compares() {
    for (name, day) in days() {
        assert!(day.sets.len() >= 2, "{name}");
        // More constellations, more satellites, at every moment.
        for pair in day.sets[..day.sets.len().min(3)].windows(2) {
            for (few, many) in pair[0].rows.iter().zip(&pair[1].rows) {
                assert!(few.satellites <= many.satellites, "{name}");
            }
        }
        for set in &day.sets {
            assert_eq!((set.rows.len(), set.hours.len()), (288, 24));
            let (best, worst) = (&set.hours[set.best_hour as usize], &set.hours[set.worst_hour as usize]);
            assert!(best.greatest_hdop <= worst.greatest_hdop || best.share_without < worst.share_without, "{name}");
            for guard in &set.guards {
                let failing: f64 = guard.failing_s.iter().map(|[from, to]| to - from).sum();
                assert!((failing / 86_400.0 - guard.share_failing).abs() < 1e-9, "{name}");
            }
        }
    }
    let days = days();
    let (open, gorge) = (&days[0].1, &days[1].1);
    assert!(gorge.own_set().median_hdop > open.own_set().median_hdop);
    assert!(gorge.own_set().guards[0].share_failing > open.own_set().guards[0].share_failing);
    assert!(!open.place_stated && open.warnings.iter().any(|w| w.contains("assumed")));
    // The choice that is none of the usual comes last.
    assert_eq!(days[2].1.own, 3);
    assert_eq!(days[2].1.own_set().name, "GLONASS + BeiDou");
    // The file holds no GLONASS: said, not drawn as if it did.
    assert_eq!(days[3].1.sets.len(), 2);
    assert!(days[3].1.warnings.iter().any(|w| w.contains("left out") && w.contains("GLONASS")));
    // The wall to the north hides what stands below 50°.
    assert!(gorge.horizon_deg[0][1] > 45.0 && gorge.horizon_deg[16][1] < 1.0);
    assert!(gorge.canopy_deg[16][1] > 25.0);
}

#[test]
fn tables_are_whole() {
    for (name, day) in days() {
        let text = terminal::print(&sky::document(&day, "A sky", true), Manner::default());
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{name}: {} columns: {line}", line.chars().count());
        }
        let lower = text.to_lowercase();
        assert!(
            !lower.split_whitespace().any(|word| word.starts_with("safe"))
                && !lower.contains(" 0 %")
                && !lower.contains("nan")
                && !lower.contains(" inf")
        );
        assert!(text.contains("Best hour") && text.contains("guard would not pass"));

        let mut csv = Vec::new();
        sky::write_csv(&day, &mut csv).unwrap();
        let mut reader = csv::Reader::from_reader(csv.as_slice());
        assert_eq!(reader.records().filter(|row| row.is_ok()).count(), 288 * day.sets.len());

        let value = serde_json::to_value(lostlink::report::json::SKY.of(&day)).unwrap();
        assert_eq!(value["format"], "lostlink-sky");
        assert_eq!(value["sets"].as_array().unwrap().len(), day.sets.len());
    }
}

fn check(name: &str, figure: &Figure) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("figures");
    std::fs::create_dir_all(&folder).expect("the tests' folder can be made");
    let png = figure.png(2.0).unwrap_or_else(|error| panic!("{name}: {error}"));
    std::fs::write(folder.join(format!("{name}-{}.png", figure.id)), png).expect("the picture can be written");
    assert!(figure.layout.cut().is_empty(), "{name}: cut {:#?}", figure.layout.cut());
    assert!(figure.layout.overlaps().is_empty(), "{name}: overlapping {:#?}", figure.layout.overlaps());
    assert!(figure.layout.unexplained().is_empty(), "{name}: {:?}", figure.layout.unexplained());
    assert!(!figure.svg.contains("NaN") && figure.words.len() > 20, "{name}");
}

#[test]
fn figures_are_complete() {
    let looks = [("wide", Look::WIDE), ("dark", Look::WIDE.dark()), ("phone", Look::NARROW)];
    for (name, day) in days() {
        for (look_name, look) in looks {
            check(&format!("sky-{name}-{look_name}"), &plot::sky_day(&day, look));
            check(&format!("sky-{name}-{look_name}"), &plot::sky_plot(&day, 34_200.0, 41_400.0, look));
        }
    }
}

#[test]
fn a_file_that_does_not_serve_the_flight_is_refused_at_its_line() {
    let text = "title = \"t\"\nabout = \"a\"\ninvented = true\nseed = 1\n[site]\nextent_m = [-300, -300, 300, 300]\nhome_m = [0, 0]\n[craft]\nmass_kg = 1.0\n[sky]\nutc = 2026-05-16T09:30:00Z\nalmanac_file = \"real.21p\"\n[path]\nwaypoints_m = [[0, 10, 90], [0, 0, 90]]\nspeed_mps = 8\n[loss.cut]\nany_time = true\n[[policy]]\nname = \"land\"\n[[policy.action]]\nland = {}\n";
    let found = scenario::read("old.toml", text, &OneFile).expect_err("five years too old");
    assert!(found.iter().any(|finding| finding.line == Some(12) && finding.found.contains("no record")), "{found:?}");
}
