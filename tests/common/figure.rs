//! What every figure must meet.

use lostlink::report::plot::{Figure, Look};
use std::path::PathBuf;

fn folder() -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("figures");
    std::fs::create_dir_all(&path).expect("the tests' folder can be made");
    path
}

/// Every look a page uses.
pub fn looks() -> [(&'static str, Look<'static>); 5] {
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

/// Nothing cut, nothing overlapping, everything explained, told in words, no forbidden word.
pub fn check(case: &str, look_name: &str, figure: &Figure) {
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
