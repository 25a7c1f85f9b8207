//! Spreads of measures, danger by the moment of loss, what drives it, regret over conditions.

use super::axis::{self, Panel};
use super::bars::swatch;
use super::canvas::{At, Canvas, Entry, Figure, Look, entry};
use super::font::{self, Weight};
use super::theme::{Ink, Pattern, Shape};
use crate::report::words;
use crate::risk::summary::{ConditionSummary, Measure, PolicySummary, Summary, WhatIf};

/// A shape and a colour per policy, for figures in which policies share a panel.
pub(super) fn policy_style(index: usize) -> (Ink, Shape) {
    const INKS: [Ink; 6] = [Ink::Blue, Ink::Vermilion, Ink::Green, Ink::Purple, Ink::Orange, Ink::Soft];
    const SHAPES: [Shape; 6] = [Shape::Square, Shape::Up, Shape::Disc, Shape::Diamond, Shape::Down, Shape::Frame];
    (INKS[index % 6], SHAPES[(index + index / 6) % 6])
}

/// A legend of the policies.
pub(super) fn policy_legend(summary: &Summary) -> Vec<Entry> {
    summary
        .policies
        .iter()
        .enumerate()
        .map(|(index, policy)| {
            let (ink, shape) = policy_style(index);
            entry(&policy.name, move |canvas, at| {
                canvas.stroke_sample(at, ink, 1.6);
                canvas.marks(&[at], shape, 4.0, ink, 1.0);
            })
        })
        .collect()
}

/// A measure of a policy by key.
fn measure<'a>(policy: &'a PolicySummary, key: &str) -> Option<&'a Measure> {
    policy.measures.iter().find(|measure| measure.key == key)
}

/// Quantile dots of one measure, a row per policy: fifty dots, each one flight of fifty.
pub fn dots(summary: &Summary, key: &str, look: Look) -> Option<Figure> {
    let rows: Vec<(&PolicySummary, &Measure)> = super::ranked(summary)
        .into_iter()
        .filter_map(|(_, policy)| measure(policy, key).filter(|measure| !measure.dots.is_empty()).map(|m| (policy, m)))
        .collect();
    let (_, first) = rows.first()?;
    let mut canvas = Canvas::new(&format!("dots-{}", key.replace('_', "-")), look);
    let title = words::sentence(&first.label);
    let top = canvas.head(&title, "Fifty dots per policy: each stands for 20 of 1,000 lost links.");
    let values = || rows.iter().flat_map(|(_, measure)| measure.dots.iter().copied());
    let most = values().filter(|v| v.is_finite()).fold(0.0, f64::max);
    let x = axis::range(values().chain([0.0]), 6);
    let margin = canvas.margin();
    let narrow = look.narrow();
    let (left, right) = (margin + if narrow { 10.0 } else { 200.0 }, canvas.width_px() - margin - 14.0);
    let axis_panel = Panel { box_px: [left, 0.0, right, 1.0], x, y: [0.0, 1.0] };
    let radius = match (look.phone(), narrow) {
        (true, _) => 2.6,
        (false, true) => 3.2,
        (false, false) => 4.0,
    };
    let bin = (2.0 * radius + 0.6) / ((right - left) / (x[1] - x[0]));
    let mut y = top + 4.0;
    let rows_top = y;
    let decimals = if most < 20.0 { 1 } else { 0 };
    let mut told = String::new();
    let pitch_px = canvas.room(0.0, rows_top, 40.0, 0.0) / rows.len().max(1) as f64;
    for (policy, measure) in &rows {
        // Dots stacked in bins as wide as a dot.
        let mut bins: std::collections::BTreeMap<i64, usize> = std::collections::BTreeMap::new();
        let mut places = Vec::new();
        for value in measure.dots.iter().filter(|value| value.is_finite()) {
            let column = (value / bin).floor() as i64;
            let level = bins.entry(column).or_insert(0);
            places.push(((column as f64 + 0.5) * bin, *level));
            *level += 1;
        }
        let tallest = bins.values().copied().max().unwrap_or(1).max(3);
        // A pile of equal values would grow beyond the row: dots then overlap upwards instead.
        let high = match (look.sheet(), narrow) {
            (true, _) => (pitch_px - 36.0).max(10.0),
            (false, true) => 90.0,
            (false, false) => 110.0,
        };
        let pitch = (2.0 * radius + 0.4).min(high / tallest as f64);
        let tall = pitch * tallest as f64 + 6.0;
        let summary_words = format!(
            "half within {}, 95 % within {}",
            words::number(measure.p50.value, decimals),
            words::number(measure.p95.value, decimals)
        );
        let low_words = format!(
            "half have {} or more, 95 % have {} or more",
            words::number(measure.p50.value, decimals),
            words::number(measure.p05.value, decimals)
        );
        let stands = if key.starts_with("pack_left") { low_words } else { summary_words } + " " + &measure.unit;
        let base = if narrow {
            y += canvas.heading(&policy.name, &stands, [margin, y], right - margin, 12.0) + 2.0;
            y + tall
        } else {
            let used = canvas.paragraph(&policy.name, [margin, y], left - margin - 12.0, 12.0, Weight::Bold, Ink::Ink);
            let more =
                canvas.paragraph(&stands, [margin, y + used], left - margin - 12.0, 11.0, Weight::Regular, Ink::Soft);
            y + tall.max(used + more + 4.0)
        };
        canvas.line(&[[left, base], [right, base]], Ink::Grid, 1.0, 1.0);
        let dots: Vec<[f64; 2]> = places
            .iter()
            .map(|(value, level)| {
                [axis_panel.at_x(*value).min(right + radius), base - radius - 0.6 - pitch * *level as f64]
            })
            .collect();
        canvas.marks(&dots, Shape::Disc, radius, Ink::Blue, if pitch < 2.0 * radius { 0.6 } else { 1.0 });
        y = base + 12.0;
        told += &format!(
            "{}: 5 % quantile {}, median {}, 95 % quantile {} {}. ",
            policy.name,
            words::band(&measure.p05, decimals),
            words::band(&measure.p50, decimals),
            words::band(&measure.p95, decimals),
            measure.unit
        );
    }
    let panel = Panel { box_px: [left, rows_top, right, y - 8.0], x, y: [0.0, 1.0] };
    let foot = Panel { box_px: [left, y - 8.0, right, y - 7.0], ..panel };
    let name = format!("{} / {}", words::sentence(&first.label), first.unit);
    foot.x_axis(&mut canvas, if narrow { 4 } else { 7 }, Some(&name));
    canvas.height_px = y + 36.0;
    let caption = "Each dot is 20 of 1,000 lost links: count those beyond a value. The dots stand at even steps of the simulated \
                   flights; the rarest ends lie beyond the last dot.";
    Some(canvas.finish(&title, caption, told.trim()))
}

/// Danger by the moment at which the link was lost: marks with intervals per policy and stretch of the path, nothing between them.
pub fn moment(summary: &Summary, look: Look) -> Option<Figure> {
    let any = summary.policies.iter().any(|policy| policy.danger_by_moment.iter().any(|part| part.2.events > 0));
    if !any {
        return None;
    }
    let mut canvas = Canvas::new("moment", look);
    let title = "Where on the path a lost link is dangerous";
    let top = canvas.head(title, "Danger to people by how much of the path had been flown when the link went.");
    let y = canvas.legend(top, &policy_legend(summary)) + 28.0;
    let highest = summary
        .policies
        .iter()
        .flat_map(|policy| {
            policy.danger_by_moment.iter().filter(|part| part.2.of >= 10).map(|part| part.2.high * words::PER)
        })
        .fold(1.0, f64::max);
    let margin = canvas.margin();
    let panel = Panel {
        box_px: [margin + 42.0, y, canvas.width_px() - margin - 10.0, y + canvas.room(240.0, y, 44.0, 80.0)],
        x: [0.0, 100.0],
        y: [0.0, axis::range([0.0, highest].into_iter(), 5)[1]],
    };
    canvas.text("Danger to people, of 1,000 lost links", [margin, y - 17.0], At::Left, 12.0, Weight::Regular, Ink::Ink);
    panel.x_axis(&mut canvas, if look.narrow() { 5 } else { 10 }, Some("Share of the path flown at the loss / %"));
    panel.y_axis(&mut canvas, 5);
    let n = summary.policies.len() as f64;
    let mut told = String::new();
    for (index, policy) in summary.policies.iter().enumerate() {
        let (ink, shape) = policy_style(index);
        canvas.drew(&policy.name);
        let mut worst: Option<(f64, f64, f64)> = None;
        for (from, to, share) in policy.danger_by_moment.iter().filter(|part| part.2.of >= 10) {
            // Neighbours stand side by side within the stretch, so that intervals do not hide each other.
            let x = panel.at_x(100.0 * (from + (to - from) * (0.25 + 0.5 * (index as f64 + 0.5) / n)));
            let (low, high) = (panel.at_y(share.low * words::PER), panel.at_y(share.high * words::PER));
            canvas.line(&[[x, low], [x, high]], ink, 0.8, 1.2);
            if share.events == 0 {
                // None seen is a bound, not a zero: a bar with a cap and no mark.
                canvas.line(&[[x - 3.0, high], [x + 3.0, high]], ink, 0.8, 1.4);
                continue;
            }
            let place = [x, panel.at_y(share.estimate() * words::PER)];
            canvas.marks(&[place], shape, 3.4, ink, 1.0);
            if worst.is_none_or(|w| share.estimate() > w.2) {
                worst = Some((*from, *to, share.estimate()));
            }
        }
        if let Some((from, to, share)) = worst {
            told += &format!(
                "{}: worst between {} and {} % of the path, {} of 1,000. ",
                policy.name,
                words::number(from * 100.0, 0),
                words::number(to * 100.0, 0),
                words::of_thousand(share)
            );
        }
    }
    canvas.height_px = panel.box_px[3] + 44.0;
    let caption = "High marks: losing the link there is worst for people below. Upright lines are intervals; one with a cap and no \
                   mark: none seen, and at most as many as the cap says. Stretches with fewer than ten losses are left out.";
    if told.is_empty() {
        told = "No danger seen, or too few losses, in every stretch of the path.".into();
    }
    Some(canvas.finish(title, caption, told.trim()))
}

const LOW: &str = "input at its low value (10 %)";
const HIGH: &str = "input at its high value (90 %)";
const PAIRED: &str = "paired interval";

/// How the bars of the low and the high value look.
const SIDES: [(Ink, Pattern); 2] = [(Ink::Sky, Pattern::Rising), (Ink::Orange, Pattern::Falling)];

/// A level line with an upright at either end.
fn whisker(canvas: &mut Canvas, [a, b]: [f64; 2], y: f64) {
    canvas.line(&[[a, y], [b, y]], Ink::Ink, 1.0, 1.4);
    for x in [a, b] {
        canvas.line(&[[x, y - 3.0], [x, y + 3.0]], Ink::Ink, 1.0, 1.4);
    }
}

/// What drives it: paired change of danger at the 10 % and 90 % value of each uncertain input.
pub fn what_if(summary: &Summary, look: Look) -> Option<Figure> {
    let first = summary.what_if.first()?;
    // Inputs that turned no flight have nothing to draw: they are named in the caption.
    let (mut list, still): (Vec<_>, Vec<_>) =
        summary.what_if.iter().partition(|bar| bar.change_points.iter().any(|change| *change != 0.0));
    if list.is_empty() {
        return None;
    }
    let reach = |bar: &WhatIf| bar.change_points[0].abs().max(bar.change_points[1].abs());
    list.sort_by(|a, b| reach(b).total_cmp(&reach(a)));
    list.truncate(if look.sheet() { 4 } else { 14 });
    let mut canvas = Canvas::new("what-if", look);
    let title = "What drives the danger";
    let name = words::policy_name(summary, first.policy);
    let under = format!("Change per 1,000 lost links under \"{name}\", one input moved on the same flights.");
    let top = canvas.head(title, &under);
    let [low, high] = SIDES.map(|(ink, pattern)| move |canvas: &mut Canvas, at| swatch(canvas, at, ink, pattern));
    let paired = |canvas: &mut Canvas, [x, y]: [f64; 2]| whisker(canvas, [x - 9.0, x + 9.0], y);
    let top = canvas.legend(top, &[entry(LOW, low), entry(HIGH, high), entry(PAIRED, paired)]) + 8.0;
    for words in [LOW, HIGH, PAIRED] {
        canvas.drew(words);
    }
    let ends = list.iter().flat_map(|bar| bar.interval_points.iter().flatten().copied().map(|p| p * 10.0));
    let x = axis::range(ends.chain([-1.0, 1.0]), 6);
    let margin = canvas.margin();
    let (left, right) = (margin + if look.narrow() { 10.0 } else { 270.0 }, canvas.width_px() - margin - 14.0);
    let limit = if look.narrow() { right - margin } else { left - margin - 14.0 };
    let (bars, y) = inputs(&mut canvas, &list, top, limit);
    let panel = Panel { box_px: [left, top - 4.0, right, y - 6.0], x, y: [0.0, 1.0] };
    if look.narrow() {
        let foot = Panel { box_px: [left, y - 7.0, right, y - 6.0], ..panel };
        foot.x_axis(&mut canvas, 4, Some("Change per 1,000 lost links"));
    } else {
        panel.x_axis(&mut canvas, 7, Some("Change of danger to people, per 1,000 lost links"));
    }
    let told: String = bars.into_iter().map(|(top, bar)| draw_bar(&mut canvas, &panel, top, bar)).collect();
    canvas.height_px = y + 38.0;
    let mut caption = "Long bars: measure these inputs before trusting the verdict. A bar to the right means more danger. An interval \
                       that crosses the upright line: this run cannot tell."
        .to_string();
    if !still.is_empty() {
        caption += &format!(" {}", unmoved(&still));
    }
    Some(canvas.finish(title, &caption, told.trim()))
}

/// Names and values of the inputs below each other, `limit` px wide. Returns where each bar stands, and the bottom.
fn inputs<'a>(canvas: &mut Canvas, list: &[&'a WhatIf], top: f64, limit: f64) -> (Vec<(f64, &'a WhatIf)>, f64) {
    let margin = canvas.margin();
    let value = |v: f64| {
        let decimals = if v.abs() < 1.0 {
            3
        } else if v.abs() < 100.0 {
            1
        } else {
            0
        };
        words::number(v, decimals)
    };
    let mut y = top;
    let mut bars = Vec::new();
    for &bar in list {
        let (words_of, unit) = words::key(&bar.key);
        let ends = format!("{} … {} {unit}", value(bar.values[0]), value(bar.values[1]));
        let all = canvas.heading(&words_of, ends.trim_end(), [margin, y], limit, 12.0);
        let bar_top = if canvas.look.narrow() { y + all + 2.0 } else { y };
        bars.push((bar_top, bar));
        y = (bar_top + 32.0).max(y + all) + if canvas.look.sheet() { 7.0 } else { 12.0 };
    }
    (bars, y)
}

/// The two bars of one input; returns them in words.
fn draw_bar(canvas: &mut Canvas, panel: &Panel, top: f64, bar: &WhatIf) -> String {
    let zero = panel.at_x(0.0);
    for (side, (ink, pattern)) in SIDES.into_iter().enumerate() {
        let (y0, y1) = (top + 16.0 * side as f64 + 1.0, top + 16.0 * side as f64 + 14.0);
        let at = panel.at_x(bar.change_points[side] * 10.0);
        let corners = Canvas::corners(zero.min(at), y0, zero.max(at), y1);
        canvas.patterned(&corners, ink, pattern, 1.0, 0.9);
        canvas.outline(&corners, Ink::Ink, 0.8, 0.7);
        whisker(canvas, bar.interval_points[side].map(|p| panel.at_x(p * 10.0)), (y0 + y1) / 2.0);
    }
    canvas.line(&[[zero, top - 2.0], [zero, top + 34.0]], Ink::Ink, 1.0, 1.2);
    format!(
        "{}: {} at the low value, {} at the high value. ",
        words::key(&bar.key).0,
        words::difference(bar.change_points[0] / 100.0),
        words::difference(bar.change_points[1] / 100.0)
    )
}

/// Inputs that turned no flight into a danger nor out of one, as a sentence with the bound of what may be left.
fn unmoved(still: &[&WhatIf]) -> String {
    let names: Vec<String> = still
        .iter()
        .map(|bar| {
            let name = words::key(&bar.key).0;
            let mut letters = name.chars();
            let second_small = letters.clone().nth(1).is_some_and(char::is_lowercase);
            match letters.next() {
                Some(first) if second_small => first.to_lowercase().chain(letters).collect(),
                _ => name,
            }
        })
        .collect();
    let bound =
        still.iter().flat_map(|bar| bar.interval_points.iter().flatten()).fold(0.0_f64, |most, x| most.max(x.abs()));
    format!(
        "No effect on danger was seen when each of these was moved to its low and its high value (effects under {} of 1,000 \
         can have been missed): {}.",
        words::of_thousand(bound / 100.0),
        words::list(&names)
    )
}

/// What is said where no input moved the danger; `None` when none was moved, or a figure shows it.
pub fn what_if_words(summary: &Summary) -> Option<String> {
    let still: Vec<_> = summary.what_if.iter().collect();
    let any = still.iter().any(|bar| bar.change_points.iter().any(|change| *change != 0.0));
    (!still.is_empty() && !any).then(|| unmoved(&still))
}

/// The grid of the regret figure: a column per policy.
struct Columns {
    left: f64,
    label_px: f64,
    cell_px: f64,
}

impl Columns {
    fn middle(&self, index: usize) -> f64 {
        self.left + (index as f64 + 0.5) * self.cell_px
    }
}

/// Lines of a label, their middle at a height, `pitch` apart.
fn label(canvas: &mut Canvas, lines: &[String], [x, y]: [f64; 2], pitch: f64, weight: Weight) {
    for (k, line) in lines.iter().enumerate() {
        canvas.text(line, [x, y + pitch * k as f64], At::Left, 12.0, weight, Ink::Ink);
    }
}

/// Whether any policy is behind by more than counts as equal in any condition: else the figure says nothing.
pub fn regret_tells(summary: &Summary) -> bool {
    let points = summary.conditions.iter().flat_map(|condition| &condition.behind_points);
    points.into_iter().any(|points| points.is_finite() && *points > summary.matters.danger_points)
}

/// Regret: by how much each policy's danger exceeds the least under each condition.
pub fn regret(summary: &Summary, look: Look) -> Option<Figure> {
    if !regret_tells(summary) {
        return None;
    }
    let mut canvas = Canvas::new("regret", look);
    let title = "Regret: danger beyond that of the policy with the least, in each condition";
    let top = canvas.head(title, "Danger to people above the least under the same condition, per 1,000 lost links.");
    let n = summary.policies.len().max(1) as f64;
    // On a phone policies are numbered and named above.
    let label_px = match (look.phone(), look.sheet()) {
        (true, _) => 96.0,
        (_, true) => 120.0,
        _ => 170.0,
    };
    let left = canvas.margin() + label_px;
    let columns = Columns { left, label_px, cell_px: ((canvas.width_px() - canvas.margin() - left) / n).min(200.0) };
    let mut y = column_heads(&mut canvas, summary, &columns, top);
    let behind = summary.conditions.iter().flat_map(|condition| condition.behind_points.iter().map(|p| p * 10.0));
    let most = behind.filter(|v| v.is_finite()).fold(1.0, f64::max);
    let mut told = String::new();
    for condition in &summary.conditions {
        told += &condition_row(&mut canvas, summary, &columns, condition, most, &mut y);
    }
    canvas.height_px = y + 8.0;
    let caption = format!(
        "Framed and kept: not set aside there by the rule of the choice. {}: above the least by no more than {} of 1,000, which counts as no \
         difference. Deeper colour: further above it.",
        if look.phone() { "=" } else { "Level" },
        words::matters(summary.matters.danger_points)
    );
    Some(canvas.finish(title, &caption, told.trim()))
}

/// Names of the policies over their columns, or numbers on a phone. Returns the bottom.
fn column_heads(canvas: &mut Canvas, summary: &Summary, columns: &Columns, top: f64) -> f64 {
    let mut y = top;
    if canvas.look.phone() {
        let (margin, limit) = (canvas.margin(), canvas.width_px() - 2.0 * canvas.margin());
        for (index, (_, policy)) in super::ranked(summary).into_iter().enumerate() {
            let text = format!("{}  {}", index + 1, policy.name);
            y += canvas.paragraph(&text, [margin, y], limit, 11.5, Weight::Regular, Ink::Ink);
        }
        y += 6.0;
        for index in 0..summary.policies.len() {
            let at = [columns.middle(index), y + 7.0];
            canvas.text(&(index + 1).to_string(), at, At::Middle, 12.0, Weight::Bold, Ink::Ink);
        }
        return y + 20.0;
    }
    let names = super::ranked(summary).into_iter();
    let names: Vec<Vec<String>> =
        names.map(|(_, policy)| font::wrap(&policy.name, 12.0, Weight::Bold, columns.cell_px - 10.0)).collect();
    let tall = names.iter().map(Vec::len).max().unwrap_or(1);
    for (index, lines) in names.iter().enumerate() {
        for (k, line) in lines.iter().enumerate() {
            let at = [columns.middle(index), y + 7.0 + 16.0 * (tall - lines.len() + k) as f64];
            canvas.text(line, at, At::Middle, 12.0, Weight::Bold, Ink::Ink);
        }
    }
    y + 16.0 * tall as f64 + 6.0
}

/// Size of text in a cell: small cells of a phone take small text.
fn cell_size(canvas: &Canvas, columns: &Columns) -> f64 {
    if canvas.look.phone() && columns.cell_px < 44.0 { 9.5 } else { 12.0 }
}

/// A row for a condition, from `y` on; returns it in words.
fn condition_row(
    canvas: &mut Canvas,
    summary: &Summary,
    columns: &Columns,
    condition: &ConditionSummary,
    most: f64,
    y: &mut f64,
) -> String {
    let odds = condition
        .odds
        .map_or(String::new(), |odds| format!(" (odds {})", words::number(odds, 2).trim_end_matches(".00")));
    let name = format!("{}{odds}", condition.name);
    let lines = font::wrap(&name, 12.0, Weight::Regular, columns.label_px - 10.0);
    let tall = (16.0 * lines.len() as f64 + 10.0).max(40.0);
    let first = *y + tall / 2.0 - 8.0 * (lines.len() - 1) as f64;
    label(canvas, &lines, [canvas.margin(), first], 16.0, Weight::Regular);
    let mut told = Vec::new();
    for (column, (index, policy)) in super::ranked(summary).into_iter().enumerate() {
        let value = condition.behind_points.get(index).copied().unwrap_or(f64::NAN) * 10.0;
        let x0 = columns.left + column as f64 * columns.cell_px;
        let x1 = x0 + columns.cell_px;
        let behind = value.is_finite() && value > summary.matters.danger_points * 10.0;
        let depth = if behind { 0.85 * (value / most).sqrt().min(1.0) } else { 0.0 };
        canvas.rect(x0 + 1.5, *y + 1.5, x1 - 1.5, *y + tall - 1.5, Ink::Band, 1.0);
        if depth > 0.02 {
            canvas.rect(x0 + 1.5, *y + 1.5, x1 - 1.5, *y + tall - 1.5, Ink::Vermilion, depth);
        }
        let best = condition.choice.as_ref().is_some_and(|choice| choice.left.contains(&index));
        let text = match (best, behind) {
            (true, _) => "kept".to_string(),
            (false, true) => words::difference(value / words::PER),
            (false, false) => if canvas.look.phone() { "=" } else { "level" }.into(),
        };
        let middle = [(x0 + x1) / 2.0, *y + tall / 2.0];
        let weight = if best { Weight::Bold } else { Weight::Regular };
        canvas.chip(&text, middle, At::Middle, cell_size(canvas, columns), weight, Ink::Ink);
        if best {
            canvas.outline(&Canvas::corners(x0 + 2.5, *y + 2.5, x1 - 2.5, *y + tall - 2.5), Ink::Ink, 1.0, 2.0);
        }
        told.push(format!("{} {text}", policy.name));
    }
    *y += tall;
    format!("{}: {}. ", condition.name, told.join(", "))
}
