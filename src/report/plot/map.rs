//! Where the flights ended, a panel per policy on one scale.

use super::axis;
use super::canvas::{At, Canvas, Entry, Figure, Look, entry, sample_box};
use super::font::{self, Weight};
use super::planned::Planned;
use super::theme::{self, Ink, Pattern, Shape};
use crate::air::wind::vector_mps;
use crate::flight::{Headline, Tier};
use crate::report::words;
use crate::risk::outcome::Concern;
use crate::risk::summary::{NoReturn, PolicySummary, Relief, SiteMap, Summary};
use crate::site::{ObstacleKind, ZoneKind};

/// A map panel: metres to px, equal on both axes.
#[derive(Clone, Copy)]
pub(super) struct Frame {
    /// Left, top, right, bottom in px.
    pub box_px: [f64; 4],
    /// West, south, east, north in metres.
    pub view_m: [f64; 4],
}

impl Frame {
    /// Px per metre.
    pub fn scale(&self) -> f64 {
        (self.box_px[2] - self.box_px[0]) / (self.view_m[2] - self.view_m[0])
    }

    /// Place on the figure.
    pub fn at(&self, place_m: [f64; 2]) -> [f64; 2] {
        let scale = self.scale();
        [self.box_px[0] + (place_m[0] - self.view_m[0]) * scale, self.box_px[3] - (place_m[1] - self.view_m[1]) * scale]
    }

    /// Places on the figure.
    pub fn all(&self, places_m: &[[f64; 2]]) -> Vec<[f64; 2]> {
        places_m.iter().map(|place| self.at(*place)).collect()
    }

    fn holds(&self, place_m: [f64; 2]) -> bool {
        let [w, s, e, n] = self.view_m;
        place_m[0] >= w && place_m[0] <= e && place_m[1] >= s && place_m[1] <= n
    }
}

/// The part of the site to show: fence, path, home, pilot and all but the outermost ends.
pub(super) fn view(map: &SiteMap, policies: &[PolicySummary]) -> [f64; 4] {
    let mut x: Vec<f64> = Vec::new();
    let mut y: Vec<f64> = Vec::new();
    for end in policies.iter().flat_map(|policy| &policy.ends) {
        x.push(f64::from(end.place_m[0]));
        y.push(f64::from(end.place_m[1]));
    }
    let spread = |values: &mut Vec<f64>| -> Option<[f64; 2]> {
        values.retain(|value| value.is_finite());
        values.sort_by(f64::total_cmp);
        let skip = values.len() / 400;
        Some([*values.get(skip)?, *values.get(values.len().checked_sub(skip + 1)?)?])
    };
    let mut bounds = match (spread(&mut x), spread(&mut y)) {
        (Some(x), Some(y)) => [x[0], y[0], x[1], y[1]],
        _ => [map.home_m[0], map.home_m[1], map.home_m[0], map.home_m[1]],
    };
    let fixed = map
        .path_m
        .iter()
        .map(|p| [p[0], p[1]])
        .chain([map.home_m, map.pilot_m])
        .chain(map.fence.iter().flatten().copied());
    for place in fixed {
        bounds = [bounds[0].min(place[0]), bounds[1].min(place[1]), bounds[2].max(place[0]), bounds[3].max(place[1])];
    }
    let pad = 0.05 * (bounds[2] - bounds[0]).max(bounds[3] - bounds[1]).max(20.0);
    let [w, s, e, n] = map.extent_m;
    let mut view = [bounds[0] - pad, bounds[1] - pad, bounds[2] + pad, bounds[3] + pad];
    if e > w && n > s {
        view = [view[0].max(w), view[1].max(s), view[2].min(e), view[3].min(n)];
    }
    // Neither a ribbon nor a chimney.
    let (width, height) = (view[2] - view[0], view[3] - view[1]);
    if height < 0.5 * width {
        let more = (0.5 * width - height) / 2.0;
        view[1] -= more;
        view[3] += more;
    } else if width < 0.7 * height {
        let more = (0.7 * height - width) / 2.0;
        view[0] -= more;
        view[2] += more;
    }
    view
}

pub(super) fn middle(rings: &[Vec<[f64; 2]>]) -> Option<[f64; 2]> {
    let ring = rings.first().filter(|ring| !ring.is_empty())?;
    let n = ring.len() as f64;
    Some([ring.iter().map(|p| p[0]).sum::<f64>() / n, ring.iter().map(|p| p[1]).sum::<f64>() / n])
}

const FENCE: &str = "edge of the permitted area";
const PATH: &str = "planned path";
const HOME: &str = "home: take-off spot";
const PILOT: &str = "pilot";
const SOURCE: &str = "source of interference";
const NO_RETURN: &str = "last place from which the pack reaches home";
const CONTOUR: &str = "lines that hold 50, 90 and 99 % of the ends";
const TRACKS: &str = "some tracks from loss to end";
const RELIEF: &str = "slope of the ground, lit from the north-west";
const TERRAIN: &str = "height of the ground above home, m";

pub(super) fn obstacle_words(kind: ObstacleKind) -> &'static str {
    match kind {
        ObstacleKind::Building => "building",
        ObstacleKind::Trees => "trees",
        ObstacleKind::Wire => "wire or mast",
    }
}

pub(super) fn draw_zone(canvas: &mut Canvas, kind: ZoneKind, ring: &[[f64; 2]]) {
    let (ink, pattern, _) = theme::of_zone(kind);
    canvas.patterned(ring, ink, pattern, if kind == ZoneKind::Road { 0.30 } else { 0.16 }, 0.45);
    canvas.outline(ring, ink, 0.8, 0.9);
}

pub(super) fn draw_obstacle(canvas: &mut Canvas, kind: ObstacleKind, ring: &[[f64; 2]]) {
    match kind {
        ObstacleKind::Building => {
            canvas.area(ring, Ink::Soft, 0.55);
            canvas.outline(ring, Ink::Ink, 0.8, 1.2);
        }
        ObstacleKind::Trees => {
            canvas.patterned(ring, Ink::Green, Pattern::Dots, 0.22, 0.9);
            canvas.outline(ring, Ink::Green, 0.9, 1.0);
        }
        ObstacleKind::Wire => canvas.outline(ring, Ink::Ink, 0.9, 1.4),
    }
}

/// Steps of brightness of the relief, and how dark the darkest is.
const STEPS: usize = 7;
const DARKEST: f64 = 0.5;

/// The ground as a light from the north-west shows it: dark ink on a middle tint, in light and in dark pages alike.
fn shade(canvas: &mut Canvas, frame: &Frame, map: &SiteMap, relief: &Relief) {
    let [x0, y0, x1, y1] = frame.box_px;
    canvas.rect(x0, y0, x1, y1, Ink::Grid, 1.0);
    let [west, south, ..] = map.extent_m;
    for step in 1..STEPS {
        let mut boxes: Vec<[f64; 4]> = Vec::new();
        for (j, row) in relief.bright.iter().enumerate() {
            // Level ground has 0.71: a little shade, so that slopes towards the light stand out from it.
            let dark = |bright: f64| (((0.95 - bright).max(0.0) * STEPS as f64 / 0.9) as usize).min(STEPS - 1);
            let mut from = 0;
            for run in row.chunk_by(|a, b| dark(*a) == dark(*b)) {
                let to = from + run.len();
                if dark(run[0]) == step {
                    let corner = |i: usize, j: usize| {
                        frame.at([west + i as f64 * relief.cell_m, south + j as f64 * relief.cell_m])
                    };
                    let ([left, bottom], [right, top]) = (corner(from, j), corner(to, j + 1));
                    if right > x0 && left < x1 && bottom > y0 && top < y1 {
                        boxes.push([left.max(x0), top.max(y0), right.min(x1), bottom.min(y1)]);
                    }
                }
                from = to;
            }
        }
        canvas.cells(&boxes, Ink::Hatch, Pattern::Plain, DARKEST * step as f64 / STEPS as f64, 0.0);
    }
}

/// The ground of a panel: relief, zones, obstacles, fence, path.
pub(super) fn ground(canvas: &mut Canvas, frame: &Frame, map: &SiteMap) {
    let b = frame.box_px;
    canvas.rect(b[0], b[1], b[2], b[3], Ink::Band, 0.45);
    if let Some(relief) = &map.relief {
        canvas.drew(RELIEF);
        shade(canvas, frame, map, relief);
    }
    for (_, kind, rings) in &map.zones {
        canvas.drew(theme::of_zone(*kind).2);
        rings.iter().for_each(|ring| draw_zone(canvas, *kind, &frame.all(ring)));
    }
    for (_, kind, rings, _) in &map.obstacles {
        canvas.drew(obstacle_words(*kind));
        for ring in rings {
            draw_obstacle(canvas, *kind, &frame.all(ring));
        }
    }
    fence_and_path(canvas, frame, map);
}

/// The edge of the permitted area and the planned path.
pub(super) fn fence_and_path(canvas: &mut Canvas, frame: &Frame, map: &SiteMap) {
    for ring in &map.fence {
        canvas.drew(FENCE);
        let mut ring = frame.all(ring);
        if let Some(&first) = ring.first() {
            ring.push(first);
        }
        canvas.dashed(&ring, Ink::Ink, 0.9, 1.8, 9.0, 4.0);
    }
    if map.path_m.len() > 1 {
        canvas.drew(PATH);
        let path: Vec<[f64; 2]> = map.path_m.iter().map(|p| [p[0], p[1]]).collect();
        canvas.line(&frame.all(&path), Ink::Purple, 1.0, 1.8);
    }
}

/// Legend of the planned path, where there is one.
pub(super) fn path_legend(map: &SiteMap) -> Option<Entry> {
    (map.path_m.len() > 1).then(|| {
        entry(PATH, |canvas, [x, y]| {
            canvas.line(&[[x - 11.0, y + 3.0], [x, y - 3.0], [x + 11.0, y + 2.0]], Ink::Purple, 1.0, 1.8);
        })
    })
}

/// Legend of the edge of the permitted area, where there is one.
pub(super) fn fence_legend(map: &SiteMap) -> Option<Entry> {
    (!map.fence.is_empty()).then(|| {
        entry(FENCE, |canvas, [x, y]| canvas.dashed(&[[x - 11.0, y], [x + 13.0, y]], Ink::Ink, 0.9, 1.8, 9.0, 4.0))
    })
}

/// Sources of interference, home and pilot, upon everything.
pub(super) fn place_marks(canvas: &mut Canvas, frame: &Frame, map: &SiteMap) {
    for source in map.sources_m.iter().filter(|source| frame.holds(**source)) {
        draw_source(canvas, frame.at(*source));
        canvas.drew(SOURCE);
    }
    let home = frame.at(map.home_m);
    canvas.measured("home", home, home);
    draw_home(canvas, home);
    canvas.drew(HOME);
    if map.pilot_m != map.home_m && frame.holds(map.pilot_m) {
        let true_at = frame.at(map.pilot_m);
        let at = apart(home, true_at);
        canvas.measured("pilot", true_at, at);
        canvas.line(&[true_at, at], Ink::Ink, 1.0, 0.8);
        draw_pilot(canvas, at);
        canvas.drew(PILOT);
    }
}

/// Legend of home, pilot and the sources in view.
pub(super) fn place_legend(map: &SiteMap, view_m: [f64; 4]) -> Vec<Entry> {
    let mut entries: Vec<Entry> = vec![entry(HOME, draw_home)];
    if map.pilot_m != map.home_m {
        entries.push(entry(PILOT, draw_pilot));
    }
    if map.sources_m.iter().any(|source| first_holds(view_m, [source[0], source[1], 0.0])) {
        entries.push(entry(SOURCE, draw_source));
    }
    entries
}

/// Distance at which the marks of home and pilot do not touch.
const APART: f64 = 18.0;

/// The pilot's mark, moved away from home's along the line between them where the two would overlap.
fn apart(home: [f64; 2], pilot: [f64; 2]) -> [f64; 2] {
    let (dx, dy) = (pilot[0] - home[0], pilot[1] - home[1]);
    let distance = dx.hypot(dy);
    if distance >= APART {
        return pilot;
    }
    let [ux, uy] = if distance > 1e-6 { [dx / distance, dy / distance] } else { [-1.0, 0.0] };
    [home[0] + ux * APART, home[1] + uy * APART]
}

fn draw_home(canvas: &mut Canvas, at: [f64; 2]) {
    canvas.disc(at, 6.5, Ink::Paper, Some((Ink::Ink, 1.8)));
    canvas.marks(&[at], Shape::Disc, 2.4, Ink::Ink, 1.0);
}

/// A gate across the path, with its own paper under it.
fn draw_no_return(canvas: &mut Canvas, at: [f64; 2]) {
    canvas.marks(&[at], Shape::Diamond, 6.5, Ink::Paper, 1.0);
    canvas.marks(&[at], Shape::Diamond, 5.0, Ink::Purple, 1.0);
    canvas.line(&[[at[0] - 8.0, at[1]], [at[0] + 8.0, at[1]]], Ink::Ink, 1.0, 1.6);
}

fn draw_pilot(canvas: &mut Canvas, at: [f64; 2]) {
    let body = [
        [at[0] - 5.0, at[1] + 7.0],
        [at[0] - 3.2, at[1] - 1.5],
        [at[0] + 3.2, at[1] - 1.5],
        [at[0] + 5.0, at[1] + 7.0],
    ];
    canvas.area(&body, Ink::Ink, 1.0);
    canvas.disc([at[0], at[1] - 4.4], 3.0, Ink::Ink, Some((Ink::Paper, 0.8)));
}

/// A mast that sends to both sides.
fn draw_source(canvas: &mut Canvas, at: [f64; 2]) {
    let [x, y] = at;
    canvas.disc(at, 8.2, Ink::Paper, Some((Ink::Ink, 0.9)));
    canvas.line(&[[x, y + 6.0], [x, y - 2.0]], Ink::Ink, 1.0, 1.6);
    canvas.disc([x, y - 3.0], 1.7, Ink::Ink, None);
    for side in [-1.0, 1.0] {
        canvas.line(
            &[[x + side * 3.2, y - 5.4], [x + side * 5.2, y - 3.0], [x + side * 3.2, y - 0.6]],
            Ink::Ink,
            1.0,
            1.3,
        );
    }
}

/// Heights on the terrain lines, where there is room.
fn terrain_labels(canvas: &mut Canvas, frame: &Frame, lines: &[(f64, Vec<[f64; 2]>)]) {
    for (height, line) in lines {
        let inside: Vec<&[f64; 2]> = line.iter().filter(|p| frame.holds(**p)).collect();
        if inside.len() < 8 {
            continue;
        }
        let text = words::number(*height, 0);
        let places: Vec<([f64; 2], At)> = [0.5, 0.3, 0.7]
            .iter()
            .map(|f| (frame.at(*inside[(inside.len() as f64 * f) as usize]), At::Middle))
            .collect();
        canvas.chip_where_free(&text, &places, frame.box_px, 10.5, Ink::Soft);
    }
}

/// Names of zones and obstacles, where there is room.
pub(super) fn names(canvas: &mut Canvas, frame: &Frame, map: &SiteMap) {
    let mut wanted: Vec<(String, [f64; 2])> = Vec::new();
    for (name, kind, rings) in &map.zones {
        if let Some(at) = middle(rings).filter(|_| !name.is_empty()) {
            let first = matches!(kind, ZoneKind::People | ZoneKind::Road | ZoneKind::Property);
            wanted.insert(if first { 0 } else { wanted.len() }, (name.clone(), at));
        }
    }
    for (name, _, rings, height) in &map.obstacles {
        if let Some(at) = middle(rings).filter(|_| !name.is_empty()) {
            wanted.push((format!("{name}, {} m", words::number(*height, 0)), at));
        }
    }
    for (name, at_m) in wanted {
        let at = frame.at(at_m);
        let places: Vec<([f64; 2], At)> = [[0.0, 0.0], [0.0, 14.0], [0.0, -14.0], [0.0, 28.0], [0.0, -28.0]]
            .iter()
            .flat_map(|d| {
                [
                    ([at[0] + d[0], at[1] + d[1]], At::Middle),
                    ([at[0] - 12.0, at[1] + d[1]], At::Right),
                    ([at[0] + 12.0, at[1] + d[1]], At::Left),
                ]
            })
            .collect();
        canvas.chip_where_free(&name, &places, frame.box_px, 10.5, Ink::Soft);
    }
}

/// Height of the row of bearings, and of what stands under a map.
pub(super) const BEARINGS_PX: f64 = 44.0;
pub(super) const FOOT_PX: f64 = 48.0;

/// A round length for a scale bar of at most `limit_px`.
pub(super) fn bar_length_m(scale: f64, limit_px: f64) -> f64 {
    let most = limit_px / scale;
    let power = 10f64.powi(libm::floor(libm::log10(most)) as i32);
    [5.0, 2.0, 1.0].into_iter().map(|m| m * power).find(|length| *length <= most).unwrap_or(power)
}

/// Scale bar, north arrow and wind arrow in a row; returns the bottom.
pub(super) fn bearings(canvas: &mut Canvas, frame: &Frame, map: &SiteMap, top: f64) -> f64 {
    let y = top + 16.0;
    let mut x = scale_and_north(canvas, frame, y) + 34.0;
    let wind = map.wind;
    let text = format!(
        "wind {} m/s at {} m",
        words::number(wind.speed_mps, 1),
        words::number(wind.height_m, 1).trim_end_matches(".0")
    );
    let width = font::width_px(&text, 11.5, Weight::Regular);
    let mut bottom = y + 16.0;
    let mut row = y;
    if x + 24.0 + width > canvas.width_px() - canvas.margin() {
        x = canvas.margin() + 22.0;
        row += 28.0;
        bottom += 28.0;
    }
    // The way the air goes, by the formula that flights are flown with; down the page is south.
    let [east, north] = vector_mps(1.0, wind.from_rad);
    let (dx, dy) = (east, -north);
    let (tail, tip) = ([x - dx * 12.0, row - dy * 12.0 - 1.0], [x + dx * 12.0, row + dy * 12.0 - 1.0]);
    canvas.arrow("wind", tail, tip, Ink::Blue, 2.4, 10.0);
    canvas.text(&text, [x + 20.0, row - 1.0], At::Left, 11.5, Weight::Regular, Ink::Ink);
    bottom
}

/// Scale bar and north arrow in a row; returns their right end.
pub(super) fn scale_and_north(canvas: &mut Canvas, frame: &Frame, y: f64) -> f64 {
    let mut x = canvas.margin() + 10.0;
    // On a sheet the row has to hold the wind too.
    let length = bar_length_m(frame.scale(), if canvas.look.sheet() { 80.0 } else { 120.0 });
    let px = length * frame.scale();
    canvas.scale_bar([x, y], [x + px, y], Ink::Ink);
    let text = if length >= 1000.0 {
        format!("{} km", words::number(length / 1000.0, 0))
    } else {
        format!("{} m", words::number(length, 0))
    };
    let b = canvas.text(&text, [x + px + 7.0, y - 2.0], At::Left, 11.5, Weight::Regular, Ink::Ink);
    x = b[2] + 26.0;
    canvas.arrow("north", [x, y + 9.0], [x, y - 11.0], Ink::Ink, 1.6, 9.0);
    canvas.text("north", [x + 8.0, y - 1.0], At::Left, 11.5, Weight::Regular, Ink::Ink)[2]
}

/// Radius of a mark by how much it matters.
fn mark_radius(headline: Headline) -> f64 {
    match headline.tier() {
        Tier::Grave | Tier::Danger => 3.8,
        Tier::Trespass | Tier::CraftLost => 3.2,
        Tier::CraftAtRisk => 2.8,
        Tier::Fine | Tier::NotSettled => 1.7,
    }
}

/// The map: where flights ended under the policy that comes first, and home larger beside it.
pub fn map(summary: &Summary, look: Look) -> Figure {
    let mut canvas = Canvas::new("map", look);
    let Some(&(index, policy)) = super::ranked(summary).first() else {
        return canvas.finish("Where the flights ended", "", "No policy was flown.");
    };
    let title = format!("Where lost links ended under \"{}\"", policy.name);
    let frame_m = view(&summary.map, std::slice::from_ref(policy));
    let margin = canvas.margin();
    let under =
        format!("The first {} lost links. {}.", words::count(policy.ends.len() as u64), within(policy, frame_m));
    let top = canvas.head(&title, &under);
    let mut entries = ends_legend(&[policy]);
    entries.extend(ground_legend(&summary.map, &summary.no_return, &[(index, policy)], frame_m));
    if look.sheet() && entries.len() > SHEET_ENTRIES {
        // The ground comes last.
        for (words, _) in entries.drain(SHEET_ENTRIES - 1..) {
            canvas.explained(&words);
        }
        entries.push(entry("ground: as on the site plan", |_, _| {}));
    }
    let bottom = canvas.legend(top, &entries);
    // The near view stands beside the large one, on a phone below it.
    let near_m = near_home(&summary.map, policy, frame_m);
    let (left, right) = (margin + TICK_ROOM, canvas.width_px() - margin);
    let share = match near_m {
        None => 0.75,
        Some(_) if look.phone() => 1.0,
        Some(_) => 0.68,
    };
    let shape = (frame_m[3] - frame_m[1]) / (frame_m[2] - frame_m[0]);
    let wide = (right - left) * if look.phone() { 1.0 } else { share };
    let wide = (canvas.room(wide * shape, bottom + BEARINGS_PX, FOOT_PX, 60.0) / shape).min(wide);
    let height = wide * shape;
    let scale_at = Frame { box_px: [left, 0.0, left + wide, height], view_m: frame_m };
    let top = bearings(&mut canvas, &scale_at, &summary.map, bottom) + 12.0;
    let frame = Frame { box_px: [left, top, left + wide, top + height], view_m: frame_m };
    let back = summary.no_return.iter().find(|back| back.policy == index);
    panel(&mut canvas, &frame, &summary.map, policy, back, Detail::Large);
    let mut y = top + height;
    if let Some(half_m) = near_m {
        let edge = summary.map.home_m.map(|at| [at - half_m, at + half_m]);
        let corners =
            [[edge[0][0], edge[1][0]], [edge[0][1], edge[1][0]], [edge[0][1], edge[1][1]], [edge[0][0], edge[1][1]]];
        canvas.clip(frame.box_px);
        canvas.outline(&frame.all(&corners), Ink::Ink, 0.9, 1.0);
        canvas.unclip();
        ticks(&mut canvas, &frame, true, true);
        axes_words(&mut canvas, [left + wide / 2.0, y + 30.0]);
        let (at, side) = if look.phone() {
            ([left, y + 66.0], (right - left).min(230.0))
        } else {
            (
                [left + wide + 22.0, top + 20.0],
                (right - left - wide - 22.0).min(260.0).min(if look.sheet() { height - 40.0 } else { 260.0 }),
            )
        };
        let bottom = near_view(&mut canvas, summary, policy, at, side, half_m);
        y = if look.phone() { bottom } else { (y + 40.0).max(bottom) };
    } else {
        ticks(&mut canvas, &frame, true, true);
        axes_words(&mut canvas, [left + wide / 2.0, y + 30.0]);
        y += 40.0;
    }
    canvas.height_px = y + 6.0;
    canvas.finish(&title, &caption_of(&[policy]), told_of(policy).trim())
}

/// Where flights ended under the other policies: small panels on one scale. `None`: there is no other.
pub fn others(summary: &Summary, look: Look) -> Option<Figure> {
    let rest: Vec<(usize, &PolicySummary)> = super::ranked(summary).into_iter().skip(1).collect();
    if rest.is_empty() {
        return None;
    }
    let policies: Vec<&PolicySummary> = rest.iter().map(|row| row.1).collect();
    let mut canvas = Canvas::new("others", look);
    let title = "Where lost links ended under the other policies";
    let under = "Panels on one scale; the ground as on the site plan.";
    let top = canvas.head(title, under);
    let all: Vec<PolicySummary> = policies.iter().map(|policy| (*policy).clone()).collect();
    let view_m = view(&summary.map, &all);
    let shape = (view_m[3] - view_m[1]) / (view_m[2] - view_m[0]);
    let y = canvas.legend(top, &ends_legend(&policies)) + 6.0;
    let left = canvas.margin() + TICK_ROOM;
    let usable = canvas.width_px() - canvas.margin() - left;
    let wide = |columns: usize| ((usable - GAP * (columns - 1) as f64) / columns as f64).min(420.0);
    // On a sheet the rows share its height, names included: a narrower panel may need another line for them.
    let on_sheet = |columns: usize| {
        let rows = rest.len().div_ceil(columns) as f64;
        (0..4).fold(wide(columns), |wide, _| {
            let lines = |policy: &&PolicySummary| font::wrap(&policy.name, 12.5, Weight::Bold, wide - 4.0).len();
            let heads = 17.0 * policies.iter().map(lines).max().unwrap_or(1) as f64 + 18.0;
            let room = canvas.room(f64::INFINITY, y, 28.0, 0.0) / rows - heads;
            wide.min(room.max(30.0) / shape)
        })
    };
    let columns = match rest.len() {
        n if look.sheet() => (1..=n).max_by(|a, b| on_sheet(*a).total_cmp(&on_sheet(*b))).unwrap_or(n),
        n if look.narrow() => n.min(1),
        n if look.width_px < 800.0 => n.min(2),
        n => n.min(3),
    };
    let width = if look.sheet() { on_sheet(columns) } else { wide(columns) };
    let panels = Panels { left, width, height: width * shape, view_m };
    for (words, _) in ground_legend(&summary.map, &summary.no_return, &rest, view_m) {
        canvas.explained(&words);
    }
    let mut y = y;
    for (row_index, row) in rest.chunks(columns).enumerate() {
        let top = panels.heads(&mut canvas, row, y);
        for (column, (index, policy)) in row.iter().enumerate() {
            let frame = panels.frame(column, top);
            let back = summary.no_return.iter().find(|back| back.policy == *index);
            panel(&mut canvas, &frame, &summary.map, policy, back, Detail::Small);
            ticks(&mut canvas, &frame, column == 0, row_index * columns + column + columns >= rest.len());
        }
        y = top + panels.height + if look.sheet() { 12.0 } else { 16.0 };
    }
    let middle = canvas.width_px() / 2.0;
    axes_words(&mut canvas, [middle, y + 14.0]);
    canvas.height_px = y + 28.0;
    let told: String = policies.iter().map(|policy| told_of(policy)).collect();
    Some(canvas.finish(title, &caption_of(&policies), told.trim()))
}

/// The site with its names and heights, and no ends.
pub fn site(planned: &Planned, look: Look) -> Figure {
    let mut canvas = Canvas::new("site", look);
    let title = "Site plan";
    let map = planned.map;
    let top = canvas.head(title, "What the scenario draws, with its names; heights of obstacles above the ground.");
    let view_m = view(map, &[]);
    let left = canvas.margin() + TICK_ROOM;
    let mut entries = ground_legend(map, planned.no_return, &[], view_m);
    // On a sheet the shaded relief says it; labels of lines would crowd out names.
    let lines: &[_] = if look.sheet() && map.relief.is_some() { &[] } else { &map.terrain };
    if !lines.is_empty() {
        entries.push(entry(TERRAIN, |canvas, [x, y]| {
            canvas.line(&[[x - 11.0, y + 2.0], [x, y - 2.0], [x + 11.0, y + 2.0]], Ink::Soft, 0.9, 0.9);
        }));
    }
    let bottom = canvas.legend(top, &entries);
    let width = (canvas.width_px() - canvas.margin() - left).min(640.0);
    let shape = (view_m[3] - view_m[1]) / (view_m[2] - view_m[0]);
    let width = (canvas.room(width * shape, bottom + BEARINGS_PX, FOOT_PX, 60.0) / shape).min(width);
    let height = width * shape;
    let top = bearings(&mut canvas, &Frame { box_px: [left, 0.0, left + width, height], view_m }, map, bottom) + 12.0;
    let frame = Frame { box_px: [left, top, left + width, top + height], view_m };
    canvas.clip(frame.box_px);
    ground(&mut canvas, &frame, map);
    for (_, line) in lines {
        canvas.drew(TERRAIN);
        canvas.line(&frame.all(line), Ink::Soft, 0.8, 0.8);
    }
    let gates = gates(planned.no_return, view_m);
    for (place_m, _) in &gates {
        draw_no_return(&mut canvas, frame.at(*place_m));
        canvas.drew(NO_RETURN);
    }
    place_marks(&mut canvas, &frame, map);
    canvas.unclip();
    edge(&mut canvas, &frame);
    // Names keep off the marks of home and pilot.
    for place_m in [map.home_m, map.pilot_m] {
        let [x, y] = frame.at(place_m);
        canvas.keep_off(&[[x - 8.0, y], [x + 8.0, y], [x, y - 8.0], [x, y + 8.0]]);
    }
    names(&mut canvas, &frame, map);
    for (place_m, text) in &gates {
        let at = frame.at(*place_m);
        let places: Vec<([f64; 2], At)> = [[12.0, 0.0], [12.0, 14.0], [12.0, -14.0]]
            .iter()
            .flat_map(|d| [([at[0] + d[0], at[1] + d[1]], At::Left), ([at[0] - d[0], at[1] + d[1]], At::Right)])
            .collect();
        canvas.chip_where_free(text, &places, frame.box_px, 10.5, Ink::Ink);
    }
    terrain_labels(&mut canvas, &frame, lines);
    ticks(&mut canvas, &frame, true, true);
    axes_words(&mut canvas, [left + width / 2.0, top + height + 30.0]);
    canvas.height_px = top + height + 46.0;
    let listed = |names: Vec<String>| if names.is_empty() { "none".into() } else { words::list(&names) };
    let zones = map.zones.iter().map(|(name, kind, _)| format!("{name} ({})", theme::of_zone(*kind).2));
    let stands =
        map.obstacles.iter().map(|(name, _, _, height_m)| format!("{name}, {} m", words::number(*height_m, 0)));
    let told = format!("Zones: {}. Obstacles: {}.", listed(zones.collect()), listed(stands.collect()));
    canvas.finish(title, "Only what was drawn counts: nobody drawn is not nobody there.", &told)
}

/// Places from which the pack no longer reaches home, with their words; one label for policies that share a place.
fn gates(no_return: &[NoReturn], view_m: [f64; 4]) -> Vec<([f64; 2], String)> {
    let mut gates: Vec<([f64; 2], String)> = Vec::new();
    for back in no_return {
        let Some((place_m, distance_m)) = back.place_m.filter(|p| first_holds(view_m, *p)).zip(back.distance_m) else {
            continue;
        };
        let text = format!("no return beyond {} m", words::number(distance_m, 0));
        if gates.iter().all(|gate| gate.1 != text) {
            gates.push(([place_m[0], place_m[1]], text));
        }
    }
    gates
}

/// Entries of a legend that a sheet has room for.
const SHEET_ENTRIES: usize = 15;

/// Ends near home that make it worth a view of its own.
const NEAR_ENDS: usize = 3;

/// Half the side of the view around home; `None` when few ended there or the large view shows it well.
fn near_home(map: &SiteMap, policy: &PolicySummary, view_m: [f64; 4]) -> Option<f64> {
    let across = (view_m[2] - view_m[0]).min(view_m[3] - view_m[1]);
    let away = |place_m: [f64; 2]| (place_m[0] - map.home_m[0]).hypot(place_m[1] - map.home_m[1]);
    let mut near: Vec<f64> = policy.ends.iter().map(|end| away(end.place_m.map(f64::from))).collect();
    near.retain(|distance_m| *distance_m <= 0.12 * across);
    near.sort_by(f64::total_cmp);
    let most = *near.get((near.len().checked_sub(1)? as f64 * 0.98) as usize)?;
    let pilot_m = Some(away(map.pilot_m)).filter(|distance_m| *distance_m <= 0.12 * across).unwrap_or(0.0);
    (near.len() >= NEAR_ENDS).then_some((1.25 * most.max(pilot_m)).max(4.0))
}

/// The view around home from a place on the figure. Returns its bottom.
fn near_view(
    canvas: &mut Canvas,
    summary: &Summary,
    policy: &PolicySummary,
    [left, top]: [f64; 2],
    side: f64,
    half_m: f64,
) -> f64 {
    let map = &summary.map;
    let [x, y] = map.home_m;
    let frame = Frame {
        box_px: [left, top, left + side, top + side],
        view_m: [x - half_m, y - half_m, x + half_m, y + half_m],
    };
    canvas.text("Around home", [left, top - 10.0], At::Left, 12.0, Weight::Bold, Ink::Ink);
    panel(canvas, &frame, map, policy, None, Detail::Near);
    let length_m = bar_length_m(frame.scale(), side * 0.45);
    let (px, at) = (length_m * frame.scale(), top + side + 14.0);
    canvas.line(&[[left, at - 4.0], [left, at], [left + px, at], [left + px, at - 4.0]], Ink::Ink, 1.0, 1.6);
    let digits = usize::from(length_m < 1.0);
    let text = format!("{} m", words::number(length_m, digits));
    canvas.text(&text, [left + px + 7.0, at - 1.0], At::Left, 11.0, Weight::Regular, Ink::Ink);
    top + side + 26.0
}

/// Legend of the ends seen under some policies, worst first.
fn ends_legend(policies: &[&PolicySummary]) -> Vec<Entry> {
    let seen =
        |headline: &Headline| policies.iter().any(|policy| policy.ends.iter().any(|end| end.headline == *headline));
    let ends = Headline::ALL.into_iter().filter(seen).map(|headline| {
        let style = theme::of_headline(headline);
        entry(headline.label(), move |canvas, at| {
            canvas.marks(&[at], style.shape, mark_radius(headline).max(2.6) + 0.6, style.ink, 1.0);
        })
    });
    ends.collect()
}

fn caption_of(policies: &[&PolicySummary]) -> String {
    let kernels = policies.iter().map(|policy| policy.kernel_m).filter(|k| k.is_finite() && *k > 0.0);
    let kernel = kernels.fold(0.0, f64::max);
    let rings = policies.iter().any(|policy| rings(policy).next().is_some());
    // Too few ends for lines: then nothing is said of them.
    let lines = if rings {
        format!(" Contours are smoothed (kernel up to {} m); some landings lie outside them.", words::number(kernel, 1))
    } else {
        String::new()
    };
    format!(
        "Every mark is one simulated end; its shape and colour say what happened, danger to people in the darkest ink.{lines} People \
         count only where they were drawn."
    )
}

/// Legend of what stands on the ground, and of what these policies add to it beside their ends.
fn ground_legend(
    map: &SiteMap,
    no_return: &[NoReturn],
    policies: &[(usize, &PolicySummary)],
    view_m: [f64; 4],
) -> Vec<Entry> {
    let mut entries: Vec<Entry> = Vec::new();
    if policies.iter().any(|(_, policy)| rings(policy).next().is_some()) {
        let line = |canvas: &mut Canvas, [x, y]: [f64; 2]| {
            canvas.line(&[[x - 11.0, y], [x + 11.0, y]], Ink::Ink, 0.9, 1.1);
        };
        entries.push(entry(CONTOUR, line));
    }
    entries.extend(path_legend(map));
    if policies.iter().any(|(_, policy)| !policy.tracks_m.is_empty()) {
        entries.push(entry(TRACKS, |canvas, [x, y]| {
            canvas.line(&[[x - 11.0, y - 3.0], [x + 3.0, y - 1.0], [x + 11.0, y + 4.0]], Ink::Blue, 0.7, 1.0);
        }));
    }
    let told = |back: &NoReturn| policies.is_empty() || policies.iter().any(|(index, _)| *index == back.policy);
    if no_return.iter().any(|back| told(back) && back.place_m.is_some_and(|p| first_holds(view_m, p))) {
        entries.push(entry(NO_RETURN, draw_no_return));
    }
    entries.extend(place_legend(map, view_m));
    entries.extend(fence_legend(map));
    let kinds =
        [ZoneKind::Clear, ZoneKind::Rough, ZoneKind::Water, ZoneKind::Road, ZoneKind::People, ZoneKind::Property];
    for kind in kinds.into_iter().filter(|kind| map.zones.iter().any(|zone| zone.1 == *kind)) {
        let (_, _, words) = theme::of_zone(kind);
        entries.push(entry(words, move |canvas, at| draw_zone(canvas, kind, &sample_box(at))));
    }
    let kinds = [ObstacleKind::Building, ObstacleKind::Trees, ObstacleKind::Wire];
    for kind in kinds.into_iter().filter(|kind| map.obstacles.iter().any(|obstacle| obstacle.1 == *kind)) {
        entries.push(entry(obstacle_words(kind), move |canvas, [x, y]| {
            let half = if kind == ObstacleKind::Wire { 0.7 } else { 6.0 };
            draw_obstacle(canvas, kind, &Canvas::corners(x - 11.0, y - half, x + 11.0, y + half));
        }));
    }
    entries.extend(relief_legend(map));
    entries
}

/// Legend of the relief, where there is one.
pub(super) fn relief_legend(map: &SiteMap) -> Option<Entry> {
    map.relief.is_some().then(|| {
        entry(RELIEF, |canvas, at| {
            canvas.area(&sample_box(at), Ink::Grid, 1.0);
            let [x, y] = at;
            canvas.area(&Canvas::corners(x, y - 6.0, x + 11.0, y + 6.0), Ink::Hatch, 0.35);
        })
    })
}

/// How small panels stand: size of one, room for its ticks at the left.
struct Panels {
    left: f64,
    width: f64,
    height: f64,
    view_m: [f64; 4],
}

const GAP: f64 = 14.0;
const TICK_ROOM: f64 = 36.0;

impl Panels {
    fn frame(&self, column: usize, top: f64) -> Frame {
        let left = self.left + column as f64 * (self.width + GAP);
        Frame { box_px: [left, top, left + self.width, top + self.height], view_m: self.view_m }
    }

    /// Names over a row of panels, and where there is room distances. Returns the bottom.
    fn heads(&self, canvas: &mut Canvas, row: &[(usize, &PolicySummary)], y: f64) -> f64 {
        let (mut head_rows, mut under_rows) = (1, 1);
        for (column, (_, policy)) in row.iter().enumerate() {
            let [left, ..] = self.frame(column, y).box_px;
            let name = font::wrap(&policy.name, 12.5, Weight::Bold, self.width - 4.0);
            let under = if canvas.look.sheet() {
                vec![]
            } else {
                font::wrap(&within(policy, self.view_m), 11.0, Weight::Regular, self.width - 4.0)
            };
            for (index, line) in name.iter().enumerate() {
                canvas.text(line, [left, y + 6.0 + 17.0 * index as f64], At::Left, 12.5, Weight::Bold, Ink::Ink);
            }
            for (index, line) in under.iter().enumerate() {
                let at = [left, y + 6.0 + 17.0 * name.len() as f64 + 15.0 * index as f64];
                canvas.text(line, at, At::Left, 11.0, Weight::Regular, Ink::Soft);
            }
            (head_rows, under_rows) = (head_rows.max(name.len()), under_rows.max(under.len()));
        }
        y + head_rows as f64 * 17.0 + if canvas.look.sheet() { 0.0 } else { under_rows as f64 * 15.0 } + 5.0
    }
}

/// How far from home ends lie, and how many a view leaves out.
fn within(policy: &PolicySummary, view_m: [f64; 4]) -> String {
    let outside =
        policy.ends.iter().filter(|end| !first_holds(view_m, [end.place_m[0].into(), end.place_m[1].into(), 0.0]));
    let text = match policy.within_99_m {
        Some(_) => format!("99 % within {} m of home", words::within(policy.within_99_m)),
        None => "99 % of distances not bounded by this many flights".into(),
    };
    match outside.count() {
        0 => text,
        n => format!("{text}; {n} outside this view"),
    }
}

/// Ends that make a group: rings round fewer tell of single ends and are left out.
const GROUP: usize = 5;

/// Contour rings that hold a group of ends.
fn rings(policy: &PolicySummary) -> impl Iterator<Item = (f64, &Vec<[f64; 2]>)> {
    let holds = |ring: &[[f64; 2]]| {
        let within = policy.ends.iter().filter(|end| inside(ring, end.place_m.map(f64::from)));
        within.take(GROUP).count() == GROUP
    };
    policy
        .contours
        .iter()
        .flat_map(|contour| contour.rings_m.iter().map(move |ring| (contour.share, ring)))
        .filter(move |(_, ring)| holds(ring))
}

/// Whether a closed ring holds a place: a ray from it crosses the ring an odd number of times.
fn inside(ring: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    let mut odd = false;
    for (index, &[x0, y0]) in ring.iter().enumerate() {
        let [x1, y1] = ring[(index + 1) % ring.len()];
        if (y0 > y) != (y1 > y) && x < x0 + (y - y0) / (y1 - y0) * (x1 - x0) {
            odd = !odd;
        }
    }
    odd
}

/// What the axes of a map are.
pub(super) fn axes_words(canvas: &mut Canvas, at: [f64; 2]) {
    let words = "Metres east and north of the site's origin";
    canvas.text_inside(words, at, 11.5, Weight::Regular, Ink::Ink);
}

fn told_of(policy: &PolicySummary) -> String {
    let distances = policy
        .circles_m
        .map(|value| if value.is_finite() { format!("{} m", words::number(value, 0)) } else { "no bound".into() });
    format!("{}: circles around home that held 50, 90 and 99 % of the ends: {}. ", policy.name, distances.join(", "))
}

/// Whether a view shows a place.
fn first_holds(view_m: [f64; 4], place_m: [f64; 3]) -> bool {
    Frame { box_px: [0.0, 0.0, 1.0, 1.0], view_m }.holds([place_m[0], place_m[1]])
}

/// What a panel is for: the large view, a small one among others, the view around home.
#[derive(Clone, Copy, PartialEq)]
enum Detail {
    Large,
    Small,
    Near,
}

fn edge(canvas: &mut Canvas, frame: &Frame) {
    let [x0, y0, x1, y1] = frame.box_px;
    canvas.outline(&Canvas::corners(x0, y0, x1, y1), Ink::Soft, 1.0, 1.0);
}

fn panel(
    canvas: &mut Canvas,
    frame: &Frame,
    map: &SiteMap,
    policy: &PolicySummary,
    back: Option<&NoReturn>,
    detail: Detail,
) {
    canvas.clip(frame.box_px);
    ground(canvas, frame, map);
    let rings: Vec<(f64, &Vec<[f64; 2]>)> = if detail == Detail::Near { vec![] } else { rings(policy).collect() };
    for (_, ring) in &rings {
        canvas.drew(CONTOUR);
        canvas.outline(&frame.all(ring), Ink::Ink, 0.85, 1.1);
    }
    for track in &policy.tracks_m {
        canvas.drew(TRACKS);
        let track: Vec<[f64; 2]> = track.iter().map(|p| frame.at(p.map(f64::from))).collect();
        canvas.line(&track, Ink::Blue, 0.55, 0.9);
    }
    // Around home its mark lies under the ends.
    if detail == Detail::Near {
        place_marks(canvas, frame, map);
    }
    end_marks(canvas, frame, policy);
    let gate = back.and_then(|back| back.place_m).filter(|p| frame.holds([p[0], p[1]]));
    if let Some(place) = gate {
        draw_no_return(canvas, frame.at([place[0], place[1]]));
        canvas.drew(NO_RETURN);
    }
    if detail != Detail::Near {
        place_marks(canvas, frame, map);
    }
    canvas.unclip();
    edge(canvas, frame);
    if detail != Detail::Large {
        return;
    }
    for share in [0.5, 0.9, 0.99] {
        let text = format!("{} %", words::number(share * 100.0, 0));
        let longest = rings.iter().filter(|(this, _)| *this == share).max_by_key(|(_, ring)| ring.len());
        let Some((_, ring)) = longest.filter(|(_, ring)| ring.len() > 5) else { continue };
        // A label would hide a small ring and the ends within it.
        let across = |axis: usize| {
            let values = || ring.iter().map(|p| p[axis]);
            values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min)
        };
        if across(0).min(across(1)) * frame.scale() < 36.0 {
            continue;
        }
        let places: Vec<([f64; 2], At)> = (0..8).map(|k| (frame.at(ring[ring.len() * k / 8]), At::Middle)).collect();
        canvas.chip_where_free(&text, &places, frame.box_px, 10.5, Ink::Ink);
    }
}

/// The ends, the frequent and harmless below, the rare and bad on top.
fn end_marks(canvas: &mut Canvas, frame: &Frame, policy: &PolicySummary) {
    for headline in Headline::ALL.into_iter().rev() {
        let places: Vec<[f64; 2]> = policy
            .ends
            .iter()
            .filter(|end| end.headline == headline)
            .map(|end| frame.at(end.place_m.map(f64::from)))
            .filter(|p| p[0].is_finite() && p[1].is_finite())
            .collect();
        if !places.is_empty() {
            canvas.drew(headline.label());
        }
        let style = theme::of_headline(headline);
        // Smaller and fainter where there are many, so that a crowd shows its middle; danger stays as it is.
        let crowded = places.len() > 300 && !Concern::Danger.counts(headline);
        let radius = mark_radius(headline) * if crowded { 0.8 } else { 1.0 };
        let alpha = if crowded { 0.55 } else { 0.9 };
        canvas.marks(&places, style.shape, radius, style.ink, alpha);
    }
}

pub(super) fn ticks(canvas: &mut Canvas, frame: &Frame, left: bool, bottom: bool) {
    let [x0, _, x1, y1] = frame.box_px;
    let n = ((x1 - x0) / 60.0).clamp(2.0, 7.0) as usize;
    let across = axis::ticks(frame.view_m[0], frame.view_m[2], n);
    let step = across.values.windows(2).map(|pair| pair[1] - pair[0]).next().unwrap_or(f64::INFINITY);
    if bottom {
        for &value in &across.values {
            let x = frame.at([value, 0.0])[0];
            canvas.line(&[[x, y1], [x, y1 + 4.0]], Ink::Soft, 1.0, 1.0);
            let text = across.label(value);
            let b = canvas.box_of(&text, [x, y1 + 11.0], At::Middle, 10.5, Weight::Regular);
            if b[0] >= x0 - 12.0 && b[2] <= x1 + 6.0 {
                canvas.text(&text, [x, y1 + 11.0], At::Middle, 10.5, Weight::Regular, Ink::Ink);
            }
        }
    }
    if left && step.is_finite() {
        let first = (frame.view_m[1] / step).ceil() as i64;
        for k in first..=(frame.view_m[3] / step).floor() as i64 {
            let value = k as f64 * step;
            let y = frame.at([0.0, value])[1];
            canvas.line(&[[x0 - 4.0, y], [x0, y]], Ink::Soft, 1.0, 1.0);
            canvas.text(&across.label(value), [x0 - 6.0, y], At::Right, 10.5, Weight::Regular, Ink::Ink);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_of_home_and_pilot_do_not_touch() {
        for pilot in [[100.0, 100.0], [103.0, 104.0], [100.0, 117.9], [60.0, 100.0]] {
            let at = apart([100.0, 100.0], pilot);
            assert!((at[0] - 100.0).hypot(at[1] - 100.0) >= APART - 1e-9, "{pilot:?}: {at:?}");
        }
        assert_eq!(apart([0.0, 0.0], [30.0, 40.0]), [30.0, 40.0]);
    }

    #[test]
    fn a_ring_holds_what_lies_in_it() {
        let ring = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [5.0, 4.0], [0.0, 10.0]];
        assert!(inside(&ring, [2.0, 2.0]) && inside(&ring, [9.0, 7.0]));
        assert!(!inside(&ring, [5.0, 8.0]) && !inside(&ring, [-1.0, 5.0]) && !inside(&[], [0.0, 0.0]));
    }
}
