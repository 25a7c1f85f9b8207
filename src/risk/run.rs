//! Flies many flights in parallel and hands their outcomes on in order.

use crate::flight::{FlightOutcome, Workshop, fly};
use crate::world::World;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

/// Flights handed on at a time: large enough to keep all threads busy, small enough to bound memory.
pub(super) const BATCH: u32 = 256;

/// What an assessment is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Making the worlds of the conditions.
    Worlds,
    /// Flying the main run.
    Flights,
    /// Tables, intervals, the choice; tracks and flights told.
    Tables,
    /// Flying the conditions.
    Conditions,
    /// Asking what would change the answer.
    Information,
    /// Flying the what-if bars.
    Bars,
    /// What is worked out without flights.
    Plan,
}

/// What the first flights of a longer run say.
#[derive(Debug, Clone, PartialEq)]
pub struct Early {
    /// Flights flown.
    pub flights: u64,
    /// Out of so many, a number that stands.
    pub of: u64,
    /// The answer that would follow from them.
    pub sentence: String,
}

/// Who follows an assessment while it runs. A closure hears of flights flown.
pub trait Follow: Sync {
    /// So many flights are flown, of whatever stage.
    fn flown(&self, done: u64);
    /// A stage begins; told on the thread that assesses.
    fn begins(&self, _stage: Stage) {}
    /// What the first flights say; told once, when more are to come.
    fn early(&self, _early: &Early) {}
}

impl<F: Fn(u64) + Sync> Follow for F {
    fn flown(&self, done: u64) {
        self(done);
    }
}

/// Flies a batch in parallel and gives the outcomes in order; `None` when told to stop meanwhile, which is heard before each flight.
pub fn fly_batch(world: &World, flights: Range<u32>, stop: &AtomicBool) -> Option<Vec<FlightOutcome>> {
    let one =
        |workshop: &mut Workshop, flight: u32| (!stop.load(Ordering::Relaxed)).then(|| fly(world, workshop, flight));
    flights.into_par_iter().map_init(Workshop::default, one).collect()
}

/// Flies `flights` and gives each outcome to `sink`, in flight order whatever the number of threads.
///
/// `progress` hears how many are done. The first error of `sink` stops the run.
///
/// # Errors
/// Whatever `sink` reports.
pub fn fly_all<E>(
    world: &World,
    flights: Range<u32>,
    progress: &(dyn Fn(u64) + Sync),
    sink: &mut dyn FnMut(FlightOutcome) -> Result<(), E>,
) -> Result<(), E> {
    let never = AtomicBool::new(false);
    let mut first = flights.start;
    while first < flights.end {
        let last = flights.end.min(first.saturating_add(BATCH));
        for outcome in fly_batch(world, first..last, &never).into_iter().flatten() {
            sink(outcome)?;
        }
        progress(u64::from(last - flights.start));
        first = last;
    }
    Ok(())
}
