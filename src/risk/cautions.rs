//! What must be said before the answer: that the simulation broke off, that flights had not ended. Words from counts.

use super::summary::{Heights, PolicySummary, Share, Summary};
use super::words::{grouped, named, per_thousand};
use crate::flight::{Group, Headline};

fn names(summary: &Summary) -> Vec<String> {
    summary.policies.iter().map(|policy| policy.name.clone()).collect()
}

/// Lost links of a policy that had not ended when the clock ran out.
pub fn not_settled(policy: &PolicySummary) -> Share {
    let none = Share { events: 0, of: policy.lost, low: 0.0, high: 1.0 };
    policy.groups.iter().find(|(group, _)| *group == Group::NotSettled).map_or(none, |found| found.1)
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
    let matters = summary.matters_points / 100.0;
    let mut lines: Vec<String> = summary.faults.caution(&names(summary)).into_iter().collect();
    let flown = still_flown(summary);
    if flown as f64 > matters * summary.flights as f64 {
        lines.push(format!(
            "{} of {} flights had not ended when the clock ran out, the link still up: how they end, and whether they lose the \
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
        (false, _) => {
            let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
            format!("Not settled when the clock ran out, kept in every total: {}. {aside}", list(&parts))
                .trim_end()
                .into()
        }
    }
}

fn list(parts: &[&str]) -> String {
    match parts.split_last() {
        None => String::new(),
        Some((last, [])) => last.to_string(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// Cautions that stand before the answer of a height sweep.
pub fn first_of_heights(heights: &Heights) -> Vec<String> {
    let mut lines: Vec<String> = heights.faults.caution(&[]).into_iter().collect();
    let most = heights.rows.iter().map(|row| row.not_settled).max_by(|a, b| a.events.cmp(&b.events));
    if let Some(share) = most.filter(|share| share.events as f64 > heights.matters_points / 100.0 * share.of as f64) {
        lines.push(format!(
            "At some heights up to {} of 1,000 lost links under {} had not ended when the clock ran out: how they end is not \
             known, and they count as no danger.",
            per_thousand(share.estimate()),
            named(&[&heights.policy])
        ));
    }
    lines
}
