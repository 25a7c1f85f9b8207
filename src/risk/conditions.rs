//! The choice over several conditions, by the rule of the choice under one.

use super::choice::{Choice, choose};
use super::compare::Comparisons;
use super::outcome::Concern;
use super::summary::{ConditionSummary, OverConditions, PolicySummary, SetAsideUnder, Share};
use super::tally::TallyResult;
use super::words::named;

/// What one condition gave.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionResult {
    /// Name in tables.
    pub name: String,
    /// Its odds, when the user gave some.
    pub odds: Option<f64>,
    /// Share of each concern, per policy.
    pub shares: Vec<[Share; Concern::ALL.len()]>,
    /// All pairs on the same flights.
    pub comparisons: Comparisons,
    /// The choice there.
    pub choice: Choice,
}

impl ConditionResult {
    /// From what a run has counted.
    pub fn of(name: &str, odds: Option<f64>, result: &TallyResult) -> ConditionResult {
        let shares = |policy: &PolicySummary| Concern::ALL.map(|on| policy.share(on));
        ConditionResult {
            name: name.into(),
            odds,
            shares: result.policies.iter().map(shares).collect(),
            comparisons: result.comparisons.clone(),
            choice: result.verdict.choice.clone(),
        }
    }

    fn lost(&self) -> u64 {
        self.shares.first().map_or(0, |of| of[0].of)
    }

    fn summary(&self) -> ConditionSummary {
        let of = |on: Concern| self.shares.iter().map(|of| of[on.index()]).collect::<Vec<Share>>();
        let danger = of(Concern::Danger);
        let points = |share: &Share| 100.0 * share.estimate();
        let least = danger.iter().map(points).fold(f64::INFINITY, f64::min);
        ConditionSummary {
            name: self.name.clone(),
            odds: self.odds,
            lost: self.lost(),
            behind_points: danger.iter().map(|share| points(share) - least).collect(),
            danger,
            craft_lost: of(Concern::CraftLost),
            choice: (self.lost() > 0).then(|| self.choice.clone()),
        }
    }
}

/// Gathers the conditions, the base first. `None` for the choice over them when there is none beside it, no link was lost, or
/// there is no policy.
///
/// When every condition but the base has odds (relative ones; the base has odds of 1 unless it states its own), the rule of the
/// choice is applied to the mean differences by the odds. Else a policy is left when it is left under each condition. Either way
/// conditions with the same numbers give the choice of one.
pub fn gather(results: &[ConditionResult], names: &[String]) -> (Vec<ConditionSummary>, Option<OverConditions>) {
    let summaries = results.iter().map(ConditionResult::summary).collect();
    let part: Vec<usize> = (0..results.len()).filter(|&place| results[place].lost() > 0).collect();
    if results.len() < 2 || part.is_empty() || names.is_empty() {
        return (summaries, None);
    }
    let (rule, left, set_aside) = match odds_of(results) {
        Some(odds) => {
            let choice = expected(results, &part, &odds);
            let under = |aside| SetAsideUnder { condition: None, aside };
            ("expected", choice.left, choice.set_aside.into_iter().map(|aside| aside.map(under)).collect())
        }
        None => {
            let first = |policy: usize| {
                part.iter().find_map(|&place| {
                    let aside = results[place].choice.set_aside[policy]?;
                    Some(SetAsideUnder { condition: Some(place), aside })
                })
            };
            let set_aside: Vec<Option<SetAsideUnder>> = (0..names.len()).map(first).collect();
            let ranking = &results[part[0]].choice.ranking;
            let left = ranking.iter().copied().filter(|&policy| set_aside[policy].is_none()).collect();
            ("each", left, set_aside)
        }
    };
    let sentence = sentence(results, &part, names, rule, &left, &set_aside);
    (summaries, Some(OverConditions { rule: rule.into(), left, set_aside, sentence }))
}

/// Odds of all conditions, when given.
fn odds_of(results: &[ConditionResult]) -> Option<Vec<f64>> {
    let given: Option<Vec<f64>> = results[1..].iter().map(|r| r.odds).collect();
    let given = given?;
    let base = results[0].odds.unwrap_or(1.0);
    let all: Vec<f64> = std::iter::once(base).chain(given).collect();
    (all.iter().sum::<f64>() > 0.0).then_some(all)
}

/// The choice by the mean over the conditions that take part.
fn expected(results: &[ConditionResult], part: &[usize], odds: &[f64]) -> Choice {
    let runs: Vec<(&Comparisons, f64)> = part.iter().map(|&place| (&results[place].comparisons, odds[place])).collect();
    let total: f64 = runs.iter().map(|run| run.1).sum();
    let mean = |policy: usize, on: Concern| {
        let share = |place: usize| odds[place] / total * results[place].shares[policy][on.index()].estimate();
        part.iter().map(|&place| share(place)).sum::<f64>()
    };
    let policies = results[0].shares.len();
    let shares: Vec<_> = (0..policies).map(|policy| Concern::ALL.map(|on| mean(policy, on))).collect();
    choose(&Comparisons::mean(&runs), &shares)
}

fn sentence(
    results: &[ConditionResult],
    part: &[usize],
    names: &[String],
    rule: &str,
    left: &[usize],
    set_aside: &[Option<SetAsideUnder>],
) -> String {
    let name = |policy: usize| names[policy].as_str();
    let all = |policies: &[usize]| named(&policies.iter().map(|&policy| name(policy)).collect::<Vec<_>>());
    let count = part.len();
    let over = if rule == "expected" {
        format!("on average over {count} conditions, weighted by the odds given")
    } else {
        format!("in each of {count} conditions")
    };
    let mut text = match left {
        _ if count == 1 => format!("Links were lost under \"{}\" only.", results[part[0]].name),
        [] => format!("No policy comes first {over}: the choice depends on them."),
        [one] => format!("\"{}\" comes first {over}.", name(*one)),
        several => format!("{}, these are not set aside: {}.", super::words::sentence(&over), all(several)),
    };
    let asides: Vec<String> = set_aside
        .iter()
        .enumerate()
        .filter_map(|(policy, under)| {
            let SetAsideUnder { condition, aside } = under.as_ref()?;
            let place = condition.map_or(String::new(), |place| format!(" under \"{}\"", results[place].name));
            Some(format!("\"{}\" on {}, behind \"{}\"{place}", name(policy), aside.on.label(), name(aside.by)))
        })
        .collect();
    if !asides.is_empty() && count > 1 {
        text += &format!(" Set aside: {}.", asides.join("; "));
    }
    // Where the first choice of the base is not left.
    let first = results[0].choice.left.first().filter(|_| part[0] == 0);
    let turns: Vec<String> = first
        .into_iter()
        .flat_map(|first| part.iter().map(move |&place| (first, place)))
        .filter(|(first, place)| !results[*place].choice.left.contains(first))
        .map(|(_, place)| format!("to {} under \"{}\"", all(&results[place].choice.left), results[place].name))
        .collect();
    if !turns.is_empty() {
        text += &format!(" The choice turns {}.", turns.join("; "));
    }
    let idle: Vec<&str> = results.iter().filter(|r| r.lost() == 0).map(|r| r.name.as_str()).collect();
    if !idle.is_empty() {
        let take = if idle.len() == 1 { "which takes" } else { "which take" };
        text += &format!(" No link was lost under {}, {take} no part in the choice.", named(&idle));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::Headline::{self, AmongOthers, Fell, HardAmongOthers, Struck};
    use crate::risk::choice::tests::{MATTERS, ends, shares, tables};
    use crate::risk::words::share;

    fn result(name: &str, odds: Option<f64>, list: &[Vec<Headline>]) -> ConditionResult {
        let comparisons = Comparisons::of(list.len(), &tables(list), &MATTERS, 0.95);
        let count = |list: &[Headline], on: Concern| list.iter().filter(|&&h| on.counts(h)).count() as u64;
        let counted =
            list.iter().map(|list| Concern::ALL.map(|on| share(count(list, on), list.len() as u64, 0.95))).collect();
        let choice = choose(&comparisons, &shares(list));
        ConditionResult { name: name.into(), odds, shares: counted, comparisons, choice }
    }

    fn names() -> Vec<String> {
        ["a", "b", "c"].map(String::from).to_vec()
    }

    /// Policies that meet so many people of 4,000.
    fn meeting(counts: [usize; 3]) -> Vec<Vec<Headline>> {
        counts.map(|count| ends(4_000, 0, &[(AmongOthers, count)])).to_vec()
    }

    #[test]
    fn the_choice_under_one_condition_is_that_over_many_alike() {
        let cases = [
            meeting([40, 400, 41]),
            meeting([0, 0, 0]),
            vec![ends(900, 0, &[(Fell, 880)]), ends(900, 4, &[(HardAmongOthers, 3)]), ends(900, 90, &[(Struck, 200)])],
            vec![ends(4_000, 0, &[(Fell, 3_900)]), ends(4_000, 4, &[(Struck, 100)]), ends(4_000, 90, &[(Struck, 200)])],
        ];
        for list in &cases {
            let alone = result("as stated", None, list);
            for odds in [None, Some(0.3)] {
                let (_, over) = gather(&[alone.clone(), result("the same", odds, list)], &names());
                let over = over.unwrap();
                assert_eq!(over.left, alone.choice.left, "{odds:?}");
                for (under, aside) in over.set_aside.iter().zip(&alone.choice.set_aside) {
                    let told = |aside: &crate::risk::choice::SetAside| (aside.by, aside.on);
                    assert_eq!(under.as_ref().map(|under| told(&under.aside)), aside.as_ref().map(told), "{odds:?}");
                }
                assert!(!over.sentence.contains("turns"), "{}", over.sentence);
            }
        }
    }

    #[test]
    fn a_choice_that_turns_is_told() {
        let base = result("as stated", None, &meeting([20, 200, 400]));
        let (summaries, over) = gather(&[base.clone(), result("gusty", None, &meeting([600, 200, 400]))], &names());
        let over = over.unwrap();
        assert_eq!((&*over.rule, over.left.len()), ("each", 0));
        assert_eq!(
            over.sentence,
            "No policy comes first in each of 2 conditions: the choice depends on them. Set aside: \"a\" on danger to people, \
             behind \"b\" under \"gusty\"; \"b\" on danger to people, behind \"a\" under \"as stated\"; \"c\" on danger to \
             people, behind \"a\" under \"as stated\". The choice turns to \"b\" under \"gusty\"."
        );
        assert_eq!(summaries[1].behind_points.iter().map(|p| p.round()).collect::<Vec<_>>(), [10.0, 0.0, 5.0]);
        // By the odds the rare gusts weigh little, the frequent ones much.
        for (odds, left) in [(0.1, 0), (9.0, 1)] {
            let (_, over) = gather(&[base.clone(), result("gusty", Some(odds), &meeting([600, 200, 400]))], &names());
            let over = over.unwrap();
            assert_eq!((&*over.rule, over.left.as_slice()), ("expected", &[left][..]), "{odds}");
        }
    }

    #[test]
    fn a_condition_without_a_lost_link_takes_no_part() {
        let nothing = result("near", None, &[vec![], vec![], vec![]]);
        let base = result("as stated", None, &meeting([20, 200, 400]));
        let (summaries, alone) = gather(&[base.clone(), nothing.clone()], &names());
        let alone = alone.unwrap();
        assert!(summaries[1].choice.is_none() && summaries[1].lost == 0 && alone.left == base.choice.left);
        assert_eq!(
            alone.sentence,
            "Links were lost under \"as stated\" only. No link was lost under \"near\", which takes no part in the choice."
        );
        assert!(gather(&[nothing.clone(), nothing.clone()], &names()).1.is_none());
        let gusty = result("gusty", None, &meeting([20, 200, 400]));
        let over = gather(&[base, nothing, gusty], &names()).1.unwrap();
        assert_eq!(over.left, [0]);
        assert!(
            over.sentence.ends_with("No link was lost under \"near\", which takes no part in the choice."),
            "{}",
            over.sentence
        );
        assert!(!over.sentence.contains("NaN"));
    }
}
