//! Other users of the band: co-channel sources with power and duty, and neighbours that hop as we do.

use super::maths::{DB_PER_NEPER, quick_db, quick_ratio};
use crate::chance::{Source, standard_normal_cdf};

/// Chance that a packet meets at least one packet of `neighbours` on its channel.
///
/// Each neighbour hops over the same `channels` at the same rate with packets as long as ours, unsynchronised: it is on our
/// channel with chance 1/channels and overlaps in time with chance 2·airtime·rate (at most 1).
///
/// # Source
/// Unslotted random access (Abramson 1970, from memory) spread over the channels.
pub fn collision_probability(neighbours: u32, channels: u32, time_on_air_s: f64, packet_rate_hz: f64) -> f64 {
    let each = (2.0 * time_on_air_s * packet_rate_hz).min(1.0) / f64::from(channels.max(1));
    -libm::expm1(f64::from(neighbours) * libm::log1p(-each.min(1.0 - 1e-15)))
}

/// Chance that a collision costs the packet: the neighbour's power at the craft is log-normal about ours with `spread_db`,
/// and the packet fails when it stands out by less than `needed_db`.
pub fn loss_given_collision(needed_db: f64, spread_db: f64) -> f64 {
    standard_normal_cdf(needed_db / spread_db)
}

/// Share of a source's power that falls into a receiver's band: its power lies evenly over its own band, and the receiver's
/// filter is taken as sharp. Widths above 0.
///
/// # Source
/// Common width over the source's: the definition of power density; shapes of spectra and filters are left out (estimate).
pub fn spectral_overlap(source_hz: f64, source_width_hz: f64, receiver_hz: f64, receiver_width_hz: f64) -> f64 {
    let apart_hz = (source_hz - receiver_hz).abs();
    let common_hz = 0.5 * (source_width_hz + receiver_width_hz) - apart_hz;
    common_hz.min(source_width_hz).min(receiver_width_hz).max(0.0) / source_width_hz
}

/// A source that is on and off by turns, each spell exponential.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnOff {
    /// Whether it is on.
    pub on: bool,
    /// When it changes next.
    change_s: f64,
    /// Draws so far.
    changes: u32,
}

/// Exponential spells of an [`OnOff`]; a mean of 0 for the off spell means always on, and the other way round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spells {
    /// Mean time off and on.
    mean_s: [f64; 2],
    /// Share of the time on.
    share: f64,
    /// Rate at which the state is forgotten.
    forgets_per_s: f64,
}

impl Spells {
    /// Spells of these means, not both 0.
    pub fn new(on_s: f64, off_s: f64) -> Spells {
        Spells { mean_s: [off_s, on_s], share: on_s / (on_s + off_s), forgets_per_s: 1.0 / on_s + 1.0 / off_s }
    }

    /// Spells of a source on for a share `duty` of the time in bursts of mean length `burst_s`.
    pub fn of_duty(duty: f64, burst_s: f64) -> Spells {
        if duty <= 0.0 {
            Spells::new(0.0, 1.0)
        } else if duty >= 1.0 {
            Spells::new(1.0, 0.0)
        } else {
            let on_s = burst_s.max(1e-4);
            Spells::new(on_s, on_s * (1.0 - duty) / duty)
        }
    }

    /// Mean time on and off.
    pub fn means_s(&self) -> [f64; 2] {
        [self.mean_s[1], self.mean_s[0]]
    }

    /// Share of the time on.
    pub fn share(&self) -> f64 {
        self.share
    }

    /// Length of a spell from a number in [0, 1).
    fn spell_s(&self, on: bool, unit: f64) -> f64 {
        if self.mean_s[usize::from(!on)] <= 0.0 {
            f64::INFINITY
        } else {
            -self.mean_s[usize::from(on)] * (quick_db(1.0 - unit) * (1.0 / DB_PER_NEPER))
        }
    }
}

impl OnOff {
    /// The state at time 0, stationary. `lane` tells sources of one flight apart.
    pub fn start(spells: &Spells, source: &Source, flight: u32, lane: u32) -> OnOff {
        let [pick, spell] = source.units(flight, 0, 0x4000_0000 + lane);
        let on = pick < spells.share;
        OnOff { on, change_s: spells.spell_s(on, spell), changes: 0 }
    }

    /// Moves on to `time_s`, which never runs backwards.
    ///
    /// Exact at the moments asked for, at the cost of one block of random words however many changes lie between: the
    /// state after the first change is found from the two-state chain's memory, and what is left of its spell is drawn
    /// afresh, since exponential spells do not age. Ask at moments that do not depend on what is compared (packet times).
    #[inline]
    pub fn advance(&mut self, spells: &Spells, source: &Source, flight: u32, lane: u32, time_s: f64) {
        if time_s >= self.change_s {
            self.change(spells, source, flight, lane, time_s);
        }
    }

    /// When it changes next, as far as is known.
    #[inline]
    pub fn until_s(&self) -> f64 {
        self.change_s
    }

    #[inline(never)]
    fn change(&mut self, spells: &Spells, source: &Source, flight: u32, lane: u32, time_s: f64) {
        let forgotten = (self.change_s - time_s) * spells.forgets_per_s;
        let memory = quick_ratio((DB_PER_NEPER * forgotten).max(-1000.0));
        self.changes += 1;
        let [pick, spell] = source.units(flight, self.changes, 0x4000_0000 + lane);
        let changed = if self.on { 0.0 } else { 1.0 };
        self.on = pick < spells.share + (changed - spells.share) * memory;
        self.change_s = time_s + spells.spell_s(self.on, spell);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Purpose;

    #[test]
    fn what_two_bands_have_in_common() {
        // 500 kHz of 20 MHz; a narrow source within; half across an edge; beside.
        assert!((spectral_overlap(2.44e9, 20e6, 2.44e9, 500e3) - 0.025).abs() < 1e-12);
        assert_eq!(spectral_overlap(2.44e9, 1e5, 2.4402e9, 500e3), 1.0);
        assert!((spectral_overlap(2.44e9, 1e5, 2.44025e9, 500e3) - 0.5).abs() < 1e-9);
        assert_eq!(spectral_overlap(2.44e9, 1e6, 2.45e9, 1e6), 0.0);
    }

    #[test]
    fn no_neighbours_no_collisions() {
        assert_eq!(collision_probability(0, 40, 0.003, 100.0), 0.0);
        assert!((collision_probability(1, 40, 0.003, 100.0) - 0.6 / 40.0).abs() < 1e-12);
        assert!(collision_probability(9, 1, 0.02, 100.0) > 0.999_999);
        assert_eq!(loss_given_collision(0.0, 8.0), 0.5);
    }

    /// Share of time on, and memory exp(−t(1/on + 1/off)) of a two-state process, each within five standard errors.
    #[test]
    fn duty_and_memory_are_those_asked_for() {
        let source = Source::new(3, Purpose::Trial);
        let spells = Spells::of_duty(0.3, 0.4);
        let (mut on, mut both, mut count) = (0.0, 0.0, 0.0);
        for flight in 0..400 {
            let mut state = OnOff::start(&spells, &source, flight, 0);
            let mut last = false;
            for step in 0..200 {
                let time_s = f64::from(step) * 0.2;
                state.advance(&spells, &source, flight, 0, time_s);
                if step > 0 {
                    on += f64::from(state.on);
                    both += f64::from(state.on && last);
                    count += 1.0;
                }
                last = state.on;
            }
        }
        let share: f64 = on / count;
        assert!((share - 0.3).abs() < 0.01, "{share}");
        let memory = libm::exp(-0.2 * (1.0 / 0.4 + 0.3 / (0.4 * 0.7)));
        let want = 0.09 + 0.21 * memory;
        assert!((both / count - want).abs() < 0.01, "{} {want}", both / count);
    }

    #[test]
    fn constant_sources_stay() {
        let source = Source::new(3, Purpose::Trial);
        for (duty, on) in [(0.0, false), (1.0, true)] {
            let spells = Spells::of_duty(duty, 0.1);
            let mut state = OnOff::start(&spells, &source, 1, 0);
            state.advance(&spells, &source, 1, 0, 1e6);
            assert_eq!(state.on, on);
        }
    }
}
