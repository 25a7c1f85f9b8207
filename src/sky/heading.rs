//! Heading: what disturbs it, and what a wrong one does to the way home.

use libm::atan;

/// Course-over-ground sigma of a velocity sigma and a speed.
#[inline]
pub fn course_sigma_rad(sigma_v_mps: f64, speed_mps: f64) -> f64 {
    atan(sigma_v_mps / speed_mps)
}
