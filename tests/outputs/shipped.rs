//! Figures and pages of every shipped scenario, as the program makes them: nothing cut, nothing overlapping, everything
//! explained, light and dark. Pages are written below `target/tmp/pages`, where the browser test opens them.

use crate::common::figure::{check, looks};
use lostlink::cli::Folder;
use lostlink::flight::FlightOutcome;
use lostlink::report::gallery::Gallery;
use lostlink::report::{assess as report, page, plot};
use lostlink::risk::assess::{Ask, assess};
use lostlink::risk::follow::Follow;
use lostlink::risk::summary::Summary;
use lostlink::risk::sweep::sweep;
use lostlink::world::World;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

const FLIGHTS: u32 = 60;

fn world(name: &str) -> World {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("scenarios");
    let text = std::fs::read_to_string(folder.join(format!("{name}.toml"))).unwrap();
    World::new(lostlink::scenario::read(name, &text, &Folder(folder)).expect("reads well")).expect("builds")
}

fn keep(name: &str, page: &[u8]) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("pages");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(name), page).unwrap();
}

fn assessed(name: &str, quick: bool, follow: &dyn Follow) -> Summary {
    let ask = Ask {
        scenario_name: name.into(),
        command: format!("lostlink assess scenarios/{name}.toml --flights {FLIGHTS}"),
        flights: 0..FLIGHTS,
        flights_rule: "fixed beforehand".into(),
        quick,
    };
    let mut sink = |_: &FlightOutcome| Ok::<(), std::convert::Infallible>(());
    assess(&world(name), &ask, follow, &mut sink).unwrap()
}

/// Draws the figures of the main run when told of it.
#[derive(Default)]
struct DrawsMain(Mutex<Gallery>);

impl Follow for DrawsMain {
    fn flown(&self, _done: u64) {}

    fn main_run(&self, summary: &Summary) {
        *self.0.lock().unwrap() = report::main_gallery(summary);
    }
}

/// Waits, when told of the main run, until flights of a side run are done. A lone thread cannot do both.
#[derive(Default)]
struct WaitsForSideRuns {
    told: AtomicU64,
    done: AtomicU64,
}

impl Follow for WaitsForSideRuns {
    fn flown(&self, done: u64) {
        self.done.store(done, Ordering::SeqCst);
    }

    fn main_run(&self, _summary: &Summary) {
        self.told.fetch_add(1, Ordering::SeqCst);
        let since = Instant::now();
        while rayon::current_num_threads() > 1 && self.done.load(Ordering::SeqCst) <= u64::from(FLIGHTS) {
            assert!(since.elapsed() < Duration::from_secs(60), "no side run flies beside this");
            std::thread::yield_now();
        }
    }
}

/// The main run is told once, while side runs fly, and not where none do.
#[test]
fn side_runs_fly_while_the_main_run_is_told() {
    for (quick, times) in [(false, 1), (true, 0)] {
        let follow = WaitsForSideRuns::default();
        assessed("club-field", quick, &follow);
        assert_eq!(follow.told.into_inner(), times, "quick: {quick}");
    }
}

fn figures_and_page(name: &str) {
    let drawn = DrawsMain::default();
    let summary = assessed(name, false, &drawn);
    // Nothing in a figure drawn beside the side runs waits for what they say.
    let gallery = drawn.0.into_inner().unwrap().and(report::side_gallery(&summary));
    assert!(gallery == report::gallery(&summary), "{name}: drawn too early, a figure differs");
    for (look_name, look) in looks() {
        for figure in plot::all(&summary, look) {
            check(name, look_name, &figure);
        }
    }
    let mut bytes = Vec::new();
    page::write(&report::document(&summary), &gallery, &mut bytes).unwrap();
    keep(&format!("shipped-{name}.html"), &bytes);
}

#[test]
fn club_field() {
    figures_and_page("club-field");
}

#[test]
fn ridge_valley() {
    figures_and_page("ridge-valley");
}

#[test]
fn lake_shore() {
    figures_and_page("lake-shore");
}

#[test]
fn quarry() {
    figures_and_page("quarry");
}

#[test]
fn open_air_stage() {
    figures_and_page("open-air-stage");
}

#[test]
fn wrong_heading() {
    figures_and_page("wrong-heading");
}

#[test]
fn heights_of_the_valley_and_the_lake() {
    for name in ["ridge-valley", "lake-shore"] {
        let world = world(name);
        let policy = world.scenario.policies.iter().find(|policy| policy.returns()).unwrap().clone();
        let heights_m: Vec<f64> = (0..8).map(|k| 10.0 + 15.0 * f64::from(k)).collect();
        let found = sweep(&world, &policy, &heights_m, &[], FLIGHTS, &|_| {}).unwrap();
        for (look_name, look) in looks() {
            for figure in plot::of_heights(&found, look) {
                check(name, look_name, &figure);
            }
        }
    }
}
