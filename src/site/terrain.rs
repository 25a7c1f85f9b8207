//! Ground heights on a regular grid.

use std::path::PathBuf;
use std::sync::Arc;

/// Ground heights on a regular grid of local metres, row by row from the south.
#[derive(Debug, Clone, PartialEq)]
pub struct Terrain {
    /// File it came from.
    pub file: PathBuf,
    /// x of the first column's centre.
    pub west_m: f64,
    /// y of the southernmost row's centre.
    pub south_m: f64,
    /// Spacing.
    pub cell_m: f64,
    /// Columns.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// z of the ground, row by row from the south, west to east.
    pub height_m: Arc<[f32]>,
}

impl Terrain {
    /// Raises every height by what `by_m` gives for its place.
    pub fn raise(&mut self, by_m: impl Fn(f64, f64) -> f64) {
        let raised = |(index, height_m): (usize, &f32)| {
            let [x, y] = self.place_m(index);
            (f64::from(*height_m) + by_m(x, y)) as f32
        };
        self.height_m = self.height_m.iter().enumerate().map(raised).collect();
    }

    /// Where a point lies, by its place in the list.
    pub fn place_m(&self, index: usize) -> [f64; 2] {
        let (column, row) = (index % self.columns, index / self.columns);
        [self.west_m + column as f64 * self.cell_m, self.south_m + row as f64 * self.cell_m]
    }

    /// The points beside one.
    pub fn beside(&self, index: usize) -> impl Iterator<Item = usize> + use<> {
        around(index, self.columns, self.rows)
    }

    /// z of the ground: bilinear between the grid's points, constant beyond its edge.
    pub fn ground_m(&self, x_m: f64, y_m: f64) -> f64 {
        let (column, tx) = cell_of((x_m - self.west_m) / self.cell_m, self.columns);
        let (row, ty) = cell_of((y_m - self.south_m) / self.cell_m, self.rows);
        let east = if self.columns > 1 { 1 } else { 0 };
        let north = if self.rows > 1 { self.columns } else { 0 };
        let at = row * self.columns + column;
        let low = self.at(at) + tx * (self.at(at + east) - self.at(at));
        let high = self.at(at + north) + tx * (self.at(at + north + east) - self.at(at + north));
        low + ty * (high - low)
    }

    /// z that the ground does not reach above: rounding between points may give a little more than the highest of them.
    pub fn highest_m(&self) -> f64 {
        const ROUNDING_M: f64 = 0.001;
        f64::from(self.height_m.iter().copied().fold(f32::NEG_INFINITY, f32::max)) + ROUNDING_M
    }

    /// Rise over run that the ground nowhere exceeds.
    pub fn steepest(&self) -> f64 {
        let most_m = |most_m: f32, (from_m, to_m): (&f32, &f32)| most_m.max((to_m - from_m).abs());
        let along = self.height_m.chunks_exact(self.columns).flat_map(|row| row.iter().zip(&row[1..]));
        let across = self.height_m.iter().zip(&self.height_m[self.columns..]);
        let (east_m, north_m) = (f64::from(along.fold(0.0, most_m)), f64::from(across.fold(0.0, most_m)));
        // Eastwards the bilinear surface rises by a mean of what the rows south and north of a place rise by, and likewise northwards.
        (east_m * east_m + north_m * north_m).sqrt() / self.cell_m
    }

    /// Steepness of the ground, from the bilinear surface over one grid spacing.
    pub fn slope_rad(&self, x_m: f64, y_m: f64) -> f64 {
        let half = 0.5 * self.cell_m;
        let east = (self.ground_m(x_m + half, y_m) - self.ground_m(x_m - half, y_m)) / self.cell_m;
        let north = (self.ground_m(x_m, y_m + half) - self.ground_m(x_m, y_m - half)) / self.cell_m;
        libm::atan((east * east + north * north).sqrt())
    }

    /// Gives points without a height (NaN) one from those around, and says which they were. Without any height all stay as they are.
    pub fn fill_gaps(&mut self) -> Vec<usize> {
        let gaps: Vec<usize> = (0..self.height_m.len()).filter(|at| self.height_m[*at].is_nan()).collect();
        if !gaps.is_empty() && gaps.len() < self.height_m.len() {
            let mut height_m = self.height_m.to_vec();
            grow(&mut height_m, self.columns, self.rows);
            relax(&mut height_m, self.columns, self.rows, &gaps);
            self.height_m = height_m.into();
        }
        gaps
    }

    /// The points within some edges, and those around them that the ground there follows from.
    #[must_use]
    pub fn cut(&self, [west_m, south_m, east_m, north_m]: [f64; 4]) -> Terrain {
        let range = |from_m: f64, to_m: f64, first_m: f64, count: usize| {
            let at = |place_m: f64| ((place_m - first_m) / self.cell_m).clamp(0.0, (count - 1) as f64);
            let (low, high) = (at(from_m).floor() as usize, at(to_m).ceil() as usize);
            low.min(count.saturating_sub(2))..(high + 1).max(low + 2).min(count)
        };
        let columns = range(west_m, east_m, self.west_m, self.columns);
        let rows = range(south_m, north_m, self.south_m, self.rows);
        let part = |row: usize| &self.height_m[row * self.columns..][columns.clone()];
        Terrain {
            west_m: self.west_m + columns.start as f64 * self.cell_m,
            south_m: self.south_m + rows.start as f64 * self.cell_m,
            columns: columns.len(),
            rows: rows.len(),
            height_m: rows.clone().flat_map(part).copied().collect(),
            file: self.file.clone(),
            cell_m: self.cell_m,
        }
    }

    /// West, south, east and north edge of the outermost points.
    pub fn bounds_m(&self) -> [f64; 4] {
        [
            self.west_m,
            self.south_m,
            self.west_m + self.cell_m * (self.columns - 1) as f64,
            self.south_m + self.cell_m * (self.rows - 1) as f64,
        ]
    }

    #[inline]
    fn at(&self, index: usize) -> f64 {
        f64::from(self.height_m[index])
    }
}

/// Lower grid point and share of the way to the next, clamped to the grid.
#[inline]
fn cell_of(place: f64, count: usize) -> (usize, f64) {
    if count < 2 || place.is_nan() || place <= 0.0 {
        return (0, 0.0);
    }
    // By way of a signed number, which processors turn a float into and back in one step.
    let index = (place as i64).min(count as i64 - 2);
    (index as usize, (place - index as f64).min(1.0))
}

/// The points beside one.
fn around(at: usize, columns: usize, rows: usize) -> impl Iterator<Item = usize> {
    let (column, row) = (at % columns, at / columns);
    [
        (column > 0).then(|| at - 1),
        (column + 1 < columns).then(|| at + 1),
        (row > 0).then(|| at - columns),
        (row + 1 < rows).then(|| at + columns),
    ]
    .into_iter()
    .flatten()
}

/// Gives points without a height the mean of their neighbours that have one, ring by ring from the edge of the gap.
fn grow(height_m: &mut [f32], columns: usize, rows: usize) {
    let around = |at: usize| around(at, columns, rows);
    let mut edge: Vec<usize> = (0..height_m.len())
        .filter(|at| height_m[*at].is_nan() && around(*at).any(|near| !height_m[near].is_nan()))
        .collect();
    while !edge.is_empty() {
        let means: Vec<f32> = edge
            .iter()
            .map(|at| {
                let (mut sum, mut count) = (0.0, 0.0);
                for near in around(*at) {
                    if !height_m[near].is_nan() {
                        sum += height_m[near];
                        count += 1.0;
                    }
                }
                sum / count
            })
            .collect();
        for (at, mean) in edge.iter().zip(means) {
            height_m[*at] = mean;
        }
        let mut next: Vec<usize> =
            edge.iter().flat_map(|at| around(*at)).filter(|near| height_m[*near].is_nan()).collect();
        next.sort_unstable();
        next.dedup();
        edge = next;
    }
}

/// Heights in gaps settle until each is the mean of its neighbours to this. Estimate: far below the error of any such grid.
const SETTLED_M: f32 = 0.02;

/// Most changes made to settle gaps: about a tenth of a second.
const CHANGES_AT_MOST: usize = 20_000_000;

/// Levels what grew from the edges of gaps and met in the middle: in the end every height is the mean of its neighbours', as of a
/// skin that is stretched over the gap.
fn relax(height_m: &mut [f32], columns: usize, rows: usize, gaps: &[usize]) {
    for _ in 0..CHANGES_AT_MOST / gaps.len().max(1) {
        let mut most_m = 0.0_f32;
        for &at in gaps {
            let (mut sum, mut count) = (0.0, 0.0);
            for near in around(at, columns, rows) {
                sum += height_m[near];
                count += 1.0;
            }
            most_m = most_m.max((sum / count - height_m[at]).abs());
            height_m[at] = sum / count;
        }
        if most_m < SETTLED_M {
            return;
        }
    }
}
