//! `heights`: return heights compared.

use super::args::{Common, HeightsArgs};
use super::out::{Failure, bad};
use super::progress::Progress;
use super::{load, out};
use crate::failsafe::Policy;
use crate::plan::ways::WaysHome;
use crate::report::heights;
use crate::risk::sweep::{heights_between, sweep};

/// The sweep goes this much beyond the ceiling unless told otherwise.
const BEYOND_CEILING_M: f64 = 10.0;

/// Runs it.
pub fn run(common: &Common, args: &HeightsArgs) -> Result<(), Failure> {
    let scenario = load::changed(&args.scenario, &args.run)?;
    if let Some(speed) = args.speeds.iter().find(|&&speed| !(0.5..=60.0).contains(&speed)) {
        return Err(bad(&format!("--speeds {speed}: accepted: 0.5 to 60 m/s")));
    }
    let policy = load::policy_named(&scenario.policies, args.policy.as_deref(), Policy::returns)?.clone();
    let flights = scenario.flights;
    let world = load::world(&args.scenario, scenario)?;
    let beyond_m = || WaysHome::of(&world, &policy).ceiling_m.max(args.from) + BEYOND_CEILING_M;
    let to_m = args.to.unwrap_or_else(beyond_m);
    if !(args.from >= 1.0 && to_m > args.from && to_m <= 2_000.0) {
        return Err(bad(&format!("--from {} --to {to_m}: accepted: 1 m <= from < to <= 2000 m", args.from)));
    }
    let folder = load::folder(args.out.as_deref(), &args.scenario, "-heights")?;
    let heights_m = heights_between(args.from, to_m, args.count);

    let progress = Progress::new("flights", u64::from(flights), common.ascii);
    let found = sweep(&world, &policy, &heights_m, &args.speeds, flights, &progress.hear())
        .map_err(|error| load::refused(&args.scenario, &error))?;
    progress.finish();
    load::bearable(&found.faults, &[])?;

    folder.heights(&found)?;
    let place = folder.finish()?;
    if args.json {
        return out::json(&found);
    }
    out::document(common, &heights::document(&found), "", Some(&place.join("heights.html")))
}
