//! The radio link in flight: mean budget from place and attitude, fading and packets from the flight's luck, and what
//! the receiver makes of them.
//!
//! Three time scales, kept apart: what geometry fixes (free space, obstruction, ground bounce, antennas, body), what is
//! frozen in space (shadowing), and what changes with every packet (fading by the way travelled, hops, bursts, other
//! users). All draws are keyed by (purpose, flight, step or count), never by policy: branches cloned from one trunk meet
//! the same luck.

use super::{Drawn, FlightDraws, LossBudget, LossCause};
use crate::radio::antenna::{Antenna, AntennaPair, Coupling, dot, turned};
use crate::radio::body::body_loss_db;
use crate::radio::fading::{
    DiffuseField, DiffuseRead, coherence_bandwidth_hz, k_db_at_elevation, rician_amplitudes, rician_level_db,
};
use crate::radio::free_space::{WavePolarisation, wavelength_m};
use crate::radio::ground::{ground_permittivity, reflection, roughness_factor};
use crate::radio::interference::{OnOff, Spells, collision_probability, loss_given_collision};
use crate::radio::maths::{cos_sin_turns, quick_db};
use crate::radio::modem::{FadedCurve, ModemError, PacketCurve};
use crate::radio::noise;
use crate::radio::receiver::{Declared, ReceiverSettings, ReceiverState};
use crate::radio::shadowing::ShadowTile;
use crate::radio::weather::{gas_specific_attenuation_db_per_km, rain_coefficients};
use crate::radio::{OutOfRange, Polarisation};
use crate::scenario::{NoiseEnvironment, Pilot, Radio, Scenario};
use crate::site::SiteGrid;
use crate::units::ratio_from_db;
use crate::world::{Excess, LinkField};
use std::sync::Arc;

/// Packet power is lost among neighbours when theirs stands within this of ours, dB: same-waveform capture.
///
/// # Source
/// Croce et al. (2018), about 6 dB for chirp waveforms of one spreading factor (from memory).
const CAPTURE_DB: f64 = 6.0;
/// Spread of a neighbour's power about ours at the craft, dB, 1 sigma (estimate).
const NEIGHBOUR_SPREAD_DB: f64 = 8.0;
/// From this many coherence bands on, hops fade independently of each other packet by packet.
const INDEPENDENT_BANDS: u32 = 16;
/// Speed of scatterers that keeps a hovering craft's fading moving, m/s (estimate: leaves, grass, the pilot's hand).
const SCATTER_MPS: f64 = 0.1;
/// From this share of blocking on there is no line of sight.
const BLOCKED: f64 = 0.95;
/// The mean link is evaluated every so many steps, at even ones (0.1 s of flight: a metre or two, a few degrees).
const MEAN_STEPS: u32 = 2;
/// Downlinks are evaluated every so many steps: telemetry at steps ≡ 0, video at steps ≡ 2 (mod 4).
const DOWNLINK_STEPS: u32 = 4;
/// A term that took less than this, dB, is not called the cause of a loss.
const CAUSE_LEAST_DB: f64 = 6.0;
/// Entries of the tables over the sine of an angle.
const SINE_POINTS: usize = 256;
/// Nominal failing share that margins refer to.
pub(super) const MARGIN_ERROR_RATE: f64 = 0.1;

/// Values of the uncertain radio inputs in one flight.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkDraws {
    /// Conducted power of the pilot's transmitter (unless it steps its power).
    pub power_dbm: f64,
    /// Noise added by the craft's electronics, dB.
    pub noise_rise_db: f64,
    /// Greatest loss through the pilot's body, dB.
    pub body_loss_db: f64,
    /// Standard deviation of shadowing, dB.
    pub shadow_sigma_db: f64,
    /// Radiated power of each interferer.
    pub interferer_dbm: Vec<f64>,
}

impl From<&Drawn> for LinkDraws {
    fn from(drawn: &Drawn) -> LinkDraws {
        LinkDraws {
            power_dbm: drawn.power_dbm,
            noise_rise_db: drawn.noise_rise_db,
            body_loss_db: drawn.body_loss_db,
            shadow_sigma_db: drawn.shadow_sigma_db,
            interferer_dbm: drawn.interferer_dbm.clone(),
        }
    }
}

/// One direction of one link as far as it is fixed.
#[derive(Debug, Clone)]
struct OneWay {
    /// Free-space loss at one metre.
    one_metre_db: f64,
    /// What rain and gases take from every metre.
    air_db_per_m: f64,
    pilot_antenna: Antenna,
    craft_antenna: Antenna,
    pair: AntennaPair,
    noise_dbm: f64,
    /// SNR at which [`MARGIN_ERROR_RATE`] of the packets fail without fading.
    needed_db: f64,
    curve: PacketCurve,
    faded: FadedCurve,
}

impl OneWay {
    /// Both ends whole and at their peaks, one metre apart: SNR over what is needed, without power and craft noise.
    fn margin_at_one_metre_db(&self) -> f64 {
        self.pair.best_db() - self.one_metre_db - self.noise_dbm - self.needed_db
    }
}

/// Constants of flat ground, for the ray off it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlatGround {
    /// Relative permittivity.
    pub permittivity: f64,
    /// Conductivity, S/m.
    pub conductivity_spm: f64,
    /// Rms roughness.
    pub roughness_m: f64,
}

/// The ray off flat ground, with the reflection coefficient tabled over the sine of the grazing angle.
#[derive(Debug, Clone)]
struct Bounce {
    ground_m: f64,
    per_wavelength: f64,
    /// Reflected amplitude (re, im) with roughness.
    table: Vec<[f64; 2]>,
}

impl Bounce {
    fn new(ground_m: f64, flat: &FlatGround, frequency_hz: f64, antenna: &Antenna) -> Result<Bounce, OutOfRange> {
        let ground = ground_permittivity(frequency_hz, flat.permittivity, flat.conductivity_spm)?;
        // A rod's field follows its lean from the vertical; a circular antenna takes the mean of both, its own sense.
        let axis = antenna.field_axis();
        let upright = match antenna.polarisation {
            Polarisation::Linear => axis[2] * axis[2],
            Polarisation::RightCircular(_) | Polarisation::LeftCircular(_) => 0.5,
        };
        let mut table = Vec::with_capacity(SINE_POINTS + 1);
        for i in 0..=SINE_POINTS {
            let grazing_rad = libm::asin(i as f64 / SINE_POINTS as f64);
            let part = |polarisation| -> Result<[f64; 2], OutOfRange> {
                let (size, phase) = reflection(ground, grazing_rad, polarisation)?;
                Ok([size * libm::cos(phase), size * libm::sin(phase)])
            };
            let (v, h) = (part(WavePolarisation::Vertical)?, part(WavePolarisation::Horizontal)?);
            let rough = roughness_factor(frequency_hz, grazing_rad, flat.roughness_m)?;
            table.push([0, 1].map(|c| rough * (upright * v[c] + (1.0 - upright) * h[c])));
        }
        Ok(Bounce { ground_m, per_wavelength: 1.0 / wavelength_m(frequency_hz), table })
    }

    /// Loss against the direct ray, dB, negative for a gain, at most 30 dB. `amplitude` of the bounced ray against the
    /// direct one by both antennas, `direct_m` and `bounced_m` the two ways, `heights_m` their product and sum.
    #[inline]
    fn loss_db(&self, amplitude: f64, direct_m: f64, bounced_m: f64, sum_m: f64, product_m2: f64) -> f64 {
        let x = (sum_m / bounced_m).min(1.0) * SINE_POINTS as f64;
        let i = (x as usize).min(SINE_POINTS - 1);
        let t = x - i as f64;
        let (a, b) = (self.table[i], self.table[i + 1]);
        let (re, im) = (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]));
        // The ways differ by 4 h1 h2/(r1 + r2), which does not cancel.
        let extra_m = 4.0 * product_m2 / (direct_m + bounced_m);
        let (cos, sin) = cos_sin_turns(extra_m * self.per_wavelength);
        let size = amplitude * direct_m / bounced_m;
        // Γ·e^(−jφ)
        let (x, y) = (1.0 + size * (re * cos + im * sin), size * (im * cos - re * sin));
        -quick_db((x * x + y * y).max(1e-3))
    }
}

/// A source of interference as far as it is fixed.
#[derive(Debug, Clone)]
struct SourceSetup {
    place_m: [f64; 3],
    spells: Spells,
    /// Channels of the control link's hop set that it covers: first and one past the last.
    channels: (u32, u32),
    /// Share of the hop set.
    overlap: f64,
    hits_video: bool,
}

/// Telemetry as far as it is fixed.
#[derive(Debug, Clone)]
struct TelemetrySetup {
    power_dbm: f64,
    noise_dbm: f64,
    interval_s: f64,
    patience_s: f64,
}

/// Video as far as it is fixed.
#[derive(Debug, Clone)]
struct VideoSetup {
    power_dbm: f64,
    patience_s: f64,
    way: OneWay,
}

/// The radio of a world: the same for all flights, read-only.
#[derive(Clone)]
pub struct LinkSetup {
    pilot_m: [f64; 3],
    /// Fixed facing of the pilot, (east, north); `None`: he follows the craft.
    facing: Option<[f64; 2]>,
    up: OneWay,
    telemetry: Option<TelemetrySetup>,
    video: Option<VideoSetup>,
    bounce: Option<Bounce>,
    excess: Option<Arc<LinkField>>,
    video_excess: Option<Arc<LinkField>>,
    receiver: ReceiverSettings,
    brownout_v: f64,
    restart_s: f64,
    restarts_per_s: f64,
    per_wavelength: f64,
    channels: u32,
    bands: u32,
    field: Arc<DiffuseField>,
    /// (K in dB, line-of-sight amplitude, diffuse amplitude) over the sine of the elevation.
    rician: Vec<[f64; 3]>,
    shadow_distance_m: f64,
    sources: Vec<SourceSetup>,
    /// Chance that neighbours cost a packet.
    neighbour_loss: f64,
    /// Bad and good spells, packet loss in both.
    bursts: Option<(Spells, [f64; 2])>,
    power_steps_dbm: Vec<f64>,
    power_up_below_pct: f64,
}

impl std::fmt::Debug for LinkSetup {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LinkSetup").field("pilot_m", &self.pilot_m).field("bands", &self.bands).finish_non_exhaustive()
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

/// The mean link at a moment: what geometry and shadowing make of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanLink {
    /// Where the margin went, without fading and interference.
    pub budget: LossBudget,
    /// Sum of those losses, dB.
    pub loss_db: f64,
    /// Rician K, dB; −∞ when the line of sight is blocked.
    pub k_db: f64,
    /// Line-of-sight and diffuse amplitude.
    amplitudes: [f64; 2],
    distance_m: f64,
    direction: [f64; 3],
    pilot_frame: [[f64; 3]; 3],
}

impl LinkSetup {
    /// The radio of a scenario over its site. `field` holds terrain, buildings and trees for the control frequency,
    /// `video_field` for the video's (the control's is used when it is missing). Flat sites have the ray off the ground.
    ///
    /// # Errors
    /// Figures that the waveform, noise or ground formulas do not cover.
    pub fn of_scenario(
        scenario: &Scenario,
        site: &SiteGrid,
        field: Option<Arc<LinkField>>,
        video_field: Option<Arc<LinkField>>,
    ) -> Result<LinkSetup, LinkError> {
        let flat = site.is_flat().then_some(FlatGround {
            permittivity: scenario.site.ground_permittivity,
            conductivity_spm: scenario.site.ground_conductivity_spm,
            roughness_m: scenario.site.ground_roughness_m,
        });
        let ground_m = |x_m, y_m| site.ground_m(x_m, y_m);
        let mut setup =
            LinkSetup::new(&scenario.radio, &scenario.pilot, scenario.seed, &ground_m, flat, field, video_field)?;
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
        excess: Option<Arc<LinkField>>,
        video_excess: Option<Arc<LinkField>>,
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
                one_metre_db: 20.0 * libm::log10(4.0 * std::f64::consts::PI / wavelength_m(frequency_hz)),
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
        let sources = radio.interferers.iter().map(|source| {
            let reach_hz = 0.5 * (source.bandwidth_hz + bandwidth_hz);
            let channel_hz = |i: u32| {
                let share = if channels > 1 { f64::from(i) / f64::from(channels - 1) - 0.5 } else { 0.0 };
                control.frequency_hz + span_hz * share
            };
            let first = (0..channels).find(|&i| channel_hz(i) > source.frequency_hz - reach_hz).unwrap_or(channels);
            let past = (0..channels).find(|&i| channel_hz(i) >= source.frequency_hz + reach_hz).unwrap_or(channels);
            let hits_video = radio.video.as_ref().is_some_and(|video| {
                (video.frequency_hz - source.frequency_hz).abs()
                    < 0.5 * (video.waveform.bandwidth_hz() + source.bandwidth_hz)
            });
            SourceSetup {
                place_m: {
                    let [x_m, y_m, height_m] = source.place_m;
                    [x_m, y_m, height_m + ground_m(x_m, y_m)]
                },
                spells: Spells::of_duty(source.duty, source.burst_s),
                channels: (first, past.max(first)),
                overlap: f64::from(past.max(first) - first) / f64::from(channels),
                hits_video,
            }
        });
        let time_on_air_s = control.waveform.time_on_air_s(control.payload_bytes)?.unwrap_or(0.0);
        let collision = collision_probability(radio.neighbours, channels, time_on_air_s, control.packet_rate_hz);
        let rician = (0..=SINE_POINTS)
            .map(|i| {
                let elevation_rad = libm::asin(i as f64 / SINE_POINTS as f64);
                let k_db = k_db_at_elevation(radio.rician_k_db[0], radio.rician_k_db[1], elevation_rad);
                let (line, diffuse) = rician_amplitudes(ratio_from_db(k_db));
                [k_db, line, diffuse]
            })
            .collect();
        let receiver = &control.receiver;
        let streams = super::Streams::new(seed);
        Ok(LinkSetup {
            pilot_m: [pilot.place_m[0], pilot.place_m[1], pilot_ground_m + pilot.antenna_height_m],
            facing: pilot.facing_deg.map(|degrees| {
                let (east, north) = libm::sincos(degrees.to_radians());
                [east, north]
            }),
            bounce: match &flat {
                Some(flat) => Some(Bounce::new(pilot_ground_m, flat, control.frequency_hz, &control.pilot_antenna)?),
                None => None,
            },
            telemetry,
            video,
            excess,
            video_excess,
            receiver: ReceiverSettings {
                interval_s: 1.0 / control.packet_rate_hz,
                window: (receiver.window_s * control.packet_rate_hz).round().max(1.0) as u32,
                patience_s: receiver.patience_s,
                handback_s: receiver.handback_s,
                handback_quality_pct: receiver.handback_quality_pct,
                rssi_step_db: receiver.rssi_step_db,
            },
            brownout_v: receiver.brownout_v,
            restart_s: receiver.restart_s,
            restarts_per_s: receiver.restarts_per_h / 3600.0,
            per_wavelength: 1.0 / wavelength_m(control.frequency_hz),
            channels,
            bands: bands as u32,
            field: Arc::new(DiffuseField::new(&streams.uplink)),
            rician,
            shadow_distance_m: radio.shadow_distance_m,
            sources: sources.collect(),
            neighbour_loss: collision * loss_given_collision(CAPTURE_DB, NEIGHBOUR_SPREAD_DB),
            bursts: radio.bursts.map(|b| (Spells { on_s: b.bad_s, off_s: b.good_s }, [b.loss_good, b.loss_bad])),
            power_steps_dbm: control.power_steps_dbm.clone(),
            power_up_below_pct: control.power_up_below_pct,
            up,
        })
    }

    /// Place of the pilot's antenna.
    pub fn pilot_m(&self) -> [f64; 3] {
        self.pilot_m
    }

    /// Settings of the receiver.
    pub fn receiver(&self) -> &ReceiverSettings {
        &self.receiver
    }

    /// Coherence bands that the hop set spans; from 16 on each packet fades on its own.
    pub fn bands(&self) -> u32 {
        self.bands
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
        if k_db == f64::NEG_INFINITY { self.up.faded.at_rayleigh(snr_db) } else { self.up.faded.at(snr_db, k_db) }
    }

    /// The mean uplink from the pilot to a craft at `place_m` whose body is turned by the rows of `body`
    /// (world-from-body), with a given shadowing loss.
    #[inline]
    pub fn mean(&self, place_m: [f64; 3], body: &[[f64; 3]; 3], body_loss_most_db: f64, shadowing_db: f64) -> MeanLink {
        let from = self.pilot_m;
        let (dx, dy, dz) = (place_m[0] - from[0], place_m[1] - from[1], place_m[2] - from[2]);
        let level2 = dx * dx + dy * dy;
        let square = (level2 + dz * dz).max(1.0);
        let distance_m = square.sqrt();
        let inverse = 1.0 / distance_m;
        let direction = [dx * inverse, dy * inverse, dz * inverse];
        let level = level2.sqrt();
        // Azimuth only: the pilot turns round, his antenna stays as level as he holds it.
        let per_level = 1.0 / level.max(1e-6);
        let bearing = if level > 1e-6 { [dx * per_level, dy * per_level] } else { [1.0, 0.0] };
        let facing = self.facing.unwrap_or(bearing);
        let pilot_frame = [[facing[0], -facing[1], 0.0], [facing[1], facing[0], 0.0], [0.0, 0.0, 1.0]];
        let joined = self.up.pair.coupling(&pilot_frame, body, direction);
        let over = self.excess.as_ref().map_or(Excess::default(), |field| field.excess(place_m));
        let reflection_db = match &self.bounce {
            Some(bounce) if over.blocked < BLOCKED => {
                self.bounced(bounce, place_m, body, &pilot_frame, level2, distance_m, &joined)
            }
            _ => 0.0,
        };
        let behind_db = match self.facing {
            Some(facing) => {
                body_loss_db(body_loss_most_db, facing[0] * bearing[0] + facing[1] * bearing[1], direction[2])
            }
            None => 0.0,
        };
        let [k_db, line, diffuse] = if over.blocked >= BLOCKED {
            [f64::NEG_INFINITY, 0.0, 1.0]
        } else {
            let x = direction[2].abs().min(1.0) * SINE_POINTS as f64;
            let i = (x as usize).min(SINE_POINTS - 1);
            let (a, b) = (&self.rician[i], &self.rician[i + 1]);
            let t = x - i as f64;
            let at = |c: usize| a[c] + t * (b[c] - a[c]);
            let [k_db, line, diffuse] = [at(0), at(1), at(2)];
            if over.blocked > 0.0 {
                // At the edge of a shadow the line of sight fades out, and K with it.
                let k = (1.0 - over.blocked) * line * line / (diffuse * diffuse);
                let (line, diffuse) = rician_amplitudes(k);
                [quick_db(k), line, diffuse]
            } else {
                [k_db, line, diffuse]
            }
        };
        let budget = LossBudget {
            distance_db: quick_db(square) + self.up.air_db_per_m * distance_m,
            diffraction_db: over.diffraction_db,
            vegetation_db: over.vegetation_db,
            reflection_db,
            pattern_db: joined.pattern_db,
            polarisation_db: joined.polarisation_db,
            body_db: behind_db,
            shadowing_db,
            fading_db: 0.0,
            interference_db: 0.0,
        };
        let loss_db = budget.distance_db
            + budget.diffraction_db
            + budget.vegetation_db
            + budget.reflection_db
            + budget.pattern_db
            + budget.polarisation_db
            + budget.body_db
            + budget.shadowing_db;
        MeanLink { budget, loss_db, k_db, amplitudes: [line, diffuse], distance_m, direction, pilot_frame }
    }

    #[allow(clippy::too_many_arguments)]
    #[inline]
    fn bounced(
        &self,
        bounce: &Bounce,
        place_m: [f64; 3],
        body: &[[f64; 3]; 3],
        pilot_frame: &[[f64; 3]; 3],
        level2: f64,
        distance_m: f64,
        joined: &Coupling,
    ) -> f64 {
        let (low_m, high_m) = ((self.pilot_m[2] - bounce.ground_m).max(0.0), (place_m[2] - bounce.ground_m).max(0.0));
        let sum_m = low_m + high_m;
        let bounced_m = (level2 + sum_m * sum_m).sqrt().max(1.0);
        let inverse = 1.0 / bounced_m;
        let (east, north) = ((place_m[0] - self.pilot_m[0]) * inverse, (place_m[1] - self.pilot_m[1]) * inverse);
        let slope = sum_m * inverse;
        let share = self.up.pair.share_of_rays(pilot_frame, body, [east, north, -slope], [east, north, slope]);
        let amplitude = (share / joined.pattern_share).sqrt();
        bounce.loss_db(amplitude, distance_m, bounced_m, sum_m, low_m * high_m)
    }
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

/// Payload that stands for a piece of picture when video rides on a packet waveform (estimate).
const VIDEO_PACKET_BYTES: u32 = 64;

/// The radio luck of one flight: its drawn values, its shadows, where it reads the fading.
#[derive(Debug, Clone)]
pub struct LinkLuck {
    draws: FlightDraws,
    values: LinkDraws,
    tile: ShadowTile,
    reads: Vec<DiffuseRead>,
    /// Interference to noise of each source a metre away from the peaks of the craft's antenna, of the pilot's control
    /// antenna, of his video antenna, as ratios.
    source_ratio: Vec<[f64; 3]>,
}

impl LinkLuck {
    /// Room for the luck of flights in this world, filled with the first one's.
    pub fn new(setup: &LinkSetup, draws: FlightDraws, values: LinkDraws) -> LinkLuck {
        let reads = if setup.bands < INDEPENDENT_BANDS { setup.bands as usize } else { 0 };
        let mut luck = LinkLuck {
            draws,
            values: values.clone(),
            tile: ShadowTile::new(setup.shadow_distance_m),
            reads: Vec::with_capacity(reads),
            source_ratio: Vec::with_capacity(setup.sources.len()),
        };
        luck.redraw(setup, draws, values);
        luck
    }

    /// Becomes the luck of another flight; keeps its memory.
    pub fn redraw(&mut self, setup: &LinkSetup, draws: FlightDraws, values: LinkDraws) {
        self.draws = draws;
        self.values = values;
        self.tile.redraw(&draws.streams.shadowing, draws.flight);
        let bands = if setup.bands < INDEPENDENT_BANDS { setup.bands } else { 0 };
        self.reads.clear();
        self.reads.extend((0..bands).map(|band| setup.field.read(&draws.streams.uplink, draws.flight, band)));
        let near = |eirp_dbm: f64, way: &OneWay, antenna: &Antenna, noise_dbm: f64| {
            let gain_db = antenna.peak_dbi() - antenna.condition_loss_db() - antenna.feed_loss_db;
            ratio_from_db(eirp_dbm + gain_db - way.one_metre_db - noise_dbm)
        };
        let up = &setup.up;
        let floor_dbm = up.noise_dbm + self.values.noise_rise_db;
        self.source_ratio.clear();
        self.source_ratio.extend(setup.sources.iter().enumerate().map(|(index, source)| {
            // A source that the draws do not know radiates nothing.
            let eirp_dbm = self.values.interferer_dbm.get(index).copied().unwrap_or(-300.0);
            let telemetry = setup.telemetry.as_ref();
            let video = setup.video.as_ref().filter(|_| source.hits_video).map(|video| &video.way);
            [
                near(eirp_dbm, up, &up.craft_antenna, floor_dbm),
                telemetry.map_or(0.0, |telemetry| near(eirp_dbm, up, &up.pilot_antenna, telemetry.noise_dbm)),
                video.map_or(0.0, |way| near(eirp_dbm, way, &way.pilot_antenna, way.noise_dbm)),
            ]
        }));
    }

    /// The drawn values.
    pub fn values(&self) -> &LinkDraws {
        &self.values
    }

    /// Shadowing loss at a place, dB (negative: a gain).
    #[inline]
    pub fn shadowing_db(&self, x_m: f64, y_m: f64) -> f64 {
        -self.values.shadow_sigma_db * self.tile.at(x_m, y_m)
    }
}

/// What happened to the link within a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LinkEvent {
    /// The receiver called the link lost.
    Lost {
        /// When.
        at_s: f64,
    },
    /// The receiver handed control back.
    Restored {
        /// When.
        at_s: f64,
    },
}

/// The link after a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkNow {
    /// Share of the window's packets received, per cent.
    pub quality_pct: f64,
    /// Signal strength of the last packet received, as the receiver reports it; NaN before the first.
    pub rssi_dbm: f64,
    /// Mean margin of the uplink (without fading) over the SNR at which 10 % of the packets fail.
    pub margin_db: f64,
    /// Where the margin went.
    pub budget: LossBudget,
    /// What the receiver declared within the step.
    pub event: Option<LinkEvent>,
    /// The link is not called lost.
    pub up: bool,
    /// The pilot's set hears the craft.
    pub telemetry_up: bool,
    /// Share of telemetry packets heard, per cent, with a memory of a second.
    pub telemetry_quality_pct: f64,
    /// The pilot has a picture (always false without a video link).
    pub video_up: bool,
}

impl LinkNow {
    /// Before the first step: up, nothing heard yet.
    pub fn at_start() -> LinkNow {
        LinkNow {
            quality_pct: 100.0,
            rssi_dbm: f64::NAN,
            margin_db: f64::NAN,
            budget: LossBudget::default(),
            event: None,
            up: true,
            telemetry_up: false,
            telemetry_quality_pct: 0.0,
            video_up: false,
        }
    }
}

/// The link of one flight: plain data, to be cloned at the branch.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkState {
    receiver: ReceiverState,
    /// The mean link, as last evaluated.
    held: Option<MeanLink>,
    /// Number of the next uplink packet; packet k is due at k × interval.
    packet: u32,
    travelled_m: f64,
    bursts: OnOff,
    sources: Vec<OnOff>,
    /// Interference to noise of each source at the craft, at the pilot's control and at his video receiver; the first as a
    /// rise of the floor in dB.
    source_ratio: Vec<[f64; 4]>,
    down_until_s: f64,
    restarts: u32,
    next_restart_s: f64,
    power_step: usize,
    power_change_s: f64,
    /// Momentary fade of the last packet, dB, and the last mean over a step.
    level_db: f64,
    fading_db: f64,
    /// Rise of the noise floor, mean over the hop set and the packets of the last step that had any.
    interference_db: f64,
    telemetry_packet: u32,
    telemetry_heard_s: f64,
    telemetry_share: f64,
    picture_s: f64,
    /// Since the last valid packet: summed budget and steps, and steps with the sender off, the receiver down, a burst on.
    silent: LossBudget,
    silent_steps: [u32; 4],
    margin_at_one_metre_db: f64,
}

/// Lanes of the interference stream.
const BURST_LANE: u32 = 0;
const SOURCE_LANE: u32 = 16;
/// Blocks of the uplink stream that restarts use; steps never reach them.
const RESTART_BLOCK: u32 = 0x2000_0000;

impl LinkState {
    /// The link at take-off, time 0: up, with a full window.
    pub fn new(setup: &LinkSetup, luck: &LinkLuck) -> LinkState {
        let (flight, interference) = (luck.draws.flight, &luck.draws.streams.interference);
        let idle = Spells { on_s: 0.0, off_s: 1.0 };
        let mut state = LinkState {
            receiver: ReceiverState::new(&setup.receiver, 0.0),
            held: None,
            packet: 0,
            travelled_m: 0.0,
            bursts: OnOff::start(
                setup.bursts.as_ref().map_or(&idle, |bursts| &bursts.0),
                interference,
                flight,
                BURST_LANE,
            ),
            sources: (0..)
                .zip(&setup.sources)
                .map(|(lane, source)| OnOff::start(&source.spells, interference, flight, SOURCE_LANE + lane))
                .collect(),
            source_ratio: vec![[0.0; 4]; setup.sources.len()],
            down_until_s: f64::NEG_INFINITY,
            restarts: 0,
            next_restart_s: f64::INFINITY,
            power_step: 0,
            power_change_s: 0.0,
            level_db: 0.0,
            fading_db: 0.0,
            interference_db: 0.0,
            telemetry_packet: 0,
            telemetry_heard_s: 0.0,
            telemetry_share: 1.0,
            picture_s: 0.0,
            silent: LossBudget::default(),
            silent_steps: [0; 4],
            margin_at_one_metre_db: f64::NAN,
        };
        state.next_restart_s = state.restart_after_s(setup, luck, 0.0);
        state
    }

    fn restart_after_s(&self, setup: &LinkSetup, luck: &LinkLuck, from_s: f64) -> f64 {
        if setup.restarts_per_s <= 0.0 {
            return f64::INFINITY;
        }
        let unit = luck.draws.streams.uplink.units(luck.draws.flight, self.restarts, RESTART_BLOCK)[0];
        from_s - libm::log(1.0 - unit) / setup.restarts_per_s
    }

    /// Whether the link is not called lost.
    pub fn up(&self) -> bool {
        self.receiver.up()
    }

    /// Time of the last valid packet.
    pub fn last_valid_s(&self) -> f64 {
        self.receiver.last_valid_s()
    }

    /// How long no valid packet has come in by a time.
    #[inline]
    pub fn silence_s(&self, time_s: f64) -> f64 {
        time_s - self.receiver.last_valid_s()
    }

    /// Moves the link on over [`time_s`, `time_s` + `dt_s`). `body` holds the rows of world-from-body; `cell_v` the pack
    /// voltage per cell; `forced_off` silences the pilot's set (a scripted cut).
    #[allow(clippy::too_many_arguments)]
    pub fn step(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        step: u32,
        time_s: f64,
        dt_s: f64,
        place_m: [f64; 3],
        body: &[[f64; 3]; 3],
        velocity_mps: [f64; 3],
        cell_v: f64,
        forced_off: bool,
    ) -> LinkNow {
        let (flight, streams) = (luck.draws.flight, &luck.draws.streams);
        let end_s = time_s + dt_s;
        let first = self.held.is_none();
        if step.is_multiple_of(MEAN_STEPS) || first {
            let shadowing_db = luck.shadowing_db(place_m[0], place_m[1]);
            self.held = Some(setup.mean(place_m, body, luck.values.body_loss_db, shadowing_db));
        }
        let Some(mean) = &self.held else { unreachable!("set above") };
        let (k_db, loss_db, amplitudes) = (mean.k_db, mean.loss_db, mean.amplitudes);

        // Power.
        let power_dbm = match setup.power_steps_dbm.get(self.power_step) {
            Some(&power_dbm) => power_dbm,
            None => luck.values.power_dbm,
        };
        self.margin_at_one_metre_db = setup.margin_at_one_metre_db(power_dbm, luck.values.noise_rise_db);
        let power_at_craft_dbm = power_dbm + setup.up.pair.best_db() - setup.up.one_metre_db - loss_db;
        let snr_db = power_at_craft_dbm - setup.up.noise_dbm - luck.values.noise_rise_db;

        // Other users of the band.
        let mut rise_sum_db = 0.0;
        if !setup.sources.is_empty() && (step.is_multiple_of(DOWNLINK_STEPS) || first) {
            let pilot_frame = mean.pilot_frame;
            self.weigh_sources(setup, luck, place_m, body, &pilot_frame);
        }

        // The receiver's own troubles.
        while self.next_restart_s < end_s {
            self.down_until_s = self.down_until_s.max(self.next_restart_s + setup.restart_s);
            self.receiver.forget();
            self.restarts += 1;
            self.next_restart_s = self.restart_after_s(setup, luck, self.next_restart_s);
        }
        if cell_v < setup.brownout_v {
            self.down_until_s = end_s + setup.restart_s;
            self.receiver.forget();
        }

        // Packets due within the step.
        let banded = !luck.reads.is_empty();
        let speed2 = dot(velocity_mps, velocity_mps);
        let speed_mps = (speed2 + SCATTER_MPS * SCATTER_MPS).sqrt();
        let rate_faded = |snr_db: f64| {
            if k_db == f64::NEG_INFINITY { setup.up.faded.at_rayleigh(snr_db) } else { setup.up.faded.at(snr_db, k_db) }
        };
        let clear_rate = if banded { 0.0 } else { rate_faded(snr_db) };
        let last_before_s = self.receiver.last_valid_s();
        let mut event = None;
        let (mut words, mut drawn) = ([0u32; 4], 0u32);
        let mut level_sum_db = 0.0;
        loop {
            let due_s = f64::from(self.packet) * setup.receiver.interval_s;
            if due_s >= end_s {
                break;
            }
            if drawn & 3 == 0 {
                words = streams.uplink.words(flight, step, drawn >> 2);
            }
            let word = words[(drawn & 3) as usize];
            drawn += 1;
            // The golden ratio's multiples visit the channels evenly and in a scattered order.
            let turn = self.packet.wrapping_mul(0x9E37_79B9);
            self.packet += 1;
            let channel = (u64::from(turn) * u64::from(setup.channels)) >> 32;
            let mut rise_db = 0.0;
            if !setup.sources.is_empty() {
                let (rise, mean_db) = self.rise_db(setup, luck, due_s, channel as u32);
                rise_db = rise;
                rise_sum_db += mean_db;
            }
            let mut arrive = if banded {
                let band = (channel * u64::from(setup.bands) / u64::from(setup.channels)) as usize;
                let way_m = self.travelled_m + speed_mps * (due_s - time_s).max(0.0);
                let field = setup.field.at(&luck.reads[band], way_m * setup.per_wavelength);
                self.level_db = rician_level_db(amplitudes[0], amplitudes[1], field);
                level_sum_db += self.level_db;
                1.0 - setup.up.curve.at(snr_db + self.level_db - rise_db)
            } else if rise_db > 0.0 {
                1.0 - rate_faded(snr_db - rise_db)
            } else {
                1.0 - clear_rate
            };
            arrive *= 1.0 - setup.neighbour_loss;
            if let Some((spells, loss)) = &setup.bursts {
                self.bursts.advance(spells, &streams.interference, flight, BURST_LANE, due_s);
                arrive *= 1.0 - loss[usize::from(self.bursts.on)];
            }
            let arrived = f64::from(word) < arrive * 4_294_967_296.0 && !forced_off && due_s >= self.down_until_s;
            let power_dbm = power_at_craft_dbm + if banded { self.level_db } else { 0.0 };
            if let Some(declared) = self.receiver.packet(&setup.receiver, due_s, arrived, power_dbm) {
                event = Some(declared);
            }
        }
        if let Some(declared) = self.receiver.silence(&setup.receiver, end_s) {
            event = Some(declared);
        }
        self.travelled_m += speed_mps * dt_s;
        if banded {
            if drawn > 0 {
                self.fading_db = -level_sum_db / f64::from(drawn);
            }
        } else if step.is_multiple_of(DOWNLINK_STEPS) || first {
            self.fading_db = setup.fading_cost_db(k_db);
        }
        if drawn > 0 && !setup.sources.is_empty() {
            self.interference_db = rise_sum_db / f64::from(drawn);
        }
        let terms = self.held.as_ref().map_or(LossBudget::default(), |mean| mean.budget);
        let budget = LossBudget { fading_db: self.fading_db, interference_db: self.interference_db, ..terms };

        // Memory of the silence, for its cause.
        if self.receiver.last_valid_s() > last_before_s {
            self.silent = LossBudget::default();
            self.silent_steps = [0; 4];
        }
        if self.receiver.last_valid_s() <= time_s {
            add(&mut self.silent, &budget);
            self.silent_steps[0] += 1;
            self.silent_steps[1] += u32::from(forced_off);
            self.silent_steps[2] += u32::from(time_s < self.down_until_s);
            self.silent_steps[3] += u32::from(setup.bursts.is_some() && self.bursts.on);
        }

        let quality_pct = self.receiver.quality_pct(&setup.receiver);
        let downlink_off = forced_off || time_s < self.down_until_s;
        if step.is_multiple_of(DOWNLINK_STEPS) {
            if let (Some(telemetry), Some(mean)) = (&setup.telemetry, self.held) {
                self.telemetry(setup, telemetry, luck, step, end_s, &mean, downlink_off);
            }
        } else if step % DOWNLINK_STEPS == 2
            && let (Some(video), Some(mean)) = (&setup.video, self.held)
        {
            self.video(setup, video, luck, step, end_s, place_m, body, &mean);
        }
        if setup.power_steps_dbm.len() > 1 && end_s >= self.power_change_s {
            self.step_power(setup, end_s, quality_pct);
        }

        LinkNow {
            quality_pct,
            rssi_dbm: self.receiver.rssi_dbm(&setup.receiver),
            margin_db: snr_db - self.interference_db - setup.up.needed_db,
            budget,
            event: event.map(|declared| match declared {
                Declared::Lost { at_s } => LinkEvent::Lost { at_s },
                Declared::Restored { at_s } => LinkEvent::Restored { at_s },
            }),
            up: self.receiver.up(),
            telemetry_up: setup.telemetry.as_ref().is_some_and(|t| end_s - self.telemetry_heard_s < t.patience_s),
            telemetry_quality_pct: 100.0 * self.telemetry_share,
            video_up: setup.video.as_ref().is_some_and(|v| end_s - self.picture_s < v.patience_s),
        }
    }

    /// Rise of the noise floor by the sources that are on at a packet's time: on its channel, and on average over the hop
    /// set, dB.
    #[inline]
    fn rise_db(&mut self, setup: &LinkSetup, luck: &LinkLuck, due_s: f64, channel: u32) -> (f64, f64) {
        let (flight, stream) = (luck.draws.flight, &luck.draws.streams.interference);
        let (mut ratio, mut mean_db) = (0.0, 0.0);
        for (lane, ((state, source), each)) in
            (SOURCE_LANE..).zip(self.sources.iter_mut().zip(&setup.sources).zip(&self.source_ratio))
        {
            state.advance(&source.spells, stream, flight, lane, due_s);
            if state.on && source.overlap > 0.0 {
                mean_db += source.overlap * each[3];
                if (source.channels.0..source.channels.1).contains(&channel) {
                    ratio += each[0];
                }
            }
        }
        (if ratio > 0.0 { quick_db(1.0 + ratio) } else { 0.0 }, mean_db)
    }

    /// Interference-to-noise of every source, over free space, with the antennas' patterns towards it: at the craft, at the
    /// pilot's control receiver and at his video receiver.
    fn weigh_sources(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        place_m: [f64; 3],
        body: &[[f64; 3]; 3],
        pilot_frame: &[[f64; 3]; 3],
    ) {
        let towards = |antenna: &Antenna, frame: &[[f64; 3]; 3], at_m: [f64; 3], source_m: [f64; 3]| {
            let way = [source_m[0] - at_m[0], source_m[1] - at_m[1], source_m[2] - at_m[2]];
            let square = dot(way, way).max(1.0);
            antenna.pattern_share(dot(turned(frame, antenna.axis), way) / square.sqrt()) / square
        };
        for ((source, near), ratio) in setup.sources.iter().zip(&luck.source_ratio).zip(&mut self.source_ratio) {
            let craft = near[0] * towards(&setup.up.craft_antenna, body, place_m, source.place_m);
            let at_pilot = |near: f64, antenna: &Antenna| {
                if near > 0.0 { near * towards(antenna, pilot_frame, setup.pilot_m, source.place_m) } else { 0.0 }
            };
            let telemetry = at_pilot(near[1], &setup.up.pilot_antenna);
            let video = setup.video.as_ref().map_or(0.0, |video| at_pilot(near[2], &video.way.pilot_antenna));
            *ratio = [craft, telemetry, video, quick_db(1.0 + craft)];
        }
    }

    /// Telemetry packets of the four steps that end at `end_s`: the same path backwards.
    #[allow(clippy::too_many_arguments)]
    fn telemetry(
        &mut self,
        setup: &LinkSetup,
        telemetry: &TelemetrySetup,
        luck: &LinkLuck,
        step: u32,
        end_s: f64,
        mean: &MeanLink,
        off: bool,
    ) {
        let way = &setup.up;
        let snr_db = telemetry.power_dbm + way.pair.best_db() - way.one_metre_db - mean.loss_db - telemetry.noise_dbm;
        let mut loss = if luck.reads.is_empty() {
            if mean.k_db == f64::NEG_INFINITY { way.faded.at_rayleigh(snr_db) } else { way.faded.at(snr_db, mean.k_db) }
        } else {
            // Same frequency, same moment: the fade of the uplink's last packet.
            way.curve.at(snr_db + self.level_db)
        };
        for ((state, source), ratio) in self.sources.iter().zip(&setup.sources).zip(&self.source_ratio) {
            if state.on && source.overlap > 0.0 {
                let hit = if luck.reads.is_empty() {
                    way.faded.at(snr_db - quick_db(1.0 + ratio[1]), mean.k_db.max(-10.0))
                } else {
                    way.curve.at(snr_db + self.level_db - quick_db(1.0 + ratio[1]))
                };
                loss += source.overlap * (hit - loss).max(0.0);
            }
        }
        let (flight, stream) = (luck.draws.flight, &luck.draws.streams.telemetry);
        let (mut words, mut drawn) = ([0u32; 4], 0u32);
        loop {
            let due_s = f64::from(self.telemetry_packet) * telemetry.interval_s;
            if due_s >= end_s {
                break;
            }
            if drawn & 3 == 0 {
                words = stream.words(flight, step, drawn >> 2);
            }
            let heard = !off && f64::from(words[(drawn & 3) as usize]) < (1.0 - loss) * 4_294_967_296.0;
            drawn += 1;
            self.telemetry_packet += 1;
            if heard {
                self.telemetry_heard_s = due_s;
            }
            self.telemetry_share += (f64::from(heard) - self.telemetry_share) * telemetry.interval_s.min(1.0);
        }
    }

    /// The picture over the four steps around `end_s`: one draw against the share of frames that fading loses.
    #[allow(clippy::too_many_arguments)]
    fn video(
        &mut self,
        setup: &LinkSetup,
        video: &VideoSetup,
        luck: &LinkLuck,
        step: u32,
        end_s: f64,
        place_m: [f64; 3],
        body: &[[f64; 3]; 3],
        mean: &MeanLink,
    ) {
        let way = &video.way;
        let joined = way.pair.coupling(&mean.pilot_frame, body, mean.direction);
        let over_db = match &setup.video_excess {
            Some(field) => {
                let over = field.excess(place_m);
                over.diffraction_db + over.vegetation_db
            }
            None => mean.budget.diffraction_db + mean.budget.vegetation_db,
        };
        let mut snr_db = video.power_dbm + joined.gain_db
            - joined.polarisation_db
            - way.one_metre_db
            - 2.0 * quick_db(mean.distance_m)
            - way.air_db_per_m * mean.distance_m
            - over_db
            - mean.budget.body_db
            - mean.budget.shadowing_db
            - way.noise_dbm;
        let mut ratio = 0.0;
        for (state, each) in self.sources.iter().zip(&self.source_ratio) {
            if state.on {
                ratio += each[2];
            }
        }
        if ratio > 0.0 {
            snr_db -= quick_db(1.0 + ratio);
        }
        let loss = if mean.k_db == f64::NEG_INFINITY {
            way.faded.at_rayleigh(snr_db)
        } else {
            way.faded.at(snr_db, mean.k_db)
        };
        let word = luck.draws.streams.video.words(luck.draws.flight, step, 0)[0];
        if f64::from(word) < (1.0 - loss) * 4_294_967_296.0 {
            self.picture_s = end_s;
        }
    }

    /// Power control, once per quality window: up a step when the pilot's set reads a quality under the threshold or
    /// hears no telemetry, down a step when every packet of the window arrived. Common practice, no source.
    fn step_power(&mut self, setup: &LinkSetup, now_s: f64, quality_pct: f64) {
        self.power_change_s = now_s + f64::from(setup.receiver.window) * setup.receiver.interval_s;
        let heard = setup.telemetry.as_ref().is_some_and(|t| now_s - self.telemetry_heard_s < t.patience_s);
        if !heard || quality_pct < setup.power_up_below_pct {
            self.power_step = (self.power_step + 1).min(setup.power_steps_dbm.len() - 1);
        } else if quality_pct >= 100.0 {
            self.power_step = self.power_step.saturating_sub(1);
        }
    }

    /// Why the link has been silent since the last valid packet: call it when the loss is declared.
    pub fn cause(&self) -> LossCause {
        let [steps, off, down, burst] = self.silent_steps;
        if steps == 0 {
            return LossCause::Fading;
        }
        let most = |part: u32| 2 * part > steps;
        if most(off) {
            return LossCause::Cut;
        }
        if most(down) {
            return LossCause::Restart;
        }
        if most(burst) {
            return LossCause::Interference;
        }
        let mut budget = self.silent;
        scale(&mut budget, 1.0 / f64::from(steps));
        cause(&budget, self.margin_at_one_metre_db)
    }
}

/// The term that took the margin away: the greatest loss besides distance, unless distance alone left almost nothing or no
/// other term took as much as 6 dB. `margin_at_one_metre_db` is what the budget's losses are taken from.
pub fn cause(budget: &LossBudget, margin_at_one_metre_db: f64) -> LossCause {
    let left_db = margin_at_one_metre_db - budget.distance_db;
    let terms = [
        (budget.diffraction_db, LossCause::Obstruction),
        (budget.vegetation_db, LossCause::Vegetation),
        (budget.pattern_db + budget.polarisation_db, LossCause::Antenna),
        (budget.body_db, LossCause::Body),
        (budget.reflection_db, LossCause::Reflection),
        (budget.shadowing_db + budget.fading_db, LossCause::Fading),
        (budget.interference_db, LossCause::Interference),
    ];
    let (most_db, cause) = terms
        .iter()
        .fold((f64::NEG_INFINITY, LossCause::Distance), |best, &term| if term.0 > best.0 { term } else { best });
    if left_db <= 3.0 || most_db < CAUSE_LEAST_DB { LossCause::Distance } else { cause }
}

fn each(budget: &mut LossBudget) -> [&mut f64; 10] {
    [
        &mut budget.distance_db,
        &mut budget.diffraction_db,
        &mut budget.vegetation_db,
        &mut budget.reflection_db,
        &mut budget.pattern_db,
        &mut budget.polarisation_db,
        &mut budget.body_db,
        &mut budget.shadowing_db,
        &mut budget.fading_db,
        &mut budget.interference_db,
    ]
}

fn add(sum: &mut LossBudget, more: &LossBudget) {
    let mut more = *more;
    for (a, b) in each(sum).into_iter().zip(each(&mut more)) {
        *a += *b;
    }
}

fn scale(budget: &mut LossBudget, factor: f64) {
    for term in each(budget) {
        *term *= factor;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::radio::ground::GroundBounce;

    /// The tabled bounce against the formula evaluated directly, over distances and heights of a small site.
    #[test]
    fn the_tabled_bounce_is_the_formula() {
        let flat = FlatGround { permittivity: 15.0, conductivity_spm: 0.005, roughness_m: 0.01 };
        for (axis, polarisation) in
            [([0.0, 0.0, 1.0], WavePolarisation::Vertical), ([0.0, 1.0, 0.0], WavePolarisation::Horizontal)]
        {
            let antenna = Antenna {
                pattern: crate::radio::Pattern::Dipole,
                polarisation: Polarisation::Linear,
                axis,
                condition: crate::radio::AntennaCondition::Whole,
                feed_loss_db: 0.0,
            };
            let tabled = Bounce::new(0.0, &flat, 2.44e9, &antenna).unwrap();
            let direct = GroundBounce::new(2.44e9, 15.0, 0.005, 0.01, polarisation).unwrap();
            let mut worst: f64 = 0.0;
            for i in 1..400 {
                for height_m in [2.0, 15.0, 60.0, 119.0] {
                    let level_m = f64::from(i) * 5.0;
                    let (sum_m, step_m): (f64, f64) = (1.5 + height_m, height_m - 1.5);
                    let ways = [step_m, sum_m].map(|h| (level_m * level_m + h * h).sqrt());
                    let got = tabled.loss_db(1.0, ways[0], ways[1], sum_m, 1.5 * height_m);
                    let want = direct.excess_db(level_m, 1.5, height_m, 1.0);
                    // In a null a hair of phase is decibels.
                    if want < 15.0 {
                        worst = worst.max((got - want).abs());
                    }
                }
            }
            assert!(worst < 0.1, "{worst}");
        }
    }

    #[test]
    fn causes_follow_the_greatest_term() {
        let far = LossBudget { distance_db: 70.0, ..LossBudget::default() };
        assert_eq!(cause(&far, 71.0), LossCause::Distance);
        assert_eq!(cause(&LossBudget { body_db: 4.0, ..far }, 90.0), LossCause::Distance);
        assert_eq!(cause(&LossBudget { diffraction_db: 25.0, shadowing_db: 7.0, ..far }, 90.0), LossCause::Obstruction);
        assert_eq!(cause(&LossBudget { vegetation_db: 25.0, pattern_db: 7.0, ..far }, 90.0), LossCause::Vegetation);
        assert_eq!(cause(&LossBudget { pattern_db: 14.0, polarisation_db: 9.0, ..far }, 90.0), LossCause::Antenna);
        assert_eq!(cause(&LossBudget { shadowing_db: 7.0, fading_db: 9.0, ..far }, 85.0), LossCause::Fading);
        assert_eq!(cause(&LossBudget { interference_db: 22.0, ..far }, 85.0), LossCause::Interference);
    }
}
