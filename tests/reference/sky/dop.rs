//! Dilution of precision and the weighted covariance of a fix.

use lostlink::sky::{Dop, Normal, System};

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
