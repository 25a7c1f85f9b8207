//! Packets of the uplink, in runs during which nobody else's transmitter goes on or off.

use super::luck::LinkLuck;
use super::setup::LinkSetup;
use super::sources::{BURST_LANE, SOURCE_LANE};
use super::state::LinkState;
use crate::radio::fading::{DiffuseWay, rician_level};
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
    /// Interference to noise on every channel, as a ratio.
    ratio: f64,
    /// Some source is on that covers a part of the channels.
    partly: bool,
}

/// What hops that fade together come to in a step.
struct Faded {
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
        let mut faded = Faded { factor: 1.0, level_db: 0.0, heard: 1.0 };
        let (mut event, mut heard, mut rise_db) = (None, false, 0.0);
        // What the receiver has yet to take note of: a bit for each packet from `untold` on.
        let (mut untold, mut bits) = (first, 0);
        while self.packet < end {
            let run = self.next_run(setup, luck, span, end);
            if run.partly || run.ratio > 0.0 {
                rise_db += f64::from(run.count) * self.rise_now_db(setup);
            }
            if run.first + run.count - untold > RUN_MOST {
                event = self.tell(setup, untold, bits).or(event);
                (untold, bits) = (run.first, 0);
            }
            let arrived = if together {
                self.arrivals_together(setup, luck, span, &run, &mut faded)
            } else {
                self.arrivals_apart(setup, luck, &run)
            };
            heard |= arrived != 0;
            bits |= arrived << (run.first - untold);
            self.packet += run.count;
        }
        event = self.tell(setup, untold, bits).or(event);
        let share = 1.0 / f64::from(end - first);
        if together {
            self.fading_db = -(faded.level_db + quick_db(faded.factor)) * share;
        }
        if heard {
            let level_db = if together { quick_db(faded.heard) } else { 0.0 };
            self.receiver.signal(self.held.power_dbm + level_db);
        }
        if !setup.sources.is_empty() {
            self.interference_db = rise_db * share;
        }
        event
    }

    /// Tells the receiver of the packets from one on.
    #[inline(always)]
    fn tell(&mut self, setup: &LinkSetup, from: u32, bits: u32) -> Option<Declared> {
        self.receiver.run(&setup.receiver, |i| setup.due_s(from + i), bits, self.packet - from)
    }

    /// Brings bursts, sources and bytes to the next packet, and counts the packets for which they stay.
    #[inline]
    fn next_run(&mut self, setup: &LinkSetup, luck: &LinkLuck, span: &Span, end: u32) -> Run {
        let (flight, streams) = (luck.draws.flight, &luck.draws.streams);
        let first = self.packet;
        let due_s = setup.due_s(first);
        let (mut left, mut ratio, mut partly, mut until_s) = (1.0, 0.0, false, f64::INFINITY);
        if let Some((spells, shares)) = &setup.bursts {
            self.bursts.advance(spells, &streams.interference, flight, BURST_LANE, due_s);
            left = shares[usize::from(self.bursts.on)];
            until_s = self.bursts.until_s();
        }
        for (lane, ((state, source), met)) in
            (SOURCE_LANE..).zip(self.sources.iter_mut().zip(&setup.sources).zip(&self.met))
        {
            if source.hits_control() {
                state.advance(&source.spells, &streams.interference, flight, lane, due_s);
                until_s = until_s.min(state.until_s());
                if state.on && source.even {
                    ratio += met.craft;
                } else {
                    partly |= state.on;
                }
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
        if until_s <= setup.due_s(end - 1) {
            end = setup.first_packet_at(until_s).max(first + 1);
        }
        Run { first, count: end - first, left, ratio, partly }
    }

    /// Which packets of a run arrive over hops that fade together or in bands: each meets the level of its band at its
    /// place.
    #[inline]
    fn arrivals_together(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        span: &Span,
        run: &Run,
        faded: &mut Faded,
    ) -> u32 {
        let [line, diffuse] = self.held.amplitudes;
        // Wavelengths travelled by the run's first packet, and from packet to packet.
        let per_s = span.speed_mps * setup.per_wavelength;
        let since_s = (setup.due_s(run.first) - span.time_s).max(0.0);
        let from = self.travelled_m * setup.per_wavelength + per_s * since_s;
        let mut way = DiffuseWay::new(from, per_s * setup.receiver.interval_s);
        let share = setup.kept * run.left;
        let clear = Odds::of(share);
        let noise = 1.0 + run.ratio;
        let snr = if run.ratio > 0.0 { self.held.snr / noise } else { self.held.snr };
        // From this level on fading costs no packet; where sources disturb some channels each packet is weighed.
        let sure = if run.partly { f64::INFINITY } else { setup.up.curve.sure() / snr };
        let (mut bits, mut factor, mut level) = (0, faded.factor, 1.0);
        for i in 0..run.count {
            let packet = run.first + i;
            let read = match &luck.reads[..] {
                [only] => only,
                reads => &reads[setup.band(setup.channel(packet))],
            };
            level = rician_level(line, diffuse, setup.field.on_way(read, &way));
            way.go_on();
            factor *= level;
            let arrives = if level >= sure {
                self.arrives(luck, packet, &clear)
            } else {
                let mut snr = snr * level;
                if run.partly {
                    snr *= noise / (noise + self.interference(setup, setup.channel(packet)));
                }
                self.arrives(luck, packet, &Odds::of(share * (1.0 - setup.up.curve.at_ratio(snr))))
            };
            if arrives {
                bits |= 1 << i;
                faded.heard = level;
            }
        }
        self.level = level;
        faded.factor = factor;
        // Levels lie above −120 dB: sixteen more stay within the range of a double.
        if !(1e-100..1e100).contains(&faded.factor) {
            faded.level_db += quick_db(faded.factor);
            faded.factor = 1.0;
        }
        bits
    }

    /// Which packets of a run arrive over hops that fade each on its own: all meet the averaged error rate.
    #[inline]
    fn arrivals_apart(&mut self, setup: &LinkSetup, luck: &LinkLuck, run: &Run) -> u32 {
        let throughout = Odds::of(self.arrive(setup, run.ratio) * run.left);
        let mut bits = 0;
        if !run.partly {
            let mut open = 0;
            let start = (run.first % PER_BLOCK) as usize;
            for (i, byte) in (0..run.count).zip(&self.bytes[start..]) {
                bits |= u32::from(u32::from(*byte) < throughout.whole) << i;
                open |= u32::from(u32::from(*byte) == throughout.whole) << i;
            }
            while open != 0 {
                let i = open.trailing_zeros();
                bits |= u32::from(finer(luck, run.first + i) < throughout.rest) << i;
                open &= open - 1;
            }
            return bits;
        }
        for packet in run.first..run.first + run.count {
            let more = self.interference(setup, setup.channel(packet));
            let arrives = if more > 0.0 {
                let odds = Odds::of(self.arrive(setup, run.ratio + more) * run.left);
                self.arrives(luck, packet, &odds)
            } else {
                self.arrives(luck, packet, &throughout)
            };
            bits |= u32::from(arrives) << (packet - run.first);
        }
        bits
    }

    /// Share of packets that arrives over hops that fade each on its own, under an interference-to-noise ratio.
    #[inline]
    fn arrive(&mut self, setup: &LinkSetup, ratio: f64) -> f64 {
        if ratio <= 0.0 {
            return self.held.arrive;
        }
        if ratio != self.held.disturbed[0] {
            let lost = setup.up.faded_rate(self.held.snr_db - quick_db(1.0 + ratio), self.held.mean.k_db);
            self.held.disturbed = [ratio, setup.kept * (1.0 - lost)];
        }
        self.held.disturbed[1]
    }

    /// Whether a packet arrives: by its byte, and by more bits when the byte leaves it open.
    #[inline(always)]
    fn arrives(&self, luck: &LinkLuck, packet: u32, odds: &Odds) -> bool {
        let byte = u32::from(self.bytes[(packet % PER_BLOCK) as usize]);
        byte < odds.whole || (byte == odds.whole && finer(luck, packet) < odds.rest)
    }
}

/// A chance of arrival, in 256ths: whole ones and what is left.
#[derive(Clone, Copy)]
struct Odds {
    whole: u32,
    rest: f64,
}

impl Odds {
    #[inline(always)]
    fn of(share: f64) -> Odds {
        let parts = share * 256.0;
        let whole = parts as u32;
        Odds { whole, rest: parts - f64::from(whole) }
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
