//! The position fix: satellites in view, dilution of precision, errors, first fix, heading, barometer.
//!
//! Angles are in radians inside, azimuth clockwise from true north; Earth-fixed coordinates are WGS 84. Nothing here knows a
//! flight or a site's grids: the `world` puts skyline, noise and time together.

mod almanac;
mod barometer;
mod broadcast;
mod cn0;
mod day;
mod dop;
mod error_budget;
mod first_fix;
mod gauss_markov;
mod geodesy;
mod heading;
mod kepler;
mod magnetic;
mod navigation;
mod nominal;
mod outage;
mod satellites;
mod time;
mod view;

pub use almanac::{AlmanacError, AlmanacRecord, read_yuma};
pub use barometer::static_port_error_m;
pub use broadcast::{Elements, Ephemeris, position_after_m};
pub use cn0::{
    CHIP_RATE_HZ, L1_HZ, LEAST_SIGNAL_DBW, code_noise_chips, effective_cn0_dbhz, interference_ratio_db,
    open_sky_cn0_dbhz, smoothed_code_noise_m,
};
pub use day::lower_quantile;
pub use dop::{Clock, Covariance, Reduced};
pub use error_budget::{
    IONOSPHERE_EARTH_M, IONOSPHERE_SHELL_M, RangeBudget, ionosphere_obliquity, multipath_sigma_m, root_sum_square,
    troposphere_sigma_m,
};
pub use first_fix::{Start, first_fix_time_s};
pub use gauss_markov::GaussMarkov;
pub use geodesy::{
    Geodetic, LocalFrame, WGS84_A_M, WGS84_E2, WGS84_F, ecef_from_enu, ecef_from_geodetic, enu_from_geodetic,
    geodetic_from_ecef, local_axes,
};
pub use heading::course_sigma_rad;
pub use kepler::{
    EARTH_RATE_BEIDOU_RADPS, EARTH_RATE_RADPS, MU_GPS_M3PS2, MU_M3PS2, eccentric_anomaly_rad, mean_motion_radps,
};
pub use magnetic::{MagneticError, MagneticField, magnetic_field};
pub use navigation::{Navigation, NavigationError, Skipped, nearest_ephemerides, read_navigation};
pub use nominal::{Constellation, NOMINAL_EPOCH, Slot, ground_track_repeat_s};
pub use outage::TwoState;
pub use satellites::{Satellite, Satellites, SatellitesError};
pub use time::{Calendar, GpsTime, TimeError, WEEK_S, tai_minus_utc_s};
pub use view::{Sight, Viewpoint};

/// A satellite system.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum System {
    /// GPS.
    Gps,
    /// Galileo.
    Galileo,
    /// GLONASS.
    Glonass,
    /// BeiDou.
    Beidou,
}

impl System {
    /// All systems.
    pub const ALL: [System; 4] = [System::Gps, System::Galileo, System::Glonass, System::Beidou];

    /// Place in [`System::ALL`].
    #[inline]
    pub fn index(self) -> usize {
        self as usize
    }

    /// Letter of the RINEX format.
    pub fn letter(self) -> char {
        ['G', 'E', 'R', 'C'][self.index()]
    }

    /// Name.
    pub fn name(self) -> &'static str {
        ["GPS", "Galileo", "GLONASS", "BeiDou"][self.index()]
    }
}
