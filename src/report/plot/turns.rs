//! What would change the answer: which policy comes first as one number varies.

use super::axis::Panel;
use super::canvas::{At, Canvas, Entry, Figure, Look, entry, sample_box};
use super::font::{self, Weight};
use super::theme::{Ink, Pattern, Shape};
use crate::report::information::{asked, value_words};
use crate::report::words;
use crate::risk::information::FlownAgain;
use crate::risk::summary::Summary;

const ASSUMED: &str = "as stated or assumed";
const BETWEEN: &str = "it turns somewhere in here";

/// Strength of the colours: patterns and names carry the message.
const TINT: f64 = 0.35;

/// Colours and patterns of the policies.
const PATTERNS: [(Ink, Pattern); 6] = [
    (Ink::Blue, Pattern::Rising),
    (Ink::Orange, Pattern::Dots),
    (Ink::Green, Pattern::Level),
    (Ink::Purple, Pattern::Falling),
    (Ink::Grey, Pattern::Upright),
    (Ink::Sky, Pattern::Crossed),
];

/// A bar per number at whose values the choice was seen to turn, cut where it turns. `None` when none turned it.
pub fn turns(summary: &Summary, look: Look) -> Option<Figure> {
    let found = summary.information.as_ref()?;
    let rows: Vec<&FlownAgain> = found.again.iter().filter(|again| !again.turns.is_empty()).collect();
    if rows.is_empty() {
        return None;
    }
    let mut canvas = Canvas::new("turns", look);
    let title = "Which policy comes first as one number changes";
    let under = format!("{} flights at each value, on the same luck.", words::count(u64::from(found.flights)));
    let top = canvas.head(title, &under);
    let mut leading: Vec<usize> =
        rows.iter().flat_map(|again| again.turns.iter().flat_map(|turn| [turn.below, turn.from_there])).collect();
    leading.sort_unstable();
    leading.dedup();
    let mut entries: Vec<Entry> = leading
        .iter()
        .map(|&policy| {
            let (ink, pattern) = PATTERNS[policy % PATTERNS.len()];
            entry(words::policy_name(summary, policy), move |canvas, at| {
                canvas.patterned(&sample_box(at), ink, pattern, TINT, 0.8);
                canvas.outline(&sample_box(at), Ink::Soft, 1.0, 0.8);
            })
        })
        .collect();
    entries.push(entry(BETWEEN, |canvas, [x, y]| {
        canvas.outline(&Canvas::corners(x - 5.0, y - 6.0, x + 5.0, y + 6.0), Ink::Soft, 1.0, 1.0)
    }));
    entries.push(entry(ASSUMED, |canvas, at| canvas.marks(&[at], Shape::Down, 5.0, Ink::Ink, 1.0)));
    let mut y = canvas.legend(top, &entries) + 14.0;
    for word in [BETWEEN, ASSUMED] {
        canvas.drew(word);
    }
    let (margin, narrow) = (canvas.margin(), look.narrow());
    let (left, right) = (margin + if narrow { 6.0 } else { 270.0 }, canvas.width_px() - margin - 14.0);
    let mut told = String::new();
    for again in rows {
        let limit = if narrow { right - margin } else { left - margin - 16.0 };
        let name = words::sentence(&asked(summary, again));
        let used = canvas.paragraph(&name, [margin, y], limit, 12.0, Weight::Bold, Ink::Ink);
        let bar_top = if narrow { y + used + 10.0 } else { y };
        told += &bar(&mut canvas, summary, again, [left, right], bar_top);
        y = (bar_top + 62.0).max(y + used + 12.0);
    }
    canvas.height_px = y;
    let caption =
        "Where the triangle stands near a cut, measure that number first, or change it: the answer hangs on it.";
    Some(canvas.finish(title, caption, told.trim()))
}

/// The bar of one number; returns it in words.
fn bar(canvas: &mut Canvas, summary: &Summary, again: &FlownAgain, [left, right]: [f64; 2], top: f64) -> String {
    let ends = [again.at.first(), again.at.last()].map(|end| end.map(|at| at.value));
    let cuts = || again.turns.iter().flat_map(|turn| [turn.above, turn.under]);
    let least = ends[0].into_iter().chain(cuts()).chain([again.assumed]).fold(f64::INFINITY, f64::min);
    let most = ends[1].into_iter().chain(cuts()).chain([again.assumed]).fold(f64::NEG_INFINITY, f64::max);
    let panel = Panel { box_px: [left, top, right, top + 24.0], x: [least, most.max(least + 1e-9)], y: [0.0, 1.0] };
    let (bar_top, bar_bottom) = (top + 10.0, top + 34.0);
    let mut from = least;
    let mut told = format!("{}: ", words::sentence(&asked(summary, again)));
    let last = again.turns.last().map(|turn| (turn.from_there, most));
    let stretches = again.turns.iter().map(|turn| (turn.below, turn.above)).chain(last);
    let mut starts = again.turns.iter().map(|turn| turn.under);
    for (policy, to) in stretches {
        let (ink, pattern) = PATTERNS[policy % PATTERNS.len()];
        let name = words::policy_name(summary, policy);
        canvas.drew(name);
        let (x0, x1) = (panel.at_x(from), panel.at_x(to).max(panel.at_x(from) + 1.0));
        let corners = Canvas::corners(x0, bar_top, x1, bar_bottom);
        canvas.patterned(&corners, ink, pattern, TINT, 0.8);
        canvas.outline(&corners, Ink::Soft, 1.0, 0.8);
        if font::width_px(name, 11.0, Weight::Bold) + 12.0 < x1 - x0 {
            let middle = [(x0 + x1) / 2.0, (bar_top + bar_bottom) / 2.0];
            canvas.chip(name, middle, At::Middle, 11.0, Weight::Bold, Ink::Ink);
        }
        told += &format!("\"{name}\" from {} to {}; ", value_words(again, from), value_words(again, to));
        from = starts.next().unwrap_or(most);
    }
    canvas.outline(&Canvas::corners(left, bar_top, right, bar_bottom), Ink::Soft, 1.0, 0.8);
    canvas.marks(&[[panel.at_x(again.assumed), bar_top - 5.0]], Shape::Down, 5.0, Ink::Ink, 1.0);
    // The cuts first: where there is no room for all, the ends go.
    let labels = cuts().chain([least, most]);
    for value in labels {
        let at = panel.at_x(value);
        let text = value_words(again, value);
        let half = font::width_px(&text, 10.5, Weight::Regular) / 2.0;
        let x = at.clamp(left + half, (right - half).max(left + half));
        let place = [x, bar_bottom + 11.0];
        if canvas.layout.is_free(&canvas.box_of(&text, place, At::Middle, 10.5, Weight::Regular), 3.0) {
            canvas.line(&[[at, bar_bottom], [at, bar_bottom + 4.0]], Ink::Soft, 1.0, 1.0);
            canvas.text(&text, place, At::Middle, 10.5, Weight::Regular, Ink::Ink);
        }
    }
    told.trim_end_matches("; ").to_string() + ". "
}
