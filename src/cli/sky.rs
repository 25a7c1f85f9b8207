//! `sky`: satellites and HDOP over the day of the flight.

use super::args::{Common, SkyArgs};
use super::out::{Failure, bad};
use super::{gather, load, out};
use crate::plan::FixLimit;
use crate::report::figures::Skied;
use crate::report::{json, sky};

/// Runs it.
pub fn run(common: &Common, args: &SkyArgs) -> Result<(), Failure> {
    if !(4..=60).contains(&args.satellites) {
        return Err(bad(&format!("--satellites {}: accepted: 4 to 60", args.satellites)));
    }
    if !(args.hdop > 0.0 && args.hdop <= 50.0) {
        return Err(bad(&format!("--hdop {}: accepted: above 0 up to 50", args.hdop)));
    }
    if !(args.height >= 0.0 && args.height <= 2_000.0) {
        return Err(bad(&format!("--height {}: accepted: 0 to 2000 m", args.height)));
    }
    let scenario = load::scenario(&args.scenario)?;
    let folder = load::folder(args.out.as_deref(), &args.scenario, "-sky", args.png)?;
    let asked = FixLimit { label: "asked for".into(), satellites: args.satellites, hdop: args.hdop };
    let Skied { day, from_s, to_s } = gather::sky(&args.scenario, &scenario, vec![asked], args.height)?;
    let document = sky::document(&day, &scenario.title, scenario.invented);
    folder.page("sky.html", &document, &sky::gallery(&day, from_s, to_s))?;
    sky::write_csv(&day, folder.file("sky.csv")?)?;
    let data = json::SKY.of(&day);
    folder.json("sky.json", &data)?;
    let place = folder.finish()?;
    if args.json {
        return out::json(&data);
    }
    out::document(common, &document, "", Some(&place.join("sky.html")))
}
