//! Coordinate systems of rasters, by EPSG code.

use proj4rs::Proj;
use proj4rs::transform::transform;
use std::fmt;

/// What the coordinates of a raster are.
#[derive(Clone)]
pub enum Crs {
    /// Metres on the site's own axes.
    Site,
    /// Longitude and latitude in degrees, on a datum that is WGS 84 to a metre or two: ETRS89 and NAD83 count as such.
    Degrees,
    /// Easting and northing, or longitude and latitude on another datum.
    Projected(Box<Projection>),
}

/// A system by its code.
#[derive(Clone)]
pub struct Projection {
    code: u32,
    from: Proj,
    to: Proj,
}

const WGS84: &str = "+proj=longlat +datum=WGS84 +no_defs";

impl fmt::Debug for Crs {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Crs::Site => out.write_str("Site"),
            Crs::Degrees => out.write_str("Degrees"),
            Crs::Projected(projection) => write!(out, "Projected(EPSG:{})", projection.code),
        }
    }
}

impl PartialEq for Crs {
    fn eq(&self, other: &Crs) -> bool {
        match (self, other) {
            (Crs::Site, Crs::Site) | (Crs::Degrees, Crs::Degrees) => true,
            (Crs::Projected(a), Crs::Projected(b)) => a.code == b.code,
            _ => false,
        }
    }
}

/// The value of a parameter of a definition such as `+proj=utm +zone=32`.
fn parameter<'d>(definition: &'d str, name: &str) -> Option<&'d str> {
    definition.split_whitespace().find_map(|part| part.strip_prefix('+')?.strip_prefix(name)?.strip_prefix('='))
}

/// Whether a datum is WGS 84 within a metre or two.
fn as_wgs84(definition: &str) -> bool {
    let shift = parameter(definition, "towgs84");
    let unshifted = shift.is_none_or(|list| list.split(',').all(|part| part.parse::<f64>().is_ok_and(|by| by == 0.0)));
    let modern = match (parameter(definition, "datum"), parameter(definition, "ellps")) {
        (Some(datum), _) => matches!(datum, "WGS84" | "NAD83"),
        (None, ellipsoid) => matches!(ellipsoid, Some("GRS80" | "WGS84")),
    };
    modern && unshifted && parameter(definition, "pm").is_none()
}

/// Why a definition cannot be used.
fn refused(definition: &str) -> Option<&'static str> {
    const PLANE: [&str; 14] = [
        "longlat", "utm", "tmerc", "lcc", "merc", "aea", "laea", "stere", "sterea", "somerc", "cea", "eqc", "krovak",
        "mill",
    ];
    if !parameter(definition, "proj").is_some_and(|name| PLANE.contains(&name)) {
        return Some("a kind of projection that is not known here");
    }
    if parameter(definition, "axis").is_some_and(|axis| axis != "enu") {
        return Some("axes that do not run east and north");
    }
    let grids = parameter(definition, "nadgrids").is_some_and(|grids| grids != "@null");
    // Of this datum the shift is a table too.
    if grids || parameter(definition, "datum") == Some("NAD27") {
        return Some("a datum whose shift from WGS 84 is a table that is not held here");
    }
    // A sphere of web maps stands for WGS 84 and says so.
    let sphere = parameter(definition, "nadgrids") == Some("@null");
    let known = sphere || parameter(definition, "datum").is_some() || parameter(definition, "towgs84").is_some();
    (!known && !as_wgs84(definition)).then_some("a datum whose shift from WGS 84 is not known here")
}

impl Crs {
    /// The system of an EPSG code.
    ///
    /// # Errors
    /// What is the matter with it, in words.
    ///
    /// # Source
    /// Definitions by code as in the crate `crs-definitions`, formulas as in `proj4rs`; both agree with PROJ to a centimetre where
    /// they were compared (`tests/data/elevation`).
    pub fn from_epsg(code: u32) -> Result<Crs, String> {
        let definition = u16::try_from(code).ok().and_then(crs_definitions::from_code);
        let Some(definition) = definition.map(|known| known.proj4) else {
            return Err(format!("the coordinate system EPSG:{code}, which the list of codes does not have"));
        };
        let of_it = |what: &str| format!("the coordinate system EPSG:{code}: {what}");
        if let Some(why) = refused(definition) {
            return Err(of_it(why));
        }
        if parameter(definition, "proj") == Some("longlat") && as_wgs84(definition) {
            return Ok(Crs::Degrees);
        }
        let made = |definition| Proj::from_proj_string(definition).map_err(|cause| of_it(&cause.to_string()));
        Ok(Crs::Projected(Box::new(Projection { code, from: made(WGS84)?, to: made(definition)? })))
    }

    /// Coordinates in this system of a latitude and longitude on WGS 84; `None` where it has none.
    pub fn from_degrees(&self, lat_deg: f64, lon_deg: f64) -> Option<[f64; 2]> {
        let Crs::Projected(projection) = self else { return Some([lon_deg, lat_deg]) };
        let mut place = (lon_deg.to_radians(), lat_deg.to_radians(), 0.0);
        transform(&projection.from, &projection.to, &mut place).ok()?;
        let (x, y) =
            if projection.to.is_latlong() { (place.0.to_degrees(), place.1.to_degrees()) } else { (place.0, place.1) };
        (x.is_finite() && y.is_finite()).then_some([x, y])
    }

    /// Whether its coordinates are degrees.
    pub fn is_in_degrees(&self) -> bool {
        match self {
            Crs::Site => false,
            Crs::Degrees => true,
            Crs::Projected(projection) => projection.to.is_latlong(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Coordinates by PROJ 9 (pyproj 3.7.2, `Transformer.from_crs("EPSG:4326", …, always_xy=True)`), to 0.1 mm.
    #[test]
    fn coordinates_are_those_of_another_library() {
        for (code, lon, lat, x, y) in [
            (32616, -84.2, 36.5, 750784.1785, 4043054.7238),
            (26916, -84.2, 36.5, 750784.1785, 4043054.7236),
            (3857, -84.2, 36.5, -9373101.1248, 4369640.5106),
            (25832, 13.4, 52.5, 798609.5209, 5825756.2420),
            (2154, 3.5, 46.1, 738625.8977, 6555701.2012),
            (2056, 7.44, 46.95, 2600104.1095, 1199879.6282),
            (3035, 10.5, 50.2, 4356701.8106, 3009876.1936),
            (2193, 174.7, -36.8, 1751660.9006, 5925965.9138),
            (2274, -86.5, 36.1, 1820787.6177, 643456.5643),
            (5070, -96.0, 38.0, 0.0, 1662824.7611),
            (27700, -1.5, 52.5, 434039.4573, 289239.2811),
        ] {
            let crs = Crs::from_epsg(code).unwrap_or_else(|why| panic!("{why}"));
            let [east, north] = crs.from_degrees(lat, lon).expect("a place there");
            // Two libraries that both promise better than a millimetre, and values rounded to a tenth of one. The shift of the British
            // datum is stated with rotations of four decimals of a second for PROJ (EPSG:1314) and of three here: 0.0004" is 12 mm.
            let within_m = if code == 27700 { 12e-3 } else { 2e-4 };
            let off_m = (east - x).abs().max((north - y).abs());
            assert!(off_m < within_m, "EPSG:{code}: {east} {north}, {off_m} m off");
        }
    }

    #[test]
    fn what_cannot_be_placed_is_refused_with_its_code() {
        for code in [4326, 4258, 4269, 4979] {
            assert_eq!(Crs::from_epsg(code), Ok(Crs::Degrees), "EPSG:{code}");
        }
        // Unknown, a number too large, NAD27 (a table of shifts), axes to west and south.
        for code in [1, 999_999, 26716, 2048] {
            let why = Crs::from_epsg(code).expect_err("refused");
            assert!(why.contains(&format!("EPSG:{code}")), "{why}");
        }
    }
}
