//! The link of one flight, and the one step that moves it on.

use super::cause::{Silence, SilentStep};
use super::downlinks::{HalfWay, Picture, Telemetry};
use super::hands::Hands;
use super::luck::LinkLuck;
use super::off::Off;
use super::others::Others;
use super::power::Power;
use super::restarts::Restarts;
use super::uplink::{Span, Uplink};
use crate::flight::LossCause;
use crate::geometry::{Frame, dot, plus};
use crate::radio::receiver::Declared;
use crate::world::radio::{LinkSetup, LossBudget, MeanTerms};

/// The link after a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkNow {
    /// Share of the window's packets received, per cent.
    pub quality_pct: f64,
    /// Mean margin of the uplink (without fading) over the SNR at which 10 % of the packets fail.
    pub margin_db: f64,
    /// What the receiver declared within the step.
    pub event: Option<Declared>,
    /// The link is not called lost.
    pub up: bool,
    /// The pilot's set hears the craft.
    pub telemetry_up: bool,
    /// When that changed, if it is news.
    pub telemetry_turned_s: Option<f64>,
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
            telemetry_turned_s: None,
            telemetry_quality_pct: 0.0,
            video_up: false,
        }
    }
}

/// The link is settled where the margin of each of its ways is above this with all sources of interference on, or below minus this with
/// none, dB: Rayleigh fading takes a packet in a hundred at 20 dB, and at -20 dB lets none pass. Estimate.
const SETTLED_DB: f64 = 20.0;
/// A look at a settled link holds as long as so many looks at an unsettled one.
const SETTLED_LOOKS: u32 = 4;

/// The link of one flight: plain data, to be cloned at the branch.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkState {
    /// Steps to the next look at the geometry, and to the next news of the ways back.
    look_in: u32,
    news_in: u32,
    /// Pieces of news so far.
    news: u32,
    uplink: Uplink,
    others: Others,
    telemetry: Telemetry,
    picture: Picture,
    restarts: Restarts,
    power: Power,
    hands: Hands,
    silence: Silence,
}

impl LinkState {
    /// The link at take-off, time 0: up, with a full window.
    pub fn new(setup: &LinkSetup, luck: &LinkLuck) -> LinkState {
        LinkState {
            look_in: 0,
            news_in: 0,
            news: 0,
            uplink: Uplink::at_start(setup),
            others: Others::at_start(setup, luck),
            telemetry: Telemetry::at_start(setup),
            picture: Picture::at_start(setup),
            restarts: Restarts::at_start(setup, luck),
            power: Power::default(),
            hands: Hands::at_rest(setup.end),
            silence: Silence::default(),
        }
    }

    /// Whether the link is not called lost.
    pub fn up(&self) -> bool {
        self.uplink.receiver.up()
    }

    /// Time of the last valid packet.
    pub fn last_valid_s(&self) -> f64 {
        self.uplink.receiver.last_valid_s()
    }

    /// Signal strength of the last packet received, as the receiver reports it; NaN before the first.
    #[inline]
    pub fn rssi_dbm(&self, setup: &LinkSetup) -> f64 {
        self.uplink.receiver.rssi_dbm(&setup.receiver)
    }

    /// How long no valid packet has come in by a time.
    #[inline]
    pub fn silence_s(&self, time_s: f64) -> f64 {
        time_s - self.last_valid_s()
    }

    /// Whether the coming step looks at the craft's attitude, so that `body` must be up to date.
    #[inline]
    pub fn looks(&self, setup: &LinkSetup) -> bool {
        // News may bring a look forward, of the picture, of the pilot's hands, or of another power.
        let asked = setup.video.is_some() || setup.hands.is_some() || setup.power.is_stepped();
        self.look_in == 0 || (self.news_in == 0 && asked)
    }

    /// Where the margin went, in the last step.
    pub fn budget(&self) -> LossBudget {
        self.uplink.budget()
    }

    /// Why the link has been silent since the last valid packet: call it when the loss is declared.
    pub fn cause(&self) -> LossCause {
        self.silence.cause(self.uplink.held.margin_at_one_metre_db)
    }

    /// Moves the link on over [`time_s`, `end_s`). `body` is how the craft is turned; `cell_v` the pack voltage per
    /// cell; `off` silences the pilot's set (a scripted cut).
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
        off: impl Into<Off>,
    ) -> LinkNow {
        let off = off.into();
        let down_before = self.restarts.down;
        if self.restarts.advance(setup, luck, time_s, end_s, cell_v) {
            self.uplink.receiver.forget();
        }
        let rhythm = &setup.rhythm;
        let mut hands_act = false;
        self.telemetry.turned_s = None;
        if self.news_in == 0 {
            self.news_in = rhythm.news_steps;
            self.hear_back(setup, luck, time_s, place_m, body, velocity_mps, [off, down_before]);
            hands_act = self.hands_act(setup, luck, time_s);
            // A picture that turned, or another power, may have unsettled what was settled.
            if self.look_in > rhythm.look_steps && self.settled(setup).is_none() {
                self.look_in = 0;
            }
        }
        if self.look_in == 0 || hands_act {
            self.look_in = self.look_ahead(setup, luck, place_m, body, velocity_mps);
        }
        self.news_in -= 1;
        self.look_in -= 1;

        let speed_mps = (dot(velocity_mps, velocity_mps) + self.hands.end.stirring_m2ps2).sqrt();
        let last_before_s = self.last_valid_s();
        let span = Span { time_s, end_s, speed_mps, off, down: self.restarts.down };
        let event = self.uplink.step(setup, luck, &mut self.others, &span);
        if let Some(Declared::Lost { at_s }) = event {
            self.hands.hear_of_loss(at_s);
        }
        self.note_silence(setup, &span, last_before_s);

        let receiver = &self.uplink.receiver;
        let quality_pct = receiver.quality_pct(&setup.receiver);
        let margin_db = self.margin_db(setup);
        let up = receiver.up();
        if self.power.is_due(setup, end_s) && self.power.control(setup, end_s, self.telemetry.up, quality_pct) {
            self.uplink.weigh(setup, luck, self.power.dbm(setup, luck));
        }

        LinkNow {
            quality_pct,
            margin_db,
            event,
            up,
            telemetry_up: self.telemetry.up,
            telemetry_turned_s: self.telemetry.turned_s,
            telemetry_quality_pct: 100.0 * self.telemetry.share,
            video_up: self.picture.up,
        }
    }

    /// How far the mean signal lies above what packets need.
    #[inline]
    fn margin_db(&self, setup: &LinkSetup) -> f64 {
        self.uplink.held.snr_db - self.uplink.interference_db - setup.up.packets.needed_db
    }

    /// Looks at the geometry for some time to come, and says for how many steps: more when the link is settled, and still is, in the same
    /// way, half-way through that time.
    #[inline]
    fn look_ahead(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        place_m: [f64; 3],
        body: &Frame,
        velocity_mps: [f64; 3],
    ) -> u32 {
        let rhythm = &setup.rhythm;
        let look_half_way = |link: &mut LinkState, looks: u32| {
            let half_s = 0.5 * f64::from(looks) * rhythm.look_s;
            link.look(setup, luck, plus(place_m, half_s, velocity_mps), body);
        };
        let settled = self.settled(setup);
        if settled.is_some() {
            look_half_way(self, SETTLED_LOOKS);
            if self.settled(setup) == settled {
                return SETTLED_LOOKS * rhythm.look_steps;
            }
        }
        look_half_way(self, 1);
        rhythm.look_steps
    }

    /// Which of uplink, telemetry and picture get through, where each of those there are has so much margin, or lacks so much, that this
    /// hangs neither on a few metres nor on who else is on the air; else nothing.
    #[inline]
    fn settled(&self, setup: &LinkSetup) -> Option<[bool; 3]> {
        let needed_db = setup.up.packets.needed_db;
        let margins_db = [
            Some(self.uplink.held.snr_db - needed_db),
            setup.telemetry.is_some().then_some(self.telemetry.snr_db - needed_db),
            setup.video.is_some().then_some(self.picture.margin_db),
        ];
        let mut passes = [false; 3];
        for ((passes, margin_db), rise_db) in passes.iter_mut().zip(margins_db).zip(self.others.most_rise_db()) {
            let Some(margin_db) = margin_db else { continue };
            *passes = margin_db > SETTLED_DB + rise_db;
            if !*passes && margin_db >= -SETTLED_DB {
                return None;
            }
        }
        Some(passes)
    }

    /// Memory of the silence, for its cause.
    #[inline(always)]
    fn note_silence(&mut self, setup: &LinkSetup, span: &Span, last_before_s: f64) {
        let last_valid_s = self.last_valid_s();
        if last_valid_s > last_before_s {
            self.silence.end();
        }
        if last_valid_s <= span.time_s {
            self.silence.step(&SilentStep {
                budget: self.budget(),
                off: span.off.at(span.time_s),
                down: span.down.at(span.time_s),
                burst: self.others.in_burst(setup),
            });
        }
    }

    /// What telemetry and picture brought since the last news, with the look that held meanwhile. `off`: when the pilot's set was silent,
    /// and when the craft's receiver was down.
    #[inline]
    #[allow(clippy::too_many_arguments)]
    fn hear_back(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        time_s: f64,
        place_m: [f64; 3],
        body: &Frame,
        velocity_mps: [f64; 3],
        off: [Off; 2],
    ) {
        self.news += 1;
        if self.news == 1 {
            // At take-off nothing has come yet.
            return;
        }
        if let Some(telemetry) = &setup.telemetry {
            self.telemetry.step(setup, telemetry, luck, &self.uplink, &self.others, time_s, off);
            if !self.telemetry.up {
                self.hands.hear_nothing(time_s);
            }
        }
        if let Some(video) = &setup.video {
            // In the middle of that time it was here.
            let half_s = 0.5 * setup.rhythm.news_s;
            let half_way = HalfWay { time_s: time_s - half_s, place_m: plus(place_m, -half_s, velocity_mps), body };
            let (uplink, others, end) = (&self.uplink, &mut self.others, &self.hands.end);
            self.picture.step(setup, video, luck, uplink, others, end, self.news, &half_way);
        }
    }

    /// Lets the pilot's hands do what they have to at a time, and tells whether that changed anything.
    #[inline]
    fn hands_act(&mut self, setup: &LinkSetup, luck: &LinkLuck, time_s: f64) -> bool {
        let Some(hands) = &setup.hands else { return false };
        if !self.hands.are_asked(time_s) {
            return false;
        }
        let before = self.hands.end;
        self.hands.act(hands, luck.values.hands_s, time_s);
        self.hands.end != before
    }

    /// Evaluates what geometry and shadows make of the link, and weighs the other users.
    #[inline(never)]
    fn look(&mut self, setup: &LinkSetup, luck: &LinkLuck, place_m: [f64; 3], body: &Frame) {
        let end = &self.hands.end;
        let walked_m = end.walked_m;
        let terms = MeanTerms {
            body_loss_most_db: luck.values.body_loss_db,
            shadowing_db: luck.shadowing_db(setup, [place_m[0] - walked_m[0], place_m[1] - walked_m[1], place_m[2]]),
            floor: &luck.floor,
            craft_shadow: &luck.craft_shadow,
            end,
        };
        self.uplink.held.mean = setup.mean_with(place_m, body, &terms);
        self.uplink.weigh(setup, luck, self.power.dbm(setup, luck));
        if let Some(telemetry) = &setup.telemetry {
            self.telemetry.look(setup, telemetry, luck, &self.uplink.held.mean);
        }
        if !setup.sources.is_empty() {
            self.others.weigh(setup, luck, place_m, body, end, &self.uplink.held.mean.pilot_frame);
        }
    }
}
