//! Adapters of the `radio` routines about propagation, noise and the budget.

use super::{Adapter, Inputs, Value};
use crate::reference::radio as reference;
use crate::reference::radio::clutter::{self, Clutter};
use crate::reference::radio::diffraction::Edges;
use crate::reference::radio::ground::{GroundBounce, Soil};
use crate::reference::radio::noise::Budget;
use lostlink::radio::diffraction::{self, GroundConstants, TerrainColumn, TerrainMethod};
use lostlink::radio::free_space::{WavePolarisation, one_metre_loss_db};
use lostlink::radio::ground;
use lostlink::radio::maths::quick_db;
use lostlink::radio::noise::{self, NoiseEnvironment};
use lostlink::radio::vegetation::Woodland;
use lostlink::radio::{OutOfRange, weather};

/// A number within the range that a published formula states, both ends included.
fn within(what: &str, value: f64, low: f64, high: f64) -> Result<f64, String> {
    if (low..=high).contains(&value) { Ok(value) } else { Err(format!("{what} is {value}, outside {low} to {high}")) }
}

/// Routine and adapter.
pub fn adapters() -> Vec<(&'static str, Adapter)> {
    vec![
        ("radio.free_space_loss", |x| {
            // As the link adds it up: one metre, and the square of the distance in decibels. The link's own keys keep the
            // frequency within the formula's range and the distance above a metre; here they are asked for.
            let distance_m = within("distance in m", x.number("distance_m")?, f64::MIN_POSITIVE, f64::MAX)?;
            let frequency_hz = within("frequency in Hz", x.number("frequency_hz")?, 1e4, 1e12)?;
            Ok((one_metre_loss_db(frequency_hz) + quick_db(distance_m * distance_m)).into())
        }),
        // Design figures of a straight path. What flies works with the Fresnel parameter and the bulge of whole profiles instead.
        ("radio.fresnel_radius", |x| {
            let zone = u32::try_from(x.whole("zone")?).map_err(|error| error.to_string())?;
            answer(reference::free_space::fresnel_radius_m(
                x.number("frequency_hz")?,
                x.number("distance_1_m")?,
                x.number("distance_2_m")?,
                zone,
            ))
        }),
        ("radio.earth_bulge", |x| {
            answer(reference::free_space::earth_bulge_m(
                x.number("distance_1_m")?,
                x.number("distance_2_m")?,
                x.number("effective_earth_radius_m")?,
            ))
        }),
        // Two figures of the two rays that nothing in flight needs: there each moment's two ways are added.
        ("radio.two_ray_break_distance", |x| {
            answer(reference::ground::two_ray_break_distance_m(
                x.number("frequency_hz")?,
                x.number("height_1_m")?,
                x.number("height_2_m")?,
            ))
        }),
        ("radio.two_ray_null_spacing", |x| {
            answer(
                reference::ground::two_ray_null_spacing_hz(
                    x.number("ground_distance_m")?,
                    x.number("height_1_m")?,
                    x.number("height_2_m")?,
                )
                .map(|spacing_hz| spacing_hz * 1e-6),
            )
        }),
        ("radio.knife_edge_loss", |x| Ok(diffraction::knife_edge_loss_db(x.number("fresnel_parameter")?).into())),
        // The exact integral: what the approximation above is judged by.
        ("radio.knife_edge_loss_exact", |x| {
            answer(reference::diffraction::knife_edge_loss_exact_db(x.number("fresnel_parameter")?))
        }),
        ("radio.fresnel_parameter", |x| edge(x, diffraction::fresnel_parameter)),
        ("radio.single_edge_loss", |x| edge(x, diffraction::single_edge_loss_db)),
        // Several edges by other methods than that of flight, which takes the predominant edge and the worst on either side, and does so
        // on traced obstacles only (the tracer's unit tests hold it against the exact integral).
        ("radio.knife_edges_exact", |x| edges(x, reference::diffraction::knife_edges_exact_db)),
        ("radio.bullington_edges", |x| edges(x, reference::diffraction::bullington_edges_db)),
        ("radio.deygout_edges", |x| edges(x, reference::diffraction::deygout_edges_db)),
        ("radio.double_isolated_edges", |x| edges(x, reference::diffraction::double_isolated_edges_db)),
        // The Bullington part alone is an intermediate result of the column that flies.
        ("radio.bullington_profile", |x| profile(x, reference::diffraction::bullington_db)),
        ("radio.delta_bullington_profile", |x| {
            profile(x, |method, distance_m, height_m, tx_m, rx_m| {
                let mut column = TerrainColumn::default();
                column.set(method, distance_m, height_m, tx_m);
                column.loss_db(method, rx_m)
            })
        }),
        // A scenario states its ground's permittivity; nothing in flight works it out from water and soil.
        ("radio.water_permittivity_real", |x| water(x).map(|water| water.real.into())),
        ("radio.water_permittivity_loss", |x| water(x).map(|water| water.loss.into())),
        ("radio.soil_permittivity_real", |x| soil(x).map(|soil| soil.real.into())),
        ("radio.soil_permittivity_loss", |x| soil(x).map(|soil| soil.loss.into())),
        ("radio.ground_reflection_magnitude", |x| reflection(x).map(|gamma| gamma.norm().into())),
        ("radio.ground_reflection_phase", |x| {
            reflection(x).map(|gamma| gamma.arg().to_degrees().rem_euclid(360.0).into())
        }),
        // The link's bounce is tabled over the grazing angle from the same coefficients and private to it; its unit test holds the table
        // against this.
        ("radio.two_ray_excess", |x| {
            let bounce = GroundBounce::new(
                x.number("frequency_hz")?,
                x.number("eps_r")?,
                x.number("conductivity_s_per_m")?,
                x.number("rms_roughness_m")?,
                polarisation(x)?,
            )
            .map_err(refused)?;
            let isotropic = 1.0;
            let excess = bounce.excess_db(
                x.number("ground_distance_m")?,
                x.number("height_1_m")?,
                x.number("height_2_m")?,
                isotropic,
            );
            Ok(excess.into())
        }),
        ("radio.woodland_excess", |x| {
            // The two figures are given, so the frequency is only said.
            x.number("frequency_hz")?;
            let specific_db_per_m = x.number("specific_attenuation_db_per_m")?;
            let greatest_db = x.number("max_attenuation_db")?;
            let woodland = Woodland {
                specific_db_per_m: within("specific attenuation in dB/m", specific_db_per_m, 0.0, 100.0)?,
                greatest_db: within("greatest attenuation in dB", greatest_db, f64::MIN_POSITIVE, 1e3)?,
            };
            Ok(woodland.loss_db(within("depth in m", x.number("depth_m")?, 0.0, 1e6)?).into())
        }),
        // The older decay formula for trees: a second opinion, not flown.
        ("radio.tree_decay_loss", |x| {
            answer(reference::vegetation::tree_decay_loss_db(x.number("frequency_hz")?, x.number("depth_m")?))
        }),
        ("radio.rain_coefficient_k", |x| rain(x).map(|rain| rain.k.into())),
        ("radio.rain_exponent_alpha", |x| rain(x).map(|rain| rain.alpha.into())),
        // Flight takes the same coefficients for the mean of both polarisations over a path that leans; the level path is the printed case.
        ("radio.rain_path_loss", |x| {
            answer(reference::weather::rain_path_loss_db(
                x.number("frequency_hz")?,
                x.number("rain_rate_mm_per_h")?,
                x.number("distance_m")?,
            ))
        }),
        ("radio.gas_specific_attenuation", |x| {
            answer(weather::gas_specific_attenuation_db_per_km(
                x.number("frequency_hz")?,
                x.number("pressure_pa")?,
                x.number("temp_k")?,
                x.number("vapour_g_per_m3")?,
            ))
        }),
        // Statistical losses of places whose obstacles are not known. A scenario's obstacles are known and traced: both together would
        // count them twice, so none of these is flown.
        ("radio.clutter_loss", |x| {
            let class = match x.text("clutter")?.as_str() {
                "open_rural" => Clutter::OpenRural,
                "suburban" => Clutter::Suburban,
                "trees_forest" => Clutter::TreesForest,
                other => return Err(format!("unknown clutter `{other}`")),
            };
            answer(clutter::clutter_loss_db(
                x.number("frequency_hz")?,
                x.number("height_m")?,
                x.number("street_width_m")?,
                x.number("clutter_height_m")?,
                class,
            ))
        }),
        ("radio.line_of_sight_probability", |x| {
            answer(clutter::line_of_sight_probability(
                x.number("elevation_deg")?,
                x.number("los_a")?,
                x.number("los_b")?,
            ))
        }),
        ("radio.mean_excess_loss", |x| {
            answer(clutter::mean_excess_loss_db(
                x.number("elevation_deg")?,
                x.number("los_a")?,
                x.number("los_b")?,
                x.number("eta_los_db")?,
                x.number("eta_nlos_db")?,
            ))
        }),
        ("radio.rural_line_of_sight_probability", |x| {
            answer(clutter::rural_line_of_sight_probability(
                x.number("terminal_height_m")?,
                x.number("ground_distance_m")?,
            ))
        }),
        ("radio.rural_path_loss_los", |x| rural(x, clutter::rural_path_loss_in_sight_db)),
        ("radio.rural_path_loss_nlos", |x| rural(x, clutter::rural_path_loss_out_of_sight_db)),
        ("radio.noise_power", |x| {
            answer(noise::noise_power_dbm(
                x.number("bandwidth_hz")?,
                x.number("noise_figure_db")?,
                x.number("reference_temperature_k")?,
            ))
        }),
        ("radio.man_made_noise_figure", |x| {
            let surroundings = match x.text("noise_environment")?.as_str() {
                "city" => NoiseEnvironment::City,
                "residential" => NoiseEnvironment::Residential,
                "rural" => NoiseEnvironment::Rural,
                "quiet_rural" => NoiseEnvironment::QuietRural,
                other => return Err(format!("unknown surroundings `{other}`")),
            };
            // The Recommendation holds to 250 MHz; the link goes on with its slope, and says so.
            let frequency_hz = within("frequency in Hz", x.number("frequency_hz")?, 0.3e6, 250e6)?;
            noise::man_made_noise_figure_extended_db(frequency_hz, surroundings)
                .map(Value::from)
                .ok_or_else(|| "no man-made noise at this frequency".to_string())
        }),
        ("radio.overall_noise_figure", |x| {
            answer(noise::overall_noise_figure_db(x.number("external_noise_figure_db")?, x.number("noise_figure_db")?))
        }),
        // Sums of decibels for a desk: in flight powers are added as powers, and the budget is that of the link's setup.
        ("radio.noise_rise", |x| answer(reference::noise::noise_rise_db(x.number("interference_to_noise_db")?))),
        ("radio.sensitivity", |x| {
            answer(reference::noise::sensitivity_dbm(
                x.number("bandwidth_hz")?,
                x.number("noise_figure_db")?,
                x.number("snr_required_db")?,
            ))
        }),
        ("radio.link_margin", |x| {
            answer(reference::noise::link_margin_db(Budget {
                power_dbm: x.number("power_dbm")?,
                gain_tx_dbi: x.number("gain_tx_dbi")?,
                gain_rx_dbi: x.number("gain_rx_dbi")?,
                frequency_hz: x.number("frequency_hz")?,
                distance_m: x.number("distance_m")?,
                other_losses_db: x.number("other_losses_db")?,
                bandwidth_hz: x.number("bandwidth_hz")?,
                noise_figure_db: x.number("noise_figure_db")?,
                needed_snr_db: x.number("snr_required_db")?,
            }))
        }),
    ]
}

fn refused(error: OutOfRange) -> String {
    error.to_string()
}

fn answer(result: Result<f64, OutOfRange>) -> Result<Value, String> {
    result.map(Value::from).map_err(refused)
}

fn polarisation(x: &mut Inputs) -> Result<WavePolarisation, String> {
    match x.text("polarisation")?.as_str() {
        "horizontal" => Ok(WavePolarisation::Horizontal),
        "vertical" => Ok(WavePolarisation::Vertical),
        other => Err(format!("unknown polarisation `{other}`")),
    }
}

fn edge(x: &mut Inputs, routine: fn(f64, f64, f64, f64) -> Result<f64, OutOfRange>) -> Result<Value, String> {
    answer(routine(
        x.number("frequency_hz")?,
        x.number("distance_1_m")?,
        x.number("distance_2_m")?,
        x.number("height_above_ray_m")?,
    ))
}

fn edges(x: &mut Inputs, routine: fn(f64, Edges) -> Result<f64, OutOfRange>) -> Result<Value, String> {
    let spacings = x.numbers("spacings_m")?;
    let heights = x.numbers("edge_heights_above_ray_m")?;
    answer(routine(x.number("frequency_hz")?, Edges::new(&spacings, &heights).map_err(refused)?))
}

type Profile = fn(&TerrainMethod, &[f64], &[f64], f64, f64) -> f64;

fn profile(x: &mut Inputs, routine: Profile) -> Result<Value, String> {
    let name = x.text("terrain")?;
    let row = x
        .tables
        .rows("terrain")
        .iter()
        .find(|row| row.get("name").and_then(toml::Value::as_str) == Some(name.as_str()))
        .ok_or_else(|| format!("no terrain `{name}`"))?;
    let list = |key: &str| -> Result<Vec<f64>, String> {
        let values = row.get(key).and_then(toml::Value::as_array).ok_or_else(|| format!("terrain without `{key}`"))?;
        values
            .iter()
            .map(|value| value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64)))
            .collect::<Option<Vec<f64>>>()
            .ok_or_else(|| format!("terrain's `{key}` holds something else than numbers"))
    };
    let (distance, height) = (list("distance_m")?, list("height_m")?);
    let (Some(first), Some(last)) = (height.first(), height.last()) else { return Err("empty terrain".into()) };
    if distance.len() != height.len() {
        return Err("terrain of two lengths".into());
    }
    let method = TerrainMethod::new(
        x.number("frequency_hz")?,
        x.number("effective_earth_radius_m")?,
        GroundConstants::LAND,
        polarisation(x)?,
    )
    .map_err(refused)?;
    let tx_m = first + x.number("height_tx_agl_m")?;
    let rx_m = last + x.number("height_rx_agl_m")?;
    Ok(routine(&method, &distance, &height, tx_m, rx_m).into())
}

fn water(x: &mut Inputs) -> Result<ground::Permittivity, String> {
    reference::ground::water_permittivity(x.number("frequency_hz")?, x.number("temp_c")?).map_err(refused)
}

fn soil(x: &mut Inputs) -> Result<ground::Permittivity, String> {
    let soil = Soil {
        sand_pct: x.number("sand_percent")?,
        clay_pct: x.number("clay_percent")?,
        silt_pct: x.number("silt_percent")?,
        water_share: x.number("volumetric_water")?,
        specific_gravity: x.number("specific_gravity")?,
    };
    reference::ground::soil_permittivity(x.number("frequency_hz")?, x.number("temp_c")?, soil).map_err(refused)
}

fn reflection(x: &mut Inputs) -> Result<rustfft::num_complex::Complex<f64>, String> {
    let ground =
        ground::ground_permittivity(x.number("frequency_hz")?, x.number("eps_r")?, x.number("conductivity_s_per_m")?)
            .map_err(refused)?;
    ground::reflection(ground, x.number("grazing_deg")?.to_radians(), polarisation(x)?).map_err(refused)
}

fn rain(x: &mut Inputs) -> Result<weather::RainCoefficients, String> {
    weather::rain_coefficients(
        x.number("frequency_hz")?,
        x.number("elevation_deg")?,
        x.number("polarisation_tilt_deg")?,
    )
    .map_err(refused)
}

fn rural(x: &mut Inputs, routine: fn(f64, f64, f64) -> Result<f64, OutOfRange>) -> Result<Value, String> {
    answer(routine(x.number("terminal_height_m")?, x.number("slant_distance_m")?, x.number("frequency_hz")?))
}
