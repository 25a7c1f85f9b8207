//! Figures of a chapter: its number for every variant, and one flight under all of them; for pages, and as slides.

use super::axis::{self, Panel};
use super::canvas::{At, Canvas, Figure, Look};
use super::font::{self, Weight};
use super::loss::{self, Stroke, stroke_of};
use super::map::{self, Frame};
use super::theme::{Ink, Pattern};
use crate::flight::TraceRow;
use crate::lesson::{Answered, Shown, Value, View};
use crate::report::words;

/// Patterns of the bars by the place of the variant: colour only repeats what they say.
const PATTERNS: [Pattern; 4] = [Pattern::Level, Pattern::Rising, Pattern::Dots, Pattern::Crossed];

/// Sizes of a figure, px.
#[derive(Clone, Copy)]
struct Sizes {
    title: f64,
    text: f64,
    tick: f64,
    line: f64,
    mark: f64,
    bar: f64,
    gap: f64,
    side: f64,
}

const ON_PAGE: Sizes =
    Sizes { title: 15.0, text: 12.0, tick: 11.0, line: 1.8, mark: 4.6, bar: 16.0, gap: 12.0, side: 8.0 };
/// Text of 27 px is a little over 20 pt where 1,280 px are 13.3 inches.
const ON_SLIDE: Sizes =
    Sizes { title: 34.0, text: 27.0, tick: 27.0, line: 4.5, mark: 11.0, bar: 40.0, gap: 24.0, side: 28.0 };
/// A slide, 16:9.
const SLIDE_PX: [f64; 2] = [1_280.0, 720.0];

/// A figure being drawn: its canvas, its sizes, and whether it is a slide.
struct Sheet<'t> {
    canvas: Canvas<'t>,
    sizes: Sizes,
    slide: bool,
}

impl<'t> Sheet<'t> {
    fn page(id: &str, look: Look<'t>) -> Sheet<'t> {
        Sheet { canvas: Canvas::new(id, look), sizes: ON_PAGE, slide: false }
    }

    fn slide(id: &str) -> Sheet<'t> {
        let look = Look { width_px: SLIDE_PX[0], ..Look::WIDE };
        Sheet { canvas: Canvas::new(id, look), sizes: ON_SLIDE, slide: true }
    }

    fn right(&self) -> f64 {
        self.canvas.width_px() - self.sizes.side
    }

    /// Lines of text from `top` between the sides; where the next thing may begin.
    fn words(&mut self, text: &str, top: f64, size: f64, weight: Weight, ink: Ink) -> f64 {
        let left = self.sizes.side;
        let limit = self.right() - left;
        top + self.canvas.paragraph(text, [left, top], limit, size, weight, ink)
    }

    fn head(&mut self, title: &str, under: &str) -> f64 {
        let Sizes { title: size, text, gap, .. } = self.sizes;
        let top = self.words(title, gap, size, Weight::Bold, Ink::Ink);
        self.words(under, top + 0.3 * gap, text, Weight::Regular, Ink::Soft) + 0.6 * gap
    }
}

/// The number that the question is about, for every variant, as a page's figure.
pub fn numbers(chapter: &Answered, id: &str, look: Look) -> Figure {
    numbers_on(Sheet::page(id, look), chapter)
}

/// The same as a slide.
pub fn numbers_slide(chapter: &Answered, id: &str) -> Figure {
    numbers_on(Sheet::slide(id), chapter)
}

fn numbers_on(mut sheet: Sheet, chapter: &Answered) -> Figure {
    let Sizes { text, tick, line, bar, gap, side, .. } = sheet.sizes;
    let measure = chapter.chapter.question.measure;
    let title =
        if sheet.slide { chapter.chapter.title.clone() } else { chapter.chapter.measures[measure].words.clone() };
    let flights = words::count(u64::from(chapter.chapter.flights));
    let under = if sheet.slide {
        format!("{}; {flights} flights each, the same luck", chapter.chapter.measures[measure].words)
    } else {
        format!("{flights} simulated flights each, with the same luck.")
    };
    let values: Vec<Value> = chapter.values.iter().map(|of| of[measure]).collect();
    let top = sheet.head(&title, &under) + 0.5 * gap;
    let is_share = values.iter().all(|value| matches!(value, Value::Share(_)));
    let range =
        if is_share { [0.0, 100.0] } else { axis::range(values.iter().map(|value| value.plain()).chain([0.0]), 5) };
    // A slide is filled, up to bars that would look like boxes.
    let room = (SLIDE_PX[1] - top - 4.2 * tick) / values.len() as f64 - 1.45 * text - gap;
    let bar = if sheet.slide { room.clamp(0.8 * bar, 3.0 * bar) } else { bar };
    let row = 1.45 * text + bar + gap;
    let bottom = top + row * values.len() as f64;
    // Room for the last tick's label.
    let panel = Panel { box_px: [side + 2.0, top, sheet.right() - 1.2 * tick, bottom], x: range, y: [0.0, 1.0] };
    let n_ticks = if sheet.canvas.look.narrow() || sheet.slide { 5 } else { 10 };
    for value in axis::ticks(range[0], range[1], n_ticks).values {
        let x = panel.at_x(value);
        sheet.canvas.line(&[[x, top], [x, bottom]], Ink::Grid, 1.0, 0.5 * line);
        let label = words::short(value, 1);
        sheet.canvas.text(&label, [x, bottom + tick], At::Middle, tick, Weight::Regular, Ink::Ink);
    }
    for (index, value) in values.iter().enumerate() {
        let (ink, pattern) = (stroke_of(index).ink, PATTERNS[index % PATTERNS.len()]);
        let (name, told) = (&chapter.chapter.variants[index].name, value.in_words());
        let y = top + row * index as f64;
        let said = format!("{name}: {told}");
        let limit = sheet.right() - side;
        let lines = font::wrap(&said, text, Weight::Bold, limit);
        // One line: a name too long for it is cut with its number kept.
        let said = if lines.len() > 1 { shortened(name, &told, text, limit) } else { said };
        sheet.canvas.chip(&said, [side + 4.0, y + 0.7 * text], At::Left, text, Weight::Bold, Ink::Ink);
        let bar_top = y + 1.45 * text;
        let [x0, x1] = [panel.at_x(0.0), panel.at_x(value.plain())];
        let corners = Canvas::corners(x0, bar_top, x1.max(x0 + 0.5), bar_top + bar);
        sheet.canvas.patterned(&corners, ink, pattern, 1.0, 0.9);
        sheet.canvas.outline(&corners, Ink::Ink, 1.0, 0.5 * line);
        if let Value::Share(share) = value {
            let [low, high, y] = [panel.at_x(100.0 * share.low), panel.at_x(100.0 * share.high), bar_top + 0.5 * bar];
            let cap = (0.22 * bar).min(0.4 * text);
            for points in [[[low, y], [high, y]], [[low, y - cap], [low, y + cap]], [[high, y - cap], [high, y + cap]]]
            {
                sheet.canvas.line(&points, Ink::Paper, 0.9, 2.2 * line);
                sheet.canvas.line(&points, Ink::Ink, 1.0, line);
            }
        }
    }
    let unit = match values.first() {
        Some(Value::Number(_, unit)) => format!("in {unit}"),
        _ => "out of 100; the thin line is the 95 % interval".to_string(),
    };
    let end = bottom + 2.1 * tick;
    let end = end + 0.5 * tick;
    let [left, width] = [side, sheet.right() - side];
    let used = sheet.canvas.paragraph(&unit, [left, end], width, tick, Weight::Regular, Ink::Soft);
    sheet.canvas.height_px = if sheet.slide { SLIDE_PX[1] } else { end + used + 4.0 };
    let caption = if is_share {
        "Length of the bar: how many out of 100. The thin line across its end is the 95 % interval: where the share of very many \
         such flights probably lies."
    } else {
        "Length of the bar: the number on the axis below."
    };
    sheet.canvas.finish(&title, caption, &chapter.found)
}

/// A name cut so that it stands on one line with its number.
fn shortened(name: &str, told: &str, size: f64, limit_px: f64) -> String {
    let mut kept: Vec<char> = name.chars().collect();
    loop {
        let text = format!("{}…: {told}", kept.iter().collect::<String>().trim_end());
        if kept.is_empty() || font::width_px(&text, size, Weight::Bold) <= limit_px {
            return text;
        }
        kept.pop();
    }
}

/// One flight under every variant, as a page's figure.
pub fn flight(chapter: &Answered, shown: &Shown, id: &str, look: Look) -> Figure {
    flight_on(Sheet::page(id, look), chapter, shown)
}

/// The same as a slide.
pub fn flight_slide(chapter: &Answered, shown: &Shown, id: &str) -> Figure {
    flight_on(Sheet::slide(id), chapter, shown)
}

/// How long before the loss a figure begins, s.
const BEFORE_S: f64 = 20.0;
/// How long after the loss a figure over time ends, s.
const AFTER_S: f64 = 240.0;

/// The rows of a variant worth seeing: from shortly before the first loss.
fn watched(shown: &Shown, index: usize) -> &[TraceRow] {
    let lost = shown.traces.iter().filter_map(|trace| trace.lost_at_s).fold(f64::INFINITY, f64::min);
    let from_s = if lost.is_finite() { lost - BEFORE_S } else { 0.0 };
    let rows = &shown.traces[index].rows;
    &rows[rows.partition_point(|row| row.time_s < from_s).min(rows.len().saturating_sub(1))..]
}

fn from_home_m(shown: &Shown, index: usize, row: &TraceRow) -> f64 {
    let [x, y] = shown.homes_m[index];
    (row.place_m[0] - x).hypot(row.place_m[1] - y)
}

/// Distance from the take-off spot to the farthest corner of the site.
fn farthest_m(chapter: &Answered, shown: &Shown) -> f64 {
    let [west, south, east, north] = chapter.chapter.variants[0].scenario.site.extent_m;
    let [x, y] = shown.homes_m[0];
    (x - west).abs().max((east - x).abs()).hypot((y - south).abs().max((north - y).abs()))
}

fn flight_on(mut sheet: Sheet, chapter: &Answered, shown: &Shown) -> Figure {
    let Sizes { text, tick, gap, side, .. } = sheet.sizes;
    let view = chapter.chapter.view;
    let what = match view {
        View::Side => "from the side",
        View::Plan => "from above",
        View::Time => "over time",
    };
    let title = format!("One flight {what}");
    let n = chapter.chapter.variants.len();
    let luck = if n > 1 { ", the same gusts and the same luck" } else { "" };
    let top = if sheet.slide {
        sheet.head(&chapter.chapter.title, &format!("Flight {} {what}{luck}", shown.flight))
    } else {
        sheet.head(&title, &format!("Flight {}{luck}.", shown.flight))
    };
    let (top, legend_end) = if sheet.slide {
        (top, SLIDE_PX[1] - 0.4 * gap)
    } else {
        let end = legend(&mut sheet, chapter, shown, top) + 0.8 * gap;
        (end, end)
    };
    let rows = n.div_ceil(columns(&sheet, shown)) as f64;
    let left = side + 3.6 * tick;
    let right = sheet.right() - 0.8 * tick;
    let under = 3.2 * tick;
    let bottom = if sheet.slide {
        legend_end - rows * 1.5 * text - under
    } else {
        let tall = view == View::Plan || sheet.canvas.look.narrow();
        let high = if tall { 0.62 } else { 0.34 };
        top + (right - left) * high
    };
    let box_px = [left, top + 2.0 * tick, right, bottom + if sheet.slide { 0.0 } else { 2.0 * tick }];
    match view {
        View::Plan => plan(&mut sheet, chapter, shown, box_px),
        View::Side | View::Time => panel(&mut sheet, chapter, shown, box_px),
    }
    if sheet.slide {
        legend(&mut sheet, chapter, shown, box_px[3] + under);
        sheet.canvas.height_px = SLIDE_PX[1];
    } else {
        sheet.canvas.height_px = box_px[3] + under + 4.0;
    }
    let fenced = chapter.chapter.variants[0].scenario.site.fence.is_some();
    let caption = match view {
        View::Side => {
            "Heights are drawn larger than lengths. Hatched: what stands below the ways shown. The cross is where the link was \
             called lost; a mark stands where each flight ended."
        }
        View::Plan if fenced => {
            "North is up. The dark frame is the edge of the permitted area. The cross is where the link was called lost; a mark \
             stands where each flight ended."
        }
        View::Plan => {
            "North is up. The cross is where the link was called lost; a mark stands where each flight ended."
        }
        View::Time => "The cross is where the link was called lost; a mark stands where each flight ended.",
    };
    sheet.canvas.finish(&title, caption, &ends(chapter, shown))
}

fn ends(chapter: &Answered, shown: &Shown) -> String {
    let one = |(index, trace): (usize, &crate::flight::Trace)| {
        let row = trace.rows.last()?;
        let name = &chapter.chapter.variants[index].name;
        let far = words::number(from_home_m(shown, index, row), 0);
        let after = match trace.lost_at_s {
            Some(lost_s) => format!("{} s after the loss", words::number(row.time_s - lost_s, 0)),
            None => format!("{} s after take-off", words::number(row.time_s, 0)),
        };
        Some(format!("{name}: {}, {after}, {far} m from the take-off spot.", trace.headline))
    };
    shown.traces.iter().enumerate().filter_map(one).collect::<Vec<_>>().join(" ")
}

/// Entries of the legend beside each other: on a slide two, when one below the other there would be no room for the ways.
fn columns(sheet: &Sheet, shown: &Shown) -> usize {
    if sheet.slide && shown.traces.len() > 3 { 2 } else { 1 }
}

/// What each line is and how it ended.
fn legend(sheet: &mut Sheet, chapter: &Answered, shown: &Shown, top: f64) -> f64 {
    let Sizes { text, side, .. } = sheet.sizes;
    let columns = columns(sheet, shown);
    let width = (sheet.right() - side) / columns as f64;
    let mut y = top + 0.7 * text;
    for (index, trace) in shown.traces.iter().enumerate() {
        let x = side + width * (index % columns) as f64;
        track(sheet, &[[x, y], [x + 3.0 * text, y]], index);
        mark(sheet, [x + 1.5 * text, y], index);
        let name = &chapter.chapter.variants[index].name;
        let limit = width - 4.4 * text;
        let full = format!("{name}: {}", trace.headline);
        let fits = font::width_px(&full, text, Weight::Regular) <= limit;
        let told = match (fits, sheet.slide) {
            (true, _) => full,
            (false, true) => fitted(name, text, limit),
            (false, false) => full,
        };
        let lines = font::wrap(&told, text, Weight::Regular, limit);
        for (number, line) in lines.iter().enumerate() {
            let at = [x + 3.6 * text, y + 1.35 * text * number as f64];
            sheet.canvas.text(line, at, At::Left, text, Weight::Regular, Ink::Ink);
        }
        if !sheet.slide {
            y += 1.35 * text * (lines.len() - 1) as f64;
        }
        if index % columns == columns - 1 {
            y += 1.5 * text;
        }
    }
    y
}

/// A name cut to fit.
fn fitted(name: &str, size: f64, limit_px: f64) -> String {
    let mut kept: Vec<char> = name.chars().collect();
    while !kept.is_empty() && font::width_px(&kept.iter().collect::<String>(), size, Weight::Regular) > limit_px {
        kept.truncate(kept.len().saturating_sub(2));
        kept.push('…');
    }
    kept.into_iter().collect()
}

fn track(sheet: &mut Sheet, points: &[[f64; 2]], index: usize) {
    let (stroke, width) = (stroke_of(index), sheet.sizes.line);
    let dash_px = stroke.dash_px.map(|length| length * width / ON_PAGE.line);
    loss::track(&mut sheet.canvas, points, Stroke { dash_px, ..stroke }, width);
}

fn mark(sheet: &mut Sheet, at: [f64; 2], index: usize) {
    loss::mark(&mut sheet.canvas, at, stroke_of(index), sheet.sizes.mark);
}

fn cross(sheet: &mut Sheet, at: [f64; 2]) {
    loss::cross(&mut sheet.canvas, at, 1.2 * sheet.sizes.mark, 1.2 * sheet.sizes.line);
}

/// The ways of all variants with loss and end.
fn ways(sheet: &mut Sheet, shown: &Shown, within: [f64; 4], place: &dyn Fn(usize, &TraceRow) -> [f64; 2]) {
    sheet.canvas.clip(within);
    // The first on top: it stands first in the legend.
    for index in (0..shown.traces.len()).rev() {
        let points = loss::thinned(watched(shown, index).iter().map(|row| place(index, row)));
        track(sheet, &points, index);
    }
    let mut crossed: Vec<[f64; 2]> = Vec::new();
    for (index, trace) in shown.traces.iter().enumerate() {
        let Some(lost_s) = trace.lost_at_s else { continue };
        let row = trace.rows.iter().rfind(|row| row.time_s <= lost_s + 1e-6);
        if let Some(at) = row.map(|row| place(index, row)) {
            if crossed.iter().all(|other| (other[0] - at[0]).hypot(other[1] - at[1]) > 1.0) {
                cross(sheet, at);
            }
            crossed.push(at);
        }
    }
    sheet.canvas.unclip();
    for (index, trace) in shown.traces.iter().enumerate().rev() {
        let Some(at) = trace.rows.last().map(|row| place(index, row)) else { continue };
        let [x0, y0, x1, y1] = within;
        if at[0] >= x0 && at[0] <= x1 && at[1] >= y0 && at[1] <= y1 {
            mark(sheet, at, index);
        }
    }
}

fn axis_words(sheet: &mut Sheet, text: &str, at: [f64; 2], how: At) {
    let size = sheet.sizes.tick;
    sheet.canvas.text(text, at, how, size, Weight::Regular, Ink::Ink);
}

fn grid(sheet: &mut Sheet, panel: &Panel, names: [&str; 2]) {
    let [left, top, right, bottom] = panel.box_px;
    let Sizes { tick, line, side, .. } = sheet.sizes;
    for value in axis::ticks(panel.y[0], panel.y[1], 4).values {
        let y = panel.at_y(value);
        sheet.canvas.line(&[[left, y], [right, y]], Ink::Grid, 1.0, 0.5 * line);
        axis_words(sheet, &words::number(value, 0), [left - 0.4 * tick, y], At::Right);
    }
    let n = if right - left < 500.0 || tick > 20.0 { 5 } else { 9 };
    for value in axis::ticks(panel.x[0], panel.x[1], n).values {
        let x = panel.at_x(value);
        sheet.canvas.line(&[[x, bottom], [x, bottom + 0.4 * tick]], Ink::Soft, 1.0, 0.5 * line);
        axis_words(sheet, &words::number(value, 0), [x, bottom + 1.2 * tick], At::Middle);
    }
    sheet.canvas.line(&[[left, top], [left, bottom], [right, bottom]], Ink::Soft, 1.0, 0.6 * line);
    axis_words(sheet, names[1], [side, top - 1.6 * tick], At::Left);
    axis_words(sheet, names[0], [0.5 * (left + right), bottom + 2.5 * tick], At::Middle);
}

fn panel(sheet: &mut Sheet, chapter: &Answered, shown: &Shown, box_px: [f64; 4]) {
    let time = chapter.chapter.view == View::Time;
    let all = || (0..shown.traces.len()).flat_map(|index| watched(shown, index).iter().map(move |row| (index, row)));
    let reach = farthest_m(chapter, shown);
    let far = |(index, row): (usize, &TraceRow)| from_home_m(shown, index, row).min(reach);
    let surface = surface(shown);
    let (x, y) = if time {
        let lost = shown.traces.iter().filter_map(|trace| trace.lost_at_s).fold(f64::INFINITY, f64::min);
        let [first, last] = [
            all().map(|(_, row)| row.time_s).fold(f64::INFINITY, f64::min),
            all().map(|(_, row)| row.time_s).fold(0.0, f64::max),
        ];
        let last = if lost.is_finite() { last.min(lost + AFTER_S) } else { last };
        ([first, last], axis::range(all().filter(|(_, row)| row.time_s <= last).map(far).chain([0.0]), 4))
    } else {
        let heights = all().map(|(_, row)| row.height_m).chain(surface.iter().map(|point| point[1])).chain([0.0]);
        (axis::range(all().map(far).chain([0.0]), 6), axis::range(heights, 4))
    };
    let panel = Panel { box_px, x, y };
    let names = if time {
        ["Time after take-off / s", "Distance from the take-off spot / m"]
    } else {
        ["Distance from the take-off spot / m", "Height above the take-off spot / m"]
    };
    grid(sheet, &panel, names);
    sheet.canvas.clip(box_px);
    if !time {
        panel.surface(&mut sheet.canvas, surface.into_iter());
    }
    sheet.canvas.unclip();
    ways(sheet, shown, box_px, &|index, row| {
        let far = from_home_m(shown, index, row);
        if time { panel.at(row.time_s, far) } else { panel.at(far, row.height_m) }
    });
}

/// What stands below the ways shown, against the distance from the take-off spot: the highest in every strip.
fn surface(shown: &Shown) -> Vec<[f64; 2]> {
    const STRIPS: usize = 240;
    let rows = || (0..shown.traces.len()).flat_map(|index| watched(shown, index).iter().map(move |row| (index, row)));
    let far = rows().map(|(index, row)| from_home_m(shown, index, row)).fold(1.0, f64::max);
    let mut tops = vec![f64::NAN; STRIPS + 1];
    for (index, row) in rows() {
        let strip = (from_home_m(shown, index, row) / far * STRIPS as f64) as usize;
        tops[strip] = tops[strip].max(row.surface_m);
    }
    let tops = tops.into_iter().enumerate().filter(|(_, top)| top.is_finite());
    tops.map(|(strip, top)| [far * strip as f64 / STRIPS as f64, top]).collect()
}

fn plan(sheet: &mut Sheet, chapter: &Answered, shown: &Shown, box_px: [f64; 4]) {
    let site = &chapter.chapter.variants[0].scenario.site;
    let frame = Frame { box_px, view_m: view_m(chapter, shown, box_px) };
    sheet.canvas.clip(box_px);
    for zone in &site.zones {
        for ring in zone.area.outline_m() {
            map::draw_zone(&mut sheet.canvas, zone.kind, &frame.all(&ring));
        }
    }
    for obstacle in &site.obstacles {
        for ring in obstacle.area.outline_m() {
            map::draw_obstacle(&mut sheet.canvas, obstacle.kind, &frame.all(&ring));
        }
    }
    for ring in site.fence.iter().flat_map(|fence| fence.outline_m()) {
        sheet.canvas.outline(&frame.all(&ring), Ink::Ink, 1.0, 0.8 * sheet.sizes.line);
    }
    sheet.canvas.unclip();
    let [x0, y0, x1, y1] = box_px;
    sheet.canvas.outline(&Canvas::corners(x0, y0, x1, y1), Ink::Soft, 1.0, 0.5 * sheet.sizes.line);
    ways(sheet, shown, box_px, &|_, row| frame.at([row.place_m[0], row.place_m[1]]));
    let Sizes { tick, line, mark, .. } = sheet.sizes;
    let home = frame.at(shown.homes_m[0]);
    sheet.canvas.disc(home, mark, Ink::Paper, Some((Ink::Ink, 0.8 * line)));
    let beside = |[x, y]: [f64; 2], gap: f64| {
        [0.0, -1.4, 1.4, -2.8, 2.8]
            .into_iter()
            .flat_map(move |dy| [([x + gap, y + dy * tick], At::Left), ([x - gap, y + dy * tick], At::Right)])
            .collect::<Vec<_>>()
    };
    sheet.canvas.chip_where_free("take-off", &beside(home, 2.0 * mark), box_px, tick, Ink::Ink);
    let named = site.zones.iter().map(|zone| (&zone.name, &zone.area));
    for (name, area) in named.chain(site.obstacles.iter().map(|obstacle| (&obstacle.name, &obstacle.area))) {
        let at = frame.at(area.middle_m());
        let mut places = vec![(at, At::Middle), ([at[0], at[1] - 2.0 * tick], At::Middle)];
        places.extend(beside(at, 3.0 * tick));
        sheet.canvas.chip_where_free(name, &places, box_px, tick, Ink::Ink);
    }
    let length_m = map::bar_length_m(frame.scale(), 0.22 * (x1 - x0));
    let y = y1 + 1.1 * tick;
    let end = x0 + length_m * frame.scale();
    sheet.canvas.scale_bar([x0, y + 0.3 * tick], [end, y + 0.3 * tick], Ink::Ink);
    let text = format!("{} m", words::number(length_m, 0));
    let used = sheet.canvas.text(&text, [end + 0.6 * tick, y], At::Left, tick, Weight::Regular, Ink::Ink);
    let x = used[2] + 2.0 * tick;
    sheet.canvas.arrow("north", [x, y + 0.7 * tick], [x, y - 0.7 * tick], Ink::Ink, 0.8 * line, 0.7 * tick);
    sheet.canvas.text("north", [x + 0.8 * tick, y], At::Left, tick, Weight::Regular, Ink::Ink);
}

/// The part of the site to show: what is flown, as far as it lies in the site.
fn view_m(chapter: &Answered, shown: &Shown, box_px: [f64; 4]) -> [f64; 4] {
    let [west, south, east, north] = chapter.chapter.variants[0].scenario.site.extent_m;
    let [x, y] = shown.homes_m[0];
    let mut view = [x, y, x, y];
    for row in (0..shown.traces.len()).flat_map(|index| watched(shown, index)) {
        let [x, y] = [row.place_m[0].clamp(west, east), row.place_m[1].clamp(south, north)];
        view = [view[0].min(x), view[1].min(y), view[2].max(x), view[3].max(y)];
    }
    let high = (box_px[3] - box_px[1]) / (box_px[2] - box_px[0]);
    let size = [view[2] - view[0], view[3] - view[1]];
    let pad = 0.08 * size[0].max(size[1]).max(40.0);
    let wide = (size[0] + 2.0 * pad).max((size[1] + 2.0 * pad) / high);
    let middle = [0.5 * (view[0] + view[2]), 0.5 * (view[1] + view[3])];
    let tall = wide * high;
    [middle[0] - 0.5 * wide, middle[1] - 0.5 * tall, middle[0] + 0.5 * wide, middle[1] + 0.5 * tall]
}
