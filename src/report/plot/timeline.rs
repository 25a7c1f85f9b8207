//! One flight, second by second; and where its margin went.

use super::axis::{self, Panel};
use super::canvas::{At, Canvas, Entry, Figure, Look};
use super::font::{self, Weight};
use super::theme::{Ink, Pattern, Shape};
use crate::flight::{Doing, LossBudget, Trace, TraceRow};
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

/// The part of a flight worth showing: at most this long before the loss when the whole is long.
fn window(trace: &Trace) -> [f64; 2] {
    let first = trace.rows.first().map_or(0.0, |row| row.time_s);
    let last = trace.rows.last().map_or(1.0, |row| row.time_s).max(first + 1.0);
    match trace.lost_at_s {
        Some(lost) if lost - first > 2.0 * (last - lost).max(30.0) => {
            [(lost - 1.2 * (last - lost).max(30.0)).max(first), last]
        }
        _ => [first, last],
    }
}

/// Names of the panels stand above them, so that figures stay wide.
fn panel_name(canvas: &mut Canvas, panel: &Panel, name: &str) {
    let at = [panel.box_px[0], panel.box_px[1] - 13.0];
    canvas.text(name, at, At::Left, 12.0, Weight::Bold, Ink::Ink);
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

/// A name beside a curve, at the first free place near it.
fn name_curve(canvas: &mut Canvas, panel: &Panel, points: &[[f64; 2]], words: &str, ink: Ink) {
    let finite: Vec<&[f64; 2]> = points.iter().filter(|p| p[1].is_finite()).collect();
    let mut places = Vec::new();
    for f in [0.12, 0.3, 0.5, 0.7, 0.88, 0.05, 0.95] {
        if let Some(p) = finite.get((finite.len() as f64 * f) as usize) {
            let at = panel.at(p[0], p[1]);
            for d in [-11.0, 11.0, -22.0, 22.0] {
                places.push(([at[0], at[1] + d], At::Middle));
            }
        }
    }
    if canvas.chip_where_free(words, &places, panel.box_px, 10.5, ink) {
        canvas.explained(words);
    }
}

/// The timeline of one flight. `id` keeps figures apart, `story` says which flight it is.
pub fn timeline(id: &str, story: &str, trace: &Trace, ceiling_m: f64, look: Look) -> Figure {
    let mut canvas = Canvas::new(id, look);
    let title = format!("{}, second by second", words::sentence(story));
    let under = format!("Flight {} under {}: {}", trace.flight, trace.policy, trace.headline);
    let top = canvas.head(&title, &under);
    let margin = canvas.margin();
    let span = window(trace);
    let rows: Vec<&TraceRow> = trace.rows.iter().filter(|row| row.time_s >= span[0]).collect();
    let (left, right) = (margin + 38.0, canvas.width_px() - margin - 10.0);
    let height = if look.narrow() { 66.0 } else { 78.0 };
    let gap = 34.0;
    let n_ticks = if look.narrow() { 5 } else { 10 };

    let stretches: Vec<(Doing, f64, f64)> = stretches(&trace.rows).into_iter().filter(|s| s.2 > span[0]).collect();
    let across = Panel { box_px: [left, 0.0, right, 1.0], x: span, y: [0.0, 1.0] };
    // The bands that say what the craft was doing: labelled where the name fits, in the legend otherwise.
    let mut legend: Vec<Entry> = Vec::new();
    let fits = |doing: Doing, from: f64, to: f64| {
        let wide = across.at_x(to) - across.at_x(from.max(span[0]));
        font::width_px(doing.label(), 11.0, Weight::Bold) + 10.0 < wide
    };
    for &(doing, _, _) in &stretches {
        let words = doing.label();
        let (ink, pattern) = (STRIP, pattern_of(doing));
        let labelled = stretches.iter().any(|s| s.0 == doing && fits(s.0, s.1, s.2));
        if !labelled && legend.iter().all(|entry| entry.0 != words) {
            legend.push((
                words.into(),
                Box::new(move |canvas, at| {
                    let corners = Canvas::corners(at[0] - 11.0, at[1] - 6.0, at[0] + 11.0, at[1] + 6.0);
                    canvas.patterned(&corners, ink, pattern, 0.35, 0.8);
                    canvas.outline(&corners, Ink::Soft, 1.0, 0.7);
                }),
            ));
        }
    }
    let mut y = if legend.is_empty() { top + 4.0 } else { canvas.legend(top, &legend) + 4.0 };
    let bands_top = y;
    for &(doing, from, to) in &stretches {
        let (ink, pattern) = (STRIP, pattern_of(doing));
        let (x0, x1) = (across.at_x(from.max(span[0])), across.at_x(to));
        let corners = Canvas::corners(x0, y, x1.max(x0 + 0.8), y + 18.0);
        canvas.patterned(&corners, ink, pattern, 0.35, 0.8);
        canvas.drew(doing.label());
        let words = doing.label();
        if fits(doing, from, to) {
            canvas.explained(words);
            canvas.chip(words, [(x0 + x1) / 2.0, y + 9.0], At::Middle, 11.0, Weight::Bold, Ink::Ink);
        }
    }
    y += 24.0 + gap;

    let points =
        |f: &dyn Fn(&TraceRow) -> f64| -> Vec<[f64; 2]> { rows.iter().map(|row| [row.time_s, f(row)]).collect() };
    let next = |y: &mut f64, scale: [f64; 2]| -> Panel {
        let panel = Panel { box_px: [left, *y, right, *y + height], x: span, y: scale };
        *y += height + gap;
        panel
    };
    let mut panels: Vec<Panel> = Vec::new();

    // Link quality, and a strip each for what the pilot hears and sees.
    let panel = next(&mut y, [0.0, 100.0]);
    panel_name(&mut canvas, &panel, "Link quality / %");
    panel.x_axis(&mut canvas, n_ticks, None);
    panel.y_axis(&mut canvas, 2);
    panel.curve(&mut canvas, points(&|r| r.quality_pct).into_iter(), Ink::Blue, 1.5);
    panels.push(panel);

    let panel = next(&mut y, axis::range(points(&|r| r.margin_db).iter().map(|p| p[1]).chain([0.0]), 3));
    panel_name(&mut canvas, &panel, "Margin of the control link / dB");
    panel.x_axis(&mut canvas, n_ticks, None);
    panel.y_axis(&mut canvas, 3);
    panel.curve(&mut canvas, points(&|r| r.margin_db).into_iter(), Ink::Vermilion, 1.3);
    level(&mut canvas, &panel, 0.0, "needed", Ink::Ink);
    panels.push(panel);

    let strip = Panel { box_px: [left, y - 6.0, right, y + 26.0], x: span, y: [0.0, 1.0] };
    panel_name(&mut canvas, &strip, "What the pilot still gets");
    for (k, (words, up)) in [
        ("telemetry", (&|r: &TraceRow| r.telemetry_up) as &dyn Fn(&TraceRow) -> bool),
        ("picture", &|r: &TraceRow| r.video_up),
    ]
    .into_iter()
    .enumerate()
    {
        let top = strip.box_px[1] + 16.0 * k as f64 + 2.0;
        canvas.rect(left, top, right, top + 13.0, Ink::Band, 1.0);
        let mut from: Option<f64> = None;
        for row in &rows {
            match (up(row), from) {
                (true, None) => from = Some(row.time_s),
                (false, Some(start)) => {
                    canvas.rect(strip.at_x(start), top, strip.at_x(row.time_s), top + 13.0, Ink::Sky, 0.8);
                    from = None;
                }
                _ => {}
            }
        }
        if let (Some(start), Some(last)) = (from, rows.last()) {
            canvas.rect(strip.at_x(start), top, strip.at_x(last.time_s), top + 13.0, Ink::Sky, 0.8);
        }
        canvas.chip(words, [left + 6.0, top + 6.5], At::Left, 10.5, Weight::Regular, Ink::Ink);
    }
    y += 26.0 + gap + 4.0;

    let most = rows.iter().map(|row| f64::from(row.satellites)).fold(8.0, f64::max);
    let panel = next(&mut y, [0.0, axis::range([0.0, most].into_iter(), 3)[1]]);
    panel_name(&mut canvas, &panel, "Satellites in the fix");
    panel.x_axis(&mut canvas, n_ticks, None);
    panel.y_axis(&mut canvas, 3);
    panel.curve(&mut canvas, points(&|r| f64::from(r.satellites)).into_iter(), Ink::Green, 1.6);
    panels.push(panel);

    let panel = next(&mut y, [0.0, 4.0]);
    panel_name(&mut canvas, &panel, "HDOP (gap: no fix; above 4 not drawn)");
    panel.x_axis(&mut canvas, n_ticks, None);
    panel.y_axis(&mut canvas, 2);
    panel.curve(&mut canvas, points(&|r| if r.hdop > 4.0 { f64::NAN } else { r.hdop }).into_iter(), Ink::Green, 1.6);
    panels.push(panel);

    let heights = points(&|r| r.height_m);
    let surface = points(&|r| r.surface_m);
    let show_ceiling = ceiling_m.is_finite() && ceiling_m > 0.0 && heights.iter().any(|p| p[1] > 0.6 * ceiling_m);
    let scale = axis::range(
        heights.iter().chain(&surface).map(|p| p[1]).chain([0.0]).chain(show_ceiling.then_some(ceiling_m * 1.05)),
        3,
    );
    let mut panel = next(&mut y, scale);
    panel.box_px[3] += 24.0;
    y += 24.0;
    panel_name(&mut canvas, &panel, "Height above home / m");
    panel.x_axis(&mut canvas, n_ticks, None);
    panel.y_axis(&mut canvas, 3);
    let ground = panel.pieces(surface.iter().copied());
    for piece in &ground {
        let mut shape = piece.clone();
        if let (Some(first), Some(last)) = (piece.first(), piece.last()) {
            shape.push([last[0], panel.box_px[3]]);
            shape.push([first[0], panel.box_px[3]]);
        }
        canvas.patterned(&shape, Ink::Soft, Pattern::Rising, 0.25, 0.5);
        canvas.line(piece, Ink::Soft, 1.0, 1.2);
        canvas.keep_off(piece);
    }
    panel.curve(&mut canvas, heights.iter().copied(), Ink::Blue, 1.8);
    if show_ceiling {
        level(&mut canvas, &panel, ceiling_m, "ceiling", Ink::Ink);
    }
    name_curve(&mut canvas, &panel, &heights, "craft", Ink::Ink);
    name_curve(&mut canvas, &panel, &surface, "ground, trees, roofs below", Ink::Ink);
    panels.push(panel);

    let panel = next(&mut y, [0.0, 100.0]);
    panel_name(&mut canvas, &panel, "Charge / %");
    panel.y_axis(&mut canvas, 2);
    panel.x_axis(&mut canvas, n_ticks, Some("Time after take-off / s"));
    let (charge, home) = (points(&|r| r.charge_pct), points(&|r| r.charge_home_pct));
    panel.curve(&mut canvas, charge.iter().copied(), Ink::Blue, 1.8);
    for piece in panel.pieces(home.iter().copied().map(|[x, v]| [x, if v.is_finite() { v.min(100.0) } else { v }])) {
        canvas.dashed(&piece, Ink::Vermilion, 1.0, 1.8, 5.0, 3.0);
        canvas.keep_off(&piece);
    }
    name_curve(&mut canvas, &panel, &charge, "in the pack", Ink::Ink);
    name_curve(&mut canvas, &panel, &home, "needed to come home", Ink::Ink);
    panels.push(panel);
    y += 20.0;

    // What happened, numbered along the top and told below.
    let mut told = Vec::new();
    let mut last_x = f64::NEG_INFINITY;
    let mut lift = 0.0;
    let shown: Vec<&(f64, String)> = trace.events.iter().filter(|event| event.0 >= span[0]).take(16).collect();
    for (index, (time_s, what)) in shown.iter().enumerate() {
        let x = across.at_x(*time_s).clamp(left, right);
        canvas.line(&[[x, bands_top + 18.0], [x, bands_top + 24.0]], Ink::Ink, 1.0, 1.0);
        for panel in &panels {
            canvas.line(&[[x, panel.box_px[1]], [x, panel.box_px[3]]], Ink::Ink, 0.35, 0.9);
        }
        let label = (index + 1).to_string();
        let width = font::width_px(&label, 10.0, Weight::Bold);
        lift = if x - width / 2.0 < last_x + 3.0 { lift + 1.0 } else { 0.0 };
        // Close neighbours move aside, to the right.
        let at = if lift > 0.0 { last_x + 4.0 + width / 2.0 } else { x };
        let at = at.min(canvas.width_px() - width / 2.0 - 1.0);
        if at - width / 2.0 >= last_x + 1.0 {
            canvas.text(&label, [at, bands_top + 30.0], At::Middle, 10.5, Weight::Bold, Ink::Ink);
            last_x = at + width / 2.0;
        }
        told.push(format!("{} at {} s: {what}", index + 1, words::number(*time_s, 1)));
    }
    if !told.is_empty() {
        let columns = if look.narrow() { 1 } else { 3 };
        let width = (canvas.width_px() - 2.0 * margin) / columns as f64;
        let mut bottom = y;
        let rows_per = told.len().div_ceil(columns);
        for (column, chunk) in told.chunks(rows_per).enumerate() {
            let mut row_y = y;
            for line in chunk {
                let at = [margin + column as f64 * width, row_y];
                row_y += canvas.paragraph(line, at, width - 14.0, 11.0, Weight::Regular, Ink::Ink) + 2.0;
            }
            bottom = bottom.max(row_y);
        }
        y = bottom;
    }
    canvas.height_px = y + 6.0;
    let caption = "Read downwards at one moment: the numbered lines mark what happened. The link counts as lost only after the receiver \
                   has waited in silence; the charge needed to come home must stay below the charge in the pack.";
    let heard = format!("{under}. {}.", told.join("; "));
    canvas.finish(&title, caption, &heard)
}

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

/// Which term took the margin away: the losses stacked over the flight, against what the link could bear.
pub fn budget(id: &str, story: &str, trace: &Trace, look: Look) -> Figure {
    let mut canvas = Canvas::new(id, look);
    let title = format!("Which term took the margin away: {story}");
    let top = canvas.head(&title, "Losses of the control link stacked over the flight; gains are drawn below zero.");
    let span = window(trace);
    let step = (trace.rows.len() / 260).max(1);
    let rows: Vec<&TraceRow> = trace.rows.iter().filter(|row| row.time_s >= span[0]).step_by(step).collect();
    let used: Vec<&Term> =
        TERMS.iter().filter(|term| rows.iter().any(|row| (term.3)(&row.budget).abs() > 0.05)).collect();
    let mut entries: Vec<Entry> = used
        .iter()
        .map(|term| {
            let (words, ink, pattern, _) = **term;
            let sample: super::canvas::Sample =
                Box::new(move |canvas, at| super::bars::swatch(canvas, at, ink, pattern));
            (words.to_string(), sample)
        })
        .collect();
    const BEARS: &str = "what the link can bear";
    const MEAN: &str = "what the link can bear: losses above it mean silence";
    entries.push((
        MEAN.into(),
        Box::new(|canvas, at| {
            canvas.line(&[[at[0] - 11.0, at[1]], [at[0] + 11.0, at[1]]], Ink::Ink, 1.0, 2.2);
        }),
    ));
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
    let panel = Panel {
        box_px: [margin + 38.0, y, canvas.width_px() - margin - 10.0, y + if look.narrow() { 260.0 } else { 330.0 }],
        x: span,
        y: scale,
    };
    panel_name(&mut canvas, &panel, "Loss / dB");
    panel.x_axis(&mut canvas, if look.narrow() { 5 } else { 10 }, Some("Time after take-off / s"));
    panel.y_axis(&mut canvas, 6);
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
    canvas.marks(&[], Shape::Dot, 1.0, Ink::Ink, 1.0);
    canvas.height_px = panel.box_px[3] + 44.0;
    let worst = trace
        .lost_at_s
        .and_then(|lost| rows.iter().min_by(|a, b| (a.time_s - lost).abs().total_cmp(&(b.time_s - lost).abs())));
    let heard = worst.map_or("Losses of the control link over the flight.".to_string(), |row| {
        let parts: Vec<String> =
            used.iter().map(|term| format!("{} {} dB", term.0, words::number((term.3)(&row.budget), 1))).collect();
        format!("When the link was declared lost: {}; {BEARS} {} dB.", parts.join(", "), words::number(bears(row), 1))
    });
    let caption = "Where the coloured stack rises above the black line the link falls silent. The band that grew just before is the \
                   one that took the margin away.";
    canvas.finish(&title, caption, &heard)
}

#[cfg(test)]
mod tests {
    use super::bands;

    #[test]
    fn bands_taper_to_the_zeros_beside_them() {
        assert_eq!(bands(&[0.0, 0.0, 3.0, 2.0, 0.0, 0.0, 0.0, 1.0]), [(1, 5), (6, 8)]);
        // A single zero between two parts belongs to both: one band that touches the base there.
        assert_eq!(bands(&[1.0, 0.0, 1.0]), [(0, 3)]);
        assert_eq!(bands(&[0.0, 0.0]), []);
    }
}
