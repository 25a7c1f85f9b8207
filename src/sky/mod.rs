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
mod service;
mod skyline;
mod time;
mod view;

pub use almanac::{AlmanacError, AlmanacRecord, read_yuma, write_yuma};
pub use barometer::{
    isa_height_m, isa_height_slope_m_per_pa, isa_pressure_pa, isa_temperature_k, pressure_tendency_error_m,
    static_port_error_m, temperature_scale_height_m,
};
pub use broadcast::{Elements, Ephemeris, broadcast_position_m, position_after_m, wrap_week_s};
pub use cn0::{
    CHIP_RATE_HZ, InterferenceCase, InterferenceFactors, L1_HZ, LEAST_SIGNAL_DBW, cn0_budget_dbhz, code_noise,
    effective_cn0_dbhz, interference_factors, interference_radius_m, interference_ratio_db, open_sky_cn0_dbhz,
    smoothed_code_noise_m, tolerable_interference_db,
};
pub use day::{DAY_SAMPLES, DayStatistics, SIDEREAL_DAY_S, day_statistics, lower_quantile, median_dop, share_dop};
pub use dop::{Clock, Covariance, Dop, Normal, Reduced, dop_one_clock, dop_per_system, weighted_error_m};
pub use error_budget::{
    IONOSPHERE_EARTH_M, IONOSPHERE_SHELL_M, RangeBudget, airframe_multipath_sigma_m, error_ellipse_radius_m,
    ionosphere_obliquity, klobuchar_delay_m, multipath_sigma_m, probability_within_2drms, probability_within_circle,
    radial_error_quantile_m, radius_over_drms, root_sum_square, spherical_error_quantile_m, troposphere_sigma_m,
    vertical_error_quantile_m, zenith_hydrostatic_delay_m,
};
pub use first_fix::{
    ALMANAC_S, FRAME_S, MESSAGE_BIT_RATE, SUBFRAME_S, Start, ephemeris_wait_s, first_fix_time_s, message_success,
};
pub use gauss_markov::{
    GaussMarkov, autocovariance_m2, averaged_error_sigma_m, return_miss_sigma_m, steady_sigma_m,
    two_term_autocorrelation,
};
pub use geodesy::{
    Geodetic, LocalFrame, WGS84_A_M, WGS84_E2, WGS84_F, ecef_from_enu, ecef_from_geodetic, enu_axes, enu_from_ecef,
    enu_from_geodetic, geodetic_from_ecef,
};
pub use heading::{
    course_sigma_rad, hard_iron_error_rad, hard_iron_max_rad, heading_hold_limit_rad, nose_minus_course_rad,
    spiral_distance_m, spiral_path_ratio, wire_field_nt, wire_pair_field_nt,
};
pub use kepler::{
    EARTH_RATE_BEIDOU_RADPS, EARTH_RATE_RADPS, MU_GPS_M3PS2, MU_M3PS2, eccentric_anomaly_rad, equator_crossing_rad,
    mean_motion_radps, nodal_rate_radps, orbit_period_s, semi_major_axis_m,
};
pub use magnetic::{MagneticError, MagneticField, magnetic_field};
pub use navigation::{Navigation, NavigationError, Skipped, nearest_ephemerides, read_navigation};
pub use nominal::{NOMINAL_EPOCH, Nominal, Slot, ground_track_repeat_s, nominal_position_m};
pub use outage::{ShadowingStates, TwoState, any_outage_longer, outage_longer, shadowing_states};
pub use satellites::{Satellite, Satellites, SatellitesError};
pub use service::{SERVICE_FIGURES, ServiceFigure, service_figure};
pub use skyline::{Skyline, horizon_elevation_rad, wall_elevation_rad};
pub use time::{Calendar, GpsTime, TimeError, WEEK_S, sidereal_angle_rad, tai_minus_utc_s};
pub use view::{Sight, Viewpoint, direction};

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

    /// The system of a RINEX letter.
    pub fn from_letter(letter: char) -> Option<System> {
        System::ALL.into_iter().find(|system| system.letter() == letter)
    }

    /// Name.
    pub fn name(self) -> &'static str {
        ["GPS", "Galileo", "GLONASS", "BeiDou"][self.index()]
    }
}
