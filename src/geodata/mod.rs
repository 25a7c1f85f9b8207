//! Open geodata: bytes of a file to plain data, with the place and the remedy of every mistake.
//!
//! Nothing here knows a scenario: a raster is a grid of heights with its coordinates, a feature a shape with its properties. What they
//! mean for a site is said in `scenario`.

mod ascii_grid;
mod crs;
pub mod feature;
pub mod geojson;
mod geotiff;
pub mod gpx;
mod hgt;
pub mod kml;
pub mod map_export;
mod raster;
mod raster_file;
mod raster_ground;
pub mod table;
mod xml;

pub use crs::Crs;
pub use raster::{Bytes, GridFault, Lattice, Unreadable, VALUES_AT_MOST, Vertical, Window};
pub use raster_file::RasterFile;
pub use raster_ground::{FileFault, Patch, RasterGround, Voids};
