//! Whole flights against closed forms and integrations of high accuracy, written out here from the equations alone.

use crate::bench::{endings, fly, read};
use crate::plain::{self, CRAFT, NO_FIX, PILOT, SKY, STRONG, cut_at, policy};
use lostlink::flight::{Ending, Headline, record};
use lostlink::world::World;

const GRAVITY: f64 = 9.806_65;
/// ISO 2533 at sea level.
const DENSITY: f64 = 1.225;
/// Of [`CRAFT`].
const MASS_KG: f64 = 1.0;
const FALL_AREA_M2: f64 = 0.032;
const DRAG_AREA_M2: f64 = 0.018;
const LINEAR_PER_S: f64 = 0.15;

/// A logarithmic wind profile over grass, held below half a metre.
#[derive(Clone, Copy)]
struct Profile {
    reference_mps: [f64; 2],
    height_m: f64,
}

impl Profile {
    const ROUGHNESS_M: f64 = 0.03;

    fn from(wind_mps: f64, from_deg: f64, height_m: f64) -> Profile {
        let (sin, cos) = libm::sincos(from_deg.to_radians());
        Profile { reference_mps: [-wind_mps * sin, -wind_mps * cos], height_m }
    }

    fn at(&self, height_m: f64) -> [f64; 2] {
        let share = libm::log(height_m.max(0.5) / Self::ROUGHNESS_M) / libm::log(self.height_m / Self::ROUGHNESS_M);
        self.reference_mps.map(|w| share * w)
    }
}

/// Falls by m dv/dt = −m g − ½ ρ C_dA |v − w| (v − w) to z = 0, by the classical Runge–Kutta rule in steps of a
/// millisecond: place, velocity and time at the ground.
fn fall(place_m: [f64; 3], velocity_mps: [f64; 3], wind: &Profile) -> ([f64; 3], [f64; 3], f64) {
    let drag = 0.5 * DENSITY * FALL_AREA_M2 / MASS_KG;
    let slope = |s: &[f64; 6]| {
        let w = wind.at(s[2]);
        let u = [s[3] - w[0], s[4] - w[1], s[5]];
        let speed = (u[0] * u[0] + u[1] * u[1] + u[2] * u[2]).sqrt();
        [s[3], s[4], s[5], -drag * speed * u[0], -drag * speed * u[1], -drag * speed * u[2] - GRAVITY]
    };
    let on = |s: &[f64; 6], k: &[f64; 6], h: f64| std::array::from_fn::<f64, 6, _>(|i| s[i] + h * k[i]);
    let mut s = [place_m[0], place_m[1], place_m[2], velocity_mps[0], velocity_mps[1], velocity_mps[2]];
    let (step_s, mut time_s) = (1e-3, 0.0);
    loop {
        let k1 = slope(&s);
        let k2 = slope(&on(&s, &k1, 0.5 * step_s));
        let k3 = slope(&on(&s, &k2, 0.5 * step_s));
        let k4 = slope(&on(&s, &k3, step_s));
        let next: [f64; 6] = std::array::from_fn(|i| s[i] + step_s / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]));
        if next[2] <= 0.0 {
            let share = s[2] / (s[2] - next[2]);
            let at: [f64; 6] = std::array::from_fn(|i| s[i] + share * (next[i] - s[i]));
            return ([at[0], at[1], at[2]], [at[3], at[4], at[5]], time_s + share * step_s);
        }
        (s, time_s) = (next, time_s + step_s);
    }
}

fn length(v: [f64; 3]) -> f64 {
    v.iter().map(|x| x * x).sum::<f64>().sqrt()
}

/// Motors stopped in level flight, in still air and in wind from ahead, behind and aside: where it lies, when, how fast and
/// how steeply it met the ground.
#[test]
fn a_drop_lies_where_the_integration_puts_it() {
    for (wind_mps, from_deg, speed_mps, height_m) in [
        (0.0, 0.0, 12.0, 80.0),
        (0.0, 0.0, 12.0, 20.0),
        (8.0, 270.0, 12.0, 80.0),
        (4.0, 90.0, 8.0, 80.0),
        (6.0, 200.0, 10.0, 25.0),
        (0.0, 0.0, 0.5, 80.0),
    ] {
        let text = plain::text(&[
            &plain::site(600.0, 5.0, ""),
            &plain::steady_wind(wind_mps, from_deg),
            CRAFT,
            STRONG,
            NO_FIX,
            &plain::path(&format!("[[0, 0, {height_m:?}], [400, 0, {height_m:?}]]"), speed_mps, 0.0),
            PILOT,
            "\n[loss.cut]\npath_share = { uniform = [0.4, 0.6] }\n",
            &policy("drop", &["drop = {}"]),
        ]);
        let wind = Profile::from(wind_mps, from_deg, 10.0);
        let flown = endings(&fly(&read(&text), if speed_mps < 1.0 { 4 } else { 40 }), 0);
        for ending in &flown {
            let from = ending.loss_m.map(f64::from);
            let (place, velocity, time_s) = fall(from, [speed_mps, 0.0, 0.0], &wind);
            let end = ending.end_m.map(f64::from);
            let far = libm::hypot(place[0] - end[0], place[1] - end[1]);
            assert!(far < 0.12, "wind {wind_mps} m/s from {from_deg}°: {far} m from {place:?}, {ending:?}");
            // The loss is called within the step from which it falls.
            let late_s = time_s - f64::from(ending.time_to_end_s);
            assert!((-0.002..0.052).contains(&late_s), "{time_s} s, {ending:?}");
            // A wind that is renewed every twentieth of a second is that of half a metre higher up: close to the ground, where it falls
            // off, some hundredths of a metre a second remain of it.
            let leeway_mps = if wind_mps > 0.0 { 0.05 } else { 0.02 };
            let speed = length(velocity);
            let off_mps = f64::from(ending.impact_speed_mps) - speed;
            assert!(off_mps.abs() < leeway_mps, "{speed} m/s at the ground, {ending:?}");
            let steep = libm::atan2(-velocity[2], libm::hypot(velocity[0], velocity[1])).to_degrees();
            assert!((f64::from(ending.impact_angle_deg) - steep).abs() < 0.3, "{steep}°, {ending:?}");
            let energy_j = 0.5 * MASS_KG * f64::from(ending.impact_speed_mps).powi(2);
            assert!((f64::from(ending.impact_energy_j) / energy_j - 1.0).abs() < 1e-5, "{energy_j} J, {ending:?}");
        }
        assert!(!flown.is_empty());
    }
}

/// Level without a fix, the craft drifts up to the speed of the wind: linear and quadratic drag from rest.
///
/// # Source
/// u = k₁ W e^{−k₁t}/(k₁ + K W (1 − e^{−k₁t})), x = W t − ln(1 + (K W/k₁)(1 − e^{−k₁t}))/K: dv/dt = k₁ u + K u² integrated.
#[test]
fn without_a_fix_it_drifts_as_the_closed_form_says() {
    let quadratic = 0.5 * DENSITY * DRAG_AREA_M2 / MASS_KG;
    for (linear, wind_mps, from_deg) in
        [(LINEAR_PER_S, 6.0, 250.0), (LINEAR_PER_S, 10.0, 40.0), (0.4, 6.0, 180.0), (0.0, 8.0, 90.0)]
    {
        let craft = CRAFT.replace("linear_drag_per_s = 0.15", &format!("linear_drag_per_s = {linear:?}"));
        let craft = craft.replace("attitude_lag_s = 0.2", "attitude_lag_s = 0.01");
        let weather = plain::steady_wind(wind_mps, from_deg) + "wind_height_m = 60\n";
        let text = plain::text(&[
            &plain::site(1500.0, 10.0, ""),
            &weather,
            &craft,
            STRONG,
            NO_FIX,
            &plain::path("[[0, 0, 60], [5, 0, 60]]", 5.0, 60.0),
            PILOT,
            &cut_at(40.0),
            &policy("short", &["hold = { for_s = 10 }", "drop = {}"]),
            &policy("long", &["hold = { for_s = 40 }", "drop = {}"]),
        ]);
        let flown = fly(&read(&text), 1);
        let wind = Profile::from(wind_mps, from_deg, 60.0);
        for (policy, time_s) in [(0, 10.0), (1, 40.0)] {
            let ending = endings(&flown, policy)[0];
            let k = linear.max(1e-9);
            let gone = -libm::expm1(-k * time_s);
            let along_m = wind_mps * time_s - libm::log1p(quadratic * wind_mps / k * gone) / quadratic;
            let left_mps = k * wind_mps * (1.0 - gone) / (k + quadratic * wind_mps * gone);
            let unit = wind.reference_mps.map(|w| w / wind_mps);
            let start = ending.loss_m.map(f64::from);
            let from = [start[0] + along_m * unit[0], start[1] + along_m * unit[1], start[2]];
            let speed = wind_mps - left_mps;
            let (place, ..) = fall(from, [speed * unit[0], speed * unit[1], 0.0], &wind);
            let drift = libm::hypot(place[0] - start[0], place[1] - start[1]);
            let end = ending.end_m.map(f64::from);
            let far = libm::hypot(place[0] - end[0], place[1] - end[1]);
            assert!(
                far < 0.01 * drift + 0.3,
                "k₁ {linear}, {wind_mps} m/s, {time_s} s: {far} m off after {drift} m: {place:?}, {ending:?}"
            );
        }
    }
}

/// Electrical power of the reference craft of 1 kg.
///
/// # Source
/// Momentum theory as published by Zeng, Xu and Zhang, IEEE Trans. Wireless Communications 18(4), 2019, with thrust in place of
/// weight: κ T v_i + P₀ (1 + 3 V²/U²) + ½ ρ C_dA V³ + T V_z over the drive's efficiency, and what else draws.
fn power_w(level_mps: f64, climb_mps: f64) -> f64 {
    let area_m2 = 4.0 * std::f64::consts::FRAC_PI_4 * 0.1778 * 0.1778;
    let quadratic = 0.5 * DENSITY * DRAG_AREA_M2 / MASS_KG;
    let drag_mps2 = (LINEAR_PER_S + quadratic * level_mps) * level_mps;
    let thrust_n = MASS_KG * libm::hypot(GRAVITY, drag_mps2);
    let hover2 = thrust_n / (2.0 * DENSITY * area_m2);
    // v² (V² + (V_z + v)²) = v_h⁴ by halving.
    let (mut low, mut high) = (0.0, hover2.sqrt());
    for _ in 0..60 {
        let v: f64 = 0.5 * (low + high);
        let flow2 = level_mps * level_mps + (climb_mps.max(0.0) + v) * (climb_mps.max(0.0) + v);
        if v * v * flow2 > hover2 * hover2 { high = v } else { low = v }
    }
    let tip = level_mps / 75.0;
    let rotor_w = 1.15 * thrust_n * low
        + 32.0 * (1.0 + 3.0 * tip * tip)
        + 0.5 * DENSITY * DRAG_AREA_M2 * level_mps.powi(3)
        + thrust_n * climb_mps.max(0.0);
    rotor_w / 0.78 + 10.0
}

/// Share of the charge that these powers use from full: V_oc of a cell between 4.2 V and 3.909 V.
///
/// # Source
/// Open-circuit voltages at 1, 0.95, 0.9, 0.8, 0.7 of the charge: Ai et al., J. Electrochem. Soc. 167, 013512, 2020.
fn charge_used(capacity_ah: f64, resistance_ohm: f64, from: f64, legs: &[(f64, f64)]) -> f64 {
    let table = [(1.0, 4.2), (0.95, 4.1384), (0.9, 4.0879), (0.8, 3.9945), (0.7, 3.9089)];
    let open_v = |charge: f64| {
        let pair = table.windows(2).find(|pair| charge >= pair[1].0).unwrap_or(&table[3..]);
        6.0 * (pair[1].1 + (charge - pair[1].0) / (pair[0].0 - pair[1].0) * (pair[0].1 - pair[1].1))
    };
    let mut charge = from;
    for &(power_w, time_s) in legs {
        for _ in 0..1000 {
            let v = open_v(charge);
            let current_a = (v - (v * v - 4.0 * resistance_ohm * power_w).sqrt()) / (2.0 * resistance_ohm);
            charge -= current_a * time_s / 1000.0 / 3600.0 / capacity_ah;
        }
    }
    from - charge
}

/// The way home of 1,200 m in steady wind, at a speed over ground that the craft can hold and against more wind than it
/// can: climb, way and descent take the time, and draw the charge, that momentum theory says, to 2 %.
#[test]
fn time_and_charge_home_in_steady_wind() {
    let (quadratic, capacity_ah) = (0.5 * DENSITY * DRAG_AREA_M2 / MASS_KG, 8.0);
    // The steepest tilt, 30°, holds against the drag of this airspeed.
    let push = GRAVITY * libm::tan(30f64.to_radians());
    let top_mps = ((LINEAR_PER_S * LINEAR_PER_S + 4.0 * quadratic * push).sqrt() - LINEAR_PER_S) / (2.0 * quadratic);
    for (wind_mps, from_deg) in [(0.0, 0.0), (4.0, 270.0), (4.0, 90.0), (4.0, 180.0), (9.0, 270.0)] {
        let craft = CRAFT.replace("capacity_ah = 2.2", &format!("capacity_ah = {capacity_ah:?}"));
        let weather = plain::steady_wind(wind_mps, from_deg) + "wind_height_m = 90\n";
        let text = plain::text(&[
            &plain::site(1600.0, 10.0, ""),
            &weather,
            &craft,
            STRONG,
            SKY,
            &plain::path("[[0, 0, 50], [-1200, 0, 50]]", 12.0, 60.0),
            PILOT,
            "\n[loss.cut]\nnear_m = [-1200, 0, 6]\n",
            &policy("drop", &["drop = {}"]),
            &policy("home", &["hold = { for_s = 10 }", "return = { height = { up_m = 90, may_sink = true } }"]),
            &policy(
                "slow",
                &["hold = { for_s = 10 }", "return = { height = { up_m = 90, may_sink = true }, speed_mps = 8 }"],
            ),
        ]);
        let flown = fly(&read(&text), 4);
        let wind = Profile::from(wind_mps, from_deg, 90.0);
        for (policy, wish_mps) in [(1, 12.0), (2, 8.0)] {
            for (ending, dropped) in endings(&flown, policy).iter().zip(endings(&flown, 0)) {
                assert_eq!(ending.headline, Headline::AtHome, "{wind_mps} from {from_deg}: {ending:?}");
                // The way home leads east.
                let [w, across] = wind.reference_mps;
                let most_mps = w + (top_mps * top_mps - across * across).sqrt();
                let ground_mps: f64 = most_mps.min(wish_mps);
                let far_m = libm::hypot(f64::from(ending.loss_m[0]), f64::from(ending.loss_m[1]));
                let up_m = 90.0 - f64::from(ending.loss_m[2]);
                let airspeed_mps = libm::hypot(ground_mps - w, across);
                let hover = |height_m: f64| {
                    let w = wind.at(height_m);
                    libm::hypot(w[0], w[1])
                };
                // A tenth of a metre of wind more or less changes nothing: one height stands for each leg.
                let legs = [
                    (power_w(hover(50.0), 0.0), 10.0),
                    // A velocity loop of 0.8 s lags once at the start of each leg, and the last metres of a climb run out.
                    (power_w(hover(70.0), 4.0), up_m / 4.0 + 0.8 + 0.6),
                    (power_w(airspeed_mps, 0.0), (far_m - 10.0) / ground_mps + 0.8 + 0.7),
                    (power_w(hover(45.0), 0.0), (90.0 - 8.0) / 2.5),
                    (power_w(hover(4.0), 0.0), 8.0 / 0.7),
                ];
                let time_s: f64 = legs.iter().map(|leg| leg.1).sum();
                let what = format!("{wind_mps} m/s from {from_deg}°, {wish_mps} m/s");
                let flown_s = f64::from(ending.time_to_end_s);
                assert!((flown_s / time_s - 1.0).abs() < 0.02, "{what}: {flown_s} s, not {time_s}: {ending:?}");
                let before = f64::from(dropped.pack_left_pct) / 100.0;
                let used = before - f64::from(ending.pack_left_pct) / 100.0;
                let want = charge_used(capacity_ah, 0.04, before, &legs);
                assert!((used / want - 1.0).abs() < 0.02, "{what}: {used} of the charge, not {want}: {ending:?}");
            }
        }
    }
}

/// Half of the packs are dry on the way home when the way takes what the middle one holds.
#[test]
fn half_of_the_packs_are_dry_where_momentum_theory_says() {
    // Home at 10 m/s through still air from 900 m at 40 m.
    let spread = 0.06;
    let run = |capacity_ah: f64| {
        let craft = CRAFT
            .replace("capacity_ah = 2.2", &format!("capacity_ah = {capacity_ah:?}"))
            .replace("health = 1", &format!("health = {{ normal = [0.8, {:?}] }}", 0.8 * spread))
            // It flies on until nothing is left: neither charge nor voltage calls it down before.
            + "warn_v = 3.01\nland_v = 3.01\ncutoff_v = 3.0\nwarn_charge_pct = 0\nland_charge_pct = 0\n\
               at_warning = \"nothing\"\nat_limit = \"nothing\"\n";
        let text = plain::text(&[
            &plain::site(1200.0, 10.0, ""),
            &plain::still(),
            &craft,
            STRONG,
            SKY,
            &plain::path("[[0, 0, 40], [900, 0, 40]]", 10.0, 60.0),
            PILOT,
            "\n[loss.cut]\ntime_s = 165\n",
            &policy("home", &["hold = { for_s = 300 }", "return = { height = { from = \"here\" }, speed_mps = 10 }"]),
        ]);
        let flown = endings(&fly(&read(&text), 250), 0);
        let dry = flown.iter().filter(|ending| ending.headline == Headline::RanDry).count();
        assert_eq!(flown.len(), 250);
        // At the last metre an empty pack makes a hard landing.
        let home = flown.iter().filter(|ending| ending.headline == Headline::AtHome).count();
        assert!(dry + home >= 240, "{capacity_ah} Ah: {dry} dry and {home} home of 250");
        dry as f64 / flown.len() as f64
    };
    // Up, a pause of a minute there, out, hover, home, down: energy, and the charge it takes from a pack whose mean voltage over the whole of the table
    // (its area) is 3.83 V a cell.
    let legs = [
        (power_w(0.0, 4.0), 10.0 + 0.8),
        (power_w(10.0, 0.0), 90.0 + 0.8),
        (power_w(0.0, 0.0), 60.0 + 165.0 + 1.0 - 161.6 + 300.0),
        (power_w(10.0, 0.0), 90.0 + 1.5),
        (power_w(0.0, 0.0), (40.0 - 8.0) / 2.5 + 8.0 / 0.7),
    ];
    let energy_j: f64 = legs.iter().map(|(w, s)| w * s).sum();
    let mean_w = energy_j / legs.iter().map(|leg| leg.1).sum::<f64>();
    // Of V_oc − R I at the mean current, by two rounds.
    let mut mean_v = 6.0 * 3.83;
    for _ in 0..5 {
        mean_v = 6.0 * 3.83 - 0.04 * mean_w / mean_v;
    }
    let middle_ah = energy_j / mean_v / 3600.0 / 0.8;
    // Two per cent of energy are a third of the spread: 13 of a hundred flights, besides luck of 250.
    let share = run(middle_ah);
    assert!((0.5 - 0.13 - 0.11..0.5 + 0.13 + 0.11).contains(&share), "{share} dry at {middle_ah} Ah");
    assert!(run(middle_ah * 1.12) < 0.12 && run(middle_ah * 0.88) > 0.88);
}

/// A wall in the middle of the way: the margin told in flight falls by the loss of a single knife edge.
///
/// # Source
/// ITU-R P.526 §4.1: J(ν) = 6.9 + 20 log(√((ν − 0.1)² + 1) + ν − 0.1), ν = h √(2 (d₁ + d₂)/(λ d₁ d₂)).
#[test]
fn a_wall_costs_a_knife_edge_of_the_whole_budget() {
    let (pilot_m, wall_m) = (1.5, 20.0);
    let margin = |wall: &str, height_m: f64| {
        let text = plain::text(&[
            &plain::site(500.0, 1.0, &format!("home_m = [-190, 0]\nground_roughness_m = 100\n{wall}")),
            &plain::still(),
            CRAFT,
            "\n[radio]\nshadow_sigma_db = 0\n\n[radio.control]\nfrequency_hz = 868e6\npower_dbm = 40\nbody_loss_db = 0\n",
            NO_FIX,
            &plain::path(&format!("[[-190, 0, 70], [200, 0, 70], [200, 0, {height_m:?}]]"), 12.0, 8.0),
            &format!("{PILOT}place_m = [-200, 0]\nantenna_height_m = {pilot_m:?}\n"),
            &policy("drop", &["drop = {}"]),
        ]);
        let world = World::new(read(&text)).expect("a world");
        let trace = record(&world, 0, &world.scenario.policies[0], 0.2);
        let there = |place: [f64; 3]| length([place[0] - 200.0, place[1], place[2] - height_m]);
        let row = trace.rows.iter().min_by(|a, b| there(a.place_m).total_cmp(&there(b.place_m))).expect("rows");
        assert!(there(row.place_m) < 0.6, "{height_m}: {:?}", row.place_m);
        (row.margin_db, row.place_m)
    };
    let wall = format!(
        "[[site.obstacle]]\nkind = \"building\"\nline_m = [[0.5, -480], [0.5, 480]]\nwidth_m = 0.8\nheight_m = {wall_m:?}\n"
    );
    let wavelength_m = 299_792_458.0 / 868e6;
    for height_m in [10.0, 15.0, 25.0, 38.5, 45.0, 60.0] {
        let ((free_db, place), (cut_db, _)) = (margin("", height_m), margin(&wall, height_m));
        let (d1, d2) = (200.5, place[0] - 0.5);
        let ray_m = pilot_m + (place[2] - pilot_m) * d1 / (d1 + d2);
        let v = (wall_m - ray_m) * (2.0 * (d1 + d2) / (wavelength_m * d1 * d2)).sqrt();
        let edge_db = if v > -0.78 { 6.9 + 20.0 * libm::log10(libm::hypot(v - 0.1, 1.0) + v - 0.1) } else { 0.0 };
        let cost_db = free_db - cut_db;
        assert!((cost_db - edge_db).abs() < 0.5, "{height_m} m: {cost_db} dB, not {edge_db} at ν = {v}");
    }
}

/// Drops at any place of a straight leg fall into a zone as often as its share of the leg: a strip across it, and a disc
/// aside of it by its chord.
#[test]
fn a_zone_gets_its_share_of_the_endings() {
    let ground = "[[site.zone]]\nkind = \"people\"\npeople = 10\nmargin_m = 0\npolygon_m = [[150, -200], [230, -200], [230, 200], [150, 200]]\n\
                  [[site.zone]]\nkind = \"water\"\ncircle_m = [360, 20, 60]\n\
                  [[site.zone]]\nkind = \"road\"\nline_m = [[480, -300], [520, 300]]\nwidth_m = 12\n";
    let text = plain::text(&[
        &plain::site(700.0, 0.7, ground),
        &plain::still(),
        CRAFT,
        STRONG,
        NO_FIX,
        &plain::path("[[0, 0, 30], [650, 0, 30]]", 16.0, 0.0),
        PILOT,
        "\n[loss.cut]\npath_share = { uniform = [0.12, 0.92] }\n",
        &policy("drop", &["drop = {}"]),
    ]);
    let flights = 3000;
    let flown = endings(&fly(&read(&text), flights), 0);
    assert_eq!(flown.len(), flights as usize);
    // The leg on which links are cut, flown at one speed, is thrown forward as a whole.
    let leg_m = 0.8 * 680.0;
    let road_m = 12.0 * libm::hypot(600.0, 40.0) / 600.0;
    for (headline, span_m) in [
        (Headline::HardAmongOthers, 80.0),
        (Headline::InWater, 2.0 * (60.0f64 * 60.0 - 20.0 * 20.0).sqrt()),
        (Headline::OnRoad, road_m),
    ] {
        let want = span_m / leg_m;
        let share = flown.iter().filter(|ending| ending.headline == headline).count() as f64 / flown.len() as f64;
        // Edges lie on a grid of 0.7 m.
        let error = (want * (1.0 - want) / flown.len() as f64).sqrt();
        assert!((share - want).abs() < 3.5 * error + 0.7 / leg_m, "{headline:?}: {share}, not {want} ± {error}");
    }
}

/// What more of something does to a flight that comes home: each law holds flight by flight.
fn home_in(wind_mps: f64, charge_pct: f64) -> Vec<Ending> {
    let craft = CRAFT.replace("charge_pct = 100", &format!("charge_pct = {charge_pct:?}"));
    let text = plain::text(&[
        &plain::site(600.0, 5.0, ""),
        &plain::steady_wind(wind_mps, 270.0),
        &craft,
        STRONG,
        SKY,
        &plain::path("[[0, 0, 40], [350, 0, 40]]", 9.0, 1.0),
        PILOT,
        "\n[loss.cut]\npath_share = { uniform = [0.6, 1.0] }\n",
        &policy("home", &["return = { height = { up_m = 50 } }"]),
    ]);
    endings(&fly(&read(&text), 40), 0)
}

/// More wind never brings it home sooner against the wind, and less charge never leaves more.
#[test]
fn more_wind_is_never_sooner_and_less_charge_never_more() {
    let mut last: Vec<Ending> = Vec::new();
    for wind_mps in [0.0, 3.0, 6.0, 8.0, 9.5, 10.5] {
        let now = home_in(wind_mps, 100.0);
        assert_eq!(now.len(), 40);
        for (less, more) in last.iter().zip(&now) {
            // From the place where the link went, which lies within metres of the other's.
            let leeway_s = 0.3 + (less.loss_m[0] - more.loss_m[0]).abs() / 8.0;
            assert!(
                more.time_to_end_s >= less.time_to_end_s - leeway_s,
                "{wind_mps} m/s: {more:?}, with less {less:?}"
            );
        }
        last = now;
    }
    let still = home_in(0.0, 100.0);
    assert!(last.iter().zip(&still).all(|(more, less)| more.time_to_end_s > less.time_to_end_s + 10.0));
    let mut last = still;
    for charge_pct in [98.0, 90.0, 70.0, 50.0, 30.0] {
        let now = home_in(0.0, charge_pct);
        for (more, less) in last.iter().zip(&now) {
            assert!(less.pack_left_pct < more.pack_left_pct, "{charge_pct} %: {less:?}, with more {more:?}");
        }
        last = now;
    }
}

/// A wider margin around people never takes a flight out of it, and a higher fall never meets the ground softer.
#[test]
fn a_wider_margin_never_counts_fewer() {
    let run = |margin_m: f64, height_m: f64| {
        let zone = format!(
            "[[site.zone]]\nkind = \"people\"\npeople = 30\ncircle_m = [120, 10, 20]\nmargin_m = {margin_m:?}\n"
        );
        let text = plain::text(&[
            &plain::site(400.0, 1.0, &zone),
            "\n[weather]\nwind_mps = { lognormal = [5, 1.4] }\n",
            CRAFT,
            STRONG,
            NO_FIX,
            &plain::path(&format!("[[0, 0, {height_m:?}], [240, 20, {height_m:?}]]"), 10.0, 0.0),
            PILOT,
            plain::ANY_TIME,
            &policy("drop", &["drop = {}"]),
            &policy("down", &["hold = { for_s = 2 }", "land = {}"]),
        ]);
        fly(&read(&text), 200)
    };
    let mut counts = [Vec::new(), Vec::new()];
    let mut last: Option<Vec<Vec<Ending>>> = None;
    for margin_m in [0.0, 5.0, 10.0, 30.0, 80.0] {
        let flown = run(margin_m, 40.0);
        let now: Vec<Vec<Ending>> = (0..2).map(|policy| endings(&flown, policy)).collect();
        for (policy, all) in now.iter().enumerate() {
            let among = |ending: &Ending| matches!(ending.headline, Headline::HardAmongOthers | Headline::AmongOthers);
            counts[policy].push(all.iter().filter(|ending| among(ending)).count());
            for (before, after) in last.iter().flat_map(|last| &last[policy]).zip(all) {
                assert!(!among(before) || among(after), "{margin_m} m: {before:?}, then {after:?}");
                assert!(before.over_people_s <= after.over_people_s + 1e-4, "{margin_m} m: {before:?}, then {after:?}");
                assert_eq!(before.end_m, after.end_m, "{margin_m} m: people change no flight");
            }
        }
        last = Some(now);
    }
    assert!(counts.iter().all(|counts| counts[0] < counts[4]), "{counts:?}");
}
