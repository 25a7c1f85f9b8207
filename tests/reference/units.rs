//! Conversions of units that only published values need.

/// Knots in metres per second (exact by definition: 1852 m an hour).
pub fn mps_from_knots(speed_kt: f64) -> f64 {
    speed_kt * 1852.0 / 3600.0
}

/// Metres per second in knots.
pub fn knots_from_mps(speed_mps: f64) -> f64 {
    speed_mps * 3600.0 / 1852.0
}
