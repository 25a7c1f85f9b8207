//! Where the picture is weakest.

use serde::Serialize;

/// Where the picture is weakest along the path, at the middle values of the inputs and without sources of interference.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Picture {
    /// Mean margin.
    pub margin_db: f64,
    /// Mean margin of the control link there.
    pub control_db: f64,
    /// Distance flown.
    pub distance_m: f64,
    /// Place above home.
    pub place_m: [f64; 3],
}
