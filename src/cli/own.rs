//! A scenario to start from, made of a path file and a file of ground heights.

use super::load;
use super::out::Failure;
use super::starter::Starter;
use crate::geodata::feature::Heights;
use crate::plan::survey;
use crate::plan::ways::WaysHome;
use crate::scenario::{Diagnostic, Folder, PathFile, PathPoint, Scenario, ScenarioError, Severity, path_file, read};
use crate::sky::{Geodetic, LocalFrame};
use crate::world::World;
use askama::Template;
use std::path::{Component, Path, PathBuf};

/// Room around the path, which the template states. Estimate: what a craft adrift may cover before it comes down.
const RIM_M: f64 = 300.0;
/// Least height of the way home, and the room asked above what stands on it, which the policy's comment states. Estimates.
const LEAST_UP_M: f64 = 40.0;
const CLEARANCE_M: f64 = 10.0;
/// Speed on the path and number of flights with the smaller and the larger of the template's craft. Invented.
const SPEEDS_MPS: [u32; 2] = [8, 14];
const FLIGHTS: [u32; 2] = [1000, 300];
/// Heights tried for a whole path whose own cannot be used, above the take-off spot; the first that meets nothing is taken.
const LEVELS_M: [f64; 9] = [40.0, 60.0, 80.0, 100.0, 120.0, 160.0, 200.0, 300.0, 500.0];
/// The same above the ground.
const FOLLOWED_M: [f64; 3] = [40.0, 60.0, 80.0];
/// Heights of a plan above the take-off spot lie between these; others are above the sea. Estimate.
const PLANNED_M: [f64; 2] = [5.0, 150.0];
/// A path that rises by so much from near its lowest point was recorded from the ground on. Estimates.
const RISES_M: f64 = 15.0;
const NEAR_GROUND_M: f64 = 5.0;
/// Under the lowest point of such a path lies the ground. Estimate.
const GROUND_BELOW_M: f64 = 2.0;
/// A pack that holds less than this at the end of the path is too small for it. Estimate.
const LEAST_LEFT_PCT: f64 = 25.0;
/// A path that takes longer than this is not for the smaller craft. Estimate.
const LONG_S: f64 = 480.0;

/// The text, with `escape = "none"`: it is TOML, and texts come quoted.
#[derive(Template)]
#[template(path = "own.toml", escape = "none")]
struct Own<'o> {
    path: &'o str,
    terrain: Option<&'o str>,
    title: String,
    lat_deg: f64,
    lon_deg: f64,
    height_amsl: Option<String>,
    extent: String,
    length_km: String,
    long: bool,
    flights: u32,
    pad: String,
    heights: String,
    heights_words: &'o str,
    speed: u32,
    pad_speed: String,
    up_m: u32,
}

/// What is taken from the path file.
struct Flown {
    points: Vec<PathPoint>,
    /// What the file says that its heights are above.
    above: Heights,
    places_m: Vec<[f64; 2]>,
}

impl Flown {
    fn new(PathFile { points, heights: above }: PathFile) -> Flown {
        let first = points[0];
        let frame = LocalFrame::new(Geodetic::from_deg(first.lat_deg, first.lon_deg, 0.0));
        let places_m = points.iter().map(|point| frame.local_from_degrees(point.lat_deg, point.lon_deg)).collect();
        Flown { points, above, places_m }
    }

    fn length_m(&self) -> f64 {
        self.places_m.windows(2).map(|pair| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1])).sum()
    }

    /// West, south, east, north edge of the path and the room around it.
    fn extent(&self) -> String {
        let edge = |axis: usize, pick: fn(f64, f64) -> f64, by_m: f64| {
            let far = self.places_m.iter().map(|place| place[axis]).fold(0.0, pick);
            ((far + by_m) / 10.0).round() * 10.0
        };
        let edges =
            [edge(0, f64::min, -RIM_M), edge(1, f64::min, -RIM_M), edge(0, f64::max, RIM_M), edge(1, f64::max, RIM_M)];
        format!("[{}]", edges.map(|edge_m| format!("{edge_m}")).join(", "))
    }

    /// Heights of all points, if all have one that counts.
    fn heights_m(&self) -> Option<Vec<f64>> {
        self.points.iter().map(|point| point.height_m.filter(|_| self.above != Heights::OnGround)).collect()
    }
}

/// One way to take the heights of the path.
#[derive(Debug, Clone)]
struct Reading {
    /// The line in `[path]`.
    heights: String,
    words: &'static str,
    /// Height of the ground at the take-off spot, where the scenario must state one.
    height_amsl_m: Option<f64>,
}

impl Reading {
    fn of(heights: impl Into<String>, words: &'static str) -> Reading {
        Reading { heights: heights.into(), words, height_amsl_m: None }
    }
}

/// The ways to take the heights, the likeliest first.
fn readings(flown: &Flown, has_terrain: bool) -> Vec<Reading> {
    const OWN: &str = "\"amsl\": the sea; \"above_home\": the take-off spot; \"above_ground\": the ground below.";
    const OTHER: &str = "The file's own are not used: it has none, or nothing says how high the ground is, or the way would meet something.";
    let mut list = Vec::new();
    if let Some(heights_m) = flown.heights_m() {
        let low_m = heights_m.iter().copied().fold(f64::INFINITY, f64::min);
        let high_m = heights_m.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let recorded = high_m - low_m >= RISES_M && heights_m[0] - low_m <= NEAR_GROUND_M;
        // The sea by the custom of the format alone: plans are written above home all the same.
        let planned = flown.above != Heights::Ground && low_m >= PLANNED_M[0] && high_m <= PLANNED_M[1];
        let amsl = Reading::of("heights = \"amsl\"         # as the file has them: above mean sea level", OWN);
        if flown.above == Heights::Ground {
            list.push(Reading::of("heights = \"above_ground\" # as the file says", OWN));
        } else if has_terrain {
            list.push(amsl);
        } else if recorded && !planned {
            list.push(Reading { height_amsl_m: Some(low_m - GROUND_BELOW_M), ..amsl });
        }
        if planned {
            let why = "as the file has them: too low for heights above the sea here; estimate";
            list.push(Reading::of(format!("heights = \"above_home\"   # {why}"), OWN));
        }
    }
    // Over ground that is known a path may follow it.
    list.extend(FOLLOWED_M.iter().filter(|_| has_terrain).map(|above_m| {
        Reading::of(
            format!("above_ground_m = {above_m}      # above the ground, which the path follows; invented"),
            OTHER,
        )
    }));
    list.extend(LEVELS_M.iter().map(|level_m| {
        Reading::of(
            format!("height_m = {level_m}            # above the take-off spot, for the whole path; invented"),
            OTHER,
        )
    }));
    list
}

/// A file as a scenario in a folder names it.
fn named(file: &Path, folder: &Path) -> Result<String, Failure> {
    let whole = |path: &Path| {
        let path = if path.as_os_str().is_empty() { Path::new(".") } else { path };
        path.canonicalize().map_err(|error| {
            Failure::Input(format!("lostlink: {}: {error}\n  accepted: a file that is there\n", path.display()))
        })
    };
    let (file, folder) = (whole(file)?, whole(folder)?);
    let shared = file.components().zip(folder.components()).take_while(|(a, b)| a == b).count();
    let mut name = PathBuf::new();
    // Another drive has nothing in common: its files are named whole.
    if shared == 0 {
        name.push(&file);
    } else {
        name.extend(folder.components().skip(shared).map(|_| Component::ParentDir));
        name.extend(file.components().skip(shared));
    }
    let parts: Option<Vec<&str>> = name.components().map(|part| part.as_os_str().to_str()).collect();
    let text = if shared > 0 { parts.map(|parts| parts.join("/")) } else { name.to_str().map(str::to_string) };
    // A line of its own within the scenario is no name.
    text.filter(|text| !text.contains(char::is_control)).ok_or_else(|| {
        let found = "a name that is not UTF-8 or has control characters in it";
        Failure::Input(format!("lostlink: {}: {found}\n  accepted: a file with a plain name\n", name.display()))
    })
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.into()).to_string()
}

/// Makes a scenario of a path file, and of a file of ground heights if there is one. `scenario` is the file that it is for, in a folder
/// that is there. What comes out has been read as a scenario and can be flown.
pub fn own(scenario: &Path, path: &Path, terrain: Option<&Path>) -> Result<Starter, Failure> {
    let folder = scenario.parent().map(Path::to_path_buf).unwrap_or_default();
    let path_name = named(path, &folder)?;
    let terrain_name = terrain.map(|terrain| named(terrain, &folder)).transpose()?;
    let (path_quoted, terrain_quoted) = (quoted(&path_name), terrain_name.as_deref().map(quoted));
    let files = Folder(folder);
    // Warnings are about a file that is not there yet: `check` gives them once it is.
    let wrong = |mut found: Vec<Diagnostic>| {
        found.retain(|finding| finding.severity == Severity::Error);
        load::no_scenario(&ScenarioError::Findings(found))
    };
    let flown = Flown::new(path_file(&path_name, &files).map_err(wrong)?);
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let name = scenario.display().to_string();

    let text = |reading: &Reading, long: bool, up_m: u32| -> Result<String, Failure> {
        let (flights, speed) = (FLIGHTS[usize::from(long)], SPEEDS_MPS[usize::from(long)]);
        let degrees = |degrees: f64| (degrees * 1e7).round() / 1e7;
        let own = Own {
            path: &path_quoted,
            terrain: terrain_quoted.as_deref(),
            title: quoted(&format!("Flight of {stem}")),
            lat_deg: degrees(flown.points[0].lat_deg),
            lon_deg: degrees(flown.points[0].lon_deg),
            height_amsl: reading.height_amsl_m.map(|height_m| format!("{height_m:.1}")),
            extent: flown.extent(),
            length_km: format!("{:.1}", flown.length_m() * 1e-3),
            long,
            flights,
            pad: " ".repeat(if long { 12 } else { 11 }),
            heights: reading.heights.clone(),
            heights_words: reading.words,
            speed,
            pad_speed: " ".repeat(if long { 11 } else { 12 }),
            up_m,
        };
        Ok(own.render()?)
    };
    let lowest = LEAST_UP_M as u32;
    let long = flown.length_m() / f64::from(SPEEDS_MPS[0]) > LONG_S;
    let (reading, scenario) = first_that_reads(&readings(&flown, terrain.is_some()), |reading| {
        Ok(read(&name, &text(reading, long, lowest)?, &files))
    })?
    .map_err(wrong)?;
    let (long, up_m) = suited(&name, scenario, long, || Ok(read(&name, &text(&reading, true, lowest)?, &files)))?;
    let text = text(&reading, long, up_m)?;
    read(&name, &text, &files).map_err(wrong)?;
    Ok(Starter { text, files: Vec::new() })
}

type Read = Result<Scenario, Vec<Diagnostic>>;

/// The first way to take the heights with which the scenario reads well; else what is wrong with the first.
fn first_that_reads(
    list: &[Reading],
    read: impl Fn(&Reading) -> Result<Read, Failure>,
) -> Result<Result<(Reading, Scenario), Vec<Diagnostic>>, Failure> {
    let mut first = Vec::new();
    for reading in list {
        match read(reading)? {
            Ok(scenario) => return Ok(Ok((reading.clone(), scenario))),
            Err(found) => {
                // Another height mends a way that meets something, and nothing else.
                let mut errors = found.iter().filter(|finding| finding.severity == Severity::Error);
                let of_the_way = errors.all(|finding| finding.key.starts_with("path."));
                if first.is_empty() {
                    first = found;
                }
                if !of_the_way {
                    break;
                }
            }
        }
    }
    Ok(Err(first))
}

/// Whether the path asks for the larger craft, and the height of the way home that clears what stands there.
fn suited(
    name: &str,
    scenario: Scenario,
    long: bool,
    larger: impl FnOnce() -> Result<Read, Failure>,
) -> Result<(bool, u32), Failure> {
    let path = Path::new(name);
    let world = load::world_for_planning(path, scenario)?;
    let up_m = world.scenario.policies.iter().find(|policy| policy.returns()).map_or(LEAST_UP_M, |policy| {
        let clear_m = WaysHome::of(&world, policy).tallest_m + CLEARANCE_M;
        ((clear_m / 5.0).ceil() * 5.0).max(LEAST_UP_M)
    });
    let left_pct = |world: &World| survey(world).along.last().map_or(100.0, |place| place.charge_pct);
    let long = long || (left_pct(&world) < LEAST_LEFT_PCT && larger()?.is_ok());
    Ok((long, up_m as u32))
}
