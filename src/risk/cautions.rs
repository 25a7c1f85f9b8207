//! Every caution of a report, once. What must be said before the answer: that the simulation broke off, that flights had not
//! ended, in words from counts. What its numbers are not. Who and what goes before anything printed.

use super::summary::{Heights, PolicySummary, Share, Summary};
use super::words::{grouped, list, named, per_thousand};
use crate::flight::{Headline, Tier};
use crate::world::FAMILY;

/// Stands under everything that is printed.
pub const DEFERENCE: &str = "This is a calculation about a model, to support a decision by people who know the place. It permits \
    nothing. Local rules, the owner of the ground, the manual of the craft and the judgement of a qualified remote pilot come before \
    anything printed here. Test link, home point and failsafe on the bench, propellers removed, then over empty ground, before you \
    rely on them.";

/// What no report is.
pub const MODEL: &str =
    "A simulation of a model of this site; not a permission, not a clearance, not a record of real flights.";

const PER_LOST_LINK: &str = "All rates are per lost link: how often the link is lost here is not in them.";
const DANGER: &str = "Danger is danger to people; a policy that gives up the craft can come first by it.";
const PEOPLE: &str = "People, roads and property of others count only where they were drawn, and people only for the hours \
    given. Nobody drawn does not mean nobody there.";
const NONE_SEEN: &str = "Seeing none does not mean none can occur; the upper bound is shown.";
const INTERVALS: &str = "Intervals cover the luck of the draw and the listed unknowns, not a wrong model.";

/// What the numbers of an assessment are not, eight lines, of a long run one more; the last tells how well each model is known.
pub fn of_summary(summary: &Summary) -> Vec<String> {
    let known = |grade: &'static str| summary.knowledge.iter().filter(move |known| known.grade == grade);
    let weak: Vec<String> = known("weak")
        .chain(known("middling"))
        .take(3)
        .map(|known| format!("{} ({})", known.model, known.why))
        .collect();
    let weakest = if weak.is_empty() { String::new() } else { format!(" Weakest assumptions: {}.", list(&weak)) };
    let uncertain_shape = summary.inputs.iter().any(|row| row.key.starts_with("site.") && row.value.starts_with('{'));
    let shapes = if uncertain_shape { format!(" {} Compare a few seeds.", few_shapes()) } else { String::new() };
    let grades: Vec<String> =
        summary.knowledge.iter().map(|known| format!("{} {}", known.model, known.grade)).collect();
    let mut lines = vec![
        MODEL.into(),
        format!("{PER_LOST_LINK} {DANGER}"),
        format!("{INTERVALS}{shapes}{weakest}"),
        PEOPLE.into(),
        NONE_SEEN.into(),
        format!(
            "Results hold for the wind, craft, battery and policy settings in the table of inputs; seed {} and version {} \
             reproduce them.",
            summary.seed, summary.program_version
        ),
        endings(summary),
    ];
    lines.extend(listed(summary));
    lines.push(format!(
        "Strength of knowledge: {}.",
        if grades.is_empty() { "not graded".into() } else { grades.join(", ") }
    ));
    lines
}

/// What intervals leave out where what shapes the site is uncertain.
fn few_shapes() -> String {
    format!(
        "Where heights or edges of the site are uncertain, intervals hold for the {FAMILY} values drawn with the seed alone."
    )
}

/// What follows from the first lost links of a long run alone.
fn listed(summary: &Summary) -> Option<String> {
    let policy = summary.policies.iter().find(|policy| policy.listed() < policy.lost)?;
    Some(format!(
        "Shares, pairs and the choice are of all {} lost links. Quantiles, dots, contours, harm, the typical flight and what would \
         change the answer are of the first {}.",
        grouped(policy.lost),
        grouped(policy.listed())
    ))
}

/// The same of a height sweep.
pub fn of_heights() -> Vec<String> {
    let intervals = format!("{INTERVALS} {}", few_shapes());
    let own = "Obstacles that nobody drew do not exist for the model.";
    [MODEL, PER_LOST_LINK, &intervals, PEOPLE, NONE_SEEN, own].map(String::from).into()
}

/// The same of a lesson.
pub fn of_lesson() -> Vec<String> {
    let rates = "Rates are per lost link, except where a chapter counts flights that lost the link.";
    let own = "Each chapter is made to show one thing: its numbers hold for its own place, craft, wind and seed, not for yours.";
    [MODEL, rates, INTERVALS, PEOPLE, NONE_SEEN, own].map(String::from).into()
}

/// The same of the live page.
pub fn of_live() -> Vec<String> {
    let own = "What is not set here is as the scenario has it; its conditions are not flown. Few flights say little: shares are worth \
        reading once all are flown.";
    let intervals = format!("{INTERVALS} {}", few_shapes());
    [MODEL, PER_LOST_LINK, &intervals, PEOPLE, NONE_SEEN, own, DEFERENCE].map(String::from).into()
}

fn names(summary: &Summary) -> Vec<String> {
    summary.policies.iter().map(|policy| policy.name.clone()).collect()
}

/// Lost links of a policy that had not ended when the clock ran out.
pub fn not_settled(policy: &PolicySummary) -> Share {
    let none = Share { events: 0, of: policy.lost, low: 0.0, high: 1.0 };
    policy.tiers.iter().find(|(tier, _)| *tier == Tier::NotSettled).map_or(none, |found| found.1)
}

/// Flights that never lost the link and had not ended when the clock ran out.
pub fn still_flown(summary: &Summary) -> u64 {
    let word = Headline::NotSettled.word();
    summary.loss.without_loss.iter().filter(|(found, _)| found == word).map(|(_, count)| count).sum()
}

/// Cautions that stand before the answer of an assessment, the gravest first.
///
/// Flights that had not ended are told when they are more than the smallest difference that matters: the answer may then hang
/// on how they would have ended.
pub fn first(summary: &Summary) -> Vec<String> {
    let matters = summary.matters.danger_points / 100.0;
    let mut lines: Vec<String> = summary.faults.caution(&names(summary)).into_iter().collect();
    let flown = still_flown(summary);
    if flown as f64 > matters * summary.flights as f64 {
        lines.push(format!(
            "{} of {} flights had not ended when the clock ran out, with the link still up: how they end, and whether they lose the \
             link, is not known.",
            grouped(flown),
            grouped(summary.flights)
        ));
    }
    for policy in &summary.policies {
        let share = not_settled(policy);
        if share.events as f64 > matters * share.of as f64 {
            lines.push(format!(
                "Under \"{}\" {} of {} lost links had not ended when the clock ran out: how they end is not known, and they count \
                 as no danger.",
                policy.name,
                grouped(share.events),
                grouped(share.of)
            ));
        }
    }
    lines
}

/// How flights came to an end, in a sentence, from the counts.
pub fn endings(summary: &Summary) -> String {
    let mut parts: Vec<String> = summary
        .policies
        .iter()
        .filter_map(|policy| {
            let share = not_settled(policy);
            (share.events > 0)
                .then(|| format!("{} of {} under {}", grouped(share.events), grouped(share.of), policy.name))
        })
        .collect();
    let flown = still_flown(summary);
    if flown > 0 {
        parts.push(format!("{} of {} flights with the link up", grouped(flown), grouped(summary.flights)));
    }
    let aside = match summary.faults.flights {
        0 => String::new(),
        n => format!(
            "Set aside for a numerical fault, in no total: {} of {} lost links.",
            grouped(n),
            grouped(summary.faults.of)
        ),
    };
    match (parts.is_empty(), aside.is_empty()) {
        (true, true) => "Every flight came to an end; none was set aside.".into(),
        (true, false) => aside,
        (false, _) => format!("Not settled when the clock ran out, kept in every total: {}. {aside}", list(&parts))
            .trim_end()
            .into(),
    }
}

/// Cautions that stand before the answer of a height sweep.
pub fn first_of_heights(heights: &Heights) -> Vec<String> {
    let mut lines: Vec<String> = heights.faults.caution(&[]).into_iter().chain(heights.first.clone()).collect();
    let most = heights.rows.iter().map(|row| row.not_settled).max_by(|a, b| a.events.cmp(&b.events));
    if let Some(share) =
        most.filter(|share| share.events as f64 > heights.matters.danger_points / 100.0 * share.of as f64)
    {
        lines.push(format!(
            "At some heights up to {} of 1,000 lost links under {} had not ended when the clock ran out: how they end is not \
             known, and they count as no danger.",
            per_thousand(share.estimate()),
            named(&[&heights.policy])
        ));
    }
    lines
}
