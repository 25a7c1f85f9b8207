//! What moving a slider of the live page costs: the world of the new state, the first numbers, the flight shown.
//!
//! Every value is a new one, so that no state is met twice.

use divan::Bencher;
use lostlink::live::{At, FIRST, Live, STAGE_FLIGHTS};
use lostlink::scenario::Folder;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

const SCENARIOS: [&str; 2] = ["club-field", "ridge-valley"];
const KEYS: [&str; 8] =
    ["cut_m", "height_m", "patience_s", "wind_mps", "wind_from_deg", "constellations", "pack_pct", "hour_utc"];

fn live(name: &str) -> Live {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let text = std::fs::read_to_string(folder.join(format!("{name}.toml"))).expect("a shipped scenario");
    Live::open(name, &text, &Folder(folder)).expect("it can be flown")
}

static COUNT: AtomicU32 = AtomicU32::new(0);

/// The next state with one control moved.
fn moved(live: &Live, key: &str) -> Arc<At> {
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    let number = 5.0 + 0.001 * f64::from(count);
    let value = match key {
        "constellations" => [
            "gps30",
            "galileo",
            "glonass",
            "beidou",
            "gps30,glonass",
            "gps30,beidou",
            "galileo,glonass",
            "galileo,beidou",
            "glonass,beidou",
        ][count as usize % 9]
            .to_string(),
        "patience_s" => format!("{}", 0.1 * number),
        "pack_pct" => format!("{}", 10.0 * number),
        _ => format!("{number}"),
    };
    let state = live.state([(key, value.as_str())]).expect("a state");
    live.at(&state).expect("it can be flown")
}

/// The text edited, read again, and its world.
#[divan::bench(consts = [0, 1], args = KEYS, sample_count = 7)]
fn world<const SCENARIO: usize>(bencher: Bencher, key: &str) {
    let live = live(SCENARIOS[SCENARIO]);
    bencher.bench_local(|| moved(&live, key));
}

/// From a control moved to the first numbers: the text edited, read again, its world, its first flights.
#[divan::bench(consts = [0, 1], args = KEYS, sample_count = 15)]
fn first_numbers<const SCENARIO: usize>(bencher: Bencher, key: &str) {
    let live = live(SCENARIOS[SCENARIO]);
    let never = AtomicBool::new(false);
    bencher.bench_local(|| {
        let at = moved(&live, key);
        at.fly_on(FIRST, STAGE_FLIGHTS, &never);
        at.standing()
    });
}

/// Flights of the first numbers, and the numbers.
#[divan::bench(args = SCENARIOS, sample_count = 7)]
fn first_flights(bencher: Bencher, name: &str) {
    let live = live(name);
    let never = AtomicBool::new(false);
    bencher.with_inputs(|| moved(&live, "wind_mps")).bench_local_values(|at| {
        at.fly_on(FIRST, STAGE_FLIGHTS, &never);
        at.standing()
    });
}

/// One flight told, its number given.
#[divan::bench(args = SCENARIOS, sample_count = 7)]
fn told(bencher: Bencher, name: &str) {
    let live = live(name);
    bencher.with_inputs(|| moved(&live, "wind_mps")).bench_local_values(|at| at.told(Some(3)));
}

/// The text of a state, checked.
#[divan::bench(args = SCENARIOS, sample_count = 7)]
fn text(bencher: Bencher, name: &str) {
    let live = live(name);
    let state = live.state([("wind_mps", "5")]).expect("a state");
    bencher.bench_local(|| live.text(&state));
}

fn main() {
    divan::main();
}
