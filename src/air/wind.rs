//! Mean wind by height, terrain categories, gust peaks, and the wind triangle's direction conventions.

/// Vector (x east, y north) of a wind of `speed_mps` that blows *from* `from_rad`, clockwise from north.
pub fn vector_mps(speed_mps: f64, from_rad: f64) -> [f64; 2] {
    [-speed_mps * libm::sin(from_rad), -speed_mps * libm::cos(from_rad)]
}
