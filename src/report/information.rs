//! What would change the answer, in words.

use super::words::{self, count, list, number, policy_name};
use crate::risk::information::{FlownAgain, InputValue};
use crate::risk::summary::Summary;

/// The sentences, most important first; none where nothing was looked at.
pub fn lines(summary: &Summary) -> Vec<String> {
    let Some(found) = &summary.information else { return vec![] };
    let mut lines: Vec<String> = found.again.iter().filter_map(|again| turn(summary, again)).collect();
    if found.screened > 0 {
        lines.push(worth(found.screened, &found.inputs));
    }
    if let (Some(stands), Some(error)) = (found.stands, found.stands_error) {
        lines.push(format!(
            "With these known, the choice would be the same in {} of 100 cases (standard error {}).",
            number(100.0 * stands, 0),
            number((100.0 * error).max(1.0), 0)
        ));
    }
    let still: Vec<String> = found.again.iter().filter(|again| again.turns.is_empty()).map(range).collect();
    if !still.is_empty() {
        lines.push(format!(
            "No turn of the choice was seen in {} flights at each of several values of {}.",
            count(u64::from(found.flights)),
            list(&still)
        ));
    }
    lines
}

fn range(again: &FlownAgain) -> String {
    let ends = [again.at.first(), again.at.last()].map(|end| end.map_or(f64::NAN, |end| end.value));
    format!("{} ({} to {})", again.key, value(ends[0]), value(ends[1]))
}

/// A value of an input, to about three figures.
fn value(value: f64) -> String {
    let digits = if value.abs() < 1.0 {
        3
    } else if value.abs() < 100.0 {
        1
    } else {
        0
    };
    number(value, digits)
}

/// Where the choice turns as one number changes.
fn turn(summary: &Summary, again: &FlownAgain) -> Option<String> {
    let first = again.turns.first()?;
    let mut text = format!(
        "{}, {} {}: up to {} \"{}\" comes first",
        again.key,
        if again.stated { "stated as" } else { "assumed around" },
        value(again.assumed),
        value(first.above),
        policy_name(summary, first.below)
    );
    for turn in &again.turns {
        text += &format!(", from {} on \"{}\"", value(turn.under), policy_name(summary, turn.from_there));
    }
    Some(text + ".")
}

/// Which inputs are worth knowing before the choice, and what it would save.
fn worth(screened: usize, inputs: &[InputValue]) -> String {
    if inputs.is_empty() {
        return format!(
            "None of the {} uncertain inputs was shown to be worth knowing before choosing.",
            count(screened as u64)
        );
    }
    let one = |input: &InputValue| {
        format!(
            "{} ({} of 1,000 fewer with {}, standard error {})",
            list(&input.keys),
            words::of_thousand(input.saved),
            input.concern.label(),
            words::of_thousand(input.error)
        )
    };
    let all: Vec<String> = inputs.iter().take(5).map(one).collect();
    format!("Worth measuring first, of {} uncertain inputs: {}.", count(screened as u64), all.join("; "))
}
