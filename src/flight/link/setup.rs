//! The radio of a world: what is the same for all flights.

use super::bounce::{Bounce, FlatGround};
use super::hands::{HandsSetup, PilotEnd};
use super::{MARGIN_ERROR_RATE, SINE_POINTS};
use crate::flight::Streams;
use crate::radio::OutOfRange;
use crate::radio::antenna::{Antenna, AntennaPair, Floor};
use crate::radio::fading::{DiffuseField, Rays, coherence_bandwidth_hz, k_db_at_elevation};
use crate::radio::free_space::{one_metre_loss_db, wavelength_m};
use crate::radio::interference::{Spells, collision_probability, loss_given_collision, spectral_overlap};
use crate::radio::maths::{DB_PER_NEPER, quick_ratio};
use crate::radio::modem::{FadedCurve, ModemError, PacketCurve};
use crate::radio::noise;
use crate::radio::receiver::ReceiverSettings;
use crate::radio::weather::{gas_specific_attenuation_db_per_km, rain_coefficients};
use crate::scenario::{NoiseEnvironment, Pilot, Radio, Scenario};
use crate::site::SiteGrid;
use crate::units::db_from_ratio;
use crate::world::{LinkField, LinkFields, SourceField};
use std::sync::Arc;

/// Height up to which shadowing is known to fall (3GPP TR 36.777 table B-3).
const SHADOW_HIGHEST_M: f64 = 300.0;
/// Packet power is lost among neighbours when theirs stands within this of ours, dB: same-waveform capture.
///
/// # Source
/// Croce et al. (2018), about 6 dB for chirp waveforms of one spreading factor (from memory).
const CAPTURE_DB: f64 = 6.0;
/// Spread of a neighbour's power about ours at the craft, dB, 1 sigma (estimate).
const NEIGHBOUR_SPREAD_DB: f64 = 8.0;
/// Payload that stands for a piece of picture when video rides on a packet waveform (estimate).
const VIDEO_PACKET_BYTES: u32 = 64;

/// One direction of one link as far as it is fixed.
#[derive(Debug, Clone)]
pub(super) struct OneWay {
    /// Free-space loss at one metre.
    pub(super) one_metre_db: f64,
    /// What rain and gases take from every metre.
    pub(super) air_db_per_m: f64,
    pub(super) pilot_antenna: Antenna,
    pub(super) craft_antenna: Antenna,
    pub(super) pair: AntennaPair,
    pub(super) noise_dbm: f64,
    /// SNR at which [`MARGIN_ERROR_RATE`] of the packets fail without fading.
    pub(super) needed_db: f64,
    pub(super) curve: PacketCurve,
    pub(super) faded: FadedCurve,
}

impl OneWay {
    /// Both ends whole and at their peaks, one metre apart: SNR over what is needed, without power and craft noise.
    fn margin_at_one_metre_db(&self) -> f64 {
        self.pair.best_db() - self.one_metre_db - self.noise_dbm - self.needed_db
    }

    /// Share of packets that fail at a mean SNR, over fading; without a line of sight (K of −∞ dB) Rayleigh's.
    #[inline]
    pub(super) fn faded_rate(&self, snr_db: f64, k_db: f64) -> f64 {
        if k_db == f64::NEG_INFINITY { self.faded.at_rayleigh(snr_db) } else { self.faded.at(snr_db, k_db) }
    }
}

/// A source of interference as far as it is fixed.
#[derive(Debug, Clone)]
pub(super) struct SourceSetup {
    pub(super) place_m: [f64; 3],
    pub(super) spells: Spells,
    /// What of its power falls into the control link's band on the channel that gets most of it, dB.
    pub(super) into_control_db: f64,
    /// What each channel gets of that.
    pub(super) weights: Vec<f64>,
    /// The weights that occur, none aside, and the share of the hop set that has them.
    pub(super) levels: Vec<(f64, f64)>,
    /// All channels get the same.
    pub(super) even: bool,
    /// What of its power falls into the video link's band, dB; `None`: nothing.
    pub(super) into_video_db: Option<f64>,
    /// What stands between it and the others.
    pub(super) field: Option<Arc<SourceField>>,
}

/// Telemetry as far as it is fixed.
#[derive(Debug, Clone)]
pub(super) struct TelemetrySetup {
    pub(super) power_dbm: f64,
    pub(super) noise_dbm: f64,
    pub(super) interval_s: f64,
    pub(super) patience_s: f64,
}

/// Video as far as it is fixed.
#[derive(Debug, Clone)]
pub(super) struct VideoSetup {
    pub(super) power_dbm: f64,
    pub(super) patience_s: f64,
    pub(super) way: OneWay,
}

/// The radio of a world: the same for all flights, read-only.
#[derive(Clone)]
pub struct LinkSetup {
    /// The pilot's end before anything has happened.
    pub(super) end: PilotEnd,
    /// What his hands do once the link is gone; `None`: nothing.
    pub(super) hands: Option<HandsSetup>,
    pub(super) up: OneWay,
    pub(super) telemetry: Option<TelemetrySetup>,
    pub(super) video: Option<VideoSetup>,
    pub(super) bounce: Option<Bounce>,
    pub(super) excess: Option<Arc<LinkField>>,
    pub(super) video_excess: Option<Arc<LinkField>>,
    pub(super) receiver: ReceiverSettings,
    pub(super) packet_rate_hz: f64,
    pub(super) brownout_v: f64,
    pub(super) restart_s: f64,
    pub(super) restarts_per_s: f64,
    pub(super) per_wavelength: f64,
    pub(super) channels: u32,
    pub(super) bands: u32,
    /// Bands over channels in 2⁻³², rounded up.
    pub(super) bands_per_channel: u64,
    pub(super) field: Arc<DiffuseField>,
    /// Steps from one look at the geometry to the next.
    pub(super) look_steps: u32,
    /// (K in dB, line-of-sight power, scattered power) over the sine of the elevation.
    pub(super) rician: Vec<[f64; 3]>,
    pub(super) shadow_distance_m: f64,
    /// Inverse of the height over which shadowing falls to 1/e; 0: it does not.
    shadow_per_m: f64,
    /// Ground that heights are above, for shadowing.
    ground_m: f64,
    /// Nulls in the middle.
    pub(super) floor: Floor,
    /// What the craft's own body takes: mean and standard deviation.
    pub(super) craft_shadow_db: [f64; 2],
    pub(super) sources: Vec<SourceSetup>,
    /// Stretches of the hop set that the same sources cover alike: share of it, which sources, and their weights.
    pub(super) stretches: Vec<(f64, Vec<(usize, f64)>)>,
    /// Share of packets that neighbours leave.
    pub(super) kept: f64,
    /// Bad and good spells, share of packets that each leaves: the good, the bad.
    pub(super) bursts: Option<(Spells, [f64; 2])>,
    pub(super) power_steps_dbm: Vec<f64>,
    pub(super) power_up_below_pct: f64,
}

impl std::fmt::Debug for LinkSetup {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LinkSetup")
            .field("pilot_m", &self.end.place_m)
            .field("bands", &self.bands)
            .finish_non_exhaustive()
    }
}

/// Why a link cannot be set up.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LinkError {
    /// The waveform.
    #[error(transparent)]
    Modem(#[from] ModemError),
    /// A figure of the radio or the ground.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
}

impl LinkSetup {
    /// The radio of a scenario over its site. Flat sites have the ray off the ground.
    ///
    /// # Errors
    /// Figures that the waveform, noise or ground formulas do not cover.
    pub fn of_scenario(scenario: &Scenario, site: &SiteGrid, fields: LinkFields) -> Result<LinkSetup, LinkError> {
        let flat = site.is_flat().then_some(FlatGround {
            permittivity: scenario.site.ground_permittivity,
            conductivity_spm: scenario.site.ground_conductivity_spm,
            roughness_m: scenario.site.ground_roughness_m,
        });
        let ground_m = |x_m, y_m| site.ground_m(x_m, y_m);
        let mut setup = LinkSetup::new(&scenario.radio, &scenario.pilot, scenario.seed, &ground_m, flat, fields)?;
        setup.look_steps = look_steps(scenario.step_s);
        setup.up.air_db_per_m = air_db_per_m(scenario.radio.control.frequency_hz, scenario)?;
        if let (Some(video), Some(radio)) = (&mut setup.video, &scenario.radio.video) {
            video.way.air_db_per_m = air_db_per_m(radio.frequency_hz, scenario)?;
        }
        Ok(setup)
    }

    /// What rain and gases take from every metre of the control link's way, dB.
    pub fn air_db_per_m(&self) -> f64 {
        self.up.air_db_per_m
    }

    /// As [`LinkSetup::of_scenario`], from the parts that matter: `ground_m` gives the height of the ground, `flat` holds
    /// the ground's constants when the ray off it counts.
    ///
    /// # Errors
    /// Figures that the waveform, noise or ground formulas do not cover.
    pub fn new(
        radio: &Radio,
        pilot: &Pilot,
        seed: u64,
        ground_m: &dyn Fn(f64, f64) -> f64,
        flat: Option<FlatGround>,
        fields: LinkFields,
    ) -> Result<LinkSetup, LinkError> {
        let pilot_ground_m = ground_m(pilot.place_m[0], pilot.place_m[1]);
        let control = &radio.control;
        let noise_dbm = |frequency_hz: f64, bandwidth_hz: f64, figure_db: f64| -> Result<f64, OutOfRange> {
            let external_db = radio.noise_environment.and_then(|environment| {
                let surroundings = match environment {
                    NoiseEnvironment::City => noise::NoiseSurroundings::City,
                    NoiseEnvironment::Residential => noise::NoiseSurroundings::Residential,
                    NoiseEnvironment::Rural => noise::NoiseSurroundings::Rural,
                    NoiseEnvironment::QuietRural => noise::NoiseSurroundings::QuietRural,
                };
                noise::man_made_noise_figure_extended_db(frequency_hz, surroundings)
            });
            let overall_db = match external_db {
                Some(external_db) => noise::overall_noise_figure_db(external_db, figure_db)?,
                None => figure_db,
            };
            noise::noise_power_dbm(bandwidth_hz, overall_db, 290.0)
        };
        let one_way =
            |frequency_hz: f64, pilot: &Antenna, craft: &Antenna, curve: PacketCurve, noise_dbm: f64| OneWay {
                air_db_per_m: 0.0,
                one_metre_db: one_metre_loss_db(frequency_hz),
                pilot_antenna: *pilot,
                craft_antenna: *craft,
                pair: AntennaPair::new(pilot, craft),
                noise_dbm,
                needed_db: curve.snr_for_db(MARGIN_ERROR_RATE),
                faded: FadedCurve::new(&curve),
                curve,
            };
        let bandwidth_hz = control.waveform.bandwidth_hz();
        let up = one_way(
            control.frequency_hz,
            &control.pilot_antenna,
            &control.craft_antenna,
            PacketCurve::new(&control.waveform, control.payload_bytes)?,
            noise_dbm(control.frequency_hz, bandwidth_hz, control.noise_figure_db)?,
        );
        let telemetry = match &radio.telemetry {
            Some(telemetry) => Some(TelemetrySetup {
                power_dbm: telemetry.power_dbm,
                noise_dbm: noise_dbm(control.frequency_hz, bandwidth_hz, telemetry.noise_figure_db)?,
                interval_s: 1.0 / telemetry.packet_rate_hz,
                patience_s: telemetry.patience_s,
            }),
            None => None,
        };
        let video = match &radio.video {
            Some(video) => Some(VideoSetup {
                power_dbm: video.power_dbm,
                patience_s: video.patience_s,
                way: one_way(
                    video.frequency_hz,
                    &video.pilot_antenna,
                    &video.craft_antenna,
                    PacketCurve::new(&video.waveform, VIDEO_PACKET_BYTES)?,
                    noise_dbm(video.frequency_hz, video.waveform.bandwidth_hz(), video.noise_figure_db)?,
                ),
            }),
            None => None,
        };
        let channels = control.hop_channels.max(1);
        let span_hz = if channels > 1 { control.hop_span_hz } else { 0.0 };
        let bands = (span_hz / coherence_bandwidth_hz(radio.delay_spread_s)).ceil().clamp(1.0, f64::from(channels));
        let sources = radio.interferers.iter().enumerate().map(|(index, source)| {
            let channel_hz = |i: u32| {
                let share = if channels > 1 { f64::from(i) / f64::from(channels - 1) - 0.5 } else { 0.0 };
                control.frequency_hz + span_hz * share
            };
            let into = |frequency_hz: f64, width_hz: f64| {
                spectral_overlap(source.frequency_hz, source.bandwidth_hz, frequency_hz, width_hz)
            };
            let shares: Vec<f64> = (0..channels).map(|i| into(channel_hz(i), bandwidth_hz)).collect();
            let most = shares.iter().copied().fold(0.0, f64::max);
            let weights: Vec<f64> = shares.iter().map(|share| if most > 0.0 { share / most } else { 0.0 }).collect();
            let video = radio.video.as_ref().map_or(0.0, |v| into(v.frequency_hz, v.waveform.bandwidth_hz()));
            SourceSetup {
                into_control_db: db_from_ratio(most),
                levels: levels_of(&weights),
                even: most > 0.0 && weights.iter().all(|weight| *weight > 1.0 - SAME),
                weights,
                into_video_db: (video > 0.0).then(|| db_from_ratio(video)),
                place_m: {
                    let [x_m, y_m, height_m] = source.place_m;
                    [x_m, y_m, height_m + ground_m(x_m, y_m)]
                },
                spells: Spells::of_duty(source.duty_with_beacons(), source.burst_s),
                field: fields.sources.get(index).cloned().flatten(),
            }
        });
        let sources: Vec<SourceSetup> = sources.collect();
        let time_on_air_s = control.waveform.time_on_air_s(control.payload_bytes)?.unwrap_or(0.0);
        // Channels closer than a band's width share their power: what counts is how many lie side by side.
        let side_by_side = channels.min(1 + (span_hz / bandwidth_hz) as u32);
        let collision = collision_probability(radio.neighbours, side_by_side, time_on_air_s, control.packet_rate_hz);
        let rician = (0..=SINE_POINTS)
            .map(|i| {
                let elevation_rad = libm::asin(i as f64 / SINE_POINTS as f64);
                let k_db = k_db_at_elevation(radio.rician_k_db[0], radio.rician_k_db[1], elevation_rad);
                let [line, scattered] = Rays::of_k_db(k_db).powers;
                [k_db, line, scattered]
            })
            .collect();
        let bounce = match &flat {
            Some(flat) => Some(Bounce::new(pilot_ground_m, flat, control.frequency_hz, &control.pilot_antenna)?),
            None => None,
        };
        let receiver = &control.receiver;
        let streams = Streams::new(seed);
        Ok(LinkSetup {
            end: PilotEnd::standing(
                [pilot.place_m[0], pilot.place_m[1], pilot_ground_m + pilot.antenna_height_m],
                pilot.facing_deg.map(|degrees| {
                    let (east, north) = libm::sincos(degrees.to_radians());
                    [east, north]
                }),
            ),
            hands: pilot.hands.as_ref().map(|hands| {
                HandsSetup::new(hands, pilot_ground_m, bounce.as_ref(), fields.raised_control, fields.raised_video)
            }),
            bounce,
            telemetry,
            video,
            excess: fields.control,
            video_excess: fields.video,
            receiver: ReceiverSettings {
                interval_s: 1.0 / control.packet_rate_hz,
                window: (receiver.window_s * control.packet_rate_hz).round().max(1.0) as u32,
                patience_s: receiver.patience_s,
                handback_s: receiver.handback_s,
                handback_quality_pct: receiver.handback_quality_pct,
                rssi_step_db: receiver.rssi_step_db,
            },
            packet_rate_hz: control.packet_rate_hz,
            brownout_v: receiver.brownout_v,
            restart_s: receiver.restart_s,
            restarts_per_s: receiver.restarts_per_h / 3600.0,
            per_wavelength: 1.0 / wavelength_m(control.frequency_hz),
            channels,
            bands: bands as u32,
            bands_per_channel: ((u64::from(bands as u32)) << 32).div_ceil(u64::from(channels)),
            look_steps: look_steps(DEFAULT_STEP_S),
            field: Arc::new(DiffuseField::new(&streams.uplink)),
            rician,
            shadow_distance_m: radio.shadow_distance_m,
            shadow_per_m: if radio.shadow_height_m > 0.0 { 1.0 / radio.shadow_height_m } else { 0.0 },
            ground_m: pilot_ground_m,
            floor: Floor::new(radio.null_depth_db.central(), radio.cross_polar_db.central()),
            craft_shadow_db: radio.craft_shadow_db,
            stretches: LinkSetup::stretches_of(&sources, channels),
            sources,
            kept: 1.0 - collision * loss_given_collision(CAPTURE_DB, NEIGHBOUR_SPREAD_DB),
            bursts: radio.bursts.map(|b| (Spells::new(b.bad_s, b.good_s), [1.0 - b.loss_good, 1.0 - b.loss_bad])),
            power_steps_dbm: control.power_steps_dbm.clone(),
            power_up_below_pct: control.power_up_below_pct,
            up,
        })
    }

    /// Channel that a packet is sent on.
    #[inline(always)]
    pub(super) fn channel(&self, packet: u32) -> u32 {
        // The golden ratio's multiples visit the channels evenly and in a scattered order.
        let turn = packet.wrapping_mul(0x9E37_79B9);
        ((u64::from(turn) * u64::from(self.channels)) >> 32) as u32
    }

    /// Coherence band of a channel.
    #[inline(always)]
    pub(super) fn band(&self, channel: u32) -> usize {
        ((u64::from(channel) * self.bands_per_channel) >> 32) as usize
    }

    /// How much of the shadowing near the ground there is at a height z.
    #[inline]
    pub fn shadow_share(&self, z_m: f64) -> f64 {
        if self.shadow_per_m <= 0.0 {
            return 1.0;
        }
        let height_m = (z_m - self.ground_m).clamp(0.0, SHADOW_HIGHEST_M);
        quick_ratio(-DB_PER_NEPER * self.shadow_per_m * height_m)
    }

    /// What the craft's own body takes: mean and standard deviation over craft in one direction, dB.
    pub fn craft_shadow_db(&self) -> [f64; 2] {
        self.craft_shadow_db
    }

    /// Place of the pilot's antenna.
    pub fn pilot_m(&self) -> [f64; 3] {
        self.end.place_m
    }

    /// Settings of the receiver.
    pub fn receiver(&self) -> &ReceiverSettings {
        &self.receiver
    }

    /// Coherence bands that the hop set spans; from 16 on each packet fades on its own.
    pub fn bands(&self) -> u32 {
        self.bands
    }

    /// Greatest power of the pilot's set: its last step, or the fixed power.
    pub fn full_power_dbm(&self, fixed_dbm: f64) -> f64 {
        self.power_steps_dbm.last().copied().unwrap_or(fixed_dbm)
    }

    /// Margin of the uplink one metre apart with both antennas whole and at their peaks: what the budget's losses are
    /// taken from.
    pub fn margin_at_one_metre_db(&self, power_dbm: f64, noise_rise_db: f64) -> f64 {
        self.up.margin_at_one_metre_db() + power_dbm - noise_rise_db
    }

    /// Power that reaches the margin of zero at the craft's receiver, dBm, in receiver noise alone.
    pub fn sensitivity_dbm(&self, noise_rise_db: f64) -> f64 {
        self.up.noise_dbm + noise_rise_db + self.up.needed_db
    }

    /// Cost of fading at a K, dB: how much more mean SNR a tenth of failing packets needs than without it.
    pub fn fading_cost_db(&self, k_db: f64) -> f64 {
        if k_db == f64::NEG_INFINITY {
            self.up.faded.snr_for_tenth_rayleigh_db() - self.up.needed_db
        } else {
            self.up.faded.snr_for_tenth_db(k_db) - self.up.needed_db
        }
    }

    /// Packet error rate at a mean margin, averaged over fading.
    pub fn faded_error_rate(&self, margin_db: f64, k_db: f64) -> f64 {
        let snr_db = margin_db + self.up.needed_db;
        self.up.faded_rate(snr_db, k_db)
    }
}

/// Weights nearer than this are one.
const SAME: f64 = 1e-9;

/// The weights above 0 that occur, with the share of channels that have them.
fn levels_of(weights: &[f64]) -> Vec<(f64, f64)> {
    let mut sorted: Vec<f64> = weights.iter().copied().filter(|weight| *weight > 0.0).collect();
    sorted.sort_by(f64::total_cmp);
    let mut levels: Vec<(f64, f64)> = Vec::new();
    for weight in sorted {
        match levels.last_mut() {
            Some((last, share)) if weight - *last < SAME => *share += 1.0 / weights.len() as f64,
            _ => levels.push((weight, 1.0 / weights.len() as f64)),
        }
    }
    levels
}

/// Geometry (places, attitude, shadows, downlinks) is looked at about every so often, as often as a fix is solved: a few
/// metres of flight at most, a few degrees. Estimate.
const LOOK_S: f64 = 0.2;
/// Step of a link that was not made from a whole scenario.
const DEFAULT_STEP_S: f64 = 0.05;

fn look_steps(step_s: f64) -> u32 {
    ((LOOK_S / step_s).round() as u32).max(1)
}

/// Rain and gases below this are left out, dB/km: a tenth of a decibel over ten kilometres.
const AIR_LEAST_DB_PER_KM: f64 = 0.01;

/// What rain and gases take from every metre of a way, dB; 0 where it is next to nothing.
///
/// Rain of the stated rate over the whole way, the mean of level and upright polarisation; air as warm as stated and as dense as at the sea,
/// with half the vapour that it can hold.
///
/// # Source
/// ITU-R P.838-3 for rain, from 1 GHz; ITU-R P.676-12 annex 1 for gases; vapour pressure after Magnus (Alduchov and Eskridge,
/// 1996, from memory); half saturated: estimate.
///
/// # Errors
/// Air outside the range of the formulas.
fn air_db_per_m(frequency_hz: f64, scenario: &Scenario) -> Result<f64, OutOfRange> {
    if frequency_hz < 1e8 {
        return Ok(0.0);
    }
    let weather = &scenario.weather;
    let celsius = weather.temperature_c.central();
    let vapour_pa = 0.5 * 610.94 * libm::exp(17.625 * celsius / (celsius + 243.04));
    let vapour_g_per_m3 = 2.167 * vapour_pa / (celsius + 273.15);
    let dry_pa = weather.pressure_pa - vapour_pa;
    let mut db_per_km = gas_specific_attenuation_db_per_km(frequency_hz, dry_pa, celsius + 273.15, vapour_g_per_m3)?;
    if weather.rain_mm_per_h > 0.0 && frequency_hz >= 1e9 {
        let rain = rain_coefficients(frequency_hz, 0.0, 45.0)?;
        db_per_km += rain.k * libm::pow(weather.rain_mm_per_h, rain.alpha);
    }
    Ok(if db_per_km < AIR_LEAST_DB_PER_KM { 0.0 } else { 1e-3 * db_per_km })
}
