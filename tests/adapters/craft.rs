//! Adapters of the `craft` routines.
//!
//! Power, battery steps, gust shapes, pressure and air density at a place are those that fly. What stands in `reference` cannot be asked
//! of flying code: flight goes in steps where these are closed forms or exact integrals (falls, drifts, discharges, landings,
//! spectra of turbulence, inflow in general), it interpolates a table of the turbulence's scales (within 1e-4, a unit test says),
//! its wind profile is fitted to a whole scenario's weather, and planning looks for best speeds in the wind of a place.
//! `tests/laws/craft.rs` holds the flying forms against these.

use super::{Adapter, Inputs, Value};
use crate::reference::air::turbulence::{Component, low_altitude};
use crate::reference::air::wind::{self, TerrainCategory};
use crate::reference::craft as reference;
use crate::reference::craft::fall::Fall;
use crate::reference::craft::rotor::RotaryWing;
use crate::reference::{air, units};
use lostlink::air::turbulence::{self, Dryden};
use lostlink::air::{atmosphere, gust};
use lostlink::chance::{Purpose, Source, Uncertain};
use lostlink::craft::fall::{self, FallBody};
use lostlink::craft::rotor::{self, LevelFlight, Rotors};
use lostlink::craft::{Pack, battery, kinematics};
use lostlink::units::STANDARD_GRAVITY_MPS2;

type Answer = Result<Value, String>;

/// A number, or the statement that there is none.
fn maybe(answer: Option<f64>) -> Value {
    answer.map_or(Value::NoAnswer, Value::Number)
}

fn component(i: &mut Inputs) -> Result<Component, String> {
    match i.text("component")?.as_str() {
        "u" => Ok(Component::Along),
        "v" => Ok(Component::Across),
        "w" => Ok(Component::Up),
        other => Err(format!("no component `{other}`")),
    }
}

fn category(i: &mut Inputs) -> Result<TerrainCategory, String> {
    let word = i.text("terrain_category")?;
    TerrainCategory::from_word(&word).ok_or_else(|| format!("no terrain category `{word}`"))
}

fn disc_area(i: &mut Inputs) -> Result<f64, String> {
    Ok(rotor::disc_area_m2(i.number("rotor_count")? as u32, i.number("rotor_diameter_m")?))
}

/// Weight and hover induced velocity.
fn hover(i: &mut Inputs) -> Result<(f64, f64), String> {
    let weight_n = i.number("mass_kg")? * STANDARD_GRAVITY_MPS2;
    Ok((weight_n, rotor::hover_induced_mps(weight_n, disc_area(i)?, i.number("density_kgpm3")?)))
}

/// Level flight; the routine states the profile power at the density given, the library at sea level.
fn level(i: &mut Inputs) -> Result<LevelFlight, String> {
    let density_kgpm3 = i.number("density_kgpm3")?;
    let rotors = Rotors {
        disc_area_m2: disc_area(i)?,
        induced_factor: i.number("induced_factor")?,
        profile_power_w: i.number("profile_power_w")? * rotor::PROFILE_DENSITY_KGPM3 / density_kgpm3,
        tip_speed_mps: i.number("tip_speed_mps")?,
        drag_area_m2: i.number("drag_area_m2")?,
        drive_efficiency: i.number("drive_efficiency")?,
        aux_power_w: i.number("aux_power_w")?,
    };
    Ok(rotors.level(i.number("mass_kg")?, density_kgpm3))
}

fn rotary_wing(i: &mut Inputs) -> Result<RotaryWing, String> {
    Ok(RotaryWing {
        profile_power_w: i.number("profile_power_w")?,
        induced_power_w: i.number("induced_power_w")?,
        tip_speed_mps: i.number("tip_speed_mps")?,
        hover_induced_mps: i.number("hover_induced_mps")?,
        body_drag_ratio: i.number("body_drag_ratio")?,
        solidity: i.number("solidity")?,
        disc_area_m2: i.number("disc_area_m2")?,
        density_kgpm3: i.number("density_kgpm3")?,
    })
}

/// A pack at 25 °C.
fn pack(i: &mut Inputs) -> Result<Pack, String> {
    Ok(reference::battery::pouch_pack(
        i.number("cell_count")? as u32,
        i.number("capacity_ah")?,
        i.number("resistance_ohm")?,
        298.15,
        [3.5, 3.3, 3.0],
    ))
}

struct Falling {
    body: FallBody,
    height_m: f64,
    velocity_mps: [f64; 3],
    wind_mps: [f64; 3],
    density_kgpm3: f64,
}

fn falling(i: &mut Inputs) -> Result<Falling, String> {
    Ok(Falling {
        body: FallBody {
            mass_kg: i.number("mass_kg")?,
            drag_area_m2: i.number("drag_area_m2")?,
            gravity_mps2: i.number("g_mps2")?,
        },
        height_m: i.number("height_m")?,
        velocity_mps: [i.number("speed_forward_mps")?, 0.0, i.number("speed_up_mps")?],
        wind_mps: [i.number("wind_along_mps")?, i.number("wind_cross_mps")?, 0.0],
        density_kgpm3: i.number("density_kgpm3")?,
    })
}

/// One quantity of an accurate fall.
fn fallen(i: &mut Inputs, quantity: fn(&Fall, f64) -> f64) -> Answer {
    let f = falling(i)?;
    let fall = reference::fall::fall_exact(&f.body, f.height_m, f.velocity_mps, f.wind_mps, f.density_kgpm3);
    Ok(maybe(fall.map(|fall| quantity(&fall, f.body.mass_kg))))
}

/// Linear drag and quadratic drag per mass.
fn drags(i: &mut Inputs) -> Result<(f64, f64), String> {
    let drag_per_m =
        kinematics::drag_per_m(i.number("mass_kg")?, i.number("drag_area_m2")?, i.number("density_kgpm3")?);
    Ok((i.number("linear_drag_per_s")?, drag_per_m))
}

/// Way through the air in one step over the length scale.
fn decay(i: &mut Inputs) -> Result<f64, String> {
    Ok(i.number("airspeed_mps")? * i.number("step_s")? / i.number("length_m")?)
}

fn radians(i: &mut Inputs, key: &str) -> Result<f64, String> {
    Ok(i.number(key)?.to_radians())
}

/// Routine and adapter.
pub fn adapters() -> Vec<(&'static str, Adapter)> {
    vec![
        // Atmosphere
        ("craft.isa_temperature", |i| Ok(air::atmosphere::temperature_k(i.number("height_msl_m")?).into())),
        ("craft.isa_pressure", |i| Ok(atmosphere::pressure_pa(i.number("height_msl_m")?).into())),
        ("craft.isa_density", |i| Ok(air::atmosphere::density_kgpm3(i.number("height_msl_m")?).into())),
        ("craft.air_density", |i| {
            Ok(air::atmosphere::density_with_offset_kgpm3(i.number("height_msl_m")?, i.number("isa_offset_k")?).into())
        }),
        ("craft.induced_power_ratio", |i| {
            Ok(air::atmosphere::induced_power_ratio(i.number("height_msl_m")?, i.number("isa_offset_k")?).into())
        }),
        ("craft.joules_from_foot_pounds", |i| {
            Ok(reference::fall::joules_from_foot_pounds(i.number("energy_ft_lbf")?).into())
        }),
        // Wind and turbulence
        ("craft.mean_wind_log", |i| {
            Ok(wind::log_law_mps(
                i.number("wind_ref_mps")?,
                i.number("height_ref_m")?,
                i.number("height_m")?,
                i.number("roughness_length_m")?,
            )
            .into())
        }),
        ("craft.mean_wind_power", |i| {
            Ok(wind::power_law_mps(
                i.number("wind_ref_mps")?,
                i.number("height_ref_m")?,
                i.number("height_m")?,
                i.number("exponent")?,
            )
            .into())
        }),
        ("craft.terrain_roughness", |i| Ok(category(i)?.roughness_m().into())),
        ("craft.terrain_mean_wind", |i| {
            Ok(category(i)?.mean_wind_mps(i.number("height_m")?, i.number("basic_wind_mps")?).into())
        }),
        ("craft.terrain_turbulence_intensity", |i| Ok(category(i)?.turbulence_intensity(i.number("height_m")?).into())),
        ("craft.gust_peak", |i| {
            Ok(wind::gust_peak_mps(i.number("mean_wind_mps")?, i.number("turbulence_intensity")?).into())
        }),
        ("craft.gust_one_minus_cosine", |i| {
            Ok(gust::one_minus_cosine_mps(
                i.number("penetration_m")?,
                i.number("gust_length_m")?,
                i.number("gust_amplitude_mps")?,
            )
            .into())
        }),
        ("craft.dryden_sigma_u", |i| {
            Ok(air::turbulence::sigma_u_mps(i.number("height_agl_m")?, i.number("wind_20ft_mps")?).into())
        }),
        ("craft.dryden_sigma_w", |i| {
            let height_m = i.number("height_agl_m")?;
            Ok(air::turbulence::sigma_mps(Component::Up, height_m, i.number("wind_20ft_mps")?).into())
        }),
        ("craft.dryden_length_u", |i| Ok(air::turbulence::length_u_m(i.number("height_agl_m")?).into())),
        ("craft.dryden_sigma_ratio", |i| {
            let (height_m, wind_mps) = (i.number("height_agl_m")?, i.number("wind_20ft_mps")?);
            Ok((air::turbulence::sigma_u_mps(height_m, wind_mps) / turbulence::sigma_w_mps(wind_mps)).into())
        }),
        ("craft.dryden_time_constant", |i| {
            let length_m = air::turbulence::length_m(component(i)?, i.number("height_agl_m")?);
            Ok(air::turbulence::time_constant_s(length_m, i.number("ground_speed_mps")? + i.number("headwind_mps")?)
                .into())
        }),
        ("craft.dryden_length_w_hdbk", |i| Ok(air::turbulence::length_w_handbook_m(i.number("height_agl_m")?).into())),
        ("craft.dryden_psd", |i| {
            let (component, height_m) = (component(i)?, i.number("height_agl_m")?);
            Ok(air::turbulence::psd_m2ps2_s(
                component,
                air::turbulence::sigma_mps(component, height_m, i.number("wind_20ft_mps")?),
                air::turbulence::length_m(component, height_m),
                i.number("airspeed_mps")?,
                i.number("angular_frequency_radps")?,
            )
            .into())
        }),
        ("craft.dryden_autocorrelation", |i| {
            Ok(air::turbulence::autocorrelation(
                component(i)?,
                i.number("length_m")?,
                i.number("airspeed_mps")?,
                i.number("lag_s")?,
            )
            .into())
        }),
        ("craft.dryden_step_coefficient", |i| {
            let length_m = i.number("length_m")?;
            Ok(air::turbulence::step_coefficient(length_m, i.number("airspeed_mps")?, i.number("step_s")?).into())
        }),
        ("craft.dryden_two_state_q11", |i| Ok(turbulence::two_state_noise(decay(i)?)[0].into())),
        ("craft.dryden_two_state_q12", |i| Ok(turbulence::two_state_noise(decay(i)?)[1].into())),
        ("craft.dryden_two_state_q22", |i| Ok(turbulence::two_state_noise(decay(i)?)[2].into())),
        ("craft.dryden_sample_sigma_v", sample_sigma_v),
        ("craft.dryden_euler_variance_ratio", |i| {
            let length_m = i.number("length_m")?;
            Ok(air::turbulence::euler_variance_ratio(length_m, i.number("airspeed_mps")?, i.number("step_s")?).into())
        }),
        // Rotors and power
        ("craft.disc_area", |i| Ok(disc_area(i)?.into())),
        ("craft.hover_induced_velocity", |i| Ok(hover(i)?.1.into())),
        ("craft.hover_ideal_power", |i| {
            let (weight_n, induced_mps) = hover(i)?;
            Ok((weight_n * induced_mps).into())
        }),
        ("craft.hover_electrical_power", |i| {
            let (weight_n, induced_mps) = hover(i)?;
            Ok(reference::rotor::hover_electrical_w(
                weight_n,
                induced_mps,
                i.number("figure_of_merit")?,
                i.number("drive_efficiency")?,
                i.number("aux_power_w")?,
            )
            .into())
        }),
        ("craft.figure_of_merit", |i| {
            Ok(reference::rotor::figure_of_merit(i.number("thrust_coefficient")?, i.number("power_coefficient")?)
                .into())
        }),
        ("craft.induced_velocity_edgewise", |i| {
            Ok(reference::rotor::edgewise_mps(i.number("airspeed_mps")?, i.number("hover_induced_mps")?).into())
        }),
        ("craft.induced_velocity_general", |i| {
            Ok(reference::rotor::general_mps(
                i.number("inplane_mps")?,
                i.number("axial_mps")?,
                i.number("hover_induced_mps")?,
            )
            .into())
        }),
        ("craft.induced_velocity_climb", |i| {
            Ok(reference::rotor::climb_mps(i.number("climb_mps")?, i.number("hover_induced_mps")?).into())
        }),
        ("craft.induced_ratio_sinking", |i| {
            Ok(reference::rotor::sinking_ratio(i.number("climb_over_hover_induced")?).into())
        }),
        ("craft.induced_ratio_windmill", |i| {
            Ok(maybe(reference::rotor::windmill_ratio(i.number("climb_over_hover_induced")?)))
        }),
        ("craft.sink_speed_at_ratio", |i| Ok((hover(i)?.1 * i.number("ratio")?).into())),
        ("craft.blade_profile_power", |i| {
            Ok(reference::rotor::blade_profile_w(
                i.number("profile_drag_coefficient")?,
                i.number("density_kgpm3")?,
                i.number("solidity")?,
                i.number("disc_area_m2")?,
                i.number("rotor_speed_radps")?,
                i.number("rotor_radius_m")?,
            )
            .into())
        }),
        ("craft.induced_power_with_factor", |i| {
            Ok(reference::rotor::induced_with_increment_w(
                i.number("weight_n")?,
                i.number("induced_increment")?,
                i.number("density_kgpm3")?,
                i.number("disc_area_m2")?,
            )
            .into())
        }),
        ("craft.rotary_wing_power", |i| {
            let speed_mps = i.number("speed_mps")?;
            Ok(rotary_wing(i)?.power_w(speed_mps).into())
        }),
        ("craft.rotary_wing_min_power_speed", |i| Ok(rotary_wing(i)?.min_power_mps().into())),
        ("craft.rotary_wing_best_range_speed", |i| Ok(rotary_wing(i)?.best_range_mps().into())),
        ("craft.rotary_wing_min_energy_per_metre", |i| Ok(rotary_wing(i)?.min_energy_jpm().into())),
        ("craft.delivery_power_estimate", |i| {
            Ok(reference::rotor::delivery_estimate_kw(
                i.number("mass_kg")?,
                i.number("speed_mps")?,
                i.number("efficiency")?,
                i.number("lift_to_drag")?,
                i.number("aux_power_w")?,
            )
            .into())
        }),
        ("craft.level_power", |i| {
            let airspeed_mps = i.number("airspeed_mps")?;
            Ok(level(i)?.power_w(airspeed_mps).into())
        }),
        ("craft.min_power_speed", |i| Ok(reference::rotor::min_power_mps(&level(i)?).into())),
        ("craft.best_range_speed", |i| {
            let headwind_mps = i.number("headwind_mps")?;
            Ok(maybe(reference::rotor::best_range_mps(&level(i)?, headwind_mps)))
        }),
        ("craft.leg_energy", |i| {
            let (distance_m, airspeed_mps) = (i.number("distance_m")?, i.number("airspeed_mps")?);
            let headwind_mps = i.number("headwind_mps")?;
            Ok(maybe(reference::rotor::leg_energy_j(&level(i)?, distance_m, airspeed_mps, headwind_mps)))
        }),
        ("craft.hover_power_regression", |i| {
            Ok(reference::rotor::hover_regression_w(i.number("mass_kg")?, i.number("density_kgpm3")?).into())
        }),
        // Battery
        ("craft.cell_voltage_fit", |i| Ok(reference::battery::cell_fit_v(i.number("soc")?).into())),
        ("craft.cell_voltage", |i| Ok(battery::cell_open_circuit_v(i.number("soc")?).into())),
        ("craft.pack_energy", |i| {
            let pack = reference::battery::pouch_pack(
                i.number("cell_count")? as u32,
                i.number("capacity_ah")?,
                0.0,
                298.15,
                [3.5, 3.3, 3.0],
            );
            Ok((reference::battery::open_circuit_energy_j(&pack, 1.0, 0.0) / 3_600.0).into())
        }),
        ("craft.terminal_voltage", |i| {
            let open_v = i.number("open_circuit_v")?;
            Ok(battery::terminal_v(open_v, i.number("resistance_ohm")?, i.number("current_a")?).into())
        }),
        ("craft.pack_current", |i| {
            let power_w = i.number("power_w")?;
            Ok(battery::current_a(power_w, i.number("open_circuit_v")?, i.number("resistance_ohm")?).into())
        }),
        ("craft.pack_max_power", |i| {
            Ok(battery::max_power_w(i.number("open_circuit_v")?, i.number("resistance_ohm")?).into())
        }),
        ("craft.time_to_charge", |i| {
            let pack = pack(i)?;
            Ok(maybe(reference::battery::time_to_charge_s(
                &pack,
                i.number("power_w")?,
                i.number("soc_start")?,
                i.number("soc_end")?,
            )))
        }),
        ("craft.time_to_cutoff", |i| {
            let pack = pack(i)?;
            let (power_w, from) = (i.number("power_w")?, i.number("soc_start")?);
            Ok(maybe(reference::battery::time_to_cutoff_s(&pack, power_w, from, i.number("cutoff_v_per_cell")?)))
        }),
        ("craft.charge_at_cutoff", |i| {
            let pack = pack(i)?;
            Ok(maybe(pack.charge_at_cutoff(i.number("power_w")?, i.number("cutoff_v_per_cell")?)))
        }),
        ("craft.resistance_factor", |i| {
            let temperature_k = i.number("cell_temp_c")? + 273.15;
            Ok(battery::resistance_factor(temperature_k, i.number("resistance_b_k")?).into())
        }),
        ("craft.peukert_time", |i| {
            let (capacity_ah, rating_h) = (i.number("capacity_ah")?, i.number("rating_h")?);
            Ok(reference::battery::peukert_time_s(capacity_ah, rating_h, i.number("current_a")?, i.number("exponent")?)
                .into())
        }),
        ("craft.filter_crossing_time", |i| {
            let (time_constant_s, before_v) = (i.number("time_constant_s")?, i.number("v_before_v")?);
            let (after_v, threshold_v) = (i.number("v_after_v")?, i.number("threshold_v")?);
            Ok(maybe(reference::battery::filter_crossing_s(time_constant_s, before_v, after_v, threshold_v)))
        }),
        // Fall
        ("craft.terminal_speed", |i| {
            let (mass_kg, drag_area_m2) = (i.number("mass_kg")?, i.number("drag_area_m2")?);
            Ok(reference::fall::terminal_mps(mass_kg, drag_area_m2, i.number("density_kgpm3")?, i.number("g_mps2")?)
                .into())
        }),
        ("craft.fall_distance", |i| fallen(i, |fall, _| fall.distance_m)),
        ("craft.fall_cross_drift", |i| fallen(i, |fall, _| fall.cross_m)),
        ("craft.fall_time", |i| fallen(i, |fall, _| fall.time_s)),
        ("craft.fall_speed", |i| fallen(i, |fall, _| fall.speed_mps())),
        ("craft.fall_energy", |i| fallen(i, |fall, mass_kg| fall::kinetic_energy_j(mass_kg, fall.speed_mps()))),
        ("craft.fall_angle", |i| fallen(i, |fall, _| fall.angle_rad().to_degrees())),
        ("craft.fall_summary", |i| {
            let f = falling(i)?;
            let fall = reference::fall::fall_exact(&f.body, f.height_m, f.velocity_mps, f.wind_mps, f.density_kgpm3);
            Ok(fall.map_or(Value::NoAnswer, |fall| {
                let ground_m = (fall.distance_m * fall.distance_m + fall.cross_m * fall.cross_m).sqrt();
                Value::numbers([ground_m, fall.speed_mps(), fall.angle_rad().to_degrees(), fall.time_s])
            }))
        }),
        ("craft.fall_distance_stepped", |i| {
            let (f, step_s) = (falling(i)?, i.number("step_s")?);
            let fall =
                reference::fall::fall_stepped(&f.body, f.height_m, f.velocity_mps, f.wind_mps, f.density_kgpm3, step_s);
            Ok(maybe(fall.map(|fall| fall.distance_m)))
        }),
        ("craft.fall_distance_no_drag", |i| {
            let (height_m, speed_mps) = (i.number("height_m")?, i.number("speed_forward_mps")?);
            Ok(reference::fall::without_drag(height_m, speed_mps, i.number("g_mps2")?).distance_m.into())
        }),
        ("craft.fall_speed_no_drag", |i| {
            let fall = reference::fall::without_drag(i.number("height_m")?, 0.0, i.number("g_mps2")?);
            Ok(units::knots_from_mps(fall.speed_mps()).into())
        }),
        ("craft.fall_summary_no_drag", |i| {
            let (height_m, speed_mps) = (i.number("height_m")?, i.number("speed_forward_mps")?);
            let fall = reference::fall::without_drag(height_m, speed_mps, i.number("g_mps2")?);
            Ok(Value::numbers([fall.distance_m, fall.speed_mps(), fall.time_s]))
        }),
        ("craft.kinetic_energy", |i| Ok(fall::kinetic_energy_j(i.number("mass_kg")?, i.number("speed_mps")?).into())),
        ("craft.mass_for_terminal_energy", |i| {
            Ok(reference::fall::mass_for_terminal_energy_kg(
                i.number("energy_j")?,
                i.number("ballistic_coefficient_kgpm2")?,
                i.number("density_kgpm3")?,
                i.number("g_mps2")?,
            )
            .into())
        }),
        // Motion, wind triangle, drift, landing
        ("craft.tilt_limited_speed", |i| {
            let (linear, drag) = drags(i)?;
            Ok(reference::kinematics::tilt_limited_mps(radians(i, "tilt_deg")?, linear, drag).into())
        }),
        ("craft.stop_distance", |i| {
            let (speed_mps, decel_mps2) = (i.number("speed_mps")?, i.number("decel_mps2")?);
            Ok(reference::kinematics::stop_distance_m(speed_mps, decel_mps2, i.number("reaction_s")?).into())
        }),
        ("craft.tilt_acceleration", |i| Ok(reference::kinematics::tilt_accel_mps2(radians(i, "tilt_deg")?).into())),
        ("craft.load_factor", |i| Ok(reference::kinematics::load_factor(radians(i, "tilt_deg")?).into())),
        ("craft.leg_time", |i| {
            let (distance_m, speed_mps) = (i.number("distance_m")?, i.number("speed_max_mps")?);
            Ok(reference::kinematics::leg_time_s(distance_m, speed_mps, i.number("accel_mps2")?).into())
        }),
        ("craft.turn_radius", |i| {
            Ok(reference::kinematics::turn_radius_m(i.number("speed_mps")?, radians(i, "tilt_deg")?).into())
        }),
        ("craft.turn_time", |i| {
            let (speed_mps, tilt_rad) = (i.number("speed_mps")?, radians(i, "tilt_deg")?);
            Ok(reference::kinematics::turn_time_s(speed_mps, tilt_rad, radians(i, "turn_deg")?).into())
        }),
        ("craft.climb_energy", |i| {
            let (mass_kg, height_m) = (i.number("mass_kg")?, i.number("height_gain_m")?);
            Ok(reference::rotor::climb_energy_j(mass_kg, height_m, i.number("efficiency")?).into())
        }),
        ("craft.ground_speed", |i| {
            let (airspeed_mps, wind_mps) = (i.number("airspeed_mps")?, i.number("wind_mps")?);
            Ok(maybe(reference::kinematics::ground_speed_mps(
                airspeed_mps,
                wind_mps,
                radians(i, "wind_to_minus_track_deg")?,
            )))
        }),
        ("craft.crab_angle", |i| {
            let (airspeed_mps, wind_mps) = (i.number("airspeed_mps")?, i.number("wind_mps")?);
            let crab_rad =
                reference::kinematics::crab_rad(airspeed_mps, wind_mps, radians(i, "wind_to_minus_track_deg")?);
            Ok(maybe(crab_rad.map(f64::to_degrees)))
        }),
        ("craft.out_and_back_ratio", |i| {
            Ok(maybe(reference::kinematics::out_and_back_ratio(i.number("airspeed_mps")?, i.number("wind_mps")?)))
        }),
        ("craft.drift_distance", |i| {
            let (linear, drag) = drags(i)?;
            Ok(reference::kinematics::drift_distance_m(i.number("wind_mps")?, linear, drag, i.number("time_s")?).into())
        }),
        ("craft.drift_speed", |i| {
            let (linear, drag) = drags(i)?;
            Ok(reference::kinematics::drift_speed_mps(i.number("wind_mps")?, linear, drag, i.number("time_s")?).into())
        }),
        ("craft.bias_drift_speed", |i| {
            let (linear, drag) = drags(i)?;
            Ok(reference::kinematics::bias_drift_mps(radians(i, "attitude_bias_deg")?, linear, drag).into())
        }),
        ("craft.landing_drift", |i| {
            let (linear, drag) = drags(i)?;
            let (ref_mps, ref_m) = (i.number("wind_ref_mps")?, i.number("height_ref_m")?);
            let roughness_m = i.number("roughness_length_m")?;
            let wind = |height_m| wind::log_law_mps(ref_mps, ref_m, height_m, roughness_m);
            Ok(reference::landing::landing_drift_m(i.number("height_m")?, i.number("sink_mps")?, wind, linear, drag)
                .into())
        }),
        ("craft.landing_time", |i| {
            Ok(reference::landing::landing_time_s(
                i.number("height_m")?,
                i.number("sink_fast_mps")?,
                i.number("slow_below_m")?,
                i.number("sink_slow_mps")?,
            )
            .into())
        }),
        ("craft.reaction_time_quantile", |i| {
            let reaction = Uncertain::Lognormal(i.number("median_s")?, i.number("sigma_ln")?.exp());
            Ok(reaction.quantile(i.number("probability")?).into())
        }),
    ]
}

/// Standard deviation of the filtered component over many steps of the flight loop's filter.
fn sample_sigma_v(i: &mut Inputs) -> Answer {
    let air = low_altitude(i.number("height_agl_m")?);
    let sigma_w_mps = turbulence::sigma_w_mps(i.number("wind_20ft_mps")?);
    let (airspeed_mps, step_s) = (i.number("airspeed_mps")?, i.number("step_s")?);
    let steps = i.whole("steps_count")?;
    let source = Source::new(1, Purpose::Trial);
    let normals = |step: u32| {
        let [a, b, c, d] = source.normals(0, step, 0);
        [a, b, c, d, source.normals(0, step, 1)[0]]
    };
    let mut state = Dryden::stationary(normals(u32::MAX));
    let (mut sum, mut squares) = (0.0, 0.0);
    for step in 0..steps {
        let v = state.step(air, sigma_w_mps, airspeed_mps, step_s, normals(step as u32))[1];
        sum += v;
        squares += v * v;
    }
    let n = steps as f64;
    Ok((squares / n - (sum / n) * (sum / n)).sqrt().into())
}
