//! Single figures: every one of a scenario for every use and in every form; names, sizes, languages of numbers.

use crate::common;

use assert_cmd::Command;
use common::figure::check;
use lostlink::Scenario;
use lostlink::plan::reach::MapHeight;
use lostlink::plan::{ReachAsk, SkyDay, fix_limits, reach_of, site_map, survey};
use lostlink::report::figures::{ALL, Found, Named, Plan, Reached, Skied};
use lostlink::report::form::{Form, Format, LaidOut, Use};
use lostlink::report::plot::theme::Theme;
use lostlink::report::plot::{Numbers, Title};
use lostlink::world::World;
use std::path::Path;
use std::sync::OnceLock;

/// The scenario whose link goes as the radio model has it: it has every figure.
const SCENARIO: &str = concat!(env!("LOSTLINK_ROOT"), "scenarios/ridge-valley.toml");

/// What all figures are drawn from, gathered once: the plan, the radio, the sky and one flight of a shipped scenario, and a summary
/// and return heights made by hand, which have something to say in every figure.
fn found() -> &'static Found {
    static FOUND: OnceLock<Found> = OnceLock::new();
    FOUND.get_or_init(|| {
        let scenario = Scenario::from_file(SCENARIO).expect("it is shipped").with_flights(60);
        let world = World::new(scenario.clone()).expect("it can be flown");
        let ask = ReachAsk { heights: vec![MapHeight::AboveGroundM(60.0)], points: [60, 60], ..ReachAsk::default() };
        let reach = reach_of(&world.scenario, &world.grid, &world.path, &world.link, &ask).expect("it has a radio");
        let limits = fix_limits(&scenario);
        let day = SkyDay::new(&scenario, &world.grid, scenario.site.home_m, 2.0, &limits).expect("it has a sky");
        let told = (0..60)
            .map(|flight| lostlink::story::tell(&world, flight, "a lost one", &scenario.policies, 0.2))
            .find(|told| told.story.lost_at_s.is_some())
            .expect("one of 60 links is lost");
        // A cut to the farthest place too, although the weakest is that here.
        let mut survey = survey(&world);
        survey.sections.truncate(1);
        survey.sections.extend(survey.sections.first().cloned());
        let policies = scenario.policies.iter().map(|policy| policy.name.clone()).collect();
        Found {
            plan: Some(Plan { map: site_map(&world), survey, policies }),
            reach: Some(Reached { reach, map: site_map(&world) }),
            sky: Some(Skied { day, from_s: 36_000.0, to_s: 38_000.0 }),
            told: Some(told),
            summary: Some(common::full()),
            heights: Some(common::heights()),
        }
    })
}

fn laid(named: &Named, form: &Form) -> LaidOut {
    form.lay_out(|look| named.draw(found(), look)).unwrap_or_else(|| panic!("{}: {}", named.name, named.nothing()))
}

fn narrow_paper() -> Use {
    Use::Paper { width_mm: 85.0 }
}

/// Sizes of the letters as drawn, in px of the page.
fn sizes_px(svg: &str) -> Vec<f64> {
    let parts = svg.split("font-size=\"").skip(1);
    parts.map(|rest| rest[..rest.find('"').unwrap()].parse::<f64>().unwrap() / 10.0).collect()
}

/// Nothing cut, nothing overlapping, everything explained, the caution there, and no text smaller than its use has it.
fn every_figure(case: &str, usage: Use) {
    // All faults at once: one build tells what there is to mend.
    let faulty = ALL.iter().filter(|named| std::panic::catch_unwind(|| whole(case, usage, named)).is_err());
    let faulty: Vec<&str> = faulty.map(|named| named.name).collect();
    assert!(faulty.is_empty(), "{case}: {faulty:?}");
}

fn whole(case: &str, usage: Use, named: &Named) {
    for theme in [Theme::Light, Theme::Dark] {
        let laid = laid(named, &Form { theme, ..Form::of(usage) });
        check(case, usage.word(), &laid.figure);
        let says = |words: &str| laid.figure.layout.texts.iter().any(|text| text.text.contains(words));
        assert!(says("Simulation of a model"), "{}", named.name);
        let [wide, high] = laid.figure.layout.size_px;
        assert!((wide / high - laid.size_in[0] / laid.size_in[1]).abs() < 0.01, "{}: {wide} by {high}", named.name);
        let pt = 72.0 * laid.size_in[0] / wide;
        let least = sizes_px(&laid.figure.svg).into_iter().fold(f64::INFINITY, f64::min) * pt;
        assert!(least > laid.text_pt - 0.05, "{}: {least} pt", named.name);
        let asked = if matches!(usage, Use::Slide { .. }) { 18.0 } else { usage.least_text_pt() };
        assert!(laid.text_pt > asked - 0.01, "{case} {}: text of {} pt", named.name, laid.text_pt);
    }
}

#[test]
fn on_slides_every_figure_is_whole_and_large() {
    every_figure("slide", Use::SLIDE);
}

#[test]
fn on_paper_every_figure_is_whole_and_readable() {
    assert!(Use::PAPER.least_text_pt() > 7.99);
    every_figure("paper", Use::PAPER);
}

#[test]
fn in_a_column_every_figure_is_whole_and_readable() {
    every_figure("column", narrow_paper());
}

#[test]
fn on_a_screen_every_figure_is_whole() {
    every_figure("screen", Use::SCREEN);
}

/// Too much for its sheet is set smaller and says so; it is never cut.
#[test]
fn too_much_for_a_slide_is_set_smaller() {
    let mut summary = common::full();
    let more = summary.policies.clone();
    for policy in more.iter().cycle().take(12) {
        let mut policy = policy.clone();
        policy.name = format!("{} {}", policy.name, summary.policies.len());
        summary.policies.push(policy);
    }
    let laid = Form::of(Use::SLIDE).lay_out(|look| Some(lostlink::report::plot::bars(&summary, look))).unwrap();
    assert!(laid.text_pt < 17.0, "{}", laid.text_pt);
    assert!(laid.figure.layout.cut().is_empty() && laid.figure.over_px <= 0.5);
    assert_eq!(laid.points(), [1920, 1080]);
}

/// The objects of a PDF stand where its table says; its page has the size asked for; its fonts are embedded.
fn check_pdf(name: &str, bytes: &[u8], size_pt: [f64; 2]) {
    let text = String::from_utf8_lossy(bytes);
    assert!(bytes.starts_with(b"%PDF-1.") && text.trim_end().ends_with("%%EOF"), "{name}");
    let find =
        |what: &[u8], from: usize| bytes[from..].windows(what.len()).position(|part| part == what).map(|at| at + from);
    let start = bytes.windows(9).rposition(|part| part == b"startxref").expect("a table");
    let number = |at: usize| -> usize {
        let digits: String = bytes[at..]
            .iter()
            .skip_while(|b| b.is_ascii_whitespace())
            .take_while(|b| b.is_ascii_digit())
            .map(|b| char::from(*b))
            .collect();
        digits.parse().unwrap_or_else(|_| panic!("{name}: a number at {at}"))
    };
    let table = number(start + 9);
    assert!(bytes[table..].starts_with(b"xref"), "{name}");
    let trailer = find(b"trailer", table).expect("a trailer");
    let rows: Vec<&[u8]> = bytes[table..trailer].split(|b| *b == b'\n').collect();
    let mut seen = 0;
    for (index, row) in rows.iter().skip(2).enumerate().filter(|(_, row)| row.len() >= 18 && row[17] == b'n') {
        let at: usize = std::str::from_utf8(&row[..10]).unwrap().parse().unwrap();
        assert!(bytes[at..].starts_with(format!("{index} 0 obj").as_bytes()), "{name}: object {index}");
        seen += 1;
    }
    assert!(seen >= 6, "{name}: {seen} objects");
    let at = find(b"/MediaBox", 0).expect("a page");
    let inside: String = bytes[at + 9..]
        .iter()
        .map(|b| char::from(*b))
        .skip_while(|c| *c != '[')
        .skip(1)
        .take_while(|c| *c != ']')
        .collect();
    let sides: Vec<f64> = inside.split_whitespace().map(|side| side.parse().unwrap()).collect();
    assert!(
        (sides[2] - size_pt[0]).abs() < 0.02 && (sides[3] - size_pt[1]).abs() < 0.02,
        "{name}: {sides:?} {size_pt:?}"
    );
    assert!(text.contains("/FontFile2") && text.contains("/ToUnicode") && !text.contains("/Image"), "{name}");
    assert!(!text.contains("Date"), "{name}: no time goes in");
}

#[test]
fn every_form_opens_at_its_size() {
    for (index, named) in ALL.iter().enumerate() {
        // Every figure in one use, all uses in turn.
        let usage = [Use::Slide { points: [960, 540] }, Use::PAPER, Use::SCREEN][index % 3];
        let laid = laid(named, &Form::of(usage));
        let name = format!("{} for {}", named.name, usage.word());
        let svg = String::from_utf8(laid.write(Format::Svg).unwrap()).unwrap();
        let tree = resvg::usvg::Tree::from_str(&svg, &resvg::usvg::Options::default())
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let px = laid.size_in.map(|side| 96.0 * side);
        if let Use::Slide { .. } = usage {
            assert_eq!([tree.size().width(), tree.size().height()], [960.0, 540.0], "{name}");
        } else {
            assert!((f64::from(tree.size().width()) - px[0]).abs() < 1.0, "{name}: {} {}", tree.size().width(), px[0]);
        }
        assert!(
            !svg.contains("<text") && svg.contains("<title") && svg.contains("<desc"),
            "{name}: letters are outlines"
        );
        check_pdf(&name, &laid.write(Format::Pdf).unwrap(), laid.size_in.map(|side| 72.0 * side));
        if index % 4 == 0 {
            let png = laid.write(Format::Png).unwrap();
            let reader = png::Decoder::new(std::io::Cursor::new(&png)).read_info().unwrap();
            let (info, points) = (reader.info(), laid.points());
            assert_eq!([info.width, info.height], points, "{name}");
            let told = info.utf8_text.iter().map(|chunk| chunk.keyword.as_str()).collect::<Vec<_>>();
            assert_eq!(told, ["Title", "Description"], "{name}");
        }
    }
}

/// Same bytes again, and drawn beside others on other threads.
#[test]
fn the_same_bytes_every_time() {
    use rayon::prelude::*;
    let all = |threads: usize| -> Vec<Vec<u8>> {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let some = ["bars", "map", "loss-side", "sky-plot", "reach"];
        pool.install(|| {
            some.par_iter()
                .flat_map_iter(|name| {
                    let laid = laid(Named::of(name).unwrap(), &Form::of(Use::PAPER));
                    [Format::Svg, Format::Pdf].map(|format| laid.write(format).unwrap())
                })
                .collect()
        })
    };
    assert_eq!(all(1), all(2));
}

#[test]
fn titles_and_numbers_are_as_asked() {
    let bars = Named::of("bars").unwrap();
    let texts = |form: &Form| -> String {
        let laid = laid(bars, form);
        laid.figure.layout.texts.iter().map(|text| text.text.as_str()).collect::<Vec<_>>().join("\n")
    };
    let own = texts(&Form::of(Use::SLIDE));
    assert!(own.contains("What became of 1,000 lost links") && own.contains("Lost links, out of 1,000"), "{own}");
    let german = texts(&Form { numbers: Numbers::of("de").unwrap(), ..Form::of(Use::SLIDE) });
    assert!(german.contains("What became of 1.000 lost links") && !german.contains("1,000"), "{german}");
    let given = texts(&Form { title: Title::Given("Ours, of 1,000"), ..Form::of(Use::PAPER) });
    assert!(given.starts_with("Ours, of 1,000") && !given.contains("What became"), "{given}");
    let none = laid(bars, &Form { title: Title::None, ..Form::of(Use::PAPER) });
    assert!(!none.figure.layout.texts.iter().any(|text| text.text.contains("What became")));
    assert!(none.figure.title.contains("What became"), "the file still has it");
    let [light, dark] = [Theme::Light, Theme::Dark].map(|theme| laid(bars, &Form { theme, ..Form::of(Use::SLIDE) }));
    assert_ne!(light.figure.svg, dark.figure.svg);
    let axis =
        laid(Named::of("reach-path").unwrap(), &Form { numbers: Numbers::of("fr").unwrap(), ..Form::of(Use::PAPER) });
    assert!(axis.figure.layout.texts.iter().any(|text| text.text == "0,1"), "{:?}", axis.figure.layout.texts);
}

#[test]
fn names_are_the_registry() {
    let names: Vec<&str> = ALL.iter().map(|named| named.name).collect();
    let mut once = names.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(once.len(), names.len());
    assert!(names.iter().all(|name| name.chars().all(|c| c.is_ascii_lowercase() || c == '-') && *name != "all"));
    let list = lostlink::report::figures::list();
    assert!(ALL.iter().all(|named| list.contains(named.name) && list.contains(named.shows)));
    // Every figure of the reports can be had alone.
    for figure in lostlink::report::plot::all(&common::full(), lostlink::report::plot::Look::WIDE) {
        let id = figure.id.trim_end_matches(|c: char| c == '-' || c.is_ascii_digit());
        let id = match id {
            "dots-distance-home-m" => "distance-home",
            "dots-time-to-end-s" => "time-to-end",
            "dots-pack-left-pct" => "pack-left",
            id => id,
        };
        assert!(names.contains(&id), "{id} is not in the list");
    }
}

fn lostlink() -> Command {
    Command::new(assert_cmd::cargo::cargo_bin!("lostlink-under-test"))
}

#[test]
fn typed_names_and_sizes_are_checked() {
    let fails = |words: &[&str]| -> String {
        let out = lostlink().args(words).output().unwrap();
        assert_eq!(out.status.code(), Some(2), "{words:?}");
        String::from_utf8(out.stderr).unwrap()
    };
    let club = concat!(env!("LOSTLINK_ROOT"), "scenarios/club-field.toml");
    let unknown = fails(&["figure", club, "barz"]);
    assert!(unknown.contains("did you mean 'bars'?") && unknown.contains("sky-day"), "{unknown}");
    assert!(unknown.contains("not budget: the scenario cuts the link"), "{unknown}");
    let cut = fails(&["figure", club, "budget"]);
    assert!(cut.contains("this scenario has no figure 'budget': the scenario cuts the link"), "{cut}");
    for (words, says) in [
        (["--size", "100x100"], "accepted: 360 to 4320 px high"),
        (["--size", "wide"], "WIDTHxHEIGHT"),
        (["--width", "85mm"], "a slide takes --size"),
        (["--numbers", "xx"], "accepted: en, de"),
        (["--out", "x.gif"], "accepted: .svg, .png, .pdf"),
    ] {
        let said = fails(&[&["figure", club, "site"], &words[..]].concat());
        assert!(said.contains(says), "{words:?}: {said}");
    }
    let said = fails(&["figure", club, "site", "--for", "paper", "--width", "30mm"]);
    assert!(said.contains("accepted: 80 to 420 mm"), "{said}");
}

#[test]
fn a_figure_and_the_page_of_all_are_written() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let scenario = concat!(env!("LOSTLINK_ROOT"), "scenarios/quarry.toml");
    let run = |words: &[&str]| -> String {
        let out = lostlink().args(words).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    };
    let said = run(&["figure", scenario, "site", "--for", "paper", "--out", &at("site.pdf")]);
    assert!(said.starts_with("Site plan.") && said.contains("site.pdf"), "{said}");
    assert!(std::fs::read(at("site.pdf")).unwrap().starts_with(b"%PDF"));
    run(&["figure", scenario, "--flights", "16", "--out", &at("all")]);
    let page = std::fs::read_to_string(Path::new(&at("all")).join("figures.html")).unwrap();
    // The browser test opens it there.
    let pages = Path::new(env!("CARGO_TARGET_TMPDIR")).join("pages");
    std::fs::create_dir_all(&pages).unwrap();
    std::fs::write(pages.join("figures.html"), &page).unwrap();
    let shown = ALL.iter().filter(|named| page.contains(&format!("id=\"figure-{}\"", named.name))).count();
    for named in &ALL {
        assert!(page.contains(&format!("<code>{}</code>", named.name)), "{}", named.name);
    }
    assert!(shown >= 18, "{shown}");
    let elsewhere = page.replace("http://www.w3.org/2000/svg", "");
    assert!(!elsewhere.contains("http://") && !elsewhere.contains("https://"), "nothing from elsewhere");
}
