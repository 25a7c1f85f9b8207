//! Which cells of a site's grid its areas cover.

use super::Area;
use super::shape::{edges, segment_distance_m};
use crate::geometry::cell_at;
use std::collections::HashMap;
use std::ops::Range;

/// A grid of square cells over a site.
#[derive(Debug, Clone, Copy)]
pub struct Lattice {
    /// x of the west edge.
    pub west_m: f64,
    /// y of the south edge.
    pub south_m: f64,
    /// Spacing.
    pub cell_m: f64,
    /// Cells from west to east.
    pub columns: usize,
    /// Cells from south to north.
    pub rows: usize,
    per_metre: f64,
}

/// Where a cell lies in the grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Square {
    pub column: usize,
    pub row: usize,
}

impl Lattice {
    fn new([west_m, south_m, east_m, north_m]: [f64; 4], cell_m: f64) -> Lattice {
        let columns = (((east_m - west_m) / cell_m).ceil() as usize).max(1);
        let rows = (((north_m - south_m) / cell_m).ceil() as usize).max(1);
        Lattice { west_m, south_m, cell_m, columns, rows, per_metre: 1.0 / cell_m }
    }

    /// West, south, east and north edge.
    pub fn extent_m(&self) -> [f64; 4] {
        [
            self.west_m,
            self.south_m,
            self.west_m + self.cell_m * self.columns as f64,
            self.south_m + self.cell_m * self.rows as f64,
        ]
    }

    /// The cell a place lies in; `None` beyond the edge.
    #[inline]
    pub(super) fn square_of(&self, x_m: f64, y_m: f64) -> Option<Square> {
        let column = (x_m - self.west_m) * self.per_metre;
        let row = (y_m - self.south_m) * self.per_metre;
        if !(column >= 0.0 && row >= 0.0) {
            return None;
        }
        // By way of signed numbers, which processors turn floats into in one step.
        let (column, row) = (column as i64, row as i64);
        let within = column < self.columns as i64 && row < self.rows as i64;
        within.then_some(Square { column: column as usize, row: row as usize })
    }

    /// The cell nearest to a place (NaN counts as the south-west corner).
    #[inline]
    pub(super) fn nearest(&self, x_m: f64, y_m: f64) -> Square {
        let column = cell_at((x_m - self.west_m) * self.per_metre, self.columns - 1);
        let row = cell_at((y_m - self.south_m) * self.per_metre, self.rows - 1);
        Square { column, row }
    }

    /// Indices of the cells an area covers, each once, in rising order, in runs.
    fn cells_of(&self, area: &Area) -> Vec<Range<usize>> {
        let mut found = Vec::new();
        let bounds = area.bounds_m();
        let rows = self.span_of(bounds[1] - self.south_m, bounds[3] - self.south_m, self.rows);
        match area {
            Area::Polygon(points) => {
                let mut crossings: Vec<f64> = Vec::new();
                for row in rows {
                    let y = self.south_m + (row as f64 + 0.5) * self.cell_m;
                    crossings.clear();
                    for [a, b] in edges(points) {
                        if (a[1] > y) != (b[1] > y) {
                            crossings.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
                        }
                    }
                    crossings.sort_by(f64::total_cmp);
                    for pair in crossings.chunks_exact(2) {
                        self.fill_row(row, pair[0], pair[1], &mut found);
                    }
                }
                let filled_m2 = count(&found) as f64 * self.cell_m * self.cell_m;
                if filled_m2 < 0.5 * area.size_m2().max(self.cell_m * self.cell_m) {
                    edges(points).for_each(|[a, b]| self.cross(a, b, &mut found));
                }
            }
            Area::Circle { centre_m, radius_m } => {
                for row in rows {
                    let dy = self.south_m + (row as f64 + 0.5) * self.cell_m - centre_m[1];
                    let half = radius_m * radius_m - dy * dy;
                    if half >= 0.0 {
                        self.fill_row(row, centre_m[0] - half.sqrt(), centre_m[0] + half.sqrt(), &mut found);
                    }
                }
                let middle = self.square_of(centre_m[0], centre_m[1]);
                let index = middle.map(|Square { column, row }| row * self.columns + column);
                found.extend(index.map(|index| index..index + 1));
            }
            Area::Strip { line_m, width_m } => {
                let half = 0.5 * width_m;
                for pair in line_m.windows(2) {
                    found.extend(
                        self.cells_within(box_around(pair[0], pair[1], half))
                            .filter(|&index| segment_distance_m(pair[0], pair[1], self.centre_of(index)) <= half)
                            .map(|index| index..index + 1),
                    );
                    // A strip at a slant holds too few centres when it is narrower than a cell's diagonal.
                    if *width_m < 1.5 * self.cell_m {
                        self.cross(pair[0], pair[1], &mut found);
                    }
                }
            }
        }
        found.sort_unstable_by_key(|run| run.start);
        found.dedup_by(|next, run| {
            let goes_on = next.start <= run.end;
            if goes_on {
                run.end = run.end.max(next.end);
            }
            goes_on
        });
        found
    }

    /// Cells of a row whose centre lies between two x.
    fn fill_row(&self, row: usize, from_m: f64, to_m: f64, found: &mut Vec<Range<usize>>) {
        let from = ((from_m - self.west_m) * self.per_metre - 0.5).ceil().max(0.0);
        let to = ((to_m - self.west_m) * self.per_metre - 0.5).floor().min(self.columns as f64 - 1.0);
        if from <= to {
            found.push(row * self.columns + from as usize..row * self.columns + to as usize + 1);
        }
    }

    /// Cells that a segment crosses, walked from border to border.
    fn cross(&self, a_m: [f64; 2], b_m: [f64; 2], found: &mut Vec<Range<usize>>) {
        let (ax, ay) = ((a_m[0] - self.west_m) * self.per_metre, (a_m[1] - self.south_m) * self.per_metre);
        let (bx, by) = ((b_m[0] - self.west_m) * self.per_metre, (b_m[1] - self.south_m) * self.per_metre);
        let Some([from, to]) = clip(ax, ay, bx, by, self.columns as f64, self.rows as f64) else { return };
        let (dx, dy) = (bx - ax, by - ay);
        // Between two neighbouring crossings of grid lines the segment stays in one cell: its middle names it.
        let mut stops = vec![from, to];
        let mut lines = |start: f64, delta: f64| {
            if delta != 0.0 {
                let (p, q) = (start + from * delta, start + to * delta);
                let (low, high) = (p.min(q).ceil() as i64, p.max(q).floor() as i64);
                stops.extend((low..=high).map(|line| (line as f64 - start) / delta));
            }
        };
        lines(ax, dx);
        lines(ay, dy);
        stops.sort_by(f64::total_cmp);
        for pair in stops.windows(2) {
            let t = 0.5 * (pair[0] + pair[1]);
            let column = ((ax + t * dx).max(0.0) as usize).min(self.columns - 1);
            let row = ((ay + t * dy).max(0.0) as usize).min(self.rows - 1);
            let index = row * self.columns + column;
            found.push(index..index + 1);
        }
    }

    /// Cells that may have a centre within a box.
    fn cells_within(&self, [west, south, east, north]: [f64; 4]) -> impl Iterator<Item = usize> + use<> {
        let width = self.columns;
        let columns = self.span_of(west - self.west_m, east - self.west_m, width);
        let rows = self.span_of(south - self.south_m, north - self.south_m, self.rows);
        rows.flat_map(move |row| columns.clone().map(move |column| row * width + column))
    }

    /// Cells that may have a centre between two distances from the edge, one more on each side.
    fn span_of(&self, from_m: f64, to_m: f64, count: usize) -> Range<usize> {
        let low = ((from_m * self.per_metre).floor() - 1.0).clamp(0.0, count as f64);
        let high = ((to_m * self.per_metre).ceil() + 1.0).clamp(0.0, count as f64);
        low as usize..high as usize
    }

    /// Middle of a cell.
    pub(super) fn centre_of(&self, index: usize) -> [f64; 2] {
        let (column, row) = (index % self.columns, index / self.columns);
        [self.west_m + (column as f64 + 0.5) * self.cell_m, self.south_m + (row as f64 + 0.5) * self.cell_m]
    }
}

/// The areas of a site and the cells that they cover: all of a grid that heights, head counts and owners are nothing to.
#[derive(Debug)]
pub(super) struct Plan {
    /// What it was made of.
    pub areas: Areas,
    /// The grid itself.
    pub lattice: Lattice,
    tiles: Tiles,
    /// What lies in a cell, shared by cells with the same.
    holds: Vec<Cell>,
    /// Zones over each other, lowest first.
    pub layers: Vec<Vec<Lying>>,
    /// Obstacles in one place, by their places in the list.
    pub standing: Vec<Vec<u32>>,
    /// Ground over which the people of each zone are spread.
    pub spread_m2: Vec<f64>,
}

impl Plan {
    /// Works out which cells the areas cover.
    pub fn new(areas: Areas) -> Plan {
        Planner::new(&areas).finish(areas)
    }

    /// What lies in a cell.
    #[inline]
    pub fn at(&self, square: Square) -> Cell {
        self.holds[self.tiles.at(square)]
    }
}

/// What a plan is made of.
#[derive(Debug, PartialEq)]
pub(super) struct Areas {
    pub extent_m: [f64; 4],
    pub cell_m: f64,
    pub zones: Vec<ZoneArea>,
    pub obstacles: Vec<Area>,
    pub fence: Option<Area>,
    pub fence_margin_m: f64,
}

#[derive(Debug, PartialEq)]
pub(super) struct ZoneArea {
    pub area: Area,
    /// Of people; 0 for others, whose margin nothing reads.
    pub margin_m: f64,
}

/// What each cell holds, row by row, by its place in a list: grids have millions of cells, but hardly ever as many kinds of them.
#[derive(Debug)]
enum Cells {
    Few(Vec<u16>),
    Many(Vec<u32>),
}

impl Cells {
    #[inline]
    fn at(&self, index: usize) -> usize {
        match self {
            Cells::Few(places) => usize::from(places[index]),
            Cells::Many(places) => places[index] as usize,
        }
    }

    /// Where the run of equal cells ends that begins here, `end` at the latest.
    fn same_until(&self, from: usize, end: usize) -> usize {
        fn run<T: PartialEq>(places: &[T]) -> usize {
            places.iter().position(|place| *place != places[0]).unwrap_or(places.len())
        }
        match self {
            Cells::Few(places) => from + run(&places[from..end]),
            Cells::Many(places) => from + run(&places[from..end]),
        }
    }

    fn fill(&mut self, run: Range<usize>, place: usize) {
        if let Cells::Few(places) = self {
            match u16::try_from(place) {
                Ok(place) => return places[run].fill(place),
                Err(_) => *self = Cells::Many(places.iter().map(|&place| place.into()).collect()),
            }
        }
        if let Cells::Many(places) = self {
            places[run].fill(place as u32);
        }
    }
}

/// Cells along either side of a tile.
const TILE: usize = 8;
/// In the list of tiles: the tile's own cells are those of this number on.
const MIXED: u32 = 1 << 31;

/// What each cell holds, tile by tile: areas are large against cells, so that most tiles hold one thing throughout. The grid then
/// stays in the processor's caches, whichever way a look over the site goes.
#[derive(Debug)]
struct Tiles {
    /// Tiles in a row of them.
    per_row: usize,
    /// What all of a tile holds, or [`MIXED`] with the number of its cells in the list of those.
    tiles: Vec<u32>,
    /// Cells of the mixed tiles, row by row; beyond the edge of the grid they hold anything.
    mixed: Cells,
}

impl Tiles {
    /// Of cells in rows.
    fn of(lattice: &Lattice, cells: &Cells) -> Tiles {
        match cells {
            Cells::Few(cells) => Tiles::laid(lattice, cells, Cells::Few),
            Cells::Many(cells) => Tiles::laid(lattice, cells, Cells::Many),
        }
    }

    fn laid<T: Copy + PartialEq + Into<u32>>(lattice: &Lattice, cells: &[T], kept: fn(Vec<T>) -> Cells) -> Tiles {
        let per_row = lattice.columns.div_ceil(TILE);
        let mut tiles = Vec::with_capacity(per_row * lattice.rows.div_ceil(TILE));
        let mut mixed: Vec<T> = Vec::new();
        for rows in cells.chunks(TILE * lattice.columns) {
            for first in (0..lattice.columns).step_by(TILE) {
                let end = lattice.columns.min(first + TILE);
                let own = || rows.chunks_exact(lattice.columns).map(|row| &row[first..end]);
                let whole = rows[first];
                if own().all(|row| row.iter().all(|cell| *cell == whole)) {
                    tiles.push(whole.into());
                    continue;
                }
                tiles.push(MIXED | (mixed.len() / (TILE * TILE)) as u32);
                for row in own() {
                    mixed.extend_from_slice(row);
                    mixed.resize(mixed.len() + TILE - row.len(), whole);
                }
                mixed.resize(mixed.len().next_multiple_of(TILE * TILE), whole);
            }
        }
        mixed.shrink_to_fit();
        Tiles { per_row, tiles, mixed: kept(mixed) }
    }

    #[inline]
    fn at(&self, Square { column, row }: Square) -> usize {
        let tile = self.tiles[row / TILE * self.per_row + column / TILE];
        if tile & MIXED == 0 {
            return tile as usize;
        }
        let first = (tile ^ MIXED) as usize * TILE * TILE;
        self.mixed.at(first + row % TILE * TILE + column % TILE)
    }
}

/// A zone in a cell, by its place in the list.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lying {
    pub zone: u16,
    /// The cell lies in the zone itself; else only within the margin around people.
    pub inside: bool,
}

/// What lies in a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Cell {
    /// Bit 0 inside the fence, 1 in its margin, 2–31 index of what stands there.
    pub mark: u32,
    /// Index of the zones that lie there.
    pub layers: u32,
}

pub(super) const INSIDE: u32 = 1;
pub(super) const MARGIN: u32 = 1 << 1;
pub(super) const ABOVE_SHIFT: u32 = 2;

/// Lays a zone on top of those of a cell. `known` keeps what this zone on top of the same ones has become; 0 is
/// not known yet.
fn lay(cell: Cell, layers: &mut Vec<Vec<Lying>>, known: &mut [u32], here: Lying) -> Cell {
    let below = cell.layers as usize;
    if known[below] == 0 {
        let mut on_top = layers[below].clone();
        on_top.push(here);
        known[below] = layers.len() as u32;
        layers.push(on_top);
    }
    Cell { layers: known[below], ..cell }
}

/// Cells in runs; those that several share count as often.
fn count(runs: &[Range<usize>]) -> usize {
    runs.iter().map(|run| run.len()).sum()
}

/// West, south, east and north edge of what lies within a distance of a segment's own box.
fn box_around(a: [f64; 2], b: [f64; 2], by_m: f64) -> [f64; 4] {
    [a[0].min(b[0]) - by_m, a[1].min(b[1]) - by_m, a[0].max(b[0]) + by_m, a[1].max(b[1]) + by_m]
}

/// A plan in the making.
struct Planner {
    lattice: Lattice,
    kinds: Kinds,
    layers: Vec<Vec<Lying>>,
    standing: Vec<Vec<u32>>,
    spread_m2: Vec<f64>,
}

/// Cells that change a run at a time. What they hold is written once for all that hold the same, so that a change is worked out for
/// each kind of cell alone, and millions of cells take two bytes each.
struct Kinds {
    cells: Cells,
    /// What cells hold, each once.
    holds: Vec<Cell>,
    places: HashMap<Cell, usize>,
}

/// What a change has made of each kind of cell so far.
#[derive(Default)]
struct Changed(Vec<Option<usize>>);

impl Kinds {
    /// So many cells that hold nothing.
    fn nothing(cells: usize) -> Kinds {
        let nothing = Cell { mark: 0, layers: 0 };
        Kinds { cells: Cells::Few(vec![0; cells]), holds: vec![nothing], places: HashMap::from([(nothing, 0)]) }
    }

    /// The place of what a cell holds in the list.
    fn place_of(&mut self, cell: Cell) -> usize {
        *self.places.entry(cell).or_insert_with(|| {
            self.holds.push(cell);
            self.holds.len() - 1
        })
    }

    /// Changes a run of cells; `changed` belongs to this change alone.
    fn change(&mut self, run: Range<usize>, changed: &mut Changed, change: &mut impl FnMut(Cell) -> Cell) {
        let mut from = run.start;
        while from < run.end {
            let until = self.cells.same_until(from, run.end);
            let before = self.cells.at(from);
            if changed.0.len() <= before {
                changed.0.resize(self.holds.len(), None);
            }
            let after = match changed.0[before] {
                Some(after) => after,
                None => self.place_of(change(self.holds[before])),
            };
            changed.0[before] = Some(after);
            if after != before {
                self.cells.fill(from..until, after);
            }
            from = until;
        }
    }
}

impl Planner {
    fn new(areas: &Areas) -> Planner {
        let lattice = Lattice::new(areas.extent_m, areas.cell_m);
        Planner {
            lattice,
            kinds: Kinds::nothing(lattice.columns * lattice.rows),
            layers: vec![Vec::new()],
            standing: vec![Vec::new()],
            spread_m2: Vec::new(),
        }
    }

    fn finish(mut self, areas: Areas) -> Plan {
        self.lay_zones(&areas.zones);
        self.stand_obstacles(&areas.obstacles);
        self.fence_in(areas.fence.as_ref(), areas.fence_margin_m);
        let Planner { lattice, kinds, layers, standing, spread_m2 } = self;
        let tiles = Tiles::of(&lattice, &kinds.cells);
        Plan { areas, lattice, tiles, holds: kinds.holds, layers, standing, spread_m2 }
    }

    fn lay_zones(&mut self, zones: &[ZoneArea]) {
        let Planner { lattice, kinds, layers, spread_m2, .. } = self;
        for (number, zone) in zones.iter().enumerate() {
            let inside = lattice.cells_of(&zone.area);
            // Where the shape is thinner than a cell the marked cells cover more ground than it does: then the
            // head count is spread over them, so that their sum stays the number of people given.
            let thin = matches!(zone.area, Area::Strip { width_m, .. } if width_m < lattice.cell_m);
            let marked_m2 = count(&inside) as f64 * lattice.cell_m * lattice.cell_m;
            spread_m2.push(if thin { marked_m2.max(zone.area.size_m2()) } else { zone.area.size_m2() });
            let here = Lying { zone: number as u16, inside: true };
            let (mut known, mut changed) = (vec![0; layers.len()], Changed::default());
            for run in inside {
                kinds.change(run, &mut changed, &mut |cell| lay(cell, layers, &mut known, here));
            }
            if zone.margin_m > 0.0 {
                let (mut known, mut changed) = (vec![0; layers.len()], Changed::default());
                let beside = Lying { inside: false, ..here };
                let mut lay_beside = |cell: Cell| {
                    // Cells inside, and those met twice, have it already.
                    let has_it = layers[cell.layers as usize].last().is_some_and(|last| last.zone == here.zone);
                    if has_it { cell } else { lay(cell, layers, &mut known, beside) }
                };
                lattice.each_cell_near_edge(&zone.area, zone.margin_m, |index| {
                    kinds.change(index..index + 1, &mut changed, &mut lay_beside);
                });
            }
        }
    }

    fn stand_obstacles(&mut self, obstacles: &[Area]) {
        let Planner { lattice, kinds, standing, .. } = self;
        for (number, area) in obstacles.iter().enumerate() {
            // What this obstacle on what stood there has become; 0 is not known yet.
            let (mut known, mut changed) = (vec![0; standing.len()], Changed::default());
            let mut stand = |cell: Cell| {
                let before = (cell.mark >> ABOVE_SHIFT) as usize;
                if known[before] == 0 {
                    let mut here = standing[before].clone();
                    here.push(number as u32);
                    known[before] = standing.len() as u32;
                    standing.push(here);
                }
                Cell { mark: (cell.mark & ((1 << ABOVE_SHIFT) - 1)) | known[before] << ABOVE_SHIFT, ..cell }
            };
            for run in lattice.cells_of(area) {
                kinds.change(run, &mut changed, &mut stand);
            }
        }
    }

    fn fence_in(&mut self, fence: Option<&Area>, margin_m: f64) {
        let Planner { lattice, kinds, .. } = self;
        let [west_m, south_m, east_m, north_m] = lattice.extent_m();
        let whole = Area::Polygon(vec![[west_m, south_m], [east_m, south_m], [east_m, north_m], [west_m, north_m]]);
        let area = fence.unwrap_or(&whole);
        let mut changed = Changed::default();
        for run in lattice.cells_of(area) {
            kinds.change(run, &mut changed, &mut |cell| Cell { mark: cell.mark | INSIDE, ..cell });
        }
        if margin_m > 0.0 {
            let mut changed = Changed::default();
            // MARGIN is the bit after INSIDE.
            let mut strip = |cell: Cell| Cell { mark: cell.mark | (cell.mark & INSIDE) << 1, ..cell };
            lattice.each_cell_near_edge(area, margin_m, |index| {
                kinds.change(index..index + 1, &mut changed, &mut strip);
            });
        }
    }
}

impl Lattice {
    /// Tells of each cell whose centre lies within a distance of an area's edge (some more than once). The work grows
    /// with the length of the edge, not with the size of the site.
    fn each_cell_near_edge(&self, area: &Area, by_m: f64, mut tell: impl FnMut(usize)) {
        match area {
            Area::Polygon(points) => {
                for [a, b] in edges(points) {
                    self.each_cell_within(box_around(a, b, by_m), |centre, index| {
                        if segment_distance_m(a, b, centre) <= by_m {
                            tell(index);
                        }
                    });
                }
            }
            Area::Strip { line_m, width_m } => {
                let half_m = 0.5 * width_m;
                for pair in line_m.windows(2) {
                    self.each_cell_within(box_around(pair[0], pair[1], half_m + by_m), |centre, index| {
                        // A distance that reaches to the middle line needs no look at the other pieces of a long strip.
                        let near = segment_distance_m(pair[0], pair[1], centre) <= half_m + by_m;
                        if near && (by_m >= half_m || area.edge_distance_m(centre) <= by_m) {
                            tell(index);
                        }
                    });
                }
            }
            Area::Circle { centre_m, radius_m } => {
                self.each_cell_within(box_around(*centre_m, *centre_m, radius_m + by_m), |centre, index| {
                    if area.edge_distance_m(centre) <= by_m {
                        tell(index);
                    }
                });
            }
        }
    }

    fn each_cell_within(&self, bounds_m: [f64; 4], mut tell: impl FnMut([f64; 2], usize)) {
        for index in self.cells_within(bounds_m) {
            tell(self.centre_of(index), index);
        }
    }
}

/// The part of a segment, as shares of its length, that lies within the rectangle from (0, 0) to (w, h).
fn clip(ax: f64, ay: f64, bx: f64, by: f64, w: f64, h: f64) -> Option<[f64; 2]> {
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for (start, delta, limit) in [(ax, bx - ax, w), (ay, by - ay, h)] {
        if delta == 0.0 {
            if start < 0.0 || start > limit {
                return None;
            }
        } else {
            let (p, q) = (-start / delta, (limit - start) / delta);
            from = from.max(p.min(q));
            to = to.min(p.max(q));
        }
    }
    (from <= to).then_some([from, to])
}

#[cfg(test)]
mod tests {
    use super::*;

    impl Cells {
        fn len(&self) -> usize {
            match self {
                Cells::Few(places) => places.len(),
                Cells::Many(places) => places.len(),
            }
        }
    }

    /// Whether few kinds of cells or many, each cell keeps what it holds; what is the same over a tile takes no cells of its own.
    #[test]
    fn tiles_hold_what_cells_held() {
        for (columns, rows) in [(500, 500), (8, 8), (509, 43), (3, 700)] {
            let lattice = Lattice::new([0.0, 0.0, columns as f64, rows as f64], 1.0);
            for kinds in [1, 2, 300, 65_536, 65_537, 70_000] {
                let cell =
                    |index: usize| Cell { mark: (index / 3 % kinds) as u32, layers: (index / 3 % kinds % 7) as u32 };
                let mut made = Kinds::nothing(columns * rows);
                for index in 0..columns * rows {
                    let place = made.place_of(cell(index));
                    made.cells.fill(index..index + 1, place);
                }
                let tiles = Tiles::of(&lattice, &made.cells);
                let kinds_there = kinds.min((columns * rows).div_ceil(3));
                assert_eq!(matches!(tiles.mixed, Cells::Few(_)), kinds_there <= 65_536, "{kinds} kinds");
                let square = |index: usize| Square { column: index % columns, row: index / columns };
                let held = |index: usize| made.holds[tiles.at(square(index))];
                assert!(
                    (0..columns * rows).all(|index| held(index) == cell(index)),
                    "{columns} × {rows}, {kinds} kinds"
                );
                assert_eq!(tiles.mixed.len() == 0, kinds == 1, "{columns} × {rows}, {kinds} kinds");
            }
        }
    }

    /// A large site with a few areas takes no cells but along their edges.
    #[test]
    fn areas_take_room_along_their_edges_alone() {
        let square = |low: f64, high: f64| Area::Polygon(vec![[low, low], [high, low], [high, high], [low, high]]);
        let plan = Plan::new(Areas {
            extent_m: [0.0, 0.0, 2_000.0, 2_000.0],
            cell_m: 1.0,
            zones: vec![ZoneArea { area: square(300.0, 900.0), margin_m: 30.0 }],
            obstacles: vec![square(1_001.0, 1_402.0)],
            fence: Some(square(100.0, 1_900.0)),
            fence_margin_m: 20.0,
        });
        let cells = plan.lattice.columns * plan.lattice.rows;
        assert_eq!(plan.tiles.tiles.len() * TILE * TILE, cells);
        // The zone with either end of its margin, the obstacle, either end of the strip along the fence.
        let edges_m = 4.0 * (600.0 + 660.0 + 540.0 + 401.0 + 1_800.0 + 1_760.0);
        let (mixed, at_most) = (plan.tiles.mixed.len(), edges_m * TILE as f64 * 1.1);
        assert!(mixed > 0 && (mixed as f64) < at_most, "{mixed} of {cells} cells, at most {at_most}");
    }
}
