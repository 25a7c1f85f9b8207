//! How hard the craft came down.

use super::axis::{self, Panel};
use super::canvas::{At, Canvas, Figure, Look};
use super::font::{self, Weight};
use super::theme::{Ink, Shape};
use crate::report::words;
use crate::risk::summary::{Measure, PolicySummary, Summary};

/// Energies below this are drawn at it: nobody is hurt by them, and the scale has no zero.
const LEAST_J: f64 = 0.1;

/// Greatest height of a pile of dots.
const PILE_PX: f64 = 42.0;

/// Energy at the ground per policy, fifty dots each, on a scale of powers of ten, with the energies above which it counts as hard.
pub fn energy(summary: &Summary, look: Look) -> Option<Figure> {
    let rows: Vec<(&PolicySummary, &Measure)> = super::ranked(summary)
        .into_iter()
        .filter_map(|(_, policy)| {
            Some((policy, policy.measures.iter().find(|measure| measure.key == "energy_below_j")?))
        })
        .filter(|(_, measure)| measure.dots.iter().any(|value| value.is_finite()))
        .collect();
    let values = || rows.iter().flat_map(|(_, measure)| measure.dots.iter().copied()).filter(|v| v.is_finite());
    if rows.is_empty() {
        return None;
    }
    let mut canvas = Canvas::new("energy", look);
    let title = "Energy at the ground";
    let under = "Fifty dots per policy: each stands for 20 of 1,000 lost links. Every step of the scale is ten times the one before.";
    let top = canvas.head(title, under);
    let hard = [(summary.hard.others_j, "hard on others"), (summary.hard.crew_j, "hard on the crew")];
    let power = |value: f64| libm::log10(value.max(LEAST_J));
    let most = values().chain(hard.map(|line| line.0)).fold(1.0, f64::max);
    let x = [power(LEAST_J), libm::ceil(power(most))];
    let narrow = look.narrow();
    let margin = canvas.margin();
    let (left, right) = (margin + if narrow { 10.0 } else { 200.0 }, canvas.width_px() - margin - 14.0);
    let across = Panel { box_px: [left, 0.0, right, 1.0], x, y: [0.0, 1.0] };
    let radius = if narrow { 2.6 } else { 3.6 };
    let rows_top = top + 46.0;
    let mut y = rows_top;
    let mut piles: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut told = String::new();
    let pitch = canvas.room(0.0, rows_top, 40.0, 0.0) / rows.len().max(1) as f64;
    for (policy, measure) in &rows {
        let decimals = usize::from(measure.p50.value < 9.95);
        let middle = format!(
            "half up to {} J, 95 % up to {} J",
            words::number(measure.p50.value, decimals),
            words::number(measure.p95.value, usize::from(measure.p95.value < 9.95))
        );
        let limit = if narrow { right - margin } else { left - margin - 12.0 };
        let used = canvas.heading(&policy.name, &middle, [margin, y], limit, 12.0);
        let (over, below) = if look.sheet() { (2.0, 6.0) } else { (8.0, 12.0) };
        let high = if look.sheet() { (pitch - used - over - below).clamp(9.0, PILE_PX) } else { PILE_PX };
        let base = if narrow { y + used + high + over } else { y + used.max(high + over) };
        piles.push(pile(&across, measure, [base, high], radius, power));
        canvas.line(&[[left, base], [right, base]], Ink::Grid, 1.0, 1.0);
        y = base + below;
        told += &format!("{}: {middle}. ", policy.name);
    }
    let bottom = y - 6.0;
    scale(&mut canvas, &across, [rows_top - 8.0, bottom]);
    for (row, (value, what)) in hard.into_iter().enumerate() {
        let (at, label_y) = (across.at_x(power(value)), rows_top - 18.0 - 14.0 * row as f64);
        canvas.dashed(&[[at, label_y + 6.0], [at, bottom]], Ink::Ink, 1.0, 1.3, 6.0, 3.0);
        let text = format!("{} J: {what}", words::short(value, 1));
        let half = font::width_px(&text, 10.5, Weight::Regular) / 2.0;
        let x = at.min(canvas.width_px() - half - 4.0);
        canvas.text(&text, [x, label_y], At::Middle, 10.5, Weight::Regular, Ink::Ink);
    }
    for dots in &piles {
        canvas.marks(dots, Shape::Disc, radius, Ink::Blue, 0.8);
    }
    canvas.text(
        "Energy at the ground / J",
        [(left + right) / 2.0, bottom + 30.0],
        At::Middle,
        12.0,
        Weight::Regular,
        Ink::Ink,
    );
    canvas.height_px = bottom + 44.0;
    let caption = format!(
        "What a craft could come down with on whoever is below: its energy at contact, and the rest of the fall where it struck or fell \
         on to a tree or a roof. Dots right of a dashed line came down hard on whoever stood there. What ended under {LEAST_J} J is drawn at {LEAST_J}. Where \
         people are is another matter: see the map."
    );
    Some(canvas.finish(title, &caption, told.trim()))
}

/// Dots in bins as wide as a dot, piled up from a base line to a height.
fn pile(
    across: &Panel,
    measure: &Measure,
    [base, high]: [f64; 2],
    radius: f64,
    power: impl Fn(f64) -> f64,
) -> Vec<[f64; 2]> {
    let mut bins: std::collections::BTreeMap<i64, usize> = std::collections::BTreeMap::new();
    let width = 2.0 * radius + 0.6;
    let mut places = Vec::new();
    for value in measure.dots.iter().filter(|value| value.is_finite()) {
        let bin = (across.at_x(power(*value)) / width).round() as i64;
        let level = bins.entry(bin).or_insert(0);
        places.push((bin as f64 * width, *level));
        *level += 1;
    }
    let tallest = bins.values().copied().max().unwrap_or(1);
    let pitch = width.min((high - 2.0 * radius).max(0.0) / tallest as f64);
    places.iter().map(|(x, level)| [*x, base - radius - 0.6 - pitch * *level as f64]).collect()
}

/// Powers of ten along the bottom.
fn scale(canvas: &mut Canvas, across: &Panel, [top, bottom]: [f64; 2]) {
    for step in across.x[0].round() as i32..=across.x[1].round() as i32 {
        let x = across.at_x(f64::from(step));
        canvas.line(&[[x, top], [x, bottom + 4.0]], Ink::Grid, 1.0, 0.8);
        let text = words::number(libm::pow(10.0, f64::from(step)), (-step).max(0) as usize);
        canvas.text(&text, [x, bottom + 12.0], At::Middle, axis::TICK, Weight::Regular, Ink::Ink);
    }
    canvas.line(&[[across.box_px[0], bottom], [across.box_px[2], bottom]], Ink::Soft, 1.0, 1.0);
}
