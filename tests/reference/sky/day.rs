//! A day under a set of satellites.

use super::dop::{Dop, dop_one_clock, dop_per_system};
use super::skyline::Skyline;
use lostlink::sky::{Geodetic, Slot, Viewpoint, lower_quantile};

/// Samples over a sidereal day used by [`day_statistics`].
pub const DAY_SAMPLES: usize = 288;

/// Length of that day.
pub const SIDEREAL_DAY_S: f64 = 86_164.090_5;

/// What a day looks like from a place. DOP values are infinite where there is no solution.
#[derive(Debug, Clone, PartialEq)]
pub struct DayStatistics {
    /// Satellites at or above mask and skyline, sample by sample.
    pub visible: Vec<u32>,
    /// With one clock for all systems.
    pub one_clock: Vec<Option<Dop>>,
    /// With a clock per system.
    pub per_system: Vec<Option<Dop>>,
}

/// A sidereal day from the nominal epoch on, at [`DAY_SAMPLES`] equal steps. A satellite counts when its elevation is at least
/// the mask and the skyline.
pub fn day_statistics(slots: &[Slot], site: Geodetic, mask_rad: f64, skyline: &Skyline) -> DayStatistics {
    let view = Viewpoint::new(site);
    let mut day = DayStatistics { visible: Vec::new(), one_clock: Vec::new(), per_system: Vec::new() };
    for k in 0..DAY_SAMPLES {
        let after_s = k as f64 * SIDEREAL_DAY_S / DAY_SAMPLES as f64;
        let mut seen = Vec::new();
        for slot in slots {
            let sight = view.sight(slot.position_after_m(after_s));
            if sight.elevation_rad >= mask_rad.max(skyline.elevation_rad(sight.azimuth_rad)) {
                seen.push((slot.system, sight.direction));
            }
        }
        let directions: Vec<[f64; 3]> = seen.iter().map(|seen| seen.1).collect();
        day.visible.push(seen.len() as u32);
        day.one_clock.push(dop_one_clock(&directions));
        day.per_system.push(dop_per_system(&seen));
    }
    day
}

impl DayStatistics {
    /// Mean number of satellites.
    pub fn mean_visible(&self) -> f64 {
        self.visible.iter().map(|&n| f64::from(n)).sum::<f64>() / self.visible.len() as f64
    }

    /// Share of the day with at least so many satellites.
    pub fn share_visible(&self, at_least: u32) -> f64 {
        self.visible.iter().filter(|&&n| n >= at_least).count() as f64 / self.visible.len() as f64
    }
}

/// Median of a figure of the DOP over the samples: the lower of the two middle ones; no solution counts as infinite.
pub fn median_dop(samples: &[Option<Dop>], figure: fn(&Dop) -> f64) -> f64 {
    lower_quantile(samples.iter().map(|dop| dop.as_ref().map_or(f64::INFINITY, figure)).collect(), 0.5)
}

/// Share of samples with a solution whose figure is at most a limit.
pub fn share_dop(samples: &[Option<Dop>], figure: fn(&Dop) -> f64, at_most: f64) -> f64 {
    samples.iter().flatten().filter(|dop| figure(dop) <= at_most).count() as f64 / samples.len() as f64
}
