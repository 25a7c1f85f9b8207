//! One lost link told as a story: numbered sentences with times, in plain English that reads well aloud, under every policy with the
//! same luck.
//!
//! [`tell`] flies the flight again, records it under each policy and puts what the traces say into words. Every number in a sentence
//! stands in a [`Trace`](crate::flight::Trace) or follows from one: nothing is drawn or simulated for the telling. What a sentence is about is said beside it
//! ([`About`]), so that a page can mark it and a lesson can pick it.

mod branch;
mod compared;
mod guards;
mod margin;
mod shared;
mod tell;
mod told;
mod way;
mod words;

pub use tell::tell;
pub use told::{About, Cut, CutPoint, PolicyStory, Sentence, Story, Told};
