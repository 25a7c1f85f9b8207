//! Height from pressure.

/// Height error after a steady pressure tendency; positive: reads too high, the pressure falls.
#[inline]
pub fn pressure_tendency_error_m(tendency_pa_per_h: f64, elapsed_s: f64, slope_m_per_pa: f64) -> f64 {
    -tendency_pa_per_h * elapsed_s / 3600.0 * slope_m_per_pa
}

/// True height above take-off for an indicated one when the air is `delta_k` warmer than the standard layer.
///
/// # Source
/// Ratio of layer temperatures, e.g. ICAO Doc 8168, part III, section 1, chapter 4 (from memory).
pub fn temperature_scale_height_m(indicated_m: f64, layer_isa_k: f64, delta_k: f64) -> f64 {
    indicated_m * (layer_isa_k + delta_k) / layer_isa_k
}
