//! Speed of the link field: `cargo bench --bench link_field`.

use divan::{Bencher, black_box};
use lostlink::radio::free_space::WavePolarisation;
use lostlink::site::{Area, GridInput, Obstacle, ObstacleKind, SiteGrid, Terrain};
use lostlink::world::{FieldOptions, LinkField};

fn main() {
    divan::main();
}

/// 2 km by 2 km of hills, with or without buildings and woods.
fn site(obstacles: bool) -> SiteGrid {
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
    SiteGrid::new(&GridInput {
        extent_m: [-1000.0, -1000.0, 1000.0, 1000.0],
        cell_m: None,
        terrain: Some(&terrain),
        zones: &[],
        obstacles: if obstacles { &things } else { &[] },
        fence: None,
        fence_margin_m: 0.0,
        people_per_km2: 0.0,
    })
}

fn options(grid: &SiteGrid) -> FieldOptions {
    let polarisation = WavePolarisation::Vertical;
    FieldOptions { top_m: grid.ground_m(0.0, 0.0) + 120.0, polarisation, in_leaf: true, spacing_m: Some([20.0, 10.0]) }
}

/// 2 km × 2 km × 120 m at 20 m × 20 m × 10 m, terrain alone and with 40 buildings and woods.
#[divan::bench(args = [false, true], sample_count = 5, sample_size = 1)]
fn build_2_km(bencher: Bencher, obstacles: bool) {
    let grid = site(obstacles);
    let antenna = [-700.0, 50.0, grid.ground_m(-700.0, 50.0) + 1.8];
    let shape = LinkField::build(&grid, antenna, 2.44e9, &options(&grid)).expect("in range").shape();
    assert!(shape.iter().product::<usize>() >= 100_000, "{shape:?}");
    bencher.bench(|| LinkField::build(black_box(&grid), antenna, 2.44e9, &options(&grid)));
}

/// One look-up in flight.
#[divan::bench]
fn look_up(bencher: Bencher) {
    let grid = site(true);
    let antenna = [-700.0, 50.0, grid.ground_m(-700.0, 50.0) + 1.8];
    let field = LinkField::build(&grid, antenna, 2.44e9, &options(&grid)).expect("in range");
    bencher.bench(|| field.excess(black_box([412.3, -223.7, 61.9])));
}
