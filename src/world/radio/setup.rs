//! The radio of a world: what is the same for all flights.

use super::SINE_POINTS;
use super::bounce::{Bounce, FlatGround};
use super::fields::LinkFields;
use super::hops::HopSet;
use super::one_way::{OneWay, Packets, air_db_per_m, noise_dbm};
use super::pilot_end::{HandsSetup, PilotEnd};
use super::source::{SourceSetup, Stretch, stretches_of};
use crate::chance::{Purpose, Source};
use crate::radio::OutOfRange;
use crate::radio::antenna::Floor;
use crate::radio::fading::{DiffuseField, Rays, k_db_at_elevation};
use crate::radio::free_space::wavelength_m;
use crate::radio::interference::{Spells, collision_probability, loss_given_collision};
use crate::radio::maths::{DB_PER_NEPER, quick_ratio};
use crate::radio::modem::ModemError;
use crate::radio::receiver::ReceiverSettings;
use crate::scenario::{Pilot, Radio, RadioLink, Scenario, VideoLink};
use crate::site::SiteGrid;
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

/// Place and shadows are looked at about every so often, half-way along the way that the craft comes until the next look, with the
/// attitude that it has when the look is taken: within a metre or two of that place the link departs little from its mean over the way.
/// A settled link is looked at more rarely. Estimate.
const LOOK_S: f64 = 0.2;
/// About every so often telemetry and picture are judged, and the pilot's hands act: as often as a fix is solved. Estimate.
const NEWS_S: f64 = 0.2;
/// Step of a link that was not made from a whole scenario.
const STEP_WITHOUT_SCENARIO_S: f64 = 0.05;

/// Telemetry as far as it is fixed.
#[derive(Debug, Clone)]
pub(crate) struct TelemetrySetup {
    pub(crate) power_dbm: f64,
    pub(crate) noise_dbm: f64,
    pub(crate) interval_s: f64,
    pub(crate) patience_s: f64,
}

/// Video as far as it is fixed.
#[derive(Debug, Clone)]
pub(crate) struct VideoSetup {
    pub(crate) power_dbm: f64,
    pub(crate) patience_s: f64,
    pub(crate) way: OneWay,
}

/// Bursts of loss by nobody in particular.
#[derive(Debug, Clone)]
pub(crate) struct BurstSetup {
    /// Bad and good spells.
    pub(crate) spells: Spells,
    /// Share of packets that each leaves: the good, the bad.
    pub(crate) left: [f64; 2],
}

/// The receiver's restarts.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RestartSetup {
    /// Volts per cell under which the craft's receiver restarts.
    pub(crate) brownout_v: f64,
    pub(crate) for_s: f64,
    pub(crate) per_s: f64,
}

/// Steps of power of the pilot's set.
#[derive(Debug, Clone)]
pub(crate) struct PowerSetup {
    /// Empty: the power is fixed.
    pub(crate) steps_dbm: Vec<f64>,
    /// Quality under which it goes up a step.
    pub(crate) up_below_pct: f64,
}

impl PowerSetup {
    /// Whether the power may change.
    #[inline]
    pub(crate) fn is_stepped(&self) -> bool {
        self.steps_dbm.len() > 1
    }
}

/// How looks at the geometry and news of the ways back divide the time: the nearest whole number of steps.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rhythm {
    /// From one look to the next, where the link is not settled.
    pub(crate) look_steps: u32,
    pub(crate) look_s: f64,
    /// From one piece of news to the next.
    pub(crate) news_steps: u32,
    pub(crate) news_s: f64,
}

impl Rhythm {
    fn of(step_s: f64) -> Rhythm {
        let steps = |time_s: f64| ((time_s / step_s).round() as u32).max(1);
        let (look_steps, news_steps) = (steps(LOOK_S), steps(NEWS_S));
        let [look_s, news_s] = [look_steps, news_steps].map(|steps| f64::from(steps) * step_s);
        Rhythm { look_steps, look_s, news_steps, news_s }
    }
}

/// The radio of a world: the same for all flights, read-only.
#[derive(Clone)]
pub struct LinkSetup {
    /// The pilot's end before anything has happened.
    pub(crate) end: PilotEnd,
    /// What his hands do once the link is gone; `None`: nothing.
    pub(crate) hands: Option<HandsSetup>,
    pub(crate) up: OneWay,
    pub(crate) telemetry: Option<TelemetrySetup>,
    pub(crate) video: Option<VideoSetup>,
    pub(crate) bounce: Option<Bounce>,
    pub(crate) fields: LinkFields,
    /// Settings of the receiver.
    pub receiver: ReceiverSettings,
    pub(crate) packet_rate_hz: f64,
    pub(crate) restarts: RestartSetup,
    pub(crate) per_wavelength: f64,
    pub(crate) hops: HopSet,
    /// That of the scenario.
    seed: u64,
    /// Scattered field, for hops that fade together: of the seed alone.
    pub(crate) fading: Arc<DiffuseField>,
    /// How the looks at the geometry and the ways back divide the time.
    pub(crate) rhythm: Rhythm,
    /// (K in dB, line-of-sight power, scattered power) over the sine of the elevation.
    pub(super) rician: Vec<[f64; 3]>,
    pub(crate) shadow_distance_m: f64,
    /// Inverse of the height over which shadowing falls to 1/e; 0: it does not.
    shadow_per_m: f64,
    /// Ground that heights are above, for shadowing.
    ground_m: f64,
    /// Nulls in the middle.
    pub(crate) floor: Floor,
    /// What the craft's own body takes: mean and standard deviation over craft in one direction, dB.
    pub(crate) craft_shadow_db: [f64; 2],
    pub(crate) sources: Vec<SourceSetup>,
    pub(super) stretches: Vec<Stretch>,
    /// Share of packets that neighbours leave.
    pub(crate) kept: f64,
    pub(crate) bursts: Option<BurstSetup>,
    pub(crate) power: PowerSetup,
}

impl std::fmt::Debug for LinkSetup {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LinkSetup")
            .field("pilot_m", &self.end.place_m)
            .field("bands", &self.hops.bands)
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
    /// The radio of a scenario over its site. Flat sites have the ray off the ground. Tables that `base`, another radio, holds
    /// for the same waveform are shared.
    ///
    /// # Errors
    /// Figures that the waveform, noise or ground formulas do not cover.
    pub fn of_scenario(
        scenario: &Scenario,
        site: &SiteGrid,
        fields: LinkFields,
        base: Option<&LinkSetup>,
    ) -> Result<LinkSetup, LinkError> {
        let flat = site.is_flat().then(|| FlatGround::of(&scenario.site));
        let ground_m = |x_m, y_m| site.ground_m(x_m, y_m);
        let mut setup = LinkSetup::new(&scenario.radio, &scenario.pilot, scenario.seed, &ground_m, flat, fields, base)?;
        setup.rhythm = Rhythm::of(scenario.step_s);
        setup.up.air_db_per_m = air_db_per_m(scenario.radio.control.frequency_hz, &scenario.weather)?;
        if let (Some(video), Some(radio)) = (&mut setup.video, &scenario.radio.video) {
            video.way.air_db_per_m = air_db_per_m(radio.frequency_hz, &scenario.weather)?;
        }
        Ok(setup)
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
        base: Option<&LinkSetup>,
    ) -> Result<LinkSetup, LinkError> {
        let pilot_ground_m = ground_m(pilot.place_m[0], pilot.place_m[1]);
        let middle = radio.central();
        let control = &radio.control;
        let up = control_way(&middle, base.map(|base| &base.up))?;
        let telemetry = telemetry(&middle)?;
        let video = video(&middle, base.and_then(|base| Some(&base.video.as_ref()?.way)))?;
        let hops = HopSet::new(control, radio.delay_spread_s);
        let sources = radio.interferers.iter().enumerate().map(|(index, source)| {
            let ground_m = ground_m(source.place_m[0], source.place_m[1]);
            let field = fields.sources.get(index).cloned().flatten();
            SourceSetup::new(source, &hops, radio.video.as_ref(), ground_m, field)
        });
        let sources: Vec<SourceSetup> = sources.collect();
        let bounce = match &flat {
            Some(flat) => Some(Bounce::new(pilot_ground_m, flat, control.frequency_hz, &control.pilot_antenna)?),
            None => None,
        };
        Ok(LinkSetup {
            end: PilotEnd::standing(pilot, pilot_ground_m),
            hands: pilot.hands.as_ref().map(|hands| HandsSetup::new(hands, pilot_ground_m)),
            up,
            telemetry,
            video,
            bounce,
            fields,
            receiver: receiver(&middle.control),
            packet_rate_hz: control.packet_rate_hz,
            restarts: RestartSetup {
                brownout_v: control.receiver.brownout_v,
                for_s: middle.control.receiver.restart_s,
                per_s: control.receiver.restarts_per_h / 3600.0,
            },
            per_wavelength: 1.0 / wavelength_m(control.frequency_hz),
            fading: match base.filter(|base| base.seed == seed) {
                Some(base) => base.fading.clone(),
                None => Arc::new(DiffuseField::new(&Source::new(seed, Purpose::Uplink))),
            },
            seed,
            rhythm: Rhythm::of(STEP_WITHOUT_SCENARIO_S),
            rician: rician(radio.rician_k_db),
            shadow_distance_m: radio.shadow_distance_m,
            shadow_per_m: if radio.shadow_height_m > 0.0 { 1.0 / radio.shadow_height_m } else { 0.0 },
            ground_m: pilot_ground_m,
            floor: Floor::new(radio.null_depth_db.central(), radio.cross_polar_db.central()),
            craft_shadow_db: radio.craft_shadow_db,
            stretches: stretches_of(&sources, hops.channels),
            sources,
            kept: left_by_neighbours(radio, &hops)?,
            hops,
            bursts: radio.bursts.map(|b| BurstSetup {
                spells: Spells::new(b.bad_s, b.good_s),
                left: [1.0 - b.loss_good, 1.0 - b.loss_bad],
            }),
            power: PowerSetup { steps_dbm: control.power_steps_dbm.clone(), up_below_pct: control.power_up_below_pct },
        })
    }

    /// The same with the values of one flight in the place of the middle ones: noise, feeds, patience, powers.
    pub fn tuned(&self, radio: &Radio<f64>) -> LinkSetup {
        let mut own = self.clone();
        let control = &radio.control;
        own.up.noise_dbm = control_noise_dbm(radio, control.noise_figure_db).unwrap_or(own.up.noise_dbm);
        own.up.set_feeds(control.pilot_feed_loss_db, control.craft_feed_loss_db);
        own.receiver = receiver(control);
        own.restarts.for_s = control.receiver.restart_s;
        if let (Some(own), Some(telemetry)) = (&mut own.telemetry, &radio.telemetry) {
            own.noise_dbm = control_noise_dbm(radio, telemetry.noise_figure_db).unwrap_or(own.noise_dbm);
            (own.power_dbm, own.patience_s) = (telemetry.power_dbm, telemetry.patience_s);
        }
        if let (Some(own), Some(video)) = (&mut own.video, &radio.video) {
            own.way.noise_dbm = video_noise_dbm(radio, video).unwrap_or(own.way.noise_dbm);
            own.way.set_feeds(video.pilot_feed_loss_db, video.craft_feed_loss_db);
            own.patience_s = video.patience_s;
        }
        own
    }

    /// What rain and gases take from every metre of the control link's way, dB.
    pub fn air_db_per_m(&self) -> f64 {
        self.up.air_db_per_m
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

    /// Coherence bands that the hop set spans; from 16 on each packet fades on its own.
    pub fn bands(&self) -> u32 {
        self.hops.bands
    }

    /// Greatest power of the pilot's set: its last step, or the fixed power.
    pub fn full_power_dbm(&self, fixed_dbm: f64) -> f64 {
        self.power.steps_dbm.last().copied().unwrap_or(fixed_dbm)
    }

    /// Margin of the uplink one metre apart with both antennas whole and at their peaks: what the budget's losses are
    /// taken from.
    pub fn margin_at_one_metre_db(&self, power_dbm: f64, noise_rise_db: f64) -> f64 {
        let up = &self.up;
        up.pair.best_db() - up.one_metre_db - up.noise_dbm - up.packets.needed_db + power_dbm - noise_rise_db
    }

    /// Power that reaches the margin of zero at the craft's receiver, dBm, in receiver noise alone.
    pub fn sensitivity_dbm(&self, noise_rise_db: f64) -> f64 {
        self.up.noise_dbm + noise_rise_db + self.up.packets.needed_db
    }

    /// Cost of fading at a K, dB: how much more mean SNR a tenth of failing packets needs than without it.
    pub fn fading_cost_db(&self, k_db: f64) -> f64 {
        self.up.packets.faded.snr_for_tenth_db(k_db) - self.up.packets.needed_db
    }

    /// Packet error rate at a mean margin, averaged over fading.
    pub fn faded_error_rate(&self, margin_db: f64, k_db: f64) -> f64 {
        self.up.packets.faded.at(margin_db + self.up.packets.needed_db, k_db)
    }
}

fn control_way(radio: &Radio<f64>, base: Option<&OneWay>) -> Result<OneWay, LinkError> {
    let control = &radio.control;
    let packets = Packets::of(control.waveform, control.payload_bytes, base.map(|base| &base.packets))?;
    let noise_dbm = control_noise_dbm(radio, control.noise_figure_db)?;
    Ok(OneWay::new(control.frequency_hz, &control.pilot_antenna, &control.craft_antenna, packets, noise_dbm))
}

/// Noise in the control link's band at an end with this noise figure.
fn control_noise_dbm(radio: &Radio<f64>, figure_db: f64) -> Result<f64, OutOfRange> {
    let control = &radio.control;
    noise_dbm(radio.noise_environment, control.frequency_hz, control.waveform.bandwidth_hz(), figure_db)
}

fn telemetry(radio: &Radio<f64>) -> Result<Option<TelemetrySetup>, LinkError> {
    let Some(telemetry) = &radio.telemetry else { return Ok(None) };
    Ok(Some(TelemetrySetup {
        power_dbm: telemetry.power_dbm,
        noise_dbm: control_noise_dbm(radio, telemetry.noise_figure_db)?,
        interval_s: 1.0 / telemetry.packet_rate_hz,
        patience_s: telemetry.patience_s,
    }))
}

fn video(radio: &Radio<f64>, base: Option<&OneWay>) -> Result<Option<VideoSetup>, LinkError> {
    let Some(video) = &radio.video else { return Ok(None) };
    let packets = Packets::of(video.waveform, VIDEO_PACKET_BYTES, base.map(|base| &base.packets))?;
    let noise_dbm = video_noise_dbm(radio, video)?;
    Ok(Some(VideoSetup {
        power_dbm: video.power_dbm,
        patience_s: video.patience_s,
        way: OneWay::new(video.frequency_hz, &video.pilot_antenna, &video.craft_antenna, packets, noise_dbm),
    }))
}

fn video_noise_dbm(radio: &Radio<f64>, video: &VideoLink<f64>) -> Result<f64, OutOfRange> {
    let bandwidth_hz = video.waveform.bandwidth_hz();
    noise_dbm(radio.noise_environment, video.frequency_hz, bandwidth_hz, video.noise_figure_db)
}

fn receiver(control: &RadioLink<f64>) -> ReceiverSettings {
    let receiver = &control.receiver;
    ReceiverSettings {
        interval_s: 1.0 / control.packet_rate_hz,
        window: (receiver.window_s * control.packet_rate_hz).round().max(1.0) as u32,
        patience_s: receiver.patience_s,
        handback_s: receiver.handback_s,
        handback_quality_pct: receiver.handback_quality_pct,
        rssi_step_db: receiver.rssi_step_db,
    }
}

/// K over the sine of the elevation, from that on the ground and that overhead, with the powers of its rays.
fn rician(k_db: [f64; 2]) -> Vec<[f64; 3]> {
    (0..=SINE_POINTS)
        .map(|i| {
            let elevation_rad = libm::asin(i as f64 / SINE_POINTS as f64);
            let k_db = k_db_at_elevation(k_db[0], k_db[1], elevation_rad);
            let [line, scattered] = Rays::of_k_db(k_db).powers;
            [k_db, line, scattered]
        })
        .collect()
}

fn left_by_neighbours(radio: &Radio, hops: &HopSet) -> Result<f64, LinkError> {
    let control = &radio.control;
    let time_on_air_s = control.waveform.time_on_air_s(control.payload_bytes)?.unwrap_or(0.0);
    let collision = collision_probability(radio.neighbours, hops.side_by_side(), time_on_air_s, control.packet_rate_hz);
    Ok(1.0 - collision * loss_given_collision(CAPTURE_DB, NEIGHBOUR_SPREAD_DB))
}
