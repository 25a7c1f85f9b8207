//! A source of interference as far as it is fixed.

use super::hops::HopSet;
use super::source_field::SourceField;
use crate::geometry::{Frame, dot};
use crate::radio::antenna::{Antenna, Floor};
use crate::radio::body::CraftShadow;
use crate::radio::interference::{Spells, spectral_overlap};
use crate::radio::maths::quick_ratio;
use crate::scenario::{Interferer, VideoLink};
use crate::units::db_from_ratio;
use std::sync::Arc;

/// Weights nearer than this are one.
const SAME: f64 = 1e-9;

/// A source of interference as far as it is fixed.
#[derive(Debug, Clone)]
pub(crate) struct SourceSetup {
    pub(crate) place_m: [f64; 3],
    pub(crate) spells: Spells,
    /// What of its power falls into the control link's band on the channel that gets most of it, dB.
    pub(crate) into_control_db: f64,
    /// What each channel gets of that.
    pub(crate) weights: Vec<f64>,
    /// The weights that occur, none aside.
    pub(crate) levels: Vec<Level>,
    /// All channels get the same.
    pub(crate) even: bool,
    /// What of its power falls into the video link's band, dB; `None`: nothing.
    pub(crate) into_video_db: Option<f64>,
    /// What stands between it and the others.
    pub(crate) field: Option<Arc<SourceField>>,
}

/// A weight that some channels have.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Level {
    pub(crate) weight: f64,
    /// Share of the hop set that has it.
    pub(crate) share: f64,
}

/// A stretch of the hop set that the same sources cover alike.
#[derive(Debug, Clone)]
pub(crate) struct Stretch {
    /// Share of the hop set.
    pub(crate) width: f64,
    pub(crate) covering: Vec<Covering>,
}

/// A source that covers a stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Covering {
    /// Its place in the list of sources.
    pub(crate) index: usize,
    pub(crate) weight: f64,
}

impl SourceSetup {
    /// Of a source on ground at this z.
    pub(crate) fn new(
        source: &Interferer,
        hops: &HopSet,
        video: Option<&VideoLink>,
        ground_m: f64,
        field: Option<Arc<SourceField>>,
    ) -> SourceSetup {
        let into = |frequency_hz: f64, width_hz: f64| {
            spectral_overlap(source.frequency_hz, source.bandwidth_hz, frequency_hz, width_hz)
        };
        let shares: Vec<f64> = (0..hops.channels).map(|i| into(hops.channel_hz(i), hops.width_hz)).collect();
        let most = shares.iter().copied().fold(0.0, f64::max);
        let weights: Vec<f64> = shares.iter().map(|share| if most > 0.0 { share / most } else { 0.0 }).collect();
        let into_video = video.map_or(0.0, |v| into(v.frequency_hz, v.waveform.bandwidth_hz()));
        let [x_m, y_m, height_m] = source.place_m;
        SourceSetup {
            into_control_db: db_from_ratio(most),
            levels: levels_of(&weights),
            even: most > 0.0 && weights.iter().all(|weight| *weight > 1.0 - SAME),
            weights,
            into_video_db: (into_video > 0.0).then(|| db_from_ratio(into_video)),
            place_m: [x_m, y_m, height_m + ground_m],
            spells: source.central().spells(),
            field,
        }
    }

    /// What arrives at a craft of what would a metre away from its antenna's peak.
    #[inline(always)]
    pub(crate) fn share_at_craft(
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
    pub(crate) fn covers(&self, channel: u32) -> bool {
        self.weights[channel as usize] >= 0.5
    }

    /// Whether it is always on, on all channels: nothing but noise.
    pub(crate) fn is_steady(&self) -> bool {
        self.even && self.spells.share() >= 1.0
    }

    /// Whether it meets the control link on any channel.
    #[inline(always)]
    pub(crate) fn hits_control(&self) -> bool {
        !self.levels.is_empty()
    }
}

/// The weights above 0 that occur, with the share of channels that have them.
fn levels_of(weights: &[f64]) -> Vec<Level> {
    let mut sorted: Vec<f64> = weights.iter().copied().filter(|weight| *weight > 0.0).collect();
    sorted.sort_by(f64::total_cmp);
    let one = 1.0 / weights.len() as f64;
    let mut levels: Vec<Level> = Vec::new();
    for weight in sorted {
        match levels.last_mut() {
            Some(last) if weight - last.weight < SAME => last.share += one,
            _ => levels.push(Level { weight, share: one }),
        }
    }
    levels
}

/// The hop set cut where what sources bring changes, without what none covers.
pub(crate) fn stretches_of(sources: &[SourceSetup], channels: u32) -> Vec<Stretch> {
    let one = 1.0 / f64::from(channels);
    let mut stretches: Vec<Stretch> = Vec::new();
    for channel in 0..channels as usize {
        let all = sources.iter().enumerate().map(|(index, source)| Covering { index, weight: source.weights[channel] });
        let covering: Vec<Covering> = all.filter(|one| one.weight > 0.0).collect();
        match stretches.last_mut() {
            Some(last) if last.covering == covering => last.width += one,
            _ => stretches.push(Stretch { width: one, covering }),
        }
    }
    stretches.retain(|stretch| !stretch.covering.is_empty());
    stretches
}
