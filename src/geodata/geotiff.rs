//! GeoTIFF rasters: samples by the crate `tiff`, their place and meaning by the keys of the format.

use super::crs::Crs;
use super::raster::{Bytes, GridFault, HEIGHTS_M, Lattice, Vertical, Window, fault};
use std::io::{BufReader, SeekFrom};
use tiff::decoder::{ChunkType, Decoder, DecodingResult, Limits};
use tiff::tags::{SampleFormat, Tag};

/// Tags that are not of plain TIFF.
///
/// # Source
/// OGC 19-008r4, GeoTIFF 1.1, and GDAL's documentation of its driver (from memory).
const GEO_KEYS: Tag = Tag::Unknown(34735);
const PIXEL_SCALE: Tag = Tag::Unknown(33550);
const TIE_POINTS: Tag = Tag::Unknown(33922);
const TRANSFORMATION: Tag = Tag::Unknown(34264);
const GDAL_METADATA: Tag = Tag::Unknown(42112);
const GDAL_NODATA: Tag = Tag::Unknown(42113);

/// Most bytes that one tag may have, and that one strip or tile may unpack to.
const TAG_AT_MOST_BYTES: usize = 16 << 20;
const CHUNK_AT_MOST_BYTES: u64 = 256 << 20;

/// Most strips or tiles that are read of a file: a row each of a very large one.
const CHUNKS_AT_MOST: usize = 200_000;

/// Neither deflate (1032 : 1) nor LZW (some 1340 : 1 for codes of 12 bits) packs closer than this; what is not packed takes its room.
const PACKED_AT_MOST: u64 = 1400;

/// The value of the tag of what is not packed.
const NOT_PACKED: u16 = 1;

const READABLE: &str = "a GeoTIFF of one band of heights, plain or packed by deflate or LZW, placed by an EPSG code";

/// A raster whose directory is read.
pub(super) struct GeoTiff {
    decoder: Decoder<BufReader<Box<dyn Bytes>>>,
    pub(super) lattice: Lattice,
    pub(super) crs: Crs,
    pub(super) vertical: Vertical,
    /// A height in metres is this times a sample …
    scale: f64,
    /// … and this.
    offset_m: f64,
    nodata: Option<f64>,
    /// Packed bytes of every strip or tile, and where they begin.
    packed: Vec<u64>,
    starts: Vec<u64>,
    chunk: [usize; 2],
    tiled: bool,
    /// So much closer may it be packed.
    packed_at_most: u64,
    length_bytes: u64,
    sample_bytes: u64,
}

/// Whether a file begins as a TIFF.
pub(super) fn begins_as_tiff(start: &[u8]) -> bool {
    [b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"].iter().any(|mark| start.starts_with(*mark))
}

fn unreadable(cause: &tiff::TiffError) -> GridFault {
    GridFault { line: None, found: format!("a TIFF that cannot be read: {cause}"), accepted: READABLE.into() }
}

/// The keys that say what coordinates and heights are.
struct GeoKeys(Vec<[u16; 4]>);

impl GeoKeys {
    /// The value of a key that stands in the key itself; 0 says nothing, [`USER_DEFINED`] that it stands elsewhere.
    fn code(&self, key: u16) -> Option<u32> {
        let entry = self.0.iter().find(|entry| entry[0] == key && entry[1] == 0)?;
        (entry[3] != 0).then_some(u32::from(entry[3]))
    }
}

/// The value of a key that somebody defined himself.
const USER_DEFINED: u32 = 32767;

/// Metres of a unit of length, by its EPSG code.
fn metres_of(unit: u32) -> Option<f64> {
    match unit {
        9001 => Some(1.0),
        9002 => Some(0.3048),
        9003 => Some(1200.0 / 3937.0),
        _ => None,
    }
}

/// A vertical system.
struct VerticalSystem {
    /// What it counts from.
    from: Vertical,
    /// Metres of its unit.
    unit_m: f64,
}

/// Vertical systems of the EPSG registry that count downwards.
const DEPTHS: [u32; 51] = [
    5336, 5612, 5614, 5706, 5715, 5734, 5739, 5789, 5831, 5861, 5862, 5863, 5864, 5865, 5866, 5867, 5873, 6357, 6358,
    6359, 7976, 8051, 8053, 8358, 8378, 8897, 9287, 9288, 9672, 10150, 10151, 10349, 10364, 10370, 10371, 10372, 10373,
    10374, 10375, 10376, 10377, 10378, 10379, 10547, 10548, 10549, 10550, 10551, 10649, 10650, 10678,
];

/// Geographic systems whose third coordinate is the height above the ellipsoid.
const ABOVE_ELLIPSOID: [u32; 11] = [4937, 4979, 6319, 7657, 7659, 7661, 7663, 7665, 7816, 9754, 10605];

/// The vertical system of a code; `None` for one of depths.
///
/// # Source
/// Codes and units as PROJ 9 lists the EPSG registry; 5001 to 5033 are heights above an ellipsoid in GeoTIFF 1.0 (from memory).
fn vertical_of(code: u32) -> Option<VerticalSystem> {
    let unit_m = match code {
        5702 | 6360 | 8052 => 1200.0 / 3937.0,
        6130 | 6131 | 6132 | 8050 | 8228 => 0.3048,
        5754 => 0.304_800_749_1,
        _ => 1.0,
    };
    let ellipsoid = (5001..=5033).contains(&code) || ABOVE_ELLIPSOID.contains(&code);
    let from = if ellipsoid { Vertical::Ellipsoid } else { Vertical::SeaLevel };
    (!DEPTHS.contains(&code)).then_some(VerticalSystem { from, unit_m })
}

impl GeoTiff {
    /// Reads the directory of the first image; overviews, which follow it, are left alone. `stated`: the coordinate system, where somebody
    /// says what the file does not.
    pub(super) fn open(mut bytes: Box<dyn Bytes>, stated: Option<&Crs>) -> Result<GeoTiff, GridFault> {
        let length = bytes.seek(SeekFrom::End(0)).and_then(|length| bytes.seek(SeekFrom::Start(0)).map(|_| length));
        let Ok(length) = length else { return fault(None, "a file that cannot be read", READABLE) };
        let mut limits = Limits::default();
        limits.decoding_buffer_size = CHUNK_AT_MOST_BYTES as usize;
        limits.intermediate_buffer_size = CHUNK_AT_MOST_BYTES as usize;
        limits.ifd_value_size = TAG_AT_MOST_BYTES;
        let decoder = Decoder::new(BufReader::new(bytes)).map_err(|cause| unreadable(&cause))?.with_limits(limits);
        Directory { decoder }.read(length, stated)
    }

    /// The heights of a window, row by row from the first; NaN where there are none. Only strips and tiles under it are unpacked.
    pub(super) fn read(&mut self, window: &Window) -> Result<Vec<f32>, GridFault> {
        let wide = window.columns.len();
        let mut heights = vec![f32::NAN; window.count()];
        if heights.is_empty() {
            return Ok(heights);
        }
        let [chunk_wide, chunk_high] = self.chunk;
        let count = |range: &std::ops::Range<usize>, side: usize| (range.end - 1) / side - range.start / side + 1;
        let chunks = count(&window.columns, chunk_wide).saturating_mul(count(&window.rows, chunk_high));
        if chunks > CHUNKS_AT_MOST {
            let found = format!("{chunks} strips or tiles over the site, of {chunk_wide} × {chunk_high} samples");
            return fault(None, found, format!("at most {CHUNKS_AT_MOST}: larger ones"));
        }
        let across = self.lattice.columns.div_ceil(chunk_wide);
        for chunk_row in window.rows.start / chunk_high..=(window.rows.end - 1) / chunk_high {
            for chunk_column in window.columns.start / chunk_wide..=(window.columns.end - 1) / chunk_wide {
                let Some(samples) = self.unpack(chunk_row * across + chunk_column)? else { continue };
                let (left, top) = (chunk_column * chunk_wide, chunk_row * chunk_high);
                let (right, bottom) =
                    ((left + chunk_wide).min(self.lattice.columns), (top + chunk_high).min(self.lattice.rows));
                for row in window.rows.start.max(top)..window.rows.end.min(bottom) {
                    let columns = window.columns.start.max(left)..window.columns.end.min(right);
                    let from = (row - top) * (right - left) + (columns.start - left);
                    let to = (row - window.rows.start) * wide + (columns.start - window.columns.start);
                    for index in 0..columns.len() {
                        heights[to + index] = self.height_m(samples.get(from + index));
                    }
                }
            }
        }
        Ok(heights)
    }

    fn height_m(&self, sample: f64) -> f32 {
        // What a library writes as text for a float of 32 bits may have lost its last digits.
        let none = self.nodata.is_some_and(|none| sample == none || sample as f32 == none as f32);
        let height_m = sample * self.scale + self.offset_m;
        if none || !HEIGHTS_M.contains(&height_m) || (self.nodata.is_none() && sample == -9999.0) {
            f32::NAN
        } else {
            height_m as f32
        }
    }

    /// The samples of a strip or tile; `None` for one that a sparse file leaves out.
    fn unpack(&mut self, chunk: usize) -> Result<Option<Samples>, GridFault> {
        let what = if self.tiled { "tile" } else { "strip" };
        let (Some(&packed), Some(&start)) = (self.packed.get(chunk), self.starts.get(chunk)) else {
            return fault(None, format!("no {what} {} in the file", chunk + 1), "a whole GeoTIFF");
        };
        if packed == 0 {
            return Ok(None);
        }
        if start.checked_add(packed).is_none_or(|end| end > self.length_bytes) {
            let found = format!("{what} {} beyond the end of the file of {} bytes", chunk + 1, self.length_bytes);
            return fault(None, found, "a whole GeoTIFF: the file is cut short");
        }
        // Those at the edges hold less than the others.
        let across = self.lattice.columns.div_ceil(self.chunk[0]);
        let [wide, high] = [
            self.chunk[0].min(self.lattice.columns - chunk % across * self.chunk[0]),
            self.chunk[1].min(self.lattice.rows.saturating_sub(chunk / across * self.chunk[1])),
        ];
        let unpacked = self.sample_bytes.saturating_mul(wide as u64).saturating_mul(high as u64);
        if unpacked > packed.saturating_mul(self.packed_at_most) || unpacked > CHUNK_AT_MOST_BYTES {
            let found = format!("a {what} of {packed} bytes that claims to unpack to {unpacked}");
            return fault(None, found, format!("tiles or strips of at most {} MB", CHUNK_AT_MOST_BYTES >> 20));
        }
        let read = self.decoder.read_chunk(chunk as u32).map_err(|cause| unreadable(&cause))?;
        Ok(Some(Samples(read)))
    }
}

/// Samples of any kind.
struct Samples(DecodingResult);

impl Samples {
    fn get(&self, index: usize) -> f64 {
        let of = |sample: Option<f64>| sample.unwrap_or(f64::NAN);
        match &self.0 {
            DecodingResult::U8(list) => of(list.get(index).map(|&sample| sample.into())),
            DecodingResult::U16(list) => of(list.get(index).map(|&sample| sample.into())),
            DecodingResult::U32(list) => of(list.get(index).map(|&sample| sample.into())),
            DecodingResult::U64(list) => of(list.get(index).map(|&sample| sample as f64)),
            DecodingResult::I8(list) => of(list.get(index).map(|&sample| sample.into())),
            DecodingResult::I16(list) => of(list.get(index).map(|&sample| sample.into())),
            DecodingResult::I32(list) => of(list.get(index).map(|&sample| sample.into())),
            DecodingResult::I64(list) => of(list.get(index).map(|&sample| sample as f64)),
            DecodingResult::F16(list) => of(list.get(index).map(|sample| sample.to_f64())),
            DecodingResult::F32(list) => of(list.get(index).map(|&sample| sample.into())),
            DecodingResult::F64(list) => of(list.get(index).copied()),
        }
    }
}

/// The directory of the first image while it is read.
struct Directory {
    decoder: Decoder<BufReader<Box<dyn Bytes>>>,
}

impl Directory {
    fn read(mut self, length_bytes: u64, stated: Option<&Crs>) -> Result<GeoTiff, GridFault> {
        let (columns, rows) = self.decoder.dimensions().map_err(|cause| unreadable(&cause))?;
        let [columns, rows] = [columns as usize, rows as usize];
        let sample_bytes = self.sample_bytes()?;
        let keys = self.geo_keys();
        let crs = crs_of(&keys, stated)?;
        let lattice = self.lattice(columns, rows, keys.code(1025) == Some(2))?;
        let lattice = if crs.is_in_degrees() { lattice.in_parts_of_a_degree() } else { lattice };
        let mut system = VerticalSystem { from: Vertical::Unsaid, unit_m: 1.0 };
        if let Some(code) = keys.code(4096).filter(|code| *code != USER_DEFINED) {
            let Some(stated) = vertical_of(code) else {
                return fault(None, format!("depths (EPSG:{code})"), "heights, counted upwards");
            };
            system = stated;
        }
        let VerticalSystem { from, mut unit_m } = system;
        let solid = keys.code(2048).is_some_and(|code| ABOVE_ELLIPSOID.contains(&code));
        let vertical = if solid && from == Vertical::Unsaid { Vertical::Ellipsoid } else { from };
        if let Some(code) = keys.code(4099).filter(|code| *code != USER_DEFINED) {
            let Some(metres) = metres_of(code) else {
                return fault(None, format!("heights in the unit EPSG:{code}"), "heights in metres or feet");
            };
            unit_m = metres;
        }
        let items = Items::of(&self.text(GDAL_METADATA).unwrap_or_default());
        if let Some(name) = items.get("unittype").filter(|name| !name.is_empty()) {
            unit_m = match name.to_ascii_lowercase().as_str() {
                "m" | "metre" | "metres" | "meter" | "meters" => 1.0,
                "ft" | "foot" | "feet" => 0.3048,
                "us-ft" | "ftus" | "us survey foot" | "us survey feet" | "sfoot" => 1200.0 / 3937.0,
                _ => {
                    let shown: String = name.chars().take(40).collect();
                    return fault(None, format!("heights in the unit \"{shown}\""), "heights in metres or feet");
                }
            };
        }
        let number = |role: &str, otherwise: f64| match items.get(role).map(|text| text.parse::<f64>()) {
            None => Ok(otherwise),
            Some(Ok(number)) if number.is_finite() => Ok(number),
            Some(_) => fault(None, format!("a band whose {role} is no number"), READABLE),
        };
        let (scale, offset) = (number("scale", 1.0)?, number("offset", 0.0)?);
        let nodata = self.text(GDAL_NODATA).and_then(|text| text.trim().parse::<f64>().ok());
        let tiled = self.decoder.get_chunk_type() == ChunkType::Tile;
        let [starts, packed] =
            if tiled { [Tag::TileOffsets, Tag::TileByteCounts] } else { [Tag::StripOffsets, Tag::StripByteCounts] };
        let mut list = |tag| self.decoder.get_tag_u64_vec(tag).map_err(|cause| unreadable(&cause));
        let (starts, packed) = (list(starts)?, list(packed)?);
        let packing = self.decoder.find_tag_unsigned::<u16>(Tag::Compression).ok().flatten().unwrap_or(NOT_PACKED);
        let packed_at_most = if packing == NOT_PACKED { 1 } else { PACKED_AT_MOST };
        let (chunk_wide, chunk_high) = self.decoder.chunk_dimensions();
        let chunk = [
            chunk_wide.max(1) as usize,
            (chunk_high.max(1) as usize).min(if tiled { usize::MAX } else { rows.max(1) }),
        ];
        Ok(GeoTiff {
            decoder: self.decoder,
            lattice,
            crs,
            vertical,
            scale: scale * unit_m,
            offset_m: offset * unit_m,
            nodata,
            packed,
            starts,
            chunk,
            tiled,
            packed_at_most,
            length_bytes,
            sample_bytes,
        })
    }

    /// Bytes of a sample; refuses what is no single band of numbers.
    fn sample_bytes(&mut self) -> Result<u64, GridFault> {
        let one = |decoder: &mut Decoder<_>, tag| decoder.find_tag_unsigned_vec::<u16>(tag).ok().flatten();
        let samples = one(&mut self.decoder, Tag::SamplesPerPixel).and_then(|list| list.first().copied()).unwrap_or(1);
        if samples != 1 {
            return fault(None, format!("an image of {samples} bands"), READABLE);
        }
        let photometric = one(&mut self.decoder, Tag::PhotometricInterpretation).and_then(|list| list.first().copied());
        if photometric.is_some_and(|kind| kind != 1) {
            return fault(None, "a picture of colours, not of heights", READABLE);
        }
        let turned = one(&mut self.decoder, Tag::Orientation).and_then(|list| list.first().copied()).unwrap_or(1);
        if turned != 1 {
            return fault(
                None,
                format!("rows in the order {turned} of TIFF's orientations"),
                "rows from north to south, each from west to east",
            );
        }
        let bits = one(&mut self.decoder, Tag::BitsPerSample).and_then(|list| list.first().copied()).unwrap_or(1);
        let format = one(&mut self.decoder, Tag::SampleFormat).and_then(|list| list.first().copied()).unwrap_or(1);
        let known = [SampleFormat::Uint, SampleFormat::Int, SampleFormat::IEEEFP];
        let good = matches!(bits, 8 | 16 | 32 | 64) && known.iter().any(|known| known.to_u16() == format);
        if !good {
            return fault(None, format!("samples of {bits} bits in the format {format}"), READABLE);
        }
        Ok(u64::from(bits) / 8)
    }

    fn text(&mut self, tag: Tag) -> Option<String> {
        let text = self.decoder.get_tag_ascii_string(tag).ok()?;
        Some(text.trim_matches('\0').to_string())
    }

    fn numbers(&mut self, tag: Tag) -> Option<Vec<f64>> {
        self.decoder.get_tag_f64_vec(tag).ok()
    }

    fn geo_keys(&mut self) -> GeoKeys {
        let list = self.decoder.get_tag_u16_vec(GEO_KEYS).unwrap_or_default();
        GeoKeys(list.chunks_exact(4).skip(1).map(|entry| [entry[0], entry[1], entry[2], entry[3]]).collect())
    }

    /// Where the samples lie. Columns and rows of the file's own numbers are counted from the first sample's centre where a pixel is a
    /// point, else from its outer corner.
    fn lattice(&mut self, columns: usize, rows: usize, point: bool) -> Result<Lattice, GridFault> {
        let half = if point { 0.0 } else { 0.5 };
        let (origin, along, down) = if let Some(m) = self.numbers(TRANSFORMATION).filter(|m| m.len() == 16) {
            ([m[3], m[7]], [m[0], m[4]], [m[1], m[5]])
        } else {
            let (scale, tie) = (self.numbers(PIXEL_SCALE), self.numbers(TIE_POINTS));
            let (Some([x, y, ..]), Some([i, j, _, tie_x, tie_y, ..])) = (scale.as_deref(), tie.as_deref()) else {
                return fault(None, "a TIFF that does not say where it lies", READABLE);
            };
            ([tie_x - i * x, tie_y + j * y], [*x, 0.0], [0.0, -y])
        };
        let first = [0, 1].map(|axis| origin[axis] + half * (along[axis] + down[axis]));
        match Lattice::new(columns, rows, first, along, down) {
            Some(lattice) => Ok(lattice),
            None => fault(None, "samples that span no plane", READABLE),
        }
    }
}

/// The coordinate system of the keys.
fn crs_of(keys: &GeoKeys, stated: Option<&Crs>) -> Result<Crs, GridFault> {
    const REMEDY: &str = "a file in a system with an EPSG code, best in longitude and latitude (4326) or UTM, or its code as `terrain_epsg` in `[site]`";
    let code = match keys.code(1024) {
        Some(1) => keys.code(3072),
        Some(2) => keys.code(2048),
        _ => None,
    };
    let found = match code {
        None => "a TIFF that does not say what its coordinates are".to_string(),
        Some(USER_DEFINED) => "a coordinate system of its own (EPSG:32767, user-defined)".to_string(),
        Some(code) => match Crs::from_epsg(code) {
            Ok(crs) => return Ok(crs),
            Err(found) => found,
        },
    };
    stated.map_or_else(|| fault(None, found, REMEDY), |crs| Ok(crs.clone()))
}

/// Items of the first band that GDAL adds as XML: its scale, its offset, the name of its unit.
struct Items(Vec<(String, String)>);

impl Items {
    fn of(xml: &str) -> Items {
        use quick_xml::events::Event;
        let mut reader = quick_xml::Reader::from_str(xml);
        let mut items: Vec<(String, String)> = Vec::new();
        let mut role: Option<String> = None;
        while let Ok(event) = reader.read_event() {
            match event {
                Event::Start(tag) if tag.local_name().as_ref() == "Item" => {
                    let value =
                        |key: &str| tag.try_get_attribute(key).ok().flatten().map(|found| found.value.into_owned());
                    let first = value("sample").is_none_or(|sample| sample == "0");
                    role = value("role").filter(|_| first);
                    items.extend(role.iter().map(|role| (role.clone(), String::new())));
                }
                Event::Text(part) if role.is_some() => {
                    if let Some(last) = items.last_mut() {
                        last.1.push_str(&part.xml10_content());
                    }
                }
                Event::End(_) => role = None,
                Event::Eof => break,
                _ => {}
            }
        }
        Items(items)
    }

    fn get(&self, role: &str) -> Option<&str> {
        self.0.iter().find(|item| item.0 == role).map(|item| item.1.trim())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn items_of_the_first_band_are_read() {
        let xml = "<GDALMetadata>\n  <Item name=\"OFFSET\" sample=\"0\" role=\"offset\">100</Item>\n  \
                   <Item name=\"SCALE\" sample=\"0\" role=\"scale\"> 0.1 </Item>\n  <Item name=\"x\" sample=\"1\" role=\"unittype\">ft</Item>\n\
                   </GDALMetadata>";
        let items = Items::of(xml);
        assert_eq!((items.get("offset"), items.get("scale"), items.get("unittype")), (Some("100"), Some("0.1"), None));
        assert_eq!(Items::of("<Item role=").get("scale"), None);
    }

    #[test]
    fn verticals_are_told_by_their_codes() {
        let of = |code| vertical_of(code).map(|system| (system.from, system.unit_m));
        assert_eq!(of(5773), Some((Vertical::SeaLevel, 1.0)));
        assert_eq!(of(5030), Some((Vertical::Ellipsoid, 1.0)));
        assert_eq!(of(6360), Some((Vertical::SeaLevel, 1200.0 / 3937.0)));
        assert_eq!(of(6357), None);
        assert_eq!((metres_of(9002), metres_of(9094)), (Some(0.3048), None));
    }
}
