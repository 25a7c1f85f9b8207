//! The link of one flight, and the one step that moves it on.

use super::cause::{add, cause, scale};
use super::hands::PilotEnd;
use super::luck::LinkLuck;
use super::mean::{MeanLink, MeanTerms};
use super::packets::Span;
use super::setup::LinkSetup;
use super::sources::{BURST_LANE, Met, SOURCE_LANE};
use crate::flight::{LossBudget, LossCause};
use crate::geometry::{Frame, dot};
use crate::radio::fading::amplitudes;
use crate::radio::interference::{OnOff, Spells};
use crate::radio::maths::quick_ratio;
use crate::radio::receiver::{Declared, ReceiverState};

/// Blocks of the uplink stream that restarts use.
const RESTART_BLOCK: u32 = 0x2000_0000;

/// What happened to the link within a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LinkEvent {
    /// The receiver called the link lost.
    Lost {
        /// Time since take-off, s.
        at_s: f64,
    },
    /// The receiver handed control back.
    Restored {
        /// Time since take-off, s.
        at_s: f64,
    },
}

/// The link after a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkNow {
    /// Share of the window's packets received, per cent.
    pub quality_pct: f64,
    /// Mean margin of the uplink (without fading) over the SNR at which 10 % of the packets fail.
    pub margin_db: f64,
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
            margin_db: f64::NAN,
            event: None,
            up: true,
            telemetry_up: false,
            telemetry_quality_pct: 0.0,
            video_up: false,
        }
    }
}

/// The link between two looks at the geometry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Held {
    pub(super) mean: MeanLink,
    /// Margin a metre from the pilot's antenna, of which the losses are taken.
    margin_at_one_metre_db: f64,
    /// Mean power at the craft, and over its noise.
    pub(super) power_dbm: f64,
    pub(super) snr_db: f64,
    /// The same as a ratio, and the amplitudes of line of sight and scattered field, for hops that fade together.
    pub(super) snr: f64,
    pub(super) amplitudes: [f64; 2],
    /// Share of packets that neighbours and fading let through, for hops that fade each on its own.
    pub(super) arrive: f64,
    /// Interference to noise that a packet met last, as a ratio, and the share of packets that arrives under it.
    pub(super) disturbed: [f64; 2],
}

/// The link of one flight: plain data, to be cloned at the branch.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkState {
    pub(super) receiver: ReceiverState,
    /// Steps since the last look at the geometry, and looks so far.
    phase: u32,
    pub(super) looks: u32,
    pub(super) held: Held,
    /// Random bytes of sixteen packets, the last one's among them.
    pub(super) bytes: [u8; 16],
    /// Number of the next uplink packet; packet k is due at k × interval.
    pub(super) packet: u32,
    pub(super) travelled_m: f64,
    pub(super) bursts: OnOff,
    pub(super) sources: Vec<OnOff>,
    /// What each source is where it is met, at the last look.
    pub(super) met: Vec<Met>,
    pub(super) down_until_s: f64,
    pub(super) restarts: u32,
    pub(super) next_restart_s: f64,
    pub(super) power_step: usize,
    pub(super) power_change_s: f64,
    /// Momentary power of the last packet over its mean, as a ratio, and the mean of its decibels over the last step.
    pub(super) level: f64,
    pub(super) fading_db: f64,
    /// Rise of the noise floor, mean over the hop set and the packets of the last step that had any.
    pub(super) interference_db: f64,
    pub(super) telemetry_packet: u32,
    pub(super) telemetry_heard_s: f64,
    /// The pilot's set heard the craft, and he had a picture, at the last look at each.
    pub(super) telemetry_up: bool,
    pub(super) video_up: bool,
    pub(super) telemetry_share: f64,
    pub(super) picture_s: f64,
    /// Since the last valid packet: summed budget and steps, and steps with the sender off, the receiver down, a burst on.
    pub(super) silent: LossBudget,
    pub(super) silent_steps: [u32; 4],
    pub(super) end: PilotEnd,
    /// When the link was first called lost, and telemetry first fell silent.
    pub(super) lost_from_s: f64,
    pub(super) deaf_from_s: f64,
}

impl LinkState {
    /// The link at take-off, time 0: up, with a full window.
    pub fn new(setup: &LinkSetup, luck: &LinkLuck) -> LinkState {
        let (flight, interference) = (luck.draws.flight, &luck.draws.streams.interference);
        let idle = Spells::new(0.0, 1.0);
        let mut state = LinkState {
            receiver: ReceiverState::new(&setup.receiver, 0.0),
            phase: 0,
            looks: 0,
            held: Held {
                mean: MeanLink::unknown(),
                margin_at_one_metre_db: 0.0,
                power_dbm: 0.0,
                snr_db: 0.0,
                snr: 0.0,
                amplitudes: [0.0, 1.0],
                arrive: 0.0,
                disturbed: [0.0; 2],
            },
            bytes: [0; 16],
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
            met: vec![Met::default(); setup.sources.len()],
            down_until_s: f64::NEG_INFINITY,
            restarts: 0,
            next_restart_s: f64::INFINITY,
            power_step: 0,
            power_change_s: 0.0,
            level: 1.0,
            fading_db: 0.0,
            interference_db: 0.0,
            telemetry_packet: 0,
            telemetry_heard_s: 0.0,
            telemetry_up: setup.telemetry.is_some(),
            video_up: setup.video.is_some(),
            telemetry_share: 1.0,
            picture_s: 0.0,
            silent: LossBudget::default(),
            silent_steps: [0; 4],
            end: setup.end,
            lost_from_s: f64::INFINITY,
            deaf_from_s: f64::INFINITY,
        };
        state.next_restart_s = state.restart_after_s(setup, luck, 0.0);
        state
    }

    fn restart_after_s(&self, setup: &LinkSetup, luck: &LinkLuck, from_s: f64) -> f64 {
        if setup.restarts_per_s <= 0.0 {
            return f64::INFINITY;
        }
        // By inversion, one uniform number a restart: a faster rate moves every restart forward and pairs with a slower one.
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

    /// Signal strength of the last packet received, as the receiver reports it; NaN before the first.
    #[inline]
    pub fn rssi_dbm(&self, setup: &LinkSetup) -> f64 {
        self.receiver.rssi_dbm(&setup.receiver)
    }

    /// How long no valid packet has come in by a time.
    #[inline]
    pub fn silence_s(&self, time_s: f64) -> f64 {
        time_s - self.receiver.last_valid_s()
    }

    /// Whether the coming step looks at the craft's attitude, so that `body` must be up to date.
    #[inline]
    pub fn looks(&self, setup: &LinkSetup) -> bool {
        self.phase == 0 || self.phase == setup.look_steps / 2
    }

    /// Moves the link on over [`time_s`, `end_s`). `body` is how the craft is turned; `cell_v` the pack voltage per
    /// cell; `forced_off` silences the pilot's set (a scripted cut).
    ///
    /// `end_s` must be the next step's `time_s` to the last bit: a packet due at that moment belongs to one of them.
    #[allow(clippy::too_many_arguments)]
    pub fn step(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        time_s: f64,
        end_s: f64,
        place_m: [f64; 3],
        body: &Frame,
        velocity_mps: [f64; 3],
        cell_v: f64,
        forced_off: bool,
    ) -> LinkNow {
        let phase = self.phase;
        self.phase = if phase + 1 == setup.look_steps { 0 } else { phase + 1 };
        if phase == 0 {
            self.looks += 1;
            self.look(setup, luck, time_s, place_m, body);
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

        let speed_mps = (dot(velocity_mps, velocity_mps) + self.end.stirring_m2ps2).sqrt();
        let last_before_s = self.receiver.last_valid_s();
        let span = Span { time_s, end_s, speed_mps, forced_off };
        let mut event = self.packets(setup, luck, &span);
        if let Some(declared) = self.receiver.silence(&setup.receiver, end_s) {
            event = Some(declared);
        }
        if let Some(Declared::Lost { at_s }) = event {
            self.lost_from_s = self.lost_from_s.min(at_s);
        }
        self.travelled_m += speed_mps * (end_s - time_s);

        // Memory of the silence, for its cause.
        let last_valid_s = self.receiver.last_valid_s();
        if last_valid_s > last_before_s && self.silent_steps[0] > 0 {
            self.silent = LossBudget::default();
            self.silent_steps = [0; 4];
        }
        if last_valid_s <= time_s {
            let budget = self.budget();
            add(&mut self.silent, &budget);
            self.silent_steps[0] += 1;
            self.silent_steps[1] += u32::from(forced_off);
            self.silent_steps[2] += u32::from(time_s < self.down_until_s);
            self.silent_steps[3] += u32::from(setup.bursts.is_some() && self.bursts.on);
        }

        let quality_pct = self.receiver.quality_pct(&setup.receiver);
        let margin_db = self.held.snr_db - self.interference_db - setup.up.needed_db;
        if phase == 0
            && let Some(telemetry) = &setup.telemetry
        {
            let off = forced_off || time_s < self.down_until_s;
            self.telemetry(setup, telemetry, luck, end_s, off);
        }
        if phase == setup.look_steps / 2
            && let Some(video) = &setup.video
        {
            self.video(setup, video, luck, end_s, place_m, body);
        }
        if setup.power_steps_dbm.len() > 1 && end_s >= self.power_change_s {
            self.step_power(setup, luck, end_s, quality_pct);
        }

        LinkNow {
            quality_pct,
            margin_db,
            event: event.map(|declared| match declared {
                Declared::Lost { at_s } => LinkEvent::Lost { at_s },
                Declared::Restored { at_s } => LinkEvent::Restored { at_s },
            }),
            up: self.receiver.up(),
            telemetry_up: self.telemetry_up,
            telemetry_quality_pct: 100.0 * self.telemetry_share,
            video_up: self.video_up,
        }
    }

    /// Evaluates what geometry and shadows make of the link, and weighs the other users.
    #[inline(never)]
    fn look(&mut self, setup: &LinkSetup, luck: &LinkLuck, time_s: f64, place_m: [f64; 3], body: &Frame) {
        if let Some(hands) = &setup.hands
            && self.lost_from_s.min(self.deaf_from_s) < time_s
        {
            self.use_hands(hands, luck, time_s);
        }
        let walked_m = self.end.walked_m;
        let terms = MeanTerms {
            body_loss_most_db: luck.values.body_loss_db,
            shadowing_db: luck.shadowing_db(setup, [place_m[0] - walked_m[0], place_m[1] - walked_m[1], place_m[2]]),
            floor: &luck.floor,
            craft_shadow: &luck.craft_shadow,
            end: &self.end,
        };
        self.held.mean = setup.mean_with(place_m, body, &terms);
        self.weigh(setup, luck);
        if !setup.sources.is_empty() {
            self.weigh_sources(setup, luck, place_m, body);
        }
    }

    /// What follows from the mean link and the power of the pilot's set.
    pub(super) fn weigh(&mut self, setup: &LinkSetup, luck: &LinkLuck) {
        let power_dbm = match setup.power_steps_dbm.get(self.power_step) {
            Some(&power_dbm) => power_dbm,
            None => luck.values.power_dbm,
        };
        let held = &mut self.held;
        held.margin_at_one_metre_db = setup.margin_at_one_metre_db(power_dbm, luck.values.noise_rise_db);
        held.power_dbm = power_dbm + setup.up.pair.best_db() - setup.up.one_metre_db - held.mean.loss_db;
        held.snr_db = held.power_dbm - setup.up.noise_dbm - luck.values.noise_rise_db;
        if luck.reads.is_empty() {
            held.disturbed = [0.0; 2];
            held.arrive = setup.kept * (1.0 - setup.up.faded_rate(held.snr_db, held.mean.k_db));
            self.fading_db = setup.fading_cost_db(held.mean.k_db);
        } else {
            held.snr = quick_ratio(held.snr_db);
            held.amplitudes = amplitudes(held.mean.powers);
        }
    }

    /// Where the margin went, in the last step.
    pub fn budget(&self) -> LossBudget {
        LossBudget { fading_db: self.fading_db, interference_db: self.interference_db, ..self.held.mean.budget }
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
        cause(&budget, self.held.margin_at_one_metre_db)
    }
}
