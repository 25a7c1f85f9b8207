//! A raster file of any of the formats, told by what is in it.

use super::ascii_grid::{AsciiGrid, begins_as_grid};
use super::crs::Crs;
use super::geotiff::{GeoTiff, begins_as_tiff};
use super::hgt::{Hgt, corner_of, side_of};
use super::raster::{Bytes, GridFault, Lattice, Unreadable, Vertical, Window};
use super::text_of;
use crate::site::Terrain;
use std::io::{Read, SeekFrom};
use std::sync::Arc;

enum Kind {
    Hgt(Hgt),
    GeoTiff(Box<GeoTiff>),
    Ascii(AsciiGrid),
}

/// A raster of heights whose header is read.
pub struct RasterFile {
    /// Its name.
    pub name: String,
    /// Where its samples lie.
    pub lattice: Lattice,
    /// What its coordinates are.
    pub crs: Crs,
    /// What its heights are counted from.
    pub vertical: Vertical,
    kind: Kind,
}

const FORMATS: &str = "a height tile (HGT), a GeoTIFF or an Esri ASCII grid";

fn unreadable(found: impl Into<String>, accepted: impl Into<String>) -> Unreadable {
    Unreadable { fault: GridFault { line: None, found: found.into(), accepted: accepted.into() }, text: None }
}

impl RasterFile {
    /// Reads what a file says of itself. `stated`: what its coordinates are, where somebody says so.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn open(name: &str, mut bytes: Box<dyn Bytes>, stated: Option<&Crs>) -> Result<RasterFile, Unreadable> {
        let mut start = Vec::new();
        let length = bytes
            .seek(SeekFrom::End(0))
            .and_then(|length| bytes.seek(SeekFrom::Start(0)).map(|_| length))
            .and_then(|length| Read::take(&mut bytes, 512).read_to_end(&mut start).map(|_| length))
            .and_then(|length| bytes.seek(SeekFrom::Start(0)).map(|_| length))
            .map_err(|cause| unreadable(format!("a file that cannot be read: {cause}"), FORMATS))?;
        if begins_as_tiff(&start) {
            let tiff = GeoTiff::open(bytes, stated)?;
            let (lattice, crs, vertical) = (tiff.lattice, tiff.crs.clone(), tiff.vertical);
            return Ok(RasterFile { name: name.into(), lattice, crs, vertical, kind: Kind::GeoTiff(Box::new(tiff)) });
        }
        if start.starts_with(b"PK\x03\x04") || start.starts_with(b"\x1f\x8b") {
            return Err(unreadable("a packed file (zip or gzip)", format!("what is in it, unpacked: {FORMATS}")));
        }
        match side_of(length) {
            // Heights of a tile may be the codes of letters, but hardly spell how a grid begins.
            Some(side) if !begins_as_grid(&start) => {
                let tile = Hgt::open(name, side, bytes)?;
                let (lattice, crs) = (tile.lattice, tile.crs());
                Ok(RasterFile { name: name.into(), lattice, crs, vertical: Vertical::SeaLevel, kind: Kind::Hgt(tile) })
            }
            None if corner_of(name).is_some() && !begins_as_grid(&start) => {
                let found = format!("a file of {length} bytes that is named as a height tile");
                Err(unreadable(
                    found,
                    "a whole tile: 2 bytes for each of its samples, of which a side has 601, 1201, 1801, 3601, 7201 or 10801",
                ))
            }
            _ => RasterFile::open_text(name, bytes, stated),
        }
    }

    fn open_text(name: &str, mut bytes: Box<dyn Bytes>, stated: Option<&Crs>) -> Result<RasterFile, Unreadable> {
        let mut all = Vec::new();
        if let Err(cause) = bytes.read_to_end(&mut all) {
            return Err(unreadable(format!("a file that cannot be read: {cause}"), FORMATS));
        }
        let Ok(text) = text_of(all) else { return Err(unreadable("a file of another kind", FORMATS)) };
        let grid = AsciiGrid::open(text, stated)?;
        let Some(lattice) = grid.lattice() else {
            return Err(unreadable("samples that span no plane", FORMATS));
        };
        let crs = grid.crs.clone();
        Ok(RasterFile { name: name.into(), lattice, crs, vertical: Vertical::Unsaid, kind: Kind::Ascii(grid) })
    }

    /// The heights of a window, row by row from the first row of the file; NaN where there are none.
    ///
    /// # Errors
    /// What is wrong with the file.
    pub fn read(&mut self, window: &Window) -> Result<Vec<f32>, GridFault> {
        match &mut self.kind {
            Kind::Hgt(tile) => tile.read(window),
            Kind::GeoTiff(tiff) => tiff.read(window),
            Kind::Ascii(grid) => grid.read(window),
        }
    }

    /// The whole of a grid on the site's axes as it stands, NaN where it has no height; `None` for any other raster.
    ///
    /// # Errors
    /// What is wrong with the file.
    pub fn on_site_axes(&self) -> Option<Result<Terrain, GridFault>> {
        match &self.kind {
            Kind::Ascii(grid) if self.crs == Crs::Site => Some(grid.terrain()),
            _ => None,
        }
    }

    /// About where it lies, in words: its name, and the middle of its coordinates.
    pub fn place_in_words(&self) -> String {
        let [x, y] = self.lattice.middle();
        match self.crs.is_in_degrees() {
            true => format!("\"{}\" lies about latitude {y:.2}, longitude {x:.2}", self.name),
            false => format!("\"{}\" lies about {x:.0}, {y:.0} in its own metres", self.name),
        }
    }

    /// The text, where the file is one.
    pub fn text(&self) -> Option<&Arc<str>> {
        match &self.kind {
            Kind::Ascii(grid) => Some(grid.text()),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn opened(name: &str, bytes: &[u8]) -> Result<RasterFile, Unreadable> {
        RasterFile::open(name, Box::new(Cursor::new(bytes.to_vec())), None)
    }

    /// 2,378 m is a tab and a capital J.
    #[test]
    fn heights_that_are_letters_make_no_text() {
        let tile: Vec<u8> = std::iter::repeat_n(*b"\tJ", 1201 * 1201).flatten().collect();
        let mut file = opened("N45E007.hgt", &tile).expect("a tile");
        let window = Window { columns: 0..2, rows: 0..1 };
        assert_eq!(file.read(&window), Ok(vec![2378.0; 2]));
    }

    #[test]
    fn formats_are_told_by_content() {
        let grid = b"ncols 2\nnrows 2\nxllcenter 7\nyllcenter 45\ncellsize 0.001\n1 2\n3 4\n";
        let file = opened("N45E007.tif", grid).expect("a grid whatever its name");
        assert_eq!((file.crs, file.vertical), (Crs::Degrees, Vertical::Unsaid));
        assert_eq!(
            opened("x.asc", b"\xef\xbb\xbfncols 2\nnrows 2\nxllcenter 0\nyllcenter 0\ncellsize 9\n1 2 3 4")
                .map(|file| file.crs),
            Ok(Crs::Site)
        );
        for (name, bytes, words) in [
            ("a.zip", &b"PK\x03\x04...."[..], "packed"),
            ("a.tif", b"II*\0\x08\0\0\0", "TIFF that cannot be read"),
            ("N45E007.hgt", b"\0\x01\0\x02", "a file of 4 bytes that is named as a height tile"),
            ("N45E007.hgt", b"", "a file of 0 bytes"),
            ("a.dat", b"\x89HDF\r\n\x1a\n\xff\xff", "another kind"),
            ("a.asc", b"", "no `ncols`"),
        ] {
            let found = opened(name, bytes).err().expect("refused").fault.found;
            assert!(found.contains(words), "{name}: {found}");
        }
    }
}
