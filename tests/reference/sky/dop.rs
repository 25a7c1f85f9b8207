//! Dilution of precision, from the sums that fly.

use lostlink::sky::{Clock, Covariance, Reduced, System};

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

/// Unit vector east, north, up of an azimuth and an elevation.
pub fn direction(azimuth_rad: f64, elevation_rad: f64) -> [f64; 3] {
    let (se, ce) = (libm::sin(elevation_rad), libm::cos(elevation_rad));
    [ce * libm::sin(azimuth_rad), ce * libm::cos(azimuth_rad), se]
}

/// Covariance of the position with a clock for each group of satellites, given as direction and weight.
fn covariance(groups: &[Vec<([f64; 3], f64)>]) -> Option<Covariance> {
    let mut reduced = Reduced::default();
    for group in groups {
        let mut clock = Clock::default();
        group.iter().for_each(|&(direction, weight)| clock.add(direction, weight, 0.0));
        reduced.absorb(&clock);
    }
    reduced.covariance()
}

/// Dilution of precision with a clock for each group of directions.
fn dop(groups: &[Vec<[f64; 3]>]) -> Option<Dop> {
    let weighted: Vec<Vec<_>> = groups.iter().map(|group| group.iter().map(|&d| (d, 1.0)).collect()).collect();
    let Covariance { variance: [ee, nn, uu], cross: [en, eu, nu], .. } = covariance(&weighted)?;
    // Variance of a clock: that of its mean range, and the position's along the mean direction.
    let clock = |group: &Vec<[f64; 3]>| {
        let count = group.len() as f64;
        let [e, n, u] = [0, 1, 2].map(|axis| group.iter().map(|d| d[axis]).sum::<f64>() / count);
        1.0 / count + ee * e * e + nn * n * n + uu * u * u + 2.0 * (en * e * n + eu * e * u + nu * n * u)
    };
    let clocks: f64 = groups.iter().filter(|group| !group.is_empty()).map(clock).sum();
    let position = ee + nn + uu;
    Some(Dop { hdop: (ee + nn).sqrt(), vdop: uu.sqrt(), pdop: position.sqrt(), gdop: (position + clocks).sqrt() })
}

/// Dilution of precision with one clock for all satellites; directions are unit vectors east, north, up.
///
/// `None` when the geometry gives no solution.
///
/// # Source
/// Kaplan and Hegarty, "Understanding GPS", 2nd edition, 2006, section 7.3.1.
pub fn dop_one_clock(directions: &[[f64; 3]]) -> Option<Dop> {
    dop(&[directions.to_vec()])
}

/// Dilution of precision with a clock for each system that has a satellite; `gdop` counts all clocks.
pub fn dop_per_system(satellites: &[(System, [f64; 3])]) -> Option<Dop> {
    let of = |system| satellites.iter().filter(|seen| seen.0 == system).map(|seen| seen.1).collect();
    dop(&System::ALL.map(of))
}

/// Horizontal root mean square and vertical one-sigma error of a weighted solution with one clock.
///
/// `None` when the geometry gives no solution.
pub fn weighted_error_m(directions: &[[f64; 3]], range_sigma_m: &[f64]) -> Option<[f64; 2]> {
    let weighted = directions.iter().zip(range_sigma_m).map(|(&direction, sigma)| (direction, 1.0 / (sigma * sigma)));
    covariance(&[weighted.collect()]).map(|c| [(c.variance[0] + c.variance[1]).sqrt(), c.variance[2].sqrt()])
}
