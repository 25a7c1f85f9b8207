//! What a return height does: danger, craft lost, charge left, time home.

use super::axis::{self, Panel};
use super::canvas::{At, Canvas, Entry, Figure, Look};
use super::font::{self, Weight};
use super::theme::{Ink, Pattern, Shape};
use crate::report::words;
use crate::risk::summary::{HeightRow, Heights};

const INTERVAL: &str = "recommended heights";
const TALLEST: &str = "tallest obstacle on the ways home";
const CEILING: &str = "ceiling";
const DANGER: &str = "danger to others";
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

/// The sweep of return heights: four panels over one axis.
pub fn sweep(heights: &Heights, look: Look) -> Figure {
    let mut canvas = Canvas::new("heights", look);
    let title = "Which height to come home at";
    let under = format!("{}: the same {} flights at every height.", heights.policy, words::count(heights.flights));
    let top = canvas.head(title, &under);
    let speeds: Vec<f64> = {
        let mut speeds: Vec<f64> = heights.rows.iter().filter_map(|row| row.speed_mps).collect();
        speeds.sort_by(f64::total_cmp);
        speeds.dedup();
        speeds
    };
    // With speeds swept too, this figure shows the middle one; the table has all.
    let shown_speed = speeds.get(speeds.len() / 2).copied();
    let rows: Vec<&HeightRow> =
        heights.rows.iter().filter(|row| row.speed_mps.is_none() || row.speed_mps == shown_speed).collect();
    let mut entries: Vec<Entry> = vec![
        (DANGER.into(), Box::new(|canvas, at| sample(canvas, at, Ink::Vermilion, Shape::Up))),
        (LOST.into(), Box::new(|canvas, at| sample(canvas, at, Ink::Orange, Shape::Square))),
        (
            BANDS.into(),
            Box::new(|canvas, at| {
                let corners = Canvas::corners(at[0] - 11.0, at[1] - 6.0, at[0] + 11.0, at[1] + 6.0);
                canvas.patterned(&corners, Ink::Blue, Pattern::Rising, 0.22, 0.5);
            }),
        ),
    ];
    if heights.interval_m.is_some() {
        entries.push((
            INTERVAL.into(),
            Box::new(|canvas, at| {
                let corners = Canvas::corners(at[0] - 11.0, at[1] - 6.0, at[0] + 11.0, at[1] + 6.0);
                canvas.area(&corners, Ink::Green, 0.25);
                canvas.line(&[corners[0], corners[3]], Ink::Green, 1.0, 1.6);
                canvas.line(&[corners[1], corners[2]], Ink::Green, 1.0, 1.6);
            }),
        ));
    }
    let mut y = canvas.legend(top, &entries) + 34.0;
    let margin = canvas.margin();
    let (left, right) = (margin + 42.0, canvas.width_px() - margin - 10.0);
    let x = axis::range(
        rows.iter().map(|row| row.height_m).chain((heights.tallest_m > 0.0).then_some(heights.tallest_m)),
        8,
    );
    let share = |f: &dyn Fn(&HeightRow) -> crate::risk::summary::Share, ink, pattern, shape| -> Curve {
        Curve {
            ink,
            pattern,
            shape,
            // None seen has no mark, only its bound.
            middle: rows
                .iter()
                .map(|row| [row.height_m, if f(row).events > 0 { root(f(row).estimate()) } else { f64::NAN }])
                .collect(),
            low: rows.iter().map(|row| root(f(row).low)).collect(),
            high: rows.iter().map(|row| root(f(row).high)).collect(),
        }
    };
    let spread = |f: &dyn Fn(&HeightRow) -> [f64; 3], shape| -> Curve {
        Curve {
            ink: Ink::Blue,
            pattern: Pattern::Rising,
            shape,
            middle: rows.iter().map(|row| [row.height_m, f(row)[1]]).collect(),
            low: rows.iter().map(|row| f(row)[0]).collect(),
            high: rows.iter().map(|row| f(row)[2]).collect(),
        }
    };
    let danger = share(&|row| row.danger, Ink::Vermilion, Pattern::Plain, Shape::Up);
    let lost = share(&|row| row.craft_lost, Ink::Orange, Pattern::Plain, Shape::Square);
    let groups: Vec<(&str, Vec<Curve>, f64)> = vec![
        ("Of 1,000 lost links (root scale)", vec![lost, danger], 190.0),
        ("Charge left at the end / %", vec![spread(&|row| row.pack_left_pct, Shape::Disc)], 110.0),
        ("Time from loss to the end / s", vec![spread(&|row| row.time_s, Shape::Diamond)], 110.0),
    ];
    canvas.drew(DANGER);
    canvas.drew(LOST);
    canvas.drew(BANDS);
    let n_groups = groups.len();
    for (index, (name, curves, height)) in groups.into_iter().enumerate() {
        let last = index + 1 == n_groups;
        let values = curves.iter().flat_map(|curve| {
            curve.middle.iter().map(|p| p[1]).chain(curve.high.iter().copied()).chain(curve.low.iter().copied())
        });
        let rooted = index == 0;
        let scale = if rooted {
            [0.0, values.filter(|v| v.is_finite()).fold(root(0.001), f64::max) * 1.04]
        } else {
            axis::range(values.filter(|v| v.is_finite()).chain([0.0]), 4)
        };
        let panel = Panel { box_px: [left, y, right, y + height], x, y: scale };
        canvas.text(name, [left, y - 13.0], At::Left, 12.0, Weight::Bold, Ink::Ink);
        if let Some([low, high]) = heights.interval_m {
            canvas.drew(INTERVAL);
            let (a, b) = (panel.at_x(low).clamp(left, right), panel.at_x(high).clamp(left, right));
            canvas.rect(a, y, b, y + height, Ink::Green, 0.16);
            for at in [a, b] {
                canvas.line(&[[at, y], [at, y + height]], Ink::Green, 1.0, 1.4);
            }
        }
        panel.x_axis(&mut canvas, if look.narrow() { 5 } else { 10 }, last.then_some("Return height above home / m"));
        if rooted {
            root_axis(&mut canvas, &panel);
        } else {
            panel.y_axis(&mut canvas, 4);
        }
        for curve in &curves {
            draw(&mut canvas, &panel, curve);
        }
        for (value, words) in [(heights.tallest_m, TALLEST), (heights.ceiling_m, CEILING)] {
            if value < x[0] || value > x[1] || value <= 0.0 {
                continue;
            }
            let at = panel.at_x(value);
            canvas.dashed(&[[at, y], [at, y + height]], Ink::Ink, 1.0, 1.3, 6.0, 3.0);
            if index == 0 {
                canvas.drew(words);
                let text = format!("{words}, {} m", words::number(value, 0));
                let text = if font::width_px(&text, 10.5, Weight::Regular) > right - left - 30.0 {
                    words.to_string()
                } else {
                    text
                };
                let places: Vec<([f64; 2], At)> = [y + 11.0, y + 26.0, y + 41.0, y + height - 10.0]
                    .into_iter()
                    .flat_map(|row| {
                        [
                            ([at + 5.0, row], At::Left),
                            ([at - 5.0, row], At::Right),
                            ([(at).clamp(left + 100.0, right - 100.0), row], At::Middle),
                        ]
                    })
                    .collect();
                // Where the long words find no room, the short ones do.
                let short = words.split(" on ").next().unwrap_or(words);
                if canvas.chip_where_free(&text, &places, panel.box_px, 10.5, Ink::Ink)
                    || canvas.chip_where_free(short, &places, panel.box_px, 10.5, Ink::Ink)
                {
                    canvas.explained(words);
                }
            }
        }
        y += height + 36.0;
    }
    canvas.height_px = y + 14.0;
    let caption = format!(
        "Look for the flat bottom of the upper curves, not for one point; a curve with a gap: none seen there, the band is the bound. Below: {}. Above: {}. Charge and time are medians with the middle 90 % of flights.",
        heights.below, heights.above
    );
    let told: Vec<String> = rows
        .iter()
        .map(|row| {
            format!(
                "{} m: danger {}, craft lost or worse {}",
                words::number(row.height_m, 0),
                words::brief(&row.danger),
                words::brief(&row.craft_lost)
            )
        })
        .collect();
    let words = format!("{} Of 1,000 lost links at each height: {}.", heights.sentence, told.join("; "));
    canvas.finish(title, &caption, &words)
}

fn sample(canvas: &mut Canvas, at: [f64; 2], ink: Ink, shape: Shape) {
    canvas.line(&[[at[0] - 11.0, at[1]], [at[0] + 11.0, at[1]]], ink, 1.0, 1.6);
    canvas.marks(&[at], shape, 3.4, ink, 1.0);
}
