//! Laws of air and craft: closed forms, balances, convergence, and what must never happen.

use crate::reference::air::turbulence::{Component, low_altitude};
use crate::reference::air::wind;
use crate::reference::craft::battery::{open_circuit_energy_j, pouch_pack};
use crate::reference::craft::fall::{fall_exact, fall_stepped, without_drag};
use lostlink::air::turbulence::Dryden;
use lostlink::chance::{Purpose, Source, Uncertain};
use lostlink::craft::fall::FallBody;
use lostlink::craft::motion::VORTEX_RING;
use lostlink::craft::rotor::{self, Rotors};
use lostlink::craft::{
    ClassDefaults, HeldLoop, Mover, MoverNow, MoverState, Pack, PackLevel, Wish, battery, kinematics,
};
use lostlink::failsafe::ReturnHeight;
use lostlink::flight::{AirSetup, AirState, AirWhen, WindDraws};
use lostlink::scenario::{self, NoFiles, Scenario, Weather};
use lostlink::site::{Area, GridInput, Obstacle, ObstacleKind, SiteGrid};
use lostlink::units::STANDARD_GRAVITY_MPS2;
use lostlink::world::{self, AirField, FlightPath, HomeEnergy, Way};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const DENSITY_KGPM3: f64 = 1.225;

/// The reference craft: 1 kg, four 7-inch rotors.
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
        tilt_max_tan: 30_f64.to_radians().tan(),
        thrust_max_n: 4.0 * STANDARD_GRAVITY_MPS2,
        accel_max_mps2: 4.0,
        climb_max_mps: 4.0,
        descent_max_mps: 2.5,
        velocity_loop: HeldLoop::restless(0.8),
        attitude_lag_s: 0.2,
        level_error: [0.0, 0.0],
    }
}

fn pack() -> Pack {
    pouch_pack(6, 2.2, 0.04, 298.15, [3.5, 3.3, 3.0])
}

/// The wish for a ground velocity, as a craft that knows its own has it.
fn at(wish_mps: [f64; 3]) -> impl Fn(&Mover, &MoverState) -> Wish {
    move |mover, state| Wish::Acceleration(mover.accel_demand(wish_mps, state.velocity_mps))
}

fn step_at(
    mover: &Mover,
    state: &mut MoverState,
    wish_mps: [f64; 3],
    wind_mps: [f64; 3],
    density_kgpm3: f64,
    thrust_share: f64,
    step_s: f64,
) -> MoverNow {
    let wish = at(wish_mps)(mover, state);
    mover.step(state, wish, wind_mps, density_kgpm3, thrust_share, step_s)
}

/// Flies a wish in a steady wind for a time.
fn fly(
    mover: &Mover,
    wish: impl Fn(&Mover, &MoverState) -> Wish,
    wind: [f64; 3],
    time_s: f64,
    step_s: f64,
) -> MoverState {
    let mut state = MoverState::at([0.0, 0.0, 100.0]);
    for _ in 0..(time_s / step_s).round() as usize {
        let now = wish(mover, &state);
        mover.step(&mut state, now, wind, DENSITY_KGPM3, 1.0, step_s);
    }
    state
}

/// Five normals of a step for turbulence.
fn normals(source: &Source, flight: u32, step: u32) -> [f64; 5] {
    let [a, b, c, d] = source.normals(flight, step, 0);
    [a, b, c, d, source.normals(flight, step, 1)[0]]
}

// ---- Turbulence

/// Variance at one moment over many flights is that of the standard, for short and long steps, and stays it while the
/// craft changes height and speed.
#[test]
fn turbulence_has_the_stated_variance_whatever_the_step() {
    let source = Source::new(3, Purpose::Trial);
    for step_s in [0.02, 0.05, 0.5] {
        let mut squares = [0.0; 3];
        let flights = 20_000;
        let last = low_altitude(30.0);
        for flight in 0..flights {
            let mut state = Dryden::stationary(normals(&source, flight, u32::MAX));
            let mut gust = [0.0; 3];
            for step in 0..12 {
                // A fast low pass first, then slow and higher.
                let (air, airspeed_mps) = if step < 6 { (low_altitude(4.0), 15.0) } else { (last, 3.0) };
                gust = state.step(air, 0.7, airspeed_mps, step_s, normals(&source, flight, step));
            }
            for (sum, g) in squares.iter_mut().zip(gust) {
                *sum += g * g;
            }
        }
        let sigma_u = 0.7 * last.sigma_ratio;
        for (sum, sigma) in squares.iter().zip([sigma_u, sigma_u, 0.7]) {
            let ratio = sum / f64::from(flights) / (sigma * sigma);
            // Five standard errors of a variance.
            assert!((ratio - 1.0).abs() < 5.0 * (2.0 / f64::from(flights)).sqrt(), "{step_s}: {ratio}");
        }
    }
}

/// Correlation over a lag, over many flights, against the closed form.
#[test]
fn turbulence_has_the_stated_correlation() {
    let source = Source::new(4, Purpose::Trial);
    let air = low_altitude(20.0);
    let (airspeed_mps, step_s, flights) = (10.0, 0.05, 12_000);
    for lag_steps in [10, 40, 120] {
        let mut products = [0.0; 3];
        for flight in 0..flights {
            let mut state = Dryden::stationary(normals(&source, flight, u32::MAX));
            // A step of no length tells the state.
            let first = state.step(air, 1.0, airspeed_mps, 0.0, [0.0; 5]);
            let mut gust = first;
            for step in 0..lag_steps {
                gust = state.step(air, 1.0, airspeed_mps, step_s, normals(&source, flight, step));
            }
            for axis in 0..3 {
                products[axis] += first[axis] * gust[axis];
            }
        }
        let lag_s = f64::from(lag_steps) * step_s;
        for (axis, component) in [Component::Along, Component::Across, Component::Up].into_iter().enumerate() {
            let sigma = if axis == 2 { 1.0 } else { air.sigma_ratio };
            let length_m = if axis == 2 { air.length_w_m } else { air.length_u_m };
            let got = products[axis] / f64::from(flights) / (sigma * sigma);
            let want = crate::reference::air::turbulence::autocorrelation(component, length_m, airspeed_mps, lag_s);
            assert!(
                (got - want).abs() < 5.0 * (2.0 / f64::from(flights)).sqrt(),
                "{component:?} {lag_s}: {got} {want}"
            );
        }
    }
}

/// Spectrum by averaged periodograms against the closed form, at frequencies where leakage is small.
#[test]
fn turbulence_has_the_stated_spectrum() {
    let source = Source::new(5, Purpose::Trial);
    let air = low_altitude(15.0);
    let (airspeed_mps, step_s, samples, records) = (12.0, 0.1, 2_048_usize, 400_u32);
    let mut planner = rustfft::FftPlanner::new();
    let transform = planner.plan_fft_forward(samples);
    let mut power = vec![[0.0; 3]; samples / 2];
    // A Hann window keeps the steep low end out of the high frequencies.
    let window: Vec<f64> =
        (0..samples).map(|k| 0.5 - 0.5 * (std::f64::consts::TAU * k as f64 / samples as f64).cos()).collect();
    let weight: f64 = window.iter().map(|w| w * w).sum();
    for record in 0..records {
        let mut state = Dryden::stationary(normals(&source, record, u32::MAX));
        let gusts: Vec<[f64; 3]> = (0..samples)
            .map(|step| state.step(air, 1.0, airspeed_mps, step_s, normals(&source, record, step as u32)))
            .collect();
        for axis in 0..3 {
            let mut line: Vec<rustfft::num_complex::Complex<f64>> =
                gusts.iter().zip(&window).map(|(gust, w)| (gust[axis] * w).into()).collect();
            transform.process(&mut line);
            for (bin, value) in power.iter_mut().zip(&line) {
                bin[axis] += value.norm_sqr();
            }
        }
    }
    for (axis, component) in [Component::Along, Component::Across, Component::Up].into_iter().enumerate() {
        let sigma = if axis == 2 { 1.0 } else { air.sigma_ratio };
        let length_m = if axis == 2 { air.length_w_m } else { air.length_u_m };
        // Bands of 16 bins; up to a tenth of the sampling frequency aliasing adds less than the tolerance.
        for band in 1..12 {
            let bins = 16 * band..16 * (band + 1);
            let (mut got, mut want) = (0.0, 0.0);
            for bin in bins {
                let frequency = std::f64::consts::TAU * bin as f64 / (samples as f64 * step_s);
                got += power[bin][axis] * step_s / (f64::from(records) * weight * std::f64::consts::TAU);
                want +=
                    crate::reference::air::turbulence::psd_m2ps2_s(component, sigma, length_m, airspeed_mps, frequency);
            }
            // 16 bins × 400 records, neighbouring bins correlated by the window: about 2 % a standard error.
            assert!((got / want - 1.0).abs() < 0.10, "{component:?} band {band}: {got:e} {want:e}");
        }
    }
}

/// The spectra integrate to the variance, and the correlation is theirs.
#[test]
fn spectrum_and_correlation_are_a_pair() {
    for component in [Component::Along, Component::Across, Component::Up] {
        let (sigma, length_m, airspeed_mps) = (1.3, 80.0, 11.0);
        // Substitution ω = tan(x)/T maps the half line to (0, π/2).
        let time_s = length_m / airspeed_mps;
        let steps = 200_000;
        let mut variance = 0.0;
        for k in 0..steps {
            let x = (k as f64 + 0.5) / steps as f64 * std::f64::consts::FRAC_PI_2;
            let omega = x.tan() / time_s;
            let slope = (1.0 + x.tan() * x.tan()) / time_s;
            variance += 2.0
                * crate::reference::air::turbulence::psd_m2ps2_s(component, sigma, length_m, airspeed_mps, omega)
                * slope
                * std::f64::consts::FRAC_PI_2
                / steps as f64;
        }
        assert!((variance / (sigma * sigma) - 1.0).abs() < 1e-6, "{component:?}: {variance}");
        assert_eq!(crate::reference::air::turbulence::autocorrelation(component, length_m, airspeed_mps, 0.0), 1.0);
    }
}

// ---- The air of a flight

fn club() -> Scenario {
    let text = std::fs::read_to_string(concat!(env!("LOSTLINK_ROOT"), "scenarios/club-field.toml")).unwrap();
    scenario::read("club-field.toml", &text, &NoFiles).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn grid_of(obstacles: &[Obstacle]) -> SiteGrid {
    SiteGrid::new(&GridInput {
        extent_m: [-1_500.0, -1_500.0, 1_500.0, 1_500.0],
        cell_m: Some(5.0),
        terrain: None,
        zones: &[],
        obstacles,
        fence: None,
        fence_margin_m: 0.0,
        people_per_km2: 0.0,
    })
}

/// The wind of a flight has the mean and the spread of its parts: profile, drift, turbulence.
#[test]
fn wind_of_a_flight_adds_up() {
    let mut weather = club().weather;
    weather.wind_mps = Uncertain::Exact(6.0);
    weather.from_deg = Uncertain::Exact(270.0);
    weather.turbulence = Uncertain::Exact(1.0);
    weather.gust_mps = Uncertain::Exact(0.0);
    weather.drift_mps = Uncertain::Exact(0.8);
    weather.drift_memory_s = Uncertain::Exact(60.0);
    weather.veer_deg_per_100m = 0.0;
    let grid = grid_of(&[]);
    let field = AirField::new(&weather, &grid, 100.0, None);
    let draws = weather.central();
    let source = Source::new(9, Purpose::Wind);
    let height_m = 40.0;
    let flights = 4_000;
    let (mut sum, mut squares) = ([0.0; 3], [0.0; 3]);
    for flight in 0..flights {
        let setup = AirSetup::new(&draws, &field, &source, flight, 300.0);
        let drawn = WindDraws::new(source, flight);
        let mut air = AirState::new(&setup, &drawn);
        let mut now = [0.0; 3];
        for step in 0..150 {
            now = air.step(&setup, &field, &drawn, &whole_step(step, 0.1), [0.0, 0.0, height_m], height_m, [0.0; 3]);
        }
        for axis in 0..3 {
            sum[axis] += now[axis];
            squares[axis] += now[axis] * now[axis];
        }
    }
    let n = f64::from(flights);
    let share = field.height_share(height_m);
    let mean_mps = wind::log_law_mps(6.0, weather.wind_height_m, height_m, weather.roughness_m);
    assert!((share * 6.0 / mean_mps - 1.0).abs() < 1e-12);
    let sigma_w = field.sigma_w_mps(&draws);
    let sigma_u = sigma_w * low_altitude(height_m).sigma_ratio;
    // Drift is linear between corner points; at their middle its variance is (1 + a)/2 of the full one, at 14.9 s nearly all.
    let drift = 0.8 * share;
    let spread = (sigma_u * sigma_u + drift * drift).sqrt();
    for (axis, (mean, sigma)) in [(mean_mps, spread), (0.0, spread), (0.0, sigma_w)].into_iter().enumerate() {
        assert!((sum[axis] / n - mean).abs() < 5.0 * sigma / n.sqrt(), "axis {axis}: mean {}", sum[axis] / n);
        let variance = squares[axis] / n - (sum[axis] / n) * (sum[axis] / n);
        assert!((variance / (sigma * sigma) - 1.0).abs() < 0.13, "axis {axis}: {variance} {}", sigma * sigma);
    }
}

/// The same draws whatever the way flown: at the same place and speed two craft feel the same air, though one has
/// been elsewhere; without turbulence it is the same to the bit.
#[test]
fn wind_is_keyed_by_flight_and_step_alone() {
    let mut weather = club().weather;
    weather.turbulence = Uncertain::Exact(0.0);
    weather.gust_mps = Uncertain::Exact(0.0);
    weather.drift_mps = Uncertain::Exact(1.0);
    let grid = grid_of(&[]);
    let field = AirField::new(&weather, &grid, 100.0, None);
    let draws = weather.central();
    let source = Source::new(9, Purpose::Wind);
    let setup = AirSetup::new(&draws, &field, &source, 5, 300.0);
    let drawn = WindDraws::new(source, 5);
    let (mut one, mut other) = (AirState::new(&setup, &drawn), AirState::new(&setup, &drawn));
    for step in 0..2_000 {
        let far = [400.0, -50.0, 90.0];
        let a = one.step(&setup, &field, &drawn, &whole_step(step, 0.05), [0.0, 0.0, 30.0], 30.0, [0.0; 3]);
        let here = if step < 1_900 { far } else { [0.0, 0.0, 30.0] };
        let b = other.step(&setup, &field, &drawn, &whole_step(step, 0.05), here, here[2], [9.0, 0.0, 0.0]);
        if step >= 1_900 {
            assert_eq!(a, b);
        }
    }
}

fn whole_step(step: u32, step_s: f64) -> AirWhen {
    AirWhen { step, step_s, for_s: step_s }
}

/// A barn 10 m wide, 40 m long and 12 m high, west of the origin.
fn barn() -> Obstacle {
    Obstacle {
        name: "barn".into(),
        kind: ObstacleKind::Building,
        area: Area::Polygon(vec![[-10.0, -20.0], [0.0, -20.0], [0.0, 20.0], [-10.0, 20.0]]),
        height_m: 12.0,
        base_m: 0.0,
    }
}

/// Where the wind comes from one of a few directions, only those are worked out; what they give is the same.
#[test]
fn a_choice_of_winds_meets_what_a_range_meets() {
    let grid = grid_of(&[barn()]);
    let field = |from_deg: Uncertain| {
        let weather = Weather { from_deg, lee_heights: 10.0, ..club().weather };
        AirField::new(&weather, &grid, 0.0, None)
    };
    let of_range = field(Uncertain::Uniform(80.0, 260.0));
    let of_choice = field(Uncertain::Choice(vec![(80.0, 1.0), (260.0, 3.0), (117.0, 2.0)]));
    let mut behind = 0;
    for from_deg in [80.0, 117.0, 260.0] {
        let wind = Weather { from_deg: Uncertain::Exact(from_deg), ..club().weather }.central();
        let (one, other) = (of_range.mean_wind(&wind), of_choice.mean_wind(&wind));
        for (x, y) in (-30..30).flat_map(|x| (-30..30).map(move |y| (4.0 * f64::from(x), 4.0 * f64::from(y)))) {
            let share = of_range.lee_share(&one, [x, y], 3.0);
            assert_eq!(of_choice.lee_share(&other, [x, y], 3.0), share, "from {from_deg} at {x}, {y}");
            behind += u32::from(share < 0.9);
        }
    }
    assert!(behind > 300, "{behind} places in the shadow");
}

/// Wind turns clockwise with height and is weaker behind an obstacle than beside it.
#[test]
fn veer_and_lee() {
    let mut weather = club().weather;
    weather.wind_mps = Uncertain::Exact(8.0);
    weather.from_deg = Uncertain::Exact(270.0);
    weather.wind_height_m = 10.0;
    weather.veer_deg_per_100m = 20.0;
    weather.lee_heights = 10.0;
    let grid = grid_of(&[barn()]);
    let field = AirField::new(&weather, &grid, 0.0, None);
    let mean = field.mean_wind(&weather.central());
    let high = field.wind_at_height_mps(&mean, 60.0);
    assert!(
        (wind::from_rad(high).to_degrees() + 90.0 - 10.0).abs() < 0.01,
        "west wind at 10 m comes from 280° at 60 m"
    );
    let share = |x: f64, y: f64, z: f64| field.lee_share(&mean, [x, y], z);
    assert!(share(20.0, 0.0, 2.0) < 0.6);
    assert!(share(60.0, 0.0, 2.0) > share(20.0, 0.0, 2.0) && share(60.0, 0.0, 2.0) < 1.0);
    assert_eq!((share(200.0, 0.0, 2.0), share(-60.0, 0.0, 2.0), share(20.0, 80.0, 2.0)), (1.0, 1.0, 1.0));
    assert_eq!(share(20.0, 0.0, 13.0), 1.0);
    let beside = field.wind_at_mps(&mean, [20.0, 80.0], 2.0);
    let behind = field.wind_at_mps(&mean, [20.0, 0.0], 2.0);
    assert!(behind[0] < 0.6 * beside[0]);
}

// ---- Battery

/// Energy out of the pack is the integral of power; with the heat it is the open-circuit energy that left.
#[test]
fn pack_energy_balances() {
    let pack = pack();
    let mut state = pack.at(1.0);
    let (mut demanded_j, mut delivered_j, mut heat_j, step_s) = (0.0, 0.0, 0.0, 0.05);
    for step in 0..14_000_u32 {
        let power_w = 140.0 + 90.0 * (f64::from(step) * 0.01).sin();
        let now = pack.step(&mut state, power_w, step_s);
        assert!(!now.power_limited);
        demanded_j += power_w * step_s;
        delivered_j += now.power_w * step_s;
        heat_j += now.current_a * now.current_a * pack.resistance_ohm * step_s;
    }
    assert!((delivered_j / demanded_j - 1.0).abs() < 1e-9, "{} {demanded_j}", delivered_j);
    let left_j = open_circuit_energy_j(&pack, 1.0, state.charge);
    assert!(((delivered_j + heat_j) / left_j - 1.0).abs() < 1e-5, "{} {left_j}", delivered_j + heat_j);
    assert!(heat_j > 0.0 && state.charge > 0.3 && state.charge < 0.5);
}

/// Cold raises the resistance, which costs voltage and time to the cut-off.
#[test]
fn cold_and_age_shorten_the_flight() {
    let time = |temperature_k: f64, health: f64| {
        let pack = pouch_pack(6, 2.2 * health, 0.04, temperature_k, [3.5, 3.3, 3.0]);
        crate::reference::craft::battery::time_to_cutoff_s(&pack, 143.0, 1.0, 3.5).unwrap()
    };
    assert!(time(298.15, 1.0) > time(273.15, 1.0));
    assert!(time(273.15, 1.0) > time(258.15, 1.0));
    assert!(time(298.15, 1.0) > 1.08 * time(298.15, 0.9));
}

/// The charge that a constant power leaves is reached at the closed time, with the levels in order on the way.
#[test]
fn pack_levels_come_in_order() {
    let pack = pack();
    let mut state = pack.at(0.3);
    let mut last = PackLevel::Fine;
    let mut reached = vec![];
    for _ in 0..20_000 {
        let level = pack.step(&mut state, 160.0, 0.05).level;
        assert!(level >= last);
        if level > last {
            reached.push(level);
        }
        last = level;
    }
    assert_eq!(reached, [PackLevel::Warn, PackLevel::Land, PackLevel::Cutoff]);
    assert_eq!(battery::cell_open_circuit_v(state.charge), 3.0);
}

// ---- The velocity loop over a step

/// Velocity left after a time of a loop with a lagging thrust that takes 1 m/s away, in steps of a ten-thousandth of a second, the
/// demand turned by an angle given as (cos θ, sin θ): in complex numbers dv/dt = a, da/dt = (−e^(iθ) v/τ − a)/T.
fn loop_left([velocity_lag_s, attitude_lag_s]: [f64; 2], [cos, sin]: [f64; 2], time_s: f64) -> [f64; 2] {
    let (h, mut v, mut a) = (1e-4, [1.0, 0.0], [0.0, 0.0]);
    let slope = |v: [f64; 2], a: [f64; 2]| {
        let asks = [-(cos * v[0] - sin * v[1]) / velocity_lag_s, -(sin * v[0] + cos * v[1]) / velocity_lag_s];
        [(asks[0] - a[0]) / attitude_lag_s, (asks[1] - a[1]) / attitude_lag_s]
    };
    let on = |x: [f64; 2], by_s: f64, rate: [f64; 2]| [x[0] + by_s * rate[0], x[1] + by_s * rate[1]];
    for _ in 0..(time_s / h).round() as u32 {
        let middle = on(a, 0.5 * h, slope(v, a));
        let second = slope(on(v, 0.5 * h, a), middle);
        (v, a) = (on(v, h, middle), on(a, h, second));
    }
    v
}

/// How far a craft that holds its demand over steps is off that loop at most, looked at every so often. `demand` gives its acceleration
/// for the velocity that it measures.
fn held_off_mps(
    lags_s: [f64; 2],
    turn: [f64; 2],
    step_s: f64,
    [every_s, until_s]: [f64; 2],
    demand: impl Fn(&Mover, [f64; 3]) -> [f64; 3],
) -> f64 {
    let [velocity_lag_s, attitude_lag_s] = lags_s;
    let one = Mover {
        linear_drag_per_s: 0.0,
        rotors: Rotors { drag_area_m2: 0.0, ..mover().rotors },
        velocity_loop: HeldLoop::over_steps(velocity_lag_s, attitude_lag_s, step_s),
        attitude_lag_s,
        ..mover()
    };
    let mut state = MoverState::at([0.0, 0.0, 50.0]);
    // Slow enough that no limit is met.
    state.velocity_mps[0] = 0.1;
    let mut worst: f64 = 0.0;
    for step in 1..=(until_s / step_s).round() as u32 {
        let wish = Wish::Acceleration(demand(&one, one.ahead_mps(&state, [0.0; 3], 1.2)));
        one.step(&mut state, wish, [0.0; 3], 1.2, 1.0, step_s);
        if step % (every_s / step_s).round() as u32 == 0 {
            let exact = loop_left(lags_s, turn, f64::from(step) * step_s);
            let off = |axis: usize| 10.0 * state.velocity_mps[axis] - exact[axis];
            worst = worst.max(off(0).hypot(off(1)));
        }
    }
    worst
}

/// A demand that holds over a step answers as a loop that never rests: to second order in the step, and without a swing of
/// its own where the loop is faster than the step.
#[test]
fn a_held_demand_answers_as_a_loop_that_never_rests() {
    for (velocity_lag_s, attitude_lag_s, most) in
        [(0.8, 0.2, 2e-3), (0.8, 0.05, 2e-3), (0.4, 0.2, 6e-3), (2.0, 0.5, 5e-4), (0.2, 0.01, 0.01), (0.05, 0.01, 0.06)]
    {
        let mut last = f64::INFINITY;
        for step_s in [0.1, 0.05, 0.025] {
            let demand = |one: &Mover, seen: [f64; 3]| one.accel_demand([0.0; 3], seen);
            let worst = held_off_mps([velocity_lag_s, attitude_lag_s], [1.0, 0.0], step_s, [0.1, 1.2], demand);
            let what = format!("τ {velocity_lag_s} s, T {attitude_lag_s} s at {step_s} s: {worst}");
            assert!(worst < most, "{what}");
            // A third of it for half the step, or nothing to speak of.
            assert!(worst < (0.4 * last).max(3e-4), "{what}, {last} before");
            last = worst;
        }
    }
}

/// The same of a craft whose idea of north is turned: from 1 m/s, with rest as its aim, the velocity turns and dies away, or grows
/// beyond the angle at which the loop is stable (76°), and what is off with it.
#[test]
fn a_held_demand_turned_by_a_wrong_north_answers_as_a_loop_that_never_rests() {
    for (degrees, most) in [(0.0_f64, 0.02), (40.0, 0.02), (80.0, 0.05), (110.0, 0.12)] {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let mut last = f64::INFINITY;
        for step_s in [0.2, 0.1, 0.05] {
            let demand =
                |one: &Mover, seen: [f64; 3]| one.turned_demand([0.0; 3], seen, &one.velocity_loop.turned([cos, sin]));
            let worst = held_off_mps([0.8, 0.2], [cos, sin], step_s, [1.0, 3.0], demand);
            assert!(worst < most && worst < (0.4 * last).max(3e-4), "{degrees}° at {step_s} s: {worst}, {last} before");
            last = worst;
        }
    }
}

// ---- Fall

/// The flight loop's integrator against the accurate one, over the masses and winds of the product.
#[test]
fn stepped_fall_follows_the_accurate_one() {
    for (mass_kg, area_m2) in [(0.1, 0.006), (1.0, 0.03), (10.0, 0.22)] {
        let body = FallBody::new(mass_kg, area_m2);
        for velocity in [[0.0, 0.0, 0.0], [15.0, 0.0, 0.0], [8.0, -3.0, 3.0]] {
            for wind in [[0.0; 3], [9.0, -4.0, 0.0]] {
                let exact = fall_exact(&body, 80.0, velocity, wind, 1.15).unwrap();
                let mut last = f64::INFINITY;
                for step_s in [0.1, 0.05, 0.025] {
                    let stepped = fall_stepped(&body, 80.0, velocity, wind, 1.15, step_s).unwrap();
                    let off =
                        (stepped.distance_m - exact.distance_m).abs().max((stepped.cross_m - exact.cross_m).abs());
                    assert!(off < 0.02 && (stepped.speed_mps() / exact.speed_mps() - 1.0).abs() < 2e-3, "{off}");
                    assert!(off <= last.max(1e-4));
                    last = off;
                }
            }
        }
    }
}

/// Without drag the fall is the parabola, by both integrators.
#[test]
fn fall_without_drag_is_the_closed_form() {
    let body = FallBody::new(1.0, 0.0);
    let want = without_drag(50.0, 10.0, STANDARD_GRAVITY_MPS2);
    for fall in [
        fall_exact(&body, 50.0, [10.0, 0.0, 0.0], [5.0, 5.0, 0.0], DENSITY_KGPM3).unwrap(),
        fall_stepped(&body, 50.0, [10.0, 0.0, 0.0], [5.0, 5.0, 0.0], DENSITY_KGPM3, 0.05).unwrap(),
    ] {
        assert!((fall.distance_m - want.distance_m).abs() < 0.01 && fall.cross_m == 0.0);
        assert!((fall.speed_mps() - want.speed_mps()).abs() < 0.01);
    }
}

// ---- Motion

/// A craft asked for more than it can do reaches the closed-form top speed.
#[test]
fn tilt_limited_speed_is_reached() {
    let mover = mover();
    let want = crate::reference::craft::kinematics::tilt_limited_mps(
        30_f64.to_radians(),
        0.15,
        kinematics::drag_per_m(1.0, 0.018, DENSITY_KGPM3),
    );
    assert!((mover.tilt_limited_mps(DENSITY_KGPM3) - want).abs() < 1e-9);
    let state = fly(&mover, at([40.0, 0.0, 0.0]), [0.0; 3], 60.0, 0.05);
    assert!((state.velocity_mps[0] / want - 1.0).abs() < 1e-6, "{} {want}", state.velocity_mps[0]);
    assert!((state.place_m[2] - 100.0).abs() < 0.5);
    // Against a stronger headwind it goes backwards, by the difference.
    let blown = fly(&mover, at([10.0, 0.0, 0.0]), [-(want + 4.0), 0.0, 0.0], 80.0, 0.05);
    assert!((blown.velocity_mps[0] + 4.0).abs() < 1e-3, "{}", blown.velocity_mps[0]);
}

/// In any bearable wind it flies the ground velocity aimed for, without a lasting error.
#[test]
fn ground_velocity_is_held_in_wind() {
    let mover = mover();
    for wind in [[0.0; 3], [6.0, -3.0, 0.5], [-9.0, 0.0, -0.5]] {
        let state = fly(&mover, at([5.0, 4.0, -1.0]), wind, 40.0, 0.05);
        for (got, want) in state.velocity_mps.iter().zip([5.0, 4.0, -1.0]) {
            assert!((got - want).abs() < 1e-6, "{wind:?}: {:?}", state.velocity_mps);
        }
    }
}

/// A gust pushes the craft before the attitude answers, then it comes back to its speed.
#[test]
fn a_gust_disturbs_and_is_answered() {
    let mover = mover();
    let mut state = fly(&mover, at([0.0; 3]), [3.0, 0.0, 0.0], 20.0, 0.02);
    let mut most: f64 = 0.0;
    for _ in 0..500 {
        step_at(&mover, &mut state, [0.0; 3], [9.0, 0.0, 0.0], DENSITY_KGPM3, 1.0, 0.02);
        most = most.max(state.velocity_mps[0]);
    }
    assert!(most > 0.1 && most < 1.0, "{most}");
    assert!(state.velocity_mps[0].abs() < 0.01);
}

/// Level hold without a fix is the closed form of the drift.
#[test]
fn level_hold_drifts_by_the_closed_form() {
    let mover = mover();
    let drag = kinematics::drag_per_m(1.0, 0.018, DENSITY_KGPM3);
    for (linear, wind_mps) in [(0.15, 6.0), (0.0, 6.0), (0.4, 11.0)] {
        let mover = Mover { linear_drag_per_s: linear, ..mover };
        for time_s in [10.0, 30.0] {
            let state = fly(
                &mover,
                |_, _| Wish::Attitude { slope: [0.0; 2], sink_mps: 0.0 },
                [wind_mps, 0.0, 0.0],
                time_s,
                0.05,
            );
            let want_m = crate::reference::craft::kinematics::drift_distance_m(wind_mps, linear, drag, time_s);
            let want_mps = crate::reference::craft::kinematics::drift_speed_mps(wind_mps, linear, drag, time_s);
            assert!((state.place_m[0] / want_m - 1.0).abs() < 2e-3, "{} {want_m}", state.place_m[0]);
            assert!((state.velocity_mps[0] / want_mps - 1.0).abs() < 2e-3);
            assert!((state.place_m[2] - 100.0).abs() < 1e-6);
        }
    }
    // An attitude error drifts it in still air at the closed-form speed.
    let tilted = Mover { level_error: [1_f64.to_radians().tan(), 0.0], ..mover };
    let state = fly(&tilted, |_, _| Wish::Attitude { slope: [0.0; 2], sink_mps: 1.0 }, [0.0; 3], 90.0, 0.05);
    let want = crate::reference::craft::kinematics::bias_drift_mps(1_f64.to_radians(), 0.15, drag);
    // Sinking adds a little to the air speed that drag goes with.
    assert!((state.velocity_mps[0] / want - 1.0).abs() < 0.03, "{} {want}", state.velocity_mps[0]);
    assert!((state.velocity_mps[2] + 1.0).abs() < 1e-6);
}

/// Halving the step halves the difference, or better.
#[test]
fn motion_converges_with_the_step() {
    let mover = mover();
    let run = |step_s: f64| {
        let mut state = MoverState::at([0.0, 0.0, 20.0]);
        let mut energy_j = 0.0;
        for step in 0..(60.0 / step_s).round() as u32 {
            let time_s = f64::from(step) * step_s;
            let wish = match time_s {
                t if t < 10.0 => [0.0, 0.0, 4.0],
                t if t < 30.0 => [12.0, 0.0, 0.0],
                t if t < 45.0 => [-6.0, 8.0, 0.0],
                _ => [0.0, 0.0, -2.5],
            };
            let wind = [5.0 + (0.4 * time_s).sin(), 1.0, 0.3 * (0.7 * time_s).cos()];
            energy_j += step_s * step_at(&mover, &mut state, wish, wind, 1.2, 0.9, step_s).power_w;
        }
        (state.place_m, energy_j)
    };
    let (coarse, middle, fine, finest) = (run(0.1), run(0.05), run(0.025), run(0.0125));
    let off = |a: &([f64; 3], f64), b: &([f64; 3], f64)| world::length(a.0, b.0);
    let (first, second, third) = (off(&coarse, &middle), off(&middle, &fine), off(&fine, &finest));
    assert!(second < 0.65 * first && third < 0.65 * second, "{first} {second} {third}");
    assert!(second < 0.4, "a flight of 300 m ends {second} m apart for 0.05 s and 0.025 s");
    assert!((middle.1 / fine.1 - 1.0).abs() < 2e-3);
}

/// Fast vertical descents enter the vortex ring, slow ones and those with forward speed do not.
#[test]
fn vortex_ring_is_met_in_fast_vertical_descents_only() {
    let fast = Mover { descent_max_mps: 6.0, ..mover() };
    let exposure = |wish: [f64; 3]| {
        let mut state = MoverState::at([0.0, 0.0, 200.0]);
        let mut steps = 0;
        for _ in 0..400 {
            steps += u32::from(step_at(&fast, &mut state, wish, [0.0; 3], DENSITY_KGPM3, 1.0, 0.05).vortex_ring);
        }
        steps
    };
    assert!(
        (VORTEX_RING.0
            * rotor::hover_induced_mps(fast.mass_kg * STANDARD_GRAVITY_MPS2, fast.rotors.disc_area_m2, DENSITY_KGPM3)
            - 3.174)
            .abs()
            < 0.01
    );
    assert!(exposure([0.0, 0.0, -5.0]) > 300);
    assert_eq!(exposure([0.0, 0.0, -2.5]), 0);
    assert_eq!(exposure([0.0, 0.0, 4.0]), 0);
    let with_speed = exposure([12.0, 0.0, -5.0]);
    assert!(with_speed < 60, "{with_speed}: passed through while it picks up speed");
}

/// Too little thrust keeps the height before the way; none at all lets it fall.
#[test]
fn weak_thrust_keeps_the_height_first() {
    let mover = mover();
    let mut state = MoverState::at([0.0, 0.0, 100.0]);
    // 4 × 0.28 = 1.12 weights: enough to hover and to climb a little, not to tilt by 30°.
    for _ in 0..600 {
        let now = step_at(&mover, &mut state, [30.0, 0.0, 0.0], [0.0; 3], DENSITY_KGPM3, 0.28, 0.05);
        assert!(now.thrust_n <= 4.0 * 0.28 * STANDARD_GRAVITY_MPS2 + 1e-9);
    }
    assert!((state.place_m[2] - 100.0).abs() < 1.0 && state.velocity_mps[0] > 8.0, "{state:?}");
    for _ in 0..40 {
        step_at(&mover, &mut state, [0.0; 3], [0.0; 3], DENSITY_KGPM3, 0.2, 0.05);
    }
    assert!(state.velocity_mps[2] < -2.0);
}

/// What flies costs what the planning model says.
#[test]
fn flown_power_is_the_planned_power() {
    let mover = mover();
    let level = mover.rotors.level(1.0, DENSITY_KGPM3).with_linear_drag(0.15);
    for speed_mps in [0.0, 5.0, 10.0, 15.0] {
        let mut state = fly(&mover, at([speed_mps, 0.0, 0.0]), [0.0; 3], 60.0, 0.05);
        let now = step_at(&mover, &mut state, [speed_mps, 0.0, 0.0], [0.0; 3], DENSITY_KGPM3, 1.0, 0.05);
        assert!((now.power_w / level.power_w(speed_mps) - 1.0).abs() < 1e-4, "{speed_mps}: {}", now.power_w);
    }
}

// ---- Energy to come home

struct Plan {
    scenario: Scenario,
    grid: SiteGrid,
    field: AirField,
}

fn plan(wind_mps: f64) -> Plan {
    let mut scenario = club();
    scenario.weather.wind_mps = Uncertain::Exact(wind_mps);
    scenario.weather.from_deg = Uncertain::Exact(270.0);
    scenario.weather.veer_deg_per_100m = 0.0;
    let grid = grid_of(&[]);
    let field = AirField::new(&scenario.weather, &grid, 0.0, None);
    Plan { scenario, grid, field }
}

fn home(plan: &Plan) -> HomeEnergy<'_> {
    let craft = plan.scenario.craft.central();
    let draws = plan.scenario.weather.central();
    HomeEnergy::new(&craft, &draws, &plan.field, &plan.grid, [0.0; 3])
}

fn way(height_m: f64) -> Way {
    Way { height: ReturnHeight::exactly_m(height_m), ..Way::level() }
}

/// The planned charge to come home is what a simulated way home uses.
#[test]
fn planned_way_home_matches_the_flown_one() {
    let plan = plan(5.0);
    let energy = home(&plan);
    let (start, height_m, charge) = ([600.0, 0.0, 30.0], 60.0, 0.8);
    let way = Way { home_circle_m: 40.0, ..way(height_m) };
    let need = energy.need(&way, start, 60.0, charge).unwrap();
    let mut state = MoverState::at(start);
    let mut pack = energy.pack.at(charge);
    let mut time_s = 0.0;
    let mut stage = 0;
    while state.place_m[2] > 0.0 {
        let [x, _, z] = state.place_m;
        if stage == 0 && z >= height_m {
            stage = 1;
        }
        if stage == 1 && x <= way.home_circle_m {
            stage = 2;
        }
        let wish = match stage {
            0 => [0.0, 0.0, energy.mover.climb_max_mps],
            1 => [-energy.cruise_mps, 0.0, 0.0],
            _ if z > energy.slow_below_m => [0.0, 0.0, -energy.mover.descent_max_mps],
            _ => [0.0, 0.0, -energy.final_descent_mps],
        };
        let [wx, wy] = plan.field.wind_at_height_mps(&energy.mean, z);
        let density = energy.level.density_kgpm3;
        let now = step_at(&energy.mover, &mut state, wish, [wx, wy, 0.0], density, 1.0, 0.05);
        energy.pack.step(&mut pack, now.power_w, 0.05);
        time_s += 0.05;
        assert!(time_s < 1_000.0);
    }
    assert!((time_s / need.time_s - 1.0).abs() < 0.03, "{time_s} {}", need.time_s);
    assert!(((charge - pack.charge) / need.used - 1.0).abs() < 0.03, "{} {}", charge - pack.charge, need.used);
    assert!(need.headwind_mps > 5.0 && need.airspeed_mps > energy.cruise_mps);
}

/// Stronger wind costs more to come home against, until there is no way; the limits agree with each other.
#[test]
fn headwind_costs_until_there_is_no_way() {
    let place = [800.0, 0.0, 60.0];
    let needs: Vec<Option<f64>> = [0.0, 4.0, 8.0, 12.0, 30.0]
        .into_iter()
        .map(|wind_mps| home(&plan(wind_mps)).need(&way(60.0), place, 60.0, 0.9).map(|need| need.charge))
        .collect();
    let known: Vec<f64> = needs.iter().flatten().copied().collect();
    assert!(known.len() >= 3 && known.windows(2).all(|pair| pair[1] > pair[0]), "{needs:?}");
    assert_eq!(needs[4], None);
    // Lower is cheaper against the wind.
    let windy = plan(8.0);
    let energy = home(&windy);
    let charge = |height_m: f64| energy.need(&way(height_m), [800.0, 0.0, 20.0], 20.0, 0.9).unwrap().charge;
    assert!(charge(100.0) > charge(20.0));
}

/// The best speed costs no more for a stretch of the way than any other, and is faster into a headwind.
#[test]
fn best_speed_home_is_the_cheapest() {
    let mut last_airspeed = 0.0;
    for wind_mps in [0.0, 4.0, 7.0] {
        let plan = plan(wind_mps);
        let energy = home(&plan);
        let place = [900.0, 0.0, 40.0];
        let best = energy.best_speed(&way(40.0), place, 40.0).unwrap();
        // What picking up speed and slowing down take is the same from both places.
        let with = |speed_mps: f64| {
            let way = Way { speed_mps: Some(speed_mps), ..way(40.0) };
            let from = |x_m: f64| energy.need(&way, [x_m, 0.0, 40.0], 40.0, 0.9).unwrap().energy_j;
            from(900.0) - from(500.0)
        };
        let least_j = with(best.ground_mps);
        for speed_mps in [3.0, 6.0, 9.0, 12.0, 15.0] {
            assert!(with(speed_mps) >= least_j * (1.0 - 1e-6), "{wind_mps} {speed_mps}");
        }
        assert!(best.airspeed_mps > last_airspeed || best.airspeed_mps > 0.99 * energy.top_airspeed_mps());
        last_airspeed = best.airspeed_mps;
    }
}

/// Flown out along the wind, the path has a point of no return: before it home can be reached, behind it not.
#[test]
fn a_downwind_path_has_a_point_of_no_return() {
    let plan = plan(9.0);
    let energy = home(&plan);
    let path = FlightPath::new([0.0, 0.0], 0.0, &[[0.0, 0.0, 80.0], [1_400.0, 0.0, 80.0]], 10.0, 4.0, 0.0);
    let ways = [way(80.0), way(20.0)];
    let along = energy.along(&path, &ways, 0.45, 20.0);
    assert!(along.windows(2).all(|pair| pair[1].charge < pair[0].charge && pair[1].time_s > pair[0].time_s));
    let high = energy.last_point(&along, 0, 0.1).expect("too far at 80 m");
    for point in &along {
        let reaches = point.home[0].is_some_and(|need| need.charge + 0.1 <= point.charge);
        assert_eq!(reaches, point.flown_m < high.flown_m, "{}", point.flown_m);
    }
    let low = energy.last_point(&along, 1, 0.1);
    assert!(low.is_none_or(|low| low.flown_m > high.flown_m), "lower meets less wind");
    assert!(along.last().unwrap().cheapest(|_| true).is_some());
    // A short path has none.
    let short = FlightPath::new([0.0, 0.0], 0.0, &[[0.0, 0.0, 30.0], [100.0, 0.0, 30.0]], 10.0, 4.0, 5.0);
    assert_eq!(energy.last_point(&energy.along(&short, &ways, 0.95, 20.0), 0, 0.1), None);
}

// ---- Never

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, rng_seed: RngSeed::Fixed(20_260_516), ..ProptestConfig::default() })]

    /// Nothing a craft of any class meets makes a number that is none.
    #[test]
    fn motion_and_pack_stay_finite(
        mass_kg in 0.1_f64..10.0,
        wish in prop::array::uniform3(-60.0_f64..60.0),
        wind in prop::array::uniform3(-40.0_f64..40.0),
        share in 0.0_f64..1.2,
        charge in 0.0_f64..1.0,
        density in 0.5_f64..1.5,
        step_s in 0.005_f64..0.2,
        level in any::<bool>(),
        off in any::<bool>(),
    ) {
        let class = ClassDefaults::for_mass(mass_kg).unwrap();
        let mover = Mover {
            mass_kg,
            linear_drag_per_s: class.linear_drag_per_s[2],
            rotors: Rotors {
                disc_area_m2: rotor::disc_area_m2(class.rotors, class.rotor_diameter_m),
                induced_factor: class.induced_factor,
                profile_power_w: class.profile_power_w,
                tip_speed_mps: class.tip_speed_mps,
                drag_area_m2: class.drag_area_m2[2],
                drive_efficiency: class.drive_efficiency[1],
                aux_power_w: class.aux_power_w,
            },
            tilt_max_tan: class.tilt_max_deg.to_radians().tan(),
            thrust_max_n: class.thrust_ratio * mass_kg * STANDARD_GRAVITY_MPS2,
            accel_max_mps2: class.accel_mps2,
            climb_max_mps: class.climb_mps,
            descent_max_mps: class.descent_mps,
            velocity_loop: HeldLoop::restless(class.velocity_lag_s),
            attitude_lag_s: class.attitude_lag_s,
            level_error: [0.02, -0.01],
        };
        let pack = pouch_pack(class.cells, class.capacity_ah, class.resistance_ohm, 263.15, [3.5, 3.3, 3.0]);
        let wish = match (off, level) {
            (true, _) => Wish::Attitude { slope: [0.3, -0.2], sink_mps: wish[2] },
            (_, true) => Wish::Attitude { slope: [0.0; 2], sink_mps: wish[2] },
            _ => Wish::Acceleration(wish),
        };
        let mut state = MoverState::at([0.0, 0.0, 50.0]);
        let mut charge = pack.at(charge);
        for _ in 0..200 {
            let now = mover.step(&mut state, wish, wind, density, share, step_s);
            let drawn = pack.step(&mut charge, now.power_w, step_s);
            let numbers = [
                now.thrust_n, now.throttle, now.power_w,
                drawn.cell_v, drawn.current_a, charge.charge, charge.filtered_cell_v,
            ];
            prop_assert!(numbers.iter().chain(&now.tilt).chain(&state.place_m).chain(&state.velocity_mps).all(|x| x.is_finite()));
            prop_assert!((0.0..=1.0).contains(&now.throttle) && now.power_w >= 0.0);
            prop_assert!((0.0..=1.0).contains(&charge.charge));
            let length = now.tilt.iter().map(|x| x * x).sum::<f64>();
            prop_assert!((length - 1.0).abs() < 1e-9);
        }
    }

    /// Nor does the way home, whatever the place, the wind and the way.
    #[test]
    fn energy_home_is_a_number_or_none(
        place in (-1_400.0_f64..1_400.0, -1_400.0_f64..1_400.0, 0.0_f64..200.0),
        wind_mps in 0.0_f64..30.0,
        height_m in 0.0_f64..150.0,
        kind in 0_usize..5,
        speed_mps in prop::option::of(0.5_f64..25.0),
        climbs_before in any::<bool>(),
        charge in 0.0_f64..1.0,
    ) {
        let plan = plan(wind_mps);
        let energy = home(&plan);
        let height = [
            ReturnHeight::here(),
            ReturnHeight::at_least_m(height_m),
            ReturnHeight::exactly_m(height_m),
            ReturnHeight::above_path_m(height_m),
            ReturnHeight::above_ground_m(height_m),
        ][kind];
        let way = Way { height, speed_mps, climbs_before, ..Way::level() };
        let place = [place.0, place.1, place.2];
        if let Some(need) = energy.need(&way, place, place[2], charge) {
            for x in [need.charge, need.energy_j, need.time_s, need.airspeed_mps, need.ground_mps, need.headwind_mps] {
                prop_assert!(x.is_finite());
            }
            prop_assert!(need.charge >= need.used && need.used >= 0.0 && need.time_s >= 0.0 && need.ground_mps > 0.0);
            prop_assert!(need.airspeed_mps <= energy.top_airspeed_mps() * (1.0 + 1e-9));
        }
    }

    /// More height, more speed, more mass at the same drag: a fall ends harder or further, never less.
    #[test]
    fn falls_are_ordered(height_m in 2.0_f64..200.0, speed_mps in 0.0_f64..20.0, area_m2 in 0.005_f64..0.2) {
        let body = FallBody::new(1.0, area_m2);
        let heavier = FallBody::new(1.5, area_m2);
        let higher = fall_exact(&body, 1.1 * height_m, [speed_mps, 0.0, 0.0], [0.0; 3], 1.2).unwrap();
        let base = fall_exact(&body, height_m, [speed_mps, 0.0, 0.0], [0.0; 3], 1.2).unwrap();
        let faster = fall_exact(&body, height_m, [speed_mps + 1.0, 0.0, 0.0], [0.0; 3], 1.2).unwrap();
        let heavy = fall_exact(&heavier, height_m, [speed_mps, 0.0, 0.0], [0.0; 3], 1.2).unwrap();
        prop_assert!(higher.distance_m >= base.distance_m && higher.time_s > base.time_s);
        prop_assert!(faster.distance_m > base.distance_m);
        prop_assert!(-heavy.velocity_mps[2] > -base.velocity_mps[2] && heavy.distance_m >= base.distance_m);
        let parabola = without_drag(height_m, speed_mps, STANDARD_GRAVITY_MPS2);
        prop_assert!(base.distance_m <= parabola.distance_m + 1e-9 && base.speed_mps() <= parabola.speed_mps() + 1e-9);
    }
}
