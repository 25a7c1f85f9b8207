//! Where points lie in the plane: normal ellipses, kernel density, highest-density contours.

use super::StatsError;
use super::contours::{Raster, contour_lines};
use super::quantile::{QuantileRule, sample_quantile};

/// Principal axes of a covariance matrix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axes {
    /// Standard deviation along the major axis.
    pub major: f64,
    /// Standard deviation along the minor axis.
    pub minor: f64,
    /// Direction of the major axis from +x, in [0, π).
    pub angle_rad: f64,
}

/// Principal axes of the covariance [xx, xy, yy].
///
/// # Errors
/// A matrix that is no covariance.
pub fn axes(covariance: [f64; 3]) -> Result<Axes, StatsError> {
    let [xx, xy, yy] = covariance;
    let half_gap = 0.5 * (xx - yy);
    let root = (half_gap * half_gap + xy * xy).sqrt();
    let middle = 0.5 * (xx + yy);
    let large = middle + root;
    // The small eigenvalue through the determinant keeps its digits.
    let small = if large > 0.0 { (xx * yy - xy * xy) / large } else { 0.0 };
    if !(xx >= 0.0 && yy >= 0.0 && small >= -1e-9 * large) {
        return Err(StatsError::Range { name: "determinant of a covariance", value: xx * yy - xy * xy });
    }
    let angle = 0.5 * libm::atan2(2.0 * xy, xx - yy);
    let angle_rad = if angle < 0.0 { angle + std::f64::consts::PI } else { angle };
    Ok(Axes { major: large.sqrt(), minor: small.max(0.0).sqrt(), angle_rad })
}

/// Scott's factor for `n` points in `dimensions` dimensions.
///
/// # Source
/// Scott, Multivariate Density Estimation (1992).
pub fn scott_factor(n: usize, dimensions: usize) -> f64 {
    libm::pow(n as f64, -1.0 / (dimensions as f64 + 4.0))
}

/// Where a cloud of points lies and how far it spreads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moments {
    /// Mean.
    pub mean: [f64; 2],
    /// Sample covariance [xx, xy, yy] (divisor n − 1).
    pub covariance: [f64; 3],
}

/// Mean and covariance of points.
///
/// # Errors
/// Fewer than two points.
pub fn moments(points: &[[f64; 2]]) -> Result<Moments, StatsError> {
    let n = points.len();
    if n < 2 {
        return Err(StatsError::TooFew { got: n, needed: 2 });
    }
    let mut mean = [0.0; 2];
    for p in points {
        mean[0] += p[0];
        mean[1] += p[1];
    }
    mean = mean.map(|sum| sum / n as f64);
    let mut cov = [0.0; 3];
    for p in points {
        let (dx, dy) = (p[0] - mean[0], p[1] - mean[1]);
        cov[0] += dx * dx;
        cov[1] += dx * dy;
        cov[2] += dy * dy;
    }
    Ok(Moments { mean, covariance: cov.map(|sum| sum / (n - 1) as f64) })
}

/// A turned and scaled frame in which the kernel is round with unit deviation.
#[derive(Debug, Clone, Copy)]
struct Frame {
    centre: [f64; 2],
    angle_rad: f64,
    scale: [f64; 2],
}

impl Frame {
    fn into(self, p: [f64; 2]) -> [f64; 2] {
        let (s, c) = (libm::sin(self.angle_rad), libm::cos(self.angle_rad));
        let (dx, dy) = (p[0] - self.centre[0], p[1] - self.centre[1]);
        [(c * dx + s * dy) / self.scale[0], (c * dy - s * dx) / self.scale[1]]
    }

    fn back(self, q: [f64; 2]) -> [f64; 2] {
        let (s, c) = (libm::sin(self.angle_rad), libm::cos(self.angle_rad));
        let (u, v) = (q[0] * self.scale[0], q[1] * self.scale[1]);
        [self.centre[0] + c * u - s * v, self.centre[1] + s * u + c * v]
    }
}

/// Kernel sums on a grid in the kernel's own frame, wide enough that its border is empty.
struct Grid {
    frame: Frame,
    low: [f64; 2],
    cell: f64,
    columns: usize,
    rows: usize,
    values: Vec<f64>,
}

/// The kernel is cut off at this many deviations, where it has fallen to 4e-6.
const CUT_OFF: f64 = 5.0;
/// Spacing of the grid in kernel deviations, where there is room.
const SPACING: f64 = 1.0 / 3.0;
/// Most nodes of a grid (12 MB).
const MOST_NODES: f64 = 1.5e6;

impl Grid {
    /// Sums the kernels of all points. Each kernel is the product of one factor per axis.
    fn splat(points: &[[f64; 2]], frame: Frame) -> Grid {
        let white: Vec<[f64; 2]> = points.iter().map(|&p| frame.into(p)).collect();
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for q in &white {
            for k in 0..2 {
                low[k] = low[k].min(q[k]);
                high[k] = high[k].max(q[k]);
            }
        }
        let pad = CUT_OFF + 2.0;
        let size = [0, 1].map(|k| high[k] - low[k] + 2.0 * pad);
        let cell = SPACING.max((size[0] * size[1] / MOST_NODES).sqrt());
        let low = low.map(|x| x - pad);
        let (columns, rows) = ((size[0] / cell) as usize + 2, (size[1] / cell) as usize + 2);
        let mut values = vec![0.0; columns * rows];
        let reach = (CUT_OFF / cell) as usize;
        let mut factor = [vec![0.0; 2 * reach + 2], vec![0.0; 2 * reach + 2]];
        for q in &white {
            let mut first = [0; 2];
            for k in 0..2 {
                let at = (q[k] - low[k]) / cell;
                first[k] = at as usize - reach;
                for (i, f) in factor[k].iter_mut().enumerate() {
                    let off = ((first[k] + i) as f64 - at) * cell;
                    *f = libm::exp(-0.5 * off * off);
                }
            }
            for (j, fy) in factor[1].iter().enumerate() {
                let start = (first[1] + j) * columns + first[0];
                for (value, fx) in values[start..start + factor[0].len()].iter_mut().zip(&factor[0]) {
                    *value += fx * fy;
                }
            }
        }
        Grid { frame, low, cell, columns, rows, values }
    }

    /// Bilinear value at a place.
    fn at(&self, place: [f64; 2]) -> f64 {
        let q = self.frame.into(place);
        let x = ((q[0] - self.low[0]) / self.cell).clamp(0.0, (self.columns - 2) as f64);
        let y = ((q[1] - self.low[1]) / self.cell).clamp(0.0, (self.rows - 2) as f64);
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = (x - i as f64, y - j as f64);
        let v = |i: usize, j: usize| self.values[j * self.columns + i];
        (v(i, j) * (1.0 - fx) + v(i + 1, j) * fx) * (1.0 - fy) + (v(i, j + 1) * (1.0 - fx) + v(i + 1, j + 1) * fx) * fy
    }

    /// Closed rings of one level, the higher side on the left (outer rings counter-clockwise).
    fn rings(&self, level: f64) -> Vec<Vec<[f64; 2]>> {
        let Grid { low: [west_m, south_m], cell, columns, ref values, .. } = *self;
        let raster = Raster { west_m, south_m, dx_m: cell, dy_m: cell, columns, values };
        let rings = contour_lines(&raster, level).into_iter().filter(|ring| ring.len() > 3);
        rings.map(|ring| simplified(&ring).into_iter().map(|q| self.frame.back(q)).collect()).collect()
    }
}

/// A closed ring with the points left out that lie within 2 % of a kernel deviation of the line without them.
///
/// # Source
/// Douglas and Peucker, Cartographica 10 (1973) 112, from the two ends that the first point and the one farthest
/// from it make.
fn simplified(ring: &[[f64; 2]]) -> Vec<[f64; 2]> {
    const OFF: f64 = 0.02;
    let n = ring.len();
    let apart = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2);
    let far = (1..n - 1).max_by(|&i, &j| apart(ring[i], ring[0]).total_cmp(&apart(ring[j], ring[0]))).unwrap_or(0);
    let mut keep = vec![false; n];
    keep[0] = true;
    keep[far] = true;
    keep[n - 1] = true;
    let mut open = vec![(0, far), (far, n - 1)];
    while let Some((from, to)) = open.pop() {
        let (a, b) = (ring[from], ring[to]);
        let length = apart(a, b).sqrt();
        let off = |i: usize| {
            let p = ring[i];
            if length > 0.0 {
                ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])).abs() / length
            } else {
                apart(a, p).sqrt()
            }
        };
        if let Some(most) = (from + 1..to).max_by(|&i, &j| off(i).total_cmp(&off(j)))
            && off(most) > OFF
        {
            keep[most] = true;
            open.push((from, most));
            open.push((most, to));
        }
    }
    ring.iter().zip(&keep).filter(|(_, keep)| **keep).map(|(p, _)| *p).collect()
}

/// Highest-density contours of a cloud of points, for a map.
#[derive(Debug, Clone, PartialEq)]
pub struct MapContours {
    /// Deviation of the kernel: geometric mean of its two axes.
    pub kernel_m: f64,
    /// Each wanted share with its closed rings (first point repeated).
    pub levels: Vec<(f64, Vec<Vec<[f64; 2]>>)>,
}

/// Fewest points for any contour.
pub const CONTOUR_POINTS: usize = 200;
/// Fewest points for a contour of 99 % or more.
pub const CONTOUR_POINTS_99: usize = 1_000;
/// Widest kernel, so that a contour does not bleed over an edge line.
const WIDEST_KERNEL_M: f64 = 15.0;
/// Narrowest kernel, so that a cloud on one spot or line can be drawn.
const NARROWEST_KERNEL_M: f64 = 0.25;
/// More points than this are thinned evenly; a contour needs no more.
const MOST_POINTS: usize = 50_000;

/// Mass over the whole plane of the density with this kernel covariance [xx, xy, yy], as the grid of the contours sees it:
/// 1 but for its cut-off.
///
/// # Errors
/// A matrix that is no covariance, no points.
pub fn grid_mass(points: &[[f64; 2]], kernel: [f64; 3]) -> Result<f64, StatsError> {
    let a = axes(kernel)?;
    let centre = *points.first().ok_or(StatsError::TooFew { got: 0, needed: 1 })?;
    let grid = Grid::splat(points, Frame { centre, angle_rad: a.angle_rad, scale: [a.major, a.minor] });
    // Values are sums of exp(−r²/2) in units of the kernel's axes.
    Ok(grid.values.iter().sum::<f64>() * grid.cell * grid.cell / (std::f64::consts::TAU * points.len() as f64))
}

/// Contours that hold these shares of the points, by half of Scott's kernel, each axis within 0.25 m to 15 m.
/// The level of a share p is the (1 − p) quantile of the densities at the points, each without its own kernel. Empty under
/// [`CONTOUR_POINTS`] points; shares of 0.99 and more are left out under [`CONTOUR_POINTS_99`].
///
/// # Source
/// Hyndman, The American Statistician 50 (1996) 120 (highest-density regions); bandwidth: our choice, because
/// Scott's own over-smooths clouds with two spots.
pub fn map_contours(points: &[[f64; 2]], shares: &[f64]) -> MapContours {
    let stride = points.len().div_ceil(MOST_POINTS).max(1);
    let points: Vec<[f64; 2]> =
        points.iter().copied().filter(|p| p[0].is_finite() && p[1].is_finite()).step_by(stride).collect();
    let n = points.len();
    let none = MapContours { kernel_m: f64::NAN, levels: Vec::new() };
    if n < CONTOUR_POINTS {
        return none;
    }
    let Ok(Moments { mean: centre, covariance }) = moments(&points) else { return none };
    let Ok(a) = axes(covariance) else { return none };
    let factor = 0.5 * scott_factor(n, 2);
    let mut scale = [a.major, a.minor].map(|s| (factor * s).clamp(NARROWEST_KERNEL_M, WIDEST_KERNEL_M));
    // Far strays would need a grid too large for narrow kernels: the kernel then grows with the grid.
    let frame = Frame { centre, angle_rad: a.angle_rad, scale };
    let mut grid = Grid::splat(&points, frame);
    if grid.cell > 0.75 {
        scale = scale.map(|s| s * grid.cell / 0.75);
        grid = Grid::splat(&points, Frame { scale, ..frame });
    }
    // Without its own kernel, which would lift the sparse outer points and shrink the contour: on a normal cloud of
    // 20,000 points the 99 % contour would be 9 % too small. A lone point then has density 0; the floor keeps its
    // ring within 2.5 kernel deviations of it.
    let mut densities: Vec<f64> = points.iter().map(|&p| (grid.at(p) - 1.0).max(0.044)).collect();
    densities.sort_by(f64::total_cmp);
    let levels = shares
        .iter()
        .filter(|&&share| share < 0.99 || n >= CONTOUR_POINTS_99)
        .map(|&share| (share, grid.rings(sample_quantile(&densities, 1.0 - share, QuantileRule::Type7))))
        .collect();
    MapContours { kernel_m: (scale[0] * scale[1]).sqrt(), levels }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::{Purpose, Source};

    fn cloud(n: u32, sx: f64, sy: f64, angle: f64) -> Vec<[f64; 2]> {
        let s = Source::new(5, Purpose::Trial);
        let (sin, cos) = (libm::sin(angle), libm::cos(angle));
        (0..n)
            .map(|flight| {
                let z = s.normals(flight, 0, 0);
                let (u, v) = (sx * z[0], sy * z[1]);
                [40.0 + cos * u - sin * v, -7.0 + sin * u + cos * v]
            })
            .collect()
    }

    #[test]
    fn few_points_give_no_contour_and_odd_clouds_no_panic() {
        assert!(map_contours(&cloud(199, 10.0, 10.0, 0.0), &[0.5]).levels.is_empty());
        assert_eq!(map_contours(&cloud(999, 10.0, 10.0, 0.0), &[0.5, 0.9, 0.99]).levels.len(), 2);
        // All on one spot, and on one spot with one stray 20 km away.
        let mut spot = vec![[3.0, 4.0]; 1_000];
        let one = map_contours(&spot, &[0.5]);
        assert_eq!(one.levels[0].1.len(), 1);
        spot[7] = [20_000.0, -11_000.0];
        let far = map_contours(&spot, &[0.5, 0.9, 0.99]);
        assert_eq!(far.levels.len(), 3);
        spot[8] = [f64::NAN, 0.0];
        assert_eq!(map_contours(&spot, &[0.5]).levels.len(), 1);
        assert!(map_contours(&[], &[0.5]).levels.is_empty());
    }
}
