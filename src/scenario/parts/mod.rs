//! The tables of a scenario file, a file each: every key is declared once, here.

pub(super) mod craft;
mod extent;
pub(super) mod judge;
pub(super) mod loss;
pub(super) mod map;
pub(super) mod path;
pub(super) mod path_heights;
pub(super) mod pilot;
pub(super) mod policy;
pub(super) mod radio;
pub(super) mod site;
pub(super) mod sky;
pub(super) mod terrain;
pub(super) mod weather;

/// The source of a default that nobody measured.
const ESTIMATE: &str = "estimate";
