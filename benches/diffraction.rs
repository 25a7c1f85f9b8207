//! Speed of one path: `cargo bench --bench diffraction`.

use divan::{Bencher, black_box};
use lostlink::radio::diffraction::{GroundConstants, TerrainColumn, TerrainMethod};
use lostlink::radio::free_space::{FreeSpace, WavePolarisation};
use lostlink::radio::ground::GroundBounce;

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

/// One delta-Bullington path from two slices, in the shadow of the ridge.
#[divan::bench(args = [50, 100, 200, 333])]
fn delta_bullington_shadow(bencher: Bencher, points: usize) {
    let (method, (distance, height)) = (method(), profile(points));
    let rx_m = height[points - 1] + 20.0;
    bencher.bench(|| method.loss_db(black_box(&distance), black_box(&height), 101.5, black_box(rx_m)));
}

/// The same with the other end high enough to be in sight.
#[divan::bench(args = [50, 100, 200, 333])]
fn delta_bullington_in_sight(bencher: Bencher, points: usize) {
    let (method, (distance, height)) = (method(), profile(points));
    let rx_m = height[points - 1] + 120.0;
    bencher.bench(|| method.loss_db(black_box(&distance), black_box(&height), 101.5, black_box(rx_m)));
}

/// Both ends low over a plain, where the spherical-Earth term has to be worked out.
#[divan::bench(args = [200])]
fn delta_bullington_plain(bencher: Bencher, points: usize) {
    let (distance, _) = profile(points);
    let height = vec![100.0; points];
    let method = method();
    bencher.bench(|| method.loss_db(black_box(&distance), black_box(&height), 101.5, black_box(103.0)));
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

#[divan::bench]
fn ground_bounce(bencher: Bencher) {
    let bounce = GroundBounce::new(2.44e9, 15.0, 0.005, 0.02, WavePolarisation::Vertical).expect("in range");
    bencher.bench(|| bounce.excess_db(black_box(800.0), black_box(1.5), black_box(40.0), black_box(0.9)));
}

#[divan::bench]
fn free_space(bencher: Bencher) {
    let free = FreeSpace::new(2.44e9);
    bencher.bench(|| free.loss_of_square_db(black_box(640_000.0)));
}
