//! Draws that every policy of a flight meets at the same time, worked out once.

use super::FlightDraws;
use crate::chance::{Purpose, Source, standard_normal_quick};
use std::cell::RefCell;

/// How many are worked out together when one is asked for: craft go on from each to the next.
const AT_ONCE: u32 = 8;

/// The blocks of the wind's stream that turbulence and drift take.
const TURBULENCE_BLOCK: u32 = 0;
const DRIFT_BLOCK: u32 = 1;

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

    /// The one of a number. `draw` works out that of a number.
    #[inline]
    pub(super) fn at(&self, number: u32, draw: impl Fn(u32) -> T) -> T {
        let mut kept = self.0.borrow_mut();
        if kept.len() <= number as usize {
            let missing = kept.len() as u32..(number / AT_ONCE + 1) * AT_ONCE;
            kept.extend(missing.map(draw));
        }
        kept[number as usize]
    }
}

/// What wind draws in one flight.
#[derive(Debug)]
pub struct WindDraws {
    pub(super) source: Source,
    pub(super) flight: u32,
    turbulence: Kept<[f64; 5]>,
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
    pub(super) fn turbulence(&self, number: u32) -> [f64; 5] {
        self.turbulence.at(number, |number| self.turbulence_once(number))
    }

    /// Two standard normal numbers of the drift at a corner point.
    #[inline]
    pub(super) fn drift(&self, corner: u32) -> [f64; 2] {
        self.drift.at(corner, |corner| self.drift_once(corner))
    }

    /// The same, not kept.
    pub(super) fn drift_once(&self, corner: u32) -> [f64; 2] {
        let [east, north, ..] = self.source.normals(self.flight, corner, DRIFT_BLOCK);
        [east, north]
    }

    /// As [`WindDraws::turbulence`], not kept: for a count so great that no flight comes there.
    ///
    /// They are made of one block of random bits, 25 bits each (|x| ≤ 5.5).
    pub(super) fn turbulence_once(&self, number: u32) -> [f64; 5] {
        let [a, b, c, d] = self.source.words(self.flight, number, TURBULENCE_BLOCK);
        const MASK: u32 = (1 << 25) - 1;
        // 7 bits are left of each of the first four words: 25 of those 28 make the fifth number.
        let fifth = (a >> 25) | (b >> 25) << 7 | (c >> 25) << 14 | (d >> 25) << 21;
        let unit = |word: u32| (f64::from(word & MASK) + 0.5) * (1.0 / 33_554_432.0);
        standard_normal_quick([unit(a), unit(b), unit(c), unit(d), unit(fifth)])
    }
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
#[derive(Debug, Clone, Copy)]
pub(super) struct OfSolution {
    /// Of the fast part of the error.
    pub(super) normals: [f64; 3],
    /// Of the white part, three words, and of whether a jump comes.
    pub(super) white: [u32; 4],
    /// Of the velocity's error, three words.
    pub(super) velocity: [u32; 4],
    /// Of outages.
    pub(super) outage: u32,
}

/// What the slow parts draw, standard normal numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct OfSlow {
    /// Of the position's error.
    pub(super) place: [f64; 3],
    /// Of the heading's wander, of the course over ground, of the barometer.
    pub(super) rest: [f64; 3],
}

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
        self.slow.at(number, |number| {
            let FlightDraws { streams, flight } = &self.draws;
            let [east, north, up, _] = streams.of(Purpose::Fix).normals(*flight, number, 3);
            let [wander, course, walk, _] = streams.of(Purpose::Heading).normals(*flight, number, 0);
            OfSlow { place: [east, north, up], rest: [wander, course, walk] }
        })
    }

    /// Those of a solution.
    #[inline]
    pub(super) fn of_solution(&self, number: u32) -> OfSolution {
        self.solutions.at(number, |number| {
            let FlightDraws { streams, flight } = &self.draws;
            let fix = streams.of(Purpose::Fix);
            let [east, north, up, _] = fix.normals(*flight, number, 0);
            OfSolution {
                normals: [east, north, up],
                white: fix.words(*flight, number, 1),
                velocity: fix.words(*flight, number, 2),
                outage: streams.of(Purpose::FixOutage).words(*flight, number, 0)[0],
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::Streams;

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
            assert_eq!(fix.of_slow(number).place, slow[..3]);
            let OfSolution { normals, white, velocity, outage } = fix.of_solution(number);
            let stream = streams.of(Purpose::Fix);
            assert_eq!(normals, stream.normals(8, number, 0)[..3]);
            assert_eq!([white, velocity], [1, 2].map(|block| stream.words(8, number, block)));
            assert_eq!(outage, streams.of(Purpose::FixOutage).words(8, number, 0)[0]);
        }
        assert_ne!(wind.turbulence(3), wind.turbulence(4));
        assert!(wind.turbulence_once(u32::MAX).iter().all(|normal| normal.abs() < 5.6));
    }
}
