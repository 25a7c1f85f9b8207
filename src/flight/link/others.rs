//! Who else is on the air: bursts of loss, and sources of interference where they are met.

use super::luck::LinkLuck;
use crate::chance::Purpose;
use crate::geometry::Frame;
use crate::radio::antenna::Antenna;
use crate::radio::interference::{OnOff, Spells};
use crate::radio::maths::quick_db;
use crate::world::radio::{LinkSetup, PilotEnd, towards};

/// Lanes of the interference stream.
const BURST_LANE: u32 = 0;
const SOURCE_LANE: u32 = 16;

/// Interference to noise of a source where it is met, on the channel that gets most of its power, as ratios.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Met {
    craft: f64,
    /// At the pilot's control antenna, which hears telemetry.
    pub(super) control: f64,
    video: f64,
    /// The first as a rise of the noise floor, mean over the hop set.
    craft_rise_db: f64,
}

/// Who else is on the air.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Others {
    bursts: OnOff,
    pub(super) sources: Vec<OnOff>,
    /// What each source is where it is met, at the last look.
    pub(super) met: Vec<Met>,
}

/// What the others leave to packets, until one of them goes on or off.
pub(super) struct OnAir {
    /// Share of packets that bursts leave.
    pub(super) left: f64,
    /// Interference to noise on every channel, as a ratio.
    pub(super) ratio: f64,
    /// Some source is on that covers a part of the channels.
    pub(super) partly: bool,
    pub(super) until_s: f64,
}

impl Others {
    pub(super) fn at_start(setup: &LinkSetup, luck: &LinkLuck) -> Others {
        let (flight, stream) = (luck.draws.flight, luck.draws.streams.of(Purpose::Interference));
        let idle = Spells::new(0.0, 1.0);
        let bursts = setup.bursts.as_ref().map_or(&idle, |bursts| &bursts.spells);
        let sources = (SOURCE_LANE..).zip(&luck.spells);
        Others {
            bursts: OnOff::start(bursts, stream, flight, BURST_LANE),
            sources: sources.map(|(lane, spells)| OnOff::start(spells, stream, flight, lane)).collect(),
            met: vec![Met::default(); setup.sources.len()],
        }
    }

    /// Whether a burst of loss is on.
    pub(super) fn in_burst(&self, setup: &LinkSetup) -> bool {
        setup.bursts.is_some() && self.bursts.on
    }

    /// Brings bursts and the sources that the control link meets to a time.
    #[inline(always)]
    pub(super) fn advance(&mut self, setup: &LinkSetup, luck: &LinkLuck, time_s: f64) -> OnAir {
        let (flight, stream) = (luck.draws.flight, luck.draws.streams.of(Purpose::Interference));
        let mut on_air = OnAir { left: 1.0, ratio: 0.0, partly: false, until_s: f64::INFINITY };
        if let Some(bursts) = &setup.bursts {
            self.bursts.advance(&bursts.spells, stream, flight, BURST_LANE, time_s);
            on_air.left = bursts.left[usize::from(self.bursts.on)];
            on_air.until_s = self.bursts.until_s();
        }
        for (index, ((state, source), met)) in self.sources.iter_mut().zip(&setup.sources).zip(&self.met).enumerate() {
            if source.hits_control() {
                state.advance(&luck.spells[index], stream, flight, SOURCE_LANE + index as u32, time_s);
                on_air.until_s = on_air.until_s.min(state.until_s());
                if state.on && source.even {
                    on_air.ratio += met.craft;
                } else {
                    on_air.partly |= state.on;
                }
            }
        }
        on_air
    }

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

    /// By how much the noise floor rises at most with all sources on, dB: at the craft, at the pilot's control antenna, in the
    /// picture's band.
    #[inline]
    pub(super) fn most_rise_db(&self) -> [f64; 3] {
        if self.met.is_empty() {
            return [0.0; 3];
        }
        let mut ratios = [0.0; 3];
        for met in &self.met {
            for (ratio, more) in ratios.iter_mut().zip([met.craft, met.control, met.video]) {
                *ratio += more;
            }
        }
        ratios.map(|ratio| quick_db(1.0 + ratio))
    }

    /// Rise of the noise floor by the sources that are on, on average over the hop set, dB.
    #[inline(always)]
    pub(super) fn rise_now_db(&self, setup: &LinkSetup) -> f64 {
        match (&self.sources[..], &self.met[..]) {
            // One alone needs no logarithm.
            ([state], [met]) => f64::from(state.on) * met.craft_rise_db,
            _ => setup.over_hops(|covering| {
                let on = covering.iter().filter(|one| self.sources[one.index].on);
                quick_db(1.0 + on.map(|one| one.weight * self.met[one.index].craft).sum::<f64>())
            }),
        }
    }

    /// Interference to noise in the picture's band at a time, as a ratio. Sources that packets meet too are as the last packet met them.
    pub(super) fn on_video(&mut self, setup: &LinkSetup, luck: &LinkLuck, time_s: f64) -> f64 {
        let (flight, stream) = (luck.draws.flight, luck.draws.streams.of(Purpose::Interference));
        let mut ratio = 0.0;
        for (index, ((state, source), met)) in self.sources.iter_mut().zip(&setup.sources).zip(&self.met).enumerate() {
            if source.into_video_db.is_some() {
                if !source.hits_control() {
                    // The packets do not meet it, so that nobody else asks.
                    state.advance(&luck.spells[index], stream, flight, SOURCE_LANE + index as u32, time_s);
                }
                if state.on {
                    ratio += met.video;
                }
            }
        }
        ratio
    }

    /// Weighs every source over what stands in between, with the antennas' patterns towards it.
    #[inline(always)]
    pub(super) fn weigh(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        craft_m: [f64; 3],
        body: &Frame,
        end: &PilotEnd,
        pilot_frame: &Frame,
    ) {
        for ((source, near), met) in setup.sources.iter().zip(&luck.strengths).zip(&mut self.met) {
            let craft = near.craft
                * source.share_at_craft(&setup.up.craft_antenna, &luck.floor, &luck.craft_shadow, craft_m, body);
            let at_pilot = |near: f64, antenna: &Antenna| {
                if near > 0.0 {
                    near * towards(antenna, &luck.floor, pilot_frame, end.place_m, source.place_m)
                } else {
                    0.0
                }
            };
            *met = Met {
                craft,
                control: at_pilot(near.control, &setup.up.pilot_antenna),
                video: setup.video.as_ref().map_or(0.0, |video| at_pilot(near.video, &video.way.pilot_antenna)),
                craft_rise_db: source
                    .levels
                    .iter()
                    .map(|level| level.share * quick_db(1.0 + level.weight * craft))
                    .sum(),
            };
        }
    }
}
