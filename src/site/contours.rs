//! Lines of equal value on a regular grid.

use super::Terrain;
use std::collections::HashMap;

/// A regular grid of values: row by row from the south, west to east.
#[derive(Debug, Clone, Copy)]
pub struct Raster<'a> {
    /// x of the first column.
    pub west_m: f64,
    /// y of the first row.
    pub south_m: f64,
    /// Spacing from west to east.
    pub dx_m: f64,
    /// Spacing from south to north.
    pub dy_m: f64,
    /// Values in a row.
    pub columns: usize,
    /// The values; their number is a whole multiple of `columns`.
    pub values: &'a [f64],
}

/// Lines along which a grid's bilinear surface has the value `level`, by marching squares; a cell whose corners
/// alternate is decided by the mean of the four. A closed line ends with its first point. Cells with a NaN have no line.
///
/// # Source
/// Lorensen and Cline, "Marching cubes", SIGGRAPH 1987, in two dimensions (common practice).
pub fn contour_lines(raster: &Raster, level: f64) -> Vec<Vec<[f64; 2]>> {
    let columns = raster.columns;
    let rows = raster.values.len().checked_div(columns).unwrap_or(0);
    let at = |column: usize, row: usize| raster.values[row * columns + column];
    // An edge from a grid point to the east has an even number, to the north an odd one.
    let east = |column: usize, row: usize| 2 * (row * columns + column);
    let north = |column: usize, row: usize| 2 * (row * columns + column) + 1;
    let mut pieces: Vec<[usize; 2]> = Vec::new();
    for row in 0..rows.saturating_sub(1) {
        for column in 0..columns.saturating_sub(1) {
            let corners = [at(column, row), at(column + 1, row), at(column + 1, row + 1), at(column, row + 1)];
            if corners.iter().any(|value| value.is_nan()) {
                continue;
            }
            let edges = [east(column, row), north(column + 1, row), east(column, row + 1), north(column, row)];
            let high = corners.map(|value| value >= level);
            let crossed: Vec<usize> = (0..4).filter(|side| high[*side] != high[(*side + 1) % 4]).collect();
            match crossed.as_slice() {
                [first, second] => pieces.push([edges[*first], edges[*second]]),
                [_, _, _, _] => {
                    // Edge k joins corners k and k + 1; which pairs belong together depends on the middle.
                    let middle_high = corners.iter().sum::<f64>() * 0.25 >= level;
                    let pairs = if high[0] == middle_high { [[0, 1], [2, 3]] } else { [[3, 0], [1, 2]] };
                    pieces.extend(pairs.map(|pair| pair.map(|side: usize| edges[side])));
                }
                _ => {}
            }
        }
    }
    let place = |edge: usize| -> [f64; 2] {
        let (column, row) = (edge / 2 % columns, edge / 2 / columns);
        let from = at(column, row);
        let to = if edge.is_multiple_of(2) { at(column + 1, row) } else { at(column, row + 1) };
        let t = if to == from { 0.5 } else { ((level - from) / (to - from)).clamp(0.0, 1.0) };
        let (x, y) = (column as f64, row as f64);
        let (x, y) = if edge.is_multiple_of(2) { (x + t, y) } else { (x, y + t) };
        [raster.west_m + x * raster.dx_m, raster.south_m + y * raster.dy_m]
    };
    join(&pieces).into_iter().map(|line| line.into_iter().map(place).collect()).collect()
}

/// Joins pieces that share an end into lines; open lines first, then closed ones.
fn join(pieces: &[[usize; 2]]) -> Vec<Vec<usize>> {
    let mut at_end: HashMap<usize, Vec<usize>> = HashMap::with_capacity(pieces.len());
    for (index, piece) in pieces.iter().enumerate() {
        for end in piece {
            at_end.entry(*end).or_default().push(index);
        }
    }
    let mut used = vec![false; pieces.len()];
    let mut lines = Vec::new();
    let mut walk = |start: usize, first: usize, used: &mut Vec<bool>| {
        let mut line = vec![start];
        let (mut end, mut piece) = (start, first);
        loop {
            used[piece] = true;
            end = if pieces[piece][0] == end { pieces[piece][1] } else { pieces[piece][0] };
            line.push(end);
            match at_end[&end].iter().find(|next| !used[**next]) {
                Some(next) => piece = *next,
                None => break,
            }
        }
        lines.push(line);
    };
    for (index, piece) in pieces.iter().enumerate() {
        for end in piece {
            if !used[index] && at_end[end].len() == 1 {
                walk(*end, index, &mut used);
            }
        }
    }
    for (index, piece) in pieces.iter().enumerate() {
        if !used[index] {
            walk(piece[0], index, &mut used);
        }
    }
    lines
}

impl Terrain {
    /// Contour lines of the ground every `step_m`, from the lowest up: z and the lines there.
    pub fn contours(&self, step_m: f64) -> Vec<(f64, Vec<Vec<[f64; 2]>>)> {
        let values: Vec<f64> = self.height_m.iter().map(|height| f64::from(*height)).collect();
        let (low, high) = values
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)));
        let raster = Raster {
            west_m: self.west_m,
            south_m: self.south_m,
            dx_m: self.cell_m,
            dy_m: self.cell_m,
            columns: self.columns,
            values: &values,
        };
        let (first, last) = ((low / step_m).floor() as i64 + 1, (high / step_m).ceil() as i64 - 1);
        (first..=last)
            .map(|count| count as f64 * step_m)
            .map(|level| (level, contour_lines(&raster, level)))
            .filter(|(_, lines)| !lines.is_empty())
            .collect()
    }

    /// A contour step that gives about ten levels: 1, 2 or 5 times a power of ten.
    pub fn contour_step_m(&self) -> f64 {
        let (low, high) = self
            .height_m
            .iter()
            .fold((f32::INFINITY, f32::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)));
        let wanted = (f64::from(high - low) / 10.0).max(0.1);
        let power = libm::pow(10.0, libm::log10(wanted).floor());
        [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|factor| factor * power)
            .find(|step| *step >= wanted)
            .unwrap_or(power * 10.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::shape::{line_length_m, signed_area_m2};

    fn raster(values: &[f64], columns: usize) -> Raster<'_> {
        Raster { west_m: 0.0, south_m: 0.0, dx_m: 1.0, dy_m: 1.0, columns, values }
    }

    #[test]
    fn a_plane_has_straight_lines() {
        let values: Vec<f64> = (0..12).map(|index| f64::from(index % 4)).collect();
        let lines = contour_lines(&raster(&values, 4), 1.25);
        assert_eq!(lines.len(), 1);
        assert!(lines[0].iter().all(|point| (point[0] - 1.25).abs() < 1e-12));
        assert_eq!(line_length_m(&lines[0]), 2.0);
    }

    #[test]
    fn a_cone_has_one_round_closed_line() {
        let values: Vec<f64> = (0..41 * 41)
            .map(|index| {
                let (x, y) = (f64::from(index % 41) - 20.0, f64::from(index / 41) - 20.0);
                -(x * x + y * y).sqrt()
            })
            .collect();
        let lines = contour_lines(&raster(&values, 41), -12.3);
        assert_eq!(lines.len(), 1);
        assert_eq!(lines[0].first(), lines[0].last());
        // π 12.3² = 475.3 m².
        assert!((signed_area_m2(&lines[0]).abs() - 475.3).abs() < 2.0);
    }

    #[test]
    fn a_saddle_is_decided_by_its_middle() {
        // High at south-west and north-east. With a high middle the two are joined, with a low one they are apart.
        let joined = contour_lines(&raster(&[1.0, 0.0, 0.0, 1.0], 2), 0.4);
        let apart = contour_lines(&raster(&[1.0, 0.0, 0.0, 1.0], 2), 0.6);
        assert_eq!((joined.len(), apart.len()), (2, 2));
        let near = |lines: &[Vec<[f64; 2]>], corner: [f64; 2]| {
            lines
                .iter()
                .any(|line| line.iter().all(|point| (point[0] - corner[0]).abs() + (point[1] - corner[1]).abs() < 0.7))
        };
        assert!(near(&joined, [1.0, 0.0]) && near(&joined, [0.0, 1.0]));
        assert!(near(&apart, [0.0, 0.0]) && near(&apart, [1.0, 1.0]));
    }

    #[test]
    fn gaps_break_lines_and_do_not_panic() {
        let mut values: Vec<f64> = (0..25).map(|index| f64::from(index % 5)).collect();
        values[12] = f64::NAN;
        let lines = contour_lines(&raster(&values, 5), 1.5);
        assert_eq!(lines.len(), 2);
        assert!(contour_lines(&raster(&[], 0), 1.0).is_empty());
        assert!(contour_lines(&raster(&[1.0], 1), 1.0).is_empty());
    }
}
