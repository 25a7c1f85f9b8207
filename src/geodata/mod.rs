//! Open geodata: bytes of a file to plain data, with the place and the remedy of every mistake.
//!
//! Nothing here knows a scenario: a raster is a grid of heights with its coordinates, a feature a shape with its properties. What they
//! mean for a site is said in `scenario`.

pub mod feature;
pub mod geojson;
pub mod gpx;
pub mod kml;
pub mod map_export;
pub mod table;
mod xml;
