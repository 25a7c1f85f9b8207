//! Antennas: patterns, orientation, polarisation.

use serde::Serialize;

/// Shape of an antenna's power pattern.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Pattern {
    /// The same in all directions.
    Isotropic,
    /// Half-wave dipole.
    Dipole,
    /// Quarter-wave rod on a small frame: a dipole's pattern, the frame being its other half.
    QuarterWave,
    /// Half-space cosⁿ pattern.
    Patch {
        /// Exponent n of the power pattern.
        exponent: f64,
        /// Gain behind it, relative to the peak (negative).
        back_db: f64,
    },
}

/// Polarisation of an antenna in its own frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Polarisation {
    /// Linear along the antenna's axis (for a patch: along its stated polarisation axis).
    Linear,
    /// Right-hand circular with this axial ratio in dB (0 is perfect).
    RightCircular(f64),
    /// Left-hand circular with this axial ratio in dB.
    LeftCircular(f64),
}

/// Whether the antenna is whole.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AntennaCondition {
    /// As built.
    #[default]
    Whole,
    /// Damaged: this much less gain in every direction.
    Damaged {
        /// Loss, positive.
        loss_db: f64,
    },
    /// Not fitted, torn off or unplugged. What still couples is a stated loss.
    Missing {
        /// Loss against an isotropic antenna, positive.
        loss_db: f64,
    },
}

/// One antenna as mounted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Antenna {
    /// Pattern.
    pub pattern: Pattern,
    /// Polarisation.
    pub polarisation: Polarisation,
    /// Unit vector of the dipole's axis, or of a patch's boresight, in the mount's frame:
    /// on the craft x forward, y left, z up; at the pilot x along the pointing direction, y left, z up.
    pub axis: [f64; 3],
    /// Condition.
    pub condition: AntennaCondition,
    /// Loss of cable and connectors, positive.
    pub feed_loss_db: f64,
}
