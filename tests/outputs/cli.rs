//! The program as it is used: every command on a small scenario, its exit codes, its files, its text.

use crate::typed::{both, complaint, contents, field, lostlink, output};
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
return = { height = { up_m = 30, may_sink = true }, home_circle_m = 5 }
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
    field(SCENARIO)
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
            out(vec!["assess", "field.toml", "--quick", "--png"]),
            vec!["summary.json", "flights.csv", "inputs.csv", "report.html", "figures/map.svg", "figures/map.png"],
        ),
        (
            "heights",
            out(vec!["heights", "field.toml", "--count", "3", "--from", "15", "--to", "45"]),
            vec!["heights.json", "heights.html"],
        ),
        ("replay", vec!["replay", "field.toml", "--flight", "3", "--policy", "home"], vec![]),
        ("replay", vec!["replay", "field.toml", "policies-differ-most"], vec![]),
        (
            "replay",
            out(vec!["replay", "field.toml", "--flight", "3", "--policy", "home", "--png"]),
            vec![
                "replay.json",
                "replay.html",
                "trace-1.csv",
                "figures/timeline.svg",
                "figures/budget.png",
                "figures/loss-plan.svg",
                "figures/loss-animated.png",
            ],
        ),
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

/// The same without pictures, which take most of their time: for tests that do not depend on them.
fn commands_without_pictures() -> Vec<(&'static str, Vec<&'static str>, Vec<&'static str>)> {
    let mut list = commands();
    for (_, arguments, files) in &mut list {
        arguments.retain(|argument| *argument != "--png");
        files.retain(|file| !file.ends_with(".png"));
    }
    list
}

/// A longer run says early what its first flights say, and calls it that; a short one has nothing to say before its end.
#[test]
fn a_longer_run_says_something_early() {
    let folder = folder();
    let run =
        |flights: &str| both(folder.path(), &["assess", "field.toml", "--quick", "--flights", flights, "--out", "out"]);
    let (_, early) = run("300");
    assert!(early.starts_with("Preliminary, after 256 of 300 flights; the whole run may say otherwise."), "{early}");
    assert!(early.lines().all(|line| line.chars().count() <= 80), "{early}");
    // What it says is what a run of so many flights says, which has nothing to say before its end.
    let (of_256, nothing) = run("256");
    assert_eq!(nothing, "");
    let joined = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = joined(&early);
    let said = said.split_once("otherwise. ").expect("an answer").1;
    assert!(joined(&of_256).contains(said), "{said}\n{of_256}");
}

/// Every stage is told, and what they took adds up.
#[test]
fn where_the_time_goes_is_told_when_asked_for() {
    let folder = folder();
    let words = ["assess", "field.toml", "--flights", "20", "--timing", "--out", "out"];
    let told = complaint(folder.path(), &words, 0);
    let wall_s = |name: &str| -> f64 {
        let row = told.lines().find_map(|line| line.strip_prefix(name)).unwrap_or_else(|| panic!("{name}: {told}"));
        row.split_whitespace().next().and_then(|word| word.parse().ok()).unwrap_or_else(|| panic!("{name}: {told}"))
    };
    let stages = [
        "scenario ",
        "world ",
        "worlds of the conditions",
        "flights ",
        "statistics, flights told",
        "survey without flights",
        "conditions ",
        "what would change the answer",
        "what-if bars",
        "flights.csv, inputs.csv",
        "answer ",
        "figures still to be drawn",
        "figures' files, page",
        "other files",
    ];
    let sum_s: f64 = stages.iter().map(|name| wall_s(name)).sum();
    assert!((sum_s - wall_s("in all ")).abs() < 0.01, "{told}");
    // Done while side runs fly, and counted with them.
    let side_s: f64 = ["conditions ", "what would change the answer", "what-if bars"].into_iter().map(wall_s).sum();
    assert!((0.001..side_s + 0.01).contains(&wall_s("figures drawn beside flying")), "{told}");
    for part in ["luck", "trunks", "branches", "in all"] {
        assert!(told.lines().any(|line| line.starts_with(&format!("  {part}")) && line.contains(" ms ")), "{told}");
    }
    assert!(told.contains(" s simulated, ") && told.contains(" us each"), "{told}");
}

/// Pictures are made only for those who ask for them.
#[test]
fn figures_are_svg_unless_pictures_are_asked_for() {
    let folder = folder();
    let pictures = |more: &[&str]| {
        output(
            folder.path(),
            &[&["assess", "field.toml", "--quick", "--flights", "20", "--out", "out"], more].concat(),
        );
        let names = std::fs::read_dir(folder.path().join("out/figures")).expect("figures");
        names.filter(|entry| entry.as_ref().expect("readable").path().extension().is_some_and(|e| e == "png")).count()
    };
    assert_eq!(pictures(&[]), 0);
    assert!(pictures(&["--png"]) > 5);
    assert_eq!(pictures(&[]), 0, "those of an earlier report go with it");
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
        // This field does not say where it lies.
        assert!(!folder.path().join("out/ends.geojson").exists(), "{name}");
        // A second run over its own report, in plain ASCII and without pictures: the report is replaced, the text is the same but for signs.
        let mut again = arguments.clone();
        again.retain(|argument| *argument != "--png");
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
    for (name, mut arguments, files) in commands_without_pictures() {
        if name == "sheet" {
            continue;
        }
        let folder = folder();
        arguments.push("--json");
        let text = output(folder.path(), &arguments);
        let value: serde_json::Value = serde_json::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(value.is_object() && !text.contains("NaN"), "{name}");
        let form = if name == "assess" { "summary" } else { name };
        assert_eq!(value["format"], format!("lostlink-{form}"), "{name}");
        assert!(value["version"].as_u64().is_some_and(|version| version > 0), "{name}");
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
    assert_eq!((&card["format"], card["version"].as_u64()), (&"lostlink-sheet".into(), Some(1)));
    assert_eq!(card["policy"], "drop");
    assert!(card["height_m"].is_null(), "a drop has no height to come home at");
    assert!(card["tests"].as_array().is_some_and(|tests| tests.len() > 10), "{card}");
}

/// A card names the failsafe to set only where the assessment leaves one policy of several; else it says what its policy is.
#[test]
fn a_card_says_what_to_set_where_the_assessment_does() {
    // With the guests out of the way some hundred flights settle it.
    let settled = SCENARIO.replace("flights = 12", "flights = 600").replace("[60, 40, 15]", "[190, -190, 5]");
    let at = |words: &str| settled.find(words).expect("it stands there");
    let (drop, home, delivered) =
        (at("[[policy]]\nname = \"drop\""), at("[[policy]]\nname = \"home\""), at("[delivered]"));
    let twin = settled[home..delivered].replace("\"home\"", "\"home as well\"");
    let twins = format!("{}{twin}{}", &settled[..delivered], &settled[delivered..]);
    let alone = format!("{}{}", &settled[..drop], &settled[home..]);
    let open = settled.replace("flights = 600", "flights = 12");
    let never = open.replace("any_time = true", "time_s = 36000");
    for (scenario, policy, opening) in [
        (&settled, None, "Failsafe to set: home"),
        (&settled, Some("home"), "Failsafe to set: home"),
        (&settled, Some("drop"), "Set aside by the assessment: drop"),
        (&twins, None, "Either of 2 policies serves. Card for: home"),
        (&twins, Some("home as well"), "Either of 2 policies serves. Card for: home as well"),
        (&twins, Some("drop"), "Set aside by the assessment: drop"),
        (&open, Some("drop"), "Undecided between 2 policies. Card for: drop"),
        (&alone, None, "The only policy of the scenario: home"),
        (&never, Some("home"), "No link was lost, so nothing is chosen. Card for: home"),
    ] {
        let folder = field(scenario);
        let words = ["sheet", "field.toml", "--out", "card"].into_iter();
        let words: Vec<&str> = words.chain(policy.iter().flat_map(|name| ["--policy", name])).collect();
        let text = output(folder.path(), &words);
        assert!(text.lines().any(|line| line == opening), "{policy:?}: no line \"{opening}\" in {text}");
        let page = std::fs::read_to_string(folder.path().join("card/sheet.html")).expect("the page");
        assert!(page.contains(opening), "{policy:?}: no \"{opening}\" on the page");
        let data = std::fs::read_to_string(folder.path().join("card/sheet.json")).expect("the card");
        let data: serde_json::Value = serde_json::from_str(&data).expect("JSON");
        assert_eq!(data["opening"], opening, "{policy:?}");
        // Who chose by hand is told what that costs, and no wind is told where nothing was compared.
        let said = |key: &str| data[key].as_str().unwrap_or_else(|| panic!("{key}: {data}")).to_string();
        assert!(policy != Some("drop") || said("verdict").contains("; craft lost or worse: all of "), "{data}");
        let compared = scenario != &never && scenario != &alone;
        assert_eq!(said("wind").contains("m/s at 10 m height"), compared, "{policy:?}: {}", said("wind"));
    }
}

/// Where a policy holds from some wind on, the card does not say that it holds below that.
#[test]
fn a_card_says_from_which_wind_its_policy_holds() {
    let folder = folder();
    let quarry = Path::new(env!("LOSTLINK_ROOT")).join("scenarios/quarry.toml");
    let quarry = quarry.to_str().expect("a path of the project");
    output(folder.path(), &["sheet", quarry, "--policy", "drop", "--out", "card"]);
    let card = std::fs::read_to_string(folder.path().join("card/sheet.json")).expect("the card");
    let card: serde_json::Value = serde_json::from_str(&card).expect("JSON");
    let wind = card["wind"].as_str().expect("a sentence");
    let number = |after: &str| -> f64 {
        let rest = wind.split_once(after).unwrap_or_else(|| panic!("no \"{after}\" in {wind}")).1;
        rest.split_whitespace().next().and_then(|word| word.parse().ok()).unwrap_or_else(|| panic!("{after}: {wind}"))
    };
    let (better_below, from, up_to) = (number(". At "), number("\"drop\" from "), number(" up to "));
    assert!(better_below < from && from <= up_to, "{wind}");
}

/// The page is in the data: printed from `summary.json` and the figures beside it, it is the one that `assess` wrote.
#[test]
fn a_page_is_printed_from_its_summary() {
    let folder = folder();
    let here = folder.path();
    for extra in [&["--quick"][..], &[]] {
        output(here, &[&["assess", "field.toml", "--out", "out"][..], extra].concat());
        let page = std::fs::read(here.join("out/report.html")).expect("the page");
        output(here, &["page", "out/summary.json", "--out", "again.html"]);
        assert!(std::fs::read(here.join("again.html")).expect("written") == page, "{extra:?}: the page in a file");
        let printed = lostlink(here, &["page", "out/summary.json"]).assert().code(0).get_output().stdout.clone();
        assert!(printed == page, "{extra:?}: the page on standard output");
    }
    // From where the summary lies, too.
    let printed = lostlink(&here.join("out"), &["page", "summary.json"]).assert().code(0).get_output().stdout.clone();
    assert!(printed == std::fs::read(here.join("out/report.html")).expect("the page"));
}

#[test]
fn a_page_that_cannot_be_printed_says_what_is_wrong_and_where() {
    let folder = folder();
    let here = folder.path();
    output(here, &["assess", "field.toml", "--quick", "--out", "out"]);
    let whole = std::fs::read_to_string(here.join("out/summary.json")).expect("the summary");
    let told = |text: &[u8], words: &[&str]| {
        std::fs::write(here.join("out/other.json"), text).expect("written");
        let said = complaint(here, &["page", "out/other.json", "--out", "page.html"], 2);
        for word in words.iter().chain(&["other.json", "accepted:"]) {
            assert!(said.contains(word), "{word:?} is not in {said}");
        }
        assert!(!here.join("page.html").exists(), "nothing is written: {said}");
    };
    let said = complaint(here, &["page", "out/nowhere.json"], 2);
    assert!(said.contains("nowhere.json") && said.contains("accepted:"), "{said}");
    assert!(complaint(here, &["page", "out"], 2).contains("accepted:"));
    told(b"", &[":1:0", "not a summary"]);
    told(b"dear all\n", &[":1:1", "not a summary"]);
    told(b"caf\xe9", &["UTF-8"]);
    told(b"{\"mine\": 1}", &["no `format`", "lostlink-summary"]);
    told(b"{\"format\": \"lostlink-reach\", \"version\": 3}", &["lostlink-reach", "lostlink-summary"]);
    let lines = whole.lines().count();
    let half = whole.lines().take(lines / 2).collect::<Vec<_>>().join("\n");
    told(half.as_bytes(), &[&format!(":{}:", lines / 2), "not a summary"]);
    // Another version, and a value of another kind in the right one.
    let newer = whole.replacen("\"version\": 3,", "\"version\": 7,", 1);
    told(newer.as_bytes(), &["other.json:3", "version 7", "version 3"]);
    let line = whole.lines().position(|line| line.contains("\"step_s\"")).expect("a key") + 1;
    let odd = whole.lines().map(|l| if l.contains("\"step_s\"") { "\"step_s\": \"few\"," } else { l });
    told(odd.collect::<Vec<_>>().join("\n").as_bytes(), &[&format!("other.json:{line}:"), "not a whole summary"]);
    let short = whole.replacen("\"circles_m\": [", "\"circles_m\": [ 1.5,", 1);
    told(short.as_bytes(), &["another length"]);
    // Figures that are gone are named.
    std::fs::remove_file(here.join("out/figures/map-360.svg")).expect("one figure");
    std::fs::remove_file(here.join("out/figures/map.svg")).expect("one figure");
    let said = complaint(here, &["page", "out/summary.json"], 2);
    assert!(said.contains("map.svg") && said.contains("accepted:"), "{said}");
    std::fs::remove_dir_all(here.join("out/figures")).expect("all figures");
    assert!(complaint(here, &["page", "out/summary.json"], 2).contains("figures.json"));
    assert!(complaint(here, &["page", "field.toml"], 2).contains("field.toml:"));
}

#[test]
fn threads_do_not_change_a_byte() {
    let folder = folder();
    let run = |threads: &str| {
        output(folder.path(), &["assess", "field.toml", "--quick", "--out", "r", "--json", "--threads", threads])
    };
    assert_eq!(run("1"), run("3"));
}

/// The story, its page, its data and its animation are the same bytes whatever the number of threads; a flight by its number is the
/// one that a word picked.
#[test]
fn a_story_is_the_same_on_one_thread_and_on_two() {
    let told = |extra: &[&str]| {
        let folder = folder();
        let text = output(folder.path(), &[&["replay", "field.toml"], extra].concat());
        (text, contents(folder.path()))
    };
    let one = told(&["worst", "--out", "out", "--threads", "1"]);
    let two = told(&["worst", "--out", "out", "--threads", "2"]);
    assert!(one == two);
    assert!(
        one.1.contains_key("out/trace-2.csv") && one.1.contains_key("out/figures/timeline-2.svg"),
        "{:?}",
        one.1.keys()
    );
    let flight =
        one.0.split(": flight ").nth(1).and_then(|rest| rest.split(',').next()).expect("its number").to_string();
    let again = told(&[&flight, "--page", "story.html"]);
    let sentences = |text: &str| {
        let from = text.find("What all policies share").expect("the story");
        text[from..text.find("Cautions").expect("its end")].to_string()
    };
    assert_eq!(sentences(&one.0), sentences(&again.0));
    let old = told(&["--flight", &flight]);
    assert_eq!(sentences(&old.0), sentences(&again.0), "the option of before says the same");
    assert!(again.1.get("story.html").is_some_and(|page| page.starts_with(b"<!DOCTYPE html>")));
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
        vec!["replay", "field.toml", "nearest"],
        vec!["replay", "field.toml", "first-that-struck", "--policy", "drop", "--flights", "3"],
        vec!["reach", "field.toml", "--height", "0"],
        vec!["reach", "field.toml", "--height", "-5"],
        vec!["reach", "field.toml", "--height", "30,-5"],
        vec!["reach", "field.toml", "--dwell", "-1"],
        vec!["sky", "field.toml", "--hdop", "-1"],
        vec!["sky", "field.toml", "--height", "-1"],
        vec!["heights", "field.toml", "--speeds", "-3"],
        vec!["heights", "field.toml", "--from", "-5"],
        vec!["heights", "field.toml", "--from", "1995"],
        vec!["assess", "field.toml", "--until-half-width", "-2"],
        vec!["reach", "field.toml", "--dwell", "0"],
        vec!["heights", "field.toml", "--from", "-5", "--to", "-20"],
        vec!["figure", "field.toml", "reach", "--height", "-5"],
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
    // A number below zero is a value, of every option.
    for (option, command) in
        [("--flights", "assess"), ("--seed", "assess"), ("--threads", "check"), ("--cells", "reach")]
    {
        let text = complaint(folder.path(), &[command, "field.toml", option, "-5"], 2);
        assert!(text.contains("invalid value '-5'") && text.contains(option), "{option}: {text}");
    }
    assert!(!folder.path().join("reports").exists());
}

/// Refused with exit code 1 and these words, and not a byte below the test's folder is changed.
fn refused(folder: &Path, arguments: &[&str], words: &[&str]) {
    let before = contents(folder);
    let text = complaint(folder, arguments, 1);
    for word in words {
        assert!(text.contains(word), "{arguments:?}: {word:?} is not in {text}");
    }
    assert!(contents(folder) == before, "{arguments:?} changed something: {text}");
}

const MARK: &str = lostlink::report::folder::MARK;

/// Whatever a folder without our mark holds, be it a file of a name that a report has: it stays.
#[test]
fn a_folder_with_other_things_is_left_alone() {
    for (_, arguments, files) in commands_without_pictures() {
        if files.is_empty() {
            continue;
        }
        let theirs = ["letter.txt", "summary.json", "heights.json", "sheet.json", "reach.json", "sky.json", files[0]];
        for file in theirs {
            let folder = folder();
            std::fs::create_dir(folder.path().join("out")).expect("made");
            std::fs::write(folder.path().join("out").join(file), "{\"mine\": 1}\n").expect("written");
            refused(folder.path(), &arguments, &["other things", file, "--out"]);
        }
        // A file of the mark's name that we did not write is no mark, nor is a folder or a link of that name.
        let folder = folder();
        let out = folder.path().join("out");
        std::fs::create_dir(&out).expect("made");
        std::fs::write(out.join(MARK), "a list of mine\n- letter.txt\n").expect("written");
        refused(folder.path(), &arguments, &["other things", MARK]);
        std::fs::remove_file(out.join(MARK)).expect("removed");
        std::fs::create_dir(out.join(MARK)).expect("made");
        refused(folder.path(), &arguments, &["other things", MARK]);
    }
}

/// A second run into a folder of ours replaces what the first wrote. What came in since, wherever in it, is kept and named,
/// and so is a file of ours that somebody changed.
#[test]
fn what_came_into_a_report_is_kept() {
    for (name, arguments, files) in commands_without_pictures() {
        if files.is_empty() {
            continue;
        }
        let folder = folder();
        let (here, out) = (folder.path(), folder.path().join("out"));
        let first = output(here, &arguments);
        let report = contents(&out);
        assert!(report.contains_key(MARK), "{name}: {:?}", report.keys());

        std::fs::write(out.join("notes.txt"), "seen in the field").expect("written");
        refused(here, &arguments, &["notes.txt", "move it away", "--out"]);
        std::fs::remove_file(out.join("notes.txt")).expect("removed");

        let nested = out.join("photos/spring");
        std::fs::create_dir_all(&nested).expect("made");
        refused(here, &arguments, &["photos", "move it away"]);
        std::fs::remove_dir_all(out.join("photos")).expect("removed");

        // Among files of ours, in a folder of ours where there is one.
        let beside = out.join(files.last().expect("one")).with_file_name("mine.png");
        std::fs::write(&beside, "a picture").expect("written");
        refused(here, &arguments, &["mine.png"]);
        std::fs::remove_file(&beside).expect("removed");

        let own = out.join(files[0]);
        let bytes = std::fs::read(&own).expect("readable");
        std::fs::write(&own, [&bytes[..], b"\nmy remark\n"].concat()).expect("written");
        refused(here, &arguments, &[files[0], "changed"]);
        std::fs::write(&own, &bytes).expect("written");

        // A file of ours that is gone is no reason to refuse.
        std::fs::remove_file(&own).expect("removed");
        assert_eq!(output(here, &arguments), first, "{name}");
        assert!(contents(&out) == report, "{name}: the second report is as the first");
        assert_eq!(
            contents(here).keys().filter(|key| !key.starts_with("out/")).count(),
            1,
            "{name}: nothing beside it"
        );
    }
}

#[cfg(unix)]
#[test]
fn links_are_followed_to_the_folder_and_never_removed() {
    use std::os::unix::fs::symlink;
    for (name, arguments, files) in commands_without_pictures() {
        if files.is_empty() {
            continue;
        }
        // The target is a link to a folder elsewhere: the report goes there, the link stays a link.
        let folder = folder();
        let (here, out) = (folder.path(), folder.path().join("out"));
        std::fs::create_dir(here.join("elsewhere")).expect("made");
        symlink("elsewhere", &out).expect("linked");
        for _ in 0..2 {
            output(here, &arguments);
            assert!(out.symlink_metadata().expect("there").file_type().is_symlink(), "{name}");
            assert!(here.join("elsewhere").join(files[0]).is_file(), "{name}");
        }
        // A file of ours put elsewhere and linked to: neither the link nor what it points to is touched.
        let own = here.join("elsewhere").join(files[0]);
        std::fs::rename(&own, here.join("kept")).expect("moved");
        symlink(here.join("kept"), &own).expect("linked");
        refused(here, &arguments, &[files[0], "link"]);
        std::fs::remove_dir_all(here.join("elsewhere")).expect("removed");
        refused(here, &arguments, &["out", "link"]);
    }
}

/// A folder that its owner made read-only is not replaced, by whoever may write everywhere either.
#[cfg(unix)]
#[test]
fn a_read_only_folder_is_left_alone() {
    use std::os::unix::fs::PermissionsExt;
    for (_, arguments, files) in commands_without_pictures() {
        if files.is_empty() {
            continue;
        }
        let folder = folder();
        let out = folder.path().join("out");
        output(folder.path(), &arguments);
        std::fs::set_permissions(&out, std::fs::Permissions::from_mode(0o555)).expect("set");
        refused(folder.path(), &arguments, &["out", "read-only", "--out"]);
        std::fs::set_permissions(&out, std::fs::Permissions::from_mode(0o755)).expect("set");
    }
}

#[test]
fn help_completions_and_manual_pages_come_out() {
    let folder = folder();
    let help = output(folder.path(), &["--help"]);
    for command in ["check", "assess", "heights", "replay", "reach", "sky", "sheet", "page", "completions", "man"] {
        assert!(help.contains(command), "{command}");
    }
    for command in ["check", "assess", "heights", "replay", "reach", "sky", "sheet", "page"] {
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
