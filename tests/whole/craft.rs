//! The craft, its pack and the air around it.

use super::bench::{endings, outcomes, read};
use lostlink::flight::{Ending, Setup};
use lostlink::scenario::Scenario;
use lostlink::world::World;

const G: f64 = 9.806_65;

/// A flat open site, steady wind from the west, nothing uncertain that bears on motion; `craft` and `rest` are added.
fn still(craft: &str, weather: &str, rest: &str) -> String {
    format!(
        "title = \"law\"\nseed = 5\nflights = 8\n\
         [site]\nextent_m = [-3000, -3000, 3000, 3000]\nceiling_m = 120\n\
         [weather]\nturbulence = 0\ndrift_mps = 0\nveer_deg_per_100m = 0\nfrom_deg = 270\n{weather}\n\
         [radio.control]\nnoise_rise_db = 0\n\
         {rest}\n\
         [craft]\n{craft}\n"
    )
}

/// Drawn once per flight by default, set to one value here.
const CERTAIN: &str = "mass_kg = 1.0\nlinear_drag_per_s = 0.15\ndrag_area_m2 = 0.016\nfall_drag_area_m2 = 0.04\n\
    level_error_deg = 0\nbattery.health = 1.0\nbattery.resistance_ohm = 0.04\nbattery.charge_pct = 100\n";

const HOVER_40: &str = "[path]\nwaypoints_m = [[0, 0, 40], [60, 0, 40]]\nspeed_mps = 6\npause_s = 60\n";

const DROP: &str = "[[policy]]\nname = \"drop\"\n[[policy.action]]\ndrop = {}\n";

const LAND: &str =
    "[[policy]]\nname = \"land\"\n[[policy.action]]\nhold = { for_s = 3 }\n[[policy.action]]\nland = {}\n";

/// All flights of a scenario at several steps, in one site and sky.
fn at_steps(scenario: &Scenario, steps_s: &[f64], flights: u32, policy: usize) -> Vec<Vec<Ending>> {
    let base = World::new(scenario.clone()).expect("a world");
    steps_s
        .iter()
        .map(|&step_s| {
            let world = World::like(&base, Scenario { step_s, ..scenario.clone() }).expect("a world");
            let setup = Setup::new(&world).expect("a setup");
            endings(&outcomes(&setup, flights), policy)
        })
        .collect()
}

/// What a fall by the textbook comes to, in small steps of the classical Runge–Kutta method: time, place, velocity.
/// The wind follows the logarithmic law above `roughness_m`.
fn fall(
    mass_kg: f64,
    area_m2: f64,
    density_kgpm3: f64,
    height_m: f64,
    wind10_mps: f64,
    roughness_m: f64,
) -> (f64, f64, [f64; 2]) {
    let k = 0.5 * density_kgpm3 * area_m2 / mass_kg;
    let wind = |z: f64| wind10_mps * (z.max(0.5) / roughness_m).ln() / (10.0 / roughness_m).ln();
    let rate = |s: [f64; 4]| {
        let (ux, uz) = (s[2] - wind(s[1]), s[3]);
        let q = k * (ux * ux + uz * uz).sqrt();
        [s[2], s[3], -q * ux, -q * uz - G]
    };
    let h = 5e-4;
    let mix = |s: [f64; 4], by: f64, r: [f64; 4]| -> [f64; 4] { std::array::from_fn(|i| s[i] + by * r[i]) };
    let (mut s, mut time_s) = ([0.0, height_m, 0.0, 0.0], 0.0);
    loop {
        let r1 = rate(s);
        let r2 = rate(mix(s, 0.5 * h, r1));
        let r3 = rate(mix(s, 0.5 * h, r2));
        let r4 = rate(mix(s, h, r3));
        let next: [f64; 4] = std::array::from_fn(|i| s[i] + h / 6.0 * (r1[i] + 2.0 * r2[i] + 2.0 * r3[i] + r4[i]));
        if next[1] <= 0.0 {
            let share = s[1] / (s[1] - next[1]);
            let at = |i: usize| s[i] + share * (next[i] - s[i]);
            return (time_s + share * h, at(0), [at(2), at(3)]);
        }
        (s, time_s) = (next, time_s + h);
    }
}

/// A drop out of a hover ends with the speed, energy, time and place of an accurate integration, whatever the step,
/// in still air (closed form too) and in wind.
#[test]
fn a_drop_hits_the_ground_as_hard_as_it_should() {
    for (wind_mps, area_m2) in [(0.0, 0.04), (6.0, 0.04), (6.0, 0.2)] {
        let craft = CERTAIN.replace("fall_drag_area_m2 = 0.04", &format!("fall_drag_area_m2 = {area_m2}"));
        let rest = format!("{HOVER_40}[loss.cut]\ntime_s = {{ uniform = [50, 52] }}\n{DROP}");
        let scenario = read(&still(&craft, &format!("wind_mps = {wind_mps}\nroughness_m = 0.03"), &rest));
        let density = 101_325.0 / (287.052_87 * 288.15);
        for (step_s, ends) in [0.1, 0.05, 0.02].iter().zip(at_steps(&scenario, &[0.1, 0.05, 0.02], 6, 0)) {
            assert_eq!(ends.len(), 6);
            for end in ends {
                let height_m = f64::from(end.loss_m[2]);
                let (time_s, along_m, v) = fall(1.0, area_m2, density, height_m, wind_mps, 0.03);
                let speed = (v[0] * v[0] + v[1] * v[1]).sqrt();
                let near = |what: &str, got: f32, want: f64, by: f64| {
                    assert!((f64::from(got) - want).abs() <= by, "{what} at {step_s}, wind {wind_mps}: {got} {want}");
                };
                near("speed", end.impact_speed_mps, speed, 1e-3 * speed);
                near("energy", end.impact_energy_j, 0.5 * speed * speed, 2e-3 * 0.5 * speed * speed);
                // The wind is looked up ten times a second: near the ground it falls off within that.
                let by_deg = if wind_mps == 0.0 { 0.02 } else { 0.5 };
                near("angle", end.impact_angle_deg, (-v[1]).atan2(v[0].abs()).to_degrees(), by_deg);
                near("place", end.end_m[0] - end.loss_m[0], along_m, 0.1);
                // The loss lies within a step; the fall begins with the next.
                near("time", end.time_to_end_s, time_s, step_s + 5e-3);
                if wind_mps == 0.0 {
                    let terminal2 = 2.0 * G / (density * area_m2);
                    let closed = (terminal2 * (1.0 - (-2.0 * G * height_m / terminal2).exp())).sqrt();
                    near("closed form", end.impact_speed_mps, closed, 1e-3 * closed);
                }
            }
        }
    }
}

/// At the corners of what the keys allow, every step tells the same (place within 2 %, time within 2.5 %), nothing is not a number, and nothing is faster
/// than its terminal speed through the air plus the wind.
#[test]
fn corners_of_drag_end_alike_at_every_step() {
    let steps = [0.1, 0.05, 0.02, 0.005];
    let mut base: Option<World> = None;
    for mass_kg in [0.1, 10.0] {
        for fall_area_m2 in [0.001, 0.2, 1.5, 5.0] {
            for (linear, area_m2) in [(0.0, 0.001), (2.0, 2.0)] {
                let craft = format!(
                    "mass_kg = {mass_kg}\nlinear_drag_per_s = {linear}\ndrag_area_m2 = {area_m2}\n\
                     fall_drag_area_m2 = {fall_area_m2}\nlevel_error_deg = 0\nbattery.health = 1.0\n\
                     battery.resistance_ohm = 0.01\nbattery.charge_pct = 100\nbattery.capacity_ah = 20\n"
                );
                let rest = format!(
                    "[path]\nwaypoints_m = [[0, 0, 40], [300, 0, 40]]\nspeed_mps = 9\n\
                     [loss.cut]\ntime_s = 14\n{DROP}{LAND}"
                );
                let scenario = read(&still(&craft, "wind_mps = 4", &rest));
                let mut told: Vec<Vec<Ending>> = Vec::new();
                for step_s in steps {
                    let scenario = Scenario { step_s, ..scenario.clone() };
                    let world = match &base {
                        Some(base) => World::like(base, scenario),
                        None => World::new(scenario),
                    }
                    .expect("a world");
                    let flown = outcomes(&Setup::new(&world).expect("a setup"), 1);
                    told.push(flown[0].endings.clone());
                    base.get_or_insert(world);
                }
                let what = format!("{mass_kg} kg, falling {fall_area_m2} m², flying {linear} 1/s and {area_m2} m²");
                let last = told.last().unwrap();
                assert_eq!(last.len(), 2, "{what}");
                let terminal = (2.0 * mass_kg * G / (1.225 * fall_area_m2)).sqrt();
                for (step_s, ends) in steps.iter().zip(&told) {
                    for (end, fine) in ends.iter().zip(last) {
                        let what = format!("{what} at {step_s}: {end:?} {fine:?}");
                        assert!((end.headline, end.manner) == (fine.headline, fine.manner), "{what}");
                        assert!(end.end_m.iter().all(|x| x.is_finite()) && end.impact_speed_mps.is_finite(), "{what}");
                        let apart = (0..3).map(|i| (end.end_m[i] - fine.end_m[i]).powi(2)).sum::<f32>().sqrt();
                        assert!(apart < 2.0 + 0.02 * fine.greatest_distance_m, "{apart} m apart, {what}");
                        assert!(
                            (end.time_to_end_s - fine.time_to_end_s).abs() < 0.3 + 0.025 * fine.time_to_end_s,
                            "{what}"
                        );
                    }
                    // The wind at 40 m over grass is 1.24 of that at 10 m; a light one may start faster than it falls.
                    let most = terminal + 1.25 * 4.0 + 1e-3;
                    assert!(f64::from(ends[0].impact_speed_mps) <= most, "{what} at {step_s}: {:?}", ends[0]);
                }
            }
        }
    }
}
