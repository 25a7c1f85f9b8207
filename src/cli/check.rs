//! `check`: everything that can be said before a flight is simulated.

use super::args::{CheckArgs, Common};
use super::{Failure, load, manner, print};
use crate::plan::survey;
use crate::report::{json, survey as words};
use crate::risk::assess::condition_worlds;
use crate::world::World;

/// Runs it.
pub fn run(common: &Common, args: &CheckArgs) -> Result<(), Failure> {
    let scenario = load::scenario(&args.scenario)?;
    let world = World::new(scenario).map_err(|error| load::refused(&args.scenario, &error))?;
    condition_worlds(&world).map_err(|error| load::condition_refused(&args.scenario, &error))?;
    let found = survey(&world);
    if args.json {
        let mut out = Vec::new();
        json::write(&found, &mut out)?;
        return print(&out);
    }
    print(words::text(&world.scenario, &found, world.grid.cell_m, manner(common)).as_bytes())
}
