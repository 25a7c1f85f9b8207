//! What the page counts is what an assessment of the saved scenario counts.

use crate::client::{Served, field, live, shipped};
use lostlink::live::{At, FIRST, State};
use lostlink::scenario::{MemoryFiles, read};
use lostlink::serve::Bounds;
use lostlink::{Options, Summary, assess};
use serde_json::Value;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Every number of a line against the summary's.
fn same(line: &Value, summary: &Summary) {
    assert_eq!(line["done"], true);
    assert_eq!((line["flights"].as_u64(), line["of"].as_u64()), (Some(summary.flights), Some(summary.flights)));
    assert_eq!(line["links_lost"].as_u64(), Some(summary.loss.lost.events));
    let policies = line["policies"].as_array().unwrap();
    assert_eq!(policies.len(), summary.policies.len());
    let share = |found: &Value, expected: &lostlink::Share| {
        assert_eq!(found["count"].as_u64(), Some(expected.events), "{found}");
        let number = |key: &str| found[key].as_f64().unwrap_or(f64::NAN);
        let off = |found: f64, expected: f64| (found - expected).abs() > 1e-9 && !(found.is_nan() && expected.is_nan());
        assert!(!off(number("per_1000"), 1e3 * expected.estimate()), "{found}: {expected:?}");
        assert!(!off(number("low"), 1e3 * expected.low) && !off(number("high"), 1e3 * expected.high), "{found}");
    };
    for (found, expected) in policies.iter().zip(&summary.policies) {
        assert_eq!(found["name"].as_str(), Some(expected.name.as_str()));
        let tiers = found["tiers"].as_array().unwrap();
        assert_eq!(tiers.len(), expected.tiers.len());
        for (found, (tier, expected)) in tiers.iter().zip(&expected.tiers) {
            assert_eq!(found["key"], serde_json::to_value(tier).unwrap());
            share(found, expected);
        }
        share(&found["home"], &expected.home);
    }
    let part = |key: &str| line["answer"][key].as_str().unwrap().to_string();
    let answer = [part("headline"), part("sure")].join(" ");
    assert_eq!(answer.trim_end(), summary.verdict.sentence);
}

fn last_is_assess(text: &str, queries: &[&str]) {
    let served = Served::new(live(text), Bounds::default());
    for query in queries {
        let lines = served.shares(query, "page");
        let saved = served.get(&format!("/api/scenario.toml?{query}")).text();
        let scenario = read("saved", &saved, &MemoryFiles::default()).unwrap_or_else(|found| panic!("{found:?}"));
        same(lines.last().unwrap(), &assess(&scenario, &Options::quick()).unwrap());
        // Before the last there is no answer, and flights only become more.
        let flights: Vec<u64> = lines.iter().map(|line| line["flights"].as_u64().unwrap()).collect();
        assert!(flights.windows(2).all(|pair| pair[0] < pair[1]), "{flights:?}");
        let before = &lines[..lines.len() - 1];
        assert!(before.iter().all(|line| line["answer"].is_null() && line["done"] == false));
    }
}

#[test]
fn club_field_as_it_stands_and_as_changed() {
    let text = shipped("club-field.toml", 40);
    last_is_assess(&text, &["", "height_m=40&patience_s=2.5&wind_mps=9"]);
}

#[test]
fn club_field_with_the_rest_moved() {
    let text = shipped("club-field.toml", 40);
    last_is_assess(&text, &["cut_m=700", "cut_m=radio&constellations=gps30&hour_utc=6.5&pack_pct=55&wind_from_deg=90"]);
}

#[test]
fn first_numbers_come_after_few_flights() {
    let served = Served::new(field(), Bounds::default());
    let lines = served.shares("wind_mps=7", "a");
    let flights: Vec<u64> = lines.iter().map(|line| line["flights"].as_u64().unwrap()).collect();
    assert_eq!(flights, [8, 16, 32, 64, 80]);
    // What has been flown is not flown again: the next to ask hears all of it at once.
    let again = served.shares("wind_mps=7", "b");
    assert_eq!(again, lines[4..]);
}

fn flown(at: &At, goal: u32, most: u32) {
    while at.fly_on(goal, most, &AtomicBool::new(false)) < goal {}
}

/// However it is cut up, on however many threads.
#[test]
fn the_same_on_one_thread_and_on_two() {
    let state = |live: &lostlink::live::Live| live.state([("wind_mps", "8"), ("height_m", "55")]).unwrap();
    let standing = |threads: usize, most: u32| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let live = field();
            let at: Arc<At> = live.at(&state(&live)).unwrap();
            flown(&at, at.flights(), most);
            (serde_json::to_string(&at.standing()).unwrap(), at.told(None).story)
        })
    };
    let (one, two) = (standing(1, 7), standing(2, 64));
    assert_eq!(one, two);
    assert!(one.0.contains("\"done\":true"));
}

/// A run that is stopped counts nothing, and what comes after it is as if it had not been.
#[test]
fn what_is_stopped_leaves_no_trace() {
    let live = field();
    let at = live.at(&State::default()).unwrap();
    assert_eq!(at.fly_on(80, 80, &AtomicBool::new(true)), 0);
    assert_eq!(at.standing().links_lost, 0);
    assert_eq!(at.fly_on(FIRST, 80, &AtomicBool::new(false)), FIRST);
    let early = at.standing();
    assert!(!early.done && early.answer.is_none() && early.links_lost > 0);
    assert_eq!(at.fly_on(80, 80, &AtomicBool::new(true)), FIRST);
    assert_eq!(at.standing(), early);
}
