//! The uplink: what a look at the geometry leaves of it, and its packets, in runs during which nobody else's transmitter goes
//! on or off.

use super::luck::LinkLuck;
use super::off::Off;
use super::others::Others;
use crate::chance::Purpose;
use crate::radio::fading::{Amplitudes, DiffuseWay};
use crate::radio::maths::{quick_db, quick_ratio};
use crate::radio::receiver::{Declared, RUN_MOST, ReceiverState};
use crate::world::radio::{LinkSetup, LossBudget, MeanLink};
use wide::u8x16;

/// Block of the uplink stream that decides when a packet's byte does not.
const FINER_BLOCK: u32 = 0x1000_0000;
/// Packets of a run at most: as many as have their bytes compared at once.
const PACKETS_AT_ONCE: u32 = 16;
const _: () = assert!(PACKETS_AT_ONCE <= RUN_MOST);

/// The step whose packets are due.
pub(super) struct Span {
    pub(super) time_s: f64,
    pub(super) end_s: f64,
    pub(super) speed_mps: f64,
    /// When the pilot's set is silent.
    pub(super) off: Off,
    /// When the craft's receiver is down.
    pub(super) down: Off,
}

/// The link between two looks at the geometry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Held {
    pub(super) mean: MeanLink,
    /// Margin a metre from the pilot's antenna, of which the losses are taken.
    pub(super) margin_at_one_metre_db: f64,
    /// Mean power at the craft, and over its noise.
    power_dbm: f64,
    pub(super) snr_db: f64,
    /// The same as a ratio, and the amplitudes of line of sight and scattered field, for hops that fade together.
    snr: f64,
    amplitudes: Amplitudes,
    /// Share of packets that neighbours and fading let through, for hops that fade each on its own.
    arrive: f64,
    /// Interference to noise that a packet met last, as a ratio, and the share of packets that arrives under it.
    disturbed: [f64; 2],
}

/// The uplink of one flight.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Uplink {
    pub(super) receiver: ReceiverState,
    pub(super) held: Held,
    /// Number of the next packet; packet k is due at k × interval.
    packet: u32,
    travelled_m: f64,
    /// Momentary power of the last packet over its mean, as a ratio, and the mean of its decibels over the last step.
    pub(super) level: f64,
    fading_db: f64,
    /// Rise of the noise floor, mean over the hop set and the packets of the last step that had any.
    pub(super) interference_db: f64,
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

impl Uplink {
    /// At take-off: with a full window.
    pub(super) fn at_start(setup: &LinkSetup) -> Uplink {
        Uplink {
            receiver: ReceiverState::new(&setup.receiver, 0.0),
            held: Held {
                mean: MeanLink::unknown(),
                margin_at_one_metre_db: 0.0,
                power_dbm: 0.0,
                snr_db: 0.0,
                snr: 0.0,
                amplitudes: Amplitudes { line: 0.0, scattered: 1.0 },
                arrive: 0.0,
                disturbed: [0.0; 2],
            },
            packet: 0,
            travelled_m: 0.0,
            level: 1.0,
            fading_db: 0.0,
            interference_db: 0.0,
        }
    }

    /// What follows from the mean link and the power of the pilot's set.
    pub(super) fn weigh(&mut self, setup: &LinkSetup, luck: &LinkLuck, power_dbm: f64) {
        let held = &mut self.held;
        held.margin_at_one_metre_db = setup.margin_at_one_metre_db(power_dbm, luck.values.noise_rise_db);
        held.power_dbm = power_dbm + setup.up.pair.best_db() - setup.up.one_metre_db - held.mean.loss_db;
        held.snr_db = held.power_dbm - setup.up.noise_dbm - luck.values.noise_rise_db;
        if luck.reads.is_empty() {
            held.disturbed = [0.0; 2];
            held.arrive = setup.kept * (1.0 - setup.up.packets.faded.at(held.snr_db, held.mean.k_db));
            self.fading_db = setup.fading_cost_db(held.mean.k_db);
        } else {
            held.snr = quick_ratio(held.snr_db);
            held.amplitudes = Amplitudes::of_powers(held.mean.powers);
        }
    }

    /// Where the margin went, in the last step.
    pub(super) fn budget(&self) -> LossBudget {
        LossBudget { fading_db: self.fading_db, interference_db: self.interference_db, ..self.held.mean.budget }
    }

    /// The packets of a step, and the way travelled in it.
    #[inline(always)]
    pub(super) fn step(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        others: &mut Others,
        span: &Span,
    ) -> Option<Declared> {
        let mut event = self.packets(setup, luck, others, span);
        if let Some(declared) = self.receiver.silence(&setup.receiver, span.end_s) {
            event = Some(declared);
        }
        self.travelled_m += span.speed_mps * (span.end_s - span.time_s);
        event
    }

    #[inline(always)]
    fn packets(&mut self, setup: &LinkSetup, luck: &LinkLuck, others: &mut Others, span: &Span) -> Option<Declared> {
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
            let run = self.next_run(setup, luck, others, span, end);
            if run.partly || run.ratio > 0.0 {
                rise_db += f64::from(run.count) * others.rise_now_db(setup);
            }
            if run.first + run.count - untold > RUN_MOST {
                event = self.tell(setup, untold, bits).or(event);
                (untold, bits) = (run.first, 0);
            }
            let arrived = if together {
                self.arrivals_together(setup, luck, others, span, &run, &mut faded)
            } else {
                self.arrivals_apart(setup, luck, others, &run)
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

    /// Brings the others to the next packet, and counts the packets for which they stay.
    #[inline(always)]
    fn next_run(&mut self, setup: &LinkSetup, luck: &LinkLuck, others: &mut Others, span: &Span, end: u32) -> Run {
        let first = self.packet;
        let due_s = setup.due_s(first);
        let mut on_air = others.advance(setup, luck, due_s);
        for end in [&span.off, &span.down] {
            on_air.until_s = on_air.until_s.min(end.changes_s(due_s));
            if end.at(due_s) {
                on_air.left = 0.0;
            }
        }
        let mut end = end.min(first + PACKETS_AT_ONCE);
        if on_air.until_s <= setup.due_s(end - 1) {
            end = setup.first_packet_at(on_air.until_s).max(first + 1);
        }
        Run { first, count: end - first, left: on_air.left, ratio: on_air.ratio, partly: on_air.partly }
    }

    /// Which packets of a run arrive over hops that fade together or in bands: each meets the level of its band at its
    /// place.
    #[inline]
    fn arrivals_together(
        &mut self,
        setup: &LinkSetup,
        luck: &LinkLuck,
        others: &Others,
        span: &Span,
        run: &Run,
        faded: &mut Faded,
    ) -> u32 {
        let (rays, dice) = (self.held.amplitudes, Dice::of(luck, run));
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
        let sure = if run.partly { f64::INFINITY } else { setup.up.packets.curve.sure() / snr };
        let (mut bits, mut factor, mut level) = (0, faded.factor, 1.0);
        for i in 0..run.count {
            let packet = run.first + i;
            let read = match &luck.reads[..] {
                [only] => only,
                reads => &reads[setup.hops.band(setup.hops.channel(packet))],
            };
            level = rays.level(setup.fading.on_way(read, &way));
            way.go_on();
            factor *= level;
            let arrives = if level >= sure {
                dice.passes(i, &clear)
            } else {
                let mut snr = snr * level;
                if run.partly {
                    snr *= noise / (noise + others.interference(setup, setup.hops.channel(packet)));
                }
                dice.passes(i, &Odds::of(share * (1.0 - setup.up.packets.curve.at_ratio(snr))))
            };
            if arrives {
                bits |= 1 << i;
                faded.heard = level;
            }
        }
        self.level = level;
        faded.factor = factor;
        // Levels lie above −120 dB: a run of sixteen more stays within the range of a double.
        if !(1e-100..1e100).contains(&faded.factor) {
            faded.level_db += quick_db(faded.factor);
            faded.factor = 1.0;
        }
        bits
    }

    /// Which packets of a run arrive over hops that fade each on its own: all meet the averaged error rate.
    #[inline]
    fn arrivals_apart(&mut self, setup: &LinkSetup, luck: &LinkLuck, others: &Others, run: &Run) -> u32 {
        let throughout = Odds::of(self.arrive(setup, run.ratio) * run.left);
        if !run.partly {
            if throughout.is_certain() {
                return (1 << run.count) - 1;
            }
            if throughout.is_never() {
                return 0;
            }
            return Dice::of(luck, run).that_pass(&throughout, run.count);
        }
        let dice = Dice::of(luck, run);
        let mut bits = 0;
        for i in 0..run.count {
            let more = others.interference(setup, setup.hops.channel(run.first + i));
            let arrives = if more > 0.0 {
                dice.passes(i, &Odds::of(self.arrive(setup, run.ratio + more) * run.left))
            } else {
                dice.passes(i, &throughout)
            };
            bits |= u32::from(arrives) << i;
        }
        bits
    }

    /// Share of packets that arrives over hops that fade each on its own, under an interference-to-noise ratio.
    #[inline(always)]
    fn arrive(&mut self, setup: &LinkSetup, ratio: f64) -> f64 {
        if ratio <= 0.0 {
            return self.held.arrive;
        }
        if ratio != self.held.disturbed[0] {
            let lost = setup.up.packets.faded.at(self.held.snr_db - quick_db(1.0 + ratio), self.held.mean.k_db);
            self.held.disturbed = [ratio, setup.kept * (1.0 - lost)];
        }
        self.held.disturbed[1]
    }
}

/// What decides by chance whether the packets of a run arrive: a random byte each, and more bits when the byte leaves it open.
struct Dice<'a> {
    luck: &'a LinkLuck,
    first: u32,
    bytes: [u8; PACKETS_AT_ONCE as usize],
}

impl<'a> Dice<'a> {
    #[inline(always)]
    fn of(luck: &'a LinkLuck, run: &Run) -> Dice<'a> {
        Dice { luck, first: run.first, bytes: luck.uplink_bytes(run.first) }
    }

    /// Whether the i-th packet arrives.
    #[inline(always)]
    fn passes(&self, i: u32, odds: &Odds) -> bool {
        let byte = u32::from(self.bytes[i as usize]);
        byte < odds.whole || (byte == odds.whole && self.finer(i) < odds.rest)
    }

    /// Which of the first packets arrive under odds that are not certain, a bit each.
    #[inline(always)]
    fn that_pass(&self, odds: &Odds, count: u32) -> u32 {
        debug_assert!(!odds.is_certain());
        let (bytes, whole) = (u8x16::new(self.bytes), u8x16::splat(odds.whole as u8));
        let among = (1 << count) - 1;
        let mut passing = bytes.simd_lt(whole).to_bitmask() & among;
        let mut open = bytes.simd_eq(whole).to_bitmask() & among;
        while open != 0 {
            let i = open.trailing_zeros();
            passing |= u32::from(self.finer(i) < odds.rest) << i;
            open &= open - 1;
        }
        passing
    }

    #[cold]
    fn finer(&self, i: u32) -> f64 {
        let draws = &self.luck.draws;
        draws.streams.of(Purpose::Uplink).units(draws.flight, self.first + i, FINER_BLOCK)[0]
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

    /// Every packet arrives.
    #[inline(always)]
    fn is_certain(&self) -> bool {
        self.whole >= 256
    }

    /// None does.
    #[inline(always)]
    fn is_never(&self) -> bool {
        self.whole == 0 && self.rest <= 0.0
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Packets looked at all at once arrive as each does by itself.
    #[test]
    fn sixteen_at_once_pass_as_one_by_one() {
        let scenario = concat!(env!("LOSTLINK_ROOT"), "scenarios/club-field.toml");
        let scenario = crate::scenario::Scenario::from_file(scenario).unwrap();
        let setup = crate::world::World::new(scenario).unwrap().link;
        let draws = crate::flight::FlightDraws { streams: crate::flight::Streams::new(5), flight: 3 };
        let luck = LinkLuck::new(&setup, draws, crate::world::radio::LinkDraws::default());
        for whole in 0..256 {
            let odds = Odds { whole, rest: 0.4 };
            for (first, count) in (0..).step_by(11).zip(1..=PACKETS_AT_ONCE) {
                let dice = Dice { luck: &luck, first, bytes: luck.uplink_bytes(first) };
                let apart = (0..count).fold(0, |bits, i| bits | u32::from(dice.passes(i, &odds)) << i);
                assert_eq!(dice.that_pass(&odds, count), apart, "{whole} of 256, {count} from {first} on");
            }
        }
    }
}
