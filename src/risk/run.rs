//! Flies many flights in parallel and hands their outcomes on in order.

use crate::flight::{FlightOutcome, Workshop, fly};
use crate::world::World;
use rayon::Yield;
use std::any::Any;
use std::collections::VecDeque;
use std::ops::Range;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError, mpsc};
use std::time::Duration;

/// Pairs of flights given out per thread beyond the last one handed on: so much longer than others a flight may take before a thread
/// has to wait for it, and so many outcomes are kept at most.
const PAIRS_AHEAD: usize = 16;

/// How long a thread that flies and hands on looks for nothing else to do.
const LOOK_AGAIN: Duration = Duration::from_micros(200);

/// Flies a batch in parallel and gives the outcomes in order; `None` when told to stop meanwhile, which is heard before each flight.
pub fn fly_batch(world: &World, flights: Range<u32>, stop: &AtomicBool) -> Option<Vec<FlightOutcome>> {
    let mut outcomes = Vec::with_capacity(flights.len());
    let one =
        |workshop: &mut Workshop, flight: u32| (!stop.load(Ordering::Relaxed)).then(|| fly(world, workshop, flight));
    in_order(flights, &one, &|_| {}, &mut |outcome| outcome.map(|outcome| outcomes.push(outcome)).ok_or(())).ok()?;
    Some(outcomes)
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
    in_order(flights, &|workshop, flight| fly(world, workshop, flight), progress, sink)
}

/// What a pair of flights came to; an error is a panic.
type Flown<T> = Result<Vec<T>, Box<dyn Any + Send>>;

/// What has been given out and not yet handed on.
struct Ahead<T> {
    /// Number of the first pair in the queue.
    first: u32,
    /// By pair; `None`: still being flown.
    pairs: VecDeque<Option<Vec<T>>>,
}

/// Does something for each flight on all threads and hands the results on in order, here.
///
/// Flights are given out in pairs, an even number and the odd one after it, because those share the work of their shadows; one
/// thread flies both with one workshop. Pairs are given out in order, [`PAIRS_AHEAD`] per thread at most beyond the last one handed on.
/// No thread that flies ever waits within a flight, so that none can wait for itself.
fn in_order<W: Default + Send, T: Send, E>(
    flights: Range<u32>,
    one: &(dyn Fn(&mut W, u32) -> T + Sync),
    progress: &dyn Fn(u64),
    sink: &mut dyn FnMut(T) -> Result<(), E>,
) -> Result<(), E> {
    let of_pair = |pair: u32| flights.start.max(2 * pair)..flights.end.min((2 * pair).saturating_add(2));
    let last = flights.end.div_ceil(2);
    let most = PAIRS_AHEAD * rayon::current_num_threads();
    let workshops: Mutex<Vec<W>> = Mutex::default();
    let over = AtomicBool::new(false);
    let fly_pair = |pair: u32| {
        let mut workshop = workshops.lock().unwrap_or_else(PoisonError::into_inner).pop().unwrap_or_default();
        let flights = of_pair(pair).take_while(|_| !over.load(Ordering::Relaxed));
        let flown = flights.map(|flight| one(&mut workshop, flight)).collect();
        workshops.lock().unwrap_or_else(PoisonError::into_inner).push(workshop);
        flown
    };
    let (hand_in, handed_in) = mpsc::channel::<(u32, Flown<T>)>();
    let mut ahead = Ahead { first: flights.start / 2, pairs: VecDeque::new() };
    let (fly_pair, over) = (&fly_pair, &over);
    rayon::in_place_scope_fifo(|scope| {
        loop {
            while ahead.pairs.len() < most && ahead.next() < last {
                let (pair, hand_in) = (ahead.next(), hand_in.clone());
                ahead.pairs.push_back(None);
                // Nobody listens any more when the run is over.
                scope.spawn_fifo(move |_| {
                    let _ = hand_in.send((pair, catch_unwind(AssertUnwindSafe(|| fly_pair(pair)))));
                });
            }
            if ahead.pairs.is_empty() {
                return Ok(());
            }
            let Some((pair, flown)) = received(&handed_in) else { continue };
            ahead.pairs[(pair - ahead.first) as usize] = Some(flown.unwrap_or_else(|panic| {
                over.store(true, Ordering::Relaxed);
                resume_unwind(panic)
            }));
            while let Some(outcomes) = ahead.pairs.front_mut().and_then(Option::take) {
                let done = of_pair(ahead.first).end;
                ahead.pairs.pop_front();
                ahead.first += 1;
                if let Err(error) = outcomes.into_iter().try_for_each(&mut *sink) {
                    over.store(true, Ordering::Relaxed);
                    return Err(error);
                }
                progress(u64::from(done - flights.start));
            }
        }
    })
}

impl<T> Ahead<T> {
    /// The next pair to be given out.
    fn next(&self) -> u32 {
        self.first + self.pairs.len() as u32
    }
}

/// The next that is handed in; `None`: nothing yet. A thread that is one of those that fly does their work while it waits.
fn received<T>(handed_in: &mpsc::Receiver<T>) -> Option<T> {
    match rayon::yield_now() {
        None => handed_in.recv().ok(),
        Some(Yield::Executed) => handed_in.try_recv().ok(),
        Some(Yield::Idle) => handed_in.recv_timeout(LOOK_AGAIN).ok(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicU32;
    use std::time::Instant;

    fn on<R: Send>(threads: usize, work: impl FnOnce() -> R + Send) -> R {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads").install(work)
    }

    /// In order, each once, whether the thread that asks is one of those that fly or not; an odd flight after its neighbour, with the
    /// same workshop.
    #[test]
    fn flights_come_in_order_and_neighbours_together() {
        let flown = |flights: Range<u32>| {
            let (mut came, mut done) = (Vec::new(), Vec::new());
            let done_too = Mutex::new(&mut done);
            let one = |before: &mut Option<u32>, flight: u32| (flight, before.replace(flight));
            let told = in_order::<Option<u32>, _, ()>(
                flights.clone(),
                &one,
                &|count| done_too.lock().unwrap().push(count),
                &mut |outcome| {
                    came.push(outcome);
                    Ok(())
                },
            );
            assert_eq!(told, Ok(()));
            assert!(came.iter().map(|(flight, _)| *flight).eq(flights.clone()), "{flights:?}");
            let odd = came.iter().skip(1).filter(|(flight, _)| flight % 2 == 1);
            assert!(odd.clone().all(|(flight, before)| *before == Some(flight - 1)), "{flights:?}");
            assert!(done.is_sorted() && done.last().copied().unwrap_or(0) == flights.len() as u64, "{flights:?}");
        };
        for flights in [0..0, 0..1, 1..2, 0..2, 7..1_000, 4_000_000_001..4_000_000_400, u32::MAX - 3..u32::MAX] {
            flown(flights.clone());
            for threads in [1, 2, 64] {
                on(threads, || flown(flights.clone()));
            }
        }
    }

    /// While one flight takes for ever, the others go on, but no further than so many; then all come.
    #[test]
    fn a_long_flight_holds_up_a_bounded_number() {
        const THREADS: usize = 64;
        const NONE: u32 = u32::MAX;
        let most = 2 * (PAIRS_AHEAD * THREADS) as u32;
        for from in [0, 500] {
            let (begun, long) = (AtomicU32::new(0), AtomicU32::new(NONE));
            let told: Result<u32, ()> = on(THREADS, || {
                // This thread hands on; it must not be the one that is held up.
                let here = rayon::current_thread_index();
                let one = |_: &mut (), flight: u32| {
                    begun.fetch_add(1, Ordering::SeqCst);
                    // Flights that take no time are all flown here before another thread wakes up.
                    let since = Instant::now();
                    while flight >= from
                        && rayon::current_thread_index() == here
                        && long.load(Ordering::SeqCst) == NONE
                        && since.elapsed() < Duration::from_secs(10)
                    {
                        std::thread::yield_now();
                    }
                    let held = flight >= from
                        && rayon::current_thread_index() != here
                        && long.compare_exchange(NONE, flight, Ordering::SeqCst, Ordering::SeqCst).is_ok();
                    if held {
                        // All before its pair are handed on, and so many from its pair on are begun, but for its neighbour.
                        let expected = flight / 2 * 2 + most - u32::from(flight.is_multiple_of(2));
                        let since = Instant::now();
                        while begun.load(Ordering::SeqCst) < expected && since.elapsed() < Duration::from_secs(10) {
                            std::thread::yield_now();
                        }
                        // Whoever would go too far does it now.
                        std::thread::sleep(Duration::from_millis(30));
                        assert_eq!(begun.load(Ordering::SeqCst), expected, "flights begun beside flight {flight}");
                    }
                };
                let mut came = 0;
                in_order(0..3 * most, &one, &|_| {}, &mut |()| {
                    came += 1;
                    Ok(())
                })
                .map(|()| came)
            });
            assert_eq!(told, Ok(3 * most));
            assert_ne!(long.load(Ordering::SeqCst), NONE, "no flight was held up");
        }
    }

    /// An error of whoever takes the outcomes ends the run soon, and so does a panic in a flight, which is passed on.
    #[test]
    fn errors_and_panics_end_a_run() {
        let begun = AtomicU32::new(0);
        let count = |_: &mut (), flight: u32| {
            begun.fetch_add(1, Ordering::SeqCst);
            assert!(flight != 2_000, "a flight that panics");
            flight
        };
        let run = |stop_at: u32| {
            in_order(0..1_000_000, &count, &|_| {}, &mut |flight| if flight == stop_at { Err(flight) } else { Ok(()) })
        };
        assert_eq!(on(2, || run(1_000)), Err(1_000));
        assert!(begun.load(Ordering::SeqCst) < 1_100);
        let panicked = std::panic::catch_unwind(|| on(2, || run(5_000))).expect_err("the panic comes through");
        assert_eq!(panicked.downcast_ref::<&str>().copied(), Some("a flight that panics"));
        assert!(begun.load(Ordering::SeqCst) < 4_000);
    }
}
