//! Where the margin of a link went.

use crate::units::nullable;
use serde::{Deserialize, Serialize};

/// Where the margin went: each is a loss in dB against the margin at one metre, positive for a loss.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct LossBudget {
    /// Free space, with rain and gases where they count.
    #[serde(deserialize_with = "nullable")]
    pub distance_db: f64,
    /// Diffraction over terrain and buildings.
    #[serde(deserialize_with = "nullable")]
    pub diffraction_db: f64,
    /// Trees in the way.
    #[serde(deserialize_with = "nullable")]
    pub vegetation_db: f64,
    /// Ground reflection (negative is a gain).
    #[serde(deserialize_with = "nullable")]
    pub reflection_db: f64,
    /// Antenna patterns and pointing, against both peaks.
    #[serde(deserialize_with = "nullable")]
    pub pattern_db: f64,
    /// Mismatch of the two antennas' polarisation.
    #[serde(deserialize_with = "nullable")]
    pub polarisation_db: f64,
    /// The pilot's body.
    #[serde(deserialize_with = "nullable")]
    pub body_db: f64,
    /// Shadowing that terrain and obstacles do not explain; negative is a gain.
    #[serde(deserialize_with = "nullable")]
    pub shadowing_db: f64,
    /// Small-scale fading; negative is a gain.
    #[serde(deserialize_with = "nullable")]
    pub fading_db: f64,
    /// Interference and bursts: rise of the noise floor.
    #[serde(deserialize_with = "nullable")]
    pub interference_db: f64,
}

impl LossBudget {
    fn each(&mut self) -> [&mut f64; 10] {
        [
            &mut self.distance_db,
            &mut self.diffraction_db,
            &mut self.vegetation_db,
            &mut self.reflection_db,
            &mut self.pattern_db,
            &mut self.polarisation_db,
            &mut self.body_db,
            &mut self.shadowing_db,
            &mut self.fading_db,
            &mut self.interference_db,
        ]
    }

    /// Adds another term by term.
    pub fn add(&mut self, mut more: LossBudget) {
        for (a, b) in self.each().into_iter().zip(more.each()) {
            *a += *b;
        }
    }

    /// Every term times a factor.
    pub fn scaled(mut self, factor: f64) -> LossBudget {
        for term in self.each() {
            *term *= factor;
        }
        self
    }
}
