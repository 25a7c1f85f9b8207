//! Time of the whole powered step with everything on: wind, link, fix, control, battery, contact, counts.
//! Run with `cargo bench --bench flight_step`; the column of items tells steps per second and, beside it, ns per step is
//! printed once.

use divan::Bencher;
use divan::counter::ItemsCount;
use lostlink::cli::Folder;
use lostlink::flight::{Luck, TrunkEnd, Unwatched, Workshop, fly, fly_branch, fly_trunk};
use lostlink::world::World;
use std::path::Path;
use std::sync::LazyLock;
use std::time::Instant;

static VALLEY: LazyLock<World> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let text = std::fs::read_to_string(folder.join("ridge-valley.toml")).expect("shipped");
    World::new(lostlink::scenario::read("ridge-valley.toml", &text, &Folder(folder)).expect("reads well"))
        .expect("builds")
});

fn main() {
    let luck = Luck::new(&VALLEY, &mut Workshop::default(), 1);
    let (mut best_ns, mut steps) = (f64::INFINITY, 0);
    for _ in 0..40 {
        let start = Instant::now();
        let end = fly_trunk(&VALLEY, &luck, &mut Unwatched);
        let spent = start.elapsed().as_nanos() as f64;
        steps = match end {
            TrunkEnd::Lost(state, _) => state.step,
            _ => continue,
        };
        best_ns = best_ns.min(spent / f64::from(steps));
    }
    println!("trunk of {steps} steps: {best_ns:.0} ns per step (best of 40)");
    if let TrunkEnd::Lost(state, moment) = fly_trunk(&VALLEY, &luck, &mut Unwatched) {
        for policy in &VALLEY.scenario.policies {
            let (mut best_ns, mut steps) = (f64::INFINITY, 0.0);
            for _ in 0..40 {
                let start = Instant::now();
                let ending = fly_branch(&VALLEY, &luck, &state, &moment, policy, &mut Unwatched);
                let spent = start.elapsed().as_nanos() as f64;
                steps = f64::from(ending.time_to_end_s) / VALLEY.scenario.step_s;
                best_ns = best_ns.min(spent / steps);
            }
            println!("branch '{}' of {steps:.0} steps: {best_ns:.0} ns per step (best of 40)", policy.name);
        }
    }
    divan::main();
}

/// One flight of the valley under its four policies, its luck drawn anew.
#[divan::bench]
fn whole_flight(bencher: Bencher) {
    let mut workshop = Workshop::default();
    let mut flight = 0;
    bencher.counter(ItemsCount::new(1u32)).bench_local(|| {
        flight += 1;
        fly(&VALLEY, &mut workshop, flight)
    });
}

/// Drawing one flight's luck: inputs and the shadowing tile.
#[divan::bench]
fn luck_of_a_flight(bencher: Bencher) {
    let mut workshop = Workshop::default();
    bencher.bench_local(|| {
        let luck = Luck::new(&VALLEY, &mut workshop, 3);
        luck.retire(&mut workshop);
    });
}
