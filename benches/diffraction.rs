//! Speed of one path: `cargo bench --bench diffraction`.

use divan::{Bencher, black_box};
use lostlink::radio::diffraction::{GroundConstants, TerrainColumn, TerrainMethod};
use lostlink::radio::free_space::WavePolarisation;

fn main() {
    divan::main();
}

fn method() -> TerrainMethod {
    TerrainMethod::new(2.44e9, 8.5e6, GroundConstants::LAND, WavePolarisation::Vertical).expect("in range")
}

/// A rolling profile of `n` points over 6 km with a ridge at two thirds.
fn profile(n: usize) -> (Vec<f64>, Vec<f64>) {
    let distance: Vec<f64> = (0..n).map(|i| 6000.0 * i as f64 / (n - 1) as f64).collect();
    let height = distance
        .iter()
        .map(|d| {
            let ridge = 60.0 * (-(d - 4000.0) * (d - 4000.0) / 1e5).exp();
            100.0 + 8.0 * (d * 0.003).sin() + 3.0 * (d * 0.021).cos() + ridge
        })
        .collect();
    (distance, height)
}

/// A whole profile prepared and asked for one height, in the shadow of the ridge.
#[divan::bench(args = [50, 100, 200, 333])]
fn profile_in_shadow(bencher: Bencher, points: usize) {
    whole_profile(bencher, profile(points), 20.0);
}

/// The same with the other end high enough to be in sight.
#[divan::bench(args = [50, 100, 200, 333])]
fn profile_in_sight(bencher: Bencher, points: usize) {
    whole_profile(bencher, profile(points), 120.0);
}

/// Both ends low over a plain, where the spherical-Earth term has to be worked out.
#[divan::bench(args = [200])]
fn profile_of_a_plain(bencher: Bencher, points: usize) {
    whole_profile(bencher, (profile(points).0, vec![100.0; points]), 3.0);
}

fn whole_profile(bencher: Bencher, (distance, height): (Vec<f64>, Vec<f64>), above_m: f64) {
    let method = method();
    let rx_m = height[height.len() - 1] + above_m;
    let mut column = TerrainColumn::default();
    bencher.bench_local(|| {
        column.set(&method, black_box(&distance), black_box(&height), 101.5);
        column.loss_db(&method, black_box(rx_m))
    });
}

/// One height of a column that shares the profile's preparation, as the link field does it.
#[divan::bench(args = [200])]
fn one_height_of_a_column(bencher: Bencher, points: usize) {
    let (method, (distance, height)) = (method(), profile(points));
    let mut column = TerrainColumn::default();
    column.set(&method, &distance, &height, 101.5);
    let rx_m = height[points - 1] + 20.0;
    bencher.bench(|| column.loss_db(black_box(&method), black_box(rx_m)));
}
