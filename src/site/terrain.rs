//! Ground heights on a regular grid.

use serde::Serialize;
use std::path::PathBuf;

/// Ground heights on a regular grid of local metres, row by row from the south.
#[derive(Debug, Clone, PartialEq, Serialize)]
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
    #[serde(skip)]
    pub height_m: Vec<f32>,
}

impl Terrain {
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

    /// Steepness of the ground, from the bilinear surface over one grid spacing.
    pub fn slope_rad(&self, x_m: f64, y_m: f64) -> f64 {
        let half = 0.5 * self.cell_m;
        let east = (self.ground_m(x_m + half, y_m) - self.ground_m(x_m - half, y_m)) / self.cell_m;
        let north = (self.ground_m(x_m, y_m + half) - self.ground_m(x_m, y_m - half)) / self.cell_m;
        libm::atan((east * east + north * north).sqrt())
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
    let last = count - 2;
    let index = (place as usize).min(last);
    (index, (place - index as f64).min(1.0))
}
