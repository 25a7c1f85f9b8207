//! The weighted covariance of a fix. With weights of 1 its square roots are dilutions of precision.

/// Position covariance of a weighted solution: east, north, up, and what a common delay does to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Covariance {
    /// Variances of east, north and up, m² when the weights are 1/σ².
    pub variance: [f64; 3],
    /// Covariances of east and north, east and up, north and up.
    pub cross: [f64; 3],
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
        let product =
            |[x, y, z]: [f64; 3]| [qa * x + qb * y + qc * z, qb * x + qd * y + qe * z, qc * x + qe * y + qf * z];
        // The model matrix has minus the direction: a positive delay pushes the place away from the satellites.
        Some(Covariance { variance: [qa, qd, qf], cross: [qb, qc, qe], common: product(self.right).map(|x| -x) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::sky::direction;

    /// A delay common to all ranges goes into the clock alone: the position does not move.
    #[test]
    fn a_common_delay_moves_only_the_clock() {
        let (mut flat, mut low) = (Clock::default(), Clock::default());
        for k in 0..8 {
            let elevation = 0.3 + 0.15 * f64::from(k % 4);
            let d = direction(f64::from(k) * 0.8, elevation);
            flat.add(d, 1.0, 1.0);
            low.add(d, 1.0, 1.0 / libm::sin(elevation));
        }
        let common = |clock: &Clock| {
            let mut reduced = Reduced::default();
            reduced.absorb(clock);
            reduced.covariance().expect("a solution").common
        };
        assert!(common(&flat).iter().all(|x| x.abs() < 1e-12));
        // More delay at low elevation reads as a place that is too high.
        assert!(common(&low)[2] > 0.1);
    }
}
