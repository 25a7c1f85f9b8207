//! Lessons: what their reader says, that the course's prose fits what is simulated, and that its numbers are those of the model.

use lostlink::lesson::{self, Answered, Ask, Lesson, LessonError, Value};
use lostlink::report::lesson::{Course, slides, write};
use lostlink::scenario::{Diagnostic, MemoryFiles};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Flights of a chapter in tests: its claims hold with fewer than it ships with.
const FEW: u32 = 40;

fn text_of(name: &str) -> &'static str {
    lesson::course().into_iter().find(|file| file.0.starts_with(name)).expect("a file of the course").1
}

fn read(text: &str) -> Result<Lesson, Vec<Diagnostic>> {
    lesson::read("lesson.toml", text, &lesson::course_files())
}

fn answered(text: &str, flights: u32) -> Result<Vec<Answered>, LessonError> {
    let lesson = read(text).unwrap_or_else(|found| panic!("{found:?}"));
    let few = |mut chapter: lesson::Chapter| {
        chapter.flights = flights;
        lesson::run(chapter)
    };
    lesson.chapters.into_iter().map(few).collect()
}

fn changed(text: &str, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(text.to_string(), |text, (old, new)| {
        assert!(text.contains(old), "{old} is not in the text");
        text.replace(old, new)
    })
}

/// The lines that a lesson file is refused with.
fn refused(text: &str, files: &MemoryFiles) -> Vec<String> {
    let found = lesson::read("lesson.toml", text, files).expect_err("refused");
    found.iter().map(Diagnostic::in_words).collect()
}

fn sentences(text: &str) -> usize {
    let end = |c: char| c == '.' || c == '?';
    let text = text.trim();
    text.char_indices()
        .filter(|&(at, c)| end(c) && text[at + 1..].chars().next().is_none_or(char::is_whitespace))
        .count()
}

#[test]
fn every_mistake_is_told_with_its_place() {
    let text = changed(
        text_of("01"),
        &[
            ("view = \"time\"", "view = \"above\""),
            ("median = \"silent_s\"", "median = \"silence_s\""),
            ("at 12 m/s and {slow}", "at 12 m/s and {slowly}"),
            ("\"mid > slow by 2\"", "\"mid >> slow\""),
            ("edges = [1, 5, 25]", "edges = [5, 1, 25]"),
            ("name = \"at 4 m/s\"", "name = \"at 4 m/s\"\ncolour = \"red\""),
            ("\"path.speed_mps\" = 8", "\"path.speed_mps\" = -8"),
            ("{ \"path.speed_mps\" = 12 }", "{ \"path.sped_mps\" = 12 }"),
            ("mass_kg = 1.0", "mass_kg = 1000"),
        ],
    );
    let line = |what: &str| 1 + text.lines().position(|line| line.contains(what)).expect("in the text");
    let found = refused(&text, &MemoryFiles::default());
    for (what, words) in [
        ("above\"", "chapter[0].view: the text \"above\"; accepted: \"side\", \"plan\" or \"time\""),
        ("silence_s", "chapter[0].measure[1].median: the text \"silence_s\""),
        ("colour", "chapter[0].variant[0].colour: an unknown key"),
        ("= -8", "path.speed_mps: the number -8"),
        ("sped_", "path.sped_mps: no such key to change"),
        ("1000", "craft.mass_kg: the number 1000"),
        ("edges =", "chapter[0].question.edges: no edges in rising order"),
    ] {
        let place = format!("lesson.toml:{}: {words}", line(what));
        assert_eq!(found.iter().filter(|line| line.starts_with(&place)).count(), 1, "{place}\n{found:#?}");
    }
    // The last is found once, though the scenario is read for every variant.
    assert_eq!(found.iter().filter(|line| line.contains("mass_kg")).count(), 1, "{found:#?}");

    // Names are looked up once a chapter is whole.
    let text = changed(
        text_of("01"),
        &[("at 12 m/s and {slow}", "at 12 m/s and {slowly}"), ("\"mid > slow by 2\"", "\"mid >> slow\"")],
    );
    let found = refused(&text, &MemoryFiles::default());
    assert!(
        found.iter().any(|line| line.contains("chapter[0].why: the quote {slowly}; accepted: {flights}")),
        "{found:#?}"
    );
    assert!(
        found.iter().any(|line| line.contains("chapter[0].claims: \"mid >> slow\"; accepted: two sides")),
        "{found:#?}"
    );
    assert_eq!(found.len(), 2, "{found:#?}");
}

#[test]
fn a_scenario_in_a_file_of_its_own_is_told_by_its_own_lines() {
    let text = text_of("08");
    let (chapter, scenario) = text.split_once("[chapter.scenario]").expect("a scenario");
    let scenario = scenario.replace("chapter.scenario.", "");
    let chapter = chapter.replace("view = \"time\"", "view = \"time\"\nscenario = \"places/day.toml\"");
    let mut files = MemoryFiles([("places/day.toml".to_string(), scenario.clone().into_bytes())].into());
    let here = answered(text, 10).expect("answered");
    let lesson = lesson::read("lesson.toml", &chapter, &files).unwrap_or_else(|found| panic!("{found:?}"));
    let mut there = lesson.chapters.into_iter().next().expect("a chapter");
    there.flights = 10;
    assert_eq!(
        lesson::run(there).expect("answered").values,
        here[0].values,
        "the same scenario wherever it is written"
    );

    files.0.insert("places/day.toml".into(), scenario.replace("wind_mps = 9", "wind_mps = 900").into_bytes());
    let found = refused(&chapter.replace("\"weather.wind_mps\" = 1", "\"weather.wind_mps\" = \"little\""), &files);
    let line = |text: &str, what: &str| 1 + text.lines().position(|line| line.contains(what)).expect("in the text");
    let theirs = format!("places/day.toml:{}: weather.wind_mps: the number 900", line(&scenario, "wind_mps = 9"));
    let ours =
        format!("lesson.toml:{}: weather.wind_mps: the text \"little\"", line(&chapter, "\"weather.wind_mps\" = 1"));
    assert_eq!(found.len(), 2, "{found:#?}");
    assert!(
        found.iter().any(|line| line.starts_with(&theirs)) && found.iter().any(|line| line.starts_with(&ours)),
        "{found:#?}"
    );
    let found = refused(&chapter.replace("places/day", "places/night"), &files);
    assert!(found[0].contains("\"places/night.toml\": there is no such file"), "{found:#?}");
}

/// Claims, quotes and predictions of some files of the course.
fn holds(files: &[(&'static str, &'static str)]) {
    for (name, text) in files {
        let lesson = lesson::read(name, text, &lesson::course_files()).unwrap_or_else(|found| panic!("{found:?}"));
        for chapter in answered(text, FEW).unwrap_or_else(|error| panic!("{name}: {error}")) {
            let title = &chapter.chapter.title;
            assert_eq!(chapter.predictions.iter().filter(|prediction| prediction.right).count(), 1, "{title}");
            assert!(
                chapter.predictions.len() >= 3 || !matches!(chapter.chapter.question.ask, Ask::HowMuch { .. }),
                "{title}"
            );
            assert!(!chapter.chapter.claims.is_empty(), "{title}: the prose rests on claims");
            assert!(
                chapter.chapter.variants.iter().all(|variant| variant.scenario.invented),
                "{title}: invented places"
            );
            assert!(chapter.shown.is_some(), "{title}: a flight is shown");
            assert_eq!(sentences(&chapter.why), 2, "{title}: two sentences of why: {}", chapter.why);
            for text in [&chapter.setting, &chapter.question, &chapter.why, &chapter.field, &chapter.found] {
                assert!(!text.contains(['{', '}']), "{title}: {text}");
            }
        }
        assert!(!lesson.for_whom.is_empty(), "{name}");
    }
}

#[test]
fn the_prose_of_the_first_chapters_fits_what_is_simulated() {
    holds(&lesson::course()[..7]);
}

#[test]
fn the_prose_of_the_last_chapters_fits_what_is_simulated() {
    holds(&lesson::course()[7..]);
}

/// Nothing is canned: a key changed in the model's input changes the number, and what no longer fits is refused by its chapter.
#[test]
fn numbers_follow_the_model() {
    let plain = |text: &str| -> Vec<f64> {
        let found = answered(&no_claims(text), 20).unwrap_or_else(|error| panic!("{error}"));
        found.iter().flat_map(|chapter| chapter.values.iter().map(|of| of[0].plain())).collect()
    };
    // The body takes nothing: the pilot who faces away loses no more links than the one who turns.
    let text = text_of("10");
    let (as_is, no_body) = (plain(text), plain(&changed(text, &[("{ normal = [15, 3] }", "0")])));
    assert!(as_is[4] > 40.0 && no_body[4] < 10.0, "{as_is:?} {no_body:?}");
    assert_eq!(as_is[..3], no_body[..3], "the other chapter has nothing to do with it");
    // Hardly any wind: the way home costs the same from wherever it blows.
    let text = text_of("08");
    let (as_is, calm) = (plain(text), plain(&changed(text, &[("wind_mps = 9", "wind_mps = 0.4")])));
    assert!(as_is[2] - as_is[1] > 5.0 && (calm[2] - calm[1]).abs() < 0.5, "{as_is:?} {calm:?}");
    // Twice the patience, twice the way flown blind, and more.
    let text = text_of("01");
    let radio = "[chapter.scenario.radio.control]\nreceiver = { patience_s = 3 }\n\n[chapter.scenario.path]";
    let (as_is, long) = (plain(text), plain(&changed(text, &[("[chapter.scenario.path]", radio)])));
    assert!((0..3).all(|variant| long[variant] > 2.0 * as_is[variant]), "{as_is:?} {long:?}");

    let calm = changed(text_of("08"), &[("wind_mps = 9", "wind_mps = 0.4")]);
    let error = answered(&calm, 20).expect_err("the claims of a windy day").to_string();
    let line = 1 + calm.lines().position(|line| line.starts_with("claims")).expect("claims");
    let place = format!(
        "lesson.toml:{line}: chapter \"Upwind and downwind\": the claim \"against > with by 5\" does not hold: against.pack is"
    );
    assert!(error.starts_with(&place), "{error}");
}

fn no_claims(text: &str) -> String {
    let line = |line: &str| if line.starts_with("claims = ") { "claims = []".to_string() } else { line.to_string() };
    text.lines().map(line).collect::<Vec<_>>().join("\n")
}

#[test]
fn what_two_variants_share_is_no_answer() {
    let text = no_claims(text_of("08"))
        .replace("set = { \"weather.from_deg\" = 180 }", "")
        .replace("set = { \"weather.from_deg\" = 0 }", "");
    let error = answered(&text, 10).expect_err("two alike").to_string();
    assert!(error.contains("chapter \"Upwind and downwind\": no single variant has it"), "{error}");
}

#[test]
fn a_share_counts_what_it_says() {
    let found = answered(text_of("13"), FEW).expect("answered");
    let [chapter] = found.as_slice() else { panic!("one chapter") };
    for of in &chapter.values {
        let [Value::Share(lost), Value::Share(over)] = of.as_slice() else { panic!("two shares") };
        assert_eq!((lost.of, over.of), (u64::from(FEW), u64::from(FEW)), "every link is cut");
    }
    // Who does not take over has no switch to leave wrong.
    let stop = &chapter.values[2];
    assert_eq!(stop[0].plain(), stop[1].plain());
}

/// The page of the format says every word that can be measured.
#[test]
fn every_word_is_documented() {
    let page =
        std::fs::read_to_string(Path::new(env!("LOSTLINK_ROOT")).join("docs/lesson.md")).expect("docs/lesson.md");
    let headlines: Vec<&str> = lostlink::Headline::ALL.iter().map(|headline| headline.word()).collect();
    let words = lesson::events().into_iter().map(|known| known.0).filter(|word| !headlines.contains(word));
    let mut n = 0;
    for word in words.chain(lesson::quantities().into_iter().map(|known| known.0)) {
        assert!(page.contains(&format!("`{word}`")), "{word}");
        n += 1;
    }
    assert!(n > 40, "{n} words");
    let example = page.split("```toml").nth(1).and_then(|rest| rest.split("```").next()).expect("an example");
    let club = text_of("08").split_once("[chapter.scenario]").expect("a scenario").1.replace("chapter.scenario.", "");
    let files = MemoryFiles([("club.toml".to_string(), club.into_bytes())].into());
    let lesson = lesson::read("lesson.toml", example, &files).unwrap_or_else(|found| panic!("{found:?}"));
    assert_eq!(lesson.chapters[0].variants.len(), 2);
}

/// Pages and slides of two chapters; they lie where the browser test opens them.
#[test]
fn a_page_and_its_slides() {
    let mut chapters = answered(text_of("04"), FEW).expect("answered");
    chapters.extend(answered(text_of("10"), FEW).expect("answered"));
    let course = Course { title: "Two lessons".into(), for_whom: "Those who test".into(), chapters: &chapters };
    let mut bytes = Vec::new();
    write(&course, &mut bytes).expect("writing into memory");
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("pages");
    std::fs::create_dir_all(&folder).expect("the tests' folder can be made");
    std::fs::write(folder.join("lesson.html"), &bytes).expect("written");
    let page = String::from_utf8(bytes).expect("UTF-8");
    let lower = page.to_lowercase();
    assert!(!lower.split(|c: char| !c.is_alphanumeric()).any(|word| word == "safe" || word == "safely"));
    assert!(
        !page.contains("https://")
            && page.matches("http://").count() == page.matches("http://www.w3.org/2000/svg").count()
    );
    for must in
        ["It permits nothing", "nothing is stored or sent", "What these numbers are not", "invented place and craft"]
    {
        assert!(page.contains(must), "{must}");
    }
    assert_eq!(page.matches("data-player data-story").count(), 1, "one loss to be played");
    for chapter in &chapters {
        assert!(page.contains(&chapter.chapter.title));
        assert!(page.contains(&format!("data-answer=\"{}\"", right(chapter))), "{}", right(chapter));
    }
    let mut ids = std::collections::BTreeSet::new();
    for piece in page.split(" id=\"").skip(1) {
        let id = &piece[..piece.find('"').expect("closed")];
        assert!(ids.insert(id.to_string()), "id {id} twice");
    }
    for (number, chapter) in chapters.iter().enumerate() {
        let slides = slides(chapter, number + 1);
        assert_eq!(slides.len(), 2);
        for (stem, figure) in slides {
            let [w, h] = figure.layout.size_px;
            assert_eq!(w * 9.0, h * 16.0, "{stem}: 16:9");
            assert!(figure.layout.cut().is_empty(), "{stem}: {:?}", figure.layout.cut());
            assert!(figure.layout.overlaps().is_empty(), "{stem}: {:?}", figure.layout.overlaps());
            // px of 1,280 across to points of 13.3 inches.
            let least = sizes(&figure.svg).fold(f64::INFINITY, f64::min) * 13.3 * 72.0 / 1_280.0;
            assert!(least >= 20.0, "{stem}: text of {least:.1} pt");
        }
    }
}

fn right(chapter: &Answered) -> &str {
    chapter.predictions.iter().find(|prediction| prediction.right).map_or("", |prediction| &prediction.words)
}

/// Sizes of the texts of a drawing, px; drawings are ten times larger than that.
fn sizes(svg: &str) -> impl Iterator<Item = f64> {
    svg.split("font-size=\"").skip(1).map(|piece| {
        let size: f64 = piece[..piece.find('"').expect("closed")].parse().expect("a number");
        size / 10.0
    })
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = BTreeMap::new();
    for part in [folder.to_path_buf(), folder.join("slides")] {
        for entry in std::fs::read_dir(part).expect("there") {
            let path = entry.expect("readable").path();
            if path.is_file() {
                let name = path.strip_prefix(folder).expect("below").display().to_string();
                all.insert(name, std::fs::read(&path).expect("readable"));
            }
        }
    }
    all
}

/// Every key of the data stands in the page of the format.
fn documented(data: &serde_json::Value, page: &str) {
    match data {
        serde_json::Value::Object(map) => {
            for (key, value) in map {
                assert!(
                    page.contains(&format!("`{key}`"))
                        || page.contains(&format!(".{key}[]`"))
                        || page.contains(&format!("`{key}[]`")),
                    "{key}"
                );
                documented(value, page);
            }
        }
        serde_json::Value::Array(list) => list.iter().for_each(|value| documented(value, page)),
        _ => {}
    }
}

#[test]
fn the_program_writes_the_same_bytes_on_any_number_of_threads() {
    let home = tempfile::tempdir().expect("a folder");
    let file = home.path().join("mine.toml");
    std::fs::write(&file, text_of("09")).expect("written");
    let made = |threads: &str| {
        let out = home.path().join(threads);
        let mut command = assert_cmd::Command::new(assert_cmd::cargo::cargo_bin!("lostlink-under-test"));
        command.arg("lesson").arg(&file).args(["--flights", "30", "--threads", threads, "--out"]).arg(&out);
        let done = command.assert().success();
        let text = String::from_utf8_lossy(&done.get_output().stdout).to_string();
        (files(&out), text.replace(&out.display().to_string(), ""))
    };
    let (one, two) = (made("1"), made("2"));
    assert!(one == two);
    for name in [
        "lesson.html",
        "lesson.json",
        "slides/01-flight.png",
        "slides/01-flight.svg",
        "slides/01-numbers.png",
        "slides/01-numbers.svg",
    ] {
        assert!(one.0.contains_key(name), "{name}");
    }
    assert!(one.1.contains("The pack low on the way home"), "{}", one.1);
    let page = String::from_utf8_lossy(&one.0["lesson.html"]).to_string();
    let data: serde_json::Value = serde_json::from_slice(&one.0["lesson.json"]).expect("JSON");
    assert_eq!((data["format"].as_str(), data["version"].as_u64()), (Some("lostlink-lesson"), Some(1)));
    let chapter = &data["chapters"][0];
    assert_eq!(
        (chapter["title"].as_str(), chapter["flights"].as_u64()),
        (Some("The pack low on the way home"), Some(30))
    );
    let mut shares = 0;
    for measure in
        chapter["variants"].as_array().expect("variants").iter().flat_map(|of| of["measures"].as_array()).flatten()
    {
        let Some(share) = measure["share"].as_object() else { continue };
        let (events, of) = (share["events"].as_u64().expect("a count"), share["of"].as_u64().expect("a count"));
        assert!((measure["value"].as_f64().expect("a share") - events as f64 / of as f64).abs() < 1e-12);
        let told = match events {
            0 => format!("none of {of}"),
            n if n == of => format!("all {of}"),
            n => format!("{n} of {of}"),
        };
        assert!(page.contains(&told), "{told}");
        shares += 1;
    }
    assert!(shares >= 2, "{shares}");
    documented(&data, &std::fs::read_to_string(Path::new(env!("LOSTLINK_ROOT")).join("docs/lesson.md")).unwrap());

    std::fs::write(&file, text_of("09").replace("\"low > 70\"", "\"low < 70\"")).expect("written");
    let mut command = assert_cmd::Command::new(assert_cmd::cargo::cargo_bin!("lostlink-under-test"));
    let refused = command
        .arg("lesson")
        .arg(&file)
        .args(["--flights", "30", "--out"])
        .arg(home.path().join("no"))
        .assert()
        .code(2);
    let text = String::from_utf8_lossy(&refused.get_output().stderr).to_string();
    assert!(text.contains("chapter \"The pack low on the way home\": the claim \"low < 70\" does not hold"), "{text}");
    assert!(!home.path().join("no").exists(), "nothing is written");

    std::fs::write(&file, b"title = \"a\"\nfor_whom = \"\xff\"\n").expect("written");
    let mut command = assert_cmd::Command::new(assert_cmd::cargo::cargo_bin!("lostlink-under-test"));
    let refused = command.arg("lesson").arg(&file).arg("--out").arg(home.path().join("no")).assert().code(2);
    let text = String::from_utf8_lossy(&refused.get_output().stderr).to_string();
    assert!(text.contains("mine.toml:2: not UTF-8 text\n  accepted: a lesson file (TOML)"), "{text}");
}
