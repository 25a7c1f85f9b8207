//! The position fix: satellites in view, dilution of precision, errors, first fix, heading, barometer.
//!
//! Angles are in radians inside, azimuth clockwise from true north; Earth-fixed coordinates are WGS 84.

mod geodesy;

pub use geodesy::{
    Geodetic, LocalFrame, WGS84_A_M, WGS84_E2, WGS84_F, ecef_from_enu, ecef_from_geodetic, enu_axes, enu_from_ecef,
    enu_from_geodetic, geodetic_from_ecef,
};
