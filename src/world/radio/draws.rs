//! Values of the uncertain radio inputs.

use crate::radio::antenna::{CROSS_POLAR_DB, NULL_DEPTH_DB};
use crate::radio::interference::Spells;

/// Values of the uncertain radio inputs in one flight.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkDraws {
    /// Conducted power of the pilot's transmitter (unless it steps its power).
    pub power_dbm: f64,
    /// Noise added by the craft's electronics, dB.
    pub noise_rise_db: f64,
    /// Greatest loss through the pilot's body, dB.
    pub body_loss_db: f64,
    /// Standard deviation of shadowing near the ground, dB.
    pub shadow_sigma_db: f64,
    /// Depth of a rod's null, dB.
    pub null_depth_db: f64,
    /// Greatest loss of polarisation, dB.
    pub cross_polar_db: f64,
    /// Radiated power of each interferer.
    pub interferer_dbm: Vec<f64>,
    /// When each is on.
    pub interferer_spells: Vec<Spells>,
    /// How long after the loss the pilot turns, raises his antenna, aims it, walks; infinite: he does not.
    pub hands_s: [f64; 4],
}

impl Default for LinkDraws {
    /// 1 mW, nothing that shadows or adds noise, nulls as by default.
    fn default() -> LinkDraws {
        LinkDraws {
            power_dbm: 0.0,
            noise_rise_db: 0.0,
            body_loss_db: 0.0,
            shadow_sigma_db: 0.0,
            null_depth_db: NULL_DEPTH_DB,
            cross_polar_db: CROSS_POLAR_DB,
            interferer_dbm: Vec::new(),
            interferer_spells: Vec::new(),
            hands_s: [f64::INFINITY; 4],
        }
    }
}
