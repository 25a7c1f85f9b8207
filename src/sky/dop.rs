//! Dilution of precision and the weighted covariance of a fix.

use super::System;

/// Dilution of precision; every value is a pure number, metres of position per metre of range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dop {
    /// Horizontal.
    pub hdop: f64,
    /// Vertical.
    pub vdop: f64,
    /// Position, horizontal and vertical together.
    pub pdop: f64,
    /// Position and every clock.
    pub gdop: f64,
}

/// Position covariance of a weighted solution: east, north, up, and what a common delay does to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Covariance {
    /// Covariance of east, north, up, m² when the weights are 1/σ².
    pub q: [[f64; 3]; 3],
    /// Displacement east, north, up by a range delay of 1 m times each satellite's `common` factor.
    pub common: [f64; 3],
}

/// Share of the geometric mean scale under which the normal matrix counts as singular: a PDOP beyond about a million.
const SINGULAR: f64 = 1e-13;

/// Sums of the normal equations, a clock for each group of satellites.
///
/// The clocks are eliminated in the sums (each is the weighted mean of its group), so that only a 3 × 3 matrix is left to
/// invert: the result is the same as with one clock column per group.
#[derive(Debug, Clone, Copy, Default)]
pub struct Normal {
    groups: [Group; 4],
}

#[derive(Debug, Clone, Copy, Default)]
struct Group {
    count: u32,
    weight: f64,
    mean: [f64; 3],
    square: [f64; 6],
    common: f64,
    common_mean: [f64; 3],
}

impl Normal {
    /// Adds a satellite: its clock group (0 to 3), its direction (east, north, up), the weight of its range, and how much of
    /// a common delay it feels (0 when that does not matter).
    #[inline]
    pub fn add(&mut self, group: usize, direction: [f64; 3], weight: f64, common: f64) {
        let g = &mut self.groups[group];
        let [e, n, u] = direction;
        let (we, wn, wu) = (weight * e, weight * n, weight * u);
        g.count += 1;
        g.weight += weight;
        g.mean[0] += we;
        g.mean[1] += wn;
        g.mean[2] += wu;
        g.square[0] += we * e;
        g.square[1] += we * n;
        g.square[2] += we * u;
        g.square[3] += wn * n;
        g.square[4] += wn * u;
        g.square[5] += wu * u;
        g.common += weight * common;
        g.common_mean[0] += we * common;
        g.common_mean[1] += wn * common;
        g.common_mean[2] += wu * common;
    }

    /// Number of satellites.
    #[inline]
    pub fn count(&self) -> u32 {
        self.groups.iter().map(|g| g.count).sum()
    }

    /// Number of groups with a satellite.
    #[inline]
    pub fn clocks(&self) -> u32 {
        self.groups.iter().filter(|g| g.count > 0).count() as u32
    }

    /// Covariance of the position; `None` with fewer than 3 + clocks satellites or a singular geometry: no solution.
    #[inline]
    pub fn covariance(&self) -> Option<Covariance> {
        if self.count() < 3 + self.clocks() {
            return None;
        }
        let mut m = [0.0; 6];
        let mut right = [0.0; 3];
        let mut size = 0.0;
        for g in self.groups.iter().filter(|g| g.count > 0) {
            let [e, n, u] = g.mean;
            let inverse = 1.0 / g.weight;
            let outer = [e * e, e * n, e * u, n * n, n * u, u * u];
            for ((sum, square), product) in m.iter_mut().zip(g.square).zip(outer) {
                *sum += square - product * inverse;
            }
            for ((sum, both), mean) in right.iter_mut().zip(g.common_mean).zip(g.mean) {
                *sum += both - mean * g.common * inverse;
            }
            size += g.weight;
        }
        let [a, b, c, d, e, f] = m;
        let cofactors = [d * f - e * e, c * e - b * f, b * e - c * d, a * f - c * c, b * c - a * e, a * d - b * b];
        let determinant = a * cofactors[0] + b * cofactors[1] + c * cofactors[2];
        let scale = size / 3.0;
        if determinant.is_nan() || determinant <= SINGULAR * scale * scale * scale {
            return None;
        }
        let i = 1.0 / determinant;
        let [qa, qb, qc, qd, qe, qf] = cofactors.map(|x| x * i);
        let q = [[qa, qb, qc], [qb, qd, qe], [qc, qe, qf]];
        // The model matrix has minus the direction: a positive delay pushes the place away from the satellites.
        let common = q.map(|row| -(row[0] * right[0] + row[1] * right[1] + row[2] * right[2]));
        Some(Covariance { q, common })
    }

    /// Dilution of precision of what was added with weight 1; `None` as [`Normal::covariance`].
    pub fn dop(&self) -> Option<Dop> {
        let Covariance { q, .. } = self.covariance()?;
        let horizontal = q[0][0] + q[1][1];
        let position = horizontal + q[2][2];
        let mut clocks = 0.0;
        for g in self.groups.iter().filter(|g| g.count > 0) {
            // Variance of a group's clock: that of its mean range, and the position's along the mean direction.
            let mean = g.mean.map(|x| x / g.weight);
            let turned = q.map(|row| row[0] * mean[0] + row[1] * mean[1] + row[2] * mean[2]);
            clocks += 1.0 / g.weight + mean[0] * turned[0] + mean[1] * turned[1] + mean[2] * turned[2];
        }
        Some(Dop {
            hdop: horizontal.sqrt(),
            vdop: q[2][2].sqrt(),
            pdop: position.sqrt(),
            gdop: (position + clocks).sqrt(),
        })
    }
}

/// Dilution of precision with one clock for all satellites; directions are unit vectors east, north, up.
///
/// `None` when the geometry gives no solution.
///
/// # Source
/// Kaplan and Hegarty, "Understanding GPS", 2nd edition, 2006, section 7.3.1.
pub fn dop_one_clock(directions: &[[f64; 3]]) -> Option<Dop> {
    let mut normal = Normal::default();
    for &direction in directions {
        normal.add(0, direction, 1.0, 0.0);
    }
    normal.dop()
}

/// Dilution of precision with a clock for each system that has a satellite; `gdop` counts all clocks.
pub fn dop_per_system(satellites: &[(System, [f64; 3])]) -> Option<Dop> {
    let mut normal = Normal::default();
    for &(system, direction) in satellites {
        normal.add(system.index(), direction, 1.0, 0.0);
    }
    normal.dop()
}

/// Horizontal root mean square and vertical one-sigma error of a weighted solution with one clock.
///
/// `None` when the geometry gives no solution.
pub fn weighted_error_m(directions: &[[f64; 3]], range_sigma_m: &[f64]) -> Option<[f64; 2]> {
    let mut normal = Normal::default();
    for (&direction, &sigma) in directions.iter().zip(range_sigma_m) {
        normal.add(0, direction, 1.0 / (sigma * sigma), 0.0);
    }
    normal.covariance().map(|c| [(c.q[0][0] + c.q[1][1]).sqrt(), c.q[2][2].sqrt()])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::direction;

    /// A delay common to all ranges goes into the clock alone: the position does not move.
    #[test]
    fn a_common_delay_moves_only_the_clock() {
        let mut flat = Normal::default();
        let mut low = Normal::default();
        for k in 0..8 {
            let elevation = 0.3 + 0.15 * f64::from(k % 4);
            let d = direction(f64::from(k) * 0.8, elevation);
            flat.add(0, d, 1.0, 1.0);
            low.add(0, d, 1.0, 1.0 / libm::sin(elevation));
        }
        for x in flat.covariance().unwrap().common {
            assert!(x.abs() < 1e-12);
        }
        // More delay at low elevation reads as a place that is too high.
        assert!(low.covariance().unwrap().common[2] > 0.1);
    }

    #[test]
    fn too_few_is_no_solution() {
        let d: Vec<[f64; 3]> = (0..3).map(|k| direction(f64::from(k), 0.5)).collect();
        assert_eq!(dop_one_clock(&d), None);
        assert_eq!(dop_one_clock(&[]), None);
        let same = vec![direction(1.0, 0.5); 9];
        assert_eq!(dop_one_clock(&same), None);
    }
}
