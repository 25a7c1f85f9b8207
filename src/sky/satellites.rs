//! The satellites of a day, from wherever they are known.

use super::almanac::{AlmanacError, read_yuma};
use super::broadcast::Ephemeris;
use super::navigation::{NavigationError, Skipped, nearest_ephemerides, read_navigation};
use super::nominal::{Constellation, Slot};
use super::time::GpsTime;
use super::{Sight, System, Viewpoint};

/// One satellite.
#[derive(Debug, Clone, PartialEq)]
pub enum Satellite {
    /// A slot of a nominal constellation.
    Nominal(Slot),
    /// A real one by its broadcast elements.
    Broadcast(Ephemeris),
}

impl Satellite {
    /// Its system.
    pub fn system(&self) -> System {
        match self {
            Satellite::Nominal(slot) => slot.system,
            Satellite::Broadcast(ephemeris) => ephemeris.system,
        }
    }

    /// Its name: slot, or letter and number.
    pub fn name(&self) -> String {
        match self {
            Satellite::Nominal(slot) => slot.id.clone(),
            Satellite::Broadcast(e) => format!("{}{:02}", e.system.letter(), e.number),
        }
    }

    /// Earth-fixed position.
    pub fn position_m(&self, at: GpsTime) -> [f64; 3] {
        match self {
            Satellite::Nominal(slot) => slot.position_m(at),
            Satellite::Broadcast(ephemeris) => ephemeris.position_m(at),
        }
    }

    /// Where it stands in the sky.
    pub fn sight(&self, view: &Viewpoint, at: GpsTime) -> Sight {
        view.sight(self.position_m(at))
    }
}

/// Satellites and where they come from.
#[derive(Debug, Clone, PartialEq)]
pub struct Satellites {
    /// All of them.
    pub list: Vec<Satellite>,
    /// In words, for the report.
    pub origin: String,
    /// Odd but usable, in words.
    pub warnings: Vec<String>,
}

/// Why satellites cannot be had from a file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SatellitesError {
    /// As a YUMA almanac.
    #[error("YUMA almanac: {0}")]
    Almanac(#[from] AlmanacError),
    /// As RINEX navigation.
    #[error("{0}")]
    Navigation(#[from] NavigationError),
    /// All records are too old or too new.
    #[error("no record of the file lies within {days:.0} days of the flight")]
    TooOld {
        /// Limit.
        days: f64,
    },
}

/// A RINEX record is used up to this far from its reference time: its position is then wrong by kilometres at most, which does
/// not matter for directions. Almanacs are made for months. (Estimate.)
const BROADCAST_MOST_S: f64 = 2.0 * 86_400.0;
/// See [`BROADCAST_MOST_S`].
const ALMANAC_MOST_S: f64 = 183.0 * 86_400.0;
/// Age from which a warning is given.
const BROADCAST_WARN_S: f64 = 4.0 * 3600.0;
/// See [`BROADCAST_WARN_S`].
const ALMANAC_WARN_S: f64 = 30.0 * 86_400.0;

impl Satellites {
    /// Nominal constellations.
    pub fn nominal(sets: &[Constellation]) -> Self {
        Satellites {
            list: sets.iter().flat_map(|set| set.slots()).map(Satellite::Nominal).collect(),
            origin: "nominal constellations: representative of any day, not a forecast of this one".into(),
            warnings: Vec::new(),
        }
    }

    /// From the text of a YUMA almanac or a RINEX 3 navigation file, for a flight at an instant; only the systems asked for.
    ///
    /// # Errors
    /// When the text is neither, or has no usable record near the instant.
    pub fn from_text(text: &str, at: GpsTime, systems: &[System]) -> Result<Self, SatellitesError> {
        let rinex = text.lines().next().is_some_and(|line| line.contains("RINEX VERSION"));
        let (all, skipped, most_s, warn_s, what) = if rinex {
            let file = read_navigation(text)?;
            (file.ephemerides, file.skipped, BROADCAST_MOST_S, BROADCAST_WARN_S, "RINEX navigation file")
        } else {
            let (good, bad): (Vec<_>, Vec<_>) = read_yuma(text)?.into_iter().partition(|record| record.health == 0);
            let skipped = Skipped { unhealthy: bad.len(), ..Skipped::default() };
            (good.iter().map(|r| r.ephemeris(at)).collect(), skipped, ALMANAC_MOST_S, ALMANAC_WARN_S, "YUMA almanac")
        };
        let near = nearest_ephemerides(&all, at, most_s);
        let list: Vec<Ephemeris> = near.into_iter().filter(|e| systems.contains(&e.system)).collect();
        if list.is_empty() {
            return Err(SatellitesError::TooOld { days: most_s / 86_400.0 });
        }
        let mut warnings = Vec::new();
        let age_s = list.iter().map(|e| (e.reference.since_epoch_s - at.since_epoch_s).abs()).fold(0.0, f64::max);
        if age_s > warn_s {
            warnings.push(format!("the {what} is up to {:.1} days away from the flight", age_s / 86_400.0));
        }
        if skipped != Skipped::default() {
            warnings.push(format!("passed over in the {what}: {skipped}"));
        }
        for &system in systems {
            if list.iter().all(|e| e.system != system) {
                warnings.push(format!("the {what} holds no usable {} satellite", system.name()));
            }
        }
        Ok(Satellites { list: list.into_iter().map(Satellite::Broadcast).collect(), origin: what.into(), warnings })
    }
}
