//! The one rule for the choice of a policy.

use super::compare::{Comparisons, Standing};
use super::outcome::Concern;
use serde::{Deserialize, Serialize};

/// Why a policy was set aside: another is better by what matters.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SetAside {
    /// The policy that is better.
    pub by: usize,
    /// The concern in which it is.
    pub on: Concern,
    /// Share of the one set aside less that of the better one: above 0.
    pub difference: f64,
    /// Lower end of its interval, beyond what matters.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The choice: which policies are left, and where the others were set aside.
///
/// A policy is set aside when another beats it: concern by concern, worst first, the other is shown to be no worse by what
/// matters, until it is better by what matters. That depends on these two alone: a third policy changes nothing but the width
/// of the intervals. Where no interval decides, both are left.
///
/// Differences that do not matter can add up, so that policies beat each other in a circle: then all of the circle are left,
/// unless something outside beats one of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Choice {
    /// Policies that are not set aside, the lead first.
    pub left: Vec<usize>,
    /// All policies: those left, then the others, each time the one that leads by the estimates.
    pub ranking: Vec<usize>,
    /// For each policy where it was set aside; `None`: it is left.
    pub set_aside: Vec<Option<SetAside>>,
}

/// Applies the rule. `shares` are the estimates per policy and concern; they order what is left and decide nothing.
pub fn choose(comparisons: &Comparisons, shares: &[[f64; Concern::ALL.len()]]) -> Choice {
    let k = comparisons.policies;
    let beats: Vec<Vec<Option<Concern>>> =
        (0..k).map(|j| (0..k).map(|i| (i != j).then(|| comparisons.beats(j, i)).flatten()).collect()).collect();
    // Who reaches whom over chains of beating.
    let mut reaches: Vec<Vec<bool>> = beats.iter().map(|row| row.iter().map(Option::is_some).collect()).collect();
    for over in 0..k {
        for i in 0..k {
            for j in 0..k {
                reaches[i][j] |= reaches[i][over] && reaches[over][j];
            }
        }
    }
    let (mut rest, mut left): (Vec<usize>, Vec<usize>) =
        (0..k).partition(|&i| (0..k).any(|j| reaches[j][i] && !reaches[i][j]));
    let mut ranking = Vec::with_capacity(k);
    let count = left.len();
    let matters = Concern::ALL.map(|on| comparisons.pairs.first().map_or(0.0, |pair| pair[on.index()].matters));
    for group in [&mut left, &mut rest] {
        while let Some(place) = lead(&matters, shares, group) {
            ranking.push(group.remove(place));
        }
    }
    let rank = |i: usize| ranking.iter().position(|&policy| policy == i).unwrap_or(k);
    let set_aside = |i: usize| {
        // Of those that beat it, first one outside its own circle, then the gravest concern, then one that is left, then the
        // greatest difference.
        let (by, on) = (0..k).filter_map(|by| Some((by, beats[by][i]?))).min_by(|a, b| {
            let key = |&(by, on): &(usize, Concern)| (reaches[i][by], on, rank(by) >= count);
            let more = |&(by, on): &(usize, Concern)| comparisons.at(on, i, by).difference;
            key(a).cmp(&key(b)).then(more(b).total_cmp(&more(a))).then(rank(a.0).cmp(&rank(b.0)))
        })?;
        let more = comparisons.at(on, i, by);
        Some(SetAside { by, on, difference: more.difference, low: more.low, high: more.high })
    };
    let set_aside = (0..k).map(|i| (rank(i) >= count).then(|| set_aside(i)).flatten()).collect();
    Choice { left: ranking[..count].to_vec(), ranking, set_aside }
}

/// Places in `group` of the policies that lead by the estimates: concern by concern those within what matters of the least stay in.
pub fn leading(
    matters: &[f64; Concern::ALL.len()],
    shares: &[[f64; Concern::ALL.len()]],
    group: &[usize],
) -> Vec<usize> {
    let mut places: Vec<usize> = (0..group.len()).collect();
    for on in Concern::ALL {
        let of = |place: usize| shares[group[place]][on.index()];
        let least = places.iter().map(|&place| of(place)).fold(f64::INFINITY, f64::min);
        places.retain(|&place| of(place).is_nan() || of(place) <= least + matters[on.index()]);
    }
    places
}

/// Place in `group` of the policy that leads: of those that do by the estimates the one most often at home, then the one with the
/// least of everything.
pub fn lead(
    matters: &[f64; Concern::ALL.len()],
    shares: &[[f64; Concern::ALL.len()]],
    group: &[usize],
) -> Option<usize> {
    let of = |place: usize, on: Concern| shares[group[place]][on.index()];
    let total = |place: usize| Concern::ALL.iter().map(|&on| of(place, on)).sum::<f64>();
    leading(matters, shares, group)
        .into_iter()
        .min_by(|&a, &b| of(a, Concern::Away).total_cmp(&of(b, Concern::Away)).then(total(a).total_cmp(&total(b))))
}

impl Choice {
    /// The concern that set the last of the others aside, the least grave; `None` when none was.
    pub fn decided_by(&self) -> Option<Concern> {
        self.set_aside.iter().flatten().map(|aside| aside.on).max()
    }

    /// The gravest concern in which two of those left are not shown to be equal; `None`: all are equal in all.
    pub fn open_on(&self, comparisons: &Comparisons) -> Option<Concern> {
        let apart = |on: Concern| {
            let pairs = self.left.iter().flat_map(|&i| self.left.iter().map(move |&j| (i, j))).filter(|(i, j)| i < j);
            pairs.into_iter().any(|(i, j)| comparisons.at(on, i, j).standing() != Standing::Equal)
        };
        Concern::ALL.into_iter().find(|&on| apart(on))
    }

    /// Whether those left beat each other in a circle.
    pub fn in_a_circle(&self, comparisons: &Comparisons) -> bool {
        self.left.iter().any(|&i| self.left.iter().any(|&j| i != j && comparisons.beats(i, j).is_some()))
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::flight::Headline;
    use crate::risk::compare::{PairTables, pairs_of};
    use crate::scenario::Matters;

    pub(crate) const MATTERS: Matters = Matters {
        grave_points: 0.5,
        danger_points: 0.5,
        trespass_points: 0.5,
        craft_lost_points: 0.5,
        at_risk_points: 0.5,
        away_points: 0.5,
    };

    /// Tables of all pairs of policies whose headlines are given, one per lost link.
    pub(crate) fn tables(ends: &[Vec<Headline>]) -> Vec<PairTables> {
        pairs_of(ends.len())
            .map(|(i, j)| {
                Concern::ALL.map(|on| {
                    let mut table = [0; 4];
                    for (&a, &b) in ends[i].iter().zip(&ends[j]) {
                        table[match (on.counts(a), on.counts(b)) {
                            (true, true) => 0,
                            (true, false) => 1,
                            (false, true) => 2,
                            (false, false) => 3,
                        }] += 1;
                    }
                    table
                })
            })
            .collect()
    }

    pub(crate) fn shares(ends: &[Vec<Headline>]) -> Vec<[f64; Concern::ALL.len()]> {
        let share =
            |list: &[Headline], on: Concern| list.iter().filter(|&&h| on.counts(h)).count() as f64 / list.len() as f64;
        ends.iter().map(|list| Concern::ALL.map(|on| share(list, on))).collect()
    }

    pub(crate) fn choice(ends: &[Vec<Headline>]) -> Choice {
        let comparisons = Comparisons::of(ends.len(), &tables(ends), &MATTERS, 0.95);
        choose(&comparisons, &shares(ends))
    }

    /// `n` endings: so many of each headline, each policy's beginning elsewhere, and the rest at home.
    pub(crate) fn ends(n: usize, from: usize, counts: &[(Headline, usize)]) -> Vec<Headline> {
        let mut list = vec![Headline::AtHome; n];
        let mut place = from;
        for &(headline, count) in counts {
            for _ in 0..count {
                list[place % n] = headline;
                place += 1;
            }
        }
        list
    }

    use Headline::{AmongOthers, ClearElsewhere, Fell, HardAmongOthers, Struck};

    #[test]
    fn the_gravest_concern_that_tells_them_apart_decides() {
        let calm = ends(5_000, 0, &[]);
        let far = ends(5_000, 0, &[(ClearElsewhere, 4_000)]);
        let fallen = ends(5_000, 0, &[(Fell, 4_000)]);
        let met = ends(5_000, 0, &[(AmongOthers, 200)]);
        let hurt = ends(5_000, 0, &[(HardAmongOthers, 200)]);
        let got = choice(&[hurt, met, fallen, far, calm]);
        assert_eq!((got.left.as_slice(), got.ranking.as_slice()), (&[4][..], &[4, 3, 2, 1, 0][..]));
        let on: Vec<Option<Concern>> = got.set_aside.iter().map(|aside| aside.map(|aside| aside.on)).collect();
        use Concern::{Away, CraftLost, Danger, Grave};
        assert_eq!(on, [Some(Grave), Some(Danger), Some(CraftLost), Some(Away), None]);
        assert!(got.set_aside.iter().flatten().all(|aside| aside.by == 4 && aside.low > 0.005));
        assert_eq!(got.decided_by(), Some(Away));
    }

    /// What is open in a graver concern is not decided by a lesser one.
    #[test]
    fn a_lesser_concern_waits_for_a_graver_one() {
        let (fallen, home) = (ends(300, 0, &[(Fell, 290)]), ends(300, 0, &[(HardAmongOthers, 4)]));
        let few = choice(&[fallen, home]);
        assert_eq!((few.left.as_slice(), few.decided_by()), (&[0, 1][..], None));
        // Equal in it, the craft decides.
        let (fallen, home) = (ends(5_000, 0, &[(Fell, 4_900)]), ends(5_000, 0, &[(HardAmongOthers, 2)]));
        assert_eq!(choice(&[fallen, home]).left, [1]);
    }

    #[test]
    fn a_policy_under_two_names_is_never_told_apart() {
        for n in [20, 300, 5_000] {
            let one = ends(n, 0, &[(HardAmongOthers, n / 9), (Struck, n / 3)]);
            let got = choice(&[one.clone(), ends(n, 3, &[(Fell, n / 2)]), one]);
            assert_eq!(got.left.contains(&0), got.left.contains(&2), "{n}: {got:?}");
            let of = |i: usize| got.set_aside[i].map(|aside| (aside.by, aside.on, aside.low, aside.high));
            assert_eq!(of(0), of(2), "{n}");
        }
    }

    /// Names never enter; the order of policies changes numbers, not statements.
    #[test]
    fn the_order_of_policies_changes_nothing() {
        let list = [
            ends(2_000, 0, &[(HardAmongOthers, 4), (Struck, 300)]),
            ends(2_000, 50, &[(HardAmongOthers, 90), (Fell, 100)]),
            ends(2_000, 500, &[(AmongOthers, 30), (ClearElsewhere, 1_500)]),
            ends(2_000, 900, &[(Struck, 310)]),
        ];
        let plain = choice(&list);
        for order in [[3, 2, 1, 0], [1, 3, 0, 2], [2, 0, 3, 1]] {
            let turned = choice(&order.map(|i: usize| list[i].clone()));
            let back = |places: &[usize]| places.iter().map(|&place| order[place]).collect::<Vec<_>>();
            assert_eq!(
                (back(&turned.left), back(&turned.ranking)),
                (plain.left.clone(), plain.ranking.clone()),
                "{order:?}"
            );
            for (place, aside) in turned.set_aside.iter().enumerate() {
                let told = |aside: &SetAside, by: usize| (by, aside.on, aside.low.to_bits(), aside.high.to_bits());
                let there = plain.set_aside[order[place]].as_ref().map(|aside| told(aside, aside.by));
                assert_eq!(aside.as_ref().map(|aside| told(aside, order[aside.by])), there, "{order:?}");
            }
        }
    }

    /// What two policies are to each other hangs on a third by the width of the intervals alone.
    #[test]
    fn a_third_policy_changes_no_statement_about_two() {
        let pair = [ends(3_000, 0, &[(Struck, 300)]), ends(3_000, 40, &[(HardAmongOthers, 9), (Struck, 60)])];
        let level = crate::stats::paired::bonferroni_level(3, 0.95);
        let alone = Comparisons::of(2, &tables(&pair), &MATTERS, level);
        for third in
            [ends(3_000, 0, &[]), ends(3_000, 7, &[(HardAmongOthers, 2_000)]), ends(3_000, 2_900, &[(Struck, 300)])]
        {
            let three = [pair[0].clone(), pair[1].clone(), third];
            let three = Comparisons::of(3, &tables(&three), &MATTERS, 0.95);
            assert_eq!(three.pairs[0], alone.pairs[0]);
            assert_eq!((three.beats(0, 1), three.beats(1, 0)), (alone.beats(0, 1), alone.beats(1, 0)));
        }
    }

    /// Differences within what matters that add up beyond it leave a circle, and no policy is lost from sight.
    #[test]
    fn a_circle_is_left_as_a_whole() {
        let n = 200_000;
        // Grave: 0.8, 0.4 and 0 of 100; craft lost the other way round, a point and more apart.
        let a = ends(n, 0, &[(HardAmongOthers, 1_600)]);
        let b = ends(n, 0, &[(HardAmongOthers, 800), (Fell, 4_000)]);
        let c = ends(n, 0, &[(Fell, 9_000)]);
        let list = [a, b, c];
        let comparisons = Comparisons::of(3, &tables(&list), &MATTERS, 0.95);
        assert_eq!(
            (comparisons.beats(0, 1), comparisons.beats(1, 2)),
            (Some(Concern::CraftLost), Some(Concern::CraftLost))
        );
        assert_eq!(comparisons.beats(2, 0), Some(Concern::Grave));
        let got = choose(&comparisons, &shares(&list));
        assert_eq!(got.left.len(), 3);
        assert!(got.in_a_circle(&comparisons) && got.set_aside.iter().all(Option::is_none));
    }
}
