//! `check`: everything that can be said before a flight is simulated.

use super::args::{CheckArgs, Common};
use super::out::Failure;
use super::{load, out};
use crate::plan::survey;
use crate::report::check;
use crate::report::json::CHECK;
use crate::risk::assess::condition_worlds;

/// Runs it.
pub fn run(common: &Common, args: &CheckArgs) -> Result<(), Failure> {
    let world = load::world_for_planning(&args.scenario, load::scenario(&args.scenario)?)?;
    condition_worlds(&world).map_err(|error| load::condition_refused(&args.scenario, &error))?;
    let found = survey(&world);
    if args.json {
        return out::json(&CHECK.of(&found));
    }
    out::document(common, &check::document(&world.scenario, &found, world.grid.cell_m), "", None)
}
