//! Which cells of a site's grid its areas cover.

use super::Area;
use super::shape::{edges, segment_distance_m};
use std::collections::HashMap;
use std::iter::repeat_n;
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
    pub(super) fn index_of(&self, x_m: f64, y_m: f64) -> Option<usize> {
        let column = (x_m - self.west_m) * self.per_metre;
        let row = (y_m - self.south_m) * self.per_metre;
        let within = column >= 0.0 && row >= 0.0 && column < self.columns as f64 && row < self.rows as f64;
        within.then(|| row as usize * self.columns + column as usize)
    }

    /// The cell nearest to a place (NaN counts as the south-west corner).
    #[inline]
    pub(super) fn nearest(&self, x_m: f64, y_m: f64) -> usize {
        let column = (((x_m - self.west_m) * self.per_metre).max(0.0) as usize).min(self.columns - 1);
        let row = (((y_m - self.south_m) * self.per_metre).max(0.0) as usize).min(self.rows - 1);
        row * self.columns + column
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
                found.extend(self.index_of(centre_m[0], centre_m[1]).map(|index| index..index + 1));
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
    cells: Cells,
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
    pub fn at(&self, index: usize) -> Cell {
        self.holds[self.cells.at(index)]
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

/// What each cell holds, by its place in a list. Grids have millions of cells, but hardly ever as many kinds of them.
#[derive(Debug)]
enum Cells {
    Few(Vec<u16>),
    Many(Vec<u32>),
}

impl Cells {
    /// Packs cells; gives what they hold, each once.
    fn packed(cells: &[Cell]) -> (Cells, Vec<Cell>) {
        let (mut holds, mut places) = (Vec::new(), HashMap::new());
        // Neighbours mostly hold the same.
        let runs = || cells.chunk_by(|a, b| a == b);
        for run in runs() {
            places.entry(run[0]).or_insert_with(|| {
                holds.push(run[0]);
                holds.len() as u32 - 1
            });
        }
        let each = runs().map(|run| (places[&run[0]], run.len()));
        if holds.len() > usize::from(u16::MAX) {
            let mut many = Vec::with_capacity(cells.len());
            each.for_each(|(place, count)| many.extend(repeat_n(place, count)));
            return (Cells::Many(many), holds);
        }
        let mut few = Vec::with_capacity(cells.len());
        each.for_each(|(place, count)| few.extend(repeat_n(place as u16, count)));
        (Cells::Few(few), holds)
    }

    #[inline]
    fn at(&self, index: usize) -> usize {
        match self {
            Cells::Few(places) => usize::from(places[index]),
            Cells::Many(places) => places[index] as usize,
        }
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
fn lay(cell: &mut Cell, layers: &mut Vec<Vec<Lying>>, known: &mut [u32], here: Lying) {
    let below = cell.layers as usize;
    if known[below] == 0 {
        let mut on_top = layers[below].clone();
        on_top.push(here);
        known[below] = layers.len() as u32;
        layers.push(on_top);
    }
    cell.layers = known[below];
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
    cells: Vec<Cell>,
    layers: Vec<Vec<Lying>>,
    standing: Vec<Vec<u32>>,
    spread_m2: Vec<f64>,
}

impl Planner {
    fn new(areas: &Areas) -> Planner {
        let lattice = Lattice::new(areas.extent_m, areas.cell_m);
        Planner {
            lattice,
            cells: vec![Cell { mark: 0, layers: 0 }; lattice.columns * lattice.rows],
            layers: vec![Vec::new()],
            standing: vec![Vec::new()],
            spread_m2: Vec::new(),
        }
    }

    fn finish(mut self, areas: Areas) -> Plan {
        self.lay_zones(&areas.zones);
        self.stand_obstacles(&areas.obstacles);
        self.fence_in(areas.fence.as_ref(), areas.fence_margin_m);
        let (cells, holds) = Cells::packed(&self.cells);
        let Planner { lattice, layers, standing, spread_m2, .. } = self;
        Plan { areas, lattice, cells, holds, layers, standing, spread_m2 }
    }

    fn lay_zones(&mut self, zones: &[ZoneArea]) {
        for (number, zone) in zones.iter().enumerate() {
            let inside = self.lattice.cells_of(&zone.area);
            // Where the shape is thinner than a cell the marked cells cover more ground than it does: then the
            // head count is spread over them, so that their sum stays the number of people given.
            let thin = matches!(zone.area, Area::Strip { width_m, .. } if width_m < self.lattice.cell_m);
            let marked_m2 = count(&inside) as f64 * self.lattice.cell_m * self.lattice.cell_m;
            self.spread_m2.push(if thin { marked_m2.max(zone.area.size_m2()) } else { zone.area.size_m2() });
            let here = Lying { zone: number as u16, inside: true };
            let mut known = vec![0; self.layers.len()];
            for index in inside.into_iter().flatten() {
                lay(&mut self.cells[index], &mut self.layers, &mut known, here);
            }
            if zone.margin_m > 0.0 {
                let mut layers = std::mem::take(&mut self.layers);
                let (mut known, beside) = (vec![0; layers.len()], Lying { inside: false, ..here });
                self.each_cell_near_edge(&zone.area, zone.margin_m, |cell| {
                    // Cells inside, and those met twice, have it already.
                    if layers[cell.layers as usize].last().is_none_or(|last| last.zone != here.zone) {
                        lay(cell, &mut layers, &mut known, beside);
                    }
                });
                self.layers = layers;
            }
        }
    }

    fn stand_obstacles(&mut self, obstacles: &[Area]) {
        for (number, area) in obstacles.iter().enumerate() {
            // What this obstacle on what stood there has become; 0 is not known yet.
            let mut known = vec![0; self.standing.len()];
            for index in self.lattice.cells_of(area).into_iter().flatten() {
                let before = (self.cells[index].mark >> ABOVE_SHIFT) as usize;
                if known[before] == 0 {
                    let mut here = self.standing[before].clone();
                    here.push(number as u32);
                    known[before] = self.standing.len() as u32;
                    self.standing.push(here);
                }
                let cell = &mut self.cells[index];
                cell.mark = (cell.mark & ((1 << ABOVE_SHIFT) - 1)) | known[before] << ABOVE_SHIFT;
            }
        }
    }

    fn fence_in(&mut self, fence: Option<&Area>, margin_m: f64) {
        let [west_m, south_m, east_m, north_m] = self.lattice.extent_m();
        let whole = Area::Polygon(vec![[west_m, south_m], [east_m, south_m], [east_m, north_m], [west_m, north_m]]);
        let area = fence.unwrap_or(&whole);
        for run in self.lattice.cells_of(area) {
            self.cells[run].iter_mut().for_each(|cell| cell.mark |= INSIDE);
        }
        if margin_m > 0.0 {
            // MARGIN is the bit after INSIDE.
            self.each_cell_near_edge(area, margin_m, |cell| cell.mark |= (cell.mark & INSIDE) << 1);
        }
    }

    /// Changes each cell whose centre lies within a distance of an area's edge (some more than once). The work grows
    /// with the length of the edge, not with the size of the site.
    fn each_cell_near_edge(&mut self, area: &Area, by_m: f64, mut change: impl FnMut(&mut Cell)) {
        match area {
            Area::Polygon(points) => {
                for [a, b] in edges(points) {
                    self.each_cell_within(box_around(a, b, by_m), |centre, cell| {
                        if segment_distance_m(a, b, centre) <= by_m {
                            change(cell);
                        }
                    });
                }
            }
            Area::Strip { line_m, width_m } => {
                let half_m = 0.5 * width_m;
                for pair in line_m.windows(2) {
                    self.each_cell_within(box_around(pair[0], pair[1], half_m + by_m), |centre, cell| {
                        // A distance that reaches to the middle line needs no look at the other pieces of a long strip.
                        let near = segment_distance_m(pair[0], pair[1], centre) <= half_m + by_m;
                        if near && (by_m >= half_m || area.edge_distance_m(centre) <= by_m) {
                            change(cell);
                        }
                    });
                }
            }
            Area::Circle { centre_m, radius_m } => {
                self.each_cell_within(box_around(*centre_m, *centre_m, radius_m + by_m), |centre, cell| {
                    if area.edge_distance_m(centre) <= by_m {
                        change(cell);
                    }
                });
            }
        }
    }

    fn each_cell_within(&mut self, bounds_m: [f64; 4], mut change: impl FnMut([f64; 2], &mut Cell)) {
        for index in self.lattice.cells_within(bounds_m) {
            let centre = self.lattice.centre_of(index);
            change(centre, &mut self.cells[index]);
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

    /// Whether few kinds of cells or many, each cell keeps what it holds.
    #[test]
    fn packed_cells_hold_what_they_held() {
        for kinds in [1, 300, 65_535, 65_536, 70_000] {
            let cell = |index: u32| Cell { mark: index / 3 % kinds, layers: index / 3 % kinds % 7 };
            let cells: Vec<Cell> = (0..250_000).map(cell).collect();
            let (packed, holds) = Cells::packed(&cells);
            assert_eq!(holds.len(), kinds as usize);
            assert_eq!(matches!(packed, Cells::Few(_)), kinds < 65_536);
            assert!((0..cells.len()).all(|index| holds[packed.at(index)] == cells[index]), "{kinds} kinds");
        }
    }
}
