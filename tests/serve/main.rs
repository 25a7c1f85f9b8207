//! The live page's server: its numbers are those of an assessment, its controls give scenarios that can be read, it refuses what
//! comes from elsewhere, and nobody who is slow, rude or gone keeps it from answering others.

mod client;
mod controls;
mod crowd;
mod numbers;
mod refusals;
mod told;
