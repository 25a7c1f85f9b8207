//! Esri ASCII grids: a header (`ncols`, `nrows`, `xllcorner` or `xllcenter`, `yllcorner` or `yllcenter`, `cellsize`, `NODATA_value`), then
//! rows of heights from north to south.
//!
//! # Source
//! Format as described in the GDAL documentation, driver "AAIGrid" (from memory).

use super::crs::Crs;
use super::raster::{GridFault, HEIGHTS_M, Lattice, Unreadable, VALUES_AT_MOST, Window, fault};
use crate::site::Terrain;
use std::collections::BTreeMap;
use std::iter::Peekable;
use std::path::PathBuf;
use std::sync::Arc;

/// Names of the header.
const NAMES: [&str; 8] =
    ["ncols", "nrows", "xllcorner", "xllcenter", "yllcorner", "yllcenter", "cellsize", "nodata_value"];

/// Whether a file begins with a line of the header.
pub(super) fn begins_as_grid(start: &[u8]) -> bool {
    let start = start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(start).trim_ascii_start();
    let word = start.split(u8::is_ascii_whitespace).next().unwrap_or_default();
    NAMES.iter().any(|name| word.eq_ignore_ascii_case(name.as_bytes()))
}

struct Entry {
    value: f64,
    line: usize,
}

/// What stands before the rows.
struct Header {
    entries: BTreeMap<&'static str, Entry>,
    last_line: usize,
    /// Lines before the first height.
    lines: usize,
}

impl Header {
    /// Takes the lines of the header off the front.
    fn read<'a>(lines: &mut Peekable<impl Iterator<Item = (usize, &'a str)>>) -> Result<Header, GridFault> {
        let mut header = Header { entries: BTreeMap::new(), last_line: 0, lines: 0 };
        while let Some((index, text)) = lines.peek().copied() {
            let line = index + 1;
            let mut words = text.split_whitespace();
            if let Some(word) = words.next() {
                if !word.starts_with(|letter: char| letter.is_ascii_alphabetic()) || word.eq_ignore_ascii_case("nan") {
                    break;
                }
                header.last_line = line;
                let name = word.to_ascii_lowercase();
                let Some(known) = NAMES.into_iter().find(|known| *known == name) else {
                    let shown: String = word.chars().take(40).collect();
                    return fault(Some(line), format!("the header `{shown}`"), NAMES.join(", "));
                };
                match (words.next().and_then(|value| value.parse::<f64>().ok()), words.next()) {
                    (Some(value), None) if value.is_finite() => {
                        header.entries.insert(known, Entry { value, line });
                    }
                    _ => {
                        let shown: String = text.trim().chars().take(80).collect();
                        return fault(Some(line), format!("the line \"{shown}\""), format!("`{name}` and one number"));
                    }
                }
            }
            header.lines = line;
            lines.next();
        }
        Ok(header)
    }

    fn missing<T>(&self, found: String, accepted: &str) -> Result<T, GridFault> {
        fault(Some(self.last_line.max(1)), found, accepted)
    }

    fn line_of(&self, name: &str) -> Option<usize> {
        self.entries.get(name).map(|entry| entry.line)
    }

    /// A value that must be there and as `accepted` says.
    fn value(&self, name: &str, good: impl Fn(f64) -> bool, accepted: &str) -> Result<f64, GridFault> {
        match self.entries.get(name) {
            Some(entry) if good(entry.value) => Ok(entry.value),
            Some(Entry { value, line }) => fault(Some(*line), format!("`{name}` of {value}"), accepted),
            None => self.missing(format!("no `{name}`"), "it in the header"),
        }
    }

    fn count(&self, name: &str) -> Result<usize, GridFault> {
        let good = |value: f64| value >= 2.0 && value.fract() == 0.0 && value <= 1e6;
        Ok(self.value(name, good, "a whole number, 2 to 1000000")? as usize)
    }

    /// Centre of the first cell, told by its outer corner or by itself.
    fn centre(&self, names: [&str; 2], cell: f64) -> Result<f64, GridFault> {
        match (self.entries.get(names[0]), self.entries.get(names[1])) {
            (Some(edge), None) => Ok(edge.value + 0.5 * cell),
            (None, Some(centre)) => Ok(centre.value),
            (Some(_), Some(centre)) => {
                fault(Some(centre.line), format!("both `{}` and `{}`", names[0], names[1]), "one of the two")
            }
            (None, None) => self.missing(format!("neither `{}` nor `{}`", names[0], names[1]), "one of the two"),
        }
    }
}

/// With coordinates like those of the Earth a spacing below the first is one in degrees (36 arc seconds are a kilometre, and no grid of
/// metres is so fine), one up to the second may be either: some 5 cm on axes of their own, or kilometres.
const DEGREES_BELOW: [f64; 2] = [0.01, 0.1];

/// A grid whose header is read; its heights are read when it is known which of them count.
pub(super) struct AsciiGrid {
    text: Arc<str>,
    header: Header,
    columns: usize,
    rows: usize,
    cell: f64,
    west: f64,
    south: f64,
    pub(super) crs: Crs,
}

impl AsciiGrid {
    /// Reads the header. `stated`: what the coordinates are, where somebody says so; else it is told from their size.
    pub(super) fn open(text: String, stated: Option<&Crs>) -> Result<AsciiGrid, Unreadable> {
        let text: Arc<str> = text.into();
        match AsciiGrid::of(&text, stated) {
            Ok(grid) => Ok(AsciiGrid { text, ..grid }),
            Err(fault) => Err(Unreadable { fault, text: Some(text) }),
        }
    }

    fn of(text: &str, stated: Option<&Crs>) -> Result<AsciiGrid, GridFault> {
        let header = Header::read(&mut text.lines().enumerate().peekable())?;
        let (columns, rows) = (header.count("ncols")?, header.count("nrows")?);
        let cell = header.value("cellsize", |value| value > 0.0, "a spacing above 0")?;
        let west = header.centre(["xllcorner", "xllcenter"], cell)?;
        let south = header.centre(["yllcorner", "yllcenter"], cell)?;
        // A value takes two characters at least: what is claimed is there.
        if columns.saturating_mul(rows) > text.len() {
            let (line, accepted) = (header.line_of("ncols"), format!("a file that holds {columns} × {rows} values"));
            return fault(line, format!("{columns} × {rows} points in a file of {} bytes", text.len()), accepted);
        }
        let grid = AsciiGrid { text: "".into(), header, columns, rows, cell, west, south, crs: Crs::Site };
        let crs = grid.crs_of(stated)?;
        Ok(AsciiGrid { crs, ..grid })
    }

    /// What the coordinates are.
    fn crs_of(&self, stated: Option<&Crs>) -> Result<Crs, GridFault> {
        let [east, north] =
            [self.west + self.cell * (self.columns - 1) as f64, self.south + self.cell * (self.rows - 1) as f64];
        let on_earth =
            [self.west, east].iter().all(|x| x.abs() <= 360.5) && [self.south, north].iter().all(|y| y.abs() <= 90.5);
        let line = self.header.line_of("cellsize");
        if let Some(crs) = stated {
            if crs.is_in_degrees() && !on_earth {
                let accepted = "degrees, or the `terrain_epsg` of the grid's own coordinates";
                return fault(line, "coordinates that are no degrees", accepted);
            }
            return Ok(crs.clone());
        }
        if !on_earth || self.cell >= DEGREES_BELOW[1] {
            return Ok(Crs::Site);
        }
        if self.cell >= DEGREES_BELOW[0] {
            let found = format!("a spacing of {}, which may be metres or degrees", self.cell);
            let accepted =
                "`terrain_epsg = 4326` in `[site]` for degrees; for metres coordinates that cannot be degrees";
            return fault(line, found, accepted);
        }
        Ok(Crs::Degrees)
    }

    pub(super) fn lattice(&self) -> Option<Lattice> {
        let north = self.south + self.cell * (self.rows - 1) as f64;
        let (along, down) = ([self.cell, 0.0], [0.0, -self.cell]);
        let lattice = Lattice::new(self.columns, self.rows, [self.west, north], along, down)?;
        Some(if self.crs.is_in_degrees() { lattice.in_parts_of_a_degree() } else { lattice })
    }

    pub(super) fn text(&self) -> &Arc<str> {
        &self.text
    }

    /// The heights of a window, row by row from the north; NaN where there are none. Rows may be broken anywhere: the values are one long
    /// list, and all of it must be heights.
    pub(super) fn read(&self, window: &Window) -> Result<Vec<f32>, GridFault> {
        let (columns, rows) = (self.columns, self.rows);
        let nodata = self.header.entries.get("nodata_value").map_or(-9999.0, |entry| entry.value);
        let mut values: Vec<f32> = Vec::with_capacity(window.count());
        let (mut column, mut row, mut end_line) = (0, 0, self.header.last_line);
        for (index, line) in self.text.lines().enumerate().skip(self.header.lines) {
            for word in line.split_ascii_whitespace() {
                end_line = index + 1;
                if row == rows {
                    let accepted = format!("{columns} × {rows} values");
                    return fault(Some(end_line), "more values than the header says", accepted);
                }
                let value = match word.parse::<f64>() {
                    Ok(value) if value == nodata || value.is_nan() => f32::NAN,
                    Ok(value) if HEIGHTS_M.contains(&value) => value as f32,
                    _ => {
                        let shown: String = word.chars().take(40).collect();
                        return fault(
                            Some(end_line),
                            format!("the value \"{shown}\""),
                            "a height in metres, -12000 to 9000",
                        );
                    }
                };
                if window.rows.contains(&row) && window.columns.contains(&column) {
                    values.push(value);
                }
                column += 1;
                if column == columns {
                    (column, row) = (0, row + 1);
                }
            }
        }
        if row < rows {
            let accepted = format!("{columns} × {rows} = {} values", columns * rows);
            let found = format!("the end after {} values", row * columns + column);
            return fault(Some(end_line.max(1)), found, accepted);
        }
        Ok(values)
    }

    /// The grid as it stands, its coordinates being metres; NaN where there is no height.
    pub(super) fn terrain(&self) -> Result<Terrain, GridFault> {
        let (columns, rows) = (self.columns, self.rows);
        if columns * rows > VALUES_AT_MOST {
            let line = self.header.line_of("ncols");
            return fault(line, format!("{columns} × {rows} points"), format!("at most {VALUES_AT_MOST}"));
        }
        let values = self.read(&Window { columns: 0..columns, rows: 0..rows })?;
        if values.iter().all(|value| value.is_nan()) {
            let last = self.text.lines().count();
            return fault(Some(last.max(1)), "no point with a height", "at least one");
        }
        let mut height_m: Vec<f32> = Vec::with_capacity(values.len());
        for row in values.chunks_exact(columns).rev() {
            height_m.extend_from_slice(row);
        }
        let (west_m, south_m, cell_m) = (self.west, self.south, self.cell);
        let height_m = height_m.into();
        Ok(Terrain { file: PathBuf::new(), west_m, south_m, cell_m, columns, rows, height_m })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "ncols 3\nnrows 2\nxllcorner 1000\nyllcorner 2000\ncellsize 10\nNODATA_value -1\n";

    fn read(text: &str) -> Result<Terrain, GridFault> {
        AsciiGrid::open(text.into(), None).map_err(|why| why.fault)?.terrain()
    }

    #[test]
    fn rows_run_from_north_to_south_in_the_file_and_from_the_south_here() {
        let terrain = read(&format!("{HEADER}1 2 3\n4 5 6\n")).expect("a good grid");
        assert_eq!((terrain.columns, terrain.rows, terrain.cell_m), (3, 2, 10.0));
        // Corner at (1000, 2000): the centre of the south-west cell lies 5 m further in.
        assert_eq!((terrain.west_m, terrain.south_m), (1005.0, 2005.0));
        assert_eq!(*terrain.height_m, [4.0, 5.0, 6.0, 1.0, 2.0, 3.0]);
        assert_eq!(terrain.ground_m(1005.0, 2005.0), 4.0);
        assert_eq!(terrain.ground_m(1025.0, 2015.0), 3.0);
        assert_eq!(terrain.ground_m(1010.0, 2010.0), 3.0);
        assert_eq!(terrain.ground_m(0.0, 0.0), 4.0);
        let centred = read("NCOLS 2\nNROWS 2\nXLLCENTER 7\nYLLCENTER 8\nCELLSIZE 1\n1 2 3\n4\n").expect("good");
        assert_eq!((centred.west_m, centred.south_m), (7.0, 8.0));
        assert_eq!(*centred.height_m, [3.0, 4.0, 1.0, 2.0]);
    }

    #[test]
    fn gaps_take_their_neighbours_height() {
        let mut terrain = read(&format!("{HEADER}-1 2 -1\n4 -1 nan\n")).expect("a good grid");
        assert_eq!(terrain.fill_gaps(), [1, 2, 3, 5]);
        // South row 4 a b, north row c 2 d: a = (4 + 2 + b)/3, b = (a + d)/2, c = (4 + 2)/2, d = (2 + b)/2.
        let settled = [4.0, 20.0 / 7.0, 18.0 / 7.0, 3.0, 2.0, 16.0 / 7.0];
        for (height, want) in terrain.height_m.iter().zip(settled) {
            assert!((height - want).abs() < 0.05, "{:?}", terrain.height_m);
        }
    }

    /// Metres or degrees by the size of the numbers; what may be both is asked about.
    #[test]
    fn coordinates_tell_what_they_are() {
        let of = |cell: &str, west: &str, stated: Option<&Crs>| {
            let text = format!("ncols 3\nnrows 2\nxllcorner {west}\nyllcorner 45\ncellsize {cell}\n1 2 3\n4 5 6\n");
            AsciiGrid::open(text, stated).map(|grid| grid.crs).map_err(|why| (why.fault.line, why.fault.found))
        };
        assert_eq!(of("0.000833", "7", None), Ok(Crs::Degrees));
        assert_eq!(of("0.5", "7", None), Ok(Crs::Site));
        assert_eq!(of("0.05", "700", None), Ok(Crs::Site));
        assert_eq!(of("0.05", "7", None), Err((Some(5), "a spacing of 0.05, which may be metres or degrees".into())));
        assert_eq!(of("0.05", "7", Some(&Crs::Degrees)), Ok(Crs::Degrees));
        assert_eq!(of("0.05", "700", Some(&Crs::Degrees)).expect_err("too far east").0, Some(5));
    }

    #[test]
    fn faults_name_their_line() {
        let fault_of = |text: &str| {
            let fault = read(text).expect_err("a bad grid");
            (fault.line, fault.found)
        };
        assert_eq!(fault_of(""), (Some(1), "no `ncols`".into()));
        assert_eq!(fault_of("ncols 3\nrows 2\n"), (Some(2), "the header `rows`".into()));
        assert_eq!(fault_of("ncols 3\nnrows x\n"), (Some(2), "the line \"nrows x\"".into()));
        assert_eq!(fault_of(&format!("{HEADER}1 2 3\n4 five 6\n")), (Some(8), "the value \"five\"".into()));
        assert_eq!(fault_of(&format!("{HEADER}1 2 3\n4 5\n")), (Some(8), "the end after 5 values".into()));
        assert_eq!(fault_of(&format!("{HEADER}1 2 3\n4 5 6 7\n")).0, Some(8));
        assert_eq!(fault_of(&format!("{HEADER}-1 -1 -1\n-1 -1 -1\n")).1, "no point with a height");
        assert_eq!(fault_of("ncols 1e6\nnrows 1e6\nxllcorner 0\nyllcorner 0\ncellsize 1\n").0, Some(1));
    }
}
