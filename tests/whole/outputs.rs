//! What commands state agrees, and what they write harms nothing.

use crate::bench::read;
use lostlink::flight::reach::{ReachAsk, reach_of};
use lostlink::flight::{FlightOutcome, Setup};
use lostlink::report::plot::canvas::Figure;
use lostlink::report::plot::{self, Look};
use lostlink::risk::assess::{Ask, assess};
use lostlink::risk::summary::Summary;
use lostlink::risk::survey::site_map;
use lostlink::world::World;
use lostlink::world::reach::MapHeight;
use std::convert::Infallible;

/// A small open field; what a law varies is put in by replacement.
const FIELD: &str = r#"
title = "A field for laws"
about = "Invented."
invented = true
seed = 7
flights = 40
[site]
extent_m = [-300, -200, 300, 200]
home_m = [0, 0]
[[site.zone]]
name = "lane"
kind = "road"
line_m = [[-300, 150], [300, 150]]
width_m = 6
[craft]
mass_kg = 1.0
[weather]
wind_mps = 6.0
from_deg = 235
[path]
waypoints_m = [[0, 20, 30], [120, 60, 30], [-80, 80, 30]]
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
return = { height = { exactly_m = 30 }, home_circle_m = 5 }
"#;

/// The assessment of the first flights, with every outcome that went into it.
fn assessed(world: &World, flights: u32) -> (Summary, Vec<FlightOutcome>) {
    let setup = Setup::new(world).expect("a setup");
    let ask = Ask {
        scenario_name: "law".into(),
        command: "lostlink assess law.toml".into(),
        flights: 0..flights,
        flights_rule: "fixed beforehand".into(),
        quick: true,
    };
    let mut outcomes = Vec::new();
    let mut sink = |outcome: &FlightOutcome| -> Result<(), Infallible> {
        outcomes.push(outcome.clone());
        Ok(())
    };
    let summary = assess(&setup, &ask, &|_| {}, &mut sink).expect("it flies");
    (summary, outcomes)
}

/// Vectors from tail to tip (or end to end) of what a figure draws of that kind: px to the right and up.
fn drawn(figure: &Figure, what: &str) -> Vec<[f64; 2]> {
    let strokes = figure.layout.measured.iter().filter(|stroke| stroke.what == what);
    strokes.map(|s| [s.to_px[0] - s.from_px[0], s.from_px[1] - s.to_px[1]]).collect()
}

/// Every figure with a wind arrow: it points the way the air goes, east to the right and north up, as the mean wind that
/// the flights meet does; north is up; the scale bar is as long as its label says by the ticks of the axis.
#[test]
fn arrows_point_where_the_wind_goes_and_the_scale_is_true() {
    // The way it blows to, by hand: the opposite of where it comes from, clockwise from north.
    let cases: [(f64, [f64; 2]); 5] = [
        (0.0, [0.0, -1.0]),
        (45.0, [-0.707_107, -0.707_107]),
        (90.0, [-1.0, 0.0]),
        (235.0, [0.819_152, 0.573_576]),
        (270.0, [1.0, 0.0]),
    ];
    let mut arrows = 0;
    for (from_deg, to) in cases {
        let scenario = read(&FIELD.replace("from_deg = 235", &format!("from_deg = {from_deg}")));
        let world = World::new(scenario).expect("a world");
        let (summary, _) = assessed(&world, 8);
        let setup = Setup::with_policies(&world, Vec::new()).expect("a setup");
        let ask = ReachAsk { heights: vec![MapHeight::AboveGroundM(30.0)], points: [24, 16], ..ReachAsk::default() };
        let reach = reach_of(&world.scenario, &world.grid, &world.path, &setup.link, &ask).expect("a reach");
        let site = site_map(&world);
        for look in [Look::WIDE, Look::MIDDLE, Look::NARROW, Look::WIDE.dark()] {
            let mut figures = plot::all(&summary, look);
            figures.extend(plot::reach_map(&reach, 0, &site, look));
            figures.extend(plot::reach_path(&reach, look));
            for figure in &figures {
                let name = format!("{} from {from_deg}°", figure.id);
                let winds = drawn(figure, "wind");
                for [right, up] in &winds {
                    let length = right.hypot(*up);
                    let off = (right / length - to[0]).hypot(up / length - to[1]);
                    assert!(length > 10.0 && off < 1e-5, "{name}: {right} {up} instead of {to:?}");
                    arrows += 1;
                }
                let is_map = figure.id.starts_with("map") || figure.id.starts_with("reach-1");
                assert_eq!(winds.len(), usize::from(is_map), "{name}");
                for [right, up] in drawn(figure, "north") {
                    assert!(right.abs() < 1e-9 && up > 10.0, "{name}: north {right} {up}");
                }
                for [px, _] in drawn(figure, "scale") {
                    let said = label_of_scale_m(figure);
                    let drawn_m = px * metres_per_px(figure);
                    assert!((drawn_m / said - 1.0).abs() < 0.01, "{name}: {drawn_m} m drawn, {said} m said");
                }
            }
        }
    }
    assert_eq!(arrows, 5 * 4 * 2);
}

/// The length printed right of the scale bar.
fn label_of_scale_m(figure: &Figure) -> f64 {
    let bar = figure.layout.measured.iter().find(|stroke| stroke.what == "scale").expect("a bar");
    let near = figure.layout.texts.iter().filter(|text| {
        text.box_px[0] > bar.to_px[0] && (text.box_px[1]..text.box_px[3]).contains(&(bar.to_px[1] - 2.0))
    });
    let label = near.min_by(|a, b| a.box_px[0].total_cmp(&b.box_px[0])).expect("a label");
    let (number, unit) = label.text.split_once(' ').expect("a number and its unit");
    let scale = match unit {
        "m" => 1.0,
        "km" => 1_000.0,
        _ => panic!("{unit}"),
    };
    number.parse::<f64>().expect("a number") * scale
}

/// Metres to a px by the labels under the axis: the lowest row of numbers of the figure.
fn metres_per_px(figure: &Figure) -> f64 {
    let number = |text: &str| text.replace('−', "-").replace(',', "").parse::<f64>().ok();
    let labels: Vec<([f64; 4], f64)> =
        figure.layout.texts.iter().filter_map(|text| Some((text.box_px, number(&text.text)?))).collect();
    let lowest = labels.iter().map(|label| label.0[3]).fold(f64::NEG_INFINITY, f64::max);
    let mut row: Vec<(f64, f64)> =
        labels.iter().filter(|l| (l.0[3] - lowest).abs() < 1.0).map(|l| (0.5 * (l.0[0] + l.0[2]), l.1)).collect();
    row.sort_by(|a, b| a.0.total_cmp(&b.0));
    // Panels side by side start again: take the first run of growing numbers.
    let last = row.windows(2).take_while(|pair| pair[1].1 > pair[0].1).count();
    assert!(last > 0, "{}: {row:?}", figure.id);
    (row[last].1 - row[0].1) / (row[last].0 - row[0].0)
}
