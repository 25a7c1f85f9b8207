//! What became of the lost links: stacked bars and grouped icons per policy.

use super::axis::Panel;
use super::canvas::{At, Canvas, Entry, Figure, Look, entry, sample_box};
use super::font::{self, Weight};
use super::theme::{self, Ink, Pattern};
use crate::flight::{Headline, Tier};
use crate::report::words;
use crate::risk::outcome::Concern;
use crate::risk::summary::{PolicySummary, Summary};

/// The headlines seen under any policy, worst first.
pub(super) fn seen(summary: &Summary) -> Vec<Headline> {
    let any = |headline: &Headline| {
        summary
            .policies
            .iter()
            .any(|policy| policy.headlines.iter().any(|(this, share)| this == headline && share.events > 0))
    };
    Headline::ALL.into_iter().filter(any).collect()
}

/// A box of colour and pattern for a legend.
pub(super) fn swatch(canvas: &mut Canvas, at: [f64; 2], ink: Ink, pattern: Pattern) {
    canvas.patterned(&sample_box(at), ink, pattern, 1.0, 0.9);
    canvas.outline(&sample_box(at), Ink::Ink, 1.0, 0.7);
}

/// Outcome bars: a row per policy, worst outcomes at the left, numbers out of 1,000 lost links.
pub fn bars(summary: &Summary, look: Look) -> Figure {
    let mut canvas = Canvas::new("bars", look);
    let title = "What became of 1,000 lost links under each policy";
    let under = format!(
        "From {} simulated lost links, the same for every policy; the worst at the left.",
        words::count(summary.policies.iter().map(|policy| policy.lost).max().unwrap_or(0))
    );
    let top = canvas.head(title, &under);
    let headlines = seen(summary);
    let entries: Vec<Entry> = headlines
        .iter()
        .map(|&headline| {
            let style = theme::of_headline(headline);
            entry(headline.label(), move |canvas, at| swatch(canvas, at, style.ink, style.pattern))
        })
        .collect();
    let top = canvas.legend(top, &entries) + 14.0;

    let narrow = look.narrow();
    let margin = canvas.margin();
    let label_width = if narrow { 0.0 } else { 178.0 };
    let (left, right) = (margin + label_width, canvas.width_px() - margin - 12.0);
    let side = canvas.width_px() - 2.0 * margin;
    let mut y = top;
    let mut rows: Vec<(f64, f64)> = Vec::new();
    let mut words_of_all = String::new();
    let ranked: Vec<&PolicySummary> = super::ranked(summary).into_iter().map(|row| row.1).collect();
    // On a sheet the rows share its height, up to bars that would look like boxes.
    let pitch = canvas.room(0.0, top, 42.0, 0.0) / ranked.len().max(1) as f64;
    for policy in &ranked {
        let danger = policy.share(Concern::Danger);
        let danger = format!("danger: {}", if look.sheet() { words::cell(&danger) } else { words::share(&danger) });
        let (bar_top, bar_bottom) = if narrow {
            let start = y;
            y += canvas.heading(&policy.name, &danger, [margin, y], side, 12.5) + 2.0;
            let bar = if look.sheet() { (pitch - (y - start) - 10.0).clamp(12.0, 40.0) } else { 30.0 };
            (y, y + bar)
        } else {
            let limit = label_width - 12.0;
            let mut text_y = y;
            text_y += canvas.paragraph(&policy.name, [margin, text_y], limit, 12.5, Weight::Bold, Ink::Ink);
            text_y += canvas.paragraph(&danger, [margin, text_y], limit, 11.0, Weight::Regular, Ink::Soft);
            (y, (y + 40.0).max(text_y))
        };
        rows.push((bar_top, bar_bottom));
        y = bar_bottom
            + match (look.sheet(), narrow) {
                (true, _) => 10.0,
                (false, true) => 14.0,
                (false, false) => 12.0,
            };
        let told: Vec<String> = policy
            .headlines
            .iter()
            .filter(|(_, share)| share.events > 0)
            .map(|(headline, share)| format!("{} {}", words::brief(share), headline.label()))
            .collect();
        words_of_all += &format!("{}: of 1,000 lost links {}. ", policy.name, told.join(", "));
    }
    let panel = Panel { box_px: [left, top, right, y - 4.0], x: [0.0, words::PER], y: [0.0, 1.0] };
    panel.x_axis(&mut canvas, if narrow { 4 } else { 5 }, Some("Lost links, out of 1,000"));
    for (policy, &(bar_top, bar_bottom)) in ranked.iter().zip(&rows) {
        let mut from = 0.0;
        for (headline, share) in policy.headlines.iter().filter(|(_, share)| share.events > 0) {
            let style = theme::of_headline(*headline);
            canvas.drew(headline.label());
            let to = from + share.estimate() * words::PER;
            let (x0, x1) = (panel.at_x(from), panel.at_x(to));
            from = to;
            let corners = Canvas::corners(x0, bar_top, x1, bar_bottom);
            canvas.patterned(&corners, style.ink, style.pattern, 1.0, 0.9);
            if x1 - x0 > 3.0 {
                canvas.outline(&corners, Ink::Paper, 1.0, 1.2);
            }
            let text = words::of_thousand(share.estimate());
            if font::width_px(&text, 11.0, Weight::Bold) + 9.0 <= x1 - x0 {
                let middle = [(x0 + x1) / 2.0, (bar_top + bar_bottom) / 2.0];
                canvas.chip(&text, middle, At::Middle, 11.0, Weight::Bold, Ink::Ink);
            }
        }
    }
    canvas.height_px = y + 42.0;
    let caption = "Each bar holds 1,000 lost links, the policies in the order of the table. Read the darkest parts first: they are danger \
                   to people. Orange is a lost craft; sky blue, green and blue ended fine. Numbers too narrow to print stand in the \
                   table of counts.";
    canvas.finish(title, caption, words_of_all.trim())
}

/// Icons per group: whole hundredths by largest remainder, and what is left unseen.
pub(super) fn icon_counts(policy: &PolicySummary) -> Vec<(Tier, usize)> {
    if policy.lost == 0 {
        return Vec::new();
    }
    let exact: Vec<f64> = policy.tiers.iter().map(|(_, share)| share.estimate() * 100.0).collect();
    let mut counts: Vec<usize> = exact.iter().map(|value| libm::floor(*value + 1e-9) as usize).collect();
    let mut order: Vec<usize> = (0..exact.len()).collect();
    order.sort_by(|&a, &b| {
        let rest = |index: usize| exact[index] - counts[index] as f64;
        rest(b).total_cmp(&rest(a)).then(a.cmp(&b))
    });
    let missing = 100usize.saturating_sub(counts.iter().sum());
    for &index in order.iter().take(missing) {
        counts[index] += 1;
    }
    policy.tiers.iter().map(|(group, _)| *group).zip(counts).collect()
}

/// Squares side by side as large as a sheet lets them be, and under them the number of each group.
fn icons_on_sheet(mut canvas: Canvas, ranked: &[&PolicySummary], title: &str, top: f64) -> Figure {
    let (margin, n) = (canvas.margin(), ranked.len().max(1));
    let columns = if n > 5 { n.div_ceil(2) } else { n };
    let cell_width = (canvas.width_px() - 2.0 * margin) / columns as f64;
    let rows = n.div_ceil(columns) as f64;
    let lines = |policy: &&PolicySummary| font::wrap(&policy.name, 12.5, Weight::Bold, cell_width - 10.0).len();
    let head = 17.0 * ranked.iter().map(lines).max().unwrap_or(1) as f64 + 4.0;
    let groups = |policy: &PolicySummary| icon_counts(policy).iter().filter(|(_, count)| *count > 0).count();
    let foot = 17.0 * ranked.iter().map(|policy| groups(policy)).max().unwrap_or(1) as f64 + 12.0;
    let high = canvas.room(0.0, top, 0.0, 0.0) / rows - head - foot;
    let pitch = ((cell_width - 14.0).min(high) / 10.0).clamp(5.0, 16.0);
    let mut told = String::new();
    for (index, policy) in ranked.iter().enumerate() {
        let (row, column) = ((index / columns) as f64, (index % columns) as f64);
        let (left, y) = (margin + column * cell_width, top + row * (head + foot + 10.0 * pitch));
        canvas.paragraph(&policy.name, [left, y], cell_width - 10.0, 12.5, Weight::Bold, Ink::Ink);
        let mut place = 0;
        let mut below = y + head + 10.0 * pitch + 14.0;
        told += &format!("{}: ", policy.name);
        for ((group, count), (_, share)) in icon_counts(policy).into_iter().zip(&policy.tiers) {
            let style = theme::of_tier(group);
            if count > 0 {
                canvas.drew(group.label());
                swatch(&mut canvas, [left + 11.0, below], style.ink, style.pattern);
                canvas.text(&words::brief(share), [left + 28.0, below], At::Left, 12.0, Weight::Bold, Ink::Ink);
                below += 17.0;
            }
            for _ in 0..count {
                let (x, y) = (left + (place % 10) as f64 * pitch, y + head + (place / 10) as f64 * pitch);
                let corners = Canvas::corners(x, y, x + 0.86 * pitch, y + 0.86 * pitch);
                canvas.patterned(&corners, style.ink, style.pattern, 1.0, 0.9);
                place += 1;
            }
            if share.events > 0 || group != Tier::NotSettled {
                told += &format!("{} {}, ", words::brief(share), group.label());
            }
        }
        told = told.trim_end_matches(", ").to_string() + " of 1,000. ";
    }
    canvas.height_px = top + rows * (head + foot + 10.0 * pitch);
    canvas.finish(title, ICONS_CAPTION, told.trim())
}

const ICONS_CAPTION: &str = "A hundred squares per policy, in the same order. Shares are rounded to whole squares by largest remainder; \
                             an outcome rarer than half a square may have none: the number beside the squares counts.";

/// A hundred squares per policy, grouped by how bad it was, with the numbers beside.
pub fn icons(summary: &Summary, look: Look) -> Figure {
    let mut canvas = Canvas::new("icons", look);
    // Alone it has no bars before it.
    let title = if look.cautioned { "What became of 1,000 lost links" } else { "The same as squares to count" };
    let y = canvas.head(title, "Every square stands for 10 of 1,000 lost links.");
    let groups: Vec<Tier> = Tier::ALL
        .into_iter()
        .filter(|group| {
            summary.policies.iter().any(|policy| icon_counts(policy).iter().any(|(this, n)| this == group && *n > 0))
        })
        .collect();
    let entries: Vec<Entry> = groups
        .iter()
        .map(|&group| {
            let style = theme::of_tier(group);
            entry(group.label(), move |canvas, at| swatch(canvas, at, style.ink, style.pattern))
        })
        .collect();
    let top = canvas.legend(y, &entries) + 8.0;
    let margin = canvas.margin();
    let ranked: Vec<&PolicySummary> = super::ranked(summary).into_iter().map(|row| row.1).collect();
    let n = ranked.len().max(1);
    if look.sheet() {
        return icons_on_sheet(canvas, &ranked, title, top);
    }
    let columns = if look.narrow() {
        1
    } else if n == 4 {
        4
    } else {
        3.min(n)
    };
    let cell_width = ((canvas.width_px() - 2.0 * margin) / columns as f64).min(420.0);
    let icon = if columns == 4 { 10.0 } else { 12.0 };
    let array = 10.0 * (icon + 2.0);
    let mut row_top = top;
    let mut told = String::new();
    for row in ranked.chunks(columns) {
        let mut row_bottom = row_top;
        let head_lines = row
            .iter()
            .map(|policy| font::wrap(&policy.name, 12.5, Weight::Bold, cell_width - 16.0).len())
            .max()
            .unwrap_or(1);
        for (column, policy) in row.iter().enumerate() {
            let left = margin + column as f64 * cell_width;
            canvas.paragraph(&policy.name, [left, row_top], cell_width - 16.0, 12.5, Weight::Bold, Ink::Ink);
            let squares_top = row_top + head_lines as f64 * 12.5 * 1.35 + 4.0;
            let mut place = 0;
            for (group, count) in icon_counts(policy) {
                let style = theme::of_tier(group);
                if count > 0 {
                    canvas.drew(group.label());
                }
                for _ in 0..count {
                    let (x, y) =
                        (left + (place % 10) as f64 * (icon + 2.0), squares_top + (place / 10) as f64 * (icon + 2.0));
                    let corners = Canvas::corners(x, y, x + icon, y + icon);
                    canvas.patterned(&corners, style.ink, style.pattern, 1.0, 0.9);
                    place += 1;
                }
            }
            let limit = cell_width - array - 14.0;
            let mut text_y = squares_top;
            told += &format!("{}: ", policy.name);
            for (group, share) in &policy.tiers {
                if share.events == 0 && *group == Tier::NotSettled {
                    continue;
                }
                let text = words::brief(share);
                let used = canvas.paragraph(&text, [left + array + 10.0, text_y], limit, 12.0, Weight::Bold, Ink::Ink);
                text_y += used;
                text_y += canvas.paragraph(
                    group.label(),
                    [left + array + 10.0, text_y - 1.0],
                    limit,
                    11.0,
                    Weight::Regular,
                    Ink::Soft,
                ) + 2.0;
                told += &format!("{text} {}, ", group.label());
            }
            told = told.trim_end_matches(", ").to_string() + " of 1,000. ";
            row_bottom = row_bottom.max(squares_top + array).max(text_y);
        }
        row_top = row_bottom + 18.0;
    }
    canvas.height_px = row_top;
    canvas.finish(title, ICONS_CAPTION, told.trim())
}
