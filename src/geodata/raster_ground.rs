//! Rasters joined and laid over a site: heights on a lattice of local metres.

use super::crs::Crs;
use super::raster::{GridFault, Lattice, VALUES_AT_MOST, Window};
use super::raster_file::RasterFile;
use crate::geometry::distance_m;
use crate::site::{CELLS_AT_MOST, Terrain};
use crate::sky::LocalFrame;
use rayon::prelude::*;
use std::path::PathBuf;
use std::sync::Arc;

/// Spacings of the local lattice. All of them divide [`BLOCK_M`].
const SPACINGS_M: [f64; 8] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0];

/// Places are turned into coordinates of a raster exactly every so far, and in between in proportion: off by 3 mm times the tangent of
/// the latitude, for meridians run together by x · y · tan φ / R.
const BLOCK_M: f64 = 400.0;

/// The local lattice is so much finer than the samples: where two of their planes meet at an edge, what is cut off it stays small.
const FINER: f64 = 4.0;

/// Rasters over a site, the first of them on top.
pub struct RasterGround {
    files: Vec<RasterFile>,
    frame: Option<LocalFrame>,
    site_at: [f64; 2],
    /// What has been read of each file last.
    held: Vec<Option<Arc<Held>>>,
}

/// A part of a file.
struct Held {
    window: Window,
    values: Vec<f32>,
}

/// Ground over a site, laid from rasters.
#[derive(Debug, Clone)]
pub struct Patch {
    /// The ground, without gaps.
    pub terrain: Terrain,
    /// Places within the site that lie in a raster but have no height there.
    pub voids: Voids,
    /// Share of the site that lies beyond all rasters.
    pub beyond_share: f64,
}

/// Gaps of the rasters within a site, before they were filled.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Voids {
    /// Their share of the site.
    pub share: f64,
    /// Size of the largest.
    pub largest_m2: f64,
    /// About its middle.
    pub largest_at_m: [f64; 2],
}

/// A file that is at fault: its place in the list, and the fault.
#[derive(Debug, Clone, PartialEq)]
pub struct FileFault {
    /// Its place in the list.
    pub file: usize,
    /// What is wrong.
    pub fault: GridFault,
}

/// What a place of a raster holds.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Found {
    Beyond,
    Void,
    /// Not between samples but half a sample's width around them: the height of the nearest.
    Rim(f64),
    Height(f64),
}

/// A part of a file, and where it lies.
struct Sheet {
    lattice: Lattice,
    held: Arc<Held>,
    /// Which of the coordinate systems it has.
    slot: usize,
    /// Whole turns to be added to a longitude.
    turn_deg: f64,
    /// Sheets of the same samples, in the order of the files, each with the columns and rows by which it begins later.
    alike: Vec<Alike>,
}

#[derive(Clone, Copy)]
struct Alike {
    sheet: usize,
    shift: [i64; 2],
}

impl Sheet {
    /// Column and row, counted from its first sample.
    fn index(&self, coordinates: [f64; 2]) -> [f64; 2] {
        let [x, y] = coordinates;
        self.lattice.from_first(self.lattice.lattice_index([x + self.turn_deg, y]))
    }

    /// A sample that is held; `None` beyond.
    fn sample(&self, column: i64, row: i64) -> Option<f32> {
        let (column, row) = (usize::try_from(column).ok()?, usize::try_from(row).ok()?);
        let Held { window, values } = &*self.held;
        if !(window.columns.contains(&column) && window.rows.contains(&row)) {
            return None;
        }
        let at = (row - window.rows.start) * window.columns.len() + (column - window.columns.start);
        values.get(at).copied()
    }
}

/// Coordinates of places in one system: exact at the corners of blocks.
struct Nodes {
    west: i64,
    south: i64,
    columns: usize,
    values: Vec<[f64; 2]>,
}

impl Nodes {
    /// Between the corners of a block.
    fn at(&self, block: [i64; 2], [tx, ty]: [f64; 2]) -> [f64; 2] {
        let at = (block[1] - self.south) as usize * self.columns + (block[0] - self.west) as usize;
        let corner = |index: usize| self.values.get(index).copied().unwrap_or([f64::NAN; 2]);
        let [sw, se] = [corner(at), corner(at + 1)];
        let [nw, ne] = [corner(at + self.columns), corner(at + self.columns + 1)];
        [0, 1].map(|axis| {
            let south = sw[axis] + tx * (se[axis] - sw[axis]);
            let north = nw[axis] + tx * (ne[axis] - nw[axis]);
            south + ty * (north - south)
        })
    }
}

/// The lattice of local metres: whole numbers of steps from the origin, so that any two parts of it agree.
#[derive(Debug, Clone, Copy)]
struct Local {
    step_m: f64,
    west: i64,
    south: i64,
    columns: usize,
    rows: usize,
}

impl Local {
    fn over([west, south, east, north]: [f64; 4], step_m: f64) -> Local {
        let index = |value: f64| value / step_m;
        let (west, south) = (index(west).floor() as i64, index(south).floor() as i64);
        let (east, north) = (index(east).ceil() as i64, index(north).ceil() as i64);
        Local { step_m, west, south, columns: (east - west + 1) as usize, rows: (north - south + 1) as usize }
    }

    fn place_m(&self, at: usize) -> [f64; 2] {
        let (column, row) = ((at % self.columns) as i64, (at / self.columns) as i64);
        [(self.west + column) as f64 * self.step_m, (self.south + row) as f64 * self.step_m]
    }
}

impl RasterGround {
    /// Rasters in the order in which they count. `frame` ties the site to the Earth; grids on the site's own axes have `site_at` for its
    /// origin.
    pub fn new(files: Vec<RasterFile>, frame: Option<LocalFrame>, site_at: [f64; 2]) -> RasterGround {
        let held = files.iter().map(|_| None).collect();
        RasterGround { files, frame, site_at, held }
    }

    /// The files.
    pub fn files(&self) -> &[RasterFile] {
        &self.files
    }

    /// Another tie to the Earth: heights of the origin change the scale of local metres a little.
    #[must_use]
    pub fn with_frame(self, frame: Option<LocalFrame>) -> RasterGround {
        RasterGround { frame, ..self }
    }

    /// Coordinates of a place.
    fn coordinates(&self, crs: &Crs, [x, y]: [f64; 2]) -> Option<[f64; 2]> {
        if *crs == Crs::Site {
            return Some([x + self.site_at[0], y + self.site_at[1]]);
        }
        let frame = self.frame?;
        let [lat_deg, lon_deg] = frame.degrees_from_local([x, y]);
        let about = frame.origin().lon_deg();
        crs.from_degrees(lat_deg, lon_deg + 360.0 * ((about - lon_deg) / 360.0).round())
    }

    /// The height of the ground at a place; `None` where no raster has one.
    ///
    /// # Errors
    /// The file that cannot be read.
    pub fn height_m(&mut self, place_m: [f64; 2]) -> Result<Option<f64>, FileFault> {
        let systems = self.systems();
        let coordinates: Vec<[f64; 2]> =
            systems.iter().map(|crs| self.coordinates(crs, place_m).unwrap_or([f64::NAN; 2])).collect();
        let sheets = self.sheets(&systems, |slot| vec![coordinates[slot]])?;
        Ok(match found(&sheets, |slot| coordinates[slot]) {
            Found::Height(height_m) => Some(height_m),
            _ => None,
        })
    }

    /// Reads what lies over an extent and a margin around it, so that it need not be read again.
    ///
    /// # Errors
    /// The file that cannot be read, or that has too many samples there.
    pub fn hold(&mut self, extent_m: [f64; 4], margin_m: f64) -> Result<(), FileFault> {
        let systems = self.systems();
        let nodes = self.nodes(&systems, beyond(extent_m, margin_m));
        self.sheets(&systems, |slot| nodes[slot].values.clone()).map(drop)
    }

    /// The ground over an extent and a margin around it.
    ///
    /// # Errors
    /// The file that cannot be read, or that has too many samples there.
    pub fn over(&mut self, extent_m: [f64; 4], margin_m: f64) -> Result<Patch, FileFault> {
        let bounds = beyond(extent_m, margin_m);
        let systems = self.systems();
        let nodes = self.nodes(&systems, bounds);
        let sheets = self.sheets(&systems, |slot| nodes[slot].values.clone())?;
        let step_m = self.step_m(&sheets, &systems, extent_m, bounds);
        let local = Local::over(bounds, step_m);
        let per_block = (BLOCK_M / step_m).round() as i64;
        let mut heights = vec![f32::NAN; local.columns * local.rows];
        heights.par_chunks_mut(local.columns).enumerate().for_each(|(row, line)| {
            let j = local.south + row as i64;
            for (column, height_m) in line.iter_mut().enumerate() {
                let i = local.west + column as i64;
                let block = [i.div_euclid(per_block), j.div_euclid(per_block)];
                let within = [i, j].map(|index| index.rem_euclid(per_block) as f64 / per_block as f64);
                *height_m = match found(&sheets, |slot| nodes[slot].at(block, within)) {
                    Found::Height(height_m) | Found::Rim(height_m) => height_m as f32,
                    Found::Void => f32::NAN,
                    Found::Beyond => f32::INFINITY,
                };
            }
        });
        Ok(patch(local, heights, extent_m))
    }

    /// Coordinates of the corners of blocks within some edges and around them.
    fn nodes(&self, systems: &[Crs], bounds: [f64; 4]) -> Vec<Nodes> {
        let blocks = Local::over(bounds, BLOCK_M);
        // One block more at the east and north edge: a point on the last corner lies in the block behind it.
        let (columns, rows) = (blocks.columns + 1, blocks.rows + 1);
        let whole = Local { columns, rows, ..blocks };
        let of = |crs| {
            let corner = |at| self.coordinates(crs, whole.place_m(at)).unwrap_or([f64::NAN; 2]);
            Nodes { west: blocks.west, south: blocks.south, columns, values: (0..columns * rows).map(corner).collect() }
        };
        systems.iter().map(of).collect()
    }

    /// The coordinate systems of the files, each once.
    fn systems(&self) -> Vec<Crs> {
        let mut systems: Vec<Crs> = Vec::new();
        for file in &self.files {
            if !systems.contains(&file.crs) {
                systems.push(file.crs.clone());
            }
        }
        systems
    }

    /// The parts of the files around places, given in the coordinates of each system.
    fn sheets(&mut self, systems: &[Crs], places: impl Fn(usize) -> Vec<[f64; 2]>) -> Result<Vec<Sheet>, FileFault> {
        let places: Vec<Vec<[f64; 2]>> = (0..systems.len()).map(places).collect();
        let mut sheets: Vec<Sheet> = Vec::new();
        let mut left = VALUES_AT_MOST;
        for (number, file) in self.files.iter_mut().enumerate() {
            let slot = systems.iter().position(|crs| *crs == file.crs).unwrap_or(0);
            let turn_deg = if file.crs.is_in_degrees() { turn_deg(&file.lattice, &places[slot]) } else { 0.0 };
            let nothing = Arc::new(Held { window: Window { columns: 0..0, rows: 0..0 }, values: Vec::new() });
            let mut sheet = Sheet { lattice: file.lattice, held: nothing, slot, turn_deg, alike: Vec::new() };
            let held = &mut self.held[number];
            let Some(needed) = window_of(&sheet, &places[slot], 2) else { continue };
            if let Some(held) = held.as_ref().filter(|held| held.window.holds(&needed)) {
                left = left.saturating_sub(held.values.len());
                sheet.held = held.clone();
                sheets.push(sheet);
                continue;
            }
            // Some more than needed: another height of the origin moves the edges by a few metres.
            let Some(window) = window_of(&sheet, &places[slot], 6) else { continue };
            // A text is read from its beginning to its end whatever is wanted of it: if it is small, once.
            let whole = file.lattice.whole();
            let window = if file.text().is_some() && whole.count() <= left / 4 { whole } else { window };
            let count = window.count();
            if count > left {
                let found = format!("{:.0} million samples over the site", count as f64 * 1e-6);
                let accepted =
                    format!("at most {} million: a coarser raster or a smaller `extent_m`", VALUES_AT_MOST / 1_000_000);
                return Err(FileFault { file: number, fault: GridFault { line: None, found, accepted } });
            }
            left -= count;
            let values = file.read(&window).map_err(|fault| FileFault { file: number, fault })?;
            sheet.held = Arc::new(Held { window, values });
            *held = Some(sheet.held.clone());
            sheets.push(sheet);
        }
        for index in 0..sheets.len() {
            sheets[index].alike = (0..sheets.len())
                .filter(|&other| {
                    sheets[other].slot == sheets[index].slot && sheets[other].turn_deg == sheets[index].turn_deg
                })
                .filter_map(|other| {
                    let shift = sheets[index].lattice.shift_to(&sheets[other].lattice)?;
                    Some(Alike { sheet: other, shift })
                })
                .collect();
        }
        Ok(sheets)
    }

    /// Spacing of the local lattice: finer than the finest samples, and not so fine that there are too many points.
    fn step_m(&self, sheets: &[Sheet], systems: &[Crs], [west, south, east, north]: [f64; 4], bounds: [f64; 4]) -> f64 {
        let middle = [0.5 * (west + east), 0.5 * (south + north)];
        let spacing = |sheet: &Sheet| {
            let at = |place| self.coordinates(&systems[sheet.slot], place).map(|found| sheet.index(found));
            let (here, there) = (at(middle)?, [at([middle[0] + 1.0, middle[1]])?, at([middle[0], middle[1] + 1.0])?]);
            let per_metre =
                [0, 1].map(|axis| distance_m([there[0][axis] - here[axis], there[1][axis] - here[axis]], [0.0; 2]));
            Some(1.0 / per_metre[0].max(per_metre[1]))
        };
        let finest = sheets.iter().filter_map(spacing).fold(f64::INFINITY, f64::min);
        let wanted = SPACINGS_M.iter().rposition(|step| *step <= finest / FINER).unwrap_or(0);
        let fits = |step: &&f64| {
            let local = Local::over(bounds, **step);
            (local.columns * local.rows) as f64 <= CELLS_AT_MOST
        };
        SPACINGS_M[wanted..].iter().find(fits).copied().unwrap_or(SPACINGS_M[SPACINGS_M.len() - 1])
    }
}

/// Whole turns that bring longitudes to those of a raster: one across the date line, or counted from 0 to 360.
fn turn_deg(lattice: &Lattice, places: &[[f64; 2]]) -> f64 {
    let near = places.iter().map(|place| place[0]).find(|lon| lon.is_finite()).unwrap_or(0.0);
    360.0 * ((lattice.middle()[0] - near) / 360.0).round()
}

/// Edges with a margin around them.
fn beyond([west, south, east, north]: [f64; 4], margin_m: f64) -> [f64; 4] {
    [west - margin_m, south - margin_m, east + margin_m, north + margin_m]
}

/// The samples of a sheet around places, with some more on every side; `None` when there are none.
fn window_of(sheet: &Sheet, places: &[[f64; 2]], more: usize) -> Option<Window> {
    let mut range = [[f64::INFINITY, f64::NEG_INFINITY]; 2];
    for index in
        places.iter().filter(|place| place.iter().all(|part| part.is_finite())).map(|place| sheet.index(*place))
    {
        for axis in 0..2 {
            range[axis] = [range[axis][0].min(index[axis]), range[axis][1].max(index[axis])];
        }
    }
    let clipped = |[low, high]: [f64; 2], count: usize| {
        let from = (low - more as f64).floor().clamp(0.0, count as f64) as usize;
        let to = (high + more as f64 + 1.0).ceil().clamp(0.0, count as f64) as usize;
        from..to
    };
    let window =
        Window { columns: clipped(range[0], sheet.lattice.columns), rows: clipped(range[1], sheet.lattice.rows) };
    (!window.columns.is_empty() && !window.rows.is_empty()).then_some(window)
}

/// What the first raster that has a height at a place says, its coordinates given by system. Between the samples of a later one is better
/// than beside those of the first.
fn found(sheets: &[Sheet], coordinates: impl Fn(usize) -> [f64; 2]) -> Found {
    let mut met = Found::Beyond;
    for sheet in sheets {
        match (sample(sheets, sheet, sheet.index(coordinates(sheet.slot))), met) {
            (Found::Height(height_m), _) => return Found::Height(height_m),
            (Found::Rim(height_m), Found::Beyond | Found::Void) => met = Found::Rim(height_m),
            (Found::Void, Found::Beyond) => met = Found::Void,
            _ => {}
        }
    }
    if let Found::Rim(height_m) = met { Found::Height(height_m) } else { met }
}

/// Half a sample's width around a raster belongs to it, and a hair for rounding.
const RIM: f64 = 0.5 + 1e-6;

/// Between four samples, of this sheet or of one of the same samples that goes on where it ends; at an outer edge as at the edge.
fn sample(sheets: &[Sheet], sheet: &Sheet, [column, row]: [f64; 2]) -> Found {
    let last = [sheet.lattice.columns as f64 - 1.0, sheet.lattice.rows as f64 - 1.0];
    // Not a number is within nothing.
    if !(column >= -RIM && row >= -RIM && column <= last[0] + RIM && row <= last[1] + RIM) {
        return Found::Beyond;
    }
    let (left, top) = (column.floor(), row.floor());
    let (tx, ty) = (column - left, row - top);
    let (left, top) = (left as i64, top as i64);
    let (mut height_m, mut is_rim) = (0.0, false);
    for (i, j, weight) in
        [(0, 0, (1.0 - tx) * (1.0 - ty)), (1, 0, tx * (1.0 - ty)), (0, 1, (1.0 - tx) * ty), (1, 1, tx * ty)]
    {
        if weight > 0.0 {
            let at = [left + i, top + j];
            let value = corner(sheets, sheet, at).unwrap_or_else(|| {
                is_rim = true;
                nearest(sheet, at)
            });
            if value.is_nan() {
                return Found::Void;
            }
            height_m += weight * f64::from(value);
        }
    }
    if is_rim { Found::Rim(height_m) } else { Found::Height(height_m) }
}

/// A sample by its column and row in a sheet: of the first sheet alike that has a height there, else NaN; `None` where none has a sample.
fn corner(sheets: &[Sheet], sheet: &Sheet, [column, row]: [i64; 2]) -> Option<f32> {
    let mut there = None;
    for Alike { sheet, shift } in &sheet.alike {
        let value = sheets[*sheet].sample(column - shift[0], row - shift[1]);
        if value.is_some_and(|value| !value.is_nan()) {
            return value;
        }
        there = there.or(value);
    }
    there
}

/// The nearest sample of a sheet's own.
fn nearest(sheet: &Sheet, [column, row]: [i64; 2]) -> f32 {
    let inside = |index: i64, count: usize| index.clamp(0, count as i64 - 1);
    let (column, row) = (inside(column, sheet.lattice.columns), inside(row, sheet.lattice.rows));
    sheet.sample(column, row).unwrap_or(f32::NAN)
}

/// The ground from heights in which NaN is a void and infinity lies beyond.
fn patch(local: Local, mut height_m: Vec<f32>, [west, south, east, north]: [f64; 4]) -> Patch {
    let within = |at: usize| {
        let [x, y] = local.place_m(at);
        x >= west && x <= east && y >= south && y <= north
    };
    let (mut all, mut beyond) = (0, 0);
    let mut is_void = vec![false; height_m.len()];
    for (at, height_m) in height_m.iter_mut().enumerate() {
        let counts = within(at);
        all += usize::from(counts);
        is_void[at] = counts && height_m.is_nan();
        if height_m.is_infinite() {
            beyond += usize::from(counts);
            *height_m = f32::NAN;
        }
    }
    let (west_m, south_m) = (local.west as f64 * local.step_m, local.south as f64 * local.step_m);
    let mut terrain = Terrain {
        file: PathBuf::new(),
        west_m,
        south_m,
        cell_m: local.step_m,
        columns: local.columns,
        rows: local.rows,
        height_m: height_m.into(),
    };
    let share = is_void.iter().filter(|void| **void).count() as f64 / all.max(1) as f64;
    let voids = Voids { share, ..largest(&terrain, is_void) };
    terrain.fill_gaps();
    Patch { terrain, voids, beyond_share: beyond as f64 / all.max(1) as f64 }
}

impl Patch {
    /// A grid on the site's own axes as it stands, over an extent. `gaps`: its points that were without a height.
    pub fn of_grid(terrain: Terrain, gaps: &[usize], [west, south, east, north]: [f64; 4]) -> Patch {
        let half_m = 0.5 * terrain.cell_m;
        let [left, bottom, right, top] = beyond(terrain.bounds_m(), half_m + 1e-6);
        let common_m = [(right.min(east) - left.max(west)).max(0.0), (top.min(north) - bottom.max(south)).max(0.0)];
        let covered = common_m[0] * common_m[1] / ((east - west) * (north - south));
        // A point stands for the square about it, of which the part within the extent counts.
        let within_m2 = |at: usize| {
            let [x, y] = terrain.place_m(at);
            let common_m = |at: f64, low: f64, high: f64| ((at + half_m).min(high) - (at - half_m).max(low)).max(0.0);
            common_m(x, west, east) * common_m(y, south, north)
        };
        let mut is_void = vec![false; if gaps.is_empty() { 0 } else { terrain.height_m.len() }];
        let mut void_m2 = 0.0;
        for at in gaps {
            let common_m2 = within_m2(*at);
            is_void[*at] = common_m2 > 0.0;
            void_m2 += common_m2;
        }
        let voids = Voids { share: void_m2 / ((east - west) * (north - south)), ..largest(&terrain, is_void) };
        // A strip along an edge that is no wider than a rounding error lies beyond nothing.
        Patch { terrain, voids, beyond_share: if covered > 1.0 - 1e-9 { 0.0 } else { 1.0 - covered } }
    }
}

/// The largest patch of points that touch each other.
fn largest(terrain: &Terrain, mut open: Vec<bool>) -> Voids {
    let mut most = Voids::default();
    for start in 0..open.len() {
        if !open[start] {
            continue;
        }
        let (mut count, mut sum) = (0.0, [0.0; 2]);
        let mut next = vec![start];
        open[start] = false;
        while let Some(at) = next.pop() {
            let [x, y] = terrain.place_m(at);
            (count, sum) = (count + 1.0, [sum[0] + x, sum[1] + y]);
            for near in terrain.beside(at) {
                if std::mem::take(&mut open[near]) {
                    next.push(near);
                }
            }
        }
        let size_m2 = count * terrain.cell_m * terrain.cell_m;
        if size_m2 > most.largest_m2 {
            most = Voids { share: 0.0, largest_m2: size_m2, largest_at_m: [sum[0] / count, sum[1] / count] };
        }
    }
    most
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::Geodetic;
    use std::io::Cursor;

    /// A grid from the height of each of its places.
    fn grid(
        [columns, rows]: [usize; 2],
        [west, south]: [f64; 2],
        cell: f64,
        crs: &Crs,
        height_m: impl Fn(f64, f64) -> f64,
    ) -> RasterFile {
        let mut text = format!(
            "ncols {columns}\nnrows {rows}\nxllcenter {west}\nyllcenter {south}\ncellsize {cell}\nnodata_value -9999\n"
        );
        for row in (0..rows).rev() {
            for column in 0..columns {
                text += &format!("{:.6} ", height_m(west + cell * column as f64, south + cell * row as f64));
            }
            text.push('\n');
        }
        match RasterFile::open("grid.asc", Box::new(Cursor::new(text.into_bytes())), Some(crs)) {
            Ok(file) => file,
            Err(why) => panic!("{why:?}"),
        }
    }

    fn most_off(terrain: &Terrain, within_m: f64, height_m: impl Fn(f64, f64) -> f64) -> f64 {
        let mut most: f64 = 0.0;
        for step in 0..40 {
            let turn = f64::from(step);
            let (x, y) = (within_m * libm::sin(1.7 * turn), within_m * libm::cos(2.3 * turn));
            most = most.max((terrain.ground_m(x, y) - height_m(x, y)).abs());
        }
        most
    }

    /// Fine beside coarse, overlapping or with a gap of less than a sample: a plane stays a plane.
    #[test]
    fn a_plane_stays_a_plane_over_seams() {
        let plane = |x: f64, y: f64| 100.0 + 0.1 * x - 0.2 * y;
        let coarse = || grid([40, 40], [-2000.0, -2000.0], 100.0, &Crs::Site, plane);
        let fine = grid([60, 100], [-605.0, -500.0], 10.0, &Crs::Site, plane);
        let beside = grid([60, 100], [-5.0, -500.0], 10.0, &Crs::Site, plane);
        for files in [vec![coarse()], vec![fine, coarse()], vec![coarse(), beside]] {
            let count = files.len();
            let patch = RasterGround::new(files, None, [0.0, 0.0]).over([-1000.0, -1000.0, 1000.0, 1000.0], 100.0);
            let Patch { terrain, voids, beyond_share } = patch.expect("readable");
            let off_m = most_off(&terrain, 900.0, plane);
            assert!(off_m < 1e-3, "{count} files: {off_m}");
            assert_eq!((voids, beyond_share), (Voids::default(), 0.0));
        }
    }

    /// Ten kilometres off, the place in a projection is right to a decimetre: meridians run together, and the projection's north is not
    /// the site's. A slope of a tenth tells 1 cm of height for it.
    #[test]
    fn places_are_right_ten_kilometres_off() {
        let frame = LocalFrame::new(Geodetic::from_deg(60.2, 10.9, 300.0));
        let utm = Crs::from_epsg(32632).expect("known");
        let east = |x: f64, y: f64| {
            let [lat, lon] = frame.degrees_from_local([x, y]);
            utm.from_degrees(lat, lon).expect("on the map")
        };
        let [e, n] = east(0.0, 0.0);
        let slope = |at: [f64; 2]| 0.1 * (at[0] - e) + 0.1 * (at[1] - n);
        let projected = grid([61, 61], [e - 15_000.0, n - 15_000.0], 500.0, &utm, |x, y| slope([x, y]));
        let degrees =
            grid([1201, 601], [10.4, 59.95], 0.001, &Crs::Degrees, |lon, lat| 10.0 * (lat - 60.2) * 60.0 + lon);
        let extent = [-10_500.0, -10_500.0, 10_500.0, 10_500.0];
        let patch = |file| {
            RasterGround::new(vec![file], Some(frame), [0.0, 0.0]).over(extent, 300.0).expect("readable").terrain
        };
        let off_m = most_off(&patch(projected), 10_000.0, |x, y| slope(east(x, y)));
        assert!(off_m < 0.01, "{off_m}");
        let off_m = most_off(&patch(degrees), 10_000.0, |x, y| {
            let [lat, lon] = frame.degrees_from_local([x, y]);
            10.0 * (lat - 60.2) * 60.0 + lon
        });
        assert!(off_m < 0.01, "{off_m}");
    }

    /// A site on the date line between two tiles, or one whose longitudes are counted on.
    #[test]
    fn the_date_line_is_no_edge() {
        let frame = LocalFrame::new(Geodetic::from_deg(-17.0, 179.9999, 0.0));
        let rise =
            |lon: f64, lat: f64| 1000.0 * (lat + 17.0) + 100.0 * if lon < 0.0 { lon + 180.0 } else { lon - 180.0 };
        let west = || grid([101, 101], [179.9, -17.05], 0.001, &Crs::Degrees, rise);
        let east = grid([101, 101], [-180.0, -17.05], 0.001, &Crs::Degrees, rise);
        let on = grid([201, 101], [179.9, -17.05], 0.001, &Crs::Degrees, rise);
        let extent = [-2000.0, -2000.0, 2000.0, 2000.0];
        for (files, whole) in [(vec![west(), east], true), (vec![on], true), (vec![west()], false)] {
            let patch = RasterGround::new(files, Some(frame), [0.0, 0.0]).over(extent, 0.0).expect("readable");
            assert_eq!(patch.beyond_share == 0.0, whole, "{}", patch.beyond_share);
            if whole {
                let off_m = most_off(&patch.terrain, 1900.0, |x, y| {
                    let [lat, lon] = frame.degrees_from_local([x, y]);
                    rise(lon, lat)
                });
                assert!(off_m < 0.02, "{off_m}");
            }
        }
    }

    #[test]
    fn what_is_missing_is_counted() {
        // A hole of 300 m by 200 m between samples that have a height, and the east beyond the file.
        let holed =
            |x: f64, y: f64| if (150.0..350.0).contains(&x) && (-250.0..-150.0).contains(&y) { -9999.0 } else { 50.0 };
        let file = grid([31, 41], [-2000.0, -2000.0], 100.0, &Crs::Site, holed);
        let Patch { terrain, voids, beyond_share } = RasterGround::new(vec![file], None, [0.0, 0.0])
            .over([-1000.0, -1000.0, 1500.0, 1000.0], 200.0)
            .expect("readable");
        // From 1050 m on of 2500 m.
        assert!((beyond_share - 0.18).abs() < 0.01, "{beyond_share}");
        // Points of 20 m strictly between samples with a height: 14 by 9 of 126 by 101.
        assert!(voids.largest_m2 == 126.0 * 400.0 && (voids.share - 1.0 / 101.0).abs() < 1e-9, "{voids:?}");
        assert!(
            (voids.largest_at_m[0] - 250.0).abs() < 5.0 && (voids.largest_at_m[1] + 200.0).abs() < 5.0,
            "{voids:?}"
        );
        assert!(terrain.height_m.iter().all(|height| *height == 50.0));
        // What is beside a site has no height there, and the origin none either.
        let far = grid([31, 41], [90_000.0, 0.0], 100.0, &Crs::Site, holed);
        let mut beside = RasterGround::new(vec![far], None, [0.0, 0.0]);
        assert_eq!(beside.height_m([0.0, 0.0]), Ok(None));
        assert_eq!(beside.over([-100.0, -100.0, 100.0, 100.0], 0.0).expect("readable").beyond_share, 1.0);
    }
}
