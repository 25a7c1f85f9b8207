//! Height tiles of one degree: 16-bit heights without a header, placed by the file's name.

use super::crs::Crs;
use super::raster::{Bytes, GridFault, HEIGHTS_M, Lattice, Window, fault};
use std::io::SeekFrom;

/// A tile of a degree by a degree, its samples on both edges.
///
/// # Source
/// Format of the SRTM tiles (from memory of their documentation): 1201 or 3601 samples a side, row by row from the north-west, big-endian,
/// −32768 for none; named by the south-west corner. Heights are metres above the EGM96 geoid.
pub(super) struct Hgt {
    bytes: Box<dyn Bytes>,
    pub(super) lattice: Lattice,
}

/// Samples a side that such tiles have: 6, 3, 2, 1, 1/2 and 1/3 of an arc second apart.
const SIDES: [usize; 6] = [601, 1201, 1801, 3601, 7201, 10_801];

const NO_HEIGHT: i16 = i16::MIN;

/// Samples a side of a file of a length.
pub(super) fn side_of(length: u64) -> Option<usize> {
    SIDES.into_iter().find(|side| length == 2 * (side * side) as u64)
}

/// South and west edge in degrees by a name such as `folder/N36W085.hgt`.
pub(super) fn corner_of(name: &str) -> Option<[f64; 2]> {
    let last = name.rsplit(['/', '\\']).next()?;
    let part = |from: usize, to: usize| last.get(from..to);
    let number =
        |text: &str| if text.bytes().all(|byte| byte.is_ascii_digit()) { text.parse::<f64>().ok() } else { None };
    let sign = |letter: &str, [plus, minus]: [&str; 2]| match letter.to_ascii_uppercase() {
        letter if letter == plus => Some(1.0),
        letter if letter == minus => Some(-1.0),
        _ => None,
    };
    let south = sign(part(0, 1)?, ["N", "S"])? * number(part(1, 3)?)?;
    let west = sign(part(3, 4)?, ["E", "W"])? * number(part(4, 7)?)?;
    let ends = last[7..].chars().next().is_none_or(|next| !next.is_ascii_alphanumeric());
    (ends && (-90.0..90.0).contains(&south) && (-180.0..180.0).contains(&west)).then_some([south, west])
}

impl Hgt {
    /// A file whose length is that of a tile.
    pub(super) fn open(name: &str, side: usize, bytes: Box<dyn Bytes>) -> Result<Hgt, GridFault> {
        let Some([south, west]) = corner_of(name) else {
            let found = format!("a height tile of {side} by {side} samples whose name does not say where it lies");
            return fault(
                None,
                found,
                "a name that begins with the south-west corner, such as N45E007.hgt or S33W071.hgt",
            );
        };
        let step = 1.0 / (side - 1) as f64;
        let Some(lattice) = Lattice::new(side, side, [west, south + 1.0], [step, 0.0], [0.0, -step]) else {
            return fault(None, "a height tile without a place", "a name such as N45E007.hgt");
        };
        Ok(Hgt { bytes, lattice: lattice.in_parts_of_a_degree() })
    }

    pub(super) fn crs(&self) -> Crs {
        Crs::Degrees
    }

    /// The heights of a window, row by row from the north; NaN where there are none.
    pub(super) fn read(&mut self, window: &Window) -> Result<Vec<f32>, GridFault> {
        let mut heights = Vec::with_capacity(window.count());
        let mut row_bytes = vec![0; 2 * window.columns.len()];
        for row in window.rows.clone() {
            let at = 2 * (row * self.lattice.columns + window.columns.start) as u64;
            let read = self.bytes.seek(SeekFrom::Start(at)).and_then(|_| self.bytes.read_exact(&mut row_bytes));
            if let Err(cause) = read {
                return fault(None, format!("a file that cannot be read: {cause}"), "a whole height tile");
            }
            let samples = row_bytes.chunks_exact(2).map(|pair| i16::from_be_bytes([pair[0], pair[1]]));
            heights.extend(samples.map(|sample| {
                let known = sample != NO_HEIGHT && HEIGHTS_M.contains(&f64::from(sample));
                if known { f32::from(sample) } else { f32::NAN }
            }));
        }
        Ok(heights)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    #[test]
    fn names_tell_the_corner() {
        for (name, corner) in [
            ("N36W085.hgt", Some([36.0, -85.0])),
            ("tiles/s33e018.HGT", Some([-33.0, 18.0])),
            ("N00E000", Some([0.0, 0.0])),
            ("N45E007.part.hgt", Some([45.0, 7.0])),
            ("N45E0071.hgt", None),
            ("N90E007.hgt", None),
            ("X45E007.hgt", None),
            ("N4+E007.hgt", None),
            ("N45E18é.hgt", None),
            ("ground.hgt", None),
            ("", None),
        ] {
            assert_eq!(corner_of(name), corner, "{name}");
        }
        assert_eq!((side_of(2 * 1201 * 1201), side_of(2 * 1201 * 1201 - 2)), (Some(1201), None));
    }

    #[test]
    fn rows_run_from_the_north_and_voids_are_none() {
        let side = 601;
        let height = |column: usize, row: usize| (column + 1000 * (row % 2)) as i16;
        let mut bytes: Vec<u8> = Vec::new();
        for row in 0..side {
            for column in 0..side {
                let sample = if (column, row) == (5, 3) { NO_HEIGHT } else { height(column, row) };
                bytes.extend(sample.to_be_bytes());
            }
        }
        let mut tile = Hgt::open("N10E020.hgt", side, Box::new(Cursor::new(bytes))).expect("a tile");
        // Row 0 lies at 11° north, column 0 at 20° east.
        let index = tile.lattice.from_first(tile.lattice.lattice_index([20.0, 11.0]));
        assert_eq!(index, [0.0, 0.0]);
        let part = tile.read(&Window { columns: 4..7, rows: 2..4 }).expect("read");
        assert_eq!(part[..3], [4.0, 5.0, 6.0]);
        assert!(part[3] == 1004.0 && part[4].is_nan() && part[5] == 1006.0);
        assert!(Hgt::open("tile.hgt", side, Box::new(Cursor::new(Vec::new()))).is_err());
    }
}
