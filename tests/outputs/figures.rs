//! Figures on summaries made by hand: nothing cut, nothing overlapping, everything explained.
//!
//! Figures are also written as PNG below the tests' temporary folder (`target/tmp/figures`), to be looked at;
//! with `LOSTLINK_LARGE_FIGURES=1` at twice their size.

use crate::common;

use common::figure::{check, looks};
use lostlink::report::plot::{self, Look};

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
