//! Sky field of a site over its window and flight, one look-up, and the fix's step.
//!
//! `cargo bench --bench sky`

use divan::{Bencher, black_box};
use lostlink::flight::{Drawn, FixDraws, FixMoment, FlightDraws, Streams};
use lostlink::scenario::{self, Files, Scenario};
use lostlink::world::{FixSetup, SkyField};

fn main() {
    divan::main();
}

/// The folder of the shipped scenarios.
struct Shipped;

impl Files for Shipped {
    fn read(&self, name: &str) -> Result<Vec<u8>, String> {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios").join(name);
        std::fs::read(path).map_err(|error| error.to_string())
    }
}

/// A site of 1.2 km with buildings and a wood, four constellations, an hour's window: every place sees another sky.
fn site(constellations: &str) -> Scenario {
    let mut obstacles = String::new();
    for k in 0..24 {
        let (x, y) = (-500 + 190 * (k % 6), -450 + 240 * (k / 6));
        obstacles += &format!(
            "[[site.obstacle]]\nname = \"house {k}\"\nkind = \"{}\"\nheight_m = {}\npolygon_m = [[{x}, {y}], [{}, {y}], [{}, {}], [{x}, {}]]\n",
            if k % 3 == 0 { "trees" } else { "building" },
            8 + k,
            x + 45,
            x + 45,
            y + 30,
            y + 30,
        );
    }
    let text = format!(
        "title = \"t\"\nabout = \"a\"\ninvented = true\nseed = 1\n[site]\nextent_m = [-600, -600, 600, 600]\nhome_m = [0, -100]\n{obstacles}\n[craft]\nmass_kg = 1.0\n[sky]\nutc = 2026-05-16T09:30:00Z\nwindow_s = 3600\nconstellations = {constellations}\n[path]\nwaypoints_m = [[0, -100, 90], [40, -90, 90]]\nspeed_mps = 8\n[loss.cut]\nany_time = true\n[[policy]]\nname = \"land\"\n[[policy.action]]\nland = {{}}\n"
    );
    scenario::read("bench.toml", &text, &Shipped)
        .unwrap_or_else(|found| panic!("{}", found.iter().map(|finding| finding.in_words()).collect::<String>()))
}

#[divan::bench(sample_count = 20, args = ["[\"gps30\"]", "[\"gps30\", \"galileo\", \"glonass\", \"beidou\"]"])]
fn field(bencher: Bencher, constellations: &str) {
    let scenario = site(constellations);
    let grid = scenario.site.grid();
    bencher.bench(|| {
        let field = SkyField::new(black_box(&scenario), &grid, 900.0, None).expect("a sky");
        field.prepare();
        field
    });
}

/// Shipped scenarios with their own windows.
#[divan::bench(sample_count = 20, args = ["club-field.toml", "ridge-valley.toml", "lake-shore.toml", "quarry.toml"])]
fn field_of_scenario(bencher: Bencher, name: &str) {
    let text = String::from_utf8(Shipped.read(name).expect("a shipped scenario")).expect("text");
    let scenario = scenario::read(name, &text, &Shipped).expect("a valid scenario");
    let grid = scenario.site.grid();
    bencher.bench(|| {
        let field = SkyField::new(black_box(&scenario), &grid, 900.0, None).expect("a sky");
        field.prepare();
        field
    });
}

/// A thousand look-ups along a flight; divide by 1000.
#[divan::bench]
fn look_up_1k(bencher: Bencher) {
    let scenario = site("[\"gps30\", \"galileo\"]");
    let field = SkyField::new(&scenario, &scenario.site.grid(), 900.0, None).expect("a sky");
    bencher.bench(|| {
        let mut sum = 0.0;
        for k in 0..1_000 {
            let t = f64::from(k);
            sum += field.at(black_box(t), [-500.0 + t, 300.0 - 0.5 * t, 5.0 + 0.1 * t]).hdop;
        }
        sum
    });
}

/// A thousand steps of one flight; divide by 1000.
#[divan::bench]
fn fix_step_1k(bencher: Bencher) {
    let scenario = site("[\"gps30\", \"galileo\"]");
    let field = SkyField::new(&scenario, &scenario.site.grid(), 900.0, None).expect("a sky");
    let setup = FixSetup::new(&scenario, &field, 0.0).expect("a magnetic field");
    let draws = FlightDraws { streams: Streams::new(1), flight: 7 };
    let start = setup.begin(&field, &draws, &Drawn::of_flight(&scenario, &draws));
    bencher.bench(|| {
        let mut state = start;
        let draws = FixDraws::new(draws);
        let mut sum = 0.0;
        for step in 0..1_000 {
            let t = f64::from(step) * scenario.step_s;
            let at = FixMoment {
                step,
                time_s: t,
                place_m: [8.0 * t, 0.0, 40.0],
                velocity_mps: [8.0, 0.0, 0.0],
                airspeed_mps: 9.0,
                throttle: 0.45,
                tilt_rad: 0.15,
            };
            sum += state.step(&setup, &field, &draws, black_box(&at)).place_error_m[0];
        }
        sum
    });
}
