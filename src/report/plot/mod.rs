//! Figures: one function each, a summary in, a [`Figure`] out.

mod along;
pub mod axis;
mod bars;
pub mod canvas;
pub mod font;
mod map;
mod pairs;
mod reach;
mod sky;
mod spread;
mod sweep;
pub mod theme;
mod timeline;

pub use along::{along, section};
pub use bars::{bars, icons};
pub use canvas::{Figure, Layout, Look};
pub use map::{map, map_strip};
pub use pairs::pairs;
pub use reach::{reach_map, reach_path, reach_section};
pub use sky::{sky_day, sky_plot};
pub use spread::{dots, moment, regret, what_if, what_if_words};
pub use sweep::sweep;
pub use timeline::{budget, timeline};

use crate::risk::summary::{Heights, Summary};

/// Distance from home to the nearest and the farthest corner of the fence, for marking on distance figures.
fn fence_marks(summary: &Summary) -> Vec<(f64, &'static str)> {
    let home = summary.map.home_m;
    let mut nearest = f64::INFINITY;
    for ring in &summary.map.fence {
        for (index, a) in ring.iter().enumerate() {
            let b = ring[(index + 1) % ring.len()];
            nearest = nearest.min(distance_to_edge(home, *a, b));
        }
    }
    if nearest.is_finite() { vec![(nearest, "nearest edge of the permitted area")] } else { vec![] }
}

fn distance_to_edge(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length2 = dx * dx + dy * dy;
    let t = if length2 > 0.0 { (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2).clamp(0.0, 1.0) } else { 0.0 };
    let (ex, ey) = (a[0] + t * dx - p[0], a[1] + t * dy - p[1]);
    (ex * ex + ey * ey).sqrt()
}

/// Quantile dots of a measure with the limits that belong to it.
pub fn spread_of(summary: &Summary, key: &str, look: Look) -> Option<Figure> {
    let marks = if key == "distance_home_m" { fence_marks(summary) } else { vec![] };
    dots(summary, key, &marks, look)
}

/// All figures of a summary, in the order of the page.
pub fn all(summary: &Summary, look: Look) -> Vec<Figure> {
    let mut figures = vec![bars(summary, look), icons(summary, look), map(summary, look)];
    if !summary.pairs.is_empty() {
        figures.push(pairs(summary, look));
    }
    figures.extend(
        ["distance_home_m", "time_to_end_s", "pack_left_pct"].iter().filter_map(|key| spread_of(summary, key, look)),
    );
    figures.extend(moment(summary, look));
    figures.extend(what_if(summary, look));
    figures.extend(regret(summary, look));
    for (index, (story, trace)) in summary.traces.iter().enumerate() {
        figures.push(timeline(&format!("timeline-{}", index + 1), story, trace, summary.map.ceiling_m, look));
        figures.push(budget(&format!("budget-{}", index + 1), story, trace, look));
    }
    figures.extend(along(summary, look));
    figures.extend(summary.sections.iter().enumerate().filter_map(|(index, part)| section(index, part, look)));
    figures
}

/// All figures of a height sweep.
pub fn of_heights(heights: &Heights, look: Look) -> Vec<Figure> {
    vec![sweep(heights, look)]
}
