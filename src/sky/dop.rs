//! Dilution of precision and the weighted covariance of a fix.

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

/// Sums over the satellites that share one clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct Clock {
    count: u32,
    weight: f64,
    mean: [f64; 3],
    square: [f64; 6],
    common: f64,
    common_mean: [f64; 3],
}

impl Clock {
    /// Adds a satellite: its direction (east, north, up), the weight of its range, and how much of a common delay it feels (0 when
    /// that does not matter).
    #[inline]
    pub fn add(&mut self, direction: [f64; 3], weight: f64, common: f64) {
        let [e, n, u] = direction;
        let (we, wn, wu) = (weight * e, weight * n, weight * u);
        self.count += 1;
        self.weight += weight;
        self.mean[0] += we;
        self.mean[1] += wn;
        self.mean[2] += wu;
        self.square[0] += we * e;
        self.square[1] += we * n;
        self.square[2] += we * u;
        self.square[3] += wn * n;
        self.square[4] += wn * u;
        self.square[5] += wu * u;
        self.common += weight * common;
        self.common_mean[0] += we * common;
        self.common_mean[1] += wn * common;
        self.common_mean[2] += wu * common;
    }
}

/// Normal equations of the position with the clocks eliminated: each clock is the weighted mean of its satellites, so that only a
/// 3 × 3 matrix is left to invert. The result is the same as with one clock column per group.
#[derive(Debug, Clone, Copy, Default)]
pub struct Reduced {
    count: u32,
    clocks: u32,
    size: f64,
    matrix: [f64; 6],
    right: [f64; 3],
}

impl Reduced {
    /// Takes in the satellites of one clock; an empty one changes nothing.
    #[inline]
    pub fn absorb(&mut self, clock: &Clock) {
        if clock.count == 0 {
            return;
        }
        let [e, n, u] = clock.mean;
        let inverse = 1.0 / clock.weight;
        let outer = [e * e, e * n, e * u, n * n, n * u, u * u];
        for ((sum, square), product) in self.matrix.iter_mut().zip(clock.square).zip(outer) {
            *sum += square - product * inverse;
        }
        for ((sum, both), mean) in self.right.iter_mut().zip(clock.common_mean).zip(clock.mean) {
            *sum += both - mean * clock.common * inverse;
        }
        self.size += clock.weight;
        self.count += clock.count;
        self.clocks += 1;
    }

    /// Number of satellites.
    #[inline]
    pub fn count(&self) -> u32 {
        self.count
    }

    /// Covariance of the position; `None` with fewer than 3 + clocks satellites or a singular geometry: no solution.
    #[inline]
    pub fn covariance(&self) -> Option<Covariance> {
        if self.count < 3 + self.clocks {
            return None;
        }
        let [a, b, c, d, e, f] = self.matrix;
        let cofactors = [d * f - e * e, c * e - b * f, b * e - c * d, a * f - c * c, b * c - a * e, a * d - b * b];
        let determinant = a * cofactors[0] + b * cofactors[1] + c * cofactors[2];
        let scale = self.size / 3.0;
        if determinant.is_nan() || determinant <= SINGULAR * scale * scale * scale {
            return None;
        }
        let i = 1.0 / determinant;
        let [qa, qb, qc, qd, qe, qf] = cofactors.map(|x| x * i);
        let q = [[qa, qb, qc], [qb, qd, qe], [qc, qe, qf]];
        // The model matrix has minus the direction: a positive delay pushes the place away from the satellites.
        let r = self.right;
        let common = q.map(|row| -(row[0] * r[0] + row[1] * r[1] + row[2] * r[2]));
        Some(Covariance { q, common })
    }
}

/// Sums of the normal equations with up to four clocks, for satellites in any order.
#[derive(Debug, Clone, Copy, Default)]
pub struct Normal {
    clocks: [Clock; 4],
}

impl Normal {
    /// Adds a satellite to a clock (0 to 3); the rest as [`Clock::add`].
    #[inline]
    pub fn add(&mut self, clock: usize, direction: [f64; 3], weight: f64, common: f64) {
        self.clocks[clock].add(direction, weight, common);
    }

    /// Number of satellites.
    #[inline]
    pub fn count(&self) -> u32 {
        self.clocks.iter().map(|clock| clock.count).sum()
    }

    /// Covariance of the position; `None` as [`Reduced::covariance`].
    pub fn covariance(&self) -> Option<Covariance> {
        let mut reduced = Reduced::default();
        for clock in &self.clocks {
            reduced.absorb(clock);
        }
        reduced.covariance()
    }

    /// Dilution of precision of what was added with weight 1; `None` as [`Normal::covariance`].
    pub fn dop(&self) -> Option<Dop> {
        let Covariance { q, .. } = self.covariance()?;
        let horizontal = q[0][0] + q[1][1];
        let position = horizontal + q[2][2];
        let mut clocks = 0.0;
        for g in self.clocks.iter().filter(|g| g.count > 0) {
            // Variance of a clock: that of its mean range, and the position's along the mean direction.
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
}
