//! Laws of propagation, on random geometries.

use crate::reference::radio::diffraction::{
    Edges, bullington_db, deygout_raw_db, double_isolated_edges_db, knife_edge_loss_exact_db, knife_edges_exact_db,
    predominant_edges_db,
};
use crate::reference::radio::free_space::free_space_loss_db;
use crate::reference::radio::ground::GroundBounce;
use crate::reference::radio::vegetation::{tree_decay_loss_db, woodland_excess_db};
use crate::reference::radio::{noise, weather};
use lostlink::radio::diffraction::{GroundConstants, TerrainColumn, TerrainMethod, knife_edge_loss_db};
use lostlink::radio::free_space::WavePolarisation;
use lostlink::radio::ground::{ground_permittivity, reflection};
use lostlink::radio::vegetation::Woodland;
use lostlink::site::{Area, GridInput, Obstacle, ObstacleKind, SiteGrid, Terrain};
use lostlink::world::radio::field::{FieldOptions, LinkField, Scratch, Tracer};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::sync::Arc;

const BANDS_HZ: [f64; 4] = [433.92e6, 868e6, 2.44e9, 5.8e9];

fn band() -> impl Strategy<Value = f64> {
    prop::sample::select(BANDS_HZ.to_vec())
}

fn wave() -> impl Strategy<Value = WavePolarisation> {
    prop::sample::select(vec![WavePolarisation::Horizontal, WavePolarisation::Vertical])
}

/// Delta-Bullington loss over a profile as the link field works it out.
fn column_db(method: &TerrainMethod, distance_m: &[f64], height_m: &[f64], tx_m: f64, rx_m: f64) -> f64 {
    let mut column = TerrainColumn::default();
    column.set(method, distance_m, height_m, tx_m);
    column.loss_db(method, rx_m)
}

/// Distances and ground heights of a profile of 3 to 60 points.
fn profile() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    prop::collection::vec((5.0..150.0f64, 0.0..60.0f64), 3..60).prop_map(|steps| {
        let mut along = 0.0;
        steps
            .iter()
            .map(|(step, height)| {
                let at = along;
                along += step;
                (at, 300.0 + height)
            })
            .unzip()
    })
}

fn edge_list(most: usize) -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    (1..=most)
        .prop_flat_map(|n| (prop::collection::vec(30.0..900.0f64, n + 1), prop::collection::vec(-8.0..25.0f64, n)))
}

fn backwards(list: &[f64]) -> Vec<f64> {
    list.iter().rev().copied().collect()
}

proptest! {
    #![proptest_config(ProptestConfig { rng_seed: RngSeed::Fixed(20_260_516), ..ProptestConfig::default() })]

    #[test]
    fn terrain_loss_is_the_same_both_ways(
        (distance, height) in profile(),
        frequency_hz in band(),
        polarisation in wave(),
        up in 0.5..5.0f64,
        far_up in 0.5..150.0f64,
    ) {
        let method = TerrainMethod::new(frequency_hz, 8.5e6, GroundConstants::LAND, polarisation).unwrap();
        let last = distance.len() - 1;
        let (tx, rx) = (height[0] + up, height[last] + far_up);
        let there = column_db(&method, &distance, &height, tx, rx);
        let turned: Vec<f64> = distance.iter().rev().map(|d| distance[last] - d).collect();
        let back = column_db(&method, &turned, &backwards(&height), rx, tx);
        prop_assert!(there.is_finite() && there >= 0.0);
        prop_assert!((there - back).abs() < 1e-6, "{there} against {back}");
    }

    #[test]
    fn raising_the_ground_never_helps_bullington(
        (distance, height) in profile(),
        frequency_hz in band(),
        pick in 0.0..1.0f64,
        lift in 0.0..40.0f64,
    ) {
        let method =
            TerrainMethod::new(frequency_hz, 8.5e6, GroundConstants::LAND, WavePolarisation::Vertical).unwrap();
        let last = distance.len() - 1;
        let (tx, rx) = (height[0] + 2.0, height[last] + 40.0);
        let before = bullington_db(&method, &distance, &height, tx, rx);
        let mut raised = height.clone();
        raised[1 + (pick * (last - 1) as f64) as usize] += lift;
        let after = bullington_db(&method, &distance, &raised, tx, rx);
        prop_assert!(after >= before - 1e-9, "{before} to {after}");
    }

    #[test]
    fn edge_methods_are_the_same_both_ways((spacings, heights) in edge_list(3), frequency_hz in band()) {
        let (turned_spacings, turned_heights) = (backwards(&spacings), backwards(&heights));
        let there = Edges::new(&spacings, &heights).unwrap();
        let back = Edges::new(&turned_spacings, &turned_heights).unwrap();
        type Method = fn(f64, Edges) -> Result<f64, lostlink::radio::OutOfRange>;
        let mut methods: Vec<Method> =
            vec![deygout_raw_db, predominant_edges_db, knife_edges_exact_db];
        if heights.len() == 2 {
            methods.push(double_isolated_edges_db);
        }
        for method in methods {
            let (a, b) = (method(frequency_hz, there).unwrap(), method(frequency_hz, back).unwrap());
            prop_assert!((a - b).abs() < 1e-4, "{a} against {b}");
        }
    }

    #[test]
    fn the_predominant_edge_method_stays_near_the_exact_integral(
        (spacings, heights) in edge_list(2),
        frequency_hz in band(),
    ) {
        // Edges that matter: not under the ray, where the approximation leaves the ripples out.
        let heights: Vec<f64> = heights.iter().map(|h| h.abs()).collect();
        let edges = Edges::new(&spacings, &heights).unwrap();
        let (near, exact) =
            (predominant_edges_db(frequency_hz, edges).unwrap(), knife_edges_exact_db(frequency_hz, edges).unwrap());
        prop_assert!((near - exact).abs() < 4.5, "{near} against {exact}");
    }

    #[test]
    fn one_edge_grows_with_its_height(v in -5.0..50.0f64, more in 0.0..5.0f64) {
        prop_assert!(knife_edge_loss_db(v + more) >= knife_edge_loss_db(v));
        if v > -0.78 {
            prop_assert!((knife_edge_loss_db(v) - knife_edge_loss_exact_db(v).unwrap()).abs() < 0.13);
        }
    }

    #[test]
    fn free_space_grows_with_distance_and_frequency(
        frequency_hz in 1e8..6e9f64, distance_m in 1.0..1e5f64, factor in 1.0..10.0f64,
    ) {
        let here = free_space_loss_db(frequency_hz, distance_m).unwrap();
        prop_assert!(free_space_loss_db(frequency_hz, distance_m * factor).unwrap() >= here);
        prop_assert!(free_space_loss_db(frequency_hz * factor, distance_m).unwrap() >= here);
    }

    #[test]
    fn two_rays_are_the_same_both_ways_and_gain_at_most_six_db(
        frequency_hz in band(), polarisation in wave(),
        distance_m in 1.0..5000.0f64, a_m in 0.2..120.0f64, b_m in 0.2..120.0f64,
        permittivity in 2.0..80.0f64, conductivity in 0.0..5.0f64, roughness_m in 0.0..0.5f64,
    ) {
        let bounce = GroundBounce::new(frequency_hz, permittivity, conductivity, roughness_m, polarisation).unwrap();
        let there = bounce.excess_db(distance_m, a_m, b_m, 1.0);
        let back = bounce.excess_db(distance_m, b_m, a_m, 1.0);
        prop_assert!((there - back).abs() < 1e-6);
        // Both rays in phase at full strength double the field: 20 log10 2.
        prop_assert!(there > -6.03 && there <= 60.0, "{there}");
    }

    #[test]
    fn ground_never_reflects_more_than_it_gets(
        frequency_hz in band(), polarisation in wave(), grazing in 0.0..1.57f64,
        permittivity in 1.0..80.0f64, conductivity in 0.0..5.0f64,
    ) {
        let ground = ground_permittivity(frequency_hz, permittivity, conductivity).unwrap();
        let gamma = reflection(ground, grazing, polarisation).unwrap();
        prop_assert!((0.0..=1.0 + 1e-12).contains(&gamma.norm()));
    }

    #[test]
    fn trees_rain_and_noise_grow(frequency_hz in 1e9..6e9f64, size in 0.1..300.0f64, more in 0.0..90.0f64) {
        let woodland = Woodland::mixed_forest(frequency_hz, true).unwrap();
        prop_assert!(woodland.loss_db(size + more) >= woodland.loss_db(size));
        prop_assert!(woodland.loss_db(size) <= woodland.greatest_db);
        prop_assert!(woodland.loss_db(size) <= woodland.specific_db_per_m * size + 1e-12);
        let by_figures = woodland_excess_db(size, woodland.specific_db_per_m, woodland.greatest_db).unwrap();
        prop_assert!((by_figures - woodland.loss_db(size)).abs() < 1e-12);
        // The two pieces of the decay formula meet at 14 m to some hundredths, not exactly.
        prop_assert!(tree_decay_loss_db(frequency_hz, size + more).unwrap() >= tree_decay_loss_db(frequency_hz, size).unwrap() - 0.2);
        let rain = |rate| weather::rain_path_loss_db(frequency_hz, rate, 2000.0).unwrap();
        prop_assert!(rain(size + more) >= rain(size));
        prop_assert!(noise::noise_rise_db(size).unwrap() >= size - 1e-9);
    }
}

/// 1 km × 1 km with the pilot in the west and, when asked, a ridge from south to north in the middle.
fn valley(ridge_m: f64, obstacles: &[Obstacle]) -> Arc<SiteGrid> {
    let columns = 51;
    let height = |x: f64, y: f64| {
        let rolling = 1.0 * libm::sin(x * 0.01) + 0.8 * libm::cos(y * 0.013);
        rolling + ridge_m * libm::exp(-(x / 60.0) * (x / 60.0))
    };
    let terrain = Terrain {
        file: "valley.asc".into(),
        west_m: -500.0,
        south_m: -500.0,
        cell_m: 20.0,
        columns,
        rows: columns,
        height_m: (0..columns * columns)
            .map(|i| height(-500.0 + 20.0 * (i % columns) as f64, -500.0 + 20.0 * (i / columns) as f64) as f32)
            .collect(),
    };
    Arc::new(SiteGrid::new(&GridInput {
        extent_m: [-500.0, -500.0, 500.0, 500.0],
        cell_m: Some(2.0),
        terrain: Some(&terrain),
        zones: &[],
        obstacles,
        fence: None,
        fence_margin_m: 0.0,
        people_per_km2: 0.0,
    }))
}

fn options() -> FieldOptions {
    FieldOptions { top_m: 120.0, polarisation: WavePolarisation::Vertical, in_leaf: true, spacing_m: None }
}

/// The shadow is the ridge's: with it the link behind it is cut, without it the same places are free.
#[test]
fn a_ridge_shadows_and_taking_it_away_takes_the_shadow_away() {
    let (with, without) = (valley(45.0, &[]), valley(0.0, &[]));
    let field = |grid: &Arc<SiteGrid>| {
        let antenna = [-400.0, 0.0, grid.ground_m(-400.0, 0.0) + 2.0];
        LinkField::new(grid, antenna, 2.44e9, &options()).unwrap()
    };
    let (shadowed, free) = (field(&with), field(&without));
    let (mut deep, mut places) = (0, 0);
    for x in [150.0, 250.0, 350.0, 450.0] {
        for y in [-200.0, -100.0, 0.0, 100.0, 200.0] {
            let place = [x, y, 20.0];
            let (behind, open) = (shadowed.excess(place), free.excess(place));
            assert!(behind.blocked > 0.9 && behind.diffraction_db > 25.0, "{place:?} {behind:?}");
            assert!(open.blocked < 0.1 && open.diffraction_db < 3.0, "{place:?} {open:?}");
            places += 1;
            deep += usize::from(behind.diffraction_db - open.diffraction_db > 25.0);
        }
    }
    assert_eq!(deep, places);
    // On the pilot's side of the ridge nothing changes.
    for y in [-200.0, 0.0, 200.0] {
        let place = [-200.0, y, 40.0];
        assert!((shadowed.excess(place).diffraction_db - free.excess(place).diffraction_db).abs() < 0.5);
    }
}

#[test]
fn climbing_out_of_the_shadow_gains() {
    let grid = valley(45.0, &[]);
    let antenna = [-400.0, 0.0, grid.ground_m(-400.0, 0.0) + 2.0];
    let tracer = Tracer::new(&grid, antenna, 868e6, &options()).unwrap();
    let mut scratch = Scratch::default();
    let mut last = f64::INFINITY;
    for z in (5..=150).step_by(5) {
        let loss = tracer.excess_to([300.0, 40.0, f64::from(z)], &mut scratch).diffraction_db;
        assert!(loss <= last + 1e-9, "{z} m: {last} to {loss}");
        last = loss;
    }
    assert_eq!(last, 0.0);
}

#[test]
fn a_building_on_the_path_never_helps_and_beside_it_changes_nothing() {
    let house = |x: f64, y: f64| Obstacle {
        name: "house".into(),
        kind: ObstacleKind::Building,
        area: Area::Polygon(vec![[x, y], [x + 20.0, y], [x + 20.0, y + 30.0], [x, y + 30.0]]),
        height_m: 14.0,
        base_m: 0.0,
    };
    let bare = valley(0.0, &[]);
    let antenna = [-400.0, 0.0, bare.ground_m(-400.0, 0.0) + 2.0];
    let loss = |grid: &Arc<SiteGrid>, place: [f64; 3]| {
        let tracer = Tracer::new(grid, antenna, 2.44e9, &options()).unwrap();
        tracer.excess_to(place, &mut Scratch::default())
    };
    let (on_path, beside) = (valley(0.0, &[house(-300.0, -15.0)]), valley(0.0, &[house(-300.0, 200.0)]));
    for z in [5.0, 10.0, 20.0, 40.0, 80.0, 120.0] {
        let place = [200.0, 0.0, z];
        let (plain, behind) = (loss(&bare, place), loss(&on_path, place));
        assert!(behind.diffraction_db >= plain.diffraction_db, "{z}: {plain:?} {behind:?}");
        assert_eq!(loss(&beside, place), plain);
    }
    assert!(loss(&on_path, [200.0, 0.0, 10.0]).blocked == 1.0);
    assert!(loss(&on_path, [200.0, 0.0, 10.0]).diffraction_db > 8.0);
}

/// Patches are worked out as they are asked for: in any order, and by many at once, the answers are the same.
#[test]
fn the_field_answers_alike_in_any_order_and_to_many_at_once() {
    let grid = valley(45.0, &[]);
    let new = || LinkField::new(&grid, [-400.0, 0.0, 2.0], 2.44e9, &options()).unwrap();
    let places: Vec<[f64; 3]> = (0..500)
        .map(|i| {
            let share = |step: f64| (f64::from(i) * step).fract();
            [-500.0 + 1000.0 * share(0.618), -500.0 + 1000.0 * share(0.755), 120.0 * share(0.57)]
        })
        .collect();
    let (in_order, shared) = (new(), new());
    let one: Vec<_> = places.iter().map(|place| in_order.excess(*place)).collect();
    let many = &|backwards: bool| {
        let mut found: Vec<_> = if backwards {
            places.iter().rev().map(|place| shared.excess(*place)).collect()
        } else {
            places.iter().map(|place| shared.excess(*place)).collect()
        };
        if backwards {
            found.reverse();
        }
        found
    };
    std::thread::scope(|scope| {
        let askers: Vec<_> = (0..4).map(|k| scope.spawn(move || many(k % 2 == 1))).collect();
        for asker in askers {
            assert_eq!(asker.join().unwrap(), one);
        }
    });
}
