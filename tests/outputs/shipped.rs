//! Figures and pages of every shipped scenario, as the program makes them: nothing cut, nothing overlapping, everything
//! explained, light and dark. Pages are written below `target/tmp/pages`, where the browser test opens them.

use crate::common::figure::{check, looks};
use lostlink::cli::Folder;
use lostlink::flight::FlightOutcome;
use lostlink::report::{assess as report, page, plot};
use lostlink::risk::assess::{Ask, assess};
use lostlink::risk::sweep::sweep;
use lostlink::world::World;
use std::path::{Path, PathBuf};

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

fn figures_and_page(name: &str) {
    let world = world(name);
    let ask = Ask {
        scenario_name: name.into(),
        command: format!("lostlink assess scenarios/{name}.toml --flights {FLIGHTS}"),
        flights: 0..FLIGHTS,
        flights_rule: "fixed beforehand".into(),
        quick: false,
    };
    let mut sink = |_: &FlightOutcome| Ok::<(), std::convert::Infallible>(());
    let summary = assess(&world, &ask, &|_: u64| {}, &mut sink).unwrap();
    for (look_name, look) in looks() {
        for figure in plot::all(&summary, look) {
            check(name, look_name, &figure);
        }
    }
    let mut bytes = Vec::new();
    page::write(&report::document(&summary), &report::gallery(&summary), &mut bytes).unwrap();
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
