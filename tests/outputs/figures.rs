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
        }
    }
}

/// Bars, squares and maps follow the order of the table, best first.
#[test]
fn figures_follow_the_order_of_the_table() {
    let mut summary = common::full();
    summary.verdict.choice.ranking.reverse();
    let order: Vec<&str> =
        summary.verdict.choice.ranking.iter().map(|index| summary.policies[*index].name.as_str()).collect();
    let named = |figure: &plot::Figure| -> Vec<String> {
        let bold = figure.layout.texts.iter().filter(|text| order.contains(&text.text.as_str()));
        bold.map(|text| text.text.clone()).collect()
    };
    assert_eq!(named(&plot::bars(&summary, Look::NARROW)), order);
    assert!(plot::map(&summary, Look::WIDE).title.contains(order[0]));
    let others = plot::others(&summary, Look::WIDE).expect("there are others");
    assert_eq!(named(&others), order[1..]);
    let pairs = plot::pairs(&summary, Look::WIDE).expect("some went differently");
    assert!(named(&pairs).iter().all(|name| name != order[0]) && pairs.title.contains(order[0]));
}

/// Wherever the pilot stands, the mark of home is clear of the pilot's.
#[test]
fn home_and_pilot_never_overlap() {
    let mut drawn = 0;
    for pilot_m in [[0.0, 0.0], [0.4, -0.3], [-8.0, -12.0], [30.0, 5.0]] {
        let mut summary = common::full();
        summary.map.pilot_m = pilot_m;
        for (_, look) in looks() {
            for figure in plot::all(&summary, look) {
                let at = |what: &str| {
                    figure.layout.measured.iter().filter(|mark| mark.what == what).map(|mark| mark.to_px).collect()
                };
                let (homes, pilots): (Vec<[f64; 2]>, Vec<[f64; 2]>) = (at("home"), at("pilot"));
                for pilot in &pilots {
                    drawn += 1;
                    for home in &homes {
                        let apart = (pilot[0] - home[0]).hypot(pilot[1] - home[1]);
                        assert!(apart >= 16.0, "{} at {pilot_m:?}: {apart} px", figure.id);
                    }
                }
            }
        }
    }
    assert!(drawn > 20, "{drawn}");
}

/// What says nothing for a scenario is not drawn: a budget of a link that the scenario cuts, a section through empty air, a pair or
/// another map of a lone policy, a regret of nothing.
#[test]
fn figures_that_say_nothing_are_left_out() {
    let ids = |summary: &lostlink::risk::summary::Summary| -> Vec<String> {
        plot::all(summary, Look::WIDE).into_iter().map(|figure| figure.id).collect()
    };
    let has = |ids: &[String], start: &str| ids.iter().any(|id| id.starts_with(start));
    let mut summary = common::full();
    summary.loss.how = "modelled".into();
    let all = ids(&summary);
    for start in ["budget", "section", "pairs", "others", "regret", "energy", "turns", "site"] {
        assert!(has(&all, start), "{start}: {all:?}");
    }
    summary.loss.how = "cut at any moment".into();
    for section in &mut summary.sections {
        (section.diffraction_db, section.vegetation_db) = (0.0, 0.0);
    }
    for condition in &mut summary.conditions {
        condition.behind_points.iter_mut().for_each(|points| *points = 0.0);
    }
    summary.information = None;
    let fewer = ids(&summary);
    for start in ["budget", "section", "regret", "turns"] {
        assert!(!has(&fewer, start), "{start}: {fewer:?}");
    }
    let alone = ids(&common::bare());
    assert!(!has(&alone, "pairs") && !has(&alone, "others"), "{alone:?}");
}

/// The timeline shows the loss with half a minute on either side; the strip the whole flight.
#[test]
fn a_timeline_is_landscape_and_tells_the_wind() {
    let summary = common::full();
    let figures = plot::all(&summary, Look::WIDE);
    let told = figures.iter().filter(|figure| figure.id.starts_with("timeline"));
    let mut seen = 0;
    for figure in told {
        let [width, height] = figure.layout.size_px;
        assert!(width / height > 1.4, "{}: {width} by {height}", figure.id);
        let says = |words: &str| figure.layout.texts.iter().any(|text| text.text.contains(words));
        assert!(says("Wind at the craft") && says("whole flight"), "{}", figure.id);
        seen += 1;
    }
    assert!(seen > 1);
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
