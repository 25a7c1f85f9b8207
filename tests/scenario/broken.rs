//! Broken files, each with its words beside it.

use super::expected::differs;
use super::helpers::{Folder, broken, names_in, words};
use lostlink::scenario;

/// Every broken file is refused with the words beside it.
#[test]
fn broken_files_are_refused_with_these_words() {
    let folder = broken();
    let names = names_in(&folder, ".toml");
    assert!(names.len() >= 8);
    let mut differing = String::new();
    for name in names {
        let text = std::fs::read_to_string(folder.join(&name)).expect("readable");
        let found = scenario::read(&name, &text, &Folder(folder.clone())).expect_err("a broken file");
        let drawn = lostlink::cli::diagnostics::render(&found, false);
        differing += &differs(&folder.join(name.replace(".toml", ".txt")), &drawn);
    }
    let folder = folder.join("lessons");
    for name in names_in(&folder, ".toml") {
        let text = std::fs::read_to_string(folder.join(&name)).expect("readable");
        let found = lostlink::lesson::read(&name, &text, &Folder(folder.clone())).expect_err("a broken lesson");
        let drawn = lostlink::cli::diagnostics::render(&found, false);
        differing += &differs(&folder.join(name.replace(".toml", ".txt")), &drawn);
    }
    assert!(differing.is_empty(), "{differing}");
}

/// Every broken file of data is refused, or warned of, with its words, those of all of them in one file: its place, what is wrong, what
/// would be accepted.
#[test]
fn broken_data_is_refused_with_these_words() {
    let folder = broken().join("data");
    let mut told = String::new();
    for name in names_in(&folder, "") {
        let (site, path, sky) = match name.rsplit('.').next().unwrap_or_default() {
            "asc" => (format!("terrain_file = \"{name}\""), String::new(), String::new()),
            "gpx" | "txt" => (String::new(), format!("file = \"{name}\""), String::new()),
            "geojson" if name.contains(".path.") => (String::new(), format!("file = \"{name}\""), String::new()),
            "geojson" => (format!("ground_file = \"{name}\""), String::new(), String::new()),
            "alm" | "rnx" => (String::new(), String::new(), format!("almanac_file = \"{name}\"")),
            other => panic!("{name}: what names a file .{other}?"),
        };
        let path = if path.is_empty() { "waypoints_m = [[0, 40, 20]]" } else { &path };
        let text = format!(
            "title = \"x\"\n[site]\nlat_deg = 47\nlon_deg = 8\n{site}\n[craft]\nmass_kg = 1\n[path]\n{path}\n[sky]\nutc = 2021-03-19T12:00:00Z\n{sky}\n\
             [[policy]]\nname = \"land\"\naction = [{{ land = {{}} }}]\n"
        );
        told += &match scenario::read("data.toml", &text, &Folder(folder.clone())) {
            Err(found) => words(&found),
            Ok(scenario) => {
                assert!(!scenario.warnings.is_empty(), "{name} is taken without a word");
                scenario.warnings.iter().map(|warning| format!("warning: {warning}\n")).collect()
            }
        };
    }
    let differing = differs(&broken().join("data.txt"), &told);
    assert!(differing.is_empty(), "{differing}");
}
