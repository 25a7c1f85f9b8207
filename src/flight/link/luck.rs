//! The radio luck of one flight.

use super::INDEPENDENT_BANDS;
use super::setup::{LinkSetup, OneWay};
use crate::flight::{Drawn, FlightDraws};
use crate::radio::antenna::Antenna;
use crate::radio::fading::DiffuseRead;
use crate::radio::shadowing::ShadowTile;
use crate::units::ratio_from_db;

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
    /// Interference to noise of each source a metre away from the peaks of the craft's antenna, of the pilot's control
    /// antenna, of his video antenna, as ratios; at the pilot less what stands in between.
    pub(super) source_ratio: Vec<[f64; 3]>,
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
            source_ratio: Vec::with_capacity(setup.sources.len()),
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
        let near = |eirp_dbm: f64, way: &OneWay, antenna: &Antenna, noise_dbm: f64| {
            let gain_db = antenna.peak_dbi() - antenna.condition_loss_db() - antenna.feed_loss_db;
            ratio_from_db(eirp_dbm + gain_db - way.one_metre_db - noise_dbm)
        };
        let up = &setup.up;
        let floor_dbm = up.noise_dbm + self.values.noise_rise_db;
        self.source_ratio.clear();
        self.source_ratio.extend(setup.sources.iter().enumerate().map(|(index, source)| {
            // A source that the draws do not know radiates nothing.
            let eirp_dbm = self.values.interferer_dbm.get(index).copied().unwrap_or(-300.0);
            let behind_db = source.field.as_ref().map_or(0.0, |field| field.at_pilot_db);
            let telemetry = setup.telemetry.as_ref();
            let video = setup.video.as_ref().filter(|_| source.hits_video).map(|video| &video.way);
            let (at_craft, at_pilot) = (eirp_dbm, eirp_dbm - behind_db);
            [
                near(at_craft, up, &up.craft_antenna, floor_dbm),
                telemetry.map_or(0.0, |telemetry| near(at_pilot, up, &up.pilot_antenna, telemetry.noise_dbm)),
                video.map_or(0.0, |way| near(at_pilot, way, &way.pilot_antenna, way.noise_dbm)),
            ]
        }));
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
