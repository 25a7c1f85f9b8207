//! Other users of the band, met packet by packet.

use super::luck::LinkLuck;
use super::setup::{LinkSetup, SourceSetup};
use super::state::LinkState;
use crate::radio::antenna::{Antenna, dot, turned};
use crate::radio::maths::{quick_db, quick_ratio};

/// Lanes of the interference stream.
pub(super) const BURST_LANE: u32 = 0;
pub(super) const SOURCE_LANE: u32 = 16;

/// Runs of hops that stand for all.
const HOPS_LOOKED_AT: u32 = 4096;

/// Pattern of an antenna towards a source over the square of the distance.
#[inline(always)]
fn towards(antenna: &Antenna, frame: &[[f64; 3]; 3], at_m: [f64; 3], source_m: [f64; 3]) -> f64 {
    let way = [source_m[0] - at_m[0], source_m[1] - at_m[1], source_m[2] - at_m[2]];
    let square = dot(way, way).max(1.0);
    antenna.pattern_share(dot(turned(frame, antenna.axis), way) / square.sqrt()) / square
}

impl SourceSetup {
    /// What arrives at a craft of what would a metre away from its antenna's peak.
    #[inline]
    fn share_at_craft(&self, antenna: &Antenna, place_m: [f64; 3], body: &[[f64; 3]; 3]) -> f64 {
        let behind_db = self.field.as_ref().map_or(0.0, |field| field.at_db(place_m));
        let passes = if behind_db > 0.0 { quick_ratio(-behind_db) } else { 1.0 };
        passes * towards(antenna, body, place_m, self.place_m)
    }
}

impl LinkSetup {
    /// Interference to noise that a source brings to a craft when it is on, as a ratio, with the values of a flight.
    pub fn interference_ratio(&self, luck: &LinkLuck, source: usize, place_m: [f64; 3], body: &[[f64; 3]; 3]) -> f64 {
        match (self.sources.get(source), luck.source_ratio.get(source)) {
            (Some(source), Some(near)) => near[0] * source.share_at_craft(&self.up.craft_antenna, place_m, body),
            _ => 0.0,
        }
    }

    /// Rise of the noise floor at a craft, on average over the hop set and over time, dB, with the values of a flight.
    pub fn mean_rise_db(&self, luck: &LinkLuck, place_m: [f64; 3], body: &[[f64; 3]; 3]) -> f64 {
        let ratios: Vec<f64> =
            (0..self.sources.len()).map(|index| self.interference_ratio(luck, index, place_m, body)).collect();
        let share = |index: &usize| self.sources[*index].spells.share();
        let of_stretch = |(width, covering): &(f64, Vec<usize>)| {
            let always = covering.iter().filter(|index| share(index) >= 1.0);
            let noise = 1.0 + always.map(|index| ratios[*index]).sum::<f64>();
            let at_times = covering.iter().filter(|index| share(index) < 1.0);
            let more = at_times.map(|index| share(index) * quick_db(1.0 + ratios[*index] / noise)).sum::<f64>();
            width * (quick_db(noise) + more)
        };
        self.stretches.iter().map(of_stretch).fold(0.0, |sum, rise_db| sum + rise_db)
    }

    /// Rise of the noise floor at a craft while every source is on, on average over the hop set, dB, with the values of a
    /// flight.
    pub fn greatest_rise_db(&self, luck: &LinkLuck, place_m: [f64; 3], body: &[[f64; 3]; 3]) -> f64 {
        let met = |index: &&usize| self.sources[**index].spells.share() > 0.0;
        let of_stretch = |(width, covering): &(f64, Vec<usize>)| {
            let ratio = |index: &usize| self.interference_ratio(luck, *index, place_m, body);
            width * quick_db(1.0 + covering.iter().filter(met).map(ratio).sum::<f64>())
        };
        self.stretches.iter().map(of_stretch).fold(0.0, |sum, rise_db| sum + rise_db)
    }

    /// Whether a source is always on, on all channels: nothing but noise.
    pub fn is_steady(&self, source: usize) -> bool {
        self.sources.get(source).is_some_and(|source| source.overlap >= 1.0 && source.spells.share() >= 1.0)
    }

    /// How many of `run` packets in a row a source covers, with the share of runs that it does so for.
    ///
    /// Hops visit the channels evenly, so that only a few counts occur.
    pub fn covered(&self, source: usize, run: u32) -> Vec<(u32, f64)> {
        let Some(source) = self.sources.get(source) else { return vec![(0, 1.0)] };
        let hit = |packet: u32| u32::from((source.channels.0..source.channels.1).contains(&self.channel(packet)));
        let mut count = (0..run).map(hit).sum::<u32>();
        let mut shares = std::collections::BTreeMap::new();
        for first in 0..HOPS_LOOKED_AT {
            *shares.entry(count).or_insert(0.0) += 1.0 / f64::from(HOPS_LOOKED_AT);
            count = count + hit(first + run) - hit(first);
        }
        shares.into_iter().collect()
    }

    /// Share of the hop set that a source covers.
    pub fn overlap(&self, source: usize) -> f64 {
        self.sources.get(source).map_or(0.0, |source| source.overlap)
    }

    /// Share of packets that neighbours leave.
    pub fn left_by_neighbours(&self) -> f64 {
        self.kept
    }
}

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
        if let ([state], [source], [each]) = (&self.sources[..], &setup.sources[..], &self.source_ratio[..]) {
            return if state.on { source.overlap * each[3] } else { 0.0 };
        }
        let mut rise_db = 0.0;
        for (width, covering) in &setup.stretches {
            let mut noise = 1.0;
            for &index in covering {
                if self.sources[index].on {
                    noise += self.source_ratio[index][0];
                }
            }
            rise_db += width * quick_db(noise);
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
        for ((source, near), ratio) in setup.sources.iter().zip(&luck.source_ratio).zip(&mut self.source_ratio) {
            let craft = near[0] * source.share_at_craft(&setup.up.craft_antenna, place_m, body);
            // A pilot who faces one way hears the sources as he did at first.
            let [_, mut telemetry, mut video, _] = *ratio;
            if setup.facing.is_none() || telemetry.is_nan() {
                let at_pilot = |near: f64, antenna: &Antenna| {
                    if near > 0.0 { near * towards(antenna, pilot_frame, setup.pilot_m, source.place_m) } else { 0.0 }
                };
                telemetry = at_pilot(near[1], &setup.up.pilot_antenna);
                video = setup.video.as_ref().map_or(0.0, |video| at_pilot(near[2], &video.way.pilot_antenna));
            }
            *ratio = [craft, telemetry, video, quick_db(1.0 + craft)];
        }
    }
}
