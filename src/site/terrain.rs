//! Ground heights on a regular grid.

use std::collections::BTreeMap;
use std::iter::Peekable;
use std::path::PathBuf;

/// Ground heights on a regular grid of local metres, row by row from the south.
#[derive(Debug, Clone, PartialEq)]
pub struct Terrain {
    /// File it came from.
    pub file: PathBuf,
    /// x of the first column's centre.
    pub west_m: f64,
    /// y of the southernmost row's centre.
    pub south_m: f64,
    /// Spacing.
    pub cell_m: f64,
    /// Columns.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// z of the ground, row by row from the south, west to east.
    pub height_m: Vec<f32>,
    /// Points of the file without a height: theirs is the mean of their neighbours'.
    pub filled: usize,
}

impl Terrain {
    /// Raises every known height by what `by_m` gives for its place.
    pub fn raise(&mut self, by_m: impl Fn(f64, f64) -> f64) {
        let (columns, cell_m) = (self.columns, self.cell_m);
        for (index, height_m) in self.height_m.iter_mut().enumerate() {
            let (column, row) = (index % columns, index / columns);
            let [x, y] = [self.west_m + column as f64 * cell_m, self.south_m + row as f64 * cell_m];
            *height_m = (f64::from(*height_m) + by_m(x, y)) as f32;
        }
    }

    /// z of the ground: bilinear between the grid's points, constant beyond its edge.
    pub fn ground_m(&self, x_m: f64, y_m: f64) -> f64 {
        let (column, tx) = cell_of((x_m - self.west_m) / self.cell_m, self.columns);
        let (row, ty) = cell_of((y_m - self.south_m) / self.cell_m, self.rows);
        let east = if self.columns > 1 { 1 } else { 0 };
        let north = if self.rows > 1 { self.columns } else { 0 };
        let at = row * self.columns + column;
        let low = self.at(at) + tx * (self.at(at + east) - self.at(at));
        let high = self.at(at + north) + tx * (self.at(at + north + east) - self.at(at + north));
        low + ty * (high - low)
    }

    /// Steepness of the ground, from the bilinear surface over one grid spacing.
    pub fn slope_rad(&self, x_m: f64, y_m: f64) -> f64 {
        let half = 0.5 * self.cell_m;
        let east = (self.ground_m(x_m + half, y_m) - self.ground_m(x_m - half, y_m)) / self.cell_m;
        let north = (self.ground_m(x_m, y_m + half) - self.ground_m(x_m, y_m - half)) / self.cell_m;
        libm::atan((east * east + north * north).sqrt())
    }

    /// West, south, east and north edge of the outermost points.
    pub fn bounds_m(&self) -> [f64; 4] {
        [
            self.west_m,
            self.south_m,
            self.west_m + self.cell_m * (self.columns - 1) as f64,
            self.south_m + self.cell_m * (self.rows - 1) as f64,
        ]
    }

    #[inline]
    fn at(&self, index: usize) -> f64 {
        f64::from(self.height_m[index])
    }
}

/// Lower grid point and share of the way to the next, clamped to the grid.
#[inline]
fn cell_of(place: f64, count: usize) -> (usize, f64) {
    if count < 2 || place.is_nan() || place <= 0.0 {
        return (0, 0.0);
    }
    let last = count - 2;
    let index = (place as usize).min(last);
    (index, (place - index as f64).min(1.0))
}

/// Why a grid file cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{found}; accepted: {accepted}")]
pub struct GridFault {
    /// Line, counted from 1.
    pub line: Option<usize>,
    /// What was found.
    pub found: String,
    /// What would be accepted.
    pub accepted: String,
}

fn fault<T>(line: Option<usize>, found: impl Into<String>, accepted: impl Into<String>) -> Result<T, GridFault> {
    Err(GridFault { line, found: found.into(), accepted: accepted.into() })
}

/// Most values a grid may have.
const VALUES_AT_MOST: usize = 36_000_000;

/// Names of the header.
const NAMES: [&str; 8] =
    ["ncols", "nrows", "xllcorner", "xllcenter", "yllcorner", "yllcenter", "cellsize", "nodata_value"];

struct Entry {
    value: f64,
    line: usize,
}

/// What stands before the rows.
struct Header {
    entries: BTreeMap<&'static str, Entry>,
    last_line: usize,
}

impl Header {
    /// Takes the lines of the header off the front.
    fn read<'a>(lines: &mut Peekable<impl Iterator<Item = (usize, &'a str)>>) -> Result<Header, GridFault> {
        let mut header = Header { entries: BTreeMap::new(), last_line: 0 };
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
                    return fault(Some(line), format!("the header `{word}`"), NAMES.join(", "));
                };
                match (words.next().and_then(|value| value.parse::<f64>().ok()), words.next()) {
                    (Some(value), None) if value.is_finite() => {
                        header.entries.insert(known, Entry { value, line });
                    }
                    _ => {
                        let found = format!("the line \"{}\"", text.trim());
                        return fault(Some(line), found, format!("`{name}` and one number"));
                    }
                }
            }
            lines.next();
        }
        Ok(header)
    }

    fn missing<T>(&self, found: String, accepted: &str) -> Result<T, GridFault> {
        fault(Some(self.last_line.max(1)), found, accepted)
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
    fn centre_m(&self, names: [&str; 2], cell_m: f64) -> Result<f64, GridFault> {
        match (self.entries.get(names[0]), self.entries.get(names[1])) {
            (Some(edge), None) => Ok(edge.value + 0.5 * cell_m),
            (None, Some(centre)) => Ok(centre.value),
            (Some(_), Some(centre)) => {
                fault(Some(centre.line), format!("both `{}` and `{}`", names[0], names[1]), "one of the two")
            }
            (None, None) => self.missing(format!("neither `{}` nor `{}`", names[0], names[1]), "one of the two"),
        }
    }
}

/// A spacing below this with coordinates like those of the Earth is one in degrees: 0.01 degrees are 36 arc seconds, about a kilometre,
/// and no grid of metres is so fine.
const DEGREES_BELOW: f64 = 0.01;

/// Reads an Esri ASCII grid: a header (`ncols`, `nrows`, `xllcorner` or `xllcenter`, `yllcorner` or `yllcenter`,
/// `cellsize`, `NODATA_value`), then the rows from north to south. Heights and coordinates are metres as in the file.
///
/// Points without data take the height of the nearest points that have one.
///
/// # Errors
/// The first fault, with its line.
///
/// # Source
/// Format as described in the GDAL documentation, driver "AAIGrid" (from memory).
pub fn parse_ascii_grid(text: &str) -> Result<Terrain, GridFault> {
    let mut lines = text.lines().enumerate().peekable();
    let header = Header::read(&mut lines)?;
    let (columns, rows) = (header.count("ncols")?, header.count("nrows")?);
    let cell_m = header.value("cellsize", |value| value > 0.0, "metres above 0")?;
    let west_m = header.centre_m(["xllcorner", "xllcenter"], cell_m)?;
    let south_m = header.centre_m(["yllcorner", "yllcenter"], cell_m)?;
    let [east_m, north_m] = [west_m + cell_m * (columns - 1) as f64, south_m + cell_m * (rows - 1) as f64];
    if cell_m < DEGREES_BELOW
        && [west_m, east_m].iter().all(|x| x.abs() <= 360.0)
        && [south_m, north_m].iter().all(|y| y.abs() <= 90.0)
    {
        let line = header.entries.get("cellsize").map(|entry| entry.line);
        let accepted = "a grid projected to metres, with its spacing in metres";
        return fault(line, format!("a spacing of {cell_m}: this grid seems to be in degrees"), accepted);
    }
    if columns.saturating_mul(rows) > VALUES_AT_MOST {
        let line = header.entries.get("ncols").map(|entry| entry.line);
        return fault(line, format!("{columns} × {rows} points"), format!("at most {VALUES_AT_MOST}"));
    }
    let values = read_values(lines, &header, columns, rows)?;
    let mut height_m: Vec<f32> = Vec::with_capacity(values.len());
    for row in (0..rows).rev() {
        height_m.extend_from_slice(&values[row * columns..(row + 1) * columns]);
    }
    let filled = height_m.iter().filter(|height| height.is_nan()).count();
    fill_gaps(&mut height_m, columns, rows);
    Ok(Terrain { file: PathBuf::new(), west_m, south_m, cell_m, columns, rows, height_m, filled })
}

/// The heights in the order of the file, NaN where there are none. Rows may be broken anywhere: the values are one long list.
fn read_values<'a>(
    lines: impl Iterator<Item = (usize, &'a str)>,
    header: &Header,
    columns: usize,
    rows: usize,
) -> Result<Vec<f32>, GridFault> {
    let nodata = header.entries.get("nodata_value").map_or(-9999.0, |entry| entry.value);
    let mut values: Vec<f32> = Vec::new();
    let mut end_line = header.last_line;
    for (index, line) in lines {
        for word in line.split_whitespace() {
            end_line = index + 1;
            if values.len() == columns * rows {
                let accepted = format!("{columns} × {rows} values");
                return fault(Some(end_line), "more values than the header says", accepted);
            }
            values.push(match word.parse::<f64>() {
                Ok(value) if value == nodata || value.is_nan() => f32::NAN,
                Ok(value) if (-12_000.0..=9000.0).contains(&value) => value as f32,
                _ => {
                    let accepted = "a height in metres, -12000 to 9000";
                    return fault(Some(end_line), format!("the value \"{word}\""), accepted);
                }
            });
        }
    }
    if values.len() < columns * rows {
        let accepted = format!("{columns} × {rows} = {} values", columns * rows);
        return fault(Some(end_line.max(1)), format!("the end after {} values", values.len()), accepted);
    }
    if values.iter().all(|value| value.is_nan()) {
        return fault(Some(end_line), "no point with a height", "at least one");
    }
    Ok(values)
}

/// Gives points without a height the mean of their neighbours that have one, ring by ring from the edge of the gap.
fn fill_gaps(height_m: &mut [f32], columns: usize, rows: usize) {
    let around = |at: usize| {
        let (column, row) = (at % columns, at / columns);
        [
            (column > 0).then(|| at - 1),
            (column + 1 < columns).then(|| at + 1),
            (row > 0).then(|| at - columns),
            (row + 1 < rows).then(|| at + columns),
        ]
        .into_iter()
        .flatten()
    };
    let mut edge: Vec<usize> = (0..height_m.len())
        .filter(|at| height_m[*at].is_nan() && around(*at).any(|near| !height_m[near].is_nan()))
        .collect();
    while !edge.is_empty() {
        let means: Vec<f32> = edge
            .iter()
            .map(|at| {
                let (mut sum, mut count) = (0.0, 0.0);
                for near in around(*at) {
                    if !height_m[near].is_nan() {
                        sum += height_m[near];
                        count += 1.0;
                    }
                }
                sum / count
            })
            .collect();
        for (at, mean) in edge.iter().zip(means) {
            height_m[*at] = mean;
        }
        let mut next: Vec<usize> =
            edge.iter().flat_map(|at| around(*at)).filter(|near| height_m[*near].is_nan()).collect();
        next.sort_unstable();
        next.dedup();
        edge = next;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "ncols 3\nnrows 2\nxllcorner 1000\nyllcorner 2000\ncellsize 10\nNODATA_value -1\n";

    #[test]
    fn rows_run_from_north_to_south_in_the_file_and_from_the_south_here() {
        let terrain = parse_ascii_grid(&format!("{HEADER}1 2 3\n4 5 6\n")).expect("a good grid");
        assert_eq!((terrain.columns, terrain.rows, terrain.cell_m), (3, 2, 10.0));
        // Corner at (1000, 2000): the centre of the south-west cell lies 5 m further in.
        assert_eq!((terrain.west_m, terrain.south_m), (1005.0, 2005.0));
        assert_eq!(terrain.height_m, [4.0, 5.0, 6.0, 1.0, 2.0, 3.0]);
        assert_eq!(terrain.ground_m(1005.0, 2005.0), 4.0);
        assert_eq!(terrain.ground_m(1025.0, 2015.0), 3.0);
        assert_eq!(terrain.ground_m(1010.0, 2010.0), 3.0);
        assert_eq!(terrain.ground_m(0.0, 0.0), 4.0);
        let centred =
            parse_ascii_grid("NCOLS 2\nNROWS 2\nXLLCENTER 7\nYLLCENTER 8\nCELLSIZE 1\n1 2 3\n4\n").expect("good");
        assert_eq!((centred.west_m, centred.south_m), (7.0, 8.0));
        assert_eq!(centred.height_m, [3.0, 4.0, 1.0, 2.0]);
    }

    #[test]
    fn gaps_take_their_neighbours_height() {
        let terrain = parse_ascii_grid(&format!("{HEADER}-1 2 -1\n4 -1 nan\n")).expect("a good grid");
        // South row 4 ? ?, north row ? 2 ?: first ring: (4+2)/2 twice and 2; then their mean.
        assert_eq!(terrain.height_m, [4.0, 3.0, 2.5, 3.0, 2.0, 2.0]);
    }

    #[test]
    fn faults_name_their_line() {
        let fault_of = |text: &str| {
            let fault = parse_ascii_grid(text).expect_err("a bad grid");
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
