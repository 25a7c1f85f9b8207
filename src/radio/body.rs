//! Bodies between the antennas: the pilot's, the craft's own.

use super::maths::quick_ratio;

/// Loss through the pilot's body, dB: none in front of him, `greatest_db` behind his back, for a level path.
///
/// `cos_bearing` is the cosine of the horizontal angle between where he faces and where the craft is; `sin_elevation` the sine
/// of the craft's elevation from his antenna. The loss shrinks as the path rises and is gone above 45°.
///
/// # Source
/// Estimate: half of (1 − cos) within measured fades of 10 to 15 dB behind an adult; no standard value was found.
#[inline]
pub fn body_loss_db(greatest_db: f64, cos_bearing: f64, sin_elevation: f64) -> f64 {
    // cos 2e = 1 − 2 sin² e: 1 at the horizon, 0 at 45°.
    let low_path = (1.0 - 2.0 * sin_elevation * sin_elevation).max(0.0);
    0.5 * greatest_db * (1.0 - cos_bearing) * low_path
}

/// Greatest loss through the craft's own body, dB.
///
/// # Source
/// Badi et al., IEEE TVT 69(12), 2020: up to 10.25 dB as mounted (as quoted by others).
pub const CRAFT_SHADOW_MOST_DB: f64 = 10.0;

/// What the craft's own body takes from a ray, by its direction: frame, pack and propellers around the antenna.
///
/// Over directions normal about a mean, from 0 to [`CRAFT_SHADOW_MOST_DB`]; lobes a few tens of degrees wide.
///
/// # Source
/// Badi et al., ACM MSWiM 2019 table 1 (as quoted by others): 3.0 and 4.1 dB on average, at most 11 to 18.7 dB, in a
/// chamber. The shape is our own: spherical harmonics of the first and second degree with random weights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CraftShadow {
    mean_db: f64,
    /// Least and greatest deviation from it.
    limits_db: [f64; 2],
    /// Deviation along a unit vector d, before its limits: d · (first + second d), dB.
    first_db: [f64; 3],
    /// Symmetric, without trace: [xx, yy, zz, xy, yz, zx].
    second_db: [f64; 6],
}

fn limits_db(mean_db: f64) -> [f64; 2] {
    [-mean_db, (CRAFT_SHADOW_MOST_DB - mean_db).max(0.0)]
}

impl CraftShadow {
    /// The same in every direction.
    pub fn even(mean_db: f64) -> CraftShadow {
        CraftShadow { mean_db, limits_db: limits_db(mean_db), first_db: [0.0; 3], second_db: [0.0; 6] }
    }

    /// With a standard deviation over craft in any one direction, from eight standard normal numbers: the weights of x, y, z,
    /// then of √3·xy, √3·yz, √3·zx, √3/2·(x² − y²), (3z² − 1)/2.
    pub fn new(mean_db: f64, sigma_db: f64, [a, b, c, d, e, f, g, h]: [f64; 8]) -> CraftShadow {
        // The squares of either degree's functions sum to 1 in every direction: two fifths and three fifths of the variance.
        let (first, second) = (sigma_db * 0.4f64.sqrt(), sigma_db * 0.6f64.sqrt());
        let half_root = 0.5 * 3f64.sqrt();
        let [across, up, mixed] = [second * half_root * g, 0.5 * second * h, second * half_root];
        CraftShadow {
            mean_db,
            limits_db: limits_db(mean_db),
            first_db: [a, b, c].map(|normal| first * normal),
            second_db: [across - up, -across - up, 2.0 * up, mixed * d, mixed * e, mixed * f],
        }
    }

    /// Loss along a unit vector in the craft's own axes beyond the mean, dB.
    #[inline(always)]
    pub fn deviation_db(&self, [x, y, z]: [f64; 3]) -> f64 {
        let ([a, b, c], [xx, yy, zz, xy, yz, zx]) = (self.first_db, self.second_db);
        let along_x = a + xx * x + xy * y + zx * z;
        let along_y = b + xy * x + yy * y + yz * z;
        let along_z = c + zx * x + yz * y + zz * z;
        (x * along_x + y * along_y + z * along_z).max(self.limits_db[0]).min(self.limits_db[1])
    }

    /// Mean loss over directions, dB.
    #[inline]
    pub fn mean_db(&self) -> f64 {
        self.mean_db
    }

    /// What it leaves along a unit vector in the craft's own axes, as a ratio of powers.
    #[inline]
    pub fn share(&self, direction: [f64; 3]) -> f64 {
        quick_ratio(-(self.mean_db + self.deviation_db(direction)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn loss_db(shadow: &CraftShadow, direction: [f64; 3]) -> f64 {
        shadow.mean_db() + shadow.deviation_db(direction)
    }
    use crate::chance::{Purpose, Source};

    /// In every direction the same mean and deviation over craft, and neighbouring directions alike.
    #[test]
    fn the_crafts_body_takes_as_much_on_average_in_every_direction() {
        let source = Source::new(4, Purpose::Trial);
        let directions = [[1.0, 0.0, 0.0], [0.0, -0.6, 0.8], [-0.48, 0.64, -0.6]];
        let mut sums = [[0.0; 2]; 3];
        let (mut alike, count) = (0.0, 20_000);
        for craft in 0..count {
            let (a, b) = (source.normals(craft, 0, 0), source.normals(craft, 0, 1));
            let body = CraftShadow::new(5.0, 1.2, [a[0], a[1], a[2], a[3], b[0], b[1], b[2], b[3]]);
            for (sum, direction) in sums.iter_mut().zip(directions) {
                let loss_db = loss_db(&body, direction);
                *sum = [sum[0] + loss_db, sum[1] + loss_db * loss_db];
            }
            alike += (loss_db(&body, directions[0]) - loss_db(&body, [0.985, 0.174, 0.0])).abs() / f64::from(count);
        }
        for [sum, square] in sums.map(|sum| sum.map(|x| x / f64::from(count))) {
            assert!((sum - 5.0).abs() < 0.05 && ((square - sum * sum).sqrt() - 1.2).abs() < 0.05, "{sum} {square}");
        }
        assert!(alike < 0.4, "{alike}");
        let deep = CraftShadow::new(3.0, 3.0, [9.0; 8]);
        assert_eq!(loss_db(&deep, [1.0, 0.0, 0.0]), CRAFT_SHADOW_MOST_DB);
        assert_eq!(loss_db(&deep, [-1.0, 0.0, 0.0]), 0.0);
    }

    #[test]
    fn none_in_front_all_behind_none_overhead() {
        assert_eq!(body_loss_db(12.0, 1.0, 0.0), 0.0);
        assert_eq!(body_loss_db(12.0, -1.0, 0.0), 12.0);
        assert_eq!(body_loss_db(12.0, 0.0, 0.0), 6.0);
        assert_eq!(body_loss_db(12.0, -1.0, 0.75), 0.0);
    }
}
