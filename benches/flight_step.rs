//! Time of the whole powered step with everything on: wind, link, fix, control, battery, contact, counts.
//! Run with `cargo bench --bench flight_step`; the column of items tells steps per second and, beside it, ns per step is
//! printed once.

use cpu_time::ThreadTime;
use divan::Bencher;
use divan::counter::ItemsCount;
use lostlink::Scenario;
use lostlink::flight::{Luck, StepCount, TrunkEnd, Unwatched, Workshop, fly, fly_branch, fly_in_parts, fly_trunk};
use lostlink::world::World;
use std::path::Path;
use std::sync::LazyLock;
use std::time::Instant;

static VALLEY: LazyLock<World> = LazyLock::new(|| world("ridge-valley"));

fn world(name: &str) -> World {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("scenarios/{name}.toml"));
    World::new(Scenario::from_file(file).expect("a shipped scenario")).expect("it can be flown")
}

/// Processor time of a simulated second over many different flights, luck included: a single flight flown again and again would
/// find its data in the caches and its branches foretold.
fn simulated_second(name: &str) {
    const FLIGHTS: u32 = 256;
    let world = world(name);
    let mut workshop = Workshop::default();
    let mut steps = StepCount::default();
    // The first flights work out what is shared and worked out when first asked for.
    for flight in 0..FLIGHTS {
        fly(&world, &mut workshop, flight);
    }
    let start = ThreadTime::now();
    for flight in 0..FLIGHTS {
        fly_in_parts(&world, &mut workshop, flight, &mut steps, &mut |_, _| {});
    }
    let spent_ns = start.elapsed().as_nanos() as f64;
    let simulated_s = steps.0 as f64 * world.scenario.step_s;
    println!(
        "{name}: {FLIGHTS} flights of {simulated_s:.0} s in all: {:.0} ns of processor time per simulated second, {:.0} per step",
        spent_ns / simulated_s,
        spent_ns / steps.0 as f64
    );
}

fn main() {
    simulated_second("ridge-valley");
    simulated_second("club-field");
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
