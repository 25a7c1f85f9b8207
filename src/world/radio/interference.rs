//! Other users of the band: how strong they are where they are met.

use super::draws::LinkDraws;
use super::one_way::OneWay;
use super::setup::LinkSetup;
use super::source::{Covering, SourceSetup};
use crate::geometry::{Frame, dot};
use crate::radio::antenna::{Antenna, Floor};
use crate::radio::body::CraftShadow;
use crate::radio::maths::quick_db;
use crate::units::ratio_from_db;

/// Runs of hops that stand for all. Estimate: the hops come close to any order of theirs well before.
const HOPS_LOOKED_AT: u32 = 4096;

/// Interference to noise of a source a metre away from the peaks of three antennas, on the channel that gets most of its
/// power, as ratios; at the pilot less what stands in between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    pub(crate) craft: f64,
    /// The pilot's control antenna, which hears telemetry.
    pub(crate) control: f64,
    /// The pilot's video antenna.
    pub(crate) video: f64,
}

/// Packets of a run that a source covers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Covered {
    /// How many.
    pub packets: u32,
    /// Share of runs with so many.
    pub share: f64,
}

/// Pattern of an antenna towards a source over the square of the distance.
#[inline(always)]
pub(crate) fn towards(antenna: &Antenna, floor: &Floor, frame: &Frame, at_m: [f64; 3], source_m: [f64; 3]) -> f64 {
    let way = [source_m[0] - at_m[0], source_m[1] - at_m[1], source_m[2] - at_m[2]];
    let square = dot(way, way).max(1.0);
    antenna.pattern_share(floor, dot(frame.to_world(antenna.axis), way) / square.sqrt()) / square
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
            let always = covering.iter().filter(|one| duty(one.index) >= 1.0);
            let noise = 1.0 + always.map(|one| one.weight * ratios[one.index]).sum::<f64>();
            let at_times = covering.iter().filter(|one| duty(one.index) < 1.0);
            let rises_db = at_times.map(|one| duty(one.index) * quick_db(1.0 + one.weight * ratios[one.index] / noise));
            quick_db(noise) + rises_db.sum::<f64>()
        })
    }

    /// The same while every source is on.
    pub fn greatest_rise_db(&self, ratios: &[f64]) -> f64 {
        self.over_hops(|covering| {
            let met = covering.iter().filter(|one| self.sources[one.index].spells.share() > 0.0);
            quick_db(1.0 + met.map(|one| one.weight * ratios[one.index]).sum::<f64>())
        })
    }

    /// Mean over the hop set of decibels that depend on which sources cover a channel.
    #[inline]
    pub(crate) fn over_hops(&self, of_covering_db: impl Fn(&[Covering]) -> f64) -> f64 {
        self.stretches.iter().fold(0.0, |sum, stretch| sum + stretch.width * of_covering_db(&stretch.covering))
    }

    /// How many of `run` packets in a row a source covers.
    ///
    /// Hops visit the channels evenly, so that only a few counts occur.
    pub fn covered(&self, source: usize, run: u32) -> Vec<Covered> {
        let hit = |packet: u32| u32::from(self.sources[source].covers(self.hops.channel(packet)));
        let mut count = (0..run).map(hit).sum::<u32>();
        let mut shares = std::collections::BTreeMap::new();
        for first in 0..HOPS_LOOKED_AT {
            *shares.entry(count).or_insert(0.0) += 1.0 / f64::from(HOPS_LOOKED_AT);
            count = count + hit(first + run) - hit(first);
        }
        shares.into_iter().map(|(packets, share)| Covered { packets, share }).collect()
    }
}
