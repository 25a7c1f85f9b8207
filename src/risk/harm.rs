//! How much an impact harms, for the optional annex: strike areas, injury curves, expected casualties.
//!
//! Every figure here is a range over assumptions that no one agrees on. Nothing in it is a class,
//! a limit or a permission.

use super::summary::Harm;
use crate::stats::proportion::upper_bound_one_sided;
use crate::stats::quantile::{QuantileRule, sample_quantile};

/// Radius of a person seen from above.
///
/// # Source
/// JARUS SORA 2.5 Annex F (as implemented in the open library casex 1.2.3).
pub const PERSON_RADIUS_M: f64 = 0.3;

/// Height of a person.
///
/// # Source
/// As [`PERSON_RADIUS_M`].
pub const PERSON_HEIGHT_M: f64 = 1.8;

/// Energies at which impacts are counted: hazardous to the unsheltered (NASA-STD-8719.14, 15 J), transfer of
/// 25 ft-lb (14 CFR 107.130(a)(1), 33.9 J; transfer, not kinetic energy), and 80 J (recalled, a head-impact line).
pub const ENERGY_LINES_J: [f64; 3] = [15.0, 33.9, 80.0];

/// Strike area of a vertical arrival: the full disc π (r_craft + r_person)².
pub fn strike_area_disc_m2(craft_radius_m: f64, person_radius_m: f64) -> f64 {
    let r = craft_radius_m + person_radius_m;
    std::f64::consts::PI * r * r
}

/// Strike area of a slanted arrival: the capsule π R² + 2 R h / tan(angle), R = r_craft + r_person.
/// The angle is below the horizontal, in (0, π/2]; the area grows without bound as it goes to 0.
pub fn strike_area_capsule_m2(
    craft_radius_m: f64,
    person_radius_m: f64,
    person_height_m: f64,
    impact_angle_rad: f64,
) -> f64 {
    let r = craft_radius_m + person_radius_m;
    strike_area_disc_m2(craft_radius_m, person_radius_m) + 2.0 * r * person_height_m / libm::tan(impact_angle_rad)
}

/// Penalty-factor chance that a strike is fatal: 1/(1 + √(α/β) (β/E)^(1/(4 p))). `shelter` p in (0, 1]; at
/// E = α and p = ½ it is one half. No energy, no harm.
///
/// # Source
/// Dalamagkidis, Valavanis and Piegl, On Integrating Unmanned Aircraft Systems into the National Airspace
/// System (2009), equation quoted second-hand.
pub fn fatality_penalty_factor(energy_j: f64, alpha_j: f64, beta_j: f64, shelter: f64) -> f64 {
    if energy_j.is_nan() || energy_j <= 0.0 {
        return 0.0;
    }
    1.0 / (1.0 + (alpha_j / beta_j).sqrt() * libm::pow(beta_j / energy_j, 1.0 / (4.0 * shelter)))
}

/// Expected casualties: P(down here) × people/m² × strike area × P(casualty | struck).
pub fn expected_casualties(p_arrival: f64, people_per_km2: f64, strike_area_m2: f64, p_casualty: f64) -> f64 {
    p_arrival * people_per_km2 * 1e-6 * strike_area_m2 * p_casualty
}

/// A product of independent log-normal factors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LognormalProduct {
    /// Median.
    pub median: f64,
    /// Mean.
    pub mean: f64,
    /// 5th percentile.
    pub p05: f64,
    /// 95th percentile.
    pub p95: f64,
}

/// Median, mean and 90 % band of a product of log-normal factors given as (median, geometric standard deviation).
pub fn lognormal_product(factors: impl IntoIterator<Item = (f64, f64)>) -> LognormalProduct {
    let (mut median, mut variance) = (1.0, 0.0);
    for (m, g) in factors {
        median *= m;
        let s = libm::log(g);
        variance += s * s;
    }
    let reach = libm::exp(1.644_853_626_951_472_2 * variance.sqrt());
    LognormalProduct { median, mean: median * libm::exp(0.5 * variance), p05: median / reach, p95: median * reach }
}

/// What the annex assumes; all of it is printed with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HarmModel {
    /// Half of the craft's greatest width.
    pub craft_radius_m: f64,
    /// Smallest impact angle that the capsule is computed with.
    pub least_angle_rad: f64,
    /// α of the penalty-factor curve.
    pub alpha_j: f64,
    /// β of it.
    pub beta_j: f64,
    /// Shelter of it.
    pub shelter: f64,
    /// Geometric standard deviations of people present, strike area, and P(casualty | struck).
    pub spread: [f64; 3],
}

impl HarmModel {
    /// Our assumptions for a craft of this radius: people in the open, the lower of the two α in print, and
    /// factors of 2, 1.5 and 2.5 on people, area and injury.
    ///
    /// # Source
    /// Estimates; α and β within the range of [`fatality_penalty_factor`]'s source.
    pub fn of_craft(craft_radius_m: f64) -> Self {
        HarmModel {
            craft_radius_m,
            least_angle_rad: 10.0_f64.to_radians(),
            alpha_j: 1e5,
            beta_j: 34.0,
            shelter: 0.25,
            spread: [2.0, 1.5, 2.5],
        }
    }

    /// Strike area at an impact angle in degrees below the horizontal.
    pub fn strike_area_m2(&self, impact_angle_deg: f64) -> f64 {
        let angle = impact_angle_deg.abs().min(90.0).to_radians().max(self.least_angle_rad);
        strike_area_capsule_m2(self.craft_radius_m, PERSON_RADIUS_M, PERSON_HEIGHT_M, angle)
    }

    /// The annex over impacts given as (energy in J, angle in degrees, people per km²); `crowd_per_km2` is the
    /// greatest density that any compared flight ended in. `None` when nobody was met anywhere, or no flight ended.
    ///
    /// The median is the sum over flights; people, area, injury and the luck of the sample (as one more
    /// log-normal factor) make the band. When this policy met nobody, the upper end is what the one-sided 95 %
    /// bound of the share and the crowd's density allow.
    pub fn annex(&self, impacts: &[(f64, f64, f64)], crowd_per_km2: f64) -> Option<Harm> {
        let n = impacts.len();
        if n == 0 || crowd_per_km2.is_nan() || crowd_per_km2 <= 0.0 {
            return None;
        }
        let count = n as f64;
        let (mut sum, mut squares) = (0.0, 0.0);
        let mut areas: Vec<f64> = Vec::with_capacity(n);
        let mut above = [0_u64; 3];
        let mut worst: f64 = 0.0;
        for &(energy_j, angle_deg, people) in impacts {
            let area = self.strike_area_m2(angle_deg);
            let chance = fatality_penalty_factor(energy_j, self.alpha_j, self.beta_j, self.shelter);
            let expected = expected_casualties(1.0, people, area, chance);
            sum += expected;
            squares += expected * expected;
            worst = worst.max(expected_casualties(1.0, crowd_per_km2, area, chance));
            areas.push(area);
            for (line, number) in ENERGY_LINES_J.iter().zip(&mut above) {
                *number += u64::from(energy_j > *line);
            }
        }
        areas.sort_by(f64::total_cmp);
        let known = self.spread.map(|g| (1.0, g));
        let band = if sum > 0.0 {
            let mean = sum / count;
            let se = ((squares / count - mean * mean).max(0.0) / count).sqrt();
            lognormal_product([(mean, libm::exp(se / mean))].into_iter().chain(known))
        } else {
            let bound = upper_bound_one_sided(0, n as u64, 0.95).unwrap_or(1.0);
            let top = lognormal_product([(bound * worst, 1.0)].into_iter().chain(known));
            LognormalProduct { median: 0.0, mean: 0.0, p05: 0.0, p95: top.p95 }
        };
        Some(Harm {
            low_per_million: 1e6 * band.p05,
            mean_per_million: 1e6 * band.mean,
            high_per_million: 1e6 * band.p95,
            strike_area_m2: sample_quantile(&areas, 0.5, QuantileRule::Type8),
            above_lines: above.map(|k| k as f64 / count),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A hundred equal impacts: the sample adds no spread, so the band is that of the three factors alone.
    #[test]
    fn annex_of_equal_impacts() {
        let model = HarmModel::of_craft(0.3);
        let harm = model.annex(&[(225.0, 90.0, 1_000.0); 100], 1_000.0).unwrap();
        let each = expected_casualties(
            1.0,
            1_000.0,
            strike_area_disc_m2(0.3, 0.3),
            fatality_penalty_factor(225.0, 1e5, 34.0, 0.25),
        );
        let band = lognormal_product([(each, 1.0), (1.0, 2.0), (1.0, 1.5), (1.0, 2.5)]);
        assert!((harm.mean_per_million / 1e6 / band.mean - 1.0).abs() < 1e-6);
        assert!(harm.low_per_million < harm.mean_per_million && harm.mean_per_million < harm.high_per_million);
        assert_eq!(harm.above_lines, [1.0; 3]);
    }

    #[test]
    fn nobody_met_is_a_bound_or_no_annex() {
        let model = HarmModel::of_craft(0.3);
        let none = model.annex(&[(225.0, 90.0, 0.0); 100], 500.0).unwrap();
        assert!(none.high_per_million > 0.0);
        assert!(model.annex(&[(225.0, 90.0, 0.0); 100], 0.0).is_none());
        assert!(model.annex(&[], 500.0).is_none());
    }
}
