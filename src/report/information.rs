//! What would change the answer, in words.

use super::words::{self, count, key_here, list, number, policy_name};
use crate::risk::information::{FlownAgain, InputValue};
use crate::risk::summary::Summary;

/// The sentences, most important first: those for beside the answer (where the choice turns, what is worth measuring), then the
/// others. None where nothing was looked at.
pub fn lines(summary: &Summary) -> (Vec<String>, Vec<String>) {
    let Some(found) = &summary.information else { return Default::default() };
    let mut first: Vec<String> = found.again.iter().filter_map(|again| turn(summary, again)).collect();
    let mut rest = Vec::new();
    if !found.inputs.is_empty() {
        first.push(worth(summary, &found.inputs));
    } else if found.screened > 0 {
        rest.push(format!(
            "None of the {} uncertain inputs was shown to be worth measuring before choosing.",
            count(found.screened as u64)
        ));
    }
    if let (Some(stands), Some(error)) = (found.stands, found.stands_error) {
        rest.push(format!(
            "Over the plausible values of these inputs the choice stays the same in {} of 100 cases (standard error {}).",
            number(100.0 * stands, 0),
            number((100.0 * error).max(1.0), 0)
        ));
    }
    let still: Vec<String> =
        found.again.iter().filter(|again| again.turns.is_empty()).map(|again| range(summary, again)).collect();
    if !still.is_empty() {
        rest.push(format!(
            "The choice was not seen to change when these were varied, with {} flights at each value: {}.",
            count(u64::from(found.flights)),
            still.join("; ")
        ));
    }
    (first, rest)
}

fn range(summary: &Summary, again: &FlownAgain) -> String {
    let ends = [again.at.first(), again.at.last()].map(|end| end.map_or(f64::NAN, |end| end.value));
    let (what, unit) = key_here(summary, &again.key);
    format!("{what}, {} to {}", value(ends[0], ""), value(ends[1], unit))
}

/// A value of an input with its unit, to about three figures.
fn value(value: f64, unit: &str) -> String {
    let digits = if value.abs() < 1.0 {
        3
    } else if value.abs() < 100.0 {
        1
    } else {
        0
    };
    format!("{} {unit}", words::short(value, digits)).trim_end().into()
}

/// Where the choice turns as one number changes.
fn turn(summary: &Summary, again: &FlownAgain) -> Option<String> {
    let first = again.turns.first()?;
    let (what, unit) = key_here(summary, &again.key);
    let mut text = format!(
        "{} ({} {}): up to {} \"{}\" comes first",
        words::sentence(&what),
        if again.stated { "stated as" } else { "assumed around" },
        value(again.assumed, unit),
        value(first.above, unit),
        policy_name(summary, first.below)
    );
    for turn in &again.turns {
        text += &format!(", from {} \"{}\"", value(turn.under, unit), policy_name(summary, turn.from_there));
    }
    Some(text + ".")
}

/// Which inputs are worth knowing before the choice, and what it would save.
fn worth(summary: &Summary, inputs: &[InputValue]) -> String {
    let one = |input: &InputValue| {
        let names: Vec<String> = input.keys.iter().map(|key| key_here(summary, key).0).collect();
        format!(
            "{} ({} fewer of 1,000 with {}, standard error {})",
            list(&names),
            words::of_thousand(input.saved),
            input.concern.label(),
            words::of_thousand(input.error)
        )
    };
    let all: Vec<String> = inputs.iter().take(5).map(one).collect();
    format!("Worth measuring first: {}.", all.join("; "))
}
