//! Time of the craft and air parts of one flight step. Run with `cargo bench --bench craft_step`.

use divan::Bencher;
use lostlink::air::turbulence::{Dryden, LowAltitude};
use lostlink::chance::{Purpose, Source, Uncertain};
use lostlink::craft::rotor::{self, Rotors};
use lostlink::craft::{FallBody, HeldLoop, Mover, MoverState, Pack, Wish};
use lostlink::failsafe::ReturnHeight;
use lostlink::flight::{AirSetup, AirState, AirWhen, WindDraws};
use lostlink::scenario::Weather;
use lostlink::site::{Area, GridInput, Obstacle, ObstacleKind, SiteGrid};
use lostlink::world::{AirField, HomeEnergy, Way};
use std::hint::black_box;

/// Steps per timed call.
const STEPS: u32 = 10_000;
const STEP_S: f64 = 0.2;

fn main() {
    divan::main();
}

fn weather() -> Weather {
    Weather {
        wind_mps: Uncertain::Exact(6.0),
        wind_height_m: 10.0,
        hours: None,
        profile: None,
        from_deg: Uncertain::Exact(250.0),
        veer_deg_per_100m: 5.0,
        roughness_m: 0.05,
        turbulence: Uncertain::Exact(1.0),
        drift_mps: 0.8.into(),
        drift_memory_s: 120.0.into(),
        gust_mps: Uncertain::Exact(4.0),
        gust_length_m: 60.0.into(),
        lee_heights: 10.0,
        hill_wind: true,
        hill_factor: 1.0.into(),
        temperature_c: Uncertain::Exact(15.0),
        pressure_pa: 101_325.0,
        tendency_pa_per_h: Uncertain::Exact(0.0),
        rain_mm_per_h: 0.0,
    }
}

fn grid() -> SiteGrid {
    let wood = Obstacle {
        name: "wood".into(),
        kind: ObstacleKind::Trees,
        area: Area::Circle { centre_m: [100.0, 0.0], radius_m: 60.0 },
        height_m: 18.0,
        base_m: 0.0,
    };
    SiteGrid::new(&GridInput {
        extent_m: [-500.0, -500.0, 500.0, 500.0],
        cell_m: None,
        terrain: None,
        zones: &[],
        obstacles: &[wood],
        fence: None,
        fence_margin_m: 0.0,
        people_per_km2: 0.0,
    })
}

fn mover() -> Mover {
    Mover {
        mass_kg: 1.0,
        linear_drag_per_s: 0.15,
        rotors: Rotors {
            disc_area_m2: rotor::disc_area_m2(4, 0.1778),
            induced_factor: 1.15,
            profile_power_w: 32.0,
            tip_speed_mps: 75.0,
            drag_area_m2: 0.018,
            drive_efficiency: 0.78,
            aux_power_w: 10.0,
        },
        tilt_max_tan: 0.577,
        thrust_max_n: 39.2,
        accel_max_mps2: 4.0,
        climb_max_mps: 4.0,
        descent_max_mps: 2.5,
        velocity_loop: HeldLoop::restless(0.8),
        attitude_lag_s: 0.2,
        level_error: [0.01, -0.005],
    }
}

/// A wish that makes the craft climb, cruise, turn and sink.
fn wish(mover: &Mover, state: &MoverState, step: u32) -> Wish {
    const WISHES: [[f64; 3]; 4] = [[0.0, 0.0, 4.0], [12.0, 0.0, 0.0], [-8.0, 8.0, 1.0], [2.0, 2.0, -2.5]];
    Wish::Acceleration(mover.accel_demand(WISHES[(step / 400 % 4) as usize], state.velocity_mps))
}

fn pack() -> Pack {
    Pack {
        cells: 6.0,
        capacity_ah: 2.2,
        resistance_ohm: 0.04,
        warn_v: 3.5,
        land_v: 3.3,
        cutoff_v: 3.0,
        warn_charge: 0.0,
        land_charge: 0.0,
        filter_s: 2.0,
        hysteresis_v: 0.05,
    }
}

/// Wind, motion, power and pack: everything this part does in a powered step.
#[divan::bench(counters = [divan::counter::ItemsCount::new(STEPS)])]
fn powered_step(bencher: Bencher) {
    let (weather, grid) = (weather(), grid());
    let field = AirField::new(&weather, &grid, 200.0, None);
    let source = Source::new(1, Purpose::Wind);
    let draws = weather.central();
    let setup = AirSetup::new(&draws, &field, &source, 0, 300.0);
    let (mover, pack) = (mover(), pack());
    bencher.bench_local(|| {
        let drawn = WindDraws::new(source, 0);
        let mut air = AirState::new(&setup, &drawn);
        let mut state = MoverState::at([0.0, 0.0, 40.0]);
        let mut charge = pack.at(1.0);
        let mut share = 1.0;
        for step in 0..STEPS {
            let height_m = state.place_m[2];
            let (place, velocity) = (state.place_m, state.velocity_mps);
            let wind = air.step(&setup, &field, &drawn, &whole_step(step), place, height_m, velocity);
            let demand = wish(&mover, &state, step);
            let now = mover.step(&mut state, demand, wind, setup.density_kgpm3, share, STEP_S);
            share = Pack::thrust_share(pack.step(&mut charge, now.power_w, STEP_S).cell_v);
        }
        black_box((state, charge))
    });
}

fn whole_step(step: u32) -> AirWhen {
    AirWhen { step, step_s: STEP_S, for_s: STEP_S }
}

/// The wind alone.
#[divan::bench(counters = [divan::counter::ItemsCount::new(STEPS)])]
fn wind_step(bencher: Bencher) {
    let (weather, grid) = (weather(), grid());
    let field = AirField::new(&weather, &grid, 200.0, None);
    let source = Source::new(1, Purpose::Wind);
    let setup = AirSetup::new(&weather.central(), &field, &source, 0, 300.0);
    bencher.bench_local(|| {
        let drawn = WindDraws::new(source, 0);
        let mut air = AirState::new(&setup, &drawn);
        let mut sum = 0.0;
        for step in 0..STEPS {
            let place = [f64::from(step % 100), 3.0, 15.0];
            sum += air.step(&setup, &field, &drawn, &whole_step(step), place, 15.0, [8.0, 2.0, 0.5])[0];
        }
        black_box(sum)
    });
}

/// Four standard normals out of one block.
#[divan::bench(counters = [divan::counter::ItemsCount::new(STEPS)])]
fn four_normals(bencher: Bencher) {
    let source = Source::new(1, Purpose::Wind);
    bencher.bench_local(|| {
        let mut sum = 0.0;
        for step in 0..STEPS {
            sum += source.normals(0, step, 0).iter().sum::<f64>();
        }
        black_box(sum)
    });
}

/// One block of random bits.
#[divan::bench(counters = [divan::counter::ItemsCount::new(STEPS)])]
fn random_block(bencher: Bencher) {
    let source = Source::new(1, Purpose::Wind);
    bencher.bench_local(|| {
        let mut sum = 0;
        for step in 0..STEPS {
            sum ^= source.words(0, step, 0)[0];
        }
        black_box(sum)
    });
}

/// The turbulence filter without its random numbers.
#[divan::bench(counters = [divan::counter::ItemsCount::new(STEPS)])]
fn turbulence_filter(bencher: Bencher) {
    bencher.bench_local(|| {
        let mut state = Dryden::default();
        let mut sum = 0.0;
        for step in 0..STEPS {
            let height_m = 20.0 + f64::from(step % 64);
            let normals = [0.1, -0.2, 0.3, -0.4, 0.5];
            sum += state.step(LowAltitude::fast(height_m), 0.6, 9.0, STEP_S, normals)[1];
        }
        black_box(sum)
    });
}

/// Motion and power.
#[divan::bench(counters = [divan::counter::ItemsCount::new(STEPS)])]
fn motion_step(bencher: Bencher) {
    let mover = mover();
    bencher.bench_local(|| {
        let mut state = MoverState::at([0.0, 0.0, 40.0]);
        let mut energy_j = 0.0;
        for step in 0..STEPS {
            let demand = wish(&mover, &state, step);
            energy_j += mover.step(&mut state, demand, [3.0, -2.0, 0.1], 1.2, 0.9, STEP_S).power_w;
        }
        black_box((state, energy_j))
    });
}

/// The pack.
#[divan::bench(counters = [divan::counter::ItemsCount::new(STEPS)])]
fn pack_step(bencher: Bencher) {
    let pack = pack();
    bencher.bench_local(|| {
        let mut state = pack.at(1.0);
        for step in 0..STEPS {
            black_box(pack.step(&mut state, 140.0 + f64::from(step % 7), STEP_S));
        }
        black_box(state)
    });
}

/// The fall.
#[divan::bench(counters = [divan::counter::ItemsCount::new(STEPS)])]
fn fall_step(bencher: Bencher) {
    let body = FallBody::new(1.0, 0.03);
    bencher.bench_local(|| {
        let (mut place, mut velocity) = ([0.0; 3], [10.0, 0.0, 0.0]);
        for _ in 0..STEPS {
            body.step(&mut place, &mut velocity, [3.0, -2.0, 0.1], 1.2, STEP_S);
        }
        black_box(place)
    });
}

/// Energy to come home from one place, as for a row of a trace.
#[divan::bench]
fn way_home(bencher: Bencher) {
    let (weather, grid) = (weather(), grid());
    let field = AirField::new(&weather, &grid, 200.0, None);
    let draws = weather.central();
    let energy = HomeEnergy {
        field: &field,
        grid: &grid,
        mean: field.mean_wind(&draws),
        level: mover().rotors.level(1.0, 1.2).with_linear_drag(0.15),
        pack: pack(),
        mover: mover(),
        cruise_mps: 12.0,
        final_descent_mps: 0.7,
        slow_below_m: 8.0,
        silence_s: 1.0,
        home_m: [0.0; 3],
    };
    let way = Way { height: ReturnHeight::at_least_m(60.0), ..Way::level() };
    bencher.bench_local(|| energy.need(black_box(&way), black_box([300.0, 200.0, 40.0]), 60.0, 0.7));
}
