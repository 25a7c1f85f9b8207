//! Plain worlds for the laws: no luck but what a law asks for, and the parts of a scenario's text to choose from.
#![allow(dead_code)]

use lostlink::scenario::{MemoryFiles, Scenario};

/// One craft without tolerances and without an attitude error, everything said that the laws reckon with.
pub const CRAFT: &str = "
[craft]
mass_kg = 1.0
rotors = 4
rotor_diameter_m = 0.1778
induced_factor = 1.15
profile_power_w = 32
tip_speed_mps = 75
drive_efficiency = 0.78
aux_power_w = 10
linear_drag_per_s = 0.15
drag_area_m2 = 0.018
fall_drag_area_m2 = 0.032
tilt_max_deg = 30
cruise_mps = 12
climb_mps = 4
descent_mps = 2.5
final_descent_mps = 0.7
slow_below_m = 8
accel_mps2 = 4
velocity_lag_s = 0.8
attitude_lag_s = 0.2
thrust_ratio = 4
level_error_deg = 0

[craft.battery]
cells = 6
capacity_ah = 2.2
health = 1
resistance_ohm = 0.04
charge_pct = 100
temperature_c = 25
";

/// A link far above its need, without shadows, fading or a body in the way.
pub const STRONG: &str = "
[radio]
shadow_sigma_db = 0

[radio.control]
power_dbm = 40
body_loss_db = 0
noise_rise_db = 0
";

/// Satellites at one moment, seen all the time, with a steady heading.
pub const SKY: &str = "
[sky]
window_s = 0
start = \"hot\"
powered_before_s = 300
own_noise_db = 0
outage_every_s = 1e9
heading_bias_deg = 0
heading_throttle_deg = 0
declination_deg = 0
baro_drift_m_per_sqrt_min = 0
";

/// No fix from take-off to the end: the craft's own electronics drown the satellites.
pub const NO_FIX: &str = "
[sky]
window_s = 0
own_noise_db = 30
wait_for_fix = false
heading_bias_deg = 0
heading_throttle_deg = 0
declination_deg = 0
baro_drift_m_per_sqrt_min = 0
";

/// A link that goes when the scenario says so, at this time, for ever.
pub fn cut_at(time_s: f64) -> String {
    format!("\n[loss]\nmodelled = false\n\n[loss.cut]\ntime_s = {time_s:?}\n")
}

/// The loss cut at any moment of the path.
pub const ANY_TIME: &str = "\n[loss]\nmodelled = false\n\n[loss.cut]\nany_time = true\n";

/// Air that moves with one speed from one direction at one height, without turbulence, drift or turning.
pub fn steady_wind(wind_mps: f64, from_deg: f64) -> String {
    format!(
        "\n[weather]\nwind_mps = {wind_mps:?}\nfrom_deg = {from_deg:?}\nveer_deg_per_100m = 0\nroughness_m = 0.03\nturbulence = 0\n\
         drift_mps = 0\ntemperature_c = 15\ntendency_pa_per_h = 0\n"
    )
}

/// Still air.
pub fn still() -> String {
    steady_wind(0.0, 0.0)
}

/// A path over waypoints.
pub fn path(waypoints_m: &str, speed_mps: f64, pause_s: f64) -> String {
    format!("\n[path]\nwaypoints_m = {waypoints_m}\nspeed_mps = {speed_mps:?}\npause_s = {pause_s:?}\n")
}

/// A site without people: its square's half side and its cells.
pub fn site(half_m: f64, cell_m: f64, more: &str) -> String {
    format!(
        "\n[site]\nextent_m = [-{half_m:?}, -{half_m:?}, {half_m:?}, {half_m:?}]\ncell_m = {cell_m:?}\n\
         people_per_km2 = 0\nceiling_m = 500\n{more}\n"
    )
}

/// A policy of actions, each with its guards.
pub fn policy(name: &str, actions: &[&str]) -> String {
    let actions: String = actions.iter().map(|action| format!("\n[[policy.action]]\n{action}\n")).collect();
    format!("\n[[policy]]\nname = \"{name}\"\n{actions}")
}

/// The pilot does nothing once the link is lost.
pub const PILOT: &str = "\n[pilot]\nreaction_s = 2\non_regain = \"let_finish\"\n";

/// A whole text of these parts.
pub fn text(parts: &[&str]) -> String {
    format!("title = \"law\"\nseed = 11\nflights = 10\n{}", parts.concat())
}

/// An Esri ASCII grid of a ground, a square about the origin.
pub fn esri_grid(half_m: f64, cell_m: f64, height_m: impl Fn(f64, f64) -> f64) -> String {
    let count = (2.0 * half_m / cell_m).round() as usize + 1;
    let mut grid =
        format!("ncols {count}\nnrows {count}\nxllcenter {}\nyllcenter {}\ncellsize {cell_m}\n", -half_m, -half_m);
    for row in (0..count).rev() {
        for column in 0..count {
            let (x, y) = (-half_m + cell_m * column as f64, -half_m + cell_m * row as f64);
            grid.push_str(&format!("{} ", height_m(x, y)));
        }
        grid.push('\n');
    }
    grid
}

/// A scenario over a ground of its own, given as heights on a grid; z = 0 is at `height_amsl_m`.
pub fn over_ground(text: &str, half_m: f64, cell_m: f64, height_m: impl Fn(f64, f64) -> f64) -> Scenario {
    let mut files = MemoryFiles::default();
    files.0.insert("ground.asc".into(), esri_grid(half_m, cell_m, height_m).into_bytes());
    let read = lostlink::scenario::read("law", text, &files).unwrap_or_else(|faults| panic!("{faults:?}\n{text}"));
    super::bench::settled(read)
}

/// Mean and standard error of the mean.
pub fn mean_of(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

/// Whether two counts of paired flights differ by no more than luck: `first` and `second` count the flights in which
/// an event came only in the one or only in the other. 3.5 standard errors of the paired difference, and one flight.
pub fn paired_alike(first: usize, second: usize) -> bool {
    (first as f64 - second as f64).abs() <= 3.5 * ((first + second) as f64).sqrt() + 1.0
}
