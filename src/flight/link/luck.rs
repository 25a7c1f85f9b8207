//! The radio luck of one flight.

use super::INDEPENDENT_BANDS;
use super::setup::LinkSetup;
use super::sources::Strength;
use crate::flight::{Drawn, FlightDraws};
use crate::radio::fading::DiffuseRead;
use crate::radio::shadowing::ShadowTile;

/// Values of the uncertain radio inputs in one flight.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkDraws {
    /// Conducted power of the pilot's transmitter (unless it steps its power).
    pub power_dbm: f64,
    /// Noise added by the craft's electronics, dB.
    pub noise_rise_db: f64,
    /// Greatest loss through the pilot's body, dB.
    pub body_loss_db: f64,
    /// Standard deviation of shadowing, dB.
    pub shadow_sigma_db: f64,
    /// Radiated power of each interferer.
    pub interferer_dbm: Vec<f64>,
}

impl From<&Drawn> for LinkDraws {
    fn from(drawn: &Drawn) -> LinkDraws {
        LinkDraws {
            power_dbm: drawn.power_dbm,
            noise_rise_db: drawn.noise_rise_db,
            body_loss_db: drawn.body_loss_db,
            shadow_sigma_db: drawn.shadow_sigma_db,
            interferer_dbm: drawn.interferer_dbm.clone(),
        }
    }
}

/// The radio luck of one flight: its drawn values, its shadows, where it reads the fading.
#[derive(Debug, Clone)]
pub struct LinkLuck {
    pub(super) draws: FlightDraws,
    pub(super) values: LinkDraws,
    pub(super) tile: ShadowTile,
    pub(super) reads: Vec<DiffuseRead>,
    pub(super) strengths: Vec<Strength>,
}

impl LinkLuck {
    /// Room for the luck of flights in this world, filled with the first one's.
    pub fn new(setup: &LinkSetup, draws: FlightDraws, values: LinkDraws) -> LinkLuck {
        let reads = if setup.bands < INDEPENDENT_BANDS { setup.bands as usize } else { 0 };
        let mut luck = LinkLuck {
            draws,
            values: values.clone(),
            tile: ShadowTile::new(setup.shadow_distance_m),
            reads: Vec::with_capacity(reads),
            strengths: Vec::with_capacity(setup.sources.len()),
        };
        luck.redraw(setup, draws, values);
        luck
    }

    /// Becomes the luck of another flight; keeps its memory.
    pub fn redraw(&mut self, setup: &LinkSetup, draws: FlightDraws, values: LinkDraws) {
        self.draws = draws;
        self.values = values;
        self.tile.redraw(&draws.streams.shadowing, draws.flight);
        let bands = if setup.bands < INDEPENDENT_BANDS { setup.bands } else { 0 };
        self.reads.clear();
        self.reads.extend((0..bands).map(|band| setup.field.read(&draws.streams.uplink, draws.flight, band)));
        setup.strengths(&self.values, &mut self.strengths);
    }

    /// The drawn values.
    pub fn values(&self) -> &LinkDraws {
        &self.values
    }

    /// Shadowing loss at a place, dB (negative: a gain).
    #[inline]
    pub fn shadowing_db(&self, x_m: f64, y_m: f64) -> f64 {
        -self.values.shadow_sigma_db * self.tile.at(x_m, y_m)
    }
}
