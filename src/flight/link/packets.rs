//! Packets of the uplink, in runs during which nobody else's transmitter goes on or off.

use super::luck::LinkLuck;
use super::setup::LinkSetup;
use super::sources::{BURST_LANE, SOURCE_LANE};
use super::state::LinkState;
use crate::radio::fading::rician_level;
use crate::radio::maths::quick_db;
use crate::radio::receiver::{Declared, RUN_MOST};

/// Blocks of the uplink stream: bytes of sixteen packets, and what decides when a packet's byte does not.
const BYTES_BLOCK: u32 = 0;
const FINER_BLOCK: u32 = 0x1000_0000;
/// Packets whose bytes come from one block; no run reaches over its end.
const PER_BLOCK: u32 = 16;
const _: () = assert!(PER_BLOCK <= RUN_MOST);

/// The step whose packets are due.
pub(super) struct Span {
    pub(super) time_s: f64,
    pub(super) end_s: f64,
    pub(super) speed_mps: f64,
    /// The pilot's set is silent.
    pub(super) forced_off: bool,
}

/// Packets in a row that meet the same other users.
struct Run {
    first: u32,
    count: u32,
    /// Share of packets that bursts leave; 0: the set is off, or the receiver starts.
    left: f64,
    /// Some source is on.
    disturbed: bool,
}

/// What hops that fade together have met in a step.
struct Met {
    /// Decibels of the levels, as a factor and what was taken out of it.
    factor: f64,
    level_db: f64,
    /// Level of the last packet that arrived.
    heard: f64,
}

impl LinkState {
    /// The packets of a step.
    #[inline]
    pub(super) fn packets(&mut self, setup: &LinkSetup, luck: &LinkLuck, span: &Span) -> Option<Declared> {
        let (first, end) = (self.packet, setup.first_packet_at(span.end_s));
        if first >= end {
            return None;
        }
        let together = !luck.reads.is_empty();
        let mut met = Met { factor: 1.0, level_db: 0.0, heard: 1.0 };
        let (mut event, mut heard, mut rise_db) = (None, false, 0.0);
        while self.packet < end {
            let run = self.next_run(setup, luck, span, end);
            if run.disturbed {
                rise_db += f64::from(run.count) * self.mean_rise_db(setup);
            }
            let bits = if together {
                self.arrivals_together(setup, luck, span, &run, &mut met)
            } else {
                self.arrivals_apart(setup, luck, &run)
            };
            heard |= bits != 0;
            let due_s = |i: u32| setup.due_s(run.first + i);
            event = self.receiver.run(&setup.receiver, due_s, bits, run.count).or(event);
            self.packet += run.count;
        }
        let packets = f64::from(end - first);
        if together {
            self.fading_db = -(met.level_db + quick_db(met.factor)) / packets;
        }
        if heard {
            let level_db = if together { quick_db(met.heard) } else { 0.0 };
            self.receiver.signal(self.held.power_dbm + level_db);
        }
        if !setup.sources.is_empty() {
            self.interference_db = rise_db / packets;
        }
        event
    }

    /// Brings bursts, sources and bytes to the next packet, and counts the packets for which they stay.
    #[inline]
    fn next_run(&mut self, setup: &LinkSetup, luck: &LinkLuck, span: &Span, end: u32) -> Run {
        let (flight, streams) = (luck.draws.flight, &luck.draws.streams);
        let first = self.packet;
        let due_s = setup.due_s(first);
        let (mut left, mut disturbed, mut until_s) = (1.0, false, f64::INFINITY);
        if let Some((spells, shares)) = &setup.bursts {
            self.bursts.advance(spells, &streams.interference, flight, BURST_LANE, due_s);
            left = shares[usize::from(self.bursts.on)];
            until_s = self.bursts.until_s();
        }
        for (lane, (state, source)) in (SOURCE_LANE..).zip(self.sources.iter_mut().zip(&setup.sources)) {
            if source.overlap > 0.0 {
                state.advance(&source.spells, &streams.interference, flight, lane, due_s);
                disturbed |= state.on;
                until_s = until_s.min(state.until_s());
            }
        }
        if span.forced_off {
            left = 0.0;
        } else if due_s < self.down_until_s {
            left = 0.0;
            until_s = until_s.min(self.down_until_s);
        }
        if first.is_multiple_of(PER_BLOCK) {
            let words = streams.uplink.words(flight, first / PER_BLOCK, BYTES_BLOCK);
            for (bytes, word) in self.bytes.chunks_exact_mut(4).zip(words) {
                bytes.copy_from_slice(&word.to_le_bytes());
            }
        }
        let mut end = end.min((first / PER_BLOCK + 1) * PER_BLOCK);
        if until_s < setup.due_s(end - 1) {
            end = setup.first_packet_at(until_s).max(first + 1);
        }
        Run { first, count: end - first, left, disturbed }
    }

    /// Which packets of a run arrive over hops that fade together or in bands: each meets the level of its band at its
    /// place.
    #[inline]
    fn arrivals_together(&mut self, setup: &LinkSetup, luck: &LinkLuck, span: &Span, run: &Run, met: &mut Met) -> u32 {
        let [line, diffuse] = self.held.mean.amplitudes;
        let per_s = span.speed_mps * setup.per_wavelength;
        let travelled = self.travelled_m * setup.per_wavelength;
        let share = setup.kept * run.left;
        let mut bits = 0;
        for packet in run.first..run.first + run.count {
            let channel = setup.channel(packet);
            let way = travelled + per_s * (setup.due_s(packet) - span.time_s).max(0.0);
            let level = rician_level(line, diffuse, setup.field.at(&luck.reads[setup.band(channel)], way));
            met.factor *= level;
            self.level = level;
            let mut snr = self.held.snr * level;
            if run.disturbed {
                snr /= 1.0 + self.interference(setup, channel);
            }
            let arrive = share * (1.0 - setup.up.curve.at_ratio(snr));
            if self.arrives(luck, packet, arrive) {
                bits |= 1 << (packet - run.first);
                met.heard = level;
            }
        }
        // Levels lie above −120 dB: sixteen more stay within the range of a double.
        if !(1e-100..1e100).contains(&met.factor) {
            met.level_db += quick_db(met.factor);
            met.factor = 1.0;
        }
        bits
    }

    /// Which packets of a run arrive over hops that fade each on its own: all meet the averaged error rate.
    #[inline]
    fn arrivals_apart(&mut self, setup: &LinkSetup, luck: &LinkLuck, run: &Run) -> u32 {
        let clear = self.held.arrive * run.left;
        let mut bits = 0;
        if !run.disturbed {
            let over = clear * 256.0;
            let whole = over as u32;
            let mut open = 0;
            let start = (run.first % PER_BLOCK) as usize;
            for (i, byte) in (0..run.count).zip(&self.bytes[start..]) {
                bits |= u32::from(u32::from(*byte) < whole) << i;
                open |= u32::from(u32::from(*byte) == whole) << i;
            }
            while open != 0 {
                let i = open.trailing_zeros();
                bits |= u32::from(finer(luck, run.first + i) < over - f64::from(whole)) << i;
                open &= open - 1;
            }
            return bits;
        }
        // Interference met last, as a ratio, and the share of packets that then arrive.
        let mut met = (0.0, clear);
        for i in 0..run.count {
            let ratio = self.interference(setup, setup.channel(run.first + i));
            let mut arrive = clear;
            if ratio > 0.0 {
                if ratio != met.0 {
                    let lost = setup.up.faded_rate(self.held.snr_db - quick_db(1.0 + ratio), self.held.mean.k_db);
                    met = (ratio, setup.kept * run.left * (1.0 - lost));
                }
                arrive = met.1;
            }
            bits |= u32::from(self.arrives(luck, run.first + i, arrive)) << i;
        }
        bits
    }

    /// Whether a packet that arrives with chance `share` does: by its byte, and by more bits when the byte leaves it open.
    #[inline(always)]
    fn arrives(&self, luck: &LinkLuck, packet: u32, share: f64) -> bool {
        let over = share * 256.0 - f64::from(self.bytes[(packet % PER_BLOCK) as usize]);
        over >= 1.0 || (over > 0.0 && finer(luck, packet) < over)
    }
}

impl LinkSetup {
    /// When a packet is due.
    #[inline(always)]
    fn due_s(&self, packet: u32) -> f64 {
        f64::from(packet) * self.receiver.interval_s
    }

    /// First packet due at a time or after it.
    #[inline]
    fn first_packet_at(&self, time_s: f64) -> u32 {
        // Close by; then the times themselves decide.
        let mut packet = (time_s * self.packet_rate_hz) as u32;
        while packet > 0 && self.due_s(packet - 1) >= time_s {
            packet -= 1;
        }
        while self.due_s(packet) < time_s {
            packet += 1;
        }
        packet
    }
}

#[cold]
fn finer(luck: &LinkLuck, packet: u32) -> f64 {
    luck.draws.streams.uplink.units(luck.draws.flight, packet, FINER_BLOCK)[0]
}
