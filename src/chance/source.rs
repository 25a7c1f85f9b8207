//! Streams by purpose, flight and step.

use super::normal::standard_normal_quick;
use super::philox::{ROUNDS, philox4x32, philox4x32_from, unit_from_word};

/// What a random number is for. Each purpose is a stream of its own, so that drawing more for one
/// never shifts another. The numbers are part of the result: changing one changes every simulation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u32)]
pub enum Purpose {
    /// Values of the scenario's uncertain inputs, one block per input.
    Inputs = 1,
    /// Turbulence and gusts.
    Wind = 2,
    /// Shadowing of the radio path, as a field over the site.
    Shadowing = 3,
    /// Fading, packets, bursts and restarts of the control uplink.
    Uplink = 4,
    /// Packets of telemetry, and when the first is sent.
    Telemetry = 5,
    /// Fading of the video downlink.
    Video = 6,
    /// Interference: bursts and duty cycles.
    Interference = 7,
    /// Error of the fix and its jumps.
    Fix = 8,
    /// Losses of the fix that geometry does not explain.
    FixOutage = 9,
    /// Wander of the heading and of the barometer.
    Heading = 10,
    /// What the pilot does by chance: whether he takes over, where he sets it down.
    Pilot = 11,
    /// Moment of a loss that the scenario forces.
    Cut = 12,
    /// Tolerances of the craft that are not inputs: attitude bias, drag while falling.
    Craft = 13,
    /// Touch-down: slope and roughness met.
    Ground = 14,
    /// Resampling in statistics.
    Resample = 15,
    /// Tests and benches.
    Trial = 16,
    /// Who is on the ground.
    Presence = 17,
}

impl Purpose {
    /// How many there are.
    pub const COUNT: usize = 17;

    /// All of them, in the order of their numbers.
    pub const ALL: [Purpose; Purpose::COUNT] = {
        use Purpose::*;
        [
            Inputs,
            Wind,
            Shadowing,
            Uplink,
            Telemetry,
            Video,
            Interference,
            Fix,
            FixOutage,
            Heading,
            Pilot,
            Cut,
            Craft,
            Ground,
            Resample,
            Trial,
            Presence,
        ]
    };
}

/// A stream: the key (seed, purpose). Copy it freely; it holds no position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Source {
    key: [u32; 2],
}

impl Source {
    /// The stream of a purpose under a master seed.
    pub fn new(seed: u64, purpose: Purpose) -> Self {
        // One block spreads (seed, purpose) over the 64 key bits, so that neighbouring seeds share nothing.
        let mixed =
            philox4x32([seed as u32, (seed >> 32) as u32, purpose as u32, 0], [0x6C6F_7374, 0x6C69_6E6B], ROUNDS);
        Source { key: [mixed[0], mixed[1]] }
    }

    /// Four words for a flight, a step and a block within the step.
    #[inline]
    pub fn words(&self, flight: u32, step: u32, block: u32) -> [u32; 4] {
        philox4x32([step, block, flight, 0], self.key, ROUNDS)
    }

    /// The words of `N` steps from one on, worked out beside each other.
    #[inline]
    pub(crate) fn words_from<const N: usize>(&self, flight: u32, first_step: u32, block: u32) -> [[u32; 4]; N] {
        philox4x32_from([first_step, block, flight, 0], self.key)
    }

    /// Two doubles in [0, 1), 53 bits each.
    #[inline]
    pub fn units(&self, flight: u32, step: u32, block: u32) -> [f64; 2] {
        let w = self.words(flight, step, block);
        [
            unit_from_word(u64::from(w[1]) << 32 | u64::from(w[0])),
            unit_from_word(u64::from(w[3]) << 32 | u64::from(w[2])),
        ]
    }

    /// Four standard normal numbers by inversion, one 32-bit word each (|x| ≤ 6.34).
    #[inline]
    pub fn normals(&self, flight: u32, step: u32, block: u32) -> [f64; 4] {
        standard_normal_quick(self.words(flight, step, block).map(open_unit))
    }

    /// A generator at the key (flight, step), from its first block on. See [`Sequence`].
    pub fn sequence(&self, flight: u32, step: u32) -> Sequence {
        self.at(flight, step, 0)
    }

    /// A generator at the key (flight, step, block): its first two 64-bit words are those that [`Source::units`] turns into
    /// doubles. It runs on into the blocks that follow: where a neighbouring block is taken by something else, draw no more
    /// than two doubles.
    #[inline]
    pub fn at(&self, flight: u32, step: u32, block: u32) -> Sequence {
        Sequence { source: *self, flight, step, block, ready: [0; 4], used: 4 }
    }
}

/// The middle of a word's share of (0, 1).
#[inline]
pub(crate) fn open_unit(word: u32) -> f64 {
    (f64::from(word) + 0.5) * (1.0 / 4_294_967_296.0)
}

/// A [`rand`] generator over the words of a [`Source`] at one key, so that every distribution written for [`rand`] can draw
/// from the streams.
///
/// However many words a distribution takes (rejection methods take a varying number), the next key starts where it always
/// does: what is drawn at one key shifts nothing drawn at another.
///
/// ```
/// use lostlink::chance::{Purpose, Source, Uncertain};
/// use rand::{Rng, RngExt};
/// use rand_distr::{Distribution, Exp1, Gamma, StandardNormal};
///
/// let stream = Source::new(2026, Purpose::Trial);
/// let mut chance = stream.sequence(17, 0); // flight 17, count 0
/// let gust: f64 = chance.sample(StandardNormal);
/// let wait_s: f64 = 30.0 * chance.sample::<f64, _>(Exp1);
/// let wear = Gamma::new(2.0, 0.5)?.sample(&mut chance);
/// assert!(gust.is_finite() && wait_s > 0.0 && wear > 0.0);
///
/// // The same key gives the same numbers, whatever was drawn elsewhere in between.
/// stream.sequence(18, 0).next_u64();
/// assert_eq!(stream.sequence(17, 0).sample::<f64, _>(StandardNormal), gust);
///
/// // An uncertain input of a scenario is a distribution like any other.
/// let wind_mps = Uncertain::Normal(5.0, 1.5).sample(&mut stream.sequence(17, 1));
/// assert!((-1.0..=11.0).contains(&wind_mps));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Sequence {
    source: Source,
    flight: u32,
    step: u32,
    block: u32,
    ready: [u32; 4],
    used: usize,
}

/// `rand` gives `Rng` (and with it `RngExt`) to every generator whose draws cannot fail.
impl rand::TryRng for Sequence {
    type Error = std::convert::Infallible;

    #[inline]
    fn try_next_u32(&mut self) -> Result<u32, Self::Error> {
        if self.used == 4 {
            self.ready = self.source.words(self.flight, self.step, self.block);
            self.block = self.block.wrapping_add(1);
            self.used = 0;
        }
        self.used += 1;
        Ok(self.ready[self.used - 1])
    }

    #[inline]
    fn try_next_u64(&mut self) -> Result<u64, Self::Error> {
        let low = u64::from(self.try_next_u32()?);
        Ok(u64::from(self.try_next_u32()?) << 32 | low)
    }

    fn try_fill_bytes(&mut self, bytes: &mut [u8]) -> Result<(), Self::Error> {
        for chunk in bytes.chunks_mut(4) {
            let word = self.try_next_u32()?.to_le_bytes();
            chunk.copy_from_slice(&word[..chunk.len()]);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng, RngExt};

    #[test]
    fn purposes_flights_and_steps_differ_and_repeat() {
        let wind = Source::new(7, Purpose::Wind);
        let fix = Source::new(7, Purpose::Fix);
        assert_eq!(wind.words(3, 5, 0), Source::new(7, Purpose::Wind).words(3, 5, 0));
        assert_ne!(wind.words(3, 5, 0), fix.words(3, 5, 0));
        assert_ne!(wind.words(3, 5, 0), wind.words(4, 5, 0));
        assert_ne!(wind.words(3, 5, 0), wind.words(3, 6, 0));
        assert_ne!(wind.words(3, 5, 0), Source::new(8, Purpose::Wind).words(3, 5, 0));
    }

    /// Steps beside each other have the words that each has alone.
    #[test]
    fn many_steps_at_once_are_the_steps_one_by_one() {
        let s = Source::new(11, Purpose::Trial);
        for (flight, first, block) in [(0, 0, 0), (7, 40, 3), (u32::MAX, u32::MAX - 2, u32::MAX)] {
            let alone = |i: u32| s.words(flight, first.wrapping_add(i), block);
            assert_eq!(s.words_from(flight, first, block), [0, 1, 2, 3, 4, 5, 6, 7].map(alone));
        }
    }

    #[test]
    fn sequence_walks_the_blocks() {
        let s = Source::new(1, Purpose::Trial);
        let mut sequence = s.sequence(9, 2);
        let drawn: Vec<u32> = (0..8).map(|_| sequence.next_u32()).collect();
        assert_eq!(drawn[..4], s.words(9, 2, 0));
        assert_eq!(drawn[4..], s.words(9, 2, 1));
    }

    /// What the `rand` traits draw at a key is what the stream's own doubles are there, and bytes are the words in order.
    #[test]
    fn a_sequence_draws_what_the_source_holds() {
        let s = Source::new(5, Purpose::Trial);
        for block in [0, 1, 1_040, u32::MAX] {
            let mut sequence = s.at(3, 8, block);
            assert_eq!([sequence.random::<f64>(), sequence.random()], s.units(3, 8, block));
            assert_eq!(sequence.next_u32(), s.words(3, 8, block.wrapping_add(1))[0]);
        }
        let mut bytes = [0; 22];
        s.sequence(3, 8).fill_bytes(&mut bytes);
        let words: Vec<u8> = (0..2).flat_map(|block| s.words(3, 8, block)).flat_map(u32::to_le_bytes).collect();
        assert_eq!(bytes, words[..22]);
    }

    /// The mean and variance of 4·10⁵ normals, within five standard errors.
    #[test]
    fn normals_have_unit_variance() {
        let s = Source::new(11, Purpose::Trial);
        let (mut sum, mut squares) = (0.0, 0.0);
        for flight in 0..100_000 {
            for x in s.normals(flight, 0, 0) {
                sum += x;
                squares += x * x;
            }
        }
        let n = 400_000.0;
        assert!((sum / n).abs() < 5.0 / f64::sqrt(n));
        assert!((squares / n - 1.0).abs() < 5.0 * f64::sqrt(2.0 / n));
    }
}
