//! Whether the heights of a path file and those of the ground are counted from the same level.

use super::path::FlightPlan;
use super::site::Site;
use crate::geometry::distance_m;
use crate::scenario::section::Section;

/// An end of a path counts as the take-off spot within this. Estimate.
const AT_HOME_M: f64 = 50.0;

/// So far below the ground is no error of a receiver or of a map. Estimate.
const CLEARLY_M: f64 = 15.0;

/// A file with so many points was recorded, not drawn, and begins on the ground. Estimate.
const RECORDED: usize = 100;

/// Heights above the sea, by what the scenario or the file itself says, in a path file that lie far below the ground, or a recorded flight that begins and ends far above it, point to
/// levels that differ: the ellipsoid lies up to 107 m from the sea, and feet are no metres.
pub(in crate::scenario) fn warn_of_path_heights(p: &Section, site: &Site, path: &FlightPlan) {
    let (Some(terrain), Some(file)) = (&site.terrain, &path.file) else { return };
    if p.has("height_m") || path.above_ground_m.is_some() || path.waypoints_m.is_empty() {
        return;
    }
    let above_m = |point: &[f64; 3]| site.home_z_m() + point[2] - terrain.ground_m(point[0], point[1]);
    let at_home = |point: &&[f64; 3]| distance_m([point[0], point[1]], site.home_m) < AT_HOME_M;
    let ends: Vec<f64> = [path.waypoints_m.first(), path.waypoints_m.last()]
        .into_iter()
        .flatten()
        .filter(at_home)
        .map(above_m)
        .collect();
    let heights: Vec<f64> = path.waypoints_m.iter().map(above_m).collect();
    let below = heights.iter().filter(|height| **height < -CLEARLY_M).count();
    let lowest_m = heights.iter().copied().fold(f64::INFINITY, f64::min);
    let recorded = heights.len() >= RECORDED && ends.len() == 2 && (ends[0] - ends[1]).abs() < CLEARLY_M;
    let off = if let Some(end_m) = ends.iter().copied().find(|end_m| *end_m < -CLEARLY_M) {
        format!("{:.0} m below the ground at the take-off spot", -end_m)
    } else if 2 * below > heights.len() {
        format!("up to {:.0} m below the ground at {below} of {} points", -lowest_m, heights.len())
    } else if recorded && ends.iter().all(|end_m| *end_m > CLEARLY_M) {
        format!("{:.0} m above the ground where a recorded flight begins and ends", ends[0])
    } else {
        return;
    };
    let found = format!(
        "heights of \"{}\" that are {off}, by \"{}\": one of the two may count from the ellipsoid and not from the sea",
        file.display(),
        terrain.file.display()
    );
    let accepted = "`site.terrain_heights` and `site.geoid_above_ellipsoid_m` if it is the terrain, `path.heights` or `path.height_m` if it is the path";
    p.warn("file", found, accepted);
}
