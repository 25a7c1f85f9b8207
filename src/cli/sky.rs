//! `sky`: satellites and HDOP over the day of the flight.

use super::args::{Common, SkyArgs};
use super::out::{Failure, bad};
use super::{load, out};
use crate::plan::{FixLimit, SkyDay, fix_limits};
use crate::report::{json, sky};
use crate::world::FlightPath;

/// A day, s.
const DAY_S: f64 = 86_400.0;

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
    let folder = load::folder(args.out.as_deref(), &args.scenario, "-sky")?;
    let mut limits = vec![FixLimit { label: "asked for".into(), satellites: args.satellites, hdop: args.hdop }];
    for limit in fix_limits(&scenario) {
        match limits.iter_mut().find(|known| known.satellites == limit.satellites && known.hdop == limit.hdop) {
            Some(known) => known.label += &format!(", {}", limit.label),
            None => limits.push(limit),
        }
    }
    let grid = scenario.site.grid();
    let day = SkyDay::new(&scenario, &grid, scenario.site.home_m, args.height, &limits)
        .map_err(|error| load::refused(&args.scenario, &error))?;

    let [.., hour, minute, second] = scenario.sky.utc;
    let from_s = f64::from(hour * 3600 + minute * 60 + second);
    let plan = &scenario.path;
    let path = FlightPath::new(
        scenario.site.home_m,
        grid.ground_m(scenario.site.home_m[0], scenario.site.home_m[1]),
        &plan.waypoints_m,
        plan.speed_mps,
        scenario.craft.climb_mps,
        plan.pause_s,
    );
    // The ways of the satellites are drawn for the take-off window and the flight, as far as they lie in this day.
    let to_s = (from_s + scenario.sky.window_s + path.duration_s()).min(DAY_S);
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
