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

/// The heights of a site.
pub(super) struct Heights {
    /// z = 0 above mean sea level.
    pub zero_m: f64,
    /// The ground, from z = 0.
    pub terrain: Option<Terrain>,
    /// What it is.
    pub is: TerrainIs,
    /// Mean sea level above the ellipsoid, when stated.
    pub geoid_m: Option<f64>,
}

/// What is said about the files.
struct Keys {
    names: Vec<String>,
    origin_m: [f64; 2],
    epsg: Option<u64>,
    from: Stated,
    geoid_m: Option<f64>,
}

/// A key for the names of the files.
const FILE: &str = "terrain_file";

/// Around the extent: what looks a little beyond it finds ground too.
const MARGIN_M: f64 = 300.0;

/// Height of z = 0 above the sea, and the ground heights from there. What is not stated is the ground at the origin. `over_m`: the extent
/// over which the ground is read; `None`: nowhere.
pub(super) fn read_heights(s: &Section, keep: &Keeper, frame: Tied, over_m: Option<[f64; 4]>) -> Heights {
    let keys = read_keys(s);
    let is = s.word(
        "terrain_is",
        &IS,
        "unsaid",
        "the error is that of a surface then",
        "What the heights are of: the surface with roofs and crowns, or the bare earth",
    );
    let mut source = over_m.and_then(|over_m| open(s, keep, &keys, frame, over_m));
    let geoid_m = source.as_ref().map_or(0.0, |source| sea_level_m(s, source, &keys));
    let ground_m = source.as_mut().and_then(|source| source.origin_m(s)).map(|height_m| height_m - geoid_m);
    let limits = between(-500.0, 6000.0);
    let height_amsl_m = s.number(
        "height_amsl_m",
        limits,
        ground_m.unwrap_or(0.0),
        "sea level, or the terrain file's height at x = y = 0",
        "Height of z = 0 above mean sea level",
    );
    if !s.has("height_amsl_m") && source.is_some() {
        match ground_m {
            Some(ground_m) if !limits.allow(ground_m) => s.error(
                FILE,
                format!("a ground at {} m above the sea at x = y = 0", tidy(ground_m)),
                "heights of -500 to 6000 m, or `height_amsl_m`",
            ),
            None => {
                s.error(FILE, "no height at x = y = 0, from which heights are counted", "`height_amsl_m` in `[site]`")
            }
            _ => {}
        }
    }
    let mut terrain = source
        .zip(over_m)
        .and_then(|(source, over_m)| source.over(s, &keys, frame.map(|at| at(height_amsl_m)), over_m));
    for height in terrain.iter_mut().flat_map(|grid| &mut grid.height_m) {
        *height = (f64::from(*height) - geoid_m - height_amsl_m) as f32;
    }
    Heights { zero_m: height_amsl_m, terrain, is, geoid_m: keys.geoid_m }
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

/// Ground that is opened and not yet laid over the site.
enum Source {
    /// A grid of metres on the site's axes, as it stands.
    Grid(Terrain),
    /// Whatever has to be laid on the site's axes first.
    Rasters(RasterGround),
}

/// The ground of the files, opened; every mistake in them is told.
fn open(s: &Section, keep: &Keeper, keys: &Keys, frame: Tied, over_m: [f64; 4]) -> Option<Source> {
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
            Ok(grid) => Some(Source::Grid(on_axes(s, grid, file, keys)?)),
            Err(fault) => {
                tell(s, &file.name, Unreadable { fault, text: file.text().map(String::from) });
                None
            }
        };
    }
    let mut ground = RasterGround::new(files, frame.map(|at| at(0.0)), keys.origin_m);
    match ground.hold(over_m, MARGIN_M) {
        Ok(()) => Some(Source::Rasters(ground)),
        Err(at) => {
            tell_of(s, &ground, at);
            None
        }
    }
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

/// A grid on the site's axes.
fn on_axes(s: &Section, grid: Terrain, file: &RasterFile, keys: &Keys) -> Option<Terrain> {
    let all = grid.height_m.len();
    let share = grid.filled as f64 / all as f64;
    let found = format!("{} of {all} points without a height", grid.filled);
    if share > GAPS[1] {
        s.error(FILE, found, "a grid in which at least half of the points have one");
    } else if share > GAPS[0] {
        let found = format!("{found}; they are given one from those around");
        s.warn(FILE, found, "a grid without gaps where the craft flies");
    }
    let (west_m, south_m) = (grid.west_m - keys.origin_m[0], grid.south_m - keys.origin_m[1]);
    Some(Terrain { file: PathBuf::from(&file.name), west_m, south_m, ..grid })
}

/// Share of a grid's points without a height that passes without a word, and the one from which it is no grid of heights. Estimates.
const GAPS: [f64; 2] = [0.001, 0.5];

/// By how much the files' heights are too great to be counted from mean sea level.
fn sea_level_m(s: &Section, source: &Source, keys: &Keys) -> f64 {
    let files = match source {
        Source::Grid(_) => &[],
        Source::Rasters(ground) => ground.files(),
    };
    let says = |what| files.iter().find(|file| file.vertical == what);
    let from_ellipsoid = match keys.from {
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
    };
    match (from_ellipsoid, keys.geoid_m) {
        (true, None) => {
            let found = "heights above the ellipsoid without `geoid_above_ellipsoid_m`: heights above the sea, as in a path file, are off by as much";
            s.warn(FILE, found, "`geoid_above_ellipsoid_m`: mean sea level is 107 m below to 85 m above the ellipsoid");
            0.0
        }
        (true, Some(geoid_m)) => geoid_m,
        (false, Some(_)) => {
            let found = "a geoid, which counts only where heights of the terrain are above the ellipsoid";
            s.warn(
                "geoid_above_ellipsoid_m",
                found,
                "`terrain_heights = \"ellipsoid\"`, or no `geoid_above_ellipsoid_m`",
            );
            0.0
        }
        (false, None) => 0.0,
    }
}

/// Where the site lies on Earth once the height of its origin is known; `None` where it is not tied to it.
pub(super) type Tied<'f> = Option<&'f dyn Fn(f64) -> LocalFrame>;

impl Source {
    /// The height at x = y = 0.
    fn origin_m(&mut self, s: &Section) -> Option<f64> {
        match self {
            Source::Grid(grid) => Some(grid.ground_m(0.0, 0.0)),
            Source::Rasters(ground) => match ground.height_m([0.0, 0.0]) {
                Ok(height_m) => height_m,
                Err(at) => {
                    tell_of(s, ground, at);
                    None
                }
            },
        }
    }

    /// The ground over an extent.
    fn over(self, s: &Section, keys: &Keys, frame: Option<LocalFrame>, extent_m: [f64; 4]) -> Option<Terrain> {
        let mut ground = match self {
            Source::Grid(grid) if (grid.height_m.len() as f64) <= CELLS_AT_MOST => return Some(grid),
            Source::Grid(grid) => {
                let [west, south, east, north] = extent_m;
                return Some(grid.cut([west - MARGIN_M, south - MARGIN_M, east + MARGIN_M, north + MARGIN_M]));
            }
            Source::Rasters(ground) => ground.with_frame(frame),
        };
        match ground.over(extent_m, MARGIN_M) {
            Ok(patch) => judged(s, keys, &ground, patch),
            Err(at) => {
                tell_of(s, &ground, at);
                None
            }
        }
    }
}

fn tell_of(s: &Section, ground: &RasterGround, at: crate::geodata::FileFault) {
    let file = &ground.files()[at.file];
    tell(s, &file.name, Unreadable { fault: at.fault, text: file.text().map(String::from) });
}

/// The ground, where enough of it is known; what is not is told.
fn judged(s: &Section, keys: &Keys, ground: &RasterGround, patch: Patch) -> Option<Terrain> {
    let Patch { terrain, voids, beyond_share } = patch;
    let percent = |share: f64| tidy((1000.0 * share).round() / 10.0);
    if beyond_share >= 1.0 {
        let lie: Vec<String> = ground.files().iter().map(RasterFile::place_in_words).collect();
        let found = format!("a terrain wholly beside the site: {}", lie.join(", "));
        let accepted = "a terrain under the site: are `lat_deg` and `lon_deg` those of its origin?";
        s.error(FILE, found, accepted);
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
    Some(Terrain { file: PathBuf::from(&keys.names[0]), ..terrain })
}

/// What stands on a surface model is in it already.
pub(super) fn warn_of_heights_twice(s: &Section, is: TerrainIs, has_terrain: bool, obstacles: &[Obstacle]) {
    let count = obstacles.iter().filter(|obstacle| obstacle.kind != ObstacleKind::Wire).count();
    if is == TerrainIs::Surface && has_terrain && count > 0 {
        let things = if count == 1 { "1 building or wood".to_string() } else { format!("{count} buildings and woods") };
        let found = format!(
            "a surface model, and {things} drawn on it: as far as the surface shows them, their heights count twice"
        );
        s.warn("terrain_is", found, "a bare-earth model, or nothing drawn that the surface shows");
    }
}
