//! The ways back: telemetry and the picture.

use super::luck::LinkLuck;
use super::others::Others;
use super::uplink::Uplink;
use crate::chance::Purpose;
use crate::geometry::Frame;
use crate::radio::maths::{quick_db, quick_ratio};
use crate::world::radio::{LinkSetup, PilotEnd, TelemetrySetup, VideoSetup};

/// Telemetry of one flight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Telemetry {
    packet: u32,
    heard_s: f64,
    /// The pilot's set heard the craft at the last look.
    pub(super) up: bool,
    /// Share of packets heard, with a memory of a second.
    pub(super) share: f64,
}

impl Telemetry {
    pub(super) fn at_start(setup: &LinkSetup) -> Telemetry {
        Telemetry { packet: 0, heard_s: 0.0, up: setup.telemetry.is_some(), share: 1.0 }
    }

    /// Its packets since the last look, up to `end_s`: the uplink's path backwards. `off`: the craft does not send, or the
    /// pilot's set does not hear.
    #[inline(always)]
    #[allow(clippy::too_many_arguments)]
    pub(super) fn step(
        &mut self,
        setup: &LinkSetup,
        telemetry: &TelemetrySetup,
        luck: &LinkLuck,
        uplink: &Uplink,
        others: &Others,
        look: u32,
        end_s: f64,
        off: bool,
    ) {
        let loss = packet_loss(setup, telemetry, luck, uplink, others);
        let (flight, stream) = (luck.draws.flight, luck.draws.streams.of(Purpose::Telemetry));
        let (mut words, mut drawn) = ([0u32; 4], 0u32);
        loop {
            let due_s = f64::from(self.packet) * telemetry.interval_s;
            if due_s >= end_s {
                break;
            }
            if drawn & 3 == 0 {
                words = stream.words(flight, look, drawn >> 2);
            }
            let heard = !off && f64::from(words[(drawn & 3) as usize]) < (1.0 - loss) * 4_294_967_296.0;
            drawn += 1;
            self.packet += 1;
            if heard {
                self.heard_s = due_s;
            }
            self.share += (f64::from(heard) - self.share) * telemetry.interval_s.min(1.0);
        }
        self.up = end_s - self.heard_s < telemetry.patience_s;
    }
}

/// Share of telemetry's packets that is lost now.
#[inline(always)]
fn packet_loss(
    setup: &LinkSetup,
    telemetry: &TelemetrySetup,
    luck: &LinkLuck,
    uplink: &Uplink,
    others: &Others,
) -> f64 {
    let (way, mean) = (&setup.up, &uplink.held.mean);
    let snr_db = telemetry.power_dbm + way.pair.best_db() - way.one_metre_db - mean.loss_db - telemetry.noise_dbm;
    let level_db = quick_db(uplink.level);
    let mut loss = if luck.reads.is_empty() {
        way.packets.faded.at(snr_db, mean.k_db)
    } else {
        // Same frequency, same moment: the fade of the uplink's last packet.
        way.packets.curve.at(snr_db + level_db)
    };
    for ((state, source), met) in others.sources.iter().zip(&setup.sources).zip(&others.met) {
        if state.on {
            let free = loss;
            for level in &source.levels {
                let rise_db = quick_db(1.0 + level.weight * met.control);
                let hit = if luck.reads.is_empty() {
                    way.packets.faded.at(snr_db - rise_db, mean.k_db)
                } else {
                    way.packets.curve.at(snr_db + level_db - rise_db)
                };
                loss += level.share * (hit - free).max(0.0);
            }
        }
    }
    loss
}

/// The picture of one flight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Picture {
    seen_s: f64,
    /// The pilot had one at the last look.
    pub(super) up: bool,
}

impl Picture {
    pub(super) fn at_start(setup: &LinkSetup) -> Picture {
        Picture { seen_s: 0.0, up: setup.video.is_some() }
    }

    /// The picture over the four steps around `end_s`: one draw against the share of frames that fading loses.
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
        look: u32,
        end_s: f64,
        place_m: [f64; 3],
        body: &Frame,
    ) {
        let (way, mean) = (&video.way, &uplink.held.mean);
        let joined = way.pair.coupling(&luck.floor, &mean.pilot_frame, body, mean.direction);
        let own_body_db = luck.craft_shadow.deviation_db(body.to_body(mean.direction.map(|part| -part)));
        let direct_db = joined.turned_away_db + joined.polarisation_db + own_body_db;
        let met = setup.rays(mean.direction[2]).received(
            joined.direct_share * quick_ratio(-own_body_db),
            direct_db,
            mean.blocked,
        );
        let over_db = match &setup.fields_of(end).video {
            Some(field) => field.excess(place_m).total_db(),
            None => mean.budget.diffraction_db + mean.budget.vegetation_db,
        };
        let mut snr_db = video.power_dbm + joined.gain_db + joined.turned_away_db
            - met.loss_db
            - luck.craft_shadow.mean_db()
            - way.one_metre_db
            - 2.0 * quick_db(mean.distance_m)
            - way.air_db_per_m * mean.distance_m
            - over_db
            - mean.budget.body_db
            - mean.budget.shadowing_db
            - way.noise_dbm;
        let ratio = others.on_video(setup, luck, end_s);
        if ratio > 0.0 {
            snr_db -= quick_db(1.0 + ratio);
        }
        let loss = way.packets.faded.at(snr_db, met.k_db);
        let word = luck.draws.streams.of(Purpose::Video).words(luck.draws.flight, look, 0)[0];
        if f64::from(word) < (1.0 - loss) * 4_294_967_296.0 {
            self.seen_s = end_s;
        }
        self.up = end_s - self.seen_s < video.patience_s;
    }
}
