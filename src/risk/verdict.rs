//! From paired tables to words: which policy, how sure, what happens to the others.

use super::summary::{Compared, Pair, Share, Verdict, Word};
use super::words::{self, bare_frequency, confidence_words, frequency, grouped, named, points_of_thousand, round_up};
use crate::stats::paired::{bonferroni_level, holm, mcnemar_exact, standard_errors, tango_real};
use crate::stats::two_sided_z;

/// Rules set before the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// Smallest difference that matters, as a share.
    pub matters: f64,
    /// Two-sided confidence, for all pairs together.
    pub confidence: f64,
}

/// Everything the verdict is drawn from. Tables are [both, only first, only second, neither] over lost links,
/// one per pair (0, 1), (0, 2), …, (1, 2), ….
#[derive(Debug, Clone)]
pub struct Evidence {
    /// Names of the policies.
    pub names: Vec<String>,
    /// Flights flown.
    pub flights: u64,
    /// Of them those that never took off.
    pub not_taken_off: u64,
    /// Lost links among them.
    pub lost: u64,
    /// Danger to others, per policy.
    pub danger: Vec<Share>,
    /// Danger or craft lost, per policy.
    pub craft_lost: Vec<Share>,
    /// Landed at home or pilot back, per policy.
    pub home: Vec<Share>,
    /// Paired tables of danger.
    pub danger_tables: Vec<[u64; 4]>,
    /// Paired tables of craft lost or worse.
    pub craft_tables: Vec<[u64; 4]>,
    /// Paired tables of *not* home.
    pub away_tables: Vec<[u64; 4]>,
}

/// All pairs of `k` in the order of the tables.
pub fn pairs_of(k: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..k).flat_map(move |i| (i + 1..k).map(move |j| (i, j)))
}

/// One comparison of two policies on the same lost links.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// Share(first) − share(second).
    pub difference: f64,
    /// Tango interval at the level given.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// The word.
    pub word: Word,
    /// The interval excludes 0, the estimate is under what matters.
    pub size_unclear: bool,
    /// Lost links that would settle it, when it cannot be told.
    pub lost_needed: Option<f64>,
    /// Unpaired over paired variance; NaN when no lost link went differently.
    pub pairing_gain: f64,
}

/// Compares by Tango's interval at `level`: wholly within ± `matters`, no difference that matters; else 0 outside,
/// better or worse; else it cannot be told yet.
pub fn compare(table: [u64; 4], level: f64, matters: f64) -> Comparison {
    let [_, b, c, _] = table.map(|count| count as f64);
    let n: u64 = table.iter().sum();
    let z = two_sided_z(level);
    if n == 0 {
        return Comparison {
            difference: f64::NAN,
            low: -1.0,
            high: 1.0,
            word: Word::CannotTellYet,
            size_unclear: false,
            lost_needed: None,
            pairing_gain: f64::NAN,
        };
    }
    let settled = |low: f64, high: f64| {
        if -matters < low && high < matters {
            Word::NoDifferenceThatMatters
        } else if high < 0.0 {
            Word::Better
        } else if low > 0.0 {
            Word::Worse
        } else {
            Word::CannotTellYet
        }
    };
    let difference = (b - c) / n as f64;
    let ends = tango_real(b, c, n as f64, z);
    let word = settled(ends.low, ends.high);
    // How many would settle it if the shares seen were the true ones: doubling, then bisection.
    let lost_needed = (word == Word::CannotTellYet)
        .then(|| {
            let at = |m: f64| {
                let ends = tango_real(b * m / n as f64, c * m / n as f64, m, z);
                settled(ends.low, ends.high) != Word::CannotTellYet
            };
            let mut high = n as f64;
            while !at(high) && high < 1e12 {
                high *= 2.0;
            }
            let mut low = 0.5 * high;
            for _ in 0..30 {
                let middle = 0.5 * (low + high);
                if at(middle) { high = middle } else { low = middle }
            }
            (high < 1e12).then_some(high)
        })
        .flatten();
    let pairing_gain = match standard_errors(table) {
        Ok((paired, apart)) if paired > 0.0 => (apart / paired) * (apart / paired),
        _ => f64::NAN,
    };
    Comparison {
        difference,
        low: ends.low,
        high: ends.high,
        word,
        size_unclear: matches!(word, Word::Better | Word::Worse) && difference.abs() < matters,
        lost_needed,
        pairing_gain,
    }
}

/// One concern, its words and what is known about it.
struct Concern<'a> {
    name: &'static str,
    shares: &'a [Share],
    /// Whether more is better.
    more_is_better: bool,
    comparisons: Vec<Comparison>,
}

impl Concern<'_> {
    /// Word of `i` against `j` for any two different policies.
    fn word(&self, k: usize, i: usize, j: usize) -> Word {
        let (a, b) = (i.min(j), i.max(j));
        let index = a * k - a * (a + 1) / 2 + b - a - 1;
        match (self.comparisons[index].word, i < j) {
            (Word::Better, false) => Word::Worse,
            (Word::Worse, false) => Word::Better,
            (word, _) => word,
        }
    }

    /// Estimate with less the better.
    fn badness(&self, i: usize) -> f64 {
        let x = self.shares[i].estimate();
        if self.more_is_better { -x } else { x }
    }

    /// Those of `set` that no other of `set` beats.
    fn unbeaten(&self, k: usize, set: &[usize]) -> Vec<usize> {
        set.iter().copied().filter(|&i| !set.iter().any(|&j| j != i && self.word(k, j, i) == Word::Better)).collect()
    }

    /// Whether all pairs of `set` have this word.
    fn all(&self, k: usize, set: &[usize], word: Word) -> bool {
        set.iter().all(|&i| set.iter().all(|&j| i == j || self.word(k, i, j) == word))
    }
}

/// All pairs: danger to others with its tests, then craft lost or worse as exploration, and the verdict.
pub fn judge(evidence: &Evidence, rules: &Rules) -> (Vec<Pair>, Verdict) {
    let k = evidence.names.len();
    let level = bonferroni_level(k, rules.confidence);
    let compared = |tables: &[[u64; 4]]| -> Vec<Comparison> {
        tables.iter().map(|&table| compare(table, level, rules.matters)).collect()
    };
    let concerns = [
        Concern {
            name: "danger",
            shares: &evidence.danger,
            more_is_better: false,
            comparisons: compared(&evidence.danger_tables),
        },
        Concern {
            name: "craft lost",
            shares: &evidence.craft_lost,
            more_is_better: false,
            comparisons: compared(&evidence.craft_tables),
        },
        Concern {
            name: "home",
            shares: &evidence.home,
            more_is_better: true,
            comparisons: compared(&evidence.away_tables),
        },
    ];
    (pairs(evidence, &concerns), verdict(evidence, rules, &concerns))
}

fn pairs(evidence: &Evidence, concerns: &[Concern; 3]) -> Vec<Pair> {
    let k = evidence.names.len();
    let p_values: Vec<f64> = evidence.danger_tables.iter().map(|t| mcnemar_exact(t[1], t[2])).collect();
    let adjusted = holm(&p_values);
    let per_lost = evidence.flights as f64 / evidence.lost.max(1) as f64;
    let mut list = Vec::with_capacity(2 * p_values.len());
    for (about, concern, tables) in [
        (Compared::Danger, &concerns[0], &evidence.danger_tables),
        (Compared::CraftLostOrWorse, &concerns[1], &evidence.craft_tables),
    ] {
        for (index, (first, second)) in pairs_of(k).enumerate() {
            let c = concern.comparisons[index];
            list.push(Pair {
                first,
                second,
                about,
                table: tables[index],
                difference: c.difference,
                low: c.low,
                high: c.high,
                p_adjusted: (about == Compared::Danger).then(|| adjusted[index]),
                word: c.word,
                size_unclear: c.size_unclear,
                flights_needed: c.lost_needed.map(|lost| round_up(lost * per_lost)),
                pairing_gain: c.pairing_gain,
            });
        }
    }
    list
}

/// The survivors of one pass through the concerns, and the concern that narrowed them last.
fn survivors(concerns: &[Concern; 3], k: usize, set: &[usize]) -> (Vec<usize>, Option<usize>) {
    let mut left = set.to_vec();
    let mut decided = None;
    for (index, concern) in concerns.iter().enumerate() {
        let next = concern.unbeaten(k, &left);
        if next.len() < left.len() {
            decided = Some(index);
            left = next;
        }
        if left.len() == 1 {
            break;
        }
    }
    // Best estimate first, by the first concern in which they are not known to be alike.
    let telling: Vec<&Concern> = concerns.iter().filter(|c| !c.all(k, &left, Word::NoDifferenceThatMatters)).collect();
    left.sort_by(|&i, &j| {
        let by = |list: &[&Concern]| list.iter().map(|c| c.badness(i).total_cmp(&c.badness(j))).find(|o| o.is_ne());
        by(&telling)
            .or_else(|| by(&concerns.iter().collect::<Vec<_>>()))
            .unwrap_or(std::cmp::Ordering::Equal)
            .then(i.cmp(&j))
    });
    (left, decided)
}

fn verdict(evidence: &Evidence, rules: &Rules, concerns: &[Concern; 3]) -> Verdict {
    let k = evidence.names.len();
    let all: Vec<usize> = (0..k).collect();
    if evidence.lost == 0 || k == 0 {
        return Verdict {
            best: all.clone(),
            ranking: all,
            sentence: nothing_lost(evidence, rules),
            others: String::new(),
            decided_by: "nothing could be told".into(),
        };
    }
    let (best, decided) = survivors(concerns, k, &all);
    let mut ranking = best.clone();
    while ranking.len() < k {
        let rest: Vec<usize> = all.iter().copied().filter(|i| !ranking.contains(i)).collect();
        ranking.extend(survivors(concerns, k, &rest).0);
    }
    let decided_by = decided.map_or("nothing could be told", |index| concerns[index].name);
    Verdict {
        sentence: sentence(evidence, rules, concerns, &best, decided),
        others: others(evidence, &best, &ranking),
        best,
        ranking,
        decided_by: decided_by.into(),
    }
}

/// What is said when no link was lost: of flights that flew.
fn nothing_lost(evidence: &Evidence, rules: &Rules) -> String {
    let flown = evidence.flights - evidence.not_taken_off.min(evidence.flights);
    if flown == 0 {
        return format!("None of {} flights took off, so there is nothing to compare.", grouped(evidence.flights));
    }
    format!(
        "The link was never lost in {} flights, so there is nothing to compare: {}.",
        grouped(flown),
        words::none_seen(flown, rules.confidence)
    )
}

/// Danger of one policy as a clause.
fn danger_clause(evidence: &Evidence, rules: &Rules, i: usize) -> String {
    let share = &evidence.danger[i];
    if share.events == 0 {
        format!("no lost link ended as a danger to others ({})", words::none_seen(share.of, rules.confidence))
    } else {
        format!("{} ended as a danger to others", words::frequency_among(share, "lost links"))
    }
}

/// How the danger of the best relates to that of those it did not beat there.
fn danger_relation(evidence: &Evidence, rules: &Rules, danger: &Concern, top: usize, set: &[usize]) -> String {
    let k = evidence.names.len();
    let rest: Vec<&str> = set.iter().filter(|&&i| i != top).map(|&i| evidence.names[i].as_str()).collect();
    if danger.all(k, set, Word::NoDifferenceThatMatters) {
        format!(
            "On danger there is no difference that matters between it and {} (less than {})",
            named(&rest),
            points_of_thousand(100.0 * rules.matters)
        )
    } else {
        format!("On danger {} lost links cannot yet separate it from {}", grouped(evidence.lost), named(&rest))
    }
}

/// What the craft pays for it: craft lost or worse under the policy named, and whom it does worse than.
fn price(evidence: &Evidence, craft: &Concern, i: usize) -> String {
    let k = evidence.names.len();
    let cheaper: Vec<&str> =
        (0..k).filter(|&j| j != i && craft.word(k, i, j) == Word::Worse).map(|j| evidence.names[j].as_str()).collect();
    let lost = frequency(&evidence.craft_lost[i]);
    if cheaper.is_empty() {
        format!("Craft lost or worse: {lost}.")
    } else {
        format!("The price is the craft: lost or worse in {lost}, more than under {}.", named(&cheaper))
    }
}

fn sentence(
    evidence: &Evidence,
    rules: &Rules,
    concerns: &[Concern; 3],
    best: &[usize],
    decided: Option<usize>,
) -> String {
    let k = evidence.names.len();
    let name = |i: usize| evidence.names[i].as_str();
    let sure = confidence_words(rules.confidence);
    let all: Vec<usize> = (0..k).collect();
    let (danger, craft) = (&concerns[0], &concerns[1]);
    if k == 1 {
        return format!("Under \"{}\" {}.", name(0), danger_clause(evidence, rules, 0));
    }
    let top = best[0];
    let after_danger = danger.unbeaten(k, &all);
    if best.len() == 1 {
        // Known at the concern that left it alone.
        return match decided {
            Some(0) => {
                let beaten_by_all = all.iter().all(|&j| j == top || danger.word(k, top, j) == Word::Better);
                let how = if beaten_by_all {
                    let than = if k == 2 {
                        format!("than under \"{}\"", name(1 - top))
                    } else {
                        "than under each other policy".into()
                    };
                    format!("fewer {than} in the same {} lost links ({sure} sure)", grouped(evidence.lost))
                } else {
                    format!("and each other policy has more than this one or than one placed before it ({sure} sure)")
                };
                format!(
                    "Best is \"{}\": {}, {how}. {}",
                    name(top),
                    danger_clause(evidence, rules, top),
                    price(evidence, craft, top)
                )
            }
            stage => {
                let relation = danger_relation(evidence, rules, danger, top, &after_danger);
                let decides = if stage == Some(2) {
                    format!(
                        "coming home decides: {}, the most often of them ({sure} sure). {}",
                        frequency(&evidence.home[top]),
                        price(evidence, craft, top)
                    )
                } else {
                    format!(
                        "the craft decides, lost or worse the least often of them ({sure} sure): {}.",
                        frequency(&evidence.craft_lost[top])
                    )
                };
                format!("Best is \"{}\": {}. {relation}; {decides}", name(top), danger_clause(evidence, rules, top))
            }
        };
    }
    let names: Vec<&str> = best.iter().map(|&i| name(i)).collect();
    let open: Vec<(&[u64; 4], f64)> = pairs_of(k)
        .enumerate()
        .filter(|(_, (i, j))| best.contains(i) && best.contains(j))
        .filter_map(|(index, _)| Some((&evidence.danger_tables[index], danger.comparisons[index].lost_needed?)))
        .collect();
    let needed = open.iter().map(|one| one.1).fold(0.0, f64::max);
    let more = if needed > 0.0 {
        let flights = words::flights(round_up(needed * evidence.flights as f64 / evidence.lost as f64));
        // Where no flight went differently, more of the same can only show that there is no difference that matters.
        if open.iter().all(|(table, _)| table[1] + table[2] == 0) {
            format!(
                "; no lost link has gone differently so far, and {flights} like these would show that no difference matters"
            )
        } else {
            format!("; {flights} would settle it")
        }
    } else {
        String::new()
    };
    let alike = concerns.iter().all(|c| c.all(k, best, Word::NoDifferenceThatMatters));
    let small = points_of_thousand(100.0 * rules.matters);
    let first = if alike {
        format!("No difference that matters between {}: in danger to others less than {small}", named(&names))
    } else if needed > 0.0 {
        format!(
            "Cannot tell yet between {}: on danger to others {} lost links cannot separate them",
            named(&names),
            grouped(evidence.lost)
        )
    } else {
        format!(
            "Cannot tell yet between {}: in danger to others they differ by less than {small}, and neither craft lost nor \
             coming home separates them",
            named(&names)
        )
    };
    let rest = if best.len() < k {
        let all = if best.len() == 2 { "Both rank" } else { "All of these rank" };
        format!(". {all} before the other{}", if k - best.len() == 1 { "" } else { "s" })
    } else {
        String::new()
    };
    format!(
        "{first}{more}{rest}. Under \"{}\" {}. {}",
        name(top),
        danger_clause(evidence, rules, top),
        price(evidence, craft, top)
    )
}

/// What happens under the policies that the sentence does not give figures for, one denominator.
fn others(evidence: &Evidence, best: &[usize], ranking: &[usize]) -> String {
    let lead = best.first().copied();
    let parts: Vec<String> = ranking
        .iter()
        .filter(|&&i| Some(i) != lead)
        .map(|&i| {
            format!(
                "\"{}\": danger to others {}, craft lost or worse {}",
                evidence.names[i],
                bare_frequency(&evidence.danger[i]),
                bare_frequency(&evidence.craft_lost[i])
            )
        })
        .collect();
    if parts.is_empty() { String::new() } else { format!("The others, per 1,000 lost links: {}.", parts.join("; ")) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::risk::words::share;

    const RULES: Rules = Rules { matters: 0.005, confidence: 0.95 };

    /// Evidence of policies given as lists of (danger, lost craft or worse, home), one entry per lost link.
    fn evidence(names: &[&str], flights: u64, ends: &[Vec<(bool, bool, bool)>]) -> Evidence {
        let lost = ends[0].len() as u64;
        let shares = |f: fn(&(bool, bool, bool)) -> bool| -> Vec<Share> {
            ends.iter().map(|list| share(list.iter().filter(|e| f(e)).count() as u64, lost, 0.95)).collect()
        };
        let tables = |f: fn(&(bool, bool, bool)) -> bool| -> Vec<[u64; 4]> {
            pairs_of(ends.len())
                .map(|(i, j)| {
                    let mut table = [0; 4];
                    for (a, b) in ends[i].iter().zip(&ends[j]) {
                        table[match (f(a), f(b)) {
                            (true, true) => 0,
                            (true, false) => 1,
                            (false, true) => 2,
                            (false, false) => 3,
                        }] += 1;
                    }
                    table
                })
                .collect()
        };
        Evidence {
            names: names.iter().map(|n| n.to_string()).collect(),
            not_taken_off: 0,
            flights,
            lost,
            danger: shares(|e| e.0),
            craft_lost: shares(|e| e.1),
            home: shares(|e| e.2),
            danger_tables: tables(|e| e.0),
            craft_tables: tables(|e| e.1),
            away_tables: tables(|e| !e.2),
        }
    }

    /// `n` lost links of which the first `danger` are a danger, the first `craft` lose the craft or worse, the rest
    /// but `elsewhere` come home.
    fn ends(n: usize, danger: usize, craft: usize, elsewhere: usize) -> Vec<(bool, bool, bool)> {
        (0..n).map(|i| (i < danger, i < craft.max(danger), i >= craft.max(danger) + elsewhere)).collect()
    }

    fn never_zero_nor_forbidden(text: &str) {
        assert!(!text.to_lowercase().contains("safe"), "{text}");
        for bad in [" 0 %", "(0 %", " 0 of ", "\n0 ", "NaN", "inf", " 0.0 "] {
            assert!(!text.contains(bad), "{bad:?} in {text}");
        }
    }

    #[test]
    fn three_words() {
        // Wholly inside ± half a point.
        let same = compare([10, 1, 2, 9_987], 0.95, 0.005);
        assert_eq!((same.word, same.lost_needed), (Word::NoDifferenceThatMatters, None));
        let better = compare([10, 20, 120, 4_850], 0.95, 0.005);
        assert_eq!((better.word, better.size_unclear), (Word::Better, false));
        assert_eq!(compare([10, 120, 20, 4_850], 0.95, 0.005).word, Word::Worse);
        // 0.45 points with an interval of about ± 0.26: above 0, beyond half a point.
        let unclear = compare([10, 33, 10, 4_947], 0.95, 0.005);
        assert_eq!((unclear.word, unclear.size_unclear), (Word::Worse, true));
        let open = compare([10, 60, 50, 1_880], 0.95, 0.005);
        assert_eq!(open.word, Word::CannotTellYet);
        // The number asked for settles it, if the shares stay: and one tenth fewer does not.
        let needed = open.lost_needed.unwrap();
        let at = |m: f64| {
            let f = m / 2_000.0;
            compare([10.0 * f, 60.0 * f, 50.0 * f, 1_880.0 * f].map(|x: f64| x.round() as u64), 0.95, 0.005).word
        };
        assert_ne!(at(1.02 * needed), Word::CannotTellYet);
        assert_eq!(at(0.9 * needed), Word::CannotTellYet);
        // No discordant flight yet, and too few to tell.
        let few = compare([0, 0, 0, 30], 0.95, 0.005);
        assert_eq!(few.word, Word::CannotTellYet);
        assert!((few.lost_needed.unwrap() / (3.841_459 * 0.995 / 0.005) - 1.0).abs() < 1e-3);
    }

    /// 2,000 flights, 71 against 52 events, 31 and 12 discordant: 2.8 times (closed form).
    #[test]
    fn pairing_gain_of_the_worked_table() {
        let c = compare([40, 31, 12, 1_917], 0.95, 0.005);
        assert!((c.pairing_gain - (0.005_457_277_f64 / 0.003_271_831).powi(2)).abs() < 1e-4);
    }

    #[test]
    fn danger_decides_first_and_holm_adjusts() {
        let e = evidence(
            &["stop", "land", "home"],
            5_200,
            &[ends(5_000, 600, 4_000, 0), ends(5_000, 150, 200, 4_000), ends(5_000, 35, 900, 0)],
        );
        let (pairs, verdict) = judge(&e, &RULES);
        assert_eq!((verdict.best.as_slice(), verdict.ranking.as_slice()), (&[2][..], &[2, 1, 0][..]));
        assert_eq!(verdict.decided_by, "danger");
        assert_eq!(
            verdict.sentence,
            "Best is \"home\": 7 of 1,000 lost links (4.9 to 9.7) ended as a danger to others, fewer than under each \
             other policy in the same 5,000 lost links (95 % sure). The price is the craft: lost or worse in 180 of 1,000 \
             (169 to 191), more than under \"land\"."
        );
        assert_eq!(
            verdict.others,
            "The others, per 1,000 lost links: \"land\": danger to others 30 (25 to 35), craft lost or worse 40 (35 to 46); \
             \"stop\": danger to others 120 (111 to 129), craft lost or worse 800 (789 to 811)."
        );
        assert_eq!(pairs.len(), 6);
        let danger: Vec<&Pair> = pairs.iter().filter(|p| p.about == Compared::Danger).collect();
        let raw = [0, 1, 2].map(|i| mcnemar_exact(e.danger_tables[i][1], e.danger_tables[i][2]));
        let adjusted = holm(&raw);
        for (pair, p) in danger.iter().zip(adjusted) {
            assert_eq!(pair.p_adjusted, Some(p));
        }
        assert!(pairs.iter().filter(|p| p.about != Compared::Danger).all(|p| p.p_adjusted.is_none()));
        never_zero_nor_forbidden(&verdict.sentence);
    }

    #[test]
    fn craft_then_home_decide_when_danger_does_not() {
        let names = ["stop", "land"];
        let e = evidence(&names, 5_000, &[ends(5_000, 3, 4_000, 0), ends(5_000, 3, 200, 4_000)]);
        let verdict = judge(&e, &RULES).1;
        assert_eq!((verdict.best[0], verdict.decided_by.as_str()), (1, "craft lost"));
        assert_eq!(
            verdict.sentence,
            "Best is \"land\": 0.6 of 1,000 lost links (0.12 to 1.8) ended as a danger to others. On danger there is no \
             difference that matters between it and \"stop\" (less than 5 of 1,000); the craft decides, lost or \
             worse the least often of them (95 % sure): 40 of 1,000 (35 to 46)."
        );
        let e = evidence(&names, 5_000, &[ends(5_000, 0, 50, 4_000), ends(5_000, 0, 50, 100)]);
        let verdict = judge(&e, &RULES).1;
        assert_eq!((verdict.best[0], verdict.decided_by.as_str()), (1, "home"));
        assert!(verdict.sentence.contains("none in 5,000; we can be 95 % sure it is under 0.74 of 1,000"));
        never_zero_nor_forbidden(&(verdict.sentence + &verdict.others));
    }

    #[test]
    fn nothing_told_is_said_with_the_flights_that_would() {
        let mut a = ends(300, 6, 30, 20);
        let b = ends(300, 5, 30, 20);
        a.rotate_left(3);
        let verdict = judge(&evidence(&["a", "b"], 600, &[a, b]), &RULES).1;
        assert_eq!(verdict.decided_by, "nothing could be told");
        assert_eq!(verdict.best, [1, 0]);
        assert!(verdict.sentence.starts_with("Cannot tell yet between \"b\" and \"a\": on danger to others 300 lost"));
        assert!(verdict.sentence.contains(" flights would settle it"), "{}", verdict.sentence);
        let alike = judge(&evidence(&["a", "b"], 5_000, &[ends(5_000, 20, 90, 9), ends(5_000, 20, 90, 9)]), &RULES).1;
        assert!(alike.sentence.starts_with("No difference that matters between"), "{}", alike.sentence);
        assert_eq!(alike.decided_by, "nothing could be told");
    }

    #[test]
    fn odd_cases_have_words() {
        // Never lost.
        let none = Evidence { flights: 4_000, ..evidence(&["a", "b"], 4_000, &[vec![], vec![]]) };
        let verdict = judge(&none, &RULES).1;
        assert!(verdict.sentence.contains("never lost in 4,000 flights"));
        never_zero_nor_forbidden(&verdict.sentence);
        // Never off the ground: that is no flight without a loss.
        let grounded = Evidence { not_taken_off: 40, ..evidence(&["a", "b"], 40, &[vec![], vec![]]) };
        assert!(judge(&grounded, &RULES).1.sentence.starts_with("None of 40 flights took off"));
        // One policy, every lost link a danger.
        let verdict = judge(&evidence(&["only"], 50, &[ends(50, 50, 50, 0)]), &RULES).1;
        assert_eq!(
            verdict.sentence,
            "Under \"only\" all of 50 lost links (over 929 of 1,000) ended as a danger to others."
        );
        // All bad under one, none under the other.
        let e = evidence(&["a", "b"], 900, &[ends(900, 900, 900, 0), ends(900, 0, 0, 0)]);
        let (pairs, verdict) = judge(&e, &RULES);
        assert_eq!(verdict.best, [1]);
        assert!(pairs[0].low > 0.9 && pairs[0].high == 1.0);
        never_zero_nor_forbidden(&(verdict.sentence + &verdict.others));
    }
}
