//! The Earth's magnetic field, for the declination.

use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::Date;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;
use world_magnetic_model::uom::si::magnetic_flux_density::nanotesla;

/// The field at a place and time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MagneticField {
    /// Declination, east positive, in (−π, π].
    pub declination_rad: f64,
    /// Inclination, down positive.
    pub inclination_rad: f64,
    /// Horizontal intensity, nT.
    pub horizontal_nt: f64,
    /// One sigma of the declination: what the model leaves out.
    pub declination_sigma_rad: f64,
}

/// Why there is no field.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MagneticError {
    /// Outside the time of the models.
    #[error("the magnetic model covers 2020.0 to 2030.0, not {0}; state the declination instead")]
    Year(f64),
    /// A place off the Earth.
    #[error("no magnetic field for latitude {lat_deg}°, longitude {lon_deg}°, height {height_m} m")]
    Place {
        /// Latitude.
        lat_deg: f64,
        /// Longitude.
        lon_deg: f64,
        /// Height.
        height_m: f64,
    },
}

/// The field by the World Magnetic Model in force: WMM2020 up to 2025.0, WMM2025 from then to 2030.0.
///
/// `height_m` is above the ellipsoid, −1 km to 850 km. The library counts whole days and single precision: its components are
/// taken at the two midnights around the time and interpolated; error below 0.5 nT.
///
/// # Errors
/// When the year is outside 2020 to 2030, or there is no such place.
///
/// # Source
/// World Magnetic Model, NOAA NCEI and BGS, through the crate `world_magnetic_model`; uncertainty √(0.26² + (c/H)²) degrees
/// from section 3.4 of the WMM reports (c = 5625 nT for 2020, 5417 nT for 2025).
pub fn magnetic_field(
    decimal_year: f64,
    height_m: f64,
    lat_deg: f64,
    lon_deg: f64,
) -> Result<MagneticField, MagneticError> {
    if !(2020.0..2030.0).contains(&decimal_year) {
        return Err(MagneticError::Year(decimal_year));
    }
    let place = || MagneticError::Place { lat_deg, lon_deg, height_m };
    let year = decimal_year.floor();
    let start = Date::from_ordinal_date(year as i32, 1).map_err(|_| MagneticError::Year(decimal_year))?;
    let next = Date::from_ordinal_date(year as i32 + 1, 1).map_err(|_| MagneticError::Year(decimal_year))?;
    let length = f64::from(next.to_julian_day() - start.to_julian_day());
    let day = (decimal_year - year) * length;
    // The last day of a model has no next midnight in it: there its last two days are extrapolated.
    let first = day.floor().min(length - 2.0).max(0.0);
    let lon_deg_wrapped = (lon_deg + 180.0).rem_euclid(360.0) - 180.0;
    let at = |day: f64| -> Result<[f64; 3], MagneticError> {
        let date = Date::from_julian_day(start.to_julian_day() + day as i32).map_err(|_| place())?;
        let field = GeomagneticField::new(
            Length::new::<meter>(height_m as f32),
            Angle::new::<degree>(lat_deg as f32),
            Angle::new::<degree>(lon_deg_wrapped as f32),
            date,
        )
        .map_err(|_| place())?;
        Ok([field.x(), field.y(), field.z()].map(|b| f64::from(b.get::<nanotesla>())))
    };
    let (a, b) = (at(first)?, at(first + 1.0)?);
    let share = day - first;
    let [x, y, z] = [0, 1, 2].map(|k| a[k] + (b[k] - a[k]) * share);
    let horizontal_nt = (x * x + y * y).sqrt();
    let from_strength_deg = if decimal_year < 2025.0 { 5_625.0 } else { 5_417.0 } / horizontal_nt;
    Ok(MagneticField {
        declination_rad: libm::atan2(y, x),
        inclination_rad: libm::atan2(z, horizontal_nt),
        horizontal_nt,
        declination_sigma_rad: (0.26f64 * 0.26 + from_strength_deg * from_strength_deg).sqrt().min(180.0).to_radians(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outside_its_time_there_is_no_model() {
        assert_eq!(magnetic_field(2030.0, 0.0, 45.0, 7.0), Err(MagneticError::Year(2030.0)));
        assert!(magnetic_field(2019.99, 0.0, 45.0, 7.0).is_err());
        assert!(magnetic_field(2026.0, 0.0, 95.0, 7.0).is_err());
        assert!(magnetic_field(2029.9999, 0.0, 45.0, 187.0).is_ok());
    }
}
