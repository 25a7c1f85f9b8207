//! Other users of the band, met packet by packet.

use super::luck::LinkLuck;
use super::setup::LinkSetup;
use super::state::LinkState;
use crate::radio::antenna::{Antenna, dot, turned};
use crate::radio::maths::{quick_db, quick_ratio};

/// Lanes of the interference stream.
pub(super) const BURST_LANE: u32 = 0;
pub(super) const SOURCE_LANE: u32 = 16;

impl LinkState {
    /// Interference to noise on a channel by the sources that are on and cover a part of the channels, as a ratio.
    #[inline]
    pub(super) fn interference(&self, setup: &LinkSetup, channel: u32) -> f64 {
        let mut ratio = 0.0;
        for ((state, source), each) in self.sources.iter().zip(&setup.sources).zip(&self.source_ratio) {
            if state.on && source.overlap < 1.0 && (source.channels.0..source.channels.1).contains(&channel) {
                ratio += each[0];
            }
        }
        ratio
    }

    /// Rise of the noise floor by the sources that are on, on average over the hop set, dB.
    #[inline]
    pub(super) fn mean_rise_db(&self, setup: &LinkSetup) -> f64 {
        let mut rise_db = 0.0;
        for ((state, source), each) in self.sources.iter().zip(&setup.sources).zip(&self.source_ratio) {
            if state.on {
                rise_db += source.overlap * each[3];
            }
        }
        rise_db
    }

    /// Interference-to-noise of every source over what stands in between, with the antennas' patterns towards it: at the
    /// craft, at the pilot's control receiver and at his video receiver.
    pub(super) fn weigh_sources(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        place_m: [f64; 3],
        body: &[[f64; 3]; 3],
    ) {
        let pilot_frame = &self.held.mean.pilot_frame;
        let towards = |antenna: &Antenna, frame: &[[f64; 3]; 3], at_m: [f64; 3], source_m: [f64; 3]| {
            let way = [source_m[0] - at_m[0], source_m[1] - at_m[1], source_m[2] - at_m[2]];
            let square = dot(way, way).max(1.0);
            antenna.pattern_share(dot(turned(frame, antenna.axis), way) / square.sqrt()) / square
        };
        for ((source, near), ratio) in setup.sources.iter().zip(&luck.source_ratio).zip(&mut self.source_ratio) {
            let behind = source.field.as_ref().map_or(0.0, |field| field.at_db(place_m));
            let passes = if behind > 0.0 { quick_ratio(-behind) } else { 1.0 };
            let craft = near[0] * passes * towards(&setup.up.craft_antenna, body, place_m, source.place_m);
            let at_pilot = |near: f64, antenna: &Antenna| {
                if near > 0.0 { near * towards(antenna, pilot_frame, setup.pilot_m, source.place_m) } else { 0.0 }
            };
            let telemetry = at_pilot(near[1], &setup.up.pilot_antenna);
            let video = setup.video.as_ref().map_or(0.0, |video| at_pilot(near[2], &video.way.pilot_antenna));
            *ratio = [craft, telemetry, video, quick_db(1.0 + craft)];
        }
    }
}
