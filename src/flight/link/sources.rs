//! Other users of the band, met packet by packet.

use super::luck::{LinkDraws, LinkLuck};
use super::setup::{LinkSetup, OneWay, SourceSetup};
use super::state::LinkState;
use crate::geometry::{Frame, dot};
use crate::radio::antenna::{Antenna, Floor};
use crate::radio::body::CraftShadow;
use crate::radio::interference::Spells;
use crate::radio::maths::{quick_db, quick_ratio};
use crate::units::ratio_from_db;

/// Lanes of the interference stream.
pub(super) const BURST_LANE: u32 = 0;
pub(super) const SOURCE_LANE: u32 = 16;

/// Runs of hops that stand for all. Estimate: the hops come close to any order of theirs well before.
const HOPS_LOOKED_AT: u32 = 4096;

/// Interference to noise of a source a metre away from the peaks of three antennas, on the channel that gets most of its
/// power, as ratios; at the pilot less what stands in between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    craft: f64,
    /// The pilot's control antenna, which hears telemetry.
    control: f64,
    /// The pilot's video antenna.
    video: f64,
}

/// Interference to noise of a source where it is met, on the channel that gets most of its power, as ratios.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Met {
    pub(super) craft: f64,
    pub(super) control: f64,
    pub(super) video: f64,
    /// The first as a rise of the noise floor, mean over the hop set.
    pub(super) craft_rise_db: f64,
}

/// Pattern of an antenna towards a source over the square of the distance.
#[inline(always)]
fn towards(antenna: &Antenna, floor: &Floor, frame: &Frame, at_m: [f64; 3], source_m: [f64; 3]) -> f64 {
    let way = [source_m[0] - at_m[0], source_m[1] - at_m[1], source_m[2] - at_m[2]];
    let square = dot(way, way).max(1.0);
    antenna.pattern_share(floor, dot(frame.to_world(antenna.axis), way) / square.sqrt()) / square
}

impl SourceSetup {
    /// What arrives at a craft of what would a metre away from its antenna's peak.
    #[inline(always)]
    fn share_at_craft(
        &self,
        antenna: &Antenna,
        floor: &Floor,
        craft_shadow: &CraftShadow,
        place_m: [f64; 3],
        body: &Frame,
    ) -> f64 {
        let behind_db = self.field.as_ref().map_or(0.0, |field| field.at_db(place_m));
        let passes = if behind_db > 0.0 { quick_ratio(-behind_db) } else { 1.0 };
        let way = [0, 1, 2].map(|axis| self.place_m[axis] - place_m[axis]);
        let square = dot(way, way).max(1.0);
        let inverse = 1.0 / square.sqrt();
        let direction = body.to_body([way[0] * inverse, way[1] * inverse, way[2] * inverse]);
        passes * craft_shadow.share(direction) * antenna.pattern_share(floor, dot(antenna.axis, direction)) / square
    }

    /// Whether a channel gets at least half of what the channel gets that gets most.
    fn covers(&self, channel: u32) -> bool {
        self.weights[channel as usize] >= 0.5
    }

    /// Whether it meets the control link on any channel.
    #[inline(always)]
    pub(super) fn hits_control(&self) -> bool {
        !self.levels.is_empty()
    }
}

impl LinkSetup {
    /// How strong each source is with the values of a flight; fills `strengths` anew.
    pub fn strengths(&self, values: &LinkDraws, strengths: &mut Vec<Strength>) {
        let near = |eirp_dbm: f64, way: &OneWay, antenna: &Antenna, noise_dbm: f64| {
            let gain_db = antenna.peak_dbi() - antenna.condition_loss_db() - antenna.feed_loss_db;
            ratio_from_db(eirp_dbm + gain_db - way.one_metre_db - noise_dbm)
        };
        let up = &self.up;
        strengths.clear();
        strengths.extend(self.sources.iter().enumerate().map(|(index, source)| {
            // A source that the draws do not know radiates nothing.
            let eirp_dbm = values.interferer_dbm.get(index).copied().unwrap_or(-300.0);
            let at_pilot_dbm = eirp_dbm - source.field.as_ref().map_or(0.0, |field| field.at_pilot_db);
            let telemetry = self.telemetry.as_ref();
            let (into_db, video_db) = (source.into_control_db, source.into_video_db);
            let video = self.video.as_ref().zip(video_db).map(|(video, into_db)| (&video.way, into_db));
            Strength {
                craft: near(eirp_dbm + into_db, up, &up.craft_antenna, up.noise_dbm + values.noise_rise_db),
                control: telemetry.map_or(0.0, |t| near(at_pilot_dbm + into_db, up, &up.pilot_antenna, t.noise_dbm)),
                video: video
                    .map_or(0.0, |(way, into_db)| near(at_pilot_dbm + into_db, way, &way.pilot_antenna, way.noise_dbm)),
            }
        }));
    }

    /// Interference to noise that each source brings to a craft when it is on, on the channel that gets most of it, as
    /// ratios.
    pub fn at_craft(&self, strengths: &[Strength], place_m: [f64; 3], body: &Frame) -> Vec<f64> {
        let craft_shadow = CraftShadow::even(self.craft_shadow_db[0]);
        let of = |(source, near): (&SourceSetup, &Strength)| {
            near.craft * source.share_at_craft(&self.up.craft_antenna, &self.floor, &craft_shadow, place_m, body)
        };
        self.sources.iter().zip(strengths).map(of).collect()
    }

    /// Rise of the noise floor on average over the hop set and over time, dB, from the ratios of [`LinkSetup::at_craft`].
    pub fn mean_rise_db(&self, ratios: &[f64]) -> f64 {
        let duty = |index: usize| self.sources[index].spells.share();
        self.over_hops(|covering| {
            let always = covering.iter().filter(|(index, _)| duty(*index) >= 1.0);
            let noise = 1.0 + always.map(|(index, weight)| weight * ratios[*index]).sum::<f64>();
            let at_times = covering.iter().filter(|(index, _)| duty(*index) < 1.0);
            let rises_db =
                at_times.map(|(index, weight)| duty(*index) * quick_db(1.0 + weight * ratios[*index] / noise));
            quick_db(noise) + rises_db.sum::<f64>()
        })
    }

    /// The same while every source is on.
    pub fn greatest_rise_db(&self, ratios: &[f64]) -> f64 {
        self.over_hops(|covering| {
            let met = covering.iter().filter(|(index, _)| self.sources[*index].spells.share() > 0.0);
            quick_db(1.0 + met.map(|(index, weight)| weight * ratios[*index]).sum::<f64>())
        })
    }

    /// Mean over the hop set of decibels that depend on which sources cover a channel.
    #[inline]
    fn over_hops(&self, of_covering_db: impl Fn(&[(usize, f64)]) -> f64) -> f64 {
        self.stretches.iter().fold(0.0, |sum, (width, covering)| sum + width * of_covering_db(covering))
    }

    /// The hop set cut where what sources bring changes: share of it, who covers it and with what weight, without what
    /// none covers.
    pub(super) fn stretches_of(sources: &[SourceSetup], channels: u32) -> Vec<(f64, Vec<(usize, f64)>)> {
        let mut stretches: Vec<(f64, Vec<(usize, f64)>)> = Vec::new();
        for channel in 0..channels as usize {
            let weights = sources.iter().map(|source| source.weights[channel]).enumerate();
            let covering: Vec<(usize, f64)> = weights.filter(|(_, weight)| *weight > 0.0).collect();
            match stretches.last_mut() {
                Some((width, last)) if *last == covering => *width += 1.0 / f64::from(channels),
                _ => stretches.push((1.0 / f64::from(channels), covering)),
            }
        }
        stretches.retain(|(_, covering)| !covering.is_empty());
        stretches
    }

    /// Whether a source is always on, on all channels: nothing but noise.
    pub fn is_steady(&self, source: usize) -> bool {
        let source = &self.sources[source];
        source.even && source.spells.share() >= 1.0
    }

    /// How many of `run` packets in a row a source covers, with the share of runs that it does so for.
    ///
    /// Hops visit the channels evenly, so that only a few counts occur.
    pub fn covered(&self, source: usize, run: u32) -> Vec<(u32, f64)> {
        let hit = |packet: u32| u32::from(self.sources[source].covers(self.channel(packet)));
        let mut count = (0..run).map(hit).sum::<u32>();
        let mut shares = std::collections::BTreeMap::new();
        for first in 0..HOPS_LOOKED_AT {
            *shares.entry(count).or_insert(0.0) += 1.0 / f64::from(HOPS_LOOKED_AT);
            count = count + hit(first + run) - hit(first);
        }
        shares.into_iter().collect()
    }

    /// When a source is on.
    pub fn spells(&self, source: usize) -> &Spells {
        &self.sources[source].spells
    }

    /// Whether a source meets the control link on any channel.
    pub fn hits_control(&self, source: usize) -> bool {
        self.sources[source].hits_control()
    }

    /// Whether a source brings the same to all channels.
    pub fn is_even(&self, source: usize) -> bool {
        self.sources[source].even
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
        for ((state, source), met) in self.sources.iter().zip(&setup.sources).zip(&self.met) {
            if state.on && !source.even {
                ratio += met.craft * source.weights[channel as usize];
            }
        }
        ratio
    }

    /// Rise of the noise floor by the sources that are on, on average over the hop set, dB.
    #[inline]
    pub(super) fn rise_now_db(&self, setup: &LinkSetup) -> f64 {
        match (&self.sources[..], &self.met[..]) {
            // One alone needs no logarithm.
            ([state], [met]) => f64::from(state.on) * met.craft_rise_db,
            _ => setup.over_hops(|covering| {
                let on = covering.iter().filter(|(index, _)| self.sources[*index].on);
                quick_db(1.0 + on.map(|(index, weight)| weight * self.met[*index].craft).sum::<f64>())
            }),
        }
    }

    /// Weighs every source over what stands in between, with the antennas' patterns towards it.
    pub(super) fn weigh_sources(&mut self, setup: &LinkSetup, luck: &LinkLuck, place_m: [f64; 3], body: &Frame) {
        let pilot_frame = &self.held.mean.pilot_frame;
        for ((source, near), met) in setup.sources.iter().zip(&luck.strengths).zip(&mut self.met) {
            let craft = near.craft
                * source.share_at_craft(&setup.up.craft_antenna, &luck.floor, &luck.craft_shadow, place_m, body);
            let at_pilot = |near: f64, antenna: &Antenna| {
                if near > 0.0 {
                    near * towards(antenna, &luck.floor, pilot_frame, self.end.place_m, source.place_m)
                } else {
                    0.0
                }
            };
            *met = Met {
                craft,
                control: at_pilot(near.control, &setup.up.pilot_antenna),
                video: setup.video.as_ref().map_or(0.0, |video| at_pilot(near.video, &video.way.pilot_antenna)),
                craft_rise_db: source.levels.iter().map(|(weight, share)| share * quick_db(1.0 + weight * craft)).sum(),
            };
        }
    }
}
