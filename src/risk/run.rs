//! Flies many flights in parallel and hands their outcomes on in order.

use crate::flight::{FlightOutcome, Workshop, fly};
use crate::world::World;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

/// Flights handed on at a time: large enough to keep all threads busy, small enough to bound memory.
const BATCH: u32 = 256;

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
