//! Where the link reaches: a map of margins with chances of a declared loss, and both along the path.

use super::axis::{self, Stack};
use super::canvas::{At, Canvas, Entry, Figure, Look, entry, sample_box};
use super::font::Weight;
use super::map::{
    BEARINGS_PX, FOOT_PX, Frame, axes_words, bearings, fence_and_path, fence_legend, path_legend, place_legend,
    place_marks,
};
use super::theme::{Ink, Pattern};
use crate::plan::reach::{MapHeight, Reach, ReachContour, ReachMap, ReachQuantity};
use crate::report::words;
use crate::risk::summary::{Section, SectionPoint, SiteMap};

/// Steps of the margin, from the worst: the least margin of each, and how it looks.
fn classes(needed_db: f64) -> [(f64, String, Ink, Pattern); 4] {
    let number = |v: f64| words::number(v, 0);
    [
        (f64::NEG_INFINITY, "mean margin below 0 dB: silent".into(), Ink::Vermilion, Pattern::Crossed),
        (0.0, format!("0 to {} dB: fades often", number(needed_db)), Ink::Orange, Pattern::Falling),
        (
            needed_db,
            format!("{} to {} dB: holds most of the time", number(needed_db), number(needed_db + 10.0)),
            Ink::Sky,
            Pattern::Rising,
        ),
        (needed_db + 10.0, format!("above {} dB", number(needed_db + 10.0)), Ink::Green, Pattern::Plain),
    ]
}

/// Chances of a declared loss that are drawn as lines.
const CHANCES: [f64; 3] = [0.01, 0.1, 0.5];
const CHANCE: &str = "chance of a declared loss during a stay";
const OBSTACLE: &str = "building, trees or wire";

fn height_words(height: MapHeight) -> String {
    match height {
        MapHeight::AboveGroundM(h) => format!("{} m above the ground", words::number(h, 0)),
        MapHeight::LevelM(z) => format!("level, {} m above the site's origin", words::number(z, 0)),
    }
}

/// Corners of a map: west, south, east, north. Each point stands for the cell around it.
fn view(map: &ReachMap) -> [f64; 4] {
    let [across, up] = map.spacing_m;
    let (west, south) = (map.west_m - across / 2.0, map.south_m - up / 2.0);
    [west, south, west + across * map.columns as f64, south + up * map.rows as f64]
}

/// Cells of a map in runs from west to east, as boxes in px.
fn runs(map: &ReachMap, frame: &Frame, inside: impl Fn(f32) -> bool) -> Vec<[f64; 4]> {
    let [west, south, ..] = frame.view_m;
    let [across, up] = map.spacing_m;
    let mut boxes = Vec::new();
    for (row, margins) in map.margin_db.chunks(map.columns).enumerate() {
        let bottom = south + up * row as f64;
        let mut column = 0;
        for run in margins.chunk_by(|a, b| inside(*a) == inside(*b)) {
            let from = column;
            column += run.len();
            if inside(run[0]) {
                let [x0, y1] = frame.at([west + across * from as f64, bottom]);
                let [x1, y0] = frame.at([west + across * column as f64, bottom + up]);
                boxes.push([x0, y0, x1, y1]);
            }
        }
    }
    boxes
}

/// A map of one height. `site` gives fence, path, home and pilot.
pub fn reach_map(reach: &Reach, index: usize, site: &SiteMap, look: Look) -> Option<Figure> {
    let map = reach.maps.get(index)?;
    let mut canvas = Canvas::new(&format!("reach-{}", index + 1), look);
    let title = format!("Where the control link reaches, {}", height_words(map.height));
    let mut under = format!(
        "Mean margin; lines: chance that the link is declared lost during {} s in one place.",
        words::number(reach.stay_s, 0)
    );
    if !site.sources_m.is_empty() {
        under += " Sources lower the mean by their share of the time only: go by the lines.";
    }
    let top = canvas.head(&title, &under);
    let classes = classes(reach.needed_margin_db);
    let class_of = |margin: f32| classes.iter().rposition(|class| f64::from(margin) >= class.0).unwrap_or(0);
    let contours = map.contours(ReachQuantity::LossChance, &CHANCES);
    let view_m = view(map);
    let seen =
        classes.iter().enumerate().filter(|(class, _)| map.margin_db.iter().any(|margin| class_of(*margin) == *class));
    let mut entries: Vec<Entry> =
        seen.map(|(_, &(_, ref words, ink, pattern))| class_entry(words, ink, pattern)).collect();
    entries.extend(legend(site, &contours, view_m));
    let y = canvas.legend(top, &entries);
    let left = canvas.margin() + 38.0;
    let width = (canvas.width_px() - canvas.margin() - left).min(700.0);
    let shape = (view_m[3] - view_m[1]) / (view_m[2] - view_m[0]);
    let width = (canvas.room(width * shape, y + BEARINGS_PX, FOOT_PX, 60.0) / shape).min(width);
    let height = width * shape;
    let at = |top: f64| Frame { box_px: [left, top, left + width, top + height], view_m };
    let y = bearings(&mut canvas, &at(0.0), site, y) + 8.0;
    let frame = at(y);
    canvas.clip(frame.box_px);
    for (class, (_, words, ink, pattern)) in classes.iter().enumerate() {
        let boxes = runs(map, &frame, |margin| class_of(margin) == class);
        if !boxes.is_empty() {
            canvas.drew(words);
        }
        canvas.cells(&boxes, *ink, *pattern, 0.4, 0.55);
    }
    upon(&mut canvas, &frame, site, &contours);
    super::map::ticks(&mut canvas, &frame, true, true);
    axes_words(&mut canvas, [left + width / 2.0, y + height + 30.0]);
    canvas.height_px = y + height + 42.0;
    let told = format!(
        "Of the points of the map {} in 100 have at least {} dB mean margin.",
        words::number(100.0 * map.share_with_margin(reach.needed_margin_db), 0),
        words::number(reach.needed_margin_db, 0)
    );
    let caption = "Colour and pattern: the mean margin, before fading. Where a line of chance is crossed the link may be declared lost \
                   within a stay of the time stated. Only what was drawn on the site can shade the link.";
    Some(canvas.finish(&title, caption, &told))
}

fn class_entry(words: &str, ink: Ink, pattern: Pattern) -> Entry {
    entry(words, move |canvas, at| {
        canvas.patterned(&sample_box(at), ink, pattern, 0.4, 0.55);
        canvas.outline(&sample_box(at), Ink::Soft, 1.0, 0.7);
    })
}

/// Legend of what is drawn upon the margins.
fn legend(site: &SiteMap, contours: &[ReachContour], view_m: [f64; 4]) -> Vec<Entry> {
    let mut entries = Vec::new();
    if contours.iter().any(|contour| !contour.lines_m.is_empty()) {
        entries.push(entry(CHANCE, |canvas, [x, y]| {
            canvas.line(&[[x - 11.0, y + 2.0], [x, y - 2.0], [x + 11.0, y + 1.0]], Ink::Ink, 0.9, 1.3);
        }));
    }
    entries.extend(path_legend(site));
    entries.extend(fence_legend(site));
    if !site.obstacles.is_empty() {
        entries.push(entry(OBSTACLE, |canvas, at| canvas.outline(&sample_box(at), Ink::Ink, 0.6, 0.9)));
    }
    entries.extend(place_legend(site, view_m));
    entries
}

/// What stands upon the margins: obstacles, fence, path, lines of chance with their labels, marks. Ends the clipping.
fn upon(canvas: &mut Canvas, frame: &Frame, site: &SiteMap, contours: &[ReachContour]) {
    for ring in site.obstacles.iter().flat_map(|obstacle| &obstacle.2) {
        canvas.drew(OBSTACLE);
        canvas.outline(&frame.all(ring), Ink::Ink, 0.6, 0.9);
    }
    fence_and_path(canvas, frame, site);
    for line in contours.iter().flat_map(|contour| &contour.lines_m) {
        canvas.drew(CHANCE);
        canvas.line(&frame.all(line), Ink::Ink, 0.9, 1.3);
    }
    place_marks(canvas, frame, site);
    canvas.unclip();
    let [x0, y0, x1, y1] = frame.box_px;
    canvas.outline(&Canvas::corners(x0, y0, x1, y1), Ink::Soft, 1.0, 1.0);
    for contour in contours {
        let longest = contour.lines_m.iter().max_by_key(|line| line.len());
        let Some(line) = longest.filter(|line| line.len() > 6) else { continue };
        let places = [4, 2, 6, 1, 3, 5, 7].map(|k| (frame.at(line[line.len() * k / 8]), At::Middle));
        let text = format!("{} %", words::number(contour.level * 100.0, 0));
        canvas.chip_where_free(&text, &places, frame.box_px, 10.5, Ink::Ink);
    }
}

/// Margin and chance of a declared loss along the path.
pub fn reach_path(reach: &Reach, look: Look) -> Option<Figure> {
    let last = reach.along.last().filter(|_| reach.along.len() > 1)?;
    let mut canvas = Canvas::new("reach-path", look);
    let title = "The link along the path";
    let top = canvas.head(title, "Mean margin, and what fading makes of it.");
    let margin = canvas.margin();
    let mut stack = Stack {
        sides_px: [margin + 40.0, canvas.width_px() - margin - 10.0],
        y: top + 20.0,
        height_px: 130.0,
        gap_px: 38.0,
        x: [0.0, last.flown_m.max(1.0)],
        n_ticks: if look.narrow() { 5 } else { 9 },
    };
    let high = canvas.room(240.0, stack.y, 44.0 + stack.gap_px, 100.0);
    stack.height_px = 0.54 * high;
    let [left, right] = stack.sides_px;
    let scale = axis::range(reach.along.iter().map(|p| p.margin_db).chain([-10.0, reach.needed_margin_db]), 4);
    let panel = stack.panel(&mut canvas, "Mean margin / dB", scale, 4, None);
    panel.curve(&mut canvas, reach.along.iter().map(|p| [p.flown_m, p.margin_db]), Ink::Blue, 1.8);
    let marks = [(0.0, "silent below", 8.0), (reach.needed_margin_db, "margin asked for", -8.0)];
    for (value, ..) in marks {
        let at = panel.at_y(value);
        canvas.dashed(&[[left, at], [right, at]], Ink::Ink, 0.9, 1.0, 6.0, 3.0);
    }
    // The lines may lie close together: each has its words on the far side of the other.
    for (value, words, aside) in marks {
        let at = panel.at_y(value) + aside;
        let places = [([left + 5.0, at], At::Left), ([right - 5.0, at], At::Right)];
        canvas.chip_where_free(words, &places, panel.box_px, 10.5, Ink::Ink);
    }
    // A chance spans decades.
    let log = |chance: f64| libm::log10(chance.max(crate::plan::reach::LEAST_CHANCE));
    let floor = log(0.0);
    stack.height_px = 0.46 * high;
    let panel = stack.bare(&mut canvas, "Chance of a declared loss / %", [floor, 0.0]);
    panel.x_axis(&mut canvas, stack.n_ticks, Some("Distance flown / m"));
    for (chance, label) in [(1.0, "100"), (0.1, "10"), (0.01, "1"), (0.001, "0.1"), (0.0001, "≤ 0.01")] {
        let at = panel.at_y(log(chance));
        if at > panel.box_px[3] + 0.5 {
            continue;
        }
        canvas.line(&[[left, at], [right, at]], Ink::Grid, 1.0, 0.8);
        canvas.text(label, [left - 6.0, at], At::Right, axis::TICK, Weight::Regular, Ink::Ink);
    }
    panel.curve(&mut canvas, reach.along.iter().map(|p| [p.flown_m, log(p.loss_chance)]), Ink::Vermilion, 1.8);
    canvas.height_px = panel.box_px[3] + 44.0;
    let worst = crate::plan::reach::weakest(&reach.along).and_then(|index| reach.along.get(index));
    let told = worst.map_or("No place along the path.".into(), |p| {
        format!(
            "Weakest after {} m of the path: mean margin {} dB.",
            words::number(p.flown_m, 0),
            words::number(p.margin_db, 1)
        )
    });
    let caption = "Where the margin dips under the dashed line, fading decides. The chance is for a stay at that place, not for passing it.";
    Some(canvas.finish(title, caption, &told))
}

/// The cut under the ray to the weakest place of the path. Heights are above the site's origin.
pub fn reach_section(reach: &Reach, look: Look) -> Option<Figure> {
    let place = crate::plan::reach::weakest(&reach.along).and_then(|index| reach.along.get(index))?;
    // Heights above the ground at the pilot, as readers think of them.
    let zero_m = reach.weakest.first().map_or(0.0, |p| p.ground_m);
    let points: Vec<SectionPoint> = reach
        .weakest
        .iter()
        .map(|p| SectionPoint {
            distance_m: p.distance_m,
            ground_m: p.ground_m - zero_m,
            surface_m: p.surface_m - zero_m,
            ray_m: p.ray_m - zero_m,
            fresnel_m: p.fresnel_m,
        })
        .collect();
    let section = Section {
        title: format!("weakest place, {} m along the path", words::number(place.flown_m, 0)),
        points,
        margin_db: place.margin_db,
        diffraction_db: f64::NAN,
        vegetation_db: f64::NAN,
    };
    super::along::section(0, &section, look)
}
