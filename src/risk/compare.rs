//! Two policies on the same lost links, concern by concern.

use super::outcome::Concern;
use crate::scenario::Matters;
use crate::stats::paired::{StandardErrors, bonferroni_level, standard_errors, tango_real};
use crate::stats::two_sided_z;
use serde::{Deserialize, Serialize};

/// All pairs of `k` in the order of the tables: (0, 1), (0, 2), …, (1, 2), ….
pub fn pairs_of(k: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..k).flat_map(move |i| (i + 1..k).map(move |j| (i, j)))
}

/// Events under both, only the first, only the second, neither, for each concern in its order.
pub type PairTables = [[u64; 4]; Concern::ALL.len()];

/// How the first of two policies stands against the second in one concern. Where the interval of the difference lies decides, not
/// the estimate: so more flights sharpen a standing and never turn one into its opposite by rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Better by what matters: the whole interval lies beyond it.
    Better,
    /// Worse by what matters.
    Worse,
    /// Equal for practical purposes: the whole interval lies within ± what matters.
    Equal,
    /// Neither is shown.
    Open,
}

/// One comparison: share of the first less that of the second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// Estimate; NaN without a lost link.
    pub difference: f64,
    /// Lower end of its interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Smallest difference that matters.
    pub matters: f64,
}

impl Comparison {
    /// By Tango's interval at `level`.
    pub fn of(table: [u64; 4], level: f64, matters: f64) -> Comparison {
        let [_, b, c, _] = table.map(|count| count as f64);
        let n = table.iter().sum::<u64>() as f64;
        if n == 0.0 {
            return Comparison { difference: f64::NAN, low: -1.0, high: 1.0, matters };
        }
        let ends = tango_real(b, c, n, two_sided_z(level));
        Comparison { difference: (b - c) / n, low: ends.low, high: ends.high, matters }
    }

    /// The same, second against first.
    pub fn turned(self) -> Comparison {
        Comparison { difference: -self.difference, low: -self.high, high: -self.low, ..self }
    }

    /// How the first stands.
    pub fn standing(&self) -> Standing {
        if self.high < -self.matters {
            Standing::Better
        } else if self.low > self.matters {
            Standing::Worse
        } else if -self.matters < self.low && self.high < self.matters {
            Standing::Equal
        } else {
            Standing::Open
        }
    }

    /// Shown not to be worse by what matters.
    pub fn is_no_worse(&self) -> bool {
        self.high < self.matters
    }

    /// The interval excludes 0: they do differ, by however little.
    pub fn is_apart(&self) -> bool {
        self.low > 0.0 || self.high < 0.0
    }
}

/// Lost links that would settle an open comparison, if the shares seen were the true ones; `None` when it is settled, or when
/// none would do.
pub fn lost_needed(table: [u64; 4], level: f64, matters: f64) -> Option<f64> {
    let [_, b, c, _] = table.map(|count| count as f64);
    let n = table.iter().sum::<u64>() as f64;
    let z = two_sided_z(level);
    let settled = |m: f64| {
        let ends = tango_real(b * m / n, c * m / n, m, z);
        let comparison = Comparison { difference: (b - c) / n, low: ends.low, high: ends.high, matters };
        comparison.standing() != Standing::Open
    };
    if n == 0.0 || settled(n) {
        return None;
    }
    // Doubling, then bisection.
    let mut high = n;
    while !settled(high) && high < 1e12 {
        high *= 2.0;
    }
    let mut low = 0.5 * high;
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        if settled(middle) { high = middle } else { low = middle }
    }
    (high < 1e12).then_some(high)
}

/// Unpaired over paired variance: how many times more flights unpaired runs would need; NaN when no lost link went differently.
pub fn pairing_gain(table: [u64; 4]) -> f64 {
    match standard_errors(table) {
        Ok(StandardErrors { paired, apart }) if paired > 0.0 => (apart / paired) * (apart / paired),
        _ => f64::NAN,
    }
}

/// All comparisons of a run: of every pair, in every concern.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparisons {
    /// Number of policies.
    pub policies: usize,
    /// Two-sided confidence of each interval: those of one concern hold together over all pairs (Bonferroni).
    pub level: f64,
    /// Per pair in the order of [`pairs_of`], per concern.
    pub pairs: Vec<[Comparison; Concern::ALL.len()]>,
}

impl Comparisons {
    /// From the tables of all pairs.
    pub fn of(policies: usize, tables: &[PairTables], matters: &Matters, confidence: f64) -> Comparisons {
        let level = bonferroni_level(policies, confidence);
        let compare =
            |tables: &PairTables| Concern::ALL.map(|on| Comparison::of(tables[on.index()], level, on.matters(matters)));
        Comparisons { policies, level, pairs: tables.iter().map(compare).collect() }
    }

    /// The mean over several runs of the same policies by their weights. The ends are the means of the ends: as wide as it can
    /// be, since the runs share their luck.
    pub fn mean(runs: &[(&Comparisons, f64)]) -> Comparisons {
        let total: f64 = runs.iter().map(|run| run.1).sum();
        let mut mean = runs[0].0.clone();
        for (number, pair) in mean.pairs.iter_mut().enumerate() {
            for (on, comparison) in pair.iter_mut().enumerate() {
                let over = |what: fn(&Comparison) -> f64| {
                    runs.iter().map(|(run, weight)| weight / total * what(&run.pairs[number][on])).sum::<f64>()
                };
                (comparison.difference, comparison.low, comparison.high) =
                    (over(|c| c.difference), over(|c| c.low), over(|c| c.high));
            }
        }
        mean
    }

    /// `first` against `second`, two different policies.
    pub fn at(&self, on: Concern, first: usize, second: usize) -> Comparison {
        let (i, j) = (first.min(second), first.max(second));
        let pair = i * self.policies - i * (i + 1) / 2 + j - i - 1;
        let comparison = self.pairs[pair][on.index()];
        if first < second { comparison } else { comparison.turned() }
    }

    /// Where `first` beats `second`: the first concern in which it is better by what matters, if in all concerns before it is
    /// shown to be no worse by what matters. It depends on these two policies alone.
    pub fn beats(&self, first: usize, second: usize) -> Option<Concern> {
        for on in Concern::ALL {
            let comparison = self.at(on, first, second);
            if comparison.standing() == Standing::Better {
                return Some(on);
            }
            if !comparison.is_no_worse() {
                return None;
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn standing(table: [u64; 4]) -> Standing {
        Comparison::of(table, 0.95, 0.005).standing()
    }

    #[test]
    fn superiority_and_equivalence_are_separate() {
        // Wholly inside ± half a point.
        assert_eq!(standing([10, 1, 2, 9_987]), Standing::Equal);
        assert_eq!(lost_needed([10, 1, 2, 9_987], 0.95, 0.005), None);
        assert_eq!(standing([10, 20, 120, 4_850]), Standing::Better);
        assert_eq!(standing([10, 120, 20, 4_850]), Standing::Worse);
        // 0.45 points with an interval of about ± 0.26: apart, but not by what matters.
        let apart = Comparison::of([10, 33, 10, 4_947], 0.95, 0.005);
        assert_eq!((apart.standing(), apart.is_apart()), (Standing::Open, true));
        // A difference beyond what matters whose interval reaches into it is open too.
        assert_eq!(standing([10, 10, 42, 4_938]), Standing::Open);
        // The number asked for settles it, if the shares stay: and one tenth fewer does not.
        let open = [10, 60, 56, 1_874];
        let needed = lost_needed(open, 0.95, 0.005).unwrap();
        let at = |m: f64| standing(open.map(|count| (count as f64 * m / 2_000.0).round() as u64));
        assert_eq!((at(1.02 * needed), at(0.9 * needed)), (Standing::Equal, Standing::Open));
        // No lost link has gone differently yet, and too few to tell.
        assert_eq!(standing([0, 0, 0, 30]), Standing::Open);
        assert!((lost_needed([0, 0, 0, 30], 0.95, 0.005).unwrap() / (3.841_459 * 0.995 / 0.005) - 1.0).abs() < 1e-3);
        assert_eq!(standing([0; 4]), Standing::Open);
    }

    /// More flights of the same shares go from open to one standing and stay there.
    #[test]
    fn more_flights_sharpen_and_never_reverse() {
        for (only_first, only_second) in [(0, 0), (3, 1), (1, 9), (20, 4), (5, 6), (2, 40)] {
            let mut last = Standing::Open;
            for n in [200_u64, 1_000, 5_000, 25_000, 400_000, 10_000_000] {
                let scale = |count: u64| count * n / 1_000;
                let now = standing([0, scale(only_first), scale(only_second), n - scale(only_first + only_second)]);
                assert!(
                    last == Standing::Open || now == last,
                    "{only_first}, {only_second} at {n}: {last:?}, then {now:?}"
                );
                last = now;
            }
            assert_ne!(last, Standing::Open, "{only_first}, {only_second}");
        }
    }

    /// 2,000 flights, 71 against 52 events, 31 and 12 discordant: 2.8 times (closed form).
    #[test]
    fn pairing_gain_of_the_worked_table() {
        assert!((pairing_gain([40, 31, 12, 1_917]) - (0.005_457_277_f64 / 0.003_271_831).powi(2)).abs() < 1e-4);
    }
}
