//! What commands state agrees, and what they write harms nothing.

use crate::bench::{read, shipped};
use lostlink::failsafe::{ActionKind, ReturnHeight};
use lostlink::flight::{Flags, FlightOutcome, Headline, LossBudget, Tier, record};
use lostlink::plan::reach::MapHeight;
use lostlink::plan::{ReachAsk, reach_of};
use lostlink::plan::{SkyDay, fix_limits};
use lostlink::plan::{site_map, survey};
use lostlink::report::csv::FlightsCsv;
use lostlink::report::plot::canvas::Figure;
use lostlink::report::plot::{self, Look};
use lostlink::report::terminal::{self, Manner as Writing};
use lostlink::report::{assess as report, check as check_words, earth, geojson, json, page, words};
use lostlink::risk::Tally;
use lostlink::risk::assess::{Ask, assess};
use lostlink::risk::field_sheet::{bench, hover_test, sky_wait};
use lostlink::risk::heights::{HeightsTally, SweepFacts, SweptHeight};
use lostlink::risk::outcome::Concern;
use lostlink::risk::summary::{SiteOnEarth, Summary};
use lostlink::risk::sweep::sweep;
use lostlink::scenario::Judge;
use lostlink::sky::{Geodetic, LocalFrame};
use lostlink::world::World;
use std::convert::Infallible;
use std::f64::consts::FRAC_1_SQRT_2;

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
return = { height = { up_m = 30, may_sink = true }, home_circle_m = 5 }
"#;

/// A way home may be no higher than either ceiling allows: that above the ground counts where the ground is lowest.
#[test]
fn recommended_heights_keep_under_both_ceilings() {
    for (ceilings, most_m) in [
        ("ceiling_m = 70", 70.0),
        ("ceiling_above_ground_m = 50", 50.0),
        ("ceiling_m = 40\nceiling_above_ground_m = 50", 40.0),
    ] {
        let world = World::new(read(&FIELD.replace("home_m = [0, 0]", ceilings))).expect("a world");
        let found =
            sweep(&world, &world.scenario.policies[1], &[20.0, 40.0, 60.0, 80.0], &[], 20, &|_| {}).expect("flies");
        assert_eq!(found.ceiling_m, most_m, "{ceilings}");
        let [low_m, high_m] = found.interval_m.expect("an interval");
        assert!(low_m == 20.0 && high_m <= most_m && high_m >= most_m - 20.0, "{ceilings}: {low_m} to {high_m} m");
        // At the ceiling itself there is no room for what they overshoot it by.
        let (limit, end) = if most_m == 40.0 {
            ("overshoot above the ceiling (".into(), " of 1,000 at 40 m)")
        } else {
            (format!("the ceiling of {most_m} m"), "")
        };
        assert!(found.above.starts_with(&limit) && found.above.ends_with(end), "{ceilings}: {}", found.above);
    }
}

/// The assessment of the first flights, with every outcome that went into it.
fn assessed(world: &World, flights: u32) -> (Summary, Vec<FlightOutcome>) {
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
    let summary = assess(world, &ask, &|_: u64| {}, &mut sink).expect("it flies");
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
        (45.0, [-FRAC_1_SQRT_2, -FRAC_1_SQRT_2]),
        (90.0, [-1.0, 0.0]),
        (235.0, [0.819_152, 0.573_576]),
        (270.0, [1.0, 0.0]),
    ];
    let mut arrows = 0;
    for (from_deg, to) in cases {
        let scenario = read(&FIELD.replace("from_deg = 235", &format!("from_deg = {from_deg}")));
        let world = World::new(scenario).expect("a world");
        let (summary, _) = assessed(&world, 8);
        let ask = ReachAsk { heights: vec![MapHeight::AboveGroundM(30.0)], points: [24, 16], ..ReachAsk::default() };
        let reach = reach_of(&world.scenario, &world.grid, &world.path, &world.link, &ask).expect("a reach");
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
                let is_map = ["map", "site", "reach-1"].iter().any(|start| figure.id.starts_with(start));
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
    assert_eq!(arrows, 5 * 4 * 3);
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

/// 2,000 lost links under two policies. Flights 100 and 1,500 fault under the first, 700 under the second, after they had
/// left the area, came down on a road, came home.
fn with_faults(flown: &FlightOutcome) -> Vec<FlightOutcome> {
    (0..2_000)
        .map(|flight| {
            let (first, second) = match flight {
                100 => ((Headline::LeftArea, true), (Headline::AtHome, false)),
                700 => ((Headline::OnRoad, false), (Headline::AtHome, true)),
                1_500 => ((Headline::NotSettled, true), (Headline::OnRoad, false)),
                _ if flight % 100 == 1 => ((Headline::OnRoad, false), (Headline::AtHome, false)),
                _ => ((Headline::AtHome, false), (Headline::AtHome, false)),
            };
            let mut outcome = flown.clone();
            outcome.flight = flight;
            for (ending, (headline, faulted)) in outcome.endings.iter_mut().zip([first, second]) {
                (ending.flight, ending.headline, ending.flags) = (flight, headline, Flags::default());
                if faulted {
                    ending.flags.set(Flags::FAULT);
                    ending.impact_energy_j = f32::NAN;
                }
            }
            outcome
        })
        .collect()
}

fn judge() -> Judge {
    read(FIELD).judge
}

/// A flight that faulted under a policy is in no total of any policy, in no pair, on no map, and no headline of it is an
/// ending in the list of flights.
#[test]
fn faulted_flights_are_no_endings() {
    let world = World::new(read(FIELD)).expect("a world");
    let outcomes = with_faults(&assessed(&world, 1).1[0]);
    let mut tally = Tally::new(&world.scenario.policies, &judge(), "cut", 0.2);
    outcomes.iter().for_each(|outcome| tally.push(outcome));
    let result = tally.finish();
    assert_eq!(result.loss.lost.events, 2_000, "the links were lost before anything faulted");
    for policy in &result.policies {
        assert_eq!(policy.lost, 1_997, "{}", policy.name);
        assert_eq!(policy.headlines.iter().map(|row| row.1.events).sum::<u64>(), 1_997);
        assert!(policy.headlines.iter().all(|row| row.1.of == 1_997));
        assert!(policy.ends.iter().all(|end| ![100, 700, 1_500].contains(&end.flight)));
    }
    let events = |policy: usize| result.policies[policy].concerns.iter().map(|row| row.1.events).collect::<Vec<_>>();
    assert_eq!((events(0), events(1)), (vec![20, 20, 20, 20, 20, 20], vec![0; 6]));
    assert_eq!(result.pairs[0].table, [0, 20, 0, 1_977]);
    assert!(!result.verdict.sentence.contains("2,000") && result.verdict.sentence.contains("1,997"));

    let mut rows = FlightsCsv::new(Vec::new(), &["a".into(), "b".into()], &[], None).expect("a header");
    outcomes.iter().for_each(|outcome| rows.write(outcome).expect("written"));
    let text = String::from_utf8(rows.finish().expect("flushed")).expect("UTF-8");
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let fault = table.headers().expect("a header").iter().position(|name| name == "fault").expect("told");
    let mut counted = 0;
    for record in table.records() {
        let record = record.expect("a row");
        let (flight, headline, group) = (&record[0], &record[2], &record[3]);
        let aside = ["100", "700", "1500"].contains(&flight);
        assert_eq!(group == "set-aside", aside, "{record:?}");
        let faulted = &record[fault] == "1";
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
        scenario_hash: "0123456789abcdef".into(),
        policy: "home".into(),
        seed: 1,
        measured_from: "home",
        tallest_m: 10.0,
        clearance_m: 5.0,
        ceiling_m: 100.0,
        first: None,
        matters: judge().matters,
        confidence: 0.95,
    });
    let shares: Vec<(u64, u64)> = found.rows.iter().map(|row| (row.danger.events, row.danger.of)).collect();
    assert_eq!(shares, [(20, 1_997), (0, 1_997)]);
}

/// The page's words, without markup.
fn page_words(summary: &Summary) -> String {
    let mut bytes = Vec::new();
    page::write(&report::document(summary), &report::gallery(summary), &mut bytes).expect("writing into memory");
    let page = String::from_utf8(bytes).expect("UTF-8");
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
    words
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .replace("&#34;", "\"")
        .replace("&#60;", "<")
        .replace("&#62;", ">")
}

/// A caution stands before the answer, on the page and on the terminal.
fn first_says(summary: &Summary, parts: &[&str]) {
    let page = page_words(summary);
    let text = terminal::print(&report::document(summary), Writing::default());
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
        let found = survey(&world);
        let check = check_words::document(&world.scenario, &found, world.grid.cell_m);
        let check = terminal::print(&check, Writing::default());
        let (summary, _) = assessed(&world, 2);
        (summary.warnings, check.split_whitespace().collect::<Vec<_>>().join(" "))
    };
    // With what it would otherwise be asked about.
    let delivered = "[radio.telemetry]\n[delivered]\nname = \"as delivered\"\n[[delivered.action]]\n\
                     return = { height = { up_m = 30, may_sink = true }, home_circle_m = 5 }\n";
    let sound = FIELD.to_string() + delivered;
    let (warnings, check) = told(&sound);
    assert!(warnings.is_empty() && !check.contains("Unusual values"), "{warnings:?}");
    // What ends soon is nothing to warn of.
    let short = sound.replace("[path]", "[radio.video]\nwhen_lost = \"hold\"\n[path]");
    assert!(told(&short).0.is_empty());

    let mast =
        "[[site.obstacle]]\nname = \"mast\"\nkind = \"building\"\ncircle_m = [-60, 20, 3]\nheight_m = 42\n[craft]";
    let radio = "[radio.video]\nhold_s = 900\nafter_hold = \"climb\"\n[pilot]\nturn_back_charge_pct = 40\n[path]";
    let wire = mast.replace("building", "wire");
    let masts: String = (0..7)
        .map(|index| mast.replace("[craft]", "").replace("-60, 20", &format!("-{}, -150", 200 + 10 * index)))
        .collect();
    let masts = masts + "[craft]";
    for (text, words) in [
        (FIELD.replace("[craft]", mast), vec!["\"home\"", "30 m", "42 m"]),
        (FIELD.replace("[craft]", &wire), vec!["\"home\"", "30 m", "42 m"]),
        (FIELD.replace("[path]", radio), vec!["radio.video.hold_s", "1800 s"]),
        (FIELD.replace("[path]", radio), vec!["pilot.turn_back_charge_pct", "radio.telemetry"]),
        (FIELD.replace("[path]", "[sky]\nwait_for_fix = false\n[path]"), vec!["wait_for_fix", "\"home\""]),
        (
            FIELD.replace("drop = {}", "hold = { for_s = 3000 }\n[[policy.action]]\nland = {}"),
            vec!["\"drop\"", "2,400 s"],
        ),
        (
            FIELD.replace("mass_kg = 1.0", "mass_kg = 1.0\n[craft.battery]\ncapacity_ah = 0.1"),
            vec!["the charge does not last the path", " s after take-off"],
        ),
        (FIELD.replace("[site]", "[site]\nceiling_above_ground_m = 25"), vec!["the path rises to", "= 25"]),
        (
            FIELD.replace("[site]", "[site]\nceiling_above_ground_m = 41").replace("[craft]", mast),
            vec!["ceiling_above_ground_m", "41", "the top of mast", "42 m"],
        ),
        (
            FIELD.replace("[site]", "[site]\nceiling_above_ground_m = 41").replace("[craft]", &masts),
            vec!["ceiling_above_ground_m", "under the tops of 2 more obstacles"],
        ),
    ] {
        let (warnings, check) = told(&text);
        let found = warnings.iter().find(|warning| words.iter().all(|word| warning.contains(word)));
        let found = found.unwrap_or_else(|| panic!("nothing says {words:?}: {warnings:?}"));
        assert!(check.contains(&**found), "check says it too: {check}");
    }
}

const SHIPPED: [&str; 6] = ["club-field", "ridge-valley", "lake-shore", "quarry", "open-air-stage", "wrong-heading"];

/// A row of `flights.csv` by its columns.
type Row = std::collections::BTreeMap<String, String>;

fn rows_of(world: &World, outcomes: &[FlightOutcome]) -> Vec<Row> {
    let names: Vec<String> = world.scenario.policies.iter().map(|policy| policy.name.clone()).collect();
    let mut rows = FlightsCsv::new(Vec::new(), &names, &world.scenario.site.zone_names(), None).expect("a header");
    outcomes.iter().for_each(|outcome| rows.write(outcome).expect("written"));
    let text = String::from_utf8(rows.finish().expect("flushed")).expect("UTF-8");
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let header = table.headers().expect("a header").clone();
    table
        .records()
        .map(|row| header.iter().map(str::to_string).zip(row.expect("a row").iter().map(str::to_string)).collect())
        .collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text:?} is no number"))
}

/// Shares anywhere in a file are shares: no more events than there can be, the estimate within its interval, all of it from 0 to 1.
fn check_shares(name: &str, value: &serde_json::Value, found: &mut usize) {
    match value {
        serde_json::Value::Object(map) => {
            if let (Some(events), Some(of)) = (map.get("events"), map.get("of")) {
                let (events, of) = (events.as_u64().expect("a count"), of.as_u64().expect("a count"));
                let end = |key: &str| map[key].as_f64().expect("a share");
                assert!(events <= of && end("low") >= 0.0 && end("high") <= 1.0, "{name}: {map:?}");
                if of > 0 {
                    let estimate = events as f64 / of as f64;
                    assert!(end("low") <= estimate && estimate <= end("high"), "{name}: {map:?}");
                }
                *found += 1;
            }
            map.values().for_each(|value| check_shares(name, value, found));
        }
        serde_json::Value::Array(list) => list.iter().for_each(|value| check_shares(name, value, found)),
        _ => {}
    }
}

/// `summary.json`, `flights.csv`, `ends.geojson`, a height sweep at a policy's own height and a replay tell of the same flights.
#[test]
fn files_and_commands_count_the_same_flights() {
    const FLIGHTS: u32 = 24;
    for name in SHIPPED {
        let world = World::new(shipped(name)).expect("a world");
        let (mut summary, outcomes) = assessed(&world, FLIGHTS);
        let rows = rows_of(&world, &outcomes);
        assert_eq!((summary.flights, summary.seed), (u64::from(FLIGHTS), world.scenario.seed));
        assert_eq!(summary.scenario_hash, world.scenario.hash);

        let mut bytes = Vec::new();
        json::write(&summary, &mut bytes).expect("writing into memory");
        let value: serde_json::Value = serde_json::from_slice(&bytes).expect("JSON");
        let mut shares = 0;
        check_shares(name, &value, &mut shares);
        assert!(shares > 20 * summary.policies.len(), "{name}: {shares} shares");

        // Every flight is there, and how it came to no loss.
        let lost: std::collections::BTreeSet<&str> =
            rows.iter().filter(|row| !row["policy"].is_empty()).map(|row| &*row["flight"]).collect();
        let all: std::collections::BTreeSet<&str> = rows.iter().map(|row| &*row["flight"]).collect();
        assert_eq!((all.len(), lost.len() as u64), (FLIGHTS as usize, summary.loss.lost.events), "{name}");
        let without: u64 = summary.loss.without_loss.iter().map(|(_, count)| count).sum();
        let flown = summary.loss.lost.events + without + summary.loss.not_taken_off;
        assert_eq!(flown, summary.flights, "{name}: a flight loses its link, ends without, or stays on the ground");

        let somewhere = || SiteOnEarth {
            frame: LocalFrame::new(Geodetic::from_deg(48.0, 11.0, 0.0)),
            home_amsl_m: None,
            zones: Vec::new(),
            obstacles: Vec::new(),
            fence: None,
        };
        let frame = summary.map.earth.get_or_insert_with(somewhere).frame;
        let mut bytes = Vec::new();
        let ends = earth::ends(&summary).expect("it lies somewhere");
        geojson::write(&ends, &mut bytes).expect("writing into memory");
        let places: serde_json::Value = serde_json::from_slice(&bytes).expect("JSON");
        let places = places["features"].as_array().expect("features");

        for (index, policy) in summary.policies.iter().enumerate() {
            let own: Vec<&Row> =
                rows.iter().filter(|row| row["policy"] == policy.name && row["tier"] != "set-aside").collect();
            assert_eq!(own.len() as u64, policy.lost, "{name}, {}", policy.name);
            let count = |column: &str, word: &str| own.iter().filter(|row| row[column] == word).count() as u64;
            for (headline, share) in &policy.headlines {
                assert_eq!((share.events, share.of), (count("headline", headline.word()), policy.lost), "{name}");
            }
            for (group, share) in &policy.tiers {
                let word = serde_json::to_value(group).expect("a word");
                assert_eq!(share.events, count("tier", word.as_str().expect("a word")), "{name}: {group:?}");
            }
            for (flag, column) in [
                (Flags::LEFT_AREA, "left_area"),
                (Flags::ABOVE_CEILING, "above_ceiling"),
                (Flags::OVER_PEOPLE, "over_people"),
                (Flags::FIX_LOST, "fix_lost"),
                (Flags::FELL_BACK, "fell_back"),
                (Flags::PILOT_TOOK_OVER, "pilot_took_over"),
            ] {
                let place = Flags::NAMED.iter().position(|named| named.0 == flag).expect("named");
                assert_eq!(policy.flags[place].1.events, count(column, "1"), "{name}: {column}");
            }
            let ends: Vec<&serde_json::Value> =
                places.iter().filter(|f| f["properties"]["policy"] == *policy.name).collect();
            assert_eq!(ends.len(), own.len(), "{name}: all ends are on the map");
            for (end, row) in ends.iter().zip(&own) {
                let at = |axis: usize| end["geometry"]["coordinates"][axis].as_f64().expect("a number");
                let (x, y) = (number(&row["end_x_m"]), number(&row["end_y_m"]));
                let [lat, lon] = frame.degrees_from_local([x, y]);
                let off_m = (at(1) - lat).hypot(at(0) - lon) * 111_000.0;
                assert!(off_m < 0.03, "{name}: {off_m} m between map and list");
                assert_eq!(end["properties"]["flight"].to_string(), row["flight"]);
                assert_eq!(end["properties"]["headline"], *row["headline"]);
            }

            // The same return height in a sweep is the same policy.
            let exact = world.scenario.policies[index].actions.iter().find_map(|action| match action.kind {
                ActionKind::Return { height, .. } if height == ReturnHeight::exactly_m(height.up_m) => {
                    Some(height.up_m)
                }
                _ => None,
            });
            if let Some(height_m) = exact {
                let swept =
                    sweep(&world, &world.scenario.policies[index], &[height_m], &[], FLIGHTS, &|_| {}).expect("flies");
                let row = &swept.rows[0];
                assert_eq!((swept.flights, swept.seed), (summary.flights, summary.seed));
                assert_eq!(
                    (&swept.scenario_hash, &swept.program_version),
                    (&summary.scenario_hash, &summary.program_version)
                );
                assert_eq!(row.danger, policy.share(Concern::Danger), "{name}, {} at {height_m} m", policy.name);
                assert_eq!((row.craft_lost, row.at_home), (policy.share(Concern::CraftLost), policy.home));
                assert_eq!(row.not_settled, policy.tier(Tier::NotSettled));
                let measure = |key: &str| policy.measures.iter().find(|m| m.key == key).expect("measured");
                let pack = measure("pack_left_pct");
                assert_eq!(row.pack_left_pct, [pack.p05.value, pack.p50.value, pack.p95.value]);
            }

            // A replay of a flight tells of its row.
            for row in own.iter().take(2) {
                let flight = row["flight"].parse().expect("a number");
                let trace = record(&world, flight, &world.scenario.policies[index], 0.2);
                let headline = Headline::ALL.into_iter().find(|h| h.word() == row["headline"]).expect("a headline");
                assert_eq!(trace.headline, headline.label(), "{name}: flight {flight} under {}", policy.name);
                let lost_at_s = trace.lost_at_s.expect("lost");
                assert!((lost_at_s - number(&row["loss_time_s"])).abs() < 0.006, "{name}: {lost_at_s} {row:?}");
                let end = trace.events.iter().find(|event| event.what().starts_with("end: ")).expect("an end");
                assert!(
                    (end.time_s - lost_at_s - number(&row["time_to_end_s"])).abs() < 0.02,
                    "{name}: {end:?} {row:?}"
                );
            }
        }
    }
}

fn sum_db(b: &LossBudget) -> f64 {
    b.distance_db
        + b.diffraction_db
        + b.vegetation_db
        + b.reflection_db
        + b.pattern_db
        + b.polarisation_db
        + b.body_db
        + b.shadowing_db
        + b.interference_db
}

/// What is said of the plan before any flight: check, report and card say the same, and what is said adds up.
#[test]
fn check_report_and_card_say_the_same_of_the_plan() {
    for name in SHIPPED {
        let world = World::new(shipped(name)).expect("a world");
        let found = survey(&world);
        let (summary, _) = assessed(&world, 8);
        let debug = |value: &dyn std::fmt::Debug| format!("{value:?}");
        assert_eq!(debug(&summary.along), debug(&found.along), "{name}");
        assert_eq!(debug(&summary.sections), debug(&found.sections), "{name}");
        assert_eq!(debug(&summary.no_return), debug(&found.no_return), "{name}");
        assert_eq!(summary.warnings, found.warnings, "{name}");

        // The budget: what is left of the margin at one metre when all its terms are taken.
        let weakest = &found.along[found.weakest];
        let left_db = found.margin_at_one_metre_db - sum_db(&found.weakest_budget);
        assert!((left_db - weakest.margin_db).abs() < 1e-9, "{name}: {left_db} dB, {} dB told", weakest.margin_db);
        assert!(found.along.iter().all(|p| p.margin_db >= weakest.margin_db), "{name}");
        assert_eq!(found.sections[0].margin_db, weakest.margin_db, "{name}");
        assert_eq!(found.sections[0].diffraction_db, found.weakest_budget.diffraction_db, "{name}");
        if let Some(on) = found.with_sources_on {
            assert!(on.margin_db <= weakest.margin_db + 1e-9, "{name}: no better with every source on");
        }

        // In flight: what is left of the margin at one metre when all terms but fading are taken, at full power, is the same
        // in every row.
        let steady = world.scenario.radio.control.power_steps_dbm.len() < 2;
        let trace = record(&world, 0, &world.scenario.policies[0], 0.2);
        if steady && world.scenario.radio.interferers.is_empty() {
            let one_metre: Vec<f64> = trace.rows.iter().map(|row| row.margin_db + sum_db(&row.budget)).collect();
            let spread = one_metre.iter().fold(f64::NEG_INFINITY, |a, &b| a.max(b))
                - one_metre.iter().fold(f64::INFINITY, |a, &b| a.min(b));
            assert!(spread < 0.01, "{name}: {spread} dB between rows");
        }

        // The middle craft hovers as the crafts of the flights do.
        let hover = hover_test(&world, 200);
        let ratio = found.hover_power_w / hover.power_w[1];
        assert!((0.9..1.1).contains(&ratio), "{name}: {} W and {} W", found.hover_power_w, hover.power_w[1]);

        // No way home that the plan says reaches home everywhere is short of charge somewhere on the path.
        if !found.no_return.is_empty() && found.no_return.iter().all(|back| back.distance_m.is_none()) {
            let short = found.along.iter().find(|p| p.charge_home_pct > p.charge_pct);
            assert!(short.is_none(), "{name}: {short:?}");
        }

        // Silence until lost: the bench's, the flights'.
        let receiver = &world.link.receiver;
        let bench = bench(receiver);
        assert!((bench.lost_after_s - receiver.patience_s).abs() <= bench.interval_s, "{name}: {bench:?}");
        let event =
            |what: &str| trace.events.iter().find(|event| event.what().starts_with(what)).map(|event| event.time_s);
        if let (Some(cut_s), Some(lost_s)) = (event("the scenario cuts"), event("link declared lost (cut")) {
            let silent_s = lost_s - cut_s;
            assert!((silent_s - bench.lost_after_s).abs() <= bench.interval_s + 0.06, "{name}: {silent_s} s");
        }
    }
}

/// Satellites and HDOP at the take-off spot: the day of `sky`, the card's forecast and the flights' sky.
#[test]
fn sky_card_and_flights_see_the_same_satellites() {
    for name in SHIPPED {
        let world = World::new(shipped(name)).expect("a world");
        let scenario = &world.scenario;
        let day = SkyDay::new(scenario, &world.grid, scenario.site.home_m, 1.0, &fix_limits(scenario)).expect("a day");
        let [.., hour, minute, second] = scenario.sky.utc;
        let from_s = f64::from(hour * 3600 + minute * 60 + second);
        let to_s = from_s + scenario.sky.window_s + world.path.duration_s();
        let place_m = [world.home_m[0], world.home_m[1], world.home_m[2] + 1.0];
        // The flights' sky is looked up in cells: near a wall or a wood a satellite on the edge of its horizon may be in one
        // and not in the other.
        let (mut differences, mut ratios) = (Vec::new(), Vec::new());
        for row in day.own_set().rows.iter().filter(|row| (from_s..=to_s).contains(&row.time_s)) {
            let flown = world.sky.at(row.time_s - from_s, place_m);
            differences.push(f64::from(row.satellites) - f64::from(flown.satellites));
            if row.hdop.is_finite() && flown.has_solution() {
                ratios.push((row.hdop / f64::from(flown.hdop)).ln().abs());
            }
        }
        let looked = differences.len() as f64;
        assert!(differences.iter().all(|d| d.abs() <= 1.0), "{name}: {differences:?}");
        let equal = differences.iter().filter(|d| **d == 0.0).count() as f64 / looked;
        let mean = differences.iter().sum::<f64>() / looked;
        ratios.sort_by(f64::total_cmp);
        let middle = ratios[ratios.len() / 2];
        assert!(equal > 0.65 && mean.abs() < 0.2 && middle < 0.005, "{name}: {equal} {mean} {middle}");
        let card = sky_wait(&world, &world.scenario.policies[0]);
        for (time_s, satellites, hdop) in card.samples {
            let flown = world.sky.at(time_s, place_m);
            assert_eq!((satellites, hdop), (u32::from(flown.satellites), f64::from(flown.hdop)), "{name}");
        }
    }
}

/// A number that a report gives in several places is the same number in each.
#[test]
fn a_number_printed_twice_is_the_same_number() {
    for name in ["club-field", "lake-shore"] {
        let world = World::new(shipped(name)).expect("a world");
        let (summary, _) = assessed(&world, 320);
        let page = page_words(&summary);
        let terminal = terminal::print(&report::document(&summary), Writing::default());
        let map = plot::map(&summary, Look::WIDE);
        let others = plot::others(&summary, Look::WIDE).expect("more policies than one");
        let texts: Vec<&str> = map.layout.texts.iter().chain(&others.layout.texts).map(|text| &*text.text).collect();
        for policy in &summary.policies {
            let danger = policy.share(Concern::Danger);
            // The table in short, the table of policies, the counts, the terminal.
            let row = format!(
                "{} {} {} {}",
                policy.name,
                words::brief(&policy.share(Concern::Grave)),
                words::cell(&danger),
                words::brief(&policy.share(Concern::CraftLost))
            );
            assert!(page.contains(&row.split_whitespace().collect::<Vec<_>>().join(" ")), "{name}: {row}");
            assert!(page.contains(&format!("{}: {} lost links", policy.name, words::count(policy.lost))), "{name}");
            let said = policy.within_99_m.map(|m| words::number(m.ceil(), 0));
            let told = said.clone().unwrap_or_else(|| "not bounded".into());
            // A long name goes on in the next line, so that two may begin alike.
            let start: String = policy.name.chars().take(12).collect();
            let cell = words::brief(&danger);
            let mut lines = terminal.lines().filter(|line| line.starts_with(&start) && line.contains(&cell));
            assert!(lines.any(|line| line.trim_end().ends_with(&told)), "{name}: {start} {cell} {told} in {terminal}");
            if let Some(metres) = said {
                let label = format!("99 % within {metres} m of home");
                assert!(texts.iter().any(|text| text.contains(&label)), "{name}: {label} in {texts:?}");
            }
        }
        for back in summary.no_return.iter().filter(|back| back.distance_m.is_some()) {
            let metres = words::number(back.distance_m.expect("one"), 0);
            assert!(page.contains(&format!("no return after {metres} m")), "{name}");
            for text in texts.iter().filter(|text| text.starts_with("no return beyond")) {
                assert!(summary.no_return.iter().any(|b| {
                    b.distance_m.is_some_and(|m| **text == format!("no return beyond {} m", words::number(m, 0)))
                }));
            }
        }
        let lost = words::count(summary.loss.lost.events);
        assert!(page.contains(&format!("counted in {lost} lost links of 320 simulated flights")), "{name}");
        assert!(terminal.contains(&format!("({lost} simulated;")), "{name}");
    }
    // A confidence other than the usual one is printed wherever a confidence is.
    let text = FIELD.replace("[path]", "[judge]\nconfidence = 0.9\n[path]");
    let world = World::new(read(&text)).expect("a world");
    let (summary, _) = assessed(&world, 320);
    assert!(summary.policies.iter().all(|policy| policy.within_99_m.is_some()));
    let said = page_words(&summary) + &terminal::print(&report::document(&summary), Writing::default());
    assert!(said.contains("90 % sure") && !said.contains("95 % sure"), "{said}");
}
