//! The receiver: what it makes of packets that come or stay away.

use super::maths::nearest;

/// Settings of a receiver.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReceiverSettings {
    /// Time between packets.
    pub interval_s: f64,
    /// Packets in the window of the link quality.
    pub window: u32,
    /// Silence before the link is called lost.
    pub patience_s: f64,
    /// Good link before control goes back.
    pub handback_s: f64,
    /// Link quality, per cent, that counts as good.
    pub handback_quality_pct: f64,
    /// Resolution of the signal strength; 0: exact.
    pub rssi_step_db: f64,
}

/// What the receiver declares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Declared {
    /// The link is lost, since this moment.
    Lost {
        /// Last valid packet plus patience.
        at_s: f64,
    },
    /// Control goes back to the pilot.
    Restored {
        /// Time of the packet that completed the good spell.
        at_s: f64,
    },
}

/// Packets that [`ReceiverState::run`] takes at once: as many as a word of 32 bits holds.
pub const RUN_MOST: u32 = 32;

/// State of a receiver, followed to the packet.
#[derive(Debug, Clone, PartialEq)]
pub struct ReceiverState {
    ring: Ring,
    /// Packets of the window that arrived.
    arrived: u32,
    /// Time of the last valid packet.
    last_valid_s: f64,
    lost: bool,
    /// Since when the quality has been good while lost; infinite while it is not.
    good_since_s: f64,
    rssi_dbm: f64,
}

/// Packets taken, one bit each, 1 = arrived: a ring of whole words, longer than the window by a run at least.
#[derive(Debug, Clone, PartialEq)]
struct Ring {
    words: Vec<u64>,
    /// Packets taken so far; the newest stands before this place.
    taken: u32,
}

impl Ring {
    fn full(window: u32) -> Ring {
        Ring { words: vec![u64::MAX; (window + RUN_MOST).div_ceil(64).next_power_of_two() as usize], taken: window }
    }

    /// Bits from a place on.
    #[inline]
    fn read(&self, from: u32) -> u64 {
        let last = self.words.len() - 1;
        let (word, shift) = ((from >> 6) as usize, from & 63);
        self.words[word & last] >> shift | self.words[(word + 1) & last] << 1 << (63 - shift)
    }

    /// Puts the low `count` bits of `bits` at the end; the others of `bits` are 0.
    #[inline]
    fn push(&mut self, bits: u64, count: u32) {
        let last = self.words.len() - 1;
        let (word, shift) = ((self.taken >> 6) as usize, self.taken & 63);
        let mask = (1u64 << count) - 1;
        let low = &mut self.words[word & last];
        *low = *low & !(mask << shift) | bits << shift;
        if shift + count > 64 {
            let high = &mut self.words[(word + 1) & last];
            *high = *high & !(mask >> (64 - shift)) | bits >> (64 - shift);
        }
        self.taken = self.taken.wrapping_add(count);
    }
}

impl ReceiverState {
    /// A receiver with a good link at `time_s`: a full window behind it.
    pub fn new(settings: &ReceiverSettings, time_s: f64) -> ReceiverState {
        let window = settings.window.max(1);
        ReceiverState {
            ring: Ring::full(window),
            arrived: window,
            last_valid_s: time_s,
            lost: false,
            good_since_s: f64::INFINITY,
            rssi_dbm: f64::NAN,
        }
    }

    /// Takes note of the power of the last packet that arrived.
    #[inline]
    pub fn signal(&mut self, power_dbm: f64) {
        self.rssi_dbm = power_dbm;
    }

    /// Takes note of `count` packets (1 to [`RUN_MOST`]), bit i of `bits` telling whether the i-th arrived; `due_s` gives
    /// their times. Times never run backwards.
    #[inline]
    pub fn run(
        &mut self,
        settings: &ReceiverSettings,
        due_s: impl Fn(u32) -> f64,
        bits: u32,
        count: u32,
    ) -> Option<Declared> {
        if self.lost && bits == 0 {
            // Nothing is declared. The quality does not rise: what the last packet finds is the worst of all.
            self.count(settings, bits, count);
            self.good_since_s = if self.quality_pct(settings) < settings.handback_quality_pct {
                f64::INFINITY
            } else {
                self.good_since_s.min(due_s(0))
            };
            return None;
        }
        if self.lost || due_s(count - 1) - self.last_valid_s >= settings.patience_s {
            // Something may be declared in between.
            let mut event = None;
            for i in 0..count {
                event = self.packet(settings, due_s(i), bits >> i & 1 == 1).or(event);
            }
            return event;
        }
        self.count(settings, bits, count);
        if bits != 0 {
            self.last_valid_s = due_s(bits.ilog2());
        }
        None
    }

    /// Moves the window on.
    #[inline]
    fn count(&mut self, settings: &ReceiverSettings, bits: u32, count: u32) {
        let leaving = self.ring.taken.wrapping_sub(settings.window.max(1));
        self.ring.push(u64::from(bits), count);
        let left = (self.ring.read(leaving) & ((1 << count) - 1)) as u32;
        if bits != left {
            self.arrived = self.arrived + bits.count_ones() - left.count_ones();
        }
    }

    /// Takes note of one packet due at `time_s`, arrived or not. Times never run backwards.
    pub fn packet(&mut self, settings: &ReceiverSettings, time_s: f64, arrived: bool) -> Option<Declared> {
        let silent = self.silence(settings, time_s);
        self.count(settings, u32::from(arrived), 1);
        if arrived {
            self.last_valid_s = time_s;
        }
        if silent.is_some() {
            return silent;
        }
        if self.lost {
            if self.quality_pct(settings) < settings.handback_quality_pct {
                self.good_since_s = f64::INFINITY;
            } else {
                self.good_since_s = self.good_since_s.min(time_s);
                if arrived && time_s - self.good_since_s >= settings.handback_s {
                    self.lost = false;
                    self.good_since_s = f64::INFINITY;
                    return Some(Declared::Restored { at_s: time_s });
                }
            }
        }
        None
    }

    /// Takes note that it is now `time_s`: declares the loss as soon as the silence reaches the patience.
    #[inline]
    pub fn silence(&mut self, settings: &ReceiverSettings, time_s: f64) -> Option<Declared> {
        if !self.lost && time_s - self.last_valid_s >= settings.patience_s {
            self.lost = true;
            self.good_since_s = f64::INFINITY;
            return Some(Declared::Lost { at_s: self.last_valid_s + settings.patience_s });
        }
        None
    }

    /// Whether the link counts as up (not declared lost).
    pub fn up(&self) -> bool {
        !self.lost
    }

    /// Share of the window's packets that arrived, per cent.
    #[inline]
    pub fn quality_pct(&self, settings: &ReceiverSettings) -> f64 {
        100.0 * f64::from(self.arrived) / f64::from(settings.window.max(1))
    }

    /// Signal strength of the last valid packet, rounded to the receiver's resolution; NaN before the first.
    #[inline]
    pub fn rssi_dbm(&self, settings: &ReceiverSettings) -> f64 {
        if settings.rssi_step_db > 0.0 {
            nearest(self.rssi_dbm / settings.rssi_step_db).0 * settings.rssi_step_db
        } else {
            self.rssi_dbm
        }
    }

    /// Time of the last valid packet.
    pub fn last_valid_s(&self) -> f64 {
        self.last_valid_s
    }

    /// Starts again without memory, as after a restart: an empty window. What was declared stands, and so does the clock of
    /// the silence: the craft hears nothing meanwhile.
    pub fn forget(&mut self) {
        self.ring.words.fill(0);
        self.arrived = 0;
        self.good_since_s = f64::INFINITY;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> ReceiverSettings {
        ReceiverSettings {
            interval_s: 0.02,
            window: 100,
            patience_s: 1.0,
            handback_s: 0.5,
            handback_quality_pct: 70.0,
            rssi_step_db: 2.0,
        }
    }

    #[test]
    fn silence_is_followed_to_the_packet_and_handback_waits() {
        let set = settings();
        let mut state = ReceiverState::new(&set, 0.0);
        assert_eq!(state.packet(&set, 0.5, true), None);
        state.signal(-81.2);
        assert_eq!(state.rssi_dbm(&set), -82.0);
        let mut declared = None;
        for k in 26..=100 {
            declared = declared.or(state.packet(&set, f64::from(k) * 0.02, false));
        }
        assert_eq!(declared, Some(Declared::Lost { at_s: 1.5 }));
        assert!(!state.up());
        assert_eq!(state.quality_pct(&set), 25.0);
        // Each good packet pushes a lost one out only after the full ring: 70 % needs 45 more arrivals than the 25 lost
        // while the old good ones leave.
        let mut restored = None;
        let mut good_from = None;
        for k in 101..400 {
            let time_s = f64::from(k) * 0.02;
            let event = state.packet(&set, time_s, true);
            if good_from.is_none() && state.quality_pct(&set) >= 70.0 {
                good_from = Some(time_s);
            }
            if event.is_some() {
                restored = event;
                break;
            }
        }
        let Some(Declared::Restored { at_s }) = restored else { panic!("never restored") };
        let waited = at_s - good_from.expect("quality came back");
        assert!((0.5 - 1e-9..0.5 + set.interval_s).contains(&waited), "{waited}");
        assert!(state.up());
    }

    /// Runs of any length, over windows shorter and longer than they and than a word: what packet by packet gives.
    #[test]
    fn runs_are_their_packets() {
        let random = crate::chance::Source::new(5, crate::chance::Purpose::Trial);
        for window in [1, 3, 20, 50, 64, 100, 333] {
            let set = ReceiverSettings { window, patience_s: 0.5, handback_s: 0.4, ..settings() };
            let (mut one, mut other) = (ReceiverState::new(&set, 0.0), ReceiverState::new(&set, 0.0));
            one.signal(-80.0);
            other.signal(-80.0);
            let (mut events, mut k) = (0, 1u32);
            for round in 0..3000 {
                let [a, b, c, d] = random.words(window, round, 0);
                let count = 1 + a % RUN_MOST;
                // Good spells and silent ones.
                let bits = match round / 20 % 3 {
                    0 => b | c | d,
                    1 => b & c,
                    _ => 0,
                } & ((1u64 << count) - 1) as u32;
                let due_s = |i: u32| f64::from(k + i) * set.interval_s;
                let event = one.run(&set, due_s, bits, count);
                let mut by_one = None;
                for i in 0..count {
                    by_one = other.packet(&set, due_s(i), bits >> i & 1 == 1).or(by_one);
                }
                assert_eq!(event, by_one, "window {window}, round {round}");
                assert_eq!(one, other, "window {window}, round {round}");
                events += u32::from(event.is_some());
                k += count;
            }
            assert!(events > 20, "{events}");
        }
    }

    #[test]
    fn a_dip_starts_the_handback_anew() {
        let set = ReceiverSettings { window: 4, ..settings() };
        let mut state = ReceiverState::new(&set, 0.0);
        assert!(state.silence(&set, 0.99).is_none());
        assert!(matches!(state.silence(&set, 5.0), Some(Declared::Lost { at_s: 1.0 })));
        assert!(state.silence(&set, 6.0).is_none(), "declared once");
        let mut time_s = 6.0;
        for _ in 0..20 {
            time_s += 0.02;
            assert!(state.packet(&set, time_s, true).is_none());
        }
        for arrived in [false, false] {
            time_s += 0.02;
            assert!(state.packet(&set, time_s, arrived).is_none());
        }
        let dip_s = time_s;
        let at_s = loop {
            time_s += 0.02;
            if let Some(Declared::Restored { at_s }) = state.packet(&set, time_s, true) {
                break at_s;
            }
        };
        assert!(at_s - dip_s > 0.5, "{}", at_s - dip_s);
    }
}
