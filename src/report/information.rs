//! What would change the answer, in words.

use super::words::{self, HOME_EAST, HOME_NORTH, count, key_here, list, number, policy_name};
use crate::risk::information::{FlownAgain, InputValue, Turn};
use crate::risk::outcome::Concern;
use crate::risk::summary::Summary;

/// The sentences, most important first: those for beside the answer (where the choice turns, what is worth measuring), then the
/// others. None where nothing was looked at.
pub fn lines(summary: &Summary) -> (Vec<String>, Vec<String>) {
    let Some(found) = &summary.information else { return Default::default() };
    let mut first: Vec<String> = Vec::new();
    let mut last_asked = None;
    for (again, told) in found.again.iter().filter_map(|again| Some((again, turn(summary, again)?))) {
        let same_case = again.others_in.is_some() && last_asked == again.others_in;
        first.push(if same_case { format!("In that case {told}") } else { in_case(summary, again, &told) });
        last_asked = again.others_in;
    }
    let mut rest = Vec::new();
    if !found.inputs.is_empty() {
        first.push(worth(summary, &found.inputs));
    } else if found.screened > 0 {
        let again = if found.again.is_empty() { "nothing" } else { "only what is stated exactly" };
        rest.push(format!(
            "None of the {} inputs given with a spread was shown to be worth measuring before choosing, so {again} was flown again at other \
             values.",
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
    let asked = asked(summary, again);
    if is_spot(again) {
        let far = if ends[1] > again.assumed { ends[1] } else { ends[0] };
        return format!("{asked}, up to {}", value_words(again, far));
    }
    format!("{asked}, {} to {}", value_words(again, ends[0]), value_words(again, ends[1]))
}

/// What was flown again at other values: the number, and the case in which.
pub fn asked(summary: &Summary, again: &FlownAgain) -> String {
    let what = if is_spot(again) { "the take-off spot".into() } else { key_here(summary, &again.key).0 };
    with_others(summary, again).map_or(what.clone(), |zone| format!("{what} with others than the crew at {zone}"))
}

/// Whether it is the take-off spot that was moved.
fn is_spot(again: &FlownAgain) -> bool {
    matches!(again.key.as_str(), HOME_EAST | HOME_NORTH)
}

/// Where the choice turns as one number changes, as a sentence that stands alone; `None`: it does not.
pub fn turn_words(summary: &Summary, again: &FlownAgain) -> Option<String> {
    turn(summary, again).map(|told| in_case(summary, again, &told))
}

fn in_case(summary: &Summary, again: &FlownAgain, told: &str) -> String {
    match with_others(summary, again) {
        None => words::sentence(told),
        Some(zone) => format!("With people other than the crew at {zone}: {told}"),
    }
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

/// Where the choice turns as one number changes: for the take-off spot as advice.
fn turn(summary: &Summary, again: &FlownAgain) -> Option<String> {
    let text = match again.key.as_str() {
        HOME_EAST | HOME_NORTH => {
            let nearest = |turn: &&Turn| (turn.above - again.assumed).abs().min((turn.under - again.assumed).abs());
            let turn = again.turns.iter().min_by(|a, b| nearest(a).total_cmp(&nearest(b)))?;
            let (there, then, now) = if turn.under > again.assumed {
                (turn.under, turn.from_there, turn.below)
            } else {
                (turn.above, turn.below, turn.from_there)
            };
            format!(
                "take off {}, and \"{}\" comes first instead of \"{}\".",
                value_words(again, there),
                policy_name(summary, then),
                policy_name(summary, now)
            )
        }
        _ => {
            let first = again.turns.first()?;
            let how = if again.stated { "is stated as" } else { "is assumed to be around" };
            let mut text = format!(
                "{} {how} {}; up to {} \"{}\" comes first",
                key_here(summary, &again.key).0,
                value_words(again, again.assumed),
                value_words(again, first.above),
                policy_name(summary, first.below)
            );
            for turn in &again.turns {
                let name = policy_name(summary, turn.from_there);
                text += &format!(", from {} on \"{name}\"", value_words(again, turn.under));
            }
            text + "."
        }
    };
    Some(text)
}

/// The zone of the crew that was asked about with others in it.
fn with_others<'s>(summary: &'s Summary, again: &FlownAgain) -> Option<&'s str> {
    Some(&summary.zones.get(again.others_in?)?.name)
}

/// Which inputs are worth knowing before the choice, and what it would save.
fn worth(summary: &Summary, inputs: &[InputValue]) -> String {
    let one = |input: &InputValue| {
        let names: Vec<String> = input.keys.iter().map(|key| key_here(summary, key).0).collect();
        let from = match input.concern {
            Concern::Grave | Concern::Danger | Concern::Trespass => input.concern.label(),
            Concern::CraftLost => "a lost craft or worse",
            Concern::AtRisk => "a craft at risk or worse",
            Concern::Away => "not coming home",
        };
        format!(
            "{} (choosing by it would keep {} of 1,000 lost links from {from}, standard error {})",
            list(&names),
            words::of_thousand(input.saved),
            words::of_thousand(input.error)
        )
    };
    let all: Vec<String> = inputs.iter().take(5).map(one).collect();
    format!("Worth measuring first, with what choosing by it would save: {}.", all.join("; "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn again(key: &str, assumed: f64) -> FlownAgain {
        let turns = vec![Turn { above: -1.5, under: 0.0, below: 0, from_there: 1 }];
        FlownAgain { key: key.into(), stated: true, others_in: None, assumed, at: vec![], turns }
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
