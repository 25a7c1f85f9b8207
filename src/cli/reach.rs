//! `reach`: where the control link holds.

use super::args::{Common, ReachArgs};
use super::out::{Failure, bad};
use super::{gather, load, out};
use crate::plan::site_map;
use crate::report::{earth, reach};

/// Most maps of one run.
const MOST_MAPS: usize = 8;

/// Runs it.
pub fn run(common: &Common, args: &ReachArgs) -> Result<(), Failure> {
    if args.height.is_empty() || args.height.len() > MOST_MAPS {
        return Err(bad(&format!("--height: {} heights; accepted: 1 to {MOST_MAPS}", args.height.len())));
    }
    if let Some(height) = args.height.iter().find(|&&height| !(0.5..=2_000.0).contains(&height)) {
        return Err(bad(&format!("--height {height}: accepted: 0.5 to 2000 m")));
    }
    if !(args.dwell >= 0.1 && args.dwell <= 3_600.0) {
        return Err(bad(&format!("--dwell {}: accepted: 0.1 to 3600 s", args.dwell)));
    }
    let scenario = load::scenario(&args.scenario)?;
    let folder = load::folder(args.out.as_deref(), &args.scenario, "-reach", args.png)?;
    let gather::Reaching { world, found } =
        gather::reach(&args.scenario, scenario, &args.height, args.dwell, args.cells)?;

    let scenario = &world.scenario;
    let document = reach::document(&found, scenario.invented);
    let map = site_map(&world);
    folder.page("reach.html", &document, &reach::gallery(&found, &map))?;
    for map in &found.maps {
        reach::map_csv(map, folder.file(&reach::map_file(map))?)?;
    }
    reach::directions_csv(&found.directions, folder.file("directions.csv")?)?;
    reach::along_csv(&found.along, folder.file("along.csv")?)?;
    reach::section_csv(&found.weakest, folder.file("section.csv")?)?;
    let note = match earth::of_reach(&found, &map, world.home_m[2], scenario.invented) {
        Some(found) => {
            folder.on_earth(&found, Vec::new())?;
            "For map programs: map.geojson and map.kml in the same folder.\n".to_string()
        }
        None => format!("map.geojson, map.kml: {}.\n", earth::WITHOUT),
    };
    let data = reach::ReachFile::new(&found, scenario.invented, &scenario.hash);
    folder.json("reach.json", &data)?;
    let place = folder.finish()?;
    if args.json {
        return out::json(&data);
    }
    out::document(common, &document, &note, Some(&place.join("reach.html")))
}
