//! Figures on summaries made by hand: nothing cut, nothing overlapping, everything explained.
//!
//! Figures are also written as PNG below the tests' temporary folder (`target/tmp/figures`), to be looked at;
//! with `LOSTLINK_LARGE_FIGURES=1` at twice their size.

mod common;

use lostlink::report::plot::{self, Figure, Look};
use std::path::PathBuf;

fn folder() -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("figures");
    std::fs::create_dir_all(&path).expect("the tests' folder can be made");
    path
}

fn looks() -> [(&'static str, Look); 5] {
    [
        ("wide", Look::WIDE),
        ("dark", Look::WIDE.dark()),
        ("half", Look::MIDDLE),
        ("phone", Look::NARROW),
        ("phone-dark", Look::NARROW.dark()),
    ]
}

/// Well-formed XML with a title, a description and no reference to anything outside.
fn check_xml(figure: &Figure) {
    let mut reader = quick_xml::Reader::from_str(&figure.svg);
    let mut names = Vec::new();
    loop {
        match reader.read_event() {
            Ok(quick_xml::events::Event::Eof) => break,
            Ok(quick_xml::events::Event::Start(start)) => names.push(format!("{:?}", start.name())),
            Ok(_) => {}
            Err(error) => panic!("{}: {error}", figure.id),
        }
    }
    assert!(names.len() > 2, "{}", figure.id);
    assert!(figure.svg.contains("<title") && figure.svg.contains("<desc"), "{}", figure.id);
    assert!(!figure.svg.contains("href="), "{}", figure.id);
    assert!(!figure.svg.contains("#0102"), "{}: a pattern key is left", figure.id);
    assert!(!figure.svg.contains("NaN") && !figure.svg.contains("inf\""), "{}", figure.id);
}

fn check(case: &str, look_name: &str, figure: &Figure) {
    let name = format!("{case}-{look_name}-{}", figure.id);
    // Pictures take most of the time: small ones by default, large ones to look at when asked for.
    let scale = if std::env::var_os("LOSTLINK_LARGE_FIGURES").is_some() { 2.0 } else { 0.5 };
    if ["full", "heights", "reach"].contains(&case) || look_name == "wide" {
        let png = figure.png(scale).unwrap_or_else(|error| panic!("{name}: {error}"));
        std::fs::write(folder().join(format!("{name}.png")), png).expect("the picture can be written");
    }
    check_xml(figure);
    let cut = figure.layout.cut();
    assert!(cut.is_empty(), "{name}: cut {cut:#?} of {:?}", figure.layout.size_px);
    let overlaps = figure.layout.overlaps();
    assert!(overlaps.is_empty(), "{name}: overlapping {overlaps:#?}");
    let unexplained = figure.layout.unexplained();
    assert!(unexplained.is_empty(), "{name}: not explained {unexplained:?}");
    assert!(figure.words.len() > 10 && !figure.title.is_empty(), "{name}: told in words");
    let lower = format!("{} {} {}", figure.svg, figure.caption, figure.words).to_lowercase();
    for never in [">0 %<", " 0 %", ">safe", " safe"] {
        assert!(!lower.contains(never), "{name} says {never}");
    }
}

#[test]
fn figures_of_a_summary() {
    let cases = [
        ("plain", common::summary()),
        ("full", common::full()),
        ("many", common::many()),
        ("bare", common::bare()),
        ("never", common::never_lost()),
    ];
    for (case, summary) in &cases {
        for (name, look) in looks() {
            for figure in plot::all(summary, look) {
                check(case, name, &figure);
            }
            if !look.narrow() {
                check(case, name, &plot::map_strip(summary, look));
            }
        }
    }
}

#[test]
fn figures_of_a_height_sweep() {
    for (name, look) in looks() {
        for figure in plot::of_heights(&common::heights(), look) {
            check("heights", name, &figure);
        }
        let mut none = common::heights();
        none.interval_m = None;
        none.tallest_m = 0.0;
        none.rows.truncate(1);
        for figure in plot::of_heights(&none, look) {
            check("one-height", name, &figure);
        }
    }
}

#[test]
fn figures_of_a_reach() {
    let reach = common::reach();
    for (site, case) in [(common::site(), "reach"), (common::bare().map, "reach-bare")] {
        for (name, look) in looks() {
            for index in 0..reach.maps.len() {
                check(case, name, &plot::reach_map(&reach, index, &site, look).expect("there is such a map"));
            }
            check(case, name, &plot::reach_path(&reach, look).expect("there is a path"));
            check(case, name, &plot::reach_section(&reach, look).expect("there is a weakest place"));
        }
    }
    assert!(plot::reach_map(&reach, 9, &common::site(), Look::WIDE).is_none());
}

#[test]
fn drawing_again_gives_the_same_bytes() {
    let (a, b) = (common::full(), common::full());
    let once: Vec<String> = plot::all(&a, Look::WIDE).into_iter().map(|figure| figure.svg).collect();
    let again: Vec<String> = plot::all(&b, Look::WIDE).into_iter().map(|figure| figure.svg).collect();
    assert_eq!(once, again);
}

#[test]
fn the_checks_can_fail() {
    use lostlink::report::plot::canvas::{At, Canvas};
    use lostlink::report::plot::font::Weight;
    use lostlink::report::plot::theme::Ink;
    let mut canvas = Canvas::new("bad", Look::WIDE);
    canvas.height_px = 50.0;
    canvas.text("one over the other", [100.0, 20.0], At::Left, 12.0, Weight::Regular, Ink::Ink);
    canvas.text("the other", [140.0, 22.0], At::Left, 12.0, Weight::Regular, Ink::Ink);
    canvas.text("cut at the right edge", [890.0, 20.0], At::Left, 12.0, Weight::Regular, Ink::Ink);
    canvas.drew("something");
    let figure = canvas.finish("t", "c", "w");
    assert_eq!(figure.layout.overlaps().len(), 1);
    assert_eq!(figure.layout.cut().len(), 1);
    assert_eq!(figure.layout.unexplained().len(), 1);
}
