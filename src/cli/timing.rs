//! Where the time of an assessment went: wall and processor seconds of each stage, and a breakdown of the flights.

use crate::flight::{Part, StepCount, Workshop, fly_in_parts};
use crate::risk::follow::Stage;
use crate::world::World;
use cpu_time::{ProcessTime, ThreadTime};
use std::fmt::Write as _;
use std::io::Write as _;
use std::ops::Range;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Flights flown again, on one thread, to tell their parts apart.
const TAKEN_APART: u32 = 128;

/// The clocks at one moment.
#[derive(Debug, Clone, Copy)]
struct Moment {
    wall: Instant,
    process: Option<Duration>,
    main_thread: Option<Duration>,
}

impl Moment {
    fn now() -> Moment {
        Moment {
            wall: Instant::now(),
            process: ProcessTime::try_now().ok().map(|time| time.as_duration()),
            main_thread: ThreadTime::try_now().ok().map(|time| time.as_duration()),
        }
    }

    /// What has passed since: wall, processor time of all threads, of the main thread.
    fn until(&self, later: &Moment) -> [f64; 3] {
        let cpu = |spent: Option<Duration>| spent.map_or(f64::NAN, |spent| spent.as_secs_f64());
        let process = self.process.zip(later.process).map(|(from, to)| to - from);
        let main_thread = self.main_thread.zip(later.main_thread).map(|(from, to)| to - from);
        [(later.wall - self.wall).as_secs_f64(), cpu(process), cpu(main_thread)]
    }
}

/// Follows an assessment from stage to stage, on its main thread, and what is done beside.
pub struct Timing {
    stages: Mutex<Vec<(&'static str, Moment)>>,
    /// What was done beside a stage, with its wall and processor time.
    beside: Mutex<Vec<(&'static str, [f64; 2])>>,
}

fn locked<T>(list: &Mutex<T>) -> MutexGuard<'_, T> {
    list.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Timing {
    /// Begins with the first stage.
    pub fn begin(stage: &'static str) -> Timing {
        Timing { stages: Mutex::new(vec![(stage, Moment::now())]), beside: Mutex::default() }
    }

    /// A stage begins; the one before it ends.
    pub fn stage(&self, stage: &'static str) {
        locked(&self.stages).push((stage, Moment::now()));
    }

    /// Does something beside the stages that go on meanwhile, which count it too.
    pub fn beside<T>(&self, what: &'static str, work: impl FnOnce() -> T) -> T {
        let before = (Instant::now(), ThreadTime::try_now());
        let done = work();
        let spent_s = match (before.1, ThreadTime::try_now()) {
            (Ok(from), Ok(to)) => to.duration_since(from).as_secs_f64(),
            _ => f64::NAN,
        };
        locked(&self.beside).push((what, [before.0.elapsed().as_secs_f64(), spent_s]));
        done
    }

    /// A stage of the assessment begins.
    pub fn assessing(&self, stage: Stage) {
        self.stage(match stage {
            Stage::Worlds => "worlds of the conditions",
            Stage::Flights => "flights",
            Stage::Tables => "statistics, flights told",
            Stage::Conditions => "conditions",
            Stage::Information => "what would change the answer",
            Stage::Bars => "what-if bars",
            Stage::Plan => "survey without flights",
        });
    }

    /// Ends the last stage and tells all of them on standard error, with the parts of these flights.
    pub fn tell(self, world: &World, flights: Range<u32>) {
        let mut stages = locked(&self.stages);
        stages.push(("", Moment::now()));
        let mut text = format!("\n{:<32}{:>10}{:>12}{:>17}\n", "stage", "wall, s", "CPU, s", "main thread, s");
        let row = |text: &mut String, name: &str, [wall, process, main]: [f64; 3]| {
            let _ = writeln!(text, "{name:<32}{wall:>10.3}{process:>12.3}{main:>17.3}");
        };
        for pair in stages.windows(2) {
            row(&mut text, pair[0].0, pair[0].1.until(&pair[1].1));
        }
        if let (Some(first), Some(last)) = (stages.first(), stages.last()) {
            row(&mut text, "in all", first.1.until(&last.1));
        }
        for (what, [wall, spent]) in locked(&self.beside).iter() {
            let _ = writeln!(text, "{what:<32}{wall:>10.3}{spent:>12.3}   counted above");
        }
        let _ = write!(text, "\n{}", taken_apart(world, flights));
        // The work is done, whether or not somebody hears this.
        let _ = std::io::stderr().lock().write_all(text.as_bytes());
    }
}

/// What a part of the flights took.
#[derive(Debug, Clone, Copy, Default)]
struct Taken {
    spent: Duration,
    steps: u64,
}

impl Taken {
    fn row(self, name: &str, all: Duration, step_s: f64) -> String {
        let share = 100.0 * self.spent.as_secs_f64() / all.as_secs_f64().max(1e-9);
        let mut row = format!("  {name:<10}{:>9.1} ms {share:>5.0} %", 1e3 * self.spent.as_secs_f64());
        if self.steps > 0 {
            let simulated_s = self.steps as f64 * step_s;
            let per_s_us = 1e6 * self.spent.as_secs_f64() / simulated_s;
            let _ = write!(row, "{simulated_s:>10.0} s simulated, {per_s_us:.2} us each");
        }
        row + "\n"
    }
}

/// The processor time of the first flights, part by part, flown again on this thread.
fn taken_apart(world: &World, flights: Range<u32>) -> String {
    let again = flights.start..flights.end.min(flights.start.saturating_add(TAKEN_APART));
    let count = again.len();
    let mut workshop = Workshop::default();
    let mut parts = [Taken::default(); Part::ALL.len()];
    let Ok(mut before) = ThreadTime::try_now() else { return "This system tells no time of a thread.\n".into() };
    for flight in again {
        fly_in_parts(world, &mut workshop, flight, &mut StepCount::default(), &mut |part, count| {
            let taken = &mut parts[part as usize];
            if let Ok(now) = ThreadTime::try_now() {
                taken.spent += now.duration_since(before);
                before = now;
            }
            taken.steps += std::mem::take(&mut count.0);
        });
    }
    let all = parts
        .iter()
        .fold(Taken::default(), |sum, part| Taken { spent: sum.spent + part.spent, steps: sum.steps + part.steps });
    let step_s = world.scenario.step_s;
    let rows = Part::ALL.map(|part| parts[part as usize].row(part.word(), all.spent, step_s));
    let text = format!("The first {count} flights again, on one thread:\n{}", rows.concat());
    text + &all.row("in all", all.spent, step_s)
}
