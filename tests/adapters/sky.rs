//! Adapters of the `sky` routines.
//!
//! Places, orbits, sights, the covariance behind every DOP, range errors, memories of errors, carrier over noise, the two-state outage,
//! the magnetic field and pressure heights are those that fly. Of `reference` come what flight has no use for: quantiles of errors
//! in closed form (there errors are drawn), whole days under bare skylines (there sites hide the sky), budgets of interference by radius
//! (there sources stand at places), laws of a wrong heading (there it is flown), message timing and published service figures.

use super::{Adapter, Inputs, Value};
use crate::reference::sky::*;
use lostlink::air::atmosphere::{isa_height_m, isa_height_slope_m_per_pa};
use lostlink::sky::*;
use lostlink::units::SPEED_OF_LIGHT_MPS;

/// Routine and adapter.
pub fn adapters() -> Vec<(&'static str, Adapter)> {
    vec![
        ("sky.ecef_from_geodetic", |i| Ok(Value::numbers(ecef_from_geodetic(place(i, "")?)))),
        ("sky.enu_from_geodetic", |i| {
            let site = place(i, "site_")?;
            Ok(Value::numbers(enu_from_geodetic(site, place(i, "")?)))
        }),
        ("sky.geodetic_from_ecef", |i| {
            let g = geodetic_from_ecef(point(i, "")?);
            Ok(Value::numbers([g.lat_deg(), g.lon_deg(), g.height_m]))
        }),
        ("sky.eccentric_anomaly", |i| {
            Ok(eccentric_anomaly_rad(i.number("mean_anomaly_rad")?, i.number("eccentricity")?).into())
        }),
        ("sky.broadcast_position", |i| {
            let elements = elements(|key| i.number(key))?;
            let mu = i.number("mu_m3ps2")?;
            Ok(Value::numbers(broadcast_position_m(&elements, i.number("time_of_week_s")?, mu)))
        }),
        ("sky.almanac_position", almanac_position),
        ("sky.sidereal_angle", |i| Ok(sidereal_angle_rad(calendar(i, "utc")?).to_degrees().into())),
        ("sky.gps_week", |i| {
            let at = GpsTime::from_gpst(calendar(i, "gpst")?);
            let start = GpsTime::from_week(at.week(), 0.0);
            Ok(Value::numbers([at.week() as f64, at.since_epoch_s - start.since_epoch_s]))
        }),
        ("sky.orbit_period", |i| Ok(orbit_period_s(i.number("a_m")?, i.number("mu_m3ps2")?).into())),
        ("sky.semi_major_axis", |i| Ok(semi_major_axis_m(i.number("period_s")?, i.number("mu_m3ps2")?).into())),
        ("sky.mean_motion", |i| {
            Ok((mean_motion_radps(i.number("a_m")?, i.number("mu_m3ps2")?).to_degrees() * 86_400.0).into())
        }),
        ("sky.nodal_rate", |i| {
            let rate = nodal_rate_radps(
                i.number("a_m")?,
                rad(i, "i_deg")?,
                i.number("eccentricity")?,
                i.number("j2")?,
                i.number("earth_radius_m")?,
                i.number("mu_m3ps2")?,
            );
            Ok((rate.to_degrees() * 86_400.0).into())
        }),
        ("sky.nominal_position", |i| {
            // A slot takes the constant of its system.
            let system = match i.number("mu_m3ps2")? {
                MU_GPS_M3PS2 => System::Gps,
                MU_M3PS2 => System::Galileo,
                other => return Err(format!("no system counts with {other} m³/s²")),
            };
            let slot = Slot {
                system,
                id: String::new(),
                a_m: i.number("a_m")?,
                inclination_rad: rad(i, "i_deg")?,
                node_rad: rad(i, "node_lon_deg")?,
                argument_of_latitude_rad: rad(i, "arglat_deg")?,
            };
            Ok(Value::numbers(slot.position_after_m(i.number("time_s")?)))
        }),
        ("sky.equator_crossing", |i| {
            let crossing = equator_crossing_rad(rad(i, "raan_deg")?, rad(i, "arglat_deg")?, rad(i, "gha_deg")?);
            Ok(crossing.to_degrees().into())
        }),
        ("sky.azimuth_elevation_range", |i| {
            let satellite = point(i, "sat_")?;
            let sight = Viewpoint::new(place(i, "")?).sight(satellite);
            Ok(Value::numbers([sight.azimuth_rad.to_degrees(), sight.elevation_rad.to_degrees(), sight.range_m]))
        }),
        ("sky.ephemeris_azimuth_elevation", ephemeris_azimuth_elevation),
        ("sky.ephemeris_dop", ephemeris_dop),
        ("sky.dop_one_clock", |i| Ok(dop_values(dop_one_clock(&directions(i)?)))),
        ("sky.dop_per_system", |i| {
            let directions = directions(i)?;
            let systems = i.texts("system")?;
            let systems: Vec<System> = systems.iter().map(|text| system(text)).collect::<Result<_, _>>()?;
            if systems.len() != directions.len() {
                return Err("as many systems as azimuths, please".into());
            }
            let satellites: Vec<_> = systems.into_iter().zip(directions).collect();
            Ok(dop_values(dop_per_system(&satellites)))
        }),
        ("sky.day_visibility", day_visibility),
        ("sky.wall_elevation", |i| {
            let elevation = wall_elevation_rad(
                rad(i, "az_deg")?,
                rad(i, "wall_normal_deg")?,
                i.number("wall_above_antenna_m")?,
                i.number("wall_distance_m")?,
            );
            Ok(elevation.to_degrees().into())
        }),
        ("sky.day_behind_walls", |i| {
            let (above_antenna_m, distance_m) = (i.number("wall_above_antenna_m")?, i.number("wall_distance_m")?);
            let walls = i.numbers("wall_normals_deg")?;
            let walls = walls.into_iter().map(|normal_deg| Skyline::Wall {
                normal_rad: normal_deg.to_radians(),
                above_antenna_m,
                distance_m,
            });
            masked_day(i, Skyline::Highest(walls.collect()))
        }),
        ("sky.day_in_clearing", |i| {
            let skyline = Skyline::Gap {
                closed_rad: rad(i, "treeline_deg")?,
                open_rad: rad(i, "open_elevation_deg")?,
                from_rad: rad(i, "open_from_deg")?,
                to_rad: rad(i, "open_to_deg")?,
            };
            masked_day(i, skyline)
        }),
        ("sky.radial_error_quantile", |i| {
            Ok(radial_error_quantile_m(i.number("hdop")?, i.number("uere_m")?, i.number("probability")?).into())
        }),
        ("sky.probability_within_2drms", |i| Ok(probability_within_2drms(i.number("sigma_ratio")?).into())),
        ("sky.radius_over_drms", |i| Ok(Value::numbers(i.numbers("probability")?.into_iter().map(radius_over_drms)))),
        ("sky.error_ellipse_radius", |i| {
            let (a, b) = (i.number("sigma_e_m")?, i.number("sigma_n_m")?);
            Ok(Value::numbers(i.numbers("probability")?.into_iter().map(|p| error_ellipse_radius_m(a, b, p))))
        }),
        ("sky.vertical_error_quantile", |i| {
            Ok(vertical_error_quantile_m(i.number("vdop")?, i.number("uere_m")?, i.number("probability")?).into())
        }),
        ("sky.spherical_error_quantile", |i| {
            Ok(spherical_error_quantile_m(i.number("sigma_m")?, i.number("probability")?).into())
        }),
        ("sky.range_error_rss", |i| Ok(root_sum_square(&i.numbers("components_m")?).into())),
        ("sky.ionosphere_obliquity", |i| {
            Ok(ionosphere_obliquity(rad(i, "el_deg")?, i.number("shell_height_m")?, i.number("earth_radius_m")?).into())
        }),
        ("sky.klobuchar_delay", |i| {
            let four = |list: Vec<f64>| <[f64; 4]>::try_from(list).map_err(|_| "four coefficients, please".to_string());
            let (alpha, beta) = (four(i.numbers("alpha")?)?, four(i.numbers("beta")?)?);
            Ok(klobuchar_delay_m(
                alpha,
                beta,
                rad(i, "lat_deg")?,
                rad(i, "lon_deg")?,
                rad(i, "az_deg")?,
                rad(i, "el_deg")?,
                i.number("time_of_week_s")?,
            )
            .into())
        }),
        ("sky.troposphere_sigma", |i| Ok(troposphere_sigma_m(rad(i, "el_deg")?).into())),
        ("sky.airframe_multipath_sigma", |i| Ok(airframe_multipath_sigma_m(rad(i, "el_deg")?).into())),
        ("sky.zenith_hydrostatic_delay", |i| {
            Ok(zenith_hydrostatic_delay_m(rad(i, "lat_deg")?, i.number("height_m")?).into())
        }),
        ("sky.weighted_error", |i| {
            let directions = directions(i)?;
            let sigmas = i.numbers("range_sigma_m")?;
            if sigmas.len() != directions.len() {
                return Err("as many sigmas as azimuths, please".into());
            }
            Ok(weighted_error_m(&directions, &sigmas).map_or(Value::NoAnswer, Value::numbers))
        }),
        ("sky.gauss_markov_step", |i| {
            let (sigma_m, time_constant_s, step_s) =
                (i.number("sigma_m")?, i.number("time_constant_s")?, i.number("step_s")?);
            let step = GaussMarkov::new(time_constant_s, step_s);
            Ok(Value::numbers([
                step.coefficient,
                sigma_m * step.drive,
                autocovariance_m2(sigma_m, time_constant_s, step_s),
            ]))
        }),
        ("sky.gauss_markov_steady_sigma", |i| {
            let (step_s, time_constant_s) = (i.number("step_s")?, i.number("time_constant_s")?);
            Ok(Value::numbers([
                steady_sigma_m(step_s, time_constant_s, i.number("noise_horizontal_m")?),
                steady_sigma_m(step_s, time_constant_s, i.number("noise_vertical_m")?),
            ]))
        }),
        ("sky.return_miss_sigma", |i| {
            Ok(return_miss_sigma_m(i.number("sigma_m")?, i.number("time_constant_s")?, i.number("lag_s")?).into())
        }),
        ("sky.averaged_error_sigma", |i| {
            let averaging_s = i.number("averaging_s")?;
            Ok(averaged_error_sigma_m(i.number("sigma_m")?, i.number("time_constant_s")?, averaging_s).into())
        }),
        ("sky.two_term_autocorrelation", |i| {
            Ok(two_term_autocorrelation(
                i.number("sigma_slow_m")?,
                i.number("time_constant_slow_s")?,
                i.number("sigma_fast_m")?,
                i.number("time_constant_fast_s")?,
                i.number("lag_s")?,
            )
            .into())
        }),
        ("sky.interference_q_factors", |i| {
            let f = interference_factors(i.number("chip_rate_hz")?);
            Ok(Value::numbers([f.line, f.white, f.matched]))
        }),
        ("sky.effective_cn0", |i| {
            Ok(effective_cn0_dbhz(
                i.number("cn0_dbhz")?,
                i.number("j_over_s_db")?,
                i.number("q_factor")?,
                i.number("chip_rate_hz")?,
            )
            .into())
        }),
        ("sky.tolerable_interference", |i| {
            let answer = tolerable_interference_db(
                i.number("cn0_dbhz")?,
                i.number("threshold_dbhz")?,
                i.number("q_factor")?,
                i.number("chip_rate_hz")?,
            );
            Ok(answer.map_or(Value::NoAnswer, Value::from))
        }),
        ("sky.interference_ratio", |i| {
            Ok(interference_ratio_db(
                i.number("eirp_dbw")?,
                i.number("distance_m")?,
                i.number("frequency_hz")?,
                i.number("gain_to_emitter_dbi")?,
                i.number("signal_dbw")?,
                i.number("gain_to_satellite_dbi")?,
            )
            .into())
        }),
        ("sky.interference_radius", |i| {
            let case = InterferenceCase {
                eirp_dbw: i.number("eirp_dbw")?,
                frequency_hz: i.number("frequency_hz")?,
                gain_to_emitter_dbi: i.number("gain_to_emitter_dbi")?,
                signal_dbw: i.number("signal_dbw")?,
                gain_to_satellite_dbi: i.number("gain_to_satellite_dbi")?,
                cn0_dbhz: i.number("cn0_dbhz")?,
                threshold_dbhz: i.number("threshold_dbhz")?,
                q_factor: i.number("q_factor")?,
                chip_rate_hz: i.number("chip_rate_hz")?,
            };
            Ok(interference_radius_m(&case).map_or(Value::NoAnswer, Value::from))
        }),
        ("sky.cn0_budget", |i| {
            Ok(cn0_budget_dbhz(
                i.number("signal_dbw")?,
                i.number("gain_dbi")?,
                i.number("noise_temperature_k")?,
                i.number("implementation_loss_db")?,
            )
            .into())
        }),
        ("sky.code_noise", |i| {
            let chips = code_noise_chips(
                i.number("cn0_dbhz")?,
                i.number("bandwidth_hz")?,
                i.number("spacing_chips")?,
                i.number("integration_s")?,
            );
            Ok(Value::numbers([chips, chips * SPEED_OF_LIGHT_MPS / i.number("chip_rate_hz")?]))
        }),
        ("sky.message_timing", |_| Ok(Value::numbers([MESSAGE_BIT_RATE, SUBFRAME_S, FRAME_S, ALMANAC_S]))),
        ("sky.ephemeris_wait", |i| Ok(Value::numbers(ephemeris_wait_s(i.number("subframe_s")?, i.number("frame_s")?)))),
        ("sky.message_success", |i| Ok(message_success(i.whole("bits_count")?, i.number("bit_error_rate")?).into())),
        ("sky.two_state_step", |i| {
            let step = TwoState::new(i.number("mean_up_s")?, i.number("mean_down_s")?, i.number("step_s")?);
            Ok(Value::numbers([step.availability, step.lose, step.regain]))
        }),
        ("sky.outage_longer", |i| Ok(outage_longer(i.number("mean_down_s")?, i.number("tau_s")?).into())),
        ("sky.any_outage_longer", |i| {
            Ok(any_outage_longer(
                i.number("mean_up_s")?,
                i.number("mean_down_s")?,
                i.number("tau_s")?,
                i.number("flight_s")?,
            )
            .into())
        }),
        ("sky.shadowing_states", |i| {
            let good = [i.number("mu_good_ln_m")?, i.number("sigma_good_ln")?, i.number("min_good_m")?];
            let bad = [i.number("mu_bad_ln_m")?, i.number("sigma_bad_ln")?, i.number("min_bad_m")?];
            let states = shadowing_states(good, bad);
            Ok(Value::numbers([states.mean_good_m, states.mean_bad_m, states.share_good]))
        }),
        ("sky.magnetic_elements", |i| {
            let field = magnetic(i)?;
            Ok(Value::numbers([
                field.declination_rad.to_degrees(),
                field.inclination_rad.to_degrees(),
                field.horizontal_nt,
            ]))
        }),
        ("sky.declination", |i| {
            let field = magnetic(i)?;
            Ok(Value::numbers([
                field.declination_rad.to_degrees(),
                field.horizontal_nt,
                field.declination_sigma_rad.to_degrees(),
            ]))
        }),
        ("sky.hard_iron_max", |i| {
            Ok(hard_iron_max_rad(i.number("bias_nt")?, i.number("horizontal_nt")?).to_degrees().into())
        }),
        ("sky.hard_iron_error", |i| {
            let (bias_nt, bias_angle) = (i.number("bias_nt")?, rad(i, "bias_angle_deg")?);
            let horizontal_nt = i.number("horizontal_nt")?;
            let error = hard_iron_error_rad(bias_nt, bias_angle, horizontal_nt, rad(i, "heading_deg")?);
            Ok(error.to_degrees().into())
        }),
        ("sky.wire_pair_field", |i| {
            Ok(wire_pair_field_nt(i.number("current_a")?, i.number("spacing_m")?, i.number("distance_m")?).into())
        }),
        ("sky.wire_field", |i| Ok(wire_field_nt(i.number("current_a")?, i.number("distance_m")?).into())),
        ("sky.spiral_path_ratio", |i| {
            Ok(Value::numbers(i.numbers("heading_error_deg")?.into_iter().map(|x| spiral_path_ratio(x.to_radians()))))
        }),
        ("sky.spiral_distance", |i| {
            let (distance_m, speed_mps) = (i.number("distance_m")?, i.number("speed_mps")?);
            let error = rad(i, "heading_error_deg")?;
            Ok(spiral_distance_m(distance_m, speed_mps, error, i.number("time_s")?).into())
        }),
        ("sky.heading_hold_limit", |i| {
            let list = i.numbers("damping_ratio")?;
            Ok(Value::numbers(list.into_iter().map(|z| heading_hold_limit_rad(z).to_degrees())))
        }),
        ("sky.course_sigma", |i| {
            let sigma = i.number("sigma_v_mps")?;
            Ok(Value::numbers(i.numbers("speed_mps")?.into_iter().map(|v| course_sigma_rad(sigma, v).to_degrees())))
        }),
        ("sky.nose_minus_course", |i| {
            let angle = nose_minus_course_rad(i.number("cross_wind_mps")?, i.number("airspeed_mps")?);
            Ok(angle.map_or(Value::NoAnswer, |x| x.to_degrees().into()))
        }),
        ("sky.isa_height_slope", |i| Ok((100.0 * isa_height_slope_m_per_pa(i.number("pressure_pa")?)).into())),
        ("sky.isa_height", |i| Ok(Value::numbers(i.numbers("pressure_pa")?.into_iter().map(isa_height_m)))),
        ("sky.pressure_tendency_error", |i| {
            let (tendency, elapsed) = (i.number("tendency_pa_per_h")?, i.number("elapsed_s")?);
            Ok(pressure_tendency_error_m(tendency, elapsed, i.number("slope_m_per_pa")?).into())
        }),
        ("sky.temperature_scale_height", |i| {
            let (indicated, layer) = (i.number("indicated_m")?, i.number("layer_isa_k")?);
            let list = i.numbers("delta_k")?;
            Ok(Value::numbers(list.into_iter().map(|dt| temperature_scale_height_m(indicated, layer, dt))))
        }),
        ("sky.static_port_error", |i| {
            Ok(static_port_error_m(i.number("speed_mps")?, i.number("pressure_coefficient")?).into())
        }),
        ("sky.service_figure_length", |i| service(i, true)),
        ("sky.service_figure_share", |i| service(i, false)),
    ]
}

fn rad(i: &mut Inputs, key: &str) -> Result<f64, String> {
    i.number(key).map(f64::to_radians)
}

fn place(i: &mut Inputs, prefix: &str) -> Result<Geodetic, String> {
    Ok(Geodetic::from_deg(
        i.number(&format!("{prefix}lat_deg"))?,
        i.number(&format!("{prefix}lon_deg"))?,
        i.number(&format!("{prefix}height_m"))?,
    ))
}

fn point(i: &mut Inputs, prefix: &str) -> Result<[f64; 3], String> {
    Ok([i.number(&format!("{prefix}x_m"))?, i.number(&format!("{prefix}y_m"))?, i.number(&format!("{prefix}z_m"))?])
}

fn calendar(i: &mut Inputs, key: &str) -> Result<Calendar, String> {
    calendar_of(&i.text(key)?).ok_or("no date and time")?.map_err(|error| error.to_string())
}

fn elements(mut get: impl FnMut(&str) -> Result<f64, String>) -> Result<Elements, String> {
    Ok(Elements {
        toe_s: get("toe_s")?,
        sqrt_a_sqrtm: get("sqrt_a_sqrtm")?,
        eccentricity: get("eccentricity")?,
        i0_rad: get("i0_rad")?,
        omega0_rad: get("omega0_rad")?,
        arg_perigee_rad: get("arg_perigee_rad")?,
        m0_rad: get("m0_rad")?,
        delta_n_radps: get("delta_n_radps")?,
        omega_dot_radps: get("omega_dot_radps")?,
        idot_radps: get("idot_radps")?,
        cuc_rad: get("cuc_rad")?,
        cus_rad: get("cus_rad")?,
        crc_m: get("crc_m")?,
        crs_m: get("crs_m")?,
        cic_rad: get("cic_rad")?,
        cis_rad: get("cis_rad")?,
    })
}

fn almanac_position(i: &mut Inputs) -> Result<Value, String> {
    let elements = Elements {
        eccentricity: i.number("eccentricity")?,
        toe_s: i.number("toa_s")?,
        i0_rad: i.number("inclination_rad")?,
        omega_dot_radps: i.number("omega_dot_radps")?,
        sqrt_a_sqrtm: i.number("sqrt_a_sqrtm")?,
        omega0_rad: i.number("right_ascension_at_week_rad")?,
        arg_perigee_rad: i.number("arg_perigee_rad")?,
        m0_rad: i.number("mean_anomaly_rad")?,
        ..Elements::default()
    };
    Ok(Value::numbers(broadcast_position_m(&elements, i.number("time_of_week_s")?, MU_GPS_M3PS2)))
}

/// The records of an ephemeris set: name, elements, gravitational constant.
fn ephemeris_set(i: &mut Inputs) -> Result<Vec<(String, Elements, f64)>, String> {
    let set = i.text("ephemeris_set")?;
    let mut list = Vec::new();
    for row in i.tables.rows("ephemeris") {
        let text = |key: &str| row.get(key).and_then(toml::Value::as_str);
        if text("set") != Some(set.as_str()) {
            continue;
        }
        let get = |key: &str| row.get(key).and_then(toml::Value::as_float).ok_or(format!("no `{key}` in the table"));
        let name = text("satellite").ok_or("a row without satellite")?.to_string();
        if list.iter().all(|(known, _, _)| *known != name) {
            list.push((name, elements(get)?, get("mu_m3ps2")?));
        }
    }
    if list.is_empty() { Err(format!("no ephemeris set `{set}`")) } else { Ok(list) }
}

fn ephemeris_azimuth_elevation(i: &mut Inputs) -> Result<Value, String> {
    let set = ephemeris_set(i)?;
    let name = i.text("satellite")?;
    let (_, elements, mu) = set.iter().find(|row| row.0 == name).ok_or(format!("no satellite {name}"))?;
    let satellite = broadcast_position_m(elements, i.number("time_of_week_s")?, *mu);
    let sight = Viewpoint::new(geodetic_from_ecef(point(i, "site_")?)).sight(satellite);
    Ok(Value::numbers([sight.azimuth_rad.to_degrees(), sight.elevation_rad.to_degrees()]))
}

fn ephemeris_dop(i: &mut Inputs) -> Result<Value, String> {
    let set = ephemeris_set(i)?;
    let time_of_week_s = i.number("time_of_week_s")?;
    let mask = rad(i, "mask_deg")?;
    let view = Viewpoint::new(geodetic_from_ecef(point(i, "site_")?));
    let mut seen = Vec::new();
    for (name, elements, mu) in &set {
        let sight = view.sight(broadcast_position_m(elements, time_of_week_s, *mu));
        if sight.elevation_rad >= mask {
            seen.push((system(&name[..1])?, sight.direction));
        }
    }
    let directions: Vec<[f64; 3]> = seen.iter().map(|s| s.1).collect();
    let (Some(one), Some(each)) = (dop_one_clock(&directions), dop_per_system(&seen)) else {
        return Ok(Value::NoAnswer);
    };
    Ok(Value::numbers([seen.len() as f64, one.hdop, one.vdop, one.pdop, each.hdop, each.vdop, each.pdop]))
}

fn system(letter: &str) -> Result<System, String> {
    System::ALL.into_iter().find(|system| letter.starts_with(system.letter())).ok_or(format!("no system `{letter}`"))
}

fn directions(i: &mut Inputs) -> Result<Vec<[f64; 3]>, String> {
    let (azimuths, elevations) = (i.numbers("az_deg")?, i.numbers("el_deg")?);
    if azimuths.len() != elevations.len() {
        return Err("as many elevations as azimuths, please".into());
    }
    Ok(azimuths.iter().zip(&elevations).map(|(a, e)| direction(a.to_radians(), e.to_radians())).collect())
}

fn dop_values(dop: Option<Dop>) -> Value {
    dop.map_or(Value::NoAnswer, |d| Value::numbers([d.hdop, d.vdop, d.pdop, d.gdop]))
}

/// Slots of a set named by its parts: `gps24_gal24`, `gps30`, `all96`.
fn constellation_set(i: &mut Inputs) -> Result<Vec<Slot>, String> {
    let name = i.text("constellation_set")?;
    let parts: Vec<&str> =
        if name == "all96" { vec!["gps24", "gal24", "glo24", "bds24"] } else { name.split('_').collect() };
    let mut slots = Vec::new();
    for part in parts {
        let set = match part {
            "gps24" => Constellation::Gps24,
            "gps30" => Constellation::Gps30,
            "gal24" | "galileo" => Constellation::Galileo,
            "glo24" | "glonass" => Constellation::Glonass,
            "bds24" | "bei24" | "beidou" => Constellation::Beidou,
            _ => return Err(format!("no constellation set `{name}`")),
        };
        slots.extend(set.slots());
    }
    Ok(slots)
}

fn day_visibility(i: &mut Inputs) -> Result<Value, String> {
    let slots = constellation_set(i)?;
    let site = place(i, "")?;
    let day = day_statistics(&slots, site, rad(i, "mask_deg")?, &Skyline::Level(-2.0));
    let (one, each) = (&day.one_clock, &day.per_system);
    Ok(Value::numbers([
        day.mean_visible(),
        f64::from(*day.visible.iter().min().ok_or("an empty day")?),
        f64::from(*day.visible.iter().max().ok_or("an empty day")?),
        median_dop(one, |d| d.hdop),
        median_dop(each, |d| d.hdop),
        day.share_visible(4),
        share_dop(one, |d| d.hdop, 2.0),
        share_dop(one, |d| d.pdop, 6.0),
        share_dop(each, |d| d.pdop, 6.0),
    ]))
}

fn masked_day(i: &mut Inputs, skyline: Skyline) -> Result<Value, String> {
    let slots = constellation_set(i)?;
    let site = place(i, "")?;
    let day = day_statistics(&slots, site, rad(i, "mask_deg")?, &skyline);
    Ok(Value::numbers([
        day.mean_visible(),
        median_dop(&day.one_clock, |d| d.hdop),
        share_dop(&day.one_clock, |d| d.pdop, 6.0),
    ]))
}

fn magnetic(i: &mut Inputs) -> Result<MagneticField, String> {
    let model = i.text("magnetic_model")?;
    let year = i.number("decimal_year")?;
    let field = magnetic_field(year, i.number("height_m")?, i.number("lat_deg")?, i.number("lon_deg")?)
        .map_err(|error| error.to_string())?;
    // The library takes the model in force; another one cannot be asked for.
    let in_force = if year < 2025.0 { "WMM2020" } else { "WMM2025" };
    if model == in_force { Ok(field) } else { Err(format!("{model} is not in force in {year}")) }
}

fn service(i: &mut Inputs, is_length: bool) -> Result<Value, String> {
    let name = i.text("figure")?;
    let figure = service_figure(&name).filter(|figure| figure.is_length == is_length);
    figure.map(|figure| figure.value.into()).ok_or(format!("no figure `{name}`"))
}
