//! What can be said before any flight is simulated: link, sky and energy along the path, clearance, ways home, points of no
//! return.

use super::above_home;
use super::along::PathEnergy;
use super::middle_link::{MiddleLink, PlaceMargin};
use super::picture::Picture;
use super::section::Section;
use super::warnings::{Found, warnings};
use super::ways::{NoReturn, Returning, WayHome, no_return, way_home};
use crate::flight::{Drawn, LossBudget, home_energy};
use crate::geometry::Frame;
use crate::scenario::{InputRow, MapUse};
use crate::units::nullable;
use crate::world::{Way, World, length};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

/// Places along the path that are looked at.
const PLACES: f64 = 150.0;

/// Everything `check` prints and the report needs about the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Survey {
    /// Along the path.
    pub along: Vec<AlongPath>,
    /// Index of the weakest place for the link.
    pub weakest: usize,
    /// Where the margin goes at the weakest place.
    pub weakest_budget: LossBudget,
    /// Margin with both ends one metre apart.
    pub margin_at_one_metre_db: f64,
    /// Level below which packets fail, at the craft.
    pub sensitivity_dbm: f64,
    /// Sections to the weakest and the farthest place.
    pub sections: Vec<Section>,
    /// The path's weakest place while every source of interference is on; `None` without sources.
    pub with_sources_on: Option<SourcesOn>,
    /// One per policy that returns.
    pub no_return: Vec<NoReturn>,
    /// The path's weakest place for the picture; `None` without one.
    pub picture: Option<Picture>,
    /// Share of packets that others on the band leave, wherever the craft is.
    pub kept_beside_neighbours: f64,
    /// Least height of the path above what stands below, and where along it.
    pub path_clearance_m: f64,
    /// Distance flown there.
    pub path_clearance_at_m: f64,
    /// One per return of a policy's chain and of a low pack.
    pub ways: Vec<WayHome>,
    /// Planned time of the path.
    pub duration_s: f64,
    /// Hover power of the middle craft in still air.
    pub hover_power_w: f64,
    /// Top airspeed that tilt allows.
    pub top_airspeed_mps: f64,
    /// Odd but legal: of the scenario as read, then of the plan.
    pub warnings: Vec<String>,
    /// What nobody stated and the program guesses.
    pub assumed: Vec<InputRow>,
    /// What became of the features of a raw map; `None` without one.
    pub map: Option<MapUse>,
}

/// Where the link is weakest while every source of interference is on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SourcesOn {
    /// Mean margin.
    pub margin_db: f64,
    /// Distance flown.
    pub distance_m: f64,
    /// Place above home.
    pub place_m: [f64; 3],
}

/// Where the link is expected to fade, what the sky offers, what energy allows, along the path.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AlongPath {
    /// Distance flown from the take-off spot, m.
    #[serde(deserialize_with = "nullable")]
    pub distance_m: f64,
    /// Time after take-off, s, as planned.
    pub time_s: f64,
    /// Place: x, y, height above home.
    #[serde(deserialize_with = "nullable")]
    pub place_m: [f64; 3],
    /// Ground or obstacle top below, above home.
    #[serde(deserialize_with = "nullable")]
    pub surface_m: f64,
    /// Mean margin of the control uplink, dB, at the middle values of the inputs.
    #[serde(deserialize_with = "nullable")]
    pub margin_db: f64,
    /// Satellites in view of the fix and HDOP (NaN: none).
    pub satellites: u32,
    /// Horizontal dilution of precision of those; NaN without a fix.
    #[serde(deserialize_with = "nullable")]
    pub hdop: f64,
    /// State of charge expected, per cent.
    #[serde(deserialize_with = "nullable")]
    pub charge_pct: f64,
    /// Charge needed to come home from here at the best offered height, per cent; NaN when it cannot.
    #[serde(deserialize_with = "nullable")]
    pub charge_home_pct: f64,
}

/// Surveys the plan.
pub fn survey(world: &World) -> Survey {
    let drawn = Drawn::central(&world.scenario);
    let link = MiddleLink::of(world);
    let energy = home_energy(world, &drawn);
    let returning = Returning::all(world);
    let ways: Vec<Way> = returning.iter().map(|one| one.way).collect();
    let every_m = (world.path.length_m() / PLACES).max(1.0);
    let points = energy.along(&world.path, &ways, drawn.craft.battery.charge_pct / 100.0, every_m);
    let margins = margins(world, &link, &points);
    let along: Vec<AlongPath> = points
        .iter()
        .zip(&margins)
        .map(|(point, margin)| along_path(world, point, &returning, margin.mean.margin_db))
        .collect();

    // The take-off spot itself is next to the pilot; the weakest place is looked for everywhere.
    let weakest = (0..along.len()).min_by(|&a, &b| along[a].margin_db.total_cmp(&along[b].margin_db)).unwrap_or(0);
    let away = |index: usize| length(points[index].place_m, world.antenna_m);
    let farthest = (0..points.len()).max_by(|&a, &b| away(a).total_cmp(&away(b))).unwrap_or(0);
    let section = |title, index: usize| Section::to(world, title, points[index].place_m, &margins[index].mean);
    let mut sections = vec![section("weakest place of the path", weakest)];
    if farthest != weakest {
        sections.push(section("farthest place of the path", farthest));
    }
    let clearance = path_clearance(world, &along);
    let ways: Vec<WayHome> =
        returning.iter().enumerate().map(|(slot, one)| way_home(world, &energy, &points, slot, one)).collect();
    let picture = picture(world, &points, &margins);
    let empty_at_s = along.iter().find(|point| point.charge_pct <= 0.0).map(|point| point.time_s);
    Survey {
        weakest,
        warnings: warnings(
            world,
            &Found { ways: &ways, empty_at_s, top_mps: energy.top_airspeed_mps(), picture: picture.as_ref() },
        ),
        picture,
        kept_beside_neighbours: world.link.kept_beside_neighbours(),
        assumed: world.scenario.assumed(),
        map: world.scenario.site.map.as_ref().map(|map| MapUse::clone(&map.account)),
        weakest_budget: margins[weakest].mean.budget,
        margin_at_one_metre_db: link.at_one_metre_db(),
        with_sources_on: with_sources_on(world, &points, &margins),
        sensitivity_dbm: world.link.sensitivity_dbm(drawn.radio.control.noise_rise_db),
        sections,
        no_return: no_return(&energy, &points, &returning),
        path_clearance_m: clearance.room_m,
        path_clearance_at_m: clearance.at_m,
        ways,
        duration_s: world.path.duration_s(),
        hover_power_w: energy.level.power_w(0.0),
        top_airspeed_mps: energy.top_airspeed_mps(),
        along,
    }
}

/// The link at a place of the path.
struct Margins {
    mean: PlaceMargin,
    /// Of the picture; `None` without one.
    picture_db: Option<f64>,
    /// While every source of interference is on; `None` without sources.
    all_on_db: Option<f64>,
}

fn margins(world: &World, link: &MiddleLink, points: &[PathEnergy]) -> Vec<Margins> {
    let mut heading = world.path.first_heading();
    let bodies = (0..points.len()).map(|index| {
        let (here_m, next_m) = (points[index].place_m, points[(index + 1).min(points.len() - 1)].place_m);
        let ahead = [next_m[0] - here_m[0], next_m[1] - here_m[1]];
        // Straight up and at the end the nose stays where it was.
        if ahead[0] * ahead[0] + ahead[1] * ahead[1] > 1e-12 {
            heading = ahead;
        }
        Frame::level(heading)
    });
    let bodies: Vec<Frame> = bodies.collect();
    let margins = points.par_iter().zip(&bodies).map(|(point, body)| Margins {
        mean: link.margin(point.place_m, body),
        picture_db: link.picture_margin_db(point.place_m, body),
        all_on_db: link.has_sources().then(|| link.margin_with_all_on(point.place_m, body).margin_db),
    });
    margins.collect()
}

fn along_path(world: &World, point: &PathEnergy, returning: &[Returning], margin_db: f64) -> AlongPath {
    let [x_m, y_m, _] = point.place_m;
    let sky = world.sky.at(point.time_s + 0.5 * world.scenario.sky.window_s, point.place_m);
    AlongPath {
        distance_m: point.flown_m,
        time_s: point.time_s,
        place_m: above_home(world, point.place_m),
        surface_m: world.grid.surface_m(x_m, y_m) - world.home_m[2],
        margin_db,
        satellites: u32::from(sky.satellites),
        hdop: if sky.has_solution() { f64::from(sky.hdop) } else { f64::NAN },
        charge_pct: 100.0 * point.charge,
        // As the policies begin: what follows in a chain, and what a low pack does, is asked about for clearance.
        charge_home_pct: point.cheapest(|slot| returning[slot].first).map_or(f64::NAN, |need| 100.0 * need.charge),
    }
}

/// The first place with the least margin while every source is on.
fn with_sources_on(world: &World, points: &[PathEnergy], margins: &[Margins]) -> Option<SourcesOn> {
    let all_on = points.iter().zip(margins).filter_map(|(point, margin)| Some((point, margin.all_on_db?)));
    let (point, margin_db) = all_on.min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(SourcesOn { margin_db, distance_m: point.flown_m, place_m: above_home(world, point.place_m) })
}

/// The first place with the least margin of the picture. At the take-off spot the pilot sees the craft.
fn picture(world: &World, points: &[PathEnergy], margins: &[Margins]) -> Option<Picture> {
    let all = points.iter().zip(margins).filter_map(|(point, margin)| Some((point, margin.picture_db?, margin.mean)));
    let (point, margin_db, mean) = all.min_by(|a, b| a.1.total_cmp(&b.1))?;
    let place_m = above_home(world, point.place_m);
    Some(Picture { margin_db, control_db: mean.margin_db, distance_m: point.flown_m, place_m })
}

/// Least height of the path above what stands below.
struct Clearance {
    room_m: f64,
    /// Distance flown there.
    at_m: f64,
}

fn path_clearance(world: &World, along: &[AlongPath]) -> Clearance {
    let mut least = Clearance { room_m: f64::INFINITY, at_m: 0.0 };
    for point in along {
        // Take-off and landing start on the ground; they are no clearance to speak of.
        let near_home = (point.place_m[0] - world.home_m[0]).abs() + (point.place_m[1] - world.home_m[1]).abs() < 5.0;
        let room_m = point.place_m[2] - point.surface_m;
        if !near_home && room_m < least.room_m {
            least = Clearance { room_m, at_m: point.distance_m };
        }
    }
    least
}
