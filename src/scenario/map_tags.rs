//! What the open map's tags mean for a site: a small table, and an account of every feature.
//!
//! A feature is used, or it is listed with the reason why not. Widths, heights and head counts that the map does not state are estimates
//! unless a source stands beside them; the heights that matter most are inputs of the scenario (`[site.map]`).

use super::ground_words::{OBSTACLE_KINDS, ZONE_KINDS, word_of};
use super::outline::{Fault, ring_of, simple_polygon};
use crate::geodata::feature::{Feature, Position, Property, Shape};
use crate::scenario::sink::hidden;
use crate::site::shape::line_length_m;
use crate::site::{Area, Obstacle, ObstacleKind, Whose, Zone, ZoneKind};
use crate::sky::LocalFrame;
use serde::Serialize;
use std::collections::BTreeMap;

/// Distance around a place of people that counts as among them: as for zones that a scenario lists.
const PEOPLE_MARGIN_M: f64 = 10.0;

/// Where the height of something comes from that the map draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MapHeight {
    /// The map states it.
    Stated(f64),
    /// So many storeys.
    Storeys(f64),
    /// A building of which nothing is said.
    Building,
    /// Trees.
    Trees,
    /// A power line of high voltage.
    PowerLine,
    /// A power line of low voltage.
    MinorLine,
    /// An estimate of the table.
    Table(f64),
}

/// What a raw map gave, feature by feature.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct MapUse {
    /// The file.
    pub file: String,
    /// Features used, by tag, the most frequent first.
    pub used: Vec<TagUse>,
    /// Features not used, in the order of the file.
    pub left_out: Vec<LeftOut>,
}

/// Features with a tag that were used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TagUse {
    /// The tag: `highway=footway`.
    pub tag: String,
    /// What it became.
    pub becomes: String,
    /// How many of them.
    pub features: u32,
    /// Of how many the height is an estimate.
    pub heights_assumed: u32,
}

/// A feature that is not used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftOut {
    /// Which one: `way/17`.
    pub feature: String,
    /// Its line in the file.
    pub line: usize,
    /// The tag that tells most of it; empty without one.
    pub tag: String,
    /// Why.
    pub why: String,
}

/// How a tag lies on the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Form {
    /// An outline.
    Outline,
    /// A line of this width, or an outline where the map draws one.
    Line(f64),
    /// A point that reaches so far around, or an outline.
    Around(f64),
}

/// What a tag becomes.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Becomes {
    /// A zone. Heads are on it for every kilometre of a line or every hectare of an outline; later ranks lie on top.
    Zone { kind: ZoneKind, form: Form, heads: f64, rank: u8 },
    /// An obstacle, with a zone under it.
    Obstacle { kind: ObstacleKind, form: Form, height: MapHeight, base_m: f64, ground: Option<(ZoneKind, u8)> },
    /// Nothing, and why.
    Nothing(&'static str),
}

/// A row of the table: values of a key, or all of them.
struct Row {
    key: &'static str,
    /// Empty for any that no row above has.
    values: &'static [&'static str],
    becomes: Becomes,
}

const fn zone(
    key: &'static str,
    values: &'static [&'static str],
    kind: ZoneKind,
    form: Form,
    heads: f64,
    rank: u8,
) -> Row {
    Row { key, values, becomes: Becomes::Zone { kind, form, heads, rank } }
}

const fn stands(
    key: &'static str,
    values: &'static [&'static str],
    kind: ObstacleKind,
    form: Form,
    height: MapHeight,
    base_m: f64,
    ground: Option<(ZoneKind, u8)>,
) -> Row {
    Row { key, values, becomes: Becomes::Obstacle { kind, form, height, base_m, ground } }
}

const fn nothing(key: &'static str, values: &'static [&'static str], why: &'static str) -> Row {
    Row { key, values, becomes: Becomes::Nothing(why) }
}

use Form::{Around, Line, Outline};
use ObstacleKind::{Building, Trees, Wire};
use ZoneKind::{People, Property as Private, Road, Rough, Water};

/// The table. The first row that fits a feature counts. Widths are of carriageways as commonly built; heads on a kilometre of road are
/// those of an hourly flow over its speed, and on a path those of twenty walkers an hour: estimates of a busy hour, all of them.
const TABLE: &[Row] = &[
    nothing("building", &["no", "collapsed", "demolished", "proposed"], "no building (any more, or yet)"),
    stands("building", &[], Building, Outline, MapHeight::Building, 0.0, Some((Private, 8))),
    stands("building:part", &[], Building, Outline, MapHeight::Building, 0.0, None),
    zone("highway", &["motorway", "motorway_link", "trunk", "trunk_link"], Road, Line(12.0), 25.0, 6),
    zone("highway", &["primary", "primary_link"], Road, Line(8.0), 10.0, 6),
    zone("highway", &["secondary", "secondary_link", "tertiary", "tertiary_link", "raceway"], Road, Line(7.0), 5.0, 6),
    zone("highway", &["unclassified", "residential", "living_street", "road", "busway"], Road, Line(5.5), 2.0, 6),
    zone("highway", &["service", "track"], Road, Line(3.5), 0.2, 5),
    zone("highway", &["pedestrian", "footway", "path", "cycleway", "bridleway", "steps"], People, Line(2.5), 5.0, 7),
    nothing("highway", &[], "a detail of a road, or a road not in use"),
    zone("railway", &["rail", "light_rail", "tram", "narrow_gauge", "funicular", "monorail"], Road, Line(4.0), 5.0, 6),
    nothing("railway", &[], "a detail of a railway, or a railway not in use"),
    stands("power", &["line"], Wire, Line(15.0), MapHeight::PowerLine, 8.0, None),
    stands("power", &["minor_line"], Wire, Line(2.0), MapHeight::MinorLine, 5.0, None),
    stands("power", &["tower", "portal"], Wire, Around(4.0), MapHeight::PowerLine, 0.0, None),
    stands("power", &["pole"], Wire, Around(0.5), MapHeight::MinorLine, 0.0, None),
    zone("power", &["substation", "plant"], Private, Outline, 0.0, 1),
    nothing("power", &["cable"], "under the ground or water"),
    nothing("power", &[], "a part of a power grid that the table does not have"),
    stands(
        "aerialway",
        &["cable_car", "gondola", "mixed_lift", "chair_lift", "drag_lift", "t-bar", "zip_line", "goods"],
        Wire,
        Line(8.0),
        MapHeight::Table(20.0),
        2.0,
        None,
    ),
    stands(
        "man_made",
        &["mast", "communications_tower", "antenna", "flagpole"],
        Wire,
        Around(1.0),
        MapHeight::Table(30.0),
        0.0,
        None,
    ),
    stands(
        "man_made",
        &[
            "tower",
            "chimney",
            "silo",
            "storage_tank",
            "water_tower",
            "windmill",
            "cooling_tower",
            "crane",
            "lighthouse",
        ],
        Building,
        Around(4.0),
        MapHeight::Table(30.0),
        0.0,
        None,
    ),
    stands("natural", &["wood"], Trees, Outline, MapHeight::Trees, 0.0, Some((Rough, 2))),
    stands("landuse", &["forest"], Trees, Outline, MapHeight::Trees, 0.0, Some((Rough, 2))),
    stands("natural", &["tree_row"], Trees, Line(6.0), MapHeight::Trees, 0.0, None),
    stands("natural", &["tree"], Trees, Around(3.0), MapHeight::Trees, 0.0, None),
    zone("natural", &["water"], Water, Outline, 0.0, 3),
    zone("landuse", &["reservoir", "basin"], Water, Outline, 0.0, 3),
    zone("waterway", &["riverbank", "dock"], Water, Outline, 0.0, 3),
    zone("waterway", &["river", "canal"], Water, Line(10.0), 0.0, 3),
    zone("waterway", &["stream"], Water, Line(2.0), 0.0, 3),
    zone("waterway", &["ditch", "drain"], Water, Line(1.0), 0.0, 3),
    nothing("waterway", &[], "a detail of a waterway"),
    zone(
        "natural",
        &["scrub", "heath", "wetland", "mud", "bare_rock", "scree", "shingle", "glacier"],
        Rough,
        Outline,
        0.0,
        2,
    ),
    zone("landuse", &["orchard", "vineyard", "plant_nursery"], Rough, Outline, 0.0, 2),
    zone("leisure", &["playground"], People, Outline, 40.0, 5),
    zone("amenity", &["school", "kindergarten", "college", "university"], People, Outline, 50.0, 4),
    zone(
        "leisure",
        &["pitch", "sports_centre", "stadium", "track", "water_park", "swimming_area"],
        People,
        Outline,
        10.0,
        5,
    ),
    zone("leisure", &["park", "dog_park", "beach_resort", "common"], People, Outline, 5.0, 4),
    zone("landuse", &["recreation_ground", "village_green"], People, Outline, 5.0, 4),
    zone("natural", &["beach"], People, Outline, 10.0, 4),
    zone("amenity", &["marketplace", "hospital"], People, Outline, 50.0, 4),
    zone("tourism", &["camp_site", "caravan_site", "picnic_site", "theme_park", "zoo"], People, Outline, 10.0, 4),
    zone("place", &["square"], People, Outline, 20.0, 5),
    zone("amenity", &["parking", "fuel", "bus_station"], Private, Outline, 5.0, 5),
    zone("landuse", &["residential", "commercial", "retail"], Private, Outline, 4.0, 0),
    zone(
        "landuse",
        &["industrial", "farmyard", "allotments", "cemetery", "garages", "construction", "military", "quarry"],
        Private,
        Outline,
        1.0,
        0,
    ),
    zone("leisure", &["garden"], Private, Outline, 1.0, 1),
    nothing("landuse", &["grass", "meadow", "farmland"], "open ground is clear unless something else is drawn on it"),
    nothing(
        "natural",
        &["grassland", "fell", "sand", "bare_ground"],
        "open ground is clear unless something else is drawn on it",
    ),
    nothing("barrier", &[], "low: what is to be struck or landed on there has to be drawn"),
    nothing("boundary", &[], "a line in the books: nothing stands there"),
    nothing("natural", &[], "a kind of ground that the table does not have"),
    nothing("landuse", &[], "a use of ground that the table does not have"),
    nothing("leisure", &[], "a use of a place that the table does not have"),
    nothing("amenity", &[], "a use of a place or a building that the table does not have"),
    nothing("tourism", &[], "a use of a place or a building that the table does not have"),
    nothing("man_made", &[], "a work that the table does not have"),
];

/// Whether a feature has a tag of the table.
pub(super) fn is_tagged(feature: &Feature) -> bool {
    TABLE.iter().any(|row| feature.properties.contains_key(row.key))
}

/// The table as a page shows it.
pub(super) fn table_in_markdown() -> String {
    let mut page = String::from("| tag | becomes | heads |\n|---|---|---|\n");
    for row in TABLE {
        let values = if row.values.is_empty() {
            format!("`{}=*`, any other", row.key)
        } else {
            format!(
                "`{}` = {}",
                row.key,
                row.values.iter().map(|value| format!("`{value}`")).collect::<Vec<_>>().join(", ")
            )
        };
        page += &format!("| {values} | {} | {} |\n", row.becomes.in_words(), row.becomes.heads_in_words());
    }
    page
}

/// A feature that is used.
#[derive(Debug, Clone, PartialEq)]
struct Taken {
    label: String,
    line: usize,
    tag: String,
    becomes: String,
    zones: Vec<(u8, Zone)>,
    obstacles: Vec<(Obstacle, MapHeight)>,
}

impl Taken {
    fn reaches(&self, [west, south, east, north]: [f64; 4]) -> bool {
        let areas = self.zones.iter().map(|(_, zone)| &zone.area);
        areas.chain(self.obstacles.iter().map(|(obstacle, _)| &obstacle.area)).any(|area| {
            let [w, s, e, n] = area.bounds_m();
            e >= west && w <= east && n >= south && s <= north
        })
    }
}

/// A raw map as it was read: what a site may take of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct RawMap {
    file: String,
    taken: Vec<Taken>,
    left_out: Vec<LeftOut>,
}

/// What a site took of a raw map.
pub(super) struct MapPart {
    pub zones: Vec<Zone>,
    pub obstacles: Vec<(Obstacle, MapHeight)>,
    pub account: MapUse,
}

impl RawMap {
    pub(super) fn new(file: &str) -> RawMap {
        RawMap { file: file.into(), ..RawMap::default() }
    }

    /// Takes a feature, or lists it as not used.
    pub(super) fn take(&mut self, feature: &Feature, frame: &LocalFrame) {
        let Some(row) = TABLE.iter().find(|row| row.fits(feature)) else {
            let tag = feature.properties.keys().next().map_or(String::new(), |key| tag_of(feature, key));
            return self.leave_out(feature, tag, "no tag says what it is on the ground");
        };
        let tag = tag_of(feature, row.key);
        match make(feature, row, &tag, frame) {
            Ok(taken) => self.taken.push(taken),
            Err(why) => self.leave_out(feature, tag, &why),
        }
    }

    fn leave_out(&mut self, feature: &Feature, tag: String, why: &str) {
        self.left_out.push(LeftOut { feature: feature.label.clone(), line: feature.line, tag, why: why.into() });
    }

    /// Whether an obstacle has its height from there.
    pub(super) fn has_height(&self, wanted: impl Fn(&MapHeight) -> bool) -> bool {
        self.taken.iter().flat_map(|taken| &taken.obstacles).any(|(_, height)| wanted(height))
    }

    /// What lies within an extent, lower ranks first; the rest is listed as not used.
    pub(super) fn within(&self, extent_m: [f64; 4]) -> MapPart {
        let mut left_out = self.left_out.clone();
        let mut used: BTreeMap<(&str, &str), [u32; 2]> = BTreeMap::new();
        let (mut zones, mut obstacles) = (Vec::new(), Vec::new());
        for taken in &self.taken {
            if !taken.reaches(extent_m) {
                let Taken { label, line, tag, .. } = taken.clone();
                left_out.push(LeftOut { feature: label, line, tag, why: "wholly outside of the site's extent".into() });
                continue;
            }
            let count = used.entry((&taken.tag, &taken.becomes)).or_default();
            count[0] += 1;
            let assumed = |(_, height): &(Obstacle, MapHeight)| !matches!(height, MapHeight::Stated(_));
            count[1] += u32::from(taken.obstacles.iter().any(assumed));
            zones.extend(taken.zones.iter().cloned());
            obstacles.extend(taken.obstacles.iter().cloned());
        }
        zones.sort_by_key(|(rank, _)| *rank);
        left_out.sort_by_key(|one| one.line);
        let one = |((tag, becomes), [features, heights_assumed]): ((&str, &str), [u32; 2])| TagUse {
            tag: tag.into(),
            becomes: becomes.into(),
            features,
            heights_assumed,
        };
        let mut used: Vec<TagUse> = used.into_iter().map(one).collect();
        used.sort_by_key(|row| std::cmp::Reverse(row.features));
        let zones = zones.into_iter().map(|(_, zone)| zone).collect();
        MapPart { zones, obstacles, account: MapUse { file: self.file.clone(), used, left_out } }
    }
}

fn make(feature: &Feature, row: &Row, tag: &str, frame: &LocalFrame) -> Result<Taken, String> {
    let form = match row.becomes {
        Becomes::Nothing(why) => return Err(why.into()),
        Becomes::Zone { form, .. } | Becomes::Obstacle { form, .. } => form,
    };
    if is_below_ground(feature) {
        return Err("under the ground".into());
    }
    if let Some(why) = &feature.trouble {
        return Err(why.clone());
    }
    let width_m = metres(feature, "width").filter(|width_m| (0.1..=200.0).contains(width_m));
    let name = feature.text("name").filter(|name| hidden(name).is_none() && !name.trim().is_empty());
    let name = name.map_or_else(|| plain_name(tag), |name| name.trim().to_string());
    let mut taken = Taken {
        label: feature.label.clone(),
        line: feature.line,
        tag: tag.into(),
        becomes: row.becomes.in_words(),
        zones: Vec::new(),
        obstacles: Vec::new(),
    };
    for area in areas(feature, form, width_m, frame)? {
        match row.becomes {
            Becomes::Zone { kind, heads, rank, .. } => taken.zones.push((rank, zone_of(&name, kind, area, heads))),
            Becomes::Obstacle { kind, height, base_m, ground, .. } => {
                let (height, base_m) = heights(feature, height, base_m);
                taken.zones.extend(ground.map(|(kind, rank)| (rank, zone_of(&name, kind, area.clone(), 0.0))));
                taken.obstacles.push((Obstacle { name: name.clone(), kind, area, height_m: 0.0, base_m }, height));
            }
            Becomes::Nothing(_) => {}
        }
    }
    Ok(taken)
}

impl Row {
    fn fits(&self, feature: &Feature) -> bool {
        let value = feature.text(self.key);
        value.is_some_and(|value| self.values.is_empty() || self.values.contains(&value))
    }
}

impl Becomes {
    fn in_words(&self) -> String {
        let kind_of = |kind: &ZoneKind| word_of(&ZONE_KINDS, *kind);
        let lies = |form: &Form| match form {
            Form::Outline => "its outline".to_string(),
            Form::Line(width_m) => format!("{width_m} m wide"),
            Form::Around(radius_m) => format!("{radius_m} m around a point, or its outline"),
        };
        match self {
            Becomes::Zone { kind, form, .. } => format!("zone `{}`, {}", kind_of(kind), lies(form)),
            Becomes::Obstacle { kind, form, height, base_m, ground } => {
                let what = word_of(&OBSTACLE_KINDS, *kind);
                let high = match height {
                    MapHeight::Table(height_m) => format!(", {height_m} m high"),
                    _ => String::new(),
                };
                let from = if *base_m > 0.0 { format!(" from {base_m} m up") } else { String::new() };
                let on = ground.map_or(String::new(), |(kind, _)| format!("; zone `{}`", kind_of(&kind)));
                format!("obstacle `{what}`, {}{high}{from}{on}", lies(form))
            }
            Becomes::Nothing(why) => format!("not used: {why}"),
        }
    }

    fn heads_in_words(&self) -> String {
        match self {
            Becomes::Zone { heads, form: Form::Line(_), .. } if *heads > 0.0 => format!("{heads} a km"),
            Becomes::Zone { heads, .. } if *heads > 0.0 => format!("{heads} a ha"),
            _ => String::new(),
        }
    }
}

fn tag_of(feature: &Feature, key: &str) -> String {
    let value = match feature.properties.get(key) {
        Some(Property::Text(text)) => text.chars().take(40).collect(),
        Some(Property::Number(number)) => number.to_string(),
        _ => "…".to_string(),
    };
    let shown: String = format!("{key}={value}").chars().take(60).collect();
    if hidden(&shown).is_some() { shown.escape_unicode().to_string() } else { shown }
}

/// What one says for a tag: `footway`, `power line`, `building`.
fn plain_name(tag: &str) -> String {
    let (key, value) = tag.split_once('=').unwrap_or((tag, ""));
    let said = match (key, value) {
        (key, "yes") => key.to_string(),
        ("power", value) => format!("power {value}"),
        (_, value) => value.to_string(),
    };
    said.replace(['_', ':'], " ")
}

fn is_below_ground(feature: &Feature) -> bool {
    let tunnel = feature.text("tunnel").is_some_and(|value| value != "no");
    let under = matches!(feature.text("location"), Some("underground" | "underwater"));
    let layer = match feature.properties.get("layer") {
        Some(Property::Text(text)) => text.trim().parse().unwrap_or(0.0),
        Some(Property::Number(number)) => *number,
        _ => 0.0,
    };
    // A bridge below others, or a deep cutting, is open to the sky.
    let open = feature.text("bridge").is_some_and(|value| value != "no") || feature.properties.contains_key("waterway");
    tunnel || under || (layer < 0.0 && !open)
}

/// A length that a tag states: metres, or feet and inches as `40'` and `6'10"`.
fn metres(feature: &Feature, key: &str) -> Option<f64> {
    let text = match feature.properties.get(key)? {
        Property::Number(number) => return Some(*number).filter(|number| number.is_finite()),
        Property::Text(text) => text.trim(),
        Property::Other(_) => return None,
    };
    let number = |text: &str| text.trim().replace(',', ".").parse::<f64>().ok().filter(|number| number.is_finite());
    const FOOT_M: f64 = 0.3048;
    if let Some((feet, inches)) = text.split_once('\'') {
        let inches = inches.trim().trim_end_matches('"');
        let inches = if inches.is_empty() { 0.0 } else { number(inches)? };
        return Some(FOOT_M * (number(feet)? + inches / 12.0));
    }
    if let Some(feet) = text.strip_suffix("ft") {
        return Some(FOOT_M * number(feet)?);
    }
    number(text.strip_suffix('m').unwrap_or(text))
}

/// Where the height comes from, and the underside.
fn heights(feature: &Feature, otherwise: MapHeight, base_m: f64) -> (MapHeight, f64) {
    let fits = |height_m: &f64| (0.1..=1000.0).contains(height_m);
    let stated = metres(feature, "height").filter(fits).map(MapHeight::Stated);
    let storeys = metres(feature, "building:levels").filter(|levels| *levels > 0.0 && *levels <= 300.0);
    let roof = metres(feature, "roof:levels").filter(|levels| (0.0..=20.0).contains(levels)).unwrap_or(0.0);
    let by_storeys =
        storeys.filter(|_| otherwise == MapHeight::Building).map(|levels| MapHeight::Storeys(levels + roof));
    let height = stated.or(by_storeys).unwrap_or(otherwise);
    let base_m = metres(feature, "min_height").filter(|base_m| (0.0..=1000.0).contains(base_m)).unwrap_or(base_m);
    match height {
        // What the map states goes before the table's underside, which then would lie above the top.
        MapHeight::Stated(height_m) if base_m >= height_m => (height, 0.0),
        _ => (height, base_m),
    }
}

fn zone_of(name: &str, kind: ZoneKind, area: Area, heads: f64) -> Zone {
    let people = heads
        * match &area {
            Area::Strip { line_m, .. } => 1e-3 * line_length_m(line_m),
            area => 1e-4 * area.size_m2(),
        };
    let margin_m = if kind == ZoneKind::People { PEOPLE_MARGIN_M } else { 0.0 };
    Zone { name: name.into(), kind, whose: Whose::Others, area, people, present_share: 1.0, hours_utc: None, margin_m }
}

/// The areas of a feature, as its tag lies on the ground.
fn areas(feature: &Feature, form: Form, width_m: Option<f64>, frame: &LocalFrame) -> Result<Vec<Area>, String> {
    let mut found = Vec::new();
    for shape in &feature.shapes {
        match (shape, form) {
            (Shape::Polygon(rings), _) => found.push(outline(rings, frame)?),
            (Shape::Line(line), Form::Outline | Form::Around(_)) if is_closed(line) => {
                found.push(outline(&[line[..line.len() - 1].to_vec()], frame)?);
            }
            (Shape::Line(line), Form::Line(_)) if is_closed(line) && feature.text("area") == Some("yes") => {
                found.push(outline(&[line[..line.len() - 1].to_vec()], frame)?);
            }
            (Shape::Line(line), Form::Line(usual_m)) => {
                let line_m = ring_of(line, frame).map_err(too_far)?;
                if line_length_m(&line_m) == 0.0 {
                    return Err("a line of no length".into());
                }
                found.push(Area::Strip { line_m, width_m: width_m.unwrap_or(usual_m) });
            }
            (Shape::Point(place), Form::Around(usual_m)) => {
                let crown_m = metres(feature, "diameter_crown").filter(|across_m| (0.5..=60.0).contains(across_m));
                let centre_m = ring_of(&[*place], frame).map_err(too_far)?[0];
                found.push(Area::Circle { centre_m, radius_m: crown_m.map_or(usual_m, |across_m| 0.5 * across_m) });
            }
            (Shape::Point(_), _) => return Err("a point: how far it reaches is not said".into()),
            (Shape::Line(_), _) => return Err("an open line where an outline is needed".into()),
        }
    }
    if found.is_empty() { Err("without a shape".into()) } else { Ok(found) }
}

fn too_far(_: Fault) -> String {
    "more than 1000 km from the site".into()
}

fn is_closed(line: &[Position]) -> bool {
    line.len() > 3 && line[0].is_at(&line[line.len() - 1])
}

/// An outline with its holes cut out. Where its edges cross, the inside is what an even-odd fill makes of it.
fn outline(rings: &[Vec<Position>], frame: &LocalFrame) -> Result<Area, String> {
    let area = simple_polygon(rings, frame, false).map_err(|(_, found, _)| found)?;
    if area.size_m2() == 0.0 { Err("an outline without area".into()) } else { Ok(area) }
}
