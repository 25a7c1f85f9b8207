//! Adapters of the `radio` routines about antennas, fading, waveforms, packets and the receiver.
//!
//! Antennas, the packet curve's error rates and packet shapes are those that fly. Outages, crossings, correlations and runs of
//! losses are not worked out in flight but happen there, packet by packet, in a field of scattered waves: the closed forms stand in
//! `reference`, and `tests/laws/link.rs` and the link's unit tests hold what happens against them.

use super::{Adapter, Inputs, Value};
use crate::reference::radio as reference;
use lostlink::radio::antenna::{Floor, polarisation_share};
use lostlink::radio::packets::BurstProcess;
use lostlink::radio::{Antenna, AntennaCondition, Pattern, Polarisation, modem};

/// Routine and adapter.
pub fn adapters() -> Vec<(&'static str, Adapter)> {
    vec![
        ("radio.shadowing_correlation", shadowing_correlation),
        ("radio.shadowing_innovation_sigma", shadowing_innovation_sigma),
        ("radio.shadowing_outage", shadowing_outage),
        ("radio.rician_outage", rician_outage),
        ("radio.rayleigh_outage", rayleigh_outage),
        ("radio.rician_fade_level", rician_fade_level),
        ("radio.fading_autocorrelation", fading_autocorrelation),
        ("radio.coherence_time", coherence_time),
        ("radio.level_crossing_rate", level_crossing_rate),
        ("radio.average_fade_duration", average_fade_duration),
        ("radio.frequency_correlation", frequency_correlation),
        ("radio.dipole_gain", dipole_gain),
        ("radio.dipole_beamwidth", dipole_beamwidth),
        ("radio.patch_gain", patch_gain),
        ("radio.polarisation_loss", polarisation_loss),
        ("radio.chirp_symbol_error_rate", chirp_symbol_error_rate),
        ("radio.chirp_symbol_error_rate_simulated", chirp_symbol_error_rate),
        ("radio.chirp_bit_error_rate_approx", chirp_bit_error_rate_approx),
        ("radio.chirp_snr_for_packet_error", chirp_snr_for_packet_error),
        ("radio.chirp_symbol_error_rate_rayleigh", chirp_symbol_error_rate_rayleigh),
        ("radio.fsk_bit_error_rate", fsk_bit_error_rate),
        ("radio.fsk_bit_error_rate_rician", fsk_bit_error_rate_rician),
        ("radio.psk_bit_error_rate", psk_bit_error_rate),
        ("radio.packet_error_rate", packet_error_rate),
        ("radio.chirp_payload_symbols", chirp_payload_symbols),
        ("radio.chirp_time_on_air", chirp_time_on_air),
        ("radio.burst_mean_loss", burst_mean_loss),
        ("radio.burst_bad_run", burst_bad_run),
        ("radio.burst_lag1_autocorrelation", burst_lag1_autocorrelation),
        ("radio.burst_window_sigma", burst_window_sigma),
        ("radio.burst_first_run", burst_first_run),
        ("radio.independent_first_run", independent_first_run),
        ("radio.independent_recovery", independent_recovery),
        ("radio.window_below_threshold", window_below_threshold),
        ("radio.silent_interval", silent_interval),
    ]
}

type Answer = Result<Value, String>;

fn shadowing_correlation(inputs: &mut Inputs) -> Answer {
    Ok(reference::shadowing::correlation(inputs.number("displacement_m")?, inputs.number("correlation_distance_m")?)
        .into())
}

fn shadowing_innovation_sigma(inputs: &mut Inputs) -> Answer {
    Ok(reference::shadowing::innovation_sigma_db(
        inputs.number("sigma_db")?,
        inputs.number("displacement_m")?,
        inputs.number("correlation_distance_m")?,
    )
    .into())
}

fn shadowing_outage(inputs: &mut Inputs) -> Answer {
    Ok(reference::shadowing::outage(inputs.number("margin_db")?, inputs.number("sigma_db")?).into())
}

fn rician_outage(inputs: &mut Inputs) -> Answer {
    Ok(reference::fading::rician_outage(inputs.number("k_db")?, inputs.number("level_re_mean_db")?).into())
}

fn rayleigh_outage(inputs: &mut Inputs) -> Answer {
    Ok(reference::fading::rayleigh_outage(inputs.number("level_re_mean_db")?).into())
}

fn rician_fade_level(inputs: &mut Inputs) -> Answer {
    let level = reference::fading::rician_fade_level_db(inputs.number("k_db")?, inputs.number("probability")?);
    Ok(level.map_or(Value::NoAnswer, Value::Number))
}

fn fading_autocorrelation(inputs: &mut Inputs) -> Answer {
    Ok(reference::fading::field_autocorrelation(
        inputs.number("frequency_hz")?,
        inputs.number("speed_mps")?,
        inputs.number("lag_s")?,
    )
    .into())
}

fn coherence_time(inputs: &mut Inputs) -> Answer {
    Ok(reference::fading::coherence_time_s(inputs.number("frequency_hz")?, inputs.number("speed_mps")?).into())
}

fn level_crossing_rate(inputs: &mut Inputs) -> Answer {
    Ok(reference::fading::level_crossing_rate_hz(
        inputs.number("k_linear")?,
        inputs.number("threshold_re_rms_db")?,
        inputs.number("doppler_hz")?,
    )
    .into())
}

fn average_fade_duration(inputs: &mut Inputs) -> Answer {
    Ok(reference::fading::average_fade_duration_s(
        inputs.number("k_linear")?,
        inputs.number("threshold_re_rms_db")?,
        inputs.number("doppler_hz")?,
    )
    .into())
}

fn frequency_correlation(inputs: &mut Inputs) -> Answer {
    Ok(reference::fading::frequency_correlation(
        inputs.number("frequency_separation_hz")?,
        inputs.number("rms_delay_s")?,
    )
    .into())
}

/// Gain at an angle from the axis of an antenna as it flies, dBi, its nulls left as they are.
fn gain_dbi(pattern: Pattern, angle_rad: f64) -> f64 {
    let antenna = Antenna {
        pattern,
        polarisation: Polarisation::Linear,
        axis: [0.0, 0.0, 1.0],
        condition: AntennaCondition::Whole,
        feed_loss_db: 0.0,
    };
    let bare = Floor::new(f64::INFINITY, f64::INFINITY);
    antenna.peak_dbi() + 10.0 * libm::log10(antenna.pattern_share(&bare, libm::cos(angle_rad)))
}

fn dipole_gain(inputs: &mut Inputs) -> Answer {
    Ok(gain_dbi(Pattern::Dipole, inputs.number("axis_angle_deg")?.to_radians()).into())
}

fn dipole_beamwidth(_: &mut Inputs) -> Answer {
    let (mut low, mut high) = (0.1, std::f64::consts::FRAC_PI_2);
    let half_dbi = gain_dbi(Pattern::Dipole, high) - 10.0 * std::f64::consts::LOG10_2;
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if gain_dbi(Pattern::Dipole, middle) < half_dbi { low = middle } else { high = middle }
    }
    Ok((std::f64::consts::PI - 2.0 * low).to_degrees().into())
}

fn patch_gain(inputs: &mut Inputs) -> Answer {
    let pattern = Pattern::Patch { exponent: inputs.number("exponent")?, back_db: f64::NEG_INFINITY };
    Ok(gain_dbi(pattern, inputs.number("angle_deg")?.to_radians()).into())
}

fn polarisation_loss(inputs: &mut Inputs) -> Answer {
    let (one, other) = (inputs.number("ellipticity_1")?, inputs.number("ellipticity_2")?);
    let tilt_rad = inputs.number("tilt_deg")?.to_radians();
    Ok((-10.0 * libm::log10(polarisation_share(one, other, libm::cos(2.0 * tilt_rad)).max(0.0))).into())
}

fn spreading_factor(inputs: &mut Inputs) -> Result<u32, String> {
    u32::try_from(inputs.whole("spreading_factor")?).map_err(|error| error.to_string())
}

fn or_none<T: Into<f64>, E>(answer: Result<T, E>) -> Answer {
    Ok(answer.map_or(Value::NoAnswer, |x| Value::Number(x.into())))
}

fn chirp_symbol_error_rate(inputs: &mut Inputs) -> Answer {
    or_none(modem::chirp_symbol_error_rate(spreading_factor(inputs)?, inputs.number("snr_db")?))
}

fn chirp_bit_error_rate_approx(inputs: &mut Inputs) -> Answer {
    or_none(reference::modem::chirp_bit_error_rate_approx(spreading_factor(inputs)?, inputs.number("snr_db")?))
}

fn chirp_snr_for_packet_error(inputs: &mut Inputs) -> Answer {
    or_none(reference::modem::chirp_snr_for_packet_error_db(
        spreading_factor(inputs)?,
        inputs.whole("symbols_count")?,
        inputs.number("packet_error_rate")?,
    ))
}

fn chirp_symbol_error_rate_rayleigh(inputs: &mut Inputs) -> Answer {
    or_none(reference::modem::chirp_symbol_error_rate_rayleigh(
        spreading_factor(inputs)?,
        inputs.number("mean_snr_db")?,
    ))
}

fn fsk_bit_error_rate(inputs: &mut Inputs) -> Answer {
    Ok(reference::modem::fsk_bit_error_rate(inputs.number("eb_n0_db")?).into())
}

fn fsk_bit_error_rate_rician(inputs: &mut Inputs) -> Answer {
    Ok(reference::modem::fsk_bit_error_rate_rician(inputs.number("k_db")?, inputs.number("mean_eb_n0_db")?).into())
}

fn psk_bit_error_rate(inputs: &mut Inputs) -> Answer {
    Ok(reference::modem::psk_bit_error_rate(inputs.number("eb_n0_db")?).into())
}

fn packet_error_rate(inputs: &mut Inputs) -> Answer {
    Ok(modem::packet_error_rate(inputs.whole("bits_count")?, inputs.number("bit_error_rate")?).into())
}

fn chirp_packet(inputs: &mut Inputs) -> Result<modem::ChirpPacket, String> {
    let small = |x: u64| u32::try_from(x).map_err(|error| error.to_string());
    Ok(modem::ChirpPacket {
        spreading_factor: spreading_factor(inputs)?,
        bandwidth_hz: inputs.number("bandwidth_hz")?,
        coding_rate_index: small(inputs.whole("coding_rate_index")?)?,
        payload_bytes: small(inputs.whole("payload_bytes")?)?,
        preamble_symbols: small(inputs.whole("preamble_symbols")?)?,
        crc: inputs.whole("crc")? != 0,
        implicit_header: inputs.whole("implicit_header")? != 0,
        low_rate_optimised: inputs.whole("low_rate_optimised")? != 0,
    })
}

fn chirp_payload_symbols(inputs: &mut Inputs) -> Answer {
    or_none(chirp_packet(inputs)?.payload_symbols().map(|symbols| symbols as f64))
}

fn chirp_time_on_air(inputs: &mut Inputs) -> Answer {
    or_none(chirp_packet(inputs)?.time_on_air_s())
}

fn burst(inputs: &mut Inputs) -> Result<BurstProcess, String> {
    Ok(BurstProcess {
        good_to_bad: inputs.number("p_good_to_bad")?,
        bad_to_good: inputs.number("p_bad_to_good")?,
        loss_good: inputs.number("loss_good")?,
        loss_bad: inputs.number("loss_bad")?,
    })
}

fn burst_mean_loss(inputs: &mut Inputs) -> Answer {
    Ok(reference::packets::mean_loss(&burst(inputs)?).into())
}

fn burst_bad_run(inputs: &mut Inputs) -> Answer {
    Ok(reference::packets::mean_bad_run(&burst(inputs)?).into())
}

fn burst_lag1_autocorrelation(inputs: &mut Inputs) -> Answer {
    Ok(reference::packets::autocorrelation(&burst(inputs)?, 1).into())
}

fn burst_window_sigma(inputs: &mut Inputs) -> Answer {
    let window = inputs.whole("window_count")?;
    Ok(reference::packets::window_sigma(&burst(inputs)?, window).into())
}

fn burst_first_run(inputs: &mut Inputs) -> Answer {
    let run = inputs.whole("run_count")?;
    Ok(burst(inputs)?.first_run(run).into())
}

fn independent_first_run(inputs: &mut Inputs) -> Answer {
    Ok(reference::packets::independent_first_run(inputs.number("packet_loss")?, inputs.whole("run_count")?).into())
}

fn independent_recovery(inputs: &mut Inputs) -> Answer {
    Ok(reference::packets::independent_recovery(inputs.number("packet_loss")?, inputs.whole("run_count")?).into())
}

fn window_below_threshold(inputs: &mut Inputs) -> Answer {
    Ok(reference::packets::window_below_threshold(
        inputs.number("packet_loss")?,
        inputs.whole("window_count")?,
        inputs.whole("threshold_count")?,
    )
    .into())
}

fn silent_interval(inputs: &mut Inputs) -> Answer {
    Ok(reference::packets::silent_interval(
        inputs.number("packet_rate_hz")?,
        inputs.number("gap_s")?,
        inputs.number("packet_loss")?,
    )
    .into())
}
