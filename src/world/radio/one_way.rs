//! One direction of one link as far as it is fixed.

use crate::radio::OutOfRange;
use crate::radio::antenna::{Antenna, AntennaPair};
use crate::radio::free_space::one_metre_loss_db;
use crate::radio::modem::{FadedCurve, ModemError, PacketCurve, Waveform};
use crate::radio::noise::{self, NoiseEnvironment};
use crate::radio::weather::{gas_specific_attenuation_db_per_km, rain_coefficients};
use crate::scenario::Weather;
use std::sync::Arc;

/// Nominal failing share that margins refer to.
pub(crate) const MARGIN_ERROR_RATE: f64 = 0.1;

/// One direction of one link as far as it is fixed.
#[derive(Debug, Clone)]
pub(crate) struct OneWay {
    /// Free-space loss at one metre.
    pub(crate) one_metre_db: f64,
    /// What rain and gases take from every metre.
    pub(crate) air_db_per_m: f64,
    pub(crate) pilot_antenna: Antenna,
    pub(crate) craft_antenna: Antenna,
    pub(crate) pair: AntennaPair,
    pub(crate) noise_dbm: f64,
    pub(crate) packets: Packets,
}

/// How packets of one waveform and payload fail, in tables that are shared wherever both are the same.
#[derive(Debug, Clone)]
pub(crate) struct Packets {
    waveform: Waveform,
    payload_bytes: u32,
    /// SNR at which [`MARGIN_ERROR_RATE`] of them fail without fading.
    pub(crate) needed_db: f64,
    pub(crate) curve: Arc<PacketCurve>,
    pub(crate) faded: Arc<FadedCurve>,
}

impl Packets {
    /// Those of a waveform and payload; `known` are taken where they are the same.
    ///
    /// # Errors
    /// A chirp waveform outside its range.
    pub(super) fn of(waveform: Waveform, payload_bytes: u32, known: Option<&Packets>) -> Result<Packets, ModemError> {
        if let Some(known) = known.filter(|known| known.waveform == waveform && known.payload_bytes == payload_bytes) {
            return Ok(known.clone());
        }
        let curve = PacketCurve::new(&waveform, payload_bytes)?;
        Ok(Packets {
            waveform,
            payload_bytes,
            needed_db: curve.snr_for_db(MARGIN_ERROR_RATE),
            faded: Arc::new(FadedCurve::new(&curve)),
            curve: Arc::new(curve),
        })
    }
}

impl OneWay {
    /// Through air that takes nothing.
    pub(crate) fn new(frequency_hz: f64, pilot: &Antenna, craft: &Antenna, packets: Packets, noise_dbm: f64) -> OneWay {
        OneWay {
            air_db_per_m: 0.0,
            one_metre_db: one_metre_loss_db(frequency_hz),
            pilot_antenna: *pilot,
            craft_antenna: *craft,
            pair: AntennaPair::new(pilot, craft),
            noise_dbm,
            packets,
        }
    }

    /// What cables and connectors take at either end.
    pub(crate) fn set_feeds(&mut self, pilot_db: f64, craft_db: f64) {
        if self.pilot_antenna.feed_loss_db != pilot_db || self.craft_antenna.feed_loss_db != craft_db {
            (self.pilot_antenna.feed_loss_db, self.craft_antenna.feed_loss_db) = (pilot_db, craft_db);
            self.pair = AntennaPair::new(&self.pilot_antenna, &self.craft_antenna);
        }
    }
}

/// Noise of a receiver with this noise figure, with that of its surroundings where they are stated, dBm.
pub(super) fn noise_dbm(
    surroundings: Option<NoiseEnvironment>,
    frequency_hz: f64,
    bandwidth_hz: f64,
    figure_db: f64,
) -> Result<f64, OutOfRange> {
    let external_db =
        surroundings.and_then(|surroundings| noise::man_made_noise_figure_extended_db(frequency_hz, surroundings));
    let overall_db = match external_db {
        Some(external_db) => noise::overall_noise_figure_db(external_db, figure_db)?,
        None => figure_db,
    };
    noise::noise_power_dbm(bandwidth_hz, overall_db, 290.0)
}

/// Rain and gases below this are left out, dB/km: a tenth of a decibel over ten kilometres.
const AIR_LEAST_DB_PER_KM: f64 = 0.01;

/// What rain and gases take from every metre of a way, dB; 0 where it is next to nothing.
///
/// Rain of the stated rate over the whole way, the mean of level and upright polarisation; air as warm as stated and as dense as at the sea,
/// with half the vapour that it can hold.
///
/// # Source
/// ITU-R P.838-3 for rain, from 1 GHz; ITU-R P.676-12 annex 1 for gases; vapour pressure after Magnus (Alduchov and Eskridge,
/// 1996, from memory); half saturated: estimate.
///
/// # Errors
/// Air outside the range of the formulas.
pub(super) fn air_db_per_m(frequency_hz: f64, weather: &Weather) -> Result<f64, OutOfRange> {
    if frequency_hz < 1e8 {
        return Ok(0.0);
    }
    let celsius = weather.temperature_c.central();
    let vapour_pa = 0.5 * 610.94 * libm::exp(17.625 * celsius / (celsius + 243.04));
    let vapour_g_per_m3 = 2.167 * vapour_pa / (celsius + 273.15);
    let dry_pa = weather.pressure_pa - vapour_pa;
    let mut db_per_km = gas_specific_attenuation_db_per_km(frequency_hz, dry_pa, celsius + 273.15, vapour_g_per_m3)?;
    if weather.rain_mm_per_h > 0.0 && frequency_hz >= 1e9 {
        let rain = rain_coefficients(frequency_hz, 0.0, 45.0)?;
        db_per_km += rain.k * libm::pow(weather.rain_mm_per_h, rain.alpha);
    }
    Ok(if db_per_km < AIR_LEAST_DB_PER_KM { 0.0 } else { 1e-3 * db_per_km })
}
