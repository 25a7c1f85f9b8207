//! One flight, second by second; and where its margin went.

use super::axis::{self, Panel, Stack};
use super::canvas::{At, Canvas, Entry, Figure, Look, entry, sample_box};
use super::font::{self, Weight};
use super::theme::{Ink, Pattern};
use crate::flight::{Doing, Happened, LossBudget, LossCause, Trace, TraceRow};
use crate::report::words;

/// Ink of the strip that says what the craft is doing: one for all, told apart by pattern and by name.
const STRIP: Ink = Ink::Grey;

/// Pattern of what the craft is doing.
fn pattern_of(doing: Doing) -> Pattern {
    match doing {
        Doing::Piloted => Pattern::Plain,
        Doing::Silent => Pattern::Dots,
        Doing::Hold => Pattern::Level,
        Doing::Return => Pattern::Rising,
        Doing::Land => Pattern::Falling,
        Doing::Drop => Pattern::Crossed,
        Doing::CarryOn => Pattern::Upright,
        Doing::TakenOver => Pattern::Squares,
    }
}

/// Stretches of one doing: from, to.
fn stretches(rows: &[TraceRow]) -> Vec<(Doing, f64, f64)> {
    let mut out: Vec<(Doing, f64, f64)> = Vec::new();
    for row in rows {
        match out.last_mut() {
            Some(last) if last.0 == row.doing => last.2 = row.time_s,
            _ => {
                if let Some(last) = out.last_mut() {
                    last.2 = row.time_s;
                }
                out.push((row.doing, row.time_s, row.time_s));
            }
        }
    }
    out
}

/// Time shown before and after the loss.
const AROUND_S: f64 = 30.0;

/// From the first to the last moment of a flight.
fn whole(trace: &Trace) -> [f64; 2] {
    let first = trace.rows.first().map_or(0.0, |row| row.time_s);
    [first, trace.rows.last().map_or(1.0, |row| row.time_s).max(first + 1.0)]
}

/// The part of a flight worth a closer look.
fn window(trace: &Trace) -> [f64; 2] {
    around(trace.lost_at_s, whole(trace))
}

/// Around the loss, within the flight; all of it when the link held.
fn around(lost_at_s: Option<f64>, [first, last]: [f64; 2]) -> [f64; 2] {
    match lost_at_s {
        Some(lost_s) => [(lost_s - AROUND_S).max(first), (lost_s + AROUND_S).min(last).max(first + 1.0)],
        None => [first, last],
    }
}

/// Labels a level on the right above or below its line, where there is room.
fn level(canvas: &mut Canvas, panel: &Panel, value: f64, words: &str, ink: Ink) {
    let y = panel.at_y(value);
    if y < panel.box_px[1] || y > panel.box_px[3] {
        return;
    }
    canvas.dashed(&[[panel.box_px[0], y], [panel.box_px[2], y]], ink, 1.0, 1.1, 6.0, 3.0);
    let (x0, x1) = (panel.box_px[0] + 5.0, panel.box_px[2] - 5.0);
    let places =
        [([x0, y - 8.0], At::Left), ([x0, y + 8.0], At::Left), ([x1, y - 8.0], At::Right), ([x1, y + 8.0], At::Right)];
    canvas.chip_where_free(words, &places, panel.box_px, 10.5, ink);
}

/// A figure of one flight while it grows: rows in view, panels so far.
struct Story<'a> {
    canvas: Canvas<'a>,
    rows: Vec<&'a TraceRow>,
    stack: Stack,
    panels: Vec<Panel>,
}

impl Story<'_> {
    fn points(&self, value: impl Fn(&TraceRow) -> f64) -> Vec<[f64; 2]> {
        self.rows.iter().map(|row| [row.time_s, value(row)]).collect()
    }

    fn panel(&mut self, name: &str, scale: [f64; 2], n_ticks: usize, label: Option<&str>) -> Panel {
        let panel = self.stack.panel(&mut self.canvas, name, scale, n_ticks, label);
        self.panels.push(panel);
        panel
    }

    /// The whole flight as a thin strip with a frame around what is shown below. Returns the bottom.
    fn strip(&mut self, trace: &Trace, top: f64) -> f64 {
        let canvas = &mut self.canvas;
        let margin = canvas.margin();
        let [first, last] = whole(trace);
        let name = "whole flight";
        let left = margin + font::width_px(name, 11.0, Weight::Regular) + 10.0;
        let end = format!("{} s", words::number(last, 0));
        let right = canvas.width_px() - margin - font::width_px(&end, 11.0, Weight::Regular) - 8.0;
        let across = Panel { box_px: [left, top, right, top + 1.0], x: [first, last], y: [0.0, 1.0] };
        let (y0, y1) = (top + 6.0, top + 18.0);
        canvas.text(name, [margin, top + 12.0], At::Left, 11.0, Weight::Regular, Ink::Ink);
        canvas.text(&end, [right + 6.0, top + 12.0], At::Left, 11.0, Weight::Regular, Ink::Ink);
        for (doing, from, to) in stretches(&trace.rows) {
            let corners = Canvas::corners(across.at_x(from), y0, across.at_x(to).max(across.at_x(from) + 0.8), y1);
            canvas.patterned(&corners, STRIP, pattern_of(doing), 0.35, 0.8);
            canvas.drew(doing.label());
        }
        let [from, to] = window(trace).map(|time_s| across.at_x(time_s));
        canvas.outline(&Canvas::corners(from, y0 - 3.0, to, y1 + 3.0), Ink::Ink, 1.0, 1.6);
        if let Some(lost_s) = trace.lost_at_s {
            let x = across.at_x(lost_s);
            canvas.line(&[[x, y0 - 5.0], [x, y1 + 5.0]], Ink::Ink, 1.0, 2.0);
        }
        top + 26.0
    }

    /// What the craft was doing: a band over the panels of a column, named where the name fits. Returns its top.
    fn doing(&mut self, y: f64, stretches: &[(Doing, f64, f64)]) -> f64 {
        let [from_s, to_s] = self.stack.x;
        let across = self.across();
        let canvas = &mut self.canvas;
        for &(doing, from, to) in stretches.iter().filter(|s| s.2 > from_s && s.1 < to_s) {
            let (x0, x1) = (across.at_x(from.max(from_s)), across.at_x(to.min(to_s)));
            let corners = Canvas::corners(x0, y, x1.max(x0 + 0.8), y + 18.0);
            canvas.patterned(&corners, STRIP, pattern_of(doing), 0.35, 0.8);
            if font::width_px(doing.label(), 11.0, Weight::Bold) + 10.0 < x1 - x0 {
                canvas.chip(doing.label(), [(x0 + x1) / 2.0, y + 9.0], At::Middle, 11.0, Weight::Bold, Ink::Ink);
            }
        }
        self.stack.y = y + 24.0 + self.stack.gap_px;
        y
    }

    /// The time axis alone.
    fn across(&self) -> Panel {
        let [left, right] = self.stack.sides_px;
        Panel { box_px: [left, 0.0, right, 1.0], x: self.stack.x, y: [0.0, 1.0] }
    }

    /// Height, margin and charge around the loss, and what happened in so far as its numbers stand there. Returns that in words.
    fn on_sheet(&mut self, trace: &Trace, top: f64, ceiling_m: f64) -> Vec<String> {
        let canvas = &self.canvas;
        self.stack.sides_px[1] = canvas.width_px() - canvas.margin() - 10.0;
        self.stack.height_px = (canvas.room(0.0, top, 24.0 + 44.0, 90.0) - 3.0 * self.stack.gap_px) / 3.0;
        let stretches = stretches(&trace.rows);
        for (doing, ..) in &stretches {
            self.canvas.drew(doing.label());
        }
        let bands_top = self.doing(top, &stretches);
        self.height(ceiling_m);
        self.margin();
        self.charge();
        self.rule(trace, bands_top, 0);
        self.canvas.height_px = self.stack.y - self.stack.gap_px + 24.0;
        let [from_s, to_s] = self.stack.x;
        let told = told(trace);
        let ruled = trace.events.iter().zip(&told).filter(|(at, _)| (from_s..=to_s).contains(&at.time_s));
        self.canvas.beside(ruled.map(|(_, line)| line.as_str()));
        told
    }

    /// Margin of the control link.
    fn margin(&mut self) {
        let points = self.points(|row| row.margin_db);
        let scale = axis::range(points.iter().map(|p| p[1]).chain([0.0]), 3);
        let panel = self.panel("Margin of the control link / dB", scale, 3, None);
        panel.curve(&mut self.canvas, points.into_iter(), Ink::Vermilion, 1.3);
        level(&mut self.canvas, &panel, 0.0, "needed", Ink::Ink);
    }

    /// Link quality and margin, and a strip each for what the pilot hears and sees.
    fn link(&mut self) {
        let panel = self.panel("Link quality / %", [0.0, 100.0], 2, None);
        let points = self.points(|row| row.quality_pct);
        panel.curve(&mut self.canvas, points.into_iter(), Ink::Blue, 1.5);
        self.margin();

        let [left, right] = self.stack.sides_px;
        let (y, across) = (self.stack.y, self.across());
        let canvas = &mut self.canvas;
        canvas.text("What the pilot still gets", [left, y - 19.0], At::Left, 12.0, Weight::Bold, Ink::Ink);
        for (top, words) in [(y - 4.0, "telemetry"), (y + 12.0, "picture")] {
            let up = |row: &TraceRow| if words == "picture" { row.video_up } else { row.telemetry_up };
            canvas.rect(left, top, right, top + 13.0, Ink::Band, 1.0);
            for run in self.rows.chunk_by(|a, b| up(a) == up(b)).filter(|run| up(run[0])) {
                let end = self.rows.iter().find(|row| row.time_s > run[run.len() - 1].time_s);
                let end_s = end.unwrap_or(&run[run.len() - 1]).time_s;
                canvas.rect(across.at_x(run[0].time_s), top, across.at_x(end_s), top + 13.0, Ink::Sky, 0.8);
            }
            canvas.chip(words, [left + 6.0, top + 6.5], At::Left, 10.5, Weight::Regular, Ink::Ink);
        }
        self.stack.y += 26.0 + self.stack.gap_px;
    }

    /// Satellites and HDOP.
    fn sky(&mut self) {
        let most = self.rows.iter().map(|row| f64::from(row.satellites)).fold(8.0, f64::max);
        let scale = [0.0, axis::range([0.0, most].into_iter(), 3)[1]];
        let panel = self.panel("Satellites in the fix", scale, 3, None);
        let points = self.points(|row| f64::from(row.satellites));
        panel.curve(&mut self.canvas, points.into_iter(), Ink::Green, 1.6);
        let panel = self.panel("HDOP (gap: no fix; above 4 not drawn)", [0.0, 4.0], 2, None);
        let points = self.points(|row| if row.hdop > 4.0 { f64::NAN } else { row.hdop });
        panel.curve(&mut self.canvas, points.into_iter(), Ink::Green, 1.6);
    }

    /// Wind with gusts where the craft is.
    fn wind(&mut self, label: Option<&str>) {
        let points = self.points(|row| row.wind_mps);
        let scale = [0.0, axis::range(points.iter().map(|p| p[1]).chain([0.0, 2.0]), 3)[1]];
        let panel = self.panel("Wind at the craft, with gusts / m/s", scale, 3, label);
        panel.curve(&mut self.canvas, points.into_iter(), Ink::Soft, 1.4);
        if label.is_some() {
            self.stack.y += 20.0;
        }
    }

    /// Height of the craft over what stands below it.
    fn height(&mut self, ceiling_m: f64) {
        let (heights, surface) = (self.points(|row| row.height_m), self.points(|row| row.surface_m));
        let show = ceiling_m.is_finite() && ceiling_m > 0.0 && heights.iter().any(|p| p[1] > 0.6 * ceiling_m);
        let values = heights.iter().chain(&surface).map(|p| p[1]).chain([0.0]).chain(show.then_some(ceiling_m * 1.05));
        let panel = self.panel("Height above home / m", axis::range(values, 3), 3, None);
        let canvas = &mut self.canvas;
        panel.surface(canvas, surface.iter().copied());
        panel.curve(canvas, heights.iter().copied(), Ink::Blue, 1.8);
        if show {
            level(canvas, &panel, ceiling_m, "ceiling", Ink::Ink);
        }
        panel.name_curve(canvas, &heights, "craft");
        panel.name_curve(canvas, &surface, "ground, trees, roofs below");
    }

    /// Charge in the pack, and what the way home would take.
    fn charge(&mut self) {
        let panel = self.panel("Charge / %", [0.0, 100.0], 2, Some(TIME));
        let charge = self.points(|row| row.charge_pct);
        let home =
            self.points(|row| row.charge_home_pct.min(if row.charge_home_pct.is_nan() { f64::NAN } else { 100.0 }));
        let canvas = &mut self.canvas;
        panel.curve(canvas, charge.iter().copied(), Ink::Blue, 1.8);
        panel.dashed_curve(canvas, home.iter().copied(), Ink::Vermilion);
        panel.name_curve(canvas, &charge, "in the pack");
        panel.name_curve(canvas, &home, "needed to come home");
        self.stack.y += 20.0;
    }

    /// Numbers what happened along the top of a column and rules its panels, those from `first_panel` on.
    fn rule(&mut self, trace: &Trace, bands_top: f64, first_panel: usize) {
        let (across, [left, right]) = (self.across(), self.stack.sides_px);
        let [from_s, to_s] = self.stack.x;
        let canvas = &mut self.canvas;
        let mut last_x = f64::NEG_INFINITY;
        for (index, Happened { time_s, .. }) in trace.events.iter().take(EVENTS).enumerate() {
            if *time_s < from_s || *time_s > to_s {
                continue;
            }
            let x = across.at_x(*time_s).clamp(left, right);
            canvas.line(&[[x, bands_top + 18.0], [x, bands_top + 24.0]], Ink::Ink, 1.0, 1.0);
            for panel in &self.panels[first_panel..] {
                canvas.line(&[[x, panel.box_px[1]], [x, panel.box_px[3]]], Ink::Ink, 0.35, 0.9);
            }
            let label = (index + 1).to_string();
            let half = font::width_px(&label, 10.0, Weight::Bold) / 2.0;
            // Close neighbours move aside, to the right.
            let at = if x - half < last_x + 3.0 { last_x + 4.0 + half } else { x };
            let at = at.min(right + 8.0 - half);
            if at - half >= last_x + 1.0 {
                canvas.text(&label, [at, bands_top + 30.0], At::Middle, 10.5, Weight::Bold, Ink::Ink);
                last_x = at + half;
            }
        }
    }

    /// What happened, told in columns from `top` on. Returns it in words, and the bottom.
    fn events(&mut self, trace: &Trace, top: f64) -> (Vec<String>, f64) {
        let told = told(trace);
        let canvas = &mut self.canvas;
        let columns = if canvas.look.narrow() { 1 } else { 3 };
        let margin = canvas.margin();
        let width = (canvas.width_px() - 2.0 * margin) / columns as f64;
        let mut bottom = top;
        for (column, chunk) in told.chunks(told.len().div_ceil(columns).max(1)).enumerate() {
            let mut y = top;
            for line in chunk {
                let at = [margin + column as f64 * width, y];
                y += canvas.paragraph(line, at, width - 14.0, 11.0, Weight::Regular, Ink::Ink) + 2.0;
            }
            bottom = bottom.max(y);
        }
        (told, bottom)
    }
}

/// What happened, numbered.
fn told(trace: &Trace) -> Vec<String> {
    let shown = trace.events.iter().take(EVENTS).enumerate();
    shown
        .map(|(index, Happened { time_s, event })| {
            format!("{} at {} s: {}", index + 1, words::number(*time_s, 1), event.in_words())
        })
        .collect()
}

/// Events told at most.
const EVENTS: usize = 16;

/// A legend of what the craft does in a flight.
fn doing_legend(rows: &[TraceRow]) -> Vec<Entry> {
    let mut legend: Vec<Entry> = Vec::new();
    for (doing, ..) in stretches(rows) {
        if legend.iter().all(|entry| entry.0 != doing.label()) {
            legend.push(entry(doing.label(), move |canvas, at| {
                canvas.patterned(&sample_box(at), STRIP, pattern_of(doing), 0.35, 0.8);
                canvas.outline(&sample_box(at), Ink::Soft, 1.0, 0.7);
            }));
        }
    }
    legend
}

/// The timeline of one flight: the whole as a strip, half a minute before and after the loss in panels, in two columns where there is
/// room. `id` keeps figures apart, `story` says which flight it is.
pub fn timeline(id: &str, story: &str, trace: &Trace, ceiling_m: f64, look: Look) -> Figure {
    let mut canvas = Canvas::new(id, look);
    let title = format!("{}, in detail", words::sentence(story));
    let under = format!("Flight {} under {}: {}", trace.flight, trace.policy, trace.headline);
    let top = canvas.head(&title, &under);
    canvas.keep_beside(top, 0.27 * look.width_px);
    let top = canvas.legend(top, &doing_legend(&trace.rows));
    let span = window(trace);
    let (margin, wide) = (canvas.margin(), look.width_px >= 800.0 && !look.sheet());
    let (left, right) = (margin + 38.0, canvas.width_px() - margin - 10.0);
    let stack = Stack {
        sides_px: [left, right],
        y: top,
        height_px: if wide { 56.0 } else { 62.0 },
        gap_px: 30.0,
        x: span,
        n_ticks: if look.narrow() { 5 } else { 6 },
    };
    let rows = trace.rows.iter().filter(|row| (span[0]..=span[1]).contains(&row.time_s)).collect();
    let mut figure = Story { canvas, rows, stack, panels: vec![] };
    let caption = "Read downwards at one moment: the numbered lines mark what happened. The link counts as lost only after the receiver \
                   has waited in silence; the charge needed to come home must stay below the charge in the pack.";
    if look.sheet() {
        let told = figure.on_sheet(trace, top, ceiling_m);
        return figure.canvas.finish(&title, caption, &format!("{under}. {}.", told.join("; ")));
    }
    let top = figure.strip(trace, top) + 6.0;
    let stretches = stretches(&trace.rows);
    let middle = (left + right) / 2.0;
    let columns = if wide { vec![[left, middle - 16.0], [middle + 38.0, right]] } else { vec![[left, right]] };
    let mut bottom = top;
    for (column, sides_px) in columns.iter().enumerate() {
        figure.stack.sides_px = *sides_px;
        let first_panel = figure.panels.len();
        let bands_top = figure.doing(top, &stretches);
        if column == 0 {
            figure.link();
            figure.wind(wide.then_some(TIME));
        }
        if column == 1 || !wide {
            figure.sky();
            figure.height(ceiling_m);
            figure.charge();
        }
        figure.rule(trace, bands_top, first_panel);
        bottom = bottom.max(figure.stack.y);
    }
    let (told, bottom) = figure.events(trace, bottom);
    let mut canvas = figure.canvas;
    canvas.height_px = bottom + 6.0;
    canvas.finish(&title, caption, &format!("{under}. {}.", told.join("; ")))
}

/// Name of the time axis.
const TIME: &str = "Time after take-off / s";

type Term = (&'static str, Ink, Pattern, fn(&LossBudget) -> f64);

/// Terms of the loss budget, drawn from the bottom.
const TERMS: [Term; 9] = [
    ("distance", Ink::Sky, Pattern::Plain, |b| b.distance_db),
    ("terrain and buildings", Ink::Vermilion, Pattern::Crossed, |b| b.diffraction_db),
    ("trees", Ink::Green, Pattern::Dots, |b| b.vegetation_db),
    ("ground reflection", Ink::Yellow, Pattern::Waves, |b| b.reflection_db),
    ("antennas: pattern and polarisation", Ink::Blue, Pattern::Rising, |b| b.pattern_db + b.polarisation_db),
    ("pilot's body", Ink::Grey, Pattern::Level, |b| b.body_db),
    ("shadowing", Ink::Purple, Pattern::Falling, |b| b.shadowing_db),
    ("fading", Ink::Orange, Pattern::Upright, |b| b.fading_db),
    ("interference", Ink::Soft, Pattern::Squares, |b| b.interference_db),
];

/// Stretches of indices over which a part of a term is there, each with the zero before and after it.
fn bands(part: &[f64]) -> Vec<(usize, usize)> {
    let mut bands: Vec<(usize, usize)> = Vec::new();
    for (index, _) in part.iter().enumerate().filter(|(_, value)| **value != 0.0) {
        let (from, to) = (index.saturating_sub(1), (index + 2).min(part.len()));
        match bands.last_mut() {
            Some(last) if from < last.1 => last.1 = to,
            _ => bands.push((from, to)),
        }
    }
    bands
}

/// How to read the stack: it explains a loss that the radio itself brought about, and no other.
fn budget_caption(cause: Option<LossCause>) -> &'static str {
    match cause {
        Some(LossCause::Cut) => {
            "The scenario cut this link: the stack shows what the radio itself could still do, not why the link went."
        }
        Some(LossCause::Switch) => {
            "The pilot threw the switch for want of a picture: the stack shows what the control link could still do."
        }
        Some(LossCause::Restart) => {
            "The receiver restarted: the stack shows what the radio itself could still do, not why the link went."
        }
        _ => {
            "Where the coloured stack rises above the black line the link falls silent. The band that grew just before is the one \
             that took the margin away."
        }
    }
}

/// Which term took the margin away: the losses stacked over the flight, against what the link could bear.
pub fn budget(id: &str, story: &str, trace: &Trace, look: Look) -> Figure {
    let mut canvas = Canvas::new(id, look);
    let title = format!("Which term took the margin away: {story}");
    let top = canvas.head(
        &title,
        "Losses of the control link, stacked, around the moment of the loss; gains are drawn below zero.",
    );
    let span = window(trace);
    let shown = trace.rows.iter().filter(|row| (span[0]..=span[1]).contains(&row.time_s)).count();
    let step = (shown / 260).max(1);
    let rows: Vec<&TraceRow> =
        trace.rows.iter().filter(|row| (span[0]..=span[1]).contains(&row.time_s)).step_by(step).collect();
    let used: Vec<&Term> =
        TERMS.iter().filter(|term| rows.iter().any(|row| (term.3)(&row.budget).abs() > 0.05)).collect();
    let mut entries: Vec<Entry> = used
        .iter()
        .map(|term| {
            let (words, ink, pattern, _) = **term;
            entry(words, move |canvas, at| super::bars::swatch(canvas, at, ink, pattern))
        })
        .collect();
    const BEARS: &str = "what the link can bear";
    const MEAN: &str = "what the link can bear: losses above it mean silence";
    entries.push(entry(MEAN, |canvas, at| canvas.stroke_sample(at, Ink::Ink, 2.2)));
    let y = canvas.legend(top, &entries) + 24.0;
    let sum = |row: &TraceRow| used.iter().map(|term| (term.3)(&row.budget)).sum::<f64>();
    // The margin is what is left, so losses and margin add up to what the link can bear.
    let bears = |row: &TraceRow| sum(row) + row.margin_db;
    let over = |row: &TraceRow| used.iter().map(|term| (term.3)(&row.budget).max(0.0)).sum::<f64>();
    let under = |row: &TraceRow| used.iter().map(|term| (term.3)(&row.budget).min(0.0)).sum::<f64>();
    let scale = axis::range(
        rows.iter().flat_map(|row| [over(row), under(row), bears(row)]).filter(|v| v.is_finite()).chain([0.0]),
        6,
    );
    let margin = canvas.margin();
    let mut stack = Stack {
        sides_px: [margin + 38.0, canvas.width_px() - margin - 10.0],
        y,
        height_px: canvas.room(if look.narrow() { 260.0 } else { 330.0 }, y, 44.0, 80.0),
        gap_px: 0.0,
        x: span,
        n_ticks: if look.narrow() { 5 } else { 10 },
    };
    let panel = stack.panel(&mut canvas, "Loss / dB", scale, 6, Some(TIME));
    // Losses upwards from zero, gains downwards: a term that changes its sign is two bands that taper to nothing.
    let mut stacks = [vec![0.0; rows.len()], vec![0.0; rows.len()]];
    for term in &used {
        canvas.drew(term.0);
        for (stack, sign) in stacks.iter_mut().zip([1.0, -1.0]) {
            let part: Vec<f64> = rows
                .iter()
                .map(|row| (term.3)(&row.budget))
                .map(|value| if value.is_finite() { sign * (sign * value).max(0.0) } else { 0.0 })
                .collect();
            for (from, to) in bands(&part) {
                let edge = |top: bool| {
                    let at = |index: usize| stack[index] + if top { part[index] } else { 0.0 };
                    (from..to).map(|index| panel.at(rows[index].time_s, at(index))).collect::<Vec<_>>()
                };
                let (low, high) = (edge(false), edge(true));
                let shape: Vec<[f64; 2]> = low.into_iter().chain(high.iter().rev().copied()).collect();
                canvas.patterned(&shape, term.1, term.2, 1.0, 0.55);
                canvas.line(&high, Ink::Paper, 0.7, 0.6);
            }
            for (base, value) in stack.iter_mut().zip(&part) {
                *base += value;
            }
        }
    }
    canvas.drew(MEAN);
    panel.curve(&mut canvas, rows.iter().map(|row| [row.time_s, bears(row)]), Ink::Ink, 2.2);
    if let Some(lost) = trace.lost_at_s.filter(|lost| *lost >= span[0]) {
        let x = panel.at_x(lost);
        canvas.line(&[[x, panel.box_px[1]], [x, panel.box_px[3]]], Ink::Ink, 1.0, 1.2);
        let side = if x > (panel.box_px[0] + panel.box_px[2]) / 2.0 { At::Right } else { At::Left };
        let shift = if side == At::Right { -6.0 } else { 6.0 };
        canvas.chip("link declared lost", [x + shift, panel.box_px[1] + 10.0], side, 10.5, Weight::Bold, Ink::Ink);
    }
    canvas.height_px = panel.box_px[3] + 44.0;
    let worst = trace
        .lost_at_s
        .and_then(|lost| rows.iter().min_by(|a, b| (a.time_s - lost).abs().total_cmp(&(b.time_s - lost).abs())));
    let heard = worst.map_or("Losses of the control link over the flight.".to_string(), |row| {
        let parts: Vec<String> =
            used.iter().map(|term| format!("{} {} dB", term.0, words::number((term.3)(&row.budget), 1))).collect();
        format!(
            "At the moment at which the link was declared lost: {}; {BEARS} {} dB. Values change from moment to moment: those of \
             a story are means over the silence.",
            parts.join(", "),
            words::number(bears(row), 1)
        )
    });
    canvas.finish(&title, budget_caption(trace.cause), &heard)
}

#[cfg(test)]
mod tests {
    use super::{around, bands};

    #[test]
    fn the_view_holds_half_a_minute_around_the_loss() {
        let flight = [0.0, 200.0];
        let views = [None, Some(90.0), Some(12.0), Some(190.0)].map(|lost_s| around(lost_s, flight));
        assert_eq!(views, [flight, [60.0, 120.0], [0.0, 42.0], [160.0, 200.0]]);
    }

    #[test]
    fn bands_taper_to_the_zeros_beside_them() {
        assert_eq!(bands(&[0.0, 0.0, 3.0, 2.0, 0.0, 0.0, 0.0, 1.0]), [(1, 5), (6, 8)]);
        // A single zero between two parts belongs to both: one band that touches the base there.
        assert_eq!(bands(&[1.0, 0.0, 1.0]), [(0, 3)]);
        assert_eq!(bands(&[0.0, 0.0]), []);
    }
}
