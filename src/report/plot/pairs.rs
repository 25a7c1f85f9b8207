//! Paired differences.

use super::axis::{self, Panel};
use super::canvas::{At, Canvas, Figure, Look, entry, sample_box};
use super::font::{self, Weight};
use super::theme::{Ink, Shape};
use crate::report::words;
use crate::risk::compare::Standing;
use crate::risk::outcome::Concern;
use crate::risk::summary::{Pair, Summary};

const CLEAR: &str = "estimate and interval";
const OPEN: &str = "the same, too small to matter or not told apart";

/// A row: its pair and the height of its mark.
struct Row<'a> {
    pair: &'a Pair,
    mark_px: f64,
}

/// How a pair looks, and what it is called in the legend.
fn style(clear: bool) -> (Ink, Shape, &'static str) {
    if clear { (Ink::Blue, Shape::Square, CLEAR) } else { (Ink::Grey, Shape::Ring, OPEN) }
}

/// Paired differences of the danger share with intervals and the strip that does not matter, a row per pair.
pub fn pairs(summary: &Summary, look: Look) -> Figure {
    let mut canvas = Canvas::new("pairs", look);
    let title = "How two policies differ on the same flights";
    let strip = summary.matters.danger_points * 10.0;
    let under = format!(
        "Danger to people, first minus second, per 1,000 lost links; {} % intervals shared out over all pairs.",
        words::number(summary.confidence * 100.0, 0)
    );
    let top = canvas.head(title, &under);
    let list: Vec<&Pair> = summary.pairs.iter().filter(|pair| pair.about == Concern::Danger).collect();
    if list.is_empty() {
        let alone = "One policy alone: nothing to compare.";
        canvas.text(alone, [canvas.margin(), top + 12.0], At::Left, 12.0, Weight::Regular, Ink::Soft);
        canvas.height_px = top + 36.0;
        return canvas.finish(title, "", alone);
    }
    let ends = list.iter().flat_map(|pair| [pair.low * words::PER, pair.high * words::PER]);
    let x = axis::range(ends.chain([-strip * 1.4, strip * 1.4, 0.0]), 6);
    let small = format!("differences within ±{} do not matter", words::matters(summary.matters.danger_points));
    canvas.drew(&small);
    let entries = [
        entry(CLEAR, |canvas, at| {
            canvas.stroke_sample(at, Ink::Blue, 2.0);
            canvas.marks(&[at], Shape::Square, 4.5, Ink::Blue, 1.0);
        }),
        entry(OPEN, |canvas, at| {
            canvas.stroke_sample(at, Ink::Grey, 2.0);
            canvas.marks(&[at], Shape::Ring, 4.0, Ink::Grey, 1.0);
        }),
        entry(small, |canvas, at| {
            canvas.area(&sample_box(at), Ink::Band, 1.0);
            canvas.outline(&sample_box(at), Ink::Grid, 1.0, 1.0);
        }),
    ];
    let top = canvas.legend(top, &entries) + 36.0;
    // Row heights first, then the panel, then the marks upon it.
    let margin = canvas.margin();
    let left = margin + if look.narrow() { 20.0 } else { 300.0 };
    let right = canvas.width_px() - margin - 14.0;
    let limit = if look.narrow() { right - margin } else { left - margin - 18.0 };
    let (rows, y) = headings(&mut canvas, summary, &list, top, limit);
    let panel = Panel { box_px: [left, top - 6.0, right, y], x, y: [0.0, 1.0] };
    if look.narrow() {
        grounds(&mut canvas, &panel, &rows, strip);
    } else {
        ground(&mut canvas, &panel, strip);
    }
    let told: String = rows.iter().map(|row| mark(&mut canvas, &panel, summary, row)).collect();
    canvas.height_px = y + 44.0;
    let caption = "A mark left of the upright line: the first policy has less danger to people. An interval wholly inside the \
                   grey strip: counted as equal. One that crosses the line and leaves the strip: cannot be told yet.";
    canvas.finish(title, caption, told.trim())
}

/// Names and verdicts below each other, `limit` px wide. Returns the rows and their bottom.
fn headings<'a>(
    canvas: &mut Canvas,
    summary: &Summary,
    list: &[&'a Pair],
    top: f64,
    limit: f64,
) -> (Vec<Row<'a>>, f64) {
    let margin = canvas.margin();
    let mut y = top;
    let mut rows = Vec::new();
    for &pair in list {
        let name = |index: usize| words::policy_name(summary, index);
        let heading = format!("\"{}\" minus \"{}\"", name(pair.first), name(pair.second));
        let used = canvas.paragraph(&heading, [margin, y + 4.0], limit, 12.0, Weight::Regular, Ink::Ink);
        let verdict = words::sentence(&words::verdict(summary, pair));
        let all = used + canvas.paragraph(&verdict, [margin, y + 4.0 + used], limit, 12.0, Weight::Bold, Ink::Ink);
        let narrow = canvas.look.narrow();
        rows.push(Row { pair, mark_px: y + if narrow { all + 14.0 } else { all / 2.0 + 2.0 } });
        y += all + if narrow { 30.0 } else { 12.0 };
    }
    (rows, y)
}

/// On a phone the axis stands below the last row; grid lines would cross the names, so each row has its own ground line.
fn grounds(canvas: &mut Canvas, panel: &Panel, rows: &[Row], strip: f64) {
    let [left, _, right, bottom] = panel.box_px;
    let zero = panel.at_x(0.0);
    for &Row { mark_px, .. } in rows {
        let (a, b) = (panel.at_x(-strip).max(left), panel.at_x(strip).min(right));
        canvas.rect(a, mark_px - 8.0, b, mark_px + 8.0, Ink::Band, 1.0);
        canvas.line(&[[zero, mark_px - 9.0], [zero, mark_px + 9.0]], Ink::Ink, 1.0, 1.0);
        canvas.line(&[[left, mark_px + 9.0], [right, mark_px + 9.0]], Ink::Grid, 1.0, 0.8);
    }
    let foot = Panel { box_px: [left, bottom, right, bottom + 1.0], ..*panel };
    foot.x_axis(canvas, 4, Some("Difference per 1,000 lost links"));
}

/// The strip that does not matter, the axis, and what either side of zero means.
fn ground(canvas: &mut Canvas, panel: &Panel, strip: f64) {
    let [left, top, right, bottom] = panel.box_px;
    let zero = panel.at_x(0.0);
    canvas.rect(panel.at_x(-strip).max(left), top, panel.at_x(strip).min(right), bottom, Ink::Band, 1.0);
    panel.x_axis(canvas, 7, Some("Difference in danger to people, per 1,000 lost links"));
    canvas.line(&[[zero, top], [zero, bottom]], Ink::Ink, 1.0, 1.2);
    // The two directions stand at the zero line, as far as the frame lets them; else above each other.
    let (first, second) = ("← first has less danger", "second has less danger →");
    let room = |text: &str| font::width_px(text, 11.0, Weight::Regular) + 8.0;
    let spill = (zero + room(second) - (canvas.width_px() - 6.0)).max(0.0);
    let row = if spill > 0.0 || zero - room(first) < left { 14.0 } else { 0.0 };
    let first_at = (zero - 8.0).max(left + room(first) - 8.0);
    canvas.text(first, [first_at, top - 10.0 - row], At::Right, 11.0, Weight::Regular, Ink::Soft);
    canvas.text(second, [zero + 8.0 - spill, top - 10.0], At::Left, 11.0, Weight::Regular, Ink::Soft);
}

/// The mark of one pair; returns it in words.
fn mark(canvas: &mut Canvas, panel: &Panel, summary: &Summary, &Row { pair, mark_px }: &Row) -> String {
    let (ink, shape, kind) = style(matches!(pair.standing, Standing::Better | Standing::Worse));
    canvas.drew(kind);
    let ends = [pair.low, pair.high].map(|end| panel.at_x(end * words::PER));
    canvas.line(&ends.map(|end| [end, mark_px]), ink, 1.0, 2.0);
    for end in ends {
        canvas.line(&[[end, mark_px - 4.0], [end, mark_px + 4.0]], ink, 1.0, 2.0);
    }
    canvas.marks(&[[panel.at_x(pair.difference * words::PER), mark_px]], shape, 4.8, ink, 1.0);
    format!(
        "{} minus {}: {} per 1,000, interval {} to {}: {}. ",
        words::policy_name(summary, pair.first),
        words::policy_name(summary, pair.second),
        words::difference(pair.difference),
        words::difference(pair.low),
        words::difference(pair.high),
        words::verdict(summary, pair)
    )
}
