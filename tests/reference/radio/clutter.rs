//! Statistical losses, for places whose obstacles are not known.
//!
//! Where terrain and obstacles are traced these must stay out: the same obstacle would count twice.

use super::free_space::free_space_loss_db;
use lostlink::radio::diffraction::knife_edge_loss_db;
use lostlink::radio::range::{OutOfRange, within};

/// Surroundings of a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clutter {
    /// Open country or water.
    OpenRural,
    /// Suburb or town.
    Suburban,
    /// Trees.
    TreesForest,
}

/// Loss in dB of one low terminal among its surroundings, 0 above them.
///
/// # Errors
/// Frequency outside 30 MHz to 3 GHz, a height, street width or clutter height not above 0.
///
/// # Source
/// ITU-R P.2108-1 §3.1, equations (2a) and (2b); 27 m is its street width where none is known.
pub fn clutter_loss_db(
    frequency_hz: f64,
    height_m: f64,
    street_width_m: f64,
    clutter_height_m: f64,
    clutter: Clutter,
) -> Result<f64, OutOfRange> {
    within("frequency in Hz", frequency_hz, 30e6, 3e9)?;
    within("height in m", height_m, f64::MIN_POSITIVE, 1e4)?;
    within("street width in m", street_width_m, f64::MIN_POSITIVE, 1e4)?;
    within("clutter height in m", clutter_height_m, f64::MIN_POSITIVE, 1e3)?;
    if height_m >= clutter_height_m {
        return Ok(0.0);
    }
    let f = frequency_hz * 1e-9;
    Ok(match clutter {
        Clutter::OpenRural => -(21.8 + 6.2 * libm::log10(f)) * libm::log10(height_m / clutter_height_m),
        Clutter::Suburban | Clutter::TreesForest => {
            let below = clutter_height_m - height_m;
            let angle_deg = libm::atan(below / street_width_m).to_degrees();
            let v = 0.342 * f.sqrt() * (below * angle_deg).sqrt();
            knife_edge_loss_db(v) - 6.03
        }
    })
}

/// Probability of a free line of sight against elevation.
///
/// Made for platforms hundreds of metres up; under some 10° it is an extrapolation.
///
/// # Errors
/// Elevation outside 0 to 90°, a or b not above 0.
///
/// # Source
/// Al-Hourani, Kandeepan and Lardner, IEEE Wireless Comm. Letters 3(6), 2014: 1/(1 + a e^(−b(θ − a))), θ in degrees.
pub fn line_of_sight_probability(elevation_deg: f64, a: f64, b: f64) -> Result<f64, OutOfRange> {
    within("elevation in degrees", elevation_deg, 0.0, 90.0)?;
    within("a", a, f64::MIN_POSITIVE, 1e3)?;
    within("b", b, f64::MIN_POSITIVE, 1e3)?;
    Ok(1.0 / (1.0 + a * libm::exp(-b * (elevation_deg - a))))
}

/// Mean loss in dB over free space: that with and that without a line of sight, weighted by its probability.
///
/// # Errors
/// As [`line_of_sight_probability`].
///
/// # Source
/// The same paper.
pub fn mean_excess_loss_db(
    elevation_deg: f64,
    a: f64,
    b: f64,
    in_sight_db: f64,
    out_of_sight_db: f64,
) -> Result<f64, OutOfRange> {
    within("loss in sight in dB", in_sight_db, -100.0, 300.0)?;
    within("loss out of sight in dB", out_of_sight_db, -100.0, 300.0)?;
    let p = line_of_sight_probability(elevation_deg, a, b)?;
    Ok(p * in_sight_db + (1.0 - p) * out_of_sight_db)
}

/// Probability of a free line of sight in the country between a 35 m mast and a craft at this height.
///
/// TRAP: a pilot at 1.5 m is no 35 m mast; for him this is far too good.
///
/// # Errors
/// Height outside 1.5 to 300 m, distance outside 0 to 20 km.
///
/// # Source
/// 3GPP TR 36.777 table B-1 (RMa-AV); up to 10 m it points to TR 38.901 (RMa).
pub fn rural_line_of_sight_probability(height_m: f64, ground_distance_m: f64) -> Result<f64, OutOfRange> {
    let h = within("height in m", height_m, 1.5, 300.0)?;
    let d = within("ground distance in m", ground_distance_m, 0.0, 20e3)?;
    if h > 40.0 {
        return Ok(1.0);
    }
    if h <= 10.0 {
        return Ok(if d <= 10.0 { 1.0 } else { libm::exp(-(d - 10.0) / 1000.0) });
    }
    let lg = libm::log10(h);
    let p1 = (15021.0 * lg - 16053.0).max(1000.0);
    let d1 = (1350.8 * lg - 1602.0).max(18.0);
    Ok(if d <= d1 { 1.0 } else { d1 / d + libm::exp(-d / p1) * (1.0 - d1 / d) })
}

/// Path loss in dB in the country with a free line of sight, between a 35 m mast and a craft.
///
/// # Errors
/// Height outside 10 to 300 m, slant distance outside 1 m to 20 km, frequency outside 100 MHz to 100 GHz.
///
/// # Source
/// 3GPP TR 36.777 table B-2 (RMa-AV).
pub fn rural_path_loss_in_sight_db(height_m: f64, slant_distance_m: f64, frequency_hz: f64) -> Result<f64, OutOfRange> {
    let (h, d, f) = rural(height_m, slant_distance_m, frequency_hz)?;
    Ok((23.9 - 1.8 * libm::log10(h)).max(20.0) * libm::log10(d) + at_one_metre_db(f))
}

/// Path loss in dB in the country without a line of sight, between a 35 m mast and a craft.
///
/// # Errors
/// As [`rural_path_loss_in_sight_db`].
///
/// # Source
/// 3GPP TR 36.777 table B-2 (RMa-AV).
pub fn rural_path_loss_out_of_sight_db(
    height_m: f64,
    slant_distance_m: f64,
    frequency_hz: f64,
) -> Result<f64, OutOfRange> {
    let (h, d, f) = rural(height_m, slant_distance_m, frequency_hz)?;
    let blocked = -12.0 + (35.0 - 5.3 * libm::log10(h)) * libm::log10(d) + at_one_metre_db(f);
    Ok(blocked.max(rural_path_loss_in_sight_db(height_m, slant_distance_m, frequency_hz)?))
}

fn rural(height_m: f64, slant_distance_m: f64, frequency_hz: f64) -> Result<(f64, f64, f64), OutOfRange> {
    Ok((
        within("height in m", height_m, 10.0, 300.0)?,
        within("slant distance in m", slant_distance_m, 1.0, 20e3)?,
        within("frequency in Hz", frequency_hz, 100e6, 100e9)? * 1e-9,
    ))
}

/// 20 log10(40 π f/3), f in GHz.
fn at_one_metre_db(frequency_ghz: f64) -> f64 {
    20.0 * libm::log10(40.0 * std::f64::consts::PI * frequency_ghz / 3.0)
}

/// Free-space loss in dB plus the mean excess for the surroundings, when nothing of the site is known.
///
/// # Errors
/// As [`free_space_loss_db`] and [`mean_excess_loss_db`].
pub fn statistical_loss_db(
    frequency_hz: f64,
    slant_distance_m: f64,
    elevation_deg: f64,
    (a, b): (f64, f64),
    (in_sight_db, out_of_sight_db): (f64, f64),
) -> Result<f64, OutOfRange> {
    Ok(free_space_loss_db(frequency_hz, slant_distance_m)?
        + mean_excess_loss_db(elevation_deg, a, b, in_sight_db, out_of_sight_db)?)
}
