//! Paired differences.

use super::axis::{self, Panel};
use super::canvas::{At, Canvas, Entry, Figure, Look};
use super::font::{self, Weight};
use super::theme::{Ink, Shape};
use crate::report::words;
use crate::risk::summary::{Compared, Pair, Summary, Word};

/// Paired differences of the danger share with intervals and the strip that does not matter, a row per pair.
pub fn pairs(summary: &Summary, look: Look) -> Figure {
    let mut canvas = Canvas::new("pairs", look);
    let title = "How two policies differ on the same flights";
    let strip = summary.matters_points * 10.0;
    let under = format!(
        "Danger to others, first minus second, per 1,000 lost links; {} % intervals shared out over all pairs.",
        words::number(summary.confidence * 100.0, 0)
    );
    let top = canvas.head(title, &under);
    let list: Vec<&Pair> = summary.pairs.iter().filter(|pair| pair.about == Compared::Danger).collect();
    if list.is_empty() {
        canvas.text(
            "One policy alone: nothing to compare.",
            [canvas.margin(), top + 12.0],
            At::Left,
            12.0,
            Weight::Regular,
            Ink::Soft,
        );
        canvas.height_px = top + 36.0;
        return canvas.finish(title, "", "One policy alone, nothing to compare.");
    }
    let ends = list.iter().flat_map(|pair| [pair.low * words::PER, pair.high * words::PER]);
    let x = axis::range(ends.chain([-strip * 1.4, strip * 1.4, 0.0]), 6);
    let narrow = look.narrow();
    let margin = canvas.margin();
    let left = if narrow { margin + 20.0 } else { margin + 300.0 };
    let right = canvas.width_px() - margin - 14.0;
    let entries: Vec<Entry> = vec![
        (
            "estimate and interval".into(),
            Box::new(|canvas, at| {
                canvas.line(&[[at[0] - 11.0, at[1]], [at[0] + 11.0, at[1]]], Ink::Blue, 1.0, 2.0);
                canvas.marks(&[at], Shape::Square, 4.5, Ink::Blue, 1.0);
            }),
        ),
        (
            "the same, too small to matter or not told apart".into(),
            Box::new(|canvas, at| {
                canvas.line(&[[at[0] - 11.0, at[1]], [at[0] + 11.0, at[1]]], Ink::Grey, 1.0, 2.0);
                canvas.marks(&[at], Shape::Ring, 4.0, Ink::Grey, 1.0);
            }),
        ),
        (
            format!("differences within ±{} do not matter", words::number(strip, 1).trim_end_matches(".0")),
            Box::new(|canvas, at| {
                let corners = Canvas::corners(at[0] - 11.0, at[1] - 6.0, at[0] + 11.0, at[1] + 6.0);
                canvas.area(&corners, Ink::Band, 1.0);
                canvas.outline(&corners, Ink::Grid, 1.0, 1.0);
            }),
        ),
    ];
    canvas.drew(&entries[2].0.clone());
    let top = canvas.legend(top, &entries) + 36.0;
    // Row heights first, then the panel, then the marks upon it.
    let name = |index: usize| summary.policies.get(index).map_or("?", |policy| policy.name.as_str()).to_string();
    let limit = if narrow { right - margin } else { left - margin - 18.0 };
    let mut y = top;
    let mut rows = Vec::new();
    for pair in &list {
        let heading = format!("\"{}\" minus \"{}\"", name(pair.first), name(pair.second));
        let start = y;
        let used = canvas.paragraph(&heading, [margin, y + 4.0], limit, 12.0, Weight::Regular, Ink::Ink);
        let verdict = words::sentence(&words::verdict(summary, pair));
        let more = canvas.paragraph(&verdict, [margin, y + 4.0 + used], limit, 12.0, Weight::Bold, Ink::Ink);
        let (mark, bottom) = if narrow {
            (start + used + more + 14.0, start + used + more + 30.0)
        } else {
            (start + (used + more) / 2.0 + 2.0, start + used + more + 12.0)
        };
        rows.push((mark, bottom));
        y = bottom;
    }
    let panel = Panel { box_px: [left, top - 6.0, right, y], x, y: [0.0, 1.0] };
    let mut under_marks = Vec::new();
    for (index, (pair, &(mark, bottom))) in list.iter().zip(&rows).enumerate() {
        under_marks.push((index, pair, mark, bottom));
    }
    if narrow {
        // The axis stands below the last row; grid lines would cross the names, so each row has its own ground line.
        for &(_, _, mark, _) in &under_marks {
            let (a, b) = (panel.at_x(-strip).max(left), panel.at_x(strip).min(right));
            canvas.rect(a, mark - 8.0, b, mark + 8.0, Ink::Band, 1.0);
            canvas.line(&[[panel.at_x(0.0), mark - 9.0], [panel.at_x(0.0), mark + 9.0]], Ink::Ink, 1.0, 1.0);
            canvas.line(&[[left, mark + 9.0], [right, mark + 9.0]], Ink::Grid, 1.0, 0.8);
        }
        let foot = Panel { box_px: [left, y, right, y + 1.0], ..panel };
        foot.x_axis(&mut canvas, 4, Some("Difference per 1,000 lost links"));
    } else {
        canvas.rect(panel.at_x(-strip).max(left), top - 6.0, panel.at_x(strip).min(right), y, Ink::Band, 1.0);
        panel.x_axis(&mut canvas, 7, Some("Difference in danger to others, per 1,000 lost links"));
        canvas.line(&[[panel.at_x(0.0), top - 6.0], [panel.at_x(0.0), y]], Ink::Ink, 1.0, 1.2);
        // The two directions stand at the zero line, as far as the frame lets them; else above each other.
        let zero = panel.at_x(0.0);
        let (first, second) = ("← first has less danger", "second has less danger →");
        let room = |text: &str| font::width_px(text, 11.0, Weight::Regular) + 8.0;
        let spill = (zero + room(second) - (canvas.width_px() - 6.0)).max(0.0);
        let row = if spill > 0.0 || zero - room(first) < left { 14.0 } else { 0.0 };
        let first_at = (zero - 8.0).max(left + room(first) - 8.0);
        canvas.text(first, [first_at, top - 16.0 - row], At::Right, 11.0, Weight::Regular, Ink::Soft);
        canvas.text(second, [zero + 8.0 - spill, top - 16.0], At::Left, 11.0, Weight::Regular, Ink::Soft);
    }
    let mut told = String::new();
    for (_, pair, mark, _) in under_marks {
        let clear = matches!(pair.word, Word::Better | Word::Worse);
        let (ink, shape) = if clear { (Ink::Blue, Shape::Square) } else { (Ink::Grey, Shape::Ring) };
        canvas.drew(if clear { "estimate and interval" } else { "the same, too small to matter or not told apart" });
        let (a, b) = (panel.at_x(pair.low * words::PER), panel.at_x(pair.high * words::PER));
        canvas.line(&[[a, mark], [b, mark]], ink, 1.0, 2.0);
        for end in [a, b] {
            canvas.line(&[[end, mark - 4.0], [end, mark + 4.0]], ink, 1.0, 2.0);
        }
        canvas.marks(&[[panel.at_x(pair.difference * words::PER), mark]], shape, 4.8, ink, 1.0);
        told += &format!(
            "{} minus {}: {} per 1,000, interval {} to {}: {}. ",
            name(pair.first),
            name(pair.second),
            words::difference(pair.difference),
            words::difference(pair.low),
            words::difference(pair.high),
            words::verdict(summary, pair)
        );
    }
    canvas.height_px = y + 44.0;
    let caption = "A mark left of the upright line: the first policy has less danger to others. An interval wholly inside the \
                   grey strip: no difference that matters. One that crosses the line and leaves the strip: cannot tell yet.";
    canvas.finish(title, caption, told.trim())
}
