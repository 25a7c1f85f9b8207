//! What a return height does: danger, craft lost, charge left, time home.

use super::axis::{self, Panel, Stack};
use super::canvas::{At, Canvas, Entry, Figure, Look, entry, sample_box};
use super::font::{self, Weight};
use super::theme::{Ink, Pattern, Shape};
use crate::report::words;
use crate::risk::summary::{HeightRow, Heights, Share};

const INTERVAL: &str = "recommended heights";
const TALLEST: &str = "tallest obstacle on the ways home";
const CEILING: &str = "ceiling";
const DANGER: &str = "danger to people";
const LOST: &str = "craft lost or worse";
const BANDS: &str = "interval, or middle 90 %";

struct Curve {
    ink: Ink,
    pattern: Pattern,
    shape: Shape,
    middle: Vec<[f64; 2]>,
    low: Vec<f64>,
    high: Vec<f64>,
}

fn draw(canvas: &mut Canvas, panel: &Panel, curve: &Curve) {
    let clamp = |v: f64| v.clamp(panel.y[0], panel.y[1]);
    let up = curve.middle.iter().zip(&curve.high).map(|(p, high)| panel.at(p[0], clamp(*high)));
    let down = curve.middle.iter().zip(&curve.low).rev().map(|(p, low)| panel.at(p[0], clamp(*low)));
    let band: Vec<[f64; 2]> = up.chain(down).filter(|p| p[1].is_finite()).collect();
    canvas.patterned(&band, curve.ink, curve.pattern, 0.22, 0.5);
    panel.curve(canvas, curve.middle.iter().copied(), curve.ink, 1.6);
    let marks: Vec<[f64; 2]> = curve.middle.iter().map(|p| panel.at(p[0], p[1])).filter(|p| p[1].is_finite()).collect();
    canvas.marks(&marks, curve.shape, 2.8, curve.ink, 1.0);
}

/// The root scale spreads rare outcomes without hiding the frequent ones, and has a zero.
fn root(share: f64) -> f64 {
    (share.max(0.0) * words::PER).sqrt()
}

fn root_axis(canvas: &mut Canvas, panel: &Panel) {
    let [left, top, right, bottom] = panel.box_px;
    let mut last = f64::INFINITY;
    for value in [0.0f64, 1.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0] {
        let y = panel.at_y(value.sqrt());
        if y < top - 0.1 || last - y < 14.0 {
            continue;
        }
        canvas.line(&[[left, y], [right, y]], Ink::Grid, 1.0, 0.8);
        canvas.text(&words::number(value, 0), [left - 6.0, y], At::Right, axis::TICK, Weight::Regular, Ink::Ink);
        last = y;
    }
    canvas.line(&[[left, top], [left, bottom]], Ink::Soft, 1.0, 1.0);
}

/// One of the panels: its name, curves, height, and whether its scale is the root one.
struct Group {
    name: &'static str,
    curves: Vec<Curve>,
    height_px: f64,
    rooted: bool,
}

/// A share over the heights; none seen has no mark, only its bound.
fn of_share(rows: &[&HeightRow], share: impl Fn(&HeightRow) -> Share, ink: Ink, shape: Shape) -> Curve {
    let estimate = |share: Share| if share.events > 0 { root(share.estimate()) } else { f64::NAN };
    Curve {
        ink,
        pattern: Pattern::Plain,
        shape,
        middle: rows.iter().map(|row| [row.height_m, estimate(share(row))]).collect(),
        low: rows.iter().map(|row| root(share(row).low)).collect(),
        high: rows.iter().map(|row| root(share(row).high)).collect(),
    }
}

/// A measure over the heights: its median and the middle 90 %.
fn of_measure(rows: &[&HeightRow], measure: impl Fn(&HeightRow) -> [f64; 3], shape: Shape) -> Curve {
    Curve {
        ink: Ink::Blue,
        pattern: Pattern::Rising,
        shape,
        middle: rows.iter().map(|row| [row.height_m, measure(row)[1]]).collect(),
        low: rows.iter().map(|row| measure(row)[0]).collect(),
        high: rows.iter().map(|row| measure(row)[2]).collect(),
    }
}

fn groups(rows: &[&HeightRow]) -> [Group; 3] {
    let lost = of_share(rows, |row| row.craft_lost, Ink::Orange, Shape::Square);
    let danger = of_share(rows, |row| row.danger, Ink::Vermilion, Shape::Up);
    let charge = of_measure(rows, |row| row.pack_left_pct, Shape::Disc);
    let time = of_measure(rows, |row| row.time_s, Shape::Diamond);
    [
        Group { name: "Of 1,000 lost links (root scale)", curves: vec![lost, danger], height_px: 190.0, rooted: true },
        Group { name: "Charge left at the end / %", curves: vec![charge], height_px: 110.0, rooted: false },
        Group { name: "Time from loss to the end / s", curves: vec![time], height_px: 110.0, rooted: false },
    ]
}

impl Group {
    fn scale(&self) -> [f64; 2] {
        let values = self.curves.iter().flat_map(|curve| {
            curve.middle.iter().map(|p| p[1]).chain(curve.high.iter().copied()).chain(curve.low.iter().copied())
        });
        let values = values.filter(|v| v.is_finite());
        if self.rooted { [0.0, values.fold(root(0.001), f64::max) * 1.04] } else { axis::range(values.chain([0.0]), 4) }
    }
}

/// The recommended heights as a strip through a panel.
fn interval(canvas: &mut Canvas, panel: &Panel, heights: &Heights) {
    let [left, top, right, bottom] = panel.box_px;
    if let Some([low, high]) = heights.interval_m {
        canvas.drew(INTERVAL);
        let (a, b) = (panel.at_x(low).clamp(left, right), panel.at_x(high).clamp(left, right));
        canvas.rect(a, top, b, bottom, Ink::Green, 0.16);
        for at in [a, b] {
            canvas.line(&[[at, top], [at, bottom]], Ink::Green, 1.0, 1.4);
        }
    }
}

/// Upright lines at the tallest obstacle and the ceiling, named in the first panel.
fn limits(canvas: &mut Canvas, panel: &Panel, heights: &Heights, named: bool) {
    let [left, top, right, bottom] = panel.box_px;
    for (value, words) in [(heights.tallest_m, TALLEST), (heights.ceiling_m, CEILING)] {
        if value < panel.x[0] || value > panel.x[1] || value <= 0.0 {
            continue;
        }
        let at = panel.at_x(value);
        canvas.dashed(&[[at, top], [at, bottom]], Ink::Ink, 1.0, 1.3, 6.0, 3.0);
        if !named {
            continue;
        }
        canvas.drew(words);
        let whole = format!("{words}, {} m", words::number(value, 0));
        let fits = font::width_px(&whole, 10.5, Weight::Regular) <= right - left - 30.0;
        let places: Vec<([f64; 2], At)> = [top + 11.0, top + 26.0, top + 41.0, bottom - 10.0]
            .into_iter()
            .flat_map(|row| {
                [
                    ([at + 5.0, row], At::Left),
                    ([at - 5.0, row], At::Right),
                    ([at.clamp(left + 100.0, right - 100.0), row], At::Middle),
                ]
            })
            .collect();
        // Where the long words find no room, the short ones do.
        let short = words.split(" on ").next().unwrap_or(words);
        if [if fits { &whole } else { words }, short]
            .iter()
            .any(|text| canvas.chip_where_free(text, &places, panel.box_px, 10.5, Ink::Ink))
        {
            canvas.explained(words);
        }
    }
}

/// The sweep of return heights: panels over one axis.
pub fn sweep(heights: &Heights, look: Look) -> Figure {
    let mut canvas = Canvas::new("heights", look);
    let title = "Which height to come home at";
    let under = format!("{}: the same {} flights at every height.", heights.policy, words::count(heights.flights));
    let top = canvas.head(title, &under);
    let mut speeds: Vec<f64> = heights.rows.iter().filter_map(|row| row.speed_mps).collect();
    speeds.sort_by(f64::total_cmp);
    speeds.dedup();
    // With speeds swept too, this figure shows the middle one; the table has all.
    let shown_speed = speeds.get(speeds.len() / 2).copied();
    let rows: Vec<&HeightRow> =
        heights.rows.iter().filter(|row| row.speed_mps.is_none() || row.speed_mps == shown_speed).collect();
    let mut entries: Vec<Entry> = vec![
        entry(DANGER, |canvas, at| sample(canvas, at, Ink::Vermilion, Shape::Up)),
        entry(LOST, |canvas, at| sample(canvas, at, Ink::Orange, Shape::Square)),
        entry(BANDS, |canvas, at| canvas.patterned(&sample_box(at), Ink::Blue, Pattern::Rising, 0.22, 0.5)),
    ];
    if heights.interval_m.is_some() {
        entries.push(entry(INTERVAL, |canvas, at| {
            let corners = sample_box(at);
            canvas.area(&corners, Ink::Green, 0.25);
            canvas.line(&[corners[0], corners[3]], Ink::Green, 1.0, 1.6);
            canvas.line(&[corners[1], corners[2]], Ink::Green, 1.0, 1.6);
        }));
    }
    let margin = canvas.margin();
    let tallest = (heights.tallest_m > 0.0).then_some(heights.tallest_m);
    let y = canvas.legend(top, &entries) + 34.0;
    let mut stack = Stack {
        sides_px: [margin + 42.0, canvas.width_px() - margin - 10.0],
        y,
        height_px: 0.0,
        gap_px: 36.0,
        x: axis::range(rows.iter().map(|row| row.height_m).chain(tallest), 8),
        n_ticks: if look.narrow() { 5 } else { 10 },
    };
    for words in [DANGER, LOST, BANDS] {
        canvas.drew(words);
    }
    let groups = groups(&rows);
    if look.sheet() {
        stack.gap_px = 30.0;
    }
    let natural: f64 = groups.iter().map(|group| group.height_px).sum();
    let gaps = stack.gap_px * (groups.len() - 1) as f64;
    let share = canvas.room(natural, stack.y, 44.0 + gaps, 0.3 * natural) / natural;
    for (index, group) in groups.iter().enumerate() {
        stack.height_px = share * group.height_px;
        let panel = stack.bare(&mut canvas, group.name, group.scale());
        interval(&mut canvas, &panel, heights);
        let label = (index + 1 == groups.len()).then_some("Return height above home / m");
        panel.x_axis(&mut canvas, stack.n_ticks, label);
        if group.rooted {
            root_axis(&mut canvas, &panel);
        } else {
            panel.y_axis(&mut canvas, if look.sheet() { 2 } else { 4 });
        }
        for curve in &group.curves {
            draw(&mut canvas, &panel, curve);
        }
        limits(&mut canvas, &panel, heights, index == 0);
    }
    canvas.height_px = stack.y + 14.0;
    let caption = format!(
        "Look for the flat bottom of the upper curves, not for one point; a curve with a gap: none seen there, the band is the bound. Below: {}. Above: {}. Charge and time are medians with the middle 90 % of flights.",
        heights.below, heights.above
    );
    let told = rows.iter().map(|row| {
        let (height, danger) = (words::number(row.height_m, 0), words::brief(&row.danger));
        format!("{height} m: danger {danger}, craft lost or worse {}", words::brief(&row.craft_lost))
    });
    let told: Vec<String> = told.collect();
    let words = format!("{} Of 1,000 lost links at each height: {}.", heights.sentence, told.join("; "));
    canvas.finish(title, &caption, &words)
}

fn sample(canvas: &mut Canvas, at: [f64; 2], ink: Ink, shape: Shape) {
    canvas.stroke_sample(at, ink, 1.6);
    canvas.marks(&[at], shape, 3.4, ink, 1.0);
}
