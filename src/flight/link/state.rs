//! The link of one flight, and the one step that moves it on.

use super::cause::{add, cause, scale};
use super::luck::LinkLuck;
use super::mean::MeanLink;
use super::setup::LinkSetup;
use super::sources::{BURST_LANE, SOURCE_LANE};
use super::{DOWNLINK_STEPS, MEAN_STEPS};
use crate::flight::{LossBudget, LossCause};
use crate::radio::antenna::dot;
use crate::radio::fading::rician_level_db;
use crate::radio::interference::{OnOff, Spells};
use crate::radio::receiver::{Declared, ReceiverState};

/// Speed of scatterers that keeps a hovering craft's fading moving, m/s (estimate: leaves, grass, the pilot's hand).
const SCATTER_MPS: f64 = 0.1;
/// Blocks of the uplink stream that restarts use; steps never reach them.
const RESTART_BLOCK: u32 = 0x2000_0000;

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
    pub(super) receiver: ReceiverState,
    /// The mean link, as last evaluated.
    pub(super) held: Option<MeanLink>,
    /// Number of the next uplink packet; packet k is due at k × interval.
    pub(super) packet: u32,
    pub(super) travelled_m: f64,
    pub(super) bursts: OnOff,
    pub(super) sources: Vec<OnOff>,
    /// Interference to noise of each source at the craft, at the pilot's control and at his video receiver; the first as a
    /// rise of the floor in dB.
    pub(super) source_ratio: Vec<[f64; 4]>,
    pub(super) down_until_s: f64,
    pub(super) restarts: u32,
    pub(super) next_restart_s: f64,
    pub(super) power_step: usize,
    pub(super) power_change_s: f64,
    /// Momentary fade of the last packet, dB, and the last mean over a step.
    pub(super) level_db: f64,
    pub(super) fading_db: f64,
    /// Rise of the noise floor, mean over the hop set and the packets of the last step that had any.
    pub(super) interference_db: f64,
    pub(super) telemetry_packet: u32,
    pub(super) telemetry_heard_s: f64,
    pub(super) telemetry_share: f64,
    pub(super) picture_s: f64,
    /// Since the last valid packet: summed budget and steps, and steps with the sender off, the receiver down, a burst on.
    pub(super) silent: LossBudget,
    pub(super) silent_steps: [u32; 4],
    pub(super) margin_at_one_metre_db: f64,
}

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
