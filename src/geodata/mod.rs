//! Open geodata: bytes of a file to plain data, with the place and the remedy of every mistake.
//!
//! Nothing here reads a scenario: a raster is a grid of heights with its coordinates, a feature a shape with its properties. What they
//! mean for a site is said in `scenario`. Only the words of a remedy know whom they are for: where a file leaves open what its
//! coordinates are, they name the key of the site that says it.

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

use std::string::FromUtf8Error;

/// The text of a file, without the byte-order mark that some editors put before it.
///
/// # Errors
/// Bytes that are no UTF-8.
pub fn text_of(bytes: Vec<u8>) -> Result<String, FromUtf8Error> {
    let mut text = String::from_utf8(bytes)?;
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    Ok(text)
}
