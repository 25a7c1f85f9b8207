//! Laws over random valid scenarios: keys of the whole list at random values, random policies, sites and losses.
//!
//! `LOSTLINK_CASES` sets how many are tried, `LOSTLINK_CASES_SEED` which ones; a failing one is told as text.

use crate::bench::outcomes;
use lostlink::craft::battery::cell_open_circuit_v;
use lostlink::flight::{Ending, Event, FlightOutcome, Trace, record};
use lostlink::scenario::{self, KeyDoc, Kind, Limits, NoFiles, Scenario};
use lostlink::{Options, World, assess};
use proptest::prelude::*;
use proptest::test_runner::{RngSeed, TestCaseError, TestRunner};
use std::cell::Cell;
use toml::{Table, Value};

/// What every random scenario starts from: small, so that many can be flown, with one of everything that may be repeated.
const BASE: &str = r#"
title = "random"
[site]
extent_m = [-250, -250, 250, 250]
cell_m = 10
zone = [{ kind = "people", circle_m = [90, 60, 25], people = 4 }]
obstacle = [{ kind = "trees", circle_m = [-60, 40, 15], height_m = 12 }]
[craft]
mass_kg = 1
[radio]
interferer = [{}]
[path]
waypoints_m = [[0, 0, 30]]
"#;

/// Keys that are the frame of the trial, or name files, or set the size of the work.
const LEFT_OUT: [&str; 12] = [
    "title",
    "about",
    "invented",
    "seed",
    "flights",
    "step_s",
    "delivered",
    "condition",
    "policy",
    "loss",
    "site.extent_m",
    "site.cell_m",
];

/// A key and where in its range the new value lies.
#[derive(Debug, Clone)]
struct Edit {
    key: prop::sample::Index,
    how: u8,
    share: f64,
}

/// A random scenario before it is text.
#[derive(Debug, Clone)]
struct Draft {
    seed: u32,
    waypoints_m: Vec<[i32; 3]>,
    edits: Vec<Edit>,
    policies: Vec<Vec<(u8, f64)>>,
    cut: Option<f64>,
}

fn drafts() -> impl Strategy<Value = Draft> {
    let edit =
        (any::<prop::sample::Index>(), 0u8..10, 0.0f64..1.0).prop_map(|(key, how, share)| Edit { key, how, share });
    let place = (-200i32..200, -200i32..200, 15i32..100).prop_map(|(x, y, up)| [x, y, up]);
    let policy = prop::collection::vec((0u8..10, 0.0f64..1.0), 1..4);
    (
        any::<u32>(),
        prop::collection::vec(place, 1..4),
        prop::collection::vec(edit, 0..14),
        prop::collection::vec(policy, 1..4),
        prop::option::of(0.0f64..1.0),
    )
        .prop_map(|(seed, waypoints_m, edits, policies, cut)| Draft { seed, waypoints_m, edits, policies, cut })
}

/// Keys that an edit may change.
fn keys() -> Vec<KeyDoc> {
    let sets = |kind: &Kind| {
        !matches!(
            kind,
            Kind::File
                | Kind::Points { .. }
                | Kind::Tables(_)
                | Kind::Pairs
                | Kind::Texts
                | Kind::List(_)
                | Kind::Text { .. }
        )
    };
    let left_out = |key: &str| {
        LEFT_OUT
            .iter()
            .any(|out| key.strip_prefix(out).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '['])))
    };
    scenario::key_list().into_iter().filter(|doc| sets(&doc.kind) && !left_out(&doc.key)).collect()
}

fn number(limits: &Limits, default: f64, edit: &Edit) -> f64 {
    let within = |x: f64| x.clamp(limits.low, limits.high);
    match edit.how {
        // Near what is usual, where there is such a thing.
        0..=6 if default.is_finite() && default != 0.0 => within(default * (2.0 * edit.share - 1.0).exp2()),
        7 => limits.high,
        8 => limits.low,
        _ => limits.low + edit.share * (limits.high - limits.low),
    }
}

/// The new value of a key; `None` where this edit says nothing of it.
fn value(doc: &KeyDoc, edit: &Edit) -> Option<Value> {
    let default = doc.default.parse().unwrap_or(f64::NAN);
    let word = |words: &[&'static str]| Value::from(words[(edit.share * words.len() as f64) as usize % words.len()]);
    Some(match &doc.kind {
        Kind::Number(limits) => number(limits, default, edit).into(),
        Kind::Uncertain(limits) => {
            let middle = number(limits, default, edit);
            let spread = 0.1 * middle.abs().max(0.1);
            match edit.how {
                0 => format!("x = {{ normal = [{middle:?}, {spread:?}] }}").parse::<Table>().ok()?["x"].clone(),
                1 => format!(
                    "x = {{ choice = [[{middle:?}, 2], [{:?}, 1]] }}",
                    limits.low.max(0.5 * middle).min(limits.high)
                )
                .parse::<Table>()
                .ok()?["x"]
                    .clone(),
                _ => middle.into(),
            }
        }
        Kind::Whole(low, high) => {
            let limits = Limits { low: *low as f64, high: *high as f64, above_low: false };
            Value::Integer(number(&limits, default, edit).round() as i64)
        }
        Kind::Numbers(count, limits) => {
            let list: Vec<f64> =
                doc.default.trim_matches(['[', ']']).split(',').filter_map(|part| part.trim().parse().ok()).collect();
            if list.len() != *count {
                return None;
            }
            Value::Array(list.iter().map(|usual| number(limits, *usual, edit).into()).collect())
        }
        Kind::Flag | Kind::Table => Value::Boolean(edit.share < 0.5),
        Kind::Word(words) | Kind::Chances(words) => word(words),
        Kind::Words(words) => Value::Array(vec![word(words)]),
        Kind::Utc => {
            let text = format!(
                "x = {:04}-{:02}-{:02}T{:02}:30:00Z",
                2020 + u32::from(edit.how),
                1 + edit.how,
                1 + (27.0 * edit.share) as u8,
                (23.0 * edit.share) as u8
            );
            text.parse::<Table>().ok()?["x"].clone()
        }
        _ => return None,
    })
}

/// Sets a key; of a list its first table. A table that says `false` is made one.
fn put(table: &mut Table, path: &str, new: Value) {
    let (first, rest) = path.split_once('.').map_or((path, None), |(first, rest)| (first, Some(rest)));
    let (name, listed) = first.strip_suffix("[]").map_or((first, false), |name| (name, true));
    let Some(rest) = rest else {
        table.insert(name.into(), new);
        return;
    };
    let inner = table.entry(name).or_insert_with(|| Value::Table(Table::new()));
    let inner = match inner {
        Value::Array(list) if listed => &mut list[0],
        inner => inner,
    };
    if !inner.is_table() {
        *inner = Value::Table(Table::new());
    }
    if let Value::Table(inner) = inner {
        put(inner, rest, new);
    }
}

/// One action in TOML; the last of a chain brings the craft down.
fn action(kind: u8, share: f64, last: bool) -> String {
    let up_m = (15.0 + 90.0 * share).round();
    let otherwise = ["land", "drop", "next"][if last { (2.0 * share) as usize } else { 2 }];
    let home = |height: String, more: &str| {
        format!("{{ return = {{ height = {{ {height} }}, otherwise = \"{otherwise}\"{more} }} }}")
    };
    match (kind, last) {
        (0, true) => "{ drop = {} }".into(),
        (1, true) => "{ carry_on = {} }".into(),
        (2, true) => format!("{{ land = {{ sink_mps = {:.1} }} }}", 0.3 + 4.0 * share),
        (0 | 1, false) => format!("{{ hold = {{ for_s = {:.1} }} }}", 0.2 + 20.0 * share),
        (2, false) => format!("{{ carry_on = {{ for_s = {:.1} }} }}", 0.2 + 20.0 * share),
        (3, _) => home("from = \"here\"".into(), ", climbs = \"on_the_way\""),
        (4, _) => home(format!("from = \"path\", up_m = {:.0}", 20.0 * share), ""),
        (5, _) => home(format!("from = \"ground\", up_m = {up_m}"), ""),
        (6, _) => home(format!("up_m = {up_m}, may_sink = true"), ", speed_mps = 9"),
        (7, _) => home(format!("up_m = {up_m}"), ", climbs = \"on_the_way\", level_within_m = 40"),
        (8, _) => {
            let guards = "guard = { fix = {}, progress = {}, battery = {}, duration = { at_most_s = 60 }, fence = {} }";
            format!("{{ return = {{ height = {{ up_m = {up_m} }}, otherwise = \"{otherwise}\" }}, {guards} }}")
        }
        _ => home(format!("up_m = {up_m}"), ""),
    }
}

fn text(draft: &Draft, keys: &[KeyDoc]) -> String {
    let mut table: Table = BASE.parse().expect("TOML");
    table.insert("seed".into(), Value::Integer(draft.seed.into()));
    let points =
        draft.waypoints_m.iter().map(|point| Value::Array(point.iter().map(|part| i64::from(*part).into()).collect()));
    put(&mut table, "path.waypoints_m", Value::Array(points.collect()));
    for edit in &draft.edits {
        let doc = edit.key.get(keys);
        if let Some(new) = value(doc, edit) {
            put(&mut table, &doc.key, new);
        }
    }
    if let Some(share) = draft.cut {
        put(&mut table, "loss.cut.path_share", share.into());
    }
    let mut text = toml::to_string(&table).expect("TOML");
    for (index, chain) in draft.policies.iter().enumerate() {
        let actions: Vec<String> =
            chain.iter().enumerate().map(|(k, (kind, share))| action(*kind, *share, k + 1 == chain.len())).collect();
        text += &format!("\n[[policy]]\nname = \"p{index}\"\naction = [{}]\n", actions.join(", "));
    }
    text
}

/// How many of the scenarios tried were valid, and what else came of them.
#[derive(Default)]
struct Count {
    tried: Cell<u32>,
    read: Cell<u32>,
    flown: Cell<u32>,
    lost: Cell<u32>,
}

fn more(count: &Cell<u32>) {
    count.set(count.get() + 1);
}

/// Holds a law to random scenarios, of which a third or more can be flown.
fn hold(name: &str, cases: u32, law: impl Fn(&Scenario, &Count) -> Result<(), String>) {
    let of_env = |name: &str| std::env::var(name).ok().and_then(|text| text.parse().ok());
    let seed = of_env("LOSTLINK_CASES_SEED").unwrap_or(20_260_516);
    let config = ProptestConfig {
        cases: of_env("LOSTLINK_CASES").map_or(cases, |cases| cases as u32),
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(seed),
        max_shrink_iters: 200,
        ..ProptestConfig::default()
    };
    let (keys, count) = (keys(), Count::default());
    let outcome = TestRunner::new(config).run(&drafts(), |draft| {
        let text = text(&draft, &keys);
        more(&count.tried);
        // What does not go together is refused: no law is about it, but that it is refused.
        let Ok(scenario) = scenario::read("random.toml", &text, &NoFiles) else { return Ok(()) };
        more(&count.read);
        let held = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| law(&scenario, &count)));
        let held = held.unwrap_or_else(|_| Err("a panic".into()));
        held.map_err(|why| TestCaseError::fail(format!("{why}\n{text}")))
    });
    let Count { tried, read, flown, lost } = &count;
    println!("{name}: {} tried, {} valid, {} flown, {} links lost", tried.get(), read.get(), flown.get(), lost.get());
    if let Err(error) = outcome {
        panic!("{name}: {error}");
    }
    assert!(
        3 * flown.get() >= tried.get(),
        "{name}: too few of the scenarios can be flown for the law to be held to anything"
    );
}

fn finite(what: &str, numbers: &[f64]) -> Result<(), String> {
    numbers.iter().all(|number| number.is_finite()).then_some(()).ok_or_else(|| format!("{what}: {numbers:?}"))
}

fn check(holds: bool, why: impl FnOnce() -> String) -> Result<(), String> {
    if holds { Ok(()) } else { Err(why()) }
}

fn check_ending(ending: &Ending) -> Result<(), String> {
    let three = |place: [f32; 3]| place.map(f64::from);
    finite("place of the end", &three(ending.end_m))?;
    finite("place of the loss", &three(ending.loss_m))?;
    let numbers = [
        ending.energy_below_j,
        ending.loss_time_s,
        ending.time_to_end_s,
        ending.distance_home_m,
        ending.greatest_distance_m,
        ending.greatest_height_m,
        ending.over_people_s,
        ending.people_per_km2,
        ending.impact_speed_mps,
        ending.impact_angle_deg,
        ending.impact_energy_j,
        ending.pack_left_pct,
        ending.without_fix_s,
        ending.vortex_ring_s,
        ending.telemetry_only_s,
        ending.control_only_s,
    ];
    finite("an ending", &numbers.map(f64::from))?;
    check(ending.time_to_end_s >= 0.0 && (0.0..=100.0).contains(&ending.pack_left_pct), || format!("{ending:?}"))?;
    check(ending.declared_lost >= 1, || format!("an ending without a loss: {ending:?}"))?;
    check(!ending.flags.has(lostlink::flight::Flags::FAULT), || format!("a numerical fault: {ending:?}"))
}

/// A flight ends once: on the ground before it took off, without a loss, or once under every policy.
fn check_outcome(outcome: &FlightOutcome, policies: usize) -> Result<(), String> {
    let told = || format!("{outcome:?}");
    match (&outcome.loss, &outcome.without_loss, outcome.not_taken_off) {
        (Some(_), None, false) => check(outcome.endings.len() == policies, told)?,
        (None, Some(_), false) | (None, None, true) => check(outcome.endings.is_empty(), told)?,
        _ => return Err(told()),
    }
    outcome.endings.iter().try_for_each(check_ending)
}

/// What the cells give is what arrives at the terminals and what their resistance turns into heat: voltage lost over current is the same all
/// flight long, whatever is drawn. Current is told by the charge that goes, up to the capacity, which is the flight's own.
fn check_pack(trace: &Trace, scenario: &Scenario) -> Result<(), String> {
    let mut first: Option<f64> = None;
    // The last row is the one before it, at the touch: its voltage is that of the step before.
    let steps = &trace.rows[..trace.rows.len().saturating_sub(1)];
    for pair in steps.windows(2) {
        let (before, now) = (&pair[0], &pair[1]);
        let took = before.charge_pct - now.charge_pct;
        let one_step = (now.time_s - before.time_s - scenario.step_s).abs() < 1e-9;
        // An empty pack gives nothing more.
        if !one_step || now.charge_pct <= 0.0 || took < 1e-6 {
            continue;
        }
        let lost_v = cell_open_circuit_v(0.01 * before.charge_pct) - now.cell_v;
        let ratio = lost_v / took;
        let told = *first.get_or_insert(ratio);
        // The least charge that goes in a step, 1e-6 %, is known to 1e-14.
        let same = (ratio - told).abs() <= 1e-6 * told.abs() + 1e-9;
        check(same, || {
            format!("flight {} at {} s: {ratio} V per % of a step, {told} at first", trace.flight, now.time_s)
        })?;
    }
    Ok(())
}

/// Time runs forward, everything that must be a number is one, one end is told, and the pack gives what the craft takes.
fn check_trace(trace: &Trace, scenario: &Scenario) -> Result<(), String> {
    let at = |time_s: f64| format!("flight {} under {} at {time_s} s", trace.flight, trace.policy);
    let mut before: Option<&lostlink::flight::TraceRow> = None;
    for row in &trace.rows {
        let place = row.place_m;
        let numbers = [
            row.time_s,
            place[0],
            place[1],
            place[2],
            row.height_m,
            row.surface_m,
            row.speed_mps,
            row.quality_pct,
            row.margin_db,
            row.charge_pct,
            row.cell_v,
            row.wind_mps,
            row.wind_to_mps[0],
            row.wind_to_mps[1],
            row.climb_mps,
            row.believed_height_m,
            row.heading_error_deg,
        ];
        finite(&at(row.time_s), &numbers)?;
        check((0.0..=100.0).contains(&row.charge_pct), || {
            format!("{}: a charge of {} %", at(row.time_s), row.charge_pct)
        })?;
        if let Some(before) = before {
            check(row.time_s > before.time_s, || format!("{}: after {} s", at(row.time_s), before.time_s))?;
            check(row.charge_pct <= before.charge_pct, || format!("{}: the charge rises", at(row.time_s)))?;
            // No faster than the wind and its own limits carry it, so no jump either; the touch is placed on the ground, to a centimetre.
            let moved_m = (0..3).map(|axis| (place[axis] - before.place_m[axis]).powi(2)).sum::<f64>().sqrt();
            println!("MEASURE {}", (moved_m - 0.01) / (row.time_s - before.time_s));
            check(moved_m <= 150.0 * (row.time_s - before.time_s) + 0.01, || {
                format!("{}: a jump of {moved_m} m", at(row.time_s))
            })?;
        }
        before = Some(row);
    }
    check_pack(trace, scenario)?;
    check(trace.events.windows(2).all(|pair| pair[0].time_s <= pair[1].time_s), || {
        format!("events out of order: {:?}", trace.events)
    })?;
    // Without a loss the headline alone tells the end.
    let ends = trace.events.iter().filter(|event| matches!(event.event, Event::End(_))).count();
    check(ends == usize::from(trace.loss.is_some()), || format!("{ends} ends: {:?}", trace.events))?;
    check(trace.loss.is_some() == trace.ending.is_some() && !trace.headline.is_empty(), || format!("{:?}", trace.loss))
}

#[test]
fn every_flight_of_a_random_scenario_ends_once_and_in_numbers() {
    hold("ends", 24, |scenario, count| {
        let Ok(world) = World::new(scenario.clone()) else { return Ok(()) };
        more(&count.flown);
        for outcome in outcomes(&world, 4) {
            check_outcome(&outcome, scenario.policies.len())?;
            outcome.loss.is_some().then(|| more(&count.lost));
        }
        for (flight, policy) in scenario.policies.iter().enumerate() {
            check_trace(
                &record(&world, flight as u32, policy, scenario.step_s),
                &world.of_flight(flight as u32).scenario,
            )?;
        }
        Ok(())
    });
}

#[test]
fn a_random_scenario_is_assessed_alike_on_any_number_of_threads() {
    let pools = [1, 2, 7].map(|threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads"));
    hold("threads", 6, |scenario, count| {
        let scenario = scenario.clone().with_flights(7);
        let mut first: Option<Result<String, String>> = None;
        for pool in &pools {
            let told = match pool.install(|| assess(&scenario, &Options::quick())) {
                Ok(summary) => Ok(serde_json::to_string(&summary).expect("JSON")),
                Err(error) => Err(error.to_string()),
            };
            check(first.get_or_insert_with(|| told.clone()) == &told, || {
                "other bytes on other numbers of threads".into()
            })?;
        }
        // An error is as well the same for all, but nothing has flown.
        first.is_some_and(|told| told.is_ok()).then(|| more(&count.flown));
        Ok(())
    });
}
