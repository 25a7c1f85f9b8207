//! Ground heights from files of every format: a real sample, written by GDAL, flown from each; what is wrong with a file, in words.

use crate::typed::output;
use lostlink::geodata::{Bytes, RasterFile, RasterGround, Window};
use lostlink::scenario::{self, Diagnostic, MemoryFiles, Severity};
use lostlink::sky::{Geodetic, LocalFrame};
use lostlink::{Scenario, site::Terrain};
use std::io::{Cursor, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};

/// Where the site lies in the sample.
const ORIGIN: [f64; 2] = [36.6442, -84.2051];

/// Files on the lattice of the sample: the same heights in each. The tile comes first: the others are held against it.
const SAME: [&str; 9] = [
    "N36W085.hgt",
    "strips.tif",
    "tiles-deflate.tif",
    "tiles-lzw-point.tif",
    "big-endian.tif",
    "double.tif",
    "unsigned.tif",
    "scaled.tif",
    "degrees.asc",
];

const PARTS: [&str; 4] = ["part-nw.tif", "part-ne.tif", "part-sw.tif", "part-se.tif"];

/// The bytes of a sample; of the tile, which is void but for a small part, those that were packed.
fn sample(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("LOSTLINK_ROOT")).join("tests/data/elevation");
    let read = |name: &str| std::fs::read(folder.join(name)).unwrap_or_else(|why| panic!("{name}: {why}"));
    match name {
        "N36W085.hgt" => {
            static TILE: OnceLock<Vec<u8>> = OnceLock::new();
            let unpack = |bytes: Vec<u8>| miniz_oxide::inflate::decompress_to_vec_zlib(&bytes);
            TILE.get_or_init(|| unpack(read("N36W085.hgt.z")).expect("packed when it was made")).clone()
        }
        _ => read(name),
    }
}

/// A flight over a valley of the sample; `site` stands in the table of the site.
fn flight(terrain: &str, site: &str) -> String {
    format!(
        r#"
title = "A real valley"
seed = 3
flights = 16
[site]
lat_deg = {}
lon_deg = {}
extent_m = [-900, -800, 1000, 1100]
cell_m = 5
terrain_file = {terrain}
{site}
[craft]
mass_kg = 1.2
[path]
waypoints_m = [[150, -80, 70], [420, -330, 70], [300, 100, 70], [0, 20, 60]]
[loss.cut]
any_time = true
[[policy]]
name = "land"
action = [{{ land = {{}} }}]
[[policy]]
name = "home"
action = [{{ return = {{ height = {{ up_m = 70 }} }} }}]
"#,
        ORIGIN[0], ORIGIN[1]
    )
}

fn read(text: &str, files: &[(&str, Vec<u8>)]) -> Result<Scenario, Vec<Diagnostic>> {
    let files = files.iter().map(|(name, bytes)| (name.to_string(), bytes.clone())).collect();
    scenario::read("site.toml", text, &MemoryFiles(files))
}

fn words(found: &[Diagnostic]) -> String {
    found.iter().map(Diagnostic::in_words).collect::<Vec<_>>().join("\n")
}

fn good(text: &str, files: &[(&str, Vec<u8>)]) -> Scenario {
    read(text, files).unwrap_or_else(|found| panic!("{}", words(&found)))
}

fn ground(scenario: &Scenario) -> &Terrain {
    scenario.site.terrain.as_ref().expect("a ground")
}

fn over(name: &str) -> Scenario {
    good(&flight(&format!("\"{name}\""), ""), &[(name, sample(name))])
}

/// The main job from each format under one name, for files are told by what is in them: the same words of `check` and the same bytes of
/// every file of the report, but for the fingerprint of what was read.
#[test]
fn every_format_gives_the_same_report() {
    let run = |bytes: Vec<u8>| {
        let home = tempfile::tempdir().expect("a folder");
        std::fs::write(home.path().join("N36W085"), bytes).expect("written");
        std::fs::write(home.path().join("site.toml"), flight("\"N36W085\"", "")).expect("written");
        let check = output(home.path(), &["check", "site.toml"]);
        output(home.path(), &["assess", "site.toml", "--quick", "--out", "report"]);
        let summary = std::fs::read_to_string(home.path().join("report/summary.json")).expect("a summary");
        let hash = summary.split("\"scenario_hash\": \"").nth(1).and_then(|rest| rest.get(..64)).expect("a hash");
        let plain = |bytes: Vec<u8>| match String::from_utf8(bytes) {
            Ok(text) => text.replace(hash, "HASH").replace(&hash[..12], "HASH").into_bytes(),
            Err(other) => other.into_bytes(),
        };
        let mut files = Vec::new();
        gather(&home.path().join("report"), &mut files);
        // The list of files has the fingerprints of pages that have the one above.
        files.retain(|(name, _)| name != "lostlink-folder.txt");
        (check, files.into_iter().map(|(name, bytes)| (name, plain(bytes))).collect::<Vec<_>>())
    };
    let (check, files) = run(sample(SAME[0]));
    assert!(check.contains("A real valley") && files.len() > 5, "{check}\n{}", files.len());
    assert!(files.iter().any(|(name, _)| name == "report.html"));
    // The others are the same ground to the last bit: see below.
    for name in ["tiles-deflate.tif", "degrees.asc"] {
        let (also, others) = run(sample(name));
        assert_eq!(also, check, "{name}");
        for ((file, bytes), (other, their)) in files.iter().zip(&others) {
            assert!(file == other && bytes == their, "{name}: {file} differs");
        }
        assert_eq!(files.len(), others.len(), "{name}");
    }
}

fn gather(folder: &Path, files: &mut Vec<(String, Vec<u8>)>) {
    let mut entries: Vec<_> =
        std::fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("one").path()).collect();
    entries.sort();
    for path in entries {
        let name = path.file_name().expect("named").to_string_lossy().into_owned();
        if path.is_dir() { gather(&path, files) } else { files.push((name, std::fs::read(&path).expect("read"))) }
    }
}

/// The same ground to the last bit, also from four files whose seams run through the site, in any order.
#[test]
fn the_same_samples_are_the_same_ground() {
    let first = over(SAME[0]);
    let ground_of = |scenario: &Scenario| (ground(scenario).height_m.clone(), scenario.site.height_amsl_m);
    for name in &SAME[1..] {
        assert!(ground_of(&over(name)) == ground_of(&first), "{name}");
    }
    for order in [PARTS, ["part-se.tif", "part-sw.tif", "part-ne.tif", "part-nw.tif"]] {
        let files: Vec<(&str, Vec<u8>)> = order.iter().map(|name| (*name, sample(name))).collect();
        let joined = good(&flight(&format!("{order:?}"), ""), &files);
        assert!(ground_of(&joined) == ground_of(&first), "{order:?}");
        assert!(joined.warnings.is_empty(), "{:?}", joined.warnings);
    }
    // Held is the site with a margin of 300 m, not the tile.
    let Terrain { columns, rows, cell_m, .. } = *ground(&first);
    assert_eq!((columns, rows, cell_m), (251, 251, 10.0));
}

/// A place with the heights that GDAL reads there, of the sample, of the file on UTM, of the one in American feet.
struct Known {
    place_m: [f64; 2],
    heights_m: [f64; 3],
}

fn known(frame: &LocalFrame) -> Vec<Known> {
    let text = String::from_utf8(sample("heights.csv")).expect("text");
    let lines = text.lines().filter(|line| !line.starts_with('#'));
    lines
        .map(|line| {
            let numbers: Vec<f64> = line.split(',').map(|part| part.trim().parse().expect("a number")).collect();
            let place_m = frame.local_from_degrees(numbers[1], numbers[0]);
            Known { place_m, heights_m: [numbers[2], numbers[3], numbers[4]] }
        })
        .collect()
}

fn frame() -> LocalFrame {
    LocalFrame::new(Geodetic::from_deg(ORIGIN[0], ORIGIN[1], 507.0))
}

fn opened(name: &str, bytes: impl Bytes + 'static) -> RasterFile {
    match RasterFile::open(name, Box::new(bytes), None) {
        Ok(file) => file,
        Err(why) => panic!("{name}: {why:?}"),
    }
}

/// Heights of a file at places, exact: not by the ground laid over the site.
#[test]
fn heights_are_those_that_another_library_reads() {
    let known = known(&frame());
    assert_eq!(known.len(), 16);
    for (name, of) in SAME.map(|name| (name, 0)).into_iter().chain([("utm.tif", 1), ("feet.tif", 2)]) {
        let file = opened(name, Cursor::new(sample(name)));
        let mut ground = RasterGround::new(vec![file], Some(frame()), [0.0, 0.0]);
        for Known { place_m, heights_m } in &known {
            let height_m = ground.height_m(*place_m).expect("readable").expect("a height");
            let off = (height_m - heights_m[of]).abs();
            // Theirs are written to a tenth of a millimetre, ours are single precision, which at 500 m is to 0.03 mm.
            assert!(off < 1e-4, "{name} at {place_m:?}: {height_m} for {}", heights_m[of]);
        }
    }
}

/// The ground that is flown over: samples 74 m by 92 m apart on a lattice of 10 m, planes cut off at their edges by that much; and the
/// files on projections, which GDAL has interpolated once already.
///
/// The limits are what was measured, in the comments, and half as much again.
#[test]
fn the_ground_flown_over_is_that_of_the_files() {
    let known = known(&frame());
    for (name, of, most_m, rms_m) in [
        // 0.29 and 0.106
        ("strips.tif", 0, 0.45, 0.16),
        // 0.005 and 0.001
        ("utm.tif", 1, 0.0075, 0.0015),
        // 0.07 and 0.023
        ("feet.tif", 2, 0.11, 0.035),
        // 0.55 and 0.256
        ("utm.tif", 0, 0.83, 0.385),
        // 0.75 and 0.306
        ("feet.tif", 0, 1.1, 0.46),
    ] {
        let scenario = over(name);
        let site = scenario.site.grid();
        let off_m =
            |at: &Known| site.ground_m(at.place_m[0], at.place_m[1]) + scenario.site.height_amsl_m - at.heights_m[of];
        let offs: Vec<f64> = known.iter().map(off_m).collect();
        let rms = (offs.iter().map(|off| off * off).sum::<f64>() / offs.len() as f64).sqrt();
        assert!(offs.iter().all(|off| off.abs() < most_m) && rms < rms_m, "{name}: {offs:.4?}, rms {rms:.4}");
    }
}

/// Bytes that count how many of them are read.
struct Counted {
    bytes: Cursor<Vec<u8>>,
    read: Arc<AtomicU64>,
}

impl Read for Counted {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let count = self.bytes.read(into)?;
        self.read.fetch_add(count as u64, Ordering::Relaxed);
        Ok(count)
    }
}

impl Seek for Counted {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.bytes.seek(to)
    }
}

/// A tile of one second: 3601 by 3601 samples, hills of some hundred metres.
fn fine_samples() -> Vec<i16> {
    let wave =
        |high: f64, by: f64| (0..3601).map(|at| (high * libm::sin(by * f64::from(at))) as i16).collect::<Vec<_>>();
    let (along, down) = (wave(150.0, 0.013), wave(120.0, 0.017));
    let mut samples = Vec::with_capacity(3601 * 3601);
    for south in &down {
        samples.extend(along.iter().map(|east| 600 + south + east));
    }
    samples
}

fn fine_tile() -> Vec<u8> {
    fine_samples().into_iter().flat_map(i16::to_be_bytes).collect()
}

/// The same as a GeoTIFF packed by deflate, in strips of 16 rows.
fn fine_tiff() -> Vec<u8> {
    use tiff::encoder::{Compression, DeflateLevel, TiffEncoder, colortype::GrayI16};
    use tiff::tags::Tag;
    let mut bytes = Cursor::new(Vec::new());
    let mut encoder =
        TiffEncoder::new(&mut bytes).expect("a header").with_compression(Compression::Deflate(DeflateLevel::Fast));
    let mut image = encoder.new_image::<GrayI16>(3601, 3601).expect("an image");
    image.rows_per_strip(16).expect("strips");
    let mut put = |tag: u16, values: &[f64]| image.encoder().write_tag(Tag::Unknown(tag), values).expect("a tag");
    put(33550, &[1.0 / 3600.0, 1.0 / 3600.0, 0.0]);
    put(33922, &[0.0, 0.0, 0.0, 7.0, 46.0, 0.0]);
    // Geographic, a pixel is a point, WGS 84.
    let keys: [u16; 16] = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 2, 2048, 0, 1, 4326];
    image.encoder().write_tag(Tag::Unknown(34735), &keys[..]).expect("a tag");
    image.write_data(&fine_samples()).expect("written");
    bytes.into_inner()
}

/// Of a tile of 13 million samples, what lies under a site of 3 km is read and held, and no more.
#[test]
fn of_a_large_tile_only_the_part_over_the_site_is_read_and_held() {
    let mut grounds = Vec::new();
    // 118 rows of 166 columns are 0.15 % of the tile; the strips of 16 rows that hold them are 9 of 226, 4 %. Buffers read as much again.
    for (name, bytes, most) in [("N45E007.hgt", fine_tile(), 2.0 * 0.0015), ("fine.tif", fine_tiff(), 2.0 * 0.04)] {
        let (length, read) = (bytes.len() as f64, Arc::new(AtomicU64::new(0)));
        let file = opened(name, Counted { bytes: Cursor::new(bytes), read: read.clone() });
        let frame = LocalFrame::new(Geodetic::from_deg(45.3, 7.6, 600.0));
        let mut ground = RasterGround::new(vec![file], Some(frame), [0.0, 0.0]);
        let patch = ground.over([-1500.0, -1500.0, 1500.0, 1500.0], 300.0).expect("readable");
        let share = read.load(Ordering::Relaxed) as f64 / length;
        assert!(share < most, "{name}: {share:.3} of the file read");
        // 3.6 km by 3.6 km at 5 m.
        let Terrain { columns, rows, cell_m, .. } = patch.terrain;
        assert_eq!((columns, rows, cell_m), (721, 721, 5.0));
        assert_eq!((patch.beyond_share, patch.voids.share), (0.0, 0.0));
        grounds.push(patch.terrain.height_m);
    }
    assert!(grounds[0] == grounds[1]);
}

/// Voids are counted and filled, or filled from a second file.
#[test]
fn voids_are_told_and_filled() {
    let whole = over("strips.tif");
    let holed = good(&flight("\"voids.tif\"", ""), &[("voids.tif", sample("voids.tif"))]);
    let [warning] = holed.warnings.as_slice() else { panic!("{:?}", holed.warnings) };
    // Samples of 74 m by 92 m, four rows by three columns of them and half-way to those around: 300 m by 460 m about column 57 and row 41.5.
    assert!(
        warning.contains("site.terrain_file: no heights for 4.")
            && warning.contains("the largest, of 13.")
            && warning.contains("about x 530, y 4")
            && warning
                .contains("a terrain without voids where the craft flies; a second file fills those of the first"),
        "{warning}"
    );
    let most = ground(&whole)
        .height_m
        .iter()
        .zip(ground(&holed).height_m.iter())
        .map(|(a, b)| (a - b).abs())
        .fold(0.0, f32::max);
    assert!(most > 3.0 && most < 60.0 && ground(&holed).height_m.iter().all(|height| height.is_finite()), "{most}");
    let both = good(
        &flight("[\"voids.tif\", \"strips.tif\"]", ""),
        &[("voids.tif", sample("voids.tif")), ("strips.tif", sample("strips.tif"))],
    );
    assert!(both.warnings.is_empty() && ground(&both).height_m == ground(&whole).height_m, "{:?}", both.warnings);
}

/// The first file stated counts where files overlap; the other fills what it leaves, without a gap between.
#[test]
fn of_files_that_overlap_the_first_counts() {
    // A grid of level ground, 100 m high, west of the origin, on the site's own axes.
    let level = format!("ncols 40\nnrows 80\nxllcorner -2000\nyllcorner -2000\ncellsize 50\n{}", "100 ".repeat(3200));
    let files = [("level.asc", level.into_bytes()), ("strips.tif", sample("strips.tif"))];
    let text = |order: &str| {
        flight(order, "height_amsl_m = 400").replace("waypoints_m = [", "waypoints_m = [[150, -80, 700], ")
    };
    let site = |order: &str| {
        // High enough above either ground; heights are what is asked for.
        let text = text(order).replace(", 70]", ", 700]").replace(", 60]", ", 700]");
        good(&text, &files).site.grid()
    };
    let (first, last) = (site("[\"level.asc\", \"strips.tif\"]"), site("[\"strips.tif\", \"level.asc\"]"));
    for x in [-800.0, -400.0, -30.0] {
        assert_eq!(first.ground_m(x, 100.0), -300.0, "at {x}");
        assert!(last.ground_m(x, 100.0) > 50.0, "at {x}");
    }
    for x in [20.0, 400.0, 900.0] {
        assert!(first.ground_m(x, 100.0) == last.ground_m(x, 100.0) && first.ground_m(x, 100.0) > 50.0, "at {x}");
    }
}

/// Where a little-endian TIFF has the value of a tag: in the entry itself, or where that points to.
fn place_of(bytes: &[u8], tag: u16) -> usize {
    let short = |at: usize| u16::from_le_bytes([bytes[at], bytes[at + 1]]);
    let long = |at: usize| u32::from_le_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]]) as usize;
    let start = long(4);
    let entry = (0..usize::from(short(start))).map(|index| start + 2 + 12 * index).find(|at| short(*at) == tag);
    let entry = entry.expect("the tag is there");
    let size = long(entry + 4) * [0, 1, 1, 2, 4, 8][usize::from(short(entry + 2)).min(5)];
    if size <= 4 { entry + 8 } else { long(entry + 8) }
}

/// A sample with other bytes at the place of a tag.
fn with_tag(name: &str, tag: u16, value: &[u8]) -> Vec<u8> {
    let mut bytes = sample(name);
    let at = place_of(&bytes, tag);
    bytes[at..at + value.len()].copy_from_slice(value);
    bytes
}

/// A sample in which a tag is another one.
fn with_other_tag(name: &str, tag: u16, other: u16) -> Vec<u8> {
    let mut bytes = sample(name);
    let start = u32::from_le_bytes([bytes[4], bytes[5], bytes[6], bytes[7]]) as usize;
    let entries = (start + 2..).step_by(12);
    let at = entries.into_iter().find(|&at| bytes[at..at + 2] == tag.to_le_bytes()).expect("the tag is there");
    bytes[at..at + 2].copy_from_slice(&other.to_le_bytes());
    bytes
}

/// A sample with another value of a geo key.
fn with_key(name: &str, key: u16, value: u16) -> Vec<u8> {
    with_other_key(name, key, key, value)
}

/// A sample in which a geo key is another one, with its value.
fn with_other_key(name: &str, key: u16, other: u16, value: u16) -> Vec<u8> {
    let mut bytes = sample(name);
    let mut at = place_of(&bytes, 34735);
    while bytes[at..at + 2] != key.to_le_bytes() {
        at += 8;
    }
    bytes[at..at + 2].copy_from_slice(&other.to_le_bytes());
    bytes[at + 6..at + 8].copy_from_slice(&value.to_le_bytes());
    bytes
}

/// What is wrong with a file: found at its place, and what would be accepted.
#[test]
fn what_is_wrong_with_a_file_is_said_with_the_remedy() {
    let cut = |name: &str, length: usize| sample(name)[..length].to_vec();
    let ascii = |cell: &str| {
        format!("ncols 3\nnrows 2\nxllcorner 7\nyllcorner 45\ncellsize {cell}\n1 2 3\n4 5 6\n").into_bytes()
    };
    // Under the site, with something in the third row.
    let under = |third: &str| {
        let head = format!(
            "ncols 60\nnrows 60\nxllcorner {}\nyllcorner {}\ncellsize 0.001\n",
            ORIGIN[1] - 0.03,
            ORIGIN[0] - 0.03
        );
        let rows = (0..60).map(|row| if row == 2 { third.to_string() + &"500 ".repeat(58) } else { "500 ".repeat(60) });
        head + &rows.collect::<Vec<_>>().join("\n") + "\n"
    };
    // (name, bytes, what is said of it, the remedy)
    let cases: Vec<(&str, Vec<u8>, &str, &str)> = vec![
        (
            "a.tif",
            cut("strips.tif", 9000),
            "strip 2 beyond the end of the file of 9000 bytes",
            "a whole GeoTIFF: the file is cut short",
        ),
        ("a.tif", cut("strips.tif", 100), "a TIFF that cannot be read", "a GeoTIFF of one band of heights"),
        ("a.tif", cut("tiles-deflate.tif", 7000), "beyond the end of the file", "a whole GeoTIFF"),
        (
            "N36W085.hgt",
            cut("N36W085.hgt", 2_000_000),
            "a file of 2000000 bytes that is named as a height tile",
            "a side has 601, 1201",
        ),
        (
            "tile.hgt",
            sample("N36W085.hgt"),
            "a height tile of 1201 by 1201 samples whose name does not say where it lies",
            "a name that begins with the south-west corner, such as N45E007.hgt or S33W071.hgt",
        ),
        (
            "N45E007.hgt",
            sample("N36W085.hgt"),
            "\"N45E007.hgt\" lies about latitude 45.50, longitude 7.50",
            "are `lat_deg` and `lon_deg` those",
        ),
        ("a.zip", b"PK\x03\x04rest".to_vec(), "a packed file", "unpacked"),
        (
            "a.nc",
            b"\x89HDF\r\n\x1a\n\xff".to_vec(),
            "a file of another kind (\"a.nc\")",
            "a height tile (HGT), a GeoTIFF or an Esri ASCII grid",
        ),
        // A width of 65,535, and one strip that would unpack to more than the file can hold.
        (
            "a.tif",
            with_tag("strips.tif", 256, &u16::MAX.to_le_bytes()),
            "a strip of 8000 bytes that claims to unpack to 5242800",
            "tiles or strips of at most 256 MB",
        ),
        (
            "a.tif",
            with_key("strips.tif", 2048, 9999),
            "the coordinate system EPSG:9999, which the list of codes does not have",
            "`terrain_epsg`",
        ),
        ("a.tif", with_key("strips.tif", 2048, 4267), "EPSG:4267: a datum whose shift from WGS 84 is a table", "UTM"),
        ("a.tif", with_key("strips.tif", 2048, 32767), "user-defined", "`terrain_epsg` in `[site]`"),
        ("a.tif", with_key("strips.tif", 1024, 3), "does not say what its coordinates are", "EPSG code"),
        (
            "a.tif",
            with_tag("strips.tif", 262, &2_u16.to_le_bytes()),
            "a picture of colours, not of heights",
            "one band of heights",
        ),
        ("a.tif", with_other_tag("strips.tif", 33550, 33551), "a TIFF that does not say where it lies", "a GeoTIFF"),
        (
            "a.tif",
            with_other_key("strips.tif", 2054, 4099, 9101),
            "heights in the unit EPSG:9101",
            "heights in metres or feet",
        ),
        ("a.tif", with_key("feet.tif", 4096, 5715), "depths (EPSG:5715)", "heights, counted upwards"),
        ("a.tif", with_tag("strips.tif", 339, &7_u16.to_le_bytes()), "bits in the format 7", "one band of heights"),
        (
            "a.tif",
            with_tag("strips.tif", 33550, &[0; 16]),
            "samples that span no plane",
            "a GeoTIFF of one band of heights",
        ),
        ("a.tif", with_tag("strips.tif", 277, &3_u16.to_le_bytes()), "an image of 3 bands", "one band of heights"),
        // The format of its samples, 2, taken for its orientation.
        (
            "a.tif",
            with_other_tag("strips.tif", 339, 274),
            "rows in the order 2 of TIFF's orientations",
            "rows from north to south, each from west to east",
        ),
        ("a.asc", ascii("0.05"), "a.asc:5: a spacing of 0.05, which may be metres or degrees", "`terrain_epsg = 4326`"),
        ("a.asc", ascii("0.001"), "\"a.asc\" lies about latitude 45.00, longitude 7.00", "those of its origin"),
        (
            "a.asc",
            b"ncols 9000\nnrows 9000\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n".to_vec(),
            "a.asc:1: 9000 × 9000 points in a file of",
            "a file that holds",
        ),
        ("a.asc", under("3 x ").into_bytes(), "a.asc:8: the value \"x\"", "a height in metres, -12000 to 9000"),
    ];
    for (name, bytes, found, accepted) in cases {
        let told = read(&flight(&format!("\"{name}\""), ""), &[(name, bytes)]).expect_err(found);
        let errors: Vec<String> =
            told.iter().filter(|one| one.severity == Severity::Error).map(Diagnostic::in_words).collect();
        let said = errors.iter().any(|line| line.contains(found) && line.contains(accepted));
        assert!(said, "{name}, {found}: {}", errors.join("\n"));
    }
}

/// What is wrong with what the scenario says about a file.
#[test]
fn what_is_said_about_a_file_must_fit_it() {
    let strips = [("strips.tif", sample("strips.tif"))];
    let one = |site: &str| flight("\"strips.tif\"", site);
    let untied = one("").replace("lat_deg", "#").replace("lon_deg", "#");
    let far = one("").replace("[-900, -800, 1000, 1100]", "[-900, -800, 9000, 4000]");
    let missing = flight("[\"strips.tif\", \"none.tif\"]", "");
    for (text, words_of, remedy) in [
        (untied, "without the place of the origin", "`lat_deg` and `lon_deg` in `[site]`"),
        (far, "heights for 45.6 % of the site only", "a terrain that has heights for at least half of the site"),
        (missing, "site.terrain_file: the file \"none.tif\" cannot be read", "relative to the scenario's folder"),
        (
            one("terrain_epsg = 9999"),
            "site.terrain_epsg: the coordinate system EPSG:9999",
            "the EPSG code of a system known here",
        ),
        (flight("[]", ""), "site.terrain_file: ", "the name of a file or a list of names"),
        (flight("[\"strips.tif\", 7]", ""), "site.terrain_file: the number 7", "the name of a file"),
    ] {
        let found = words(&read(&text, &strips).expect_err(words_of));
        assert!(found.contains(words_of) && found.contains(remedy), "{found}");
    }
    let kinds = [("e.tif", with_key("strips.tif", 2048, 4979)), ("N36W085.hgt", sample("N36W085.hgt"))];
    let found = words(&read(&flight("[\"e.tif\", \"N36W085.hgt\"]", ""), &kinds).expect_err("two kinds of heights"));
    assert!(
        found.contains("heights above the ellipsoid (\"e.tif\") beside some above the sea (\"N36W085.hgt\")")
            && found.contains("files with heights of one kind, or `terrain_heights` where a file is wrong"),
        "{found}"
    );
    // What the file does not say is said beside it.
    let own = [("own.tif", with_key("strips.tif", 2048, 32767))];
    let told = good(&flight("\"own.tif\"", "terrain_epsg = 4326"), &own);
    assert!(ground(&told).height_m == ground(&over("strips.tif")).height_m);
}

/// Levels that heights are counted from, and what they are heights of: warnings that name both sides and the remedy.
#[test]
fn levels_and_surfaces_are_asked_about() {
    let strips = [("strips.tif", sample("strips.tif"))];
    let one = |site: &str| flight("\"strips.tif\"", site);
    let trees =
        "terrain_is = \"surface\"\n[[site.obstacle]]\nkind = \"trees\"\ncircle_m = [-300, 0, 20]\nheight_m = 12";
    let warned = |text: &str, words: &str, remedy: &str| {
        let warnings = good(text, &strips).warnings.join("\n");
        assert!(warnings.contains(words) && warnings.contains(remedy), "{words}: {warnings}");
    };
    warned(
        &one("terrain_heights = \"ellipsoid\""),
        "heights above the ellipsoid without `geoid_above_ellipsoid_m`",
        "`geoid_above_ellipsoid_m`: mean sea level is 107 m below to 85 m above the ellipsoid",
    );
    warned(
        &one("geoid_above_ellipsoid_m = -31"),
        "site.geoid_above_ellipsoid_m: a geoid, which counts only",
        "`terrain_heights = \"ellipsoid\"`, or no `geoid_above_ellipsoid_m`",
    );
    warned(
        &one(trees),
        "site.terrain_is: a surface model, and 1 building or wood drawn on it",
        "a bare-earth model, or nothing drawn that the surface shows",
    );
    warned(
        &one("").replace("1000, 1100]", "2000, 4000]"),
        "a terrain that does not cover",
        "a terrain as large as `extent_m`, or one more file for the rest",
    );
    assert!(good(&one("terrain_is = \"bare_earth\""), &strips).warnings.is_empty());
    // Mean sea level lies 31 m below the ellipsoid there: the ground is so much higher above the sea.
    let plain = good(&one(""), &strips).site;
    let lifted = good(&one("terrain_heights = \"ellipsoid\"\ngeoid_above_ellipsoid_m = -31"), &strips).site;
    assert!((lifted.height_amsl_m - plain.height_amsl_m - 31.0).abs() < 1e-9);
    // The error of the ground follows from what it is.
    let sd = |site: &str| format!("{:?}", good(&one(site), &strips).site.spread.terrain_error_m);
    assert_eq!(sd(""), sd("terrain_is = \"surface\""));
    assert!(sd("terrain_is = \"bare_earth\"").contains("1.55"), "{}", sd("terrain_is = \"bare_earth\""));
}

/// A path whose heights are counted from elsewhere than the ground's: named with both files.
#[test]
fn a_path_that_does_not_fit_the_ground_is_asked_about() {
    let track = |by_m: f64, count: usize| {
        let frame = frame();
        let place = |index: usize| {
            let turn = std::f64::consts::TAU * index as f64 / (count - 1) as f64;
            let [lat, lon] = frame.degrees_from_local([30.0 * libm::sin(turn), 30.0 - 30.0 * libm::cos(turn)]);
            format!("<trkpt lat=\"{lat:.8}\" lon=\"{lon:.8}\"><ele>{}</ele></trkpt>", 535.0 + by_m)
        };
        format!("<gpx><trk><trkseg>{}</trkseg></trk></gpx>", (0..count).map(place).collect::<String>())
    };
    let told = |by_m: f64, count: usize, path: &str| {
        let text = flight("\"strips.tif\"", "");
        let (before, after) = text.split_once("waypoints_m = ").expect("a path");
        let after = after.split_once('\n').expect("more lines").1;
        let text = format!("{before}file = \"track.gpx\"\n{path}\n{after}");
        let files = [("strips.tif", sample("strips.tif")), ("track.gpx", track(by_m, count).into_bytes())];
        match read(&text, &files) {
            Ok(scenario) => scenario.warnings.join("\n"),
            Err(found) => words(&found),
        }
    };
    let below = told(-31.0, 20, "");
    assert!(
        below.contains("path.file: heights of \"track.gpx\" that are 3")
            && below.contains("m below the ground at the take-off spot, by \"strips.tif\"")
            && below.contains("`site.terrain_heights` and `site.geoid_above_ellipsoid_m`"),
        "{below}"
    );
    let recorded = told(47.0, 200, "");
    assert!(recorded.contains("m above the ground where a recorded flight begins and ends"), "{recorded}");
    // Drawn at 47 m, or stated otherwise: nothing to ask.
    for quiet in [told(47.0, 20, ""), told(47.0, 200, "height_m = 40")] {
        assert!(!quiet.contains("heights of"), "{quiet}");
    }
}

/// A file on a disk that fails after some reads and seeks.
struct Failing {
    whole: Cursor<Vec<u8>>,
    left: usize,
}

impl Failing {
    fn after(name: &str, left: usize) -> Box<Failing> {
        Box::new(Failing { whole: Cursor::new(sample(name)), left })
    }

    fn once_more(&mut self) -> std::io::Result<()> {
        self.left = self.left.checked_sub(1).ok_or_else(|| std::io::Error::other("the disk is gone"))?;
        Ok(())
    }
}

impl std::io::Read for Failing {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        self.once_more()?;
        self.whole.read(into)
    }
}

impl std::io::Seek for Failing {
    fn seek(&mut self, to: std::io::SeekFrom) -> std::io::Result<u64> {
        self.once_more()?;
        self.whole.seek(to)
    }
}

/// A disk that fails at any moment is told, never taken for a ground.
#[test]
fn a_disk_that_fails_is_told() {
    for name in ["N36W085.hgt", "strips.tif", "degrees.asc"] {
        let mut said = std::collections::BTreeSet::new();
        let mut read = 0;
        for left in 0..200 {
            match RasterFile::open(name, Failing::after(name, left), None) {
                Err(why) => drop(said.insert(why.fault.found)),
                Ok(mut file) => match file.read(&Window { columns: 0..40, rows: 0..40 }) {
                    Err(fault) => drop(said.insert(format!("{}; {}", fault.found, fault.accepted))),
                    Ok(heights) => read += usize::from(heights.len() == 1600),
                },
            }
        }
        assert!(read > 0, "{name} is read when nothing fails");
        // An entry of a TIFF that cannot be read is as one that is not there.
        let told = |words: &String| ["cannot be read", "does not say"].iter().any(|part| words.contains(part));
        assert!(!said.is_empty() && said.iter().all(told), "{name}: {said:?}");
        if name.ends_with(".hgt") {
            assert!(said.iter().any(|words| words.contains("a whole height tile")), "{said:?}");
        } else if name.ends_with(".tif") {
            assert!(said.contains("a file that cannot be read"), "{said:?}");
        }
    }
}
