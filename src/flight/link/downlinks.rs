//! The ways back: telemetry and the picture.

use super::luck::LinkLuck;
use super::off::Off;
use super::others::Others;
use super::uplink::Uplink;
use crate::chance::Purpose;
use crate::geometry::Frame;
use crate::radio::maths::quick_db;
use crate::world::radio::{LinkSetup, MeanLink, MeanPicture, PilotEnd, TelemetrySetup, VideoSetup};

/// Telemetry of one flight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Telemetry {
    packet: u32,
    heard_s: f64,
    /// The pilot's set heard the craft at the last news.
    pub(super) up: bool,
    /// When it went or came back, if the last news is of that.
    pub(super) turned_s: Option<f64>,
    /// Share of packets heard, with a memory of a second.
    pub(super) share: f64,
    /// Signal to noise at the pilot's set as it was looked at last.
    pub(super) snr_db: f64,
    /// Share of packets lost to fading at that ratio, where each hop fades on its own; else not worked out.
    faded_loss: f64,
}

impl Telemetry {
    pub(super) fn at_start(setup: &LinkSetup) -> Telemetry {
        Telemetry {
            packet: 0,
            heard_s: 0.0,
            up: setup.telemetry.is_some(),
            turned_s: None,
            share: 1.0,
            snr_db: 0.0,
            faded_loss: 0.0,
        }
    }

    /// Takes over what a look at the geometry found: the uplink's path backwards.
    #[inline]
    pub(super) fn look(&mut self, setup: &LinkSetup, telemetry: &TelemetrySetup, luck: &LinkLuck, mean: &MeanLink) {
        let way = &setup.up;
        self.snr_db = telemetry.power_dbm + way.pair.best_db() - way.one_metre_db - mean.loss_db - telemetry.noise_dbm;
        if luck.reads.is_empty() {
            self.faded_loss = way.packets.faded.at(self.snr_db, mean.k_db);
        }
    }

    /// Its packets since the last news, up to `now_s`. `off`: when the pilot's set was silent, and when the craft's receiver was down.
    #[inline(always)]
    #[allow(clippy::too_many_arguments)]
    pub(super) fn step(
        &mut self,
        setup: &LinkSetup,
        telemetry: &TelemetrySetup,
        luck: &LinkLuck,
        uplink: &Uplink,
        others: &Others,
        now_s: f64,
        off: [Off; 2],
    ) {
        let loss = self.packet_loss(setup, luck, uplink, others);
        let (was_up, mut first_heard_s) = (self.up, None);
        loop {
            let due_s = (f64::from(self.packet) + luck.telemetry_phase) * telemetry.interval_s;
            if due_s >= now_s {
                break;
            }
            let silent = off.iter().any(|off| off.at(due_s));
            let heard = !silent && f64::from(luck.telemetry_word(self.packet)) < (1.0 - loss) * 4_294_967_296.0;
            self.packet += 1;
            if heard {
                self.heard_s = due_s;
                first_heard_s = first_heard_s.or(Some(due_s));
            }
            self.share += (f64::from(heard) - self.share) * telemetry.interval_s.min(1.0);
        }
        let gone_s = self.heard_s + telemetry.patience_s;
        self.up = now_s < gone_s;
        self.turned_s = match (was_up, self.up) {
            (true, false) => Some(gone_s),
            (false, true) => first_heard_s,
            _ => None,
        };
    }

    /// Share of its packets that is lost now.
    #[inline(always)]
    fn packet_loss(&self, setup: &LinkSetup, luck: &LinkLuck, uplink: &Uplink, others: &Others) -> f64 {
        let (way, snr_db, k_db) = (&setup.up, self.snr_db, uplink.held.mean.k_db);
        let apart = luck.reads.is_empty();
        let level_db = if apart { 0.0 } else { quick_db(uplink.level) };
        // Same frequency, same moment: the fade of the uplink's last packet.
        let mut loss = if apart { self.faded_loss } else { way.packets.curve.at(snr_db + level_db) };
        for ((state, source), met) in others.sources.iter().zip(&setup.sources).zip(&others.met) {
            if state.on {
                let free = loss;
                for level in &source.levels {
                    let rise_db = quick_db(1.0 + level.weight * met.control);
                    let hit = if apart {
                        way.packets.faded.at(snr_db - rise_db, k_db)
                    } else {
                        way.packets.curve.at(snr_db + level_db - rise_db)
                    };
                    loss += level.share * (hit - free).max(0.0);
                }
            }
        }
        loss
    }
}

/// The picture of one flight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Picture {
    /// How many times in a row there was news without a frame. They are counted, because the difference of two rounded times may fall on
    /// the wrong side of the patience.
    news_without: u32,
    /// The pilot had one at the last news.
    pub(super) up: bool,
    /// Mean margin with nobody else on the air, at the last news.
    pub(super) margin_db: f64,
}

/// Half-way through the time since the last news.
pub(super) struct HalfWay<'a> {
    pub(super) time_s: f64,
    /// Where the craft was.
    pub(super) place_m: [f64; 3],
    /// Its attitude at the end of that time: the one half-way is not kept.
    pub(super) body: &'a Frame,
}

impl Picture {
    pub(super) fn at_start(setup: &LinkSetup) -> Picture {
        Picture { news_without: 0, up: setup.video.is_some(), margin_db: 0.0 }
    }

    /// The picture since the last news: one draw against the share of frames that fading loses, as it was half-way.
    #[inline(always)]
    #[allow(clippy::too_many_arguments)]
    pub(super) fn step(
        &mut self,
        setup: &LinkSetup,
        video: &VideoSetup,
        luck: &LinkLuck,
        uplink: &Uplink,
        others: &mut Others,
        end: &PilotEnd,
        news: u32,
        half_way: &HalfWay,
    ) {
        let mean = &uplink.held.mean;
        let MeanPicture { mut snr_db, k_db } =
            setup.mean_picture(video, mean, &luck.floor, &luck.craft_shadow, end, half_way.place_m, half_way.body);
        self.margin_db = snr_db - video.way.packets.needed_db;
        let ratio = others.on_video(setup, luck, half_way.time_s);
        if ratio > 0.0 {
            snr_db -= quick_db(1.0 + ratio);
        }
        let loss = video.way.packets.faded.at(snr_db, k_db);
        let word = luck.draws.streams.of(Purpose::Video).words(luck.draws.flight, news, 0)[0];
        self.news_without = if f64::from(word) < (1.0 - loss) * 4_294_967_296.0 { 0 } else { self.news_without + 1 };
        self.up = f64::from(self.news_without) * setup.rhythm.news_s < video.patience_s;
    }
}
