//! Who follows an assessment while it runs: how far it is, what it does, what its first flights and its main run say.

use super::summary::Summary;

/// What an assessment is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Making the worlds of the conditions.
    Worlds,
    /// Flying the main run.
    Flights,
    /// Tables, intervals, the choice; tracks and flights told.
    Tables,
    /// What is worked out without flights.
    Plan,
    /// Flying the conditions.
    Conditions,
    /// Asking what would change the answer.
    Information,
    /// Flying the what-if bars.
    Bars,
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
    /// What the main run says: the summary without what the side runs will add. Told while those fly, on whichever thread is free;
    /// where none fly, not at all.
    fn main_run(&self, _summary: &Summary) {}
}

impl<F: Fn(u64) + Sync> Follow for F {
    fn flown(&self, done: u64) {
        self(done);
    }
}
