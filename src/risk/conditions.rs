//! The choice over several conditions: regret or expectation, dominated policies, where the choice flips.

use super::summary::{Choice, ConditionSummary, Share};
use super::words::{confidence_words, named, points_of_thousand};
use crate::stats::decision::{expected, least, max_regret};
use std::cmp::Ordering;

/// What one condition gave.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionResult {
    /// Name in tables.
    pub name: String,
    /// Its odds, when the user gave some.
    pub odds: Option<f64>,
    /// Danger share per policy.
    pub danger: Vec<Share>,
    /// Danger or craft lost, per policy.
    pub craft_lost: Vec<Share>,
}

/// Danger in points; a condition in which no link was lost has none.
fn in_points(share: &Share) -> f64 {
    if share.of == 0 { 0.0 } else { 100.0 * share.estimate() }
}

/// The better of two policies in a condition: less danger by more than what matters; else less craft lost by more than
/// that; else neither.
fn order(result: &ConditionResult, i: usize, j: usize, matters_points: f64) -> Ordering {
    let compare = |shares: &[Share]| {
        let (a, b) = (in_points(&shares[i]), in_points(&shares[j]));
        if (a - b).abs() > matters_points { a.total_cmp(&b) } else { Ordering::Equal }
    };
    compare(&result.danger).then(compare(&result.craft_lost))
}

/// The best policy of a condition: of those whose danger is within what matters of the least, the one that loses the
/// craft least often; of equals the first.
fn best_of(result: &ConditionResult, matters_points: f64) -> usize {
    let least = result.danger.iter().map(in_points).fold(f64::INFINITY, f64::min);
    (0..result.danger.len())
        .filter(|&i| in_points(&result.danger[i]) <= least + matters_points)
        .reduce(|best, i| if in_points(&result.craft_lost[i]) < in_points(&result.craft_lost[best]) { i } else { best })
        .unwrap_or(0)
}

/// Policies that another one beats or equals in every condition. None when that would leave no policy: differences
/// under what matters do not add up.
fn dominated(results: &[ConditionResult], k: usize, matters_points: f64) -> Vec<usize> {
    let beats = |i: usize, j: usize| {
        results.iter().all(|r| order(r, i, j, matters_points).is_le())
            && results.iter().any(|r| order(r, i, j, matters_points).is_lt())
    };
    let beaten: Vec<usize> = (0..k).filter(|&j| (0..k).any(|i| i != j && beats(i, j))).collect();
    if beaten.len() == k { Vec::new() } else { beaten }
}

/// Gathers the conditions, the base first. `None` for the choice when there are fewer than two conditions or no policy.
///
/// The rule is the expected danger when every condition but the base has odds (relative ones; the
/// base has odds of 1 unless it states its own); else the greatest regret. Dominated policies are named and never chosen. Policies that differ in danger
/// by less than what matters are told apart by how often they lose the craft.
pub fn gather(
    results: &[ConditionResult],
    names: &[String],
    matters_points: f64,
    confidence: f64,
) -> (Vec<ConditionSummary>, Option<Choice>) {
    let summaries: Vec<ConditionSummary> = results
        .iter()
        .map(|r| {
            let best = best_of(r, matters_points);
            let least = r.danger.iter().map(in_points).fold(f64::INFINITY, f64::min);
            ConditionSummary {
                name: r.name.clone(),
                odds: r.odds,
                danger: r.danger.clone(),
                craft_lost: r.craft_lost.clone(),
                best,
                behind_points: r.danger.iter().map(|s| in_points(s) - least).collect(),
            }
        })
        .collect();
    if results.len() < 2 || names.is_empty() {
        return (summaries, None);
    }
    let choice = choose(results, names, &summaries, matters_points, confidence);
    (summaries, choice)
}

/// Odds of all conditions, when given.
fn odds_of(results: &[ConditionResult]) -> Option<Vec<f64>> {
    let given: Option<Vec<f64>> = results[1..].iter().map(|r| r.odds).collect();
    let given = given?;
    let base = results[0].odds.unwrap_or(1.0);
    let all: Vec<f64> = std::iter::once(base).chain(given).collect();
    (all.iter().sum::<f64>() > 0.0).then_some(all)
}

fn choose(
    results: &[ConditionResult],
    names: &[String],
    summaries: &[ConditionSummary],
    matters_points: f64,
    confidence: f64,
) -> Option<Choice> {
    let k = names.len();
    let loss: Vec<Vec<f64>> = (0..k).map(|i| results.iter().map(|r| in_points(&r.danger[i])).collect()).collect();
    let regret_points = max_regret(&loss).ok()?;
    let dominated = dominated(results, k, matters_points);
    let odds = odds_of(results);
    let (rule, scores) = match &odds {
        Some(odds) => ("expected", expected(&loss, odds).ok()?),
        None => ("greatest regret", regret_points.clone()),
    };
    // Policies whose scores differ by less than what matters are told apart by craft lost over the same conditions.
    let open: Vec<usize> = (0..k).filter(|i| !dominated.contains(i)).collect();
    let least_score = open.iter().map(|&i| scores[i]).fold(f64::INFINITY, f64::min);
    let craft = |i: usize| results.iter().map(|r| in_points(&r.craft_lost[i])).sum::<f64>();
    let policy = open
        .into_iter()
        .filter(|&i| scores[i] <= least_score + matters_points)
        .reduce(|best, i| if craft(i) < craft(best) { i } else { best })?;
    let sentence = robust_line(policy, rule, names, summaries, &dominated, &regret_points, matters_points, confidence);
    Some(Choice { rule: rule.into(), policy, regret_points, dominated, sentence })
}

#[allow(clippy::too_many_arguments)]
fn robust_line(
    policy: usize,
    rule: &str,
    names: &[String],
    summaries: &[ConditionSummary],
    dominated: &[usize],
    regret_points: &[f64],
    matters_points: f64,
    confidence: f64,
) -> String {
    let count = summaries.len();
    let behind = |s: &ConditionSummary| s.behind_points[policy];
    let near = summaries.iter().filter(|s| behind(s) <= matters_points).count();
    let mut text = format!(
        "Over these {count} conditions the choice is \"{}\" (rule: {}). Its danger to others is the least, or within {} of the \
         least, in {near} of {count}",
        names[policy],
        if rule == "expected" { "least expected danger by the odds given" } else { "least greatest regret" },
        points_of_thousand(matters_points),
    );
    let worst = least(&summaries.iter().map(|s| -behind(s)).collect::<Vec<_>>()).unwrap_or(0);
    if behind(&summaries[worst]) > 0.0 {
        text += &format!(
            "; furthest behind under \"{}\", by {}",
            summaries[worst].name,
            points_of_thousand(behind(&summaries[worst]))
        );
    }
    text += ".";
    // Where the choice flips: another policy is better there by more than what matters, or by intervals that part.
    let flips: Vec<String> = summaries
        .iter()
        .filter(|s| s.best != policy && behind(s) > matters_points)
        .map(|s| {
            let apart = s.danger[s.best].high < s.danger[policy].low;
            let sure = if apart { "" } else { " (intervals overlap)" };
            format!("to \"{}\" under \"{}\"{sure}", names[s.best], s.name)
        })
        .collect();
    if !flips.is_empty() {
        text += &format!(" The choice flips {}.", flips.join("; "));
    }
    let dropped: Vec<&str> = dominated.iter().map(|&i| names[i].as_str()).collect();
    if !dropped.is_empty() {
        text += &format!(
            " Left out, because under every condition another policy has less danger or, level in danger, loses the craft no more often: {}.",
            named(&dropped)
        );
    }
    if rule == "expected" {
        let other = least(regret_points).unwrap_or(policy);
        if regret_points[policy] > regret_points[other] + matters_points {
            text += &format!(" The rule of least greatest regret would choose \"{}\".", names[other]);
        }
    }
    text + &format!(
        " Policies level in danger are told apart by the craft. The choice goes by estimates; their {} intervals are in the table.",
        confidence_words(confidence)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::risk::words::share;

    fn results(table: &[(&str, Option<f64>, [u64; 3])]) -> Vec<ConditionResult> {
        table
            .iter()
            .map(|(name, odds, events)| ConditionResult {
                name: name.to_string(),
                odds: *odds,
                danger: events.iter().map(|&e| share(e, 1_000, 0.95)).collect(),
                craft_lost: events.iter().map(|&e| share(e + 5, 1_000, 0.95)).collect(),
            })
            .collect()
    }

    fn names() -> Vec<String> {
        ["a", "b", "c"].map(String::from).to_vec()
    }

    /// A table on which the rules part: expected picks the first row, regret the second.
    #[test]
    fn the_rule_follows_the_odds() {
        let table = [
            ("calm", Some(0.65), [20, 60, 100]),
            ("breezy", Some(0.25), [90, 70, 100]),
            ("gusty", Some(0.1), [300, 120, 100]),
        ];
        let (_, with) = gather(&results(&table), &names(), 0.2, 0.95);
        let with = with.unwrap();
        assert_eq!((&*with.rule, with.policy), ("expected", 0));
        assert!(with.sentence.contains("least greatest regret would choose \"b\""), "{}", with.sentence);
        let without: Vec<_> = table.iter().map(|t| (t.0, None, t.2)).collect();
        let (summaries, choice) = gather(&results(&without), &names(), 0.5, 0.95);
        let choice = choice.unwrap();
        assert_eq!((&*choice.rule, choice.policy), ("greatest regret", 1));
        assert_eq!(choice.regret_points.iter().map(|r| r.round()).collect::<Vec<_>>(), [20.0, 4.0, 8.0]);
        assert_eq!(summaries[2].best, 2);
        assert_eq!(
            choice.sentence,
            "Over these 3 conditions the choice is \"b\" (rule: least greatest regret). Its danger to others is the least, or \
             within 5 of 1,000 of the least, in 1 of 3; furthest behind under \"calm\", by 40 of 1,000. The choice flips to \
             \"a\" under \"calm\"; to \"c\" under \"gusty\" (intervals overlap). Policies level in danger are told \
             apart by the craft. The choice goes by estimates; their 95 % intervals are in the table."
        );
    }

    /// A policy that always loses the craft is not chosen for a difference in danger that does not matter.
    #[test]
    fn small_differences_of_danger_leave_the_choice_to_the_craft() {
        let mut list = results(&[("base", None, [1, 3, 2]), ("windy", None, [2, 4, 3])]);
        for result in &mut list {
            result.craft_lost[0] = share(1_000, 1_000, 0.95);
        }
        let choice = gather(&list, &names(), 0.5, 0.95).1.unwrap();
        assert_eq!((choice.dominated.as_slice(), choice.policy), (&[0][..], 2));
    }

    #[test]
    fn dominated_policies_are_dropped_first() {
        let table = [("base", None, [10, 20, 10]), ("windy", None, [30, 30, 20])];
        let choice = gather(&results(&table), &names(), 0.5, 0.95).1.unwrap();
        assert_eq!((choice.dominated.as_slice(), choice.policy), (&[0, 1][..], 2));
        assert!(choice.sentence.contains("Left out"));
        assert!(gather(&results(&table[..1]), &names(), 0.5, 0.95).1.is_none());
    }

    /// 5 of 1,000 more danger, where 20 matter, do not make falling out of the sky the choice.
    #[test]
    fn a_difference_that_does_not_matter_costs_no_craft() {
        let result = |danger: [u64; 2], craft: [u64; 2]| ConditionResult {
            name: "c".into(),
            odds: None,
            danger: danger.map(|e| share(e, 1_000, 0.95)).to_vec(),
            craft_lost: craft.map(|e| share(e, 1_000, 0.95)).to_vec(),
        };
        let list = [result([0, 5], [1_000, 5]), result([0, 9], [1_000, 12])];
        let (summaries, choice) = gather(&list, &names()[..2], 2.0, 0.95);
        let choice = choice.unwrap();
        assert_eq!((choice.policy, choice.dominated.as_slice(), summaries[0].best), (1, &[0][..], 1));
        // Beyond what matters danger decides, whatever the craft costs.
        let list = [result([0, 5], [1_000, 5]), result([0, 90], [1_000, 90])];
        let (summaries, choice) = gather(&list, &names()[..2], 2.0, 0.95);
        assert_eq!((choice.unwrap().policy, summaries[1].best), (0, 0));
    }

    #[test]
    fn a_condition_without_losses_counts_as_no_danger() {
        let mut list = results(&[("base", None, [10, 20, 30]), ("near", None, [0, 0, 0])]);
        for share_in in &mut list[1].danger {
            *share_in = share(0, 0, 0.95);
        }
        let choice = gather(&list, &names(), 0.5, 0.95).1.unwrap();
        assert_eq!(choice.policy, 0);
        assert!(!choice.sentence.contains("NaN"));
    }
}
