//! Many threads: what the flights cost with them.

use crate::typed::both;
use std::path::Path;

/// Processor seconds that the flights of a run took on so many threads, as the program tells them.
fn flown_cpu_s(folder: &Path, scenario: &str, threads: &str) -> f64 {
    let words = ["--threads", threads, "assess", scenario, "--flights", "120", "--quick", "--timing", "--out", "out"];
    let told = both(folder, &words).1;
    let row = told.lines().find(|line| line.starts_with("flights ")).expect("the stage of the flights");
    let cpu_s = row.split_whitespace().nth(2).expect("processor seconds behind the wall's");
    cpu_s.parse().expect("a number")
}

/// However many threads fly, a flight costs what it does with two: none redoes what another has done, and none waits busily for its
/// turn. Processor time, because a machine with fewer cores lets them take turns; the least of up to three runs, because others use it too.
#[test]
fn a_flight_costs_the_same_on_64_threads_as_on_two() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let scenario = concat!(env!("LOSTLINK_ROOT"), "scenarios/club-field.toml");
    let (mut two, mut many) = (f64::INFINITY, f64::INFINITY);
    for _ in 0..3 {
        two = two.min(flown_cpu_s(folder.path(), scenario, "2"));
        many = many.min(flown_cpu_s(folder.path(), scenario, "64"));
        if many <= 1.3 * two {
            return;
        }
    }
    panic!("{many} s of processor time on 64 threads, {two} s on two");
}
