//! Every parser that is fuzzed (fuzz/), without a fuzzer: on its seeds, on what once broke something, and on some thousand mutations, the
//! same ones in every run.

use super::mutated::PIECES;
use super::targets::{TARGETS, Target};
use cpu_time::ThreadTime;
use std::path::Path;
use std::time::Duration;

/// What takes more of the processor's time than this is a hang: a hundred times the slowest valid input.
const HANGS: Duration = Duration::from_secs(10);

fn target(name: &str) -> &'static Target {
    TARGETS.iter().find(|target| target.name == name).expect("a row of TARGETS")
}

fn runs(target: &Target, bytes: &[u8]) {
    let start = ThreadTime::now();
    let done = std::panic::catch_unwind(|| (target.run)(bytes));
    let shown = String::from_utf8_lossy(bytes);
    assert!(done.is_ok(), "{} panics at {shown:?}", target.name);
    assert!(start.elapsed() < HANGS, "{} hangs at {shown:?}", target.name);
}

/// Whole numbers, the same in every run.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % end.max(1)
    }
}

/// A few edits: bytes cut out, replaced, doubled, taken from another seed, a bit turned.
fn mutate(bytes: &mut Vec<u8>, other: &[u8], numbers: &mut Numbers) {
    for _ in 0..=numbers.below(4) {
        let at = numbers.below(bytes.len() + 1);
        let end = (at + numbers.below(24)).min(bytes.len());
        match numbers.below(6) {
            0 => drop(bytes.drain(at..end)),
            1 => drop(bytes.splice(at..end, PIECES[numbers.below(PIECES.len())].bytes())),
            2 => {
                let doubled = bytes[at..end].to_vec();
                drop(bytes.splice(at..at, doubled));
            }
            3 => {
                let from = numbers.below(other.len());
                let piece = &other[from..(from + numbers.below(60)).min(other.len())];
                drop(bytes.splice(at..end, piece.iter().copied()));
            }
            4 if at < bytes.len() => bytes[at] ^= 1 << numbers.below(8),
            _ => bytes.truncate(at.max(bytes.len() / 2)),
        }
    }
}

/// Seeds, what broke something once, mutations of them.
fn short_run(name: &str, mutations: usize) {
    let target = target(name);
    let mut inputs = (target.seeds)();
    if let Some(corpus) = std::env::var_os("LOSTLINK_FUZZ_CORPUS") {
        let folder = Path::new(&corpus).join(name);
        std::fs::create_dir_all(&folder).expect("a folder");
        for (index, bytes) in inputs.iter().enumerate() {
            std::fs::write(folder.join(format!("seed-{index}")), bytes).expect("written");
        }
    }
    let broken = Path::new(env!("LOSTLINK_ROOT")).join("tests/data/fuzz").join(name);
    let mut found: Vec<_> = std::fs::read_dir(broken).into_iter().flatten().flatten().map(|file| file.path()).collect();
    found.sort();
    inputs.extend(found.iter().map(|path| std::fs::read(path).expect("readable")));
    assert!(!inputs.is_empty(), "{name} has no seed");
    inputs.iter().for_each(|bytes| runs(target, bytes));
    // The shortest seeds say most in the least time. Half of the mutations are of one that is whole.
    let whole = inputs.iter().take(2).min_by_key(|bytes| bytes.len()).cloned().expect("a seed");
    inputs.sort_by_key(Vec::len);
    let most = inputs.len().min(6);
    let mut numbers = Numbers(name.bytes().map(u64::from).sum());
    for _ in 0..mutations {
        let mut bytes = if numbers.below(2) == 0 { whole.clone() } else { inputs[numbers.below(most)].clone() };
        mutate(&mut bytes, &inputs[numbers.below(inputs.len())], &mut numbers);
        runs(target, &bytes);
    }
}

macro_rules! short_runs {
    ($($name:ident: $mutations:literal),* $(,)?) => {
        $(
            #[test]
            fn $name() {
                short_run(stringify!($name), $mutations);
            }
        )*

        #[test]
        fn every_target_is_run() {
            let names: Vec<&str> = TARGETS.iter().map(|target| target.name).collect();
            assert_eq!(names, [$(stringify!($name)),*]);
            let programs = include_str!("../../fuzz/Cargo.toml");
            for name in names {
                assert!(programs.contains(&format!("name = \"{name}\"\n")), "no [[bin]] of the name {name}");
            }
        }
    };
}

// How many mutations fit into half a second or less.
short_runs! {
    scenario: 150,
    scenario_files: 300,
    ground_geojson: 500,
    path_geojson: 500,
    path_gpx: 500,
    features_geojson: 2000,
    features_gpx: 2000,
    features_kml: 2000,
    map_export: 300,
    ground_kml: 200,
    ground_map: 60,
    winds: 200,
    grid_ascii: 5000,
    raster_geotiff: 100,
    raster_hgt: 5,
    almanac_yuma: 5000,
    navigation_rinex: 3000,
    lesson: 40,
    summary: 300,
    state: 300,
    edit: 120,
}
