//! Paired differences against the policy that comes first.

use super::axis::{self, Panel};
use super::canvas::{At, Canvas, Figure, Look, entry, sample_box};
use super::font::{self, Weight};
use super::theme::{Ink, Shape};
use crate::report::words;
use crate::risk::compare::Standing;
use crate::risk::outcome::Concern;
use crate::risk::summary::{Pair, PolicySummary, Summary};

const CLEAR: &str = "estimate and interval";
const OPEN: &str = "the same, too small to matter or not told apart";

/// A policy beside the first: its danger less that of the first, with the interval.
struct Against<'a> {
    pair: &'a Pair,
    other: usize,
    difference: f64,
    low: f64,
    high: f64,
}

/// A row: its policy and the height of its mark.
struct Row<'a> {
    against: &'a Against<'a>,
    mark_px: f64,
}

/// The others beside the first, in the order of the table.
fn against(summary: &Summary, first: usize) -> Vec<Against<'_>> {
    let of = |(other, _): (usize, &PolicySummary)| {
        let is = |pair: &&Pair| {
            pair.about == Concern::Danger
                && ((pair.first, pair.second) == (first, other) || (pair.first, pair.second) == (other, first))
        };
        let pair = summary.pairs.iter().find(is)?;
        Some(if pair.first == first {
            Against { pair, other, difference: -pair.difference, low: -pair.high, high: -pair.low }
        } else {
            Against { pair, other, difference: pair.difference, low: pair.low, high: pair.high }
        })
    };
    super::ranked(summary).into_iter().filter_map(of).collect()
}

/// How a pair looks, and what it is called in the legend.
fn style(clear: bool) -> (Ink, Shape, &'static str) {
    if clear { (Ink::Blue, Shape::Square, CLEAR) } else { (Ink::Grey, Shape::Ring, OPEN) }
}

/// Danger of each other policy less that of the first, with intervals and the strip that does not matter. `None` where there is
/// nothing to compare, or every lost link went alike.
pub fn pairs(summary: &Summary, look: Look) -> Option<Figure> {
    let first = *summary.verdict.choice.ranking.first()?;
    let list = against(summary, first);
    if list.iter().all(|against| against.pair.table[1] + against.pair.table[2] == 0) {
        return None;
    }
    let mut canvas = Canvas::new("pairs", look);
    let best = words::policy_name(summary, first);
    let title = format!("Danger to people beside \"{best}\"");
    let strip = summary.matters.danger_points * 10.0;
    let under = format!(
        "Each policy less \"{best}\" on the same flights, per 1,000 lost links; {} % intervals that hold together.",
        words::number(summary.confidence * 100.0, 0)
    );
    let top = canvas.head(&title, &under);
    let ends = list.iter().flat_map(|row| [row.low * words::PER, row.high * words::PER]);
    let x = axis::range(ends.chain([-strip * 1.4, strip * 1.4, 0.0]), 6);
    let small = format!("differences under {} do not matter", words::matters(summary.matters.danger_points));
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
        ground(&mut canvas, &panel, strip, best);
    }
    let told: String = rows.iter().map(|row| mark(&mut canvas, &panel, summary, row)).collect();
    canvas.height_px = y + 44.0;
    let caption = format!(
        "A mark right of the upright line: more danger to people than under \"{best}\". An interval wholly inside the grey strip: counted \
         as equal. One that crosses an edge of the strip: cannot be told yet."
    );
    Some(canvas.finish(&title, &caption, told.trim()))
}

/// Names and verdicts below each other, `limit` px wide. Returns the rows and their bottom.
fn headings<'a>(
    canvas: &mut Canvas,
    summary: &Summary,
    list: &'a [Against<'a>],
    top: f64,
    limit: f64,
) -> (Vec<Row<'a>>, f64) {
    let margin = canvas.margin();
    let mut y = top;
    let mut rows = Vec::new();
    for against in list {
        let heading = words::policy_name(summary, against.other).to_string();
        let verdict = format!(
            "{} ({}): {}",
            words::difference(against.difference),
            words::difference_range(against.low, against.high),
            words::verdict(summary, against.pair)
        );
        // How many flights would settle it is for those who read on.
        let verdict = if canvas.look.sheet() { verdict.split(';').next().unwrap_or_default() } else { &verdict };
        let all = if canvas.look.sheet() {
            canvas.heading(&heading, verdict, [margin, y + 4.0], limit, 12.0)
        } else {
            let used = canvas.paragraph(&heading, [margin, y + 4.0], limit, 12.0, Weight::Bold, Ink::Ink);
            used + canvas.paragraph(verdict, [margin, y + 4.0 + used], limit, 12.0, Weight::Regular, Ink::Ink)
        };
        let narrow = canvas.look.narrow();
        rows.push(Row { against, mark_px: y + if narrow { all + 14.0 } else { all / 2.0 + 2.0 } });
        y += all
            + match (canvas.look.sheet(), narrow) {
                (true, _) => 25.0,
                (false, true) => 30.0,
                (false, false) => 12.0,
            };
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
fn ground(canvas: &mut Canvas, panel: &Panel, strip: f64, best: &str) {
    let [left, top, right, bottom] = panel.box_px;
    let zero = panel.at_x(0.0);
    canvas.rect(panel.at_x(-strip).max(left), top, panel.at_x(strip).min(right), bottom, Ink::Band, 1.0);
    panel.x_axis(canvas, 7, Some("Difference in danger to people, per 1,000 lost links"));
    canvas.line(&[[zero, top], [zero, bottom]], Ink::Ink, 1.0, 1.2);
    // The two directions stand at the zero line, as far as the frame lets them; else above each other.
    let (first, second) = ("← less danger", &*format!("more danger than \"{best}\" →"));
    let room = |text: &str| font::width_px(text, 11.0, Weight::Regular) + 8.0;
    let spill = (zero + room(second) - (canvas.width_px() - 6.0)).max(0.0);
    let row = if spill > 0.0 || zero - room(first) < left { 14.0 } else { 0.0 };
    let first_at = (zero - 8.0).max(left + room(first) - 8.0);
    canvas.text(first, [first_at, top - 10.0 - row], At::Right, 11.0, Weight::Regular, Ink::Soft);
    canvas.text(second, [zero + 8.0 - spill, top - 10.0], At::Left, 11.0, Weight::Regular, Ink::Soft);
}

/// The mark of one policy; returns it in words.
fn mark(canvas: &mut Canvas, panel: &Panel, summary: &Summary, &Row { against, mark_px }: &Row) -> String {
    let (ink, shape, kind) = style(matches!(against.pair.standing, Standing::Better | Standing::Worse));
    canvas.drew(kind);
    let ends = [against.low, against.high].map(|end| panel.at_x(end * words::PER));
    canvas.line(&ends.map(|end| [end, mark_px]), ink, 1.0, 2.0);
    for end in ends {
        canvas.line(&[[end, mark_px - 4.0], [end, mark_px + 4.0]], ink, 1.0, 2.0);
    }
    canvas.marks(&[[panel.at_x(against.difference * words::PER), mark_px]], shape, 4.8, ink, 1.0);
    format!(
        "{}: {} per 1,000 ({}), {}. ",
        words::policy_name(summary, against.other),
        words::difference(against.difference),
        words::difference_range(against.low, against.high),
        words::verdict(summary, against.pair)
    )
}
