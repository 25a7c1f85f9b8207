//! Draws that every policy of a flight meets at the same time, worked out once.

use super::FlightDraws;
use crate::chance::{Purpose, Source, open_unit, standard_normal_quick};
use std::cell::RefCell;

/// How many are worked out together when one is asked for: craft go on from each to the next, and the processor works on several at
/// once.
pub(super) const AT_ONCE: usize = 8;

/// The blocks of the wind's stream that turbulence and drift take.
const TURBULENCE_BLOCK: u32 = 0;
const DRIFT_BLOCK: u32 = 1;

/// Normal numbers that the turbulence takes at each count.
const OF_TURBULENCE: usize = 5;

/// Draws by the number of what they are for, worked out when first asked for.
#[derive(Debug, Clone)]
pub(super) struct Kept<T>(RefCell<Vec<T>>);

impl<T: Copy> Kept<T> {
    pub(super) fn none() -> Kept<T> {
        Kept(RefCell::new(Vec::new()))
    }

    /// Forgets them: what comes is another flight's.
    pub(super) fn clear(&mut self) {
        self.0.get_mut().clear();
    }

    /// The one of a number. `draw` works out those from a number on.
    #[inline]
    pub(super) fn at(&self, number: u32, draw: impl Fn(u32) -> [T; AT_ONCE]) -> T {
        self.up_to(number, draw);
        self.0.borrow()[number as usize]
    }

    /// Draws until the one of a number is there.
    #[inline]
    fn up_to(&self, number: u32, draw: impl Fn(u32) -> [T; AT_ONCE]) {
        let mut kept = self.0.borrow_mut();
        while kept.len() <= number as usize {
            let first = kept.len() as u32;
            kept.extend_from_slice(&draw(first));
        }
    }
}

impl<const N: usize> Kept<[u8; N]> {
    /// `N` bytes from one on, wherever that lies: all are counted end to end.
    #[inline]
    pub(super) fn bytes_from(&self, first_byte: u32, draw: impl Fn(u32) -> [[u8; N]; AT_ONCE]) -> [u8; N] {
        let from = first_byte as usize;
        self.up_to(from.div_ceil(N) as u32, draw);
        let mut bytes = [0; N];
        bytes.copy_from_slice(&self.0.borrow().as_flattened()[from..from + N]);
        bytes
    }
}

/// What wind draws in one flight.
#[derive(Debug)]
pub struct WindDraws {
    pub(super) source: Source,
    pub(super) flight: u32,
    turbulence: Kept<[f64; OF_TURBULENCE]>,
    drift: Kept<[f64; 2]>,
}

impl WindDraws {
    /// Those of a flight, from the stream of the wind.
    pub fn new(source: Source, flight: u32) -> WindDraws {
        WindDraws { source, flight, turbulence: Kept::none(), drift: Kept::none() }
    }

    /// Becomes those of another flight; keeps its memory.
    pub(super) fn redraw(&mut self, source: Source, flight: u32) {
        (self.source, self.flight) = (source, flight);
        self.turbulence.clear();
        self.drift.clear();
    }

    /// Five standard normal numbers of the turbulence at a count.
    #[inline]
    pub(super) fn turbulence(&self, number: u32) -> [f64; OF_TURBULENCE] {
        self.turbulence.at(number, |first| {
            let words: [_; AT_ONCE] = self.source.words_from(self.flight, first, TURBULENCE_BLOCK);
            let mut units = [[0.0; OF_TURBULENCE]; AT_ONCE];
            for (units, words) in units.iter_mut().zip(words) {
                *units = turbulence_units(words);
            }
            let normals: [f64; AT_ONCE * OF_TURBULENCE] = standard_normal_quick(flat(&units));
            rows(&normals)
        })
    }

    /// Two standard normal numbers of the drift at a corner point.
    #[inline]
    pub(super) fn drift(&self, corner: u32) -> [f64; 2] {
        self.drift.at(corner, |first| {
            let words: [_; AT_ONCE / 2] = self.source.words_from(self.flight, first / 2, DRIFT_BLOCK);
            rows(&normals::<_, { AT_ONCE * 2 }>(&words))
        })
    }

    /// The same, not kept.
    pub(super) fn drift_once(&self, corner: u32) -> [f64; 2] {
        let [a, b, c, d] = self.source.normals(self.flight, corner / 2, DRIFT_BLOCK);
        if corner.is_multiple_of(2) { [a, b] } else { [c, d] }
    }

    /// As [`WindDraws::turbulence`], not kept: for a count so great that no flight comes there.
    pub(super) fn turbulence_once(&self, number: u32) -> [f64; OF_TURBULENCE] {
        standard_normal_quick(turbulence_units(self.source.words(self.flight, number, TURBULENCE_BLOCK)))
    }
}

/// Five numbers in (0, 1), made of one block of random bits, 25 bits each (as normal numbers |x| ≤ 5.5).
fn turbulence_units([a, b, c, d]: [u32; 4]) -> [f64; OF_TURBULENCE] {
    const MASK: u32 = (1 << 25) - 1;
    // 7 bits are left of each of the first four words: 25 of those 28 make the fifth number.
    let fifth = (a >> 25) | (b >> 25) << 7 | (c >> 25) << 14 | (d >> 25) << 21;
    let unit = |word: u32| (f64::from(word & MASK) + 0.5) * (1.0 / 33_554_432.0);
    [unit(a), unit(b), unit(c), unit(d), unit(fifth)]
}

/// As many standard normal numbers as there are words.
fn normals<const BLOCKS: usize, const ALL: usize>(blocks: &[[u32; 4]; BLOCKS]) -> [f64; ALL] {
    const { assert!(ALL == BLOCKS * 4) };
    let mut units = [0.0; ALL];
    for (unit, &word) in units.iter_mut().zip(blocks.as_flattened()) {
        *unit = open_unit(word);
    }
    standard_normal_quick(units)
}

/// Rows joined end to end.
fn flat<const N: usize, const ALL: usize>(rows: &[[f64; N]; AT_ONCE]) -> [f64; ALL] {
    const { assert!(ALL == AT_ONCE * N) };
    let mut flat = [0.0; ALL];
    flat.copy_from_slice(rows.as_flattened());
    flat
}

/// The opposite of [`flat`], a row for each count.
fn rows<const N: usize, const ALL: usize>(flat: &[f64; ALL]) -> [[f64; N]; AT_ONCE] {
    const { assert!(ALL == AT_ONCE * N) };
    let mut rows = [[0.0; N]; AT_ONCE];
    rows.as_flattened_mut().copy_from_slice(flat);
    rows
}

/// What the sense of place draws in one flight.
#[derive(Debug)]
pub struct FixDraws {
    /// The streams they come from, and the flight.
    pub draws: FlightDraws,
    solutions: Kept<OfSolution>,
    slow: Kept<OfSlow>,
}

/// What a solution of the receiver draws.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OfSolution {
    /// Of the fast part of the error, standard normal numbers: east, north, up.
    pub(super) normals: [f64; 3],
    /// Of the white part of the error: two random bytes for each axis.
    pub(super) white: [[u8; 2]; 3],
    /// Of the velocity's error, likewise.
    pub(super) velocity: [[u8; 2]; 3],
    /// Whether a jump comes.
    pub(super) jump: u32,
    /// Of outages.
    pub(super) outage: u32,
}

/// What the slow parts draw, standard normal numbers.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OfSlow {
    /// Of the position's error.
    pub(super) place: [f64; 3],
    /// Of the heading's wander, of the course over ground, of the barometer.
    pub(super) rest: [f64; 3],
}

/// Outages drawn from one block of random bits.
const OUTAGES_PER_BLOCK: u32 = 4;

impl FixDraws {
    /// Those of a flight.
    pub fn new(draws: FlightDraws) -> FixDraws {
        FixDraws { draws, solutions: Kept::none(), slow: Kept::none() }
    }

    /// Becomes those of another flight; keeps its memory.
    pub(super) fn redraw(&mut self, draws: FlightDraws) {
        self.draws = draws;
        self.solutions.clear();
        self.slow.clear();
    }

    /// Those of the slow parts at a count.
    #[inline]
    pub(super) fn of_slow(&self, number: u32) -> OfSlow {
        self.slow.at(number, |first| {
            let FlightDraws { streams, flight } = &self.draws;
            let fours = |purpose, block| -> [[f64; 4]; AT_ONCE] {
                let words: [_; AT_ONCE] = streams.of(purpose).words_from(*flight, first, block);
                rows(&normals::<_, { AT_ONCE * 4 }>(&words))
            };
            let (places, rests) = (fours(Purpose::Fix, 3), fours(Purpose::Heading, 0));
            std::array::from_fn(|i| {
                let ([east, north, up, _], [wander, course, walk, _]) = (places[i], rests[i]);
                OfSlow { place: [east, north, up], rest: [wander, course, walk] }
            })
        })
    }

    /// Those of a solution.
    #[inline]
    pub(super) fn of_solution(&self, number: u32) -> OfSolution {
        self.solutions.at(number, |first| {
            let FlightDraws { streams, flight } = &self.draws;
            let (fix, outages) = (streams.of(Purpose::Fix), streams.of(Purpose::FixOutage));
            let errors: [_; AT_ONCE] = fix.words_from(*flight, first, 0);
            let bytes: [_; AT_ONCE] = fix.words_from(*flight, first, 1);
            let mut units = [[0.0; 3]; AT_ONCE];
            let mut all = [OfSolution::default(); AT_ONCE];
            for (i, (one, units)) in all.iter_mut().zip(&mut units).enumerate() {
                let ([east, north, up, jump], [of_east, of_north, of_up, _]) = (errors[i], bytes[i]);
                *units = [east, north, up].map(open_unit);
                let of_axes = [of_east, of_north, of_up].map(u32::to_le_bytes);
                *one = OfSolution {
                    white: of_axes.map(|[a, b, _, _]| [a, b]),
                    velocity: of_axes.map(|[_, _, a, b]| [a, b]),
                    jump,
                    ..*one
                };
            }
            for (four, number) in all.chunks_exact_mut(OUTAGES_PER_BLOCK as usize).zip(first / OUTAGES_PER_BLOCK..) {
                for (one, word) in four.iter_mut().zip(outages.words(*flight, number, 0)) {
                    one.outage = word;
                }
            }
            let normals: [f64; AT_ONCE * 3] = standard_normal_quick(flat(&units));
            for (one, normals) in all.iter_mut().zip(rows(&normals)) {
                one.normals = normals;
            }
            all
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::Streams;

    fn first_three([a, b, c, _]: [f64; 4]) -> [f64; 3] {
        [a, b, c]
    }

    /// Bytes are read on from any of them, over the end of what was drawn together.
    #[test]
    fn kept_bytes_begin_anywhere() {
        let kept: Kept<[u8; 16]> = Kept::none();
        let byte = |at: usize| (at * 7 % 251) as u8;
        let draw = |first: u32| std::array::from_fn(|i| std::array::from_fn(|k| byte((first as usize + i) * 16 + k)));
        for first in [0, 5, 16, 127, 112, 113, 1_000] {
            assert_eq!(kept.bytes_from(first, draw), std::array::from_fn(|k| byte(first as usize + k)), "{first}");
        }
    }

    /// What is kept is what the streams hold at that count, in whatever order it is asked for.
    #[test]
    fn kept_draws_are_those_of_their_count() {
        let streams = Streams::new(3);
        let mut wind = WindDraws::new(*streams.of(Purpose::Wind), 5);
        let mut fix = FixDraws::new(FlightDraws { streams, flight: 5 });
        // What another flight has drawn before is forgotten.
        let _ = (wind.turbulence(9), wind.drift(9), fix.of_solution(9), fix.of_slow(9));
        wind.redraw(*streams.of(Purpose::Wind), 8);
        fix.redraw(FlightDraws { streams, flight: 8 });
        for number in [20, 3, 4, 20, 0, 57, 8, 7] {
            assert_eq!(wind.turbulence(number), wind.turbulence_once(number));
            assert_eq!(wind.drift(number), wind.drift_once(number));
            let slow = streams.of(Purpose::Fix).normals(8, number, 3);
            let rest = streams.of(Purpose::Heading).normals(8, number, 0);
            assert_eq!((fix.of_slow(number).place, fix.of_slow(number).rest), (first_three(slow), first_three(rest)));
            let OfSolution { normals, white, velocity, jump, outage } = fix.of_solution(number);
            let stream = streams.of(Purpose::Fix);
            assert_eq!(normals, stream.normals(8, number, 0)[..3]);
            assert_eq!(jump, stream.words(8, number, 0)[3]);
            for (axis, word) in stream.words(8, number, 1)[..3].iter().enumerate() {
                assert_eq!([white[axis], velocity[axis]].concat(), word.to_le_bytes());
            }
            assert_eq!(outage, streams.of(Purpose::FixOutage).words(8, number / 4, 0)[number as usize % 4]);
        }
        assert_ne!(wind.turbulence(3), wind.turbulence(4));
        assert!(wind.turbulence_once(u32::MAX).iter().all(|normal| normal.abs() < 5.6));
    }
}
