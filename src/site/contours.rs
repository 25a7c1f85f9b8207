//! Contour lines of the ground.

use super::Terrain;
use crate::stats::contours::{Raster, contour_lines};

/// Lines of one height of the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    /// Their height.
    pub z_m: f64,
    /// The lines; a closed one ends with its first point.
    pub lines_m: Vec<Vec<[f64; 2]>>,
}

impl Terrain {
    /// Contour lines of the ground every `step_m`, from the lowest up.
    pub fn contours(&self, step_m: f64) -> Vec<Contour> {
        let values: Vec<f64> = self.height_m.iter().map(|height| f64::from(*height)).collect();
        let (low, high) = values
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)));
        let raster = Raster {
            west_m: self.west_m,
            south_m: self.south_m,
            dx_m: self.cell_m,
            dy_m: self.cell_m,
            columns: self.columns,
            values: &values,
        };
        let (first, last) = ((low / step_m).floor() as i64 + 1, (high / step_m).ceil() as i64 - 1);
        (first..=last)
            .map(|count| count as f64 * step_m)
            .map(|z_m| Contour { z_m, lines_m: contour_lines(&raster, z_m) })
            .filter(|contour| !contour.lines_m.is_empty())
            .collect()
    }

    /// A contour step that gives about ten levels: 1, 2 or 5 times a power of ten.
    pub fn contour_step_m(&self) -> f64 {
        let (low, high) = self
            .height_m
            .iter()
            .fold((f32::INFINITY, f32::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)));
        let wanted = (f64::from(high - low) / 10.0).max(0.1);
        let power = libm::pow(10.0, libm::log10(wanted).floor());
        [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|factor| factor * power)
            .find(|step| *step >= wanted)
            .unwrap_or(power * 10.0)
    }
}
