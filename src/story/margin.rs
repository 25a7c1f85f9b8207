//! Where the margin of the link went over a part of a trace, and what changed between two parts.

use super::words::decibels;
use crate::flight::{Event, LossBudget, LossCause, Trace, TraceRow};

/// What is meant by just before something: as long as a receiver counts packets, about. Estimate.
const JUST_BEFORE_S: f64 = 1.0;

/// A change of less is none.
const CHANGES_FROM_DB: f64 = 1.0;

/// Mean of the budget and of the margin over some rows.
pub(super) struct MeanMargin {
    pub(super) budget: LossBudget,
    pub(super) margin_db: f64,
}

impl MeanMargin {
    /// Over the rows between two times; the last one before the end when there is none between.
    pub(super) fn between(trace: &Trace, from_s: f64, to_s: f64) -> Option<MeanMargin> {
        let before = &trace.rows[..trace.rows.partition_point(|row| row.time_s <= to_s)];
        let first = before.partition_point(|row| row.time_s < from_s).min(before.len().checked_sub(1)?);
        let rows: &[TraceRow] = &before[first..];
        let mut budget = LossBudget::default();
        rows.iter().for_each(|row| budget.add(row.budget));
        let share = 1.0 / rows.len() as f64;
        let margin_db = rows.iter().map(|row| row.margin_db).sum::<f64>() * share;
        Some(MeanMargin { budget: budget.scaled(share), margin_db })
    }

    /// Over the silence that ended in the loss.
    pub(super) fn of_silence(trace: &Trace) -> Option<MeanMargin> {
        MeanMargin::between(trace, trace.silent_from_s?, trace.lost_at_s?)
    }

    /// Over the last second before a time.
    fn just_before(trace: &Trace, time_s: f64) -> Option<MeanMargin> {
        MeanMargin::between(trace, time_s - JUST_BEFORE_S, time_s)
    }
}

/// A term by which a link changes: its words, and its value.
type Term = (&'static str, fn(&LossBudget) -> f64);

/// The terms, in words that what they take follows.
const TERMS: [Term; 8] = [
    ("distance takes", |b| b.distance_db),
    ("terrain and buildings in the way take", |b| b.diffraction_db),
    ("trees in the way take", |b| b.vegetation_db),
    ("the wave off the ground takes", |b| b.reflection_db),
    ("the way the antennas point takes", |b| b.pattern_db + b.polarisation_db),
    ("the pilot's own body takes", |b| b.body_db),
    ("shadowing and fading take", |b| b.shadowing_db + b.fading_db),
    ("others on the band take", |b| b.interference_db),
];

/// Why a link that was lost is back, after the sentence that says so.
pub(super) fn why_back(trace: &Trace, back_s: f64) -> String {
    let lost = trace.events.iter().rev().find_map(|happened| match happened.event {
        Event::Lost(cause) if happened.time_s < back_s => Some((happened.time_s, Some(cause))),
        Event::LostAgain if happened.time_s < back_s => Some((happened.time_s, None)),
        _ => None,
    });
    let first = lost.is_none_or(|(_, cause)| cause.is_some());
    match trace.cause {
        Some(LossCause::Cut) if first => return " The scenario's cut is over.".into(),
        Some(LossCause::Restart) if first => return " The receiver has started up again.".into(),
        _ => {}
    }
    let silence = match lost {
        Some((lost_s, None)) => MeanMargin::just_before(trace, lost_s),
        _ => MeanMargin::of_silence(trace),
    };
    change(silence, MeanMargin::just_before(trace, back_s), "during the silence it was", false)
}

/// Why a link that was back is lost again.
pub(super) fn why_lost_again(trace: &Trace, lost_s: f64) -> String {
    let back = trace.events.iter().rev().find(|other| other.event == Event::LinkBack && other.time_s < lost_s);
    let good = back.and_then(|back| MeanMargin::just_before(trace, back.time_s));
    change(good, MeanMargin::just_before(trace, lost_s), "when the link came back it was", true)
}

/// Both margins, and the term that changed most in the direction asked for.
fn change(before: Option<MeanMargin>, now: Option<MeanMargin>, it_was: &str, worse: bool) -> String {
    let (Some(before), Some(now)) = (before, now) else { return String::new() };
    if !(before.margin_db.is_finite() && now.margin_db.is_finite()) {
        return String::new();
    }
    let sign = if worse { 1.0 } else { -1.0 };
    let grown = TERMS.iter().map(|(words, term)| (words, sign * (term(&now.budget) - term(&before.budget))));
    let most = grown.filter(|(_, by_db)| by_db.is_finite()).max_by(|a, b| a.1.total_cmp(&b.1));
    let what = match most {
        Some((words, by_db)) if by_db >= CHANGES_FROM_DB => {
            format!("What has changed most: {words} {} {}", decibels(by_db), if worse { "more" } else { "less" })
        }
        _ => "No term of the link budget has changed by as much as a decibel".into(),
    };
    format!(
        " Over the last second the mean margin is {}; {it_was} {}. {what}.",
        decibels(now.margin_db),
        decibels(before.margin_db)
    )
}
