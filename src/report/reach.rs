//! Where the link reaches: its document, its tables, its JSON.

use super::csv::table;
use super::document::{Block, Document, On, Part, Section, Table};
use super::gallery::Gallery;
use super::plot;
use super::words::{self, number as n};
use crate::plan::reach::{
    DirectionReach, LEAST_CHANCE, MapHeight, PathReach, RayPoint, Reach, ReachMap, likeliest_lost, weakest,
};
use crate::risk::summary::SiteMap;
use serde::Serialize;
use std::io::Write;

/// What `reach.json` holds: everything but the points of the maps, which stand in their tables.
#[derive(Debug, Serialize)]
pub struct ReachFile<'a> {
    /// Name of this form.
    pub format: &'static str,
    /// Its version.
    pub version: u32,
    /// Program version.
    pub program_version: &'static str,
    /// Title of the scenario.
    pub title: &'a str,
    /// Whether place and craft are invented.
    pub invented: bool,
    /// Hash of the scenario.
    pub scenario_hash: &'a str,
    /// Place of the pilot's antenna.
    pub antenna_m: [f64; 3],
    /// Mean margin asked for.
    pub needed_margin_db: f64,
    /// Stay in one place that the chances are for.
    pub stay_s: f64,
    /// Maps.
    pub maps: Vec<MapFile>,
    /// Greatest distances at the height of the first map.
    pub directions: &'a [DirectionReach],
    /// Along the path.
    pub along: &'a [PathReach],
    /// Index of the weakest place in `along`.
    pub weakest_at: Option<usize>,
    /// Section under the ray to it.
    pub weakest: &'a [RayPoint],
}

/// One map of [`ReachFile`].
#[derive(Debug, Serialize)]
pub struct MapFile {
    /// Its table in the folder.
    pub file: String,
    /// Height.
    pub height: MapHeight,
    /// First column of points.
    pub west_m: f64,
    /// First row of points.
    pub south_m: f64,
    /// Spacing to the east and to the north.
    pub spacing_m: [f64; 2],
    /// Points to the east.
    pub columns: usize,
    /// Points to the north.
    pub rows: usize,
    /// Share of the points at which the margin asked for holds.
    pub share_with_margin: f64,
}

/// Name of the table of a map.
pub fn map_file(map: &ReachMap) -> String {
    match map.height {
        MapHeight::AboveGroundM(height_m) => format!("map-{height_m}m.csv"),
        MapHeight::LevelM(z_m) => format!("map-level-{z_m}m.csv"),
    }
}

impl<'a> ReachFile<'a> {
    /// From what was found and the scenario it was found for.
    pub fn new(reach: &'a Reach, invented: bool, scenario_hash: &'a str) -> ReachFile<'a> {
        ReachFile {
            format: "lostlink-reach",
            version: 1,
            program_version: env!("CARGO_PKG_VERSION"),
            title: &reach.title,
            invented,
            scenario_hash,
            antenna_m: reach.antenna_m,
            needed_margin_db: reach.needed_margin_db,
            stay_s: reach.stay_s,
            maps: reach
                .maps
                .iter()
                .map(|map| MapFile {
                    file: map_file(map),
                    height: map.height,
                    west_m: map.west_m,
                    south_m: map.south_m,
                    spacing_m: map.spacing_m,
                    columns: map.columns,
                    rows: map.rows,
                    share_with_margin: map.share_with_margin(reach.needed_margin_db),
                })
                .collect(),
            directions: &reach.directions,
            along: &reach.along,
            weakest_at: weakest(&reach.along),
            weakest: &reach.weakest,
        }
    }
}

/// The figures; `site` gives what is drawn upon the maps.
pub fn gallery(reach: &Reach, site: &SiteMap) -> Gallery {
    let draw = |look| {
        let maps = (0..reach.maps.len()).filter_map(|index| plot::reach_map(reach, index, site, look));
        maps.chain(plot::reach_path(reach, look)).chain(plot::reach_section(reach, look)).collect()
    };
    Gallery::new(draw, vec![])
}

/// The document.
pub fn document(reach: &Reach, invented: bool) -> Document {
    let stay = format!(
        "Mean values from the models of this site; the chance is for a stay of {} s in one place. Obstacles that nobody drew do not exist \
         for the model.",
        n(reach.stay_s, 0)
    );
    let figures = ["reach", "section"].map(|name| Part::page(Block::Figures(name)));
    Document {
        kind: "Where the control link reaches",
        tab: "where the link reaches",
        title: reach.title.clone(),
        invented,
        question: "Where does the link hold, and where may it be declared lost?".into(),
        answer: answer(reach),
        lead: [Part::both(Block::Sure(stay))].into_iter().chain(figures).collect(),
        sections: vec![directions(reach), along(reach)],
        cautions: vec![
            "Mean values from a model of this site, for a craft that hovers, at the middle values of uncertain inputs. What nobody drew does \
             not exist for the model. Interferers, other pilots and bursts count as the scenario states them: the mean margin is \
             less by their mean noise, and the chance of a declared loss is an approximation."
                .into(),
        ],
        ..Document::default()
    }
}

fn answer(reach: &Reach) -> String {
    let needed = n(reach.needed_margin_db, 0);
    let answer = match weakest(&reach.along).and_then(|index| reach.along.get(index)) {
        Some(place) if place.margin_db >= reach.needed_margin_db => format!(
            "The mean margin asked for, {needed} dB, holds along the whole path; it is least, {} dB, after {} m.",
            n(place.margin_db, 1),
            n(place.flown_m, 0)
        ),
        Some(place) => format!(
            "The link is weakest after {} m of the path: mean margin {} dB, where {needed} dB is asked for.",
            n(place.flown_m, 0),
            n(place.margin_db, 1)
        ),
        None => "The maps show where the link holds.".into(),
    };
    likeliest(reach).map_or(answer.clone(), |likeliest| format!("{answer} {likeliest}"))
}

/// Where on the path a stay is likeliest to lose the link.
fn likeliest(reach: &Reach) -> Option<String> {
    let place = reach.along.get(likeliest_lost(&reach.along)?)?;
    let (stay, chance) = (n(reach.stay_s, 0), words::chance(place.loss_chance));
    Some(if place.loss_chance <= LEAST_CHANCE {
        format!("Wherever on the path the craft stays for {stay} s, the link is declared lost in {chance} such stays.")
    } else {
        format!(
            "It is most likely to be lost after {} m, at {}: in {chance} stays of {stay} s there.",
            n(place.flown_m, 0),
            words::place(place.place_m[0], place.place_m[1])
        )
    })
}

fn height(height: MapHeight) -> String {
    match height {
        MapHeight::AboveGroundM(height_m) => format!("{height_m} m above the ground"),
        MapHeight::LevelM(z_m) => format!("{z_m} m above the site's origin"),
    }
}

fn directions(reach: &Reach) -> Section {
    let needed = n(reach.needed_margin_db, 0);
    let first = reach.maps.first().map_or("no height".into(), |map| height(map.height));
    let caption = format!(
        "Distance over the ground from the pilot at which the mean margin is still {needed} dB, {first}. Right overhead, upright antennas \
         hear little of each other; beyond the edge of the site nothing is known."
    );
    let rows = reach.directions.iter().map(|d| {
        let or_edge = |distance_m: f64| if distance_m >= d.edge_m { "to the edge".into() } else { n(distance_m, 0) };
        vec![
            format!("{} ({}°)", words::compass(d.bearing_deg), n(d.bearing_deg, 1)),
            if d.from_m.is_nan() { "nowhere".into() } else { n(d.from_m, 0) },
            or_edge(d.unbroken_m),
            or_edge(d.farthest_m),
            n(d.edge_m, 0),
        ]
    });
    let columns = ["direction", "#from / m", "#without a gap to / m", "#farthest / m", "#edge of the site / m"];
    let table = Table::new(caption, &columns).label("Table of directions").rows(rows);
    let maps = reach.maps.iter().map(|map| {
        let share = map.share_with_margin(reach.needed_margin_db);
        let all = if share >= 1.0 {
            "everywhere on the site".to_string()
        } else if share <= 0.0 {
            "nowhere on the site".into()
        } else {
            format!("on {} of 1,000 equal parts of the site", words::of_thousand(share))
        };
        format!("At {}: {needed} dB or more {all}.", height(map.height))
    });
    Section::new("directions", "Directions", "How far in each direction").with(On::Both, table.block()).lines(maps)
}

/// The weakest place of the path; a page has it in figures.
fn along(reach: &Reach) -> Section {
    let section = Section::new("path", "Along the path", "Along the path");
    let Some(place) = weakest(&reach.along).and_then(|index| reach.along.get(index)) else { return section };
    let weakest = format!(
        "Weakest after {} m, at {}: mean margin {} dB; chance that the link is declared lost during {} s there: {}.",
        n(place.flown_m, 0),
        words::place(place.place_m[0], place.place_m[1]),
        n(place.margin_db, 1),
        n(reach.stay_s, 0),
        words::chance(place.loss_chance)
    );
    let room = place.clearance.is_finite().then(|| {
        format!(
            "Least clearance under the straight line there: {} radii of the first Fresnel zone, the room that the waves need around that line \
             (0.6 or more is as good as free; below 0 the line is cut).",
            n(place.clearance, 1)
        )
    });
    section.line(weakest).lines(room)
}

/// Writes a map: a row per point, from the south-west, eastwards first.
///
/// `loss_chance` is the chance that the receiver calls the link lost during the stay; the least one stored means 'this
/// or less'.
///
/// # Errors
/// Those of the writer.
pub fn map_csv(map: &ReachMap, out: impl Write) -> Result<(), csv::Error> {
    let rows = map.margin_db.iter().zip(&map.loss_chance).enumerate().map(|(index, (margin_db, chance))| {
        let x = map.west_m + map.spacing_m[0] * (index % map.columns) as f64;
        let y = map.south_m + map.spacing_m[1] * (index / map.columns) as f64;
        vec![format!("{x:.2}"), format!("{y:.2}"), format!("{margin_db:.2}"), format!("{chance:.4}")]
    });
    table(out, &["x_m", "y_m", "margin_db", "loss_chance"], rows)
}

/// A number for a cell; empty where it does not exist.
fn finite(value: f64, decimals: usize) -> String {
    if value.is_finite() { format!("{value:.decimals$}") } else { String::new() }
}

/// Writes the greatest distances, a row per direction.
///
/// # Errors
/// Those of the writer.
pub fn directions_csv(directions: &[DirectionReach], out: impl Write) -> Result<(), csv::Error> {
    let rows = directions.iter().map(|d| {
        let mut row =
            [d.bearing_deg, d.from_m, d.unbroken_m, d.farthest_m, d.edge_m].map(|value| finite(value, 1)).to_vec();
        row.push(d.to_the_edge().to_string());
        row
    });
    table(out, &["bearing_deg", "from_m", "unbroken_m", "farthest_m", "edge_m", "to_the_edge"], rows)
}

/// Writes the link along the path, a row per place. `clearance_radii` is in radii of the first Fresnel zone; empty when nothing
/// lies between.
///
/// # Errors
/// Those of the writer.
pub fn along_csv(along: &[PathReach], out: impl Write) -> Result<(), csv::Error> {
    let rows = along.iter().map(|p| {
        let [x, y, z] = p.place_m;
        let mut row = [p.flown_m, x, y, z, p.ground_m, p.surface_m, p.margin_db].map(|v| format!("{v:.2}")).to_vec();
        row.extend([format!("{:.4}", p.loss_chance), finite(p.clearance, 3)]);
        row
    });
    let head = ["flown_m", "x_m", "y_m", "z_m", "ground_m", "surface_m", "margin_db", "loss_chance", "clearance_radii"];
    table(out, &head, rows)
}

/// Writes the section under one ray, a row per point.
///
/// # Errors
/// Those of the writer.
pub fn section_csv(section: &[RayPoint], out: impl Write) -> Result<(), csv::Error> {
    let rows = section
        .iter()
        .map(|p| [p.distance_m, p.ground_m, p.surface_m, p.ray_m, p.fresnel_m].map(|v| format!("{v:.2}")).to_vec());
    table(out, &["distance_m", "ground_m", "surface_m", "ray_m", "fresnel_m"], rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::reach::MapHeight;

    fn reach() -> Reach {
        // A cone: 10 dB in the middle, falling 1 dB a point.
        let (columns, rows) = (21, 21);
        let margin = |i: usize| {
            let (x, y) = ((i % columns) as f32 - 10.0, (i / columns) as f32 - 10.0);
            10.0 - (x * x + y * y).sqrt()
        };
        let map = ReachMap {
            height: MapHeight::AboveGroundM(40.0),
            west_m: -100.0,
            south_m: -100.0,
            spacing_m: [10.0, 10.0],
            columns,
            rows,
            margin_db: (0..columns * rows).map(margin).collect(),
            loss_chance: vec![0.25; columns * rows],
        };
        let along = [0.0, 50.0].map(|flown_m| PathReach {
            flown_m,
            place_m: [flown_m, 0.0, 40.0],
            ground_m: 0.0,
            surface_m: 3.0,
            margin_db: 9.0,
            loss_chance: 0.01,
            clearance: f64::INFINITY,
        });
        let direction =
            DirectionReach { bearing_deg: 22.5, from_m: 5.0, unbroken_m: 80.0, farthest_m: 90.0, edge_m: 108.24 };
        Reach {
            title: "a cone".into(),
            antenna_m: [0.0, 0.0, 1.5],
            needed_margin_db: 5.0,
            stay_s: 10.0,
            maps: vec![map],
            directions: vec![direction],
            along: along.to_vec(),
            weakest: vec![],
        }
    }

    #[test]
    fn tables_have_a_row_per_thing() {
        let reach = reach();
        let rows =
            |bytes: Vec<u8>| -> Vec<String> { String::from_utf8(bytes).unwrap().lines().map(str::to_string).collect() };
        let mut bytes = Vec::new();
        map_csv(&reach.maps[0], &mut bytes).unwrap();
        let map = rows(bytes);
        assert_eq!((map.len(), map[0].as_str()), (1 + 21 * 21, "x_m,y_m,margin_db,loss_chance"));
        assert_eq!(map[1 + 10 * 21 + 10], "0.00,0.00,10.00,0.2500");
        let mut bytes = Vec::new();
        directions_csv(&reach.directions, &mut bytes).unwrap();
        assert_eq!(rows(bytes)[1], "22.5,5.0,80.0,90.0,108.2,false");
        let mut bytes = Vec::new();
        along_csv(&reach.along, &mut bytes).unwrap();
        assert_eq!(rows(bytes)[2], "50.00,50.00,0.00,40.00,0.00,3.00,9.00,0.0100,");
        let mut bytes = Vec::new();
        let point = RayPoint { distance_m: 5.0, ground_m: 1.0, surface_m: 2.0, ray_m: 3.0, fresnel_m: 0.5 };
        section_csv(&[point], &mut bytes).unwrap();
        assert_eq!(rows(bytes)[1], "5.00,1.00,2.00,3.00,0.50");
    }
}
