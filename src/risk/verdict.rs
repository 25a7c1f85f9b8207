//! The choice in words: which policy, why, how sure, what happens under the others.

use super::choice::{Choice, SetAside};
use super::compare::{Comparisons, PairTables, lost_needed, pairs_of};
use super::outcome::Concern;
use super::summary::{Decision, Share, Verdict};
use super::words::{
    self, at_least, at_most, bare_frequency, confidence_words, frequency, frequency_among, grouped, list, per_thousand,
    range, round_up,
};
use crate::scenario::Matters;

/// Rules set before the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// Smallest differences that matter.
    pub matters: Matters,
    /// Two-sided confidence, for all pairs together.
    pub confidence: f64,
}

/// What a run has counted, as far as the verdict goes.
#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    /// Names of the policies.
    pub names: &'a [String],
    /// What the craft does under each, in words.
    pub chains: &'a [String],
    /// Flights flown.
    pub flights: u64,
    /// Of them those that never took off.
    pub not_taken_off: u64,
    /// Lost links among them.
    pub lost: u64,
    /// Per policy the share of each concern.
    pub shares: &'a [[Share; Concern::ALL.len()]],
    /// Tables of all pairs.
    pub tables: &'a [PairTables],
    /// What they come to.
    pub comparisons: &'a Comparisons,
}

/// Puts a choice into words.
pub fn verdict(evidence: &Evidence, rules: &Rules, choice: Choice) -> Verdict {
    let told = Told { evidence, rules, choice: &choice };
    let decision = told.decision();
    let sentence = told.sentence(decision);
    let others = if decision == Decision::NothingLost { String::new() } else { told.others() };
    let decided_by = choice.decided_by().map_or("none so far", Concern::label).into();
    Verdict { choice, decision, sentence, others, decided_by }
}

struct Told<'a> {
    evidence: &'a Evidence<'a>,
    rules: &'a Rules,
    choice: &'a Choice,
}

impl Told<'_> {
    fn name(&self, i: usize) -> &str {
        &self.evidence.names[i]
    }

    fn share(&self, i: usize, on: Concern) -> &Share {
        &self.evidence.shares[i][on.index()]
    }

    /// What is said when no link was lost: of flights that flew.
    fn nothing_lost(&self) -> String {
        let Evidence { flights, not_taken_off, .. } = *self.evidence;
        let flown = flights - not_taken_off.min(flights);
        if flown == 0 {
            return format!("None of {} flights took off, so there is nothing to compare.", grouped(flights));
        }
        format!(
            "The link was never lost in {} flights, so there is nothing to compare: {}.",
            grouped(flown),
            words::none_seen(flown, self.rules.confidence)
        )
    }

    fn decision(&self) -> Decision {
        let Evidence { names, lost, comparisons, .. } = *self.evidence;
        match self.choice.left.len() {
            _ if lost == 0 || names.is_empty() => Decision::NothingLost,
            _ if names.len() == 1 => Decision::Lone,
            1 => Decision::One,
            _ if self.choice.in_a_circle(comparisons) => Decision::Circle,
            _ if self.choice.open_on(comparisons).is_none() => Decision::Any,
            _ => Decision::Open,
        }
    }

    fn sentence(&self, decision: Decision) -> String {
        let left = &self.choice.left;
        let names: Vec<&str> = left.iter().map(|&i| self.name(i)).collect();
        let head = match decision {
            Decision::NothingLost => return self.nothing_lost(),
            Decision::Lone => String::new(),
            Decision::One => {
                format!("If the link is lost: {} (\"{}\").", without_guards(&self.evidence.chains[left[0]]), names[0])
            }
            Decision::Circle => format!(
                "None of {} comes first: each is better than another of them, by differences that do not matter one by one.",
                few(&names, "and")
            ),
            Decision::Any => format!(
                "If the link is lost: {}, {} serves; no difference between them matters.",
                few(&names, "or"),
                if left.len() == 2 { "either" } else { "any" }
            ),
            Decision::Open => self.undecided(&names),
        };
        [head, self.danger(left[0]), self.craft(left[0]), self.why()].join(" ").trim().replace("  ", " ")
    }

    fn undecided(&self, names: &[&str]) -> String {
        let between = if names.len() == self.evidence.names.len() && names.len() > SHOWN {
            format!("all {} policies", names.len())
        } else {
            few(names, "and")
        };
        let apart = self.choice.open_on(self.evidence.comparisons).map_or(String::new(), |on| {
            let lost = grouped(self.evidence.lost);
            format!(" On {}, {lost} lost links do not separate them{}.", on.label(), self.flights_needed(on))
        });
        format!("If the link is lost: undecided between {between}.{apart}")
    }

    /// Danger of one policy; where no craft was lost either, both.
    fn danger(&self, i: usize) -> String {
        let share = self.share(i, Concern::Danger);
        let name = self.name(i);
        if share.events == 0 {
            let both = if self.share(i, Concern::CraftLost).events == 0 { " or lost the craft" } else { "" };
            return format!(
                "Under \"{name}\" none of {} lost links endangered people{both} ({} of 1,000).",
                grouped(share.of),
                range(share)
            );
        }
        let grave = self.share(i, Concern::Grave);
        let grave =
            if grave.events == 0 { "none of them grave".into() } else { format!("grave in {}", frequency(grave)) };
        format!("Under \"{name}\" {} ended in danger to people, {grave}.", frequency_among(share, "lost links"))
    }

    /// What becomes of the craft, unless that is said with the danger.
    fn craft(&self, i: usize) -> String {
        match self.share(i, Concern::CraftLost) {
            share if share.events == 0 => String::new(),
            share => format!("The craft was lost, or worse, in {}.", frequency(share)),
        }
    }

    /// Where the others were set aside, the gravest concern first, and what counted as a difference there.
    fn why(&self) -> String {
        let mut parts = Vec::new();
        let mut counts = Vec::new();
        for on in Concern::ALL {
            let aside = |&i: &usize| Some((i, self.choice.set_aside[i].as_ref().filter(|aside| aside.on == on)?));
            let before = parts.len();
            parts.extend(self.choice.ranking.iter().filter_map(aside).map(|(i, aside)| self.aside(i, aside)));
            if parts.len() > before {
                let least = per_thousand(on.matters(&self.rules.matters));
                counts.push(format!("from {least} on {}", on.label()));
            }
        }
        if parts.is_empty() {
            return String::new();
        }
        format!(
            "Why not the others, of 1,000 lost links and {} sure: {}. A difference counts {}.",
            confidence_words(self.rules.confidence),
            parts.join("; "),
            list(&counts)
        )
    }

    /// Why one was set aside.
    fn aside(&self, i: usize, aside: &SetAside) -> String {
        let did = match aside.on {
            Concern::Grave => "brought grave danger to people in",
            Concern::Danger => "endangered people in",
            Concern::Trespass => "left the area or came down on property, or worse, in",
            Concern::CraftLost => "lost the craft, or worse, in",
            Concern::AtRisk => "put the craft at risk, or worse, in",
            Concern::Away => "left the craft away from home in",
        };
        format!(
            "\"{}\" {did} {} more than \"{}\" ({} to {})",
            self.name(i),
            per_thousand(aside.difference),
            self.name(aside.by),
            at_least(aside.low),
            at_most(aside.high)
        )
    }

    /// Flights that would settle the open comparisons of those left in one concern.
    fn flights_needed(&self, on: Concern) -> String {
        let Evidence { comparisons, tables, .. } = self.evidence;
        let open: Vec<(&[u64; 4], f64)> = pairs_of(comparisons.policies)
            .zip(*tables)
            .filter(|((i, j), _)| self.choice.left.contains(i) && self.choice.left.contains(j))
            .filter_map(|(_, tables)| {
                let table = &tables[on.index()];
                Some((table, lost_needed(*table, comparisons.level, on.matters(&self.rules.matters))?))
            })
            .collect();
        let needed = open.iter().map(|one| one.1).fold(0.0, f64::max);
        if needed <= 0.0 {
            return String::new();
        }
        let flights = words::flights(round_up(needed * self.evidence.flights as f64 / self.evidence.lost as f64));
        // Where no lost link went differently, more of the same can only show that there is no difference that matters.
        if open.iter().all(|(table, _)| table[1] + table[2] == 0) {
            format!(
                "; none has ended differently so far, and {flights} like these would show that no difference in it matters"
            )
        } else {
            format!("; {flights} would settle that")
        }
    }

    /// What happens under the policies that the sentence does not give figures for, one denominator.
    fn others(&self) -> String {
        let parts: Vec<String> = self.choice.ranking[1..]
            .iter()
            .map(|&i| {
                format!(
                    "\"{}\": danger to people {}, craft lost or worse {}",
                    self.name(i),
                    bare_frequency(self.share(i, Concern::Danger)),
                    bare_frequency(self.share(i, Concern::CraftLost))
                )
            })
            .collect();
        if parts.is_empty() {
            String::new()
        } else {
            format!("The others, per 1,000 lost links: {}.", parts.join("; "))
        }
    }
}

/// What a craft does, without what stands in brackets: the guards and what follows when they fail.
fn without_guards(chain: &str) -> String {
    let mut depth = 0_usize;
    let mut text = String::new();
    for c in chain.chars() {
        match c {
            '(' => {
                depth += 1;
                text.truncate(text.trim_end().len());
            }
            ')' => depth = depth.saturating_sub(1),
            c if depth == 0 => text.push(c),
            _ => {}
        }
    }
    text
}

/// Policies named in a headline; of more the first ones, for a headline has to be taken in at a glance and the table has all.
const SHOWN: usize = 3;

/// Names in quotes: `"a" or "b"`, `"a", "b" and 3 others`.
fn few(names: &[&str], word: &str) -> String {
    let mut parts: Vec<String> = names.iter().take(SHOWN).map(|name| format!("\"{name}\"")).collect();
    if names.len() > SHOWN {
        parts.truncate(SHOWN - 1);
        parts.push(format!("{} others", names.len() - parts.len()));
    }
    match parts.split_last() {
        Some((last, most)) if !most.is_empty() => format!("{} {word} {last}", most.join(", ")),
        _ => parts.concat(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flight::Headline;
    use crate::risk::choice::choose;
    use crate::risk::choice::tests::{MATTERS, ends, shares, tables};
    use crate::risk::words::share;

    fn judged(names: &[&str], flights: u64, not_taken_off: u64, ends: &[Vec<Headline>]) -> Verdict {
        let rules = Rules { matters: MATTERS, confidence: 0.95 };
        let tables = tables(ends);
        let comparisons = Comparisons::of(ends.len(), &tables, &MATTERS, 0.95);
        let counted: Vec<[Share; 6]> = ends
            .iter()
            .map(|list| {
                let count = |on: Concern| list.iter().filter(|&&h| on.counts(h)).count() as u64;
                Concern::ALL.map(|on| share(count(on), list.len() as u64, 0.95))
            })
            .collect();
        let names: Vec<String> = names.iter().map(|name| name.to_string()).collect();
        let chains: Vec<String> = names.iter().map(|name| format!("do what {name} does (else land)")).collect();
        let evidence = Evidence {
            names: &names,
            chains: &chains,
            flights,
            not_taken_off,
            lost: ends[0].len() as u64,
            shares: &counted,
            tables: &tables,
            comparisons: &comparisons,
        };
        let verdict = verdict(&evidence, &rules, choose(&comparisons, &shares(ends)));
        let text = format!("{} {}", verdict.sentence, verdict.others);
        assert!(!text.to_lowercase().contains("safe"), "{text}");
        for bad in [" 0 %", "(0 %", " 0 of ", "\n0 ", "NaN", "inf", " 0.0 ", "  "] {
            assert!(!text.contains(bad), "{bad:?} in {text}");
        }
        verdict
    }

    use Headline::{AmongOthers, ClearElsewhere, Fell, HardAmongOthers};

    #[test]
    fn one_left_is_best_and_the_others_are_set_aside_with_reasons() {
        let got = judged(
            &["stop", "land", "home"],
            5_200,
            0,
            &[
                ends(5_000, 0, &[(HardAmongOthers, 600), (Fell, 3_400)]),
                ends(5_000, 0, &[(AmongOthers, 150), (Fell, 50), (ClearElsewhere, 4_000)]),
                ends(5_000, 0, &[(AmongOthers, 35), (Fell, 15)]),
            ],
        );
        assert_eq!((got.choice.left.as_slice(), got.choice.ranking.as_slice()), (&[2][..], &[2, 1, 0][..]));
        assert_eq!(got.decided_by, "danger to people");
        assert_eq!(
            got.sentence,
            "If the link is lost: do what home does (\"home\"). Under \"home\" 7 of 1,000 lost links (4.8 to 9.8) ended in \
             danger to people, none of them grave. The craft was lost, or worse, in 10 of 1,000 (7.4 to 14). Why not the \
             others, of 1,000 lost links and 95 % sure: \"stop\" brought grave danger to people in 120 more than \"home\" (109 \
             to 132); \"land\" endangered people in 23 more than \"home\" (18 to 29). A difference counts from 5 on grave \
             danger to people and from 5 on danger to people."
        );
        assert_eq!(
            got.others,
            "The others, per 1,000 lost links: \"land\": danger to people 30 (25 to 36), craft lost or worse 40 (34 to 46); \
             \"stop\": danger to people 120 (111 to 130), craft lost or worse 800 (788 to 812)."
        );
    }

    #[test]
    fn what_is_open_is_said_with_the_flights_that_would_settle_it() {
        let list = [ends(300, 3, &[(AmongOthers, 6)]), ends(300, 0, &[(AmongOthers, 5)])];
        let open = judged(&["a", "b"], 600, 0, &list);
        assert_eq!((open.decided_by.as_str(), open.choice.left.len()), ("none so far", 2));
        assert!(
            open.sentence.starts_with("If the link is lost: undecided between \"b\" and \"a\". On "),
            "{}",
            open.sentence
        );
        assert!(open.sentence.contains(" like these would show"), "{}", open.sentence);
        assert!(!open.sentence.contains("sure:"), "{}", open.sentence);
    }

    /// A headline names three policies at most.
    #[test]
    fn a_headline_names_few() {
        let alike = |k: usize| judged(&["a", "b", "c", "d", "e"][..k], 300, 0, &vec![ends(300, 0, &[]); k]).sentence;
        assert!(
            alike(3).starts_with("If the link is lost: undecided between \"a\", \"b\" and \"c\". On "),
            "{}",
            alike(3)
        );
        assert!(alike(5).starts_with("If the link is lost: undecided between all 5 policies. On "), "{}", alike(5));
        // Sixty lost craft each in other flights: more than a difference that counts as none, fewer than one that matters.
        let mut list: Vec<_> = (0..4).map(|k| ends(5_000, 100 * k, &[(Fell, 60)])).collect();
        list.push(ends(5_000, 0, &[(Fell, 4_900)]));
        let four = judged(&["a", "b", "c", "d", "e"], 5_000, 0, &list).sentence;
        assert!(four.starts_with("If the link is lost: undecided between \"a\", \"b\" and 2 others. On "), "{four}");
        let many = vec![ends(200_000, 0, &[]); 4];
        let any = judged(&["a", "b", "c", "d"], 200_000, 0, &many).sentence;
        assert!(any.starts_with("If the link is lost: \"a\", \"b\" or 2 others, any serves;"), "{any}");
    }

    /// No word of certainty on a difference that counts as none.
    #[test]
    fn equal_policies_are_called_equal() {
        let list = [ends(5_000, 0, &[(AmongOthers, 20)]), ends(5_000, 2, &[(AmongOthers, 20)])];
        let alike = judged(&["a", "b"], 5_000, 0, &list);
        assert!(
            alike
                .sentence
                .starts_with("If the link is lost: \"a\" or \"b\", either serves; no difference between them matters."),
            "{}",
            alike.sentence
        );
        assert!(!alike.sentence.contains("sure") && !alike.sentence.contains("Best"), "{}", alike.sentence);
    }

    #[test]
    fn odd_cases_have_words() {
        let none = judged(&["a", "b"], 4_000, 0, &[vec![], vec![]]);
        assert!(none.sentence.contains("never lost in 4,000 flights"));
        // Never off the ground: that is no flight without a loss.
        assert!(judged(&["a", "b"], 40, 40, &[vec![], vec![]]).sentence.starts_with("None of 40 flights took off"));
        // One policy, every lost link a danger.
        let only = judged(&["only"], 50, 0, &[ends(50, 0, &[(HardAmongOthers, 50)])]);
        assert!(
            only.sentence.starts_with(
                "Under \"only\" all of 50 lost links (more than 928 of 1,000) ended in danger to people, grave in all of 50"
            ),
            "{}",
            only.sentence
        );
        // All bad under one, none under the other.
        let apart = judged(&["a", "b"], 900, 0, &[ends(900, 0, &[(HardAmongOthers, 900)]), ends(900, 0, &[])]);
        assert_eq!((apart.choice.left.as_slice(), apart.decided_by.as_str()), (&[1][..], "grave danger to people"));
    }
}
