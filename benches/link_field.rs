//! Speed of the link field: `cargo bench --bench link_field`.

use divan::{Bencher, black_box};
use lostlink::plan::reach::{MapHeight, PlaceLink, reach_map};
use lostlink::radio::antenna::{AntennaPair, Floor};
use lostlink::radio::free_space::{WavePolarisation, one_metre_loss_db};
use lostlink::radio::maths::quick_db;
use lostlink::radio::modem::PacketCurve;
use lostlink::radio::silence::{DeclaredLoss, StayInput};
use lostlink::radio::{Antenna, AntennaCondition, Pattern, Polarisation, Waveform};
use lostlink::site::{Area, GridInput, Obstacle, ObstacleKind, SiteGrid, Terrain};
use lostlink::world::radio::{FieldOptions, LinkField};
use std::sync::Arc;

fn main() {
    divan::main();
}

/// 2 km by 2 km of hills, with or without buildings and woods.
fn site(obstacles: bool) -> Arc<SiteGrid> {
    let columns = 101;
    let height = |x: f64, y: f64| {
        10.0 * (x * 0.004).sin() + 8.0 * (y * 0.005).cos() + 35.0 * (-(x - 300.0) * (x - 300.0) / 2e4).exp()
    };
    let terrain = Terrain {
        file: "hills.asc".into(),
        west_m: -1000.0,
        south_m: -1000.0,
        cell_m: 20.0,
        columns,
        rows: 101,
        height_m: (0..columns * 101)
            .map(|i| height(-1000.0 + 20.0 * (i % columns) as f64, -1000.0 + 20.0 * (i / columns) as f64) as f32)
            .collect(),
    };
    let rectangle =
        |x: f64, y: f64, w: f64, h: f64| Area::Polygon(vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]]);
    let things: Vec<Obstacle> = (0..40)
        .map(|i| {
            let (x, y) = (-900.0 + 45.0 * f64::from(i), 900.0 * (f64::from(i) * 0.618).sin());
            let (kind, size, height_m) =
                if i % 3 == 0 { (ObstacleKind::Building, 20.0, 12.0) } else { (ObstacleKind::Trees, 80.0, 18.0) };
            Obstacle { name: String::new(), kind, area: rectangle(x, y, size, size), height_m, base_m: 0.0 }
        })
        .collect();
    Arc::new(SiteGrid::new(&GridInput {
        extent_m: [-1000.0, -1000.0, 1000.0, 1000.0],
        cell_m: None,
        terrain: Some(&terrain),
        zones: &[],
        obstacles: if obstacles { &things } else { &[] },
        fence: None,
        fence_margin_m: 0.0,
        people_per_km2: 0.0,
    }))
}

fn options(grid: &SiteGrid) -> FieldOptions {
    let polarisation = WavePolarisation::Vertical;
    FieldOptions { top_m: grid.ground_m(0.0, 0.0) + 120.0, polarisation, in_leaf: true, spacing_m: Some([20.0, 10.0]) }
}

/// All of 2 km × 2 km × 120 m at 20 m × 20 m × 10 m, on one thread, terrain alone and with 40 buildings and woods.
#[divan::bench(args = [false, true], sample_count = 5, sample_size = 1)]
fn all_of_2_km(bencher: Bencher, obstacles: bool) {
    let grid = site(obstacles);
    let antenna = [-700.0, 50.0, grid.ground_m(-700.0, 50.0) + 1.8];
    let shape = LinkField::new(&grid, antenna, 2.44e9, &options(&grid)).expect("in range").shape();
    assert!(shape.iter().product::<usize>() >= 100_000, "{shape:?}");
    let nodes = |index: usize| -1000.0 + 20.0 * index as f64;
    bencher.bench(|| {
        let field = LinkField::new(black_box(&grid), antenna, 2.44e9, &options(&grid)).expect("in range");
        (0..100 * 100).map(|k| field.excess([nodes(k / 100), nodes(k % 100), 50.0]).total_db()).sum::<f64>()
    });
}

/// One look-up in flight.
#[divan::bench]
fn look_up(bencher: Bencher) {
    let grid = site(true);
    let antenna = [-700.0, 50.0, grid.ground_m(-700.0, 50.0) + 1.8];
    let field = LinkField::new(&grid, antenna, 2.44e9, &options(&grid)).expect("in range");
    bencher.bench(|| field.excess(black_box([412.3, -223.7, 61.9])));
}

/// Table of the chance of a declared loss, and a map of 1000 × 1000 points with field, free space and both antennas.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn reach_map_of_a_million(bencher: Bencher) {
    let grid = site(true);
    let antenna_m = [-700.0, 50.0, grid.ground_m(-700.0, 50.0) + 1.8];
    let field = LinkField::new(&grid, antenna_m, 2.44e9, &options(&grid)).expect("in range");
    let waveform =
        Waveform::Fsk { bit_rate_bps: 250e3, modulation_index: 1.0, coding_gain_db: 0.0, implementation_loss_db: 1.0 };
    let curve = PacketCurve::new(&waveform, 12).expect("in range");
    let input = StayInput {
        frequency_hz: 2.44e9,
        packet_rate_hz: 100.0,
        patience_s: 1.0,
        stay_s: 10.0,
        speed_mps: 0.1,
        bands: 4,
        needed_snr_db: curve.snr_for_db(0.1),
        shadow_sigma_db: [3.0; 2],
        other_loss: 0.0,
    };
    let rod = Antenna {
        pattern: Pattern::Dipole,
        polarisation: Polarisation::Linear,
        axis: [0.0, 0.0, 1.0],
        condition: AntennaCondition::Whole,
        feed_loss_db: 0.5,
    };
    let level = lostlink::geometry::Frame::EAST;
    let pair = AntennaPair::new(&rod, &rod);
    let one_metre_db = one_metre_loss_db(2.44e9);
    let mean = |loss: &DeclaredLoss, place_m: [f64; 3]| {
        let [dx, dy, dz] = [0, 1, 2].map(|i| place_m[i] - antenna_m[i]);
        let square = (dx * dx + dy * dy + dz * dz).max(1.0);
        let distance_m = square.sqrt();
        let direction = [dx, dy, dz].map(|d| d / distance_m);
        let joined = pair.coupling(&Floor::default(), &level, &level, direction);
        let excess = field.excess(place_m);
        let received_dbm =
            10.0 + joined.gain_db - joined.polarisation_db - one_metre_db - quick_db(square) - excess.total_db();
        let k_db = if excess.blocked > 0.95 { f64::NEG_INFINITY } else { 8.0 };
        let margin_db = received_dbm + 105.0;
        PlaceLink { margin_db, loss_chance: loss.at(margin_db, k_db) }
    };
    bencher.bench(|| {
        let loss = DeclaredLoss::new(&curve, &input);
        reach_map(&grid, MapHeight::AboveGroundM(40.0), [1000, 1000], black_box(&|place_m| mean(&loss, place_m)))
    });
}
