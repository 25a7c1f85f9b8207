//! The program as it is used: every command on a small scenario, its exit codes, its files, its text.

use assert_cmd::Command;
use std::path::Path;
use tempfile::TempDir;

const SCENARIO: &str = r#"
title = "A small field"
about = "Invented, for tests."
invented = true
seed = 5
flights = 12
[site]
extent_m = [-200, -200, 200, 200]
home_m = [0, 0]
[[site.zone]]
name = "meadow"
kind = "clear"
polygon_m = [[-150, -150], [150, -150], [150, 150], [-150, 150]]
[[site.zone]]
name = "café"
kind = "people"
circle_m = [60, 40, 15]
people = 4
present_share = 0.5
[[site.obstacle]]
name = "oak"
kind = "trees"
circle_m = [40, 0, 8]
height_m = 12
[craft]
mass_kg = { normal = [1.0, 0.03] }
[path]
waypoints_m = [[0, 20, 30], [80, 60, 30], [-60, 60, 30]]
speed_mps = 8
[loss.cut]
any_time = true
[[policy]]
name = "drop"
[[policy.action]]
drop = {}
[[policy]]
name = "home"
[[policy.action]]
hold = { for_s = 1 }
[[policy.action]]
return = { height = { exactly_m = 30 }, home_circle_m = 5 }
guard.fix = { satellites = 7, hdop = 2.5 }
[delivered]
name = "as delivered"
[[delivered.action]]
hold = { for_s = 2 }
[[delivered.action]]
land = {}
[[condition]]
name = "windy"
set = { "weather.wind_mps" = 9.0 }
"#;

fn folder() -> TempDir {
    let folder = tempfile::tempdir().expect("a folder for the test");
    std::fs::write(folder.path().join("field.toml"), SCENARIO).expect("the scenario can be written");
    folder
}

fn lostlink(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lostlink"));
    command.current_dir(folder).env_remove("NO_COLOR").args(arguments);
    command
}

/// Standard output of a run that ends well.
fn output(folder: &Path, arguments: &[&str]) -> String {
    let done = lostlink(folder, arguments).assert().code(0);
    String::from_utf8(done.get_output().stdout.clone()).expect("UTF-8")
}

/// Standard error of a run that ends with this code.
fn complaint(folder: &Path, arguments: &[&str], code: i32) -> String {
    let done = lostlink(folder, arguments).assert().code(code);
    String::from_utf8(done.get_output().stderr.clone()).expect("UTF-8")
}

/// What every text holds to: 80 columns, no escape sequence in a pipe, no rate of nothing, no promise.
fn check_text(what: &str, text: &str) {
    assert!(!text.is_empty(), "{what}");
    assert!(!text.contains('\u{1b}'), "{what}: escape sequences in a pipe");
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{what}: {} columns: {line}", line.chars().count());
    }
    let lower = text.to_lowercase();
    assert!(!lower.split(|c: char| !c.is_alphanumeric()).any(|word| ["safe", "safely"].contains(&word)), "{what}");
    assert!(!lower.contains(" 0 %") && !lower.contains("nan") && !lower.contains("inf "), "{what}: {text}");
    assert!(lower.contains("local rules"), "{what}: defers to local rules");
}

/// The commands with a text, their arguments, and the files they leave in `out`.
fn commands() -> Vec<(&'static str, Vec<&'static str>, Vec<&'static str>)> {
    let out = |mut arguments: Vec<&'static str>| {
        arguments.extend(["--out", "out"]);
        arguments
    };
    vec![
        ("check", vec!["check", "field.toml"], vec![]),
        (
            "assess",
            out(vec!["assess", "field.toml", "--quick"]),
            vec!["summary.json", "flights.csv", "ends.geojson", "report.html", "figures/map.svg", "figures/map.png"],
        ),
        (
            "heights",
            out(vec!["heights", "field.toml", "--count", "3", "--from", "15", "--to", "45"]),
            vec!["heights.json", "heights.html"],
        ),
        ("replay", vec!["replay", "field.toml", "--flight", "3", "--policy", "home"], vec![]),
        (
            "reach",
            out(vec!["reach", "field.toml", "--height", "20,50", "--cells", "40"]),
            vec![
                "reach.json",
                "reach.html",
                "map-20m.csv",
                "map-50m.csv",
                "directions.csv",
                "along.csv",
                "section.csv",
            ],
        ),
        ("sky", out(vec!["sky", "field.toml", "--hdop", "1.2"]), vec!["sky.json", "sky.csv", "sky.html"]),
        ("sheet", out(vec!["sheet", "field.toml"]), vec!["sheet.json", "sheet.html"]),
    ]
}

#[test]
fn every_command_runs_and_its_text_fits() {
    for (name, arguments, files) in commands() {
        let folder = folder();
        let text = output(folder.path(), &arguments);
        check_text(name, &text);
        for file in &files {
            let path = folder.path().join("out").join(file);
            assert!(path.metadata().is_ok_and(|meta| meta.len() > 0), "{name} leaves {file}");
        }
        // A second run over its own report, in plain ASCII: the report is replaced, the text is the same but for signs.
        let mut again = arguments.clone();
        again.push("--ascii");
        let plain = output(folder.path(), &again);
        check_text(name, &plain);
        assert!(plain.is_ascii(), "{name}: {:?}", plain.chars().find(|c| !c.is_ascii()));
        let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        let expected = if files.is_empty() { 1 } else { 2 };
        assert_eq!(left.len(), expected, "{name} leaves nothing beside its report: {left:?}");
    }
}

#[test]
fn json_parses_and_is_what_the_folder_holds() {
    for (name, mut arguments, files) in commands() {
        if name == "sheet" {
            continue;
        }
        let folder = folder();
        arguments.push("--json");
        let text = output(folder.path(), &arguments);
        let value: serde_json::Value = serde_json::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(value.is_object() && !text.contains("NaN"), "{name}");
        if name == "assess" {
            let losses = value["losses"].as_array().expect("the flights told in full");
            assert!(!losses.is_empty());
            for loss in losses {
                let distance_db = 20.0 * loss["distance_m"].as_f64().expect("a distance").max(1.0).log10();
                assert_eq!(loss["cause"], "cut");
                assert!((loss["budget"]["distance_db"].as_f64().expect("a term") - distance_db).abs() < 0.5, "{loss}");
            }
        }
        if let Some(mark) = files.first() {
            let held = std::fs::read_to_string(folder.path().join("out").join(mark)).expect("the mark file");
            assert_eq!(held, text, "{name}: standard output and {mark}");
        }
    }
    let folder = folder();
    output(folder.path(), &["sheet", "field.toml", "--policy", "drop", "--out", "card"]);
    let card = std::fs::read_to_string(folder.path().join("card/sheet.json")).expect("the card");
    let card: serde_json::Value = serde_json::from_str(&card).expect("JSON");
    assert_eq!(card["policy"], "drop");
    assert!(card["height_m"].is_null(), "a drop has no height to come home at");
    assert!(card["tests"].as_array().is_some_and(|tests| tests.len() > 10), "{card}");
}

#[test]
fn threads_do_not_change_a_byte() {
    let folder = folder();
    let run = |threads: &str| {
        output(folder.path(), &["assess", "field.toml", "--quick", "--out", "r", "--json", "--threads", threads])
    };
    assert_eq!(run("1"), run("3"));
}

#[test]
fn colour_is_for_terminals_and_for_those_who_ask() {
    let folder = folder();
    let arguments = ["assess", "field.toml", "--quick", "--out", "r", "--color"];
    let with = |how: &str| output(folder.path(), &[&arguments[..], &[how]].concat());
    assert!(with("always").contains('\u{1b}'));
    assert!(!with("never").contains('\u{1b}'));
    assert!(!with("auto").contains('\u{1b}'));
    let done = lostlink(folder.path(), &["check", "field.toml"]).env("NO_COLOR", "1").assert().code(0);
    assert!(!done.get_output().stdout.contains(&0x1b));
}

#[test]
fn mistakes_are_told_with_their_line() {
    let folder = folder();
    let write = |name: &str, text: &[u8]| std::fs::write(folder.path().join(name), text).expect("written");
    let line = SCENARIO.lines().position(|line| line.starts_with("mass_kg")).expect("there is one") + 1;
    write("heavy.toml", SCENARIO.replace("mass_kg = { normal = [1.0, 0.03] }", "mass_kg = -1").as_bytes());
    for command in ["check", "assess", "heights", "replay", "reach", "sky", "sheet"] {
        let text = complaint(folder.path(), &[command, "heavy.toml"], 2);
        assert!(text.contains(&format!("heavy.toml:{line}")), "{command}: {text}");
        assert!(!text.contains('\u{1b}'), "{command}: {text:?}");
    }
    write("latin.toml", b"title = \"x\"\nabout = \"caf\xe9\"\n");
    assert!(complaint(folder.path(), &["check", "latin.toml"], 2).contains("latin.toml:2"));
    assert!(complaint(folder.path(), &["check", "missing.toml"], 2).contains("missing.toml"));
    assert!(!folder.path().join("reports").exists(), "a scenario that is refused leaves no report");
}

#[test]
fn arguments_out_of_range_are_refused_with_what_is_accepted() {
    let folder = folder();
    for arguments in [
        vec!["heights", "field.toml", "--from", "50", "--to", "20"],
        vec!["heights", "field.toml", "--speeds", "900"],
        vec!["heights", "field.toml", "--policy", "drop"],
        vec!["replay", "field.toml", "--policy", "nobody"],
        vec!["reach", "field.toml", "--height", "0"],
        vec!["reach", "field.toml", "--dwell", "0"],
        vec!["sky", "field.toml", "--satellites", "2"],
        vec!["sky", "field.toml", "--hdop", "0"],
        vec!["sheet", "field.toml", "--policy", "nobody"],
        vec!["assess", "field.toml", "--until-half-width", "80"],
    ] {
        let text = complaint(folder.path(), &arguments, 2);
        assert!(text.contains("accepted:"), "{arguments:?}: {text}");
    }
    for arguments in [vec!["asess"], vec!["assess"], vec!["assess", "field.toml", "--flights", "0"], vec![]] {
        complaint(folder.path(), &arguments, 2);
    }
    assert!(!folder.path().join("reports").exists());
}

#[test]
fn a_folder_with_other_things_is_left_alone() {
    for (name, mut arguments, files) in commands() {
        if files.is_empty() {
            continue;
        }
        let folder = folder();
        std::fs::create_dir(folder.path().join("out")).expect("made");
        std::fs::write(folder.path().join("out/letter.txt"), "dear").expect("written");
        arguments.push("--ascii");
        let text = complaint(folder.path(), &arguments, 1);
        assert!(text.contains("other things"), "{name}: {text}");
        let left: Vec<_> = std::fs::read_dir(folder.path().join("out")).unwrap().collect();
        assert_eq!(left.len(), 1, "{name}");
        assert_eq!(std::fs::read_to_string(folder.path().join("out/letter.txt")).unwrap(), "dear", "{name}");
    }
}

/// A run killed while it flies leaves the earlier report as it was and no half-written one; the next run clears up.
#[test]
fn a_killed_run_leaves_the_earlier_report_alone() {
    let folder = folder();
    let arguments = ["assess", "field.toml", "--quick", "--out", "report"];
    let first = output(folder.path(), &arguments);
    let files = |path: &Path| {
        let mut found: Vec<(String, Vec<u8>)> = std::fs::read_dir(path)
            .expect("a folder")
            .map(|entry| entry.expect("readable").path())
            .filter(|path| path.is_file())
            .map(|path| (path.display().to_string(), std::fs::read(&path).expect("readable")))
            .collect();
        found.sort();
        found
    };
    let before = files(&folder.path().join("report"));
    assert!(before.len() >= 4, "{} files", before.len());
    let hidden = || {
        let entries =
            std::fs::read_dir(folder.path()).expect("a folder").map(|entry| entry.expect("readable").file_name());
        entries.filter(|name| name.to_string_lossy().starts_with('.')).count()
    };
    // Far more flights than can be flown before the kill.
    let mut run = std::process::Command::new(env!("CARGO_BIN_EXE_lostlink"))
        .args(arguments)
        .args(["--flights", "5000000"])
        .current_dir(folder.path())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .expect("runs");
    let start = std::time::Instant::now();
    while hidden() == 0 {
        assert!(start.elapsed().as_secs() < 60, "nothing is written beside the report");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    assert!(run.try_wait().expect("known").is_none(), "it is still at work");
    run.kill().expect("killed");
    run.wait().expect("gone");
    assert_eq!(files(&folder.path().join("report")), before, "the earlier report stands");
    assert_eq!(output(folder.path(), &arguments), first, "and the next run is as the first");
    assert_eq!(hidden(), 0, "what the killed run left is cleared");
    assert_eq!(files(&folder.path().join("report")), before);
}

#[test]
fn help_completions_and_manual_pages_come_out() {
    let folder = folder();
    let help = output(folder.path(), &["--help"]);
    for command in ["check", "assess", "heights", "replay", "reach", "sky", "sheet", "completions", "man"] {
        assert!(help.contains(command), "{command}");
    }
    for command in ["check", "assess", "heights", "replay", "reach", "sky", "sheet"] {
        assert!(output(folder.path(), &[command, "--help"]).contains("Example"), "{command} teaches by example");
    }
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        assert!(output(folder.path(), &["completions", shell]).contains("lostlink"), "{shell}");
    }
    output(folder.path(), &["man", "pages"]);
    for page in ["lostlink.1", "lostlink-assess.1", "lostlink-sheet.1"] {
        let text = std::fs::read_to_string(folder.path().join("pages").join(page)).expect(page);
        assert!(text.starts_with(".ie") || text.contains(".TH"), "{page}");
    }
}
