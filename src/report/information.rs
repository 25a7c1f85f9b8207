//! What would change the answer, in words.

use super::words::{self, HOME_EAST, HOME_NORTH, count, key_here, list, number, policy_name};
use crate::risk::information::{FlownAgain, InputValue};
use crate::risk::summary::Summary;

/// The sentences, most important first: those for beside the answer (where the choice turns, what is worth measuring), then the
/// others. None where nothing was looked at.
pub fn lines(summary: &Summary) -> (Vec<String>, Vec<String>) {
    let Some(found) = &summary.information else { return Default::default() };
    let mut first: Vec<String> =
        found.again.iter().filter_map(|again| turn_words(summary, again)).map(|turn| turn + ".").collect();
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
    format!("{}, {} to {}", key_here(summary, &again.key).0, value_words(again, ends[0]), value_words(again, ends[1]))
}

/// A value of an input with its unit, to about three figures; a place for the take-off spot by how far it is moved.
pub fn value_words(again: &FlownAgain, value: f64) -> String {
    let ways = match again.key.as_str() {
        HOME_EAST => Some(["east", "west"]),
        HOME_NORTH => Some(["north", "south"]),
        _ => None,
    };
    let Some(ways) = ways else {
        let digits = if value.abs() < 1.0 { 3 } else { usize::from(value.abs() < 100.0) };
        return format!("{} {}", words::short(value, digits), words::key(&again.key).1).trim_end().into();
    };
    let moved = value - again.assumed;
    if moved.abs() < 0.05 {
        return "where it is".into();
    }
    format!("{} m further {}", words::short(moved.abs(), 1), ways[usize::from(moved < 0.0)])
}

/// Where the choice turns as one number changes; `None`: it does not.
pub fn turn_words(summary: &Summary, again: &FlownAgain) -> Option<String> {
    let first = again.turns.first()?;
    let now = match again.key.as_str() {
        HOME_EAST | HOME_NORTH => String::new(),
        _ if again.stated => format!(" (stated as {})", value_words(again, again.assumed)),
        _ => format!(" (assumed around {})", value_words(again, again.assumed)),
    };
    let mut text = format!(
        "{}{now}: up to {} \"{}\" comes first",
        words::sentence(&key_here(summary, &again.key).0),
        value_words(again, first.above),
        policy_name(summary, first.below)
    );
    for turn in &again.turns {
        text += &format!(", from {} \"{}\"", value_words(again, turn.under), policy_name(summary, turn.from_there));
    }
    Some(text)
}

/// Which inputs are worth knowing before the choice, and what it would save.
fn worth(summary: &Summary, inputs: &[InputValue]) -> String {
    let one = |input: &InputValue| {
        let names: Vec<String> = input.keys.iter().map(|key| key_here(summary, key).0).collect();
        format!(
            "{} ({} of 1,000 fewer with {}, standard error {})",
            list(&names),
            words::of_thousand(input.saved),
            input.concern.label(),
            words::of_thousand(input.error)
        )
    };
    let all: Vec<String> = inputs.iter().take(5).map(one).collect();
    format!("Worth measuring first, with what it saves to choose by it: {}.", all.join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::risk::information::Turn;

    fn again(key: &str, assumed: f64) -> FlownAgain {
        let turns = vec![Turn { above: -1.5, under: 0.0, below: 0, from_there: 1 }];
        FlownAgain { key: key.into(), stated: true, assumed, at: vec![], turns }
    }

    #[test]
    fn values_have_units_and_the_take_off_spot_directions() {
        assert_eq!(value_words(&again("site.zone[4].margin_m", 7.0), 6.75), "6.8 m");
        assert_eq!(value_words(&again("weather.wind_mps", 4.0), 0.125), "0.125 m/s");
        let north = again(HOME_NORTH, 2.0);
        assert_eq!(
            [-1.0, 2.0, 5.0].map(|v| value_words(&north, v)),
            ["3 m further south", "where it is", "3 m further north"]
        );
    }
}
