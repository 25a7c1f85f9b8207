//! Figures: one function each, a summary in, a [`Figure`] out.

mod along;
pub mod axis;
mod bars;
pub mod canvas;
mod energy;
pub mod font;
pub mod lesson;
pub mod look;
pub mod loss;
mod map;
mod pairs;
pub mod pdf;
pub mod plan;
pub mod planned;
mod reach;
mod sky;
mod spread;
mod sweep;
pub mod theme;
mod timeline;
mod turns;

pub use along::{along, section};
pub use bars::{bars, icons};
pub use canvas::{Figure, Layout, Look};
pub use energy::energy;
pub use look::{Numbers, Title};
pub use map::{map, others, site};
pub use pairs::pairs;
pub use planned::Planned;
pub use reach::{reach_map, reach_path, reach_section};
pub use sky::{sky_day, sky_plot};
pub use spread::{dots, moment, regret, regret_tells, what_if, what_if_words};
pub use sweep::sweep;
pub use timeline::{budget, timeline};
pub use turns::turns;

use crate::risk::summary::{Heights, PolicySummary, Summary};

/// The policies in the order of the table: best first, then any that were not ranked.
fn ranked(summary: &Summary) -> Vec<(usize, &PolicySummary)> {
    let ranking = &summary.verdict.choice.ranking;
    let rest = (0..summary.policies.len()).filter(|index| !ranking.contains(index));
    ranking.iter().copied().chain(rest).filter_map(|index| Some((index, summary.policies.get(index)?))).collect()
}

/// Whether the radio model decides when the link goes; where the scenario cuts it, budgets of its loss say nothing.
fn modelled(summary: &Summary) -> bool {
    summary.loss.how == "modelled"
}

/// All figures of a summary. What says nothing for this scenario is not drawn: a lone policy has no pair, a link that the scenario
/// cuts no budget of its loss, a ray that nothing reaches no section.
pub fn all(summary: &Summary, look: Look) -> Vec<Figure> {
    let mut figures = of_main_run(summary, look);
    figures.extend(of_side_runs(summary, look));
    figures
}

/// Those of what the side runs say: what would change the answer, and the other conditions.
pub fn of_side_runs(summary: &Summary, look: Look) -> Vec<Figure> {
    [turns(summary, look), what_if(summary, look), regret(summary, look)].into_iter().flatten().collect()
}

/// Those of everything else; the same whether or not a summary has its side runs yet.
pub fn of_main_run(summary: &Summary, look: Look) -> Vec<Figure> {
    let mut figures = vec![bars(summary, look), icons(summary, look), map(summary, look)];
    figures.extend(others(summary, look));
    figures.push(site(&summary.into(), look));
    figures.extend(pairs(summary, look));
    figures.extend(energy(summary, look));
    figures.extend(
        ["distance_home_m", "time_to_end_s", "pack_left_pct"].iter().filter_map(|key| dots(summary, key, look)),
    );
    figures.extend(moment(summary, look));
    for (index, (story, trace)) in summary.traces.iter().enumerate() {
        figures.push(timeline(&format!("timeline-{}", index + 1), story, trace, summary.map.ceiling_m, look));
        if modelled(summary) && trace.lost_at_s.is_some() {
            figures.push(budget(&format!("budget-{}", index + 1), story, trace, look));
        }
    }
    figures.extend(along(&summary.into(), look));
    let told = summary.sections.iter().enumerate().filter(|(_, part)| along::obstructed(part));
    figures.extend(told.filter_map(|(index, part)| section(index, part, look)));
    figures
}

/// All figures of a height sweep.
pub fn of_heights(heights: &Heights, look: Look) -> Vec<Figure> {
    vec![sweep(heights, look)]
}
