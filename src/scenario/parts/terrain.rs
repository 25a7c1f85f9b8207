//! Heights of the ground, from rasters.

use crate::chance::Uncertain;
use crate::geodata::{Crs, Patch, RasterFile, RasterGround, Unreadable, Vertical};
use crate::scenario::files::Keeper;
use crate::scenario::kind::{between, tidy};
use crate::scenario::section::Section;
use crate::scenario::sink::FileFault;
use crate::site::{CELLS_AT_MOST, Obstacle, ObstacleKind, Terrain};
use crate::sky::LocalFrame;
use std::path::PathBuf;
use std::sync::Arc;

/// What ground heights are heights of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TerrainIs {
    /// Nobody says.
    Unsaid,
    /// The surface: roofs and crowns, as far as a sensor in orbit sees them.
    Surface,
    /// The ground itself.
    BareEarth,
}

const IS: [(&str, TerrainIs); 3] =
    [("unsaid", TerrainIs::Unsaid), ("surface", TerrainIs::Surface), ("bare_earth", TerrainIs::BareEarth)];

impl TerrainIs {
    /// Error of the heights away from the take-off spot.
    pub(super) fn error_m(self) -> Uncertain {
        match self {
            // 4 m at 90 %.
            TerrainIs::Unsaid | TerrainIs::Surface => Uncertain::Normal(0.0, 2.4),
            TerrainIs::BareEarth => Uncertain::Normal(0.0, 1.55),
        }
    }

    /// Where that comes from.
    pub(super) fn source(self) -> &'static str {
        match self {
            TerrainIs::Unsaid | TerrainIs::Surface => {
                "surface models from orbit, in the open: 4 m at 90 % (handbook of a public one, as quoted); 0 without a file"
            }
            TerrainIs::BareEarth => {
                "a national bare-earth model: 1.55 m rms against geodetic control (USGS Open-File Report 2014-1008, from memory)"
            }
        }
    }
}

/// What heights of a file are counted from, as the scenario says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stated {
    AsTheFileSays,
    SeaLevel,
    Ellipsoid,
}

const STATED: [(&str, Stated); 3] =
    [("as_the_file_says", Stated::AsTheFileSays), ("amsl", Stated::SeaLevel), ("ellipsoid", Stated::Ellipsoid)];

/// What is said about the files.
#[derive(Debug, Clone, PartialEq)]
struct Keys {
    names: Vec<String>,
    origin_m: [f64; 2],
    epsg: Option<u64>,
    from: Stated,
    geoid_m: Option<f64>,
}

/// A key for the names of the files.
const FILE: &str = "terrain_file";

/// Around the extent: what looks a little beyond it finds ground too. Estimate.
const MARGIN_M: f64 = 300.0;

/// Where the site lies on Earth once the height of its origin is known; `None` where it is not tied to it.
pub(super) type Tied<'f> = Option<&'f dyn Fn(f64) -> LocalFrame>;

/// The ground of a site before it is laid over an extent.
pub(super) struct Unlaid {
    keys: Keys,
    /// All that the opened files follow from, in words.
    print: String,
    /// What the heights are heights of; `None` without heights.
    pub is: Option<TerrainIs>,
    /// z = 0 above mean sea level.
    pub zero_m: f64,
    level: Option<Level>,
    /// Not opened where all that follows from it so far is remembered.
    source: Option<Source>,
}

/// What heights of opened files are counted from.
#[derive(Debug, Clone, Copy)]
struct Level {
    /// By how much they are too great to be counted from mean sea level.
    geoid_m: f64,
    /// The ground at x = y = 0 above mean sea level, where there is one.
    origin_m: Option<f64>,
}

impl Unlaid {
    /// Opens the files, and reads the height of z = 0 above the sea. What is not stated is the ground at the origin.
    pub fn read(s: &Section, keep: &Keeper, frame: Tied) -> Unlaid {
        let keys = read_keys(s);
        let is = s.word(
            "terrain_is",
            &IS,
            "unsaid",
            "the error is that of a surface then",
            "What the heights are of: the surface with roofs and crowns, or the bare earth",
        );
        let print = format!("heights of {keys:?} at {:?}", frame.map(|at| at(0.0)));
        let names: Vec<&str> = keys.names.iter().map(String::as_str).collect();
        let (mut source, mut level) = (None, None);
        if names.is_empty() {
            warn_of_idle_keys(s, None);
        } else if !s.sink.is_describing() {
            level = keep.made::<Level>(&print, &names).map(|level| *level);
            if level.is_none() {
                let before = s.sink.errors();
                source = open(s, keep, &keys, frame);
                level = source.as_mut().map(|source| source.level(s, &keys));
                // What was said of the files is not said again: only what was found to be good is remembered.
                if let Some(level) = level.filter(|_| s.sink.errors() == before) {
                    keep.remember(print.clone(), Arc::new(level));
                }
            }
        }
        let limits = between(-500.0, 6000.0);
        let ground_m = level.and_then(|level| level.origin_m);
        let zero_m = s.number(
            "height_amsl_m",
            limits,
            ground_m.unwrap_or(0.0),
            "sea level, or the terrain file's height at x = y = 0",
            "Height of z = 0 above mean sea level",
        );
        if !s.has("height_amsl_m") && level.is_some() {
            match ground_m {
                Some(ground_m) if !limits.allow(ground_m) => s.error(
                    FILE,
                    format!("a ground at {} m above the sea at x = y = 0", tidy(ground_m)),
                    "heights of -500 to 6000 m, or `height_amsl_m`",
                ),
                None => s.error(
                    FILE,
                    "no height at x = y = 0, from which heights are counted",
                    "`height_amsl_m` in `[site]`",
                ),
                _ => {}
            }
        }
        Unlaid { keys, print, is: level.map(|_| is), zero_m, level, source }
    }

    /// The ground over an extent, from z = 0.
    pub fn over(self, s: &Section, keep: &Keeper, frame: Tied, extent_m: [f64; 4]) -> Option<Terrain> {
        let Unlaid { keys, print, zero_m, level, source, .. } = self;
        let geoid_m = level?.geoid_m;
        let names: Vec<&str> = keys.names.iter().map(String::as_str).collect();
        let print = format!("{print}, z = 0 at {zero_m:?} m, over {extent_m:?}");
        if let Some(known) = keep.made::<Terrain>(&print, &names) {
            return Some(Terrain::clone(&known));
        }
        let before = s.sink.errors();
        let source = source.or_else(|| open(s, keep, &keys, frame))?;
        let mut terrain = source.over(s, &keys, frame.map(|at| at(zero_m)), extent_m)?;
        terrain.raise(|_, _| -(geoid_m + zero_m));
        if s.sink.errors() == before {
            keep.remember(print, Arc::new(terrain.clone()));
        }
        Some(terrain)
    }
}

fn read_keys(s: &Section) -> Keys {
    Keys {
        names: s.file_names(
            FILE,
            "flat ground",
            "Ground heights: height tiles (HGT), GeoTIFF, Esri ASCII grids, one or several, the first on top; see above",
        ),
        origin_m: s.numbers::<2>(
            "terrain_origin_m",
            between(-1e8, 1e8),
            [0.0, 0.0],
            "the grid is in local metres",
            "Coordinates of the local origin x = y = 0 in a grid of metres on the site's axes",
        ),
        epsg: s.opt_whole(
            "terrain_epsg",
            1024,
            32_766,
            "the files say it, or are on the site's axes",
            "EPSG code of the coordinates of files that do not state one",
        ),
        from: s.word(
            "terrain_heights",
            &STATED,
            "as_the_file_says",
            "mean sea level, unless a file says otherwise: the custom of these formats",
            "What the files' heights are counted from",
        ),
        geoid_m: s.opt_number(
            "geoid_above_ellipsoid_m",
            between(-110.0, 90.0),
            "not known; needed where heights are counted from the ellipsoid",
            "Mean sea level at the site above the ellipsoid (the geoid's undulation)",
        ),
    }
}

/// What has to be so for a key to count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Needs {
    Files,
    FileOnTheSitesAxes,
    FileWithoutItsOwnCoordinates,
    HeightsAboveTheEllipsoid,
}

/// Keys that count only sometimes: what they need, what is found where that is not so, and the remedy.
const NEEDED_BY: [(&str, Needs, &str, &str); 8] = [
    ("terrain_origin_m", Needs::Files, NO_FILE, A_FILE),
    ("terrain_epsg", Needs::Files, NO_FILE, A_FILE),
    ("terrain_heights", Needs::Files, NO_FILE, A_FILE),
    ("terrain_is", Needs::Files, NO_FILE, A_FILE),
    ("geoid_above_ellipsoid_m", Needs::Files, NO_FILE, A_FILE),
    (
        "terrain_origin_m",
        Needs::FileOnTheSitesAxes,
        "a place of the origin, which counts only for a grid of metres on the site's axes",
        "`lat_deg` and `lon_deg`, which tie such files to the site, and no `terrain_origin_m`",
    ),
    (
        "terrain_epsg",
        Needs::FileWithoutItsOwnCoordinates,
        "a code that counts for no file: each states coordinates of its own",
        "no `terrain_epsg`, or files that do not state what their coordinates are",
    ),
    (
        "geoid_above_ellipsoid_m",
        Needs::HeightsAboveTheEllipsoid,
        "a geoid, which counts only where heights of the terrain are above the ellipsoid",
        "`terrain_heights = \"ellipsoid\"`, or no `geoid_above_ellipsoid_m`",
    ),
];

const NO_FILE: &str = "a key that counts only with ground heights from files";
const A_FILE: &str = "it beside `terrain_file`";

/// What of [`Needs`] is so of the files.
struct Facts {
    on_site_axes: bool,
    by_stated_code: bool,
    above_ellipsoid: bool,
}

/// Says which keys count for nothing, with these files or without any.
fn warn_of_idle_keys(s: &Section, facts: Option<&Facts>) {
    for (key, needs, found, accepted) in NEEDED_BY {
        let met = match (needs, facts) {
            (Needs::Files, facts) => facts.is_some(),
            (_, None) => true,
            (Needs::FileOnTheSitesAxes, Some(facts)) => facts.on_site_axes,
            (Needs::FileWithoutItsOwnCoordinates, Some(facts)) => facts.by_stated_code,
            (Needs::HeightsAboveTheEllipsoid, Some(facts)) => facts.above_ellipsoid,
        };
        if !met && s.has(key) {
            s.warn(key, found, accepted);
        }
    }
}

/// Ground that is opened and not yet laid over the site.
enum Source {
    /// A grid of metres on the site's axes, as it stands, and its points that were without a height.
    Grid(Terrain, Vec<usize>),
    /// Whatever has to be laid on the site's axes first.
    Rasters(RasterGround, Option<Crs>),
}

/// The ground of the files, opened; every mistake in them is told.
fn open(s: &Section, keep: &Keeper, keys: &Keys, frame: Tied) -> Option<Source> {
    let stated = match keys.epsg.map(|code| Crs::from_epsg(code as u32)).transpose() {
        Ok(stated) => stated,
        Err(found) => {
            s.error("terrain_epsg", found, "the EPSG code of a system known here");
            return None;
        }
    };
    let mut files: Vec<RasterFile> = Vec::new();
    for name in &keys.names {
        let bytes = keep.open(s, FILE, name)?;
        match RasterFile::open(name, bytes, stated.as_ref()) {
            Ok(file) => files.push(file),
            Err(unreadable) => tell(s, name, unreadable),
        }
    }
    if files.is_empty() || files.len() < keys.names.len() {
        return None;
    }
    if frame.is_none() && files.iter().any(|file| file.crs != Crs::Site) {
        let found = "heights by longitude and latitude, or on a map's projection, without the place of the origin";
        s.error(FILE, found, "`lat_deg` and `lon_deg` in `[site]`");
        return None;
    }
    if let ([file], Some(grid)) = (files.as_slice(), files[0].on_site_axes()) {
        return match grid {
            Ok(mut grid) => {
                let gaps = grid.fill_gaps();
                let (west_m, south_m) = (grid.west_m - keys.origin_m[0], grid.south_m - keys.origin_m[1]);
                Some(Source::Grid(Terrain { file: PathBuf::from(&file.name), west_m, south_m, ..grid }, gaps))
            }
            Err(fault) => {
                tell(s, &file.name, Unreadable { fault, text: file.text().cloned() });
                None
            }
        };
    }
    Some(Source::Rasters(RasterGround::new(files, frame.map(|at| at(0.0)), keys.origin_m), stated))
}

/// A mistake in a file: at its line, or else at the key.
fn tell(s: &Section, name: &str, Unreadable { fault, text }: Unreadable) {
    match text {
        Some(text) => {
            let (key, found, accepted) = (String::new(), fault.found, fault.accepted);
            s.sink.push_in(name, &text, FileFault { line: fault.line, key, found, accepted });
        }
        None => s.error(FILE, format!("{} (\"{name}\")", fault.found), fault.accepted),
    }
}

/// Share of the site's points without a height that passes without a word, and the one from which it is no ground. Estimates.
const GAPS: [f64; 2] = [0.001, 0.5];

/// Whether heights are counted from the ellipsoid.
fn above_ellipsoid(s: &Section, files: &[RasterFile], keys: &Keys) -> bool {
    let says = |what| files.iter().find(|file| file.vertical == what);
    match keys.from {
        Stated::SeaLevel => false,
        Stated::Ellipsoid => true,
        Stated::AsTheFileSays => {
            if let (Some(one), Some(other)) = (says(Vertical::Ellipsoid), says(Vertical::SeaLevel)) {
                let found = format!(
                    "heights above the ellipsoid (\"{}\") beside some above the sea (\"{}\")",
                    one.name, other.name
                );
                s.error(FILE, found, "files with heights of one kind, or `terrain_heights` where a file is wrong");
            }
            says(Vertical::Ellipsoid).is_some()
        }
    }
}

impl Source {
    fn files(&self) -> &[RasterFile] {
        match self {
            Source::Grid(..) => &[],
            Source::Rasters(ground, _) => ground.files(),
        }
    }

    /// What the heights are counted from; keys that do not count with these files are told.
    fn level(&mut self, s: &Section, keys: &Keys) -> Level {
        let above_ellipsoid = above_ellipsoid(s, self.files(), keys);
        let facts = match &*self {
            Source::Grid(..) => Facts { on_site_axes: true, by_stated_code: false, above_ellipsoid },
            Source::Rasters(ground, stated) => Facts {
                on_site_axes: ground.files().iter().any(|file| file.crs == Crs::Site),
                by_stated_code: ground.files().iter().any(|file| Some(&file.crs) == stated.as_ref()),
                above_ellipsoid,
            },
        };
        warn_of_idle_keys(s, Some(&facts));
        let geoid_m = match keys.geoid_m {
            None if above_ellipsoid => {
                let found = "heights above the ellipsoid without `geoid_above_ellipsoid_m`: heights above the sea, as in a path file, are off by as much";
                s.warn(
                    FILE,
                    found,
                    "`geoid_above_ellipsoid_m`: mean sea level is 107 m below to 85 m above the ellipsoid",
                );
                0.0
            }
            Some(geoid_m) if above_ellipsoid => geoid_m,
            _ => 0.0,
        };
        Level { geoid_m, origin_m: self.origin_m(s).map(|height_m| height_m - geoid_m) }
    }

    /// The height at x = y = 0.
    fn origin_m(&mut self, s: &Section) -> Option<f64> {
        match self {
            Source::Grid(grid, _) => {
                let half_m = 0.5 * grid.cell_m;
                let [west, south, east, north] = grid.bounds_m();
                let is_there = west <= half_m && south <= half_m && east >= -half_m && north >= -half_m;
                is_there.then(|| grid.ground_m(0.0, 0.0))
            }
            Source::Rasters(ground, _) => match ground.height_m([0.0, 0.0]) {
                Ok(height_m) => height_m,
                Err(at) => {
                    tell_of(s, ground, at);
                    None
                }
            },
        }
    }

    /// The ground over an extent, heights as in the files.
    fn over(self, s: &Section, keys: &Keys, frame: Option<LocalFrame>, extent_m: [f64; 4]) -> Option<Terrain> {
        let mut ground = match self {
            Source::Grid(grid, gaps) => {
                let [west, south, east, north] = grid.bounds_m();
                let lie = || format!("it goes from {west:.0}, {south:.0} to {east:.0}, {north:.0}");
                let moved = "a terrain under the site; `terrain_origin_m` moves it";
                let grid = judged(s, Patch::of_grid(grid, &gaps, extent_m), lie, moved)?;
                if (grid.height_m.len() as f64) <= CELLS_AT_MOST {
                    return Some(grid);
                }
                let [west, south, east, north] = extent_m;
                return Some(grid.cut([west - MARGIN_M, south - MARGIN_M, east + MARGIN_M, north + MARGIN_M]));
            }
            Source::Rasters(ground, _) => ground.with_frame(frame),
        };
        let patch = match ground.over(extent_m, MARGIN_M) {
            Ok(patch) => patch,
            Err(at) => {
                tell_of(s, &ground, at);
                return None;
            }
        };
        let lie = || ground.files().iter().map(RasterFile::place_in_words).collect::<Vec<_>>().join(", ");
        let tied = "a terrain under the site: are `lat_deg` and `lon_deg` those of its origin?";
        let terrain = judged(s, patch, lie, tied)?;
        Some(Terrain { file: PathBuf::from(&keys.names[0]), ..terrain })
    }
}

fn tell_of(s: &Section, ground: &RasterGround, at: crate::geodata::FileFault) {
    let file = &ground.files()[at.file];
    tell(s, &file.name, Unreadable { fault: at.fault, text: file.text().cloned() });
}

/// The ground, where enough of it is known; what is not is told. `lie`: where the files lie, `under`: how they come to lie under the site.
fn judged(s: &Section, patch: Patch, lie: impl Fn() -> String, under: &str) -> Option<Terrain> {
    let Patch { terrain, voids, beyond_share } = patch;
    let percent = |share: f64| tidy((1000.0 * share).round() / 10.0);
    if beyond_share >= 1.0 {
        s.error(FILE, format!("a terrain wholly beside the site: {}", lie()), under);
        return None;
    }
    if voids.share + beyond_share > GAPS[1] {
        let found = format!("heights for {} % of the site only", percent(1.0 - voids.share - beyond_share));
        s.error(FILE, found, "a terrain that has heights for at least half of the site");
        return None;
    }
    if beyond_share > 0.0 {
        let found = format!(
            "a terrain that does not cover {} % of the site; there the ground goes on about level",
            percent(beyond_share.max(0.001))
        );
        s.warn(FILE, found, "a terrain as large as `extent_m`, or one more file for the rest");
    }
    if voids.share > GAPS[0] {
        let [x, y] = voids.largest_at_m;
        let found = format!(
            "no heights for {} % of the site (voids; the largest, of {:.1} ha, about x {x:.0}, y {y:.0}); they are filled from around",
            percent(voids.share),
            voids.largest_m2 * 1e-4
        );
        s.warn(FILE, found, "a terrain without voids where the craft flies; a second file fills those of the first");
    }
    Some(terrain)
}

/// What stands on a surface model is in it already.
pub(super) fn warn_of_heights_twice(s: &Section, is: TerrainIs, obstacles: &[Obstacle]) {
    let count = obstacles.iter().filter(|obstacle| obstacle.kind != ObstacleKind::Wire).count();
    if is == TerrainIs::Surface && count > 0 {
        let things = if count == 1 { "1 building or wood".to_string() } else { format!("{count} buildings and woods") };
        let found = format!(
            "a surface model, and {things} drawn on it: as far as the surface shows them, their heights count twice"
        );
        s.warn("terrain_is", found, "a bare-earth model, or nothing drawn that the surface shows");
    }
}
