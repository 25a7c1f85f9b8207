//! What commands state agrees, and what they write harms nothing.

use crate::bench::read;
use lostlink::failsafe::{Action, ActionKind, Fallback, Guards, Policy};
use lostlink::flight::reach::{ReachAsk, reach_of};
use lostlink::flight::{Ending, Flags, FlightOutcome, Ground, Headline, LossCause, LossMoment, Manner, Setup};
use lostlink::report::csv::FlightsCsv;
use lostlink::report::plot::canvas::Figure;
use lostlink::report::plot::{self, Look};
use lostlink::report::terminal::{self, Manner as Writing};
use lostlink::report::{html, survey as check_words};
use lostlink::risk::Tally;
use lostlink::risk::assess::{Ask, assess};
use lostlink::risk::heights::{HeightsTally, SweepFacts, SweptHeight};
use lostlink::risk::summary::Summary;
use lostlink::risk::survey::{site_map, survey};
use lostlink::scenario::Judge;
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

fn policy(name: &str) -> Policy {
    let action =
        Action { kind: ActionKind::Drop, guards: Guards::default(), otherwise: Fallback::Land, resumes_after_s: None };
    Policy { name: name.into(), actions: vec![action] }
}

fn ending(flight: u32, headline: Headline, faulted: bool) -> Ending {
    let mut flags = Flags::default();
    if faulted {
        flags.set(Flags::FAULT);
    }
    Ending {
        flight,
        headline,
        manner: Manner::SetDown,
        ground: Ground::Clear,
        flags,
        end_m: [flight as f32, 0.0, 0.0],
        loss_time_s: 60.0,
        loss_m: [100.0, 0.0, 30.0],
        time_to_end_s: 20.0,
        distance_home_m: flight as f32,
        greatest_distance_m: 150.0,
        greatest_height_m: 60.0,
        over_people_s: 0.0,
        people_per_km2: 0.0,
        impact_speed_mps: 1.0,
        impact_angle_deg: 90.0,
        impact_energy_j: if faulted { f32::NAN } else { 0.7 },
        pack_left_pct: 40.0,
        without_fix_s: 0.0,
        vortex_ring_s: 0.0,
        declared_lost: 1,
        telemetry_only_s: 0.0,
        control_only_s: 0.0,
    }
}

/// 2,000 lost links under two policies. Flights 100 and 1,500 fault under the first, 700 under the second, after they had
/// left the area, came down on a road, came home.
fn with_faults() -> Vec<FlightOutcome> {
    (0..2_000)
        .map(|flight| {
            let (first, second) = match flight {
                100 => ((Headline::LeftArea, true), (Headline::AtHome, false)),
                700 => ((Headline::OnRoad, false), (Headline::AtHome, true)),
                1_500 => ((Headline::NotSettled, true), (Headline::OnRoad, false)),
                _ if flight % 100 == 1 => ((Headline::OnRoad, false), (Headline::AtHome, false)),
                _ => ((Headline::AtHome, false), (Headline::AtHome, false)),
            };
            FlightOutcome {
                flight,
                loss: Some(LossMoment {
                    time_s: 60.0,
                    place_m: [100.0, 0.0, 30.0],
                    path_share: 0.5,
                    distance_m: 100.0,
                    cause: LossCause::Cut,
                    telemetry_up: true,
                }),
                endings: [first, second].map(|(headline, faulted)| ending(flight, headline, faulted)).to_vec(),
                without_loss: None,
                not_taken_off: false,
            }
        })
        .collect()
}

fn judge() -> Judge {
    Judge { matters_points: 0.5, confidence: 0.95, home_radius_m: 15.0, reserve_pct: 15.0, harm: false, order: None }
}

/// A flight that faulted under a policy is in no total of any policy, in no pair, on no map, and no headline of it is an
/// ending in the list of flights.
#[test]
fn faulted_flights_are_no_endings() {
    let outcomes = with_faults();
    let mut tally = Tally::new(&[policy("a"), policy("b")], &judge(), "cut", 0.2);
    outcomes.iter().for_each(|outcome| tally.push(outcome));
    let result = tally.finish();
    assert_eq!(result.loss.lost.events, 2_000, "the links were lost before anything faulted");
    for policy in &result.policies {
        assert_eq!(policy.lost, 1_997, "{}", policy.name);
        assert_eq!(policy.headlines.iter().map(|row| row.1.events).sum::<u64>(), 1_997);
        assert!(policy.headlines.iter().all(|row| row.1.of == 1_997));
        assert!(policy.ends.iter().all(|end| ![100, 700, 1_500].contains(&end.flight)));
    }
    let events = |policy: usize| result.policies[policy].groups.iter().map(|row| row.1.events).collect::<Vec<_>>();
    assert_eq!((events(0), events(1)), (vec![20, 0, 0, 1_977, 0], vec![0, 0, 0, 1_997, 0]));
    assert_eq!(result.pairs[0].table, [0, 20, 0, 1_977]);
    assert!(!result.verdict.sentence.contains("2,000") && result.verdict.sentence.contains("1,997"));

    let mut rows = FlightsCsv::new(Vec::new(), &["a".into(), "b".into()]).expect("a header");
    outcomes.iter().for_each(|outcome| rows.write(outcome).expect("written"));
    let text = String::from_utf8(rows.finish().expect("flushed")).expect("UTF-8");
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let mut counted = 0;
    for record in table.records() {
        let record = record.expect("a row");
        let (flight, headline, group) = (&record[0], &record[2], &record[3]);
        let aside = ["100", "700", "1500"].contains(&flight);
        assert_eq!(group == "set-aside", aside, "{record:?}");
        let faulted = record.get(record.len() - 1) == Some("1");
        assert_eq!(headline == "faulted", faulted, "{record:?}");
        counted += usize::from(!aside);
    }
    assert_eq!(counted, 2 * 1_997);

    let heights = [20.0, 40.0].map(|height_m| SweptHeight { height_m, speed_mps: None });
    let mut tally = HeightsTally::new(&heights);
    outcomes.iter().for_each(|outcome| tally.push(outcome));
    let found = tally.finish(&SweepFacts {
        title: "t".into(),
        invented: true,
        policy: "home".into(),
        seed: 1,
        tallest_m: 10.0,
        ceiling_m: 100.0,
        link_shadow_below_m: None,
        matters: 0.005,
        confidence: 0.95,
    });
    let shares: Vec<(u64, u64)> = found.rows.iter().map(|row| (row.danger.events, row.danger.of)).collect();
    assert_eq!(shares, [(20, 1_997), (0, 1_997)]);
}

/// The page's words, without markup.
fn page_words(summary: &Summary) -> String {
    let mut page = Vec::new();
    html::report(summary, &mut page).expect("writing into memory");
    let page = String::from_utf8(page).expect("UTF-8");
    let main = &page[page.find("<main").expect("a body")..];
    let mut words = String::new();
    let mut inside = false;
    for c in main.chars() {
        match c {
            '<' => inside = true,
            '>' => {
                inside = false;
                words.push(' ');
            }
            c if !inside => words.push(c),
            _ => {}
        }
    }
    words.split_whitespace().collect::<Vec<_>>().join(" ").replace("&#34;", "\"")
}

/// A caution stands before the answer, on the page and on the terminal.
fn first_says(summary: &Summary, parts: &[&str]) {
    let page = page_words(summary);
    let text = terminal::summary(summary, Writing::default());
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let lead: String = summary.verdict.sentence.chars().take(30).collect();
    for (what, said) in [("page", &page), ("terminal", &text)] {
        let answer = said.find(lead.trim()).unwrap_or_else(|| panic!("{what} gives the answer: {said}"));
        for part in parts {
            let place = said.find(part).unwrap_or_else(|| panic!("{what} does not say {part:?}"));
            assert!(place < answer, "{what} says {part:?} after the answer");
        }
    }
}

const ALL_ENDED: &str = "Every flight came to an end";

/// What the page says of flights that did not end comes from the counts: of those that lost the link and of those that
/// never did.
#[test]
fn a_page_says_how_many_flights_did_not_end() {
    let world = World::new(read(FIELD)).expect("a world");
    let (summary, _) = assessed(&world, 40);
    assert!(page_words(&summary).contains(ALL_ENDED), "all of these do");
    assert!(!page_words(&summary).contains("had not ended"));

    let mut hovering = summary.clone();
    hovering.flights = 2_000;
    hovering.loss.without_loss = vec![("not-settled".into(), 1_901), ("at-home".into(), 59)];
    assert!(!page_words(&hovering).contains(ALL_ENDED));
    first_says(&hovering, &["1,901 of 2,000 flights had not ended"]);

    // A hold far beyond the clock on a pack that outlasts it.
    let endless = FIELD
        .replace("mass_kg = 1.0", "mass_kg = 1.0\n[craft.battery]\ncapacity_ah = 100")
        .replace("drop = {}", "hold = { for_s = 3600 }\n[[policy.action]]\nland = {}");
    let world = World::new(read(&endless)).expect("a world");
    let (summary, _) = assessed(&world, 12);
    let page = page_words(&summary);
    assert!(!page.contains(ALL_ENDED), "{page}");
    assert!(page.contains("12 of 12 under drop"), "{page}");
    first_says(&summary, &["Under \"drop\" 12 of 12 lost links had not ended"]);
}

/// What a scenario allows but nobody would want is told by the check and by the assessment in the same words, and by the card,
/// which prints the assessment's.
#[test]
fn warnings_of_the_plan_are_told_alike() {
    let told = |text: &str| -> (Vec<String>, String) {
        let world = World::new(read(text)).expect("a world");
        let setup = Setup::new(&world).expect("a setup");
        let found = survey(&setup);
        let check = check_words::text(&world.scenario, &found, world.grid.cell_m, Writing::default());
        let (summary, _) = assessed(&world, 2);
        (summary.warnings, check.split_whitespace().collect::<Vec<_>>().join(" "))
    };
    let (warnings, check) = told(FIELD);
    assert!(warnings.is_empty() && !check.contains("Odd but legal"), "{warnings:?}");

    let mast =
        "[[site.obstacle]]\nname = \"mast\"\nkind = \"building\"\ncircle_m = [-250, -150, 3]\nheight_m = 42\n[craft]";
    let radio = "[radio.video]\nwhen_lost = \"hold\"\n[pilot]\nturn_back_charge_pct = 40\n[path]";
    for (text, words) in [
        (FIELD.replace("[craft]", mast), vec!["\"home\"", "30 m", "42 m"]),
        (FIELD.replace("[path]", radio), vec!["radio.video.when_lost"]),
        (FIELD.replace("[path]", radio), vec!["pilot.turn_back_charge_pct", "radio.telemetry"]),
        (
            FIELD.replace("[path]", "[sky]\ntake_off_without_fix = true\n[path]"),
            vec!["take_off_without_fix", "\"home\""],
        ),
        (
            FIELD.replace("drop = {}", "hold = { for_s = 3000 }\n[[policy.action]]\nland = {}"),
            vec!["\"drop\"", "2,400 s"],
        ),
    ] {
        let (warnings, check) = told(&text);
        let found = warnings.iter().find(|warning| words.iter().all(|word| warning.contains(word)));
        let found = found.unwrap_or_else(|| panic!("nothing says {words:?}: {warnings:?}"));
        assert!(check.contains(&**found), "check says it too: {check}");
    }
}
