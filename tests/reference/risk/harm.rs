//! How much an impact harms, for the optional annex: strike areas, injury curves, expected casualties.
//!
//! Every figure here is a range over assumptions that no one agrees on. Nothing in it is a class,
//! a limit or a permission.

use lostlink::risk::harm::*;
use lostlink::units::STANDARD_GRAVITY_MPS2;

/// What a critical area with a slide is computed from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slide {
    /// Greatest width of the craft.
    pub width_m: f64,
    /// Mass.
    pub mass_kg: f64,
    /// Speed at impact.
    pub impact_speed_mps: f64,
    /// Angle below the horizontal.
    pub impact_angle_rad: f64,
    /// Radius of a person.
    pub person_radius_m: f64,
    /// Height of a person.
    pub person_height_m: f64,
    /// Energy under which the slide no longer kills.
    pub lethal_energy_j: f64,
    /// Friction with the ground.
    pub friction: f64,
    /// Share of the horizontal speed kept at impact.
    pub restitution: f64,
}

/// Obstacle factor of the same source: the share of the area that obstacles leave.
pub const OBSTACLE_FACTOR: f64 = 0.6;

/// Critical area of a craft wider than 1 m: glide strip, two half discs, lethal slide; times
/// [`OBSTACLE_FACTOR`] where obstacles stand. A cross-check, not the area used here.
///
/// # Source
/// JARUS SORA 2.5 Annex F as implemented in casex 1.2.3, with g = 9.81 m/s².
pub fn critical_area_with_slide_m2(s: &Slide) -> f64 {
    let r = s.person_radius_m + 0.5 * s.width_m;
    let glide = s.person_height_m / libm::tan(s.impact_angle_rad);
    let start = s.restitution * s.impact_speed_mps * libm::cos(s.impact_angle_rad);
    let end_squared = 2.0 * s.lethal_energy_j / s.mass_kg;
    let slide = ((start * start - end_squared) / (2.0 * s.friction * 9.81)).max(0.0);
    2.0 * r * (glide + slide) + std::f64::consts::PI * r * r
}

/// Critical area of a craft of at most 1 m: glide strip and one half disc, the angle at least 35°.
///
/// # Source
/// As [`critical_area_with_slide_m2`]. It is smaller than the capsule; the capsule is the cautious one.
pub fn critical_area_small_m2(width_m: f64, impact_angle_rad: f64, person_radius_m: f64, person_height_m: f64) -> f64 {
    let r = person_radius_m + 0.5 * width_m;
    let angle = impact_angle_rad.max(35.0_f64.to_radians());
    2.0 * r * person_height_m / libm::tan(angle) + 0.5 * std::f64::consts::PI * r * r
}

/// Way on which friction stops a slide: v²/(2 μ g).
pub fn slide_distance_m(speed_mps: f64, friction: f64, gravity_mps2: f64) -> f64 {
    speed_mps * speed_mps / (2.0 * friction * gravity_mps2)
}

/// Slide under standard gravity.
pub fn slide_on_earth_m(speed_mps: f64, friction: f64) -> f64 {
    slide_distance_m(speed_mps, friction, STANDARD_GRAVITY_MPS2)
}

/// Coefficient of restitution: a line from 0.8 at 10° to 0.6 at 90°.
///
/// # Source
/// As [`critical_area_with_slide_m2`].
pub fn restitution(impact_angle_rad: f64) -> f64 {
    0.8 - 0.2 * (impact_angle_rad.to_degrees() - 10.0) / 80.0
}

/// Debris casualty area (0.6 + √A)².
///
/// # Source
/// NASA-STD-8719.14, section 4.7 (quoted second-hand).
pub fn debris_casualty_area_m2(object_area_m2: f64) -> f64 {
    let side = 0.6 + object_area_m2.max(0.0).sqrt();
    side * side
}

/// The thresholded form, shelter on a scale 0 to 10: none at or below E = β.
///
/// # Source
/// As [`fatality_penalty_factor`], second form, from memory.
pub fn fatality_thresholded(energy_j: f64, alpha_j: f64, beta_j: f64, shelter_0_to_10: f64) -> f64 {
    if energy_j <= beta_j {
        return 0.0;
    }
    let power = libm::pow(beta_j / energy_j, 3.0 / shelter_0_to_10);
    let k = power.min(1.0);
    (1.0 - k) / (1.0 - 2.0 * k + (alpha_j / beta_j).sqrt() * power)
}

/// Expected casualties summed over cells: (share of impacts, people per km², P(casualty | struck)) each.
///
/// # Source
/// The cell sum of 14 CFR 420, Appendices C and D (equation recalled).
pub fn expected_casualties_cells(cells: impl IntoIterator<Item = (f64, f64, f64)>, strike_area_m2: f64) -> f64 {
    cells.into_iter().map(|(share, people, p)| expected_casualties(share, people, strike_area_m2, p)).sum()
}

/// Expected casualties over classes of shelter: (share of people, P(casualty | struck)) each.
pub fn expected_casualties_sheltered(
    people_per_km2: f64,
    strike_area_m2: f64,
    classes: impl IntoIterator<Item = (f64, f64)>,
) -> f64 {
    let chance: f64 = classes.into_iter().map(|(share, p)| share * p).sum();
    expected_casualties(1.0, people_per_km2, strike_area_m2, chance)
}

/// Chance of at least one casualty when casualties are independent: 1 − e^(−Ec). A crowd breaks that.
pub fn at_least_one(expected: f64) -> f64 {
    -libm::expm1(-expected)
}
