//! The ways back: telemetry, the picture, and the power control that follows telemetry.

use super::luck::LinkLuck;
use super::setup::{LinkSetup, TelemetrySetup, VideoSetup};
use super::sources::SOURCE_LANE;
use super::state::LinkState;
use crate::geometry::Frame;
use crate::radio::maths::quick_db;

impl LinkState {
    /// Telemetry packets since the last look, up to `end_s`: the same path backwards.
    #[allow(clippy::too_many_arguments)]
    pub(super) fn telemetry(
        &mut self,
        setup: &LinkSetup,
        telemetry: &TelemetrySetup,
        luck: &LinkLuck,
        end_s: f64,
        off: bool,
    ) {
        let (way, mean) = (&setup.up, self.held.mean);
        let snr_db = telemetry.power_dbm + way.pair.best_db() - way.one_metre_db - mean.loss_db - telemetry.noise_dbm;
        let level_db = quick_db(self.level);
        let mut loss = if luck.reads.is_empty() {
            way.faded_rate(snr_db, mean.k_db)
        } else {
            // Same frequency, same moment: the fade of the uplink's last packet.
            way.curve.at(snr_db + level_db)
        };
        for ((state, source), met) in self.sources.iter().zip(&setup.sources).zip(&self.met) {
            if state.on {
                let free = loss;
                for (weight, share) in &source.levels {
                    let rise_db = quick_db(1.0 + weight * met.control);
                    let hit = if luck.reads.is_empty() {
                        way.faded_rate(snr_db - rise_db, mean.k_db)
                    } else {
                        way.curve.at(snr_db + level_db - rise_db)
                    };
                    loss += share * (hit - free).max(0.0);
                }
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
                words = stream.words(flight, self.looks, drawn >> 2);
            }
            let heard = !off && f64::from(words[(drawn & 3) as usize]) < (1.0 - loss) * 4_294_967_296.0;
            drawn += 1;
            self.telemetry_packet += 1;
            if heard {
                self.telemetry_heard_s = due_s;
            }
            self.telemetry_share += (f64::from(heard) - self.telemetry_share) * telemetry.interval_s.min(1.0);
        }
        self.telemetry_up = end_s - self.telemetry_heard_s < telemetry.patience_s;
        if !self.telemetry_up {
            self.deaf_from_s = self.deaf_from_s.min(end_s);
        }
    }

    /// The picture over the four steps around `end_s`: one draw against the share of frames that fading loses.
    #[allow(clippy::too_many_arguments)]
    pub(super) fn video(
        &mut self,
        setup: &LinkSetup,
        video: &VideoSetup,
        luck: &LinkLuck,
        end_s: f64,
        place_m: [f64; 3],
        body: &Frame,
    ) {
        let (way, mean) = (&video.way, self.held.mean);
        let joined = way.pair.coupling(&luck.floor, &mean.pilot_frame, body, mean.direction);
        let (own_body_db, own_body) = luck.craft_shadow.deviation(body.to_body(mean.direction.map(|part| -part)));
        let direct_db = joined.turned_away_db + joined.polarisation_db + own_body_db;
        let met = setup.rays(mean.direction[2]).received(joined.direct_share * own_body, direct_db, mean.blocked);
        let over_db = match setup.video_field(&self.end) {
            Some(field) => {
                let over = field.excess(place_m);
                over.diffraction_db + over.vegetation_db
            }
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
        let mut ratio = 0.0;
        let (flight, stream) = (luck.draws.flight, &luck.draws.streams.interference);
        for (lane, ((state, source), met)) in
            (SOURCE_LANE..).zip(self.sources.iter_mut().zip(&setup.sources).zip(&self.met))
        {
            if source.into_video_db.is_some() {
                if !source.hits_control() {
                    // The packets do not meet it, so that nobody else asks.
                    state.advance(&source.spells, stream, flight, lane, end_s);
                }
                if state.on {
                    ratio += met.video;
                }
            }
        }
        if ratio > 0.0 {
            snr_db -= quick_db(1.0 + ratio);
        }
        let loss = way.faded_rate(snr_db, met.k_db);
        let word = luck.draws.streams.video.words(luck.draws.flight, self.looks, 0)[0];
        if f64::from(word) < (1.0 - loss) * 4_294_967_296.0 {
            self.picture_s = end_s;
        }
        self.video_up = end_s - self.picture_s < video.patience_s;
    }

    /// Power control, once per quality window: up a step when the pilot's set reads a quality under the threshold or
    /// hears no telemetry, down a step when every packet of the window arrived. Common practice, no source.
    pub(super) fn step_power(&mut self, setup: &LinkSetup, luck: &LinkLuck, now_s: f64, quality_pct: f64) {
        self.power_change_s = now_s + f64::from(setup.receiver.window) * setup.receiver.interval_s;
        let before = self.power_step;
        if !self.telemetry_up || quality_pct < setup.power_up_below_pct {
            self.power_step = (self.power_step + 1).min(setup.power_steps_dbm.len() - 1);
        } else if quality_pct >= 100.0 {
            self.power_step = self.power_step.saturating_sub(1);
        }
        if self.power_step != before {
            self.weigh(setup, luck);
        }
    }
}
