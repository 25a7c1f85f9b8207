//! What all rasters have: a lattice of samples, parts of it, and the words for what is wrong with a file.

use std::io::{Read, Seek};
use std::ops::Range;
use std::sync::Arc;

/// Bytes of a file that can be read anywhere.
pub trait Bytes: Read + Seek {}

impl<R: Read + Seek> Bytes for R {}

/// Why a raster cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{found}; accepted: {accepted}")]
pub struct GridFault {
    /// Line, counted from 1, of a file of text.
    pub line: Option<usize>,
    /// What was found.
    pub found: String,
    /// What would be accepted.
    pub accepted: String,
}

/// Why a file is no raster that can be used.
#[derive(Debug, Clone, PartialEq)]
pub struct Unreadable {
    /// What is wrong.
    pub fault: GridFault,
    /// The text, where the file is one, to show the line.
    pub text: Option<Arc<str>>,
}

impl From<GridFault> for Unreadable {
    fn from(fault: GridFault) -> Unreadable {
        Unreadable { fault, text: None }
    }
}

/// A fault at a line, or of the whole file.
pub(super) fn fault<T>(
    line: Option<usize>,
    found: impl Into<String>,
    accepted: impl Into<String>,
) -> Result<T, GridFault> {
    Err(GridFault { line, found: found.into(), accepted: accepted.into() })
}

/// Most values that are held of a raster.
pub const VALUES_AT_MOST: usize = 36_000_000;

/// Lowest and highest ground there is, with room: what lies beyond is no height in metres.
pub(super) const HEIGHTS_M: std::ops::RangeInclusive<f64> = -12_000.0..=9_000.0;

/// What heights are counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Vertical {
    /// Mean sea level, by whatever model of it.
    SeaLevel,
    /// The ellipsoid.
    Ellipsoid,
    /// The file does not say.
    Unsaid,
}

/// A regular lattice of samples in the coordinates of a raster. Columns and rows are counted from the first sample of the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lattice {
    /// Samples of a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Column and row for one unit of x and of y …
    to_index: [[f64; 2]; 2],
    /// … from the place whose column and row are these.
    first_index: [f64; 2],
}

impl Lattice {
    /// From the place of the first sample, the step to the next column and that to the next row; `None` when these span no plane.
    pub fn new(columns: usize, rows: usize, first: [f64; 2], along: [f64; 2], down: [f64; 2]) -> Option<Lattice> {
        let area = along[0] * down[1] - along[1] * down[0];
        let to_index = [[down[1] / area, -down[0] / area], [-along[1] / area, along[0] / area]];
        let lattice = Lattice { columns, rows, to_index, first_index: [0.0, 0.0] };
        let first_index = lattice.lattice_index(first);
        let finite = to_index.iter().flatten().chain(&first_index).all(|part| part.is_finite());
        (finite && area != 0.0).then_some(Lattice { first_index, ..lattice })
    }

    /// The same as it is meant where steps are a whole part of a degree and samples lie on or half-way between whole steps: files
    /// write a 1200th of a degree with as many digits as they like. The same samples in another file then have the same places to
    /// the last bit.
    #[must_use]
    pub fn in_parts_of_a_degree(mut self) -> Lattice {
        if self.to_index[0][1] != 0.0 || self.to_index[1][0] != 0.0 {
            return self;
        }
        for (axis, count) in [(0, self.columns), (1, self.rows)] {
            let per_degree = self.to_index[axis][axis];
            let (whole, half) = (per_degree.round(), (2.0 * self.first_index[axis]).round() / 2.0);
            // Off by no more than four thousandths of a step anywhere.
            let stretched = (whole / per_degree - 1.0).abs() * (count as f64 + self.first_index[axis].abs());
            if whole != 0.0 && stretched < 2e-3 && (half - self.first_index[axis]).abs() < 2e-3 {
                self.to_index[axis][axis] = whole;
                self.first_index[axis] = half;
            }
        }
        self
    }

    /// Column and row of a place, counted from the origin of the coordinates.
    pub fn lattice_index(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        self.to_index.map(|row| row[0] * x + row[1] * y)
    }

    /// Column and row, counted from the first sample, of those counted from the origin.
    pub fn from_first(&self, [column, row]: [f64; 2]) -> [f64; 2] {
        [column - self.first_index[0], row - self.first_index[1]]
    }

    /// The middle of its coordinates.
    pub fn middle(&self) -> [f64; 2] {
        let column = self.first_index[0] + 0.5 * (self.columns as f64 - 1.0);
        let row = self.first_index[1] + 0.5 * (self.rows as f64 - 1.0);
        let [[a, b], [c, d]] = self.to_index;
        let area = a * d - b * c;
        [(d * column - b * row) / area, (a * row - c * column) / area]
    }

    /// By how many columns and rows another lattice of the same samples begins later; `None` when the samples are others.
    pub fn shift_to(&self, other: &Lattice) -> Option<[i64; 2]> {
        let alike = self.to_index.iter().flatten().zip(other.to_index.iter().flatten());
        let reach = (self.columns + self.rows + other.columns + other.rows) as f64;
        if alike.into_iter().any(|(a, b)| (a - b).abs() * reach > 1e-3 * a.abs().max(b.abs())) {
            return None;
        }
        let by = [0, 1].map(|axis| other.first_index[axis] - self.first_index[axis]);
        let whole = by.iter().all(|by| (by - by.round()).abs() < 1e-3 && by.abs() < 1e9);
        whole.then(|| by.map(|by| by.round() as i64))
    }

    /// All of it.
    pub fn whole(&self) -> Window {
        Window { columns: 0..self.columns, rows: 0..self.rows }
    }
}

/// Columns and rows of a part of a raster.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Window {
    /// Columns.
    pub columns: Range<usize>,
    /// Rows.
    pub rows: Range<usize>,
}

impl Window {
    /// Whether another lies within.
    pub fn holds(&self, other: &Window) -> bool {
        let within = |outer: &Range<usize>, inner: &Range<usize>| outer.start <= inner.start && inner.end <= outer.end;
        within(&self.columns, &other.columns) && within(&self.rows, &other.rows)
    }

    /// Samples in it.
    pub fn count(&self) -> usize {
        self.columns.len().saturating_mul(self.rows.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_and_indices_agree() {
        // Turned by some angle and mirrored, as a file may have it.
        let lattice = Lattice::new(30, 20, [100.0, 50.0], [3.0, 4.0], [4.0, -3.0]).expect("a plane");
        for (column, row) in [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (7.5, 3.25)] {
            let place = [100.0 + 3.0 * column + 4.0 * row, 50.0 + 4.0 * column - 3.0 * row];
            let [c, r] = lattice.from_first(lattice.lattice_index(place));
            assert!((c - column).abs() < 1e-9 && (r - row).abs() < 1e-9, "{c} {r}");
        }
        let [x, y] = lattice.middle();
        assert!((x - (100.0 + 43.5 + 38.0)).abs() < 1e-9 && (y - (50.0 + 58.0 - 28.5)).abs() < 1e-9);
        assert_eq!(Lattice::new(2, 2, [0.0, 0.0], [1.0, 2.0], [2.0, 4.0]), None);
        assert_eq!(Lattice::new(2, 2, [0.0, 0.0], [f64::NAN, 0.0], [0.0, 1.0]), None);
    }

    /// A 1200th of a degree, by twelve digits or as it is, from a corner half a step off or not: the same places.
    #[test]
    fn steps_written_with_few_digits_are_the_parts_of_a_degree_they_mean() {
        let step = 1.0 / 1200.0;
        let tile = Lattice::new(1201, 1201, [-85.0, 37.0], [step, 0.0], [0.0, -step]).expect("a plane");
        let written = 0.000833333333;
        let first = [-84.41375 + 0.5 * written, 36.73291666667 - 0.5 * written];
        let cut = Lattice::new(403, 344, first, [written, 0.0], [0.0, -written]).expect("a plane");
        let (tile, cut) = (tile.in_parts_of_a_degree(), cut.in_parts_of_a_degree());
        assert_eq!(tile.lattice_index([-84.3, 36.6]), cut.lattice_index([-84.3, 36.6]));
        // The first sample lies at 84.4133333° W, 36.7325° N.
        assert_eq!(tile.shift_to(&cut), Some([704, 321]));
        assert_eq!(cut.shift_to(&tile), Some([-704, -321]));
        // Half a step off is another lattice, and so is another step.
        let off = Lattice::new(9, 9, [-85.0 + 0.5 * step, 37.0], [step, 0.0], [0.0, -step]).expect("a plane");
        assert_eq!(tile.shift_to(&off.in_parts_of_a_degree()), None);
        let finer = Lattice::new(9, 9, [-85.0, 37.0], [step / 3.0, 0.0], [0.0, -step / 3.0]).expect("a plane");
        assert_eq!(tile.shift_to(&finer.in_parts_of_a_degree()), None);
        // Metres stay as they are.
        let metres = Lattice::new(3, 3, [500_000.3, 7.0], [83.4, 0.0], [0.0, -83.4]).expect("a plane");
        assert_eq!(metres.in_parts_of_a_degree(), metres);
    }
}
