//! Lines of equal value on a regular grid.

use std::collections::{BTreeMap, BTreeSet};

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
/// alternate is decided by the mean of the four. Higher ground is on the left; open lines come first, and a closed one ends with
/// its first point. Cells with a NaN have no line.
///
/// # Source
/// Lorensen and Cline, "Marching cubes", SIGGRAPH 1987, in two dimensions (common practice).
pub fn contour_lines(raster: &Raster, level: f64) -> Vec<Vec<[f64; 2]>> {
    let columns = raster.columns;
    let place = |edge: usize| {
        let (node, upright) = (edge / 2, edge % 2 == 1);
        let (a, b) = (raster.values[node], raster.values[if upright { node + columns } else { node + 1 }]);
        let t = (level - a) / (b - a);
        let (x, y) = ((node % columns) as f64, (node / columns) as f64);
        let (x, y) = if upright { (x, y + t) } else { (x + t, y) };
        [raster.west_m + x * raster.dx_m, raster.south_m + y * raster.dy_m]
    };
    let mut next = steps(raster, level);
    let reached: BTreeSet<usize> = next.values().copied().collect();
    let starts: Vec<usize> = next.keys().copied().filter(|edge| !reached.contains(edge)).collect();
    let mut lines = Vec::new();
    let mut walk = |start: usize, next: &mut BTreeMap<usize, usize>| {
        let (mut line, mut edge) = (vec![place(start)], start);
        while let Some(following) = next.remove(&edge) {
            line.push(place(following));
            edge = following;
        }
        lines.push(line);
    };
    starts.into_iter().for_each(|start| walk(start, &mut next));
    while let Some(start) = next.keys().next().copied() {
        walk(start, &mut next);
    }
    lines
}

/// From which crossed edge a line goes on to which. The edge from node n to the east is 2n, that to the north 2n + 1.
fn steps(raster: &Raster, level: f64) -> BTreeMap<usize, usize> {
    let columns = raster.columns;
    let rows = raster.values.len().checked_div(columns).unwrap_or(0);
    let mut next = BTreeMap::new();
    for row in 0..rows.saturating_sub(1) {
        for column in 0..columns.saturating_sub(1) {
            let node = row * columns + column;
            let corners = [node, node + 1, node + 1 + columns, node + columns];
            let values = corners.map(|corner| raster.values[corner]);
            let inside = values.map(|value| value >= level);
            if inside == [false; 4] || inside == [true; 4] || values.iter().any(|value| value.is_nan()) {
                continue;
            }
            let edges = [2 * corners[0], 2 * corners[1] + 1, 2 * corners[3], 2 * corners[0] + 1];
            let leaves = |e: usize| inside[e] && !inside[(e + 1) % 4];
            let enters = |e: usize| !inside[e] && inside[(e + 1) % 4];
            let saddle = inside == [true, false, true, false] || inside == [false, true, false, true];
            let middle = values.iter().sum::<f64>() / 4.0 >= level;
            for e in (0..4).filter(|&e| leaves(e)) {
                let to = if saddle {
                    // Joined through the middle or apart.
                    if middle { (e + 1) % 4 } else { (e + 3) % 4 }
                } else {
                    (1..4).map(|k| (e + k) % 4).find(|&k| enters(k)).unwrap_or(e)
                };
                next.insert(edges[e], edges[to]);
            }
        }
    }
    next
}

#[cfg(test)]
mod tests {
    use super::*;

    fn length(line: &[[f64; 2]]) -> f64 {
        line.windows(2).map(|leg| (leg[1][0] - leg[0][0]).hypot(leg[1][1] - leg[0][1])).sum()
    }

    /// Positive with the higher ground inside.
    fn area(ring: &[[f64; 2]]) -> f64 {
        ring.windows(2).map(|leg| 0.5 * (leg[0][0] * leg[1][1] - leg[1][0] * leg[0][1])).sum()
    }

    fn raster(values: &[f64], columns: usize) -> Raster<'_> {
        Raster { west_m: 0.0, south_m: 0.0, dx_m: 1.0, dy_m: 1.0, columns, values }
    }

    #[test]
    fn a_plane_has_straight_lines() {
        let values: Vec<f64> = (0..12).map(|index| f64::from(index % 4)).collect();
        let lines = contour_lines(&raster(&values, 4), 1.25);
        assert_eq!(lines.len(), 1);
        assert!(lines[0].iter().all(|point| (point[0] - 1.25).abs() < 1e-12));
        assert_eq!(length(&lines[0]), 2.0);
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
        assert!((area(&lines[0]) - 475.3).abs() < 2.0);
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
