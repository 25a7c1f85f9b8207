//! `heights`: return heights compared.

use super::args::{Common, HeightsArgs};
use super::out::{Failure, bad};
use super::{gather, load, out};
use crate::report::heights;

/// Runs it.
pub fn run(common: &Common, args: &HeightsArgs) -> Result<(), Failure> {
    let scenario = load::changed(&args.scenario, &args.run)?;
    if let Some(speed) = args.speeds.iter().find(|&&speed| !(0.5..=60.0).contains(&speed)) {
        return Err(bad(&format!("--speeds {speed}: accepted: 0.5 to 60 m/s")));
    }
    let ask = gather::Sweep {
        from_m: args.from,
        to_m: args.to,
        count: args.count,
        speeds_mps: &args.speeds,
        policy: args.policy.as_deref(),
    };
    ask.check(&scenario)?;
    let folder = load::folder(args.out.as_deref(), &args.scenario, "-heights", args.png)?;
    let found = gather::heights(common, &args.scenario, scenario, &ask)?;

    folder.heights(&found)?;
    let place = folder.finish()?;
    if args.json {
        return out::json(&found);
    }
    out::document(common, &heights::document(&found), "", Some(&place.join("heights.html")))
}
