//! Flies many flights in parallel and hands their outcomes on in order.

use crate::flight::{FlightOutcome, Workshop, fly};
use crate::world::World;
use rayon::prelude::*;
use std::ops::Range;

/// Flights handed on at a time: large enough to keep all threads busy, small enough to bound memory.
const BATCH: u32 = 256;

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
    let mut first = flights.start;
    while first < flights.end {
        let last = flights.end.min(first.saturating_add(BATCH));
        let outcomes: Vec<FlightOutcome> = (first..last)
            .into_par_iter()
            .map_init(Workshop::default, |workshop, flight| fly(world, workshop, flight))
            .collect();
        for outcome in outcomes {
            sink(outcome)?;
        }
        progress(u64::from(last - flights.start));
        first = last;
    }
    Ok(())
}
