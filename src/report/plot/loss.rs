//! One lost link under several policies: from above, from the side, over time, at its key moments, and as a slide.
//!
//! Policies are told apart by line pattern and by the shape of their mark, and named in a legend; colour only repeats it.

use super::axis::{self, Panel, Stack};
use super::canvas::{At, Canvas, Entry, Figure, Look, entry};
use super::font::{self, Weight};
use super::map::{self, Frame};
use super::theme::{self, Ink, Shape};
use crate::flight::{Trace, TraceRow};
use crate::report::words;
use crate::risk::summary::SiteMap;
use crate::site::{ObstacleKind, ZoneKind};
use crate::story::{About, Told};
use serde::Serialize;

/// How one policy is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Colour.
    pub ink: Ink,
    /// Length of its dashes and of the gaps between them, px; a gap of 0: an unbroken line.
    pub dash_px: [f64; 2],
    /// Shape of its mark.
    pub shape: Shape,
}

/// Strokes by the place of the policy in the list; a seventh policy begins again with hollow marks.
const STROKES: [Stroke; 6] = [
    Stroke { ink: Ink::Blue, dash_px: [1.0, 0.0], shape: Shape::Disc },
    Stroke { ink: Ink::Vermilion, dash_px: [9.0, 4.0], shape: Shape::Square },
    Stroke { ink: Ink::Green, dash_px: [2.0, 3.0], shape: Shape::Up },
    Stroke { ink: Ink::Orange, dash_px: [15.0, 5.0], shape: Shape::Diamond },
    Stroke { ink: Ink::Ink, dash_px: [5.0, 2.5], shape: Shape::Down },
    Stroke { ink: Ink::Sky, dash_px: [2.0, 6.0], shape: Shape::Cross },
];

/// How the policy at a place in the list is drawn.
pub fn stroke_of(policy: usize) -> Stroke {
    let stroke = STROKES[policy % STROKES.len()];
    let shape = match (policy / STROKES.len(), stroke.shape) {
        (0, shape) => shape,
        (_, Shape::Disc) => Shape::Ring,
        (_, Shape::Square) => Shape::Frame,
        (_, Shape::Up | Shape::Down) => Shape::Hollow,
        (_, Shape::Diamond) => Shape::Lozenge,
        _ => Shape::Plus,
    };
    Stroke { shape, ..stroke }
}

/// Where the values of a panel lie on its drawing, so that a script can put a mark on it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scale {
    /// Which panel: `plan`, `side`, or a key of [`LINES`].
    pub key: String,
    /// Left, top, right, bottom in px.
    pub box_px: [f64; 4],
    /// Values at the left and at the right edge.
    pub x: [f64; 2],
    /// Values at the bottom and at the top.
    pub y: [f64; 2],
}

/// A figure with the scales of its panels.
#[derive(Debug, Clone)]
pub struct Scaled {
    /// The drawing.
    pub figure: Figure,
    /// Its panels.
    pub scales: Vec<Scale>,
}

/// A quantity drawn over time: its key, its name with the unit, how to read it off a row.
pub struct Line {
    /// Key in the data.
    pub key: &'static str,
    /// Name over the panel.
    pub name: &'static str,
    /// Its value.
    pub value: fn(&Told, &TraceRow) -> f64,
}

/// The quantities over time, from the top.
pub const LINES: [Line; 5] = [
    Line { key: "height_m", name: "Height above the take-off spot / m", value: |_, row| row.height_m },
    Line { key: "from_home_m", name: "Distance from the take-off spot / m", value: from_home_m },
    Line { key: "people_m", name: "Distance to the nearest people / m", value: |_, row| row.people_m },
    Line { key: "fix_error_m", name: "Error of the believed place / m", value: |_, row| row.fix_error_m },
    Line { key: "charge_pct", name: "Charge in the pack / %", value: |_, row| row.charge_pct },
];

/// Horizontal distance from the take-off spot.
pub fn from_home_m(told: &Told, row: &TraceRow) -> f64 {
    let [x, y] = told.map.home_m;
    (row.place_m[0] - x).hypot(row.place_m[1] - y)
}

/// Name of the track at a place in the list: its policy, or the pilot when the link was never lost.
pub fn name_of(told: &Told, index: usize) -> &str {
    told.story.policies.get(index).map_or("the flight", |policy| &policy.name)
}

/// The mark of a policy.
pub(super) fn mark(canvas: &mut Canvas, at: [f64; 2], stroke: Stroke, radius: f64) {
    // Paper under it, so that it reads on any line.
    canvas.disc(at, radius + 1.6, Ink::Paper, None);
    canvas.marks(&[at], stroke.shape, radius, stroke.ink, 1.0);
}

/// The way of a policy.
pub(super) fn track(canvas: &mut Canvas, points: &[[f64; 2]], stroke: Stroke, width: f64) {
    let [on, off] = stroke.dash_px;
    if off > 0.0 {
        canvas.dashed(points, stroke.ink, 0.95, width, on, off);
    } else {
        canvas.line(points, stroke.ink, 0.95, width);
    }
    canvas.keep_off(points);
}

fn legend(told: &Told) -> Vec<Entry> {
    let one = |index: usize| {
        let stroke = stroke_of(index);
        entry(name_of(told, index), move |canvas, [x, y]| {
            track(canvas, &[[x - 13.0, y], [x + 13.0, y]], stroke, 2.0);
            mark(canvas, [x, y], stroke, 3.6);
        })
    };
    (0..told.traces.len()).map(one).collect()
}

/// What part of the site to show: all that is flown in the time worth watching, and the take-off spot; `high` over wide.
fn view(told: &Told, high: f64) -> [f64; 4] {
    let [x, y] = told.map.home_m;
    let mut bounds = [x, y, x, y];
    for row in told.traces.iter().flat_map(|trace| told.watched(trace)) {
        let [x, y, _] = row.place_m;
        bounds = [bounds[0].min(x), bounds[1].min(y), bounds[2].max(x), bounds[3].max(y)];
    }
    let size = [bounds[2] - bounds[0], bounds[3] - bounds[1]];
    let pad = 0.1 * size[0].max(size[1]).max(40.0);
    let wide = (size[0] + 2.0 * pad).max((size[1] + 2.0 * pad) / high);
    let tall = wide * high;
    let middle = [0.5 * (bounds[0] + bounds[2]), 0.5 * (bounds[1] + bounds[3])];
    [middle[0] - 0.5 * wide, middle[1] - 0.5 * tall, middle[0] + 0.5 * wide, middle[1] + 0.5 * tall]
}

/// The ground with the tracks of all policies on it.
fn ground(canvas: &mut Canvas, frame: &Frame, told: &Told, width: f64) {
    canvas.clip(frame.box_px);
    map::ground(canvas, frame, &told.map);
    for (index, trace) in told.traces.iter().enumerate() {
        let points = told.watched(trace).iter().map(|row| frame.at([row.place_m[0], row.place_m[1]]));
        track(canvas, &thinned(points), stroke_of(index), width);
    }
    map::place_marks(canvas, frame, &told.map);
    canvas.unclip();
    let [x0, y0, x1, y1] = frame.box_px;
    canvas.outline(&Canvas::corners(x0, y0, x1, y1), Ink::Soft, 1.0, 1.0);
}

/// Those of the points that are numbers, at least half a px apart, with the last one.
pub(super) fn thinned(points: impl Iterator<Item = [f64; 2]>) -> Vec<[f64; 2]> {
    let all: Vec<[f64; 2]> = points.filter(|p| p.iter().all(|x| x.is_finite())).collect();
    let mut kept: Vec<[f64; 2]> = Vec::new();
    for (index, point) in all.iter().enumerate() {
        let far = kept.last().is_none_or(|last| (point[0] - last[0]).hypot(point[1] - last[1]) >= 0.5);
        if far || index + 1 == all.len() {
            kept.push(*point);
        }
    }
    kept
}

fn marks_at(canvas: &mut Canvas, told: &Told, time_s: f64, radius: f64, place: impl Fn(&TraceRow) -> [f64; 2]) {
    // The first policy on top: it stands first in every list.
    for (index, trace) in told.traces.iter().enumerate().rev() {
        if let Some(row) = trace.at(time_s) {
            mark(canvas, place(row), stroke_of(index), radius);
        }
    }
}

/// What stands on the ground in view; what lies outside of it needs no explaining.
pub(super) fn ground_legend(canvas: &mut Canvas, map: &SiteMap, view_m: [f64; 4]) -> Vec<Entry> {
    let kinds = map.zones.iter().map(|zone| theme::of_zone(zone.1).2);
    for words in kinds.chain(map.obstacles.iter().map(|at| map::obstacle_words(at.1))) {
        canvas.explained(words);
    }
    let mut entries = map::place_legend(map, view_m);
    entries.extend(map::path_legend(map));
    entries.extend(map::fence_legend(map));
    let kinds =
        [ZoneKind::Clear, ZoneKind::Rough, ZoneKind::Water, ZoneKind::Road, ZoneKind::People, ZoneKind::Property];
    let in_view = |rings: &[Vec<[f64; 2]>]| rings.iter().any(|ring| meets(view_m, ring));
    for kind in kinds.into_iter().filter(|kind| map.zones.iter().any(|zone| zone.1 == *kind && in_view(&zone.2))) {
        let (_, _, words) = theme::of_zone(kind);
        entries.push(entry(words, move |canvas, at| map::draw_zone(canvas, kind, &super::canvas::sample_box(at))));
    }
    let kinds = [ObstacleKind::Building, ObstacleKind::Trees, ObstacleKind::Wire];
    let stands = |kind: ObstacleKind| map.obstacles.iter().any(|at| at.1 == kind && in_view(&at.2));
    for kind in kinds.into_iter().filter(|kind| stands(*kind)) {
        entries.push(entry(map::obstacle_words(kind), move |canvas, [x, y]| {
            let half = if kind == ObstacleKind::Wire { 0.7 } else { 6.0 };
            map::draw_obstacle(canvas, kind, &Canvas::corners(x - 11.0, y - half, x + 11.0, y + half));
        }));
    }
    entries.extend(map::relief_legend(map));
    entries
}

/// Whether what surrounds some places reaches into a view.
fn meets(view_m: [f64; 4], places_m: &[[f64; 2]]) -> bool {
    let bound = |axis: usize, pick: fn(f64, f64) -> f64, from: f64| places_m.iter().map(|p| p[axis]).fold(from, pick);
    let least = [0, 1].map(|axis| bound(axis, f64::min, f64::INFINITY));
    let most = [0, 1].map(|axis| bound(axis, f64::max, f64::NEG_INFINITY));
    (0..2).all(|axis| least[axis] <= view_m[axis + 2] && most[axis] >= view_m[axis])
}

/// Names of the ends beside them, where there is room.
fn name_ends(canvas: &mut Canvas, told: &Told, within: [f64; 4], size: f64, place: impl Fn(&TraceRow) -> [f64; 2]) {
    for (index, trace) in told.traces.iter().enumerate() {
        let Some(row) = trace.rows.last() else { continue };
        let at = place(row);
        let gap = 9.0;
        let places: Vec<([f64; 2], At)> = [0.0, -13.0, 13.0, -26.0, 26.0]
            .iter()
            .flat_map(|dy| [([at[0] + gap, at[1] + dy], At::Left), ([at[0] - gap, at[1] + dy], At::Right)])
            .collect();
        canvas.chip_where_free(name_of(told, index), &places, within, size, Ink::Ink);
    }
}

const PLAN: &str = "One lost link from above";
const SIDE: &str = "One lost link from the side";
const OVER_TIME: &str = "One lost link over time";
const MOMENTS: &str = "Key moments of one lost link";

/// Which flight it is, for a figure that stands alone: on a page the story says it.
fn picked(told: &Told, look: Look) -> String {
    match look.cautioned {
        true => format!("Flight {}: {}.", told.story.flight, told.story.picked),
        false => String::new(),
    }
}

/// From above.
pub fn plan(told: &Told, look: Look) -> Scaled {
    let mut canvas = Canvas::new("loss-plan", look);
    let top = canvas.head(if look.cautioned { PLAN } else { "From above" }, &picked(told, look));
    canvas.keep_beside(top, 0.29 * look.width_px);
    let mut bottom = canvas.legend(top, &legend(told)) + 4.0;
    let left = canvas.margin() + 36.0;
    let right = canvas.width_px() - canvas.margin() - 4.0;
    let high = if look.narrow() { 0.95 } else { 0.6 };
    let high = canvas.room(high * (right - left), bottom + map::BEARINGS_PX, map::FOOT_PX, 60.0) / (right - left);
    let view_m = view(told, high);
    let at = |top: f64| Frame { box_px: [left, top, right, top + (right - left) * high], view_m };
    bottom = map::bearings(&mut canvas, &at(0.0), &told.map, bottom) + 8.0;
    let frame = at(bottom);
    ground(&mut canvas, &frame, told, 1.6);
    let place = |row: &TraceRow| frame.at([row.place_m[0], row.place_m[1]]);
    if let Some(lost_s) = told.story.lost_at_s {
        lost_sign(&mut canvas, told, lost_s, frame.box_px, &place);
    }
    marks_at(&mut canvas, told, f64::INFINITY, 4.2, place);
    name_ends(&mut canvas, told, frame.box_px, 10.0, place);
    map::names(&mut canvas, &frame, &told.map);
    map::ticks(&mut canvas, &frame, true, true);
    let y = frame.box_px[3] + 30.0;
    let middle = canvas.width_px() / 2.0;
    map::axes_words(&mut canvas, [middle, y]);
    let entries = ground_legend(&mut canvas, &told.map, view_m);
    canvas.height_px = canvas.legend(y + 10.0, &entries) + 4.0;
    let caption = "Each line is the way of the craft under one policy, from shortly before the silence to the end; its mark stands \
                   where it ended. The wind arrow shows where the mean wind of this flight goes.";
    let figure = canvas.finish(PLAN, caption, &ends_in_words(told));
    let [w, s, e, n] = view_m;
    let scale = Scale { key: "plan".into(), box_px: frame.box_px, x: [w, e], y: [s, n] };
    Scaled { figure, scales: vec![scale] }
}

/// The cross where a link was called lost, on paper, so that it reads on any line.
pub(super) fn cross(canvas: &mut Canvas, [x, y]: [f64; 2], half: f64, width: f64) {
    for (ink, alpha, wide) in [(Ink::Paper, 0.9, 2.0), (Ink::Ink, 1.0, 1.0)] {
        for up in [half, -half] {
            canvas.line(&[[x - half, y - up], [x + half, y + up]], ink, alpha, wide * width);
        }
    }
}

/// Where the link was called lost.
fn lost_sign(canvas: &mut Canvas, told: &Told, lost_s: f64, within: [f64; 4], place: &impl Fn(&TraceRow) -> [f64; 2]) {
    let Some(row) = told.traces.first().and_then(|trace| trace.at(lost_s)) else { return };
    let [x, y] = place(row);
    cross(canvas, [x, y], 5.0, 2.2);
    let places: Vec<([f64; 2], At)> = [-12.0, 12.0, -24.0, 24.0, 0.0]
        .iter()
        .flat_map(|dy| [([x + 8.0, y + dy], At::Left), ([x - 8.0, y + dy], At::Right), ([x, y + dy], At::Middle)])
        .collect();
    canvas.chip_where_free("link lost", &places, within, 10.0, Ink::Ink);
}

fn side_scale(told: &Told) -> [[f64; 2]; 2] {
    let points = &told.cut.points;
    let across = [points.first().map_or(0.0, |p| p.along_m), points.last().map_or(1.0, |p| p.along_m)];
    let heights = told.traces.iter().flat_map(|trace| told.watched(trace)).map(|row| row.height_m);
    let all = heights.chain(points.iter().map(|p| p.surface_m)).chain([0.0]);
    [across, axis::range(all, 4)]
}

fn side_tracks(canvas: &mut Canvas, panel: &Panel, told: &Told, width: f64) {
    panel.surface(canvas, told.cut.points.iter().map(|point| [point.along_m, point.surface_m]));
    for (index, trace) in told.traces.iter().enumerate() {
        let rows = told.watched(trace).iter();
        let points = rows.map(|row| panel.at(told.along_m(row.place_m), row.height_m));
        track(canvas, &thinned(points), stroke_of(index), width);
    }
}

/// From the side.
pub fn side(told: &Told, look: Look) -> Scaled {
    let mut canvas = Canvas::new("loss-side", look);
    let top = canvas.head(if look.cautioned { SIDE } else { "From the side" }, &picked(told, look));
    canvas.keep_beside(top, 0.29 * look.width_px);
    let top = canvas.legend(top, &legend(told)) + 26.0;
    let [x, y] = side_scale(told);
    let height = canvas.room(if look.narrow() { 230.0 } else { 300.0 }, top, 46.0, 80.0);
    let sides = [canvas.margin() + 40.0, canvas.width_px() - canvas.margin() - 8.0];
    let n_ticks = if look.narrow() { 5 } else { 9 };
    let mut stack = Stack { sides_px: sides, y: top, height_px: height, gap_px: 36.0, x, n_ticks };
    let label = "Along the line from take-off to the place of the loss / m";
    let panel = stack.panel(&mut canvas, "Height above the take-off spot / m", y, 4, Some(label));
    canvas.clip(panel.box_px);
    side_tracks(&mut canvas, &panel, told, 1.6);
    canvas.unclip();
    let place = |row: &TraceRow| panel.at(told.along_m(row.place_m), row.height_m);
    let home = panel.at(0.0, 0.0);
    canvas.disc(home, 5.0, Ink::Paper, Some((Ink::Ink, 1.6)));
    if let Some(lost_s) = told.story.lost_at_s {
        lost_sign(&mut canvas, told, lost_s, panel.box_px, &place);
    }
    marks_at(&mut canvas, told, f64::INFINITY, 4.2, place);
    name_ends(&mut canvas, told, panel.box_px, 10.0, place);
    let y_px = panel.box_px[3] + 42.0;
    let entries = vec![
        entry("take-off spot", |canvas, at| canvas.disc(at, 5.0, Ink::Paper, Some((Ink::Ink, 1.6)))),
        entry("ground, trees, roofs on that line", |canvas, at| {
            let shape = super::canvas::sample_box(at);
            canvas.patterned(&shape, Ink::Soft, theme::Pattern::Rising, 0.25, 0.5);
        }),
    ];
    canvas.height_px = canvas.legend(y_px, &entries) + 4.0;
    let caption = "A cut from the take-off spot towards the place of the loss, seen from its right; heights are drawn larger than \
                   lengths. What is flown beside the line is shown as if on it: what stands below may be other than drawn.";
    let figure = canvas.finish(SIDE, caption, &ends_in_words(told));
    let scale = Scale { key: "side".into(), box_px: panel.box_px, x: panel.x, y: panel.y };
    Scaled { figure, scales: vec![scale] }
}

/// Quantities over time that a sheet has room for.
const ON_SHEET: usize = 3;

/// Over time.
pub fn lines(told: &Told, look: Look) -> Scaled {
    let mut canvas = Canvas::new("loss-lines", look);
    let top = canvas.head(if look.cautioned { OVER_TIME } else { "Over time" }, &picked(told, look));
    let top = canvas.legend(top, &legend(told)) + 24.0;
    let sides = [canvas.margin() + 40.0, canvas.width_px() - canvas.margin() - 8.0];
    let n_ticks = if look.narrow() { 5 } else { 9 };
    let mut stack = Stack { sides_px: sides, y: top, height_px: 74.0, gap_px: 32.0, x: told.window_s(), n_ticks };
    let mut scales = Vec::new();
    let any = |line: &&Line| {
        told.traces.iter().flat_map(|trace| told.watched(trace)).any(|row| (line.value)(told, row).is_finite())
    };
    let mut shown: Vec<&Line> = LINES.iter().filter(any).collect();
    if look.sheet() {
        shown.truncate(ON_SHEET);
        let gaps = stack.gap_px * (shown.len() as f64 - 1.0);
        stack.height_px = canvas.room(0.0, top, 44.0 + gaps, 90.0) / shown.len().max(1) as f64;
    }
    for (index, line) in shown.iter().enumerate() {
        let values = told.traces.iter().flat_map(|trace| told.watched(trace)).map(|row| (line.value)(told, row));
        let y = if line.key == "charge_pct" { [0.0, 100.0] } else { axis::range(values.chain([0.0]), 3) };
        let label = (index + 1 == shown.len()).then_some("Time after take-off / s");
        let panel = stack.panel(&mut canvas, line.name, y, 3, label);
        for (index, trace) in told.traces.iter().enumerate() {
            let points = told.watched(trace).iter().map(|row| [row.time_s, (line.value)(told, row)]);
            for piece in panel.pieces(points) {
                track(&mut canvas, &piece, stroke_of(index), 1.6);
            }
            let end = told.watched(trace).last().map(|row| panel.at(row.time_s, (line.value)(told, row)));
            if let Some(at) = end.filter(|at| at[1].is_finite()) {
                mark(&mut canvas, at, stroke_of(index), 3.4);
            }
        }
        if let Some(lost_s) = told.story.lost_at_s {
            let x = panel.at_x(lost_s);
            canvas.line(&[[x, panel.box_px[1]], [x, panel.box_px[3]]], Ink::Ink, 0.8, 1.2);
            if index == 0 {
                let y = panel.box_px[1] + 8.0;
                let places = [([x + 5.0, y], At::Left), ([x - 5.0, y], At::Right), ([x + 5.0, y + 50.0], At::Left)];
                canvas.chip_where_free("link lost", &places, panel.box_px, 10.0, Ink::Ink);
            }
        }
        scales.push(Scale { key: line.key.into(), box_px: panel.box_px, x: panel.x, y: panel.y });
    }
    canvas.height_px = stack.y + 12.0;
    let caption = "One line per policy; its mark stands where it ended. A gap in the error of the place: no fix.";
    Scaled { figure: canvas.finish(OVER_TIME, caption, &ends_in_words(told)), scales }
}

fn ends_in_words(told: &Told) -> String {
    let end = |(index, trace): (usize, &Trace)| {
        let row = trace.rows.last()?;
        Some(format!(
            "{}: {}, at {} s, {} m from the take-off spot.",
            name_of(told, index),
            trace.headline,
            words::number(row.time_s, 1),
            words::number(from_home_m(told, row), 0)
        ))
    };
    told.traces.iter().enumerate().filter_map(end).collect::<Vec<_>>().join(" ")
}

/// A moment worth a picture.
struct Moment {
    time_s: f64,
    what: String,
}

/// Key moments: the loss, what guards did, the ends; in time order, a few.
fn key_moments(told: &Told, most: usize) -> Vec<Moment> {
    let story = &told.story;
    let mut moments: Vec<Moment> = Vec::new();
    let mut add = |time_s: f64, what: String| {
        let room = moments.len() < most;
        match moments.iter_mut().find(|moment| (moment.time_s - time_s).abs() < 0.3) {
            Some(moment) => moment.what = format!("{}; {what}", moment.what),
            None if room => moments.push(Moment { time_s, what }),
            None => {}
        }
    };
    if let Some(lost_s) = story.lost_at_s {
        add(lost_s, "link called lost".into());
    }
    for policy in &story.policies {
        add(policy.ended_at_s, format!("{}: {}", policy.name, policy.outcome));
    }
    for policy in &story.policies {
        for guard in policy.sentences.iter().filter(|sentence| sentence.about == About::Guard) {
            add(guard.time_s.unwrap_or(0.0), format!("{}: a guard fires", policy.name));
        }
    }
    if story.policies.is_empty() {
        add(told.window_s()[1], story.answer.clone());
    }
    moments.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    moments
}

/// The key moments as small maps side by side: what one sees without a player.
pub fn moments(told: &Told, look: Look) -> Figure {
    let mut canvas = Canvas::new("loss-moments", look);
    let title = if look.cautioned { MOMENTS } else { "Key moments" };
    let top = canvas.head(title, "Each map shows where the craft is at that time under every policy.");
    canvas.keep_beside(top, 0.29 * look.width_px);
    let mut y = canvas.legend(top, &legend(told)) + 10.0;
    let (columns, gap) = if look.phone() { (2, 10.0) } else { (3, 16.0) };
    let width = (canvas.width_px() - 2.0 * canvas.margin() - gap * (columns - 1) as f64) / columns as f64;
    let found = key_moments(told, if look.sheet() { columns } else { 6 });
    let after = |time_s: f64| match told.story.lost_at_s {
        Some(lost_s) if time_s > lost_s + 0.05 => {
            // The span as it follows from the times that are shown.
            let shown = [lost_s, time_s].map(|time_s| (10.0 * time_s).round() / 10.0);
            format!("{} s, {} s after the loss", words::number(time_s, 1), words::number(shown[1] - shown[0], 1))
        }
        _ => format!("{} s", words::number(time_s, 1)),
    };
    // On a sheet there is one row, as high as what is said under it leaves room for.
    let said_px = found.iter().map(|moment| {
        let lines = |text: &str, weight| font::wrap(text, look.least_px.max(11.0), weight, width).len() as f64;
        1.35 * look.least_px * (lines(&after(moment.time_s), Weight::Bold) + lines(&moment.what, Weight::Regular))
    });
    let under = 26.0 + said_px.fold(0.0, f64::max);
    let high = (canvas.room(0.75 * width, y, under, 0.0) / width).clamp(0.4, 1.4);
    let high = if look.sheet() { high } else { 0.75 };
    let view_m = view(told, high);
    for row in found.chunks(columns) {
        let mut deepest = y;
        for (column, moment) in row.iter().enumerate() {
            let left = canvas.margin() + column as f64 * (width + gap);
            let box_px = [left, y, left + width, y + width * high];
            let frame = Frame { box_px, view_m };
            ground(&mut canvas, &frame, told, 1.0);
            canvas.clip(box_px);
            marks_at(&mut canvas, told, moment.time_s, 4.6, |row| frame.at([row.place_m[0], row.place_m[1]]));
            canvas.unclip();
            let mut under = box_px[3] + 5.0;
            under += canvas.paragraph(&after(moment.time_s), [left, under], width, 11.0, Weight::Bold, Ink::Ink) + 1.0;
            under += canvas.paragraph(&moment.what, [left, under], width, 11.0, Weight::Regular, Ink::Ink);
            deepest = deepest.max(under);
        }
        y = deepest + 14.0;
    }
    let entries = ground_legend(&mut canvas, &told.map, view_m);
    canvas.height_px = canvas.legend(y, &entries) + 4.0;
    let told_of: Vec<String> = found.iter().map(|m| format!("{}: {}.", after(m.time_s), m.what)).collect();
    let caption = "The lines show the whole way under each policy, the marks where the craft is at the time named.";
    canvas.finish(MOMENTS, caption, &told_of.join(" "))
}

/// Width of a slide, px; its height is 9/16 of it.
const SLIDE_PX: f64 = 1_280.0;
/// Text of a slide: 20 pt and a little more when 1,280 px are 13.3 inches.
const SLIDE_TEXT_PX: f64 = 27.0;

/// One moment as a slide: plan and side view of all policies with their ways so far.
pub fn slide(told: &Told, time_s: f64) -> Figure {
    let mut canvas = Canvas::new("loss-slide", Look { width_px: SLIDE_PX, ..Look::WIDE });
    canvas.height_px = SLIDE_PX * 9.0 / 16.0;
    let n = told.traces.len();
    let title = match n {
        1 => "One flight".to_string(),
        n => format!("One lost link, {n} policies, the same luck"),
    };
    canvas.text(&title, [24.0, 36.0], At::Left, 34.0, Weight::Bold, Ink::Ink);
    let clock = match told.story.lost_at_s {
        Some(lost_s) if time_s < lost_s => format!("{} s to the loss", words::number(lost_s - time_s, 1)),
        Some(lost_s) => format!("{} s after the loss", words::number(time_s - lost_s, 1)),
        None => format!("{} s after take-off", words::number(time_s, 1)),
    };
    canvas.text(&clock, [SLIDE_PX - 24.0, 36.0], At::Right, SLIDE_TEXT_PX, Weight::Bold, Ink::Ink);
    let rows = n.div_ceil(slide_columns(told)) as f64;
    let bottom = canvas.height_px - 18.0 - SLIDE_ROW_PX * rows;
    slide_legend(&mut canvas, told, time_s, bottom + 24.0);
    slide_plan(&mut canvas, told, time_s, [24.0, 72.0, 610.0, bottom - 46.0]);
    slide_side(&mut canvas, told, time_s, [730.0, 120.0, SLIDE_PX - 24.0, bottom - 46.0]);
    let caption = "Plan and side view of one lost link under all policies with the same luck.";
    canvas.finish(&title, caption, &ends_in_words(told))
}

/// Height of a row of the legend of a slide.
const SLIDE_ROW_PX: f64 = 38.0;
/// With more policies than this, each must share its row with another.
const SLIDE_ROWS: usize = 6;

/// What a line is on a slide, and how it ended once it has.
fn slide_name(told: &Told, index: usize, time_s: f64) -> String {
    let (name, trace) = (name_of(told, index), &told.traces[index]);
    let ended = trace.rows.last().is_some_and(|row| row.time_s <= time_s + 1e-6);
    if ended { format!("{name}: {}", trace.headline) } else { name.into() }
}

/// Columns of the legend of a slide, the same at all times: two where all names with their outcomes fit into a half.
fn slide_columns(told: &Told) -> usize {
    let fits = |index: usize| {
        let text = slide_name(told, index, f64::INFINITY);
        font::width_px(&text, SLIDE_TEXT_PX, Weight::Regular) <= slide_name_px(2)
    };
    let n = told.traces.len();
    if n > SLIDE_ROWS || (0..n).all(fits) { 2 } else { 1 }
}

/// Room for a name.
fn slide_name_px(columns: usize) -> f64 {
    (SLIDE_PX - 40.0) / columns as f64 - 90.0
}

fn slide_legend(canvas: &mut Canvas, told: &Told, time_s: f64, top: f64) {
    let columns = slide_columns(told);
    for index in 0..told.traces.len() {
        let x = 24.0 + (index % columns) as f64 * (SLIDE_PX - 40.0) / columns as f64;
        let y = top + SLIDE_ROW_PX * (index / columns) as f64;
        let stroke = stroke_of(index);
        track(canvas, &[[x, y], [x + 64.0, y]], slide_stroke(stroke), 4.5);
        mark(canvas, [x + 32.0, y], stroke, 9.0);
        let name = slide_name(told, index, time_s);
        let (mut text, mut kept) = (name.clone(), name.chars().count());
        while kept > 0 && font::width_px(&text, SLIDE_TEXT_PX, Weight::Regular) > slide_name_px(columns) {
            kept -= 1;
            text = format!("{}…", name.chars().take(kept).collect::<String>());
        }
        canvas.text(&text, [x + 80.0, y], At::Left, SLIDE_TEXT_PX, Weight::Regular, Ink::Ink);
    }
}

/// Dashes long enough for a line so wide.
fn slide_stroke(stroke: Stroke) -> Stroke {
    Stroke { dash_px: stroke.dash_px.map(|length| 2.2 * length), ..stroke }
}

/// The ways until a time, with a mark where each stands then.
fn ways_until(canvas: &mut Canvas, told: &Told, time_s: f64, place: &dyn Fn(&TraceRow) -> [f64; 2]) {
    for (index, trace) in told.traces.iter().enumerate() {
        let rows = told.watched(trace).iter().take_while(|row| row.time_s <= time_s);
        track(canvas, &thinned(rows.map(place)), slide_stroke(stroke_of(index)), 4.0);
    }
    if let Some(lost_s) = told.story.lost_at_s.filter(|lost_s| *lost_s <= time_s)
        && let Some(row) = told.traces.first().and_then(|trace| trace.at(lost_s))
    {
        cross(canvas, place(row), 11.0, 4.5);
    }
    marks_at(canvas, told, time_s, 11.0, place);
}

fn slide_plan(canvas: &mut Canvas, told: &Told, time_s: f64, box_px: [f64; 4]) {
    let [x0, y0, x1, y1] = box_px;
    let frame = Frame { box_px, view_m: view(told, (y1 - y0) / (x1 - x0)) };
    canvas.clip(box_px);
    map::ground(canvas, &frame, &told.map);
    map::place_marks(canvas, &frame, &told.map);
    let place = |row: &TraceRow| frame.at([row.place_m[0], row.place_m[1]]);
    ways_until(canvas, told, time_s, &place);
    canvas.unclip();
    canvas.outline(&Canvas::corners(x0, y0, x1, y1), Ink::Soft, 1.0, 1.5);
    let length_m = map::bar_length_m(frame.scale(), 180.0);
    let y = y1 + 26.0;
    let end = x0 + 4.0 + length_m * frame.scale();
    canvas.scale_bar([x0 + 4.0, y + 6.0], [end, y + 6.0], Ink::Ink);
    let text = format!("{} m", words::number(length_m, 0));
    let b = canvas.text(&text, [end + 12.0, y], At::Left, SLIDE_TEXT_PX, Weight::Regular, Ink::Ink);
    canvas.arrow("north", [b[2] + 40.0, y + 16.0], [b[2] + 40.0, y - 16.0], Ink::Ink, 3.0, 15.0);
    canvas.text("north", [b[2] + 56.0, y], At::Left, SLIDE_TEXT_PX, Weight::Regular, Ink::Ink);
}

fn slide_side(canvas: &mut Canvas, told: &Told, time_s: f64, box_px: [f64; 4]) {
    let [x, y] = side_scale(told);
    let panel = Panel { box_px, x, y };
    let [left, _, right, bottom] = box_px;
    let name = "Height above take-off / m";
    canvas.text(name, [left - 60.0, box_px[1] - 36.0], At::Left, SLIDE_TEXT_PX, Weight::Regular, Ink::Ink);
    for tick in axis::ticks(y[0], y[1], 3).values {
        let at = panel.at_y(tick);
        canvas.line(&[[left, at], [right, at]], Ink::Grid, 1.0, 1.5);
        let text = words::number(tick, 0);
        canvas.text(&text, [left - 10.0, at], At::Right, SLIDE_TEXT_PX, Weight::Regular, Ink::Ink);
    }
    let across = axis::ticks(x[0], x[1], 3);
    for &tick in &across.values {
        let at = panel.at_x(tick);
        canvas.line(&[[at, bottom], [at, bottom + 6.0]], Ink::Soft, 1.0, 1.5);
        let last = across.values.last().is_some_and(|last| (last - tick).abs() < 1e-9);
        let text = if last { format!("{} m", words::number(tick, 0)) } else { words::number(tick, 0) };
        canvas.text(&text, [at.min(right - 46.0), bottom + 26.0], At::Middle, SLIDE_TEXT_PX, Weight::Regular, Ink::Ink);
    }
    canvas.clip(box_px);
    panel.surface(canvas, told.cut.points.iter().map(|point| [point.along_m, point.surface_m]));
    canvas.unclip();
    canvas.line(&[[left, box_px[1]], [left, bottom], [right, bottom]], Ink::Soft, 1.0, 1.5);
    let place = |row: &TraceRow| panel.at(told.along_m(row.place_m), row.height_m);
    ways_until(canvas, told, time_s, &place);
}
