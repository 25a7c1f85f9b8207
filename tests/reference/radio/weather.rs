//! Rain and air on the path: small at these frequencies, so that they can be shown to be small.

use super::range::any_length;
use lostlink::radio::range::{OutOfRange, within};
use lostlink::radio::weather::*;

/// Loss in dB over a level path through uniform rain, horizontal polarisation.
///
/// An upper bound: real showers are smaller than long paths, and no reduction factor is applied.
///
/// # Errors
/// As [`rain_coefficients`]; rain outside 0 to 500 mm/h; distance not above 0. Under 1 GHz rain is refused: it is nothing.
///
/// # Source
/// ITU-R P.838-3: k R^α per kilometre.
pub fn rain_path_loss_db(frequency_hz: f64, rain_mm_per_h: f64, distance_m: f64) -> Result<f64, OutOfRange> {
    within("rain in mm/h", rain_mm_per_h, 0.0, 500.0)?;
    any_length("distance in m", distance_m)?;
    let rain = rain_coefficients(frequency_hz, 0.0, 0.0)?;
    Ok(rain.k * libm::pow(rain_mm_per_h, rain.alpha) * distance_m * 1e-3)
}
